//! Stopped at any time, a search has a verified plan and the best bound it ever knew.

#![allow(clippy::panic)]

use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use lengthwise::carry_on::{Happened, Said, Statement, UnderWay, remainder};
use lengthwise::job::{Joints, PieceRow, PriceBreak, StockRow};
use lengthwise::plan::{Anywhere, Cutting, Outcome, Proof, Stop, Value};
use lengthwise::solve::{Progress, solve_watched};
use lengthwise::{
    Clock, Job, JobInput, Length, LengthError, Limits, Measure, Origin, Plan, Price, Unit, solve,
    verify,
};
use lengthwise_tests::answer::cutting;
use lengthwise_tests::big::big_job;
use lengthwise_tests::generate::hard::{Size, hard};
use lengthwise_tests::generate::small_runs::{Sort, small_run_job};
use lengthwise_tests::generate::trade::trade_job;
use lengthwise_tests::small_batches::batch_job;
use lengthwise_tests::small_breaks::break_job;
use lengthwise_tests::small_quotes::small_quotes;

/// How late a search may notice that it is time to stop before the test calls it deaf: generous, since
/// other tests run beside it. The benchmark `stops` measures it.
const LATE: Duration = Duration::from_secs(2);

/// What whoever watches was told of the one material.
#[derive(Default)]
struct Heard {
    calls: usize,
    value: Option<Value>,
    bound: Option<Value>,
    /// The first thing that went backwards.
    broken: Option<String>,
}

impl Heard {
    fn take(&mut self, now: &Progress<'_>) {
        self.calls += 1;
        let rose = matches!((self.value, now.value), (Some(old), Some(new)) if new > old);
        let fell = matches!((self.bound, now.bound), (Some(old), Some(new)) if new < old);
        let crossed = matches!((now.bound, now.value), (Some(bound), Some(value)) if bound > value);
        let lost = self.value.is_some() && now.value.is_none();
        if rose || fell || crossed || lost {
            let before = (self.value, self.bound);
            let broken = format!("{before:?}, then {:?}", (now.value, now.bound));
            self.broken.get_or_insert(broken);
        }
        self.value = now.value.or(self.value);
        self.bound = now.bound.or(self.bound);
    }
}

/// Solves under the limits, verifies, and holds the plan against what was told on the way.
fn watched(name: &str, job: &Job, limits: &Limits<'_>) -> Cutting {
    let mut heard = Heard::default();
    let plan = solve_watched(job, limits, &mut |now| heard.take(&now));
    if let Err(refusal) = verify(job, &plan) {
        panic!("{name}: the plan is refused: {refusal}");
    }
    assert_eq!(heard.broken, None, "{name}");
    assert!(heard.calls >= 2, "{name}: begun and done");
    let Some(Outcome::Planned(cutting)) = plan.materials.into_iter().map(|m| m.outcome).next()
    else {
        panic!("{name}: no plan");
    };
    assert!(cutting.bound <= cutting.value, "{name}");
    assert!(
        heard.bound.is_some_and(|bound| cutting.bound >= bound),
        "{name}"
    );
    assert!(
        heard.value.is_some_and(|value| cutting.value <= value),
        "{name}"
    );
    *cutting
}

/// Jobs that are not over at once: without waste, of the trade, and with very many lengths.
fn hard_jobs() -> Vec<(String, Job)> {
    let mut jobs = Vec::new();
    for seed in [1, 2] {
        jobs.push((format!("hard 200, {seed}"), hard(Size::Near200, seed).job()));
    }
    jobs.push(("hard 400, 1".to_owned(), hard(Size::Near400, 1).job()));
    for seed in [64, 90, 98] {
        jobs.push((format!("trade {seed}"), trade_job(seed).job()));
    }
    jobs.push(("big 300".to_owned(), big_job(4, 300, 10)));
    jobs.push(("big 600".to_owned(), big_job(4, 600, 10)));
    jobs
}

fn within(time: f64) -> Limits<'static> {
    Limits {
        time: Some(Duration::from_secs_f64(time)),
        ..Limits::default()
    }
}

