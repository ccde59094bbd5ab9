//! Price breaks, worked out from the rows once more, and the combinations of a certificate: that they cover
//! every choice of prices and of batches for walls, and that each proves its bound.

use super::facts::{Facts, Kind, nm};
use super::impossible::check_impossible;
use super::proof::{Proven, Recheck, conclude};
use super::refusal::Breach;
use super::runs::STEPS_OF_LOOK;
use super::{Claim, MaterialVerified};
use crate::job::{Bar, Material, Piece, Sold, Supply, Wall};
use crate::plan::{Combination, Cutting, Impossible, Least, Proof, Value};
use crate::price::Price;

/// Nanometres in a metre.
const NM_PER_METRE: i128 = 1_000_000_000;
/// Most combinations that are compared with each other in looking for a choice that none covers.
const MOST_COMPARED: usize = 20_000_000;
/// Most places that are chosen for one within another in doing so: more than any search goes down, few
/// enough for the stack of any thread.
const MOST_NESTED: usize = 1_000;
/// Steps for each row of pieces and of bars that are worked out for a combination, and for two runs that are
/// held against each other.
const STEPS_OF_ROW: u64 = 150;
const STEPS_OF_PAIR: u64 = 10;
/// Bytes of text and numbers that are copied in one step.
const BYTES_PER_STEP: usize = 2;

/// A price that a kind of bar can be had at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Tier {
    /// 0 for the price of the row, then its breaks from 1 on.
    pub place: usize,
    /// The least sales it takes.
    pub sales: u64,
    pub price: Price,
    /// What one sale costs, in the units of [`Facts`].
    pub sale: i128,
}

/// The prices of a kind of bar with breaks: those that can be had and that no other holds from as few sales
/// and undercuts. Takes what its breaks cost from `lower`.
pub(super) fn tiers<'a>(
    bar: &Bar,
    kind: &Kind,
    lower: &mut impl Iterator<Item = &'a i128>,
) -> Vec<Tier> {
    let Supply::Bought {
        price: Some(price),
        sold,
        ..
    } = bar.supply()
    else {
        return Vec::new();
    };
    if bar.breaks().is_empty() {
        return Vec::new();
    }
    let whole = |count: u64| match sold {
        Sold::PerMetre => {
            let metres = i128::from(count) * NM_PER_METRE;
            let bar = nm(bar.length()).max(1);
            u64::try_from((metres + bar - 1) / bar).unwrap_or(u64::MAX)
        }
        Sold::Each | Sold::Pack(_) => count,
    };
    let there = kind.available.map(|bars| bars / kind.per_sale.max(1));
    let first = Tier {
        place: 0,
        sales: 0,
        price,
        sale: kind.sale,
    };
    let breaks = bar.breaks().iter().zip(lower).enumerate();
    let breaks = breaks.map(|(place, (at, &sale))| Tier {
        place: place + 1,
        sales: Some(whole(at.from)).filter(|&sales| sales > 1).unwrap_or(0),
        price: at.price,
        sale,
    });
    let all: Vec<Tier> = [first]
        .into_iter()
        .chain(breaks)
        .filter(|tier| there.is_none_or(|there| tier.sales <= there))
        .collect();
    let is_undercut = |tier: &Tier| {
        let mut others = all.iter();
        others.any(|other| other.place > tier.place && other.sales <= tier.sales)
    };
    all.iter()
        .copied()
        .filter(|tier| !is_undercut(tier))
        .collect()
}

impl Kind {
    /// The price that holds for so many sales; `None` without price breaks.
    pub fn tier_of(&self, sales: u64) -> Option<&Tier> {
        self.tiers.iter().rfind(|tier| tier.sales <= sales)
    }

    /// What so many sales cost.
    pub fn cost_of(&self, sales: u64) -> Result<i128, Breach> {
        let sale = self.tier_of(sales).map_or(self.sale, |tier| tier.sale);
        sale.checked_mul(i128::from(sales)).ok_or(Breach::TooLarge)
    }

