//! Plans with runs made by hand, each claim about them tampered with in turn; and what is worked out of
//! their rules, against every split there is.

use std::collections::BTreeSet;

use proptest::prelude::*;

use super::*;
use crate::job::{Angle, Ceilings, CourseRule, EndGap, Joints, LaidCourse};
use crate::plan::{Anywhere, RunPart, SplitRule, Window};
use crate::verify::facts::Facts;
use crate::verify::mixes::pieces;
use crate::verify::runs::{Longest, Parting};

fn at(places: &[u32]) -> Joints {
    Joints::At(places.iter().map(|&place| mm(place)).collect())
}

fn every(spacing: u32, from: u32) -> Joints {
    Joints::Every {
        spacing: mm(spacing),
        from: mm(from),
    }
}

fn run(mark: &str, length: u32, qty: u64, joints: Joints) -> PieceRow {
    PieceRow {
        joints: Some(joints),
        ..piece(mark, length, qty)
    }
}

fn job(pieces: Vec<PieceRow>, stock: Vec<StockRow>) -> Job {
    let input = JobInput {
        pieces,
        stock,
        ..JobInput::default()
    };
    input.validate().unwrap()
}

fn bought(length: u32) -> StockRow {
    stock(length, None, Sold::Each, None)
}

/// A part of row `T`: copy, number and count, from, to.
fn part((copy, part, of): (u64, u32, u32), from: u32, to: u32) -> RunPart {
    RunPart {
        mark: "T".to_owned(),
        copy,
        part,
        of,
        from: mm(from),
        to: mm(to),
        from_support: None,
        to_support: None,
    }
}

fn cut_of(length: u32, mark: &str, part: RunPart) -> Cut {
    Cut {
        parts: vec![part],
        ..cut(length, &[mark])
    }
}

/// Six runs of 3100 joined anywhere, bars of 3000: six parts of 3000 and six of 100.
pub(super) fn six_runs(joints_max: Option<u64>) -> (Job, Cutting) {
    let row = PieceRow {
        joints_max,
        ..run("T", 3100, 6, Joints::Anywhere)
    };
    let job = job(vec![row], vec![bought(3000)]);
    let marks = |part: u32| -> Vec<String> {
        let copies = 1..=6;
        copies.map(|copy| format!("T-{copy:02}.{part}")).collect()
    };
    let long = Cut {
        marks: marks(1),
        parts: (1..=6).map(|copy| part((copy, 1, 2), 0, 3000)).collect(),
        ..cut(3000, &[])
    };
    let short = marks(2).into_iter().zip(1..);
    let short = short.map(|(mark, copy)| cut_of(100, &mark, part((copy, 2, 2), 3000, 3100)));
    let names = ["A1", "A2", "A3", "A4", "A5", "A6"];
    let full = group(0, &names, 3000, vec![long], [0; 5]);
    let mut last = group(0, &["B1"], 3000, short.collect(), [18, 0, 0, 2382, 0]);
    last.saved = true;
    let value = Value::Bought(mm(21000));
    // With one joint no part is shorter than 100, and 2900 of each run are by length. With two joints
    // allowed all of it is by length: 3106 a run, cuts included.
    let (prices, anywhere) = match joints_max {
        None => (vec![(shape(100), 103)], (mm(1), 1)),
        Some(_) => (vec![], (mm(3003), 3003)),
    };
    let (unit, price) = anywhere;
    let cutting = Cutting {
        buy: vec![singly(0, 3000, 7, None, None)],
        bars: vec![full, last],
        figures: Figures {
            bought: mm(21000),
            total: mm(21000),
            cut_into: mm(21000),
            needed: mm(18600),
            blade: mm(18),
            saved: mm(2382),
            ..Figures::default()
        },
        certificate: Certificate {
            tried: vec![],
            combinations: vec![],
            scale: 3003,
            prices,
            windows: vec![],
            anywhere: Some(Anywhere::ByLength { unit, price }),
            mixes: MixProof::default(),
        },
        ..best(value)
    };
    (job, cutting)
}

/// Two courses of 4000 that may be joined at 2000, one of them only; a joint saves 4.00 of 10.00.
pub(super) fn two_courses() -> (Job, Cutting) {
    let row = PieceRow {
        joints_max: Some(1),
        course_group: "north".to_owned(),
        course: Some(3),
        ..run("T", 4000, 2, at(&[2000]))
    };
    let each = |length, price| stock(length, Some(price), Sold::Each, None);
    let job = job(vec![row], vec![each(3000, "3"), each(4000, "10")]);
    let half = |number: u32, name: &str| {
        let (from, to) = if number == 1 { (0, 2000) } else { (2000, 4000) };
        let mut part = part((2, number, 2), from, to);
        if number == 1 {
            part.to_support = Some(1);
        } else {
            part.from_support = Some(1);
        }
        let cut = cut_of(2000, &format!("T-02.{number}"), part);
        let mut bar = group(0, &[name], 3000, vec![cut], [3, 0, 0, 997, 0]);
        bar.saved = true;
        bar
    };
    let whole = cut_of(4000, "T-01", part((1, 1, 1), 0, 4000));
    let purchase = |bar, length, bars, price: &str, cost: &str| Purchase {
        bar,
        length: mm(length),
        sold: Sold::Each,
        bars,
        sales: bars,
        price: Some(money(price)),
        cost: Some(money(cost)),
    };
    let value = Value::Money(money("16"));
    let window = Window {
        group: 0,
        first: 3,
        place: mm(2000),
    };
    let cutting = Cutting {
        buy: vec![
            purchase(0, 3000, 2, "3", "6"),
            purchase(1, 4000, 1, "10", "10"),
        ],
        bars: vec![
            group(1, &["A1"], 4000, vec![whole], [0; 5]),
            half(1, "B1"),
            half(2, "C1"),
        ],
        figures: Figures {
            bought: mm(10000),
            total: mm(10000),
            cut_into: mm(10000),
            needed: mm(8000),
            blade: mm(6),
            saved: mm(1994),
            ..Figures::default()
        },
        // A copy is worth 10: whole, or two parts of 3 and 4 for the joint. One joint is allowed.
        certificate: Certificate {
            scale: 1,
            prices: vec![(shape(4000), 10), (shape(2000), 3)],
            windows: vec![(window, 4)],
            anywhere: None,
            tried: vec![],
            combinations: vec![],
            mixes: MixProof::default(),
        },
        ..best(value)
    };
    (job, cutting)
}

