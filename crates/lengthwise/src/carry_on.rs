//! Going on with a job half-way: from a plan that is being cut, and what happened since, to the job that
//! is left and a plan of it.
//!
//! Some bars are cut, some pieces spoiled, some bars no good; something else was found lying around, and
//! some openings were measured anew. What is bought already is paid for, so in the job that is left it
//! lies in hand and is worth nothing more; what is missing can be bought as before, less what was bought
//! of it. The plan of the rest costs as little as any. Among those it is one that leaves the bars as they
//! were where that is simply possible, and every bar and every piece keeps its name.
//!
//! - [`UnderWay`] is the plan that is being cut, [`Happened`] what happened since.
//! - [`remainder`] makes the [`Remainder`] of them: a job like any other, or the list of all that is wrong
//!   with what was said.
//! - [`Remainder::plan`] plans it, [`verify`](crate::verify()) accepts the result for
//!   [`Remainder::job`], and [`Remainder::under_way`] goes on from there another time.
//!
//! ```
//! use lengthwise::carry_on::{Happened, Said, Statement, UnderWay, remainder};
//! use lengthwise::{JobInput, Length, Limits, Origin, Unit, job::*, solve, verify};
//! let at = |line| Origin { source: "example".into(), line };
//! let input = JobInput {
//!     pieces: vec![PieceRow {
//!         mark: "F".into(),
//!         qty: 4.into(),
//!         ..PieceRow::new(at(2), Length::parse("1400", Unit::Mm)?)
//!     }],
//!     stock: vec![StockRow::new(at(2), Length::parse("3m", Unit::Mm)?)],
//!     ..JobInput::default()
//! };
//! let plan = solve(&input.clone().validate()?, &Limits::default());
//!
//! // Two pieces from A1, two from A2. A1 is cut, and one of its pieces spoiled.
//! let say = |line, said| Statement { origin: at(line), column: 1, said };
//! let happened = Happened {
//!     statements: vec![
//!         say(1, Said::Cut { bar: "A1".into() }),
//!         say(2, Said::Spoiled { mark: "F-01".into(), bar: None }),
//!     ],
//!     ..Happened::default()
//! };
//! let left = remainder(&UnderWay::new(input, &plan)?, &happened)?;
//! let carried = left.plan(&Limits::default());
//! verify(left.job(), &carried.plan)?;
//! // A2 stays as it is; F-01 comes from a new bar.
//! assert_eq!(carried.changes[0].unchanged, ["A2"]);
//! assert_eq!(carried.changes[0].new, ["B1"]);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod families;
mod keep;
mod measured;
mod names;
mod open;
mod pieces;
mod relabel;
mod rows;
mod said;
mod single;
mod spares;
mod sticks;
#[cfg(test)]
#[allow(clippy::unwrap_used, clippy::panic)]
mod tests;
mod walls;

#[cfg(feature = "serde")]
use serde::{Deserialize, Serialize};

use crate::fault::{Fault, FaultKind, Faults, Origin};
use crate::job::{Ceilings, EndGap, Job, JobInput, PieceRow, SquareOff};
use crate::length::{Length, Measure};
use crate::plan::{BarGroup, Outcome, Plan, Purchase};
use crate::solve::Limits;

pub use pieces::Remark;

/// A plan that is being cut, with the job that it answers.
#[derive(Clone, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct UnderWay {
    /// The job.
    pub input: JobInput,
    /// What the plan does with each material of the job, in the order of the job.
    pub materials: Vec<MaterialUnderWay>,
    /// Pieces that were cut before this plan was made.
    pub done: Vec<DonePiece>,
    /// Names of bars that are used up: no other bar may have them.
    pub names_taken: Vec<String>,
    /// Whether a spare that is not cut yet may give way to any spoiled piece that it holds, and that for a
    /// whole bar to the pieces of a bad one, as those of an [insurance](crate::insure) do. Otherwise it
    /// gives way to pieces of its own length or row.
    pub insured: bool,
}

/// What a plan does with one material; nothing where there is no plan.
#[derive(Clone, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct MaterialUnderWay {
    /// What was bought for it.
    pub buy: Vec<Purchase>,
    /// The bars that are cut.
    pub bars: Vec<BarGroup>,
    /// Bars with a name that stay whole.
    pub whole: Vec<WholeBars>,
}

/// Bars of one kind that stay whole.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct WholeBars {
    /// The kind of bar: its place in [`Material::bars`](crate::job::Material::bars).
    pub bar: usize,
    /// The names of those that have one.
    pub names: Vec<String>,
}

/// A piece that is cut.
#[derive(Clone, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct DonePiece {
    /// The bar that it was cut from.
    pub bar: String,
    /// The batch of that bar; empty where it names none.
    pub batch: String,
    /// What was asked for: one piece without joints, with its material and its mark.
    pub row: PieceRow,
}

/// What happened since the plan was made.
#[derive(Clone, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct Happened {
    /// What is said of bars and pieces, in any order.
    pub statements: Vec<Statement>,
    /// What was measured anew.
    pub measured: Vec<Measured>,
}

