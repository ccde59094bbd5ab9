//! Pairs of jobs: what must not change a plan, or only so far, is done to jobs at random, with runs and
//! without, with price breaks, with batches. Where only names or the way of writing differ, the whole plan is
//! compared, its proof and the work it took included; elsewhere optima, as in `laws.rs`.
//!
//! The jobs are the same in every run, and so are the answers: every search is limited by its work.
//! `LAW_CASES` in the environment asks for more of them, see `DEVELOPERS.md`.

#![allow(clippy::expect_used, clippy::panic)]

use std::collections::{BTreeMap, HashSet};
use std::num::NonZeroUsize;

use lengthwise::job::Prefer;
use lengthwise::plan::{Cutting, MaterialPlan, Outcome, Proof};
use lengthwise::{JobInput, Limits, Plan, Unit, solve, verify};
use lengthwise_tests::answer::{Answer, answer_within};
use lengthwise_tests::generate::stream::Stream;
use lengthwise_tests::pairs::{
    Family, NAMES, bars_split, cheaper, doubled, family, in_unit, job, materials_shuffled,
    pieces_split, runs, together, without_walls,
};
use lengthwise_tests::range::Range;
use lengthwise_tests::root::Root;
use lengthwise_tests::rows::checked;
use lengthwise_tests::tally::Tally;

/// Cases of each law.
const CASES: u64 = 48;
/// Work for each material, of the order of a twentieth of a second.
const WORK: u64 = 50_000_000;
/// At least so many cases of a hundred must be proven, or the laws say little.
const PROVEN_PERCENT: u64 = 90;

const LIMITS: Limits<'static> = Limits {
    work: Some(WORK),
    time: None,
    clock: None,
    pool: None,
    cancel: None,
    threads: NonZeroUsize::new(1),
};

/// The job of a case, and chance for what is done to it; preferences in turn.
fn drawn(case: u64, family: Family) -> (JobInput, Stream) {
    let mut input = job(family, case);
    if case.is_multiple_of(3) {
        input.saw.prefer = Prefer::Setups;
    }
    (input, Stream::scattered(case + 7_000_000))
}

/// Tries a law on jobs until there are enough of which it speaks: `None` where it does not.
fn law(
    name: &'static str,
    proven_percent: u64,
    mut holds: impl FnMut(JobInput, Stream, u64) -> Option<bool>,
) {
    let mut tally = Tally::of(name, CASES);
    for case in 1.. {
        if tally.cases() >= tally.wanted {
            break;
        }
        assert!(case <= 40 * tally.wanted, "the law speaks of too few jobs");
        let (input, stream) = drawn(case, family(case));
        if let Some(is_proven) = holds(input, stream, case) {
            tally.add(is_proven);
        }
    }
    tally.finish(proven_percent);
}

/// The plan of a job of one material, verified.
fn planned(input: &JobInput) -> MaterialPlan {
    let job = checked(input.clone());
    let plan = solve(&job, &LIMITS);
    if let Err(refusal) = verify(&job, &plan) {
        panic!("the plan is refused: {refusal}\n{input:#?}");
    }
    one(plan)
}

fn one(plan: Plan) -> MaterialPlan {
    let [material] = <[_; 1]>::try_from(plan.materials).expect("one material");
    material
}

fn is_proven(plan: &MaterialPlan) -> bool {
    match &plan.outcome {
        Outcome::Planned(cutting) => cutting.proof == Proof::Optimal,
        Outcome::Impossible(_) => true,
        Outcome::Unknown(_) => false,
    }
}

#[track_caller]
fn is_same(before: &MaterialPlan, after: &MaterialPlan, input: &JobInput) {
    let (one, other) = (format!("{before:#?}"), format!("{after:#?}"));
    is_same_text(&one, &other, input);
}

#[track_caller]
fn is_same_text(before: &str, after: &str, input: &JobInput) {
    let differ = before.lines().zip(after.lines()).find(|(a, b)| a != b);
    assert!(
        before == after,
        "the plans part at {differ:?}, of {input:#?}"
    );
}

fn range(input: &JobInput) -> Range {
    Range::within(&checked(input.clone()), &LIMITS)
}

