//! Plans without prices: first-fit decreasing by whole patterns, and bars filled as full as can be.
//!
//! Source: Johnson (1973) for first-fit decreasing; Gupta & Ho, Prod. Plan. Control 10 (1999)
//! 598-603, for filling one bar at a time with the least slack, here always with the largest piece
//! that remains (both from memory).

use super::instance::{Instance, Kind, Packing, Pattern, Remainder};
use super::runs::Run;
use super::work::Meter;

/// Nodes spent on filling one bar. More finds fuller bars, and costs that much for every bar.
const FILL_NODES: u32 = 3_000;
/// Work units of one step of filling.
const STEP_WORK: u64 = 4;
/// The price of a joint that is not to be: above any sum of prices of parts.
const FORBIDDEN: i64 = 1 << 58;
/// Bars that may be filled one by one; above, whole patterns of first-fit decreasing do.
const MOST_FILLED: u64 = 2_000;

/// How a bar is filled.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Rule {
    /// Largest piece first, while it fits: first-fit decreasing.
    LargestFirst,
    /// The same, but pieces that may lie on bars of one batch only go before all others.
    BoundFirst,
    /// The largest piece, then the pieces that leave the least.
    LeastSlack,
}

/// Whether [`Rule::LeastSlack`] is quick enough for so many pieces.
pub(crate) fn worth_filling(pieces: u64) -> bool {
    pieces <= MOST_FILLED
}

/// Cuts all that remains, or `None` where the bars do not suffice for this rule.
pub(crate) fn construct(
    instance: &Instance,
    remainder: &Remainder,
    rule: Rule,
    meter: &mut Meter<'_>,
) -> Option<Packing> {
    if rule == Rule::BoundFirst {
        return construct_bound_first(instance, remainder, meter);
    }
    let mut left = remainder.clone();
    let mut needed = Needed::new(&left);
    let mut uses: Vec<(Pattern, u32)> = Vec::new();
    while let Some(largest) = needed.from(&left, 0) {
        let pattern = best_next(instance, &left, &mut needed, largest, rule, meter)?;
        let times = match rule {
            Rule::LargestFirst | Rule::BoundFirst => left.most_uses(&pattern),
            Rule::LeastSlack => left.most_uses(&pattern).min(1),
        };
        let steps = match rule {
            Rule::LargestFirst | Rule::BoundFirst => instance.kinds.len() + pattern.counts.len(),
            Rule::LeastSlack => left.demand.len(),
        };
        // Largest first is quick and must give a plan even when it is time to stop.
        let go_on = meter.spend(steps as u64 * STEP_WORK) || rule == Rule::LargestFirst;
        if times == 0 || !go_on {
            return None;
        }
        left.take(&pattern, times);
        uses.push((pattern, times));
    }
    let mut packing = Packing { uses };
    shorten(instance, remainder, &mut packing);
    Some(packing)
}

/// Pieces that may lie on bars of one batch only, the largest first; what may lie anywhere fills up their bars and
/// takes what is left.
fn construct_bound_first(
    instance: &Instance,
    remainder: &Remainder,
    meter: &mut Meter<'_>,
) -> Option<Packing> {
    let (mut left, mut bound) = (remainder.clone(), remainder.clone());
    for (demand, item) in bound.demand.iter_mut().zip(&instance.items) {
        if item.batch.is_none() {
            *demand = 0;
        }
    }
    let (rule, mut needed) = (Rule::LargestFirst, Needed::new(&bound));
    let mut uses: Vec<(Pattern, u32)> = Vec::new();
    while let Some(largest) = needed.from(&bound, 0) {
        let mut pattern = best_next(instance, &bound, &mut needed, largest, rule, meter)?;
        fill_up(instance, &left, &mut pattern);
        let times = left.most_uses(&pattern);
        let steps = instance.kinds.len() + instance.items.len();
        meter.spend(steps as u64 * STEP_WORK);
        if times == 0 {
            return None;
        }
        for remainder in [&mut left, &mut bound] {
            remainder.take(&pattern, times);
        }
        uses.push((pattern, times));
    }
    uses.extend(construct(instance, &left, rule, meter)?.uses);
    let mut packing = Packing { uses };
    shorten(instance, remainder, &mut packing);
    Some(packing)
}