fn is_best(job: &Job, cutting: &Cutting) {
    let verified = verify(job, &planned(job, cutting.clone())).unwrap();
    let material = verified.materials.first().unwrap();
    assert_eq!(material.bound, Some(cutting.value));
    assert!(material.rechecked.contains(&Claim::Optimal));
    assert_eq!(material.on_trust, vec![]);
}

/// 6 x 3106 of 3003 a bar are 6.2 bars.
#[test]
fn runs_joined_anywhere_are_proven_by_their_length() {
    for joints_max in [None, Some(2)] {
        let (job, cutting) = six_runs(joints_max);
        is_best(&job, &cutting);
    }
}

#[test]
fn courses_are_proven_by_their_windows() {
    let (job, cutting) = two_courses();
    is_best(&job, &cutting);
}

/// A course that is laid with a joint there takes the one that its window allows: the neighbour is cut whole,
/// the other may be joined.
#[test]
fn laid_courses_take_the_joints_of_their_windows() {
    let (job, cutting) = two_courses();
    for (laid, window, joined) in [(2, 2, 2), (5, 4, 1)] {
        let row = PieceRow {
            joints_max: Some(1),
            course_group: "north".to_owned(),
            course: Some(3),
            laid: vec![LaidCourse {
                course: laid,
                joints: vec![mm(2000)],
            }],
            ..run("T", 4000, 2, at(&[2000]))
        };
        let each = |length, price| stock(length, Some(price), Sold::Each, None);
        let with_laid = self::job(vec![row], vec![each(3000, "3"), each(4000, "10")]);
        let mut cutting = cutting.clone();
        let whole = 3 - joined;
        cutting.bars[0].cuts[0].marks = vec![format!("T-{whole:02}")];
        cutting.bars[0].cuts[0].parts[0].copy = whole;
        for (bar, number) in [(1, 1), (2, 2)] {
            let cut = &mut cutting.bars[bar].cuts[0];
            cut.marks = vec![format!("T-{joined:02}.{number}")];
            cut.parts[0].copy = joined;
        }
        let (both, price) = cutting.certificate.windows[0];
        let of_laid = Window {
            first: window,
            ..both
        };
        // A joint of the neighbour would be paid for twice, and none is allowed in the window of the laid one.
        cutting.certificate.windows.push((of_laid, price));
        is_best(&with_laid, &cutting);
    }
    is_best(&job, &cutting);
}

/// The first part of the two that are cut of the second course.
fn first_half(cutting: &mut Cutting) -> &mut Cut {
    &mut cutting.bars[1].cuts[0]
}

#[test]
fn tampered_parts() {
    let (job, cutting) = two_courses();
    use RunBreach::*;
    refused! { &job, &cutting;
        plan: first_half(plan).parts.clear() => Breach::Run(WithoutPart { .. }),
        plan: { let cut = first_half(plan); let part = cut.parts[0].clone(); cut.parts.push(part) }
            => Breach::Run(PartsPerBar { parts: 2, bars: 1, .. }),
        plan: first_half(plan).parts[0].mark.push('x') => Breach::Run(PartName { .. }),
        plan: first_half(plan).parts[0].copy = 1 => Breach::Run(PartName { copy: 1, .. }),
        plan: first_half(plan).parts[0].part = 2 => Breach::Run(PartName { part: 2, .. }),
        plan: first_half(plan).parts[0].of = 1 => Breach::Run(PartName { of: 1, .. }),
        plan: first_half(plan).parts[0].of = 3 => Breach::Run(PartName { of: 2, .. }),
        plan: plan.bars[0].cuts[0].parts[0].of = 2 => Breach::Run(PartName { of: 2, .. }),
        plan: first_half(plan).parts[0].from = mm(1) => Breach::Run(PartBegins { .. }),
        plan: first_half(plan).parts[0].to = mm(1999) => Breach::Run(NoPlace { .. }),
        plan: first_half(plan).parts[0].to = mm(0) => Breach::Run(PartEnds { .. }),
        plan: plan.bars[2].cuts[0].parts[0].from = mm(1999) => Breach::Run(PartBegins { .. }),
        plan: plan.bars[2].cuts[0].parts[0].to = mm(3999) => Breach::Run(PartEnds { .. }),
        plan: first_half(plan).parts[0].to_support = None => Breach::Run(Support { .. }),
        plan: first_half(plan).parts[0].to_support = Some(2) => Breach::Run(Support { .. }),
        plan: first_half(plan).parts[0].from_support = Some(1) => Breach::Run(Support { .. }),
        plan: plan.bars[2].cuts[0].parts[0].from_support = Some(2) => Breach::Run(Support { .. }),
        plan: plan.bars[2].cuts[0].parts[0].to_support = Some(2) => Breach::Run(Support { .. }),
        plan: first_half(plan).marks[0] = "T-02".to_owned() => Breach::Run(PartName { .. }),
        plan: first_half(plan).marks[0] = "T-02.3".to_owned() => Breach::NotCut { .. },
        plan: plan.bars[2].cuts[0].marks[0] = "T-02.3".to_owned() => Breach::NotCut { .. },
        plan: first_half(plan).marks[0] = "T-02.2".to_owned() => Breach::CutTwice { .. },
        plan: plan.bars[0].cuts[0].marks[0] = "T-01.1".to_owned() => Breach::Run(PartName { .. }),
        plan: first_half(plan).spare = true => Breach::SpareNotAsked { .. },
        plan: { plan.bars.remove(2); } => Breach::NotCut { .. },
        plan: { plan.bars.remove(0); } => Breach::NotCut { .. },
    }
}

/// By the mark of the run where nothing of it is cut, else by that of the first part that is missing.
#[test]
fn what_is_not_cut_of_a_run_is_named() {
    let missing = |bar: usize| {
        let (job, mut cutting) = two_courses();
        cutting.bars.remove(bar);
        match verify(&job, &planned(&job, cutting)) {
            Err(refusal) => match refusal.breach {
                Breach::NotCut { mark } => mark,
                other => unreachable!("{other:?}"),
            },
            Ok(_) => unreachable!("a bar is missing"),
        }
    };
    assert_eq!(missing(0), "T-01");
    assert_eq!(missing(2), "T-02.2");
}

