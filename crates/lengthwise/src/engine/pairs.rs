//! Can a mix hold everything, where its patterns are too many to be listed? Branch and price on pairs.
//!
//! Either some bar holds both pieces of a pair, then one copy of each is merged into a new piece; or
//! no bar does, then the two may not share one, which pricing and filling up respect. At each node
//! column generation bounds the bars needed in whole numbers, a dive looks for a packing, and where
//! the patterns of the node can be listed, the explicit search decides it.
//!
//! Source: Ryan & Foster (1981) for the pairs; Vance, Barnhart, Johnson & Nemhauser, Comput. Optim.
//! Appl. 3 (1994) 111-130, for column generation at the nodes (both from memory).

use std::collections::BTreeMap;

use super::branch::{Branched, Choice, branch, choose, has_pair, join};
use super::dive::{Style, dive};
use super::enumerate::{Enumerated, Most, enumerate};
use super::generate::{Generated, Until, generate};
use super::instance::{Instance, Item, Packing, Pattern};
use super::pool::Pool;
use super::refutation::Refutation;
use super::search::Search;
use super::work::Meter;
use crate::plan::Effort;

/// Patterns handed down to a child, per kind of piece.
const HANDED_DOWN_PER_ITEM: usize = 4;
/// The dive at each node.
const STYLE: Style = Style {
    round_from: 0.8,
    second_choice_at: None,
};

/// How much one search may come to.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Limits {
    pub nodes: u64,
    /// Patterns that are searched explicitly at a node, and what it may take to list them.
    pub listed: Most,
    /// Nodes of each explicit search.
    pub listed_nodes: u64,
}

/// Searches for a packing of `instance` with at most `mix` bars of each kind. The instance counts one
/// for each bar of one kind, of which the mix has `wanted`, and nothing for the others. Also returns
/// how many nodes that took.
pub(crate) fn branch_and_price(
    instance: &Instance,
    mix: &[u32],
    wanted: u32,
    patterns: &[Pattern],
    limits: Limits,
    meter: &mut Meter<'_>,
    effort: &mut Effort,
) -> (Branched, u64) {
    let ids = instance.items.iter().zip(0_u32..);
    let root = Node {
        pieces: ids.map(|(item, id)| (id, item.demand)).collect(),
        apart: Vec::new(),
        patterns: patterns.to_vec(),
    };
    let mut tree = Tree {
        instance,
        mix,
        wanted,
        parts: (0..)
            .take(instance.items.len())
            .map(|id| vec![id])
            .collect(),
        limits,
        nodes: 0,
        meter,
        effort,
    };
    let branched = tree.explore(&root);
    let nodes = tree.nodes;
    effort.nodes += nodes;
    (branched, nodes)
}

/// Pieces by their place in [`Tree::parts`], whatever they are merged from.
struct Node {
    /// `(piece, how many)`.
    pieces: Vec<(u32, u32)>,
    /// No bar holds both; twice the same for no two of it.
    apart: Vec<(u32, u32)>,
    patterns: Vec<Pattern>,
}

struct Tree<'t, 'm> {
    instance: &'t Instance,
    mix: &'t [u32],
    wanted: u32,
    /// What each piece is made of, in items of the instance.
    parts: Vec<Vec<u32>>,
    limits: Limits,
    nodes: u64,
    meter: &'t mut Meter<'m>,
    effort: &'t mut Effort,
}

/// A node as an instance, and which piece each of its items is.
struct Numbered {
    instance: Instance,
    pieces: Vec<u32>,
}

