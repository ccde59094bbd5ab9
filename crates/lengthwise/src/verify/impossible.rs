//! Reasons why there is no plan, checked again where the job alone decides.

use std::collections::{BTreeSet, HashMap};

use super::facts::{Facts, Kind, length, nm};
use super::refusal::{Breach, RunBreach};
use super::runs::least_taken;
use super::{Claim, Trust};
use crate::job::{CourseRule, Piece};
use crate::length::Length;
use crate::plan::{Impossible, SplitRule};

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
            let found = check_not_enough(facts, *needed, *available)?;
            Ok(found.map_or(Err(Trust::NotEnoughLength), |()| Ok(Claim::NotEnoughLength)))
        }
        Impossible::NoSplit {
            mark,
            length,
            rule,
            longest,
            rows,
        } => {
            let piece = check_no_split(facts, (mark, *length), *rule, *rows)?;
            check_longest(facts, *longest, piece.asked_batch())?;
            Ok(Ok(Claim::NoSplit))
        }
        Impossible::Courses { group, rule, mark } => {
            check_courses(facts, group, *rule, mark)?;
            Ok(Err(Trust::Courses))
        }
        Impossible::Walls { walls } => {
            let recomputed = facts.material.open_walls().len();
            if *walls != recomputed {
                return Err(Breach::WallBatches);
            }
            Ok(Err(Trust::Walls))
        }
        &Impossible::NotEnoughBars { left_over } => {
            check_left_over(facts, left_over)?;
            Ok(Err(Trust::NotEnoughBars { left_over }))
        }
    }
}

/// Without runs there are just the pieces that are asked for: of runs parts are left over.
fn check_left_over(facts: &Facts<'_>, left_over: u64) -> Result<(), Breach> {
    let pieces = facts.material.pieces();
    let has_runs = pieces.iter().any(|piece| piece.run().is_some());
    let pieces = pieces.iter().map(Piece::qty);
    let pieces = pieces.fold(0, u64::saturating_add);
    if !has_runs && left_over > pieces {
        return Err(Breach::MoreLeftOverThanPieces { left_over, pieces });
    }
    Ok(())
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
        .find(|(piece, _)| piece.mark() == mark || piece.has_copy(mark));
    let Some((piece, _)) = named else {
        return Err(Breach::NoSuchPieceTooLong {
            mark: mark.to_owned(),
            length: piece_length,
        });
    };
    let any = facts.longest_of(piece.batch());
    if nm(takes) <= any {
        return Err(Breach::FitsAfterAll {
            mark: mark.to_owned(),
            length: piece_length,
            usable: length(any)?,
        });
    }
    check_longest(facts, longest, piece.batch())?;
    let mut longest_of = HashMap::new();
    let too_long = taken.iter().filter(|(piece, taken)| {
        let longest = longest_of.entry(piece.batch());
        *taken > *longest.or_insert_with(|| facts.longest_of(piece.batch()))
    });
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

/// Whether the longest bar that can be had, of a batch where one is named, is the one that the plan names.
fn check_longest(
    facts: &Facts<'_>,
    longest: Option<(Length, Length)>,
    batch: Option<u32>,
) -> Result<(), Breach> {
    // A kind of bar of which there is none does not count.
    let obtainable = || {
        let kinds = facts.kinds.iter();
        let of_batch = kinds.filter(move |kind| batch.is_none_or(|batch| kind.batch == batch));
        of_batch.filter(|kind| kind.available != Some(0))
    };
    let recomputed = obtainable().next().map(|_| length(facts.longest_of(batch)));
    let recomputed = recomputed.transpose()?;
    let right = match longest {
        None => recomputed.is_none(),
        Some((longest, whole)) => {
            let is_named = |kind: &Kind| kind.usable() == nm(longest) && kind.length == nm(whole);
            Some(longest) == recomputed && obtainable().any(is_named)
        }
    };
    if right {
        return Ok(());
    }
    Err(Breach::LongestBar {
        plan: longest,
        recomputed,
    })
}

/// Whether the rules leave a run no split, the one named stands in the way, and as many rows are so; its
/// piece.
fn check_no_split<'a>(
    facts: &Facts<'a>,
    (mark, opening): (&str, Length),
    rule: SplitRule,
    rows: usize,
) -> Result<&'a Piece, Breach> {
    let mark = || mark.to_owned();
    let is_named = |piece: &&Piece| piece.opening() == opening && piece.copy_mark(0) == mark();
    let named = facts.runs.iter().find_map(|alike| {
        let mut pieces = alike.pieces.iter().copied();
        Some((alike, pieces.find(is_named)?))
    });
    let Some((alike, piece)) = named else {
        return Err(Breach::from(RunBreach::NoSuchRun {
            mark: mark(),
            length: opening,
        }));
    };
    match alike.joints {
        Ok(_) => return Err(RunBreach::SplitsAfterAll { mark: mark() }.into()),
        Err(recomputed) if recomputed != rule => {
            return Err(Breach::from(RunBreach::Rule {
                mark: mark(),
                plan: rule,
                recomputed,
            }));
        }
        Err(_) => {}
    }
    let without = facts.runs.iter().filter(|alike| alike.joints.is_err());
    let of_rows: BTreeSet<usize> = without
        .flat_map(|alike| alike.pieces.iter().map(|piece| piece.row()))
        .collect();
    let recomputed = of_rows.len();
    if rows != recomputed {
        let plan = rows;
        return Err(RunBreach::Rows { plan, recomputed }.into());
    }
    Ok(piece)
}

