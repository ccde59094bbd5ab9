//! Spares in the place of spoiled pieces.

use std::collections::{BTreeSet, HashMap, HashSet};

use itertools::Itertools;

use super::pieces::{Piece, Pieces, Remark, State};
use super::sticks::{Fate, Sticks};
use crate::job::{Ends, Job, batch_key, name_key};
use crate::length::Length;

/// A spare that is cut serves; else one that is not cut yet gives up its place.
///
/// A spare serves if it is as long as the piece, or longer and of the same row. One that fits is taken
/// before one that must be trimmed. With `any`, one that is not cut yet gives way to any piece it holds.
pub(super) fn take_their_places(pieces: &mut Pieces, any: bool) {
    let spoiled = pieces.all.iter().enumerate();
    let spoiled = spoiled.filter(|(_, piece)| piece.spoiled && piece.is_to_do());
    let spoiled: Vec<usize> = spoiled.map(|(at, _)| at).collect();
    if spoiled.is_empty() {
        return;
    }
    let mut cut = Spares::of(pieces, true, false);
    let mut to_do = Spares::of(pieces, false, any);
    for at in spoiled {
        let Some(piece) = pieces.all.get(at).cloned() else {
            continue;
        };
        if let Some(spare) = cut.best(pieces, &piece) {
            serve(pieces, at, &piece, spare);
        } else if let Some(spare) = to_do.best(pieces, &piece) {
            give_way(pieces, at, &piece, spare);
        }
    }
}

/// Spares that are cut, or those that are not cut yet, by what must be as with the piece.
struct Spares {
    are_cut: bool,
    /// Whether those that are longer serve for pieces of any row, and those with any ends for square pieces.
    any: bool,
    of_any_row: HashMap<Likeness, ByLength>,
    of_row: HashMap<(Likeness, String), ByLength>,
}

/// The places of spares, the shortest first.
type ByLength = BTreeSet<(Length, usize)>;

/// What must be as with the piece; what need not is `None`.
#[derive(Clone, PartialEq, Eq, Hash)]
struct Likeness {
    material: String,
    /// Where bars are of several batches.
    wall: Option<String>,
    /// The batch that a spare was cut from, where a piece asks for one. Of one that is not cut yet the place is
    /// given up, and it need not be on the same bar.
    batch: Option<String>,
    ends: Option<Ends>,
}

impl Spares {
    fn of(pieces: &Pieces, are_cut: bool, any: bool) -> Spares {
        let mut spares = Spares {
            are_cut,
            any,
            of_any_row: HashMap::new(),
            of_row: HashMap::new(),
        };
        for (at, spare) in pieces.all.iter().enumerate() {
            if spares.has(spare) {
                spares.add(pieces, spare, at);
            }
        }
        spares
    }

    /// Whether a piece is one of these as it is now.
    fn has(&self, spare: &Piece) -> bool {
        let is_so = match spare.state {
            State::ToDo => !self.are_cut,
            State::Done(_) => self.are_cut,
            State::UsedUp | State::Gone => false,
        };
        is_so && spare.is_spare() && !is_for_a_bar(spare)
    }

    fn add(&mut self, pieces: &Pieces, spare: &Piece, at: usize) {
        let mut batches = vec![None];
        if let State::Done(from) = &spare.state {
            batches.push(Some(batch_key(&from.batch)));
        }
        let mut ends = vec![Some(spare.shape.ends)];
        if self.any {
            ends.push(None);
        }
        let place = (spare.shape.length, at);
        for (batch, ends) in batches.into_iter().cartesian_product(ends) {
            let likeness = Likeness::of(pieces, spare, batch, ends);
            let row = (likeness.clone(), spare.family.clone());
            self.of_row.entry(row).or_default().insert(place);
            self.of_any_row.entry(likeness).or_default().insert(place);
        }
    }

    /// The spare that serves best.
    fn best(&mut self, pieces: &Pieces, piece: &Piece) -> Option<usize> {
        let asks = self.are_cut && !piece.row.batch.is_empty();
        let batch = asks.then(|| batch_key(&piece.row.batch));
        let any_ends = self.any && piece.shape.ends.are_square();
        let ends = Some(piece.shape.ends).filter(|_| !any_ends);
        let likeness = Likeness::of(pieces, piece, batch, ends);
        let row = (likeness.clone(), piece.family.clone());
        let of_any_row =
            self.shortest(pieces, piece, |spares| spares.of_any_row.get_mut(&likeness));
        let fits = of_any_row.filter(|(length, _)| *length == piece.shape.length);
        let best = fits
            .or_else(|| self.shortest(pieces, piece, |spares| spares.of_row.get_mut(&row)))
            .or(of_any_row.filter(|_| self.any));
        best.map(|(_, at)| at)
    }

