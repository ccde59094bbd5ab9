//! The integer problem that the engine solves, and the packings that answer it.
//!
//! One-dimensional cutting stock with several kinds of bar, integer costs, packs and limited
//! availability. The blade has been absorbed: a pattern fits exactly when the sum of its sizes is
//! at most the capacity. Runs are kinds of bar too: see [`runs`](super::runs).

use std::collections::BTreeMap;

use super::construct::shorten;
use super::runs::Run;

/// Kinds of bar that runs are split for before any linear program.
const FIRST_KINDS: usize = 4;
/// The price of a part that no bar holds: above those of the whole of any run of parts that fit.
const TOO_LONG: i64 = 1 << 58;

/// Pieces of one size.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Item {
    /// Above zero.
    pub size: i64,
    /// How many are needed, at least 1 in a whole instance; less in what remains of one.
    pub demand: u32,
    /// The only batch of bars that it may lie on, where there is one; anywhere otherwise.
    pub batch: Option<u32>,
}

/// A kind of bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Kind {
    /// Above zero.
    pub capacity: i64,
    /// Cost of one bar, zero or more.
    pub cost: i64,
    /// Bars that can be had; `None` for as many as wanted.
    pub available: Option<u32>,
    /// Bars that are bought together, at least 1.
    pub pack: u32,
    /// Among packings of equal cost, the sum of this over the bars cut is made as small as possible.
    pub tie: i64,
    /// The run whose splits are the patterns of this kind; it has no capacity then, costs nothing, and
    /// there are as many as copies of the run.
    pub run: Option<u32>,
    /// The batch that its bars are of. A run is of none: it lies on no bar.
    pub batch: u32,
}

/// Items by decreasing size, and the kinds of bar they are cut from.
#[derive(Clone, Debug, Default)]
pub(crate) struct Instance {
    pub items: Vec<Item>,
    pub kinds: Vec<Kind>,
    /// Items of which no bar may hold both, or no two where they are the same: set while branching.
    pub apart: Vec<(u32, u32)>,
    pub runs: Vec<Run>,
    /// So many of the first items are windows of courses, which no bar holds: their size is larger than
    /// any capacity.
    pub windows: usize,
}

/// How one bar is cut: `(item, count)` by increasing item, counts at least 1.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(crate) struct Pattern {
    pub kind: u32,
    pub counts: Vec<(u32, u32)>,
    /// The places of the joints, where the kind is a run; `None` on a bar.
    pub split: Option<Vec<u32>>,
}

/// Patterns and how often each is used; together they meet every demand, and exactly once the packing is
/// [`settled`](Instance::settled).
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Packing {
    pub uses: Vec<(Pattern, u32)>,
}

/// What is still to be cut, and what there is still to cut it from.
#[derive(Clone, Debug)]
pub(crate) struct Remainder {
    pub demand: Vec<u32>,
    pub available: Vec<Option<u32>>,
}

impl Item {
    /// Whether it may lie on bars of a batch.
    pub fn may_be_of(&self, batch: u32) -> bool {
        self.batch.is_none_or(|only| only == batch)
    }
}

impl Instance {
    pub fn whole(&self) -> Remainder {
        Remainder {
            demand: self.items.iter().map(|item| item.demand).collect(),
            available: self.kinds.iter().map(|kind| kind.available).collect(),
        }
    }

    pub fn kind(&self, pattern: &Pattern) -> Kind {
        // Patterns are made from this instance; the fallback is a bar that nothing is cut from.
        const NONE: Kind = Kind {
            capacity: 0,
            cost: 0,
            available: Some(0),
            pack: 1,
            tie: 0,
            run: None,
            batch: 0,
        };
        self.kinds
            .get(pattern.kind as usize)
            .copied()
            .unwrap_or(NONE)
    }

    /// The kinds that are bars, with their places. There may be a kind for each of thousands of runs besides.
    pub fn bars(&self) -> Vec<(u32, Kind)> {
        let kinds = (0_u32..).zip(self.kinds.iter().copied());
        kinds.filter(|(_, kind)| kind.run.is_none()).collect()
    }

    /// The run of a kind, if it is one.
    pub fn run_of(&self, kind: u32) -> Option<&Run> {
        let run = self.kinds.get(kind as usize)?.run?; // u32 into usize
        self.runs.get(run as usize)
    }

    /// A split of a run as a pattern on its kind.
    pub fn split(&self, kind: u32, joints: Vec<u32>) -> Option<Pattern> {
        Some(self.run_of(kind)?.pattern(kind, joints))
    }

    /// The sizes of the items; nothing for windows.
    pub fn lengths(&self) -> Vec<i64> {
        let items = self.items.iter().enumerate();
        items
            .map(|(place, item)| if place < self.windows { 0 } else { item.size })
            .collect()
    }

