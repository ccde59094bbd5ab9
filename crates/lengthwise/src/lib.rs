//! Which standard lengths to buy, and how to cut them.

#![forbid(unsafe_code)]
#![deny(missing_docs)]

mod engine;
pub mod fault;
pub mod job;
mod layout;
pub mod plan;
mod problem;
pub mod solve;
pub mod verify;

mod length;
mod price;

pub use fault::{Fault, FaultKind, Faults, Origin};
pub use job::{Job, JobInput};
pub use length::{Length, LengthError, Measure, Reading, Unit};
pub use plan::Plan;
pub use price::{Price, PriceError};
pub use solve::{Limits, solve};
pub use verify::verify;
