//! The places that are tried, worked out by hand.

use super::*;
use crate::job::{EndGap, Job, Joints as Rule, PieceRow, StockRow};
use crate::length::Measure;
use crate::problem::tests::{bought, job, material, mitred, mm, parting_of, piece, run};

const MM: i64 = MILLIMETRE;

fn nm(nm: i64) -> Length {
    Length::from_nm(nm).unwrap()
}

/// A run with gaps of 5 and 7 at its ends and of 4 at each joint.
fn gaps(length: u32) -> PieceRow {
    PieceRow {
        end_gap: EndGap {
            near: mm(5),
            far: mm(7),
        },
        joint_gap: Some(mm(4)),
        ..run("T", length, 1, Rule::Anywhere)
    }
}

fn joints(fewest: u64, most: u64) -> Joints {
    Joints { fewest, most }
}

/// 7000 less 12 and two joints of 4 are 6980, in three 2326.67: the first ends at 5 + 2326, the middle of its joint
/// is 2 further on, and from there the next is 2326 + 4 on.
#[test]
fn joints_between_even_parts() {
    let even = |joints| parting_of(gaps(7000), vec![bought(3000)], |run| run.even(joints));
    assert!(even(0).is_empty());
    assert_eq!(even(1), [(5 + 3492 + 2) * MM]);
    assert_eq!(even(2), [2333 * MM, 4663 * MM]);
    // Nothing is left of it.
    assert!(even(2000).is_empty());
}

/// Of 6980 in three the second joint lies behind 4653 and not behind twice 2326. Ten thousand parts, each a little
/// less than a millimetre short, would leave all of it to the last.
#[test]
fn joints_spread_evenly() {
    let spread = |joints| parting_of(gaps(7000), vec![bought(3000)], |run| run.spread(joints));
    assert!(spread(0).is_empty());
    assert_eq!(spread(1), [(5 + 3492 + 2) * MM]);
    assert_eq!(spread(2), [2333 * MM, (5 + 4653 + 4 + 2) * MM]);
    assert!(spread(2000).is_empty());
    let row = run("T", 25_009_000, 1, Rule::Anywhere);
    let joints = parting_of(row, vec![bought(3000)], |run| run.spread(9_999));
    let ends = [0].into_iter().chain(joints.iter().copied());
    let parts = ends.zip(joints.iter().copied().chain([25_009_000 * MM]));
    let parts: HashSet<i64> = parts.map(|(from, to)| to - from).collect();
    assert_eq!(parts, HashSet::from([2500 * MM, 2501 * MM]));
}

/// Runs with more joints than get places have even parts all the same: in the longest bars, and in those of which
/// there are as many as wanted.
#[test]
fn many_joints_have_their_places() {
    let scarce = StockRow {
        available: Some(2),
        ..bought(6000)
    };
    let job = job(
        vec![run("T", 100_000, 1, Rule::Anywhere)],
        vec![scarce, bought(4800)],
    );
    let material = material(&job);
    let parting = Parting::of(material, &material.pieces()[0]).unwrap();
    let joints = parting.joints_anywhere().unwrap();
    assert_eq!(
        joints,
        Joints {
            fewest: 16,
            most: 20
        }
    );
    let tried = places(material, &[(parting, joints)], Trying::All).remove(0);
    let tried: HashSet<i64> = tried.into_iter().map(Length::nm).collect();
    let full = [parting.full(16, mm(6000)), parting.full(20, mm(4800))];
    assert_eq!(full[1].len(), 20);
    assert_eq!(full[1][19], 96_000 * MM);
    for places in full
        .into_iter()
        .chain([parting.spread(16), parting.spread(20)])
    {
        assert!(places.iter().all(|place| tried.contains(place)));
    }
    assert!(tried.len() <= 2 * 72, "{}", tried.len());
    let (most, begun) = parting.many(joints, MOST_BETWEEN);
    assert_eq!(most, 2 * begun.len());
}

