//! Branching on how many bars of each kind are bought, where the mixes are too many to be listed.
//!
//! A box is a range of sales of each kind. Its relaxation takes the least of each kind as given and
//! paid for, and sells no more than the most; whole-number prices bound it exactly. Of the boxes that
//! are left the one of least bound is split where the program buys a fraction of a sale; where it buys
//! whole ones, that mix is asked about. The splits and the prices that close the boxes are the proof.
//!
//! Source: branching on the numbers of stock lengths as in Belov & Scheithauer, EJOR 141 (2002)
//! 274-294, and Vanderbeck, Oper. Res. 48 (2000) 111-128 (both from memory).

mod range;

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use super::generate::{Generated, Until, generate};
use super::instance::{Instance, Pattern};
use super::master::Prices;
use super::pool::Pool;
use super::refutation::{Mix, Refutation};
use super::scan::{Decided, Proof, decide};
use super::search::Search;
use range::{Range, add_twice};

/// Boxes that are looked into before the proof is given up.
const MOST_BOXES: usize = 4_000;
/// Sales this close to a whole number count as whole: a guide only.
const WHOLE: f64 = 1e-6;

/// How a box of mixes was split: at most `at` sales of the kind on one side, more on the other; or
/// that it was not. In preorder, the side of fewer sales first.
pub(crate) type Split = Option<(u32, u32)>;

/// Raises the bound, or finds a better plan, until they meet or nothing more can be decided.
pub(crate) fn branch_on_counts(search: &mut Search<'_, '_>, proof: &mut Proof) {
    let mut tree = Tree::new(search, proof);
    let mut looked = 0;
    while let Some(bound) = tree.least_bound() {
        // A box may be dearer than the best plan before it is looked into.
        search.raise_bound(search.cost_to_beat().map_or(bound, |cost| bound.min(cost)));
        if search.is_over() || looked == MOST_BOXES {
            break;
        }
        looked += 1;
        if !tree.look_into_next(search, proof) {
            break;
        }
        search.tell();
    }
    if tree.open.is_empty()
        && let Some(cost) = search.cost_to_beat()
    {
        search.raise_bound(cost);
    }
    tree.record(proof);
}

struct Node {
    range: Range,
    depth: u32,
    fate: Fate,
    /// Its prices, by their place in the proof.
    refutation: Option<usize>,
}

enum Fate {
    Open,
    Closed,
    Split {
        kind: u32,
        at: u32,
        low: usize,
        high: usize,
    },
}

struct Tree {
    nodes: Vec<Node>,
    /// The least bound first, then the deepest, then the first.
    open: BinaryHeap<Reverse<(i128, Reverse<u32>, usize)>>,
    /// Patterns on kinds counted twice: paid for as they are used, and given.
    pool: Pool,
    guide: Option<Prices>,
    /// Refutations that were there before, or that mixes were refuted by.
    kept: Vec<bool>,
}

impl Tree {
    fn new(search: &Search<'_, '_>, proof: &Proof) -> Tree {
        let mut pool = Pool::default();
        for pattern in search.pool.since(0) {
            add_twice(search.instance, &mut pool, pattern);
        }
        let root = Node {
            range: Range::whole(search.instance),
            depth: 0,
            fate: Fate::Open,
            refutation: None,
        };
        Tree {
            nodes: vec![root],
            open: BinaryHeap::from([Reverse((0, Reverse(0), 0))]),
            pool,
            guide: None,
            kept: vec![true; proof.refutations.len()],
        }
    }

    fn least_bound(&self) -> Option<i128> {
        self.open.peek().map(|Reverse((bound, ..))| *bound)
    }

    /// Closes or splits the box of least bound; false where it stays open.
    fn look_into_next(&mut self, search: &mut Search<'_, '_>, proof: &mut Proof) -> bool {
        let Some(Reverse((bound, depth, place))) = self.open.pop() else {
            return false;
        };
        let Some(node) = self.nodes.get(place) else {
            return false;
        };
        let (range, inherited) = (node.range.clone(), node.refutation);
        match self.look_into(&range, place, search, proof) {
            Looked::Closed => self.close(place),
            Looked::Split(own, kind, at) => {
                if own < bound
                    && let Some(node) = self.nodes.get_mut(place)
                {
                    node.refutation = inherited; // the prices that the bound rests on
                }
                self.split(place, own.max(bound), kind, at, search);
            }
            Looked::Undecided => {
                self.open.push(Reverse((bound, depth, place)));
                return false;
            }
        }
        true
    }

