//! Single cells: what is read is printed, and read back as the same.

use lengthwise::job::{Ends, Joints, Quantity, Sold};
use lengthwise::{Length, Price, Reading, Unit};
use rust_decimal::Decimal;

use super::{reading_and_text, with_readings};
use crate::json::{ends_text, sold_text, square_off_text};
use crate::read::cells::{
    Wrong, plain_decimal, quoted, read_count, read_expansion, read_length, read_price, read_prices,
    read_sold, read_square_off, read_text, read_width,
};
use crate::read::grammar::{read_course_rule, read_end_gap, read_ends, read_joints, read_quantity};

const UNITS: [Unit; 5] = [Unit::Mm, Unit::Cm, Unit::M, Unit::In, Unit::Ft];

fn plain(unit: Unit) -> Reading {
    Reading {
        unit,
        ..Reading::default()
    }
}

/// Words that a person can be shown.
fn is_sound(wrong: &Wrong) {
    for words in [&wrong.found, &wrong.accepted] {
        assert!(!words.is_empty() && words.len() <= 1_000, "{wrong:?}");
        assert!(!words.chars().any(char::is_control), "{wrong:?}");
    }
}

/// A column `length`.
pub fn length(bytes: &[u8]) {
    let (reading, text) = reading_and_text(bytes);
    let read = match read_width(&text, reading) {
        Ok(read) => read,
        Err(wrong) => return is_sound(&wrong),
    };
    assert!(read.length <= Length::MAX);
    for unit in UNITS {
        let printed = read.length.text(unit);
        for bare in UNITS {
            let again = read_width(&printed, plain(bare)).map(|again| again.length);
            assert_eq!(again, Ok(read.length), "{text:?} as {printed}");
        }
    }
    assert_eq!(read_length(&text, reading).is_ok(), !read.length.is_zero());
    if let Some(nm) = by_decimal(&text, reading) {
        assert_eq!(Decimal::from(read.length.nm()), nm, "{text:?}");
    }
}

/// Nanometres of a plain metric number, reckoned by another crate; `None` for other forms.
fn by_decimal(text: &str, reading: Reading) -> Option<Decimal> {
    // 1 mm is a million nanometres, by the prefixes of the SI (from memory).
    let units = [
        ("mm", 1_000_000),
        ("cm", 10_000_000),
        ("m", 1_000_000_000_i64),
    ];
    let text = text.trim();
    let bare = units.iter().find(|(name, _)| *name == reading.unit.name());
    let named = units
        .iter()
        .find_map(|(name, nm)| Some((text.strip_suffix(name)?, nm)));
    let (number, nm) = named.or_else(|| Some((text, &bare?.1)))?;
    let number = plain_decimal(number.trim(), reading.decimal_comma)?;
    number.checked_mul(Decimal::from(*nm))
}

pub fn lengths() -> Vec<Vec<u8>> {
    with_readings(&[
        "2210",
        "2210mm",
        "221cm",
        "2.21m",
        "2,21m",
        "7/8\"",
        "87 1/4\"",
        "7' 3 1/4\"",
        "7ft 3-1/4in",
        "10'-6\"",
        "0",
        "0.000001",
        "100000km",
        "100000000000mm",
        ".5",
        "1.200",
        "1/64\"",
        "1/3\"",
        "99999999999999999999999999999999999999",
        "\u{2032}\u{2033}",
        "3\u{a0}m",
        "-5",
        "5 1/0\"",
    ])
}

/// A column `price`, with its breaks.
pub fn price(bytes: &[u8]) {
    let (reading, text) = reading_and_text(bytes);
    match read_price(&text, reading) {
        Ok(read) => {
            let printed = read.to_string();
            assert_eq!(
                Price::parse(&printed, false),
                Ok(read),
                "{text:?} as {printed}"
            );
            if let Some(decimal) = plain_decimal(text.trim(), reading.decimal_comma) {
                assert_eq!(read.decimal(), decimal, "{text:?}");
            }
        }
        Err(wrong) => is_sound(&wrong),
    }
    match read_prices(&text, reading) {
        Ok((first, breaks)) => {
            let lower = breaks
                .iter()
                .map(|at| format!("; {} from {}", at.price, at.from));
            let printed = first.to_string() + &lower.collect::<String>();
            assert_eq!(
                read_prices(&printed, plain(Unit::Mm)),
                Ok((first, breaks)),
                "{text:?} as {printed}"
            );
        }
        Err(wrong) => is_sound(&wrong),
    }
}

pub fn prices() -> Vec<Vec<u8>> {
    with_readings(&[
        "5.90",
        "5,90",
        "5",
        "0",
        "0.000001",
        "999999999.999999",
        "1000000000",
        "\u{20ac} 5.90",
        "$5",
        "5.90; 5.40 from 20",
        "5.90; 5.40 from 20; 5.10 from 50",
        "5,90; 5,40 FROM 20",
        "1.200",
        "1,200.50",
        ".5",
        "5.",
        "00005.9000000",
        "-1",
        "5.90;",
        "from",
        "5 from 20",
    ])
}

/// Less than a foot is printed in inches, and is in inches then.
fn lengths_of(quantity: Quantity) -> (u64, u64, [Length; 3]) {
    match quantity {
        Quantity::Count(count) => (0, count, [Length::ZERO; 3]),
        Quantity::Boards { width, cover, gap } => {
            (1, 0, [width, cover, gap].map(|measure| measure.length))
        }
        Quantity::Members {
            width,
            spacing,
            even,
        } => (2, even.into(), [width.length, spacing.length, Length::ZERO]),
    }
}

