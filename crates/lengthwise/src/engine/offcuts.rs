//! Among packings of the same cost that take as little from hand: room for errors on every bar, then
//! offcuts as long as possible.
//!
//! Each step is a question that [`ask`] can settle. "Does every bar have at least so much to spare" is
//! the same instance on bars that are shorter by it. "Is there an offcut of at least x" is the same
//! instance with one bar that is shorter by x and its cut; it holds a piece, since a bar without any would
//! make the packing cheaper. When the longest offcut is known, that bar stays so short, and the next
//! is asked for. All of it is asked for every mix of bars of that cost.

use std::cmp::Reverse;

use itertools::Itertools;

use super::instance::{Instance, Kind, Packing, Pattern};
use super::joins::{Room, without_idle_joints};
use super::pool::Pool;
use super::question::{Reply, ask};
use super::refutation::Mix;
use super::scan::{Proof, mix_of, mixes_of_cost};
use super::work::Meter;
use crate::plan::Effort;

/// Offcuts that are made as long as possible, one after the other.
const MOST_OFFCUTS: usize = 12;
/// Work of one question: what is not settled soon is left open, so that others can be asked.
const MOST_WORK: u64 = 15_000_000;
/// Ways to spread the offcuts found so far over mixes and kinds of bar.
const MOST_WAYS: usize = 64;

/// How the sizes of an instance are measured: nanometres.
pub(crate) struct Measures {
    /// The length of one unit of size.
    pub unit: i64,
    /// What of a bar of each kind, and one cut, is left beside its whole units.
    pub rest: Vec<i64>,
    /// What a cut takes.
    pub cut: i64,
    /// The smallest spare is raised so far.
    pub largest_spare: i64,
    /// The item, of which there is one, that stands for a whole bar: alone on its bar it needs no spare.
    pub reserve: Option<u32>,
}

/// A figure, and what it is proven to be at the most.
pub(crate) type Found = (i64, Option<i64>);

/// What came of it, in nanometres.
pub(crate) struct Offcuts {
    pub packing: Packing,
    /// The smallest spare on any bar.
    pub spare: Found,
    /// The longest offcuts.
    pub offcuts: Vec<Found>,
    /// Whether only packings with the same bars were looked at.
    pub same_bars: bool,
}

/// A way to have the offcuts found so far: a mix of bars, and the kind of bar of each of them.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Way {
    mix: Mix,
    kinds: Vec<usize>,
}

/// What a question came to.
enum Told {
    Yes(Packing),
    No,
    Open,
}

/// What is still to be asked about one figure.
struct Range {
    /// More than this was not given.
    asked: i64,
    /// More than this is proven to be out of reach.
    proven: i64,
    is_first: bool,
}

impl Range {
    fn up_to(most: i64) -> Range {
        Range {
            asked: most,
            proven: most,
            is_first: true,
        }
    }

    /// What to ask for where `found` is there already: the most, then halves; `None` where nothing is left.
    fn next(&mut self, found: i64) -> Option<i64> {
        let half = found + (self.asked - found + 1) / 2;
        let tried = if self.is_first { self.asked } else { half };
        self.is_first = false;
        (self.asked > found).then_some(tried)
    }

    /// Takes in an answer; `below` is the next figure that there can be.
    fn tell(&mut self, told: &Told, below: i64) {
        match told {
            Told::Yes(_) => {}
            Told::No => (self.asked, self.proven) = (below, below),
            Told::Open => self.asked = below,
        }
    }
}

