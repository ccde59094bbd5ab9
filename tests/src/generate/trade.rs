//! Jobs as they come up in the trade: a few lengths of the merchant's ladder with prices in steps
//! of five pence, a handful to some dozens of distinct pieces, sometimes bars in hand.

use super::stream::Stream;
use crate::small::{SmallBar, SmallHand, SmallJob, SmallSold};

/// The lengths a merchant may keep, in millimetres.
const LADDER: [i64; 13] = [
    1800, 2100, 2400, 2700, 3000, 3300, 3600, 3900, 4200, 4800, 5100, 5400, 6000,
];
/// Bars above this length are dearer by the metre.
const LONG: i64 = 4800;
/// The shortest piece.
const SHORTEST: i64 = 60;

/// How the lengths of the pieces spread, as shares of the longest that a bar holds.
#[derive(Clone, Copy)]
struct Style {
    low: f64,
    high: f64,
    clustered: bool,
}

const STYLES: [Style; 4] = [
    style(0.05, 0.30, false),
    style(0.08, 0.95, false),
    style(0.30, 0.98, false),
    style(0.10, 0.90, true),
];

const fn style(low: f64, high: f64, clustered: bool) -> Style {
    Style {
        low,
        high,
        clustered,
    }
}

/// The job of this seed, in millimetres and pence.
///
/// The stream starts at z = 1 000 003 `seed` mod (2^31 - 1) and every choice takes the next u. The
/// step to which a length is rounded down is drawn anew for each length, so that lengths of every
/// kind can be found however many are wanted.
///
/// # Panics
/// Where `seed` is a multiple of 2^31 - 1: the stream would be all zeros.
pub fn trade_job(seed: u64) -> SmallJob {
    let modulus = (1 << 31) - 1;
    let mut stream = Stream::new(seed % modulus * 1_000_003 % modulus);
    let stream = &mut stream;
    let stock = stock(stream);
    let kerf = stream.pick(&[2, 3, 3, 4]);
    let allowance = stream.pick(&[0, 0, 0, 10]);
    let longest = stock.iter().map(|bar| bar.length).max().unwrap_or(0);
    let top = longest - 2 * allowance;
    SmallJob {
        grain_nm: 1_000_000,
        kerf,
        per_cut: 0,
        square: (allowance, allowance),
        priced: true,
        pieces: pieces(top, stream),
        stock,
        in_hand: in_hand(top, stream),
    }
}

fn stock(stream: &mut Stream) -> Vec<SmallBar> {
    let kinds = stream.pick(&[1, 2, 3, 4, 5]);
    let mut ladder = LADDER.to_vec();
    let lengths: Vec<i64> = (0..kinds)
        .map(|_| {
            let length = stream.pick(&ladder);
            ladder.retain(|left| *left != length);
            length
        })
        .collect();
    let rate = 0.9 + 5.1 * stream.unit();
    let bars = lengths.into_iter().map(|length| SmallBar {
        length,
        pence: pence(length, rate, stream),
        sold: SmallSold::Each,
        available: None,
    });
    bars.collect()
}

/// The price of a bar at so many pence for 10 mm, give or take, in steps of five pence.
fn pence(length: i64, rate: f64, stream: &mut Stream) -> i64 {
    let whim = 0.96 + 0.09 * stream.unit();
    let long = if length > LONG { 1.08 } else { 1.0 };
    let steps = length as f64 / 10.0 * rate * whim * long / 5.0;
    (5 * steps.round() as i64).max(5)
}

/// Lengths and quantities, longest first.
fn pieces(top: i64, stream: &mut Stream) -> Vec<(i64, u64)> {
    let distinct = stream.pick(&[5, 8, 12, 18, 25, 40, 60]);
    let style = stream.pick(&STYLES);
    let share = |stream: &mut Stream| style.low + (style.high - style.low) * stream.unit();
    let centres: Vec<f64> = if style.clustered {
        (0..4).map(|_| share(stream)).collect()
    } else {
        vec![]
    };
    let mut lengths: Vec<i64> = Vec::with_capacity(distinct);
    while lengths.len() < distinct {
        let share = if style.clustered {
            stream.pick(&centres) * (0.95 + 0.10 * stream.unit())
        } else {
            share(stream)
        };
        let length = ((share * top as f64) as i64).clamp(SHORTEST, top);
        let step = stream.pick(&[1, 1, 5, 10]);
        let length = length - length % step;
        if !lengths.contains(&length) {
            lengths.push(length);
        }
    }
    lengths.sort_unstable_by(|a, b| b.cmp(a));
    let quantities = [1, 1, 2, 2, 3, 4, 6, 8, 12];
    lengths
        .into_iter()
        .map(|length| (length, stream.pick(&quantities)))
        .collect()
}

fn in_hand(top: i64, stream: &mut Stream) -> Vec<SmallHand> {
    if stream.unit() >= 0.4 {
        return vec![];
    }
    let bars = stream.pick(&[1, 2, 3, 4]);
    (0..bars)
        .map(|_| SmallHand {
            length: ((0.2 + 0.7 * stream.unit()) * top as f64) as i64,
            available: 1,
            square: (0, 0),
            worth: None,
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Check values of ours, from a second program written from the same description in another
    /// language: two jobs whole, and the sums over the seeds 1 to 200.
    #[test]
    fn check_values() {
        let job = trade_job(9);
        let stock: Vec<_> = job
            .stock
            .iter()
            .map(|bar| (bar.length, bar.pence))
            .collect();
        let in_hand: Vec<_> = job.in_hand.iter().map(|bar| bar.length).collect();
        assert_eq!(stock, [(4200, 1515), (2700, 995), (3900, 1430)]);
        assert_eq!(in_hand, [1669, 996]);
        assert_eq!((job.kerf, job.square), (4, (0, 0)));
        let pieces = [(2440, 6), (2340, 4), (1090, 8), (916, 2), (490, 3)];
        assert_eq!(job.pieces, pieces);

        let job = trade_job(45);
        assert_eq!((job.kerf, job.square), (3, (10, 10)));
        assert_eq!((job.stock[0].length, job.stock[0].pence), (2400, 865));
        let pieces = [(2161, 4), (2124, 1), (1910, 2), (1870, 2), (1147, 6)];
        assert_eq!(job.pieces, pieces);

        let (mut count, mut total, mut pence, mut in_hand) = (0, 0, 0, 0);
        for job in (1..=200).map(trade_job) {
            for (length, qty) in job.pieces {
                count += qty;
                total += length.unsigned_abs() * qty;
            }
            pence += job.stock.iter().map(|bar| bar.pence).sum::<i64>();
            in_hand += job.in_hand.iter().map(|bar| bar.length).sum::<i64>();
        }
        assert_eq!((count, total), (20_019, 43_045_533));
        assert_eq!((pence, in_hand), (794_645, 460_598));
    }

    #[test]
    fn every_seed_keeps_the_description() {
        for seed in 1..=200 {
            let job = trade_job(seed);
            let longest = job.stock.iter().map(|bar| bar.length).max().expect("a bar");
            let top = longest - 2 * job.square.0;
            assert!((1..=5).contains(&job.stock.len()));
            assert!(
                job.stock
                    .iter()
                    .all(|bar| bar.pence >= 5 && bar.pence % 5 == 0)
            );
            assert!(job.pieces.windows(2).all(|pair| pair[0].0 > pair[1].0));
            assert!(
                job.pieces
                    .iter()
                    .all(|(length, _)| (SHORTEST..=top).contains(length))
            );
            assert!(job.in_hand.len() <= 4);
            assert!(job.in_hand.iter().all(|bar| bar.length < top));
        }
    }
}