/// The copies of both rows are numbered through, so that even the marks are the same; of runs it is the bars
/// and their cuts, since parts that are alike are given out row by row. How many rows are at fault is
/// another number.
#[test]
fn a_row_of_pieces_split_in_two() {
    let told = |mut plan: MaterialPlan, has_runs: bool| {
        let mut patterns: BTreeMap<_, usize> = BTreeMap::new();
        if let Outcome::Planned(cutting) = &mut plan.outcome
            && has_runs
        {
            for group in std::mem::take(&mut cutting.bars) {
                *patterns.entry(group.pattern()).or_default() += group.names.len();
            }
        }
        let text = format!("{patterns:#?}\n{plan:#?}");
        let lines = text.lines();
        let lines = lines.filter(|line| !line.trim_start().starts_with("rows: "));
        lines.collect::<Vec<_>>().join("\n")
    };
    law(
        "a row of pieces split in two",
        PROVEN_PERCENT,
        |input, mut stream, _| {
            let split = pieces_split(&input, &mut stream)?;
            let (before, after) = (planned(&input), planned(&split));
            let has_runs = input.pieces.iter().any(|row| row.joints.is_some());
            let is_proven = is_proven(&before);
            is_same_text(&told(before, has_runs), &told(after, has_runs), &split);
            Some(is_proven)
        },
    );
}

/// Two kinds of bar in place of one: the same cost, and the same length from hand.
#[test]
fn a_row_of_bars_split_in_two() {
    law(
        "a row of bars split in two",
        PROVEN_PERCENT,
        |input, mut stream, _| {
            let split = bars_split(&input, &mut stream)?;
            let ((one, a), (other, b)) = (with_answer(&input), with_answer(&split));
            assert!(a.may_equal(b), "{a:?} before, {b:?} after: {split:#?}");
            let is_proven = a.is_proven() && b.is_proven();
            let settled = |cutting: Cutting| {
                let is_settled = cutting.hand_proof == Proof::Optimal;
                is_settled.then_some(cutting.figures.hand_cut_into)
            };
            let hand = one.and_then(settled).zip(other.and_then(settled));
            let hand = hand.filter(|_| is_proven);
            assert!(hand.is_none_or(|(a, b)| a == b), "{hand:?}: {split:#?}");
            Some(is_proven)
        },
    );
}

/// Marks, walls, batches, groups of courses and the material, none of which sorts as before.
#[test]
fn everything_renamed() {
    law("everything renamed", PROVEN_PERCENT, |input, _, _| {
        let [these, others] = NAMES;
        let (one, other) = (planned(&these.of(&input)), planned(&others.of(&input)));
        let renamed = these.back(others, &format!("{other:#?}"));
        assert!(!renamed.contains("Zm_"), "{renamed}");
        is_same_text(&format!("{one:#?}"), &renamed, &input);
        Some(is_proven(&one))
    });
}

/// The same lengths as they are written in another unit.
#[test]
fn other_units() {
    let mut in_inches = 0;
    law("other units", PROVEN_PERCENT, |input, mut stream, _| {
        let is_exact = |unit| {
            let mut rows = input.pieces.iter();
            rows.all(|row| !row.length.length.text(unit).ends_with("mm"))
        };
        let unit = if is_exact(Unit::In) {
            stream.pick(&[Unit::In, Unit::Ft])
        } else {
            stream.pick(&[Unit::Cm, Unit::M])
        };
        let written = in_unit(&input, unit);
        in_inches += u64::from(is_exact(Unit::In));
        let (before, mut after) = (planned(&input), planned(&written));
        // A length below a foot is written in inches alone.
        assert_eq!(after.unit, written.pieces[0].length.unit);
        assert_ne!(after.unit, before.unit);
        after.unit = before.unit;
        is_same(&before, &after, &written);
        Some(is_proven(&before))
    });
    println!("{in_inches} of these in feet and inches");
    assert!(in_inches > 0, "too few cases for one in inches");
}

/// A material without the names of its bars, which are given out over all materials; that no two bars
/// share one is seen to here.
fn nameless(plan: Plan, names: &mut HashSet<String>) -> Vec<MaterialPlan> {
    let mut materials = plan.materials;
    for material in &mut materials {
        if let Outcome::Planned(cutting) = &mut material.outcome {
            for name in cutting.bars.iter_mut().flat_map(|group| &mut group.names) {
                assert!(names.insert(name.clone()), "two bars are named {name}");
                name.clear();
            }
        }
    }
    materials.sort_by(|one, other| one.name.cmp(&other.name));
    materials
}

/// Rows of three materials in another order, and each of the materials by itself.
#[test]
fn materials_permuted() {
    const MATERIALS: [&str; 3] = ["ash", "larch", "oak"];
    law(
        "materials permuted",
        PROVEN_PERCENT,
        |input, mut stream, _| {
            let mut jobs = vec![input];
            for _ in 1..MATERIALS.len() {
                let case = stream.whole(1, 1_000_000).unsigned_abs();
                jobs.push(drawn(case, family(case)).0);
            }
            let prefer = jobs[0].saw.prefer;
            let named: Vec<_> = MATERIALS.into_iter().zip(&jobs).collect();
            let all = together(&named, prefer);
            let shuffled = materials_shuffled(&all, &mut stream);
            let on = |threads, input: &JobInput| {
                let limits = Limits {
                    threads: NonZeroUsize::new(threads),
                    ..LIMITS
                };
                let job = checked(input.clone());
                nameless(solve(&job, &limits), &mut HashSet::new())
            };
            let (before, after) = (on(1, &all), on(2, &shuffled));
            for ((one, other), (name, job)) in before.iter().zip(&after).zip(&named) {
                is_same(one, other, &shuffled);
                let alone = on(1, &together(&[(name, job)], prefer));
                is_same(one, &alone[0], &shuffled);
            }
            Some(before.iter().all(is_proven))
        },
    );
}

