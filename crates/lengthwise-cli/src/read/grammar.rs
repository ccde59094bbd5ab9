//! The short grammar of cells that hold more than one number. Lengths inside take any accepted form.
//!
//! Signs part the lengths: `/`, `+`, `@` and blanks. Where a sign may also be that of a fraction, every
//! reading is tried, and a cell with more than one is refused.

use lengthwise::job::{Angle, CourseRule, EndGap, Ends, Joints, LARGEST_QUANTITY, Quantity};
use lengthwise::{Length, Measure, Reading};

use super::cells::{Wrong, quoted, read_two_ends, splits, unreadable};

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
        [] => Err(unreadable(text, reading, QUANTITY)),
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

/// What is left open at the ends: one length for both, or near/far.
pub fn read_end_gap(text: &str, reading: Reading) -> Result<EndGap, Wrong> {
    let (near, far) = read_two_ends(text, reading)?;
    Ok(EndGap { near, far })
}

/// The angles of both ends in degrees: `45` for both, or near/far such as `45/90`.
pub fn read_ends(text: &str, reading: Reading) -> Result<Ends, Wrong> {
    let (near, far) = text.split_once('/').unwrap_or((text, text));
    let both = angle(near, reading).zip(angle(far, reading));
    both.map(|(near, far)| Ends { near, far }).ok_or_else(|| {
        let accepted = "the angles of both ends in degrees from 10 to 90 (square), with at most two \
                        decimals, such as 45 or 45/90";
        Wrong::new(quoted(text), accepted)
    })
}

/// `45`, `22.5` or `22,5` by the decimal mark of the file; a degree sign may follow.
fn angle(text: &str, reading: Reading) -> Option<Angle> {
    let text = text.trim();
    let text = text.strip_suffix('\u{b0}').unwrap_or(text).trim_end();
    let mark = if reading.decimal_comma { ',' } else { '.' };
    let (degrees, decimals) = text.split_once(mark).unwrap_or((text, "0"));
    let digits = |text: &str, most| {
        (1..=most).contains(&text.len()) && text.bytes().all(|byte| byte.is_ascii_digit())
    };
    if !digits(degrees, 2) || !digits(decimals, 2) {
        return None;
    }
    let hundredths: u16 = format!("{degrees}{decimals:0<2}").parse().ok()?;
    Angle::from_hundredths(hundredths)
}

/// `anywhere`, `every 600`, `every 600 from 50` or `at 600 1200 1850`.
pub fn read_joints(text: &str, reading: Reading) -> Result<Joints, Wrong> {
    let lower = text.trim().to_lowercase();
    let read = match lower.split_once(char::is_whitespace) {
        None if lower == "anywhere" => Some(Joints::Anywhere),
        Some(("every", rest)) => every(rest, reading),
        Some(("at", rest)) => at(rest, reading),
        _ => None,
    };
    read.ok_or_else(|| {
        let accepted = "anywhere, every 600, every 600 from 50, or at 600 1200 1850 (no blanks \
                        inside a length: 2'6\")";
        unreadable(text, reading, accepted)
    })
}

fn every(rest: &str, reading: Reading) -> Option<Joints> {
    let mut parts = rest.splitn(2, " from ");
    let spacing = above_zero(parts.next()?, reading)?.length;
    let from = match parts.next() {
        None => Length::ZERO,
        Some(from) => Length::read(from, reading).ok()?.length,
    };
    Some(Joints::Every { spacing, from })
}

/// Places parted by blanks.
fn at(rest: &str, reading: Reading) -> Option<Joints> {
    let places = rest.split_whitespace();
    let places = places.map(|place| Some(above_zero(place, reading)?.length));
    places.collect::<Option<_>>().map(Joints::At)
}

