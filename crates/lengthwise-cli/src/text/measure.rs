//! What a rule can show of a length. Slanted slots leave nothing round; stop settings and files stay
//! exact, and figures that people only read need not have nine digits.

use lengthwise::{Length, Unit};

/// Tenths of a millimetre.
const METRIC_GRAIN: i64 = 100_000;
/// 1/64 in.
const INCH_GRAIN: i64 = 396_875;

/// Rounded to the nearest grain, and whether that is all of it.
pub fn nearest(length: Length, unit: Unit) -> (Length, bool) {
    rounded(length, unit, |rest, grain| 2 * rest >= grain)
}

/// Rounded down, and whether that is all of it.
pub fn down(length: Length, unit: Unit) -> (Length, bool) {
    rounded(length, unit, |_, _| false)
}

/// Rounded up.
pub fn up(length: Length, unit: Unit) -> Length {
    rounded(length, unit, |_, _| true).0
}

/// Whole grains; one more where `more` says so of what is beyond them.
fn rounded(length: Length, unit: Unit, more: impl Fn(i64, i64) -> bool) -> (Length, bool) {
    let grain = match unit {
        // Lengths that inches cannot show are printed in millimetres.
        Unit::In | Unit::Ft if length.nm() % METRIC_GRAIN == 0 => METRIC_GRAIN,
        Unit::In | Unit::Ft => INCH_GRAIN,
        Unit::Mm | Unit::Cm | Unit::M => METRIC_GRAIN,
    };
    let rest = length.nm() % grain;
    if rest == 0 {
        return (length, true);
    }
    let added = if more(rest, grain) { grain } else { 0 };
    let shown = (length.nm() - rest).checked_add(added);
    (shown.and_then(Length::from_nm).unwrap_or(length), false)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn nm(nm: i64) -> Length {
        Length::from_nm(nm).unwrap_or(Length::MAX)
    }

    #[test]
    fn tenths_of_a_millimetre() {
        let length = nm(195_249_794);
        assert_eq!(nearest(length, Unit::Mm), (nm(195_200_000), false));
        assert_eq!(nearest(nm(549_750_206), Unit::M), (nm(549_800_000), false));
        assert_eq!(down(nm(549_799_999), Unit::Cm), (nm(549_700_000), false));
        assert_eq!(up(length, Unit::Mm), nm(195_300_000));
        for (exact, unit) in [
            (22_300_000, Unit::Mm),
            (0, Unit::Mm),
            (396_875, Unit::In),
            (3_000_000, Unit::Ft),
        ] {
            assert_eq!(nearest(nm(exact), unit), (nm(exact), true));
            assert_eq!(up(nm(exact), unit), nm(exact));
        }
    }

    /// 1/64 in is 396 875 nm (25.4 mm / 64).
    #[test]
    fn sixty_fourths_of_an_inch() {
        assert_eq!(nearest(nm(1_000_001), Unit::In), (nm(1_190_625), false));
        assert_eq!(down(nm(1_000_001), Unit::In), (nm(793_750), false));
    }

    #[test]
    fn the_longest_length_has_no_way_up() {
        assert_eq!(up(Length::MAX, Unit::In), Length::MAX);
    }
}
