//! `lengthwise carry-on`: a plan that is being cut and what happened in, a plan of the rest out.

pub mod names;
pub mod notation;

use std::sync::Arc;

use lengthwise::carry_on::{Happened, Remainder, UnderWay, remainder};
use lengthwise::job;
use lengthwise::{Fault, FaultKind, Job, Origin, Reading, Unit};

use crate::args::CarryArgs;
use crate::ceilings::{self, Ceilings};
use crate::json::read_back::read_back;
use crate::read::cells::quoted;
use crate::read::{read_json, read_measured, read_text, source_name};
use names::Known;
use notation::Notes;

/// How the lines of the command line are called in faults.
const NOTE: &str = "--note";

/// What is left of the job.
#[derive(Debug)]
pub struct Left {
    /// With all spares.
    pub left: Remainder,
    /// Of an insured job: without those that give way.
    pub insured: Option<Remainder>,
}

/// Reads the plan and what happened, and works out what is left.
///
/// # Errors
/// Every fault there is: of the plan alone where it cannot be read, else of all that was said.
pub fn left(args: &CarryArgs, mut faults: Vec<Fault>) -> Result<Left, Vec<Fault>> {
    check_standard_input(args, &mut faults);
    let ceilings = ceilings::ceilings(&args.ceiling, &ceilings::ALL, &mut faults);
    let text = match read_json(&args.plan, ceilings.plan) {
        Ok(text) => text,
        Err(fault) => {
            faults.push(fault);
            return Err(faults);
        }
    };
    let mut under_way: UnderWay =
        match read_back(&text, source_name(&args.plan), &ceilings.of_plan()) {
            Ok(read) => read,
            Err(more) => {
                faults.extend(more);
                return Err(faults);
            }
        };
    let job = under_way.input.clone();
    let job = job.validate_within(&job::Ceilings::HIGHEST);
    let job = job.map_err(|faults| faults.0)?; // it was valid when it was read back
    let reading = Reading {
        unit: unit(args, &job, &mut faults),
        ..Reading::default()
    };
    let happened = happened(args, &ceilings, (&under_way, &job), reading, &mut faults);
    // First as if no spare of an insurance had to give way: what is left over may do.
    let insured = std::mem::replace(&mut under_way.insured, false);
    match remainder(&under_way, &happened) {
        Ok(left) if faults.is_empty() => Ok(Left {
            insured: insured
                .then(|| {
                    under_way.insured = true;
                    remainder(&under_way, &happened).ok()
                })
                .flatten(),
            left,
        }),
        Ok(_) => Err(in_order(args, faults)),
        Err(more) => {
            faults.extend(more.0);
            Err(in_order(args, faults))
        }
    }
}

/// Flags first, then file by file, line by line and column by column.
fn in_order(args: &CarryArgs, mut faults: Vec<Fault>) -> Vec<Fault> {
    let notes = args.done.iter().map(|path| source_name(path)).chain([NOTE]);
    let sources: Vec<&str> = notes
        .chain(args.pieces.iter().map(|path| source_name(path)))
        .collect();
    let column = |fault: &Fault| -> Option<u64> {
        let column = fault.column.as_deref()?.strip_prefix("column ")?;
        column.parse().ok()
    };
    faults.sort_by_key(|fault| {
        let place = fault.origin.as_ref().map(|origin| {
            let source = sources.iter().position(|name| **name == *origin.source);
            (source, origin.line)
        });
        (place, column(fault))
    });
    faults
}

fn check_standard_input(args: &CarryArgs, faults: &mut Vec<Fault>) {
    let paths = [&args.plan]
        .into_iter()
        .chain(&args.done)
        .chain(&args.pieces);
    if paths.filter(|path| *path == "-").count() > 1 {
        faults.push(Fault {
            kind: FaultKind::Unreadable,
            origin: Some(Origin {
                source: Arc::from(source_name("-")),
                line: 0,
            }),
            column: None,
            found: "\"-\" for more than one file".to_owned(),
            accepted: "\"-\" once: standard input can be read only once".to_owned(),
        });
    }
}

/// The unit of bare lengths: as told, else that of the first piece of the plan.
fn unit(args: &CarryArgs, job: &Job, faults: &mut Vec<Fault>) -> Unit {
    let of_plan = job.materials().first().map_or(Unit::Mm, |one| one.unit());
    let Some(text) = &args.unit else {
        return of_plan;
    };
    Unit::from_name(text).unwrap_or_else(|| {
        let found = quoted(text);
        faults.push(crate::settings::fault(
            "--unit",
            found,
            "mm, cm, m, in or ft",
        ));
        of_plan
    })
}

fn happened(
    args: &CarryArgs,
    ceilings: &Ceilings,
    (under_way, job): (&UnderWay, &Job),
    reading: Reading,
    faults: &mut Vec<Fault>,
) -> Happened {
    let known = Known::of(under_way, job);
    let mut said = Notes::new(&known, reading, &ceilings.job);
    for path in &args.done {
        match read_text(path, ceilings.file) {
            Ok(text) => {
                let source = Arc::from(source_name(path));
                said.read(&text, &source, faults);
            }
            Err(fault) => faults.push(fault),
        }
    }
    let notes = args.note.join("\n");
    let source = Arc::from(NOTE);
    said.read(&notes, &source, faults);
    let mut happened = Happened {
        statements: said.statements,
        ..Happened::default()
    };
    for path in &args.pieces {
        let (unit, input) = (reading.unit, &under_way.input);
        let measured = read_measured(path, unit, input, &known, ceilings, faults);
        happened.measured.extend(measured);
    }
    happened
}
