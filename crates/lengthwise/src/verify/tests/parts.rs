//! What the rules of runs make of parts, where it decides what a certificate may claim.

use super::*;
use crate::job::{EndGap, Joints};
use crate::plan::{Anywhere, RunPart};
use crate::verify::facts::Facts;
use crate::verify::runs::{Longest, Parting};

fn every(spacing: u32) -> Joints {
    Joints::Every {
        spacing: mm(spacing),
        from: mm(0),
    }
}

fn run(mark: &str, length: u32, joints: Joints) -> PieceRow {
    PieceRow {
        joints: Some(joints),
        ..piece(mark, length, 1)
    }
}

/// Bars of two batches and no blade.
fn job(pieces: Vec<PieceRow>) -> Job {
    let of_batch = |batch: &str| StockRow {
        batch: batch.to_owned(),
        ..stock(2000, None, Sold::Each, None)
    };
    let input = JobInput {
        pieces,
        stock: vec![of_batch("pale"), of_batch("dark")],
        saw: Saw {
            kerf: mm(0),
            save_from: mm(50),
            ..Saw::default()
        },
        ..JobInput::default()
    };
    input.validate().unwrap()
}

/// Whatever rules differ, the runs count by themselves: merged, one of them would be held to the rules of
/// the other.
#[test]
fn only_runs_with_the_same_rules_count_together() {
    let base = || run("T", 3000, every(500));
    let groups = |other: PieceRow| {
        let job = job(vec![
            base(),
            PieceRow {
                mark: "U".to_owned(),
                ..other
            },
        ]);
        Facts::of(&job.materials()[0]).unwrap().runs.len()
    };
    assert_eq!(groups(base()), 1);
    assert_eq!(groups(run("U", 3500, every(500))), 2);
    assert_eq!(groups(run("U", 3000, every(250))), 2);
    let gap = |near, far| EndGap {
        near: mm(near),
        far: mm(far),
    };
    assert_eq!(
        groups(PieceRow {
            end_gap: gap(4, 0),
            ..base()
        }),
        2
    );
    assert_eq!(
        groups(PieceRow {
            end_gap: gap(0, 4),
            ..base()
        }),
        2
    );
    assert_eq!(
        groups(PieceRow {
            joint_gap: Some(mm(2)),
            ..base()
        }),
        2
    );
    assert_eq!(
        groups(PieceRow {
            joints_max: Some(3),
            ..base()
        }),
        2
    );
    assert_eq!(
        groups(PieceRow {
            shortest: Some(mm(700)),
            ..base()
        }),
        2
    );
    assert_eq!(
        groups(PieceRow {
            batch: "dark".to_owned(),
            ..base()
        }),
        2
    );
}

/// A batch that was chosen for a wall is not one that its row asks for.
#[test]
fn a_batch_chosen_for_a_wall_is_none_asked_for() {
    let asks = PieceRow {
        batch: "pale".to_owned(),
        ..run("T", 3000, every(500))
    };
    let on_wall = PieceRow {
        wall: "north".to_owned(),
        ..run("U", 3000, every(500))
    };
    let job = job(vec![asks, on_wall]);
    let material = &job.materials()[0];
    let walls = material.open_walls();
    let bound = material.with_walls(&walls, &[Some(0)]);
    let facts = Facts::of(&bound).unwrap();
    assert_eq!(facts.runs.len(), 2);
}

