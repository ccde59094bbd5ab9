//! Generators of instances, each from its published description.

pub mod bppgen;
pub mod cutgen;
pub mod falkenauer;
pub mod hard;
pub mod medium_runs;
pub mod perfect;
pub mod small;
pub mod small_runs;
pub mod stream;
pub mod trade;
pub mod walls;

use lengthwise::{Job, JobInput};

use crate::rows::{Rows, mm, price};

/// An instance with one bar length and as many bars as wanted, lengths in millimetres.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Instance {
    /// A name.
    pub name: String,
    /// The length of the bar.
    pub bar: u64,
    /// The blade.
    pub kerf: u64,
    /// Distinct lengths and how many of each, longest first.
    pub pieces: Vec<(u64, u64)>,
    /// The fewest bars, where that is known.
    pub optimum: Option<u64>,
}

impl Instance {
    /// The instance as a job in which every bar costs 1.
    ///
    /// # Panics
    /// Where a length is 0 or above 4 294 967 mm.
    pub fn job(&self) -> Job {
        self.rows().job()
    }

    /// The rows of [`Instance::job`].
    ///
    /// # Panics
    /// As [`Instance::job`].
    pub fn input(&self) -> JobInput {
        self.rows().input()
    }

    fn rows(&self) -> Rows {
        let mut rows = Rows::with_kerf(mm(self.kerf).length).stock(mm(self.bar), Some(price(1)));
        for &(length, qty) in &self.pieces {
            rows = rows.piece(mm(length), qty);
        }
        rows
    }
}

/// Counts equal lengths, longest first.
pub fn merged(mut lengths: Vec<u64>) -> Vec<(u64, u64)> {
    lengths.sort_unstable_by(|a, b| b.cmp(a));
    lengths
        .chunk_by(|a, b| a == b)
        .filter_map(|alike| Some((*alike.first()?, alike.len() as u64)))
        .collect()
}
