//! The `versus` command: the same jobs here and with an arc-flow model in HiGHS, one after the
//! other, every plan of both sides rechecked and their claims held against each other.

use std::path::PathBuf;
use std::time::Instant;

use clap::{Args, Subcommand};
use lengthwise::{Job, Limits};
use lengthwise_tests::generate::trade::trade_job;
use rust_decimal::Decimal;

use crate::class_file::{Class, read, sample};
use crate::generated;
use crate::judged::Judged;
use crate::lines::Lines;
use crate::rival::{Answer, Model, Rival};
use crate::run::{by_the_clock, median};
use crate::seeds::Seeds;
use crate::trade;

/// Options of `versus`.
#[derive(Args)]
pub struct Arguments {
    #[command(subcommand)]
    jobs: Jobs,
    /// Seconds for each job and setting; what is not proven by then counts as so many.
    #[arg(long, default_value_t = 60.0, global = true)]
    limit: f64,
    /// Begin no further job after so many seconds in all.
    #[arg(long, global = true)]
    stop_after: Option<f64>,
    /// Also write a row for each job to this file.
    #[arg(long, global = true)]
    csv: Option<PathBuf>,
    #[command(flatten)]
    rival: Rival,
}

/// What is solved.
#[derive(Subcommand)]
enum Jobs {
    /// The instances of class files.
    Classes {
        /// A directory of class files, or one of them.
        path: PathBuf,
        /// One class.
        #[arg(long)]
        only: Option<String>,
        /// So many instances of each class, evenly spaced.
        #[arg(long, default_value_t = 5)]
        sample: usize,
    },
    /// Generated jobs as they come up in the trade.
    Trade {
        /// The first and the last seed.
        #[arg(long, default_value = "1..200")]
        seeds: Seeds,
    },
    /// 200 instances of CUTGEN1 and 40 of BPPGEN.
    Generated {
        /// So many instances of each class, evenly spaced; else all.
        #[arg(long)]
        sample: Option<usize>,
    },
}

/// A job to be solved by both sides.
struct Subject {
    class: String,
    name: String,
    job: Job,
    optimum: Option<u64>,
}

impl Jobs {
    fn subjects(&self) -> Result<Vec<Subject>, String> {
        match self {
            Jobs::Classes { path, only, sample } => {
                Ok(of_classes(&read(path, only.as_deref())?, Some(*sample)))
            }
            Jobs::Generated { sample } => Ok(of_classes(&generated::classes(), *sample)),
            Jobs::Trade { seeds } => Ok(seeds
                .iter()
                .map(|seed| Subject {
                    class: "trade".to_owned(),
                    name: trade::name(seed),
                    job: trade_job(seed).job(),
                    optimum: None,
                })
                .collect()),
        }
    }
}

fn of_classes(classes: &[Class], count: Option<usize>) -> Vec<Subject> {
    let of_class = |class: &Class| -> Vec<Subject> {
        let chosen = sample(&class.instances, count).into_iter();
        let subject = |instance: &lengthwise_tests::generate::Instance| Subject {
            class: class.name.clone(),
            name: instance.name.clone(),
            job: instance.job(),
            optimum: instance.optimum,
        };
        chosen.map(subject).collect()
    };
    classes.iter().flat_map(of_class).collect()
}

/// Compares; `Ok(false)` where an answer of either side is wrong or ours is dearer.
pub fn run(arguments: &Arguments) -> Result<bool, String> {
    let (begun, limit) = (Instant::now(), arguments.limit);
    let limits = by_the_clock(limit)?;
    let settings = &arguments.rival.settings;
    let subjects = arguments.jobs.subjects()?;
    let csv = arguments.csv.as_deref();
    let mut csv = csv
        .map(|path| Lines::create(path, &columns(settings)))
        .transpose()?;
    println!("every plan rechecked; at most {limit} s each, unproven counted as that\n");
    let mut all: Vec<Compared> = Vec::new();
    for subject in &subjects {
        let spent = begun.elapsed().as_secs_f64();
        if arguments.stop_after.is_some_and(|most| spent > most) {
            println!("stopped after {} of {} jobs", all.len(), subjects.len());
            break;
        }
        let compared = Compared::of(subject, &limits, limit, &arguments.rival)?;
        if let Some(csv) = &mut csv {
            csv.write(&compared.row())?;
        }
        all.push(compared);
    }
    print_table(&all, settings);
    Ok(print_wrong(&all))
}

