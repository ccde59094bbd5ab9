//! Sums must stay exact: refuses what no building needs before anything can overflow.

use std::collections::{HashMap, HashSet};

use super::{
    Bar, Ceilings, Joints, LARGEST_QUANTITY, MOST_PIECES, Material, PieceRow, Run, Supply, ceilings,
};
use crate::fault::{Ceiling, Fault, FaultKind, Origin};
use crate::length::Length;

/// Largest whole number that a decimal holds exactly.
const LARGEST_MANTISSA: i128 = (1 << 96) - 1;

/// How many parts the runs of a material may have for each joint that one may have.
const PARTS_PER_JOINT: u128 = 1_000;

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

/// Checks how many lengths, bars and courses there are, and how many joints runs take that may be joined
/// anywhere.
pub(super) fn check_ceilings(material: &Material, most: &Ceilings, faults: &mut Vec<Fault>) {
    check_bars(material, most.bars, faults);
    check_courses(material, most, faults);
    check_parts(material, most.joints, faults);
    let rules = |run: &Run| {
        let joints = run.joints.text(material.unit);
        (joints, run.joint_gap, run.joints_max, run.shortest)
    };
    let pieces = material.pieces.iter();
    let lengths: HashSet<_> = pieces
        .map(|piece| (piece.shape(), piece.run.as_ref().map(rules)))
        .collect();
    let count = lengths.len() as u64; // widening
    let first = material.pieces.first().map(|piece| &piece.origin);
    if count > most.lengths {
        let found = format!("{count} different lengths of one material");
        let fault = ceilings::above(Ceiling::Lengths, first, Some("length"), found, most.lengths);
        faults.push(fault);
    }
    let mut longest_of: HashMap<u32, Length> = HashMap::new();
    for bar in to_be_had(material) {
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

/// Every part that a run may have is kept, and gone through for every number of joints that it may have: a run
/// with a thousand places, twenty of them within a bar, has some twenty thousand parts.
fn check_parts(material: &Material, most: u64, faults: &mut Vec<Fault>) {
    let usable = |bar: &Bar| u128::from(bar.usable().nm().unsigned_abs());
    let longest = to_be_had(material).map(usable).max().unwrap_or(0);
    let unlimited = to_be_had(material).filter(|bar| bar.bars_available().is_none());
    let unlimited = unlimited.map(usable).max().filter(|longest| *longest > 0);
    let most_parts = u128::from(most) * PARTS_PER_JOINT;
    let mut parts = 0_u128;
    let mut known = None;
    for piece in &material.pieces {
        let Some(run) = piece.run.as_ref() else {
            continue;
        };
        if known.replace((piece.row, piece.opening)) == Some((piece.row, piece.opening)) {
            continue;
        }
        // More places than there may be are a fault of their row already.
        let count = run.joints.count(piece.opening);
        let Some(places) = count.filter(|&count| count <= most).map(u128::from) else {
            continue;
        };
        let opening = u128::from(piece.opening.nm().unsigned_abs()).max(1);
        let reach = (places * longest / opening).clamp(1, places.max(1));
        // Of bars of which there are as many as wanted a run may take more joints than of the longest.
        let usual = unlimited.map_or(1, |unlimited| {
            1 + opening / unlimited - opening / longest.max(1)
        });
        let joints = run.joints_max.map_or(usual, u128::from);
        parts += places * reach * joints;
        if parts > most_parts {
            let found = format!(
                "a run with {places} places for joints, {reach} of them within a bar, and {joints} {}, which makes \
                 {parts} of the runs so far",
                if run.joints_max.is_some() {
                    "joints"
                } else {
                    "numbers of joints"
                }
            );
            let accepted = format!(
                "places times those within one bar times joints, summed over the runs of a material: at most \
                 {most_parts}, {PARTS_PER_JOINT} times the ceiling of joints"
            );
            let origin = Some(&piece.origin);
            let fault = ceilings::above(Ceiling::Joints, origin, Some("joints"), found, most);
            faults.push(Fault { accepted, ..fault });
            return;
        }
    }
}

/// The bars that there are any of.
fn to_be_had(material: &Material) -> impl Iterator<Item = &Bar> {
    let bars = material.bars.iter();
    bars.filter(|bar| bar.bars_available() != Some(0))
}

/// Each kind of bar takes a row of the linear program or a table of its own.
fn check_bars(material: &Material, most: u64, faults: &mut Vec<Fault>) {
    let count = material.bars.len() as u64; // widening
    if count > most {
        let last = material.bars.last().map(|bar| &bar.origin);
        let found = format!("{count} rows of bars of one material");
        faults.push(ceilings::above(Ceiling::Bars, last, None, found, most));
    }
}

/// Courses have a window for every support and every course of their rule.
fn check_courses(material: &Material, ceilings: &Ceilings, faults: &mut Vec<Fault>) {
    let most = ceilings.courses;
    let mut count = 0_u64;
    for piece in &material.pieces {
        let Some((run, course)) = piece.run.as_ref().and_then(|run| Some((run, run.course?)))
        else {
            continue;
        };
        let rule = material.course_groups.get(course.group);
        let courses = rule.map_or(1, |group| u64::from(group.rule.courses));
        let places = run.joints.count(piece.opening);
        // More places than there may be are a fault of their row already.
        let places = places
            .filter(|&places| places <= ceilings.joints)
            .unwrap_or(0);
        let each = places.saturating_mul(courses);
        count = count.saturating_add(each.saturating_mul(piece.qty));
    }
    if count > most {
        let first = material.pieces.iter().find(|piece| {
            let course = piece.run.as_ref().and_then(|run| run.course);
            course.is_some()
        });
        let origin = first.map(|piece| &piece.origin);
        let found = format!("{count} supports of courses, each once for every course of its rule");
        let fault = ceilings::above(Ceiling::Courses, origin, Some("course"), found, most);
        faults.push(fault);
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
