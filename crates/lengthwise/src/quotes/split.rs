//! Materials shared out over quotes, each of which charges delivery once.

use rust_decimal::Decimal;
#[cfg(feature = "serde")]
use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::price::Price;

/// The most quotes that are compared: every set of them is looked at.
pub const MOST_QUOTES: usize = 15;

/// What a material from one source costs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct Estimate {
    /// What the plan comes to; `None` where none was found.
    pub value: Option<Price>,
    /// No plan costs less.
    pub bound: Price,
}

/// Materials shared out.
#[derive(Clone, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct Split {
    /// The quote for each material; `None` where nothing is bought for it.
    pub chosen: Vec<Option<usize>>,
    /// What the materials come to.
    pub material: Price,
    /// What the deliveries come to.
    pub delivery: Price,
    /// Both together.
    pub total: Price,
    /// No way to share the materials out costs less.
    pub bound: Price,
}

/// More quotes than sets of them can be looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
#[error("{0} quotes are more than the {MOST_QUOTES} of which every set can be looked at")]
pub struct TooManyQuotes(pub usize);

/// Shares materials out over quotes at the least total cost: each material from one quote or, where that is
/// possible, bought nowhere; a quote that anything comes from charges its delivery once. Of equally cheap
/// ways one with the fewest quotes, and then as early ones as may be. The answer is `None` where some
/// material has no source.
///
/// `delivery` has an entry for each quote, `offers` a list for each with an entry for each material, `None`
/// where it cannot be had there; `from_hand` has one for each material.
///
/// Every set of quotes is looked at, so the least is found and proven: uncapacitated facility location by
/// enumeration (the problem after Balinski 1965; from memory). Takes O(2^quotes x materials).
///
/// # Errors
/// More than [`MOST_QUOTES`] quotes.
///
/// ```
/// use lengthwise::Price;
/// use lengthwise::quotes::{Estimate, cheapest_split};
/// let price = |text| Price::parse(text, false);
/// let sure = |text| price(text).map(|value| Some(Estimate { value: Some(value), bound: value }));
/// // Battens and boards: the second quote is cheaper for boards, but not by its delivery.
/// let offers = [vec![sure("40")?, sure("100")?], vec![sure("45")?, sure("90")?]];
/// let delivery = [price("20")?, price("15")?];
/// let split = cheapest_split(&delivery, &offers, &[None, None])?.ok_or("no way")?;
/// assert_eq!(split.chosen, [Some(1), Some(1)]);
/// assert_eq!((split.total, split.bound), (price("150")?, price("150")?));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn cheapest_split(
    delivery: &[Price],
    offers: &[Vec<Option<Estimate>>],
    from_hand: &[Option<Estimate>],
) -> Result<Option<Split>, TooManyQuotes> {
    let quotes = delivery.len();
    if quotes > MOST_QUOTES {
        return Err(TooManyQuotes(quotes));
    }
    let unit = Unit::of(delivery, offers, from_hand);
    let deliveries = deliveries(delivery.iter().map(|charge| unit.units(Some(*charge))));
    let least = |of: fn(&Estimate) -> Option<Price>| -> Vec<i128> {
        let mut costs = deliveries.clone();
        let mut best = Vec::new();
        for (material, hand) in from_hand.iter().enumerate() {
            let units = |estimate: Option<&Estimate>| unit.units(estimate.and_then(of));
            let offered = (0..quotes).map(|quote| {
                let offers = offers.get(quote).and_then(|offers| offers.get(material));
                units(offers.and_then(Option::as_ref))
            });
            best_of_sets(units(hand.as_ref()), offered, &mut best);
            for (cost, best) in costs.iter_mut().zip(&best) {
                *cost = cost.saturating_add(*best);
            }
        }
        costs
    };
    let values = least(|estimate| estimate.value);
    let sets = values.iter().enumerate();
    let sets = sets.map(|(set, cost)| (*cost, set.count_ones(), set));
    let cheapest = sets.min().filter(|(cost, ..)| *cost != NO_WAY);
    let prices = cheapest.and_then(|(cost, _, set)| {
        let charged = *deliveries.get(set)?;
        let material = unit.price(cost.checked_sub(charged)?)?;
        Some((set, material, unit.price(charged)?, unit.price(cost)?))
    });
    let Some((set, material, delivery, total)) = prices else {
        return Ok(None);
    };
    let bounds = least(|estimate| Some(estimate.bound));
    let bound = bounds.into_iter().min().and_then(|bound| unit.price(bound));
    let bound = bound.unwrap_or(Price::ZERO);
    let chosen = (0..from_hand.len()).map(|material| {
        let hand = from_hand.get(material).copied().flatten();
        let hand = hand.and_then(|hand| Some((hand.value?, None)));
        let members = (0..quotes).filter(|quote| set >> quote & 1 == 1);
        let offered = members.filter_map(|quote| {
            let offer = (*offers.get(quote)?.get(material)?)?;
            Some((offer.value?, Some(quote)))
        });
        hand.into_iter()
            .chain(offered)
            .min()
            .and_then(|(_, quote)| quote)
    });
    Ok(Some(Split {
        chosen: chosen.collect(),
        material,
        delivery,
        total,
        bound: bound.min(total),
    }))
}

