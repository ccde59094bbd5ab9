//! From files to a checked job, or to the list of everything that is wrong with them.

pub mod cells;
pub mod grammar;
mod measured;
mod rows;
mod source;
mod table;

use std::collections::HashSet;
use std::sync::Arc;

use lengthwise::job::{HandRow, PieceRow, StockRow};
use lengthwise::quotes::{Quote, Quotes, QuotesInput};
use lengthwise::{Fault, FaultKind, Job, JobInput, Origin};

use crate::args::{JobArgs, QuotesArgs};
use crate::ceilings;
use crate::json::read_job::{JobDocument, read_job_json};
use crate::settings::Settings;
pub use measured::read_measured;
pub use rows::{MOST_FAULTS, behind_the_last};
use source::{STANDARD_INPUT, read_source};
pub use source::{read_json, read_text, source_name};
pub use table::nearest;
use table::{Layout, Table, Within, read_table};

/// What is attacked by itself.
#[cfg(any(test, fuzzing))]
pub mod attacked {
    pub use super::measured::measured_in;
    pub use super::rows::{IN_HAND, PIECES, STOCK, in_hand, pieces, stock};
    pub use super::source::text_of;
    pub use super::table::{Layout, Table, Within, read_table};
}

/// A job that was read and checked.
#[derive(Debug)]
pub struct ReadJob {
    /// The rows as they were read.
    pub input: JobInput,
    /// The checked job.
    pub job: Job,
}

/// Reads the job from one JSON document where that is asked for, before the flags, which go over its settings.
pub fn read_document(args: &JobArgs) -> Option<JobDocument> {
    let path = args.job.as_deref()?;
    // A faulty flag is reported with the others.
    let ceilings = ceilings::ceilings(&args.saw.ceiling, &ceilings::ALL, &mut Vec::new());
    Some(match read_json(path, ceilings.plan) {
        Ok(text) => read_job_json(text, source_name(path)),
        Err(fault) => JobDocument::unreadable(fault),
    })
}

/// Reads all files and checks the job as a whole; `faults` holds those of the flags already.
///
/// # Errors
/// Every fault of the flags and the files, in the order in which they were named.
pub fn read_job(
    args: &JobArgs,
    document: Option<JobDocument>,
    settings: Settings,
    faults: Vec<Fault>,
) -> Result<ReadJob, Vec<Fault>> {
    if let Some(document) = document {
        return document.finish(settings, faults);
    }
    let mut reading = ReadingRun::new(settings, faults);
    let mut input = JobInput {
        saw: reading.settings.saw.clone(),
        ..JobInput::default()
    };
    if let Some(path) = &args.pieces {
        input.pieces = reading.pieces(path);
    }
    for path in &args.stock {
        input.stock.extend(reading.stock(path));
    }
    for path in &args.in_hand {
        input.in_hand.extend(reading.in_hand(path));
    }
    reading.finish(input)
}

/// Reads the pieces and all quotes, and checks them; `faults` holds those of the flags already. A quote has
/// the name of its file.
///
/// # Errors
/// As [`read_job`].
pub fn read_quotes(
    args: &QuotesArgs,
    settings: Settings,
    faults: Vec<Fault>,
) -> Result<Quotes, Vec<Fault>> {
    let mut reading = ReadingRun::new(settings, faults);
    let mut input = QuotesInput {
        saw: reading.settings.saw.clone(),
        ..QuotesInput::default()
    };
    input.pieces = reading.pieces(&args.pieces);
    for path in &args.quote {
        input.quotes.push(Quote {
            name: source_name(path).to_owned(),
            stock: reading.stock(path),
        });
    }
    for path in &args.in_hand {
        input.in_hand.extend(reading.in_hand(path));
    }
    if reading.faults.len() > MOST_FAULTS {
        return Err(reading.in_order(Vec::new()));
    }
    match input.validate_within(&reading.settings.ceilings.job) {
        Ok(quotes) if reading.faults.is_empty() => Ok(quotes),
        Ok(_) => Err(reading.in_order(Vec::new())),
        Err(more) => Err(reading.in_order(more.0)),
    }
}

struct ReadingRun {
    settings: Settings,
    faults: Vec<Fault>,
    sources: Vec<Arc<str>>,
    stdin_taken: bool,
    /// Kinds of fault that may only follow from a file that could not be read as it was meant.
    doubtful: HashSet<FaultKind>,
    /// Files whose materials may stand below a heading that is not known.
    nameless: HashSet<Arc<str>>,
}

impl ReadingRun {
    fn new(settings: Settings, faults: Vec<Fault>) -> ReadingRun {
        ReadingRun {
            settings,
            faults,
            sources: Vec::new(),
            stdin_taken: false,
            doubtful: HashSet::new(),
            nameless: HashSet::new(),
        }
    }

    fn pieces(&mut self, path: &str) -> Vec<PieceRow> {
        let Some(table) = self.table(path, &rows::PIECES) else {
            return Vec::new();
        };
        if table.guessed.contains(&"material") {
            self.doubtful.insert(FaultKind::NoStockOffered);
        }
        rows::pieces(&table, &mut self.faults)
    }

