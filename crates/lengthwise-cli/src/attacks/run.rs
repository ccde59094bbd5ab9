//! Drives every target with mutated inputs. `ATTACKS=100` in the environment runs a hundred times as many,
//! `ATTACKS_SEED` others, `ATTACKS_ONLY=qty` one target alone, `ATTACKS_SLOWEST=1` shows the slowest inputs.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::process::exit;
use std::sync::Mutex;
use std::sync::mpsc::{RecvTimeoutError, channel};
use std::thread;
use std::time::{Duration, Instant};

use fastrand::Rng;

use super::composed;
use super::mutate::mutated;
use super::{TARGETS, Target};

/// One execution may take so long: far more than the work limits allow, on a machine that is busy.
const LONGEST: Duration = Duration::from_secs(60);
/// How often the clock and the memory of a long execution are looked at.
const LOOKS: Duration = Duration::from_millis(100);
/// The whole process may take so much, in kibibytes: 1 GB.
const MOST_MEMORY: u64 = 1_000_000_000 / 1024;

fn number(name: &str, usual: u64) -> u64 {
    let set = std::env::var(name).ok();
    set.and_then(|text| text.parse().ok()).unwrap_or(usual)
}

/// Most memory that the process has had, in kibibytes; `None` where the system does not tell.
fn peak_memory() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status
        .lines()
        .find_map(|line| line.strip_prefix("VmHWM:"))?;
    line.trim().strip_suffix("kB")?.trim().parse().ok()
}

/// What comes next: for the whole path also jobs that are nobody's variant.
fn input(target: &str, corpus: &[Vec<u8>], rng: &mut Rng) -> Vec<u8> {
    match target {
        "whole_path" => match rng.u8(0..4) {
            0 => mutated(corpus, rng),
            1 => mutated(&[composed::job(rng)], rng),
            _ => composed::job(rng),
        },
        _ => mutated(corpus, rng),
    }
}

/// Runs a target; `Err` holds the first input that it does not bear.
fn drive(target: &Target) -> Result<String, String> {
    let runs = target.runs * number("ATTACKS", 1);
    let seed = number("ATTACKS_SEED", 1);
    let mut rng = Rng::with_seed(seed);
    let corpus = (target.corpus)();
    for bytes in &corpus {
        (target.attack)(bytes);
    }
    let begun = Instant::now();
    let mut slowest = (Duration::ZERO, Vec::new());
    // What runs now, so that a hang is told with its input.
    let running: Mutex<Vec<u8>> = Mutex::new(Vec::new());
    let (tell, told) = channel::<()>();
    let found = thread::scope(|scope| {
        scope.spawn(|| {
            let told = told;
            let mut since = Instant::now();
            let gives_up = |why: String| {
                let input = running.lock().unwrap();
                eprintln!("{}: {why}: {}", target.name, escaped(&input));
                exit(101);
            };
            loop {
                match told.recv_timeout(LOOKS) {
                    Ok(()) => since = Instant::now(),
                    Err(RecvTimeoutError::Disconnected) => return,
                    Err(RecvTimeoutError::Timeout) if since.elapsed() > LONGEST => {
                        gives_up(format!("no end after {LONGEST:?}"));
                    }
                    Err(RecvTimeoutError::Timeout) => {
                        // Before it takes the machine.
                        if let Some(memory) = peak_memory().filter(|&most| most > MOST_MEMORY) {
                            gives_up(format!("{memory} KiB"));
                        }
                    }
                }
            }
        });
        let mut found = None;
        for run in 0..runs {
            let bytes = input(target.name, &corpus, &mut rng);
            let started = Instant::now();
            running.lock().unwrap().clone_from(&bytes);
            let attack = AssertUnwindSafe(|| (target.attack)(&bytes));
            if catch_unwind(attack).is_err() {
                found = Some(format!(
                    "{}, run {run} of seed {seed}: {}",
                    target.name,
                    escaped(&bytes)
                ));
                break;
            }
            if started.elapsed() > slowest.0 {
                slowest = (started.elapsed(), bytes);
            }
            tell.send(()).unwrap();
        }
        drop(tell);
        found
    });
    let memory = peak_memory();
    assert!(
        memory.is_none_or(|most| most < MOST_MEMORY),
        "{memory:?} KiB"
    );
    let told = format!(
        "{}: {} inputs and {runs} runs in {:.1} s, the slowest {:.1} ms, peak {} MB",
        target.name,
        corpus.len(),
        begun.elapsed().as_secs_f64(),
        slowest.0.as_secs_f64() * 1000.0,
        memory.map_or("?".to_owned(), |most| (most * 1024 / 1_000_000).to_string())
    );
    if std::env::var_os("ATTACKS_SLOWEST").is_some() {
        println!("{}: {}", target.name, escaped(&slowest.1));
    }
    found.map_or(Ok(told), Err)
}

fn escaped(bytes: &[u8]) -> String {
    format!("b\"{}\"", bytes.escape_ascii())
}

/// Runs the target with this name, unless another one is asked for.
fn withstands(name: &str) {
    let only = std::env::var("ATTACKS_ONLY").ok();
    if only.is_some_and(|only| only != name) {
        return;
    }
    match drive(super::target(name)) {
        Ok(told) => println!("{told}"),
        Err(found) => panic!("{found}"),
    }
}

macro_rules! withstands {
    ($($name:ident)*) => {
        $(
            #[test]
            fn $name() {
                withstands(stringify!($name));
            }
        )*
        #[test]
        fn every_target_is_driven() {
            let driven = [$(stringify!($name)),*];
            assert_eq!(TARGETS.map(|target| target.name), driven);
        }
    };
}

withstands! {
    length price qty joints other_cells pieces_csv stock_csv in_hand_csv measured_csv notes plan_json ask
    whole_path
}
