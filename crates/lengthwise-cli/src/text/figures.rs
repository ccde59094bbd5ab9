//! Where the length goes, and what the whole job comes to.

use std::fmt::Write;

use lengthwise::plan::{Cutting, Figures, MaterialPlan, Outcome, Plan, Proof, Value};
use lengthwise::{Length, Price, Unit};
use rust_decimal::Decimal;
use textwrap::core::display_width;

use super::buying::to_pay;
use super::ink::Ink;
use super::layout::{PAGE, counted, left, paragraph, right, widest};
use super::measure;
use super::sheet::heading;
use super::words::{length_gap, price_gap};

/// The figures of one material by name, to a tenth of a millimetre or 1/64 in.
pub fn figures(cutting: &Cutting, unit: Unit, ink: Ink) -> String {
    let rows = rows(cutting, unit);
    let lengths: Vec<String> = rows.iter().map(|row| row.shown(unit)).collect();
    let width = widest(lengths.iter().map(String::as_str));
    let mut out = heading("Where the length goes", "", ink);
    for (row, length) in rows.iter().zip(&lengths) {
        let (name, remark) = (left(row.name, 13), row.remark(unit));
        let lead = format!("  {name}  {}  ", right(length, width));
        let line = paragraph(&lead, &remark, display_width(&lead));
        let _ = writeln!(out, "{}", line.trim_end());
    }
    out
}

/// Where the length goes, part by part.
pub fn rows(cutting: &Cutting, unit: Unit) -> Vec<Figure> {
    let figures = &cutting.figures;
    let part = |part: Length, of: &str| {
        (!part.is_zero()).then(|| format!("{} of it {of}", about(part, unit)))
    };
    let in_hand = length_gap(figures.total, figures.bought);
    let mut rows = vec![Figure::new("bought", figures.bought, None)];
    if !in_hand.is_zero() {
        rows.push(Figure::new("in hand", in_hand, None));
    }
    let share = format!("{} of what is cut into", percent(figures));
    let spares = part(figures.spare, "spares");
    rows.extend([
        Figure::new(
            "on the wall",
            figures.needed,
            [share].into_iter().chain(spares),
        ),
        Figure::new(
            "blade",
            figures.blade,
            part(figures.reserve, "reserve for errors"),
        ),
        Figure::new("squaring", figures.square, None),
        Figure::new(
            "saved offcuts",
            figures.saved,
            part(length_of_uncut(cutting), "in bars not cut"),
        ),
        Figure::new("to the skip", figures.waste, None),
    ]);
    rows
}

/// One line of the figures.
pub struct Figure {
    pub name: &'static str,
    length: Length,
    remarks: Vec<String>,
}

impl Figure {
    fn new(
        name: &'static str,
        length: Length,
        remarks: impl IntoIterator<Item = String>,
    ) -> Figure {
        Figure {
            name,
            length,
            remarks: remarks.into_iter().collect(),
        }
    }

    /// The length, as far as a rule can show it.
    pub fn shown(&self, unit: Unit) -> String {
        measure::nearest(self.length, unit).0.text(unit)
    }

    /// What there is to say about it.
    pub fn remark(&self, unit: Unit) -> String {
        let rounded = !measure::nearest(self.length, unit).1;
        let rounded = rounded.then(|| "rounded".to_owned());
        let remarks: Vec<String> = rounded.into_iter().chain(self.remarks.clone()).collect();
        remarks.join(", ")
    }
}

/// A figure inside a sentence.
fn about(length: Length, unit: Unit) -> String {
    match measure::nearest(length, unit) {
        (length, true) => length.text(unit),
        (length, false) => format!("about {}", length.text(unit)),
    }
}

fn length_of_uncut(cutting: &Cutting) -> Length {
    let sum = |sum: Length, bars: &lengthwise::plan::UncutBars| {
        sum.checked_add(bars.length.checked_mul(bars.count)?)
    };
    let uncut = cutting.uncut.iter().try_fold(Length::ZERO, sum);
    uncut.unwrap_or(Length::MAX)
}

/// The share of what is cut into that ends up on the wall, as people read it.
pub fn percent(figures: &Figures) -> String {
    let share = figures.yield_share() * Decimal::ONE_HUNDRED;
    format!("{:.1} %", share.round_dp(1))
}

/// A name is not cut below this, whatever the numbers take.
const NARROWEST_NAME: usize = 8;

