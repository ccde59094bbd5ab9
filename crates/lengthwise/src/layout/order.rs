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

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet, HashMap};

use crate::length::Length;

/// Cuts that bars look at for one order, each as often as it is looked at: beyond so many looks short lengths come
/// first from there on.
const MOST_LOOKS: usize = 50_000_000;

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
    settings_within(MOST_LOOKS, bars, hold).0
}

/// The same with so many looks at the most; also how many were taken.
fn settings_within(most: usize, bars: &BTreeSet<Held>, hold: Length) -> (Vec<Setting>, usize) {
    let all = bars.iter().flat_map(|bar| &bar.pieces);
    let mut left: BTreeSet<Setting> = all.map(|(setting, _)| *setting).collect();
    let mut bars = Bars::new(bars, &left, hold, most);
    let mut order = Vec::with_capacity(left.len());
    while let Some(&shortest) = left.first() {
        // The shortest may always go next: the rest follows it from the shortest up.
        let next = bars.longest().unwrap_or(shortest);
        left.remove(&next);
        bars.cut(next);
        order.push(next);
    }
    (order, bars.looks)
}

/// All bars that have a say, and what they say of the settings that are still to be made.
struct Bars {
    rests: Vec<Rest>,
    /// The places of the bars that hold a piece of a setting.
    holding: HashMap<Setting, Vec<usize>>,
    /// How many bars are against a setting.
    against: HashMap<Setting, usize>,
    /// Those that none is against: the longest of the earliest stage is the greatest. Of later stages some may be
    /// among them that nobody has asked about yet.
    free: BTreeSet<(Reverse<u64>, Length)>,
    /// Looks taken, and how many there may be.
    looks: usize,
    most: usize,
}

impl Bars {
    fn new(held: &BTreeSet<Held>, all: &BTreeSet<Setting>, hold: Length, most: usize) -> Bars {
        let rests = held.iter().map(|bar| Rest::new(bar, hold));
        // Where the longest may go first throughout, a bar has no say.
        let rests: Vec<Rest> = rests.filter(|bar| !bar.may_fall()).collect();
        let mut holding: HashMap<Setting, Vec<usize>> = HashMap::new();
        for (place, bar) in rests.iter().enumerate() {
            for setting in bar.left.keys() {
                holding.entry(*setting).or_default().push(place);
            }
        }
        let places = 0..rests.len();
        let mut bars = Bars {
            rests,
            holding,
            against: HashMap::new(),
            free: all.iter().map(turn).collect(),
            looks: 0,
            most,
        };
        places.for_each(|place| bars.ask(place));
        bars
    }

    /// The longest of the earliest stage that no bar is against; `None` where that is not known any more.
    fn longest(&self) -> Option<Setting> {
        let &(Reverse(stage), length) = self.free.last()?;
        Some((stage, length))
    }

    /// A setting is made: bars that held it say anew what they are against.
    fn cut(&mut self, setting: Setting) {
        for place in self.holding.remove(&setting).unwrap_or_default() {
            if let Some(bar) = self.rests.get_mut(place) {
                bar.cut(setting);
                self.ask(place);
            }
        }
        self.free.remove(&turn(&setting));
    }

    /// What a bar is against now in place of what it was against before.
    fn ask(&mut self, place: usize) {
        let Some(bar) = self.rests.get_mut(place) else {
            return;
        };
        self.looks = self.looks.saturating_add(bar.looks());
        if self.looks > self.most {
            self.ask_no_more();
            return;
        }
        let before = std::mem::take(&mut bar.against);
        bar.against = bar.refused();
        for setting in not_in(&bar.against, &before) {
            *self.against.entry(setting).or_default() += 1;
            self.free.remove(&turn(&setting));
        }
        for setting in not_in(&before, &bar.against) {
            let bars = self.against.entry(setting).or_default();
            *bars = bars.saturating_sub(1);
            if *bars == 0 {
                self.free.insert(turn(&setting));
            }
        }
    }

    fn ask_no_more(&mut self) {
        self.holding.clear();
        self.free.clear();
    }
}

/// The settings of one list that the other has not; both rise.
fn not_in<'s>(these: &'s [Setting], others: &'s [Setting]) -> impl Iterator<Item = Setting> + 's {
    let is_new = |setting: &&Setting| others.binary_search(setting).is_err();
    these.iter().filter(is_new).copied()
}

