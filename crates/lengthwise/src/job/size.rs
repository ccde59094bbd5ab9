//! Sums must stay exact: refuses what no building needs before anything can overflow.

use super::{Bar, MOST_PIECES, Material, Supply};
use crate::fault::{Fault, FaultKind, Origin};
use crate::length::Length;

/// Largest whole number that a decimal holds exactly.
const LARGEST_MANTISSA: i128 = (1 << 96) - 1;

/// Checks the number of pieces, their length, the length in hand and the money of a material.
pub(super) fn check(material: &Material, origin: Option<&Origin>, faults: &mut Vec<Fault>) {
    let mut push = |origin: Option<&Origin>, column: &str, found: String, accepted: String| {
        faults.push(Fault {
            kind: FaultKind::TooLarge,
            origin: origin.cloned(),
            column: Some(column.to_owned()),
            found,
            accepted,
        });
    };
    let count = count(material);
    if count > MOST_PIECES {
        push(
            origin,
            "qty",
            format!("{count} pieces of one material"),
            format!("at most {MOST_PIECES}"),
        );
    }
    if length_needed(material).is_none() {
        push(
            origin,
            "length",
            "more than 100 000 km of one material".to_owned(),
            "a total below that".to_owned(),
        );
    }
    if length_in_hand(material).is_none() {
        let last = material.bars.iter().rfind(|bar| bar.is_in_hand());
        push(
            last.map(|bar| &bar.origin),
            "available",
            "more than 100 000 km of one material in hand".to_owned(),
            "a total below that".to_owned(),
        );
    }
    let accepted = "a price or length with fewer digits, so that sums stay exact";
    let costs = if material.priced {
        material.bars.as_slice()
    } else {
        &[]
    };
    let is_inexact = |bar: &&Bar| {
        let breaks = bar.breaks.iter().map(|at| at.price);
        bar.sale_price().is_none()
            || breaks
                .map(|price| bar.sale_at(price))
                .any(|sale| sale.is_none())
    };
    let inexact = costs.iter().filter(is_inexact);
    for bar in inexact.clone() {
        // A missing price is a fault of its own.
        if let Supply::Bought {
            price: Some(price), ..
        } = bar.supply
        {
            let found = format!("{price}, which is not exact for one bar");
            push(Some(&bar.origin), "price", found, accepted.to_owned());
        }
    }
    let tiers = costs.iter().flat_map(Bar::tiers);
    let most_sales = tiers.map(|tier| tier.sales).fold(count, u64::max);
    if inexact.count() == 0 && !money_stays_exact(costs, most_sales) {
        push(
            origin,
            "price",
            format!("prices too fine or too high for {count} pieces"),
            accepted.to_owned(),
        );
    }
}

fn count(material: &Material) -> u64 {
    let quantities = material.pieces.iter().map(|piece| piece.qty);
    quantities.fold(0, u64::saturating_add)
}

fn length_needed(material: &Material) -> Option<Length> {
    material.pieces.iter().try_fold(Length::ZERO, |sum, piece| {
        let mitred = material.mitre_allowance(piece.ends);
        let each = piece.length.checked_add(material.cut_width())?;
        let each = each.checked_add(mitred)?;
        sum.checked_add(each.checked_mul(piece.qty)?)
    })
}

fn length_in_hand(material: &Material) -> Option<Length> {
    let in_hand = material.bars.iter().filter(|bar| bar.is_in_hand());
    in_hand.into_iter().try_fold(Length::ZERO, |sum, bar| {
        sum.checked_add(bar.length.checked_mul(bar.bars_available()?)?)
    })
}

/// Whether what a plan can cost at the most, so many of the dearest sales, one for each piece or as many
/// as a price break takes, has no more digits than a decimal holds.
fn money_stays_exact(bars: &[Bar], sales: u64) -> bool {
    let lowered = |bar: &Bar| {
        let breaks = bar.breaks.iter().filter_map(|at| bar.sale_at(at.price));
        bar.sale_price()
            .into_iter()
            .chain(breaks)
            .collect::<Vec<_>>()
    };
    let prices = bars.iter().flat_map(lowered);
    let prices = prices.map(|price| price.decimal().normalize());
    let decimals = prices.clone().map(|price| price.scale()).max();
    let (Some(decimals), Some(dearest)) = (decimals, prices.max()) else {
        return true; // no money at all
    };
    let most = 10_i128
        .checked_pow(decimals - dearest.scale())
        .and_then(|factor| dearest.mantissa().checked_mul(factor))
        .and_then(|units| units.checked_mul(i128::from(sales)));
    most.is_some_and(|most| most <= LARGEST_MANTISSA)
}
