//! The plan as JSON. Field names are a promise; lengths are exact numbers of millimetres; money is
//! text.

use lengthwise::job::{
    CourseRule, EndGap, Ends, HandRow, JobInput, PieceRow, Quantity, Shape, Sold, SquareOff,
    StockRow,
};
use lengthwise::plan::{
    BarGroup, Cut, Cutting, Figures, MaterialPlan, Outcome, Plan, Proof, Purchase, UncutBars, Value,
};
use lengthwise::{Length, Price, Unit};
use serde::Serialize;
use serde_json::value::RawValue;

use crate::text::words;

/// A number of millimetres, digit by digit: no float comes between.
type Millimetres = Box<RawValue>;

fn mm(length: Length) -> serde_json::Result<Millimetres> {
    RawValue::from_string(length.number(Unit::Mm))
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
#[derive(Debug, Serialize)]
pub struct PlanJson {
    materials: Vec<MaterialJson>,
    totals: TotalsJson,
}

#[derive(Debug, Serialize)]
struct MaterialJson {
    material: String,
    proof: &'static str,
    why: Option<String>,
    unit: &'static str,
    kerf_mm: Millimetres,
    cost: Option<String>,
    bound: Option<String>,
    bought_mm: Option<Millimetres>,
    bound_mm: Option<Millimetres>,
    buy: Vec<BuyJson>,
    bars: Vec<BarsJson>,
    uncut: Vec<UncutJson>,
    figures: Option<FiguresJson>,
}

#[derive(Debug, Serialize)]
struct BuyJson {
    length_mm: Millimetres,
    count: u64,
    sold: String,
    price: Option<String>,
    cost: Option<String>,
}

#[derive(Debug, Serialize)]
struct BarsJson {
    names: Vec<String>,
    stock_mm: Millimetres,
    in_hand: bool,
    cuts: Vec<CutJson>,
    blade_mm: Millimetres,
    reserve_mm: Millimetres,
    square_mm: Millimetres,
    offcut_mm: Millimetres,
    saved: bool,
}

#[derive(Debug, Serialize)]
struct CutJson {
    length_mm: Millimetres,
    /// Angles of the ends in degrees, `45/90`; null where both are square.
    ends: Option<String>,
    marks: Vec<String>,
    spare: bool,
    /// Always null until runs with joints are built.
    run: Option<()>,
}

#[derive(Debug, Serialize)]
struct UncutJson {
    length_mm: Millimetres,
    count: u64,
    in_hand: bool,
}

#[derive(Debug, Serialize)]
struct FiguresJson {
    needed_mm: Millimetres,
    spare_mm: Millimetres,
    blade_mm: Millimetres,
    reserve_mm: Millimetres,
    square_mm: Millimetres,
    saved_mm: Millimetres,
    waste_mm: Millimetres,
    #[serde(rename = "yield")]
    share: Box<RawValue>,
}

#[derive(Debug, Serialize)]
struct TotalsJson {
    cost: Option<String>,
    bought_mm: Millimetres,
}

impl PlanJson {
    /// The promised form of a plan.
    ///
    /// # Errors
    /// None in practice: every length prints as a JSON number.
    pub fn new(plan: &Plan) -> serde_json::Result<PlanJson> {
        let materials: Result<Vec<_>, _> = plan.materials.iter().map(MaterialJson::new).collect();
        Ok(PlanJson {
            materials: materials?,
            totals: TotalsJson {
                cost: money(total_cost(plan)),
                bought_mm: mm(total_bought(plan))?,
            },
        })
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
        Outcome::Planned(cutting) => match cutting.proof {
            Proof::Optimal => "optimal",
            _ => "gap",
        },
        Outcome::Impossible(_) => "impossible",
        Outcome::Unknown(_) => "unknown",
    }
}

impl MaterialJson {
    fn new(plan: &MaterialPlan) -> serde_json::Result<MaterialJson> {
        let mut shown = MaterialJson {
            material: plan.name.clone(),
            proof: proof_name(&plan.outcome),
            why: words::why(plan),
            unit: plan.unit.name(),
            kerf_mm: mm(plan.kerf)?,
            cost: None,
            bound: None,
            bought_mm: None,
            bound_mm: None,
            buy: Vec::new(),
            bars: Vec::new(),
            uncut: Vec::new(),
            figures: None,
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
        self.buy = all(&cutting.buy, BuyJson::new)?;
        self.bars = all(&cutting.bars, BarsJson::new)?;
        self.uncut = all(&cutting.uncut, UncutJson::new)?;
        self.figures = Some(FiguresJson::new(&cutting.figures)?);
        Ok(())
    }
}

fn all<T, J>(items: &[T], one: impl Fn(&T) -> serde_json::Result<J>) -> serde_json::Result<Vec<J>> {
    items.iter().map(one).collect()
}

impl BuyJson {
    fn new(buy: &Purchase) -> serde_json::Result<BuyJson> {
        Ok(BuyJson {
            length_mm: mm(buy.length)?,
            count: buy.bars,
            sold: sold_text(buy.sold),
            price: money(buy.price),
            cost: money(buy.cost),
        })
    }
}

impl BarsJson {
    fn new(bars: &BarGroup) -> serde_json::Result<BarsJson> {
        Ok(BarsJson {
            names: bars.names.clone(),
            stock_mm: mm(bars.stock)?,
            in_hand: bars.in_hand,
            cuts: all(&bars.cuts, CutJson::new)?,
            blade_mm: mm(bars.blade)?,
            reserve_mm: mm(bars.reserve)?,
            square_mm: mm(bars.square)?,
            offcut_mm: mm(bars.offcut)?,
            saved: bars.saved,
        })
    }
}

impl CutJson {
    fn new(cut: &Cut) -> serde_json::Result<CutJson> {
        Ok(CutJson {
            length_mm: mm(cut.length)?,
            ends: ends_text(cut.ends),
            marks: cut.marks.clone(),
            spare: cut.spare,
            run: None,
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

/// The plan with the job it answers, so that the file stands alone.
#[derive(Debug, Serialize)]
pub struct StandAlone {
    #[serde(flatten)]
    plan: PlanJson,
    job: JobJson,
    certificates: Vec<CertificateJson>,
}

#[derive(Debug, Serialize)]
struct JobJson {
    settings: SettingsJson,
    pieces: Vec<PieceJson>,
    stock: Vec<StockJson>,
    in_hand: Vec<HandJson>,
}

#[derive(Debug, Serialize)]
struct SettingsJson {
    kerf: String,
    per_cut: String,
    square_off: String,
    save_from: String,
    longest: Option<String>,
    temperature_range: Option<String>,
}

#[derive(Debug, Serialize)]
struct PieceJson {
    source: String,
    line: u64,
    material: String,
    mark: String,
    length: String,
    qty: QuantityJson,
    to: Option<String>,
    step: Option<String>,
    end_gap: Option<String>,
    ends: Option<String>,
    spare: u64,
    joints: Option<String>,
    joint_gap: Option<String>,
    joints_max: Option<u64>,
    shortest: Option<String>,
    course_group: String,
    course: Option<u64>,
    course_rule: Option<String>,
    note: String,
}

/// A number, or a width as it stands in the column `qty`.
#[derive(Debug, Serialize)]
#[serde(untagged)]
enum QuantityJson {
    Count(u64),
    Width(String),
}

#[derive(Debug, Serialize)]
struct StockJson {
    source: String,
    line: u64,
    material: String,
    length: String,
    price: Option<String>,
    sold: String,
    available: Option<u64>,
    kerf: Option<String>,
    square_off: Option<String>,
    shortest: Option<String>,
    save_from: Option<String>,
    expansion: Option<String>,
    note: String,
}

#[derive(Debug, Serialize)]
struct HandJson {
    source: String,
    line: u64,
    material: String,
    length: String,
    available: u64,
    square_off: Option<String>,
    worth: Option<String>,
    note: String,
}

/// The whole-number prices behind the bound of one material, and what refutes the mixes of bars
/// beyond it.
#[derive(Debug, Serialize)]
struct CertificateJson {
    material: String,
    scale: i64,
    prices: Vec<PieceValueJson>,
    refutations: Vec<Vec<i64>>,
    searched: Vec<SearchedJson>,
    splits: Vec<Option<SplitJson>>,
}

/// A mix of bars that an exhausted search found not to hold everything.
#[derive(Debug, Serialize)]
struct SearchedJson {
    bars: Vec<u64>,
    patterns: u64,
    nodes: u64,
}

/// At most so many sales of a kind of bar in one box of mixes, more in the other.
#[derive(Debug, Serialize)]
struct SplitJson {
    bar: usize,
    at: u64,
}

#[derive(Debug, Serialize)]
struct PieceValueJson {
    length_mm: Millimetres,
    ends: Option<String>,
    price: i64,
}

/// `near/far` with units, in every case readable back.
pub fn square_off_text(square_off: SquareOff, unit: Unit) -> String {
    let SquareOff { near, far } = square_off;
    format!("{}/{}", near.text(unit), far.text(unit))
}

/// `near/far` with units; nothing where there is no gap.
fn gap_text(gap: EndGap, unit: Unit) -> Option<String> {
    let text = || format!("{}/{}", gap.near.text(unit), gap.far.text(unit));
    (gap != EndGap::default()).then(text)
}

/// Joints over courses.
fn rule_text(rule: CourseRule) -> String {
    format!("{}/{}", rule.joints, rule.courses)
}

/// `near/far` in degrees; nothing where both ends are square.
pub fn ends_text(ends: Ends) -> Option<String> {
    (!ends.are_square()).then(|| ends.to_string())
}

impl StandAlone {
    /// A plan together with the job as it was read.
    ///
    /// # Errors
    /// None in practice: every length prints as a JSON number.
    pub fn new(plan: &Plan, input: &JobInput) -> serde_json::Result<StandAlone> {
        let certificates = plan.materials.iter().filter_map(CertificateJson::of);
        Ok(StandAlone {
            plan: PlanJson::new(plan)?,
            job: JobJson::new(input),
            certificates: certificates.collect::<Result<_, _>>()?,
        })
    }
}

impl CertificateJson {
    fn of(plan: &MaterialPlan) -> Option<serde_json::Result<CertificateJson>> {
        let Outcome::Planned(cutting) = &plan.outcome else {
            return None;
        };
        let price = |&(shape, price): &(Shape, i64)| {
            Ok(PieceValueJson {
                length_mm: mm(shape.length)?,
                ends: ends_text(shape.ends),
                price,
            })
        };
        let mixes = &cutting.certificate.mixes;
        let searched = mixes.searched.iter().map(|mix| SearchedJson {
            bars: mix.bars.clone(),
            patterns: mix.patterns,
            nodes: mix.nodes,
        });
        let splits = mixes.splits.iter().map(|split| {
            split.map(|split| SplitJson {
                bar: split.bar,
                at: split.at,
            })
        });
        Some(
            all(&cutting.certificate.prices, price).map(|prices| CertificateJson {
                material: plan.name.clone(),
                scale: cutting.certificate.scale,
                prices,
                refutations: mixes.refutations.clone(),
                searched: searched.collect(),
                splits: splits.collect(),
            }),
        )
    }
}

impl JobJson {
    fn new(input: &JobInput) -> JobJson {
        let saw = &input.saw;
        JobJson {
            settings: SettingsJson {
                kerf: saw.kerf.text(Unit::Mm),
                per_cut: saw.per_cut.text(Unit::Mm),
                square_off: square_off_text(saw.square_off, Unit::Mm),
                save_from: saw.save_from.text(Unit::Mm),
                longest: saw.longest.map(|longest| longest.text(Unit::Mm)),
                temperature_range: saw.temperature_range.map(|range| range.to_string()),
            },
            pieces: input.pieces.iter().map(PieceJson::new).collect(),
            stock: input.stock.iter().map(StockJson::new).collect(),
            in_hand: input.in_hand.iter().map(HandJson::new).collect(),
        }
    }
}

impl PieceJson {
    fn new(row: &PieceRow) -> PieceJson {
        let unit = row.length.unit;
        PieceJson {
            source: row.origin.source.to_string(),
            line: row.origin.line,
            material: row.material.clone(),
            mark: row.mark.clone(),
            length: row.length.to_string(),
            qty: match row.qty {
                Quantity::Count(count) => QuantityJson::Count(count),
                width => QuantityJson::Width(width.to_string()),
            },
            to: row.to.map(|to| to.to_string()),
            step: row.step.map(|step| step.text(unit)),
            end_gap: gap_text(row.end_gap, unit),
            ends: ends_text(row.ends),
            spare: row.spare,
            joints: row.joints.as_ref().map(|joints| joints.text(unit)),
            joint_gap: row.joint_gap.map(|gap| gap.text(unit)),
            joints_max: row.joints_max,
            shortest: row.shortest.map(|shortest| shortest.text(unit)),
            course_group: row.course_group.clone(),
            course: row.course,
            course_rule: row.course_rule.map(rule_text),
            note: row.note.clone(),
        }
    }
}

impl StockJson {
    fn new(row: &StockRow) -> StockJson {
        let unit = row.length.unit;
        StockJson {
            source: row.origin.source.to_string(),
            line: row.origin.line,
            material: row.material.clone(),
            length: row.length.length.text(unit),
            price: money(row.price),
            sold: sold_text(row.sold),
            available: row.available,
            kerf: row.kerf.map(|kerf| kerf.text(unit)),
            square_off: row.square_off.map(|both| square_off_text(both, unit)),
            shortest: row.shortest.map(|shortest| shortest.text(unit)),
            save_from: row.save_from.map(|save_from| save_from.text(unit)),
            expansion: row.expansion.map(|expansion| expansion.to_string()),
            note: row.note.clone(),
        }
    }
}

impl HandJson {
    fn new(row: &HandRow) -> HandJson {
        let unit = row.length.unit;
        HandJson {
            source: row.origin.source.to_string(),
            line: row.origin.line,
            material: row.material.clone(),
            length: row.length.length.text(unit),
            available: row.available,
            square_off: row.square_off.map(|both| square_off_text(both, unit)),
            worth: money(row.worth),
            note: row.note.clone(),
        }
    }
}
