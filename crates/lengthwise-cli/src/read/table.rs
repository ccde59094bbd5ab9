//! From text to a table: separator, headings, and rows with their line numbers.

mod headings;

use std::collections::BTreeMap;
use std::sync::Arc;

use csv::{ReaderBuilder, StringRecord};
use lengthwise::Reading;
use lengthwise::{Ceiling, Fault, FaultKind, Origin, Unit};

use super::cells::quoted;
use super::source::{Text, empty};
use crate::ceilings::{Ceilings, above};
pub use headings::nearest;
use headings::{Headings, column_name};

/// Most cells of one row: far more than any list has columns.
const MOST_CELLS: usize = 1_000;

/// The columns of one kind of file.
#[derive(Debug)]
pub struct Layout {
    /// Columns that are read; the first is required.
    pub known: &'static [&'static str],
    /// Whether a header without rows is a fault.
    pub needs_rows: bool,
}

/// A table whose headings have been understood.
#[derive(Debug)]
pub struct Table {
    /// How numbers are written.
    pub reading: Reading,
    /// Whether bytes were replaced because they are not UTF-8.
    pub replaced: bool,
    /// The place of each column that is there.
    columns: BTreeMap<&'static str, usize>,
    /// The rows, blank and ragged ones left out.
    pub rows: Vec<Row>,
    /// Columns that are read under a name that was only guessed.
    pub guessed: Vec<&'static str>,
    /// Whether the material may stand below a heading that is too odd for a guess.
    pub nameless: bool,
    /// Whether rows are missing because their cells cannot be told apart.
    pub incomplete: bool,
}

/// A row of cells.
#[derive(Debug)]
pub struct Row {
    /// Where it stands.
    pub origin: Origin,
    cells: StringRecord,
}

impl Table {
    /// The cell of a column, trimmed; `None` where there is no such column.
    pub fn cell<'a>(&self, row: &'a Row, column: &str) -> Option<&'a str> {
        self.columns
            .get(column)
            .map(|&place| row.cells.get(place).unwrap_or("").trim())
    }
}

/// How bare numbers are read, and how much there may be.
#[derive(Clone, Copy, Debug)]
pub struct Within<'a> {
    /// The unit of bare numbers.
    pub unit: Unit,
    /// The ceilings of files.
    pub ceilings: &'a Ceilings,
}

/// Reads a text as a table; every fault of its shape goes to `faults`, and there is one where there is no table.
pub fn read_table(
    text: &Text,
    source: &Arc<str>,
    layout: &Layout,
    within: Within<'_>,
    faults: &mut Vec<Fault>,
) -> Option<Table> {
    let unit = within.unit;
    let (separator, is_used) = separator(&text.text);
    let mut incomplete = check_quotes(&text.text, separator, source, faults)?;
    let most = within.ceilings.job.rows;
    let rows = match split_rows(&text.text, separator, source, most) {
        Ok(rows) => rows,
        Err(fault) => {
            faults.push(*fault);
            return None;
        }
    };
    let mut rows = rows.into_iter();
    let Some(header) = rows.next() else {
        // What is never closed may have swallowed the rows, and is a fault already.
        if !incomplete {
            faults.push(empty(source));
        }
        return None;
    };
    let mut headings = Headings::new(&header, layout);
    headings.read(faults);
    let mut kept = Vec::new();
    for row in rows {
        if !check_fields(&row, &header, within.ceilings.field, faults) {
            incomplete = true;
        } else if check_width(&row, &header, faults) {
            check_unnamed(&row, &headings.unnamed, faults);
            kept.push(row);
        } else {
            incomplete = true;
        }
    }
    if kept.is_empty() && !incomplete && layout.needs_rows {
        faults.push(Fault {
            kind: FaultKind::Unreadable,
            origin: Some(header.origin.clone()),
            column: None,
            found: "column names and no rows".to_owned(),
            accepted: "at least one row below the column names".to_owned(),
        });
    }
    Some(Table {
        reading: Reading {
            unit,
            decimal_comma: separator == b';',
            // Between commas a number has a point for its decimals and no mark besides.
            thousands: separator != b',' || !is_used,
        },
        replaced: text.replaced,
        nameless: headings.odd && !headings.columns.contains_key("material"),
        columns: headings.columns,
        rows: kept,
        guessed: headings.guessed,
        incomplete,
    })
}

