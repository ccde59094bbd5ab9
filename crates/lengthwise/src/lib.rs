//! Which standard lengths to buy, and how to cut them.
//!
//! One-dimensional cutting stock with several bar lengths, whole-number costs, packs and limited
//! availability. For one material: pieces of lengths `l_i`, `d_i` of each; kinds of bar `s` of usable
//! length `U_s` and cost `c_s`, at most `b_s` of them; a blade of width `k`. What the slanted slots of
//! mitred ends take counts as part of `l_i`. A bar of kind `s` holds pieces if and only if `sum (l + k) <= U_s + k`. Cut every piece at the least total cost, packs bought
//! whole; among equals cut into the least length from hand. Everything is exact: lengths are whole
//! nanometres, money is decimal, and what a plan claims rests on whole-number arithmetic.
//!
//! The way through the crate: fill a [`JobInput`] with rows, [`JobInput::validate`] it into a [`Job`]
//! or the full list of its [`Faults`], [`solve()`] it into a [`Plan`], and let [`verify()`] recompute every
//! claim of the plan without using any code of the solver.

#![forbid(unsafe_code)]
#![deny(missing_docs)]

pub mod carry_on;
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

pub use fault::{Ceiling, Fault, FaultKind, Faults, Origin};
pub use job::{Job, JobInput};
pub use length::{Length, LengthError, Measure, Reading, Unit};
pub use plan::Plan;
pub use price::{Price, PriceError};
pub use solve::{Limits, solve};
pub use verify::verify;
