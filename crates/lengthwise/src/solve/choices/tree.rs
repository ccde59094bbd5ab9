//! The tree of choices, gone through from its root.

mod first;
mod harvest;

use std::cmp::Reverse;
use std::ops::Range;

use super::at::{AtChoice, Choice, bars_of, beforehand, cost_of, less, plus};
use super::{Chosen, SHARE, too_fine};
use crate::engine::{Answer, Packing};
use crate::job::{Bar, Tier, Wall};
use crate::length::Length;
use crate::plan::{Certificate, Claim, Combination, Effort, Impossible, Outcome, Stop, Value};
use crate::price::Price;
use crate::problem::Problem;
use crate::solve::board::Board;
use crate::solve::material::{Below, Searched, Solver, certificate, without_plan};

/// Most combinations that are looked at, besides those of the first plans; beyond it what is left open keeps
/// the bound of the combination above it, and the plan a gap.
const MOST_COMBINATIONS: usize = 400;
/// As long as there is no plan, so many are looked at with most walls chosen first: plans are found where
/// all are.
const MOST_DEEP: usize = MOST_COMBINATIONS / 2;

/// A choice by what it chooses beyond the one above it, since each may be of thousands of walls, and there
/// are as many below it as there are batches.
#[derive(Clone, Copy)]
struct Step {
    /// The choice above it, among those looked at; `None` for the root, where all is open.
    above: Option<usize>,
    /// What is chosen, and which of its ways.
    chosen: Option<(Split, usize)>,
}

/// Choices that were not looked at yet: those below one that nothing tells apart but their turn.
struct Open {
    /// The choice above them, among those looked at.
    above: Option<usize>,
    /// What is chosen; `None` at the root.
    split: Option<Split>,
    ways: Ways,
    /// How many walls are chosen.
    walls: usize,
    /// What is paid beforehand.
    beforehand: Price,
    /// No plan costs less.
    bound: Value,
}

/// The ways that are left of what is chosen, in turn; as many as batches, so they are not listed.
struct Ways {
    next: Option<usize>,
    others: Range<usize>,
    /// One that had its turn before the others.
    preferred: Option<usize>,
}

impl Ways {
    /// One of so many first, then the others.
    fn of(all: usize, preferred: Option<usize>) -> Ways {
        let mut others = 0..all;
        Ways {
            next: preferred.or_else(|| others.next()),
            others,
            preferred,
        }
    }

    /// One alone.
    fn only(way: usize) -> Ways {
        Ways::of(0, Some(way))
    }

    /// Takes the one whose turn it is.
    fn take(&mut self) -> Option<usize> {
        let way = self.next?;
        let preferred = self.preferred;
        self.next = self.others.find(|way| Some(*way) != preferred);
        Some(way)
    }
}

impl Open {
    /// Takes the choice whose turn it is.
    fn take(&mut self) -> Option<Step> {
        let way = self.ways.take()?;
        Some(Step {
            above: self.above,
            chosen: self.split.map(|split| (split, way)),
        })
    }
}

/// What is known of a choice before it is looked at.
struct Before {
    choice: Choice,
    /// The choice above it, among those looked at.
    above: Option<usize>,
    /// What is paid beforehand.
    beforehand: Price,
}

/// A choice that was looked at.
struct Looked {
    choice: Choice,
    /// The choice above it, among those looked at.
    above: Option<usize>,
    /// No plan of this choice costs less.
    bound: Value,
    /// No plan that costs as much as the bound cuts into less length from hand; `None` where unknown.
    hand: Option<i128>,
    stop: Option<Stop>,
    /// Why there is no plan, where there is none.
    no_plan: Option<Impossible>,
    certificate: Certificate,
    split: Option<Split>,
}

/// What is to be chosen next.
#[derive(Clone, Copy)]
enum Split {
    /// The batch of a wall.
    Wall(usize),
    /// The price of a kind of bar.
    Price(usize),
}

/// The cheapest plan so far.
struct Best {
    value: Value,
    /// Length cut into from hand.
    hand: i128,
    packing: Packing,
    /// The batch of each wall.
    walls: Vec<Option<usize>>,
    /// Where it was found, among the choices looked at; `None` where its choice was not one of them yet.
    at: Option<usize>,
}

/// A packing that was found at a choice.
struct Offered {
    /// Length cut into from hand.
    hand: i128,
    /// Bars of each kind.
    bars: Vec<u64>,
    packing: Packing,
}