    /// The shortest of some spares that a piece can be made of. What is none of these any more is taken out.
    fn shortest(
        &mut self,
        pieces: &Pieces,
        piece: &Piece,
        among: impl Fn(&mut Spares) -> Option<&mut ByLength>,
    ) -> Option<(Length, usize)> {
        loop {
            let first = among(self)?
                .range((piece.shape.length, 0)..)
                .next()
                .copied()?;
            if pieces.all.get(first.1).is_some_and(|spare| self.has(spare)) {
                return Some(first);
            }
            among(self)?.remove(&first);
        }
    }
}

impl Likeness {
    fn of(pieces: &Pieces, piece: &Piece, batch: Option<String>, ends: Option<Ends>) -> Likeness {
        let is_batched = pieces.batched.contains(&piece.material);
        Likeness {
            material: piece.material.clone(),
            wall: is_batched.then(|| name_key(&piece.row.wall)),
            batch,
            ends,
        }
    }
}

/// Whether a spare stands for a whole bar.
pub(super) fn is_for_a_bar(spare: &Piece) -> bool {
    spare.is_spare() && spare.row.for_bar
}

/// Of each material with a bad bar one spare for a whole bar is not needed any more.
pub(super) fn stand_in_for_bars(pieces: &mut Pieces, sticks: &Sticks, fates: &[Fate], job: &Job) {
    let both = sticks.all.iter().zip(fates);
    let bad = both.filter(|(_, fate)| **fate == Fate::Bad);
    let mut materials: HashSet<&str> = bad
        .filter_map(|(stick, _)| Some(job.materials().get(stick.material)?.name()))
        .collect();
    for spare in &mut pieces.all {
        let stands_in = spare.is_to_do() && is_for_a_bar(spare);
        if stands_in && materials.remove(spare.material.as_str()) {
            spare.state = State::Gone;
            let spare = spare.mark().to_owned();
            pieces.remarks.push(Remark::InPlaceOfBar { spare });
        }
    }
}

fn serve(pieces: &mut Pieces, at: usize, piece: &Piece, by: usize) {
    let Some(spare) = pieces.all.get_mut(by) else {
        return;
    };
    let state = std::mem::replace(&mut spare.state, State::UsedUp);
    let trim = spare.shape.length.checked_sub(piece.shape.length);
    let remark = Remark::SpareServes {
        piece: piece.mark().to_owned(),
        spare: spare.mark().to_owned(),
        trim: trim.unwrap_or(Length::ZERO),
        unit: piece.row.length.unit,
    };
    pieces.remarks.push(remark);
    if let Some(piece) = pieces.all.get_mut(at) {
        piece.state = state;
    }
}

