//! What a plan bears: a wider blade, longer pieces, a spoiled cut, a bad bar.

use lengthwise::forgiving::{Tightest, forgiving};
use lengthwise::insure::{Insurance, MaterialInsured, Terms};
use lengthwise::job::{Material, Reserve};
use lengthwise::plan::{Cutting, Outcome, Value};
use lengthwise::spoiled::{Recut, spoiled};
use lengthwise::{Length, Unit};

use super::ink::Ink;
use super::layout::{counted, paragraph, whole};
use super::marks::short_list;
use super::measure;
use super::sheet::heading;
use super::words;
use super::words::{impossible, length_gap, price_gap, stopped};

/// No saw of the trade has a wider blade: common practice, no source.
const WIDEST_BLADE: Length = Length::from_mm(25);
/// More marks than anybody reads in one sentence.
const MOST_MARKS: usize = 12;

/// The section of one material; nothing where the plan is not one of it.
pub fn mishaps(cutting: &Cutting, material: &Material, unit: Unit, ink: Ink) -> String {
    let lines: String = sentences(cutting, material, unit)
        .iter()
        .map(|line| paragraph("  ", line, 2))
        .collect();
    if lines.is_empty() {
        return lines;
    }
    heading("If something goes wrong", "", ink) + &lines
}

/// What a plan bears, sentence by sentence.
pub fn sentences(cutting: &Cutting, material: &Material, unit: Unit) -> Vec<String> {
    let sentences = [
        how_forgiving(cutting, material, unit),
        spoiled_cuts(cutting, material),
    ];
    sentences.into_iter().flatten().collect()
}

/// `Fits with a blade up to 3.4mm (B1 is then full); each piece may come out up to 0.2mm too long (C1
/// is then full).` One bar that sets both is named once.
fn how_forgiving(cutting: &Cutting, material: &Material, unit: Unit) -> Option<String> {
    let forgiving = forgiving(material, cutting)?;
    let error = forgiving.largest_error?;
    let blade = forgiving.widest_blade;
    let blade = blade.filter(|blade| blade.limit <= WIDEST_BLADE);
    let both =
        blade.as_ref().map(|blade| (&blade.bar, blade.bars)) == Some((&error.bar, error.bars));
    let wide = match &blade {
        None => "Fits with any saw's blade".to_owned(),
        Some(blade) => {
            // A blade in metres is a string of noughts.
            let unit = match unit {
                Unit::Cm | Unit::M => Unit::Mm,
                other => other,
            };
            let limit = whole(&measure::down(blade.limit, unit).0.text(unit));
            let full = if both { String::new() } else { full(blade) };
            format!("Fits with a blade up to {limit}{full}")
        }
    };
    let limit = measure::down(error.limit, unit).0;
    let errors = if limit.is_zero() {
        "no piece may come out too long".to_owned()
    } else {
        let limit = whole(&limit.text(unit));
        format!("each piece may come out up to {limit} too long")
    };
    let reserve = if material.per_cut().is_zero() {
        ""
    } else {
        ", beside the reserve at every cut"
    };
    Some(format!("{wide}; {errors}{reserve}{}.", full(&error)))
}

/// Which bar has no room for more.
fn full(tightest: &Tightest) -> String {
    let bar = &tightest.bar;
    let full = match tightest.bars {
        0 | 1 => format!("({bar} is then full)"),
        2 => format!("({bar} and another are then full)"),
        bars => format!("({bar} and {} others are then full)", bars - 1),
    };
    format!(" {}", whole(&full))
}

/// Which pieces can be cut again, and which cannot.
fn spoiled_cuts(cutting: &Cutting, material: &Material) -> Option<String> {
    let spoiled = spoiled(material, cutting)?;
    let lost: Vec<&str> = spoiled
        .iter()
        .filter(|piece| piece.recut == Recut::AnotherBar)
        .map(|piece| piece.mark)
        .collect();
    let all = spoiled.len() as u64; // widening on every platform
    let lost_count = lost.len() as u64;
    Some(match (all, lost_count) {
        (0, _) => return None,
        (1, 0) => "If the one piece is spoiled, it can be cut again from what is left.".to_owned(),
        (1, _) => "If the one piece is spoiled, it takes another bar.".to_owned(),
        (_, 0) => format!(
            "If a piece is spoiled, it can be cut again from what is left, whichever of the {all} it is."
        ),
        _ if all == lost_count => {
            format!("If a piece is spoiled, it takes another bar, whichever of the {all} it is.")
        }
        _ => format!(
            "If a piece is spoiled, {} of the {all} can be cut again from what is left; {lost_count} {} \
             another bar: {}.",
            all - lost_count,
            if lost_count == 1 { "takes" } else { "take" },
            marks(&lost)
        ),
    })
}

/// The marks, or as many as make sense and a hint at the others.
fn marks(marks: &[&str]) -> String {
    let mut shown: Vec<String> = short_list(marks).iter().map(|mark| whole(mark)).collect();
    if shown.len() > MOST_MARKS {
        shown.truncate(MOST_MARKS);
        shown.push("and others (--json has all)".to_owned());
    }
    shown.join(", ")
}

/// Why bars of several batches are not insured.
pub const SEVERAL_BATCHES: &str = "its bars are of several batches, and a spare has to be of the batch of \
                                   its wall. The column spare gives rows spares of their own.";

