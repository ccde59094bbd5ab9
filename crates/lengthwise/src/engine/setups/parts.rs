//! Fewer lengths of parts: where runs may be split in several ways, in which the fewest settings of the
//! stop are needed.
//!
//! A length that only parts of runs have is left out, and the job planned anew with the other lengths
//! of the plan, at the same cost; over and over, the rarest length first.

use std::collections::BTreeSet;

use super::space::{on_bars, place};
use crate::engine::instance::{Instance, Packing, Pattern};
use crate::engine::minimise;
use crate::engine::work::Meter;

/// Places of a run up to which all stretches are looked at for a bound.
const MOST_STRETCHES: usize = 100;

/// How many of each item are pieces of their own, whatever the splits.
pub(super) fn certain(instance: &Instance) -> Vec<u32> {
    let items = instance.items.iter().enumerate();
    let mut certain: Vec<u32> = items
        .map(|(at, item)| {
            if at < instance.windows {
                0
            } else {
                item.demand
            }
        })
        .collect();
    for (kind, data) in (0_u32..).zip(&instance.kinds) {
        let Some(run) = instance.run_of(kind) else {
            continue;
        };
        for &(item, most) in run.most() {
            if let Some(certain) = certain.get_mut(place(item)) {
                *certain -= (*certain).min(most.saturating_mul(data.available.unwrap_or(0)));
            }
        }
    }
    certain
}

/// The same job with runs split into parts of these items only; `None` where some run cannot be.
fn among(instance: &Instance, is_allowed: &[bool]) -> Option<Instance> {
    let mut fewer = instance.clone();
    let pieces = certain(instance);
    let pieces = pieces.into_iter().skip(instance.windows);
    for (item, certain) in fewer.items.iter_mut().skip(instance.windows).zip(pieces) {
        item.demand = certain;
    }
    let allowed = |item: u32| is_allowed.get(place(item)).copied().unwrap_or(false);
    let runs = instance.runs.iter().map(|run| run.only(allowed));
    fewer.runs = runs.collect();
    let lengths = fewer.lengths();
    for kind in &instance.kinds {
        let Some(run) = kind.run.and_then(|run| fewer.runs.get(place(run))) else {
            continue;
        };
        run.cheapest(&lengths)?;
        for &(item, most) in run.most() {
            let copies = kind.available.unwrap_or(0);
            // Windows are needed as often as before.
            let item = Some(place(item)).filter(|&item| item >= instance.windows);
            if let Some(item) = item.and_then(|item| fewer.items.get_mut(item)) {
                item.demand = item.demand.saturating_add(most.saturating_mul(copies));
            }
        }
    }
    Some(fewer)
}

/// The items that only parts of runs are cut as, the rarest first.
pub(super) fn only_of_parts(instance: &Instance, packing: &Packing) -> Vec<u32> {
    let certain = certain(instance);
    let mut cuts = vec![0_u64; instance.items.len()];
    for (pattern, uses) in on_bars(packing) {
        for (item, count) in pattern.counts {
            if let Some(cuts) = cuts.get_mut(place(item)) {
                *cuts += u64::from(count) * u64::from(uses);
            }
        }
    }
    let items = (0_u32..).zip(cuts).zip(certain);
    let mut parts: Vec<(u64, u32)> = items
        .filter(|((_, cuts), certain)| *cuts > 0 && *certain == 0)
        .map(|((item, cuts), _)| (cuts, item))
        .collect();
    parts.sort_unstable();
    parts.into_iter().map(|(_, item)| item).collect()
}

/// Which other lengths may take the place of one that is left out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Others {
    /// Those of the plan only.
    Known,
    /// All.
    Any,
}

/// A plan of the same cost and second measure without parts of this item.
pub(super) fn plan_without(
    instance: &Instance,
    packing: &Packing,
    (item, others): (u32, Others),
    work: u64,
    meter: &mut Meter<'_>,
) -> Option<Packing> {
    let certain = certain(instance);
    let allowed = certain
        .iter()
        .map(|&certain| certain > 0 || others == Others::Any);
    let mut is_allowed: Vec<bool> = allowed.collect();
    for &(other, _) in on_bars(packing)
        .iter()
        .flat_map(|(pattern, _)| &pattern.counts)
    {
        if let Some(is_allowed) = is_allowed.get_mut(place(other)) {
            *is_allowed = true;
        }
    }
    if let Some(is_allowed) = is_allowed.get_mut(place(item)) {
        *is_allowed = false;
    }
    let fewer = among(instance, &is_allowed)?;
    let cost = instance.cost_of(packing);
    let answer = minimise(&fewer, cost, meter.part(work));
    meter.spend(answer.effort.work);
    let (found, better) = answer.best?;
    let is_as_good = found == cost && fewer.tie_of(&better) == instance.tie_of(packing);
    if !is_as_good {
        return None;
    }
    // What a split gives back is counted against all parts again.
    let in_full = |(pattern, uses): (Pattern, u32)| {
        let pattern = match pattern.split {
            Some(joints) => instance.split(pattern.kind, joints)?,
            None => pattern,
        };
        Some((pattern, uses))
    };
    let uses: Option<Vec<_>> = better.uses.into_iter().map(in_full).collect();
    Some(Packing { uses: uses? })
}

/// At least so many settings of the stop are needed, however runs are split: one for each length of a
/// piece, and one for each of some stretches of runs that no two lengths of parts could serve together.
/// Where joints were only tried at some places, the pieces alone say something.
pub(super) fn least_moves(instance: &Instance, stops: &[Option<u32>], tried_only: bool) -> u32 {
    let stop = |item: u32| stops.get(place(item)).copied().flatten();
    let certain = (0_u32..).zip(certain(instance));
    let mut taken: BTreeSet<u32> = certain
        .filter(|(_, certain)| *certain > 0)
        .filter_map(|(item, _)| stop(item))
        .collect();
    let mut stretches: Vec<BTreeSet<u32>> = Vec::new();
    let runs = instance.runs.iter().filter(|_| !tried_only);
    for run in runs {
        let all = run.over_each_stretch();
        let last = all.len().saturating_sub(1);
        let looked_at = all.into_iter().enumerate();
        let looked_at = looked_at.filter(|(at, _)| last < MOST_STRETCHES || [0, last].contains(at));
        for (_, items) in looked_at {
            // A part beyond the reach of the stop needs no setting.
            let settings: Option<BTreeSet<u32>> = items.into_iter().map(stop).collect();
            stretches.extend(settings.filter(|settings| !settings.is_empty()));
        }
    }
    let mut least = taken.len();
    stretches.sort_by_key(BTreeSet::len);
    for stretch in stretches {
        if stretch.is_disjoint(&taken) {
            taken.extend(stretch);
            least += 1;
        }
    }
    u32::try_from(least).unwrap_or(u32::MAX)
}
