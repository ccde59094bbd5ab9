//! Plans over two batches of bars by hand: each wall from one of them, each piece from the one it asks for.

use super::*;
use crate::job::Joints;
use crate::plan::{
    Claim as Claimed, Combination, Impossible, Least, RunPart, WallBatch, WallBatches,
};

/// Bars of 1000 of two batches, and no blade.
fn job_of(pieces: Vec<PieceRow>) -> Job {
    let of_batch = |batch: &str| StockRow {
        batch: batch.to_owned(),
        ..stock(1000, None, Sold::Each, None)
    };
    let input = JobInput {
        pieces,
        stock: vec![of_batch("pale"), of_batch("dark")],
        saw: Saw {
            kerf: mm(0),
            save_from: mm(0), // any rest is saved, and where there is none, nothing is
            ..Saw::default()
        },
        ..JobInput::default()
    };
    input.validate().unwrap()
}

fn on_wall(row: PieceRow) -> PieceRow {
    PieceRow {
        wall: "north".to_owned(),
        ..row
    }
}

fn bought(bar: usize, bars: u64) -> Purchase {
    Purchase {
        bar,
        length: mm(1000),
        sold: Sold::Each,
        bars,
        sales: bars,
        price: None,
        cost: None,
    }
}

/// A bar with these pieces, the rest of it saved.
fn bar(bar: usize, names: &[&str], cuts: Vec<Cut>) -> BarGroup {
    let taken: i64 = cuts.iter().map(|cut| cut.length.nm() / 1_000_000).sum();
    let offcut = 1000 - u32::try_from(taken).unwrap();
    BarGroup {
        saved: offcut > 0,
        ..group(bar, names, 1000, cuts, [0, 0, 0, offcut, 0])
    }
}

/// Two bars, 2000 in all, which is the least there is: whatever the batch, one bar is too little.
fn two_bars(
    buy: Vec<Purchase>,
    bars: Vec<BarGroup>,
    needed: u32,
    prices: &[(Shape, i64)],
) -> Cutting {
    let value = Value::Bought(mm(2000));
    let certificate = |prices: &[(Shape, i64)]| Certificate {
        windows: vec![],
        anywhere: None,
        tried: vec![],
        scale: 2, // a bar is worth 2
        prices: prices.to_vec(),
        mixes: MixProof::default(),
        combinations: vec![],
    };
    let open = Combination {
        prices: vec![None, None],
        walls: vec![None],
        least: Least::AtLeast(value),
        certificate: certificate(prices),
    };
    let north = WallBatch {
        wall: "north".to_owned(),
        batch: "pale".to_owned(),
    };
    Cutting {
        walls: Some(WallBatches {
            walls: vec![north],
            without: Claimed {
                found: value,
                bound: Some(value),
            },
        }),
        proof: Proof::Optimal,
        value,
        bound: value,
        buy,
        bars,
        uncut: vec![],
        figures: Figures {
            bought: mm(2000),
            total: mm(2000),
            cut_into: mm(2000),
            needed: mm(needed),
            saved: mm(2000 - needed),
            ..Figures::default()
        },
        hand_proof: Proof::Gap(Stop::WorkLimit),
        preference: crate::plan::Preference::AsFound,
        certificate: Certificate {
            combinations: vec![open],
            ..certificate(&[])
        },
    }
}

/// Two pieces of 500 for one wall, and one of 400 from the dark batch.
fn wall_and_piece() -> (Job, Cutting) {
    let dark = PieceRow {
        batch: "dark".to_owned(),
        ..piece("G", 400, 1)
    };
    let job = job_of(vec![on_wall(piece("F", 500, 2)), dark]);
    let wall = vec![cut(500, &["F-01"]), cut(500, &["F-02"])];
    let bars = vec![
        bar(0, &["A1"], wall),
        bar(1, &["B1"], vec![cut(400, &["G"])]),
    ];
    let of_dark = Shape {
        batch: Some(1),
        ..shape(400)
    };
    let prices = [(shape(500), 1), (of_dark, 1)];
    let cutting = two_bars(vec![bought(0, 1), bought(1, 1)], bars, 1400, &prices);
    (job, cutting)
}

