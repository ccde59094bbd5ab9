//! What mitred ends take of a bar, held against a sine of our own.
//!
//! The job says it in whole nanometres, rounded up. Here the sine is put together from halves of the
//! right angle: cosine and sine of 45, 22.5, ... degrees by the half-angle formulas, turned one after
//! the other as the binary places of the angle say. No series, no pi.

use super::facts::{length, nm};
use super::refusal::Breach;
use crate::job::{Angle, Ends, Material};

/// Binary places of the fixed-point numbers, and of the angle as a part of the right one.
const PLACES: u32 = 60;
const ONE: i128 = 1 << PLACES;
/// More than all roundings together: at most 16 units of the last place for each of 60 turns. On a
/// slot of a metre this is a hundred-thousandth of a nanometre, and no figure nearer than that to a
/// whole nanometre is called wrong.
const ROUNDINGS: i128 = 1 << 10;
const RIGHT: i128 = 9_000;

/// What mitred ends take, in nanometres.
#[derive(Clone, Copy)]
pub(super) struct Mitred {
    /// Blade and reserve.
    pub all: i128,
    /// How much of it is the reserve.
    pub reserve: i128,
}

/// What the mitred ends of one piece take.
pub(super) fn mitred(material: &Material, ends: Ends) -> Result<Mitred, Breach> {
    let slots = |width: i128| {
        let mitred = [ends.near, ends.far].into_iter();
        let mut mitred = mitred.filter(|angle| !angle.is_square());
        mitred.try_fold(0, |sum, angle| {
            let along = nm(angle.along(length(width)?));
            if is_along(angle, width, along) {
                Ok(sum + along)
            } else {
                Err(Breach::MitreAllowance { ends })
            }
        })
    };
    let kerf = nm(material.kerf());
    let all = slots(kerf + nm(material.per_cut()))?;
    if all != nm(material.mitre_allowance(ends)) {
        return Err(Breach::MitreAllowance { ends });
    }
    let reserve = all - slots(kerf)?;
    Ok(Mitred { all, reserve })
}

/// Whether `along` is the least whole number that, times the sine, is not less than the width; or
/// so near to it that the roundings leave both.
fn is_along(angle: Angle, width: i128, along: i128) -> bool {
    let sine = sine(i128::from(angle.hundredths()));
    let scaled = width * ONE; // a metre at most, in a checked job
    let enough = along * (sine + ROUNDINGS) >= scaled;
    let too_much = width == 0 && along > 0 || (along - 1) * (sine - ROUNDINGS) >= scaled;
    enough && !too_much
}

/// The sine of so many hundredths of a degree, above 0 and below 90 degrees, within [`ROUNDINGS`].
fn sine(hundredths: i128) -> i128 {
    // The halved angle and the turned one, as cosine and sine.
    let (mut cosine, mut sine) = (0, ONE);
    let (mut x, mut y) = (ONE, 0);
    let mut rest = hundredths;
    for _ in 0..PLACES {
        cosine = root((ONE + cosine) << (PLACES - 1));
        sine = (sine << (PLACES - 1)) / cosine;
        rest *= 2;
        if rest >= RIGHT {
            rest -= RIGHT;
            (x, y) = (
                (x * cosine - y * sine) >> PLACES,
                (x * sine + y * cosine) >> PLACES,
            );
        }
    }
    y
}

/// The square root of a number that is not negative, rounded down.
fn root(square: i128) -> i128 {
    let root = square.unsigned_abs().isqrt();
    i128::try_from(root).unwrap_or(i128::MAX) // at most the root of 2^127
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::length::Length;

    /// The two ways to the same figure agree, over every angle and blades of the trade, and a
    /// nanometre more or less is refused.
    #[test]
    fn two_roads_to_every_angle() {
        for hundredths in (1_000..9_000).step_by(25) {
            let angle = Angle::from_hundredths(hundredths).unwrap_or_default();
            for nm in [1, 2_381_250, 3_000_000, 3_175_000, 4_000_001, 999_999_999] {
                let along = Length::from_nm(nm).map_or(0, |width| angle.along(width).nm());
                let is = |along| is_along(angle, i128::from(nm), i128::from(along));
                assert!(is(along), "{hundredths} {nm}");
                assert!(!is(along - 1), "{hundredths} {nm}");
                // Twice the width is exact at 30 degrees, and no rounding can tell.
                assert!(!is(along + 1) || hundredths == 3_000, "{hundredths} {nm}");
            }
            assert!(is_along(angle, 0, 0) && !is_along(angle, 0, 1));
        }
    }
}
