//! Quotes compared, as people read it: 80 columns, plain characters.

use std::fmt::Write;

use lengthwise::Price;
use lengthwise::plan::Outcome;
use lengthwise::quotes::{Comparison, Source, Way};

use super::ink::Ink;
use super::layout::{PAGE, counted, left, paragraph, right, widest};
use super::sheet::heading;
use super::words::{impossible, price_gap, unknown};
use super::{measure, shown_name, title};
use crate::quotes::{Load, worth_of_way};

/// A name is not cut below this, whatever the numbers take.
const NARROWEST_NAME: usize = 8;
/// What to do next.
const NEXT: &str = "Measure the opening before you buy and before you cut. lengthwise plan, with the stock \
                    you choose, tells how to cut it and has the cautions.";

/// The whole comparison.
pub fn quotes(compared: &Comparison, notes: &[String], ink: Ink) -> String {
    let mut out = title("Quotes", ink);
    let materials = counted(compared.materials.len() as u64, "material", "materials"); // widening
    let quotes = counted(compared.quotes.len() as u64, "quote", "quotes");
    out.push_str(&paragraph("", &format!("{materials}; {quotes}"), 0));
    out.push_str(&heading("Everything from one quote", "", ink));
    out.push_str(&table(compared, ink));
    out.push_str(&to_pay_alone(compared));
    out.push_str(&not_alone(compared));
    if let Some(way) = &compared.cheapest {
        out.push_str(&heading(
            "The cheapest way",
            "each material from one quote; each delivery once",
            ink,
        ));
        out.push_str(&cheapest(compared, way, ink));
    }
    out.push_str(&missing(compared, ink));
    if !notes.is_empty() {
        out.push_str(&heading("Notes", "", ink));
        let lines = notes.iter().map(|note| paragraph("  - ", note, 4));
        out.push_str(&lines.collect::<String>());
    }
    out.push('\n');
    out.push_str(&paragraph("", NEXT, 0));
    out
}

/// One line of the table, in its columns.
struct Row {
    name: String,
    cells: [String; 7],
}

impl Row {
    fn titles() -> Row {
        let cells = [
            "material",
            "delivery",
            "total",
            "bars",
            "longest",
            "to the skip",
            "how good",
        ];
        Row {
            name: "quote".to_owned(),
            cells: cells.map(str::to_owned),
        }
    }

    fn of(compared: &Comparison, name: &str, way: &Way) -> Row {
        let load = Load::of_way(compared, way);
        let (waste, _) = measure::nearest(load.waste, load.unit);
        Row {
            name: name.to_owned(),
            cells: [
                way.material.to_string(),
                way.delivery.to_string(),
                way.total.to_string(),
                load.bars.to_string(),
                load.longest
                    .map_or_else(|| "-".to_owned(), |longest| longest.text(load.unit)),
                waste.text(load.unit),
                how_good(way),
            ],
        }
    }
}

fn how_good(way: &Way) -> String {
    if way.is_proven() {
        "proved".to_owned()
    } else {
        format!("within {}", price_gap(way.total, way.bound))
    }
}

/// The quotes that can do the whole job, each with what that comes to.
fn table(compared: &Comparison, ink: Ink) -> String {
    let quotes = compared.quotes.iter().zip(&compared.alone);
    let ways = quotes.filter_map(|(quote, way)| Some((quote, way.as_ref()?)));
    let mut rows = vec![Row::titles()];
    rows.extend(ways.map(|(quote, way)| Row::of(compared, &quote.name, way)));
    if rows.len() == 1 {
        return "  none of them can do the whole job\n".to_owned();
    }
    let widths: [usize; 7] = std::array::from_fn(|column| {
        widest(
            rows.iter()
                .filter_map(|row| row.cells.get(column))
                .map(String::as_str),
        )
    });
    // The name takes what the numbers leave of the page: eight gaps of two columns.
    let rest = PAGE.saturating_sub(widths.iter().sum::<usize>() + 16);
    let name = widest(rows.iter().map(|row| row.name.as_str()));
    let name = name.min(rest).max(NARROWEST_NAME);
    let mut out = String::new();
    for (place, row) in rows.iter().enumerate() {
        let mut line = format!("  {}", left(&row.name, name));
        for (column, (cell, width)) in row.cells.iter().zip(widths).enumerate() {
            let cell = if column == 6 {
                cell.clone()
            } else {
                right(cell, width)
            };
            // The total is what is looked for.
            let cell = if column == 2 && place > 0 {
                ink.strong(&cell)
            } else {
                cell
            };
            let _ = write!(line, "  {cell}");
        }
        let _ = writeln!(out, "{}", line.trim_end());
    }
    out
}

