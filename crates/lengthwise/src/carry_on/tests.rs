//! What the small random jobs of the tests do not have: spares, courses, mitred ends, metres, stages.

use super::*;
use crate::job::{Angle, CourseRule, Ends, HandRow, Joints, Prefer, Quantity, Sold, StockRow};
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
    let with_spare = bar_of(&under_way, "LS-spare");
    let marks: Vec<&str> = under_way.marks().collect();
    let of_bar = marks
        .into_iter()
        .filter(|mark| bar_of(&under_way, mark) == with_spare);
    let all = begun(&with_spare, &of_bar.collect::<Vec<_>>());
    let others = under_way.bar_names().filter(|name| *name != with_spare);
    let said: Vec<Said> = others.map(cut).chain([all, spoiled("LS-02")]).collect();
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
}

/// A spare run that is cut and spoiled has nothing to do with what its row is measured at, longer or shorter.
#[test]
fn a_spoiled_spare_run_is_not_measured() {
    let row = PieceRow {
        spare: 1,
        joints: Some(Joints::Every {
            spacing: Length::from_mm(600),
            from: Length::ZERO,
        }),
        ..piece("T", 2500, 2)
    };
    let under_way = planned(&job(vec![row], vec![stock(3000, "5")]));
    let with_spare = bar_of(&under_way, "T-spare");
    for length in [2490, 2510] {
        let said = vec![begun(&with_spare, &["T-spare"]), spoiled("T-spare")];
        let mut happened = happened(said);
        happened.measured.push(Measured {
            origin: at(1),
            mark: "T".into(),
            material: None,
            length: Some(mm(length)),
            end_gap: None,
            leave_long: None,
        });
        let left = remainder(&under_way, &happened).unwrap();
        let spare = "T-spare".into();
        assert_eq!(left.remarks(), [Remark::SpareSpoiled { spare }]);
        let openings = left.input().pieces.iter().map(|row| row.length);
        assert_eq!(openings.collect::<Vec<_>>(), [mm(length); 2]);
    }
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
    let (left, other) = carried(&under_way, &said(anew));
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
    // What is cut at another length is not as it was planned.
    assert_eq!(other.changes[0].unchanged, [] as [&str; 0]);
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

fn begun(bar: &str, pieces: &[&str]) -> Said {
    Said::Begun {
        bar: bar.into(),
        pieces: pieces.iter().map(|&mark| mark.to_owned()).collect(),
        left: None,
    }
}

fn material(name: &str, row: PieceRow) -> PieceRow {
    PieceRow {
        material: name.into(),
        ..row
    }
}

/// All marks that the plan cuts, each with its bar, in order.
fn all_cuts(carried: &CarriedOn) -> Vec<(String, String)> {
    let bars = cutting(carried).bars.iter();
    let mut all: Vec<(String, String)> = bars
        .flat_map(|group| {
            let cuts = group.cuts.iter();
            cuts.flat_map(|cut| cut.marks.iter().cloned().zip(group.names.iter().cloned()))
        })
        .collect();
    all.sort();
    all
}

/// Of three legs of 1400 one is a spare. The first is spoiled while its bar is being cut: it is cut where the
/// spare was, and no more where it was.
#[test]
fn a_piece_that_takes_the_place_of_a_spare_is_cut_once() {
    for insured in [false, true] {
        let leg = PieceRow {
            spare: 1,
            ..piece("F", 1400, 2)
        };
        let under_way = UnderWay {
            insured,
            ..planned(&job(vec![leg], vec![stock(3000, "5.00")]))
        };
        let first = bar_of(&under_way, "F-01");
        let of_spare = bar_of(&under_way, "F-spare");
        let said = happened(vec![begun(&first, &["F-01"]), spoiled("F-01")]);
        let (_, carried) = carried(&under_way, &said);
        let cut = |mark: &str, bar: &str| (mark.to_owned(), bar.to_owned());
        let bar_of_second = bar_of(&under_way, "F-02");
        assert_eq!(
            all_cuts(&carried),
            [cut("F-01", &of_spare), cut("F-02", &bar_of_second)]
        );
        assert_eq!(bought(&carried), 0);
        // The sheet before has the spare there.
        assert_eq!(carried.changes[0].changed, [of_spare]);
    }
}

/// What is left of a bar is what its pieces took when they were cut, however they are measured now.
#[test]
fn a_spoiled_piece_that_is_measured_anew_was_cut_as_it_was() {
    let legs = vec![piece("F", 1400, 2), piece("G", 900, 1)];
    let under_way = planned(&job(legs, vec![stock(3000, "5.00")]));
    let bar = bar_of(&under_way, "F-01");
    for (measured, kept) in [(700, true), (1500, true), (2999, false)] {
        let mut said = happened(vec![begun(&bar, &["F-01"]), spoiled("F-01")]);
        said.measured.push(Measured {
            origin: at(7),
            mark: "F-01".into(),
            material: None,
            length: Some(mm(measured)),
            end_gap: None,
            leave_long: None,
        });
        let (left, carried) = carried(&under_way, &said);
        // 3000 less 1400 and a blade of 3.
        let bars = left.job().materials()[0].bars().iter();
        let in_hand = bars.filter(|one| one.is_in_hand()).map(|one| one.length());
        assert!(
            in_hand.into_iter().any(|one| one == Length::from_mm(1597)),
            "{measured}"
        );
        let used = all_cuts(&carried).into_iter().any(|(_, on)| on == bar);
        assert!(used || !kept, "{measured}");
    }
}

/// A bar is cut as the sheet says: a spare is cut only where a piece is spoiled, and then serves any that it
/// holds where it was insured.
#[test]
fn a_bar_that_is_cut_still_has_its_spare() {
    let leg = PieceRow {
        spare: 1,
        ..piece("F", 1400, 1)
    };
    let brace = piece("G", 900, 1);
    let input = job(vec![leg, brace], vec![stock(4200, "6.00")]);
    let under_way = UnderWay {
        insured: true,
        ..planned(&input)
    };
    assert_eq!(bar_of(&under_way, "F-spare"), "A1");
    let (left, carried) = carried(&under_way, &happened(vec![cut("A1")]));
    let done: Vec<&str> = left
        .done()
        .iter()
        .map(|done| done.row.mark.as_str())
        .collect();
    assert_eq!(done, ["F", "G"]);
    assert_eq!(carried.changes[0].unchanged, ["A1"]);
    let (_, again) = self::carried(&under_way, &happened(vec![cut("A1"), spoiled("G")]));
    assert_eq!(all_cuts(&again), [("G".to_owned(), "A1".to_owned())]);
    assert_eq!(bought(&again), 0);
    // It is cut where nothing else is on its bar, and where what is left cannot hold it.
    let next = left.under_way(&carried);
    let after = remainder(&next, &happened(vec![cut("A1")])).unwrap();
    assert_eq!(after.done().len(), 3);
    let rest = Said::Left {
        bar: "A1".into(),
        left: Length::from_mm(490),
    };
    let after = remainder(&under_way, &happened(vec![cut("A1"), rest])).unwrap();
    assert_eq!(after.done().len(), 3);
    // 4200 less 1400, 900 and two blades hold it still.
    let rest = Said::Left {
        bar: "A1".into(),
        left: Length::from_mm(1894),
    };
    let after = remainder(&under_way, &happened(vec![cut("A1"), rest])).unwrap();
    assert_eq!(after.done().len(), 2);
}

/// The search ends at once, and the bars do as they were going to be cut: that is the plan.
#[test]
fn what_can_stay_as_it_was_is_a_plan_without_a_search() {
    let input = job(vec![piece("F", 1400, 6)], vec![stock(3000, "5.00")]);
    let mut walls = input.clone();
    for (row, wall) in walls.pieces.iter_mut().zip(["north"]) {
        row.wall = wall.into();
    }
    walls.stock[0].batch = "A".into();
    let other = StockRow {
        batch: "B".into(),
        ..stock(3100, "5.50")
    };
    walls.stock.push(StockRow {
        origin: at(3),
        ..other
    });
    for input in [input, walls] {
        let under_way = planned(&input);
        let left = remainder(&under_way, &Happened::default()).unwrap();
        let cancelled = std::sync::atomic::AtomicBool::new(true);
        let limits = Limits {
            cancel: Some(&cancelled),
            work: Some(1),
            ..Limits::default()
        };
        let carried = left.plan(&limits);
        verify(left.job(), &carried.plan).unwrap();
        assert_eq!(
            cutting(&carried).value,
            crate::plan::Value::Money(Price::ZERO)
        );
        assert_eq!(cutting(&carried).proof, crate::plan::Proof::Optimal);
        assert_eq!(carried.changes[0].unchanged.len(), 3);
    }
}

/// Rails are done and their bar is begun; lids need a new bar. Its name is none that a bar has.
#[test]
fn no_bar_is_named_like_one_of_a_material_that_is_done() {
    let pieces = vec![
        material("rail", piece("R", 1400, 1)),
        material("lid", piece("L", 2900, 2)),
    ];
    let of = |name: &str, line: u64| StockRow {
        material: name.into(),
        origin: at(line),
        ..stock(3000, "5.00")
    };
    let under_way = planned(&job(pieces, vec![of("rail", 2), of("lid", 3)]));
    let rail = bar_of(&under_way, "R");
    let lid = bar_of(&under_way, "L-01");
    let said = vec![begun(&rail, &["R"]), cut(&lid), spoiled("L-01")];
    let (left, carried) = carried(&under_way, &happened(said));
    assert_eq!(left.job().materials().len(), 1);
    let bar = all_cuts(&carried)
        .into_iter()
        .find(|(mark, _)| mark == "L-01");
    assert_ne!(bar.unwrap().1, rail);
    assert!(left.under_way(&carried).names_taken.contains(&rail));
}

/// Two rows of the stock that say they come from one line, and of one length: the one that is bought up is gone,
/// the other is not.
#[test]
fn rows_of_one_line_are_told_apart() {
    let row = |price: &str, available: u64| StockRow {
        available: Some(available),
        ..stock(3000, price)
    };
    let input = job(
        vec![piece("F", 1400, 8)],
        vec![row("4.00", 1), row("5.00", 10)],
    );
    let under_way = planned(&input);
    let left = remainder(&under_way, &Happened::default()).unwrap();
    let available = left.input().stock.iter().map(|row| row.available);
    assert_eq!(available.collect::<Vec<_>>(), [Some(0), Some(7)]);
}

/// A plan under way for fewer materials than the job has would lose the bars of the others.
#[test]
fn every_material_is_under_way() {
    let mut under_way = planned(&job(vec![piece("F", 1400, 2)], vec![stock(3000, "5.00")]));
    under_way.materials.clear();
    let faults = remainder(&under_way, &Happened::default()).unwrap_err();
    assert!(
        faults.to_string().contains("0 materials, of a job with 1"),
        "{faults}"
    );
}

/// A count that nobody could have bought is no reason to fall over.
#[test]
fn counts_beyond_all_bounds() {
    let mut under_way = planned(&job(vec![piece("F", 1400, 2)], vec![stock(3000, "5.00")]));
    let mut line = under_way.materials[0].buy[0].clone();
    line.bars = u64::MAX;
    under_way.materials[0].buy.push(line);
    assert!(remainder(&under_way, &Happened::default()).is_err());
}

/// A run that is measured at the length that it has stays as it was planned.
#[test]
fn a_run_measured_as_it_was_stays() {
    let run = PieceRow {
        joints: Some(Joints::Anywhere),
        ..piece("T", 5000, 1)
    };
    let under_way = planned(&job(vec![run], vec![stock(3000, "5.90")]));
    let measured = Measured {
        origin: at(7),
        mark: "T".into(),
        material: None,
        length: Some(mm(5000)),
        end_gap: None,
        leave_long: None,
    };
    let said = Happened {
        measured: vec![measured],
        ..Happened::default()
    };
    let (_, carried) = carried(&under_way, &said);
    assert_eq!(carried.changes[0].unchanged.len(), 2);
}

/// What was measured of a piece is said once, or the same; of a row and of one of its pieces that of the piece
/// holds, in whichever order they are said.
#[test]
fn measured_twice_is_a_fault() {
    let of_bisque = |row: PieceRow| PieceRow {
        material: "bisque rail".into(),
        ..row
    };
    let under_way = planned(&job(
        vec![
            of_bisque(piece("F", 1400, 4)),
            of_bisque(piece("K", 600, 1)),
        ],
        vec![stock(3000, "5.90")],
    ));
    let measured =
        |line, mark: &str, material: Option<&str>, length: Option<u32>, near: Option<u32>| {
            Measured {
                origin: at(line),
                mark: mark.into(),
                material: material.map(str::to_owned),
                length: length.map(mm),
                end_gap: near.map(|near| EndGap {
                    near: Length::from_mm(near),
                    far: Length::ZERO,
                }),
                leave_long: None,
            }
        };
    let left = |measured: &[Measured]| {
        let measured = measured.to_vec();
        let said = Happened {
            measured,
            ..Happened::default()
        };
        remainder(&under_way, &said)
    };
    let row = measured(2, "F", None, Some(1410), None);
    let one = measured(3, "F-01", None, Some(1420), None);
    let gap = measured(4, "F-01", Some("Bisque  rail"), None, Some(5));
    for all in [
        [row.clone(), one.clone(), gap.clone()],
        [gap.clone(), one.clone(), row.clone()],
    ] {
        let left = left(&all).unwrap();
        let rows = left.input().pieces.iter();
        let lengths: Vec<String> = rows
            .map(|row| {
                format!(
                    "{} {}",
                    row.length.length.text(Unit::Mm),
                    row.end_gap.near.text(Unit::Mm)
                )
            })
            .collect();
        assert_eq!(
            lengths,
            [
                "1420mm 5mm",
                "1410mm 0mm",
                "1410mm 0mm",
                "1410mm 0mm",
                "600mm 0mm"
            ]
        );
    }
    assert!(left(&[one.clone(), one.clone()]).is_ok());
    let other = measured(7, "F-01", None, Some(1430), None);
    let named = measured(8, "F-01", Some("bisque rail"), Some(1430), None);
    let row_otherwise = measured(9, "F", Some("bisque rail"), Some(1430), None);
    for (first, second) in [(&one, &other), (&one, &named), (&row, &row_otherwise)] {
        let faults = left(&[first.clone(), second.clone()]).unwrap_err();
        let [fault] = faults.0.as_slice() else {
            panic!("{faults}");
        };
        assert_eq!(fault.origin.as_ref(), Some(&second.origin));
        let told = format!("measured twice, also in line {} of test", first.origin.line);
        assert!(fault.found.contains(&told), "{fault}");
    }
}

fn measure(mark: &str, length: Option<u32>, near: Option<u32>) -> Measured {
    Measured {
        origin: at(7),
        mark: mark.into(),
        material: None,
        length: length.map(mm),
        end_gap: near.map(|near| EndGap {
            near: Length::from_mm(near),
            far: Length::ZERO,
        }),
        leave_long: None,
    }
}

fn trim(piece: &str, by: u32) -> Remark {
    Remark::Trim {
        piece: piece.into(),
        by: Length::from_mm(by),
        unit: Unit::Mm,
    }
}

/// The mark and the opening of each row that is left.
fn openings(left: &Remainder) -> Vec<(&str, Length)> {
    let rows = left.input().pieces.iter();
    rows.map(|row| (row.mark.as_str(), row.length.length))
        .collect()
}

/// What is said of a row says nothing more of a piece that has a line of its own, but for what that leaves open.
/// By hand: cut at 1400, F-01 is 5 too long for 1395, and 15 with a gap of 10 as well.
#[test]
fn a_piece_that_is_cut_goes_by_its_own_measure() {
    let under_way = planned(&job(vec![piece("F", 1400, 2)], vec![stock(1500, "3")]));
    let first = bar_of(&under_way, "F-01");
    let one = measure("F-01", Some(1395), None);
    let longer = Length::from_mm(1410);
    for (row, by, second) in [
        (measure("F", Some(1390), None), 5, Length::from_mm(1390)),
        (measure("F", Some(1410), None), 5, longer),
        (measure("F", Some(1410), Some(10)), 15, longer),
    ] {
        for measured in [vec![row.clone(), one.clone()], vec![one.clone(), row]] {
            let said = Happened {
                measured,
                ..happened(vec![cut(&first)])
            };
            let left = remainder(&under_way, &said).unwrap();
            assert_eq!(left.remarks(), [trim("F-01", by)]);
            assert_eq!(openings(&left), [("F-02", second)]);
        }
    }
}

/// Two pieces that are cut, and one line that says that both are too short.
#[test]
fn a_line_is_one_fault() {
    let under_way = planned(&job(vec![piece("F", 1400, 2)], vec![stock(3000, "5")]));
    let said = Happened {
        measured: vec![measure("F", Some(1410), None)],
        ..happened(vec![cut("A1")])
    };
    let faults = remainder(&under_way, &said).unwrap_err();
    let [fault] = faults.0.as_slice() else {
        panic!("{faults}");
    };
    assert!(fault.found.contains("1410mm for F-01"), "{fault}");
}

/// The plan of what is left, after what was said and measured of it.
fn again(under_way: &UnderWay, said: Vec<Said>) -> UnderWay {
    let (left, carried) = carried(under_way, &happened(said));
    left.under_way(&carried)
}

/// A plan that was carried on has a row for each piece; the mark of their row still stands for all of them, those
/// that are cut and its spare.
#[test]
fn the_mark_of_a_row_that_was_taken_apart() {
    let row = PieceRow {
        spare: 1,
        ..piece("F", 1400, 4)
    };
    let under_way = planned(&job(
        vec![row, piece("F-X", 700, 1)],
        vec![stock(1500, "3")],
    ));
    let under_way = again(&under_way, vec![cut(&bar_of(&under_way, "F-02"))]);
    let said = Happened {
        measured: vec![
            measure("F-03", Some(1380), None),
            measure("F", Some(1390), None),
        ],
        ..Happened::default()
    };
    let left = remainder(&under_way, &said).unwrap();
    assert_eq!(left.remarks(), [trim("F-02", 10)]);
    let expected = [
        ("F-01", 1390),
        ("F-03", 1380),
        ("F-04", 1390),
        ("F-spare", 1390),
        ("F-X", 700),
    ];
    let expected = expected.map(|(mark, length)| (mark, Length::from_mm(length)));
    assert_eq!(openings(&left), expected);
}

/// A mark that a piece has is that of this piece alone, whatever other marks begin with it; numbers with a letter are
/// no numbers of copies.
#[test]
fn marks_that_are_written_out_stand_for_themselves() {
    let rows = ["F", "F-01", "F-02", "G-01", "G-02", "G-3a"];
    let rows = rows.map(|mark| piece(mark, 1400, 1));
    let under_way = planned(&job(rows.to_vec(), vec![stock(1500, "3")]));
    let said = Happened {
        measured: vec![
            measure("F", Some(1390), None),
            measure("G", Some(1380), None),
        ],
        ..Happened::default()
    };
    let left = remainder(&under_way, &said).unwrap();
    let lengths = openings(&left).into_iter().map(|(_, length)| length);
    let expected = [1390, 1400, 1400, 1380, 1380, 1400].map(Length::from_mm);
    assert_eq!(lengths.collect::<Vec<_>>(), expected);
}

/// Runs of 4500 from bars of 3000, supports every 600: two parts each. What is left of the one that is half cut is
/// as it was, the other is measured by the mark of both.
#[test]
fn the_mark_of_runs_that_were_taken_apart() {
    let under_way = planned(&job(vec![run("T", 4500, 2)], vec![stock(3000, "5")]));
    let first = bar_of(&under_way, "T-01.1");
    let under_way = again(&under_way, vec![begun(&first, &["T-01.1"])]);
    let said = Happened {
        measured: vec![measure("T", Some(4400), None)],
        ..Happened::default()
    };
    let left = remainder(&under_way, &said).unwrap();
    let part = left.input().pieces.iter();
    let part = part.filter(|row| row.mark == "T-01.2");
    assert!(
        part.eq(under_way
            .input
            .pieces
            .iter()
            .filter(|row| row.mark == "T-01.2"))
    );
    let other = openings(&left)
        .into_iter()
        .find(|(mark, _)| *mark == "T-02");
    assert_eq!(other, Some(("T-02", Length::from_mm(4400))));
}

fn run(mark: &str, length: u32, qty: u64) -> PieceRow {
    PieceRow {
        joints: Some(Joints::Every {
            spacing: Length::from_mm(600),
            from: Length::ZERO,
        }),
        ..piece(mark, length, qty)
    }
}

/// Two rows, one of them marked like a copy of the other: what is left of a copy of the one is no part of a copy of
/// the other. From bars of 3000 each run has two parts.
#[test]
fn a_part_that_is_left_beside_a_run_of_like_mark() {
    for (rows, first, left_over) in [
        (
            vec![run("F-01", 4500, 2), run("F", 4400, 2)],
            "F-01-01",
            vec!["F-01-01.2", "F-01-02", "F-01", "F-02"],
        ),
        (
            vec![run("T-02", 4500, 1), run("T", 4400, 1)],
            "T-02",
            vec!["T-02.2", "T"],
        ),
    ] {
        let under_way = planned(&job(rows, vec![stock(3000, "5")]));
        let part = format!("{first}.1");
        let said = vec![begun(&bar_of(&under_way, &part), &[part.as_str()])];
        let (left, _) = carried(&under_way, &happened(said));
        let marks = openings(&left).into_iter().map(|(mark, _)| mark);
        assert_eq!(marks.collect::<Vec<_>>(), left_over);
        assert_eq!(left.done().len(), 1);
    }
}

/// Pieces of two materials with one mark, which has to be said with the material.
#[test]
fn one_mark_of_two_materials() {
    let rows = ["ash", "Red  oak"].map(|name| material(name, piece("F", 1400, 1)));
    let of = |name: &str| StockRow {
        material: name.into(),
        ..stock(1500, "3")
    };
    let under_way = planned(&job(rows.to_vec(), vec![of("ash"), of("red oak")]));
    let left = |name: Option<&str>| {
        let one = Measured {
            material: name.map(str::to_owned),
            ..measure("F", Some(1390), None)
        };
        let said = Happened {
            measured: vec![one],
            ..Happened::default()
        };
        remainder(&under_way, &said)
    };
    let of_oak = left(Some("RED oak")).unwrap();
    let lengths = openings(&of_oak).into_iter().map(|(_, length)| length);
    assert_eq!(
        lengths.collect::<Vec<_>>(),
        [Length::from_mm(1400), Length::from_mm(1390)]
    );
    let faults = left(None).unwrap_err().to_string();
    assert!(faults.contains("pieces of several materials"), "{faults}");
    let faults = left(Some("pine")).unwrap_err().to_string();
    assert!(faults.contains("which the plan does not have"), "{faults}");
}

/// Rows of two materials that say they come from one line, and of one length: each is used up by its own pieces.
/// By hand: two bars of 1500 for two pieces of 1400 in oak, one for the one in ash.
#[test]
fn rows_of_one_line_and_several_materials() {
    let rows = vec![
        material("ash", piece("F", 1400, 1)),
        material("oak", piece("G", 1400, 2)),
    ];
    let of = |name: &str, available: u64| StockRow {
        material: name.into(),
        available: Some(available),
        ..stock(1500, "3")
    };
    let under_way = planned(&job(rows, vec![of("Oak", 5), of("ash", 7)]));
    let left = remainder(&under_way, &Happened::default()).unwrap();
    let available = left.input().stock.iter().map(|row| row.available);
    assert_eq!(available.collect::<Vec<_>>(), [Some(3), Some(6)]);
}

/// A batch that another material is still sold of is used up for this one all the same.
#[test]
fn a_batch_of_another_material_is_another_batch() {
    let of = |material: &str, batch: &str, row: PieceRow| PieceRow {
        material: material.into(),
        batch: batch.into(),
        ..row
    };
    let sold = |material: &str, batch: &str, row: StockRow| StockRow {
        material: material.into(),
        batch: batch.into(),
        price: None,
        ..row
    };
    let input = JobInput {
        pieces: vec![
            of("fascia", "", piece("A", 900, 1)),
            of("skirting", "B1", piece("C", 1200, 1)),
            of("skirting", "", piece("D", 1200, 1)),
        ],
        stock: vec![
            sold("fascia", "B1", stock(3900, "1")),
            sold("skirting", "B2", stock(4300, "1")),
        ],
        in_hand: vec![HandRow {
            material: "skirting".into(),
            batch: "B1".into(),
            ..HandRow::new(at(2), mm(1300))
        }],
        ..JobInput::default()
    };
    let under_way = planned(&input);
    let bar = under_way
        .materials
        .iter()
        .flat_map(|material| &material.bars)
        .find(|group| {
            group
                .cuts
                .iter()
                .any(|cut| cut.marks.contains(&"C".to_owned()))
        })
        .map(|group| group.names[0].clone())
        .unwrap();
    let begun = Said::Begun {
        bar,
        pieces: vec!["C".into()],
        left: Some(Length::ZERO),
    };
    let spoiled = Said::Spoiled {
        mark: "C".into(),
        bar: None,
    };
    let left = remainder(&under_way, &happened(vec![begun, spoiled])).unwrap();
    let carried = left.plan(&Limits::default());
    assert_eq!(carried.changes[1].without_place, ["C"]);
}
