//! Openings that were measured anew.

use super::Measured;
use super::pieces::{Pieces, Remark, State, shape_of};
use crate::fault::{Fault, FaultKind};
use crate::job::{PieceRow, name_key};

impl Measured {
    fn fault(&self, column: &str, found: impl Into<String>, accepted: impl Into<String>) -> Fault {
        Fault {
            kind: FaultKind::Value,
            origin: Some(self.origin.clone()),
            column: Some(column.to_owned()),
            found: found.into(),
            accepted: accepted.into(),
        }
    }

    /// A row with what was measured.
    fn on(&self, row: &PieceRow) -> PieceRow {
        PieceRow {
            origin: self.origin.clone(),
            length: self.length.unwrap_or(row.length),
            end_gap: self.end_gap.unwrap_or(row.end_gap),
            leave_long: self.leave_long.or(row.leave_long),
            ..row.clone()
        }
    }

    fn is_of(&self, material: &str) -> bool {
        let name = self.material.as_deref().map(name_key);
        name.is_none_or(|name| name == name_key(material))
    }
}

pub(super) fn apply(pieces: &mut Pieces, measured: &[Measured], faults: &mut Vec<Fault>) {
    for one in measured {
        if let Err(fault) = apply_one(pieces, one) {
            faults.push(fault);
        }
    }
}

/// What a mark stands for.
struct Meant {
    pieces: Vec<usize>,
    runs: Vec<usize>,
}

fn apply_one(pieces: &mut Pieces, one: &Measured) -> Result<(), Fault> {
    let meant = meant(pieces, one)?;
    for at in meant.runs {
        measure_run(pieces, at, one)?;
    }
    for at in meant.pieces {
        measure_piece(pieces, at, one)?;
    }
    Ok(())
}

/// The pieces and runs with a mark of their own, or else those of a row with this mark.
fn meant(pieces: &Pieces, one: &Measured) -> Result<Meant, Fault> {
    let is_row = |from: Option<&(usize, String)>| from.is_some_and(|(_, mark)| *mark == one.mark);
    let of = |by_row: bool| {
        let of_pieces = pieces.all.iter().enumerate().filter(|(_, piece)| {
            let is_meant = if by_row {
                piece.part.is_none() && is_row(piece.from.as_ref())
            } else {
                piece.mark() == one.mark
            };
            let is_there = !matches!(piece.state, State::Gone | State::UsedUp);
            is_meant && one.is_of(&piece.material) && is_there
        });
        let of_runs = pieces.runs.iter().enumerate().filter(|(_, run)| {
            let is_meant = if by_row {
                is_row(Some(&run.from))
            } else {
                run.row.mark == one.mark
            };
            is_meant && one.is_of(&run.material) && !pieces.is_used_up(run)
        });
        Meant {
            pieces: of_pieces.map(|(at, _)| at).collect(),
            runs: of_runs.map(|(at, _)| at).collect(),
        }
    };
    let mut meant = of(false);
    // A run that is left whole has one part, under the mark of the run.
    if !meant.runs.is_empty() {
        meant.pieces.clear();
    }
    let by_row = meant.pieces.is_empty() && meant.runs.is_empty();
    if by_row {
        meant = of(true);
    }
    check_meant(pieces, one, &meant, by_row)?;
    Ok(meant)
}

