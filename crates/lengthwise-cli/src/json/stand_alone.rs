//! The plan with the job that it answers and the prices that prove its bounds.

use lengthwise::carry_on::UnderWay;
use lengthwise::job::{
    CourseRule, EndGap, HandRow, JobInput, LaidCourse, PieceRow, Prefer, PriceBreak, Quantity,
    Shape, StockRow,
};
use lengthwise::plan::{
    Anywhere, Certificate, Cutting, MaterialPlan, Outcome, Plan, TriedPlaces, Window,
};
use lengthwise::{Job, Price, Unit};
use serde::Serialize;

use super::carried::CarriedJson;
use super::{Millimetres, PlanJson, all, ends_text, mm, money, sold_text, square_off_text};
use crate::insurance::Cover;

/// The plan with the job it answers, so that the file stands alone.
#[derive(Debug, Serialize)]
pub struct StandAlone {
    #[serde(flatten)]
    plan: PlanJson,
    job: JobJson,
    certificates: Vec<CertificateJson>,
    #[serde(skip_serializing_if = "Option::is_none")]
    carried_on: Option<CarriedJson>,
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
    hold: String,
    stop_reach: Option<String>,
    prefer: &'static str,
    insure: u64,
    insure_bar: bool,
}

#[derive(Debug, Serialize)]
pub struct PieceJson {
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
    stage: u64,
    wall: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    leave_long: Option<String>,
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    spares_only: bool,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    laid: Vec<LaidJson>,
    note: String,
}

/// A course that is laid already, and where it is joined.
#[derive(Debug, Serialize)]
struct LaidJson {
    course: u64,
    joints: Vec<String>,
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
    #[serde(skip_serializing_if = "Option::is_none")]
    delivery: Option<String>,
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
    #[serde(flatten)]
    proof: ProofJson,
    /// One for each choice of prices, where bars have price breaks; left out where they have none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    combinations: Vec<CombinationJson>,
}

/// The proof at one price for each kind of bar: its place in the row, null where it is left open.
#[derive(Debug, Serialize)]
struct CombinationJson {
    prices: Vec<Option<usize>>,
    bound: String,
    #[serde(flatten)]
    proof: ProofJson,
}

/// The prices of pieces, and what refutes the mixes beyond them.
#[derive(Debug, Serialize)]
struct ProofJson {
    scale: i64,
    prices: Vec<PieceValueJson>,
    windows: Vec<WindowJson>,
    anywhere: Option<AnywhereJson>,
    tried: Vec<TriedJson>,
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

/// The price of a joint on one place in courses that follow each other; `group` counts the groups of
/// the material from 0, in the order in which the pieces name them.
#[derive(Debug, Serialize)]
struct WindowJson {
    group: usize,
    first: u64,
    place_mm: Millimetres,
    price: i64,
}

/// How the runs whose joints may fall anywhere are counted: by units of length, or by rounded joints.
#[derive(Debug, Serialize)]
#[serde(untagged)]
enum AnywhereJson {
    ByLength { unit_mm: Millimetres, price: i64 },
    Rounded { step_mm: Millimetres },
}

#[derive(Debug, Serialize)]
struct PieceValueJson {
    length_mm: Millimetres,
    ends: Option<String>,
    price: i64,
}

/// `near/far` with units; nothing where there is no gap.
fn gap_text(gap: EndGap, unit: Unit) -> Option<String> {
    let text = || format!("{}/{}", gap.near.text(unit), gap.far.text(unit));
    (gap != EndGap::default()).then(text)
}

/// The column `price`.
fn prices_text(price: Price, breaks: &[PriceBreak]) -> String {
    let lower = breaks
        .iter()
        .map(|at| format!("; {} from {}", at.price, at.from));
    price.to_string() + &lower.collect::<String>()
}

/// The name of the flag.
fn prefer_text(prefer: Prefer) -> &'static str {
    match prefer {
        Prefer::Setups => "setups",
        _ => "offcuts",
    }
}

/// Joints over courses.
fn rule_text(rule: CourseRule) -> String {
    format!("{}/{}", rule.joints, rule.courses)
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
            carried_on: None,
        })
    }

    /// The same, of a plan that was carried on: with what only the plans before know.
    ///
    /// # Errors
    /// As [`StandAlone::new`].
    pub fn carried(plan: &Plan, under_way: &UnderWay) -> serde_json::Result<StandAlone> {
        Ok(StandAlone {
            carried_on: Some(CarriedJson::new(plan, under_way)),
            ..StandAlone::new(plan, &under_way.input)?
        })
    }
}

