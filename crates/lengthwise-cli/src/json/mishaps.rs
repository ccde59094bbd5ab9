//! What a plan bears, as JSON.

use lengthwise::forgiving::{Tightest, forgiving};
use lengthwise::insure::{MaterialInsured, Terms};
use lengthwise::job::{Material, Reserve};
use lengthwise::plan::{Cutting, Outcome, Value};
use lengthwise::spoiled::{Recut, Spoiled, spoiled};
use serde::Serialize;

use super::{Millimetres, all, ends_text, mm, proof_name};
use crate::text::mishaps::why_not;

/// How forgiving a plan is, and what becomes of each piece if its cut is spoiled.
#[derive(Debug, Default, Serialize)]
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
#[derive(Debug, Serialize)]
struct SpoiledJson {
    mark: String,
    bar: String,
    recut: &'static str,
    from: Option<String>,
    from_mm: Option<Millimetres>,
    /// Whether `from` is cut later than `bar`.
    later: bool,
}

#[derive(Debug, Serialize)]
struct InsuranceJson {
    insured: bool,
    /// `optimal` or `gap`; where it is not insured `impossible` or `unknown`.
    proof: &'static str,
    /// Why it is not insured; null where it is.
    why: Option<String>,
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

#[derive(Debug, Serialize)]
struct SpareJson {
    mark: String,
    length_mm: Millimetres,
    ends: Option<String>,
    count: u64,
    bar: bool,
}

/// Money, or the length bought where there are no prices.
#[derive(Debug, Serialize)]
struct ValueJson {
    cost: Option<String>,
    bought_mm: Option<Millimetres>,
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
                Some(MaterialInsured::Refused(outcome)) => {
                    Some(InsuranceJson::refused(outcome, material))
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
    fn refused(outcome: &Outcome, material: &Material) -> InsuranceJson {
        InsuranceJson {
            insured: false,
            proof: proof_name(outcome),
            why: why_not(outcome, material.unit()),
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

impl ValueJson {
    fn new(value: Value) -> serde_json::Result<ValueJson> {
        Ok(match value {
            Value::Money(price) => ValueJson {
                cost: Some(price.to_string()),
                bought_mm: None,
            },
            Value::Bought(length) => ValueJson {
                cost: None,
                bought_mm: Some(mm(length)?),
            },
        })
    }
}
