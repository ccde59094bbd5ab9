//! The one public entry: job to plan.
//!
//! Materials have nothing to do with each other but the clock and the names of bars. So they are
//! searched on several threads, and laid out afterwards one after the other, in the order of the job.

mod board;
mod choices;
mod clock;
mod crew;
mod material;

use std::num::NonZeroUsize;
use std::sync::atomic::AtomicBool;
use std::time::Duration;

#[cfg(feature = "serde")]
use serde::Serialize;

use crate::clock::{Clock, Deadline, SystemClock};
use crate::job::Job;
use crate::layout::BarNames;
use crate::plan::{MaterialPlan, Plan, Value};

use board::Board;
pub(crate) use choices::has_choices;
use clock::Shares;
use crew::Crew;
#[cfg(feature = "parallel")]
pub use crew::STACK;
use material::{Searched, Solver};
pub(crate) use material::{tried_places, with_preference};

/// Work that is spent on one material by default: of the order of half a minute.
pub const DEFAULT_WORK: u64 = 30_000_000_000;

/// How long to search, and on which threads.
///
/// Written with what is not said left as it is by default, since there may be more to say one day:
///
/// ```
/// use std::time::Duration;
/// use lengthwise::Limits;
/// let limits = Limits { time: Some(Duration::from_secs(10)), ..Limits::default() };
/// assert_eq!(limits.work, None);
/// ```
#[derive(Clone, Copy, Debug, Default)]
pub struct Limits<'a> {
    /// A limit in units of work for each material (about a nanosecond each); `None` for
    /// [`DEFAULT_WORK`], or for none at all where `time` is set.
    /// The same job under the same work limit gives the same plan to the byte.
    pub work: Option<u64>,
    /// A limit by the clock for the whole job. A material that is begun may take an equal share of
    /// what is left, counted in turns of all threads; what it leaves is shared by the others. Small
    /// materials are begun first, so that what they leave goes to the large ones.
    pub time: Option<Duration>,
    /// The clock that `time` is by, and by which whoever watches is told now and again; `None` for the
    /// [system's](SystemClock). With one of the caller's that one is not read; only a linear program that
    /// a general solver is given keeps itself to what `time` leaves it by the clock of the system.
    pub clock: Option<&'a dyn Clock>,
    /// Set by the caller to stop at once with the best plan so far.
    pub cancel: Option<&'a AtomicBool>,
    /// Threads that plan materials; `None` for as many as there are cores, or as the environment
    /// variable `RAYON_NUM_THREADS` says, a single material on one. Their stack is of 64 MiB, of
    /// which only what is touched takes memory. With one, without the feature `parallel`, and where
    /// the system gives no thread, all is done on the thread of the caller, which should have as
    /// much: thousands of lengths do with half a megabyte, but branch and bound goes deep, and a
    /// thread whose stack ends takes its program with it. The plan is the same for any number,
    /// unless a clock cuts it short.
    pub threads: Option<NonZeroUsize>,
    /// Threads of the caller's that plan materials, all of them and in place of `threads`: none is started
    /// then, and a single material too is planned there. They should have a stack of [`STACK`] bytes.
    #[cfg(feature = "parallel")]
    pub pool: Option<&'a rayon::ThreadPool>,
}

impl<'a> Limits<'a> {
    /// The clock that is given, or that of the system.
    pub(crate) fn goes_by(&self) -> &'a dyn Clock {
        self.clock.unwrap_or(&SystemClock)
    }
}

/// What is known while a job is being solved.
#[derive(Clone, Copy, Debug)]
#[cfg_attr(feature = "serde", derive(Serialize))]
#[non_exhaustive]
pub struct Progress<'a> {
    /// The material being solved.
    pub material: &'a str,
    /// How many materials are done: this one too, once it is.
    pub done: usize,
    /// How many there are.
    pub materials: usize,
    /// What the best plan of the material comes to, where there is one yet.
    pub value: Option<Value>,
    /// No plan of the material comes to less; `None` before anything is known.
    pub bound: Option<Value>,
    /// How far the best plan can be from the best there is, as a share of its cost.
    pub gap: Option<f64>,
}

/// Plans a checked job. Never panics, given the stack that [`Limits::threads`] tells of. It ends when
/// [`Limits`] say so, save that each material's first plan is made whatever they say: of jobs near the
/// ceilings that can take some tens of seconds more. It is made in quick ways, which may find none where bars
/// are scarce, where courses have a rule, and where walls come from one batch each: such a material may be
/// left without a plan, [`Outcome::Unknown`](crate::plan::Outcome::Unknown), where time or work is short.
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
///
/// `watch` is called on the threads that plan, by one at a time; the others wait for it, so it should
/// be quick. Of each material it is told when the search begins, then now and again, and when the
/// search ends. From call to call of a material its value never rises and its bound never falls, and
/// the plan in the end is at least as good; `done` never falls. How often it is called, and how the
/// calls of several materials follow each other, depends on the clock; the plan does not. It must not
/// wait for other work of the threads that plan, which may be waiting for it.
///
/// # Panics
/// Where `watch` does.
///
/// ```
/// use lengthwise::{JobInput, Length, Limits, Origin, Unit, job::*, solve::solve_watched};
/// let at = |line| Origin { source: "racks".into(), line };
/// let rail = PieceRow { qty: 14.into(), ..PieceRow::new(at(2), Length::parse("1240", Unit::Mm)?) };
/// let batten = StockRow::new(at(2), Length::parse("4.2m", Unit::Mm)?);
/// let job = JobInput { pieces: vec![rail], stock: vec![batten], ..JobInput::default() }.validate()?;
/// let mut last = None;
/// solve_watched(&job, &Limits::default(), &mut |now| last = Some((now.done, now.gap)));
/// assert_eq!(last, Some((1, Some(0.0))));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn solve_watched(
    job: &Job,
    limits: &Limits<'_>,
    watch: &mut (dyn FnMut(Progress<'_>) + Send),
) -> Plan {
    let materials = job.materials();
    let crew = Crew::new(limits, materials.len());
    let end = Deadline::after(limits.goes_by(), limits.time);
    let shares = Shares::new(end, materials.len(), crew.threads());
    let board = Board::new(materials.len(), watch);
    let searched: Vec<Searched> = crew.all(materials, |material| {
        Solver {
            material,
            limits,
            deadline: shares.next_deadline(),
            work: None,
            below: None,
        }
        .search(&board)
    });
    let mut names = BarNames::default();
    let planned = materials.iter().zip(searched).map(|(material, searched)| {
        let (outcome, effort) = searched.lay_out(material, &mut names);
        MaterialPlan {
            name: material.name().to_owned(),
            unit: material.unit(),
            kerf: material.kerf(),
            per_cut: material.per_cut(),
            outcome,
            effort,
        }
    });
    Plan {
        materials: planned.collect(),
    }
}
