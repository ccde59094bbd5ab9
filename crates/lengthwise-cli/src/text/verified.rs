//! What holds of a saved plan, material by material, and why it is refused.

use std::collections::BTreeMap;

use lengthwise::insure::MaterialInsured;
use lengthwise::job::Material;
use lengthwise::plan::{Cutting, MaterialPlan, Outcome, Value};
use lengthwise::verify::{Claim, MaterialVerified, Trust};

use super::ink::Ink;
use super::layout::{counted, paragraph};
use super::{name_of, words};
use crate::verify::{Again, Judgement, Settled, claims_joints_tried};

/// The whole finding; `source` is the file, `again` whether it was asked to solve again.
pub fn verified(judgement: &Judgement, source: &str, again: bool, ink: Ink) -> String {
    let mut out = String::new();
    let mut open = 0;
    // What is on trust of nearly every material is said once.
    let mut alike: BTreeMap<String, u64> = BTreeMap::new();
    if let Some(whole) = &judgement.whole {
        let both = whole.job.materials().iter().zip(&whole.plan.materials);
        let found = judgement.materials.iter().zip(&judgement.again);
        for (place, ((material, plan), (verified, again))) in both.zip(found).enumerate() {
            let Some(verified) = verified else {
                let refused = format!("{}: refused, see below.", name_of(plan));
                out.push_str(&paragraph("", &refused, 2));
                continue;
            };
            let insured = whole.cover.materials.get(place);
            let sentence = format!(
                "{}: {}",
                name_of(plan),
                recomputed(material, plan, insured, verified)
            );
            out.push_str(&paragraph("", &sentence, 2));
            let trusts = on_trust(plan, insured, verified, *again);
            let (settled, left): (Vec<_>, Vec<_>) =
                trusts.into_iter().partition(OnTrust::is_settled);
            for trust in settled.into_iter().chain(left) {
                let lead = match trust.settled {
                    Settled::Open => "On trust: ",
                    Settled::Found => "Solved again: it is so ",
                    Settled::NotNeeded => "Solved again: it need not be believed any more ",
                };
                if trust.is_preference {
                    *alike.entry(format!("{lead}{}", trust.what)).or_insert(0) += 1;
                } else {
                    let lead = format!("  {lead}");
                    out.push_str(&paragraph(&lead, &format!("{}.", trust.what), 4));
                }
                open += usize::from(!trust.is_settled());
            }
        }
    }
    for (what, materials) in alike {
        let materials = counted(materials, "material", "materials");
        out.push_str(&paragraph("", &format!("{what} ({materials})."), 2));
    }
    if !out.is_empty() {
        out.push('\n');
    }
    out.push_str(&last(judgement, source, open, again, ink));
    out
}

/// The sentence that sums it up, with every reason against it.
fn last(judgement: &Judgement, source: &str, open: usize, again: bool, ink: Ink) -> String {
    if !judgement.is_accepted() {
        let reasons = judgement.reasons.len() as u64; // widening on every platform
        let many = counted(reasons, "reason", "reasons");
        let mut out = ink.bad(&format!("Refused: {source} does not hold, for {many}.\n"));
        for reason in &judgement.reasons {
            out.push_str(&paragraph("  ", &reason.to_string(), 4));
        }
        return out;
    }
    let holds = ink.good(&format!("{source} holds.\n"));
    let rest = match (open, again) {
        (0, _) => "Nothing in it is on trust.",
        (_, false) => "What is on trust rests on searches; --again solves those materials anew.",
        (_, true) => "What is still on trust, solving again did not settle.",
    };
    holds + &paragraph("", rest, 0)
}

