//! Small jobs whose bars are of several batches, and the least that they can cost with every wall from one
//! batch: every choice of batches is tried, each by the exhaustive solver with the pieces on their bars only.
//!
//! No code of the library.

use lengthwise::{Job, JobInput};

use crate::exhaustive::{Best, bought_cost, counts_money, exhaustive_among};
use crate::generate::small::{Sales, small_job_from};
use crate::generate::stream::Stream;
use crate::rows::checked;
use crate::small::SmallJob;
use crate::small_breaks::{at_the_counter, breaks_for};

/// A small job with batches.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BatchJob {
    /// The job without them.
    pub job: SmallJob,
    /// The price breaks of each row of stock.
    pub breaks: Vec<Vec<(u64, i64)>>,
    /// The batch of each row of stock, then of each row in hand; 0 names none.
    pub batches: Vec<usize>,
    /// The wall of each row of pieces; 0 names none.
    pub walls: Vec<usize>,
    /// The batch that a row of pieces asks for; 0 for none.
    pub bound: Vec<usize>,
}

impl BatchJob {
    /// The job's rows.
    ///
    /// # Panics
    /// Where a number is below zero.
    pub fn input(&self) -> JobInput {
        let breaks = crate::small_breaks::BreakJob {
            job: self.job.clone(),
            breaks: self.breaks.clone(),
        };
        let mut input = breaks.input();
        let name = |prefix: &str, number: usize| match number {
            0 => String::new(),
            _ => format!("{prefix}{number}"),
        };
        let stock = input.stock.iter_mut().map(|row| &mut row.batch);
        let rows = stock.chain(input.in_hand.iter_mut().map(|row| &mut row.batch));
        for (row, &batch) in rows.zip(&self.batches) {
            *row = name("B", batch);
        }
        for ((row, &wall), &bound) in input.pieces.iter_mut().zip(&self.walls).zip(&self.bound) {
            row.wall = name("wall ", wall);
            row.batch = name("B", bound);
        }
        input
    }

    /// The job as the library reads it.
    ///
    /// # Panics
    /// Where the rows are faulty.
    pub fn job(&self) -> Job {
        checked(self.input())
    }

    /// The least it can cost, and of all plans of that cost the least length in hand; `None` where no plan
    /// exists. Without its walls where `free`.
    ///
    /// # Panics
    /// Where the job has more pieces than the exhaustive solver tries.
    pub fn best(&self, free: bool) -> Option<Best> {
        let last = self.batches.iter().copied().max().unwrap_or(0);
        let walls = self.walls.iter().copied().max().unwrap_or(0);
        let ways = (last + 1).pow(u32::try_from(walls).expect("few walls"));
        let ways = if free { 1 } else { ways };
        (0..ways)
            .filter_map(|way| self.best_at(way, last + 1, free))
            .min()
    }

    /// The least at one choice, counted in digits to the base of how many batches there are.
    fn best_at(&self, way: usize, batches: usize, free: bool) -> Option<Best> {
        let chosen = |wall: usize| (0..wall - 1).fold(way, |way, _| way / batches) % batches;
        let rows = self.job.pieces.iter().enumerate();
        let row_of: Vec<usize> = rows
            .flat_map(|(row, &(_, qty))| (0..qty).map(move |_| row))
            .collect();
        let may_lie = |piece: usize, kind: usize| {
            let row = row_of[piece];
            let batch = self.batches[kind];
            let asks = |row: usize| self.bound[row] == 0 || self.bound[row] == batch;
            let wall = self.walls[row];
            if free {
                // The batch that a row asks for holds for its wall still.
                let of_wall = |other: &usize| wall > 0 && self.walls[*other] == wall;
                return asks(row) && (0..self.walls.len()).filter(of_wall).all(asks);
            }
            asks(row) && (wall == 0 || chosen(wall) == batch)
        };
        let money = counts_money(&self.job);
        let bought = |row: usize, bars: u64| {
            let (bar, breaks) = (self.job.stock.get(row)?, self.breaks.get(row)?);
            if breaks.is_empty() {
                return bought_cost(&self.job, bar, money, bars);
            }
            let value = at_the_counter(&self.job, bar, breaks, bars)?;
            Some(Best { value, hand_nm: 0 })
        };
        exhaustive_among(&self.job, &bought, &may_lie)
    }
}

/// The job of this seed: a small job at random, its bars of two or three batches, its pieces on up to three
/// walls, some of them on none; with price breaks at times.
pub fn batch_job(seed: u64) -> BatchJob {
    let mut stream = Stream::scattered(seed);
    let sales = stream.pick(&[Sales::Single, Sales::Mixed]);
    loop {
        let mut job = small_job_from(&mut stream, sales);
        // One row of each length is bought of two batches, so that there is a choice.
        if let Some(bar) = job.stock.first().cloned() {
            let dearer = stream.whole(0, 3);
            job.stock.push(crate::small::SmallBar {
                pence: bar.pence + dearer,
                available: stream.pick(&[bar.available, Some(1), Some(2), Some(3)]),
                ..bar
            });
        }
        let batches = 2 + usize::from(stream.pick(&[false, true]));
        let number = |stream: &mut Stream, most: usize| {
            let most = i64::try_from(most).expect("a small number");
            usize::try_from(stream.whole(0, most)).expect("not below zero")
        };
        let rows = job.stock.len() + job.in_hand.len();
        let batches: Vec<usize> = (0..rows).map(|_| number(&mut stream, batches)).collect();
        let most_walls = stream.pick(&[1, 2, 2, 3]);
        let walls: Vec<usize> = job
            .pieces
            .iter()
            .map(|_| number(&mut stream, most_walls))
            .collect();
        let mut distinct = batches.clone();
        distinct.sort_unstable();
        distinct.dedup();
        if distinct.len() < 2 || walls.iter().all(|&wall| wall == 0) {
            continue;
        }
        // At times a row asks for a batch; never two rows of one wall, which would be a fault.
        let named: Vec<usize> = distinct.into_iter().filter(|&batch| batch > 0).collect();
        let mut bound = vec![0; job.pieces.len()];
        if stream.pick(&[false, false, true]) {
            let row = number(&mut stream, bound.len() - 1);
            bound[row] = stream.pick(&named);
        }
        let mut breaks = vec![vec![]; job.stock.len()];
        if job.priced && job.stock.iter().all(|bar| bar.pence > 1) && stream.pick(&[true, false]) {
            breaks = breaks_for(&job, &mut stream);
        }
        return BatchJob {
            job,
            breaks,
            batches,
            walls,
            bound,
        };
    }
}