#[test]
fn under_a_clock_the_plan_only_gets_better() {
    for (name, job) in hard_jobs() {
        for time in [0.05, 0.2, 1.0] {
            watched(&format!("{name} in {time} s"), &job, &within(time));
        }
    }
}

/// Of choices of prices and batches, and of joints anywhere, too: nothing is told of a problem that is not the
/// job, and what is told last is what the plan says.
#[test]
fn of_jobs_with_choices_the_last_word_is_the_plans() {
    let (mut planned, mut dearer) = (0, 0);
    let jobs = (1..=150).flat_map(|seed| {
        let several = batch_job(seed).job();
        [
            several,
            break_job(seed).job(),
            small_run_job(seed, Sort::Anywhere).job(),
        ]
    });
    for (number, job) in jobs.enumerate() {
        for work in [None, Some(20_000)] {
            let limits = Limits {
                work,
                ..Limits::default()
            };
            let mut heard = Heard::default();
            let mut last = None;
            let plan = solve_watched(&job, &limits, &mut |now| {
                heard.take(&now);
                last = Some((now.value, now.bound, now.done));
            });
            assert_eq!(heard.broken, None, "{number}");
            if let Outcome::Planned(cutting) = &plan.materials[0].outcome {
                let told = (Some(cutting.value), Some(cutting.bound), 1);
                assert_eq!(last, Some(told), "{number}");
                planned += 1;
                let free = cutting.walls.as_ref().map(|walls| walls.without.found);
                dearer += usize::from(free.is_some_and(|free| free < cutting.value));
            }
        }
    }
    assert!(planned > 500 && dearer > 20, "{planned}, {dearer}");
}

/// More work is never worse, since it is the same search that goes on.
#[test]
fn under_a_work_limit_more_is_never_worse() {
    for (name, job) in hard_jobs() {
        let mut before: Option<Cutting> = None;
        for work in [1, 1_000_000, 30_000_000, 300_000_000] {
            let limits = Limits {
                work: Some(work),
                ..Limits::default()
            };
            let now = watched(&format!("{name} for {work}"), &job, &limits);
            if let Some(before) = before {
                assert!(now.value <= before.value, "{name} for {work}");
                assert!(now.bound >= before.bound, "{name} for {work}");
            }
            before = Some(now);
        }
    }
}

/// A bound is known before the first linear program is solved: that of plain length.
#[test]
fn a_search_without_any_time_has_a_plan_and_a_bound() {
    for (name, job) in hard_jobs() {
        let cutting = watched(&name, &job, &within(1e-9));
        let (Value::Money(value), Value::Money(bound)) = (cutting.value, cutting.bound) else {
            panic!("{name} has prices");
        };
        let share = bound.decimal() / value.decimal();
        assert!(share > rust_decimal::Decimal::new(5, 1), "{name}: {share}");
    }
}

#[test]
fn a_cancelled_search_returns_at_once_with_a_verified_plan() {
    let job = big_job(4, 1000, 100);
    let flag = AtomicBool::new(false);
    let limits = Limits {
        cancel: Some(&flag),
        ..Limits::default()
    };
    let (cutting, late) = thread::scope(|scope| {
        let cancelled = scope.spawn(|| {
            thread::sleep(Duration::from_millis(50));
            flag.store(true, Ordering::Relaxed);
            Instant::now()
        });
        let mut heard = Heard::default();
        let plan = solve_watched(&job, &limits, &mut |now| heard.take(&now));
        let returned = Instant::now();
        let Ok(at) = cancelled.join() else {
            panic!("the thread that cancels has nothing to panic about");
        };
        if let Err(refusal) = verify(&job, &plan) {
            panic!("the plan is refused: {refusal}");
        }
        assert_eq!(heard.broken, None);
        let outcome = plan.materials.into_iter().map(|m| m.outcome).next();
        let Some(Outcome::Planned(cutting)) = outcome else {
            panic!("no plan");
        };
        (cutting, returned.saturating_duration_since(at))
    });
    assert_eq!(cutting.proof, Proof::Gap(Stop::Cancelled));
    assert!(cutting.bound <= cutting.value);
    assert!(late <= LATE, "{late:?} after the flag was set");
}

/// A clock on which a millisecond passes whenever it is read.
#[derive(Default)]
struct Ticking(AtomicU64);