/// Splits the runs that are not split yet, each as cheaply as these prices of items allow, then cuts all
/// that remains; `None` where the courses do not go together or the bars do not suffice.
pub(crate) fn split_and_construct(
    instance: &Instance,
    remainder: &Remainder,
    prices: &[i64],
    rule: Rule,
    meter: &mut Meter<'_>,
) -> Option<Packing> {
    if instance.runs.is_empty() {
        return construct(instance, remainder, rule, meter);
    }
    let mut left = remainder.clone();
    let splits = split(instance, &mut left, prices, meter)?;
    let rest = construct(instance, &left, rule, meter)?;
    let uses = splits.into_iter().chain(rest.uses).collect();
    Some(Packing { uses })
}

/// A split for each run that has none yet.
fn split(
    instance: &Instance,
    left: &mut Remainder,
    prices: &[i64],
    meter: &mut Meter<'_>,
) -> Option<Vec<(Pattern, u32)>> {
    let mut splits = Vec::new();
    let mut prices = prices.to_vec();
    // How many runs that are not split yet could give each window.
    let mut may_give = vec![0_u32; instance.windows];
    let copies = |left: &Remainder, kind: u32| left.available_of(kind).unwrap_or(0);
    let windows_of = |run: &Run| {
        let most = run.most().iter().map(|&(item, _)| item as usize); // u32 into usize
        most.take_while(|&item| item < instance.windows)
            .collect::<Vec<usize>>()
    };
    let kinds = u32::try_from(instance.kinds.len()).ok()?;
    for kind in 0..kinds {
        let Some(run) = instance.run_of(kind) else {
            continue;
        };
        for window in windows_of(run) {
            *may_give.get_mut(window)? += copies(left, kind);
        }
    }
    for kind in 0..kinds {
        let Some(run) = instance.run_of(kind) else {
            continue;
        };
        let windows = windows_of(run);
        // Where a window needs every run that is left, no joint may take it; otherwise all is free.
        let copies_left = copies(left, kind);
        if copies_left == 0 {
            continue;
        }
        let at_once = if windows.is_empty() { copies_left } else { 1 };
        for _ in 0..copies_left / at_once {
            for &window in &windows {
                let needed = left.demand.get(window).copied().unwrap_or(0);
                let is_tight = needed > 0 && needed >= may_give.get(window).copied()?;
                *prices.get_mut(window)? = if is_tight { FORBIDDEN } else { 0 };
                *may_give.get_mut(window)? -= at_once;
            }
            meter.spend(run.work());
            let pattern = run.pattern(kind, run.cheapest(&prices)?);
            left.take(&pattern, at_once);
            splits.push((pattern, at_once));
        }
    }
    Some(splits)
}

/// The pattern with the least cost for the length that it fills, among those that hold the
/// largest piece that remains.
fn best_next(
    instance: &Instance,
    left: &Remainder,
    needed: &mut Needed,
    largest: usize,
    rule: Rule,
    meter: &mut Meter<'_>,
) -> Option<Pattern> {
    let piece = instance.items.get(largest)?;
    let mut best: Option<(Pattern, i64, Kind)> = None;
    for (place, kind) in (0_u32..).zip(&instance.kinds) {
        let holds_it = kind.capacity >= piece.size && piece.may_be_of(kind.batch);
        if !holds_it || left.available_of(place) == Some(0) {
            continue;
        }
        let counts = match rule {
            Rule::LargestFirst | Rule::BoundFirst => largest_first(instance, left, needed, kind),
            Rule::LeastSlack => least_slack(instance, left, largest, kind, meter),
        };
        let pattern = Pattern {
            split: None,
            kind: place,
            counts,
        };
        let filled = instance.filled(&pattern);
        let cheaper = |(_, best_filled, best_kind): &(Pattern, i64, Kind)| {
            // cost / filled, compared without division; ties to the fuller, then the first.
            let this = i128::from(kind.cost) * i128::from(*best_filled);
            let that = i128::from(best_kind.cost) * i128::from(filled);
            this < that || (this == that && filled > *best_filled)
        };
        if best.as_ref().is_none_or(cheaper) {
            best = Some((pattern, filled, *kind));
        }
    }
    best.map(|(pattern, ..)| pattern)
}

