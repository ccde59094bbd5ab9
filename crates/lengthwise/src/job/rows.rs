//! Rows as they were written, and the settings of the saw.

#[cfg(feature = "serde")]
use serde::{Deserialize, Serialize};

use super::{
    CourseRule, DEFAULT_HOLD, DEFAULT_KERF, DEFAULT_SAVE_FROM, EndGap, Ends, Expansion, Joints,
    LaidCourse, PriceBreak, Quantity, TemperatureRange,
};
use crate::fault::Origin;
use crate::length::{Length, Measure};
use crate::price::Price;

/// A row of the list of pieces.
#[derive(Clone, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct PieceRow {
    /// Where the row came from.
    pub origin: Origin,
    /// The material; empty where only one material is in play.
    #[cfg_attr(feature = "serde", serde(default))]
    pub material: String,
    /// The name chalked on the piece; empty for a name made from the row's place.
    #[cfg_attr(feature = "serde", serde(default))]
    pub mark: String,
    /// The length of the opening to fill, above zero; of a raked set, the length at its first end.
    pub length: Measure,
    /// How many, 1 to [`LARGEST_QUANTITY`](super::LARGEST_QUANTITY), counted or from a width.
    #[cfg_attr(feature = "serde", serde(default))]
    pub qty: Quantity,
    /// Of a raked set, the length at its other end, above zero.
    pub to: Option<Measure>,
    /// The lengths of a raked set are rounded up to whole steps of this, above zero;
    /// [`DEFAULT_STEP`](super::DEFAULT_STEP) unless stated.
    pub step: Option<Length>,
    /// What is left open at the ends, taken off `length` and `to`.
    #[cfg_attr(feature = "serde", serde(default))]
    pub end_gap: EndGap,
    /// The angles of the ends; `length` is to the long points.
    #[cfg_attr(feature = "serde", serde(default))]
    pub ends: Ends,
    /// Spares beside these, up to [`LARGEST_QUANTITY`](super::LARGEST_QUANTITY): copies of the longest.
    #[cfg_attr(feature = "serde", serde(default))]
    pub spare: u64,
    /// Where the joints of a run may fall; `None` for a piece without joints, which then has none of
    /// the six that follow.
    pub joints: Option<Joints>,
    /// What stays open at a joint; nothing unless stated.
    pub joint_gap: Option<Length>,
    /// Any number of joints up to this, from 1 to [`LARGEST_RULE`](super::LARGEST_RULE); as few as
    /// the rules allow unless stated.
    pub joints_max: Option<u64>,
    /// The shortest part, above zero; what the stock says unless stated, else
    /// [`DEFAULT_SHORTEST`](super::DEFAULT_SHORTEST).
    pub shortest: Option<Length>,
    /// The courses that the run lies among; empty where it lies alone.
    #[cfg_attr(feature = "serde", serde(default))]
    pub course_group: String,
    /// Its course, from 1, beside a `course_group` only; of several pieces, that of the first, the
    /// others following.
    pub course: Option<u64>,
    /// What holds for the joints of the group, stated alike on all its rows that state it.
    pub course_rule: Option<CourseRule>,
    /// Left on the piece at its far end when it is cut, to be trimmed in place; nothing unless stated.
    /// Not on a run.
    pub leave_long: Option<Length>,
    /// Whether the pieces of this row are spares themselves, as in what is left of a job half-way.
    #[cfg_attr(feature = "serde", serde(default))]
    pub spares_only: bool,
    /// With `spares_only`: whether it is room for a whole bar that may turn out bad.
    #[cfg_attr(feature = "serde", serde(default))]
    pub for_bar: bool,
    /// Courses of the same group that are laid already: they are not cut again, but the rule of the
    /// group counts them. Any row of the group may state them.
    #[cfg_attr(feature = "serde", serde(default))]
    pub laid: Vec<LaidCourse>,
    /// Which stage of the work it belongs to, from 1 to [`LARGEST_STAGE`](super::LARGEST_STAGE): what
    /// is fixed first is cut first, and what is left of its bars serves the stages that follow.
    #[cfg_attr(feature = "serde", serde(default = "one"))]
    pub stage: u64,
    /// The wall that it is fixed to; empty where none is named. Where bars are of several batches, the
    /// pieces of one wall come from one of them.
    #[cfg_attr(feature = "serde", serde(default))]
    pub wall: String,
    /// The batch that it comes from, with all pieces of its wall; empty where any will do,
    /// [`NO_BATCH`](super::NO_BATCH) for that of the bars that name none.
    #[cfg_attr(feature = "serde", serde(default))]
    pub batch: String,
    /// Free text.
    #[cfg_attr(feature = "serde", serde(default))]
    pub note: String,
}

