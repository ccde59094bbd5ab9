//! The `ceilings` command: the program at each of its ceilings, one at a time.

mod inputs;

use std::env;
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::PathBuf;
use std::process::{Child, Command, ExitStatus, Stdio};
use std::thread;
use std::time::{Duration, Instant};

use clap::Args;

use crate::peak::{peak_kilobytes_of, peak_kilobytes_of_children};
use inputs::{Case, cases};

/// Options of `ceilings`.
#[derive(Args)]
pub struct Arguments {
    /// What the program is told as `--limit`, in seconds.
    #[arg(long, default_value_t = 10.0)]
    limit: f64,
    /// The program; that beside this one unless told otherwise.
    #[arg(long)]
    program: Option<PathBuf>,
    /// Ends a run that takes so many seconds in all.
    #[arg(long, default_value_t = 120.0)]
    stop_after: f64,
    /// Only cases whose name has this in it.
    #[arg(long)]
    only: Option<String>,
    /// This case alone, measured in this process and printed as one row.
    #[arg(long, hide = true)]
    case: Option<String>,
}

/// What no run may take: 1 GB, in units of 1,024 bytes.
const MOST_KILOBYTES: u64 = 976_562;
/// A run that takes so much is ended before it takes the memory of others.
const ENDED_AT_KILOBYTES: u64 = 4 * MOST_KILOBYTES;
/// So many seconds beyond its limit a run may take to read and to write.
const LATE: f64 = 10.0;
/// Between two looks at a run.
const PAUSE: Duration = Duration::from_millis(10);

/// Runs every case in a process of its own; `Ok(false)` where one takes too much.
pub fn run(arguments: &Arguments) -> Result<bool, String> {
    if let Some(name) = &arguments.case {
        let case = cases().into_iter().find(|case| case.name == name);
        return measure_here(&case.ok_or("no such case")?, arguments);
    }
    println!(
        "--limit {}; at most {MOST_KILOBYTES} kB, and {LATE} s beyond the limit\n",
        arguments.limit
    );
    println!(
        "{:<22} {:>4} {:>9} {:>10}  input",
        "case", "exit", "seconds", "peak kB"
    );
    let only = |case: &&Case| {
        let only = arguments.only.as_ref();
        only.is_none_or(|only| case.name.contains(only.as_str()))
    };
    let mut all_well = true;
    for case in cases().iter().filter(only) {
        all_well &= measure_apart(case, arguments)?;
    }
    Ok(all_well)
}

/// A process of its own, so that the memory of its only large child can be told.
fn measure_apart(case: &Case, arguments: &Arguments) -> Result<bool, String> {
    let this = env::current_exe().map_err(|why| format!("this program: {why}"))?;
    let mut command = Command::new(this);
    command.args(["ceilings", "--case", case.name]);
    command.args(["--limit", &arguments.limit.to_string()]);
    command.args(["--stop-after", &arguments.stop_after.to_string()]);
    if let Some(program) = &arguments.program {
        command.arg("--program").arg(program);
    }
    let output = command
        .output()
        .map_err(|why| format!("this program: {why}"))?;
    let text = String::from_utf8_lossy(&output.stdout);
    match (text.lines().nth(1), output.status.code()) {
        // The first line is the commit.
        (Some(row), Some(0 | 1)) => {
            println!("{row}");
            Ok(output.status.success())
        }
        _ => Err(format!(
            "{}: {text}{}",
            case.name,
            String::from_utf8_lossy(&output.stderr)
        )),
    }
}

fn measure_here(case: &Case, arguments: &Arguments) -> Result<bool, String> {
    let program = match &arguments.program {
        Some(program) => program.clone(),
        None => beside_this()?,
    };
    let folder = tempfile::tempdir().map_err(|why| format!("a folder for the input: {why}"))?;
    let said = |why: std::io::Error| format!("{}: {why}", case.name);
    for (name, write) in &case.files {
        let file = File::create(folder.path().join(name)).map_err(said)?;
        let mut file = BufWriter::new(file);
        write(&mut file).and_then(|()| file.flush()).map_err(said)?;
    }
    let told = |command: &[String]| {
        let mut told = Command::new(&program);
        told.args(command).current_dir(folder.path());
        told.stdout(Stdio::null());
        told
    };
    let seconds = arguments.limit.to_string();
    let limit = ["--limit", &seconds];
    if let Some(before) = &case.before {
        let mut command = told(before);
        command.args(limit);
        let status = command
            .stderr(Stdio::null())
            .status()
            .map_err(|why| format!("{}: {why}", program.display()))?;
        if !status.success() {
            return Err(format!("{before:?} ended with {status}"));
        }
    }
    let errors = folder.path().join("errors.txt");
    let mut command = told(&case.command);
    if case.takes_limit {
        command.args(limit);
    }
    command.stderr(File::create(&errors).map_err(said)?);
    let begun = Instant::now();
    let mut child = command
        .spawn()
        .map_err(|why| format!("{}: {why}", program.display()))?;
    let (status, seen) = watched(&mut child, begun, arguments.stop_after).map_err(said)?;
    let seconds = begun.elapsed().as_secs_f64();
    // What ran before is a child too: then what was seen on the way must do.
    let kilobytes = match case.before {
        None => peak_kilobytes_of_children().max(seen),
        Some(_) => seen,
    };
    let code = status.code();
    if code.is_some_and(|code| !case.codes.contains(&code)) {
        let errors = std::fs::read_to_string(&errors).unwrap_or_default();
        let first: Vec<&str> = errors.lines().take(3).collect();
        return Err(format!("exit code {code:?}: {}", first.join(" ")));
    }
    let is_late = seconds > arguments.limit + LATE;
    let is_large = kilobytes.is_some_and(|kilobytes| kilobytes > MOST_KILOBYTES);
    let is_well = code.is_some() && !is_late && !is_large;
    println!(
        "{:<22} {:>4} {seconds:>9.1} {:>10}  {}{}",
        case.name,
        code.map_or("-".to_owned(), |code| code.to_string()),
        kilobytes.map_or("-".to_owned(), |kilobytes| kilobytes.to_string()),
        case.input,
        if is_well { "" } else { "  TOO MUCH" }
    );
    Ok(is_well)
}

/// Waits for the program, and tells the largest resident size that was seen; one that takes too long or
/// too much is ended.
fn watched(
    child: &mut Child,
    begun: Instant,
    stop_after: f64,
) -> std::io::Result<(ExitStatus, Option<u64>)> {
    let mut seen = None;
    loop {
        if let Some(status) = child.try_wait()? {
            return Ok((status, seen));
        }
        seen = peak_kilobytes_of(&child.id().to_string()).max(seen);
        let is_large = seen.is_some_and(|seen| seen > ENDED_AT_KILOBYTES);
        if is_large || begun.elapsed().as_secs_f64() > stop_after {
            child.kill()?;
            return Ok((child.wait()?, seen));
        }
        thread::sleep(PAUSE);
    }
}

/// The program that was built with the same profile.
fn beside_this() -> Result<PathBuf, String> {
    let this = env::current_exe().map_err(|why| format!("this program: {why}"))?;
    let name = format!("lengthwise{}", env::consts::EXE_SUFFIX);
    let program = this.with_file_name(name);
    if program.exists() {
        Ok(program)
    } else {
        Err("the program is not built yet: cargo build --release".to_owned())
    }
}
