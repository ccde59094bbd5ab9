//! The bound of a plan, and what is claimed on its strength.

use super::bound::{Recomputed, recompute};
use super::boxes::{MixBox, boxes};
use super::breaks::check_combinations;
use super::counted::Counted;
use super::evidence::{Evidence, check_mix_proof};
use super::facts::{Facts, nm};
use super::mixes::{Range, Walked, pieces, walk};
use super::refusal::{Breach, OpenMix};
use super::{Claim, MaterialVerified, Trust};
use crate::length::Length;
use crate::plan::{Certificate, Cutting, Proof};

/// Checks the claimed bound, whether it makes the plan the best, and whether no other plan of its
/// value cuts into less from hand. `cut` counts the bars of each kind that the plan cuts, `batches` are
/// those of its walls.
pub(super) fn check_proof(
    facts: &Facts<'_>,
    cutting: &Cutting,
    (cut, batches): (&[u64], &[Option<usize>]),
    verified: &mut MaterialVerified,
) -> Result<(), Breach> {
    let (value, bound) = (cutting.value, cutting.bound);
    if bound > value {
        return Err(Breach::BoundAboveValue { bound, plan: value });
    }
    if cutting.proof == Proof::Optimal && bound != value {
        return Err(Breach::OptimalNotProven { plan: value, bound });
    }
    if facts.have_breaks() || !batches.is_empty() {
        return check_combinations(facts, cutting, (cut, batches), verified);
    }
    if !cutting.certificate.combinations.is_empty() {
        return Err(Breach::NothingToCombine);
    }
    let claims_hand = cutting.hand_proof == Proof::Optimal;
    let claim = if cutting.proof == Proof::Optimal {
        Claim::Optimal
    } else {
        Claim::Bound
    };
    let Some(mut recheck) = Recheck::of(facts, &cutting.certificate, Some(cut))? else {
        conclude(verified, claim, &Proven::OUT_OF_REACH);
        if claims_hand {
            conclude(verified, Claim::LeastFromHand, &Proven::OUT_OF_REACH);
        }
        return Ok(());
    };
    let units = facts.units(value)?;
    let proven = recheck.bound(facts.units(bound)?, units)?;
    if let Proven::Bound { by_prices, .. } = proven {
        verified.bound = by_prices.map(|units| facts.value(units)).transpose()?;
    }
    conclude(verified, claim, &proven);
    if claims_hand {
        // The figure was recomputed with the others.
        let hand = recheck.hand(units, cutting.figures.hand_cut_into)?;
        conclude(verified, Claim::LeastFromHand, &hand);
    }
    Ok(())
}

/// What was found of a claim.
#[derive(Clone, Debug)]
pub(super) enum Proven {
    /// There was nothing to look at.
    Nothing,
    /// It holds, if what it leans on does.
    Bound {
        /// What prices prove by themselves, up to the claim at least where it leans on nothing; `None`
        /// where that was not recomputed.
        by_prices: Option<i128>,
        /// How many searched mixes it leans on.
        leaned_on: usize,
        /// Whether it was not recomputed, for want of work or of digits.
        out_of_reach: bool,
    },
}

impl Proven {
    pub const OUT_OF_REACH: Proven = Proven::Bound {
        by_prices: None,
        leaned_on: 0,
        out_of_reach: true,
    };

    /// Prices prove it.
    pub fn by_prices(units: i128) -> Proven {
        Proven::Bound {
            by_prices: Some(units),
            leaned_on: 0,
            out_of_reach: false,
        }
    }

    /// This and another claim together: the lower bound, and all that both lean on.
    pub fn with(self, other: Proven) -> Proven {
        match (self, other) {
            (Proven::Nothing, other) | (other, Proven::Nothing) => other,
            (
                Proven::Bound {
                    by_prices,
                    leaned_on,
                    out_of_reach,
                },
                Proven::Bound {
                    by_prices: prices,
                    leaned_on: mixes,
                    out_of_reach: out,
                },
            ) => Proven::Bound {
                by_prices: by_prices.zip(prices).map(|(one, other)| one.min(other)),
                leaned_on: leaned_on + mixes,
                out_of_reach: out_of_reach || out,
            },
        }
    }

    /// The same with so much more on top of every plan.
    pub fn with_more(self, more: i128) -> Proven {
        match self {
            Proven::Nothing => Proven::Nothing,
            Proven::Bound {
                by_prices,
                leaned_on,
                out_of_reach,
            } => Proven::Bound {
                by_prices: by_prices.and_then(|units| units.checked_add(more)),
                leaned_on,
                out_of_reach,
            },
        }
    }
}

/// One certificate and what is worked out from it.
pub(super) struct Recheck<'a> {
    facts: &'a Facts<'a>,
    certificate: &'a Certificate,
    counted: Counted,
    root: Recomputed,
    /// Worked out when it is first needed, which for most plans is never.
    evidence: Option<Evidence<'a>>,
}

