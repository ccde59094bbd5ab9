//! Runs as kinds of bar, and rules about courses as kinds of piece: how the engine takes both without
//! knowing more about them.
//!
//! A run of which a split with the parts `u` is chosen needs those parts. Let `m_i` be at least the
//! most of part `i` in any of its splits. Demanding `m_i` of every part and giving back `m_i - u_i` for
//! the split that is chosen comes to the same; and so a run is a kind of bar that costs nothing, of
//! which there are as many as copies of the run, and a split is a pattern on it: what it does not need.
//! The most that such a bar holds at prices `p` is `sum m_i p_i - mu`, with `mu` the least that a split
//! is priced at: a shortest path over the places for joints, layered by joints. With that, every bound
//! and every proof of the engine holds for runs as it stands.
//!
//! A rule that at most `a` of `n` courses are joined on one support says that at least `n - a` are not:
//! a kind of piece of which `n - a` are needed, that no bar holds, and that a split gives where it has
//! no joint there.
//!
//! Source: shortest paths as pricing as in Desrochers & Soumis (1989), from memory; the complement is
//! ours.

use std::ops::Range;

use super::instance::Pattern;

/// Splits that one round of pricing brings for a run.
const SPLITS_PER_ROUND: usize = 6;

/// A run: places in a row, and parts from one to another.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Run {
    /// For each place, the left end first: the places that a part can reach from there, with its item.
    /// The last place is the right end.
    parts: Vec<Vec<(u32, u32)>>,
    /// Items that a joint at each place does not give.
    windows: Vec<Vec<u32>>,
    most_joints: u32,
    /// For each place the numbers of parts that may be left there: no fewer than lead to the right end, no
    /// more than the fewest that lead there leave of all. Empty at a place that no split uses.
    left: Vec<Range<u32>>,
    /// What is demanded for one copy: `(item, count)` by increasing item.
    most: Vec<(u32, u32)>,
}

/// The least that the rest of a run is priced at, for every place and every number of parts that may be left
/// there.
struct Costs<'r> {
    left: &'r [Range<u32>],
    /// Place by place.
    least: Vec<Vec<Option<i64>>>,
    arrival: Vec<i64>,
}

impl Costs<'_> {
    fn at(&self, parts_left: u32, place: u32) -> Option<i64> {
        let place = place as usize; // u32 into usize
        let layer = parts_left.checked_sub(self.left.get(place)?.start)? as usize; // u32 into usize
        self.least.get(place)?.get(layer).copied().flatten()
    }

    /// A part of this price that ends at a place, and the cheapest way on from there. Where joints are forbidden
    /// their prices come to the largest number: such ways are as good as none.
    fn through(&self, part: i64, left: u32, to: u32) -> Option<i64> {
        let rest = self.at(left, to)?;
        Some(part.saturating_add(self.arrival(to)).saturating_add(rest))
    }

    /// What a joint at a place is priced at.
    fn arrival(&self, place: u32) -> i64 {
        self.arrival.get(place as usize).copied().unwrap_or(0)
    }
}

/// Steps in which the most of each item is found by longest paths.
const QUICK: u64 = 20_000_000;

impl Run {
    /// `parts` and `windows` as in the fields, by place; the last place has no parts.
    pub fn new(parts: Vec<Vec<(u32, u32)>>, windows: Vec<Vec<u32>>, most_joints: u32) -> Run {
        let mut run = Run {
            left: parts_left(&parts, most_joints),
            parts,
            windows,
            most_joints,
            most: Vec::new(),
        };
        run.most = run.most_of_each();
        run
    }

    /// The right end.
    pub fn end(&self) -> u32 {
        u32::try_from(self.parts.len().saturating_sub(1)).unwrap_or(u32::MAX)
    }

    fn parts_from(&self, place: u32) -> &[(u32, u32)] {
        self.parts.get(place as usize).map_or(&[], Vec::as_slice)
    }

    /// The item of the part between two places, if there is one.
    pub fn part(&self, from: u32, to: u32) -> Option<u32> {
        let mut reach = self.parts_from(from).iter();
        reach.find(|(place, _)| *place == to).map(|(_, item)| *item)
    }

    /// What is demanded for one copy.
    pub fn most(&self) -> &[(u32, u32)] {
        &self.most
    }

