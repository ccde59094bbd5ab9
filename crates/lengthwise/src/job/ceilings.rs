//! How large a job may be: beyond it an error that says so, at once and whatever else is in the job.

#[cfg(feature = "serde")]
use serde::{Deserialize, Serialize};

use super::MOST_JOINT_PLACES;
use crate::fault::{Ceiling, Fault, FaultKind, Origin};

/// What a job may ask for. At any one of the defaults the memory of a whole run stays below 1 GB, whatever the
/// number of materials.
///
/// ```
/// use lengthwise::{JobInput, job::Ceilings};
/// let ceilings = Ceilings::default().rows(200_000);
/// assert_eq!(ceilings.rows, 200_000);
/// assert!(JobInput::default().validate_within(&ceilings).is_ok());
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(default, deny_unknown_fields))]
#[non_exhaustive]
pub struct Ceilings {
    /// Rows of one list: of pieces, of stock, of what is in hand.
    pub rows: u64,
    /// Pieces, spares among them, of all materials. Marks, notes and names of all copies together are at most a
    /// hundred times as many bytes.
    pub pieces: u64,
    /// Pieces of one material that differ in length or ends, or as runs in how they may be joined. Of all
    /// materials at most ten times as many, each run counted as ten.
    pub lengths: u64,
    /// Places for joints in one run; of a run that may be joined anywhere, the joints that it takes at the
    /// least. All runs of all materials may take at most ten times as many joints: `joints_max` of each copy, or
    /// else those that bars leave open. The parts that places allow, times `joints_max` or else the numbers of
    /// joints that bars leave open, are at most a thousand times this over all runs.
    pub joints: u64,
    /// Bars that can be bought or are in hand, of one material, each row once. Lengths times bars, summed over the
    /// materials, are at most the ceiling of lengths times this.
    pub bars: u64,
    /// Supports of all courses of all materials, each as often as its rule names courses.
    pub courses: u64,
}

impl Default for Ceilings {
    fn default() -> Self {
        Ceilings {
            rows: 100_000,
            pieces: 1_000_000,
            lengths: 10_000,
            joints: MOST_JOINT_PLACES,
            bars: 3_000,
            courses: 200_000,
        }
    }
}

impl Ceilings {
    /// The highest that they can be raised to. Sums of such a job are still exact; its memory and its time
    /// are whatever they are.
    pub const HIGHEST: Ceilings = Ceilings {
        rows: 10_000_000,
        pieces: super::MOST_PIECES,
        lengths: 1_000_000,
        joints: 100_000,
        bars: 10_000_000,
        courses: 10_000_000,
    };

    /// With another ceiling for rows.
    pub const fn rows(self, rows: u64) -> Ceilings {
        Ceilings { rows, ..self }
    }

    /// With another ceiling for pieces.
    pub const fn pieces(self, pieces: u64) -> Ceilings {
        Ceilings { pieces, ..self }
    }

    /// With another ceiling for distinct lengths.
    pub const fn lengths(self, lengths: u64) -> Ceilings {
        Ceilings { lengths, ..self }
    }

    /// With another ceiling for joints.
    pub const fn joints(self, joints: u64) -> Ceilings {
        Ceilings { joints, ..self }
    }

    /// With another ceiling for kinds of bar.
    pub const fn bars(self, bars: u64) -> Ceilings {
        Ceilings { bars, ..self }
    }

    /// With another ceiling for courses.
    pub const fn courses(self, courses: u64) -> Ceilings {
        Ceilings { courses, ..self }
    }

    /// None above [`Ceilings::HIGHEST`].
    pub(super) fn capped(self) -> Ceilings {
        let highest = Ceilings::HIGHEST;
        Ceilings {
            rows: self.rows.min(highest.rows),
            pieces: self.pieces.min(highest.pieces),
            lengths: self.lengths.min(highest.lengths),
            joints: self.joints.min(highest.joints),
            bars: self.bars.min(highest.bars),
            courses: self.courses.min(highest.courses),
        }
    }
}

/// What is above a ceiling.
pub(super) fn above(
    ceiling: Ceiling,
    origin: Option<&Origin>,
    column: Option<&str>,
    found: String,
    most: u64,
) -> Fault {
    Fault {
        kind: FaultKind::AboveCeiling(ceiling),
        origin: origin.cloned(),
        column: column.map(str::to_owned),
        found,
        accepted: format!("at most {most}, the ceiling of {}", ceiling.name()),
    }
}
