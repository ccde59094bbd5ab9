//! Names for every copy of a piece, no two of one material alike.

use std::collections::{HashMap, HashSet};

use super::{Piece, PieceRow};
use crate::length::Length;

/// Fewest digits of a copy's number.
const FEWEST_DIGITS: usize = 2;

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
    fn count(&self) -> u64 {
        let counts = self.openings.iter().map(|(_, count)| *count);
        counts.fold(0, u64::saturating_add)
    }
}

/// The pieces of a material: the mark itself where it stands once, numbered where it stands often.
///
/// A mark that is written out wins over a number that is made: where `F` stands twice and a third
/// piece is marked `F-01`, the two become `F-001` and `F-002`.
pub(super) fn named(rows: &[Expanded<'_>]) -> Vec<Piece> {
    let marks = marks(rows);
    let mut bases: HashMap<&str, Base> = HashMap::new();
    for (mark, row) in marks.iter().zip(rows) {
        let base = bases.entry(mark).or_default();
        base.total = base.total.saturating_add(row.count());
    }
    set_widths(&mut bases);
    let mut pieces = Vec::with_capacity(marks.len());
    for (mark, expanded) in marks.iter().zip(rows) {
        let base = bases.entry(mark).or_default();
        for &(length, qty) in &expanded.openings {
            let first = base.given.saturating_add(1);
            base.given = base.given.saturating_add(qty);
            pieces.push(Piece {
                mark: mark.clone(),
                first_number: (base.total > 1).then_some(first),
                number_width: base.width,
                length,
                qty,
                note: expanded.row.note.clone(),
                origin: expanded.row.origin.clone(),
            });
        }
    }
    pieces
}

/// The marks as written; for rows without one, a mark made from the place of the row.
fn marks(rows: &[Expanded<'_>]) -> Vec<String> {
    let rows = rows.iter().map(|expanded| expanded.row);
    let written: HashSet<&str> = rows.clone().map(|row| row.mark.trim()).collect();
    rows.enumerate()
        .map(|(place, row)| match row.mark.trim() {
            "" => made_up(place + 1, &written),
            mark => mark.to_owned(),
        })
        .collect()
}

fn made_up(number: usize, written: &HashSet<&str>) -> String {
    let mut mark = format!("P{number}");
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