/// Twice the pieces from twice the bars cost at most twice as much, and at least twice what the prices of
/// the single job prove before anything is rounded up to whole sales.
#[test]
fn demand_and_availability_doubled() {
    let (mut with_root, mut of_runs, mut whole) = (0, 0, 0);
    law(
        "demand and availability doubled",
        PROVEN_PERCENT,
        |input, _, case| {
            let twice = doubled(&input);
            let (single, a) = with_answer(&input);
            let b = range(&twice);
            let said = || format!("{a:?} once, {b:?} twice: {input:#?}");
            assert!(b.may_be_at_most(a.times(2)), "{}", said());
            if let Some(Cutting { certificate, .. }) = &single {
                let job = checked(input.clone());
                // Twice as much may reach a lower price.
                let has_breaks = input.stock.iter().any(|row| !row.breaks.is_empty());
                let runs = runs(family(case), case);
                let root = |times| {
                    let root = Root::of(&job.materials()[0], certificate, runs.as_ref(), times);
                    root.filter(|_| !has_breaks)
                };
                if let Some((once, doubled)) = root(1).zip(root(2)) {
                    assert!(once.is_whole, "prices above cost: {}", said());
                    assert!(once.is_at_most(a.low), "{once:?}: {}", said());
                    assert!(doubled.is_at_most(b.high), "{doubled:?}: {}", said());
                    with_root += 1;
                    of_runs += u64::from(runs.is_some());
                    whole += u64::from(doubled.is_whole);
                }
            }
            Some(a.is_proven() && b.is_proven())
        },
    );
    println!(
        "{with_root} of these with a root bound ({of_runs} with runs), {whole} at the very prices of the \
         single job"
    );
    assert!(whole > 0 && of_runs > 0, "too few cases for one with runs");
}

/// The plan, where there is one, and where the optimum lies.
fn with_answer(input: &JobInput) -> (Option<Cutting>, Range) {
    let job = checked(input.clone());
    let answer = answer_within(&job, &LIMITS);
    let range = Range::from(&answer);
    match answer {
        Answer::Planned(cutting) => (Some(*cutting), range),
        _ => (None, range),
    }
}

#[test]
fn a_break_or_a_lower_price_never_costs_more() {
    law(
        "a break or a lower price more",
        PROVEN_PERCENT,
        |input, mut stream, _| {
            let cheaper = cheaper(&input, &mut stream)?;
            let (a, b) = (range(&input), range(&cheaper));
            assert!(
                b.may_be_at_most(a),
                "{a:?} before, {b:?} after: {cheaper:#?}"
            );
            Some(a.is_proven() && b.is_proven())
        },
    );
}

#[test]
fn walls_without_a_rule_never_cost_more() {
    law("walls without a rule", PROVEN_PERCENT, |input, _, _| {
        let free = without_walls(&input)?;
        let (a, b) = (range(&input), range(&free));
        assert!(b.may_be_at_most(a), "{a:?} ruled, {b:?} free: {input:#?}");
        Some(a.is_proven() && b.is_proven())
    });
}

/// To the byte, proof, marks and effort included: several materials, on one thread twice and on more.
#[test]
fn the_same_plan_again_on_any_number_of_threads() {
    const NAMES: [&str; 4] = ["a", "b", "c", "d"];
    law(
        "the same plan again, on any number of threads",
        PROVEN_PERCENT,
        |input, mut stream, _| {
            let mut jobs = vec![input];
            for _ in 1..stream.whole(2, 4) {
                let case = stream.whole(1, 1_000_000).unsigned_abs();
                jobs.push(drawn(case, family(case)).0);
            }
            let named: Vec<_> = NAMES.into_iter().zip(&jobs).collect();
            let input = together(&named, jobs[0].saw.prefer);
            let job = checked(input.clone());
            let on = |threads| {
                let limits = Limits {
                    threads: NonZeroUsize::new(threads),
                    ..LIMITS
                };
                solve(&job, &limits)
            };
            let plan = on(1);
            let text = format!("{plan:#?}");
            for threads in [1, 2, 4] {
                is_same_text(&text, &format!("{:#?}", on(threads)), &input);
            }
            Some(plan.materials.iter().all(is_proven))
        },
    );
}
