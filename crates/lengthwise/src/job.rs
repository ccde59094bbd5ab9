//! What is asked: pieces, stock, bars in hand and the saw, checked as a whole.
//!
//! A [`JobInput`] holds rows as they were written. [`JobInput::validate`] turns it into a [`Job`],
//! in which every material stands by itself and nothing contradicts anything, or into the full
//! list of [`Faults`].

mod breaks;
mod ceilings;
mod check;
mod ends;
mod longest;
mod marks;
mod movement;
mod note;
mod part;
mod quantity;
mod rake;
mod reserve;
mod rows;
mod runs;
mod size;
mod tally;
#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests;
mod walls;

pub(crate) use breaks::Tier;
pub use breaks::{MOST_BREAKS, PriceBreak};
pub use ceilings::Ceilings;
pub use check::key as name_key;
pub(crate) use check::some_of;
pub use ends::{Angle, EndGap, Ends, Shape};
pub(crate) use longest::{Longest, LongestBars};
pub(crate) use marks::FEWEST_DIGITS;
pub use movement::{Expansion, TemperatureRange};
pub use note::Note;
pub use quantity::Quantity;
pub use reserve::Reserve;
pub use rows::{HandRow, PieceRow, Prefer, Saw, Sold, SquareOff, StockRow};
pub use runs::{
    Course, CourseGroup, CourseRule, DEFAULT_SHORTEST, Joints, LARGEST_RULE, LaidCourse,
    MOST_JOINT_PLACES, Run,
};
pub use walls::{NO_BATCH, Wall};
pub(crate) use walls::{batch_key, batch_name};

#[cfg(feature = "serde")]
use serde::{Deserialize, Serialize};

use crate::fault::{Faults, Origin};
use crate::length::{Length, Unit};
use crate::price::Price;

/// The largest quantity of one row, and the largest count of bars.
pub const LARGEST_QUANTITY: u64 = 1_000_000;
/// The largest number of pieces in one material; [`Ceilings`] may be lower.
pub const MOST_PIECES: u64 = 10_000_000;
/// The blade where neither the stock nor the saw states one: 3 mm (about the usual full blade;
/// no standard prescribes it).
pub const DEFAULT_KERF: Length = Length::from_mm(3);
/// Offcuts from this length up are listed to be saved, unless told otherwise.
pub const DEFAULT_SAVE_FROM: Length = Length::from_mm(300);
/// So much should be left to hold after a cut, unless told otherwise: about a foot (common practice, no
/// source).
pub const DEFAULT_HOLD: Length = Length::from_mm(300);
/// The last stage of the work that a row may name.
pub const LARGEST_STAGE: u64 = 1_000;
/// The lengths of a raked set are rounded up to whole steps of this, unless told otherwise.
pub const DEFAULT_STEP: Length = Length::from_mm(1);

/// A job as it was written, not yet checked.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(default, deny_unknown_fields))]
pub struct JobInput {
    /// The list of pieces.
    pub pieces: Vec<PieceRow>,
    /// What can be bought.
    pub stock: Vec<StockRow>,
    /// What is in hand.
    pub in_hand: Vec<HandRow>,
    /// The saw and the person at it.
    pub saw: Saw,
}

impl JobInput {
    /// Checks the job as a whole and sorts it by material, within the usual [`Ceilings`].
    ///
    /// # Errors
    /// Every fault there is, in the order of the rows, never only the first; where there are too many rows,
    /// that alone.
    ///
    /// ```
    /// use lengthwise::{JobInput, Length, Origin, Unit, fault::FaultKind, job::*};
    /// let at = |line| Origin { source: "racks".into(), line };
    /// let rail = PieceRow { qty: 0.into(), ..PieceRow::new(at(2), Length::parse("1240", Unit::Mm)?) };
    /// let batten = StockRow::new(at(7), Length::parse("0", Unit::Mm)?);
    /// let input = JobInput { pieces: vec![rail], stock: vec![batten], ..JobInput::default() };
    /// let faults = input.validate().unwrap_err();
    /// let places: Vec<_> = faults.0.iter().map(|fault| (fault.kind, fault.origin.clone())).collect();
    /// assert_eq!(places, [(FaultKind::Range, Some(at(2))), (FaultKind::Range, Some(at(7)))]);
    /// # Ok::<(), lengthwise::LengthError>(())
    /// ```
    pub fn validate(self) -> Result<Job, Faults> {
        self.validate_within(&Ceilings::default())
    }

    /// The same with other ceilings, none of them above [`Ceilings::HIGHEST`].
    ///
    /// # Errors
    /// As [`JobInput::validate`].
    pub fn validate_within(self, ceilings: &Ceilings) -> Result<Job, Faults> {
        check::validate(&self, &ceilings.capped())
    }
}

