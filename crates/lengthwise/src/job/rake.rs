//! Raked sets: boards under a sloping top, each a length of its own.

use super::quantity::{Quantity, Stand, ceiling, length, nm};
use super::{DEFAULT_STEP, LARGEST_QUANTITY, PieceRow};
use crate::length::Length;

/// The openings of a row in the order in which they stand, equal neighbours together: how long, and
/// how many. `None` where one is longer than a length can be.
///
/// Counted pieces step evenly from `length` to `to`, both included. Along a width, `length` and `to`
/// are the heights at its ends, and each board is as long as its own higher edge: the far edge on a
/// rise, the near edge on a fall. Every length is rounded up to a whole step.
pub(super) fn openings(row: &PieceRow) -> Option<Vec<(Length, u64)>> {
    let count = row.qty.count();
    let step = row.step.unwrap_or(DEFAULT_STEP);
    // A quantity or step out of range is a fault of its own; nobody should wait for its boards.
    let in_range = count <= LARGEST_QUANTITY && !step.is_zero();
    let Some(to) = row.to.map(nm).filter(|_| in_range) else {
        return Some(vec![(row.length.length, count)]);
    };
    let slope = Slope {
        from: nm(row.length),
        to,
        step: i128::from(step.nm()),
    };
    let mut openings: Vec<(Length, u64)> = Vec::new();
    for place in 0..count {
        let opening = slope.opening(row.qty, place)?;
        match openings.last_mut() {
            Some((length, count)) if *length == opening => *count += 1,
            _ => openings.push((opening, 1)),
        }
    }
    Some(openings)
}

/// Heights in nanometres at the two ends.
struct Slope {
    from: i128,
    to: i128,
    step: i128,
}

impl Slope {
    fn opening(&self, qty: Quantity, place: u64) -> Option<Length> {
        let (at, end) = match (qty.stand(place), qty.width()) {
            (Some(Stand { from, to, scale }), Some(width)) => {
                let higher = if self.to >= self.from { to } else { from };
                (higher, nm(width).checked_mul(scale)?)
            }
            _ => (
                i128::from(place),
                i128::from(qty.count().saturating_sub(1).max(1)),
            ),
        };
        // The height times `end`: a whole number, of lengths far below the root of 2^127.
        let rise = (self.to - self.from).checked_mul(at)?;
        let height = self.from.checked_mul(end)?.checked_add(rise)?;
        let steps = ceiling(height, end.checked_mul(self.step)?)?;
        length(steps.checked_mul(self.step)?)
    }
}
