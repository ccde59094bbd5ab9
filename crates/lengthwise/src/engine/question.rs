//! Can this mix of bars hold everything?
//!
//! Only the number of bars of the longest kind is counted as a cost; the other bars of the mix are free.
//! If the bound says that more of the longest are needed than the mix has, its prices refute the mix.
//! Otherwise dives look for a packing; and if they find none, the patterns that a packing could use
//! are enumerated and searched.
//!
//! Source: "is there a plan with K bars" as in Belov & Scheithauer, EJOR 171 (2006) 85-106; the mixed
//! lengths by one filler piece for each shorter bar, here without writing the fillers down.

use super::branch::{Branched, branch};
use super::construct::{Rule, split_and_construct, worth_filling};
use super::dive::{Style, dive};
use super::enumerate::{Enumerated, Most, enumerate};
use super::generate::{Until, generate};
use super::instance::{Instance, Kind, Packing, Pattern};
use super::pairs::{Limits, branch_and_price};
use super::pool::Pool;
use super::refutation::Refutation;
use super::search::Search;
use super::work::Meter;
use crate::plan::Effort;

/// Dives per question: enough for most that have a yes; the search finds the rest.
const DIVES: [Style; 4] = [
    Style {
        round_from: 0.8,
        second_choice_at: None,
    },
    Style {
        round_from: 2.0,
        second_choice_at: None,
    },
    Style {
        round_from: 0.6,
        second_choice_at: Some(0),
    },
    Style {
        round_from: 2.0,
        second_choice_at: Some(1),
    },
];
/// A first enumeration; where it is too long, other prices shorten it.
const FEW: Most = Most {
    patterns: 3_000,
    steps: 1_000_000,
};
/// Patterns that are searched explicitly. More takes memory and slow nodes.
const MANY: Most = Most {
    patterns: 60_000,
    steps: 20_000_000,
};
/// Other sets of prices that are tried.
const OTHER_PRICES: u32 = 6;
/// How far the demands are tilted for them, at the most.
const TILT: f64 = 0.01;
/// Nodes of one search.
const MOST_NODES: u64 = 20_000;
/// Where the patterns are too many for that.
const PAIRS: Limits = Limits {
    nodes: 2_000,
    listed: FEW,
    listed_nodes: 2_000,
};
/// Patterns that it begins with, for each kind of piece.
const PATTERNS_PER_ITEM: usize = 4;

/// The answer.
pub(crate) enum Reply {
    /// It can, and this is how.
    Holds(Packing),
    /// It cannot: these prices say so.
    Refuted(Refutation),
    /// It cannot: every pattern was enumerated and every branch searched.
    Exhausted { patterns: u64, nodes: u64 },
    /// Not decided.
    Unknown,
}

/// Asks whether `mix` can hold all pieces of the instance.
pub(crate) fn ask(
    instance: &Instance,
    mix: &[u32],
    meter: &mut Meter<'_>,
    pool: &mut Pool,
    effort: &mut Effort,
) -> Reply {
    effort.questions += 1;
    let (counted, wanted) = counted(instance, mix);
    if wanted == 0 {
        // No bar at all: whatever is needed is too much, but for windows of courses that runs alone give.
        let ones = vec![1; instance.items.len()];
        let refutation = Refutation::from_prices(instance, &ones, meter);
        if refutation.shortfall(mix) > 0 {
            return Reply::Refuted(refutation);
        }
    }
    let mut search = Search::new(&counted, meter, pool, effort);
    search.wanted = Some(i128::from(wanted));
    search.by_hand();
    if let Some(packing) = search.wanted_packing() {
        return Reply::Holds(packing.clone());
    }
    let whole = counted.whole();
    let too_many = |bound: i128| bound > i128::from(wanted);
    let Ok(generated) = generate(&mut search, &whole, None, Until::NothingToAdd, too_many) else {
        return Reply::Unknown;
    };
    if too_many(generated.bound.value) {
        let refutation = Refutation::from_prices(instance, &generated.bound.prices, search.meter);
        let holds = refutation.shortfall(mix) > 0;
        return if holds {
            Reply::Refuted(refutation)
        } else {
            Reply::Unknown
        };
    }
    for style in DIVES {
        if search.is_over() {
            break;
        }
        dive(&mut search, style, Some(&generated.prices));
    }
    if let Some(packing) = search.wanted_packing() {
        return Reply::Holds(packing.clone());
    }
    if search.meter.stopped().is_some() {
        return Reply::Unknown;
    }
    search.explicitly(instance, mix, &generated.last.prices)
}

/// The instance with a cost of one for each bar of the longest kind in the mix, and how many there are; of a
/// mix without bars nothing costs anything.
fn counted(instance: &Instance, mix: &[u32]) -> (Instance, u32) {
    let in_mix = instance
        .kinds
        .iter()
        .zip(mix)
        .enumerate()
        .filter(|(_, (kind, bars))| **bars > 0 && kind.run.is_none());
    let longest = in_mix.max_by_key(|(place, (kind, _))| (kind.capacity, *place));
    let (longest, wanted) = longest.map_or((None, 0), |(place, (_, &bars))| (Some(place), bars));
    let kinds = instance
        .kinds
        .iter()
        .zip(mix)
        .enumerate()
        .map(|(place, (kind, &bars))| {
            let is_longest = longest == Some(place);
            Kind {
                run: kind.run,
                batch: kind.batch,
                capacity: kind.capacity,
                cost: i64::from(is_longest),
                available: (!is_longest).then_some(bars),
                pack: 1,
                tie: 0,
            }
        });
    let counted = Instance {
        kinds: kinds.collect(),
        ..instance.clone()
    };
    (counted, wanted)
}

