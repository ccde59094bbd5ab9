//! The command-line program: files and flags in, a plan as people read it out.

#![forbid(unsafe_code)]

mod args;
mod ask;
#[cfg(any(test, fuzzing))]
pub mod attacks;
mod cancel;
mod carry;
mod ceilings;
mod exit;
mod insurance;
mod json;
mod out;
mod paper;
mod progress;
mod quotes;
mod read;
mod report;
mod settings;
mod text;
mod verify;

use std::io::{self, BufWriter, ErrorKind, Write};
use std::process::ExitCode;
use std::time::Instant;

use clap::Parser;
use lengthwise::Job;
use lengthwise::carry_on::{CarriedOn, Remainder, UnderWay};
use lengthwise::insure::Insurance;
use lengthwise::plan::{Outcome, Plan};
use lengthwise::solve::{Limits, solve_watched};

use args::{AskArgs, CarryArgs, CheckArgs, Command, CommandLine, PlanArgs};
use exit::Exit;
use insurance::Cover;
use json::PlanJson;
use json::carried::CarriedOnJson;
use json::job::WrittenJob;
use json::read_job::JobDocument;
use out::OutDir;
use progress::ProgressLine;
use read::{ReadJob, read_document, read_job};
use serde::Serialize;
use settings::SearchLimits;
use text::ink::Ink;

fn main() -> ExitCode {
    cancel::listen();
    let exit = match CommandLine::parse().command {
        Command::Plan(args) => plan(&args),
        Command::Check(args) => check(&args),
        Command::CarryOn(args) => carry_on(&args),
        Command::Ask(args) => ask(&args),
        Command::Quotes(args) => quotes::quotes(&args),
        Command::Schema(args) => print_as_json(Ok(json::schema::schema(args.of))),
        Command::Verify(args) => verify::verify(&args),
    };
    exit.into()
}

/// Reads, plans, prints, writes.
fn plan(args: &PlanArgs) -> Exit {
    let begun = Instant::now();
    let mut faults = Vec::new();
    let document = read_document(&args.job);
    let usual = document
        .as_ref()
        .map(JobDocument::usual)
        .unwrap_or_default();
    let settings = settings::job_settings(&args.job, usual.saw, &mut faults);
    let limits = settings::search_limits(&args.search, &mut faults);
    let insurance = settings::insurance(args, usual.insurance, &mut faults);
    let read = match read_job(&args.job, document, settings, faults) {
        Ok(read) => read,
        Err(faults) => {
            report::print_faults(&faults);
            return Exit::BadInput;
        }
    };
    let out = match open_out(args.out.as_deref()) {
        Ok(out) => out,
        Err(exit) => return exit,
    };
    let (job, plan, cover) = match insurance::plan(read.job, insurance, &limits, begun) {
        Ok(planned) => planned,
        Err(faults) => {
            report::print_faults(&faults.0);
            return Exit::BadInput;
        }
    };
    let read = ReadJob { job, ..read };
    let printed = print_plan(args, &read, &plan, &cover);
    let written = out.map_or(Exit::Done, |out| {
        write_files(args, out, &read, &plan, &cover)
    });
    printed.max(written).max(outcome(&plan)).max(cover.exit())
}

/// Solves under what is left of the limits, with progress shown.
fn solve(job: &Job, limits: &SearchLimits, begun: Instant) -> Plan {
    let mut progress = ProgressLine::new();
    let limits = Limits {
        work: limits.work,
        // The clock is for the whole run: reading has taken its share.
        time: limits.time.map(|time| time.saturating_sub(begun.elapsed())),
        cancel: Some(cancel::flag()),
        ..Limits::default()
    };
    let plan = solve_watched(job, &limits, &mut |now| progress.show(&now));
    progress.done();
    plan
}

/// Reads the question, plans, answers in three lines.
fn ask(args: &AskArgs) -> Exit {
    let begun = Instant::now();
    let mut faults = Vec::new();
    let limits = settings::search_limits(&args.search, &mut faults);
    let job = match ask::question(args, faults) {
        Ok(job) => job,
        Err(faults) => {
            report::print_faults(&faults);
            return Exit::BadInput;
        }
    };
    let plan = solve(&job, &limits, begun);
    let printed = if args.search.json {
        print_json(&job, &plan, &Cover::default())
    } else {
        let printed = print(&text::answer::answer(&job, &plan, Ink::colour()));
        print_notes(&job);
        report::print_line(ask::CAUTION);
        printed
    };
    printed.max(outcome(&plan))
}