/// Joints over courses: `1/2`.
pub fn read_course_rule(text: &str) -> Result<CourseRule, Wrong> {
    let number = |text: &str| {
        let text = text.trim();
        let plain = text.bytes().all(|byte| byte.is_ascii_digit());
        text.parse::<u32>().ok().filter(|_| plain)
    };
    let both = text.split_once('/');
    both.and_then(|(joints, courses)| number(joints).zip(number(courses)))
        .map(|(joints, courses)| CourseRule { joints, courses })
        .ok_or_else(|| {
            let accepted = "joints/courses such as 1/2: at most one joint on a support in any two \
                            courses that follow each other";
            Wrong::new(quoted(text), accepted)
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
            ..Reading::default()
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

    #[test]
    fn numbers_that_may_have_a_thousands_mark_are_named() {
        let reading = Reading {
            thousands: true,
            ..Reading::default()
        };
        for wrong in [
            read_quantity("3.100/140", reading).unwrap_err(),
            read_quantity("3.100@600 even", reading).unwrap_err(),
            read_joints("every 600 from 3.100", reading).unwrap_err(),
            read_end_gap("3.100", reading).unwrap_err(),
        ] {
            assert!(
                wrong.found.contains("thousands mark or a decimal"),
                "{wrong:?}"
            );
            assert!(wrong.accepted.starts_with("3100 if"), "{wrong:?}");
        }
        assert!(read_quantity("3.1m/140", reading).is_ok());
        assert_eq!(
            read_quantity("3100/", reading).unwrap_err().accepted,
            QUANTITY
        );
    }

    #[test]
    fn angles() {
        let read = |text, decimal_comma| {
            let unit = Unit::Mm;
            read_ends(
                text,
                Reading {
                    unit,
                    decimal_comma,
                    ..Reading::default()
                },
            )
            .ok()
            .map(|ends| ends.to_string())
        };
        for (text, ends) in [
            ("45", "45/45"),
            ("45/90", "45/90"),
            ("90 / 22.5", "90/22.5"),
            ("67.25\u{b0}/10\u{b0}", "67.25/10"),
        ] {
            assert_eq!(read(text, false).as_deref(), Some(ends), "{text}");
        }
        assert_eq!(read("22,5", true).as_deref(), Some("22.5/22.5"));
        for wrong in [
            "", "/", "45/", "/45", "9", "91", "0", "-45", "45/45/45", "45.125", "4 5", "45deg",
            "045", "22,5", "45.", ".5",
        ] {
            assert_eq!(read(wrong, false), None, "{wrong}");
        }
        assert_eq!(read("22.5", true), None);
    }

    #[test]
    fn every_form_of_joints_is_read_and_printed_back() {
        for (text, unit, printed) in [
            ("anywhere", Unit::Mm, "anywhere"),
            (" Anywhere ", Unit::Mm, "anywhere"),
            ("every 600", Unit::Mm, "every 600mm"),
            ("EVERY  600 FROM 50", Unit::Mm, "every 600mm from 50mm"),
            ("every 600 from 0", Unit::Mm, "every 600mm"),
            (
                "every 2' from 1' 3 1/2\"",
                Unit::Ft,
                "every 2' from 1' 3 1/2\"",
            ),
            ("at 600 1200 1850", Unit::Mm, "at 600mm 1200mm 1850mm"),
            ("at 2'6-1/4\" 5'", Unit::Ft, "at 2'-6-1/4\" 5'"),
        ] {
            let reading = in_unit(unit);
            let joints = read_joints(text, reading).unwrap();
            assert_eq!(joints.text(unit), printed, "{text}");
            assert_eq!(read_joints(printed, reading), Ok(joints), "{printed}");
        }
        for wrong in [
            "",
            "every",
            "every 0",
            "every 600 from",
            "every 600 by 50",
            "from 50",
            "at",
            "at 0",
            "at 600, 1200",
            "at here",
            "anywhere 600",
            "600",
            "every 600 from -50",
            "somewhere",
        ] {
            assert!(read_joints(wrong, in_unit(Unit::Mm)).is_err(), "{wrong}");
        }
    }

    #[test]
    fn rules_of_courses() {
        let rule = |joints, courses| Ok(CourseRule { joints, courses });
        assert_eq!(read_course_rule("1/2"), rule(1, 2));
        assert_eq!(read_course_rule("3 / 12"), rule(3, 12));
        for wrong in [
            "",
            "1",
            "1/",
            "/2",
            "1/2/3",
            "a/b",
            "-1/2",
            "1.5/2",
            "1/99999999999",
        ] {
            assert!(read_course_rule(wrong).is_err(), "{wrong}");
        }
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
                let reading = Reading { unit, decimal_comma: comma, thousands: !comma };
                let _ = read_quantity(&text, reading);
                let _ = (read_ends(&text, reading), read_end_gap(&text, reading));
                let _ = (read_joints(&text, reading), read_course_rule(&text));
            }
        }
    }
}
