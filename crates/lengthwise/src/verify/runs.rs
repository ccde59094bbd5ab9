//! The ways in which a run may be parted, from the rules of the job: which parts, how many joints.
//!
//! Everything is worked out layer by layer, a layer for each number of parts, from places to places.

use std::collections::BTreeSet;

use super::facts::{Facts, length, nm};
use super::refusal::Breach;
use crate::job::{Angle, Ends, Piece, Run, Shape};

/// Joints that are counted up to where they may fall anywhere.
const MOST_JOINTS: u64 = 100_000;
/// Steps of longest paths up to which the most uses of a part are worked out exactly.
const EXACT_STEPS: u64 = 20_000_000;

/// A piece with its rules as a run.
#[derive(Clone, Copy)]
pub(super) struct RunOf<'a> {
    pub piece: &'a Piece,
    pub run: &'a Run,
    /// How far joints that may fall anywhere are rounded down; zero where they are not.
    pub step: i128,
}

/// The longest bars in use.
#[derive(Clone, Copy)]
pub(super) struct Longest {
    /// Of those that can be had.
    pub any: i128,
    /// Of those that can be had in any number.
    pub unlimited: Option<i128>,
}

impl Longest {
    pub fn of(facts: &Facts<'_>) -> Longest {
        let there = || facts.kinds.iter().filter(|kind| kind.available != Some(0));
        let unlimited = there().filter(|kind| kind.available.is_none());
        Longest {
            any: there().map(|kind| kind.usable()).max().unwrap_or(0).max(0),
            unlimited: unlimited.map(|kind| kind.usable()).max(),
        }
    }
}

/// How many joints a run may have where they may fall anywhere.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Numbers {
    pub fewest: u64,
    pub most: u64,
}

/// The splits of a run over places: its joints lie on some of them.
#[derive(Clone)]
pub(super) struct Splits {
    /// The left end, the places for joints, the right end.
    pub places: Vec<i128>,
    /// For each place the parts that begin there: where they end, and what they are.
    pub parts: Vec<Vec<(usize, Shape)>>,
    pub most_joints: u64,
}

/// Why there is no split.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum NoWay {
    /// It takes more joints than allowed.
    Joints { most: u64, needed: u64 },
    /// Parts would be too short.
    Shortest,
    /// No bar reaches from a place that can be reached to the next.
    Places { from: i128, to: i128 },
    /// No bar holds parts, wherever the joints are.
    Bars,
}

