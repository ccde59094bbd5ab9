//! The worked examples of the literature: planned, verified, and proven at the known optimum.
//! Sources and how each value was obtained stand beside the data.

#![allow(clippy::panic)]

use std::collections::BTreeSet;

use lengthwise::plan::{Cutting, Proof};
use lengthwise_tests::answer::{MONEY_DECIMALS, answer, units};
use lengthwise_tests::published::{EXAMPLES, Example, Objective, Printed};

/// Solves the example and says what is wrong, if anything.
fn check(example: &Example) -> Result<(), String> {
    let answer = answer(&example.job());
    let cutting = answer.cutting();
    let optimum = i128::from(example.optimum) * 10_i128.pow(MONEY_DECIMALS);
    compare(example, cutting, optimum)?;
    if example.objective == Objective::Count {
        let bars: usize = cutting.bars.iter().map(|group| group.names.len()).sum();
        if bars as u64 != example.optimum {
            return Err(format!("{}: {bars} bars are cut", example.id));
        }
    }
    Ok(())
}

fn compare(example: &Example, cutting: &Cutting, optimum: i128) -> Result<(), String> {
    let (value, bound) = (units(cutting.value), units(cutting.bound));
    if (value, bound, cutting.proof) == (optimum, optimum, Proof::Optimal) {
        return Ok(());
    }
    Err(format!(
        "{}: value {:?}, bound {:?}, {:?}; the optimum is {}",
        example.id, cutting.value, cutting.bound, cutting.proof, example.optimum
    ))
}

#[test]
fn every_example_is_proven_at_its_optimum() {
    let wrong: Vec<String> = EXAMPLES
        .iter()
        .filter_map(|example| check(example).err())
        .collect();
    assert!(
        wrong.is_empty(),
        "{} of {} examples:\n{}",
        wrong.len(),
        EXAMPLES.len(),
        wrong.join("\n")
    );
}

/// With one length to buy, the fewest bars are the least length.
#[test]
fn counting_bars_and_adding_up_their_length_agree() {
    let mut compared = 0;
    let mut wrong = Vec::new();
    for example in &EXAMPLES {
        if example.objective != Objective::Count {
            continue;
        }
        let job = example.job_without_prices();
        let [material] = job.materials() else {
            panic!("{}: one material was asked for", example.id)
        };
        let [bar] = material.bars() else {
            panic!("{}: one bar length was asked for", example.id)
        };
        let optimum = i128::from(bar.length().nm()) * i128::from(example.optimum);
        wrong.extend(compare(example, answer(&job).cutting(), optimum).err());
        compared += 1;
    }
    assert_eq!(compared, 18);
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Of the values that were seen or are remembered, one is not the least there is: the manual buys
/// one standard length only.
#[test]
fn printed_values_are_the_optima_but_for_one() {
    let mut compared = 0;
    let mut above = Vec::new();
    for example in &EXAMPLES {
        if let Printed::Seen(value) | Printed::FromMemory(value) = example.printed {
            compared += 1;
            if value != example.optimum {
                above.push((example.id, value, example.optimum));
            }
        }
    }
    assert_eq!(compared, 12);
    assert_eq!(above, [("army-9x3ft", 30, 28)]);
}

#[test]
fn all_examples_are_there_once() {
    let ids: BTreeSet<&str> = EXAMPLES.iter().map(|example| example.id).collect();
    assert_eq!(ids.len(), 23);
    let halves = EXAMPLES
        .iter()
        .find(|example| example.id == "xpress-paper94")
        .map(|example| example.job());
    // 22.5 in are 571.5 mm, exactly.
    let lengths: Vec<i64> = halves
        .iter()
        .flat_map(|job| job.materials())
        .flat_map(|material| material.pieces())
        .map(|piece| piece.length().nm())
        .collect();
    assert!(lengths.contains(&571_500_000));
}
