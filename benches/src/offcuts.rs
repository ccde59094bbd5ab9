//! The `offcuts` command: what is proven of spares and offcuts among equally cheap plans.

use std::path::PathBuf;

use clap::Args;
use lengthwise::plan::{Claim, Preference};
use lengthwise::{Length, verify};
use lengthwise_tests::generate::trade::trade_job;
use lengthwise_tests::rows::checked;

use crate::lines::Lines;
use crate::run::{by_the_clock, cutting, median, timed};
use crate::seeds::Seeds;
use crate::trade::name;

/// Options of `offcuts`.
#[derive(Args)]
pub struct Arguments {
    /// The first and the last seed.
    #[arg(long, default_value = "1..200")]
    seeds: Seeds,
    /// Seconds for each plan; without it the default limit of work.
    #[arg(long)]
    limit: Option<f64>,
    /// Also write a row for each job to this file.
    #[arg(long)]
    csv: Option<PathBuf>,
}

const COLUMNS: &str =
    "job,bars,spare_nm,spare_bound_nm,proven,next_nm,next_bound_nm,seconds,verdict";

/// A job and what its plan claims.
struct Claimed {
    name: String,
    bars: usize,
    spare: Claim<Length>,
    /// Offcuts proven to be the longest there can be, one after the other.
    proven: usize,
    /// The first that is not, if one was asked about.
    next: Option<Claim<Length>>,
    seconds: f64,
    refused: Option<String>,
}

/// Plans the jobs; `Ok(false)` where a plan is refused.
pub fn run(arguments: &Arguments) -> Result<bool, String> {
    let csv = arguments.csv.as_deref();
    let mut csv = csv.map(|path| Lines::create(path, COLUMNS)).transpose()?;
    println!("{}", COLUMNS.replace(',', " "));
    let mut all = Vec::new();
    for seed in arguments.seeds.iter() {
        let claimed = Claimed::of(seed, arguments.limit)?;
        println!("{}", claimed.row().replace(',', " "));
        if let Some(csv) = &mut csv {
            csv.write(&claimed.row())?;
        }
        all.push(claimed);
    }
    print(&all);
    Ok(all.iter().all(|job| job.refused.is_none()))
}

impl Claimed {
    fn of(seed: u64, limit: Option<f64>) -> Result<Claimed, String> {
        let job = checked(trade_job(seed).input());
        let limits = limit.map(by_the_clock).transpose()?.unwrap_or_default();
        let (plan, seconds) = timed(&job, &limits);
        let refused = verify(&job, &plan).err().map(|why| why.to_string());
        let name = name(seed);
        let cutting = cutting(&plan).ok_or_else(|| format!("{name}: no plan"))?;
        let Preference::Offcuts { spare, offcuts, .. } = &cutting.preference else {
            return Err(format!("{name}: nothing was preferred"));
        };
        let proven = offcuts.iter().take_while(|claim| claim.is_proven()).count();
        Ok(Claimed {
            bars: cutting.bars.iter().map(|group| group.names.len()).sum(),
            spare: *spare,
            proven,
            next: offcuts.get(proven).copied(),
            name,
            seconds,
            refused,
        })
    }

    fn row(&self) -> String {
        let nm = |length: Option<Length>| length.map_or(String::new(), |nm| nm.nm().to_string());
        let next = self.next;
        format!(
            "{},{},{},{},{},{},{},{:.3},{}",
            self.name,
            self.bars,
            self.spare.found.nm(),
            nm(self.spare.bound),
            self.proven,
            nm(next.map(|claim| claim.found)),
            nm(next.and_then(|claim| claim.bound)),
            self.seconds,
            self.refused
                .as_deref()
                .unwrap_or("verified")
                .replace(',', ";"),
        )
    }
}

fn print(all: &[Claimed]) {
    let count = |of: &dyn Fn(&Claimed) -> bool| all.iter().filter(|job| of(job)).count();
    println!(
        "\n{} jobs, verified {}; smallest spare proven in {}; longest offcut proven in {}; all that were \
         asked about in {}",
        all.len(),
        count(&|job| job.refused.is_none()),
        count(&|job| job.spare.is_proven()),
        count(&|job| job.proven > 0),
        count(&|job| job.proven > 0 && job.next.is_none()),
    );
    let seconds: Vec<f64> = all.iter().map(|job| job.seconds).collect();
    let largest = seconds.iter().copied().fold(0.0, f64::max);
    println!(
        "seconds: median {:.3}, largest {largest:.3}",
        median(&seconds)
    );
}
