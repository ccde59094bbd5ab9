//! What a cell may hold: each reader gives a value or says what was found and what is accepted.

use lengthwise::Length;
use lengthwise::job::{Expansion, LARGEST_QUANTITY, PriceBreak, Sold, SquareOff};
use lengthwise::{LengthError, Measure, Reading};
use lengthwise::{Price, PriceError};
use rust_decimal::Decimal;

/// Most characters of a cell that are quoted back.
const QUOTED_CHARACTERS: usize = 48;

/// A cell that cannot be read.
#[derive(Debug, PartialEq, Eq)]
pub struct Wrong {
    /// What was found, as a phrase.
    pub found: String,
    /// What would be accepted, as a phrase.
    pub accepted: String,
}

impl Wrong {
    pub fn new(found: String, accepted: impl Into<String>) -> Wrong {
        Wrong {
            found,
            accepted: accepted.into(),
        }
    }
}

/// The text in quotation marks, shortened, with control characters made visible.
pub fn quoted(text: &str) -> String {
    let mut shown = String::new();
    for (place, c) in text.chars().enumerate() {
        if place == QUOTED_CHARACTERS {
            shown.push_str("...");
            break;
        }
        if c.is_control() {
            shown.extend(c.escape_default());
        } else {
            shown.push(c);
        }
    }
    format!("\"{shown}\"")
}

/// A length above zero.
pub fn read_length(text: &str, reading: Reading) -> Result<Measure, Wrong> {
    let measure = read_width(text, reading)?;
    if measure.length.is_zero() {
        let accepted = "a length above 0, such as 2210 or 2.21m";
        return Err(Wrong::new(quoted(text), accepted));
    }
    Ok(measure)
}

/// A length that may be zero.
pub fn read_width(text: &str, reading: Reading) -> Result<Measure, Wrong> {
    Length::read(text, reading).map_err(|why| match why {
        LengthError::Empty => Wrong::new("nothing".to_owned(), LengthError::ACCEPTED),
        LengthError::ThousandsOrDecimal => thousands_or_decimal(text, text, reading),
        why => Wrong::new(
            format!("{}, which {why}", quoted(text)),
            LengthError::ACCEPTED,
        ),
    })
}

/// A number in a cell, of which a point or a comma may mark thousands: how to write what is meant.
fn thousands_or_decimal(text: &str, number: &str, reading: Reading) -> Wrong {
    let (whole, decimals) = without_doubt(number, reading);
    let why = LengthError::ThousandsOrDecimal;
    let found = if text == number {
        format!("{}, which {why}", quoted(text))
    } else {
        format!("{}, where {} {why}", quoted(text), quoted(number))
    };
    let unit = reading.unit;
    Wrong::new(
        found,
        format!("{whole} if it is a thousands mark, {decimals}{unit} if a decimal"),
    )
}

/// A number with one mark as thousands would be written, and as decimals without the noughts at the end.
fn without_doubt(number: &str, reading: Reading) -> (String, String) {
    let (whole, decimals) = number.split_once(['.', ',']).unwrap_or((number, ""));
    let mark = if reading.decimal_comma { ',' } else { '.' };
    let written = match decimals.trim_end_matches('0') {
        "" => whole.to_owned(),
        decimals => format!("{whole}{mark}{decimals}"),
    };
    (format!("{whole}{decimals}"), written)
}

/// A cell of several numbers that cannot be read: because one of them may have a thousands mark, or else as it
/// stands.
pub fn unreadable(text: &str, reading: Reading, accepted: &str) -> Wrong {
    let mut numbers = text.split(|c: char| c.is_whitespace() || matches!(c, '/' | '+' | '@'));
    let in_doubt =
        |number: &&str| Length::read(number, reading) == Err(LengthError::ThousandsOrDecimal);
    match numbers.find(in_doubt) {
        Some(number) => thousands_or_decimal(text, number, reading),
        None => Wrong::new(quoted(text), accepted),
    }
}

