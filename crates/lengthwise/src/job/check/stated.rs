//! What rows of stock state for their whole material: alike on all rows that state it.

use super::{check_length, fault};
use crate::fault::{Fault, FaultKind};
use crate::job::{Expansion, StockRow};
use crate::length::Length;

/// The settings of a material that its stock states.
pub(super) struct Stated {
    pub shortest: Option<Length>,
    pub save_from: Option<Length>,
    pub expansion: Option<Expansion>,
}

/// Reads them off the rows; rows that differ are faults.
pub(super) fn stated(rows: &[&StockRow], faults: &mut Vec<Fault>) -> Stated {
    let shortest = alike(
        rows,
        "shortest",
        |row| row.shortest,
        |shortest, row| shortest.text(row.length.unit),
        faults,
    );
    if let Some((shortest, row)) = shortest {
        check_length(&row.origin, "shortest", shortest, faults);
    }
    let save_from = alike(
        rows,
        "save_from",
        |row| row.save_from,
        |save_from, row| save_from.text(row.length.unit),
        faults,
    );
    let expansion = alike(
        rows,
        "expansion",
        |row| row.expansion,
        |expansion, _| expansion.to_string(),
        faults,
    );
    Stated {
        shortest: shortest.map(|(shortest, _)| shortest),
        save_from: save_from.map(|(save_from, _)| save_from),
        expansion: expansion.map(|(expansion, _)| expansion),
    }
}

/// The first value that is stated, and its row.
fn alike<'a, T: PartialEq + Copy>(
    rows: &[&'a StockRow],
    column: &str,
    of: impl Fn(&StockRow) -> Option<T>,
    text: impl Fn(T, &StockRow) -> String,
    faults: &mut Vec<Fault>,
) -> Option<(T, &'a StockRow)> {
    let mut stated = rows.iter().filter_map(|row| Some((of(row)?, *row)));
    let (value, first) = stated.next()?;
    for (other, row) in stated.filter(|(other, _)| *other != value) {
        let line = first.origin.line;
        let accepted = format!(
            "{}, as in line {line}: one {column} per material",
            text(value, row)
        );
        let found = text(other, row);
        faults.push(fault(
            FaultKind::RowsDiffer,
            &row.origin,
            column,
            found,
            accepted,
        ));
    }
    Some((value, first))
}
