//! Quotes compared: files and flags in, a table and the cheapest way out.

use std::time::Instant;

use lengthwise::plan::{Outcome, Value};
use lengthwise::quotes::{Comparison, PlanAt, Quotes, Way};
use lengthwise::solve::Limits;
use lengthwise::{Length, Price, Unit};

use crate::args::QuotesArgs;
use crate::exit::Exit;
use crate::json::QuotesJson;
use crate::read::read_quotes;
use crate::text::ink::Ink;
use crate::text::words::price_gap;
use crate::{report, settings, text};

/// Reads, plans, compares, prints.
pub fn quotes(args: &QuotesArgs) -> Exit {
    let begun = Instant::now();
    let mut faults = Vec::new();
    let read = settings::quotes_settings(args, &mut faults);
    let limits = settings::search_limits(&args.search, &mut faults);
    let quotes = match read_quotes(args, read, faults) {
        Ok(quotes) => quotes,
        Err(faults) => {
            report::print_faults(&faults);
            return Exit::BadInput;
        }
    };
    let limits = Limits {
        work: limits.work,
        // The clock is for the whole run: reading has taken its share.
        time: limits.time.map(|time| time.saturating_sub(begun.elapsed())),
        cancel: Some(crate::cancel::flag()),
        ..Limits::default()
    };
    let compared = quotes.compare(&limits);
    let printed = if args.search.json {
        print_json(&quotes, &compared)
    } else {
        let notes = notes(&quotes);
        crate::print(&text::quotes::quotes(&compared, &notes, Ink::colour()))
    };
    printed.max(outcome(&compared))
}

fn print_json(quotes: &Quotes, compared: &Comparison) -> Exit {
    for note in notes(quotes) {
        report::print_line(&format!("note: {note}"));
    }
    crate::print_as_json(QuotesJson::new(compared))
}

fn notes(quotes: &Quotes) -> Vec<String> {
    text::notes::plain_of(&quotes.notes(), quotes.materials().len())
}

/// What the comparison says about how the run ended.
fn outcome(compared: &Comparison) -> Exit {
    let one = |(_, is_proven)| match is_proven {
        true => Exit::Impossible,
        false => Exit::Stopped,
    };
    compared.without_plan().map(one).max().unwrap_or(Exit::Done)
}

/// What there is to say of a way, or of one of its plans, beside the money.
#[derive(Clone, Copy, Debug, Default)]
pub struct Load {
    /// Bars bought.
    pub bars: u64,
    /// The longest of them.
    pub longest: Option<Length>,
    /// Offcuts too short to save.
    pub waste: Length,
    /// The unit to print in.
    pub unit: Unit,
}

impl Load {
    /// Of all plans of a way.
    pub fn of_way(compared: &Comparison, way: &Way) -> Load {
        let sources = way.sources.iter().flatten();
        let loads = sources.filter_map(|source| Load::of_plan(compared, source.plan));
        loads
            .reduce(|sum, load| Load {
                bars: sum.bars.saturating_add(load.bars),
                longest: sum.longest.max(load.longest),
                waste: sum.waste.checked_add(load.waste).unwrap_or(Length::MAX),
                unit: sum.unit,
            })
            .unwrap_or_default()
    }

    /// Of one plan; `None` where there is none.
    pub fn of_plan(compared: &Comparison, at: PlanAt) -> Option<Load> {
        let plan = compared.plan(at)?;
        let Outcome::Planned(cutting) = &plan.outcome else {
            return None;
        };
        Some(Load {
            bars: cutting.buy.iter().map(|line| line.bars).sum(),
            longest: cutting.buy.iter().map(|line| line.length).max(),
            waste: cutting.figures.waste,
            unit: plan.unit,
        })
    }
}

/// What the bars from hand count as that a way cuts into: no money that is paid.
pub fn worth_of_way(compared: &Comparison, way: &Way) -> Price {
    let sources = way.sources.iter().flatten();
    let cuttings = sources.filter_map(|source| compared.cutting(source.plan));
    let worths = cuttings.map(|cutting| {
        let costs = cutting.buy.iter().filter_map(|line| line.cost);
        let paid = costs.fold(Price::ZERO, |sum, cost| {
            sum.checked_add(cost).unwrap_or(sum) // their sum is a checked price
        });
        match cutting.value {
            Value::Money(value) => price_gap(value, paid),
            Value::Bought(_) => Price::ZERO,
        }
    });
    worths.fold(Price::ZERO, |sum, worth| {
        sum.checked_add(worth).unwrap_or(sum)
    })
}
