//! Single values of a plan that is read back; a wrong one is reported with the path to its field.

use std::sync::Arc;

use lengthwise::job::{Ends, Sold};
use lengthwise::{Fault, FaultKind, Length, Measure, Origin, Price, Reading, Unit};
use serde_json::value::RawValue;

use crate::read::cells::{Wrong, plain_decimal, quoted, read_price, read_sold};
use crate::read::grammar::read_ends;

/// Bare numbers do not occur but in fields whose name says millimetres.
pub const READING: Reading = Reading {
    unit: Unit::Mm,
    decimal_comma: false,
    thousands: false,
};

/// Most faults that are kept.
const MOST_FAULTS: usize = 1_000;

/// Reads values and keeps what is wrong with them.
pub struct Cells {
    source: Arc<str>,
    pub faults: Vec<Fault>,
}

impl Cells {
    pub fn new(source: &str) -> Cells {
        Cells {
            source: Arc::from(source),
            faults: Vec::new(),
        }
    }

    /// The file as a whole.
    pub fn origin(&self) -> Origin {
        Origin {
            source: Arc::clone(&self.source),
            line: 0,
        }
    }

    pub fn fault(&mut self, path: &str, found: String, accepted: impl Into<String>) {
        if self.faults.len() >= MOST_FAULTS {
            return; // nobody reads on, and they would take all the memory there is
        }
        self.faults.push(Fault {
            kind: FaultKind::Value,
            origin: Some(self.origin()),
            column: Some(path.to_owned()),
            found,
            accepted: accepted.into(),
        });
    }

    /// A fault of a row: rows of other files are named by the file that holds them.
    pub fn within(&self, fault: Fault) -> Fault {
        Fault {
            found: match &fault.origin {
                Some(origin) => format!("{} ({origin})", fault.found),
                None => fault.found.clone(),
            },
            origin: Some(self.origin()),
            ..fault
        }
    }

    /// As [`Cells::fault`], of a file that is not built like a plan.json.
    pub fn misshapen(&mut self, path: &str, found: String, accepted: impl Into<String>) {
        self.fault(path, found, accepted);
        if let Some(fault) = self.faults.last_mut() {
            fault.kind = FaultKind::Unreadable;
        }
    }

    /// A text by one of the readers of table cells.
    pub fn text<T>(
        &mut self,
        text: &str,
        path: &str,
        read: impl Fn(&str) -> Result<T, Wrong>,
    ) -> Option<T> {
        match read(text) {
            Ok(value) => Some(value),
            Err(wrong) => {
                self.fault(path, wrong.found, wrong.accepted);
                None
            }
        }
    }

    /// As [`Cells::text`], of a text that may be null.
    pub fn some<T>(
        &mut self,
        text: Option<&str>,
        path: &str,
        read: impl Fn(&str) -> Result<T, Wrong>,
    ) -> Option<T> {
        self.text(text?, path, read)
    }

    /// A number of millimetres, digit by digit.
    pub fn mm(&mut self, value: &RawValue, path: &str) -> Option<Length> {
        self.digits(value.get(), path)
    }

    /// The same of the text of a number.
    pub fn digits(&mut self, value: &str, path: &str) -> Option<Length> {
        match Length::read(value, READING) {
            Ok(Measure { length, .. }) => Some(length),
            Err(_) => {
                let found = quoted(value);
                self.fault(path, found, "a number of millimetres, 0 or above");
                None
            }
        }
    }

    pub fn ends(&mut self, text: Option<&str>, path: &str) -> Ends {
        let ends = self.some(text, path, |text| read_ends(text, READING));
        ends.unwrap_or(Ends::SQUARE)
    }

    pub fn sold(&mut self, text: &str, path: &str) -> Option<Sold> {
        self.text(text, path, read_sold)
    }

    /// An amount that was computed: by the metre it may have more decimals than any price.
    pub fn amount(&mut self, text: Option<&str>, path: &str) -> Option<Price> {
        self.some(text, path, |text| {
            let read = plain_decimal(text, false).and_then(Price::from_decimal);
            read.ok_or_else(|| Wrong::new(quoted(text), "an amount of money of 0 or more"))
        })
    }

    pub fn price(&mut self, text: Option<&str>, path: &str) -> Option<Price> {
        self.some(text, path, |text| read_price(text, READING))
    }
}