impl Clock for Ticking {
    fn now(&self) -> Duration {
        Duration::from_millis(self.0.fetch_add(1, Ordering::Relaxed))
    }
}

/// So many reads until the time is over, whatever the time on the wall; how often it was read.
fn after_reads(job: &Job, reads: u64) -> (Plan, u64) {
    let clock = Ticking::default();
    let limits = Limits {
        time: Some(Duration::from_millis(reads)),
        clock: Some(&clock),
        ..Limits::default()
    };
    let plan = solve(job, &limits);
    if let Err(refusal) = verify(job, &plan) {
        panic!("after {reads}: the plan is refused: {refusal}");
    }
    (plan, clock.0.into_inner())
}

/// How often a clock may be read once its time is over: a first plan is made whatever it says.
const MOST_READS_AFTER: u64 = 300;

#[test]
fn by_a_clock_of_the_callers_time_runs_out_at_the_same_place_every_time() {
    for (name, job) in hard_jobs().into_iter().take(5) {
        let mut before: Option<Plan> = None;
        for reads in [1, 10, 100, 1_000] {
            let (plan, read) = after_reads(&job, reads);
            let now = cutting(&plan);
            assert_eq!(now.proof, Proof::Gap(Stop::TimeLimit), "{name}, {reads}");
            let late = read.saturating_sub(reads);
            assert!(late <= MOST_READS_AFTER, "{name}, {reads}: {late}");
            assert_eq!(
                after_reads(&job, reads),
                (plan.clone(), read),
                "{name}, {reads}"
            );
            if let Some(before) = &before {
                let before = cutting(before);
                assert!(
                    now.value <= before.value && now.bound >= before.bound,
                    "{name}, {reads}"
                );
            }
            before = Some(plan);
        }
    }
}

/// Where joints fall is rounded for a better bound, which takes a tenth of a second whatever there is: of a thousand
/// materials none may take it once the time is over.
#[test]
fn once_the_time_is_over_nothing_is_rounded() -> Result<(), Box<dyn std::error::Error>> {
    let at = |line| Origin {
        source: "wall".into(),
        line,
    };
    let mut run = PieceRow::new(at(2), Length::parse("6700", Unit::Mm)?);
    run.joints = Some(Joints::Anywhere);
    let mut post = PieceRow::new(at(3), Length::parse("2000", Unit::Mm)?);
    post.qty = 2.into();
    let bar = |line, length, price: &str| -> Result<StockRow, Box<dyn std::error::Error>> {
        let mut bar = StockRow::new(at(line), Length::parse(length, Unit::Mm)?);
        bar.price = Some(Price::parse(price, false)?);
        Ok(bar)
    };
    let job = JobInput {
        pieces: vec![run, post],
        stock: vec![bar(4, "3000", "7.80")?, bar(5, "4800", "13.10")?],
        ..JobInput::default()
    }
    .validate()?;
    let is_rounded = |plan: &Plan| {
        let proven = cutting(plan).certificate.anywhere;
        matches!(proven, Some(Anywhere::Rounded { .. }))
    };
    assert!(is_rounded(&solve(&job, &Limits::default())));
    let (plan, _) = after_reads(&job, 0);
    assert!(!is_rounded(&plan), "{:?}", cutting(&plan).certificate);
    Ok(())
}

/// A time that is over at once, and the least work.
fn at_once() -> [Limits<'static>; 3] {
    let work = |work| Limits {
        work: Some(work),
        ..Limits::default()
    };
    [within(0.0), work(0), work(1)]
}

/// Every material has a plan with a bound that is more than nothing, and `verify` accepts all.
fn each_has_a_plan(name: &str, job: &Job, limits: &Limits<'_>) -> Plan {
    let plan = solve(job, limits);
    if let Err(refusal) = verify(job, &plan) {
        panic!("{name}: the plan is refused: {refusal}");
    }
    for material in &plan.materials {
        let Outcome::Planned(cutting) = &material.outcome else {
            panic!("{name}, {}: {:?}", material.name, material.outcome);
        };
        assert!(cutting.bound <= cutting.value, "{name}, {}", material.name);
        assert!(
            cutting.bound > Value::Money(Price::ZERO),
            "{name}, {}",
            material.name
        );
    }
    plan
}

