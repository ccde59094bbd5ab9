//! From measured walls to pieces: widths and raked sets.
//!
//! Expected figures are arithmetic, worked by hand, unless a check names another source.

use super::*;

fn boards(width: u32, cover: u32, gap: u32) -> Quantity {
    Quantity::Boards {
        width: mm(width),
        cover: mm(cover),
        gap: mm(gap),
    }
}

fn members(width: u32, spacing: u32, even: bool) -> Quantity {
    Quantity::Members {
        width: mm(width),
        spacing: mm(spacing),
        even,
    }
}

/// The mark and length of every copy of one row, in micrometres, in the order of the marks.
fn set(row: PieceRow) -> Vec<(String, i64)> {
    let job = job(|job| {
        job.stock[0].length = mm(20_000);
        job.pieces = vec![row];
    });
    let pieces = job.materials()[0].pieces();
    pieces
        .iter()
        .flat_map(|piece| {
            let length = piece.length().nm() / 1000;
            (0..piece.qty()).map(move |copy| (piece.copy_mark(copy), length))
        })
        .collect()
}

fn lengths(row: PieceRow) -> Vec<i64> {
    set(row).into_iter().map(|(_, length)| length).collect()
}

fn raked(from: u32, to: u32, qty: Quantity) -> PieceRow {
    PieceRow {
        qty,
        to: Some(mm(to)),
        ..piece(2, "", "F3", from, 1)
    }
}

#[test]
fn how_many_a_width_takes() {
    for (qty, count) in [
        (boards(3100, 140, 0), 23), // 22 x 140 = 3080
        (boards(3080, 140, 0), 22),
        (boards(3081, 140, 0), 23),
        (boards(100, 140, 0), 1),
        (boards(3100, 135, 5), 23), // the 23rd starts at 22 x 140 = 3080
        (boards(3075, 135, 5), 22), // 22 x 135 + 21 x 5
        (boards(3080, 135, 5), 22), // no more than a gap is left
        (boards(3081, 135, 5), 23),
        (members(3100, 600, false), 7), // 0, 600, ..., 3000 and 3100
        (members(3000, 600, false), 6),
        (members(500, 600, false), 2),
        (members(3100, 600, true), 7), // six bays of 516.67
        (members(3000, 600, true), 6),
    ] {
        assert_eq!(qty.count(), count, "{qty}");
    }
}

/// What the notes say of a row with this quantity.
fn said(qty: Quantity) -> String {
    let job = job(|job| job.pieces[0].qty = qty);
    let note = job
        .notes()
        .iter()
        .find(|note| matches!(note, Note::FromWidth { .. }));
    let note = note.unwrap().to_string();
    note.strip_prefix("pieces, line 2: ").unwrap().to_owned()
}

/// A third of a board as what is too narrow: common practice, no source.
#[test]
fn what_is_said_of_the_last_board() {
    for (qty, words) in [
        (
            boards(3100, 140, 0),
            "3100mm/140mm is 23 boards, the last ripped to 20mm, under a third of a board; instead \
             22 covering about 140.9mm each, or 23 with both end boards ripped to 80mm",
        ),
        (
            boards(3100, 135, 5),
            "3100mm/135mm+5mm is 23 boards, the last ripped to 20mm, under a third of a board; \
             instead 22 with gaps of about 6.2mm, or 23 with both end boards ripped to 77.5mm",
        ),
        (boards(3080, 140, 0), "3080mm/140mm is 22 boards"),
        (
            boards(3080, 135, 5),
            "3080mm/135mm+5mm is 22 boards, 5mm left open beside the last",
        ),
        // 47 x 3 = 141 is not under 140.
        (
            boards(187, 140, 0),
            "187mm/140mm is 2 boards, the last ripped to 47mm",
        ),
        (
            boards(186, 140, 0),
            "186mm/140mm is 2 boards, the last ripped to 46mm, under a third of a board; instead \
             1 covering 186mm each, or 2 with both end boards ripped to 93mm",
        ),
        // One board has no gap beside it.
        (
            boards(187, 140, 5),
            "187mm/140mm+5mm is 2 boards, the last ripped to 42mm, under a third of a board; instead \
             2 with both end boards ripped to 91mm",
        ),
        (
            boards(40, 140, 0),
            "40mm/140mm is 1 board, the last ripped to 40mm",
        ),
        (
            members(3100, 600, false),
            "3100mm@600mm is 7 members, the last bay 100mm",
        ),
        (
            members(3000, 600, false),
            "3000mm@600mm is 6 members, 600mm apart",
        ),
        (
            members(3100, 600, true),
            "3100mm@600mm even is 7 members, about 516.7mm apart",
        ),
        (
            members(3000, 600, true),
            "3000mm@600mm even is 6 members, 600mm apart",
        ),
    ] {
        assert_eq!(said(qty), words);
    }
}