impl<'a> Recheck<'a> {
    /// Reads a certificate and checks that it makes sense; `None` where that takes too much work. `cut`
    /// counts the bars of each kind that the plan cuts, if it answers these facts.
    pub fn of(
        facts: &'a Facts<'a>,
        certificate: &'a Certificate,
        cut: Option<&[u64]>,
    ) -> Result<Option<Recheck<'a>>, Breach> {
        let Some(counted) = Counted::of(facts, certificate)? else {
            return Ok(None);
        };
        let root = recompute(facts, certificate, &counted)?;
        check_mix_proof(facts, certificate, cut)?;
        Ok(Some(Recheck {
            facts,
            certificate,
            counted,
            root,
            evidence: None,
        }))
    }

    /// Whether no plan costs less than `claimed`; `plan` is what one costs.
    ///
    /// For what the certificate counts it is enough to look at as many bars as hold it: without the others a plan
    /// costs no more. A search speaks of all pieces, which may need the others; so where one is leaned on all bars
    /// are looked at, too, and what the evidence does not reach then is on trust.
    pub fn bound(&mut self, claimed: i128, plan: i128) -> Result<Proven, Breach> {
        let Recomputed::Proven(root) = self.root else {
            return Ok(Proven::OUT_OF_REACH);
        };
        if root > plan {
            // A plan below what no plan can beat: job and certificate contradict each other.
            return Err(Breach::BoundAboveValue {
                bound: self.facts.value(root)?,
                plan: self.facts.value(plan)?,
            });
        }
        let range = Range {
            from: root,
            below: claimed,
            hand_below: None,
        };
        let boxes = boxes(self.facts, &self.certificate.mixes.splits)?;
        let (all, counted) = (pieces(self.facts), self.counted.pieces());
        let walked = match boxes {
            Some(boxes) => match self.walk((range, all.min(counted)), &boxes) {
                Walked::Refuted { leaned_on, .. } if all > counted && !leaned_on.is_empty() => {
                    match self.walk((range, all), &boxes) {
                        Walked::Open { .. } => Walked::OutOfReach,
                        walked => walked,
                    }
                }
                walked => walked,
            },
            None if range.is_empty() => Walked::nothing(range),
            None => Walked::OutOfReach,
        };
        Ok(match walked {
            Walked::Open { bars, cost } => {
                return Err(Breach::BoundNotProven {
                    plan: self.facts.value(claimed)?,
                    recomputed: self.facts.value(root)?,
                    mix: self.open(bars, cost)?,
                });
            }
            Walked::OutOfReach => Proven::Bound {
                by_prices: Some(root),
                leaned_on: 0,
                out_of_reach: true,
            },
            Walked::Refuted {
                leaned_on,
                by_prices_below,
            } => Proven::Bound {
                by_prices: Some(if leaned_on.is_empty() {
                    root.max(claimed)
                } else {
                    by_prices_below
                }),
                leaned_on: leaned_on.len(),
                out_of_reach: false,
            },
        })
    }

    /// Whether no plan that costs `value` cuts into less from hand than `plan`.
    ///
    /// Of a bound it is enough to look at bars that hold what the certificate counts: without the others a plan
    /// costs no more. A plan of a certain cost may need the others to come to it, so all bars are looked at, too;
    /// what the evidence does not reach then is on trust.
    pub fn hand(&mut self, value: i128, plan: Length) -> Result<Proven, Breach> {
        let range = Range {
            from: value,
            below: value.checked_add(1).ok_or(Breach::TooLarge)?,
            hand_below: Some(nm(plan)),
        };
        let whole = [MixBox::whole(self.facts)];
        let (all, counted) = (pieces(self.facts), self.counted.pieces());
        let mut walked = self.walk((range, all.min(counted)), &whole);
        if let Walked::Open { bars, cost } = walked {
            return Err(Breach::HandNotProven {
                plan,
                mix: self.open(bars, cost)?,
            });
        }
        if all > counted && matches!(walked, Walked::Refuted { .. }) {
            walked = self.walk((range, all), &whole);
        }
        Ok(match walked {
            Walked::Refuted { leaned_on, .. } => Proven::Bound {
                by_prices: None,
                leaned_on: leaned_on.len(),
                out_of_reach: false,
            },
            Walked::Open { .. } | Walked::OutOfReach => Proven::OUT_OF_REACH,
        })
    }

    fn open(&self, bars: Vec<u64>, cost: i128) -> Result<Box<OpenMix>, Breach> {
        let cost = self.facts.value(cost)?;
        Ok(Box::new(OpenMix { bars, cost }))
    }

    fn walk(&mut self, (range, pieces): (Range, u64), boxes: &[MixBox]) -> Walked {
        if range.is_empty() {
            return Walked::nothing(range);
        }
        let evidence = self
            .evidence
            .get_or_insert_with(|| Evidence::of(self.facts, self.certificate, &self.counted));
        walk(self.facts, evidence, (range, pieces), boxes)
    }
}

/// A claim that holds, that does if the searches that it leans on are believed, or that was not
/// recomputed.
pub(super) fn conclude(verified: &mut MaterialVerified, claim: Claim, proven: &Proven) {
    let Proven::Bound {
        leaned_on,
        out_of_reach,
        ..
    } = *proven
    else {
        return; // no claim at all
    };
    if out_of_reach {
        verified.on_trust.extend(
            match claim {
                Claim::LeastFromHand => [Some(Trust::LeastFromHand), None],
                Claim::Optimal => [Some(Trust::Bound), Some(Trust::Optimal)],
                _ => [Some(Trust::Bound), None],
            }
            .into_iter()
            .flatten(),
        );
    } else if leaned_on > 0 {
        let mixes = leaned_on;
        verified.on_trust.push(Trust::Searched { claim, mixes });
    } else {
        if claim == Claim::Optimal {
            verified.rechecked.push(Claim::Bound);
        }
        verified.rechecked.push(claim);
    }
}
