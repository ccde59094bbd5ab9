//! Runs the program as a process on files of its own.
#![allow(dead_code, clippy::unwrap_used, clippy::panic)]

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use tempfile::TempDir;

/// A job that has nothing wrong with it.
pub const PIECES: &str = "material,mark,length,qty,note\nroof batten,F,2210,7,\nsill,S,600,2,\n";
/// The stock for it.
pub const STOCK: &str = "material,length,price,sold,available,kerf,square_off,note\n\
                         roof batten,3000,5.90,,,,,\nsill,2400,8.40,each,,3,10,\n";

/// A directory with files, and the program run inside it.
pub struct Yard {
    dir: TempDir,
}

impl Yard {
    /// A yard with the faultless job in `p.csv` and `s.csv`.
    pub fn new() -> Yard {
        let yard = Yard {
            dir: tempfile::tempdir().unwrap(),
        };
        yard.file("p.csv", PIECES);
        yard.file("s.csv", STOCK);
        yard
    }

    /// A yard whose pieces are these.
    pub fn with_pieces(text: impl AsRef<[u8]>) -> Yard {
        let yard = Yard::new();
        yard.file("p.csv", text);
        yard
    }

    /// A yard whose pieces are 2210 without a material, and whose stock is this.
    pub fn with_stock(text: impl AsRef<[u8]>) -> Yard {
        let yard = Yard::new();
        yard.file("p.csv", "length\n2210\n");
        yard.file("s.csv", text);
        yard
    }

    pub fn path(&self) -> &Path {
        self.dir.path()
    }

    pub fn file(&self, name: &str, text: impl AsRef<[u8]>) -> PathBuf {
        let path = self.dir.path().join(name);
        fs::write(&path, text).unwrap();
        path
    }

    pub fn read(&self, name: &str) -> String {
        fs::read_to_string(self.dir.path().join(name)).unwrap()
    }

    pub fn command(&self, args: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_lengthwise"));
        command.current_dir(self.path()).args(args);
        command.env_remove("NO_COLOR").env_remove("CLICOLOR_FORCE");
        command
    }

    pub fn run(&self, args: &[&str]) -> Run {
        Run::of(&self.command(args).output().unwrap())
    }

    pub fn run_with_input(&self, args: &[&str], input: &str) -> Run {
        let mut child = self
            .command(args)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        child
            .stdin
            .take()
            .unwrap()
            .write_all(input.as_bytes())
            .unwrap();
        Run::of(&child.wait_with_output().unwrap())
    }

    /// Plans `p.csv` from `s.csv` with these flags more.
    pub fn plan(&self, more: &[&str]) -> Run {
        self.run(&[&["plan", "p.csv", "--stock", "s.csv"], more].concat())
    }
}

/// What came of a run.
#[derive(Debug)]
pub struct Run {
    pub code: Option<i32>,
    pub out: String,
    pub err: String,
}

impl Run {
    pub fn of(output: &Output) -> Run {
        Run {
            code: output.status.code(),
            out: String::from_utf8(output.stdout.clone()).unwrap(),
            err: String::from_utf8(output.stderr.clone()).unwrap(),
        }
    }

    /// Bad input: exit 2, nothing on standard output, and one line that holds all of `parts`.
    #[track_caller]
    pub fn is_fault(&self, parts: &[&str]) -> &Run {
        assert_eq!(self.code, Some(2), "{self:#?}");
        assert_eq!(self.out, "");
        let holds = |line: &str| parts.iter().all(|part| line.contains(part));
        assert!(
            self.err.lines().any(holds),
            "no line with {parts:?} in\n{}",
            self.err
        );
        self
    }

    /// How many faults were reported; the first line says it and every fault has its own.
    #[track_caller]
    pub fn has_faults(&self, count: usize) -> &Run {
        let lines = self.err.lines().filter(|line| line.contains("accepted:"));
        assert_eq!(lines.count(), count, "{}", self.err);
        assert!(
            self.err.starts_with(&format!("{count} fault")),
            "{}",
            self.err
        );
        self
    }

    #[track_caller]
    pub fn ended(&self, code: i32) -> &Run {
        assert_eq!(self.code, Some(code), "{self:#?}");
        self
    }
}
