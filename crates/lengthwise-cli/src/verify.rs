//! `lengthwise verify`: a saved plan in, what holds of it out.
//!
//! First every claim is recomputed from the job and the plan, by the core; then what the program would write
//! of that plan is held against the file, field by field; last the digest tells whether anything else was
//! changed.

mod again;
mod carried;
mod insured;
#[cfg(test)]
#[allow(clippy::unwrap_used, clippy::panic)]
mod tests;

use std::fmt;
use std::time::Instant;

use lengthwise::Fault;
use lengthwise::job;
use lengthwise::plan::{Outcome, Proof, Stop};
use lengthwise::verify::{MaterialVerified, verify_each};

use crate::args::{SearchArgs, VerifyArgs};
use crate::ceilings;
use crate::exit::Exit;
use crate::json::read_back::whole::{Unread, Whole, read_whole};
use crate::json::seal;
use crate::json::tree::{Difference, differences};
use crate::json::verified::VerifiedJson;
use crate::read::{read_json, source_name};
use crate::text::ink::Ink;
use crate::{report, settings, text};
pub use again::{Again, Settled};

/// So many places where a file differs are told at the most.
const MOST_DIFFERENCES: usize = 20;

/// What was found of a plan.
#[derive(Debug)]
pub struct Judgement {
    /// The plan; `None` where it says what cannot be.
    pub whole: Option<Whole>,
    /// What was recomputed, material by material; `None` for those that are refused.
    pub materials: Vec<Option<MaterialVerified>>,
    /// What solving again said of each material; `None` where that was not asked for, or not needed.
    pub again: Vec<Option<Again>>,
    /// Why the plan is refused; empty where it holds.
    pub reasons: Vec<Reason>,
}

/// Why a plan is refused.
#[derive(Debug)]
pub enum Reason {
    /// A value that no plan has.
    Fault(Fault),
    /// A claim that does not hold.
    Claim(String),
    /// What follows from job and plan is something else.
    Field(Difference),
    /// Whatever was changed, it is not what was written.
    Changed { found: Option<String>, now: String },
    /// A search found it wrong.
    Again(String),
}

impl fmt::Display for Reason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Reason::Fault(fault) => {
                let column = fault.column.as_deref().unwrap_or_default();
                write!(
                    f,
                    "{column}: found {}; accepted: {}",
                    fault.found, fault.accepted
                )
            }
            Reason::Claim(claim) | Reason::Again(claim) => f.write_str(claim),
            Reason::Field(difference) => {
                let Difference {
                    path,
                    found,
                    expected,
                } = difference;
                write!(f, "{path}: found {found}, recomputed {expected}")
            }
            Reason::Changed { found: None, .. } => {
                f.write_str("digest: found none, so nothing tells whether anything was changed")
            }
            Reason::Changed {
                found: Some(found),
                now,
            } => write!(
                f,
                "digest: changed after it was written: found {found}, recomputed {now}"
            ),
        }
    }
}

impl Judgement {
    /// Whether the plan holds, as far as that was recomputed.
    pub fn is_accepted(&self) -> bool {
        self.reasons.is_empty()
    }
}

/// Reads a plan, judges it, prints what was found.
pub fn verify(args: &VerifyArgs) -> Exit {
    let begun = Instant::now();
    let search = SearchArgs {
        limit: args.limit.clone(),
        work_limit: args.work_limit.clone(),
        json: args.json,
    };
    let mut faults = Vec::new();
    let limits = settings::search_limits(&search, &mut faults);
    let ceilings = ceilings::ceilings(&args.ceiling, &ceilings::OF_PLAN, &mut faults);
    let text = read_json(&args.plan, ceilings.plan)
        .map_err(|fault| faults.push(fault))
        .ok();
    let judged = text.map(|text| judge(&text, source_name(&args.plan), &ceilings.of_plan()));
    let mut judgement = match judged {
        Some(Ok(judgement)) if faults.is_empty() => judgement,
        Some(Err(more)) => {
            faults.extend(more);
            report::print_unread(&faults);
            return Exit::BadInput;
        }
        _ => {
            report::print_unread(&faults);
            return Exit::BadInput;
        }
    };
    if args.again {
        judgement.again(&mut |job| crate::solve(job, &limits, begun));
    }
    let printed = if args.json {
        crate::print_as_json(Ok(VerifiedJson::new(&judgement)))
    } else {
        let source = source_name(&args.plan);
        crate::print(&text::verified::verified(
            &judgement,
            source,
            args.again,
            Ink::colour(),
        ))
    };
    let judged = match judgement.is_accepted() {
        true => Exit::Done,
        false => Exit::Impossible,
    };
    printed.max(judged)
}

/// Judges the text of a plan.json; `source` is the name of the file as people see it, the ceilings are of its
/// job.
///
/// # Errors
/// Why the text is no plan.json.
pub fn judge(text: &str, source: &str, ceilings: &job::Ceilings) -> Result<Judgement, Vec<Fault>> {
    let whole = match read_whole(text, source, ceilings) {
        Ok(whole) => whole,
        Err(Unread::NoPlan(faults)) => return Err(faults),
        Err(Unread::CannotBe(faults)) => {
            return Ok(Judgement {
                whole: None,
                materials: Vec::new(),
                again: Vec::new(),
                reasons: faults.into_iter().map(Reason::Fault).collect(),
            });
        }
    };
    let mut reasons = Vec::new();
    let mut materials = Vec::new();
    for verified in verify_each(&whole.job, &whole.plan) {
        match verified {
            Ok(verified) => materials.push(Some(verified)),
            Err(refusal) => {
                reasons.push(Reason::Claim(refusal.to_string()));
                materials.push(None);
            }
        }
    }
    reasons.extend(insured::check(&whole).into_iter().map(Reason::Claim));
    reasons.extend(carried::check(&whole).into_iter().map(Reason::Claim));
    check_fields(&whole, text, &mut reasons);
    Ok(Judgement {
        again: vec![None; materials.len()],
        whole: Some(whole),
        materials,
        reasons,
    })
}

/// Holds what the program would write of the plan against the file.
fn check_fields(whole: &Whole, text: &str, reasons: &mut Vec<Reason>) {
    match whole.written_anew() {
        Ok(anew) => {
            let all = differences(&whole.tree, &anew, seal::FIELD, MOST_DIFFERENCES).into_iter();
            reasons.extend(all.map(Reason::Field));
        }
        Err(why) => reasons.push(Reason::Claim(format!("it cannot be written anew: {why}"))),
    }
    let found = match whole.tree.field(seal::FIELD) {
        Some(crate::json::tree::Tree::Text(found)) => Some(found.clone()),
        _ => None,
    };
    match seal::digest(text) {
        Ok(now) if found.as_ref() == Some(&now) => {}
        Ok(now) => reasons.push(Reason::Changed { found, now }),
        Err(why) => reasons.push(Reason::Claim(why.to_string())),
    }
}

/// Whether a plan says that it is the cheapest with its joints where they were tried: no certificate tells.
pub fn claims_joints_tried(outcome: &Outcome) -> bool {
    matches!(outcome, Outcome::Planned(cutting) if cutting.proof == Proof::Gap(Stop::JointsTried))
}
