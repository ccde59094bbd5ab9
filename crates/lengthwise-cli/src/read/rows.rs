//! From a table to the rows of a job. A cell that cannot be read is reported and stands as a
//! harmless value, so that the rest of the job is still checked in the same run.

use lengthwise::Measure;
use lengthwise::job::{HandRow, Joints, LARGEST_QUANTITY, PieceRow, Quantity, SquareOff, StockRow};
use lengthwise::{Fault, FaultKind, Length, Unit};

use super::cells::{self, Wrong};
use super::grammar;
use super::table::{Layout, Row, Table};

/// The list of pieces.
pub const PIECES: Layout = Layout {
    known: &[
        "length",
        "material",
        "mark",
        "qty",
        "to",
        "step",
        "end_gap",
        "ends",
        "spare",
        "joints",
        "joint_gap",
        "joints_max",
        "shortest",
        "course_group",
        "course",
        "course_rule",
        "stage",
        "wall",
        "batch",
        "leave_long",
        "note",
    ],
    needs_rows: true,
};

/// What can be bought.
pub const STOCK: Layout = Layout {
    known: &[
        "length",
        "material",
        "price",
        "sold",
        "available",
        "kerf",
        "square_off",
        "shortest",
        "save_from",
        "expansion",
        "delivery",
        "batch",
        "note",
    ],
    needs_rows: true,
};

/// What is in hand. A list of nothing is fine: a plan without offcuts writes one.
pub const IN_HAND: Layout = Layout {
    known: &[
        "length",
        "material",
        "available",
        "square_off",
        "worth",
        "batch",
        "note",
    ],
    needs_rows: false,
};

/// A bar of unreadable length stands as this one: longer than any blade or allowance, and still
/// within the sums that are exact when a million of them are in hand.
const HARMLESS_BAR: Length = Length::from_mm(50_000);
/// A piece of unreadable length stands as this one: it adds next to nothing.
const HARMLESS_PIECE: Length = Length::from_mm(1);
/// Nobody reads on after so many faults, and a file of nothing else would take all the memory there is.
pub const MOST_FAULTS: usize = 10_000;
/// A course of unreadable number stands as this one, which no wall reaches.
const HARMLESS_COURSE: u64 = LARGEST_QUANTITY;
/// A group of unreadable name stands as this one, which nobody writes.
const HARMLESS_GROUP: &str = "\u{fffd}";

/// Whether there are so many faults that the other rows are not read; the last fault says so then.
pub fn too_many(row: &Row, faults: &mut Vec<Fault>) -> bool {
    if faults.len() < MOST_FAULTS {
        return false;
    }
    faults.push(Fault {
        origin: Some(row.origin.clone()),
        ..behind_the_last()
    });
    true
}

/// What stands for the rows behind the last fault that is told; its place is for the caller to add.
pub fn behind_the_last() -> Fault {
    Fault {
        kind: FaultKind::Unreadable,
        origin: None,
        column: None,
        found: format!("a row behind {MOST_FAULTS} faults, where reading stopped"),
        accepted: "a file with fewer faults".to_owned(),
    }
}

/// The pieces of a table.
pub fn pieces(table: &Table, faults: &mut Vec<Fault>) -> Vec<PieceRow> {
    let mut read = Vec::with_capacity(table.rows.len());
    for row in &table.rows {
        if too_many(row, faults) {
            break;
        }
        read.push(piece(RowReader { table, row, faults }));
    }
    read
}

/// One row of pieces. Where a cell cannot be read, what depends on it is not blamed.
fn piece(mut row: RowReader<'_>) -> PieceRow {
    let reading = row.table.reading;
    let length = row.length();
    let harmless = length.unwrap_or(Measure {
        length: HARMLESS_PIECE,
        unit: Unit::Mm,
    });
    let to = row.cell_or("to", harmless, |text| cells::read_length(text, reading));
    let several = Quantity::Count(if to.is_some() { 2 } else { 1 });
    let read = PieceRow {
        material: row.text("material"),
        mark: row.text("mark"),
        qty: row
            .cell_or("qty", several, |text| grammar::read_quantity(text, reading))
            .unwrap_or_default(),
        to,
        step: row.above_zero("step").map(|step| step.length),
        end_gap: row
            .cell("end_gap", |text| grammar::read_end_gap(text, reading))
            .unwrap_or_default(),
        ends: row
            .cell("ends", |text| grammar::read_ends(text, reading))
            .unwrap_or_default(),
        spare: row.count("spare", 0).unwrap_or(0),
        joints: row.cell_or("joints", Joints::Anywhere, |text| {
            grammar::read_joints(text, reading)
        }),
        joint_gap: row.width("joint_gap"),
        joints_max: row.count("joints_max", 1),
        shortest: row.above_zero("shortest").map(|shortest| shortest.length),
        course_group: row
            .cell_or("course_group", HARMLESS_GROUP.to_owned(), cells::read_text)
            .unwrap_or_default(),
        course: row.cell_or("course", HARMLESS_COURSE, |text| cells::read_count(text, 1)),
        course_rule: row.cell("course_rule", grammar::read_course_rule),
        leave_long: row.width("leave_long"),
        stage: row.count("stage", 1).unwrap_or(1),
        wall: row.text("wall"),
        batch: row.text("batch"),
        note: row.text("note"),
        ..PieceRow::new(row.row.origin.clone(), harmless)
    };
    match length {
        Some(_) => read,
        // Gaps and places that are right for the true length may be wrong for another.
        None => PieceRow {
            material: read.material,
            mark: read.mark,
            ..PieceRow::new(read.origin, read.length)
        },
    }
}