/// Two end boards and the whole ones between them fill the width, whatever its remainder.
#[test]
fn the_ways_out_fill_the_width() {
    // 3100 = 21 x 140 + 2 x 80 = 22 x 140.909 = 22 x 135 + 21 x 6.190 = 21 x 135 + 22 x 5 + 2 x 77.5.
    assert_eq!(21 * 140 + 2 * 80, 3100);
    assert_eq!((22 * 140_909) / 1000, 3099);
    assert_eq!((22 * 135_000 + 21 * 6190) / 1000, 3099);
    assert_eq!(21 * 1350 + 22 * 50 + 2 * 775, 31_000);
}

#[test]
fn doors_and_windows_are_said_not_to_be_deducted() {
    let job = job(|job| {
        job.pieces.push(PieceRow {
            qty: boards(3100, 140, 0),
            ..piece(3, "", "G", 2000, 1)
        });
        job.pieces.push(PieceRow {
            qty: members(3100, 600, false),
            ..piece(4, "", "H", 2000, 1)
        });
    });
    let said = |note: &&Note| matches!(note, Note::OpeningsNotDeducted { .. });
    let said: Vec<&Note> = job.notes().iter().filter(said).collect();
    let origin = origin("pieces", 3);
    assert_eq!(said, [&Note::OpeningsNotDeducted { origin }]);
    assert!(said[0].to_string().contains("are not deducted"));
}

#[test]
fn counted_boards_step_evenly_both_ends_included() {
    // 2100 + 300 x i / 7 is 2142.86, 2185.71, ...: rounded up to whole millimetres.
    let qty = Quantity::Count(8);
    let expected = [2100, 2143, 2186, 2229, 2272, 2315, 2358, 2400];
    assert_eq!(
        lengths(raked(2100, 2400, qty)),
        expected.map(|mm| mm * 1000)
    );
    let mut down = expected;
    down.reverse();
    assert_eq!(lengths(raked(2400, 2100, qty)), down.map(|mm| mm * 1000));
    let step = PieceRow {
        step: Some(Length::from_nm(500_000).unwrap()),
        ..raked(2100, 2400, Quantity::Count(8))
    };
    let halves = [
        21_000, 21_430, 21_860, 22_290, 22_715, 23_145, 23_575, 24_000,
    ];
    assert_eq!(lengths(step), halves.map(|tenths| tenths * 100));
    // The ends are rounded up like the others.
    let coarse = PieceRow {
        step: Some(Length::from_mm(7)),
        ..raked(2101, 2101, Quantity::Count(2))
    };
    assert_eq!(lengths(coarse), [2_107_000, 2_107_000]);
    assert_eq!(lengths(raked(2100, 2100, Quantity::Count(1))), [2_100_000]);
}

#[test]
fn marks_follow_the_wall() {
    let set = set(raked(2100, 2103, Quantity::Count(7)));
    let shown: Vec<String> = set
        .iter()
        .map(|(mark, length)| format!("{mark} {}", length / 1000))
        .collect();
    // 2100, 2100.5, 2101, ..., rounded up.
    assert_eq!(
        shown,
        [
            "F3-01 2100",
            "F3-02 2101",
            "F3-03 2101",
            "F3-04 2102",
            "F3-05 2102",
            "F3-06 2103",
            "F3-07 2103",
        ]
    );
}

/// A mono-pitch wall, 3100 wide, 2100 to 2400 high, boards of 140 cover, by the definition: the height
/// over the edge of each board, in exact fractions of the wall's own.
#[test]
fn every_board_of_a_mono_pitch_wall_reaches_its_own_higher_edge() {
    let lengths = lengths(raked(2100, 2400, boards(3100, 140, 0)));
    assert_eq!(lengths.len(), 23);
    for (place, &length) in (0_i64..).zip(&lengths) {
        let edge = ((place + 1) * 140).min(3100);
        // Times 31: 2100 x 31 + 300 x edge / 100.
        let height = 31 * 2100 + 3 * edge;
        let length = length / 1000 * 31;
        assert!(length >= height, "board {place} is short of {height}/31");
        assert!(
            length - height < 31,
            "board {place} is a millimetre too long"
        );
    }
    assert_eq!(lengths.last(), Some(&2_400_000));
    // Plain stepping comes out more than 10 mm short: 2100 where the first edge is 2113.55 high.
    let plain = super::walls::lengths(raked(2100, 2400, Quantity::Count(23)));
    let short = lengths.iter().zip(&plain).map(|(edge, plain)| edge - plain);
    assert!(short.max() > Some(10_000));
}

