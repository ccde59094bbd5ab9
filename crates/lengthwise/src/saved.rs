//! Exact quantities as texts: what the feature `serde` adds to types that let nothing out of range in.
//!
//! Each is written as it is printed and read back through the checks that any text or number of it goes
//! through.

use std::fmt;

use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use serde::de::{self, Unexpected, Visitor};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use crate::job::{Angle, Expansion, TemperatureRange};
use crate::length::{Length, LengthError, Unit};
use crate::price::Price;

/// Reads a text, and says what would be accepted in place of one that is none.
struct Text<T> {
    read: fn(&str) -> Option<T>,
    accepted: &'static str,
}

impl<T> Visitor<'_> for Text<T> {
    type Value = T;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.accepted)
    }

    fn visit_str<E: de::Error>(self, text: &str) -> Result<T, E> {
        (self.read)(text).ok_or_else(|| E::invalid_value(Unexpected::Str(text), &self))
    }
}

macro_rules! as_text {
    ($quantity:ty, $write:expr, $read:expr, $accepted:expr) => {
        impl Serialize for $quantity {
            fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                let write: fn($quantity) -> String = $write;
                serializer.serialize_str(&write(*self))
            }
        }

        impl<'de> Deserialize<'de> for $quantity {
            fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                deserializer.deserialize_str(Text {
                    read: $read,
                    accepted: $accepted,
                })
            }
        }
    };
}

as_text!(
    Length,
    |length| length.text(Unit::Mm),
    length,
    LengthError::ACCEPTED
);
as_text!(
    Price,
    |price| price.to_string(),
    |text| decimal(text).and_then(Price::from_decimal),
    "a price of 0 or more such as 5.90"
);
as_text!(
    Angle,
    |angle| angle.to_string(),
    angle,
    "degrees from 10 to 90 with at most 2 decimals, such as 22.5"
);
as_text!(
    Expansion,
    |expansion| expansion.to_string(),
    |text| decimal(text).and_then(Expansion::from_decimal),
    Expansion::ACCEPTED
);
as_text!(
    TemperatureRange,
    |range| range.to_string(),
    |text| decimal(text).and_then(TemperatureRange::from_decimal),
    TemperatureRange::ACCEPTED
);

/// A length that states its unit: a bare number would be read alike in every one.
fn length(text: &str) -> Option<Length> {
    let [one, other] = [Unit::Mm, Unit::M].map(|unit| Length::parse(text, unit).ok());
    one.filter(|_| one == other).map(|measure| measure.length)
}

fn angle(text: &str) -> Option<Angle> {
    let hundredths = decimal(text)?.checked_mul(Decimal::ONE_HUNDRED)?;
    let hundredths = hundredths.is_integer().then(|| hundredths.to_u16())??;
    Angle::from_hundredths(hundredths)
}

/// Digits and at most one point, nothing rounded.
fn decimal(text: &str) -> Option<Decimal> {
    let is_plain = text.chars().all(|c| c.is_ascii_digit() || c == '.');
    Decimal::from_str_exact(text).ok().filter(|_| is_plain)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use proptest::prelude::*;
    use serde::de::DeserializeOwned;
    use serde_json::{from_str, to_string};

    use super::*;

    fn is_kept<T: Serialize + DeserializeOwned + PartialEq>(value: &T) -> bool {
        let text = to_string(value).unwrap();
        from_str::<T>(&text).unwrap() == *value
    }

    #[test]
    fn quantities_are_written_as_they_are_printed() {
        let length = Length::from_nm(2_216_150_000).unwrap();
        assert_eq!(to_string(&length).unwrap(), "\"2216.15mm\"");
        let price = Price::parse("5.9", false).unwrap();
        assert_eq!(to_string(&price).unwrap(), "\"5.90\"");
        let angle = Angle::from_hundredths(2250).unwrap();
        assert_eq!(to_string(&angle).unwrap(), "\"22.5\"");
        assert_eq!(to_string(&Unit::In).unwrap(), "\"in\"");
    }

    #[test]
    fn lengths_may_have_any_unit_but_must_have_one() {
        let length = |text: &str| from_str::<Length>(text).ok();
        let door = Length::from_nm(2_216_150_000);
        assert_eq!(length(r#""7' 3 1/4\"""#), door);
        assert_eq!(length(r#""2.21615 m""#), door);
        for bare in [r#""2216.15""#, r#""0""#, "2216", "2216.15", "null"] {
            assert_eq!(length(bare), None, "{bare}");
        }
    }

    #[test]
    fn nothing_out_of_range_gets_in() {
        // The longest length, and a nanometre more.
        assert!(from_str::<Length>(r#""100000000000mm""#).is_ok());
        for text in [
            r#""100000000000.000001mm""#,
            r#""-1mm""#,
            r#""0.0000001mm""#,
            r#""mm""#,
        ] {
            assert!(from_str::<Length>(text).is_err(), "{text}");
        }
        for text in [
            r#""-0.01""#,
            r#""5,90""#,
            r#""1e3""#,
            r#""""#,
            "5.9",
            r#""£5""#,
        ] {
            assert!(from_str::<Price>(text).is_err(), "{text}");
        }
        for text in [r#""9.99""#, r#""90.01""#, r#""45.001""#, r#""-45""#, "45"] {
            assert!(from_str::<Angle>(text).is_err(), "{text}");
        }
        for text in [r#""1000.001""#, r#""0.0001""#, r#""-1""#] {
            assert!(from_str::<Expansion>(text).is_err(), "{text}");
            assert!(from_str::<TemperatureRange>(text).is_err(), "{text}");
        }
        assert!(from_str::<Expansion>(r#""0""#).is_ok());
        assert!(from_str::<TemperatureRange>(r#""0""#).is_err());
    }

    proptest! {
        #[test]
        fn every_quantity_is_kept_exactly(
            nm in 0..=Length::MAX.nm(),
            (mantissa, scale) in (0..=i64::MAX, 0_u32..=28),
            hundredths in 1000_u16..=9000,
            thousandths in 1_i64..=1_000_000,
        ) {
            prop_assert!(is_kept(&Length::from_nm(nm).unwrap()));
            prop_assert!(is_kept(&Price::from_decimal(Decimal::new(mantissa, scale)).unwrap()));
            prop_assert!(is_kept(&Angle::from_hundredths(hundredths).unwrap()));
            let thousandths = Decimal::new(thousandths, 3);
            prop_assert!(is_kept(&Expansion::from_decimal(thousandths).unwrap()));
            prop_assert!(is_kept(&TemperatureRange::from_decimal(thousandths).unwrap()));
        }

        #[test]
        fn no_text_panics(text in "[0-9.mftin'\" /-]{0,40}|\\PC{0,20}") {
            let text = to_string(&text).unwrap();
            let _ = (from_str::<Length>(&text), from_str::<Price>(&text));
            let _ = (from_str::<Angle>(&text), from_str::<Expansion>(&text));
        }
    }
}
