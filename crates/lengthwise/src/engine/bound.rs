//! The exact lower bound: whole-number prices, whole-number arithmetic.
//!
//! With prices `p`, demands `d`, and `V_s` at least the best pattern value on kind `s`, where
//! `V_s <= scale c_s` on every kind without limit, every packing costs at least
//! `(sum d p - sum over limited s of b_s max(0, V_s - scale c_s)) / scale`, rounded up to a multiple
//! of the cost step. Prices that break the condition are first scaled down by the worst ratio.
//!
//! Source: Farley, Oper. Res. 38 (1990) 922-923 for the scaling; Held, Cook & Sewell, Math. Program.
//! Comput. 4 (2012) for safe bounds from rounded prices (both from memory).

use super::instance::{Instance, Kind, Remainder};
use super::runs::Run;

/// Bits that scaled costs of one bar may take, leaving room for sums over a pattern.
const PRICE_BITS: u32 = 58;
/// Above this the worth of a bar leaves no room for exact sums.
const MOST_WORTH: i64 = 1 << 60;
/// The finest scale; more digits than the linear program's own accuracy gain nothing.
const FINEST_SCALE_BITS: u32 = 32;

/// A lower bound and the whole-number prices that prove it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Bound {
    /// In units of cost.
    pub value: i128,
    /// One price an item, none negative.
    pub prices: Vec<i64>,
}

/// What one unit of cost counts in prices, so that no pattern's value can overflow while no piece is
/// priced above `ceiling` units of cost.
pub(crate) fn scale_for(instance: &Instance, ceiling: f64) -> i64 {
    let smallest = instance
        .items
        .iter()
        .map(|item| item.size)
        .min()
        .unwrap_or(1)
        .max(1);
    let most_pieces = (instance.largest_capacity() / smallest + 1).max(most_in_runs(instance));
    let bits = |value: i64| 64 - value.max(1).leading_zeros();
    // `as` saturates, and a saturated ceiling leaves the coarsest scale.
    let dearest = (ceiling.ceil() as i64).max(instance.largest_cost());
    let taken = bits(dearest) + bits(most_pieces);
    1 << PRICE_BITS.saturating_sub(taken).min(FINEST_SCALE_BITS)
}

/// What is demanded for one copy of a run, at the most.
fn most_in_runs(instance: &Instance) -> i64 {
    let of_run = |run: &Run| run.most().iter().map(|&(_, most)| i64::from(most)).sum();
    instance.runs.iter().map(of_run).max().unwrap_or(0)
}

/// The finest scale at which what a bar is worth stays exact.
pub(crate) fn finest_scale(instance: &Instance) -> i64 {
    (MOST_WORTH / 4) / instance.largest_cost().max(1) / most_in_runs(instance).max(1)
}

/// The bound that needs no linear program: pieces priced by their length, at what some kind of bar
/// costs by the length; the best of those of all kinds.
pub(crate) fn by_length(instance: &Instance, scale: i64) -> Bound {
    let whole = instance.whole();
    let of_kind = |rate: &Kind| {
        let price = |length: i64| {
            // A cost times the scale has at most `PRICE_BITS`, so this cannot overflow.
            let exact = i128::from(length) * i128::from(rate.cost) * i128::from(scale);
            let price = i64::try_from(exact / i128::from(rate.capacity)).ok()?;
            (price < MOST_WORTH).then_some(price)
        };
        let prices: Option<Vec<i64>> = instance.lengths().into_iter().map(price).collect();
        let prices = prices?;
        // Rounded down piece by piece, so no pattern is worth more than the length of its bar.
        let kinds = instance.kinds.iter();
        let best_values: Option<Vec<i64>> = (0_u32..)
            .zip(kinds)
            .map(|(place, kind)| match instance.run_of(place) {
                Some(run) => run.stays_exact(&prices).then(|| run.holds(&prices)),
                None => price(kind.capacity),
            })
            .collect();
        Some(bound(instance, &whole, &prices, scale, &best_values?))
    };
    let rates = instance.kinds.iter().filter(|kind| kind.capacity > 0);
    let none = Bound {
        value: 0,
        prices: vec![0; instance.items.len()],
    };
    rates.filter_map(of_kind).fold(
        none,
        |best, next| {
            if next.value > best.value { next } else { best }
        },
    )
}