fn largest_first(
    instance: &Instance,
    left: &Remainder,
    needed: &mut Needed,
    kind: &Kind,
) -> Vec<(u32, u32)> {
    let mut rest = kind.capacity;
    let mut counts = Vec::new();
    let mut from = 0;
    loop {
        // Sizes decrease: what is too long for the rest comes before what fits.
        let longer = instance.items.get(from..).unwrap_or(&[]);
        from += longer.partition_point(|item| item.size > rest);
        let Some(place) = needed.from(left, from) else {
            return counts;
        };
        from = place + 1;
        let (Some(item), Ok(number)) = (instance.items.get(place), u32::try_from(place)) else {
            return counts;
        };
        if item.may_be_of(kind.batch) {
            let fits = u32::try_from(rest / item.size).unwrap_or(u32::MAX);
            let fits = fits.min(left.demand_of(number));
            rest -= item.size * i64::from(fits);
            counts.push((number, fits));
        }
    }
}

/// Which items are still needed of a remainder that only shrinks: what is not is passed over, once and for all.
///
/// Source: Galler & Fisher, CACM 7 (1964) 301-303, for the trees; the paths are halved (Tarjan & van Leeuwen,
/// JACM 31 (1984) 245-281; both from memory).
struct Needed {
    /// For each item, and one behind the last, one at or behind it such that none between is needed.
    next: Vec<usize>,
}

impl Needed {
    fn new(left: &Remainder) -> Needed {
        Needed {
            next: (0..=left.demand.len()).collect(),
        }
    }

    /// The first item from here on that is still needed.
    fn from(&mut self, left: &Remainder, from: usize) -> Option<usize> {
        let mut place = from;
        loop {
            let next = *self.next.get(place)?;
            if next != place {
                // Halves the path.
                let beyond = *self.next.get(next)?;
                *self.next.get_mut(place)? = beyond;
                place = beyond;
            } else if *left.demand.get(place)? > 0 {
                return Some(place);
            } else {
                *self.next.get_mut(place)? = place + 1;
                place += 1;
            }
        }
    }
}

/// How many more of an item a pattern may take that holds `used` of it.
fn room_beside(instance: &Instance, counts: &[(u32, u32)], item: u32, used: u32) -> u32 {
    let holds = |other: u32| counts.iter().any(|&(held, _)| held == other);
    let mut most = u32::MAX;
    for &(a, b) in &instance.apart {
        if a == b && a == item {
            most = most.min(1_u32.saturating_sub(used));
        } else if (a == item && holds(b)) || (b == item && holds(a)) {
            most = 0;
        }
    }
    most
}

/// Fills up a pattern with whatever else fits, largest first: patterns without room to spare make
/// stronger constraints and better plans.
pub(crate) fn fill_up(instance: &Instance, remainder: &Remainder, pattern: &mut Pattern) {
    let kind = instance.kind(pattern);
    let mut rest = kind.capacity - instance.filled(pattern);
    let smallest = instance.items.last().map_or(0, |item| item.size);
    // Sizes decrease: what comes before the first that fits is passed over.
    let first = instance.items.partition_point(|item| item.size > rest);
    let Ok(first_place) = u32::try_from(first) else {
        return;
    };
    let items = instance.items.get(first..).unwrap_or(&[]);
    let demands = remainder.demand.get(first..).unwrap_or(&[]);
    for ((place, item), &demand) in (first_place..).zip(items).zip(demands) {
        if rest < smallest {
            break;
        }
        if item.size > rest || demand == 0 || !item.may_be_of(kind.batch) {
            continue;
        }
        let found = pattern
            .counts
            .binary_search_by_key(&place, |&(item, _)| item);
        let used = found
            .ok()
            .and_then(|at| pattern.counts.get(at))
            .map_or(0, |&(_, count)| count);
        let mut fits = u32::try_from(rest / item.size)
            .unwrap_or(u32::MAX)
            .min(demand.saturating_sub(used));
        if !instance.apart.is_empty() {
            fits = fits.min(room_beside(instance, &pattern.counts, place, used));
        }
        if fits == 0 {
            continue;
        }
        rest -= item.size * i64::from(fits);
        match found {
            Ok(at) => {
                if let Some((_, count)) = pattern.counts.get_mut(at) {
                    *count += fits;
                }
            }
            Err(at) => pattern.counts.insert(at, (place, fits)),
        }
    }
}

