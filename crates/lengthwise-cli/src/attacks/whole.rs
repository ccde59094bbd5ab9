//! The whole path: from the bytes of a command line and its files to a plan that `verify` accepts, on paper
//! and in files, and back.

use std::cell::RefCell;
use std::fs;
use std::time::Instant;

use clap::Parser;
use lengthwise::carry_on::UnderWay;
use lengthwise::insure::Insurance;
use lengthwise::job::Saw;
use lengthwise::plan::{Outcome, Plan};
use lengthwise::solve::Limits;
use lengthwise::{Job, JobInput, solve, verify};
use tempfile::TempDir;

use super::carried::{carry_on, holds};
use super::compared::quotes;
use super::{are_sound, clock, in_time, usual};
use crate::args::{Command, CommandLine};
use crate::insurance::{self, Cover};
use crate::json::read_back::read_back;
use crate::json::{PlanJson, StandAlone};
use crate::out::tables;
use crate::read::{ReadJob, read_job};
use crate::settings::{self, SearchLimits};
use crate::text::ink::Ink;
use crate::verify::judge;
use crate::{paper, text};

/// Parts the flags and the files.
const PART: u8 = 0;
/// Most pieces of a job that is planned here: larger ones are read and checked.
const MOST_PIECES: u64 = 2_000;
/// Work for each material.
const WORK: u64 = 3_000_000;
/// Flags of the saw and the bars that may stand in the first part, each on a line with its value.
pub const OF_THE_SAW: [&str; 6] = [
    "kerf",
    "per-cut",
    "square-off",
    "save-from",
    "unit",
    "longest",
];
/// And those of a plan.
const OF_A_PLAN: [&str; 7] = [
    "prefer",
    "hold",
    "stop-reach",
    "temperature-range",
    "insure",
    "insure-bar",
    "work-limit",
];

thread_local! {
    static YARD: RefCell<Option<TempDir>> = const { RefCell::new(None) };
}

/// Flags, pieces, stock, what is in hand; then what happened: notes, and what was measured.
pub fn parts(bytes: &[u8]) -> [&[u8]; 6] {
    let mut parts = bytes.splitn(6, |&byte| byte == PART);
    [(); 6].map(|()| parts.next().unwrap_or_default())
}

/// The arguments that the lines of a text name.
pub fn flags(text: &[u8], known: &[&str]) -> Vec<String> {
    let text = String::from_utf8_lossy(text);
    let flag = |line: &str| {
        let (name, value) = match line.split_once(' ') {
            Some((name, value)) => (name, format!("={value}")),
            None => (line, String::new()),
        };
        known.contains(&name).then(|| format!("--{name}{value}"))
    };
    text.lines().filter_map(flag).collect()
}

struct Read {
    job: ReadJob,
    args: crate::args::PlanArgs,
}

/// Does something with paths of a directory that is there as long as the thread.
pub fn in_yard<T>(with: impl FnOnce(&dyn Fn(&str) -> String) -> T) -> T {
    YARD.with_borrow_mut(|yard| {
        let yard = yard.get_or_insert_with(|| tempfile::tempdir().expect("a directory"));
        with(&|name: &str| yard.path().join(name).to_string_lossy().into_owned())
    })
}

/// Reads flags and files as the program does.
fn read(bytes: &[u8]) -> Option<Read> {
    let [first, pieces, stock, in_hand, ..] = parts(bytes);
    in_yard(|path| {
        let mut args = vec!["lengthwise".to_owned(), "plan".to_owned(), path("p.csv")];
        fs::write(path("p.csv"), pieces).expect("a file");
        for (flag, name, bytes) in [("--stock", "s.csv", stock), ("--in-hand", "h.csv", in_hand)] {
            if !bytes.is_empty() {
                fs::write(path(name), bytes).expect("a file");
                args.extend([flag.to_owned(), path(name)]);
            }
        }
        args.extend(flags(first, &[OF_THE_SAW.as_slice(), &OF_A_PLAN].concat()));
        let Ok(CommandLine {
            command: Command::Plan(args),
        }) = CommandLine::try_parse_from(args)
        else {
            return None;
        };
        let mut faults = Vec::new();
        let settings = settings::job_settings(&args.job, Saw::default(), &mut faults);
        settings::search_limits(&args.search, &mut faults);
        settings::insurance(&args, Insurance::default(), &mut faults);
        match read_job(&args.job, None, settings, faults) {
            Ok(job) => Some(Read { job, args }),
            Err(faults) => {
                assert!(!faults.is_empty());
                are_sound(&faults, bytes);
                None
            }
        }
    })
}

/// Whether there is nothing wrong with a job.
#[cfg(test)]
pub fn is_valid(bytes: &[u8]) -> bool {
    read(bytes).is_some()
}

/// So much work for each material, or the clock.
fn limits(work: u64) -> SearchLimits {
    let time = clock();
    SearchLimits {
        time,
        work: time.is_none().then_some(work),
    }
}