/// What was recomputed of a material.
fn recomputed(
    material: &Material,
    plan: &MaterialPlan,
    insured: Option<&MaterialInsured>,
    verified: &MaterialVerified,
) -> String {
    match &plan.outcome {
        Outcome::Planned(cutting) => {
            let hand = if least_from_hand(material, verified) {
                "; no plan of the same cost cuts into less from hand"
            } else {
                ""
            };
            format!(
                "demand, balance, buying list and figures hold, and it comes to {}; {}{}{hand}.",
                shown(cutting.value, material),
                bound(material, cutting, verified),
                of_which(material, insured)
            )
        }
        Outcome::Impossible(reason) => {
            let why = words::impossible(reason, plan.unit);
            let known = if verified.on_trust.is_empty() {
                "that there is no plan was recomputed"
            } else {
                "no plan is given"
            };
            format!("{known}. {why}")
        }
        Outcome::Unknown(_) => "no plan is given, and none is claimed to be impossible.".to_owned(),
    }
}

/// Among which plans a bound holds: an insurance adds spares, and may leave bars out.
fn of_which(material: &Material, insured: Option<&MaterialInsured>) -> String {
    let Some(MaterialInsured::Insured(terms)) = insured else {
        return String::new();
    };
    let longest = terms.longest_bar.map(|longest| {
        let longest = longest.text(material.unit());
        format!(" and no bar bought that has more than {longest} to use")
    });
    format!(" with these spares{}", longest.unwrap_or_default())
}

fn least_from_hand(material: &Material, verified: &MaterialVerified) -> bool {
    let mut bars = material.bars().iter();
    bars.any(|bar| bar.is_in_hand()) && verified.rechecked.contains(&Claim::LeastFromHand)
}

/// The bound, and what it rests on.
fn bound(material: &Material, cutting: &Cutting, verified: &MaterialVerified) -> String {
    let claimed = shown(cutting.bound, material);
    if verified.rechecked.contains(&Claim::Optimal) {
        return "by its certificate no plan comes to less".to_owned();
    }
    if verified.rechecked.contains(&Claim::Bound) {
        return format!("by its certificate no plan comes to less than {claimed}");
    }
    match verified.bound {
        Some(bound) => format!(
            "by its certificate alone no plan comes to less than {}",
            shown(bound, material)
        ),
        None if rests_on_choices(cutting, verified) => {
            "what its certificate proves rests on what is on trust".to_owned()
        }
        None => "its certificate was not recomputed".to_owned(),
    }
}

/// Whether it has to be believed of some choice of prices and batches that it has no plan.
fn rests_on_choices(cutting: &Cutting, verified: &MaterialVerified) -> bool {
    let mut trusts = verified.on_trust.iter();
    let is_of_choice = |trust: &Trust| {
        matches!(
            trust,
            Trust::NotEnoughBars { .. } | Trust::NotEnoughLength | Trust::Courses
        )
    };
    !cutting.certificate.combinations.is_empty() && trusts.any(is_of_choice)
}

/// What a plan comes to, as it stands in a sentence.
pub fn shown(value: Value, material: &Material) -> String {
    let text = words::value(value, material.unit());
    match value {
        Value::Money(_) => text,
        Value::Bought(_) => format!("{text} bought"),
    }
}

/// Something that has to be believed.
#[derive(Debug)]
pub struct OnTrust {
    /// As a clause.
    pub what: String,
    /// Whether it is about what is better among equally cheap plans.
    pub is_preference: bool,
    /// What solving again made of it.
    pub settled: Settled,
}

impl OnTrust {
    /// Whether it has not to be believed any more.
    pub fn is_settled(&self) -> bool {
        self.settled != Settled::Open
    }
}

