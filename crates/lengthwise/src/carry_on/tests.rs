//! What the small random jobs of the tests do not have: spares, courses, mitred ends, metres, stages.

use super::*;
use crate::job::{Angle, CourseRule, Ends, Joints, Prefer, Quantity, Sold, StockRow};
use crate::length::Unit;
use crate::plan::Cutting;
use crate::{Price, solve, verify};

fn at(line: u64) -> Origin {
    Origin {
        source: "test".into(),
        line,
    }
}

fn mm(mm: u32) -> Measure {
    Measure {
        length: Length::from_mm(mm),
        unit: Unit::Mm,
    }
}

fn piece(mark: &str, length: u32, qty: u64) -> PieceRow {
    PieceRow {
        mark: mark.into(),
        qty: qty.into(),
        ..PieceRow::new(at(2), mm(length))
    }
}

fn stock(length: u32, price: &str) -> StockRow {
    StockRow {
        price: Some(Price::parse(price, false).unwrap()),
        ..StockRow::new(at(2), mm(length))
    }
}

fn job(pieces: Vec<PieceRow>, stock: Vec<StockRow>) -> JobInput {
    JobInput {
        pieces,
        stock,
        ..JobInput::default()
    }
}

fn planned(input: &JobInput) -> UnderWay {
    let job = input.clone().validate().unwrap();
    let plan = solve(&job, &Limits::default());
    verify(&job, &plan).unwrap();
    UnderWay::new(input.clone(), &plan).unwrap()
}

fn happened(said: Vec<Said>) -> Happened {
    let statements = said.into_iter().map(|said| Statement {
        origin: at(1),
        column: 1,
        said,
    });
    Happened {
        statements: statements.collect(),
        measured: Vec::new(),
    }
}

fn cut(bar: &str) -> Said {
    Said::Cut { bar: bar.into() }
}

fn spoiled(mark: &str) -> Said {
    Said::Spoiled {
        mark: mark.into(),
        bar: None,
    }
}

/// The bar on which the plan cuts this piece.
fn bar_of(under_way: &UnderWay, mark: &str) -> String {
    let bars = under_way.materials.iter().flat_map(|one| &one.bars);
    let mut found = bars.flat_map(|group| {
        let cuts = group.cuts.iter();
        cuts.filter_map(|cut| {
            let place = cut.marks.iter().position(|one| one == mark)?;
            group.names.get(place).cloned()
        })
    });
    found.next().unwrap()
}

/// Plans the rest and has it rechecked.
fn carried(under_way: &UnderWay, happened: &Happened) -> (Remainder, CarriedOn) {
    let left = remainder(under_way, happened).unwrap();
    let carried = left.plan(&Limits::default());
    verify(left.job(), &carried.plan).unwrap();
    (left, carried)
}

fn cutting(carried: &CarriedOn) -> &Cutting {
    match &carried.plan.materials[0].outcome {
        Outcome::Planned(cutting) => cutting,
        other => panic!("{other:?}"),
    }
}

fn bought(carried: &CarriedOn) -> u64 {
    cutting(carried).buy.iter().map(|line| line.bars).sum()
}

/// Boards of 1000 to 1300 and a spare of 1300: the spare serves for a shorter one, which is trimmed.
#[test]
fn a_longer_spare_of_the_same_row_is_trimmed() {
    let raked = PieceRow {
        to: Some(mm(1300)),
        qty: Quantity::Count(4),
        spare: 1,
        ..piece("LS", 1000, 4)
    };
    let under_way = planned(&job(vec![raked], vec![stock(3000, "5.90")]));
    let all: Vec<Said> = under_way.bar_names().map(cut).collect();
    let said = [all, vec![spoiled("LS-02")]].concat();
    let left = remainder(&under_way, &happened(said.clone())).unwrap();
    assert!(left.job().materials().is_empty());
    let serves = Remark::SpareServes {
        piece: "LS-02".into(),
        spare: "LS-spare".into(),
        trim: Length::from_mm(200),
        unit: Unit::Mm,
    };
    assert_eq!(left.remarks(), [serves]);
    // A second one has no spare any more.
    let said = [said, vec![spoiled("LS-01")]].concat();
    let (left, carried) = carried(&under_way, &happened(said));
    assert_eq!(left.job().materials()[0].pieces().len(), 1);
    // Two boards a bar, so the third bar leaves 1697 or more, which hold the 1000.
    assert_eq!(bought(&carried), 0);
    assert!(carried.changes[0].changed[0].ends_with('r'));
}

