//! What comes out: exit codes, text, JSON, files.
#![allow(clippy::unwrap_used)]

mod common;

use std::collections::BTreeSet;
use std::fs;
use std::io::Read;
use std::path::Path;
use std::process::Stdio;

use common::{Run, Yard};
use serde_json::Value;

const FILES: [&str; 8] = [
    "buying-list.csv",
    "cutting-plan.csv",
    "offcuts.csv",
    "figures.csv",
    "plan.json",
    "cutting-sheet.html",
    "fixing-list.html",
    "plan.svg",
];

fn keys(value: &Value) -> BTreeSet<&str> {
    value
        .as_object()
        .unwrap()
        .keys()
        .map(String::as_str)
        .collect()
}

fn names<const N: usize>(names: [&str; N]) -> BTreeSet<&str> {
    BTreeSet::from(names)
}

/// The example of the specification of the JSON: seven pieces of 2210, bars of 3000 at 5.90.
fn seven_battens() -> Yard {
    let yard = Yard::with_pieces("mark,length,qty\nF,2210,7\n");
    yard.file("s.csv", "length,price\n3000,5.90\n");
    yard
}

#[test]
fn the_field_names_of_the_json_are_as_promised() {
    let yard = Yard::new();
    yard.file("h.csv", "material,length,available\nsill,400,2\n");
    let run = yard.plan(&["--json", "--in-hand", "h.csv"]);
    run.ended(0);
    let json: Value = serde_json::from_str(&run.out).unwrap();
    assert_eq!(keys(&json), names(["materials", "totals"]));
    assert_eq!(keys(&json["totals"]), names(["cost", "bought_mm"]));
    let material = &json["materials"][1];
    assert_eq!(
        keys(material),
        names([
            "material",
            "proof",
            "why",
            "unit",
            "kerf_mm",
            "cost",
            "bound",
            "bought_mm",
            "bound_mm",
            "buy",
            "bars",
            "uncut",
            "figures",
            "preference",
            "stopped",
            "impossible",
            "hand_proof",
            "widest_blade_mm",
            "widest_blade_bar",
            "largest_error_mm",
            "largest_error_bar",
            "spoiled",
            "insurance"
        ])
    );
    assert_eq!(
        keys(&material["spoiled"][0]),
        names(["mark", "bar", "recut", "from", "from_mm", "later"])
    );
    let preference = &material["preference"];
    assert_eq!(
        keys(preference),
        names(["prefer", "spare", "offcuts", "same_bars"])
    );
    assert_eq!(keys(&preference["spare"]), names(["found_mm", "bound_mm"]));
    assert_eq!(
        keys(&material["buy"][0]),
        names(["bar", "length_mm", "count", "sold", "price", "cost"])
    );
    assert_eq!(
        keys(&material["bars"][0]),
        names([
            "names",
            "bar",
            "stock_mm",
            "in_hand",
            "cuts",
            "blade_mm",
            "reserve_mm",
            "square_mm",
            "offcut_mm",
            "saved"
        ])
    );
    assert_eq!(
        keys(&material["bars"][0]["cuts"][0]),
        names(["length_mm", "ends", "marks", "spare", "stage", "run"])
    );
    assert_eq!(
        keys(&material["uncut"][0]),
        names(["length_mm", "count", "in_hand"])
    );
    assert_eq!(
        keys(&material["figures"]),
        names([
            "needed_mm",
            "spare_mm",
            "blade_mm",
            "reserve_mm",
            "square_mm",
            "saved_mm",
            "waste_mm",
            "yield"
        ])
    );
}

/// Expected values: those of the specification, recomputed by hand (7 x 3000 - 7 x (2210 + 3) =
/// 5509; 15470 / 21000 = 0.7367).
#[test]
fn the_json_of_seven_battens() {
    let run = seven_battens().plan(&["--json"]);
    run.ended(0);
    let json: Value = serde_json::from_str(&run.out).unwrap();
    let material = &json["materials"][0];
    assert_eq!(material["proof"], "optimal");
    assert_eq!(material["why"], Value::Null);
    assert_eq!(material["cost"], "41.30");
    assert_eq!(material["bound"], "41.30");
    assert_eq!(material["bound_mm"], Value::Null);
    assert_eq!(material["bought_mm"], 21000);
    assert_eq!(material["buy"][0]["count"], 7);
    assert_eq!(material["buy"][0]["sold"], "each");
    let bars = &material["bars"][0];
    assert_eq!(bars["names"].as_array().unwrap().len(), 7);
    assert_eq!(bars["offcut_mm"], 787);
    assert_eq!(bars["cuts"][0]["run"], Value::Null);
    assert_eq!(bars["cuts"][0]["marks"].as_array().unwrap().len(), 7);
    let figures = &material["figures"];
    assert_eq!(figures["needed_mm"], 15470);
    assert_eq!(figures["blade_mm"], 21);
    assert_eq!(figures["saved_mm"], 5509);
    assert_eq!(figures["yield"], 0.7367);
    assert_eq!(json["totals"]["cost"], "41.30");
    assert_eq!(json["totals"]["bought_mm"], 21000);
}

