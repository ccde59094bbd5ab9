//! Where things stand in a JSON document.

use crate::json::tree::without_place;
use std::collections::BTreeMap;
use std::sync::Arc;

use lengthwise::{Fault, FaultKind, Origin};
use serde_json::value::RawValue;

use super::wrong::Wrong;

/// A document and its name.
#[derive(Debug)]
pub struct Text {
    pub text: Arc<str>,
    pub source: Arc<str>,
    /// Where its lines begin, in bytes.
    lines: Vec<usize>,
}

/// An object of the document.
#[derive(Debug)]
pub struct Place {
    /// Such as `pieces[3]`.
    pub path: String,
    /// The line on which it begins, counted from 1.
    pub line: u64,
    start: usize,
    end: usize,
}

impl Text {
    pub fn new(text: String, source: &str) -> Text {
        let breaks = text.match_indices('\n').map(|(at, _)| at + 1);
        let lines = std::iter::once(0).chain(breaks).collect();
        Text {
            text: text.into(),
            source: source.into(),
            lines,
        }
    }

    /// Where a part of the document begins, in bytes.
    pub fn offset(&self, raw: &RawValue) -> usize {
        let (whole, part) = (self.text.as_ptr().addr(), raw.get().as_ptr().addr());
        part.saturating_sub(whole)
    }

    pub fn place(&self, raw: &RawValue, path: String) -> Place {
        let start = self.offset(raw);
        Place {
            path,
            line: self.line(start),
            start,
            end: start + raw.get().len(),
        }
    }

    fn line(&self, offset: usize) -> u64 {
        self.lines.partition_point(|&begin| begin <= offset) as u64 // widening
    }

    fn origin(&self, line: u64) -> Option<Origin> {
        Some(Origin {
            source: Arc::clone(&self.source),
            line,
        })
    }

    /// A fault of the field at `path`, on the line of `offset`.
    pub fn fault(&self, offset: usize, path: &str, found: String, accepted: &str) -> Fault {
        Fault {
            kind: FaultKind::Unreadable,
            origin: self.origin(self.line(offset)),
            column: Some(path.to_owned()),
            found,
            accepted: accepted.to_owned(),
        }
    }

    /// The same fault with the line on which its field stands, or its row where that has no such field.
    pub fn located(&self, fault: Fault, place: &Place) -> Fault {
        let column = fault.column.as_deref().unwrap_or_default();
        let field = column.strip_prefix(place.path.as_str());
        let field = field.map(|field| field.trim_start_matches('.'));
        let field = field.and_then(|field| field.split(['.', '[']).next());
        let offset = field.and_then(|field| self.field(place, field));
        Fault {
            origin: self.origin(offset.map_or(place.line, |offset| self.line(offset))),
            ..fault
        }
    }

    /// Where the value of a field begins.
    fn field(&self, place: &Place, name: &str) -> Option<usize> {
        let object = self.text.get(place.start..place.end)?;
        let fields: BTreeMap<String, &RawValue> = serde_json::from_str(object).ok()?;
        fields.get(name).map(|raw| self.offset(raw))
    }

    /// Text that is no JSON.
    pub fn no_json(&self, why: &serde_json::Error, accepted: &str) -> Fault {
        Fault {
            kind: FaultKind::Unreadable,
            origin: self.origin(why.line() as u64), // widening
            column: Some(format!("column {}", why.column())),
            found: format!("no JSON: {}", without_place(why)),
            accepted: accepted.to_owned(),
        }
    }

    /// A value of a wrong type inside `raw`.
    pub fn mistyped(&self, wrong: Wrong, raw: &RawValue) -> Fault {
        let first = self.line(self.offset(raw));
        Fault {
            origin: self.origin(first + wrong.line.saturating_sub(1)),
            ..wrong.fault
        }
    }
}
