//! Exact lengths: whole nanometres, read from and printed in the units of the trade.
//!
//! A nanometre divides both 0.1 mm and 1/64 in (396 875 nm), so neither system is ever rounded.
//! The inch is 25.4 mm and the foot 0.3048 m, exactly (NIST SP 811, Appendix B; from memory).

use std::fmt;

#[cfg(feature = "serde")]
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// Nanometres in one millimetre.
const NM_PER_MM: i64 = 1_000_000;
/// Nanometres in one inch.
const NM_PER_INCH: i64 = 25_400_000;
/// Inches in one foot.
const INCHES_PER_FOOT: i64 = 12;
/// The finest fraction of an inch that is a whole number of nanometres.
const FINEST_INCH_DENOMINATOR: i64 = 64;
/// An inch has 127 x 200 000 nm; a length is a finite decimal of inches exactly when 127 divides it.
const NM_PER_MICROINCH_STEP: i64 = 127;
/// Longest text that is read as a length; longer cells are refused before any arithmetic.
const LONGEST_TEXT: usize = 64;

/// A length of zero or more, counted in whole nanometres.
///
/// ```
/// use lengthwise::{Length, Unit};
/// let opening = Length::parse("7' 3 1/4\"", Unit::Mm)?.length;
/// assert_eq!(opening.nm(), 2_216_150_000);
/// assert_eq!(opening.text(Unit::Mm), "2216.15mm");
/// # Ok::<(), lengthwise::LengthError>(())
/// ```
///
/// With the feature `serde` it is a text in millimetres, here `"2216.15mm"`; every text that states a unit
/// can be read.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Length(i64);

/// The unit in which a length was written, and in which it is printed back.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
pub enum Unit {
    /// Millimetres.
    #[default]
    Mm,
    /// Centimetres.
    Cm,
    /// Metres.
    M,
    /// Inches, with fractions down to 1/64.
    In,
    /// Feet and inches.
    Ft,
}

/// A length together with the unit it was written in.
///
/// ```
/// use lengthwise::{Length, Unit};
/// let door = Length::parse("6' 6\"", Unit::Mm)?;
/// assert_eq!((door.unit, door.to_string().as_str()), (Unit::Ft, "6' 6\""));
/// # Ok::<(), lengthwise::LengthError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct Measure {
    /// The length itself.
    pub length: Length,
    /// The unit in the text; for feet and inches together, [`Unit::Ft`].
    pub unit: Unit,
}

/// Why a text is not a length.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum LengthError {
    /// Nothing but blanks.
    #[error("is empty")]
    Empty,
    /// Not written as a number with a known unit.
    #[error("is not a length")]
    NotALength,
    /// A minus sign in front.
    #[error("is negative")]
    Negative,
    /// The unit is none of mm, cm, m, in, ft.
    #[error("has the unknown unit \"{0}\"")]
    UnknownUnit(String),
    /// A fraction over zero.
    #[error("has a fraction over zero")]
    ZeroDenominator,
    /// A fraction on a metric number.
    #[error("has a fraction, which goes with inches or feet only")]
    FractionNotImperial,
    /// Not a whole number of nanometres.
    #[error("is finer than one nanometre")]
    TooFine,
    /// Above [`Length::MAX`].
    #[error("is longer than 100 000 km")]
    TooLong,
    /// `1.200` where the comma is the decimal mark: 1200 or 1.2 cannot be told apart.
    #[error("could be a thousands mark or a decimal; decimals take a comma in this file")]
    AmbiguousPoint,
    /// `1.200` or `1,200` where thousands may be marked: 1200 or 1.2 cannot be told apart.
    #[error("could be a thousands mark or a decimal")]
    ThousandsOrDecimal,
    /// `12,5` where the point is the decimal mark.
    #[error("has a comma; decimals take a point in this file")]
    Comma,
}

impl LengthError {
    /// What would be accepted in place of the text, as a phrase.
    pub const ACCEPTED: &'static str =
        "a length such as 2210, 2210mm, 221cm, 2.21m, 87 1/4\", 7' 3 1/4\" or 7ft 3-1/4in";
}

