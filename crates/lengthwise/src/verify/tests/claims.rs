//! What is said of a claim: that it holds, what it leans on, that it is on trust; and why it is refused.

use super::*;
use crate::verify::bars::check_spares_last;
use crate::verify::joined::check_spare;
use crate::verify::proof::{Proven, conclude};

fn leaning(units: i128, mixes: usize) -> Proven {
    Proven::Bound {
        by_prices: Some(units),
        leaned_on: mixes,
        out_of_reach: false,
    }
}

/// The lower bound, and all the searches that either leans on.
#[test]
fn two_claims_together() {
    let Proven::Bound {
        by_prices,
        leaned_on,
        out_of_reach,
    } = leaning(5, 1).with(leaning(3, 2))
    else {
        unreachable!("both claim something")
    };
    assert_eq!((by_prices, leaned_on, out_of_reach), (Some(3), 3, false));
    for both in [
        leaning(5, 0).with(Proven::OUT_OF_REACH),
        Proven::OUT_OF_REACH.with(leaning(5, 0)),
        Proven::Nothing.with(Proven::OUT_OF_REACH),
    ] {
        assert!(matches!(
            both,
            Proven::Bound {
                out_of_reach: true,
                ..
            }
        ));
    }
}

#[test]
fn a_claim_is_rechecked_or_named_as_on_trust() {
    let concluded = |claim: Claim, proven: &Proven| {
        let mut verified = MaterialVerified::default();
        conclude(&mut verified, claim, proven);
        (verified.rechecked, verified.on_trust)
    };
    use Claim::{Bound, LeastFromHand, Optimal};
    let holds = leaning(5, 0);
    assert_eq!(concluded(Optimal, &holds), (vec![Bound, Optimal], vec![]));
    assert_eq!(concluded(Bound, &holds), (vec![Bound], vec![]));
    assert_eq!(
        concluded(LeastFromHand, &holds),
        (vec![LeastFromHand], vec![])
    );
    let (claim, mixes) = (Optimal, 2);
    let searched = vec![Trust::Searched { claim, mixes }];
    assert_eq!(concluded(Optimal, &leaning(5, 2)), (vec![], searched));
    let out = |claim| concluded(claim, &Proven::OUT_OF_REACH).1;
    assert_eq!(out(Optimal), [Trust::Bound, Trust::Optimal]);
    assert_eq!(out(Bound), [Trust::Bound]);
    assert_eq!(out(LeastFromHand), [Trust::LeastFromHand]);
    assert_eq!(concluded(Optimal, &Proven::Nothing), (vec![], vec![]));
}

/// A bound written with more digits than any price is the same bound, and one between two amounts no more
/// than the higher.
#[test]
fn bounds_in_more_digits() {
    let job = mixed_job();
    for bound in ["8.000", "7.991"] {
        let mut cutting = mixed_cutting();
        cutting.bound = Value::Money(Price::from_decimal(bound.parse().unwrap()).unwrap());
        let verified = verify(&job, &planned(&job, cutting)).unwrap();
        let proven = Some(Value::Money(money("8.00")));
        assert_eq!(verified.materials[0].bound, proven, "{bound}");
    }
}

/// A piece that fits is not too long because the plan says that it takes as much as another.
#[test]
fn a_piece_is_too_long_by_what_itself_takes() {
    let input = JobInput {
        pieces: vec![piece("F", 3100, 1), piece("G", 1000, 1)],
        stock: vec![stock(3000, None, Sold::Each, None)],
        ..JobInput::default()
    };
    let job = input.validate().unwrap();
    let too_long = |mark: &str, length: u32, takes: u32| {
        let reason = Impossible::PieceTooLong {
            mark: mark.to_owned(),
            length: mm(length),
            takes: mm(takes),
            longest: Some((mm(3000), mm(3000))),
            rows: 1,
        };
        verify(&job, &plan_with(&job, Outcome::Impossible(reason))).map_err(|no| no.breach)
    };
    assert!(too_long("F", 3100, 3100).is_ok());
    for (mark, length, takes) in [("G", 1000, 3100), ("G", 3100, 3100), ("F", 3100, 3200)] {
        let breach = too_long(mark, length, takes).unwrap_err();
        assert!(
            matches!(breach, Breach::NoSuchPieceTooLong { .. }),
            "{breach:?}"
        );
    }
}

