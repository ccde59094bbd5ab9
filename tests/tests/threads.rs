//! What several threads may change: nothing but the time that it takes.

#![allow(clippy::panic)]

use std::collections::HashSet;
use std::num::NonZeroUsize;
use std::thread;
use std::time::{Duration, Instant};

use lengthwise::plan::{Outcome, Proof};
use lengthwise::rayon::{ThreadPool, ThreadPoolBuilder};
use lengthwise::solve::{Progress, STACK, solve_watched};
use lengthwise::{Job, Length, Limits, Plan, Unit, solve, verify};
use lengthwise_tests::generate::hard::{Size, hard};
use lengthwise_tests::generate::trade::trade_job;
use lengthwise_tests::rows::{Rows, mm};
use lengthwise_tests::several::{several, trade_materials};

/// Enough for most materials to be proven and for some to be cut short.
const WORK: u64 = 300_000_000;

fn on_threads(threads: usize) -> Limits<'static> {
    Limits {
        threads: NonZeroUsize::new(threads),
        ..Limits::default()
    }
}

/// Trade jobs as twelve materials, the slow ones among them where they fall.
fn twelve() -> Job {
    trade_materials(1..=12)
}

fn verified(job: &Job, plan: Plan) -> Plan {
    if let Err(refusal) = verify(job, &plan) {
        panic!("the plan is refused: {refusal}");
    }
    plan
}

#[test]
fn any_number_of_threads_gives_the_same_plan() {
    let job = twelve();
    let plan = |threads| {
        let limits = Limits {
            work: Some(WORK),
            ..on_threads(threads)
        };
        verified(&job, solve(&job, &limits))
    };
    let one = plan(1);
    let materials: Vec<&str> = job.materials().iter().map(|m| m.name()).collect();
    let planned: Vec<&str> = one.materials.iter().map(|m| m.name.as_str()).collect();
    assert_eq!(planned, materials);
    for threads in [2, 8] {
        let other = plan(threads);
        assert_eq!(format!("{one:#?}"), format!("{other:#?}"), "{threads}");
    }
    let by_default = Limits {
        work: Some(WORK),
        ..Limits::default()
    };
    assert_eq!(one, solve(&job, &by_default));
}

/// No two bars of a job share a name, across materials.
#[test]
fn bars_of_all_materials_have_names_of_their_own() {
    let job = twelve();
    let limits = Limits {
        work: Some(WORK / 10),
        ..on_threads(8)
    };
    let plan = verified(&job, solve(&job, &limits));
    let mut names = HashSet::new();
    for material in &plan.materials {
        let Outcome::Planned(cutting) = &material.outcome else {
            panic!("{} is not planned", material.name);
        };
        for name in cutting.bars.iter().flat_map(|group| &group.names) {
            assert!(names.insert(name.clone()), "{name} twice");
        }
    }
    assert!(names.contains("A1"));
}

/// With more materials than threads, none may eat the clock of those after it.
#[test]
fn every_material_has_its_share_of_the_clock() {
    // Two hundred pieces without waste that take seconds, and small ones beside them.
    let hard = |seed| hard(Size::Near200, seed).input();
    let easy = |seed| trade_job(seed).input();
    let jobs = [hard(1), easy(9), hard(2), easy(45), hard(3)];
    let job = several(jobs);
    let time = Duration::from_millis(600);
    let limits = Limits {
        time: Some(time),
        ..on_threads(1)
    };
    let begun = Instant::now();
    let plan = verified(&job, solve(&job, &limits));
    let taken = begun.elapsed();
    assert!(taken < time + Duration::from_millis(400), "{taken:?}");
    for (material, is_hard) in plan.materials.iter().zip([true, false, true, false, true]) {
        let Outcome::Planned(cutting) = &material.outcome else {
            panic!("{} is not planned", material.name);
        };
        if is_hard {
            // None is made where the clock has run out already.
            assert!(material.effort.pricing_rounds > 1, "{}", material.name);
        } else {
            assert_eq!(cutting.proof, Proof::Optimal, "{}", material.name);
        }
    }
}

#[test]
fn whoever_watches_is_told_of_every_material_by_one_at_a_time() {
    let job = twelve();
    let (mut begun, mut last_done) = (HashSet::new(), 0);
    let mut planners = HashSet::new();
    let limits = Limits {
        work: Some(WORK / 10),
        ..on_threads(4)
    };
    let mut watch = |now: Progress<'_>| {
        begun.insert(now.material.to_owned());
        planners.insert(thread::current().id());
        assert_eq!(now.materials, 12);
        assert!(now.done >= last_done);
        last_done = now.done;
    };
    verified(&job, solve_watched(&job, &limits, &mut watch));
    assert_eq!((begun.len(), last_done), (12, 12));
    assert!(!planners.contains(&thread::current().id()));
}

