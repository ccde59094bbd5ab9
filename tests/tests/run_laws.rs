//! Laws that every optimum with runs obeys, on random jobs of a dozen runs, every plan verified. Where an
//! optimum is not proven, a law is broken only if no two optima between bound and plan obey it.
//!
//! The jobs are the same in every run, and so are the answers: every search is limited by its work.
//! `LAW_CASES` in the environment asks for more cases of all laws, see `DEVELOPERS.md`; `RUN_LAW_JOBS` for so
//! many of each law here.

use std::collections::BTreeSet;

use lengthwise::plan::Outcome;
use lengthwise::{Limits, solve, verify};
use lengthwise_tests::exhaustive::counts_money;
use lengthwise_tests::generate::medium_runs::medium_run_job;
use lengthwise_tests::generate::small_runs::{Sort, small_run_job};
use lengthwise_tests::range::Range;
use lengthwise_tests::run_oracle::places;
use lengthwise_tests::small::{SmallBar, SmallHand, SmallSold};
use lengthwise_tests::small_runs::{RunJob, SmallJoints, SmallRun};
use lengthwise_tests::tally::{Tally, number};

/// Jobs for each law.
const JOBS: u64 = 48;
/// At least so many of a hundred must be proven on both sides, and have a plan on one, or the laws say
/// little.
const PROVEN_PERCENT: u64 = 80;
const PLANNED_PERCENT: u64 = 50;

/// Work for each job, of the order of a fifth of a second: a few jobs would take half a minute to prove.
const WORK: u64 = 200_000_000;

/// One in eight of a dozen runs; the others are small, in courses or not.
fn job(seed: u64) -> RunJob {
    match seed % 8 {
        0 => medium_run_job(seed / 8),
        1 | 4 | 6 => small_run_job(seed, Sort::Courses),
        _ => small_run_job(seed, Sort::Alone),
    }
}

/// Half the gap at a joint is a whole number of nanometres on every run: an odd one would come off the left
/// neighbour.
fn has_even_gaps(job: &RunJob) -> bool {
    let mut runs = job.runs.iter();
    runs.all(|run| run.joint_gap * job.base.grain_nm % 2 == 0)
}

fn range(job: &RunJob) -> Range {
    let limits = Limits {
        work: Some(WORK),
        ..Limits::default()
    };
    Range::within(&job.job(), &limits)
}

/// Changes each job and compares what the two cost; `None` where a law does not speak of a job.
fn law(
    name: &'static str,
    change: impl Fn(&RunJob) -> Option<RunJob>,
    holds: impl Fn(&RunJob, Range, Range) -> bool,
) {
    law_of_two(name, |job| Some((job.clone(), change(job)?)), holds);
}

/// As [`law`], of two jobs made of each.
fn law_of_two(
    name: &'static str,
    change: impl Fn(&RunJob) -> Option<(RunJob, RunJob)>,
    holds: impl Fn(&RunJob, Range, Range) -> bool,
) {
    let mut tally = Tally::of(name, number("RUN_LAW_JOBS").unwrap_or(JOBS));
    let mut planned = 0;
    for seed in 1.. {
        if tally.cases() >= tally.wanted {
            break;
        }
        assert!(seed <= 8 * tally.wanted, "only {} jobs", tally.cases());
        let Some((before, after)) = change(&job(seed)) else {
            continue;
        };
        let (a, b) = (range(&before), range(&after));
        assert!(
            holds(&before, a, b),
            "seed {seed}: {a:?} before, {b:?} after {after:?}"
        );
        tally.add(a.is_proven() && b.is_proven());
        planned += u64::from(!a.is_impossible() || !b.is_impossible());
    }
    let all = tally.cases();
    tally.finish(PROVEN_PERCENT);
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
        "runs: all lengths scaled",
        |job| {
            // The default shortest part stays as it is, and a slot at 45 degrees is rounded to a nanometre.
            let scales =
                |run: &SmallRun| run.shortest.is_some() && run.ends.0 != 45 && run.ends.1 != 45;
            let mut scaled = job.clone();
            scaled.base.grain_nm *= FACTOR;
            (job.runs.iter().all(scales) && has_even_gaps(job)).then_some(scaled)
        },
        |job, a, b| {
            let factor = if counts_money(&job.base) { 1 } else { FACTOR };
            a.times(factor.into()).may_equal(b)
        },
    );
}

/// The places from the other end, gaps and ends exchanged.
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
        "runs: seen from behind",
        |job| {
            let runs: Vec<SmallRun> = job.runs.iter().map(mirrored).collect();
            let has_places = runs.iter().all(|run| !places(run).is_empty());
            (has_places && has_even_gaps(job)).then(|| RunJob {
                runs,
                ..job.clone()
            })
        },
        |_, a, b| a.may_equal(b),
    );
}

/// The last of them above the others, if they are courses; a job keeps one.
#[test]
fn a_run_more_never_costs_less() {
    law(
        "runs: a run more",
        |job| {
            let mut fewer = job.clone();
            fewer.runs.pop();
            (!fewer.runs.is_empty()).then_some(fewer)
        },
        |_, all, fewer| fewer.may_be_at_most(all),
    );
}

