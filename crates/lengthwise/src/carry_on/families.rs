//! The marks of the rows that pieces are named after.
//!
//! In the first plan of a job every piece knows its row. In one that was carried on each piece is a row of its own,
//! and only the marks tell which of them were copies of one row: their numbers count up from 1, and nothing is called
//! by the mark before the numbers alone.

use std::collections::{BTreeSet, HashMap, HashSet};

use super::pieces::{Piece, Pieces, RunCopy};
use crate::job::FEWEST_DIGITS;

/// What the mark of a spare has behind that of its row.
const ENDING: &str = "-spare";

/// Tells every piece and every run the mark of the row that it is named after.
pub(super) fn tell(pieces: &mut Pieces) {
    let families = Families::of(pieces);
    let of_runs = pieces
        .runs
        .iter()
        .map(|run| families.find(&Named::run(run)));
    let of_runs: Vec<String> = of_runs.collect();
    let of_piece = |piece: &Piece| match &piece.part {
        None => families.find(&Named::piece(piece)),
        // A run of one part is called as its part.
        Some((_, run)) => {
            let run = pieces.runs.get(*run).zip(of_runs.get(*run));
            let run = run.filter(|(run, _)| run.row.mark == piece.row.mark);
            run.map_or_else(|| piece.mark().to_owned(), |(_, family)| family.clone())
        }
    };
    let of_pieces: Vec<String> = pieces.all.iter().map(of_piece).collect();
    for (piece, family) in pieces.all.iter_mut().zip(of_pieces) {
        piece.family = family;
    }
    for (run, family) in pieces.runs.iter_mut().zip(of_runs) {
        run.family = family;
    }
}

/// A piece or a run, by what tells the row that it is named after.
struct Named<'p> {
    material: &'p str,
    mark: &'p str,
    is_spare: bool,
    /// The place of its row, and the mark of that.
    from: Option<(usize, &'p str)>,
}

