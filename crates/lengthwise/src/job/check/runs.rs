//! Rows with joints: do their rules make sense, alone and beside the other courses of their group?

use std::collections::{BTreeMap, HashMap, HashSet};

use super::{check_length, fault, key, reporter};
use crate::fault::{Ceiling, Fault, FaultKind};
use crate::job::marks::Expanded;
use crate::job::{
    Course, CourseGroup, CourseRule, DEFAULT_SHORTEST, Joints, LARGEST_QUANTITY, LARGEST_RULE,
    PieceRow, Run, ceilings,
};
use crate::length::Length;

/// What concerns one row alone.
pub(super) fn check_row(row: &PieceRow, most_places: u64, faults: &mut Vec<Fault>) {
    check_company(row, faults);
    if let Some(shortest) = row.shortest {
        check_length(&row.origin, "shortest", shortest, faults);
    }
    check_joints(row, most_places, faults);
    let mut push = reporter(FaultKind::Range, &row.origin, faults);
    if let Some(most) = row.joints_max
        && !(1..=u64::from(LARGEST_RULE)).contains(&most)
    {
        let accepted = format!("a whole number from 1 to {LARGEST_RULE}");
        push("joints_max", most.to_string(), accepted);
    }
    if let Some(course) = row.course
        && !(1..=LARGEST_QUANTITY).contains(&course)
    {
        let accepted = format!("a whole number from 1 to {LARGEST_QUANTITY}");
        push("course", course.to_string(), accepted);
    }
    if let Some(CourseRule { joints, courses }) = row.course_rule
        && !(1 <= joints && joints < courses && courses <= LARGEST_RULE)
    {
        let accepted = format!(
            "joints/courses such as 1/2: at least one joint, in more courses than joints, at most \
             {LARGEST_RULE}"
        );
        push("course_rule", format!("{joints}/{courses}"), accepted);
    }
}

/// Whether each column has the others that it needs.
fn check_company(row: &PieceRow, faults: &mut Vec<Fault>) {
    let grouped = !row.course_group.trim().is_empty();
    let joined = row.joints.is_some();
    let alone = [
        ("joint_gap", row.joint_gap.is_some() && !joined, "joints"),
        ("joints_max", row.joints_max.is_some() && !joined, "joints"),
        ("shortest", row.shortest.is_some() && !joined, "joints"),
        ("course_group", grouped && !joined, "joints"),
        (
            "course_group",
            grouped && joined && row.course.is_none(),
            "course",
        ),
        ("course", row.course.is_some() && !grouped, "course_group"),
        ("laid", !row.laid.is_empty() && !grouped, "course_group"),
        (
            "course_rule",
            row.course_rule.is_some() && !grouped,
            "course_group",
        ),
    ];
    for (column, _, missing) in alone.into_iter().filter(|(_, alone, _)| *alone) {
        let found = format!("a {column} and no {missing}");
        let accepted = format!("a {missing} beside it, or no {column}");
        faults.push(fault(
            FaultKind::Value,
            &row.origin,
            column,
            found,
            accepted,
        ));
    }
    if grouped && row.joints == Some(Joints::Anywhere) {
        let found = "joints anywhere in a course group";
        let accepted = "supports that the courses share, such as every 600 or at 600 1200";
        faults.push(fault(
            FaultKind::Value,
            &row.origin,
            "joints",
            found,
            accepted,
        ));
    }
}