    /// The fewest sales of those that bring so many bars at the least cost, and that cost.
    pub fn cheapest(&self, bars: u64) -> Result<(u64, i128), Breach> {
        let needed = bars.div_ceil(self.per_sale.max(1));
        let mut best = (needed, self.cost_of(needed)?);
        let more = self.tiers.iter().filter(|tier| tier.sales > needed);
        for tier in more.filter(|_| needed > 0) {
            let cost = self.cost_of(tier.sales)?;
            if cost < best.1 {
                best = (tier.sales, cost);
            }
        }
        Ok(best)
    }

    fn has_breaks(&self) -> bool {
        self.tiers.last().is_some_and(|tier| tier.place > 0)
    }
}

impl<'a> Facts<'a> {
    /// Whether any kind of bar can be had at another price than the first of its row.
    pub fn have_breaks(&self) -> bool {
        self.kinds.iter().any(Kind::has_breaks)
    }

    /// The ordinary problem at a choice of prices, and what is paid before its first bar.
    fn at_prices(&self, prices: &[Option<usize>]) -> Result<(Facts<'a>, i128), Breach> {
        let mut facts = self.clone();
        let mut beforehand = 0_i128;
        let mut paid_for = Vec::new();
        for (kind, chosen) in facts.kinds.iter_mut().zip(prices) {
            let tiers = std::mem::take(&mut kind.tiers);
            let tier = match chosen {
                Some(place) => tiers.iter().find(|tier| tier.place == *place),
                None => tiers.last(),
            };
            let Some(tier) = tier else {
                continue; // one price
            };
            kind.sale = tier.sale;
            if chosen.is_none() || tier.sales == 0 {
                continue;
            }
            let paid = tier.sale.checked_mul(i128::from(tier.sales));
            beforehand = paid
                .and_then(|paid| beforehand.checked_add(paid))
                .ok_or(Breach::TooLarge)?;
            let bars = tier
                .sales
                .checked_mul(kind.per_sale)
                .ok_or(Breach::TooLarge)?;
            kind.available = kind.available.map(|there| there.saturating_sub(bars));
            paid_for.push(Kind {
                sale: 0,
                available: Some(bars),
                ..kind.clone()
            });
        }
        facts.kinds.append(&mut paid_for);
        Ok((facts, beforehand))
    }

    /// What so many bars of each kind cost at a choice of prices, without what is paid beforehand.
    fn cost_at(&self, prices: &[Option<usize>], cut: &[u64]) -> Result<i128, Breach> {
        let mut cost = 0_i128;
        for ((kind, chosen), &cut) in self.kinds.iter().zip(prices).zip(cut) {
            let sales = cut.div_ceil(kind.per_sale.max(1));
            let tier = match chosen {
                Some(place) => kind.tiers.iter().find(|tier| tier.place == *place),
                None => kind.tiers.last(),
            };
            let (sale, paid_for) = tier.map_or((kind.sale, 0), |tier| {
                (tier.sale, if chosen.is_some() { tier.sales } else { 0 })
            });
            cost = sale
                .checked_mul(i128::from(sales.saturating_sub(paid_for)))
                .and_then(|more| cost.checked_add(more))
                .ok_or(Breach::TooLarge)?;
        }
        Ok(cost)
    }
}

