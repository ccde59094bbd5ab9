//! How forgiving a plan is: how much wider the blade, and how much longer the pieces, may turn out.
//!
//! With `U` the usable length of a bar, `n` its pieces, `k` the width of a cut and
//! `r = U - pieces - (n - 1) k` its spare: a blade that is wider by `r / (n - 1)` still fits, and so do
//! pieces that are each longer by `r / n`. Bars that are kept whole do not count. Mitred ends take slanted slots, which grow with the blade;
//! so the widest blade is searched for by halving, over whole nanometres.

#[cfg(feature = "serde")]
use serde::{Deserialize, Serialize};

use crate::job::{Bar, Material};
use crate::length::Length;
use crate::plan::{BarGroup, Cutting};

/// How forgiving a plan of one material is. See [`forgiving`].
#[derive(Clone, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
#[non_exhaustive]
pub struct Forgiving {
    /// The widest blade with which every bar still holds its pieces, the error reserve of each cut
    /// kept; `None` where no bar has a cut between pieces or at a mitred end. May be wider than any
    /// saw's.
    pub widest_blade: Option<Tightest>,
    /// So much longer each piece may come out, all others too, and every bar still holds its pieces;
    /// `None` where nothing is cut. The error reserve of each cut is kept beside it.
    pub largest_error: Option<Tightest>,
}

/// A limit, and the bar that sets it.
#[derive(Clone, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct Tightest {
    /// The limit; one nanometre more and the bar does not hold its pieces.
    pub limit: Length,
    /// The first bar of the plan that sets it.
    pub bar: String,
    /// How many bars set it.
    pub bars: u64,
}

/// Works out the widest blade and the largest error of a plan, exact to the nanometre, rounded down.
///
/// `None` where the plan is not one of this material: a kind of bar that there is not, or pieces that do
/// not fit their bar. Takes O(cuts), 63 times that where ends are mitred.
///
/// ```
/// use lengthwise::{JobInput, Length, Limits, Origin, Unit, job::*, plan::Outcome, solve};
/// use lengthwise::forgiving::forgiving;
/// let at = |line| Origin { source: "example".into(), line };
/// let job = JobInput {
///     pieces: vec![PieceRow {
///         qty: 3.into(),
///         ..PieceRow::new(at(2), Length::parse("990", Unit::Mm)?)
///     }],
///     stock: vec![StockRow::new(at(2), Length::parse("3m", Unit::Mm)?)],
///     ..JobInput::default() // a blade of 3 mm
/// }
/// .validate()?;
/// let plan = solve(&job, &Limits::default());
/// let Outcome::Planned(cutting) = &plan.materials[0].outcome else { unreachable!() };
/// let forgiving = forgiving(&job.materials()[0], cutting).ok_or("not a plan of this")?;
/// // 3000 - 3 x 990 - 2 x 3 leaves 24: 12 for each cut, 8 for each piece.
/// assert_eq!(forgiving.widest_blade.ok_or("any")?.limit, Length::from_mm(15));
/// assert_eq!(forgiving.largest_error.ok_or("any")?.limit, Length::from_mm(8));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn forgiving(material: &Material, cutting: &Cutting) -> Option<Forgiving> {
    let mut forgiving = Forgiving::default();
    // A bar that is kept whole is not cut.
    let cut = cutting.bars.iter().filter(|group| !group.is_kept_whole());
    for group in cut {
        let bar = material.bars().get(group.bar)?;
        let spare = spare(bar, group, material.cut_width())?;
        let pieces = group.cuts.iter().filter(|cut| !cut.for_bar);
        let pieces = i64::try_from(pieces.count()).ok()?;
        let error = Length::from_nm(spare.checked_div(pieces)?)?;
        tighten(&mut forgiving.largest_error, error, group);
        if let Some(width) = widest_cut(bar, group, material.cut_width()) {
            let blade = width.checked_sub(material.per_cut())?;
            tighten(&mut forgiving.widest_blade, blade, group);
        }
    }
    Some(forgiving)
}

/// The spare of a bar in nanometres if a cut is so wide; `None` where its pieces do not fit.
fn spare(bar: &Bar, group: &BarGroup, width: Length) -> Option<i64> {
    let between = u64::try_from(group.cuts.len()).ok()?.checked_sub(1)?;
    let mut rest = bar.usable().checked_sub(width.checked_mul(between)?)?;
    for cut in &group.cuts {
        rest = rest.checked_sub(cut.length)?;
        rest = rest.checked_sub(cut.ends.along(width))?;
    }
    Some(rest.nm())
}

/// The widest cut with which the bar holds its pieces, given one with which it does; `None` where any
/// does.
fn widest_cut(bar: &Bar, group: &BarGroup, known: Length) -> Option<Length> {
    if group.cuts.len() < 2 && group.cuts.iter().all(|cut| cut.ends.are_square()) {
        return None;
    }
    // A cut takes its width at the least, so one wider than the bar never fits.
    let (mut fits, mut fails) = (known.nm(), bar.usable().nm().max(known.nm()) + 1);
    while fails - fits > 1 {
        let middle = fits + (fails - fits) / 2;
        let holds = Length::from_nm(middle).and_then(|width| spare(bar, group, width));
        if holds.is_some() {
            fits = middle;
        } else {
            fails = middle;
        }
    }
    Length::from_nm(fits)
}

fn tighten(tightest: &mut Option<Tightest>, limit: Length, group: &BarGroup) {
    let bars = group.names.len() as u64; // widening on every platform
    match tightest {
        Some(known) if known.limit < limit => {}
        Some(known) if known.limit == limit => known.bars += bars,
        _ => {
            *tightest = group.names.first().map(|bar| Tightest {
                limit,
                bar: bar.clone(),
                bars,
            });
        }
    }
}
