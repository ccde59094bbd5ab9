//! The rules of cutting one bar.

use crate::job::{Bar, Material, SquareOff};
use crate::length::Length;

/// What a bar's length goes to besides its pieces.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Remains {
    pub blade: Length,
    pub reserve: Length,
    pub square: Length,
    pub offcut: Length,
    pub offcut_rough: Length,
}

/// Cuts `lengths` one after another from the squared near end; `None` where they do not fit.
///
/// With `U` usable, `k` a cut's width, `r = U - pieces - (n-1) k` and far allowance `b`, there is a last
/// cut unless `r + b = 0`. If `r <= k` the blade takes `r` and the far allowance falls away; otherwise
/// the blade takes `k` and `r - k + b` is left, its far end still rough.
pub(super) fn cut_bar(material: &Material, bar: &Bar, lengths: &[Length]) -> Option<Remains> {
    let SquareOff { near, far } = bar.square_off();
    let cut = material.cut_width();
    let between = u64::try_from(lengths.len()).ok()?.checked_sub(1)?;
    let pieces = lengths
        .iter()
        .try_fold(Length::ZERO, |sum, &length| sum.checked_add(length))?;
    let rest = bar
        .usable()
        .checked_sub(pieces)?
        .checked_sub(cut.checked_mul(between)?)?;
    let reserve_between = material.per_cut().checked_mul(between)?;
    let blade_between = cut.checked_mul(between)?;
    if rest <= cut {
        // What the blade needs beyond its own width counts as used up reserve.
        let reserve = rest.checked_sub(material.kerf()).unwrap_or(Length::ZERO);
        return Some(Remains {
            blade: blade_between.checked_add(rest)?,
            reserve: reserve_between.checked_add(reserve)?,
            square: near.checked_add(far)?,
            offcut: Length::ZERO,
            offcut_rough: Length::ZERO,
        });
    }
    Some(Remains {
        blade: blade_between.checked_add(cut)?,
        reserve: reserve_between.checked_add(material.per_cut())?,
        square: near,
        offcut: rest.checked_sub(cut)?.checked_add(far)?,
        offcut_rough: far,
    })
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::job::{Job, JobInput, PieceRow, Saw, StockRow};
    use crate::length::{Measure, Unit};
    use crate::{Origin, job};

    fn mm(tenths: u32) -> Length {
        Length::from_nm(i64::from(tenths) * 100_000).unwrap()
    }

    fn job(stock: u32, near: u32, far: u32, per_cut: u32) -> Job {
        let origin = Origin {
            source: "test".into(),
            line: 2,
        };
        let measure = |length| Measure {
            length,
            unit: Unit::Mm,
        };
        JobInput {
            pieces: vec![PieceRow::new(origin.clone(), measure(mm(10)))],
            stock: vec![StockRow {
                square_off: Some(job::SquareOff {
                    near: mm(near),
                    far: mm(far),
                }),
                ..StockRow::new(origin, measure(mm(stock)))
            }],
            in_hand: vec![],
            saw: Saw {
                per_cut: mm(per_cut),
                ..Saw::default()
            },
        }
        .validate()
        .unwrap()
    }

    /// `(blade, reserve, square, offcut, rough)` in tenths of a millimetre.
    fn cut(job: &Job, lengths: &[u32]) -> Option<(i64, i64, i64, i64, i64)> {
        let material = &job.materials()[0];
        let lengths: Vec<Length> = lengths.iter().map(|&length| mm(length)).collect();
        let remains = cut_bar(material, &material.bars()[0], &lengths)?;
        let tenths = |length: Length| length.nm() / 100_000;
        Some((
            tenths(remains.blade),
            tenths(remains.reserve),
            tenths(remains.square),
            tenths(remains.offcut),
            tenths(remains.offcut_rough),
        ))
    }

    #[test]
    fn the_check_values_of_the_specification() {
        // L = 3000, k = 3, a = b = 10: pieces + blade + squaring + offcut.
        let job = job(30_000, 100, 100, 0);
        assert_eq!(cut(&job, &[29_800]), Some((0, 0, 200, 0, 0)));
        assert_eq!(cut(&job, &[29_770]), Some((30, 0, 200, 0, 0)));
        assert_eq!(cut(&job, &[29_760]), Some((30, 0, 100, 110, 100)));
        assert_eq!(cut(&job, &[29_801]), None);
    }

    #[test]
    fn no_allowance_and_each_alone() {
        assert_eq!(cut(&job(30_000, 0, 0, 0), &[30_000]), Some((0, 0, 0, 0, 0)));
        assert_eq!(
            cut(&job(30_000, 0, 0, 0), &[29_985]),
            Some((15, 0, 0, 0, 0))
        );
        assert_eq!(
            cut(&job(30_000, 0, 0, 0), &[29_970]),
            Some((30, 0, 0, 0, 0))
        );
        assert_eq!(
            cut(&job(30_000, 0, 0, 0), &[29_969]),
            Some((30, 0, 0, 1, 0))
        );
        assert_eq!(
            cut(&job(30_000, 100, 0, 0), &[29_900]),
            Some((0, 0, 100, 0, 0))
        );
        assert_eq!(
            cut(&job(30_000, 0, 100, 0), &[29_900]),
            Some((0, 0, 100, 0, 0))
        );
        assert_eq!(
            cut(&job(30_000, 0, 100, 0), &[22_100]),
            Some((30, 0, 0, 7870, 100))
        );
        // An offcut of 777 of a 2210 piece from 3000 with 10/10: the far 10 still rough.
        assert_eq!(
            cut(&job(30_000, 100, 100, 0), &[22_100]),
            Some((30, 0, 100, 7770, 100))
        );
    }

    #[test]
    fn the_blade_between_pieces_and_the_reserve() {
        assert_eq!(
            cut(&job(30_000, 0, 0, 0), &[14_985, 14_985]),
            Some((30, 0, 0, 0, 0))
        );
        assert_eq!(cut(&job(30_000, 0, 0, 0), &[14_986, 14_985]), None);
        assert_eq!(
            cut(&job(30_000, 0, 0, 10), &[10_000, 10_000]),
            Some((80, 20, 0, 9920, 0))
        );
        assert_eq!(
            cut(&job(30_000, 0, 0, 10), &[29_965]),
            Some((35, 5, 0, 0, 0))
        );
        assert_eq!(
            cut(&job(30_000, 0, 0, 10), &[29_975]),
            Some((25, 0, 0, 0, 0))
        );
    }
}
