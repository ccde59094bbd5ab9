//! Things a person should know that are no faults.

use std::fmt;

use crate::fault::Origin;
use crate::length::{Length, Unit};

/// Something to know before trusting a plan; nothing was changed silently.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Note {
    /// No squaring allowance is given for any bar of this material.
    AssumesSquareEnds {
        /// The material.
        material: String,
    },
    /// Stock longer than can be carried was left out.
    LongerThanCarried {
        /// The row.
        origin: Origin,
        /// The length of the bar.
        length: Length,
        /// The longest that can be carried.
        longest: Length,
        /// The unit to print in.
        unit: Unit,
    },
    /// The allowances at the ends leave nothing of this bar; it was left out.
    NothingLeftOfBar {
        /// The row.
        origin: Origin,
        /// The length of the bar.
        length: Length,
        /// The unit to print in.
        unit: Unit,
    },
    /// Stock or bars in hand of a material that no piece asks for.
    NotAskedFor {
        /// The first row of that material.
        origin: Origin,
        /// The material.
        material: String,
    },
    /// Bought bars get a squaring allowance, this bar in hand gets none.
    HandTakenAsSquare {
        /// The first such row.
        origin: Origin,
    },
    /// Metres on offer are not a whole number of bars.
    MetresCutToBars {
        /// The row.
        origin: Origin,
        /// Metres on offer.
        metres: u64,
        /// Whole bars that come out of them.
        bars: u64,
    },
}

impl fmt::Display for Note {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Note::AssumesSquareEnds { material } => {
                let whose = if material.is_empty() { "" } else { ": " };
                write!(
                    f,
                    "{material}{whose}assumes square, sound ends (no squaring allowance is given)"
                )
            }
            Note::LongerThanCarried {
                origin,
                length,
                longest,
                unit,
            } => write!(
                f,
                "{origin}: the {} bar is left out, longer than the {} that can be carried",
                length.text(*unit),
                longest.text(*unit)
            ),
            Note::NothingLeftOfBar {
                origin,
                length,
                unit,
            } => write!(
                f,
                "{origin}: the {} bar is left out, squaring its ends leaves nothing",
                length.text(*unit)
            ),
            Note::NotAskedFor { origin, material } => {
                write!(f, "{origin}: no piece asks for \"{material}\"; left out")
            }
            Note::HandTakenAsSquare { origin } => write!(
                f,
                "{origin}: bars in hand whose row gives no square_off are taken as square at both ends"
            ),
            Note::MetresCutToBars {
                origin,
                metres,
                bars,
            } => {
                write!(f, "{origin}: {metres} m on offer are {bars} whole bars")
            }
        }
    }
}
