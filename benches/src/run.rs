//! One instance solved, timed, verified and judged.

use std::process::Command;
use std::time::{Duration, Instant};

use lengthwise::plan::{Cutting, Outcome, Proof, Value};
use lengthwise::{Job, Limits, Plan, solve, verify};
use lengthwise_tests::generate::Instance;
use lengthwise_tests::rows::price;

/// What came of one instance.
pub struct Run {
    /// Seconds of planning.
    pub seconds: f64,
    /// Bars bought.
    pub bars: Option<u64>,
    /// Whether the plan says that nothing cheaper exists.
    pub proven: bool,
    /// What is wrong with the answer, if anything.
    pub wrong: Option<String>,
}

/// Limits by the clock alone: where it runs, work is not limited.
pub fn by_the_clock(seconds: f64) -> Result<Limits<'static>, String> {
    let time = Duration::try_from_secs_f64(seconds).map_err(|why| format!("--limit: {why}"))?;
    Ok(Limits {
        time: Some(time),
        ..Limits::default()
    })
}

/// Plans and times a job.
pub fn timed(job: &Job, limits: &Limits<'_>) -> (Plan, f64) {
    let begun = Instant::now();
    let plan = solve(job, limits);
    (plan, begun.elapsed().as_secs_f64())
}

/// The one plan there is, if it is a plan.
pub fn cutting(plan: &Plan) -> Option<&Cutting> {
    match plan.materials.as_slice() {
        [material] => match &material.outcome {
            Outcome::Planned(cutting) => Some(cutting),
            Outcome::Impossible(_) | Outcome::Unknown(_) => None,
        },
        _ => None,
    }
}

/// How many bars are bought.
pub fn bars_bought(cutting: &Cutting) -> u64 {
    cutting.buy.iter().map(|line| line.bars).sum()
}

/// Solves an instance in which every bar costs 1.
pub fn run(instance: &Instance, limits: &Limits<'_>) -> Run {
    let job = instance.job();
    let (plan, seconds) = timed(&job, limits);
    let refused = verify(&job, &plan)
        .err()
        .map(|refusal| format!("refused: {refusal}"));
    match cutting(&plan) {
        Some(cutting) => Run {
            seconds,
            bars: Some(bars_bought(cutting)),
            proven: cutting.proof == Proof::Optimal,
            wrong: refused.or_else(|| contradiction(cutting, instance.optimum)),
        },
        None => Run {
            seconds,
            bars: None,
            proven: false,
            wrong: refused.or_else(|| impossible(&plan)),
        },
    }
}

/// What cannot be true of a plan if this is the optimum.
fn contradiction(cutting: &Cutting, optimum: Option<u64>) -> Option<String> {
    let optimum = optimum?;
    let bars = bars_bought(cutting);
    let least = Value::Money(price(optimum));
    let proven = cutting.proof == Proof::Optimal;
    if cutting.value != Value::Money(price(bars)) {
        Some(format!("{bars} bars cost {:?}", cutting.value))
    } else if bars < optimum {
        Some(format!("{bars} bars, below the optimum of {optimum}"))
    } else if cutting.bound > least {
        Some(format!(
            "a bound of {:?}, above the optimum of {optimum}",
            cutting.bound
        ))
    } else if proven && bars != optimum {
        Some(format!(
            "{bars} bars called optimal, the optimum is {optimum}"
        ))
    } else {
        None
    }
}

fn impossible(plan: &Plan) -> Option<String> {
    plan.materials
        .iter()
        .find_map(|material| match &material.outcome {
            Outcome::Impossible(reason) => Some(format!("called impossible: {reason:?}")),
            Outcome::Planned(_) | Outcome::Unknown(_) => None,
        })
}

/// The median of some seconds; 0 of none.
pub fn median(seconds: &[f64]) -> f64 {
    let mut sorted = seconds.to_vec();
    sorted.sort_by(f64::total_cmp);
    let upper = sorted.len() / 2;
    let lower = sorted.len().saturating_sub(1) / 2;
    match (sorted.get(lower), sorted.get(upper)) {
        (Some(a), Some(b)) => (a + b) / 2.0,
        _ => 0.0,
    }
}

/// The commit of the working tree and whether it was changed since, where git knows.
pub fn commit() -> Option<String> {
    let head = git(&["rev-parse", "--short=12", "HEAD"])?;
    let changed = git(&["status", "--porcelain", "--untracked-files=no"])?;
    let note = if changed.is_empty() {
        ""
    } else {
        " with changes"
    };
    Some(format!("{head}{note}"))
}

fn git(arguments: &[&str]) -> Option<String> {
    let output = Command::new("git").args(arguments).output().ok()?;
    let text = String::from_utf8(output.stdout).ok()?;
    output.status.success().then(|| text.trim().to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn medians_of_odd_and_even_counts() {
        assert_eq!(median(&[3.0, 1.0, 2.0]), 2.0);
        assert_eq!(median(&[4.0, 1.0, 2.0, 3.0]), 2.5);
        assert_eq!(median(&[]), 0.0);
    }
}
