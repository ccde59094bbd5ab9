//! Is there a plan with so many patterns? Depth first, one pattern with its number of uses at a time.
//!
//! The longest piece that is left lies on some pattern that is still to be chosen. All patterns with it
//! are gone through, most uses first, as far as the bars, what may be lost and the bounds on further
//! patterns allow. The last few patterns are chosen together: see [`together`](super::together).
//! States that led nowhere are remembered, so that no set of patterns is gone through in two orders.
//!
//! Source: enumeration of patterns with their uses as in Vanderbeck (2000), from memory; the memory of
//! states is ours.

use std::collections::HashMap;

use super::space::{GAUGES, Space, State, at};
use crate::engine::instance::Pattern;
use crate::engine::work::Meter;

/// The last patterns are chosen together from here on.
const TOGETHER: u32 = 3;
/// Steps between two looks at the limits, and work units of a step.
const LOOK_EVERY: u64 = 256;
const STEP_WORK: u64 = 100;
/// States that are remembered at the most: some tens of megabytes.
const MOST_REMEMBERED: usize = 100_000;

/// What a search came to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Verdict {
    Found,
    /// There is none.
    None,
    /// Too many steps, or told to stop.
    GivenUp,
}

/// A search for so many patterns.
pub(super) struct Search<'s, 'm> {
    pub space: &'s Space<'s>,
    pub meter: &'s mut Meter<'m>,
    pub state: State,
    /// The patterns chosen so far: the answer, where there is one.
    pub chosen: Vec<(Pattern, u32)>,
    /// In what order equal choices are tried: nothing for the plain order.
    pub shuffle: Option<u64>,
    steps: u64,
    most_steps: u64,
    remembered: HashMap<(Vec<u32>, Vec<u32>), u32>,
}

/// The pattern that is being chosen.
struct Place {
    kind: u32,
    times: u32,
    /// Patterns that may follow.
    left: u32,
    /// For each row and gauge what all further pieces are worth.
    further: Vec<[i64; GAUGES]>,
}

impl<'s, 'm> Search<'s, 'm> {
    pub fn new(
        space: &'s Space<'s>,
        state: State,
        most_steps: u64,
        meter: &'s mut Meter<'m>,
    ) -> Search<'s, 'm> {
        Search {
            space,
            meter,
            state,
            chosen: Vec::new(),
            shuffle: None,
            steps: 0,
            most_steps,
            remembered: HashMap::new(),
        }
    }

    /// Counts a step; false when there were too many.
    pub fn step(&mut self) -> bool {
        self.steps += 1;
        let goes_on =
            !self.steps.is_multiple_of(LOOK_EVERY) || self.meter.spend(LOOK_EVERY * STEP_WORK);
        goes_on && self.steps <= self.most_steps
    }

    /// Looks for at most `left` patterns that cut what is left, at the cost of the plan.
    pub fn find(&mut self, left: u32) -> Verdict {
        if !self.step() {
            return Verdict::GivenUp;
        }
        let Some(first) = self.first_needed() else {
            let is_as_dear = self.space.is_as_dear(&self.state);
            return if is_as_dear {
                Verdict::Found
            } else {
                Verdict::None
            };
        };
        if left < self.space.needs(&self.state).max(1) || self.state.losses.iter().any(|&l| l < 0) {
            return Verdict::None;
        }
        let key = (self.state.demand.clone(), self.state.used.clone());
        if self
            .remembered
            .get(&key)
            .is_some_and(|&failed| failed >= left)
        {
            return Verdict::None;
        }
        let verdict = if left <= TOGETHER {
            self.together(left)
        } else {
            self.one_by_one(first, left)
        };
        if verdict == Verdict::None && self.remembered.len() < MOST_REMEMBERED {
            self.remembered.insert(key, left);
        }
        verdict
    }

    fn first_needed(&self) -> Option<usize> {
        self.state.demand.iter().position(|&demand| demand > 0)
    }

    fn one_by_one(&mut self, first: usize, left: u32) -> Verdict {
        let most = at(&self.state.demand, first);
        let item = u32::try_from(first).unwrap_or(u32::MAX);
        let Some(row) = self.row_of(first) else {
            return Verdict::GivenUp; // every needed item has a row
        };
        for times in (1..=most).rev() {
            let further = self.further(times);
            for (kind, data) in (0_u32..).zip(&self.space.instance.kinds) {
                let holds_it = self.space.instance.size(item) <= data.capacity
                    && self.space.instance.may_be_of(data.batch, &[(item, 1)]);
                if !holds_it || self.space.most_more(&self.state, kind) < times {
                    continue;
                }
                let place = Place {
                    kind,
                    times,
                    left: left - 1,
                    further: further.clone(),
                };
                let verdict = self.visit(&place, row, data.capacity, [0; GAUGES], &mut Vec::new());
                if verdict != Verdict::None {
                    return verdict;
                }
            }
        }
        Verdict::None
    }