/// The separator that the first line with letters uses most, or the whole text where there are no letters; a
/// comma where it uses none. And whether it is used.
fn separator(text: &str) -> (u8, bool) {
    let header = text
        .lines()
        .find(|line| line.chars().any(char::is_alphanumeric))
        .unwrap_or(text);
    let mut best = (0, b',');
    for separator in [b',', b';', b'\t'] {
        let count = header.bytes().filter(|&byte| byte == separator).count();
        if count > best.0 {
            best = (count, separator);
        }
    }
    (best.1, best.0 > 0)
}

/// Splits the text into rows, blank rows left out; `most` are allowed below the column names.
fn split_rows(
    text: &str,
    separator: u8,
    source: &Arc<str>,
    most: u64,
) -> Result<Vec<Row>, Box<Fault>> {
    let mut reader = ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(separator)
        .from_reader(text.as_bytes());
    let mut lines = LineCounter::new(text);
    let mut rows = Vec::new();
    let mut record = StringRecord::new();
    // Reading from memory that is valid UTF-8, with any number of cells allowed, cannot fail.
    while let Ok(true) = reader.read_record(&mut record) {
        let start = record.position().map_or(0, csv::Position::byte);
        let line = lines.line_of(start);
        if record.iter().any(|cell| !cell.trim().is_empty()) {
            // Widening on every platform.
            if rows.len() as u64 > most {
                let origin = Origin {
                    source: Arc::clone(source),
                    line,
                };
                let found = format!("a row more than {most}");
                return Err(Box::new(above(Ceiling::Rows, &origin, None, &found, most)));
            }
            rows.push(Row {
                origin: Origin {
                    source: Arc::clone(source),
                    line,
                },
                cells: record.clone(),
            });
        }
    }
    Ok(rows)
}

/// Whether every cell is as short as it may be.
fn check_fields(row: &Row, header: &Row, most: u64, faults: &mut Vec<Fault>) -> bool {
    // Widening on every platform.
    let too_long = row.cells.iter().position(|cell| cell.len() as u64 > most);
    let Some(place) = too_long else {
        return true;
    };
    let column = match header.cells.get(place) {
        Some(heading) => column_name(heading),
        None => format!("column {}", place + 1),
    };
    let bytes = row.cells.get(place).map_or(0, str::len);
    let found = format!("a cell of {bytes} bytes");
    faults.push(above(
        Ceiling::Field,
        &row.origin,
        Some(column),
        &found,
        most,
    ));
    false
}

/// Turns places of records into line numbers, whatever ends the lines.
///
/// The reader's own count is taken before it skips blank lines, so it can point above the row.
struct LineCounter<'a> {
    bytes: &'a [u8],
    at: usize,
    line: u64,
}