/// Something said of bars or pieces.
#[derive(Clone, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct Statement {
    /// Where it was said.
    pub origin: Origin,
    /// At which character of the line, counted from 1.
    pub column: usize,
    /// What was said.
    pub said: Said,
}

/// What can be said. Bars and pieces go by their names, exactly as the plan has them.
#[derive(Clone, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
#[non_exhaustive]
pub enum Said {
    /// A bar was cut as planned, all but its spares: these are cut only where a piece is spoiled, and stay planned
    /// on what is left of the bar. A spare that is cut is said by [`Said::Begun`]; it counts as cut also where
    /// nothing but spares is on the bar, and where so little is said to be left that it cannot be there. What is
    /// left of a bar without spares is there if it is long enough to be saved.
    Cut {
        /// The bar.
        bar: String,
    },
    /// A bar was begun: so far these pieces were cut from it.
    Begun {
        /// The bar.
        bar: String,
        /// The marks of the pieces, planned on this bar or not.
        pieces: Vec<String>,
        /// What is left of the bar; as computed unless stated.
        left: Option<Length>,
    },
    /// Of a bar that was cut, so much is left; nothing where it is zero.
    Left {
        /// The bar.
        bar: String,
        /// What is left.
        left: Length,
    },
    /// A piece was cut and is spoiled: it is a total loss.
    Spoiled {
        /// Its mark.
        mark: String,
        /// The bar that it was cut from, where pieces of several materials have this mark.
        bar: Option<String>,
    },
    /// A bar that is not cut yet cannot be used.
    Bad {
        /// The bar.
        bar: String,
    },
    /// A bar that is not cut yet is only so long.
    Short {
        /// The bar.
        bar: String,
        /// Its whole length.
        length: Length,
    },
    /// A bar that is not cut yet can be used in these stretches only. Each is measured between what is
    /// bad, and needs no squaring.
    Stretches {
        /// The bar.
        bar: String,
        /// The stretches from the near end on.
        lengths: Vec<Length>,
    },
    /// Bars were found that are in no list.
    Found {
        /// The material; may be left out where the job has only one.
        material: Option<String>,
        /// The length of one.
        length: Measure,
        /// How many.
        count: u64,
        /// What their ends need.
        square_off: SquareOff,
        /// The batch that they are of; empty where it is not known.
        batch: String,
    },
}

/// A piece that was measured anew. What is said of one piece twice, and not the same, is a fault; what is said of a
/// row holds for its pieces of which nothing else is said.
#[derive(Clone, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct Measured {
    /// Where it was said.
    pub origin: Origin,
    /// The mark of a piece; of a row, for all its pieces.
    pub mark: String,
    /// The material, where pieces of several have this mark.
    pub material: Option<String>,
    /// The opening; as it was unless stated.
    pub length: Option<Measure>,
    /// The gaps at its ends; as they were unless stated.
    pub end_gap: Option<EndGap>,
    /// What is left on the piece to be trimmed in place; as it was unless stated.
    pub leave_long: Option<Length>,
}

impl UnderWay {
    /// The plan of a job, before anything is cut.
    ///
    /// # Errors
    /// The faults of the job, which then has no plan.
    pub fn new(input: JobInput, plan: &Plan) -> Result<UnderWay, Faults> {
        input.clone().validate_within(&Ceilings::HIGHEST)?;
        let materials = plan.materials.iter();
        let materials = materials.map(|material| match &material.outcome {
            Outcome::Planned(cutting) => MaterialUnderWay {
                buy: cutting.buy.clone(),
                bars: cutting.bars.clone(),
                whole: Vec::new(),
            },
            _ => MaterialUnderWay::default(),
        });
        Ok(UnderWay {
            input,
            materials: materials.collect(),
            done: Vec::new(),
            names_taken: Vec::new(),
            insured: false,
        })
    }

    /// The names of all bars that are there, as the plan has them.
    pub fn bar_names(&self) -> impl Iterator<Item = &str> {
        self.materials.iter().flat_map(|material| {
            let cut = material.bars.iter().flat_map(|group| &group.names);
            let whole = material.whole.iter().flat_map(|bars| &bars.names);
            cut.chain(whole).map(String::as_str)
        })
    }

    /// The marks of all pieces and parts: those that the plan cuts, then those that are cut already.
    pub fn marks(&self) -> impl Iterator<Item = &str> {
        let bars = self.materials.iter().flat_map(|material| &material.bars);
        let cuts = bars.flat_map(|group| &group.cuts);
        let marks = cuts.flat_map(|cut| &cut.marks).map(String::as_str);
        marks.chain(self.done.iter().map(|done| done.row.mark.as_str()))
    }
}

/// What is left of a job.
///
/// Every piece and every part that is still to be cut is a row of its own under its own mark, unless it
/// is a run of which nothing is cut yet, which is a row as a whole. Everything that is there lies in hand.
#[derive(Clone, Debug)]
pub struct Remainder {
    input: JobInput,
    job: Job,
    rests: Vec<rows::Rest>,
    done: Vec<DonePiece>,
    names_taken: Vec<String>,
    insured: bool,
    remarks: Vec<Remark>,
}

