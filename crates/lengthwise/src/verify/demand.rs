//! Every piece that is asked for is cut exactly once, and nothing else is cut.

use std::collections::{BTreeMap, BTreeSet};

use super::facts::{Facts, length, nm};
use super::refusal::Breach;
use super::runs::{Longest, RunOf};
use crate::job::Piece;
use crate::length::Length;
use crate::plan::{BarGroup, Cut, RunPart};

/// Matches the marks in the plan with the copies of the pieces, one to one, and the parts of every run
/// with the rules of its joints.
///
/// O(n log n) comparisons of marks, and no more memory than some words for each piece.
pub(super) fn check_demand(facts: &Facts<'_>, bars: &[BarGroup]) -> Result<(), Breach> {
    let material = facts.material;
    let mut cut = all_cut(bars)?;
    cut.sort_unstable_by_key(|cut| cut.mark);
    let twice = cut.iter().zip(cut.iter().skip(1));
    if let Some((one, _)) = twice.into_iter().find(|(one, next)| one.mark == next.mark) {
        return Err(Breach::CutTwice {
            mark: one.mark.to_owned(),
        });
    }
    let (mut parts, cut): (Vec<Made<'_>>, Vec<Made<'_>>) =
        cut.into_iter().partition(|cut| cut.part.is_some());
    let mut asked = vec![false; cut.len()];
    for piece in material
        .pieces()
        .iter()
        .filter(|piece| piece.run().is_none())
    {
        for copy in 0..piece.qty() {
            let mark = piece.copy_mark(copy);
            let place = cut.binary_search_by(|other| other.mark.cmp(mark.as_str()));
            let Some((made, asked)) = place
                .ok()
                .and_then(|at| cut.get(at).zip(asked.get_mut(at)))
                .filter(|(_, asked)| !**asked)
            else {
                return Err(Breach::NotCut { mark });
            };
            *asked = true;
            check_cut(piece, mark, made.cut)?;
        }
    }
    if let Some((made, _)) = cut.iter().zip(&asked).find(|(_, asked)| !**asked) {
        return Err(Breach::NoSuchPiece {
            mark: made.mark.to_owned(),
        });
    }
    parts.sort_by_key(|made| made.key());
    let joints = check_runs(facts, &parts)?;
    check_courses(facts, &joints)
}

/// One piece or part that the plan makes.
#[derive(Clone, Copy)]
struct Made<'p> {
    mark: &'p str,
    cut: &'p Cut,
    part: Option<&'p RunPart>,
}

impl<'p> Made<'p> {
    /// Row and copy of a part.
    fn copy(&self) -> Option<(&'p str, u64)> {
        self.key().map(|(mark, copy, _)| (mark, copy))
    }

    /// Row, copy and number of a part.
    fn key(&self) -> Option<(&'p str, u64, u32)> {
        self.part
            .map(|part| (part.mark.as_str(), part.copy, part.part))
    }
}

/// Everything that is cut; a cut says of each bar which part it is, or of none.
fn all_cut(bars: &[BarGroup]) -> Result<Vec<Made<'_>>, Breach> {
    let mut all = Vec::new();
    for cut in bars.iter().flat_map(|group| &group.cuts) {
        if !(cut.parts.is_empty() || cut.parts.len() == cut.marks.len()) {
            return Err(Breach::PartsOfBars {
                mark: cut.marks.first().cloned().unwrap_or_default(),
            });
        }
        all.extend(cut.marks.iter().enumerate().map(|(bar, mark)| Made {
            mark,
            cut,
            part: cut.parts.get(bar),
        }));
    }
    Ok(all)
}

/// Where the copies in courses are joined: group, course, places.
type Joints = BTreeMap<(usize, u64), Vec<Length>>;

/// The parts of every copy of every run, sorted by their keys.
fn check_runs(facts: &Facts<'_>, parts: &[Made<'_>]) -> Result<Joints, Breach> {
    let reach = Longest::of(facts);
    let mut joints = Joints::new();
    let mut seen = 0;
    for piece in facts.material.pieces() {
        let Some(run) = RunOf::new(piece) else {
            continue;
        };
        let most = most_joints(facts, run, reach)?;
        for copy in 0..piece.qty() {
            let mark = piece.copy_mark(copy);
            let number = piece.copy_number(copy);
            let asked = Some((piece.mark(), number));
            let from = parts.partition_point(|made| made.copy() < asked);
            let until = parts.partition_point(|made| made.copy() <= asked);
            let of_copy = parts.get(from..until).unwrap_or(&[]);
            if of_copy.is_empty() {
                return Err(Breach::NotCut { mark });
            }
            seen += of_copy.len();
            let at = check_copy(run, &mark, of_copy, most)?;
            if let Some(course) = run.run.course() {
                joints.insert((course.group(), course.first().saturating_add(copy)), at);
            }
        }
    }
    if seen == parts.len() {
        return Ok(joints);
    }
    let runs = facts
        .material
        .pieces()
        .iter()
        .filter(|it| it.run().is_some());
    let copies = runs.flat_map(|it| (0..it.qty()).map(|copy| (it.mark(), it.copy_number(copy))));
    let asked: BTreeSet<(&str, u64)> = copies.collect();
    let is_asked = |made: &&Made<'_>| made.copy().is_some_and(|copy| asked.contains(&copy));
    let surplus = parts.iter().find(|made| !is_asked(made));
    Err(Breach::NoSuchPiece {
        mark: surplus.map_or("", |made| made.mark).to_owned(),
    })
}

