//! A job read from one JSON document: a job.json, or a plan.json with its job inside.
//!
//! Every row is read for itself, so that one that is wrong hides no other, and each fault names the line and the
//! path of its field.

mod place;
mod wrong;

use std::collections::{HashMap, HashSet};
use std::sync::Arc;

use lengthwise::insure::Insurance;
use lengthwise::job::{Ceilings, JobInput, LARGEST_QUANTITY, Saw};
use lengthwise::{Fault, FaultKind, Origin};
use schemars::JsonSchema;
use serde::Deserialize;
use serde_json::value::RawValue;

use super::job::{HandJson, JobJson, PieceJson, SettingsJson, StockJson};
use super::read_back::cells::Cells;
use crate::read::{MOST_FAULTS, ReadJob, behind_the_last};
use crate::settings::Settings;
use place::{Place, Text};

/// What a file must be.
const ACCEPTED: &str = "a job.json as lengthwise check --json prints it, or a plan.json that \
                        lengthwise plan --out DIR wrote; lengthwise schema job describes it";

/// Counts that are judged even where something else of their row is wrong.
const STAND_ALONE: [&str; 4] = ["qty", "spare", "stage", "available"];

/// A job as the document has it, with everything that is wrong with single fields.
#[derive(Debug)]
pub struct JobDocument {
    input: JobInput,
    insurance: Insurance,
    text: Text,
    /// Where the rows stand: pieces, stock, in hand, in the order of the input.
    places: Vec<Place>,
    /// Rows of which some field is wrong, by their place in `places`.
    broken: HashSet<usize>,
    faults: Vec<Fault>,
}

/// What goes where no flag says otherwise.
#[derive(Debug, Default)]
pub struct Usual {
    pub saw: Saw,
    pub insurance: Insurance,
}

/// The parts of a job, not looked into yet.
#[derive(Deserialize)]
struct Parts<'a> {
    #[serde(borrow)]
    settings: Option<&'a RawValue>,
    #[serde(borrow)]
    pieces: Vec<&'a RawValue>,
    #[serde(borrow, default)]
    stock: Vec<&'a RawValue>,
    #[serde(borrow, default)]
    in_hand: Vec<&'a RawValue>,
}

/// What tells a plan.json from a job.json.
#[derive(Default, Deserialize)]
struct Embedding<'a> {
    #[serde(borrow)]
    job: Option<&'a RawValue>,
    #[serde(borrow)]
    materials: Option<&'a RawValue>,
}

/// Reads the document; what is wrong comes out of [`JobDocument::finish`].
pub fn read_job_json(text: String, source: &str) -> JobDocument {
    let mut document = JobDocument::nothing(Text::new(text, source));
    document.read();
    document
}

impl SettingsJson {
    fn insurance(&self, cells: &mut Cells, path: &str) -> Insurance {
        if self.insure > LARGEST_QUANTITY {
            let accepted = format!("a whole number from 0 to {LARGEST_QUANTITY}");
            cells.fault(path, self.insure.to_string(), accepted);
        }
        Insurance {
            pieces: self.insure.min(LARGEST_QUANTITY),
            bar: self.insure_bar,
        }
    }
}

impl JobDocument {
    /// A document that cannot be read at all.
    pub fn unreadable(fault: Fault) -> JobDocument {
        let mut document = JobDocument::nothing(Text::new(String::new(), ""));
        document.faults.push(fault);
        document
    }

    fn nothing(text: Text) -> JobDocument {
        JobDocument {
            input: JobInput::default(),
            insurance: Insurance::default(),
            text,
            places: Vec::new(),
            broken: HashSet::new(),
            faults: Vec::new(),
        }
    }

    /// What its settings say.
    pub fn usual(&self) -> Usual {
        Usual {
            saw: self.input.saw.clone(),
            insurance: self.insurance,
        }
    }

