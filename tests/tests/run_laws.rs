//! Laws that every optimum with runs obeys, on random jobs of a dozen runs, every plan verified. Where an
//! optimum is not proven, a law is broken only if no two optima between bound and plan obey it.
//!
//! The jobs are the same in every run; `RUN_LAW_JOBS` in the environment asks for another number.

#![allow(clippy::expect_used)]

use lengthwise::Limits;
use lengthwise_tests::generate::medium_runs::medium_run_job;
use lengthwise_tests::range::Range;
use lengthwise_tests::run_oracle::places;
use lengthwise_tests::small_runs::{RunJob, SmallJoints, SmallRun};

/// Jobs for each law.
const JOBS: u64 = 24;
/// At least so many of a hundred must be proven on both sides, and have a plan on one, or the laws say
/// little.
const PROVEN_PERCENT: u64 = 80;
const PLANNED_PERCENT: u64 = 50;

/// Work for each job, of the order of a second: a few jobs would take half a minute to prove.
const WORK: u64 = 1_000_000_000;

fn range(job: &RunJob) -> Range {
    let limits = Limits {
        work: Some(WORK),
        ..Limits::default()
    };
    Range::within(&job.job(), &limits)
}

/// Changes each job and compares what the two cost; `None` where a law does not speak of a job.
fn law(change: impl Fn(&RunJob) -> Option<RunJob>, holds: impl Fn(&RunJob, Range, Range) -> bool) {
    law_of_two(|job| Some((job.clone(), change(job)?)), holds);
}

/// As [`law`], of two jobs made of each.
fn law_of_two(
    change: impl Fn(&RunJob) -> Option<(RunJob, RunJob)>,
    holds: impl Fn(&RunJob, Range, Range) -> bool,
) {
    let jobs = std::env::var("RUN_LAW_JOBS").map_or(JOBS, |jobs| {
        jobs.parse().expect("RUN_LAW_JOBS is a whole number")
    });
    let (mut all, mut proven, mut planned) = (0, 0, 0);
    for seed in 1..=jobs {
        let Some((before, after)) = change(&medium_run_job(seed)) else {
            continue;
        };
        let (a, b) = (range(&before), range(&after));
        assert!(
            holds(&before, a, b),
            "seed {seed}: {a:?} before, {b:?} after {after:?}"
        );
        all += 1;
        proven += u64::from(a.is_proven() && b.is_proven());
        planned += u64::from(!a.is_impossible() || !b.is_impossible());
    }
    println!("{proven} of {all} proven on both sides, {planned} with a plan");
    assert!(all * 4 >= jobs, "only {all} jobs");
    assert!(
        proven * 100 >= all * PROVEN_PERCENT,
        "{proven} of {all} proven"
    );
    assert!(
        planned * 100 >= all * PLANNED_PERCENT,
        "{planned} of {all} planned"
    );
}

/// All lengths, the blade and the gaps in another unit: money stays, bought length grows by as much.
#[test]
fn scaling_all_lengths() {
    const FACTOR: i64 = 3;
    law(
        |job| {
            let mut scaled = job.clone();
            scaled.base.grain_nm *= FACTOR;
            Some(scaled)
        },
        |job, a, b| {
            let factor = if job.base.priced { 1 } else { FACTOR };
            a.times(factor.into()).may_equal(b)
        },
    );
}

/// The places from the other end, gaps and ends exchanged; no gap at a joint is odd in nanometres.
#[test]
fn a_wall_seen_from_behind() {
    let mirrored = |run: &SmallRun| {
        let mut joints: Vec<i64> = places(run).iter().map(|place| run.length - place).collect();
        joints.reverse();
        SmallRun {
            joints: SmallJoints::At(joints),
            end_gap: (run.end_gap.1, run.end_gap.0),
            ends: (run.ends.1, run.ends.0),
            ..run.clone()
        }
    };
    law(
        |job| {
            let runs: Vec<SmallRun> = job.runs.iter().map(mirrored).collect();
            let has_places = runs.iter().all(|run| !places(run).is_empty());
            has_places.then(|| RunJob {
                runs,
                ..job.clone()
            })
        },
        |_, a, b| a.may_equal(b),
    );
}

/// The last of them above the others, if they are courses.
#[test]
fn a_run_more_never_costs_less() {
    law(
        |job| {
            let mut fewer = job.clone();
            fewer.runs.pop();
            Some(fewer)
        },
        |_, all, fewer| fewer.may_be_at_most(all),
    );
}

#[test]
fn a_rule_for_courses_never_costs_less() {
    law(
        |job| {
            let mut free = job.clone();
            for run in &mut free.runs {
                run.course = None;
            }
            job.runs
                .iter()
                .any(|run| run.course.is_some())
                .then_some(free)
        },
        |_, ruled, free| free.may_be_at_most(ruled),
    );
}

#[test]
fn a_joint_more_never_costs_more() {
    let with = |job: &RunJob, more: u64| {
        let mut job = job.clone();
        for run in &mut job.runs {
            run.joints_max = Some(2 + more);
        }
        job
    };
    law_of_two(
        |job| Some((with(job, 0), with(job, 1))),
        |_, two, three| three.may_be_at_most(two),
    );
}

/// Shorter parts may make do with fewer joints, so both may have as many.
#[test]
fn a_shorter_part_allowed_never_costs_more() {
    let with = |job: &RunJob, less: i64| {
        let mut job = job.clone();
        for run in &mut job.runs {
            run.joints_max = Some(3);
            run.shortest = run.shortest.map(|shortest| shortest - less);
        }
        job
    };
    law_of_two(
        |job| Some((with(job, 0), with(job, 30))),
        |_, longer, shorter| shorter.may_be_at_most(longer),
    );
}

#[test]
fn the_order_of_rows_does_not_matter() {
    law(
        |job| {
            let mut turned = job.clone();
            turned.runs.reverse();
            turned.base.pieces.reverse();
            turned.base.stock.reverse();
            Some(turned)
        },
        |_, a, b| a.may_equal(b),
    );
}