impl<'a> RunOf<'a> {
    pub fn new(piece: &'a Piece) -> Option<RunOf<'a>> {
        let run = piece.run()?;
        Some(RunOf {
            piece,
            run,
            step: 0,
        })
    }

    pub fn opening(&self) -> i128 {
        nm(self.piece.opening())
    }

    pub fn shortest(&self) -> i128 {
        nm(self.run.shortest())
    }

    /// The places for joints that the rule names; `None` where they may fall anywhere.
    pub fn places(&self) -> Option<Vec<i128>> {
        let places = self.run.joints().places(self.piece.opening())?;
        Some(places.into_iter().map(nm).collect())
    }

    /// The angles of a part's ends: those of the run at its ends, square at a joint.
    pub fn ends(&self, is_first: bool, is_last: bool) -> Ends {
        let whole = self.piece.ends();
        Ends {
            near: if is_first { whole.near } else { Angle::SQUARE },
            far: if is_last { whole.far } else { Angle::SQUARE },
        }
    }

    /// How long the part between two places is; zero or less where gaps leave nothing.
    pub fn part_length(&self, from: i128, to: i128) -> i128 {
        let gap = nm(self.run.joint_gap());
        let ends = self.piece.end_gap();
        let (is_first, is_last) = (from == 0, to == self.opening());
        let on_left = if is_first { nm(ends.near) } else { gap / 2 };
        let on_right = if is_last { nm(ends.far) } else { gap - gap / 2 };
        let exact = to - from - on_left - on_right;
        if self.step == 0 || is_first {
            exact
        } else {
            (exact - self.step).max(self.shortest())
        }
    }

    /// The part between two places; `None` where it is no part: nothing, too short or too long.
    fn part(
        &self,
        facts: &Facts<'_>,
        from: i128,
        to: i128,
        shortest: i128,
        longest: i128,
    ) -> Result<Option<Shape>, Breach> {
        let (is_first, is_last) = (from == 0, to == self.opening());
        let exact = self.part_length(from, to);
        if exact <= 0 || (exact < shortest && !(is_first && is_last)) {
            return Ok(None);
        }
        let ends = self.ends(is_first, is_last);
        if exact + facts.mitred(ends)?.all > longest {
            return Ok(None);
        }
        let length = length(exact)?;
        Ok(Some(Shape { length, ends }))
    }

    /// All parts between these places and the ends.
    fn all_parts(
        &self,
        facts: &Facts<'_>,
        inside: &[i128],
        shortest: i128,
        longest: i128,
    ) -> Result<Splits, Breach> {
        let opening = self.opening();
        let mut places = vec![0];
        places.extend(inside);
        places.push(opening);
        let last = places.len() - 1;
        let mut parts = vec![Vec::new(); places.len()];
        for (from, (&start, parts)) in places.iter().zip(&mut parts).enumerate() {
            for (to, &end) in places.iter().enumerate().skip(from + 1) {
                if to != last && self.part_length(start, end) > longest {
                    break;
                }
                if let Some(shape) = self.part(facts, start, end, shortest, longest)? {
                    parts.push((to, shape));
                }
            }
            // The last one may be shorter than those before it, by the gap at the end.
            if from < last && parts.last().is_none_or(|&(to, _)| to != last) {
                let shape = self.part(facts, start, opening, shortest, longest)?;
                parts.extend(shape.map(|shape| (last, shape)));
            }
        }
        Ok(Splits {
            places,
            parts,
            most_joints: u64::MAX,
        })
    }

    /// The splits that the rules leave over these places; `most` joints, or as many as the row says, or
    /// as few as it takes.
    pub fn splits(
        &self,
        facts: &Facts<'_>,
        inside: &[i128],
        reach: Longest,
        most: Option<u64>,
    ) -> Result<Result<Splits, NoWay>, Breach> {
        let all = self.all_parts(facts, inside, self.shortest(), reach.any)?;
        let Some(needed) = all.fewest_joints(|_| true) else {
            return Ok(Err(self.no_way(facts, inside, reach)?));
        };
        let most = match most.or(self.run.joints_max()) {
            Some(most) => most,
            None => {
                let unlimited = reach.unlimited.unwrap_or(0);
                let takes =
                    |shape: Shape| facts.mitred(shape.ends).map(|it| nm(shape.length) + it.all);
                let fits = |shape: Shape| takes(shape).is_ok_and(|takes| takes <= unlimited);
                all.fewest_joints(fits).unwrap_or(needed)
            }
        };
        if needed > most {
            return Ok(Err(NoWay::Joints { most, needed }));
        }
        Ok(Ok(all.with_at_most(most)))
    }

    fn no_way(&self, facts: &Facts<'_>, inside: &[i128], reach: Longest) -> Result<NoWay, Breach> {
        let of_any_length = self.all_parts(facts, inside, 1, reach.any)?;
        let layers = of_any_length.layers(|_| true, u64::MAX);
        let reached: BTreeSet<usize> = layers.into_iter().flatten().collect();
        let last = of_any_length.places.len() - 1;
        let farthest = reached.last().copied().unwrap_or(0);
        if farthest == last {
            return Ok(NoWay::Shortest);
        }
        let at = |place: usize| of_any_length.places.get(place).copied().unwrap_or(0);
        Ok(NoWay::Places {
            from: at(farthest),
            to: at(farthest + 1),
        })
    }

    /// What all parts with so many joints are long together.
    pub fn total(&self, joints: u64) -> i128 {
        let gaps = i128::from(joints) * nm(self.run.joint_gap());
        self.opening() - nm(self.piece.end_gap().near) - nm(self.piece.end_gap().far) - gaps
    }

    /// What the mitred ends of the parts with so many joints take: of the first, and of the last.
    pub fn mitred(&self, facts: &Facts<'_>, joints: u64) -> Result<(i128, i128), Breach> {
        if joints == 0 {
            return Ok((facts.mitred(self.piece.ends())?.all, 0));
        }
        let first = facts.mitred(self.ends(true, false))?.all;
        Ok((first, facts.mitred(self.ends(false, true))?.all))
    }

    /// Whether so many joints leave parts that fit a bar of this usable length, wherever they fall.
    pub fn can_have(
        &self,
        facts: &Facts<'_>,
        joints: u64,
        longest: i128,
        shortest: i128,
    ) -> Result<bool, Breach> {
        let total = self.total(joints);
        let (first, last) = self.mitred(facts, joints)?;
        if joints == 0 {
            return Ok(total > 0 && total + first <= longest);
        }
        let parts = i128::from(joints) + 1;
        let every_one = longest - first >= shortest && longest - last >= shortest;
        let together = parts * longest - first - last >= total && parts * shortest <= total;
        Ok(total > 0 && every_one && together)
    }

    /// How many joints the run may have, where they may fall anywhere.
    pub fn numbers(
        &self,
        facts: &Facts<'_>,
        reach: Longest,
    ) -> Result<Result<Numbers, NoWay>, Breach> {
        let fewest = |longest: i128, shortest: i128| -> Result<Option<u64>, Breach> {
            for joints in 0..=MOST_JOINTS {
                if self.can_have(facts, joints, longest, shortest)? {
                    return Ok(Some(joints));
                }
                if self.total(joints) <= 0 {
                    break;
                }
            }
            Ok(None)
        };
        let Some(needed) = fewest(reach.any, self.shortest())? else {
            let is_short = fewest(reach.any, 1)?.is_some();
            return Ok(Err(if is_short {
                NoWay::Shortest
            } else {
                NoWay::Bars
            }));
        };
        let most = match (self.run.joints_max(), reach.unlimited) {
            (Some(most), _) => most,
            (None, Some(unlimited)) => fewest(unlimited, self.shortest())?.unwrap_or(needed),
            (None, None) => needed,
        };
        if needed > most {
            return Ok(Err(NoWay::Joints { most, needed }));
        }
        Ok(Ok(Numbers {
            fewest: needed,
            most: most.min(MOST_JOINTS),
        }))
    }

    /// The least that the run takes of bars with a cut for each part, wherever the joints fall.
    pub fn takes(
        &self,
        facts: &Facts<'_>,
        numbers: Numbers,
        reach: Longest,
    ) -> Result<i128, Breach> {
        let mut least: Option<i128> = None;
        for joints in numbers.fewest..=numbers.most {
            if !self.can_have(facts, joints, reach.any, self.shortest())? {
                continue;
            }
            let (first, last) = self.mitred(facts, joints)?;
            let cuts = (i128::from(joints) + 1) * facts.cut();
            let takes = self.total(joints) + first + last + cuts;
            least = Some(least.map_or(takes, |least| least.min(takes)));
        }
        least.ok_or(Breach::TooLarge)
    }

    /// Where joints that may fall anywhere are rounded down to.
    pub fn rounded_places(&self) -> Vec<i128> {
        let gap = nm(self.run.joint_gap());
        let ends = self.piece.end_gap();
        let first = nm(ends.near) + self.shortest() + (gap - gap / 2);
        let last = self.opening() - nm(ends.far) - self.shortest() - gap / 2;
        let mut places = Vec::new();
        let mut place = first;
        while self.step > 0 && place <= last {
            places.push(place);
            place += self.step;
        }
        places
    }
}

impl Splits {
    /// The places that are first reached with no part, one part, and so on, by such parts only.
    fn layers(&self, may: impl Fn(Shape) -> bool, most_parts: u64) -> Vec<BTreeSet<usize>> {
        let mut known = BTreeSet::from([0]);
        let mut layers = vec![BTreeSet::from([0])];
        loop {
            let from = layers.last().into_iter().flatten();
            let parts = from.flat_map(|&place| self.parts.get(place).into_iter().flatten());
            let next: BTreeSet<usize> = parts
                .filter(|(to, shape)| may(*shape) && !known.contains(to))
                .map(|(to, _)| *to)
                .collect();
            if next.is_empty() || layers.len() as u64 > most_parts {
                return layers; // a count fits
            }
            known.extend(&next);
            layers.push(next);
        }
    }