/// What cannot be had costs this.
const NO_WAY: i128 = i128::MAX;

/// The last decimal of some prices: their sums are sums of whole numbers of it.
#[derive(Clone, Copy)]
struct Unit {
    decimals: u32,
}

impl Unit {
    fn of(
        delivery: &[Price],
        offers: &[Vec<Option<Estimate>>],
        from_hand: &[Option<Estimate>],
    ) -> Unit {
        let estimates = offers.iter().flatten().chain(from_hand).flatten();
        let estimated = estimates.flat_map(|one| one.value.into_iter().chain([one.bound]));
        let prices = delivery.iter().copied().chain(estimated);
        let decimals = prices.map(|price| price.decimal().normalize().scale());
        Unit {
            decimals: decimals.max().unwrap_or(0),
        }
    }

    /// A price in whole numbers of it; one that is none, or beyond all bounds, is no way.
    fn units(self, price: Option<Price>) -> i128 {
        let units = price.and_then(|price| {
            let price = price.decimal().normalize();
            let power = 10_i128.checked_pow(self.decimals.checked_sub(price.scale())?)?;
            price.mantissa().checked_mul(power)
        });
        units.unwrap_or(NO_WAY)
    }

    /// So many of it; `None` where that has more digits than a price, noughts at its end left out.
    fn price(self, mut units: i128) -> Option<Price> {
        let mut decimals = self.decimals;
        while decimals > 0 && units % 10 == 0 {
            (units, decimals) = (units / 10, decimals - 1);
        }
        let exact = Decimal::try_from_i128_with_scale(units, decimals);
        Price::from_decimal(exact.ok()?)
    }
}

/// What the deliveries of each set of quotes come to, the set as a number whose bits are its members.
fn deliveries(charges: impl Iterator<Item = i128>) -> Vec<i128> {
    let mut sums = vec![0];
    for charge in charges {
        let with: Vec<i128> = sums
            .iter()
            .map(|sum: &i128| sum.saturating_add(charge))
            .collect();
        sums.extend(with);
    }
    sums
}