    fn look_into(
        &mut self,
        range: &Range,
        place: usize,
        search: &mut Search<'_, '_>,
        proof: &mut Proof,
    ) -> Looked {
        let Some(beat) = search.cost_to_beat() else {
            return Looked::Undecided;
        };
        let mut known = proof.refutations.iter();
        if let Some(found) = known.position(|known| range.is_refuted(search.instance, known, beat))
        {
            self.keep(found);
            return Looked::Closed;
        }
        let Some((bound, sales)) = self.relax(range, place, search, proof) else {
            return Looked::Undecided;
        };
        if bound >= beat {
            return Looked::Closed;
        }
        if let Some((kind, at)) = most_fractional(&sales) {
            return Looked::Split(bound, kind, at);
        }
        let mix = range.mix_of(search.instance, &sales);
        if !self.settle(&mix, search, proof) {
            return Looked::Undecided;
        }
        if search.cost_to_beat().is_some_and(|beat| bound >= beat) {
            return Looked::Closed;
        }
        // Refuted, but not by these prices: the mix is split off.
        match range.beside(&mix, search.instance) {
            Some((kind, at)) => Looked::Split(bound, kind, at),
            None => Looked::Closed,
        }
    }

    /// Asks about a mix unless it is refuted; false where it stays undecided.
    fn settle(&mut self, mix: &Mix, search: &mut Search<'_, '_>, proof: &mut Proof) -> bool {
        if proof.refutes(search.instance, mix) {
            return true;
        }
        let decided = decide(search, mix, proof);
        self.kept.resize(proof.refutations.len(), true);
        match decided {
            Decided::Packed(packing) => search.offer(packing),
            Decided::Refuted => {}
            Decided::Open => return false,
        }
        true
    }

    /// The exact bound of a box, and the sales of each kind in the fractional optimum.
    fn relax(
        &mut self,
        range: &Range,
        place: usize,
        search: &mut Search<'_, '_>,
        proof: &mut Proof,
    ) -> Option<(i128, Vec<f64>)> {
        let (relaxed, given) = range.relaxation(search.instance);
        let known = self.pool.len();
        let generated = generate_on(&relaxed, given, search, &mut self.pool, self.guide.as_ref())?;
        let met: Vec<Pattern> = self.pool.since(known).to_vec();
        for pattern in &met {
            add_twice(search.instance, &mut self.pool, pattern);
        }
        let instance = search.instance;
        let prices = &generated.bound.prices;
        let refutation = Refutation::from_prices(instance, prices, search.meter);
        proof.refutations.push(refutation);
        self.kept.push(false);
        if let Some(node) = self.nodes.get_mut(place) {
            node.refutation = Some(self.kept.len() - 1);
        }
        let sales = range.sales(instance, &generated.counts?);
        self.guide = Some(generated.prices);
        Some((generated.bound.value + given, sales))
    }

    fn keep(&mut self, refutation: usize) {
        if let Some(kept) = self.kept.get_mut(refutation) {
            *kept = true;
        }
    }

    fn close(&mut self, place: usize) {
        if let Some(node) = self.nodes.get_mut(place) {
            node.fate = Fate::Closed;
            if let Some(refutation) = node.refutation {
                self.keep(refutation);
            }
        }
    }

    fn split(&mut self, place: usize, bound: i128, kind: u32, at: u32, search: &Search<'_, '_>) {
        let next = self.nodes.len();
        let Some(node) = self.nodes.get_mut(place) else {
            return;
        };
        node.fate = Fate::Split {
            kind,
            at,
            low: next,
            high: next + 1,
        };
        let (depth, refutation) = (node.depth + 1, node.refutation);
        let halves = node.range.halves(kind, at);
        for (place, range) in (next..).zip(halves) {
            if range.least_cost(search.instance) >= search.cost_to_beat().unwrap_or(i128::MAX) {
                let fate = Fate::Closed;
                self.nodes.push(Node {
                    range,
                    depth,
                    fate,
                    refutation: None,
                });
                continue;
            }
            // Until it is looked into, its parent's prices bound it.
            self.nodes.push(Node {
                range,
                depth,
                fate: Fate::Open,
                refutation,
            });
            self.open.push(Reverse((bound, Reverse(depth), place)));
        }
    }

    /// Hands over the splits, and drops the prices that nothing rests on.
    fn record(mut self, proof: &mut Proof) {
        let open = self
            .nodes
            .iter()
            .filter(|node| matches!(node.fate, Fate::Open));
        for refutation in open.filter_map(|node| node.refutation).collect::<Vec<_>>() {
            self.keep(refutation);
        }
        let mut kept = self.kept.iter();
        proof
            .refutations
            .retain(|_| kept.next().is_none_or(|kept| *kept));
        proof.splits.clear();
        let mut stack = vec![0];
        while let Some(node) = stack.pop().and_then(|place| self.nodes.get(place)) {
            proof.splits.push(match node.fate {
                Fate::Split {
                    kind,
                    at,
                    low,
                    high,
                } => {
                    stack.extend([high, low]);
                    Some((kind, at))
                }
                Fate::Open | Fate::Closed => None,
            });
        }
    }
}

enum Looked {
    /// Nothing cheaper than the best plan is in the box.
    Closed,
    /// Its own bound, and where it is split.
    Split(i128, u32, u32),
    Undecided,
}

