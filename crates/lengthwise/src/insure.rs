//! Insurance against spoiled pieces and a bad bar: what a plan needs besides, and what that costs.
//!
//! **Spoiled pieces.** A spoiled piece is lost altogether, and what is cut in its place may be spoiled
//! too. To survive `N` of them a plan needs `N` spares of the piece that takes most of a bar. They are
//! enough: each holds whatever was spoiled, and is left uncut until then. They are necessary: the
//! piece that takes most may be spoiled itself, and all that is cut in its place, so that the bars must
//! hold `N` more of it. Spares that the job has already count where they take as much. Shorter ones give
//! way to those that are added, as many of them, the longest first: what is kept for a longer piece serves
//! for a shorter one too. Those that are left are kept besides, also in what is proven.
//!
//! **Parts of runs** follow from the plan: `N` spares of the longest part that the insured plan
//! itself has are enough. How long that is, only the plan tells; so the job is planned again with longer
//! spares until no part is longer. Where these have no place, it is planned from shorter bars, which make
//! shorter parts. Necessary are spares of the longest part that no split can do without:
//! the job with those proves what every insured plan costs at the least. The two may differ.
//!
//! **A bad bar** of the longest kind that the plan cuts pieces from, found bad before the first cut. A bar
//! with nothing on it but spares is not cut into as long as nothing goes wrong, and does not count. What
//! the others leave must hold all that it would have held; so the plan needs one spare as long as
//! what that kind of bar has to use. Any other bar that is cut into may be the bad one too. Again
//! the kind follows from the plan, and planning from shorter bars only may cost less; the shortest bar that
//! holds the longest piece proves what every such plan costs at the least. Plans whose spares alone lie on longer
//! bars are not looked for.
//!
//! **Not insured.** That it is impossible is only said where there is no place for the necessary spares.
//! Otherwise plans were not found, and there may be some.

use std::collections::BTreeSet;

#[cfg(feature = "serde")]
use serde::{Deserialize, Serialize};

use crate::fault::Faults;
use crate::job::{Job, Material, Piece, Reserve, Shape};
use crate::length::Length;
use crate::plan::{BarGroup, Cutting, MaterialPlan, Outcome, Plan, Stop, Value};
use crate::problem::least_longest_part;

/// Plans with spares that grow, before the longest bar of all settles it.
const MOST_ROUNDS: usize = 6;
/// Kinds of bar that are tried as the longest, each a plan of its own.
const MOST_KINDS: usize = 12;
/// Kinds of bar that are tried as the longest where grown spares have no place, several plans each.
const MOST_RETREATS: usize = 6;

/// What to insure against.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct Insurance {
    /// So many spoiled pieces of every material, up to
    /// [`LARGEST_QUANTITY`](crate::job::LARGEST_QUANTITY).
    pub pieces: u64,
    /// One bad bar of every material.
    pub bar: bool,
}

impl Insurance {
    /// Whether there is nothing to insure against.
    pub fn is_none(self) -> bool {
        self == Insurance::default()
    }
}

/// A job with its insurance, planned.
#[derive(Clone, Debug)]
pub struct Insured {
    /// The job with the spares that the insurance takes: what the plan answers.
    pub job: Job,
    /// The plan.
    pub plan: Plan,
    /// What the insurance is for each material, in their order.
    pub materials: Vec<MaterialInsured>,
}

/// What the insurance of one material is.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
pub enum MaterialInsured {
    /// There is no plan even without insurance.
    NothingPlanned,
    /// Its bars are of several batches, and spares would have to be of those of the walls: it is planned
    /// without. Spares that rows ask for belong to their walls.
    SeveralBatches,
    /// With the insurance there is no plan, or none was found; so it is planned without. It is
    /// `Impossible` only where there is no place for spares that every insured plan needs.
    Refused(Outcome),
    /// It is insured.
    Insured(Box<Terms>),
}

/// What an insurance consists of, and what it costs.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct Terms {
    /// The spares beside those that the job has.
    pub reserves: Vec<Reserve>,
    /// Spares of the job itself that count.
    pub standing: u64,
    /// Shorter spares of the job that gave way to those added.
    pub gave_way: u64,
    /// Where shorter bars make the insurance cheaper, or possible: nothing is bought that has more to use
    /// than this, and the job says that there is none.
    pub longest_bar: Option<Length>,
    /// What the plan without insurance comes to.
    pub without: Value,
    /// No plan without insurance comes to less.
    pub without_bound: Value,
    /// What the insured plan comes to.
    pub with: Value,
    /// No plan with these spares comes to less.
    pub bound: Value,
    /// No plan that survives, and keeps what spares the job has besides, comes to less.
    pub least: Value,
}

