//! Plain facts of the trade and of arithmetic, each with its source.

#![allow(clippy::expect_used, clippy::panic)]

use lengthwise::job::{Expansion, TemperatureRange};
use lengthwise::plan::{BarGroup, Impossible, Proof};
use lengthwise::{Job, Length, Unit};
use lengthwise_tests::answer::{Answer, answer};
use lengthwise_tests::generate::perfect::perfect;
use lengthwise_tests::generate::stream::Stream;
use lengthwise_tests::rows::{Rows, measure, mm};

/// 5 m over 40 K, in tenths of a millimetre. Coefficients in millionths per kelvin: softwood along the
/// grain 5, aluminium 24, steel 12 (EN 1991-1-5, thermal actions; from memory); PVC-U 60 (makers' data);
/// wood-plastic decking at most 50 (EN 15534-4; second-hand). The movement is arithmetic.
#[test]
fn five_metres_over_forty_kelvin() {
    let range = TemperatureRange::from_decimal(40.into()).expect("a range");
    let hot = TemperatureRange::from_decimal(70.into()).expect("a range");
    for (material, millionths, tenths) in [
        ("softwood along the grain", 5, 10),
        ("steel", 12, 24),
        ("aluminium", 24, 48),
        ("wood-plastic decking at its limit", 50, 100),
        ("PVC-U", 60, 120),
    ] {
        let expansion = Expansion::from_decimal(millionths.into()).expect("a coefficient");
        let movement = expansion.movement(Length::from_mm(5000), range);
        assert_eq!(movement.nm(), tenths * 100_000, "{material}");
        // Dark cladding in the sun, 70 K (from memory): 17.5 mm and 21 mm.
        let movement = expansion.movement(Length::from_mm(5000), hot);
        assert_eq!(movement.nm(), tenths * 175_000, "{material}");
    }
}

/// How many bars a job without prices and of one length buys, proven.
fn bars_bought(job: &Job) -> u64 {
    let answer = answer(job);
    let cutting = answer.cutting();
    assert_eq!(cutting.proof, Proof::Optimal);
    cutting.buy.iter().map(|line| line.bars).sum()
}

/// Common practice, no source: a piece without joints cannot be longer than the bars.
#[test]
fn a_piece_longer_than_every_bar_is_refused_by_name() {
    let job = Rows::with_kerf(Length::from_mm(3))
        .stock(mm(2400), None)
        .stock(mm(3000), None)
        .marked_piece("sill", mm(1200), 2)
        .marked_piece("barge", mm(3100), 1)
        .job();
    let Answer::Impossible(Impossible::PieceTooLong {
        mark,
        length,
        takes,
        longest,
        rows,
    }) = answer(&job)
    else {
        panic!("3100 mm come out of no bar of 3000 mm");
    };
    assert_eq!(mark, "barge");
    assert_eq!(
        (length, takes),
        (Length::from_mm(3100), Length::from_mm(3100))
    );
    assert_eq!(
        longest,
        Some((Length::from_mm(3000), Length::from_mm(3000)))
    );
    assert_eq!(rows, 1);
}

/// Arithmetic: of 3000 mm, squared by 10 mm at both ends, 2980 mm can be used.
#[test]
fn squaring_shortens_the_longest_piece() {
    let job = |length| {
        Rows::with_kerf(Length::from_mm(3))
            .squared(Length::from_mm(10), Length::from_mm(10))
            .stock(mm(3000), None)
            .piece(mm(length), 1)
            .job()
    };
    assert_eq!(bars_bought(&job(2980)), 1);
    let Answer::Impossible(Impossible::PieceTooLong { longest, .. }) = answer(&job(2981)) else {
        panic!("2981 mm do not come out of 2980 mm");
    };
    assert_eq!(
        longest,
        Some((Length::from_mm(2980), Length::from_mm(3000)))
    );
}

/// Arithmetic: four pieces of 2 ft and three cuts of 1/8 in take 8 ft and 3/8 in.
#[test]
fn eight_feet_do_not_give_four_times_two() {
    let boards = |kerf: &str, board: &str| {
        let job = Rows::with_kerf(measure(kerf, Unit::In).length)
            .stock(measure(board, Unit::Ft), None)
            .piece(measure("2", Unit::Ft), 4)
            .job();
        bars_bought(&job)
    };
    assert_eq!(boards("0", "8'"), 1);
    assert_eq!(boards("1/8", "8'"), 2);
    assert_eq!(boards("1/8", "8' 5/16\""), 2);
    assert_eq!(boards("1/8", "8' 3/8\""), 1);
}

/// The one bar that a piece of this many millimetres is cut from: 3000 mm, a blade of 3 mm,
/// 10 mm to square at both ends.
fn squared_bar(piece: u64) -> BarGroup {
    let job = Rows::with_kerf(Length::from_mm(3))
        .squared(Length::from_mm(10), Length::from_mm(10))
        .stock(mm(3000), None)
        .piece(mm(piece), 1)
        .job();
    let answer = answer(&job);
    let [group] = answer.cutting().bars.as_slice() else {
        panic!("one bar does");
    };
    group.clone()
}

/// Arithmetic on the rule of cutting a bar: pieces + blade + squaring + offcut = bar. A cut that
/// would leave no more than its own width takes all of it, and the far end falls away as squaring.
#[test]
fn a_bar_balances_at_the_edges_of_the_rule() {
    let parts = |piece| {
        let bar = squared_bar(piece);
        [bar.blade, bar.square, bar.offcut].map(|length| length.nm() / 1_000_000)
    };
    assert_eq!(parts(2980), [0, 20, 0]);
    assert_eq!(parts(2979), [1, 20, 0]);
    assert_eq!(parts(2977), [3, 20, 0]);
    assert_eq!(parts(2976), [3, 10, 11]);
    assert_eq!(parts(2000), [3, 10, 987]);
}

/// Arithmetic: bars cut up without waste need exactly as many bars again.
#[test]
fn perfect_plans_are_met_or_the_gap_is_admitted() {
    let mut stream = Stream::new(1960);
    let (mut proven, mut all) = (0, 0);
    for bars in 1..=12 {
        for kerf in [0, 3, 4] {
            let instance = perfect(bars, 3000, kerf, &mut stream);
            let answer = answer(&instance.job());
            let cutting = answer.cutting();
            let bought: u64 = cutting.buy.iter().map(|line| line.bars).sum();
            assert!(bought >= bars, "{}: {bought} bars bought", instance.name);
            if cutting.proof == Proof::Optimal {
                assert_eq!(bought, bars, "{}", instance.name);
                proven += 1;
            }
            all += 1;
        }
    }
    println!("perfect plans: {proven} of {all} met and proven");
    assert!(proven * 2 > all, "only {proven} of {all} are met");
}
