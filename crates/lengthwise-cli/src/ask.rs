//! A question without files: the arguments become a job.

use std::sync::Arc;

use lengthwise::job::{EndGap, Joints, PieceRow, StockRow};
use lengthwise::{Fault, Job, JobInput, Length, Measure, Origin, Reading};

use crate::args::AskArgs;
use crate::read::cells::{Wrong, quoted, read_count, read_length, read_price, read_width};
use crate::read::grammar::{read_end_gap, read_joints};
use crate::settings::{fault, saw_settings};

/// What stands below every answer, beside it and not in it.
pub const CAUTION: &str = "Measure the opening before you buy and before you cut. lengthwise --help has \
                           the cautions for the saw.";

/// What the pieces are called where they are at fault.
const PIECES: &str = "PIECES";
/// Between how many and how long.
const TIMES: [char; 4] = ['x', 'X', '\u{d7}', '*'];
/// Columns that a flag stands for here.
const FLAGS: [&str; 7] = [
    "joints",
    "joint_gap",
    "joints_max",
    "shortest",
    "end_gap",
    "kerf",
    "square_off",
];

/// The job that is asked about; `faults` holds those of other flags already.
///
/// # Errors
/// Every fault of the arguments.
pub fn question(args: &AskArgs, mut faults: Vec<Fault>) -> Result<Job, Vec<Fault>> {
    let settings = saw_settings(&args.saw, &mut faults);
    let mut reader = ArgReader {
        reading: Reading {
            unit: settings.unit,
            ..Reading::default()
        },
        faults,
    };
    let rules = reader.rules(args);
    let terms = args.terms.iter().flat_map(|text| reader.terms(text));
    let terms: Vec<(String, u64, Measure)> = terms.collect();
    let stock: Vec<StockRow> = args
        .from
        .iter()
        .filter_map(|text| reader.bar(text))
        .collect();
    reader.check_prices(&args.from, &stock);
    if !reader.faults.is_empty() {
        return Err(reader.faults);
    }
    let piece = |(text, count, length): &(String, u64, Measure)| PieceRow {
        qty: (*count).into(),
        joints: rules.joints.clone(),
        joint_gap: rules.joint_gap,
        joints_max: rules.joints_max,
        shortest: rules.shortest,
        end_gap: rules.end_gap,
        ..PieceRow::new(argument(quoted(text)), *length)
    };
    let input = JobInput {
        pieces: terms.iter().map(piece).collect(),
        stock,
        saw: settings.saw,
        ..JobInput::default()
    };
    input
        .validate_within(&settings.ceilings.job)
        .map_err(|faults| faults.0.into_iter().map(of_flag).collect())
}

/// An argument in the place of a row.
fn argument(text: String) -> Origin {
    Origin {
        source: Arc::from(text),
        line: 0,
    }
}

/// The fault of a row, with the name of the flag in the place of the column.
fn of_flag(fault: Fault) -> Fault {
    let column = fault
        .column
        .map(|column| match FLAGS.contains(&column.as_str()) {
            true => format!("--{}", column.replace('_', "-")),
            false => column,
        });
    Fault { column, ..fault }
}

/// What holds for all pieces.
struct Rules {
    joints: Option<Joints>,
    joint_gap: Option<Length>,
    joints_max: Option<u64>,
    shortest: Option<Length>,
    end_gap: EndGap,
}

/// Arguments on their way to values, every fault kept.
struct ArgReader {
    reading: Reading,
    faults: Vec<Fault>,
}

impl ArgReader {
    fn keep<T>(&mut self, name: &str, read: Result<T, Wrong>) -> Option<T> {
        read.map_err(|wrong| self.faults.push(fault(name, wrong.found, wrong.accepted)))
            .ok()
    }

    fn flag<T>(
        &mut self,
        name: &str,
        text: Option<&String>,
        read: impl Fn(&str, Reading) -> Result<T, Wrong>,
    ) -> Option<T> {
        let read = read(text?, self.reading);
        self.keep(name, read)
    }

    fn rules(&mut self, args: &AskArgs) -> Rules {
        let alone = [
            ("--joint-gap", &args.joint_gap),
            ("--joints-max", &args.joints_max),
            ("--shortest", &args.shortest),
        ];
        for (name, text) in alone {
            if let Some(text) = text.as_deref().filter(|_| args.joints.is_none()) {
                let found = format!("{} and no --joints", quoted(text));
                self.faults.push(fault(
                    name,
                    found,
                    "--joints beside it, such as --joints anywhere",
                ));
            }
        }
        let gap = |text: &str, reading| read_width(text, reading).map(|gap| gap.length);
        let most = |text: &str, _| read_count(text, 1);
        let part = |text: &str, reading| read_length(text, reading).map(|part| part.length);
        Rules {
            joints: self.flag("--joints", args.joints.as_ref(), read_joints),
            joint_gap: self.flag("--joint-gap", args.joint_gap.as_ref(), gap),
            joints_max: self.flag("--joints-max", args.joints_max.as_ref(), most),
            shortest: self.flag("--shortest", args.shortest.as_ref(), part),
            end_gap: self
                .flag("--end-gap", args.end_gap.as_ref(), read_end_gap)
                .unwrap_or_default(),
        }
    }

