//! The `runs` and `courses` commands: walls of runs that are parted on supports.

use std::path::PathBuf;

use clap::Args;
use lengthwise::job::CourseRule;
use lengthwise::{Job, Limits};
use lengthwise_tests::generate::walls::{courses, wall_runs};

use crate::judged::{COLUMNS, Judged, print};
use crate::lines::Lines;
use crate::run::by_the_clock;
use crate::seeds::Seeds;

/// Options of `runs`.
#[derive(Args)]
pub struct RunsArguments {
    /// The first and the last seed.
    #[arg(long, default_value = "1..20")]
    seeds: Seeds,
    /// Seconds for each job.
    #[arg(long, default_value_t = 10.0)]
    limit: f64,
    /// Also write a row for each job to this file.
    #[arg(long)]
    csv: Option<PathBuf>,
}

/// Options of `courses`.
#[derive(Args)]
pub struct CoursesArguments {
    /// Seconds for each job.
    #[arg(long, default_value_t = 10.0)]
    limit: f64,
    /// Also write a row for each job to this file.
    #[arg(long)]
    csv: Option<PathBuf>,
}

/// Plans forty runs beside 120 pieces, for each seed; `Ok(false)` where an answer is wrong.
pub fn run_runs(arguments: &RunsArguments) -> Result<bool, String> {
    println!("walls of 40 runs, at most {} s each\n", arguments.limit);
    let jobs = arguments.seeds.iter().map(wall);
    judge(jobs, arguments.limit, arguments.csv.as_deref())
}

/// Plans thirty courses under two rules, with and without prices; `Ok(false)` where an answer is wrong.
pub fn run_courses(arguments: &CoursesArguments) -> Result<bool, String> {
    println!("thirty courses, at most {} s each\n", arguments.limit);
    let jobs = [2, 4]
        .into_iter()
        .flat_map(|rule| [true, false].map(|priced| layers(rule, priced)));
    judge(jobs, arguments.limit, arguments.csv.as_deref())
}

/// A wall of this seed, with its name.
pub fn wall(seed: u64) -> (String, Job) {
    (format!("wall-{seed:03}"), wall_runs(seed))
}

/// Courses of which one of so many may be joined on a support, with their name.
pub fn layers(of: u32, priced: bool) -> (String, Job) {
    let rule = CourseRule {
        joints: 1,
        courses: of,
    };
    let by = if priced { "price" } else { "length" };
    (format!("courses-1/{of}-{by}"), courses(rule, priced))
}

fn judge(
    jobs: impl Iterator<Item = (String, Job)>,
    limit: f64,
    csv: Option<&std::path::Path>,
) -> Result<bool, String> {
    let limits: Limits<'_> = by_the_clock(limit)?;
    let mut csv = csv.map(|path| Lines::create(path, COLUMNS)).transpose()?;
    let mut all = Vec::new();
    for (name, job) in jobs {
        let judged = Judged::of(name, &job, &limits);
        println!("{}", line(&judged));
        if let Some(csv) = &mut csv {
            csv.write(&judged.row())?;
        }
        all.push(judged);
    }
    println!();
    Ok(print(&all))
}

/// What came of one job, for people.
fn line(judged: &Judged) -> String {
    let amount = |amount: Option<rust_decimal::Decimal>| {
        amount.map_or("none".to_owned(), |amount| amount.to_string())
    };
    let proof = match judged.gap() {
        _ if judged.proven => "optimal".to_owned(),
        Some(gap) => format!("gap {:.3} %", 100.0 * gap),
        None => "no plan".to_owned(),
    };
    let verified = match (&judged.wrong, judged.trusted) {
        (Some(_), _) => "refused",
        (None, true) => "verified, partly on trust",
        (None, false) => "verified",
    };
    format!(
        "{:<20} {:>10} {:>10}  {proof:<12} {:>8.3} s  {verified}",
        judged.name,
        amount(judged.value),
        amount(judged.bound),
        judged.seconds
    )
}
