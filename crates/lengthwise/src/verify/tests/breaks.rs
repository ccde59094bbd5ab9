//! Price breaks by hand: which prices can be had, the cheapest way to so many bars, and what the combinations
//! of a certificate prove.

use super::*;
use crate::job::{Ceilings, Joints, PriceBreak};
use crate::plan::{Combination, Least};
use crate::verify::breaks::check_combinations;
use crate::verify::facts::Facts;

fn breaks(of: &[(u64, &str)]) -> Vec<PriceBreak> {
    let of = of.iter().map(|&(from, price)| PriceBreak {
        from,
        price: money(price),
    });
    of.collect()
}

/// Pieces of 900, one on each bar of the row, without a blade.
fn job_with(qty: u64, row: StockRow, in_hand: Vec<HandRow>) -> Job {
    let input = JobInput {
        pieces: vec![piece("F", 900, qty)],
        stock: vec![row],
        in_hand,
        saw: Saw {
            kerf: mm(0),
            ..Saw::default()
        },
    };
    input.validate().unwrap()
}

fn row(length: u32, price: &str, sold: Sold, there: Option<u64>, of: &[(u64, &str)]) -> StockRow {
    StockRow {
        breaks: breaks(of),
        ..stock(length, Some(price), sold, there)
    }
}

/// Place and least sales of every price that can be had.
fn tiers(row: StockRow) -> Vec<(usize, u64)> {
    let job = job_with(4, row, vec![]);
    let facts = Facts::of(&job.materials()[0]).unwrap();
    let tiers = facts.kinds[0].tiers.iter();
    tiers.map(|tier| (tier.place, tier.sales)).collect()
}

#[test]
fn prices_that_can_be_had() {
    let each = |there, of: &[(u64, &str)]| tiers(row(1000, "9", Sold::Each, there, of));
    assert_eq!(each(None, &[]), []);
    let two = [(3, "8"), (5, "7")];
    assert_eq!(each(None, &two), [(0, 0), (1, 3), (2, 5)]);
    assert_eq!(each(Some(5), &two), [(0, 0), (1, 3), (2, 5)]);
    assert_eq!(each(Some(4), &two), [(0, 0), (1, 3)]);
    // Packs are counted, not the bars in them.
    let packs = |there| tiers(row(1000, "9", Sold::Pack(2), Some(there), &two));
    assert_eq!(packs(5), [(0, 0), (1, 3), (2, 5)]);
    assert_eq!(packs(4), [(0, 0), (1, 3)]);
}

/// By the metre whole bars count: 4.2 m make one, 21 m just five, 22 m six.
#[test]
fn prices_by_the_metre_hold_from_whole_bars() {
    let metres = |of: &[(u64, &str)]| tiers(row(4200, "3", Sold::PerMetre, None, of));
    assert_eq!(metres(&[(10, "2")]), [(0, 0), (1, 3)]);
    assert_eq!(metres(&[(21, "2")]), [(0, 0), (1, 5)]);
    assert_eq!(metres(&[(22, "2")]), [(0, 0), (1, 6)]);
    // One bar is enough for the lower price, so the other is never paid.
    assert_eq!(metres(&[(4, "2")]), [(1, 0)]);
    // Both take two bars, and the second is lower.
    assert_eq!(metres(&[(5, "2"), (8, "1")]), [(0, 0), (2, 2)]);
    assert_eq!(metres(&[(5, "2"), (9, "1")]), [(0, 0), (1, 2), (2, 3)]);
}

#[test]
fn the_cheapest_way_to_so_many_bars() {
    let cheapest = |row: StockRow, bars: u64| {
        let job = job_with(4, row, vec![]);
        let facts = Facts::of(&job.materials()[0]).unwrap();
        facts.kinds[0].cheapest(bars).unwrap()
    };
    let each = |bars| {
        let of = [(3, "6"), (10, "5")];
        cheapest(row(1000, "10", Sold::Each, None, &of), bars)
    };
    assert_eq!(each(0), (0, 0));
    assert_eq!(each(1), (1, 10));
    assert_eq!(each(2), (3, 18));
    assert_eq!(each(3), (3, 18));
    assert_eq!(each(8), (8, 48));
    assert_eq!(each(9), (10, 50));
    // At the same cost the fewest are bought.
    let same = row(1000, "9", Sold::Each, None, &[(3, "6")]);
    assert_eq!(cheapest(same, 2), (2, 18));
    let packs = row(1000, "10", Sold::Pack(2), None, &[(3, "6")]);
    assert_eq!(cheapest(packs, 3), (3, 18));
}