    /// Prices to split runs by before any linear program: the length of the parts; and, for each kind of
    /// bar, what a part leaves of it when nothing but its like is cut.
    pub fn first_prices(&self) -> Vec<Vec<i64>> {
        let lengths = self.lengths();
        if self.runs.is_empty() {
            return vec![lengths];
        }
        let by_bar = self.bars().into_iter().map(|(_, kind)| {
            let share = |&length: &i64| {
                let fit = kind.capacity.checked_div(length).unwrap_or(0);
                // Longer than the bar: twice the bar, so that it is taken where nothing else is.
                kind.capacity.checked_div(fit).unwrap_or(2 * kind.capacity)
            };
            let priced = lengths
                .iter()
                .map(|length| if *length == 0 { 0 } else { share(length) });
            priced.collect()
        });
        let by_bar: Vec<Vec<i64>> = by_bar.take(FIRST_KINDS).collect();
        [lengths.clone()].into_iter().chain(by_bar).collect()
    }

    /// Prices to split runs by so that every part fits a bar of which there are as many as wanted, where there is a
    /// split like that: what a part takes of such a bar when nothing but its like is cut, the longest first.
    pub fn endless_prices(&self) -> Vec<Vec<i64>> {
        let endless = self.endless_capacities();
        let most_kinds = endless.values().map(Vec::len).max().unwrap_or(0);
        let price = |rank: usize, item: &Item| {
            let capacities = endless.get(&item.batch);
            let capacity = capacities.and_then(|all| all.get(rank).or(all.last()));
            let capacity = capacity.copied().unwrap_or(0);
            let fit = capacity / item.size.max(1);
            capacity.checked_div(fit).unwrap_or(TOO_LONG)
        };
        let by_bar = |rank: usize| {
            let items = self.items.iter().enumerate();
            let priced = items.map(|(place, item)| match place < self.windows {
                true => 0,
                false => price(rank, item),
            });
            priced.collect()
        };
        (0..most_kinds.min(FIRST_KINDS)).map(by_bar).collect()
    }

    /// The capacities of bars of which there are as many as wanted, the longest first, for items of each batch and
    /// for those that may be of any.
    fn endless_capacities(&self) -> BTreeMap<Option<u32>, Vec<i64>> {
        let mut endless: BTreeMap<Option<u32>, Vec<i64>> = BTreeMap::new();
        let bars = self.bars().into_iter();
        for (_, kind) in bars.filter(|(_, kind)| kind.available.is_none()) {
            for batch in [None, Some(kind.batch)] {
                endless.entry(batch).or_default().push(kind.capacity);
            }
        }
        for capacities in endless.values_mut() {
            capacities.sort_unstable_by(|a, b| b.cmp(a));
            capacities.dedup();
        }
        endless
    }

    /// A packing without surplus, or nothing where it leaves a demand open. Runs that are not split yet
    /// take the split of least length; what more is cut than the splits need is taken out.
    pub fn settled(&self, mut packing: Packing) -> Option<Packing> {
        if self.runs.is_empty() {
            return Some(packing);
        }
        let mut surplus: Vec<i64> = self
            .items
            .iter()
            .map(|item| -i64::from(item.demand))
            .collect();
        let mut unsplit: Vec<u32> = self
            .kinds
            .iter()
            .map(|kind| kind.available.unwrap_or(0))
            .collect();
        for (pattern, uses) in &packing.uses {
            if pattern.split.is_some() {
                let unsplit = unsplit.get_mut(pattern.kind as usize)?;
                *unsplit = unsplit.checked_sub(*uses)?;
            }
        }
        let lengths = self.lengths();
        for (kind, unsplit) in (0_u32..).zip(unsplit) {
            let run = self.run_of(kind).filter(|_| unsplit > 0);
            if let Some(run) = run {
                let pattern = run.pattern(kind, run.cheapest(&lengths)?);
                packing.uses.push((pattern, unsplit));
            }
        }
        for (pattern, uses) in &packing.uses {
            for &(item, count) in &pattern.counts {
                *surplus.get_mut(item as usize)? += i64::from(count) * i64::from(*uses);
            }
        }
        if surplus.iter().any(|&surplus| surplus < 0) {
            return None;
        }
        if surplus
            .iter()
            .skip(self.windows)
            .any(|&surplus| surplus > 0)
        {
            packing = trimmed(packing, surplus);
            shorten(self, &self.whole(), &mut packing);
        }
        Some(packing)
    }

    /// Whether any piece is bound to a batch of bars.
    pub fn has_batches(&self) -> bool {
        self.items.iter().any(|item| item.batch.is_some())
    }

    /// Whether all these, `(item, count)`, may lie on bars of a batch.
    pub fn may_be_of(&self, batch: u32, counts: &[(u32, u32)]) -> bool {
        let mut items = counts.iter();
        items.all(|&(item, _)| {
            let item = self.items.get(item as usize); // u32 into usize
            item.is_none_or(|item| item.may_be_of(batch))
        })
    }

    /// Whether no two of these, `(item, count)`, are to be kept apart.
    pub fn may_share(&self, counts: &[(u32, u32)]) -> bool {
        let count = |item: u32| {
            let found = counts.iter().find(|&&(other, _)| other == item);
            found.map_or(0, |&(_, count)| count)
        };
        let mut pairs = self.apart.iter();
        !pairs.any(|&(a, b)| count(a) >= 1 && count(b) >= if a == b { 2 } else { 1 })
    }

