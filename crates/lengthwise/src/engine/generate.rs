//! Column generation: price patterns in until none is worth more than its bar.
//!
//! Source: Gilmore & Gomory, Oper. Res. 9 (1961) 849-859 and 11 (1963) 863-888 (from memory).

use std::collections::HashSet;

use super::bound::{Bound, bound};
use super::construct::fill_up;
use super::instance::{Pattern, Remainder};
use super::master::{Master, Microlp, Prices, Trouble, master};
use super::pricing::{Offer, Tables};
use super::search::Search;

/// A pattern must be worth more than its bar by this share of the largest cost to be taken in.
/// The linear program works at 1e-8; below 1e-7 it would be handed what it already satisfies.
const WORTH_ADDING: f64 = 1e-7;
/// Patterns taken in per round and kind of bar. More rounds cost tables, more patterns cost pivots.
const PATTERNS_PER_ROUND: usize = 12;
/// Kinds of bar that are still searched for patterns once time or work is up: each may take a millisecond or two.
const KINDS_WHEN_OVER: usize = 100;
/// How often a program in trouble is built anew before the generation is given up.
const MOST_REBUILDS: u32 = 3;
/// Patterns put to a program at once, for each kind of piece.
const PATTERNS_PER_ITEM: usize = 2;
/// Sizes that have a price of their own to begin with, and by how much they grow.
const FIRST_KNOTS: usize = 100;
const REFINE_BY: usize = 2;
/// Work units of one entry of the program's matrix for one re-solve.
const ENTRY_WORK: u64 = 60;

/// What column generation came to.
pub(crate) struct Generated {
    pub prices: Prices,
    /// The fractional optimum over the patterns so far, where the method gives it.
    pub counts: Option<Vec<(Pattern, f64)>>,
    /// The best exact bound met on the way.
    pub bound: Bound,
    /// What the last prices prove: often less, but they fit the last patterns best.
    pub last: Bound,
}

/// When to stop before no pattern is worth adding.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Until {
    /// As soon as the exact bound, rounded up, meets the value of the program.
    BoundMeetsValue,
    /// Not before.
    NothingToAdd,
}

/// The patterns of one program, with the program.
struct Running {
    master: Box<dyn Master>,
    /// How many sizes have a price of their own.
    knots: usize,
    patterns: Vec<Pattern>,
    rebuilds: u32,
    entries: u64,
}

/// Generates patterns for what remains until no pattern is worth adding, the bound meets the value
/// of the program, or `good_enough` says that the bound suffices.
///
/// # Errors
/// [`Trouble`] where the linear program could not be solved at all; patterns stay in the pool.
pub(crate) fn generate(
    search: &mut Search<'_, '_>,
    remainder: &Remainder,
    guide: Option<&Prices>,
    until: Until,
    good_enough: impl Fn(i128) -> bool,
) -> Result<Generated, Trouble> {
    let mut running = start(search, remainder, guide)?;
    let finest = search.finest.min(remainder.kinds_of_piece());
    let mut bounds = Bounds::default();
    let mut last: Option<Prices> = None;
    loop {
        let prices = match checked_prices(&running, last.as_ref(), search) {
            Ok(prices) => prices,
            Err(Trouble) if rebuild(search, remainder, &mut running).is_ok() => {
                last = None; // a rebuilt program may stand higher than the one that failed
                continue;
            }
            Err(Trouble) => return Ok(bounds.generated(last.ok_or(Trouble)?, None)),
        };
        let round = price(search, remainder, &prices);
        search.effort.pricing_rounds += 1;
        bounds.take(round.bound);
        if search.keeps_bounds {
            search.improve_bound(bounds.best.clone());
        }
        let best = bounds.best.value;
        let met = until == Until::BoundMeetsValue && best >= search.round_up(prices.objective);
        let over = good_enough(best) || search.meter.stopped().is_some();
        if !over && !met && take_in(search, &mut running, round.patterns) {
            last = Some(prices);
        } else if !over && running.knots < finest {
            if refine(search, remainder, &mut running, &prices).is_err() {
                return Ok(bounds.generated(prices, None));
            }
            last = None; // finer prices stand higher
        } else {
            return Ok(bounds.generated(prices, running.counts()));
        }
    }
}

/// The exact bounds met on the way.
#[derive(Default)]
struct Bounds {
    best: Bound,
    last: Bound,
}

impl Bounds {
    fn take(&mut self, bound: Bound) {
        if bound.value > self.best.value || self.best.prices.is_empty() {
            self.best = bound.clone();
        }
        self.last = bound;
    }

    fn generated(self, prices: Prices, counts: Option<Vec<(Pattern, f64)>>) -> Generated {
        Generated {
            prices,
            counts,
            bound: self.best,
            last: self.last,
        }
    }
}

impl Running {
    fn count_entries(&mut self, search: &mut Search<'_, '_>) {
        let entries = self
            .patterns
            .iter()
            .map(|pattern| pattern.counts.len() as u64 + 2);
        self.entries = entries.sum();
        search.meter.spend(self.entries * ENTRY_WORK);
    }