impl<'p> Named<'p> {
    fn piece(piece: &'p Piece) -> Named<'p> {
        let from = piece.from.as_ref();
        Named {
            material: &piece.material,
            mark: piece.mark(),
            is_spare: piece.is_spare(),
            from: from.map(|(place, mark)| (*place, mark.as_str())),
        }
    }

    fn run(run: &'p RunCopy) -> Named<'p> {
        let (place, mark) = &run.from;
        Named {
            material: &run.material,
            mark: &run.row.mark,
            is_spare: run.row.spares_only,
            from: Some((*place, mark)),
        }
    }
}

/// What is known of the row that something is named after.
enum Row<'p> {
    /// It is a row of the job, with this mark.
    OfJob(&'p str),
    /// The mark of a spare tells it.
    OfSpare(&'p str),
    /// It is called by its own mark, which may be that of a copy.
    Own,
}

/// A material, a mark, and the digits of the numbers behind it.
type Numbers<'p> = (&'p str, &'p str, usize);

/// The rows that all pieces and runs are named after.
struct Families<'p> {
    /// Rows of the job that are not for spares only: by material and place.
    not_for_spares: HashSet<(&'p str, usize)>,
    /// Up to which number copies are there.
    copies: HashMap<Numbers<'p>, u64>,
}

impl<'p> Families<'p> {
    fn of(pieces: &'p Pieces) -> Families<'p> {
        let whole = pieces.all.iter().filter(|piece| piece.part.is_none());
        let all = whole.map(Named::piece);
        let all: Vec<Named<'p>> = all.chain(pieces.runs.iter().map(Named::run)).collect();
        let of_pieces = all.iter().filter(|one| !one.is_spare);
        let rows = of_pieces.filter_map(|one| Some((one.material, one.from?.0)));
        let mut families = Families {
            not_for_spares: rows.collect(),
            copies: HashMap::new(),
        };
        // Marks before which or of which no number is that of a copy.
        let (mut not_before, mut not_with) = (HashSet::new(), HashSet::new());
        let mut own = Vec::new();
        for one in &all {
            let material = one.material;
            match families.row(one) {
                Row::OfJob(row) => {
                    not_before.insert((material, row));
                    if one.is_spare {
                        not_with.insert((material, row));
                    }
                }
                Row::OfSpare(row) => {
                    not_with.insert((material, row));
                }
                Row::Own => {
                    not_before.insert((material, one.mark));
                    own.push((material, one.mark));
                }
            }
        }
        // A run of which a part is cut has its parts only.
        let parts = pieces.all.iter().filter_map(|piece| {
            let (run, _) = piece.mark().rsplit_once('.')?;
            Some((piece.material.as_str(), run))
        });
        families.copies = copies(own.into_iter().chain(parts), &not_before, &not_with);
        families
    }

    fn row(&self, one: &Named<'p>) -> Row<'p> {
        let mark = match one.from {
            Some((place, mark)) => {
                let is_for_spares = !self.not_for_spares.contains(&(one.material, place));
                if one.is_spare && !is_for_spares {
                    return Row::OfJob(mark);
                }
                mark
            }
            None => one.mark,
        };
        match of_spares(mark).filter(|_| one.is_spare) {
            Some(row) => Row::OfSpare(row),
            None if mark == one.mark => Row::Own,
            None => Row::OfJob(mark),
        }
    }

    /// The mark of the row that something is named after.
    fn find(&self, one: &Named<'p>) -> String {
        let row = match self.row(one) {
            Row::OfJob(row) | Row::OfSpare(row) => row,
            Row::Own => self.of_copy(one.material, one.mark).unwrap_or(one.mark),
        };
        row.to_owned()
    }

    /// The mark of the row that a piece is a copy of, by its number.
    fn of_copy(&self, material: &str, mark: &'p str) -> Option<&'p str> {
        let (head, digits) = numbered(mark)?;
        let number: u64 = digits.parse().ok()?;
        let last = self.copies.get(&(material, head, digits.len()))?;
        (1..=*last).contains(&number).then_some(head)
    }
}

/// Up to which number there are copies of each mark.
fn copies<'p>(
    marks: impl Iterator<Item = (&'p str, &'p str)>,
    not_before: &HashSet<(&str, &str)>,
    not_with: &HashSet<(&str, &str)>,
) -> HashMap<Numbers<'p>, u64> {
    let mut numbers: HashMap<Numbers<'p>, BTreeSet<u64>> = HashMap::new();
    let mut rows: HashSet<Numbers<'p>> = HashSet::new();
    for (material, mark) in marks {
        let Some((head, digits)) = numbered(mark) else {
            continue;
        };
        let of_head = (material, head, digits.len());
        if not_before.contains(&(material, head)) {
            continue;
        }
        if not_with.contains(&(material, mark)) {
            rows.insert(of_head);
        }
        if let Ok(number) = digits.parse() {
            numbers.entry(of_head).or_default().insert(number);
        }
    }
    let copies = numbers.into_iter().filter_map(|(of_head, numbers)| {
        let in_order = numbers.into_iter().zip(1..);
        let in_order = in_order.take_while(|(number, expected)| number == expected);
        let last = in_order.last().map(|(number, _)| number)?;
        // One that stands alone has no number.
        (last > 1 && !rows.contains(&of_head)).then_some((of_head, last))
    });
    copies.collect()
}

/// What stands before the number of a copy, and its digits.
fn numbered(mark: &str) -> Option<(&str, &str)> {
    let (head, digits) = mark.rsplit_once('-')?;
    let is_number = digits.bytes().all(|byte| byte.is_ascii_digit());
    (is_number && digits.len() >= FEWEST_DIGITS).then_some((head, digits))
}

/// The mark of the row whose spares have this mark.
fn of_spares(mark: &str) -> Option<&str> {
    let head = numbered(mark).map_or(mark, |(head, _)| head);
    // A mark that was taken already got a prime behind the ending.
    head.trim_end_matches('\'').strip_suffix(ENDING)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::carry_on::sticks::Sticks;
    use crate::carry_on::{DonePiece, UnderWay};
    use crate::fault::Origin;
    use crate::job::{JobInput, PieceRow, StockRow};
    use crate::length::{Length, Measure, Unit};

    fn row(mark: &str, qty: u64) -> PieceRow {
        let origin = Origin {
            source: "test".into(),
            line: 2,
        };
        let length = Measure {
            length: Length::from_mm(1000),
            unit: Unit::Mm,
        };
        PieceRow {
            mark: mark.into(),
            qty: qty.into(),
            ..PieceRow::new(origin, length)
        }
    }

    /// What the pieces of these rows are named after; those that say so are cut.
    fn families(rows: Vec<PieceRow>, done: &[&str]) -> Vec<(String, String)> {
        let first = row("", 1);
        let bar = StockRow::new(first.origin.clone(), first.length);
        let input = JobInput {
            pieces: rows,
            stock: vec![bar],
            ..JobInput::default()
        };
        let job = input.clone().validate().unwrap();
        let done = done.iter().map(|mark| DonePiece {
            bar: "A1".into(),
            batch: String::new(),
            row: row(mark, 1),
        });
        let under_way = UnderWay {
            done: done.collect(),
            input,
            ..UnderWay::default()
        };
        let sticks = Sticks::of(&under_way, &job);
        let pieces = Pieces::of(&under_way, &job, &sticks);
        let all = pieces.all.iter();
        all.map(|piece| (piece.mark().to_owned(), piece.family.clone()))
            .collect()
    }

    fn assert_families(rows: Vec<PieceRow>, done: &[&str], expected: &[(&str, &str)]) {
        let found = families(rows, done);
        let expected = expected
            .iter()
            .map(|(mark, row)| ((*mark).to_owned(), (*row).to_owned()));
        assert_eq!(found, expected.collect::<Vec<_>>());
    }

    fn with_spares(mark: &str, qty: u64, spare: u64) -> PieceRow {
        PieceRow {
            spare,
            ..row(mark, qty)
        }
    }

    fn spare(mark: &str) -> PieceRow {
        PieceRow {
            spares_only: true,
            ..row(mark, 1)
        }
    }

    #[test]
    fn pieces_of_a_first_plan_are_named_after_their_rows() {
        assert_families(
            vec![
                with_spares("K-2", 1, 1),
                with_spares("K-12", 2, 2),
                with_spares("K-spare", 1, 1),
                with_spares("K", 2, 1),
                row("K-03", 1),
            ],
            &[],
            &[
                ("K-2", "K-2"),
                ("K-2-spare", "K-2"),
                ("K-12-01", "K-12"),
                ("K-12-02", "K-12"),
                ("K-12-spare-01", "K-12"),
                ("K-12-spare-02", "K-12"),
                ("K-spare", "K-spare"),
                ("K-spare-spare", "K-spare"),
                ("K-01", "K"),
                ("K-02", "K"),
                ("K-spare'", "K"),
                ("K-03", "K-03"),
            ],
        );
    }

    /// Numbers of the user's own are no copies where a spare or the mark alone says so.
    #[test]
    fn pieces_of_a_plan_carried_on_are_named_after_the_rows_before() {
        assert_families(
            vec![
                row("LS-02", 1),
                row("LS-05", 1),
                spare("LS-spare'-02"),
                spare("K-12-spare"),
                row("K-12", 1),
                row("W-01", 1),
                row("W-02", 1),
                spare("W-01-spare"),
                row("T", 1),
                row("T-01", 1),
                row("T-02", 1),
                row("R-01.1", 1),
                row("R-02", 1),
                row("N-1", 1),
                row("N-2", 1),
            ],
            &["LS-01"],
            &[
                ("LS-02", "LS"),
                ("LS-05", "LS-05"),
                ("LS-spare'-02", "LS"),
                ("K-12-spare", "K-12"),
                ("K-12", "K-12"),
                ("W-01", "W-01"),
                ("W-02", "W-02"),
                ("W-01-spare", "W-01"),
                ("T", "T"),
                ("T-01", "T-01"),
                ("T-02", "T-02"),
                ("R-01.1", "R-01.1"),
                ("R-02", "R"),
                ("N-1", "N-1"),
                ("N-2", "N-2"),
                ("LS-01", "LS"),
            ],
        );
    }
}
