//! The master linear program in its dual form: prices for pieces.
//!
//! maximise `sum d_i pi_i - sum b_s sigma_s` over `0 <= pi_i <= ceiling`, `sigma_s >= 0`, subject to
//! `sum a_ip pi_i - sigma_s <= c_s` for every known pattern `p` on kind `s` (sigma only where the kind
//! is limited). A new pattern is one more constraint on a solved program, which costs a few
//! dual-simplex pivots. Everything here is floating point: it guides, it proves nothing.
//!
//! Source: Gilmore & Gomory, Oper. Res. 9 (1961) 849-859; Valerio de Carvalho, INFORMS J. Comput. 17
//! (2005) 175-182, for the dual view (from memory).

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::time::Duration;

use microlp::{
    ComparisonOp, OptimizationDirection, Problem, Solution, SolveOptions, SolveOutcome, Variable,
};

use super::blend::Blend;
use super::instance::{Instance, Pattern, Remainder};
use super::simplex::Simplex;
use super::work::Meter;

/// Prices may break a known pattern by so much of the largest cost before the answer is distrusted.
/// The simplex works at 1e-8; below 1e-7 honest answers would be thrown away.
const WORST_VIOLATION: f64 = 1e-6;

/// Kinds of piece up to which our own simplex is used. Its inverse is full: with a thousand kinds the
/// sparse factors of the general solver are quicker (measured; the two meet somewhere between).
pub(crate) const MOST_FOR_SIMPLEX: usize = 400;

/// Rows up to which it is used where windows of courses and limited kinds of bar, with a row each, come on
/// top: the inverse takes 128 MB then.
const MOST_ROWS: usize = 4_000;

/// Prices of pieces and of limited bars, in units of the instance's largest cost.
#[derive(Clone, Debug)]
pub(crate) struct Prices {
    pub pieces: Vec<f64>,
    pub bars: Vec<f64>,
    pub objective: f64,
}

/// The linear program failed, stalled, or gave an answer that cannot be right.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Trouble;

/// A master that takes patterns and gives prices.
pub(crate) trait Master {
    /// Adds a pattern and solves again.
    fn add(&mut self, instance: &Instance, pattern: &Pattern) -> Result<(), Trouble>;
    /// The prices for all patterns so far.
    fn prices(&self) -> Result<Prices, Trouble>;
    /// How often each pattern is used, `(place in the order of adding, count)`, where the method knows.
    fn counts(&self) -> Option<Vec<(usize, f64)>>;
}

/// The master over `patterns`: our own simplex, or the general solver where that is in trouble or where
/// the inverse would be too large.
pub(crate) fn master(
    instance: &Instance,
    remainder: &Remainder,
    patterns: &[&Pattern],
    ceiling: f64,
    tilt: &[f64],
    knots: usize,
    meter: &mut Meter<'_>,
) -> Result<Box<dyn Master>, Trouble> {
    let rows = remainder.kinds_of_piece().min(knots);
    let blend = Blend::new(instance, remainder, rows);
    let limited = remainder.available.iter().flatten().count();
    if rows <= MOST_FOR_SIMPLEX
        && blend.rows() + limited <= MOST_ROWS
        && let Ok(simplex) = Simplex::new(
            instance,
            remainder,
            patterns,
            ceiling,
            tilt,
            blend,
            &mut || meter.spend(0),
        )
    {
        return Ok(Box::new(simplex));
    }
    if meter.stopped().is_some() {
        return Err(Trouble);
    }
    let time = meter.lp_time();
    let general = Microlp::new(instance, remainder, patterns, ceiling, tilt, time)?;
    Ok(Box::new(general))
}

/// The master on microlp's warm start.
pub(crate) struct Microlp {
    pieces: Vec<Option<Variable>>,
    bars: Vec<Option<Variable>>,
    unit: f64,
    solution: Option<Solution>,
}

impl Microlp {
    /// Solves the master over `patterns`; `ceiling` bounds each price, in units of cost. `tilt` is
    /// added to the demands, to come to other prices where several are equally good.
    pub fn new(
        instance: &Instance,
        remainder: &Remainder,
        patterns: &[&Pattern],
        ceiling: f64,
        tilt: &[f64],
        time: Duration,
    ) -> Result<Microlp, Trouble> {
        let unit = cost_unit(instance);
        let mut problem = Problem::new(OptimizationDirection::Maximize);
        let pieces: Vec<Option<Variable>> = remainder
            .demand
            .iter()
            .enumerate()
            .map(|(item, &demand)| {
                let weight = f64::from(demand) + tilt.get(item).copied().unwrap_or(0.0);
                (demand > 0).then(|| problem.add_var(weight, (0.0, ceiling / unit)))
            })
            .collect();
        let bars: Vec<Option<Variable>> = remainder
            .available
            .iter()
            .map(|available| {
                available
                    .map(|available| problem.add_var(-f64::from(available), (0.0, f64::INFINITY)))
            })
            .collect();
        let mut master = Microlp {
            pieces,
            bars,
            unit,
            solution: None,
        };
        for pattern in patterns {
            let (terms, cost) = master.constraint(instance, pattern);
            problem.add_constraint(terms, ComparisonOp::Le, cost);
        }
        let mut options = SolveOptions::default();
        options.time_limit = Some(time);
        master.solution = Some(guarded(|| problem.solve_with(options))?);
        Ok(master)
    }

