//! Jobs put together from rows of every kind, with what may happen to them: most of them are valid, so that they
//! get far.

use fastrand::Rng;

/// A row: its cells by their columns.
type Row = Vec<(&'static str, String)>;

/// One of these.
fn one(rng: &mut Rng, of: &[&str]) -> String {
    rng.choice(of).copied().unwrap_or_default().to_owned()
}

/// So many times of a hundred.
fn chance(rng: &mut Rng, percent: u8) -> bool {
    rng.u8(0..100) < percent
}

/// A job, its files and what happened, as the target `whole_path` takes them.
pub fn job(rng: &mut Rng) -> Vec<u8> {
    let materials: &[&str] = if chance(rng, 60) { &["a"] } else { &["a", "b"] };
    let batched = chance(rng, 25);
    let priced = chance(rng, 70);
    let separator = if chance(rng, 85) { ',' } else { ';' };
    // Small jobs are quick, and full of edges.
    let most_rows = if chance(rng, 60) { 2 } else { 4 };
    let mut pieces = Vec::new();
    let mut stock = Vec::new();
    let mut in_hand = Vec::new();
    for &material in materials {
        let of_material = |mut row: Row| {
            if materials.len() > 1 {
                row.push(("material", material.to_owned()));
            }
            row
        };
        let several = 1 + rng.usize(0..most_rows);
        let rows = piece_rows(rng, several, batched);
        pieces.extend(rows.into_iter().map(of_material));
        let several = 1 + rng.usize(0..3);
        let rows = stock_rows(rng, several, priced, batched);
        stock.extend(rows.into_iter().map(of_material));
        if chance(rng, 30) {
            let several = 1 + rng.usize(0..3);
            let rows = hand_rows(rng, several, priced, batched);
            in_hand.extend(rows.into_iter().map(of_material));
        }
    }
    let parts = [
        flags(rng),
        table(&pieces, separator),
        table(&stock, separator),
        table(&in_hand, separator),
        notes(rng),
        measured(rng),
    ];
    scaled(parts.join("\0"), rng).into_bytes()
}

/// A few jobs are of a size that no building has: millimetres become thousands of kilometres, or nanometres.
fn scaled(text: String, rng: &mut Rng) -> String {
    match rng.u8(0..30) {
        0 => text.replace("mm", "0000m"),
        1 => in_nanometres(&text),
        _ => text,
    }
}

/// With whole millimetres as so many nanometres.
fn in_nanometres(text: &str) -> String {
    let mut parts: Vec<String> = text.split("mm").map(str::to_owned).collect();
    let last = parts.pop().unwrap_or_default();
    for part in &mut parts {
        let before = part.trim_end_matches(|c: char| c.is_ascii_digit());
        if let (false, Ok(number)) = (before.ends_with('.'), part[before.len()..].parse::<u32>()) {
            *part = format!("{before}0.{number:06}");
        }
        part.push_str("mm");
    }
    parts.concat() + &last
}

/// Rows below the columns that they name; nothing where there are none.
fn table(rows: &[Row], separator: char) -> String {
    let mut columns: Vec<&str> = Vec::new();
    for (column, _) in rows.iter().flatten() {
        if !columns.contains(column) {
            columns.push(column);
        }
    }
    if rows.is_empty() {
        return String::new();
    }
    let separator = separator.to_string();
    let mut text = columns.join(&separator) + "\n";
    for row in rows {
        let cell = |column: &&str| {
            let cell = row.iter().find(|(name, _)| name == column);
            let cell = cell.map_or("", |(_, cell)| cell);
            // Alone in its row an empty cell would be a blank line.
            match cell.contains(['"', ';', ',']) || cell.is_empty() {
                true => format!("\"{}\"", cell.replace('"', "\"\"")),
                false => cell.to_owned(),
            }
        };
        let cells: Vec<String> = columns.iter().map(cell).collect();
        text += &(cells.join(&separator) + "\n");
    }
    text
}

fn flags(rng: &mut Rng) -> String {
    let values: [(&str, &[&str], u8); 12] = [
        ("kerf", &["0", "3", "2.5", "1/8in", "10"], 30),
        ("per-cut", &["0.5", "0", "1/64in", "20"], 10),
        ("square-off", &["10", "0/10", "1/2in", "5/0"], 20),
        ("save-from", &["0", "200", "1m", "12in"], 20),
        ("unit", &["mm", "cm", "in", "ft", "m"], 4),
        ("longest", &["3000", "4.2m", "2000"], 8),
        ("prefer", &["setups", "offcuts"], 25),
        ("hold", &["0", "250", "600"], 15),
        ("stop-reach", &["2000", "500", "1"], 15),
        ("temperature-range", &["40", "0.5", "100"], 20),
        ("insure", &["1", "2"], 15),
        ("work-limit", &["1000", "30000", "300000"], 60),
    ];
    let mut text = String::new();
    for (flag, values, percent) in values {
        if chance(rng, percent) {
            text += &format!("{flag} {}\n", one(rng, values));
        }
    }
    if chance(rng, 10) {
        text += "insure-bar\n";
    }
    text
}

/// A length below so many millimetres, written in some way.
fn length(rng: &mut Rng, from: u64, to: u64) -> String {
    let mm = rng.u64(from..to);
    match rng.u8(0..14) {
        0 => format!("{mm}.5mm"),
        1 => format!("{}in", mm / 26 + 1),
        2 => format!("{} {}/16\"", mm / 26 + 1, 1 + 2 * rng.u8(0..8)),
        3 => format!("{}.{:03}m", mm / 1000, mm % 1000),
        4 => format!("{mm}.000001mm"),
        5..=7 => (mm / 100 * 100 + 100).to_string() + "mm",
        _ => format!("{mm}mm"),
    }
}

fn piece_rows(rng: &mut Rng, several: usize, batched: bool) -> Vec<Row> {
    let mut rows: Vec<Row> = Vec::new();
    for place in 0..several {
        let kind = rng.u8(0..10);
        let mut row = match kind {
            0..=3 => plain_row(rng),
            4..=5 => raked_row(rng),
            6..=8 => run_row(rng),
            _ => {
                rows.extend(course_rows(rng, place));
                continue;
            }
        };
        if chance(rng, 30) {
            row.push(("mark", format!("M{place}")));
        }
        if chance(rng, 15) {
            row.push(("stage", one(rng, &["1", "2", "3", "1000"])));
        }
        if chance(rng, if batched { 50 } else { 15 }) {
            row.push(("wall", one(rng, &["north", "south", "W"])));
        }
        if batched && chance(rng, 25) {
            row.push(("batch", one(rng, &["b1", "b2", "unnamed"])));
        }
        if chance(rng, 10) {
            row.push(("note", one(rng, &["x", "a, b", "\u{fc}ber"])));
        }
        rows.push(row);
    }
    rows
}

fn plain_row(rng: &mut Rng) -> Row {
    let mut row = vec![("length", length(rng, 60, 3_000))];
    if chance(rng, 80) {
        let most = if chance(rng, 60) { 4 } else { 9 };
        row.push(("qty", rng.u8(1..most).to_string()));
    }
    if chance(rng, 20) {
        row.push(("end_gap", one(rng, &["5mm", "0/10mm", "2mm/3mm"])));
    }
    if chance(rng, 20) {
        row.push(("ends", one(rng, &["45", "45/90", "22.5/67.5", "90"])));
    }
    if chance(rng, 20) {
        row.push(("spare", one(rng, &["1", "2"])));
    }
    if chance(rng, 15) {
        row.push(("leave_long", one(rng, &["20mm", "0", "1/2in", "100mm"])));
    }
    row
}

fn raked_row(rng: &mut Rng) -> Row {
    let mut row = vec![
        ("length", length(rng, 300, 2_400)),
        ("to", length(rng, 300, 2_400)),
        (
            "qty",
            one(
                rng,
                &[
                    "2400mm/145mm+6mm",
                    "2250mm@600mm",
                    "1800mm@600mm even",
                    "5",
                    "3",
                    "1200mm/95mm",
                ],
            ),
        ),
    ];
    if chance(rng, 30) {
        row.push(("step", one(rng, &["5mm", "10mm", "1/4in"])));
    }
    if chance(rng, 20) {
        row.push(("end_gap", one(rng, &["5mm", "0/10mm"])));
    }
    if chance(rng, 20) {
        row.push(("spare", "1".to_owned()));
    }
    if chance(rng, 20) {
        row.push(("leave_long", "30mm".to_owned()));
    }
    row
}

/// How a run may be joined.
fn joints(rng: &mut Rng, supports: bool) -> Row {
    let on_supports = [
        "every 600mm",
        "every 600mm from 150mm",
        "every 16in",
        "at 600mm 1200mm 1850mm 2400mm",
    ];
    let joints = match !supports && chance(rng, 40) {
        true => "anywhere".to_owned(),
        false => one(rng, &on_supports),
    };
    let mut row = vec![("joints", joints)];
    if chance(rng, 30) {
        row.push(("joint_gap", one(rng, &["2mm", "10mm", "1/8in"])));
    }
    if chance(rng, 30) {
        row.push(("joints_max", one(rng, &["1", "2", "3", "4", "9"])));
    }
    if chance(rng, 30) {
        row.push(("shortest", one(rng, &["300mm", "600mm", "1mm", "1ft"])));
    }
    row
}

fn run_row(rng: &mut Rng) -> Row {
    let mut row = vec![
        ("length", length(rng, 500, 7_500)),
        ("qty", rng.u8(1..4).to_string()),
    ];
    row.extend(joints(rng, false));
    if chance(rng, 20) {
        row.push(("end_gap", one(rng, &["5mm", "0/10mm"])));
    }
    if chance(rng, 10) {
        row.push(("ends", one(rng, &["45", "45/90"])));
    }
    if chance(rng, 15) {
        row.push(("spare", "1".to_owned()));
    }
    row
}

fn course_rows(rng: &mut Rng, group: usize) -> Vec<Row> {
    let common = joints(rng, true);
    let length = length(rng, 2_000, 6_500);
    let rule = chance(rng, 50).then(|| one(rng, &["1/2", "1/3", "2/3", "1/4"]));
    let qty = 1 + rng.u8(0..3);
    let apart = rng.u8(0..2);
    let of_course = |course: u8| {
        let mut row = vec![
            ("length", length.clone()),
            ("qty", qty.to_string()),
            ("course_group", format!("g{group}")),
            ("course", course.to_string()),
        ];
        row.extend(common.clone());
        row.extend(rule.clone().map(|rule| ("course_rule", rule)));
        row
    };
    match rng.u8(0..3) {
        0 => vec![of_course(1)],
        1 => vec![of_course(1), of_course(1 + qty + apart)],
        _ => vec![of_course(3 + qty), of_course(3)],
    }
}

fn stock_rows(rng: &mut Rng, several: usize, priced: bool, batched: bool) -> Vec<Row> {
    let mut rows: Vec<Row> = Vec::new();
    let columns: [(&str, &[&str], u8); 5] = [
        ("kerf", &["2mm", "0", "4.5mm", "1/8in"], 15),
        ("save_from", &["0", "250mm", "2m"], 15),
        ("expansion", &["60", "5.4", "1000"], 15),
        ("shortest", &["100mm", "400mm"], 15),
        ("delivery", &["35", "0"], 5),
    ];
    let mut shared: Row = Vec::new();
    for (column, values, percent) in columns {
        if chance(rng, percent) {
            shared.push((column, one(rng, values)));
        }
    }
    let usual = [
        "5.90",
        "8",
        "9.60",
        "5.90; 5.40 from 3; 5.10 from 6",
        "12; 9 from 2",
        "0",
    ];
    // Sums must stay exact, or be refused, whatever is asked.
    let unusual = [
        "99999999999999.99",
        "0.000000001",
        "1234567890123456789",
        "3; 0.0000000001 from 2; 0 from 1000000",
    ];
    let prices: &[&str] = match chance(rng, 95) {
        true => &usual,
        false => &unusual,
    };
    for place in 0..several {
        let long = one(
            rng,
            &[
                "2400mm", "3000mm", "3600mm", "4200mm", "4800mm", "8ft", "12ft", "10' 6\"",
            ],
        );
        let mut row = vec![("length", long)];
        if priced {
            row.push(("price", one(rng, prices)));
            if chance(rng, 25) {
                row.push((
                    "sold",
                    one(rng, &["each", "per m", "pack of 3", "pack of 8"]),
                ));
            }
        }
        if chance(rng, 20) {
            row.push(("available", one(rng, &["0", "1", "2", "5", "40"])));
        }
        if chance(rng, 15) {
            row.push(("square_off", one(rng, &["5mm", "0/10mm", "0", "1/2in"])));
        }
        if batched && chance(rng, 80) {
            row.push(("batch", one(rng, &["b1", "b2"])));
        }
        if place == 0 || chance(rng, 50) {
            row.extend(shared.iter().cloned());
        }
        rows.push(row);
    }
    rows
}

fn hand_rows(rng: &mut Rng, several: usize, priced: bool, batched: bool) -> Vec<Row> {
    let row = |_| {
        let mut row = vec![("length", length(rng, 400, 3_500))];
        if chance(rng, 50) {
            row.push(("available", one(rng, &["0", "1", "2", "3"])));
        }
        if chance(rng, 20) {
            row.push(("square_off", one(rng, &["5mm", "0/10mm"])));
        }
        if priced && chance(rng, 30) {
            row.push(("worth", one(rng, &["1.50", "0", "4"])));
        }
        if batched && chance(rng, 50) {
            row.push(("batch", one(rng, &["b1", "b2", "b3"])));
        }
        row
    };
    (0..several).map(row).collect()
}

/// What is said to have happened; nothing for one job in three.
fn notes(rng: &mut Rng) -> String {
    let mut text = String::new();
    if chance(rng, 33) {
        return text;
    }
    for _ in 0..1 + rng.u8(0..4) {
        let (bar, mark) = (rng.u8(0..12), rng.u8(0..20));
        let other = rng.u8(0..12);
        let some = length(rng, 20, 3_000);
        text += &match rng.u8(0..14) {
            0..=2 => format!("cut %{bar}\n"),
            3 => format!("cut %{bar} %{other}\n"),
            4 => format!("begun %{bar} &{mark}\n"),
            5 => format!("begun %{bar} &{mark} &{other} left {some}\n"),
            6..=7 => format!("spoiled &{mark}\n"),
            8 => format!("spoiled &{mark} from %{bar}\n"),
            9 => format!("bad %{bar}\n"),
            10 => format!("short %{bar} {some}\n"),
            11 => format!("usable %{bar} {some}+{}\n", length(rng, 20, 1_500)),
            12 => format!(
                "cut %{bar}\nleft %{bar} {}\n",
                if chance(rng, 30) { "nothing" } else { &some }
            ),
            _ => format!("found {some} x 2\n"),
        };
    }
    text
}

/// What is said to have been measured; nothing for most jobs.
fn measured(rng: &mut Rng) -> String {
    if chance(rng, 75) {
        return String::new();
    }
    let mut text = "mark,length,end_gap\n".to_owned();
    for _ in 0..1 + rng.u8(0..2) {
        let gap = if chance(rng, 80) { "" } else { "3mm" };
        text += &format!("&{},{},{gap}\n", rng.u8(0..20), length(rng, 100, 4_000));
    }
    text
}

#[test]
fn most_jobs_are_valid() {
    let mut rng = Rng::with_seed(1);
    let jobs = (0..500).map(|_| job(&mut rng));
    let valid = jobs.filter(|job| super::whole::is_valid(job)).count();
    println!("{valid} of 500 jobs are valid");
    assert!(valid > 250, "{valid}");
}