fn here(line: u64) -> Origin {
    Origin {
        source: "yard".into(),
        line,
    }
}

fn mm(length: u32) -> Result<Measure, LengthError> {
    Length::parse(&length.to_string(), Unit::Mm)
}

#[test]
fn without_any_time_materials_with_price_breaks_have_a_plan_each()
-> Result<(), Box<dyn std::error::Error>> {
    let mut input = JobInput::default();
    for number in 0..60 {
        let material = format!("M{number}");
        for (length, qty) in [(700 + number, 20 + number % 7), (400 + number, 20)] {
            input.pieces.push(PieceRow {
                material: material.clone(),
                qty: u64::from(qty).into(),
                ..PieceRow::new(here(2), mm(length)?)
            });
        }
        for length in [2400, 3000, 3600] {
            let lower = |step: u64| -> Result<PriceBreak, Box<dyn std::error::Error>> {
                Ok(PriceBreak {
                    from: 2 + 3 * step,
                    price: Price::parse(&format!("5.{}", 89 - step), false)?,
                })
            };
            input.stock.push(StockRow {
                material: material.clone(),
                price: Some(Price::parse("5.90", false)?),
                breaks: (0..12).map(lower).collect::<Result<_, _>>()?,
                ..StockRow::new(here(3), mm(length)?)
            });
        }
    }
    let job = input.validate()?;
    for (number, limits) in at_once().iter().enumerate() {
        let plan = each_has_a_plan(&format!("breaks, {number}"), &job, limits);
        assert_eq!(plan, solve(&job, limits), "{number}");
    }
    Ok(())
}

/// Walls of which neither batch holds all, and the same with prices that fall.
#[test]
fn without_any_time_walls_have_a_batch_each() -> Result<(), Box<dyn std::error::Error>> {
    for (available, breaks) in [
        (None, false),
        (None, true),
        (Some(9), false),
        (Some(9), true),
    ] {
        let mut input = JobInput::default();
        for wall in ["north", "east", "south", "west"] {
            for (length, qty) in [(1900, 4), (900, 4)] {
                input.pieces.push(PieceRow {
                    wall: wall.into(),
                    qty: qty.into(),
                    ..PieceRow::new(here(2), mm(length)?)
                });
            }
        }
        for batch in ["A", "B"] {
            let lower = PriceBreak {
                from: 5,
                price: Price::parse("6.10", false)?,
            };
            input.stock.push(StockRow {
                batch: batch.into(),
                price: Some(Price::parse("7", false)?),
                breaks: breaks.then_some(lower).into_iter().collect(),
                available,
                ..StockRow::new(here(3), mm(3000)?)
            });
        }
        let job = input.validate()?;
        for limits in &at_once() {
            let plan = each_has_a_plan(&format!("{available:?}, {breaks}"), &job, limits);
            let walls = cutting(&plan).walls.as_ref();
            let walls = walls.map_or(0, |walls| walls.walls.len());
            assert_eq!(walls, 4, "{available:?}, {breaks}");
        }
    }
    Ok(())
}

/// Each with bars of one length.
const BATCHES: u64 = 400;

/// Many walls, any of which may come from any of many batches.
fn many_batches() -> Result<Job, Box<dyn std::error::Error>> {
    let mut input = JobInput::default();
    for wall in 0..60 {
        for (length, qty) in [(1900, 2), (900, 3)] {
            input.pieces.push(PieceRow {
                wall: format!("wall {wall}"),
                qty: qty.into(),
                ..PieceRow::new(here(2), mm(length + wall)?)
            });
        }
    }
    for batch in 0..BATCHES {
        input.stock.push(StockRow {
            batch: format!("batch {batch}"),
            price: Some(Price::parse("7", false)?),
            ..StockRow::new(here(3), mm(3000 + u32::try_from(batch)?)?)
        });
    }
    Ok(input.validate()?)
}

