//! The batches of walls, and values that name what they count.

use lengthwise::plan::{Claim, Value, WallBatch, WallBatches};

use super::fields::At;
use crate::json::read_back::cells::Cells;

/// Money or bought length.
pub fn value(at: &At<'_>, cells: &mut Cells) -> Option<Value> {
    if let Some(cost) = at.get_some("cost", cells) {
        return cost.amount(cells).map(Value::Money);
    }
    at.get("bought_mm", cells)?.mm(cells).map(Value::Bought)
}

/// From which batch each wall comes; the inner `None` where there was no choice.
pub fn walls(at: &At<'_>, cells: &mut Cells) -> Option<Option<WallBatches>> {
    if !at.has("walls") {
        return Some(None);
    }
    let at = at.get("walls", cells)?;
    let mut walls = Vec::new();
    for of in at.get("batches", cells)?.items(cells) {
        walls.push(WallBatch {
            wall: of.get("wall", cells)?.text(cells)?.to_owned(),
            batch: of.get("batch", cells)?.text(cells)?.to_owned(),
        });
    }
    let bound = at.get("without_bound", cells)?;
    let without = Claim {
        found: value(&at.get("without", cells)?, cells)?,
        bound: match bound.is_null() {
            true => None,
            false => Some(value(&bound, cells)?),
        },
    };
    Some(Some(WallBatches { walls, without }))
}
