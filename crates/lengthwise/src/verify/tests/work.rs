//! What a certificate may take to check, all of a plan together.

use super::*;
use crate::plan::MixSplit;
use crate::verify::boxes::boxes;
use crate::verify::counted::Counted;
use crate::verify::evidence::Evidence;
use crate::verify::facts::Facts;
use crate::verify::impossible::check_impossible;
use crate::verify::knapsack::{Item, Query, best_values};
use crate::verify::work::Work;

/// What is found of a plan with so many steps, and how many of them are left.
fn found(job: &Job, cutting: &Cutting, steps: u64) -> (MaterialVerified, u64) {
    let work = Work::with(steps);
    let facts = Facts::of(&job.materials()[0]).unwrap().sharing(&work);
    let mut names = HashSet::new();
    let mut verified = MaterialVerified::default();
    check_cutting(&facts, cutting, &mut names, &mut verified).unwrap();
    (verified, work.left())
}

/// The steps that it takes to check a plan.
fn taken(job: &Job, cutting: &Cutting) -> u64 {
    let (verified, left) = found(job, cutting, 1 << 40);
    assert!(verified.rechecked.contains(&Claim::Optimal));
    (1 << 40) - left
}

/// With fewer steps than it takes nothing is refused, and nothing is said to be proven.
fn is_on_trust_with_fewer(job: &Job, cutting: &Cutting) {
    let taken = taken(job, cutting);
    assert!(taken > 0);
    let (verified, left) = found(job, cutting, taken);
    assert_eq!(left, 0);
    assert!(verified.rechecked.contains(&Claim::Optimal));
    for fewer in [0, taken / 2, taken - 1] {
        let (verified, _) = found(job, cutting, fewer);
        let is_on_trust = |trust| verified.on_trust.contains(&trust);
        assert!(is_on_trust(Trust::Bound) || is_on_trust(Trust::LeastFromHand));
    }
}

#[test]
fn what_is_beyond_it_is_on_trust() {
    for (job, cutting) in [
        mixes::three_pieces(),
        breaks::four_bars(),
        runs::two_courses(),
    ] {
        is_on_trust_with_fewer(&job, &cutting);
    }
    for joints_max in [None, Some(2)] {
        let (job, cutting) = runs::six_runs(joints_max);
        is_on_trust_with_fewer(&job, &cutting);
    }
}

/// That there is too little length is on trust where the least that runs take is not worked out.
#[test]
fn what_runs_take_takes_from_one_work() {
    let row = PieceRow {
        joints: Some(crate::job::Joints::Every {
            spacing: Length::from_mm(100),
            from: Length::ZERO,
        }),
        joints_max: Some(3),
        joint_gap: Some(Length::from_mm(4)),
        ..piece("T", 3100, 1)
    };
    let input = JobInput {
        pieces: vec![row],
        stock: vec![stock(3000, None, Sold::Each, Some(1))],
        ..JobInput::default()
    };
    let job = input.validate().unwrap();
    let reason = Impossible::NotEnoughLength {
        needed: Length::from_mm(3100),
        available: Length::from_mm(3003),
    };
    let checked = |steps| {
        let facts = Facts::of(&job.materials()[0]).unwrap();
        check_impossible(&facts.sharing(&Work::with(steps)), &reason).unwrap()
    };
    assert_eq!(checked(1 << 30), Ok(Claim::NotEnoughLength));
    assert_eq!(checked(0), Err(Trust::NotEnoughLength));
}

/// Refutations that are the same are worked out one by one, from what is left.
#[test]
fn refutations_take_from_one_work() {
    let (job, mut cutting) = mixes::three_pieces();
    let once = taken(&job, &cutting);
    cutting.certificate.mixes.refutations = vec![vec![1]; 2_000];
    assert!(taken(&job, &cutting) > 100 * once);
    let work = Work::with(100 * once);
    let facts = Facts::of(&job.materials()[0]).unwrap().sharing(&work);
    let counted = Counted::of(&facts, &cutting.certificate).unwrap().unwrap();
    let evidence = Evidence::of(&facts, &cutting.certificate, &counted);
    assert!(evidence.incomplete);
    assert!((1..2_000).contains(&evidence.inequalities.len()));
}

