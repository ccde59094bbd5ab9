//! The job as plan.json embeds it, row by row: written with the plan, and read back from it.

use lengthwise::job::{
    CourseRule, EndGap, HandRow, JobInput, LaidCourse, PieceRow, Prefer, PriceBreak, Quantity,
    StockRow,
};
use lengthwise::{Measure, Price, Unit};
use serde::{Deserialize, Serialize};

use super::{ends_text, money, sold_text, square_off_text};

/// The job as it was read.
#[derive(Debug, Serialize, Deserialize)]
pub struct JobJson {
    pub settings: SettingsJson,
    pub pieces: Vec<PieceJson>,
    pub stock: Vec<StockJson>,
    pub in_hand: Vec<HandJson>,
}

/// The settings of the saw, and what the plan is insured against.
#[derive(Debug, Serialize, Deserialize)]
pub struct SettingsJson {
    pub kerf: String,
    pub per_cut: String,
    pub square_off: String,
    pub save_from: String,
    pub longest: Option<String>,
    pub temperature_range: Option<String>,
    pub hold: String,
    pub stop_reach: Option<String>,
    pub prefer: String,
    #[serde(default)]
    pub insure: u64,
    #[serde(default)]
    pub insure_bar: bool,
}

/// A row of pieces.
#[derive(Debug, Serialize, Deserialize)]
pub struct PieceJson {
    pub source: String,
    pub line: u64,
    pub material: String,
    pub mark: String,
    pub length: String,
    pub qty: QuantityJson,
    pub to: Option<String>,
    pub step: Option<String>,
    pub end_gap: Option<String>,
    pub ends: Option<String>,
    pub spare: u64,
    pub joints: Option<String>,
    pub joint_gap: Option<String>,
    pub joints_max: Option<u64>,
    pub shortest: Option<String>,
    pub course_group: String,
    pub course: Option<u64>,
    pub course_rule: Option<String>,
    pub stage: u64,
    pub wall: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub leave_long: Option<String>,
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub spares_only: bool,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub laid: Vec<LaidJson>,
    pub note: String,
}

/// A course that is laid already, and where it is joined.
#[derive(Debug, Serialize, Deserialize)]
pub struct LaidJson {
    pub course: u64,
    pub joints: Vec<String>,
}

/// A number, or a width as it stands in the column `qty`.
#[derive(Debug, Serialize, Deserialize)]
#[serde(untagged)]
pub enum QuantityJson {
    Count(u64),
    Width(String),
}

/// A row of stock.
#[derive(Debug, Serialize, Deserialize)]
pub struct StockJson {
    pub source: String,
    pub line: u64,
    pub material: String,
    pub length: String,
    pub price: Option<String>,
    pub sold: String,
    pub available: Option<u64>,
    pub kerf: Option<String>,
    pub square_off: Option<String>,
    pub shortest: Option<String>,
    pub save_from: Option<String>,
    pub expansion: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub delivery: Option<String>,
    pub note: String,
}

/// A row of bars in hand.
#[derive(Debug, Serialize, Deserialize)]
pub struct HandJson {
    pub source: String,
    pub line: u64,
    pub material: String,
    pub length: String,
    pub available: u64,
    pub square_off: Option<String>,
    pub worth: Option<String>,
    pub note: String,
}

/// A length that is read back in its own unit: less than a foot would come back in inches.
fn measure_text(measure: Measure) -> String {
    let text = measure.to_string();
    let is_of_inches = measure.unit == Unit::Ft && text.ends_with('"') && !text.contains('\'');
    if is_of_inches {
        format!("0' {text}")
    } else {
        text
    }
}

/// `near/far` with units; nothing where there is no gap.
fn gap_text(gap: EndGap, unit: Unit) -> Option<String> {
    let text = || format!("{}/{}", gap.near.text(unit), gap.far.text(unit));
    (gap != EndGap::default()).then(text)
}

/// The name of the flag.
fn prefer_text(prefer: Prefer) -> &'static str {
    match prefer {
        Prefer::Setups => "setups",
        _ => "offcuts",
    }
}

/// The column `price`.
fn prices_text(price: Price, breaks: &[PriceBreak]) -> String {
    let lower = breaks
        .iter()
        .map(|at| format!("; {} from {}", at.price, at.from));
    price.to_string() + &lower.collect::<String>()
}

/// Joints over courses.
fn rule_text(rule: CourseRule) -> String {
    format!("{}/{}", rule.joints, rule.courses)
}

impl JobJson {
    /// The rows, each length with its unit.
    pub fn new(input: &JobInput) -> JobJson {
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
                prefer: prefer_text(saw.prefer).to_owned(),
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
            length: measure_text(row.length),
            qty: match row.qty {
                Quantity::Count(count) => QuantityJson::Count(count),
                width => QuantityJson::Width(width.to_string()),
            },
            to: row.to.map(measure_text),
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
            length: measure_text(row.length),
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
            length: measure_text(row.length),
            available: row.available,
            square_off: row.square_off.map(|both| square_off_text(both, unit)),
            worth: money(row.worth),
            note: row.note.clone(),
        }
    }
}
