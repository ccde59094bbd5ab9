//! The plan as JSON. Field names are a promise; lengths are exact numbers of millimetres; money is
//! text.

pub mod carried;
pub mod job;
mod made;
mod mishaps;
mod preferred;
mod quotes;
pub mod read_back;
pub mod read_job;
mod reason;
pub mod schema;
pub mod seal;
mod stand_alone;
#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests;
pub mod tree;
pub mod verified;
mod walls;

use std::borrow::Cow;

use lengthwise::job::{Ends, Job, Sold, SquareOff};
use lengthwise::plan::{
    BarGroup, Cut, Cutting, Figures, MaterialPlan, Outcome, Plan, Proof, Purchase, RunPart,
    UncutBars, Value,
};
use lengthwise::{Length, Price, Unit};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::Serialize;
use serde_json::value::RawValue;

use crate::insurance::Cover;
use preferred::PreferenceJson;
use walls::WallsJson;

use crate::text::words;
use made::Made;
use mishaps::MishapsJson;
pub use quotes::QuotesJson;
use reason::ImpossibleJson;
pub use stand_alone::StandAlone;

/// A number of millimetres, digit by digit: no float comes between.
#[derive(Debug, Serialize)]
#[serde(transparent)]
struct Millimetres(Box<RawValue>);

impl JsonSchema for Millimetres {
    fn schema_name() -> Cow<'static, str> {
        "Millimetres".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "description": "Millimetres, exact to a millionth.",
            "type": "number",
            "minimum": 0
        })
    }
}

fn mm(length: Length) -> serde_json::Result<Millimetres> {
    RawValue::from_string(length.number(Unit::Mm)).map(Millimetres)
}

fn money(price: Option<Price>) -> Option<String> {
    price.map(|price| price.to_string())
}

/// How a sale is written in files and in JSON.
pub fn sold_text(sold: Sold) -> String {
    match sold {
        Sold::PerMetre => "per m".to_owned(),
        Sold::Pack(bars) => format!("pack of {bars}"),
        _ => "each".to_owned(),
    }
}

/// The whole plan.
#[derive(Debug, Serialize, JsonSchema)]
pub struct PlanJson<'a> {
    materials: Made<'a, MaterialJson>,
    totals: TotalsJson,
}

#[derive(Debug, Serialize, JsonSchema)]
struct MaterialJson {
    material: String,
    #[schemars(extend("enum" = ["optimal", "gap", "impossible", "unknown"]))]
    proof: &'static str,
    why: Option<String>,
    /// Why the search ended without a proof; null where there is one.
    stopped: Option<&'static str>,
    /// Why there is no plan, in figures.
    impossible: Option<ImpossibleJson>,
    /// The unit that its lengths are printed in for people.
    #[schemars(extend("enum" = ["mm", "cm", "m", "in", "ft"]))]
    unit: &'static str,
    kerf_mm: Millimetres,
    cost: Option<String>,
    bound: Option<String>,
    bought_mm: Option<Millimetres>,
    bound_mm: Option<Millimetres>,
    /// Whether no plan of the same cost cuts into less from hand: `optimal` where that is proven.
    hand_proof: Option<&'static str>,
    buy: Vec<BuyJson>,
    bars: Vec<BarsJson>,
    uncut: Vec<UncutJson>,
    figures: Option<FiguresJson>,
    preference: Option<PreferenceJson>,
    #[serde(skip_serializing_if = "Option::is_none")]
    walls: Option<WallsJson>,
    #[serde(flatten)]
    mishaps: MishapsJson,
}

#[derive(Debug, Serialize, JsonSchema)]
struct BuyJson {
    /// The kind of bar: its place among those of the material, bought ones first, as they are listed.
    bar: usize,
    length_mm: Millimetres,
    count: u64,
    sold: String,
    price: Option<String>,
    cost: Option<String>,
}

#[derive(Debug, Serialize, JsonSchema)]
struct BarsJson {
    names: Vec<String>,
    /// The kind of bar, as in the list of what to buy.
    bar: usize,
    stock_mm: Millimetres,
    in_hand: bool,
    cuts: Vec<CutJson>,
    blade_mm: Millimetres,
    reserve_mm: Millimetres,
    square_mm: Millimetres,
    offcut_mm: Millimetres,
    saved: bool,
}

#[derive(Debug, Serialize, JsonSchema)]
struct CutJson {
    length_mm: Millimetres,
    /// Angles of the ends in degrees, `45/90`; null where both are square.
    ends: Option<String>,
    marks: Vec<String>,
    spare: bool,
    /// Whether it is no cut but room for a whole bar; left out where it is not.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    for_bar: bool,
    stage: u64,
    /// Null where the piece has no joints.
    run: Option<RunJson>,
}

/// What a cut is of a run. Joints lie at `from_mm` and `to_mm`, unless these are its ends; supports
/// count from 1, null where there is none.
#[derive(Debug, Serialize, JsonSchema)]
struct RunJson {
    mark: String,
    copy: u64,
    part: u32,
    of: u32,
    from_mm: Millimetres,
    to_mm: Millimetres,
    from_support: Option<u32>,
    to_support: Option<u32>,
}

