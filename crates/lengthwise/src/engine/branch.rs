//! Is there a packing from an explicit list of patterns? Branch and bound on pairs of pieces.
//!
//! Either some bar holds both pieces of a pair, then one copy of each is merged into a new piece; or
//! none does, then the patterns with both go. The second is exact also where pieces are needed more
//! than once, because "some bar holds both" and "no bar holds both" leave nothing out. Bars that hold
//! both are tried first. Floating point chooses where to branch; what is cut off is cut off by
//! whole-number prices: with `V_s` the best value of a listed pattern on kind `s`, there is no packing
//! where `sum n_s V_s < sum d p`, and none uses a pattern worth less than `V_s` by more than the
//! difference.
//!
//! Source: Ryan & Foster (1981); the pair scored by how fractional it is less the fractional patterns
//! that it touches (measured, not published).

use std::collections::BTreeMap;

use super::bound::scale_for;
use super::instance::{Instance, Item, Packing, Pattern, Remainder};
use super::master::{Prices, Trouble, master};
use super::recover::recover;
use super::work::Meter;

/// A pattern is broken by prices that exceed its cost by this share.
const BROKEN: f64 = 1e-7;
/// Counts nearer to a whole number than this are taken for it; the packing is checked exactly.
const WHOLE: f64 = 1e-6;
/// Patterns that a node's program starts with, per kind of piece.
const START_PER_ITEM: usize = 3;
/// Broken patterns added per round.
const ADDED_PER_ROUND: usize = 40;
/// Weight of fractionality against the number of fractional patterns touched.
const FRACTION_WEIGHT: f64 = 10.0;
/// Work units of looking at one entry of one pattern, and of one entry of a program for one solve.
const LOOK_WORK: u64 = 2;
const ENTRY_WORK: u64 = 60;

/// What the search came to.
#[derive(Debug)]
pub(crate) enum Branched {
    /// A packing within the mix.
    Found(Packing),
    /// There is none from these patterns.
    None,
    /// Stopped, or the linear program failed.
    Unknown,
}

/// Searches for a packing of the instance from `patterns` with at most `mix` bars of each kind.
/// `nodes` counts the nodes looked at; at most `most_nodes`.
pub(crate) fn branch(
    instance: &Instance,
    mix: &[u32],
    patterns: Vec<Pattern>,
    most_nodes: u64,
    nodes: &mut u64,
    meter: &mut Meter<'_>,
) -> Branched {
    let ceiling = f64::from(mix.iter().copied().max().unwrap_or(0)) + 2.0;
    let mut tree = Tree {
        scale: scale_for(instance, ceiling),
        ceiling,
        parts: vec![None; instance.items.len()],
        instance: instance.clone(),
        nodes,
        most_nodes,
        meter,
    };
    let demand = instance.items.iter().map(|item| item.demand).collect();
    let columns = patterns;
    tree.explore(
        Node {
            demand,
            bars: mix.to_vec(),
            columns,
            fixed: Vec::new(),
        },
        None,
    )
}

struct Node {
    demand: Vec<u32>,
    /// Bars that are left of each kind.
    bars: Vec<u32>,
    columns: Vec<Pattern>,
    fixed: Vec<Pattern>,
}

struct Tree<'t, 'm> {
    /// Grows by merged pieces on the way down, shrinks on the way up.
    instance: Instance,
    /// For a merged piece, what it is merged from.
    parts: Vec<Option<(u32, u32)>>,
    scale: i64,
    ceiling: f64,
    nodes: &'t mut u64,
    most_nodes: u64,
    meter: &'t mut Meter<'m>,
}

/// Prices, and how often each pattern is used in the fractional optimum.
type Relaxed = (Prices, Vec<(Pattern, f64)>);

fn entries_of(pattern: &Pattern) -> u64 {
    pattern.counts.len() as u64 + 2
}

/// Where to branch.
pub(crate) enum Choice {
    Pair(u32, u32),
    /// Use this pattern at least once, or never.
    Pattern(Pattern),
}

