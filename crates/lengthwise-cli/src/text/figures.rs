//! Where the length goes, and what the whole job comes to.

use std::fmt::Write;

use lengthwise::plan::{Cutting, Figures, MaterialPlan, Outcome, Plan, Proof, Value};
use lengthwise::{Length, Price, Unit};
use rust_decimal::Decimal;

use super::buying::to_pay;
use super::ink::Ink;
use super::layout::{PAGE, counted, left, right, widest};
use super::sheet::heading;
use super::words::{length_gap, price_gap};

/// The figures of one material by name.
pub fn figures(cutting: &Cutting, unit: Unit, ink: Ink) -> String {
    let figures = &cutting.figures;
    let share = percent(figures);
    let mut on_the_wall = format!("{share} of what is cut into");
    if !figures.spare.is_zero() {
        let _ = write!(on_the_wall, ", {} of it spares", figures.spare.text(unit));
    }
    let in_hand = length_gap(figures.total, figures.bought);
    let mut rows = vec![("bought", figures.bought, String::new())];
    if !in_hand.is_zero() {
        rows.push(("in hand", in_hand, String::new()));
    }
    rows.push(("on the wall", figures.needed, on_the_wall));
    let reserve = if figures.reserve.is_zero() {
        String::new()
    } else {
        format!("{} of it reserve for errors", figures.reserve.text(unit))
    };
    rows.push(("blade", figures.blade, reserve));
    rows.push(("squaring", figures.square, String::new()));
    let whole = length_of_uncut(cutting);
    let uncut = if whole.is_zero() {
        String::new()
    } else {
        format!("{} of it in bars not cut", whole.text(unit))
    };
    rows.push(("saved offcuts", figures.saved, uncut));
    rows.push(("to the skip", figures.waste, String::new()));
    let lengths: Vec<String> = rows.iter().map(|row| row.1.text(unit)).collect();
    let width = widest(lengths.iter().map(String::as_str));
    let mut out = heading("Where the length goes", "", ink);
    for ((name, _, remark), length) in rows.iter().zip(&lengths) {
        let line = format!("  {}  {}  {remark}", left(name, 13), right(length, width));
        let _ = writeln!(out, "{}", line.trim_end());
    }
    out
}

fn length_of_uncut(cutting: &Cutting) -> Length {
    let sum = |sum: Length, bars: &lengthwise::plan::UncutBars| {
        sum.checked_add(bars.length.checked_mul(bars.count)?)
    };
    let uncut = cutting.uncut.iter().try_fold(Length::ZERO, sum);
    uncut.unwrap_or(Length::MAX)
}

fn percent(figures: &Figures) -> String {
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
fn job_cost(plan: &Plan) -> (Option<Price>, u64) {
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
struct Row {
    name: String,
    bars: String,
    bought: String,
    cost: String,
    wall: String,
    proof: String,
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

    fn of(material: &MaterialPlan) -> Row {
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