#[derive(Debug, Serialize, JsonSchema)]
struct UncutJson {
    length_mm: Millimetres,
    count: u64,
    in_hand: bool,
}

#[derive(Debug, Serialize, JsonSchema)]
struct FiguresJson {
    needed_mm: Millimetres,
    spare_mm: Millimetres,
    blade_mm: Millimetres,
    reserve_mm: Millimetres,
    square_mm: Millimetres,
    saved_mm: Millimetres,
    waste_mm: Millimetres,
    /// The share of the bars cut that ends up as pieces.
    #[serde(rename = "yield")]
    #[schemars(with = "f64", range(min = 0, max = 1))]
    share: Box<RawValue>,
}

#[derive(Debug, Serialize, JsonSchema)]
struct TotalsJson {
    cost: Option<String>,
    bought_mm: Millimetres,
    /// What insurance costs in all; left out where none was asked for, or not everything is insured at a
    /// price.
    #[serde(skip_serializing_if = "Option::is_none")]
    insurance: Option<InsuranceTotalJson>,
}

#[derive(Debug, Serialize, JsonSchema)]
struct InsuranceTotalJson {
    cost: String,
    proven: bool,
}

impl<'a> PlanJson<'a> {
    /// The promised form of a plan.
    ///
    /// # Errors
    /// None in practice, here and where it is written: every length prints as a JSON number.
    pub fn new(plan: &'a Plan) -> serde_json::Result<PlanJson<'a>> {
        Ok(PlanJson {
            materials: Made::of(&plan.materials, MaterialJson::new),
            totals: TotalsJson {
                cost: money(total_cost(plan)),
                bought_mm: mm(total_bought(plan))?,
                insurance: None,
            },
        })
    }
}

impl<'a> PlanJson<'a> {
    /// The same with what the plan bears: that takes the job which it answers.
    pub fn with_mishaps(self, job: &'a Job, plan: &'a Plan, cover: &'a Cover) -> PlanJson<'a> {
        let total = crate::text::mishaps::total_price(&cover.materials);
        let insurance = total.map(|(price, proven)| InsuranceTotalJson {
            cost: price.to_string(),
            proven,
        });
        let one = |place: usize| {
            let Some(plan) = plan.materials.get(place) else {
                return Ok(None);
            };
            let mut shown = MaterialJson::new(plan)?;
            if let (Outcome::Planned(cutting), Some(material)) =
                (&plan.outcome, job.materials().get(place))
            {
                let insured = cover.materials.get(place);
                shown.mishaps = MishapsJson::new(material, cutting, insured)?;
            }
            Ok(Some(shown))
        };
        PlanJson {
            materials: Made::at(plan.materials.len(), one),
            totals: TotalsJson {
                insurance,
                ..self.totals
            },
        }
    }
}

/// The cost of all materials; `None` if any is not priced or not planned.
pub fn total_cost(plan: &Plan) -> Option<Price> {
    plan.materials
        .iter()
        .try_fold(Price::ZERO, |sum, material| match &material.outcome {
            Outcome::Planned(cutting) => match cutting.value {
                Value::Money(cost) => sum.checked_add(cost),
                Value::Bought(_) => None,
            },
            _ => None,
        })
}

fn total_bought(plan: &Plan) -> Length {
    let bought = plan
        .materials
        .iter()
        .map(|material| match &material.outcome {
            Outcome::Planned(cutting) => cutting.figures.bought,
            _ => Length::ZERO,
        });
    bought.fold(Length::ZERO, |sum, one| {
        sum.checked_add(one).unwrap_or(Length::MAX)
    })
}

/// The promised name of how good an answer is.
pub fn proof_name(outcome: &Outcome) -> &'static str {
    match outcome {
        Outcome::Planned(cutting) => proof_text(cutting.proof),
        Outcome::Impossible(_) => "impossible",
        Outcome::Unknown(_) => "unknown",
    }
}

fn proof_text(proof: Proof) -> &'static str {
    match proof {
        Proof::Optimal => "optimal",
        _ => "gap",
    }
}

impl MaterialJson {
    fn new(plan: &MaterialPlan) -> serde_json::Result<MaterialJson> {
        let mut shown = MaterialJson {
            material: plan.name.clone(),
            proof: proof_name(&plan.outcome),
            why: words::why(plan),
            stopped: reason::stopped(&plan.outcome),
            impossible: ImpossibleJson::of(&plan.outcome)?,
            unit: plan.unit.name(),
            kerf_mm: mm(plan.kerf)?,
            cost: None,
            bound: None,
            bought_mm: None,
            bound_mm: None,
            hand_proof: None,
            buy: Vec::new(),
            bars: Vec::new(),
            uncut: Vec::new(),
            figures: None,
            preference: None,
            walls: None,
            mishaps: MishapsJson::default(),
        };
        if let Outcome::Planned(cutting) = &plan.outcome {
            shown.fill(cutting)?;
        }
        Ok(shown)
    }

