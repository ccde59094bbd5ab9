//! Joints that may fall anywhere: how many, which places are tried, and what the runs take of the bars
//! wherever the joints fall.
//!
//! The places are a function of the job alone, or the first of these where there is no time for more.
//! What matters are lengths of parts that fill a bar: full bars from either end of a run; what another
//! piece leaves of a bar; and the chain that begins with such a part, goes on with what it leaves of its
//! run, and from there with what that leaves of a bar.

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests;

use std::collections::{BTreeSet, HashSet, VecDeque};
use std::ops::RangeInclusive;

use super::split::Parting;
use crate::job::{Material, Shape};
use crate::length::{Length, Unit};
use crate::plan::SplitRule;

/// Distinct parts of all runs together that are worth their rows in the linear program.
const MOST_PARTS: u64 = 320;
/// The same where lengths are finer than any tape, so that patterns are slow to price.
const MOST_FINE_PARTS: u64 = 60;
/// Places that each run gets at the least.
const FEWEST_PLACES: u64 = 12;
/// And where there is no time for more.
const FEW_PLACES: usize = 12;
/// Lengths of parts that the chains go through.
const MOST_LENGTHS: usize = 2_000;
/// How many pieces of one length a part shares a bar with.
const MOST_ALIKE: i64 = 3;
/// Marks on a tape, in nanometres.
const MILLIMETRE: i64 = 1_000_000;
const SIXTEENTH: i64 = 1_587_500;
/// Finer ones.
const TENTH: i64 = 100_000;
const SIXTY_FOURTH: i64 = 396_875;
/// Even parts are tried up to so many joints.
const MOST_EVEN: u64 = 10_000;
/// Joints that are many: what lies between places of several kinds is of too many lengths then.
const MANY: u64 = 50;
/// Parts of all runs with more joints than get places, each for every number of joints, that are worth their memory.
const MOST_BETWEEN: u64 = 5_000_000;

/// How many places are tried.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Trying {
    /// As many as are worth it: a function of the job alone.
    All,
    /// The first of them, for a plan where the time is over.
    Few,
}

/// The numbers of joints that a run may have: from the fewest that bars allow to the most.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Joints {
    pub fewest: u64,
    pub most: u64,
}

