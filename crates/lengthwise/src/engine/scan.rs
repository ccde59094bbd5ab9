//! From the bound to the best plan: every mix of bars between them is refuted or packed.
//!
//! Mixes are asked about in order of cost. The first that holds everything is the cheapest plan there
//! is, and every cheaper one has been refuted. What refuted them is kept: it is the proof.
//!
//! Source: Benders decomposition with a combinatorial subproblem, as in Hooker & Ottosson, Math.
//! Program. 96 (2003) 33-60 (from memory); the mixes as master, the cutting as subproblem.

use super::counts::{Split, branch_on_counts};
use super::instance::{Instance, Kind, Packing};
use super::mixes::{Listed, Mixes};
use super::question::{Reply, ask};
use super::refutation::{Mix, Refutation};
use super::search::Search;
use super::work::Meter;

/// Steps of listing mixes in one scan; beyond it the mixes are too many to be listed.
const MOST_STEPS: u64 = 5_000_000;
/// Steps of one listing, and comparisons with a refutation: some hundredths of a second.
const STEPS_AT_ONCE: u64 = 300_000;
const COMPARISONS_AT_ONCE: u64 = 3_000_000;
/// Comparisons of one listing at the best cost: a tenth of a second.
const TIE_COMPARISONS: u64 = 10_000_000;
/// Work units of a step for each refutation known.
const STEP_WORK: u64 = 10;
/// Mixes listed at once. Where there are more, the range of costs is halved and one of them asked
/// about, since its refutation may thin out the others.
const MOST_LISTED: usize = 2_000;
/// How often a range may hold too many mixes before the scan is given up.
const MOST_THINNINGS: u32 = 400;
/// Mixes that may stay undecided before the scan is given up.
const MOST_UNDECIDED: usize = 4;
/// Mixes of equal cost among which the best offcuts are looked for.
const MOST_EQUAL: usize = 200;
/// Choices of bars in hand that are looked at for the second measure.
const MOST_CHOICES: usize = 2_000;

/// What refuted the mixes of a scan.
#[derive(Clone, Debug, Default)]
pub(crate) struct Proof {
    pub refutations: Vec<Refutation>,
    /// Mixes that an exhausted search found not to hold everything.
    pub exhausted: Vec<Exhausted>,
    /// How the mixes were split into boxes, where they were too many to be listed.
    pub splits: Vec<Split>,
}

/// A mix and what the search that refuted it took.
#[derive(Clone, Debug)]
pub(crate) struct Exhausted {
    pub mix: Mix,
    pub patterns: u64,
    pub nodes: u64,
}

impl Proof {
    pub fn refutes(&self, instance: &Instance, mix: &[u32]) -> bool {
        self.refutations
            .iter()
            .any(|refutation| refutation.shortfall(mix) > 0)
            || self
                .exhausted
                .iter()
                .any(|exhausted| is_within(instance, mix, &exhausted.mix))
    }
}

/// Raises the bound, or finds a better plan, until they meet or nothing more can be decided.
pub(crate) fn scan(search: &mut Search<'_, '_>, centre: &[f64], proof: &mut Proof) {
    let bars: Vec<Option<u32>> = search
        .instance
        .kinds
        .iter()
        .map(|kind| kind.available)
        .collect();
    let mixes = Mixes::new(search.instance, &bars, centre);
    let mut range = Range::new(search.bound.value);
    while !search.is_over() {
        let below = search
            .cost_to_beat()
            .unwrap_or(range.from + search.largest_step());
        match range.next_mix(search, &mixes, below, centre, proof) {
            Step::Nothing if search.best.is_some() || search.below.is_some() => {
                search.bound.value = search.cost_to_beat().unwrap_or(search.bound.value);
            }
            Step::Nothing => range.from = below,
            Step::GivenUp => {
                if range.undecided == 0 {
                    branch_on_counts(search, proof);
                }
                return;
            }
            Step::Mix(cost, mix) => {
                if range.undecided == 0 {
                    search.bound.value = search.bound.value.max(cost);
                }
                match decide(search, &mix, proof) {
                    Decided::Packed(packing) => search.offer(packing),
                    Decided::Refuted => {}
                    Decided::Open => range.undecided += 1,
                }
            }
            Step::Thinned(Some(packing)) => search.offer(packing),
            Step::Thinned(None) => {}
        }
        if range.undecided > MOST_UNDECIDED {
            return;
        }
        search.tell();
    }
}