    fn counts(&self) -> Option<Vec<(Pattern, f64)>> {
        let counts = self.master.counts()?;
        let pattern = |place: usize| self.patterns.get(place).cloned();
        Some(
            counts
                .into_iter()
                .filter_map(|(place, count)| Some((pattern(place)?, count)))
                .collect(),
        )
    }
}

/// The program over known patterns, with at least one pattern for each piece that fits a bar.
fn start(
    search: &mut Search<'_, '_>,
    remainder: &Remainder,
    guide: Option<&Prices>,
) -> Result<Running, Trouble> {
    let kinds_of_piece = remainder.kinds_of_piece();
    let most = PATTERNS_PER_ITEM * (kinds_of_piece + 1);
    let mut patterns = search.pool.usable(search.instance, remainder, guide, most);
    let mut known: HashSet<Pattern> = patterns.iter().cloned().collect();
    for pattern in alone(search, remainder) {
        if known.insert(pattern.clone()) {
            search.pool.add(pattern.clone());
            patterns.push(pattern);
        }
    }
    if !search.meter.spend(0) {
        return Err(Trouble);
    }
    // Good prices are known: no need to begin with coarse ones.
    let knots = if guide.is_some() {
        search.finest
    } else {
        search.finest.min(FIRST_KNOTS)
    };
    let mut running = Running {
        master: program(search, remainder, &patterns, knots)?,
        knots,
        patterns,
        rebuilds: 0,
        entries: 0,
    };
    running.count_entries(search);
    Ok(running)
}

/// The program over these patterns, with prices free at so many sizes.
fn program(
    search: &mut Search<'_, '_>,
    remainder: &Remainder,
    patterns: &[Pattern],
    knots: usize,
) -> Result<Box<dyn Master>, Trouble> {
    let references: Vec<&Pattern> = patterns.iter().collect();
    let (instance, ceiling) = (search.instance, search.ceiling);
    master(
        instance,
        remainder,
        &references,
        ceiling,
        &search.tilt,
        knots,
        search.meter,
    )
}

/// Builds the program anew with more sizes that have a price of their own, over the patterns that the
/// prices so far like best.
fn refine(
    search: &mut Search<'_, '_>,
    remainder: &Remainder,
    running: &mut Running,
    prices: &Prices,
) -> Result<(), Trouble> {
    let kinds_of_piece = remainder.kinds_of_piece();
    let knots = running.knots.saturating_mul(REFINE_BY).min(search.finest);
    let slack = |pattern: &Pattern| prices.slack(search.instance, pattern);
    let mut patterns = std::mem::take(&mut running.patterns);
    patterns.sort_by(|a, b| slack(a).total_cmp(&slack(b)).then_with(|| a.cmp(b)));
    patterns.truncate(PATTERNS_PER_ITEM * (kinds_of_piece + 1));
    running.master = program(search, remainder, &patterns, knots)?;
    running.knots = knots;
    running.patterns = patterns;
    running.count_entries(search);
    Ok(())
}

/// For each piece as many of it as fit, filled up; for each run the split of least length.
fn alone(search: &Search<'_, '_>, remainder: &Remainder) -> Vec<Pattern> {
    let instance = search.instance;
    let mut patterns = Vec::new();
    let lengths = instance.lengths();
    for kind in (0_u32..).zip(&instance.kinds).map(|(kind, _)| kind) {
        let run = instance.run_of(kind);
        if let Some(run) = run.filter(|_| remainder.available_of(kind) != Some(0)) {
            patterns.extend(
                run.cheapest(&lengths)
                    .map(|joints| run.pattern(kind, joints)),
            );
        }
    }
    let mut bars = instance.bars();
    bars.retain(|(kind, _)| remainder.available_of(*kind) != Some(0));
    for ((item, piece), &demand) in (0_u32..).zip(&instance.items).zip(&remainder.demand) {
        let size = piece.size;
        if demand == 0 {
            continue;
        }
        let cheapest = bars
            .iter()
            .filter(|(_, data)| data.capacity >= size && piece.may_be_of(data.batch))
            .min_by_key(|(kind, data)| {
                let fits = (data.capacity / size).clamp(1, i64::from(demand));
                // Kinds without limit first: they keep the prices bounded.
                (
                    remainder.available_of(*kind).is_some(),
                    data.cost / fits,
                    data.cost,
                )
            });
        if let Some(&(kind, data)) = cheapest {
            let mut fits = u32::try_from(data.capacity / size)
                .unwrap_or(u32::MAX)
                .min(demand);
            if !instance.may_share(&[(item, 2)]) {
                fits = fits.min(1);
            }
            let mut pattern = Pattern {
                split: None,
                kind,
                counts: vec![(item, fits)],
            };
            fill_up(instance, remainder, &mut pattern);
            patterns.push(pattern);
        }
    }
    patterns
}

