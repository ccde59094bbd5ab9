//! The short grammar of cells that hold more than one number. Lengths inside take any accepted form.
//!
//! Signs part the lengths: `/`, `+`, `@` and blanks. Where a sign may also be that of a fraction, every
//! reading is tried, and a cell with more than one is refused.

use lengthwise::job::{LARGEST_QUANTITY, Quantity};
use lengthwise::{Length, Measure, Reading};

use super::cells::{Wrong, quoted, splits};

/// `7`, `3100/140`, `3100/135+5`, `3100@600` or `3100@600 even`.
pub fn read_quantity(text: &str, reading: Reading) -> Result<Quantity, Wrong> {
    if !text.contains(['/', '@']) {
        return read_plain_count(text);
    }
    let readings: Vec<Quantity> = splits(text, '@')
        .filter_map(|(width, spacing)| members(width, spacing, reading))
        .chain(splits(text, '/').filter_map(|(width, rest)| boards(width, rest, reading)))
        .collect();
    match readings.as_slice() {
        [one] => Ok(*one),
        [] => Err(Wrong::new(quoted(text), QUANTITY)),
        _ => Err(Wrong::new(
            format!("{}, which can be read in two ways", quoted(text)),
            "lengths with their unit, such as 122\"/5 1/2\"",
        )),
    }
}

const QUANTITY: &str = "a whole number from 1 to 1000000, boards over a width such as 3100/140 or \
                        3100/135+5, or members along one such as 3100@600 or 3100@600 even";

fn read_plain_count(text: &str) -> Result<Quantity, Wrong> {
    let plain = text.chars().all(|c| c.is_ascii_digit());
    text.parse()
        .ok()
        .filter(|count| plain && (1..=LARGEST_QUANTITY).contains(count))
        .map(Quantity::Count)
        .ok_or_else(|| Wrong::new(quoted(text), QUANTITY))
}

fn above_zero(text: &str, reading: Reading) -> Option<Measure> {
    let measure = Length::read(text, reading).ok()?;
    (!measure.length.is_zero()).then_some(measure)
}

fn boards(width: &str, rest: &str, reading: Reading) -> Option<Quantity> {
    let (cover, gap) = match rest.split_once('+') {
        None => {
            let cover = above_zero(rest, reading)?;
            let unit = cover.unit;
            (
                cover,
                Measure {
                    length: Length::ZERO,
                    unit,
                },
            )
        }
        Some((cover, gap)) => (
            above_zero(cover, reading)?,
            Length::read(gap, reading).ok()?,
        ),
    };
    Some(Quantity::Boards {
        width: above_zero(width, reading)?,
        cover,
        gap,
    })
}

fn members(width: &str, rest: &str, reading: Reading) -> Option<Quantity> {
    let spacing = rest.trim().to_lowercase();
    let (spacing, even) = match spacing.strip_suffix("even") {
        Some(spacing) => (spacing, true),
        None => (spacing.as_str(), false),
    };
    Some(Quantity::Members {
        width: above_zero(width, reading)?,
        spacing: above_zero(spacing, reading)?,
        even,
    })
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use lengthwise::Unit;
    use proptest::prelude::*;

    fn in_unit(unit: Unit) -> Reading {
        Reading {
            unit,
            decimal_comma: false,
        }
    }

    fn quantity(text: &str, unit: Unit) -> Option<String> {
        let read = read_quantity(text, in_unit(unit)).ok()?;
        Some(format!("{read} = {}", read.count()))
    }

    /// Counts by hand: 22 x 140 = 3080 < 3100; 5 x 600 = 3000 < 3100.
    #[test]
    fn every_form_of_a_quantity() {
        for (text, read) in [
            ("7", "7 = 7"),
            ("3100/140", "3100mm/140mm = 23"),
            ("3100/135+5", "3100mm/135mm+5mm = 23"),
            ("3.1m / 13.5cm + 5mm", "3.1m/13.5cm+5mm = 23"),
            ("3080/140", "3080mm/140mm = 22"),
            ("3100@600", "3100mm@600mm = 7"),
            ("3100@600 even", "3100mm@600mm even = 7"),
            ("3100@600EVEN", "3100mm@600mm even = 7"),
            ("3000@600", "3000mm@600mm = 6"),
            ("10' 2\"/5 1/2\"", "10' 2\"/5 1/2\" = 23"),
            ("10ft 2in@16in even", "10' 2\"@16\" even = 9"),
        ] {
            assert_eq!(quantity(text, Unit::Mm).as_deref(), Some(read), "{text}");
        }
        let read = quantity("122 1/2/5 1/2+1/4", Unit::In);
        assert_eq!(read.as_deref(), Some("122 1/2\"/5 1/2\"+1/4\" = 22"));
    }

    #[test]
    fn what_is_no_quantity() {
        for text in [
            "",
            "0",
            "-7",
            "1.5",
            "1000001",
            "3100/",
            "/140",
            "3100/0",
            "0/140",
            "3100/140+",
            "3100/140+5+5",
            "3100@",
            "@600",
            "3100@0",
            "3100@600 odd",
            "3100@600@2",
            "3100/140@600",
            "3100/-140",
            "3100/140 even",
            "3100 by 140",
            "seven",
        ] {
            assert_eq!(quantity(text, Unit::Mm), None, "{text}");
        }
        let wrong = read_quantity("122/5/8", in_unit(Unit::In)).unwrap_err();
        assert!(wrong.found.contains("two ways"), "{wrong:?}");
        assert!(read_quantity("122\"/5/8\"", in_unit(Unit::In)).is_ok());
    }

    fn part() -> impl Strategy<Value = String> {
        let unit = prop::sample::select(vec!["", "mm", "cm", "m", "\"", "'", "ft 2 3/8in"]);
        (1_u32..100_000, unit).prop_map(|(number, unit)| format!("{number}{unit}"))
    }

    proptest! {
        /// What is printed is read back as the same.
        #[test]
        fn a_quantity_is_read_back(
            width in part(), by in part(), sign in prop::sample::select(vec!["/", "@"]),
            end in prop::sample::select(vec!["", "+5", "+1/4\"", " even"]),
        ) {
            if let Ok(read) = read_quantity(&format!("{width}{sign}{by}{end}"), in_unit(Unit::Mm)) {
                for unit in [Unit::Mm, Unit::In] {
                    prop_assert_eq!(&read_quantity(&read.to_string(), in_unit(unit)), &Ok(read));
                }
            }
        }

        #[test]
        fn no_cell_panics(text in "[0-9./'\"mncft@+ evn-]{0,24}|\\PC{0,20}", comma: bool) {
            for unit in [Unit::Mm, Unit::In] {
                let _ = read_quantity(&text, Reading { unit, decimal_comma: comma });
            }
        }
    }
}