impl Tree<'_, '_> {
    fn explore(&mut self, mut node: Node, guide: Option<&Prices>) -> Branched {
        *self.nodes += 1;
        if *self.nodes > self.most_nodes || !self.meter.spend(0) {
            return Branched::Unknown;
        }
        if node.demand.iter().all(|&demand| demand == 0) {
            return Branched::Found(self.packing(node.fixed));
        }
        let Ok((prices, counts)) = self.relaxed(&node, guide) else {
            return Branched::Unknown;
        };
        if !self.filter(&mut node, &prices) {
            return Branched::None;
        }
        if let Some(packing) = self.whole(&node, &counts) {
            return Branched::Found(packing);
        }
        match choose(&counts, &node.columns) {
            Some(Choice::Pair(a, b)) => self.on_pair(node, a, b, &prices),
            Some(Choice::Pattern(pattern)) => self.on_pattern(node, &pattern, &prices),
            None => Branched::Unknown,
        }
    }

    fn remainder(&self, node: &Node) -> Remainder {
        let kinds = self.instance.kinds.iter().zip(&node.bars);
        let available = kinds
            .map(|(kind, &bars)| (kind.cost == 0).then_some(bars))
            .collect();
        Remainder {
            demand: node.demand.clone(),
            available,
        }
    }

    /// Prices that no listed pattern breaks and the counts that go with them, by adding broken
    /// patterns to a small program.
    fn relaxed(&mut self, node: &Node, guide: Option<&Prices>) -> Result<Relaxed, Trouble> {
        let remainder = self.remainder(node);
        let most = START_PER_ITEM * (node.demand.len() + 1);
        let mut known: Vec<&Pattern> = node.columns.iter().collect();
        if let Some(guide) = guide.filter(|_| known.len() > most) {
            let slack = |pattern: &&Pattern| guide.slack(&self.instance, pattern);
            known.sort_by(|a, b| slack(a).total_cmp(&slack(b)));
        }
        known.truncate(most);
        let mut entries: u64 = known.iter().map(|pattern| entries_of(pattern)).sum();
        let look = node.columns.iter().map(entries_of).sum::<u64>() * LOOK_WORK;
        let mut master = master(
            &self.instance,
            &remainder,
            &known,
            self.ceiling,
            &[],
            usize::MAX,
            self.meter,
        )?;
        self.meter.spend(entries * ENTRY_WORK);
        loop {
            let prices = master.prices()?;
            let slack = |pattern: &Pattern| prices.slack(&self.instance, pattern);
            let mut broken: Vec<&Pattern> = node
                .columns
                .iter()
                .filter(|pattern| slack(pattern) < -BROKEN)
                .collect();
            if broken.is_empty() {
                let counts = self.counts(&remainder, node, &known, master.counts(), &prices)?;
                return Ok((prices, counts));
            }
            broken.sort_by(|a, b| slack(a).total_cmp(&slack(b)));
            broken.truncate(ADDED_PER_ROUND);
            let mut added = false;
            for pattern in broken {
                let now = master.prices()?;
                if added && now.slack(&self.instance, pattern) >= -BROKEN / 2.0 {
                    continue;
                }
                master.add(&self.instance, pattern)?;
                known.push(pattern);
                entries += entries_of(pattern);
                self.meter.spend(entries * ENTRY_WORK);
                added = true;
            }
            if !self.meter.spend(look) {
                return Err(Trouble);
            }
        }
    }

    /// The counts as the program gives them, else recovered from the prices.
    fn counts(
        &self,
        remainder: &Remainder,
        node: &Node,
        known: &[&Pattern],
        counts: Option<Vec<(usize, f64)>>,
        prices: &Prices,
    ) -> Result<Vec<(Pattern, f64)>, Trouble> {
        if let Some(counts) = counts {
            let pattern = |place: usize| known.get(place).map(|&pattern| pattern.clone());
            return Ok(counts
                .into_iter()
                .filter_map(|(place, count)| Some((pattern(place)?, count)))
                .collect());
        }
        let all: Vec<&Pattern> = node.columns.iter().collect();
        let (ceiling, deadline) = (self.ceiling, self.meter.lp_deadline());
        let counts = recover(&self.instance, remainder, &all, prices, ceiling, deadline)?;
        Ok(counts
            .into_iter()
            .map(|(pattern, count)| (pattern.clone(), count))
            .collect())
    }