/// How to read a number that leaves things open.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct Reading {
    /// The unit of a bare number.
    pub unit: Unit,
    /// Whether a comma is the decimal mark, as in files separated by semicolons.
    pub decimal_comma: bool,
    /// Whether thousands may be marked, so that `1.200` and `1,200` without a unit are refused, as in files
    /// whose separator leaves both open. Of metres they are not: nobody writes a kilometre so.
    #[cfg_attr(feature = "serde", serde(default))]
    pub thousands: bool,
}

impl Length {
    /// No length at all.
    pub const ZERO: Length = Length(0);
    /// The longest length: 100 000 km, which leaves room for the sum of a very large job.
    pub const MAX: Length = Length(100_000_000_000_000_000);

    /// A length of `nm` nanometres; `None` below zero or above [`Length::MAX`].
    pub const fn from_nm(nm: i64) -> Option<Length> {
        if nm >= 0 && nm <= Length::MAX.0 {
            Some(Length(nm))
        } else {
            None
        }
    }

    /// A length of whole millimetres; every `u32` is below [`Length::MAX`].
    pub const fn from_mm(mm: u32) -> Length {
        Length(mm as i64 * NM_PER_MM) // widening: u32 to i64 loses nothing
    }

    /// The length in nanometres, from 0 to [`Length::MAX`].
    pub const fn nm(self) -> i64 {
        self.0
    }

    /// Whether nothing is left.
    pub const fn is_zero(self) -> bool {
        self.0 == 0
    }

    /// Sum, or `None` above [`Length::MAX`].
    ///
    /// ```
    /// use lengthwise::Length;
    /// let (board, blade) = (Length::from_mm(2210), Length::from_mm(3));
    /// assert_eq!(board.checked_add(blade), Some(Length::from_mm(2213)));
    /// assert_eq!(blade.checked_sub(board), None);
    /// assert_eq!(Length::MAX.checked_mul(2), None);
    /// ```
    pub fn checked_add(self, other: Length) -> Option<Length> {
        self.0.checked_add(other.0).and_then(Length::from_nm)
    }

    /// Difference, or `None` below zero.
    pub fn checked_sub(self, other: Length) -> Option<Length> {
        self.0.checked_sub(other.0).and_then(Length::from_nm)
    }

    /// Product with a count, or `None` above [`Length::MAX`].
    pub fn checked_mul(self, count: u64) -> Option<Length> {
        i64::try_from(count)
            .ok()
            .and_then(|count| self.0.checked_mul(count))
            .and_then(Length::from_nm)
    }

    /// Reads a length written in any accepted form; a bare number takes `unit`.
    ///
    /// # Errors
    /// [`LengthError`] says what is wrong with the text; nothing is rounded or guessed.
    ///
    /// ```
    /// use lengthwise::{Length, LengthError, Unit};
    /// assert_eq!(Length::parse("221", Unit::Cm)?.length, Length::from_mm(2210));
    /// // A unit in the text goes before.
    /// assert_eq!(Length::parse("2.21m", Unit::Cm)?.length, Length::from_mm(2210));
    /// assert_eq!(Length::parse("3 1/3\"", Unit::Mm), Err(LengthError::TooFine));
    /// # Ok::<(), LengthError>(())
    /// ```
    pub fn parse(text: &str, unit: Unit) -> Result<Measure, LengthError> {
        Length::read(
            text,
            Reading {
                unit,
                ..Reading::default()
            },
        )
    }

