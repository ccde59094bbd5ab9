//! Small jobs with price breaks, and the least that they can cost by trying every count that may be bought.
//!
//! No code of the library: what a count of sales costs is looked up in the list of breaks as one would at
//! the counter, for the bars that are needed and for every larger count up to the last break.

use lengthwise::job::PriceBreak;
use lengthwise::{Job, JobInput, Price};
use rust_decimal::Decimal;

use crate::exhaustive::{Best, exhaustive_costing};
use crate::generate::small::{Sales, small_job_from};
use crate::generate::stream::Stream;
use crate::rows::checked;
use crate::small::{SmallBar, SmallJob, SmallSold};

/// A small job whose bars have price breaks.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BreakJob {
    /// The job without them; it has prices.
    pub job: SmallJob,
    /// For each row of stock: from so many sales on (metres, where sold by the metre), so many pence.
    pub breaks: Vec<Vec<(u64, i64)>>,
}

impl BreakJob {
    /// The job's rows.
    ///
    /// # Panics
    /// Where a number is below zero.
    pub fn input(&self) -> JobInput {
        let mut input = self.job.input();
        for (row, breaks) in input.stock.iter_mut().zip(&self.breaks) {
            let price = |pence| Price::from_decimal(Decimal::new(pence, 2)).expect("a price");
            row.breaks = breaks
                .iter()
                .map(|&(from, pence)| PriceBreak {
                    from,
                    price: price(pence),
                })
                .collect();
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
    /// exists.
    ///
    /// # Panics
    /// Where the job has more pieces than the exhaustive solver tries.
    pub fn best(&self) -> Option<Best> {
        let cost = |row: usize, bars: u64| {
            let (bar, breaks) = (self.job.stock.get(row)?, self.breaks.get(row)?);
            let value = at_the_counter(&self.job, bar, breaks, bars)?;
            Some(Best { value, hand_nm: 0 })
        };
        exhaustive_costing(&self.job, &cost)
    }
}

/// What it costs to come home with at least so many bars, in units of 10^-11.
pub(crate) fn at_the_counter(
    job: &SmallJob,
    bar: &SmallBar,
    breaks: &[(u64, i64)],
    bars: u64,
) -> Option<i128> {
    let length_nm = i128::from(bar.length) * i128::from(job.grain_nm);
    let per_sale = match bar.sold {
        SmallSold::Pack(bars) => u64::from(bars),
        SmallSold::Each | SmallSold::PerMetre => 1,
    };
    if bars == 0 {
        return Some(0);
    }
    let needed = bars.div_ceil(per_sale);
    let last = breaks.last().map_or(0, |&(from, _)| from);
    // So many metres are at most so many bars more, however short a bar.
    let enough = match bar.sold {
        SmallSold::PerMetre => {
            let metres = i128::from(last) * 1_000_000_000;
            u64::try_from(metres / length_nm + 1).expect("a small count")
        }
        _ => last,
    };
    let one_count = |sales: u64| {
        // What `available` and the breaks count, in nanometres where that is metres.
        let (count, one) = match bar.sold {
            SmallSold::PerMetre => (i128::from(sales) * length_nm, 1_000_000_000),
            _ => (i128::from(sales), 1),
        };
        let reaches = |from: u64| count >= i128::from(from) * one;
        if bar
            .available
            .is_some_and(|there| count > i128::from(there) * one)
        {
            return None;
        }
        let reached = breaks.iter().rev().find(|&&(from, _)| reaches(from));
        let pence = i128::from(reached.map_or(bar.pence, |&(_, pence)| pence));
        Some(match bar.sold {
            SmallSold::PerMetre => count * pence,
            _ => count * pence * 1_000_000_000,
        })
    };
    (needed..=needed.max(enough)).filter_map(one_count).min()
}

/// The job of this seed: a small job at random, with breaks that its few pieces can reach.
pub fn break_job(seed: u64) -> BreakJob {
    let mut stream = Stream::scattered(seed);
    let sales = stream.pick(&[Sales::Single, Sales::Mixed]);
    let job = loop {
        let job = small_job_from(&mut stream, sales);
        if job.priced && job.stock.iter().any(|bar| bar.pence > 1) {
            break job;
        }
    };
    let breaks = breaks_for(&job, &mut stream);
    BreakJob { job, breaks }
}

/// Breaks for the stock of a job, at counts that a few pieces can reach.
pub fn breaks_for(job: &SmallJob, stream: &mut Stream) -> Vec<Vec<(u64, i64)>> {
    let mut breaks: Vec<Vec<(u64, i64)>> = Vec::new();
    for bar in &job.stock {
        let mut of_row = Vec::new();
        let (mut from, mut pence) = (1, bar.pence);
        for _ in 0..stream.pick(&[0, 1, 1, 2, 2, 3]) {
            from += stream.whole(1, 3).unsigned_abs();
            // Mostly some percent less, sometimes so little that more cost as much or less.
            let share = stream.pick(&[99, 95, 90, 85, 75, 60, 40, 5]);
            let lower = (pence * share / 100).min(pence - 1);
            if lower < 0 {
                break;
            }
            pence = lower;
            let counted = match bar.sold {
                // About as many bars, in metres; at times the same number of bars as the break before.
                SmallSold::PerMetre => {
                    let length_nm = bar.length * job.grain_nm;
                    let metres = from.saturating_mul(length_nm.unsigned_abs()) / 1_000_000_000;
                    let least = of_row
                        .last()
                        .map_or(2, |&(before, _): &(u64, i64)| before + 1);
                    (metres + stream.whole(0, 1).unsigned_abs()).max(least)
                }
                _ => from,
            };
            of_row.push((counted, pence));
        }
        breaks.push(of_row);
    }
    breaks
}
