//! The bound that the prices of a certificate prove before it is rounded up, read from the definition of
//! [`Certificate`] and no code of the library.

use lengthwise::job::{Material, Supply};
use lengthwise::plan::{Certificate, Value};

use crate::answer::units;

/// What the prices of a plan say about so many times the job.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Root {
    /// The bound over a divisor that is above zero, in units of cost.
    over: i128,
    divisor: i128,
    /// One [unit](crate::answer::units) of value is `counted / unit` units of cost.
    counted: i128,
    unit: i128,
    /// Whether the prices hold as they are for so many times the job. They do not where a bar without
    /// limit holds more of them than it costs, once there are more copies to put on it.
    pub is_whole: bool,
}

impl Root {
    /// The root bound of `times` the job, never rounded, of a material without price breaks: `None` where it
    /// has runs, where the certificate has no prices of its own, or where nothing costs anything.
    ///
    /// On a bar of kind `s` the pieces of `times` the job are worth `V_s` at most. Where that is above
    /// `scale c_s` on a kind without limit, all prices are lowered by what the worst of these has too
    /// much, so that they prove something still.
    ///
    /// # Panics
    /// Where a sum leaves 128 bits.
    pub fn of(material: &Material, certificate: &Certificate, times: u64) -> Option<Root> {
        let has_runs = material.pieces().iter().any(|piece| piece.run().is_some());
        if has_runs || !certificate.combinations.is_empty() || certificate.prices.is_empty() {
            return None;
        }
        let (costs, counted, unit) = costs(material)?;
        let scale = i128::from(certificate.scale);
        let items = items(material, certificate, times);
        let best: Vec<i128> = (0..costs.len())
            .map(|bar| best(material, bar, &items))
            .collect();
        let bars = || material.bars().iter().zip(best.iter().zip(&costs));
        // The prices times `numerator / denominator` fit every bar without limit.
        let (mut numerator, mut denominator) = (1, 1);
        for (bar, (best, cost)) in bars() {
            let limit = scale * cost;
            if bar.bars_available().is_none() && best * numerator > limit * denominator {
                (numerator, denominator) = (limit, *best);
            }
        }
        let mut over: i128 = items.iter().map(|item| item.price * item.count).sum();
        over *= numerator;
        for (bar, (best, cost)) in bars() {
            let excess = (best * numerator - scale * cost * denominator).max(0);
            over -= excess * times_available(bar.bars_available(), times);
        }
        Some(Root {
            over,
            divisor: scale * denominator,
            counted,
            unit,
            is_whole: numerator == denominator,
        })
    }

    /// Whether a value, as a count of [units](crate::answer::units), is at least this.
    pub fn is_at_most(&self, value: i128) -> bool {
        let cost = value.checked_mul(self.counted).map(|cost| cost / self.unit);
        cost.is_none_or(|cost| cost * self.divisor >= self.over)
    }
}

fn times_available(available: Option<u64>, times: u64) -> i128 {
    // There is no excess where there is no limit.
    available.map_or(0, |available| i128::from(available) * i128::from(times))
}

/// What one bar of each kind costs in units of cost, and the two sides of one unit of value; `None` where
/// nothing costs anything.
fn costs(material: &Material) -> Option<(Vec<i128>, i128, i128)> {
    let bars = || material.bars().iter();
    let per_sale = |bar: &lengthwise::job::Bar| i128::from(bar.bars_per_sale());
    let multiple = bars()
        .map(per_sale)
        .fold(1, |all, one| all / gcd(all, one) * one);
    let sale = |bar: &lengthwise::job::Bar| match bar.supply() {
        Supply::InHand { .. } if !material.is_priced() => Some(0),
        _ if material.is_priced() => bar.sale_price().map(|price| units(Value::Money(price))),
        _ => Some(i128::from(bar.length().nm()) * per_sale(bar)),
    };
    let raw: Vec<i128> = bars()
        .map(|bar| Some(sale(bar)? * multiple / per_sale(bar)))
        .collect::<Option<_>>()?;
    let unit = raw.iter().copied().fold(0, gcd);
    let costs = raw.iter().map(|cost| cost / unit.max(1)).collect();
    (unit > 0).then_some((costs, multiple, unit))
}

/// A shape that is needed: what it takes with its cut, how often it is needed, its price and its batch.
struct Priced {
    size: i64,
    count: i128,
    price: i128,
    batch: Option<u32>,
}

fn items(material: &Material, certificate: &Certificate, times: u64) -> Vec<Priced> {
    let prices = certificate.prices.iter();
    prices
        .map(|&(shape, price)| {
            let wanted = material
                .pieces()
                .iter()
                .filter(|piece| piece.wanted() == shape);
            let count: u64 = wanted.map(|piece| piece.qty()).sum();
            let along = material.mitre_allowance(shape.ends);
            Priced {
                size: shape.length.nm() + along.nm() + material.cut_width().nm(),
                count: i128::from(count * times),
                price: i128::from(price),
                batch: shape.batch,
            }
        })
        .collect()
}

/// The most that pieces on one bar of a kind are worth: a table over all lengths, piece by piece.
fn best(material: &Material, bar: usize, items: &[Priced]) -> i128 {
    let bar = &material.bars()[bar];
    let common = items
        .iter()
        .map(|item| i128::from(item.size))
        .fold(0, gcd)
        .max(1);
    let capacity = i128::from(bar.usable().nm() + material.cut_width().nm()) / common;
    let capacity = usize::try_from(capacity).expect("a bar of a small job");
    let mut table = vec![0_i128; capacity + 1];
    let may_lie = |item: &&Priced| item.batch.is_none_or(|batch| batch == bar.batch());
    for item in items.iter().filter(may_lie) {
        let size = usize::try_from(i128::from(item.size) / common).expect("not below zero");
        let fit = i128::try_from(capacity / size.max(1)).expect("a small count");
        let mut left = item.count.min(fit);
        // Lots of 1, 2, 4, ... copies, so that every count is a sum of lots.
        let mut lot = 1;
        while left > 0 {
            let copies = lot.min(left);
            left -= copies;
            lot *= 2;
            let takes = size * usize::try_from(copies).expect("a small count");
            for end in (takes..=capacity).rev() {
                table[end] = table[end].max(table[end - takes] + item.price * copies);
            }
        }
    }
    table.last().copied().unwrap_or(0)
}

fn gcd(a: i128, b: i128) -> i128 {
    if b == 0 { a.abs() } else { gcd(b, a % b) }
}