/// 1/64 in = 0.396875 mm (NIST SP 811, Appendix B; from memory) and the
/// odd 2^53 + 1 nanometres, which no 64-bit float holds, must come out digit by digit.
#[test]
fn json_lengths_are_exact_to_the_nanometre() {
    let yard = Yard::with_pieces("length\n0.000001mm\n1/64\"\n9007199254.740993mm\n");
    yard.file("s.csv", "length\n10000000m\n");
    let run = yard.plan(&["--json", "--kerf", "0"]);
    run.ended(0);
    for number in [
        "\"length_mm\": 0.000001,",
        "0.396875,",
        "9007199254.740993,",
    ] {
        assert!(run.out.contains(number), "{number} in {}", run.out);
    }
}

#[test]
fn without_prices_money_is_null_and_lengths_are_bound() {
    let yard = seven_battens();
    yard.file("s.csv", "length\n3000\n");
    let run = yard.plan(&["--json"]);
    let json: Value = serde_json::from_str(&run.out).unwrap();
    let material = &json["materials"][0];
    assert_eq!(material["cost"], Value::Null);
    assert_eq!(material["bound"], Value::Null);
    assert_eq!(material["bound_mm"], 21000);
    assert_eq!(material["buy"][0]["price"], Value::Null);
    assert_eq!(json["totals"]["cost"], Value::Null);
    assert!(yard.plan(&[]).out.contains("Proved least length to buy."));
}

/// Common practice, no source: a piece longer than any bar is refused, with what would help.
#[test]
fn an_impossible_material_is_exit_1_and_the_others_are_planned() {
    let yard = Yard::with_pieces("material,mark,length\nroof batten,R1,3100\nsill,S,600\n");
    let run = yard.plan(&[]);
    run.ended(1);
    let flat = run.out.replace('\n', " ");
    assert!(
        flat.contains("Piece R1 of 3100mm is longer than the longest usable bar, 3000mm."),
        "{flat}"
    );
    assert!(flat.contains("A bar of at least 3100mm would make it possible"));
    assert!(run.out.contains("Proved cheapest."));
    let run = yard.plan(&["--json"]);
    run.ended(1);
    let json: Value = serde_json::from_str(&run.out).unwrap();
    let material = &json["materials"][0];
    assert_eq!(material["proof"], "impossible");
    assert!(material["why"].as_str().unwrap().contains("3100mm"));
    assert_eq!(material["bars"], Value::Array(vec![]));
    assert_eq!(material["cost"], Value::Null);
    assert_eq!(material["figures"], Value::Null);
    assert_eq!(json["materials"][1]["proof"], "optimal");
    assert_eq!(json["totals"]["cost"], Value::Null);
}

#[test]
fn too_little_stock_is_exit_1_and_says_what_is_missing() {
    let yard = Yard::with_pieces("length,qty\n2210,7\n");
    yard.file("s.csv", "length,available\n3000,3\n");
    let run = yard.plan(&[]);
    run.ended(1);
    // 7 x 2210 in 3 x 3000: 15470 at the least, 9000 there.
    assert!(run.out.contains("Not enough stock"), "{}", run.out);
}

#[test]
fn the_same_input_gives_the_same_bytes() {
    let yard = Yard::new();
    for flags in [&[][..], &["--json"]] {
        assert_eq!(yard.plan(flags).out, yard.plan(flags).out);
    }
}

