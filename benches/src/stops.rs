//! The `stops` command: how late a search notices that its time is up.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

use clap::Args;
use lengthwise::Job;
use lengthwise_tests::big::big_job;
use lengthwise_tests::generate::hard::{Size, hard};
use lengthwise_tests::generate::trade::trade_job;

use crate::class_file::read;
use crate::judged::Judged;
use crate::run::by_the_clock;

/// Options of `stops`.
#[derive(Args)]
pub struct Arguments {
    /// A directory of class files, or one of them.
    path: Option<PathBuf>,
    /// What `classes --csv` wrote of these classes: the slowest are taken.
    #[arg(long, requires = "path")]
    csv: Option<PathBuf>,
    /// So many of each class.
    #[arg(long, default_value_t = 1)]
    each: usize,
    /// Seconds, one after the other.
    #[arg(long, value_delimiter = ',', default_value = "0.1,0.5,1")]
    limits: Vec<f64>,
    /// Only jobs whose name has this in it.
    #[arg(long)]
    only: Option<String>,
}

/// By so many seconds a search may end late.
const LATE: f64 = 0.2;

/// Stops every job; `Ok(false)` where a plan is refused or comes too late.
pub fn run(arguments: &Arguments) -> Result<bool, String> {
    let mut jobs = generated();
    if let Some(path) = &arguments.path {
        jobs.extend(slowest(path, arguments)?);
    }
    jobs.retain(|(name, _)| {
        let only = arguments.only.as_ref();
        only.is_none_or(|only| name.contains(only))
    });
    println!("seconds after the limit; every plan verified; at most {LATE} are allowed\n");
    print!("{:<32}", "job");
    arguments
        .limits
        .iter()
        .for_each(|limit| print!(" {limit:>8}"));
    println!();
    let (mut worst, mut refused) = ((0.0, String::new()), Vec::new());
    for (name, job) in &jobs {
        print!("{name:<32}");
        for &limit in &arguments.limits {
            let judged = Judged::of(name.clone(), job, &by_the_clock(limit)?);
            let late = (judged.seconds - limit).max(0.0);
            print!(" {late:>8.4}");
            if late > worst.0 {
                worst = (late, format!("{name} at {limit} s"));
            }
            let no_plan = judged.value.is_none().then(|| "no plan".to_owned());
            refused.extend(judged.wrong.or(no_plan).map(|why| format!("{name}: {why}")));
        }
        println!();
    }
    println!("\nlatest  {:.4} s  {}", worst.0, worst.1);
    refused.iter().for_each(|why| println!("WRONG {why}"));
    Ok(refused.is_empty() && worst.0 <= LATE)
}

/// Jobs of all sorts that need no file, most of them out of reach in a second.
fn generated() -> Vec<(String, Job)> {
    let mut jobs = Vec::new();
    for seed in 1..=3 {
        jobs.push((format!("hard-200-{seed}"), hard(Size::Near200, seed).job()));
        jobs.push((format!("hard-400-{seed}"), hard(Size::Near400, seed).job()));
    }
    for seed in [19, 26, 64, 90, 98, 160, 170, 200] {
        jobs.push((format!("trade-{seed:03}"), trade_job(seed).job()));
    }
    for (kinds, distinct, each) in [
        (4, 100, 1000),
        (4, 390, 100),
        (1, 410, 100),
        (4, 1000, 1),
        (4, 1000, 10),
        (1, 1000, 100),
        (4, 1000, 100),
        (4, 2500, 40),
    ] {
        let name = format!("big-{kinds}-{distinct}x{each}");
        jobs.push((name, big_job(kinds, distinct, each)));
    }
    jobs
}

/// The slowest of each class, or the first where nobody measured.
fn slowest(path: &Path, arguments: &Arguments) -> Result<Vec<(String, Job)>, String> {
    let wanted = arguments
        .csv
        .as_deref()
        .map(|csv| named(csv, arguments.each));
    let wanted = wanted.transpose()?;
    let mut jobs = Vec::new();
    for class in read(path, None)? {
        let mut left = arguments.each;
        for instance in &class.instances {
            let is_wanted = match &wanted {
                Some(wanted) => wanted.contains(&(class.name.clone(), instance.name.clone())),
                None => left > 0,
            };
            if is_wanted {
                left = left.saturating_sub(1);
                jobs.push((format!("{} {}", class.name, instance.name), instance.job()));
            }
        }
    }
    Ok(jobs)
}

/// Class and name of the `each` slowest of each class.
fn named(csv: &Path, each: usize) -> Result<BTreeSet<(String, String)>, String> {
    let text = fs::read_to_string(csv).map_err(|why| format!("{}: {why}", csv.display()))?;
    let mut classes: BTreeMap<&str, Vec<(f64, &str)>> = BTreeMap::new();
    let mut lines = text.lines();
    let head: Vec<&str> = lines.next().unwrap_or("").split(',').collect();
    let place = |column: &str| {
        let place = head.iter().position(|name| *name == column);
        place.ok_or_else(|| format!("{}: no column {column}", csv.display()))
    };
    let (class, job, seconds) = (place("class")?, place("job")?, place("seconds")?);
    for row in lines {
        let fields: Vec<&str> = row.split(',').collect();
        let seconds = fields.get(seconds).and_then(|seconds| seconds.parse().ok());
        let (Some(&class), Some(&name), Some(seconds)) =
            (fields.get(class), fields.get(job), seconds)
        else {
            return Err(format!("{}: not a row of `classes`: {row}", csv.display()));
        };
        classes.entry(class).or_default().push((seconds, name));
    }
    let mut named = BTreeSet::new();
    for (class, mut all) in classes {
        all.sort_by(|a, b| b.0.total_cmp(&a.0));
        let slowest = all.iter().take(each);
        named.extend(slowest.map(|(_, name)| (class.to_owned(), (*name).to_owned())));
    }
    Ok(named)
}
