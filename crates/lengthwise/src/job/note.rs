//! Things a person should know that are no faults.

use std::fmt;

#[cfg(feature = "serde")]
use serde::{Deserialize, Serialize};

use super::quantity::LastBoard;
use super::{Quantity, TemperatureRange};
use crate::fault::Origin;
use crate::length::{Length, Measure, Unit};
use crate::price::Price;

/// Something to know before trusting a plan; nothing was changed silently.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
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
    /// What a width in `qty` comes to, and what its last piece is left with.
    FromWidth {
        /// The row.
        origin: Origin,
        /// The width and what it is divided by.
        qty: Quantity,
    },
    /// The material grows with heat, and nobody says how far the temperature goes.
    MovementNotChecked {
        /// The material.
        material: String,
    },
    /// Movement was checked for heat alone.
    MovementOfHeatOnly,
    /// A piece moves more with heat than the gaps at its ends leave.
    MovesMoreThanItsGaps {
        /// The row.
        origin: Origin,
        /// The mark of its longest piece.
        mark: String,
        /// How long that is.
        length: Length,
        /// Both gaps together.
        gaps: Length,
        /// How far it moves.
        movement: Length,
        /// Over which range.
        range: TemperatureRange,
        /// The unit to print in.
        unit: Unit,
    },
    /// A part of a run can move more with heat than the gaps around it leave.
    PartsMoveMoreThanTheirGaps {
        /// The row.
        origin: Origin,
        /// The mark of its longest run.
        mark: String,
        /// No part of it is longer.
        part: Length,
        /// The gap at a joint, if that is less than a part moves.
        at_joints: Option<Length>,
        /// Both gaps at the ends together, if that is less.
        at_ends: Option<Length>,
        /// How far such a part moves.
        movement: Length,
        /// Over which range.
        range: TemperatureRange,
        /// The unit to print in.
        unit: Unit,
    },
    /// A price break is from more than can be had, and so are those after it.
    BreakOutOfReach {
        /// The row.
        origin: Origin,
        /// The count of the first such break.
        from: u64,
    },
    /// Delivery is charged for what is bought of a source; the cost of a plan leaves that out.
    DeliveryNotCounted {
        /// The first row that states it.
        origin: Origin,
        /// The charge.
        charge: Price,
    },
    /// Bars are of several batches, and no piece names its wall.
    BatchesWithoutWalls {
        /// The material.
        material: String,
    },
    /// Some bars name their batch, others none.
    NoBatchNamed {
        /// The material.
        material: String,
    },
    /// Doors and windows are not deducted from widths in `qty`.
    OpeningsNotDeducted {
        /// The first row with a width.
        origin: Origin,
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
            Note::FromWidth { origin, qty } => {
                write!(f, "{origin}: {}", from_width(*qty))
            }
            Note::MovementNotChecked { material } => {
                let whose = if material.is_empty() { "" } else { ": " };
                write!(
                    f,
                    "{material}{whose}expansion is given and no range of temperature, so no gap is \
                     compared with it"
                )
            }
            Note::MovementOfHeatOnly => f.write_str(
                "movement is worked out from heat alone; timber moves more with moisture, which is \
                 not covered",
            ),
            Note::MovesMoreThanItsGaps {
                origin,
                mark,
                length,
                gaps,
                movement,
                range,
                unit,
            } => write!(
                f,
                "{origin}: {mark} of {} moves {} over {range} K, and its end gaps leave {}; the \
                 maker's table goes first",
                length.text(*unit),
                up(*movement, *unit),
                gaps.text(*unit)
            ),
            Note::PartsMoveMoreThanTheirGaps {
                origin,
                mark,
                part,
                at_joints,
                at_ends,
                movement,
                range,
                unit,
            } => {
                let joints =
                    at_joints.map(|gap| format!("its joint gap leaves {}", gap.text(*unit)));
                let ends = at_ends.map(|gaps| format!("its end gaps leave {}", gaps.text(*unit)));
                let gaps: Vec<String> = joints.into_iter().chain(ends).collect();
                write!(
                    f,
                    "{origin}: a part of {mark}, up to {} long, moves {} over {range} K, and {}; the \
                     maker's table goes first",
                    part.text(*unit),
                    up(*movement, *unit),
                    gaps.join(", ")
                )
            }
            Note::BreakOutOfReach { origin, from } => write!(
                f,
                "{origin}: the price from {from} is out of reach, since there are not so many"
            ),
            Note::DeliveryNotCounted { origin, charge } => write!(
                f,
                "{}: delivery of {charge}, once for all that is bought there, is not in the cost",
                origin.source
            ),
            Note::BatchesWithoutWalls { material } => write!(
                f,
                "{} are of several batches and no piece names its wall, so nothing is kept to one \
                 batch",
                bars_of(material)
            ),
            Note::NoBatchNamed { material } => write!(
                f,
                "{} whose row names no batch are taken to be of one batch together",
                bars_of(material)
            ),
            Note::OpeningsNotDeducted { origin } => write!(
                f,
                "{origin}: doors and windows are not deducted from a width in qty, here or in any \
                 other row"
            ),
        }
    }
}

