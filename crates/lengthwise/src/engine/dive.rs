//! Diving: fix whole patterns of the fractional optimum, price again on what remains, go on.
//!
//! Source: Belov & Scheithauer, EJOR 171 (2006) 85-106, for residual rounding with pricing on the
//! residual; Vanderbeck, Math. Program. 86 (1999) 565-594, for diving (both from memory).

use super::construct::{self, Rule, split_and_construct};
use super::generate::{Until, generate};
use super::instance::{Packing, Pattern, Remainder};
use super::master::Prices;
use super::recover::recover;
use super::search::Search;

/// A dive that differs from the others in where it departs from the most obvious choice.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Style {
    /// Fractions from here up are rounded up together; above 1 only one pattern at a time.
    pub round_from: f64,
    /// Depths, counted from 0, at which the second choice is taken.
    pub second_choice_at: Option<usize>,
}

/// How close to a whole number a count is taken to be one.
const WHOLE: f64 = 1e-6;
/// Remainders up to so many pieces are also finished by construction.
const FINISH_BY_HAND: u64 = 400;

/// Dives once; what it finds goes to the search.
pub(crate) fn dive(search: &mut Search<'_, '_>, style: Style, guide: Option<&Prices>) {
    search.effort.dives += 1;
    let mut left = search.instance.whole();
    let mut fixed: Vec<(Pattern, u32)> = Vec::new();
    let mut guide = guide.cloned();
    for depth in 0.. {
        finish_by_hand(search, &left, &fixed, guide.as_ref());
        if search.is_over() {
            return;
        }
        let Some((counts, prices)) = fractional(search, &left, &fixed, guide.as_ref()) else {
            return;
        };
        let second = style.second_choice_at == Some(depth);
        let chosen = choose(&left, counts, style.round_from, second);
        if chosen.is_empty() {
            return;
        }
        for (pattern, uses) in chosen {
            left.take(&pattern, uses);
            fixed.push((pattern, uses));
        }
        if left.is_done() {
            search.offer(Packing { uses: fixed });
            return;
        }
        guide = Some(prices);
    }
}

/// The fractional optimum of what remains; `None` where it cannot lead to a better plan.
fn fractional(
    search: &mut Search<'_, '_>,
    left: &Remainder,
    fixed: &[(Pattern, u32)],
    guide: Option<&Prices>,
) -> Option<(Vec<(Pattern, f64)>, Prices)> {
    let spent = cost_of_bars(search, fixed);
    let beat = search.cost_to_beat();
    let hopeless = |bound: i128| beat.is_some_and(|beat| spent + bound >= beat);
    let generated = generate(search, left, guide, Until::BoundMeetsValue, hopeless).ok()?;
    if hopeless(generated.bound.value) || search.meter.stopped().is_some() {
        return None;
    }
    if let Some(counts) = generated.counts {
        return Some((counts, generated.prices));
    }
    let patterns = search.pool.usable(search.instance, left, None, usize::MAX);
    let references: Vec<&Pattern> = patterns.iter().collect();
    let deadline = search.meter.lp_deadline();
    let (instance, ceiling) = (search.instance, search.ceiling);
    let counts = recover(
        instance,
        left,
        &references,
        &generated.prices,
        ceiling,
        deadline,
    )
    .ok()?;
    let counts = counts
        .into_iter()
        .map(|(pattern, count)| (pattern.clone(), count))
        .collect();
    Some((counts, generated.prices))
}

/// Cost of the bars themselves; packs are only completed at the end.
fn cost_of_bars(search: &Search<'_, '_>, fixed: &[(Pattern, u32)]) -> i128 {
    let cost = |pattern| i128::from(search.instance.kind(pattern).cost);
    fixed
        .iter()
        .map(|(pattern, uses)| cost(pattern) * i128::from(*uses))
        .sum()
}

/// Whole parts where there are any; else the largest fractions, or the second largest.
fn choose(
    left: &Remainder,
    mut counts: Vec<(Pattern, f64)>,
    round_from: f64,
    second: bool,
) -> Vec<(Pattern, u32)> {
    let mut left = left.clone();
    if counts.iter().any(|(pattern, _)| pattern.split.is_some()) {
        // Runs first: what is cut depends on how they are split.
        counts.retain(|(pattern, _)| pattern.split.is_some());
    }
    let mut chosen = Vec::new();
    let mut fix = |left: &mut Remainder, pattern: &Pattern, uses: u32| {
        let uses = uses.min(left.most_uses(pattern));
        if uses > 0 {
            left.take(pattern, uses);
            chosen.push((pattern.clone(), uses));
        }
        uses > 0
    };
    for (pattern, count) in &mut counts {
        let whole = (*count + WHOLE).floor();
        if whole >= 1.0 && fix(&mut left, pattern, whole as u32) {
            *count -= whole; // `as` saturates, and uses are capped by the demand
        }
    }
    if !chosen.is_empty() && !second {
        return chosen;
    }
    // Stable: equal fractions keep the order in which the patterns were met.
    counts.sort_by(|a, b| b.1.total_cmp(&a.1));
    let skip = usize::from(second && counts.len() > 1);
    let mut chosen_fractions = 0;
    for (pattern, count) in counts.iter().skip(skip) {
        if chosen_fractions > 0 && *count < round_from {
            break;
        }
        let mut one = |left: &mut Remainder| {
            let possible = left.most_uses(pattern) > 0;
            if possible {
                left.take(pattern, 1);
                chosen.push((pattern.clone(), 1));
            }
            possible
        };
        chosen_fractions += usize::from(one(&mut left));
    }
    chosen
}

/// Small remainders may already be finished as well as can be.
fn finish_by_hand(
    search: &mut Search<'_, '_>,
    left: &Remainder,
    fixed: &[(Pattern, u32)],
    guide: Option<&Prices>,
) {
    if left.pieces() > FINISH_BY_HAND {
        return;
    }
    let prices = match guide {
        Some(guide) => search.whole_prices(guide),
        None => search.instance.lengths(),
    };
    for rule in [Rule::LargestFirst, Rule::LeastSlack] {
        if construct::worth_filling(left.pieces())
            && let Some(rest) =
                split_and_construct(search.instance, left, &prices, rule, search.meter)
        {
            let uses = fixed.iter().cloned().chain(rest.uses).collect();
            search.offer(Packing { uses });
        }
    }
}
