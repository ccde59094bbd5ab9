//! Joints that save nothing: parts beside each other on one bar that has room for both in one piece.
//!
//! Where more joints are allowed than a run needs, the cheapest packing may have such, as no cost speaks against
//! them; and each is work for the person and a seam that shows. Taking one out leaves every bar and every other
//! part as they are.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use super::instance::{Instance, Packing, Pattern};

/// Pairs of parts on bars that are looked up at most: a second, and far more than bars of a building hold.
const MOST_LOOKS: u64 = 30_000_000;

/// What a joined part may take of its bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Room {
    /// As much as there is.
    OfBar,
    /// No more than both parts and the cut between them.
    OfParts,
}

/// Two parts beside each other, the lesser first, and the one that covers both.
type Meeting = ((u32, u32), u32);

/// The same bars without joints that save nothing.
pub(crate) fn without_idle_joints(instance: &Instance, packing: &Packing, room: Room) -> Packing {
    let mut joining = Joining {
        instance,
        room,
        splits: Vec::new(),
        meeting: BTreeMap::new(),
        looks: 0,
    };
    let (splits, mut bars): (Vec<_>, Vec<_>) = packing.uses.iter().cloned().partition(is_split);
    for (split, uses) in splits {
        joining.add(split, uses);
    }
    if !joining.all_of(&mut bars) {
        return packing.clone();
    }
    // Parts that meet now may lie together on a bar that was looked at before.
    while joining.all_of(&mut bars) {}
    Packing {
        uses: each_once(bars.into_iter().chain(joining.splits)),
    }
}

fn is_split((pattern, _): &(Pattern, u32)) -> bool {
    pattern.split.is_some()
}

/// Every pattern that is used once, where it stands first.
fn each_once(uses: impl Iterator<Item = (Pattern, u32)>) -> Vec<(Pattern, u32)> {
    let mut once: Vec<(Pattern, u32)> = Vec::new();
    let mut places: HashMap<Pattern, usize> = HashMap::new();
    for (pattern, uses) in uses.filter(|(_, uses)| *uses > 0) {
        let place = *places.entry(pattern.clone()).or_insert(once.len());
        match once.get_mut(place) {
            Some((_, all)) => *all += uses, // no more than there were
            None => once.push((pattern, uses)),
        }
    }
    once
}

/// Splits, and what could be joined in them.
struct Joining<'i> {
    instance: &'i Instance,
    room: Room,
    splits: Vec<(Pattern, u32)>,
    /// For each pair of parts, by the lesser and the other, what would be in their place, and the split that has
    /// a joint between them.
    meeting: BTreeMap<u32, BTreeMap<u32, Vec<(u32, usize)>>>,
    looks: u64,
}