    /// Reads a length as [`Length::parse`] does, with the decimal mark of the file.
    ///
    /// # Errors
    /// As [`Length::parse`].
    ///
    /// ```
    /// use lengthwise::{Length, LengthError, Reading, Unit};
    /// let reading = Reading { unit: Unit::M, decimal_comma: true, ..Reading::default() };
    /// assert_eq!(Length::read("2,4", reading)?.length, Length::from_mm(2400));
    /// assert_eq!(Length::read("1.200", reading), Err(LengthError::AmbiguousPoint));
    /// let reading = Reading { thousands: true, ..Reading::default() };
    /// assert_eq!(Length::read("1.2", reading)?.length.nm(), 1_200_000);
    /// assert_eq!(Length::read("1.200", reading), Err(LengthError::ThousandsOrDecimal));
    /// # Ok::<(), LengthError>(())
    /// ```
    pub fn read(text: &str, reading: Reading) -> Result<Measure, LengthError> {
        let text = tidy(text)?;
        if text.starts_with('-') {
            return Err(LengthError::Negative);
        }
        if reading.thousands && reading.unit != Unit::M && may_mark_thousands(&text) {
            return Err(LengthError::ThousandsOrDecimal);
        }
        let mut scanner = Scanner {
            rest: &text,
            decimal_comma: reading.decimal_comma,
        };
        let first = scanner.amount()?;
        let first_unit = scanner.unit()?;
        let unit = first_unit.unwrap_or(reading.unit);
        let mut total = first.in_nm(unit)?;
        scanner.skip_gap();
        if first_unit == Some(Unit::Ft) && !scanner.rest.is_empty() {
            let inches = scanner.amount()?;
            if scanner.unit()? != Some(Unit::In) {
                return Err(LengthError::NotALength);
            }
            total = total
                .checked_add(inches.in_nm(Unit::In)?)
                .ok_or(LengthError::TooLong)?;
        }
        if !scanner.rest.trim().is_empty() || text.ends_with('-') {
            return Err(LengthError::NotALength);
        }
        Ok(Measure {
            length: total,
            unit,
        })
    }

    /// The length with its unit, exact, readable back by [`Length::parse`].
    ///
    /// Where the unit cannot show it exactly (3 mm in inches), millimetres are printed instead.
    ///
    /// ```
    /// use lengthwise::{Length, Unit};
    /// let board = Length::from_mm(2438);
    /// assert_eq!(board.text(Unit::M), "2.438m");
    /// assert_eq!(Length::parse("8'", Unit::Mm)?.length.text(Unit::In), "96\"");
    /// assert_eq!(Length::from_mm(3).text(Unit::In), "3mm");
    /// # Ok::<(), lengthwise::LengthError>(())
    /// ```
    pub fn text(self, unit: Unit) -> String {
        match unit {
            Unit::Mm => format!("{}mm", decimal(self.0, NM_PER_MM)),
            Unit::Cm => format!("{}cm", decimal(self.0, NM_PER_MM * 10)),
            Unit::M => format!("{}m", decimal(self.0, NM_PER_MM * 1000)),
            Unit::In => {
                inches(self.0).map_or_else(|| self.text(Unit::Mm), |inches| format!("{inches}\""))
            }
            Unit::Ft => self
                .feet_and_inches()
                .unwrap_or_else(|| self.text(Unit::Mm)),
        }
    }

    /// The number alone where the unit is a plain number under a heading (mm, cm, m);
    /// inches and feet keep their marks.
    pub fn number(self, unit: Unit) -> String {
        match unit {
            Unit::Mm => decimal(self.0, NM_PER_MM),
            Unit::Cm => decimal(self.0, NM_PER_MM * 10),
            Unit::M => decimal(self.0, NM_PER_MM * 1000),
            Unit::In | Unit::Ft => self.text(unit),
        }
    }

    fn feet_and_inches(self) -> Option<String> {
        let foot = NM_PER_INCH * INCHES_PER_FOOT;
        let (feet, rest) = (self.0 / foot, self.0 % foot);
        let inches = inches(rest)?;
        Some(match (feet, rest) {
            (0, _) => format!("{inches}\""),
            (_, 0) => format!("{feet}'"),
            _ => format!("{feet}' {inches}\""),
        })
    }
}

impl fmt::Debug for Length {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text(Unit::Mm))
    }
}

