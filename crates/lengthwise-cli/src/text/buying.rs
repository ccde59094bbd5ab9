//! What to buy, as one says it at the counter.

use std::fmt::Write;

use lengthwise::job::{Material, Sold, Supply};
use lengthwise::plan::{Cutting, Purchase, UncutBars};
use lengthwise::{Price, Unit};

use super::ink::Ink;
use super::layout::{counted, left, right, widest};
use super::sheet::heading;
use super::walls::batch_of;

/// The buying list of one material.
pub fn buying_list(cutting: &Cutting, material: &Material, unit: Unit, ink: Ink) -> String {
    let mut out = heading("Buy", "", ink);
    if cutting.buy.is_empty() {
        out.push_str("  nothing: what is in hand is enough\n");
    }
    let total = to_pay(&cutting.buy).filter(|_| cutting.buy.len() > 1);
    let line = |buy| Line::new(buy, material, unit);
    let lines: Vec<Line> = cutting.buy.iter().map(line).collect();
    let width = |part: fn(&Line) -> &str| widest(lines.iter().map(part));
    let (count, length) = (width(|line| &line.count), width(|line| &line.length));
    let (terms, cost) = (width(|line| &line.terms), width(|line| &line.cost));
    let total = total.map(|total| total.to_string());
    let cost = cost.max(total.as_deref().map_or(0, str::len));
    for line in &lines {
        let what = format!(
            "{} x {}",
            right(&line.count, count),
            right(&line.length, length)
        );
        let line = format!(
            "  {}  {}  {}",
            ink.strong(&what),
            left(&line.terms, terms),
            right(&line.cost, cost)
        );
        let _ = writeln!(out, "{}", line.trim_end());
    }
    if let Some(total) = total {
        let before = right("to pay", count + 3 + length + 2 + terms);
        let _ = writeln!(out, "  {before}  {}", ink.strong(&right(&total, cost)));
    }
    out.push_str(&from_hand(cutting, material));
    out
}

/// What is paid at the counter; `None` without prices.
pub fn to_pay(buy: &[Purchase]) -> Option<Price> {
    buy.iter()
        .try_fold(Price::ZERO, |sum, line| sum.checked_add(line.cost?))
}

/// One line of the list, in its columns.
pub struct Line {
    pub count: String,
    pub length: String,
    pub terms: String,
    pub cost: String,
}

impl Line {
    pub fn new(buy: &Purchase, material: &Material, unit: Unit) -> Line {
        let price = buy.price.map(|price| price.to_string());
        let terms = match (buy.sold, price) {
            (Sold::Each, Some(price)) => format!("at {price} each"),
            (Sold::Each, None) => String::new(),
            (Sold::PerMetre, Some(price)) => format!("at {price} per m"),
            (Sold::PerMetre, None) => "sold per m".to_owned(),
            (Sold::Pack(bars), price) => {
                let packs = counted(buy.sales, "pack", "packs");
                let price = price.map_or_else(String::new, |price| format!(" at {price}"));
                format!("in {packs} of {bars}{price}")
            }
            _ => String::new(),
        };
        let from = price_break(buy, material).map(|from| format!(", the price from {from}"));
        let batch = batch_of(material, material.bars().get(buy.bar));
        let terms = terms + &from.unwrap_or_default() + &batch;
        let terms = terms.trim_start_matches(", ").to_owned();
        Line {
            count: buy.bars.to_string(),
            length: buy.length.text(unit),
            terms,
            cost: buy.cost.map_or_else(String::new, |cost| cost.to_string()),
        }
    }
}

/// From how many on the price of a purchase holds, where that is not the first of its row.
fn price_break(buy: &Purchase, material: &Material) -> Option<String> {
    let mut breaks = material.bars().get(buy.bar)?.breaks().iter();
    let from = breaks.rfind(|at| Some(at.price) == buy.price)?.from;
    Some(match buy.sold {
        Sold::PerMetre => format!("{from} m"),
        Sold::Pack(_) => counted(from, "pack", "packs"),
        _ => from.to_string(),
    })
}

/// Why bars stay whole.
pub fn why_whole(bars: &UncutBars, cutting: &Cutting, material: &Material) -> String {
    if bars.in_hand {
        return "in hand".to_owned();
    }
    let buy = cutting.buy.iter().find(|buy| buy.bar == bars.bar);
    let for_price = buy
        .filter(|buy| bars.count >= buy.bars.checked_div(buy.sales).unwrap_or(u64::MAX))
        .and_then(|buy| price_break(buy, material));
    match for_price {
        Some(from) => format!("bought for the price from {from}"),
        None => "left over from a pack".to_owned(),
    }
}

/// How much of what is in hand is used, and what that counts as.
pub fn from_hand(cutting: &Cutting, material: &Material) -> String {
    let mut there = 0_u64;
    let mut used = 0_u64;
    let mut worth = Some(Price::ZERO);
    for (place, bar) in material.bars().iter().enumerate() {
        let Supply::InHand {
            worth: each,
            available,
        } = bar.supply()
        else {
            continue;
        };
        let groups = cutting.bars.iter().filter(|group| group.bar == place);
        let cut: u64 = groups.map(|group| group.names.len() as u64).sum(); // widening
        there = there.saturating_add(available);
        used = used.saturating_add(cut);
        worth = worth.and_then(|sum| sum.checked_add(each.checked_mul(cut)?));
    }
    if there == 0 {
        return String::new();
    }
    let counts_as = match worth {
        Some(worth) if worth > Price::ZERO => format!("; counted as {worth}"),
        _ => String::new(),
    };
    let bars = counted(there, "bar", "bars");
    format!("  in hand: {used} of {bars} cut into{counts_as}\n")
}
