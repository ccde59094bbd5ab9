//! Pattern counts from prices: the primal side of the master.
//!
//! By complementary slackness an optimal solution uses only patterns that the prices make tight.
//! They are few, so a small linear program over them gives the counts.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::time::{Duration, Instant};

use good_lp::solvers::WithTimeLimit;
use good_lp::{Expression, ProblemVariables, Solution, SolverModel, constraint, microlp, variable};

use super::instance::{Instance, Pattern, Remainder};
use super::master::{Prices, Trouble, cost_unit};

/// Slack, as a share of the largest cost, up to which a pattern counts as tight; widened where the
/// tight ones alone cannot meet the demand.
const TIGHT: [f64; 3] = [1e-7, 1e-4, f64::INFINITY];

/// How often each pattern is used in a fractional optimum: `(pattern, count)`, counts above zero.
///
/// `ceiling` is the cost of leaving a piece out, in units of cost; `time` is for all that is tried.
pub(crate) fn recover<'p>(
    instance: &Instance,
    remainder: &Remainder,
    patterns: &[&'p Pattern],
    prices: &Prices,
    ceiling: f64,
    time: Duration,
) -> Result<Vec<(&'p Pattern, f64)>, Trouble> {
    let begun = Instant::now();
    for tight in TIGHT {
        let Some(left) = time.checked_sub(begun.elapsed()) else {
            break;
        };
        let seconds = left.as_secs_f64();
        let chosen: Vec<&Pattern> = patterns
            .iter()
            .copied()
            .filter(|pattern| prices.slack(instance, pattern) <= tight)
            .collect();
        let solve = || solve(instance, remainder, &chosen, ceiling, seconds);
        // As in the master: a failed assertion of the solver is a failure, not the end.
        if let Ok(Ok(counts)) = catch_unwind(AssertUnwindSafe(solve)) {
            return Ok(counts);
        }
    }
    Err(Trouble)
}

fn solve<'p>(
    instance: &Instance,
    remainder: &Remainder,
    patterns: &[&'p Pattern],
    ceiling: f64,
    seconds: f64,
) -> Result<Vec<(&'p Pattern, f64)>, Trouble> {
    let unit = cost_unit(instance);
    let mut variables = ProblemVariables::new();
    let mut cost = Expression::default();
    let mut met: Vec<Expression> = vec![Expression::default(); remainder.demand.len()];
    let mut used: Vec<Expression> = vec![Expression::default(); remainder.available.len()];
    let mut columns = Vec::with_capacity(patterns.len());
    for &pattern in patterns {
        let column = variables.add(variable().min(0.0));
        columns.push(column);
        cost.add_mul(instance.kind(pattern).cost as f64 / unit, column); // a guide only
        for &(item, count) in &pattern.counts {
            if let Some(met) = met.get_mut(item as usize) {
                met.add_mul(f64::from(count), column);
            }
        }
        if let Some(used) = used.get_mut(pattern.kind as usize) {
            used.add_mul(1.0, column);
        }
    }
    for (met, _) in met
        .iter_mut()
        .zip(&remainder.demand)
        .filter(|(_, demand)| **demand > 0)
    {
        let left_out = variables.add(variable().min(0.0));
        cost.add_mul(ceiling / unit, left_out);
        met.add_mul(1.0, left_out);
    }
    let mut model = variables
        .minimise(cost)
        .using(microlp)
        .with_time_limit(seconds);
    for (met, &demand) in met
        .into_iter()
        .zip(&remainder.demand)
        .filter(|(_, demand)| **demand > 0)
    {
        model.add_constraint(constraint!(met >= f64::from(demand)));
    }
    for (used, available) in used.into_iter().zip(&remainder.available) {
        if let Some(available) = available {
            model.add_constraint(constraint!(used <= f64::from(*available)));
        }
    }
    let solution = model.solve().map_err(|_| Trouble)?;
    let counts = patterns
        .iter()
        .copied()
        .zip(columns.iter().map(|&column| solution.value(column)));
    Ok(counts.filter(|(_, count)| *count > 1e-9).collect())
}
