//! Price breaks: every choice of prices is an ordinary problem, and the best plan is the best of theirs.
//!
//! How a choice becomes a problem, [`Combination`] tells. There may be many choices, so they are gone
//! through as a tree: at its root every kind of bar is left open, at its lowest price with nothing paid
//! beforehand; where the plan found there costs more than that, the kind that makes most of the
//! difference is given each of its prices in turn. A part of the tree is closed where no plan in it costs
//! less than the best one so far.
//!
//! Source: branch and bound after Land & Doig, Econometrica 28 (1960) (from memory).

mod prices;

use super::board::Board;
use super::material::{Below, Searched, Solver, certificate, tried, with_preference, without_plan};
use crate::engine::{self, Answer, Packing};
use crate::job::{Bar, Material, Tier};
use crate::layout::{BarNames, lay_out, money};
use crate::plan::{
    Certificate, Claim, Combination, Cutting, Effort, Outcome, Preference, Proof, Stop, Value,
};
use crate::price::Price;
use crate::problem::{NoProblem, Problem};
use prices::{AtPrices, Choice, bars_of, beforehand, cost_of};

/// Most combinations that are looked at; beyond it what is left open keeps the bound of the combination
/// above it, and the plan a gap.
const MOST_COMBINATIONS: usize = 400;
/// One combination may take one part, in so many, of the work and the time that are left.
const SHARE: u32 = 2;

/// Whether any kind of bar can be had at another price than the first of its row.
pub(super) fn has_breaks(material: &Material) -> bool {
    let beyond_first = |tier: &Tier| tier.place > 0;
    let mut bars = material.bars().iter();
    bars.any(|bar| bar.tiers().last().is_some_and(beyond_first))
}

/// The best over all combinations.
pub(super) struct Tiered {
    base: Problem,
    packing: Packing,
    preference: Preference,
    bound: Price,
    stop: Option<Stop>,
    hand_settled: bool,
    combinations: Vec<Combination>,
    effort: Effort,
}