/// The bound that `prices` prove for what remains, given the best pattern value on each kind.
pub(crate) fn bound(
    instance: &Instance,
    remainder: &Remainder,
    prices: &[i64],
    scale: i64,
    best_values: &[i64],
) -> Bound {
    let scale = i128::from(scale);
    let (numerator, denominator) = worst_ratio(instance, remainder, scale, best_values);
    let shrink = |value: i64| i128::from(value) * numerator / denominator;
    // Shrunk values are at most the value itself, so they fit again.
    let prices: Vec<i64> = prices
        .iter()
        .map(|&price| i64::try_from(shrink(price)).unwrap_or(0))
        .collect();
    let worth: i128 = remainder
        .demand
        .iter()
        .zip(&prices)
        .map(|(&demand, &price)| i128::from(demand) * i128::from(price))
        .sum();
    let kinds = instance
        .kinds
        .iter()
        .zip(&remainder.available)
        .zip(best_values);
    let excess: i128 = kinds
        .filter_map(|((kind, available), &best)| {
            let over = shrink(best) - scale * i128::from(kind.cost);
            available.map(|available| i128::from(available) * over.max(0))
        })
        .sum();
    Bound {
        value: round_up(worth - excess, scale, instance.cost_step()),
        prices,
    }
}

/// The largest factor, at most 1, by which all prices may be multiplied without breaking the
/// condition on a kind without limit.
fn worst_ratio(
    instance: &Instance,
    remainder: &Remainder,
    scale: i128,
    best_values: &[i64],
) -> (i128, i128) {
    let mut worst = (1_i128, 1_i128);
    let kinds = instance
        .kinds
        .iter()
        .zip(&remainder.available)
        .zip(best_values);
    for ((kind, available), &best) in kinds {
        let (cost, best) = (scale * i128::from(kind.cost), i128::from(best));
        if available.is_none() && best > cost && cost * worst.1 < worst.0 * best {
            worst = (cost, best);
        }
    }
    worst
}