fn check_meant(pieces: &Pieces, one: &Measured, meant: &Meant, by_row: bool) -> Result<(), Fault> {
    let of_pieces = meant.pieces.iter().filter_map(|&at| pieces.all.get(at));
    let rows = of_pieces.map(|piece| (&piece.material, &piece.row));
    let of_runs = meant.runs.iter().filter_map(|&at| pieces.runs.get(at));
    let rows: Vec<_> = rows
        .chain(of_runs.map(|run| (&run.material, &run.row)))
        .collect();
    let mark = &one.mark;
    let Some((material, first)) = rows.first() else {
        let found = format!("the mark \"{mark}\", which the plan does not have");
        let accepted = "the mark of a piece, or of a row, of the plan";
        return Err(one.fault("mark", found, accepted));
    };
    if rows.iter().any(|(other, _)| other != material) {
        let found = format!("\"{mark}\", which pieces of several materials are called");
        return Err(one.fault("mark", found, "the material as well"));
    }
    let openings_differ = rows
        .iter()
        .any(|(_, row)| row.length.length != first.length.length);
    if by_row && one.length.is_some() && openings_differ {
        let found = format!("one length for all pieces of \"{mark}\", which differ");
        let accepted = format!("each by its own mark, such as {}", first.mark);
        return Err(one.fault("mark", found, accepted));
    }
    Ok(())
}

/// A run of which nothing is cut may be joined in another way then.
fn measure_run(pieces: &mut Pieces, at: usize, one: &Measured) -> Result<(), Fault> {
    let Some(run) = pieces.runs.get(at) else {
        return Ok(());
    };
    let mark = run.row.mark.clone();
    if !pieces.is_free(run) {
        if let [only] = run.parts.as_slice() {
            return measure_piece(pieces, *only, one);
        }
        let found = format!("the run {mark}, of which a part is cut already");
        let accepted = format!("the parts that are not cut, by their own marks, such as {mark}.2");
        return Err(one.fault("mark", found, accepted));
    }
    let row = one.on(&run.row);
    let origin = run.row.origin.clone();
    let is_as_it_was = PieceRow {
        origin,
        ..row.clone()
    } == run.row;
    if is_as_it_was {
        return Ok(());
    }
    let parts = run.parts.clone();
    if let Some(run) = pieces.runs.get_mut(at) {
        run.row = row;
        run.parts.clear();
    }
    for part in parts {
        if let Some(part) = pieces.all.get_mut(part) {
            part.state = State::Gone;
        }
    }
    Ok(())
}

fn measure_piece(pieces: &mut Pieces, at: usize, one: &Measured) -> Result<(), Fault> {
    let Some(piece) = pieces.all.get(at) else {
        return Ok(());
    };
    let mark = piece.mark().to_owned();
    if let Some((_, run)) = &piece.part
        && let Some(run) = pieces.runs.get(*run).filter(|run| pieces.is_free(run))
    {
        let found = format!("{mark}, a part of the run {}", run.row.mark);
        let accepted = "the run as a whole, as long as nothing of it is cut";
        return Err(one.fault("mark", found, accepted));
    }
    let row = one.on(&piece.row);
    let unit = row.length.unit;
    let Some(shape) = shape_of(&row) else {
        let (near, far) = (row.end_gap.near.text(unit), row.end_gap.far.text(unit));
        let found = format!("{near}/{far} off an opening of {}", row.length);
        let accepted = "gaps that leave something of the opening";
        return Err(one.fault("end_gap", found, accepted));
    };
    if piece.is_to_do() {
        if let Some(piece) = pieces.all.get_mut(at) {
            piece.row = row;
            piece.shape = shape;
        }
        return Ok(());
    }
    // It is cut: what is left long is of no use any more.
    let needed = shape_of(&PieceRow {
        leave_long: None,
        ..row
    });
    let needed = needed.map_or(shape.length, |shape| shape.length);
    let cut = piece.shape.length;
    if needed > cut {
        let found = format!(
            "{} for {mark}, which is cut already at {}",
            needed.text(unit),
            cut.text(unit)
        );
        let accepted =
            format!("no more than it was cut at; or spoiled {mark}, and it is cut again");
        return Err(one.fault("length", found, accepted));
    }
    if let Some(by) = cut.checked_sub(needed).filter(|by| !by.is_zero()) {
        let piece = mark;
        pieces.remarks.push(Remark::Trim { piece, by, unit });
    }
    Ok(())
}