    fn fewest_joints(&self, may: impl Fn(Shape) -> bool) -> Option<u64> {
        let end = self.places.len() - 1; // both ends are there
        let layers = self.layers(may, u64::MAX);
        let parts = layers.iter().position(|layer| layer.contains(&end))?;
        u64::try_from(parts).ok()?.checked_sub(1)
    }

    /// Only parts that some split of at most so many joints has.
    fn with_at_most(mut self, joints: u64) -> Splits {
        let end = self.places.len() - 1; // both ends are there
        let mut before = vec![u64::MAX; self.places.len()];
        for (layer, places) in (0_u64..).zip(self.layers(|_| true, u64::MAX)) {
            for place in places {
                if let Some(before) = before.get_mut(place) {
                    *before = layer;
                }
            }
        }
        let mut after = vec![u64::MAX; self.places.len()];
        if let Some(after) = after.get_mut(end) {
            *after = 0;
        }
        for from in (0..end).rev() {
            let parts = self.parts.get(from).into_iter().flatten();
            let fewest = parts
                .filter_map(|(to, _)| after.get(*to)?.checked_add(1))
                .min();
            if let Some(after) = after.get_mut(from) {
                *after = fewest.unwrap_or(u64::MAX);
            }
        }
        for (from, parts) in self.parts.iter_mut().enumerate() {
            let before = before.get(from).copied().unwrap_or(u64::MAX);
            parts.retain(|(to, _)| {
                let after = after.get(*to).copied().unwrap_or(u64::MAX);
                before.saturating_add(after) <= joints
            });
        }
        let inside = u64::try_from(self.places.len() - 2).unwrap_or(u64::MAX);
        self.most_joints = joints.min(inside);
        self
    }

