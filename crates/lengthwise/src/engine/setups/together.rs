//! A few patterns at once: first how many bars each takes, then what lies on them.
//!
//! With the numbers of uses fixed, each kind of piece can be shared out by itself, and only in ways
//! that come out even: pieces needed once lie on a pattern used once. All ways are tried, the longest
//! pieces first, as far as there is room on the bars.
//!
//! Source: combining patterns as in Foerster & Waescher, Int. J. Prod. Res. 38 (2000) 1657-1676 (from
//! memory), where the sums of uses are kept; here every way of sharing bars out is tried.

use super::search::{Search, Verdict};
use super::space::{at, place};
use crate::engine::instance::Pattern;

/// What is still open of some patterns that are chosen together.
struct Open {
    /// Kind and number of uses of each.
    uses: Vec<(u32, u32)>,
    /// Room that is left on a bar of each.
    rests: Vec<i64>,
    /// What lies on each so far.
    counts: Vec<Vec<(u32, u32)>>,
    needed: Vec<Needed>,
}

#[derive(Clone, Copy)]
struct Needed {
    item: u32,
    size: i64,
    demand: u32,
}

impl Search<'_, '_> {
    /// Looks for at most so many patterns that cut all that is left.
    pub fn together(&mut self, most: u32) -> Verdict {
        for patterns in self.space.needs(&self.state).max(1)..=most {
            let verdict = self.exactly(patterns);
            if verdict != Verdict::None {
                return verdict;
            }
        }
        Verdict::None
    }

    /// Looks for exactly so many patterns.
    pub fn exactly(&mut self, patterns: u32) -> Verdict {
        let items = (0_u32..).zip(&self.state.demand);
        let needed = items
            .filter(|(_, demand)| **demand > 0)
            .map(|(item, &demand)| Needed {
                item,
                size: self.space.instance.size(item),
                demand,
            });
        let mut open = Open {
            uses: Vec::new(),
            rests: Vec::new(),
            counts: Vec::new(),
            needed: needed.collect(),
        };
        let most = open.needed.iter().map(|needed| needed.demand).max();
        self.pick(patterns, most.unwrap_or(0), &mut open)
    }

    /// Picks kind and uses of the next pattern, not above those of the one before.
    fn pick(&mut self, patterns: u32, most: u32, open: &mut Open) -> Verdict {
        if !self.step() {
            return Verdict::GivenUp;
        }
        if patterns == 0 {
            return self.share_out(open);
        }
        let last = open.uses.last().copied();
        let mut choices: Vec<(u32, u32)> = Vec::new();
        for kind in 0..self.kinds() {
            let most = self.space.most_more(&self.state, kind).min(most);
            choices.extend((1..=most).rev().map(|times| (kind, times)));
            if !self.step() {
                return Verdict::GivenUp;
            }
        }
        choices.retain(|&(kind, times)| last.is_none_or(|(k, t)| (times, kind) <= (t, k)));
        choices.sort_unstable_by_key(|&(kind, times)| (std::cmp::Reverse(times), kind));
        self.rotate(&mut choices);
        for (kind, times) in choices {
            let capacity = self.space.instance.kinds.get(place(kind));
            open.uses.push((kind, times));
            open.rests.push(capacity.map_or(0, |kind| kind.capacity));
            open.counts.push(Vec::new());
            if let Some(used) = self.state.used.get_mut(place(kind)) {
                *used += times;
            }
            let verdict = self.pick(patterns - 1, times, open);
            if let Some(used) = self.state.used.get_mut(place(kind)) {
                *used -= times;
            }
            open.uses.pop();
            open.rests.pop();
            open.counts.pop();
            if verdict != Verdict::None {
                return verdict;
            }
        }
        Verdict::None
    }

    fn kinds(&self) -> u32 {
        u32::try_from(self.space.instance.kinds.len()).unwrap_or(u32::MAX)
    }

    /// Begins somewhere else where choices are shuffled.
    fn rotate<T>(&mut self, choices: &mut [T]) {
        if let Some(number) = self.draw()
            && !choices.is_empty()
        {
            let by = number % choices.len() as u64; // a count fits
            choices.rotate_left(usize::try_from(by).unwrap_or(0));
        }
    }

