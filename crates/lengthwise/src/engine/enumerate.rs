//! Every pattern that a plan within the mix could use.
//!
//! With whole-number prices `p` and `V_s` the most that a bar of kind `s` holds of them, the bars of a
//! mix that holds everything lose `sum n_s V_s - sum d p` against their best in all. No bar can lose
//! more than that by itself, so only patterns worth `V_s` less that loss, or more, matter; and that
//! holds for every set of prices at once. Whole-number arithmetic throughout.
//!
//! Source: reduced-cost enumeration as in Baldacci, Christofides & Mingozzi, Math. Program. 115
//! (2008) 351-385 (from memory); several sets of prices at once, measured to shorten the list most.

use std::collections::HashSet;

use super::instance::{Instance, Pattern};
use super::pricing::{Offer, Table, Tables};
use super::refutation::Refutation;
use super::runs::Run;
use super::work::Meter;

/// Work units of one step for each set of prices.
const STEP_WORK: u64 = 6;

/// Steps between two looks at the limits: some milliseconds.
const LOOK_EVERY: u64 = 10_000;

/// How much one enumeration may come to.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Most {
    pub patterns: usize,
    pub steps: u64,
}

/// The patterns of a mix, or that there are too many.
pub(crate) enum Enumerated {
    /// All of them.
    All(Vec<Pattern>),
    /// More patterns or steps than allowed.
    TooMany,
}

/// Enumerates the patterns that every one of `filters` lets pass for this mix. Patterns need not be
/// full: pieces are cut exactly as often as they are needed.
pub(crate) fn enumerate(
    instance: &Instance,
    mix: &[u32],
    filters: &[Refutation],
    most: Most,
    meter: &mut Meter<'_>,
) -> Enumerated {
    let kinds = || {
        (0_u32..)
            .zip(instance.kinds.iter().zip(mix))
            .filter(|(_, (_, bars))| **bars > 0)
    };
    let capacity = kinds()
        .map(|(_, (kind, _))| kind.capacity)
        .max()
        .unwrap_or(0);
    let tables: Vec<Tables> = filters
        .iter()
        .map(|filter| {
            let offers = offers(instance, filter);
            Tables::in_place_of(Vec::new(), instance, &offers, capacity, meter)
        })
        .collect();
    let mut patterns = Vec::new();
    let mut steps = 0;
    let step_work = STEP_WORK * filters.len() as u64;
    let mut complete = true;
    for (place, (kind, _)) in kinds() {
        if let Some(run) = instance.run_of(place) {
            let splits = splits(run, place, filters, mix, most, &mut steps);
            patterns.extend(splits.into_iter().flatten());
            complete = complete && steps <= most.steps && patterns.len() <= most.patterns;
            meter.spend(run.work() * filters.len() as u64);
            continue;
        }
        let mut walk = Walk {
            tables: tables
                .iter()
                .filter_map(|tables| tables.of(place))
                .collect(),
            floors: filters
                .iter()
                .map(|filter| floor(filter, place, mix))
                .collect(),
            values: vec![vec![0; filters.len()]],
            kind: place,
            path: Vec::new(),
            patterns: &mut patterns,
            most,
            steps: &mut steps,
            step_work,
            meter,
        };
        complete = complete && walk.visit(0, kind.capacity);
    }
    if complete {
        Enumerated::All(patterns)
    } else {
        Enumerated::TooMany
    }
}

/// The splits of a run that every filter lets pass, without those that come to the same parts; `None`
/// where there are too many.
fn splits(
    run: &Run,
    kind: u32,
    filters: &[Refutation],
    mix: &[u32],
    most: Most,
    steps: &mut u64,
) -> Option<Vec<Pattern>> {
    let losses: Vec<(&[i64], i128)> = filters
        .iter()
        .map(|filter| (filter.prices.as_slice(), -filter.shortfall(mix)))
        .collect();
    let Some(splits) = run.within(&losses, most.patterns, steps, most.steps) else {
        *steps = most.steps + 1;
        return None;
    };
    let patterns = splits.into_iter().map(|joints| run.pattern(kind, joints));
    let mut known = HashSet::new();
    Some(
        patterns
            .filter(|pattern| !pattern.counts.is_empty() && known.insert(pattern.counts.clone()))
            .collect(),
    )
}

