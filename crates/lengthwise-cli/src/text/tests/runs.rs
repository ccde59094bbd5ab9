//! Runs as people read them.

use lengthwise::job::{CourseRule, EndGap, Joints};
use lengthwise::plan::{RunPart, SplitRule};

use super::*;

fn every_600() -> Option<Joints> {
    Some(Joints::Every {
        spacing: mm(600),
        from: Length::ZERO,
    })
}

/// Joints of one run, from its left end to its right one, with the numbers of the supports.
struct Split<'a> {
    row: &'a str,
    copy: (u64, &'a str),
    places: &'a [(u32, Option<u32>)],
}

impl Split<'_> {
    fn part(&self, part: usize) -> (String, RunPart) {
        let of = self.places.len() - 1;
        let mark = match of {
            1 => self.copy.1.to_owned(),
            _ => format!("{}.{part}", self.copy.1),
        };
        let ((from, from_support), (to, to_support)) = (self.places[part - 1], self.places[part]);
        let part = RunPart {
            mark: self.row.to_owned(),
            copy: self.copy.0,
            part: u32::try_from(part).unwrap(),
            of: u32::try_from(of).unwrap(),
            from: mm(from),
            to: mm(to),
            from_support,
            to_support,
        };
        (mark, part)
    }
}

fn cut(length: u32, bars: Vec<(String, RunPart)>) -> Cut {
    let (marks, parts) = bars.into_iter().unzip();
    Cut {
        length: mm(length),
        ends: Ends::SQUARE,
        marks,
        spare: false,
        for_bar: false,
        stage: 1,
        parts,
    }
}

fn bars(names: Vec<String>, stock: u32, cuts: Vec<Cut>, blade: u32, offcut: u32) -> BarGroup {
    BarGroup {
        names,
        bar: 0,
        stock: mm(stock),
        in_hand: false,
        cuts,
        blade: mm(blade),
        reserve: Length::ZERO,
        square: Length::ZERO,
        offcut: mm(offcut),
        offcut_rough: Length::ZERO,
        saved: offcut >= 300,
    }
}

/// Six edges of 3100 with 4 open at each joint and 5 at the ends, three courses, and a run in one piece.
fn job_of_runs() -> Job {
    let edges = PieceRow {
        joints: every_600(),
        joint_gap: Some(mm(4)),
        end_gap: EndGap {
            near: mm(5),
            far: mm(5),
        },
        ..piece("trim", "T", "3110", 6)
    };
    let courses = PieceRow {
        joints: every_600(),
        course_group: "north wall".to_owned(),
        course: Some(4),
        course_rule: Some(CourseRule {
            joints: 1,
            courses: 2,
        }),
        ..piece("trim", "C", "4200", 3)
    };
    let short = PieceRow {
        joints: Some(Joints::Anywhere),
        ..piece("trim", "sill", "1100", 1)
    };
    job(
        vec![edges, courses, short, piece("trim", "S", "500", 1)],
        vec![stock("trim", "3000", None, Sold::Each)],
        vec![],
        Saw::default(),
    )
}

fn edge(copy: u64, name: &str) -> Split<'_> {
    Split {
        row: "T",
        copy: (copy, name),
        places: &[(0, None), (3000, Some(5)), (3110, None)],
    }
}

fn course<'a>(copy: u64, name: &'a str, places: &'a [(u32, Option<u32>)]) -> Split<'a> {
    Split {
        row: "C",
        copy: (copy, name),
        places,
    }
}

const AT_2400: &[(u32, Option<u32>)] = &[(0, None), (2400, Some(4)), (4200, None)];
const AT_1800: &[(u32, Option<u32>)] = &[(0, None), (1800, Some(3)), (4200, None)];

