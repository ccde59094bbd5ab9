//! The `scale` command: pieces and distinct lengths growing tenfold.

use std::env;
use std::path::PathBuf;
use std::process::Command;

use clap::Args;
use lengthwise_tests::big::big_job;

use crate::judged::Judged;
use crate::lines::Lines;
use crate::peak::peak_kilobytes;
use crate::plot::plot;
use crate::run::by_the_clock;

/// Options of `scale`.
#[derive(Args)]
pub struct Arguments {
    /// Seconds for each size.
    #[arg(long, default_value_t = 10.0)]
    limit: f64,
    /// Most pieces: 10, 100, ... up to this.
    #[arg(long, default_value_t = 100_000, value_parser = clap::value_parser!(u64).range(10..=1_000_000))]
    most: u64,
    /// Also write a row for each size to this file.
    #[arg(long)]
    csv: Option<PathBuf>,
    /// Also draw time, gap and memory over the pieces into this file (SVG).
    #[arg(long)]
    plot: Option<PathBuf>,
    /// This size alone, in this process, printed as one row: `lengths,pieces`.
    #[arg(long, hide = true, value_parser = parse_size)]
    only: Option<Size>,
}

/// How large a job is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Size {
    /// Distinct lengths.
    pub distinct: u64,
    /// Pieces, the same number of each length.
    pub pieces: u64,
}

/// What came of one size.
pub struct Measured {
    /// The size.
    pub size: Size,
    /// Seconds of planning.
    pub seconds: f64,
    /// How far the plan can be from the best, as a share; `None` without a plan.
    pub gap: Option<f64>,
    /// The largest resident size in kilobytes, where the system tells.
    pub kilobytes: Option<u64>,
}

/// Kinds of bar.
const KINDS: usize = 4;
/// How many distinct lengths.
const DISTINCT: [u64; 3] = [10, 100, 1000];

const COLUMNS: &str = "lengths,pieces,seconds,value,bound,gap,proven,trusted,peak_kb,questions,\
                       enumerated,nodes,pricing_rounds";

/// Measures every size in a process of its own; `Ok(false)` where a plan is refused or there is none.
pub fn run(arguments: &Arguments) -> Result<bool, String> {
    if let Some(size) = arguments.only {
        return measure_here(size, arguments.limit);
    }
    let csv = arguments.csv.as_deref();
    let mut csv = csv.map(|path| Lines::create(path, COLUMNS)).transpose()?;
    println!(
        "{} kinds of bar, at most {} s each, every plan verified\n",
        KINDS, arguments.limit
    );
    print_heading();
    let mut all = Vec::new();
    for size in sizes(arguments.most) {
        let row = measure_apart(size, arguments.limit)?;
        print_row(&row);
        if let Some(csv) = &mut csv {
            csv.write(&row)?;
        }
        all.push(read_row(&row).ok_or_else(|| format!("not a row: {row}"))?);
    }
    if let Some(path) = &arguments.plot {
        plot(&all, path)?;
    }
    Ok(all.iter().all(|measured| measured.gap.is_some()))
}

/// Tenfold from 10, with at least one piece of each length.
fn sizes(most: u64) -> Vec<Size> {
    let pieces = || std::iter::successors(Some(10_u64), |pieces| pieces.checked_mul(10));
    DISTINCT
        .iter()
        .flat_map(|&distinct| {
            pieces()
                .take_while(move |pieces| *pieces <= most)
                .filter(move |pieces| *pieces >= distinct)
                .map(move |pieces| Size { distinct, pieces })
        })
        .collect()
}

fn parse_size(text: &str) -> Result<Size, String> {
    let wrong = || format!("`{text}` is no size");
    let (distinct, pieces) = text.split_once(',').ok_or_else(wrong)?;
    Ok(Size {
        distinct: distinct.parse().map_err(|_| wrong())?,
        pieces: pieces.parse().map_err(|_| wrong())?,
    })
}

