//! Names for every copy of a piece, no two of one material alike.

use std::collections::{HashMap, HashSet};

use super::{Course, Piece, PieceRow, Run};
use crate::length::Length;

/// Fewest digits of a copy's number.
pub(crate) const FEWEST_DIGITS: usize = 2;

/// A mark as it stands on its rows.
#[derive(Default)]
struct Base {
    /// Copies over all rows with this mark.
    total: u64,
    /// Numbers given so far.
    given: u64,
    /// Digits of the numbers.
    width: usize,
}

/// A row and the openings it stands for, in the order of their numbers: how long, how many.
pub(super) struct Expanded<'a> {
    pub row: &'a PieceRow,
    pub openings: Vec<(Length, u64)>,
}

impl Expanded<'_> {
    /// How many pieces, spares left out.
    pub fn count(&self) -> u64 {
        let counts = self.openings.iter().map(|(_, count)| *count);
        counts.fold(0, u64::saturating_add)
    }
}

/// Pieces on their way to a name.
struct Unnamed<'a> {
    place: usize,
    mark: String,
    row: &'a PieceRow,
    opening: Length,
    qty: u64,
    /// Pieces of the row before these.
    before: u64,
    spare: bool,
}

impl Run {
    /// The rules of a row for some of its pieces; a spare lies in no course.
    fn of(mut self, pieces: &Unnamed<'_>) -> Run {
        self.course = self.course.filter(|_| !pieces.spare).map(|course| Course {
            first: course.first.saturating_add(pieces.before),
            ..course
        });
        self
    }
}

/// The pieces of a material: the mark itself where it stands once, numbered where it stands often.
///
/// A mark that is written out wins over a number that is made: where `F` stands twice and a third
/// piece is marked `F-01`, the two become `F-001` and `F-002`.
pub(super) fn named(rows: &[Expanded<'_>], runs: &[Option<Run>]) -> Vec<Piece> {
    let unnamed = unnamed(rows);
    let mut bases: HashMap<&str, Base> = HashMap::new();
    for pieces in &unnamed {
        let base = bases.entry(&pieces.mark).or_default();
        base.total = base.total.saturating_add(pieces.qty);
    }
    set_widths(&mut bases);
    // A spare is kept until everything is up.
    let last_stage = rows.iter().map(|expanded| expanded.row.stage).max();
    let last_stage = last_stage.unwrap_or(1);
    let mut named = Vec::with_capacity(unnamed.len());
    for pieces in &unnamed {
        let base = bases.entry(&pieces.mark).or_default();
        let first = base.given.saturating_add(1);
        base.given = base.given.saturating_add(pieces.qty);
        let row = pieces.row;
        named.push(Piece {
            row: pieces.place,
            mark: pieces.mark.clone(),
            first_number: (base.total > 1).then_some(first),
            number_width: base.width,
            opening: pieces.opening,
            end_gap: row.end_gap,
            // Checked beside the rows; a job with such a fault goes no further.
            leave_long: row.leave_long.unwrap_or(Length::ZERO),
            length: pieces
                .opening
                .checked_sub(row.end_gap.total())
                .and_then(|left| left.checked_add(row.leave_long.unwrap_or(Length::ZERO)))
                .unwrap_or(Length::ZERO),
            ends: row.ends,
            qty: pieces.qty,
            spare: pieces.spare,
            for_bar: row.spares_only && row.for_bar,
            run: runs
                .get(pieces.place)
                .cloned()
                .flatten()
                .map(|run| run.of(pieces)),
            stage: if pieces.spare { last_stage } else { row.stage },
            wall: row.wall.clone(),
            batch: None,
            asked_batch: None,
            note: row.note.clone(),
            origin: row.origin.clone(),
        });
    }
    named
}

/// The number of the first of so many copies, if they are numbered, and the digits of their numbers.
pub(super) fn numbers(copies: u64) -> (Option<u64>, usize) {
    let width = copies.to_string().len().max(FEWEST_DIGITS);
    ((copies > 1).then_some(1), width)
}

/// Every row's pieces in their order, then its spares, which copy the longest of them.
fn unnamed<'a>(rows: &[Expanded<'a>]) -> Vec<Unnamed<'a>> {
    let marks = marks(rows);
    let spares = spare_marks(rows, &marks);
    let mut unnamed = Vec::new();
    let both = marks.iter().zip(&spares);
    for (place, (expanded, (mark, spare))) in rows.iter().zip(both).enumerate() {
        let row = expanded.row;
        let mut before: u64 = 0;
        let mut all = |mark: &str, opening, qty, spare| {
            let unnamed = Unnamed {
                place,
                mark: mark.to_owned(),
                row,
                opening,
                qty,
                before,
                spare,
            };
            // Rows out of range are named too: a fault stops them later.
            before = before.saturating_add(qty);
            unnamed
        };
        let openings = expanded.openings.iter();
        unnamed.extend(openings.map(|&(opening, qty)| all(mark, opening, qty, row.spares_only)));
        let longest = expanded.openings.iter().map(|(opening, _)| *opening).max();
        if let Some(longest) = longest.filter(|_| row.spare > 0) {
            unnamed.push(all(spare, longest, row.spare, true));
        }
    }
    unnamed
}

/// A mark for the spares of each row, none of them the mark of another row; empty where a row has no spares.
fn spare_marks(rows: &[Expanded<'_>], marks: &[String]) -> Vec<String> {
    let taken: HashSet<&str> = marks.iter().map(String::as_str).collect();
    let mut known: HashMap<&str, String> = HashMap::new();
    let both = rows.iter().zip(marks);
    let spares = both.map(|(expanded, mark)| {
        if expanded.row.spare == 0 {
            return String::new();
        }
        let spare = || aside(format!("{mark}-spare"), &taken);
        known.entry(mark).or_insert_with(spare).clone()
    });
    spares.collect()
}

/// The marks as written; for rows without one, a mark made from the place of the row.
fn marks(rows: &[Expanded<'_>]) -> Vec<String> {
    let rows = rows.iter().map(|expanded| expanded.row);
    let written: HashSet<&str> = rows.clone().map(|row| row.mark.trim()).collect();
    rows.enumerate()
        .map(|(place, row)| match row.mark.trim() {
            "" => aside(format!("P{}", place + 1), &written),
            mark => mark.to_owned(),
        })
        .collect()
}

/// A mark that is made steps aside for one that is written.
fn aside(mut mark: String, written: &HashSet<&str>) -> String {
    while written.contains(mark.as_str()) {
        mark.push('\'');
    }
    mark
}

/// Gives every mark that is numbered enough digits, and more where a number of that many digits
/// would be the mark of a single piece.
fn set_widths(bases: &mut HashMap<&str, Base>) {
    let mut taken: HashSet<(&str, usize)> = HashSet::new();
    for (&mark, _) in bases.iter().filter(|(_, base)| base.total == 1) {
        if let Some((front, digits)) = mark.rsplit_once('-')
            && digits.bytes().all(|byte| byte.is_ascii_digit())
            && let Ok(number) = digits.parse::<u64>()
            && bases
                .get(front)
                .is_some_and(|base| (1..=base.total).contains(&number))
        {
            taken.insert((front, digits.len()));
        }
    }
    for (mark, base) in bases.iter_mut() {
        base.width = base.total.to_string().len().max(FEWEST_DIGITS);
        while taken.contains(&(mark, base.width)) {
            base.width += 1;
        }
    }
}
