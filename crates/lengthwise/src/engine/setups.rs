//! Among plans of the same cost: as few patterns as possible, then as few settings of the stop.
//!
//! A bound on the number of patterns comes from prices ([`floor`]). Then patterns are combined, a few at a
//! time ([`local`]), and where the two do not meet, plans with just as many patterns as the bound are
//! searched for, then with one more ([`search`]): a search that comes to its end without one raises the
//! bound. Cost and second measure stay as they are throughout.

mod floor;
mod local;
mod parts;
mod search;
mod sequence;
mod space;
mod together;

use std::collections::BTreeSet;

use super::instance::{Instance, Packing};
use super::joins::{Room, without_idle_joints};
use super::work::Meter;
use floor::floors;
use local::{Uses, Walk};
use parts::{Others, certain, least_moves, only_of_parts, plan_without};
use search::{Search, Verdict};
use space::{Space, on_bars, without_runs};

/// Combining patterns may take one part in so many of the work.
const SHARE_OF_WALK: u64 = 2;
/// And no more than this, so that under a clock alone there is time for proof.
const MOST_WALK: u64 = 3_000_000_000;
/// Where there are runs, a bound for all their splits may take one part in so many.
const SHARE_OF_BOUND: u64 = 4;
/// Where runs can be split otherwise, one attempt may take one part in so many of what is left.
const SHARE_OF_SPLITS: u64 = 8;

/// The plan with the fewest patterns that was found, and what is proven.
#[derive(Clone, Debug)]
pub(crate) struct Setups {
    pub packing: Packing,
    /// Ways of cutting a bar.
    pub patterns: u32,
    /// No plan of this cost has fewer.
    pub patterns_bound: u32,
    /// Settings of the stop.
    pub moves: u32,
    /// No plan of this cost and with so few patterns has fewer.
    pub moves_bound: u32,
}

/// What the engine knows of the plan.
#[derive(Clone, Copy)]
pub(crate) struct Known<'k> {
    pub instance: &'k Instance,
    /// Settled.
    pub packing: &'k Packing,
    /// Prices of the items and their scale.
    pub prices: &'k [i64],
    pub scale: i64,
    /// For each item the setting of the stop that it is cut at, if it is cut at the stop.
    pub stops: &'k [Option<u32>],
    /// Whether joints may also fall where they were not tried.
    pub tried_only: bool,
}

/// Looks for the plan with the fewest patterns, among plans of the same cost and second measure.
pub(crate) fn fewest_setups(known: Known<'_>, meter: &mut Meter<'_>) -> Setups {
    let instance = known.instance;
    if instance.runs.is_empty() {
        let (found, patterns_bound) = combined(known, known.packing, meter.left(), meter);
        let moves = found.moves;
        return found.claimed(patterns_bound, moves);
    }
    let patterns_bound = with_any_splits(&known, meter);
    let work = meter.left() / SHARE_OF_SPLITS;
    let (mut best, _) = combined(known, known.packing, work, meter);
    while let Some(better) = with_other_splits(known, &best, patterns_bound, meter) {
        best = better;
    }
    best.without_idle_joints(known).claimed(
        patterns_bound,
        least_moves(instance, known.stops, known.tried_only),
    )
}

/// A plan with fewer patterns, or as many and fewer settings, whose runs are split otherwise: without a
/// length that the plan has.
fn with_other_splits(
    known: Known<'_>,
    best: &Counted,
    patterns_bound: u32,
    meter: &mut Meter<'_>,
) -> Option<Counted> {
    let least_moves = least_moves(known.instance, known.stops, known.tried_only);
    if (best.patterns, best.moves) == (patterns_bound, least_moves) {
        return None;
    }
    for others in [Others::Known, Others::Any] {
        for item in only_of_parts(known.instance, &best.packing) {
            if meter.stopped().is_some() {
                return None;
            }
            let work = meter.left() / SHARE_OF_SPLITS;
            let without = (item, others);
            let found = plan_without(known.instance, &best.packing, without, work, meter);
            let found = found.map(|packing| combined(known, &packing, work, meter).0);
            let is_better =
                |found: &Counted| (found.patterns, found.moves) < (best.patterns, best.moves);
            if let Some(found) = found.filter(is_better) {
                return Some(found);
            }
        }
    }
    None
}

/// A plan, and what there is to count of it.
struct Counted {
    packing: Packing,
    patterns: u32,
    moves: u32,
}

impl Counted {
    fn of(packing: Packing, stops: &[Option<u32>]) -> Counted {
        Counted {
            patterns: count(on_bars(&packing).len()),
            moves: moves(&packing, stops),
            packing,
        }
    }