fn certificate(prices: &[(Shape, i64)]) -> Certificate {
    Certificate {
        windows: vec![],
        anywhere: None,
        tried: vec![],
        scale: 1,
        prices: prices.to_vec(),
        mixes: MixProof::default(),
        combinations: vec![],
    }
}

fn at(price: Option<usize>, least: &str, each: i64) -> Combination {
    Combination {
        prices: vec![price],
        walls: vec![],
        least: Least::AtLeast(Value::Money(money(least))),
        certificate: certificate(&[(shape(900), each)]),
    }
}

/// Costs are counted in what they have in common, so that a bar is worth 1. Four pieces, a bar each, at 10, from
/// three on at 8: 32. At 10 they come to 40; at 8 the first three are paid beforehand, 24, and the fourth is 8 more.
pub(super) fn four_bars() -> (Job, Cutting) {
    let job = job_with(4, row(1000, "10", Sold::Each, None, &[(3, "8")]), vec![]);
    let names = ["A1", "A2", "A3", "A4"];
    let marks = ["F-01", "F-02", "F-03", "F-04"];
    let bars = group(0, &names, 1000, vec![cut(900, &marks)], [0, 0, 0, 100, 0]);
    let value = Value::Money(money("32"));
    let cutting = Cutting {
        buy: vec![singly(0, 1000, 4, Some("8"), Some("32"))],
        bars: vec![bars],
        figures: Figures {
            bought: mm(4000),
            total: mm(4000),
            cut_into: mm(4000),
            needed: mm(3600),
            waste: mm(400),
            ..Figures::default()
        },
        certificate: Certificate {
            combinations: vec![at(Some(0), "40", 1), at(Some(1), "32", 1)],
            ..certificate(&[])
        },
        ..best(value)
    };
    (job, cutting)
}

fn verified(job: &Job, cutting: Cutting) -> Result<MaterialVerified, Breach> {
    let verified = verify(job, &planned(job, cutting)).map_err(|refusal| refusal.breach)?;
    Ok(verified.materials.into_iter().next().unwrap())
}

#[test]
fn every_choice_of_prices_is_proven_by_itself() {
    let (job, cutting) = four_bars();
    // One by one, and all at once at the lowest price.
    let open = vec![at(None, "32", 1)];
    for combinations in [cutting.certificate.combinations.clone(), open] {
        let mut cutting = cutting.clone();
        cutting.certificate.combinations = combinations;
        let material = verified(&job, cutting).unwrap();
        assert!(material.rechecked.contains(&Claim::Optimal), "{material:?}");
        assert!(material.rechecked.contains(&Claim::LeastFromHand));
        assert_eq!(material.on_trust, []);
        assert_eq!(material.bound, Some(Value::Money(money("32"))));
    }
}

/// Two pieces, a bar at 10 for each, without a certificate.
fn two_bars() -> Cutting {
    let (_, mut cutting) = four_bars();
    cutting.value = Value::Money(money("20"));
    cutting.bound = cutting.value;
    cutting.buy[0] = Purchase {
        bars: 2,
        sales: 2,
        price: Some(money("10")),
        cost: Some(money("20")),
        ..cutting.buy[0].clone()
    };
    let bars = group(
        0,
        &["A1", "A2"],
        1000,
        vec![cut(900, &["F-01", "F-02"])],
        [0, 0, 0, 100, 0],
    );
    cutting.bars = vec![bars];
    cutting.figures = Figures {
        bought: mm(2000),
        total: mm(2000),
        cut_into: mm(2000),
        needed: mm(1800),
        waste: mm(200),
        ..Figures::default()
    };
    cutting.certificate = certificate(&[]);
    cutting
}