/// Makes the best of a packing whose cost, and whose second measure, no other undercuts. `is_whole`: whether
/// the packings of the instance are all there are.
pub(crate) fn offcuts(
    instance: &Instance,
    measures: &Measures,
    best: (i128, Packing),
    is_whole: bool,
    proof: &Proof,
    meter: &mut Meter<'_>,
    effort: &mut Effort,
) -> Offcuts {
    let (cost, packing) = best;
    let equal = mixes_of_cost(instance, &packing, cost, proof, meter);
    let mut asking = Asking {
        instance,
        measures,
        spare: 0,
        offcuts: Vec::new(),
        packing,
        meter,
        effort,
    };
    let ways = equal.mixes.into_iter().map(|mix| Way {
        mix,
        kinds: Vec::new(),
    });
    let mut ways: Vec<Way> = ways.collect();
    let spare = asking.raise_spare(&ways);
    let mut proven = Vec::new();
    while proven.len() < MOST_OFFCUTS && asking.offcut(proven.len()) > 0 {
        let found = asking.lengthen(&mut ways, proven.len());
        let is_settled = found.1 == Some(found.0);
        proven.push(found);
        if !is_settled {
            break;
        }
        asking.offcuts.push(found.0);
        if ways.is_empty() {
            break;
        }
    }
    asking.packing = without_idle_joints(instance, &asking.packing, Room::OfParts);
    let (mut spare, mut offcuts) = (spare, proven);
    // A joint less leaves as much, or a cut more.
    spare.0 = asking.smallest_spare();
    for (place, offcut) in offcuts.iter_mut().enumerate() {
        offcut.0 = asking.offcut(place);
    }
    if !(equal.are_all && is_whole) {
        // What others have is not known, but that no bar is longer than the longest.
        let bars = (0..instance.kinds.len()).map(|kind| asking.most_on(kind, 0));
        let longest = bars.max().unwrap_or(0) - measures.cut;
        spare.1 = Some(measures.largest_spare);
        for (place, offcut) in offcuts.iter_mut().enumerate() {
            offcut.1 = (place == 0).then_some(longest.max(offcut.0));
        }
    }
    Offcuts {
        packing: asking.packing,
        spare,
        offcuts,
        same_bars: equal.same_bars,
    }
}

/// The state of the questions.
struct Asking<'a, 'm> {
    instance: &'a Instance,
    measures: &'a Measures,
    /// What every bar has to spare.
    spare: i64,
    /// The offcuts that there must be.
    offcuts: Vec<i64>,
    packing: Packing,
    meter: &'a mut Meter<'m>,
    effort: &'a mut Effort,
}

impl Asking<'_, '_> {
    /// What the pieces of a pattern, and the cuts between them, leave of its bar.
    fn spare_of(&self, pattern: &Pattern) -> i64 {
        let capacity = self.instance.kind(pattern).capacity;
        let free = capacity - self.instance.filled(pattern);
        free * self.measures.unit + self.rest(pattern.kind as usize) // u32 into usize
    }

    fn rest(&self, kind: usize) -> i64 {
        self.measures.rest.get(kind).copied().unwrap_or(0)
    }

    /// Patterns on bars.
    fn bars(&self) -> impl Iterator<Item = &(Pattern, u32)> {
        let uses = self.packing.uses.iter();
        uses.filter(|(pattern, uses)| pattern.split.is_none() && *uses > 0)
    }

    fn smallest_spare(&self) -> i64 {
        self.smallest_of(&self.packing)
    }

    fn smallest_of(&self, packing: &Packing) -> i64 {
        let on_bars = packing.uses.iter();
        let on_bars = on_bars.filter(|(pattern, uses)| pattern.split.is_none() && *uses > 0);
        let cut = on_bars.filter(|(pattern, _)| !self.is_kept_whole(pattern));
        let spares = cut.map(|(pattern, _)| self.spare_of(pattern));
        spares.fold(self.measures.largest_spare, i64::min)
    }

    /// Whether nothing but room for a whole bar lies on it.
    fn is_kept_whole(&self, pattern: &Pattern) -> bool {
        let reserve = self.measures.reserve;
        reserve.is_some_and(|reserve| pattern.counts == [(reserve, 1)])
    }

    /// The length of an offcut, counted from the longest.
    fn offcut(&self, place: usize) -> i64 {
        let offcuts = self.bars().flat_map(|(pattern, uses)| {
            let offcut = (self.spare_of(pattern) - self.measures.cut).max(0);
            std::iter::repeat_n(offcut, *uses as usize) // u32 into usize
        });
        let mut longest = offcuts.k_smallest_by_key(place + 1, |offcut| Reverse(*offcut));
        longest.nth(place).unwrap_or(0)
    }

