//! What programs build on: types that go between threads, errors that are errors, a flag that stops,
//! data that can be kept as JSON.

#![allow(clippy::panic)]

use std::error::Error;
use std::fmt::Debug;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use lengthwise::carry_on::{CarriedOn, Happened, Remainder, Said, Statement, UnderWay, remainder};
use lengthwise::forgiving::{Forgiving, forgiving};
use lengthwise::insure::{Insurance, Insured, insure};
use lengthwise::job::{
    Angle, CourseRule, EndGap, Ends, Expansion, HandRow, Joints, LaidCourse, PieceRow, Prefer,
    PriceBreak, Quantity, Saw, Sold, SquareOff, StockRow, TemperatureRange,
};
use lengthwise::plan::{Cutting, MaterialPlan, Outcome, Proof, Stop};
use lengthwise::quotes::{Comparison, Quotes, QuotesInput, TooManyQuotes};
use lengthwise::solve::Progress;
use lengthwise::spoiled::Spoiled;
use lengthwise::verify::{Breach, Refusal, Verified};
use lengthwise::{
    Clock, Fault, Faults, Job, JobInput, Length, LengthError, Limits, Measure, Origin, Plan, Price,
    PriceError, SystemClock, Unit, solve, verify,
};
use lengthwise_tests::big::big_job;
use lengthwise_tests::generate::small::{Sales, small_job};
use lengthwise_tests::generate::small_runs::{Sort, small_run_job};
use lengthwise_tests::generate::trade::trade_job;
use lengthwise_tests::small_batches::batch_job;
use lengthwise_tests::small_breaks::break_job;
use lengthwise_tests::small_quotes::small_quotes;
use proptest::collection::vec;
use proptest::option::of;
use proptest::prelude::*;
use proptest::sample::select;
use rust_decimal::Decimal;
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::{Value as Json, json};

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
    between_threads::<(SystemClock, &'static dyn Clock)>();
    between_threads::<&'static lengthwise::rayon::ThreadPool>();
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

/// What a refusal rests on is an error of its own, to be asked for by its type.
#[test]
fn a_refusal_has_a_source() {
    let job = trade_job(1).job();
    let mut plan = solve(&job, &little_work());
    plan.materials.clear();
    let Err(refusal) = verify(&job, &plan) else {
        panic!("a plan without materials is let through");
    };
    let source = refusal
        .source()
        .and_then(|source| source.downcast_ref::<Breach>());
    assert_eq!(source, Some(&refusal.breach));
    assert_eq!(refusal.breach, Breach::MaterialCount { plan: 0, job: 1 });
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

/// Written as JSON and read back it is the same, and written again it is the same text.
fn kept<T: Serialize + DeserializeOwned + PartialEq + Debug>(value: &T) -> T {
    let text = match serde_json::to_string(value) {
        Ok(text) => text,
        Err(error) => panic!("{value:?} cannot be written: {error}"),
    };
    let read: T = match serde_json::from_str(&text) {
        Ok(read) => read,
        Err(error) => panic!("{text} cannot be read: {error}"),
    };
    assert_eq!(&read, value, "{text}");
    assert_eq!(serde_json::to_string(&read).ok(), Some(text));
    read
}

fn json(value: &impl Serialize) -> Json {
    match serde_json::to_value(value) {
        Ok(json) => json,
        Err(error) => panic!("cannot be written: {error}"),
    }
}

fn length() -> impl Strategy<Value = Length> {
    (0..=Length::MAX.nm()).prop_map(|nm| Length::from_nm(nm).unwrap_or_default())
}

fn measure() -> impl Strategy<Value = Measure> {
    let units = [Unit::Mm, Unit::Cm, Unit::M, Unit::In, Unit::Ft];
    (length(), select(units.to_vec())).prop_map(|(length, unit)| Measure { length, unit })
}

fn price() -> impl Strategy<Value = Price> {
    let price = |(mantissa, scale)| Price::from_decimal(Decimal::new(mantissa, scale));
    (0..i64::MAX, 0_u32..=28).prop_map(move |parts| price(parts).unwrap_or_default())
}

fn angle() -> impl Strategy<Value = Angle> {
    (1000_u16..=9000).prop_map(|angle| Angle::from_hundredths(angle).unwrap_or_default())
}

fn quantity() -> impl Strategy<Value = Quantity> {
    let all = (
        measure(),
        measure(),
        measure(),
        any::<bool>(),
        0..3,
        any::<u64>(),
    );
    all.prop_map(|(width, part, gap, even, kind, count)| match kind {
        0 => Quantity::Count(count),
        1 => Quantity::Boards {
            width,
            cover: part,
            gap,
        },
        _ => Quantity::Members {
            width,
            spacing: part,
            even,
        },
    })
}

fn joints() -> impl Strategy<Value = Joints> {
    prop_oneof![
        Just(Joints::Anywhere),
        (length(), length()).prop_map(|(spacing, from)| Joints::Every { spacing, from }),
        vec(length(), 0..4).prop_map(Joints::At),
    ]
}

/// Anything that people write, quotes and line breaks among it.
fn text() -> impl Strategy<Value = String> {
    "\\PC{0,8}|[\"\\\\\n\t]{0,3}"
}

fn origin() -> impl Strategy<Value = Origin> {
    (text(), any::<u64>()).prop_map(|(source, line)| Origin {
        source: source.into(),
        line,
    })
}

/// A row with everything in it that a row can have, whether or not that goes together.
fn piece_row() -> impl Strategy<Value = PieceRow> {
    let words = (text(), text(), text(), text(), text(), text());
    let lengths = (measure(), of(measure()), of(length()), length(), length());
    let run = (
        of(joints()),
        of(length()),
        of(any::<u64>()),
        of(length()),
        of(any::<u64>()),
    );
    let courses = (
        of((any::<u32>(), any::<u32>())),
        vec((any::<u64>(), vec(length(), 0..3)), 0..3),
    );
    let rest = (
        origin(),
        quantity(),
        angle(),
        angle(),
        any::<(u64, u64, bool, bool)>(),
        of(length()),
    );
    (words, lengths, run, courses, rest).prop_map(|(words, lengths, run, courses, rest)| {
        let (material, mark, course_group, wall, batch, note) = words;
        let (length, to, step, near, far) = lengths;
        let (joints, joint_gap, joints_max, shortest, course) = run;
        let (rule, laid) = courses;
        let (origin, qty, near_angle, far_angle, numbers, leave_long) = rest;
        let (spare, stage, spares_only, for_bar) = numbers;
        let laid = laid.into_iter();
        PieceRow {
            origin,
            material,
            mark,
            length,
            qty,
            to,
            step,
            end_gap: EndGap { near, far },
            ends: Ends {
                near: near_angle,
                far: far_angle,
            },
            spare,
            joints,
            joint_gap,
            joints_max,
            shortest,
            course_group,
            course,
            course_rule: rule.map(|(joints, courses)| CourseRule { joints, courses }),
            leave_long,
            spares_only,
            for_bar,
            laid: laid
                .map(|(course, joints)| LaidCourse { course, joints })
                .collect(),
            stage,
            wall,
            batch,
            note,
        }
    })
}

fn square_off() -> impl Strategy<Value = SquareOff> {
    (length(), length()).prop_map(|(near, far)| SquareOff { near, far })
}

/// The same of bars to buy, with their price breaks, and of those in hand.
fn bar_rows() -> impl Strategy<Value = (StockRow, HandRow)> {
    let sold = prop_oneof![
        Just(Sold::Each),
        Just(Sold::PerMetre),
        any::<u32>().prop_map(Sold::Pack)
    ];
    let words = (origin(), text(), text(), text());
    let prices = (of(price()), vec((any::<u64>(), price()), 0..3), of(price()));
    let lengths = (
        measure(),
        of(length()),
        of(length()),
        of(length()),
        of(square_off()),
    );
    let rest = (sold, of(any::<u64>()), any::<u64>(), of(0_i64..=1_000_000));
    (words, prices, lengths, rest).prop_map(|(words, prices, lengths, rest)| {
        let (origin, material, batch, note) = words;
        let (price, breaks, delivery) = prices;
        let (length, kerf, shortest, save_from, square_off) = lengths;
        let (sold, available, in_hand, expansion) = rest;
        let breaks = breaks.into_iter();
        let stock = StockRow {
            origin: origin.clone(),
            material: material.clone(),
            length,
            price,
            breaks: breaks
                .map(|(from, price)| PriceBreak { from, price })
                .collect(),
            sold,
            available,
            kerf,
            square_off,
            shortest,
            save_from,
            expansion: expansion.and_then(|parts| Expansion::from_decimal(Decimal::new(parts, 3))),
            delivery,
            batch: batch.clone(),
            note: note.clone(),
        };
        let hand = HandRow {
            origin,
            material,
            length,
            available: in_hand,
            square_off,
            worth: price,
            batch,
            note,
        };
        (stock, hand)
    })
}

fn saw() -> impl Strategy<Value = Saw> {
    let lengths = (
        length(),
        length(),
        length(),
        length(),
        of(length()),
        of(length()),
    );
    let rest = (square_off(), of(1_i64..=1_000_000), any::<bool>());
    (lengths, rest).prop_map(|(lengths, (square_off, range, setups))| {
        let (kerf, per_cut, save_from, hold, longest, stop_reach) = lengths;
        Saw {
            kerf,
            per_cut,
            square_off,
            save_from,
            longest,
            temperature_range: range
                .and_then(|parts| TemperatureRange::from_decimal(Decimal::new(parts, 3))),
            hold,
            stop_reach,
            prefer: if setups {
                Prefer::Setups
            } else {
                Prefer::Offcuts
            },
        }
    })
}

proptest! {
    #[test]
    fn any_rows_are_kept_as_json(
        pieces in vec(piece_row(), 0..3),
        bars in vec(bar_rows(), 0..3),
        saw in saw(),
    ) {
        let (stock, in_hand) = bars.into_iter().unzip();
        let input = JobInput { pieces, stock, in_hand, saw };
        let read = kept(&input);
        // And what is wrong with them, with its place.
        match (input.validate(), read.validate()) {
            (Ok(job), Ok(same)) => prop_assert_eq!(job, same),
            (Err(faults), Err(same)) => prop_assert_eq!(kept(&faults), same),
            _ => prop_assert!(false, "kept rows are judged otherwise"),
        }
    }
}

/// Jobs of all sorts: packs, walls of one batch, price breaks, runs and their courses.
fn jobs_of_all_sorts(seed: u64) -> Vec<JobInput> {
    vec![
        small_job(seed, Sales::Mixed).input(),
        trade_job(seed).input(),
        batch_job(seed).input(),
        break_job(seed).input(),
        small_run_job(seed, Sort::Courses).input(),
        small_run_job(seed, Sort::Anywhere).input(),
    ]
}

fn checked(input: JobInput) -> Job {
    match input.validate() {
        Ok(job) => job,
        Err(faults) => panic!("{faults}"),
    }
}

fn little_work() -> Limits<'static> {
    Limits {
        work: Some(20_000_000),
        ..Limits::default()
    }
}

/// What a plan says survives, its certificate with it: it is verified like the plan itself.
#[test]
fn plans_are_kept_as_json_and_verified_when_they_are_read_back() {
    let (mut bounds, mut notes) = (0, 0);
    for input in (1..=8).flat_map(jobs_of_all_sorts) {
        let job = checked(kept(&input));
        notes += job.notes().len();
        for note in job.notes() {
            kept(note);
        }
        let plan = solve(&job, &little_work());
        let read = kept(&plan);
        let Ok(verified) = verify(&job, &plan) else {
            panic!("a fresh plan is refused");
        };
        assert_eq!(verify(&job, &read).as_ref(), Ok(&verified));
        bounds += verified
            .materials
            .iter()
            .filter(|of| of.bound.is_some())
            .count();
        let both = job.materials().first().zip(planned(&plan));
        kept(&both.and_then(|(material, cutting)| forgiving(material, cutting)));
    }
    assert!(
        bounds > 30 && notes > 0,
        "{bounds} bounds and {notes} notes are little"
    );
}

fn planned(plan: &Plan) -> Option<&Cutting> {
    match &plan.materials.first()?.outcome {
        Outcome::Planned(cutting) => Some(cutting),
        _ => None,
    }
}

/// Every length in a value, by the way to it.
fn lengths(value: &Json, way: String, found: &mut Vec<String>) {
    match value {
        Json::String(text) if text.ends_with("mm") => found.push(way),
        Json::Array(values) => {
            for (place, value) in values.iter().enumerate() {
                lengths(value, format!("{way}/{place}"), found);
            }
        }
        Json::Object(fields) => {
            for (name, value) in fields {
                lengths(value, format!("{way}/{name}"), found);
            }
        }
        _ => {}
    }
}

/// A plan that was kept is a claim and no more: a length that was changed in it is noticed.
#[test]
fn a_plan_that_was_tampered_with_is_read_and_refused() {
    let mut tampered = 0;
    for input in (1..=2).flat_map(jobs_of_all_sorts) {
        let job = checked(input);
        let plan = json(&solve(&job, &little_work()));
        let mut ways = Vec::new();
        for part in ["bars", "buy", "uncut", "figures"] {
            let way = format!("/materials/0/outcome/planned/{part}");
            if let Some(value) = plan.pointer(&way) {
                lengths(value, way, &mut ways);
            }
        }
        for way in ways {
            let mut forged = plan.clone();
            let Some(Json::String(text)) = forged.pointer_mut(&way) else {
                panic!("there is no {way}");
            };
            text.insert(0, '1');
            let Ok(forged) = serde_json::from_value::<Plan>(forged) else {
                continue; // longer than any length
            };
            assert!(verify(&job, &forged).is_err(), "{way} is not looked at");
            tampered += 1;
        }
    }
    assert!(tampered > 200, "{tampered} changes are little");
}

fn parse<T: DeserializeOwned>(value: Json) -> Result<T, String> {
    serde_json::from_value(value).map_err(|error| error.to_string())
}

/// What is left out of a row is as in a new one; what cannot be in it is refused and named.
#[test]
fn rows_may_be_short_but_not_wrong() {
    let row = json!({
        "origin": {"source": "kiln shed", "line": 3},
        "length": {"length": "2210mm", "unit": "mm"},
    });
    let origin = Origin {
        source: "kiln shed".into(),
        line: 3,
    };
    let Ok(length) = Length::parse("2210", Unit::Mm) else {
        panic!("2210 mm is a length");
    };
    assert_eq!(
        parse(row.clone()),
        Ok(PieceRow::new(origin.clone(), length))
    );
    assert_eq!(
        parse(row.clone()),
        Ok(StockRow::new(origin.clone(), length))
    );
    assert_eq!(parse(row.clone()), Ok(HandRow::new(origin, length)));
    assert_eq!(parse(json!({})), Ok(JobInput::default()));
    let with = |name: &str, value: Json| {
        let mut row = row.clone();
        row[name] = value;
        parse::<PieceRow>(row)
    };
    for (name, value, said) in [
        (
            "length",
            json!({"length": "100000000000.1mm", "unit": "mm"}),
            "a length such as",
        ),
        (
            "length",
            json!({"length": "-1mm", "unit": "mm"}),
            "a length such as",
        ),
        (
            "length",
            json!({"length": "2210mm", "unit": "ell"}),
            "`ell`",
        ),
        ("step", json!(5), "a length such as"),
        (
            "ends",
            json!({"near": "9.99", "far": "90"}),
            "degrees from 10 to 90",
        ),
        ("quantity", json!({"count": 2}), "`quantity`"),
    ] {
        match with(name, value) {
            Ok(row) => panic!("{name} is let in: {row:?}"),
            Err(error) => assert!(error.contains(said), "{error}"),
        }
    }
    let Err(error) = parse::<PieceRow>(json!({"origin": {"source": "kiln shed", "line": 3}}))
    else {
        panic!("a piece needs a length");
    };
    assert!(error.contains("`length`"), "{error}");
}

/// Half-way through a job all that there is can be kept: the plan under way, what happened, what came of it.
#[test]
fn a_job_half_way_is_kept_as_json() {
    for input in (1..=3).flat_map(jobs_of_all_sorts) {
        let plan = solve(&checked(input.clone()), &little_work());
        let Ok(under_way) = UnderWay::new(input, &plan) else {
            panic!("a job that was checked has faults");
        };
        let bars = planned(&plan).into_iter().flat_map(|cutting| &cutting.bars);
        let names = bars.flat_map(|group| &group.names);
        let said = names.take(2).zip(1..).map(|(bar, line)| {
            let bar = bar.clone();
            let origin = Origin {
                source: "slip".into(),
                line,
            };
            let said = if line == 1 {
                Said::Cut { bar }
            } else {
                Said::Bad { bar }
            };
            Statement {
                origin,
                column: 1,
                said,
            }
        });
        let happened = Happened {
            statements: said.collect(),
            ..Happened::default()
        };
        let left = match remainder(&kept(&under_way), &kept(&happened)) {
            Ok(left) => left,
            Err(faults) => panic!("{faults}"),
        };
        for remark in left.remarks() {
            kept(remark);
        }
        let carried = kept(&left.plan(&little_work()));
        kept(&left.under_way(&carried));
    }
}

#[test]
fn quotes_and_insurances_are_kept_as_json() {
    for seed in 1..=5 {
        let Ok(quotes) = kept(&small_quotes(seed).input()).validate() else {
            panic!("quotes {seed} have faults");
        };
        kept(&quotes.compare(&little_work()));
        let job = trade_job(seed).job();
        let insurance = kept(&Insurance {
            pieces: 1,
            bar: true,
        });
        match insure(&job, insurance, &mut |job| solve(job, &little_work())) {
            Ok(insured) => kept(&insured.materials),
            Err(faults) => panic!("{faults}"),
        };
    }
}
