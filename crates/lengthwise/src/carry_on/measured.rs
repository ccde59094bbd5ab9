//! Openings that were measured anew.

use std::collections::HashMap;

use super::Measured;
use super::pieces::{Pieces, Remark, Slot, State, shape_of};
use crate::fault::{Fault, FaultKind, Origin};
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

    /// What was measured otherwise before.
    fn twice(&self, first: &Measured) -> Fault {
        let Origin { source, line } = &first.origin;
        let found = format!(
            "{} measured twice, also in line {line} of {source}",
            self.mark
        );
        self.fault("mark", found, "each measure of a piece once")
    }

    /// Whether something is said in both, and not the same.
    fn contradicts(&self, other: &Measured) -> bool {
        fn differ<T: PartialEq>(one: Option<T>, other: Option<T>) -> bool {
            one.zip(other).is_some_and(|(one, other)| one != other)
        }
        let length = |one: &Measured| one.length.map(|length| length.length);
        differ(length(self), length(other))
            || differ(self.end_gap, other.end_gap)
            || differ(self.leave_long, other.leave_long)
    }

    /// Both together, where they do not contradict each other.
    fn with(self, more: &Measured) -> Measured {
        Measured {
            length: self.length.or(more.length),
            end_gap: self.end_gap.or(more.end_gap),
            leave_long: self.leave_long.or(more.leave_long),
            ..self
        }
    }
}

/// What was measured of a row goes before what was measured of one of its pieces, in whichever order it is said.
pub(super) fn apply(pieces: &mut Pieces, measured: &[Measured], faults: &mut Vec<Fault>) {
    if measured.is_empty() {
        return;
    }
    let marked = Marked::of(pieces);
    let (mut of_rows, mut of_pieces) = (Vec::new(), Vec::new());
    for one in together(measured, faults) {
        match meant(pieces, &marked, &one) {
            Ok((meant, true)) => of_rows.push((one, meant)),
            Ok((meant, false)) => of_pieces.push((one, meant)),
            Err(fault) => faults.push(fault),
        }
    }
    for all in [of_rows, of_pieces] {
        // The same piece may be meant with its material named and without.
        let mut known: HashMap<Slot, &Measured> = HashMap::new();
        for (one, meant) in &all {
            let first = meant.slots().find_map(|slot| known.get(&slot).copied());
            let done = match first.filter(|first| one.contradicts(first)) {
                Some(first) => Err(one.twice(first)),
                None => apply_one(pieces, meant, one),
            };
            known.extend(meant.slots().map(|slot| (slot, one)));
            faults.extend(done.err());
        }
    }
}

/// What was measured of each mark in one, at the place of the first.
fn together(measured: &[Measured], faults: &mut Vec<Fault>) -> Vec<Measured> {
    let mut all: Vec<Measured> = Vec::new();
    let mut places: HashMap<(&str, Option<String>), usize> = HashMap::new();
    for one in measured {
        let material = one.material.as_deref().map(name_key);
        let at = *places.entry((&one.mark, material)).or_insert(all.len());
        match all.get_mut(at) {
            None => all.push(one.clone()),
            Some(first) if one.contradicts(first) => faults.push(one.twice(first)),
            Some(first) => *first = first.clone().with(one),
        }
    }
    all
}

/// The places of pieces and of runs by a mark.
#[derive(Default)]
struct Places {
    pieces: Vec<usize>,
    runs: Vec<usize>,
}

impl Places {
    fn slots(&self) -> impl Iterator<Item = Slot> {
        let pieces = self.pieces.iter().map(|&at| Slot::Piece(at));
        pieces.chain(self.runs.iter().map(|&at| Slot::Run(at)))
    }
}

/// What there is of each mark.
struct Marked {
    /// By their own marks.
    own: HashMap<String, Places>,
    /// By those of their rows; no parts of runs.
    of_row: HashMap<String, Places>,
}

impl Marked {
    fn of(pieces: &Pieces) -> Marked {
        let mut own: HashMap<String, Places> = HashMap::new();
        let mut of_row: HashMap<String, Places> = HashMap::new();
        for (at, piece) in pieces.all.iter().enumerate() {
            let by_mark = own.entry(piece.mark().to_owned()).or_default();
            by_mark.pieces.push(at);
            if let (Some((_, mark)), None) = (&piece.from, &piece.part) {
                of_row.entry(mark.clone()).or_default().pieces.push(at);
            }
        }
        for (at, run) in pieces.runs.iter().enumerate() {
            own.entry(run.row.mark.clone()).or_default().runs.push(at);
            of_row.entry(run.from.1.clone()).or_default().runs.push(at);
        }
        Marked { own, of_row }
    }
}

fn apply_one(pieces: &mut Pieces, meant: &Places, one: &Measured) -> Result<(), Fault> {
    for &at in &meant.runs {
        measure_run(pieces, at, one)?;
    }
    for &at in &meant.pieces {
        measure_piece(pieces, at, one)?;
    }
    Ok(())
}

/// The pieces and runs with a mark of their own, or else those of a row with this mark, and which of both.
fn meant(pieces: &Pieces, marked: &Marked, one: &Measured) -> Result<(Places, bool), Fault> {
    let name = one.material.as_deref().map(name_key);
    let is_of = |material: &str| name.as_ref().is_none_or(|name| *name == name_key(material));
    let is_there = |at: &usize| {
        let piece = pieces.all.get(*at);
        piece.is_some_and(|piece| {
            !matches!(piece.state, State::Gone | State::UsedUp) && is_of(&piece.material)
        })
    };
    let is_left = |at: &usize| {
        let run = pieces.runs.get(*at);
        run.is_some_and(|run| !pieces.is_used_up(run) && is_of(&run.material))
    };
    let of = |by: &HashMap<String, Places>| {
        let places = by.get(&one.mark);
        let of_pieces = places.map_or(&[][..], |places| &places.pieces);
        let of_runs = places.map_or(&[][..], |places| &places.runs);
        Places {
            pieces: of_pieces.iter().copied().filter(is_there).collect(),
            runs: of_runs.iter().copied().filter(is_left).collect(),
        }
    };
    let mut meant = of(&marked.own);
    // A run that is left whole has one part, under the mark of the run.
    if !meant.runs.is_empty() {
        meant.pieces.clear();
    }
    let by_row = meant.pieces.is_empty() && meant.runs.is_empty();
    if by_row {
        meant = of(&marked.of_row);
    }
    check_meant(pieces, one, &meant, by_row)?;
    Ok((meant, by_row))
}

fn check_meant(pieces: &Pieces, one: &Measured, meant: &Places, by_row: bool) -> Result<(), Fault> {
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