/// A plan of what is left.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
#[non_exhaustive]
pub struct CarriedOn {
    /// The plan, for [`Remainder::job`].
    pub plan: Plan,
    /// What changed, in the order of the materials of the plan.
    pub changes: Vec<Changes>,
}

/// What changed for one material.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
#[non_exhaustive]
pub struct Changes {
    /// Bars that are cut as they were going to be.
    pub unchanged: Vec<String>,
    /// Bars with a name that are cut otherwise: bars of the plan, and offcuts of bars that are cut.
    pub changed: Vec<String>,
    /// Bars that have their name from now on: bought, found, or left over from a pack.
    pub new: Vec<String>,
    /// Bars with a name that stay whole.
    pub whole: Vec<WholeBars>,
    /// Pieces that the bars, left as they were, have no place for; only where there is no plan.
    pub without_place: Vec<String>,
}

/// What is left of a job after what happened.
///
/// # Errors
/// Everything that is wrong with what was said: names that nobody knows, and what contradicts itself or
/// the plan. The faults of the job, and one where not every material of it has its place in
/// [`UnderWay::materials`].
///
/// ```
/// use lengthwise::carry_on::{Happened, UnderWay, remainder};
/// let left = remainder(&UnderWay::default(), &Happened::default())?;
/// assert!(left.job().materials().is_empty());
/// # Ok::<(), lengthwise::Faults>(())
/// ```
pub fn remainder(under_way: &UnderWay, happened: &Happened) -> Result<Remainder, Faults> {
    let job = under_way
        .input
        .clone()
        .validate_within(&Ceilings::HIGHEST)?;
    if under_way.materials.len() != job.materials().len() {
        return Err(Faults(vec![other_materials(under_way, &job)]));
    }
    let mut faults = Vec::new();
    let mut sticks = sticks::Sticks::of(under_way, &job);
    let mut pieces = pieces::Pieces::of(under_way, &job, &sticks);
    let fates = said::fates(&mut sticks, &mut pieces, &job, happened, &mut faults);
    said::spoil(&mut pieces, happened, &mut faults);
    measured::apply(&mut pieces, &happened.measured, &mut faults);
    if !faults.is_empty() {
        faults.sort_by(|a, b| a.origin.cmp(&b.origin));
        return Err(Faults(faults));
    }
    pieces.batched = walls::batched(&job, &sticks, &pieces);
    spares::take_their_places(&mut pieces, under_way.insured);
    if under_way.insured {
        spares::stand_in_for_bars(&mut pieces, &sticks, &fates, &job);
    }
    walls::bind(&mut pieces);
    let sticks = sticks.left(&fates, &job);
    rows::remainder(under_way, &job, sticks, pieces)
}

/// A plan that is under way for other materials than the job has.
fn other_materials(under_way: &UnderWay, job: &Job) -> Fault {
    let (there, asked) = (under_way.materials.len(), job.materials().len());
    Fault {
        kind: FaultKind::Value,
        origin: None,
        column: Some("materials".to_owned()),
        found: format!("what a plan does with {there} materials, of a job with {asked}"),
        accepted: "each material of the job, in its order".to_owned(),
    }
}

impl Remainder {
    /// The rows of what is left; a job to be written beside the plan.
    pub fn input(&self) -> &JobInput {
        &self.input
    }

    /// The job that is left.
    pub fn job(&self) -> &Job {
        &self.job
    }

    /// What should be known about pieces that are cut already.
    pub fn remarks(&self) -> &[Remark] {
        &self.remarks
    }

    /// The pieces that are cut, and no more part of the job.
    pub fn done(&self) -> &[DonePiece] {
        &self.done
    }

    /// Plans what is left: at the least cost, and among equals with few changes.
    ///
    /// Where the bars that are there do as they were going to be cut, they are left as they were. What
    /// has no place is planned first into what else is there and can be bought. If all of it planned anew
    /// costs less, that is the plan. A clock is shared among the materials.
    pub fn plan(&self, limits: &Limits<'_>) -> CarriedOn {
        keep::plan(self, limits)
    }

    /// The plan of what is left as one that is being cut, to go on from it another time.
    pub fn under_way(&self, carried: &CarriedOn) -> UnderWay {
        let both = carried.plan.materials.iter().zip(&carried.changes);
        let materials = both.map(|(plan, changes)| {
            let (buy, bars) = match &plan.outcome {
                Outcome::Planned(cutting) => (cutting.buy.clone(), cutting.bars.clone()),
                _ => Default::default(),
            };
            MaterialUnderWay {
                buy,
                bars,
                whole: changes.whole.clone(),
            }
        });
        UnderWay {
            input: self.input.clone(),
            materials: materials.collect(),
            done: self.done.clone(),
            names_taken: self.names_taken.clone(),
            insured: self.insured,
        }
    }
}
