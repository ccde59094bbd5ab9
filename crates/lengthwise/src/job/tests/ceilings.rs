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
    below_and_above(
        &rows,
        most,
        less,
        Ceiling::Pieces,
        "12 pieces of one material",
    );
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
fn no_ceiling_goes_above_the_highest() {
    let pieces = (0..11).map(|row| piece(row + 2, "", "A", 500, LARGEST_QUANTITY));
    let all = Ceilings::default().rows(u64::MAX).pieces(u64::MAX);
    let Err(Faults(faults)) = job(pieces.collect()).validate_within(&all) else {
        panic!("more pieces than sums are exact for")
    };
    assert_eq!(faults[0].kind, FaultKind::AboveCeiling(Ceiling::Pieces));
}
