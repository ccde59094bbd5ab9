//! One material: searched, then laid out.

use std::time::Instant;

use super::board::Board;
use super::{DEFAULT_WORK, Limits};
use crate::engine::{self, Answer, Meter};
use crate::job::Material;
use crate::layout::{BarNames, Layout, lay_out, money};
use crate::plan::{
    Certificate, Cutting, Effort, Impossible, MixProof, MixSplit, Outcome, Proof, SearchedMix,
    Stop, Value,
};
use crate::problem::{NoProblem, Problem};

/// One material under the limits of the job.
pub(super) struct Solver<'a> {
    pub material: &'a Material,
    pub limits: &'a Limits<'a>,
    pub deadline: Option<Instant>,
}

/// What the search of a material came to.
pub(super) enum Searched {
    /// There was nothing to search for.
    Settled(Outcome),
    /// Patterns, or none.
    Answered(Box<Problem>, Box<Answer>),
}

impl Solver<'_> {
    /// Searches for the patterns to cut.
    pub fn search(&self, board: &Board<'_>) -> Searched {
        let name = self.material.name();
        board.begun(name);
        let searched = match Problem::new(self.material) {
            Ok(problem) => self.answer(problem, board),
            Err(NoProblem::Impossible(why)) => Searched::Settled(Outcome::Impossible(why)),
            Err(NoProblem::CostsTooFine) => Searched::Settled(Outcome::Unknown(Stop::CostsTooFine)),
        };
        match &searched {
            Searched::Settled(_) => board.done(name, None),
            Searched::Answered(problem, answer) => {
                let best = answer.best.as_ref().map(|(cost, _)| *cost);
                board.done(name, Some((problem, best, answer.bound)));
            }
        }
        searched
    }

    fn answer(&self, problem: Problem, board: &Board<'_>) -> Searched {
        let name = self.material.name();
        let mut report =
            |best: Option<i128>, bound: i128| board.improved(name, &problem, best, bound);
        let answer = engine::minimise(&problem.instance, self.meter(&mut report));
        Searched::Answered(Box::new(problem), Box::new(answer))
    }

    fn meter<'m>(&'m self, report: &'m mut dyn FnMut(Option<i128>, i128)) -> Meter<'m> {
        let default = if self.limits.time.is_some() {
            u64::MAX
        } else {
            DEFAULT_WORK
        };
        let limit = self.limits.work.unwrap_or(default);
        Meter::new(limit, self.deadline, self.limits.cancel, Some(report))
    }
}

impl Searched {
    /// Bars with names and pieces with marks.
    pub fn lay_out(self, material: &Material, names: &mut BarNames) -> (Outcome, Effort) {
        let (problem, mut answer) = match self {
            Searched::Settled(outcome) => return (outcome, Effort::default()),
            Searched::Answered(problem, answer) => (problem, answer),
        };
        let Some((cost, packing)) = answer.best.take() else {
            return (without_plan(&answer), answer.effort);
        };
        let outcome = match lay_out(material, &problem, &packing, names) {
            Some(layout) => planned(material, &problem, &answer, cost, layout),
            None => Outcome::Unknown(Stop::CostsTooFine),
        };
        (outcome, answer.effort)
    }
}

fn planned(
    material: &Material,
    problem: &Problem,
    answer: &Answer,
    cost: i128,
    layout: Layout,
) -> Outcome {
    let bound = problem.value(answer.bound);
    let value = if material.is_priced() {
        money(material, &layout).map(Value::Money)
    } else {
        Some(Value::Bought(layout.figures.bought))
    };
    let (Some(value), Some(bound)) = (value, bound) else {
        return Outcome::Unknown(Stop::CostsTooFine);
    };
    let proof = match answer.stop {
        None if answer.bound >= cost => Proof::Optimal,
        stop => Proof::Gap(stop.unwrap_or(Stop::Exhausted)),
    };
    let hand_proof = if answer.tie_settled {
        Proof::Optimal
    } else {
        Proof::Gap(Stop::Exhausted)
    };
    let certificate = certificate(problem, answer);
    Outcome::Planned(Box::new(Cutting {
        proof,
        value,
        bound,
        buy: layout.buy,
        bars: layout.bars,
        uncut: layout.uncut,
        figures: layout.figures,
        hand_proof,
        certificate,
    }))
}

/// What the engine proved, in terms of the job.
fn certificate(problem: &Problem, answer: &Answer) -> Certificate {
    let prices = problem
        .shapes
        .iter()
        .copied()
        .zip(answer.prices.iter().copied());
    let refutations = answer
        .proof
        .refutations
        .iter()
        .map(|refutation| refutation.prices.clone());
    let searched = answer.proof.exhausted.iter().map(|exhausted| SearchedMix {
        bars: exhausted.mix.iter().map(|&bars| u64::from(bars)).collect(),
        patterns: exhausted.patterns,
        nodes: exhausted.nodes,
    });
    let splits = answer.proof.splits.iter().map(|split| {
        split.map(|(kind, at)| MixSplit {
            bar: kind as usize, // u32 into usize
            at: u64::from(at),
        })
    });
    Certificate {
        scale: answer.scale,
        prices: prices.collect(),
        windows: Vec::new(),
        anywhere: None,
        mixes: MixProof {
            refutations: refutations.collect(),
            searched: searched.collect(),
            splits: splits.collect(),
        },
    }
}

/// No plan was found: because there is none, or because the search ended.
fn without_plan(answer: &Answer) -> Outcome {
    match u64::try_from(answer.left_over) {
        Ok(left_over) if left_over > 0 => {
            Outcome::Impossible(Impossible::NotEnoughBars { left_over })
        }
        _ => Outcome::Unknown(answer.stop.unwrap_or(Stop::Exhausted)),
    }
}