    /// Raises the smallest spare as far as any of the mixes allows.
    fn raise_spare(&mut self, ways: &[Way]) -> Found {
        let mut range = Range::up_to(self.measures.largest_spare);
        loop {
            self.spare = self.smallest_spare();
            let Some(tried) = range.next(self.spare) else {
                return (self.spare, Some(range.proven.max(self.spare)));
            };
            let told = self.any(ways, |asking, way| asking.ask(way, tried, None));
            let below = self.spare_below(tried, self.spare);
            range.tell(&told, below);
            if let Told::Yes(packing) = told {
                self.packing = packing;
            }
        }
    }

    /// The largest spare below `below` that sizes in whole units can leave, at least `found`.
    fn spare_below(&self, below: i64, found: i64) -> i64 {
        let kinds = self.measures.rest.iter();
        let on_kind = kinds.map(|&rest| {
            (below - 1 - rest).div_euclid(self.measures.unit) * self.measures.unit + rest
        });
        on_kind.max().unwrap_or(found).max(found)
    }

    /// Makes the offcut at this place as long as it can be, those before it being as long as they are;
    /// keeps the ways that have all of them.
    fn lengthen(&mut self, ways: &mut Vec<Way>, place: usize) -> Found {
        let longer = ways.iter().flat_map(|way| self.with_one_more(way));
        let longer: Vec<Way> = longer.dedup().collect();
        let most = longer.iter().map(|way| self.most_offcut(way)).max();
        let mut range = Range::up_to(most.unwrap_or(0));
        let (spare, cut) = (self.spare, self.measures.cut);
        loop {
            let found = self.offcut(place);
            let Some(tried) = range.next(found) else {
                if range.proven > found {
                    return (found, Some(range.proven));
                }
                let is_kept = longer.len() <= MOST_WAYS && self.keep(ways, longer, found);
                if !is_kept {
                    ways.clear();
                }
                return (found, Some(found));
            };
            let told = self.any(&longer, |asking, way| asking.ask(way, spare, Some(tried)));
            let below = self.spare_below(tried + cut, found + cut) - cut;
            range.tell(&told, below);
            if let Told::Yes(packing) = told {
                self.packing = packing;
            }
        }
    }

    /// The ways of which it is known that they have an offcut of this length besides; false where that
    /// was not settled for all.
    fn keep(&mut self, ways: &mut Vec<Way>, longer: Vec<Way>, offcut: i64) -> bool {
        let mut is_settled = true;
        ways.clear();
        if let [only] = &longer[..] {
            ways.push(only.clone());
            return true;
        }
        for way in longer {
            let has_room = self.most_offcut(&way) >= offcut;
            match has_room.then(|| self.ask(&way, self.spare, Some(offcut))) {
                Some(Told::Yes(_)) => ways.push(way),
                Some(Told::Open) => is_settled = false,
                Some(Told::No) | None => {}
            }
        }
        is_settled
    }

    /// One bar more of the mix has an offcut to be found, of any kind.
    fn with_one_more(&self, way: &Way) -> Vec<Way> {
        let kinds = self.instance.kinds.iter().enumerate();
        let left = |kind: usize| {
            let taken = way.kinds.iter().filter(|taken| **taken == kind).count();
            let bars = way.mix.get(kind).copied().unwrap_or(0) as usize; // u32 into usize
            bars > taken
        };
        let kinds = kinds.filter(|(place, kind)| kind.run.is_none() && left(*place));
        let with = |(place, _)| {
            let mut way = way.clone();
            way.kinds.push(place);
            way
        };
        kinds.map(with).collect()
    }

