//! Proofs beyond the root bound, by hand: mixes refuted by prices, by searches, or by nothing.

use proptest::prelude::*;

use super::*;
use crate::plan::{MixSplit, SearchedMix};
use crate::verify::boxes::MixBox;
use crate::verify::counted::Counted;
use crate::verify::evidence::{Evidence, Inequality};
use crate::verify::facts::Facts;
use crate::verify::mixes::{Range, Walked, walk};

fn saved(mut bar: BarGroup) -> BarGroup {
    bar.saved = true;
    bar
}

pub(super) fn searched(bars: &[u64]) -> SearchedMix {
    SearchedMix {
        bars: bars.to_vec(),
        patterns: 3,
        nodes: 1,
    }
}

fn without_blade(input: JobInput) -> Job {
    let saw = Saw {
        kerf: mm(0),
        save_from: mm(50),
        ..Saw::default()
    };
    JobInput { saw, ..input }.validate().unwrap()
}

fn bought(bar: usize, length: u32, price: &str) -> Purchase {
    singly(bar, length, 1, Some(price), Some(price))
}

/// Three pieces of 300 from bars of 500 at 5 (one piece each) and of 600 at 6 (two), and no more
/// than nine of either. A piece priced at half of a long bar, 3, proves 9. No bars come to 9; two of
/// 500 come to 10 and hold two pieces of three; one of either is 11 and does.
pub(super) fn three_pieces() -> (Job, Cutting) {
    let input = JobInput {
        pieces: vec![piece("P", 300, 3)],
        stock: vec![
            stock(500, Some("5"), Sold::Each, None),
            stock(600, Some("6"), Sold::Each, Some(9)),
        ],
        ..JobInput::default()
    };
    let short = group(
        0,
        &["A1"],
        500,
        vec![cut(300, &["P-01"])],
        [0, 0, 0, 200, 0],
    );
    let two = vec![cut(300, &["P-02"]), cut(300, &["P-03"])];
    let value = Value::Money(money("11"));
    let cutting = Cutting {
        buy: vec![bought(0, 500, "5"), bought(1, 600, "6")],
        bars: vec![saved(short), group(1, &["B1"], 600, two, [0; 5])],
        figures: Figures {
            bought: mm(1100),
            total: mm(1100),
            cut_into: mm(1100),
            needed: mm(900),
            spare: Length::ZERO,
            saved: mm(200),
            ..Figures::default()
        },
        certificate: Certificate {
            windows: vec![],
            anywhere: None,
            tried: vec![],
            combinations: vec![],
            scale: 1,
            prices: vec![(shape(300), 3)],
            mixes: MixProof {
                refutations: vec![vec![1]],
                ..MixProof::default()
            },
        },
        ..best(value)
    };
    (without_blade(input), cutting)
}

fn verified(job: &Job, cutting: Cutting) -> MaterialVerified {
    let verified = verify(job, &planned(job, cutting)).unwrap();
    verified.materials.into_iter().next().unwrap()
}

#[test]
fn mixes_refuted_by_prices() {
    let (job, cutting) = three_pieces();
    let material = verified(&job, cutting.clone());
    assert_eq!(material.bound, Some(cutting.value));
    assert!(material.rechecked.contains(&Claim::Optimal));
    assert!(material.rechecked.contains(&Claim::LeastFromHand));
    assert_eq!(material.on_trust, vec![]);
}

