//! The `hard` command: instances without waste whose rounded-up bound may be out of reach.

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use lengthwise_tests::generate::hard::{Size as Pieces, hard};

use crate::judged::{COLUMNS, Judged, print};
use crate::lines::Lines;
use crate::run::by_the_clock;
use crate::seeds::Seeds;

/// Options of `hard`.
#[derive(Args)]
pub struct Arguments {
    /// About how many pieces.
    #[arg(long, value_enum, default_value = "200")]
    size: Size,
    /// The first and the last seed.
    #[arg(long, default_value = "1..50")]
    seeds: Seeds,
    /// Seconds for each instance.
    #[arg(long, default_value_t = 60.0)]
    limit: f64,
    /// Also write a row for each instance to this file.
    #[arg(long)]
    csv: Option<PathBuf>,
}

#[derive(Clone, Copy, ValueEnum)]
enum Size {
    /// 201 pieces, a bar near 2500.
    #[value(name = "200")]
    Near200,
    /// 402 pieces, a bar near 10000.
    #[value(name = "400")]
    Near400,
}

/// Solves the instances; `Ok(false)` where an answer is wrong.
pub fn run(arguments: &Arguments) -> Result<bool, String> {
    let limits = by_the_clock(arguments.limit)?;
    let csv = arguments.csv.as_deref();
    let mut csv = csv.map(|path| Lines::create(path, COLUMNS)).transpose()?;
    let size = match arguments.size {
        Size::Near200 => Pieces::Near200,
        Size::Near400 => Pieces::Near400,
    };
    println!("hard jobs, at most {} s each\n", arguments.limit);
    let mut all = Vec::new();
    for seed in arguments.seeds.iter() {
        let instance = hard(size, seed);
        let judged = Judged::of(instance.name.clone(), &instance.job(), &limits);
        if let Some(csv) = &mut csv {
            csv.write(&judged.row())?;
        }
        all.push(judged);
    }
    Ok(print(&all))
}
