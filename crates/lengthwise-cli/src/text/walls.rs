//! Walls that come from one batch each, as a sentence or two; and the batch of a bar.

use lengthwise::job::{Bar, Material};
use lengthwise::plan::{Cutting, Proof, Value, WallBatch};
use lengthwise::{Length, Unit};

use super::words::{length_gap, price_gap};

/// The sentences; `None` where there was nothing to choose.
pub fn walls(cutting: &Cutting, unit: Unit) -> Option<String> {
    let walls = cutting.walls.as_ref()?;
    let each = walls.walls.iter().map(|WallBatch { wall, batch }| {
        let batch = named(batch);
        format!("{wall} from {batch}")
    });
    let each: Vec<String> = each.collect();
    let without = walls.without;
    let are_proven = cutting.proof == Proof::Optimal && without.is_proven();
    let cost = match (more(cutting.value, without.found, unit), are_proven) {
        (None, true) => "That costs nothing more than walls of several batches would.".to_owned(),
        (None, false) => {
            "No plan was found that would cost less with walls of several batches.".to_owned()
        }
        (Some(more), true) => format!(
            "That takes {more} more than walls of several batches would; both are proved least."
        ),
        (Some(more), false) => format!(
            "That takes {more} more than the best plan that was found with walls of several batches; \
             not all of it is proved."
        ),
    };
    Some(format!(
        "Each wall from one batch: {}. {cost}",
        each.join(", ")
    ))
}

/// A batch within a sentence.
fn named(batch: &str) -> String {
    if batch.is_empty() {
        "bars that name no batch".to_owned()
    } else {
        format!("batch {batch}")
    }
}

/// What a value is above another; `None` where it is not.
fn more(value: Value, other: Value, unit: Unit) -> Option<String> {
    match (value, other) {
        (Value::Money(value), Value::Money(other)) if value > other => {
            Some(price_gap(value, other).to_string())
        }
        (Value::Bought(value), Value::Bought(other)) if value > other => {
            let gap: Length = length_gap(value, other);
            Some(format!("{} of bought length", gap.text(unit)))
        }
        _ => None,
    }
}

/// `, batch B12` behind a bar; nothing where no bar of its material names one.
pub fn batch_of(material: &Material, bar: Option<&Bar>) -> String {
    let batch = bar.map_or("", |bar| material.batch_of(bar));
    match (batch.is_empty(), material.batches().len()) {
        (false, _) => format!(", batch {batch}"),
        (true, 0 | 1) => String::new(),
        (true, _) => ", no batch named".to_owned(),
    }
}
