//! Spares that insure a job: what gives way to them, what they are called, and what is added.

use super::*;

/// Four of 1000 and two spares of it, two of 600 and one spare.
fn with_spares() -> Job {
    job(|job| {
        let long = PieceRow {
            spare: 2,
            ..piece(2, "", "F", 1000, 4)
        };
        let short = PieceRow {
            spare: 1,
            ..piece(3, "", "G", 600, 2)
        };
        job.pieces = vec![long, short];
        job.stock.push(stock(3, "", 4000));
        job.in_hand = vec![hand(2, "", 5000, 1)];
    })
}

fn reserve(mark: &str, length: u32, count: u64) -> Reserve {
    Reserve {
        mark: mark.to_owned(),
        shape: Shape::square(Length::from_mm(length)),
        count,
        is_bar: false,
    }
}

/// Length and number of all spares, in the order of the pieces.
fn spares(job: &Job) -> Vec<(u32, u64)> {
    let pieces = job.materials()[0].pieces().iter();
    let spares = pieces.filter(|piece| piece.is_spare());
    let millimetres = |length: Length| u32::try_from(length.nm() / 1_000_000).unwrap();
    spares
        .map(|piece| (millimetres(piece.length()), piece.qty()))
        .collect()
}

#[test]
fn shorter_spares_give_way_the_longest_first() {
    let job = with_spares();
    assert_eq!(spares(&job), [(1000, 2), (600, 1)]);
    let with = |reserve: Reserve| spares(&job.with_reserves(&[vec![reserve]]).unwrap());
    assert_eq!(with(reserve("R", 1200, 0)), [(1000, 2), (600, 1)]);
    assert_eq!(
        with(reserve("R", 1200, 1)),
        [(1000, 1), (600, 1), (1200, 1)]
    );
    assert_eq!(with(reserve("R", 1200, 2)), [(600, 1), (1200, 2)]);
    assert_eq!(with(reserve("R", 1200, 3)), [(1200, 3)]);
    // None of 1000 serves for another of 1000, or for a shorter one.
    assert_eq!(with(reserve("R", 1000, 1)), [(1000, 2), (1000, 1)]);
    assert_eq!(with(reserve("R", 800, 2)), [(1000, 2), (800, 2)]);
    let whole_bar = Reserve {
        is_bar: true,
        ..reserve("R", 3000, 1)
    };
    assert_eq!(with(whole_bar.clone()), [(1000, 2), (600, 1), (3000, 1)]);
    // Room for a whole bar gives way to none.
    let insured = job.with_reserves(&[vec![whole_bar, reserve("S", 3000, 9)]]);
    assert_eq!(spares(&insured.unwrap()), [(3000, 1), (3000, 9)]);
}

#[test]
fn how_many_gave_way() {
    let gone = |reserve: Reserve| with_spares().materials[0].give_way(&reserve);
    assert_eq!(gone(reserve("R", 1200, 1)), 1);
    assert_eq!(gone(reserve("R", 1200, 9)), 3);
    assert_eq!(gone(reserve("R", 700, 9)), 1);
}

#[test]
fn spares_that_are_added() {
    let job = with_spares();
    let insured = job.with_reserves(&[vec![reserve("R", 1200, 2)]]).unwrap();
    let added = insured.materials()[0].pieces().last().unwrap();
    assert_eq!([added.copy_mark(0), added.copy_mark(1)], ["R-01", "R-02"]);
    let one = job.with_reserves(&[vec![reserve("R", 1200, 1)]]).unwrap();
    assert_eq!(
        one.materials()[0].pieces().last().unwrap().copy_mark(0),
        "R"
    );
    // More of those that there are already.
    let spare = job.materials()[0]
        .pieces()
        .iter()
        .find(|piece| piece.is_spare());
    let known = spare.unwrap().mark().to_owned();
    let more = job
        .with_reserves(&[vec![reserve(&known, 1000, 98)]])
        .unwrap();
    assert_eq!(spares(&more), [(1000, 100)]); // the shorter one gave way
}