/// A run of 1500 in two halves of 750, each on a bar of its own, both of one batch.
fn wall_of_a_run(row: PieceRow) -> (Job, Cutting) {
    let row = PieceRow {
        joints: Some(Joints::At(vec![mm(750)])),
        ..row
    };
    let half = |part: u32| {
        let part = RunPart {
            mark: "T".to_owned(),
            copy: 1,
            part,
            of: 2,
            from: mm(750 * (part - 1)),
            to: mm(750 * part),
            from_support: Some(1).filter(|_| part == 2),
            to_support: Some(1).filter(|_| part == 1),
        };
        Cut {
            parts: vec![part.clone()],
            ..cut(750, &[&format!("T.{}", part.part)])
        }
    };
    let bars = vec![
        bar(0, &["A1"], vec![half(1)]),
        bar(0, &["A2"], vec![half(2)]),
    ];
    let prices = [(shape(750), 2)];
    (
        job_of(vec![row]),
        two_bars(vec![bought(0, 2)], bars, 1500, &prices),
    )
}

fn verified(job: &Job, cutting: Cutting) -> MaterialVerified {
    let verified = verify(job, &planned(job, cutting)).unwrap();
    verified.materials.into_iter().next().unwrap()
}

#[test]
fn a_wall_from_one_batch_is_accepted() {
    for (job, cutting) in [
        wall_and_piece(),
        wall_of_a_run(on_wall(piece("T", 1500, 1))),
    ] {
        let material = verified(&job, cutting);
        assert!(material.rechecked.contains(&Claim::Optimal), "{material:?}");
        assert_eq!(material.on_trust, [Trust::WithoutWalls]);
    }
}

#[test]
fn pieces_of_the_wrong_batch() {
    let (job, cutting) = wall_and_piece();
    refused!(&job, &cutting;
        // The piece for the dark batch from the pale one.
        plan: plan.bars[1].bar = 0 => Breach::OtherBatch { .. },
        // One piece of the wall beside it.
        plan: {
            let moved = plan.bars[0].cuts.remove(1);
            plan.bars[0] = bar(0, &["A1"], plan.bars[0].cuts.clone());
            let both = vec![moved, plan.bars[1].cuts[0].clone()];
            plan.bars[1] = bar(1, &["B1"], both);
        } => Breach::WallOfSeveralBatches { .. },
    );
    let (job, cutting) = wall_of_a_run(on_wall(piece("T", 1500, 1)));
    refused!(&job, &cutting;
        plan: plan.bars[1].bar = 1 => Breach::WallOfSeveralBatches { .. },
    );
    let (job, cutting) = wall_of_a_run(PieceRow {
        batch: "pale".to_owned(),
        ..piece("T", 1500, 1)
    });
    refused!(&job, &cutting;
        plan: plan.bars[1].bar = 1 => Breach::OtherBatch { .. },
    );
}

#[test]
fn what_is_said_of_walls() {
    let (job, cutting) = wall_and_piece();
    let without = |cutting: &mut Cutting, found: u32, bound: u32| {
        if let Some(walls) = &mut cutting.walls {
            walls.without.found = Value::Bought(mm(found));
            walls.without.bound = Some(Value::Bought(mm(bound)));
        }
    };
    let with = |found, bound| {
        let mut cutting = cutting.clone();
        without(&mut cutting, found, bound);
        verify(&job, &planned(&job, cutting))
    };
    assert!(with(2000, 1000).is_ok());
    assert!(with(1000, 1000).is_ok());
    // Dearer without the rule than with it, or a bound above what was found.
    assert_eq!(with(3000, 2000).unwrap_err().breach, Breach::WallBatches);
    assert_eq!(with(1000, 2000).unwrap_err().breach, Breach::WallBatches);
    refused!(&job, &cutting;
        plan: plan.walls = None => Breach::WallBatches,
        plan: plan.walls.as_mut().unwrap().walls[0].batch = "dark".to_owned() => Breach::WallBatches,
        plan: plan.walls.as_mut().unwrap().walls.clear() => Breach::WallBatches,
    );
    // There is no wall to say anything of.
    let free = job_of(vec![piece("F", 500, 2), piece("G", 400, 1)]);
    let mut none = cutting.clone();
    none.walls.as_mut().unwrap().walls.clear();
    none.certificate.combinations.clear();
    let breach = verify(&free, &planned(&free, none)).unwrap_err().breach;
    assert_eq!(breach, Breach::WallBatches);
    // All bars are of one batch.
    let (job, mut cutting) = rafters();
    cutting.walls = wall_and_piece().1.walls;
    let breach = verify(&job, &planned(&job, cutting)).unwrap_err().breach;
    assert_eq!(breach, Breach::NoWalls);
}

