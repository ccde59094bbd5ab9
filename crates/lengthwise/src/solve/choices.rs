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
mod tree;

use super::board::Board;
use super::material::{Searched, Solver, tried, with_preference};
use crate::engine::{self, Answer, Packing};
use crate::job::{Material, Tier};
use crate::layout::{BarNames, lay_out, money};
use crate::plan::{
    Certificate, Claim, Combination, Cutting, Effort, Outcome, Preference, Proof, Stop, Value,
    WallBatches,
};
use crate::problem::Problem;
use at::{bars_of, cost_of};
use tree::Tree;

/// One combination may take one part, in so many, of the work and the time that are left.
const SHARE: u32 = 2;

/// Whether there is anything to choose: a batch for a wall, or another price than the first of a row.
pub(crate) fn has_choices(material: &Material) -> bool {
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
        match self.best_choice(Some(board)) {
            Ok(chosen) => match self.preferred_choice(chosen) {
                Ok(chosen) => Searched::Chosen(Box::new(chosen)),
                Err(stop) => Searched::Settled(Outcome::Unknown(stop)),
            },
            Err(searched) => *searched,
        }
    }

    /// The best plan over all choices; whoever watches is told of it where there is a board.
    fn best_choice(&self, board: Option<&Board<'_>>) -> Result<Chosen, Box<Searched>> {
        let walls = self.material.open_walls();
        // Without price breaks the root of the tree tells it, and so it does where a search finds nothing.
        let (without, spent) = if walls.is_empty() || !has_breaks(self.material) {
            (None, Effort::default())
        } else {
            self.without_walls()?
        };
        let mut tree = Tree::new(self, walls, spent);
        tree.grow(board, without.and_then(|without| without.bound))?;
        let harvested = tree.harvest(without);
        harvested.map_err(|outcome| Box::new(Searched::Settled(outcome)))
    }

    /// What plans come to whose walls may be of several batches, where that is found, and what it took.
    /// They are none of the job, so nobody is told of them.
    fn without_walls(&self) -> Result<(Option<Claim<Value>>, Effort), Box<Searched>> {
        let material = self.material.without_walls();
        let work = self.work_limit() / u64::from(SHARE);
        let solver = Solver {
            material: &material,
            limits: self.limits,
            deadline: self.deadline.share(SHARE),
            work: Some(work),
            below: None,
        };
        let chosen = match solver.best_choice(None) {
            Ok(chosen) => chosen,
            Err(searched) => match *searched {
                // What it took is not told; it was no more than it might.
                Searched::Settled(Outcome::Unknown(_)) => {
                    let effort = Effort::default();
                    return Ok((None, Effort { work, ..effort }));
                }
                settled => return Err(Box::new(settled)),
            },
        };
        let found = chosen.value(&material).ok_or_else(too_fine)?;
        let claim = Claim {
            found,
            bound: Some(chosen.bound.min(found)),
        };
        Ok((Some(claim), chosen.effort))
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

    /// What the plan comes to, and what none undercuts.
    pub fn known(&self) -> Option<(Value, Value)> {
        let value = self.value(&self.material)?;
        Some((value, self.bound.min(value)))
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
