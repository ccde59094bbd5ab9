//! Price breaks, and walls that come from one batch: every choice of prices and batches is an ordinary
//! problem, and the best plan is the best of theirs.
//!
//! How a choice becomes a problem, [`Combination`] tells. There may be many choices, so they are gone
//! through as a tree: at its root every kind of bar is left open, at its lowest price with nothing paid
//! beforehand, and every wall, whose pieces may come from any batch then. First the walls are given each
//! batch in turn, what takes most length first; then, where the plan found costs more than its bars count
//! as, the kind that makes most of the difference is given each of its prices. A part of the tree is closed
//! where no plan in it costs less than the best one so far.
//!
//! Source: branch and bound after Land & Doig, Econometrica 28 (1960) (from memory).

mod at;

use std::cmp::Reverse;

use super::board::Board;
use super::material::{Below, Searched, Solver, certificate, tried, with_preference, without_plan};
use crate::engine::{self, Answer, Packing};
use crate::job::{Bar, Material, Tier, Wall};
use crate::layout::{BarNames, lay_out, money};
use crate::length::Length;
use crate::plan::{
    Certificate, Claim, Combination, Cutting, Effort, Impossible, Least, Outcome, Preference,
    Proof, Stop, Value, WallBatches,
};
use crate::price::Price;
use crate::problem::{NoProblem, Problem};
use at::{AtChoice, Choice, bars_of, beforehand, cost_of, less, plus};

/// Most combinations that are looked at; beyond it what is left open keeps the bound of the combination
/// above it, and the plan a gap.
const MOST_COMBINATIONS: usize = 400;
/// One combination may take one part, in so many, of the work and the time that are left.
const SHARE: u32 = 2;

/// Whether there is anything to choose: a batch for a wall, or another price than the first of a row.
pub(super) fn has_choices(material: &Material) -> bool {
    has_breaks(material) || !material.open_walls().is_empty()
}

fn has_breaks(material: &Material) -> bool {
    let beyond_first = |tier: &Tier| tier.place > 0;
    let mut bars = material.bars().iter();
    bars.any(|bar| bar.tiers().last().is_some_and(beyond_first))
}

/// The best over all combinations.
pub(super) struct Chosen {
    /// With the batches of the plan's walls.
    material: Material,
    base: Problem,
    packing: Packing,
    walls: Option<WallBatches>,
    preference: Preference,
    bound: Value,
    stop: Option<Stop>,
    hand_settled: bool,
    combinations: Vec<Combination>,
    effort: Effort,
}