impl Unit {
    /// The unit's short name: `mm`, `cm`, `m`, `in`, `ft`.
    pub const fn name(self) -> &'static str {
        match self {
            Unit::Mm => "mm",
            Unit::Cm => "cm",
            Unit::M => "m",
            Unit::In => "in",
            Unit::Ft => "ft",
        }
    }

    /// The unit with this short name, in any case.
    ///
    /// ```
    /// use lengthwise::Unit;
    /// assert_eq!(Unit::from_name("CM"), Some(Unit::Cm));
    /// assert_eq!(Unit::from_name("ell"), None);
    /// ```
    pub fn from_name(name: &str) -> Option<Unit> {
        [Unit::Mm, Unit::Cm, Unit::M, Unit::In, Unit::Ft]
            .into_iter()
            .find(|unit| unit.name().eq_ignore_ascii_case(name.trim()))
    }

    const fn nm(self) -> i64 {
        match self {
            Unit::Mm => NM_PER_MM,
            Unit::Cm => NM_PER_MM * 10,
            Unit::M => NM_PER_MM * 1000,
            Unit::In => NM_PER_INCH,
            Unit::Ft => NM_PER_INCH * INCHES_PER_FOOT,
        }
    }

    const fn is_imperial(self) -> bool {
        matches!(self, Unit::In | Unit::Ft)
    }
}

/// The length in its own unit, exact, as [`Length::text`].
impl fmt::Display for Measure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.length.text(self.unit))
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// An exact non-negative amount of some unit: `numerator / denominator`.
struct Amount {
    numerator: i128,
    denominator: i128,
    has_fraction: bool,
}

impl Amount {
    fn in_nm(&self, unit: Unit) -> Result<Length, LengthError> {
        if self.has_fraction && !unit.is_imperial() {
            return Err(LengthError::FractionNotImperial);
        }
        let scaled = self
            .numerator
            .checked_mul(i128::from(unit.nm()))
            .ok_or(LengthError::TooLong)?;
        if scaled % self.denominator != 0 {
            return Err(LengthError::TooFine);
        }
        i64::try_from(scaled / self.denominator)
            .ok()
            .and_then(Length::from_nm)
            .ok_or(LengthError::TooLong)
    }
}

/// Lower case, typographic marks made plain, blanks folded.
fn tidy(text: &str) -> Result<String, LengthError> {
    let text = text.trim();
    if text.is_empty() {
        return Err(LengthError::Empty);
    }
    if text.len() > LONGEST_TEXT {
        return Err(LengthError::NotALength);
    }
    let mut plain = String::with_capacity(text.len());
    for c in text.chars() {
        let c = match c {
            '\u{2032}' | '\u{2019}' => '\'',
            '\u{2033}' | '\u{201d}' => '"',
            '\u{a0}' | '\t' => ' ',
            '\u{2212}' | '\u{2013}' => '-',
            other => other.to_ascii_lowercase(),
        };
        if !(c == ' ' && plain.ends_with(' ')) {
            plain.push(c);
        }
    }
    Ok(plain)
}

/// Whether a text is a number with one point or comma that may mark thousands: one to three digits before it, not
/// of nothing, and exactly three behind it.
pub(crate) fn may_mark_thousands(text: &str) -> bool {
    let Some((whole, rest)) = text.split_once(['.', ',']) else {
        return false;
    };
    let is_number = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit());
    (1..=3).contains(&whole.len())
        && rest.len() == 3
        && is_number(whole)
        && is_number(rest)
        && whole.bytes().any(|digit| digit != b'0')
}

/// A cursor over a tidied text.
struct Scanner<'a> {
    rest: &'a str,
    decimal_comma: bool,
}

impl<'a> Scanner<'a> {
    fn skip_blanks(&mut self) {
        self.rest = self.rest.trim_start_matches(' ');
    }

    /// Blanks, a single dash, or both: what stands between feet and inches, or before a fraction.
    fn skip_gap(&mut self) {
        self.skip_blanks();
        self.rest = self.rest.strip_prefix('-').unwrap_or(self.rest);
        self.skip_blanks();
    }

