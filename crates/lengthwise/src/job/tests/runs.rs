//! Rules of runs and courses: what is understood, and every contradiction located.

use super::*;

fn every(spacing: u32, from: u32) -> Joints {
    Joints::Every {
        spacing: Length::from_mm(spacing),
        from: Length::from_mm(from),
    }
}

fn at(places: &[u32]) -> Joints {
    Joints::At(places.iter().map(|&place| Length::from_mm(place)).collect())
}

fn run(line: u64, length: u32, joints: Joints) -> PieceRow {
    PieceRow {
        joints: Some(joints),
        ..piece(line, "", "T", length, 1)
    }
}

fn course(line: u64, group: &str, course: u64) -> PieceRow {
    PieceRow {
        course_group: group.to_owned(),
        course: Some(course),
        ..run(line, 7200, every(600, 0))
    }
}

fn rule(joints: u32, courses: u32) -> Option<CourseRule> {
    Some(CourseRule { joints, courses })
}

fn understood(change: impl FnOnce(&mut JobInput)) -> Material {
    let mut input = plain();
    change(&mut input);
    input.validate().unwrap().materials.remove(0)
}

#[test]
fn places_lie_strictly_inside() {
    let mm = |places: &[u32]| Some(places.iter().map(|&mm| Length::from_mm(mm)).collect());
    let places = |joints: Joints, run| joints.places(Length::from_mm(run));
    assert_eq!(
        places(every(600, 0), 3100),
        mm(&[600, 1200, 1800, 2400, 3000])
    );
    assert_eq!(places(every(600, 0), 1800), mm(&[600, 1200]));
    assert_eq!(places(every(600, 50), 1850), mm(&[50, 650, 1250]));
    assert_eq!(places(every(600, 3100), 3100), mm(&[]));
    assert_eq!(places(at(&[600, 1200, 1850]), 1850), mm(&[600, 1200]));
    assert_eq!(places(Joints::Anywhere, 3100), None);
    let far = Joints::Every {
        spacing: Length::MAX,
        from: Length::MAX,
    };
    assert_eq!(far.places(Length::MAX), mm(&[]));
}

#[test]
fn supports_need_a_spacing() {
    one_fault(FaultKind::Range, "pieces", 3, "joints", |job| {
        job.pieces.push(run(3, 3100, every(0, 0)));
    });
}

/// Parts are marked `T.1`, and `T-02.1` where there are several copies.
#[test]
fn a_mark_must_not_read_like_a_part() {
    for (qty, mark) in [(1, "T.1"), (2, "T.1"), (2, "T-02.1")] {
        one_fault(FaultKind::Value, "pieces", 4, "mark", |job| {
            job.pieces.push(PieceRow {
                qty: qty.into(),
                ..run(3, 3100, every(600, 0))
            });
            job.pieces.push(piece(4, "", mark, 500, 1));
        });
    }
    // Of a single one the parts are `T.1` and `T.2`: `T-02.1` may be what is left of a run `T-02`.
    for mark in ["T-02", "T-02.1", "S.1", "T.1a", "T."] {
        job(|job| {
            job.pieces.push(run(3, 3100, every(600, 0)));
            job.pieces.push(piece(4, "", mark, 500, 1));
        });
    }
}

#[test]
fn rules_reach_the_pieces() {
    let material = understood(|job| {
        job.pieces = vec![PieceRow {
            joint_gap: Some(Length::from_mm(4)),
            joints_max: Some(3),
            ..run(2, 3100, at(&[600, 1850]))
        }];
    });
    let run_of =
        |material: &Material, place: usize| material.pieces()[place].run().cloned().unwrap();
    let first = run_of(&material, 0);
    assert_eq!(first.joints(), &at(&[600, 1850]));
    assert_eq!(first.joint_gap(), Length::from_mm(4));
    assert_eq!(first.joints_max(), Some(3));
    assert_eq!(first.shortest(), Length::from_mm(50));
    assert_eq!(first.course(), None);
    // The row's shortest part goes before the material's.
    let material = understood(|job| {
        job.stock[0].shortest = Some(Length::from_mm(300));
        job.pieces = vec![
            run(2, 3100, Joints::Anywhere),
            run(3, 3200, Joints::Anywhere),
        ];
        job.pieces[1].shortest = Some(Length::from_mm(1200));
    });
    assert_eq!(run_of(&material, 0).shortest(), Length::from_mm(300));
    assert_eq!(run_of(&material, 1).shortest(), Length::from_mm(1200));
}

#[test]
fn courses_and_their_groups() {
    let material = understood(|job| {
        job.pieces = vec![
            PieceRow {
                qty: 3.into(),
                ..course(2, "North wall", 1)
            },
            PieceRow {
                spare: 1,
                ..course(3, "north  wall", 4)
            },
            PieceRow {
                course_rule: rule(1, 4),
                ..course(4, "south", 1)
            },
        ];
    });
    let groups = material.course_groups();
    assert_eq!(groups.len(), 2);
    assert_eq!(
        (groups[0].name(), groups[0].rule()),
        ("North wall", CourseRule::default())
    );
    assert_eq!(
        (groups[1].name(), Some(groups[1].rule())),
        ("south", rule(1, 4))
    );
    let courses: Vec<Option<(usize, u64)>> = material
        .pieces()
        .iter()
        .map(|piece| {
            piece
                .run()
                .unwrap()
                .course()
                .map(|it| (it.group(), it.first()))
        })
        .collect();
    // Three courses from the first; the spare lies in none.
    assert_eq!(courses, [Some((0, 1)), Some((0, 4)), None, Some((1, 1))]);
    // A raked set of courses: every length in a course of its own.
    let material = understood(|job| {
        job.pieces = vec![PieceRow {
            qty: 3.into(),
            to: Some(mm(5200)),
            ..course(2, "gable", 5)
        }];
    });
    let courses: Vec<(u32, u64)> = material
        .pieces()
        .iter()
        .map(|piece| {
            let millimetres = u32::try_from(piece.length().nm() / 1_000_000).unwrap();
            (millimetres, piece.run().unwrap().course().unwrap().first())
        })
        .collect();
    assert_eq!(courses, [(7200, 5), (6200, 6), (5200, 7)]);
}

