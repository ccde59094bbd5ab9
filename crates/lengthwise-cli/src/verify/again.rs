//! Materials whose proof rests on searches, solved again.

use lengthwise::Job;
use lengthwise::plan::{
    Cutting, Impossible, MaterialPlan, Outcome, Plan, Preference, Proof, Stop, Value,
};
use lengthwise::verify::Trust;

use super::insured::named;
use super::{Judgement, Reason, claims_joints_tried};
use crate::json::read_back::whole::Whole;
use crate::text::verified::shown;

/// What solving a material again said.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Again {
    /// It found the same, so that nothing of cost or impossibility is left on trust.
    pub confirms_cost: bool,
    /// The same of what is cut into from hand.
    pub confirms_hand: bool,
    /// The same of what was made good among equally cheap plans.
    pub confirms_preference: bool,
    /// The same of what plans come to whose walls may be of several batches.
    pub confirms_walls: bool,
}

impl Again {
    /// Whether a claim is settled by it.
    pub fn settles(self, trust: Trust) -> bool {
        use lengthwise::verify::Claim;
        match trust {
            Trust::LeastFromHand
            | Trust::Searched {
                claim: Claim::LeastFromHand,
                ..
            } => self.confirms_hand,
            Trust::Preference => self.confirms_preference,
            Trust::WithoutWalls => self.confirms_walls,
            _ => self.confirms_cost,
        }
    }
}

impl Judgement {
    /// Solves every material again of which something is on trust. A plan that is refused already stays so.
    pub fn again(&mut self, solve: &mut dyn FnMut(&Job) -> Plan) {
        let Some(whole) = self.whole.as_ref().filter(|_| self.reasons.is_empty()) else {
            return;
        };
        let rests_on_trust = |(place, plan): (usize, &MaterialPlan)| {
            let verified = self.materials.get(place).and_then(Option::as_ref);
            let on_trust = verified.is_some_and(|verified| !verified.on_trust.is_empty());
            (on_trust || claims_joints_tried(&plan.outcome)).then_some(place)
        };
        let materials = whole.plan.materials.iter().enumerate();
        let places: Vec<usize> = materials.filter_map(rests_on_trust).collect();
        if places.is_empty() {
            return;
        }
        let solved = solve(&whole.job.of_materials(&places));
        let mut reasons = Vec::new();
        for (&place, solved) in places.iter().zip(&solved.materials) {
            let again = compare(whole, place, solved, &mut reasons);
            if let Some(slot) = self.again.get_mut(place) {
                *slot = again;
            }
        }
        self.reasons.extend(reasons.into_iter().map(Reason::Again));
    }
}

fn compare(
    whole: &Whole,
    place: usize,
    solved: &MaterialPlan,
    reasons: &mut Vec<String>,
) -> Option<Again> {
    let material = whole.job.materials().get(place)?;
    let saved = whole.plan.materials.get(place)?;
    let mut say = |what: String| reasons.push(format!("{}: {what}", named(material)));
    let show = |value: Value| shown(value, material);
    match (&saved.outcome, &solved.outcome) {
        (Outcome::Planned(saved), Outcome::Planned(solved)) => {
            // Joints are tried at the same places again, for they follow from the job.
            if solved.value < claimed(saved) {
                say(format!(
                    "solved again: there is a plan for {}, so that none for less than {} is wrong",
                    show(solved.value),
                    show(claimed(saved))
                ));
            }
            if saved.value < solved.bound {
                say(format!(
                    "solved again: no plan comes to less than {}, this one to {}",
                    show(solved.bound),
                    show(saved.value)
                ));
            }
            if let Some(what) = beaten(saved, solved) {
                say(format!("solved again: a plan of the same cost {what}"));
            }
            Some(confirmed(saved, solved))
        }
        (Outcome::Impossible(saved), Outcome::Impossible(solved)) => Some(Again {
            confirms_cost: is_same_reason(saved, solved),
            ..Again::default()
        }),
        (Outcome::Impossible(_), Outcome::Planned(_)) => {
            say("solved again: there is a plan".to_owned());
            Some(Again::default())
        }
        (Outcome::Planned(_), Outcome::Impossible(_)) => {
            say("solved again: there is no plan".to_owned());
            Some(Again::default())
        }
        _ => Some(Again::default()),
    }
}

