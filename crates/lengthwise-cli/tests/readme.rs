//! What the README says to type gives what it says.
#![allow(clippy::unwrap_used)]

mod common;

use common::Yard;

const README: &str = include_str!("../../../README.md");

/// What stands between the fences of the first block behind these words.
fn block_behind(words: &str) -> &'static str {
    let (_, behind) = README.split_once(words).unwrap();
    let (_, block) = behind.split_once("```").unwrap();
    let (block, _) = block.split_once("```").unwrap();
    block.split_once('\n').unwrap().1
}

#[test]
fn a_list_of_ones_own() {
    let yard = Yard::new();
    yard.file("pieces.csv", block_behind("What you need, `pieces.csv`"));
    yard.file("stock.csv", block_behind("What is sold, `stock.csv`"));
    let run = |line: &str| {
        let words: Vec<&str> = line.split_whitespace().skip(1).collect();
        yard.run(&words)
    };
    let planned = run(block_behind("keeps slivers away. Then"));
    planned.ended(0);
    assert!(planned.out.contains("Proved cheapest."));
    assert!(yard.path().join("plan/cutting-sheet.html").is_file());
    let (_, row) = README.split_once("to go on after a spoiled cut").unwrap();
    let (_, note) = row.split_once("--note \"").unwrap();
    let (note, _) = note.split_once('"').unwrap();
    let carried = yard.run(&[
        "carry-on",
        "plan/plan.json",
        "--note",
        note,
        "--out",
        "rest",
    ]);
    carried.ended(0);
    assert!(carried.out.contains("cut otherwise  A1"), "{}", carried.out);
    let next = "lengthwise plan pieces.csv --stock stock.csv --in-hand plan/offcuts.csv";
    run(next).ended(0);
}

#[test]
fn the_program_of_ones_own_is_the_example() {
    let example = include_str!("../../lengthwise/examples/estimate.rs");
    let (_, code) = example.split_once("\n\n").unwrap();
    assert_eq!(block_behind("opt-level = 3\n```\n"), code);
}