    /// The same run with some of its parts only.
    pub fn only(&self, is_allowed: impl Fn(u32) -> bool) -> Run {
        let parts = self.parts.iter().map(|reach| {
            let allowed = reach.iter().filter(|(_, item)| is_allowed(*item));
            allowed.copied().collect()
        });
        Run::new(parts.collect(), self.windows.clone(), self.most_joints)
    }

    /// For each stretch from one place to the next, the items of the parts that may lie over it: every
    /// split has one of them.
    pub fn over_each_stretch(&self) -> Vec<Vec<u32>> {
        let parts = (0_u32..).zip(&self.parts);
        let parts: Vec<(u32, u32, u32)> = parts
            .flat_map(|(from, reach)| reach.iter().map(move |&(to, item)| (from, to, item)))
            .collect();
        let over = |stretch: u32| {
            let over = parts.iter();
            let over = over.filter(|&&(from, to, _)| from <= stretch && stretch < to);
            let mut items: Vec<u32> = over.map(|&(.., item)| item).collect();
            items.sort_unstable();
            items.dedup();
            items
        };
        (0..self.end()).map(over).collect()
    }

    /// Parts and layers that one pass over the run goes through.
    pub fn work(&self) -> u64 {
        let of_place =
            |(parts, left): (&Vec<_>, &Range<u32>)| parts.len() as u64 * left.len() as u64; // counts fit
        self.parts.iter().zip(&self.left).map(of_place).sum()
    }

    /// Parts, each for every number of joints up to the most: whoever checks a proof looks at all of them, and where
    /// longest paths were too much there, the most of each item must not have been found by them here.
    fn steps(&self) -> u64 {
        let parts: usize = self.parts.iter().map(Vec::len).sum();
        parts as u64 * (u64::from(self.most_joints) + 1) // a count fits
    }

    /// What it took to find the most of each item, which no meter counted.
    pub fn work_before(&self) -> u64 {
        let items = self.most.len() as u64; // a count fits
        if self.steps().saturating_mul(items) <= QUICK {
            self.work().saturating_mul(items)
        } else {
            self.work()
        }
    }

    /// The same run where only the first items are looked at.
    pub fn among_first(&self, items: usize) -> Run {
        let mut run = self.clone();
        run.most.retain(|&(item, _)| (item as usize) < items);
        run
    }

    /// The most of each item in one split: by longest paths where that is quick, else what length and
    /// number of parts allow.
    fn most_of_each(&self) -> Vec<(u32, u32)> {
        let mut items: Vec<u32> = self.parts.iter().flatten().map(|&(_, item)| item).collect();
        items.sort_unstable();
        items.dedup();
        let is_quick = self.steps().saturating_mul(items.len() as u64) <= QUICK;
        let most = |item: u32| {
            if is_quick {
                let price = |other: u32| -i64::from(other == item);
                let least = self.costs(&price, &|_| 0);
                least.at(self.most_joints + 1, 0).map_or(0, |least| -least)
            } else {
                self.most_by_place(item)
            }
        };
        let mut all: Vec<(u32, u32)> = items
            .into_iter()
            .map(|item| (item, u32::try_from(most(item)).unwrap_or(u32::MAX)))
            .filter(|&(_, most)| most > 0)
            .collect();
        // A window is given once by a run without a joint there.
        let mut windows: Vec<u32> = self.windows.iter().flatten().copied().collect();
        windows.sort_unstable();
        windows.dedup();
        all.extend(windows.into_iter().map(|item| (item, 1)));
        all.sort_unstable();
        all
    }

    /// At most one part begins at the left end and one ends at the right; the others lie between.
    fn most_by_place(&self, item: u32) -> i64 {
        let mut is = [false; 3];
        for (from, parts) in (0_u32..).zip(&self.parts) {
            for &(to, _) in parts.iter().filter(|&&(_, other)| other == item) {
                let kind = match (from == 0, to == self.end()) {
                    (true, _) => 0,
                    (_, true) => 1,
                    _ => 2,
                };
                if let Some(is) = is.get_mut(kind) {
                    *is = true;
                }
            }
        }
        let ends = i64::from(is[0]) + i64::from(is[1]);
        let between = i64::from(self.most_joints).saturating_sub(1).max(0);
        if is[2] { ends + between } else { ends }
    }

