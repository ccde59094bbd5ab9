//! When a cut is spoiled: can the piece be cut again from what is left, or does it take another bar.
//!
//! One piece is spoiled and lost altogether; everything else is cut as planned, only spares are not cut,
//! so that their length is left as well. What is left of a bar has a square near end, the one that
//! the last cut made, and the far end that the bar had. It yields the piece where the piece, with what
//! its mitred ends take, is no longer than the part that is not rough: the rule of every bar, with
//! nothing to square at the near end. An offcut too short to be saved counts: it still lies there. A piece
//! that has to come from one batch, with its wall or by itself, can be cut again only from bars of that.

mod batches;

use std::collections::HashMap;

#[cfg(feature = "serde")]
use serde::Serialize;

use batches::Batches;

use crate::job::Material;
use crate::length::Length;
use crate::plan::{BarGroup, Cutting};

/// What becomes of one piece if its cut is spoiled.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize))]
pub struct Spoiled<'p> {
    /// The mark of the piece, or of the part of a run.
    pub mark: &'p str,
    /// The bar that it is cut from.
    pub bar: &'p str,
    /// Where it can be cut again.
    pub recut: Recut<'p>,
}

/// Where a spoiled piece can be cut again.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize), serde(rename_all = "snake_case"))]
pub enum Recut<'p> {
    /// From what is left of a bar once that has been cut, spares left uncut.
    LeftOf {
        /// The name of the bar.
        bar: &'p str,
        /// Whether the bar is cut later in the plan than the spoiled piece's own, so that what is left
        /// of it has to be waited for.
        later: bool,
    },
    /// From a bar that the plan leaves whole.
    Uncut {
        /// The kind of bar: its place in [`Material::bars`].
        kind: usize,
    },
    /// From none of these: it takes another bar.
    AnotherBar,
}

/// Looks for every piece but the spares, bar by bar and cut by cut, where it could be cut again.
///
/// What is left of its own bar goes first, for that is at the saw; then the shortest that will do, of
/// the bars cut before those that stay whole; among equals what is cut first. `None` where the plan is
/// not one of this material. O(n log n).
///
/// ```
/// use lengthwise::{JobInput, Length, Limits, Origin, Unit, job::*, plan::Outcome, solve};
/// use lengthwise::spoiled::{Recut, spoiled};
/// let at = |line| Origin { source: "example".into(), line };
/// let piece = |mark: &str, line, length| Ok::<_, lengthwise::LengthError>(PieceRow {
///     mark: mark.into(),
///     ..PieceRow::new(at(line), Length::parse(length, Unit::Mm)?)
/// });
/// let job = JobInput {
///     pieces: vec![piece("F", 2, "2210")?, piece("S", 3, "600")?],
///     stock: vec![StockRow::new(at(2), Length::parse("3.6m", Unit::Mm)?)],
///     ..JobInput::default()
/// }
/// .validate()?;
/// let plan = solve(&job, &Limits::default());
/// let Outcome::Planned(cutting) = &plan.materials[0].outcome else { unreachable!() };
/// let spoiled = spoiled(&job.materials()[0], cutting).ok_or("not a plan of this")?;
/// // 784 are left of the bar: enough for S, not for F.
/// assert_eq!(spoiled[0].recut, Recut::AnotherBar);
/// assert_eq!(spoiled[1].recut, Recut::LeftOf { bar: "A1", later: false });
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn spoiled<'p>(material: &Material, cutting: &'p Cutting) -> Option<Vec<Spoiled<'p>>> {
    let batches = Batches::of(material, cutting);
    let of_group: Vec<Length> = cutting
        .bars
        .iter()
        .map(|group| left_of(material, group))
        .collect::<Option<_>>()?;
    let left = Left::by_batch(material, cutting, &of_group)?;
    let nothing = Left::default();
    let mut all = Vec::new();
    for ((place, group), own) in cutting.bars.iter().enumerate().zip(&of_group) {
        for (number, bar) in group.names.iter().enumerate() {
            for cut in group.cuts.iter().filter(|cut| !cut.spare) {
                let mark = cut.marks.get(number)?;
                let part = cut.parts.get(number);
                let batch = batches.of_cut(part.map_or(mark, |part| &part.mark), part);
                let takes = material.takes(cut.shape());
                let recut = if *own >= takes {
                    Recut::LeftOf { bar, later: false }
                } else {
                    left.get(&batch).unwrap_or(&nothing).recut(place, takes)
                };
                all.push(Spoiled { mark, bar, recut });
            }
        }
    }
    Some(all)
}

/// What is left after the job, spares uncut.
#[derive(Default)]
struct Left<'p> {
    /// What is left of the bars of each group, shortest first and then in the order of the plan, with the
    /// first bar of the group.
    shortest_first: Vec<(Length, usize, &'p str)>,
    /// Usable lengths of the bars that stay whole, shortest first, with their kinds.
    uncut: Vec<(Length, usize)>,
}

impl<'p> Left<'p> {
    /// Of all bars, and of those of each batch.
    fn by_batch(
        material: &Material,
        cutting: &'p Cutting,
        of_group: &[Length],
    ) -> Option<HashMap<Option<u32>, Left<'p>>> {
        let mut by_batch: HashMap<Option<u32>, Left<'p>> = HashMap::new();
        for ((place, group), &left) in cutting.bars.iter().enumerate().zip(of_group) {
            let bar = material.bars().get(group.bar)?;
            if let Some(name) = group.names.first() {
                for batch in [None, Some(bar.batch())] {
                    let of_batch = by_batch.entry(batch).or_default();
                    of_batch.shortest_first.push((left, place, name.as_str()));
                }
            }
        }
        for bars in cutting.uncut.iter().filter(|bars| bars.count > 0) {
            let bar = material.bars().get(bars.bar)?;
            for batch in [None, Some(bar.batch())] {
                let of_batch = by_batch.entry(batch).or_default();
                of_batch.uncut.push((bar.usable(), bars.bar));
            }
        }
        for left in by_batch.values_mut() {
            left.shortest_first.sort_unstable();
            left.uncut.sort_unstable();
        }
        Some(by_batch)
    }

    /// Where a piece that takes so much can be cut again, cut from a bar of this group that has too little.
    fn recut(&self, group: usize, takes: Length) -> Recut<'p> {
        let at = self
            .shortest_first
            .partition_point(|&(left, ..)| left < takes);
        if let Some(&(_, place, bar)) = self.shortest_first.get(at) {
            return Recut::LeftOf {
                bar,
                later: place > group,
            };
        }
        let at = self.uncut.partition_point(|&(usable, _)| usable < takes);
        match self.uncut.get(at) {
            Some(&(_, kind)) => Recut::Uncut { kind },
            None => Recut::AnotherBar,
        }
    }
}

/// The longest piece with square ends that what is left of each bar of a group yields.
fn left_of(material: &Material, group: &BarGroup) -> Option<Length> {
    let mut left = material.bars().get(group.bar)?.usable();
    for cut in group.cuts.iter().filter(|cut| !cut.spare) {
        left = left.checked_sub(material.takes(cut.shape()))?;
        // The last cut may find less to take than its width.
        left = left
            .checked_sub(material.cut_width())
            .unwrap_or(Length::ZERO);
    }
    Some(left)
}