/// Of one long bar a run takes thousands of joints fewer than of the others: at each of its places there was a price
/// for every number of them, in all some 200 million. The places for the bars that it will be cut from have to do.
#[test]
fn thousands_of_joints_have_few_places() {
    let scarce = StockRow {
        available: Some(1),
        ..bought(6300)
    };
    let long = PieceRow {
        joint_gap: Some(mm(10)),
        ..run("G", 36_922_300, 1, Rule::Anywhere)
    };
    let job = job(vec![long.clone()], vec![scarce, bought(4000)]);
    let material = material(&job);
    let parting = Parting::of(material, &material.pieces()[0]).unwrap();
    let joints = parting.joints_anywhere().unwrap();
    assert!(joints.fewest < 5_900 && joints.most > 9_000, "{joints:?}");
    // Two parts of 4000 in one: as many numbers of joints as there are places.
    let of_two = vec![
        StockRow {
            available: Some(1),
            ..bought(8100)
        },
        bought(4000),
    ];
    let many = parting_of(long.clone(), of_two, |run| {
        run.many(run.joints_anywhere().unwrap(), MOST_BETWEEN)
    });
    assert_eq!(many, (0, BTreeSet::new()));
    let (most, begun) = parting.many(joints, MOST_BETWEEN);
    assert_eq!((most, most as u64), (begun.len(), joints.most));
    // Nor where they are worth less.
    assert_eq!(parting.many(joints, 10_000), (0, BTreeSet::new()));
    let inside: Vec<_> = begun
        .into_iter()
        .filter_map(Length::from_nm)
        .map(|place| (place, None))
        .collect();
    assert!(parting.splits(&inside, Some(joints.most)).is_ok());
}

/// Full bars, but what is left over is long enough; a mitred end takes its own.
#[test]
fn parts_that_fit_bars() {
    let fitted = |row: PieceRow, joints, shortest: u32| {
        let row = PieceRow {
            shortest: Some(mm(shortest)),
            ..row
        };
        parting_of(row, vec![bought(3000)], |run| run.fitted(joints, mm(3000)))
    };
    let plain = |length, joints, shortest| {
        let places = fitted(run("T", length, 1, Rule::Anywhere), joints, shortest);
        places.iter().map(|place| place / MM).collect::<Vec<_>>()
    };
    assert!(plain(2900, 0, 200).is_empty());
    assert_eq!(plain(9637, 3, 200), [3000, 6000, 9000]);
    assert_eq!(plain(9101, 3, 200), [3000, 6000, 8901]);
    // Of 101 beyond three bars, 2000 for each of the last two.
    assert_eq!(plain(9101, 3, 2000), [3000, 5101, 7101]);
    // 5 and half a joint of 4 before and behind the first part, then a bar and a joint.
    let places = fitted(gaps(9000), 2, 200);
    assert_eq!(places, [3007 * MM, 6011 * MM]);
    let first = i64::from(3000 - mitre()) * MM;
    let places = fitted(mitred(7000, 30, 90), 2, 200);
    assert_eq!(places, [first, first + 3000 * MM]);
}

/// 8988 less two joints of 4 are 8980, even parts of 2993 and a last one a millimetre longer.
#[test]
fn even_parts_are_held_or_not() {
    let is_held = |row: PieceRow, usable: Length, shortest: u32| {
        let row = PieceRow {
            shortest: Some(mm(shortest)),
            ..row
        };
        parting_of(row, vec![bought(3000)], |run| run.is_held_evenly(2, usable))
    };
    assert!(is_held(gaps(9000), mm(2994), 2993));
    assert!(!is_held(gaps(9000), nm(mm(2994).nm() - 1), 200));
    assert!(!is_held(gaps(9000), mm(2994), 2994));
    for (near, far) in [(30, 90), (90, 30)] {
        let usable = nm(mm(2000 + mitre()).nm());
        let shorter = nm(usable.nm() - 1);
        assert!(is_held(mitred(6000, near, far), usable, 200));
        assert!(!is_held(mitred(6000, near, far), shorter, 200));
    }
}

