//! Spares that a job is given beside those of its rows.

use std::cmp::Reverse;

#[cfg(feature = "serde")]
use serde::{Deserialize, Serialize};

use super::{EndGap, Job, Material, Piece, Shape, Supply, marks, size};
use crate::fault::Faults;
use crate::length::Length;

/// Spares of one shape, beside those that the rows ask for.
#[derive(Clone, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct Reserve {
    /// Their mark, with the number of the copy behind it where there are several. Where the material has
    /// spares of this mark and shape already, there are so many more of them.
    pub mark: String,
    /// Length and ends.
    pub shape: Shape,
    /// How many, at least 1.
    pub count: u64,
    /// Whether it stands for a whole bar.
    pub is_bar: bool,
}

impl Job {
    /// The same job with more spares, a list for each material in their order; materials beyond the
    /// lists get none. They belong to the last stage of their material, so that what they are kept on is
    /// there to the end.
    ///
    /// Spares that take less of a bar give way to them, as many as are added, those that take most first.
    /// Spare runs and room for a whole bar give way to none, and none gives way to room for a whole bar.
    ///
    /// The pieces of a material are gone through for each of its reserves: meant for a few of them.
    ///
    /// # Errors
    /// Where so many spares are too many for sums to stay exact.
    ///
    /// # Example
    /// See [`insure`](crate::insure::insure), which finds out which spares a job needs.
    pub fn with_reserves(&self, reserves: &[Vec<Reserve>]) -> Result<Job, Faults> {
        let mut job = self.clone();
        let mut faults = Vec::new();
        for (material, reserves) in job.materials.iter_mut().zip(reserves) {
            for reserve in reserves.iter().filter(|reserve| reserve.count > 0) {
                material.give_way(reserve);
                material.add(reserve);
            }
            let origin = material.pieces.first().map(|piece| piece.origin.clone());
            size::check(material, origin.as_ref(), &mut faults);
        }
        if faults.is_empty() {
            Ok(job)
        } else {
            Err(Faults(faults))
        }
    }
}

impl Material {
    /// Of bars to buy that have more to use than this, there are none any more.
    pub(crate) fn withdraw_longer(&mut self, longest: Length) {
        for bar in &mut self.bars {
            let is_longer = bar.usable() > longest;
            if let Supply::Bought { available, .. } = &mut bar.supply
                && is_longer
            {
                *available = Some(0);
            }
        }
    }

    /// A mark for spares of this shape: `mark`, with as many `'` behind it as keep it from being read as
    /// that of other pieces.
    pub(crate) fn reserve_mark(&self, mark: &str, shape: Shape) -> String {
        let mut mark = mark.to_owned();
        while self.is_taken(&mark, shape) {
            mark.push('\'');
        }
        mark
    }

    /// Room for a whole bar, where the material has it once.
    pub(crate) fn reserve_shape(&self) -> Option<Shape> {
        let mut reserves = self.pieces.iter().filter(|piece| piece.for_bar);
        let only = reserves.next().filter(|piece| piece.qty == 1)?;
        reserves.next().is_none().then(|| only.shape())
    }

    fn is_taken(&self, mark: &str, shape: Shape) -> bool {
        let numbered = format!("{mark}-");
        let alike = |piece: &&Piece| piece.mark == mark;
        let all = self.pieces.iter();
        let is_other = all.clone().any(|piece| piece.mark.starts_with(&numbered));
        let others = all.filter(alike).count();
        is_other || others > usize::from(self.spares(mark, shape).is_some())
    }

    /// The place of the spares with this mark and shape.
    fn spares(&self, mark: &str, shape: Shape) -> Option<usize> {
        let is_it = |piece: &Piece| {
            piece.spare && piece.run.is_none() && piece.mark == mark && piece.shape() == shape
        };
        self.pieces.iter().position(is_it)
    }

    /// Takes out the spares that such a spare serves for; how many.
    pub(crate) fn give_way(&mut self, reserve: &Reserve) -> u64 {
        if reserve.is_bar {
            return 0;
        }
        let takes = self.takes(reserve.shape);
        let of_place = |(place, piece): (usize, &Piece)| {
            let piece_takes = self.takes(piece.shape());
            let may_go = piece.spare && !piece.for_bar && piece.run.is_none();
            (may_go && piece_takes < takes).then_some((Reverse(piece_takes), place))
        };
        let all = self.pieces.iter().enumerate();
        let mut shorter: Vec<_> = all.filter_map(of_place).collect();
        shorter.sort_unstable();
        let mut left = reserve.count;
        for (_, place) in shorter {
            if let Some(piece) = self.pieces.get_mut(place) {
                let gone = piece.qty.min(left);
                piece.qty -= gone;
                left -= gone;
            }
        }
        self.pieces.retain(|piece| piece.qty > 0);
        reserve.count - left
    }

    fn add(&mut self, reserve: &Reserve) {
        let known = self.spares(&reserve.mark, reserve.shape);
        if let Some(piece) = known.and_then(|place| self.pieces.get_mut(place)) {
            piece.qty = piece.qty.saturating_add(reserve.count);
            (piece.first_number, piece.number_width) = marks::numbers(piece.qty);
            return;
        }
        let Some(first) = self.pieces.first() else {
            return; // nothing to insure
        };
        let (first_number, number_width) = marks::numbers(reserve.count);
        let stages = self.pieces.iter().map(|piece| piece.stage);
        let piece = Piece {
            row: first.row,
            mark: reserve.mark.clone(),
            first_number,
            number_width,
            opening: reserve.shape.length,
            end_gap: EndGap::default(),
            leave_long: Length::ZERO,
            length: reserve.shape.length,
            ends: reserve.shape.ends,
            qty: reserve.count,
            spare: true,
            for_bar: reserve.is_bar,
            run: None,
            stage: stages.max().unwrap_or(first.stage),
            wall: String::new(),
            batch: reserve.shape.batch,
            asked_batch: reserve.shape.batch,
            note: String::new(),
            origin: first.origin.clone(),
        };
        self.pieces.push(piece);
    }
}
