//! The least that a small job can cost, by trying every way to share its pieces out.
//!
//! No linear program, no bound, and no code of the library: the rule of fitting and the costs are
//! written again here, in integers.
//!
//! A plan gives each kind of bar a set of pieces. What a kind costs never falls when more of its
//! bars are used, so of each set only the fewest bars that hold it matter; and the kinds do not
//! touch each other, so the best share-out follows kind by kind over all splits of all sets.
//! With n pieces and s kinds that takes O(s 3^n).

use crate::small::{SmallBar, SmallHand, SmallJob, SmallSold};

/// Most pieces that are tried: 3^12 splits for each kind of bar.
pub const MOST_PIECES: usize = 12;

/// The best there is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Best {
    /// Money in units of 10^-11, or nanometres bought where nothing has a price.
    pub value: i128,
    /// Of all plans of that value, the least length in hand that is cut into, in nanometres.
    pub hand_nm: i128,
}

/// Whether money is what the job is judged by: bought bars have prices, or there are none to buy
/// and something in hand is worth something.
pub fn counts_money(job: &SmallJob) -> bool {
    if job.stock.is_empty() {
        job.in_hand.iter().any(|bar| bar.worth.is_some())
    } else {
        job.priced
    }
}

/// The best plan's value, or `None` where no plan exists.
///
/// # Panics
/// Above [`MOST_PIECES`] pieces.
pub fn exhaustive(job: &SmallJob) -> Option<Best> {
    let money = counts_money(job);
    exhaustive_costing(job, &|row, bars| {
        bought_cost(job, job.stock.get(row)?, money, bars)
    })
}

/// The same where so many bars of a row of stock cost what `bought` says; `None` where they cannot be
/// had. More bars never cost less.
///
/// # Panics
/// Above [`MOST_PIECES`] pieces.
pub fn exhaustive_costing(
    job: &SmallJob,
    bought: &dyn Fn(usize, u64) -> Option<Best>,
) -> Option<Best> {
    exhaustive_among(job, bought, &|_, _| true)
}

/// The same where a piece may lie only on bars that `may_lie` names: by the piece, counted through the
/// rows, and by the bar, rows of stock before those in hand.
///
/// # Panics
/// Above [`MOST_PIECES`] pieces.
pub fn exhaustive_among(
    job: &SmallJob,
    bought: &dyn Fn(usize, u64) -> Option<Best>,
    may_lie: &dyn Fn(usize, usize) -> bool,
) -> Option<Best> {
    let pieces: Vec<i64> = job
        .pieces
        .iter()
        .flat_map(|&(length, qty)| (0..qty).map(move |_| length))
        .collect();
    assert!(pieces.len() <= MOST_PIECES, "too many pieces to try all");
    let money = counts_money(job);
    let cut = job.kerf + job.per_cut;
    let sets = 1_usize << pieces.len();
    let nothing = Best {
        value: 0,
        hand_nm: 0,
    };
    // The best for every set of pieces over the kinds looked at so far.
    let mut best: Vec<Option<Best>> = vec![None; sets];
    best[0] = Some(nothing);
    let bought = job.stock.iter().enumerate().map(|(row, bar)| {
        let usable = bar.length - job.square.0 - job.square.1;
        let cost: Box<dyn Fn(u64) -> Option<Best>> = Box::new(move |bars| bought(row, bars));
        (usable, cost)
    });
    let in_hand = job.in_hand.iter().map(|bar| {
        let usable = bar.length - bar.square.0 - bar.square.1;
        let cost: Box<dyn Fn(u64) -> Option<Best>> =
            Box::new(move |bars| hand_cost(job, bar, money, bars));
        (usable, cost)
    });
    for (kind, (usable, cost)) in bought.chain(in_hand).enumerate() {
        let fewest = fewest_bars(&pieces, usable, cut);
        let others: usize = (0..pieces.len())
            .filter(|piece| !may_lie(*piece, kind))
            .map(|piece| 1 << piece)
            .sum();
        let alone = fewest.iter().enumerate().map(|(set, bars)| {
            let bars = bars.filter(|_| set & others == 0)?;
            cost(bars)
        });
        let alone: Vec<Option<Best>> = alone.collect();
        best = share_out(&best, &alone);
    }
    best[sets - 1]
}

/// For every set of pieces the fewest bars of one kind that hold it.
fn fewest_bars(pieces: &[i64], usable: i64, cut: i64) -> Vec<Option<u64>> {
    let sets = 1_usize << pieces.len();
    let fits = |set: usize| {
        let chosen: Vec<i64> = (0..pieces.len())
            .filter(|at| set >> at & 1 == 1)
            .map(|at| pieces[at])
            .collect();
        // A cut between every two pieces, none beside the last.
        let cuts = chosen.len() as i64 - 1;
        chosen.iter().sum::<i64>() + cuts * cut <= usable
    };
    let on_one: Vec<bool> = (0..sets).map(fits).collect();
    let mut fewest = vec![None; sets];
    fewest[0] = Some(0);
    for set in 1..sets {
        // Some bar holds the first piece of the set: try every company it may have.
        let first = set & set.wrapping_neg();
        fewest[set] = subsets(set)
            .filter(|bar| bar & first != 0 && on_one[*bar])
            .filter_map(|bar| fewest[set & !bar].map(|bars: u64| bars + 1))
            .min();
    }
    fewest
}

