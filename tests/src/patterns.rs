//! The fewest patterns of a small job, by trying every way to put its pieces on bars.
//!
//! No code of the library, no bound, no memory: some bar holds the longest piece that is left, and every
//! company that it may have there is tried on every kind of bar. What a plan costs is counted as in
//! [`exhaustive`](crate::exhaustive).

use std::collections::BTreeMap;

use crate::exhaustive::{Best, bought_cost, counts_money, hand_cost};
use crate::small::SmallJob;

/// A kind of bar (a row of the job, bought ones first), and how many of each length lie on a bar, the longest
/// length first.
pub type Pattern = (usize, Vec<u64>);

/// The fewest patterns of all plans of exactly this value and length from hand; `None` where there is no
/// such plan. A pattern is a kind of bar (a row of the job) with what is cut from it.
pub fn fewest_patterns(job: &SmallJob, best: Best) -> Option<usize> {
    let mut fewest: Option<usize> = None;
    every_plan(job, best, &mut |patterns| {
        fewest = Some(fewest.unwrap_or(usize::MAX).min(patterns.len()));
    });
    fewest
}

/// Shows every plan of exactly this value and length from hand, perhaps several times: patterns and how
/// often each is cut.
pub fn every_plan(job: &SmallJob, best: Best, visit: &mut dyn FnMut(&BTreeMap<Pattern, u64>)) {
    let mut demand: BTreeMap<i64, u64> = BTreeMap::new();
    for &(length, qty) in &job.pieces {
        *demand.entry(length).or_default() += qty;
    }
    let (lengths, demand): (Vec<i64>, Vec<u64>) = demand.into_iter().rev().unzip();
    let bought = job.stock.iter();
    let bought = bought.map(|bar| bar.length - job.square.0 - job.square.1);
    let in_hand = job.in_hand.iter();
    let in_hand = in_hand.map(|bar| bar.length - bar.square.0 - bar.square.1);
    let usable: Vec<i64> = bought.chain(in_hand).collect();
    let mut trial = Trial {
        job,
        best,
        money: counts_money(job),
        bars: vec![0; usable.len()],
        usable,
        lengths,
        patterns: BTreeMap::new(),
        visit,
    };
    trial.next_bar(&demand);
}

struct Trial<'a> {
    job: &'a SmallJob,
    best: Best,
    money: bool,
    usable: Vec<i64>,
    lengths: Vec<i64>,
    bars: Vec<u64>,
    patterns: BTreeMap<Pattern, u64>,
    visit: &'a mut dyn FnMut(&BTreeMap<Pattern, u64>),
}

impl Trial<'_> {
    fn next_bar(&mut self, left: &[u64]) {
        if self.cost().is_none_or(|cost| cost.value > self.best.value) {
            return;
        }
        let Some(first) = left.iter().position(|&left| left > 0) else {
            if self.cost() == Some(self.best) {
                (self.visit)(&self.patterns);
            }
            return;
        };
        for kind in 0..self.usable.len() {
            let mut on_bar = vec![0; left.len()];
            on_bar[first] = 1;
            // Every piece takes a cut with it; the last one's falls beyond the end.
            let room = self.usable[kind] + self.cut() - self.lengths[first] - self.cut();
            if room >= 0 {
                self.fill(kind, first, room, left, &mut on_bar);
            }
        }
    }

    fn cut(&self) -> i64 {
        self.job.kerf + self.job.per_cut
    }

    /// Every further company on this bar, from this length on.
    fn fill(&mut self, kind: usize, at: usize, room: i64, left: &[u64], on_bar: &mut Vec<u64>) {
        if at == left.len() {
            let rest: Vec<u64> = left.iter().zip(&*on_bar).map(|(a, b)| a - b).collect();
            let pattern = (kind, on_bar.clone());
            *self.patterns.entry(pattern.clone()).or_default() += 1;
            self.bars[kind] += 1;
            self.next_bar(&rest);
            self.bars[kind] -= 1;
            let uses = self.patterns.get_mut(&pattern).expect("it was put in");
            *uses -= 1;
            if *uses == 0 {
                self.patterns.remove(&pattern);
            }
            return;
        }
        let before = on_bar[at];
        let mut room = room;
        loop {
            self.fill(kind, at + 1, room, left, on_bar);
            room -= self.lengths[at] + self.cut();
            if room < 0 || on_bar[at] == left[at] {
                break;
            }
            on_bar[at] += 1;
        }
        on_bar[at] = before;
    }

    /// What the bars come to; `None` where there are not so many.
    fn cost(&self) -> Option<Best> {
        let mut sum = Best {
            value: 0,
            hand_nm: 0,
        };
        for (kind, &bars) in self.bars.iter().enumerate() {
            let cost = match kind.checked_sub(self.job.stock.len()) {
                None => bought_cost(self.job, &self.job.stock[kind], self.money, bars),
                Some(row) => hand_cost(self.job, &self.job.in_hand[row], self.money, bars),
            }?;
            sum.value += cost.value;
            sum.hand_nm += cost.hand_nm;
        }
        Some(sum)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::exhaustive::exhaustive;
    use crate::small::{SmallBar, SmallSold};

    fn fewest(bar: i64, pieces: &[(i64, u64)]) -> Option<usize> {
        let job = SmallJob {
            grain_nm: 1_000_000,
            kerf: 0,
            per_cut: 0,
            square: (0, 0),
            priced: true,
            pieces: pieces.to_vec(),
            stock: vec![SmallBar {
                length: bar,
                pence: 1,
                sold: SmallSold::Each,
                available: None,
            }],
            in_hand: vec![],
        };
        fewest_patterns(&job, exhaustive(&job)?)
    }

    /// Arithmetic: 6 + 4 twice is one pattern; with one 4 in place of 2 + 2 there are two; three 5s and a 5
    /// are one; a 6 that nothing fits beside is a pattern of its own.
    #[test]
    fn by_hand() {
        assert_eq!(fewest(10, &[(6, 2), (4, 2)]), Some(1));
        assert_eq!(fewest(10, &[(6, 2), (4, 1), (2, 2)]), Some(2));
        assert_eq!(fewest(10, &[(5, 4)]), Some(1));
        assert_eq!(fewest(10, &[(5, 3)]), Some(2));
        assert_eq!(fewest(10, &[(6, 3), (5, 2)]), Some(2));
    }
}