    fn costs(&self, price: &dyn Fn(u32) -> i64, joint: &dyn Fn(u32) -> i64) -> Costs<'_> {
        let mut costs = Costs {
            left: &self.left,
            least: vec![Vec::new(); self.parts.len()],
            arrival: (0..self.end()).map(joint).collect(),
        };
        costs.arrival.push(0);
        // Every part leads to the right, where all is known.
        let places = self.parts.iter().zip(&self.left).enumerate().rev();
        for (place, (parts, left)) in places {
            let least = |left: u32| {
                if place + 1 == self.parts.len() {
                    return Some(0);
                }
                let left = left.checked_sub(1)?;
                let through = |&(to, item): &(u32, u32)| costs.through(price(item), left, to);
                parts.iter().filter_map(through).min()
            };
            let least: Vec<Option<i64>> = left.clone().map(least).collect();
            if let Some(cells) = costs.least.get_mut(place) {
                *cells = least;
            }
        }
        costs
    }

    /// Prices of items and of joints: what a window is worth is lost by a joint there.
    fn priced(&self, prices: &[i64]) -> Costs<'_> {
        let price = |item: u32| prices.get(item as usize).copied().unwrap_or(0);
        let joint = |place: u32| {
            let windows = self.windows.get(place as usize).map_or(&[][..], |all| all);
            let prices = windows.iter().map(|&item| price(item));
            prices.fold(0, i64::saturating_add)
        };
        self.costs(&price, &joint)
    }

    /// The cheapest continuation from a place, as the joints on the way.
    fn cheapest_from(
        &self,
        costs: &Costs<'_>,
        price: &dyn Fn(u32) -> i64,
        mut left: u32,
        mut place: u32,
    ) -> Option<Vec<u32>> {
        let mut joints = Vec::new();
        while place != self.end() {
            let least = costs.at(left, place)?;
            left = left.checked_sub(1)?;
            let is_least =
                |&&(to, item): &&(u32, u32)| costs.through(price(item), left, to) == Some(least);
            place = self.parts_from(place).iter().find(is_least)?.0;
            if place != self.end() {
                joints.push(place);
            }
        }
        Some(joints)
    }

    /// What everything that is demanded for one copy is worth.
    fn worth_of_most(&self, prices: &[i64]) -> i64 {
        let price = |item: u32| prices.get(item as usize).copied().unwrap_or(0);
        let all = self.most.iter();
        all.map(|&(item, most)| price(item) * i64::from(most)).sum()
    }

    /// Whether sums of these prices over a split stay far from the largest number.
    pub fn stays_exact(&self, prices: &[i64]) -> bool {
        let price = |item: u32| prices.get(item as usize).copied().unwrap_or(0);
        let all = self.most.iter();
        let worth: i128 = all
            .map(|&(item, most)| i128::from(price(item)) * i128::from(most))
            .sum();
        worth < i128::from(i64::MAX / 4)
    }

    /// The most that a split gives back at these prices; nothing where there is no split.
    pub fn holds(&self, prices: &[i64]) -> i64 {
        let costs = self.priced(prices);
        let least = costs.at(self.most_joints + 1, 0);
        least.map_or(0, |least| self.worth_of_most(prices) - least)
    }

    /// The cheapest split at these prices.
    pub fn cheapest(&self, prices: &[i64]) -> Option<Vec<u32>> {
        let price = |item: u32| prices.get(item as usize).copied().unwrap_or(0);
        let costs = self.priced(prices);
        self.cheapest_from(&costs, &price, self.most_joints + 1, 0)
    }

    /// The most that a split gives back, and splits that give back more than `floor`, the best for each
    /// first part, most first.
    pub fn best(&self, prices: &[i64], floor: i64) -> (i64, Vec<(Vec<u32>, i64)>) {
        let price = |item: u32| prices.get(item as usize).copied().unwrap_or(0);
        let costs = self.priced(prices);
        let all = self.worth_of_most(prices);
        let left = self.most_joints;
        let mut firsts: Vec<(i64, u32)> = self
            .parts_from(0)
            .iter()
            .filter_map(|&(to, item)| {
                let least = costs.through(price(item), left, to)?;
                Some((all - least, to))
            })
            .collect();
        firsts.sort_by(|a, b| b.0.cmp(&a.0).then(a.1.cmp(&b.1)));
        let most = firsts.first().map_or(0, |&(worth, _)| worth);
        let splits = firsts
            .into_iter()
            .filter(|&(worth, _)| worth > floor)
            .take(SPLITS_PER_ROUND)
            .filter_map(|(worth, to)| {
                let rest = self.cheapest_from(&costs, &price, left, to)?;
                let first = (to != self.end()).then_some(to);
                Some((first.into_iter().chain(rest).collect(), worth))
            });
        (most, splits.collect())
    }

    /// The items of the parts of a split, from the left.
    pub fn parts_of(&self, joints: &[u32]) -> Vec<u32> {
        let stops = joints.iter().copied().chain([self.end()]);
        let mut from = 0;
        let part = |to: u32| {
            let part = self.part(from, to);
            from = to;
            part
        };
        stops.filter_map(part).collect()
    }

    /// A split as a pattern on its kind.
    pub fn pattern(&self, kind: u32, joints: Vec<u32>) -> Pattern {
        let needed = self.parts_of(&joints);
        let lost = |item: u32| {
            let of = |place: &u32| self.windows.get(*place as usize);
            joints.iter().filter_map(of).flatten().any(|&it| it == item)
        };
        let left = |&(item, most): &(u32, u32)| {
            let used = needed.iter().filter(|&&needed| needed == item).count();
            let used = u32::try_from(used).unwrap_or(u32::MAX) + u32::from(lost(item));
            let left = most.saturating_sub(used);
            (left > 0).then_some((item, left))
        };
        Pattern {
            kind,
            counts: self.most.iter().filter_map(left).collect(),
            split: Some(joints),
        }
    }

    /// Every split that loses at most so much against the best in each set of prices; `None` where
    /// there are more than `most`. Counts steps.
    pub fn within(
        &self,
        filters: &[(&[i64], i128)],
        most: usize,
        steps: &mut u64,
        most_steps: u64,
    ) -> Option<Vec<Vec<u32>>> {
        let costs: Vec<Costs<'_>> = filters
            .iter()
            .map(|(prices, _)| self.priced(prices))
            .collect();
        let budgets: Option<Vec<i128>> = filters
            .iter()
            .zip(&costs)
            .map(|((_, loss), costs)| Some(i128::from(costs.at(self.most_joints + 1, 0)?) + loss))
            .collect();
        let Some(budgets) = budgets else {
            return Some(Vec::new()); // no split at all
        };
        let mut walk = Within {
            run: self,
            filters,
            costs: &costs,
            budgets,
            path: Vec::new(),
            found: Vec::new(),
            most,
            steps,
            most_steps,
        };
        walk.is_listed().then_some(walk.found)
    }
}