#[test]
fn runs_on_the_sheet_and_on_the_wall() {
    let job = job_of_runs();
    let marks: Vec<String> = (1..=6).map(|copy| format!("T-0{copy}")).collect();
    let edges = |part: usize| {
        let edges = (1..).zip(&marks);
        edges.map(move |(copy, mark)| edge(copy, mark).part(part))
    };
    let whole_run = Split {
        row: "sill",
        copy: (1, "sill"),
        places: &[(0, None), (1100, None)],
    };
    let fillers = edges(2).map(|part| cut(103, vec![part]));
    let ordinary = Cut {
        parts: vec![],
        marks: vec!["S".to_owned()],
        ..cut(500, vec![])
    };
    let (one, two, three) = (
        course(1, "C-01", AT_2400),
        course(2, "C-02", AT_1800),
        course(3, "C-03", AT_2400),
    );
    let groups = vec![
        bars(
            names("A", 6),
            3000,
            vec![cut(2993, edges(1).collect())],
            3,
            4,
        ),
        bars(
            names("B", 2),
            3000,
            vec![cut(2400, vec![one.part(1), three.part(1)])],
            3,
            597,
        ),
        bars(
            names("C", 1),
            3000,
            [cut(1100, vec![whole_run.part(1)]), ordinary]
                .into_iter()
                .chain(fillers)
                .collect(),
            24,
            758,
        ),
        bars(
            names("D", 1),
            3000,
            vec![cut(2400, vec![two.part(2)])],
            3,
            597,
        ),
        bars(
            names("E", 2),
            3000,
            vec![cut(1800, vec![one.part(2), three.part(2)])],
            3,
            1197,
        ),
        bars(
            names("F", 1),
            3000,
            vec![cut(1800, vec![two.part(1)])],
            3,
            1197,
        ),
    ];
    let cutting = Cutting {
        walls: None,
        proof: Proof::Gap(Stop::JointsTried),
        value: Value::Bought(mm(39000)),
        bound: Value::Bought(mm(36000)),
        buy: vec![],
        bars: groups,
        uncut: vec![],
        figures: Figures {
            bought: mm(39000),
            total: mm(39000),
            cut_into: mm(39000),
            needed: mm(32776),
            blade: Length::from_nm(195_249_794).unwrap(),
            waste: Length::from_nm(549_750_206).unwrap(),
            ..Figures::default()
        },
        hand_proof: Proof::Optimal,
        preference: lengthwise::plan::Preference::AsFound,
        certificate: Certificate::default(),
    };
    let plan = planned(&job, 0, cutting);
    insta::assert_snapshot!(text(&job, vec![plan]));
}

/// Forty runs of different lengths take a line each, in 80 columns.
#[test]
fn forty_runs_are_compact() {
    let rows = (0..40_u32).map(|row| {
        let length = format!("{}", 9_100 + 13 * row);
        PieceRow {
            joints: every_600(),
            ..piece("trim", &format!("R{row}"), &length, 1)
        }
    });
    let job = job(
        rows.collect(),
        vec![stock("trim", "4800", None, Sold::Each)],
        vec![],
        Saw::default(),
    );
    let run = |row: u32| {
        let joints = [(0, None), (4200, Some(7)), (7800, Some(13))];
        let right_end = (9_100 + 13 * row, None);
        let places: Vec<_> = joints.into_iter().chain([right_end]).collect();
        (format!("R{row}"), places)
    };
    let runs: Vec<_> = (0..40).map(run).collect();
    let groups = runs.iter().flat_map(|(mark, places)| {
        let split = Split {
            row: mark,
            copy: (1, mark),
            places,
        };
        (1..=3)
            .map(move |part| {
                bars(
                    names(mark, 1),
                    4800,
                    vec![cut(4000, vec![split.part(part)])],
                    3,
                    797,
                )
            })
            .collect::<Vec<_>>()
    });
    let cutting = Cutting {
        walls: None,
        proof: Proof::Optimal,
        value: Value::Bought(mm(1)),
        bound: Value::Bought(mm(1)),
        buy: vec![],
        bars: groups.collect(),
        uncut: vec![],
        figures: Figures::default(),
        hand_proof: Proof::Optimal,
        preference: lengthwise::plan::Preference::AsFound,
        certificate: Certificate::default(),
    };
    let plan = planned(&job, 0, cutting);
    let shown = text(&job, vec![plan]);
    let from = shown.find("Where the joints fall").unwrap();
    let section = shown[from..].split("\n\n").next().unwrap();
    assert_eq!(section.lines().count(), 1 + 40, "{section}");
    let last = "  R39: 0 to 4200 to 7800 to 9607mm, joints on supports 7 and 13";
    assert_eq!(section.lines().last(), Some(last));
}

/// Each reason names the run, the rule and the numbers.
#[test]
fn why_runs_cannot_be_joined() {
    let no_split = |rule| Impossible::NoSplit {
        mark: "T-01".to_owned(),
        length: mm(7100),
        rule,
        longest: Some((mm(2980), mm(3000))),
        rows: 3,
    };
    let reasons = [
        no_split(SplitRule::JointsMax { most: 1, needed: 2 }),
        no_split(SplitRule::Shortest { shortest: mm(1200) }),
        no_split(SplitRule::Places {
            from: mm(2400),
            to: mm(5600),
        }),
        no_split(SplitRule::Places {
            from: Length::ZERO,
            to: mm(7100),
        }),
        no_split(SplitRule::Bars),
        Impossible::NoSplit {
            mark: "T".to_owned(),
            length: mm(7100),
            rule: SplitRule::Bars,
            longest: None,
            rows: 1,
        },
        Impossible::Courses {
            group: "north wall".to_owned(),
            rule: CourseRule {
                joints: 1,
                courses: 4,
            },
            mark: "C-01".to_owned(),
        },
        Impossible::PieceTooLong {
            mark: "J".to_owned(),
            length: mm(2999),
            takes: Length::from_nm(3_007_485_282).unwrap(),
            longest: Some((mm(3000), mm(3000))),
            rows: 1,
        },
    ];
    let reasons = reasons
        .iter()
        .map(|reason| super::super::words::impossible(reason, Unit::Mm));
    insta::assert_snapshot!(reasons.collect::<Vec<_>>().join("\n"));
}
