//! The parts of runs in a plan: do they make up every copy, and are they joined as the rules say?

use std::collections::{BTreeMap, BTreeSet, HashMap};

use super::demand::Marked;
use super::facts::{Facts, length, nm};
use super::refusal::{Breach, RunBreach};
use super::runs::{JointNumbers, Parting};
use crate::job::{LaidCourse, Material, Piece};
use crate::plan::{BarGroup, Cut, RunPart};

/// Of a group of courses and a place: the numbers of the courses joined there.
type Joined = BTreeMap<(usize, i128), Vec<u64>>;

/// Whether each cut says for each bar of its group which part it is, and those of a group are alike.
pub(super) fn check_alike(group: &BarGroup) -> Result<(), Breach> {
    for cut in group.cuts.iter().filter(|cut| !cut.parts.is_empty()) {
        if cut.parts.len() != cut.marks.len() {
            return Err(Breach::from(RunBreach::PartsPerBar {
                mark: cut.marks.first().cloned().unwrap_or_default(),
                parts: cut.parts.len(),
                bars: cut.marks.len(),
            }));
        }
        let first = cut.parts.first();
        for (mark, part) in cut.marks.iter().zip(&cut.parts) {
            let is_alike = first.is_some_and(|first| {
                let copy = part.copy;
                RunPart {
                    copy,
                    ..first.clone()
                } == *part
            });
            if !is_alike {
                let mark = mark.clone();
                return Err(RunBreach::PartsDiffer { mark }.into());
            }
        }
    }
    Ok(())
}

/// Every copy of every run in turn, then the rules of the courses.
pub(super) fn check_runs(facts: &Facts<'_>, marked: &mut Marked<'_>) -> Result<(), Breach> {
    let mut joined = Joined::new();
    for alike in &facts.runs {
        let joints = alike.allowed()?;
        for piece in &alike.pieces {
            let parting = alike.parting.of_alike(piece);
            for copy in 0..piece.qty() {
                let places = check_copy(&parting, joints, copy, marked)?;
                let Some(course) = piece.run().and_then(|run| run.course()) else {
                    continue;
                };
                for place in places {
                    let courses = joined.entry((course.group(), place)).or_default();
                    courses.push(course.first().saturating_add(copy));
                }
            }
        }
    }
    check_courses(facts.material, joined)
}

/// Checks one copy, and gives the places of its joints.
fn check_copy(
    parting: &Parting<'_>,
    joints: JointNumbers,
    copy: u64,
    marked: &mut Marked<'_>,
) -> Result<Vec<i128>, Breach> {
    let whole = parting.piece.copy_mark(copy);
    let mut places = Vec::new();
    if let Some((cut, part)) = marked.take(&whole) {
        check_part(parting, &whole, (cut, part), (copy, 1, 1), 0)?;
        return Ok(places);
    }
    let (mut number, mut of, mut begins) = (1_u32, None, 0);
    loop {
        let mark = format!("{whole}.{number}");
        let Some((cut, part)) = marked.take(&mark) else {
            let mark = if number == 1 { whole } else { mark };
            return Err(Breach::NotCut { mark });
        };
        // A copy that is left whole has no number in its mark.
        let parts = *of.get_or_insert(part.map_or(0, |part| part.of).max(2));
        begins = check_part(parting, &mark, (cut, part), (copy, number, parts), begins)?;
        if number == parts {
            break;
        }
        places.push(begins);
        number += 1; // less than `parts`
    }
    let count = u64::from(number) - 1; // from 2 on
    if count > joints.most {
        return Err(Breach::from(RunBreach::TooManyJoints {
            mark: whole,
            joints: count,
            most: joints.most,
        }));
    }
    Ok(places)
}

/// Checks one part, which should begin at `begins`, and gives where it ends. `name` is the copy from 0,
/// the part from 1, and how many there are.
fn check_part(
    parting: &Parting<'_>,
    mark: &str,
    (cut, part): (&Cut, Option<&RunPart>),
    name: (u64, u32, u32),
    begins: i128,
) -> Result<i128, Breach> {
    let mark = mark.to_owned();
    let Some(part) = part else {
        return Err(RunBreach::WithoutPart { mark }.into());
    };
    let (copy, number, of) = name;
    let row = parting.piece.mark();
    if part.mark != row
        || part.copy != parting.piece.copy_number(copy)
        || (part.part, part.of) != (number, of)
    {
        return Err(Breach::from(RunBreach::PartName {
            mark,
            row: part.mark.clone(),
            copy: part.copy,
            part: part.part,
            of: part.of,
        }));
    }
    check_places(parting, &mark, part, begins)?;
    check_cut(parting, mark, cut, part)?;
    Ok(nm(part.to))
}