/// For each place the numbers of parts that a split of so many joints may have left there.
fn parts_left(parts: &[Vec<(u32, u32)>], most_joints: u32) -> Vec<Range<u32>> {
    let most_parts = most_joints.saturating_add(1);
    let mut before: Vec<Option<u32>> = vec![None; parts.len()];
    let mut after = before.clone();
    if let (Some(first), Some(last)) = (before.first_mut(), after.last_mut()) {
        (*first, *last) = (Some(0), Some(0));
    }
    for (from, reach) in parts.iter().enumerate() {
        let Some(so_far) = before.get(from).copied().flatten() else {
            continue;
        };
        for &(to, _) in reach {
            if let Some(cell) = before.get_mut(to as usize) {
                *cell = Some(cell.map_or(so_far + 1, |known| known.min(so_far + 1)));
            }
        }
    }
    for (from, reach) in parts.iter().enumerate().rev() {
        let rest = |&(to, _): &(u32, u32)| after.get(to as usize).copied().flatten();
        let least = reach.iter().filter_map(rest).min();
        if let (Some(least), Some(cell)) = (least, after.get_mut(from)) {
            *cell = Some(least + 1);
        }
    }
    let left = |(before, after): (Option<u32>, Option<u32>)| {
        let most = most_parts.checked_sub(before?)?;
        after.map(|after| after..most.saturating_add(1))
    };
    let left = before.into_iter().zip(after).map(left);
    left.map(Option::unwrap_or_default).collect()
}

struct Within<'w> {
    run: &'w Run,
    filters: &'w [(&'w [i64], i128)],
    costs: &'w [Costs<'w>],
    budgets: Vec<i128>,
    path: Vec<u32>,
    found: Vec<Vec<u32>>,
    most: usize,
    steps: &'w mut u64,
    most_steps: u64,
}