/// Reads the plan and what happened, plans the rest, prints what changed, writes.
fn carry_on(args: &CarryArgs) -> Exit {
    let begun = Instant::now();
    let mut faults = Vec::new();
    let limits = settings::search_limits(&args.search, &mut faults);
    let left = match carry::left(args, faults) {
        Ok(left) => left,
        Err(faults) => {
            report::print_faults(&faults);
            return Exit::BadInput;
        }
    };
    let out = match open_out(args.out.as_deref()) {
        Ok(out) => out,
        Err(exit) => return exit,
    };
    let within = |share: u32| Limits {
        work: limits.work,
        time: limits
            .time
            .map(|time| time.saturating_sub(begun.elapsed()) / share),
        cancel: Some(cancel::flag()),
        ..Limits::default()
    };
    let is_insured = left.insured.is_some();
    let (left, carried) = match left.insured {
        None => {
            let carried = left.left.plan(&within(1));
            (left.left, carried)
        }
        // What is left over serves before a spare of the insurance gives way.
        Some(giving_way) => {
            let (kept, given) = (left.left.plan(&within(2)), giving_way.plan(&within(1)));
            if text::carried::costs_less(&given.plan, &kept.plan) {
                (giving_way, given)
            } else {
                (left.left, kept)
            }
        }
    };
    // A plan.json may have been changed in ways that only show here: nothing wrong is ever cut.
    if let Err(why) = lengthwise::verify(left.job(), &carried.plan) {
        report::print_error(&format!(
            "the rest of this plan.json cannot be planned, since it contradicts itself: {why}"
        ));
        return Exit::BadInput;
    }
    let printed = if args.search.json {
        print_carried_json(&left, &carried)
    } else {
        print(&text::carried::carried_text(&left, &carried, Ink::colour()))
    };
    let written = out.map_or(Exit::Done, |out| {
        let under_way = UnderWay {
            insured: is_insured,
            ..left.under_way(&carried)
        };
        let dir = args.out.as_deref().unwrap_or_default();
        written(
            dir,
            out.write_carried(&under_way, left.job(), &carried.plan),
        )
    });
    printed.max(written).max(outcome(&carried.plan))
}

/// Prints what changed for programs, and the notes beside it.
fn print_carried_json(left: &Remainder, carried: &CarriedOn) -> Exit {
    for remark in text::carried::remarks(left) {
        report::print_line(&format!("note: {remark}"));
    }
    // No search for spares: those that there are stay.
    let cover = Cover::default();
    print_as_json(CarriedOnJson::new(left, carried, &cover))
}

/// Opens the directory to write into, before any work is done.
fn open_out(dir: Option<&str>) -> Result<Option<OutDir>, Exit> {
    dir.map(OutDir::open).transpose().map_err(|why| {
        report::print_error(&format!(
            "cannot write there, so nothing was planned: {why}"
        ));
        Exit::Stopped
    })
}

fn check(args: &CheckArgs) -> Exit {
    let mut faults = Vec::new();
    let document = read_document(&args.job);
    let usual = document
        .as_ref()
        .map(JobDocument::usual)
        .unwrap_or_default();
    let settings = settings::job_settings(&args.job, usual.saw, &mut faults);
    match read_job(&args.job, document, settings, faults) {
        Ok(read) if args.json => print_job(&read, usual.insurance),
        Ok(read) => print(&text::digest::digest(&read.job, Ink::colour())),
        Err(faults) => {
            report::print_faults(&faults);
            Exit::BadInput
        }
    }
}

/// Prints the job for programs and for `--job`, and the notes beside it.
fn print_job(read: &ReadJob, insurance: Insurance) -> Exit {
    print_notes(&read.job);
    print_as_json(Ok(WrittenJob::new(&read.input).insured(insurance)))
}

fn print_notes(job: &Job) {
    for note in text::notes::plain(job) {
        report::print_line(&format!("note: {note}"));
    }
}

fn print_plan(args: &PlanArgs, read: &ReadJob, plan: &Plan, cover: &Cover) -> Exit {
    if args.search.json {
        print_json(&read.job, plan, cover)
    } else {
        print_with(|out| text::write_plan(&read.job, plan, cover, Ink::colour(), out))
    }
}

/// Prints the plan for programs, and the notes beside it.
fn print_json(job: &Job, plan: &Plan, cover: &Cover) -> Exit {
    print_notes(job);
    print_as_json(PlanJson::new(plan).map(|json| json.with_mishaps(job, plan, cover)))
}

fn print_as_json(json: serde_json::Result<impl Serialize>) -> Exit {
    let json = match json {
        Ok(json) => json,
        Err(why) => {
            report::print_error(&format!("the result cannot be put into JSON: {why}"));
            return Exit::Stopped;
        }
    };
    print_with(|out| {
        serde_json::to_writer_pretty(&mut *out, &json)?;
        out.write_all(b"\n")
    })
}

fn print(text: &str) -> Exit {
    print_with(|out| out.write_all(text.as_bytes()))
}

/// Prints results as they are made; a reader that has seen enough and closed the pipe is no error.
fn print_with(write: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> Exit {
    let mut out = BufWriter::new(anstream::AutoStream::auto(io::stdout().lock()));
    match write(&mut out).and_then(|()| out.flush()) {
        Ok(()) => Exit::Done,
        Err(why) if why.kind() == ErrorKind::BrokenPipe => Exit::Done,
        Err(why) => {
            report::print_error(&format!("the result cannot be printed: {why}"));
            Exit::Stopped
        }
    }
}

fn write_files(args: &PlanArgs, out: OutDir, read: &ReadJob, plan: &Plan, cover: &Cover) -> Exit {
    let dir = args.out.as_deref().unwrap_or_default();
    written(dir, out.write(&read.input, &read.job, plan, cover))
}

/// Says where the files are, or why they are not.
fn written(dir: &str, result: io::Result<()>) -> Exit {
    match result {
        Ok(()) => {
            report::print_line(&format!("The plan is also written to {dir}."));
            Exit::Done
        }
        Err(why) => {
            report::print_error(&format!(
                "the files were not written, old ones are kept: {why}"
            ));
            Exit::Stopped
        }
    }
}

/// What the plan itself says about how the run ended.
fn outcome(plan: &Plan) -> Exit {
    let one = |outcome: &Outcome| match outcome {
        Outcome::Planned(_) => Exit::Done,
        Outcome::Impossible(_) => Exit::Impossible,
        Outcome::Unknown(_) => Exit::Stopped,
    };
    plan.materials
        .iter()
        .map(|material| one(&material.outcome))
        .max()
        .unwrap_or(Exit::Done)
}