/// Checks the combinations of a plan, the bound that they make together, and what is claimed on its
/// strength.
pub(super) fn check_combinations(
    facts: &Facts<'_>,
    cutting: &Cutting,
    (cut, batches): (&[u64], &[Option<usize>]),
    verified: &mut MaterialVerified,
) -> Result<(), Breach> {
    let combinations = &cutting.certificate.combinations;
    let walls = facts.material.open_walls();
    for (place, combination) in combinations.iter().enumerate() {
        check_chosen(facts, &walls, combination).ok_or(Breach::CombinationPrices { place })?;
        if let Least::AtLeast(bound) = combination.least {
            facts
                .units(bound)
                .map_err(|breach| of_combination(place, breach))?;
            if cutting.bound > bound {
                return Err(Breach::CombinationBelowBound {
                    place,
                    plan: cutting.bound,
                    bound,
                });
            }
        }
    }
    let (mut bound, mut hand) = (Proven::Nothing, Proven::Nothing);
    let steps = steps_of_facts(facts, &walls);
    if !check_cover(facts, &walls, combinations)? {
        (bound, hand) = (Proven::OUT_OF_REACH, Proven::OUT_OF_REACH);
    }
    for (place, combination) in combinations.iter().enumerate() {
        let at = |breach| of_combination(place, breach);
        let chosen = combination.walls.iter().zip(batches);
        let is_plans_own = chosen
            .clone()
            .all(|(chosen, batch)| chosen.is_none() || chosen == batch);
        if facts.work.take(steps).is_none() {
            (bound, hand) = (
                bound.with(Proven::OUT_OF_REACH),
                hand.with(Proven::OUT_OF_REACH),
            );
            continue;
        }
        // Without walls it is the same material.
        let material =
            (!walls.is_empty()).then(|| facts.material.with_walls(&walls, &combination.walls));
        let bound_facts = material.as_ref().map(|material| {
            let of_walls = Facts::of(material).map_err(at);
            of_walls.map(|of_walls| of_walls.sharing(&facts.work))
        });
        let bound_facts = bound_facts.transpose()?;
        let bound_facts = bound_facts.as_ref().unwrap_or(facts);
        match &combination.least {
            Least::NoPlan(_) if is_plans_own => return Err(Breach::CombinationHasPlan { place }),
            Least::NoPlan(why) if !is_of_bars(why) => {
                return Err(at(Breach::ReasonOfCombination));
            }
            Least::NoPlan(why) => {
                let without_breaks = bound_facts.at_prices(&combination.prices).map_err(at)?.0;
                if let Err(trust) = check_impossible(&without_breaks, why).map_err(at)? {
                    verified.on_trust.push(trust);
                    // Where there is a plan after all, it may be the better one.
                    bound = bound.with(Proven::OUT_OF_REACH);
                    hand = hand.with(Proven::OUT_OF_REACH);
                }
            }
            Least::AtLeast(least) => {
                let own = is_plans_own.then_some(cut);
                let both = check_combination(bound_facts, cutting, (combination, *least), own);
                let both = both.map_err(at)?;
                bound = bound.with(both.0);
                hand = hand.with(both.1);
            }
        }
    }
    let is_optimal = cutting.proof == Proof::Optimal;
    verified.bound = match &bound {
        Proven::Bound { by_prices, .. } => by_prices.map(|units| facts.value(units)).transpose()?,
        Proven::Nothing => None,
    };
    let claim = if is_optimal {
        Claim::Optimal
    } else {
        Claim::Bound
    };
    conclude(verified, claim, &bound);
    if cutting.hand_proof == Proof::Optimal {
        conclude(verified, Claim::LeastFromHand, &hand);
    }
    Ok(())
}

/// Whether a choice of prices and batches can be why: all others hold of the material, or of all choices.
fn is_of_bars(why: &Impossible) -> bool {
    matches!(
        why,
        Impossible::PieceTooLong { .. }
            | Impossible::NotEnoughLength { .. }
            | Impossible::NotEnoughBars { .. }
    )
}

fn of_combination(place: usize, breach: Breach) -> Breach {
    Breach::Combination {
        place,
        breach: Box::new(breach),
    }
}