impl Tree<'_, '_> {
    fn explore(&mut self, node: &Node) -> Branched {
        self.nodes += 1;
        if self.nodes > self.limits.nodes || !self.meter.spend(0) {
            return Branched::Unknown;
        }
        let numbered = self.numbered(node);
        let mut pool = Pool::default();
        for pattern in node
            .patterns
            .iter()
            .filter_map(|pattern| numbered.items_of(pattern))
        {
            pool.add(pattern);
        }
        let wanted = i128::from(self.wanted);
        let mut search = Search::new(&numbered.instance, self.meter, &mut pool, self.effort);
        search.wanted = Some(wanted);
        let whole = numbered.instance.whole();
        let too_many = |bound: i128| bound > wanted;
        let generated = generate(&mut search, &whole, None, Until::NothingToAdd, too_many);
        let Ok(generated) = generated else {
            return Branched::Unknown;
        };
        if too_many(generated.bound.value) {
            return Branched::None;
        }
        dive(&mut search, STYLE, Some(&generated.prices));
        if let Some(packing) = search.wanted_packing().cloned() {
            return Branched::Found(self.packing(&numbered, packing));
        }
        match self.by_list(&numbered, &generated) {
            Branched::Unknown => {}
            Branched::Found(packing) => return Branched::Found(self.packing(&numbered, packing)),
            Branched::None => return Branched::None,
        }
        self.on_pair(node, &numbered, &generated, &pool)
    }

    /// The explicit search, where the node's patterns are few.
    fn by_list(&mut self, numbered: &Numbered, generated: &Generated) -> Branched {
        let instance = &numbered.instance;
        let sizes: Vec<i64> = instance.items.iter().map(|item| item.size).collect();
        let filters = [&generated.last.prices, &sizes]
            .map(|prices| Refutation::from_prices(instance, prices, self.meter));
        let listed = enumerate(instance, self.mix, &filters, self.limits.listed, self.meter);
        let Enumerated::All(mut patterns) = listed else {
            return Branched::Unknown;
        };
        patterns.retain(|pattern| instance.may_share(&pattern.counts));
        self.effort.enumerated += patterns.len() as u64;
        let most = self.limits.listed_nodes;
        branch(
            instance,
            self.mix,
            patterns,
            most,
            &mut self.nodes,
            self.meter,
        )
    }

    fn on_pair(
        &mut self,
        node: &Node,
        numbered: &Numbered,
        generated: &Generated,
        pool: &Pool,
    ) -> Branched {
        let Some(counts) = &generated.counts else {
            return Branched::Unknown;
        };
        let Some(Choice::Pair(a, b)) = choose(counts, &[]) else {
            return Branched::Unknown; // no pair of pieces shares a bar
        };
        let (Some(a), Some(b)) = (numbered.piece(a), numbered.piece(b)) else {
            return Branched::Unknown;
        };
        let most = HANDED_DOWN_PER_ITEM * numbered.instance.items.len();
        let mut patterns: Vec<&Pattern> = pool.since(0).iter().collect();
        let slack = |pattern: &&Pattern| generated.prices.slack(&numbered.instance, pattern);
        patterns.sort_by(|a, b| slack(a).total_cmp(&slack(b)));
        patterns.truncate(most);
        let patterns: Vec<Pattern> = patterns
            .into_iter()
            .filter_map(|pattern| numbered.pieces_of(pattern))
            .collect();
        let together = self.together(node, a, b, &patterns);
        let branched = self.explore(&together);
        self.parts.pop();
        match branched {
            Branched::None => {}
            other => return other,
        }
        let mut apart = node.apart.clone();
        apart.push((a, b));
        let patterns = patterns
            .into_iter()
            .filter(|pattern| !has_pair(pattern, a, b));
        self.explore(&Node {
            pieces: node.pieces.clone(),
            apart,
            patterns: patterns.collect(),
        })
    }

    /// One copy of each is now one piece, which keeps apart from what either kept apart from.
    fn together(&mut self, node: &Node, a: u32, b: u32, patterns: &[Pattern]) -> Node {
        let merged = u32::try_from(self.parts.len()).unwrap_or(u32::MAX);
        let parts = |id: u32| self.parts.get(id as usize).into_iter().flatten().copied();
        let parts = parts(a).chain(parts(b)).collect();
        self.parts.push(parts);
        let mut pieces = node.pieces.clone();
        for id in [a, b] {
            for (_, demand) in pieces.iter_mut().filter(|(piece, _)| *piece == id) {
                *demand = demand.saturating_sub(1);
            }
        }
        pieces.push((merged, 1));
        let mut apart = node.apart.clone();
        for &(one, other) in &node.apart {
            for (mine, theirs) in [(one, other), (other, one)] {
                if mine == a || mine == b {
                    apart.push((merged, theirs));
                }
            }
        }
        let joined = patterns.iter().filter(|pattern| has_pair(pattern, a, b));
        let joined = joined.map(|pattern| join(pattern, a, b, merged));
        let patterns = patterns.iter().cloned().chain(joined).collect();
        Node {
            pieces,
            apart,
            patterns,
        }
    }