/// Whether there are such courses; that they are impossible is on trust.
fn check_courses(
    facts: &Facts<'_>,
    group: &str,
    rule: CourseRule,
    mark: &str,
) -> Result<(), Breach> {
    let groups = facts.material.course_groups().iter().enumerate();
    let mut named = groups.filter(|(_, named)| named.name() == group && named.rule() == rule);
    let is_first = |of_group: usize| {
        let courses = facts.material.pieces().iter().filter_map(|piece| {
            let course = piece.run()?.course()?;
            (course.group() == of_group).then_some((course.first(), piece))
        });
        let first = courses.min_by_key(|(course, _)| *course);
        first.is_some_and(|(_, piece)| piece.copy_mark(0) == mark)
    };
    if named.any(|(of_group, _)| is_first(of_group)) {
        return Ok(());
    }
    Err(Breach::from(RunBreach::NoSuchCourses {
        group: group.to_owned(),
        mark: mark.to_owned(),
    }))
}

/// Every piece with one cut must find room on the bars, each lent one cut for its last piece; of a run
/// the split that takes least counts. `None` where that takes too much to find.
fn check_not_enough(
    facts: &Facts<'_>,
    needed: Length,
    available: Length,
) -> Result<Option<()>, Breach> {
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
    let mut taken = taken.ok_or(Breach::TooLarge)?;
    for alike in &facts.runs {
        let Some(least) = least_taken(facts, alike)? else {
            return Ok(None);
        };
        taken = least
            .checked_mul(i128::from(alike.copies()))
            .and_then(|these| taken.checked_add(these))
            .ok_or(Breach::TooLarge)?;
    }
    // With their cuts pieces of the greatest length come to more than that.
    let told = |all: i128| length(all.min(nm(Length::MAX)));
    if needed != told(taken)? {
        return Err(Breach::NeededLength {
            plan: needed,
            recomputed: told(taken)?,
        });
    }
    if available != told(there)? {
        return Err(Breach::AvailableLength {
            plan: available,
            recomputed: told(there)?,
        });
    }
    if taken <= there {
        return Err(Breach::LengthSuffices { needed, available });
    }
    Ok(Some(()))
}

/// Every piece without joints, with what it takes of a bar by itself: its length, and what its mitred
/// ends take.
fn pieces_and_what_they_take<'a>(facts: &Facts<'a>) -> Result<Vec<(&'a Piece, i128)>, Breach> {
    let pieces = facts.material.pieces().iter();
    pieces
        .filter(|piece| piece.run().is_none())
        .map(|piece| {
            let mitred = facts.mitred(piece.ends())?;
            Ok((piece, nm(piece.length()) + mitred.all))
        })
        .collect()
}
