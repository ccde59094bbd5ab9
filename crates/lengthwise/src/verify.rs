//! Recomputes every claim of a plan from the job and the plan alone.
//!
//! Nothing here is shared with the search that made the plan: usable lengths, availability and
//! prices are worked out again from the raw fields of the job, and the bound from the certificate
//! with a knapsack of its own. What cannot be recomputed is named, never passed over in silence.

mod anywhere;
mod bars;
mod batches;
mod bound;
mod boxes;
mod breaks;
mod buying;
mod counted;
mod demand;
mod evidence;
mod facts;
mod figures;
mod impossible;
mod joined;
mod knapsack;
mod mitre;
mod mixes;
mod preference;
mod proof;
mod refusal;
mod runs;
#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests;
mod work;

use std::collections::HashSet;

#[cfg(feature = "serde")]
use serde::Serialize;

pub use refusal::{BarPart, Breach, Cell, Figure, List, OpenMix, Refusal, RunBreach};

use crate::job::{Job, Material};
use crate::plan::{Cutting, MaterialPlan, Outcome, Plan, Value};
use facts::Facts;
use work::Work;

/// What was rechecked, material by material in the order of the job.
#[derive(Clone, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(Serialize))]
#[non_exhaustive]
pub struct Verified {
    /// The materials.
    pub materials: Vec<MaterialVerified>,
}

/// What was rechecked of one material.
#[derive(Clone, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(Serialize))]
#[non_exhaustive]
pub struct MaterialVerified {
    /// The name of the material.
    pub name: String,
    /// The claims that hold.
    pub rechecked: Vec<Claim>,
    /// The bound that the certificate proves by whole-number arithmetic alone, up to the claimed one
    /// at least where nothing is on trust; `None` without a plan, or where it was not recomputed.
    pub bound: Option<Value>,
    /// The claims that could not be rechecked and have to be believed.
    pub on_trust: Vec<Trust>,
}

/// A claim that was recomputed and holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "serde", derive(Serialize), serde(rename_all = "snake_case"))]
#[non_exhaustive]
pub enum Claim {
    /// Every bar exists, has a name of its own, holds its pieces and balances to the nanometre.
    Bars,
    /// Every piece is cut once, and nothing else; parts make up every run, joined where its rules and
    /// those of its courses allow; every wall comes from one batch, where bars are of several.
    Demand,
    /// The buying list, what there is of each bar, whole packs, whole bars, and what the plan
    /// comes to.
    Buying,
    /// Where the length goes.
    Figures,
    /// No plan can do better than the claimed bound.
    Bound,
    /// No plan can do better than this one.
    Optimal,
    /// No plan of the same value cuts into less length from hand.
    LeastFromHand,
    /// A piece is longer than any bar.
    PieceTooLong,
    /// The rules leave a run no split.
    NoSplit,
    /// There is less length than the pieces take.
    NotEnoughLength,
}

/// A claim that was not recomputed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "serde", derive(Serialize), serde(rename_all = "snake_case"))]
#[non_exhaustive]
pub enum Trust {
    /// The claimed bound: recomputing it would take too much work, or numbers beyond 128 bits; or it rests
    /// on choices of prices and batches of which it has to be believed, too, that they have no plan.
    Bound,
    /// That no plan can do better, for the same reason.
    Optimal,
    /// That no plan of the same value cuts into less length from hand, for the same reason.
    LeastFromHand,
    /// That searches which found no room for everything were exhausted. What is claimed was
    /// recomputed but for them, and holds if they were.
    Searched {
        /// What leans on them; [`Claim::Optimal`] includes the bound.
        claim: Claim,
        /// How many mixes of bars were needed that only a search refuted.
        mixes: usize,
    },
    /// That no plan of the same value does better by the [`Preference`](crate::plan::Preference), as far as
    /// that is claimed; its figures were recomputed.
    Preference,
    /// What plans come to whose walls may be of several batches.
    WithoutWalls,
    /// That no plan takes each wall from one batch: no certificate tells why.
    Walls,
    /// That courses cannot be joined as the rule of their group wants it, whatever the bars: no
    /// certificate tells why.
    Courses,
    /// That the pieces take more length than there is: recomputing that would take too much work.
    NotEnoughLength,
    /// That so many pieces stay uncut however the bars are cut: no certificate tells why.
    NotEnoughBars {
        /// At least so many.
        left_over: u64,
    },
}

