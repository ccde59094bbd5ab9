//! What changed since the plan, and how to cut what changed.

use std::collections::{BTreeMap, HashSet};
use std::fmt::Write;

use lengthwise::carry_on::{CarriedOn, Changes, Remainder, Remark};
use lengthwise::job::{Bar, Material, NO_BATCH};
use lengthwise::plan::{BarGroup, Cut, Cutting, MaterialPlan, Outcome, Plan, Proof, Value};
use rust_decimal::Decimal;

use super::ink::Ink;
use super::layout::{counted, listing, paragraph};
use super::{buying, digest, name_of, notes, sheet, short_list, title, words};

/// What changed in all materials, and the cautions.
pub fn carried_text(left: &Remainder, carried: &CarriedOn, ink: Ink) -> String {
    let mut out = String::new();
    for remark in remarks(left) {
        out.push_str(&paragraph("", &remark, 0));
    }
    if !out.is_empty() {
        out.push('\n');
    }
    if carried.plan.materials.is_empty() {
        out.push_str("Nothing is left to cut.\n");
        return out;
    }
    let plans = left.job().materials().iter().zip(&carried.plan.materials);
    let parts: Vec<String> = plans
        .zip(&carried.changes)
        .map(|((material, plan), changes)| material_text(material, plan, changes, ink))
        .collect();
    out.push_str(&parts.join("\n"));
    let changed = |changes: &Changes| !changes.changed.is_empty() || !changes.new.is_empty();
    if carried.changes.iter().any(changed) {
        out.push_str(&sheet::heading("Before the first cut", "", ink));
        out.push_str(&notes::caution_lines());
    }
    out
}

/// Whether more materials of one plan have a plan than of the other, or as many cost less.
pub fn costs_less(one: &Plan, other: &Plan) -> bool {
    let without_plan = |plan: &Plan| {
        let materials = plan.materials.iter();
        materials
            .filter(|material| !matches!(material.outcome, Outcome::Planned(_)))
            .count()
    };
    let cost = |plan: &Plan| {
        let mut money = Decimal::ZERO;
        let mut bought = 0_i128;
        for material in &plan.materials {
            if let Outcome::Planned(cutting) = &material.outcome {
                match cutting.value {
                    Value::Money(price) => money += price.decimal(),
                    Value::Bought(length) => bought += i128::from(length.nm()),
                }
            }
        }
        (money, bought)
    };
    (without_plan(one), cost(one)) < (without_plan(other), cost(other))
}

/// What should be known about pieces that are cut, each on one line.
pub fn remarks(left: &Remainder) -> Vec<String> {
    left.remarks().iter().map(remark).collect()
}

fn remark(remark: &Remark) -> String {
    match remark {
        Remark::SpareServes {
            piece,
            spare,
            trim,
            unit,
        } => {
            let trim = if trim.is_zero() {
                String::new()
            } else {
                format!("; take {} off it", trim.text(*unit))
            };
            format!("{spare}, a spare that is cut, serves as {piece}{trim}.")
        }
        Remark::InPlaceOfSpare { piece, spare } => {
            format!("{piece} is cut in place of the spare {spare}, which is used up by it.")
        }
        Remark::InPlaceOfBar { spare } => {
            format!("The spare {spare} is used up by the bad bar.")
        }
        Remark::SpareSpoiled { spare } => {
            format!("The spare {spare} is spoiled; it is not cut again.")
        }
        Remark::WallOfSeveralBatches { wall, batch } => {
            let of = match batch.as_str() {
                "" | NO_BATCH => "bars whose row names no batch".to_owned(),
                batch => format!("batch {batch}"),
            };
            format!("Pieces of {wall} were cut from another batch; the rest of it comes from {of}.")
        }
        Remark::Trim { piece, by, unit } => {
            format!("{piece} is cut already: take {} off it.", by.text(*unit))
        }
        _ => String::new(),
    }
}

fn material_text(material: &Material, plan: &MaterialPlan, changes: &Changes, ink: Ink) -> String {
    let mut out = title(name_of(plan), ink);
    let (count, _) = digest::pieces_and_length(material);
    let pieces = counted(count, "piece", "pieces") + &digest::of_them(material);
    let blade = plan.kerf.text(plan.unit);
    let _ = writeln!(out, "{pieces} still to cut; blade {blade}");
    match &plan.outcome {
        Outcome::Planned(cutting) => {
            out.push_str(&changes_text(changes, ink));
            if cutting.buy.is_empty() {
                out.push_str("  nothing more to buy\n");
            }
            out.push_str(&cutting_text(material, plan, cutting, changes, ink));
        }
        Outcome::Impossible(reason) => {
            let why = format!("No plan. {}", words::impossible(reason, plan.unit));
            out.push_str(&ink.bad(&paragraph("", &why, 0)));
            out.push_str(&without_place(material, changes));
        }
        Outcome::Unknown(stop) => {
            out.push_str(&ink.warn(&paragraph("", &words::unknown(*stop), 0)));
            out.push_str(&without_place(material, changes));
        }
    }
    out
}

