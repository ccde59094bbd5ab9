//! The `trade` command: generated jobs as they come up in the trade.

use std::path::PathBuf;

use clap::Args;
use lengthwise_tests::generate::trade::trade_job;

use crate::judged::{COLUMNS, Judged, print};
use crate::lines::Lines;
use crate::run::by_the_clock;
use crate::seeds::Seeds;

/// Options of `trade`.
#[derive(Args)]
pub struct Arguments {
    /// The first and the last seed.
    #[arg(long, default_value = "1..200")]
    seeds: Seeds,
    /// Seconds for each job.
    #[arg(long, default_value_t = 10.0)]
    limit: f64,
    /// Also write a row for each job to this file.
    #[arg(long)]
    csv: Option<PathBuf>,
}

/// Solves the jobs; `Ok(false)` where an answer is wrong.
pub fn run(arguments: &Arguments) -> Result<bool, String> {
    let limits = by_the_clock(arguments.limit)?;
    let csv = arguments.csv.as_deref();
    let mut csv = csv.map(|path| Lines::create(path, COLUMNS)).transpose()?;
    println!("trade jobs, at most {} s each\n", arguments.limit);
    let mut all = Vec::new();
    for seed in arguments.seeds.iter() {
        let judged = Judged::of(name(seed), &trade_job(seed).job(), &limits);
        if let Some(csv) = &mut csv {
            csv.write(&judged.row())?;
        }
        all.push(judged);
    }
    Ok(print(&all))
}

/// What the job of a seed is called, in tables and files.
pub fn name(seed: u64) -> String {
    format!("trade-{seed:03}")
}