/// Steps that it takes to work out the facts of a material for a combination: all of them with walls, only
/// what has a price without.
fn steps_of_facts(facts: &Facts<'_>, walls: &[Wall]) -> u64 {
    let pieces = facts.material.pieces();
    let runs = pieces.iter().filter(|piece| piece.run().is_some()).count();
    if walls.is_empty() {
        let rows = facts.kinds.len().saturating_add(runs);
        return u64::try_from(rows).map_or(u64::MAX, |rows| rows.saturating_mul(STEPS_OF_ROW));
    }
    let rows = pieces.len().saturating_add(facts.kinds.len());
    let pairs = runs.saturating_mul(facts.runs.len());
    let looks = facts.runs.iter().map(|alike| alike.parting.looks());
    let looks = looks.fold(0, usize::saturating_add);
    let steps = [
        (rows, STEPS_OF_ROW),
        (pairs, STEPS_OF_PAIR),
        (looks, STEPS_OF_LOOK),
        (bytes_of(facts.material) / BYTES_PER_STEP, 1),
    ];
    let steps = steps.map(|(times, steps)| {
        u64::try_from(times)
            .unwrap_or(u64::MAX)
            .saturating_mul(steps)
    });
    steps.into_iter().fold(0, u64::saturating_add)
}

/// About how many bytes of texts and lists a copy of a material has.
fn bytes_of(material: &Material) -> usize {
    let of_piece = |piece: &Piece| {
        let texts = [piece.mark(), piece.wall(), piece.note()];
        texts.iter().map(|text| text.len()).sum::<usize>()
    };
    let places = |piece: &Piece| {
        let run = piece.run();
        run.and_then(|run| run.joints().count(piece.opening()))
    };
    let joints = material.pieces().iter().filter_map(places);
    let joints = joints.fold(0, u64::saturating_add);
    let laid = material
        .course_groups()
        .iter()
        .flat_map(|group| group.laid());
    let laid: usize = laid.map(|laid| laid.joints.len() + 4).sum();
    let pieces: usize = material.pieces().iter().map(of_piece).sum();
    let bars: usize = material.bars().iter().map(|bar| bar.note().len()).sum();
    let numbers = usize::try_from(joints)
        .unwrap_or(usize::MAX)
        .saturating_add(laid);
    numbers.saturating_mul(8).saturating_add(pieces + bars)
}

/// Whether a combination names prices and batches that there are, for each kind of bar with several prices
/// and each wall, and no other.
fn check_chosen(facts: &Facts<'_>, walls: &[Wall], combination: &Combination) -> Option<()> {
    let Combination {
        prices,
        certificate,
        walls: batches,
        ..
    } = combination;
    let fit = prices.len() == facts.kinds.len() && batches.len() == walls.len();
    let there = facts.material.batches().len();
    let mut named = batches.iter().flatten();
    if !fit || named.any(|&batch| batch >= there) || !certificate.combinations.is_empty() {
        return None;
    }
    let mut chosen = facts.kinds.iter().zip(prices);
    let is_there = |(kind, chosen): (&Kind, &Option<usize>)| {
        chosen.is_none_or(|place| kind.tiers.iter().any(|tier| tier.place == place))
    };
    chosen.all(is_there).then_some(())
}

/// Looks for a choice that no combination covers; false where there are too many to look through.
fn check_cover(
    facts: &Facts<'_>,
    walls: &[Wall],
    combinations: &[Combination],
) -> Result<bool, Breach> {
    let of_kinds = facts.kinds.iter();
    let of_kinds = of_kinds.map(|kind| kind.tiers.iter().map(|tier| tier.place).collect());
    let kinds = facts.kinds.len();
    let batches = (0..facts.material.batches().len()).collect();
    let mut cover = Cover::new(of_kinds.collect(), batches, walls.len());
    let all = combinations
        .iter()
        .map(|combination| cover.named(&combination.prices, &combination.walls));
    let all: Vec<Named<'_>> = all.collect();
    let all: Vec<&Named<'_>> = all.iter().collect();
    if cover.is_whole(0, 0, &all) {
        return Ok(true);
    }
    if cover.has_given_up {
        return Ok(false);
    }
    let walls = cover.chosen.split_off(kinds);
    Err(Breach::CombinationMissing {
        prices: cover.chosen,
        walls,
    })
}

