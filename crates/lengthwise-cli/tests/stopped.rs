//! Runs that are stopped half-way: by Ctrl-C, by a full disk, by a reader that leaves, by the system.
#![cfg(unix)]
#![allow(clippy::unwrap_used)]

mod common;

use std::collections::BTreeMap;
use std::fs::{self, File, Permissions};
use std::io::Read;
use std::os::unix::fs::{MetadataExt, PermissionsExt};
use std::os::unix::process::CommandExt;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

use common::{Run, Yard};
use serde_json::Value;

/// A program that was told to stop may take so long, on a machine that is busy.
const AT_ONCE: Duration = Duration::from_secs(5);

/// A job that takes far longer than any of these tests: many lengths, barely two to a bar.
fn hard() -> Yard {
    let pieces: String = (0..160_u32)
        .map(|row| {
            format!(
                "{},{}\n",
                700 + (row * row * 37 + row * 611) % 1900,
                3 + row % 5
            )
        })
        .collect();
    let yard = Yard::with_pieces(format!("length,qty\n{pieces}"));
    yard.file(
        "s.csv",
        "length,price\n2411,5.23\n3007,6.41\n3607,7.89\n4211,9.07\n4799,10.61\n",
    );
    yard
}

fn started(yard: &Yard, more: &[&str]) -> Child {
    let args = [&["plan", "p.csv", "--stock", "s.csv"], more].concat();
    let mut command = yard.command(&args);
    command.stdout(Stdio::piped()).stderr(Stdio::piped());
    command.spawn().unwrap()
}

fn signal(name: &str, child: &Child) {
    let id = child.id().to_string();
    let sent = Command::new("kill").args([name, &id]).status();
    assert!(sent.unwrap().success());
}

/// What is there under temporary names.
fn parts(dir: &Path) -> usize {
    let names = fs::read_dir(dir)
        .unwrap()
        .map(|entry| entry.unwrap().file_name());
    names
        .filter(|name| name.to_string_lossy().ends_with(".part"))
        .count()
}

#[test]
fn one_ctrl_c_gives_the_best_plan_so_far() {
    let yard = hard();
    let child = started(&yard, &["--json", "--out", "out"]);
    sleep(Duration::from_secs(2));
    signal("-INT", &child);
    let told = Instant::now();
    let run = Run::of(&child.wait_with_output().unwrap());
    let took = told.elapsed();
    assert!(took < AT_ONCE, "{took:?}");
    run.ended(0);
    let json: Value = serde_json::from_str(&run.out).unwrap();
    let material = &json["materials"][0];
    assert_eq!(material["proof"], "gap");
    assert!(
        material["why"]
            .as_str()
            .unwrap()
            .contains("stopped when it was told to")
    );
    assert!(
        run.err.contains("Stopping with the best plan so far"),
        "{}",
        run.err
    );
    let written: Value = serde_json::from_str(&yard.read("out/plan.json")).unwrap();
    assert_eq!(written["materials"][0]["cost"], material["cost"]);
    assert_eq!(parts(&yard.path().join("out")), 0);
    println!("stopped after {took:?}");
}

#[test]
fn a_second_ctrl_c_stops_at_once_and_leaves_nothing_behind() {
    let yard = hard();
    fs::create_dir(yard.path().join("out")).unwrap();
    yard.file("out/plan.json", "old");
    // A first one that comes before the search begins is kept in mind; so both are sent at once.
    let child = started(&yard, &["--out", "out"]);
    sleep(Duration::from_secs(2));
    signal("-INT", &child);
    signal("-INT", &child);
    let told = Instant::now();
    let run = Run::of(&child.wait_with_output().unwrap());
    assert!(told.elapsed() < AT_ONCE);
    // Signals that arrive together may count as one: then it is the plan so far.
    if run.code == Some(0) {
        println!("both signals counted as one");
        return;
    }
    run.ended(130);
    assert_eq!(run.out, "");
    assert_eq!(yard.read("out/plan.json"), "old");
    assert_eq!(parts(&yard.path().join("out")), 0);
}

#[test]
fn standard_output_on_a_full_disk_is_told() {
    if !Path::new("/dev/full").exists() {
        return;
    }
    let full = File::options().write(true).open("/dev/full").unwrap();
    let yard = Yard::new();
    let mut command = yard.command(&["plan", "p.csv", "--stock", "s.csv"]);
    let output = command.stdout(Stdio::from(full)).output().unwrap();
    let run = Run::of(&output);
    run.ended(3);
    assert!(
        run.err.contains("the result cannot be printed"),
        "{}",
        run.err
    );
}

/// A disk with room for some of the files stands for a full one: the shell lets no file grow beyond a
/// limit (POSIX, ulimit -f, in blocks of 512 bytes), and a write beyond it fails.
#[test]
fn a_disk_that_fills_up_keeps_the_old_files() {
    let yard = Yard::with_pieces("mark,length,qty\nF,2210,200\n");
    yard.file("s.csv", "length,price\n3000,5.90\n");
    let before = Yard::new();
    before.plan(&["--out", "out"]).ended(0);
    fs::create_dir(yard.path().join("out")).unwrap();
    for (name, text) in files(&before.path().join("out")) {
        yard.file(&format!("out/{name}"), text);
    }
    let program = env!("CARGO_BIN_EXE_lengthwise");
    let line =
        format!("trap '' XFSZ; ulimit -f 8; exec {program} plan p.csv --stock s.csv --out out");
    let mut command = Command::new("sh");
    command.current_dir(yard.path()).args(["-c", &line]);
    let run = Run::of(&command.output().unwrap());
    run.ended(3);
    assert!(run.err.contains("old ones are kept"), "{}", run.err);
    assert_eq!(
        files(&yard.path().join("out")),
        files(&before.path().join("out"))
    );
}

