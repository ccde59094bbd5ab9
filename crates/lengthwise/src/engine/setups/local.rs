//! Fewer patterns, a few at a time: two for three, three for four, and other ones in their place where
//! that is stuck.
//!
//! Source: combination heuristics as in Foerster & Waescher, Int. J. Prod. Res. 38 (2000) 1657-1676 (from
//! memory); walking among plans with as many patterns where nothing can be combined is common in local
//! search.

use std::collections::HashSet;

use super::search::{Search, Verdict, next_number};
use super::sequence::{GENEROSITY, sequence};
use super::space::{Space, State};
use crate::engine::instance::Pattern;
use crate::engine::work::Meter;

/// Patterns that are combined at once, at the most.
const MOST_COMBINED: usize = 4;
/// Steps of one attempt: some tenths of a millisecond for most, some milliseconds at the most.
const STEPS: u64 = 4_000;
/// Sets of patterns that are tried one by one; beyond it they are drawn.
const MOST_SETS: u64 = 4_000;
/// Attempts in a row that may come to nothing before the walk ends.
const PATIENCE: u64 = 6_000;
/// Small changes from one large one to the next.
const ROUND: u64 = 100;
/// A large change may take one part in so many of what is left.
const SHARE_OF_CHANGE: u64 = 20;
/// The same at the beginning, where most is to be gained.
const SHARE_OF_FIRST: u64 = 6;
/// Work units of looking up what was tried before.
const LOOK_WORK: u64 = 10_000;

/// Patterns and their uses.
pub(super) type Uses = Vec<(Pattern, u32)>;

/// A walk among plans of the same cost.
pub(super) struct Walk<'s, 'm> {
    pub space: &'s Space<'s>,
    pub meter: &'s mut Meter<'m>,
    pub best: Uses,
    /// So few patterns end it.
    pub enough: usize,
    /// Work that it may come to.
    pub until: u64,
    uses: Uses,
    stream: u64,
    tried: HashSet<Uses>,
}

impl<'s, 'm> Walk<'s, 'm> {
    pub fn new(
        space: &'s Space<'s>,
        uses: Uses,
        enough: usize,
        until: u64,
        meter: &'s mut Meter<'m>,
    ) -> Walk<'s, 'm> {
        Walk {
            space,
            meter,
            best: uses.clone(),
            enough,
            until,
            uses,
            stream: 1,
            tried: HashSet::new(),
        }
    }

    /// Combines patterns as long as that leads anywhere.
    pub fn run(&mut self) {
        for generosity in GENEROSITY {
            let all: Vec<usize> = (0..self.uses.len()).collect();
            if self.goes_on() {
                self.choose_anew(&all, generosity, SHARE_OF_FIRST);
            }
        }
        self.combine_all();
        let mut idle = 0;
        while idle < PATIENCE && self.goes_on() {
            let before = self.best.len();
            if idle % ROUND == 0 {
                let few = self.draw_many();
                let generosity = self.below(GENEROSITY.len());
                let generosity = GENEROSITY.get(generosity).copied().unwrap_or(1.0);
                self.choose_anew(&few, generosity, SHARE_OF_CHANGE);
            }
            self.wander();
            idle = if self.best.len() < before {
                0
            } else {
                idle + 1
            };
        }
    }

    /// Other patterns in place of many, chosen one after the other, where they are no more.
    fn choose_anew(&mut self, set: &[usize], generosity: f64, share: u64) {
        let chosen = self.chosen(set);
        let state = self.without_others(&chosen);
        let spent = self.meter.spent();
        let until = spent + self.until.saturating_sub(spent) / share;
        let found = sequence(self.space, &state, generosity, until, self.meter);
        if let Some(found) = found.filter(|found| found.len() <= chosen.len()) {
            self.replace(set, found);
        }
    }

    /// A third to all of the patterns, the less they are used the sooner.
    fn draw_many(&mut self) -> Vec<usize> {
        let number = self.uses.len();
        let size = (number.div_ceil(3) + self.below(number - number / 3 + 1)).min(number);
        let mut places: Vec<(u64, usize)> = (0..number)
            .map(|place| {
                let times = self.uses.get(place).map_or(1, |(_, times)| *times);
                self.stream = next_number(self.stream);
                (self.stream / 8 % 1_000 * u64::from(times), place)
            })
            .collect();
        places.sort_unstable();
        places.truncate(size);
        let mut set: Vec<usize> = places.into_iter().map(|(_, place)| place).collect();
        set.sort_unstable();
        set
    }

    fn goes_on(&mut self) -> bool {
        self.best.len() > self.enough
            && self.meter.spend(LOOK_WORK)
            && self.meter.spent() < self.until
    }

