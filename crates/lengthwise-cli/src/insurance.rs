//! Insurance as it is asked for on the command line, and what came of it.

use std::time::Instant;

use lengthwise::insure::{Insurance, Insured, MaterialInsured, insure};
use lengthwise::plan::{Outcome, Plan};
use lengthwise::{Faults, Job};

use crate::exit::Exit;
use crate::settings::SearchLimits;

/// What was insured, material by material in the order of the job; nothing where none was asked for.
#[derive(Clone, Debug, Default)]
pub struct Cover {
    /// What was asked for.
    pub insurance: Insurance,
    /// What came of it.
    pub materials: Vec<MaterialInsured>,
}

/// Plans a job with its insurance.
///
/// # Errors
/// Where the spares make the job too large to stay exact.
pub fn plan(
    job: Job,
    insurance: Insurance,
    limits: &SearchLimits,
    begun: Instant,
) -> Result<(Job, Plan, Cover), Faults> {
    if insurance.is_none() {
        let plan = crate::solve(&job, limits, begun);
        return Ok((job, plan, Cover::default()));
    }
    let mut solve = |job: &Job| {
        // Of what is left of the clock each plan may take half, so that the last is not without.
        let time = limits.time.map(|time| {
            let gone = begun.elapsed().min(time);
            gone + (time - gone) / 2
        });
        let limits = SearchLimits {
            time,
            work: limits.work,
        };
        crate::solve(job, &limits, begun)
    };
    let Insured {
        job,
        plan,
        materials,
    } = insure(&job, insurance, &mut solve)?;
    let cover = Cover {
        insurance,
        materials,
    };
    Ok((job, plan, cover))
}

impl Cover {
    /// What the insurance says about how the run ended.
    pub fn exit(&self) -> Exit {
        let one = |insured: &MaterialInsured| match insured {
            MaterialInsured::Refused(Outcome::Impossible(_)) => Exit::Impossible,
            MaterialInsured::Refused(_) => Exit::Stopped,
            _ => Exit::Done,
        };
        self.materials.iter().map(one).max().unwrap_or(Exit::Done)
    }
}
