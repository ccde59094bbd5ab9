//! Ctrl-C: the first one stops the search with the best plan so far, the second one stops at once.

use std::path::{Path, PathBuf};
use std::process::exit;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, PoisonError};

use crate::report;

/// What a shell says of a program that Ctrl-C ended: 128 and the number of the signal.
const STOPPED_AT_ONCE: i32 = 130;

static FLAG: AtomicBool = AtomicBool::new(false);
static TEMPORARY: Mutex<Vec<PathBuf>> = Mutex::new(Vec::new());

/// Set once the search is to stop.
pub fn flag() -> &'static AtomicBool {
    &FLAG
}

/// Begins to listen. Where that cannot be, Ctrl-C ends the program as it would any other.
pub fn listen() {
    let _ = ctrlc::set_handler(|| {
        if FLAG.swap(true, Ordering::Relaxed) {
            remove_temporary();
            exit(STOPPED_AT_ONCE);
        }
        report::print_line("Stopping with the best plan so far; once more stops at once.");
    });
}

/// Keeps in mind a file that must not stay behind.
pub fn note_temporary(path: &Path) {
    let mut all = TEMPORARY.lock().unwrap_or_else(PoisonError::into_inner);
    all.push(path.to_owned());
}

/// A file that was put in place under another name is not there any more under this one.
fn remove_temporary() {
    for path in TEMPORARY
        .lock()
        .unwrap_or_else(PoisonError::into_inner)
        .iter()
    {
        let _ = std::fs::remove_file(path);
    }
}