impl Terms {
    /// Whether the price of the insurance, [`Terms::with`] less [`Terms::without`], is exact: neither
    /// plan can be better.
    pub fn is_proven(&self) -> bool {
        self.with == self.least && self.without == self.without_bound
    }
}

/// Plans a job so that it survives what `insurance` says, and finds out what that costs.
///
/// `solve` plans a job; it is called once for the job as it is, once with the spares that are necessary,
/// and then until the spares hold every part and bar of the plan: mostly never, and never where there are
/// neither runs nor a bad bar. What it says of a job
/// must not depend on anything else, or on the clock only.
///
/// A material that cannot be insured is planned as it is, and says why.
///
/// # Errors
/// Where the spares make the job too large to stay exact.
///
/// ```
/// use lengthwise::{JobInput, Length, Limits, Origin, Unit, job::*, solve, verify};
/// use lengthwise::insure::{Insurance, MaterialInsured, insure};
/// use lengthwise::plan::Value;
/// let at = |line| Origin { source: "example".into(), line };
/// let job = JobInput {
///     pieces: vec![PieceRow {
///         mark: "F".into(),
///         qty: 6.into(),
///         ..PieceRow::new(at(2), Length::parse("990", Unit::Mm)?)
///     }],
///     stock: vec![StockRow::new(at(2), Length::parse("3m", Unit::Mm)?)],
///     ..JobInput::default()
/// }
/// .validate()?;
/// let insurance = Insurance { pieces: 1, bar: false };
/// let insured = insure(&job, insurance, &mut |job| solve(job, &Limits::default()))?;
/// verify(&insured.job, &insured.plan)?;
/// let MaterialInsured::Insured(terms) = &insured.materials[0] else { unreachable!() };
/// // Six pieces fill two bars; the spare, F-spare, takes a third.
/// assert_eq!(terms.reserves[0].mark, "F-spare");
/// assert_eq!(terms.without, Value::Bought(Length::from_mm(6000)));
/// assert_eq!(terms.with, Value::Bought(Length::from_mm(9000)));
/// assert!(terms.is_proven());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn insure(
    job: &Job,
    insurance: Insurance,
    solve: &mut dyn FnMut(&Job) -> Plan,
) -> Result<Insured, Faults> {
    let plain = solve(job);
    let mut covers: Vec<Cover<'_>> = job
        .materials()
        .iter()
        .zip(&plain.materials)
        .map(|(material, plan)| Cover::of(material, insurance, plan))
        .collect();
    let (mut insured, mut plan) = settle(job, &mut covers, solve)?;
    let mut is_better = false;
    for (cover, plan) in covers.iter_mut().zip(&plan.materials) {
        is_better |= cover.retreat(solve)? || cover.shorten(plan, solve)?;
    }
    if is_better {
        (insured, plan) = settle(job, &mut covers, solve)?;
    }
    let materials = covers.into_iter().zip(&plan.materials);
    Ok(Insured {
        materials: materials.map(|(cover, plan)| cover.terms(plan)).collect(),
        job: insured,
        plan,
    })
}

/// Whether some piece of a material has to come from one batch of several: then it is not insured, see
/// [`MaterialInsured::SeveralBatches`].
pub fn is_of_several_batches(material: &Material) -> bool {
    let is_bound = |piece: &Piece| piece.batch().is_some();
    let some_are_bound = || material.pieces().iter().any(is_bound);
    material.batches().len() > 1 && (!material.open_walls().is_empty() || some_are_bound())
}