/// A whole number from `least` to [`LARGEST_QUANTITY`].
pub fn read_count(text: &str, least: u64) -> Result<u64, Wrong> {
    let digits = !text.is_empty() && text.chars().all(|c| c.is_ascii_digit());
    text.parse()
        .ok()
        .filter(|count| digits && (least..=LARGEST_QUANTITY).contains(count))
        .ok_or_else(|| {
            let accepted = format!("a whole number from {least} to {LARGEST_QUANTITY}");
            Wrong::new(quoted(text), accepted)
        })
}

/// An amount of money.
pub fn read_price(text: &str, reading: Reading) -> Result<Price, Wrong> {
    Price::read(text, reading).map_err(|why| {
        let accepted = match why {
            PriceError::ThousandsOrDecimal => price_without_doubt(text, reading),
            _ => PriceError::ACCEPTED.to_owned(),
        };
        Wrong::new(format!("{}, which {why}", quoted(text)), accepted)
    })
}

/// The two prices that may be meant, with two decimals or with four.
fn price_without_doubt(text: &str, reading: Reading) -> String {
    let number = text.trim_start_matches(|c: char| !c.is_ascii_digit());
    let (whole, decimals) = without_doubt(number, reading);
    let mark = if reading.decimal_comma { ',' } else { '.' };
    let decimals = match decimals.split_once(mark) {
        Some((before, behind)) if behind.len() > 2 => format!("{before}{mark}{behind}0"),
        Some((before, behind)) => format!("{before}{mark}{behind:0<2}"),
        None => format!("{decimals}{mark}00"),
    };
    format!("{whole} if it is a thousands mark, {decimals} if a decimal")
}

/// What a price with breaks looks like.
const PRICES: &str =
    "a price such as 5.90, and lower ones from larger counts such as 5.90; 5.40 from 20";

/// A price, and lower ones from larger counts: `5.90; 5.40 from 20; 5.10 from 50`. Whether they go down is
/// judged with the whole row.
pub fn read_prices(text: &str, reading: Reading) -> Result<(Price, Vec<PriceBreak>), Wrong> {
    let mut parts = text.split(';');
    let first = parts.next().unwrap_or_default();
    if first.len() == text.len() && !text.to_lowercase().contains("from") {
        return Ok((read_price(text, reading)?, Vec::new()));
    }
    let wrong = || Wrong::new(quoted(text), PRICES);
    let in_cell = |wrong: &Wrong| format!("{} in {}", wrong.found, quoted(text));
    let within = |wrong: Wrong| Wrong::new(in_cell(&wrong), PRICES);
    let price = |part: &str| {
        let part = part.trim();
        read_price(part, reading).map_err(|wrong| match Price::read(part, reading) {
            Err(PriceError::ThousandsOrDecimal) => Wrong::new(in_cell(&wrong), wrong.accepted),
            _ => within(wrong),
        })
    };
    let first = price(first)?;
    let lower = parts.map(|part| {
        let lower = part.to_lowercase();
        let (each, count) = lower.split_once("from").ok_or_else(wrong)?;
        Ok(PriceBreak {
            price: price(each)?,
            from: read_count(count.trim(), 2).map_err(within)?,
        })
    });
    Ok((first, lower.collect::<Result<_, _>>()?))
}

/// A number in plain digits with at most one decimal mark.
pub fn plain_decimal(text: &str, decimal_comma: bool) -> Option<Decimal> {
    let mark = if decimal_comma { ',' } else { '.' };
    let plain = text.chars().all(|c| c.is_ascii_digit() || c == mark);
    text.replace(mark, ".").parse().ok().filter(|_| plain)
}

/// Millionths per kelvin.
pub fn read_expansion(text: &str, reading: Reading) -> Result<Expansion, Wrong> {
    plain_decimal(text, reading.decimal_comma)
        .and_then(Expansion::from_decimal)
        .ok_or_else(|| Wrong::new(quoted(text), Expansion::ACCEPTED))
}