/// One bar too short, one too long by as much: the bars still balance.
#[test]
fn lengths_and_ends_of_parts() {
    let (job, cutting) = two_courses();
    let breach = tampered(&job, &cutting, |plan| {
        for (bar, length, offcut) in [(1, 2100, 897), (2, 1900, 1097)] {
            plan.bars[bar].cuts[0].length = mm(length);
            plan.bars[bar].offcut = mm(offcut);
        }
    });
    assert!(matches!(breach, Breach::WrongLength { .. }), "{breach:?}");
    // Square ends take what they took, and only one part has the mitred one.
    let mitre = Angle::from_hundredths(4500).unwrap();
    let ends = Ends {
        near: mitre,
        far: Angle::SQUARE,
    };
    let row = PieceRow {
        ends,
        ..run("T", 3100, 1, at(&[2000]))
    };
    let job = super::runs::job(vec![row], vec![bought(3000)]);
    let facts = Facts::of(&job.materials()[0]).unwrap();
    let parting = facts.runs[0].parting;
    let ends_of = |from: i128, to: i128| parting.part(from, to).unwrap().ends;
    let (place, end) = (2_000_000_000, 3_100_000_000);
    assert_eq!(ends_of(0, place), ends);
    assert_eq!(ends_of(place, end), Ends::SQUARE);
    assert_eq!(ends_of(0, end), ends);
    let takes = parting.part(0, place).unwrap().takes;
    assert_eq!(takes, place + 4_242_641); // 3 mm times the root of 2
}

/// Parts of the first course cut alike in one group, of which one claims another place.
#[test]
fn parts_cut_alike() {
    let (job, cutting) = six_runs(None);
    use RunBreach::*;
    refused! { &job, &cutting;
        plan: { plan.bars[0].cuts[0].parts[2].from = mm(5); } => Breach::Run(PartsDiffer { .. }),
        plan: { plan.bars[0].cuts[0].parts.pop(); } => Breach::Run(PartsPerBar { .. }),
        plan: plan.bars[0].cuts[0].parts.swap(0, 1) => Breach::Run(PartName { .. }),
        plan: {
            for part in &mut plan.bars[0].cuts[0].parts {
                part.to_support = Some(5);
            }
        } => Breach::Run(Support { recomputed: None, .. }),
    }
    // Without joints in the job there are no parts.
    let (job, cutting) = rafters();
    let breach = tampered(&job, &cutting, |plan| {
        let parts = (1..=7).map(|copy| part((copy, 1, 1), 0, 2210));
        plan.bars[0].cuts[0].parts = parts.collect();
    });
    assert!(matches!(breach, Breach::Run(PartOfNoRun { .. })));
}

#[test]
fn too_many_joints_and_too_short_parts() {
    // One joint is enough, so two are too many.
    let with = |joints_max: Option<u64>, shortest: u32| {
        let row = PieceRow {
            joints_max,
            shortest: Some(mm(shortest)),
            ..run("T", 3100, 1, every(100, 0))
        };
        let job = job(vec![row], vec![bought(3000)]);
        let places = [(0, 2000), (2000, 3000), (3000, 3100)];
        let parts = (1..).zip(places).map(|(number, (from, to))| {
            let support = |place: u32| (place > 0 && place < 3100).then_some(place / 100);
            let part = RunPart {
                from_support: support(from),
                to_support: support(to),
                ..part((1, number, 3), from, to)
            };
            cut_of(to - from, &format!("T.{number}"), part)
        });
        let (first, last): (Vec<Cut>, Vec<Cut>) = parts.partition(|cut| cut.length == mm(2000));
        let bars = vec![
            group(0, &["A1"], 3000, first, [3, 0, 0, 997, 0]),
            group(0, &["B1"], 3000, last, [6, 0, 0, 1894, 0]),
        ];
        let facts = Facts::of(&job.materials()[0]).unwrap();
        demand::check_demand(&facts, &bars)
    };
    assert_eq!(with(Some(2), 100), Ok(()));
    let breach = with(None, 100).unwrap_err();
    let too_many = RunBreach::TooManyJoints {
        mark: "T".to_owned(),
        joints: 2,
        most: 1,
    };
    assert_eq!(breach, Breach::Run(too_many));
    assert_eq!(breach.to_string(), "run T has 2 joints, 1 are allowed");
    let breach = with(Some(2), 101).unwrap_err();
    assert!(matches!(breach, Breach::Run(RunBreach::TooShort { .. })));
}

#[test]
fn a_spare_run_is_called_one() {
    let row = PieceRow {
        spare: 1,
        ..run("T", 2000, 1, Joints::Anywhere)
    };
    let job = job(vec![row], vec![bought(3000)]);
    let facts = Facts::of(&job.materials()[0]).unwrap();
    let bars = |spare: bool| {
        let asked = cut_of(2000, "T", part((1, 1, 1), 0, 2000));
        let more = RunPart {
            mark: "T-spare".to_owned(),
            ..part((1, 1, 1), 0, 2000)
        };
        let mut more = cut_of(2000, "T-spare", more);
        more.spare = spare;
        vec![group(0, &["A1", "B1"], 3000, vec![asked, more], [0; 5])]
    };
    // Marks per bar are looked at with the bars.
    assert_eq!(demand::check_demand(&facts, &bars(true)), Ok(()));
    let breach = demand::check_demand(&facts, &bars(false)).unwrap_err();
    assert!(matches!(breach, Breach::SpareNotSaid { .. }));
}

/// Copies are counted through all rows with one mark, as in the marks.
#[test]
fn copies_of_several_rows_with_one_mark() {
    let rows = vec![
        run("T", 2000, 1, Joints::Anywhere),
        run("T", 2500, 1, Joints::Anywhere),
    ];
    let job = job(rows, vec![bought(3000)]);
    let facts = Facts::of(&job.materials()[0]).unwrap();
    let check = |copy: u64| {
        let first = cut_of(2000, "T-01", part((1, 1, 1), 0, 2000));
        let second = cut_of(2500, "T-02", part((copy, 1, 1), 0, 2500));
        let bars = [group(0, &["A1"], 3000, vec![first, second], [0; 5])];
        demand::check_demand(&facts, &bars)
    };
    assert_eq!(check(2), Ok(()));
    let breach = check(1).unwrap_err();
    assert!(matches!(
        breach,
        Breach::Run(RunBreach::PartName { copy: 1, .. })
    ));
}