/// As a sentence begins.
fn bars_of(material: &str) -> String {
    if material.is_empty() {
        "Bars".to_owned()
    } else {
        format!("{material}: bars")
    }
}

/// A last board under this share of a board is hard to rip and looks it: common practice, no source.
const NARROW_SHARE: u64 = 3;
/// Figures that need not be exact are rounded to this: 0.1 mm, or 1/64 in.
const METRIC_GRAIN: i64 = 100_000;
const INCH_GRAIN: i64 = 396_875;

/// What a width comes to, in words.
fn from_width(qty: Quantity) -> String {
    let count = qty.count();
    match qty {
        Quantity::Count(count) => count.to_string(),
        Quantity::Boards { .. } => {
            let boards = if count == 1 { "board" } else { "boards" };
            let last = last_board(qty).unwrap_or_default();
            format!("{qty} is {count} {boards}{last}")
        }
        Quantity::Members {
            width,
            spacing,
            even,
        } => {
            let bays = count.saturating_sub(1).max(1);
            let (unit, width) = (width.unit, width.length.nm());
            let whole = spacing.length.checked_mul(bays.saturating_sub(1));
            let last = whole.and_then(|whole| Length::from_nm(width)?.checked_sub(whole));
            let how = match last.filter(|&last| last != spacing.length) {
                None => format!("{spacing} apart"),
                Some(_) if even => format!("{} apart", about(width, bays, unit)),
                Some(last) => format!("the last bay {}", last.text(unit)),
            };
            format!("{qty} is {count} members, {how}")
        }
    }
}

/// What becomes of the last board, with the ways out of a narrow rip.
fn last_board(qty: Quantity) -> Option<String> {
    let Quantity::Boards { width, cover, gap } = qty else {
        return None;
    };
    let unit = width.unit;
    let rip = match qty.last_board()? {
        LastBoard::Whole { open } if open.is_zero() => return None,
        LastBoard::Whole { open } => {
            return Some(format!(", {} left open beside the last", open.text(unit)));
        }
        LastBoard::Ripped { to } => to,
    };
    let ripped = format!(", the last ripped to {}", rip.text(unit));
    if rip.checked_mul(NARROW_SHARE)? >= cover.length {
        return Some(ripped);
    }
    let mut ways_out: Vec<String> = Vec::new();
    ways_out.extend(opened(qty.count(), width, cover, gap));
    ways_out.extend(two_ends(qty.count(), rip, cover));
    if ways_out.is_empty() {
        return Some(ripped);
    }
    let ways_out = ways_out.join(", or ");
    Some(format!(
        "{ripped}, under a third of a board; instead {ways_out}"
    ))
}

/// One board fewer, the others further apart.
fn opened(count: u64, width: Measure, cover: Measure, gap: Measure) -> Option<String> {
    let fewer = count.checked_sub(1)?;
    let (total, unit) = (width.length, width.unit);
    if gap.length.is_zero() {
        let each = (fewer > 0).then(|| about(total.nm(), fewer, unit))?;
        return Some(format!("{fewer} covering {each} each"));
    }
    let open = total.checked_sub(cover.length.checked_mul(fewer)?)?;
    let between = fewer.checked_sub(1).filter(|&between| between > 0)?;
    let each = about(open.nm(), between, unit);
    Some(format!("{fewer} with gaps of {each}"))
}

/// The rip and one whole board shared out between both ends.
fn two_ends(count: u64, rip: Length, cover: Measure) -> Option<String> {
    let both = rip.checked_add(cover.length)?;
    let each = about(both.nm(), 2, cover.unit);
    (count > 1).then(|| format!("{count} with both end boards ripped to {each}"))
}

/// Rounded up to a whole grain.
fn up(length: Length, unit: Unit) -> String {
    let grain = grain(unit);
    let rounded = length.nm().div_euclid(grain) + i64::from(length.nm() % grain > 0);
    let rounded = rounded.checked_mul(grain).and_then(Length::from_nm);
    rounded.unwrap_or(length).text(unit)
}

fn grain(unit: Unit) -> i64 {
    match unit {
        Unit::In | Unit::Ft => INCH_GRAIN,
        Unit::Mm | Unit::Cm | Unit::M => METRIC_GRAIN,
    }
}

/// `total / parts`, rounded and called so where it is not a whole number of grains.
fn about(total: i64, parts: u64, unit: Unit) -> String {
    let grain = grain(unit);
    let (total, step) = (i128::from(total), i128::from(parts) * i128::from(grain));
    let grains = (2 * total + step).checked_div(2 * step).unwrap_or(0);
    let rounded = i64::try_from(grains * i128::from(grain));
    let text = rounded.ok().and_then(Length::from_nm).unwrap_or_default();
    let about = if grains * step == total { "" } else { "about " };
    format!("{about}{}", text.text(unit))
}