/// However many runs of other lengths there are, each has a split whose parts fit bars of which there are as many as
/// wanted: also where longer ones that are scarce fill all places, and where there are none.
#[test]
fn every_run_has_a_split_in_bars_without_limit() {
    let scarce = |length| StockRow {
        available: Some(7),
        ..bought(length)
    };
    let stocks = [
        (9000, vec![bought(3000), scarce(4200), scarce(5100)]),
        (15_000, vec![bought(3000)]),
    ];
    for (length, stock) in stocks {
        let rows = (0..60).map(|row| PieceRow {
            shortest: Some(mm(200)),
            ..run(&format!("T{row}"), length + 49 * row, 1, Rule::Anywhere)
        });
        let job = job(rows.collect(), stock);
        let material = material(&job);
        let pieces = material.pieces().iter();
        let runs: Vec<_> = pieces
            .map(|piece| {
                let parting = Parting::of(material, piece).unwrap();
                (parting, parting.joints_anywhere().unwrap())
            })
            .collect();
        for trying in [Trying::All, Trying::Few] {
            let tried = places(material, &runs, trying);
            for ((mut parting, joints), tried) in runs.iter().copied().zip(tried) {
                parting.longest.any = mm(3000);
                let inside: Vec<_> = tried.into_iter().map(|place| (place, None)).collect();
                let splits = parting.splits(&inside, Some(joints.most));
                assert!(splits.is_ok(), "{trying:?}, {}", parting.piece.mark());
            }
        }
    }
}

/// The first of all places, and what is sure to fit.
#[test]
fn few_places_are_some_of_all() {
    let job = job(
        vec![run("T", 5000, 1, Rule::Anywhere), piece("F", 1130, 2)],
        vec![bought(3000), bought(4200)],
    );
    let material = material(&job);
    let parting = Parting::of(material, &material.pieces()[0]).unwrap();
    let runs = [(parting, parting.joints_anywhere().unwrap())];
    let [all, few] =
        [Trying::All, Trying::Few].map(|trying| places(material, &runs, trying).remove(0));
    assert!(all.len() > 2 * FEW_PLACES, "{}", all.len());
    assert!(few.len() <= FEW_PLACES + 1, "{}", few.len());
    assert!(few.iter().all(|place| all.contains(place)));
}

/// Between places 5 apart in 9000, less 12 and 300 at each end, lie those of parts up to 3000, each with 3 or 4
/// joints.
#[test]
fn parts_between_rounded_places_are_counted() {
    let row = PieceRow {
        shortest: Some(mm(300)),
        ..gaps(9000)
    };
    let parts = |step: i64| {
        parting_of(row.clone(), vec![bought(3000)], |run| {
            let step = nm(step);
            Parting { step, ..*run }.parts_rounded(joints(3, 4))
        })
    };
    // From 5 + 300 + 2 to 9000 - 7 - 300 - 2.
    assert_eq!(parts(5 * MM), Some((1677 * 601, 1677 * 601 * 2)));
    assert_eq!(parts(9000 * MM), Some((1, 1)));
    assert_eq!(parts(0), None);
}

/// What a mitred end takes of its bar, in millimetres.
fn mitre() -> u32 {
    let taken = |run: &Parting<'_>| run.mitre(0, 1) / MM;
    let near = parting_of(mitred(5000, 30, 90), vec![bought(3000)], taken);
    u32::try_from(near).unwrap()
}