    fn numbered(&self, node: &Node) -> Numbered {
        let size = |id: u32| -> i64 {
            let parts = self.parts.get(id as usize).into_iter().flatten();
            parts.map(|&item| self.instance.size(item)).sum()
        };
        let batch = |id: u32| -> Option<u32> {
            let parts = self.parts.get(id as usize).into_iter().flatten();
            let items = parts.filter_map(|&item| self.instance.items.get(item as usize));
            items.filter_map(|item| item.batch).next()
        };
        let needed = node.pieces.iter().filter(|(_, demand)| *demand > 0);
        let mut pieces: Vec<(i64, u32, u32)> =
            needed.map(|&(id, demand)| (size(id), id, demand)).collect();
        pieces.sort_by(|a, b| b.0.cmp(&a.0).then_with(|| a.1.cmp(&b.1)));
        let items = pieces
            .iter()
            .map(|&(size, id, demand)| Item {
                size,
                demand,
                batch: batch(id),
            })
            .collect();
        let mut numbered = Numbered {
            instance: Instance {
                items,
                kinds: self.instance.kinds.clone(),
                apart: Vec::new(),
                runs: Vec::new(),
                windows: 0,
            },
            pieces: pieces.iter().map(|&(_, id, _)| id).collect(),
        };
        let apart = node.apart.iter();
        let apart = apart.filter_map(|&(a, b)| Some((numbered.item(a)?, numbered.item(b)?)));
        numbered.instance.apart = apart.collect();
        numbered
    }

    /// Merged pieces taken apart again.
    fn packing(&self, numbered: &Numbered, packing: Packing) -> Packing {
        let uses = packing.uses.into_iter().map(|(pattern, uses)| {
            let mut counts = BTreeMap::new();
            for (item, count) in pattern.counts {
                let id = numbered.piece(item).unwrap_or(u32::MAX);
                for &part in self.parts.get(id as usize).into_iter().flatten() {
                    *counts.entry(part).or_insert(0) += count;
                }
            }
            let counts = counts.into_iter().collect();
            (
                Pattern {
                    split: None,
                    kind: pattern.kind,
                    counts,
                },
                uses,
            )
        });
        Packing {
            uses: uses.collect(),
        }
    }
}

impl Numbered {
    fn piece(&self, item: u32) -> Option<u32> {
        self.pieces.get(item as usize).copied()
    }

    fn item(&self, piece: u32) -> Option<u32> {
        let place = self.pieces.iter().position(|&other| other == piece)?;
        u32::try_from(place).ok()
    }

    /// A pattern of pieces as one of items; `None` where it is of no use here.
    fn items_of(&self, pattern: &Pattern) -> Option<Pattern> {
        let mut counts = pattern
            .counts
            .iter()
            .map(|&(piece, count)| Some((self.item(piece)?, count)))
            .collect::<Option<Vec<_>>>()?;
        counts.sort_unstable();
        let usable = counts.iter().all(|&(item, count)| {
            let item = self.instance.items.get(item as usize);
            item.is_some_and(|item| count <= item.demand)
        });
        let fits = usable && self.instance.may_share(&counts);
        fits.then_some(Pattern {
            split: None,
            kind: pattern.kind,
            counts,
        })
    }

