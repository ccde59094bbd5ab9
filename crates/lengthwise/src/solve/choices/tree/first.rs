//! First plans, before the tree is gone through: it comes to one only where every wall is chosen, each a
//! step further down, and bounds that rise on the way lead it elsewhere.

use std::cmp::Reverse;
use std::collections::{BTreeMap, HashMap};

use rust_decimal::prelude::ToPrimitive;

use super::{Before, Tree};
use crate::engine::Packing;
use crate::job::{Bar, Piece, Wall};
use crate::length::Length;
use crate::price::Price;
use crate::problem::Problem;
use crate::solve::board::Board;
use crate::solve::choices::at::Choice;

/// So many batches are tried for all walls at once.
const MOST_ALIKE: usize = 8;
/// A first plan may take one part, in so many, of the work and the time that are left.
const SHARE_FIRST: u32 = 32;
/// How much of the length of bars pieces fill, where it is a guess.
const FILLED: f64 = 0.9;

impl Tree<'_> {
    /// Looks for plans once the root was looked at: all walls from one batch, for the few that seem
    /// cheapest; then each wall from the batch that most of it comes from where it may be of several.
    pub(super) fn find_first_plans(
        &mut self,
        leanings: Vec<Option<usize>>,
        board: Option<&Board<'_>>,
    ) {
        let likely = self.likely_batches();
        for &batch in likely.iter().take(MOST_ALIKE) {
            if !self.may_look_ahead() {
                break;
            }
            self.look_ahead(vec![Some(batch); self.walls.len()]);
            self.tell(board);
        }
        // Past the limits what follows is left out.
        if self.best.is_none() && self.solver.stopped(self.effort.work).is_some() {
            let by_room = self.by_room(&likely);
            if by_room
                .iter()
                .any(|batch| *batch != likely.first().copied())
            {
                self.look_ahead(by_room);
                self.tell(board);
            }
        }
        self.follow(leanings, likely.first().copied(), board);
    }

    /// Whether a better plan may be there to be found. Past the limits one is looked for where there is none,
    /// once: even then a first plan is made where that is easy.
    fn may_look_ahead(&self) -> bool {
        let is_first = self.best.is_none() && self.looks_ahead == 0;
        let may_go_on = is_first || self.solver.stopped(self.effort.work).is_none();
        let mut open = self.open.iter();
        may_go_on && open.any(|open| !self.is_closed(open.bound, None))
    }

    /// Gives the walls that take most length, half of those that are open, the batches that the plan leans to,
    /// and plans anew, until all have one.
    fn follow(
        &mut self,
        mut leanings: Vec<Option<usize>>,
        otherwise: Option<usize>,
        board: Option<&Board<'_>>,
    ) {
        let mut walls: Vec<Option<usize>> = vec![None; self.walls.len()];
        let order = self.by_length();
        let mut open = order.as_slice();
        while !open.is_empty() && self.may_look_ahead() {
            let (next, rest) = open.split_at(open.len().div_ceil(2));
            for &place in next {
                if let Some(wall) = walls.get_mut(place) {
                    *wall = leanings.get(place).copied().flatten().or(otherwise);
                }
            }
            open = rest;
            let Some(found) = self.look_ahead(walls.clone()) else {
                return;
            };
            leanings = found;
            self.tell(board);
        }
    }

    /// Looks at a choice of batches before the tree comes to it; what a plan leans to, where there is one.
    fn look_ahead(&mut self, walls: Vec<Option<usize>>) -> Option<Vec<Option<usize>>> {
        self.looks_ahead += 1;
        let before = Before {
            choice: Choice {
                prices: vec![None; self.tiers.len()],
                walls,
            },
            above: Some(0),
            beforehand: Price::ZERO,
        };
        let (looked, leanings) = self.look(before, SHARE_FIRST, None).ok()?;
        // What was cut short proves less than the tree may find out with a larger part of the work.
        if looked.stop.is_none() || looked.no_plan.is_some() {
            self.ahead.push(looked);
        }
        Some(leanings).filter(|leanings| !leanings.is_empty())
    }

    /// The batches whose bars might hold all open walls, what seems cheapest first; then the others.
    fn likely_batches(&self) -> Vec<usize> {
        let material = self.solver.material;
        let longest = self.longest_of(&self.walls);
        let needed = self.needed_for(&self.walls);
        let bound = self.needed_by_bound();
        let mut bars: HashMap<u32, Vec<&Bar>> = HashMap::new();
        for bar in material.bars() {
            bars.entry(bar.batch()).or_default().push(bar);
        }
        let cost = |batch: usize| {
            let bars = bars.get(&u32::try_from(batch).ok()?)?;
            let holds = |bar: &&Bar| longest.is_none_or(|longest| longest <= bar.usable());
            let mut there = bars.iter().filter(|bar| bar.bars_available() != Some(0));
            let bound = bound.get(&batch).copied().unwrap_or_default();
            there
                .any(holds)
                .then(|| cost_of_length(bars, bound, needed))?
        };
        let all = 0..material.batches().len();
        let mut likely: Vec<(usize, Option<f64>)> = all.map(|batch| (batch, cost(batch))).collect();
        let key = |cost: Option<f64>| cost.unwrap_or(f64::INFINITY);
        likely.sort_by(|(_, a), (_, b)| key(*a).total_cmp(&key(*b)));
        likely.into_iter().map(|(batch, _)| batch).collect()
    }

    /// The walls, what takes most length first, each from the first of these batches that seems to have room
    /// for it, else from the one with most room.
    fn by_room(&self, likely: &[usize]) -> Vec<Option<usize>> {
        // For each batch the longest piece that it holds, and its length.
        let mut there = vec![(Length::ZERO, 0.0_f64); self.solver.material.batches().len()];
        let bars = self.solver.material.bars().iter();
        for bar in bars.filter(|bar| bar.bars_available() != Some(0)) {
            let batch = usize::try_from(bar.batch()).ok();
            if let Some((longest, room)) = batch.and_then(|batch| there.get_mut(batch)) {
                *longest = bar.usable().max(*longest);
                *room += length_there(bar) * FILLED;
            }
        }
        for (batch, needed) in self.needed_by_bound() {
            if let Some((_, room)) = there.get_mut(batch) {
                *room -= needed;
            }
        }
        let mut walls = vec![None; self.walls.len()];
        for place in self.by_length() {
            let Some((wall, batch)) = self.walls.get(place).zip(walls.get_mut(place)) else {
                continue;
            };
            let wall = std::slice::from_ref(wall);
            let (piece, needed) = (self.longest_of(wall), self.needed_for(wall));
            let holding = likely.iter().filter_map(|&batch| {
                let &(longest, room) = there.get(batch)?;
                let holds = piece.is_none_or(|piece| piece <= longest);
                holds.then_some((batch, room))
            });
            let first = holding.clone().find(|(_, room)| *room >= needed);
            let chosen = first.or_else(|| holding.max_by(|(_, a), (_, b)| a.total_cmp(b)));
            let chosen = chosen.map(|(batch, _)| batch).or(likely.first().copied());
            if let Some((_, room)) = chosen.and_then(|batch| there.get_mut(batch)) {
                *room -= needed;
            }
            *batch = chosen;
        }
        walls
    }

    /// What the longest piece of walls takes that is no run.
    fn longest_of(&self, walls: &[Wall]) -> Option<Length> {
        let pieces = walls.iter().flat_map(|wall| self.pieces_of(wall));
        let whole = pieces.filter(|piece| piece.run().is_none());
        whole
            .map(|piece| self.solver.material.takes(piece.shape()))
            .max()
    }

    /// About the length that walls take.
    fn needed_for(&self, walls: &[Wall]) -> f64 {
        let pieces = walls.iter().flat_map(|wall| self.pieces_of(wall));
        pieces.map(|piece| self.taken_by(piece)).sum()
    }

    /// About the length that pieces take of each batch that may come from no other.
    fn needed_by_bound(&self) -> BTreeMap<usize, f64> {
        let mut needed = BTreeMap::new();
        for piece in self.solver.material.pieces() {
            let batch = piece.wanted().batch;
            if let Some(batch) = batch.and_then(|batch| usize::try_from(batch).ok()) {
                *needed.entry(batch).or_default() += self.taken_by(piece);
            }
        }
        needed
    }

    /// About the length that all copies of a piece take.
    fn taken_by(&self, piece: &Piece) -> f64 {
        let cut = self.solver.material.cut_width().nm();
        (piece.length().nm() + cut) as f64 * piece.qty() as f64 // a guide only
    }

    fn pieces_of<'w>(&'w self, wall: &'w Wall) -> impl Iterator<Item = &'w Piece> {
        let pieces = wall.pieces.iter();
        pieces.filter_map(|&place| self.solver.material.pieces().get(place))
    }

    /// The length of all pieces of a wall.
    pub(super) fn length_of(&self, wall: &Wall) -> i128 {
        let pieces = self.pieces_of(wall);
        pieces
            .map(|piece| i128::from(piece.length().nm()) * i128::from(piece.qty()))
            .sum()
    }

    /// The batch that a plan takes most of each wall from that none is chosen for: walls that take most length
    /// first, each its pieces out of those of the same length that are left in the plan. `None` for walls of
    /// runs, whose parts it does not tell apart, and where the pieces left belong to others.
    pub(super) fn leanings(
        &self,
        problem: &Problem,
        packing: &Packing,
        chosen: &[Option<usize>],
    ) -> Vec<Option<usize>> {
        let material = self.solver.material;
        if self.walls.is_empty() {
            return Vec::new();
        }
        let items = problem.shapes.iter().zip(problem.windows.len()..);
        let items: HashMap<_, _> = items.collect();
        let mut left: HashMap<usize, BTreeMap<u32, u64>> = HashMap::new();
        for (pattern, uses) in &packing.uses {
            let Some(bar) = material.bars().get(pattern.kind as usize) else {
                continue; // a run
            };
            for &(item, count) in &pattern.counts {
                let of_item = left.entry(item as usize).or_default(); // u32 into usize
                *of_item.entry(bar.batch()).or_default() += u64::from(count) * u64::from(*uses);
            }
        }
        let mut leanings = vec![None; self.walls.len()];
        let is_open = |place: &usize| chosen.get(*place).is_some_and(Option::is_none);
        for place in self.by_length().into_iter().filter(is_open) {
            let Some(wall) = self.walls.get(place) else {
                continue;
            };
            let item_of = |piece: &Piece| items.get(&piece.wanted()).copied();
            let mut lengths: BTreeMap<u32, i128> = BTreeMap::new();
            for piece in self.pieces_of(wall) {
                let of_item = item_of(piece).and_then(|item| left.get(&item));
                for (&batch, &count) in of_item.into_iter().flatten() {
                    let length = i128::from(piece.length().nm());
                    *lengths.entry(batch).or_default() +=
                        length * i128::from(count.min(piece.qty()));
                }
            }
            let most = lengths.into_iter().filter(|(_, length)| *length > 0);
            let most = most.max_by_key(|&(batch, length)| (length, Reverse(batch)));
            let Some((batch, _)) = most else {
                continue;
            };
            for piece in self.pieces_of(wall) {
                let of_item = item_of(piece).and_then(|item| left.get_mut(&item));
                if let Some(count) = of_item.and_then(|of_item| of_item.get_mut(&batch)) {
                    *count = count.saturating_sub(piece.qty());
                }
            }
            if let Some(leaning) = leanings.get_mut(place) {
                *leaning = usize::try_from(batch).ok();
            }
        }
        leanings
    }

    /// The places of the walls, what takes most length first.
    fn by_length(&self) -> Vec<usize> {
        let mut places: Vec<usize> = (0..self.walls.len()).collect();
        let length = |place: &usize| self.walls.get(*place).map(|wall| self.length_of(wall));
        places.sort_by_cached_key(|place| Reverse(length(place)));
        places
    }

    /// Tells whoever watches.
    pub(super) fn tell(&self, board: Option<&Board<'_>>) {
        if let Some((board, bound)) = board.zip(self.bound()) {
            let best = self.best.as_ref().map(|best| best.value);
            board.valued(self.solver.material.name(), best, bound);
        }
    }
}

