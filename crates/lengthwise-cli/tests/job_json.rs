//! A job as one JSON document: what is read, what is refused, and that a plan of it is the plan of its tables.
#![allow(clippy::unwrap_used)]

mod common;

use std::fs;
use std::path::{Path, PathBuf};

use common::{Run, Yard};
use serde_json::{Value, json};

/// A yard with the files of the demonstration.
fn kiln_shed() -> Yard {
    let yard = Yard::new();
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../data/kiln-shed");
    for name in ["pieces.csv", "stock.csv", "in-hand.csv"] {
        fs::copy(data.join(name), yard.path().join(name)).unwrap();
    }
    yard
}

/// The command with the tables of the demonstration, then these flags.
fn tables<'a>(command: &'a str, more: &[&'a str]) -> Vec<&'a str> {
    let files = [
        command,
        "pieces.csv",
        "--stock",
        "stock.csv",
        "--in-hand",
        "in-hand.csv",
    ];
    [&files, more].concat()
}

/// Plans this document.
fn plan(document: &str) -> Run {
    let yard = Yard::new();
    yard.file("job.json", document);
    yard.run(&["plan", "--job", "job.json"])
}

/// The only fault.
#[track_caller]
fn only_fault(document: &str, parts: &[&str]) {
    plan(document).is_fault(parts).has_faults(1);
}

/// The faultless job with one text in it replaced.
fn sound(from: &str, to: &str) -> String {
    let sound = r#"{
  "settings": {"kerf": "4mm"},
  "pieces": [
    {"mark": "F", "length": "2210mm", "qty": 7},
    {"mark": "W", "length": "900mm", "qty": "3100/140"}
  ],
  "stock": [
    {"length": "3000mm", "price": "5.90"}
  ],
  "in_hand": [
    {"length": "1000", "available": 2}
  ]
}"#;
    assert!(sound.contains(from), "{from}");
    sound.replacen(from, to, 1)
}

/// Everything is written as from the tables themselves, to the byte, whatever the flags.
#[test]
fn the_demonstration_through_json_is_the_demonstration() {
    for flags in [
        &["--temperature-range", "40"][..],
        &["--prefer", "setups", "--kerf", "3.2", "--per-cut", "0.5"],
    ] {
        let yard = kiln_shed();
        let job = yard.run(&tables("check", &[flags, &["--json"]].concat()));
        yard.file("job.json", &job.ended(0).out);
        let from_tables = yard.run(&tables("plan", &[flags, &["--out", "o"]].concat()));
        let written: Vec<(PathBuf, String)> = fs::read_dir(yard.path().join("o"))
            .unwrap()
            .map(|file| file.unwrap().path())
            .map(|path| (path.clone(), fs::read_to_string(path).unwrap()))
            .collect();
        assert_eq!(written.len(), 8);
        let from_json = yard.run(&["plan", "--job", "job.json", "--out", "o"]);
        assert_eq!(from_tables.ended(0).out, from_json.out);
        assert_eq!(from_tables.err, from_json.err);
        for (path, text) in written {
            let name = path.display();
            assert!(
                text == fs::read_to_string(&path).unwrap(),
                "{name} differs with {flags:?}"
            );
        }
    }
}

/// A plan.json holds its job, with its settings and its insurance.
#[test]
fn a_plan_is_a_job_too() {
    let yard = kiln_shed();
    let flags = [
        "--insure",
        "1",
        "--insure-bar",
        "--save-from",
        "400",
        "--out",
        "a",
    ];
    yard.run(&tables("plan", &flags)).ended(0);
    yard.run(&["plan", "--job", "a/plan.json", "--out", "b"])
        .ended(0);
    assert!(yard.read("a/plan.json") == yard.read("b/plan.json"));
    let printed = yard.run(&["check", "--job", "a/plan.json", "--json"]);
    let job: Value = serde_json::from_str(&printed.ended(0).out).unwrap();
    let whole: Value = serde_json::from_str(&yard.read("a/plan.json")).unwrap();
    assert_eq!(job, whole["job"]);
}

/// Arithmetic: 7 pieces of 2210 take a bar of 3000 each, 7 x 5.90 = 41.30; with the blade of the file the offcut is
/// 3000 - 2210 - 4 = 786, with that of the flag 3000 - 2210 - 10 = 780.
#[test]
fn flags_go_over_the_settings_of_the_document() {
    let yard = Yard::new();
    let job = r#"{"settings": {"kerf": "4mm"},
        "pieces": [{"length": "2210", "qty": 7}], "stock": [{"length": "3000", "price": "5.90"}]}"#;
    for (flags, offcut) in [(&[][..], "786"), (&["--kerf", "10"][..], "780")] {
        let args = [&["plan", "--job", "-", "--json"], flags].concat();
        let run = yard.run_with_input(&args, job);
        let plan: Value = serde_json::from_str(&run.ended(0).out).unwrap();
        assert_eq!(plan["totals"]["cost"], "41.30");
        let found = &plan["materials"][0]["bars"][0]["offcut_mm"];
        assert_eq!(found.to_string(), offcut, "{flags:?}");
    }
}