impl Solver<'_> {
    /// Searches for the patterns to cut where there are choices.
    pub fn search_choices(&self, board: &Board<'_>) -> Searched {
        match self.best_choice(board) {
            Ok(chosen) => match self.preferred_choice(chosen) {
                Ok(chosen) => Searched::Chosen(Box::new(chosen)),
                Err(stop) => Searched::Settled(Outcome::Unknown(stop)),
            },
            Err(searched) => *searched,
        }
    }

    /// The best plan over all choices.
    fn best_choice(&self, board: &Board<'_>) -> Result<Chosen, Box<Searched>> {
        let walls = self.material.open_walls();
        // Without price breaks the root of the tree tells it.
        let without = if walls.is_empty() || !has_breaks(self.material) {
            None
        } else {
            Some(self.without_walls(board)?)
        };
        let mut tree = Tree {
            solver: self,
            tiers: self.material.bars().iter().map(Bar::tiers).collect(),
            walls,
            looked: Vec::new(),
            best: None,
            at_root: None,
            kept: Vec::new(),
            open: Vec::new(),
            effort: Effort::default(),
            stop: None,
        };
        tree.grow(board, without.and_then(|without| without.bound))?;
        let harvested = tree.harvest(without);
        harvested.map_err(|outcome| Box::new(Searched::Settled(outcome)))
    }

    /// What plans come to whose walls may be of several batches.
    fn without_walls(&self, board: &Board<'_>) -> Result<Claim<Value>, Box<Searched>> {
        let material = self.material.without_walls();
        let solver = Solver {
            material: &material,
            limits: self.limits,
            deadline: self.share_of_time(SHARE),
            work: Some(self.work_limit() / u64::from(SHARE)),
            below: None,
        };
        let chosen = solver.best_choice(board)?;
        let found = chosen.value(&material).ok_or_else(too_fine)?;
        Ok(Claim {
            found,
            bound: Some(chosen.bound.min(found)),
        })
    }

    /// Makes good what is asked for among the plans that buy just this. Plans that cost the same may buy
    /// otherwise, so nothing is proven of it.
    fn preferred_choice(&self, chosen: Chosen) -> Result<Chosen, Stop> {
        let mut base = chosen.base;
        let bars = bars_of(&chosen.packing, self.material.bars().len());
        let kinds = base.instance.kinds.iter_mut().zip(self.material.bars());
        for ((kind, bar), bars) in kinds.zip(bars) {
            let bought = bar.cheapest_sales(bars);
            if let Some((sales, ..)) = bought.filter(|_| !bar.breaks().is_empty()) {
                let bars = sales.saturating_mul(bar.bars_per_sale());
                kind.available = Some(u32::try_from(bars).unwrap_or(u32::MAX));
                (kind.cost, kind.pack) = (0, 1);
            }
        }
        let cost = base.instance.cost_of(&chosen.packing);
        let answer = Answer {
            best: Some((cost, chosen.packing)),
            bound: cost,
            prices: vec![0; base.instance.items.len()],
            tie_settled: chosen.hand_settled,
            effort: chosen.effort,
            ..engine::by_length_alone(&base.instance)
        };
        let as_found = Preference::AsFound;
        let answered = Searched::Answered(Box::new(base), Box::new(answer), None, as_found);
        let Searched::Answered(base, answer, _, preference) = self.preferred(answered) else {
            return Err(Stop::Exhausted); // never: it changes nothing else
        };
        let Answer { best, effort, .. } = *answer;
        Ok(Chosen {
            base: *base,
            packing: best.ok_or(Stop::Exhausted)?.1,
            preference: unproven(preference),
            effort,
            material: chosen.material,
            walls: chosen.walls,
            bound: chosen.bound,
            stop: chosen.stop,
            hand_settled: chosen.hand_settled,
            combinations: chosen.combinations,
        })
    }
}

/// The figures of a preference without what is proven of them.
fn unproven(preference: Preference) -> Preference {
    fn found<T>(claim: Claim<T>) -> Claim<T> {
        Claim {
            bound: None,
            ..claim
        }
    }
    match preference {
        Preference::AsFound => Preference::AsFound,
        Preference::Offcuts {
            spare,
            offcuts,
            same_bars,
        } => Preference::Offcuts {
            spare: found(spare),
            offcuts: offcuts.into_iter().map(found).collect(),
            same_bars,
        },
        Preference::Setups { patterns, moves } => Preference::Setups {
            patterns: found(patterns),
            moves: found(moves),
        },
    }
}

fn too_fine() -> Box<Searched> {
    Box::new(Searched::Settled(Outcome::Unknown(Stop::CostsTooFine)))
}

/// A choice that was not looked at yet.
struct Open {
    choice: Choice,
    /// The choice above it, among those looked at.
    above: Option<usize>,
    /// What is paid beforehand.
    beforehand: Price,
    /// No plan costs less.
    bound: Value,
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
    /// Where it was found, among the choices looked at.
    at: usize,
}

struct Tree<'s> {
    solver: &'s Solver<'s>,
    tiers: Vec<Vec<Tier>>,
    walls: Vec<Wall>,
    looked: Vec<Looked>,
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
    Beforehand(Choice, Value),
    /// There is no plan in it.
    NoPlan(Choice, Impossible),
}