    fn read(&mut self) {
        let text = Arc::clone(&self.text.text);
        let whole: &RawValue = match serde_json::from_str(&text) {
            Ok(whole) => whole,
            Err(why) => {
                let fault = self.text.no_json(&why, ACCEPTED);
                self.faults.push(fault);
                return;
            }
        };
        let embedding: Embedding<'_> = serde_json::from_str(&text).unwrap_or_default();
        let (job, path) = match embedding {
            Embedding {
                job: Some(job),
                materials: Some(_),
            } => (job, "job"),
            Embedding {
                job: None,
                materials: Some(_),
            } => {
                let found = "a plan without its job, as plan --json prints it";
                let fault = self.text.fault(0, "job", found.to_owned(), ACCEPTED);
                self.faults.push(fault);
                return;
            }
            _ => (whole, ""),
        };
        let Some(parts) = self.one::<Parts<'_>, JobJson>(job, path) else {
            return;
        };
        if parts.pieces.is_empty() {
            let (path, at) = (wrong::join(path, "pieces"), self.text.offset(job));
            let fault = self
                .text
                .fault(at, &path, "no row".to_owned(), "at least one row");
            self.faults.push(fault);
        }
        self.settings(parts.settings, &wrong::join(path, "settings"));
        self.rows(&parts, path);
        self.state_origins();
    }

    fn settings(&mut self, raw: Option<&RawValue>, path: &str) {
        let Some(raw) = raw else {
            return;
        };
        let place = self.text.place(raw, path.to_owned());
        if let Some(settings) = self.one::<SettingsJson, SettingsJson>(raw, path) {
            let mut cells = self.cells();
            self.input.saw = settings.saw(&mut cells, path);
            self.insurance = settings.insurance(&mut cells, &wrong::join(path, "insure"));
            let faults = cells.faults.into_iter();
            self.faults
                .extend(faults.map(|fault| self.text.located(fault, &place)));
        }
    }

    fn rows(&mut self, parts: &Parts<'_>, path: &str) {
        let list = |name: &str| wrong::join(path, name);
        self.input.pieces = self.list(&parts.pieces, &list("pieces"), PieceJson::row);
        self.input.stock = self.list(&parts.stock, &list("stock"), StockJson::row);
        self.input.in_hand = self.list(&parts.in_hand, &list("in_hand"), HandJson::row);
    }

    fn list<J, R>(
        &mut self,
        rows: &[&RawValue],
        path: &str,
        read: impl Fn(&J, &mut Cells, &str) -> R,
    ) -> Vec<R>
    where
        J: for<'de> Deserialize<'de> + JsonSchema,
    {
        let mut input = Vec::with_capacity(rows.len());
        for (at, &raw) in rows.iter().enumerate() {
            let path = format!("{path}[{at}]");
            if self.faults.len() >= MOST_FAULTS {
                let place = self.text.place(raw, path);
                self.faults
                    .push(self.text.located(behind_the_last(), &place));
                break;
            }
            let before = self.faults.len();
            let Some(row) = self.one::<J, J>(raw, &path) else {
                continue;
            };
            let mut cells = self.cells();
            input.push(read(&row, &mut cells, &path));
            let place = self.text.place(raw, path);
            let faults = cells.faults.into_iter();
            self.faults
                .extend(faults.map(|fault| self.text.located(fault, &place)));
            if self.faults.len() > before {
                self.broken.insert(self.places.len());
            }
            self.places.push(place);
        }
        input
    }

    /// One object of the document. `Known` is what its fields are called by.
    fn one<'a, T: Deserialize<'a>, Known: JsonSchema>(
        &mut self,
        raw: &'a RawValue,
        path: &str,
    ) -> Option<T> {
        let place = self.text.place(raw, path.to_owned());
        let read = wrong::read::<T, Known>(raw, path);
        for unknown in read.unknown {
            self.faults.push(self.text.located(unknown, &place));
        }
        match read.value {
            Ok(value) => Some(value),
            Err(wrong) => {
                self.faults.push(self.text.mistyped(wrong, raw));
                None
            }
        }
    }

    fn cells(&self) -> Cells {
        Cells::new(&self.text.source)
    }

    fn origins(&mut self) -> impl Iterator<Item = &mut Origin> {
        let JobInput {
            pieces,
            stock,
            in_hand,
            ..
        } = &mut self.input;
        let pieces = pieces.iter_mut().map(|row| &mut row.origin);
        let stock = stock.iter_mut().map(|row| &mut row.origin);
        pieces
            .chain(stock)
            .chain(in_hand.iter_mut().map(|row| &mut row.origin))
    }

    /// Rows keep the place where they were first read, so that a plan says the same as from tables. Where none is
    /// stated, or another row states the same, it is the place in this document: origins tell rows apart.
    fn state_origins(&mut self) {
        let source = Arc::clone(&self.text.source);
        let places = std::mem::take(&mut self.places);
        let mut taken = HashSet::new();
        for (origin, place) in self.origins().zip(&places) {
            if origin.source.is_empty() || taken.contains(origin) {
                *origin = Origin {
                    source: Arc::clone(&source),
                    line: place.line,
                };
            }
            if taken.contains(origin) {
                origin.source = Arc::from(format!("{source}, {}", place.path));
            }
            taken.insert(origin.clone());
        }
        self.places = places;
    }

    /// Checks the job as a whole, with the saw as flags left it; `faults` holds those of the flags.
    ///
    /// # Errors
    /// Every fault of the flags and the document, from its first line to its last.
    pub fn finish(
        mut self,
        settings: Settings,
        mut faults: Vec<Fault>,
    ) -> Result<ReadJob, Vec<Fault>> {
        self.input.saw = settings.saw;
        let mut more = self.check(&settings.ceilings.job);
        self.faults.append(&mut more);
        if self.faults.is_empty() && faults.is_empty() {
            match self.input.clone().validate_within(&settings.ceilings.job) {
                Ok(job) => {
                    return Ok(ReadJob {
                        input: self.input,
                        job,
                    });
                }
                Err(more) => self.faults = self.of_one_source(more.0),
            }
        }
        let line = |fault: &Fault| fault.origin.as_ref().map(|origin| origin.line);
        self.faults.sort_by_key(line);
        faults.append(&mut self.faults);
        Err(faults)
    }

    /// Faults between rows that were first read from one table: in their places here, with the lines there.
    fn of_one_source(&mut self, faults: Vec<Fault>) -> Vec<Fault> {
        let mut rows: HashMap<Origin, usize> = HashMap::new();
        for (row, origin) in self.origins().enumerate() {
            rows.entry(origin.clone()).or_insert(row);
        }
        let located = faults.into_iter().map(|fault| {
            let Some(origin) = &fault.origin else {
                return fault;
            };
            let Some(place) = rows.get(origin).and_then(|row| self.places.get(*row)) else {
                return fault;
            };
            let column = fault.column.as_deref().unwrap_or_default();
            let found = format!("{} ({origin})", fault.found);
            let column = Some(wrong::join(&place.path, column));
            let fault = Fault {
                column,
                found,
                ..fault
            };
            self.text.located(fault, place)
        });
        located.collect()
    }

    /// The faults of the job as a whole, each in its place here. Where single fields are wrong already, only what
    /// other rows have wrong for themselves.
    fn check(&mut self, ceilings: &Ceilings) -> Vec<Fault> {
        let Some(whole) = (!self.places.is_empty()).then(|| self.input.clone()) else {
            return Vec::new();
        };
        let lines: Vec<u64> = self.places.iter().map(|place| place.line).collect();
        for (at, (origin, line)) in self.origins().zip(lines).enumerate() {
            *origin = Origin {
                source: Arc::from(at.to_string()),
                line,
            };
        }
        let checked = std::mem::replace(&mut self.input, whole).validate_within(ceilings);
        let faults = checked.err().map(|faults| faults.0).unwrap_or_default();
        let is_whole = self.faults.is_empty();
        let of_rows = |kind| matches!(kind, FaultKind::Value | FaultKind::Range);
        let mut located = Vec::new();
        for fault in faults {
            let row = fault
                .origin
                .as_ref()
                .and_then(|origin| origin.source.parse().ok());
            let place = row.and_then(|row: usize| self.places.get(row));
            let (Some(row), Some(place)) = (row, place) else {
                located.push(fault);
                continue;
            };
            let column = fault.column.as_deref().unwrap_or_default();
            let for_itself = !self.broken.contains(&row) || STAND_ALONE.contains(&column);
            if is_whole || (of_rows(fault.kind) && for_itself) {
                let column = Some(wrong::join(&place.path, column));
                located.push(self.text.located(Fault { column, ..fault }, place));
            }
        }
        located
    }
}
