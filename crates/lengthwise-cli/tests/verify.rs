//! `lengthwise verify` as a process: what it accepts, what it refuses and why, and what is no plan at all.
//!
//! Every change of every field is tried among the unit tests; here it is a few that a person would make.
#![allow(clippy::unwrap_used, clippy::panic)]

mod common;

use std::path::Path;

use common::{Run, Yard};

/// The demonstration job, planned into `o` with these flags more.
fn kiln_shed(more: &[&str]) -> Yard {
    let yard = Yard::new();
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../data/kiln-shed");
    for name in ["pieces.csv", "stock.csv", "in-hand.csv"] {
        yard.file(name, std::fs::read(data.join(name)).unwrap());
    }
    let job = [
        "plan",
        "pieces.csv",
        "--stock",
        "stock.csv",
        "--in-hand",
        "in-hand.csv",
        "--out",
        "o",
    ];
    yard.run(&[&job[..], more].concat());
    yard
}

fn verify(yard: &Yard, more: &[&str]) -> Run {
    yard.run(&[&["verify", "o/plan.json"], more].concat())
}

/// The plan with one text in place of another, which it holds.
fn tampered(yard: &Yard, from: &str, to: &str) -> Run {
    let plan = yard.read("o/plan.json");
    assert!(plan.contains(from), "no {from}");
    yard.file("t.json", plan.replacen(from, to, 1));
    yard.run(&["verify", "t.json"])
}

#[track_caller]
fn refused(run: &Run, reasons: &[&str]) {
    run.ended(1);
    let out = run.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(out.contains("Refused: t.json does not hold"), "{out}");
    for reason in reasons {
        assert!(out.contains(reason), "no {reason:?} in\n{}", run.out);
    }
}

#[test]
fn the_demonstration_is_accepted() {
    for more in [
        &[][..],
        &["--prefer", "setups"],
        &["--insure", "1"],
        &["--insure-bar", "--per-cut", "1"],
        &["--temperature-range", "40", "--longest", "4.2m"],
        &["--work-limit", "1000"],
    ] {
        let yard = kiln_shed(more);
        let run = verify(&yard, &[]);
        run.ended(0);
        assert!(
            run.out.contains("o/plan.json holds."),
            "{more:?}: {}",
            run.out
        );
        assert!(!run.out.contains("Refused"), "{}", run.out);
    }
}

#[test]
fn what_was_proved_and_what_is_on_trust_is_said() {
    let yard = kiln_shed(&[]);
    let run = verify(&yard, &[]);
    let out = run
        .ended(0)
        .out
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ");
    // The cost is that of the README.
    let line = "fascia 20x170: demand, balance, buying list and figures hold, and it comes to 69.00; \
                by its certificate no plan comes to less.";
    assert!(out.contains(line), "{out}");
    let trust = "On trust: that no plan as cheap is better in offcuts or setups, as far as that is \
                 claimed (10 materials).";
    assert!(out.contains(trust), "{out}");
    assert!(out.contains("--again solves those materials anew"), "{out}");

    let again = verify(&yard, &["--again"]);
    let out = &again.ended(0).out;
    assert!(
        out.contains("Solved again: it is so that no plan as cheap"),
        "{out}"
    );
    assert!(out.contains("Nothing in it is on trust."), "{out}");
}

#[test]
fn it_reads_standard_input_and_prints_json() {
    let yard = Yard::new();
    yard.plan(&["--out", "o"]).ended(0);
    let plan = yard.read("o/plan.json");
    let run = yard.run_with_input(&["verify", "-", "--json"], &plan);
    let json: serde_json::Value = serde_json::from_str(&run.ended(0).out).unwrap();
    assert_eq!(json["accepted"], true);
    assert_eq!(json["reasons"], serde_json::json!([]));
    let rechecked = &json["materials"][0]["rechecked"];
    for claim in ["bars", "demand", "buying", "figures", "bound", "optimal"] {
        assert!(
            rechecked.as_array().unwrap().contains(&claim.into()),
            "{rechecked}"
        );
    }
    // Other spaces are no change.
    let value: serde_json::Value = serde_json::from_str(&plan).unwrap();
    let run = yard.run_with_input(&["verify", "-"], &value.to_string());
    run.ended(0);
}