fn check_joints(row: &PieceRow, most_places: u64, faults: &mut Vec<Fault>) {
    let Some(joints) = &row.joints else {
        return;
    };
    let unit = row.length.unit;
    let longest = row
        .to
        .map_or(row.length.length, |to| to.length.max(row.length.length));
    let places = match joints {
        Joints::Anywhere => 0,
        Joints::Every { spacing, .. } => {
            u64::try_from(longest.nm() / spacing.nm().max(1)).unwrap_or(u64::MAX)
        }
        Joints::At(places) => places.len() as u64, // widening on every platform
    };
    let is_zero = matches!(joints, Joints::Every { spacing, .. } if spacing.is_zero());
    if places > most_places && !is_zero {
        let found = format!("{places} places for joints in one run");
        let origin = Some(&row.origin);
        faults.push(ceilings::above(
            Ceiling::Joints,
            origin,
            Some("joints"),
            found,
            most_places,
        ));
        return;
    }
    let mut push = reporter(FaultKind::Range, &row.origin, faults);
    let wrong = match joints {
        Joints::Anywhere => None,
        Joints::Every { spacing, .. } if spacing.is_zero() => {
            Some("a spacing above 0, such as every 600")
        }
        Joints::Every { .. } => None,
        Joints::At(places) if places.is_empty() || places.iter().any(|place| place.is_zero()) => {
            Some("places above 0, such as at 600 1200 1850")
        }
        Joints::At(places) if !places.is_sorted_by(|one, next| one < next) => {
            Some("rising places, such as at 600 1200 1850")
        }
        Joints::At(places) => places
            .last()
            .filter(|&&last| last >= longest && !longest.is_zero())
            .map(|_| "places inside the run, measured from its left end"),
    };
    if let Some(accepted) = wrong {
        let found = format!("{} on a run of {}", joints.text(unit), longest.text(unit));
        push("joints", found, accepted.to_owned());
    }
    if let Some(gap) = row
        .joint_gap
        .filter(|&gap| gap >= longest && !longest.is_zero())
    {
        let found = format!(
            "{} at the joints of a run of {}",
            gap.text(unit),
            longest.text(unit)
        );
        push("joint_gap", found, "a gap shorter than the run".to_owned());
    }
}