/// Where bars in hand are counted by their worth, what is to be paid in the end.
fn to_pay_alone(compared: &Comparison) -> String {
    let quotes = compared.quotes.iter().zip(&compared.alone);
    let ways = quotes.filter_map(|(quote, way)| Some((quote, way.as_ref()?)));
    let to_pay = ways.filter_map(|(quote, way)| {
        let worth = worth_of_way(compared, way);
        let pay = price_gap(way.total, worth);
        (worth > Price::ZERO).then(|| format!("{} {pay}", quote.name))
    });
    let to_pay: Vec<String> = to_pay.collect();
    if to_pay.is_empty() {
        return String::new();
    }
    let text = format!(
        "Material and total count bars in hand by their worth, which is not paid. To pay: {}.",
        to_pay.join(", ")
    );
    paragraph("  ", &text, 2)
}

/// The quotes that cannot do the whole job, each with the materials that are in the way.
fn not_alone(compared: &Comparison) -> String {
    let mut out = String::new();
    let quotes = compared.quotes.iter().zip(&compared.alone).enumerate();
    for (quote, (quoted, _)) in quotes.filter(|(_, (_, way))| way.is_none()) {
        let mut why = Vec::new();
        let mut absent = Vec::new();
        for (material, name) in compared.materials.iter().enumerate() {
            let hand = compared.from_hand.get(material).copied().flatten();
            if hand.is_some_and(|at| compared.cutting(at).is_some()) {
                continue;
            }
            match offer(compared, quote, material) {
                None => absent.push(shown_name(name).to_owned()),
                Some(reason) if reason.is_empty() => {}
                Some(reason) => why.push(format!("{}: {reason}", shown_name(name))),
            }
        }
        if !absent.is_empty() {
            why.insert(0, format!("does not offer {}.", absent.join(", ")));
        }
        let lead = format!(
            "  {}  ",
            left(&quoted.name, 24.min(quoted.name.chars().count()))
        );
        out.push_str(&paragraph(
            &lead,
            &format!("not alone: {}", why.join(" ")),
            4,
        ));
    }
    out
}

/// Why there is no plan of a quote for a material; `None` where it does not offer that, nothing where there
/// is a plan.
fn offer(compared: &Comparison, quote: usize, material: usize) -> Option<String> {
    let at = compared
        .offers
        .get(quote)?
        .get(material)
        .copied()
        .flatten()?;
    let plan = compared.plan(at)?;
    Some(match &plan.outcome {
        Outcome::Planned(_) => String::new(),
        Outcome::Impossible(reason) => format!("no plan. {}", impossible(reason, plan.unit)),
        Outcome::Unknown(stop) => unknown(*stop),
    })
}

