//! The integer problem that the engine solves, and the packings that answer it.
//!
//! One-dimensional cutting stock with several kinds of bar, integer costs, packs and limited
//! availability. The blade has been absorbed: a pattern fits exactly when the sum of its sizes is
//! at most the capacity.

/// Pieces of one size.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Item {
    /// Above zero.
    pub size: i64,
    /// How many are needed, at least 1 in a whole instance; less in what remains of one.
    pub demand: u32,
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
}

/// Items by decreasing size, and the kinds of bar they are cut from.
#[derive(Clone, Debug)]
pub(crate) struct Instance {
    pub items: Vec<Item>,
    pub kinds: Vec<Kind>,
    /// Items of which no bar may hold both, or no two where they are the same: set while branching.
    pub apart: Vec<(u32, u32)>,
}

/// How one bar is cut: `(item, count)` by increasing item, counts at least 1.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(crate) struct Pattern {
    pub kind: u32,
    pub counts: Vec<(u32, u32)>,
}

/// Patterns and how often each is used; together they meet every demand exactly.
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
        };
        self.kinds
            .get(pattern.kind as usize)
            .copied()
            .unwrap_or(NONE)
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

    /// How often a pattern can be used as a whole on what remains.
    pub fn most_uses(&self, pattern: &Pattern) -> u32 {
        let by_bars = self.available_of(pattern.kind).unwrap_or(u32::MAX);
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

/// Greatest common divisor; `gcd(0, n)` is `n`.
pub(crate) fn gcd(a: i128, b: i128) -> i128 {
    if b == 0 { a.abs() } else { gcd(b, a % b) }
}