/// The runs of the rows, where they have joints, and the groups of their courses.
pub(super) fn runs(
    rows: &[Expanded<'_>],
    material: Option<Length>,
    faults: &mut Vec<Fault>,
) -> (Vec<Option<Run>>, Vec<CourseGroup>) {
    let mut groups = Groups::default();
    let runs = rows.iter().map(|expanded| {
        let row = expanded.row;
        let joints = row.joints.clone()?;
        Some(Run {
            joints,
            joint_gap: row.joint_gap.unwrap_or(Length::ZERO),
            joints_max: row.joints_max,
            shortest: row.shortest.or(material).unwrap_or(DEFAULT_SHORTEST),
            course: groups.course(expanded, faults),
        })
    });
    let runs = runs.collect();
    for group in &mut groups.groups {
        group.laid.sort_by_key(|laid| laid.course);
    }
    check_laid_is_not_cut(&groups.groups, &groups.rows, faults);
    check_marks(rows, faults);
    (runs, groups.groups)
}

/// A mark must not read like one of the parts of a run: `T2.1` and `T2-03.1` are parts of `T2`.
fn check_marks(rows: &[Expanded<'_>], faults: &mut Vec<Fault>) {
    let runs = RunMarks::of(rows);
    for Expanded { row, .. } in rows {
        let mark = row.mark.trim();
        if let Some((run, line)) = runs.with_part(mark) {
            let accepted = format!(
                "a mark that does not read like a part of the run {run} in line {line}, whose parts are \
                 {run}.1, {run}.2 and so on"
            );
            faults.push(fault(FaultKind::Value, &row.origin, "mark", mark, accepted));
        }
    }
}

/// The marks of the rows that have joints.
struct RunMarks<'a> {
    lines: HashMap<&'a str, u64>,
    /// The copies of each mark, whatever rows they are of: together they are numbered.
    copies: HashMap<&'a str, u64>,
}

impl<'a> RunMarks<'a> {
    fn of(rows: &[Expanded<'a>]) -> RunMarks<'a> {
        let marked = rows
            .iter()
            .map(|expanded| (expanded.row.mark.trim(), expanded));
        let marked = marked.filter(|(mark, _)| !mark.is_empty());
        let mut runs = RunMarks {
            lines: HashMap::new(),
            copies: HashMap::new(),
        };
        for (mark, expanded) in marked {
            let copies = runs.copies.entry(mark).or_default();
            *copies = copies.saturating_add(expanded.count());
            if expanded.row.joints.is_some() {
                runs.lines.insert(mark, expanded.row.origin.line);
            }
        }
        runs
    }

    /// The run that has a part with this mark, or seems to, and the line of its row.
    fn with_part<'m>(&self, mark: &'m str) -> Option<(&'m str, u64)> {
        let copy = before_number(mark, '.')?;
        let row_of_copy = before_number(copy, '-').filter(|row| self.has_numbers(row));
        let run = [Some(copy), row_of_copy].into_iter().flatten();
        run.filter_map(|run| Some((run, *self.lines.get(run)?)))
            .next()
    }

    /// Whether the copies of a mark are numbered: a single one has the mark itself.
    fn has_numbers(&self, mark: &str) -> bool {
        self.copies.get(mark).is_some_and(|copies| *copies > 1)
    }
}

/// What stands before a sign with a number behind it at the end of a mark.
fn before_number(mark: &str, sign: char) -> Option<&str> {
    let (head, number) = mark.rsplit_once(sign)?;
    let is_number = !number.is_empty() && number.bytes().all(|byte| byte.is_ascii_digit());
    is_number.then_some(head)
}

/// The groups met so far.
#[derive(Default)]
struct Groups<'a> {
    places: HashMap<String, usize>,
    groups: Vec<CourseGroup>,
    /// Of each group: its rows so far, with the courses of each.
    rows: Vec<Vec<(&'a PieceRow, std::ops::Range<u64>)>>,
    /// Of each group: what its rows have to agree on.
    met: Vec<Met<'a>>,
}

/// What the rows of a group have said so far.
#[derive(Default)]
struct Met<'a> {
    /// The rule, with the first row that states one.
    rule: Option<(CourseRule, &'a PieceRow)>,
    /// The same of where evenly spaced supports begin.
    origin: Option<(Length, &'a PieceRow)>,
    /// Where courses begin, where they end, and the row.
    courses: BTreeMap<u64, (u64, &'a PieceRow)>,
    /// Courses that are laid.
    laid: HashSet<u64>,
}

impl<'a> Met<'a> {
    /// The first row that says anything, where this one says another thing.
    fn other<T: PartialEq + Copy>(
        met: &mut Option<(T, &'a PieceRow)>,
        said: Option<T>,
        row: &'a PieceRow,
    ) -> Option<(T, &'a PieceRow)> {
        let said = said?;
        let first = *met.get_or_insert((said, row));
        (first.0 != said).then_some(first)
    }

    /// A row that has one of these courses, and the first of them.
    fn taken(&self, courses: &std::ops::Range<u64>) -> Option<(u64, &'a PieceRow)> {
        let (start, (end, row)) = self.courses.range(..courses.end).next_back()?;
        (*end > courses.start).then_some((courses.start.max(*start), *row))
    }
}

impl<'a> Groups<'a> {
    /// The courses of a row; what contradicts the rows before it is a fault.
    fn course(&mut self, expanded: &Expanded<'a>, faults: &mut Vec<Fault>) -> Option<Course> {
        let row = expanded.row;
        let first = row.course?;
        let name = row.course_group.trim();
        if name.is_empty() {
            return None; // reported beside the row
        }
        let group = *self.places.entry(key(name)).or_insert_with(|| {
            self.groups.push(CourseGroup {
                name: name.to_owned(),
                rule: CourseRule::default(),
                laid: Vec::new(),
            });
            self.rows.push(Vec::new());
            self.met.push(Met::default());
            self.groups.len() - 1
        });
        let courses = first..first.saturating_add(expanded.count());
        let is_numbered = first <= LARGEST_QUANTITY; // else reported beside the row
        if is_numbered && courses.end > LARGEST_QUANTITY + 1 {
            let found = format!("{first}, so that its last course is {}", courses.end - 1);
            let accepted = format!("a course whose last is at most {LARGEST_QUANTITY}");
            reporter(FaultKind::Range, &row.origin, faults)("course", found, accepted);
        }
        let before = self.rows.get_mut(group)?;
        let met = self.met.get_mut(group)?;
        check_neighbours(row, &courses, met, faults);
        if let (Some(rule), Some(group)) = (row.course_rule, self.groups.get_mut(group)) {
            group.rule = rule;
        }
        if let Some(group) = self.groups.get_mut(group) {
            check_laid(row, group, &mut met.laid, faults);
        }
        before.push((row, courses));
        Some(Course { group, first })
    }
}

/// Takes over what a row states of courses that are laid.
fn check_laid(
    row: &PieceRow,
    group: &mut CourseGroup,
    known: &mut HashSet<u64>,
    faults: &mut Vec<Fault>,
) {
    let mut push = reporter(FaultKind::Range, &row.origin, faults);
    for laid in &row.laid {
        let accepted = "each laid course once, its number from 1, its joints rising and above 0";
        let rising = laid.joints.is_sorted_by(|one, next| one < next);
        let above_zero = laid.joints.first().is_none_or(|joint| !joint.is_zero());
        if known.contains(&laid.course) || laid.course == 0 || !rising || !above_zero {
            let found = format!("course {} of \"{}\"", laid.course, group.name);
            push("laid", found, accepted.to_owned());
        } else {
            known.insert(laid.course);
            group.laid.push(laid.clone());
        }
    }
}

/// A course that is laid is not cut again.
fn check_laid_is_not_cut(
    groups: &[CourseGroup],
    rows: &[Vec<(&PieceRow, std::ops::Range<u64>)>],
    faults: &mut Vec<Fault>,
) {
    for (group, rows) in groups.iter().zip(rows) {
        for (row, courses) in rows {
            let laid = group.laid.iter().map(|laid| laid.course);
            let from = group
                .laid
                .partition_point(|laid| laid.course < courses.start);
            for course in laid.skip(from).take_while(|course| *course < courses.end) {
                faults.push(fault(
                    FaultKind::RowsDiffer,
                    &row.origin,
                    "course",
                    format!(
                        "course {course} of \"{}\", which is laid already",
                        group.name
                    ),
                    "courses that are still to be cut",
                ));
            }
        }
    }
}

/// One rule, one origin of supports and no course twice in a group.
fn check_neighbours<'a>(
    row: &'a PieceRow,
    courses: &std::ops::Range<u64>,
    met: &mut Met<'a>,
    faults: &mut Vec<Fault>,
) {
    let mut push = reporter(FaultKind::RowsDiffer, &row.origin, faults);
    let group = row.course_group.trim();
    if let Some((stated, other)) = Met::other(&mut met.rule, row.course_rule, row) {
        let rule = row.course_rule.unwrap_or_default();
        let (joints, courses) = (stated.joints, stated.courses);
        let line = other.origin.line;
        push(
            "course_rule",
            format!("{}/{}", rule.joints, rule.courses),
            format!(
                "{joints}/{courses}, as in line {line}: one rule for the courses of \"{group}\""
            ),
        );
    }
    if let Some((stated, other)) = Met::other(&mut met.origin, origin_of(row), row) {
        let unit = row.length.unit;
        let from = origin_of(row).unwrap_or_default().text(unit);
        let line = other.origin.line;
        let stated = stated.text(unit);
        push(
            "joints",
            format!("supports from {from}"),
            format!("from {stated}, as in line {line}: one origin of supports in \"{group}\""),
        );
    }
    if let Some((course, other)) = met.taken(courses) {
        let line = other.origin.line;
        push(
            "course",
            format!("course {course} of \"{group}\" a second time"),
            format!("each course once (line {line} has it; qty 3 takes three courses)"),
        );
    } else {
        met.courses.insert(courses.start, (courses.end, row));
    }
}

/// Where evenly spaced supports begin.
fn origin_of(row: &PieceRow) -> Option<Length> {
    match row.joints {
        Some(Joints::Every { from, .. }) => Some(from),
        _ => None,
    }
}