/// A column `qty`.
pub fn quantity(bytes: &[u8]) {
    let (reading, text) = reading_and_text(bytes);
    match read_quantity(&text, reading) {
        Ok(read) => {
            let count = read.count();
            let printed = read.to_string();
            for bare in UNITS {
                let again = read_quantity(&printed, plain(bare));
                assert_eq!(
                    again.map(lengths_of),
                    Ok(lengths_of(read)),
                    "{text:?} as {printed}"
                );
            }
            // A width holds at least one piece, and a plain count is within its range.
            assert!(count >= 1, "{text:?}");
        }
        Err(wrong) => is_sound(&wrong),
    }
}

pub fn quantities() -> Vec<Vec<u8>> {
    with_readings(&[
        "7",
        "3100/140",
        "3100/135+5",
        "3100@600",
        "3100@600 even",
        "122\"/5 1/2\"",
        "10ft 2in@16in even",
        "122 1/2/5 1/2+1/4",
        "1000000",
        "1000001",
        "100000000000/0.000001",
        "0.000001@100000000000",
        "100000000000@0.000001 even",
        "3.1m / 13.5cm + 5mm",
        "1/2\"/1/2\"+1/2\"",
        "1'/1'+1'",
    ])
}

/// A column `joints`.
pub fn joints(bytes: &[u8]) {
    let (reading, text) = reading_and_text(bytes);
    let read = match read_joints(&text, reading) {
        Ok(read) => read,
        Err(wrong) => return is_sound(&wrong),
    };
    for unit in UNITS {
        let printed = read.text(unit);
        for bare in UNITS {
            let again = read_joints(&printed, plain(bare));
            assert_eq!(again.as_ref(), Ok(&read), "{text:?} as {printed}");
        }
    }
    let run = Length::from_mm(6_300);
    // As many places as a checked job may have.
    let few = !matches!(read, Joints::Every { spacing, .. } if spacing.nm() < 630_000);
    if few && let Some(places) = read.places(run) {
        assert!(
            places.iter().all(|place| !place.is_zero() && *place < run),
            "{text:?}"
        );
        let is_even = matches!(read, Joints::Every { .. });
        assert!(
            !is_even || places.is_sorted_by(|one, next| one < next),
            "{text:?}"
        );
    }
}

pub fn all_joints() -> Vec<Vec<u8>> {
    with_readings(&[
        "anywhere",
        "every 600",
        "every 600 from 50",
        "at 600 1200 1850",
        "at 2'6-1/4\" 5'",
        "EVERY 2' FROM 3\"",
        "every 600 from 0",
        "every 100000000000",
        "every 0.63 from 6299.999999",
        "at 1/2\" 3/4\"",
    ])
}

/// Every other kind of cell.
pub fn others(bytes: &[u8]) {
    let (reading, text) = reading_and_text(bytes);
    fn check<T: PartialEq + std::fmt::Debug>(
        read: Result<T, Wrong>,
        print: impl Fn(&T) -> Option<String>,
        again: impl Fn(&str) -> Result<T, Wrong>,
    ) {
        match read {
            Ok(read) => {
                if let Some(printed) = print(&read) {
                    assert_eq!(again(&printed).as_ref(), Ok(&read), "as {printed}");
                }
            }
            Err(wrong) => is_sound(&wrong),
        }
    }
    let with_units = plain(Unit::Mm);
    for unit in UNITS {
        check(
            read_square_off(&text, reading),
            |read| Some(square_off_text(*read, unit)),
            |text| read_square_off(text, with_units),
        );
        check(
            read_end_gap(&text, reading),
            |gap| Some(format!("{}/{}", gap.near.text(unit), gap.far.text(unit))),
            |text| read_end_gap(text, with_units),
        );
    }
    check(
        read_ends(&text, reading),
        |ends| ends_text(*ends).or((*ends == Ends::SQUARE).then(|| "90".to_owned())),
        |text| read_ends(text, with_units),
    );
    check(
        read_course_rule(&text),
        |rule| Some(format!("{}/{}", rule.joints, rule.courses)),
        read_course_rule,
    );
    check(
        read_sold(&text),
        |sold: &Sold| Some(sold_text(*sold)),
        read_sold,
    );
    check(
        read_expansion(&text, reading),
        |expansion| Some(expansion.to_string()),
        |text| read_expansion(text, with_units),
    );
    check(
        read_count(&text, 0),
        |count| Some(count.to_string()),
        |text| read_count(text, 0),
    );
    check(read_text(&text), |text| Some(text.clone()), read_text);
    assert!(!quoted(&text).chars().any(char::is_control));
}

pub fn all_others() -> Vec<Vec<u8>> {
    with_readings(&[
        "10",
        "0/10",
        "1/2\"/3/4\"",
        "0/1/4in",
        "5 / 1cm",
        "45",
        "45/90",
        "67.25\u{b0}/10\u{b0}",
        "22,5",
        "1/2",
        "3 / 12",
        "999/1000",
        "each",
        "per m",
        "pack of 8",
        "pack of 1000000",
        "60",
        "0.001",
        "1000",
        "12",
        "1000000",
        "  two\nlines\tof it ",
        "\u{1b}[31mred",
        "roofing batten 25x50",
        "\u{202e}abc",
    ])
}