/// A checked job: materials in the order in which the pieces name them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Job {
    pub(crate) materials: Vec<Material>,
    pub(crate) notes: Vec<Note>,
}

impl Job {
    /// The materials, each a problem of its own.
    pub fn materials(&self) -> &[Material] {
        &self.materials
    }

    /// What the person should know about the job before trusting a plan of it.
    pub fn notes(&self) -> &[Note] {
        &self.notes
    }
}

/// Everything about one material.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Material {
    pub(crate) name: String,
    pub(crate) unit: Unit,
    pub(crate) kerf: Length,
    pub(crate) per_cut: Length,
    pub(crate) save_from: Length,
    pub(crate) hold: Length,
    pub(crate) stop_reach: Option<Length>,
    pub(crate) prefer: Prefer,
    pub(crate) expansion: Option<Expansion>,
    pub(crate) course_groups: Vec<CourseGroup>,
    pub(crate) priced: bool,
    pub(crate) batches: Vec<String>,
    pub(crate) pieces: Vec<Piece>,
    pub(crate) bars: Vec<Bar>,
}

impl Material {
    /// The name as first written; empty where the files name no material.
    pub fn name(&self) -> &str {
        &self.name
    }
    /// The unit in which the pieces were written.
    pub fn unit(&self) -> Unit {
        self.unit
    }
    /// The width of the blade.
    pub fn kerf(&self) -> Length {
        self.kerf
    }
    /// The error reserve for each cut.
    pub fn per_cut(&self) -> Length {
        self.per_cut
    }
    /// What a cut takes up when fitting: blade and reserve.
    pub fn cut_width(&self) -> Length {
        // Both were checked to be far below the ceiling; saturating keeps the sum defined.
        self.kerf.checked_add(self.per_cut).unwrap_or(Length::MAX)
    }
    /// The kinds of bar that can be had, of one batch where it is named.
    pub(crate) fn bars_to_be_had(&self, batch: Option<u32>) -> impl Iterator<Item = &Bar> {
        let is_of_it = move |bar: &Bar| batch.is_none_or(|batch| bar.batch == batch);
        let bars = self.bars.iter();
        bars.filter(move |bar| bar.bars_available() != Some(0) && is_of_it(bar))
    }
    /// What the mitred ends of a piece take besides its cut: blade and reserve over the cosine of how
    /// far the saw is turned from square, for each of them, rounded up to a nanometre.
    pub fn mitre_allowance(&self, ends: Ends) -> Length {
        ends.along(self.cut_width())
    }
    /// What a piece takes of a bar by itself: its length, and what its mitred ends take.
    pub(crate) fn takes(&self, shape: Shape) -> Length {
        let mitred = self.mitre_allowance(shape.ends);
        // Checked jobs keep far larger sums below the ceiling.
        shape.length.checked_add(mitred).unwrap_or(Length::MAX)
    }
    /// Where the pieces cut one after another from one of its bars end, measured along the bar from its
    /// near end as it was before squaring: `shapes` in the order of the cuts, `near` what is squared off. What
    /// mitred ends take besides lies behind their piece, with the cut.
    pub fn positions<'a>(
        &'a self,
        near: Length,
        shapes: impl IntoIterator<Item = Shape> + 'a,
    ) -> impl Iterator<Item = Length> + 'a {
        // A plan's pieces lie within their bar; saturating keeps the sums of others defined.
        let add = |a: Length, b: Length| a.checked_add(b).unwrap_or(Length::MAX);
        let along = |shape: &Shape| self.mitre_allowance(shape.ends);
        shapes.into_iter().scan(near, move |at, shape| {
            let end = add(*at, shape.length);
            *at = add(end, add(along(&shape), self.cut_width()));
            Some(end)
        })
    }
    /// How much of [`Material::mitre_allowance`] is the error reserve.
    pub fn mitre_reserve(&self, ends: Ends) -> Length {
        let blade = ends.along(self.kerf);
        let all = self.mitre_allowance(ends);
        all.checked_sub(blade).unwrap_or(Length::ZERO)
    }
    /// Offcuts whose square part is at least this long are saved.
    pub fn save_from(&self) -> Length {
        self.save_from
    }
    /// So much should be left to hold after a cut, where another order of cuts leaves it.
    pub fn hold(&self) -> Length {
        self.hold
    }
    /// The longest setting of the saw's stop, where there is one.
    pub fn stop_reach(&self) -> Option<Length> {
        self.stop_reach
    }
    /// Which of all equally cheap plans is taken.
    pub fn prefer(&self) -> Prefer {
        self.prefer
    }
    /// How much it grows with heat, where the stock says so.
    pub fn expansion(&self) -> Option<Expansion> {
        self.expansion
    }
    /// The groups of courses of its runs, in the order in which the pieces name them.
    pub fn course_groups(&self) -> &[CourseGroup] {
        &self.course_groups
    }
    /// Whether bars are compared by money; by bought length otherwise.
    pub fn is_priced(&self) -> bool {
        self.priced
    }
    /// The batches that its bars are of, as first written; nothing before them where some name none, and
    /// none at all where no bar names any.
    pub fn batches(&self) -> &[String] {
        &self.batches
    }
    /// The name of the batch that a bar is of; empty where it names none.
    pub fn batch_of(&self, bar: &Bar) -> &str {
        let place = bar.batch as usize; // u32 into usize
        self.batches.get(place).map_or("", String::as_str)
    }
    /// The pieces, in the order of the rows.
    pub fn pieces(&self) -> &[Piece] {
        &self.pieces
    }
    /// The kinds of bar that can be cut: bought ones first, then those in hand.
    pub fn bars(&self) -> &[Bar] {
        &self.bars
    }
}