impl<'a> LineCounter<'a> {
    fn new(text: &'a str) -> LineCounter<'a> {
        LineCounter {
            bytes: text.as_bytes(),
            at: 0,
            line: 1,
        }
    }

    /// The line of the first byte at or after `start` that is no line end; calls go forward.
    fn line_of(&mut self, start: u64) -> u64 {
        let start = usize::try_from(start).unwrap_or(usize::MAX);
        while let Some(&byte) = self.bytes.get(self.at) {
            let ends_line = byte == b'\n' || byte == b'\r';
            if self.at >= start && !ends_line {
                break;
            }
            let first_of_two = byte == b'\r' && self.bytes.get(self.at + 1) == Some(&b'\n');
            if ends_line && !first_of_two {
                self.line += 1;
            }
            self.at += 1;
        }
        self.line
    }
}

/// A quotation mark that opens a cell and is never closed would swallow the rest of the file:
/// whether there is one. `None` where a row has too many cells to be read at all.
fn check_quotes(
    text: &str,
    separator: u8,
    source: &Arc<str>,
    faults: &mut Vec<Fault>,
) -> Option<bool> {
    enum State {
        Start,
        Plain,
        Quoted,
        MaybeClosed,
    }
    let (mut state, mut line, mut opened) = (State::Start, 1_u64, 1_u64);
    let mut cells = 0;
    for byte in text.bytes() {
        if byte == b'\n' {
            line += 1;
        }
        let between = byte == separator || byte == b'\n' || byte == b'\r';
        if between && !matches!(state, State::Quoted) {
            cells = if byte == separator { cells + 1 } else { 0 };
            if cells >= MOST_CELLS {
                faults.push(too_many_cells(source, line));
                return None;
            }
        }
        state = match state {
            State::Start if byte == b'"' => {
                opened = line;
                State::Quoted
            }
            State::Quoted if byte == b'"' => State::MaybeClosed,
            State::Quoted => State::Quoted,
            State::MaybeClosed if byte == b'"' => State::Quoted,
            _ if between => State::Start,
            _ => State::Plain,
        };
    }
    let open = matches!(state, State::Quoted);
    if open {
        faults.push(Fault {
            kind: FaultKind::Unreadable,
            origin: Some(Origin {
                source: Arc::clone(source),
                line: opened,
            }),
            column: None,
            found: "a cell that starts with a quotation mark and never ends".to_owned(),
            accepted: "a closing quotation mark, or none (write inches as 7/8\" or \"7/8\"\"\")"
                .to_owned(),
        });
    }
    Some(open)
}

fn too_many_cells(source: &Arc<str>, line: u64) -> Fault {
    Fault {
        kind: FaultKind::Unreadable,
        origin: Some(Origin {
            source: Arc::clone(source),
            line,
        }),
        column: None,
        found: format!("more than {MOST_CELLS} cells in one row"),
        accepted: format!("at most {MOST_CELLS}"),
    }
}

/// Whether the row has as many cells as the header.
fn check_width(row: &Row, header: &Row, faults: &mut Vec<Fault>) -> bool {
    let (cells, headings) = (row.cells.len(), header.cells.len());
    if cells == headings {
        return true;
    }
    let cell = if cells == 1 { "cell" } else { "cells" };
    // The first cell without a heading, or the first heading without a cell.
    let column = match header.cells.get(cells) {
        Some(missing) => column_name(missing),
        None => format!("column {}", headings + 1),
    };
    faults.push(Fault {
        kind: FaultKind::Value,
        origin: Some(row.origin.clone()),
        column: Some(column),
        found: format!("a row of {cells} {cell}"),
        accepted: format!("{headings} cells, as in the line of column names"),
    });
    false
}

/// Columns without a name may only be empty: nothing in a file is passed over.
fn check_unnamed(row: &Row, unnamed: &[usize], faults: &mut Vec<Fault>) {
    for &place in unnamed {
        let cell = row.cells.get(place).unwrap_or("").trim();
        if !cell.is_empty() {
            faults.push(Fault {
                kind: FaultKind::Heading,
                origin: Some(row.origin.clone()),
                column: Some(format!("column {}", place + 1)),
                found: format!("{} below no column name", quoted(cell)),
                accepted: "a column name above it, or an empty cell".to_owned(),
            });
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::headings::OTHER_WORDS;
    use super::*;
    use proptest::prelude::*;

    const LAYOUT: Layout = Layout {
        known: &["length", "material", "qty"],
        needs_rows: true,
    };

    fn table(text: &str) -> (Option<Table>, Vec<Fault>) {
        let text = Text {
            text: text.to_owned(),
            replaced: false,
        };
        let mut faults = Vec::new();
        let within = Within {
            unit: Unit::Mm,
            ceilings: &Ceilings::default(),
        };
        let table = read_table(&text, &Arc::from("f"), &LAYOUT, within, &mut faults);
        (table, faults)
    }

    fn lines(text: &str) -> Vec<u64> {
        let (table, faults) = table(text);
        assert_eq!(faults, []);
        table
            .unwrap()
            .rows
            .iter()
            .map(|row| row.origin.line)
            .collect()
    }

    /// The columns of what is guessed for these headings.
    fn guesses(header: &str) -> Vec<Option<String>> {
        let cells = vec!["1"; header.split(',').count()].join(",");
        let (_, faults) = table(&format!("{header}\n{cells}\n"));
        let of_headings = faults
            .iter()
            .filter(|fault| fault.found.starts_with("the unknown"));
        let guess = |found: &str| {
            Some(
                found
                    .split_once("did you mean \"")?
                    .1
                    .trim_end_matches("\"?")
                    .to_owned(),
            )
        };
        of_headings.map(|fault| guess(&fault.found)).collect()
    }

    #[test]
    fn other_words_for_a_column_are_known() {
        let of = |known: &str| Some(known.to_owned());
        assert_eq!(guesses("length,pcs"), [of("qty")]);
        assert_eq!(guesses("cut,timber"), [of("length"), of("material")]);
        // A word goes before what looks alike, wherever it stands; a column that is there is not offered.
        assert_eq!(guesses("lenghth,size"), [of("length"), None]);
        assert_eq!(guesses("length,size,qty,qyt"), [None, None]);
        // A number may be that of the row or a count, and a price that of a bar or of a metre: nothing is guessed.
        assert_eq!(guesses("length,no,shelf"), [None, None]);
    }

    #[test]
    fn other_words_are_for_columns_that_there_are() {
        use crate::read::rows::{IN_HAND, PIECES, STOCK};
        let layouts = [PIECES, STOCK, IN_HAND];
        let known = |name: &str| layouts.iter().any(|layout| layout.known.contains(&name));
        for (other, column) in OTHER_WORDS {
            assert!(known(column) && !known(other), "{other}, {column}");
        }
    }

    #[test]
    fn rows_keep_the_line_they_start_on() {
        assert_eq!(lines("length,qty\n1,1\n2,1\n"), [2, 3]);
        assert_eq!(lines("length,qty\r\n1,1\r\n2,1\r\n"), [2, 3]);
        assert_eq!(lines("length,qty\r1,1\r2,1"), [2, 3]);
        assert_eq!(lines("\n\nlength,qty\n\n1,1\n\n\n2,1\n"), [5, 8]);
        assert_eq!(lines("length,qty\r\n\r\n1,1\r\n , \r\n2,1\r\n"), [3, 5]);
        assert_eq!(lines("length,material\n1,\"a\nb\"\n2,c\n"), [2, 4]);
    }

    #[test]
    fn the_separator_is_found_from_the_header() {
        for (text, comma, thousands) in [
            ("length;qty\n2,5;1\n", true, true),
            ("length\tqty\n2\t1\n", false, true),
            ("LENGTH , Qty\n2,1\n", false, false),
            ("length\n2\n", false, true),
        ] {
            let (table, faults) = table(text);
            assert_eq!(faults, []);
            let table = table.unwrap();
            assert_eq!(table.reading.decimal_comma, comma, "{text}");
            assert_eq!(table.reading.thousands, thousands, "{text}");
            let length = table.cell(&table.rows[0], "length").unwrap();
            assert!(length.starts_with('2'));
        }
    }

    #[test]
    fn an_unknown_heading_is_read_as_its_nearest() {
        let (table, faults) = table("lenght,qty\n5,1\n");
        assert_eq!(faults.len(), 2, "{faults:?}");
        assert!(faults[0].found.contains("did you mean \"length\"?"));
        let table = table.unwrap();
        assert_eq!(table.cell(&table.rows[0], "length"), Some("5"));
    }

    #[test]
    fn an_odd_heading_is_read_as_nothing() {
        let (table, faults) = table("length,shelf\n5,larch\n");
        assert_eq!(faults.len(), 1, "{faults:?}");
        assert!(table.unwrap().nameless);
        assert!(
            !self::table("length,materail\n5,larch\n")
                .0
                .unwrap()
                .nameless
        );
    }

    #[test]
    fn a_quote_that_never_closes_is_found() {
        let (_, faults) = table("length,material\n5,\"a\n6,b\n");
        assert_eq!(faults[0].origin.as_ref().unwrap().line, 2);
        let (_, faults) = table("length,qty\n7' 3 1/4\",1\n\"7/8\"\"\",2\n");
        assert_eq!(faults, []);
    }

    proptest! {
        #[test]
        fn no_text_panics_and_lines_go_down(text in "(length|qty|\"|,|;|\t|\r|\n| |1|\\PC){0,60}") {
            let (table, faults) = table(&text);
            prop_assert!(table.is_some() || !faults.is_empty());
            if let Some(table) = table {
                let lines: Vec<u64> = table.rows.iter().map(|row| row.origin.line).collect();
                prop_assert!(lines.windows(2).all(|pair| pair[0] < pair[1]), "{:?}", lines);
                let most = text.chars().filter(|c| matches!(c, '\r' | '\n')).count() as u64 + 1;
                prop_assert!(lines.iter().all(|&line| line <= most));
            }
        }
    }

    #[test]
    fn a_column_without_a_name_may_only_be_empty() {
        assert_eq!(table("length,qty,\n5,1,\n").1, []);
        let (_, faults) = table("length,qty,\n5,1,x\n");
        assert_eq!(faults[0].column.as_deref(), Some("column 3"));
    }
}
