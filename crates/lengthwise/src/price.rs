//! Exact money: a decimal number, never a float.

use std::fmt;

use rust_decimal::Decimal;
use thiserror::Error;

use crate::length::{Reading, may_mark_thousands};

/// Most decimals a price may have; with metres to nine decimals the product still fits a [`Decimal`].
const MOST_DECIMALS: u32 = 6;
/// Prices at or above this are refused: beyond it sums of many bars would not stay exact.
const CEILING: i64 = 1_000_000_000;

/// An amount of money of zero or more, exact. The currency is the user's own business.
///
/// ```
/// use lengthwise::Price;
/// let price = Price::parse("5.9", false)?;
/// assert_eq!(price.to_string(), "5.90");
/// # Ok::<(), lengthwise::PriceError>(())
/// ```
///
/// With the feature `serde` it is a text with a decimal point, here `"5.90"`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Price(Decimal);

/// Why a text is not a price.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum PriceError {
    /// Nothing but blanks.
    #[error("is empty")]
    Empty,
    /// Not a plain decimal number.
    #[error("is not a price")]
    NotAPrice,
    /// Below zero.
    #[error("is negative")]
    Negative,
    /// A thousand million or more, or more than six decimals.
    #[error("has too many digits")]
    TooManyDigits,
    /// The other decimal mark is used in this file, or a thousands mark was meant.
    #[error("has a decimal mark that this file does not use, or a thousands mark")]
    DecimalMark,
    /// `1.200` or `1,200` where thousands may be marked: 1200 or 1.20 cannot be told apart.
    #[error("could be a thousands mark or a decimal")]
    ThousandsOrDecimal,
}

impl PriceError {
    /// What would be accepted in place of the text, as a phrase.
    pub const ACCEPTED: &'static str =
        "a price of 0 or more such as 5.90, below 1000000000 and with at most 6 decimals";
}

impl Price {
    /// No money.
    pub const ZERO: Price = Price(Decimal::ZERO);

