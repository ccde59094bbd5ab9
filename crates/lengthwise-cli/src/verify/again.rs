//! Materials whose proof rests on searches, solved again.

use std::collections::BTreeMap;

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
    /// It found that there is no plan, for the same reason.
    pub confirms_reason: bool,
    /// It found that no plan comes to less than is said.
    pub confirms_bound: bool,
    /// That no plan comes to less than this one.
    pub confirms_best: bool,
    /// That nothing is cheaper with joints where they were tried.
    pub confirms_joints: bool,
    /// That no plan of the same cost cuts into less from hand.
    pub confirms_hand: bool,
    /// The same of what was made good among equally cheap plans.
    pub confirms_preference: bool,
    /// The same of what plans come to whose walls may be of several batches.
    pub confirms_walls: bool,
}

/// What solving again made of something that had to be believed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Settled {
    /// It has to be believed still.
    Open,
    /// It was found to be so.
    Found,
    /// Whether it is so was not asked, but what rested on it was found without it.
    NotNeeded,
}

impl Settled {
    /// Found where something is confirmed.
    pub fn found(is_confirmed: bool) -> Settled {
        if is_confirmed {
            Settled::Found
        } else {
            Settled::Open
        }
    }
}

impl Again {
    /// What it makes of a claim.
    pub fn settles(self, trust: Trust) -> Settled {
        use lengthwise::verify::Claim;
        match trust {
            Trust::LeastFromHand
            | Trust::Searched {
                claim: Claim::LeastFromHand,
                ..
            } => Settled::found(self.confirms_hand),
            Trust::Optimal => Settled::found(self.confirms_best),
            Trust::Bound | Trust::Searched { .. } => Settled::found(self.confirms_bound),
            Trust::Preference => Settled::found(self.confirms_preference),
            Trust::WithoutWalls => Settled::found(self.confirms_walls),
            // Why there is no plan: of the material, or of a choice that the bound rests on.
            _ if self.confirms_bound => Settled::NotNeeded,
            _ => Settled::found(self.confirms_reason),
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
            confirms_reason: is_same_reason(saved, solved),
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
    let is_settled = matches!(solved.proof, Proof::Optimal | Proof::Gap(Stop::JointsTried));
    let is_equal = saved.value == solved.value;
    let (hand, least) = (saved.figures.hand_cut_into, solved.figures.hand_cut_into);
    Again {
        confirms_reason: false,
        confirms_bound: saved.bound <= solved.bound,
        confirms_best: saved.value <= solved.bound,
        confirms_joints: is_settled && is_equal && is_tried_alike(saved, solved),
        confirms_hand: is_equal && solved.hand_proof == Proof::Optimal && hand == least,
        confirms_preference: is_equal && hand == least && as_good(saved, solved),
        confirms_walls: match (&saved.walls, &solved.walls) {
            (Some(saved), Some(solved)) => saved.without == solved.without,
            _ => false,
        },
    }
}

/// Joints that were tried elsewhere say nothing of those that a plan names.
fn is_tried_alike(saved: &Cutting, solved: &Cutting) -> bool {
    saved.certificate.tried == solved.certificate.tried
}

/// Whether the same was found again, with the same proof, and among the same plans.
fn as_good(saved: &Cutting, solved: &Cutting) -> bool {
    let is_same = match &saved.preference {
        Preference::AsFound => false,
        Preference::Offcuts {
            same_bars: true, ..
        } => bars_of(saved) == bars_of(solved),
        _ => true,
    };
    is_same && saved.preference == solved.preference && is_tried_alike(saved, solved)
}

/// How many bars of each kind are cut.
fn bars_of(cutting: &Cutting) -> BTreeMap<usize, usize> {
    let mut bars = BTreeMap::new();
    for group in &cutting.bars {
        *bars.entry(group.bar).or_default() += group.names.len();
    }
    bars
}

#[cfg(test)]
#[allow(clippy::unwrap_used, clippy::panic)]
mod tests {
    use lengthwise::job::{PieceRow, StockRow};
    use lengthwise::plan::{Certificate, TriedPlaces};
    use lengthwise::{JobInput, Length, Limits, Origin, Price, Unit};

    use super::*;

    /// A plan of 340, 760, 220, 670 and 810 from bars of 1500, 1000 and 2000 mm that cost a hundredth of that.
    fn planned() -> Cutting {
        let origin = |line| Origin {
            source: "by hand".into(),
            line,
        };
        let measure = |length| Length::parse(length, Unit::Mm).unwrap();
        let pieces = ["340", "760", "220", "670", "810"];
        let pieces = pieces.map(|length| PieceRow::new(origin(2), measure(length)));
        let stock =
            [("1500", "15"), ("1000", "10"), ("2000", "20")].map(|(length, price)| StockRow {
                price: Some(Price::parse(price, false).unwrap()),
                ..StockRow::new(origin(2), measure(length))
            });
        let input = JobInput {
            pieces: pieces.into(),
            stock: stock.into(),
            ..JobInput::default()
        };
        let plan = lengthwise::solve(&input.validate().unwrap(), &Limits::default());
        let mut outcomes = plan.materials.into_iter().map(|material| material.outcome);
        match outcomes.next() {
            Some(Outcome::Planned(cutting)) => *cutting,
            _ => panic!("a plan"),
        }
    }

    fn money(price: &str) -> Value {
        Value::Money(Price::parse(price, false).unwrap())
    }

    /// Joints tried at the same places, with the same cost: still a bound is settled by as high a bound only.
    #[test]
    fn only_as_high_a_bound_settles_a_bound() {
        let solved = Cutting {
            proof: Proof::Gap(Stop::JointsTried),
            bound: money("20"),
            ..planned()
        };
        let bound_of = |bound| {
            let saved = Cutting {
                bound: money(bound),
                ..solved.clone()
            };
            confirmed(&saved, &solved)
        };
        let searched = Trust::Searched {
            claim: lengthwise::verify::Claim::Bound,
            mixes: 1,
        };
        for (bound, settled) in [
            ("19", Settled::Found),
            ("20", Settled::Found),
            ("21", Settled::Open),
        ] {
            let again = bound_of(bound);
            assert!(again.confirms_joints && !again.confirms_best);
            assert_eq!(again.settles(Trust::Bound), settled, "{bound}");
            assert_eq!(again.settles(searched), settled, "{bound}");
            assert_eq!(again.settles(Trust::Optimal), Settled::Open, "{bound}");
        }
        let elsewhere = Cutting {
            certificate: Certificate {
                tried: vec![TriedPlaces {
                    mark: "R".to_owned(),
                    places: vec![],
                }],
                ..solved.certificate.clone()
            },
            ..solved.clone()
        };
        assert!(!confirmed(&elsewhere, &solved).confirms_joints);
    }

    /// A reason that a choice has no plan for was not asked for, so it is not found to be so either.
    #[test]
    fn reasons_of_choices_are_not_found_but_not_needed() {
        let solved = planned();
        let again = confirmed(&solved, &solved);
        for trust in [
            Trust::NotEnoughBars { left_over: 9 },
            Trust::Walls,
            Trust::Courses,
        ] {
            assert_eq!(again.settles(trust), Settled::NotNeeded);
        }
        assert_eq!(again.settles(Trust::Optimal), Settled::Found);
        let dearer = Cutting {
            bound: money("31"),
            ..solved.clone()
        };
        let again = confirmed(&dearer, &solved);
        assert_eq!(again.settles(Trust::Walls), Settled::Open);
    }

    /// What holds among plans of the same bars says nothing of those of others.
    #[test]
    fn a_preference_among_the_same_bars_is_settled_by_those() {
        let mut saved = planned();
        let Preference::Offcuts { same_bars, .. } = &mut saved.preference else {
            panic!("offcuts are preferred")
        };
        *same_bars = true;
        assert!(confirmed(&saved, &saved).confirms_preference);
        let mut others = saved.clone();
        for group in &mut others.bars {
            group.bar += 1;
        }
        assert!(!confirmed(&others, &saved).confirms_preference);
    }

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
