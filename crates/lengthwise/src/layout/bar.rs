//! The rules of cutting one bar.

use crate::job::{Bar, Material, Shape, SquareOff};
use crate::length::Length;

/// What a bar's length goes to besides its pieces.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Remains {
    pub blade: Length,
    pub reserve: Length,
    pub square: Length,
    pub offcut: Length,
    pub offcut_rough: Length,
}

/// Cuts `shapes` one after another from the squared near end; `None` where they do not fit.
///
/// With `U` usable, `k` a cut's width, `m` what mitred ends take,
/// `r = U - pieces - (n-1) k - m` and far allowance `b`, there is a last cut unless `r + b = 0`. If
/// `r <= k` the blade takes `r` and the far allowance falls away; otherwise the blade takes `k` and
/// `r - k + b` is left, its far end still rough. The blade takes `m` in every case.
pub(crate) fn cut_bar(material: &Material, bar: &Bar, shapes: &[Shape]) -> Option<Remains> {
    let SquareOff { near, far } = bar.square_off();
    let cut = material.cut_width();
    let between = u64::try_from(shapes.len()).ok()?.checked_sub(1)?;
    let sum = |of: &dyn Fn(Shape) -> Length| {
        let lengths = shapes.iter().map(|&shape| of(shape));
        lengths
            .into_iter()
            .try_fold(Length::ZERO, |sum, length| sum.checked_add(length))
    };
    let mitred = sum(&|shape| material.mitre_allowance(shape.ends))?;
    let mitred_reserve = sum(&|shape| material.mitre_reserve(shape.ends))?;
    let blade_before = cut.checked_mul(between)?.checked_add(mitred)?;
    let reserve_before = material
        .per_cut()
        .checked_mul(between)?
        .checked_add(mitred_reserve)?;
    let rest = bar
        .usable()
        .checked_sub(sum(&|shape| shape.length)?)?
        .checked_sub(blade_before)?;
    if rest <= cut {
        // What the blade needs beyond its own width counts as used up reserve.
        let reserve = rest.checked_sub(material.kerf()).unwrap_or(Length::ZERO);
        return Some(Remains {
            blade: blade_before.checked_add(rest)?,
            reserve: reserve_before.checked_add(reserve)?,
            square: near.checked_add(far)?,
            offcut: Length::ZERO,
            offcut_rough: Length::ZERO,
        });
    }
    Some(Remains {
        blade: blade_before.checked_add(cut)?,
        reserve: reserve_before.checked_add(material.per_cut())?,
        square: near,
        offcut: rest.checked_sub(cut)?.checked_add(far)?,
        offcut_rough: far,
    })
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::job::{Angle, Ends, Job, JobInput, PieceRow, Saw, StockRow};
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
        let shapes = lengths.iter().map(|&length| Shape::square(mm(length)));
        let shapes: Vec<Shape> = shapes.collect();
        let remains = cut_bar(material, &material.bars()[0], &shapes)?;
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

    /// The bar of the specification with a piece mitred at both ends: its two slanted slots of
    /// 3 mm are 4.242641 mm along the bar each, rounded up.
    #[test]
    fn mitred_ends_take_their_slanted_slots_besides() {
        let job = job(30_000, 100, 100, 0);
        let material = &job.materials()[0];
        let mitre = Angle::from_hundredths(4500).unwrap();
        let ends = Ends {
            near: mitre,
            far: mitre,
        };
        let cut = |nm| {
            let length = Length::from_nm(nm).unwrap();
            let remains = cut_bar(
                material,
                &material.bars()[0],
                &[Shape {
                    length,
                    ends,
                    batch: None,
                }],
            )?;
            let parts = [remains.blade, remains.square, remains.offcut];
            Some(parts.map(Length::nm))
        };
        // 2980 mm less twice 4 242 641 nm is the longest; then the blade takes what is left.
        assert_eq!(cut(2_971_514_719), None);
        assert_eq!(cut(2_971_514_718), Some([8_485_282, 20_000_000, 0]));
        assert_eq!(cut(2_968_514_718), Some([11_485_282, 20_000_000, 0]));
        assert_eq!(
            cut(2_967_514_718),
            Some([11_485_282, 10_000_000, 11_000_000])
        );
    }
}