/// Column generation on a box of which `given` is paid already.
fn generate_on(
    relaxed: &Instance,
    given: i128,
    search: &mut Search<'_, '_>,
    pool: &mut Pool,
    guide: Option<&Prices>,
) -> Option<Generated> {
    let beat = search.cost_to_beat();
    let ceiling = search.ceiling;
    let mut inner = Search::new(relaxed, search.meter, pool, search.effort);
    inner.ceiling = ceiling;
    inner.wanted = beat.map(|beat| beat - given - 1);
    let dear = |bound: i128| beat.is_some_and(|beat| given + bound >= beat);
    generate(
        &mut inner,
        &relaxed.whole(),
        guide,
        Until::BoundMeetsValue,
        dear,
    )
    .ok()
}

/// The kind whose sales are furthest from whole, and the whole number below; the first of equals.
fn most_fractional(sales: &[f64]) -> Option<(u32, u32)> {
    let fraction = |sales: f64| (sales - sales.round()).abs();
    let mut most: Option<(u32, f64)> = None;
    for (kind, &sales) in (0_u32..).zip(sales) {
        let is_more = most.is_none_or(|(_, other)| fraction(sales) > fraction(other));
        if fraction(sales) > WHOLE && is_more {
            most = Some((kind, sales));
        }
    }
    most.map(|(kind, sales)| (kind, sales.floor() as u32)) // `as` saturates
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::instance::{Item, Kind};
    use super::super::scan::scan;
    use super::super::work::Meter;
    use super::*;
    use crate::clock::Deadline;
    use crate::plan::Effort;

    type Method = fn(&mut Search<'_, '_>, &mut Proof);

    /// Cost and bound, and the proof, by one method after the root.
    fn by(instance: &Instance, method: Method) -> (Option<i128>, i128, Proof) {
        let mut meter = Meter::new(20_000_000_000, Deadline::never(), None, None);
        let (mut pool, mut effort) = (Pool::default(), Effort::default());
        let mut search = Search::new(instance, &mut meter, &mut pool, &mut effort);
        search.by_hand();
        search.root(None);
        let mut proof = Proof::default();
        if !search.is_over() {
            method(&mut search, &mut proof);
        }
        let cost = search.best.as_ref().map(|(cost, _)| *cost);
        (cost, search.bound.value, proof)
    }

    fn by_list(search: &mut Search<'_, '_>, proof: &mut Proof) {
        scan(search, &[], proof);
    }

    /// Whether every mix cheaper than the best lies in a box that some refutation closes, or is
    /// refuted by itself.
    fn proves(instance: &Instance, cost: i128, proof: &Proof) -> bool {
        let mut boxes = vec![Range::whole(instance)];
        for split in &proof.splits {
            let Some(range) = boxes.pop() else {
                return false;
            };
            if let Some((kind, at)) = split {
                let [low, high] = range.halves(*kind, *at);
                boxes.extend([high, low]);
                continue;
            }
            let by_prices = |refutation| range.is_refuted(instance, refutation, cost);
            let alone = || {
                let sales: Vec<f64> = range.least.iter().copied().map(f64::from).collect();
                range.least == range.most
                    && proof.refutes(instance, &range.mix_of(instance, &sales))
            };
            if !(proof.refutations.iter().any(by_prices) || alone()) {
                return false;
            }
        }
        boxes.is_empty()
    }

    fn kinds() -> impl Strategy<Value = Vec<Kind>> {
        let kind = (
            40..100_i64,
            20..60_i64,
            prop::option::of(1..9_u32),
            1..4_u32,
        );
        prop::collection::vec(kind, 1..4).prop_map(|kinds| {
            let mut kinds: Vec<Kind> = kinds
                .into_iter()
                .map(|(capacity, cost, available, pack)| Kind {
                    run: None,
                    batch: 0,
                    capacity,
                    cost,
                    available: available.map(|sales| sales * pack),
                    pack,
                    tie: 0,
                })
                .collect();
            // One kind without limit, so that there is a plan.
            kinds.push(Kind {
                run: None,
                batch: 0,
                capacity: 100,
                cost: 57,
                available: None,
                pack: 1,
                tie: 0,
            });
            kinds
        })
    }

    fn instances() -> impl Strategy<Value = Instance> {
        let sizes = prop::collection::btree_map(15..100_i64, 1..5_u32, 1..9);
        (sizes, kinds()).prop_map(|(sizes, kinds)| Instance {
            apart: Vec::new(),
            runs: Vec::new(),
            windows: 0,
            items: sizes
                .into_iter()
                .rev()
                .map(|(size, demand)| Item {
                    size,
                    demand,
                    batch: None,
                })
                .collect(),
            kinds,
        })
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(200))]

        /// Listing mixes and splitting boxes are two ways to the same optimum.
        #[test]
        fn boxes_and_lists_agree(instance in instances()) {
            let (cost, bound, proof) = by(&instance, branch_on_counts);
            let (listed, listed_bound, _) = by(&instance, by_list);
            prop_assert_eq!(cost, listed);
            prop_assert_eq!(Some(bound), cost);
            prop_assert_eq!(bound, listed_bound);
            let needs_proof = !proof.splits.is_empty();
            prop_assert!(!needs_proof || proves(&instance, bound, &proof));
        }
    }
}