/// Past the limit the batches below a choice are left open together, and nothing is asked of the clock for each.
#[test]
fn without_any_time_many_batches_are_left_open_together() -> Result<(), Box<dyn std::error::Error>>
{
    let job = many_batches()?;
    let (plan, reads) = after_reads(&job, 0);
    // Once for each kind of bar while the first plan is made, and not again for each batch.
    assert!(reads < 2 * BATCHES, "{reads}");
    assert_eq!(cutting(&plan).proof, Proof::Gap(Stop::TimeLimit));
    for limits in &at_once() {
        each_has_a_plan("many batches", &job, limits);
    }
    Ok(())
}

/// Pieces that ask for a batch have it, and longer ones that may come from any go elsewhere; also beside a wall
/// that would fit the same bars but for those pieces.
#[test]
fn without_any_time_bars_of_a_batch_go_to_what_asks_for_it()
-> Result<(), Box<dyn std::error::Error>> {
    for (with_wall, breaks, there) in [(false, false, 20), (true, false, 26), (true, true, 26)] {
        let mut input = JobInput::default();
        let asking = PieceRow {
            wall: "north".into(),
            batch: "cheap".into(),
            qty: 80.into(),
            ..PieceRow::new(here(2), mm(1400)?)
        };
        let free = PieceRow {
            qty: 40.into(),
            ..PieceRow::new(here(3), mm(2000)?)
        };
        input.pieces.extend([asking, free]);
        for length in [1380, 1390] {
            let of_wall = PieceRow {
                wall: "east".into(),
                qty: 16.into(),
                ..PieceRow::new(here(4), mm(length)?)
            };
            input.pieces.extend(with_wall.then_some(of_wall));
        }
        let offers = [
            (5800, "1", "0.90", "cheap", there),
            (4100, "9", "8", "dear", 90),
        ];
        for (length, price, lower, batch, available) in offers {
            let lower = PriceBreak {
                from: 10,
                price: Price::parse(lower, false)?,
            };
            input.stock.push(StockRow {
                batch: batch.into(),
                price: Some(Price::parse(price, false)?),
                breaks: breaks.then_some(lower).into_iter().collect(),
                available: Some(available),
                ..StockRow::new(here(5), mm(length)?)
            });
        }
        let job = input.validate()?;
        for limits in &at_once() {
            each_has_a_plan(&format!("{with_wall}, {breaks}"), &job, limits);
        }
    }
    Ok(())
}

/// Bars of many lengths of which there are one or three each: where the longest parts of runs would need more of
/// them, there are bars as many as wanted that are nearly as long.
#[test]
fn without_any_time_runs_keep_to_bars_that_there_are() -> Result<(), Box<dyn std::error::Error>> {
    let mut input = JobInput::default();
    let runs = [7841, 8667, 8833, 7267, 8301, 7191, 6871, 5938, 7397, 7627];
    for length in runs {
        input.pieces.push(PieceRow {
            joints: Some(Joints::Anywhere),
            joints_max: Some(3),
            qty: 2.into(),
            ..PieceRow::new(here(2), mm(length)?)
        });
    }
    for (place, length) in (3000..=5800).step_by(100).enumerate() {
        let is_endless = [8, 10, 12, 16, 18, 19, 20, 24, 26].contains(&place);
        let scarce = if place % 3 == 0 { 3 } else { 1 };
        input.stock.push(StockRow {
            price: Some(Price::parse(&format!("{}", 3 + place * 7 % 6), false)?),
            available: (!is_endless).then_some(scarce),
            ..StockRow::new(here(3), mm(length)?)
        });
    }
    let job = input.validate()?;
    for limits in &at_once() {
        each_has_a_plan("runs", &job, limits);
    }
    Ok(())
}