/// In small numbers: no gaps but at the ends, bars of 60, parts of 5 at least.
fn small(parting: Parting<'_>) -> Parting<'_> {
    Parting {
        opening: 100,
        near: 0,
        far: 0,
        left: 0,
        right: 0,
        shortest: 5,
        near_mitre: 0,
        far_mitre: 0,
        longest: Longest {
            any: 60,
            unlimited: Some(60),
        },
        ..parting
    }
}

fn with_parting(joints: Joints, check: impl Fn(Parting<'_>)) {
    let job = job(vec![run("T", 3000, joints)]);
    let facts = Facts::of(&job.materials()[0]).unwrap();
    check(small(facts.runs[0].parting));
}

#[test]
fn ends_are_no_places_for_joints() {
    with_parting(Joints::Anywhere, |parting| {
        assert_eq!(parting.stops_at(vec![0, 40, 100]).places, [0, 40, 100]);
        assert_eq!(parting.stops_at(vec![1, 99]).places, [0, 1, 99, 100]);
    });
}

#[test]
fn a_part_without_length_is_none() {
    with_parting(Joints::Anywhere, |parting| {
        let gaps = Parting {
            left: 2,
            right: 1,
            far: 9,
            ..parting
        };
        assert!(gaps.part(10, 13).is_none());
        assert_eq!(gaps.part(10, 14).map(|part| part.length), Some(1));
        assert!(gaps.part(90, 100).is_none());
        assert_eq!(gaps.part(89, 100).map(|part| part.length), Some(1));
    });
}

/// The last part may be shorter than one that ends before it, since the far gap is taken off it alone.
#[test]
fn the_last_part_may_fit_where_one_before_it_does_not() {
    with_parting(Joints::Anywhere, |parting| {
        let wide = Parting { far: 45, ..parting };
        let stops = wide.stops_at(vec![90]);
        assert_eq!(stops.fewest_joints(60, 5), Some(0)); // 55 as a whole, 90 up to the place
        // What is left whole need not be as long as a part.
        assert_eq!(stops.fewest_joints(60, 56), Some(0));
    });
}

/// Joints rounded down to steps of 10 lie between the shortest parts at either end, and the part on their
/// right is counted up to a step shorter, but never shorter than the shortest.
#[test]
fn joints_rounded_down_and_the_parts_between() {
    with_parting(Joints::Anywhere, |parting| {
        let gaps = Parting {
            near: 3,
            far: 4,
            left: 2,
            right: 1,
            ..parting
        };
        let rounded = gaps.rounded(10);
        let stops = rounded.stops().unwrap();
        // From 3 + 5 + 2 on, up to 100 - 4 - 5 - 1.
        assert_eq!(stops.places, [0, 10, 20, 30, 40, 50, 60, 70, 80, 90, 100]);
        let longer_gap = Parting { far: 5, ..gaps }.rounded(10);
        let places = longer_gap.stops().unwrap().places;
        assert_eq!(places, [0, 10, 20, 30, 40, 50, 60, 70, 80, 100]);
        let length = |from, to| rounded.part(from, to).map(|part| part.length);
        assert_eq!(length(0, 30), Some(25)); // it begins at the end, which is no joint
        assert_eq!(length(10, 40), Some(17)); // 27, less a step
        assert_eq!(length(10, 20), Some(5));
        assert_eq!(length(90, 100), Some(5));
        // Within a step of nothing the joints may still lie a shortest part apart.
        assert_eq!(length(94, 98), Some(5)); // 1
        assert_eq!(length(97, 99), Some(5)); // -1, and up to 9 with a step
        let short_step = gaps.rounded(5);
        assert!(short_step.part(97, 99).is_none()); // -1, and 4 with a step
        assert!(short_step.part(97, 99).is_none());
    });
}

/// A run of 3000 with a joint at 1000 or 2000 or both, and bars of 2000: two bars, whatever the split. A
/// split may have three parts of 1000, so a bar may hold two of one run.
fn three_thousand() -> (Job, Cutting) {
    let job = job(vec![PieceRow {
        joints_max: Some(2),
        ..run("T", 3000, every(1000))
    }]);
    let part = |number: u32, from: u32, to: u32| {
        let support = |place: u32| (place == 2000).then_some(2);
        let part = RunPart {
            mark: "T".to_owned(),
            copy: 1,
            part: number,
            of: 2,
            from: mm(from),
            to: mm(to),
            from_support: support(from),
            to_support: support(to),
        };
        Cut {
            parts: vec![part],
            ..cut(to - from, &[&format!("T.{number}")])
        }
    };
    let mut last = group(
        0,
        &["A2"],
        2000,
        vec![part(2, 2000, 3000)],
        [0, 0, 0, 1000, 0],
    );
    last.saved = true;
    let value = Value::Bought(mm(4000));
    let cutting = Cutting {
        buy: vec![singly(0, 2000, 2, None, None)],
        bars: vec![
            group(0, &["A1"], 2000, vec![part(1, 0, 2000)], [0; 5]),
            last,
        ],
        figures: Figures {
            bought: mm(4000),
            total: mm(4000),
            cut_into: mm(4000),
            needed: mm(3000),
            saved: mm(1000),
            ..Figures::default()
        },
        certificate: Certificate {
            windows: vec![],
            anywhere: None,
            tried: vec![],
            scale: 2, // a bar is worth 2
            prices: vec![(shape(2000), 2), (shape(1000), 1)],
            mixes: MixProof::default(),
            combinations: vec![],
        },
        ..best(value)
    };
    (job, cutting)
}

#[test]
fn a_bar_may_hold_as_many_parts_alike_as_a_split_has() {
    let (job, cutting) = three_thousand();
    let verified = verify(&job, &planned(&job, cutting.clone())).unwrap();
    assert!(verified.materials[0].rechecked.contains(&Claim::Optimal));
    // At this price two short parts are worth more than their bar.
    let breach = tampered(&job, &cutting, |plan| {
        plan.certificate.prices[1].1 = 2;
    });
    assert!(
        matches!(breach, Breach::PricesAboveCost { .. }),
        "{breach:?}"
    );
}

/// A run of 6000 takes just two bars of 3000 with its blade: two units of 3003, and not one more.
#[test]
fn length_in_whole_units_is_not_counted_too_high() {
    let row = PieceRow {
        joints_max: Some(2),
        ..run("T", 6000, Joints::Anywhere)
    };
    let input = JobInput {
        pieces: vec![row],
        stock: vec![stock(3000, None, Sold::Each, None)],
        ..JobInput::default()
    };
    let job = input.validate().unwrap();
    let part = |number: u32, from: u32, to: u32| {
        let part = RunPart {
            mark: "T".to_owned(),
            copy: 1,
            part: number,
            of: 2,
            from: mm(from),
            to: mm(to),
            from_support: None,
            to_support: None,
        };
        Cut {
            parts: vec![part],
            ..cut(to - from, &[&format!("T.{number}")])
        }
    };
    let (_, mut cutting) = three_thousand();
    let value = Value::Bought(mm(6000));
    (cutting.value, cutting.bound) = (value, value);
    cutting.buy[0].length = mm(3000);
    cutting.bars = vec![
        group(0, &["A1"], 3000, vec![part(1, 0, 3000)], [0; 5]),
        group(0, &["A2"], 3000, vec![part(2, 3000, 6000)], [0; 5]),
    ];
    cutting.figures = Figures {
        bought: mm(6000),
        total: mm(6000),
        cut_into: mm(6000),
        needed: mm(6000),
        ..Figures::default()
    };
    cutting.certificate = by_length(3003);
    let verified = verify(&job, &planned(&job, cutting)).unwrap();
    assert_eq!(verified.materials[0].bound, Some(value));
}

/// A price of 1 for each whole unit of this length.
fn by_length(unit: u32) -> Certificate {
    Certificate {
        anywhere: Some(Anywhere::ByLength {
            unit: mm(unit),
            price: 1,
        }),
        scale: 1,
        ..Certificate::default()
    }
}

/// A run that its gaps leave nothing of has no split, whatever the bars.
#[test]
fn nothing_left_is_no_whole_run() {
    with_parting(Joints::Anywhere, |parting| {
        let eaten = Parting {
            near: 50,
            far: 50,
            ..parting
        };
        assert_eq!(eaten.possible_anywhere(60, 5).fewest(), None);
        let just = Parting { far: 49, ..eaten };
        assert_eq!(just.possible_anywhere(60, 5).fewest(), Some(0));
    });
}

/// What bars of 60 leave of each part at the least, where all others fill a bar: mitred ends leave less of
/// the bars at the ends, so more of the others.
#[test]
fn parts_are_as_long_as_full_bars_leave_them() {
    let least = |parting: Parting<'_>, joints: u64| {
        let (parts, rest) = parting.least_parts(joints).unwrap();
        let parts = parts
            .into_iter()
            .map(|(shape, count)| (shape.length.nm(), count));
        (parts.collect::<Vec<_>>(), rest)
    };
    with_parting(Joints::Anywhere, |parting| {
        assert_eq!(least(parting, 1), (vec![(40, 1), (40, 1)], 20));
        let near = Parting {
            near_mitre: 10,
            ..parting
        };
        assert_eq!(least(near, 1), (vec![(40, 1), (50, 1)], 10));
        let far = Parting {
            far_mitre: 8,
            ..parting
        };
        assert_eq!(least(far, 1), (vec![(48, 1), (40, 1)], 12));
        let long = Parting {
            opening: 200,
            ..parting
        };
        assert_eq!(least(long, 3), (vec![(20, 1), (20, 2), (20, 1)], 120));
    });
}

/// A run left whole may be shorter than the shortest part.
#[test]
fn a_whole_run_is_no_part() {
    let row = PieceRow {
        shortest: Some(mm(500)),
        ..run("T", 300, every(100))
    };
    let job = job(vec![row]);
    let facts = Facts::of(&job.materials()[0]).unwrap();
    let whole = RunPart {
        mark: "T".to_owned(),
        copy: 1,
        part: 1,
        of: 1,
        from: mm(0),
        to: mm(300),
        from_support: None,
        to_support: None,
    };
    let cut = Cut {
        parts: vec![whole],
        ..cut(300, &["T"])
    };
    let bars = [group(0, &["A1"], 2000, vec![cut], [0, 0, 0, 1700, 0])];
    assert_eq!(demand::check_demand(&facts, &bars), Ok(()));
}

/// Joints may be rounded down by what a shortest part and a gap leave between two of them, and no more.
#[test]
fn steps_no_longer_than_a_shortest_part_and_its_gap() {
    let row = PieceRow {
        shortest: Some(mm(100)),
        joint_gap: Some(mm(4)),
        ..run("T", 3000, Joints::Anywhere)
    };
    let job = job(vec![row]);
    let (_, mut cutting) = three_thousand();
    let mut breach = |step: Length| {
        cutting.certificate.anywhere = Some(Anywhere::Rounded { step });
        cutting.certificate.prices = vec![(shape(1), 1)];
        let facts = Facts::of(&job.materials()[0]).unwrap();
        let counted = crate::verify::counted::Counted::of(&facts, &cutting.certificate);
        counted.err()
    };
    assert_eq!(breach(mm(104)), Some(Breach::CertificateLengths));
    let just_more = Length::from_nm(mm(104).nm() + 1).unwrap();
    let refused = breach(just_more).unwrap();
    assert!(matches!(
        refused,
        Breach::Run(RunBreach::Step { most, .. }) if most == mm(104)
    ));
}

/// A run that asks for a batch is parted for the bars of that batch.
#[test]
fn the_longest_bars_are_those_of_the_batch() {
    let of_batch = |batch: &str, length: u32| StockRow {
        batch: batch.to_owned(),
        ..stock(length, None, Sold::Each, None)
    };
    let row = PieceRow {
        batch: "dark".to_owned(),
        ..run("T", 1500, every(750))
    };
    let input = JobInput {
        pieces: vec![row],
        stock: vec![of_batch("pale", 2000), of_batch("dark", 1000)],
        ..JobInput::default()
    };
    let job = input.validate().unwrap();
    let facts = Facts::of(&job.materials()[0]).unwrap();
    assert_eq!(facts.runs[0].parting.longest.any, 1_000_000_000);
}

/// One unit is all there is of a run of 1000, so a bar of 2000 is worth no more.
#[test]
fn a_bar_holds_no_more_of_runs_than_there_is() {
    let job = job(vec![PieceRow {
        joints_max: Some(2),
        ..run("T", 1000, Joints::Anywhere)
    }]);
    let (_, mut cutting) = three_thousand();
    let value = Value::Bought(mm(2000));
    (cutting.value, cutting.bound) = (value, value);
    (cutting.buy[0].bars, cutting.buy[0].sales) = (1, 1);
    let whole = RunPart {
        mark: "T".to_owned(),
        copy: 1,
        part: 1,
        of: 1,
        from: mm(0),
        to: mm(1000),
        from_support: None,
        to_support: None,
    };
    let whole = Cut {
        parts: vec![whole],
        ..cut(1000, &["T"])
    };
    let mut bar = group(0, &["A1"], 2000, vec![whole], [0, 0, 0, 1000, 0]);
    bar.saved = true;
    cutting.bars = vec![bar];
    cutting.figures = Figures {
        bought: mm(2000),
        total: mm(2000),
        cut_into: mm(2000),
        needed: mm(1000),
        saved: mm(1000),
        ..Figures::default()
    };
    cutting.certificate = by_length(1000);
    let verified = verify(&job, &planned(&job, cutting)).unwrap();
    assert_eq!(verified.materials[0].bound, Some(value));
}

/// The parts of a run with mitred ends have one of them, or none, and what each takes is known.
#[test]
fn ends_of_parts_are_those_of_the_run_or_square() {
    let angle = |hundredths| crate::job::Angle::from_hundredths(hundredths).unwrap();
    let (near, far, square) = (angle(4500), angle(6000), crate::job::Angle::SQUARE);
    let job = job(vec![PieceRow {
        ends: Ends { near, far },
        ..run("T", 3000, every(1000))
    }]);
    let facts = Facts::of(&job.materials()[0]).unwrap();
    for (near, far) in [(near, square), (square, square), (square, far)] {
        assert!(facts.mitred(Ends { near, far }).is_ok());
    }
}
