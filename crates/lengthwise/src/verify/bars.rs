//! Every bar of a plan: does it exist, do the pieces fit, does it balance to the nanometre.

use std::collections::HashSet;

use super::facts::{Facts, Kind, length, nm};
use super::refusal::{BarPart, Breach};
use crate::plan::BarGroup;

/// Checks one group of bars; `names` holds the names of all bars before it.
pub(super) fn check_group<'p>(
    facts: &Facts<'_>,
    group: &'p BarGroup,
    names: &mut HashSet<&'p str>,
) -> Result<(), Breach> {
    let bar = group.bar;
    let kind = facts.kind(bar)?;
    let Some(name) = group.names.first().filter(|_| !group.cuts.is_empty()) else {
        return Err(Breach::EmptyGroup { bar });
    };
    check_names(group, names)?;
    let name = || name.clone();
    if nm(group.stock) != kind.length {
        return Err(Breach::StockLength {
            name: name(),
            plan: group.stock,
            job: length(kind.length)?,
        });
    }
    if group.in_hand != kind.in_hand {
        return Err(Breach::InHand {
            name: name(),
            plan: group.in_hand,
        });
    }
    for cut in &group.cuts {
        if cut.marks.len() != group.names.len() {
            return Err(Breach::MarksPerBar {
                name: name(),
                marks: cut.marks.len(),
                bars: group.names.len(),
            });
        }
    }
    // Spares wait until everything else is cut, whatever their stage.
    let staged = || group.cuts.iter().filter(|cut| !cut.spare);
    let mut pairs = staged().zip(staged().skip(1));
    if let Some((_, early)) = pairs.find(|(cut, next)| cut.stage > next.stage) {
        return Err(Breach::StageAfterLater {
            name: name(),
            stage: early.stage,
        });
    }
    check_parts(facts, kind, group, name)
}

/// Checks that spares wait until all else is cut from their bar; that they are spares is checked already.
pub(super) fn check_spares_last(group: &BarGroup) -> Result<(), Breach> {
    let mut pairs = group.cuts.iter().zip(group.cuts.iter().skip(1));
    let is_late = pairs.any(|(cut, next)| cut.spare && !next.spare);
    match group.names.first().filter(|_| is_late) {
        Some(name) => Err(Breach::SpareBeforePiece { name: name.clone() }),
        None => Ok(()),
    }
}

fn check_names<'p>(group: &'p BarGroup, names: &mut HashSet<&'p str>) -> Result<(), Breach> {
    for name in &group.names {
        if name.trim().is_empty() {
            return Err(Breach::NoName { bar: group.bar });
        }
        if !names.insert(name) {
            return Err(Breach::NameTwice { name: name.clone() });
        }
    }
    Ok(())
}

/// The parts of a bar besides its pieces, in nanometres.
struct Parts {
    blade: i128,
    reserve: i128,
    square: i128,
    offcut: i128,
    rough: i128,
}

fn check_parts(
    facts: &Facts<'_>,
    kind: &Kind,
    group: &BarGroup,
    name: impl Fn() -> String,
) -> Result<(), Breach> {
    let (pieces, blade) = taken(facts, group)?;
    let taken = pieces + blade.all;
    if taken > kind.usable() {
        return Err(Breach::DoesNotFit {
            name: name(),
            taken: length(taken)?,
            usable: length(kind.usable().max(0))?,
        });
    }
    let parts = parts(facts, kind, taken, &blade);
    for (part, plan, recomputed) in [
        (BarPart::Blade, group.blade, parts.blade),
        (BarPart::Reserve, group.reserve, parts.reserve),
        (BarPart::Square, group.square, parts.square),
        (BarPart::Offcut, group.offcut, parts.offcut),
        (BarPart::OffcutRough, group.offcut_rough, parts.rough),
    ] {
        if nm(plan) != recomputed {
            return Err(Breach::BarPart {
                name: name(),
                part,
                plan,
                recomputed: length(recomputed)?,
            });
        }
    }
    let square_part = parts.offcut - parts.rough;
    let saved = parts.offcut > 0 && square_part >= nm(facts.material.save_from());
    if group.saved != saved {
        return Err(Breach::Saved {
            name: name(),
            plan: group.saved,
        });
    }
    let sum = pieces + nm(group.blade) + nm(group.square) + nm(group.offcut);
    if sum != nm(group.stock) {
        return Err(Breach::Balance {
            name: name(),
            sum: length(sum)?,
            stock: group.stock,
        });
    }
    Ok(())
}

/// What the cuts between the pieces and at their mitred ends take, and how much of it is reserve.
struct Blade {
    all: i128,
    reserve: i128,
}

/// What the pieces of a bar take, and the saw between them and at their mitred ends.
fn taken(facts: &Facts<'_>, group: &BarGroup) -> Result<(i128, Blade), Breach> {
    let pieces: i128 = group.cuts.iter().map(|cut| nm(cut.length)).sum();
    let between = i128::try_from(group.cuts.len()).map_err(|_| Breach::TooLarge)? - 1;
    let mut blade = Blade {
        all: between * facts.cut(),
        reserve: between * facts.per_cut,
    };
    for cut in &group.cuts {
        let mitred = facts.mitred(cut.ends)?;
        blade.all += mitred.all;
        blade.reserve += mitred.reserve;
    }
    Ok((pieces, blade))
}

/// What pieces, mitred ends and the cuts between the pieces leave of a bar.
pub(super) fn spare(facts: &Facts<'_>, group: &BarGroup) -> Result<i128, Breach> {
    let (pieces, blade) = taken(facts, group)?;
    Ok(facts.kind(group.bar)?.usable() - pieces - blade.all)
}

/// What becomes of the bar when pieces, the cuts between them and their mitred ends take `taken`.
fn parts(facts: &Facts<'_>, kind: &Kind, taken: i128, before: &Blade) -> Parts {
    let rest = kind.usable() - taken;
    let (blade, reserve) = (before.all, before.reserve);
    if rest > facts.cut() {
        Parts {
            blade: blade + facts.cut(),
            reserve: reserve + facts.per_cut,
            square: kind.near,
            offcut: rest - facts.cut() + kind.far,
            rough: kind.far,
        }
    } else {
        // The blade takes what is left, or there is nothing left to cut.
        Parts {
            blade: blade + rest,
            reserve: reserve + (rest - facts.kerf).max(0),
            square: kind.near + kind.far,
            offcut: 0,
            rough: 0,
        }
    }
}