/// Where prices are left open, the lowest counts and nothing is paid beforehand: two bars may come to 16 for
/// all that such a combination proves, though three would have to be paid to have that price.
#[test]
fn nothing_is_paid_beforehand_at_an_open_price() {
    let job = job_with(2, row(1000, "10", Sold::Each, None, &[(3, "8")]), vec![]);
    let mut cutting = two_bars();
    cutting.proof = Proof::Gap(Stop::WorkLimit);
    cutting.bound = Value::Money(money("16"));
    cutting.certificate.combinations = vec![at(None, "16", 1)];
    let material = verified(&job, cutting).unwrap();
    assert_eq!(material.bound, Some(Value::Money(money("16"))));
}

/// There are only two, so that nobody pays the price from three, and there is nothing to combine.
#[test]
fn a_break_out_of_reach_is_none() {
    let row = row(1000, "10", Sold::Each, Some(2), &[(3, "8")]);
    let job = job_with(2, row, vec![]);
    let mut cutting = two_bars();
    cutting.certificate = certificate(&[(shape(900), 1)]);
    let material = verified(&job, cutting).unwrap();
    assert_eq!(material.on_trust, []);
    assert_eq!(material.bound, Some(Value::Money(money("20"))));
}

#[test]
fn tampered_combinations() {
    let (job, cutting) = four_bars();
    refused!(&job, &cutting;
        plan: plan.certificate.combinations.clear() => Breach::CombinationMissing { .. },
        plan: drop(plan.certificate.combinations.remove(0)) => Breach::CombinationMissing { .. },
        plan: drop(plan.certificate.combinations.remove(1)) => Breach::CombinationMissing { .. },
        plan: plan.certificate.combinations[1] = at(Some(2), "32", 1) => Breach::CombinationPrices { place: 1 },
        plan: plan.certificate.combinations[1].prices.push(None) => Breach::CombinationPrices { place: 1 },
        plan: plan.certificate.combinations[1].walls.push(None) => Breach::CombinationPrices { place: 1 },
        plan: {
            let inner = plan.certificate.combinations[0].clone();
            plan.certificate.combinations[1].certificate.combinations = vec![inner];
        } => Breach::CombinationPrices { place: 1 },
        // It proves too little for the plan, or claims more than its prices prove.
        plan: plan.certificate.combinations[1] = at(Some(1), "31", 1)
            => Breach::CombinationBelowBound { place: 1, .. },
        plan: plan.certificate.combinations[0] = at(Some(0), "41", 1) => Breach::Combination { place: 0, .. },
        plan: plan.certificate.combinations[1] = at(Some(1), "32", 0) => Breach::Combination { place: 1, .. },
        plan: plan.certificate.combinations[1] = at(Some(1), "32", 2) => Breach::Combination { place: 1, .. },
        // No length comes before any money.
        plan: plan.certificate.combinations[0] = Combination {
            least: Least::AtLeast(Value::Bought(Length::ZERO)),
            ..at(Some(0), "40", 0)
        } => Breach::Combination { place: 0, .. },
    );
}

/// Two bars of 950 in hand, worth 10 each, and bars of 1000 at 10, from three on at 8: to buy two costs 20 as well,
/// and cuts into nothing from hand. At an open price of 8 those two cost 16, so that no mix which comes to 20 there
/// is one of them.
#[test]
fn least_from_hand_is_not_proven_at_an_open_price_below_the_cost() {
    let in_hand = vec![hand(950, 2, Some("10"), 0, 0)];
    let job = job_with(2, row(1000, "10", Sold::Each, None, &[(3, "8")]), in_hand);
    let mut cutting = two_bars();
    let marks = ["F-01", "F-02"];
    let cuts = vec![cut(900, &marks)];
    let mut bars = group(1, &["H1", "H2"], 950, cuts, [0, 0, 0, 50, 0]);
    bars.in_hand = true;
    cutting.bars = vec![bars];
    cutting.buy.clear();
    cutting.figures = Figures {
        total: mm(1900),
        cut_into: mm(1900),
        hand_cut_into: mm(1900),
        needed: mm(1800),
        waste: mm(100),
        ..Figures::default()
    };
    cutting.proof = Proof::Gap(Stop::WorkLimit);
    cutting.bound = Value::Money(money("16"));
    let mut open = at(None, "16", 4);
    open.prices.push(None);
    cutting.certificate.combinations = vec![open];
    let material = verified(&job, cutting).unwrap();
    assert!(material.rechecked.contains(&Claim::Bound), "{material:?}");
    assert!(!material.rechecked.contains(&Claim::LeastFromHand));
    assert_eq!(material.on_trust, [Trust::LeastFromHand]);
}

