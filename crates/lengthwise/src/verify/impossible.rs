//! Reasons why there is no plan, checked again where the job alone decides.

use std::collections::BTreeSet;

use super::facts::{Facts, length, nm};
use super::refusal::Breach;
use super::runs::{Longest, NoWay, RunOf};
use super::{Claim, Trust};
use crate::job::{CourseRule, Piece, Shape};
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
            check_not_enough(facts, *needed, *available)?;
            Ok(Ok(Claim::NotEnoughLength))
        }
        Impossible::NoSplit {
            mark,
            length,
            rule,
            longest,
            rows,
        } => {
            check_no_split(facts, (mark, *length), *rule, *longest, *rows)?;
            Ok(Ok(Claim::NoSplit))
        }
        Impossible::Courses { group, rule, mark } => {
            check_courses(facts, group, *rule, mark)?;
            Ok(Err(Trust::Courses))
        }
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
    let recomputed = check_longest(facts, longest)?;
    if let Some(usable) = recomputed.filter(|&usable| takes <= usable) {
        return Err(Breach::FitsAfterAll {
            mark: mark.to_owned(),
            length: piece_length,
            usable,
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

/// The longest usable length of a bar that can be had, as the plan says it.
fn check_longest(
    facts: &Facts<'_>,
    longest: Option<(Length, Length)>,
) -> Result<Option<Length>, Breach> {
    // A kind of bar of which there is none does not count.
    let obtainable = facts.kinds.iter().filter(|kind| kind.available != Some(0));
    let usable = obtainable.clone().map(|kind| kind.usable().max(0)).max();
    let recomputed = usable.map(length).transpose()?;
    let right = match longest {
        None => recomputed.is_none(),
        Some((longest, whole)) => {
            Some(longest) == recomputed
                && obtainable
                    .clone()
                    .any(|kind| kind.usable() == nm(longest) && kind.length == nm(whole))
        }
    };
    if right {
        Ok(recomputed)
    } else {
        Err(Breach::LongestBar {
            plan: longest,
            recomputed,
        })
    }
}

/// A run for which the rules leave no split, and the rule that stands in the way.
fn check_no_split(
    facts: &Facts<'_>,
    (mark, opening): (&str, Length),
    rule: SplitRule,
    longest: Option<(Length, Length)>,
    rows: usize,
) -> Result<(), Breach> {
    check_longest(facts, longest)?;
    let reach = Longest::of(facts);
    let mut without: BTreeSet<usize> = BTreeSet::new();
    let mut is_right = false;
    for piece in facts.material.pieces() {
        let Some(run) = RunOf::new(piece) else {
            continue;
        };
        let Some(no_way) = no_way(facts, run, reach)? else {
            continue;
        };
        without.insert(piece.row());
        let named = piece.opening() == opening && piece.copy_mark(0) == mark;
        is_right |= named && no_way == stated(run, rule);
    }
    if !is_right {
        return Err(Breach::SplitAfterAll {
            mark: mark.to_owned(),
        });
    }
    let recomputed = without.len();
    if rows != recomputed {
        return Err(Breach::TooLongRows {
            plan: rows,
            recomputed,
        });
    }
    Ok(())
}

/// Why a run has no split; `None` where it has one.
fn no_way(facts: &Facts<'_>, run: RunOf<'_>, reach: Longest) -> Result<Option<NoWay>, Breach> {
    Ok(match run.places() {
        Some(inside) => run.splits(facts, &inside, reach, None)?.err(),
        None => run.numbers(facts, reach)?.err(),
    })
}

/// The rule that the plan names, where it names the rule of the run.
fn stated(run: RunOf<'_>, rule: SplitRule) -> NoWay {
    match rule {
        SplitRule::JointsMax { most, needed } => NoWay::Joints { most, needed },
        SplitRule::Shortest { shortest } if shortest == run.run.shortest() => NoWay::Shortest,
        // No run ever needs fewer joints than allowed: this is no reason.
        SplitRule::Shortest { .. } => NoWay::Joints { most: 0, needed: 0 },
        SplitRule::Bars => NoWay::Bars,
        SplitRule::Places { from, to } => NoWay::Places {
            from: nm(from),
            to: nm(to),
        },
    }
}

/// A group with this name and rule, of which the first course has this run.
fn check_courses(
    facts: &Facts<'_>,
    group: &str,
    rule: CourseRule,
    mark: &str,
) -> Result<(), Breach> {
    let place = facts
        .material
        .course_groups()
        .iter()
        .position(|other| other.name() == group && other.rule() == rule);
    let pieces = facts.material.pieces().iter();
    let of_group = pieces.filter_map(|piece| {
        let course = piece.run()?.course()?;
        (Some(course.group()) == place).then_some((course.first(), piece))
    });
    let first = of_group.min_by_key(|(first, _)| *first);
    if first.is_some_and(|(_, piece)| piece.copy_mark(0) == mark) {
        Ok(())
    } else {
        Err(Breach::NoSuchCourses {
            group: group.to_owned(),
            mark: mark.to_owned(),
        })
    }
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
    let taken = taken
        .and_then(|taken| taken.checked_add(taken_by_runs(facts).ok()?))
        .ok_or(Breach::TooLarge)?;
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

/// The least that runs take of bars, a cut with every part.
fn taken_by_runs(facts: &Facts<'_>) -> Result<i128, Breach> {
    let reach = Longest::of(facts);
    let mut all = 0_i128;
    for piece in facts.material.pieces() {
        let Some(run) = RunOf::new(piece) else {
            continue;
        };
        let no_split = |_| Breach::NoSplitAfterAll {
            mark: piece.copy_mark(0),
        };
        let least = match run.places() {
            Some(inside) => {
                let splits = run.splits(facts, &inside, reach, None)?.map_err(no_split)?;
                let takes = |shape: Shape| {
                    let mitred = facts.mitred(shape.ends).map_or(0, |mitred| mitred.all);
                    nm(shape.length) + mitred + facts.cut()
                };
                splits.least(takes, |_| 0).ok_or(Breach::TooLarge)?
            }
            None => {
                let numbers = run.numbers(facts, reach)?.map_err(no_split)?;
                run.takes(facts, numbers, reach)?
            }
        };
        all = least
            .checked_mul(i128::from(piece.qty()))
            .and_then(|least| all.checked_add(least))
            .ok_or(Breach::TooLarge)?;
    }
    Ok(all)
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
