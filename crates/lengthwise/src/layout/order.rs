//! In which order the stop is set, and so in which order pieces come off every bar.
//!
//! Stage by stage, the stop is set once for each length, for all bars of a material: that is as few
//! settings as there can be, and the same for every order of the lengths. Of a bar, what lies beyond the
//! blade after a cut is what the hand has to hold. Cutting the shortest first keeps most in the hand after
//! every cut at once, so it shows how many cuts must leave less than `hold`, and no order leaves fewer.
//! The order that is taken leaves no more on any bar than that, and goes from the longest length down as
//! far as that allows.
//!
//! Source: common practice, no source, for holding on to bar while there is bar to hold; the argument
//! that one order of lengths serves all bars is ours.

use std::collections::{BTreeMap, BTreeSet};

use crate::length::Length;

/// Bars times settings for one order, beyond which short lengths come first throughout.
const MOST_LOOKS: usize = 2_000_000;

/// A setting of the stop: the stage of the work, and the length.
pub(crate) type Setting = (u64, Length);

/// A bar with its pieces, in nanometres.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Held {
    /// What is in the hand before the first cut.
    pub bar: i64,
    /// What is cut from it, and what each piece takes with its cut.
    pub pieces: Vec<(Setting, i64)>,
}

/// The settings of all pieces, in the order in which they are made.
pub(super) fn settings(bars: &BTreeSet<Held>, hold: Length) -> Vec<Setting> {
    let all = bars.iter().flat_map(|bar| &bar.pieces);
    let all: BTreeSet<Setting> = all.map(|(setting, _)| *setting).collect();
    let mut bars: Vec<Rest> = bars.iter().map(|bar| Rest::new(bar, hold)).collect();
    // Where the longest may go first throughout, a bar has no say.
    bars.retain(|bar| bar.falling() > bar.least);
    let may_look = bars.len().saturating_mul(all.len()) <= MOST_LOOKS;
    let mut stages: BTreeMap<u64, Vec<Length>> = BTreeMap::new();
    for (stage, length) in all {
        stages.entry(stage).or_default().push(length);
    }
    let mut order = Vec::new();
    for (stage, mut left) in stages {
        while !left.is_empty() {
            let goes_next = |length: &Length| {
                let mut bars = bars.iter();
                bars.all(|bar| bar.short_with((stage, *length)) <= bar.least)
            };
            // The shortest may always go next: the rest follows it from the shortest up.
            let next = left.iter().rposition(goes_next).filter(|_| may_look);
            let length = left.remove(next.unwrap_or(0));
            for bar in &mut bars {
                bar.cut((stage, length));
            }
            order.push((stage, length));
        }
    }
    order
}

/// A bar part of which is cut.
struct Rest {
    hold: i64,
    /// How few of its cuts can leave too little in the hand; what the last leaves is the same in any
    /// order.
    least: usize,
    /// What is in the hand now.
    rest: i64,
    /// How many cuts have left too little.
    short: usize,
    /// What is still to be cut, the shortest of the earliest stage first.
    left: BTreeMap<Setting, Vec<i64>>,
}

impl Rest {
    fn new(held: &Held, hold: Length) -> Rest {
        let mut left: BTreeMap<Setting, Vec<i64>> = BTreeMap::new();
        for (setting, takes) in &held.pieces {
            left.entry(*setting).or_default().push(*takes);
        }
        let bar = Rest {
            hold: hold.nm(),
            least: 0,
            rest: held.bar,
            short: 0,
            left,
        };
        let least = bar.short_in(bar.left.keys());
        Rest { least, ..bar }
    }

    /// How many cuts leave too little where the longest of every stage goes first.
    fn falling(&self) -> usize {
        let mut falling: Vec<&Setting> = self.left.keys().collect();
        falling.sort_by_key(|(stage, length)| (*stage, std::cmp::Reverse(*length)));
        self.short_in(falling.into_iter())
    }

    /// The same where this setting goes next, and the rest follows it from the shortest up.
    fn short_with(&self, next: Setting) -> usize {
        if !self.left.contains_key(&next) {
            return self.least;
        }
        let rest = self.left.keys().filter(|setting| **setting != next);
        self.short_in([&next].into_iter().chain(rest))
    }