#[test]
fn too_many_spares_are_refused() {
    let job = with_spares();
    let with = |count: u64| job.with_reserves(&[vec![reserve("R", 10, count)]]);
    let there = 9; // with its own spares
    assert!(with(MOST_PIECES - there).is_ok());
    let Err(Faults(faults)) = with(MOST_PIECES - there + 1) else {
        unreachable!("one too many")
    };
    assert_eq!(faults[0].kind, FaultKind::TooLarge);
}

#[test]
fn marks_of_spares_read_like_no_other() {
    let job = job(|job| {
        job.pieces = vec![
            PieceRow {
                spare: 1,
                ..piece(2, "", "F", 1000, 4)
            },
            piece(3, "", "K-7", 600, 1),
        ];
    });
    let material = &job.materials()[0];
    let mark = |mark: &str, length: u32| {
        material.reserve_mark(mark, Shape::square(Length::from_mm(length)))
    };
    assert_eq!(mark("R", 1000), "R");
    assert_eq!(mark("F", 1000), "F'");
    assert_eq!(mark("K", 1000), "K'");
    // That of the spares that there are stays theirs.
    let spare = material.pieces().iter().find(|piece| piece.is_spare());
    let known = spare.unwrap().mark();
    assert_eq!(mark(known, 1000), known);
    assert_ne!(mark(known, 1100), known);
}

#[test]
fn room_for_a_whole_bar_that_there_is_once() {
    let whole = |count: u64| Reserve {
        is_bar: true,
        ..reserve("R", 3000, count)
    };
    let shape = |reserves: Vec<Reserve>| {
        let job = with_spares().with_reserves(&[reserves]).unwrap();
        job.materials()[0].reserve_shape()
    };
    assert_eq!(shape(vec![]), None);
    assert_eq!(shape(vec![reserve("R", 3000, 1)]), None);
    assert_eq!(
        shape(vec![whole(1)]),
        Some(Shape::square(Length::from_mm(3000)))
    );
    assert_eq!(shape(vec![whole(2)]), None);
}

#[test]
fn longer_bars_are_withdrawn_but_for_those_in_hand() {
    let mut job = with_spares();
    job.materials[0].withdraw_longer(Length::from_mm(3000));
    let there: Vec<Option<u64>> = job.materials()[0]
        .bars()
        .iter()
        .map(Bar::bars_available)
        .collect();
    assert_eq!(there, [None, Some(0), Some(1)]);
}

/// Spares of another mark, or of the same with another length, are not those that a reserve is added to.
#[test]
fn reserves_are_added_to_spares_of_their_mark_and_shape() {
    let with = |reserve: Reserve| {
        let job = with_spares().with_reserves(&[vec![reserve]]).unwrap();
        let pieces = job.materials()[0].pieces().iter();
        let spares = pieces.filter(|piece| piece.is_spare());
        spares
            .map(|piece| (piece.mark().to_owned(), piece.qty()))
            .collect::<Vec<_>>()
    };
    let spare = |mark: &str, count: u64| (mark.to_owned(), count);
    let insured = with_spares();
    let marks: Vec<&str> = insured.materials()[0]
        .pieces()
        .iter()
        .filter(|piece| piece.is_spare())
        .map(Piece::mark)
        .collect();
    let [long, short] = marks[..] else {
        unreachable!("spares of two rows")
    };
    // None takes less of a bar than 600, so that none gives way.
    assert_eq!(
        with(reserve(short, 600, 2)),
        [spare(long, 2), spare(short, 3)]
    );
    assert_eq!(
        with(reserve("R", 600, 2)),
        [spare(long, 2), spare(short, 1), spare("R", 2)]
    );
    // Nor are the pieces themselves.
    let none = job(|job| job.pieces = vec![piece(2, "", "F", 1000, 4)]);
    let reserved = none.with_reserves(&[vec![reserve("F", 1000, 2)]]).unwrap();
    assert_eq!(spares(&reserved), [(1000, 2)]);
    assert_eq!(
        with(reserve(short, 500, 2)),
        [spare(long, 2), spare(short, 1), spare(short, 2)]
    );
}
