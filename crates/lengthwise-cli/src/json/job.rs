//! The job as plan.json embeds it, row by row: written with the plan, and read back from it.

use lengthwise::insure::Insurance;
use lengthwise::job::{
    CourseRule, EndGap, HandRow, JobInput, LaidCourse, PieceRow, Prefer, PriceBreak, Quantity, Saw,
    Sold, StockRow,
};
use lengthwise::{Measure, Price, Unit};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::made::Made;
use super::{ends_text, money, sold_text, square_off_text};

/// A job: the rows of pieces, stock and bars in hand, and the settings of the saw. Lengths are texts such as
/// "2210mm"; a bare number counts millimetres.
#[derive(Debug, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct JobJson {
    #[serde(default)]
    pub settings: SettingsJson,
    pub pieces: Vec<PieceJson>,
    #[serde(default)]
    pub stock: Vec<StockJson>,
    #[serde(default)]
    pub in_hand: Vec<HandJson>,
}

/// The same as it is written.
#[derive(Debug, Serialize)]
pub struct WrittenJob<'a> {
    settings: SettingsJson,
    pieces: Made<'a, PieceJson>,
    stock: Made<'a, StockJson>,
    in_hand: Made<'a, HandJson>,
}

/// The settings of the saw, and what the plan is insured against.
#[derive(Debug, Serialize, Deserialize, JsonSchema)]
#[serde(default)]
#[schemars(deny_unknown_fields)]
pub struct SettingsJson {
    /// Width of the blade where the stock states none.
    pub kerf: String,
    /// Reserve for errors at every cut.
    pub per_cut: String,
    /// Taken off the ends of bars where the stock states nothing: both, or near/far.
    pub square_off: String,
    /// Offcuts from this length up are saved.
    pub save_from: String,
    /// The longest bar that can be carried; null where any can.
    pub longest: Option<String>,
    /// How far the temperature of the pieces goes down and up, in kelvin; null where nothing is said of it.
    pub temperature_range: Option<String>,
    /// So much should be left to hold after a cut, where another order leaves it.
    pub hold: String,
    /// The longest setting of the saw's stop; null where any can be set.
    pub stop_reach: Option<String>,
    /// Which of all equally cheap plans.
    #[schemars(extend("enum" = ["offcuts", "setups"]))]
    pub prefer: String,
    /// So many spoiled pieces of every material can be cut again.
    pub insure: u64,
    /// One bar of every material may be bad.
    pub insure_bar: bool,
}

impl Default for SettingsJson {
    fn default() -> SettingsJson {
        SettingsJson::new(&Saw::default())
    }
}

/// A row of pieces.
#[derive(Debug, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct PieceJson {
    /// The table that the row was first read from; empty where there was none.
    #[serde(default)]
    pub source: String,
    /// The line in that table, counted from 1.
    #[serde(default)]
    pub line: u64,
    /// May be empty where the job has one material.
    #[serde(default)]
    pub material: String,
    #[serde(default)]
    pub mark: String,
    /// The length to cut, to the long points where the ends are slanted.
    pub length: String,
    #[serde(default)]
    pub qty: QuantityJson,
    /// Length at the other end of a raked set.
    pub to: Option<String>,
    /// Lengths of a raked set are rounded up to this; null is 1mm.
    pub step: Option<String>,
    /// Left open at the ends: both, or near/far; taken off the length.
    pub end_gap: Option<String>,
    /// Angles of the ends in degrees, as 45/90; null where both are square.
    pub ends: Option<String>,
    /// Extra copies of the longest, cut only if one is spoiled.
    #[serde(default)]
    pub spare: u64,
    /// Where a run may be joined: anywhere, every 600mm, every 600mm from 50mm, at 600mm 1200mm.
    pub joints: Option<String>,
    /// Left open at each joint.
    pub joint_gap: Option<String>,
    /// Any number of joints up to this; null is as few as it takes.
    pub joints_max: Option<u64>,
    /// The shortest part of a run.
    pub shortest: Option<String>,
    /// The name of a group of runs that lie above each other; empty where there is none.
    #[serde(default)]
    pub course_group: String,
    /// Which course of the group, counted from 1.
    pub course: Option<u64>,
    /// At most so many joints on a support in so many courses that follow each other, as 1/2.
    pub course_rule: Option<String>,
    /// The stage of the work, counted from 1.
    #[serde(default = "one")]
    pub stage: u64,
    #[serde(default)]
    pub wall: String,
    /// The batch that it comes from, with all pieces of its wall; empty where any will do.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub batch: String,
    /// Left on the far end when it is cut, to be trimmed in place.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub leave_long: Option<String>,
    /// Whether the row stands for spares alone, as after carrying on.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub spares_only: bool,
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub for_bar: bool,
    /// Courses of its group that are laid already.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub laid: Vec<LaidJson>,
    #[serde(default)]
    pub note: String,
}

/// A course that is laid already, and where it is joined.
#[derive(Debug, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct LaidJson {
    pub course: u64,
    pub joints: Vec<String>,
}

/// What is accepted as a quantity, as serde says it.
pub const QUANTITY: &str = "a whole number, or a width in quotation marks such as \"3100/140\"";