    fn row_of(&self, item: usize) -> Option<usize> {
        let [gauge, _] = &self.space.gauges;
        let mut rows = (0..).map_while(|row| Some((row, gauge.table.offer(row)?)));
        rows.find(|(_, offer)| offer.item as usize == item) // u32 into usize
            .map(|(row, _)| row)
    }

    /// What all pieces from a row on are worth that a pattern used so often could hold.
    fn further(&self, times: u32) -> Vec<[i64; GAUGES]> {
        let rows = (0..)
            .map_while(|row| self.space.gauges.first()?.table.offer(row))
            .count();
        let mut further = vec![[0; GAUGES]; rows + 1];
        let mut sums = [0_i64; GAUGES];
        for row in (0..rows).rev() {
            for (sum, gauge) in sums.iter_mut().zip(&self.space.gauges) {
                let Some(offer) = gauge.table.offer(row) else {
                    continue;
                };
                let demand = at(&self.state.demand, offer.item as usize); // u32 into usize
                let worth = offer.price.saturating_mul(i64::from(demand / times));
                *sum = sum.saturating_add(worth);
            }
            if let Some(cell) = further.get_mut(row) {
                *cell = sums;
            }
        }
        further
    }

    /// Goes on with a pattern from a row on; the first piece is on it in any case.
    fn visit(
        &mut self,
        place: &Place,
        row: usize,
        rest: i64,
        values: [i64; GAUGES],
        path: &mut Vec<(u32, u32)>,
    ) -> Verdict {
        if !self.step() {
            return Verdict::GivenUp;
        }
        if !self.is_in_reach(place, row, rest, values) {
            return Verdict::None;
        }
        let [gauge, _] = &self.space.gauges;
        let mut row = row;
        let (offer, most) = loop {
            row = gauge.table.first_that_fits(row, rest);
            let Some(offer) = gauge.table.offer(row) else {
                return self.choose(place, path);
            };
            let demand = at(&self.state.demand, offer.item as usize); // u32 into usize
            let most = i64::from(demand / place.times).min(rest / offer.size);
            if most > 0 && self.space.may_hold(place.kind, offer.item) {
                break (offer, most);
            }
            row += 1;
        };
        let least = i64::from(path.is_empty());
        for count in (least..=most).rev() {
            let mut next = values;
            for (value, gauge) in next.iter_mut().zip(&self.space.gauges) {
                let price = gauge.table.offer(row).map_or(0, |offer| offer.price);
                *value = value.saturating_add(price.saturating_mul(count));
            }
            // At most the demand, which is a u32.
            let is_cut = u32::try_from(count).ok().filter(|&count| count > 0);
            path.extend(is_cut.map(|count| (offer.item, count)));
            let verdict = self.visit(place, row + 1, rest - count * offer.size, next, path);
            if is_cut.is_some() {
                path.pop();
            }
            if verdict != Verdict::None {
                return verdict;
            }
        }
        Verdict::None
    }

    /// Whether the pattern can still be worth enough in all sets of prices.
    fn is_in_reach(&self, place: &Place, row: usize, rest: i64, values: [i64; GAUGES]) -> bool {
        let further = at(&place.further, row);
        let gauges = self.space.gauges.iter().zip(values).zip(further);
        gauges
            .zip(self.state.losses)
            .all(|(((gauge, value), further), loss)| {
                let most = gauge.table.bound(row, rest).min(further);
                let lost =
                    i128::from(gauge.worth(place.kind)) - i128::from(value) - i128::from(most);
                lost * i128::from(place.times) <= loss
            })
    }

    fn choose(&mut self, place: &Place, path: &[(u32, u32)]) -> Verdict {
        let pattern = Pattern {
            kind: place.kind,
            counts: path.to_vec(),
            split: None,
        };
        self.with(pattern, place.times, |search| search.find(place.left))
    }

    /// Goes on with a pattern chosen; it stays chosen where that leads to an answer.
    pub fn with(
        &mut self,
        pattern: Pattern,
        times: u32,
        go_on: impl FnOnce(&mut Self) -> Verdict,
    ) -> Verdict {
        self.space.take(&mut self.state, &pattern, times);
        self.chosen.push((pattern, times));
        let verdict = go_on(self);
        if verdict != Verdict::Found
            && let Some((pattern, times)) = self.chosen.pop()
        {
            self.space.put_back(&mut self.state, &pattern, times);
        }
        verdict
    }

    /// The next of a stream of numbers, where choices are shuffled.
    pub fn draw(&mut self) -> Option<u64> {
        let stream = self.shuffle.as_mut()?;
        *stream = next_number(*stream);
        Some(*stream)
    }
}

/// A fixed stream (Lewis, Goodman & Miller 1969): any would do, but the same job must give the same plan.
pub(super) fn next_number(number: u64) -> u64 {
    number.max(1) * 16_807 % 2_147_483_647
}
