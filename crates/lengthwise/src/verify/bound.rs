//! The bound that a certificate proves, as [`Certificate`] defines it, in whole numbers throughout.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use super::facts::{Facts, nm};
use super::knapsack::{Item, Query, best_values, gcd};
use super::refusal::Breach;
use crate::job::Shape;
use crate::plan::Certificate;

/// What came of recomputing a bound.
pub(super) enum Recomputed {
    /// No plan can do better than this, in the units of [`Facts`].
    Proven(i128),
    /// The knapsacks or the numbers are too large.
    OutOfReach,
}

/// Recomputes the bound that the prices of a certificate prove by themselves; `items` are its
/// [`priced_items`]. Without prices nothing is proven but that nothing costs less than nothing.
pub(super) fn recompute(
    facts: &Facts<'_>,
    certificate: &Certificate,
    items: &[Item],
) -> Result<Recomputed, Breach> {
    if items.is_empty() {
        return Ok(Recomputed::Proven(0));
    }
    let Some(costs) = Costs::of(facts) else {
        return Ok(Recomputed::OutOfReach);
    };
    let Some(limits) = costs.limits(certificate.scale) else {
        return Ok(Recomputed::OutOfReach);
    };
    let Some(best) = best_values(items, &queries(facts, &limits)) else {
        return Ok(Recomputed::OutOfReach);
    };
    check_unlimited(facts, &best, &limits)?;
    let units = net_worth(facts, items, &best, &limits)
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

/// The shapes of the job with their demand and the price that the certificate gives them; none for
/// a certificate without prices.
pub(super) fn priced_items(
    facts: &Facts<'_>,
    certificate: &Certificate,
) -> Result<Vec<Item>, Breach> {
    if certificate.prices.is_empty() {
        return Ok(vec![]);
    }
    if certificate.scale < 1 {
        return Err(Breach::CertificateScale {
            scale: certificate.scale,
        });
    }
    // By what they take of a bar, then by shape, both from the largest on.
    let mut demand: BTreeMap<Reverse<(i128, Shape)>, u64> = BTreeMap::new();
    for piece in facts.material.pieces() {
        let shape = piece.shape();
        let takes = nm(shape.length) + facts.mitred(shape.ends)?.all;
        let sum = demand.entry(Reverse((takes, shape))).or_default();
        *sum = sum.checked_add(piece.qty()).ok_or(Breach::TooLarge)?;
    }
    let shapes = certificate.prices.iter().map(|(shape, _)| *shape);
    if !shapes.eq(demand.keys().map(|Reverse((_, shape))| *shape)) {
        return Err(Breach::CertificateLengths);
    }
    let both = certificate.prices.iter().zip(&demand);
    both.map(|(&(shape, price), (&Reverse((takes, _)), &demand))| {
        let length = shape.length;
        Ok(Item {
            size: takes + facts.cut(),
            price: u64::try_from(price).map_err(|_| Breach::CertificatePrice { length, price })?,
            demand,
        })
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
            return Some(0); // everything costs nothing
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

/// What all pieces are worth, less what the limited bars hold beyond their cost.
fn net_worth(facts: &Facts<'_>, items: &[Item], best: &[u128], limits: &[u128]) -> Option<i128> {
    let mut worth = 0_i128;
    for item in items {
        let all = i128::from(item.price).checked_mul(i128::from(item.demand))?;
        worth = worth.checked_add(all)?;
    }
    for (kind, (best, limit)) in facts.kinds.iter().zip(best.iter().zip(limits)) {
        let over = i128::try_from(best.saturating_sub(*limit)).ok()?;
        let bars = i128::from(kind.available.unwrap_or(0)); // nothing over, where there is no limit
        worth = worth.checked_sub(over.checked_mul(bars)?)?;
    }
    Some(worth)
}
