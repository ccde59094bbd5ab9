//! Rows of pieces: ranges of their numbers, and the pieces they stand for.

use super::{check_length, fault};
use crate::fault::{Fault, FaultKind};
use crate::job::marks::Expanded;
use crate::job::{EndGap, LARGEST_QUANTITY, LARGEST_STAGE, Note, PieceRow, Quantity, rake};
use crate::length::Length;

/// Ranges that concern one row alone.
pub(super) fn check_row(row: &PieceRow, faults: &mut Vec<Fault>) {
    check_length(&row.origin, "length", row.length.length, faults);
    check_quantity(row, faults);
    check_rake(row, faults);
    if let Some(left) = row
        .leave_long
        .filter(|left| !left.is_zero() && row.joints.is_some())
    {
        let found = format!("{} left long on a run", left.text(row.length.unit));
        let accepted = "leave_long on pieces without joints only";
        faults.push(fault(
            FaultKind::Value,
            &row.origin,
            "leave_long",
            found,
            accepted,
        ));
    }
    let longest = row
        .to
        .map_or(row.length.length, |to| to.length.max(row.length.length));
    let left = row
        .leave_long
        .filter(|left| longest.checked_add(*left).is_none());
    if let Some(left) = left {
        let unit = row.length.unit;
        let found = format!("{} left long on {}", left.text(unit), longest.text(unit));
        let accepted = "lengths below 100 000 km";
        faults.push(fault(
            FaultKind::TooLarge,
            &row.origin,
            "leave_long",
            found,
            accepted,
        ));
    }
    if !(1..=LARGEST_STAGE).contains(&row.stage) {
        let accepted = format!("a whole number from 1 to {LARGEST_STAGE}");
        let found = row.stage.to_string();
        faults.push(fault(
            FaultKind::Range,
            &row.origin,
            "stage",
            found,
            accepted,
        ));
    }
    if row.spare > LARGEST_QUANTITY {
        let accepted = format!("a whole number from 0 to {LARGEST_QUANTITY}");
        let found = row.spare.to_string();
        faults.push(fault(
            FaultKind::Range,
            &row.origin,
            "spare",
            found,
            accepted,
        ));
    }
}

fn check_quantity(row: &PieceRow, faults: &mut Vec<Fault>) {
    let mut push = |found: String, accepted: String| {
        faults.push(fault(FaultKind::Range, &row.origin, "qty", found, accepted));
    };
    if row
        .qty
        .above_zero()
        .iter()
        .any(|part| part.length.is_zero())
    {
        let accepted = "widths above 0, such as 3100/140 or 3100@600";
        push(row.qty.to_string(), accepted.to_owned());
        return;
    }
    let count = row.qty.count();
    if !(1..=LARGEST_QUANTITY).contains(&count) {
        match row.qty {
            Quantity::Count(_) => push(
                count.to_string(),
                format!("a whole number from 1 to {LARGEST_QUANTITY}"),
            ),
            qty => push(
                format!("{qty}, which is {count} pieces"),
                format!("a width of at most {LARGEST_QUANTITY} pieces"),
            ),
        }
    }
}

fn check_rake(row: &PieceRow, faults: &mut Vec<Fault>) {
    if let Some(to) = row.to {
        check_length(&row.origin, "to", to.length, faults);
        if row.qty == Quantity::Count(1) && to.length != row.length.length {
            let found = format!("{to}, and one piece of {}", row.length);
            let accepted = "a qty of at least 2, or a width such as 3100/140, where to differs";
            faults.push(fault(FaultKind::Range, &row.origin, "to", found, accepted));
        }
    }
    if let Some(step) = row.step {
        check_length(&row.origin, "step", step, faults);
        if row.to.is_none() {
            let found = format!("{}, and no to", step.text(row.length.unit));
            let accepted = "a step beside a to only";
            faults.push(fault(
                FaultKind::Value,
                &row.origin,
                "step",
                found,
                accepted,
            ));
        }
    }
}

/// What every row stands for.
pub(super) fn expanded<'a>(
    rows: &[&'a PieceRow],
    faults: &mut Vec<Fault>,
    notes: &mut Vec<Note>,
) -> Vec<Expanded<'a>> {
    let expand = |row: &&'a PieceRow| {
        note_width(row, notes);
        let openings = rake::openings(row).unwrap_or_else(|| {
            let to = row.to.map(|to| to.to_string()).unwrap_or_default();
            let accepted = "lengths below 100 000 km";
            faults.push(fault(FaultKind::TooLarge, &row.origin, "to", to, accepted));
            vec![]
        });
        check_gap(row, &openings, faults);
        Expanded { row, openings }
    };
    rows.iter().map(expand).collect()
}

/// The gaps must leave something of the shortest opening.
fn check_gap(row: &PieceRow, openings: &[(Length, u64)], faults: &mut Vec<Fault>) {
    let shortest = openings.iter().map(|(opening, _)| *opening).min();
    // An opening of nothing is a fault of its own.
    let Some(shortest) = shortest.filter(|shortest| !shortest.is_zero()) else {
        return;
    };
    let left = shortest.checked_sub(row.end_gap.total());
    if left.is_none_or(Length::is_zero) {
        let unit = row.length.unit;
        let EndGap { near, far } = row.end_gap;
        let found = format!(
            "{}/{} off an opening of {}",
            near.text(unit),
            far.text(unit),
            shortest.text(unit)
        );
        let accepted = "gaps that leave something of the opening";
        faults.push(fault(
            FaultKind::Range,
            &row.origin,
            "end_gap",
            found,
            accepted,
        ));
    }
}

fn note_width(row: &PieceRow, notes: &mut Vec<Note>) {
    if row.qty.width().is_none() {
        return;
    }
    let origin = row.origin.clone();
    notes.push(Note::FromWidth {
        origin: origin.clone(),
        qty: row.qty,
    });
    let said = |note: &Note| matches!(note, Note::OpeningsNotDeducted { .. });
    if !notes.iter().any(said) {
        notes.push(Note::OpeningsNotDeducted { origin });
    }
}
