//! The bound of a plan, and what is claimed on its strength.

use std::collections::BTreeSet;

use super::bound::{Recomputed, recompute};
use super::boxes::{MixBox, boxes};
use super::evidence::{Evidence, check_mix_proof};
use super::facts::{Facts, nm};
use super::mixes::{Range, Walked, walk};
use super::refusal::{Breach, OpenMix};
use super::worth::Worth;
use super::{Claim, MaterialVerified, Trust};
use crate::plan::{Cutting, Proof};

/// Checks the claimed bound, whether it makes the plan the best, and whether no other plan of its
/// value cuts into less from hand. `cut` counts the bars of each kind that the plan cuts.
pub(super) fn check_proof(
    facts: &Facts<'_>,
    cutting: &Cutting,
    cut: &[u64],
    verified: &mut MaterialVerified,
) -> Result<(), Breach> {
    let (value, bound) = (cutting.value, cutting.bound);
    if bound > value {
        return Err(Breach::BoundAboveValue { bound, plan: value });
    }
    if cutting.proof == Proof::Optimal && bound != value {
        return Err(Breach::OptimalNotProven { plan: value, bound });
    }
    let certificate = &cutting.certificate;
    let worth = Worth::of(facts, certificate)?;
    let root = recompute(facts, certificate, &worth)?;
    check_mix_proof(facts, certificate, cut)?;
    let mut recheck = Recheck {
        facts,
        cutting,
        worth,
        evidence: None,
    };
    recheck.bound(&root, verified)?;
    if cutting.hand_proof == Proof::Optimal {
        recheck.hand(verified)?;
    }
    Ok(())
}

/// What the two walks over mixes share.
struct Recheck<'a> {
    facts: &'a Facts<'a>,
    cutting: &'a Cutting,
    worth: Worth,
    /// Worked out when it is first needed, which for most plans is never.
    evidence: Option<Evidence<'a>>,
}

impl Recheck<'_> {
    fn bound(&mut self, root: &Recomputed, verified: &mut MaterialVerified) -> Result<(), Breach> {
        let optimal = self.cutting.proof == Proof::Optimal;
        let Recomputed::Proven(root) = *root else {
            trust(verified, Trust::Bound, optimal.then_some(Trust::Optimal));
            return Ok(());
        };
        let (plan, claimed) = (self.cutting.value, self.cutting.bound);
        let proven = self.facts.value(root)?;
        if proven > plan {
            // A plan below what no plan can beat: job and certificate contradict each other.
            return Err(Breach::BoundAboveValue {
                bound: proven,
                plan,
            });
        }
        let below = self.facts.units(claimed)?;
        verified.bound = Some(proven);
        let range = Range {
            from: root,
            below,
            hand_below: None,
        };
        let splits = &self.cutting.certificate.mixes.splits;
        match self.walk(range, &boxes(self.facts, splits)?) {
            Walked::Open { bars, cost } => {
                return Err(Breach::BoundNotProven {
                    plan: claimed,
                    recomputed: proven,
                    mix: self.open(bars, cost)?,
                });
            }
            Walked::OutOfReach => trust(verified, Trust::Bound, optimal.then_some(Trust::Optimal)),
            Walked::Refuted {
                leaned_on,
                by_prices_below,
            } => {
                verified.bound = Some(if !leaned_on.is_empty() {
                    self.facts.value(by_prices_below)?
                } else if proven > claimed {
                    proven
                } else {
                    claimed
                });
                let claim = if optimal {
                    Claim::Optimal
                } else {
                    Claim::Bound
                };
                settle(verified, claim, &leaned_on);
            }
        }
        Ok(())
    }

    fn hand(&mut self, verified: &mut MaterialVerified) -> Result<(), Breach> {
        let plan = self.cutting.figures.hand_cut_into; // recomputed with the figures
        let value = self.facts.units(self.cutting.value)?;
        let range = Range {
            from: value,
            below: value.checked_add(1).ok_or(Breach::TooLarge)?,
            hand_below: Some(nm(plan)),
        };
        match self.walk(range, &[MixBox::whole(self.facts)]) {
            Walked::Refuted { leaned_on, .. } => settle(verified, Claim::LeastFromHand, &leaned_on),
            Walked::OutOfReach => verified.on_trust.push(Trust::LeastFromHand),
            Walked::Open { bars, cost } => {
                return Err(Breach::HandNotProven {
                    plan,
                    mix: self.open(bars, cost)?,
                });
            }
        }
        Ok(())
    }

    fn open(&self, bars: Vec<u64>, cost: i128) -> Result<Box<OpenMix>, Breach> {
        let cost = self.facts.value(cost)?;
        Ok(Box::new(OpenMix { bars, cost }))
    }

    fn walk(&mut self, range: Range, boxes: &[MixBox]) -> Walked {
        if range.is_empty() {
            return Walked::nothing(range);
        }
        let evidence = self.evidence.get_or_insert_with(|| {
            Evidence::of(self.facts, &self.cutting.certificate, &self.worth)
        });
        walk(self.facts, evidence, range, boxes)
    }
}

fn trust(verified: &mut MaterialVerified, bound: Trust, optimal: Option<Trust>) {
    verified.on_trust.push(bound);
    verified.on_trust.extend(optimal);
}

/// A claim that holds, or that does if the searches that it leans on are believed.
fn settle(verified: &mut MaterialVerified, claim: Claim, leaned_on: &BTreeSet<usize>) {
    if leaned_on.is_empty() {
        if claim == Claim::Optimal {
            verified.rechecked.push(Claim::Bound);
        }
        verified.rechecked.push(claim);
    } else {
        verified.on_trust.push(Trust::Searched {
            claim,
            mixes: leaned_on.len(),
        });
    }
}