#[test]
fn a_directory_that_may_not_be_written_to_is_told_before_any_work() {
    let yard = hard();
    let out = yard.path().join("out");
    fs::create_dir(&out).unwrap();
    fs::set_permissions(&out, Permissions::from_mode(0o555)).unwrap();
    fs::set_permissions(yard.path(), Permissions::from_mode(0o755)).unwrap();
    let program = env!("CARGO_BIN_EXE_lengthwise");
    let mut command = yard.command(&["plan", "p.csv", "--stock", "s.csv", "--out", "out"]);
    // Nothing is closed to root: there the program runs as nobody, from a place that nobody may read.
    if fs::metadata("/proc/self").is_ok_and(|own| own.uid() == 0) {
        let copy = yard.path().join("lengthwise");
        // By another process: a test beside this one that starts a program meanwhile would inherit the open
        // file, and what is open for writing cannot be run.
        let copied = Command::new("cp").arg(program).arg(&copy).status();
        assert!(copied.unwrap().success());
        command = Command::new(copy);
        command.args(["plan", "p.csv", "--stock", "s.csv", "--out", "out"]);
        command.current_dir(yard.path()).uid(65_534).gid(65_534);
    }
    let begun = Instant::now();
    let run = Run::of(&command.output().unwrap());
    run.ended(3);
    assert!(begun.elapsed() < AT_ONCE);
    assert!(run.err.contains("so nothing was planned"), "{}", run.err);
    assert_eq!(fs::read_dir(&out).unwrap().count(), 0);
}

#[test]
fn a_reader_that_leaves_does_not_keep_the_files_from_being_written() {
    let yard = Yard::with_pieces("mark,length,qty\nF,2210,900\n");
    yard.file("s.csv", "length,price\n3000,5.90\n");
    let mut child = started(&yard, &["--json", "--out", "out"]);
    let mut pipe = child.stdout.take().unwrap();
    pipe.read_exact(&mut [0; 100]).unwrap();
    drop(pipe);
    let run = Run::of(&child.wait_with_output().unwrap());
    run.ended(0);
    serde_json::from_str::<Value>(&yard.read("out/plan.json")).unwrap();
}

fn files(dir: &Path) -> BTreeMap<String, Vec<u8>> {
    let entries = fs::read_dir(dir).unwrap().map(|entry| entry.unwrap());
    let all = entries.map(|entry| {
        let name = entry.file_name().to_string_lossy().into_owned();
        (name, fs::read(entry.path()).unwrap())
    });
    all.filter(|(name, _)| !name.ends_with(".part")).collect()
}

/// `KILLS=500` in the environment kills more often.
#[test]
fn files_of_a_program_that_is_killed_are_whole_or_old() {
    let kills = std::env::var("KILLS")
        .ok()
        .and_then(|text| text.parse().ok())
        .unwrap_or(25_u32);
    let yard = Yard::new();
    let rows = |from: u32| -> String {
        let rows = (0..30_u32).map(|row| format!("M{row},{},40\n", from + row * 41));
        format!("mark,length,qty\n{}", rows.collect::<String>())
    };
    yard.file("s.csv", "length,price\n3000,5.90\n4200,8.10\n");
    // Each job under its own work limit gives the same files to the byte.
    let mut all = Vec::new();
    for (name, from) in [("a.csv", 500), ("b.csv", 700)] {
        yard.file(name, rows(from));
        let own = format!("{name}.out");
        let args = [
            "plan",
            name,
            "--stock",
            "s.csv",
            "--work-limit",
            "1000000",
            "--out",
            &own,
        ];
        let begun = Instant::now();
        yard.run(&args).ended(0);
        all.push((
            name,
            files(&yard.path().join(format!("{name}.out"))),
            begun.elapsed(),
        ));
    }
    let out = yard.path().join("out");
    let (mut done, mut killed, mut new) = (0, 0, 0);
    for kill in 0..kills {
        let (name, _, took) = &all[kill as usize % 2];
        let args = [
            "plan",
            name,
            "--stock",
            "s.csv",
            "--work-limit",
            "1000000",
            "--out",
            "out",
        ];
        let mut command = yard.command(&args);
        command.stdout(Stdio::null()).stderr(Stdio::null());
        let mut child = command.spawn().unwrap();
        // Mostly about the time at which files are written.
        sleep(took.mul_f64(0.5 + f64::from(kill * 7 % 23) / 23.0));
        let _ = child.kill();
        match child.wait().unwrap().success() {
            true => done += 1,
            false => killed += 1,
        }
        for (name, bytes) in if out.exists() {
            files(&out)
        } else {
            BTreeMap::new()
        } {
            let is_whole = all
                .iter()
                .any(|(_, whole, _)| whole.get(&name) == Some(&bytes));
            assert!(
                is_whole,
                "{name} of {} bytes after {kill} kills",
                bytes.len()
            );
            new += 1;
        }
    }
    println!("{killed} killed, {done} done before, {new} whole files");
    assert!(killed > 0);
}
