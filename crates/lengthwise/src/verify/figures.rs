//! Where the length goes: every figure once more from the bars.

use super::buying::{Counts, total_length};
use super::facts::{Facts, length, nm};
use super::refusal::{Breach, Figure};
use crate::length::Length;
use crate::plan::{BarGroup, Cutting};

/// Checks each figure, then that they make up all bars.
pub(super) fn check_figures(
    facts: &Facts<'_>,
    cutting: &Cutting,
    counts: &Counts,
) -> Result<(), Breach> {
    let figures = &cutting.figures;
    let over = |of: fn(&BarGroup) -> i128| {
        let bars = cutting.bars.iter();
        bars.map(|group| {
            i128::try_from(group.names.len())
                .ok()
                .and_then(|bars| of(group).checked_mul(bars))
        })
        .try_fold(0_i128, |sum, next| sum.checked_add(next?))
        .ok_or(Breach::TooLarge)
    };
    let bought = total_length(facts, &counts.bought)?;
    let uncut = total_length(facts, &counts.uncut)?;
    let cut_into = over(|group| nm(group.stock))?;
    let hand_cut_into = over(|group| if group.in_hand { nm(group.stock) } else { 0 })?;
    let saved = over(|group| if group.saved { nm(group.offcut) } else { 0 })?;
    let waste = over(|group| if group.saved { 0 } else { nm(group.offcut) })?;
    let needed = over(|group| group.cuts.iter().map(|cut| nm(cut.length)).sum())?;
    let spare = over(|group| {
        let spares = group.cuts.iter().filter(|cut| cut.spare);
        spares.map(|cut| nm(cut.length)).sum()
    })?;
    for (figure, plan, recomputed) in [
        (Figure::Bought, figures.bought, bought),
        (Figure::Total, figures.total, cut_into + uncut),
        (Figure::CutInto, figures.cut_into, cut_into),
        (Figure::HandCutInto, figures.hand_cut_into, hand_cut_into),
        (Figure::Needed, figures.needed, needed),
        (Figure::Spare, figures.spare, spare),
        (Figure::Blade, figures.blade, over(|group| nm(group.blade))?),
        (
            Figure::Reserve,
            figures.reserve,
            over(|group| nm(group.reserve))?,
        ),
        (
            Figure::Square,
            figures.square,
            over(|group| nm(group.square))?,
        ),
        (Figure::Saved, figures.saved, saved + uncut),
        (Figure::Waste, figures.waste, waste),
    ] {
        check(figure, plan, recomputed)?;
    }
    let parts = [
        figures.needed,
        figures.blade,
        figures.square,
        figures.saved,
        figures.waste,
    ];
    let sum: i128 = parts.into_iter().map(nm).sum();
    if sum != nm(figures.total) {
        return Err(Breach::FiguresBalance {
            sum: length(sum)?,
            total: figures.total,
        });
    }
    Ok(())
}

fn check(figure: Figure, plan: Length, recomputed: i128) -> Result<(), Breach> {
    if nm(plan) == recomputed {
        return Ok(());
    }
    Err(Breach::Figure {
        figure,
        plan,
        recomputed: length(recomputed)?,
    })
}