/// The mixes not yet asked about, cheapest first, in ranges that can be listed.
struct Range {
    /// Everything cheaper was listed.
    from: i128,
    /// Listed, the cheapest last.
    listed: Vec<(i128, Mix)>,
    width: Option<i128>,
    steps: u64,
    thinnings: u32,
    undecided: usize,
}

enum Step {
    /// Every mix of the range was asked about.
    Nothing,
    /// The next mix.
    Mix(i128, Mix),
    /// There were too many; one of them was asked about.
    Thinned(Option<Packing>),
    GivenUp,
}

impl Range {
    fn new(from: i128) -> Self {
        Range {
            from,
            listed: Vec::new(),
            width: None,
            steps: MOST_STEPS,
            thinnings: 0,
            undecided: 0,
        }
    }

    fn next_mix(
        &mut self,
        search: &mut Search<'_, '_>,
        mixes: &Mixes,
        below: i128,
        centre: &[f64],
        proof: &mut Proof,
    ) -> Step {
        while let Some((cost, mix)) = self.listed.pop() {
            if cost < below && !proof.refutes(search.instance, &mix) {
                return Step::Mix(cost, mix);
            }
        }
        if self.from >= below {
            // With something left undecided the bound stays where it is.
            return if self.undecided == 0 {
                Step::Nothing
            } else {
                Step::GivenUp
            };
        }
        let width = self.width.unwrap_or(below - self.from).max(1);
        let end = below.min(self.from + width);
        let known = proof.refutations.len() as u64 + 1;
        let at_once = STEPS_AT_ONCE.min(COMPARISONS_AT_ONCE / known);
        let mut steps = self.steps.min(at_once);
        let before = steps;
        let listed = mixes.list(self.from, end, &proof.refutations, MOST_LISTED, &mut steps);
        self.steps -= before - steps;
        search.meter.spend((before - steps) * STEP_WORK * known);
        if listed.complete {
            self.from = end;
            self.width = Some(width.saturating_mul(2));
            self.listed = nearest_first(listed, centre);
            return Step::Thinned(None);
        }
        self.width = Some(width / 2);
        self.thinnings += 1;
        if self.steps == 0 || self.thinnings > MOST_THINNINGS {
            return Step::GivenUp;
        }
        let mut sample = nearest_first(listed, centre);
        sample.sort_by(|a, b| distance(&b.1, centre).total_cmp(&distance(&a.1, centre)));
        match sample.pop().map(|(_, mix)| decide(search, &mix, proof)) {
            Some(Decided::Packed(packing)) => Step::Thinned(Some(packing)),
            // An open one will be met again when the range is narrow enough.
            _ => Step::Thinned(None),
        }
    }
}

/// Sorted so that the cheapest comes off the end first, and among equals the one nearest the centre.
fn nearest_first(listed: Listed, centre: &[f64]) -> Vec<(i128, Mix)> {
    let mut mixes = listed.mixes;
    mixes.sort_by(|a, b| {
        b.0.cmp(&a.0)
            .then_with(|| distance(&b.1, centre).total_cmp(&distance(&a.1, centre)))
            .then_with(|| b.1.cmp(&a.1))
    });
    mixes
}

fn distance(mix: &[u32], centre: &[f64]) -> f64 {
    mix.iter()
        .zip(centre)
        .map(|(&bars, &centre)| (f64::from(bars) - centre).abs())
        .sum()
}