#[test]
fn mixes_refuted_by_a_search_are_on_trust() {
    let (job, mut cutting) = three_pieces();
    cutting.certificate.mixes.refutations.clear();
    cutting.certificate.mixes.searched = vec![searched(&[0, 1]), searched(&[2, 0])];
    let material = verified(&job, cutting.clone());
    let claim = Claim::Optimal;
    assert_eq!(material.on_trust, vec![Trust::Searched { claim, mixes: 1 }]);
    assert!(!material.rechecked.contains(&Claim::Bound));
    // Arithmetic alone gets as far as the mix that was searched.
    assert_eq!(material.bound, Some(Value::Money(money("10"))));

    // A bar of 500 as good as one of 600: what holds for the longer holds for the shorter.
    cutting.certificate.mixes.searched = vec![searched(&[2, 0]), searched(&[1, 0])];
    assert!(verify(&job, &planned(&job, cutting.clone())).is_ok());
    cutting.certificate.mixes.searched = vec![searched(&[1, 0])];
    let open = OpenMix {
        bars: vec![2, 0],
        cost: Value::Money(money("10")),
    };
    assert_eq!(
        verify(&job, &planned(&job, cutting)).unwrap_err().breach,
        Breach::BoundNotProven {
            plan: Value::Money(money("11")),
            recomputed: Value::Money(money("9")),
            mix: Box::new(open),
        }
    );
}

/// A certificate that counts no piece says nothing of how many bars a plan cuts; that no bars at all do not do,
/// which is true, does not speak against two.
#[test]
fn a_search_speaks_of_pieces_that_are_not_counted() {
    let (job, mut cutting) = three_pieces();
    cutting.certificate.prices.clear();
    cutting.certificate.mixes = MixProof {
        searched: vec![searched(&[0, 0])],
        ..MixProof::default()
    };
    let material = verified(&job, cutting);
    assert_eq!(material.on_trust, [Trust::Bound, Trust::Optimal]);
    assert!(!material.rechecked.contains(&Claim::Bound));
    assert_eq!(material.bound, Some(Value::Money(money("0"))));
}

#[test]
fn tampered_mix_proofs() {
    let (job, cutting) = three_pieces();
    refused! { &job, &cutting;
        c: c.certificate.mixes.refutations.clear() => Breach::BoundNotProven { .. },
        c: c.certificate.mixes.refutations[0][0] = 0 => Breach::BoundNotProven { .. },
        c: c.certificate.mixes.refutations[0][0] = -1
            => Breach::RefutationPrice { place: 0, price: -1, .. },
        c: c.certificate.mixes.refutations[0].push(1)
            => Breach::RefutationPrices { place: 0, prices: 2, lengths: 1 },
        c: c.certificate.mixes.refutations[0].clear()
            => Breach::RefutationPrices { place: 0, prices: 0, lengths: 1 },
        c: c.certificate.mixes.searched = vec![searched(&[2])]
            => Breach::SearchedKinds { place: 0, plan: 1, job: 2 },
        c: c.certificate.mixes.searched = vec![searched(&[2, 0]), searched(&[0, 10])]
            => Breach::SearchedNotAvailable { place: 1, bar: 1, bars: 10, available: 9 },
        // The plan itself is a packing of these.
        c: c.certificate.mixes.searched = vec![searched(&[1, 1])]
            => Breach::SearchedHolds { place: 0 },
        c: c.certificate.mixes.searched = vec![searched(&[0, 2])]
            => Breach::SearchedHolds { place: 0 },
        c: c.certificate.mixes.searched = vec![searched(&[9, 1])]
            => Breach::SearchedHolds { place: 0 },
        c: c.certificate.prices[0].1 = 6 => Breach::PricesAboveCost { bar: 0, best: 6, limit: 5 },
    }
    // Without its root prices the proof stands on the refutation alone: [2, 0] and [0, 1] and less.
    let mut weak = cutting;
    weak.certificate.prices[0].1 = 0;
    assert_eq!(verified(&job, weak.clone()).bound, Some(weak.value));
}