    /// No offcut is longer on the last bar of a way: what all pieces leave of all bars, and what the
    /// shortest piece leaves of that bar.
    fn most_offcut(&self, way: &Way) -> i64 {
        let Some(&kind) = way.kinds.last() else {
            return 0;
        };
        let bars = self.instance.kinds.iter().zip(&way.mix);
        let room: i128 = bars
            .map(|(kind, bars)| i128::from(kind.capacity) * i128::from(*bars))
            .sum();
        let pieces = self.instance.items.iter().skip(self.instance.windows);
        let filled = pieces
            .clone()
            .map(|item| i128::from(item.size) * i128::from(item.demand));
        let filled = filled.sum::<i128>() - self.given_back();
        let smallest = pieces.map(|item| item.size).min().unwrap_or(0);
        let earlier: i128 = self.offcuts.iter().map(|&offcut| i128::from(offcut)).sum();
        let rests = way.mix.iter().zip(&self.measures.rest);
        let rests: i128 = rests
            .map(|(&bars, &rest)| i128::from(bars) * i128::from(rest))
            .sum();
        let of_all = (room - filled) * i128::from(self.measures.unit) + rests - earlier;
        let of_all = i64::try_from(of_all).unwrap_or(i64::MAX);
        let of_bar = self.most_on(kind, smallest);
        let most = of_all.min(of_bar) - self.measures.cut;
        // On the scale on which offcuts on this kind lie.
        let (unit, rest) = (self.measures.unit, self.rest(kind) - self.measures.cut);
        let most = (most - rest).div_euclid(unit) * unit + rest;
        let longest = self.offcuts.last().copied().unwrap_or(i64::MAX);
        most.min(longest).max(0)
    }

    /// What a bar of a kind can leave, with a cut, beside a piece of this size; nothing of a run.
    fn most_on(&self, kind: usize, size: i64) -> i64 {
        let kind_of = self.instance.kinds.get(kind);
        let kind_of = kind_of.filter(|kind| kind.run.is_none());
        kind_of.map_or(0, |bar| {
            (bar.capacity - size) * self.measures.unit + self.rest(kind)
        })
    }

    /// How much of what is demanded for runs their shortest splits do not need.
    fn given_back(&self) -> i128 {
        let lengths = self.instance.lengths();
        let kinds = (0_u32..).zip(&self.instance.kinds);
        let most = kinds.filter_map(|(place, kind)| {
            let run = self.instance.run_of(place)?;
            let pattern = run.pattern(place, run.cheapest(&lengths)?);
            let in_windows = pattern.counts.iter();
            let in_windows =
                in_windows.filter(|(item, _)| (*item as usize) < self.instance.windows);
            let windows: i64 = in_windows
                .map(|&(item, count)| self.instance.size(item) * i64::from(count))
                .sum();
            let filled = self.instance.filled(&pattern) - windows;
            Some(i128::from(filled) * i128::from(kind.available.unwrap_or(0)))
        });
        most.sum()
    }

    /// Asks about one way after the other until one has it.
    fn any(&mut self, ways: &[Way], ask: impl Fn(&mut Self, &Way) -> Told) -> Told {
        let mut is_open = false;
        for way in ways {
            match ask(self, way) {
                Told::Yes(packing) => return Told::Yes(packing),
                Told::No => {}
                Told::Open => is_open = true,
            }
        }
        if is_open { Told::Open } else { Told::No }
    }