/// Pieces of one row that are all alike.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Piece {
    pub(crate) row: usize,
    pub(crate) mark: String,
    pub(crate) first_number: Option<u64>,
    pub(crate) number_width: usize,
    pub(crate) opening: Length,
    pub(crate) end_gap: EndGap,
    pub(crate) leave_long: Length,
    pub(crate) length: Length,
    pub(crate) ends: Ends,
    pub(crate) qty: u64,
    pub(crate) spare: bool,
    pub(crate) for_bar: bool,
    pub(crate) run: Option<Run>,
    pub(crate) stage: u64,
    pub(crate) wall: String,
    pub(crate) batch: Option<u32>,
    pub(crate) asked_batch: Option<u32>,
    pub(crate) note: String,
    pub(crate) origin: Origin,
}

impl Piece {
    /// The place of its row among the rows of its material, counted from 0. A raked set is one row
    /// and many pieces, and so are a row and its spares.
    pub fn row(&self) -> usize {
        self.row
    }
    /// The mark as written, or made from the place of the row.
    pub fn mark(&self) -> &str {
        &self.mark
    }
    /// The mark of one copy, counted from 0: `F1`, or `F3-02` where there are several.
    pub fn copy_mark(&self, copy: u64) -> String {
        match self.first_number {
            None => self.mark.clone(),
            Some(first) => {
                let number = first.saturating_add(copy);
                format!("{}-{number:0width$}", self.mark, width = self.number_width)
            }
        }
    }
    /// Whether this is the mark of one of the copies.
    pub(crate) fn has_copy(&self, mark: &str) -> bool {
        let Some(first) = self.first_number else {
            return self.qty > 0 && mark == self.mark;
        };
        let number = mark.strip_prefix(&self.mark);
        let number = number.and_then(|rest| rest.strip_prefix('-'));
        let number = number.and_then(|number| number.parse::<u64>().ok());
        let copy = number.and_then(|number| number.checked_sub(first));
        copy.is_some_and(|copy| copy < self.qty && self.copy_mark(copy) == mark)
    }
    /// The number of one copy, counted from 0, among all copies with its mark: from 1, and as in
    /// [`Piece::copy_mark`] where there are several.
    pub fn copy_number(&self, copy: u64) -> u64 {
        self.first_number.unwrap_or(1).saturating_add(copy)
    }
    /// The opening that the piece goes into: its length and the gaps at its ends.
    pub fn opening(&self) -> Length {
        self.opening
    }
    /// The gaps at its ends.
    pub fn end_gap(&self) -> EndGap {
        self.end_gap
    }
    /// What is left on it when it is cut, to be trimmed in place.
    pub fn leave_long(&self) -> Length {
        self.leave_long
    }
    /// The length to cut: the opening less its gaps, and what is left long; of mitred ends, to the long
    /// points.
    pub fn length(&self) -> Length {
        self.length
    }
    /// The angles of its ends.
    pub fn ends(&self) -> Ends {
        self.ends
    }
    /// Length and ends together.
    pub fn shape(&self) -> Shape {
        Shape {
            length: self.length,
            ends: self.ends,
            batch: None,
        }
    }
    /// The same, and the batch that it has to come from.
    pub fn wanted(&self) -> Shape {
        Shape {
            batch: self.batch,
            ..self.shape()
        }
    }
    /// The batch that it has to come from, by its row or another of its wall: a place in
    /// [`Material::batches`].
    pub fn batch(&self) -> Option<u32> {
        self.batch
    }
    /// The same, but for a batch that was chosen for its wall: how often a run is joined does not hang on
    /// that.
    pub(crate) fn asked_batch(&self) -> Option<u32> {
        self.asked_batch
    }
    /// Whether the copies are spares: bought for, and cut only where another piece is spoiled.
    pub fn is_spare(&self) -> bool {
        self.spare
    }
    /// Whether it is no piece but room for a whole bar that may turn out bad.
    pub fn is_for_bar(&self) -> bool {
        self.for_bar
    }
    /// How it may be parted, if it is a run.
    pub fn run(&self) -> Option<&Run> {
        self.run.as_ref()
    }
    /// Which stage of the work it belongs to, from 1.
    pub fn stage(&self) -> u64 {
        self.stage
    }
    /// The wall that it is fixed to; empty where none is named.
    pub fn wall(&self) -> &str {
        &self.wall
    }
    /// How many, at least 1.
    pub fn qty(&self) -> u64 {
        self.qty
    }
    /// Free text.
    pub fn note(&self) -> &str {
        &self.note
    }
    /// Where the row came from.
    pub fn origin(&self) -> &Origin {
        &self.origin
    }
}