fn least_slack(
    instance: &Instance,
    left: &Remainder,
    largest: usize,
    kind: &Kind,
    meter: &mut Meter<'_>,
) -> Vec<(u32, u32)> {
    let mut offers: Vec<(u32, i64, u32)> = (0_u32..)
        .zip(&instance.items)
        .zip(&left.demand)
        .filter(|((_, item), demand)| **demand > 0 && item.may_be_of(kind.batch))
        .map(|((place, item), &demand)| (place, item.size, demand))
        .collect();
    // Fits into a u32: `zip` counted it so above.
    let largest = u32::try_from(largest).unwrap_or(0);
    let mut path = Vec::new();
    let mut rest = kind.capacity;
    if let Some(offer) = offers.first_mut().filter(|offer| offer.0 == largest) {
        offer.2 -= 1;
        rest -= offer.1;
        path.push((largest, 1));
    }
    let smallest = offers
        .iter()
        .filter(|offer| offer.2 > 0)
        .map(|offer| offer.1)
        .min();
    let mut fill = Fill {
        offers: &offers,
        smallest: smallest.unwrap_or(i64::MAX),
        slack: rest,
        best: path.clone(),
        path,
        nodes: 0,
    };
    fill.visit(0, rest);
    meter.spend(u64::from(fill.nodes) * STEP_WORK);
    merge(fill.best)
}

/// Adds up counts of the same item; the path may name the largest piece twice.
fn merge(mut counts: Vec<(u32, u32)>) -> Vec<(u32, u32)> {
    counts.sort_unstable();
    let mut merged: Vec<(u32, u32)> = Vec::with_capacity(counts.len());
    for (item, count) in counts {
        match merged.last_mut().filter(|last| last.0 == item) {
            Some(last) => last.1 += count,
            None => merged.push((item, count)),
        }
    }
    merged
}

struct Fill<'a> {
    /// `(item, size, how many)`, by decreasing size.
    offers: &'a [(u32, i64, u32)],
    smallest: i64,
    slack: i64,
    best: Vec<(u32, u32)>,
    path: Vec<(u32, u32)>,
    nodes: u32,
}

impl Fill<'_> {
    /// Depth first, most of the larger first; ends at no slack or at the node limit.
    fn visit(&mut self, from: usize, rest: i64) {
        if rest < self.slack {
            self.slack = rest;
            self.best.clone_from(&self.path);
        }
        if rest < self.smallest || self.slack == 0 {
            return;
        }
        // Sizes decrease, so everything before the first that fits can be passed over.
        let start = from
            + self
                .offers
                .get(from..)
                .unwrap_or(&[])
                .partition_point(|offer| offer.1 > rest);
        for at in start..self.offers.len() {
            let Some(&(item, size, most)) = self.offers.get(at) else {
                return;
            };
            let most = u32::try_from(rest / size).unwrap_or(u32::MAX).min(most);
            for used in (1..=most).rev() {
                self.nodes += 1;
                if self.nodes > FILL_NODES || self.slack == 0 {
                    return;
                }
                self.path.push((item, used));
                self.visit(at + 1, rest - size * i64::from(used));
                self.path.pop();
            }
        }
    }
}

/// Moves each pattern to the cheapest kind of bar that holds it, where bars of that kind are left.
pub(crate) fn shorten(instance: &Instance, remainder: &Remainder, packing: &mut Packing) {
    let mut left = remainder.available.clone();
    let mut used = |kind: u32, uses: u32| {
        if let Some(Some(left)) = left.get_mut(kind as usize) {
            *left = left.saturating_sub(uses);
        }
    };
    for (pattern, uses) in &packing.uses {
        used(pattern.kind, *uses);
    }
    let bars = instance.bars();
    for (pattern, uses) in &mut packing.uses {
        let filled = instance.filled(pattern);
        let cost = instance.kind(pattern).cost;
        let enough = |kind: u32| {
            left.get(kind as usize)
                .copied()
                .flatten()
                .is_none_or(|left| left >= *uses)
        };
        let better = bars
            .iter()
            .filter(|(place, kind)| {
                let is_cheaper = kind.capacity >= filled && kind.cost < cost && enough(*place);
                is_cheaper && instance.may_be_of(kind.batch, &pattern.counts)
            })
            .min_by_key(|(_, kind)| (kind.cost, kind.capacity));
        if let Some(&(place, _)) = better {
            if let Some(Some(left)) = left.get_mut(pattern.kind as usize) {
                *left = left.saturating_add(*uses);
            }
            if let Some(Some(left)) = left.get_mut(place as usize) {
                *left = left.saturating_sub(*uses);
            }
            pattern.kind = place;
        }
    }
}
