//! How many patterns are needed at least: whole-number prices, by column generation.
//!
//! A pattern that is cut `x` times holds at most `d_i / x` of each piece. Give each piece a price, charge
//! each bar for its cost and, where its kind is limited, for itself. If no pattern at any `x` is worth more
//! than `Z` beyond what its `x` bars are charged, then at least
//! `(sum d_i p_i - charges of all that may be spent) / Z` patterns are needed, rounded up. Runs give
//! back at most what their kind holds, as everywhere in the engine; splits are no patterns.
//!
//! Source: the column generation bound of Vanderbeck, Oper. Res. 48 (2000) 915-926 (from memory), with
//! the budget for cost instead of the number of rolls; the prices made whole as in `bound`.

use std::panic::{AssertUnwindSafe, catch_unwind};

use microlp::{
    ComparisonOp, OptimizationDirection, Problem, Solution, SolveOptions, SolveOutcome, Variable,
};

use super::space::{State, at, most_bars, place};
use crate::engine::instance::{Instance, Packing, Pattern};
use crate::engine::pricing::{Offer, Tables};
use crate::engine::work::Meter;

/// Numbers of uses that are priced one by one. More are taken together, which weakens the bound.
const MOST_TIMES: usize = 24;
/// Rounds of pricing. Most jobs of the trade end by themselves in less than half of that.
const MOST_ROUNDS: usize = 80;
/// Patterns that enter in one round.
const ADDED_PER_ROUND: usize = 16;
/// More kinds of piece make the tables too slow for what they bring; the length alone is used then.
const MOST_ITEMS: usize = 320;
/// What one unit of a price counts as a whole number.
const SCALE: f64 = (1_u64 << 30) as f64;
/// Prices above this are a sign of trouble.
const LARGEST_PRICE: f64 = (1_u64 << 22) as f64;
/// A pattern enters where it breaks the prices by more than this.
const WORTH_ENTERING: f64 = 1e-6;
/// Bounds that are kept for use within the search.
const KEPT: usize = 4;
/// Work units of one entry of the program for one solve.
const ENTRY_WORK: u64 = 40;

/// Prices that bound the number of patterns from below.
#[derive(Clone, Debug)]
pub(super) struct Floor {
    /// One an item.
    prices: Vec<i64>,
    /// What one unit of cost is charged: a whole number over `unit`.
    charge: i64,
    unit: i64,
    /// What a bar of each kind is charged besides; of a run, what its splits give back at the most.
    by_bar: Vec<i64>,
    /// How many bars of each kind there are to be charged for; nothing for kinds without limit.
    bars: Vec<u32>,
    /// No pattern is worth more.
    most: i128,
}

/// A range of numbers of uses, both included, at which all pieces can be cut equally often.
#[derive(Clone, Copy, Debug)]
struct Times {
    from: u32,
    to: u32,
}

impl Floor {
    /// At least so many patterns are needed for what is left.
    pub fn needs(&self, instance: &Instance, cost: i128, state: &State) -> u32 {
        let kinds = instance.kinds.iter().zip(&state.used);
        let spent: i128 = kinds
            .map(|(kind, &used)| i128::from(kind.cost) * i128::from(used))
            .sum();
        let left = (cost - spent).max(0);
        let by_cost = left * i128::from(self.charge) / i128::from(self.unit.max(1));
        let by_bar = self.by_bar.iter().zip(&self.bars).zip(&state.used);
        let by_bar: i128 = by_bar
            .map(|((&charge, &bars), &used)| {
                i128::from(charge) * i128::from(bars.saturating_sub(used))
            })
            .sum();
        let worth = state.demand.iter().zip(&self.prices);
        let worth: i128 = worth
            .map(|(&demand, &price)| i128::from(demand) * i128::from(price))
            .sum();
        let over = worth - by_cost - by_bar;
        let most = self.most.max(1);
        u32::try_from((over.max(0) + most - 1) / most).unwrap_or(u32::MAX)
    }
}