/// What has to be believed of a material, and whether solving again settled it.
pub fn on_trust(
    plan: &MaterialPlan,
    insured: Option<&MaterialInsured>,
    verified: &MaterialVerified,
    again: Option<Again>,
) -> Vec<OnTrust> {
    let of_value = |value: Value| match value {
        Value::Money(price) => price.to_string(),
        Value::Bought(length) => length.text(plan.unit),
    };
    let (claimed, of_choice) = match &plan.outcome {
        Outcome::Planned(cutting) => (of_value(cutting.bound), rests_on_choices(cutting, verified)),
        _ => (String::new(), false),
    };
    let trusts = verified.on_trust.iter().map(|&trust| {
        let settled = again.map_or(Settled::Open, |again| again.settles(trust));
        OnTrust {
            what: sentence(trust, &claimed, of_choice, settled),
            is_preference: trust == Trust::Preference,
            settled,
        }
    });
    let mut trusts: Vec<_> = trusts.collect();
    if claims_joints_tried(&plan.outcome) {
        trusts.push(OnTrust {
            what: "that nothing is cheaper with joints at the places that were tried".to_owned(),
            is_preference: false,
            settled: Settled::found(again.is_some_and(|again| again.confirms_joints)),
        });
    }
    // Solving again does not insure again.
    let of_insurance = match insured {
        Some(MaterialInsured::Insured(_)) => Some(
            "what it comes to without insurance, that no insured plan comes to less than said, and which \
             spares gave way",
        ),
        Some(MaterialInsured::Refused(_)) => Some("why it is not insured"),
        _ => None,
    };
    trusts.extend(of_insurance.map(|what| OnTrust {
        what: what.to_owned(),
        is_preference: false,
        settled: Settled::Open,
    }));
    trusts
}

/// Of plans that cost as much: where the plan is not the cheapest, cheaper ones may cut into less.
const LEAST_FROM_HAND: &str = "that no plan of the same cost cuts into less from hand";

fn none_for_less(claimed: &str) -> String {
    format!("that no plan comes to less than {claimed}")
}

/// With `of_choice` some choices of prices and batches are believed to have no plan. What was found again says
/// nothing of why the certificate did not tell.
fn sentence(trust: Trust, claimed: &str, of_choice: bool, settled: Settled) -> String {
    if settled == Settled::Found {
        match trust {
            Trust::Bound => return none_for_less(claimed),
            Trust::Optimal => return "that this is the best plan".to_owned(),
            Trust::LeastFromHand => return LEAST_FROM_HAND.to_owned(),
            Trust::Searched { claim, .. } => {
                return match claim {
                    Claim::LeastFromHand => LEAST_FROM_HAND.to_owned(),
                    _ => none_for_less(claimed),
                };
            }
            _ => {}
        }
    }
    let (too_much, at_choice) = if of_choice {
        (
            "it rests on the choices that have no plan",
            " at some choice of prices or batches",
        )
    } else {
        (
            "its certificate does not reach so far, or recomputing it takes too much work or too many digits",
            "",
        )
    };
    match trust {
        Trust::Bound => format!("{}: {too_much}", none_for_less(claimed)),
        Trust::Optimal => "that this is the best plan, for the same reason".to_owned(),
        Trust::LeastFromHand => format!("{LEAST_FROM_HAND}: {too_much}"),
        Trust::Searched { claim, mixes } => {
            let mixes = mixes as u64; // widening on every platform
            let searched = match mixes {
                1 => "the search that refuted a mix of bars was exhausted".to_owned(),
                _ => format!("the searches that refuted {mixes} mixes of bars were exhausted"),
            };
            let what = match claim {
                Claim::LeastFromHand => LEAST_FROM_HAND.to_owned(),
                _ => none_for_less(claimed),
            };
            format!("that {searched}, on which it rests {what}")
        }
        Trust::Preference => {
            "that no plan as cheap is better in offcuts or setups, as far as that is claimed"
                .to_owned()
        }
        Trust::WithoutWalls => {
            "what plans come to whose walls may be of several batches".to_owned()
        }
        Trust::Walls => "that there is no way to take each wall from one batch".to_owned(),
        Trust::Courses => {
            format!("that the courses cannot be joined as their rule wants it{at_choice}")
        }
        Trust::NotEnoughLength => {
            format!("that the pieces take more length than there is{at_choice}: {too_much}")
        }
        Trust::NotEnoughBars { left_over } => {
            format!(
                "that {left_over} or more pieces stay uncut{at_choice} however the bars are cut"
            )
        }
        _ => "a claim that this version has no words for".to_owned(),
    }
}
