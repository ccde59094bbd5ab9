//! Each mutant against the tests that come by its place, until one of them fails.

use crate::{number, save, text};
use serde_json::{Value, json};
use std::collections::HashSet;
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering::Relaxed};
use std::time::{Duration, Instant};
use std::{env, fs, io, thread};

/// Slower tests are left out, in seconds, unless `SLOWEST` says otherwise.
const SLOWEST: f64 = 5.0;
/// How long tests may take: so many times as long as they do, and some seconds.
const PATIENCE: (f64, f64) = (20.0, 3.0);
/// So many seconds of tests go into one process, before the rest of them.
const FIRST: f64 = 0.3;
/// A mutant must not take all memory, in KiB.
const MEMORY: &str = "ulimit -v 6000000; exec \"$@\"";
const THREADS: usize = 2;

struct Test {
    program: usize,
    name: String,
    seconds: f64,
    came_by: HashSet<usize>,
}

/// A program of tests, and the folder in which it is run.
struct Program {
    path: PathBuf,
    folder: PathBuf,
}

pub fn all(mutants: &mut [Value], tree: &Path, cargo_args: &[&str]) -> io::Result<()> {
    let programs = programs(tree, cargo_args)?;
    let tests = tests(&programs)?;
    let left: Vec<usize> = (0..mutants.len())
        .filter(|&index| {
            mutants[index].get("left_out").is_none() && mutants[index].get("caught").is_none()
        })
        .collect();
    eprintln!("{} tests, {} mutants", tests.len(), left.len());
    let done = AtomicUsize::new(0);
    let mutants = Mutex::new(mutants);
    in_parallel(&left, |&index| {
        let (id, place) = mutants.lock().map_or((0, 0), |mutants| {
            (
                number(&mutants[index], "/id"),
                number(&mutants[index], "/place"),
            )
        });
        let near: Vec<&Test> = tests
            .iter()
            .filter(|test| test.came_by.contains(&place))
            .collect();
        let caught = caught(id, &near, &programs);
        let done = done.fetch_add(1, Relaxed) + 1;
        if let Ok(mut mutants) = mutants.lock() {
            mutants[index]["came_by"] = json!(number(&mutants[index], "/came_by") + near.len());
            if let Some(how) = caught {
                mutants[index]["caught"] = json!(how);
            }
            if done.is_multiple_of(100) {
                eprintln!("{done} of {}", left.len());
                let _ = save(&mutants, tree);
            }
        }
    });
    Ok(())
}

/// How the tests notice, if they do.
fn caught(id: usize, near: &[&Test], programs: &[Program]) -> Option<String> {
    let mut rest = near;
    while let Some(first) = rest.first() {
        let (mut count, mut seconds) = (0, 0.0);
        for test in rest.iter().take_while(|test| test.program == first.program) {
            if count > 0 && seconds + test.seconds > FIRST && seconds < FIRST {
                break;
            }
            count += 1;
            seconds += test.seconds;
        }
        let names: Vec<&str> = rest[..count]
            .iter()
            .map(|test| test.name.as_str())
            .collect();
        let program = &programs[first.program];
        let mut command = command(program, &names);
        let run = run(
            command.env("MUTANT", id.to_string()),
            seconds * PATIENCE.0 + PATIENCE.1,
        );
        let name = program
            .path
            .file_name()
            .unwrap_or_default()
            .to_string_lossy();
        let name = name.rsplit_once('-').map_or(&*name, |(name, _)| name);
        match run {
            Run::Passed => rest = &rest[count..],
            Run::Failed => return Some(format!("failed {name}")),
            Run::TooLong => return Some(format!("timeout {name}")),
        }
    }
    None
}