/// Prices that can be believed: they respect the known patterns and did not rise.
fn checked_prices(
    running: &Running,
    last: Option<&Prices>,
    search: &Search<'_, '_>,
) -> Result<Prices, Trouble> {
    let prices = running.master.prices()?;
    let rose = last.is_some_and(|last| {
        prices.objective > last.objective + WORTH_ADDING * (1.0 + last.objective.abs())
    });
    let respected = prices.respect(search.instance, running.patterns.iter());
    if rose || !respected {
        Err(Trouble)
    } else {
        Ok(prices)
    }
}

fn rebuild(
    search: &mut Search<'_, '_>,
    remainder: &Remainder,
    running: &mut Running,
) -> Result<(), Trouble> {
    running.rebuilds += 1;
    search.effort.rebuilds += 1;
    if running.rebuilds > MOST_REBUILDS || search.meter.stopped().is_some() {
        return Err(Trouble);
    }
    let references: Vec<&Pattern> = running.patterns.iter().collect();
    let time = search.meter.lp_time();
    // The other method: what troubles the first need not trouble it.
    let (instance, ceiling) = (search.instance, search.ceiling);
    let general = Microlp::new(
        instance,
        remainder,
        &references,
        ceiling,
        &search.tilt,
        time,
    )?;
    running.master = Box::new(general);
    running.knots = usize::MAX;
    Ok(())
}

struct Round {
    patterns: Vec<Pattern>,
    bound: Bound,
}

/// One round: whole-number prices, one table, the best patterns of each kind, the exact bound.
fn price(search: &mut Search<'_, '_>, remainder: &Remainder, prices: &Prices) -> Round {
    let instance = search.instance;
    let whole = search.whole_prices(prices);
    let offers: Vec<Offer> = (0_u32..)
        .zip(&instance.items)
        .zip(remainder.demand.iter().zip(&whole))
        .filter(|(_, (demand, price))| **demand > 0 && **price > 0)
        .map(|((item, data), (&most, &price))| Offer {
            item,
            size: data.size,
            most,
            price,
        })
        .collect();
    let open = |kind: u32| remainder.available_of(kind) != Some(0);
    let kinds = || {
        (0_u32..)
            .zip(&instance.kinds)
            .filter(|(kind, _)| open(*kind))
    };
    let capacity = kinds().map(|(_, data)| data.capacity).max().unwrap_or(0);
    let cells = std::mem::take(&mut search.cells);
    let tables = Tables::in_place_of(cells, instance, &offers, capacity, search.meter);
    let mut best_values = vec![0_i64; instance.kinds.len()];
    let mut patterns = Vec::new();
    let mut searched_when_over = 0;
    for (kind, data) in kinds() {
        let bar = prices.bars.get(kind as usize).copied().unwrap_or(0.0);
        let floor = search.worth(data.cost, bar);
        if let Some(run) = instance.run_of(kind) {
            search.meter.spend(run.work());
            let least = floor.saturating_add(search.share_of_cost(WORTH_ADDING));
            let (at_most, splits) = run.best(&whole, least);
            if let Some(best) = best_values.get_mut(kind as usize) {
                *best = at_most;
            }
            patterns.extend(
                splits
                    .into_iter()
                    .map(|(joints, _)| run.pattern(kind, joints)),
            );
            continue;
        }
        let Some(table) = tables.of(kind) else {
            continue; // never: each kind has one
        };
        searched_when_over += usize::from(search.meter.stopped().is_some());
        let (at_most, found) = if searched_when_over > KINDS_WHEN_OVER {
            (table.bound(0, data.capacity), Vec::new())
        } else {
            table.best_by_largest(data.capacity, floor, search.meter)
        };
        if let Some(best) = best_values.get_mut(kind as usize) {
            *best = at_most;
        }
        let least = floor.saturating_add(search.share_of_cost(WORTH_ADDING));
        let worth_adding = found.into_iter().filter(|(_, value)| *value > least);
        patterns.extend(worth_adding.take(PATTERNS_PER_ROUND).map(|(counts, _)| {
            let mut pattern = Pattern {
                split: None,
                kind,
                counts,
            };
            fill_up(instance, remainder, &mut pattern);
            pattern
        }));
    }
    search.cells = tables.into_cells();
    let bound = bound(instance, remainder, &whole, search.scale, &best_values);
    Round { patterns, bound }
}

/// Adds the patterns that the program does not satisfy yet; false where there was none.
fn take_in(search: &mut Search<'_, '_>, running: &mut Running, patterns: Vec<Pattern>) -> bool {
    let mut added = false;
    for pattern in patterns {
        if running.patterns.contains(&pattern) {
            continue; // the program is already as good as its tolerance lets it be
        }
        let satisfied = running
            .master
            .prices()
            .is_ok_and(|prices| prices.slack(search.instance, &pattern) >= -WORTH_ADDING / 2.0);
        if satisfied && added {
            continue;
        }
        let failed = running.master.add(search.instance, &pattern).is_err();
        running.entries += pattern.counts.len() as u64 + 2;
        search.effort.patterns += 1;
        search.pool.add(pattern.clone());
        running.patterns.push(pattern);
        added = true;
        if !search.meter.spend(running.entries * ENTRY_WORK) || failed {
            break; // a failed program is noticed and rebuilt at the next prices
        }
    }
    added
}
