//! Batches of bars and walls of pieces: what is read, what is refused, and what is printed and written.
#![allow(clippy::unwrap_used)]

mod common;

use common::{Run, Yard};
use serde_json::{Value, json};

/// Two walls and a piece on none; three lengths of one batch, as many as wanted of another, and two bars in
/// hand, one of which names none.
fn yard(pieces: &str) -> Yard {
    let yard = Yard::new();
    yard.file("p.csv", pieces);
    yard.file(
        "s.csv",
        "length,price,available,batch\n2400,4.10,4,B12\n2400,4.10,,B13\n3000,5.60,3,B12\n",
    );
    yard.file("h.csv", "length,available,batch\n1300,2,b13\n900,1,\n");
    yard
}

const WALLS: &str = "mark,length,qty,wall\nN,1180,8,north\nS,980,6,south\nD,640,2,\n";

fn planned(yard: &Yard, more: &[&str]) -> Run {
    yard.plan(&[&["--in-hand", "h.csv"], more].concat())
}

fn words(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Every bar that a piece of this mark comes from, by its row in the file of cuts: name and batch.
fn bars_of<'a>(cuts: &'a str, mark: &str) -> Vec<(&'a str, &'a str)> {
    let rows = cuts.lines().filter(|row| row.contains(mark));
    rows.map(|row| {
        let cells: Vec<&str> = row.split(',').collect();
        (cells[1], *cells.last().unwrap())
    })
    .collect()
}

#[test]
fn every_wall_comes_from_one_batch_and_the_plan_says_what_that_costs() {
    let yard = yard(WALLS);
    let run = planned(&yard, &["--out", "o"]);
    run.ended(0);
    let text = words(&run.out);
    for part in [
        "at 4.10 each, batch B12",
        "2 bars of 1300mm, in hand, batch B13",
        "Not cut: 1 bar of 900mm, in hand, no batch named",
        "Each wall from one batch: north from batch B13, south from batch B12. That costs nothing \
         more than walls of several batches would.",
        "Bars whose row names no batch are taken to be of one batch together.",
    ] {
        assert!(text.contains(part), "{part}\n{text}");
    }
    let cuts = yard.read("o/cutting-plan.csv");
    assert!(
        bars_of(&cuts, ",N-")
            .iter()
            .all(|(_, batch)| *batch == "B13")
    );
    assert!(
        bars_of(&cuts, ",S-")
            .iter()
            .all(|(_, batch)| *batch == "B12")
    );
    let list = yard.read("o/buying-list.csv");
    assert!(
        list.lines()
            .all(|row| !row.starts_with(",") || row.ends_with("B12") || row.ends_with("B13"))
    );
    let offcuts = yard.read("o/offcuts.csv");
    assert!(offcuts.starts_with("material,length,available,square_off,worth,note,batch\n"));
    assert!(offcuts.contains(",B12\n"), "{offcuts}");
    // It can take the place of the old list.
    let again = yard.plan(&["--in-hand", "o/offcuts.csv"]);
    again.ended(0);
    let sheet = yard.read("o/cutting-sheet.html");
    assert!(sheet.contains("north from batch B13, south from batch B12"));
    assert!(sheet.contains(", batch B12"));
    assert!(
        sheet.contains("A1 \u{b7} 434mm \u{b7} "),
        "the label of an offcut"
    );
}