/// Carrying on gives each of them a row of its own.
#[test]
fn the_last_course_of_a_row_is_a_number_too() {
    let last = |first: u64, qty: u64| {
        faults(|job| {
            job.pieces = vec![PieceRow {
                qty: qty.into(),
                ..course(2, "north", first)
            }];
        })
    };
    assert_eq!(last(LARGEST_QUANTITY, 1), []);
    assert_eq!(last(LARGEST_QUANTITY - 2, 3), []);
    // Once, also where the first is beyond it by itself.
    for (first, qty) in [(-1, 3), (0, 2), (1, 1), (1, 2)] {
        let beyond = last(LARGEST_QUANTITY.saturating_add_signed(first), qty);
        let found = beyond.iter();
        let found: Vec<_> = found
            .map(|(kind, _, line, column)| (*kind, *line, column.as_str()))
            .collect();
        assert_eq!(found, [(FaultKind::Range, 2, "course")], "{first}, {qty}");
    }
}

fn one(kind: FaultKind, column: &str, row: PieceRow) {
    one_fault(kind, "pieces", 3, column, |job| job.pieces.push(row));
}

#[test]
fn rules_of_one_row_that_make_no_sense() {
    use FaultKind::{Range, Value};
    for joints in [
        every(0, 0),
        Joints::At(vec![]),
        at(&[0, 600]),
        at(&[600, 600]),
        at(&[1200, 600]),
        at(&[600, 3100]),
        at(&[600, 4000]),
    ] {
        one(Range, "joints", run(3, 3100, joints));
    }
    let fine = Joints::Every {
        spacing: Length::from_nm(1).unwrap(),
        from: Length::ZERO,
    };
    let joints = FaultKind::AboveCeiling(crate::fault::Ceiling::Joints);
    one(joints, "joints", run(3, 3100, fine));
    let gap = |gap| PieceRow {
        joint_gap: Some(Length::from_mm(gap)),
        ..run(3, 3100, every(600, 0))
    };
    one(Range, "joint_gap", gap(3100));
    let most = |most| PieceRow {
        joints_max: Some(most),
        ..run(3, 3100, every(600, 0))
    };
    one(Range, "joints_max", most(0));
    one(Range, "joints_max", most(1001));
    let shortest = PieceRow {
        shortest: Some(Length::ZERO),
        ..run(3, 3100, every(600, 0))
    };
    one(Range, "shortest", shortest);
    one(Range, "course", course(3, "a", 0));
    for (joints, courses) in [(0, 2), (2, 2), (3, 2), (1, 1001)] {
        one(
            Range,
            "course_rule",
            PieceRow {
                course_rule: rule(joints, courses),
                ..course(3, "a", 1)
            },
        );
    }
    one(
        Value,
        "joints",
        PieceRow {
            joints: Some(Joints::Anywhere),
            ..course(3, "a", 1)
        },
    );
}

#[test]
fn columns_without_the_ones_they_need() {
    use FaultKind::Value;
    let plain = || piece(3, "", "T", 2000, 1);
    one(
        Value,
        "joint_gap",
        PieceRow {
            joint_gap: Some(Length::ZERO),
            ..plain()
        },
    );
    one(
        Value,
        "joints_max",
        PieceRow {
            joints_max: Some(1),
            ..plain()
        },
    );
    one(
        Value,
        "shortest",
        PieceRow {
            shortest: Some(Length::from_mm(9)),
            ..plain()
        },
    );
    one(
        Value,
        "course_group",
        PieceRow {
            course_group: "a".into(),
            course: Some(1),
            ..plain()
        },
    );
    one(
        Value,
        "course",
        PieceRow {
            course: Some(1),
            ..run(3, 3100, every(600, 0))
        },
    );
    one(
        Value,
        "course_rule",
        PieceRow {
            course_rule: rule(1, 2),
            ..run(3, 3100, every(600, 0))
        },
    );
    one(
        Value,
        "course_group",
        PieceRow {
            course: None,
            ..course(3, "a", 1)
        },
    );
}

#[test]
fn courses_that_contradict_each_other() {
    let beside = |column, row: PieceRow| {
        one_fault(FaultKind::RowsDiffer, "pieces", 4, column, |job| {
            job.pieces.push(PieceRow {
                qty: 3.into(),
                course_rule: rule(1, 4),
                ..course(3, "North", 1)
            });
            job.pieces.push(row);
        });
    };
    beside("course", course(4, "north", 3));
    beside(
        "course",
        PieceRow {
            qty: 9.into(),
            ..course(4, "north", 1)
        },
    );
    beside(
        "course_rule",
        PieceRow {
            course_rule: rule(1, 2),
            ..course(4, "north", 4)
        },
    );
    beside(
        "joints",
        PieceRow {
            joints: Some(every(600, 50)),
            ..course(4, "north", 4)
        },
    );
    // Places are measured from the left end, and go with supports from there.
    let material = understood(|job| {
        job.pieces = vec![
            course(2, "a", 1),
            PieceRow {
                joints: Some(at(&[600, 1300])),
                ..course(3, "a", 2)
            },
            PieceRow {
                joints: Some(every(400, 0)),
                ..course(4, "a", 3)
            },
        ];
    });
    assert_eq!(material.course_groups().len(), 1);
}