/// What was looked at and found so far.
pub(super) struct Tree<'s> {
    solver: &'s Solver<'s>,
    tiers: Vec<Vec<Tier>>,
    walls: Vec<Wall>,
    looked: Vec<Looked>,
    /// Choices that were looked at for first plans, before the tree came to them.
    ahead: Vec<Looked>,
    looks_ahead: usize,
    /// The batches that the plan of the choice looked at last takes most of each wall from.
    leanings: Vec<Option<usize>>,
    best: Option<Best>,
    /// What the plan of the first choice that was looked at comes to.
    at_root: Option<Value>,
    /// Those looked at that are not split, or that stand for a part of the tree not looked at.
    kept: Vec<Kept>,
    open: Vec<Open>,
    effort: Effort,
    stop: Option<Stop>,
}

/// A part of the tree with nothing more to do.
enum Kept {
    /// By what was found there.
    Looked(usize),
    /// By what is known beforehand alone.
    Beforehand(Step, Value),
    /// There is no plan in it.
    NoPlan(Step, Impossible),
}

impl<'s> Tree<'s> {
    /// Nothing looked at yet; `spent` counts against the limits.
    pub fn new(solver: &'s Solver<'s>, walls: Vec<Wall>, spent: Effort) -> Tree<'s> {
        Tree {
            solver,
            tiers: solver.material.bars().iter().map(Bar::tiers).collect(),
            walls,
            looked: Vec::new(),
            ahead: Vec::new(),
            looks_ahead: 0,
            leanings: Vec::new(),
            best: None,
            at_root: None,
            kept: Vec::new(),
            open: Vec::new(),
            effort: spent,
            stop: None,
        }
    }
}

