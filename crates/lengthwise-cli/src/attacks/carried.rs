//! What happens to the plan of any job: it is carried on, and what is left must hold as well.

use std::sync::Arc;

use lengthwise::carry_on::{Happened, UnderWay, remainder};
use lengthwise::job::Ceilings;
use lengthwise::plan::Plan;
use lengthwise::solve::Limits;
use lengthwise::{Job, Reading, Unit, verify};

use super::{are_sound, clock, in_time, origin, usual};
use crate::carry::names::Known;
use crate::carry::notation::Notes;
use crate::insurance::Cover;
use crate::json::StandAlone;
use crate::json::read_back::read_back;
use crate::read::attacked::{Within, measured_in, text_of};
use crate::text::{carried, ink::Ink};
use crate::verify::{Judgement, judge};

/// Work for the rest of a plan.
const WORK: u64 = 1_000_000;

/// A text in which `%3` stands for a bar and `&3` for a mark, counted round and round.
fn named(text: &str, sign: char, names: &[&str]) -> String {
    let mut parts = text.split(sign);
    let mut all = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        let digits = part.bytes().take_while(u8::is_ascii_digit).count();
        let (number, rest) = part.split_at(digits);
        let place = number.parse::<usize>().unwrap_or(0);
        let name = place.checked_rem(names.len()).map(|place| names[place]);
        all.push_str(name.unwrap_or_default());
        all.push_str(rest);
    }
    all
}

/// What notes and a table say; `None` where something is wrong with them.
fn happened(under_way: &UnderWay, job: &Job, notes: &[u8], table: &[u8]) -> Option<Happened> {
    let bars: Vec<&str> = under_way.bar_names().collect();
    let marks: Vec<&str> = under_way.marks().collect();
    let known = Known::of(under_way, job);
    let unit = job.materials().first().map_or(Unit::Mm, |one| one.unit());
    let source = Arc::from("attack");
    let mut faults = Vec::new();
    let notes = named(&String::from_utf8_lossy(notes), '%', &bars);
    let notes = named(&notes, '&', &marks);
    let reading = Reading {
        unit,
        ..Reading::default()
    };
    let ceilings = crate::ceilings::Ceilings::default();
    let mut said = Notes::new(&known, reading, &ceilings.job);
    said.read(&notes, &source, &mut faults);
    let statements = said.statements;
    are_sound(&faults, notes.as_bytes());
    let within = Within {
        unit,
        ceilings: &ceilings,
    };
    let mut measured = Vec::new();
    if !table.is_empty() {
        let table = named(&String::from_utf8_lossy(table), '&', &marks);
        let mut faults_of_table = Vec::new();
        match text_of(table.as_bytes(), &origin()) {
            Ok(text) => {
                let faults = &mut faults_of_table;
                measured = measured_in(&text, &source, within, &under_way.input, &known, faults);
            }
            Err(fault) => faults_of_table.push(fault),
        }
        are_sound(&faults_of_table, table.as_bytes());
        faults.extend(faults_of_table);
    }
    faults.is_empty().then_some(Happened {
        statements,
        measured,
    })
}

/// Carries a plan on, and once more with nothing that happened.
pub fn carry_on(under_way: &UnderWay, notes: &[u8], table: &[u8]) {
    let job = under_way.input.clone();
    let job = job.validate_within(&Ceilings::HIGHEST).expect("its job");
    let Some(happened) = happened(under_way, &job, notes, table) else {
        return;
    };
    let Some(next) = carried_on(under_way, &happened) else {
        return;
    };
    carried_on(&next, &Happened::default()).expect("nothing happened");
}

/// The plan of what is left, read back from its plan.json; `None` where what is said to have happened cannot be.
fn carried_on(under_way: &UnderWay, happened: &Happened) -> Option<UnderWay> {
    let left = match remainder(under_way, happened) {
        Ok(left) => left,
        Err(faults) => {
            for fault in &faults.0 {
                let shown = fault.to_string();
                assert!(!shown.contains(char::is_control), "{shown:?}");
            }
            assert!(!faults.0.is_empty());
            return None;
        }
    };
    let limits = Limits {
        time: clock(),
        work: clock().is_none().then_some(WORK),
        ..Limits::default()
    };
    let carried = in_time(|| left.plan(&limits));
    verify(left.job(), &carried.plan).expect("a plan of the rest that holds");
    let shown = carried::carried_text(&left, &carried, Ink::plain());
    let breaks_out = |c: char| c.is_control() && c != '\n';
    assert!(!shown.contains(breaks_out), "{shown:?}");
    let next = UnderWay {
        insured: under_way.insured,
        ..left.under_way(&carried)
    };
    let json = written(&next, left.job(), &carried.plan);
    holds(&judge(&json, "plan.json", &usual()).expect("a plan.json"));
    let back = read_back(&json, "plan.json", &usual()).expect("a plan.json");
    assert_eq!(back.done, next.done);
    assert_eq!(back.names_taken, next.names_taken);
    Some(back)
}

/// Whether nothing speaks against a plan.
pub fn holds(judgement: &Judgement) {
    let reasons = judgement.reasons.iter().map(ToString::to_string);
    let reasons: Vec<String> = reasons.collect();
    assert!(reasons.is_empty(), "{reasons:?}");
}

/// The plan.json of a plan that was carried on.
fn written(under_way: &UnderWay, job: &Job, plan: &Plan) -> String {
    let cover = Cover::default();
    let json = StandAlone::carried(plan, under_way).expect("JSON");
    let json = json.with_mishaps(job, plan, &cover);
    let json = json.sealed().expect("JSON");
    serde_json::to_string_pretty(&json).expect("JSON")
}
