//! A small job in plain integers: what the exhaustive solver reads, and what the library is given.

use lengthwise::job::{HandRow, PieceRow, Saw, Sold, SquareOff, StockRow};
use lengthwise::{Job, JobInput, Length, Measure, Price, Unit};
use rust_decimal::Decimal;

use crate::rows::{checked, origin, plain_hand, plain_stock};

/// One material. Lengths are counts of grains, money is whole pence.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SmallJob {
    /// Nanometres in one grain.
    pub grain_nm: i64,
    /// The blade.
    pub kerf: i64,
    /// The error reserve for each cut.
    pub per_cut: i64,
    /// Near and far allowance of bought bars.
    pub square: (i64, i64),
    /// Whether bought bars have prices.
    pub priced: bool,
    /// Length and quantity of each row of pieces.
    pub pieces: Vec<(i64, u64)>,
    /// What can be bought.
    pub stock: Vec<SmallBar>,
    /// What is in hand.
    pub in_hand: Vec<SmallHand>,
}

/// A kind of bar to buy.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SmallBar {
    /// Its length.
    pub length: i64,
    /// The price of one sale; unused in a job without prices.
    pub pence: i64,
    /// What one sale is.
    pub sold: SmallSold,
    /// How many sales there are.
    pub available: Option<u64>,
}

/// What one sale is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SmallSold {
    /// One bar.
    Each,
    /// One metre; whole bars are bought.
    PerMetre,
    /// So many bars.
    Pack(u32),
}

/// A kind of bar in hand.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SmallHand {
    /// Its length.
    pub length: i64,
    /// How many.
    pub available: u64,
    /// Its own near and far allowance.
    pub square: (i64, i64),
    /// What cutting into one counts as, in pence.
    pub worth: Option<i64>,
}

impl SmallJob {
    /// The job as the library reads it.
    ///
    /// # Panics
    /// Where the rows are faulty.
    pub fn job(&self) -> Job {
        checked(self.input())
    }

    /// The job's rows.
    ///
    /// # Panics
    /// Where a number is below zero.
    pub fn input(&self) -> JobInput {
        JobInput {
            pieces: self.piece_rows(),
            stock: self.stock_rows(),
            in_hand: self.hand_rows(),
            saw: Saw {
                kerf: self.length(self.kerf),
                per_cut: self.length(self.per_cut),
                square_off: self.square_off(self.square),
                ..Saw::default()
            },
        }
    }

    fn piece_rows(&self) -> Vec<PieceRow> {
        let rows = self.pieces.iter().enumerate();
        rows.map(|(at, &(length, qty))| PieceRow {
            qty: qty.into(),
            ..PieceRow::new(origin("pieces", at), self.measure(length))
        })
        .collect()
    }

    fn stock_rows(&self) -> Vec<StockRow> {
        let rows = self.stock.iter().enumerate();
        rows.map(|(at, bar)| StockRow {
            sold: match bar.sold {
                SmallSold::Each => Sold::Each,
                SmallSold::PerMetre => Sold::PerMetre,
                SmallSold::Pack(bars) => Sold::Pack(bars),
            },
            available: bar.available,
            ..plain_stock(
                origin("stock", at),
                self.measure(bar.length),
                self.priced.then(|| pence(bar.pence)),
            )
        })
        .collect()
    }

    fn hand_rows(&self) -> Vec<HandRow> {
        let rows = self.in_hand.iter().enumerate();
        rows.map(|(at, bar)| HandRow {
            square_off: Some(self.square_off(bar.square)),
            worth: bar.worth.map(pence),
            ..plain_hand(
                origin("in hand", at),
                self.measure(bar.length),
                bar.available,
            )
        })
        .collect()
    }

    fn length(&self, grains: i64) -> Length {
        grains
            .checked_mul(self.grain_nm)
            .and_then(Length::from_nm)
            .expect("a length of a small job")
    }

    fn measure(&self, grains: i64) -> Measure {
        Measure {
            length: self.length(grains),
            unit: Unit::Mm,
        }
    }

    fn square_off(&self, (near, far): (i64, i64)) -> SquareOff {
        SquareOff {
            near: self.length(near),
            far: self.length(far),
        }
    }
}

fn pence(amount: i64) -> Price {
    Price::from_decimal(Decimal::new(amount, 2)).expect("a price of a small job")
}
