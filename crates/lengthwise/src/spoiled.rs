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
use std::collections::hash_map::Entry;

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
    let mut left: HashMap<Option<u32>, Left<'p>> = HashMap::new();
    left.insert(None, Left::of(material, cutting, None)?);
    let mut all = Vec::new();
    for (place, group) in cutting.bars.iter().enumerate() {
        for (number, bar) in group.names.iter().enumerate() {
            for cut in group.cuts.iter().filter(|cut| !cut.spare) {
                let mark = cut.marks.get(number)?;
                let part = cut.parts.get(number);
                let batch = batches.of_cut(part.map_or(mark, |part| &part.mark), part);
                let left = match left.entry(batch) {
                    Entry::Occupied(known) => known.into_mut(),
                    Entry::Vacant(place) => place.insert(Left::of(material, cutting, batch)?),
                };
                all.push(Spoiled {
                    mark,
                    bar,
                    recut: left.recut(place, bar, material.takes(cut.shape())),
                });
            }
        }
    }
    Some(all)
}

/// What is left after the job, spares uncut.
struct Left<'p> {
    /// What is left of the bars of each group.
    of_group: Vec<Length>,
    /// The same, shortest first and then in the order of the plan, with the first bar of the group.
    shortest_first: Vec<(Length, usize, &'p str)>,
    /// Usable lengths of the bars that stay whole, shortest first, with their kinds.
    uncut: Vec<(Length, usize)>,
}

impl<'p> Left<'p> {
    /// Of all bars, or of those of one batch.
    fn of(material: &Material, cutting: &'p Cutting, batch: Option<u32>) -> Option<Left<'p>> {
        let is_of_it = |kind: usize| {
            let bar = material.bars().get(kind);
            batch.is_none_or(|batch| bar.is_some_and(|bar| bar.batch() == batch))
        };
        let groups = cutting.bars.iter();
        let of_group: Vec<Length> = groups
            .map(|group| left_of(material, group))
            .collect::<Option<_>>()?;
        let named = of_group.iter().zip(&cutting.bars).enumerate();
        let mut shortest_first: Vec<_> = named
            .filter(|(_, (_, group))| is_of_it(group.bar))
            .filter_map(|(place, (&left, group))| {
                Some((left, place, group.names.first()?.as_str()))
            })
            .collect();
        shortest_first.sort_unstable();
        let whole = cutting.uncut.iter();
        let whole = whole.filter(|bars| bars.count > 0 && is_of_it(bars.bar));
        let mut uncut: Vec<(Length, usize)> = whole
            .map(|bars| Some((material.bars().get(bars.bar)?.usable(), bars.bar)))
            .collect::<Option<_>>()?;
        uncut.sort_unstable();
        Some(Left {
            of_group,
            shortest_first,
            uncut,
        })
    }

    /// Where a piece that takes so much can be cut again, cut from a bar of this group.
    fn recut(&self, group: usize, own: &'p str, takes: Length) -> Recut<'p> {
        if self.of_group.get(group).is_some_and(|&left| left >= takes) {
            return Recut::LeftOf {
                bar: own,
                later: false,
            };
        }
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
