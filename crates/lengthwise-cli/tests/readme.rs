//! What the README says to type gives what it says.
#![allow(clippy::unwrap_used)]

mod common;

use common::{Run, Yard};

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
    let run = |line: &str| yard.run(&typed(line));
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

/// The words of a line that is to be typed, without the name of the program.
fn typed(line: &str) -> Vec<&str> {
    let mut words = Vec::new();
    for (place, part) in line.trim().split('"').enumerate() {
        if place % 2 == 1 {
            words.push(part);
        } else {
            words.extend(part.split_whitespace());
        }
    }
    words.split_off(1)
}

/// Every part that is shown of the demonstration is a part of what is printed.
#[test]
fn the_demonstration() {
    let root = concat!(env!("CARGO_MANIFEST_DIR"), "/../..");
    let shown = block_behind("joined where it costs least.\n");
    let line = block_behind("From the\ntop of this project:\n");
    let (_, line) = line.split_once(" -- ").unwrap();
    let mut command = Yard::new().command(&line.split_whitespace().collect::<Vec<_>>());
    let run = Run::of(&command.current_dir(root).output().unwrap());
    run.ended(0);
    for part in shown.split("\n\n") {
        assert!(run.out.contains(part), "{part}\n\n{}", run.out);
    }
}

#[test]
fn a_question_without_files() {
    let yard = Yard::new();
    let (_, row) = README.split_once("takes, without files | `").unwrap();
    let (line, _) = row.split_once('`').unwrap();
    let answer = yard.run(&typed(line));
    answer.ended(0);
    assert!(answer.out.contains("Proved"), "{}", answer.out);
    let line = block_behind("how they are cut, how sure.\n");
    let answer = yard.run(&typed(line));
    answer.ended(0);
    assert_eq!(answer.out, block_behind("\"every 600\"\n```\n"));
}

#[test]
fn two_mistakes() {
    let yard = Yard::new();
    let shown = block_behind("is answered with both:\n");
    yard.file(
        "pieces.csv",
        "materal,mark,length,qty\nlarch board,back,19x45,24\n",
    );
    yard.file("stock.csv", block_behind("What is sold, `stock.csv`"));
    let run = yard.run(&["plan", "pieces.csv", "--stock", "stock.csv"]);
    assert_eq!(run.err, shown);
}

#[test]
fn the_program_of_ones_own_is_the_example() {
    let example = include_str!("../../lengthwise/examples/estimate.rs");
    let (_, code) = example.split_once("\n\n").unwrap();
    assert_eq!(block_behind("opt-level = 3\n```\n"), code);
}