/// Two pieces of 300; in hand one bar of 400 and one of 350, worth nothing, and bars of 500 at 5.
/// Both bars in hand cost nothing, and neither does with one alone.
fn two_from_hand() -> (Job, Cutting) {
    let input = JobInput {
        pieces: vec![piece("P", 300, 2)],
        stock: vec![stock(500, Some("5"), Sold::Each, None)],
        in_hand: vec![hand(400, 1, None, 0, 0), hand(350, 1, None, 0, 0)],
        ..JobInput::default()
    };
    let bar = |kind, name: &str, length, mark: &str| {
        let cuts = vec![cut(300, &[mark])];
        let bar = group(kind, &[name], length, cuts, [0, 0, 0, length - 300, 0]);
        BarGroup {
            in_hand: true,
            ..saved(bar)
        }
    };
    let value = Value::Money(money("0"));
    let cutting = Cutting {
        buy: vec![],
        bars: vec![bar(1, "A1", 400, "P-01"), bar(2, "B1", 350, "P-02")],
        figures: Figures {
            total: mm(750),
            cut_into: mm(750),
            hand_cut_into: mm(750),
            needed: mm(600),
            spare: Length::ZERO,
            saved: mm(150),
            ..Figures::default()
        },
        certificate: Certificate {
            windows: vec![],
            anywhere: None,
            tried: vec![],
            combinations: vec![],
            scale: 1,
            prices: vec![(shape(300), 0)],
            mixes: MixProof {
                refutations: vec![vec![7]],
                ..MixProof::default()
            },
        },
        ..best(value)
    };
    (without_blade(input), cutting)
}

#[test]
fn least_from_hand() {
    let (job, mut cutting) = two_from_hand();
    let material = verified(&job, cutting.clone());
    assert!(material.rechecked.contains(&Claim::LeastFromHand));
    assert_eq!(material.on_trust, vec![]);
    refused! { &job, &cutting;
        c: c.certificate.mixes.refutations.clear() => Breach::HandNotProven { .. },
        c: c.certificate.mixes.refutations[0][0] = 0 => Breach::HandNotProven { .. },
        c: {
            c.certificate.mixes.refutations.clear();
            c.certificate.mixes.searched = vec![searched(&[0, 0, 1])];
        } => Breach::HandNotProven { .. },
    }
    // The longer of the two was searched; what it does not hold, the shorter does not.
    cutting.certificate.mixes = MixProof {
        searched: vec![searched(&[0, 1, 0])],
        ..MixProof::default()
    };
    let claim = Claim::LeastFromHand;
    assert_eq!(
        verified(&job, cutting.clone()).on_trust,
        vec![Trust::Searched { claim, mixes: 1 }]
    );
    // No claim, no proof needed.
    cutting.certificate.mixes = MixProof::default();
    cutting.hand_proof = Proof::Gap(Stop::WorkLimit);
    assert!(verify(&job, &planned(&job, cutting)).is_ok());
}

/// The same for a worth of 5 and 6, so that other plans of the value 11 take less from hand: one
/// bar of 500 and one of the two would be 10 or 11, and the latter holds both pieces.
#[test]
fn worth_counts_when_less_is_taken_from_hand() {
    let (_, mut cutting) = two_from_hand();
    let input = JobInput {
        pieces: vec![piece("P", 300, 2)],
        stock: vec![stock(500, Some("5"), Sold::Each, None)],
        in_hand: vec![hand(400, 1, Some("6"), 0, 0), hand(350, 1, Some("5"), 0, 0)],
        ..JobInput::default()
    };
    let job = without_blade(input);
    cutting.value = Value::Money(money("11"));
    cutting.bound = Value::Money(money("0"));
    cutting.proof = Proof::Gap(Stop::WorkLimit);
    let open = OpenMix {
        bars: vec![1, 1, 0],
        cost: cutting.value,
    };
    let breach = Breach::HandNotProven {
        plan: mm(750),
        mix: Box::new(open),
    };
    let refused = |cutting| verify(&job, &planned(&job, cutting)).unwrap_err().breach;
    assert_eq!(refused(cutting.clone()), breach);
    // A certificate that counts no piece says nothing of how many bars a plan cuts.
    cutting.certificate.prices.clear();
    cutting.certificate.mixes.refutations.clear();
    let verified = verified(&job, cutting);
    assert_eq!(verified.on_trust, [Trust::LeastFromHand]);
    assert!(!verified.rechecked.contains(&Claim::LeastFromHand));
}