/// Courses 1, 2, 5 and 9 are neighbours in this order, whatever their numbers.
fn courses_joined(joined: &[u64], rule: (u32, u32)) -> Result<(), Breach> {
    let courses = [1, 2, 5, 9];
    let rows = courses.map(|course| PieceRow {
        joints_max: Some(1),
        course_group: "north".to_owned(),
        course: Some(course),
        course_rule: Some(CourseRule {
            joints: rule.0,
            courses: rule.1,
        }),
        ..run(&format!("C{course}"), 3000, 1, every(600, 0))
    });
    let job = job(rows.to_vec(), vec![bought(3000)]);
    let facts = Facts::of(&job.materials()[0]).unwrap();
    let cuts = courses.iter().flat_map(|course| {
        let part = |number, of, from: u32, to: u32| {
            let support = |place: u32| (place > 0 && place < 3000).then_some(place / 600);
            RunPart {
                mark: format!("C{course}"),
                from_support: support(from),
                to_support: support(to),
                ..part((1, number, of), from, to)
            }
        };
        if joined.contains(course) {
            let first = cut_of(1200, &format!("C{course}.1"), part(1, 2, 0, 1200));
            let last = cut_of(1800, &format!("C{course}.2"), part(2, 2, 1200, 3000));
            vec![first, last]
        } else {
            vec![cut_of(3000, &format!("C{course}"), part(1, 1, 0, 3000))]
        }
    });
    let bars = [group(0, &["A1"], 3000, cuts.collect(), [0; 5])];
    demand::check_demand(&facts, &bars)
}

#[test]
fn courses_joined_too_often_at_one_place() {
    let named = |joined: &[u64], rule| match courses_joined(joined, rule) {
        Ok(()) => vec![],
        Err(Breach::Run(RunBreach::Courses {
            group,
            place,
            courses,
            ..
        })) => {
            assert_eq!((group.as_str(), place), ("north", mm(1200)));
            courses
        }
        Err(other) => unreachable!("{other:?}"),
    };
    assert_eq!(named(&[1, 5], (1, 2)), Vec::<u64>::new());
    assert_eq!(named(&[2, 5], (1, 2)), vec![2, 5]);
    assert_eq!(named(&[1, 5], (1, 3)), vec![1, 5]);
    assert_eq!(named(&[1, 9], (1, 3)), Vec::<u64>::new());
    assert_eq!(named(&[1, 2, 9], (2, 3)), Vec::<u64>::new());
    assert_eq!(named(&[1, 5, 9], (2, 4)), vec![1, 5, 9]);
    // Fewer courses than the rule speaks of: all of them.
    assert_eq!(named(&[1, 9], (1, 9)), vec![1, 9]);
    assert_eq!(named(&[1, 2, 5, 9], (4, 9)), Vec::<u64>::new());
}

/// The rule of a plan's own courses: both joined at 2000.
#[test]
fn a_plan_against_its_rule() {
    let (job, mut cutting) = two_courses();
    let half = |number: usize, name: &str| {
        let mut bar = cutting.bars[number].clone();
        bar.names = vec![name.to_owned()];
        bar.cuts[0].marks = vec![format!("T-01.{number}")];
        bar.cuts[0].parts[0].copy = 1;
        bar
    };
    let both = [half(1, "D1"), half(2, "E1")];
    cutting.bars.remove(0);
    cutting.bars.extend(both);
    let breach = verify(&job, &planned(&job, cutting)).unwrap_err().breach;
    assert!(matches!(breach, Breach::Run(RunBreach::Courses { .. })));
    assert_eq!(
        breach.to_string(),
        "courses [3, 4] of north are all joined at 2000mm; 1 of 2 may be"
    );
}

#[test]
fn tampered_certificates() {
    use RunBreach::*;
    let (job, cutting) = two_courses();
    // Four parts at the most, so that nothing costs 14 or 15; 12 and 13 remain to be refuted.
    refused! { &job, &cutting;
        plan: { plan.certificate.prices.pop(); } => Breach::CertificateLengths,
        plan: plan.certificate.prices.swap(0, 1) => Breach::CertificateLengths,
        plan: plan.certificate.prices.push((shape(1000), 0)) => Breach::CertificateLengths,
        plan: plan.certificate.prices[1].1 = -1 => Breach::CertificatePrice { .. },
        plan: plan.certificate.prices[1].1 = 4 => Breach::PricesAboveCost { bar: 0, .. },
        plan: plan.certificate.prices[0].1 = 8 => Breach::BoundNotProven { .. },
        plan: plan.certificate.windows[0].1 = 1 => Breach::BoundNotProven { .. },
        plan: plan.certificate.windows[0].1 = 7 => Breach::BoundNotProven { .. },
        plan: plan.certificate.windows[0].1 = -4 => Breach::Run(WindowPrice { price: -4, .. }),
        plan: plan.certificate.windows[0].0.group = 1 => Breach::Run(Window { place: 0 }),
        plan: plan.certificate.windows[0].0.first = 2 => Breach::Run(Window { place: 0 }),
        // The last course alone may be joined: a window that says nothing of the first.
        plan: plan.certificate.windows[0].0.first = 4 => Breach::BoundNotProven { .. },
        plan: plan.certificate.windows[0].0.place = mm(1000) => Breach::BoundNotProven { .. },
        // The ends are no places for joints, though every run goes from one to the other.
        plan: plan.certificate.windows[0].0.place = mm(0) => Breach::BoundNotProven { .. },
        plan: plan.certificate.windows[0].0.place = mm(4000) => Breach::BoundNotProven { .. },
        plan: { let twice = plan.certificate.windows[0]; plan.certificate.windows.push(twice) }
            => Breach::Run(Window { place: 1 }),
        plan: plan.certificate.windows.clear() => Breach::BoundNotProven { .. },
        plan: plan.certificate.anywhere = Some(Anywhere::ByLength { unit: mm(1), price: 0 })
            => Breach::Run(NoneAnywhere),
        plan: plan.certificate.anywhere = Some(Anywhere::Rounded { step: mm(5) })
            => Breach::Run(NoneAnywhere),
    }
    let (job, cutting) = six_runs(None);
    let by_length = |unit, price| Some(Anywhere::ByLength { unit, price });
    let breach = |anywhere| tampered(&job, &cutting, |plan| plan.certificate.anywhere = anywhere);
    assert!(matches!(
        breach(by_length(mm(1), -1)),
        Breach::Run(UnitPrice { price: -1 })
    ));
    assert!(matches!(
        breach(by_length(mm(0), 1)),
        Breach::Run(Unit { .. })
    ));
    assert!(matches!(
        breach(by_length(mm(103), 1)),
        Breach::Run(Unit { .. })
    ));
    assert!(matches!(
        breach(by_length(mm(1), 2)),
        Breach::PricesAboveCost { .. }
    ));
    assert!(matches!(
        breach(by_length(mm(1), 0)),
        Breach::BoundNotProven { .. }
    ));
    // Shapes that only count where one number of joints is allowed, or with places.
    assert_eq!(breach(None), Breach::CertificateLengths);
    let rounded = |step| Some(Anywhere::Rounded { step: mm(step) });
    assert!(matches!(breach(rounded(0)), Breach::Run(Step { .. })));
    assert!(matches!(breach(rounded(51)), Breach::Run(Step { .. })));
    assert_eq!(breach(rounded(50)), Breach::CertificateLengths);
    // Without a word on runs joined anywhere they are worth nothing.
    let breach = tampered(&job, &cutting, |plan| {
        plan.certificate.anywhere = None;
        plan.certificate.prices.clear();
    });
    assert!(
        matches!(breach, Breach::BoundNotProven { recomputed: Value::Bought(none), .. } if none.is_zero())
    );
}