    /// Drops the patterns that no packing can use; false where there is no packing at all.
    fn filter(&mut self, node: &mut Node, prices: &Prices) -> bool {
        let unit = self.scale as f64; // a guide: any whole numbers make a valid argument
        let whole: Vec<i64> = prices
            .pieces
            .iter()
            .map(|price| (price * unit).max(0.0) as i64)
            .collect();
        let worth = |pattern: &Pattern| -> i128 {
            let price = |item: u32| i128::from(whole.get(item as usize).copied().unwrap_or(0));
            pattern
                .counts
                .iter()
                .map(|&(item, count)| price(item) * i128::from(count))
                .sum()
        };
        let mut most = vec![0_i128; node.bars.len()];
        for pattern in &node.columns {
            if let Some(most) = most.get_mut(pattern.kind as usize) {
                *most = worth(pattern).max(*most);
            }
        }
        let needed: i128 = node
            .demand
            .iter()
            .zip(&whole)
            .map(|(&demand, &price)| i128::from(demand) * i128::from(price))
            .sum();
        let holds: i128 = most
            .iter()
            .zip(&node.bars)
            .map(|(&most, &bars)| most * i128::from(bars))
            .sum();
        let loss = holds - needed;
        if loss < 0 {
            return false;
        }
        node.columns.retain(|pattern| {
            let most = most.get(pattern.kind as usize).copied().unwrap_or(0);
            most - worth(pattern) <= loss
        });
        true
    }

    /// The packing, where every count is whole and it checks out exactly.
    fn whole(&self, node: &Node, counts: &[(Pattern, f64)]) -> Option<Packing> {
        let mut left = node.demand.clone();
        let mut bars = node.bars.clone();
        let mut uses = node.fixed.clone();
        // Splits first: what they give back is not for bars to cut.
        let (splits, cut): (Vec<_>, Vec<_>) = counts
            .iter()
            .partition(|(pattern, _)| pattern.split.is_some());
        for (pattern, count) in splits.into_iter().chain(cut) {
            if (count - count.round()).abs() > WHOLE {
                return None;
            }
            for _ in 0..count.round() as u32 {
                let bars = bars.get_mut(pattern.kind as usize)?;
                *bars = bars.checked_sub(1)?;
                // A pattern may hold more than is still needed: the surplus is not cut.
                let mut cut = pattern.clone();
                let is_split = pattern.split.is_some();
                for (item, count) in &mut cut.counts {
                    let left = left.get_mut(*item as usize)?;
                    let used = (*count).min(*left);
                    *left -= used;
                    if !is_split {
                        *count = used;
                    }
                }
                cut.counts.retain(|&(_, count)| count > 0);
                uses.push(cut);
            }
        }
        left.iter()
            .all(|&left| left == 0)
            .then(|| self.packing(uses))
    }

    /// Merged pieces taken apart again.
    fn packing(&self, uses: Vec<Pattern>) -> Packing {
        let mut counted: BTreeMap<Pattern, u32> = BTreeMap::new();
        for pattern in uses {
            if pattern.split.is_some() {
                *counted.entry(pattern).or_default() += 1;
                continue;
            }
            let mut counts: BTreeMap<u32, u32> = BTreeMap::new();
            let mut open = pattern.counts;
            while let Some((item, count)) = open.pop() {
                match self.parts.get(item as usize).copied().flatten() {
                    Some((a, b)) => open.extend([(a, count), (b, count)]),
                    None => *counts.entry(item).or_default() += count,
                }
            }
            if !counts.is_empty() {
                let counts = counts.into_iter().collect();
                *counted
                    .entry(Pattern {
                        split: None,
                        kind: pattern.kind,
                        counts,
                    })
                    .or_default() += 1;
            }
        }
        Packing {
            uses: counted.into_iter().collect(),
        }
    }

