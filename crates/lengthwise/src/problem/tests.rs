//! Materials as integer problems, worked out by hand.

use std::sync::Arc;

use super::anywhere::{Trying, places};
use super::split::Splits;
use super::*;
use crate::fault::Origin;
use crate::job::{
    Angle, CourseRule, EndGap, Ends, HandRow, Job, JobInput, Joints, LaidCourse, PieceRow, Saw,
    Sold, StockRow,
};
use crate::length::{Measure, Unit};
use crate::plan::SplitRule;

pub(super) fn mm(mm: u32) -> Length {
    Length::from_mm(mm)
}

fn origin() -> Origin {
    Origin {
        source: Arc::from("by hand"),
        line: 2,
    }
}

fn measure(length: Length) -> Measure {
    let unit = Unit::Mm;
    Measure { length, unit }
}

pub(super) fn piece(mark: &str, length: u32, qty: u64) -> PieceRow {
    PieceRow {
        mark: mark.to_owned(),
        qty: qty.into(),
        ..PieceRow::new(origin(), measure(mm(length)))
    }
}

pub(super) fn run(mark: &str, length: u32, qty: u64, joints: Joints) -> PieceRow {
    PieceRow {
        joints: Some(joints),
        ..piece(mark, length, qty)
    }
}

fn at(places: &[u32]) -> Joints {
    Joints::At(places.iter().map(|&place| mm(place)).collect())
}

pub(super) fn bought(length: u32) -> StockRow {
    StockRow::new(origin(), measure(mm(length)))
}

fn at_price(length: u32, price: &str, sold: Sold) -> StockRow {
    StockRow {
        price: Some(money(price)),
        sold,
        ..bought(length)
    }
}

fn money(text: &str) -> Price {
    Price::parse(text, false).unwrap()
}

/// With a blade of 3 mm.
pub(super) fn job(pieces: Vec<PieceRow>, stock: Vec<StockRow>) -> Job {
    let input = JobInput {
        pieces,
        stock,
        ..JobInput::default()
    };
    input.validate().unwrap()
}

pub(super) fn material(job: &Job) -> &Material {
    &job.materials()[0]
}

fn problem(job: &Job) -> Problem {
    match Problem::new(material(job)) {
        Ok(problem) => problem,
        Err(_) => unreachable!("a plain job"),
    }
}

fn impossible(job: &Job) -> Impossible {
    match Problem::new(material(job)) {
        Err(NoProblem::Impossible(why)) => why,
        _ => unreachable!("a job without a plan"),
    }
}

/// One bar costs 6.00, one of a pack of two 2.50, one in hand 0.50: 12, 5 and 1 in units of 0.50.
#[test]
fn costs_are_whole_and_come_back_as_values() {
    let in_hand = HandRow {
        worth: Some(money("0.50")),
        available: 2,
        ..HandRow::new(origin(), measure(mm(1200)))
    };
    let input = JobInput {
        pieces: vec![piece("F", 1000, 3)],
        stock: vec![
            at_price(3000, "6", Sold::Each),
            at_price(2000, "5.00", Sold::Pack(2)),
        ],
        in_hand: vec![in_hand],
        saw: Saw::default(),
    };
    let job = input.validate().unwrap();
    let problem = problem(&job);
    let costs: Vec<i64> = problem
        .instance
        .kinds
        .iter()
        .map(|kind| kind.cost)
        .collect();
    assert_eq!(costs, [12, 5, 1]);
    let of = |text: &str| Value::Money(money(text));
    assert_eq!(problem.value(12), Some(of("6")));
    assert_eq!(problem.value(5), Some(of("2.5")));
    assert_eq!(problem.value(17), Some(of("8.5")));
    assert_eq!(problem.least_cost_of(of("8")), Some(16));
    assert_eq!(problem.least_cost_of(of("8.01")), Some(17));
    assert_eq!(problem.least_cost_above(of("8")), Some(17));
    assert_eq!(problem.least_cost_above(of("7.99")), Some(16));
    assert_eq!(problem.least_cost_of(Value::Bought(mm(8))), None);
}

#[test]
fn costs_come_in_whole_sales() {
    let job = job(
        vec![piece("F", 1000, 3)],
        vec![at_price(2000, "5", Sold::Pack(2))],
    );
    let problem = problem(&job);
    let of = |text: &str| Value::Money(money(text));
    assert_eq!(problem.value(2), Some(of("5")));
    assert_eq!(problem.value(1), None); // no price has a decimal
    let least = |text: &str| problem.least_cost_of(of(text));
    assert_eq!(
        [least("0"), least("4.99"), least("5"), least("5.01")],
        [Some(0), Some(2), Some(2), Some(4)]
    );
    let above = |text: &str| problem.least_cost_above(of(text));
    assert_eq!(
        [above("0"), above("4.99"), above("5")],
        [Some(2), Some(2), Some(4)]
    );
}