    fn fill(&mut self, cutting: &Cutting) -> serde_json::Result<()> {
        if let Value::Money(cost) = cutting.value {
            self.cost = Some(cost.to_string());
        }
        match cutting.bound {
            Value::Money(bound) => self.bound = Some(bound.to_string()),
            Value::Bought(bound) => self.bound_mm = Some(mm(bound)?),
        }
        self.bought_mm = Some(mm(cutting.figures.bought)?);
        self.hand_proof = Some(proof_text(cutting.hand_proof));
        self.buy = all(&cutting.buy, BuyJson::new)?;
        let bars = cutting.bars.iter().map(BarsJson::of);
        self.bars = bars
            .collect::<serde_json::Result<Vec<_>>>()?
            .into_iter()
            .flatten()
            .collect();
        self.uncut = all(&cutting.uncut, UncutJson::new)?;
        self.figures = Some(FiguresJson::new(&cutting.figures)?);
        self.preference = PreferenceJson::new(&cutting.preference)?;
        self.walls = cutting.walls.as_ref().map(WallsJson::new).transpose()?;
        Ok(())
    }
}

fn all<T, J>(items: &[T], one: impl Fn(&T) -> serde_json::Result<J>) -> serde_json::Result<Vec<J>> {
    items.iter().map(one).collect()
}

impl BuyJson {
    fn new(buy: &Purchase) -> serde_json::Result<BuyJson> {
        Ok(BuyJson {
            bar: buy.bar,
            length_mm: mm(buy.length)?,
            count: buy.bars,
            sold: sold_text(buy.sold),
            price: money(buy.price),
            cost: money(buy.cost),
        })
    }
}

impl BarsJson {
    /// Bars cut alike in one entry, but where they hold parts of runs: these name their copy, so each
    /// bar has an entry of its own.
    fn of(bars: &BarGroup) -> serde_json::Result<Vec<BarsJson>> {
        if bars.cuts.iter().all(|cut| cut.parts.is_empty()) {
            let cuts = all(&bars.cuts, |cut| CutJson::new(cut, &cut.marks, None))?;
            return Ok(vec![BarsJson::new(bars, bars.names.clone(), cuts)?]);
        }
        let one = |(place, name): (usize, &String)| {
            let cut = |cut: &Cut| {
                let mark = cut.marks.get(place..=place).unwrap_or_default();
                CutJson::new(cut, mark, cut.parts.get(place))
            };
            BarsJson::new(bars, vec![name.clone()], all(&bars.cuts, cut)?)
        };
        bars.names.iter().enumerate().map(one).collect()
    }

    fn new(
        bars: &BarGroup,
        names: Vec<String>,
        cuts: Vec<CutJson>,
    ) -> serde_json::Result<BarsJson> {
        Ok(BarsJson {
            names,
            bar: bars.bar,
            stock_mm: mm(bars.stock)?,
            in_hand: bars.in_hand,
            cuts,
            blade_mm: mm(bars.blade)?,
            reserve_mm: mm(bars.reserve)?,
            square_mm: mm(bars.square)?,
            offcut_mm: mm(bars.offcut)?,
            saved: bars.saved,
        })
    }
}

impl CutJson {
    fn new(cut: &Cut, marks: &[String], part: Option<&RunPart>) -> serde_json::Result<CutJson> {
        Ok(CutJson {
            length_mm: mm(cut.length)?,
            ends: ends_text(cut.ends),
            marks: marks.to_vec(),
            spare: cut.spare,
            for_bar: cut.for_bar,
            stage: cut.stage,
            run: part.map(RunJson::new).transpose()?,
        })
    }
}

impl RunJson {
    fn new(part: &RunPart) -> serde_json::Result<RunJson> {
        Ok(RunJson {
            mark: part.mark.clone(),
            copy: part.copy,
            part: part.part,
            of: part.of,
            from_mm: mm(part.from)?,
            to_mm: mm(part.to)?,
            from_support: part.from_support,
            to_support: part.to_support,
        })
    }
}

impl UncutJson {
    fn new(bars: &UncutBars) -> serde_json::Result<UncutJson> {
        Ok(UncutJson {
            length_mm: mm(bars.length)?,
            count: bars.count,
            in_hand: bars.in_hand,
        })
    }
}

impl FiguresJson {
    fn new(figures: &Figures) -> serde_json::Result<FiguresJson> {
        Ok(FiguresJson {
            needed_mm: mm(figures.needed)?,
            spare_mm: mm(figures.spare)?,
            blade_mm: mm(figures.blade)?,
            reserve_mm: mm(figures.reserve)?,
            square_mm: mm(figures.square)?,
            saved_mm: mm(figures.saved)?,
            waste_mm: mm(figures.waste)?,
            share: RawValue::from_string(figures.yield_share().normalize().to_string())?,
        })
    }
}

/// `near/far` with units, in every case readable back.
pub fn square_off_text(square_off: SquareOff, unit: Unit) -> String {
    let SquareOff { near, far } = square_off;
    format!("{}/{}", near.text(unit), far.text(unit))
}

/// `near/far` in degrees; nothing where both ends are square.
pub fn ends_text(ends: Ends) -> Option<String> {
    (!ends.are_square()).then(|| ends.to_string())
}