/// Sorts the longest of the earliest stage last.
fn turn(&(stage, length): &Setting) -> (Reverse<u64>, Length) {
    (Reverse(stage), length)
}

/// A bar part of which is cut.
struct Rest {
    /// How much may be cut off before too little is in the hand.
    spare: i64,
    /// How many cuts from now on can leave enough in the hand, which the shortest first show; the others leave too
    /// little in any order, since what is in the hand only gets less.
    enough: usize,
    /// What is still to be cut, the shortest of the earliest stage first.
    left: BTreeMap<Setting, Vec<i64>>,
    /// What it was against when it was last asked, rising.
    against: Vec<Setting>,
}

impl Rest {
    fn new(held: &Held, hold: Length) -> Rest {
        let mut left: BTreeMap<Setting, Vec<i64>> = BTreeMap::new();
        for (setting, takes) in &held.pieces {
            left.entry(*setting).or_default().push(*takes);
        }
        let spare = held.bar - hold.nm();
        let sums = sums(left.values().flatten());
        Rest {
            spare,
            enough: sums.skip(1).take_while(|sum| *sum <= spare).count(),
            left,
            against: Vec::new(),
        }
    }

    /// Whether as many cuts leave enough where the longest of every stage goes first. What the last cut leaves is
    /// the same in any order.
    fn may_fall(&self) -> bool {
        let mut falling: Vec<(&Setting, &Vec<i64>)> = self.left.iter().collect();
        falling.sort_by_key(|(setting, _)| (setting.0, Reverse(setting.1)));
        let takes = falling.into_iter().flat_map(|(_, takes)| takes);
        self.is_enough(takes.take(self.enough).sum())
    }

    /// Whether as many cuts leave enough as can, where they take this much together.
    fn is_enough(&self, takes: i64) -> bool {
        self.enough == 0 || takes <= self.spare
    }

    /// The settings of its earliest stage; none where nothing can be spoiled any more.
    fn asked(&self) -> impl Iterator<Item = (&Setting, &Vec<i64>)> {
        let earliest = self.left.keys().next().map(|(stage, _)| *stage);
        let is_asked = move |stage: u64| self.enough > 0 && Some(stage) == earliest;
        self.left
            .iter()
            .take_while(move |((stage, _), _)| is_asked(*stage))
    }

    /// Those of them that cannot go next: too few cuts would leave enough in the hand then, even where the rest
    /// follows from the shortest up.
    fn refused(&self) -> Vec<Setting> {
        let all = self.left.values().flatten();
        let shortest: Vec<i64> = sums(all).take(self.enough + 1).collect();
        let mut refused = Vec::new();
        let mut behind = 0;
        for (setting, takes) in self.asked() {
            behind += takes.len();
            // What is among the first from the shortest up anyway changes nothing by going before them.
            if behind > self.enough {
                let own = takes.len().min(self.enough);
                let rest = shortest.get(self.enough - own).copied().unwrap_or(0);
                let own: i64 = takes.iter().take(own).sum();
                if !self.is_enough(own + rest) {
                    refused.push(*setting);
                }
            }
        }
        refused
    }

    /// How many cuts [`Rest::refused`] looks at, at the most.
    fn looks(&self) -> usize {
        let asked: usize = self.asked().map(|(_, takes)| takes.len()).sum();
        self.enough.saturating_add(asked)
    }

    fn cut(&mut self, setting: Setting) {
        for takes in self.left.remove(&setting).into_iter().flatten() {
            self.spare -= takes;
            self.enough = self.enough.saturating_sub(1);
        }
    }
}