/// Forty kinds of bar that hold one piece each, in packs of eight for 40.00 and more, and a single one
/// for 0.01. Two hundred pieces take twenty-five packs, with or without the single one; but half a
/// pack less would do if there were half packs: nothing can be left out early, and all mixes of all
/// kinds cannot be looked at.
#[test]
fn too_many_mixes_are_on_trust() {
    let kinds: u32 = 40;
    let packs = Sold::Pack(8);
    let mut rows: Vec<StockRow> = (0..kinds)
        .map(|kind| {
            let price = format!("{}.{:02}", 40 + kind / 10, kind * 7 % 100);
            stock(500 + kind, Some(&price), packs, None)
        })
        .collect();
    rows.push(stock(500, Some("0.01"), Sold::Each, Some(1)));
    let input = JobInput {
        pieces: vec![piece("P", 300, 200)],
        stock: rows,
        ..JobInput::default()
    };
    let job = without_blade(input);
    let marks: Vec<String> = (0..200).map(|at| format!("P-{:03}", at + 1)).collect();
    let marks: Vec<&str> = marks.iter().map(String::as_str).collect();
    let names: Vec<String> = (0..200).map(|at| format!("A{}", at + 1)).collect();
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let bars = group(0, &names, 500, vec![cut(300, &marks)], [0, 0, 0, 200, 0]);
    let cutting = Cutting {
        walls: None,
        proof: Proof::Optimal,
        value: Value::Money(money("1000")),
        bound: Value::Money(money("1000")),
        buy: vec![Purchase {
            bars: 200,
            sales: 25,
            sold: packs,
            cost: Some(money("1000")),
            ..bought(0, 500, "40.00")
        }],
        bars: vec![saved(bars)],
        uncut: vec![],
        figures: Figures {
            bought: mm(100_000),
            total: mm(100_000),
            cut_into: mm(100_000),
            needed: mm(60_000),
            spare: Length::ZERO,
            saved: mm(40_000),
            ..Figures::default()
        },
        hand_proof: Proof::Optimal,
        preference: crate::plan::Preference::AsFound,
        certificate: Certificate {
            windows: vec![],
            anywhere: None,
            tried: vec![],
            combinations: vec![],
            scale: 1,
            prices: vec![(shape(300), 0)],
            mixes: MixProof {
                refutations: vec![vec![1]],
                ..MixProof::default()
            },
        },
    };
    let material = verified(&job, cutting);
    assert_eq!(material.on_trust, vec![Trust::Bound, Trust::Optimal]);
    assert!(!material.rechecked.contains(&Claim::Bound));
    assert_eq!(material.bound, Some(Value::Money(money("0"))));
}

/// At most `at` sales of the first kind of bar, or more.
fn at_most(at: u64) -> Option<MixSplit> {
    Some(MixSplit { bar: 0, at })
}

#[test]
fn boxes_neither_make_a_proof_nor_break_one() {
    let (job, mut cutting) = three_pieces();
    for splits in [
        vec![None],
        vec![at_most(0), None, None],
        vec![at_most(1), at_most(0), None, None, None],
        // Beyond what anybody would buy: an empty box.
        vec![at_most(u64::MAX - 1), None, None],
    ] {
        cutting.certificate.mixes.splits = splits;
        let material = verified(&job, cutting.clone());
        assert!(material.rechecked.contains(&Claim::Optimal));
        assert_eq!(material.on_trust, vec![]);
        let mut without = cutting.clone();
        without.certificate.mixes.refutations.clear();
        assert!(matches!(
            verify(&job, &planned(&job, without)).unwrap_err().breach,
            Breach::BoundNotProven { .. }
        ));
    }
}