/// Arithmetic: six of 980 fit two bars of 3000 and one more; of the other batch they take three of 2400.
/// With one bar of 2400 of each batch, the two pieces of 1180 of one wall fit either.
#[test]
fn what_the_rule_costs_is_said() {
    let yard = Yard::new();
    yard.file(
        "p.csv",
        "mark,length,qty,wall\nN,1000,4,north\nS,990,2,south\n",
    );
    yard.file(
        "s.csv",
        "length,price,available,batch\n3100,5.00,1,A\n3100,7.00,,B\n",
    );
    let run = yard.plan(&["--out", "o"]);
    run.ended(0);
    let text = words(&run.out);
    let said = "Each wall from one batch: north from batch B, south from batch B. That takes 2.00 more \
                than walls of several batches would; both are proved least.";
    assert!(text.contains(said), "{text}");
    let plan: Value = serde_json::from_str(&yard.read("o/plan.json")).unwrap();
    let walls = &plan["materials"][0]["walls"];
    assert_eq!(
        *walls,
        json!({
            "batches": [{"wall": "north", "batch": "B"}, {"wall": "south", "batch": "B"}],
            "without": {"cost": "12.00", "bought_mm": null},
            "without_bound": {"cost": "12.00", "bought_mm": null},
        })
    );
    assert_eq!(plan["materials"][0]["cost"], json!("14.00"));
    assert_eq!(plan["job"]["stock"][0]["batch"], json!("A"));
    // Without prices it is length.
    yard.file(
        "s.csv",
        "length,available,batch\n2000,2,A\n3100,1,A\n3100,,B\n",
    );
    let run = yard.plan(&[]);
    run.ended(0);
    assert!(
        words(&run.out).contains("Each wall from one batch"),
        "{}",
        run.out
    );
}

#[test]
fn no_batch_holds_a_wall() {
    let yard = Yard::new();
    yard.file("p.csv", "length,qty,wall\n1000,4,north\n");
    yard.file(
        "s.csv",
        "length,price,available,batch\n2400,5.00,1,A\n2400,7.00,1,B\n",
    );
    let run = yard.plan(&[]);
    run.ended(1);
    let text = words(&run.out);
    assert!(
        text.contains("There is no way to take the wall from one batch"),
        "{text}"
    );
    let run = yard.plan(&["--json"]);
    let plan: Value = serde_json::from_str(&run.out).unwrap();
    assert_eq!(plan["materials"][0]["proof"], json!("impossible"));
}

#[test]
fn batches_that_there_are_not_and_walls_of_two() {
    let pieces = "length,qty,wall,batch\n1000,1,north,B14\n1000,1,north,B12\n1000,1,North,B13\n1000,1,,b12\n";
    let run = planned(&yard(pieces), &[]);
    run.is_fault(&[
        "p.csv, line 2, batch: found \"B14\", which no bar of this material is of; accepted: a batch of \
         its bars: \"unnamed\", \"B12\", \"B13\"",
    ]);
    run.is_fault(&[
        "p.csv, line 4, batch: found \"B13\"; accepted: \"B12\", as in line 3: one batch per wall",
    ]);
    run.has_faults(2);
    let yard = Yard::with_pieces("length,batch\n1000,B12\n");
    yard.file("s.csv", "length\n2400\n");
    let run = yard.plan(&[]);
    run.is_fault(&["nothing, since no bar of this material names its batch"]);
}

#[test]
fn batches_and_no_walls() {
    let run = planned(&yard("length,qty\n1000,4\n"), &[]);
    run.ended(0);
    let note =
        "Bars are of several batches and no piece names its wall, so nothing is kept to one batch.";
    assert!(words(&run.out).contains(note), "{}", run.out);
    assert!(!run.out.contains("Each wall"), "{}", run.out);
}

/// The wall asks for its batch: nothing is left to choose, and nothing said.
#[test]
fn a_batch_that_is_asked_for() {
    let yard = yard("mark,length,qty,wall,batch\nN,1180,2,north,\nM,640,2,north,B13\n");
    let run = planned(&yard, &["--out", "o"]);
    run.ended(0);
    let cuts = yard.read("o/cutting-plan.csv");
    for mark in [",N-", ",M-"] {
        let bars = bars_of(&cuts, mark);
        assert!(
            bars.len() == 2 && bars.iter().all(|(_, batch)| *batch == "B13"),
            "{bars:?}"
        );
    }
    assert!(!run.out.contains("Each wall"), "{}", run.out);
}

