//! What was found of a saved plan, as JSON. Field names are a promise.

use lengthwise::verify::Claim;
use serde::Serialize;

use crate::text::verified::{OnTrust, on_trust};
use crate::text::words;
use crate::verify::{Judgement, Settled};

/// The whole finding.
#[derive(Debug, Serialize)]
pub struct VerifiedJson {
    accepted: bool,
    materials: Vec<MaterialJson>,
    /// Why it is refused, as sentences.
    reasons: Vec<String>,
}

#[derive(Debug, Serialize)]
struct MaterialJson {
    material: String,
    /// Whether every claim of it holds.
    holds: bool,
    rechecked: Vec<&'static str>,
    /// What its certificate proves by itself.
    bound: Option<String>,
    on_trust: Vec<String>,
    /// What was on trust and was found again.
    solved_again: Vec<String>,
}

/// A clause, of what need not be believed any more with that before it.
fn said(trust: OnTrust) -> String {
    match trust.settled {
        Settled::Open | Settled::Found => trust.what,
        Settled::NotNeeded => format!("not needed any more: {}", trust.what),
    }
}

impl VerifiedJson {
    /// The promised form of a finding.
    pub fn new(judgement: &Judgement) -> VerifiedJson {
        let plans = judgement
            .whole
            .iter()
            .flat_map(|whole| &whole.plan.materials);
        let found = judgement.materials.iter().zip(&judgement.again);
        let insured = |place: usize| judgement.whole.as_ref()?.cover.materials.get(place);
        let all = plans.zip(found).enumerate();
        let materials = all.map(|(place, (plan, (verified, again)))| {
            let Some(verified) = verified else {
                return MaterialJson {
                    material: plan.name.clone(),
                    holds: false,
                    rechecked: vec![],
                    bound: None,
                    on_trust: vec![],
                    solved_again: vec![],
                };
            };
            let trusts = on_trust(plan, insured(place), verified, *again).into_iter();
            let (settled, left): (Vec<_>, Vec<_>) = trusts.partition(OnTrust::is_settled);
            let words = |trusts: Vec<OnTrust>| trusts.into_iter().map(said).collect();
            MaterialJson {
                material: plan.name.clone(),
                holds: true,
                rechecked: verified
                    .rechecked
                    .iter()
                    .map(|&claim| name(claim))
                    .collect(),
                bound: verified.bound.map(|bound| words::value(bound, plan.unit)),
                on_trust: words(left),
                solved_again: words(settled),
            }
        });
        VerifiedJson {
            accepted: judgement.is_accepted(),
            materials: materials.collect(),
            reasons: judgement.reasons.iter().map(ToString::to_string).collect(),
        }
    }
}

/// The promised name of a claim.
fn name(claim: Claim) -> &'static str {
    match claim {
        Claim::Bars => "bars",
        Claim::Demand => "demand",
        Claim::Buying => "buying",
        Claim::Figures => "figures",
        Claim::Bound => "bound",
        Claim::Optimal => "optimal",
        Claim::LeastFromHand => "least from hand",
        Claim::PieceTooLong => "piece too long",
        Claim::NoSplit => "no split",
        Claim::NotEnoughLength => "not enough length",
        _ => "other",
    }
}
