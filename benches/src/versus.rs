//! The `versus` command: the same instances here and with an arc-flow model in HiGHS.

use std::collections::BTreeMap;
use std::io::{BufRead, BufReader};
use std::path::PathBuf;
use std::process::{Command, Stdio};

use clap::Args;
use lengthwise_tests::generate::Instance;

use crate::class_file::{Class, read, sample};
use crate::judged::Judged;
use crate::run::{by_the_clock, median};

/// Options of `versus`.
#[derive(Args)]
pub struct Arguments {
    /// A directory of class files, or one of them.
    path: PathBuf,
    /// Seconds for each instance; what is not proven by then counts as so many.
    #[arg(long, default_value_t = 60.0)]
    limit: f64,
    /// One class.
    #[arg(long)]
    only: Option<String>,
    /// So many instances of each class, evenly spaced.
    #[arg(long, default_value_t = 5)]
    sample: usize,
    /// A Python that has the packages highspy and numpy.
    #[arg(long, default_value = "python3")]
    python: PathBuf,
    /// The script with the model.
    #[arg(long, default_value = "benches/highs/arcflow.py")]
    script: PathBuf,
    /// Models with more arcs are not tried and count as if they ran into the limit.
    #[arg(long, default_value_t = 10_000_000)]
    most_arcs: u64,
}

/// How one side did on a class.
#[derive(Default)]
struct Side {
    seconds: Vec<f64>,
    proven: usize,
    wrong: Vec<String>,
}

impl Side {
    fn add(&mut self, seconds: f64, proven: bool, limit: f64) {
        self.proven += usize::from(proven);
        self.seconds.push(if proven { seconds } else { limit });
    }
}

/// Compares; `Ok(false)` where an answer of either side is wrong.
pub fn run(arguments: &Arguments) -> Result<bool, String> {
    let classes = read(&arguments.path, arguments.only.as_deref())?;
    let ours = solve_here(&classes, arguments)?;
    let theirs = solve_there(&classes, arguments)?;
    println!(
        "every answer rechecked; at most {} s each, unproven counted as that\n",
        arguments.limit
    );
    println!(
        "{:<14} {:>9} {:>11} {:>9} {:>11} {:>9}",
        "class", "proven", "median s", "HiGHS", "median s", "ratio"
    );
    let mut right = true;
    for class in &classes {
        let (Some(ours), Some(theirs)) = (ours.get(&class.name), theirs.get(&class.name)) else {
            return Err(format!("{}: one side has no results", class.name));
        };
        let (here, there) = (median(&ours.seconds), median(&theirs.seconds));
        println!(
            "{:<14} {:>9} {here:>11.4} {:>9} {there:>11.4} {:>9.1}",
            class.name,
            format!("{}/{}", ours.proven, ours.seconds.len()),
            format!("{}/{}", theirs.proven, theirs.seconds.len()),
            there / here.max(1e-6),
        );
        for wrong in ours.wrong.iter().chain(&theirs.wrong) {
            println!("  WRONG {wrong}");
            right = false;
        }
    }
    Ok(right)
}

fn solve_here(classes: &[Class], arguments: &Arguments) -> Result<BTreeMap<String, Side>, String> {
    let limits = by_the_clock(arguments.limit)?;
    let mut sides = BTreeMap::new();
    for class in classes {
        let mut side = Side::default();
        for instance in sample(&class.instances, Some(arguments.sample)) {
            let judged = Judged::of_instance(instance, &limits);
            side.add(judged.seconds, judged.is_sound(), arguments.limit);
            let wrong = judged.wrong;
            let wrong = wrong.map(|wrong| format!("{}: {wrong}", judged.name));
            side.wrong.extend(wrong);
        }
        sides.insert(class.name.clone(), side);
    }
    Ok(sides)
}