    /// Whether a way has this much to spare on every bar, and on its last bar this offcut.
    fn ask(&mut self, way: &Way, spare: i64, offcut: Option<i64>) -> Told {
        if self.meter.stopped().is_some() {
            return Told::Open;
        }
        let mut asked = self.instance.clone();
        for (place, kind) in asked.kinds.iter_mut().enumerate() {
            if kind.run.is_none() {
                kind.capacity = self.without(place, kind.capacity, spare);
            }
        }
        let is_exact = self.shorten_reserve(&mut asked, spare);
        let mut mix = way.mix.clone();
        let offcuts = self.offcuts.iter().copied().chain(offcut);
        let special = way.kinds.iter().zip(offcuts);
        let first = self.instance.kinds.len();
        for (&place, offcut) in special {
            let Some(kind) = self.instance.kinds.get(place) else {
                return Told::Open;
            };
            let without = (offcut + self.measures.cut).max(spare);
            asked.kinds.push(Kind {
                capacity: self.without(place, kind.capacity, without),
                available: Some(1),
                ..*kind
            });
            mix.push(1);
            match mix.get_mut(place) {
                Some(bars) if *bars > 0 => *bars -= 1,
                _ => return Told::No,
            }
        }
        for (kind, bars) in asked.kinds.iter_mut().zip(&mix) {
            if kind.run.is_none() && kind.capacity < 1 {
                if *bars > 0 {
                    return Told::No; // a bar that holds nothing
                }
                kind.capacity = 1;
            }
        }
        let mut pool = Pool::default();
        let mut meter = self.meter.part(MOST_WORK);
        let reply = ask(&asked, &mix, &mut meter, &mut pool, self.effort);
        let spent = meter.spent();
        self.meter.spend(spent);
        match reply {
            Reply::Holds(packing) => self.back(&asked, packing, way, first, spare),
            Reply::Refuted(_) | Reply::Exhausted { .. } if is_exact => Told::No,
            _ => Told::Open,
        }
    }

    /// Room for a whole bar is shorter by the spare too, so that it fits where it did; whether what does
    /// not fit then has no such spare.
    fn shorten_reserve(&self, asked: &mut Instance, spare: i64) -> bool {
        let Some(place) = self.measures.reserve.map(|item| item as usize) else {
            return true; // u32 into usize above
        };
        let kinds = self.instance.kinds.iter().enumerate();
        let bars = kinds.filter(|(_, kind)| kind.run.is_none());
        let shorter = bars.map(|(at, bar)| bar.capacity - self.without(at, bar.capacity, spare));
        let Ok(shorter) = shorter.dedup().exactly_one() else {
            return false;
        };
        let next = asked.items.get(place + 1).map_or(1, |item| item.size);
        match asked.items.get_mut(place) {
            // Items stay in order.
            Some(item) if item.size - shorter >= next.max(1) => {
                item.size -= shorter;
                true
            }
            _ => false,
        }
    }

    /// A capacity without so many nanometres.
    fn without(&self, kind: usize, capacity: i64, without: i64) -> i64 {
        capacity + (self.rest(kind) - without).div_euclid(self.measures.unit)
    }

    /// A packing in terms of the kinds there are; every bar of the mix must hold something.
    fn back(
        &self,
        asked: &Instance,
        packing: Packing,
        way: &Way,
        first: usize,
        spare: i64,
    ) -> Told {
        let Some(mut packing) = asked.settled(packing) else {
            return Told::Open;
        };
        // Beside room for a whole bar there may be less on its bar than was asked for.
        let is_offcut_there = |(pattern, _): &(Pattern, u32)| {
            let is_special = pattern.split.is_none() && pattern.kind as usize >= first;
            !is_special || self.instance.filled(pattern) <= asked.kind(pattern).capacity
        };
        if self.measures.reserve.is_some() && !packing.uses.iter().all(is_offcut_there) {
            return Told::Open;
        }
        for (pattern, _) in &mut packing.uses {
            let special = (pattern.kind as usize).checked_sub(first); // u32 into usize
            let place = special.and_then(|special| way.kinds.get(special));
            if let Some(kind) = place.and_then(|&place| u32::try_from(place).ok()) {
                pattern.kind = kind;
            }
        }
        let bars = mix_of(self.instance, &packing);
        let on_bars = self.instance.kinds.iter().zip(bars).zip(&way.mix);
        let mut on_bars = on_bars.filter(|((kind, _), _)| kind.run.is_none());
        let has_spare = self.measures.reserve.is_none() || self.smallest_of(&packing) >= spare;
        if has_spare && on_bars.all(|((_, bars), mix)| bars == *mix) {
            Told::Yes(packing)
        } else {
            Told::Open
        }
    }
}