impl Tree<'_> {
    /// Goes through the tree, the part with the least bound first; an error is an answer for the whole.
    fn grow(&mut self, board: &Board<'_>, known: Option<Value>) -> Result<(), Box<Searched>> {
        let root = Choice {
            prices: vec![None; self.tiers.len()],
            walls: vec![None; self.walls.len()],
        };
        self.open.push(Open {
            choice: root,
            above: None,
            beforehand: Price::ZERO,
            bound: known.unwrap_or(self.nothing()),
        });
        while let Some(next) = self.next() {
            if self.is_closed(next.bound, None) || self.is_over() {
                self.keep_without_a_look(next);
                continue;
            }
            let above = next.above;
            let looked = match self.look(&next) {
                Ok(looked) => looked,
                Err(searched) if above.is_none() => return Err(searched),
                Err(searched) => {
                    match *searched {
                        Searched::Settled(Outcome::Impossible(why)) => {
                            self.kept
                                .push(Kept::NoPlan(next.choice, because_of_bars(why)));
                        }
                        _ => self.keep_without_a_look(next),
                    }
                    continue;
                }
            };
            self.looked.push(looked);
            self.branch(self.looked.len() - 1);
            let best = self.best.as_ref().map(|best| best.value);
            board.valued(self.solver.material.name(), best, self.bound());
        }
        Ok(())
    }

    /// The open choice with the least bound; of several the one with most walls chosen, then the first.
    fn next(&mut self) -> Option<Open> {
        let open = self.open.iter().enumerate();
        let walls = |open: &Open| open.choice.walls.iter().flatten().count();
        let (place, _) = open.min_by_key(|(_, open)| (open.bound, Reverse(walls(open))))?;
        Some(self.open.remove(place))
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
    fn keep_without_a_look(&mut self, open: Open) {
        let above = open.above.and_then(|above| self.strongest(above));
        let beforehand = plus(self.nothing(), open.beforehand).unwrap_or(open.bound);
        match above {
            Some((above, bound)) if bound >= beforehand => {
                self.kept.push(Kept::Looked(above));
            }
            _ => self.kept.push(Kept::Beforehand(open.choice, beforehand)),
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

    /// No plan at all costs less than this, as far as is known.
    fn bound(&self) -> Value {
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
        let all = open.chain(kept).chain(best);
        all.min().unwrap_or(self.nothing())
    }

    /// Solves the problem at one choice.
    fn look(&mut self, open: &Open) -> Result<Looked, Box<Searched>> {
        let material = self.solver.material;
        let bound = material.with_walls(&self.walls, &open.choice.walls);
        let at = AtChoice::of(bound, &self.tiers, &open.choice.prices).ok_or_else(too_fine)?;
        let work = self.solver.work_limit().saturating_sub(self.effort.work);
        let solver = Solver {
            material: &at.material,
            limits: self.solver.limits,
            deadline: self.solver.share_of_time(SHARE),
            work: Some(work / u64::from(SHARE)),
            below: self.below(open.beforehand),
        };
        let (problem, answer, proven_on) = match solver.look(None) {
            Searched::Answered(problem, answer, proven_on, _) => (problem, answer, proven_on),
            settled => return Err(Box::new(settled)),
        };
        add(&mut self.effort, answer.effort);
        let proven_on = proven_on.as_deref().unwrap_or(&problem);
        let without_plan = || Box::new(Searched::Settled(without_plan(&answer)));
        if answer.best.is_none() && open.above.is_none() {
            return Err(without_plan());
        }
        let bound = proven_on.value(answer.bound).ok_or_else(too_fine)?;
        let bound = plus(bound, open.beforehand).ok_or_else(too_fine)?;
        let found = self.offer(&at, &problem, &answer, &open.choice);
        Ok(Looked {
            choice: open.choice.clone(),
            above: open.above,
            bound,
            hand: found
                .as_ref()
                .filter(|_| answer.tie_settled)
                .map(|(hand, _)| *hand),
            stop: answer.stop,
            no_plan: u64::try_from(answer.left_over)
                .ok()
                .filter(|&left_over| left_over > 0)
                .map(|left_over| Impossible::NotEnoughBars { left_over }),
            certificate: certificate(&at.material, (&problem, proven_on), &answer),
            split: self.split(&open.choice, found.map(|(_, bars)| bars).as_deref()),
        })
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
    ) -> Option<(i128, Vec<u64>)> {
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
                packing,
                walls: choice.walls.clone(),
                at: self.looked.len(),
            });
        }
        Some((hand, bars))
    }

    /// The wall that takes most length of those that are open, else the price of a kind of bar.
    fn split(&self, choice: &Choice, bars: Option<&[u64]>) -> Option<Split> {
        let walls = self.walls.iter().zip(&choice.walls).enumerate();
        let open = walls.filter(|(_, (_, batch))| batch.is_none());
        let length = |wall: &Wall| {
            let pieces = wall.pieces.iter();
            let pieces = pieces.filter_map(|&place| self.solver.material.pieces().get(place));
            let each =
                pieces.map(|piece| i128::from(piece.length().nm()) * i128::from(piece.qty()));
            each.sum::<i128>()
        };
        let largest = open.max_by_key(|(place, (wall, _))| (length(wall), Reverse(*place)));
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
        let ways = match split {
            Split::Wall(_) => self.solver.material.batches().len(),
            Split::Price(kind) => self.tiers.get(kind).map_or(0, Vec::len),
        };
        for way in 0..ways {
            let mut choice = looked.choice.clone();
            let chosen = match split {
                Split::Wall(wall) => choice.walls.get_mut(wall),
                Split::Price(kind) => choice.prices.get_mut(kind),
            };
            if let Some(chosen) = chosen {
                *chosen = Some(way);
            }
            // A price so high that it is not exact is one that no checked job has.
            let beforehand = beforehand(&self.tiers, &choice.prices);
            let least = beforehand.and_then(|more| plus(self.nothing(), more));
            let Some((beforehand, least)) = beforehand.zip(least) else {
                self.kept.push(Kept::Looked(place_of_bound));
                continue;
            };
            self.open.push(Open {
                choice,
                above: Some(place),
                beforehand,
                bound: bound.max(least),
            });
        }
    }

    /// The best plan with its proof.
    fn harvest(self, without: Option<Claim<Value>>) -> Result<Chosen, Outcome> {
        let bound = self.bound();
        let is_nowhere = |kept: &Kept| match kept {
            Kept::NoPlan(..) => true,
            Kept::Looked(at) => {
                let looked = self.looked.get(*at);
                looked.is_some_and(|looked| looked.no_plan.is_some())
            }
            Kept::Beforehand(..) => false,
        };
        let Some(best) = &self.best else {
            let walls = self.walls.len();
            return Err(if self.kept.iter().all(is_nowhere) {
                Outcome::Impossible(Impossible::Walls { walls })
            } else {
                Outcome::Unknown(self.stop.unwrap_or(Stop::Exhausted))
            });
        };
        let material = self.solver.material.with_walls(&self.walls, &best.walls);
        let base = match Problem::new(&material) {
            Ok(base) => base,
            Err(NoProblem::Impossible(why)) => return Err(Outcome::Impossible(why)),
            Err(NoProblem::CostsTooFine) => return Err(Outcome::Unknown(Stop::CostsTooFine)),
            Err(NoProblem::Unknown(stop)) => return Err(Outcome::Unknown(stop)),
        };
        let mut combinations = Vec::new();
        let mut hand_settled = bound >= best.value;
        let mut stop = None;
        let mut kept: Vec<usize> = Vec::new();
        for part in &self.kept {
            match part {
                Kept::Looked(at) if kept.contains(at) => {}
                Kept::Looked(at) => {
                    kept.push(*at);
                    let Some(looked) = self.looked.get(*at) else {
                        continue;
                    };
                    let choice = &looked.choice;
                    let no_plan = looked.no_plan.clone();
                    if let Some(why) = no_plan.filter(|_| looked.bound <= best.value) {
                        // Its prices do not show that nothing fits.
                        let least = Least::NoPlan(why);
                        combinations.push(self.combination(choice, least, nothing()));
                        continue;
                    }
                    if looked.no_plan.is_none() {
                        hand_settled &= self.is_closed(looked.bound, looked.hand);
                    }
                    if looked.bound < best.value {
                        stop = Some(self.why_open(stop, *at, looked));
                    }
                    let least = Least::AtLeast(looked.bound);
                    let certificate = looked.certificate.clone();
                    combinations.push(self.combination(choice, least, certificate));
                }
                Kept::Beforehand(choice, bound) => {
                    hand_settled &= self.is_closed(*bound, None);
                    if *bound < best.value {
                        stop = Some(self.stop.unwrap_or(Stop::Exhausted));
                    }
                    let least = Least::AtLeast(*bound);
                    combinations.push(self.combination(choice, least, nothing()));
                }
                Kept::NoPlan(choice, why) => {
                    let least = Least::NoPlan(why.clone());
                    combinations.push(self.combination(choice, least, nothing()));
                }
            }
        }
        let at_root = self.at_root.zip(self.looked.first());
        let at_root = at_root.filter(|_| !self.walls.is_empty());
        let without = without.or(at_root.map(|(found, looked)| Claim {
            found,
            bound: Some(looked.bound.min(found)),
        }));
        let combinations = without_covered(combinations);
        let batches = best.walls.iter().flatten().copied();
        let walls = material.named_walls(self.walls.iter().cloned(), batches);
        let packing = best.packing.clone();
        Ok(Chosen {
            material,
            base,
            packing,
            // What keeps to the rule is a plan without it too.
            walls: without.map(|without| WallBatches {
                walls,
                without: Claim {
                    found: without.found.min(best.value),
                    ..without
                },
            }),
            preference: Preference::AsFound,
            bound,
            stop,
            hand_settled,
            combinations,
            effort: self.effort,
        })
    }

    /// Why a combination that might hold a better plan was left: its own reason where it is the only one
    /// and the plan's, else that of the whole search.
    fn why_open(&self, before: Option<Stop>, at: usize, looked: &Looked) -> Stop {
        let own = looked.stop.or(self.stop).unwrap_or(Stop::Exhausted);
        let is_plans_own = self.best.as_ref().is_some_and(|best| best.at == at);
        match before {
            None if own != Stop::JointsTried || is_plans_own => own,
            Some(limit) if limit != Stop::JointsTried => limit,
            _ if own != Stop::JointsTried => own,
            _ => Stop::Exhausted,
        }
    }

    fn combination(&self, choice: &Choice, least: Least, certificate: Certificate) -> Combination {
        let place = |(tiers, chosen): (&Vec<Tier>, &Option<usize>)| {
            let tier = chosen.and_then(|chosen| tiers.get(chosen));
            tier.map(|tier| tier.place)
        };
        Combination {
            prices: self.tiers.iter().zip(&choice.prices).map(place).collect(),
            walls: choice.walls.clone(),
            least,
            certificate: Certificate {
                tried: Vec::new(),
                ..certificate
            },
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

/// The combinations that no other covers.
fn without_covered(combinations: Vec<Combination>) -> Vec<Combination> {
    let covers = |one: &Combination, other: &Combination| {
        let prices = one.prices.iter().zip(&other.prices);
        let walls = one.walls.iter().zip(&other.walls);
        let mut all = prices.chain(walls);
        all.all(|(one, other)| one.is_none() || one == other)
    };
    let mut kept: Vec<Combination> = Vec::new();
    for combination in combinations {
        if !kept.iter().any(|one| covers(one, &combination)) {
            kept.retain(|other| !covers(&combination, other));
            kept.push(combination);
        }
    }
    kept
}

/// A certificate of nothing.
fn nothing() -> Certificate {
    Certificate {
        scale: 1,
        ..Certificate::default()
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

impl Chosen {
    /// Bars with names and pieces with marks.
    pub fn lay_out(self, names: &mut BarNames) -> (Outcome, Effort) {
        let effort = self.effort;
        let outcome = self.planned(names);
        (
            outcome.unwrap_or(Outcome::Unknown(Stop::CostsTooFine)),
            effort,
        )
    }

    /// What the plan comes to.
    fn value(&self, material: &Material) -> Option<Value> {
        cost_of(material, &bars_of(&self.packing, material.bars().len()))
    }

    fn planned(self, names: &mut BarNames) -> Option<Outcome> {
        let material = &self.material;
        let layout = lay_out(material, &self.base, &self.packing, names)?;
        let value = if material.is_priced() {
            Value::Money(money(material, &layout)?)
        } else {
            Value::Bought(layout.figures.bought)
        };
        let proof = match self.stop {
            None if self.bound >= value => Proof::Optimal,
            stop => Proof::Gap(stop.unwrap_or(Stop::Exhausted)),
        };
        let hand_proof = if self.hand_settled {
            Proof::Optimal
        } else {
            Proof::Gap(Stop::Exhausted)
        };
        let certificate = Certificate {
            scale: 1,
            tried: tried(material, &self.base),
            combinations: self.combinations,
            ..Certificate::default()
        };
        let outcome = Outcome::Planned(Box::new(Cutting {
            proof,
            value,
            bound: self.bound.min(value),
            buy: layout.buy,
            bars: layout.bars,
            uncut: layout.uncut,
            figures: layout.figures,
            hand_proof,
            walls: self.walls,
            preference: Preference::AsFound,
            certificate,
        }));
        Some(with_preference(material, outcome, self.preference))
    }
}
