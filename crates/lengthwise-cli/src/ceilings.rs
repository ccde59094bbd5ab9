//! How much may be asked for on the command line and in files, and how that is raised.

use lengthwise::job;
use lengthwise::{Ceiling, Fault, FaultKind, Origin};

use crate::read::cells::quoted;
use crate::settings::fault;

/// Largest file unless told otherwise: 64 MiB, some million rows. A larger one is no list of pieces, and
/// reading it could take all the memory there is.
const FILE: u64 = 64 * 1024 * 1024;
/// Largest plan.json unless told otherwise: 16 MiB, the plan of some 70 000 pieces.
const PLAN: u64 = 16 * 1024 * 1024;
/// Largest cell unless told otherwise: room for the places of a run with thousands of supports.
const FIELD: u64 = 64 * 1024;
/// The highest ceiling of a file, and of a field: 1 GiB.
const HIGHEST_FILE: u64 = 1 << 30;

/// Every ceiling there is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Ceilings {
    /// Of the job.
    pub job: job::Ceilings,
    /// Bytes of one file.
    pub file: u64,
    /// Bytes of a plan.json: what it says takes several times as much memory.
    pub plan: u64,
    /// Bytes of one cell.
    pub field: u64,
}

impl Default for Ceilings {
    fn default() -> Self {
        Ceilings {
            job: job::Ceilings::default(),
            file: FILE,
            plan: PLAN,
            field: FIELD,
        }
    }
}

/// What a job has ceilings for, and the files it is read from; a plan that is carried on, with what happened, as well.
pub const ALL: [Ceiling; 8] = [
    Ceiling::Rows,
    Ceiling::Pieces,
    Ceiling::Lengths,
    Ceiling::Joints,
    Ceiling::Bars,
    Ceiling::Courses,
    Ceiling::File,
    Ceiling::Field,
];

/// What a plan.json has ceilings for. Its rows are held back by its bytes.
pub const OF_PLAN: [Ceiling; 6] = [
    Ceiling::Pieces,
    Ceiling::Lengths,
    Ceiling::Joints,
    Ceiling::Bars,
    Ceiling::Courses,
    Ceiling::File,
];

/// Reads flags such as `rows=200000`, for one of these ceilings; a faulty one leaves the ceiling where it is.
pub fn ceilings(texts: &[String], among: &[Ceiling], faults: &mut Vec<Fault>) -> Ceilings {
    let mut ceilings = Ceilings::default();
    for text in texts {
        let read = text.split_once('=').and_then(|(name, count)| {
            let name = name.trim().to_lowercase();
            let ceiling = among.iter().find(|one| one.name() == name)?;
            Some((*ceiling, count.trim()))
        });
        let Some((ceiling, count)) = read else {
            let names: Vec<&str> = among.iter().map(|one| one.name()).collect();
            let first = names.first().copied().unwrap_or_default();
            let names = names.join(", ");
            let accepted = format!("a name and a count such as {first}=200000; here: {names}");
            faults.push(fault("--ceiling", quoted(text), accepted));
            continue;
        };
        let plain = count.bytes().all(|byte| byte.is_ascii_digit());
        let count = count.parse().ok().filter(|_| plain);
        let highest = highest(ceiling);
        match count.filter(|count| (1..=highest).contains(count)) {
            Some(count) => ceilings.set(ceiling, count),
            None => {
                let accepted = format!("a whole number from 1 to {highest} for {}", ceiling.name());
                faults.push(fault("--ceiling", quoted(text), accepted));
            }
        }
    }
    ceilings
}

fn highest(ceiling: Ceiling) -> u64 {
    let highest = job::Ceilings::HIGHEST;
    match ceiling {
        Ceiling::Rows => highest.rows,
        Ceiling::Pieces => highest.pieces,
        Ceiling::Lengths => highest.lengths,
        Ceiling::Joints => highest.joints,
        Ceiling::Bars => highest.bars,
        Ceiling::Courses => highest.courses,
        _ => HIGHEST_FILE,
    }
}

impl Ceilings {
    /// Of the job of a plan.json. Carrying on makes a row of every piece, so their bytes are what holds them
    /// back.
    pub fn of_plan(&self) -> job::Ceilings {
        self.job.rows(job::Ceilings::HIGHEST.rows)
    }

    fn set(&mut self, ceiling: Ceiling, count: u64) {
        match ceiling {
            Ceiling::Rows => self.job.rows = count,
            Ceiling::Pieces => self.job.pieces = count,
            Ceiling::Lengths => self.job.lengths = count,
            Ceiling::Joints => self.job.joints = count,
            Ceiling::Bars => self.job.bars = count,
            Ceiling::Courses => self.job.courses = count,
            Ceiling::File => (self.file, self.plan) = (count, count),
            Ceiling::Field => self.field = count,
            _ => {}
        }
    }
}

/// What is above a ceiling of files.
pub fn above(
    ceiling: Ceiling,
    origin: &Origin,
    column: Option<String>,
    found: &str,
    most: u64,
) -> Fault {
    Fault {
        kind: FaultKind::AboveCeiling(ceiling),
        origin: Some(origin.clone()),
        column,
        found: found.to_owned(),
        accepted: format!("at most {most}, the ceiling of {}", ceiling.name()),
    }
}

/// The fault as it is printed: with what raises a ceiling.
pub fn shown(fault: &Fault) -> String {
    match fault.kind {
        FaultKind::AboveCeiling(ceiling) => {
            format!("{fault}; --ceiling {}=COUNT raises it", ceiling.name())
        }
        _ => fault.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(texts: &[&str]) -> (Ceilings, usize) {
        let texts: Vec<String> = texts.iter().map(|&text| text.to_owned()).collect();
        let mut faults = Vec::new();
        (ceilings(&texts, &ALL, &mut faults), faults.len())
    }

    #[test]
    fn every_ceiling_can_be_raised_up_to_its_highest() {
        for ceiling in ALL {
            let flag = format!("{}={}", ceiling.name(), highest(ceiling));
            assert_eq!(read(&[&flag]).1, 0, "{flag}");
            assert_ne!(read(&[&flag]).0, Ceilings::default(), "{flag}");
            let flag = format!("{}={}", ceiling.name(), highest(ceiling) + 1);
            assert_eq!(read(&[&flag]), (Ceilings::default(), 1), "{flag}");
        }
        assert_eq!(read(&[" Rows = 5 ", "field=7"]).0.job.rows, 5);
    }

    #[test]
    fn what_is_no_ceiling() {
        for wrong in [
            "", "rows", "rows=", "rows=0", "rows=-1", "rows=1e3", "boards=5", "=5",
        ] {
            assert_eq!(read(&[wrong]), (Ceilings::default(), 1), "{wrong}");
        }
    }

    /// A ceiling that would hold nothing back is refused, with those that would.
    #[test]
    fn what_holds_nothing_back_is_no_ceiling() {
        let mut faults = Vec::new();
        let asked = ["rows=5".to_owned(), "pieces=5".to_owned()];
        let read = ceilings(&asked, &OF_PLAN, &mut faults);
        assert_eq!((read.job.pieces, faults.len()), (5, 1));
        assert_eq!(read.job.rows, job::Ceilings::default().rows);
        let accepted = &faults[0].accepted;
        assert!(
            accepted.ends_with("; here: pieces, lengths, joints, bars, courses, file"),
            "{accepted}"
        );
    }
}