impl Tree<'_> {
    /// Goes through the tree, the part with the least bound first; an error is an answer for the whole. Its
    /// root is looked at whatever the limits say: its plan is the first, and its bound holds everywhere.
    pub fn grow(
        &mut self,
        board: Option<&Board<'_>>,
        known: Option<Value>,
    ) -> Result<(), Box<Searched>> {
        self.open.push(Open {
            above: None,
            split: None,
            ways: Ways::only(0),
            walls: 0,
            beforehand: Price::ZERO,
            bound: known.unwrap_or(self.nothing()),
        });
        while let Some((place, next)) = self.next() {
            let (is_root, bound, beforehand) = (next.above.is_none(), next.bound, next.beforehand);
            // Those that come after it have no lower bound: where it is closed, so are they.
            if !is_root && (self.is_closed(bound, None) || self.is_over()) {
                self.keep_all_open();
                break;
            }
            let Some(step) = self.take(place) else {
                break; // never: what has no ways left is not kept
            };
            let before = Before {
                choice: self.choice_at(step),
                above: step.above,
                beforehand,
            };
            let looked = match self.look_once(before) {
                Ok(looked) => looked,
                Err(searched) if is_root => return Err(searched),
                Err(searched) => {
                    match *searched {
                        Searched::Settled(Outcome::Impossible(why)) => {
                            self.kept.push(Kept::NoPlan(step, because_of_bars(why)));
                        }
                        _ => self.keep_without_a_look(step, beforehand, bound),
                    }
                    continue;
                }
            };
            self.looked.push(looked);
            self.branch(self.looked.len() - 1);
            self.tell(board);
            let leanings = std::mem::take(&mut self.leanings);
            if !self.walls.is_empty() && is_root {
                self.find_first_plans(leanings, board);
            }
        }
        Ok(())
    }

    /// What is chosen where a step leads.
    fn choice_at(&self, step: Step) -> Choice {
        let above = step.above.and_then(|above| self.looked.get(above));
        let choice = above.map_or_else(|| self.all_open(), |above| above.choice.clone());
        match step.chosen {
            Some((Split::Wall(wall), way)) => Choice {
                walls: choice.with_batch(wall, way),
                ..choice
            },
            Some((Split::Price(kind), way)) => Choice {
                prices: choice.with_price(kind, way),
                ..choice
            },
            None => choice,
        }
    }

    /// The choice of nothing.
    fn all_open(&self) -> Choice {
        Choice {
            prices: vec![None; self.tiers.len()],
            walls: vec![None; self.walls.len()],
        }
    }

    /// The open choices with the least bound, and where they stand; of several those with most walls chosen,
    /// then the first. Without any plan yet the number of walls comes first, for a while.
    fn next(&self) -> Option<(usize, &Open)> {
        let open = self.open.iter().enumerate();
        open.min_by_key(|(_, open)| self.turn(open))
    }

    /// The least comes first.
    fn turn(&self, open: &Open) -> (Option<Reverse<usize>>, Value, Reverse<usize>) {
        let goes_deep = self.best.is_none() && self.looked.len() < MOST_DEEP;
        let walls = Reverse(open.walls);
        (goes_deep.then_some(walls), open.bound, walls)
    }

    /// Takes one of the open choices at a place.
    fn take(&mut self, place: usize) -> Option<Step> {
        let open = self.open.get_mut(place)?;
        let step = open.take()?;
        if open.ways.next.is_none() {
            self.open.remove(place);
        }
        Some(step)
    }

    /// Keeps all that is open, in its turn.
    fn keep_all_open(&mut self) {
        let mut open = std::mem::take(&mut self.open);
        open.sort_by_key(|open| self.turn(open));
        for mut open in open {
            while let Some(step) = open.take() {
                self.keep_without_a_look(step, open.beforehand, open.bound);
                // What is known of the choice above them holds for all of them at once.
                if let Some(Kept::Looked(_)) = self.kept.last() {
                    break;
                }
            }
        }
    }

    /// What nothing comes to.
    fn nothing(&self) -> Value {
        if self.solver.material.is_priced() {
            Value::Money(Price::ZERO)
        } else {
            Value::Bought(Length::ZERO)
        }
    }

    /// Whether nothing better can come of plans that cost at least `bound`, and, where they cost just
    /// that, take at least `hand` from hand.
    fn is_closed(&self, bound: Value, hand: Option<i128>) -> bool {
        self.best.as_ref().is_some_and(|best| {
            let less_from_hand = best.hand > 0 && hand.is_none_or(|hand| hand < best.hand);
            bound > best.value || (bound == best.value && !less_from_hand)
        })
    }

    /// Whether the limits are reached.
    fn is_over(&mut self) -> bool {
        let stop = if self.looked.len() >= MOST_COMBINATIONS {
            Some(Stop::Exhausted)
        } else {
            self.solver.stopped(self.effort.work)
        };
        self.stop = self.stop.or(stop);
        stop.is_some()
    }

    /// A choice that is not looked at has the bound of the one above it, or what is paid beforehand.
    fn keep_without_a_look(&mut self, step: Step, beforehand: Price, bound: Value) {
        let above = step.above.and_then(|above| self.strongest(above));
        let beforehand = plus(self.nothing(), beforehand).unwrap_or(bound);
        match above {
            Some((above, bound)) if bound >= beforehand => {
                self.kept.push(Kept::Looked(above));
            }
            _ => self.kept.push(Kept::Beforehand(step, beforehand)),
        }
    }

    /// Of a choice and those above it the one with the largest bound, the lowest of several. A search
    /// that was cut short may prove less than the one above it.
    fn strongest(&self, place: usize) -> Option<(usize, Value)> {
        let mut looked = self.looked.get(place)?;
        let mut best = (place, looked.bound);
        while let Some((above, next)) = looked.above.and_then(|at| Some((at, self.looked.get(at)?)))
        {
            if next.bound > best.1 {
                best = (above, next.bound);
            }
            looked = next;
        }
        Some(best)
    }

    /// No plan at all costs less than this, as far as is known; `None` where there is none anywhere.
    fn bound(&self) -> Option<Value> {
        let open = self.open.iter().map(|open| open.bound);
        let kept = self.kept.iter().filter_map(|kept| match kept {
            Kept::Looked(at) => {
                let looked = self.looked.get(*at);
                let looked = looked.filter(|looked| looked.no_plan.is_none());
                Some(looked?.bound)
            }
            Kept::Beforehand(_, bound) => Some(*bound),
            Kept::NoPlan(..) => None,
        });
        let best = self.best.iter().map(|best| best.value);
        open.chain(kept).chain(best).min()
    }

    /// Solves the problem at one choice, unless that was done for first plans.
    fn look_once(&mut self, before: Before) -> Result<Looked, Box<Searched>> {
        let at = self.looked.len();
        let mut ahead = self.ahead.iter();
        let Some(place) = ahead.position(|looked| looked.choice == before.choice) else {
            let (looked, leanings) = self.look(before, SHARE, Some(at))?;
            self.leanings = leanings;
            return Ok(looked);
        };
        let looked = self.ahead.swap_remove(place);
        self.leanings.clear();
        if let Some(best) = &mut self.best
            && best.at.is_none()
            && best.walls == before.choice.walls
        {
            best.at = Some(at);
        }
        Ok(Looked {
            above: before.above,
            ..looked
        })
    }

    /// Solves the problem at one choice with one part, in so many, of the work and the time that are left;
    /// also from which batch a plan takes most of each wall. `at` is its place among the choices looked at.
    fn look(
        &mut self,
        before: Before,
        share: u32,
        at_place: Option<usize>,
    ) -> Result<(Looked, Vec<Option<usize>>), Box<Searched>> {
        let material = self.solver.material;
        let bound = material.with_walls(&self.walls, &before.choice.walls);
        let at = AtChoice::of(bound, &self.tiers, &before.choice.prices).ok_or_else(too_fine)?;
        let work = self.solver.work_limit().saturating_sub(self.effort.work);
        let solver = Solver {
            material: &at.material,
            limits: self.solver.limits,
            deadline: self.solver.deadline.share(share),
            work: Some(work / u64::from(share)),
            below: self.below(before.beforehand),
        };
        let (problem, answer, proven_on) = match solver.look() {
            Searched::Answered(problem, answer, proven_on, _) => (problem, answer, proven_on),
            settled => return Err(Box::new(settled)),
        };
        add(&mut self.effort, answer.effort);
        // Hundreds of choices take long to put together, however little each may be searched.
        let put_together = [Some(&*problem), proven_on.as_deref()]
            .into_iter()
            .flatten();
        for run in put_together.flat_map(|problem| &problem.instance.runs) {
            self.effort.work = self.effort.work.saturating_add(run.work_before());
        }
        let proven_on = proven_on.as_deref().unwrap_or(&problem);
        let without_plan = || Box::new(Searched::Settled(without_plan(&answer)));
        if answer.best.is_none() && before.above.is_none() {
            return Err(without_plan());
        }
        let bound = proven_on.value(answer.bound).ok_or_else(too_fine)?;
        let bound = plus(bound, before.beforehand).ok_or_else(too_fine)?;
        let found = self.offer(&at, &problem, &answer, &before.choice, at_place);
        let packing = found.as_ref().map(|found| &found.packing);
        let leanings = packing.map_or(vec![], |packing| {
            self.leanings(&problem, packing, &before.choice.walls)
        });
        let bars = found.as_ref().map(|found| found.bars.as_slice());
        let split = self.split(&before.choice, bars);
        let looked = Looked {
            choice: before.choice,
            above: before.above,
            bound,
            hand: found
                .as_ref()
                .filter(|_| answer.tie_settled)
                .map(|found| found.hand),
            stop: answer.stop,
            no_plan: u64::try_from(answer.left_over)
                .ok()
                .filter(|&left_over| left_over > 0)
                .map(|left_over| Impossible::NotEnoughBars { left_over }),
            certificate: certificate(&at.material, (&problem, proven_on), &answer),
            split,
        };
        Ok((looked, leanings))
    }

    /// What a plan must cost to be of use, without what is paid beforehand.
    fn below(&self, beforehand: Price) -> Option<Below> {
        let best = self.best.as_ref()?;
        let rest = less(best.value, beforehand)?;
        Some(if best.hand > 0 {
            Below::AtMost(rest)
        } else {
            Below::Less(rest)
        })
    }

    /// Keeps the plan of an answer if it is the best so far; its length from hand, where its cost meets
    /// the bound, and its bars of each kind. Where walls are open its pieces may be of several batches, and
    /// it is no plan.
    fn offer(
        &mut self,
        at: &AtChoice,
        problem: &Problem,
        answer: &Answer,
        choice: &Choice,
        at_place: Option<usize>,
    ) -> Option<Offered> {
        let (_, packing) = answer.best.as_ref()?;
        let hand = problem.instance.tie_of(packing);
        let packing = at.on_own_bars(packing)?;
        let bars = bars_of(&packing, self.tiers.len());
        let value = cost_of(self.solver.material, &bars)?;
        self.at_root = self.at_root.or(Some(value));
        let is_better = |best: &Best| (value, hand) < (best.value, best.hand);
        let is_plan = choice.walls.iter().all(Option::is_some);
        if is_plan && self.best.as_ref().is_none_or(is_better) {
            self.best = Some(Best {
                value,
                hand,
                packing: packing.clone(),
                walls: choice.walls.clone(),
                at: at_place,
            });
        }
        Some(Offered {
            hand,
            bars,
            packing,
        })
    }

    /// The wall that takes most length of those that are open, else the price of a kind of bar.
    fn split(&self, choice: &Choice, bars: Option<&[u64]>) -> Option<Split> {
        let walls = self.walls.iter().zip(&choice.walls).enumerate();
        let open = walls.filter(|(_, (_, batch))| batch.is_none());
        let largest = open.max_by_key(|(place, (wall, _))| (self.length_of(wall), Reverse(*place)));
        match largest {
            Some((place, _)) => Some(Split::Wall(place)),
            None => self.split_prices(choice, bars).map(Split::Price),
        }
    }

    /// The open kind of bar whose bars in a plan cost most beyond what they count as; without a plan the
    /// first open one.
    fn split_prices(&self, choice: &Choice, bars: Option<&[u64]>) -> Option<usize> {
        let material = self.solver.material;
        let kinds = material.bars().iter().zip(&self.tiers).zip(&choice.prices);
        let open = kinds
            .enumerate()
            .filter(|(_, ((_, tiers), chosen))| tiers.len() > 1 && chosen.is_none());
        let Some(bars) = bars else {
            return open.map(|(kind, _)| kind).next();
        };
        let more = open.filter_map(|(kind, ((bar, tiers), _))| {
            let bars = bars.get(kind).copied()?;
            let sales = bars.div_ceil(bar.bars_per_sale().max(1));
            let (_, _, cost) = bar.cheapest_sales(bars)?;
            let counted = tiers.last()?.sale.checked_mul(sales)?;
            (cost > counted).then(|| (kind, cost.decimal() - counted.decimal()))
        });
        // The first of those with the largest difference.
        let largest = more.reduce(|best, next| if next.1 > best.1 { next } else { best });
        largest.map(|(kind, _)| kind)
    }

    /// Closes a choice that was looked at, or opens the choices below it.
    fn branch(&mut self, place: usize) {
        let strongest = self.strongest(place);
        let Some((looked, (place_of_bound, bound))) = self.looked.get(place).zip(strongest) else {
            return;
        };
        if looked.no_plan.is_some() {
            self.kept.push(Kept::Looked(place));
            return;
        }
        let split = looked.split;
        let Some(split) = split.filter(|_| !self.is_closed(looked.bound, looked.hand)) else {
            self.kept.push(Kept::Looked(place_of_bound));
            return;
        };
        let chosen = looked.choice.walls.iter().flatten().count();
        let opened = match split {
            // Of batches the one first that the plan leans to.
            Split::Wall(wall) => {
                let leaning = self.leanings.get(wall).copied().flatten();
                let batches = self.solver.material.batches().len();
                vec![(Ways::of(batches, leaning), looked.choice.prices.clone())]
            }
            // What is paid beforehand tells prices apart.
            Split::Price(kind) => {
                let tiers = self.tiers.get(kind).map_or(0, Vec::len);
                let at = |tier: usize| (Ways::only(tier), looked.choice.with_price(kind, tier));
                (0..tiers).map(at).collect()
            }
        };
        for (ways, prices) in opened {
            // A price so high that it is not exact is one that no checked job has.
            let beforehand = beforehand(&self.tiers, &prices);
            let least = beforehand.and_then(|more| plus(self.nothing(), more));
            let Some((beforehand, least)) = beforehand.zip(least) else {
                self.kept.push(Kept::Looked(place_of_bound));
                continue;
            };
            self.open.push(Open {
                above: Some(place),
                split: Some(split),
                ways,
                walls: chosen + usize::from(matches!(split, Split::Wall(_))),
                beforehand,
                bound: bound.max(least),
            });
        }
    }
}

/// Why a choice has no plan, in terms of its bars: all else holds for every choice.
fn because_of_bars(why: Impossible) -> Impossible {
    match why {
        Impossible::PieceTooLong { .. }
        | Impossible::NotEnoughLength { .. }
        | Impossible::NotEnoughBars { .. } => why,
        _ => Impossible::NotEnoughBars { left_over: 1 },
    }
}

fn add(sum: &mut Effort, more: Effort) {
    sum.work = sum.work.saturating_add(more.work);
    sum.pricing_rounds += more.pricing_rounds;
    sum.patterns += more.patterns;
    sum.dives += more.dives;
    sum.rebuilds += more.rebuilds;
    sum.questions += more.questions;
    sum.enumerated += more.enumerated;
    sum.nodes += more.nodes;
}
