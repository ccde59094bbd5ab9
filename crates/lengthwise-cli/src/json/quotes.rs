//! Quotes compared, as JSON. Field names are a promise.

use lengthwise::plan::{Outcome, Value};
use lengthwise::quotes::{Comparison, PlanAt, Quoted, Way};
use schemars::JsonSchema;
use serde::Serialize;

use super::{Millimetres, mm, proof_name};
use crate::quotes::{Load, worth_of_way};
use crate::text::words;

/// The whole comparison.
#[derive(Debug, Serialize, JsonSchema)]
pub struct QuotesJson {
    quotes: Vec<QuoteJson>,
    /// Null where no material has a plan.
    cheapest: Option<CheapestJson>,
}

/// One quote: everything from it, null where it cannot do the whole job; then material by material.
#[derive(Debug, Serialize, JsonSchema)]
struct QuoteJson {
    quote: String,
    delivery: String,
    whole: Option<WayJson>,
    materials: Vec<OfferJson>,
}

#[derive(Debug, Serialize, JsonSchema)]
struct WayJson {
    #[schemars(extend("enum" = ["optimal", "gap", "impossible", "unknown"]))]
    proof: &'static str,
    material: String,
    delivery: String,
    total: String,
    /// How much of that is the worth of bars in hand, which is not paid.
    worth: String,
    to_pay: String,
    bound: String,
    bars: u64,
    longest_mm: Option<Millimetres>,
    waste_mm: Millimetres,
}

/// What a quote has for one material; all null where it does not offer it.
#[derive(Debug, Serialize, JsonSchema)]
struct OfferJson {
    material: String,
    offered: bool,
    proof: Option<&'static str>,
    why: Option<String>,
    cost: Option<String>,
    bound: Option<String>,
    bars: Option<u64>,
    longest_mm: Option<Millimetres>,
    waste_mm: Option<Millimetres>,
}

#[derive(Debug, Serialize, JsonSchema)]
struct CheapestJson {
    #[serde(flatten)]
    way: WayJson,
    materials: Vec<SourceJson>,
}

/// Where a material comes from: a quote, or from hand alone where that is null. Without a plan there is
/// neither.
#[derive(Debug, Serialize, JsonSchema)]
struct SourceJson {
    material: String,
    planned: bool,
    quote: Option<String>,
    cost: Option<String>,
}

impl QuotesJson {
    /// The promised form of a comparison.
    ///
    /// # Errors
    /// None in practice: every length prints as a JSON number.
    pub fn new(compared: &Comparison) -> serde_json::Result<QuotesJson> {
        let quotes = compared.quotes.iter().enumerate();
        let quotes = quotes.map(|(place, quoted)| QuoteJson::new(compared, place, quoted));
        let cheapest = compared.cheapest.as_ref();
        Ok(QuotesJson {
            quotes: quotes.collect::<Result<_, _>>()?,
            cheapest: cheapest
                .map(|way| CheapestJson::new(compared, way))
                .transpose()?,
        })
    }
}

impl QuoteJson {
    fn new(compared: &Comparison, place: usize, quoted: &Quoted) -> serde_json::Result<QuoteJson> {
        let way = compared.alone.get(place).and_then(Option::as_ref);
        let materials = compared.materials.iter().enumerate();
        let materials = materials.map(|(material, name)| {
            let offers = compared.offers.get(place);
            let at = offers.and_then(|offers| offers.get(material).copied().flatten());
            OfferJson::new(compared, name, at)
        });
        Ok(QuoteJson {
            quote: quoted.name.clone(),
            delivery: quoted.delivery.to_string(),
            whole: way.map(|way| WayJson::new(compared, way)).transpose()?,
            materials: materials.collect::<Result<_, _>>()?,
        })
    }
}

impl WayJson {
    fn new(compared: &Comparison, way: &Way) -> serde_json::Result<WayJson> {
        let load = Load::of_way(compared, way);
        let worth = worth_of_way(compared, way);
        Ok(WayJson {
            proof: if way.is_proven() { "optimal" } else { "gap" },
            material: way.material.to_string(),
            delivery: way.delivery.to_string(),
            total: way.total.to_string(),
            worth: worth.to_string(),
            to_pay: words::price_gap(way.total, worth).to_string(),
            bound: way.bound.to_string(),
            bars: load.bars,
            longest_mm: load.longest.map(mm).transpose()?,
            waste_mm: mm(load.waste)?,
        })
    }
}

impl OfferJson {
    fn new(compared: &Comparison, name: &str, at: Option<PlanAt>) -> serde_json::Result<OfferJson> {
        let plan = at.and_then(|at| compared.plan(at));
        let cutting = at.and_then(|at| compared.cutting(at));
        let load = at.and_then(|at| Load::of_plan(compared, at));
        Ok(OfferJson {
            material: name.to_owned(),
            offered: at.is_some(),
            proof: plan.map(|plan| proof_name(&plan.outcome)),
            why: plan.and_then(words::why),
            cost: cutting.and_then(|cutting| money(cutting.value)),
            bound: cutting.and_then(|cutting| money(cutting.bound)),
            bars: load.map(|load| load.bars),
            longest_mm: load.and_then(|load| load.longest).map(mm).transpose()?,
            waste_mm: load.map(|load| mm(load.waste)).transpose()?,
        })
    }
}

impl CheapestJson {
    fn new(compared: &Comparison, way: &Way) -> serde_json::Result<CheapestJson> {
        let sources = compared.materials.iter().zip(&way.sources);
        let sources = sources.map(|(name, source)| {
            let quote = source.and_then(|source| compared.quotes.get(source.quote?));
            let plan = source.and_then(|source| compared.plan(source.plan));
            let cost = plan.and_then(|plan| match &plan.outcome {
                Outcome::Planned(cutting) => Some(money(cutting.value).unwrap_or_else(nothing)),
                _ => None,
            });
            SourceJson {
                material: name.clone(),
                planned: source.is_some(),
                quote: quote.map(|quote| quote.name.clone()),
                cost,
            }
        });
        Ok(CheapestJson {
            way: WayJson::new(compared, way)?,
            materials: sources.collect(),
        })
    }
}

fn money(value: Value) -> Option<String> {
    match value {
        Value::Money(money) => Some(money.to_string()),
        Value::Bought(_) => None,
    }
}

/// What is in hand and has no worth.
fn nothing() -> String {
    lengthwise::Price::ZERO.to_string()
}