/// The most joints that a run may have.
fn most_joints(facts: &Facts<'_>, run: RunOf<'_>, reach: Longest) -> Result<u64, Breach> {
    let no_split = |_| Breach::NoSplitAfterAll {
        mark: run.piece.copy_mark(0),
    };
    Ok(match run.places() {
        Some(inside) => {
            run.splits(facts, &inside, reach, None)?
                .map_err(no_split)?
                .most_joints
        }
        None => run.numbers(facts, reach)?.map_err(no_split)?.most,
    })
}

/// Whether the parts of one copy make up the run by its rules; the places of its joints.
fn check_copy(
    run: RunOf<'_>,
    mark: &str,
    parts: &[Made<'_>],
    most: u64,
) -> Result<Vec<Length>, Breach> {
    let places = run.places();
    let support = |place: Length| -> Option<Option<u32>> {
        match &places {
            None => Some(None),
            Some(places) => {
                let at = places.binary_search(&nm(place)).ok()?;
                Some(Some(u32::try_from(at).ok()?.checked_add(1)?))
            }
        }
    };
    let mut from = Length::ZERO;
    let mut from_support = None;
    let mut joints = Vec::new();
    let count = parts.len();
    for (made, number) in parts.iter().zip(1_u32..) {
        let Some(part) = made.part else { continue };
        let is_last = number as usize == count; // u32 into usize
        let out_of_place = || Breach::PartPlace {
            mark: mark.to_owned(),
            part: part.part,
            of: part.of,
            from: part.from,
            to: part.to,
        };
        let to_support = if is_last {
            Some(None)
        } else {
            support(part.to)
        };
        let goes_on = part.part == number
            && part.of as usize == count // u32 into usize
            && part.from == from
            && part.to > part.from
            && (part.to == run.piece.opening()) == is_last
            && part.from_support == from_support
            && Some(part.to_support) == to_support;
        if !goes_on {
            return Err(out_of_place());
        }
        check_part(run, mark, made, part, count)?;
        if !is_last {
            joints.push(part.to);
        }
        from = part.to;
        from_support = part.to_support;
    }
    let plan = joints.len() as u64; // a count fits
    if plan > most {
        return Err(Breach::TooManyJoints {
            mark: mark.to_owned(),
            plan,
            job: most,
        });
    }
    Ok(joints)
}

/// Whether one part is cut as the run wants it.
fn check_part(
    run: RunOf<'_>,
    mark: &str,
    made: &Made<'_>,
    part: &RunPart,
    count: usize,
) -> Result<(), Breach> {
    let asked = run.part_length(nm(part.from), nm(part.to));
    let cut = made.cut;
    if nm(cut.length) != asked {
        return Err(Breach::WrongLength {
            mark: made.mark.to_owned(),
            plan: cut.length,
            job: length(asked.max(0))?,
        });
    }
    if count > 1 && asked < run.shortest() {
        return Err(Breach::PartTooShort {
            mark: mark.to_owned(),
            plan: cut.length,
            job: run.run.shortest(),
        });
    }
    let ends = run.ends(part.part == 1, part.part as usize == count); // u32 into usize
    if cut.ends != ends {
        return Err(Breach::WrongEnds {
            mark: made.mark.to_owned(),
            plan: cut.ends,
            job: ends,
        });
    }
    if !made.mark.starts_with(mark) {
        return Err(Breach::NoSuchPiece {
            mark: made.mark.to_owned(),
        });
    }
    let mark = made.mark.to_owned();
    match (cut.spare, run.piece.is_spare()) {
        (true, false) => Err(Breach::SpareNotAsked { mark }),
        (false, true) => Err(Breach::SpareNotSaid { mark }),
        _ => Ok(()),
    }
}

/// No more joints on one support than the rule of its group allows, in courses that follow each other.
fn check_courses(facts: &Facts<'_>, joints: &Joints) -> Result<(), Breach> {
    for (group, of_group) in facts.material.course_groups().iter().enumerate() {
        let rule = of_group.rule();
        let courses: Vec<(u64, &Vec<Length>)> = joints
            .iter()
            .filter(|((other, _), _)| *other == group)
            .map(|((_, course), places)| (*course, places))
            .collect();
        let length = (rule.courses as usize).min(courses.len()).max(1); // u32 into usize
        for window in courses.windows(length) {
            let mut on_place: BTreeMap<Length, u64> = BTreeMap::new();
            for place in window.iter().flat_map(|(_, places)| places.iter()) {
                *on_place.entry(*place).or_default() += 1;
            }
            let too_many = on_place
                .into_iter()
                .find(|(_, joints)| *joints > u64::from(rule.joints));
            if let Some((place, joints)) = too_many {
                return Err(Breach::CourseRule {
                    group,
                    first: window.first().map_or(0, |(course, _)| *course),
                    place,
                    joints,
                    allowed: rule.joints,
                });
            }
        }
    }
    Ok(())
}

/// Whether a piece is cut as it is asked for: the opening less its gaps, its ends, as a spare or not.
fn check_cut(piece: &Piece, mark: String, cut: &Cut) -> Result<(), Breach> {
    let gap = piece.end_gap();
    let asked = nm(piece.opening()) - nm(gap.near) - nm(gap.far);
    if nm(cut.length) != asked {
        return Err(Breach::WrongLength {
            mark,
            plan: cut.length,
            job: length(asked)?,
        });
    }
    if cut.ends != piece.ends() {
        return Err(Breach::WrongEnds {
            mark,
            plan: cut.ends,
            job: piece.ends(),
        });
    }
    match (cut.spare, piece.is_spare()) {
        (true, false) => Err(Breach::SpareNotAsked { mark }),
        (false, true) => Err(Breach::SpareNotSaid { mark }),
        _ => Ok(()),
    }
}
