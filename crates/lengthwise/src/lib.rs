//! Which standard lengths to buy, and how to cut them.
//!
//! One-dimensional cutting stock with several bar lengths, whole-number costs, packs and limited
//! availability. For one material: pieces of lengths `l_i`, `d_i` of each; kinds of bar `s` of usable
//! length `U_s` and cost `c_s`, at most `b_s` of them; a blade of width `k`. What the slanted slots of
//! mitred ends take counts as part of `l_i`. A bar of kind `s` holds pieces if and only if
//! `sum (l + k) <= U_s + k`. Cut every piece at the least total cost, packs bought whole; among equals
//! cut into the least length from hand. Everything is exact: lengths are whole nanometres, money is
//! decimal, and what a plan claims rests on whole-number arithmetic.
//!
//! The way through the crate: fill a [`JobInput`] with rows, [`JobInput::validate`] it into a [`Job`]
//! or the full list of its [`Faults`], [`solve()`] it into a [`Plan`], and let [`verify()`] recompute every
//! claim of the plan without using any code of the solver.
//!
//! ```
//! use lengthwise::{JobInput, Length, Limits, Origin, Unit, job::*, solve, verify};
//! # let at = |line| Origin { source: "example".into(), line };
//! let batten = PieceRow { qty: 7.into(), ..PieceRow::new(at(1), Length::parse("2210", Unit::Mm)?) };
//! let bar = StockRow::new(at(2), Length::parse("3m", Unit::Mm)?);
//! let job = JobInput { pieces: vec![batten], stock: vec![bar], ..JobInput::default() }.validate()?;
//! let plan = solve(&job, &Limits::default());
//! let verified = verify(&job, &plan)?;
//! assert!(verified.materials[0].rechecked.contains(&verify::Claim::Optimal));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! Every row has an [`Origin`], the caller's name for where it came from, so that a fault can say where
//! it is.
//!
//! # Where to find what
//!
//! | | |
//! |---|---|
//! | to fill in | [`JobInput`]: [`PieceRow`](job::PieceRow), [`StockRow`](job::StockRow), [`HandRow`](job::HandRow), and the [`Saw`](job::Saw) |
//! | in these | [`Length`] and [`Measure`] (with the [`Unit`] it was written in), [`Price`], [`Quantity`](job::Quantity), [`Sold`](job::Sold), [`Joints`](job::Joints), [`Ends`](job::Ends) |
//! | what is wrong with it | [`Faults`], every [`Fault`] with its place; what should be known besides: [`Job::notes`] |
//! | what comes out | [`Plan`], for each material a [`MaterialPlan`](plan::MaterialPlan) with its [`Outcome`](plan::Outcome): a [`Cutting`](plan::Cutting), or why there is none |
//! | in a [`Cutting`](plan::Cutting) | [`Purchase`](plan::Purchase), [`BarGroup`](plan::BarGroup) and its [`Cut`](plan::Cut)s, [`UncutBars`](plan::UncutBars), [`Figures`](plan::Figures), [`StopSetting`](plan::StopSetting), [`Proof`](plan::Proof) |
//! | how long it may take, and where | [`Limits`]: work, a time by a [`Clock`], a flag that cancels, threads or a pool of them; [`solve_watched`](solve::solve_watched) tells how it goes |
//! | how far to trust it | [`verify()`]: [`Verified`](verify::Verified) lists what was recomputed, and as [`Trust`](verify::Trust) what was not; or a [`Refusal`](verify::Refusal) |
//! | what a plan bears | [`forgiving`](forgiving::forgiving()): a wider blade, longer pieces; [`spoiled`](spoiled::spoiled()): where a piece can be cut again |
//! | spares that are sure to do | [`insure`](insure::insure()) |
//! | going on half-way | [`carry_on`] |
//! | choosing whom to buy from | [`quotes`] |
//!
//! # Examples
//!
//! In the folder `examples`, each to be run with `cargo run --example NAME`:
//!
//! - `estimate`: as short as it gets;
//! - `minimal`: one material, from rows to bars;
//! - `materials`: several, with prices, by the metre and in packs;
//! - `in_hand`: what is in hand first, and what is left over;
//! - `runs`: pieces longer than any bar, joined on supports;
//! - `carry_on`: two bars are cut, a piece is spoiled, the rest is planned;
//! - `progress`: a progress display of one's own;
//! - `cancelling`: the best plan so far, at once;
//! - `saved`: a plan is kept as JSON, and verified when it is read back.
//!
//! # Keeping and sending
//!
//! With the feature `serde` what is asked ([`JobInput`] and its rows), what comes out ([`Plan`] with its
//! certificates, [`Faults`], notes) and what a job half-way is made of
//! ([`UnderWay`](carry_on::UnderWay), [`Happened`](carry_on::Happened)) can be written by any crate that
//! goes with [`serde`](https://docs.rs/serde), and read back the same:
//!
#![cfg_attr(feature = "serde", doc = "```")]
#![cfg_attr(not(feature = "serde"), doc = "```ignore")]
//! use lengthwise::{JobInput, Limits, Plan, solve, verify};
//! let asked = r#"{
//!     "pieces": [{
//!         "origin": {"source": "rack", "line": 1},
//!         "length": {"length": "1240mm", "unit": "mm"},
//!         "qty": {"count": 6}
//!     }],
//!     "stock": [{
//!         "origin": {"source": "yard", "line": 1},
//!         "length": {"length": "4.2m", "unit": "m"},
//!         "price": "4.85"
//!     }]
//! }"#;
//! let job = serde_json::from_str::<JobInput>(asked)?.validate()?;
//! let kept = serde_json::to_string(&solve(&job, &Limits::default()))?;
//! // Whoever had it may have changed it: read back it is a claim.
//! let plan: Plan = serde_json::from_str(&kept)?;
//! verify(&job, &plan)?;
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! - Quantities are texts, exact, as they are printed: a [`Length`] in millimetres (`"2216.15mm"`; read with
//!   any unit, never without one), a [`Price`] as a decimal (`"5.90"`), an [`Angle`](job::Angle) in degrees
//!   (`"22.5"`). What is out of range is refused, as by their constructors.
//! - A [`Job`] has been checked, so it is not read: [`JobInput`] is, and is validated. Nor is what
//!   [`verify()`] found; that is written only.
//! - Fields of a row that are missing are as in a new one; fields that are not known are refused, since a
//!   rule that is passed over would make another job.
//! - Names are those of the fields and variants, in snake case.
//!
//! # Features
//!
//! - `parallel` (default): materials on several threads, the crate's own or those of a
//!   [pool](Limits::pool) of the caller's. So `rayon`, which the pool is of, is part of the interface, as
//!   [`rayon`]. Without the feature no thread is started. The plan is the same, unless a clock cuts it short.
//! - `serde` (default): what is asked and answered can be kept and sent, see above.
//! - `highs`: HiGHS in place of microlp for the clean-up step of the search. Builds C++: needs a compiler,
//!   cmake and libclang.
//! - `internals`: for the micro-benchmarks of this project. No part of the interface.
//!
//! # Overflow checks
//!
//! Sums are bounded by the [ceilings](job::Ceilings) of a job and checked where they come from a plan that somebody
//! sent. Keep `overflow-checks = true` in the profile of a release all the same, as that of this project does: behind
//! a mistake of ours there is a panic then, and no wrong length.
//!
//! # Caution
//!
//! Saws maim. Whoever shows a plan to a person at a saw should show cautions beside it. Nothing here
//! judges whether a structure is strong enough or safe in a fire.

#![forbid(unsafe_code)]
#![deny(missing_docs)]

pub mod carry_on;
mod clock;
mod engine;
#[cfg(feature = "internals")]
#[doc(hidden)]
pub use engine::internals;
pub mod fault;
pub mod forgiving;
pub mod insure;
pub mod job;
mod layout;
pub mod plan;
mod problem;
pub mod quotes;
pub mod solve;
pub mod spoiled;
pub mod verify;

mod length;
mod price;
#[cfg(feature = "serde")]
mod saved;

pub use clock::{Clock, SystemClock};
pub use fault::{Ceiling, Fault, FaultKind, Faults, Origin};
pub use job::{Job, JobInput};
pub use length::{Length, LengthError, Measure, Reading, Unit};
pub use plan::Plan;
pub use price::{Price, PriceError};
pub use solve::{Limits, solve};
pub use verify::verify;

/// The crate that [`Limits::pool`] is of.
#[cfg(feature = "parallel")]
pub use rayon;
/// The crate that the decimals of a [`Price`] are of.
pub use rust_decimal;
