//! Rules for roof battens, said with the columns for runs, and rechecked on the plan by arithmetic of the
//! tests' own. They are rules for roofs: a wall has none of them unless its rows say so. What a roof
//! needs is for its makers' and the local rules to say; here only the counting is shown.

#![allow(clippy::expect_used, clippy::panic)]

use lengthwise::job::{CourseRule, Joints, PieceRow};
use lengthwise::plan::{Cutting, Outcome, Proof};
use lengthwise::{Job, Length, Limits, solve, verify};
use lengthwise_tests::answer::units;
use lengthwise_tests::rows::{Rows, mm};
use lengthwise_tests::run_parts::{Part, joints, run_parts};

/// A roof of 10.2 m on rafters at 600 mm: 4800 + 4800 + 600 would do, but for the shortest batten.
const ROOF: u64 = 10_200;
const RAFTERS: u64 = 600;
const BARS: [u64; 3] = [3600, 4200, 4800];
/// Whether plans go through `verify`; `RUN_VERIFY=0` in the environment leaves it out.
const VERIFY_RUNS: bool = true;

fn roof(battens: u64, rules: impl FnOnce(&mut PieceRow)) -> Job {
    let mut rows = Rows::with_kerf(Length::from_mm(3));
    for bar in BARS {
        rows = rows.stock(mm(bar), None);
    }
    rows.piece_with(mm(ROOF), |row| {
        row.mark = "B".to_owned();
        row.qty = battens.into();
        row.joints = Some(Joints::Every {
            spacing: mm(RAFTERS).length,
            from: Length::ZERO,
        });
        rules(row);
    })
    .job()
}

/// Battens of at least 1.2 m, and of any so many that follow each other at most so many joined on one
/// rafter.
fn rules(joints: u32, courses: u32) -> impl FnOnce(&mut PieceRow) {
    move |row| {
        row.shortest = Some(mm(1200).length);
        row.course_group = "roof".to_owned();
        row.course = Some(1);
        row.course_rule = Some(CourseRule { joints, courses });
    }
}

/// The plan, verified.
fn planned(job: &Job) -> Box<Cutting> {
    let plan = solve(job, &Limits::default());
    if VERIFY_RUNS && std::env::var("RUN_VERIFY").as_deref() != Ok("0") {
        verify(job, &plan).expect("a plan that holds");
    }
    let [material] = <[_; 1]>::try_from(plan.materials).expect("one material");
    match material.outcome {
        Outcome::Planned(cutting) => cutting,
        other => panic!("{other:?}"),
    }
}

/// The battens of the plan, eaves first, each with its parts from the left.
fn battens(job: &Job) -> Vec<Vec<Part>> {
    run_parts(&planned(job)).into_values().collect()
}

/// Rafters stand at every whole spacing; a joint butts over one of them.
fn rafters_of(batten: &[Part]) -> Vec<u64> {
    let joints = joints(batten).expect("parts that follow each other");
    joints
        .into_iter()
        .map(|joint| {
            let mm = joint.nm().unsigned_abs() / 1_000_000;
            assert_eq!(joint.nm() % 600_000_000, 0, "a joint beside the rafters");
            mm / RAFTERS
        })
        .collect()
}

/// The most joints on one rafter in so many battens that follow each other.
fn most_on_one_rafter(battens: &[Vec<Part>], together: usize) -> usize {
    let joints: Vec<Vec<u64>> = battens.iter().map(|batten| rafters_of(batten)).collect();
    let on = |rafter: u64| {
        let windows = joints.windows(together);
        windows.map(move |window| {
            window
                .iter()
                .flatten()
                .filter(|joint| **joint == rafter)
                .count()
        })
    };
    (0..=ROOF / RAFTERS).flat_map(on).max().expect("rafters")
}

/// At least 1.2 m long, over at least three rafters, the two at the ends included.
fn check_parts(battens: &[Vec<Part>]) {
    for part in battens.iter().flatten() {
        assert!(part.length >= mm(1200).length, "{part:?}");
        let spacing = i64::try_from(RAFTERS).expect("a small number") * 1_000_000;
        let rafters = part.to.nm() / spacing - (part.from.nm() + spacing - 1) / spacing + 1;
        assert!(rafters >= 3, "{part:?}");
    }
}

/// NHBC Standards 7.2.17 (seen): roof battens at least 1.2 m long, spanning at least three rafters, butted
/// over rafters; where they are more than 200 mm apart, at most one in any four joined over one rafter.
///
/// Batten and boarding clauses of NBS 2014 (seen): at least 1200 mm, joints on a support, not more than
/// one in four on one support. The same rule.
#[test]
fn battens_for_tiles() {
    let battens = battens(&roof(16, rules(1, 4)));
    assert_eq!(battens.len(), 16);
    check_parts(&battens);
    assert!(most_on_one_rafter(&battens, 4) <= 1, "{battens:?}");
}

/// NHBC Standards 7.2.17 (seen): where they are at most 200 mm apart, at most three joints over one
/// rafter in any twelve battens that follow each other.
#[test]
fn battens_for_slates() {
    let battens = battens(&roof(24, rules(3, 12)));
    assert_eq!(battens.len(), 24);
    check_parts(&battens);
    assert!(most_on_one_rafter(&battens, 12) <= 3, "{battens:?}");
}

/// A run that says nothing is under no rule for roofs: its shortest part is what holds for all runs, it
/// lies among no courses, and so it takes less than battens do.
#[test]
fn walls_are_under_no_rule_for_roofs() {
    let (wall, roof) = (roof(16, |_| {}), roof(16, rules(1, 4)));
    let material = &wall.materials()[0];
    let run = material.pieces()[0].run().expect("a run");
    assert_eq!(run.shortest(), Length::from_mm(50));
    assert_eq!((run.course(), material.course_groups().len()), (None, 0));
    let (wall, roof) = (planned(&wall), planned(&roof));
    assert_eq!((wall.proof, roof.proof), (Proof::Optimal, Proof::Optimal));
    assert!(units(wall.value) < units(roof.value));
}