/// A hundred runs of other lengths, which bars of 3000 hold by themselves; longer ones that are scarce leave them no
/// worse off, nor without a plan.
#[test]
fn scarce_bars_take_no_plan_away() -> Result<(), Box<dyn std::error::Error>> {
    let mut input = JobInput::default();
    for place in 0..100 {
        input.pieces.push(PieceRow {
            mark: format!("R{place}"),
            joints: Some(Joints::Anywhere),
            shortest: Some(Length::from_mm(200)),
            ..PieceRow::new(here(2), mm(9000 + place * 37 % 1000)?)
        });
    }
    let scarce = [None, Some((4200, "9", 20)), Some((5100, "10.90", 7))];
    let stock = |length, price: &str, available| -> Result<_, Box<dyn std::error::Error>> {
        Ok(StockRow {
            price: Some(Price::parse(price, false)?),
            available,
            ..StockRow::new(here(3), mm(length)?)
        })
    };
    input.stock.push(stock(3000, "6.50", None)?);
    for limits in &at_once() {
        let mut input = input.clone();
        let mut least = None;
        for scarce in scarce {
            if let Some((length, price, bars)) = scarce {
                input.stock.push(stock(length, price, Some(bars))?);
            }
            let job = input.clone().validate()?;
            let plan = each_has_a_plan(&format!("{scarce:?}"), &job, limits);
            let value = cutting(&plan).value;
            let least = *least.get_or_insert(value);
            assert!(value <= least, "{scarce:?}: {value:?}, {least:?}");
        }
    }
    Ok(())
}

/// Of materials that are begun once the time is over joints are tried at some places only: hundreds take milliseconds,
/// and there may be thousands of materials. Nothing is said then of the places that there would have been.
#[test]
fn once_the_time_is_over_few_places_are_tried() {
    let mut fewer = 0;
    for seed in 0..60 {
        let job = small_run_job(seed, Sort::Anywhere).job();
        let least_work = Limits {
            work: Some(0),
            ..Limits::default()
        };
        let (late, all) = (after_reads(&job, 0).0, solve(&job, &least_work));
        let planned = |plan: Plan| match plan.materials.into_iter().next()?.outcome {
            Outcome::Planned(cutting) => Some(cutting),
            _ => None,
        };
        let tried = |cutting: &Cutting| -> usize {
            let tried = cutting.certificate.tried.iter();
            tried.map(|tried| tried.places.len()).sum()
        };
        if let (Some(late), Some(all)) = (planned(late), planned(all)) {
            assert_ne!(late.proof, Proof::Gap(Stop::JointsTried), "{seed}");
            fewer += usize::from(2 * tried(&late) < tried(&all));
        }
    }
    assert!(fewer > 10, "{fewer}");
}

/// On a clock that stands still no time runs out, however short it is.
#[test]
fn by_a_clock_that_stands_still_work_alone_ends_a_search() {
    let stopped = || Duration::from_secs(7);
    for (name, job) in hard_jobs().into_iter().take(5) {
        let by_work = Limits {
            work: Some(30_000_000),
            ..Limits::default()
        };
        let both = Limits {
            time: Some(Duration::from_nanos(1)),
            clock: Some(&stopped),
            ..by_work
        };
        assert_eq!(solve(&job, &both), solve(&job, &by_work), "{name}");
    }
}

/// On a clock that stands still a time that is long over by the system's is not.
#[test]
fn quotes_and_what_is_carried_on_go_by_the_clock_that_is_given() {
    let stopped = || Duration::from_secs(7);
    let by_work = Limits {
        work: Some(30_000_000),
        ..Limits::default()
    };
    let both = Limits {
        time: Some(Duration::from_micros(1)),
        clock: Some(&stopped),
        ..by_work
    };
    for seed in 1..=5 {
        let Ok(quotes) = small_quotes(seed).input().validate() else {
            panic!("quotes {seed} have faults");
        };
        assert_eq!(quotes.compare(&both), quotes.compare(&by_work), "{seed}");
        let input = trade_job(seed).input();
        let plan = solve(&trade_job(seed).job(), &by_work);
        let origin = Origin {
            source: "notes".into(),
            line: 1,
        };
        let first = cutting(&plan)
            .bars
            .iter()
            .flat_map(|group| &group.names)
            .next();
        let cut = first.map(|bar| Statement {
            origin,
            column: 1,
            said: Said::Cut { bar: bar.clone() },
        });
        let happened = Happened {
            statements: cut.into_iter().collect(),
            ..Happened::default()
        };
        let left = UnderWay::new(input, &plan).and_then(|plan| remainder(&plan, &happened));
        let Ok(left) = left else {
            panic!("trade {seed} cannot be carried on");
        };
        assert_eq!(left.plan(&both), left.plan(&by_work), "{seed}");
    }
}