impl PieceRow {
    /// One piece of this length, and nothing else said.
    ///
    /// ```
    /// use lengthwise::{Length, Origin, Unit, job::PieceRow};
    /// let origin = Origin { source: "example".into(), line: 2 };
    /// let battens = PieceRow {
    ///     mark: "F".into(),
    ///     qty: 7.into(),
    ///     ..PieceRow::new(origin, Length::parse("2210", Unit::Mm)?)
    /// };
    /// assert_eq!(battens.qty.count(), 7);
    /// # Ok::<(), lengthwise::LengthError>(())
    /// ```
    pub fn new(origin: Origin, length: Measure) -> PieceRow {
        PieceRow {
            origin,
            material: String::new(),
            mark: String::new(),
            length,
            qty: Quantity::default(),
            to: None,
            step: None,
            end_gap: EndGap::default(),
            ends: Ends::SQUARE,
            spare: 0,
            joints: None,
            joint_gap: None,
            joints_max: None,
            shortest: None,
            course_group: String::new(),
            course: None,
            course_rule: None,
            leave_long: None,
            spares_only: false,
            for_bar: false,
            laid: Vec::new(),
            stage: 1,
            wall: String::new(),
            batch: String::new(),
            note: String::new(),
        }
    }
}

/// What a count comes to that is not written.
#[cfg(feature = "serde")]
const fn one() -> u64 {
    1
}

/// How a bar is sold: what its price is for and what its availability counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[non_exhaustive]
pub enum Sold {
    /// By the bar.
    #[default]
    Each,
    /// By the metre; availability counts metres, and only whole bars are bought.
    PerMetre,
    /// By the pack of so many bars, 1 to [`LARGEST_QUANTITY`](super::LARGEST_QUANTITY); packs are not split.
    Pack(u32),
}

/// What is taken off the two ends of a bar before anything useful is cut.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct SquareOff {
    /// Cut off the near end first, that cut included.
    pub near: Length,
    /// The far end that no piece may reach into.
    pub far: Length,
}

/// A row of the stock that can be bought.
#[derive(Clone, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct StockRow {
    /// Where the row came from.
    pub origin: Origin,
    /// The material; empty where only one material is in play.
    #[cfg_attr(feature = "serde", serde(default))]
    pub material: String,
    /// The length of the bar, above zero.
    pub length: Measure,
    /// The price of one sale, on all rows of a material or on none.
    pub price: Option<Price>,
    /// Lower prices from larger counts, at most [`MOST_BREAKS`](super::MOST_BREAKS), beside a price only.
    #[cfg_attr(feature = "serde", serde(default))]
    pub breaks: Vec<PriceBreak>,
    /// What one sale is.
    #[cfg_attr(feature = "serde", serde(default))]
    pub sold: Sold,
    /// How many sales can be had; `None` for as many as wanted.
    pub available: Option<u64>,
    /// The width of the blade for this material, where the row states one.
    pub kerf: Option<Length>,
    /// What the ends need, where the row states it; else the saw's setting.
    pub square_off: Option<SquareOff>,
    /// The shortest part of runs of this material, above zero, where the row states it.
    pub shortest: Option<Length>,
    /// Offcuts of this material from this length up are saved, where the row states it; else the
    /// saw's setting.
    pub save_from: Option<Length>,
    /// How much the material grows with heat, where the row states it.
    pub expansion: Option<Expansion>,
    /// What whoever sells it charges once for delivery, stated alike on all rows of one source that
    /// state it. Counted where quotes are compared; a plan says that it is not.
    pub delivery: Option<Price>,
    /// The batch that the bars are of; empty or [`NO_BATCH`](super::NO_BATCH) where none is named. Bars of a
    /// material that name none are taken to be of one batch together.
    #[cfg_attr(feature = "serde", serde(default))]
    pub batch: String,
    /// Free text.
    #[cfg_attr(feature = "serde", serde(default))]
    pub note: String,
}