pub(crate) enum Decided {
    Packed(Packing),
    Refuted,
    Open,
}

pub(crate) fn decide(search: &mut Search<'_, '_>, mix: &Mix, proof: &mut Proof) -> Decided {
    match ask(
        search.instance,
        mix,
        search.meter,
        search.pool,
        search.effort,
    ) {
        Reply::Holds(packing) => {
            let settled = search.instance.settled(packing);
            return settled.map_or(Decided::Open, Decided::Packed);
        }
        Reply::Refuted(refutation) => proof.refutations.push(refutation),
        Reply::Exhausted { patterns, nodes } => {
            proof.exhausted.push(Exhausted {
                mix: mix.clone(),
                patterns,
                nodes,
            });
        }
        Reply::Unknown => return Decided::Open,
    }
    Decided::Refuted
}

/// Whether each bar of a mix can be matched with one at least as long of the other, of its batch where
/// pieces are bound to batches.
pub(crate) fn is_within(instance: &Instance, mix: &[u32], other: &[u32]) -> bool {
    let has_batches = instance.has_batches();
    let batch = |kind: &Kind| if has_batches { kind.batch } else { 0 };
    let mut kinds: Vec<(usize, &Kind)> = instance.kinds.iter().enumerate().collect();
    kinds.sort_by_key(|(_, kind)| (batch(kind), std::cmp::Reverse(kind.capacity)));
    let bars = |mix: &[u32], kind: usize| i64::from(mix.get(kind).copied().unwrap_or(0));
    let mut of_batch = kinds.chunk_by(|(_, one), (_, other)| batch(one) == batch(other));
    of_batch.all(|kinds| {
        let mut ahead = 0;
        kinds.iter().all(|&(kind, _)| {
            ahead += bars(other, kind) - bars(mix, kind);
            ahead >= 0
        })
    })
}

/// Among packings of the best cost, one with the least of the second measure; true where proven.
pub(crate) fn settle_tie(search: &mut Search<'_, '_>, proof: &mut Proof) -> bool {
    let instance = search.instance;
    let Some((cost, packing)) = search.best.clone() else {
        return true;
    };
    let tie = instance.tie_of(&packing);
    if tie == 0 {
        return true;
    }
    if search.meter.stopped().is_some() {
        return false;
    }
    let Some(choices) = choices(instance, tie) else {
        return false;
    };
    let fixed = with_hand_paid(instance);
    let mut steps = MOST_STEPS;
    for choice in choices {
        let budget = cost - worth(instance, &choice);
        if budget < 0 {
            continue;
        }
        let mixes = Mixes::new(&fixed, &with_choice(instance, &choice), &[]);
        let known = proof.refutations.len().max(1) as u64; // a count fits
        let at_once = steps.min(TIE_COMPARISONS / known);
        let mut left = at_once;
        let refutations = &proof.refutations;
        let listed = mixes.list(budget, budget + 1, refutations, MOST_LISTED, &mut left);
        steps -= at_once - left;
        if !search.meter.spend((at_once - left) * STEP_WORK * known) {
            return false;
        }
        for (_, mix) in &listed.mixes {
            if proof.refutes(instance, mix) {
                continue;
            }
            match decide(search, mix, proof) {
                Decided::Packed(packing) => {
                    search.best = Some((cost, packing));
                    return true;
                }
                Decided::Refuted => {}
                Decided::Open => return false,
            }
        }
        if !listed.complete {
            return false;
        }
    }
    true
}

/// Mixes of bars with the cost and the second measure of a packing that nothing refutes.
pub(crate) struct EqualMixes {
    /// Its own first.
    pub mixes: Vec<Mix>,
    /// Whether these are all; its own only where there are too many.
    pub are_all: bool,
    /// Whether others do not count: where bars come in packs or for nothing, they may leave bars empty.
    pub same_bars: bool,
}

