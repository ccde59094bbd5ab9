//! Faults of a job: each one located, all of them reported together.

use std::fmt::{self, Write};
use std::sync::Arc;

#[cfg(feature = "serde")]
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// Where a row came from: the caller's name for the source, and a line in it.
///
/// ```
/// use lengthwise::Origin;
/// let row = Origin { source: "pieces.csv".into(), line: 7 };
/// assert_eq!(row.to_string(), "pieces.csv, line 7");
/// ```
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct Origin {
    /// The caller's name for the source, such as a file name.
    pub source: Arc<str>,
    /// The line in that source, counted from 1; 0 stands for the source as a whole.
    pub line: u64,
}

impl fmt::Display for Origin {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut out = OneLine(f);
        match self.line {
            0 => write!(out, "{}", self.source),
            line => write!(out, "{}, line {line}", self.source),
        }
    }
}

/// Control characters are escaped: what is shown is one line, whatever it quotes.
struct OneLine<'a, 'f>(&'a mut fmt::Formatter<'f>);

impl fmt::Write for OneLine<'_, '_> {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        text.chars().try_for_each(|c| match c.is_control() {
            true => write!(self.0, "{}", c.escape_default()),
            false => self.0.write_char(c),
        })
    }
}

/// What kind of thing is wrong, for callers that react to it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[non_exhaustive]
pub enum FaultKind {
    /// A source cannot be read as a table at all.
    Unreadable,
    /// A heading is missing, repeated or not known.
    Heading,
    /// A cell or setting cannot be read as what its column holds.
    Value,
    /// A length, quantity or price is outside its range.
    Range,
    /// A material is asked for that nothing is offered for.
    NoStockOffered,
    /// Prices stand on some rows of a material only.
    PricesOnSomeRows,
    /// Rows of a quote have no price.
    NotPriced,
    /// Rows state for what they share what others state otherwise.
    RowsDiffer,
    /// Bars in hand have a worth, the stock has no prices.
    WorthWithoutPrices,
    /// Rows of one material state different blade widths.
    KerfDiffers,
    /// The blade is wider than the longest bar is long.
    KerfTooWide,
    /// Squaring allowances leave nothing of any bar.
    AllowancesEatEveryBar,
    /// The job as a whole is too large for exact arithmetic.
    TooLarge,
    /// Something is above a [ceiling](crate::job::Ceilings), which can be raised.
    AboveCeiling(Ceiling),
}

/// What has a ceiling that can be raised.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[non_exhaustive]
pub enum Ceiling {
    /// Rows of one list.
    Rows,
    /// Pieces of all materials.
    Pieces,
    /// Distinct lengths of one material, and of all.
    Lengths,
    /// Places for joints in one run, and joints of all runs.
    Joints,
    /// Kinds of bar of one material.
    Bars,
    /// Supports of all courses of all materials, each once for every course of its rule.
    Courses,
    /// Bytes of one file, for readers of files.
    File,
    /// Bytes of one cell, for readers of files.
    Field,
}

impl Ceiling {
    /// Its name in one word.
    pub const fn name(self) -> &'static str {
        match self {
            Ceiling::Rows => "rows",
            Ceiling::Pieces => "pieces",
            Ceiling::Lengths => "lengths",
            Ceiling::Joints => "joints",
            Ceiling::Bars => "bars",
            Ceiling::Courses => "courses",
            Ceiling::File => "file",
            Ceiling::Field => "field",
        }
    }
}

/// One thing that is wrong with a job, with its place.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct Fault {
    /// What kind of thing is wrong.
    pub kind: FaultKind,
    /// The row at fault, where there is one.
    pub origin: Option<Origin>,
    /// The column or setting at fault, by the name that people see.
    pub column: Option<String>,
    /// What was found, as a phrase.
    pub found: String,
    /// What would be accepted, as a phrase.
    pub accepted: String,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut out = OneLine(f);
        if let Some(origin) = &self.origin {
            write!(out, "{origin}")?;
        }
        if let Some(column) = &self.column {
            let gap = if self.origin.is_some() { ", " } else { "" };
            write!(out, "{gap}{column}")?;
        }
        if self.origin.is_some() || self.column.is_some() {
            out.write_str(": ")?;
        }
        write!(out, "found {}; accepted: {}", self.found, self.accepted)
    }
}

/// Every fault of a job, in the order of its rows.
///
/// ```
/// use lengthwise::{JobInput, Length, Origin, Unit, job::PieceRow};
/// let origin = Origin { source: "racks".into(), line: 2 };
/// let nothing = PieceRow::new(origin, Length::parse("0", Unit::Mm)?);
/// let faults = JobInput { pieces: vec![nothing], ..JobInput::default() }.validate().unwrap_err();
/// let length = faults.0.iter().find(|fault| fault.column.as_deref() == Some("length"));
/// assert!(length.ok_or("no such fault")?.to_string().starts_with("racks, line 2, length: found "));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[error("{} in the input:\n{}", count(.0.len()), lines(.0))]
pub struct Faults(pub Vec<Fault>);

fn count(n: usize) -> String {
    if n == 1 {
        "1 fault".to_owned()
    } else {
        format!("{n} faults")
    }
}

fn lines(faults: &[Fault]) -> String {
    itertools::join(faults, "\n")
}
