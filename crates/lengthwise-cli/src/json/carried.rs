//! What a plan that was carried on knows of those before it.

use lengthwise::carry_on::{CarriedOn, Remainder, UnderWay};
use lengthwise::plan::Plan;
use schemars::JsonSchema;
use serde::Serialize;

use super::PlanJson;
use super::job::PieceJson;
use crate::insurance::Cover;
use crate::text;

/// Beside a plan that was carried on.
#[derive(Debug, Serialize, JsonSchema)]
pub struct CarriedJson {
    /// Names of bars that are used up.
    names_taken: Vec<String>,
    /// Whether the spares are those of an insurance, which give way to any piece.
    insured: bool,
    /// Bars with a name that stay whole.
    whole: Vec<WholeJson>,
    /// Pieces that are cut, and no more part of the job.
    done: Vec<DoneJson>,
}

#[derive(Debug, Serialize, JsonSchema)]
struct WholeJson {
    material: String,
    bar: usize,
    names: Vec<String>,
}

#[derive(Debug, Serialize, JsonSchema)]
struct DoneJson {
    /// The bar that it was cut from.
    bar: String,
    /// The batch of that bar; empty where it names none.
    batch: String,
    piece: PieceJson,
}

impl CarriedJson {
    pub fn new(plan: &Plan, under_way: &UnderWay) -> CarriedJson {
        let both = plan.materials.iter().zip(&under_way.materials);
        let whole = both.flat_map(|(material, planned)| {
            planned.whole.iter().map(|bars| WholeJson {
                material: material.name.clone(),
                bar: bars.bar,
                names: bars.names.clone(),
            })
        });
        let done = under_way.done.iter().map(|done| DoneJson {
            bar: done.bar.clone(),
            batch: done.batch.clone(),
            piece: PieceJson::new(&done.row),
        });
        CarriedJson {
            names_taken: under_way.names_taken.clone(),
            insured: under_way.insured,
            whole: whole.collect(),
            done: done.collect(),
        }
    }
}

/// What changed, for programs: the plan as ever, and what became of each bar.
#[derive(Debug, Serialize, JsonSchema)]
pub struct CarriedOnJson<'a> {
    #[serde(flatten)]
    plan: PlanJson<'a>,
    changes: Vec<ChangesJson>,
    remarks: Vec<String>,
}

#[derive(Debug, Serialize, JsonSchema)]
struct ChangesJson {
    material: String,
    /// Bars that are cut as they were going to be.
    unchanged: Vec<String>,
    /// Bars with a name that are cut otherwise.
    changed: Vec<String>,
    /// Bars that have their name from now on.
    new: Vec<String>,
    /// Bars with a name that stay whole.
    whole: Vec<String>,
    /// Pieces without a place, where there is no plan.
    without_place: Vec<String>,
}

impl<'a> CarriedOnJson<'a> {
    /// The promised form of a plan that was carried on, with what covers it.
    ///
    /// # Errors
    /// As [`PlanJson::new`].
    pub fn new(
        left: &'a Remainder,
        carried: &'a CarriedOn,
        cover: &'a Cover,
    ) -> serde_json::Result<CarriedOnJson<'a>> {
        let both = carried.plan.materials.iter().zip(&carried.changes);
        let changes = both.map(|(material, changes)| ChangesJson {
            material: material.name.clone(),
            unchanged: changes.unchanged.clone(),
            changed: changes.changed.clone(),
            new: changes.new.clone(),
            whole: changes
                .whole
                .iter()
                .flat_map(|bars| bars.names.clone())
                .collect(),
            without_place: changes.without_place.clone(),
        });
        Ok(CarriedOnJson {
            plan: PlanJson::new(&carried.plan)?.with_mishaps(left.job(), &carried.plan, cover),
            changes: changes.collect(),
            remarks: text::carried::remarks(left),
        })
    }
}
