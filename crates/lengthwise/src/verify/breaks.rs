//! Price breaks, worked out from the rows once more, and the combinations of a certificate: that they cover
//! every choice of prices, and that each proves its bound.

use super::facts::{Facts, Kind, nm};
use super::proof::{Proven, Recheck, conclude};
use super::refusal::Breach;
use super::{Claim, MaterialVerified};
use crate::job::{Bar, Sold, Supply};
use crate::plan::{Combination, Cutting, Proof, Value};
use crate::price::Price;

/// Nanometres in a metre.
const NM_PER_METRE: i128 = 1_000_000_000;
/// Most combinations that are compared with each other in looking for a choice that none covers.
const MOST_COMPARED: usize = 20_000_000;

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
    cut: &[u64],
    verified: &mut MaterialVerified,
) -> Result<(), Breach> {
    let combinations = &cutting.certificate.combinations;
    for (place, combination) in combinations.iter().enumerate() {
        check_prices(facts, combination).ok_or(Breach::CombinationPrices { place })?;
        if cutting.bound > Value::Money(combination.bound) {
            return Err(Breach::CombinationBelowBound {
                place,
                plan: cutting.bound,
                bound: combination.bound,
            });
        }
    }
    check_cover(facts, combinations)?;
    let (mut bound, mut hand) = (Proven::Nothing, Proven::Nothing);
    for (place, combination) in combinations.iter().enumerate() {
        let at = |breach| Breach::Combination {
            place,
            breach: Box::new(breach),
        };
        let both = check_combination(facts, cutting, combination, cut).map_err(at)?;
        bound = bound.with(both.0);
        hand = hand.with(both.1);
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

/// Whether a combination names prices that there are, for each kind of bar with several and no other.
fn check_prices(facts: &Facts<'_>, combination: &Combination) -> Option<()> {
    let Combination {
        prices,
        certificate,
        ..
    } = combination;
    if prices.len() != facts.kinds.len() || !certificate.combinations.is_empty() {
        return None;
    }
    let mut chosen = facts.kinds.iter().zip(prices);
    let is_there = |(kind, chosen): (&Kind, &Option<usize>)| {
        chosen.is_none_or(|place| kind.tiers.iter().any(|tier| tier.place == place))
    };
    chosen.all(is_there).then_some(())
}

/// Looks for a choice of prices that no combination covers.
fn check_cover(facts: &Facts<'_>, combinations: &[Combination]) -> Result<(), Breach> {
    let mut cover = Cover {
        facts,
        prices: vec![None; facts.kinds.len()],
        left: MOST_COMPARED,
    };
    let all: Vec<&Combination> = combinations.iter().collect();
    if cover.is_whole(0, &all) {
        Ok(())
    } else {
        Err(Breach::CombinationMissing {
            prices: cover.prices,
        })
    }
}

struct Cover<'c> {
    facts: &'c Facts<'c>,
    /// The choice that is looked at.
    prices: Vec<Option<usize>>,
    left: usize,
}

impl Cover<'_> {
    /// Whether these, all that cover what was chosen for the kinds before, cover every choice for the
    /// others. Where that takes too long, they are taken not to.
    fn is_whole(&mut self, kind: usize, left: &[&Combination]) -> bool {
        let Some(enough) = self.left.checked_sub(left.len()) else {
            return false;
        };
        self.left = enough;
        let is_open = |combination: &&&Combination| {
            let rest = combination.prices.iter().skip(kind);
            rest.copied().all(|price| price.is_none())
        };
        if left.iter().any(|combination| is_open(&combination)) {
            return true;
        }
        let Some(tiers) = self.facts.kinds.get(kind).map(|kind| kind.tiers.as_slice()) else {
            return false;
        };
        if left.is_empty() {
            return false;
        }
        if tiers.len() < 2 {
            return self.is_whole(kind + 1, left);
        }
        for tier in tiers {
            let covers = |combination: &&&Combination| {
                let chosen = combination.prices.get(kind).copied().flatten();
                chosen.is_none_or(|place| place == tier.place)
            };
            let covering: Vec<&Combination> = left.iter().filter(covers).copied().collect();
            if let Some(price) = self.prices.get_mut(kind) {
                *price = Some(tier.place);
            }
            if !self.is_whole(kind + 1, &covering) {
                return false;
            }
        }
        if let Some(price) = self.prices.get_mut(kind) {
            *price = None;
        }
        true
    }
}

/// What one combination proves of its bound, and of the length from hand.
fn check_combination(
    facts: &Facts<'_>,
    cutting: &Cutting,
    combination: &Combination,
    cut: &[u64],
) -> Result<(Proven, Proven), Breach> {
    let (at, beforehand) = facts.at_prices(&combination.prices)?;
    let bound = facts.units(Value::Money(combination.bound))?;
    let value = facts.units(cutting.value)?;
    let rest = bound.saturating_sub(beforehand).max(0);
    let plan = facts.cost_at(&combination.prices, cut)?;
    // The plan's bars among the kinds of the combination: those paid for are as long as the others.
    let mut cut = cut.to_vec();
    cut.resize(at.kinds.len(), 0);
    let Some(mut recheck) = Recheck::of(&at, &combination.certificate, &cut)? else {
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
        recheck.hand(value - beforehand, cutting.figures.hand_cut_into)?
    } else {
        Proven::by_prices(beforehand)
    };
    Ok((proven, hand))
}