impl Joining<'_> {
    fn add(&mut self, split: Pattern, uses: u32) {
        let place = self.splits.len();
        let meetings: BTreeSet<Meeting> =
            self.meetings(&split).map(|(_, meeting)| meeting).collect();
        self.looks += split.split.as_ref().map_or(0, Vec::len) as u64; // a count fits
        for ((one, other), both) in meetings {
            let others = self.meeting.entry(one).or_default();
            others.entry(other).or_default().push((both, place));
        }
        self.splits.push((split, uses));
    }

    /// The joints of a split, by their place among them, whose two parts are also to be had as one.
    fn meetings<'s>(&'s self, split: &'s Pattern) -> impl Iterator<Item = (usize, Meeting)> + 's {
        let joints = split.split.as_deref().unwrap_or_default();
        let run = self.instance.run_of(split.kind);
        let at_joint = move |(place, &at): (usize, &u32)| {
            let run = run?;
            let left = place.checked_sub(1).and_then(|left| joints.get(left));
            let from = left.copied().unwrap_or(0);
            let to = joints.get(place + 1).copied().unwrap_or(run.end());
            let (one, other) = (run.part(from, at)?, run.part(at, to)?);
            let both = run.part(from, to)?;
            Some((place, ((one.min(other), one.max(other)), both)))
        };
        joints.iter().enumerate().filter_map(at_joint)
    }

    /// All bars, with parts on them joined; whether any were.
    fn all_of(&mut self, bars: &mut Vec<(Pattern, u32)>) -> bool {
        let splits = self.splits.len();
        let all = std::mem::take(bars).into_iter();
        *bars = all.flat_map(|(bar, uses)| self.joined(bar, uses)).collect();
        self.splits.len() > splits
    }

    /// A bar that is used so often, with parts on it joined as long as any can be.
    fn joined(&mut self, bar: Pattern, uses: u32) -> Vec<(Pattern, u32)> {
        let (mut open, mut done) = (vec![(bar, uses)], Vec::new());
        while let Some((bar, uses)) = open.pop() {
            let found = self.found_on(&bar);
            let joined = found.and_then(|(place, meeting)| {
                let times = self.join(place, meeting, uses)?;
                Some((with_both_as_one(&bar, meeting), times))
            });
            match joined {
                None => done.push((bar, uses)),
                Some((joined, times)) => {
                    open.push((bar, uses - times));
                    open.push((joined, times));
                    open.retain(|(_, uses)| *uses > 0);
                }
            }
        }
        done
    }

    /// A split with a joint between two parts on this bar that has room for both as one.
    fn found_on(&mut self, bar: &Pattern) -> Option<(usize, Meeting)> {
        let parts = bar.counts.iter().enumerate();
        let parts = parts.filter_map(|(at, &(one, count))| {
            let beside = bar.counts.get(at + usize::from(count < 2)..)?;
            Some((one, beside, self.meeting.get(&one)?))
        });
        let mut looks = self.looks;
        let pairs = parts.flat_map(|(one, beside, others)| {
            beside
                .iter()
                .map(move |&(other, _)| (one, other, others.get(&other)))
        });
        let ways = pairs.flat_map(|(one, other, ways)| {
            let ways = ways.map_or(&[][..], Vec::as_slice).iter();
            let ways = ways.map(move |&(both, place)| Some((place, ((one, other), both))));
            ways.chain([None]) // a pair without any is a look too
        });
        let is_there = |&(place, meeting): &(usize, Meeting)| {
            let is_used = self.splits.get(place).is_some_and(|(_, uses)| *uses > 0);
            is_used && self.has_room(bar, meeting)
        };
        let ways = ways.take_while(|_| {
            looks += 1;
            looks <= MOST_LOOKS
        });
        let found = ways.flatten().find(is_there);
        self.looks = looks;
        found
    }

    fn has_room(&self, bar: &Pattern, ((one, other), both): Meeting) -> bool {
        let size = |item| self.instance.size(item);
        let longer = size(both) - size(one) - size(other);
        let free = match self.room {
            Room::OfBar => self.instance.kind(bar).capacity - self.instance.filled(bar),
            Room::OfParts => 0,
        };
        longer <= free
    }

    /// Takes the joint out of up to so many copies of a split; of how many.
    fn join(&mut self, place: usize, meeting: Meeting, most: u32) -> Option<u32> {
        let (split, uses) = self.splits.get(place)?;
        let joint = {
            let mut meetings = self.meetings(split);
            meetings.find(|(_, other)| *other == meeting)?.0
        };
        let mut joints = split.split.clone()?;
        joints.remove(joint); // its place among them
        let joined = self.instance.split(split.kind, joints)?;
        let times = most.min(*uses);
        if let Some((_, uses)) = self.splits.get_mut(place) {
            *uses -= times; // no more than there are
        }
        self.add(joined, times);
        Some(times)
    }
}