/// Every choice of a batch for the wall has to be covered, and that of the plan is none without a plan.
#[test]
fn every_batch_of_a_wall_is_covered() {
    let (job, cutting) = wall_and_piece();
    let mut one_each = cutting.clone();
    let open = &cutting.certificate.combinations[0];
    // With a batch for the wall its pieces count as pieces of that batch.
    let of = |batch: u32| {
        let mut of = open.clone();
        of.walls = vec![Some(batch as usize)];
        of.certificate.prices[0].0.batch = Some(batch);
        of
    };
    one_each.certificate.combinations = vec![of(0), of(1)];
    let material = verified(&job, one_each.clone());
    assert!(material.rechecked.contains(&Claim::Optimal));
    refused!(&job, &one_each;
        plan: drop(plan.certificate.combinations.pop()) => Breach::CombinationMissing { .. },
        plan: plan.certificate.combinations[1].walls = vec![Some(2)] => Breach::CombinationPrices { place: 1 },
        plan: plan.certificate.combinations[1].walls.clear() => Breach::CombinationPrices { place: 1 },
        plan: {
            let why = Impossible::NotEnoughBars { left_over: 1 };
            plan.certificate.combinations[0].least = Least::NoPlan(why);
        } => Breach::CombinationHasPlan { place: 0 },
        plan: {
            plan.certificate.combinations[1].least = Least::NoPlan(Impossible::Walls { walls: 1 });
        } => Breach::Combination { place: 1, .. },
        plan: {
            let why = Impossible::NotEnoughBars { left_over: 9 };
            plan.certificate.combinations[1].least = Least::NoPlan(why);
        } => Breach::Combination { place: 1, .. },
    );
    // That the other has no plan may be: it is on trust, and named.
    let mut other = one_each;
    let why = Impossible::NotEnoughBars { left_over: 1 };
    other.certificate.combinations[1].least = Least::NoPlan(why);
    let material = verified(&job, other);
    assert!(
        material
            .on_trust
            .contains(&Trust::NotEnoughBars { left_over: 1 })
    );
}

/// No certificate tells why no wall comes from one batch, but how many walls there are is no secret.
#[test]
fn walls_that_no_batch_holds_are_on_trust() {
    let (job, _) = wall_and_piece();
    let none = |walls: usize| {
        let reason = Impossible::Walls { walls };
        verify(&job, &plan_with(&job, Outcome::Impossible(reason)))
    };
    assert_eq!(none(1).unwrap().materials[0].on_trust, [Trust::Walls]);
    assert_eq!(none(2).unwrap_err().breach, Breach::WallBatches);
}

/// The bars of another batch do not make a piece fit, nor an impossible one.
#[test]
fn a_piece_is_too_long_for_the_bars_of_its_batch() {
    let of_batch = |batch: &str, length: u32| StockRow {
        batch: batch.to_owned(),
        ..stock(length, None, Sold::Each, None)
    };
    let dark = PieceRow {
        batch: "dark".to_owned(),
        ..piece("F", 2500, 1)
    };
    let input = JobInput {
        pieces: vec![dark],
        stock: vec![of_batch("pale", 3000), of_batch("dark", 2000)],
        ..JobInput::default()
    };
    let job = input.validate().unwrap();
    let too_long = |longest: u32| {
        let reason = Impossible::PieceTooLong {
            mark: "F".to_owned(),
            length: mm(2500),
            takes: mm(2500),
            longest: Some((mm(longest), mm(longest))),
            rows: 1,
        };
        verify(&job, &plan_with(&job, Outcome::Impossible(reason)))
    };
    assert!(too_long(2000).is_ok());
    let breach = too_long(3000).unwrap_err().breach;
    assert!(matches!(breach, Breach::LongestBar { .. }));
}

/// A piece that asks for a batch takes room on the bars of that batch, and on no other.
#[test]
fn a_piece_is_worth_something_on_bars_of_its_batch() {
    let (job, cutting) = wall_and_piece();
    let breach = tampered(&job, &cutting, |plan| {
        plan.certificate.combinations[0].certificate.prices[1].1 = 2;
    });
    let Breach::Combination { place: 0, breach } = breach else {
        unreachable!("{breach:?}")
    };
    assert!(
        matches!(*breach, Breach::PricesAboveCost { bar: 1, .. }),
        "{breach:?}"
    );
}
