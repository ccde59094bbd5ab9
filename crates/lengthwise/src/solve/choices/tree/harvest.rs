//! What comes of a tree: the best plan, and the combinations that prove it.

use super::{Chosen, Claim, Combination, Kept, Looked, Tree};
use crate::job::Tier;
use crate::plan::{Certificate, Impossible, Least, Outcome, Preference, Stop, Value, WallBatches};
use crate::problem::{NoProblem, Problem};
use crate::solve::choices::at::Choice;

impl Tree<'_> {
    /// The best plan with its proof.
    pub fn harvest(self, without: Option<Claim<Value>>) -> Result<Chosen, Outcome> {
        let bound = self.bound().unwrap_or(self.nothing());
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
                        combinations.push(self.combination(choice, least, no_certificate()));
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
                Kept::Beforehand(step, bound) => {
                    hand_settled &= self.is_closed(*bound, None);
                    if *bound < best.value {
                        stop = Some(self.stop.unwrap_or(Stop::Exhausted));
                    }
                    let least = Least::AtLeast(*bound);
                    combinations.push(self.combination(
                        &self.choice_at(*step),
                        least,
                        no_certificate(),
                    ));
                }
                Kept::NoPlan(step, why) => {
                    let least = Least::NoPlan(why.clone());
                    combinations.push(self.combination(
                        &self.choice_at(*step),
                        least,
                        no_certificate(),
                    ));
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
        let is_plans_own = self.best.as_ref().is_some_and(|best| best.at == Some(at));
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

/// A certificate that proves nothing.
fn no_certificate() -> Certificate {
    Certificate {
        scale: 1,
        ..Certificate::default()
    }
}