/// The least that one material costs in each set of quotes.
fn best_of_sets(hand: i128, offered: impl Iterator<Item = i128>, best: &mut Vec<i128>) {
    best.clear();
    best.push(hand);
    for offer in offered {
        let sets = best.len();
        best.extend_from_within(..);
        for with in best.iter_mut().skip(sets) {
            *with = offer.min(*with);
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn price(amount: u32) -> Price {
        Price::from_decimal(amount.into()).unwrap()
    }

    fn sure(amount: u32) -> Option<Estimate> {
        let value = price(amount);
        Some(Estimate {
            value: Some(value),
            bound: value,
        })
    }

    #[test]
    fn nothing_at_all() {
        let split = cheapest_split(&[], &[], &[]).unwrap().unwrap();
        assert_eq!((split.total, split.chosen), (Price::ZERO, vec![]));
        assert_eq!(cheapest_split(&[], &[], &[None]), Ok(None));
        let many = vec![Price::ZERO; 16];
        assert_eq!(cheapest_split(&many, &[], &[]), Err(TooManyQuotes(16)));
    }

    #[test]
    fn what_is_in_hand_saves_a_delivery() {
        let offers = [vec![sure(5), sure(40)]];
        let split = |hand| {
            let split = cheapest_split(&[price(30)], &offers, &[hand, sure(60)]);
            split.unwrap().unwrap()
        };
        // 60 and 6 from hand, or 30 for delivery with 5 and 40.
        let all = split(sure(6));
        assert_eq!((all.total, all.chosen), (price(66), vec![None, None]));
        // 30 with 5 and 40, or 30 with 5 and 60.
        let bought = split(None);
        assert_eq!((bought.total, bought.delivery), (price(75), price(30)));
        assert_eq!(bought.chosen, [Some(0), Some(0)]);
    }

    /// Whole numbers of the last decimal of any price, and none lost.
    #[test]
    fn prices_of_any_decimals_add_up() {
        let exact = |text| Price::parse(text, false).unwrap();
        let sure = |text| {
            let value = exact(text);
            Some(Estimate {
                value: Some(value),
                bound: value,
            })
        };
        let offers = [
            vec![sure("0.000001"), sure("999999999.5")],
            vec![None, sure("999999999.499999")],
        ];
        let split = cheapest_split(&[exact("10"), exact("0.000001")], &offers, &[None, None]);
        let split = split.unwrap().unwrap();
        // With both, 10.000001 for delivery; the first alone saves that and more.
        assert_eq!(split.chosen, [Some(0), Some(0)]);
        assert_eq!(
            split.total,
            exact("999999999.5")
                .checked_add(exact("10.000001"))
                .unwrap()
        );
        assert_eq!((split.bound, split.delivery), (split.total, exact("10")));
    }

    /// A sum near 2^96 of the last decimal that any price has, where it needs fewer decimals itself.
    #[test]
    fn large_sums_beside_fine_prices() {
        let exact = |text| Price::from_decimal(Decimal::from_str_exact(text).unwrap()).unwrap();
        let sure = |text| {
            let value = exact(text);
            Some(Estimate {
                value: Some(value),
                bound: value,
            })
        };
        let fine = "0.000000000000001";
        for large in ["79000000000000", "79228162514264.5", "80000000000000.25"] {
            let offers = [vec![sure(large)], vec![None]];
            let split = cheapest_split(&[exact("4.5"), exact(fine)], &offers, &[None]);
            let split = split.unwrap().unwrap();
            let total = exact(large).checked_add(exact("4.5")).unwrap();
            assert_eq!((split.total, split.bound), (total, total));
            assert_eq!(
                (split.material, split.delivery),
                (exact(large), exact("4.5"))
            );
        }
        // What comes to more digits than a price has is not rounded.
        let split = cheapest_split(&[exact(fine)], &[vec![sure("80000000000000")]], &[None]);
        assert_eq!(split, Ok(None));
        // Both together are a price, the material alone is none.
        let offers = [vec![
            sure("79000000000000"),
            sure("900000000000.000000000000001"),
        ]];
        let split = cheapest_split(&[exact("0.999999999999999")], &offers, &[None, None]);
        assert_eq!(split, Ok(None));
    }

    #[test]
    fn of_equals_the_fewest_and_the_first() {
        let offers = [
            vec![sure(5), sure(9)],
            vec![sure(6), sure(5)],
            vec![sure(6), sure(5)],
        ];
        let split = cheapest_split(&[price(1), price(0), price(0)], &offers, &[None, None]);
        let split = split.unwrap().unwrap();
        assert_eq!(
            (split.total, split.chosen),
            (price(11), vec![Some(1), Some(1)])
        );
    }

    #[test]
    fn what_is_not_proven_leaves_a_gap() {
        let open = |value: Option<u32>, bound| {
            Some(Estimate {
                value: value.map(price),
                bound: price(bound),
            })
        };
        let offers = [vec![sure(10)], vec![open(Some(12), 8)], vec![open(None, 1)]];
        let split = |delivery| {
            let split = cheapest_split(&[price(1), price(0), price(delivery)], &offers, &[None]);
            split.unwrap().unwrap()
        };
        assert_eq!((split(7).total, split(7).bound), (price(11), price(8)));
        assert_eq!(split(4).bound, price(5));
    }

    /// Every way to give each material a source, none left out.
    fn by_hand(delivery: &[u32], offers: &[Vec<Option<u32>>], hand: &[Option<u32>]) -> Option<u32> {
        let mut ways: Vec<(u32, Vec<bool>)> = vec![(0, vec![false; delivery.len()])];
        for (material, hand) in hand.iter().enumerate() {
            let mut next = Vec::new();
            for (cost, used) in &ways {
                next.extend(hand.map(|hand| (cost + hand, used.clone())));
                for (quote, offers) in offers.iter().enumerate() {
                    if let Some(offer) = offers[material] {
                        let mut used = used.clone();
                        used[quote] = true;
                        next.push((cost + offer, used));
                    }
                }
            }
            ways = next;
        }
        let total = |(cost, used): &(u32, Vec<bool>)| {
            let charges = delivery.iter().zip(used).filter(|(_, used)| **used);
            cost + charges.map(|(charge, _)| charge).sum::<u32>()
        };
        ways.iter().map(total).min()
    }

    fn cost() -> impl Strategy<Value = Option<u32>> {
        prop::option::weighted(0.8, 0_u32..60)
    }

    proptest! {
        #[test]
        fn agrees_with_every_way(
            (delivery, offers, hand) in (0_usize..5, 1_usize..5).prop_flat_map(|(quotes, materials)| (
                prop::collection::vec(0_u32..40, quotes),
                prop::collection::vec(prop::collection::vec(cost(), materials), quotes),
                prop::collection::vec(prop::option::weighted(0.2, 0_u32..60), materials),
            )),
        ) {
            let estimates = |row: &Vec<Option<u32>>| -> Vec<Option<Estimate>> {
                row.iter().map(|cost| cost.and_then(sure)).collect()
            };
            let charges: Vec<Price> = delivery.iter().copied().map(price).collect();
            let rows: Vec<_> = offers.iter().map(estimates).collect();
            let split = cheapest_split(&charges, &rows, &estimates(&hand)).unwrap();
            let least = by_hand(&delivery, &offers, &hand);
            prop_assert_eq!(split.as_ref().map(|split| split.total), least.map(price));
            let Some(split) = split else { return Ok(()) };
            // The choice comes to what it says.
            let mut total = 0;
            for (material, chosen) in split.chosen.iter().enumerate() {
                total += match chosen {
                    Some(quote) => offers[*quote][material],
                    None => hand[material],
                }.unwrap();
            }
            prop_assert_eq!(price(total), split.material);
            for (quote, charge) in delivery.iter().enumerate() {
                if split.chosen.contains(&Some(quote)) {
                    total += charge;
                }
            }
            prop_assert_eq!(price(total), split.total);
            prop_assert_eq!(split.bound, split.total);
        }
    }
}