/// About what so much length costs from these bars, each at its lowest price, beside what else is bound to them;
/// `None` where there is less.
fn cost_of_length(bars: &[&Bar], bound: f64, needed: f64) -> Option<f64> {
    let each = |bar: &&Bar| {
        let length = bar.usable().nm() as f64; // a guide only
        let sale = bar
            .tiers()
            .last()
            .map(|tier| tier.sale)
            .or(bar.sale_price());
        let sale = sale.and_then(|sale| sale.decimal().to_f64());
        // Without prices what is bought counts.
        let cost = match sale {
            Some(sale) => sale / bar.bars_per_sale().max(1) as f64,
            None => bar.length().nm() as f64,
        };
        (cost / length.max(1.0), length_there(bar))
    };
    let mut each: Vec<(f64, f64)> = bars.iter().map(each).collect();
    each.sort_by(|(a, _), (b, _)| a.total_cmp(b));
    let there: f64 = each.iter().map(|(_, there)| there).sum();
    if bound > 0.0 && bound + needed > there {
        return None;
    }
    let (mut rest, mut cost) = (needed, 0.0);
    for (price, there) in each {
        let taken = rest.min(there);
        cost += taken * price;
        rest -= taken;
    }
    (rest <= 0.0).then_some(cost)
}

/// The length of all bars of a kind that there are.
fn length_there(bar: &Bar) -> f64 {
    let there = bar
        .bars_available()
        .map_or(f64::INFINITY, |bars| bars as f64);
    bar.usable().nm() as f64 * there // a guide only
}
