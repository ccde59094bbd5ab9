//! Recomputes every claim of a plan from the job and the plan alone.

use thiserror::Error;

use crate::job::Job;
use crate::plan::Plan;

/// A claim of a plan that does not hold.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum Refusal {
    /// to be written
    #[error("todo")]
    Todo,
}

/// What was rechecked.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Verified {}

/// Recomputes demand, balance, cost, figures and the bound.
///
/// # Errors
/// The first claim that does not hold.
pub fn verify(job: &Job, plan: &Plan) -> Result<Verified, Refusal> {
    let _ = (job, plan);
    Err(Refusal::Todo)
}
