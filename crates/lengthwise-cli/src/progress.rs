//! A line on standard error while a solve takes its time, wiped when it is done.

use std::io::{IsTerminal, Write, stderr};
use std::time::{Duration, Instant};

use lengthwise::solve::Progress;

/// Solves that are faster than this show nothing.
const PATIENCE: Duration = Duration::from_secs(1);
/// Time between two lines; more often would only cost.
const BETWEEN: Duration = Duration::from_millis(200);
/// Columns of the line: one less than a page, so that no terminal wraps it.
const WIDTH: usize = 78;

/// The line and when it was last written.
#[derive(Debug)]
pub struct ProgressLine {
    wanted: bool,
    begun: Instant,
    last: Option<Instant>,
}

impl ProgressLine {
    /// A line that is shown only on a terminal.
    pub fn new() -> ProgressLine {
        ProgressLine {
            wanted: stderr().is_terminal(),
            begun: Instant::now(),
            last: None,
        }
    }

    /// Shows how far things are, if it is time to.
    pub fn show(&mut self, progress: &Progress<'_>) {
        let now = Instant::now();
        let early = now.duration_since(self.begun) < PATIENCE;
        let recent = self
            .last
            .is_some_and(|last| now.duration_since(last) < BETWEEN);
        if self.wanted && !early && !recent {
            self.last = Some(now);
            write(&line(progress, now.duration_since(self.begun).as_secs()));
        }
    }

    /// Wipes the line.
    pub fn done(self) {
        if self.last.is_some() {
            write("");
            let _ = write!(stderr(), "\r");
        }
    }
}

fn line(progress: &Progress<'_>, seconds: u64) -> String {
    let gap = progress
        .gap
        .map_or_else(String::new, |gap| format!(", within {:.2} %", gap * 100.0));
    let name = match progress.material {
        "" => String::new(),
        name => format!(": {name}"),
    };
    format!(
        "planning {} of {} after {seconds} s{gap}{name}",
        (progress.done + 1).min(progress.materials),
        progress.materials
    )
}

fn write(text: &str) {
    let shown: String = text.chars().take(WIDTH).collect();
    let mut out = stderr().lock();
    let _ = write!(out, "\r{shown:WIDTH$}");
    let _ = out.flush();
}