    fn take(&mut self, keep: impl Fn(char) -> bool) -> &'a str {
        let end = self.rest.find(|c| !keep(c)).unwrap_or(self.rest.len());
        let (head, tail) = self.rest.split_at(end);
        self.rest = tail;
        head
    }

    fn digits(&mut self) -> Result<i128, LengthError> {
        let digits = self.take(|c| c.is_ascii_digit());
        if digits.is_empty() {
            return Err(LengthError::NotALength);
        }
        digits.parse().map_err(|_| LengthError::TooLong)
    }

    /// `12`, `12.5`, `7/8`, `3 1/4` or `3-1/4`.
    fn amount(&mut self) -> Result<Amount, LengthError> {
        let whole = if self.rest.starts_with(['.', ',']) {
            0
        } else {
            self.digits()?
        };
        match self.rest.chars().next() {
            Some('/') => self.fraction(0, whole),
            Some(mark @ ('.' | ',')) => self.decimals(whole, mark),
            Some(' ' | '-') => {
                let before = self.rest;
                self.skip_gap();
                if self.rest.starts_with(|c: char| c.is_ascii_digit()) {
                    let numerator = self.digits()?;
                    return self.fraction(whole, numerator);
                }
                self.rest = before;
                Ok(Amount {
                    numerator: whole,
                    denominator: 1,
                    has_fraction: false,
                })
            }
            _ => Ok(Amount {
                numerator: whole,
                denominator: 1,
                has_fraction: false,
            }),
        }
    }

    fn decimals(&mut self, whole: i128, mark: char) -> Result<Amount, LengthError> {
        if mark == ',' && !self.decimal_comma {
            return Err(LengthError::Comma);
        }
        self.rest = self.rest.strip_prefix(mark).unwrap_or(self.rest);
        let text = self.take(|c| c.is_ascii_digit());
        if text.is_empty() || self.rest.starts_with(['.', ',']) {
            return Err(LengthError::NotALength);
        }
        // Nothing before the point is no thousand.
        if mark == '.' && self.decimal_comma && text.len() == 3 && whole != 0 {
            return Err(LengthError::AmbiguousPoint);
        }
        let text = text.trim_end_matches('0');
        // Nine decimals of a metre are one nanometre, ten of a foot still may be whole.
        let places = u32::try_from(text.len()).map_err(|_| LengthError::TooFine)?;
        if places > 12 {
            return Err(LengthError::TooFine);
        }
        let denominator = 10_i128.pow(places);
        let decimals: i128 = if text.is_empty() {
            0
        } else {
            text.parse().map_err(|_| LengthError::TooFine)?
        };
        let numerator = whole
            .checked_mul(denominator)
            .and_then(|whole| whole.checked_add(decimals))
            .ok_or(LengthError::TooLong)?;
        Ok(Amount {
            numerator,
            denominator,
            has_fraction: false,
        })
    }

    /// The cursor stands before the slash; `numerator` has been read.
    fn fraction(&mut self, whole: i128, numerator: i128) -> Result<Amount, LengthError> {
        self.rest = self.rest.strip_prefix('/').ok_or(LengthError::NotALength)?;
        let denominator = self.digits()?;
        if denominator == 0 {
            return Err(LengthError::ZeroDenominator);
        }
        let numerator = whole
            .checked_mul(denominator)
            .and_then(|whole| whole.checked_add(numerator))
            .ok_or(LengthError::TooLong)?;
        Ok(Amount {
            numerator,
            denominator,
            has_fraction: true,
        })
    }

    fn unit(&mut self) -> Result<Option<Unit>, LengthError> {
        self.skip_blanks();
        for (mark, unit) in [('\'', Unit::Ft), ('"', Unit::In)] {
            if let Some(rest) = self.rest.strip_prefix(mark) {
                self.rest = rest;
                return Ok(Some(unit));
            }
        }
        let name = self.take(|c| c.is_alphabetic());
        match name {
            "" => Ok(None),
            _ => Unit::from_name(name)
                .map(Some)
                .ok_or_else(|| LengthError::UnknownUnit(name.to_owned())),
        }
    }
}

/// `nm / per_unit` as a decimal without trailing zeros; `per_unit` is a power of ten.
fn decimal(nm: i64, per_unit: i64) -> String {
    let (whole, rest) = (nm / per_unit, nm % per_unit);
    if rest == 0 {
        return whole.to_string();
    }
    let places = per_unit.ilog10() as usize; // at most 9
    let decimals = format!("{rest:0places$}");
    format!("{whole}.{}", decimals.trim_end_matches('0'))
}