/// A spare that is spoiled is not cut again; one on a bar that is no good is.
#[test]
fn spares_are_cut_only_once() {
    let row = PieceRow {
        spare: 1,
        ..piece("F", 1400, 1)
    };
    let under_way = planned(&job(vec![row], vec![stock(1500, "2")]));
    let with_spare = bar_of(&under_way, "F-spare");
    let said = vec![cut(&with_spare), spoiled("F-spare")];
    let (left, carried_on) = carried(&under_way, &happened(said));
    assert_eq!(left.input().pieces.len(), 1);
    assert_eq!(bought(&carried_on), 0);
    let bad = Said::Bad { bar: with_spare };
    let (left, carried) = carried(&under_way, &happened(vec![bad]));
    let spare = left.job().materials()[0]
        .pieces()
        .iter()
        .find(|one| one.is_spare());
    assert_eq!(spare.unwrap().copy_mark(0), "F-spare");
    assert_eq!(bought(&carried), 1);
}

/// Three courses of 4000 from bars of 3000, supports every 1000, no two neighbours joined on one: with the
/// middle one laid, the others stay off its support, and need not stay off each other's.
#[test]
fn courses_that_are_laid_still_count() {
    let course = |mark: &str, course| PieceRow {
        joints: Some(Joints::Every {
            spacing: Length::from_mm(1000),
            from: Length::ZERO,
        }),
        course_group: "wall".into(),
        course: Some(course),
        course_rule: Some(CourseRule::default()),
        ..piece(mark, 4000, 1)
    };
    let rows = (1..)
        .zip(["A", "B", "C"])
        .map(|(number, mark)| course(mark, number));
    let under_way = planned(&job(rows.collect(), vec![stock(3000, "5.90")]));
    let of_middle = under_way.materials[0].bars.iter().flat_map(|group| {
        let parts = group.cuts.iter().flat_map(|cut| &cut.parts);
        parts
            .filter(|part| part.mark == "B" && part.part == 1)
            .collect::<Vec<_>>()
    });
    let joint = of_middle.map(|part| part.to).next().unwrap();
    // Both bars of the middle course; the pieces of others on them are spoiled.
    let bars = [bar_of(&under_way, "B.1"), bar_of(&under_way, "B.2")];
    let on_them = under_way.materials[0].bars.iter().flat_map(|group| {
        let is_cut = group.names.iter().any(|name| bars.contains(name));
        let cuts = group.cuts.iter().filter(move |_| is_cut);
        cuts.flat_map(|cut| &cut.marks)
    });
    let others = on_them.filter(|mark| !mark.starts_with('B'));
    let mut said: Vec<Said> = others.map(|mark| spoiled(mark)).collect();
    said.extend(bars.iter().map(|bar| cut(bar)));
    let (left, carried) = carried(&under_way, &happened(said));
    let laid = &left.job().materials()[0].course_groups()[0].laid()[0];
    assert_eq!((laid.course, laid.joints.as_slice()), (2, &[joint][..]));
    for group in &cutting(&carried).bars {
        let parts = group.cuts.iter().flat_map(|cut| &cut.parts);
        let joined = parts.filter(|part| part.part < part.of);
        assert!(joined.into_iter().all(|part| part.to != joint));
    }
}

/// A mitred piece takes its slanted slots of the offcut too: 1997 are left of 3000 - 1000 - 3, and a
/// piece of 1990 mitred at both ends takes 1990 + 2 x 4.25.
#[test]
fn mitred_ends_on_an_offcut() {
    let mitre = Angle::from_hundredths(4500).unwrap();
    let mitred = |length| PieceRow {
        ends: Ends {
            near: mitre,
            far: mitre,
        },
        ..piece("M", length, 1)
    };
    for (length, more) in [(1988, 0), (1990, 1)] {
        let mut input = job(
            vec![piece("F", 1000, 1), mitred(length)],
            vec![stock(3000, "5.90")],
        );
        input.pieces[1].qty = Quantity::Count(1);
        let under_way = planned(&input);
        let bar = bar_of(&under_way, "F");
        let begun = Said::Begun {
            bar: bar.clone(),
            pieces: vec!["F".into()],
            left: None,
        };
        let with_m = bar_of(&under_way, "M");
        let said = if with_m == bar {
            vec![begun]
        } else {
            vec![begun, Said::Bad { bar: with_m }]
        };
        let (_, carried) = carried(&under_way, &happened(said));
        assert_eq!(bought(&carried), more, "{length}");
    }
}

