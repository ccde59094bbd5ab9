//! One job planned and timed, and what every command needs besides.

use std::process::Command;
use std::time::{Duration, Instant};

use lengthwise::plan::{Cutting, Outcome};
use lengthwise::{Job, Limits, Plan, solve};

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