/// `each`, `per m` or `pack of 8`.
pub fn read_sold(text: &str) -> Result<Sold, Wrong> {
    let words: Vec<String> = text.split_whitespace().map(str::to_lowercase).collect();
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    let read = match words.as_slice() {
        [] | ["each"] => Some(Sold::Each),
        ["per", "m"] => Some(Sold::PerMetre),
        ["pack", "of", bars] => read_count(bars, 1)
            .ok()
            .and_then(|bars| u32::try_from(bars).ok())
            .map(Sold::Pack),
        _ => None,
    };
    read.ok_or_else(|| {
        let accepted =
            format!("each, per m, or pack of a whole number from 1 to {LARGEST_QUANTITY}");
        Wrong::new(quoted(text), accepted)
    })
}

/// One length for both ends, or near/far: see [`read_two_ends`].
pub fn read_square_off(text: &str, reading: Reading) -> Result<SquareOff, Wrong> {
    let (near, far) = read_two_ends(text, reading)?;
    Ok(SquareOff { near, far })
}

/// A length for the near end and one for the far end.
///
/// A slash may also be that of a fraction. Every reading is tried; where more than one stands,
/// a fraction with its inch mark is a fraction, `0/10` is near/far, and the rest is refused.
pub fn read_two_ends(text: &str, reading: Reading) -> Result<(Length, Length), Wrong> {
    let both = Length::read(text, reading).ok();
    let both = both.map(|both| (both.length, both.length));
    let splits: Vec<(Length, Length)> = splits(text, '/')
        .filter_map(|(near, far)| {
            let near = Length::read(near, reading).ok()?;
            Some((near.length, Length::read(far, reading).ok()?.length))
        })
        .collect();
    match (both, splits.as_slice()) {
        (Some(both), []) => Ok(both),
        (None, [split]) => Ok(*split),
        (Some(both), _) if has_unit(text) && !both.0.is_zero() => Ok(both),
        (Some(both), [split]) if both.0.is_zero() => Ok(*split),
        (None, []) => Err(unreadable(
            text,
            reading,
            "one length for both ends such as 10, or near/far such as 0/10",
        )),
        _ => Err(Wrong::new(
            format!("{}, which can be read in two ways", quoted(text)),
            "lengths with their unit, such as 1/2\" for both ends or 0mm/10mm for near/far",
        )),
    }
}

/// The text parted at each of the marks in turn.
pub fn splits(text: &str, mark: char) -> impl Iterator<Item = (&str, &str)> {
    text.match_indices(mark)
        .filter_map(move |(at, mark)| Some((text.get(..at)?, text.get(at + mark.len()..)?)))
}

/// Whether the text ends in a unit rather than in a digit.
fn has_unit(text: &str) -> bool {
    !text.trim_end().ends_with(|c: char| c.is_ascii_digit())
}