/// Whether a job has few pieces.
pub fn is_small(job: &Job) -> bool {
    let pieces = job.materials().iter().flat_map(|one| one.pieces());
    pieces.map(|piece| piece.qty()).fold(0, u64::saturating_add) <= MOST_PIECES
}

/// Plans within little work; `None` where there is too much to plan here.
fn planned(read: &Read, bytes: &[u8]) -> Option<(Job, Plan, Cover)> {
    let insurance = settings::insurance(&read.args, Insurance::default(), &mut Vec::new());
    if !is_small(&read.job.job) || insurance.pieces > 20 {
        return None;
    }
    let asked = settings::search_limits(&read.args.search, &mut Vec::new());
    let work = asked.work.unwrap_or(WORK).min(WORK);
    let limits = limits(work);
    let plan = || insurance::plan(read.job.job.clone(), insurance, &limits, Instant::now());
    match in_time(plan) {
        Ok(planned) => Some(planned),
        Err(faults) => {
            are_sound(&faults.0, bytes);
            None
        }
    }
}

/// The plan.json of a job.
pub fn written(bytes: &[u8]) -> Option<String> {
    let read = read(bytes)?;
    let (job, plan, cover) = planned(&read, bytes)?;
    Some(stand_alone(&read.job.input, &job, &plan, &cover))
}

fn stand_alone(input: &JobInput, job: &Job, plan: &Plan, cover: &Cover) -> String {
    let json = StandAlone::new(plan, input).expect("JSON");
    let json = json.with_mishaps(job, plan, cover);
    let json = json.sealed().expect("JSON");
    serde_json::to_string_pretty(&json).expect("JSON")
}

/// From bytes to a verified plan, and to everything that is written of it.
pub fn path(bytes: &[u8]) {
    if bytes.len() % 4 == 1 {
        quotes(bytes);
    }
    let Some(read) = read(bytes) else { return };
    let _ = text::digest::digest(&read.job.job, Ink::plain());
    let Some((job, plan, cover)) = planned(&read, bytes) else {
        return;
    };
    verify(&job, &plan).expect("a plan that holds");
    is_shown(&read.job.input, &job, &plan, &cover);
    let json = stand_alone(&read.job.input, &job, &plan, &cover);
    let back = match read_back(&json, "plan.json", &usual()) {
        Ok(back) => back,
        Err(faults) => panic!("a plan that cannot be read back: {faults:?}"),
    };
    is_the_plan(&back, &plan);
    if cover.materials.is_empty() {
        assert_eq!(back.input, read.job.input);
    }
    let mut judgement = judge(&json, "plan.json", &usual()).expect("a plan.json");
    if bytes.len().is_multiple_of(4) {
        let limits = limits(WORK);
        judgement.again(&mut |job| in_time(|| crate::solve(job, &limits, Instant::now())));
    }
    holds(&judgement);
    let [.., notes, measured] = parts(bytes);
    carry_on(&back, b"", b"");
    if !notes.is_empty() || !measured.is_empty() {
        carry_on(&back, notes, measured);
    }
}

/// As text, as JSON, as tables and on paper.
fn is_shown(input: &JobInput, job: &Job, plan: &Plan, cover: &Cover) {
    let shown = text::plan_text(job, plan, cover, Ink::plain());
    let breaks_out = |c: char| c.is_control() && c != '\n';
    assert!(!shown.contains(breaks_out), "{shown:?}");
    let json = PlanJson::new(plan).map(|json| json.with_mishaps(job, plan, cover));
    let json = json
        .and_then(|json| serde_json::to_string(&json))
        .expect("JSON");
    serde_json::from_str::<serde_json::Value>(&json).expect("JSON");
    let offcuts = tables::offcuts(input, job, plan).expect("a table");
    let all = [
        tables::buying_list(job, plan).expect("a table"),
        tables::cutting_plan(job, plan).expect("a table"),
        tables::figures(job, plan).expect("a table"),
        offcuts.clone(),
    ];
    for table in all {
        let mut reader = csv::Reader::from_reader(table.as_slice());
        assert!(reader.records().all(|row| row.is_ok()), "rows of one width");
    }
    super::tables::is_in_hand(&offcuts);
    let mut sheets = [Vec::new(), Vec::new(), Vec::new()];
    let [sheet, list, picture] = &mut sheets;
    paper::cutting_sheet(job, plan, cover, sheet).expect("a sheet");
    paper::fixing_list(job, plan, list).expect("a list");
    paper::picture(job, plan, picture).expect("a picture");
    for sheet in sheets {
        let text = String::from_utf8(sheet).expect("UTF-8");
        assert!(!text.contains('\0'));
    }
}