/// Two runs are up to four parts, each of which may lie on a bar of its own.
#[test]
fn mixes_may_have_a_bar_for_every_part() {
    let (job, mut cutting) = two_courses();
    cutting.proof = Proof::Gap(Stop::WorkLimit);
    cutting.bound = Value::Money(money("13"));
    cutting.certificate.windows.clear();
    let breach = verify(&job, &planned(&job, cutting)).unwrap_err().breach;
    let Breach::BoundNotProven { mix, .. } = breach else {
        unreachable!("{breach:?}")
    };
    assert_eq!(mix.bars, vec![4, 0]);
}

/// The first prices prove nothing; those of a refutation, one for each shape and window and one for a
/// unit, speak against every cheaper mix.
#[test]
fn refutations_count_runs_windows_and_length() {
    let (job, mut cutting) = two_courses();
    cutting.certificate.prices[0].1 = 0;
    cutting.certificate.prices[1].1 = 0;
    cutting.certificate.windows[0].1 = 0;
    cutting.certificate.mixes.refutations = vec![vec![10, 3, 4]];
    let cutting = cutting;
    is_best(&job, &cutting);
    refused! { &job, &cutting;
        plan: { plan.certificate.mixes.refutations[0].pop(); }
            => Breach::RefutationPrices { prices: 2, lengths: 3, .. },
        plan: plan.certificate.mixes.refutations[0].push(0)
            => Breach::RefutationPrices { prices: 4, lengths: 3, .. },
        plan: plan.certificate.mixes.refutations[0][2] = -1
            => Breach::Run(RunBreach::RefutationPrice { price: -1, .. }),
        plan: plan.certificate.mixes.refutations[0][2] = 1 => Breach::BoundNotProven { .. },
        plan: plan.certificate.mixes.refutations[0][0] = 8 => Breach::BoundNotProven { .. },
    }
    for (joints_max, prices) in [(None, vec![103, 1]), (Some(2), vec![1])] {
        let (job, mut cutting) = six_runs(joints_max);
        let anywhere = match cutting.certificate.anywhere {
            Some(Anywhere::ByLength { unit, .. }) => Anywhere::ByLength { unit, price: 0 },
            other => unreachable!("{other:?}"),
        };
        cutting.certificate.anywhere = Some(anywhere);
        for (_, price) in &mut cutting.certificate.prices {
            *price = 0;
        }
        cutting.certificate.mixes.refutations = vec![prices];
        is_best(&job, &cutting);
    }
}

/// Six runs with joints rounded down to places 50 mm apart, from 50 on. A part on the left of a joint at
/// `x` is `x` long, the one on its right 3050 - x, at least 50; so both together are 3050 at the least.
#[test]
fn joints_rounded_down() {
    let (job, mut cutting) = six_runs(None);
    let lengths: BTreeSet<u32> = (1..=60).map(|fifty| fifty * 50).collect();
    let prices = lengths.into_iter().rev();
    // By length with a cut: 6 x 3056 of 3003 a bar are 6.1 bars.
    let prices = prices.map(|length| (shape(length), i64::from(length) + 3));
    cutting.certificate.prices = prices.collect();
    cutting.certificate.anywhere = Some(Anywhere::Rounded { step: mm(50) });
    is_best(&job, &cutting);
}

/// Nor are more places than any memory holds.
#[test]
fn too_many_places_are_on_trust() {
    let (job, mut cutting) = six_runs(None);
    let step = Length::from_nm(1).unwrap();
    cutting.certificate.anywhere = Some(Anywhere::Rounded { step });
    let verified = verify(&job, &planned(&job, cutting)).unwrap();
    assert!(verified.materials[0].on_trust.contains(&Trust::Bound));
}

/// Places that memory does hold, with so many parts between them that nobody looks at each.
#[test]
fn too_many_parts_between_places_are_on_trust() {
    let (job, mut cutting) = six_runs(None);
    let step = Length::from_nm(1_000).unwrap();
    cutting.certificate.anywhere = Some(Anywhere::Rounded { step });
    let verified = verify(&job, &planned(&job, cutting)).unwrap();
    assert!(verified.materials[0].on_trust.contains(&Trust::Bound));
}

/// Three million parts and more, by where they lie, are not gone through; nothing is said about them.
#[test]
fn too_many_splits_are_on_trust() {
    let row = PieceRow {
        joints_max: Some(2),
        shortest: Some(mm(1)),
        ..run("T", 2500, 1, every(1, 0))
    };
    let input = JobInput {
        pieces: vec![row],
        stock: vec![bought(5000)],
        ..JobInput::default()
    };
    // Beyond the usual ceiling.
    let job = input.validate_within(&Ceilings::HIGHEST).unwrap();
    let facts = Facts::of(&job.materials()[0]).unwrap();
    let (_, cutting) = six_runs(None);
    let mut verified = MaterialVerified::default();
    proof::check_proof(&facts, &cutting, (&[7], &[]), &mut verified).unwrap();
    let trust = vec![Trust::Bound, Trust::Optimal, Trust::LeastFromHand];
    assert_eq!(verified.on_trust, trust);
    assert_eq!((verified.bound, verified.rechecked), (None, vec![]));
}

