//! Another plan to begin with: patterns that can be used often first.
//!
//! From the largest number of uses down, the pattern that loses least is taken where it loses no more than
//! its share of what the plan may lose in all. What is left when no pattern can be used twice so is
//! packed by the engine at what is left of the cost; where it cannot be, the last patterns are given
//! back.
//!
//! Source: the sequential heuristic of Haessler, Oper. Res. 23 (1975) 483-493 (from memory), with prices in
//! place of its aspiration levels and the engine for the rest.

use std::collections::BTreeSet;

use super::local::{Uses, merged};
use super::space::{Space, State, at, most_bars, on_bars, place};
use crate::engine::instance::{Instance, Kind, Pattern};
use crate::engine::minimise;
use crate::engine::pricing::{Offer, Tables};
use crate::engine::work::Meter;

/// How many times its share a pattern may lose.
pub(super) const GENEROSITY: [f64; 4] = [1.0, 0.3, 3.0, 0.0];
/// How often patterns are given back before it is given up.
const MOST_RETRIES: usize = 5;
/// One rest may take one part in so many of what is left.
const SHARE_OF_REST: u64 = 2;

/// Other patterns for all that is still to be cut; `None` where none were found.
///
/// A pattern may lose `generosity` times its share. Ends when the meter has come to `until`.
pub(super) fn sequence(
    space: &Space<'_>,
    start: &State,
    generosity: f64,
    until: u64,
    meter: &mut Meter<'_>,
) -> Option<Uses> {
    let mut state = start.clone();
    let mut chosen = Vec::new();
    while let Some((pattern, times)) = next_pattern(space, &state, generosity, meter) {
        space.take(&mut state, &pattern, times);
        chosen.push((pattern, times));
    }
    for _ in 0..MOST_RETRIES {
        let left = until.saturating_sub(meter.spent());
        if chosen.is_empty() || meter.stopped().is_some() || left == 0 {
            return None;
        }
        if let Some(rest) = packed(space, &state, left / SHARE_OF_REST, meter) {
            let all = merged(chosen.into_iter().chain(rest).collect());
            return is_plan(space, start.clone(), &all).then_some(all);
        }
        let kept = chosen.len() * 2 / 3;
        for (pattern, times) in chosen.drain(kept..) {
            space.put_back(&mut state, &pattern, times);
        }
    }
    None
}

/// What is left as the engine packs it, at what is left of the cost.
fn packed(space: &Space<'_>, state: &State, work: u64, meter: &mut Meter<'_>) -> Option<Uses> {
    if state.demand.iter().all(|&demand| demand == 0) {
        return Some(Uses::new());
    }
    let (spent, _) = space.spent(state);
    let left = space.cost - spent;
    let rest = rest(space.instance, state, left);
    let answer = minimise(&rest, left, meter.part(work));
    meter.spend(answer.effort.work);
    let (cost, packing) = answer.best?;
    (cost <= left).then(|| on_bars(&packing))
}

/// The pattern that can be used most often and loses no more than its share.
fn next_pattern(
    space: &Space<'_>,
    state: &State,
    generosity: f64,
    meter: &mut Meter<'_>,
) -> Option<(Pattern, u32)> {
    let [gauge, _] = &space.gauges;
    let [loss, _] = state.losses;
    let rows = || (0..).map_while(|row| gauge.table.offer(row));
    let worth: f64 = rows()
        .map(|offer| offer.price as f64 * f64::from(at(&state.demand, place(offer.item))))
        .sum(); // a guide only
    let times: BTreeSet<u32> = state.demand.iter().copied().collect();
    let halves = times.iter().map(|times| times / 2);
    let times: BTreeSet<u32> = times.iter().copied().chain(halves).collect();
    for times in times.into_iter().rev().filter(|times| *times >= 2) {
        let offers: Vec<Offer> = rows()
            .map(|offer| Offer {
                most: at(&state.demand, place(offer.item)) / times,
                ..offer
            })
            .filter(|offer| offer.most > 0 && offer.price > 0)
            .collect();
        if offers.is_empty() {
            continue;
        }
        let tables = Tables::new(space.instance, &offers, meter);
        let mut best: Option<(i128, Pattern)> = None;
        for (kind, data) in (0_u32..).zip(&space.instance.kinds) {
            if meter.stopped().is_some() {
                return None; // there may be thousands of kinds
            }
            if space.most_more(state, kind) < times {
                continue;
            }
            let found = tables
                .of(kind)
                .map(|table| table.search(data.capacity, 0, meter));
            let Some((counts, value)) = found.and_then(|found| found.pattern) else {
                continue;
            };
            let lost = (i128::from(gauge.worth(kind)) - i128::from(value)) * i128::from(times);
            let share = value as f64 * f64::from(times) / worth.max(1.0); // a guide only
            let is_fair = lost <= 0 || lost as f64 <= loss as f64 * share * generosity;
            if is_fair && best.as_ref().is_none_or(|(least, _)| lost < *least) {
                let mut counts = counts;
                counts.sort_unstable();
                let pattern = Pattern {
                    kind,
                    counts,
                    split: None,
                };
                best = Some((lost, pattern));
            }
        }
        if let Some((_, pattern)) = best {
            return Some((pattern, times));
        }
        if meter.stopped().is_some() {
            return None;
        }
    }
    None
}

/// Whether these patterns come to the cost and the second measure of the plan.
fn is_plan(space: &Space<'_>, mut state: State, uses: &Uses) -> bool {
    for (pattern, times) in uses {
        let counts = pattern.counts.iter();
        let mut counts = counts.map(|&(item, count)| (at(&state.demand, place(item)), count));
        if !counts.all(|(demand, count)| count * times <= demand) {
            return false;
        }
        space.take(&mut state, pattern, *times);
    }
    state.demand.iter().all(|&demand| demand == 0) && space.is_as_dear(&state)
}

/// What is left as a problem of its own. What is left of packs that are begun is not counted on.
fn rest(instance: &Instance, state: &State, cost: i128) -> Instance {
    let mut rest = instance.clone();
    for (item, &demand) in rest.items.iter_mut().zip(&state.demand) {
        item.demand = demand;
    }
    let pieces = rest.whole().pieces();
    let kinds = rest.kinds.iter_mut().zip(&state.used);
    for (kind, &used) in kinds {
        let available = kind
            .available
            .map(|available| available.saturating_sub(used));
        let most = most_bars(kind, cost, pieces);
        *kind = Kind {
            available: available.map(|available| available.min(most)),
            ..*kind
        };
    }
    rest
}