/// The best of giving part of each set to one more kind of bar.
fn share_out(before: &[Option<Best>], alone: &[Option<Best>]) -> Vec<Option<Best>> {
    (0..before.len())
        .map(|set| {
            subsets(set)
                .filter_map(|part| {
                    let (a, b) = (before[set & !part]?, alone[part]?);
                    Some(Best {
                        value: a.value + b.value,
                        hand_nm: a.hand_nm + b.hand_nm,
                    })
                })
                .min()
        })
        .collect()
}

/// All subsets of a set, the set itself and the empty one included.
fn subsets(set: usize) -> impl Iterator<Item = usize> {
    let mut next = Some(set);
    std::iter::from_fn(move || {
        let this = next?;
        next = (this != 0).then(|| (this - 1) & set);
        Some(this)
    })
}

/// What so many bars of a kind cost to buy, or `None` if there are not so many.
pub(crate) fn bought_cost(job: &SmallJob, bar: &SmallBar, money: bool, bars: u64) -> Option<Best> {
    let length_nm = i128::from(bar.length) * i128::from(job.grain_nm);
    let bars_a_sale = match bar.sold {
        SmallSold::Pack(bars) => u64::from(bars),
        SmallSold::Each | SmallSold::PerMetre => 1,
    };
    let sales = bars.div_ceil(bars_a_sale);
    let left = match (bar.sold, bar.available) {
        (_, None) => true,
        (SmallSold::PerMetre, Some(metres)) => {
            i128::from(bars) * length_nm <= i128::from(metres) * 1_000_000_000
        }
        (_, Some(available)) => sales <= available,
    };
    let value = match (money, bar.sold) {
        (false, _) => i128::from(sales * bars_a_sale) * length_nm,
        // Pence a metre times nanometres, in units of 10^-2 x 10^-9.
        (true, SmallSold::PerMetre) => i128::from(bars) * i128::from(bar.pence) * length_nm,
        (true, _) => i128::from(sales) * i128::from(bar.pence) * 1_000_000_000,
    };
    left.then_some(Best { value, hand_nm: 0 })
}

/// What it counts as to cut into so many bars in hand, or `None` if there are not so many.
pub(crate) fn hand_cost(job: &SmallJob, bar: &SmallHand, money: bool, bars: u64) -> Option<Best> {
    let worth = if money { bar.worth.unwrap_or(0) } else { 0 };
    (bars <= bar.available).then(|| Best {
        value: i128::from(bars) * i128::from(worth) * 1_000_000_000,
        hand_nm: i128::from(bars) * i128::from(bar.length) * i128::from(job.grain_nm),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn job(kerf: i64, pieces: &[(i64, u64)], stock: &[(i64, i64)]) -> SmallJob {
        SmallJob {
            grain_nm: 1_000_000,
            kerf,
            per_cut: 0,
            square: (0, 0),
            priced: true,
            pieces: pieces.to_vec(),
            stock: stock
                .iter()
                .map(|&(length, pence)| SmallBar {
                    length,
                    pence,
                    sold: SmallSold::Each,
                    available: None,
                })
                .collect(),
            in_hand: vec![],
        }
    }

    fn pence(job: &SmallJob) -> Option<i128> {
        exhaustive(job).map(|best| best.value / 1_000_000_000)
    }

    /// Counter-examples to rounding up, from memory: Fieldhouse, SICUP Bulletin 5 (1990), and
    /// Gau, SICUP Bulletin 12 (1994). Both need three bars.
    #[test]
    fn agrees_with_two_published_values() {
        assert_eq!(
            pence(&job(0, &[(15, 1), (10, 2), (6, 4)], &[(30, 1)])),
            Some(3)
        );
        let gau = [(5000, 1), (3750, 1), (3250, 1), (3001, 1), (2000, 2)];
        assert_eq!(pence(&job(0, &gau, &[(10_000, 1)])), Some(3));
    }

    /// Arithmetic: two pieces of 50 take 100 without a blade and 103 with one of 3.
    #[test]
    fn counts_the_blade_between_pieces_only() {
        assert_eq!(pence(&job(0, &[(50, 2)], &[(100, 1)])), Some(1));
        assert_eq!(pence(&job(3, &[(50, 2)], &[(100, 1)])), Some(2));
        assert_eq!(pence(&job(3, &[(50, 2)], &[(103, 1)])), Some(1));
        assert_eq!(pence(&job(3, &[(50, 1)], &[(50, 1)])), Some(1));
    }

    /// Arithmetic on what is to be had.
    #[test]
    fn knows_what_is_to_be_had() {
        let mut short = job(0, &[(50, 3)], &[(100, 7), (50, 5)]);
        assert_eq!(pence(&short), Some(12));
        short.stock[1].available = Some(0);
        assert_eq!(pence(&short), Some(14));
        short.stock[0].available = Some(1);
        assert_eq!(pence(&short), None);
        short.in_hand.push(SmallHand {
            length: 60,
            available: 1,
            square: (5, 5),
            worth: Some(3),
        });
        assert_eq!(
            exhaustive(&short),
            Some(Best {
                value: 10_000_000_000,
                hand_nm: 60_000_000
            })
        );
    }

    /// Arithmetic: three bars need two packs of two; 2.5 m at 4 a metre are 10 a bar.
    #[test]
    fn prices_packs_and_metres() {
        let mut packs = job(0, &[(80, 3)], &[(100, 7)]);
        packs.stock[0].sold = SmallSold::Pack(2);
        assert_eq!(pence(&packs), Some(14));
        let mut metres = job(0, &[(2000, 3)], &[(2500, 4)]);
        metres.stock[0].sold = SmallSold::PerMetre;
        assert_eq!(pence(&metres), Some(30));
        metres.stock[0].available = Some(7);
        assert_eq!(pence(&metres), None);
    }
}
