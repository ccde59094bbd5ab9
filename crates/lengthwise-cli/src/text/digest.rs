//! What was read, for `check`: enough to see at a glance that the files say what was meant.

use std::collections::{BTreeSet, HashMap};
use std::fmt::Write;

use lengthwise::job::{Bar, Course, CourseRule, Job, Material, Piece, Run, Sold, Supply};
use lengthwise::{Length, Unit};

use super::ink::Ink;
use super::layout::{counted, listing, paragraph, whole};
use super::{notes, sheet, shown_name, title};

/// How many pieces a material has, and their length together where that can be counted.
pub fn pieces_and_length(material: &Material) -> (u64, Option<Length>) {
    let count = material.pieces().iter().map(|piece| piece.qty()).sum();
    let total = material
        .pieces()
        .iter()
        .try_fold(Length::ZERO, |sum, piece| {
            sum.checked_add(piece.length().checked_mul(piece.qty())?)
        });
    (count, total)
}

/// How many of the pieces are runs and how many spares, as a remark.
pub fn of_them(material: &Material) -> String {
    let count = |is: fn(&Piece) -> bool| -> u64 {
        let pieces = material.pieces().iter().filter(|piece| is(piece));
        pieces.map(|piece| piece.qty()).sum()
    };
    let runs = count(|piece| piece.run().is_some());
    let spares = count(Piece::is_spare);
    let remarks = [
        (runs > 0).then(|| {
            format!(
                "{runs} of them {}",
                if runs == 1 { "a run" } else { "runs" }
            )
        }),
        (spares > 0).then(|| format!("{spares} of them spare")),
    ];
    let remarks: Vec<String> = remarks.into_iter().flatten().collect();
    if remarks.is_empty() {
        String::new()
    } else {
        format!(" ({})", remarks.join(", "))
    }
}

/// The whole digest.
pub fn digest(job: &Job, ink: Ink) -> String {
    let mut out = String::new();
    for material in job.materials() {
        out.push_str(&title(shown_name(material.name()), ink));
        out.push_str(&pieces(material));
        out.push_str(&bars(material));
        out.push_str(&ink.warn(&too_long(material)));
        out.push('\n');
    }
    out.push_str(&paragraph("", "Nothing is at fault in what was read.", 0));
    let notes = notes::note_lines(job);
    if !notes.is_empty() {
        out.push_str(&sheet::heading("Notes", "", ink));
        out.push_str(&notes);
    }
    out
}

fn pieces(material: &Material) -> String {
    let unit = material.unit();
    let (count, total) = pieces_and_length(material);
    let lengths: BTreeSet<Length> = material
        .pieces()
        .iter()
        .map(|piece| piece.length())
        .collect();
    let distinct = counted(lengths.len() as u64, "length", "lengths"); // widening
    let total = total.map_or_else(String::new, |total| {
        format!(", {} in all", total.text(unit))
    });
    let span = match (lengths.first(), lengths.last()) {
        (Some(first), Some(last)) if first != last => {
            format!(" from {} to {}", first.text(unit), last.text(unit))
        }
        (Some(only), _) => format!(", {}", only.text(unit)),
        _ => String::new(),
    };
    let count = counted(count, "piece", "pieces") + &of_them(material);
    let text = format!("{count}{total}; {distinct}{span}");
    let mut out = paragraph("  pieces   ", &text, 11);
    let reserve = if material.per_cut().is_zero() {
        String::new()
    } else {
        format!(
            " and {} reserve at every cut",
            material.per_cut().text(unit)
        )
    };
    out.push_str(&runs(material));
    let _ = writeln!(out, "  blade    {}{reserve}", material.kerf().text(unit));
    out
}

/// The rules of runs, alike ones together, in the words of the columns.
fn runs(material: &Material) -> String {
    let mut found: Vec<(String, u64)> = Vec::new();
    let mut places: HashMap<String, usize> = HashMap::new();
    for piece in material.pieces() {
        let Some(run) = piece.run() else {
            continue;
        };
        let rules = rules_of(run, material);
        let known = places.get(&rules).and_then(|place| found.get_mut(*place));
        if let Some((_, count)) = known {
            *count += piece.qty();
            continue;
        }
        places.insert(rules.clone(), found.len());
        found.push((rules, piece.qty()));
    }
    let line = |(rules, count): &(String, u64)| {
        paragraph("  runs     ", &format!("{count} joined {rules}"), 11)
    };
    found.iter().map(line).collect()
}