/// Nor does it matter how many threads plan: the variable is what the core says it heeds.
#[test]
fn the_demonstration_gives_the_same_bytes_on_any_number_of_threads() {
    let yard = Yard::new();
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../data/kiln-shed");
    for name in ["pieces.csv", "stock.csv", "in-hand.csv"] {
        yard.file(name, fs::read(data.join(name)).unwrap());
    }
    let flags = "plan pieces.csv --stock stock.csv --in-hand in-hand.csv --json";
    let flags: Vec<&str> = flags.split(' ').collect();
    let on_threads = |threads: &str| {
        let mut command = yard.command(&flags);
        let run = Run::of(&command.env("RAYON_NUM_THREADS", threads).output().unwrap());
        run.ended(0);
        run.out
    };
    let one = on_threads("1");
    assert_eq!(one, on_threads("2"));
    assert_eq!(one, on_threads("8"));
    let json: Value = serde_json::from_str(&one).unwrap();
    assert!(json["materials"].as_array().unwrap().len() > 1);
}

#[test]
fn files_in_every_form_give_the_same_plan() {
    let yard = Yard::new();
    let expected = yard.plan(&["--json"]).out;
    let pieces = "\u{feff}QTY;Note;Mark;Length;Material\r\n7;;F;2210,0;roof batten\r\n;;;;\r\n2;;S;600mm;sill\r\n";
    yard.file("p.csv", pieces);
    yard.file("s.csv", common::STOCK.replace(',', "\t"));
    assert_eq!(yard.plan(&["--json"]).out, expected);
    let run = yard.run_with_input(&["plan", "-", "--stock", "s.csv", "--json"], pieces);
    assert_eq!(run.out, expected);
}

#[test]
fn the_unit_of_bare_numbers() {
    let yard = seven_battens();
    let expected: Value = serde_json::from_str(&yard.plan(&["--json"]).out).unwrap();
    yard.file("p.csv", "mark,length,qty\nF,221,7\n");
    yard.file("s.csv", "length,price\n300,5.90\n");
    let run = yard.plan(&["--json", "--unit", "cm", "--kerf", "0.3"]);
    let mut json: Value = serde_json::from_str(&run.out).unwrap();
    assert_eq!(json["materials"][0]["unit"], "cm");
    json["materials"][0]["unit"] = Value::from("mm");
    assert_eq!(json, expected);
}

#[test]
fn the_text_fits_eighty_plain_columns() {
    let yard = Yard::new();
    let run = yard.plan(&[]);
    assert!(run.out.is_ascii());
    assert!(run.out.lines().all(|line| line.len() <= 80), "{}", run.out);
    assert!(
        run.out.contains("stop 2210mm:  7 cuts, from A1 to A7"),
        "{}",
        run.out
    );
    assert!(run.out.contains("blade 3mm"));
    assert!(
        run.out
            .contains("Assumes square, sound ends of roof batten")
    );
}

#[test]
fn the_printed_plan_of_a_small_job() {
    insta::assert_snapshot!(Yard::new().plan(&[]).out);
}

#[test]
fn limits_in_their_accepted_forms() {
    for limit in ["20", "20s", "0.5"] {
        Yard::new().plan(&["--limit", limit]).ended(0);
    }
    Yard::new().plan(&["--work-limit", "1000000000"]).ended(0);
}

#[test]
fn an_output_that_cannot_be_written_goes_before_an_impossible_material() {
    let yard = Yard::with_pieces("material,length\nroof batten,3100\n");
    yard.plan(&[]).ended(1);
    yard.plan(&["--out", "p.csv"]).ended(3);
}

#[test]
fn colour_only_where_it_is_wanted() {
    let yard = Yard::new();
    let run = |name: &str, value: &str| {
        let mut command = yard.command(&["plan", "p.csv", "--stock", "s.csv"]);
        common::Run::of(&command.env(name, value).output().unwrap()).out
    };
    let plain = yard.plan(&[]).out;
    assert!(!plain.contains('\u{1b}'));
    assert_eq!(run("NO_COLOR", "1"), plain);
    let coloured = run("CLICOLOR_FORCE", "1");
    assert!(coloured.contains('\u{1b}'));
    assert_eq!(anstream::adapter::strip_str(&coloured).to_string(), plain);
}

