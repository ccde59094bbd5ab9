//! Jobs written row by row, for tests that need no file.

use std::sync::Arc;

use lengthwise::job::{HandRow, PieceRow, Saw, SquareOff, StockRow};
use lengthwise::{Job, JobInput, Length, Measure, Origin, Price, Unit};

/// A job of one material under construction. The blade is always stated: 0 is a blade too.
#[derive(Clone, Debug)]
pub struct Rows {
    input: JobInput,
}

impl Rows {
    /// No rows yet; a blade of this width.
    pub fn with_kerf(kerf: Length) -> Rows {
        let saw = Saw {
            kerf,
            ..Saw::default()
        };
        Rows {
            input: JobInput {
                saw,
                ..JobInput::default()
            },
        }
    }

    /// Squaring allowances of bought bars.
    #[must_use]
    pub fn squared(mut self, near: Length, far: Length) -> Rows {
        self.input.saw.square_off = SquareOff { near, far };
        self
    }

    /// One more row of pieces.
    #[must_use]
    pub fn piece(self, length: Measure, qty: u64) -> Rows {
        self.marked_piece("", length, qty)
    }

    /// One more row of pieces with a mark.
    #[must_use]
    pub fn marked_piece(mut self, mark: &str, length: Measure, qty: u64) -> Rows {
        self.input.pieces.push(PieceRow {
            mark: mark.to_owned(),
            qty: qty.into(),
            ..PieceRow::new(origin("pieces", self.input.pieces.len()), length)
        });
        self
    }

    /// One more row of pieces, changed from a plain one.
    #[must_use]
    pub fn piece_with(mut self, length: Measure, change: impl FnOnce(&mut PieceRow)) -> Rows {
        let origin = origin("pieces", self.input.pieces.len());
        let mut row = PieceRow::new(origin, length);
        change(&mut row);
        self.input.pieces.push(row);
        self
    }

    /// One more kind of bar, sold singly, as many as wanted.
    #[must_use]
    pub fn stock(mut self, length: Measure, price: Option<Price>) -> Rows {
        let origin = origin("stock", self.input.stock.len());
        self.input.stock.push(plain_stock(origin, length, price));
        self
    }

    /// Settings of the saw, changed from those that are given.
    #[must_use]
    pub fn saw_with(mut self, change: impl FnOnce(&mut Saw)) -> Rows {
        change(&mut self.input.saw);
        self
    }

    /// The checked job.
    ///
    /// # Panics
    /// Where the rows are faulty.
    pub fn job(self) -> Job {
        checked(self.input)
    }

    /// The rows themselves.
    pub fn input(self) -> JobInput {
        self.input
    }
}

/// A row of stock with nothing special about it.
pub fn plain_stock(origin: Origin, length: Measure, price: Option<Price>) -> StockRow {
    StockRow {
        price,
        ..StockRow::new(origin, length)
    }
}

/// A row in hand with square ends.
pub fn plain_hand(origin: Origin, length: Measure, available: u64) -> HandRow {
    HandRow {
        available,
        ..HandRow::new(origin, length)
    }
}

/// The place of the row that comes after `rows_before` others.
pub fn origin(source: &str, rows_before: usize) -> Origin {
    Origin {
        source: Arc::from(source),
        line: rows_before as u64 + 1, // a count of rows in memory fits
    }
}

/// The checked job.
///
/// # Panics
/// Where the rows are faulty.
pub fn checked(input: JobInput) -> Job {
    match input.validate() {
        Ok(job) => job,
        Err(faults) => panic!("the job of a test is faulty: {faults}"),
    }
}

/// Whole millimetres.
///
/// # Panics
/// Above 4 294 967 mm.
pub fn mm(length: u64) -> Measure {
    Measure {
        length: Length::from_mm(u32::try_from(length).expect("a length of a test in millimetres")),
        unit: Unit::Mm,
    }
}

/// A length as text, a bare number in this unit.
///
/// # Panics
/// Where the text is no length.
pub fn measure(text: &str, unit: Unit) -> Measure {
    Length::parse(text, unit).expect("a length of a test")
}

/// A whole amount of money.
///
/// # Panics
/// Never: no `u64` is below zero.
pub fn price(amount: u64) -> Price {
    Price::from_decimal(amount.into()).expect("not below zero")
}
