//! What programs build on: types that go between threads, errors that are errors, a flag that stops.

#![allow(clippy::panic)]

use std::error::Error;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use lengthwise::carry_on::{CarriedOn, Happened, Remainder, UnderWay};
use lengthwise::forgiving::Forgiving;
use lengthwise::insure::{Insurance, Insured};
use lengthwise::job::{HandRow, PieceRow, Saw, StockRow};
use lengthwise::plan::{Cutting, MaterialPlan, Outcome, Proof, Stop};
use lengthwise::quotes::{Comparison, Quotes, QuotesInput, TooManyQuotes};
use lengthwise::solve::Progress;
use lengthwise::spoiled::Spoiled;
use lengthwise::verify::{Refusal, Verified};
use lengthwise::{
    Fault, Faults, Job, JobInput, Length, LengthError, Limits, Measure, Origin, Plan, Price,
    PriceError, solve, verify,
};
use lengthwise_tests::big::big_job;

/// How long a solve may take whose flag was set before it began: a first plan is made, no more.
const AT_ONCE: Duration = Duration::from_secs(1);
/// How long after the flag is set a running search may end: generous, since other tests run beside it.
const SOON: Duration = Duration::from_secs(5);

fn between_threads<T: Send + Sync + 'static>() {}

/// Fits `Box<dyn Error + Send + Sync>`, in which programs pass errors on.
fn error<T: Error + Send + Sync + 'static>() {}

/// Holds once this compiles. Source: Rust API Guidelines, C-SEND-SYNC (from memory).
#[test]
fn public_types_go_between_threads() {
    between_threads::<(JobInput, PieceRow, StockRow, HandRow, Saw)>();
    between_threads::<(Length, Measure, Price, Origin)>();
    between_threads::<(Job, Limits<'static>, Progress<'static>)>();
    between_threads::<(Plan, MaterialPlan, Outcome, Cutting)>();
    between_threads::<(Verified, Forgiving, Spoiled<'static>)>();
    between_threads::<(Insurance, Insured)>();
    between_threads::<(UnderWay, Happened, Remainder, CarriedOn)>();
    between_threads::<(QuotesInput, Quotes, Comparison)>();
}

/// Holds once this compiles. Source: Rust API Guidelines, C-GOOD-ERR (from memory).
#[test]
fn errors_are_errors() {
    error::<Faults>();
    error::<Fault>();
    error::<LengthError>();
    error::<PriceError>();
    error::<Refusal>();
    error::<TooManyQuotes>();
}

/// Many pieces of a thousand lengths.
fn long_job() -> Job {
    big_job(4, 1000, 20)
}

fn cancelled_by(flag: &AtomicBool) -> Limits<'_> {
    Limits {
        cancel: Some(flag),
        ..Limits::default()
    }
}

/// Every material was stopped by the flag, with a plan or without, and nothing is claimed that does not
/// hold.
fn is_stopped_by_the_flag(job: &Job, plan: &Plan) {
    if let Err(refusal) = verify(job, plan) {
        panic!("the plan is refused: {refusal}");
    }
    assert!(!plan.materials.is_empty());
    for material in &plan.materials {
        match &material.outcome {
            Outcome::Planned(cutting) => {
                assert_eq!(cutting.proof, Proof::Gap(Stop::Cancelled));
                assert!(cutting.bound <= cutting.value);
            }
            outcome => assert_eq!(outcome, &Outcome::Unknown(Stop::Cancelled)),
        }
    }
}

/// The promise of `Limits::cancel`: "to stop at once with the best plan so far". Timed, since a flag
/// that is looked at too late leaves the same plan as one that is looked at in time.
#[test]
fn a_flag_stops_a_search_before_it_begins_and_while_it_runs() {
    let job = long_job();
    let begun = Instant::now();
    let plan = solve(&job, &cancelled_by(&AtomicBool::new(true)));
    let taken = begun.elapsed();
    is_stopped_by_the_flag(&job, &plan);
    assert!(taken < AT_ONCE, "{taken:?} with the flag set beforehand");

    let flag = AtomicBool::new(false);
    let (plan, late) = thread::scope(|scope| {
        let setting = scope.spawn(|| {
            thread::sleep(Duration::from_millis(100));
            flag.store(true, Ordering::Relaxed);
            Instant::now()
        });
        let plan = solve(&job, &cancelled_by(&flag));
        let returned = Instant::now();
        let Ok(set) = setting.join() else {
            panic!("the thread that sets the flag has nothing to panic about");
        };
        (plan, returned.saturating_duration_since(set))
    });
    is_stopped_by_the_flag(&job, &plan);
    assert!(late < SOON, "{late:?} after the flag was set");
}