    fn stock(&mut self, path: &str) -> Vec<StockRow> {
        let table = self.table(path, &rows::STOCK);
        self.doubt_bars(table.as_ref());
        table.map_or_else(Vec::new, |table| rows::stock(&table, &mut self.faults))
    }

    fn in_hand(&mut self, path: &str) -> Vec<HandRow> {
        let table = self.table(path, &rows::IN_HAND);
        self.doubt_bars(table.as_ref());
        table.map_or_else(Vec::new, |table| rows::in_hand(&table, &mut self.faults))
    }

    fn table(&mut self, path: &str, layout: &Layout) -> Option<Table> {
        let source: Arc<str> = Arc::from(source_name(path));
        let origin = Origin {
            source: Arc::clone(&source),
            line: 0,
        };
        self.sources.push(Arc::clone(&source));
        if path == STANDARD_INPUT && std::mem::replace(&mut self.stdin_taken, true) {
            self.faults.push(Fault {
                kind: FaultKind::Unreadable,
                origin: Some(origin),
                column: None,
                found: "\"-\" for more than one file".to_owned(),
                accepted: "\"-\" once: standard input can be read only once".to_owned(),
            });
            return None;
        }
        match read_source(path, &origin, &self.settings.ceilings) {
            Ok(text) => {
                let within = Within {
                    unit: self.settings.unit,
                    ceilings: &self.settings.ceilings,
                };
                let table = read_table(&text, &source, layout, within, &mut self.faults);
                if table.as_ref().is_some_and(|table| table.nameless) {
                    self.doubtful.insert(FaultKind::NoStockOffered);
                    self.nameless.insert(source);
                }
                table
            }
            Err(fault) => {
                self.faults.push(fault);
                None
            }
        }
    }

    /// What a file of bars lacks, other rows must not be blamed for.
    fn doubt_bars(&mut self, table: Option<&Table>) {
        use FaultKind::{
            AllowancesEatEveryBar, KerfDiffers, KerfTooWide, NoStockOffered, NotPriced,
            PricesOnSomeRows, RowsDiffer, WorthWithoutPrices,
        };
        if table.is_none_or(|table| table.incomplete) {
            self.doubtful.extend([
                NoStockOffered,
                WorthWithoutPrices,
                KerfTooWide,
                AllowancesEatEveryBar,
            ]);
        }
        for column in table.map_or(&[][..], |table| &table.guessed) {
            let kinds: &[FaultKind] = match *column {
                "length" => &[KerfTooWide, AllowancesEatEveryBar],
                "price" => &[PricesOnSomeRows, WorthWithoutPrices, NotPriced],
                "kerf" => &[KerfDiffers, KerfTooWide],
                "square_off" => &[AllowancesEatEveryBar],
                "shortest" | "save_from" | "expansion" | "delivery" => &[RowsDiffer],
                "material" => &[
                    NoStockOffered,
                    PricesOnSomeRows,
                    KerfDiffers,
                    RowsDiffer,
                    WorthWithoutPrices,
                    KerfTooWide,
                    AllowancesEatEveryBar,
                ],
                _ => &[],
            };
            self.doubtful.extend(kinds);
        }
    }

    fn finish(self, input: JobInput) -> Result<ReadJob, Vec<Fault>> {
        // Rows that were not read must not be missed.
        if self.faults.len() > MOST_FAULTS {
            return Err(self.in_order(Vec::new()));
        }
        let checked = input.clone();
        let checked = checked.validate_within(&self.settings.ceilings.job);
        match checked {
            Ok(job) if self.faults.is_empty() => Ok(ReadJob { input, job }),
            Ok(_) => Err(self.in_order(Vec::new())),
            Err(more) => Err(self.in_order(more.0)),
        }
    }

    /// The faults of cells and of the job together, without those that only follow from others,
    /// flags first, then file by file and line by line.
    fn in_order(self, more: Vec<Fault>) -> Vec<Fault> {
        let cell = |fault: &Fault| Some((fault.origin.clone()?, fault.column.clone()?));
        let reported: HashSet<_> = self.faults.iter().filter_map(cell).collect();
        let no_name = reported.iter().any(|(_, column)| column == "material");
        let from_nameless = |(origin, column): &(Origin, String)| {
            column == "material" && self.nameless.contains(&origin.source)
        };
        let follows = |fault: &Fault| {
            self.doubtful.contains(&fault.kind)
                || (no_name && fault.kind == FaultKind::NoStockOffered)
                || cell(fault).is_some_and(|cell| reported.contains(&cell) || from_nameless(&cell))
        };
        let mut faults = self.faults;
        faults.extend(more.into_iter().filter(|fault| !follows(fault)));
        let place = |origin: &Origin| {
            let file = self.sources.iter().position(|name| *name == origin.source);
            (file, origin.line)
        };
        faults.sort_by_key(|fault| fault.origin.as_ref().map(place));
        faults
    }
}