impl StandAlone {
    /// The same with what the plan bears, and the insurance among the settings.
    ///
    /// # Errors
    /// As [`StandAlone::new`].
    pub fn with_mishaps(
        mut self,
        job: &Job,
        plan: &Plan,
        cover: &Cover,
    ) -> serde_json::Result<Self> {
        self.plan = self.plan.with_mishaps(job, plan, cover)?;
        self.job.settings.insure = cover.insurance.pieces;
        self.job.settings.insure_bar = cover.insurance.bar;
        Ok(self)
    }
}

impl CertificateJson {
    fn of(plan: &MaterialPlan) -> Option<serde_json::Result<CertificateJson>> {
        match &plan.outcome {
            Outcome::Planned(cutting) => Some(CertificateJson::new(&plan.name, cutting)),
            _ => None,
        }
    }

    fn new(material: &str, cutting: &Cutting) -> serde_json::Result<CertificateJson> {
        let certificate = &cutting.certificate;
        let combinations = all(&certificate.combinations, |combination| {
            Ok(CombinationJson {
                prices: combination.prices.clone(),
                bound: combination.bound.to_string(),
                proof: ProofJson::new(&combination.certificate)?,
            })
        });
        Ok(CertificateJson {
            material: material.to_owned(),
            proof: ProofJson::new(certificate)?,
            combinations: combinations?,
        })
    }
}

impl ProofJson {
    fn new(certificate: &Certificate) -> serde_json::Result<ProofJson> {
        let mixes = &certificate.mixes;
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
        Ok(ProofJson {
            scale: certificate.scale,
            prices: all(&certificate.prices, PieceValueJson::new)?,
            windows: all(&certificate.windows, WindowJson::new)?,
            anywhere: certificate.anywhere.map(AnywhereJson::new).transpose()?,
            tried: all(&certificate.tried, TriedJson::new)?,
            refutations: mixes.refutations.clone(),
            searched: searched.collect(),
            splits: splits.collect(),
        })
    }
}

impl PieceValueJson {
    fn new(&(shape, price): &(Shape, i64)) -> serde_json::Result<PieceValueJson> {
        Ok(PieceValueJson {
            length_mm: mm(shape.length)?,
            ends: ends_text(shape.ends),
            price,
        })
    }
}

impl WindowJson {
    fn new(&(window, price): &(Window, i64)) -> serde_json::Result<WindowJson> {
        Ok(WindowJson {
            group: window.group,
            first: window.first,
            place_mm: mm(window.place)?,
            price,
        })
    }
}

/// The places where the joints of a run were tried that may fall anywhere.
#[derive(Debug, Serialize)]
struct TriedJson {
    mark: String,
    places_mm: Vec<Millimetres>,
}

impl TriedJson {
    fn new(tried: &TriedPlaces) -> serde_json::Result<TriedJson> {
        Ok(TriedJson {
            mark: tried.mark.clone(),
            places_mm: all(&tried.places, |&place| mm(place))?,
        })
    }
}

impl AnywhereJson {
    fn new(anywhere: Anywhere) -> serde_json::Result<AnywhereJson> {
        Ok(match anywhere {
            Anywhere::ByLength { unit, price } => AnywhereJson::ByLength {
                unit_mm: mm(unit)?,
                price,
            },
            Anywhere::Rounded { step } => AnywhereJson::Rounded { step_mm: mm(step)? },
        })
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
                hold: saw.hold.text(Unit::Mm),
                stop_reach: saw.stop_reach.map(|reach| reach.text(Unit::Mm)),
                prefer: prefer_text(saw.prefer),
                insure: 0,
                insure_bar: false,
            },
            pieces: input.pieces.iter().map(PieceJson::new).collect(),
            stock: input.stock.iter().map(StockJson::new).collect(),
            in_hand: input.in_hand.iter().map(HandJson::new).collect(),
        }
    }
}

impl PieceJson {
    pub fn new(row: &PieceRow) -> PieceJson {
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
            stage: row.stage,
            wall: row.wall.clone(),
            leave_long: row.leave_long.map(|left| left.text(unit)),
            spares_only: row.spares_only,
            laid: row
                .laid
                .iter()
                .map(|laid| LaidJson::new(laid, unit))
                .collect(),
            note: row.note.clone(),
        }
    }
}

impl LaidJson {
    fn new(laid: &LaidCourse, unit: Unit) -> LaidJson {
        let joints = laid.joints.iter();
        LaidJson {
            course: laid.course,
            joints: joints.map(|joint| joint.text(unit)).collect(),
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
            price: row.price.map(|price| prices_text(price, &row.breaks)),
            sold: sold_text(row.sold),
            available: row.available,
            kerf: row.kerf.map(|kerf| kerf.text(unit)),
            square_off: row.square_off.map(|both| square_off_text(both, unit)),
            shortest: row.shortest.map(|shortest| shortest.text(unit)),
            save_from: row.save_from.map(|save_from| save_from.text(unit)),
            expansion: row.expansion.map(|expansion| expansion.to_string()),
            delivery: money(row.delivery),
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