/// What a combination names, the places counted through prices and walls.
struct Named<'c> {
    prices: &'c [Option<usize>],
    walls: &'c [Option<usize>],
    /// The places at which it names one of several ways, in order.
    places: Vec<usize>,
}

impl Named<'_> {
    fn at(&self, place: usize) -> Option<usize> {
        let wall = || self.walls.get(place.checked_sub(self.prices.len())?);
        self.prices.get(place).or_else(wall).copied().flatten()
    }

    /// The next place from one on at which it names a way.
    fn next(&self, place: usize) -> Option<usize> {
        let before = self.places.partition_point(|&at| at < place);
        self.places.get(before).copied()
    }
}

struct Cover {
    /// The prices of each kind of bar.
    prices: Vec<Vec<usize>>,
    /// What there is for each wall.
    batches: Vec<usize>,
    /// The choice that is looked at.
    chosen: Vec<Option<usize>>,
    left: usize,
    has_given_up: bool,
}

impl Cover {
    fn new(prices: Vec<Vec<usize>>, batches: Vec<usize>, walls: usize) -> Cover {
        Cover {
            chosen: vec![None; prices.len() + walls],
            prices,
            batches,
            left: MOST_COMPARED,
            has_given_up: false,
        }
    }

    fn ways(&self, place: usize) -> &[usize] {
        self.prices.get(place).unwrap_or(&self.batches)
    }

    fn named<'c>(&self, prices: &'c [Option<usize>], walls: &'c [Option<usize>]) -> Named<'c> {
        let all = prices.iter().chain(walls).enumerate();
        let all = all.filter(|(place, way)| way.is_some() && self.ways(*place).len() > 1);
        Named {
            prices,
            walls,
            places: all.map(|(place, _)| place).collect(),
        }
    }

