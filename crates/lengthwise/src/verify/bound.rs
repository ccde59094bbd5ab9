//! The bound that a certificate proves, as [`Certificate`] defines it, in whole numbers throughout.

use super::counted::Counted;
use super::facts::Facts;
use super::knapsack::{Query, gcd};
use super::refusal::Breach;
use crate::plan::Certificate;

/// Above what any plan comes to, with room for what is added to it.
const NO_PLAN: i128 = i128::MAX / 4;

/// What came of recomputing a bound.
pub(super) enum Recomputed {
    /// No plan can do better than this, in the units of [`Facts`].
    Proven(i128),
    /// The knapsacks or the numbers are too large.
    OutOfReach,
}

/// Recomputes the bound that the prices of a certificate prove by themselves. Without prices nothing is proven but that nothing costs less than nothing.
pub(super) fn recompute(
    facts: &Facts<'_>,
    certificate: &Certificate,
    counted: &Counted,
) -> Result<Recomputed, Breach> {
    if counted.is_nothing() {
        return Ok(Recomputed::Proven(0));
    }
    let Some(costs) = Costs::of(facts) else {
        return Ok(Recomputed::OutOfReach);
    };
    let Some(limits) = costs.limits(certificate.scale) else {
        return Ok(Recomputed::OutOfReach);
    };
    let prices = &counted.prices;
    let Some(best) = counted.best(facts, prices, &limits) else {
        return Ok(Recomputed::OutOfReach);
    };
    check_unlimited(facts, &best, &limits)?;
    let units = net_worth(facts, counted, &best, &limits)
        .and_then(|worth| costs.round_up(worth, certificate.scale));
    Ok(units.map_or(Recomputed::OutOfReach, Recomputed::Proven))
}

/// One question for each kind of bar: is more than its floor possible on it?
pub(super) fn queries(facts: &Facts<'_>, floors: &[u128]) -> Vec<Query> {
    let kinds = facts.kinds.iter().zip(floors);
    kinds
        .map(|(kind, &floor)| Query {
            capacity: kind.usable() + facts.cut(),
            floor,
        })
        .collect()
}

/// What the bars cost in the whole units of a certificate.
struct Costs {
    /// One bar of each kind.
    per_bar: Vec<u128>,
    /// Every plan costs a multiple of this.
    step: u128,
    /// What `step` is in the units of the job.
    step_value: i128,
}

impl Costs {
    /// `None` where the numbers outgrow 128 bits.
    fn of(facts: &Facts<'_>) -> Option<Costs> {
        let mut multiple = 1_i128;
        for kind in &facts.kinds {
            let per_sale = i128::from(kind.per_sale);
            let common = gcd(multiple, per_sale);
            multiple = multiple.checked_mul(per_sale.checked_div(common)?)?;
        }
        let whole = |sale: i128, per_sale: u64| {
            let bars_share = multiple.checked_div(i128::from(per_sale))?;
            sale.checked_mul(bars_share)
        };
        let raw = facts
            .kinds
            .iter()
            .map(|kind| whole(kind.sale, kind.per_sale));
        let raw: Vec<i128> = raw.collect::<Option<_>>()?;
        // Where everything costs nothing, any unit will do.
        let unit = raw.iter().copied().fold(0, gcd).max(1);
        let per_bar: Vec<u128> = raw
            .iter()
            .map(|cost| u128::try_from(cost / unit).ok())
            .collect::<Option<_>>()?;
        let step_value = facts.kinds.iter().map(|kind| kind.sale).fold(0, gcd);
        // One unit is `unit / multiple` of the job's units; a step is a whole number of both.
        let step = step_value.checked_mul(multiple)? / unit;
        Some(Costs {
            per_bar,
            step: u128::try_from(step).ok()?,
            step_value,
        })
    }

    /// What pieces on one bar of each kind may be worth.
    fn limits(&self, scale: i64) -> Option<Vec<u128>> {
        let scale = u128::try_from(scale).ok()?;
        let each = self.per_bar.iter().map(|cost| cost.checked_mul(scale));
        each.collect()
    }

    /// The worth of all pieces as a cost: whole units, then whole sales.
    fn round_up(&self, worth: i128, scale: i64) -> Option<i128> {
        let worth = u128::try_from(worth.max(0)).ok()?;
        let units = worth.div_ceil(u128::try_from(scale.max(1)).ok()?);
        if self.step == 0 {
            // Everything costs nothing; where pieces are worth more than all bars hold, there is no plan.
            return Some(if units > 0 { NO_PLAN } else { 0 });
        }
        let steps = i128::try_from(units.div_ceil(self.step)).ok()?;
        steps.checked_mul(self.step_value)
    }
}

/// On a bar that can be had without limit, pieces must not be worth more than it costs.
fn check_unlimited(facts: &Facts<'_>, best: &[u128], limits: &[u128]) -> Result<(), Breach> {
    let kinds = facts.kinds.iter().zip(best.iter().zip(limits)).enumerate();
    for (bar, (kind, (&best, &limit))) in kinds {
        if kind.available.is_none() && best > limit {
            return Err(Breach::PricesAboveCost { bar, best, limit });
        }
    }
    Ok(())
}

/// What everything is worth, less what the limited bars hold beyond their cost.
fn net_worth(facts: &Facts<'_>, counted: &Counted, best: &[u128], limits: &[u128]) -> Option<i128> {
    let mut worth = counted.worth(&counted.prices, &facts.work)?;
    for (kind, (best, limit)) in facts.kinds.iter().zip(best.iter().zip(limits)) {
        let over = i128::try_from(best.saturating_sub(*limit)).ok()?;
        let bars = i128::from(kind.available.unwrap_or(0)); // nothing over, where there is no limit
        worth = worth.checked_sub(over.checked_mul(bars)?)?;
    }
    Some(worth)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Units of two, of which three are a sale of 30; and bars that cost nothing, where pieces that are worth
    /// more than all of them hold have no place.
    #[test]
    fn worth_is_rounded_up_to_whole_sales() {
        let costs = Costs {
            per_bar: vec![3],
            step: 3,
            step_value: 30,
        };
        let worth = [-1, 0, 1, 6, 7].map(|worth| costs.round_up(worth, 2));
        assert_eq!(worth, [Some(0), Some(0), Some(30), Some(30), Some(60)]);
        let free = Costs {
            per_bar: vec![0],
            step: 0,
            step_value: 0,
        };
        let worth = [-1, 0, 1].map(|worth| free.round_up(worth, 2));
        assert_eq!(worth, [Some(0), Some(0), Some(NO_PLAN)]);
    }
}