#[test]
fn insurance_of_batches_is_refused_with_the_way_round() {
    let run = planned(&yard(WALLS), &["--insure", "1"]);
    run.ended(0);
    let text = words(&run.out);
    assert!(
        text.contains("Not insured against 1 spoiled piece: its bars are of several batches"),
        "{text}"
    );
    assert!(
        text.contains("The column spare gives rows spares of their own."),
        "{text}"
    );
}

/// A bar of the north wall is cut, a piece of it spoiled: what is left of it comes from the same batch, and
/// from found bars only if they are of it.
#[test]
fn carrying_on_keeps_to_the_batch() {
    let yard = yard(WALLS);
    planned(&yard, &["--out", "o"]).ended(0);
    let cuts = yard.read("o/cutting-plan.csv");
    let bars = bars_of(&cuts, ",N-");
    let (bar, _) = bars[0];
    let spoiled = cuts.lines().find(|row| row.contains(&format!(",{bar},")));
    let mark = spoiled.unwrap().split(',').nth(6).unwrap().to_owned();
    let told = format!("cut {bar}; spoiled {mark}; found 1200 x 1; found 1190 x 1 batch B13");
    yard.file("told.txt", told);
    let run = yard.run(&[
        "carry-on",
        "o/plan.json",
        "--done",
        "told.txt",
        "--out",
        "q",
    ]);
    run.ended(0);
    let cuts = yard.read("q/cutting-plan.csv");
    let rest = bars_of(&cuts, ",N-");
    assert!(!rest.is_empty());
    assert!(rest.iter().all(|(_, batch)| *batch == "B13"), "{rest:?}");
    let plan: Value = serde_json::from_str(&yard.read("q/plan.json")).unwrap();
    let pieces = plan["job"]["pieces"].as_array().unwrap();
    let north = pieces.iter().filter(|row| row["wall"] == json!("north"));
    assert!(north.clone().count() > 0);
    for row in north {
        assert_eq!(row["batch"], json!("B13"));
    }
    yard.file("told.txt", "found 1200 x 1 batch");
    let run = yard.run(&["carry-on", "o/plan.json", "--done", "told.txt"]);
    run.is_fault(&["batch and nothing behind it", "batch B12"]);
}

/// Every bar was of one batch until others were found: the wall that was begun keeps to its own.
#[test]
fn found_bars_are_of_another_batch() {
    let yard = Yard::with_pieces("mark,length,qty,wall\nW,1000,6,north\n");
    yard.file("s.csv", "length,price,batch\n3100,5.00,A\n");
    yard.plan(&["--out", "o"]).ended(0);
    yard.file("told.txt", "cut A1; spoiled W-01; found 3100 x 2 batch B");
    let run = yard.run(&[
        "carry-on",
        "o/plan.json",
        "--done",
        "told.txt",
        "--out",
        "q",
    ]);
    run.ended(0);
    let rest = yard.read("q/cutting-plan.csv");
    let rest = bars_of(&rest, ",W-");
    assert!(
        rest.len() == 4 && rest.iter().all(|(_, batch)| *batch == "A"),
        "{rest:?}"
    );
}

/// What is cut from another batch than the rest of its wall is told; what the wall asks for stands.
#[test]
fn a_wall_cut_from_two_batches_is_told() {
    let yard =
        Yard::with_pieces("mark,length,qty,wall,batch\nN,1000,6,north,A\nS,1000,3,south,B\n");
    yard.file("s.csv", "length,price,batch\n3100,5.00,A\n3100,6.00,B\n");
    yard.plan(&["--out", "o"]).ended(0);
    let cuts = yard.read("o/cutting-plan.csv");
    let (of_b, _) = bars_of(&cuts, ",S-")[0];
    yard.file("told.txt", format!("begun {of_b} N-01"));
    let run = yard.run(&[
        "carry-on",
        "o/plan.json",
        "--done",
        "told.txt",
        "--out",
        "q",
    ]);
    run.ended(0);
    let told = "Pieces of north were cut from another batch; the rest of it comes from batch A.";
    assert!(words(&run.out).contains(told), "{}", run.out);
    let rest = yard.read("q/cutting-plan.csv");
    let rest = bars_of(&rest, ",N-");
    assert!(
        rest.len() == 5 && rest.iter().all(|(_, batch)| *batch == "A"),
        "{rest:?}"
    );
}