/// 11 m are two bars of 5.5 m. One is bought and no good: one more can be had, and then none.
#[test]
fn what_is_bought_by_the_metre_is_no_more_on_offer() {
    let metres = StockRow {
        sold: Sold::PerMetre,
        available: Some(11),
        ..stock(5500, "0.70")
    };
    let under_way = planned(&job(vec![piece("R", 5400, 1)], vec![metres]));
    let bad = |under_way: &UnderWay| {
        let bars: Vec<Said> = under_way
            .bar_names()
            .map(|bar| Said::Bad { bar: bar.into() })
            .collect();
        happened(bars)
    };
    let (left, once) = carried(&under_way, &bad(&under_way));
    assert_eq!(bought(&once), 1);
    let next = left.under_way(&once);
    let (_, twice) = carried(&next, &bad(&next));
    assert!(matches!(
        twice.plan.materials[0].outcome,
        Outcome::Impossible(_)
    ));
    assert_eq!(twice.changes[0].without_place, ["R"]);
}

/// Whatever is preferred, and in stages: the plan is accepted, and pieces keep their stage.
#[test]
fn stages_and_preferences() {
    for prefer in [Prefer::Offcuts, Prefer::Setups] {
        let late = PieceRow {
            stage: 2,
            wall: "north".into(),
            ..piece("L", 700, 6)
        };
        let mut input = job(
            vec![piece("E", 900, 6), late, piece("K", 1300, 3)],
            vec![stock(3000, "5.90"), stock(3600, "7.20")],
        );
        input.saw.prefer = prefer;
        let under_way = planned(&input);
        let names: Vec<String> = under_way.bar_names().map(str::to_owned).collect();
        for bad in &names {
            let bar = bad.clone();
            let (left, carried) = carried(&under_way, &happened(vec![Said::Bad { bar }]));
            let late = left.job().materials()[0].pieces().iter();
            let late = late.filter(|piece| piece.stage() == 2 && piece.wall() == "north");
            assert_eq!(late.count(), 6);
            let next = left.under_way(&carried);
            let (_, again) = self::carried(&next, &Happened::default());
            let bars = cutting(&carried).bars.iter().map(|group| group.names.len());
            assert_eq!(again.changes[0].unchanged.len(), bars.sum::<usize>());
        }
    }
}

/// New measures: a gap alone, a length alone, and of a run as a whole.
#[test]
fn measured_anew() {
    let run = PieceRow {
        joints: Some(Joints::Anywhere),
        ..piece("T", 3100, 1)
    };
    let under_way = planned(&job(
        vec![run, piece("F", 1400, 2)],
        vec![stock(3000, "5.90")],
    ));
    let measured = |mark: &str, length: Option<u32>, near: Option<u32>| Measured {
        origin: at(7),
        mark: mark.into(),
        material: None,
        length: length.map(mm),
        end_gap: near.map(|near| EndGap {
            near: Length::from_mm(near),
            far: Length::ZERO,
        }),
        leave_long: None,
    };
    let said = |measured| Happened {
        measured,
        ..Happened::default()
    };
    let anew = vec![
        measured("F-02", None, Some(10)),
        measured("F-01", Some(1410), None),
        measured("T", Some(3300), None),
    ];
    let (left, _) = carried(&under_way, &said(anew));
    let material = &left.job().materials()[0];
    let length = |mark: &str| {
        let mut pieces = material.pieces().iter();
        pieces
            .find(|piece| piece.copy_mark(0) == mark)
            .unwrap()
            .length()
    };
    assert_eq!(length("F-02"), Length::from_mm(1390));
    assert_eq!(length("F-01"), Length::from_mm(1410));
    assert_eq!(length("T"), Length::from_mm(3300));
    // By the mark of the row, both.
    let (left, _) = carried(&under_way, &said(vec![measured("F", Some(1420), None)]));
    let lengths = left.input().pieces.iter().map(|row| row.length.length);
    assert_eq!(
        lengths.filter(|one| *one == Length::from_mm(1420)).count(),
        2
    );
    let faults = remainder(&under_way, &said(vec![measured("X", Some(3), None)])).unwrap_err();
    assert!(faults.to_string().contains("the mark \"X\""), "{faults}");
}