    /// Whether these, all that cover what was chosen before a place, cover every choice from there on.
    /// Where that takes too long or goes too deep, it gives up.
    fn is_whole(&mut self, place: usize, depth: usize, left: &[&Named<'_>]) -> bool {
        // Each call counts, also one that is left without any.
        let enough = self.left.checked_sub(left.len() + 1);
        let Some(enough) = enough.filter(|_| depth <= MOST_NESTED) else {
            self.has_given_up = true;
            return false;
        };
        self.left = enough;
        if left.iter().any(|named| named.next(place).is_none()) {
            return true;
        }
        let Some(place) = left.iter().filter_map(|named| named.next(place)).min() else {
            return false;
        };
        for way in self.ways(place).to_vec() {
            let covers = |named: &&&Named<'_>| named.at(place).is_none_or(|named| named == way);
            let covering: Vec<&Named<'_>> = left.iter().filter(covers).copied().collect();
            if let Some(chosen) = self.chosen.get_mut(place) {
                *chosen = Some(way);
            }
            if !self.is_whole(place + 1, depth + 1, &covering) {
                return false;
            }
        }
        if let Some(chosen) = self.chosen.get_mut(place) {
            *chosen = None;
        }
        true
    }
}

/// Whether some kind of bar may be had at any of several prices.
fn leaves_open(facts: &Facts<'_>, prices: &[Option<usize>]) -> bool {
    let mut chosen = facts.kinds.iter().zip(prices);
    chosen.any(|(kind, chosen)| chosen.is_none() && kind.tiers.len() > 1)
}

/// What one combination proves of its bound, and of the length from hand. `cut` counts the bars of the plan
/// where it is one of those that are covered.
fn check_combination(
    facts: &Facts<'_>,
    cutting: &Cutting,
    (combination, least): (&Combination, Value),
    cut: Option<&[u64]>,
) -> Result<(Proven, Proven), Breach> {
    let (at, beforehand) = facts.at_prices(&combination.prices)?;
    let bound = facts.units(least)?;
    let value = facts.units(cutting.value)?;
    let rest = bound.saturating_sub(beforehand).max(0);
    let plan = cut.map(|cut| facts.cost_at(&combination.prices, cut));
    let plan = plan.transpose()?.unwrap_or(i128::MAX);
    // The plan's bars among the kinds of the combination: those paid for are as long as the others.
    let cut = cut.map(|cut| {
        let mut cut = cut.to_vec();
        cut.resize(at.kinds.len(), 0);
        cut
    });
    let Some(mut recheck) = Recheck::of(&at, &combination.certificate, cut.as_deref())? else {
        let proven = if rest == 0 {
            Proven::by_prices(bound.min(beforehand))
        } else {
            Proven::OUT_OF_REACH
        };
        return Ok((proven, Proven::OUT_OF_REACH));
    };
    let proven = recheck.bound(rest, plan)?.with_more(beforehand);
    let hand = if cutting.hand_proof != Proof::Optimal {
        Proven::Nothing
    } else if bound > value {
        proven.clone()
    } else if value >= beforehand {
        let hand = recheck.hand(value - beforehand, cutting.figures.hand_cut_into)?;
        match leaves_open(facts, &combination.prices) {
            // At the lowest prices a plan may cost less than it does: as much only where none costs less.
            true if bound < value => Proven::OUT_OF_REACH,
            true => hand.with(proven.clone()),
            false => hand,
        }
    } else {
        Proven::by_prices(beforehand)
    };
    Ok((proven, hand))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    /// What is found of combinations of batches for so many walls, of two batches.
    fn found(walls: usize, combinations: &[Vec<Option<usize>>]) -> (bool, Cover) {
        let mut cover = Cover::new(vec![], vec![0, 1], walls);
        let all = combinations.iter().map(|walls| cover.named(&[], walls));
        let all: Vec<Named<'_>> = all.collect();
        let all: Vec<&Named<'_>> = all.iter().collect();
        (cover.is_whole(0, 0, &all), cover)
    }

    /// Every wall of all that come before a place is of the first batch, the one there of the second.
    fn steps(walls: usize) -> Vec<Vec<Option<usize>>> {
        let step = |at: usize| {
            let mut step = vec![None; walls];
            step[..at].fill(Some(0));
            step[at] = Some(1);
            step
        };
        (0..walls).map(step).chain([vec![Some(0); walls]]).collect()
    }

    #[test]
    fn what_is_covered() {
        let all = steps(6);
        assert!(found(6, &all).0);
        for missing in 0..all.len() {
            let mut all = all.clone();
            let gone = all.remove(missing);
            let (is_whole, cover) = found(6, &all);
            assert!(!is_whole && !cover.has_given_up);
            assert_eq!(cover.chosen, gone);
        }
        assert!(found(6, &[vec![None; 6]]).0);
        assert!(!found(6, &[]).0);
    }

    /// As many walls as a forged plan may name: it looks at those that are chosen, and gives up where they
    /// lie too deep within each other, on a stack that holds no call for each.
    #[test]
    fn very_many_walls() {
        const WALLS: usize = 100_000;
        let few = || {
            let mut far = vec![None; WALLS];
            far[WALLS - 1] = Some(1);
            let mut near = far.clone();
            near[WALLS - 1] = Some(0);
            let (is_whole, cover) = found(WALLS, &[near.clone(), far.clone()]);
            assert!(is_whole && MOST_COMPARED - cover.left < 20);
            let (is_whole, cover) = found(WALLS, &[vec![Some(0); WALLS], far]);
            assert!(!is_whole && cover.has_given_up && MOST_COMPARED - cover.left < 10_000);
        };
        let small = std::thread::Builder::new().stack_size(1 << 20);
        small.spawn(few).unwrap().join().unwrap();
    }
}
