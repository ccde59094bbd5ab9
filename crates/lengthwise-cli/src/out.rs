//! The plan as files in a directory: written under temporary names, then renamed together.

pub mod tables;

use std::fs::{self, Permissions};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use lengthwise::carry_on::UnderWay;
use lengthwise::job::{Job, JobInput};
use lengthwise::plan::Plan;
use tempfile::{Builder, NamedTempFile, TempPath};

use crate::insurance::Cover;
use crate::json::StandAlone;
use crate::paper;

/// What is written, in this order.
const NAMES: [&str; 8] = [
    "plan.json",
    "buying-list.csv",
    "cutting-plan.csv",
    "offcuts.csv",
    "figures.csv",
    "cutting-sheet.html",
    "fixing-list.html",
    "plan.svg",
];

/// A directory that can be written to, with a temporary file open for each file of the plan.
#[derive(Debug)]
pub struct OutDir {
    files: Vec<(PathBuf, NamedTempFile)>,
}

impl OutDir {
    /// Makes the directory if need be and opens the temporary files, before any work is done.
    ///
    /// # Errors
    /// Whatever the file system refuses, with the path.
    pub fn open(dir: &str) -> io::Result<OutDir> {
        let dir = Path::new(dir);
        fs::create_dir_all(dir).map_err(|why| at(dir, &why))?;
        let mut files = Vec::with_capacity(NAMES.len());
        for name in NAMES {
            let target = dir.join(name);
            if target.is_dir() {
                return Err(at(&target, &io::Error::other("it is a directory")));
            }
            files.push((target, temporary(dir).map_err(|why| at(dir, &why))?));
        }
        Ok(OutDir { files })
    }

    /// Writes all files and puts them in place; if that fails half-way, the old ones come back.
    ///
    /// # Errors
    /// Whatever the file system refuses, with the path.
    pub fn write(self, input: &JobInput, job: &Job, plan: &Plan, cover: &Cover) -> io::Result<()> {
        let json = StandAlone::new(plan, input)?.with_mishaps(job, plan, cover);
        let json = json.sealed()?;
        self.write_with(input, job, plan, cover, json)
    }

    /// The same of a plan that was carried on.
    ///
    /// # Errors
    /// As [`OutDir::write`].
    pub fn write_carried(self, left: &UnderWay, job: &Job, plan: &Plan) -> io::Result<()> {
        let json = StandAlone::carried(plan, left)?;
        let cover = Cover::default();
        let json = json.with_mishaps(job, plan, &cover).sealed()?;
        self.write_with(&left.input, job, plan, &cover, json)
    }

    fn write_with(
        mut self,
        input: &JobInput,
        job: &Job,
        plan: &Plan,
        cover: &Cover,
        json: StandAlone<'_>,
    ) -> io::Result<()> {
        let mut json = Some(json);
        for ((target, file), name) in self.files.iter_mut().zip(NAMES) {
            // One after another: of a very large job all of them together would not fit into memory.
            let written = match name {
                "buying-list.csv" => {
                    tables::buying_list(job, plan).and_then(|it| file.write_all(&it))
                }
                "cutting-plan.csv" => {
                    tables::cutting_plan(job, plan).and_then(|it| file.write_all(&it))
                }
                "offcuts.csv" => {
                    tables::offcuts(input, job, plan).and_then(|it| file.write_all(&it))
                }
                "figures.csv" => tables::figures(job, plan).and_then(|it| file.write_all(&it)),
                "plan.json" => json
                    .take()
                    .map_or(Ok(()), |json| buffered(file, |out| stand_alone(&json, out))),
                "cutting-sheet.html" => {
                    buffered(file, |out| paper::cutting_sheet(job, plan, cover, out))
                }
                "fixing-list.html" => buffered(file, |out| paper::fixing_list(job, plan, out)),
                _ => buffered(file, |out| paper::picture(job, plan, out)),
            };
            written
                .and_then(|()| file.as_file().sync_all())
                .map_err(|why| at(target, &why))?;
        }
        self.put_in_place()
    }

    fn put_in_place(self) -> io::Result<()> {
        let mut old = Vec::with_capacity(self.files.len());
        for (target, _) in &self.files {
            old.push(kept_copy(target).map_err(|why| at(target, &why))?);
        }
        let mut replaced: Vec<(PathBuf, Option<TempPath>)> = Vec::new();
        for ((target, file), old) in self.files.into_iter().zip(old) {
            if let Err(why) = file.persist(&target) {
                put_back(replaced);
                return Err(at(&target, &why.error));
            }
            replaced.push((target, old));
        }
        Ok(())
    }
}

/// What the target holds now, under a temporary name; `None` if there is no such file.
fn kept_copy(target: &Path) -> io::Result<Option<TempPath>> {
    let Some(dir) = target.parent().filter(|_| target.exists()) else {
        return Ok(None);
    };
    let copy = temporary(dir)?.into_temp_path();
    fs::copy(target, &copy)?;
    Ok(Some(copy))
}

/// Undoes what was put in place; what cannot be undone is left as the new file, which is whole.
fn put_back(replaced: Vec<(PathBuf, Option<TempPath>)>) {
    for (target, old) in replaced {
        let _ = match old {
            Some(old) => old.persist(&target).map_err(|why| why.error),
            None => fs::remove_file(&target),
        };
    }
}

/// A temporary file beside the targets, so that a rename stays within one file system.
fn temporary(dir: &Path) -> io::Result<NamedTempFile> {
    let mut builder = Builder::new();
    builder.prefix(".lengthwise-").suffix(".part");
    if let Some(permissions) = usual_permissions() {
        builder.permissions(permissions);
    }
    let file = builder.tempfile_in(dir)?;
    crate::cancel::note_temporary(file.path());
    Ok(file)
}

/// Permissions as for any new file, which the user's mask narrows; a temporary file would
/// otherwise be readable by its owner only, and stay so after the rename.
#[cfg(unix)]
fn usual_permissions() -> Option<Permissions> {
    use std::os::unix::fs::PermissionsExt;
    Some(Permissions::from_mode(0o666))
}

#[cfg(not(unix))]
fn usual_permissions() -> Option<Permissions> {
    None
}

fn at(path: &Path, why: &io::Error) -> io::Error {
    io::Error::new(why.kind(), format!("{}: {why}", path.display()))
}

fn stand_alone(json: &StandAlone<'_>, out: &mut impl Write) -> io::Result<()> {
    serde_json::to_writer_pretty(&mut *out, json)?;
    out.write_all(b"\n")
}

fn buffered<'f>(
    file: &'f mut NamedTempFile,
    write: impl FnOnce(&mut BufWriter<&'f mut NamedTempFile>) -> io::Result<()>,
) -> io::Result<()> {
    let mut out = BufWriter::new(file);
    write(&mut out)?;
    out.flush()
}