impl Parting<'_> {
    /// What all parts together are long with so many joints.
    fn total(&self, joints: u64) -> Option<i64> {
        let gaps = i64::try_from(joints)
            .ok()?
            .checked_mul(self.run.joint_gap().nm())?;
        let ends = self.piece.end_gap().total().nm();
        let total = self.piece.opening().nm() - ends;
        total.checked_sub(gaps).filter(|&total| total > 0)
    }

    /// The longest of the parts of at most so many joints is at least this long.
    pub fn least_longest(&self, joints: u64) -> Option<Length> {
        let parts = i64::try_from(joints).ok()?.checked_add(1)?;
        let total = self.total(joints)?;
        Length::from_nm(total.checked_add(parts - 1)?.checked_div(parts)?)
    }

    /// What the mitred ends of the part take at the place of `joints + 1`.
    fn mitre(&self, part: u64, joints: u64) -> i64 {
        let ends = self.ends(part == 0, part == joints);
        self.material.mitre_allowance(ends).nm()
    }

    /// Whether parts of so many joints can fit bars of this usable length, wherever the joints fall.
    fn is_possible(&self, joints: u64, usable: Length, shortest: i64) -> bool {
        let Some(total) = self.total(joints) else {
            return false;
        };
        if joints == 0 {
            return total + self.mitre(0, 0) <= usable.nm();
        }
        // The parts at the ends.
        let first = usable.nm() - self.mitre(0, joints);
        let last = usable.nm() - self.mitre(joints, joints);
        let parts = i128::from(joints) + 1;
        first.min(last) >= shortest
            && parts * i128::from(shortest) <= i128::from(total)
            && i128::from(total) <= self.room(joints, usable)
    }

    /// The most that parts of so many joints can come to.
    fn room(&self, joints: u64, usable: Length) -> i128 {
        let mitres = self.mitre(0, joints) + self.mitre(joints, joints);
        (i128::from(joints) + 1) * i128::from(usable.nm()) - i128::from(mitres)
    }

    /// The fewest joints of parts that fit bars of this usable length.
    fn fewest_of(&self, usable: Length, shortest: i64) -> Option<u64> {
        if self.is_possible(0, usable, shortest) {
            return Some(0);
        }
        Some(*self.parted(usable, shortest)?.start())
    }

    /// How many joints a run that is not left whole may have on bars of this usable length: each one more takes a
    /// gap off and adds a bar, but also a part that is not too short.
    fn parted(&self, usable: Length, shortest: i64) -> Option<RangeInclusive<u64>> {
        let whole = self.total(0)?;
        let apart = shortest.checked_add(self.run.joint_gap().nm())?;
        let most = whole.checked_sub(shortest)?.checked_div(apart)?;
        let most = u64::try_from(most).ok()?;
        let is_held = |joints: u64| {
            let total = self.total(joints);
            total.is_none_or(|total| i128::from(total) <= self.room(joints, usable))
        };
        let (mut fewest, mut enough) = (1, most);
        while fewest < enough {
            let middle = fewest + (enough - fewest) / 2;
            if is_held(middle) {
                enough = middle;
            } else {
                fewest = middle + 1;
            }
        }
        let is_possible = fewest <= most && self.is_possible(fewest, usable, shortest);
        is_possible.then_some(fewest..=most)
    }

    /// The fewest joints of parts that fit bars of which there are as many as wanted.
    fn fewest_of_unlimited(&self) -> Option<u64> {
        let usable = self.longest.unlimited?;
        self.fewest_of(usable, self.run.shortest().nm())
    }

    /// How many joints the run may have.
    pub fn joints_anywhere(&self) -> Result<Joints, SplitRule> {
        let longest = self.longest;
        let shortest = self.run.shortest().nm();
        let Some(needed) = self.fewest_of(longest.any, shortest) else {
            return Err(if self.fewest_of(longest.any, 1).is_some() {
                SplitRule::Shortest {
                    shortest: self.run.shortest(),
                }
            } else {
                SplitRule::Bars
            });
        };
        let most = match self.run.joints_max() {
            Some(most) => most,
            None => self.fewest_of_unlimited().unwrap_or(needed),
        };
        if needed > most {
            return Err(SplitRule::JointsMax { most, needed });
        }
        Ok(Joints {
            fewest: needed,
            most,
        })
    }

    /// The least that the run takes of bars, each part with a cut, wherever its joints fall.
    pub fn takes_anywhere(&self, joints: Joints) -> Option<i64> {
        let cut = self.material.cut_width().nm();
        let of = |joints: u64| {
            let mitred = if joints == 0 {
                self.mitre(0, 0)
            } else {
                self.mitre(0, joints) + self.mitre(joints, joints)
            };
            let cuts = i64::try_from(joints + 1).ok()?.checked_mul(cut)?;
            self.total(joints)?.checked_add(mitred)?.checked_add(cuts)
        };
        // With one joint more it is a cut more and a gap less, so the least is at one of the ends.
        let parted = self.parted(self.longest.any, self.run.shortest().nm());
        let parted = parted.and_then(|possible| {
            let fewest = (*possible.start()).max(joints.fewest);
            let most = (*possible.end()).min(joints.most);
            (fewest <= most).then_some([fewest, most])
        });
        let whole = (joints.fewest == 0).then_some(0);
        let numbers = whole.into_iter().chain(parted.into_iter().flatten());
        numbers.filter_map(of).min()
    }

    /// With so many joints, what each part is at least as long as, as `(part, count)`; and how much longer
    /// all together are than that.
    pub fn least_parts(&self, joints: u64) -> Option<(Vec<(Shape, u64)>, i64)> {
        let total = self.total(joints)?;
        let shape = |length: i64, ends| {
            let length = Length::from_nm(length)?;
            Some(Shape {
                length,
                ends,
                batch: self.piece.batch(),
            })
        };
        if joints == 0 {
            return Some((vec![(shape(total, self.piece.ends())?, 1)], 0));
        }
        let longest = self.longest.any.nm();
        let most = |part: u64| longest - self.mitre(part, joints);
        let all_others = |part: u64| {
            let between = i64::try_from(joints - 1).ok()?.checked_mul(longest)?;
            most(0)
                .checked_add(most(joints))?
                .checked_add(between)?
                .checked_sub(most(part))
        };
        let mut parts = Vec::new();
        let mut rest = total;
        for (part, count) in [(0, 1), (1, joints - 1), (joints, 1)] {
            if count == 0 {
                continue;
            }
            let least = (total - all_others(part)?).max(self.run.shortest().nm());
            let ends = self.ends(part == 0, part == joints);
            parts.push((shape(least, ends)?, count));
            rest -= least.checked_mul(i64::try_from(count).ok()?)?;
        }
        Some((parts, rest.max(0)))
    }

    /// The joints between parts of equal length, the last a little longer.
    fn even(&self, joints: u64) -> Vec<i64> {
        let (Some(total), Ok(parts)) = (self.total(joints), i64::try_from(joints + 1)) else {
            return Vec::new();
        };
        let part = self.readable(total / parts);
        let first = self.after(part);
        (0..parts - 1)
            .map(|joint| first + joint * (part + self.run.joint_gap().nm()))
            .collect()
    }

    /// The same for many joints, where what is rounded off all parts is too much for the last.
    fn spread(&self, joints: u64) -> Vec<i64> {
        let (Some(total), Ok(parts)) = (self.total(joints), i64::try_from(joints + 1)) else {
            return Vec::new();
        };
        let up_to = |part: i64| {
            let length = i128::from(total) * i128::from(part) / i128::from(parts);
            self.readable(i64::try_from(length).unwrap_or(total)) // at most the total
        };
        (1..parts)
            .map(|part| self.after(up_to(part)) + (part - 1) * self.run.joint_gap().nm())
            .collect()
    }

    /// The joints between full bars of this usable length, from the left.
    fn full(&self, joints: u64, usable: Length) -> Vec<i64> {
        let first = self.after(usable.nm() - self.mitre(0, joints));
        let apart = usable.nm() + self.run.joint_gap().nm();
        let inside = |place: &i64| *place > 0 && *place < self.piece.opening().nm();
        let joints = i64::try_from(joints).unwrap_or(0);
        let places = (0..joints).filter_map(|joint| first.checked_add(joint.checked_mul(apart)?));
        places.filter(inside).collect()
    }

    /// The joints between parts that fit bars of this usable length: full bars from the left, less what the parts
    /// behind them need to be long enough. It takes a number of joints with which such parts are possible.
    fn fitted(&self, joints: u64, usable: Length) -> Vec<i64> {
        let Some(mut rest) = self.total(joints) else {
            return Vec::new();
        };
        let (shortest, gap) = (self.run.shortest().nm().max(1), self.run.joint_gap().nm());
        let count = i64::try_from(joints).unwrap_or(0);
        let mut up_to = 0;
        let place = |joint: i64| {
            let mitre = if joint == 0 { self.mitre(0, joints) } else { 0 };
            let others = (count - joint).checked_mul(shortest)?;
            let part = (usable.nm() - mitre).min(rest - others);
            (up_to, rest) = (up_to + part, rest - part);
            Some(self.after(up_to) + joint * gap)
        };
        (0..count).map_while(place).collect()
    }

    /// Whether even parts fit bars of this usable length, and are long enough.
    fn is_held_evenly(&self, joints: u64, usable: Length) -> bool {
        let (Some(total), Ok(count)) = (self.total(joints), i64::try_from(joints)) else {
            return false;
        };
        let part = self.readable(total / (count + 1));
        let last = total - count * part; // no less than a part
        part >= self.run.shortest().nm()
            && part + self.mitre(0, joints) <= usable.nm()
            && last + self.mitre(joints, joints) <= usable.nm()
    }

    /// Joints without which the run may have no split at the places that were tried, or none whose parts all fit bars
    /// of which there are as many as wanted: where there are such bars and it is joined as they need it, from these
    /// alone. Longer ones take fewer joints, and all places may be theirs.
    fn missing(&self, joints: Joints, tried: &BTreeSet<i64>) -> Vec<i64> {
        let endless = self.longest.unlimited.zip(self.fewest_of_unlimited());
        let endless = endless.filter(|&(_, needed)| needed <= joints.most);
        let (usable, needed) = endless.unwrap_or((self.longest.any, joints.fewest));
        if needed > MANY {
            return Vec::new(); // what they begin with is for these bars
        }
        let is_tried = |places: &[i64]| places.iter().all(|place| tried.contains(place));
        if self.is_held_evenly(needed, usable) && is_tried(&self.even(needed)) {
            return Vec::new();
        }
        self.fitted(needed, usable)
    }

    /// Full bars where what is left over is a part, else even parts; nothing for more joints than are worth it.
    fn full_or_even(&self, joints: u64, usable: Length) -> Vec<i64> {
        if joints > MOST_EVEN {
            return Vec::new();
        }
        let rest = self.total(joints).and_then(|total| {
            let full =
                self.room(joints, usable) - i128::from(usable.nm() - self.mitre(joints, joints));
            i64::try_from(i128::from(total) - full).ok()
        });
        match rest {
            Some(rest) if rest >= self.run.shortest().nm() => self.full(joints, usable),
            _ => self.spread(joints),
        }
    }

    /// Of a run with more joints than get places: full bars and even parts, in the longest bars and in those of
    /// which there are as many as wanted; of very many joints only one of them, as all that lies between places of
    /// several would be a length of its own. With them, how many places there may be. Nothing where there are too
    /// many parts, each for every number of joints.
    fn many(&self, joints: Joints, most_parts: u64) -> (usize, BTreeSet<i64>) {
        let unlimited = self.longest.unlimited.unwrap_or(self.longest.any);
        let usual = self.usual(joints);
        if usual <= MANY {
            let of = |joints, usable| [self.spread(joints), self.full(joints, usable)].concat();
            let all: BTreeSet<i64> = [of(joints.fewest, self.longest.any), of(usual, unlimited)]
                .concat()
                .into_iter()
                .collect();
            let most = 2 * all.len();
            if self.parts_between(most, joints.fewest, joints) <= most_parts {
                return (most, all);
            }
        }
        let all: BTreeSet<i64> = self.full_or_even(usual, unlimited).into_iter().collect();
        // A bar that is longer than the usual ones may hold several of these parts in one.
        let parts = i64::try_from(usual).unwrap_or(i64::MAX).saturating_add(1);
        let part = self.piece.opening().nm() / parts;
        let together = self.longest.any.nm().checked_div(part).unwrap_or(1).max(1);
        let fewest = usual / together.unsigned_abs();
        match self.parts_between(all.len(), fewest, joints) <= most_parts {
            true => (all.len(), all),
            false => (0, BTreeSet::new()),
        }
    }

    /// The joints that the run takes of the bars of which there are as many as wanted.
    fn usual(&self, joints: Joints) -> u64 {
        let usual = self.fewest_of_unlimited().unwrap_or(joints.fewest);
        usual.min(joints.most)
    }

    /// About how many parts there are between so many places that lie evenly, each for every number of joints.
    fn parts_between(&self, places: usize, fewest: u64, joints: Joints) -> u64 {
        let places = places as u64; // a count fits
        let of_bar = u128::from(self.longest.any.nm().unsigned_abs()) * u128::from(places);
        let reach = of_bar / u128::from(self.piece.opening().nm().unsigned_abs().max(1)) + 1;
        let reach = u64::try_from(reach).unwrap_or(u64::MAX).min(places);
        let layers = joints.most.min(places).saturating_sub(fewest) + 1;
        places.saturating_mul(reach).saturating_mul(layers)
    }

    /// About how many parts there are between places rounded down, and how many for each number of joints.
    pub fn parts_rounded(&self, joints: Joints) -> Option<(u128, u128)> {
        let shortest = self.run.shortest().nm();
        let over = self.before(shortest) - self.after(shortest);
        let apart = |length: i64| {
            Some(u128::from(length.max(0).checked_div(self.step.nm())?.unsigned_abs()) + 1)
        };
        let places = apart(over)?;
        let reach = apart(self.longest.any.nm())?.min(places);
        let most = u128::from(joints.most).min(places);
        let layers = most.saturating_sub(u128::from(joints.fewest)) + 1;
        Some((places * reach, places * reach * layers))
    }

    /// Places for joints from the first that the shortest part allows, a step apart; `None` where two
    /// joints could be rounded to one place.
    pub fn places_rounded(&self) -> Option<Vec<(Length, Option<u32>)>> {
        let step = self.step.nm();
        let apart = self.run.shortest().nm() + self.run.joint_gap().nm();
        if step <= 0 || step > apart {
            return None;
        }
        let first = self.after(self.run.shortest().nm());
        let last = self.before(self.run.shortest().nm());
        let places = (0..).map(|place| first + place * step);
        let places = places.take_while(|&place| place <= last);
        Some(
            places
                .filter_map(|place| Some((Length::from_nm(place)?, None)))
                .collect(),
        )
    }

    /// A length rounded down to what a tape shows, where it is not bound to be something else.
    fn readable(&self, length: i64) -> i64 {
        let mark = match self.material.unit() {
            Unit::In | Unit::Ft => SIXTEENTH,
            _ => MILLIMETRE,
        };
        length / mark * mark
    }

    /// Where a joint lies so that the part on its left, beginning at the left end, is so long.
    fn after(&self, length: i64) -> i64 {
        length + self.piece.end_gap().near.nm() + self.halves().0.nm()
    }

    /// Where a joint lies so that the part on its right, ending at the right end, is so long.
    fn before(&self, length: i64) -> i64 {
        self.piece.opening().nm() - length - self.piece.end_gap().far.nm() - self.halves().1.nm()
    }
}