/// The mixes of bars that may take the place of a packing's own.
pub(crate) fn mixes_of_cost(
    instance: &Instance,
    packing: &Packing,
    cost: i128,
    proof: &Proof,
    meter: &mut Meter<'_>,
) -> EqualMixes {
    let own = mix_of(instance, packing);
    let may_stay_empty =
        |kind: &Kind| kind.run.is_none() && (kind.pack > 1 || (kind.cost == 0 && kind.tie == 0));
    let same_bars = instance.kinds.iter().any(may_stay_empty);
    let others = if same_bars {
        Some(Vec::new())
    } else {
        other_mixes(instance, packing, cost, proof, meter)
    };
    let are_all = others.is_some();
    let others = others.into_iter().flatten().filter(|mix| *mix != own);
    EqualMixes {
        mixes: [own.clone()].into_iter().chain(others).collect(),
        are_all,
        same_bars,
    }
}

/// All mixes with the cost and the second measure of a packing that nothing refutes.
fn other_mixes(
    instance: &Instance,
    packing: &Packing,
    cost: i128,
    proof: &Proof,
    meter: &mut Meter<'_>,
) -> Option<Vec<Mix>> {
    let tie = instance.tie_of(packing);
    let fixed = with_hand_paid(instance);
    let measure = |choice: &Mix| -> i128 {
        let kinds = instance.kinds.iter().zip(choice);
        kinds
            .map(|(kind, &bars)| i128::from(kind.tie) * i128::from(bars))
            .sum()
    };
    let mut found = Vec::new();
    let mut steps = STEPS_AT_ONCE;
    for choice in choices(instance, tie + 1)?
        .into_iter()
        .filter(|choice| measure(choice) == tie)
    {
        let budget = cost - worth(instance, &choice);
        if budget < 0 {
            continue;
        }
        let before = steps;
        let mixes = Mixes::new(&fixed, &with_choice(instance, &choice), &[]);
        let listed = mixes.list(
            budget,
            budget + 1,
            &proof.refutations,
            MOST_EQUAL,
            &mut steps,
        );
        meter.spend((before - steps) * STEP_WORK * (proof.refutations.len() as u64 + 1));
        if !listed.complete || found.len() + listed.mixes.len() > MOST_EQUAL {
            return None;
        }
        let mixes = listed.mixes.into_iter().map(|(_, mix)| mix);
        found.extend(mixes.filter(|mix| !proof.refutes(instance, mix)));
    }
    Some(found)
}

/// Kinds with a second measure are fixed by a choice, so their cost is paid beforehand.
fn with_hand_paid(instance: &Instance) -> Instance {
    let mut fixed = instance.clone();
    for kind in fixed.kinds.iter_mut().filter(|kind| kind.tie > 0) {
        kind.cost = 0;
    }
    fixed
}

/// The bars there are of each kind, of those with a second measure as many as were chosen.
fn with_choice(instance: &Instance, choice: &[u32]) -> Vec<Option<u32>> {
    let kinds = instance.kinds.iter().zip(choice);
    kinds
        .map(|(kind, &bars)| {
            if kind.tie > 0 {
                Some(bars)
            } else {
                kind.available
            }
        })
        .collect()
}

/// How many bars of each kind a packing takes.
pub(crate) fn mix_of(instance: &Instance, packing: &Packing) -> Mix {
    let mut mix = vec![0; instance.kinds.len()];
    for (pattern, uses) in &packing.uses {
        if let Some(bars) = mix.get_mut(pattern.kind as usize) {
            *bars += uses; // at most one a piece, which are counted in 32 bits
        }
    }
    mix
}

/// What the bars with a second measure in a mix cost.
fn worth(instance: &Instance, mix: &[u32]) -> i128 {
    let counted = instance
        .kinds
        .iter()
        .zip(mix)
        .filter(|(kind, _)| kind.tie > 0);
    counted
        .map(|(kind, &bars)| i128::from(kind.cost) * i128::from(bars))
        .sum()
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
