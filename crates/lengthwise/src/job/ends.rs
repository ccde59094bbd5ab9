//! The ends of a piece: the gap that is left beside them, and the angle at which they are cut.

use std::fmt;

#[cfg(feature = "serde")]
use serde::{Deserialize, Serialize};

use crate::length::Length;

/// What is left open at the ends of a piece: taken off the measured opening.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct EndGap {
    /// At the near end.
    pub near: Length,
    /// At the far end.
    pub far: Length,
}

impl EndGap {
    /// Both together, which no checked job lets exceed the opening.
    pub fn total(self) -> Length {
        self.near.checked_add(self.far).unwrap_or(Length::MAX)
    }
}

/// The angle between the cut and the edge of the piece, in hundredths of a degree: 90 degrees is square.
///
/// With the feature `serde` it is a text in degrees, such as `"22.5"`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Angle(u16);

/// The sharpest angle: no saw of the trade cuts further, common practice, no source.
const SHARPEST: u16 = 1_000;
const SQUARE: u16 = 9_000;
/// The one angle below a right one, in whole degrees and parts of them, whose sine is a fraction
/// (theorem of Niven, 1956; from memory): one half.
const HALF: u16 = 3_000;
/// Binary places of the fixed-point numbers below.
const PLACES: u32 = 60;
/// Pi in 60 binary places, rounded down: 3.243F6A8885A308D in sixteens.
const PI: i128 = 0x3243_F6A8_885A_308D;
/// More than all roundings of [`sine_rounded_down`] together, in units of the last place: at most two
/// for each of some fourteen terms of the series.
const ROUNDINGS: i128 = 64;

impl Angle {
    /// The angle of a square end.
    pub const SQUARE: Angle = Angle(SQUARE);

    /// An angle of so many hundredths of a degree; `None` below 10 or above 90 degrees.
    pub const fn from_hundredths(hundredths: u16) -> Option<Angle> {
        if hundredths >= SHARPEST && hundredths <= SQUARE {
            Some(Angle(hundredths))
        } else {
            None
        }
    }

    /// The angle in hundredths of a degree, from 1000 to 9000.
    pub const fn hundredths(self) -> u16 {
        self.0
    }

    /// Whether the end is square.
    pub const fn is_square(self) -> bool {
        self.0 == SQUARE
    }

    /// How far a slot of this width reaches along the piece when it is cut at this angle: the width
    /// over the sine of the angle, which is over the cosine of how far the saw is turned from square.
    ///
    /// Rounded up to a nanometre: never too little, and never a nanometre or more too much but where
    /// the exact figure is within a millionth of a whole one.
    ///
    /// ```
    /// use lengthwise::{Length, job::Angle};
    /// let mitre = Angle::from_hundredths(4500).ok_or("no angle")?;
    /// // 3 mm times the square root of 2 is 4.2426406871... mm.
    /// assert_eq!(mitre.along(Length::from_mm(3)).nm(), 4_242_641);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn along(self, width: Length) -> Length {
        let nm = i128::from(width.nm());
        let along = match self.0 {
            SQUARE => nm,
            HALF => 2 * nm,
            // The sine is 0.17 at the least, far above its roundings.
            _ => (nm << PLACES).div_euclid(sine_rounded_down(self)) + 1,
        };
        // Only zero is without remainder: no other sine is a fraction.
        let along = if nm == 0 { 0 } else { along };
        i64::try_from(along)
            .ok()
            .and_then(Length::from_nm)
            .unwrap_or(Length::MAX)
    }
}

/// At most the sine of an angle, by its power series around zero, less all roundings.
fn sine_rounded_down(angle: Angle) -> i128 {
    let x = PI * i128::from(angle.0) / 18_000;
    let square = (x * x) >> PLACES;
    let (mut term, mut sum, mut place) = (x, x, 1);
    while term != 0 {
        // The next odd power over the next factorial, its sign turned.
        term = -((term * square) >> PLACES) / ((place + 1) * (place + 2));
        sum += term;
        place += 2;
    }
    sum - ROUNDINGS
}

impl Default for Angle {
    fn default() -> Self {
        Angle::SQUARE
    }
}

/// In degrees: `45`, `22.5`.
impl fmt::Display for Angle {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (degrees, rest) = (self.0 / 100, self.0 % 100);
        match rest {
            0 => write!(f, "{degrees}"),
            tenths if tenths % 10 == 0 => write!(f, "{degrees}.{}", tenths / 10),
            hundredths => write!(f, "{degrees}.{hundredths:02}"),
        }
    }
}

/// The angles of both ends of a piece.
///
/// ```
/// use lengthwise::{Length, job::{Angle, Ends}};
/// let mitre = Angle::from_hundredths(3000).ok_or("no angle")?;
/// let ends = Ends { near: mitre, ..Ends::SQUARE };
/// assert_eq!(ends.to_string(), "30/90");
/// // A slot of 3 mm takes twice that along the piece.
/// assert_eq!(ends.along(Length::from_mm(3)), Length::from_mm(6));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct Ends {
    /// At the near end.
    pub near: Angle,
    /// At the far end.
    pub far: Angle,
}

