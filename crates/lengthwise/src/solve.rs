//! The one public entry: job to plan.

use std::sync::atomic::AtomicBool;
use std::time::{Duration, Instant};

use crate::engine::{self, Answer, Meter};
use crate::job::{Job, Material};
use crate::layout::{BarNames, Layout, lay_out, money};
use crate::plan::{
    Certificate, Cutting, Effort, Impossible, MaterialPlan, MixProof, MixSplit, Outcome, Plan,
    Proof, SearchedMix, Stop, Value,
};
use crate::problem::{NoProblem, Problem};

/// Work that is spent on one material by default: of the order of half a minute.
pub const DEFAULT_WORK: u64 = 30_000_000_000;

/// How long to search.
#[derive(Clone, Copy, Debug, Default)]
pub struct Limits<'a> {
    /// A limit in units of work for each material (about a nanosecond each); `None` for
    /// [`DEFAULT_WORK`], or for none at all where `time` is set.
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
///
/// ```
/// use lengthwise::{Job, JobInput, Length, Limits, Origin, Unit, job::*, solve, verify};
/// let at = |line| Origin { source: "example".into(), line };
/// let job = JobInput {
///     pieces: vec![PieceRow {
///         mark: "F".into(),
///         qty: 7.into(),
///         ..PieceRow::new(at(2), Length::parse("2210", Unit::Mm)?)
///     }],
///     stock: vec![StockRow::new(at(2), Length::parse("3m", Unit::Mm)?)],
///     ..JobInput::default()
/// }
/// .validate()?;
/// let plan = solve(&job, &Limits::default());
/// verify(&job, &plan)?;
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn solve(job: &Job, limits: &Limits<'_>) -> Plan {
    solve_watched(job, limits, &mut |_| {})
}

/// Plans a checked job and tells `watch` how it is going.
pub fn solve_watched(job: &Job, limits: &Limits<'_>, watch: &mut dyn FnMut(Progress<'_>)) -> Plan {
    // A time so far off that it cannot be expressed is no limit.
    let deadline = limits
        .time
        .and_then(|time| Instant::now().checked_add(time));
    let mut names = BarNames::default();
    let count = job.materials().len();
    let mut materials = Vec::with_capacity(count);
    for (done, material) in job.materials().iter().enumerate() {
        let mut report = |best: Option<i128>, bound: i128| {
            let gap = best.map(|best| share(best - bound, best));
            watch(Progress {
                material: material.name(),
                done,
                materials: count,
                gap,
            });
        };
        report(None, 0);
        let (outcome, effort) = Solver {
            material,
            limits,
            deadline,
        }
        .run(&mut names, &mut report);
        materials.push(MaterialPlan {
            name: material.name().to_owned(),
            unit: material.unit(),
            kerf: material.kerf(),
            per_cut: material.per_cut(),
            outcome,
            effort,
        });
    }
    Plan { materials }
}

/// A share for people to look at.
fn share(part: i128, whole: i128) -> f64 {
    if whole == 0 {
        0.0
    } else {
        part as f64 / whole as f64
    }
}

/// One material under the limits of the job.
struct Solver<'a> {
    material: &'a Material,
    limits: &'a Limits<'a>,
    deadline: Option<Instant>,
}

impl Solver<'_> {
    fn run(
        &self,
        names: &mut BarNames,
        report: &mut dyn FnMut(Option<i128>, i128),
    ) -> (Outcome, Effort) {
        let problem = match Problem::new(self.material) {
            Ok(problem) => problem,
            Err(NoProblem::Impossible(why)) => {
                return (Outcome::Impossible(why), Effort::default());
            }
            Err(NoProblem::CostsTooFine) => {
                return (Outcome::Unknown(Stop::CostsTooFine), Effort::default());
            }
        };
        let mut answer = engine::minimise(&problem.instance, self.meter(report));
        let Some((cost, packing)) = answer.best.take() else {
            return (without_plan(&answer), answer.effort);
        };
        let outcome = match lay_out(self.material, &problem, &packing, names) {
            Some(layout) => self.outcome(&problem, &answer, cost, layout),
            None => Outcome::Unknown(Stop::CostsTooFine),
        };
        (outcome, answer.effort)
    }

    fn meter<'m>(&'m self, report: &'m mut dyn FnMut(Option<i128>, i128)) -> Meter<'m> {
        let default = if self.deadline.is_some() {
            u64::MAX
        } else {
            DEFAULT_WORK
        };
        let limit = self.limits.work.unwrap_or(default);
        Meter::new(limit, self.deadline, self.limits.cancel, Some(report))
    }

    fn outcome(&self, problem: &Problem, answer: &Answer, cost: i128, layout: Layout) -> Outcome {
        let bound = problem.value(answer.bound);
        let value = if self.material.is_priced() {
            money(self.material, &layout).map(Value::Money)
        } else {
            Some(Value::Bought(layout.figures.bought))
        };
        let (Some(value), Some(bound)) = (value, bound) else {
            return Outcome::Unknown(Stop::CostsTooFine);
        };
        let proof = match answer.stop {
            None if answer.bound >= cost => Proof::Optimal,
            stop => Proof::Gap(stop.unwrap_or(Stop::Exhausted)),
        };
        let hand_proof = if answer.tie_settled {
            Proof::Optimal
        } else {
            Proof::Gap(Stop::Exhausted)
        };
        let certificate = certificate(problem, answer);
        Outcome::Planned(Box::new(Cutting {
            proof,
            value,
            bound,
            buy: layout.buy,
            bars: layout.bars,
            uncut: layout.uncut,
            figures: layout.figures,
            hand_proof,
            certificate,
        }))
    }
}

/// What the engine proved, in terms of the job.
fn certificate(problem: &Problem, answer: &Answer) -> Certificate {
    let prices = problem
        .shapes
        .iter()
        .copied()
        .zip(answer.prices.iter().copied());
    let refutations = answer
        .proof
        .refutations
        .iter()
        .map(|refutation| refutation.prices.clone());
    let searched = answer.proof.exhausted.iter().map(|exhausted| SearchedMix {
        bars: exhausted.mix.iter().map(|&bars| u64::from(bars)).collect(),
        patterns: exhausted.patterns,
        nodes: exhausted.nodes,
    });
    let splits = answer.proof.splits.iter().map(|split| {
        split.map(|(kind, at)| MixSplit {
            bar: kind as usize, // u32 into usize
            at: u64::from(at),
        })
    });
    Certificate {
        scale: answer.scale,
        prices: prices.collect(),
        mixes: MixProof {
            refutations: refutations.collect(),
            searched: searched.collect(),
            splits: splits.collect(),
        },
    }
}

/// No plan was found: because there is none, or because the search ended.
fn without_plan(answer: &Answer) -> Outcome {
    match u64::try_from(answer.left_over) {
        Ok(left_over) if left_over > 0 => {
            Outcome::Impossible(Impossible::NotEnoughBars { left_over })
        }
        _ => Outcome::Unknown(answer.stop.unwrap_or(Stop::Exhausted)),
    }
}