    /// A price from an exact decimal; `None` below zero.
    ///
    /// ```
    /// use lengthwise::Price;
    /// use lengthwise::rust_decimal::Decimal;
    /// let price = Price::from_decimal(Decimal::new(590, 2)).ok_or("below zero")?;
    /// assert_eq!(price.to_string(), "5.90");
    /// assert_eq!(price.checked_mul(3).map(Price::decimal), Some(Decimal::new(1770, 2)));
    /// assert_eq!(Price::from_decimal(Decimal::NEGATIVE_ONE), None);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn from_decimal(value: Decimal) -> Option<Price> {
        (value >= Decimal::ZERO).then(|| Price(value.normalize()))
    }

    /// The exact decimal.
    pub const fn decimal(self) -> Decimal {
        self.0
    }

    /// Whether it is in the range that [`Price::parse`] accepts, in which sums stay exact.
    pub(crate) fn is_exact_in_sums(self) -> bool {
        self.0 < Decimal::from(CEILING) && self.0.normalize().scale() <= MOST_DECIMALS
    }

    /// The exact sum, or `None` where it has more digits than a [`Decimal`].
    pub fn checked_add(self, other: Price) -> Option<Price> {
        // Through whole numbers, since decimals are rounded before they overflow.
        let (one, other) = (self.0.normalize(), other.0.normalize());
        let scale = one.scale().max(other.scale());
        let units = |price: Decimal| {
            let power = 10_i128.checked_pow(scale - price.scale())?;
            price.mantissa().checked_mul(power)
        };
        exact(units(one)?.checked_add(units(other)?)?, scale)
    }

    /// The exact product with a count, or `None` where it has more digits than a [`Decimal`].
    pub fn checked_mul(self, count: u64) -> Option<Price> {
        let price = self.0.normalize();
        let (mut units, mut count, mut scale) = (price.mantissa(), count, price.scale());
        // Tens taken out beforehand, so that the product has no more digits than it needs.
        while scale > 0 {
            if units % 5 == 0 && count % 2 == 0 {
                (units, count) = (units / 5, count / 2);
            } else if units % 2 == 0 && count % 5 == 0 {
                (units, count) = (units / 2, count / 5);
            } else if count % 10 == 0 {
                count /= 10;
            } else {
                break;
            }
            scale -= 1;
        }
        exact(units.checked_mul(i128::from(count))?, scale)
    }

    /// Reads a price such as `5.90`, or `5,90` where the file's decimal mark is a comma.
    /// One currency sign in front (`£ $ €`) is skipped.
    ///
    /// # Errors
    /// [`PriceError`] says what is wrong with the text; nothing is rounded.
    ///
    /// ```
    /// use lengthwise::{Price, PriceError};
    /// assert_eq!(Price::parse("£5.90", false)?, Price::parse("5,9", true)?);
    /// assert_eq!(Price::parse("5,90", false), Err(PriceError::DecimalMark));
    /// # Ok::<(), PriceError>(())
    /// ```
    pub fn parse(text: &str, decimal_comma: bool) -> Result<Price, PriceError> {
        let reading = Reading {
            decimal_comma,
            ..Reading::default()
        };
        Price::read(text, reading)
    }

    /// Reads a price as [`Price::parse`] does, by what the file leaves open; a price has no unit.
    ///
    /// # Errors
    /// As [`Price::parse`].
    ///
    /// ```
    /// use lengthwise::{Price, PriceError, Reading};
    /// let reading = Reading { thousands: true, ..Reading::default() };
    /// assert_eq!(Price::read("1.20", reading)?, Price::parse("1.20", false)?);
    /// assert_eq!(Price::read("1.200", reading), Err(PriceError::ThousandsOrDecimal));
    /// # Ok::<(), PriceError>(())
    /// ```
    pub fn read(text: &str, reading: Reading) -> Result<Price, PriceError> {
        let decimal_comma = reading.decimal_comma;
        let text = text.trim();
        let text = text
            .strip_prefix(['£', '$', '€'])
            .unwrap_or(text)
            .trim_start();
        if text.is_empty() {
            return Err(PriceError::Empty);
        }
        if text.starts_with('-') {
            return Err(PriceError::Negative);
        }
        if !text
            .chars()
            .all(|c| c.is_ascii_digit() || c == '.' || c == ',')
        {
            return Err(PriceError::NotAPrice);
        }
        if reading.thousands && may_mark_thousands(text) {
            return Err(PriceError::ThousandsOrDecimal);
        }
        let (mark, other) = if decimal_comma {
            (',', '.')
        } else {
            ('.', ',')
        };
        let (whole, decimals) = text.split_once(mark).unwrap_or((text, ""));
        // In a file with decimal commas a point is read as decimal too, unless it could be thousands.
        let (whole, decimals) = match whole.split_once(other) {
            Some((whole, point))
                if decimal_comma && decimals.is_empty() && may_be_decimal(whole, point) =>
            {
                (whole, point)
            }
            Some(_) => return Err(PriceError::DecimalMark),
            None => (whole, decimals),
        };
        if decimals.contains(['.', ',']) {
            return Err(PriceError::DecimalMark);
        }
        if whole.is_empty() && decimals.is_empty() {
            return Err(PriceError::NotAPrice);
        }
        let value: Decimal = format!("0{whole}.{decimals}0")
            .parse()
            .map_err(|_| PriceError::TooManyDigits)?;
        let value = value.normalize();
        if value >= Decimal::from(CEILING)
            || decimals.trim_end_matches('0').len() > MOST_DECIMALS as usize
        {
            return Err(PriceError::TooManyDigits);
        }
        Ok(Price(value))
    }
}

/// Whether a point may be a decimal mark beside decimal commas: nothing before it is no thousand.
fn may_be_decimal(whole: &str, decimals: &str) -> bool {
    decimals.len() != 3 || whole.bytes().all(|digit| digit == b'0')
}

/// So many units of the last decimal; `None` where a [`Decimal`] has fewer digits.
fn exact(mut units: i128, mut scale: u32) -> Option<Price> {
    while scale > 0 && units % 10 == 0 {
        (units, scale) = (units / 10, scale - 1);
    }
    let exact = Decimal::try_from_i128_with_scale(units, scale);
    exact.ok().map(Price)
}

/// At least two decimals, more only where they are needed.
impl fmt::Display for Price {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let value = self.0.normalize();
        let places = value.scale().max(2) as usize;
        f.pad(&format!("{value:.places$}"))
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn plain_prices() {
        for (text, comma, printed) in [
            ("5.90", false, "5.90"),
            ("£5.9", false, "5.90"),
            (" 12 ", false, "12.00"),
            (".5", false, "0.50"),
            ("5,90", true, "5.90"),
            ("5.90", true, "5.90"),
            ("0.125", true, "0.125"),
            (".125", true, "0.125"),
            ("1,200", true, "1.20"),
            ("1.200", false, "1.20"),
            ("0.123456", false, "0.123456"),
        ] {
            assert_eq!(Price::parse(text, comma).unwrap().to_string(), printed);
        }
    }