/// With one joint on bars of 3000: no part below the shortest, both parts together no less than twice that, and no
/// more than the bars hold, which a mitred end takes of at either side.
#[test]
fn parts_are_long_enough_and_fit() {
    let mitre = mitre();
    assert!(mitre > 2 && mitre.is_multiple_of(2), "{mitre}");
    let is_possible = |row: PieceRow, shortest: i64| {
        parting_of(row, vec![bought(3000)], |run| {
            run.is_possible(1, mm(3000), shortest)
        })
    };
    let between = 6000 - mitre - mitre / 2;
    let most = mm(3000 - mitre).nm();
    for (near, far) in [(30, 90), (90, 30)] {
        assert!(is_possible(mitred(between, near, far), most));
        assert!(!is_possible(mitred(between, near, far), most + 1));
        let none = parting_of(mitred(between, near, far), vec![bought(3000)], |run| {
            run.parted(mm(3000), most + 1)
        });
        assert_eq!(none, None);
        assert!(is_possible(mitred(6000 - mitre, near, far), MM));
        assert!(!is_possible(mitred(6001 - mitre, near, far), MM));
    }
    let plain = |length, shortest| is_possible(run("T", length, 1, Rule::Anywhere), shortest);
    assert!(plain(4000, 2000 * MM));
    assert!(!plain(4000, 2000 * MM + 1));
}

/// Full bars where what is left over of 7000 is a part: 1000 and, where the first bar loses some to a mitre, that.
#[test]
fn full_bars_or_even_parts() {
    let places = |row: PieceRow, shortest: Length| {
        let row = PieceRow {
            shortest: Some(shortest),
            ..row
        };
        parting_of(row, vec![bought(3000)], |run| run.full_or_even(2, mm(3000)))
    };
    let even = [2333 * MM, 4666 * MM];
    let above = |length: Length| nm(length.nm() + 1);
    let plain = run("T", 7000, 1, Rule::Anywhere);
    assert_eq!(places(plain.clone(), mm(1000)), [3000 * MM, 6000 * MM]);
    assert_eq!(places(plain, above(mm(1000))), even);
    let mitre = mitre();
    let first = i64::from(3000 - mitre) * MM;
    let near = mitred(7000, 30, 90);
    assert_eq!(
        places(near.clone(), mm(1000 + mitre)),
        [first, first + 3000 * MM]
    );
    assert_eq!(places(near, above(mm(1000 + mitre))), even);
    let far = mitred(7000, 90, 30);
    assert_eq!(places(far.clone(), mm(1000)), [3000 * MM, 6000 * MM]);
    assert_eq!(places(far, above(mm(1000))), even);
    // The end itself is no place, nor is anything behind it.
    let full = |length, joints| {
        let row = run("T", length, 1, Rule::Anywhere);
        parting_of(row, vec![bought(3000)], |run| run.full(joints, mm(3000)))
    };
    assert_eq!(full(6000, 2), [3000 * MM]);
    assert_eq!(full(6001, 5), [3000 * MM, 6000 * MM]);
    // Ten thousand joints are worth it, more are not.
    let many = |joints| {
        let row = run("T", 30_000_000, 1, Rule::Anywhere);
        parting_of(row, vec![bought(3000)], |run| {
            run.full_or_even(joints, mm(3000)).len()
        })
    };
    assert_eq!([10_000, 10_001, 10_002].map(many), [10_000, 0, 0]);
}

/// To a millimetre, or to a sixteenth of an inch.
#[test]
fn lengths_that_a_tape_shows() {
    let readable = |unit: Unit| {
        let row = PieceRow {
            length: Measure {
                length: mm(5000),
                unit,
            },
            ..gaps(5000)
        };
        parting_of(row, vec![bought(3000)], |run| run.readable(101 * MM - 1))
    };
    assert_eq!(readable(Unit::Mm), 100 * MM);
    assert_eq!(readable(Unit::M), 100 * MM);
    // 63 sixteenths are 100.0125 mm, another would be 101.6.
    assert_eq!(readable(Unit::In), 63 * SIXTEENTH);
    assert_eq!(readable(Unit::Ft), 63 * SIXTEENTH);
}

