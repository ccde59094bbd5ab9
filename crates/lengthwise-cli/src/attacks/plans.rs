//! Plans that are read back, what is said to have happened to them, and what was measured anew.

use std::sync::{Arc, OnceLock};

use lengthwise::carry_on::{Happened, UnderWay, remainder};
use lengthwise::job::Ceilings;
use lengthwise::solve::Limits;
use lengthwise::verify::Refusal;
use lengthwise::{Fault, Job, Reading, Unit, verify};

use super::whole::{self, written};
use super::{are_sound, origin, usual};
use crate::carry::names::Known;
use crate::carry::notation::Notes;
use crate::json::read_back::read_back;
use crate::read::attacked::{Within, measured_in, text_of};
use crate::verify::judge;

/// Most pieces of a plan that is carried on here: the others are only read.
const MOST_PIECES: u64 = 300;
/// Work for the rest of a plan.
const WORK: u64 = 2_000_000;

/// Plans that stand for all others: in millimetres and inches, with runs, stages, breaks, bars in hand,
/// insurance.
fn plans() -> &'static [String] {
    static PLANS: OnceLock<Vec<String>> = OnceLock::new();
    PLANS.get_or_init(|| {
        let jobs = whole::jobs();
        jobs.iter().filter_map(|bytes| written(bytes)).collect()
    })
}

/// The plan that things happen to.
fn under_way() -> &'static (UnderWay, Job) {
    static PLAN: OnceLock<(UnderWay, Job)> = OnceLock::new();
    PLAN.get_or_init(|| {
        let text = plans().first().expect("a plan");
        let under_way = read_back(text, "attack", &usual()).expect("a plan");
        let job = under_way
            .input
            .clone()
            .validate_within(&Ceilings::HIGHEST)
            .expect("its job");
        (under_way, job)
    })
}

/// A plan.json: what is read back is a plan that can be judged and carried on, or there are faults.
pub fn plan_json(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else {
        return;
    };
    // Whatever was changed, it is accepted, refused, or no plan.
    if let Err(faults) = judge(text, "attack", &usual()) {
        are_sound(&faults, text.as_bytes());
    }
    match read_back(text, "attack", &usual()) {
        Ok(read) => {
            let under_way: UnderWay = read;
            let job = under_way
                .input
                .clone()
                .validate_within(&Ceilings::HIGHEST)
                .expect("was valid");
            // Of a plan that somebody changed the program says so where the rest does not hold.
            let _ = carry_on(&under_way, &job, &Happened::default(), text.as_bytes());
        }
        Err(faults) => are_sound(&faults, text.as_bytes()),
    }
}

/// Plans what is left, and has the plan checked; faults must have their place.
fn carry_on(
    under_way: &UnderWay,
    job: &Job,
    happened: &Happened,
    text: &[u8],
) -> Result<(), Refusal> {
    let pieces = job.materials().iter().flat_map(|one| one.pieces());
    if pieces.map(|piece| piece.qty()).sum::<u64>() > MOST_PIECES {
        return Ok(());
    }
    let limits = Limits {
        work: Some(WORK),
        ..Limits::default()
    };
    match remainder(under_way, happened) {
        Ok(left) => {
            let carried = left.plan(&limits);
            verify(left.job(), &carried.plan)?;
            let ink = crate::text::ink::Ink::plain();
            let _ = crate::text::carried::carried_text(&left, &carried, ink);
        }
        Err(faults) => are_sound(&faults.0, text),
    }
    Ok(())
}

pub fn all_plans() -> Vec<Vec<u8>> {
    plans()
        .iter()
        .map(|text| text.clone().into_bytes())
        .collect()
}

/// What happened, one thing a line.
pub fn notes(bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes);
    let (under_way, job) = under_way();
    let known = Known::of(under_way, job);
    let reading = Reading {
        unit: Unit::Mm,
        ..Reading::default()
    };
    let mut faults: Vec<Fault> = Vec::new();
    let ceilings = lengthwise::job::Ceilings::default();
    let mut notes = Notes::new(&known, reading, &ceilings);
    notes.read(&text, &Arc::from("attack"), &mut faults);
    let statements = notes.statements;
    are_sound(&faults, text.as_bytes());
    for statement in &statements {
        let line = usize::try_from(statement.origin.line).expect("a line");
        let line = text.lines().nth(line - 1).expect("a line of the text");
        assert!(
            (1..=line.chars().count()).contains(&statement.column),
            "{statement:?}"
        );
    }
    let happened = Happened {
        statements,
        ..Happened::default()
    };
    carry_on(under_way, job, &happened, text.as_bytes()).expect("a plan that holds");
}

pub fn all_notes() -> Vec<Vec<u8>> {
    let (under_way, _) = under_way();
    let bars: Vec<&str> = under_way.bar_names().collect();
    let marks: Vec<&str> = under_way.marks().collect();
    let (bar, other) = (bars[0], bars[bars.len() - 1]);
    let (mark, second) = (marks[0], marks[marks.len() - 1]);
    [
        format!("cut {bar}-{other}\nspoiled {mark}\n"),
        format!("begun {bar} {mark} left 130\nbad {other}\n"),
        format!("short {other} 2870; usable {bar} 1150+720\n"),
        format!("found 1850 x 2 roof batten ends 0/10\nleft {bar} nothing\ncut {bar}\n"),
        format!("spoiled {second} from {other} # a remark\ncut {other}. left {other} 760\n"),
        format!("CUT: {bar}, {other}!\nbegun {other} {second}\nspoilt {second}"),
    ]
    .map(String::into_bytes)
    .into()
}

/// Pieces measured anew.
pub fn measured(bytes: &[u8]) {
    let (under_way, job) = under_way();
    let known = Known::of(under_way, job);
    let source = Arc::from("attack");
    let mut faults = Vec::new();
    let ceilings = crate::ceilings::Ceilings::default();
    let within = Within {
        unit: Unit::Mm,
        ceilings: &ceilings,
    };
    let input = &under_way.input;
    let measured = match text_of(bytes, &origin()) {
        Ok(text) => measured_in(&text, &source, within, input, &known, &mut faults),
        Err(fault) => return are_sound(&[fault], bytes),
    };
    are_sound(&faults, bytes);
    let happened = Happened {
        measured,
        ..Happened::default()
    };
    carry_on(under_way, job, &happened, bytes).expect("a plan that holds");
}

pub fn all_measured() -> Vec<Vec<u8>> {
    let (under_way, _) = under_way();
    let marks: Vec<&str> = under_way.marks().collect();
    let rows = under_way.input.pieces.iter();
    let rows: String = rows
        .map(|row| format!("{},{},,\n", row.mark, row.length))
        .collect();
    [
        format!("mark,length,end_gap,leave_long\n{rows}"),
        format!(
            "mark,length\n{},1999\n{},2.21m\n",
            marks[0],
            marks[marks.len() - 1]
        ),
        format!("mark;end_gap\n{};0/1,5\n", marks[0]),
    ]
    .map(String::into_bytes)
    .into()
}