/// The best bounds, the best one first. `packing` is the plan as it is.
pub(super) fn floors(
    instance: &Instance,
    packing: &Packing,
    cost: i128,
    meter: &mut Meter<'_>,
) -> Vec<Floor> {
    let pricing = Pricing::new(instance, cost);
    let start = pricing.start();
    let mut floors = vec![pricing.by_length()];
    let needed = instance.items.iter().filter(|item| item.demand > 0);
    if needed.count() > MOST_ITEMS {
        return floors;
    }
    let Some(mut program) = Program::new(instance, packing, cost, meter) else {
        return floors;
    };
    for _ in 0..MOST_ROUNDS {
        let Some(floor) = program.floor(instance, &pricing) else {
            break;
        };
        let Some((floor, broken)) = pricing.priced(floor, meter) else {
            break;
        };
        floors.push(floor);
        let best = floors
            .iter()
            .map(|floor| floor.needs(instance, cost, &start));
        let best = best.max().unwrap_or(0);
        let value = program.solution.as_ref().map_or(0.0, Solution::objective);
        let is_met = value <= f64::from(best) + WORTH_ENTERING;
        let goes_on = !is_met && !broken.is_empty() && meter.stopped().is_none();
        if !goes_on || !program.add(instance, &broken, meter) {
            break;
        }
    }
    // The last are nearly alike; of equal bounds the latest is the most balanced.
    floors.reverse();
    floors.sort_by_key(|floor| std::cmp::Reverse(floor.needs(instance, cost, &start)));
    floors.truncate(KEPT);
    floors
}

/// Everything that stays the same from round to round.
struct Pricing<'i> {
    instance: &'i Instance,
    times: Vec<Times>,
    /// Bars of each kind that a plan can use.
    most_bars: Vec<u32>,
}

