//! Insurance: whether the spares of a plan are enough for what it is insured against.
//!
//! What the plan without insurance comes to, and that no insured plan comes to less than said, rest on
//! searches.

use lengthwise::Length;
use lengthwise::insure::{Insurance, MaterialInsured, Terms};
use lengthwise::job::{Material, Shape};
use lengthwise::plan::{Cutting, Outcome, Value};

use crate::json::read_back::whole::Whole;
use crate::text::shown_name;

/// What does not hold, as sentences.
pub fn check(whole: &Whole) -> Vec<String> {
    let mut wrong = Vec::new();
    let insurance = whole.cover.insurance;
    let materials = whole
        .job
        .materials()
        .iter()
        .zip(whole.uninsured.materials());
    let plans = whole.plan.materials.iter().zip(&whole.cover.materials);
    for ((material, uninsured), (plan, insured)) in materials.zip(plans) {
        let mut say = |what: &str| wrong.push(format!("{}: {what}", named(material)));
        let Outcome::Planned(cutting) = &plan.outcome else {
            if *insured != MaterialInsured::NothingPlanned {
                say("an insurance without a plan");
            }
            continue;
        };
        match insured {
            MaterialInsured::NothingPlanned => {
                if !insurance.is_none() {
                    say("the job is insured, the plan says nothing of it");
                }
            }
            _ if insurance.is_none() => say("the plan is insured, the job is not"),
            MaterialInsured::Refused(_) | MaterialInsured::SeveralBatches => {}
            MaterialInsured::Insured(terms) => {
                let cover = Cover {
                    material,
                    uninsured,
                    cutting,
                    terms,
                };
                cover.check(insurance, &mut say);
            }
        }
    }
    wrong
}

/// The name of a material, or what stands for it.
pub fn named(material: &Material) -> &str {
    shown_name(material.name())
}

struct Cover<'w> {
    material: &'w Material,
    uninsured: &'w Material,
    cutting: &'w Cutting,
    terms: &'w Terms,
}

impl Cover<'_> {
    fn check(&self, insurance: Insurance, say: &mut impl FnMut(&str)) {
        let Terms {
            reserves,
            standing,
            longest_bar,
            with,
            least,
            ..
        } = self.terms;
        if *with != self.cutting.value {
            say("the price with insurance is not that of the plan");
        }
        if exceeds(*least, *with) {
            say("the plan costs less than what is said to be the least");
        }
        let longest = self.longest_taken();
        let mut spares = reserves.iter().filter(|reserve| !reserve.is_bar);
        let kept = spares
            .clone()
            .try_fold(*standing, |sum, reserve| sum.checked_add(reserve.count));
        if kept != Some(insurance.pieces) {
            say("the spares are not as many as the spoiled pieces that it is insured against");
        }
        if spares.any(|reserve| self.takes(reserve.shape) < longest) {
            say("a spare is shorter than the longest piece or part");
        }
        let pieces = self.uninsured.pieces().iter();
        let there = pieces.filter(|piece| {
            let holds = self.takes(piece.shape()) >= longest;
            piece.is_spare() && piece.run().is_none() && holds
        });
        if there.map(|piece| piece.qty()).sum::<u64>() < *standing {
            say("fewer spares of the job itself count than is said");
        }
        let mut bars = reserves.iter().filter(|reserve| reserve.is_bar);
        let bar = bars.next();
        let one_if_asked = bar.map_or(0, |bar| bar.count) == u64::from(insurance.bar);
        if bars.next().is_some() || !one_if_asked {
            say("the spares for a bad bar are not as asked");
        }
        if bar.is_some_and(|bar| bar.shape.length < self.longest_bar_cut()) {
            say("the spare for a bad bar is shorter than a bar that is cut into");
        }
        let mut kinds = self.uninsured.bars().iter();
        if longest_bar.is_some_and(|longest| !kinds.any(|bar| bar.usable() == longest)) {
            say("no bar has as much to use as the longest that is bought");
        }
    }

    /// What a piece takes of a bar by itself.
    fn takes(&self, shape: Shape) -> Length {
        let mitred = self.material.mitre_allowance(shape.ends);
        shape.length.checked_add(mitred).unwrap_or(Length::MAX)
    }

    /// The most that a piece or a part takes, spares left out.
    fn longest_taken(&self) -> Length {
        let cuts = self.cutting.bars.iter().flat_map(|group| &group.cuts);
        let cuts = cuts.filter(|cut| !cut.spare);
        let takes = cuts.map(|cut| self.takes(cut.shape()));
        takes.max().unwrap_or(Length::ZERO)
    }

    fn longest_bar_cut(&self) -> Length {
        // A bar on which nothing but spares lie stays whole.
        let bars = self.cutting.bars.iter();
        let bars = bars.filter(|group| group.cuts.iter().any(|cut| !cut.spare));
        let bars = bars.filter_map(|group| self.material.bars().get(group.bar));
        let usable = bars.map(|bar| bar.usable());
        usable.max().unwrap_or(Length::ZERO)
    }
}

/// Whether a value is more than another of its kind.
fn exceeds(one: Value, other: Value) -> bool {
    one.partial_cmp(&other).is_none_or(|order| order.is_gt())
}