/// The places that are tried for each of these runs, none of which has places of its own.
pub(super) fn places(
    material: &Material,
    runs: &[(Parting<'_>, Joints)],
    trying: Trying,
) -> Vec<Vec<Length>> {
    if runs.is_empty() {
        return Vec::new(); // what follows goes through all pieces and bars
    }
    let most_parts = if is_coarse(material, runs) {
        MOST_PARTS
    } else {
        MOST_FINE_PARTS
    };
    let share = most_parts / u64::try_from(runs.len()).unwrap_or(u64::MAX).max(1);
    let most = runs.iter().map(|(_, joints)| {
        let places = if joints.most <= 1 {
            share / 2
        } else {
            (2 * share).isqrt()
        };
        places.max(FEWEST_PLACES)
    });
    let most_parts = MOST_BETWEEN / u64::try_from(runs.len()).unwrap_or(u64::MAX).max(1);
    let begun = runs.iter().zip(most).map(|((run, joints), most)| {
        let is_long = 2 * run.usual(*joints) > most;
        let most = usize::try_from(most).unwrap_or(usize::MAX);
        let (most, begun) = match is_long {
            false => (most, BTreeSet::new()),
            true => {
                let (many, begun) = run.many(*joints, most_parts);
                (most.max(many), begun)
            }
        };
        match trying {
            Trying::All => (most, begun),
            Trying::Few => (most.min(FEW_PLACES), begun),
        }
    });
    let (most, mut tried): (Vec<usize>, Vec<BTreeSet<i64>>) = begun.unzip();
    let usable = usable_lengths(material);
    let mut queue = seeds(material, runs, &usable);
    let mut known: HashSet<i64> = queue.iter().copied().collect();
    let cut = material.cut_width().nm();
    while let Some(length) = queue.pop_front() {
        if tried
            .iter()
            .zip(&most)
            .all(|(tried, &most)| tried.len() >= most)
        {
            break;
        }
        let mut next = Vec::new();
        next.extend(usable.iter().map(|usable| usable - cut - length));
        for ((tried, &most), (run, joints)) in tried.iter_mut().zip(&most).zip(runs) {
            if tried.len() < most {
                for place in around(run, *joints, length) {
                    if tried.len() < most {
                        tried.insert(place);
                    }
                }
            }
            next.extend(left_of_run(run, *joints, length));
        }
        for length in next {
            if length > 0 && known.len() < MOST_LENGTHS && known.insert(length) {
                queue.push_back(length);
            }
        }
    }
    for (tried, (run, joints)) in tried.iter_mut().zip(runs) {
        tried.extend(run.missing(*joints, tried));
    }
    let lengths = |tried: BTreeSet<i64>| tried.into_iter().filter_map(Length::from_nm).collect();
    tried.into_iter().map(lengths).collect()
}

/// Whether lengths are tenths of a millimetre or sixty-fourths of an inch.
fn is_coarse(material: &Material, runs: &[(Parting<'_>, Joints)]) -> bool {
    let pieces = material.pieces().iter();
    let takes = pieces.map(|piece| material.takes(piece.shape()).nm());
    let gaps = runs.iter().flat_map(|(run, _)| {
        let ends = run.piece.end_gap();
        [
            run.run.joint_gap(),
            ends.near,
            ends.far,
            run.piece.opening(),
        ]
        .map(Length::nm)
    });
    let mut all = usable_lengths(material)
        .into_iter()
        .chain(takes)
        .chain(gaps);
    all.all(|length| length % TENTH == 0 || length % SIXTY_FOURTH == 0)
}

fn usable_lengths(material: &Material) -> Vec<i64> {
    let bars = material.bars_to_be_had(None);
    let usable: BTreeSet<i64> = bars.map(|bar| bar.usable().nm()).collect();
    usable.into_iter().rev().collect()
}

/// Lengths of parts to begin with: even parts, full bars, the shortest part, even shares of a bar, and
/// what pieces leave of a bar.
fn seeds(material: &Material, runs: &[(Parting<'_>, Joints)], usable: &[i64]) -> VecDeque<i64> {
    let cut = material.cut_width().nm();
    let mut seeds = Vec::new();
    for (run, joints) in runs {
        let parts = i64::try_from(joints.fewest + 1).unwrap_or(i64::MAX);
        let even = run.total(joints.fewest).map(|total| total / parts);
        seeds.extend(even.map(|part| run.readable(part)));
        let mitres = [0, run.mitre(0, 1), run.mitre(1, 1)];
        seeds.extend(
            usable
                .iter()
                .flat_map(|usable| mitres.map(|mitre| usable - mitre)),
        );
        seeds.push(run.run.shortest().nm());
    }
    for usable in usable {
        let shares = (2..=4).map(|parts| (usable - (parts - 1) * cut) / parts);
        seeds.extend(shares.flat_map(|share| runs.first().map(|(run, _)| run.readable(share))));
    }
    let whole = material
        .pieces()
        .iter()
        .filter(|piece| piece.run().is_none());
    for piece in whole {
        let takes = material.takes(piece.shape()).nm() + cut;
        for usable in usable {
            seeds.extend((1..=MOST_ALIKE).map(|alike| usable - alike * takes));
        }
    }
    let mut known = HashSet::new();
    seeds
        .into_iter()
        .filter(|&length| length > 0 && known.insert(length))
        .collect()
}

/// Places that give a part of this length at one of the ends, and full bars next to it.
fn around(run: &Parting<'_>, joints: Joints, length: i64) -> Vec<i64> {
    let opening = run.piece.opening().nm();
    let step = run.longest.any.nm() + run.run.joint_gap().nm();
    let bars = i64::try_from(joints.most.clamp(1, MANY)).unwrap_or(1);
    let (after, before) = (run.after(length), run.before(length));
    let even = match joints.fewest {
        ..=MANY => run.even(joints.fewest),
        _ => Vec::new(),
    };
    let from_left = (0..bars).filter_map(|bar| after.checked_add(step.checked_mul(bar)?));
    let from_right = (0..bars).filter_map(|bar| before.checked_sub(step.checked_mul(bar)?));
    from_left
        .chain(from_right)
        .chain(even)
        .filter(|&place| place > 0 && place < opening)
        .collect()
}

/// What a part of this length leaves of its run, but for full bars.
fn left_of_run(run: &Parting<'_>, joints: Joints, length: i64) -> Option<i64> {
    let joints = joints.fewest.max(1);
    let total = run.total(joints)?;
    let others = i64::try_from(joints).ok()? - 1;
    let longest = run.longest.any.nm();
    let left = total - length - others.checked_mul(longest)?;
    (left > 0 && left <= longest).then_some(left)
}