#[test]
fn a_tampered_plan_is_refused_with_the_reason() {
    let yard = Yard::new();
    yard.plan(&["--out", "o"]).ended(0);
    // Seven pieces of 2210, a bar of 3000 each at 5.90: 41.30.
    let run = tampered(&yard, "\"cost\": \"41.30\"", "\"cost\": \"41.00\"");
    refused(
        &run,
        &[
            "roof batten: ",
            "41.00",
            "recomputed",
            "digest: changed after it was written",
        ],
    );
    let run = tampered(&yard, "\"count\": 7", "\"count\": 6");
    refused(&run, &["roof batten: "]);
    let run = tampered(&yard, "\"waste_mm\": ", "\"waste_mm\": 1");
    refused(
        &run,
        &["materials[0].figures.waste_mm: found 1", "recomputed"],
    );
    let run = tampered(&yard, "\"F-01\"", "\"F-09\"");
    refused(&run, &["piece F-01 is not cut"]);
    let run = tampered(&yard, "\"totals\": {", "\"totals\": {\"discount\": 1, ");
    refused(
        &run,
        &["totals.discount: found 1, recomputed no such field"],
    );
}

/// What the plan does not depend on, only the digest tells; free text may change.
#[test]
fn the_digest_tells_the_rest_and_leaves_free_text_out() {
    let yard = Yard::new();
    yard.plan(&["--out", "o"]).ended(0);
    let run = tampered(&yard, "\"source\": \"p.csv\"", "\"source\": \"q.csv\"");
    refused(
        &run,
        &["for 1 reason", "digest: changed after it was written"],
    );
    let run = tampered(&yard, "\"note\": \"\"", "\"note\": \"mind the knots\"");
    run.ended(0);
    let plan = yard.read("o/plan.json");
    let at = plan.find(",\n  \"digest\"").unwrap();
    yard.file("t.json", format!("{}\n}}\n", &plan[..at]));
    refused(
        &yard.run(&["verify", "t.json"]),
        &["for 1 reason", "digest: found none"],
    );
}

/// Where joints were tried stands in the certificate alone: of other places, with a digest of their own, solving again
/// settles nothing.
#[test]
fn joints_tried_at_other_places_stay_on_trust() {
    let yard = Yard::with_pieces("mark,length,qty,joints\nR,14000,2,anywhere\nA,1200,7,\n");
    yard.file("s.csv", "length,price\n4000,5\n6000,8\n");
    yard.plan(&["--out", "o"]).ended(0);
    let settled = "Nothing in it is on trust";
    let run = verify(&yard, &["--again"]);
    assert!(run.ended(0).out.contains(settled), "{}", run.out);
    let plan = yard.read("o/plan.json");
    let tried = plan.find("\"tried\": [\n").unwrap();
    let end = tried + plan[tried..].find("\n      ]").unwrap();
    let nowhere = format!("{}\"tried\": [{}", &plan[..tried], &plan[end + 7..]);
    yard.file("t.json", &nowhere);
    let run = yard.run(&["verify", "t.json"]);
    refused(
        &run,
        &["for 1 reason", "digest: changed after it was written"],
    );
    let words: Vec<&str> = run.out.split_whitespace().collect();
    let now = words.iter().rfind(|word| word.starts_with("sha256:"));
    let (before, _) = nowhere.split_once("\"sha256:").unwrap();
    yard.file("t.json", format!("{before}\"{}\"\n}}\n", now.unwrap()));
    let run = yard.run(&["verify", "t.json", "--again"]);
    assert!(!run.ended(0).out.contains(settled), "{}", run.out);
}

#[test]
fn carried_on_insured_and_broken_prices_are_accepted() {
    let yard = Yard::with_stock("length,price\n3000,5.90; 5.40 from 20\n4800,9.40\n");
    yard.file("p.csv", "mark,length,qty\nF,2210,19\nK,300,4\n");
    yard.plan(&["--insure", "1", "--out", "o"]).ended(0);
    verify(&yard, &[]).ended(0);
    let run = yard.run(&[
        "carry-on",
        "o/plan.json",
        "--note",
        "cut A1",
        "--note",
        "spoiled F-01",
        "--out",
        "o",
    ]);
    assert_eq!(run.code, Some(0), "{}", run.err);
    let run = verify(&yard, &["--again"]);
    run.ended(0);
    let plan = yard.read("o/plan.json");
    assert!(plan.contains("\"carried_on\""), "{plan}");
    let run = tampered(&yard, "\"names_taken\": [", "\"names_taken\": [\"A2\", ");
    refused(&run, &["the bar A2 is named a second time"]);
}