    /// The pieces of one argument, each with its text.
    fn terms(&mut self, text: &str) -> Vec<(String, u64, Measure)> {
        if comma_may_be_a_decimal_mark(text) {
            let found = format!("{}, where the comma can be read in two ways", quoted(text));
            let accepted =
                "a point in a number, such as 3.1m, and a blank after a comma between pieces";
            self.faults.push(fault(PIECES, found, accepted));
            return vec![];
        }
        let mut terms = Vec::new();
        for term in text.split([',', '+']) {
            let read = read_term(term.trim(), self.reading);
            let read = self.keep(PIECES, read);
            terms.extend(read.map(|(count, length)| (term.trim().to_owned(), count, length)));
        }
        terms
    }

    /// `3m`, or with its price `3m=5.90`.
    fn bar(&mut self, text: &str) -> Option<StockRow> {
        let (length, price) = match text.split_once('=') {
            Some((length, price)) => (length, Some(price.trim())),
            None => (text, None),
        };
        let length = read_length(length.trim(), self.reading);
        let length = self.keep("--from", length);
        let price = match price.map(|price| read_price(price, self.reading)) {
            Some(read) => Some(self.keep("--from", read)?),
            None => None,
        };
        Some(StockRow {
            price,
            ..StockRow::new(argument(format!("--from {text}")), length?)
        })
    }

    /// Prices on all bars or on none.
    fn check_prices(&mut self, texts: &[String], bars: &[StockRow]) {
        let priced = |bar: &&StockRow| bar.price.is_some();
        let count = bars.iter().filter(priced).count();
        if bars.len() == texts.len() && count > 0 && count < bars.len() {
            let unpriced = texts.iter().zip(bars).find(|(_, bar)| bar.price.is_none());
            let text = unpriced.map_or("", |(text, _)| text);
            let found = format!("{} without a price", quoted(text));
            let accepted = "prices on all bars, such as 3m=5.90, or on none";
            self.faults.push(fault("--from", found, accepted));
        }
    }
}

/// A comma between two digits parts nothing that people write so.
fn comma_may_be_a_decimal_mark(text: &str) -> bool {
    let digit = |c: Option<char>| c.is_some_and(|c| c.is_ascii_digit());
    text.match_indices(',').any(|(at, comma)| {
        let before = text.get(..at).and_then(|before| before.chars().next_back());
        let after = text.get(at + comma.len()..);
        digit(before) && digit(after.and_then(|after| after.chars().next()))
    })
}

/// `6 x 3.1m`, or `3.1m` for one.
fn read_term(text: &str, reading: Reading) -> Result<(u64, Measure), Wrong> {
    let within = |wrong: Wrong, accepted: String| {
        let found = match wrong.found == quoted(text) {
            true => wrong.found,
            false => format!("{} in {}", wrong.found, quoted(text)),
        };
        Wrong::new(found, accepted)
    };
    let of_length = |wrong: Wrong| {
        let accepted = format!("{}, and how many before it, as in 6 x 3.1m", wrong.accepted);
        within(wrong, accepted)
    };
    let Some((count, length)) = text.rsplit_once(TIMES) else {
        let length = read_length(text, reading).map_err(of_length)?;
        return Ok((1, length));
    };
    let count = read_count(count.trim(), 1).map_err(|wrong| {
        let accepted = format!("{} before the x, as in 6 x 3.1m", wrong.accepted);
        within(wrong, accepted)
    })?;
    let length = read_length(length.trim(), reading).map_err(of_length)?;
    Ok((count, length))
}

#[cfg(test)]
mod tests {
    use super::*;
    use lengthwise::Unit;
    use proptest::prelude::*;

    fn term(text: &str) -> Option<(u64, String)> {
        let reading = Reading {
            unit: Unit::Mm,
            ..Reading::default()
        };
        let (count, length) = read_term(text, reading).ok()?;
        Some((count, length.to_string()))
    }

    #[test]
    fn every_form_of_a_term() {
        for (text, count, length) in [
            ("6 x 3.1m", 6, "3.1m"),
            ("6x3.1m", 6, "3.1m"),
            ("6 \u{d7} 3.1m", 6, "3.1m"),
            ("6X3100", 6, "3100mm"),
            ("6 * 310cm", 6, "310cm"),
            ("3.1m", 1, "3.1m"),
            ("12 x 7' 3 1/4\"", 12, "7' 3 1/4\""),
        ] {
            assert_eq!(term(text), Some((count, length.to_owned())), "{text}");
        }
        for wrong in [
            "",
            "x",
            "6 x",
            "x 3.1m",
            "6 x 0",
            "0 x 3.1m",
            "6 3.1m",
            "2 x 6 x 3m",
            "3.1m x 6",
        ] {
            assert_eq!(term(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn commas() {
        assert!(comma_may_be_a_decimal_mark("6 x 3,1m"));
        assert!(!comma_may_be_a_decimal_mark("6 x 3.1m, 4 x 1200"));
        assert!(!comma_may_be_a_decimal_mark(", 6"));
    }

    proptest! {
        #[test]
        fn no_term_panics(text in "[0-9x\u{d7}./'\"m,+ -]{0,20}|\\PC{0,20}") {
            let _ = (term(&text), comma_may_be_a_decimal_mark(&text));
        }
    }
}