/// Free text: blanks folded, other control characters refused.
pub fn read_text(text: &str) -> Result<String, Wrong> {
    let folded = text.split_whitespace().collect::<Vec<_>>().join(" ");
    if folded.chars().any(char::is_control) {
        let what = if folded.contains('\0') {
            "which holds a NUL byte"
        } else {
            "which holds a control character"
        };
        return Err(Wrong::new(
            format!("{}, {what}", quoted(text)),
            "plain text",
        ));
    }
    Ok(folded)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use lengthwise::Unit;
    use proptest::prelude::*;

    fn ends(text: &str, unit: Unit) -> Option<(i64, i64)> {
        let reading = Reading {
            unit,
            ..Reading::default()
        };
        let both = read_square_off(text, reading).ok()?;
        Some((both.near.nm() / 1000, both.far.nm() / 1000))
    }

    // Widths in micrometres: 1 in = 25 400 (NIST SP 811, Appendix B; from memory).
    #[test]
    fn allowances_as_one_length_or_two() {
        assert_eq!(ends("10", Unit::Mm), Some((10_000, 10_000)));
        assert_eq!(ends("0/10", Unit::Mm), Some((0, 10_000)));
        assert_eq!(ends("0mm/10mm", Unit::In), Some((0, 10_000)));
        assert_eq!(ends("5 / 1cm", Unit::Mm), Some((5_000, 10_000)));
        assert_eq!(ends("1/2\"", Unit::Mm), Some((12_700, 12_700)));
        assert_eq!(ends("1/2\"/3/4\"", Unit::Mm), Some((12_700, 19_050)));
        assert_eq!(ends("0/1", Unit::In), Some((0, 25_400)));
        assert_eq!(ends("1/2", Unit::Mm), Some((1_000, 2_000)));
    }

    #[test]
    fn an_allowance_that_can_be_read_in_two_ways_is_refused() {
        assert_eq!(ends("1/2", Unit::In), None);
        assert_eq!(ends("/", Unit::Mm), None);
        assert_eq!(ends("5/", Unit::Mm), None);
        assert_eq!(ends("-5", Unit::Mm), None);
    }

    #[test]
    fn what_may_mark_thousands_is_told_how_to_be_written() {
        let in_unit = |unit, decimal_comma| Reading {
            unit,
            decimal_comma,
            thousands: true,
        };
        let found = "\"1.200\", which could be a thousands mark or a decimal";
        for (unit, decimal_comma, accepted) in [
            (
                Unit::Mm,
                false,
                "1200 if it is a thousands mark, 1.2mm if a decimal",
            ),
            (
                Unit::In,
                true,
                "1200 if it is a thousands mark, 1,2in if a decimal",
            ),
        ] {
            let wrong = read_length("1.200", in_unit(unit, decimal_comma));
            assert_eq!(wrong, Err(Wrong::new(found.to_owned(), accepted)));
        }
        let reading = in_unit(Unit::Mm, false);
        for (text, accepted) in [
            ("1.200", "1200 if it is a thousands mark, 1.20 if a decimal"),
            (
                "\u{a3}1,234",
                "1234 if it is a thousands mark, 1.2340 if a decimal",
            ),
            ("2.000", "2000 if it is a thousands mark, 2.00 if a decimal"),
        ] {
            let wrong = read_price(text, reading).unwrap_err();
            assert_eq!(wrong.accepted, accepted);
            let breaks = format!("5000; {text} from 20");
            let wrong = read_prices(&breaks, reading).unwrap_err();
            assert_eq!(wrong.accepted, accepted);
            assert!(
                wrong.found.contains(text) && wrong.found.contains(&breaks),
                "{wrong:?}"
            );
            // What is accepted can be read.
            for word in accepted
                .split(' ')
                .filter(|word| word.starts_with(|c: char| c.is_ascii_digit()))
            {
                assert!(read_price(word, reading).is_ok(), "{word}");
            }
        }
        let ends = read_square_off("0/1.200", reading).unwrap_err();
        assert!(ends.found.contains("where \"1.200\" could be"), "{ends:?}");
        let plain = read_square_off("0/x", reading).unwrap_err();
        assert!(
            plain.accepted.starts_with("one length for both ends"),
            "{plain:?}"
        );
    }

    #[test]
    fn what_a_sale_can_be() {
        assert_eq!(read_sold("Each"), Ok(Sold::Each));
        assert_eq!(read_sold(" per  M "), Ok(Sold::PerMetre));
        assert_eq!(read_sold("pack of 8"), Ok(Sold::Pack(8)));
        for wrong in ["pack", "pack of 0", "pack of -1", "per foot", "8"] {
            assert!(read_sold(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn counts_are_plain_digits() {
        assert_eq!(read_count("12", 1), Ok(12));
        for wrong in ["", "0", "+1", "2.5", "1e3", "1000001", "1 000"] {
            assert!(read_count(wrong, 1).is_err(), "{wrong}");
        }
    }

    proptest! {
        #[test]
        fn no_cell_panics(text in "[0-9./'\"mncft -]{0,20}|\\PC{0,20}", decimal_comma: bool) {
            for unit in [Unit::Mm, Unit::In] {
                let reading = Reading { unit, decimal_comma, thousands: decimal_comma };
                let _ = (read_length(&text, reading), read_square_off(&text, reading));
            }
            let _ = (read_count(&text, 0), read_sold(&text), read_text(&text), quoted(&text));
        }
    }

    #[test]
    fn text_is_folded_and_checked() {
        assert_eq!(
            read_text("  two\nlines\tof it ").unwrap(),
            "two lines of it"
        );
        assert!(read_text("\u{1b}[31mred").is_err());
    }
}
