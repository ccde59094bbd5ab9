//! The answer to a question without files, in three lines: how many, how they are cut, how sure.

use std::collections::HashMap;

use lengthwise::job::{Job, Material};
use lengthwise::plan::{Cutting, MaterialPlan, Outcome, Plan, Proof, Value};
use lengthwise::{Length, Unit};

use super::buying::to_pay;
use super::ink::Ink;
use super::joints::alike_runs;
use super::layout::counted;
use super::words;

/// More ways of cutting, or of joining, than anybody reads in one line.
const MOST_IN_A_LINE: usize = 12;

/// The answer; one line where there is no plan.
pub fn answer(job: &Job, plan: &Plan, ink: Ink) -> String {
    let materials = job.materials().iter().zip(&plan.materials);
    materials
        .map(|(material, plan)| of_material(material, plan, ink))
        .collect()
}

fn of_material(material: &Material, plan: &MaterialPlan, ink: Ink) -> String {
    match &plan.outcome {
        Outcome::Planned(cutting) => {
            let verdict = words::verdict(cutting, plan.unit) + "\n";
            let verdict = match cutting.proof {
                Proof::Optimal => ink.good(&verdict),
                _ => ink.warn(&verdict),
            };
            let (buy, cut) = (bought(cutting, plan.unit), cut(cutting, material, plan));
            format!("{}\n{cut}\n{verdict}", ink.strong(&buy))
        }
        Outcome::Impossible(reason) => {
            let why = words::impossible(reason, plan.unit);
            ink.bad(&format!("No plan. {why}\n"))
        }
        Outcome::Unknown(stop) => ink.warn(&format!("{}\n", words::unknown(*stop))),
    }
}

/// `Buy 7 x 3m, 21m in all, for 41.30.`
fn bought(cutting: &Cutting, unit: Unit) -> String {
    let lines = cutting.buy.iter();
    let lines = lines.map(|line| format!("{} x {}", line.bars, line.length.text(unit)));
    let lines = lines.collect::<Vec<_>>().join(" and ");
    let total = cutting.figures.bought.text(unit);
    let cost = match cutting.value {
        Value::Money(_) => to_pay(&cutting.buy).map(|cost| format!(", for {cost}")),
        Value::Bought(_) => None,
    };
    format!("Buy {lines}, {total} in all{}.", cost.unwrap_or_default())
}

/// How every bar is cut, and where the runs are joined.
fn cut(cutting: &Cutting, material: &Material, plan: &MaterialPlan) -> String {
    let unit = plan.unit;
    // A blade in metres is a string of noughts.
    let blade_unit = match unit {
        Unit::Cm | Unit::M => Unit::Mm,
        other => other,
    };
    let reserve = match plan.per_cut.is_zero() {
        true => String::new(),
        false => format!(" and {} reserve", plan.per_cut.text(blade_unit)),
    };
    let patterns = ways_of_cutting(cutting)
        .into_iter()
        .map(|way| way.text(unit));
    let runs = alike_runs(cutting, material);
    let joined: Vec<String> = runs.iter().filter_map(|runs| runs.counted(unit)).collect();
    let joints = match joined.is_empty() {
        true => String::new(),
        false => format!(" Joints from the left end: {}.", in_a_line(joined)),
    };
    format!(
        "Cut with a {} blade{reserve}: {}.{joints}",
        plan.kerf.text(blade_unit),
        in_a_line(patterns.collect())
    )
}

/// The items, or as many as make sense and a hint at the others.
fn in_a_line(mut items: Vec<String>) -> String {
    let more = items.len().saturating_sub(MOST_IN_A_LINE);
    if more > 0 {
        items.truncate(MOST_IN_A_LINE);
        items.push(format!("and {more} more ways (--json has all)"));
    }
    items.join("; ")
}

/// Bars of one length that hold the same pieces, whatever these are called.
struct Way {
    bars: u64,
    stock: Length,
    /// Longest first, as they are cut.
    pieces: Vec<(Length, u64)>,
}

fn ways_of_cutting(cutting: &Cutting) -> Vec<Way> {
    let mut ways: Vec<Way> = Vec::new();
    let mut places: HashMap<(Length, Vec<(Length, u64)>), usize> = HashMap::new();
    for group in &cutting.bars {
        let mut lengths: Vec<Length> = group.cuts.iter().map(|cut| cut.length).collect();
        lengths.sort_unstable_by(|a, b| b.cmp(a));
        let alike = lengths.chunk_by(|a, b| a == b);
        let pieces: Vec<(Length, u64)> = alike
            .filter_map(|alike| Some((*alike.first()?, alike.len() as u64))) // widening
            .collect();
        let bars = group.names.len() as u64; // widening on every platform
        let way = (group.stock, pieces);
        let known = places.get(&way).and_then(|place| ways.get_mut(*place));
        if let Some(known) = known {
            known.bars += bars;
            continue;
        }
        places.insert(way.clone(), ways.len());
        let (stock, pieces) = way;
        ways.push(Way {
            bars,
            stock,
            pieces,
        });
    }
    ways
}

impl Way {
    /// `6 bars of 3m into 1.9m + 2 x 0.5m`.
    fn text(&self, unit: Unit) -> String {
        let piece = |&(length, count): &(Length, u64)| match count {
            1 => length.text(unit),
            count => format!("{count} x {}", length.text(unit)),
        };
        let pieces: Vec<String> = self.pieces.iter().map(piece).collect();
        format!(
            "{} of {} into {}",
            counted(self.bars, "bar", "bars"),
            self.stock.text(unit),
            pieces.join(" + ")
        )
    }
}
