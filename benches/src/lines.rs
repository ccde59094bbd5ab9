//! A text file written line by line, its name in every message.

use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

/// A file being written.
pub struct Lines {
    path: PathBuf,
    file: BufWriter<File>,
}

impl Lines {
    /// Starts a file with this line.
    pub fn create(path: &Path, head: &str) -> Result<Lines, String> {
        let file = File::create(path).map_err(|why| format!("{}: {why}", path.display()))?;
        let mut lines = Lines {
            path: path.to_owned(),
            file: BufWriter::new(file),
        };
        lines.write(head)?;
        Ok(lines)
    }

    /// Writes one more; it is in the file when this returns, whatever happens to a long run.
    pub fn write(&mut self, line: &str) -> Result<(), String> {
        let written = writeln!(self.file, "{line}").and_then(|()| self.file.flush());
        written.map_err(|why| format!("{}: {why}", self.path.display()))
    }
}
