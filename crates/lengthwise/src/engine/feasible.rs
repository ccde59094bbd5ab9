//! Is there any packing at all, where bars are scarce?
//!
//! Pieces that fit a kind without limit can always be cut. For the others prices of at most one a
//! piece can prove that some stay over: their sum, less what all scarce bars can take, is how many
//! (Farkas' lemma, with the prices of column generation). Where they do not, the question whether all
//! scarce bars together hold them is asked exactly.

use super::construct::{Rule, split_and_construct};
use super::instance::{Instance, Item, Kind, Packing};
use super::pool::Pool;
use super::question::{Reply, ask};
use super::search::Search;

/// The answer.
pub(crate) enum Feasible {
    /// A packing, whatever it costs.
    Packing(Packing),
    /// There is none: at least so many pieces stay over.
    Impossible(i128),
    /// Not decided.
    Unknown,
}

/// Looks for any packing of the whole instance.
pub(crate) fn feasible(search: &mut Search<'_, '_>) -> Feasible {
    let scarce = scarce(search.instance);
    if scarce.items.is_empty() {
        return complete(search, Packing::default());
    }
    let left_over = least_left_over(search, &scarce);
    if left_over > 0 {
        return Feasible::Impossible(left_over);
    }
    let mix: Vec<u32> = scarce
        .kinds
        .iter()
        .map(|kind| kind.available.unwrap_or(0))
        .collect();
    match ask(&scarce, &mix, search.meter, search.pool, search.effort) {
        Reply::Holds(packing) => match scarce.settled(packing) {
            Some(packing) => complete(search, packing),
            None => Feasible::Unknown,
        },
        Reply::Refuted(_) | Reply::Exhausted { .. } => Feasible::Impossible(1),
        Reply::Unknown => Feasible::Unknown,
    }
}

/// The pieces that fit no kind without limit, and the kinds with one. Items and kinds keep their
/// places: items are sorted by size, and kinds without limit stay as kinds that there are none of.
fn scarce(instance: &Instance) -> Instance {
    if instance.has_batches() {
        return all_scarce(instance);
    }
    let unlimited = instance
        .kinds
        .iter()
        .filter(|kind| kind.available.is_none());
    let always = unlimited.map(|kind| kind.capacity).max().unwrap_or(0);
    let items: Vec<Item> = instance
        .items
        .iter()
        .copied()
        .take_while(|item| item.size > always)
        .collect();
    let pieces: u32 = items
        .iter()
        .fold(0, |sum, item| sum.saturating_add(item.demand));
    let kinds = instance.kinds.iter().map(|kind| {
        let available = Some(kind.available.unwrap_or(0).min(pieces));
        Kind {
            available,
            cost: 0,
            pack: 1,
            tie: 0,
            ..*kind
        }
    });
    let runs = instance.runs.iter().map(|run| run.among_first(items.len()));
    Instance {
        apart: Vec::new(),
        runs: runs.collect(),
        windows: instance.windows,
        kinds: kinds.collect(),
        items,
    }
}

/// Everything, where pieces are bound to batches: a kind without limit need not hold what fits it, and has
/// no more bars than there are pieces.
fn all_scarce(instance: &Instance) -> Instance {
    let pieces = u32::try_from(instance.whole().pieces()).unwrap_or(u32::MAX);
    let kinds = instance.kinds.iter().map(|kind| Kind {
        available: Some(kind.available.unwrap_or(pieces).min(pieces)),
        cost: 0,
        pack: 1,
        tie: 0,
        ..*kind
    });
    Instance {
        kinds: kinds.collect(),
        ..instance.clone()
    }
}

fn least_left_over(search: &mut Search<'_, '_>, scarce: &Instance) -> i128 {
    let mut pool = Pool::default();
    let mut over = Search::new(scarce, search.meter, &mut pool, search.effort);
    over.ceiling = 1.0; // a piece left over counts one
    over.is_inner = true;
    over.root(None);
    over.bound.value
}

/// The scarce pieces are cut; the others are cut from what is left and from kinds without limit.
fn complete(search: &mut Search<'_, '_>, packing: Packing) -> Feasible {
    let mut left = search.instance.whole();
    let mut uses = Vec::new();
    for (pattern, times) in packing.uses {
        // Of a split only the scarce parts were looked at.
        let whole = match pattern.split {
            Some(joints) => search.instance.split(pattern.kind, joints),
            None => Some(pattern),
        };
        if let Some(pattern) = whole {
            left.take(&pattern, times);
            uses.push((pattern, times));
        }
    }
    let lengths = search.instance.lengths();
    let rest = split_and_construct(
        search.instance,
        &left,
        &lengths,
        Rule::LargestFirst,
        search.meter,
    );
    let whole = rest.and_then(|rest| {
        uses.extend(rest.uses);
        search.instance.settled(Packing { uses })
    });
    whole.map_or(Feasible::Unknown, Feasible::Packing)
}
