//! From the bound to the best plan, cost by cost: each mix of bars of a cost is refuted or packed.
//!
//! The first cost at which a mix holds everything is the least there is, and every cost below has been
//! refuted mix by mix. What refuted them is kept: it is the proof.
//!
//! Source: Benders decomposition with a combinatorial subproblem, as in Hooker & Ottosson, Math.
//! Program. 96 (2003) 33-60 (from memory); the mixes as master, the cutting as subproblem.

use super::instance::{Instance, Packing};
use super::mixes::{Listed, Mixes, Next};
use super::question::{Reply, ask};
use super::refutation::{Mix, Refutation};
use super::search::Search;

/// Steps of listing mixes in one scan; beyond it the mixes are too many to be listed.
const MOST_STEPS: u64 = 3_000_000;
/// Work units of a step for each refutation known.
const STEP_WORK: u64 = 30;
/// Mixes that may stay undecided before a cost is given up.
const MOST_UNDECIDED: usize = 3;
/// Choices of bars in hand that are looked at for the second measure.
const MOST_CHOICES: usize = 2_000;

/// What refuted the mixes of a scan.
#[derive(Clone, Debug, Default)]
pub(crate) struct Proof {
    pub refutations: Vec<Refutation>,
    /// Mixes that hold nothing more by an exhausted search.
    pub exhausted: Vec<Mix>,
}

/// Raises the bound, or finds a better plan, until they meet or nothing more can be decided.
pub(crate) fn scan(
    search: &mut Search<'_, '_>,
    centre: Vec<f64>,
    proof: &mut Proof,
    watch: &mut dyn FnMut(Option<i128>, i128),
) {
    let bars: Vec<Option<u32>> = search
        .instance
        .kinds
        .iter()
        .map(|kind| kind.available)
        .collect();
    let mixes = Mixes::new(search.instance, &bars, centre);
    let mut steps = MOST_STEPS;
    while !search.is_over() {
        let cost = search.bound.value;
        match level(search, &mixes, cost, proof, &mut steps) {
            Level::Packed(packing) => search.offer(packing),
            Level::Refuted => search.bound.value = cost + search.step(),
            Level::Open => return,
        }
        watch(search.cost_to_beat(), search.bound.value);
    }
}

/// What became of all mixes of one cost.
enum Level {
    Packed(Packing),
    Refuted,
    Open,
}

fn level(
    search: &mut Search<'_, '_>,
    mixes: &Mixes<'_>,
    cost: i128,
    proof: &mut Proof,
    steps: &mut u64,
) -> Level {
    let instance = search.instance;
    let mut packed = None;
    let mut undecided = 0;
    let before = *steps;
    let Proof {
        refutations,
        exhausted,
    } = proof;
    let listed = mixes.at_cost(cost, refutations, steps, &mut |mix, refutations| {
        if exhausted
            .iter()
            .any(|refuted| is_within(instance, mix, refuted))
        {
            return Next::GoOn;
        }
        match ask(instance, mix, search.meter, search.pool, search.effort) {
            Reply::Holds(packing) => packed = Some(packing),
            Reply::Refuted(refutation) => refutations.push(refutation),
            Reply::Exhausted => exhausted.push(mix.clone()),
            Reply::Unknown => undecided += 1,
        }
        let stop =
            packed.is_some() || undecided > MOST_UNDECIDED || search.meter.stopped().is_some();
        if stop { Next::Stop } else { Next::GoOn }
    });
    let refutations = refutations.len() as u64 + 1;
    search
        .meter
        .spend((before - *steps) * STEP_WORK * refutations);
    match (packed, listed, undecided) {
        (Some(packing), _, _) => Level::Packed(packing),
        (None, Listed::All, 0) => Level::Refuted,
        _ => Level::Open,
    }
}

/// Whether each bar of a mix can be matched with one at least as long of the other.
pub(crate) fn is_within(instance: &Instance, mix: &[u32], other: &[u32]) -> bool {
    let mut kinds: Vec<usize> = (0..instance.kinds.len()).collect();
    kinds
        .sort_by_key(|&kind| std::cmp::Reverse(instance.kinds.get(kind).map(|kind| kind.capacity)));
    let bars = |mix: &[u32], kind: usize| i64::from(mix.get(kind).copied().unwrap_or(0));
    let mut ahead = 0;
    kinds.into_iter().all(|kind| {
        ahead += bars(other, kind) - bars(mix, kind);
        ahead >= 0
    })
}

/// Among packings of the best cost, one with the least of the second measure; true where proven.
pub(crate) fn settle_tie(search: &mut Search<'_, '_>, centre: Vec<f64>, proof: &mut Proof) -> bool {
    let instance = search.instance;
    let Some((cost, packing)) = search.best.clone() else {
        return true;
    };
    let tie = instance.tie_of(&packing);
    if tie == 0 {
        return true;
    }
    let Some(choices) = choices(instance, tie) else {
        return false;
    };
    let mut steps = MOST_STEPS;
    // Kinds with a second measure are fixed by the choice, so their cost is paid beforehand.
    let mut fixed = instance.clone();
    for kind in fixed.kinds.iter_mut().filter(|kind| kind.tie > 0) {
        kind.cost = 0;
    }
    for choice in choices {
        let paid: i128 = instance
            .kinds
            .iter()
            .zip(&choice)
            .filter(|(kind, _)| kind.tie > 0)
            .map(|(kind, &bars)| i128::from(kind.cost) * i128::from(bars))
            .sum();
        if paid > cost {
            continue;
        }
        let bars: Vec<Option<u32>> = instance
            .kinds
            .iter()
            .zip(&choice)
            .map(|(kind, &bars)| {
                if kind.tie > 0 {
                    Some(bars)
                } else {
                    kind.available
                }
            })
            .collect();
        let mixes = Mixes::new(&fixed, &bars, centre.clone());
        match level(search, &mixes, cost - paid, proof, &mut steps) {
            Level::Packed(packing) => {
                search.best = Some((cost, packing));
                return true;
            }
            Level::Refuted => {}
            Level::Open => return false,
        }
    }
    true
}

/// Numbers of bars of the kinds with a second measure, the least measure first, all below `tie`.
fn choices(instance: &Instance, tie: i128) -> Option<Vec<Mix>> {
    let mut choices: Vec<(i128, Mix)> = vec![(0, vec![0; instance.kinds.len()])];
    for (place, kind) in instance
        .kinds
        .iter()
        .enumerate()
        .filter(|(_, kind)| kind.tie > 0)
    {
        let mut longer = Vec::new();
        for (measure, mix) in &choices {
            for bars in 1..=kind.available.unwrap_or(0) {
                let measure = measure + i128::from(kind.tie) * i128::from(bars);
                if measure >= tie || longer.len() + choices.len() > MOST_CHOICES {
                    break;
                }
                let mut mix = mix.clone();
                if let Some(count) = mix.get_mut(place) {
                    *count = bars;
                }
                longer.push((measure, mix));
            }
        }
        choices.append(&mut longer);
        if choices.len() > MOST_CHOICES {
            return None;
        }
    }
    choices.sort();
    Some(choices.into_iter().map(|(_, mix)| mix).collect())
}
