//! The `classes` command.

use std::path::PathBuf;

use clap::Args;

use crate::class_file::{read, sample};
use crate::judged::{COLUMNS, Judged};
use crate::lines::Lines;
use crate::phase::Phase;
use crate::run::{by_the_clock, median};

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
    known: usize,
    reached: usize,
    wrong: Vec<String>,
    unproven: Vec<String>,
    seconds: Vec<f64>,
    phases: Vec<Phase>,
    enumerated: u64,
    nodes: u64,
}

impl Tally {
    /// Counts one more.
    pub fn add(&mut self, judged: &Judged, optimum: Option<u64>) {
        self.seconds.push(judged.seconds);
        self.enumerated += judged.effort.enumerated;
        self.nodes += judged.effort.nodes;
        if let Some(optimum) = optimum {
            self.known += 1;
            self.reached += usize::from(judged.value == Some(optimum.into()));
        }
        if let Some(wrong) = &judged.wrong {
            self.wrong.push(format!("{}: {wrong}", judged.name));
        } else if let Some(phase) = judged.phase() {
            self.phases.push(phase);
        } else {
            self.unproven.push(judged.line());
        }
    }

    fn join(&mut self, other: Tally) {
        self.known += other.known;
        self.reached += other.reached;
        self.wrong.extend(other.wrong);
        self.unproven.extend(other.unproven);
        self.seconds.extend(other.seconds);
        self.phases.extend(other.phases);
        self.enumerated += other.enumerated;
        self.nodes += other.nodes;
    }

    /// One row of the table.
    pub fn print_row(&self, name: &str) {
        let of = |count: usize, all: usize| format!("{count}/{all}");
        print!(
            "{name:<14} {:>9} {:>9} {:>5} {:>8.4} {:>9.4} {:>8.2}",
            of(self.phases.len(), self.seconds.len()),
            of(self.reached, self.known),
            self.wrong.len(),
            median(&self.seconds),
            self.seconds.iter().copied().fold(0.0, f64::max),
            self.seconds.iter().sum::<f64>(),
        );
        for phase in Phase::ALL {
            let closed = self.phases.iter().filter(|closed| **closed == phase);
            print!(" {:>9}", closed.count());
        }
        println!(" {:>10} {:>8}", self.enumerated, self.nodes);
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
    print!(
        "{:<14} {:>9} {:>9} {:>5} {:>8} {:>9} {:>8}",
        "class", "proven", "reached", "wrong", "median s", "slowest s", "total s"
    );
    for phase in Phase::ALL {
        print!(" {:>9}", phase.word());
    }
    println!(" {:>10} {:>8}", "enumerated", "nodes");
}

/// Solves the classes; `Ok(false)` where an answer is wrong.
pub fn run(arguments: &Arguments) -> Result<bool, String> {
    let classes = read(&arguments.path, arguments.only.as_deref())?;
    let limits = by_the_clock(arguments.limit)?;
    let head = format!("class,optimum,phase,{COLUMNS}");
    let csv = arguments.csv.as_deref();
    let mut csv = csv.map(|path| Lines::create(path, &head)).transpose()?;
    println!(
        "every answer verified; at most {} s each\n",
        arguments.limit
    );
    print_heading();
    let mut total = Tally::default();
    for class in &classes {
        let mut tally = Tally::default();
        for instance in sample(&class.instances, arguments.sample) {
            let judged = Judged::of_instance(instance, &limits);
            if let Some(csv) = &mut csv {
                let optimum = instance.optimum.map(|best| best.to_string());
                let optimum = optimum.unwrap_or_default();
                let phase = judged.phase().map_or("open", Phase::word);
                csv.write(&format!(
                    "{},{optimum},{phase},{}",
                    class.name,
                    judged.row()
                ))?;
            }
            tally.add(&judged, instance.optimum);
        }
        tally.print_row(&class.name);
        total.join(tally);
    }
    total.print_row("total");
    total.print_names();
    Ok(total.is_right())
}
