//! How much a piece grows and shrinks with heat.

use std::fmt;

use rust_decimal::Decimal;

use crate::length::Length;

/// Both quantities are counted in thousandths, up to a thousand.
const THOUSANDTHS: u32 = 3;
const MOST: u32 = 1_000_000;
/// A millionth per kelvin and a kelvin, both in thousandths, times nanometres.
const PARTS: i128 = 1_000_000_000_000;

/// A coefficient of linear expansion in millionths per kelvin, from 0 to 1000, exact to a thousandth.
///
/// With the feature `serde` it is a text, such as `"60"`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Expansion(u32);

/// How far the temperature of the pieces goes down and up, in kelvin: above 0, up to 1000, exact to
/// a thousandth.
///
/// With the feature `serde` it is a text, such as `"40"`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct TemperatureRange(u32);

impl Expansion {
    /// What would be accepted in place of a text that is none, as a phrase.
    pub const ACCEPTED: &'static str = "millionths per kelvin from 0 to 1000 with at most 3 decimals, \
                                        such as 60 for 0.06 mm per metre and kelvin";

    /// Millionths per kelvin; `None` out of range or finer than a thousandth.
    pub fn from_decimal(millionths: Decimal) -> Option<Expansion> {
        thousandths(millionths).map(Expansion)
    }

    /// How much a piece of this length moves over a range of temperature, rounded up to a nanometre.
    ///
    /// ```
    /// use lengthwise::{Length, job::{Expansion, TemperatureRange}};
    /// let (pvc, range) = (Expansion::from_decimal(60.into()), TemperatureRange::from_decimal(40.into()));
    /// let (pvc, range) = pvc.zip(range).ok_or("out of range")?;
    /// assert_eq!(pvc.movement(Length::from_mm(5000), range), Length::from_mm(12));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn movement(self, length: Length, range: TemperatureRange) -> Length {
        // At most 10^17 x 10^6 x 10^6.
        let parts = i128::from(length.nm()) * i128::from(self.0) * i128::from(range.0);
        let nm = parts / PARTS + i128::from(parts % PARTS > 0);
        i64::try_from(nm)
            .ok()
            .and_then(Length::from_nm)
            .unwrap_or(Length::MAX)
    }
}

impl TemperatureRange {
    /// What would be accepted in place of a text that is none, as a phrase.
    pub const ACCEPTED: &'static str =
        "kelvin above 0 and up to 1000 with at most 3 decimals, such as 40";

    /// Kelvin; `None` out of range or finer than a thousandth.
    pub fn from_decimal(kelvin: Decimal) -> Option<TemperatureRange> {
        thousandths(kelvin)
            .filter(|&range| range > 0)
            .map(TemperatureRange)
    }
}

fn thousandths(value: Decimal) -> Option<u32> {
    let value = value.normalize();
    let missing = THOUSANDTHS.checked_sub(value.scale())?;
    let thousandths = value.mantissa().checked_mul(10_i128.pow(missing))?;
    u32::try_from(thousandths)
        .ok()
        .filter(|&value| value <= MOST)
}

fn shown(thousandths: u32) -> Decimal {
    Decimal::new(i64::from(thousandths), THOUSANDTHS).normalize()
}

/// In millionths per kelvin.
impl fmt::Display for Expansion {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", shown(self.0))
    }
}

/// In kelvin.
impl fmt::Display for TemperatureRange {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", shown(self.0))
    }
}