/// What is cut after no cut, after one, after two and so on.
fn sums<'t>(takes: impl Iterator<Item = &'t i64>) -> impl Iterator<Item = i64> {
    let add = |sum: &mut i64, takes: &i64| {
        *sum += takes;
        Some(*sum)
    };
    std::iter::once(0).chain(takes.scan(0, add))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
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

    /// The same order, every bar asked about every setting anew.
    fn asked_one_by_one(bars: &BTreeSet<Held>, hold: Length) -> Vec<Setting> {
        let all = bars.iter().flat_map(|bar| &bar.pieces);
        let mut left: Vec<Setting> = all.map(|(setting, _)| *setting).sorted().dedup().collect();
        let from_shortest = left.clone();
        let falling = |&(stage, length): &Setting| (stage, Reverse(length));
        let from_longest: Vec<Setting> = left.iter().copied().sorted_by_key(falling).collect();
        let has_a_say =
            |bar: &&Held| short(bar, &from_longest, hold) > short(bar, &from_shortest, hold);
        let bars: Vec<&Held> = bars.iter().filter(has_a_say).collect();
        let mut order: Vec<Setting> = Vec::new();
        while let Some(&(stage, _)) = left.first() {
            let may_go_next = |next: &Setting| {
                let rest = left.iter().filter(|setting| *setting != next);
                let then: Vec<Setting> = order.iter().chain([next]).chain(rest).copied().collect();
                let agrees =
                    |bar: &&Held| short(bar, &then, hold) <= short(bar, &from_shortest, hold);
                next.0 == stage && bars.iter().all(agrees)
            };
            let next = left.iter().rposition(may_go_next).unwrap();
            order.push(left.remove(next));
        }
        order
    }

    /// 200 bars of 50 pieces, all of different lengths.
    fn many_lengths() -> BTreeSet<Held> {
        let lengths = |of: u32| (0..50).map(|piece| (1, 200 + piece * 200 + of)).collect();
        let lengths = (0..200).map(|of| -> Vec<(u64, u32)> { lengths(of) });
        let sum = |pieces: &[(u64, u32)]| pieces.iter().map(|(_, length)| length + 3).sum::<u32>();
        lengths
            .map(|pieces| bar(sum(&pieces) + 20, &pieces))
            .collect()
    }

    /// Ten thousand settings: a bar is asked once for each of its cuts, about the pieces that are left on it, and not
    /// every bar about every setting.
    #[test]
    fn a_bar_is_asked_only_after_its_own_cuts() {
        let bars = many_lengths();
        for hold in [500, 1500] {
            let (order, looks) = settings_within(MOST_LOOKS, &bars, Length::from_mm(hold));
            assert_eq!(order.len(), 10_000);
            let of_a_bar: usize = (1..=50).map(|left| 2 * left).sum();
            assert!((1..=200 * of_a_bar).contains(&looks), "{looks}");
        }
    }

    /// With as many looks as it takes the order is whole, with half of them its beginning is the same; without any,
    /// short lengths come first. Whichever it is, no bar has more cuts short.
    #[test]
    fn beyond_so_many_looks_short_lengths_come_first() {
        let (bars, hold) = (many_lengths(), Length::from_mm(1500));
        let (whole, looks) = settings_within(MOST_LOOKS, &bars, hold);
        assert_eq!(settings_within(looks, &bars, hold).0, whole);
        let (none, _) = settings_within(0, &bars, hold);
        assert!(none.is_sorted() && !whole.is_sorted());
        let (half, _) = settings_within(looks / 2, &bars, hold);
        let same = half
            .iter()
            .zip(&whole)
            .take_while(|(one, other)| one == other);
        let same = same.count();
        assert!((1..9_999).contains(&same), "{same}");
        assert!(half.iter().skip(same).is_sorted());
        for held in &bars {
            let of_bar = |order: &[Setting]| {
                let is_of_it = |of: &&Setting| held.pieces.iter().any(|(own, _)| own == *of);
                let order: Vec<Setting> = order.iter().filter(is_of_it).copied().collect();
                short(held, &order, hold)
            };
            assert_eq!(of_bar(&half), of_bar(&none));
            assert_eq!(of_bar(&whole), of_bar(&none));
        }
    }

    proptest! {
        /// Pieces of one length may take more or less, as mitred ones do.
        #[test]
        fn asking_only_after_own_cuts_changes_nothing(
            cuts in prop::collection::vec(
                prop::collection::vec((1_u64..4, 1_u32..12, 0_u32..90), 1..9),
                1..7,
            ),
            spare in 0_u32..300,
            hold in 0_u32..900,
        ) {
            let of = |pieces: &Vec<(u64, u32, u32)>| {
                let sum: u32 = pieces.iter().map(|(_, piece, more)| piece * 70 + more).sum();
                let take = |&(stage, piece, more): &(u64, u32, u32)| {
                    let (length, more) = (Length::from_mm(piece * 70), Length::from_mm(more));
                    ((stage, length), length.nm() + more.nm())
                };
                let pieces = pieces.iter().map(take).sorted().collect();
                Held { bar: Length::from_mm(sum + spare).nm(), pieces }
            };
            let bars: BTreeSet<Held> = cuts.iter().map(of).collect();
            let hold = Length::from_mm(hold);
            prop_assert_eq!(settings(&bars, hold), asked_one_by_one(&bars, hold));
        }

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
