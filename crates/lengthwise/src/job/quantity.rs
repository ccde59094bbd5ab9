//! How many pieces: a number, or as many as a width takes.

use std::fmt;

#[cfg(feature = "serde")]
use serde::{Deserialize, Serialize};

use crate::length::{Length, Measure};

/// How many pieces a row stands for.
///
/// Along a width, places are counted from the end at which `length` was measured.
///
/// ```
/// use lengthwise::{Length, Unit, job::Quantity};
/// let mm = |text| Length::parse(text, Unit::Mm);
/// let boards = Quantity::Boards { width: mm("3100")?, cover: mm("140")?, gap: mm("0")? };
/// assert_eq!(boards.count(), 23);
/// assert_eq!(boards.to_string(), "3100mm/140mm");
/// # Ok::<(), lengthwise::LengthError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub enum Quantity {
    /// So many.
    Count(u64),
    /// Boards side by side, as many as it takes to fill a width; the last one is ripped to what is
    /// left. Where no more than a gap is left, it stays open.
    Boards {
        /// The width to fill, above zero.
        width: Measure,
        /// What one board covers, above zero.
        cover: Measure,
        /// What stays open between two boards.
        gap: Measure,
    },
    /// Members at places along a width: the first at 0, the last at its end.
    Members {
        /// The width, above zero.
        width: Measure,
        /// The distance from one to the next, above zero.
        spacing: Measure,
        /// Whether they are spread evenly, at most `spacing` apart; otherwise they stand `spacing`
        /// apart, and what is left is a short last bay.
        even: bool,
    },
}

impl Default for Quantity {
    fn default() -> Self {
        Quantity::Count(1)
    }
}

impl From<u64> for Quantity {
    fn from(count: u64) -> Self {
        Quantity::Count(count)
    }
}

/// Where a piece stands along a width, exactly: from and to, in nanometres times `scale`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Stand {
    pub from: i128,
    pub to: i128,
    pub scale: i128,
}

/// What becomes of the last board of a width.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum LastBoard {
    /// It is as wide as the others, and so much stays open beside it.
    Whole { open: Length },
    /// It is ripped to this width.
    Ripped { to: Length },
}

impl Quantity {
    /// How many pieces; 0 where a width is filled with boards of no width, which no checked job has.
    pub fn count(self) -> u64 {
        let count = match self {
            Quantity::Count(count) => return count,
            Quantity::Boards { width, cover, gap } => {
                // A board starts at every whole pitch before the end of the width.
                ceiling(nm(width), nm(cover) + nm(gap))
            }
            Quantity::Members { width, spacing, .. } => {
                ceiling(nm(width), nm(spacing)).map(|bays| bays + 1)
            }
        };
        u64::try_from(count.unwrap_or(0)).unwrap_or(u64::MAX)
    }

    /// The width that the pieces are counted from, where there is one.
    pub fn width(self) -> Option<Measure> {
        match self {
            Quantity::Count(_) => None,
            Quantity::Boards { width, .. } | Quantity::Members { width, .. } => Some(width),
        }
    }

    /// Every length in it, by the part it plays; only the gap may be zero.
    pub(super) fn above_zero(self) -> Vec<Measure> {
        match self {
            Quantity::Count(_) => vec![],
            Quantity::Boards { width, cover, .. } => vec![width, cover],
            Quantity::Members { width, spacing, .. } => vec![width, spacing],
        }
    }

    /// Where the piece in this place, counted from 0, stands along the width.
    pub(super) fn stand(self, place: u64) -> Option<Stand> {
        let place = i128::from(place);
        match self {
            Quantity::Count(_) => None,
            Quantity::Boards { width, cover, gap } => {
                let from = place * (nm(cover) + nm(gap));
                Some(Stand {
                    from,
                    to: (from + nm(cover)).min(nm(width)),
                    scale: 1,
                })
            }
            Quantity::Members {
                width,
                spacing,
                even,
            } => {
                let (at, scale) = if even {
                    (place * nm(width), ceiling(nm(width), nm(spacing))?)
                } else {
                    ((place * nm(spacing)).min(nm(width)), 1)
                };
                Some(Stand {
                    from: at,
                    to: at,
                    scale,
                })
            }
        }
    }

    /// What becomes of the last board; `None` for anything but boards.
    pub(super) fn last_board(self) -> Option<LastBoard> {
        let Quantity::Boards { width, cover, .. } = self else {
            return None;
        };
        let last = self.stand(self.count().checked_sub(1)?)?;
        let left = length(nm(width) - last.from)?;
        Some(match left.checked_sub(cover.length) {
            Some(open) => LastBoard::Whole { open },
            None => LastBoard::Ripped { to: left },
        })
    }
}

/// In the grammar of the column `qty`, every length with its unit.
impl fmt::Display for Quantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Quantity::Count(count) => write!(f, "{count}"),
            Quantity::Boards { width, cover, gap } => {
                write!(f, "{width}/{cover}")?;
                if gap.length.is_zero() {
                    Ok(())
                } else {
                    write!(f, "+{gap}")
                }
            }
            Quantity::Members {
                width,
                spacing,
                even,
            } => {
                let even = if *even { " even" } else { "" };
                write!(f, "{width}@{spacing}{even}")
            }
        }
    }
}

pub(super) fn nm(measure: Measure) -> i128 {
    i128::from(measure.length.nm())
}

pub(super) fn length(nm: i128) -> Option<Length> {
    i64::try_from(nm).ok().and_then(Length::from_nm)
}

/// `a / b` rounded up, for `a` of zero or more; `None` for a `b` of zero or less.
pub(super) fn ceiling(a: i128, b: i128) -> Option<i128> {
    (b > 0).then(|| a / b + i128::from(a % b > 0))
}