    /// Every part that some split has.
    pub fn shapes(&self) -> impl Iterator<Item = Shape> {
        self.parts.iter().flatten().map(|&(_, shape)| shape)
    }

    /// The least, over all splits, of what parts and joints cost; `None` where there is no split or
    /// beyond 128 bits.
    pub fn least(
        &self,
        part: impl Fn(Shape) -> i128,
        joint: impl Fn(i128) -> i128,
    ) -> Option<i128> {
        let end = self.places.len() - 1; // both ends are there
        let mut cost: Vec<Option<i128>> = vec![None; self.places.len()];
        *cost.first_mut()? = Some(0);
        let mut best: Option<i128> = None;
        for _ in 0..=self.most_joints {
            let mut next: Vec<Option<i128>> = vec![None; self.places.len()];
            for (from, parts) in self.parts.iter().enumerate() {
                let Some(so_far) = cost.get(from).copied().flatten() else {
                    continue;
                };
                for &(to, shape) in parts {
                    let at_joint = if to == end {
                        0
                    } else {
                        joint(*self.places.get(to)?)
                    };
                    let sum = so_far.checked_add(part(shape))?.checked_add(at_joint)?;
                    let cell = next.get_mut(to)?;
                    *cell = Some(cell.map_or(sum, |known| known.min(sum)));
                }
            }
            let ended = next.get(end).copied().flatten();
            best = best.into_iter().chain(ended).min();
            if next.iter().all(Option::is_none) {
                break;
            }
            cost = next;
        }
        best
    }

    /// The most of a part in one split: exactly where that is quick, else what its places allow.
    pub fn most_of(&self, shape: Shape, kinds: usize) -> u64 {
        let parts: usize = self.parts.iter().map(Vec::len).sum();
        let layers = self.most_joints.saturating_add(1);
        let steps = (parts as u64)
            .saturating_mul(layers)
            .saturating_mul(kinds as u64); // counts fit
        if steps <= EXACT_STEPS {
            let least = self.least(|other| -i128::from(other == shape), |_| 0);
            return least.map_or(0, |least| u64::try_from(-least).unwrap_or(0));
        }
        let end = self.places.len() - 1; // both ends are there
        let mut lies = [0_u64; 3];
        for (from, parts) in self.parts.iter().enumerate() {
            for (to, _) in parts.iter().filter(|(_, other)| *other == shape) {
                match (from == 0, *to == end) {
                    (true, _) => lies[0] = 1,
                    (_, true) => lies[1] = 1,
                    _ => lies[2] = self.most_joints.saturating_sub(1),
                }
            }
        }
        lies.iter().sum()
    }
}