impl StockRow {
    /// Bars of this length, sold singly, as many as wanted, and nothing else said.
    ///
    /// ```
    /// use lengthwise::{Length, Origin, Price, Unit, job::{Sold, StockRow}};
    /// let origin = Origin { source: "yard".into(), line: 2 };
    /// // In packs of ten, two of which are there.
    /// let battens = StockRow {
    ///     price: Some(Price::parse("38.50", false)?),
    ///     sold: Sold::Pack(10),
    ///     available: Some(2),
    ///     ..StockRow::new(origin, Length::parse("3.6m", Unit::Mm)?)
    /// };
    /// assert_eq!(battens.kerf, None);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn new(origin: Origin, length: Measure) -> StockRow {
        StockRow {
            origin,
            material: String::new(),
            length,
            price: None,
            breaks: Vec::new(),
            sold: Sold::Each,
            available: None,
            kerf: None,
            square_off: None,
            shortest: None,
            save_from: None,
            expansion: None,
            delivery: None,
            batch: String::new(),
            note: String::new(),
        }
    }
}

/// A row of the bars that are in hand: never bought, used first.
#[derive(Clone, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct HandRow {
    /// Where the row came from.
    pub origin: Origin,
    /// The material; empty where only one material is in play.
    #[cfg_attr(feature = "serde", serde(default))]
    pub material: String,
    /// The length of the bar, above zero.
    pub length: Measure,
    /// How many there are.
    #[cfg_attr(feature = "serde", serde(default = "one"))]
    pub available: u64,
    /// What the ends need, where the row states it; else nothing.
    pub square_off: Option<SquareOff>,
    /// What cutting into one is counted as, in money; nothing unless the row says so.
    pub worth: Option<Price>,
    /// The batch that the bars are of, as in [`StockRow::batch`].
    #[cfg_attr(feature = "serde", serde(default))]
    pub batch: String,
    /// Free text.
    #[cfg_attr(feature = "serde", serde(default))]
    pub note: String,
}

impl HandRow {
    /// One bar of this length, and nothing else said.
    ///
    /// ```
    /// use lengthwise::{Length, Origin, Unit, job::HandRow};
    /// let origin = Origin { source: "shed".into(), line: 2 };
    /// let three = HandRow { available: 3, ..HandRow::new(origin, Length::parse("1.9m", Unit::Mm)?) };
    /// assert_eq!(three.worth, None);
    /// # Ok::<(), lengthwise::LengthError>(())
    /// ```
    pub fn new(origin: Origin, length: Measure) -> HandRow {
        HandRow {
            origin,
            material: String::new(),
            length,
            available: 1,
            square_off: None,
            worth: None,
            batch: String::new(),
            note: String::new(),
        }
    }
}

/// Settings that hold for the whole job.
///
/// ```
/// use lengthwise::{Length, job::Saw};
/// let mm = Length::from_mm;
/// let thin = Saw { kerf: mm(2), longest: Some(mm(4200)), ..Saw::default() };
/// assert_eq!(thin.save_from, mm(300));
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(default, deny_unknown_fields))]
pub struct Saw {
    /// Blade width of materials whose stock rows state none.
    pub kerf: Length,
    /// An error reserve for each cut: counts like blade when fitting, reported apart.
    pub per_cut: Length,
    /// What the ends of bought bars need where the stock row says nothing.
    pub square_off: SquareOff,
    /// Offcuts whose square part is at least this long are saved.
    pub save_from: Length,
    /// The longest bar that can be carried or stored; longer stock is left out.
    pub longest: Option<Length>,
    /// How far the temperature of the pieces goes down and up, where that is known.
    pub temperature_range: Option<TemperatureRange>,
    /// So much should be left to hold after a cut, where another order of cuts leaves it.
    pub hold: Length,
    /// The longest setting of the saw's stop, where there is one; longer pieces are measured by tape.
    pub stop_reach: Option<Length>,
    /// Which of all equally cheap plans is taken.
    pub prefer: Prefer,
}

/// What is made good among plans of the same money and the same length from hand.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[non_exhaustive]
pub enum Prefer {
    /// Room for errors on every bar first, up to 5 mm; then offcuts as long as possible, the longest
    /// first.
    #[default]
    Offcuts,
    /// As few ways of cutting a bar as possible, then as few settings of the stop.
    Setups,
}

impl Default for Saw {
    fn default() -> Self {
        Saw {
            kerf: DEFAULT_KERF,
            per_cut: Length::ZERO,
            square_off: SquareOff::default(),
            save_from: DEFAULT_SAVE_FROM,
            longest: None,
            temperature_range: None,
            hold: DEFAULT_HOLD,
            stop_reach: None,
            prefer: Prefer::default(),
        }
    }
}