impl Search<'_, '_> {
    /// Packings without prices.
    pub fn by_hand(&mut self) {
        let whole = self.instance.whole();
        for rule in [Rule::LargestFirst, Rule::LeastSlack] {
            let quick = rule == Rule::LargestFirst || worth_filling(whole.pieces());
            if !quick {
                continue;
            }
            for prices in self.instance.first_prices() {
                let (instance, meter) = (self.instance, &mut *self.meter);
                if let Some(packing) = split_and_construct(instance, &whole, &prices, rule, meter) {
                    self.offer(packing);
                }
            }
        }
    }

    /// Packings without prices where the usual ways leave pieces over: with what is bound to a batch first, and with
    /// runs in parts that fit bars of which there are as many as wanted.
    pub fn by_hand_where_scarce(&mut self) {
        let whole = self.instance.whole();
        let mut ways = Vec::new();
        if self.instance.has_batches() {
            ways = self.instance.first_prices();
        }
        if !self.instance.runs.is_empty() {
            ways.extend(self.instance.endless_prices());
        }
        for prices in ways {
            let (instance, meter, rule) = (self.instance, &mut *self.meter, Rule::BoundFirst);
            if let Some(packing) = split_and_construct(instance, &whole, &prices, rule, meter) {
                self.offer(packing);
            }
            if self.best.is_some() {
                return;
            }
        }
    }

    /// Packings of runs, without prices, from bars of which there are as many as wanted alone: fewer joints than these
    /// take may do with others, and cost more.
    pub fn by_hand_without_scarce(&mut self) {
        let mut endless = self.instance.whole();
        let mut has_scarce = false;
        for (kind, left) in self.instance.kinds.iter().zip(&mut endless.available) {
            if kind.run.is_none() && left.is_some() {
                (*left, has_scarce) = (Some(0), true);
            }
        }
        if self.instance.runs.is_empty() || !has_scarce || self.is_closed() {
            return;
        }
        for prices in self.instance.endless_prices() {
            let (instance, meter, rule) = (self.instance, &mut *self.meter, Rule::LargestFirst);
            if let Some(packing) = split_and_construct(instance, &endless, &prices, rule, meter) {
                self.offer(packing);
            }
        }
    }

    /// Every pattern, then every branch.
    fn explicitly(&mut self, instance: &Instance, mix: &[u32], prices: &[i64]) -> Reply {
        let Some(patterns) = self.every_pattern(instance, mix, prices) else {
            // Pairs with column generation know of bars only.
            let has_runs = !instance.runs.is_empty();
            return if has_runs {
                Reply::Unknown
            } else {
                self.by_pairs(mix)
            };
        };
        let count = patterns.len() as u64;
        self.effort.enumerated += count;
        let mut nodes = 0;
        let branched = branch(
            self.instance,
            mix,
            patterns,
            MOST_NODES,
            &mut nodes,
            self.meter,
        );
        self.effort.nodes += nodes;
        match branched {
            Branched::Found(packing) => Reply::Holds(packing),
            Branched::None => Reply::Exhausted {
                patterns: count,
                nodes,
            },
            Branched::Unknown => Reply::Unknown,
        }
    }

    /// Branching on pairs with column generation, where the patterns are too many.
    fn by_pairs(&mut self, mix: &[u32]) -> Reply {
        let wanted = self.wanted.and_then(|wanted| u32::try_from(wanted).ok());
        let Some(wanted) = wanted else {
            return Reply::Unknown;
        };
        let most = PATTERNS_PER_ITEM * self.instance.items.len();
        let whole = self.instance.whole();
        let known = self.pool.usable(self.instance, &whole, None, most);
        let before = self.effort.enumerated;
        let (branched, nodes) = branch_and_price(
            self.instance,
            mix,
            wanted,
            &known,
            PAIRS,
            self.meter,
            self.effort,
        );
        match branched {
            Branched::Found(packing) => Reply::Holds(packing),
            Branched::None => Reply::Exhausted {
                patterns: self.effort.enumerated - before,
                nodes,
            },
            Branched::Unknown => Reply::Unknown,
        }
    }

    /// The patterns that pass the prices of the program and the plain sizes, and further prices where
    /// those let too many pass; `None` where there are too many still.
    fn every_pattern(
        &mut self,
        instance: &Instance,
        mix: &[u32],
        prices: &[i64],
    ) -> Option<Vec<Pattern>> {
        let sizes = instance.lengths();
        let mut filters: Vec<Refutation> = [prices, &sizes]
            .into_iter()
            .map(|prices| Refutation::from_prices(instance, prices, self.meter))
            .collect();
        if let Enumerated::All(patterns) = enumerate(instance, mix, &filters, FEW, self.meter) {
            return Some(patterns);
        }
        let whole = self.instance.whole();
        let mut stream = 1;
        for _ in 0..OTHER_PRICES {
            self.tilt = instance
                .items
                .iter()
                .map(|_| TILT * next_share(&mut stream))
                .collect();
            let generated = generate(self, &whole, None, Until::NothingToAdd, |_| false);
            self.tilt.clear();
            let prices = generated.ok()?.last.prices;
            filters.push(Refutation::from_prices(instance, &prices, self.meter));
        }
        match enumerate(instance, mix, &filters, MANY, self.meter) {
            Enumerated::All(patterns) => Some(patterns),
            Enumerated::TooMany => None,
        }
    }
}

/// The next of a fixed stream of shares from 0 to 1 (Lewis, Goodman & Miller 1969): any would do, but
/// the same job must give the same plan.
fn next_share(stream: &mut i64) -> f64 {
    *stream = *stream * 16_807 % 2_147_483_647;
    *stream as f64 / 2_147_483_647.0 // below 2^31: exact
}