    fn on_pair(&mut self, node: Node, a: u32, b: u32, guide: &Prices) -> Branched {
        let merged = self.merge(a, b);
        let together = self.together(&node, a, b, merged);
        match self.explore(together, Some(guide)) {
            Branched::None => {}
            other => return other,
        }
        self.instance.items.truncate(merged as usize);
        self.parts.truncate(merged as usize);
        let columns = node
            .columns
            .into_iter()
            .filter(|pattern| pattern.split.is_some() || !has_pair(pattern, a, b))
            .collect();
        self.explore(Node { columns, ..node }, Some(guide))
    }

    /// Whether a pattern holds no more than is still needed: everything is cut exactly as often as it is
    /// needed. Windows of courses may be given more often.
    fn fits(&self, pattern: &Pattern, demand: &[u32]) -> bool {
        let demanded = |item: u32| demand.get(item as usize).copied().unwrap_or(0);
        let mut counts = pattern.counts.iter();
        counts.all(|&(item, count)| {
            (item as usize) < self.instance.windows || count <= demanded(item) // u32 into usize
        })
    }

    fn merge(&mut self, a: u32, b: u32) -> u32 {
        let merged = u32::try_from(self.instance.items.len()).unwrap_or(u32::MAX);
        let size = self.instance.size(a) + self.instance.size(b);
        let batch = |item: u32| self.instance.items.get(item as usize)?.batch; // u32 into usize
        // A pattern held both, so they are not bound to two.
        let batch = batch(a).or(batch(b));
        self.instance.items.push(Item {
            size,
            demand: 1,
            batch,
        });
        self.parts.push(Some((a, b)));
        merged
    }

    /// One copy of each is now one piece.
    fn together(&self, node: &Node, a: u32, b: u32, merged: u32) -> Node {
        let mut demand = node.demand.clone();
        demand.resize(self.instance.items.len(), 0);
        for item in [a, b] {
            if let Some(demand) = demand.get_mut(item as usize) {
                *demand = demand.saturating_sub(1);
            }
        }
        if let Some(demand) = demand.get_mut(merged as usize) {
            *demand = 1;
        }
        let fits = |pattern: &Pattern| self.fits(pattern, &demand);
        let joined = node
            .columns
            .iter()
            .filter(|pattern| pattern.split.is_none() && has_pair(pattern, a, b))
            .map(|pattern| join(pattern, a, b, merged));
        let columns = node
            .columns
            .iter()
            .cloned()
            .chain(joined)
            .filter(fits)
            .collect();
        Node {
            demand,
            bars: node.bars.clone(),
            columns,
            fixed: node.fixed.clone(),
        }
    }

    fn on_pattern(&mut self, node: Node, pattern: &Pattern, guide: &Prices) -> Branched {
        let mut demand = node.demand.clone();
        let mut bars = node.bars.clone();
        for &(item, count) in &pattern.counts {
            if let Some(demand) = demand.get_mut(item as usize) {
                *demand = demand.saturating_sub(count);
            }
        }
        let there = bars
            .get_mut(pattern.kind as usize)
            .filter(|bars| **bars > 0);
        if let Some(bars_left) = there {
            *bars_left -= 1;
            let fits = |pattern: &&Pattern| self.fits(pattern, &demand);
            let columns = node.columns.iter().filter(fits).cloned().collect();
            let fixed = node
                .fixed
                .iter()
                .cloned()
                .chain([pattern.clone()])
                .collect();
            match self.explore(
                Node {
                    demand: demand.clone(),
                    bars,
                    columns,
                    fixed,
                },
                Some(guide),
            ) {
                Branched::None => {}
                other => return other,
            }
        }
        let columns = node
            .columns
            .into_iter()
            .filter(|other| other != pattern)
            .collect();
        self.explore(Node { columns, ..node }, Some(guide))
    }
}