/// A piece of no wall that is spoiled asks for no batch, however long it was cut before.
#[test]
fn a_spoiled_piece_of_no_wall_comes_from_any_batch() {
    let yard = Yard::with_pieces("mark,length,qty,wall\nX,1000,2,\nN,3000,2,north\n");
    yard.file(
        "s.csv",
        "length,price,available,batch\n3100,5.00,1,A\n3100,6.00,,B\n",
    );
    yard.plan(&["--out", "o"]).ended(0);
    let cuts = yard.read("o/cutting-plan.csv");
    let (of_a, batch) = bars_of(&cuts, ",X-")[0];
    assert_eq!(batch, "A", "{cuts}");
    yard.file("told.txt", format!("cut {of_a}"));
    let run = yard.run(&[
        "carry-on",
        "o/plan.json",
        "--done",
        "told.txt",
        "--out",
        "q",
    ]);
    run.ended(0);
    yard.file("told.txt", "spoiled X-01; spoiled X-02");
    let run = yard.run(&[
        "carry-on",
        "q/plan.json",
        "--done",
        "told.txt",
        "--out",
        "r",
    ]);
    run.ended(0);
}

/// How often a run may be joined is counted by the bars of its own batch. Arithmetic: of 3000 it takes one
/// joint, of the 6000 of the other batch none would do.
#[test]
fn the_joints_of_a_run_by_the_bars_of_its_batch() {
    let yard = Yard::with_pieces("mark,length,qty,joints,batch\nR,5000,1,every 500,B\n");
    yard.file("s.csv", "length,price,batch\n6000,9.00,A\n3000,5.00,B\n");
    let run = yard.plan(&["--json"]);
    run.ended(0);
    let plan: Value = serde_json::from_str(&run.out).unwrap();
    assert_eq!(plan["totals"], json!({"cost": "10.00", "bought_mm": 6000}));
}

/// Nothing is left of the batch that a wall was begun with: it is told why bars of another do not serve.
#[test]
fn a_batch_that_is_used_up() {
    let yard = Yard::with_pieces(
        "material,mark,length,qty,wall\nlarch board,N,1000,6,north\nbatten,B,1000,3,\n",
    );
    yard.file(
        "s.csv",
        "material,length,price,available,batch\nlarch board,3100,5.00,2,north kiln\n\
         larch board,3100,6.00,,B\nbatten,3600,2.00,,\n",
    );
    yard.plan(&["--out", "o"]).ended(0);
    let carry = |told: &str| {
        yard.file("told.txt", told);
        yard.run(&["carry-on", "o/plan.json", "--done", "told.txt"])
    };
    let cuts = yard.read("o/cutting-plan.csv");
    let (bar, batch) = bars_of(&cuts, ",N-")[0];
    assert_eq!(batch, "north kiln");
    let run = carry(&format!("cut {bar}; spoiled N-01"));
    run.ended(1);
    let text = words(&run.out);
    assert!(text.contains("bound to batch north kiln"), "{text}");
    // What it says to type is typed, and does.
    let found = text.split("such as: ").nth(1).unwrap();
    let found = found.split_inclusive("north kiln").next().unwrap();
    assert_eq!(found, "found 3100mm x 2 larch board batch north kiln");
    carry(&format!("cut {bar}; spoiled N-01; {found}")).ended(0);
}
