//! Walls as they are: gaps, spares and mitred ends, from the job through the plan to its check.

#![allow(clippy::panic, clippy::unwrap_used)]

use lengthwise::job::{Angle, EndGap, Ends, Quantity};
use lengthwise::plan::{BarGroup, Cutting, Outcome, Plan};
use lengthwise::verify::{Breach, Figure};
use lengthwise::{Job, Length, Limits, solve, verify};
use lengthwise_tests::answer::{answer, cutting_mut};
use lengthwise_tests::generate::stream::Stream;
use lengthwise_tests::rows::{Rows, mm};

fn ends(near: u16, far: u16) -> Ends {
    let angle = |degrees: u16| Angle::from_hundredths(100 * degrees).unwrap();
    Ends {
        near: angle(near),
        far: angle(far),
    }
}

fn gap(near: u32, far: u32) -> EndGap {
    EndGap {
        near: Length::from_mm(near),
        far: Length::from_mm(far),
    }
}

/// Marks bar by bar.
fn marks(bars: &[BarGroup]) -> Vec<Vec<&str>> {
    bars.iter()
        .flat_map(|group| {
            (0..group.names.len()).map(move |place| {
                group
                    .cuts
                    .iter()
                    .map(|cut| cut.marks[place].as_str())
                    .collect()
            })
        })
        .collect()
}

/// Three jambs of an opening of 1010 with gaps of 5 at both ends, one spare, mitred at one end; two
/// from a bar.
fn jambs() -> Job {
    Rows::with_kerf(Length::from_mm(3))
        .piece_with(mm(1010), |row| {
            row.mark = "J".to_owned();
            row.qty = 3.into();
            row.spare = 1;
            row.end_gap = gap(5, 5);
            row.ends = ends(45, 90);
        })
        .stock(mm(2400), None)
        .job()
}

/// A plan that cuts the spare before a piece of its bar would spend it before it is known to be needed.
#[test]
fn spares_come_off_last() {
    let job = jambs();
    let mut plan = solve(&job, &Limits::default());
    let cutting = cutting_mut(&mut plan);
    let is_with_spare = |group: &&mut BarGroup| group.cuts.iter().any(|cut| cut.spare);
    let group = cutting.bars.iter_mut().find(is_with_spare).unwrap();
    let spares: Vec<bool> = group.cuts.iter().map(|cut| cut.spare).collect();
    assert_eq!(spares, [false, true]);
    group.cuts.reverse();
    let name = group.names[0].clone();
    let breach = verify(&job, &plan).unwrap_err().breach;
    assert_eq!(breach, Breach::SpareBeforePiece { name });
}

/// Worked by hand: 2 x 1000, one blade of 3 between, two slanted slots of 4.242641 along the bar and
/// the last cut of 3 leave 385.514718 of 2400.
#[test]
fn a_mitred_bar_balances() {
    let answer = answer(&jambs());
    let cutting = answer.cutting();
    assert_eq!(
        marks(&cutting.bars),
        [vec!["J-01", "J-02"], vec!["J-03", "J-spare"]]
    );
    for bar in &cutting.bars {
        assert_eq!(bar.blade.nm(), 2 * 4_242_641 + 6_000_000);
        assert_eq!(bar.offcut.nm(), 385_514_718);
        assert!(
            bar.cuts
                .iter()
                .all(|cut| cut.length == Length::from_mm(1000))
        );
    }
    // A bar with a spare is not cut like one without.
    let spares: Vec<Vec<bool>> = cutting
        .bars
        .iter()
        .map(|bar| bar.cuts.iter().map(|cut| cut.spare).collect())
        .collect();
    assert_eq!(spares, [[false, false], [false, true]]);
    assert_eq!(cutting.figures.needed, Length::from_mm(4000));
    assert_eq!(cutting.figures.spare, Length::from_mm(1000));
}

/// Changes one thing in the plan of the jambs; the breach that is found.
fn tampered(change: impl FnOnce(&mut Cutting)) -> Breach {
    let job = jambs();
    let mut plan: Plan = solve(&job, &Limits::default());
    let Outcome::Planned(cutting) = &mut plan.materials[0].outcome else {
        panic!("the jambs can be planned");
    };
    change(cutting);
    verify(&job, &plan).unwrap_err().breach
}

#[test]
fn gaps_ends_and_spares_are_rechecked() {
    let nanometre = Length::from_nm(1).unwrap();
    let part = |breach| matches!(breach, Breach::BarPart { .. });
    assert!(part(tampered(|cutting| {
        let bar = &mut cutting.bars[0];
        bar.blade = bar.blade.checked_sub(nanometre).unwrap();
        bar.offcut = bar.offcut.checked_add(nanometre).unwrap();
    })));
    // The opening itself, the gaps forgotten.
    assert!(matches!(
        tampered(|cutting| {
            let bar = &mut cutting.bars[0];
            bar.cuts[0].length = Length::from_mm(1010);
            bar.offcut = bar.offcut.checked_sub(Length::from_mm(10)).unwrap();
        }),
        Breach::WrongLength { .. }
    ));
    assert!(matches!(
        tampered(|cutting| cutting.bars[0].cuts[0].ends = Ends::SQUARE),
        Breach::NoSuchEnds { .. }
    ));
    assert!(matches!(
        tampered(|cutting| cutting.bars[0].cuts[0].spare = true),
        Breach::SpareNotAsked { .. }
    ));
    assert!(matches!(
        tampered(|cutting| cutting.bars[1].cuts[1].spare = false),
        Breach::SpareNotSaid { .. }
    ));
    assert!(matches!(
        tampered(|cutting| cutting.figures.spare = Length::ZERO),
        Breach::Figure {
            figure: Figure::Spare,
            ..
        }
    ));
}

