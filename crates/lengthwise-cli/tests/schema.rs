//! The schemas, held against what the program really reads and writes by a validator that is not ours (the crate
//! jsonschema, JSON Schema 2020-12).
#![allow(clippy::unwrap_used)]

mod common;

use std::fs;
use std::path::{Path, PathBuf};

use common::Yard;
use serde_json::{Value, json};

/// Every schema that there is.
const DOCUMENTS: [&str; 5] = [
    "job",
    "plan",
    "plan-printed",
    "carry-on-printed",
    "quotes-printed",
];

fn data(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../../data")
        .join(name)
}

fn printed(document: &str) -> String {
    Yard::new().run(&["schema", document]).ended(0).out.clone()
}

/// The schema of a document. Where it leaves objects open for fields to come, they are closed here: a field that is
/// written and not described must not pass.
fn closed(document: &str) -> jsonschema::Validator {
    let mut schema: Value = serde_json::from_str(&printed(document)).unwrap();
    close(&mut schema);
    jsonschema::draft202012::new(&schema).unwrap()
}

fn close(schema: &mut Value) {
    match schema {
        Value::Object(object) => {
            let is_object = object.get("type") == Some(&json!("object"));
            if is_object && !object.contains_key("additionalProperties") {
                object.insert("unevaluatedProperties".to_owned(), false.into());
            }
            object.values_mut().for_each(close);
        }
        Value::Array(all) => all.iter_mut().for_each(close),
        _ => {}
    }
}

#[track_caller]
fn fits(validator: &jsonschema::Validator, text: &str) -> Value {
    let value: Value = serde_json::from_str(text).unwrap();
    let errors: Vec<String> = validator
        .iter_errors(&value)
        .map(|error| format!("{}: {error}", error.instance_path()))
        .collect();
    assert!(errors.is_empty(), "{errors:#?}");
    value
}

/// `UPDATE_SCHEMAS=1` writes them anew.
#[test]
fn the_files_are_what_the_program_prints() {
    for document in DOCUMENTS {
        let file = data(&format!("schema/{document}.schema.json"));
        if std::env::var_os("UPDATE_SCHEMAS").is_some() {
            fs::create_dir_all(data("schema")).unwrap();
            fs::write(&file, printed(document)).unwrap();
        }
        let kept = fs::read_to_string(&file).unwrap_or_default();
        assert!(
            kept == printed(document),
            "{document}: run with UPDATE_SCHEMAS=1"
        );
    }
}

#[test]
fn every_schema_is_a_schema() {
    for document in DOCUMENTS {
        let schema: Value = serde_json::from_str(&printed(document)).unwrap();
        assert!(jsonschema::meta::is_valid(&schema), "{document}");
    }
}

/// The jobs and plans of the demonstration under several sets of flags.
#[test]
fn the_demonstration_fits() {
    let (job, plan, shown) = (closed("job"), closed("plan"), closed("plan-printed"));
    let yard = Yard::new();
    let file = |name: &str| {
        data(&format!("kiln-shed/{name}.csv"))
            .to_str()
            .unwrap()
            .to_owned()
    };
    let (pieces, stock, hand) = (file("pieces"), file("stock"), file("in-hand"));
    let files = [pieces.as_str(), "--stock", &stock, "--in-hand", &hand];
    for flags in [
        &[][..],
        &[
            "--temperature-range",
            "40",
            "--prefer",
            "setups",
            "--stop-reach",
            "3m",
        ],
        &["--insure", "1", "--insure-bar"],
        &["--work-limit", "1", "--longest", "4m"],
    ] {
        let run = yard.run(&[&["plan"], &files[..], flags, &["--json", "--out", "o"]].concat());
        // Little work leaves some material without a plan.
        assert_ne!(run.code, Some(2), "{}", run.err);
        fits(&shown, &run.out);
        let whole = fits(&plan, &yard.read("o/plan.json"));
        fits(&job, &whole["job"].to_string());
    }
    let run = yard.run(&[&["check"], &files[..], &["--json"]].concat());
    fits(&job, &run.ended(0).out);
}

/// Small jobs that reach what the demonstration does not, each with the field that it is here for.
#[test]
fn small_jobs_fit() {
    let (plan, shown) = (closed("plan"), closed("plan-printed"));
    let of = |name: &str, pieces: &str, stock: &str, pointer: &str| {
        let yard = Yard::with_pieces(pieces);
        yard.file("s.csv", stock);
        let run = yard.plan(&["--json", "--out", "o"]);
        assert!(run.code < Some(2), "{name}: {}", run.err);
        fits(&shown, &run.out);
        let whole = fits(&plan, &yard.read("o/plan.json"));
        let there = whole.pointer(pointer).is_some_and(|value| match value {
            Value::Null => false,
            Value::Array(all) => !all.is_empty(),
            _ => true,
        });
        assert!(there, "{name}: nothing at {pointer}");
    };
    of(
        "price breaks",
        "length,qty\n2210,12\n",
        "length,price\n3000,5.90; 5.40 from 12\n",
        "/certificates/0/combinations",
    );
    of(
        "joints anywhere",
        "length,qty,joints\n3100,6,anywhere\n",
        "length\n3000\n",
        "/certificates/0/tried",
    );
    of(
        "courses",
        "length,qty,joints,course_group,course\n4000,4,every 600,floor,1\n",
        "length,price\n3000,5.90\n",
        "/materials/0/bars/0/cuts/0/run",
    );
    of(
        "packs and slanted ends",
        "length,qty,ends\n900,5,45/90\n",
        "length,price,sold\n3000,20,pack of 4\n",
        "/materials/0/uncut",
    );
    of(
        "impossible",
        "length,qty\n2210,3\n",
        "length,price,available\n3000,5.90,2\n",
        "/materials/0/why",
    );
}

