//! The `setups` command: how many patterns fewer there are where few setups are preferred.

use std::path::PathBuf;

use clap::Args;
use lengthwise::job::Prefer;
use lengthwise::plan::{Claim, Cutting, Preference};
use lengthwise::{Job, verify};
use lengthwise_tests::generate::trade::trade_job;
use lengthwise_tests::generate::walls::wall_rows;
use lengthwise_tests::rows::checked;

use crate::lines::Lines;
use crate::run::{by_the_clock, cutting, median, timed};
use crate::seeds::Seeds;
use crate::trade::name;

/// Options of `setups`.
#[derive(Args)]
pub struct Arguments {
    /// The first and the last seed.
    #[arg(long, default_value = "1..200")]
    seeds: Seeds,
    /// Seconds for each plan; without it the default limit of work.
    #[arg(long)]
    limit: Option<f64>,
    /// Walls of forty runs instead of jobs without runs.
    #[arg(long)]
    runs: bool,
    /// Also write a row for each job to this file.
    #[arg(long)]
    csv: Option<PathBuf>,
}

const COLUMNS: &str = "job,bars,before,patterns,bound,moves_before,moves,moves_bound,seconds_before,\
                       seconds,same,refused";

/// A job planned twice.
struct Compared {
    name: String,
    bars: u64,
    patterns_before: usize,
    moves_before: usize,
    patterns: Claim<u64>,
    moves: Claim<u64>,
    /// Seconds of planning without and with the preference.
    seconds: (f64, f64),
    /// Whether cost, bound and length from hand are the same.
    same: bool,
    refused: Option<String>,
}

/// Plans the jobs twice; `Ok(false)` where a plan is refused or costs something else.
pub fn run(arguments: &Arguments) -> Result<bool, String> {
    let csv = arguments.csv.as_deref();
    let mut csv = csv.map(|path| Lines::create(path, COLUMNS)).transpose()?;
    println!("{}", COLUMNS.replace(',', " "));
    let mut all = Vec::new();
    for seed in arguments.seeds.iter() {
        let jobs =
            [Prefer::Offcuts, Prefer::Setups].map(|prefer| job(seed, arguments.runs, prefer));
        let compared = Compared::of(name(seed), &jobs, arguments.limit)?;
        println!("{}", compared.row().replace(',', " "));
        if let Some(csv) = &mut csv {
            csv.write(&compared.row())?;
        }
        all.push(compared);
    }
    print(&all);
    Ok(all.iter().all(|job| job.same && job.refused.is_none()))
}

fn job(seed: u64, runs: bool, prefer: Prefer) -> Job {
    let mut input = if runs {
        wall_rows(seed).input()
    } else {
        trade_job(seed).input()
    };
    input.saw.prefer = prefer;
    checked(input)
}

impl Compared {
    fn of(name: String, jobs: &[Job; 2], limit: Option<f64>) -> Result<Compared, String> {
        let limits = limit.map(by_the_clock).transpose()?.unwrap_or_default();
        let [(before, seconds_before), (after, seconds)] =
            jobs.each_ref().map(|job| timed(job, &limits));
        let [_, job] = jobs;
        let refused = verify(job, &after).err();
        let (Some(before), Some(after)) = (cutting(&before), cutting(&after)) else {
            return Err(format!("{name}: no plan"));
        };
        let Preference::Setups { patterns, moves } = &after.preference else {
            return Err(format!("{name}: nothing was preferred"));
        };
        let hand = |cutting: &Cutting| cutting.figures.hand_cut_into;
        Ok(Compared {
            name,
            bars: after
                .bars
                .iter()
                .map(|group| group.names.len() as u64)
                .sum(),
            patterns_before: patterns_of(before),
            moves_before: lengths_of(before),
            patterns: *patterns,
            moves: *moves,
            seconds: (seconds_before, seconds),
            same: before.value == after.value
                && before.bound == after.bound
                && hand(before) == hand(after),
            refused: refused.map(|why| why.to_string()),
        })
    }

    fn row(&self) -> String {
        let bound =
            |claim: Claim<u64>| claim.bound.map_or(String::new(), |bound| bound.to_string());
        format!(
            "{},{},{},{},{},{},{},{},{:.3},{:.3},{},{}",
            self.name,
            self.bars,
            self.patterns_before,
            self.patterns.found,
            bound(self.patterns),
            self.moves_before,
            self.moves.found,
            bound(self.moves),
            self.seconds.0,
            self.seconds.1,
            self.same,
            self.refused
                .as_deref()
                .unwrap_or("verified")
                .replace(',', ";"),
        )
    }
}

fn patterns_of(cutting: &Cutting) -> usize {
    let patterns = cutting.bars.iter().map(|group| {
        let mut cuts: Vec<_> = group
            .cuts
            .iter()
            .map(|cut| (cut.length, cut.ends))
            .collect();
        cuts.sort();
        (group.bar, cuts)
    });
    patterns.collect::<std::collections::BTreeSet<_>>().len()
}

fn lengths_of(cutting: &Cutting) -> usize {
    let cuts = cutting.bars.iter().flat_map(|group| &group.cuts);
    let lengths = cuts.map(|cut| cut.length);
    lengths.collect::<std::collections::BTreeSet<_>>().len()
}

fn print(all: &[Compared]) {
    let sum = |of: &dyn Fn(&Compared) -> u64| -> u64 { all.iter().map(of).sum() };
    let is_met = |claim: Claim<u64>| claim.bound == Some(claim.found);
    let count = |of: &dyn Fn(&Compared) -> bool| all.iter().filter(|job| of(job)).count();
    println!(
        "\n{} jobs, the same cost in {}, verified {}",
        all.len(),
        count(&|job| job.same),
        count(&|job| job.refused.is_none()),
    );
    println!(
        "patterns {} -> {}, bound {}; proven fewest in {}",
        sum(&|job| job.patterns_before as u64),
        sum(&|job| job.patterns.found),
        sum(&|job| job.patterns.bound.unwrap_or(0)),
        count(&|job| is_met(job.patterns)),
    );
    println!(
        "stop settings {} -> {}, bound {}; proven fewest in {}",
        sum(&|job| job.moves_before as u64),
        sum(&|job| job.moves.found),
        sum(&|job| job.moves.bound.unwrap_or(0)),
        count(&|job| is_met(job.moves)),
    );
    let seconds = |of: &dyn Fn(&Compared) -> f64| -> Vec<f64> { all.iter().map(of).collect() };
    let (before, after) = (seconds(&|job| job.seconds.0), seconds(&|job| job.seconds.1));
    let largest = |seconds: &[f64]| seconds.iter().copied().fold(0.0, f64::max);
    println!(
        "seconds, median and largest: {:.3} and {:.3} without, {:.3} and {:.3} with",
        median(&before),
        largest(&before),
        median(&after),
        largest(&after),
    );
}
