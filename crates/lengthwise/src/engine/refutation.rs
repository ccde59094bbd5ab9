//! Why a mix of bars cannot hold everything: whole-number prices, or an exhausted search.
//!
//! Give each piece a price `p_i >= 0`. No bar of kind `s` holds more than `V_s` of it. A mix with `n_s`
//! bars of each kind holds everything only if `sum n_s V_s >= sum d_i p_i`; one inequality in whole
//! numbers refutes every mix that breaks it (Farkas' lemma; as Benders' feasibility cuts, Numer.
//! Math. 4 (1962) 238-252, from memory).

use super::instance::Instance;
use super::pricing::{Offer, Tables};
use super::work::Meter;

/// How many bars of each kind.
pub(crate) type Mix = Vec<u32>;

/// Prices that refute mixes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Refutation {
    /// One price an item.
    pub prices: Vec<i64>,
    /// What all pieces together are priced at.
    pub total: i128,
    /// What a bar of each kind can hold of that at the most.
    pub most: Vec<i64>,
}

impl Refutation {
    /// The inequality that these prices make, with the exact best value for every kind.
    pub fn from_prices(instance: &Instance, prices: &[i64], meter: &mut Meter<'_>) -> Refutation {
        let offers: Vec<Offer> = (0_u32..)
            .zip(&instance.items)
            .zip(prices)
            .filter(|((_, item), price)| item.demand > 0 && **price > 0)
            .map(|((item, data), &price)| Offer {
                item,
                size: data.size,
                most: data.demand,
                price,
            })
            .collect();
        let tables = Tables::new(instance, &offers, meter);
        let most = (0_u32..)
            .zip(&instance.kinds)
            .map(|(place, kind)| match instance.run_of(place) {
                Some(run) => {
                    meter.spend(run.work());
                    run.holds(prices)
                }
                None => {
                    let most = tables.of(place).map(|table| {
                        // There may be thousands of kinds: once it is time to stop, what they hold at the most
                        // is enough.
                        match meter.stopped() {
                            None => table.search(kind.capacity, 0, meter).at_most,
                            Some(_) => table.bound(0, kind.capacity),
                        }
                    });
                    most.map_or(0, |most| most.max(0))
                }
            })
            .collect();
        let total = instance
            .items
            .iter()
            .zip(prices)
            .map(|(item, &price)| i128::from(item.demand) * i128::from(price))
            .sum();
        Refutation {
            prices: prices.to_vec(),
            total,
            most,
        }
    }

    /// By how much the mix falls short; zero or less where it is not refuted.
    pub fn shortfall(&self, mix: &[u32]) -> i128 {
        let holds: i128 = self
            .most
            .iter()
            .zip(mix)
            .map(|(&most, &bars)| i128::from(most) * i128::from(bars))
            .sum();
        self.total - holds
    }
}
