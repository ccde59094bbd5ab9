//! Sums must stay exact: refuses what no building needs before anything can overflow.

use std::collections::{HashMap, HashSet};

use super::{
    Bar, Ceilings, Joints, LARGEST_QUANTITY, MOST_PIECES, Material, PieceRow, Supply, ceilings,
};
use crate::fault::{Ceiling, Fault, FaultKind, Origin};
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

/// Whether the rows of a material ask for more pieces than they may, which is a fault.
pub(super) fn too_many_pieces(rows: &[&PieceRow], most: u64, faults: &mut Vec<Fault>) -> bool {
    // A count out of its range is a fault of its own, and nothing is made of it.
    let counts = rows.iter().flat_map(|row| [row.qty.count(), row.spare]);
    let counts = counts.filter(|count| *count <= LARGEST_QUANTITY);
    let count = counts.fold(0, u64::saturating_add);
    if count > most {
        let origin = rows.first().map(|row| &row.origin);
        let found = format!("{count} pieces of one material");
        let fault = ceilings::above(Ceiling::Pieces, origin, Some("qty"), found, most);
        faults.push(fault);
    }
    count > most
}

/// Checks how many lengths there are, and how many joints runs take that may be joined anywhere.
pub(super) fn check_ceilings(material: &Material, most: &Ceilings, faults: &mut Vec<Fault>) {
    let without_joints = material.pieces.iter().filter(|piece| piece.run.is_none());
    let lengths: HashSet<_> = without_joints.map(|piece| piece.shape()).collect();
    let count = lengths.len() as u64; // widening
    let first = material.pieces.first().map(|piece| &piece.origin);
    if count > most.lengths {
        let found = format!("{count} different lengths of one material");
        let fault = ceilings::above(Ceiling::Lengths, first, Some("length"), found, most.lengths);
        faults.push(fault);
    }
    let mut longest_of: HashMap<u32, Length> = HashMap::new();
    for bar in &material.bars {
        let longest = longest_of.entry(bar.batch).or_insert(Length::ZERO);
        *longest = bar.usable().max(*longest);
    }
    let of_any = longest_of.values().copied().max();
    let mut row = None;
    for piece in &material.pieces {
        let Some(run) = piece.run.as_ref().filter(|_| row != Some(piece.row)) else {
            continue;
        };
        let of_batch = piece
            .asked_batch()
            .map(|batch| longest_of.get(&batch).copied());
        let longest = of_batch.unwrap_or(of_any);
        let Some(longest) = longest.filter(|longest| !longest.is_zero()) else {
            continue;
        };
        let least = u64::try_from(piece.opening.nm() / longest.nm()).unwrap_or(u64::MAX);
        if *run.joints() == Joints::Anywhere && least > most.joints {
            row = Some(piece.row);
            let found = format!(
                "a run of {} that takes at least {least} joints",
                piece.opening.text(material.unit)
            );
            let origin = Some(&piece.origin);
            faults.push(ceilings::above(
                Ceiling::Joints,
                origin,
                Some("joints"),
                found,
                most.joints,
            ));
        }
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