/// Room that is kept for a whole bar is said to be that, and nothing else is.
#[test]
fn room_for_a_whole_bar_is_called_so() {
    let job = mixed_job();
    let mut asked = job.materials()[0].pieces()[1].clone();
    let check = |piece: &crate::job::Piece, for_bar: bool| {
        let cut = Cut {
            for_bar,
            spare: piece.is_spare(),
            ..cut(1000, &["G"])
        };
        check_spare(piece, "G".to_owned(), &cut)
    };
    assert_eq!(check(&asked, false), Ok(()));
    assert!(matches!(
        check(&asked, true),
        Err(Breach::SpareNotAsked { .. })
    ));
    asked.for_bar = true;
    assert_eq!(check(&asked, true), Ok(()));
    assert!(matches!(
        check(&asked, false),
        Err(Breach::SpareNotSaid { .. })
    ));
}

/// The slanted slot of a mitred end takes more than a cut, and more reserve.
#[test]
fn a_mitred_end_takes_its_slot_and_reserve() {
    let slanted = Ends {
        near: crate::job::Angle::from_hundredths(4500).unwrap(),
        far: crate::job::Angle::SQUARE,
    };
    let job = |length: u32| {
        let input = JobInput {
            pieces: vec![PieceRow {
                ends: slanted,
                ..piece("F", length, 1)
            }],
            stock: vec![stock(3000, None, Sold::Each, None)],
            saw: Saw {
                per_cut: mm(1),
                ..Saw::default()
            },
            ..JobInput::default()
        };
        input.validate().unwrap()
    };
    let fits = job(1000);
    let material = &fits.materials()[0];
    let facts = facts::Facts::of(material).unwrap();
    let sum = |a: Length, b: Length| a.checked_add(b).unwrap();
    let blade = sum(material.mitre_allowance(slanted), mm(4));
    let slanted_cut = Cut {
        ends: slanted,
        ..cut(1000, &["F"])
    };
    let bar = BarGroup {
        blade,
        reserve: sum(material.mitre_reserve(slanted), mm(1)),
        offcut: mm(2000).checked_sub(blade).unwrap(),
        saved: true,
        ..group(0, &["A1"], 3000, vec![slanted_cut], [0; 5])
    };
    assert_eq!(bars::check_group(&facts, &bar, &mut HashSet::new()), Ok(()));
    // As long as the bar, it is too long by its slot.
    let long = job(3000);
    let slot = long.materials()[0].mitre_allowance(slanted);
    let reason = Impossible::PieceTooLong {
        mark: "F".to_owned(),
        length: mm(3000),
        takes: sum(mm(3000), slot),
        longest: Some((mm(3000), mm(3000))),
        rows: 1,
    };
    assert!(verify(&long, &plan_with(&long, Outcome::Impossible(reason))).is_ok());
}

/// What is left long is cut, and what gaps take is not.
#[test]
fn an_opening_less_its_gaps_and_what_is_left_long() {
    let row = PieceRow {
        end_gap: crate::job::EndGap {
            near: mm(5),
            far: mm(7),
        },
        leave_long: Some(mm(20)),
        ..piece("F", 1000, 1)
    };
    let input = JobInput {
        pieces: vec![row],
        stock: vec![stock(3000, None, Sold::Each, None)],
        ..JobInput::default()
    };
    let job = input.validate().unwrap();
    let facts = facts::Facts::of(&job.materials()[0]).unwrap();
    let check = |length: u32| {
        let bars = [group(0, &["A1"], 3000, vec![cut(length, &["F"])], [0; 5])];
        demand::check_demand(&facts, &bars)
    };
    assert_eq!(check(1008), Ok(()));
    assert!(matches!(check(1000), Err(Breach::WrongLength { .. })));
}