/// A place that a split was followed to, and which of the parts from there is next.
struct Stop {
    place: u32,
    parts_left: u32,
    spent: Vec<i128>,
    next: usize,
}

impl Within<'_> {
    /// Lists all splits; false when there are too many. A split has thousands of parts where a run is long, far
    /// more than calls may lie within each other.
    fn is_listed(&mut self) -> bool {
        let begin = Stop {
            place: 0,
            parts_left: self.run.most_joints + 1,
            spent: vec![0; self.filters.len()],
            next: 0,
        };
        let mut stops = vec![begin];
        if !self.step() {
            return false;
        }
        while let Some(stop) = stops.last_mut() {
            let part = self.run.parts_from(stop.place).get(stop.next).copied();
            let part = part.filter(|_| stop.parts_left > 0);
            let Some((to, item)) = part else {
                stops.pop();
                self.path.pop();
                continue;
            };
            stop.next += 1;
            let parts_left = stop.parts_left - 1;
            let Some(spent) = self.spent(&stop.spent, parts_left, to, item) else {
                continue;
            };
            if !self.step() {
                return false;
            }
            if to == self.run.end() {
                self.found.push(self.path.clone());
                if self.found.len() > self.most {
                    return false;
                }
                continue;
            }
            self.path.push(to);
            stops.push(Stop {
                place: to,
                parts_left,
                spent,
                next: 0,
            });
        }
        true
    }

    fn step(&mut self) -> bool {
        *self.steps += 1;
        *self.steps <= self.most_steps
    }

    /// What is spent with one more part; `None` where the end is out of reach then.
    fn spent(&self, so_far: &[i128], parts_left: u32, to: u32, item: u32) -> Option<Vec<i128>> {
        let all = self.filters.iter().zip(self.costs).zip(&self.budgets);
        let with_part = all.zip(so_far).map(|(((filter, costs), budget), spent)| {
            let (prices, _) = filter;
            let price = prices.get(item as usize).copied().unwrap_or(0);
            let spent = spent + i128::from(price) + i128::from(costs.arrival(to));
            let rest = i128::from(costs.at(parts_left, to)?);
            (spent + rest <= *budget).then_some(spent)
        });
        with_part.collect()
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// A run with so many places inside, a part of its own for any two places some seven apart at the
    /// most, and windows on some places, each on one.
    fn run(places: u32, most_joints: u32, lost: &[u32]) -> Run {
        let end = places + 1;
        let parts = (0..=end).map(|from| {
            let reached = (from + 1..=end).filter(|to| to - from <= 7);
            reached
                .map(|to| (to, 3 + (from * 5 + to * 3) % 9))
                .collect()
        });
        let windows = (0..=end).map(|place| {
            let is_inside = place > 0 && place < end;
            let has = |place: u32| lost.contains(&place);
            let is_taken = (1..place).any(|other| has(other) && other % 3 == place % 3);
            let is_lost = is_inside && has(place) && !is_taken;
            is_lost.then_some(place % 3).into_iter().collect()
        });
        Run::new(parts.collect(), windows.collect(), most_joints)
    }

    /// Every split, one by one.
    fn splits(run: &Run) -> Vec<Vec<u32>> {
        let inside: Vec<u32> = (1..run.end()).collect();
        let subsets = (0_u32..1 << inside.len()).map(|set| {
            let chosen = inside
                .iter()
                .enumerate()
                .filter(|(bit, _)| set >> bit & 1 == 1);
            chosen.map(|(_, place)| *place).collect::<Vec<u32>>()
        });
        subsets
            .filter(|joints| joints.len() as u32 <= run.most_joints)
            .filter(|joints| run.parts_of(joints).len() == joints.len() + 1)
            .collect()
    }

    /// What a split gives back, counted item by item.
    fn gives(run: &Run, joints: &[u32], prices: &[i64]) -> i64 {
        let pattern = run.pattern(9, joints.to_vec());
        let counts = pattern.counts.iter();
        counts
            .map(|&(item, count)| prices[item as usize] * i64::from(count))
            .sum()
    }

    /// With no joint to spare only one number of parts may be left at each place, so that a pass goes through every
    /// part once; with some to spare, through as many layers more.
    #[test]
    fn only_numbers_of_parts_that_may_be_left_count() {
        let chain = |places: u32, most_joints: u32| {
            let reach = |from: u32| {
                let to = from + 1..=(from + 2).min(places);
                to.map(|to| (to, to - from)).collect()
            };
            Run::new((0..=places).map(reach).collect(), Vec::new(), most_joints)
        };
        // Of three places apart two at a time is the least: two parts, from 0 over 1 or 2.
        assert_eq!(chain(3, 1).left, [2..3, 1..2, 1..2, 0..1]);
        assert_eq!(chain(3, 1).work(), 2 + 2 + 1);
        assert_eq!(chain(3, 2).left, [2..4, 1..3, 1..3, 0..2]);
        assert_eq!(chain(3, 2).work(), 2 * (2 + 2 + 1));
        assert_eq!(chain(4, 1).left, [2..3, 2..2, 1..2, 1..1, 0..1]);
        // Too few joints for any split.
        assert_eq!(chain(4, 0).cheapest(&[0, 1, 1]), None);
        assert_eq!(chain(4, 0).holds(&[0, 1, 1]), 0);
    }

    /// A run may have ten thousand joints.
    #[test]
    fn very_long_runs() {
        let places = 10_000;
        let reach = |from: u32| {
            let next = (from < places).then_some((from + 1, 0));
            next.into_iter().collect()
        };
        let run = Run::new((0..=places).map(reach).collect(), Vec::new(), places - 1);
        assert_eq!(run.most(), [(0, places)]);
        assert_eq!(run.work(), u64::from(places));
        let all: Vec<u32> = (1..places).collect();
        let listed = run.within(&[(&[1], 0)], 1, &mut 0, 1_000_000).unwrap();
        assert_eq!(listed, [all]);
    }

    proptest! {
        #[test]
        fn prices_and_lists_agree_with_trying_every_split(
            places in 1_u32..8,
            most_joints in 0_u32..4,
            lost in prop::collection::vec(0_u32..9, 0..8),
            prices in prop::collection::vec(0_i64..50, 12),
            tilted in prop::collection::vec(0_i64..50, 12),
            losses in (0_i128..40, 0_i128..40),
        ) {
            let run = run(places, most_joints, &lost);
            let all = splits(&run);
            let worth = |prices: &[i64]| all.iter().map(|joints| gives(&run, joints, prices)).max();
            prop_assert_eq!(run.holds(&prices), worth(&prices).unwrap_or(0));
            match run.cheapest(&prices) {
                Some(joints) => prop_assert_eq!(Some(gives(&run, &joints, &prices)), worth(&prices)),
                None => prop_assert!(all.is_empty()),
            }
            let (most, best) = run.best(&prices, -1);
            prop_assert_eq!(most, worth(&prices).unwrap_or(0));
            for (joints, value) in best {
                prop_assert_eq!(gives(&run, &joints, &prices), value);
            }
            let filters = [(prices.as_slice(), losses.0), (tilted.as_slice(), losses.1)];
            let mut listed = run.within(&filters, 1_000, &mut 0, 100_000).unwrap();
            let mut expected: Vec<Vec<u32>> = all
                .iter()
                .filter(|joints| filters.iter().all(|(prices, loss)| {
                    i128::from(worth(prices).unwrap_or(0) - gives(&run, joints, prices)) <= *loss
                }))
                .cloned()
                .collect();
            listed.sort();
            expected.sort();
            prop_assert_eq!(listed, expected);
        }

        /// What is demanded is enough for every split, and by longest paths no more than for some.
        #[test]
        fn what_is_demanded_covers_every_split(places in 1_u32..8, most_joints in 0_u32..4) {
            let run = run(places, most_joints, &[]);
            let all = splits(&run);
            for item in 3..12 {
                let used = |joints: &Vec<u32>| {
                    run.parts_of(joints).iter().filter(|&&part| part == item).count()
                };
                let most = all.iter().map(used).max().unwrap_or(0);
                let demanded = run.most().iter().find(|(other, _)| *other == item);
                prop_assert_eq!(demanded.map_or(0, |&(_, most)| most as usize), most);
                prop_assert!(run.most_by_place(item) >= i64::try_from(most).unwrap());
            }
        }
    }
}