    /// A decimal has 28 digits and sometimes one more; what needs more than that is not rounded.
    #[test]
    fn sums_and_products_are_exact_or_none() {
        let price =
            |text: &str| Price::from_decimal(Decimal::from_str_exact(text).unwrap()).unwrap();
        let fine = price("1.0000000000000000000000000001");
        assert_eq!(fine.checked_mul(9), None);
        assert_eq!(fine.checked_add(price("9")), None);
        assert_eq!(
            fine.checked_mul(7),
            Some(price("7.0000000000000000000000000007"))
        );
        assert_eq!(
            fine.checked_add(price("0.9999999999999999999999999999")),
            Some(price("2"))
        );
        assert_eq!(fine.checked_mul(0), Some(Price::ZERO));
        // A product of 38 digits before its noughts are taken off.
        let halves = Decimal::try_from_i128_with_scale(5_i128.pow(27), 28).unwrap();
        let product = Price::from_decimal(halves).unwrap().checked_mul(1 << 63);
        assert_eq!(product, Some(price("6871947673.6")));
        let most = Price::from_decimal(Decimal::MAX).unwrap();
        assert_eq!(most.checked_mul(2), None);
        assert_eq!(most.checked_add(price("1")), None);
        assert_eq!(most.checked_add(price("0.1")), None);
    }

    #[test]
    fn texts_that_are_no_price() {
        use PriceError::*;
        for (text, comma, error) in [
            ("", false, Empty),
            ("-1", false, Negative),
            ("NaN", false, NotAPrice),
            ("1e3", false, NotAPrice),
            (".", false, NotAPrice),
            ("5,90", false, DecimalMark),
            ("1,200.50", false, DecimalMark),
            ("1.200", true, DecimalMark),
            ("1.2.3", false, DecimalMark),
            ("1000000000", false, TooManyDigits),
            ("0.1234567", false, TooManyDigits),
            ("99999999999999999999999999999999", false, TooManyDigits),
        ] {
            assert_eq!(Price::parse(text, comma).unwrap_err(), error, "{text}");
        }
    }

    #[test]
    fn what_may_mark_thousands_is_refused_where_they_may_be_marked() {
        for decimal_comma in [false, true] {
            let reading = Reading {
                decimal_comma,
                thousands: true,
                ..Reading::default()
            };
            for text in ["1.200", "1,200", "$ 12.000", "\u{20ac}999,999"] {
                let error = Price::read(text, reading).unwrap_err();
                assert_eq!(error, PriceError::ThousandsOrDecimal, "{text}");
            }
            let mark = if decimal_comma { "," } else { "." };
            for (text, printed) in [
                ("1200", "1200.00"),
                ("1.20", "1.20"),
                ("1.2000", "1.20"),
                ("0.125", "0.125"),
                (".125", "0.125"),
                ("1234.125", "1234.125"),
            ] {
                let price = Price::read(&text.replace('.', mark), reading).unwrap();
                assert_eq!(price.to_string(), printed);
            }
        }
    }

    proptest! {
        #[test]
        fn sums_and_products_as_whole_numbers_have_them(
            (one, other, count) in (0..1_i64 << 53, 0..1_i64 << 53, 0..1_u64 << 32),
            (scale, others) in (0_u32..10, 0_u32..10),
        ) {
            let price = |units, scale| Price::from_decimal(Decimal::new(units, scale)).unwrap();
            let (a, b) = (price(one, scale), price(other, others));
            let most = scale.max(others);
            let units = |units: i64, scale: u32| i128::from(units) * 10_i128.pow(most - scale);
            let sum = units(one, scale) + units(other, others);
            let sum = Decimal::from_i128_with_scale(sum, most);
            prop_assert_eq!(a.checked_add(b).map(Price::decimal), Some(sum));
            let product = i128::from(one) * i128::from(count);
            let product = Decimal::from_i128_with_scale(product, scale);
            prop_assert_eq!(a.checked_mul(count).map(Price::decimal), Some(product));
        }

        #[test]
        fn print_then_read(whole in 0..CEILING, part in 0_i64..1_000_000, places in 0_u32..7) {
            let decimals = Decimal::new(part % 10_i64.pow(places), places);
            let value = Decimal::from(whole) + decimals;
            let price = Price::from_decimal(value).unwrap();
            prop_assert_eq!(Price::parse(&price.to_string(), false)?, price);
            let comma = price.to_string().replace('.', ",");
            prop_assert_eq!(Price::parse(&comma, true)?, price);
        }

        #[test]
        fn no_text_panics(text in "[0-9.,£$ -]{0,40}|\\PC{0,20}", comma: bool) {
            let _ = Price::parse(&text, comma);
            let reading = Reading { decimal_comma: comma, thousands: true, ..Reading::default() };
            let _ = Price::read(&text, reading);
        }
    }
}