#[test]
fn the_document_that_is_spoiled_below_is_sound() {
    plan(&sound("", "")).ended(0);
    for (from, to) in [
        (r#""settings": {"kerf": "4mm"},"#, ""),
        (r#""3100/140""#, "23"),
        (r#""mark": "F", "#, ""),
    ] {
        plan(&sound(from, to)).ended(0);
    }
}

#[test]
fn what_is_no_json() {
    only_fault(
        "",
        &["job.json, line 1, column 0", "no JSON", "check --json"],
    );
    only_fault("length\n2210\n", &["job.json, line 1, column 1", "no JSON"]);
    only_fault(
        &sound("5.90\"}", "5.90\""),
        &["job.json, line 9, column 3", "no JSON"],
    );
    only_fault(
        &sound("\n}", "\n}}"),
        &["job.json, line 13, column 2", "no JSON"],
    );
    only_fault("[]", &["job.json, line 1: found []", "an object in braces"]);
    only_fault(
        "{\"pieces\": []}",
        &["job.json, line 1, pieces", "at least one row"],
    );
    only_fault("{}", &["job.json, line 1", "no \"pieces\""]);
}

#[test]
fn fields_that_are_not_known() {
    for (from, to, parts) in [
        (
            "\"mark\": \"F\"",
            "\"marc\": \"F\"",
            ["line 4, pieces[0].marc: found an unknown field", "\"mark\""],
        ),
        (
            "\"kerf\"",
            "\"kerff\"",
            ["line 2, settings.kerff: found an unknown field", "\"kerf\""],
        ),
        (
            "\"available\"",
            "\"avail\"",
            [
                "line 11, in_hand[0].avail: found an unknown field",
                "\"available\"",
            ],
        ),
        (
            "\"in_hand\"",
            "\"inhand\"",
            ["line 10, inhand: found an unknown field", "\"in_hand\""],
        ),
    ] {
        only_fault(&sound(from, to), &parts);
    }
}

#[test]
fn values_of_a_wrong_type() {
    for (from, to, parts) in [
        (
            "\"2210mm\"",
            "2210",
            [
                "line 4, pieces[0].length: found the number 2210",
                "a text in quotation marks",
            ],
        ),
        (
            "7",
            "-7",
            [
                "line 4, pieces[0].qty: found -7",
                "a whole number, or a width",
            ],
        ),
        (
            "7",
            "7.5",
            [
                "line 4, pieces[0].qty: found 7.5",
                "a whole number, or a width",
            ],
        ),
        (
            "\"5.90\"",
            "5.90",
            [
                "line 8, stock[0].price: found the number 5.9",
                "a text in quotation marks",
            ],
        ),
        (
            ": 2}",
            ": \"2\"}",
            [
                "line 11, in_hand[0].available: found the text \"2\"",
                "a whole number",
            ],
        ),
        (
            "\"length\": \"3000mm\", ",
            "",
            ["line 8, stock[0]: found no \"length\"", "an object with"],
        ),
        (
            "\"mark\": \"F\"",
            "\"mark\": null",
            [
                "line 4, pieces[0].mark: found null",
                "a text in quotation marks",
            ],
        ),
        (
            "\"mark\": \"F\"",
            "\"mark\": \"F\", \"mark\": \"G\"",
            ["line 4, pieces[0]: found \"mark\" more than once", "once"],
        ),
        (
            "{\"mark\": \"F\", \"length\": \"2210mm\", \"qty\": 7}",
            "[\"s\", 1, \"\", \"F\", \"2210mm\"]",
            ["line 4, pieces[0]: found [", "an object in braces"],
        ),
        (
            "{\"kerf\": \"4mm\"}",
            "4",
            ["line 2, settings: found 4", "an object in braces"],
        ),
    ] {
        only_fault(&sound(from, to), &parts);
    }
}

#[test]
fn values_that_their_columns_would_not_take() {
    for (from, to, parts) in [
        (
            "\"2210mm\"",
            "\"22x10\"",
            [
                "line 4, pieces[0].length: found \"22x10\"",
                "a length such as 2210",
            ],
        ),
        (
            "7",
            "0",
            ["line 4, pieces[0].qty: found 0", "from 1 to 1000000"],
        ),
        (
            "\"4mm\"",
            "\"4 apples\"",
            ["line 2, settings.kerf: found \"4 apples\"", "a length"],
        ),
        (
            "\"4mm\"",
            "\"4mm\", \"prefer\": \"speed\"",
            [
                "line 2, settings.prefer: found \"speed\"",
                "offcuts or setups",
            ],
        ),
        (
            "\"4mm\"",
            "\"4mm\", \"insure\": 1000001",
            [
                "line 2, settings.insure: found 1000001",
                "from 0 to 1000000",
            ],
        ),
        (
            "\"5.90\"",
            "\"free\"",
            ["line 8, stock[0].price: found \"free\"", "a price"],
        ),
        (
            "\"qty\": 7",
            "\"joint_gap\": \"2\"",
            ["line 4, pieces[0].joint_gap", "joints"],
        ),
        (
            "\"available\": 2",
            "\"available\": 1000001",
            ["line 11, in_hand[0].available: found 1000001", "1000000"],
        ),
    ] {
        plan(&sound(from, to)).is_fault(&parts);
    }
}

/// Rows on lines of their own, and all on one line: each fault is found beside the others.
#[test]
fn every_fault_in_one_go() {
    let spoiled = sound("7", "0").replace("\"3100/140\"", "\"3100/\"");
    let spoiled = spoiled.replace("\"5.90\"", "5.90").replace("1000\"", "x\"");
    let spoiled = spoiled.replace("4mm", "-4mm").replace("available", "avail");
    let places = [
        "settings.kerf",
        "pieces[0].qty",
        "pieces[1].qty",
        "stock[0].price",
        "in_hand[0].length",
        "in_hand[0].avail",
    ];
    let lines = [2, 4, 5, 8, 11, 11];
    let run = plan(&spoiled);
    for (place, line) in places.iter().zip(lines) {
        run.is_fault(&[&format!("job.json, line {line}, {place}: ")]);
    }
    run.has_faults(6);
    let run = plan(&spoiled.replace('\n', ""));
    for place in places {
        run.is_fault(&[&format!("job.json, line 1, {place}: ")]);
    }
    run.has_faults(6);
}

/// Faults between rows name the row of the document, not the table that it once came from.
#[test]
fn rows_that_differ() {
    let job = json!({
        "pieces": [{"length": "2210"}],
        "stock": [
            {"length": "3000", "kerf": "3mm", "source": "yard.csv", "line": 2},
            {"length": "4000", "kerf": "4mm", "source": "yard.csv", "line": 3},
        ],
    });
    let text = serde_json::to_string_pretty(&job).unwrap();
    let line = text.lines().position(|line| line.contains("4mm")).unwrap() + 1;
    only_fault(
        &text,
        &[
            &format!("job.json, line {line}, stock[1].kerf: found 4mm"),
            "3mm, as in line",
        ],
    );
    // One charge for each table, whatever the document that the rows stand in now.
    let job = text
        .replace("\"4mm\"", "\"3mm\", \"delivery\": \"9\"")
        .replacen("\"3mm\"", "\"3mm\", \"delivery\": \"8\"", 1);
    plan(&job)
        .is_fault(&[
            "job.json, line ",
            "stock[1].delivery: found 9.00 (yard.csv, line 3)",
            "8.00, as in line 2",
        ])
        .has_faults(1);
    plan(
        &job.replace("\"line\": 3,\n", "")
            .replacen("yard.csv", "hill.csv", 1),
    )
    .ended(0);
}

/// Rows that state the same place, or none on one line, are still different rows: what is left of each is listed.
#[test]
fn rows_without_a_place_of_their_own() {
    let yard = Yard::new();
    let hand = [json!({"length": "1000"}), json!({"length": "1100"})];
    let same = hand.clone().map(|mut row| {
        row["source"] = "h.csv".into();
        row["line"] = 2.into();
        row
    });
    let mut listed = Vec::new();
    for hand in [hand, same] {
        let job = json!({"pieces": [{"length": "1050"}], "in_hand": hand});
        yard.run_with_input(&["plan", "--job", "-", "--out", "o"], &job.to_string())
            .ended(0);
        listed.push(yard.read("o/offcuts.csv"));
    }
    yard.file("p.csv", "length\n1050\n");
    yard.file("h.csv", "length\n1000\n1100\n");
    yard.run(&["plan", "p.csv", "--in-hand", "h.csv", "--out", "o"])
        .ended(0);
    assert!(yard.read("o/offcuts.csv").contains("1000mm"));
    assert_eq!(listed, vec![yard.read("o/offcuts.csv"); 2]);
}

#[test]
fn documents_and_tables_do_not_mix() {
    let yard = Yard::new();
    yard.file("job.json", sound("", ""));
    for more in [
        &["p.csv"][..],
        &["--stock", "s.csv"],
        &["--in-hand", "s.csv"],
    ] {
        let run = yard.run(&[&["plan", "--job", "job.json"], more].concat());
        assert_eq!(run.code, Some(2), "{more:?}");
        assert!(run.err.contains("cannot be used with"), "{}", run.err);
    }
    yard.run(&["plan", "--job", "none.json"])
        .is_fault(&["none.json", "no such file"]);
    // Faults of flags and document come together.
    yard.file("job.json", sound("7", "0"));
    let run = yard.run(&["plan", "--job", "job.json", "--kerf", "x", "--limit", "y"]);
    run.is_fault(&["--kerf: "])
        .is_fault(&["--limit: "])
        .is_fault(&["pieces[0].qty"]);
    run.has_faults(3);
}

/// What --json prints has no job in it.
#[test]
fn a_printed_plan_is_no_job() {
    let yard = Yard::new();
    let printed = yard.plan(&["--json"]).out;
    yard.file("a.json", printed);
    yard.run(&["plan", "--job", "a.json"])
        .is_fault(&[
            "a.json, line 1, job: found a plan without its job",
            "plan.json",
        ])
        .has_faults(1);
}