/// A process of its own: the largest resident size is that of a whole process.
fn measure_apart(size: Size, limit: f64) -> Result<String, String> {
    let this = env::current_exe().map_err(|why| format!("this program: {why}"))?;
    let output = Command::new(this)
        .arg("scale")
        .arg("--only")
        .arg(format!("{},{}", size.distinct, size.pieces))
        .arg("--limit")
        .arg(limit.to_string())
        .output()
        .map_err(|why| format!("this program: {why}"))?;
    let text = String::from_utf8_lossy(&output.stdout);
    if output.status.success() {
        // The first line is the commit.
        text.lines()
            .last()
            .map(str::to_owned)
            .ok_or_else(|| "no row".to_owned())
    } else {
        let why = String::from_utf8_lossy(&output.stderr);
        Err(format!("{size:?}: {text}{why}"))
    }
}

fn measure_here(size: Size, limit: f64) -> Result<bool, String> {
    let limits = by_the_clock(limit)?;
    let job = big_job(KINDS, size.distinct as usize, size.pieces / size.distinct);
    let judged = Judged::of(format!("{size:?}"), &job, &limits);
    if let Some(wrong) = &judged.wrong {
        println!("WRONG {wrong}");
        return Ok(false);
    }
    let text =
        |money: Option<rust_decimal::Decimal>| money.map_or(String::new(), |m| m.to_string());
    let gap = judged
        .gap()
        .map_or(String::new(), |gap| format!("{gap:.8}"));
    let peak = peak_kilobytes().map_or(String::new(), |peak| peak.to_string());
    println!(
        "{},{},{:.4},{},{},{gap},{},{},{peak},{},{},{},{}",
        size.distinct,
        size.pieces,
        judged.seconds,
        text(judged.value),
        text(judged.bound),
        judged.proven,
        judged.trusted,
        judged.effort.questions,
        judged.effort.enumerated,
        judged.effort.nodes,
        judged.effort.pricing_rounds,
    );
    Ok(judged.value.is_some())
}

fn read_row(row: &str) -> Option<Measured> {
    let mut fields = row.split(',');
    let distinct = fields.next()?.parse().ok()?;
    let pieces = fields.next()?.parse().ok()?;
    let seconds = fields.next()?.parse().ok()?;
    let gap = fields.nth(2)?.parse().ok();
    let kilobytes = fields.nth(2)?.parse().ok();
    Some(Measured {
        size: Size { distinct, pieces },
        seconds,
        gap,
        kilobytes,
    })
}

fn print_heading() {
    println!(
        "{:>7} {:>7} {:>9} {:>14} {:>14} {:>10} {:>7} {:>8} {:>9} {:>9} {:>10} {:>6} {:>7}",
        "lengths",
        "pieces",
        "seconds",
        "value",
        "bound",
        "gap",
        "proven",
        "on trust",
        "peak kB",
        "questions",
        "enumerated",
        "nodes",
        "rounds"
    );
}

fn print_row(row: &str) {
    let widths = [7, 7, 9, 14, 14, 10, 7, 8, 9, 9, 10, 6, 7];
    let fields: Vec<String> = row
        .split(',')
        .zip(widths)
        .map(|(field, width)| format!("{field:>width$}"))
        .collect();
    println!("{}", fields.join(" "));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_grow_tenfold() {
        let all = sizes(100_000);
        assert_eq!(all.len(), 5 + 4 + 3);
        assert!(all.iter().all(|size| size.pieces % size.distinct == 0));
        assert!(all.contains(&Size {
            distinct: 1000,
            pieces: 100_000
        }));
    }

    #[test]
    fn rows_are_read_back() {
        let row = "100,1000,1.5,99,98,0.01,false,false,4711,1,2,3,4";
        let Some(read) = read_row(row) else {
            unreachable!("{row}")
        };
        assert_eq!(
            read.size,
            Size {
                distinct: 100,
                pieces: 1000
            }
        );
        assert_eq!(
            (read.seconds, read.gap, read.kilobytes),
            (1.5, Some(0.01), Some(4711))
        );
        assert_eq!(COLUMNS.split(',').count(), row.split(',').count());
    }
}