#[test]
fn boxes_out_of_place_are_refused() {
    let (job, cutting) = three_pieces();
    refused! { &job, &cutting;
        c: c.certificate.mixes.splits = vec![None, None] => Breach::SplitBroken { place: 1 },
        c: c.certificate.mixes.splits = vec![at_most(0), None] => Breach::SplitBroken { place: 2 },
        c: c.certificate.mixes.splits = vec![at_most(1), None, at_most(1), None, None]
            => Breach::SplitBroken { place: 2 },
        c: c.certificate.mixes.splits = vec![Some(MixSplit { bar: 2, at: 0 }), None, None]
            => Breach::SplitBroken { place: 0 },
        c: c.certificate.mixes.splits = vec![at_most(u64::MAX), None, None]
            => Breach::SplitBroken { place: 0 },
    }
}

/// What lies between the root bound and the cost is not looked at then.
#[test]
fn more_boxes_than_are_kept_are_on_trust() {
    let (job, mut cutting) = three_pieces();
    cutting.certificate.mixes.splits = vec![at_most(0); 7_500_000];
    let facts = Facts::of(&job.materials()[0]).unwrap();
    let mut verified = MaterialVerified::default();
    crate::verify::proof::check_proof(&facts, &cutting, (&[1, 1], &[]), &mut verified).unwrap();
    assert_eq!(verified.on_trust, [Trust::Bound, Trust::Optimal]);
    assert_eq!(verified.rechecked, [Claim::LeastFromHand]);
}

/// What [`walk`] is about: sales of each kind, what they cost, and the length from hand that they cut into.
struct Mix {
    bars: Vec<u64>,
    cost: i128,
    hand: i128,
}

/// Every mix with no more bars of a kind than there are or could be used, one by one.
fn every_mix(facts: &Facts<'_>, pieces: u64) -> Vec<Mix> {
    let mut all = vec![Mix {
        bars: vec![],
        cost: 0,
        hand: 0,
    }];
    for kind in &facts.kinds {
        let there = kind.available.map_or(u64::MAX, |bars| bars / kind.per_sale);
        let most = pieces.div_ceil(kind.per_sale).min(there);
        let with = |mix: &Mix, sales: u64| {
            let hand = if kind.in_hand { kind.length } else { 0 };
            Mix {
                bars: [&mix.bars[..], &[sales * kind.per_sale]].concat(),
                cost: mix.cost + kind.sale * i128::from(sales),
                hand: mix.hand + hand * i128::from(sales),
            }
        };
        let more = all.iter();
        all = more
            .flat_map(|mix| (0..=most).map(|sales| with(mix, sales)).collect::<Vec<_>>())
            .collect();
    }
    all
}

/// Bars to buy by price, whether in pairs, and how many there are; bars in hand by worth and number.
type Kinds = (Vec<(u32, bool, Option<u64>)>, Option<(u32, u64)>);

fn kinds() -> impl Strategy<Value = Kinds> {
    let bought = (1_u32..9, any::<bool>(), proptest::option::of(0_u64..5));
    let in_hand = (0_u32..4, 1_u64..4);
    (
        proptest::collection::vec(bought, 1..4),
        proptest::option::of(in_hand),
    )
}