fn solve_there(classes: &[Class], arguments: &Arguments) -> Result<BTreeMap<String, Side>, String> {
    let mut command = Command::new(&arguments.python);
    command.arg(&arguments.script).arg(&arguments.path);
    command.arg("--sample").arg(arguments.sample.to_string());
    command.arg("--limit").arg(arguments.limit.to_string());
    let most_arcs = arguments.most_arcs.to_string();
    command.arg("--most-arcs").arg(most_arcs);
    if let Some(only) = &arguments.only {
        command.arg("--only").arg(only);
    }
    let python = arguments.python.display();
    let mut child = command
        .stdout(Stdio::piped())
        .spawn()
        .map_err(|why| format!("{python}: {why}"))?;
    let output = child.stdout.take().ok_or("the script has no output")?;
    let mut sides: BTreeMap<String, Side> = BTreeMap::new();
    for line in BufReader::new(output).lines() {
        let line = line.map_err(|why| format!("{python}: {why}"))?;
        // The solver greets on the same stream; only lines with tabs are results.
        if line.contains('\t') {
            add_line(&line, classes, arguments.limit, &mut sides)
                .ok_or_else(|| format!("not a line of results: {line}"))?;
        }
    }
    let status = child.wait().map_err(|why| format!("{python}: {why}"))?;
    if status.success() {
        Ok(sides)
    } else {
        Err(format!("{python}: the script ended with {status}"))
    }
}

/// Reads one line of results; `None` where it is none.
fn add_line(
    line: &str,
    classes: &[Class],
    limit: f64,
    sides: &mut BTreeMap<String, Side>,
) -> Option<()> {
    let fields: Vec<&str> = line.split('\t').collect();
    let [
        class,
        name,
        seconds,
        _building,
        _arcs,
        status,
        bars,
        patterns,
    ] = fields.as_slice()
    else {
        return None;
    };
    let instance = classes
        .iter()
        .filter(|known| known.name == *class)
        .flat_map(|known| &known.instances)
        .find(|instance| instance.name == *name)?;
    let side = sides.entry((*class).to_owned()).or_default();
    let proven = *status == "optimal";
    side.add(seconds.parse().ok()?, proven, limit);
    if proven {
        let wrong = recheck(instance, bars.parse().ok()?, patterns);
        side.wrong
            .extend(wrong.map(|wrong| format!("HiGHS, {name}: {wrong}")));
    }
    Some(())
}

/// What is wrong with a plan written as `times:length,length|...`, if anything.
fn recheck(instance: &Instance, bars: u64, patterns: &str) -> Option<String> {
    let mut left: BTreeMap<u64, i64> = BTreeMap::new();
    for &(length, qty) in &instance.pieces {
        *left.entry(length).or_default() += i64::try_from(qty).ok()?;
    }
    let mut cut = 0;
    for pattern in patterns.split('|') {
        let Some((times, lengths)) = parse_pattern(pattern) else {
            return Some(format!("not a pattern: {pattern}"));
        };
        cut += times;
        if lengths.iter().sum::<u64>() > instance.bar {
            return Some(format!("too long: {pattern}"));
        }
        for length in lengths {
            *left.entry(length).or_default() -= i64::try_from(times).unwrap_or(0);
        }
    }
    if left.values().any(|left| *left > 0) {
        Some("pieces are missing".to_owned())
    } else if cut != bars {
        Some(format!("{bars} bars said, {cut} cut"))
    } else {
        instance
            .optimum
            .filter(|optimum| *optimum != bars)
            .map(|optimum| format!("{bars} bars called optimal, the optimum is {optimum}"))
    }
}

fn parse_pattern(pattern: &str) -> Option<(u64, Vec<u64>)> {
    let (times, lengths) = pattern.split_once(':')?;
    let lengths: Result<Vec<u64>, _> = lengths.split(',').map(str::parse).collect();
    Some((times.parse().ok()?, lengths.ok()?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn plans_of_the_other_side_are_rechecked() {
        let instance = Instance {
            name: String::new(),
            bar: 10,
            kerf: 0,
            pieces: vec![(6, 1), (4, 3)],
            optimum: Some(2),
        };
        assert_eq!(recheck(&instance, 2, "1:6,4|1:4,4"), None);
        for (bars, plan) in [
            (2, "2:6,4"),
            (2, "1:6,6|1:4,4"),
            (3, "1:6,4|1:4,4"),
            (3, "1:6,4|1:4|1:4"),
            (2, "-"),
        ] {
            assert!(recheck(&instance, bars, plan).is_some(), "{plan}");
        }
    }
}