impl<'i> Pricing<'i> {
    fn new(instance: &'i Instance, cost: i128) -> Pricing<'i> {
        let pieces = instance.whole().pieces();
        let bars = instance.kinds.iter();
        Pricing {
            instance,
            times: times(instance),
            most_bars: bars.map(|kind| most_bars(kind, cost, pieces)).collect(),
        }
    }

    fn start(&self) -> State {
        State {
            demand: self.instance.whole().demand,
            used: vec![0; self.instance.kinds.len()],
            losses: [0; super::space::GAUGES],
        }
    }

    /// So many uses of a kind at the most, within a range; `None` where the range is out of reach.
    fn most_times(&self, kind: usize, times: Times) -> Option<u32> {
        let bars = at(&self.most_bars, kind);
        (bars >= times.from).then_some(bars.min(times.to))
    }

    fn offers(&self, prices: &[i64], times: Times) -> Vec<Offer> {
        let items = (0_u32..).zip(&self.instance.items).zip(prices);
        let offers = items.map(|((item, data), &price)| Offer {
            item,
            size: data.size,
            most: data.demand / times.from,
            price,
        });
        offers
            .filter(|offer| offer.most > 0 && offer.price > 0)
            .collect()
    }

    /// Pieces priced by their length, bars free of charge.
    fn by_length(&self) -> Floor {
        let prices = self.instance.lengths();
        let mut most = 0;
        for &times in &self.times {
            let offers = self.offers(&prices, times);
            let all: i128 = offers
                .iter()
                .map(|offer| i128::from(offer.price) * i128::from(offer.most))
                .sum();
            for (kind, data) in self.instance.kinds.iter().enumerate() {
                if let Some(most_times) = self.most_times(kind, times) {
                    let holds = all.min(i128::from(data.capacity));
                    most = most.max(holds * i128::from(most_times));
                }
            }
        }
        let given_back = |kind: u32| {
            self.instance
                .run_of(kind)
                .map_or(0, |run| run.holds(&prices))
        };
        let kinds = (0_u32..).zip(&self.instance.kinds);
        let by_bar = kinds.map(|(kind, _)| given_back(kind)).collect();
        Floor {
            charge: 0,
            unit: 1,
            by_bar,
            bars: self.charged_bars(),
            most,
            prices,
        }
    }

    /// How many bars of each kind a bound has to charge for.
    fn charged_bars(&self) -> Vec<u32> {
        let kinds = self.instance.kinds.iter();
        kinds.map(|kind| kind.available.unwrap_or(0)).collect()
    }

    /// The floor with what its patterns are worth at the most, and patterns that break it; `None` where there
    /// is no time for all of them.
    fn priced(&self, floor: Floor, meter: &mut Meter<'_>) -> Option<(Floor, Vec<Column>)> {
        let mut floor = floor;
        let mut broken: Vec<(f64, Column)> = Vec::new();
        for (kind, charge) in (0_u32..).zip(&mut floor.by_bar) {
            let Some(run) = self.instance.run_of(kind) else {
                continue;
            };
            meter.spend(run.work());
            let (most, splits) = run.best(&floor.prices, *charge);
            for (joints, worth) in splits.into_iter().take(1) {
                let over = (worth - *charge) as f64 / SCALE; // a guide only
                if over > WORTH_ENTERING {
                    broken.push((over, Column::split(run.pattern(kind, joints))));
                }
            }
            *charge = most.max(0);
        }
        let mut most = 1;
        for &times in self.times.iter() {
            let offers = self.offers(&floor.prices, times);
            if offers.is_empty() {
                continue;
            }
            let tables = Tables::new(self.instance, &offers, meter);
            for (kind, data) in (0_u32..).zip(&self.instance.kinds) {
                if meter.stopped().is_some() {
                    return None;
                }
                let Some(uses) = self.most_times(place(kind), times) else {
                    continue;
                };
                let by_cost =
                    i128::from(floor.charge) * i128::from(data.cost) / i128::from(floor.unit);
                let charged = i128::from(at(&floor.by_bar, place(kind))) + by_cost;
                let least = i64::try_from(charged.max(0)).unwrap_or(i64::MAX / 4);
                let Some(table) = tables.of(kind) else {
                    continue; // never: each kind has one
                };
                let found = table.search(data.capacity, least, meter);
                let worth = (i128::from(found.at_most) - charged) * i128::from(uses);
                most = most.max(worth);
                if let Some((counts, value)) = found.pattern {
                    let worth = (i128::from(value) - charged) * i128::from(uses);
                    let over = worth as f64 / SCALE - 1.0; // a guide only
                    if over > WORTH_ENTERING {
                        let pattern = Pattern {
                            kind,
                            counts,
                            split: None,
                        };
                        broken.push((over, Column::bars(pattern, uses)));
                    }
                }
            }
        }
        floor.most = most;
        broken.sort_by(|a, b| b.0.total_cmp(&a.0));
        broken.truncate(ADDED_PER_ROUND);
        let broken = broken.into_iter().map(|(_, column)| column).collect();
        Some((floor, broken))
    }
}

/// The numbers of uses at which pieces can be cut less often than at one more, in ranges.
fn times(instance: &Instance) -> Vec<Times> {
    let demand: std::collections::BTreeSet<u32> =
        instance.items.iter().map(|item| item.demand).collect();
    let mut ends = std::collections::BTreeSet::new();
    for &demand in &demand {
        // The values of demand / k: at most twice its square root.
        let mut times = demand;
        while times > 0 {
            ends.insert(times);
            let count = demand / times;
            times = demand / (count + 1);
        }
    }
    let ends: Vec<u32> = ends.into_iter().collect();
    let step = ends.len().div_ceil(MOST_TIMES).max(1);
    let mut from = 1;
    let mut ranges = Vec::new();
    for chunk in ends.chunks(step) {
        if let Some(&to) = chunk.last() {
            ranges.push(Times { from, to });
            from = to + 1;
        }
    }
    ranges
}

/// A pattern with how often it is used at once; a split is no pattern and used once.
struct Column {
    pattern: Pattern,
    times: f64,
    counts_as: f64,
}

impl Column {
    fn bars(pattern: Pattern, times: u32) -> Column {
        Column {
            pattern,
            times: f64::from(times),
            counts_as: 1.0,
        }
    }

