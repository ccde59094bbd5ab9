//! Price breaks: from some count of sales on, a lower price holds for all of them.
//!
//! All-units discounts, as the trade gives them (common practice, no source). So more may be bought than
//! is cut, where that reaches a lower price and costs less; what is over stays whole and is kept.

use rust_decimal::Decimal;
#[cfg(feature = "serde")]
use serde::{Deserialize, Serialize};

use super::check::{check_price, fault};
use super::{Bar, LARGEST_QUANTITY, Sold, StockRow, Supply};
use crate::fault::{Fault, FaultKind};
use crate::length::Length;
use crate::price::Price;

/// The most price breaks of one row.
pub const MOST_BREAKS: usize = 12;

/// From so many sales of a row on, all of them are at this price.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct PriceBreak {
    /// The least count of what one sale is, bars, packs or metres bought, from 2 to
    /// [`LARGEST_QUANTITY`](super::LARGEST_QUANTITY); later breaks from larger counts.
    pub from: u64,
    /// The price of one sale from there on; below that of the break before it, and of the row.
    pub price: Price,
}

/// A price that a kind of bar can be had at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Tier {
    /// Which price of the row: 0 for the first, then its breaks from 1 on.
    pub place: usize,
    /// The least sales that it takes, in bars where they are sold by the metre.
    pub sales: u64,
    /// The price as it stands in the row.
    pub price: Price,
    /// What one sale costs then.
    pub sale: Price,
}

impl Bar {
    /// The price breaks, in the order of their counts.
    pub fn breaks(&self) -> &[PriceBreak] {
        &self.breaks
    }

    /// The prices of bars that are bought, each from more sales than the one before it, the first from
    /// none; those left out that no purchase can have. Empty without prices, and for bars in hand.
    pub(crate) fn tiers(&self) -> Vec<Tier> {
        let Supply::Bought {
            price: Some(first), ..
        } = self.supply
        else {
            return Vec::new();
        };
        let mut tiers: Vec<Tier> = Vec::new();
        let rows = [(0, first)].into_iter();
        let rows = rows.chain(self.breaks.iter().map(|at| (at.from, at.price)));
        for (place, (from, price)) in rows.enumerate() {
            let Some(sale) = self.sale_at(price) else {
                continue;
            };
            // What the first bar has already holds for all, also where there are none.
            let sales = self.sales_from(from);
            let sales = if sales <= 1 { 0 } else { sales };
            if !self.can_be_had(sales) {
                break;
            }
            tiers.retain(|before| before.sales < sales);
            tiers.push(Tier {
                place,
                sales,
                price,
                sale,
            });
        }
        tiers
    }

    /// Whole sales that make up a count: bars, where the count is of metres.
    fn sales_from(&self, count: u64) -> u64 {
        let Supply::Bought {
            sold: Sold::PerMetre,
            ..
        } = self.supply
        else {
            return count;
        };
        let metres = u128::from(count) * 1_000_000_000;
        let bar = u128::try_from(self.length.nm()).unwrap_or(1).max(1);
        u64::try_from(metres.div_ceil(bar)).unwrap_or(u64::MAX)
    }

    fn can_be_had(&self, sales: u64) -> bool {
        let bars = sales.saturating_mul(self.bars_per_sale());
        self.bars_available().is_none_or(|there| bars <= there)
    }

    /// The cheapest way to buy at least so many bars: the sales, the price in the row that holds for
    /// them, and what they cost. Of equally cheap ways the one with the fewest sales. `None` without
    /// prices, or where the cost has too many digits, which no checked job has.
    ///
    /// With `5.90; 5.40 from 20`, 19 bars cost less as 20, and 18 do not:
    ///
    /// ```
    /// use lengthwise::{JobInput, Length, Origin, Price, Unit, job::*};
    /// let at = |line| Origin { source: "example".into(), line };
    /// let price = |text| Price::parse(text, false);
    /// let job = JobInput {
    ///     pieces: vec![PieceRow::new(at(2), Length::parse("2210", Unit::Mm)?)],
    ///     stock: vec![StockRow {
    ///         price: Some(price("5.90")?),
    ///         breaks: vec![PriceBreak { from: 20, price: price("5.40")? }],
    ///         ..StockRow::new(at(2), Length::parse("3m", Unit::Mm)?)
    ///     }],
    ///     ..JobInput::default()
    /// }
    /// .validate()?;
    /// let bar = &job.materials()[0].bars()[0];
    /// assert_eq!(bar.cheapest_sales(19), Some((20, price("5.40")?, price("108")?)));
    /// assert_eq!(bar.cheapest_sales(18), Some((18, price("5.90")?, price("106.20")?)));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn cheapest_sales(&self, bars: u64) -> Option<(u64, Price, Price)> {
        let needed = bars.div_ceil(self.bars_per_sale().max(1));
        let mut best: Option<(Price, u64, Price)> = None;
        for tier in self.tiers() {
            let sales = if needed == 0 {
                0
            } else {
                needed.max(tier.sales)
            };
            let cost = tier.sale.checked_mul(sales)?;
            if best.is_none_or(|(least, fewest, _)| (cost, sales) < (least, fewest)) {
                best = Some((cost, sales, tier.price));
            }
        }
        best.map(|(cost, sales, price)| (sales, price, cost))
    }
}

/// What is wrong with the breaks of a row, each by itself.
pub(super) fn check(row: &StockRow, faults: &mut Vec<Fault>) {
    let mut range = |found: String, accepted: &str| {
        let kind = FaultKind::Range;
        faults.push(fault(kind, &row.origin, "price", found, accepted));
    };
    if row.breaks.len() > MOST_BREAKS {
        let accepted = format!("at most {MOST_BREAKS}");
        range(format!("{} price breaks", row.breaks.len()), &accepted);
        return;
    }
    let Some(mut price) = row.price else {
        if !row.breaks.is_empty() {
            range(
                "a price break and no price before it".to_owned(),
                "such as 5.90; 5.40 from 20",
            );
        }
        return;
    };
    let mut from = 1;
    for at in &row.breaks {
        let text = format!("{} from {}", at.price, at.from);
        if at.from < 2 || at.from > LARGEST_QUANTITY {
            let accepted = format!("a count from 2 to {LARGEST_QUANTITY}");
            range(text, &accepted);
        } else if at.from <= from {
            range(
                format!("{text} after a price from {from}"),
                "price breaks in the order of their counts, such as 5.90; 5.40 from 20; 5.10 from 50",
            );
        } else if at.price >= price {
            range(
                format!("{text} after {price}"),
                "a lower price from each larger count, such as 5.90; 5.40 from 20",
            );
        }
        (from, price) = (from.max(at.from), price.min(at.price));
    }
    for at in &row.breaks {
        check_price(&row.origin, "price", Some(at.price), faults);
    }
}

/// The length of one bar in metres, times a price.
pub(crate) fn of_metres(length: Length, price: Price) -> Option<Price> {
    // Through whole numbers: a product of decimals is rounded before it overflows.
    let metres = Decimal::new(length.nm(), 9).normalize();
    let price = price.decimal().normalize();
    let units = price.mantissa().checked_mul(metres.mantissa())?;
    Decimal::try_from_i128_with_scale(units, price.scale() + metres.scale())
        .ok()
        .and_then(Price::from_decimal)
}
