//! Ceilings of a job: what is just as much as allowed is a job, one more is a fault that says so.

#![allow(clippy::panic)]

use super::*;
use crate::fault::Ceiling;

fn job(pieces: Vec<PieceRow>) -> JobInput {
    JobInput {
        pieces,
        stock: vec![stock(2, "", 3000)],
        ..JobInput::default()
    }
}

#[track_caller]
fn below_and_above(
    input: &JobInput,
    most: Ceilings,
    less: Ceilings,
    ceiling: Ceiling,
    found: &str,
) {
    assert!(input.clone().validate_within(&most).is_ok());
    let Err(Faults(faults)) = input.clone().validate_within(&less) else {
        panic!("a job above its ceiling of {}", ceiling.name())
    };
    assert_eq!(faults.len(), 1, "{faults:?}");
    assert_eq!(faults[0].kind, FaultKind::AboveCeiling(ceiling));
    assert_eq!(faults[0].found, found);
    assert!(faults[0].accepted.ends_with(ceiling.name()), "{faults:?}");
}

#[test]
fn each_ceiling_holds_to_the_one() {
    let usual = Ceilings::default();
    let rows = job(vec![piece(2, "", "A", 500, 7), piece(3, "", "B", 600, 5)]);
    let (most, less) = (usual.rows(2), usual.rows(1));
    below_and_above(&rows, most, less, Ceiling::Rows, "2 rows of pieces");
    let (most, less) = (usual.pieces(12), usual.pieces(11));
    below_and_above(&rows, most, less, Ceiling::Pieces, "12 pieces in all");
    let (most, less) = (usual.lengths(2), usual.lengths(1));
    let found = "2 different lengths of one material";
    below_and_above(&rows, most, less, Ceiling::Lengths, found);
    let run = |joints| {
        job(vec![PieceRow {
            joints: Some(joints),
            ..piece(2, "", "R", 31_000, 1)
        }])
    };
    let (most, less) = (usual.joints(10), usual.joints(9));
    let found = "a run of 31000mm that takes at least 10 joints";
    below_and_above(&run(Joints::Anywhere), most, less, Ceiling::Joints, found);
    let every = Joints::Every {
        spacing: Length::from_mm(2_900),
        from: Length::ZERO,
    };
    let found = "10 places for joints in one run";
    below_and_above(&run(every), most, less, Ceiling::Joints, found);
    let at = Joints::At(
        (1..=10)
            .map(|place| Length::from_mm(place * 2_900))
            .collect(),
    );
    below_and_above(&run(at), most, less, Ceiling::Joints, found);
}

#[test]
fn bars_and_courses_have_ceilings() {
    let usual = Ceilings::default();
    let mut two = job(vec![piece(2, "", "A", 500, 7)]);
    two.in_hand = vec![hand(3, "", 900, 1)];
    let (most, less) = (usual.bars(2), usual.bars(1));
    let found = "2 rows of bars of one material";
    below_and_above(&two, most, less, Ceiling::Bars, found);
    // Two courses with supports at 2900 and 5800, under a rule about three.
    let courses = job(vec![PieceRow {
        joints: Some(Joints::Every {
            spacing: Length::from_mm(2_900),
            from: Length::ZERO,
        }),
        course_group: "slope".to_owned(),
        course: Some(1),
        course_rule: Some(CourseRule {
            joints: 1,
            courses: 3,
        }),
        ..piece(2, "", "R", 8_700, 2)
    }]);
    let (most, less) = (usual.courses(12), usual.courses(11));
    let found = "12 supports of the courses so far, each once for every course of its rule";
    below_and_above(&courses, most, less, Ceiling::Courses, found);
}

#[test]
fn runs_count_among_the_lengths_and_joints_among_the_places() {
    let usual = Ceilings::default();
    let run = |line, joints, joints_max| PieceRow {
        joints: Some(joints),
        joints_max,
        ..piece(line, "", "", 8_000, 1)
    };
    let every = |mm| Joints::Every {
        spacing: Length::from_mm(mm),
        from: Length::ZERO,
    };
    let alike = || run(2, every(600), None);
    let two = job(vec![alike(), alike(), run(3, every(400), None)]);
    let (most, less) = (usual.lengths(2), usual.lengths(1));
    let found = "2 different lengths of one material";
    below_and_above(&two, most, less, Ceiling::Lengths, found);
    // 19 places, 7 of them within a bar of 3 m.
    let many = |joints| job(vec![run(2, every(400), Some(joints))]);
    let most = usual.joints(20);
    assert!(many(20_000 / 133).validate_within(&most).is_ok());
    let Err(Faults(faults)) = many(20_000 / 133 + 1).validate_within(&most) else {
        panic!("more parts than its ceiling allows")
    };
    assert_eq!(faults[0].kind, FaultKind::AboveCeiling(Ceiling::Joints));
    assert!(
        faults[0]
            .found
            .starts_with("a run with 19 places for joints, 7"),
        "{faults:?}"
    );
    assert_eq!(
        faults[0].accepted,
        "places times those within one bar times joints, summed over the runs: at most 20000, 1000 times the ceiling of joints"
    );
    // 20 places, 5 of them within a bar, and 200 joints: as much as is allowed.
    let just = |joints_max| {
        let places = (1..=20).map(Length::from_mm).collect();
        let run = PieceRow {
            joints: Some(Joints::At(places)),
            joints_max: Some(joints_max),
            ..piece(2, "", "", 12_000, 1)
        };
        job(vec![run]).validate_within(&most)
    };
    assert!(just(200).is_ok());
    assert!(just(201).is_err());
}