impl Ends {
    /// Both ends square.
    pub const SQUARE: Ends = Ends {
        near: Angle::SQUARE,
        far: Angle::SQUARE,
    };

    /// Whether both ends are square.
    pub const fn are_square(self) -> bool {
        self.near.is_square() && self.far.is_square()
    }

    /// What slots of this width take along the piece at its mitred ends; nothing at square ones.
    pub fn along(self, width: Length) -> Length {
        let mitred = [self.near, self.far].into_iter();
        mitred
            .filter(|angle| !angle.is_square())
            .try_fold(Length::ZERO, |sum, angle| {
                sum.checked_add(angle.along(width))
            })
            .unwrap_or(Length::MAX)
    }
}

/// In degrees, near and far: `45/90`.
impl fmt::Display for Ends {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.near, self.far)
    }
}

/// What pieces that may take each other's place on the saw have in common.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct Shape {
    /// The length to cut; of mitred ends, to the long points.
    pub length: Length,
    /// The angles of the ends.
    pub ends: Ends,
    /// The only batch whose bars it may be cut from, where there is one: a place in
    /// [`Material::batches`](super::Material::batches).
    pub batch: Option<u32>,
}

impl Shape {
    /// Square ends.
    pub const fn square(length: Length) -> Shape {
        Shape {
            length,
            ends: Ends::SQUARE,
            batch: None,
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn along(hundredths: u16, nm: i64) -> i64 {
        let angle = Angle::from_hundredths(hundredths).unwrap();
        angle.along(Length::from_nm(nm).unwrap()).nm()
    }

    /// Sines from any table; 3 mm over the sine, worked to twelve places.
    #[test]
    fn known_angles() {
        for (hundredths, reach) in [
            (9000, 3_000_000),
            (7500, 3_105_829),  // / 0.965925826289 = 3 105 828.541
            (6750, 3_247_177),  // / 0.923879532511 = 3 247 176.601
            (6000, 3_464_102),  // / 0.866025403784 = 3 464 101.615
            (4500, 4_242_641),  // / 0.707106781187 = 4 242 640.687
            (3000, 6_000_000),  // / 0.5
            (2250, 7_839_378),  // / 0.382683432365 = 7 839 377.789
            (1000, 17_276_312), // / 0.173648177667 = 17 276 311.449
        ] {
            assert_eq!(along(hundredths, 3_000_000), reach, "{hundredths}");
        }
        assert_eq!(along(4500, 0), 0);
        assert!(Angle::from_hundredths(999).is_none() && Angle::from_hundredths(9001).is_none());
    }

    /// In binary places: the sine of 30 degrees is one half, those of 45 and 60 square to halves and quarters.
    #[test]
    fn sines_are_rounded_down() {
        let one = 1_i128 << PLACES;
        let least = |sine: i128| sine - 2 * ROUNDINGS;
        let of = |hundredths| sine_rounded_down(Angle(hundredths));
        assert!(of(3000) <= one / 2 && of(3000) > least(one / 2));
        for (hundredths, quarters) in [(4500, 2), (6000, 3)] {
            let is_below = |sine: i128| 4 * sine * sine <= quarters * one * one;
            let sine = of(hundredths);
            assert!(is_below(sine) && !is_below(sine + 2 * ROUNDINGS));
        }
    }

    proptest! {
        /// At 45 degrees the reach is the least whole number whose square is at least twice the
        /// square of the width; at 60 degrees, three times it is at least four times that square.
        #[test]
        fn by_whole_numbers_where_the_sine_is_a_root(nm in 1_i64..1_000_000_000) {
            for (hundredths, above, below) in [(4500, 2, 1), (6000, 4, 3)] {
                let (reach, nm) = (i128::from(along(hundredths, nm)), i128::from(nm));
                let enough = |reach: i128| below * reach * reach >= above * nm * nm;
                prop_assert!(enough(reach) && !enough(reach - 1));
            }
        }

        /// Floats are near enough to tell a wrong figure, though not to round one up.
        #[test]
        fn near_the_float(hundredths in 1000_u16..9000, nm in 1_i64..1_000_000_000) {
            let exact = nm as f64 / (f64::from(hundredths) / 100.0).to_radians().sin();
            let reach = along(hundredths, nm) as f64;
            prop_assert!(reach > exact - 1e-3 && reach < exact + 1.0 + 1e-3);
        }
    }

    #[test]
    fn printed_in_degrees() {
        let angle = |hundredths| Angle::from_hundredths(hundredths).unwrap();
        let ends = Ends {
            near: angle(4500),
            far: Angle::SQUARE,
        };
        assert_eq!(ends.to_string(), "45/90");
        assert_eq!(angle(2250).to_string(), "22.5");
        assert_eq!(angle(2205).to_string(), "22.05");
    }
}