/// Inches as `3 1/4`, `7/8`, `12` or `0.3`; `None` where no finite form exists.
fn inches(nm: i64) -> Option<String> {
    let finest = NM_PER_INCH / FINEST_INCH_DENOMINATOR;
    if nm % finest == 0 {
        let sixty_fourths = nm / finest;
        let whole = sixty_fourths / FINEST_INCH_DENOMINATOR;
        let mut numerator = sixty_fourths % FINEST_INCH_DENOMINATOR;
        let mut denominator = FINEST_INCH_DENOMINATOR;
        while numerator != 0 && numerator % 2 == 0 {
            numerator /= 2;
            denominator /= 2;
        }
        return Some(match (whole, numerator) {
            (whole, 0) => whole.to_string(),
            (0, _) => format!("{numerator}/{denominator}"),
            _ => format!("{whole} {numerator}/{denominator}"),
        });
    }
    (nm % NM_PER_MICROINCH_STEP == 0).then(|| {
        // 127 nm are exactly five millionths of an inch.
        decimal(nm / NM_PER_MICROINCH_STEP * 5, 1_000_000)
    })
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn nm(text: &str) -> i64 {
        Length::parse(text, Unit::Mm).unwrap().length.nm()
    }

    #[test]
    fn every_accepted_form_of_the_specification() {
        for (text, expected) in [
            ("2210", 2_210_000_000),
            ("2210mm", 2_210_000_000),
            ("2.21m", 2_210_000_000),
            ("221cm", 2_210_000_000),
            ("7' 3 1/4\"", 2_216_150_000),
            ("7ft 3-1/4in", 2_216_150_000),
            ("87 1/4\"", 2_216_150_000),
            ("7/8\"", 22_225_000),
            ("10'-6\"", 3_200_400_000),
            ("3-7/16\"", 87_312_500),
            ("10' - 6\"", 3_200_400_000),
            ("10'\u{2013}6\"", 3_200_400_000),
            (" 2210 MM ", 2_210_000_000),
            ("7\u{2032} 3\u{2033}", 2_209_800_000),
            ("0.1", 100_000),
            ("1/64\"", 396_875),
            (".5\"", 12_700_000),
            ("7'", 2_133_600_000),
        ] {
            assert_eq!(nm(text), expected, "{text}");
        }
    }

    #[test]
    fn inches_in_sixty_fourths_and_in_decimals() {
        for (nm, text) in [
            (9_525_000, "3/8\""),
            (82_550_000, "3 1/4\""),
            (304_800_000, "12\""),
            (7_620_000, "0.3\""),
        ] {
            let length = Length::from_nm(nm).unwrap();
            assert_eq!(length.text(Unit::In), text);
        }
    }

    #[test]
    fn sums_stay_in_range() {
        let mm = Length::from_mm;
        assert_eq!(mm(3).nm(), 3_000_000);
        assert!(Length::ZERO.is_zero() && !Length::from_nm(1).unwrap().is_zero());
        assert_eq!(Length::from_nm(-1), None);
        assert_eq!(Length::from_nm(Length::MAX.nm()), Some(Length::MAX));
        assert_eq!(Length::from_nm(Length::MAX.nm() + 1), None);
        assert_eq!(mm(7).checked_add(mm(5)), Some(mm(12)));
        assert_eq!(Length::MAX.checked_add(mm(1)), None);
        assert_eq!(mm(7).checked_sub(mm(5)), Some(mm(2)));
        assert_eq!(mm(5).checked_sub(mm(5)), Some(Length::ZERO));
        assert_eq!(mm(5).checked_sub(mm(7)), None);
        assert_eq!(mm(7).checked_mul(5), Some(mm(35)));
        assert_eq!(mm(7).checked_mul(u64::MAX), None);
        assert_eq!(Length::MAX.checked_mul(2), None);
    }

    #[test]
    fn printed_in_every_unit() {
        let length = Length::parse("2.2105m", Unit::M).unwrap();
        assert_eq!(length.to_string(), "2.2105m");
        assert_eq!(format!("{:?}", length.length), "2210.5mm");
        for (unit, text, number) in [
            (Unit::Mm, "2210.5mm", "2210.5"),
            (Unit::Cm, "221.05cm", "221.05"),
            (Unit::M, "2.2105m", "2.2105"),
        ] {
            assert_eq!(length.length.text(unit), text);
            assert_eq!(length.length.number(unit), number);
        }
        for (text, printed) in [
            ("7'", "7'"),
            ("7ft 3-1/4in", "7' 3 1/4\""),
            ("11 1/2\"", "11 1/2\""),
        ] {
            let length = Length::parse(text, Unit::Ft).unwrap().length;
            assert_eq!(length.text(Unit::Ft), printed);
            assert_eq!(length.number(Unit::Ft), printed);
        }
    }

    /// A text may be as long as the limit, and no longer.
    #[test]
    fn the_longest_text() {
        let text = format!("1.{}", "0".repeat(LONGEST_TEXT - 2));
        assert_eq!(nm(&text), 1_000_000);
        let longer = Length::parse(&format!("{text}0"), Unit::Mm);
        assert_eq!(longer, Err(LengthError::NotALength));
        let fine = format!("1.{}", "1".repeat(LONGEST_TEXT - 2));
        let fine = Length::parse(&fine, Unit::Mm);
        assert_eq!(fine, Err(LengthError::TooFine));
    }

    #[test]
    fn texts_that_are_no_length_say_why() {
        use LengthError::*;
        let long = "12345678901234567890";
        for (text, expected) in [
            ("", Empty),
            ("   ", Empty),
            ("abc", NotALength),
            ("NaN", NotALength),
            ("-5", Negative),
            ("\u{2212}5", Negative),
            ("7'--3\"", NotALength),
            ("3--1/4\"", NotALength),
            ("1e309", UnknownUnit("e".into())),
            (long, TooLong),
            ("12,5", Comma),
            ("5 furlong", UnknownUnit("furlong".into())),
            ("3 1/0\"", ZeroDenominator),
            ("3 1/2", FractionNotImperial),
            ("1/3\"", TooFine),
            ("0.0000001", TooFine),
            ("7' 3", NotALength),
            ("7' 3m", NotALength),
            ("1.2.3", NotALength),
            ("12 5", NotALength),
            ("12-", NotALength),
            ("+5", NotALength),
        ] {
            let error = Length::parse(text, Unit::Mm).unwrap_err();
            assert_eq!(error, expected, "{text}");
        }
    }

    #[test]
    fn decimal_commas_are_read_where_the_file_has_them() {
        let reading = Reading {
            decimal_comma: true,
            ..Reading::default()
        };
        let read = |text| Length::read(text, reading).map(|m| m.length.nm());
        assert_eq!(read("12,5"), Ok(12_500_000));
        assert_eq!(read("2.21m"), Ok(2_210_000_000));
        assert_eq!(read("1.200"), Err(LengthError::AmbiguousPoint));
        assert_eq!(read("1.200,5"), Err(LengthError::NotALength));
        assert_eq!(read("0.125"), Ok(125_000));
        assert_eq!(read("1,200"), Ok(1_200_000));
    }

    #[test]
    fn what_may_mark_thousands_is_refused_where_they_may_be_marked() {
        for decimal_comma in [false, true] {
            let in_unit = |unit| Reading {
                unit,
                decimal_comma,
                thousands: true,
            };
            let read = |text: &str, unit| Length::read(text, in_unit(unit)).map(|m| m.length.nm());
            let other = ["1.200", "1,200", "12.000", "999,999", " 1.200 ", "010.125"];
            for text in other {
                for unit in [Unit::Mm, Unit::Cm, Unit::In, Unit::Ft] {
                    let error = Err(LengthError::ThousandsOrDecimal);
                    assert_eq!(read(text, unit), error, "{text} {unit}");
                }
            }
            let mark = if decimal_comma { ',' } else { '.' };
            for (text, unit, nm) in [
                ("0.125", Unit::Mm, 125_000),
                ("000.125", Unit::Mm, 125_000),
                (".125", Unit::Mm, 125_000),
                ("1.20", Unit::Mm, 1_200_000),
                ("1.2000", Unit::Mm, 1_200_000),
                ("1234.125", Unit::Mm, 1_234_125_000),
                ("1.200m", Unit::Mm, 1_200_000_000),
                ("1.200 mm", Unit::Mm, 1_200_000),
                ("1.125\"", Unit::Mm, 28_575_000),
                ("6' 1.125\"", Unit::Mm, 1_857_375_000),
                ("2.400", Unit::M, 2_400_000_000),
            ] {
                let text = text.replace('.', &mark.to_string());
                assert_eq!(read(&text, unit), Ok(nm), "{text}");
            }
            for (text, nm) in [("1200", 1_200_000_000), ("3 1/4\"", 82_550_000)] {
                assert_eq!(read(text, Unit::Mm), Ok(nm), "{text}");
            }
            assert_eq!(read("1.200.300", Unit::Mm), Err(LengthError::NotALength));
        }
    }

    #[test]
    fn printed_in_lowest_terms() {
        assert_eq!(Length(2_216_150_000).text(Unit::Ft), "7' 3 1/4\"");
        assert_eq!(Length(2_216_150_000).text(Unit::In), "87 1/4\"");
        assert_eq!(Length(7_620_000).text(Unit::In), "0.3\"");
        assert_eq!(Length(3_000_000).text(Unit::In), "3mm");
        assert_eq!(Length::ZERO.text(Unit::Ft), "0\"");
    }

    fn units() -> impl Strategy<Value = Unit> {
        prop::sample::select(vec![Unit::Mm, Unit::Cm, Unit::M, Unit::In, Unit::Ft])
    }

    proptest! {
        /// Whatever is printed is read back as the same length, whatever the unit.
        #[test]
        fn print_then_read_any_length(nm in 0..=Length::MAX.0, unit in units()) {
            let length = Length(nm);
            prop_assert_eq!(Length::parse(&length.text(unit), Unit::Mm)?.length, length);
        }

        /// Imperial sizes come back in the unit they were written in.
        #[test]
        fn print_then_read_sixty_fourths(n in 0_i64..10_000_000, feet: bool) {
            let length = Length(n * 396_875);
            let unit = if feet { Unit::Ft } else { Unit::In };
            let back = Length::parse(&length.text(unit), Unit::Mm)?;
            prop_assert_eq!(back.length, length);
            prop_assert!(back.unit.is_imperial());
        }

        /// A form made from its parts is read as those parts say.
        #[test]
        fn feet_inches_and_fractions(
            feet in 0_i64..1000, inches in 0_i64..12, power in 0_u32..7, part in 0_i64..64,
            dash: bool, words: bool,
        ) {
            let denominator = 2_i64.pow(power);
            let numerator = part % denominator;
            let gap = if dash { "-" } else { " " };
            let (foot, inch) = if words { ("ft", "in") } else { ("'", "\"") };
            let text = format!("{feet}{foot} {inches}{gap}{numerator}/{denominator}{inch}");
            let expected = feet * 304_800_000 + inches * 25_400_000
                + numerator * (25_400_000 / denominator);
            prop_assert_eq!(Length::parse(&text, Unit::Mm)?.length.nm(), expected);
        }

        /// A bare number takes the unit of the file, and agrees with the unit spelled out.
        #[test]
        fn bare_numbers_take_the_unit(whole in 0_u32..100_000, tenths in 0_u32..10, unit in units()) {
            let bare = format!("{whole}.{tenths}");
            let spelled = format!("{bare}{unit}");
            let read = Length::parse(&bare, unit)?;
            prop_assert_eq!(read, Length::parse(&spelled, Unit::Mm)?);
            prop_assert_eq!(read.unit, unit);
        }

        /// No text whatever makes the reader panic.
        #[test]
        fn no_text_panics(text in "\\PC{0,40}", comma: bool) {
            let _ = Length::read(&text, Reading { unit: Unit::Ft, decimal_comma: comma, thousands: comma });
        }

        /// Texts made of the characters of lengths reach every branch; none panics.
        #[test]
        fn no_length_like_text_panics(text in "[0-9 ./,'\"ftinmc-]{0,24}", comma: bool) {
            let _ = Length::read(&text, Reading { unit: Unit::Mm, decimal_comma: comma, thousands: !comma });
        }
    }
}