/// A single material too is planned on a thread of its own, for the sake of its stack.
#[test]
fn a_single_material_has_a_thread() {
    let mut planners = HashSet::new();
    let mut watch = |_: Progress<'_>| {
        planners.insert(thread::current().id());
    };
    verified(
        &trade_materials([9]),
        solve_watched(&trade_materials([9]), &Limits::default(), &mut watch),
    );
    assert_eq!(planners.len(), 1);
    assert!(!planners.contains(&thread::current().id()));
}

/// Thousands of lengths do not go deeper than few, wherever they are planned.
#[test]
fn little_stack_is_enough_for_many_lengths() {
    let each = |tenths: u32| {
        let text = format!("{}.{}mm", 300 + tenths / 10, tenths % 10);
        let Ok(length) = Length::parse(&text, Unit::Mm) else {
            panic!("{text} is no length");
        };
        length
    };
    let rows = Rows::with_kerf(Length::from_mm(3)).stock(mm(6000), None);
    let job = (0..3_000)
        .fold(rows, |rows, tenths| rows.piece(each(tenths), 3))
        .job();
    for limits in [on_threads(1), Limits::default()] {
        let limits = Limits {
            work: Some(WORK / 10),
            ..limits
        };
        thread::scope(|scope| {
            let small = thread::Builder::new().stack_size(512 << 10);
            let plan = small.spawn_scoped(scope, || solve(&job, &limits));
            let Ok(Ok(plan)) = plan.map(thread::ScopedJoinHandle::join) else {
                panic!("no plan");
            };
            verified(&job, plan);
        });
    }
}

/// With one thread nothing leaves the thread of the caller.
#[test]
fn one_thread_is_the_callers_own() {
    let job = trade_materials([9, 45]);
    let mut planners = HashSet::new();
    let mut watch = |_: Progress<'_>| {
        planners.insert(thread::current().id());
    };
    verified(&job, solve_watched(&job, &on_threads(1), &mut watch));
    assert_eq!(planners, HashSet::from([thread::current().id()]));
}

fn pool(threads: usize) -> ThreadPool {
    let builder = ThreadPoolBuilder::new().num_threads(threads);
    match builder.stack_size(STACK).build() {
        Ok(pool) => pool,
        Err(error) => panic!("no threads: {error}"),
    }
}

/// Nothing leaves the threads that the caller gives, be it one material or many, and whatever is said of
/// the number of threads.
#[test]
fn a_pool_of_the_callers_plans_everything() {
    let pool = pool(3);
    let its_threads: HashSet<_> = pool
        .broadcast(|_| thread::current().id())
        .into_iter()
        .collect();
    for (job, number) in [
        (trade_materials([9]), None),
        (twelve(), NonZeroUsize::new(1)),
    ] {
        let limits = Limits {
            work: Some(WORK / 10),
            threads: number,
            pool: Some(&pool),
            ..Limits::default()
        };
        let mut planners = HashSet::new();
        let mut watch = |_: Progress<'_>| {
            planners.insert(thread::current().id());
        };
        let plan = verified(&job, solve_watched(&job, &limits, &mut watch));
        assert!(!planners.is_empty() && planners.is_subset(&its_threads));
        let alone = Limits {
            work: Some(WORK / 10),
            ..on_threads(1)
        };
        assert_eq!(plan, solve(&job, &alone));
    }
}

/// As a server does that answers on the threads on which it plans: several jobs at once, each on the pool
/// that it is called from.
#[test]
fn a_pool_may_plan_what_it_is_called_from() {
    let pool = pool(2);
    let jobs = [trade_materials([9, 45]), trade_materials([45, 9, 12])];
    let limits = Limits {
        work: Some(WORK / 10),
        pool: Some(&pool),
        ..Limits::default()
    };
    let [first, second] = &jobs;
    let (one, other) = pool.join(|| solve(first, &limits), || solve(second, &limits));
    for (job, plan) in jobs.iter().zip([one, other]) {
        let alone = Limits {
            pool: None,
            ..on_threads(1)
        };
        let alone = Limits {
            work: limits.work,
            ..alone
        };
        assert_eq!(verified(job, plan), solve(job, &alone));
    }
}