/// All items by decreasing size, so that every table has the same rows.
fn offers(instance: &Instance, filter: &Refutation) -> Vec<Offer> {
    (0_u32..)
        .zip(&instance.items)
        .filter(|(_, data)| data.demand > 0)
        .map(|(item, data)| {
            let price = filter.prices.get(item as usize).copied().unwrap_or(0);
            Offer {
                item,
                size: data.size,
                most: data.demand,
                price,
            }
        })
        .collect()
}

/// The least that a pattern on this kind must be worth.
fn floor(filter: &Refutation, kind: u32, mix: &[u32]) -> i128 {
    let most = filter.most.get(kind as usize).copied().unwrap_or(0);
    i128::from(most) + filter.shortfall(mix)
}

struct Walk<'w, 'm> {
    tables: Vec<&'w Table>,
    floors: Vec<i128>,
    /// What the path is worth in each set of prices, for each depth.
    values: Vec<Vec<i64>>,
    kind: u32,
    path: Vec<(u32, u32)>,
    patterns: &'w mut Vec<Pattern>,
    most: Most,
    steps: &'w mut u64,
    step_work: u64,
    meter: &'w mut Meter<'m>,
}

impl Walk<'_, '_> {
    /// False when there are too many.
    fn visit(&mut self, row: usize, rest: i64) -> bool {
        let mut next = row;
        // None of an offer is what is tried last, and that goes on here: with a call each, calls would lie
        // within each other as deep as there are offers.
        loop {
            *self.steps += 1;
            let out_of_work = (*self.steps).is_multiple_of(LOOK_EVERY)
                && !self.meter.spend(LOOK_EVERY * self.step_work);
            if out_of_work || *self.steps > self.most.steps {
                return false;
            }
            let Some(row) = self.first_that_fits(next, rest) else {
                return true;
            };
            let offer = self.tables.first().and_then(|table| table.offer(row));
            let Some(offer) = offer else {
                return self.keep();
            };
            next = row + 1;
            let most = i64::from(offer.most).min(rest / offer.size);
            for used in (1..=most).rev() {
                self.step_in(row, used);
                // At most `offer.most`, a u32.
                let count = u32::try_from(used).unwrap_or(offer.most);
                self.path.push((offer.item, count));
                let go_on = self.visit(next, rest - used * offer.size);
                self.path.pop();
                self.values.pop();
                if !go_on {
                    return false;
                }
            }
        }
    }

    /// The next row whose item fits, or the end; `None` where some floor is out of reach.
    fn first_that_fits(&self, row: usize, rest: i64) -> Option<usize> {
        let row = self
            .tables
            .first()
            .map_or(row, |table| table.first_that_fits(row, rest));
        let now = self.values.last()?;
        let all = self.tables.iter().zip(now).zip(&self.floors);
        let in_reach = |((table, &value), &floor): ((&&Table, &i64), &i128)| {
            i128::from(value) + i128::from(table.bound(row, rest)) >= floor
        };
        all.into_iter().all(in_reach).then_some(row)
    }

    fn step_in(&mut self, row: usize, used: i64) {
        let now = self.values.last().map(Vec::as_slice).unwrap_or(&[]);
        let price = |table: &&Table| table.offer(row).map_or(0, |offer| offer.price);
        let next = self
            .tables
            .iter()
            .zip(now)
            .map(|(table, &value)| value + used * price(table))
            .collect();
        self.values.push(next);
    }

    fn keep(&mut self) -> bool {
        if !self.path.is_empty() {
            // An empty bar needs no pattern.
            let mut counts = self.path.clone();
            counts.sort_unstable();
            self.patterns.push(Pattern {
                split: None,
                kind: self.kind,
                counts,
            });
        }
        self.patterns.len() <= self.most.patterns
    }
}