#[test]
fn falling_walls_gaps_and_members() {
    // On a fall the near edge is the higher one: 2400, 2386.45, ..., 2400 - 300 x 3080 / 3100.
    let fall = lengths(raked(2400, 2100, boards(3100, 140, 0)));
    assert_eq!(fall[..2], [2_400_000, 2_387_000]);
    assert_eq!(fall.last(), Some(&2_102_000));
    // With 5 between, edges at 135, 275, ...: 2100 + 300 x 135 / 3100 = 2113.06.
    let gaps = lengths(raked(2100, 2400, boards(3100, 135, 5)));
    assert_eq!(gaps[..2], [2_114_000, 2_127_000]);
    // Members at 0, 600, ..., 3000, 3100, and at 0, 516.67, ...
    let members_at = |even| lengths(raked(2000, 2310, members(3100, 600, even)));
    assert_eq!(
        members_at(false),
        [2000, 2060, 2120, 2180, 2240, 2300, 2310].map(|mm| mm * 1000)
    );
    assert_eq!(
        members_at(true),
        [2000, 2052, 2104, 2155, 2207, 2259, 2310].map(|mm| mm * 1000)
    );
}

proptest! {
    /// Whatever the wall, each board covers its own part of the slope and is no step too long.
    #[test]
    fn boards_cover_the_slope(
        width in 1_u32..6000, cover in 20_u32..400, gap in 0_u32..20,
        from in 1_u32..4000, to in 1_u32..4000, step in 1_u32..20,
    ) {
        let row = PieceRow {
            step: Some(Length::from_mm(step)),
            ..raked(from, to, boards(width, cover, gap))
        };
        let (width, cover, gap) = (i64::from(width), i64::from(cover), i64::from(gap));
        let (from, to, step) = (i64::from(from), i64::from(to), i64::from(step));
        // Heights times the width are whole millimetres.
        let height = |at: i64| from * width + (to - from) * at;
        let mut at = 0;
        for length in lengths(row) {
            let length = length / 1000;
            prop_assert!(at < width && length % step == 0);
            let end = (at + cover).min(width);
            let top = height(at).max(height(end));
            prop_assert!(length * width >= top && (length - step) * width < top);
            at += cover + gap;
        }
        prop_assert!(at >= width, "the wall is filled but for a gap");
    }
}

#[test]
fn rakes_that_make_no_sense() {
    one_fault(FaultKind::Range, "pieces", 2, "to", |job| {
        job.pieces = vec![raked(2100, 2400, Quantity::Count(1))];
    });
    one_fault(FaultKind::Range, "pieces", 2, "to", |job| {
        job.pieces = vec![raked(2100, 0, Quantity::Count(2))];
    });
    one_fault(FaultKind::Range, "pieces", 2, "step", |job| {
        job.pieces = vec![raked(2100, 2400, Quantity::Count(2))];
        job.pieces[0].step = Some(Length::ZERO);
    });
    one_fault(FaultKind::Value, "pieces", 2, "step", |job| {
        job.pieces[0].step = Some(Length::from_mm(5));
    });
    for qty in [
        boards(0, 140, 0),
        boards(3100, 0, 0),
        members(3100, 0, true),
    ] {
        one_fault(FaultKind::Range, "pieces", 2, "qty", |job| {
            job.pieces[0].qty = qty
        });
    }
    one_fault(FaultKind::Range, "pieces", 2, "qty", |job| {
        job.pieces[0].qty = boards(2_000_001, 2, 0); // a million and one
    });
    one_fault(FaultKind::TooLarge, "pieces", 2, "to", |job| {
        job.pieces = vec![raked(2100, 2400, Quantity::Count(2))];
        job.pieces[0].length.length = Length::MAX;
        job.pieces[0].step = Length::MAX.checked_sub(Length::from_mm(1));
    });
}