    fn short_in<'s>(&self, settings: impl Iterator<Item = &'s Setting>) -> usize {
        let (mut rest, mut short) = (self.rest, self.short);
        for takes in settings
            .filter_map(|setting| self.left.get(setting))
            .flatten()
        {
            rest -= takes;
            short += usize::from(rest < self.hold);
        }
        short - usize::from(rest < self.hold && short > 0)
    }

    fn cut(&mut self, setting: Setting) {
        for takes in self.left.remove(&setting).into_iter().flatten() {
            self.rest -= takes;
            self.short += usize::from(self.rest < self.hold);
        }
    }
}

#[cfg(test)]
mod tests {
    use itertools::Itertools;
    use proptest::prelude::*;

    use super::*;

    fn bar(length: u32, pieces: &[(u64, u32)]) -> Held {
        let take = |&(stage, piece): &(u64, u32)| {
            let length = Length::from_mm(piece);
            ((stage, length), length.nm() + 3_000_000)
        };
        Held {
            bar: Length::from_mm(length).nm(),
            pieces: pieces.iter().map(take).collect(),
        }
    }

    fn order(length: u32, pieces: &[(u64, u32)]) -> Vec<(u64, i64)> {
        let bars = [bar(length, pieces)].into_iter().collect();
        let order = settings(&bars, Length::from_mm(300)).into_iter();
        order
            .map(|(stage, length)| (stage, length.nm() / 1_000_000))
            .collect()
    }

    #[test]
    fn longest_first_where_enough_stays_in_the_hand() {
        let taken = order(3000, &[(1, 700), (1, 1000), (1, 900)]);
        assert_eq!(taken, [(1, 1000), (1, 900), (1, 700)]);
    }

    /// 2000, 500 and 200 of 2760: longest first leaves 254 after the second cut, the short one second
    /// leaves 554. 2000, 250 and 200 of 2500: after the long one 497 are left, which
    /// either of the others brings below 300 before the last.
    #[test]
    fn short_pieces_are_cut_while_there_is_bar_to_hold() {
        let taken = order(2760, &[(1, 2000), (1, 500), (1, 200)]);
        assert_eq!(taken, [(1, 2000), (1, 200), (1, 500)]);
        let taken = order(2500, &[(1, 2000), (1, 250), (1, 200)]);
        assert_eq!(taken, [(1, 250), (1, 200), (1, 2000)]);
    }

    #[test]
    fn what_is_fixed_first_is_cut_first() {
        let taken = order(2760, &[(2, 2000), (1, 500), (2, 200), (1, 2000)]);
        let stages: Vec<u64> = taken.iter().map(|(stage, _)| *stage).collect();
        assert_eq!(stages, [1, 1, 2, 2]);
    }

    /// How many cuts but the last leave too little, set by set.
    fn short(held: &Held, order: &[Setting], hold: Length) -> usize {
        let mut rest = held.bar;
        let mut after = Vec::new();
        for setting in order {
            for (_, takes) in held.pieces.iter().filter(|(of, _)| of == setting) {
                rest -= takes;
                after.push(rest);
            }
        }
        after.pop();
        after.iter().filter(|rest| **rest < hold.nm()).count()
    }

    proptest! {
        /// Every order of lengths within the stages, one by one: none leaves fewer cuts short on any bar.
        #[test]
        fn no_order_leaves_fewer_cuts_short(
            cuts in prop::collection::vec(prop::collection::vec((1_u64..3, 1_u32..9), 1..5), 1..4),
            spare in 0_u32..200,
            hold in 0_u32..600,
        ) {
            let of = |pieces: &Vec<(u64, u32)>| {
                let pieces: Vec<(u64, u32)> =
                    pieces.iter().map(|(stage, piece)| (*stage, piece * 70)).collect();
                let sum: u32 = pieces.iter().map(|(_, piece)| piece + 3).sum();
                bar(sum + spare, &pieces)
            };
            let bars: BTreeSet<Held> = cuts.iter().map(of).collect();
            let hold = Length::from_mm(hold);
            let taken = settings(&bars, hold);
            prop_assert!(taken.is_sorted_by_key(|(stage, _)| *stage));
            for held in &bars {
                let own: Vec<Setting> = held.pieces.iter().map(|(of, _)| *of).unique().collect();
                let every = own.iter().copied().permutations(own.len());
                let every = every.filter(|order| order.is_sorted_by_key(|(stage, _)| *stage));
                let least = every.map(|order| short(held, &order, hold)).min();
                prop_assert_eq!(Some(short(held, &taken, hold)), least);
            }
        }
    }
}