/// What the insurance of one material is and costs.
pub fn insured(insured: &MaterialInsured, insurance: Insurance, unit: Unit, ink: Ink) -> String {
    let against = against(insurance);
    match insured {
        MaterialInsured::NothingPlanned => String::new(),
        MaterialInsured::SeveralBatches => {
            let text = format!("Not insured against {against}: {SEVERAL_BATCHES}");
            ink.bad(&paragraph("", &text, 0))
        }
        MaterialInsured::Refused(outcome) => {
            let why = why_not(outcome, unit).unwrap_or_default();
            let text = format!("Not insured against {against}: {why}");
            ink.bad(&paragraph("", &text, 0))
        }
        MaterialInsured::Insured(terms) => {
            let text = format!(
                "Insured against {against} by {}{}: {}",
                spares(terms, unit),
                match terms.longest_bar {
                    Some(_) => ", without longer bars",
                    None => "",
                },
                price(terms, unit)
            );
            let text = paragraph("", &text, 0);
            if terms.is_proven() {
                ink.good(&text)
            } else {
                ink.warn(&text)
            }
        }
    }
}

/// Why a material is not insured.
pub fn why_not(outcome: &Outcome, unit: Unit) -> Option<String> {
    match outcome {
        Outcome::Impossible(reason) => Some(format!(
            "the spares that it takes have no place. {}",
            impossible(reason, unit)
        )),
        Outcome::Unknown(stop) => Some(format!(
            "no plan with the spares that it takes was found, and no proof that there is none; {}.",
            stopped(*stop)
        )),
        Outcome::Planned(_) => None,
    }
}

/// `2 spoiled pieces and a bad bar`.
fn against(insurance: Insurance) -> String {
    let pieces = counted(insurance.pieces, "spoiled piece", "spoiled pieces");
    match (insurance.pieces, insurance.bar) {
        (0, _) => "a bad bar".to_owned(),
        (_, false) => pieces,
        (_, true) => format!("{pieces} and a bad bar"),
    }
}

/// `1 spare of 2210mm (F-spare)`.
fn spares(terms: &Terms, unit: Unit) -> String {
    let of_job = (terms.standing > 0).then(|| {
        format!(
            "{} that the job has already",
            counted(terms.standing, "spare", "spares")
        )
    });
    let reserve = |reserve: &Reserve| {
        let length = whole(&measure::up(reserve.shape.length, unit).text(unit));
        let many = if reserve.is_bar {
            "room for a whole bar".to_owned()
        } else {
            counted(reserve.count, "spare", "spares")
        };
        let mark = whole(&reserve.mark);
        format!("{many} of {length} ({mark})")
    };
    let reserves = terms.reserves.iter().map(reserve);
    let all: Vec<String> = of_job.into_iter().chain(reserves).collect();
    let gave_way = match terms.gave_way {
        0 => String::new(),
        1 => ", in place of a shorter one of the list".to_owned(),
        several => format!(", in place of {several} shorter ones of the list"),
    };
    all.join(" and ") + &gave_way
}

/// What the insurance costs, and how sure that is.
fn price(terms: &Terms, unit: Unit) -> String {
    let text = |value: Value| words::value(value, unit);
    let gap = |value: Value, bound: Value| match (value, bound) {
        (Value::Money(value), Value::Money(bound)) => price_gap(value, bound).to_string(),
        (Value::Bought(value), Value::Bought(bound)) => length_gap(value, bound).text(unit),
        _ => String::new(),
    };
    let verb = match terms.with {
        Value::Money(_) => ("costs", "costs nothing more"),
        Value::Bought(_) => ("buys", "buys nothing more"),
    };
    let more = if terms.with <= terms.without {
        format!("{} than the {} without", verb.1, text(terms.without))
    } else {
        let more = gap(terms.with, terms.without);
        let (with, without) = (text(terms.with), text(terms.without));
        format!("{} {more} more, {with} in place of {without}", verb.0)
    };
    let sure = if terms.is_proven() {
        "both proved least".to_owned()
    } else if terms.with == terms.least {
        format!("the {} is proved least, the other not", text(terms.with))
    } else {
        // Where the plan is proved for its own spares, shorter parts of runs may need shorter ones.
        let others = match terms.bound < terms.with {
            true => "",
            false => "with other spares ",
        };
        let least = text(terms.least);
        format!("{others}it may come to less, but to no less than {least}")
    };
    format!("{more}; {sure}.")
}

/// What all insurance comes to, and whether that is proved least; where everything has a price.
pub fn total_price(materials: &[MaterialInsured]) -> Option<(lengthwise::Price, bool)> {
    if materials.is_empty() {
        return None;
    }
    let mut sum = lengthwise::Price::ZERO;
    for insured in materials {
        match insured {
            MaterialInsured::Insured(terms) => match (terms.with, terms.without) {
                (Value::Money(with), Value::Money(without)) => {
                    sum = sum.checked_add(price_gap(with, without))?;
                }
                _ => return None,
            },
            _ => return None,
        }
    }
    let is_proven = |insured: &MaterialInsured| matches!(insured, MaterialInsured::Insured(terms) if terms.is_proven());
    Some((sum, materials.iter().all(is_proven)))
}

/// The same as a sentence.
pub fn total(materials: &[MaterialInsured]) -> Option<String> {
    let (sum, is_proven) = total_price(materials)?;
    let sure = if is_proven { ", proved least" } else { "" };
    Some(format!("The insurance costs {sum} in all{sure}."))
}