/// Recomputes every claim of a plan: that all pieces are cut once, that the parts of runs make them up
/// and are joined as their rules and those of their courses say, that every bar balances, what is
/// bought and what it costs, the figures, the bound from its certificate, and that none of the same
/// value cuts into less from hand.
///
/// Takes time in proportion to the pieces, one shortest path for each kind of run and of course, and one
/// knapsack per kind of bar (one table for all of them where lengths are coarse enough). Where the claimed bound lies beyond what the prices of the
/// certificate prove, one more for each of its refutations, and every mix of bars between the two is
/// held against them; after a thousand million products that is given up, and the claim said to be
/// on trust. All materials of a plan together take no more than some ten seconds of such work, counted
/// in steps: what is beyond it is on trust as well.
///
/// # Errors
/// The first claim that does not hold.
///
/// ```
/// use lengthwise::{JobInput, Length, Limits, Origin, Unit, job::*, solve, verify};
/// use lengthwise::verify::{Breach, Claim};
/// let at = |line| Origin { source: "racks".into(), line };
/// let rail = PieceRow { qty: 14.into(), ..PieceRow::new(at(2), Length::parse("1240", Unit::Mm)?) };
/// let batten = StockRow::new(at(2), Length::parse("4.2m", Unit::Mm)?);
/// let job = JobInput { pieces: vec![rail], stock: vec![batten], ..JobInput::default() }.validate()?;
/// let mut plan = solve(&job, &Limits::default());
/// assert!(verify(&job, &plan)?.materials[0].rechecked.contains(&Claim::Optimal));
/// // A plan of a finer saw is none of this job.
/// plan.materials[0].kerf = Length::from_mm(1);
/// assert!(matches!(verify(&job, &plan).unwrap_err().breach, Breach::Kerf { .. }));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn verify(job: &Job, plan: &Plan) -> Result<Verified, Refusal> {
    if job.materials().len() != plan.materials.len() {
        return Err(Refusal {
            material: String::new(),
            breach: Breach::MaterialCount {
                plan: plan.materials.len(),
                job: job.materials().len(),
            },
        });
    }
    let materials = verify_each(job, plan).into_iter();
    Ok(Verified {
        materials: materials.collect::<Result<_, _>>()?,
    })
}

/// As [`verify()`], but of every material by itself, so that one that is refused leaves the others to be
/// checked: one entry for each material that both job and plan have, in their order.
///
/// ```
/// use lengthwise::{JobInput, plan::Plan, verify::verify_each};
/// let job = JobInput::default().validate()?;
/// assert!(verify_each(&job, &Plan { materials: vec![] }).is_empty());
/// # Ok::<(), lengthwise::Faults>(())
/// ```
pub fn verify_each(job: &Job, plan: &Plan) -> Vec<Result<MaterialVerified, Refusal>> {
    let (mut names, work) = (HashSet::new(), Work::new());
    let both = job.materials().iter().zip(&plan.materials);
    both.map(|(material, plan)| {
        check_material(material, plan, (&mut names, &work)).map_err(|breach| Refusal {
            material: material.name().to_owned(),
            breach,
        })
    })
    .collect()
}

fn check_material<'p>(
    material: &Material,
    plan: &'p MaterialPlan,
    (names, work): (&mut HashSet<&'p str>, &Work),
) -> Result<MaterialVerified, Breach> {
    check_heading(material, plan)?;
    let facts = Facts::of(material)?.sharing(work);
    let mut verified = MaterialVerified {
        name: material.name().to_owned(),
        ..MaterialVerified::default()
    };
    match &plan.outcome {
        Outcome::Planned(cutting) => check_cutting(&facts, cutting, names, &mut verified)?,
        Outcome::Impossible(reason) => match impossible::check_impossible(&facts, reason)? {
            Ok(claim) => verified.rechecked.push(claim),
            Err(trust) => verified.on_trust.push(trust),
        },
        Outcome::Unknown(_) => {} // claims nothing
    }
    Ok(verified)
}

fn check_heading(material: &Material, plan: &MaterialPlan) -> Result<(), Breach> {
    if plan.name != material.name() {
        return Err(Breach::MaterialName {
            plan: plan.name.clone(),
            job: material.name().to_owned(),
        });
    }
    if plan.unit != material.unit() {
        return Err(Breach::Unit {
            plan: plan.unit,
            job: material.unit(),
        });
    }
    if plan.kerf != material.kerf() {
        return Err(Breach::Kerf {
            plan: plan.kerf,
            job: material.kerf(),
        });
    }
    if plan.per_cut != material.per_cut() {
        return Err(Breach::PerCut {
            plan: plan.per_cut,
            job: material.per_cut(),
        });
    }
    Ok(())
}

fn check_cutting<'p>(
    facts: &Facts<'_>,
    cutting: &'p Cutting,
    names: &mut HashSet<&'p str>,
    verified: &mut MaterialVerified,
) -> Result<(), Breach> {
    for group in &cutting.bars {
        bars::check_group(facts, group, names)?;
    }
    verified.rechecked.push(Claim::Bars);
    demand::check_demand(facts, &cutting.bars)?;
    cutting.bars.iter().try_for_each(bars::check_spares_last)?;
    let (batches, trust) = batches::check_batches(facts, cutting)?;
    verified.rechecked.push(Claim::Demand);
    verified.on_trust.extend(trust);
    let counts = buying::check_buying(facts, cutting)?;
    verified.rechecked.push(Claim::Buying);
    figures::check_figures(facts, cutting, &counts)?;
    verified.rechecked.push(Claim::Figures);
    proof::check_proof(facts, cutting, (&counts.cut, &batches), verified)?;
    let trust = preference::check_preference(facts, cutting)?;
    verified.on_trust.extend(trust);
    Ok(())
}
