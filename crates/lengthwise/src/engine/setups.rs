//! Among plans of the same cost: as few patterns as possible, then as few settings of the stop.
//!
//! A bound on the number of patterns comes from prices ([`floor`]). Then patterns are combined, a few at a
//! time ([`local`]), and where the two do not meet, plans with just as many patterns as the bound are
//! searched for, then with one more ([`search`]): a search that comes to its end without one raises the
//! bound. Cost and second measure stay as they are throughout.

mod floor;
mod local;
mod search;
mod space;
mod together;

use std::collections::BTreeSet;

use super::instance::{Instance, Packing};
use super::work::Meter;
use floor::floors;
use local::{Uses, Walk};
use search::{Search, Verdict};
use space::{Space, on_bars, without_runs};

/// Combining patterns may take one part in so many of the work.
const SHARE_OF_WALK: u64 = 2;

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
}

/// Looks for the plan with the fewest patterns, among plans of the same cost and second measure.
pub(crate) fn fewest_setups(known: Known<'_>, meter: &mut Meter<'_>) -> Setups {
    let Known {
        instance, packing, ..
    } = known;
    let (cost, tie) = (instance.cost_of(packing), instance.tie_of(packing));
    let plain = without_runs(instance, packing);
    let prices = Some((known.prices, known.scale));
    let mut space = Space::new(&plain, (cost, tie), prices, meter);
    let uses = on_bars(packing);
    space.floors = floors(&plain, &bars_only(packing), cost, meter);
    let bound = space.needs(&space.start());
    let walk_end = meter.spent() + meter.left() / SHARE_OF_WALK;
    let enough = bound as usize; // u32 into usize
    let mut walk = Walk::new(&space, uses, enough, walk_end, meter);
    walk.run();
    let uses = walk.best;
    let (uses, bound) = prove(&space, uses, bound, meter);
    let patterns = u32::try_from(uses.len()).unwrap_or(u32::MAX);
    let patterns_bound = if instance.runs.is_empty() {
        bound
    } else {
        with_any_splits(instance, packing, cost, meter)
    };
    let packing = with_splits_of(packing, uses);
    let moves = moves(&packing, known.stops);
    Setups {
        patterns,
        patterns_bound: patterns_bound.min(patterns),
        moves,
        moves_bound: if instance.runs.is_empty() { moves } else { 0 },
        packing,
    }
}

/// Searches for plans with as many patterns as the bound, then with one more, until one is found or the
/// work is spent.
fn prove(
    space: &Space<'_>,
    uses: Uses,
    mut bound: u32,
    meter: &mut Meter<'_>,
) -> (Uses, u32) {
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
fn with_any_splits(
    instance: &Instance,
    packing: &Packing,
    cost: i128,
    meter: &mut Meter<'_>,
) -> u32 {
    let floors = floors(instance, packing, cost, meter);
    let start = space::State {
        demand: instance.whole().demand,
        used: vec![0; instance.kinds.len()],
        losses: [0; space::GAUGES],
    };
    let needs = floors.iter().map(|floor| floor.needs(instance, cost, &start));
    needs.max().unwrap_or(0).max(1)
}

/// The same splits, other patterns.
fn with_splits_of(packing: &Packing, uses: Uses) -> Packing {
    let splits = packing.uses.iter().filter(|(pattern, _)| pattern.split.is_some());
    Packing {
        uses: uses.into_iter().chain(splits.cloned()).collect(),
    }
}

/// How often the stop is set: once for each setting.
fn moves(packing: &Packing, stops: &[Option<u32>]) -> u32 {
    let items = on_bars(packing).into_iter().flat_map(|(pattern, _)| pattern.counts);
    let stops: BTreeSet<u32> = items
        .filter_map(|(item, _)| stops.get(space::place(item)).copied().flatten())
        .collect();
    u32::try_from(stops.len()).unwrap_or(u32::MAX)
}