/// Where a price is chosen a plan costs there what it comes to, so that a lower bound of the cost takes nothing from
/// what is proven of the length from hand; and a kind of bar that has one price leaves none open.
#[test]
fn least_from_hand_is_proven_at_chosen_prices() {
    let in_hand = vec![hand(950, 1, Some("10"), 0, 0)];
    let job = job_with(2, row(1000, "10", Sold::Each, None, &[(3, "8")]), in_hand);
    let mut cutting = two_bars();
    cutting.uncut = vec![UncutBars {
        bar: 1,
        length: mm(950),
        count: 1,
        in_hand: true,
    }];
    cutting.figures.total = mm(2950);
    cutting.figures.saved = mm(950);
    cutting.proof = Proof::Gap(Stop::WorkLimit);
    cutting.bound = Value::Money(money("16"));
    let chosen = |price, least, each| {
        let mut combination = at(Some(price), least, each);
        combination.prices.push(None);
        combination
    };
    cutting.certificate.combinations = vec![chosen(0, "16", 1), chosen(1, "24", 0)];
    let material = verified(&job, cutting).unwrap();
    assert!(material.rechecked.contains(&Claim::LeastFromHand));
    assert_eq!(material.on_trust, []);
}

/// Two of four bars would do of two in hand: what is proven of the length from hand is so at each price.
#[test]
fn least_from_hand_at_every_price() {
    let in_hand = vec![hand(950, 1, Some("8"), 0, 0)];
    let of = [(3, "8")];
    let job = job_with(4, row(1000, "10", Sold::Each, None, &of), in_hand);
    let (_, bought) = four_bars();
    let mut cutting = bought.clone();
    cutting.uncut = vec![UncutBars {
        bar: 1,
        length: mm(950),
        count: 1,
        in_hand: true,
    }];
    cutting.figures.total = mm(4950);
    cutting.figures.saved = mm(950);
    for combination in &mut cutting.certificate.combinations {
        combination.prices.push(None);
    }
    // At 10 the bar in hand saves 2 of the 40; a bar is worth 5 or 4.
    cutting.certificate.combinations[0].certificate.prices[0].1 = 5;
    cutting.certificate.combinations[0].least = Least::AtLeast(Value::Money(money("38")));
    let material = verified(&job, cutting.clone()).unwrap();
    assert!(material.rechecked.contains(&Claim::LeastFromHand));

    // The same cost with the bar in hand cut into: three at 8 and 8 for the one in hand.
    let mut from_hand = cutting.clone();
    let mut last = group(1, &["H1"], 950, vec![cut(900, &["F-04"])], [0, 0, 0, 50, 0]);
    last.in_hand = true;
    let three = ["F-01", "F-02", "F-03"];
    let names = ["A1", "A2", "A3"];
    from_hand.bars = vec![
        group(0, &names, 1000, vec![cut(900, &three)], [0, 0, 0, 100, 0]),
        last,
    ];
    from_hand.uncut.clear();
    from_hand.buy[0].bars = 3;
    from_hand.buy[0].sales = 3;
    from_hand.buy[0].cost = Some(money("24"));
    from_hand.figures = Figures {
        bought: mm(3000),
        total: mm(3950),
        cut_into: mm(3950),
        hand_cut_into: mm(950),
        needed: mm(3600),
        waste: mm(350),
        ..Figures::default()
    };
    let refusal = verified(&job, from_hand.clone()).unwrap_err();
    assert!(
        matches!(refusal, Breach::Combination { place: 1, .. }),
        "{refusal:?}"
    );
    // Nor is it the least where only a lower bound is claimed of the cost.
    let mut lower = from_hand.clone();
    lower.proof = Proof::Gap(Stop::WorkLimit);
    lower.bound = Value::Money(money("31"));
    lower.certificate.combinations[1].least = Least::AtLeast(lower.bound);
    let refusal = verified(&job, lower).unwrap_err();
    let Breach::Combination { place: 1, breach } = refusal else {
        unreachable!("{refusal:?}")
    };
    assert!(matches!(*breach, Breach::HandNotProven { .. }));
    from_hand.hand_proof = Proof::Gap(Stop::WorkLimit);
    let material = verified(&job, from_hand).unwrap();
    assert!(material.rechecked.contains(&Claim::Optimal));
    assert!(!material.rechecked.contains(&Claim::LeastFromHand));
}