fn impossible(job: &Job, reason: Impossible) -> Result<Verified, Breach> {
    verify(job, &plan_with(job, Outcome::Impossible(reason))).map_err(|refusal| refusal.breach)
}

fn no_split(length: u32, rule: SplitRule) -> Impossible {
    Impossible::NoSplit {
        mark: "T".to_owned(),
        length: mm(length),
        rule,
        longest: Some((mm(3000), mm(3000))),
        rows: 1,
    }
}

#[test]
fn every_rule_that_leaves_no_split() {
    let shortest = |shortest: u32, row: PieceRow| PieceRow {
        shortest: Some(mm(shortest)),
        ..row
    };
    let most = |row: PieceRow| PieceRow {
        joints_max: Some(1),
        ..row
    };
    let rules = [
        (
            run("T", 7000, 1, at(&[2000, 5500])),
            SplitRule::Places {
                from: mm(2000),
                to: mm(5500),
            },
        ),
        (
            run("T", 7000, 1, at(&[2500, 3900])),
            SplitRule::Places {
                from: mm(3900),
                to: mm(7000),
            },
        ),
        (
            run("T", 3040, 1, at(&[3000])),
            SplitRule::Shortest { shortest: mm(50) },
        ),
        (
            most(run("T", 7000, 1, every(600, 0))),
            SplitRule::JointsMax { most: 1, needed: 2 },
        ),
        (
            shortest(2000, run("T", 3100, 1, Joints::Anywhere)),
            SplitRule::Shortest { shortest: mm(2000) },
        ),
        (
            most(run("T", 7000, 1, Joints::Anywhere)),
            SplitRule::JointsMax { most: 1, needed: 2 },
        ),
    ];
    for (row, rule) in rules {
        let length = u32::try_from(row.length.length.nm() / 1_000_000).unwrap();
        let others = vec![row, piece("F", 2000, 1), run("R", 3100, 1, at(&[2000]))];
        let job = job(others, vec![bought(3000)]);
        let reason = || no_split(length, rule);
        let verified = impossible(&job, reason()).unwrap();
        assert_eq!(verified.materials[0].rechecked, vec![Claim::NoSplit]);
        let changed = |change: &dyn Fn(&mut String, &mut SplitRule, &mut usize)| {
            let mut reason = reason();
            if let Impossible::NoSplit {
                mark, rule, rows, ..
            } = &mut reason
            {
                change(mark, rule, rows);
            }
            impossible(&job, reason).unwrap_err()
        };
        use RunBreach::*;
        let breach = changed(&|mark, _, _| "F".clone_into(mark));
        assert!(matches!(breach, Breach::Run(NoSuchRun { .. })));
        let breach = changed(&|_, rule, _| *rule = SplitRule::Bars);
        assert!(matches!(breach, Breach::Run(Rule { .. })));
        let breach = changed(&|_, _, rows| *rows = 2);
        assert!(matches!(
            breach,
            Breach::Run(Rows {
                plan: 2,
                recomputed: 1
            })
        ));
        let mut reason = no_split(length, rule);
        if let Impossible::NoSplit { longest, .. } = &mut reason {
            *longest = Some((mm(3001), mm(3001)));
        }
        let breach = impossible(&job, reason).unwrap_err();
        assert!(matches!(breach, Breach::LongestBar { .. }));
        // The run beside it has a split.
        let mut other = no_split(3100, rule);
        if let Impossible::NoSplit { mark, .. } = &mut other {
            "R".clone_into(mark);
        }
        let breach = impossible(&job, other).unwrap_err();
        assert!(matches!(breach, Breach::Run(SplitsAfterAll { .. })));
    }
}

/// A blade of 11 mm takes 15.6 mm at 45 degrees, more than a bar of 12 mm has.
#[test]
fn mitred_ends_that_leave_nothing_of_any_part() {
    let mitre = Angle::from_hundredths(4500).unwrap();
    let row = PieceRow {
        ends: Ends {
            near: mitre,
            far: Angle::SQUARE,
        },
        shortest: Some(mm(1)),
        ..run("T", 100, 1, Joints::Anywhere)
    };
    let input = JobInput {
        pieces: vec![row],
        stock: vec![StockRow {
            kerf: Some(mm(11)),
            ..bought(12)
        }],
        ..JobInput::default()
    };
    let job = input.validate().unwrap();
    let mut reason = no_split(100, SplitRule::Bars);
    if let Impossible::NoSplit { longest, .. } = &mut reason {
        *longest = Some((mm(12), mm(12)));
    }
    assert!(impossible(&job, reason).is_ok());
}

#[test]
fn length_that_runs_are_short_of() {
    let one = || vec![stock(3000, None, Sold::Each, Some(1))];
    let not_enough = |needed, available| Impossible::NotEnoughLength {
        needed: mm(needed),
        available: mm(available),
    };
    // With no limit on a bar the fewest joints go; here it is the fewest of all, one.
    for joints in [Joints::Anywhere, at(&[500, 1000])] {
        let job = job(vec![run("T", 3100, 1, joints)], one());
        assert!(impossible(&job, not_enough(3106, 3003)).is_ok());
        let breach = impossible(&job, not_enough(3103, 3003)).unwrap_err();
        assert!(matches!(breach, Breach::NeededLength { .. }));
    }
    // A gap of 4 and a cut of 3: each joint takes 1 less. Three are allowed.
    for joints in [Joints::Anywhere, every(100, 0)] {
        let row = PieceRow {
            joints_max: Some(3),
            joint_gap: Some(mm(4)),
            ..run("T", 3100, 1, joints)
        };
        let job = job(vec![row], one());
        assert!(impossible(&job, not_enough(3100, 3003)).is_ok());
    }
    // Too long is a piece only if it has no joints.
    let rows = vec![run("T", 3100, 1, Joints::Anywhere), piece("F", 3050, 1)];
    let job = job(rows, one());
    let too_long = |mark: &str, length| Impossible::PieceTooLong {
        mark: mark.to_owned(),
        length: mm(length),
        takes: mm(length),
        longest: Some((mm(3000), mm(3000))),
        rows: 1,
    };
    assert!(impossible(&job, too_long("F", 3050)).is_ok());
    let breach = impossible(&job, too_long("T", 3100)).unwrap_err();
    assert!(matches!(breach, Breach::NoSuchPieceTooLong { .. }));
}