/// Which bars stay as they were, and which do not.
fn changes_text(changes: &Changes, ink: Ink) -> String {
    let mut out = sheet::heading("What changes", "", ink);
    let whole: Vec<String> = changes
        .whole
        .iter()
        .flat_map(|bars| bars.names.clone())
        .collect();
    if changes.changed.is_empty() && changes.new.is_empty() {
        out.push_str("  nothing: go on as planned\n");
    }
    let lines = [
        ("as planned", &changes.unchanged),
        ("cut otherwise", &changes.changed),
        ("new", &changes.new),
        ("stays whole", &whole),
    ];
    for (lead, names) in lines.into_iter().filter(|(_, names)| !names.is_empty()) {
        let mut sorted: Vec<&str> = names.iter().map(String::as_str).collect();
        sorted.sort_by_key(|name| in_order(name));
        let lead = format!("  {lead:<14} ");
        let bars = counted(names.len() as u64, "bar", "bars"); // widening on every platform
        let mut shown = short_list(&sorted);
        if names.len() > 2
            && let Some(last) = shown.last_mut()
        {
            let _ = write!(last, " ({bars})");
        }
        out.push_str(&listing(&lead, &shown, lead.len()));
    }
    out
}

/// By letters and number, so that A10 follows A9.
fn in_order(name: &str) -> (usize, String, u64, String) {
    let digits = |c: char| c.is_ascii_digit();
    let letters = name.find(digits).unwrap_or(name.len());
    let (letters, rest) = name.split_at(letters);
    let number = rest.find(|c| !digits(c)).unwrap_or(rest.len());
    let (number, suffix) = rest.split_at(number);
    (
        letters.len(),
        letters.to_owned(),
        number.parse().unwrap_or(u64::MAX),
        suffix.to_owned(),
    )
}

/// What more to buy, and the bars that changed in full.
fn cutting_text(
    material: &Material,
    plan: &MaterialPlan,
    cutting: &Cutting,
    changes: &Changes,
    ink: Ink,
) -> String {
    let verdict = paragraph("", &words::verdict(cutting, plan.unit), 0);
    let verdict = match cutting.proof {
        Proof::Optimal => ink.good(&verdict),
        _ => ink.warn(&verdict),
    };
    let changed = only_changed(cutting, changes);
    let mut out = String::new();
    if !cutting.buy.is_empty() {
        out.push_str(&buying::buying_list(cutting, material, plan.unit, ink));
    }
    if !changed.bars.is_empty() {
        out.push_str(&sheet::stops(&changed, material, plan.unit, ink));
        out.push_str(&sheet::bars(&changed, material, plan.unit, ink));
    }
    if !cutting.buy.is_empty() {
        out.push('\n');
        out.push_str(&verdict);
    }
    out
}

/// The bars that are not cut as they were going to be, each for itself where only some of a group are.
fn only_changed(cutting: &Cutting, changes: &Changes) -> Cutting {
    let as_planned: HashSet<&str> = changes.unchanged.iter().map(String::as_str).collect();
    let bars = cutting.bars.iter().filter_map(|group| {
        let keep: Vec<bool> = group
            .names
            .iter()
            .map(|name| !as_planned.contains(name.as_str()))
            .collect();
        let cuts = group.cuts.iter().map(|cut| Cut {
            marks: kept(&cut.marks, &keep),
            parts: kept(&cut.parts, &keep),
            ..cut.clone()
        });
        let cuts = cuts.collect();
        let names = kept(&group.names, &keep);
        (!names.is_empty()).then(|| BarGroup {
            names,
            cuts,
            ..group.clone()
        })
    });
    Cutting {
        bars: bars.collect(),
        uncut: Vec::new(),
        ..cutting.clone()
    }
}

fn kept<T: Clone>(all: &[T], keep: &[bool]) -> Vec<T> {
    let both = all.iter().zip(keep);
    both.filter(|(_, keep)| **keep)
        .map(|(one, _)| one.clone())
        .collect()
}

fn without_place(material: &Material, changes: &Changes) -> String {
    let marks: Vec<&str> = changes.without_place.iter().map(String::as_str).collect();
    if marks.is_empty() {
        return String::new();
    }
    let mut out = listing("Without a place on any bar: ", &short_list(&marks), 2);
    let rest = "Every other piece can still be cut as it was planned. More bars, found or bought, \
                would make a plan possible; say found for those that are there.";
    out.push_str(&paragraph("", rest, 0));
    out.push_str(&bound_to_batches(material, &marks));
    out
}

/// Which of the pieces without a place have to come from one batch, and what to type where another will do.
fn bound_to_batches(material: &Material, marks: &[&str]) -> String {
    let marks: HashSet<&str> = marks.iter().copied().collect();
    let mut of_batch: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    // Half-way every piece is a row of its own.
    for piece in material.pieces() {
        let batch = piece.batch().and_then(|batch| {
            let place = batch as usize; // u32 into usize
            material.batches().get(place)
        });
        if let Some(batch) = batch.filter(|_| marks.contains(piece.mark())) {
            of_batch.entry(batch).or_default().push(piece.mark());
        }
    }
    let longest = material.bars().iter().map(Bar::length).max();
    let bar = longest.unwrap_or_default().text(material.unit());
    let found = [bar.as_str(), "x 2", material.name()].join(" ");
    let mut out = String::new();
    for (batch, marks) in of_batch {
        let of = if batch.is_empty() { NO_BATCH } else { batch };
        let text = format!(
            "bound to batch {of}, by its row or by what is cut of its wall. Where bars of another batch \
             will do after all, say that they are of it, such as: found {} batch {of}.",
            found.trim_end()
        );
        let lead = format!("{}: ", short_list(&marks).join(", "));
        out.push_str(&paragraph(&lead, &text, 0));
    }
    out
}