impl Solver<'_> {
    /// Searches for the patterns to cut where bars have price breaks.
    pub fn search_tiers(&self, board: &Board<'_>) -> Searched {
        let base = match Problem::new(self.material) {
            Ok(base) => base,
            Err(NoProblem::Impossible(why)) => {
                return Searched::Settled(Outcome::Impossible(why));
            }
            Err(NoProblem::CostsTooFine) => {
                return Searched::Settled(Outcome::Unknown(Stop::CostsTooFine));
            }
            Err(NoProblem::Unknown(stop)) => return Searched::Settled(Outcome::Unknown(stop)),
        };
        let tiers = self.material.bars().iter().map(Bar::tiers).collect();
        let mut tree = Tree {
            solver: self,
            tiers,
            looked: Vec::new(),
            best: None,
            kept: Vec::new(),
            open: Vec::new(),
            effort: Effort::default(),
            stop: None,
        };
        if let Err(searched) = tree.grow(board) {
            return *searched;
        }
        let tiered = tree.harvest(base);
        match tiered.and_then(|tiered| self.preferred_tiers(tiered)) {
            Ok(tiered) => Searched::Tiered(Box::new(tiered)),
            Err(stop) => Searched::Settled(Outcome::Unknown(stop)),
        }
    }

    /// Makes good what is asked for among the plans that buy just this. Plans that cost the same may buy
    /// otherwise, so nothing is proven of it.
    fn preferred_tiers(&self, tiered: Tiered) -> Result<Tiered, Stop> {
        let mut base = tiered.base;
        let bars = bars_of(&tiered.packing, self.material.bars().len());
        let kinds = base.instance.kinds.iter_mut().zip(self.material.bars());
        for ((kind, bar), bars) in kinds.zip(bars) {
            let bought = bar.cheapest_sales(bars);
            if let Some((sales, ..)) = bought.filter(|_| !bar.breaks().is_empty()) {
                let bars = sales.saturating_mul(bar.bars_per_sale());
                kind.available = Some(u32::try_from(bars).unwrap_or(u32::MAX));
                (kind.cost, kind.pack) = (0, 1);
            }
        }
        let cost = base.instance.cost_of(&tiered.packing);
        let answer = Answer {
            best: Some((cost, tiered.packing)),
            bound: cost,
            prices: vec![0; base.instance.items.len()],
            tie_settled: tiered.hand_settled,
            effort: tiered.effort,
            ..engine::by_length_alone(&base.instance)
        };
        let as_found = Preference::AsFound;
        let answered = Searched::Answered(Box::new(base), Box::new(answer), None, as_found);
        let Searched::Answered(base, answer, _, preference) = self.preferred(answered) else {
            return Err(Stop::Exhausted); // never: it changes nothing else
        };
        let Answer { best, effort, .. } = *answer;
        Ok(Tiered {
            base: *base,
            packing: best.ok_or(Stop::Exhausted)?.1,
            preference: unproven(preference),
            bound: tiered.bound,
            stop: tiered.stop,
            hand_settled: tiered.hand_settled,
            combinations: tiered.combinations,
            effort,
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

/// A choice of prices that was not looked at yet.
struct Open {
    choice: Choice,
    /// The choice above it, among those looked at.
    above: Option<usize>,
    /// What is paid beforehand.
    beforehand: Price,
    /// No plan costs less.
    bound: Price,
}

/// A choice of prices that was looked at.
struct Looked {
    choice: Choice,
    /// The choice above it, among those looked at.
    above: Option<usize>,
    /// No plan costs less at these prices.
    bound: Price,
    /// No plan that costs as much as the bound cuts into less length from hand; `None` where unknown.
    hand: Option<i128>,
    stop: Option<Stop>,
    certificate: Certificate,
    /// The kind of bar to give prices to.
    split: Option<usize>,
}

/// The cheapest plan so far.
struct Best {
    value: Price,
    /// Length cut into from hand.
    hand: i128,
    packing: Packing,
    /// Where it was found, among the choices looked at.
    at: usize,
}

struct Tree<'s> {
    solver: &'s Solver<'s>,
    tiers: Vec<Vec<Tier>>,
    looked: Vec<Looked>,
    best: Option<Best>,
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
    /// By what is paid beforehand alone.
    Beforehand(Choice, Price),
}

impl Tree<'_> {
    /// Goes through the tree, the part with the least bound first; an error is an answer for the whole.
    fn grow(&mut self, board: &Board<'_>) -> Result<(), Box<Searched>> {
        let root: Choice = vec![None; self.tiers.len()];
        self.open.push(Open {
            choice: root,
            above: None,
            beforehand: Price::ZERO,
            bound: Price::ZERO,
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
                Err(_) => {
                    self.keep_without_a_look(next);
                    continue;
                }
            };
            self.looked.push(looked);
            self.branch(self.looked.len() - 1);
            let best = self.best.as_ref().map(|best| best.value);
            board.priced(self.solver.material.name(), best, self.bound());
        }
        Ok(())
    }

    /// The open choice with the least bound; of several the first.
    fn next(&mut self) -> Option<Open> {
        let open = self.open.iter().enumerate();
        let (place, _) = open.min_by_key(|(_, open)| open.bound)?;
        Some(self.open.remove(place))
    }

    /// Whether nothing better can come of plans that cost at least `bound`, and, where they cost just
    /// that, take at least `hand` from hand.
    fn is_closed(&self, bound: Price, hand: Option<i128>) -> bool {
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
        match above {
            Some((above, bound)) if bound >= open.beforehand => {
                self.kept.push(Kept::Looked(above));
            }
            _ => self
                .kept
                .push(Kept::Beforehand(open.choice, open.beforehand)),
        }
    }

    /// Of a choice and those above it the one with the largest bound, the lowest of several. A search
    /// that was cut short may prove less than the one above it.
    fn strongest(&self, place: usize) -> Option<(usize, Price)> {
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
    fn bound(&self) -> Price {
        let open = self.open.iter().map(|open| open.bound);
        let kept = self.kept.iter().filter_map(|kept| match kept {
            Kept::Looked(at) => Some(self.looked.get(*at)?.bound),
            Kept::Beforehand(_, bound) => Some(*bound),
        });
        let best = self.best.iter().map(|best| best.value);
        open.chain(kept).chain(best).min().unwrap_or(Price::ZERO)
    }

    /// Solves the problem at one choice.
    fn look(&mut self, open: &Open) -> Result<Looked, Box<Searched>> {
        let too_fine = || Box::new(Searched::Settled(Outcome::Unknown(Stop::CostsTooFine)));
        let at =
            AtPrices::of(self.solver.material, &self.tiers, &open.choice).ok_or_else(too_fine)?;
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
        let Some(Value::Money(bound)) = proven_on.value(answer.bound) else {
            return Err(too_fine());
        };
        if answer.best.is_none() && open.above.is_none() {
            return Err(Box::new(Searched::Settled(without_plan(&answer))));
        }
        let bound = bound.checked_add(open.beforehand).ok_or_else(too_fine)?;
        let found = self.offer(&at, &problem, &answer);
        Ok(Looked {
            choice: open.choice.clone(),
            above: open.above,
            bound,
            hand: found
                .as_ref()
                .filter(|_| answer.tie_settled)
                .map(|(hand, _)| *hand),
            stop: answer.stop,
            certificate: certificate(&at.material, (&problem, proven_on), &answer),
            split: self.split(&open.choice, found.map(|(_, bars)| bars).as_deref()),
        })
    }

    /// What a plan must cost to be of use, without what is paid beforehand.
    fn below(&self, beforehand: Price) -> Option<Below> {
        let best = self.best.as_ref()?;
        let rest = best.value.decimal() - beforehand.decimal();
        let rest = Price::from_decimal(rest)?;
        Some(if best.hand > 0 {
            Below::AtMost(rest)
        } else {
            Below::Less(rest)
        })
    }

    /// Keeps the plan of an answer if it is the best so far; its length from hand, where its cost meets
    /// the bound, and its bars of each kind.
    fn offer(
        &mut self,
        at: &AtPrices,
        problem: &Problem,
        answer: &Answer,
    ) -> Option<(i128, Vec<u64>)> {
        let (_, packing) = answer.best.as_ref()?;
        let hand = problem.instance.tie_of(packing);
        let packing = at.on_own_bars(packing)?;
        let bars = bars_of(&packing, self.tiers.len());
        let value = cost_of(self.solver.material, &bars)?;
        let is_better = |best: &Best| (value, hand) < (best.value, best.hand);
        if self.best.as_ref().is_none_or(is_better) {
            self.best = Some(Best {
                value,
                hand,
                packing,
                at: self.looked.len(),
            });
        }
        Some((hand, bars))
    }

    /// The open kind of bar whose bars in a plan cost most beyond what they count as; without a plan the
    /// first open one.
    fn split(&self, choice: &Choice, bars: Option<&[u64]>) -> Option<usize> {
        let material = self.solver.material;
        let kinds = material.bars().iter().zip(&self.tiers).zip(choice);
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
        let tiers = looked
            .split
            .and_then(|kind| Some((kind, self.tiers.get(kind)?)));
        let Some((kind, tiers)) = tiers.filter(|_| !self.is_closed(looked.bound, looked.hand))
        else {
            self.kept.push(Kept::Looked(place_of_bound));
            return;
        };
        for tier in 0..tiers.len() {
            let mut choice = looked.choice.clone();
            if let Some(chosen) = choice.get_mut(kind) {
                *chosen = Some(tier);
            }
            // A price so high that it is not exact is one that no checked job has.
            let Some(beforehand) = beforehand(&self.tiers, &choice) else {
                self.kept.push(Kept::Looked(place_of_bound));
                continue;
            };
            self.open.push(Open {
                choice,
                above: Some(place),
                beforehand,
                bound: bound.max(beforehand),
            });
        }
    }

    /// The best plan with its proof.
    fn harvest(self, base: Problem) -> Result<Tiered, Stop> {
        let bound = self.bound();
        let Some(best) = &self.best else {
            return Err(self.stop.unwrap_or(Stop::Exhausted));
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
                    hand_settled &= self.is_closed(looked.bound, looked.hand);
                    if looked.bound < best.value {
                        stop = Some(self.why_open(stop, *at, looked));
                    }
                    combinations.push(self.combination(
                        &looked.choice,
                        looked.bound,
                        looked.certificate.clone(),
                    ));
                }
                Kept::Beforehand(choice, bound) => {
                    hand_settled &= self.is_closed(*bound, None);
                    if *bound < best.value {
                        stop = Some(self.stop.unwrap_or(Stop::Exhausted));
                    }
                    let nothing = Certificate {
                        scale: 1,
                        ..Certificate::default()
                    };
                    combinations.push(self.combination(choice, *bound, nothing));
                }
            }
        }
        let packing = best.packing.clone();
        Ok(Tiered {
            base,
            packing,
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

    fn combination(&self, choice: &Choice, bound: Price, certificate: Certificate) -> Combination {
        let place = |(tiers, chosen): (&Vec<Tier>, &Option<usize>)| {
            let tier = chosen.and_then(|chosen| tiers.get(chosen));
            tier.map(|tier| tier.place)
        };
        Combination {
            prices: self.tiers.iter().zip(choice).map(place).collect(),
            bound,
            certificate: Certificate {
                tried: Vec::new(),
                ..certificate
            },
        }
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

impl Tiered {
    /// Bars with names and pieces with marks.
    pub fn lay_out(self, material: &Material, names: &mut BarNames) -> (Outcome, Effort) {
        let effort = self.effort;
        let outcome = self.planned(material, names);
        (
            outcome.unwrap_or(Outcome::Unknown(Stop::CostsTooFine)),
            effort,
        )
    }

    fn planned(self, material: &Material, names: &mut BarNames) -> Option<Outcome> {
        let layout = lay_out(material, &self.base, &self.packing, names)?;
        let value = money(material, &layout)?;
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
            value: Value::Money(value),
            bound: Value::Money(self.bound.min(value)),
            buy: layout.buy,
            bars: layout.bars,
            uncut: layout.uncut,
            figures: layout.figures,
            hand_proof,
            preference: Preference::AsFound,
            certificate,
        }));
        Some(with_preference(material, outcome, self.preference))
    }
}
