//! Plans of jobs at random, with everything that a plan.json may hold among them.

use lengthwise::carry_on::{Happened, Said, Statement, UnderWay, remainder};
use lengthwise::insure::{Insurance, insure};
use lengthwise::job::{Angle, EndGap, Ends, PieceRow, Prefer, StockRow};
use lengthwise::plan::Outcome;
use lengthwise::{Job, JobInput, Length, Limits, Origin, Price, Unit, solve};
use lengthwise_tests::generate::medium_runs::medium_run_job;
use lengthwise_tests::generate::small::{Sales, small_job};
use lengthwise_tests::generate::small_runs::{Sort, small_run_job};
use lengthwise_tests::generate::stream::Stream;
use lengthwise_tests::generate::trade::trade_job;
use lengthwise_tests::rows::measure;
use lengthwise_tests::small_breaks::break_job;

use crate::insurance::Cover;
use crate::json::StandAlone;

/// So little work that a thousand plans take minutes, and some searches stop early.
const WORK: u64 = 100_000_000;
/// Trade jobs with more pieces than this make large files.
const MOST_PIECES: u64 = 60;

/// A plan.json, and what is special about it.
pub struct Fresh {
    pub text: String,
    pub sorts: Vec<&'static str>,
}

/// The plan of this seed, from 1 on.
pub fn fresh_plan(seed: u64) -> Fresh {
    let mut stream = Stream::scattered(seed.wrapping_mul(7_919));
    let (sort, mut input) = job(seed, &mut stream);
    let mut sorts = vec![sort];
    dress(&mut input, &mut stream);
    if stream.chance(40) {
        input.saw.prefer = Prefer::Setups;
        sorts.push("setups");
    }
    if stream.chance(20) {
        let other = named(job(seed + 3, &mut stream).1, "other board");
        let mut both = named(input.clone(), "board");
        both.pieces.extend(other.pieces);
        both.stock.extend(other.stock);
        both.in_hand.extend(other.in_hand);
        // Bars in hand alone take the blade of the first job, which may be wider than they are long.
        if both.clone().validate().is_ok() {
            input = both;
            sorts.push("two materials");
        }
    }
    let limits = Limits {
        work: Some(WORK),
        ..Limits::default()
    };
    let job = input.clone().validate().unwrap();
    let mut solve = |job: &Job| solve(job, &limits);
    match stream.whole(1, 10) {
        1 | 2 => {
            sorts.push("insured");
            let insurance = Insurance {
                pieces: stream.whole(0, 2).unsigned_abs(),
                bar: stream.chance(50),
            };
            let insured = insure(&job, insurance, &mut solve).unwrap();
            let cover = Cover {
                insurance,
                materials: match insurance.is_none() {
                    true => Vec::new(),
                    false => insured.materials,
                },
            };
            let json = StandAlone::new(&insured.plan, &input).unwrap();
            let json = json.with_mishaps(&insured.job, &insured.plan, &cover);
            Fresh {
                text: text(json),
                sorts,
            }
        }
        3 | 4 => {
            let plan = solve(&job);
            match carried(&input, &plan, &mut stream) {
                Some(text) => {
                    sorts.push("carried on");
                    Fresh { text, sorts }
                }
                None => plain(&input, &job, &plan, sorts),
            }
        }
        _ => plain(&input, &job, &solve(&job), sorts),
    }
}

fn plain(
    input: &JobInput,
    job: &Job,
    plan: &lengthwise::Plan,
    mut sorts: Vec<&'static str>,
) -> Fresh {
    for material in &plan.materials {
        sorts.push(match &material.outcome {
            Outcome::Planned(_) => "planned",
            Outcome::Impossible(_) => "impossible",
            Outcome::Unknown(_) => "unknown",
        });
    }
    let json = StandAlone::new(plan, input).unwrap();
    let cover = Cover::default();
    let json = json.with_mishaps(job, plan, &cover);
    Fresh {
        text: text(json),
        sorts,
    }
}

fn text(json: StandAlone) -> String {
    serde_json::to_string_pretty(&json.sealed().unwrap()).unwrap()
}