/// Which material from whom, and what all comes to.
fn cheapest(compared: &Comparison, way: &Way, ink: Ink) -> String {
    let mut lines: Vec<(String, String, String)> = Vec::new();
    for (name, source) in compared.materials.iter().zip(&way.sources) {
        let Some(source) = source else {
            continue;
        };
        let cost = compared.cutting(source.plan).map(|cutting| cutting.value);
        let cost = match cost {
            Some(lengthwise::plan::Value::Money(cost)) => cost,
            _ => Price::ZERO,
        };
        let from = from(compared, source);
        lines.push((shown_name(name).to_owned(), from, cost.to_string()));
    }
    for (quote, quoted) in compared.quotes.iter().enumerate() {
        let mut sources = way.sources.iter().flatten();
        let is_used = sources.any(|source| source.quote == Some(quote));
        if is_used && quoted.delivery > Price::ZERO {
            let from = quoted.name.clone();
            lines.push(("delivery".to_owned(), from, quoted.delivery.to_string()));
        }
    }
    let total = way.total.to_string();
    let cost = widest(lines.iter().map(|line| line.2.as_str())).max(total.len());
    let from = widest(lines.iter().map(|line| line.1.as_str())).min(28);
    let rest = PAGE.saturating_sub(from + cost + 6);
    let name = widest(lines.iter().map(|line| line.0.as_str())).min(rest);
    let mut out = String::new();
    for (what, whence, amount) in &lines {
        let (what, whence) = (left(what, name), left(whence, from));
        let _ = writeln!(out, "  {what}  {whence}  {}", right(amount, cost));
    }
    let before = right("total", name + 2 + from);
    let _ = writeln!(out, "  {before}  {}", ink.strong(&right(&total, cost)));
    let worth = worth_of_way(compared, way);
    if worth > Price::ZERO {
        let pay = price_gap(way.total, worth);
        let text = format!("Bars in hand are counted as {worth}; to pay {pay}.");
        out.push_str(&paragraph("  ", &text, 2));
    }
    out.push_str(&load(compared, way));
    out.push('\n');
    let verdict = paragraph("", &verdict(compared, way), 0);
    out.push_str(&if way.is_proven() {
        ink.good(&verdict)
    } else {
        ink.warn(&verdict)
    });
    out
}

/// What there is to carry, and what is left of it.
fn load(compared: &Comparison, way: &Way) -> String {
    let load = Load::of_way(compared, way);
    let (waste, _) = measure::nearest(load.waste, load.unit);
    let longest = load.longest.map_or_else(String::new, |longest| {
        format!(", the longest {}", longest.text(load.unit))
    });
    let bars = counted(load.bars, "bar", "bars");
    let waste = waste.text(load.unit);
    format!("  {bars} to carry{longest}; {waste} to the skip\n")
}

fn from(compared: &Comparison, source: &Source) -> String {
    let quoted = source.quote.and_then(|quote| compared.quotes.get(quote));
    quoted.map_or_else(
        || "from hand, nothing bought".to_owned(),
        |quoted| quoted.name.clone(),
    )
}

/// How good the cheapest way is, and what it saves.
fn verdict(compared: &Comparison, way: &Way) -> String {
    let proof = if way.is_proven() {
        format!(
            "Proved cheapest. However the materials are shared out over these quotes, it costs no less \
             than {}.",
            way.bound
        )
    } else {
        format!(
            "Up to {} too dear; stopped before all was proven. However the materials are shared out over \
             these quotes, it costs no less than {}.",
            price_gap(way.total, way.bound),
            way.bound
        )
    };
    let alone = compared.quotes.iter().zip(&compared.alone);
    let alone = alone.filter_map(|(quote, way)| Some((way.as_ref()?.total, quote)));
    match alone.min_by_key(|(total, _)| *total) {
        Some((total, quote)) if total > way.total => format!(
            "{proof} That is {} less than everything from {}.",
            price_gap(total, way.total),
            quote.name
        ),
        _ => proof,
    }
}

/// The materials that nobody has a plan for.
fn missing(compared: &Comparison, ink: Ink) -> String {
    let mut out = String::new();
    for (material, _) in compared.without_plan() {
        let name = compared.materials.get(material).map_or("", String::as_str);
        let quotes = 0..compared.quotes.len();
        let mut why: Vec<String> = quotes
            .filter_map(|quote| {
                let quoted = compared.quotes.get(quote)?;
                Some(format!(
                    "{}: {}",
                    quoted.name,
                    offer(compared, quote, material)?
                ))
            })
            .collect();
        let hand = compared.from_hand.get(material).copied().flatten();
        let hand = hand
            .filter(|_| why.is_empty())
            .and_then(|at| compared.plan(at));
        if let Some(plan) = hand {
            why.push(match &plan.outcome {
                Outcome::Impossible(reason) => impossible(reason, plan.unit),
                Outcome::Unknown(stop) => unknown(*stop),
                Outcome::Planned(_) => String::new(),
            });
        }
        let text = format!("No plan for {}. {}", shown_name(name), why.join(" "));
        out.push('\n');
        out.push_str(&ink.bad(&paragraph("", &text, 0)));
    }
    out
}