/// Plans with spares until these hold every part and bar of the plan.
fn settle(
    job: &Job,
    covers: &mut [Cover<'_>],
    solve: &mut dyn FnMut(&Job) -> Plan,
) -> Result<(Job, Plan), Faults> {
    let mut round = 0;
    loop {
        let reserves: Vec<Vec<Reserve>> = covers.iter().map(Cover::reserves).collect();
        let mut insured = job.with_reserves(&reserves)?;
        for (material, cover) in insured.materials.iter_mut().zip(covers.iter()) {
            if let Some(longest) = cover.longest_bar {
                material.withdraw_longer(longest);
            }
        }
        let plan = solve(&insured);
        round += 1;
        let mut is_settled = true;
        for (cover, plan) in covers.iter_mut().zip(&plan.materials) {
            is_settled &= cover.holds_or_grows(plan, round >= MOST_ROUNDS);
        }
        if is_settled {
            return Ok((insured, plan));
        }
    }
}

/// A shape to keep spares of.
#[derive(Clone, Debug)]
struct Slot {
    takes: Length,
    shape: Shape,
    mark: String,
}

/// What one material is insured by, so far.
struct Cover<'m> {
    material: &'m Material,
    insurance: Insurance,
    /// Value and bound of the plan without insurance; `None` where there is no such plan.
    without: Option<(Value, Value)>,
    refused: Option<Outcome>,
    /// No plan that survives comes to less; known once the first plan with spares is there, whose
    /// spares are those that every such plan needs.
    least: Option<Value>,
    /// What spares are kept of.
    slot: Option<Slot>,
    /// The usable length of the bar that may be bad.
    bar: Option<Length>,
    /// Nothing is bought that has more to use than this.
    longest_bar: Option<Length>,
}

impl<'m> Cover<'m> {
    fn of(material: &'m Material, insurance: Insurance, plain: &MaterialPlan) -> Cover<'m> {
        let without = match &plain.outcome {
            Outcome::Planned(cutting) => Some((cutting.value, cutting.bound)),
            _ => None,
        };
        Cover {
            material,
            insurance,
            without,
            refused: None,
            least: None,
            slot: None,
            bar: None,
            longest_bar: None,
        }
        .afresh(None)
    }

    /// With the necessary spares, and nothing bought that has more to use than this.
    fn afresh(&self, longest_bar: Option<Length>) -> Cover<'m> {
        let slot = necessary(self.material);
        let holds = |bar: &Length| slot.as_ref().is_none_or(|slot| *bar >= slot.takes);
        let bar = usable(self.material).filter(holds).min();
        Cover {
            refused: None,
            slot,
            bar,
            longest_bar,
            ..*self
        }
    }

    /// Makes the spares long enough for every part and bar of a plan; whether they were already.
    fn grow(&mut self, cutting: &Cutting) -> bool {
        let mut held = true;
        let part = longest_part(self.material, cutting);
        let holds = |slot: &Slot| part.as_ref().is_none_or(|part| part.takes <= slot.takes);
        if !self.slot.as_ref().is_some_and(holds) && part.is_some() {
            self.slot = part;
            held &= self.insurance.pieces == 0;
        }
        let is_cut = |group: &&BarGroup| group.cuts.iter().any(|cut| !cut.spare);
        let bars = cutting.bars.iter().filter(is_cut);
        let bars = bars.filter_map(|group| self.material.bars().get(group.bar));
        let bar = bars.map(|bar| bar.usable()).max();
        if bar > self.bar {
            self.bar = bar;
            held &= !self.insurance.bar;
        }
        held
    }

    /// Whether the spares hold what a plan with them has. If not they grow, at `last` as far as there are
    /// bars; or the material is left without insurance.
    fn holds_or_grows(&mut self, plan: &MaterialPlan, last: bool) -> bool {
        if self.without.is_none() || self.refused.is_some() || self.is_of_batches() {
            return true;
        }
        let Outcome::Planned(cutting) = &plan.outcome else {
            self.refused = Some(match &plan.outcome {
                // Without the necessary spares it had a plan; these may be longer than they need be.
                Outcome::Impossible(_) if self.least.is_some() => Outcome::Unknown(Stop::Exhausted),
                outcome => outcome.clone(),
            });
            return false;
        };
        self.least.get_or_insert(cutting.bound);
        let held = self.grow(cutting);
        if !held && last {
            let longest = self.can_be_cut().max();
            self.bar = longest.max(self.bar);
            if let (Some(slot), Some(longest)) = (&mut self.slot, longest) {
                slot.takes = longest;
                slot.shape = Shape::square(longest);
            }
        }
        held
    }

    /// Usable lengths of the bars that the plan may take.
    fn can_be_cut(&self) -> impl Iterator<Item = Length> {
        let longest = self.longest_bar.unwrap_or(Length::MAX);
        let bars = self.material.bars().iter();
        let bars = bars.filter(move |bar| bar.is_in_hand() || bar.usable() <= longest);
        let bars = bars.filter(|bar| bar.bars_available() != Some(0));
        bars.map(|bar| bar.usable())
    }