    fn split(pattern: Pattern) -> Column {
        Column {
            pattern,
            times: 1.0,
            counts_as: 0.0,
        }
    }
}

/// The program whose variables are the prices: one constraint a pattern, as in
/// [`master`](crate::engine::master).
struct Program {
    pieces: Vec<Option<Variable>>,
    by_cost: Variable,
    by_bar: Vec<Option<Variable>>,
    unit: i64,
    /// Nothing once the solver was in trouble.
    solution: Option<Solution>,
    entries: u64,
}

impl Program {
    fn new(
        instance: &Instance,
        packing: &Packing,
        cost: i128,
        meter: &mut Meter<'_>,
    ) -> Option<Program> {
        let unit = instance.largest_cost().max(1);
        let mut problem = Problem::new(OptimizationDirection::Maximize);
        let most = (0.0, f64::INFINITY);
        let items = instance.items.iter();
        let pieces: Vec<Option<Variable>> = items
            .map(|item| (item.demand > 0).then(|| problem.add_var(f64::from(item.demand), most)))
            .collect();
        let by_cost = problem.add_var(-(cost as f64 / unit as f64), most); // a guide only
        let kinds = instance.kinds.iter();
        let by_bar: Vec<Option<Variable>> = kinds
            .map(|kind| {
                let bars = kind.available?;
                Some(problem.add_var(-f64::from(bars), most))
            })
            .collect();
        let rows = Rows {
            pieces: &pieces,
            by_cost,
            by_bar: &by_bar,
            unit,
        };
        let mut entries = 0;
        for (pattern, uses) in &packing.uses {
            let column = if pattern.split.is_some() {
                Column::split(pattern.clone())
            } else {
                Column::bars(pattern.clone(), *uses)
            };
            let (terms, right) = rows.constraint(instance, &column);
            entries += terms.len() as u64; // a count fits
            problem.add_constraint(terms, ComparisonOp::Le, right);
        }
        let mut options = SolveOptions::default();
        options.time_limit = Some(meter.lp_time());
        let solution = guarded(|| problem.solve_with(options))?;
        meter.spend(entries * ENTRY_WORK);
        Some(Program {
            pieces,
            by_cost,
            by_bar,
            unit,
            solution: Some(solution),
            entries,
        })
    }

    /// Adds constraints; false where the program is in trouble or out of time.
    fn add(&mut self, instance: &Instance, columns: &[Column], meter: &mut Meter<'_>) -> bool {
        for column in columns {
            let rows = Rows {
                pieces: &self.pieces,
                by_cost: self.by_cost,
                by_bar: &self.by_bar,
                unit: self.unit,
            };
            let (terms, right) = rows.constraint(instance, column);
            self.entries += terms.len() as u64; // a count fits
            let Some(solution) = self.solution.take() else {
                return false;
            };
            self.solution = guarded(|| solution.add_constraint(terms, ComparisonOp::Le, right));
            if !meter.spend(self.entries * ENTRY_WORK) {
                return false;
            }
        }
        true
    }

    /// The prices as whole numbers; `None` where they make no sense.
    fn floor(&self, instance: &Instance, pricing: &Pricing<'_>) -> Option<Floor> {
        let solution = self.solution.as_ref()?;
        let whole = |variable: Option<Variable>| {
            let value = variable.map_or(0.0, |variable| solution.var_value_raw(variable));
            let value = value.max(0.0);
            // Within the range of whole numbers, checked here; rounded down.
            (value <= LARGEST_PRICE).then_some((value * SCALE) as i64)
        };
        let pieces = self.pieces.iter().map(|&variable| whole(variable));
        let by_bar = self.by_bar.iter().map(|&variable| whole(variable));
        debug_assert_eq!(self.pieces.len(), instance.items.len());
        Some(Floor {
            prices: pieces.collect::<Option<_>>()?,
            charge: whole(Some(self.by_cost))?,
            unit: self.unit,
            by_bar: by_bar.collect::<Option<_>>()?,
            bars: pricing.charged_bars(),
            most: 1,
        })
    }
}

struct Rows<'r> {
    pieces: &'r [Option<Variable>],
    by_cost: Variable,
    by_bar: &'r [Option<Variable>],
    unit: i64,
}

impl Rows<'_> {
    fn constraint(&self, instance: &Instance, column: &Column) -> (Vec<(Variable, f64)>, f64) {
        let Column {
            pattern,
            times,
            counts_as,
        } = column;
        let counts = pattern.counts.iter();
        let mut terms: Vec<(Variable, f64)> = counts
            .filter_map(|&(item, count)| {
                let variable = self.pieces.get(place(item)).copied().flatten()?;
                Some((variable, f64::from(count) * times))
            })
            .collect();
        let cost = instance.kind(pattern).cost as f64 / self.unit as f64; // a guide only
        if cost > 0.0 {
            terms.push((self.by_cost, -cost * times));
        }
        if let Some(bar) = self.by_bar.get(place(pattern.kind)).copied().flatten() {
            terms.push((bar, -times));
        }
        (terms, *counts_as)
    }
}

/// As in the master: an error, an interruption or a panic of the solver is a failure, not the end.
fn guarded(run: impl FnOnce() -> Result<SolveOutcome, microlp::Error>) -> Option<Solution> {
    let outcome = catch_unwind(AssertUnwindSafe(run)).ok()?;
    outcome.ok()?.into_solution().ok()
}