/// Nobody insures again when a plan is verified, not even when it is solved again.
#[test]
fn what_an_insurance_claims_is_on_trust() {
    let yard = Yard::with_pieces("mark,length,qty\nF,2210,3\n");
    yard.file("s.csv", "length,price\n3000,5.90\n");
    yard.plan(&["--insure", "1", "--out", "o"]).ended(0);
    for more in [&[][..], &["--again"]] {
        let run = verify(&yard, more);
        let out = run.ended(0).out.split_whitespace().collect::<Vec<_>>();
        let out = out.join(" ");
        assert!(
            out.contains("On trust: what it comes to without insurance"),
            "{out}"
        );
        assert!(!out.contains("Nothing in it is on trust"), "{out}");
    }
}

/// Marks repeat from material to material: the same mark cut of one is not cut of the other.
#[test]
fn one_mark_in_two_materials() {
    let yard = Yard::with_pieces("material,mark,length,qty\nboard,F,2210,2\nbatten,F,1900,2\n");
    yard.file("s.csv", "material,length\nboard,2400\nbatten,2000\n");
    yard.plan(&["--out", "o"]).ended(0);
    let cuts = yard.read("o/cutting-plan.csv");
    let bar = cuts.lines().nth(1).unwrap().split(',').nth(1).unwrap();
    let carry = ["carry-on", "o/plan.json", "--note"];
    let said = format!("cut {bar}");
    yard.run(&[&carry[..], &[&said, "--out", "o"]].concat())
        .ended(0);
    verify(&yard, &[]).ended(0);
}

/// A plan may have so many bytes, and more where that is asked for.
#[test]
fn the_ceiling_of_what_is_verified() {
    let yard = Yard::with_pieces("length\n500\n600\n700\n");
    yard.file("s.csv", "length\n3000\n");
    yard.plan(&["--out", "o"]).ended(0);
    let bytes = yard.read("o/plan.json").len();
    let verify = |most: usize| verify(&yard, &["--ceiling", &format!("file={most}")]);
    verify(bytes).ended(0);
    verify(bytes - 1).is_fault(&["the ceiling of file"]);
}

/// No plan: the reason is recomputed where that can be.
#[test]
fn a_material_without_a_plan() {
    let yard = Yard::with_pieces("length\n3100\n");
    yard.file("s.csv", "length\n3000\n");
    yard.plan(&["--out", "o"]).ended(1);
    let run = verify(&yard, &[]);
    let out = run
        .ended(0)
        .out
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ");
    let line = "All pieces: that there is no plan was recomputed. Piece P1 of 3100mm is longer";
    assert!(out.contains(line), "{out}");
    let run = tampered(&yard, "\"takes_mm\": 3100", "\"takes_mm\": 2900");
    refused(&run, &["materials[0]"]);
}

#[test]
fn what_is_no_plan_is_told_with_its_place() {
    let yard = Yard::new();
    let plan = |text: &str| {
        yard.file("t.json", text);
        yard.run(&["verify", "t.json"])
    };
    let run = plan("");
    run.is_fault(&["t.json", "no JSON", "line 1 column 0"]);
    assert!(run.err.contains("nothing was verified"), "{}", run.err);
    plan("{\"materials\": [\n  }").is_fault(&["no JSON", "line 2 column 3"]);
    plan("{\"materials\": []}").is_fault(&["job", "a plan without its job"]);
    plan("[]").is_fault(&["t.json"]);
    plan(&"[".repeat(100_000)).is_fault(&["t.json", "line 1 column"]);
    let deep = format!("{{\"a\": {}", "[".repeat(100_000));
    plan(&deep).is_fault(&["t.json", "no JSON"]);
    yard.plan(&["--out", "o"]).ended(0);
    let good = yard.read("o/plan.json");
    let twice = good.replacen("\"figures\": {", "\"figures\": {\n \"waste_mm\": 1,", 1);
    plan(&twice).is_fault(&["the field \"waste_mm\" twice at line"]);
    let huge = good.replacen("\"scale\": ", "\"scale\": 99999999999999999999", 1);
    plan(&huge).is_fault(&["certificates[0].scale", "a whole number within its range"]);
    let wrong = good.replacen("\"length\": \"2210mm\"", "\"length\": \"long\"", 1);
    plan(&wrong).is_fault(&["job.pieces[0].length", "\"long\""]);
    yard.run(&["verify", "none.json"]).is_fault(&["none.json"]);
    yard.run(&["verify", "o/plan.json", "--again", "--limit", "soon"])
        .is_fault(&["--limit", "\"soon\""]);
    // A limit is for solving again.
    yard.run(&["verify", "o/plan.json", "--limit", "5"])
        .ended(2);
}
