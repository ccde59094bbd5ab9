//! What is bought, what it costs, what stays whole, and what the plan comes to.

use super::facts::{Facts, Kind, length, nm};
use super::refusal::{Breach, Cell, List};
use crate::job::Supply;
use crate::plan::{Cutting, Purchase, UncutBars, Value};
use crate::price::Price;

/// How many bars of each kind are cut, bought and left whole.
pub(super) struct Counts {
    pub cut: Vec<u64>,
    pub bought: Vec<u64>,
    pub uncut: Vec<u64>,
}

/// Checks availability, the buying list, the whole bars and the value, in this order.
pub(super) fn check_buying(facts: &Facts<'_>, cutting: &Cutting) -> Result<Counts, Breach> {
    let mut counts = Counts {
        cut: vec![0; facts.kinds.len()],
        bought: vec![0; facts.kinds.len()],
        uncut: vec![0; facts.kinds.len()],
    };
    for group in &cutting.bars {
        let bars = u64::try_from(group.names.len()).map_err(|_| Breach::TooLarge)?;
        let cut = counts.cut.get_mut(group.bar);
        *cut.ok_or(Breach::NoSuchBar { bar: group.bar })? += bars;
    }
    for line in &cutting.buy {
        check_purchase(facts, line)?;
        enter(&mut counts.bought, line.bar, line.bars, List::Buy)?;
    }
    for line in &cutting.uncut {
        check_uncut_line(facts, line)?;
        enter(&mut counts.uncut, line.bar, line.count, List::Uncut)?;
    }
    for (bar, kind) in facts.kinds.iter().enumerate() {
        check_kind(bar, kind, &counts)?;
    }
    check_value(facts, cutting, &counts)?;
    Ok(counts)
}

/// Enters the one line that a list may have for a kind of bar.
fn enter(counts: &mut [u64], bar: usize, bars: u64, list: List) -> Result<(), Breach> {
    let count = counts.get_mut(bar).ok_or(Breach::NoSuchBar { bar })?;
    if bars == 0 {
        return Err(Breach::EmptyLine { bar, list });
    }
    if *count > 0 {
        return Err(Breach::ListedTwice { bar, list });
    }
    *count = bars;
    Ok(())
}

fn check_purchase(facts: &Facts<'_>, line: &Purchase) -> Result<(), Breach> {
    let bar = line.bar;
    let kind = facts.kind(bar)?;
    let supply = facts.material.bars().get(bar).map(|bar| bar.supply());
    let Some(Supply::Bought { price, sold, .. }) = supply else {
        return Err(Breach::BoughtInHand { bar });
    };
    let list = List::Buy;
    if nm(line.length) != kind.length {
        let cell = Cell::Length;
        return Err(Breach::Cell { bar, list, cell });
    }
    if line.sold != sold {
        let cell = Cell::Sold;
        return Err(Breach::Cell { bar, list, cell });
    }
    let tier = kind.tier_of(line.sales);
    if line.price != tier.map_or(price, |tier| Some(tier.price)) {
        let cell = Cell::Price;
        return Err(Breach::Cell { bar, list, cell });
    }
    if line.sales.checked_mul(kind.per_sale) != Some(line.bars) {
        return Err(Breach::SalesNotWhole {
            bar,
            bars: line.bars,
            sales: line.sales,
            per_sale: kind.per_sale,
        });
    }
    let recomputed = line_cost(facts, kind, line.sales)?;
    if line.cost != recomputed {
        return Err(Breach::LineCost {
            bar,
            plan: line.cost,
            recomputed,
        });
    }
    Ok(())
}

fn line_cost(facts: &Facts<'_>, kind: &Kind, sales: u64) -> Result<Option<Price>, Breach> {
    match facts.value(kind.cost_of(sales)?) {
        Ok(Value::Money(cost)) => Ok(Some(cost)),
        Ok(Value::Bought(_)) => Ok(None),
        Err(breach) => Err(breach),
    }
}

fn check_uncut_line(facts: &Facts<'_>, line: &UncutBars) -> Result<(), Breach> {
    let bar = line.bar;
    let kind = facts.kind(bar)?;
    let list = List::Uncut;
    if nm(line.length) != kind.length {
        let cell = Cell::Length;
        return Err(Breach::Cell { bar, list, cell });
    }
    if line.in_hand != kind.in_hand {
        let cell = Cell::InHand;
        return Err(Breach::Cell { bar, list, cell });
    }
    Ok(())
}

/// Bars of one kind: as many as there are, as many as are needed, and the rest stays whole.
fn check_kind(bar: usize, kind: &Kind, counts: &Counts) -> Result<(), Breach> {
    let of = |counts: &[u64]| counts.get(bar).copied().unwrap_or_default();
    let (cut, bought, uncut) = (of(&counts.cut), of(&counts.bought), of(&counts.uncut));
    let used = if kind.in_hand { cut } else { bought.max(cut) };
    if let Some(available) = kind.available.filter(|&available| used > available) {
        return Err(Breach::NotAvailable {
            bar,
            used,
            available,
        });
    }
    let per_sale = kind.per_sale;
    let there = if kind.in_hand {
        kind.available.unwrap_or(cut)
    } else if bought < cut {
        return Err(Breach::NotBought { bar, cut, bought });
    } else {
        let cheapest = kind.cheapest(cut)?.0.checked_mul(per_sale);
        let cheapest = cheapest.ok_or(Breach::TooLarge)?;
        if bought < cheapest {
            return Err(Breach::MoreWouldCostLess {
                bar,
                bought,
                cheapest,
            });
        }
        if bought - cheapest >= per_sale {
            return Err(Breach::BoughtForNothing {
                bar,
                cut,
                bought,
                per_sale,
            });
        }
        bought
    };
    let recomputed = there - cut; // none of the cases above lets `there` fall below `cut`
    if uncut != recomputed {
        return Err(Breach::UncutCount {
            bar,
            plan: uncut,
            recomputed,
        });
    }
    Ok(())
}

fn check_value(facts: &Facts<'_>, cutting: &Cutting, counts: &Counts) -> Result<(), Breach> {
    for value in [cutting.value, cutting.bound] {
        let by_money = matches!(value, Value::Money(_));
        if by_money != facts.decimals.is_some() {
            return Err(Breach::JudgedBy { plan: by_money });
        }
    }
    let mut units = 0_i128;
    let counted = counts.bought.iter().zip(&counts.cut);
    for (kind, (&bought, &cut)) in facts.kinds.iter().zip(counted) {
        let sales = if kind.in_hand {
            cut
        } else {
            bought.checked_div(kind.per_sale).unwrap_or_default()
        };
        let cost = kind.cost_of(sales)?;
        units = units.checked_add(cost).ok_or(Breach::TooLarge)?;
    }
    let recomputed = facts.value(units)?;
    if cutting.value != recomputed {
        return Err(Breach::Value {
            plan: cutting.value,
            recomputed,
        });
    }
    Ok(())
}

/// The length of all bars counted.
pub(super) fn total_length(facts: &Facts<'_>, counts: &[u64]) -> Result<i128, Breach> {
    let each = facts.kinds.iter().zip(counts);
    // A length has 57 bits and a count 64: their product fits, and so do as many as there are.
    let sum = each.map(|(kind, &count)| kind.length.checked_mul(i128::from(count)));
    let sum = sum
        .into_iter()
        .try_fold(0_i128, |sum, next| sum.checked_add(next?));
    sum.ok_or(Breach::TooLarge)
        .and_then(|sum| length(sum).map(nm))
}