/// Where a bar comes from and what it costs to cut into one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub enum Supply {
    /// To be bought.
    Bought {
        /// The price of one sale; `None` throughout a material without prices.
        price: Option<Price>,
        /// What one sale is.
        sold: Sold,
        /// How many sales can be had; `None` for as many as wanted.
        available: Option<u64>,
    },
    /// In hand.
    InHand {
        /// What cutting into one is counted as.
        worth: Price,
        /// How many there are.
        available: u64,
    },
}

/// A kind of bar.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Bar {
    pub(crate) length: Length,
    pub(crate) square_off: SquareOff,
    pub(crate) supply: Supply,
    pub(crate) breaks: Vec<PriceBreak>,
    pub(crate) batch: u32,
    pub(crate) note: String,
    pub(crate) origin: Origin,
}

impl Bar {
    /// The whole length.
    pub fn length(&self) -> Length {
        self.length
    }
    /// What the ends need.
    pub fn square_off(&self) -> SquareOff {
        self.square_off
    }
    /// The length that pieces and the cuts between them may take up; above zero in a checked job.
    pub fn usable(&self) -> Length {
        self.length
            .checked_sub(self.square_off.near)
            .and_then(|rest| rest.checked_sub(self.square_off.far))
            .unwrap_or(Length::ZERO)
    }
    /// Where it comes from and what it costs.
    pub fn supply(&self) -> Supply {
        self.supply
    }
    /// The batch that it is of: a place in [`Material::batches`]; 0 where there are none.
    pub fn batch(&self) -> u32 {
        self.batch
    }
    /// Whether it is in hand.
    pub fn is_in_hand(&self) -> bool {
        matches!(self.supply, Supply::InHand { .. })
    }
    /// Free text.
    pub fn note(&self) -> &str {
        &self.note
    }
    /// Where the row came from.
    pub fn origin(&self) -> &Origin {
        &self.origin
    }
    /// How many bars one sale brings.
    pub fn bars_per_sale(&self) -> u64 {
        match self.supply {
            Supply::Bought {
                sold: Sold::Pack(bars),
                ..
            } => u64::from(bars),
            _ => 1,
        }
    }
    /// How many bars there are; `None` for as many as wanted.
    pub fn bars_available(&self) -> Option<u64> {
        match self.supply {
            Supply::InHand { available, .. } => Some(available),
            Supply::Bought {
                sold, available, ..
            } => available.map(|sales| match sold {
                Sold::Each => sales,
                Sold::Pack(bars) => sales.saturating_mul(u64::from(bars)),
                Sold::PerMetre => bars_in_metres(sales, self.length),
            }),
        }
    }
    /// What one sale of this bar costs: the price of the bar or pack, the metres of the bar times
    /// the price of one, or the worth of a bar in hand; before any price break. `None` without prices,
    /// or where the exact decimal has too many digits, which no checked job has.
    pub fn sale_price(&self) -> Option<Price> {
        match self.supply {
            Supply::InHand { worth, .. } => Some(worth),
            Supply::Bought { price, .. } => self.sale_at(price?),
        }
    }
    /// What one sale costs at a price of the row.
    pub(crate) fn sale_at(&self, price: Price) -> Option<Price> {
        match self.supply {
            Supply::Bought {
                sold: Sold::PerMetre,
                ..
            } => breaks::of_metres(self.length, price),
            _ => Some(price),
        }
    }
}

/// Whole bars that come out of so many metres sold.
fn bars_in_metres(metres: u64, bar: Length) -> u64 {
    let total = u128::from(metres) * 1_000_000_000;
    let bars = total.checked_div(bar.nm().unsigned_abs().into());
    bars.map_or(0, |bars| u64::try_from(bars).unwrap_or(u64::MAX))
}