#[test]
fn bought_length_is_a_cost_too() {
    let job = job(vec![piece("F", 1000, 3)], vec![bought(3000)]);
    let problem = problem(&job);
    assert_eq!(problem.value(2), Some(Value::Bought(mm(6000))));
    let just_over = Length::from_nm(mm(6000).nm() + 1).unwrap();
    assert_eq!(problem.least_cost_of(Value::Bought(mm(6000))), Some(2));
    assert_eq!(problem.least_cost_of(Value::Bought(just_over)), Some(3));
    assert_eq!(problem.least_cost_above(Value::Bought(mm(6000))), Some(3));
    assert_eq!(problem.least_cost_above(Value::Bought(mm(5999))), Some(2));
    assert_eq!(problem.least_cost_of(Value::Money(money("1"))), None);
}

/// Pieces with a blade each, in what they have in common; what is left of a bar beside whole units is told.
#[test]
fn sizes_are_measured_in_what_they_have_in_common() {
    let long = StockRow::new(origin(), measure(Length::from_nm(3_000_500_000).unwrap()));
    let job = job(
        vec![piece("F", 1447, 2), piece("G", 997, 5)],
        vec![bought(4000), long],
    );
    let problem = problem(&job);
    let items: Vec<_> = problem.instance.items.iter().collect();
    // 1450 and 1000 with the blade, so units of 50.
    assert_eq!((items[0].size, items[0].demand), (29, 2));
    assert_eq!((items[1].size, items[1].demand), (20, 5));
    let capacities: Vec<i64> = problem
        .instance
        .kinds
        .iter()
        .map(|kind| kind.capacity)
        .collect();
    assert_eq!(capacities, [80, 60]); // 4003 and 3003.5
    let measures = problem.measures(material(&job));
    assert_eq!(measures.unit, mm(50).nm());
    assert_eq!(measures.rest, [mm(3).nm(), mm(3).nm() + 500_000]);
    assert_eq!(measures.cut, mm(3).nm());
}

/// A table with a row for each length, and one without any, and a column for each unit of the bar.
#[test]
fn tables_of_more_than_six_million_cells_are_too_fine() {
    let with_bar = |length: i64| {
        let nm = |nm: i64| measure(Length::from_nm(nm).unwrap());
        let pieces = [999_999, 1_000_000].map(|length| PieceRow::new(origin(), nm(length)));
        let input = JobInput {
            pieces: pieces.to_vec(),
            stock: vec![StockRow::new(origin(), nm(length))],
            saw: Saw {
                kerf: Length::ZERO,
                ..Saw::default()
            },
            ..JobInput::default()
        };
        problem(&input.validate().unwrap()).is_fine()
    };
    assert!(!with_bar(2_000_000));
    assert!(with_bar(2_000_001));
}

#[test]
fn pieces_longer_than_any_bar_that_can_be_had() {
    let none = StockRow {
        available: Some(0),
        ..bought(9000)
    };
    let fits = job(vec![piece("F", 3000, 1)], vec![bought(3000), none.clone()]);
    assert_eq!(problem(&fits).shapes.len(), 1);
    let long = job(
        vec![
            piece("F", 3001, 1),
            piece("G", 3002, 2),
            piece("H", 2000, 1),
        ],
        vec![bought(3000), none, bought(2500)],
    );
    let longest = Some((mm(3000), mm(3000)));
    assert_eq!(
        impossible(&long),
        Impossible::PieceTooLong {
            mark: "G-01".to_owned(),
            length: mm(3002),
            takes: mm(3002),
            longest,
            rows: 2,
        }
    );
    // Of its own batch there are only short ones.
    let of = |batch: &str, length| StockRow {
        batch: batch.to_owned(),
        ..bought(length)
    };
    let dark = PieceRow {
        batch: "dark".to_owned(),
        ..piece("F", 2500, 1)
    };
    let batches = job(vec![dark], vec![of("pale", 3000), of("dark", 2000)]);
    let Impossible::PieceTooLong { longest, .. } = impossible(&batches) else {
        unreachable!("too long for its batch")
    };
    assert_eq!(longest, Some((mm(2000), mm(2000))));
}

/// Three pieces of 998 and their cuts take 3003, which is what a bar of 3000 lends one cut more.
#[test]
fn length_that_is_not_enough() {
    let one = || StockRow {
        available: Some(1),
        ..bought(3000)
    };
    assert_eq!(
        problem(&job(vec![piece("F", 998, 3)], vec![one()]))
            .shapes
            .len(),
        1
    );
    let short = job(vec![piece("F", 999, 3)], vec![one()]);
    assert_eq!(
        impossible(&short),
        Impossible::NotEnoughLength {
            needed: mm(3006),
            available: mm(3003),
        }
    );
    // A run counts with the least that it takes: two parts and two cuts here.
    for copies in [1, 2] {
        let with_run = job(
            vec![
                piece("F", 998, 3),
                run("T", 4000, copies.into(), at(&[2000])),
            ],
            vec![StockRow {
                available: Some(2),
                ..bought(3000)
            }],
        );
        assert_eq!(
            impossible(&with_run),
            Impossible::NotEnoughLength {
                needed: mm(3003 + 4006 * copies),
                available: mm(6006),
            }
        );
    }
}

