//! The demonstration job in feet and inches, and the same job in millimetres.
#![allow(clippy::unwrap_used)]

mod common;

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use common::{Run, Yard};
use lengthwise::{Length, Unit};
use serde_json::Value;

/// A file of the demonstration job.
fn demo(name: &str) -> String {
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../data/drying-loft");
    fs::read_to_string(data.join(name)).unwrap()
}

/// A cell with every length in it in millimetres: parted at the signs of the grammar, and put
/// together again. The inch is 25.4 mm (NIST SP 811, Appendix B; from memory).
fn metric(column: &str, cell: &str) -> String {
    let length = |text: &str| {
        let read = Length::parse(text, Unit::Mm).unwrap();
        assert!(
            matches!(read.unit, Unit::In | Unit::Ft),
            "{text} is imperial"
        );
        read.length.number(Unit::Mm)
    };
    match (column, cell) {
        (_, "") => String::new(),
        ("length" | "to" | "step" | "kerf" | "square_off", cell) => length(cell),
        ("end_gap", cell) => match cell.strip_prefix("0/") {
            Some(far) => format!("0/{}", length(far)),
            None => length(cell),
        },
        ("qty", cell) => match (cell.split_once('@'), cell.split_once("in/")) {
            (Some((width, rest)), _) => {
                let (spacing, even) = rest.split_once(' ').unwrap_or((rest, ""));
                format!("{}@{} {even}", length(width), length(spacing))
            }
            (None, Some((width, rest))) => {
                let (cover, gap) = rest.split_once('+').unwrap();
                let width = length(&format!("{width}in"));
                format!("{width}/{}+{}", length(cover), length(gap))
            }
            (None, None) => cell.to_owned(),
        },
        (_, cell) => cell.to_owned(),
    }
}

fn in_millimetres(table: &str) -> String {
    let mut lines = table.lines();
    let header = lines.next().unwrap();
    let columns: Vec<&str> = header.split(',').collect();
    let row = |line: &str| {
        let cells = columns.iter().zip(line.split(','));
        let cells: Vec<String> = cells.map(|(column, cell)| metric(column, cell)).collect();
        cells.join(",")
    };
    let rows: Vec<String> = lines.map(row).collect();
    format!("{header}\n{}\n", rows.join("\n"))
}

fn planned(pieces: &str, stock: &str, more: &[&str]) -> Run {
    let yard = Yard::new();
    yard.file("p.csv", pieces);
    yard.file("s.csv", stock);
    let run = yard.plan(more);
    run.ended(0);
    run
}

/// Everything in the answer but the unit it is printed in, lengths as the digits that were printed.
fn answer(run: &Run) -> Value {
    let mut answer: Value = serde_json::from_str(&run.out).unwrap();
    for material in answer["materials"].as_array_mut().unwrap() {
        material["unit"] = Value::Null;
    }
    answer
}

#[test]
fn the_same_job_in_millimetres_agrees_to_the_nanometre() {
    let (pieces, stock) = (demo("pieces.csv"), demo("stock.csv"));
    let imperial = planned(&pieces, &stock, &["--json"]);
    let (pieces, stock) = (in_millimetres(&pieces), in_millimetres(&stock));
    assert!(pieces.contains("RL,2216.15,,,10,3.175,"), "{pieces}");
    assert!(pieces.contains("3098.8@406.4 even"), "{pieces}");
    let metric = planned(&pieces, &stock, &["--json"]);
    let (imperial, metric) = (answer(&imperial), answer(&metric));
    assert_eq!(imperial, metric);
    for material in imperial["materials"].as_array().unwrap() {
        assert_eq!(material["proof"], "optimal");
    }
    // Whole feet are bought, 304.8 mm each.
    let tenths = imperial["totals"]["bought_mm"].as_f64().unwrap() * 10.0;
    assert!((tenths.round() as u64).is_multiple_of(3048), "{tenths}");
}

/// Fractions with a power of two below and an odd number above are in lowest terms.
#[test]
fn lengths_are_printed_in_feet_and_inches_in_lowest_terms() {
    let run = planned(&demo("pieces.csv"), &demo("stock.csv"), &[]);
    for part in [
        "opening 7' 3 1/4\", cut 7' 3\" (gaps 1/8\"/1/8\")",
        "stop 2' 11 5/16\"",
        "stop 1' 4 7/8\"",
        "10' 2\"@16\" even is 9 members, 1' 3 1/4\" apart",
        "8' 4 3/4\"/5 1/4\"+1/8\" is 19 boards, the last ripped to 4\"",
        "stop 4' 5 3/16\"",
        "ends 45/45 to the long points",
    ] {
        let out = run.out.replace("\n    ", " ");
        assert!(out.contains(part), "{part} in\n{}", run.out);
    }
    let mut fractions = 0;
    for word in run.out.split_whitespace().filter(|word| word.contains('"')) {
        let number = word.trim_matches(|c: char| !c.is_ascii_digit());
        if let Some((above, below)) = number.split_once('/')
            && let (Ok(above), Ok(below)) = (above.parse::<u32>(), below.parse::<u32>())
        {
            assert!(
                below.is_power_of_two() && below <= 64 && above % 2 == 1,
                "{word}"
            );
            fractions += 1;
        }
    }
    assert!(fractions > 100, "only {fractions} fractions were looked at");
}

/// Parts, gaps at joints and gaps at ends are the opening, to the nanometre, and the page stays narrow.
#[test]
fn runs_in_feet_and_inches() {
    let yard = Yard::new();
    yard.file(
        "p.csv",
        "mark,length,qty,joints,joint_gap,end_gap,shortest,ends,spare,course_group,course\n\
         rail of the long north fence,25' 10 1/8\",3,every 2' from 1',1/8in,0.25in/0.5in,2ft,45/90,1,\
         north fence beyond the yard,3\n\
         top,33' 7 1/2\",2,anywhere,1/16in,,,,,,\n",
    );
    yard.file("s.csv", "length,price\n12ft,6\n16ft,7.9\n");
    let flags = ["--unit", "in", "--kerf", "1/8"];
    let text = yard.plan(&flags);
    text.ended(0);
    assert!(
        text.out.lines().all(|line| line.len() <= 80),
        "{}",
        text.out
    );
    let run = yard.plan(&[&flags[..], &["--json"]].concat());
    let plan = answer(&run);
    let nm = |mm: &Value| (mm.as_f64().unwrap() * 1e6).round() as i64;
    let mut sums: BTreeMap<String, (i64, i64)> = BTreeMap::new();
    for bars in plan["materials"][0]["bars"].as_array().unwrap() {
        for cut in bars["cuts"].as_array().unwrap() {
            let mark = cut["marks"][0].as_str().unwrap();
            let copy = mark.split('.').next().unwrap().to_owned();
            let (sum, parts) = sums.entry(copy).or_default();
            *sum += nm(&cut["length_mm"]);
            *parts += 1;
            assert_eq!(cut["run"]["of"].as_i64().unwrap() > 1, mark.contains('.'));
        }
    }
    // Nanometres: 1 in is 25 400 000, 25' 10 1/8" is 310 1/8 in, 33' 7 1/2" is 403 1/2 in.
    assert_eq!(sums.len(), 6);
    for (copy, (sum, parts)) in sums {
        let (opening, joint, ends) = match copy.starts_with("rail") {
            true => (7_877_175_000, 3_175_000, 19_050_000),
            false => (10_248_900_000, 1_587_500, 0),
        };
        assert_eq!(sum + (parts - 1) * joint + ends, opening, "{copy}");
    }
}