#[test]
fn places_are_counted_as_they_are_listed() {
    let every = |spacing, from| Joints::Every {
        spacing: Length::from_mm(spacing),
        from: Length::from_mm(from),
    };
    let at = |places: &[u32]| Joints::At(places.iter().copied().map(Length::from_mm).collect());
    for joints in [
        every(600, 0),
        every(600, 50),
        every(1, 3_000),
        every(0, 0),
        at(&[5, 600, 1800]),
    ] {
        for run in [1, 50, 51, 600, 601, 1_800, 3_000, 3_001] {
            let run = Length::from_mm(run);
            let listed = joints.places(run).map(|places| places.len() as u64);
            assert_eq!(joints.count(run), listed, "{joints:?} {run:?}");
        }
    }
    assert_eq!(Joints::Anywhere.count(Length::from_mm(600)), None);
}

#[test]
fn no_ceiling_goes_above_the_highest() {
    let pieces = (0..11).map(|row| piece(row + 2, "", "A", 500, LARGEST_QUANTITY));
    let all = Ceilings::default().rows(u64::MAX).pieces(u64::MAX);
    let Err(Faults(faults)) = job(pieces.collect()).validate_within(&all) else {
        panic!("more pieces than sums are exact for")
    };
    assert_eq!(faults[0].kind, FaultKind::AboveCeiling(Ceiling::Pieces));
}

/// What one material may have, many may not have each.
#[test]
fn ceilings_hold_for_all_materials_together() {
    let usual = Ceilings::default();
    let of_two = |change: fn(&mut PieceRow)| {
        let rows = (0..2).map(|at| {
            let mut row = piece(2 + at, ["a", "b"][at as usize], "", 500, 3);
            change(&mut row);
            row
        });
        JobInput {
            pieces: rows.collect(),
            stock: vec![stock(2, "a", 3000), stock(3, "b", 3000)],
            ..JobInput::default()
        }
    };
    let plain = of_two(|_| {});
    let (most, less) = (usual.pieces(6), usual.pieces(5));
    below_and_above(&plain, most, less, Ceiling::Pieces, "6 pieces in all");
    // Each has ten lengths: one material may have as many as the ceiling says, all of them ten times that.
    let sloping = of_two(|row| {
        row.qty = 10.into();
        row.to = Some(Measure {
            length: Length::from_mm(590),
            unit: Unit::Mm,
        });
    });
    let lengths = |most| sloping.clone().validate_within(&usual.lengths(most));
    assert!(lengths(10).is_ok());
    assert!(lengths(9).is_err());
    let many = |materials: u32| {
        let rows = (0..materials).map(|at| {
            let mut row = sloping.pieces[0].clone();
            row.material = format!("M{at}");
            row
        });
        JobInput {
            pieces: rows.collect(),
            stock: (0..materials)
                .map(|at| stock((2 + at).into(), &format!("M{at}"), 3000))
                .collect(),
            ..JobInput::default()
        }
    };
    // Where they are runs, ten of a material count as a hundred.
    let mut runs = many(1);
    runs.pieces[0].joints = Some(Joints::Anywhere);
    assert!(runs.validate_within(&usual.lengths(10)).is_ok());
    let mut runs = many(2);
    runs.pieces[0].joints = Some(Joints::Anywhere);
    assert!(runs.clone().validate_within(&usual.lengths(11)).is_ok());
    let Err(Faults(faults)) = runs.validate_within(&usual.lengths(10)) else {
        panic!("a run is counted as ten lengths")
    };
    assert!(faults[0].found.starts_with("110 different"), "{faults:?}");
    // Ten lengths and a bar in each: two materials make twenty.
    let bars = |most| many(2).validate_within(&usual.lengths(10).bars(most));
    assert!(bars(2).is_ok());
    let Err(Faults(faults)) = bars(1) else {
        panic!("more lengths times bars than both ceilings make")
    };
    assert_eq!(faults.len(), 1, "{faults:?}");
    assert_eq!(faults[0].kind, FaultKind::AboveCeiling(Ceiling::Bars));
    assert_eq!(
        (faults[0].found.as_str(), faults[0].accepted.as_str()),
        (
            "20 lengths times bars, summed over the materials so far",
            "at most 10, the ceiling of lengths times the ceiling of bars"
        )
    );
    let most = usual.lengths(10);
    assert!(many(10).validate_within(&most).is_ok());
    let Err(Faults(faults)) = many(12).validate_within(&most) else {
        panic!("more lengths than ten times the ceiling")
    };
    assert_eq!(faults.len(), 1, "{faults:?}");
    assert_eq!(
        faults[0].found,
        "110 different lengths of all materials so far, each run counted as 10"
    );
    assert_eq!(
        faults[0].accepted,
        "at most 100, 10 times the ceiling of lengths"
    );
    // Two courses of each material with supports at 2900 and 5800, under a rule about three.
    let courses = of_two(|row| {
        row.length.length = Length::from_mm(8_700);
        row.qty = 2.into();
        row.joints = Some(Joints::Every {
            spacing: Length::from_mm(2_900),
            from: Length::ZERO,
        });
        row.course_group = "slope".to_owned();
        row.course = Some(1);
        row.course_rule = Some(CourseRule {
            joints: 1,
            courses: 3,
        });
    });
    let (most, less) = (usual.courses(24), usual.courses(23));
    let found = "24 supports of the courses so far, each once for every course of its rule";
    below_and_above(&courses, most, less, Ceiling::Courses, found);
}