/// Around a part of 1000 in 9000 on bars of 3000: it ends at 1005 or begins at 9000 - 1007, with half of a joint
/// beyond; full bars and their joints follow at 3004 each; and the even parts.
#[test]
fn places_around_a_part() {
    let around = |joints, length: i64| {
        parting_of(gaps(9000), vec![bought(3000)], |run| {
            let places = around(run, joints, length * MM);
            places.iter().map(|place| place / MM).collect::<Vec<_>>()
        })
    };
    // 8988 less two joints are three parts of 2993.
    let even = [3000, 5997];
    assert_eq!(
        around(joints(2, 2), 1000),
        [[1007, 4011], [7991, 4987], even].concat()
    );
    assert_eq!(
        around(joints(2, 3), 1000),
        [&[1007, 4011, 7015, 7991, 4987, 1983][..], &even].concat()
    );
    assert_eq!(
        around(joints(2, 4), 2900),
        [&[2907, 5911, 8915, 6091, 3087, 83][..], &even].concat()
    );
    // The ends themselves are no places, a millimetre inside is one: 7 behind, 9 before a part.
    assert_eq!(around(joints(2, 1), -7), [8998, 3000, 5997]);
    assert_eq!(around(joints(2, 1), -6), [1, 8997, 3000, 5997]);
    assert_eq!(around(joints(2, 1), 8992), [8999, 3000, 5997]);
    assert_eq!(around(joints(2, 1), 8993), even);
    assert_eq!(around(joints(2, 1), -9), [3000, 5997]);
    assert_eq!(around(joints(2, 1), -8), [8999, 3000, 5997]);
}

/// What a part of 1000 leaves of 5000 but for full bars: with one joint of 4 and gaps of 12 all parts are 4984.
#[test]
fn what_a_part_leaves_of_its_run() {
    let left = |row: PieceRow, joints, length| {
        parting_of(row, vec![bought(3000)], |run| {
            left_of_run(run, joints, length * MM).map(|left| left / MM)
        })
    };
    assert_eq!(left(gaps(5000), joints(1, 1), 2000), Some(2984));
    // At least one joint; never more than a bar, never nothing.
    assert_eq!(left(gaps(5000), joints(0, 1), 2000), Some(2984));
    assert_eq!(left(gaps(5000), joints(1, 1), 1984), Some(3000));
    assert_eq!(left(gaps(5000), joints(1, 1), 1983), None);
    assert_eq!(left(gaps(5000), joints(1, 1), 4984), None);
    assert_eq!(left(gaps(5000), joints(1, 1), 4983), Some(1));
    // Of 8980 a full bar between goes off as well.
    assert_eq!(left(gaps(9000), joints(2, 2), 3000), Some(2980));
}

fn coarse(job: &Job) -> bool {
    let material = material(job);
    let run = Parting::of(material, &material.pieces()[0]).unwrap();
    is_coarse(material, &[(run, joints(1, 1))])
}

/// Tenths of a millimetre and sixty-fourths of an inch are coarse, wherever they are; anything else is not.
#[test]
fn lengths_are_coarse_or_not() {
    let with = |change: &dyn Fn(&mut PieceRow, &mut PieceRow)| {
        let (mut long, mut short) = (gaps(5000), piece("F", 1200, 1));
        change(&mut long, &mut short);
        coarse(&job(vec![long, short], vec![bought(3000)]))
    };
    let fine = nm(TENTH / 2);
    assert!(with(&|_, _| ()));
    assert!(with(&|run, _| run.joint_gap = Some(nm(TENTH))));
    assert!(with(&|run, _| run.joint_gap = Some(nm(SIXTY_FOURTH))));
    assert!(!with(&|run, _| run.joint_gap = Some(fine)));
    assert!(!with(&|run, _| run.end_gap.near = fine));
    assert!(!with(&|run, _| run.end_gap.far = fine));
    assert!(!with(
        &|run, _| run.length.length = nm(5000 * MM + TENTH / 2)
    ));
    assert!(with(&|_, other| other.length.length = nm(1200 * MM + TENTH)));
    assert!(!with(
        &|_, other| other.length.length = nm(1200 * MM + TENTH / 2)
    ));
}
