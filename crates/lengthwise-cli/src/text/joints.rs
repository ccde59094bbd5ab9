//! Where the joints of the runs fall: for whoever puts the parts up.

use std::collections::HashMap;

use lengthwise::job::{Course, Material, Piece, Run};
use lengthwise::plan::{Cutting, RunPart};
use lengthwise::{Length, Unit};

use super::ink::Ink;
use super::layout::{PAGE, paragraph, whole};
use super::marks::short_list;
use super::sheet::heading;

/// How the mark of a part ends: `.2`, and nothing where the run is not parted.
pub fn part_suffix(part: &RunPart) -> String {
    match part.of {
        1 => String::new(),
        _ => format!(".{}", part.part),
    }
}

/// The mark of the copy that a part belongs to, from the mark of the part.
pub fn copy_mark<'a>(mark: &'a str, part: &RunPart) -> &'a str {
    mark.strip_suffix(&part_suffix(part)).unwrap_or(mark)
}

/// Where a part goes, as a remark beside its mark.
pub fn place_of(part: &RunPart, unit: Unit) -> String {
    if part.of == 1 {
        return "(run in one piece)".to_owned();
    }
    let supports: Vec<u32> = [part.from_support, part.to_support]
        .into_iter()
        .flatten()
        .collect();
    let joints = match on_supports(&supports) {
        on if on.is_empty() => on,
        on => format!("; {on}"),
    };
    let (from, to) = (part.from.number(unit), part.to.text(unit));
    format!("({from} to {to}{joints})")
}

/// `joint on support 5`, `joints on supports 5 and 8`; nothing without supports.
fn on_supports(supports: &[u32]) -> String {
    match supports {
        [] => String::new(),
        [one] => format!("joint on support {one}"),
        [first @ .., last] => {
            let first: Vec<String> = first.iter().map(u32::to_string).collect();
            format!("joints on supports {} and {last}", first.join(", "))
        }
    }
}

/// Every run with the places of its joints, alike ones together; nothing without runs.
pub fn joints(cutting: &Cutting, material: &Material, unit: Unit, ink: Ink) -> String {
    let alike = alike_runs(cutting, material);
    if alike.is_empty() {
        return String::new();
    }
    let remark = "from the left end of the opening; .1 is leftmost";
    let mut out = heading("Where the joints fall", remark, ink);
    for alike in &alike {
        out.push_str(&alike.text(material, unit));
    }
    out
}

/// The runs that are put up alike, in the order of the rows.
pub fn alike_runs(cutting: &Cutting, material: &Material) -> Vec<Alike> {
    let parts = parts_by_copy(cutting);
    let mut alike: Vec<Alike> = Vec::new();
    let mut places: HashMap<Joined, usize> = HashMap::new();
    for piece in material.pieces() {
        let Some(run) = piece.run() else {
            continue;
        };
        for copy in 0..piece.qty() {
            let mark = piece.copy_mark(copy);
            let Some(parts) = parts.get(mark.as_str()) else {
                continue;
            };
            let joined = Joined::of(piece, run, parts);
            let place = *places.entry(joined).or_insert_with_key(|joined| {
                alike.push(Alike {
                    joined: joined.clone(),
                    marks: vec![],
                    courses: vec![],
                });
                alike.len() - 1
            });
            if let Some(alike) = alike.get_mut(place) {
                alike.marks.push(mark);
                let course = run.course().map(Course::first);
                let course = course.and_then(|first| first.checked_add(copy));
                alike.courses.extend(course);
            }
        }
    }
    alike
}

/// The parts of every copy by its mark, from left to right.
fn parts_by_copy(cutting: &Cutting) -> HashMap<&str, Vec<&RunPart>> {
    let cuts = cutting.bars.iter().flat_map(|bars| &bars.cuts);
    let mut found: HashMap<&str, Vec<&RunPart>> = HashMap::new();
    for (mark, part) in cuts.flat_map(|cut| cut.marks.iter().zip(&cut.parts)) {
        found.entry(copy_mark(mark, part)).or_default().push(part);
    }
    for parts in found.values_mut() {
        parts.sort_by_key(|part| part.part);
    }
    found
}