fn job_with((to_buy, in_hand): &Kinds, pieces: u64) -> Job {
    let bought = (1..).zip(to_buy).map(|(place, (price, pairs, available))| {
        let sold = if *pairs { Sold::Pack(2) } else { Sold::Each };
        stock(
            500 + place * 100,
            Some(&price.to_string()),
            sold,
            *available,
        )
    });
    let in_hand = in_hand.map(|(worth, there)| hand(650, there, Some(&worth.to_string()), 0, 0));
    let input = JobInput {
        pieces: vec![piece("P", 300, pieces)],
        stock: bought.collect(),
        in_hand: in_hand.into_iter().collect(),
        ..JobInput::default()
    };
    without_blade(input)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1500))]

    /// The walk leaves out what need not be looked at, and still tells what looking at each mix tells.
    #[test]
    fn a_walk_tells_what_every_mix_by_itself_tells(
        kinds in kinds(),
        pieces in 1_u64..5,
        holds in proptest::collection::vec((1_i128..14, proptest::collection::vec(0_i128..6, 4)), 0..3),
        searched in proptest::collection::vec(proptest::collection::vec(0_u64..4, 4), 0..3),
        (from, width) in (0_i128..14, 1_i128..14),
        hand_below in proptest::option::of(1_u32..2000),
        split in proptest::option::of((0_usize..4, 0_u64..3)),
        incomplete in any::<bool>(),
    ) {
        let job = job_with(&kinds, pieces);
        let facts = Facts::of(&job.materials()[0]).unwrap();
        let count = facts.kinds.len();
        let mut certificate = three_pieces().1.certificate;
        certificate.mixes.refutations.clear();
        certificate.mixes.searched =
            searched.iter().map(|bars| self::searched(&bars[..count])).collect();
        let counted = Counted::of(&facts, &certificate).unwrap().unwrap();
        let mut evidence = Evidence::of(&facts, &certificate, &counted);
        evidence.incomplete = incomplete;
        evidence.inequalities = holds
            .iter()
            .map(|(total, holds)| Inequality { total: *total, holds: holds[..count].to_vec() })
            .collect();
        let range = Range {
            from,
            below: from + width,
            hand_below: hand_below.map(|hand| i128::from(hand) * 1_000_000),
        };
        let mut boxes = vec![MixBox::whole(&facts)];
        if let Some((kind, at)) = split.filter(|(kind, _)| *kind < count) {
            let (mut low, mut high) = (MixBox::whole(&facts), MixBox::whole(&facts));
            (low.most[kind], high.least[kind]) = (at, at + 1);
            boxes = vec![low, high];
        }

        let by_prices = |mix: &Mix| {
            let mut all = evidence.inequalities.iter();
            all.any(|inequality| inequality.short(&mix.bars) > 0)
        };
        let by_search = |mix: &Mix| evidence.searched_against(&mix.bars, std::iter::empty(), &facts.work).unwrap();
        let in_range = |mix: &Mix| {
            (range.from..range.below).contains(&mix.cost)
                && range.hand_below.is_none_or(|below| mix.hand < below)
        };
        let all: Vec<Mix> = every_mix(&facts, pieces).into_iter().filter(in_range).collect();
        let is_open = all.iter().any(|mix| !by_prices(mix) && by_search(mix).is_none());
        match walk(&facts, &evidence, (range, pieces), &boxes) {
            Walked::Open { bars, cost } => {
                prop_assert!(!incomplete);
                let found = all.iter().find(|mix| mix.bars == bars);
                let found = found.filter(|mix| mix.cost == cost);
                prop_assert!(found.is_some(), "{bars:?} at {cost} is no mix of the range");
                prop_assert!(found.is_some_and(|mix| !by_prices(mix) && by_search(mix).is_none()));
            }
            Walked::OutOfReach => prop_assert!(is_open && incomplete),
            Walked::Refuted { leaned_on, by_prices_below } => {
                prop_assert!(!is_open);
                let searched_only = || all.iter().filter(|mix| !by_prices(mix));
                for mix in searched_only() {
                    let speaks = |place: usize| {
                        by_search(mix).is_some()
                            && evidence.searched_against(&mix.bars, [place].into_iter(), &facts.work) == Some(Some(place))
                    };
                    prop_assert!(leaned_on.iter().any(|place| speaks(*place)));
                }
                match searched_only().map(|mix| mix.cost).min() {
                    Some(least) => prop_assert_eq!(by_prices_below, least),
                    None => {
                        prop_assert!(leaned_on.is_empty());
                        prop_assert!(all.iter().all(|mix| mix.cost < by_prices_below));
                    }
                }
            }
        }
    }
}