/// The bar with one part in place of two.
fn with_both_as_one(bar: &Pattern, ((one, other), both): Meeting) -> Pattern {
    let mut counts: BTreeMap<u32, u32> = bar.counts.iter().copied().collect();
    for part in [one, other] {
        counts
            .entry(part)
            .and_modify(|count| *count = count.saturating_sub(1));
    }
    *counts.entry(both).or_default() += 1;
    Pattern {
        counts: counts.into_iter().filter(|(_, count)| *count > 0).collect(),
        ..bar.clone()
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use proptest::prelude::*;

    use super::super::instance::{Item, Kind};
    use super::super::runs::Run;
    use super::*;

    /// The longest part, in places.
    const LONGEST: u32 = 6;
    /// What a bar holds, and what a place is long.
    const BAR: i64 = 63;
    const PLACE: i64 = 10;

    /// Runs of so many places each, of so many copies, any part of which takes a cut less a gap beside its length.
    fn instance(runs: &[(u32, u32)], cut: i64) -> Instance {
        let sizes = (0..LONGEST).map(|item| i64::from(LONGEST - item) * PLACE + cut);
        let items = sizes.map(|size| Item {
            size,
            demand: 0,
            batch: None,
        });
        let kind = |available: Option<u32>, run| Kind {
            capacity: if available.is_none() { BAR } else { 1 },
            cost: i64::from(available.is_none()),
            available,
            pack: 1,
            tie: 0,
            run,
            batch: 0,
        };
        let mut instance = Instance {
            items: items.collect(),
            kinds: vec![kind(None, None)],
            ..Instance::default()
        };
        for (number, &(places, copies)) in (0..).zip(runs) {
            let reach = |from: u32| {
                let to = from + 1..=(from + LONGEST).min(places);
                to.map(|to| (to, LONGEST - (to - from))).collect()
            };
            let run = Run::new((0..=places).map(reach).collect(), Vec::new(), places);
            for &(item, most) in run.most() {
                instance.items[item as usize].demand += most * copies;
            }
            instance.kinds.push(kind(Some(copies), Some(number)));
            instance.runs.push(run);
        }
        instance
    }

    /// Every copy split at its own joints, and the parts on bars as they come.
    fn packed(instance: &Instance, joints: &[Vec<Vec<u32>>]) -> Packing {
        let mut packing = Packing::default();
        let mut bars: Vec<Vec<u32>> = vec![Vec::new()];
        for (kind, copies) in (1..).zip(joints) {
            for joints in copies {
                let run = instance.run_of(kind).unwrap();
                let parts = run.parts_of(joints);
                assert_eq!(parts.len(), joints.len() + 1);
                for part in parts {
                    let taken =
                        |bar: &[u32]| bar.iter().map(|&item| instance.size(item)).sum::<i64>();
                    if taken(bars.last().unwrap()) + instance.size(part) > BAR {
                        bars.push(Vec::new());
                    }
                    bars.last_mut().unwrap().push(part);
                }
                packing.uses.push((run.pattern(kind, joints.clone()), 1));
            }
        }
        for bar in bars {
            let mut counts = BTreeMap::new();
            for part in bar {
                *counts.entry(part).or_default() += 1;
            }
            let pattern = Pattern {
                kind: 0,
                counts: counts.into_iter().collect(),
                split: None,
            };
            packing.uses.push((pattern, 1));
        }
        packing.uses = each_once(packing.uses.into_iter());
        packing
    }

    /// What is cut less what is needed, item by item.
    fn surplus(instance: &Instance, packing: &Packing) -> Vec<i64> {
        let items = instance.items.iter();
        let mut surplus: Vec<i64> = items.map(|item| -i64::from(item.demand)).collect();
        for (pattern, uses) in &packing.uses {
            for &(item, count) in &pattern.counts {
                surplus[item as usize] += i64::from(count) * i64::from(*uses);
            }
        }
        surplus
    }

    /// Every joint between two parts that lie on one bar together, where the one part in their place fits, looked
    /// for one by one.
    fn idle_joints(instance: &Instance, packing: &Packing, room: Room) -> usize {
        let parts_of = |split: &Pattern| {
            let run = instance.run_of(split.kind).unwrap();
            run.parts_of(split.split.as_ref().unwrap())
        };
        let splits = packing
            .uses
            .iter()
            .filter(|(pattern, _)| pattern.split.is_some());
        let is_idle = |one: u32, other: u32| {
            let places = 2 * LONGEST - one - other;
            if places > LONGEST {
                return false;
            }
            let both = LONGEST - places;
            let longer = instance.size(both) - instance.size(one) - instance.size(other);
            packing
                .uses
                .iter()
                .filter(|(pattern, _)| pattern.split.is_none())
                .any(|(bar, _)| {
                    let count = |item| {
                        let mut counts = bar.counts.iter();
                        counts
                            .find(|&&(it, _)| it == item)
                            .map_or(0, |&(_, count)| count)
                    };
                    let are_there = match one == other {
                        true => count(one) > 1,
                        false => count(one) > 0 && count(other) > 0,
                    };
                    let free = match room {
                        Room::OfBar => BAR - instance.filled(bar),
                        Room::OfParts => 0,
                    };
                    are_there && longer <= free
                })
        };
        let of_split = |split: &Pattern| {
            let parts = parts_of(split);
            parts
                .windows(2)
                .filter(|pair| is_idle(pair[0], pair[1]))
                .count()
        };
        splits.map(|(split, _)| of_split(split)).sum()
    }

    fn copies() -> impl Strategy<Value = Vec<(u32, Vec<Vec<u32>>)>> {
        let run = (2_u32..12).prop_flat_map(|places| {
            let inside: Vec<u32> = (1..places).collect();
            let most = inside.len();
            let joints = prop::sample::subsequence(inside, 0..=most);
            let is_short = move |joints: &Vec<u32>| {
                let stops = joints.iter().copied().chain([places]);
                let starts = [0].into_iter().chain(joints.iter().copied());
                starts.zip(stops).all(|(from, to)| to - from <= LONGEST)
            };
            let joints = joints.prop_filter("parts that fit", is_short);
            (Just(places), prop::collection::vec(joints, 1..5))
        });
        prop::collection::vec(run, 1..4)
    }

    proptest! {
        /// The same bars, everything cut exactly, and no joint left that saves nothing; by the plain definition.
        #[test]
        fn no_idle_joint_is_left(
            runs in copies(),
            cut in -4_i64..4,
            room in prop::sample::select(vec![Room::OfBar, Room::OfParts]),
        ) {
            let sizes: Vec<(u32, u32)> = runs.iter().map(|(places, joints)| (*places, joints.len() as u32)).collect();
            let instance = instance(&sizes, cut);
            let joints: Vec<_> = runs.into_iter().map(|(_, joints)| joints).collect();
            let packing = packed(&instance, &joints);
            prop_assert!(surplus(&instance, &packing).iter().all(|&surplus| surplus == 0));
            let without = without_idle_joints(&instance, &packing, room);
            prop_assert_eq!(idle_joints(&instance, &without, room), 0);
            prop_assert!(surplus(&instance, &without).iter().all(|&surplus| surplus == 0));
            prop_assert_eq!(instance.cost_of(&without), instance.cost_of(&packing));
            let bars = without.uses.iter().filter(|(pattern, _)| pattern.split.is_none());
            for (bar, _) in bars {
                prop_assert!(instance.filled(bar) <= BAR);
            }
            let copies = |packing: &Packing| -> BTreeMap<u32, u32> {
                let mut copies = BTreeMap::new();
                for (pattern, uses) in &packing.uses {
                    *copies.entry(pattern.kind).or_default() += uses;
                }
                copies
            };
            prop_assert_eq!(copies(&without), copies(&packing));
            if idle_joints(&instance, &packing, room) == 0 {
                prop_assert_eq!(without, packing.clone());
            }
        }
    }
}