/// Whether what is impossible was found for the same reason; what is said to be left over, that or more.
fn is_same_reason(saved: &Impossible, solved: &Impossible) -> bool {
    match (saved, solved) {
        (
            Impossible::NotEnoughBars { left_over: said },
            Impossible::NotEnoughBars { left_over: found },
        ) => said <= found,
        _ => saved == solved,
    }
}

/// No plan is said to come to less than this.
fn claimed(saved: &Cutting) -> Value {
    match saved.proof {
        Proof::Gap(Stop::JointsTried) => saved.value,
        _ => saved.bound,
    }
}

/// What a plan of the same cost does better, though that is said not to be.
fn beaten(saved: &Cutting, solved: &Cutting) -> Option<&'static str> {
    if saved.value != solved.value {
        return None;
    }
    let (hand, least) = (saved.figures.hand_cut_into, solved.figures.hand_cut_into);
    if saved.hand_proof == Proof::Optimal && least < hand {
        return Some("cuts into less from hand");
    }
    if hand != least {
        return None;
    }
    match (&saved.preference, &solved.preference) {
        (Preference::Offcuts { spare: said, .. }, Preference::Offcuts { spare: found, .. }) => {
            let is_better = said.bound.is_some_and(|bound| found.found > bound);
            is_better.then_some("has more room for errors than is said to be the most")
        }
        (
            Preference::Setups { patterns: said, .. },
            Preference::Setups {
                patterns: found, ..
            },
        ) => {
            let is_better = said.bound.is_some_and(|bound| found.found < bound);
            is_better.then_some("has fewer ways of cutting a bar than is said to be the fewest")
        }
        _ => None,
    }
}

fn confirmed(saved: &Cutting, solved: &Cutting) -> Again {
    // The bound of the saved plan was found again, or more.
    let confirms_cost = match saved.proof {
        Proof::Gap(Stop::JointsTried) => {
            let is_settled = matches!(solved.proof, Proof::Optimal | Proof::Gap(Stop::JointsTried));
            // Joints that were tried elsewhere say nothing of those that the plan names.
            let is_same = saved.certificate.tried == solved.certificate.tried;
            is_settled && is_same && saved.value == solved.value
        }
        _ => saved.bound <= solved.bound,
    };
    let is_equal = saved.value == solved.value;
    let (hand, least) = (saved.figures.hand_cut_into, solved.figures.hand_cut_into);
    Again {
        confirms_cost,
        confirms_hand: is_equal && solved.hand_proof == Proof::Optimal && hand == least,
        confirms_preference: is_equal && hand == least && as_good(saved, solved),
        confirms_walls: match (&saved.walls, &solved.walls) {
            (Some(saved), Some(solved)) => saved.without == solved.without,
            _ => false,
        },
    }
}

/// Whether the same was found again, with the same proof.
fn as_good(saved: &Cutting, solved: &Cutting) -> bool {
    saved.preference == solved.preference && saved.preference != Preference::AsFound
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn another_reason_settles_nothing() {
        let left_over = |left_over| Impossible::NotEnoughBars { left_over };
        assert!(is_same_reason(&left_over(1), &left_over(1)));
        assert!(is_same_reason(&left_over(1), &left_over(3)));
        assert!(!is_same_reason(&left_over(3), &left_over(1)));
        let walls = Impossible::Walls { walls: 2 };
        assert!(is_same_reason(&walls, &walls));
        assert!(!is_same_reason(&walls, &left_over(1)));
    }
}