    /// Where grown spares have no place: whether they have one where only shorter bars are bought. Not
    /// with runs that may have as many joints as the bars make necessary.
    fn retreat(&mut self, solve: &mut dyn FnMut(&Job) -> Plan) -> Result<bool, Faults> {
        let mut runs = self.material.pieces().iter().filter_map(Piece::run);
        let is_free = runs.any(|run| run.joints_max().is_none());
        if self.refused.is_none() || self.least.is_none() || is_free {
            return Ok(false);
        }
        let takes = necessary(self.material).map(|slot| slot.takes);
        let kinds: BTreeSet<Length> = usable(self.material)
            .filter(|bar| Some(*bar) >= takes)
            .collect();
        // All of them were tried.
        let shorter = kinds.into_iter().rev().skip(1);
        let job = Job {
            materials: vec![self.material.clone()],
            notes: Vec::new(),
        };
        for bar in shorter.take(MOST_RETREATS) {
            let mut covers = [self.afresh(Some(bar))];
            settle(&job, &mut covers, solve)?;
            if covers.iter().all(|cover| cover.refused.is_none()) {
                *self = self.afresh(Some(bar));
                return Ok(true);
            }
        }
        Ok(false)
    }

    /// Where a bar may be bad and longer ones than necessary are cut into: whether the job costs less from
    /// shorter bars only. What is known of the least cost is then exact, unless there are other spares: those
    /// may lie on longer bars that nothing else is cut from, which do not count. Not with runs, whose rules for
    /// joints depend on the bars that can be had.
    fn shorten(
        &mut self,
        plan: &MaterialPlan,
        solve: &mut dyn FnMut(&Job) -> Plan,
    ) -> Result<bool, Faults> {
        let Outcome::Planned(cutting) = &plan.outcome else {
            return Ok(false);
        };
        let is_open = self.least.is_some_and(|least| least < cutting.value);
        let pieces = self.material.pieces();
        let has_runs = pieces.iter().any(|piece| piece.run().is_some());
        let has_spares = self.insurance.pieces > 0 || pieces.iter().any(Piece::is_spare);
        if !(self.is_insured() && self.insurance.bar && is_open) || has_runs {
            return Ok(false);
        }
        let takes = self.slot.as_ref().map(|slot| slot.takes);
        let shorter = |bar: &Length| Some(*bar) >= takes && Some(*bar) < self.bar;
        let kinds: BTreeSet<Length> = usable(self.material).filter(shorter).collect();
        if kinds.len() > MOST_KINDS {
            return Ok(false);
        }
        // From longer bars the spare is longer still, so that costs no less than this.
        let (mut least, mut best) = (cutting.bound, (cutting.value, None));
        for bar in kinds {
            let mut material = self.material.clone();
            material.withdraw_longer(bar);
            let part = Job {
                materials: vec![material],
                notes: Vec::new(),
            };
            let plan = solve(&part.with_reserves(&[self.reserves_with(Some(bar))])?);
            match plan.materials.first().map(|plan| &plan.outcome) {
                Some(Outcome::Planned(shorter)) => {
                    if shorter.bound < least {
                        least = shorter.bound;
                    }
                    let bars = shorter.bars.iter();
                    let mut bars = bars.filter_map(|group| self.material.bars().get(group.bar));
                    // Longer bars in hand cannot be withdrawn.
                    if shorter.value < best.0 && bars.all(|used| used.usable() <= bar) {
                        best = (shorter.value, Some(bar));
                    }
                }
                Some(Outcome::Impossible(_)) => {}
                _ => return Ok(false),
            }
        }
        if !has_spares {
            self.least = Some(least);
        }
        self.longest_bar = best.1;
        self.bar = best.1.or(self.bar);
        Ok(best.1.is_some())
    }

    fn is_insured(&self) -> bool {
        let can_be = self.without.is_some() && self.refused.is_none();
        can_be && !self.insurance.is_none() && !self.is_of_batches()
    }

    fn is_of_batches(&self) -> bool {
        is_of_several_batches(self.material)
    }

    fn reserves(&self) -> Vec<Reserve> {
        self.reserves_with(self.bar)
    }