/// Of three prices each has to be covered by itself.
#[test]
fn two_of_three_prices_are_not_all() {
    let of = [(3, "8"), (4, "7.5")];
    let job = job_with(4, row(1000, "10", Sold::Each, None, &of), vec![]);
    let (_, mut cutting) = four_bars();
    cutting.value = Value::Money(money("30"));
    cutting.bound = cutting.value;
    cutting.buy[0].price = Some(money("7.5"));
    cutting.buy[0].cost = Some(money("30"));
    let all = [
        at(Some(0), "40", 1),
        at(Some(1), "32", 1),
        at(Some(2), "30", 0),
    ];
    cutting.certificate.combinations = all.to_vec();
    assert!(verified(&job, cutting.clone()).is_ok());
    for left_out in 0..3 {
        let mut some = cutting.clone();
        some.certificate.combinations.remove(left_out);
        let breach = verified(&job, some).unwrap_err();
        let Breach::CombinationMissing { prices, .. } = breach else {
            unreachable!("{breach:?}")
        };
        assert_eq!(prices, [Some(left_out)]);
    }
}

/// Joints at every millimetre of 2.5 m: three million parts and more, which are not gone through. What is claimed then
/// is on trust, but for a bound that no price is needed for.
#[test]
fn a_certificate_out_of_reach_proves_what_is_paid_beforehand() {
    let joints = Joints::Every {
        spacing: mm(1),
        from: mm(0),
    };
    let input = JobInput {
        pieces: vec![PieceRow {
            joints: Some(joints),
            joints_max: Some(2),
            shortest: Some(mm(1)),
            ..piece("T", 2500, 1)
        }],
        stock: vec![row(5000, "10", Sold::Each, None, &[(3, "8")])],
        ..JobInput::default()
    };
    // Beyond the usual ceiling.
    let job = input.validate_within(&Ceilings::HIGHEST).unwrap();
    let facts = Facts::of(&job.materials()[0]).unwrap();
    let of = |combinations: Vec<Combination>, bound: &str| {
        let (_, cutting) = four_bars();
        let cutting = Cutting {
            bound: Value::Money(money(bound)),
            proof: Proof::Gap(Stop::WorkLimit),
            hand_proof: Proof::Gap(Stop::WorkLimit),
            certificate: Certificate {
                combinations,
                ..certificate(&[])
            },
            ..cutting
        };
        let mut verified = MaterialVerified::default();
        check_combinations(&facts, &cutting, (&[2], &[]), &mut verified).unwrap();
        (verified.rechecked, verified.on_trust, verified.bound)
    };
    let trusted = (vec![], vec![Trust::Bound], None);
    let proven = |bound: &str| {
        let bound = Value::Money(money(bound));
        (vec![Claim::Bound], vec![], Some(bound))
    };
    assert_eq!(of(vec![at(None, "16", 1)], "16"), trusted);
    // At 10 nothing is paid beforehand, at 8 three bars are.
    let both = |one, other| vec![at(Some(0), one, 1), at(Some(1), other, 1)];
    assert_eq!(of(both("0", "25"), "0"), trusted);
    assert_eq!(of(both("0", "24"), "0"), proven("0"));
}
