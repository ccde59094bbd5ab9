//! The `big` command: a job far larger than any building's.

use std::fs;

use clap::Args;
use lengthwise::plan::Proof;
use lengthwise::verify;
use lengthwise_tests::big::big_job;

use crate::run::{bars_bought, by_the_clock, cutting, timed};

/// Options of `big`.
#[derive(Args)]
pub struct Arguments {
    /// How many kinds of bar can be bought, 1 to 4.
    #[arg(long, default_value_t = 4, value_parser = clap::value_parser!(u64).range(1..=4))]
    lengths: u64,
    /// Distinct lengths of pieces, 1 to 2500.
    #[arg(long, default_value_t = 1000, value_parser = clap::value_parser!(u64).range(1..=2500))]
    distinct: u64,
    /// How many of each.
    #[arg(long, default_value_t = 100, value_parser = clap::value_parser!(u64).range(1..=1_000_000))]
    each: u64,
    /// Seconds.
    #[arg(long, default_value_t = 60.0)]
    limit: f64,
}

/// Plans the job; `Ok(false)` where the plan is refused or there is none.
pub fn run(arguments: &Arguments) -> Result<bool, String> {
    let (kinds, distinct) = (arguments.lengths as usize, arguments.distinct as usize);
    let job = big_job(kinds, distinct, arguments.each);
    let limits = by_the_clock(arguments.limit)?;
    let (plan, seconds) = timed(&job, &limits);
    let verified = verify(&job, &plan);
    let pieces = arguments.distinct * arguments.each;
    println!(
        "{pieces} pieces of {} lengths, {} kinds of bar, at most {} s",
        arguments.distinct, arguments.lengths, arguments.limit
    );
    println!("seconds   {seconds:.2}");
    match cutting(&plan) {
        Some(cutting) => {
            println!("bars      {}", bars_bought(cutting));
            println!("value     {:?}", cutting.value);
            println!("bound     {:?}", cutting.bound);
            let proof = match cutting.proof {
                Proof::Optimal => "optimal".to_owned(),
                other => format!("{other:?}"),
            };
            println!("proof     {proof}");
        }
        None => println!("no plan"),
    }
    match &verified {
        Ok(_) => println!("verified  yes"),
        Err(refusal) => println!("verified  NO: {refusal}"),
    }
    let peak = peak_memory().unwrap_or_else(|| "not known".to_owned());
    println!("peak      {peak} resident");
    Ok(verified.is_ok() && cutting(&plan).is_some())
}

/// The largest resident size of this process so far, where the system tells.
fn peak_memory() -> Option<String> {
    let status = fs::read_to_string("/proc/self/status").ok()?;
    let line = status
        .lines()
        .find_map(|line| line.strip_prefix("VmHWM:"))?;
    Some(line.trim().to_owned())
}