    fn pieces_of(&self, pattern: &Pattern) -> Option<Pattern> {
        let counts = pattern.counts.iter();
        let counts = counts.map(|&(item, count)| Some((self.piece(item)?, count)));
        let counts = counts.collect::<Option<Vec<_>>>()?;
        Some(Pattern {
            split: None,
            kind: pattern.kind,
            counts,
        })
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::instance::Kind;
    use super::*;
    use crate::clock::Deadline;

    /// Nothing is listed: pairs alone decide.
    const PAIRS_ALONE: Limits = Limits {
        nodes: 5_000,
        listed: Most {
            patterns: 0,
            steps: 0,
        },
        listed_nodes: 0,
    };

    /// One kind to be counted and one that is given, as in a question about a mix.
    fn questions() -> impl Strategy<Value = (Instance, u32, u32)> {
        let sizes = prop::collection::btree_map(18..80_i64, 1..5_u32, 2..8);
        (sizes, 60..90_i64, 0..3_u32).prop_map(|(sizes, shorter, given)| {
            let kind = |capacity, cost, available| Kind {
                run: None,
                batch: 0,
                capacity,
                cost,
                available,
                pack: 1,
                tie: 0,
            };
            let items: Vec<Item> = sizes
                .into_iter()
                .rev()
                .map(|(size, demand)| Item {
                    size,
                    demand,
                    batch: None,
                })
                .collect();
            let total: i64 = items
                .iter()
                .map(|item| item.size * i64::from(item.demand))
                .sum();
            let missing = total - i64::from(given) * shorter;
            let wanted = u32::try_from((missing.max(1) + 99) / 100).unwrap_or(1);
            let kinds = vec![kind(100, 1, None), kind(shorter, 0, Some(given))];
            let instance = Instance {
                items,
                kinds,
                apart: Vec::new(),
                runs: Vec::new(),
                windows: 0,
            };
            (instance, wanted, given)
        })
    }

    /// The explicit search over every pattern there is, as the reference.
    fn by_list(instance: &Instance, mix: &[u32], meter: &mut Meter<'_>) -> Option<bool> {
        let sizes: Vec<i64> = instance.items.iter().map(|item| item.size).collect();
        let filters = [Refutation::from_prices(instance, &sizes, meter)];
        if filters.iter().any(|filter| filter.shortfall(mix) > 0) {
            return Some(false);
        }
        let most = Most {
            patterns: 50_000,
            steps: 5_000_000,
        };
        let Enumerated::All(patterns) = enumerate(instance, mix, &filters, most, meter) else {
            return None;
        };
        match branch(instance, mix, patterns, 20_000, &mut 0, meter) {
            Branched::Found(_) => Some(true),
            Branched::None => Some(false),
            Branched::Unknown => None,
        }
    }

    /// Whether a packing cuts everything, fits, and keeps to the mix.
    fn is_sound(instance: &Instance, mix: &[u32], packing: &Packing) -> bool {
        let mut left: Vec<i64> = instance
            .items
            .iter()
            .map(|item| i64::from(item.demand))
            .collect();
        let mut bars: Vec<i64> = mix.iter().map(|&bars| i64::from(bars)).collect();
        for (pattern, uses) in &packing.uses {
            bars[pattern.kind as usize] -= i64::from(*uses);
            for &(item, count) in &pattern.counts {
                left[item as usize] -= i64::from(count * uses);
            }
        }
        let mut patterns = packing.uses.iter().map(|(pattern, _)| pattern);
        left.iter().all(|&left| left == 0)
            && bars.iter().all(|&bars| bars >= 0)
            && patterns.all(|p| instance.filled(p) <= instance.kind(p).capacity)
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(300))]

        /// Pairs with column generation say what the search of every pattern says.
        #[test]
        fn pairs_and_lists_agree((instance, wanted, given) in questions()) {
            let mix = [wanted, given];
            let mut meter = Meter::new(20_000_000_000, Deadline::never(), None, None);
            let Some(expected) = by_list(&instance, &mix, &mut meter) else {
                return Err(TestCaseError::reject("too many patterns"));
            };
            let mut effort = Effort::default();
            let (branched, _) = branch_and_price(
                &instance, &mix, wanted, &[], PAIRS_ALONE, &mut meter, &mut effort,
            );
            match branched {
                Branched::Found(packing) => {
                    prop_assert!(expected);
                    prop_assert!(is_sound(&instance, &mix, &packing));
                }
                Branched::None => prop_assert!(!expected),
                Branched::Unknown => prop_assert!(false, "not decided"),
            }
        }
    }
}
