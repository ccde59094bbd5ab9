//! From the texts of the command line to checked values, every fault kept.

use std::time::Duration;

use lengthwise::insure::Insurance;
use lengthwise::job::{LARGEST_QUANTITY, Prefer, Saw, SquareOff, TemperatureRange};
use lengthwise::{Fault, FaultKind, Length, Unit};
use lengthwise::{LengthError, Reading};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

use crate::args::{JobArgs, PlanArgs, QuotesArgs, SawArgs, SearchArgs};
use crate::ceilings::{self, Ceilings};
use crate::read::cells::{plain_decimal, quoted, read_square_off};

/// Longest time limit: 100 days, far beyond any use and far below any overflow.
const MOST_SECONDS: u64 = 8_640_000;

/// The settings of a job that come from flags.
#[derive(Debug, Default)]
pub struct Settings {
    /// Unit of bare numbers.
    pub unit: Unit,
    /// The saw.
    pub saw: Saw,
    /// How much may be asked for.
    pub ceilings: Ceilings,
}

/// How long to search.
#[derive(Debug, Default)]
pub struct SearchLimits {
    /// By the clock, for the whole run.
    pub time: Option<Duration>,
    /// By work, for each material.
    pub work: Option<u64>,
}

/// Reads the flags of the job; a faulty flag keeps its default, so that the files can still be
/// checked in the same run. What no flag says stays as in `usual`.
pub fn job_settings(args: &JobArgs, usual: Saw, faults: &mut Vec<Fault>) -> Settings {
    let mut settings = saw_settings_over(usual, &args.saw, faults);
    let saw = &mut settings.saw;
    if let Some(text) = &args.longest {
        saw.longest = longest(Some(text), settings.unit, faults);
    }
    if let Some(text) = &args.hold {
        saw.hold = length("--hold", text, settings.unit, faults).unwrap_or(saw.hold);
    }
    if let Some(text) = &args.stop_reach {
        saw.stop_reach = length("--stop-reach", text, settings.unit, faults);
    }
    if let Some(text) = &args.prefer {
        match prefer(text) {
            Some(read) => saw.prefer = read,
            None => faults.push(fault("--prefer", quoted(text), "offcuts or setups")),
        }
    }
    if let Some(text) = &args.temperature_range {
        saw.temperature_range = temperature_range(text);
        if saw.temperature_range.is_none() {
            let accepted = TemperatureRange::ACCEPTED;
            faults.push(fault("--temperature-range", quoted(text), accepted));
        }
    }
    settings
}

/// Reads the flags beside quotes.
pub fn quotes_settings(args: &QuotesArgs, faults: &mut Vec<Fault>) -> Settings {
    let mut settings = saw_settings(&args.saw, faults);
    settings.saw.longest = longest(args.longest.as_deref(), settings.unit, faults);
    settings
}

/// The longest bar that can be carried.
fn longest(text: Option<&str>, unit: Unit, faults: &mut Vec<Fault>) -> Option<Length> {
    let text = text?;
    let longest = length("--longest", text, unit, faults)?;
    if longest.is_zero() {
        let accepted = "a length above 0, such as 4200 or 4.2m";
        faults.push(fault("--longest", quoted(text), accepted));
        return None;
    }
    Some(longest)
}

/// Reads the flags of the saw; a faulty one keeps its default.
pub fn saw_settings(args: &SawArgs, faults: &mut Vec<Fault>) -> Settings {
    saw_settings_over(Saw::default(), args, faults)
}

fn saw_settings_over(mut saw: Saw, args: &SawArgs, faults: &mut Vec<Fault>) -> Settings {
    let unit = unit(args.unit.as_deref(), faults);
    let mut length = |flag: &str, text: &Option<String>| {
        text.as_deref()
            .and_then(|text| length(flag, text, unit, faults))
    };
    saw.kerf = length("--kerf", &args.kerf).unwrap_or(saw.kerf);
    saw.per_cut = length("--per-cut", &args.per_cut).unwrap_or(saw.per_cut);
    saw.save_from = length("--save-from", &args.save_from).unwrap_or(saw.save_from);
    if let Some(text) = &args.square_off {
        saw.square_off = square_off(text, unit, faults);
    }
    Settings {
        unit,
        saw,
        ceilings: ceilings::ceilings(&args.ceiling, &ceilings::ALL, faults),
    }
}