#[test]
fn impossible_courses_are_on_trust() {
    let (job, _) = two_courses();
    let reason = |group: &str, joints: u32, mark: &str| Impossible::Courses {
        group: group.to_owned(),
        rule: CourseRule { joints, courses: 2 },
        mark: mark.to_owned(),
    };
    let verified = impossible(&job, reason("north", 1, "T-01")).unwrap();
    assert_eq!(verified.materials[0].on_trust, vec![Trust::Courses]);
    for wrong in [
        reason("south", 1, "T-01"),
        reason("north", 2, "T-01"),
        reason("north", 1, "T-02"),
    ] {
        let breach = impossible(&job, wrong).unwrap_err();
        assert!(matches!(
            breach,
            Breach::Run(RunBreach::NoSuchCourses { .. })
        ));
    }
}

/// An odd nanometre of a gap comes off the left; gaps at the ends off the first and last part.
#[test]
fn what_gaps_leave_of_parts() {
    let row = PieceRow {
        end_gap: EndGap {
            near: mm(2),
            far: mm(3),
        },
        joint_gap: Length::from_nm(5),
        ..run("T", 3100, 1, at(&[1000, 2000]))
    };
    let job = job(vec![row], vec![bought(3000)]);
    let facts = Facts::of(&job.materials()[0]).unwrap();
    let parting = facts.runs[0].parting;
    let length = |from: i128, to: i128| {
        let nm = 1_000_000;
        parting.part(from * nm, to * nm).unwrap().length
    };
    assert_eq!(length(0, 1000), 998_000_000 - 3);
    assert_eq!(length(1000, 2000), 1_000_000_000 - 5);
    assert_eq!(length(2000, 3100), 1_097_000_000 - 2);
    assert_eq!(length(0, 3100), 3_095_000_000);
}

/// A run in small numbers, its rules in the parting, places for joints inside.
fn small<'a>(parting: Parting<'a>, rules: Rules) -> Parting<'a> {
    let Rules {
        opening,
        near,
        far,
        gap,
        shortest,
        mitres,
    } = rules;
    Parting {
        opening,
        near,
        far,
        left: gap - gap / 2,
        right: gap / 2,
        shortest,
        near_mitre: mitres.0,
        far_mitre: mitres.1,
        ..parting
    }
}

#[derive(Clone, Copy, Debug)]
struct Rules {
    opening: i128,
    near: i128,
    far: i128,
    gap: i128,
    shortest: i128,
    mitres: (i128, i128),
}

fn rules() -> impl Strategy<Value = Rules> {
    let ends = (0_i128..4, 0_i128..4, 0_i128..4, 0_i128..4);
    (20_i128..60, ends, 0_i128..5, 1_i128..12).prop_map(|(opening, ends, gap, shortest)| Rules {
        opening,
        near: ends.0,
        far: ends.1,
        gap,
        shortest,
        mitres: (ends.2, ends.3),
    })
}

/// All lists of joints, any number of them, whose parts are right: lengths and what they take.
fn all_splits(rules: Rules, places: &[i128], room: i128) -> Vec<Vec<i128>> {
    let subsets = 0_u32..1 << places.len();
    let joints = subsets.map(|subset| {
        let chosen = (0..).zip(places).filter(|(bit, _)| subset >> bit & 1 == 1);
        chosen.map(|(_, &place)| place).collect::<Vec<_>>()
    });
    joints
        .filter(|joints| is_right(rules, joints, room))
        .collect()
}

fn is_right(rules: Rules, joints: &[i128], room: i128) -> bool {
    let parts = lengths(rules, joints);
    let last = parts.len() - 1;
    parts.iter().enumerate().all(|(place, &length)| {
        let near = if place == 0 { rules.mitres.0 } else { 0 };
        let far = if place == last { rules.mitres.1 } else { 0 };
        let shortest = if last == 0 { 1 } else { rules.shortest };
        length >= shortest && length + near + far <= room
    })
}

fn lengths(rules: Rules, joints: &[i128]) -> Vec<i128> {
    let (left, right) = (rules.gap - rules.gap / 2, rules.gap / 2);
    let mut lengths = Vec::new();
    let mut from = rules.near;
    for joint in joints {
        lengths.push(joint - left - from);
        from = joint + right;
    }
    lengths.push(rules.opening - rules.far - from);
    lengths
}