/// What two runs have in common that are put up alike.
#[derive(Clone, PartialEq, Eq, Hash)]
struct Joined {
    opening: Length,
    joints: Vec<(Length, Option<u32>)>,
    joint_gap: Length,
    end_gap: (Length, Length),
    group: Option<usize>,
}

impl Joined {
    fn of(piece: &Piece, run: &Run, parts: &[&RunPart]) -> Joined {
        let (_, before) = parts.split_last().unzip();
        let joints = before.unwrap_or_default().iter();
        Joined {
            opening: piece.opening(),
            joints: joints.map(|part| (part.to, part.to_support)).collect(),
            joint_gap: run.joint_gap(),
            end_gap: (piece.end_gap().near, piece.end_gap().far),
            group: run.course().map(Course::group),
        }
    }
}

/// Runs that are put up alike.
pub struct Alike {
    joined: Joined,
    marks: Vec<String>,
    courses: Vec<u64>,
}

impl Alike {
    /// `6 x 3.1m at 3m`; nothing without joints.
    pub fn counted(&self, unit: Unit) -> Option<String> {
        let joints = self.joined.joints.iter();
        let joints: Vec<String> = joints.map(|(place, _)| place.text(unit)).collect();
        let count = self.marks.len();
        let opening = self.joined.opening.text(unit);
        (!joints.is_empty()).then(|| format!("{count} x {opening} at {}", joints.join(" and ")))
    }

    fn text(&self, material: &Material, unit: Unit) -> String {
        let marks: Vec<&str> = self.marks.iter().map(String::as_str).collect();
        let marks: Vec<String> = short_list(&marks).iter().map(|mark| whole(mark)).collect();
        let clauses = [self.parts(unit), self.gaps(unit), self.lies_in(material)];
        let clauses = clauses.into_iter().filter(|clause| !clause.is_empty());
        let clauses: Vec<String> = clauses.collect();
        let text = format!("{}: {}", marks.join(", "), clauses.join("; "));
        paragraph("  ", &text, 6)
    }

    /// `0 to 3000 to 3100mm, joint on support 5`.
    fn parts(&self, unit: Unit) -> String {
        let opening = self.joined.opening.text(unit);
        if self.joined.joints.is_empty() {
            return format!("{}, in one piece", whole(&opening));
        }
        let joints = self.joined.joints.iter();
        let places = joints.clone().map(|(place, _)| place.number(unit));
        let places = [Length::ZERO.number(unit)].into_iter().chain(places);
        let places: Vec<String> = places.chain([opening]).map(|place| whole(&place)).collect();
        let supports: Vec<u32> = joints.filter_map(|(_, support)| *support).collect();
        let on = match on_supports(&supports) {
            on if on.is_empty() => on,
            on => format!(", {on}"),
        };
        format!("{}{on}", places.join(&format!(" {}", whole("to "))))
    }

    fn gaps(&self, unit: Unit) -> String {
        let joined = &self.joined;
        let mut open = Vec::new();
        if !joined.joints.is_empty() && !joined.joint_gap.is_zero() {
            let gap = joined.joint_gap.text(unit);
            open.push(whole(&format!("{gap} open at each joint")));
        }
        let (near, far) = joined.end_gap;
        if !near.is_zero() || !far.is_zero() {
            let (near, far) = (near.number(unit), far.text(unit));
            open.push(whole(&format!("{near}/{far} open at the ends")));
        }
        open.join(", ")
    }

    /// `north wall, courses 1 to 3`.
    fn lies_in(&self, material: &Material) -> String {
        let group = self.joined.group;
        let Some(group) = group.and_then(|group| material.course_groups().get(group)) else {
            return String::new();
        };
        let mut courses = self.courses.clone();
        courses.sort_unstable();
        let courses: Vec<String> = courses.iter().map(u64::to_string).collect();
        let names: Vec<&str> = courses.iter().map(String::as_str).collect();
        let word = if courses.len() == 1 {
            "course"
        } else {
            "courses"
        };
        let courses = format!("{word} {}", short_list(&names).join(", "));
        // A short list stays on one line.
        let courses = match courses.len() <= PAGE / 2 {
            true => whole(&courses),
            false => courses,
        };
        format!("{}, {courses}", whole(group.name()))
    }
}
