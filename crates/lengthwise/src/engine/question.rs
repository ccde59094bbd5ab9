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
use super::construct::{Rule, construct, worth_filling};
use super::dive::{Style, dive};
use super::enumerate::{Enumerated, enumerate};
use super::generate::{Until, generate};
use super::instance::{Instance, Kind, Packing, Pattern};
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
/// Patterns that are searched explicitly. More takes memory and slow nodes.
const MOST_PATTERNS: usize = 60_000;
/// Nodes of one search.
const MOST_NODES: u64 = 20_000;

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
    let Some((counted, wanted)) = counted(instance, mix) else {
        // No bar at all: whatever is needed is too much.
        let ones = vec![1; instance.items.len()];
        return Reply::Refuted(Refutation::from_prices(instance, &ones, meter));
    };
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

/// The instance with a cost of one for each bar of the longest kind in the mix, and how many there are.
fn counted(instance: &Instance, mix: &[u32]) -> Option<(Instance, u32)> {
    let in_mix = instance
        .kinds
        .iter()
        .zip(mix)
        .enumerate()
        .filter(|(_, (_, bars))| **bars > 0);
    let (longest, (_, &wanted)) =
        in_mix.max_by_key(|(place, (kind, _))| (kind.capacity, *place))?;
    let kinds = instance
        .kinds
        .iter()
        .zip(mix)
        .enumerate()
        .map(|(place, (kind, &bars))| {
            let is_longest = place == longest;
            Kind {
                capacity: kind.capacity,
                cost: i64::from(is_longest),
                available: (!is_longest).then_some(bars),
                pack: 1,
                tie: 0,
            }
        });
    Some((
        Instance {
            items: instance.items.clone(),
            kinds: kinds.collect(),
        },
        wanted,
    ))
}

impl Search<'_, '_> {
    /// Packings without prices.
    pub fn by_hand(&mut self) {
        let whole = self.instance.whole();
        for rule in [Rule::LargestFirst, Rule::LeastSlack] {
            let quick = rule == Rule::LargestFirst || worth_filling(whole.pieces());
            if quick && let Some(packing) = construct(self.instance, &whole, rule, self.meter) {
                self.offer(packing);
            }
        }
    }

    /// Every pattern, then every branch.
    fn explicitly(&mut self, instance: &Instance, mix: &[u32], prices: &[i64]) -> Reply {
        let sizes: Vec<i64> = instance.items.iter().map(|item| item.size).collect();
        let filters: Vec<Refutation> = [prices, &sizes]
            .into_iter()
            .map(|prices| Refutation::from_prices(instance, prices, self.meter))
            .collect();
        let patterns: Vec<Pattern> =
            match enumerate(instance, mix, &filters, MOST_PATTERNS, self.meter) {
                Enumerated::All(patterns) => patterns,
                Enumerated::TooMany => return Reply::Unknown,
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
}
