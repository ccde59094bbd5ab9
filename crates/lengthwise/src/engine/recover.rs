//! Pattern counts from prices: the primal side of the master.
//!
//! By complementary slackness an optimal solution uses only patterns that the prices make tight.
//! They are few, so a small linear program over them gives the counts.

use std::panic::{AssertUnwindSafe, catch_unwind};

use good_lp::solvers::WithTimeLimit;
use good_lp::variable::UnsolvedProblem;
use good_lp::{Expression, ProblemVariables, Solution, SolverModel, constraint, variable};

use super::instance::{Instance, Pattern, Remainder};
use super::master::{Prices, Trouble, cost_unit};
use super::work::LONGEST_LP;
use crate::clock::Deadline;

/// Slack, as a share of the largest cost, up to which a pattern counts as tight; widened where the
/// tight ones alone cannot meet the demand.
const TIGHT: [f64; 3] = [1e-7, 1e-4, f64::INFINITY];

/// How often each pattern is used in a fractional optimum: `(pattern, count)`, counts above zero.
///
/// `ceiling` is the cost of leaving a piece out, in units of cost; `deadline` is for all that is tried.
pub(crate) fn recover<'p>(
    instance: &Instance,
    remainder: &Remainder,
    patterns: &[&'p Pattern],
    prices: &Prices,
    ceiling: f64,
    deadline: Deadline<'_>,
) -> Result<Vec<(&'p Pattern, f64)>, Trouble> {
    for tight in TIGHT {
        if deadline.is_past() {
            break;
        }
        let seconds = deadline.left().unwrap_or(LONGEST_LP).as_secs_f64();
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

/// The general solver, in pure Rust.
#[cfg(not(feature = "highs"))]
fn solver(problem: UnsolvedProblem, seconds: f64) -> impl SolverModel {
    problem.using(good_lp::microlp).with_time_limit(seconds)
}

/// HiGHS, on one thread: the same job must give the same plan.
#[cfg(feature = "highs")]
fn solver(problem: UnsolvedProblem, seconds: f64) -> impl SolverModel {
    use good_lp::solvers::highs::{HighsParallelType, highs};
    problem
        .using(highs)
        .set_parallel(HighsParallelType::Off)
        .set_threads(1)
        .with_time_limit(seconds)
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
    let mut model = solver(variables.minimise(cost), seconds);
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

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use std::time::Duration;

    use super::*;
    use crate::clock::SystemClock;
    use crate::engine::blend::Blend;
    use crate::engine::instance::{Item, Kind};
    use crate::engine::master::Master;
    use crate::engine::simplex::Simplex;

    /// Three sizes and two kinds of bar, one of them scarce.
    fn instance() -> Instance {
        let kind = |capacity, cost, available| Kind {
            run: None,
            batch: 0,
            capacity,
            cost,
            available,
            pack: 1,
            tie: 0,
        };
        let item = |size, demand| Item {
            size,
            demand,
            batch: None,
        };
        Instance {
            apart: Vec::new(),
            runs: Vec::new(),
            windows: 0,
            items: vec![item(50, 7), item(34, 11), item(21, 20)],
            kinds: vec![kind(100, 9, None), kind(70, 5, Some(3))],
        }
    }

    fn patterns() -> Vec<Pattern> {
        let pattern = |kind, counts: &[(u32, u32)]| Pattern {
            split: None,
            kind,
            counts: counts.to_vec(),
        };
        vec![
            pattern(0, &[(0, 2)]),
            pattern(0, &[(0, 1), (2, 2)]),
            pattern(0, &[(1, 2), (2, 1)]),
            pattern(0, &[(2, 4)]),
            pattern(1, &[(1, 2)]),
            pattern(1, &[(2, 3)]),
        ]
    }

    /// Duality: counts that go with optimal prices meet every demand, stay within the bars there are,
    /// and cost what the prices come to.
    #[test]
    fn counts_cost_what_the_prices_say() {
        let (instance, patterns) = (instance(), patterns());
        let (whole, known) = (instance.whole(), patterns.iter().collect::<Vec<_>>());
        let exact = Blend::new(&instance, &whole, usize::MAX);
        let go_on = &mut || true;
        let simplex = Simplex::new(&instance, &whole, &known, 1000.0, &[], exact, go_on).unwrap();
        let prices = simplex.prices().unwrap();
        let deadline = Deadline::after(&SystemClock, Some(Duration::from_secs(10)));
        let counts = recover(&instance, &whole, &known, &prices, 1000.0, deadline).unwrap();
        let sum = |of: &dyn Fn(&Pattern) -> f64| -> f64 {
            counts
                .iter()
                .map(|&(pattern, count)| count * of(pattern))
                .sum()
        };
        for (item, demand) in (0..).zip(&whole.demand) {
            let of = |pattern: &Pattern| {
                let counts = pattern.counts.iter();
                counts
                    .filter(|(at, _)| *at == item)
                    .map(|(_, n)| f64::from(*n))
                    .sum()
            };
            assert!(sum(&of) >= f64::from(*demand) - 1e-6, "{item}");
        }
        let scarce = sum(&|pattern| f64::from(u8::from(pattern.kind == 1)));
        assert!(scarce <= 3.0 + 1e-6, "{scarce}");
        let cost = sum(&|pattern| instance.kind(pattern).cost as f64);
        let worth = prices.objective * cost_unit(&instance);
        assert!((cost - worth).abs() < 1e-4, "{cost} {worth}");
    }
}
