//! The `trade` command: generated jobs as they come up in the trade.

use std::fs;
use std::path::{Path, PathBuf};

use clap::Args;
use lengthwise_tests::generate::trade::trade_job;
use lengthwise_tests::small::SmallJob;
use serde::Serialize;

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
    /// Solve nothing: write each job to a file of this directory, which must exist.
    #[arg(long, conflicts_with = "csv")]
    export: Option<PathBuf>,
}

/// Solves or writes out the jobs; `Ok(false)` where an answer is wrong.
pub fn run(arguments: &Arguments) -> Result<bool, String> {
    if let Some(directory) = &arguments.export {
        for seed in arguments.seeds.iter() {
            export(seed, directory)?;
        }
        return Ok(true);
    }
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

/// A job for other programs: whole millimetres and pence.
#[derive(Serialize)]
struct Exported {
    name: String,
    /// The blade.
    kerf: i64,
    /// The bars: those in hand once each and for nothing, the others as often as wanted.
    bars: Vec<ExportedBar>,
    /// Length and quantity, longest first.
    pieces: Vec<(i64, u64)>,
}

#[derive(Serialize)]
struct ExportedBar {
    /// The whole length.
    length: i64,
    /// The length between the allowances at its ends.
    usable: i64,
    cost: i64,
    /// How many there are; nothing for as many as wanted.
    available: Option<u64>,
}

fn export(seed: u64, directory: &Path) -> Result<(), String> {
    let path = directory.join(format!("{}.json", name(seed)));
    let exported = exported(name(seed), &trade_job(seed));
    let text = serde_json::to_string(&exported).map_err(|why| why.to_string())?;
    fs::write(&path, text).map_err(|why| format!("{}: {why}", path.display()))
}

fn exported(name: String, job: &SmallJob) -> Exported {
    let bought = job.stock.iter().map(|bar| ExportedBar {
        length: bar.length,
        usable: bar.length - job.square.0 - job.square.1,
        cost: bar.pence,
        available: bar.available,
    });
    let in_hand = job.in_hand.iter().map(|bar| ExportedBar {
        length: bar.length,
        usable: bar.length - bar.square.0 - bar.square.1,
        cost: bar.worth.unwrap_or(0),
        available: Some(bar.available),
    });
    Exported {
        name,
        kerf: job.kerf + job.per_cut,
        bars: bought.chain(in_hand).collect(),
        pieces: job.pieces.clone(),
    }
}