/// Of one length, one mitred at the left and one at the right: their places are not to be exchanged.
#[test]
fn left_and_right_are_told_apart() {
    let hand = |row: &mut lengthwise::job::PieceRow, mark: &str, near, far| {
        row.mark = mark.to_owned();
        row.ends = ends(near, far);
    };
    let job = Rows::with_kerf(Length::from_mm(3))
        .piece_with(mm(1000), |row| hand(row, "L", 45, 90))
        .piece_with(mm(1000), |row| hand(row, "R", 90, 45))
        .stock(mm(2400), None)
        .job();
    let mut plan = solve(&job, &Limits::default());
    verify(&job, &plan).unwrap();
    let Outcome::Planned(cutting) = &mut plan.materials[0].outcome else {
        panic!("two pieces from a bar");
    };
    let [first, second] = &mut cutting.bars[0].cuts[..] else {
        panic!("two pieces from one bar");
    };
    std::mem::swap(&mut first.ends, &mut second.ends);
    assert!(matches!(
        verify(&job, &plan).unwrap_err().breach,
        Breach::WrongEnds { .. }
    ));
}

/// A longest piece that fits square and does not fit mitred is refused, with what it takes.
#[test]
fn a_mitre_can_make_a_piece_too_long() {
    let job = |ends| {
        Rows::with_kerf(Length::from_mm(3))
            .piece_with(mm(2398), |row| row.ends = ends)
            .stock(mm(2400), None)
            .job()
    };
    answer(&job(Ends::SQUARE)).cutting();
    let answer = answer(&job(ends(90, 45)));
    let reason = format!("{answer:?}");
    assert!(reason.contains("PieceTooLong"), "{reason}");
    assert!(reason.contains("takes: 2402.242641mm"), "{reason}");
}

/// The spare of a raked set copies its longest board: arithmetic.
#[test]
fn spares_of_a_raked_set() {
    let job = Rows::with_kerf(Length::from_mm(3))
        .piece_with(mm(2100), |row| {
            row.mark = "F3".to_owned();
            row.to = Some(mm(2400));
            row.qty = Quantity::Boards {
                width: mm(3100),
                cover: mm(140),
                gap: mm(0),
            };
            row.spare = 2;
        })
        .stock(mm(2400), None)
        .job();
    let answer = answer(&job);
    let spares: Vec<(&str, Length)> = answer
        .cutting()
        .bars
        .iter()
        .flat_map(|bar| &bar.cuts)
        .filter(|cut| cut.spare)
        .flat_map(|cut| cut.marks.iter().map(|mark| (mark.as_str(), cut.length)))
        .collect();
    let longest = Length::from_mm(2400);
    assert_eq!(spares, [("F3-spare-01", longest), ("F3-spare-02", longest)]);
}

/// Arithmetic: a mitred piece takes as much of a bar as a square one that is longer by what its
/// slanted slots take, so both jobs buy the same. Random jobs, every plan verified.
#[test]
fn mitred_jobs_cost_what_longer_pieces_cost() {
    let mut stream = Stream::new(45);
    for _ in 0..12 {
        let (mut mitred, mut longer) = (
            Rows::with_kerf(Length::from_mm(3)),
            Rows::with_kerf(Length::from_mm(3)),
        );
        for _ in 0..stream.whole(2, 4) {
            let length = u64::try_from(stream.whole(200, 1900)).unwrap();
            let degrees = [90, 45, 60, 30, 67][usize::try_from(stream.whole(0, 4)).unwrap()];
            let qty = u64::try_from(stream.whole(1, 4)).unwrap();
            let ends = ends(
                degrees,
                [90, 45][usize::try_from(stream.whole(0, 1)).unwrap()],
            );
            mitred = mitred.piece_with(mm(length), |row| {
                row.qty = qty.into();
                row.ends = ends;
            });
            let more = ends.along(Length::from_mm(3));
            let mut whole = mm(length);
            whole.length = whole.length.checked_add(more).unwrap();
            longer = longer.piece(whole, qty);
        }
        for stock in [2400, 3000] {
            mitred = mitred.stock(mm(stock), None);
            longer = longer.stock(mm(stock), None);
        }
        let (mitred, longer) = (answer(&mitred.job()), answer(&longer.job()));
        assert_eq!(mitred.cutting().value, longer.cutting().value);
        assert_eq!(mitred.cutting().bound, longer.cutting().bound);
    }
}