/// Whether a pattern holds both; twice the same where `a` is `b`.
pub(crate) fn has_pair(pattern: &Pattern, a: u32, b: u32) -> bool {
    let count = |item: u32| {
        pattern
            .counts
            .iter()
            .find(|&&(other, _)| other == item)
            .map_or(0, |&(_, count)| count)
    };
    if a == b {
        count(a) >= 2
    } else {
        count(a) >= 1 && count(b) >= 1
    }
}

/// A pattern that has the pair, with one copy of each as one piece.
pub(crate) fn join(pattern: &Pattern, a: u32, b: u32, merged: u32) -> Pattern {
    let mut joined = pattern.clone();
    for item in [a, b] {
        for (_, count) in joined.counts.iter_mut().filter(|(other, _)| *other == item) {
            *count -= 1; // at least one of each, two where a is b
        }
    }
    joined.counts.retain(|&(_, count)| count > 0);
    joined.counts.push((merged, 1));
    joined
}

/// The pair with the best score; else a pair that some bar surely holds, else a pattern.
pub(crate) fn choose(counts: &[(Pattern, f64)], columns: &[Pattern]) -> Option<Choice> {
    let is_fractional = |count: f64| (count - count.round()).abs() > WHOLE;
    let mut sums: BTreeMap<(u32, u32), (f64, bool)> = BTreeMap::new();
    let mut touched: BTreeMap<u32, f64> = BTreeMap::new();
    let mut splits = Vec::new();
    for (pattern, count) in counts {
        let count = *count;
        let fractional = is_fractional(count);
        if pattern.split.is_some() {
            splits.push((pattern, count));
            continue;
        }
        for (at, &(a, times)) in pattern.counts.iter().enumerate() {
            if fractional {
                *touched.entry(a).or_default() += 1.0;
            }
            let rest = pattern.counts.get(at + 1..).unwrap_or(&[]);
            let same = (times >= 2).then_some(a);
            for b in same.into_iter().chain(rest.iter().map(|&(b, _)| b)) {
                let sum = sums.entry((a.min(b), a.max(b))).or_insert((0.0, false));
                sum.0 += count;
                sum.1 |= fractional;
            }
        }
    }
    let score = |&(a, b): &(u32, u32), sum: f64| {
        let part = sum - sum.floor();
        let touch = |item: u32| touched.get(&item).copied().unwrap_or(0.0);
        FRACTION_WEIGHT * part.min(1.0 - part) - touch(a) - touch(b)
    };
    let best_of = |wanted: &dyn Fn(f64, bool) -> bool| {
        let mut best: Option<((u32, u32), f64)> = None;
        for (pair, &(sum, in_fractional)) in &sums {
            let score = score(pair, sum);
            if wanted(sum, in_fractional) && best.is_none_or(|(_, other)| score > other) {
                best = Some((*pair, score));
            }
        }
        best.map(|((a, b), _)| Choice::Pair(a, b))
    };
    let fractional_pattern = || {
        let worst = counts.iter().filter(|(_, count)| is_fractional(*count));
        // Stable: the first of equals.
        let chosen = worst.min_by(|a, b| (a.1 - 0.5).abs().total_cmp(&(b.1 - 0.5).abs()))?;
        Some(Choice::Pattern(chosen.0.clone()))
    };
    // How runs are split comes first: it decides what is cut. The most used split, then never.
    let split = splits
        .into_iter()
        .filter(|&(_, count)| is_fractional(count))
        .rev()
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(pattern, _)| Choice::Pattern(pattern.clone()));
    split
        .or_else(|| best_of(&|sum, _| is_fractional(sum)))
        .or_else(|| best_of(&|sum, in_fractional| in_fractional && sum > WHOLE))
        .or_else(fractional_pattern)
        .or_else(|| {
            columns
                .first()
                .map(|pattern| Choice::Pattern(pattern.clone()))
        })
}
