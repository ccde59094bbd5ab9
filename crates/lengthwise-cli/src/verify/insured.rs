//! Insurance: whether the spares of a plan are enough for what it is insured against.
//!
//! What the plan without insurance comes to, and that no insured plan comes to less than said, rest on
//! searches.

use lengthwise::Length;
use lengthwise::insure::{Insurance, MaterialInsured, Terms, is_of_several_batches};
use lengthwise::job::{Material, Piece, Shape};
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
            MaterialInsured::Refused(_) => {}
            MaterialInsured::SeveralBatches => {
                if !is_of_several_batches(uninsured) {
                    say("nothing of it has to come from one of several batches");
                }
            }
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
        if self.holding(self.uninsured, longest) < *standing {
            say("fewer spares of the job itself count than is said");
        }
        // Some may have given way to others; the room for a bad bar is for that alone.
        let for_bar = reserves.iter().filter(|reserve| reserve.is_bar);
        let for_bar = for_bar.fold(0, |sum: u64, bar| sum.saturating_add(bar.count));
        let kept = self.holding(self.material, longest);
        if kept.saturating_sub(for_bar) < insurance.pieces {
            say(
                "the plan has fewer spares that hold the longest piece or part than it is insured for",
            );
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

    /// Spares of a material that hold so much.
    fn holding(&self, material: &Material, longest: Length) -> u64 {
        let holds = |piece: &&Piece| {
            let is_one = piece.is_spare() && piece.run().is_none();
            is_one && self.takes(piece.shape()) >= longest
        };
        let all = material.pieces().iter().filter(holds);
        all.fold(0, |sum, piece| sum.saturating_add(piece.qty()))
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

#[cfg(test)]
#[allow(clippy::unwrap_used, clippy::panic)]
mod tests {
    use std::sync::Arc;

    use lengthwise::job::{Ends, JobInput, PieceRow, Reserve, StockRow};
    use lengthwise::{Limits, Measure, Origin, Unit, solve};

    use super::*;

    fn spares(length: u32, count: u64) -> Reserve {
        Reserve {
            mark: format!("S{length}"),
            shape: Shape {
                length: Length::from_mm(length),
                ends: Ends::default(),
                batch: None,
            },
            count,
            is_bar: false,
        }
    }

    /// What is said against one piece of 1000 with one spare of its own, insured by these.
    fn said(reserves: &[Reserve], standing: u64, pieces: u64) -> Vec<String> {
        let origin = |line| Origin {
            source: Arc::from("test"),
            line,
        };
        let mm = |length| Measure {
            length: Length::from_mm(length),
            unit: Unit::Mm,
        };
        let row = PieceRow {
            spare: 1,
            ..PieceRow::new(origin(2), mm(1000))
        };
        let input = JobInput {
            pieces: vec![row],
            stock: vec![StockRow::new(origin(3), mm(4100))],
            ..JobInput::default()
        };
        let job = input.validate().unwrap();
        let insured = job.with_reserves(&[reserves.to_vec()]).unwrap();
        let plan = solve(&insured, &Limits::default());
        let Outcome::Planned(cutting) = &plan.materials[0].outcome else {
            panic!("{plan:?}");
        };
        let cover = Cover {
            material: &insured.materials()[0],
            uninsured: &job.materials()[0],
            cutting,
            terms: &Terms {
                reserves: reserves.to_vec(),
                standing,
                gave_way: 0,
                longest_bar: None,
                without: cutting.value,
                without_bound: cutting.value,
                with: cutting.value,
                bound: cutting.bound,
                least: cutting.value,
            },
        };
        let mut said = Vec::new();
        let insurance = Insurance { pieces, bar: false };
        cover.check(insurance, &mut |what| said.push(what.to_owned()));
        said
    }

    /// The spare of its own gives way to one of 1001, and the shorter of two reserves to the longer.
    #[test]
    fn spares_that_gave_way_do_not_count() {
        assert_eq!(said(&[], 1, 1), [""; 0]);
        assert_eq!(said(&[spares(1000, 1)], 1, 2), [""; 0]);
        assert_eq!(said(&[spares(1001, 1)], 0, 1), [""; 0]);
        let few =
            "the plan has fewer spares that hold the longest piece or part than it is insured for";
        assert_eq!(said(&[spares(1001, 1)], 1, 2), [few]);
        assert_eq!(said(&[spares(1000, 1), spares(1001, 2)], 0, 3), [few]);
    }
}