    fn constraint(&self, instance: &Instance, pattern: &Pattern) -> (Vec<(Variable, f64)>, f64) {
        let mut terms: Vec<(Variable, f64)> = pattern
            .counts
            .iter()
            .filter_map(|&(item, count)| {
                let variable = self.pieces.get(item as usize).copied().flatten()?;
                Some((variable, f64::from(count)))
            })
            .collect();
        if let Some(bar) = self.bars.get(pattern.kind as usize).copied().flatten() {
            terms.push((bar, -1.0));
        }
        (terms, relative_cost(instance, pattern, self.unit))
    }
}

impl Master for Microlp {
    fn add(&mut self, instance: &Instance, pattern: &Pattern) -> Result<(), Trouble> {
        let (terms, cost) = self.constraint(instance, pattern);
        let solution = self.solution.take().ok_or(Trouble)?;
        self.solution = Some(guarded(|| {
            solution.add_constraint(terms, ComparisonOp::Le, cost)
        })?);
        Ok(())
    }

    fn prices(&self) -> Result<Prices, Trouble> {
        let solution = self.solution.as_ref().ok_or(Trouble)?;
        let value = |variable: &Option<Variable>| {
            // Tiny negative prices come from rounding; anything not a number fails the next check.
            variable.map_or(0.0, |variable| solution.var_value_raw(variable).max(0.0))
        };
        let prices = Prices {
            pieces: self.pieces.iter().map(value).collect(),
            bars: self.bars.iter().map(value).collect(),
            objective: solution.objective(),
        };
        let all = prices
            .pieces
            .iter()
            .chain(&prices.bars)
            .chain([&prices.objective]);
        if all.copied().all(f64::is_finite) {
            Ok(prices)
        } else {
            Err(Trouble)
        }
    }

    fn counts(&self) -> Option<Vec<(usize, f64)>> {
        None // the solver gives no duals of its rows
    }
}

/// Costs are put to the linear program as shares of the largest, so that its tolerances fit.
pub(crate) fn cost_unit(instance: &Instance) -> f64 {
    instance.largest_cost().max(1) as f64 // a guide only: rounding above 2^53 does no harm
}

fn relative_cost(instance: &Instance, pattern: &Pattern, unit: f64) -> f64 {
    instance.kind(pattern).cost as f64 / unit // a guide only
}

impl Prices {
    /// What the prices leave of a pattern's cost: below zero where the pattern is worth more.
    pub fn slack(&self, instance: &Instance, pattern: &Pattern) -> f64 {
        let price = |item: u32| self.pieces.get(item as usize).copied().unwrap_or(0.0);
        let worth: f64 = pattern
            .counts
            .iter()
            .map(|&(item, count)| price(item) * f64::from(count))
            .sum();
        let bar = self.bars.get(pattern.kind as usize).copied().unwrap_or(0.0);
        relative_cost(instance, pattern, cost_unit(instance)) + bar - worth
    }

    /// Whether no known pattern is broken by more than rounding explains.
    pub fn respect<'p>(
        &self,
        instance: &Instance,
        mut patterns: impl Iterator<Item = &'p Pattern>,
    ) -> bool {
        patterns.all(|pattern| self.slack(instance, pattern) >= -WORST_VIOLATION)
    }
}

/// Runs the solver; errors, interruptions and panics all become [`Trouble`].
///
/// The solver asserts its own invariants; a caller who plans a purchase must not be brought down by
/// one of them, so a panic is treated like any other failure and the program is built anew.
fn guarded(
    run: impl FnOnce() -> Result<SolveOutcome, microlp::Error>,
) -> Result<Solution, Trouble> {
    let outcome = catch_unwind(AssertUnwindSafe(run)).map_err(|_| Trouble)?;
    outcome
        .map_err(|_| Trouble)?
        .into_solution()
        .map_err(|_| Trouble)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::clock::Deadline;
    use crate::engine::instance::{Item, Kind};

    /// Kinds of bar of which there is one each have a row each.
    fn scarce(kinds: usize) -> Instance {
        let kind = Kind {
            capacity: 100,
            cost: 1,
            available: Some(1),
            pack: 1,
            tie: 0,
            run: None,
            batch: 0,
        };
        Instance {
            items: vec![Item {
                size: 40,
                demand: 1,
                batch: None,
            }],
            kinds: vec![kind; kinds],
            ..Instance::default()
        }
    }

    /// An inverse of a hundred thousand rows would take 80 GB.
    #[test]
    fn the_inverse_stays_small() {
        let has_inverse = |kinds| {
            let instance = scarce(kinds);
            let pattern = Pattern {
                kind: 0,
                counts: vec![(0, 1)],
                split: None,
            };
            let mut meter = Meter::new(u64::MAX, Deadline::never(), None, None);
            let remainder = instance.whole();
            let master = master(
                &instance,
                &remainder,
                &[&pattern],
                10.0,
                &[],
                100,
                &mut meter,
            );
            master.is_ok_and(|master| master.counts().is_some())
        };
        assert!(has_inverse(10));
        assert!(has_inverse(MOST_ROWS - 1));
        assert!(!has_inverse(MOST_ROWS));
    }
}