/// Builds the programs of tests.
fn programs(tree: &Path, cargo_args: &[&str]) -> io::Result<Vec<Program>> {
    let args = ["test", "--no-run", "--message-format=json"];
    let mut cargo = Command::new("cargo");
    let out = cargo
        .args(args)
        .args(cargo_args)
        .current_dir(tree)
        .stderr(Stdio::inherit())
        .output()?;
    let mut programs = Vec::new();
    for line in String::from_utf8_lossy(&out.stdout).lines() {
        let Ok(message) = serde_json::from_str::<Value>(line) else {
            continue;
        };
        let path = PathBuf::from(text(&message, "/executable"));
        if message["profile"]["test"] == true && path.is_file() {
            let manifest = Path::new(text(&message, "/manifest_path"));
            let folder = manifest.parent().unwrap_or(tree).to_owned();
            programs.push(Program { path, folder });
        }
    }
    Ok(programs)
}

/// Every test of the programs that passes, with the places that it comes by; quick ones first.
fn tests(programs: &[Program]) -> io::Result<Vec<Test>> {
    let mut names = Vec::new();
    for (program, Program { path, folder }) in programs.iter().enumerate() {
        let list = ["--list", "--format", "terse"];
        let out = Command::new(path).args(list).current_dir(folder).output()?;
        for line in String::from_utf8_lossy(&out.stdout).lines() {
            names.extend(
                line.strip_suffix(": test")
                    .map(|name| (program, name.to_owned())),
            );
        }
    }
    let came_by = env::temp_dir().join("mutants-came-by");
    fs::create_dir_all(&came_by)?;
    let slowest = env::var("SLOWEST")
        .ok()
        .and_then(|text| text.parse().ok())
        .unwrap_or(SLOWEST);
    let tests = Mutex::new(Vec::new());
    in_parallel(&names, |(program, name)| {
        let file = came_by.join(format!("{program}-{}", name.replace(':', "-")));
        let _ = fs::remove_file(&file);
        let begun = Instant::now();
        let mut command = command(&programs[*program], &[name]);
        let run = run(command.env("MUTANTS_CAME_BY", &file), slowest);
        let seconds = begun.elapsed().as_secs_f64();
        if !matches!(run, Run::Passed) {
            eprintln!("left out, as it failed or took longer than {slowest} s: {name}");
            return;
        }
        let places = fs::read_to_string(&file).unwrap_or_default();
        let came_by = places
            .lines()
            .filter_map(|place| place.parse().ok())
            .collect();
        if let Ok(mut tests) = tests.lock() {
            tests.push(Test {
                program: *program,
                name: name.clone(),
                seconds,
                came_by,
            });
        }
    });
    let mut tests = tests.into_inner().unwrap_or_default();
    tests.sort_by(|a, b| {
        a.program
            .cmp(&b.program)
            .then(a.seconds.total_cmp(&b.seconds))
    });
    Ok(tests)
}

fn command(program: &Program, names: &[&str]) -> Command {
    let mut command = Command::new("sh");
    command
        .args(["-c", MEMORY, "sh"])
        .arg(&program.path)
        .args(["--test-threads=1", "--exact"]);
    command
        .args(names)
        .current_dir(&program.folder)
        .process_group(0);
    command
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null());
    // What fails is enough; a smaller case of it is of no use here.
    command.env("PROPTEST_MAX_SHRINK_ITERS", "0");
    command
}

enum Run {
    Passed,
    Failed,
    TooLong,
}

fn run(command: &mut Command, seconds: f64) -> Run {
    let Ok(mut child) = command.spawn() else {
        return Run::Failed;
    };
    let begun = Instant::now();
    loop {
        match child.try_wait() {
            Ok(Some(status)) if status.success() => return Run::Passed,
            Ok(None) if begun.elapsed().as_secs_f64() > seconds => {
                // The whole group: tests start programs of their own.
                let group = format!("-{}", child.id());
                let _ = Command::new("kill").args(["-KILL", "--", &group]).status();
                let _ = child.wait();
                return Run::TooLong;
            }
            Ok(None) => thread::sleep(Duration::from_millis(4)),
            _ => return Run::Failed,
        }
    }
}

fn in_parallel<T: Sync>(items: &[T], each: impl Fn(&T) + Sync) {
    let next = AtomicUsize::new(0);
    thread::scope(|scope| {
        for _ in 0..THREADS {
            scope.spawn(|| {
                while let Some(item) = items.get(next.fetch_add(1, Relaxed)) {
                    each(item);
                }
            });
        }
    });
}