    fn reserves_with(&self, bar: Option<Length>) -> Vec<Reserve> {
        if !self.is_insured() {
            return Vec::new();
        }
        let mut reserves = Vec::new();
        if let Some(slot) = &self.slot {
            let missing = self.insurance.pieces.saturating_sub(self.standing(slot));
            reserves.extend((missing > 0).then(|| {
                let Slot { shape, mark, .. } = slot;
                Reserve {
                    mark: self.material.reserve_mark(mark, *shape),
                    shape: *shape,
                    count: missing,
                    is_bar: false,
                }
            }));
        }
        if let Some(bar) = bar.filter(|_| self.insurance.bar) {
            let shape = Shape::square(bar);
            reserves.push(Reserve {
                mark: self.material.reserve_mark("bar-spare", shape),
                shape,
                count: 1,
                is_bar: true,
            });
        }
        reserves
    }

    /// Spares of the job that hold whatever the slot holds.
    fn standing(&self, slot: &Slot) -> u64 {
        let pieces = self.material.pieces().iter();
        let spares = pieces.filter(|piece| piece.is_spare() && piece.run().is_none());
        let enough = spares.filter(|piece| self.material.takes(piece.shape()) >= slot.takes);
        enough.fold(0, |sum, piece| sum.saturating_add(piece.qty()))
    }

    /// Spares of the job that give way to these.
    fn gave_way(&self, reserves: &[Reserve]) -> u64 {
        let mut material = self.material.clone();
        let gave_way = reserves.iter().map(|reserve| material.give_way(reserve));
        gave_way.sum()
    }

    fn terms(self, plan: &MaterialPlan) -> MaterialInsured {
        let reserves = self.reserves();
        let standing = self.slot.as_ref().map_or(0, |slot| self.standing(slot));
        let standing = standing.min(self.insurance.pieces);
        if self.is_of_batches() && self.without.is_some() {
            return MaterialInsured::SeveralBatches;
        }
        if let Some(outcome) = self.refused {
            return MaterialInsured::Refused(outcome);
        }
        match (self.without, &plan.outcome) {
            (Some((without, without_bound)), Outcome::Planned(cutting)) => {
                let least = self.least.filter(|least| *least > without_bound);
                MaterialInsured::Insured(Box::new(Terms {
                    gave_way: self.gave_way(&reserves),
                    reserves,
                    standing,
                    longest_bar: self.longest_bar,
                    without,
                    without_bound,
                    with: cutting.value,
                    bound: cutting.bound,
                    least: least.unwrap_or(without_bound),
                }))
            }
            _ => MaterialInsured::NothingPlanned,
        }
    }
}

/// Usable lengths of the bars that can be had.
fn usable(material: &Material) -> impl Iterator<Item = Length> {
    let bars = material.bars().iter();
    let can_be_had = bars.filter(|bar| bar.bars_available() != Some(0));
    can_be_had.map(|bar| bar.usable())
}

/// What every plan that survives has spares of: the piece that takes most, or what some part of a run
/// takes at the least, however the runs are split.
fn necessary(material: &Material) -> Option<Slot> {
    let piece = longest_piece(material);
    let part = least_longest_part(material).map(|(takes, piece)| Slot {
        takes,
        shape: Shape::square(takes),
        mark: format!("{}-part-spare", piece.mark()),
    });
    longest(piece.into_iter().chain(part))
}

/// The first of the pieces without joints that take most of a bar, spares left out.
fn longest_piece(material: &Material) -> Option<Slot> {
    let pieces = material.pieces().iter();
    let pieces = pieces.filter(|piece| !piece.is_spare() && piece.run().is_none());
    let slot = |piece: &Piece| Slot {
        takes: material.takes(piece.shape()),
        shape: piece.shape(),
        mark: format!("{}-spare", piece.mark()),
    };
    longest(pieces.map(slot))
}

/// The first of the parts of a plan's runs that take most of a bar, spares left out.
fn longest_part(material: &Material, cutting: &Cutting) -> Option<Slot> {
    let cuts = cutting.bars.iter().flat_map(|group| &group.cuts);
    let parts = cuts.filter(|cut| !cut.spare).filter_map(|cut| {
        let part = cut.parts.first()?;
        let shape = Shape {
            batch: None,
            length: cut.length,
            ends: cut.ends,
        };
        Some(Slot {
            takes: material.takes(shape),
            shape,
            mark: format!("{}-part-spare", part.mark),
        })
    });
    longest(parts)
}

fn longest(slots: impl Iterator<Item = Slot>) -> Option<Slot> {
    slots.reduce(|longest, slot| {
        if slot.takes > longest.takes {
            slot
        } else {
            longest
        }
    })
}