fn rules_of(run: &Run, material: &Material) -> String {
    let unit = material.unit();
    let mut rules = vec![run.joints().text(unit)];
    if !run.joint_gap().is_zero() {
        rules.push(format!("gaps of {}", run.joint_gap().text(unit)));
    }
    if let Some(most) = run.joints_max() {
        rules.push(format!("at most {}", counted(most, "joint", "joints")));
    }
    rules.push(format!("parts from {}", run.shortest().text(unit)));
    let course = run.course().map(Course::group);
    if let Some(group) = course.and_then(|group| material.course_groups().get(group)) {
        let CourseRule { joints, courses } = group.rule();
        let rule = format!("{} by {joints}/{courses}", group.name());
        rules.push(whole(&rule));
    }
    rules.join(", ")
}

fn bars(material: &Material) -> String {
    let unit = material.unit();
    let bars = material.bars().iter();
    let bought = bars.clone().filter(|bar| !bar.is_in_hand());
    let offered: Vec<String> = bought.map(|bar| offer(bar, unit)).collect();
    let in_hand = bars.filter(|bar| bar.is_in_hand()).map(|bar| {
        let count = bar.bars_available().unwrap_or(0);
        format!("{count} x {}", bar.length().text(unit))
    });
    let in_hand: Vec<String> = in_hand.collect();
    let mut out = if offered.is_empty() {
        "  to buy   nothing\n".to_owned()
    } else {
        listing("  to buy   ", &offered, 11)
    };
    if !in_hand.is_empty() {
        out.push_str(&listing("  in hand  ", &in_hand, 11));
    }
    out.push_str(if material.is_priced() {
        "  goal     least money\n"
    } else {
        "  goal     least length bought, as there are no prices\n"
    });
    out
}

/// A kind of bar that can be bought, with its price and limit.
fn offer(bar: &Bar, unit: Unit) -> String {
    let per = match bar.bars_per_sale() {
        1 => String::new(),
        bars => format!(" per pack of {bars}"),
    };
    let lower = bar.breaks().iter();
    let lower = lower.map(|at| format!(", {} from {}", at.price, at.from));
    let lower: String = lower.collect();
    let price = match bar.supply() {
        // Breaks are written as in the row, so the first price has to be too.
        Supply::Bought {
            price: Some(price),
            sold: Sold::PerMetre,
            ..
        } if !lower.is_empty() => Some(format!(" at {price} per m{lower}")),
        _ => bar
            .sale_price()
            .map(|price| format!(" at {price}{per}{lower}")),
    };
    let limit = bar
        .bars_available()
        .map(|bars| format!(" ({bars} to be had)"));
    format!(
        "{}{}{}",
        bar.length().text(unit),
        price.unwrap_or_default(),
        limit.unwrap_or_default()
    )
}

/// The first piece that no bar holds: no fault, but nobody should have to plan to hear of it. A run may
/// be joined.
fn too_long(material: &Material) -> String {
    let unit: Unit = material.unit();
    let longest = material.bars().iter().map(|bar| bar.usable()).max();
    let longest = longest.unwrap_or(Length::ZERO);
    let takes = |piece: &&Piece| {
        let mitred = material.mitre_allowance(piece.ends());
        piece.length().checked_add(mitred)
    };
    let pieces = material.pieces().iter();
    let piece = pieces
        .filter(|piece| piece.run().is_none())
        .max_by_key(takes);
    piece
        .filter(|piece| takes(piece) > Some(longest))
        .map_or_else(String::new, |piece| {
            let text = format!(
                "piece {} of {} is longer than the longest usable bar, {}: no plan will exist",
                whole(piece.mark()),
                piece.length().text(unit),
                longest.text(unit)
            );
            paragraph("  but      ", &text, 11)
        })
}