#[test]
fn a_rule_for_courses_never_costs_less() {
    law(
        "runs: a rule for courses",
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
        "runs: a joint more",
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
            run.shortest = run.shortest.map(|shortest| (shortest - less).max(1));
        }
        job
    };
    law_of_two(
        "runs: a shorter part allowed",
        |job| Some((with(job, 0), with(job, 30))),
        |_, longer, shorter| shorter.may_be_at_most(longer),
    );
}

#[test]
fn the_order_of_rows_does_not_matter() {
    law(
        "runs: rows in another order",
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

/// The job with so many joints at most on every run: the fewest that the rules allow may be others where
/// blade or bars change.
fn with_joints_fixed(job: &RunJob) -> RunJob {
    let mut fixed = job.clone();
    for run in &mut fixed.runs {
        run.joints_max = run.joints_max.or(Some(2));
    }
    fixed
}

/// Where as much is cut away between two parts as stays open at a joint, or more, both fit a bar as one piece.
#[test]
fn no_joint_saves_nothing() {
    let (mut joints, mut runs) = (0, 0);
    for seed in 0..number("RUN_LAW_JOBS").unwrap_or(4 * JOBS) {
        let mut job = with_joints_fixed(&job(seed));
        for run in &mut job.runs {
            run.joint_gap = run.joint_gap.min(job.base.kerf + job.base.per_cut);
        }
        let checked = job.job();
        let limits = Limits {
            work: Some(WORK),
            ..Limits::default()
        };
        let plan = solve(&checked, &limits);
        let verified = verify(&checked, &plan);
        assert!(verified.is_ok(), "seed {seed}: {verified:?}");
        // One material.
        let outcomes = plan.materials.iter().map(|material| &material.outcome);
        let cuttings = outcomes.filter_map(|outcome| match outcome {
            Outcome::Planned(cutting) => Some(cutting),
            _ => None,
        });
        for group in cuttings.flat_map(|cutting| &cutting.bars) {
            for bar in 0..group.names.len() {
                let parts = group.cuts.iter().filter_map(|cut| cut.parts.get(bar));
                let parts: BTreeSet<_> = parts
                    .map(|part| (&part.mark, part.copy, part.part))
                    .collect();
                for &(mark, copy, part) in &parts {
                    joints += u64::from(part > 1);
                    runs += u64::from(part == 1);
                    let beside = (mark, copy, part + 1);
                    assert!(
                        !parts.contains(&beside),
                        "seed {seed}: {mark} {copy}, {part} and the next"
                    );
                }
            }
        }
    }
    assert!(joints > runs / 4, "{joints} joints in {runs} runs");
}

/// The last copy of the last run, or a piece.
#[test]
fn a_copy_less_never_costs_more() {
    law(
        "runs: a copy less",
        |job| {
            let mut fewer = job.clone();
            let (runs, pieces) = (&mut fewer.runs, &mut fewer.base.pieces);
            match (runs.last_mut(), pieces.last_mut()) {
                (Some(run), _) if run.qty > 1 => run.qty -= 1,
                (_, Some((_, qty))) if *qty > 1 => *qty -= 1,
                (_, Some(_)) => drop(pieces.pop()),
                _ => return None,
            }
            Some(fewer)
        },
        |_, all, fewer| fewer.may_be_at_most(all),
    );
}

#[test]
fn a_wider_blade_never_costs_less() {
    law_of_two(
        "runs: a wider blade",
        |job| {
            let thin = with_joints_fixed(job);
            let mut wide = thin.clone();
            let wider = 1 + job.runs.first()?.length % 5;
            wide.base.kerf += wider;
            let bars = job.base.stock.iter().map(|bar| bar.length);
            let bars = bars.chain(job.base.in_hand.iter().map(|bar| bar.length));
            // A blade wider than all bars is a fault.
            (bars.max()? > wide.base.kerf + wide.base.per_cut).then_some((thin, wide))
        },
        |_, thin, wide| thin.may_be_at_most(wide),
    );
}

#[test]
fn another_bar_length_never_costs_more() {
    law_of_two(
        "runs: another bar length",
        |job| {
            let before = with_joints_fixed(job);
            let mut after = before.clone();
            let length = job.runs.first()?.length;
            let first = job.base.stock.first()?;
            after.base.stock.push(SmallBar {
                length: first.length + length % 100,
                pence: first.pence + length % 20,
                sold: SmallSold::Each,
                available: (length % 3 == 0).then_some(2),
            });
            Some((before, after))
        },
        |_, before, after| after.may_be_at_most(before),
    );
}

#[test]
fn another_bar_in_hand_never_costs_more() {
    law_of_two(
        "runs: another bar in hand",
        |job| {
            let before = with_joints_fixed(job);
            let mut after = before.clone();
            let length = job.runs.first()?.length;
            after.base.in_hand.push(SmallHand {
                length: length * (1 + length % 4) / 3,
                available: 1 + length.unsigned_abs() % 2,
                square: (0, 0),
                worth: None,
            });
            Some((before, after))
        },
        |_, before, after| after.may_be_at_most(before),
    );
}