    /// Shares out all pieces over patterns whose uses are fixed.
    fn share_out(&mut self, open: &mut Open) -> Verdict {
        if !self.space.is_as_dear(&self.state) {
            return Verdict::None;
        }
        let room = open.uses.iter().zip(&open.rests);
        let room = room.map(|(&(_, times), &rest)| i128::from(times) * i128::from(rest));
        let needed = open.needed.iter();
        let needed = needed.map(|needed| i128::from(needed.size) * i128::from(needed.demand));
        let uses = open.uses.iter().map(|&(_, times)| times);
        let divisor = uses.fold(0, divisor);
        let comes_out_even = open
            .needed
            .iter()
            .all(|needed| needed.demand % divisor.max(1) == 0);
        if !comes_out_even || room.sum::<i128>() < needed.sum::<i128>() {
            return Verdict::None;
        }
        self.share(0, open)
    }

    /// Shares out the pieces from one on.
    fn share(&mut self, next: usize, open: &mut Open) -> Verdict {
        if !self.step() {
            return Verdict::GivenUp;
        }
        let Some(&needed) = open.needed.get(next) else {
            return self.all_shared(open);
        };
        self.share_one(next, needed, needed.demand, 0, open)
    }

    /// Shares out one kind of piece over the patterns from one on.
    fn share_one(
        &mut self,
        next: usize,
        needed: Needed,
        left: u32,
        pattern: usize,
        open: &mut Open,
    ) -> Verdict {
        if left == 0 {
            return self.share(next + 1, open);
        }
        let Some(&(kind, times)) = open.uses.get(pattern) else {
            return Verdict::None;
        };
        if !self.step() {
            return Verdict::GivenUp;
        }
        let rest = at(&open.rests, pattern);
        let fits = if self.space.may_hold(kind, needed.item) {
            u32::try_from(rest / needed.size).unwrap_or(u32::MAX)
        } else {
            0
        };
        let is_last = pattern + 1 == open.uses.len();
        if is_last && (!left.is_multiple_of(times) || left / times > fits) {
            return Verdict::None;
        }
        let least = if is_last { left / times } else { 0 };
        let most = fits
            .min(left / times)
            .min(open.most_beside(pattern, needed));
        if least > most {
            return Verdict::None;
        }
        let mut choices: Vec<u32> = (least..=most).rev().collect();
        self.rotate(&mut choices);
        for count in choices {
            put(open, pattern, needed, count);
            let verdict = self.share_one(next, needed, left - count * times, pattern + 1, open);
            take_out(open, pattern, needed, count);
            if verdict != Verdict::None {
                return verdict;
            }
        }
        Verdict::None
    }

    /// Everything has its place: the patterns are the answer, unless one of them is empty.
    fn all_shared(&mut self, open: &Open) -> Verdict {
        if open.counts.iter().any(Vec::is_empty) {
            return Verdict::None;
        }
        for (&(kind, times), counts) in open.uses.iter().zip(&open.counts) {
            let mut counts = counts.clone();
            counts.sort_unstable();
            let pattern = Pattern {
                kind,
                counts,
                split: None,
            };
            self.chosen.push((pattern, times));
        }
        Verdict::Found
    }
}

impl Open {
    /// How many of a piece a pattern may hold, where the one before is alike so far: no more than that.
    fn most_beside(&self, pattern: usize, needed: Needed) -> u32 {
        let two = pattern.checked_sub(1).and_then(|before| {
            let is_alike = self.uses.get(before) == self.uses.get(pattern);
            let both = (self.counts.get(before)?, self.counts.get(pattern)?);
            is_alike.then_some(both)
        });
        let Some((before, this)) = two else {
            return u32::MAX;
        };
        // Pieces are shared out one kind after the other: this one is the last on both.
        let taken = before.last().filter(|(item, _)| *item == needed.item);
        let earlier = before.len() - usize::from(taken.is_some());
        if before.get(..earlier) == Some(this.as_slice()) {
            taken.map_or(0, |&(_, count)| count)
        } else {
            u32::MAX
        }
    }
}

fn put(open: &mut Open, pattern: usize, needed: Needed, count: u32) {
    if let Some(rest) = open.rests.get_mut(pattern) {
        *rest -= needed.size * i64::from(count);
    }
    if count > 0
        && let Some(counts) = open.counts.get_mut(pattern)
    {
        counts.push((needed.item, count));
    }
}

fn take_out(open: &mut Open, pattern: usize, needed: Needed, count: u32) {
    if let Some(rest) = open.rests.get_mut(pattern) {
        *rest += needed.size * i64::from(count);
    }
    if count > 0
        && let Some(counts) = open.counts.get_mut(pattern)
    {
        counts.pop();
    }
}

/// Greatest common divisor; of 0 and a number, the number.
fn divisor(a: u32, b: u32) -> u32 {
    if b == 0 { a } else { divisor(b, a % b) }
}