#[test]
fn refusals_name_what_is_wrong() {
    let name = || "A1".to_owned();
    let said = |breach: Breach| breach.to_string();
    let part = |part| {
        let (plan, recomputed) = (mm(1), mm(0));
        said(Breach::BarPart {
            name: name(),
            part,
            plan,
            recomputed,
        })
    };
    for (of, text) in [
        (BarPart::Blade, "blade"),
        (BarPart::Reserve, "reserve"),
        (BarPart::Square, "squaring"),
        (BarPart::Offcut, "offcut"),
        (BarPart::OffcutRough, "rough end of the offcut"),
    ] {
        let all = format!("bar A1: {text} of 1mm in the plan, recomputed 0mm");
        assert_eq!(part(of), all);
    }
    let in_hand = |plan| said(Breach::InHand { name: name(), plan });
    assert_eq!(
        in_hand(true),
        "bar A1 is in hand in the plan, not so in the job"
    );
    assert_eq!(
        in_hand(false),
        "bar A1 is bought in the plan, not so in the job"
    );
    let saved = |plan| said(Breach::Saved { name: name(), plan });
    assert_eq!(
        saved(true),
        "bar A1: the offcut is saved in the plan, wrongly"
    );
    assert_eq!(
        saved(false),
        "bar A1: the offcut is thrown away in the plan, wrongly"
    );
    let twice = |list| said(Breach::ListedTwice { bar: 1, list });
    assert_eq!(
        twice(List::Buy),
        "bar kind 1 stands twice in the buying list"
    );
    assert_eq!(
        twice(List::Uncut),
        "bar kind 1 stands twice in the list of whole bars"
    );
    let cell = |cell| {
        said(Breach::Cell {
            bar: 0,
            list: List::Buy,
            cell,
        })
    };
    for (of, text) in [
        (Cell::Length, "the length"),
        (Cell::Sold, "what one sale is"),
        (Cell::Price, "the price"),
        (Cell::InHand, "whether it is in hand"),
    ] {
        assert_eq!(
            cell(of),
            format!("the buying list, bar kind 0: {text} is not as in the job")
        );
    }
    let (plan, recomputed) = (None, Some(money("5.90")));
    assert_eq!(
        said(Breach::LineCost {
            bar: 0,
            plan,
            recomputed
        }),
        "bar kind 0: the line costs nothing in the plan, recomputed 5.90"
    );
    assert_eq!(
        said(Breach::JudgedBy { plan: true }),
        "the plan is judged by money, the job by bought length"
    );
    let (plan, recomputed) = (Value::Money(money("5.90")), Value::Bought(mm(6000)));
    assert_eq!(
        said(Breach::Value { plan, recomputed }),
        "the plan comes to 5.90, recomputed 6000mm"
    );
    let figure = Figure::HandCutInto;
    let (plan, recomputed) = (mm(1), mm(0));
    assert_eq!(
        said(Breach::Figure {
            figure,
            plan,
            recomputed
        }),
        "figures: cut into from hand of 1mm in the plan, recomputed 0mm"
    );
    let missing = |prices: &[Option<usize>], walls: &[Option<usize>]| {
        let (prices, walls) = (prices.to_vec(), walls.to_vec());
        said(Breach::CombinationMissing { prices, walls })
    };
    assert_eq!(
        missing(&[None, Some(2)], &[Some(1)]),
        "no combination covers price 2 of bar kind 1 with batch 1 for wall 0"
    );
    assert_eq!(
        missing(&[None], &[]),
        "no combination covers any prices and batches"
    );
    let cost = Value::Money(money("5.90"));
    let mix = |bars: &[u64]| {
        OpenMix {
            bars: bars.to_vec(),
            cost,
        }
        .to_string()
    };
    assert_eq!(mix(&[0, 2, 1]), "2 of bar kind 1, 1 of bar kind 2 for 5.90");
    assert_eq!(mix(&[0]), "no bar at all for 5.90");
    let support = |plan, recomputed| {
        let (mark, place) = (name(), mm(600));
        RunBreach::Support {
            mark,
            place,
            plan,
            recomputed,
        }
        .to_string()
    };
    let text = support(Some(2), None);
    assert!(
        text.contains("support 2") && text.contains("no support"),
        "{text}"
    );
}

/// A spare is cut when one is spoiled: after the pieces of its bar.
#[test]
fn spares_wait_for_the_pieces_of_their_bar() {
    let bars = |spares: [bool; 3]| {
        let cut = |spare| Cut {
            spare,
            ..cut(900, &["F"])
        };
        group(
            0,
            &["A1"],
            3000,
            spares.map(cut).to_vec(),
            [9, 0, 0, 291, 0],
        )
    };
    for late in [
        [false; 3],
        [false, false, true],
        [false, true, true],
        [true; 3],
    ] {
        assert!(check_spares_last(&bars(late)).is_ok(), "{late:?}");
    }
    for early in [
        [true, false, false],
        [false, true, false],
        [true, true, false],
    ] {
        let refused = check_spares_last(&bars(early));
        assert!(
            matches!(&refused, Err(Breach::SpareBeforePiece { name }) if name == "A1"),
            "{early:?}"
        );
    }
}