#[test]
fn a_plan_carried_on_fits() {
    let yard = Yard::with_pieces("mark,length,qty,spare\nF,1400,8,1\nK,150,4,\n");
    yard.file("s.csv", "length,price\n3000,5.90\n");
    yard.plan(&["--out", "o"]).ended(0);
    let note = |line: &'static str| ["--note", line];
    let said = [note("cut A1"), note("spoiled F-03"), note("found 700")].concat();
    let run = yard.run(
        &[
            &["carry-on", "o/plan.json"],
            &said[..],
            &["--json", "--out", "r"],
        ]
        .concat(),
    );
    run.ended(0);
    fits(&closed("carry-on-printed"), &run.out);
    let whole = fits(&closed("plan"), &yard.read("r/plan.json"));
    assert!(!whole["carried_on"]["done"].as_array().unwrap().is_empty());
    fits(&closed("job"), &whole["job"].to_string());
}

#[test]
fn compared_quotes_fit() {
    let yard = Yard::with_pieces("material,length,qty\nbatten,2210,7\nsill,600,2\n");
    yard.file(
        "hill.csv",
        "material,length,price,delivery\nbatten,3000,5.90,20\nsill,2400,8.40,\n",
    );
    yard.file("quay.csv", "material,length,price\nbatten,2400,5.10\n");
    let run = yard.run(&[
        "quotes", "p.csv", "--quote", "hill.csv", "--quote", "quay.csv", "--json",
    ]);
    let compared = fits(&closed("quotes-printed"), &run.ended(0).out);
    assert!(compared["cheapest"].is_object());
}

/// What the program refuses as a job, the schema refuses too, and the other way round, where it is a matter of form.
#[test]
fn wrong_documents_are_refused() {
    let validator =
        jsonschema::draft202012::new(&serde_json::from_str(&printed("job")).unwrap()).unwrap();
    let sound = json!({"pieces": [{"length": "2210", "qty": 7}], "stock": [{"length": "3000"}]});
    let yard = Yard::new();
    let judge = |spoil: &dyn Fn(&mut Value), accepted: bool| {
        let mut job = sound.clone();
        spoil(&mut job);
        assert_eq!(validator.is_valid(&job), accepted, "{job}");
        let run = yard.run_with_input(&["check", "--job", "-"], &job.to_string());
        assert_eq!(run.code, Some(if accepted { 0 } else { 2 }), "{job}");
    };
    judge(&|_| {}, true);
    judge(
        &|job| job["settings"] = json!({"kerf": "4mm", "longest": null}),
        true,
    );
    judge(&|job| job["pieces"][0]["qty"] = "3100/140".into(), true);
    judge(&|job| job["pieces"][0]["qty"] = (-7).into(), false);
    judge(&|job| job["pieces"][0]["qty"] = 7.5.into(), false);
    judge(&|job| job["pieces"][0]["length"] = 2210.into(), false);
    judge(&|job| job["pieces"][0]["marc"] = "F".into(), false);
    judge(&|job| job["pieces"][0] = json!({"mark": "F"}), false);
    judge(&|job| job["pieces"][0] = json!(["2210"]), false);
    judge(&|job| job["stock"] = json!({"length": "3000"}), false);
    judge(&|job| job["settings"] = json!({"prefer": "speed"}), false);
    judge(&|job| job["setings"] = json!({}), false);
    judge(&|job| job["pieces"] = Value::Null, false);

    // A plan with a field taken away, of another type, or under another name.
    let plan = closed("plan");
    yard.plan(&["--out", "o"]).ended(0);
    let whole = fits(&plan, &yard.read("o/plan.json"));
    for spoil in [
        &(|plan: &mut Value| plan["materials"][0]["proof"] = "surely".into())
            as &dyn Fn(&mut Value),
        &|plan| plan["materials"][0]["bars"][0]["offcut_mm"] = "787".into(),
        &|plan| plan["materials"][0]["bars"][0]["offcut_mm"] = (-1).into(),
        &|plan| plan["materials"][0]["colour"] = "red".into(),
        &|plan| plan["certificates"][0]["prices"][0]["price"] = 0.5.into(),
        &|plan| plan["totals"]["cost"] = 41.3.into(),
        &|plan| drop(plan.as_object_mut().unwrap().remove("job")),
        &|plan| {
            drop(
                plan["materials"][0]
                    .as_object_mut()
                    .unwrap()
                    .remove("spoiled"),
            )
        },
    ] {
        let mut spoiled = whole.clone();
        spoil(&mut spoiled);
        assert!(!plan.is_valid(&spoiled), "{spoiled:#}");
    }
}