/// Reads what to insure against; what no flag says stays as in `usual`.
pub fn insurance(args: &PlanArgs, usual: Insurance, faults: &mut Vec<Fault>) -> Insurance {
    let pieces = args.insure.as_deref().and_then(|text| {
        let read = text.trim().parse::<u64>().ok();
        let read = read.filter(|count| (1..=LARGEST_QUANTITY).contains(count));
        if read.is_none() {
            let accepted = format!("a whole number from 1 to {LARGEST_QUANTITY}");
            faults.push(fault("--insure", quoted(text), accepted));
        }
        read
    });
    Insurance {
        pieces: pieces.unwrap_or(usual.pieces),
        bar: args.insure_bar || usual.bar,
    }
}

/// Reads the limits of the search.
pub fn search_limits(args: &SearchArgs, faults: &mut Vec<Fault>) -> SearchLimits {
    let time = args.limit.as_deref().and_then(|text| {
        let read = seconds(text);
        if read.is_none() {
            let accepted =
                format!("seconds above 0 and at most {MOST_SECONDS}, such as 20, 20s or 0.5");
            faults.push(fault("--limit", quoted(text), accepted));
        }
        read
    });
    let work = args.work_limit.as_deref().and_then(|text| {
        let read = text.trim().parse::<u64>().ok().filter(|&count| count > 0);
        if read.is_none() {
            let accepted = "a whole number above 0, such as 1000000000";
            faults.push(fault("--work-limit", quoted(text), accepted));
        }
        read
    });
    SearchLimits { time, work }
}

/// A fault of a flag.
pub fn fault(flag: &str, found: String, accepted: impl Into<String>) -> Fault {
    Fault {
        kind: FaultKind::Value,
        origin: None,
        column: Some(flag.to_owned()),
        found,
        accepted: accepted.into(),
    }
}

fn unit(text: Option<&str>, faults: &mut Vec<Fault>) -> Unit {
    let Some(text) = text else {
        return Unit::default();
    };
    Unit::from_name(text).unwrap_or_else(|| {
        faults.push(fault("--unit", quoted(text), "mm, cm, m, in or ft"));
        // Inches read every bare number, fractions too, so no cell is blamed for this flag.
        Unit::In
    })
}

fn length(flag: &str, text: &str, unit: Unit, faults: &mut Vec<Fault>) -> Option<Length> {
    match Length::parse(text, unit) {
        Ok(measure) => Some(measure.length),
        Err(why) => {
            let found = format!("{}, which {why}", quoted(text));
            faults.push(fault(flag, found, LengthError::ACCEPTED));
            None
        }
    }
}

fn square_off(text: &str, unit: Unit, faults: &mut Vec<Fault>) -> SquareOff {
    let reading = Reading {
        unit,
        ..Reading::default()
    };
    read_square_off(text, reading).unwrap_or_else(|wrong| {
        faults.push(fault("--square-off", wrong.found, wrong.accepted));
        SquareOff::default()
    })
}

/// `offcuts` or `setups`.
fn prefer(text: &str) -> Option<Prefer> {
    match text.trim().to_lowercase().as_str() {
        "offcuts" => Some(Prefer::Offcuts),
        "setups" => Some(Prefer::Setups),
        _ => None,
    }
}

fn temperature_range(text: &str) -> Option<TemperatureRange> {
    let text = text.trim();
    let number = text.strip_suffix(['k', 'K']).unwrap_or(text).trim_end();
    TemperatureRange::from_decimal(plain_decimal(number, false)?)
}

/// `20`, `20s` or `0.5`.
fn seconds(text: &str) -> Option<Duration> {
    let text = text.trim();
    let number = text.strip_suffix(['s', 'S']).unwrap_or(text).trim_end();
    let plain = number.chars().all(|c| c.is_ascii_digit() || c == '.');
    let seconds: Decimal = number.parse().ok().filter(|_| plain)?;
    let nanoseconds = seconds
        .checked_mul(Decimal::from(1_000_000_000))?
        .to_u64()
        .filter(|&ns| ns > 0)?;
    let limit = Duration::from_nanos(nanoseconds);
    (limit <= Duration::from_secs(MOST_SECONDS)).then_some(limit)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn seconds_with_and_without_their_unit() {
        assert_eq!(seconds("20"), Some(Duration::from_secs(20)));
        assert_eq!(seconds("20s"), Some(Duration::from_secs(20)));
        assert_eq!(seconds(" 0.5 "), Some(Duration::from_millis(500)));
        for wrong in [
            "",
            "0",
            "-1",
            "1e3",
            "s",
            "20m",
            "99999999999",
            "NaN",
            "1.2.3",
        ] {
            assert_eq!(seconds(wrong), None, "{wrong}");
        }
    }
}