/// One job solved by both sides.
struct Compared {
    class: String,
    ours: Judged,
    theirs: Vec<Answer>,
    /// Seconds as they count: the limit where nothing was proven.
    our_seconds: f64,
    their_seconds: Vec<f64>,
    dearer: bool,
    wrong: Vec<String>,
}

/// What somebody says of a job.
struct Claim {
    who: String,
    value: Option<Decimal>,
    bound: Option<Decimal>,
}

impl Compared {
    fn of(
        subject: &Subject,
        limits: &Limits<'_>,
        limit: f64,
        rival: &Rival,
    ) -> Result<Compared, String> {
        let model = Model::of(&subject.job)
            .ok_or_else(|| format!("{}: not a job for the model", subject.name))?;
        let ours = Judged::of(subject.name.clone(), &subject.job, limits);
        let theirs = rival.solve(&model, limit)?;
        let mut wrong: Vec<String> = ours.wrong.iter().cloned().collect();
        let mut claims = vec![Claim {
            who: "ours".to_owned(),
            value: ours.value,
            bound: ours.bound,
        }];
        claims.extend(subject.optimum.map(|optimum| Claim {
            who: "the file".to_owned(),
            value: Some(optimum.into()),
            bound: Some(optimum.into()),
        }));
        let mut dearer = false;
        for answer in &theirs {
            let who = format!("HiGHS ({})", answer.setting);
            match answer.value(&model) {
                Ok(value) => {
                    dearer |= value.is_some_and(|value| ours.value.is_none_or(|v| v > value));
                    let bound = answer.bound(value);
                    claims.push(Claim { who, value, bound });
                }
                Err(why) => wrong.push(format!("{who}: {why}")),
            }
        }
        wrong.extend(contradictions(&claims));
        let counted = |proven: bool, seconds: f64| if proven { seconds.min(limit) } else { limit };
        Ok(Compared {
            class: subject.class.clone(),
            our_seconds: counted(ours.is_sound(), ours.seconds),
            their_seconds: theirs
                .iter()
                .map(|answer| counted(answer.proven(), answer.seconds))
                .collect(),
            ours,
            theirs,
            dearer,
            wrong,
        })
    }

    /// How many times longer each setting took.
    fn ratio(&self, setting: usize) -> f64 {
        let seconds = self.their_seconds.get(setting).copied();
        seconds.unwrap_or(0.0) / self.our_seconds.max(SHORTEST)
    }

    /// The seconds of the faster setting.
    fn faster(&self) -> f64 {
        self.their_seconds
            .iter()
            .copied()
            .fold(f64::INFINITY, f64::min)
    }

    /// How many times longer the faster setting took.
    fn least_ratio(&self) -> f64 {
        self.faster() / self.our_seconds.max(SHORTEST)
    }

    fn row(&self) -> String {
        let ours = &self.ours;
        let money = |money: Option<Decimal>| money.map(|money| money.to_string());
        let mut row = format!(
            "{},{},{},{},{},{:.6}",
            self.class,
            ours.name,
            money(ours.value).unwrap_or_default(),
            money(ours.bound).unwrap_or_default(),
            ours.proven,
            ours.seconds
        );
        for (setting, answer) in self.theirs.iter().enumerate() {
            let arcs = answer.arcs.map(|arcs| arcs.to_string());
            let build = answer.build.map(|seconds| format!("{seconds:.4}"));
            row += &format!(
                ",{},{},{},{:.4},{},{:.2}",
                answer.status,
                answer.said(),
                arcs.unwrap_or_default(),
                answer.seconds,
                build.unwrap_or_default(),
                self.ratio(setting)
            );
        }
        row + &format!(
            ",{:.2},{},{}",
            self.least_ratio(),
            self.dearer,
            !self.wrong.is_empty()
        )
    }
}

/// Seconds below which the clock says nothing.
const SHORTEST: f64 = 1e-6;
/// Jobs on which the faster setting takes longer are looked at apart.
const SLOW: f64 = 1.0;

/// The head of [`Compared::row`].
fn columns(settings: &[String]) -> String {
    let mut columns = "class,job,value,bound,proven,seconds".to_owned();
    for setting in settings {
        for column in ["status", "pence", "arcs", "seconds", "build", "ratio"] {
            columns += &format!(",{setting}_{column}");
        }
    }
    columns + ",least_ratio,dearer,wrong"
}

