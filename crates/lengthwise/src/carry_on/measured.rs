//! Openings that were measured anew.

use std::borrow::Cow;
use std::collections::hash_map::Entry;
use std::collections::{BTreeMap, HashMap, HashSet};

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

/// Takes over what was measured, once for each piece.
pub(super) fn apply(pieces: &mut Pieces, measured: &[Measured], faults: &mut Vec<Fault>) {
    if measured.is_empty() {
        return;
    }
    let all = together(measured, faults);
    let said = of_each(pieces, &all, faults);
    // What is said of a row may be wrong for many of its pieces: the first tells.
    let mut told = HashSet::new();
    for (slot, one) in said {
        let done = match slot {
            Slot::Run(at) => measure_run(pieces, at, &one),
            Slot::Piece(at) => measure_piece(pieces, at, &one),
        };
        faults.extend(done.err().filter(|fault| told.insert(fault.origin.clone())));
    }
}

/// What was measured of each piece: field by field what is said of itself, else what is said of its row, in
/// whichever order it is said.
fn of_each<'m>(
    pieces: &Pieces,
    all: &'m [Measured],
    faults: &mut Vec<Fault>,
) -> Vec<(Slot, Cow<'m, Measured>)> {
    let marked = Marked::of(pieces);
    let (mut of_rows, mut of_pieces) = (OfSlots::default(), OfSlots::default());
    for one in all {
        let added = meant(pieces, &marked, one).and_then(|(meant, by_row)| {
            let same_kind = if by_row { &mut of_rows } else { &mut of_pieces };
            same_kind.add(&meant, one)
        });
        faults.extend(added.err());
    }
    of_pieces.before(of_rows)
}

/// What was measured of pieces and runs, in the order in which they were said.
#[derive(Default)]
struct OfSlots<'m> {
    order: Vec<Slot>,
    said: HashMap<Slot, Cow<'m, Measured>>,
}

impl<'m> OfSlots<'m> {
    /// The same piece may be meant with its material named and without.
    fn add(&mut self, meant: &Places, one: &'m Measured) -> Result<(), Fault> {
        let mut before = meant.slots().filter_map(|slot| self.said.get(&slot));
        if let Some(first) = before.find(|first| one.contradicts(first)) {
            return Err(one.twice(first));
        }
        for slot in meant.slots() {
            match self.said.entry(slot) {
                Entry::Vacant(new) => {
                    self.order.push(slot);
                    new.insert(Cow::Borrowed(one));
                }
                Entry::Occupied(mut first) => {
                    let both = first.get().clone().into_owned().with(one);
                    first.insert(Cow::Owned(both));
                }
            }
        }
        Ok(())
    }

    /// All that was said, this before that of the rows.
    fn before(mut self, of_rows: OfSlots<'m>) -> Vec<(Slot, Cow<'m, Measured>)> {
        let OfSlots { order, mut said } = of_rows;
        let mut all = Vec::with_capacity(order.len());
        for slot in order {
            let of_row = said.remove(&slot);
            let both = match (self.said.remove(&slot), of_row) {
                (Some(own), Some(row)) => Some(Cow::Owned(own.into_owned().with(&row))),
                (own, row) => own.or(row),
            };
            all.extend(both.map(|both| (slot, both)));
        }
        let of_pieces = self.order.into_iter();
        all.extend(of_pieces.filter_map(|slot| Some((slot, self.said.remove(&slot)?))));
        all
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

    fn is_empty(&self) -> bool {
        self.pieces.is_empty() && self.runs.is_empty()
    }
}

/// Places by marks, and of each mark by the keys of the materials.
#[derive(Default)]
struct ByMark(HashMap<String, BTreeMap<String, Places>>);

impl ByMark {
    fn of(&mut self, mark: &str, material: &str) -> &mut Places {
        let of_mark = self.0.entry(mark.to_owned()).or_default();
        of_mark.entry(name_key(material)).or_default()
    }

    /// The places with a mark, of one material or of all.
    fn find<'b>(
        &'b self,
        mark: &str,
        material: Option<&'b str>,
    ) -> impl Iterator<Item = &'b Places> + use<'b> {
        let of_mark = self.0.get(mark);
        let of_all = of_mark.filter(|_| material.is_none());
        let of_one = of_mark.zip(material).and_then(|(all, name)| all.get(name));
        of_all.into_iter().flat_map(BTreeMap::values).chain(of_one)
    }
}

/// What there is of each mark.
#[derive(Default)]
struct Marked {
    /// By their own marks.
    own: ByMark,
    /// By those of their rows; no parts of runs.
    of_row: ByMark,
    /// By those of the rows that they are named after; no parts of runs. In a plan that was carried on every piece is
    /// a row of its own.
    of_family: ByMark,
}

impl Marked {
    fn of(pieces: &Pieces) -> Marked {
        let mut marked = Marked::default();
        for (at, piece) in pieces.all.iter().enumerate() {
            let (mark, material) = (piece.mark(), piece.material.as_str());
            marked.own.of(mark, material).pieces.push(at);
            if piece.part.is_some() {
                continue;
            }
            if let Some((_, row)) = &piece.from {
                marked.of_row.of(row, material).pieces.push(at);
            }
            let of_family = marked.of_family.of(&piece.family, material);
            of_family.pieces.push(at);
        }
        for (at, run) in pieces.runs.iter().enumerate() {
            let (mark, material) = (run.row.mark.as_str(), run.material.as_str());
            marked.own.of(mark, material).runs.push(at);
            marked.of_row.of(&run.from.1, material).runs.push(at);
            marked.of_family.of(&run.family, material).runs.push(at);
        }
        marked
    }
}

/// The pieces and runs with a mark of their own, or else those of a row with this mark, and which of both. Where
/// nothing has it, it is that of a row whose pieces are rows of their own by now.
fn meant(pieces: &Pieces, marked: &Marked, one: &Measured) -> Result<(Places, bool), Fault> {
    let name = one.material.as_deref().map(name_key);
    let of = |by: &ByMark| {
        let mut there = Places::default();
        for places in by.find(&one.mark, name.as_deref()) {
            let of_pieces = places.pieces.iter().copied();
            there
                .pieces
                .extend(of_pieces.filter(|&at| is_there(pieces, at)));
            let of_runs = places.runs.iter().copied();
            there.runs.extend(of_runs.filter(|&at| is_left(pieces, at)));
        }
        there
    };
    let mut meant = of(&marked.own);
    // A run that is left whole has one part, under the mark of the run.
    if !meant.runs.is_empty() {
        meant.pieces.clear();
    }
    let by_row = meant.is_empty();
    if by_row {
        let mut known = [&marked.own, &marked.of_row].into_iter();
        let is_known = known.any(|by| by.find(&one.mark, name.as_deref()).next().is_some());
        meant = of(if is_known {
            &marked.of_row
        } else {
            &marked.of_family
        });
    }
    check_meant(pieces, one, &meant, by_row)?;
    Ok((meant, by_row))
}

fn is_there(pieces: &Pieces, at: usize) -> bool {
    let piece = pieces.all.get(at);
    piece.is_some_and(|piece| !matches!(piece.state, State::Gone | State::UsedUp))
}

fn is_left(pieces: &Pieces, at: usize) -> bool {
    let run = pieces.runs.get(at);
    run.is_some_and(|run| !pieces.is_used_up(run))
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
