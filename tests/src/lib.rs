//! Shared by the tests and the benchmarks: published examples, generators of instances, and an
//! exhaustive solver that shares no code with the library.

#![forbid(unsafe_code)]
#![deny(missing_docs)]
// Support code of tests: to fail loudly where a job of ours is malformed is its purpose.
#![allow(clippy::expect_used, clippy::panic)]

pub mod answer;
pub mod big;
pub mod exhaustive;
pub mod generate;
pub mod pairs;
pub mod patterns;
pub mod published;
pub mod range;
pub mod root;
pub mod rows;
pub mod run_oracle;
pub mod run_parts;
pub mod several;
pub mod small;
pub mod small_batches;
pub mod small_breaks;
pub mod small_quotes;
pub mod small_runs;
pub mod spoiling;
pub mod tally;