/// The stock of a table.
pub fn stock(table: &Table, faults: &mut Vec<Fault>) -> Vec<StockRow> {
    let read = |row| {
        if too_many(row, faults) {
            return None;
        }
        let mut row = RowReader { table, row, faults };
        let reading = table.reading;
        let prices = row.cell("price", |text| cells::read_prices(text, reading));
        let price = prices.as_ref().map(|(price, _)| *price);
        Some(StockRow {
            origin: row.row.origin.clone(),
            material: row.text("material"),
            length: row.bar(),
            price,
            breaks: prices.map(|(_, breaks)| breaks).unwrap_or_default(),
            sold: row.cell("sold", cells::read_sold).unwrap_or_default(),
            available: row.count("available", 0),
            kerf: row.width("kerf"),
            square_off: row.square_off(),
            shortest: row.above_zero("shortest").map(|shortest| shortest.length),
            save_from: row.width("save_from"),
            expansion: row.cell("expansion", |text| cells::read_expansion(text, reading)),
            delivery: row.cell("delivery", |text| cells::read_price(text, reading)),
            batch: row.text("batch"),
            note: row.text("note"),
        })
    };
    table.rows.iter().map_while(read).collect()
}

/// The bars in hand of a table.
pub fn in_hand(table: &Table, faults: &mut Vec<Fault>) -> Vec<HandRow> {
    let read = |row| {
        if too_many(row, faults) {
            return None;
        }
        let mut row = RowReader { table, row, faults };
        Some(HandRow {
            origin: row.row.origin.clone(),
            material: row.text("material"),
            length: row.bar(),
            available: row.count("available", 0).unwrap_or(1),
            square_off: row.square_off(),
            worth: row.cell("worth", |text| cells::read_price(text, table.reading)),
            batch: row.text("batch"),
            note: row.text("note"),
        })
    };
    table.rows.iter().map_while(read).collect()
}

/// One row on its way into the job.
pub(super) struct RowReader<'a> {
    pub table: &'a Table,
    pub row: &'a Row,
    pub faults: &'a mut Vec<Fault>,
}

impl RowReader<'_> {
    /// The value of a cell; `None` where it is empty, not there, or reported.
    pub fn cell<T>(&mut self, column: &str, read: impl Fn(&str) -> Result<T, Wrong>) -> Option<T> {
        let text = self.table.cell(self.row, column)?;
        if text.is_empty() {
            return None;
        }
        let wrong = if self.table.replaced && text.contains('\u{fffd}') {
            Wrong {
                found: format!("{}, which is not UTF-8", cells::quoted(text)),
                accepted: "the file saved as CSV (UTF-8)".to_owned(),
            }
        } else {
            match read(text) {
                Ok(value) => return Some(value),
                Err(wrong) => wrong,
            }
        };
        self.push(column, wrong);
        None
    }

    /// As [`RowReader::cell`], with a value that harms no other cell where it is reported.
    fn cell_or<T>(
        &mut self,
        column: &str,
        harmless: T,
        read: impl Fn(&str) -> Result<T, Wrong>,
    ) -> Option<T> {
        let before = self.faults.len();
        let value = self.cell(column, read);
        if self.faults.len() > before {
            Some(harmless)
        } else {
            value
        }
    }

    pub fn push(&mut self, column: &str, wrong: Wrong) {
        self.faults.push(Fault {
            kind: FaultKind::Value,
            origin: Some(self.row.origin.clone()),
            column: Some(column.to_owned()),
            found: wrong.found,
            accepted: wrong.accepted,
        });
    }

    pub fn text(&mut self, column: &str) -> String {
        self.cell(column, cells::read_text).unwrap_or_default()
    }

    fn count(&mut self, column: &str, least: u64) -> Option<u64> {
        self.cell(column, |text| cells::read_count(text, least))
    }

    /// A length above zero that may be left out.
    pub fn above_zero(&mut self, column: &str) -> Option<Measure> {
        let reading = self.table.reading;
        self.cell(column, |text| cells::read_length(text, reading))
    }

    /// A length that may be zero or left out.
    pub fn width(&mut self, column: &str) -> Option<Length> {
        let reading = self.table.reading;
        self.cell(column, |text| cells::read_width(text, reading))
            .map(|width| width.length)
    }

    fn square_off(&mut self) -> Option<SquareOff> {
        let reading = self.table.reading;
        self.cell("square_off", |text| cells::read_square_off(text, reading))
    }

    /// The length, which no row may leave out; `None` where it is reported.
    fn length(&mut self) -> Option<Measure> {
        let reading = self.table.reading;
        if self.table.cell(self.row, "length") == Some("")
            && let Err(wrong) = cells::read_length("", reading)
        {
            self.push("length", wrong);
        }
        self.cell("length", |text| cells::read_length(text, reading))
    }

    /// The length of a bar.
    fn bar(&mut self) -> Measure {
        self.length().unwrap_or(Measure {
            length: HARMLESS_BAR,
            unit: Unit::Mm,
        })
    }
}