/// The piece is cut where the spare was going to be. A spare run is not needed as a whole then.
fn give_way(pieces: &mut Pieces, at: usize, piece: &Piece, by: usize) {
    let Some(spare) = pieces.all.get(by) else {
        return;
    };
    let remark = Remark::InPlaceOfSpare {
        piece: piece.mark().to_owned(),
        spare: spare.mark().to_owned(),
    };
    let parts = match &spare.part {
        None => vec![by],
        Some((_, run)) => match pieces.runs.get(*run) {
            Some(run) if pieces.is_free(run) => run.parts.clone(),
            // Of a spare run that is cut in part the other parts are pieces of their own.
            _ => vec![by],
        },
    };
    for part in parts {
        if let Some(part) = pieces.all.get_mut(part) {
            part.state = State::Gone;
        }
    }
    if let Some(spare) = pieces.all.get_mut(by) {
        spare.replaced_by = Some(at);
    }
    pieces.remarks.push(remark);
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::carry_on::pieces::CutFrom;
    use crate::carry_on::walls::may_come_from;
    use crate::fault::Origin;
    use crate::job::{Angle, PieceRow, Shape};
    use crate::length::{Measure, Unit};
    use proptest::prelude::*;

    /// The spare that serves best by its definition: each is looked at.
    fn by_definition(pieces: &Pieces, piece: &Piece, any: bool, are_cut: bool) -> Option<usize> {
        let serves = |spare: &Piece| {
            let (asked, there) = (piece.shape, spare.shape);
            let is_of_row = spare.family == piece.family;
            let is_of_its_wall = !pieces.batched.contains(&piece.material)
                || name_key(&spare.row.wall) == name_key(&piece.row.wall);
            let is_so = match &spare.state {
                State::Done(from) => are_cut && may_come_from(&piece.row, &from.batch),
                State::ToDo => !are_cut,
                _ => false,
            };
            let ends = asked.ends == there.ends || any && asked.ends.are_square();
            let longer = asked.length < there.length && (any || is_of_row);
            is_so
                && spare.is_spare()
                && !is_for_a_bar(spare)
                && spare.material == piece.material
                && is_of_its_wall
                && ends
                && (asked.length == there.length || longer)
        };
        let all = pieces.all.iter().enumerate();
        let best = all
            .filter(|(_, spare)| serves(spare))
            .min_by_key(|(at, spare)| {
                let is_other = spare.family != piece.family;
                let fits = spare.shape.length == piece.shape.length;
                (!fits && is_other, spare.shape.length, *at)
            });
        best.map(|(at, _)| at)
    }

    /// A piece of one of two materials, rows, walls, batches and ends, and of three lengths.
    fn some_piece() -> impl Strategy<Value = Piece> {
        let choices = (0_u32..2, 0_u32..2, 0_u32..2, 0_u32..3, 0_u32..2);
        (
            choices,
            0_u32..3,
            0_u32..6,
            prop::bool::weighted(0.7),
            prop::bool::weighted(0.1),
        )
            .prop_map(
                |((material, row, wall, batch, ends), length, state, spare, for_bar)| {
                    let names = ["", "b1", "B2"];
                    let batch = names.get(batch as usize).copied().unwrap_or_default();
                    let length = Length::from_mm(500 + 100 * length);
                    let angle = if ends == 0 {
                        Angle::SQUARE
                    } else {
                        Angle::from_hundredths(3000).unwrap()
                    };
                    let ends = Ends {
                        near: angle,
                        far: Angle::SQUARE,
                    };
                    let origin = Origin {
                        source: "test".into(),
                        line: 2,
                    };
                    let measure = Measure {
                        length,
                        unit: Unit::Mm,
                    };
                    let from = CutFrom {
                        bar: "A1".into(),
                        batch: batch.to_uppercase(),
                    };
                    Piece {
                        material: format!("m{material}"),
                        row: PieceRow {
                            mark: format!("R{row}{}", if spare { "-spare-02" } else { "-02" }),
                            wall: format!("w{wall}"),
                            batch: batch.into(),
                            spares_only: spare,
                            for_bar,
                            ends,
                            ..PieceRow::new(origin, measure)
                        },
                        shape: Shape {
                            batch: None,
                            length,
                            ends,
                        },
                        state: match state {
                            0 | 1 => State::ToDo,
                            2 | 3 => State::Done(from),
                            4 => State::UsedUp,
                            _ => State::Gone,
                        },
                        spoiled: false,
                        from: None,
                        family: format!("R{row}"),
                        part: None,
                        replaced_by: None,
                    }
                },
            )
    }

    proptest! {
        /// One after the other, each taken away as it is found.
        #[test]
        fn the_best_spare_is_the_one_of_the_definition(
            all in prop::collection::vec(some_piece(), 1..40),
            asked in prop::collection::vec(some_piece(), 1..20),
            (any, are_cut, is_batched) in (any::<bool>(), any::<bool>(), any::<bool>()),
        ) {
            let any = any && !are_cut;
            let mut pieces = Pieces::default();
            pieces.all = all;
            pieces.batched.extend(is_batched.then(|| "m0".to_owned()));
            let mut spares = Spares::of(&pieces, are_cut, any);
            for piece in &asked {
                let best = spares.best(&pieces, piece);
                prop_assert_eq!(best, by_definition(&pieces, piece, any, are_cut));
                if let Some(spare) = best.and_then(|at| pieces.all.get_mut(at)) {
                    spare.state = State::Gone;
                }
            }
        }
    }
}
