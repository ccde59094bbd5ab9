//! Readers, and the whole path from bytes to a verified plan, as targets for attacks: each takes any bytes.
//!
//! They panic where something is wrong: a value that is printed and read back as another one, a fault
//! outside its file, a plan that does not hold. The tests drive them with a seeded mutator, `tests/fuzz` with
//! libFuzzer. A finding becomes a test with a name of its own in `attacks/findings.rs`.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, dead_code)]

mod carried;
mod cells;
mod compared;
#[cfg(test)]
mod composed;
#[cfg(test)]
mod findings;
#[cfg(test)]
mod mutate;
mod plans;
#[cfg(test)]
mod run;
mod tables;
mod whole;

use std::sync::Arc;
use std::time::{Duration, Instant};

use lengthwise::{Fault, Origin, Reading, Unit};

/// A target and what it is called.
pub struct Target {
    /// What it is called.
    pub name: &'static str,
    /// Bears any bytes, and panics where what comes of them is wrong.
    pub attack: fn(&[u8]),
    /// Inputs to begin with.
    pub corpus: fn() -> Vec<Vec<u8>>,
    /// How often it is run in the slice for every day.
    pub runs: u64,
}

/// Every target.
pub const TARGETS: [Target; 13] = [
    Target {
        name: "length",
        attack: cells::length,
        corpus: cells::lengths,
        runs: 20_000,
    },
    Target {
        name: "price",
        attack: cells::price,
        corpus: cells::prices,
        runs: 20_000,
    },
    Target {
        name: "qty",
        attack: cells::quantity,
        corpus: cells::quantities,
        runs: 20_000,
    },
    Target {
        name: "joints",
        attack: cells::joints,
        corpus: cells::all_joints,
        runs: 20_000,
    },
    Target {
        name: "other_cells",
        attack: cells::others,
        corpus: cells::all_others,
        runs: 20_000,
    },
    Target {
        name: "pieces_csv",
        attack: tables::pieces,
        corpus: tables::all_pieces,
        runs: 2_000,
    },
    Target {
        name: "stock_csv",
        attack: tables::stock,
        corpus: tables::all_stock,
        runs: 2_000,
    },
    Target {
        name: "in_hand_csv",
        attack: tables::in_hand,
        corpus: tables::all_in_hand,
        runs: 2_000,
    },
    Target {
        name: "measured_csv",
        attack: plans::measured,
        corpus: plans::all_measured,
        runs: 1_000,
    },
    Target {
        name: "notes",
        attack: plans::notes,
        corpus: plans::all_notes,
        runs: 1_000,
    },
    Target {
        name: "plan_json",
        attack: plans::plan_json,
        corpus: plans::all_plans,
        runs: 1_000,
    },
    Target {
        name: "ask",
        attack: whole::ask,
        corpus: whole::questions,
        runs: 300,
    },
    Target {
        name: "whole_path",
        attack: whole::path,
        corpus: whole::jobs,
        runs: 150,
    },
];

/// The target with this name.
///
/// # Panics
/// Where there is none.
pub fn target(name: &str) -> &'static Target {
    let target = TARGETS.iter().find(|target| target.name == name);
    target.expect("a target of that name")
}

/// The first byte says how bare numbers are read, the others are the text.
fn reading_and_text(bytes: &[u8]) -> (Reading, String) {
    let (&first, rest) = bytes.split_first().unwrap_or((&0, &[]));
    let units = [Unit::Mm, Unit::Cm, Unit::M, Unit::In, Unit::Ft];
    let reading = Reading {
        unit: units[usize::from(first % 5)],
        decimal_comma: first % 16 >= 8,
        thousands: first % 32 >= 16,
    };
    (reading, String::from_utf8_lossy(rest).into_owned())
}

/// Texts as inputs for [`reading_and_text`], in millimetres, in inches, and in centimetres where thousands may be
/// marked.
fn with_readings(texts: &[&str]) -> Vec<Vec<u8>> {
    let input = |first: u8, text: &str| [&[first], text.as_bytes()].concat();
    let all = texts
        .iter()
        .map(|text| [0, 3, 16].map(|first| input(first, text)));
    all.flatten().collect()
}

/// A second by the clock in place of work where `ATTACKS_BY_CLOCK=1` is in the environment: answers are not the same
/// twice then, and a busy machine is not for it.
fn clock() -> Option<Duration> {
    std::env::var_os("ATTACKS_BY_CLOCK").map(|_| Duration::from_secs(1))
}

/// Looks at the clock where it is the limit: reading, checking and writing go on behind it, and a step that was
/// begun is ended.
fn in_time<T>(plan: impl FnOnce() -> T) -> T {
    let begun = Instant::now();
    let planned = plan();
    let late = clock().and_then(|limit| begun.elapsed().checked_sub(limit));
    assert!(late.is_none_or(|late| late < LATEST), "{late:?} late");
    planned
}

/// How much later than its limit by the clock a plan may come.
const LATEST: Duration = Duration::from_secs(4);

/// What a plan.json may ask for unless told otherwise.
fn usual() -> lengthwise::job::Ceilings {
    crate::ceilings::Ceilings::default().of_plan()
}

fn origin() -> Origin {
    Origin {
        source: Arc::from("attack"),
        line: 0,
    }
}

/// Whether the faults can be shown: each on a line that there is, in words of bounded length that do not
/// break out of their line.
fn are_sound(faults: &[Fault], text: &[u8]) {
    let lines = 1 + text
        .iter()
        .filter(|byte| matches!(byte, b'\n' | b'\r'))
        .count();
    for fault in faults {
        let line = fault.origin.as_ref().map_or(0, |origin| origin.line);
        assert!(line <= lines as u64, "{fault:?} of {lines} lines");
        assert!(
            !fault.found.is_empty() && !fault.accepted.is_empty(),
            "{fault:?}"
        );
        let shown = fault.to_string();
        assert!(!shown.chars().any(char::is_control), "{shown:?}");
        assert!(shown.len() <= 4_000, "{} bytes: {shown}", shown.len());
    }
}