/// So are the boxes, also where prices speak against each of them as a whole.
#[test]
fn boxes_take_from_one_work() {
    let (job, mut cutting) = mixes::three_pieces();
    let once = taken(&job, &cutting);
    let split = |at| [Some(MixSplit { bar: 0, at }), None];
    cutting.certificate.mixes.splits = (0..3).flat_map(split).chain([None]).collect();
    assert!(taken(&job, &cutting) > once);
    is_on_trust_with_fewer(&job, &cutting);
}

/// Fifteen million numbers of sales and more are not kept.
#[test]
fn too_many_boxes_are_not_made() {
    let each = |kind: u32| stock(500 + kind, Some("5"), Sold::Each, None);
    let input = JobInput {
        pieces: vec![piece("P", 300, 3)],
        stock: (0..1_000).map(each).collect(),
        ..JobInput::default()
    };
    let job = input.validate().unwrap();
    let facts = Facts::of(&job.materials()[0]).unwrap();
    let split = |at| [Some(MixSplit { bar: 0, at }), None];
    let splits = |count: u64| (0..count).flat_map(split).chain([None]).collect::<Vec<_>>();
    assert_eq!(boxes(&facts, &splits(10)).unwrap().unwrap().len(), 11);
    assert!(boxes(&facts, &splits(15_000)).unwrap().is_none());
}

/// No mix is held against more searched ones than there is work for.
#[test]
fn searched_mixes_take_from_one_work() {
    let (job, mut cutting) = mixes::three_pieces();
    let searched = [
        vec![mixes::searched(&[0, 0]); 1_000],
        vec![mixes::searched(&[2, 0])],
    ];
    cutting.certificate.mixes.searched = searched.concat();
    let facts = Facts::of(&job.materials()[0]).unwrap();
    let counted = Counted::of(&facts, &cutting.certificate).unwrap().unwrap();
    let evidence = Evidence::of(&facts, &cutting.certificate, &counted);
    let against = |steps| {
        let work = Work::with(steps);
        evidence.searched_against(&[2, 0], std::iter::empty(), &work)
    };
    assert_eq!(against(1_000_000), Some(Some(1_000)));
    assert_eq!(against(1_000), None);
}

/// Combinations that tell the same are checked one by one as well.
#[test]
fn combinations_take_from_one_work() {
    let (job, mut cutting) = breaks::four_bars();
    let once = taken(&job, &cutting);
    let twice = cutting.certificate.combinations.clone();
    cutting.certificate.combinations.extend(twice);
    assert_eq!(taken(&job, &cutting), 2 * once);
    let (verified, _) = found(&job, &cutting, once);
    assert_eq!(verified.bound, None);
    assert!(verified.on_trust.contains(&Trust::Bound));
}

/// A list of states that is given up has taken what it took.
#[test]
fn what_is_done_in_vain_is_counted() {
    let size = |at: i128| 1_000_000_007 + at * at * 7_919;
    let items = (1..60).map(|at| Item {
        size: size(at),
        price: u64::try_from(size(at)).unwrap(),
        demand: 1,
    });
    let items: Vec<Item> = items.collect();
    let query = Query {
        capacity: 30_000_000_000,
        floor: 0,
    };
    let work = Work::with(20_000_000);
    assert_eq!(best_values(&items, &[query], &work), None);
    assert_eq!(work.left(), 0);
}

/// All materials of a plan share it.
#[test]
fn copies_share_it() {
    let work = Work::with(10);
    let other = work.clone();
    assert_eq!(work.take(7), Some(()));
    assert_eq!(other.take_times(2, 2), None);
    assert_eq!((other.take_times(2, 1), work.left()), (Some(()), 1));
    assert_eq!((other.spend(1, 2), work.left()), (None, 0));
}
