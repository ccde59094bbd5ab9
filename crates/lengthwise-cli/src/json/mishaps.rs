//! What a plan bears, as JSON.

use lengthwise::forgiving::{Tightest, forgiving};
use lengthwise::insure::{MaterialInsured, Terms};
use lengthwise::job::{Material, Reserve};
use lengthwise::plan::{Cutting, Outcome};
use lengthwise::spoiled::{Recut, Spoiled, spoiled};
use schemars::JsonSchema;
use serde::Serialize;

use super::reason::{ImpossibleJson, stopped};
use super::walls::ValueJson;
use super::{Millimetres, all, ends_text, mm, proof_name};
use crate::text::mishaps::{self, why_not};

/// What stands for the proof of an insurance that batches are in the way of.
pub const SEVERAL_BATCHES: &str = "several batches";

/// How forgiving a plan is, and what becomes of each piece if its cut is spoiled.
#[derive(Debug, Default, Serialize, JsonSchema)]
pub struct MishapsJson {
    /// Null where any blade fits.
    widest_blade_mm: Option<Millimetres>,
    widest_blade_bar: Option<String>,
    largest_error_mm: Option<Millimetres>,
    largest_error_bar: Option<String>,
    /// One entry for each piece but the spares, in the order of the bars.
    spoiled: Vec<SpoiledJson>,
    /// Null where no insurance was asked for, or nothing is planned.
    insurance: Option<InsuranceJson>,
}

/// `recut` is `left over` (of the bar `from`), `whole bar` (of `from_mm`, left uncut by the plan) or
/// `another bar`.
#[derive(Debug, Serialize, JsonSchema)]
struct SpoiledJson {
    mark: String,
    bar: String,
    #[schemars(extend("enum" = ["left over", "whole bar", "another bar"]))]
    recut: &'static str,
    from: Option<String>,
    from_mm: Option<Millimetres>,
    /// Whether `from` is cut later than `bar`.
    later: bool,
}

#[derive(Debug, Serialize, JsonSchema)]
struct InsuranceJson {
    insured: bool,
    /// `optimal` or `gap`; where it is not insured `impossible`, `unknown` or `several batches`.
    proof: &'static str,
    /// Why it is not insured; null where it is.
    why: Option<String>,
    /// The same for programs: why the search ended, or why there is no plan.
    stopped: Option<&'static str>,
    impossible: Option<ImpossibleJson>,
    spares: Vec<SpareJson>,
    standing: u64,
    /// Shorter spares of the rows that gave way to those added.
    gave_way: u64,
    /// Bars with more to use than this are not bought, so that a bad one costs less; mostly null.
    longest_bar_mm: Option<Millimetres>,
    without: Option<ValueJson>,
    with: Option<ValueJson>,
    least: Option<ValueJson>,
    proven: bool,
}

#[derive(Debug, Serialize, JsonSchema)]
struct SpareJson {
    mark: String,
    length_mm: Millimetres,
    ends: Option<String>,
    count: u64,
    bar: bool,
}

impl MishapsJson {
    pub fn new(
        material: &Material,
        cutting: &Cutting,
        insured: Option<&MaterialInsured>,
    ) -> serde_json::Result<MishapsJson> {
        let forgiving = forgiving(material, cutting).unwrap_or_default();
        let (widest_blade_mm, widest_blade_bar) = tightest(forgiving.widest_blade)?;
        let (largest_error_mm, largest_error_bar) = tightest(forgiving.largest_error)?;
        let pieces = spoiled(material, cutting).unwrap_or_default();
        Ok(MishapsJson {
            widest_blade_mm,
            widest_blade_bar,
            largest_error_mm,
            largest_error_bar,
            spoiled: all(&pieces, |piece| SpoiledJson::new(material, piece))?,
            insurance: match insured {
                None | Some(MaterialInsured::NothingPlanned) => None,
                Some(MaterialInsured::SeveralBatches) => Some(InsuranceJson::several_batches()),
                Some(MaterialInsured::Refused(outcome)) => {
                    Some(InsuranceJson::refused(outcome, material)?)
                }
                Some(MaterialInsured::Insured(terms)) => Some(InsuranceJson::new(terms)?),
            },
        })
    }
}

fn tightest(
    tightest: Option<Tightest>,
) -> serde_json::Result<(Option<Millimetres>, Option<String>)> {
    Ok(match tightest {
        Some(Tightest { limit, bar, .. }) => (Some(mm(limit)?), Some(bar)),
        None => (None, None),
    })
}

impl SpoiledJson {
    fn new(material: &Material, piece: &Spoiled<'_>) -> serde_json::Result<SpoiledJson> {
        let (recut, from, from_mm, later) = match piece.recut {
            Recut::LeftOf { bar, later } => ("left over", Some(bar.to_owned()), None, later),
            Recut::Uncut { kind } => {
                let bar = material.bars().get(kind);
                let length = bar.map(|bar| mm(bar.length())).transpose()?;
                ("whole bar", None, length, false)
            }
            Recut::AnotherBar => ("another bar", None, None, false),
        };
        Ok(SpoiledJson {
            mark: piece.mark.to_owned(),
            bar: piece.bar.to_owned(),
            recut,
            from,
            from_mm,
            later,
        })
    }
}

impl InsuranceJson {
    /// Spares would have to be of the batches of the walls.
    fn several_batches() -> InsuranceJson {
        InsuranceJson::not_insured(SEVERAL_BATCHES, Some(mishaps::SEVERAL_BATCHES.to_owned()))
    }

    fn refused(outcome: &Outcome, material: &Material) -> serde_json::Result<InsuranceJson> {
        Ok(InsuranceJson {
            stopped: stopped(outcome),
            impossible: ImpossibleJson::of(outcome)?,
            ..InsuranceJson::not_insured(proof_name(outcome), why_not(outcome, material.unit()))
        })
    }

    fn not_insured(proof: &'static str, why: Option<String>) -> InsuranceJson {
        InsuranceJson {
            insured: false,
            proof,
            why,
            stopped: None,
            impossible: None,
            spares: vec![],
            standing: 0,
            gave_way: 0,
            longest_bar_mm: None,
            without: None,
            with: None,
            least: None,
            proven: false,
        }
    }

    fn new(terms: &Terms) -> serde_json::Result<InsuranceJson> {
        Ok(InsuranceJson {
            insured: true,
            proof: if terms.is_proven() { "optimal" } else { "gap" },
            why: None,
            stopped: None,
            impossible: None,
            spares: all(&terms.reserves, SpareJson::new)?,
            standing: terms.standing,
            gave_way: terms.gave_way,
            longest_bar_mm: terms.longest_bar.map(mm).transpose()?,
            without: Some(ValueJson::new(terms.without)?),
            with: Some(ValueJson::new(terms.with)?),
            least: Some(ValueJson::new(terms.least)?),
            proven: terms.is_proven(),
        })
    }
}

impl SpareJson {
    fn new(reserve: &Reserve) -> serde_json::Result<SpareJson> {
        Ok(SpareJson {
            mark: reserve.mark.clone(),
            length_mm: mm(reserve.shape.length)?,
            ends: ends_text(reserve.shape.ends),
            count: reserve.count,
            bar: reserve.is_bar,
        })
    }
}