/// A number, or a width as it stands in the column `qty`, as 3100mm/140mm or 3100mm@600mm.
#[derive(Debug, Serialize, Deserialize, JsonSchema)]
#[serde(
    untagged,
    expecting = "a whole number, or a width in quotation marks such as \"3100/140\""
)]
pub enum QuantityJson {
    Count(u64),
    Width(String),
}

impl Default for QuantityJson {
    fn default() -> QuantityJson {
        QuantityJson::Count(1)
    }
}

/// A row of stock.
#[derive(Debug, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct StockJson {
    /// As in a row of pieces.
    #[serde(default)]
    pub source: String,
    #[serde(default)]
    pub line: u64,
    #[serde(default)]
    pub material: String,
    /// The length of the bar as it is sold.
    pub length: String,
    /// On all rows of a material or on none; lower prices from larger counts behind it: 5.90; 5.40 from 20.
    pub price: Option<String>,
    /// What the price is for: each, per m, or pack of 8.
    #[serde(default = "each")]
    pub sold: String,
    /// How many of what the price is for can be had; null is as many as wanted.
    pub available: Option<u64>,
    /// Width of the blade; the same on all rows of a material.
    pub kerf: Option<String>,
    /// Taken off the ends: both, or near/far.
    pub square_off: Option<String>,
    /// The shortest part of runs whose row says nothing.
    pub shortest: Option<String>,
    /// Offcuts of this material are saved from this length up.
    pub save_from: Option<String>,
    /// How it grows with heat, in millionths per kelvin, as 60.
    pub expansion: Option<String>,
    /// Charged once for all that is bought of the source.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub delivery: Option<String>,
    /// The batch that the bars are of; empty where none is named.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub batch: String,
    #[serde(default)]
    pub note: String,
}

/// A row of bars in hand.
#[derive(Debug, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct HandJson {
    /// As in a row of pieces.
    #[serde(default)]
    pub source: String,
    #[serde(default)]
    pub line: u64,
    #[serde(default)]
    pub material: String,
    pub length: String,
    /// How many there are.
    #[serde(default = "one")]
    pub available: u64,
    /// Taken off the ends: both, or near/far.
    pub square_off: Option<String>,
    /// Money that cutting into one counts as.
    pub worth: Option<String>,
    /// The batch that the bars are of; empty where none is named.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub batch: String,
    #[serde(default)]
    pub note: String,
}

/// By the definition of the inch (international yard and pound agreement of 1959, from memory).
const NM_PER_INCH: i64 = 25_400_000;

/// What counts are where nothing is said.
const fn one() -> u64 {
    1
}

fn each() -> String {
    sold_text(Sold::Each)
}

/// A length that is read back in its own unit: less than a foot would come back in inches, and what is no decimal
/// and no usual fraction of an inch in millimetres.
fn measure_text(measure: Measure) -> String {
    let text = measure.to_string();
    let is_in_inches = text.ends_with('"');
    match measure.unit {
        Unit::In if !is_in_inches => fraction_of_inches(measure.length.nm()),
        Unit::Ft if !is_in_inches && !text.ends_with('\'') => {
            let foot = 12 * NM_PER_INCH;
            let (feet, rest) = (measure.length.nm() / foot, measure.length.nm() % foot);
            format!("{feet}' {}", fraction_of_inches(rest))
        }
        Unit::Ft if !text.contains('\'') => format!("0' {text}"),
        _ => text,
    }
}

/// Inches to the last nanometre, as `74 137/254"`.
fn fraction_of_inches(nm: i64) -> String {
    let (whole, rest) = (nm / NM_PER_INCH, nm % NM_PER_INCH);
    let (mut common, mut other) = (NM_PER_INCH, rest);
    while other != 0 {
        (common, other) = (other, common % other);
    }
    format!("{whole} {}/{}\"", rest / common, NM_PER_INCH / common)
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
pub fn rule_text(rule: CourseRule) -> String {
    format!("{}/{}", rule.joints, rule.courses)
}

impl<'a> WrittenJob<'a> {
    /// The rows, each length with its unit.
    pub fn new(input: &'a JobInput) -> WrittenJob<'a> {
        WrittenJob {
            settings: SettingsJson::new(&input.saw),
            pieces: Made::of(&input.pieces, |row| Ok(PieceJson::new(row))),
            stock: Made::of(&input.stock, |row| Ok(StockJson::new(row))),
            in_hand: Made::of(&input.in_hand, |row| Ok(HandJson::new(row))),
        }
    }

    /// The same with what it is insured against.
    pub fn insured(mut self, insurance: Insurance) -> WrittenJob<'a> {
        self.settings.insure = insurance.pieces;
        self.settings.insure_bar = insurance.bar;
        self
    }
}

impl SettingsJson {
    fn new(saw: &Saw) -> SettingsJson {
        SettingsJson {
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
            batch: row.batch.clone(),
            leave_long: row.leave_long.map(|left| left.text(unit)),
            spares_only: row.spares_only,
            for_bar: row.for_bar,
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
            batch: row.batch.clone(),
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
            batch: row.batch.clone(),
            note: row.note.clone(),
        }
    }
}
