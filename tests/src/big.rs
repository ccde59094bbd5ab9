//! Jobs far larger than any building's: many pieces of very many lengths.

use std::collections::BTreeSet;

use lengthwise::{Job, Length};

use crate::generate::stream::Stream;
use crate::rows::{Rows, mm, price};

/// Length in millimetres and price of each kind of bar. Invented: dearer by the metre the longer.
const STOCK: [(u64, u64); 4] = [(4800, 1310), (3000, 780), (3600, 950), (4200, 1120)];
/// The shortest piece in millimetres, and how far apart two lengths can be.
const SHORTEST: u64 = 120;
const SPREAD: i64 = 2600;

/// `each` pieces of each of `distinct` lengths, from the first `kinds` kinds of bar.
///
/// # Panics
/// Where there are more lengths than whole millimetres between the shortest and the longest piece.
pub fn big_job(kinds: usize, distinct: usize, each: u64) -> Job {
    assert!(
        distinct <= SPREAD.unsigned_abs() as usize,
        "too many lengths"
    );
    let mut rows = Rows::with_kerf(Length::from_mm(3));
    for (length, cost) in STOCK.into_iter().take(kinds) {
        rows = rows.stock(mm(length), Some(price(cost)));
    }
    let mut stream = Stream::new(2003);
    let mut lengths = BTreeSet::new();
    while lengths.len() < distinct {
        lengths.insert(SHORTEST + stream.whole(0, SPREAD).unsigned_abs());
    }
    for length in lengths {
        rows = rows.piece(mm(length), each);
    }
    rows.job()
}