    /// Every set of two patterns, then of three, then of four, from the start after each success.
    fn combine_all(&mut self) {
        let mut size = 2;
        while size <= MOST_COMBINED && size <= self.uses.len() {
            if sets(self.uses.len(), size) > MOST_SETS {
                return;
            }
            let mut set: Vec<usize> = (0..size).collect();
            let combined = loop {
                if !self.goes_on() {
                    return;
                }
                if self.combine(&set) {
                    break true;
                }
                if !next_set(&mut set, self.uses.len()) {
                    break false;
                }
            };
            size = if combined { 2 } else { size + 1 };
        }
    }

    /// One pattern fewer in place of these, if that can be found.
    fn combine(&mut self, set: &[usize]) -> bool {
        let chosen = self.chosen(set);
        if self.tried.len() < 1_000_000 && !self.tried.insert(chosen.clone()) {
            return false;
        }
        let fewer = u32::try_from(set.len() - 1).unwrap_or(u32::MAX);
        let state = self.without_others(&chosen);
        let mut search = Search::new(self.space, state, STEPS, self.meter);
        let verdict = search.find(fewer);
        let found = search.chosen;
        if verdict != Verdict::Found {
            return false;
        }
        self.replace(set, found);
        true
    }

    /// Other patterns in place of a few, then an attempt to combine some of those with others.
    fn wander(&mut self) {
        if self.uses.len() < 2 {
            return;
        }
        let size = 2 + self.below(MOST_COMBINED.min(self.uses.len()) - 1);
        let set = self.draw(size);
        if self.combine(&set) {
            return;
        }
        let chosen = self.chosen(&set);
        let state = self.without_others(&chosen);
        self.stream = next_number(self.stream);
        let mut search = Search::new(self.space, state, STEPS, self.meter);
        search.shuffle = Some(self.stream);
        let verdict = search.exactly(u32::try_from(size).unwrap_or(u32::MAX));
        let found = search.chosen;
        if verdict == Verdict::Found {
            self.replace(&set, found);
        }
    }

    fn chosen(&self, set: &[usize]) -> Uses {
        let all = set.iter().filter_map(|&place| self.uses.get(place));
        let mut chosen: Uses = all.cloned().collect();
        chosen.sort();
        chosen
    }

    /// Where only these patterns are still to be chosen.
    fn without_others(&self, chosen: &Uses) -> State {
        let mut state = self.space.start();
        for (pattern, times) in self.uses.iter().filter(|used| !chosen.contains(used)) {
            self.space.take(&mut state, pattern, *times);
        }
        state
    }

    fn replace(&mut self, set: &[usize], found: Uses) {
        let mut place = 0;
        self.uses.retain(|_| {
            place += 1;
            !set.contains(&(place - 1))
        });
        self.uses.extend(found);
        self.uses = merged(std::mem::take(&mut self.uses));
        if self.uses.len() < self.best.len() {
            self.best = self.uses.clone();
        }
    }

    fn below(&mut self, number: usize) -> usize {
        self.stream = next_number(self.stream);
        let number = number.max(1) as u64; // a count fits
        usize::try_from(self.stream / 8 % number).unwrap_or(0)
    }

    /// A set of places, rising.
    fn draw(&mut self, size: usize) -> Vec<usize> {
        let mut set = Vec::new();
        while set.len() < size {
            let place = self.below(self.uses.len());
            if !set.contains(&place) {
                set.push(place);
            }
        }
        set.sort_unstable();
        set
    }
}

/// Each pattern once.
pub(super) fn merged(mut uses: Uses) -> Uses {
    uses.sort();
    uses.dedup_by(|next, kept| {
        let alike = next.0 == kept.0;
        if alike {
            kept.1 += next.1; // no more than there are bars
        }
        alike
    });
    uses
}

fn sets(of: usize, size: usize) -> u64 {
    let (of, size) = (of as u64, size as u64); // counts fit
    (0..size).fold(1, |sets: u64, taken| {
        sets.saturating_mul(of.saturating_sub(taken)) / (taken + 1)
    })
}

/// The next set in order, of places below `of`; false after the last.
fn next_set(set: &mut [usize], of: usize) -> bool {
    let size = set.len();
    for place in (0..size).rev() {
        let most = of + place - size;
        let Some(value) = set.get_mut(place) else {
            return false;
        };
        if *value < most {
            *value += 1;
            let mut next = *value;
            for value in set.iter_mut().skip(place + 1) {
                next += 1;
                *value = next;
            }
            return true;
        }
    }
    false
}