/// Bars, cuts and what is bought are those of the plan.
fn is_the_plan(back: &UnderWay, plan: &Plan) {
    assert_eq!(back.materials.len(), plan.materials.len());
    for (back, material) in back.materials.iter().zip(&plan.materials) {
        match &material.outcome {
            Outcome::Planned(cutting) => {
                assert_eq!(back.buy, cutting.buy);
                let names = |groups: &[lengthwise::plan::BarGroup]| {
                    let all = groups.iter().flat_map(|group| group.names.clone());
                    all.collect::<Vec<_>>()
                };
                assert_eq!(names(&back.bars), names(&cutting.bars));
            }
            _ => assert!(back.bars.is_empty()),
        }
    }
}

fn joined(parts: [&str; 4]) -> Vec<u8> {
    parts.join("\0").into_bytes()
}

/// Small jobs, each with something of its own.
pub fn jobs() -> Vec<Vec<u8>> {
    let battens = "material,mark,length,qty,note\nroof batten,F,2210,7,\nsill,S,600,2,x\n";
    let stock = "material,length,price,sold,available,kerf,square_off,note\nroof batten,3000,5.90,,,,,\n\
                 sill,2400,8.40,each,,3,10,\n";
    let runs = "mark,length,qty,joints,joint_gap,joints_max,shortest,course_group,course,course_rule,stage\n\
                R,6300,4,every 600 from 150,2,3,600,north,1,1/2,1\nG,6300,2,anywhere,10,,,,,,2\n\
                T,700,3,,,,,,,,\n";
    let walls = "length,to,qty,end_gap,ends,spare,leave_long,wall,mark\n1480,1905,2400/145+6,0/10,45/90,1,,w,L\n\
                 2200,,2250@600 even,3,,,5,,M\n";
    vec![
        joined(["", battens, stock, ""]),
        joined([
            "kerf 1/8in\nunit in",
            "length,qty,mark\n87 1/4,7,A\n2ft,5,B\n",
            "length\n8ft\n12ft\n",
            "",
        ]),
        joined([
            "prefer setups\nstop-reach 2000",
            runs,
            "length,price\n3000,9.60\n4200,13\n",
            "",
        ]),
        joined([
            "save-from 200\nhold 250",
            walls,
            "length;price;sold\n3600;0,70;per m\n4800;8;pack of 3\n",
            "",
        ]),
        joined([
            "insure 1\nsquare-off 0/5",
            "length,qty\n900,6\n1300,4\n",
            "length,price\n3000,5.90; 5.40 from 3; 5.10 from 6\n2400,5\n",
            "length,available,worth\n1000,2,1.50\n950,1,\n",
        ]),
        joined([
            "longest 3m\nper-cut 0.5",
            "length,qty\n3100,1\n700,4\n",
            "length,available\n3000,1\n6000,\n",
            "",
        ]),
        joined([
            "temperature-range 40",
            runs,
            "length,expansion,shortest\n4000,60,100\n",
            "length\n6300\n",
        ]),
    ]
}

/// Flags of a question.
const ASKED: [&str; 11] = [
    "from",
    "joints",
    "joint-gap",
    "joints-max",
    "shortest",
    "end-gap",
    "kerf",
    "per-cut",
    "square-off",
    "save-from",
    "unit",
];

/// A question: its terms, then its flags.
pub fn ask(bytes: &[u8]) {
    let [terms, more, ..] = parts(bytes);
    let terms = String::from_utf8_lossy(terms);
    let mut args = vec!["lengthwise".to_owned(), "ask".to_owned()];
    args.extend(flags(more, &ASKED));
    args.push("--".to_owned());
    args.extend(terms.lines().map(str::to_owned));
    let Ok(CommandLine {
        command: Command::Ask(args),
    }) = CommandLine::try_parse_from(args)
    else {
        return;
    };
    let job = match crate::ask::question(&args, Vec::new()) {
        Ok(job) => job,
        Err(faults) => {
            assert!(!faults.is_empty());
            return are_sound(&faults, bytes);
        }
    };
    if !is_small(&job) {
        return;
    }
    let limits = Limits {
        work: Some(WORK),
        ..Limits::default()
    };
    let plan = solve(&job, &limits);
    verify(&job, &plan).expect("a plan that holds");
    let answer = text::answer::answer(&job, &plan, Ink::plain());
    assert!(
        !answer.contains(|c: char| c.is_control() && c != '\n'),
        "{answer:?}"
    );
}

pub fn questions() -> Vec<Vec<u8>> {
    [
        "6 x 3.1m\0from 3m\nkerf 3mm\njoints anywhere",
        "7 x 2210 + 4 x 1200\0from 3m=5.90\nfrom 4.8m=9.20",
        "12 x 7' 3 1/4\"\0from 8ft\nkerf 1/8in",
        "6x3100\n3.1m, 2m\0from 3m\njoints every 600 from 50\njoint-gap 2\njoints-max 3\nshortest 300\nend-gap 0/10",
    ]
    .map(|text| text.as_bytes().to_vec())
    .into()
}