/// Carrying on makes a row of every copy: they are split once as well.
#[test]
fn parts_of_runs_that_are_alike_count_once() {
    let run = |line, opening| PieceRow {
        joints: Some(Joints::Every {
            spacing: Length::from_mm(400),
            from: Length::ZERO,
        }),
        joints_max: Some(100),
        ..piece(line, "", "", opening, 1)
    };
    // 19 places, 7 of them within a bar of 3 m, and up to 100 joints.
    let most = Ceilings::default().joints(20);
    let alike = job((0..10).map(|line| run(2 + line, 8_000)).collect());
    assert!(alike.validate_within(&most).is_ok());
    let two = job(vec![run(2, 8_000), run(3, 8_001)]);
    let Err(Faults(faults)) = two.validate_within(&most) else {
        panic!("the parts of two runs")
    };
    let parts = "makes 27300 of the runs so far"; // 19 x 7 + 20 x 7, each a hundred times
    assert!(faults[0].found.ends_with(parts), "{faults:?}");
}

/// Every joint of every copy is laid, so they are counted together.
#[test]
fn joints_of_all_runs_have_a_ceiling() {
    let usual = Ceilings::default();
    // Bars of 3 m may be used for all of it, so three or two joints at the most.
    let runs = |change: fn(&mut PieceRow)| {
        let rows = ["a", "b"].map(|material| {
            let mut row = PieceRow {
                joints: Some(Joints::Anywhere),
                ..piece(2, material, "", 8_700, 50)
            };
            change(&mut row);
            row
        });
        JobInput {
            pieces: rows.into(),
            stock: vec![stock(2, "a", 3000), stock(3, "b", 3000)],
            ..JobInput::default()
        }
    };
    let refused = |input: &JobInput, most: u64, found: &str| {
        assert!(
            input
                .clone()
                .validate_within(&usual.joints(most + 1))
                .is_ok()
        );
        let Err(Faults(faults)) = input.clone().validate_within(&usual.joints(most)) else {
            panic!("more joints than ten times the ceiling")
        };
        assert_eq!(faults.len(), 1, "{faults:?}");
        assert_eq!(faults[0].kind, FaultKind::AboveCeiling(Ceiling::Joints));
        assert_eq!(faults[0].found, found);
        let accepted = format!("at most {}, 10 times the ceiling of joints", 10 * most);
        assert_eq!(faults[0].accepted, accepted);
    };
    // 50 copies of two joints in each of two materials.
    let found = |count: u32| format!("{count} joints that all runs so far may take");
    refused(&runs(|_| {}), 19, &found(200));
    refused(&runs(|row| row.joints_max = Some(5)), 49, &found(500));
    // Parts of 50 mm and more leave room for 174 joints, whatever number is allowed.
    refused(
        &runs(|row| row.joints_max = Some(1_000)),
        1_739,
        &found(17_400),
    );
    // Where there are 2 places, there are 2 joints.
    let places = |row: &mut PieceRow| {
        row.joints_max = Some(5);
        row.joints = Some(Joints::Every {
            spacing: Length::from_mm(2_900),
            from: Length::ZERO,
        });
    };
    refused(&runs(places), 19, &found(200));
    // A long bar that is scarce is no reason to count less.
    let mut scarce = runs(|_| {});
    let long = |material| StockRow {
        available: Some(1),
        ..stock(4, material, 9000)
    };
    scarce.stock.extend([long("a"), long("b")]);
    refused(&scarce, 19, &found(200));
    // Where none is to be had in any number, the longest count; what a batch has not is no matter.
    let mut few = runs(|_| {});
    for bar in &mut few.stock {
        bar.available = Some(1_000);
    }
    refused(&few, 19, &found(200));
    let mut pale = runs(|row| row.batch = "pale".to_owned());
    for bar in &mut pale.stock {
        bar.batch = "pale".to_owned();
    }
    let dark = |material| StockRow {
        batch: "dark".to_owned(),
        ..stock(5, material, 2_000)
    };
    pale.stock.extend([dark("a"), dark("b")]);
    refused(&pale, 19, &found(200));
}