    pub fn size(&self, item: u32) -> i64 {
        self.items.get(item as usize).map_or(0, |item| item.size)
    }

    pub fn largest_capacity(&self) -> i64 {
        self.kinds
            .iter()
            .map(|kind| kind.capacity)
            .max()
            .unwrap_or(0)
    }

    pub fn largest_cost(&self) -> i64 {
        self.kinds.iter().map(|kind| kind.cost).max().unwrap_or(0)
    }

    /// Every packing costs a multiple of this, at least 1.
    pub fn cost_step(&self) -> i128 {
        let sales = self
            .kinds
            .iter()
            .map(|kind| i128::from(kind.cost) * i128::from(kind.pack));
        sales.fold(0, gcd).max(1)
    }

    /// What a packing costs, packs bought whole.
    pub fn cost_of(&self, packing: &Packing) -> i128 {
        let mut bars = vec![0_i128; self.kinds.len()];
        for (pattern, uses) in &packing.uses {
            if let Some(bars) = bars.get_mut(pattern.kind as usize) {
                *bars += i128::from(*uses);
            }
        }
        let costs = self.kinds.iter().zip(bars).map(|(kind, bars)| {
            let pack = i128::from(kind.pack);
            (bars + pack - 1) / pack * pack * i128::from(kind.cost)
        });
        costs.sum()
    }

    /// The second measure of a packing.
    pub fn tie_of(&self, packing: &Packing) -> i128 {
        let tie = |pattern| i128::from(self.kind(pattern).tie);
        packing
            .uses
            .iter()
            .map(|(pattern, uses)| tie(pattern) * i128::from(*uses))
            .sum()
    }

    /// Length taken up by a pattern.
    pub fn filled(&self, pattern: &Pattern) -> i64 {
        pattern
            .counts
            .iter()
            .map(|&(item, count)| self.size(item) * i64::from(count))
            .sum()
    }
}

impl Remainder {
    pub fn is_done(&self) -> bool {
        self.demand.iter().all(|&demand| demand == 0)
    }

    pub fn pieces(&self) -> u64 {
        self.demand.iter().map(|&demand| u64::from(demand)).sum()
    }

    /// How many kinds of piece are still needed.
    pub fn kinds_of_piece(&self) -> usize {
        self.demand.iter().filter(|&&demand| demand > 0).count()
    }

    pub fn demand_of(&self, item: u32) -> u32 {
        self.demand.get(item as usize).copied().unwrap_or(0)
    }

    pub fn available_of(&self, kind: u32) -> Option<u32> {
        self.available
            .get(kind as usize)
            .copied()
            .unwrap_or(Some(0))
    }

    /// How often a pattern can be used as a whole on what remains. A split may give more than is still
    /// needed: then something is cut too often, and taken out in the end.
    pub fn most_uses(&self, pattern: &Pattern) -> u32 {
        let by_bars = self.available_of(pattern.kind).unwrap_or(u32::MAX);
        if pattern.split.is_some() {
            return by_bars;
        }
        let by_items = pattern
            .counts
            .iter()
            .map(|&(item, count)| self.demand_of(item) / count.max(1));
        by_items.min().unwrap_or(0).min(by_bars)
    }

    /// Takes out so many uses of a pattern; the caller has asked [`Remainder::most_uses`].
    pub fn take(&mut self, pattern: &Pattern, uses: u32) {
        for &(item, count) in &pattern.counts {
            if let Some(demand) = self.demand.get_mut(item as usize) {
                *demand = demand.saturating_sub(count.saturating_mul(uses));
            }
        }
        if let Some(Some(available)) = self.available.get_mut(pattern.kind as usize) {
            *available = available.saturating_sub(uses);
        }
    }
}

/// Takes what is cut too often out of the last bars that have it.
fn trimmed(packing: Packing, mut surplus: Vec<i64>) -> Packing {
    let mut uses = Vec::with_capacity(packing.uses.len());
    for (pattern, mut times) in packing.uses.into_iter().rev() {
        while times > 0 && pattern.split.is_none() {
            let mut cut = pattern.clone();
            for (item, count) in &mut cut.counts {
                let over = surplus.get_mut(*item as usize); // u32 into usize
                let Some(over) = over.filter(|over| **over > 0) else {
                    continue;
                };
                let less = u32::try_from(*over).unwrap_or(u32::MAX).min(*count);
                *count -= less;
                *over -= i64::from(less);
            }
            if cut == pattern {
                break;
            }
            cut.counts.retain(|&(_, count)| count > 0);
            if !cut.counts.is_empty() {
                uses.push((cut, 1));
            }
            times -= 1;
        }
        if times > 0 {
            uses.push((pattern, times));
        }
    }
    uses.reverse();
    Packing { uses }
}

/// Greatest common divisor; `gcd(0, n)` is `n`.
pub(crate) fn gcd(a: i128, b: i128) -> i128 {
    if b == 0 { a.abs() } else { gcd(b, a % b) }
}