fn check_places(
    parting: &Parting<'_>,
    mark: &str,
    part: &RunPart,
    begins: i128,
) -> Result<(), Breach> {
    let mark = || mark.to_owned();
    if nm(part.from) != begins {
        return Err(Breach::from(RunBreach::PartBegins {
            mark: mark(),
            plan: part.from,
            recomputed: length(begins)?,
        }));
    }
    let is_last = part.part == part.of;
    let ends = nm(part.to);
    if ends <= begins || is_last && ends != parting.opening {
        return Err(Breach::from(RunBreach::PartEnds {
            mark: mark(),
            plan: part.to,
            opening: parting.piece.opening(),
        }));
    }
    let (at_from, at_to) = ((part.from, part.from_support), (part.to, part.to_support));
    for ((place, plan), is_end) in [(at_from, part.part == 1), (at_to, is_last)] {
        let recomputed = if is_end {
            Ok(None)
        } else {
            parting.support(nm(place))
        };
        let Ok(recomputed) = recomputed else {
            let mark = mark();
            return Err(RunBreach::NoPlace { mark, place }.into());
        };
        if plan != recomputed {
            return Err(Breach::from(RunBreach::Support {
                mark: mark(),
                place,
                plan,
                recomputed,
            }));
        }
    }
    Ok(())
}

/// Whether a part is cut as long as gaps leave it, at the angles of the ends of its run, long enough, and
/// as a spare or not.
fn check_cut(parting: &Parting<'_>, mark: String, cut: &Cut, part: &RunPart) -> Result<(), Breach> {
    let asked = parting.part(nm(part.from), nm(part.to));
    let job = asked.map_or(0, |asked| asked.length);
    if job == 0 || nm(cut.length) != job {
        return Err(Breach::WrongLength {
            mark,
            plan: cut.length,
            job: length(job)?,
        });
    }
    if let Some(asked) = asked.filter(|asked| asked.ends != cut.ends) {
        return Err(Breach::WrongEnds {
            mark,
            plan: cut.ends,
            job: asked.ends,
        });
    }
    if part.of > 1 && job < parting.shortest {
        return Err(Breach::from(RunBreach::TooShort {
            mark,
            length: cut.length,
            shortest: parting.run.shortest(),
        }));
    }
    check_spare(parting.piece, mark, cut)
}

/// Whether a spare is called one, and nothing else is, and the stage is that of the piece.
pub(super) fn check_spare(piece: &Piece, mark: String, cut: &Cut) -> Result<(), Breach> {
    if cut.stage != piece.stage() {
        return Err(Breach::WrongStage {
            mark,
            plan: cut.stage,
            job: piece.stage(),
        });
    }
    if cut.for_bar && !piece.is_for_bar() {
        return Err(Breach::SpareNotAsked { mark });
    }
    if piece.is_for_bar() && !cut.for_bar {
        return Err(Breach::SpareNotSaid { mark });
    }
    match (cut.spare, piece.is_spare()) {
        (true, false) => Err(Breach::SpareNotAsked { mark }),
        (false, true) => Err(Breach::SpareNotSaid { mark }),
        _ => Ok(()),
    }
}

/// The courses of each group in the order of their numbers.
pub(super) fn courses(material: &Material) -> BTreeMap<usize, Vec<u64>> {
    let mut courses: BTreeMap<usize, Vec<u64>> = BTreeMap::new();
    for piece in material.pieces() {
        if let Some(course) = piece.run().and_then(|run| run.course()) {
            let of_piece = (0..piece.qty()).map(|copy| course.first().saturating_add(copy));
            courses.entry(course.group()).or_default().extend(of_piece);
        }
    }
    for (group, courses) in &mut courses {
        courses.extend(laid(material, *group).iter().map(|laid| laid.course));
        courses.sort_unstable();
    }
    courses
}

/// The courses of a group that are laid already.
pub(super) fn laid(material: &Material, group: usize) -> &[LaidCourse] {
    let group = material.course_groups().get(group);
    group.map_or(&[][..], |group| group.laid())
}

/// At most `a` of `b` neighbouring courses joined at one place: no course and the `a`-th joined after
/// it are within `b` of each other.
fn check_courses(material: &Material, joined: Joined) -> Result<(), Breach> {
    let all = courses(material);
    let mut laid_at: HashMap<(usize, i128), BTreeSet<u64>> = HashMap::new();
    for (group, named) in material.course_groups().iter().enumerate() {
        for laid in named.laid() {
            for &joint in &laid.joints {
                let at = laid_at.entry((group, nm(joint))).or_default();
                at.insert(laid.course);
            }
        }
    }
    for ((group, place), mut joined) in joined {
        let Some(named) = material.course_groups().get(group) else {
            return Err(Breach::TooLarge); // no checked job has it
        };
        let laid = laid_at.get(&(group, place));
        joined.extend(laid.into_iter().flatten());
        joined.sort_unstable();
        let rule = named.rule();
        let of_group = all.get(&group).map_or(&[][..], Vec::as_slice);
        let order = |course: &u64| of_group.binary_search(course).unwrap_or_else(|at| at);
        let too_many = joined.windows(rule.joints as usize + 1).find(|courses| {
            // u32 into usize
            let ends = courses.first().zip(courses.last());
            ends.is_some_and(|(first, last)| order(last) - order(first) < rule.courses as usize)
        });
        if let Some(courses) = too_many {
            return Err(Breach::from(RunBreach::Courses {
                group: named.name().to_owned(),
                place: length(place)?,
                courses: courses.to_vec(),
                rule,
            }));
        }
    }
    Ok(())
}