#[test]
fn gaps_are_taken_off_openings_after_rounding() {
    let gaps = EndGap {
        near: Length::from_nm(2_500_000).unwrap(),
        far: Length::from_mm(10),
    };
    let row = PieceRow {
        end_gap: gaps,
        ..raked(2100, 2103, Quantity::Count(3))
    };
    // Openings of 2100, 2101.5 and 2103, the second rounded up to 2102.
    assert_eq!(lengths(row.clone()), [2_087_500, 2_089_500, 2_090_500]);
    let job = job(|job| job.pieces = vec![row]);
    let openings = job.materials()[0].pieces().iter().map(Piece::opening);
    assert_eq!(
        openings.collect::<Vec<_>>(),
        [2100, 2102, 2103].map(Length::from_mm)
    );
}

#[test]
fn spares_are_marked_and_copy_the_longest() {
    let spared = |spare, row| PieceRow { spare, ..row };
    let marks = |rows: Vec<PieceRow>| -> Vec<String> {
        let job = job(|job| job.pieces = rows);
        let pieces = job.materials()[0].pieces().iter();
        pieces
            .flat_map(|piece| {
                let suffix = if piece.is_spare() { "*" } else { "" };
                (0..piece.qty()).map(move |copy| piece.copy_mark(copy) + suffix)
            })
            .collect()
    };
    let plain = |mark, qty| piece(2, "", mark, 100, qty);
    assert_eq!(marks(vec![spared(1, plain("F", 1))]), ["F", "F-spare*"]);
    assert_eq!(
        marks(vec![spared(2, plain("F", 2))]),
        ["F-01", "F-02", "F-spare-01*", "F-spare-02*"]
    );
    // Over all rows with the mark, and past marks that are written.
    assert_eq!(
        marks(vec![spared(1, plain("F", 1)), spared(1, plain("F", 1))]),
        ["F-01", "F-spare-01*", "F-02", "F-spare-02*"]
    );
    assert_eq!(
        marks(vec![spared(1, plain("F", 1)), plain("F-spare", 1)]),
        ["F", "F-spare'*", "F-spare"]
    );
    assert_eq!(marks(vec![spared(1, plain("", 1))]), ["P1", "P1-spare*"]);
    let job = job(|job| {
        job.pieces = vec![spared(1, raked(2100, 2103, Quantity::Count(2)))];
    });
    let spare = job.materials()[0]
        .pieces()
        .iter()
        .find(|piece| piece.is_spare());
    assert_eq!(spare.map(Piece::length), Some(Length::from_mm(2103)));
    one_fault(FaultKind::Range, "pieces", 2, "spare", |job| {
        job.pieces[0].spare = LARGEST_QUANTITY + 1;
    });
}

#[test]
fn gaps_that_leave_nothing() {
    for (near, far) in [(1105, 1105), (0, 2210), (2210, 2210)] {
        one_fault(FaultKind::Range, "pieces", 2, "end_gap", |job| {
            job.pieces[0].end_gap = EndGap {
                near: Length::from_mm(near),
                far: Length::from_mm(far),
            };
        });
    }
}

/// A width or a board of nothing is no width; no gap between boards is one.
#[test]
fn widths_of_nothing() {
    for qty in [
        boards(0, 140, 5),
        boards(3100, 0, 5),
        members(0, 600, false),
        members(3100, 0, true),
    ] {
        one_fault(FaultKind::Range, "pieces", 2, "qty", |job| {
            job.pieces[0].qty = qty;
        });
    }
    assert_eq!(faults(|job| job.pieces[0].qty = boards(3100, 140, 0)), []);
}

/// Boards of a rake that come out alike are one piece of several.
#[test]
fn boards_of_a_rake_that_are_alike() {
    let job = job(|job| {
        let step = Some(Length::from_mm(10));
        job.pieces = vec![PieceRow {
            step,
            ..raked(2100, 2115, Quantity::Count(4))
        }];
    });
    let pieces = job.materials()[0].pieces().iter();
    let pieces: Vec<(i64, u64)> = pieces
        .map(|piece| (piece.length().nm() / 1_000_000, piece.qty()))
        .collect();
    // 2100, 2105, 2110 and 2115.
    assert_eq!(pieces, [(2100, 1), (2110, 2), (2120, 1)]);
}

/// Trimmed in place is a piece of its own; a run is cut to its joints.
#[test]
fn nothing_is_left_long_on_a_run() {
    let run = |left: u32| {
        move |job: &mut JobInput| {
            job.pieces[0].joints = Some(Joints::Anywhere);
            job.pieces[0].leave_long = Some(Length::from_mm(left));
        }
    };
    one_fault(FaultKind::Value, "pieces", 2, "leave_long", run(5));
    assert_eq!(faults(run(0)), []);
}
