//! Every pattern that a plan within the mix could use.
//!
//! With whole-number prices `p` and `V_s` the most that a bar of kind `s` holds of them, the bars of a
//! mix that holds everything lose `sum n_s V_s - sum d p` against their best in all. No bar can lose
//! more than that by itself, so only patterns worth `V_s` less that loss, or more, matter; the same
//! holds for every other set of prices. Whole-number arithmetic throughout.
//!
//! Source: reduced-cost enumeration as in Baldacci, Christofides & Mingozzi, Math. Program. 115
//! (2008) 351-385 (from memory).

use super::instance::{Instance, Pattern};
use super::pricing::{Offer, Table};
use super::refutation::Refutation;
use super::work::Meter;

/// Steps of one enumeration at the most, beyond which column generation is the better way.
const MOST_STEPS: u64 = 20_000_000;
/// Work units of one step.
const STEP_WORK: u64 = 6;

/// The patterns of a mix, or that there are too many.
pub(crate) enum Enumerated {
    /// All of them.
    All(Vec<Pattern>),
    /// More patterns or steps than allowed.
    TooMany,
}

/// Enumerates the patterns that every one of `filters` lets pass for this mix; the first guides the
/// search. Patterns need not be full: pieces may be cut exactly as often as they are needed.
pub(crate) fn enumerate(
    instance: &Instance,
    mix: &[u32],
    filters: &[Refutation],
    most: usize,
    meter: &mut Meter<'_>,
) -> Enumerated {
    let Some(guide) = filters.first() else {
        return Enumerated::TooMany;
    };
    // Items that the guide gives away are decided last; the table does not know them.
    let offer = |(item, data): (u32, &super::instance::Item)| {
        let price = guide.prices.get(item as usize).copied().unwrap_or(0);
        Offer {
            item,
            size: data.size,
            most: data.demand,
            price,
        }
    };
    let (priced, free): (Vec<Offer>, Vec<Offer>) = (0_u32..)
        .zip(&instance.items)
        .filter(|(_, data)| data.demand > 0)
        .map(offer)
        .partition(|offer| offer.price > 0);
    let capacity = instance
        .kinds
        .iter()
        .zip(mix)
        .filter(|(_, bars)| **bars > 0)
        .map(|(kind, _)| kind.capacity);
    let table = Table::new(priced.clone(), capacity.max().unwrap_or(0), meter);
    let mut patterns = Vec::new();
    let mut steps = 0;
    for (place, (kind, &bars)) in (0_u32..).zip(instance.kinds.iter().zip(mix)) {
        if bars == 0 {
            continue;
        }
        let floors: Vec<i128> = filters
            .iter()
            .map(|filter| floor(filter, place, mix))
            .collect();
        let mut walk = Walk {
            priced: &priced,
            free: &free,
            table: &table,
            filters,
            floors: &floors,
            kind: place,
            path: Vec::new(),
            patterns: &mut patterns,
            most,
            steps: &mut steps,
        };
        let complete = walk.visit(0, kind.capacity, 0);
        if !complete || !meter.spend(0) {
            meter.spend(steps * STEP_WORK);
            return Enumerated::TooMany;
        }
    }
    meter.spend(steps * STEP_WORK);
    Enumerated::All(patterns)
}

/// The least that a pattern on this kind must be worth.
fn floor(filter: &Refutation, kind: u32, mix: &[u32]) -> i128 {
    let most = filter.most.get(kind as usize).copied().unwrap_or(0);
    i128::from(most) + filter.shortfall(mix)
}

struct Walk<'w> {
    priced: &'w [Offer],
    free: &'w [Offer],
    table: &'w Table,
    filters: &'w [Refutation],
    floors: &'w [i128],
    kind: u32,
    path: Vec<(u32, u32)>,
    patterns: &'w mut Vec<Pattern>,
    most: usize,
    steps: &'w mut u64,
}

impl Walk<'_> {
    /// False when there are too many.
    fn visit(&mut self, row: usize, rest: i64, value: i64) -> bool {
        *self.steps += 1;
        if *self.steps > MOST_STEPS {
            return false;
        }
        let reach =
            i128::from(value) + i128::from(self.table.bound(row.min(self.priced.len()), rest));
        if self.floors.first().is_some_and(|&floor| reach < floor) {
            return true;
        }
        let row = self.first_that_fits(row, rest);
        let offer = self
            .priced
            .get(row)
            .or_else(|| self.free.get(row.saturating_sub(self.priced.len())));
        let Some(&offer) = offer else {
            return self.keep();
        };
        let most = i64::from(offer.most).min(rest / offer.size);
        for used in (0..=most).rev() {
            // At most `offer.most`, a u32.
            let count = u32::try_from(used).unwrap_or(offer.most);
            if count > 0 {
                self.path.push((offer.item, count));
            }
            let go_on = self.visit(
                row + 1,
                rest - used * offer.size,
                value + used * offer.price,
            );
            if count > 0 {
                self.path.pop();
            }
            if !go_on {
                return false;
            }
        }
        true
    }

    /// Passes over offers that are too long; sizes decrease within each list.
    fn first_that_fits(&self, row: usize, rest: i64) -> usize {
        let skip = |offers: &[Offer]| offers.partition_point(|offer| offer.size > rest);
        let row = match self.priced.get(row..) {
            Some(offers) if !offers.is_empty() => row + skip(offers),
            _ => row,
        };
        match row
            .checked_sub(self.priced.len())
            .and_then(|from| self.free.get(from..))
        {
            Some(offers) => row + skip(offers),
            None => row,
        }
    }

    fn keep(&mut self) -> bool {
        if self.path.is_empty() {
            return true; // an empty bar needs no pattern
        }
        let passes = self
            .filters
            .iter()
            .zip(self.floors)
            .skip(1)
            .all(|(filter, &floor)| {
                let worth: i128 = self
                    .path
                    .iter()
                    .map(|&(item, count)| {
                        i128::from(filter.prices.get(item as usize).copied().unwrap_or(0))
                            * i128::from(count)
                    })
                    .sum();
                worth >= floor
            });
        if passes {
            let mut counts = self.path.clone();
            counts.sort_unstable();
            self.patterns.push(Pattern {
                kind: self.kind,
                counts,
            });
        }
        self.patterns.len() <= self.most
    }
}
