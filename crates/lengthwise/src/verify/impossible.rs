//! Reasons why there is no plan, checked again where the job alone decides.

use std::collections::BTreeSet;

use super::facts::{Facts, length, nm};
use super::refusal::Breach;
use super::{Claim, Trust};
use crate::job::Piece;
use crate::length::Length;
use crate::plan::Impossible;

/// What was rechecked, or what has to be believed.
pub(super) fn check_impossible(
    facts: &Facts<'_>,
    reason: &Impossible,
) -> Result<Result<Claim, Trust>, Breach> {
    match reason {
        Impossible::PieceTooLong {
            mark,
            length,
            takes,
            longest,
            rows,
        } => {
            check_too_long(facts, mark, (*length, *takes), *longest, *rows)?;
            Ok(Ok(Claim::PieceTooLong))
        }
        Impossible::NotEnoughLength { needed, available } => {
            check_not_enough(facts, *needed, *available)?;
            Ok(Ok(Claim::NotEnoughLength))
        }
        Impossible::NoSplit { .. } | Impossible::Courses { .. } => Err(Breach::TooLarge),
        Impossible::NotEnoughBars { left_over } => Ok(Err(Trust::NotEnoughBars {
            left_over: *left_over,
        })),
    }
}

fn check_too_long(
    facts: &Facts<'_>,
    mark: &str,
    (piece_length, takes): (Length, Length),
    longest: Option<(Length, Length)>,
    rows: usize,
) -> Result<(), Breach> {
    let taken = pieces_and_what_they_take(facts)?;
    let named = taken
        .iter()
        .filter(|(piece, taken)| piece.length() == piece_length && *taken == nm(takes))
        .any(|(piece, _)| {
            piece.mark() == mark || (0..piece.qty()).any(|copy| piece.copy_mark(copy) == mark)
        });
    if !named {
        return Err(Breach::NoSuchPieceTooLong {
            mark: mark.to_owned(),
            length: piece_length,
        });
    }
    // A kind of bar of which there is none does not count.
    let obtainable = facts.kinds.iter().filter(|kind| kind.available != Some(0));
    let usable = obtainable.clone().map(|kind| kind.usable().max(0)).max();
    let recomputed = usable.map(length).transpose()?;
    if let Some(usable) = recomputed.filter(|&usable| takes <= usable) {
        return Err(Breach::FitsAfterAll {
            mark: mark.to_owned(),
            length: piece_length,
            usable,
        });
    }
    let right = match longest {
        None => recomputed.is_none(),
        Some((longest, whole)) => {
            Some(longest) == recomputed
                && obtainable
                    .clone()
                    .any(|kind| kind.usable() == nm(longest) && kind.length == nm(whole))
        }
    };
    if !right {
        return Err(Breach::LongestBar {
            plan: longest,
            recomputed,
        });
    }
    let too_long = taken
        .iter()
        .filter(|(_, taken)| recomputed.is_none_or(|usable| *taken > nm(usable)));
    let rows_too_long: BTreeSet<usize> = too_long.map(|(piece, _)| piece.row()).collect();
    let recomputed = rows_too_long.len();
    if rows != recomputed {
        return Err(Breach::TooLongRows {
            plan: rows,
            recomputed,
        });
    }
    Ok(())
}

/// Every piece with one cut must find room on the bars, each lent one cut for its last piece.
fn check_not_enough(facts: &Facts<'_>, needed: Length, available: Length) -> Result<(), Breach> {
    let mut there = 0_i128;
    for (bar, kind) in facts.kinds.iter().enumerate() {
        let Some(bars) = kind.available else {
            return Err(Breach::WithoutLimit { bar });
        };
        there = (kind.usable() + facts.cut())
            .checked_mul(i128::from(bars))
            .and_then(|these| there.checked_add(these))
            .ok_or(Breach::TooLarge)?;
    }
    let taken = pieces_and_what_they_take(facts)?;
    let taken = taken
        .iter()
        .map(|(piece, taken)| (taken + facts.cut()).checked_mul(i128::from(piece.qty())))
        .try_fold(0_i128, |sum, next| sum.checked_add(next?));
    let taken = taken.ok_or(Breach::TooLarge)?;
    if nm(needed) != taken {
        return Err(Breach::NeededLength {
            plan: needed,
            recomputed: length(taken)?,
        });
    }
    if nm(available) != there {
        return Err(Breach::AvailableLength {
            plan: available,
            recomputed: length(there)?,
        });
    }
    if taken <= there {
        return Err(Breach::LengthSuffices { needed, available });
    }
    Ok(())
}

/// Every piece with what it takes of a bar by itself: its length, and what its mitred ends take.
fn pieces_and_what_they_take<'a>(facts: &Facts<'a>) -> Result<Vec<(&'a Piece, i128)>, Breach> {
    let pieces = facts.material.pieces().iter();
    pieces
        .map(|piece| {
            let mitred = facts.mitred(piece.ends())?;
            Ok((piece, nm(piece.length()) + mitred.all))
        })
        .collect()
}