/// Two courses of 4000, whole or joined at 2000, one of them only: a window in which one must not be joined;
/// and for each course one whole part and two halves, of which its split gives back what it does not need.
#[test]
fn courses_as_windows_and_runs_as_parts() {
    let row = PieceRow {
        joints_max: Some(1),
        course_group: "north".to_owned(),
        course: Some(3),
        ..run("T", 4000, 2, at(&[2000]))
    };
    let job = job(vec![row], vec![bought(3000), bought(4000)]);
    let problem = problem(&job);
    let window = Window {
        group: 0,
        first: 3,
        place: mm(2000),
    };
    assert_eq!(problem.windows, [window]);
    let lengths: Vec<Length> = problem.shapes.iter().map(|shape| shape.length).collect();
    assert_eq!(lengths, [mm(4000), mm(2000)]);
    let instance = &problem.instance;
    let demands: Vec<u32> = instance.items.iter().map(|item| item.demand).collect();
    assert_eq!(demands, [1, 2, 4]);
    assert!(instance.items[0].size > instance.largest_capacity()); // no bar holds it
    let copies: Vec<Option<u32>> = instance.kinds.iter().map(|kind| kind.available).collect();
    assert_eq!(copies, [None, None, Some(1), Some(1)]);
    assert_eq!(problem.shape_of(0), None);
    assert_eq!(problem.shape_of(2), Some(problem.shapes[1]));
    let free = Problem::without_courses(material(&job)).ok().unwrap();
    assert_eq!(free.instance.items.len(), 2);
}

/// Four courses of 4000, two of each three neighbours joined at 1900 at most, the first joined there and laid.
#[test]
fn courses_that_are_laid_count_in_their_windows() {
    let windows = |joints: u32, laid: &[Length]| {
        let rule = CourseRule { courses: 3, joints };
        let laid = LaidCourse {
            course: 1,
            joints: laid.to_vec(),
        };
        let row = PieceRow {
            joints_max: Some(1),
            course_group: "north".to_owned(),
            course: Some(2),
            course_rule: Some(rule),
            laid: vec![laid],
            ..run("T", 4000, 3, at(&[1900]))
        };
        let job = job(vec![row], vec![bought(3000), bought(4000)]);
        let problem = problem(&job);
        let needed = problem.instance.items.iter().take(problem.windows.len());
        let needed = needed.map(|item| item.demand);
        let first = problem.windows.iter().map(|window| window.first);
        first.zip(needed).collect::<Vec<_>>()
    };
    // So many of the two and of the three that are cut must not be joined there.
    assert_eq!(windows(2, &[mm(1900)]), [(1, 1), (2, 1)]);
    assert_eq!(windows(1, &[mm(1900)]), [(1, 2), (2, 2)]);
    // Another joint does not count; then the first window allows all that are cut in it.
    assert_eq!(windows(2, &[mm(1950)]), [(2, 1)]);
}

/// Room for a whole bar is an item behind those of the windows, where nothing else has its shape.
#[test]
fn room_for_a_whole_bar_is_an_item() {
    let room = PieceRow {
        spares_only: true,
        for_bar: true,
        ..piece("bar", 2500, 1)
    };
    let course = PieceRow {
        joints_max: Some(1),
        course_group: "north".to_owned(),
        course: Some(1),
        ..run("T", 4000, 2, at(&[2000]))
    };
    let reserve = |rows: Vec<PieceRow>| {
        let job = job(rows, vec![bought(3000), bought(4000)]);
        let problem = problem(&job);
        let reserve = problem.measures(material(&job)).reserve?;
        problem.shape_of(reserve).map(|shape| shape.length)
    };
    assert_eq!(reserve(vec![course.clone(), room.clone()]), Some(mm(2500)));
    assert_eq!(
        reserve(vec![piece("F", 2600, 1), room.clone()]),
        Some(mm(2500))
    );
    assert_eq!(reserve(vec![piece("F", 2500, 1), room]), None);
    assert_eq!(reserve(vec![course]), None);
}

