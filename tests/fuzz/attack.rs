//! Drives the target that `ATTACK` names with libFuzzer. With `ATTACK_SEEDS` it writes what the target begins
//! with into that directory instead, a file for each input.
#![no_main]

use std::env::var;
use std::fs;
use std::path::PathBuf;
use std::process::exit;
use std::sync::OnceLock;

use program::attacks::{Target, target};

static TARGET: OnceLock<&Target> = OnceLock::new();

fn chosen() -> &'static Target {
    TARGET.get_or_init(|| target(&var("ATTACK").expect("ATTACK names a target")))
}

fn begin() {
    let Ok(folder) = var("ATTACK_SEEDS") else {
        return;
    };
    let folder = PathBuf::from(folder);
    fs::create_dir_all(&folder).expect("a directory");
    for (place, bytes) in (chosen().corpus)().into_iter().enumerate() {
        fs::write(folder.join(format!("seed-{place}")), bytes).expect("a file");
    }
    exit(0);
}

libfuzzer_sys::fuzz_target!(init: begin(), |bytes: &[u8]| (chosen().attack)(bytes));