/// A long mark and many copies are each allowed, not both. Fault and what is accepted, whole.
#[test]
fn texts_of_all_copies_have_a_ceiling() {
    let marked = piece(2, "", &"M".repeat(400), 500, 3);
    let input = job(vec![marked, piece(3, "", "", 600, 1)]);
    let usual = Ceilings::default();
    assert!(input.clone().validate_within(&usual.pieces(12)).is_ok());
    let Err(Faults(faults)) = input.validate_within(&usual.pieces(11)) else {
        panic!("more text than a hundred bytes for each piece that there may be")
    };
    assert_eq!(faults.len(), 1, "{faults:?}");
    assert_eq!(faults[0].kind, FaultKind::AboveCeiling(Ceiling::Pieces));
    assert_eq!(
        (faults[0].found.as_str(), faults[0].accepted.as_str()),
        (
            "1200 bytes of text, that of every copy of a piece so far",
            "at most 1100, 100 times the ceiling of pieces"
        )
    );
}

/// A material that has too many lengths or too many bars is told once, not for its looks as well.
#[test]
fn too_many_lengths_or_bars_are_told_once() {
    let usual = Ceilings::default();
    let pieces = (1..=10).map(|at| piece(1 + u64::from(at), "", "", 100 * at, 1));
    let mut input = job(pieces.collect());
    let bars = |at: u32| stock(3 + u64::from(at), "", 3_000 + at);
    input.stock.extend((1..=5).map(bars));
    let (most, less) = (usual.lengths(10).bars(6), usual.lengths(9).bars(6));
    let found = "10 different lengths of one material";
    below_and_above(&input, most, less, Ceiling::Lengths, found);
    let less = usual.lengths(10).bars(5);
    let found = "6 rows of bars of one material";
    below_and_above(&input, most, less, Ceiling::Bars, found);
}

/// What bars that can be had in any number take is more joints than the longest would.
#[test]
fn parts_of_runs_are_counted_for_each_number_of_joints() {
    let run = |at: u32| PieceRow {
        joints: Some(Joints::Every {
            spacing: Length::from_mm(400),
            from: Length::ZERO,
        }),
        ..piece((2 + at).into(), "", "", 8_001 + at, 1)
    };
    let runs = |scarce, unlimited, count| JobInput {
        pieces: (0..count).map(run).collect(),
        stock: vec![
            StockRow {
                available: Some(5),
                ..stock(2, "", scarce)
            },
            stock(3, "", unlimited),
        ],
        ..JobInput::default()
    };
    let refused = |input: JobInput, found: &str| {
        let Err(Faults(faults)) = input.validate_within(&Ceilings::default().joints(20)) else {
            panic!("more parts than a thousand times the ceiling")
        };
        assert_eq!(faults.len(), 1, "{faults:?}");
        assert_eq!(faults[0].found, found);
    };
    // 20 places, 12 of them within 5 m; 4 bars of 2 m and a joint between them, where one of 5 m is longer by one:
    // 20 x 12 x 4 of each run, and 20 runs are less than 20,000.
    let most = Ceilings::default().joints(20);
    assert!(runs(5_000, 2_000, 20).validate_within(&most).is_ok());
    refused(
        runs(5_000, 2_000, 21),
        "a run with 20 places for joints, 12 of them within a bar, and 4 numbers of joints, which makes 20160 of \
         the runs so far",
    );
}