pub(super) fn parting_of<T>(
    row: PieceRow,
    stock: Vec<StockRow>,
    with: impl Fn(&Parting<'_>) -> T,
) -> T {
    let job = job(vec![row], stock);
    let material = material(&job);
    with(&Parting::of(material, &material.pieces()[0]).unwrap())
}

fn splits(row: PieceRow, bar: u32) -> Result<Splits, SplitRule> {
    parting_of(row, vec![bought(bar)], |parting| {
        let inside = parting.run.joints().places(parting.piece.opening());
        let inside = inside.unwrap().into_iter().zip((1..).map(Some));
        parting.splits(&inside.collect::<Vec<_>>(), None)
    })
}

fn reached(splits: &Splits) -> Vec<Vec<(u32, Length)>> {
    let of = |reach: &Vec<(u32, Shape)>| {
        let all = reach.iter().map(|(to, shape)| (*to, shape.length));
        all.collect()
    };
    splits.parts.iter().map(of).collect()
}

/// 5000 with a joint at 1000, 2500 or 4000 or several, bars of 3000: one joint is enough only at 2500, so no
/// other place is used, nor any other part.
#[test]
fn splits_keep_the_places_and_parts_that_they_use() {
    let row = || run("T", 5000, 1, at(&[1000, 2500, 4000]));
    let fewest = splits(row(), 3000).unwrap();
    assert_eq!(fewest.places, [mm(0), mm(2500), mm(5000)]);
    assert_eq!(fewest.supports, [None, Some(2), None]);
    assert_eq!(fewest.most_joints, 1);
    assert_eq!(
        reached(&fewest),
        [vec![(1, mm(2500))], vec![(2, mm(2500))], vec![]]
    );
    // With two joints every part that a bar holds is in some split, but for one with three joints.
    let two = PieceRow {
        joints_max: Some(2),
        ..row()
    };
    let two = splits(two, 3000).unwrap();
    assert_eq!(two.places.len(), 5);
    assert_eq!(
        reached(&two),
        [
            vec![(1, mm(1000)), (2, mm(2500))],
            vec![(2, mm(1500)), (3, mm(3000))],
            vec![(3, mm(1500)), (4, mm(2500))],
            vec![(4, mm(1000))],
            vec![],
        ]
    );
    assert_eq!(two.most_joints, 2);
    // One bar of 5000 holds it whole; there are no more, so that others may be joined.
    let scarce = StockRow {
        available: Some(1),
        ..bought(5000)
    };
    let (whole, most) = parting_of(row(), vec![bought(3000), scarce], |parting| {
        let inside = [1000, 2500, 4000].map(|place| (mm(place), None));
        let splits = parting.splits(&inside, None).unwrap();
        (reached(&splits).remove(0), splits.most_joints)
    });
    let whole: Vec<Length> = whole.into_iter().map(|(_, part)| part).collect();
    assert_eq!(whole, [1000, 2500, 4000, 5000].map(mm));
    assert_eq!(most, 1);
    let one = PieceRow {
        joints_max: Some(1),
        ..run("T", 5000, 1, at(&[1000, 4000]))
    };
    let rule = SplitRule::JointsMax { most: 1, needed: 2 };
    assert_eq!(splits(one, 3000), Err(rule));
}

/// The last part ends where a gap begins: it may fit where the one to the place before it does not.
#[test]
fn the_whole_run_fits_though_a_part_of_it_does_not() {
    let row = PieceRow {
        end_gap: EndGap {
            near: mm(0),
            far: mm(200),
        },
        ..run("T", 3100, 1, at(&[3050]))
    };
    let whole = splits(row, 3000).unwrap();
    assert_eq!(whole.places, [mm(0), mm(3100)]);
    assert_eq!(reached(&whole), [vec![(1, mm(2900))], vec![]]);
}

/// Between 1000 and 1100, each 10 on at most, lie 90 to 110; with the gap of 4 a joint takes, 86 to 106.
#[test]
fn parts_between_rounded_joints() {
    let row = |shortest| PieceRow {
        shortest: Some(mm(shortest)),
        joint_gap: Some(mm(4)),
        ..run("T", 5000, 1, Joints::Anywhere)
    };
    let part = |shortest, from, to| {
        parting_of(row(shortest), vec![bought(3000)], |parting| {
            let step = mm(10);
            let part = Parting { step, ..*parting }.part(mm(from), mm(to));
            part.map(|part| part.length)
        })
    };
    assert_eq!(part(50, 1000, 1100), Some(mm(86)));
    // At the ends nothing is rounded but the joint, and a joint further on makes the first part longer.
    assert_eq!(part(50, 0, 1100), Some(mm(1098)));
    assert_eq!(part(50, 1000, 5000), Some(mm(3988)));
    // As long as the shortest where some part is; none where all are shorter, nor where the gap leaves none.
    assert_eq!(part(90, 1000, 1100), Some(mm(90)));
    assert_eq!(part(105, 1000, 1100), Some(mm(105)));
    assert_eq!(part(106, 1000, 1100), None);
    assert_eq!(part(5, 1000, 1000), Some(mm(5)));
    assert_eq!(part(6, 1000, 1000), None);
}

#[test]
fn the_rule_that_leaves_no_split() {
    let shortest = PieceRow {
        shortest: Some(mm(600)),
        ..run("T", 3500, 1, at(&[500]))
    };
    let rule = SplitRule::Shortest { shortest: mm(600) };
    assert_eq!(splits(shortest, 3000), Err(rule));
    // From 1000 on no bar reaches the next place.
    let rule = SplitRule::Places {
        from: mm(1000),
        to: mm(4500),
    };
    assert_eq!(
        splits(run("T", 5000, 1, at(&[1000, 4500])), 3000),
        Err(rule)
    );
}

/// What every part of the longest kind takes at the least: 1600 with one joint, half of it anywhere.
#[test]
fn the_least_longest_part() {
    let of = |joints: Joints| {
        let job = job(vec![run("T", 3100, 1, joints)], vec![bought(3000)]);
        least_longest_part(material(&job)).map(|(takes, _)| takes)
    };
    assert_eq!(of(at(&[1000, 1600])), Some(mm(1600)));
    assert_eq!(of(Joints::Anywhere), Some(mm(1550)));
}

/// Bars of 3000: joints so that no part is longer, and what the parts are at the least.
#[test]
fn joints_anywhere_by_number() {
    let of = |row: PieceRow| {
        parting_of(row, vec![bought(3000)], |parting| {
            let joints = parting.joints_anywhere()?;
            let takes = parting.takes_anywhere(joints).unwrap();
            let least = parting.least_parts(joints.fewest).unwrap();
            let least = (
                least
                    .0
                    .iter()
                    .map(|(shape, count)| (shape.length, *count))
                    .collect::<Vec<_>>(),
                least.1,
            );
            Ok((joints.fewest..=joints.most, takes, least))
        })
    };
    let anywhere = |length| run("T", length, 1, Joints::Anywhere);
    // Whole.
    let whole = (vec![(mm(3000), 1)], 0);
    assert_eq!(of(anywhere(3000)), Ok((0..=0, mm(3003).nm(), whole)));
    // Two parts, neither below 2000, and 1000 more on either.
    let two = (vec![(mm(2000), 1), (mm(2000), 1)], mm(1000).nm());
    assert_eq!(of(anywhere(5000)), Ok((1..=1, mm(5006).nm(), two)));
    // Three, none below 2000.
    let three = (
        vec![(mm(2000), 1), (mm(2000), 1), (mm(2000), 1)],
        mm(2000).nm(),
    );
    assert_eq!(of(anywhere(8000)), Ok((2..=2, mm(8009).nm(), three)));
    // A gap of 10 is taken off at each joint, more than the cut: so three joints take least.
    let gaps = PieceRow {
        joint_gap: Some(mm(10)),
        joints_max: Some(3),
        ..anywhere(5000)
    };
    let two = (vec![(mm(1990), 1), (mm(1990), 1)], mm(1010).nm());
    assert_eq!(of(gaps), Ok((1..=3, mm(5000 - 30 + 12).nm(), two)));
    let too_few = PieceRow {
        joints_max: Some(1),
        ..anywhere(6001)
    };
    assert_eq!(
        of(too_few),
        Err(SplitRule::JointsMax { most: 1, needed: 2 })
    );
    let too_short = PieceRow {
        shortest: Some(mm(1600)),
        ..anywhere(3100)
    };
    let rule = SplitRule::Shortest { shortest: mm(1600) };
    assert_eq!(of(too_short), Err(rule));
    // Just as long as two shortest parts.
    let just = PieceRow {
        shortest: Some(mm(1600)),
        ..anywhere(3200)
    };
    assert!(of(just).is_ok());
}

/// A run with ends cut at these angles, whose saw turned by 60 degrees takes its 3 mm twice: 6 more.
pub(super) fn mitred(length: u32, near: u16, far: u16) -> PieceRow {
    let angle = |degrees: u16| Angle::from_hundredths(degrees * 100).unwrap();
    PieceRow {
        ends: Ends {
            near: angle(near),
            far: angle(far),
        },
        ..run("T", length, 1, Joints::Anywhere)
    }
}

/// Mitred ends take more of the bar that they are cut from: what one bar holds is less by it.
#[test]
fn joints_anywhere_of_mitred_runs() {
    let joints = |row: PieceRow| {
        parting_of(row, vec![bought(3000)], |parting| {
            let joints = parting.joints_anywhere();
            joints.map(|joints| (joints.fewest, joints.most))
        })
    };
    let sixty = 30; // from square
    let (one, both) = (
        |length| mitred(length, sixty, 90),
        |length| mitred(length, sixty, sixty),
    );
    assert_eq!(joints(one(2994)), Ok((0, 0)));
    assert_eq!(joints(one(2995)), Ok((1, 1)));
    assert_eq!(joints(both(2988)), Ok((0, 0)));
    assert_eq!(joints(both(2989)), Ok((1, 1)));
    // Two parts of 2994, or one of 3000.
    assert_eq!(joints(both(5988)), Ok((1, 1)));
    assert_eq!(joints(both(5989)), Ok((2, 2)));
    assert_eq!(joints(mitred(5994, 90, sixty)), Ok((1, 1)));
    assert_eq!(joints(mitred(5995, 90, sixty)), Ok((2, 2)));
    // Three, of which the one between is square.
    assert_eq!(joints(both(8988)), Ok((2, 2)));
    assert_eq!(joints(both(8989)), Ok((3, 3)));
    // The part with the mitred end is not shorter than the shortest, whichever end it is.
    let shortest = |row: PieceRow, shortest| {
        joints(PieceRow {
            shortest: Some(mm(shortest)),
            ..row
        })
    };
    for row in [mitred(5990, sixty, 90), mitred(5990, 90, sixty)] {
        assert_eq!(shortest(row.clone(), 2994), Ok((1, 1)));
        let rule = SplitRule::Shortest { shortest: mm(2996) };
        assert_eq!(shortest(row, 2996), Err(rule));
    }
}

/// What they take: lengths, the 3 mm of a cut for each part and 6 more for each mitred end.
#[test]
fn what_mitred_runs_take_of_bars() {
    let takes = |row: PieceRow, joints: std::ops::RangeInclusive<u64>| {
        parting_of(row, vec![bought(3000)], |parting| {
            let (fewest, most) = joints.clone().into_inner();
            parting.takes_anywhere(anywhere::Joints { fewest, most })
        })
    };
    let length = |length| Some(mm(length).nm());
    assert_eq!(takes(mitred(2980, 30, 30), 0..=0), length(2980 + 12 + 3));
    assert_eq!(takes(mitred(2980, 30, 90), 0..=3), length(2980 + 6 + 3));
    assert_eq!(takes(mitred(5980, 30, 30), 1..=1), length(5980 + 12 + 6));
    assert_eq!(takes(mitred(5980, 90, 30), 2..=2), length(5980 + 6 + 9));
    // Too many joints for parts of 200.
    let short = PieceRow {
        shortest: Some(mm(200)),
        ..mitred(500, 90, 90)
    };
    assert_eq!(takes(short, 2..=2), None);
}

/// The parts at the ends leave the others what a bar holds less their mitres.
#[test]
fn least_parts_of_mitred_runs() {
    let least = |row: PieceRow, joints| {
        parting_of(row, vec![bought(3000)], |parting| {
            let (parts, rest) = parting.least_parts(joints)?;
            let of_run = parting.piece.ends();
            for (part, (shape, _)) in parts.iter().enumerate() {
                let (first, last) = (part == 0, part + 1 == parts.len());
                let at = |is: bool, angle| if is { angle } else { Angle::SQUARE };
                let (near, far) = (at(first, of_run.near), at(last, of_run.far));
                assert_eq!(shape.ends, Ends { near, far });
            }
            let parts: Vec<_> = parts
                .iter()
                .map(|(shape, count)| (shape.length, *count))
                .collect();
            Some((parts, rest))
        })
    };
    // The mitred part is at most 2994, the other at most 3000.
    let near = vec![(mm(2980), 1), (mm(2986), 1)];
    assert_eq!(least(mitred(5980, 30, 90), 1), Some((near, mm(14).nm())));
    let far = vec![(mm(2986), 1), (mm(2980), 1)];
    assert_eq!(least(mitred(5980, 90, 30), 1), Some((far, mm(14).nm())));
    let three = vec![(mm(2980), 1), (mm(2980), 1), (mm(2974), 1)];
    assert_eq!(least(mitred(8974, 90, 30), 2), Some((three, mm(40).nm())));
    // Gaps that eat the whole run leave no part.
    let gaps = PieceRow {
        joint_gap: Some(mm(500)),
        ..run("T", 1000, 1, Joints::Anywhere)
    };
    assert_eq!(least(gaps.clone(), 2), None);
    let none = parting_of(gaps, vec![bought(3000)], |parting| parting.least_longest(2));
    assert_eq!(none, None);
}

/// Two joints are never rounded to one place: they are as far apart as the shortest part and a gap.
#[test]
fn places_for_rounded_joints() {
    let row = PieceRow {
        shortest: Some(mm(200)),
        joint_gap: Some(mm(4)),
        ..run("T", 1000, 1, Joints::Anywhere)
    };
    let places = |step: i64| {
        parting_of(row.clone(), vec![bought(3000)], |parting| {
            let step = Length::from_nm(step).unwrap();
            let places = Parting { step, ..*parting }.places_rounded()?;
            Some(
                places
                    .into_iter()
                    .map(|(place, _)| place)
                    .collect::<Vec<_>>(),
            )
        })
    };
    // From 202 to 798.
    let apart = mm(204).nm();
    assert_eq!(places(apart), Some(vec![mm(202), mm(406), mm(610)]));
    assert_eq!(places(apart + 1), None);
    assert_eq!(places(0), None);
    let last = (798 - 202) / 4;
    assert_eq!(
        places(mm(last).nm()),
        Some((0..=4).map(|place| mm(202 + place * last)).collect())
    );
}

/// With one joint on bars of 3000, each part of 5000 is 2000 at the least, and 1000 of both are left to share out;
/// the sizes, 2003 and 3003, have 1 mm in common.
#[test]
fn least_parts_are_pieces_where_runs_go_by_their_length() {
    let of = |qty: u64| {
        let job = job(
            vec![run("T", 5000, qty, Joints::Anywhere), piece("F", 2000, 1)],
            vec![bought(3000)],
        );
        let problem = Problem::anywhere(material(&job)).unwrap();
        let items = problem.instance.items.iter();
        let items: Vec<(i64, u32)> = items.map(|item| (item.size, item.demand)).collect();
        (problem.unit, items)
    };
    assert_eq!(of(1), (Some(mm(1)), vec![(2003, 3), (1, 1000)]));
    assert_eq!(of(4), (Some(mm(1)), vec![(2003, 9), (1, 4000)]));
}

/// Rows whose runs may be split in the same ways are one kind of run; any other rule makes two.
#[test]
fn runs_that_are_alike() {
    let row = || PieceRow {
        joint_gap: Some(mm(2)),
        joints_max: Some(2),
        shortest: Some(mm(300)),
        ..run("T", 5000, 3, at(&[2500]))
    };
    let kinds = |other: PieceRow| {
        let job = job(vec![row(), other], vec![bought(3000)]);
        let instance = problem(&job).instance;
        let runs = instance.kinds.iter().filter(|kind| kind.run.is_some());
        runs.map(|kind| kind.available).collect::<Vec<_>>()
    };
    let alike = PieceRow {
        qty: 4.into(),
        mark: "U".to_owned(),
        ..row()
    };
    assert_eq!(kinds(alike), [Some(7)]);
    let gap = |near, far| EndGap {
        near: mm(near),
        far: mm(far),
    };
    let mitred = Ends {
        near: Angle::from_hundredths(4500).unwrap(),
        far: Angle::SQUARE,
    };
    for other in [
        PieceRow {
            length: measure(mm(5001)),
            ..row()
        },
        PieceRow {
            end_gap: gap(1, 0),
            ..row()
        },
        PieceRow {
            ends: mitred,
            ..row()
        },
        PieceRow {
            joint_gap: Some(mm(3)),
            ..row()
        },
        PieceRow {
            joints_max: Some(1),
            ..row()
        },
        PieceRow {
            shortest: Some(mm(301)),
            ..row()
        },
        PieceRow {
            joints: Some(at(&[2501])),
            ..row()
        },
    ] {
        let rules = format!("{other:?}");
        assert_eq!(kinds(other), [Some(3), Some(3)], "{rules}");
    }
    // One of a batch, the other of any.
    let of = |batch: &str, length| StockRow {
        batch: batch.to_owned(),
        ..bought(length)
    };
    let pale = PieceRow {
        batch: "pale".to_owned(),
        ..row()
    };
    let job = job(vec![row(), pale], vec![of("pale", 3000), of("dark", 3000)]);
    assert_eq!(problem(&job).instance.runs.len(), 2);
}

/// The first of the runs that no rule leaves a split, and how many rows there are of them.
#[test]
fn runs_that_cannot_be_split() {
    let long = |mark: &str, length| run(mark, length, 2, at(&[500]));
    let rows = vec![
        run("S", 5000, 1, at(&[2500])),
        long("T", 4000),
        long("U", 4100),
    ];
    let job = job(rows, vec![bought(3000)]);
    assert_eq!(
        impossible(&job),
        Impossible::NoSplit {
            mark: "T-01".to_owned(),
            length: mm(4000),
            rule: SplitRule::Places {
                from: mm(500),
                to: mm(4000),
            },
            longest: Some((mm(3000), mm(3000))),
            rows: 2,
        }
    );
}

/// Where it is proven by length, all of a run is so many units of what all bars have in common.
#[test]
fn runs_by_their_length() {
    let units = |length: u32| {
        let row = PieceRow {
            joints_max: Some(3),
            ..run("T", length, 2, Joints::Anywhere)
        };
        let job = job(vec![row], vec![bought(2999), bought(4001)]);
        let problem = Problem::anywhere(material(&job)).unwrap();
        let item = problem.instance.items.last().unwrap();
        assert_eq!(item.size, 1);
        let capacities: Vec<i64> = problem
            .instance
            .kinds
            .iter()
            .map(|kind| kind.capacity)
            .collect();
        (problem.unit, capacities, item.demand)
    };
    // 3002 and 4004 have 2 in common; two copies of 5006 are 5006 of that, a millimetre more of each one more.
    let unit = Some(mm(2));
    assert_eq!(units(5000), (unit, vec![1501, 2002], 5006));
    assert_eq!(units(5001), (unit, vec![1501, 2002], 5007));
    let plain = job(vec![piece("F", 1000, 3)], vec![bought(3000)]);
    assert!(Problem::anywhere(material(&plain)).is_none());
}

#[test]
fn what_was_counted_by_length_rounds_up() {
    let mut instance = Instance {
        items: vec![Item {
            size: 30,
            demand: 1,
            batch: None,
        }],
        ..Instance::default()
    };
    let unit = |takes| {
        let mut instance = instance.clone();
        let unit = add_length(&mut instance, takes).unwrap();
        (unit.nm(), instance.items[0].size, instance.items[1].demand)
    };
    assert_eq!(unit(60), (30, 1, 2));
    assert_eq!(unit(61), (30, 1, 3));
    assert_eq!(unit(59), (30, 1, 2));
    instance.items.clear();
    assert_eq!(add_length(&mut instance, 60), None);
}

#[test]
fn packs_have_a_least_common_multiple() {
    assert_eq!(lcm(4, 6), Some(12));
    assert_eq!(lcm(1, 5), Some(5));
    assert_eq!(lcm(i128::MAX, 2), None);
}

/// Parts on the left of a joint are as long as those on its right, so that steps of 5 mm leave few enough;
/// 3 mm more make twice as many of them.
#[test]
fn the_finest_step_that_leaves_few_enough_parts() {
    let of = |length: u32| {
        let row = PieceRow {
            shortest: Some(mm(50)),
            ..run("T", length, 1, Joints::Anywhere)
        };
        let job = job(vec![row], vec![bought(3000)]);
        let problem = Problem::rounded(material(&job)).unwrap();
        assert!(problem.shapes.len() <= 600);
        problem.step
    };
    assert_eq!(of(3100), Some(mm(5)));
    assert_eq!(of(3103), Some(mm(10)));
}

/// Of a long run a coarser step leaves few enough parts to go through; of a very long one, none does.
#[test]
fn long_runs_are_not_gone_through_in_fine_steps() {
    let step = |length: Length| {
        let row = PieceRow {
            length: measure(length),
            ..run("T", 1000, 1, Joints::Anywhere)
        };
        let job = job(vec![row], vec![bought(6000)]);
        Problem::rounded(material(&job))?.step
    };
    // From each of 4990 places 10 mm apart 601 others are within a bar, from 9980 places 5 mm apart 1201, and so on:
    // three million are gone through. What is left over is so little that few of them are parts of any split.
    assert_eq!(step(mm(49_900)), Some(mm(10)));
    assert_eq!(step(mm(95_900)), Some(mm(20)));
    assert_eq!(step(mm(1_001_900)), Some(mm(50)));
    assert_eq!(step(mm(10_000_000)), None);
    // Each for every number of joints: fifty million.
    let step_of = |joints_max| {
        let row = PieceRow {
            joints_max: Some(joints_max),
            ..run("T", 95_900, 1, Joints::Anywhere)
        };
        Problem::rounded(material(&job(vec![row], vec![bought(6000)])))?.step
    };
    assert_eq!(step_of(16), Some(mm(20)));
    assert_eq!(step_of(900), None);
    let row = |length: Length| PieceRow {
        length: measure(length),
        ..run("T", 1000, 1, Joints::Anywhere)
    };
    let kilometres = |count: i64| Length::from_nm(count * 1_000_000_000_000).unwrap();
    let bar = StockRow {
        length: measure(kilometres(24_000)),
        ..bought(1000)
    };
    let job = job(vec![row(kilometres(18_000))], vec![bar]);
    assert!(Problem::rounded(material(&job)).is_none());
}

/// Places for one joint of a run of 5000 on bars of 3000 beside pieces of 1200. A part begins 5 behind the left
/// end and ends 2 before the joint: a full bar at 3007, the shortest at 907, what one, two pieces leave of a bar
/// at 1804 and 601, a half, third, quarter of one at 1505, 1005, 754, half the run at 2499; the same from the
/// right, where 8 are lost; and from there what each leaves of the run, and that of a bar.
#[test]
fn places_that_are_tried_for_joints_anywhere() {
    let row = PieceRow {
        shortest: Some(mm(900)),
        end_gap: EndGap {
            near: mm(5),
            far: mm(6),
        },
        joint_gap: Some(mm(4)),
        ..run("T", 5000, 1, Joints::Anywhere)
    };
    let job = job(vec![row, piece("F", 1200, 2)], vec![bought(3000)]);
    let material = material(&job);
    let parting = Parting::of(material, &material.pieces()[0]).unwrap();
    let joints = parting.joints_anywhere().unwrap();
    let tried = places(material, &[(parting, joints)], Trying::All).remove(0);
    let tried: Vec<i64> = tried
        .into_iter()
        .map(|place| place.nm() / 1_000_000)
        .collect();
    let from_left = [
        18, 116, 269, 422, 511, 512, 601, 754, 907, 1005, 1019, 1207, 1505, 1506, 1804, 1992, 2006,
        2104, 2257, 2410, 2499, 2500,
    ];
    let from_right = [
        2589, 2742, 2895, 2993, 3007, 3195, 3493, 3494, 3792, 3980, 3994, 4092, 4245, 4398, 4487,
        4488, 4577, 4730, 4883, 4981,
    ];
    assert_eq!(tried, [&from_left[..], &from_right].concat());
}