/// The plan of what is left after the first bar was cut and a piece of it spoiled, and another is bad.
fn carried(input: &JobInput, plan: &lengthwise::Plan, stream: &mut Stream) -> Option<String> {
    let under_way = UnderWay::new(input.clone(), plan).unwrap();
    let groups = under_way
        .materials
        .iter()
        .flat_map(|material| &material.bars);
    let bars: Vec<_> = groups
        .flat_map(|group| group.names.iter().map(move |name| (name, group)))
        .collect();
    let (first, group) = bars.first()?;
    let say = |line, said| Statement {
        origin: Origin {
            source: "notes".into(),
            line,
        },
        column: 1,
        said,
    };
    let bar = (*first).clone();
    let mut statements = vec![say(1, Said::Cut { bar: bar.clone() })];
    if stream.chance(60) {
        let mark = group.cuts.first()?.marks.first()?.clone();
        let bar = Some(bar);
        statements.push(say(2, Said::Spoiled { mark, bar }));
    }
    if let Some((last, _)) = bars.last().filter(|_| bars.len() > 2 && stream.chance(60)) {
        let bar = (*last).clone();
        statements.push(say(3, Said::Bad { bar }));
    }
    let happened = Happened {
        statements,
        ..Happened::default()
    };
    let left = remainder(&under_way, &happened).ok()?;
    let limits = Limits {
        work: Some(WORK),
        ..Limits::default()
    };
    let carried = left.plan(&limits);
    let under_way = left.under_way(&carried);
    let json = StandAlone::carried(&carried.plan, &under_way).unwrap();
    let cover = Cover::default();
    let json = json.with_mishaps(left.job(), &carried.plan, &cover);
    Some(text(json))
}

fn job(seed: u64, stream: &mut Stream) -> (&'static str, JobInput) {
    match seed % 9 {
        0 => ("trade", small_trade_job(seed)),
        1 => ("single", small_job(seed, Sales::Single).input()),
        2 => ("runs", small_run_job(seed, Sort::Alone).input()),
        3 => ("packs and metres", small_job(seed, Sales::Mixed).input()),
        4 => ("courses", small_run_job(seed, Sort::Courses).input()),
        5 => ("price breaks", break_job(seed).input()),
        6 => ("anywhere", small_run_job(seed, Sort::Anywhere).input()),
        7 => ("imperial", imperial(stream)),
        _ => ("medium runs", medium_run_job(seed).input()),
    }
}

fn small_trade_job(seed: u64) -> JobInput {
    let jobs = (seed..).map(trade_job);
    let pieces = |job: &lengthwise_tests::small::SmallJob| -> u64 {
        job.pieces.iter().map(|(_, qty)| qty).sum()
    };
    let mut small = jobs.filter(|job| pieces(job) <= MOST_PIECES);
    small.next().unwrap().input()
}

/// Pieces with mitred ends, gaps and spares, in inches and sixteenths.
fn imperial(stream: &mut Stream) -> JobInput {
    let origin = |source: &str, line| Origin {
        source: source.into(),
        line,
    };
    let inches = |sixteenths: i64| {
        let (whole, part) = (sixteenths / 16, sixteenths % 16);
        measure(&format!("{whole} {part}/16\""), Unit::In)
    };
    let mut input = JobInput::default();
    for line in 2..stream.whole(3, 6).unsigned_abs() {
        let half = Angle::from_hundredths(4500).unwrap();
        let square = Angle::from_hundredths(9000).unwrap();
        let ends = stream.pick(&[(square, square), (half, half), (half, square)]);
        input.pieces.push(PieceRow {
            qty: stream.whole(1, 4).unsigned_abs().into(),
            spare: u64::from(stream.chance(30)),
            ends: Ends {
                near: ends.0,
                far: ends.1,
            },
            end_gap: EndGap {
                near: Length::parse("1/8", Unit::In).unwrap().length,
                far: Length::ZERO,
            },
            leave_long: stream.chance(20).then(|| Length::from_mm(20)),
            ..PieceRow::new(origin("p.csv", line), inches(stream.whole(200, 1200)))
        });
    }
    for line in 2..4 {
        let price = Price::parse(&format!("{}.50", 4 * line), false).unwrap();
        input.stock.push(StockRow {
            price: Some(price),
            ..StockRow::new(origin("s.csv", line), inches(768 * line as i64 - 300))
        });
    }
    input
}

/// Marks, stages, walls and notes here and there.
fn dress(input: &mut JobInput, stream: &mut Stream) {
    input.saw.save_from = Length::from_mm(stream.pick(&[0, 100, 300]));
    for (row, mark) in input.pieces.iter_mut().zip('a'..) {
        if row.mark.is_empty() && stream.chance(50) {
            row.mark = format!("{mark}-");
        }
        if stream.chance(20) {
            row.wall = "north".to_owned();
        }
        if stream.chance(20) {
            row.note = "mind the \"knots\"".to_owned();
        }
        if row.joints.is_none() {
            row.stage = stream.pick(&[1, 1, 1, 2]);
            row.spare += u64::from(stream.chance(10));
        }
    }
    for row in &mut input.stock {
        if stream.chance(20) {
            row.note = "behind the kiln".to_owned();
        }
    }
}

/// The same job with a name for its material; what its saw says stands on its rows.
fn named(mut input: JobInput, name: &str) -> JobInput {
    for row in &mut input.pieces {
        row.material = name.to_owned();
    }
    for row in &mut input.stock {
        row.material = name.to_owned();
        row.kerf.get_or_insert(input.saw.kerf);
        row.square_off.get_or_insert(input.saw.square_off);
    }
    for row in &mut input.in_hand {
        row.material = name.to_owned();
    }
    input
}