    /// The same bars with fewer joints, where that takes no more setups.
    fn without_idle_joints(self, known: Known<'_>) -> Counted {
        let packing = without_idle_joints(known.instance, &self.packing, Room::OfBar);
        let without = Counted::of(packing, known.stops);
        let is_worse = (without.patterns, without.moves) > (self.patterns, self.moves);
        if is_worse { self } else { without }
    }

    fn claimed(self, patterns_bound: u32, moves_bound: u32) -> Setups {
        Setups {
            patterns: self.patterns,
            patterns_bound: patterns_bound.min(self.patterns),
            moves: self.moves,
            moves_bound: moves_bound.min(self.moves),
            packing: self.packing,
        }
    }
}

/// The plan with patterns combined, its splits as they are; and with such splits no plan has fewer
/// patterns than this.
fn combined(
    known: Known<'_>,
    packing: &Packing,
    work: u64,
    meter: &mut Meter<'_>,
) -> (Counted, u32) {
    let instance = known.instance;
    let (cost, tie) = (instance.cost_of(packing), instance.tie_of(packing));
    let plain = without_runs(instance, packing);
    let mut part = meter.part(work);
    let prices = Some((known.prices, known.scale)).filter(|_| !known.tried_only);
    let mut space = Space::new(&plain, (cost, tie), prices, &mut part);
    let uses = on_bars(packing);
    space.floors = floors(&plain, &bars_only(packing), cost, &mut part);
    let bound = space.needs(&space.start());
    let until = part.spent() + (part.left() / SHARE_OF_WALK).min(MOST_WALK);
    let mut walk = Walk::new(&space, uses, bound as usize, until, &mut part); // u32 into usize
    walk.run();
    let uses = walk.best;
    let (uses, bound) = prove(&space, uses, bound, &mut part);
    meter.spend(part.spent());
    let packing = with_splits_of(packing, uses);
    (Counted::of(packing, known.stops), bound)
}

fn count(number: usize) -> u32 {
    u32::try_from(number).unwrap_or(u32::MAX)
}

/// Searches for plans with as many patterns as the bound, then with one more, until one is found or the
/// work is spent.
fn prove(space: &Space<'_>, uses: Uses, mut bound: u32, meter: &mut Meter<'_>) -> (Uses, u32) {
    while (bound as usize) < uses.len() {
        if meter.stopped().is_some() {
            break;
        }
        let mut search = Search::new(space, space.start(), u64::MAX, meter);
        match search.find(bound) {
            Verdict::Found => return (local::merged(search.chosen), bound),
            Verdict::None => bound += 1,
            Verdict::GivenUp => break,
        }
    }
    (uses, bound)
}

/// The bars of a packing without the splits of runs.
fn bars_only(packing: &Packing) -> Packing {
    Packing {
        uses: on_bars(packing),
    }
}

/// At least so many patterns are needed, however runs are split.
fn with_any_splits(known: &Known<'_>, meter: &mut Meter<'_>) -> u32 {
    let Known {
        instance, packing, ..
    } = *known;
    if known.tried_only {
        // Elsewhere there may be other parts: what counts is that the pieces lie on some bars.
        let needed = certain(instance);
        return space::by_distinct(instance, &needed).max(1);
    }
    let cost = instance.cost_of(packing);
    let mut part = meter.part(meter.left() / SHARE_OF_BOUND);
    let floors = floors(instance, packing, cost, &mut part);
    meter.spend(part.spent());
    let start = space::State {
        demand: instance.whole().demand,
        used: vec![0; instance.kinds.len()],
        losses: [0; space::GAUGES],
    };
    let needs = floors
        .iter()
        .map(|floor| floor.needs(instance, cost, &start));
    needs.max().unwrap_or(0).max(1)
}

/// The same splits, other patterns.
fn with_splits_of(packing: &Packing, uses: Uses) -> Packing {
    let splits = packing
        .uses
        .iter()
        .filter(|(pattern, _)| pattern.split.is_some());
    Packing {
        uses: uses.into_iter().chain(splits.cloned()).collect(),
    }
}

/// How often the stop is set: once for each setting.
fn moves(packing: &Packing, stops: &[Option<u32>]) -> u32 {
    let items = on_bars(packing)
        .into_iter()
        .flat_map(|(pattern, _)| pattern.counts);
    let stops: BTreeSet<u32> = items
        .filter_map(|(item, _)| stops.get(space::place(item)).copied().flatten())
        .collect();
    count(stops.len())
}