/// `total / scale`, rounded up to a multiple of `step`; never below zero.
pub(crate) fn round_up(total: i128, scale: i128, step: i128) -> i128 {
    if total <= 0 || step <= 0 {
        return 0;
    }
    let whole_step = scale * step;
    (total + whole_step - 1) / whole_step * step
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::instance::Item;

    #[test]
    fn plain_lp_value_is_rounded_up_to_the_cost_step() {
        // Gueret, Prins & Sevaux (2002), section 9.6: the LP gives 75280, prices are multiples of
        // 100 (here 150 and 200 after division by 1: step 50), the optimum is 75300.
        assert_eq!(round_up(75_280 << 20, 1 << 20, 50), 75_300);
        assert_eq!(round_up(75_300 << 20, 1 << 20, 50), 75_300);
        assert_eq!(round_up((75_300 << 20) - 5, 1 << 20, 50), 75_300);
        assert_eq!(round_up(-4, 1, 1), 0);
    }

    #[test]
    fn prices_that_break_the_condition_are_scaled_down() {
        let instance = Instance {
            apart: Vec::new(),
            runs: Vec::new(),
            windows: 0,
            items: vec![Item {
                size: 5,
                demand: 4,
                batch: None,
            }],
            kinds: vec![Kind {
                run: None,
                batch: 0,
                capacity: 10,
                cost: 1,
                available: None,
                pack: 1,
                tie: 0,
            }],
        };
        // A piece priced at a whole bar: two fit on one, so only half of it counts.
        let bound = bound(&instance, &instance.whole(), &[16], 16, &[32]);
        assert_eq!(
            bound,
            Bound {
                value: 2,
                prices: vec![8]
            }
        );
    }

    /// Arithmetic: 4 x 5 of length at 3 for 10 cost at least 6; a dearer and longer bar changes
    /// nothing, and one bar for nothing saves what it could hold.
    #[test]
    fn length_alone_proves_a_bound() {
        let kind = |capacity, cost, available| Kind {
            run: None,
            batch: 0,
            capacity,
            cost,
            available,
            pack: 1,
            tie: 0,
        };
        let mut instance = Instance {
            apart: Vec::new(),
            runs: Vec::new(),
            windows: 0,
            items: vec![Item {
                size: 5,
                demand: 4,
                batch: None,
            }],
            kinds: vec![kind(10, 3, None), kind(100, 40, None)],
        };
        assert_eq!(by_length(&instance, 1 << 20).value, 6);
        instance.kinds.push(kind(10, 0, Some(1)));
        assert_eq!(by_length(&instance, 1 << 20).value, 3);
        instance.kinds = vec![kind(0, 1, None)];
        assert_eq!(by_length(&instance, 1 << 20).value, 0);
    }

    fn kind(capacity: i64, cost: i64, available: Option<u32>) -> Kind {
        Kind {
            run: None,
            batch: 0,
            capacity,
            cost,
            available,
            pack: 1,
            tie: 0,
        }
    }

    fn instance(size: i64, demand: u32, kinds: Vec<Kind>) -> Instance {
        let batch = None;
        Instance {
            apart: Vec::new(),
            runs: Vec::new(),
            windows: 0,
            items: vec![Item {
                size,
                demand,
                batch,
            }],
            kinds,
        }
    }

    /// A run of four equal parts, no joint of which may be left out.
    fn four_parts() -> Run {
        let next = |place: u32| vec![(place + 1, 0)];
        let parts = (0..4).map(next).chain([vec![]]);
        Run::new(parts.collect(), vec![vec![]; 5], 3)
    }

    #[test]
    fn limited_kinds_pay_for_what_they_give_away() {
        let kinds = vec![kind(5, 1, None), kind(5, 0, Some(1))];
        let free = instance(5, 3, kinds);
        assert_eq!(bound(&free, &free.whole(), &[16], 16, &[16, 16]).value, 2);
        // One bar at half the price saves half of one: two at 2 and one at 1.
        let kinds = vec![kind(5, 2, None), kind(5, 1, Some(1))];
        let cheap = instance(5, 3, kinds);
        assert_eq!(bound(&cheap, &cheap.whole(), &[32], 16, &[32, 32]).value, 5);
    }

    /// 58 bits are shared by the dearest piece, the most pieces on a bar, and the scale.
    #[test]
    fn the_scale_is_as_fine_as_sums_over_a_bar_allow() {
        let dearest = (1_u64 << 35) as f64; // 36 bits
        let mut short = instance(3, 1, vec![kind(3069, 7, None)]);
        assert_eq!(scale_for(&short, dearest), 1 << 11); // up to 1023 pieces and a rest: 11 bits
        assert_eq!(scale_for(&short, 1.0), 1 << FINEST_SCALE_BITS);
        // What is demanded for a run counts where it is more than any bar holds.
        short.kinds = vec![kind(3, 7, None)];
        assert_eq!(scale_for(&short, dearest), 1 << 20); // two pieces
        short.runs = vec![four_parts()];
        assert_eq!(scale_for(&short, dearest), 1 << 19); // four
    }

    #[test]
    fn the_finest_scale_leaves_room_for_what_a_bar_and_a_run_are_worth() {
        let mut long = instance(3, 1, vec![kind(3, 7, None)]);
        assert_eq!(finest_scale(&long), (1 << 58) / 7);
        long.runs = vec![four_parts()];
        assert_eq!(finest_scale(&long), (1 << 58) / 7 / 4);
    }

    /// Three bars of 4.2 m at 4.85, each full of what is asked for, in nanometres.
    #[test]
    fn length_proves_a_bound_of_the_finest_lengths_too() {
        let fine = instance(1_400_000_001, 9, vec![kind(4_200_000_003, 485, None)]);
        assert_eq!(by_length(&fine, 1 << 20).value, 3 * 485);
    }
}