/// Where one says that nothing is below what another's plan comes to.
fn contradictions(claims: &[Claim]) -> Vec<String> {
    let mut found = Vec::new();
    for Claim { who, bound, .. } in claims {
        for other in claims {
            if let (Some(bound), Some(value)) = (bound, other.value)
                && *bound > value
            {
                found.push(format!(
                    "{who}: nothing below {bound}, but {} comes to {value}",
                    other.who
                ));
            }
        }
    }
    found
}

/// A row for each class and one for all, for each: ours, each setting, and the jobs where even the
/// faster setting is slow.
fn print_table(all: &[Compared], settings: &[String]) {
    print!("{:<14} {:>9} {:>9}", "class", "proven", "median s");
    for setting in settings {
        print!(" | {setting:>9} {:>9} {:>9}", "median s", "ratio");
    }
    println!(
        " | {:>9} | {:>6} {:>9} {:>9}",
        "least", "slow", "ratio", "lowest"
    );
    for class in all.chunk_by(|a, b| a.class == b.class) {
        let name = class.first().map_or("", |first| &first.class);
        print_row(name, class, settings.len());
    }
    print_row("total", all, settings.len());
    println!(
        "\nratios are medians of the ratios job by job; least: to the faster setting; slow: jobs on \
         which\nthat one takes over {SLOW} s, with their median and lowest ratio"
    );
}

fn print_row(name: &str, some: &[Compared], settings: usize) {
    let middle = |what: &dyn Fn(&Compared) -> f64| {
        let figures: Vec<f64> = some.iter().map(what).collect();
        median(&figures)
    };
    let of_all = |count: usize| format!("{count}/{}", some.len());
    print!(
        "{name:<14} {:>9} {:>9.4}",
        of_all(some.iter().filter(|one| one.ours.is_sound()).count()),
        middle(&|one| one.our_seconds)
    );
    for setting in 0..settings {
        let proven = |one: &&Compared| one.theirs.get(setting).is_some_and(Answer::proven);
        print!(
            " | {:>9} {:>9.4} {:>9.1}",
            of_all(some.iter().filter(proven).count()),
            middle(&|one| one.their_seconds.get(setting).copied().unwrap_or(0.0)),
            middle(&|one| one.ratio(setting))
        );
    }
    let slow = some.iter().filter(|one| one.faster() > SLOW);
    let slow: Vec<f64> = slow.map(Compared::least_ratio).collect();
    print!(
        " | {:>9.1} | {:>6}",
        middle(&Compared::least_ratio),
        slow.len()
    );
    if slow.is_empty() {
        println!(" {:>9} {:>9}", "-", "-");
    } else {
        let lowest = slow.iter().copied().fold(f64::INFINITY, f64::min);
        println!(" {:>9.1} {lowest:>9.1}", median(&slow));
    }
}

/// What is wrong, by name; whether nothing is.
fn print_wrong(all: &[Compared]) -> bool {
    let dearer = all.iter().filter(|one| one.dearer).count();
    println!("\ndearer here: {dearer}");
    for one in all {
        if one.dearer {
            println!("  {}", one.ours.line());
        }
        for wrong in &one.wrong {
            println!("WRONG {}: {wrong}", one.ours.name);
        }
    }
    dearer == 0 && all.iter().all(|one| one.wrong.is_empty())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn claims_are_held_against_each_other() {
        let claim = |who: &str, value: Option<u64>, bound: Option<u64>| Claim {
            who: who.to_owned(),
            value: value.map(Decimal::from),
            bound: bound.map(Decimal::from),
        };
        let ours = || claim("ours", Some(7), Some(7));
        let agree = [ours(), claim("theirs", Some(8), Some(6))];
        assert!(contradictions(&agree).is_empty());
        assert!(contradictions(&[ours(), claim("theirs", None, None)]).is_empty());
        // A cheaper plan, a higher bound, both optimal at different costs, nonsense by itself.
        for other in [
            claim("theirs", Some(6), Some(5)),
            claim("theirs", None, Some(8)),
            claim("theirs", Some(8), Some(8)),
            claim("theirs", Some(6), Some(7)),
        ] {
            assert!(!contradictions(&[ours(), other]).is_empty());
        }
    }
}
