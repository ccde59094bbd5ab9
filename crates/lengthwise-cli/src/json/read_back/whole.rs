//! A whole plan read back: every claim with its certificate, so that it can be verified.
//!
//! What follows from job and bars alone (figures, what stays whole, sentences, what a plan bears) is not
//! read but worked out again; written anew, it must be what the file says.

mod certificates;
mod fields;
mod outcome;
mod walls;

use lengthwise::carry_on::UnderWay;
use lengthwise::insure::{Insurance, MaterialInsured, Terms};
use lengthwise::job::{Ceilings, Job, JobInput, Material, Reserve, Shape};
use lengthwise::plan::{Effort, MaterialPlan, Outcome, Plan, Value};
use lengthwise::{Fault, FaultKind, Length};

use super::cells::Cells;
use super::{PlanRead, parse};
use crate::insurance::Cover;
use crate::json::StandAlone;
use crate::json::mishaps::SEVERAL_BATCHES;
use crate::json::tree::{Tree, Unfit};
use fields::At;
use outcome::Work;

/// So many kinds of spares an insurance adds to a material: one for spoiled pieces, one for a bad bar. Each takes
/// several looks at all pieces.
const MOST_RESERVES: usize = 2;

/// A plan with all that its file says.
#[derive(Debug)]
pub struct Whole {
    /// The job with the spares of its insurance: what the plan answers.
    pub job: Job,
    /// The same without them.
    pub uninsured: Job,
    pub plan: Plan,
    pub cover: Cover,
    pub carried: bool,
    /// The rows of the job, and of a plan that was carried on what only the plans before know.
    pub under_way: UnderWay,
    /// The file.
    pub tree: Tree,
}

/// Why a plan cannot be read.
#[derive(Debug)]
pub enum Unread {
    /// The file is no plan.json.
    NoPlan(Vec<Fault>),
    /// It is one, and says what cannot be.
    CannotBe(Vec<Fault>),
}

impl Whole {
    /// What the program would write of this plan; without the digest.
    ///
    /// # Errors
    /// As [`StandAlone::new`].
    pub fn written_anew(&self) -> serde_json::Result<Tree> {
        let alone = match self.carried {
            true => StandAlone::carried(&self.plan, &self.under_way)?,
            false => StandAlone::new(&self.plan, self.input())?,
        };
        let alone = alone.with_mishaps(&self.job, &self.plan, &self.cover);
        alone.tree()
    }

    pub fn input(&self) -> &JobInput {
        &self.under_way.input
    }
}

/// Reads a plan back; `source` is the name of the file as people see it, the ceilings are of its job.
///
/// # Errors
/// What stands in the way of reading all of it.
pub fn read_whole(text: &str, source: &str, ceilings: &Ceilings) -> Result<Whole, Unread> {
    let mut cells = Cells::new(source);
    let no_plan = |fault: Fault| Unread::NoPlan(vec![fault]);
    let read = parse(text, source).map_err(|fault| no_plan(*fault))?;
    let tree = Tree::read(text).map_err(|why| no_plan(unfit(&cells, &why)))?;
    let input = read.job.input(&mut cells);
    let uninsured = match input.clone().validate_within(ceilings) {
        Ok(job) if cells.faults.is_empty() => job,
        Ok(_) => return Err(Unread::NoPlan(cells.faults)),
        Err(faults) => {
            let within = faults.0.into_iter().map(|fault| cells.within(fault));
            cells.faults.extend(within.collect::<Vec<_>>());
            return Err(Unread::NoPlan(cells.faults));
        }
    };
    let parts = Reader {
        read: &read,
        tree: &tree,
        cells: &mut cells,
    }
    .parts(input, &uninsured);
    match parts {
        Some(parts) if cells.faults.is_empty() => Ok(Whole {
            carried: tree.field("carried_on").is_some(),
            tree,
            job: parts.job,
            uninsured,
            plan: parts.plan,
            cover: parts.cover,
            under_way: parts.under_way,
        }),
        _ => {
            let is_misshapen = |fault: &Fault| fault.kind == FaultKind::Unreadable;
            Err(if cells.faults.iter().any(is_misshapen) {
                Unread::NoPlan(cells.faults)
            } else {
                Unread::CannotBe(cells.faults)
            })
        }
    }
}

fn unfit(cells: &Cells, why: &Unfit) -> Fault {
    Fault {
        kind: FaultKind::Unreadable,
        origin: Some(cells.origin()),
        column: None,
        found: why.to_string(),
        accepted: super::ACCEPTED.to_owned(),
    }
}

struct Reader<'r> {
    read: &'r PlanRead,
    tree: &'r Tree,
    cells: &'r mut Cells,
}

/// What is read with the job at hand.
struct Parts {
    /// With the spares of the insurance.
    job: Job,
    plan: Plan,
    cover: Cover,
    under_way: UnderWay,
}

