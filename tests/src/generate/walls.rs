//! Walls of runs: many long runs with joints on supports beside ordinary pieces, and courses one above
//! the other.

use lengthwise::job::{CourseRule, Joints};
use lengthwise::{Job, Length, Price};
use rust_decimal::Decimal;

use super::stream::Stream;
use crate::rows::{Rows, mm};

/// Runs of [`wall_runs`].
const RUNS: usize = 40;
/// The shortest and the longest of them, in whole millimetres.
const RUN_LENGTHS: (i64, i64) = (3100, 11_700);
/// Ordinary pieces, and how many lengths they have.
const PIECES: u64 = 120;
const PIECE_LENGTHS: usize = 25;
/// The shortest and the longest of them, in whole millimetres.
const PIECE_RANGE: (i64, i64) = (300, 2900);
/// From one support to the next.
const SUPPORTS: u64 = 600;
/// The blade.
const KERF: u32 = 3;
/// Courses of [`courses`], and how long each is.
const COURSES: u64 = 30;
const COURSE_LENGTH: u64 = 7200;

/// A wall: 40 runs of 3.1 to 11.7 m, joints on supports every 600 mm, out of bars of 3000, 3900 and
/// 4800 mm with prices, blade 3 mm, beside 120 ordinary pieces of 25 lengths of 300 to 2900 mm.
///
/// The [scattered stream](Stream::scattered) of the seed; every choice takes the next u. First the
/// prices: a rate of 2.00 to 5.00 per metre in steps of 0.10; then for each bar, shortest first, its
/// length times the rate times 0.92 + 0.16 u, rounded to the nearest 0.10. Then the runs, each a whole
/// number of millimetres. Then the lengths of the pieces, each drawn again where it came up before;
/// longest first, each has one piece, and each further piece goes to a length drawn from them.
///
/// # Panics
/// Never: every seed makes a sound job.
pub fn wall_runs(seed: u64) -> Job {
    wall_rows(seed).job()
}

/// The rows of [`wall_runs`].
///
/// # Panics
/// Never: every seed makes a sound job.
pub fn wall_rows(seed: u64) -> Rows {
    let mut stream = Stream::scattered(seed);
    let stream = &mut stream;
    let mut rows = Rows::with_kerf(Length::from_mm(KERF));
    let rate = stream.whole(20, 50);
    for length in [3000, 3900, 4800] {
        let dimes = length as f64 / 1000.0 * rate as f64 * (0.92 + 0.16 * stream.unit());
        rows = rows.stock(mm(length), Some(dimes_price(dimes.round() as i64)));
    }
    for run in 1..=RUNS {
        let length = draw(RUN_LENGTHS, stream);
        rows = rows.piece_with(mm(length), |row| {
            row.mark = format!("R{run}");
            row.joints = Some(every_support());
        });
    }
    for (length, qty) in pieces(stream) {
        rows = rows.piece(mm(length), qty);
    }
    rows
}

fn pieces(stream: &mut Stream) -> Vec<(u64, u64)> {
    let mut lengths: Vec<u64> = Vec::with_capacity(PIECE_LENGTHS);
    while lengths.len() < PIECE_LENGTHS {
        let length = draw(PIECE_RANGE, stream);
        if !lengths.contains(&length) {
            lengths.push(length);
        }
    }
    lengths.sort_unstable_by(|a, b| b.cmp(a));
    let mut pieces: Vec<(u64, u64)> = lengths.into_iter().map(|length| (length, 1)).collect();
    for _ in PIECE_LENGTHS as u64..PIECES {
        let at = stream.whole(0, PIECE_LENGTHS as i64 - 1);
        if let Some((_, qty)) = pieces.get_mut(at as usize) {
            *qty += 1;
        }
    }
    pieces
}

/// Thirty courses of 7.2 m, joints on supports every 600 mm, out of bars of 3.0, 3.6 and 4.8 m, blade
/// 3 mm, at most so many joints on one support in so many courses that follow each other. Priced, the
/// bars cost 9.00, 10.60 and 14.60; they are judged by length otherwise.
pub fn courses(rule: CourseRule, priced: bool) -> Job {
    let mut rows = Rows::with_kerf(Length::from_mm(KERF));
    for (length, dimes) in [(3000, 90), (3600, 106), (4800, 146)] {
        rows = rows.stock(mm(length), priced.then(|| dimes_price(dimes)));
    }
    rows.piece_with(mm(COURSE_LENGTH), |row| {
        row.mark = "B".to_owned();
        row.qty = COURSES.into();
        row.joints = Some(every_support());
        row.course_group = "wall".to_owned();
        row.course = Some(1);
        row.course_rule = Some(rule);
    })
    .job()
}

fn every_support() -> Joints {
    Joints::Every {
        spacing: mm(SUPPORTS).length,
        from: Length::ZERO,
    }
}

fn draw((low, high): (i64, i64), stream: &mut Stream) -> u64 {
    stream.whole(low, high).unsigned_abs()
}

/// Tenths of the unit of money.
fn dimes_price(dimes: i64) -> Price {
    Price::from_decimal(Decimal::new(dimes, 1)).expect("not below zero")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_seed_keeps_the_description() {
        for seed in 1..=50 {
            let job = wall_runs(seed);
            let material = &job.materials()[0];
            let runs: Vec<i64> = material
                .pieces()
                .iter()
                .filter(|piece| piece.run().is_some())
                .map(|piece| piece.opening().nm() / 1_000_000)
                .collect();
            assert_eq!(runs.len(), RUNS);
            assert!(runs.iter().all(|run| (3100..=11_700).contains(run)));
            let pieces = || {
                material
                    .pieces()
                    .iter()
                    .filter(|piece| piece.run().is_none())
            };
            assert_eq!(pieces().count(), PIECE_LENGTHS);
            assert_eq!(pieces().map(|piece| piece.qty()).sum::<u64>(), PIECES);
            let prices: Vec<Price> = material
                .bars()
                .iter()
                .filter_map(|bar| bar.sale_price())
                .collect();
            assert_eq!(prices.len(), 3);
            for price in prices {
                let dimes = price.decimal() * Decimal::from(10);
                assert!(
                    dimes.is_integer() && dimes >= Decimal::from(50),
                    "{price:?}"
                );
            }
        }
        assert_ne!(wall_runs(1), wall_runs(2));
    }

    #[test]
    fn thirty_courses() {
        let rule = CourseRule {
            joints: 1,
            courses: 4,
        };
        let job = courses(rule, false);
        let material = &job.materials()[0];
        assert!(!material.is_priced());
        assert_eq!(material.course_groups()[0].rule(), rule);
        assert_eq!(material.pieces().len(), 1);
        assert_eq!(material.pieces()[0].qty(), COURSES);
        assert!(courses(rule, true).materials()[0].is_priced());
    }
}
