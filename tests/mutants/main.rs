//! Tries the mutants that `cargo mutants --list --json` names, all of them in one build.
//!
//! `mutants switch LIST TREE` writes all mutants of LIST into the copy of the sources in TREE, each behind a
//! number, and takes out those that do not compile. `mutants try TREE ARGS` builds what `cargo test ARGS`
//! would run and runs, for each mutant that is not caught yet, the tests that come by its place. `mutants left
//! TREE` names those that none caught, and counts the others.

mod switch;
mod tries;

use serde_json::Value;
use std::{collections::BTreeMap, env, fs, io, path::Path};

/// The state is kept beside the sources: the list, and for each mutant what became of it.
const STATE: &str = "mutants.json";

fn main() -> io::Result<()> {
    let args: Vec<String> = env::args().skip(1).collect();
    match args.iter().map(String::as_str).collect::<Vec<_>>()[..] {
        ["switch", list, tree] => {
            let mut mutants = read(Path::new(list))?;
            switch::switch(&mut mutants, Path::new(tree))?;
            save(&mutants, Path::new(tree))
        }
        ["try", tree, ref cargo_args @ ..] => {
            let tree = Path::new(tree);
            let mut mutants = read(&tree.join(STATE))?;
            tries::all(&mut mutants, tree, cargo_args)?;
            save(&mutants, tree)
        }
        ["left", tree] => {
            left(&read(&Path::new(tree).join(STATE))?);
            Ok(())
        }
        _ => Err(io::Error::other(
            "mutants switch LIST TREE, mutants try TREE [ARGS OF CARGO TEST], or mutants left TREE",
        )),
    }
}

fn left(mutants: &[Value]) {
    let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
    for mutant in mutants {
        let became = match (text(mutant, "/caught"), text(mutant, "/left_out")) {
            ("", "") => {
                println!("{}", text(mutant, "/name"));
                "not caught"
            }
            ("", why) if why.starts_with("place:") => "cannot be switched",
            ("", _) => "does not compile",
            (how, _) => how,
        };
        *counts.entry(became).or_default() += 1;
    }
    for (became, count) in counts {
        println!("{count:6} {became}");
    }
}

fn read(path: &Path) -> io::Result<Vec<Value>> {
    Ok(serde_json::from_str(&fs::read_to_string(path)?)?)
}

fn save(mutants: &[Value], tree: &Path) -> io::Result<()> {
    fs::write(tree.join(STATE), serde_json::to_string_pretty(mutants)?)
}

fn text<'a>(value: &'a Value, pointer: &str) -> &'a str {
    value.pointer(pointer).and_then(Value::as_str).unwrap_or("")
}

fn number(value: &Value, pointer: &str) -> usize {
    value.pointer(pointer).and_then(Value::as_u64).unwrap_or(0) as usize
}