impl Reader<'_> {
    /// `None` with the faults among the cells.
    fn parts(self, input: JobInput, uninsured: &Job) -> Option<Parts> {
        let Reader { read, tree, cells } = self;
        let top = At::top(tree);
        let materials = top.get("materials", cells)?.items(cells);
        if !super::names_match(read, uninsured, cells) {
            return None;
        }
        let cover = Cover {
            insurance: Insurance {
                pieces: read.job.settings.insure,
                bar: read.job.settings.insure_bar,
            },
            materials: materials
                .iter()
                .zip(uninsured.materials())
                .map(|(at, material)| insured(at, material, cells))
                .collect::<Option<_>>()?,
        };
        let job = with_spares(uninsured, &cover, cells)?;
        let mut certificates = top.get("certificates", cells)?.items(cells).into_iter();
        let mut planned = Vec::new();
        let mut under_way = super::under_way(read, &job, input, cells);
        let each = under_way.materials.iter().zip(job.materials());
        for (at, (work, material)) in materials.iter().zip(each) {
            let work = Work {
                bars: work.bars.clone(),
                buy: work.buy.clone(),
            };
            let certificate = |cells: &mut Cells| {
                let Some(at) = certificates.next() else {
                    let found = "fewer than planned materials".to_owned();
                    cells.fault("certificates", found, "one for each of them");
                    return None;
                };
                certificates::certificate(&at, cells)
            };
            let outcome = outcome::outcome(at, certificate, work, material, cells)?;
            planned.push(MaterialPlan {
                name: material.name().to_owned(),
                unit: material.unit(),
                kerf: material.kerf(),
                per_cut: material.per_cut(),
                outcome,
                effort: Effort::default(),
            });
        }
        under_way.insured = read.carried_on.insured;
        Some(Parts {
            job,
            plan: Plan { materials: planned },
            cover,
            under_way,
        })
    }
}

/// What the insurance of a material is.
fn insured(at: &At<'_>, material: &Material, cells: &mut Cells) -> Option<MaterialInsured> {
    let field = at.get("insurance", cells)?;
    if field.is_null() {
        return Some(MaterialInsured::NothingPlanned);
    }
    if !field.get("insured", cells)?.flag(cells)? {
        return refused(&field, cells);
    }
    let spares = field.get("spares", cells)?;
    let rows = spares.items(cells);
    if rows.len() > MOST_RESERVES {
        let found = format!("{} kinds of spares", rows.len());
        let accepted = "one for spoiled pieces, and one for a bad bar";
        cells.fault(spares.path(), found, accepted);
        return None;
    }
    let mut reserves = Vec::with_capacity(rows.len());
    for spare in rows {
        reserves.push(Reserve {
            mark: spare.get("mark", cells)?.text(cells)?.to_owned(),
            shape: Shape {
                batch: None,
                length: spare.get("length_mm", cells)?.mm(cells)?,
                ends: spare.get("ends", cells)?.ends(cells),
            },
            count: spare.get("count", cells)?.whole(cells)?,
            is_bar: spare.get("bar", cells)?.flag(cells)?,
        });
    }
    let longest_bar: Option<Length> = match field.get_some("longest_bar_mm", cells) {
        Some(longest) => Some(longest.mm(cells)?),
        None => None,
    };
    let value = |name: &str, cells: &mut Cells| {
        let at = field.get(name, cells)?;
        outcome::value(&at, ("cost", "bought_mm"), material, cells)
    };
    let without = value("without", cells)?;
    let least = value("least", cells)?;
    let with = value("with", cells)?;
    let proven = field.get("proven", cells)?.flag(cells)?;
    Some(MaterialInsured::Insured(Box::new(Terms {
        reserves,
        standing: field.get("standing", cells)?.whole(cells)?,
        gave_way: field.get("gave_way", cells)?.whole(cells)?,
        longest_bar,
        without,
        // All that is kept is whether it is as much as `without`; a value of the other kind never is.
        without_bound: match (proven, without) {
            (true, _) => without,
            (false, Value::Money(_)) => Value::Bought(Length::ZERO),
            (false, Value::Bought(_)) => Value::Money(lengthwise::Price::ZERO),
        },
        with,
        bound: outcome::value(at, ("bound", "bound_mm"), material, cells)?,
        least,
    })))
}

/// Why a material is not insured.
fn refused(at: &At<'_>, cells: &mut Cells) -> Option<MaterialInsured> {
    if at.get("proof", cells)?.text(cells)? == SEVERAL_BATCHES {
        return Some(MaterialInsured::SeveralBatches);
    }
    let outcome = match at.get_some("impossible", cells) {
        Some(reason) => Outcome::Impossible(outcome::impossible(&reason, cells)?),
        None => Outcome::Unknown(outcome::stop(at, cells)?),
    };
    Some(MaterialInsured::Refused(outcome))
}

/// The job with the spares that the plan says its insurance takes.
fn with_spares(job: &Job, cover: &Cover, cells: &mut Cells) -> Option<Job> {
    let terms = |insured: &MaterialInsured| match insured {
        MaterialInsured::Insured(terms) => (terms.reserves.clone(), terms.longest_bar),
        _ => (Vec::new(), None),
    };
    let (reserves, longest): (Vec<_>, Vec<_>) = cover.materials.iter().map(terms).unzip();
    match job.with_reserves(&reserves) {
        Ok(job) => Some(job.without_longer(&longest)),
        Err(faults) => {
            let path = "materials[].insurance.spares";
            for fault in faults.0 {
                cells.fault(path, fault.found, fault.accepted);
            }
            None
        }
    }
}