/// One line per material and the sum, where there are several.
pub fn whole_job(plan: &Plan, ink: Ink) -> String {
    let mut rows = vec![Row::titles()];
    rows.extend(plan.materials.iter().map(Row::of));
    let (sum, unpriced) = job_cost(plan);
    let width = |part: fn(&Row) -> &str| widest(rows.iter().map(part));
    let (bars, bought) = (width(|row| &row.bars), width(|row| &row.bought));
    let sum_text = sum.map_or_else(String::new, |sum| sum.to_string());
    let cost = width(|row| &row.cost).max(sum_text.len());
    let (wall, proof) = (width(|row| &row.wall), width(|row| &row.proof));
    // The name takes what the numbers leave of the page: six gaps of two columns.
    let rest = PAGE.saturating_sub(bars + bought + cost + wall + proof + 12);
    let name = width(|row| &row.name).min(rest).max(NARROWEST_NAME);
    let mut out = String::new();
    for row in &rows {
        let line = format!(
            "  {}  {}  {}  {}  {}  {}",
            left(&row.name, name),
            right(&row.bars, bars),
            right(&row.bought, bought),
            right(&row.cost, cost),
            right(&row.wall, wall),
            row.proof
        );
        let _ = writeln!(out, "{}", line.trim_end());
    }
    if sum.is_some() {
        let before = right("to pay", name + 2 + bars + 2 + bought);
        let total = ink.strong(&right(&sum_text, cost));
        let _ = writeln!(out, "  {before}  {total}");
        if unpriced > 0 {
            let missing = counted(unpriced, "material", "materials");
            let _ = writeln!(
                out,
                "  ({missing} without prices or without a plan not counted)"
            );
        }
    }
    out
}

/// What is paid for everything that has a price, and how many materials have none.
pub fn job_cost(plan: &Plan) -> (Option<Price>, u64) {
    let mut sum = None;
    let mut unpriced = 0;
    for material in &plan.materials {
        let cost = match &material.outcome {
            Outcome::Planned(cutting) if matches!(cutting.value, Value::Money(_)) => {
                to_pay(&cutting.buy)
            }
            _ => None,
        };
        match cost {
            Some(cost) => sum = sum.unwrap_or(Price::ZERO).checked_add(cost),
            None => unpriced += 1,
        }
    }
    (sum, unpriced)
}

/// One material of the job, in its columns.
pub struct Row {
    pub name: String,
    pub bars: String,
    pub bought: String,
    pub cost: String,
    pub wall: String,
    pub proof: String,
}

impl Row {
    fn titles() -> Row {
        Row {
            name: "material".to_owned(),
            bars: "bars".to_owned(),
            bought: "bought".to_owned(),
            cost: "cost".to_owned(),
            wall: "on the wall".to_owned(),
            proof: "how good".to_owned(),
        }
    }

    pub fn of(material: &MaterialPlan) -> Row {
        let name = super::name_of(material).to_owned();
        let without = |proof: &str| Row {
            name: name.clone(),
            bars: "-".to_owned(),
            bought: "-".to_owned(),
            cost: "-".to_owned(),
            wall: "-".to_owned(),
            proof: proof.to_owned(),
        };
        match &material.outcome {
            Outcome::Impossible(_) => without("no plan exists"),
            Outcome::Unknown(_) => without("no plan found"),
            Outcome::Planned(cutting) => {
                let bars: u64 = cutting.buy.iter().map(|line| line.bars).sum();
                let cost =
                    to_pay(&cutting.buy).filter(|_| !matches!(cutting.value, Value::Bought(_)));
                Row {
                    name,
                    bars: bars.to_string(),
                    bought: cutting.figures.bought.text(material.unit),
                    cost: cost.map_or_else(|| "-".to_owned(), |cost| cost.to_string()),
                    wall: percent(&cutting.figures),
                    proof: how_good(cutting, material.unit),
                }
            }
        }
    }
}

fn how_good(cutting: &Cutting, unit: Unit) -> String {
    match (cutting.proof, cutting.value, cutting.bound) {
        (Proof::Optimal, Value::Money(_), _) => "cheapest".to_owned(),
        (Proof::Optimal, Value::Bought(_), _) => "least".to_owned(),
        (_, Value::Money(value), Value::Money(bound)) => {
            format!("within {}", price_gap(value, bound))
        }
        (_, Value::Bought(value), Value::Bought(bound)) => {
            format!("within {}", length_gap(value, bound).text(unit))
        }
        _ => "not proved".to_owned(),
    }
}