#[test]
fn a_closed_pipe_is_no_error() {
    // Enough rows that the text does not fit into the pipe.
    let rows: String = (0..4000).map(|n| format!("m{n},m{n},700\n")).collect();
    let yard = Yard::with_pieces(format!("material,mark,length\n{rows}"));
    let rows: String = (0..4000).map(|n| format!("m{n},1000\n")).collect();
    yard.file("s.csv", format!("material,length\n{rows}"));
    let mut child = yard
        .command(&["check", "p.csv", "--stock", "s.csv"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut out = child.stdout.take().unwrap();
    out.read_exact(&mut [0; 16]).unwrap();
    drop(out);
    let run = common::Run::of(&child.wait_with_output().unwrap());
    run.ended(0);
    assert_eq!(run.err, "");
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_is_exit_3() {
    let yard = Yard::new();
    let full = fs::OpenOptions::new()
        .write(true)
        .open("/dev/full")
        .unwrap();
    let mut command = yard.command(&["plan", "p.csv", "--stock", "s.csv"]);
    let run = common::Run::of(&command.stdout(full).output().unwrap());
    run.ended(3);
    assert!(run.err.contains("cannot be printed"));
}

#[test]
fn notes_go_to_standard_error_beside_json() {
    let run = Yard::new().plan(&["--json"]);
    assert!(
        run.err
            .contains("note: Assumes square, sound ends of roof batten: no squaring")
    );
    assert!(run.err.is_ascii());
}

#[test]
fn check_shows_what_was_read() {
    let yard = Yard::with_pieces("material,mark,length,qty\nroof batten,R1,3100,2\nsill,S,600,2\n");
    let run = yard.run(&["check", "p.csv", "--stock", "s.csv"]);
    run.ended(0);
    for part in [
        "2 pieces, 6200mm in all; 1 length, 3100mm",
        "3000mm at 5.90",
        "piece R1 of 3100mm is longer than the longest usable bar, 3000mm",
        "Nothing is at fault in what was read.",
    ] {
        assert!(run.out.contains(part), "{part} in\n{}", run.out);
    }
}

#[test]
fn check_shows_the_rules_of_runs() {
    let columns =
        "mark,length,qty,joints,joint_gap,joints_max,shortest,course_group,course,course_rule";
    let yard = Yard::with_pieces(format!(
        "{columns}\nC,6300,10,every 600 from 150,,,1200,north slope,1,1/4\n\
         D,6100,2,every 600 from 150,,,1200,north slope,11,\nT,3100,1,anywhere,4,2,,,,\n"
    ));
    yard.file("s.csv", "length\n3000\n");
    let run = yard.run(&["check", "p.csv", "--stock", "s.csv"]);
    run.ended(0);
    for part in [
        "13 pieces (13 of them runs)",
        "  runs     12 joined every 600mm from 150mm, parts from 1200mm, north slope by 1/4\n",
        "  runs     1 joined anywhere, gaps of 4mm, at most 2 joints, parts from 50mm\n",
    ] {
        let out = run.out.replace("\n           ", " ");
        assert!(out.contains(part), "{part} in\n{}", run.out);
    }
    assert!(!run.out.contains("no plan will exist"), "{}", run.out);
}

#[test]
fn help_is_enough() {
    let run = Yard::new().run(&["--help"]);
    run.ended(0);
    for part in [
        "--stock",
        "--in-hand",
        "--kerf",
        "--per-cut",
        "--square-off",
        "--save-from",
        "--longest",
        "--limit",
        "--unit",
        "--json",
        "--out",
        "lengthwise ask",
        "--joints",
        "every 600 from 50",
        "course_rule",
        "pack of",
        "EXIT CODES",
        "CAUTIONS",
        "IN-HAND",
        "0/10",
        "2.21m",
    ] {
        assert!(run.out.contains(part), "{part}");
    }
}

#[test]
fn the_columns_of_the_files_are_as_promised() {
    let yard = Yard::new();
    yard.plan(&["--out", "made/plan"]).ended(0);
    for (name, header) in [
        (
            "buying-list.csv",
            "material,length,bars,sold,sales,price,cost,batch",
        ),
        (
            "cutting-plan.csv",
            "material,bar,bar_length,in_hand,cut,length,mark,spare,ends,opening,run,part,parts,from,\
             to,from_support,to_support,stage,by_tape,position,batch",
        ),
        (
            "offcuts.csv",
            "material,length,available,square_off,worth,note,batch",
        ),
        (
            "figures.csv",
            "material,proof,why,blade_width,cost,bound,bought,on_the_wall,blade,reserve,squaring,\
             saved,to_the_skip,share_on_the_wall,widest_blade,largest_error",
        ),
    ] {
        let text = yard.read(&format!("made/plan/{name}"));
        assert_eq!(text.lines().next(), Some(header), "{name}");
    }
    let cuts = yard.read("made/plan/cutting-plan.csv");
    assert_eq!(cuts.lines().count(), 1 + 9); // 7 battens and 2 sills
    let json: Value = serde_json::from_str(&yard.read("made/plan/plan.json")).unwrap();
    assert_eq!(
        keys(&json),
        names(["materials", "totals", "job", "certificates", "digest"])
    );
    assert_eq!(
        keys(&json["job"]),
        names(["settings", "pieces", "stock", "in_hand"])
    );
    assert_eq!(json["job"]["pieces"][0]["length"], "2210mm");
    assert_eq!(json["job"]["stock"][1]["square_off"], "10mm/10mm");
    let left: Vec<_> = fs::read_dir(yard.path().join("made/plan"))
        .unwrap()
        .collect();
    assert_eq!(left.len(), FILES.len(), "temporary files are gone");
}

#[test]
fn offcuts_are_read_back_as_bars_in_hand() {
    let yard = Yard::with_pieces("material,mark,length,qty\nroof batten,F,2210,7\nsill,S,600,1\n");
    yard.file(
        "s.csv",
        "material,length,price,sold,square_off\nroof batten,3000,5.90,,10\nsill,2400,30,pack of 4,10\n",
    );
    yard.file(
        "h.csv",
        "material,length,available,square_off,worth,note\nsill,300,2,0/5,1.5,short ones\nfascia,900,1,,,\n",
    );
    yard.plan(&["--in-hand", "h.csv", "--out", "o"]).ended(0);
    let offcuts = yard.read("o/offcuts.csv");
    for row in [
        // 3000 - 10 - 2210 - 3, the far end still rough
        "roof batten,777mm,7,0mm/10mm,,offcut of A1 to A7,",
        "sill,2400mm,3,10mm/10mm,,left over from a pack,",
        "sill,300mm,2,0mm/5mm,1.50,short ones,",
        "fascia,900mm,1,,,,",
    ] {
        assert!(
            offcuts.lines().any(|line| line == row),
            "{row} in\n{offcuts}"
        );
    }
    yard.file("p.csv", "material,mark,length,qty\nroof batten,K,700,7\n");
    let run = yard.plan(&["--in-hand", "o/offcuts.csv", "--json"]);
    run.ended(0);
    let json: Value = serde_json::from_str(&run.out).unwrap();
    assert_eq!(json["materials"][0]["cost"], "0.00");
    assert_eq!(json["materials"][0]["bars"][0]["stock_mm"], 777);
}

#[test]
fn a_list_of_no_offcuts_is_read_back_too() {
    let yard = Yard::with_pieces("material,length\nroof batten,3000\n");
    yard.plan(&["--out", "o"]).ended(0);
    assert_eq!(yard.read("o/offcuts.csv").lines().count(), 1);
    yard.plan(&["--in-hand", "o/offcuts.csv"]).ended(0);
}

#[test]
fn a_failed_run_leaves_old_files_whole() {
    let yard = Yard::new();
    yard.plan(&["--out", "o"]).ended(0);
    let before = FILES.map(|name| yard.read(&format!("o/{name}")));
    let pieces = yard.read("p.csv");
    // Bad input, then an output that is in the way.
    yard.file("p.csv", "length\n0\n");
    yard.plan(&["--out", "o"]).ended(2);
    yard.file("p.csv", pieces.replace("2210", "1110"));
    fs::remove_file(yard.path().join("o/plan.json")).unwrap();
    fs::create_dir(yard.path().join("o/plan.json")).unwrap();
    let run = yard.plan(&["--out", "o"]);
    run.ended(3);
    assert!(run.err.contains("plan.json"), "{}", run.err);
    for (name, old) in FILES.iter().zip(&before).take(4) {
        assert_eq!(yard.read(&format!("o/{name}")), *old, "{name}");
    }
    assert_eq!(
        fs::read_dir(yard.path().join("o")).unwrap().count(),
        FILES.len()
    );
}

#[test]
fn an_output_directory_that_is_a_file_is_exit_3() {
    let yard = Yard::new();
    let run = yard.plan(&["--out", "p.csv"]);
    run.ended(3);
    assert!(run.err.contains("p.csv"), "{}", run.err);
    assert_eq!(run.out, "");
}

#[test]
fn bad_input_goes_before_an_output_that_cannot_be_written() {
    Yard::with_pieces("length\n0\n")
        .plan(&["--out", "p.csv"])
        .ended(2);
}
