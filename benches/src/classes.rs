//! The `classes` command.

use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::PathBuf;

use clap::Args;
use lengthwise::Limits;
use lengthwise_tests::generate::Instance;

use crate::class_file::{read, sample};
use crate::run::{Run, by_the_clock, median, run as run_one};

/// Options of `classes`.
#[derive(Args)]
pub struct Arguments {
    /// A directory of class files, or one of them.
    path: PathBuf,
    /// Seconds for each instance.
    #[arg(long, default_value_t = 20.0)]
    limit: f64,
    /// One class: the name of its file without the ending.
    #[arg(long)]
    only: Option<String>,
    /// So many instances of each class, evenly spaced.
    #[arg(long)]
    sample: Option<usize>,
    /// Also write a row for each instance to this file.
    #[arg(long)]
    csv: Option<PathBuf>,
}

/// The results of one class, or of all.
#[derive(Default)]
pub struct Tally {
    all: usize,
    proven: usize,
    known: usize,
    reached: usize,
    wrong: Vec<String>,
    unproven: Vec<String>,
    seconds: Vec<f64>,
}

impl Tally {
    /// Counts one more.
    pub fn add(&mut self, instance: &Instance, run: &Run) {
        self.all += 1;
        self.seconds.push(run.seconds);
        if let Some(optimum) = instance.optimum {
            self.known += 1;
            self.reached += usize::from(run.bars == Some(optimum));
        }
        if let Some(wrong) = &run.wrong {
            self.wrong.push(format!("{}: {wrong}", instance.name));
        } else if run.proven {
            self.proven += 1;
        } else {
            let bars = run
                .bars
                .map_or("no plan".to_owned(), |bars| bars.to_string());
            let best = instance
                .optimum
                .map_or("?".to_owned(), |best| best.to_string());
            self.unproven
                .push(format!("{} ({bars}, optimum {best})", instance.name));
        }
    }

    fn join(&mut self, other: Tally) {
        self.all += other.all;
        self.proven += other.proven;
        self.known += other.known;
        self.reached += other.reached;
        self.wrong.extend(other.wrong);
        self.unproven.extend(other.unproven);
        self.seconds.extend(other.seconds);
    }

    /// One row of the table.
    pub fn print_row(&self, name: &str) {
        let of = |count: usize, all: usize| format!("{count}/{all}");
        println!(
            "{name:<18} {:>10} {:>10} {:>6} {:>10.4} {:>10.4}",
            of(self.proven, self.all),
            of(self.reached, self.known),
            self.wrong.len(),
            median(&self.seconds),
            self.seconds.iter().copied().fold(0.0, f64::max),
        );
    }

    /// What was not proven or is wrong, by name.
    pub fn print_names(&self) {
        for (what, names) in [("not proven", &self.unproven), ("WRONG", &self.wrong)] {
            if !names.is_empty() {
                println!("\n{what}:");
                names.iter().for_each(|name| println!("  {name}"));
            }
        }
    }

    /// Whether no answer is wrong.
    pub fn is_right(&self) -> bool {
        self.wrong.is_empty()
    }
}

/// The heading of the table.
pub fn print_heading() {
    println!(
        "{:<18} {:>10} {:>10} {:>6} {:>10} {:>10}",
        "class", "proven", "reached", "wrong", "median s", "slowest s"
    );
}

/// Solves the classes; `Ok(false)` where an answer is wrong.
pub fn run(arguments: &Arguments) -> Result<bool, String> {
    let classes = read(&arguments.path, arguments.only.as_deref())?;
    let limits = by_the_clock(arguments.limit)?;
    let mut csv = arguments.csv.as_ref().map(Rows::create).transpose()?;
    println!(
        "every answer verified; at most {} s each\n",
        arguments.limit
    );
    print_heading();
    let mut total = Tally::default();
    for class in &classes {
        let mut tally = Tally::default();
        for instance in sample(&class.instances, arguments.sample) {
            let run = solve_one(instance, &limits, &class.name, csv.as_mut())?;
            tally.add(instance, &run);
        }
        tally.print_row(&class.name);
        total.join(tally);
    }
    total.print_row("total");
    total.print_names();
    if let Some(csv) = csv {
        csv.finish()?;
    }
    Ok(total.is_right())
}

fn solve_one(
    instance: &Instance,
    limits: &Limits<'_>,
    class: &str,
    csv: Option<&mut Rows>,
) -> Result<Run, String> {
    let run = run_one(instance, limits);
    if let Some(csv) = csv {
        csv.write(class, instance, &run)?;
    }
    Ok(run)
}

/// The file with a row for each instance.
struct Rows {
    path: PathBuf,
    file: BufWriter<File>,
}

impl Rows {
    fn create(path: &PathBuf) -> Result<Rows, String> {
        let file = File::create(path).map_err(|why| format!("{}: {why}", path.display()))?;
        let mut rows = Rows {
            path: path.clone(),
            file: BufWriter::new(file),
        };
        rows.line("class,instance,optimum,bars,proven,wrong,seconds")?;
        Ok(rows)
    }

    fn write(&mut self, class: &str, instance: &Instance, run: &Run) -> Result<(), String> {
        let number = |count: Option<u64>| count.map(|count| count.to_string()).unwrap_or_default();
        self.line(&format!(
            "{class},{},{},{},{},{},{:.6}",
            instance.name,
            number(instance.optimum),
            number(run.bars),
            run.proven,
            run.wrong.is_some(),
            run.seconds
        ))
    }

    fn line(&mut self, line: &str) -> Result<(), String> {
        writeln!(self.file, "{line}").map_err(|why| format!("{}: {why}", self.path.display()))
    }

    fn finish(mut self) -> Result<(), String> {
        let flushed = self.file.flush();
        flushed.map_err(|why| format!("{}: {why}", self.path.display()))
    }
}