fn any_run() -> Job {
    job(
        vec![run("T", 3100, 1, Joints::Anywhere)],
        vec![bought(3000)],
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    /// Shapes, the most of each, the fewest joints and the cheapest split, from every list of joints.
    #[test]
    fn splits_are_all_there_are(
        rules in rules(),
        places in prop::collection::btree_set(1_i128..60, 0..8),
        room in 5_i128..50,
        most in 0_u64..6,
        prices in prop::collection::vec(0_i128..30, 64),
        at_places in prop::collection::vec(0_i128..9, 64),
    ) {
        let places: Vec<i128> = places.into_iter().filter(|&at| at < rules.opening).collect();
        let job = any_run();
        let facts = Facts::of(&job.materials()[0]).unwrap();
        let parting = Parting {
            longest: Longest { any: room, unlimited: None },
            ..small(facts.runs[0].parting, rules)
        };
        let stops = parting.stops_at(places.clone());
        let all = all_splits(rules, &places, room);
        let fewest = all.iter().map(Vec::len).min();
        prop_assert_eq!(stops.fewest_joints(room, rules.shortest), fewest.map(|n| n as u64));
        let splits = stops.splits(most, &facts.work).unwrap().unwrap();
        let few = || all.iter().filter(|joints| joints.len() as u64 <= most);
        let parts: BTreeSet<i128> = few().flat_map(|joints| lengths(rules, joints)).collect();
        let found: BTreeSet<i128> =
            splits.edges.iter().map(|edge| i128::from(edge.shape.length.nm())).collect();
        prop_assert_eq!(&found, &parts);
        let length = |edge: usize| i128::from(splits.edges[edge].shape.length.nm());
        for &part in &parts {
            let count = |joints: &Vec<i128>| {
                lengths(rules, joints).into_iter().filter(|&other| other == part).count() as u64
            };
            prop_assert_eq!(splits.most(|edge| length(edge) == part), few().map(count).max().unwrap());
            let edges = (0..splits.edges.len()).filter(|&edge| length(edge) == part);
            prop_assert!(splits.most_at_a_glance(edges) >= few().map(count).max().unwrap());
        }
        let price = |length: i128| prices[usize::try_from(length).unwrap()];
        let joint = |place: i128| at_places[usize::try_from(place).unwrap()];
        let end = splits.places.len() - 1;
        let least = splits.least(
            |edge| price(length(edge)),
            |place| if place == end { 0 } else { joint(splits.places[place]) },
        );
        let cost = |joints: &Vec<i128>| -> i128 {
            let parts: i128 = lengths(rules, joints).into_iter().map(price).sum();
            parts + joints.iter().map(|&place| joint(place)).sum::<i128>()
        };
        prop_assert_eq!(least, few().map(cost).min());
    }

    /// Joints on any whole place: the numbers of them, the least taken, and the least parts.
    #[test]
    fn joints_anywhere_by_every_list_of_places(
        rules in rules(),
        opening in 8_i128..16,
        room in 2_i128..20,
        cut in 0_i128..4,
    ) {
        let rules = Rules { opening, ..rules };
        let job = any_run();
        let mut facts = Facts::of(&job.materials()[0]).unwrap();
        facts.kerf = cut;
        let parting = Parting {
            longest: Longest { any: room, unlimited: Some(room) },
            ..small(facts.runs[0].parting, rules)
        };
        let places: Vec<i128> = (1..opening).collect();
        let all = all_splits(rules, &places, room);
        let fewest = all.iter().map(Vec::len).min();
        let possible = parting.possible_anywhere(room, rules.shortest);
        prop_assert_eq!(possible.fewest(), fewest.map(|n| n as u64));
        let Some(fewest) = possible.fewest() else {
            return Ok(());
        };
        for most in fewest..fewest + 4 {
            let joints = crate::verify::runs::JointNumbers { fewest, most };
            let few = all.iter().filter(|joints| joints.len() as u64 <= most);
            let takes = |joints: &Vec<i128>| -> i128 {
                let parts = lengths(rules, joints);
                parts.iter().map(|part| part + cut).sum::<i128>() + rules.mitres.0 + rules.mitres.1
            };
            let least = parting.least_taken_anywhere(&facts, joints);
            prop_assert_eq!(least, few.map(takes).min());
        }
        // Part by part the least of all splits with the fewest joints, where nothing is left over.
        let (parts, rest) = parting.least_parts(fewest).unwrap();
        let parts = parts.into_iter().flat_map(|(shape, count)| {
            std::iter::repeat_n(i128::from(shape.length.nm()), usize::try_from(count).unwrap())
        });
        let parts: Vec<i128> = parts.collect();
        for joints in all.iter().filter(|joints| joints.len() as u64 == fewest) {
            let lengths = lengths(rules, joints);
            prop_assert_eq!(lengths.len(), parts.len());
            prop_assert!(lengths.iter().zip(&parts).all(|(length, least)| length >= least));
            prop_assert_eq!(lengths.iter().sum::<i128>(), parts.iter().sum::<i128>() + rest);
        }
    }

    /// With joints rounded every split has one that stands for it: parts no longer, in the same order.
    #[test]
    fn rounded_parts_are_no_longer(rules in rules(), opening in 8_i128..16, step in 1_i128..16) {
        let rules = Rules { opening, ..rules };
        prop_assume!(step <= rules.shortest + rules.gap);
        let room = 14;
        let job = any_run();
        let facts = Facts::of(&job.materials()[0]).unwrap();
        let parting = small(facts.runs[0].parting, rules).rounded(step);
        let stops = parting.stops().unwrap();
        let places: Vec<i128> = (1..opening).collect();
        for joints in all_splits(rules, &places, room) {
            let mut ends = vec![0];
            for &joint in &joints {
                let place = stops.places.iter().rfind(|&&place| place <= joint && place > 0);
                ends.push(*place.unwrap());
            }
            ends.push(opening);
            let lengths = lengths(rules, &joints);
            for (from_to, length) in ends.windows(2).zip(lengths) {
                prop_assert!(from_to[0] < from_to[1]);
                let part = parting.part(from_to[0], from_to[1]).unwrap();
                prop_assert!(part.length <= length);
                prop_assert!(joints.is_empty() || part.length >= rules.shortest);
            }
        }
    }

    /// Support numbers are those that the rule counts out.
    #[test]
    fn supports_are_counted_from_the_left(
        spacing in 1_u32..9,
        from in 0_u32..12,
        listed in prop::collection::btree_set(1_u32..40, 1..6),
        by_list in any::<bool>(),
    ) {
        let joints = if by_list {
            at(&listed.into_iter().collect::<Vec<_>>())
        } else {
            every(spacing, from)
        };
        let job = job(vec![run("T", 40, 1, joints.clone())], vec![bought(3000)]);
        let facts = Facts::of(&job.materials()[0]).unwrap();
        let parting = facts.runs[0].parting;
        let places = joints.places(mm(40)).unwrap();
        for place in 0..=40 {
            let number = (1_u32..).zip(&places).find(|(_, at)| **at == mm(place));
            let expected = number.map(|(number, _)| Some(number)).ok_or(());
            prop_assert_eq!(parting.support(i128::from(place) * 1_000_000), expected);
        }
        let stops: Vec<Length> = parting.stops().unwrap().places.into_iter()
            .map(|place| Length::from_nm(i64::try_from(place).unwrap()).unwrap()).collect();
        let inside = stops.len() - 1;
        prop_assert_eq!(&stops[1..inside], &places[..]);
    }
}

/// Two pieces, and two copies of a run that may have as many parts each as joints, places and shortest parts allow.
#[test]
fn the_most_pieces_that_a_plan_cuts() {
    let most = |joints_max, shortest| {
        let run = PieceRow {
            joints_max: Some(joints_max),
            shortest: Some(mm(shortest)),
            ..run("R", 3000, 2, every(500, 500))
        };
        let job = job(vec![piece("P", 700, 2), run], vec![bought(3000)]);
        pieces(&Facts::of(&job.materials()[0]).unwrap())
    };
    assert_eq!(most(2, 50), 2 + 2 * 3);
    assert_eq!(most(9, 50), 2 + 2 * 6); // five places
    assert_eq!(most(9, 800), 2 + 2 * 4); // 3000 holds 800 three times
}
