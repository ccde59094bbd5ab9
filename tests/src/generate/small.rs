//! Small jobs of every kind at random, with a taste for the edges: lengths that just fit or just
//! do not, bars that run out, free bars, equal rows.

use super::stream::Stream;
use crate::small::{SmallBar, SmallHand, SmallJob, SmallSold};

/// Most pieces of a job, copies counted.
const MOST_PIECES: u64 = 7;
/// Most kinds of bar to buy.
const MOST_LENGTHS: i64 = 3;

/// How the bars of a job are sold.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sales {
    /// All singly.
    Single,
    /// Singly, by the metre or in small packs.
    Mixed,
}

/// The job of this seed.
pub fn small_job(seed: u64, sales: Sales) -> SmallJob {
    small_job_from(&mut Stream::scattered(seed), sales)
}

/// The next job of a stream.
pub fn small_job_from(stream: &mut Stream, sales: Sales) -> SmallJob {
    // Coarse lengths meet each other exactly, fine ones almost never do.
    let (shortest, longest) = stream.pick(&[(6, 40), (6, 40), (100, 300), (1000, 6000)]);
    let kerf = if longest > 1000 {
        stream.pick(&[0, 2, 3, 4, 30])
    } else {
        stream.pick(&[0, 0, 1, 2, 3])
    };
    let mut job = SmallJob {
        grain_nm: stream.pick(&[1_000_000, 100_000, 396_875]),
        kerf,
        per_cut: if stream.chance(15) { 1 } else { 0 },
        square: (0, 0),
        priced: false,
        pieces: vec![],
        stock: vec![],
        in_hand: vec![],
    };
    if stream.chance(40) {
        // Never more than half of the shortest bar.
        job.square = (stream.whole(0, shortest / 4), stream.whole(0, shortest / 4));
    }
    let only_in_hand = stream.chance(4);
    if !only_in_hand {
        add_stock(&mut job, shortest, longest, sales, stream);
    }
    add_in_hand(&mut job, shortest, longest, only_in_hand, stream);
    add_pieces(&mut job, stream);
    job
}

fn add_stock(job: &mut SmallJob, shortest: i64, longest: i64, sales: Sales, stream: &mut Stream) {
    job.priced = stream.chance(65);
    let style = stream.whole(0, 4);
    for _ in 0..stream.whole(1, MOST_LENGTHS) {
        let length = stream.whole(shortest, longest);
        let pence = match style {
            0 => length,                                        // strictly by length
            1 => 100 * length / longest + stream.whole(1, 30),  // about by length
            2 => stream.whole(0, 999),                          // by whim, perhaps free
            3 => 250,                                           // all alike
            _ => 5 * (length * stream.whole(8, 12) / 10) + 100, // in fives, with a basic charge
        };
        let sold = match sales {
            Sales::Single => SmallSold::Each,
            Sales::Mixed => match stream.whole(0, 4) {
                0 => SmallSold::Each,
                1 | 2 => SmallSold::PerMetre,
                _ => SmallSold::Pack(stream.pick(&[1, 2, 2, 3, 4])),
            },
        };
        let available = stream.chance(40).then(|| {
            let count = stream.whole(0, 4);
            if sold == SmallSold::PerMetre {
                // Metres: sometimes a little short of a whole number of bars.
                let metres = count * length * job.grain_nm / 1_000_000_000;
                (metres + stream.whole(0, 2)).unsigned_abs()
            } else {
                count.unsigned_abs()
            }
        });
        job.stock.push(SmallBar {
            length,
            pence,
            sold,
            available,
        });
    }
}

fn add_in_hand(
    job: &mut SmallJob,
    shortest: i64,
    longest: i64,
    only_in_hand: bool,
    stream: &mut Stream,
) {
    let rows = if only_in_hand {
        stream.whole(1, 3)
    } else {
        stream.pick(&[0, 0, 1, 2, 3])
    };
    let may_be_worth = job.priced || (only_in_hand && stream.chance(50));
    for _ in 0..rows {
        let length = stream.whole(shortest / 2, longest);
        let square = if stream.chance(30) {
            // Sometimes nothing is left between the two.
            (
                stream.whole(0, length / 2),
                stream.whole(0, length - length / 2),
            )
        } else {
            (0, 0)
        };
        let worth = (may_be_worth && stream.chance(60)).then(|| stream.whole(0, 300));
        job.in_hand.push(SmallHand {
            length,
            available: stream.pick(&[0, 1, 1, 1, 2, 3]),
            square,
            worth,
        });
    }
}

fn add_pieces(job: &mut SmallJob, stream: &mut Stream) {
    let bought = job.stock.iter().map(|bar| {
        let (near, far) = job.square;
        bar.length - near - far
    });
    let in_hand = job
        .in_hand
        .iter()
        .map(|bar| bar.length - bar.square.0 - bar.square.1);
    let usable: Vec<i64> = bought.chain(in_hand).map(|usable| usable.max(1)).collect();
    let longest = usable.iter().copied().max().unwrap_or(1);
    let cut = job.kerf + job.per_cut;
    let mut left = stream.whole(1, MOST_PIECES as i64).unsigned_abs();
    while left > 0 {
        let length = match stream.whole(0, 9) {
            // Just fits so many times, or just does not.
            0..=3 => {
                let share = stream.whole(1, 4);
                (stream.pick(&usable) + cut) / share - cut + stream.pick(&[-1, 0, 0, 0, 1])
            }
            // Fills up what another piece leaves.
            4 | 5 => match job.pieces.last() {
                Some(&(other, _)) => stream.pick(&usable) - other - cut,
                None => stream.whole(1, longest),
            },
            6 => stream.whole(1, longest.div_euclid(4).max(1)),
            _ => stream.whole(1, longest),
        };
        let qty = stream.whole(1, 3).unsigned_abs().min(left);
        // A length that fits nothing now and then, not in every other job.
        let length = if stream.chance(98) {
            length.min(longest)
        } else {
            length
        };
        job.pieces.push((length.max(1), qty));
        left -= qty;
    }
}
