//! Mixes of bars in order of cost: which could still hold everything?
//!
//! A mix is affordable bars of each kind; refutations are linear inequalities on it. Between the
//! bound and the best plan there are few costs, and at each cost often few mixes that no refutation
//! touches. They are listed depth first; at each step what the money left can still buy is bounded,
//! for each refutation, by the kind that holds most for its cost.

use super::instance::Instance;
use super::refutation::{Mix, Refutation};

/// Kinds of one level in the order in which they are decided.
pub(crate) struct Mixes<'a> {
    instance: &'a Instance,
    /// Bars of each kind at the most: never more than there are pieces, packs made whole.
    most: Vec<u32>,
    /// Kinds that cost something, those with the fewest possible numbers last.
    order: Vec<usize>,
    /// Kinds without cost are always taken in full.
    base: Mix,
    /// Where in each kind's range to look first.
    centre: Vec<f64>,
}

/// What the receiver of a mix wants next.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Next {
    /// Go on with the next mix.
    GoOn,
    /// Enough.
    Stop,
}

/// How a listing ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Listed {
    /// Every mix of this cost was handed over or refuted.
    All,
    /// The receiver stopped it.
    Stopped,
    /// More steps than allowed.
    TooMany,
}

impl<'a> Mixes<'a> {
    /// `bars` limits the bars of each kind further, to `None` or a number; `centre` is where the
    /// linear program would have each kind.
    pub fn new(instance: &'a Instance, bars: &[Option<u32>], centre: Vec<f64>) -> Self {
        let pieces = u32::try_from(instance.whole().pieces()).unwrap_or(u32::MAX);
        let most: Vec<u32> = instance
            .kinds
            .iter()
            .zip(bars)
            .map(|(kind, &bars)| {
                let most = bars.unwrap_or(u32::MAX).min(pieces);
                // Whole packs may bring more bars than are cut.
                let packs = most.div_ceil(kind.pack.max(1)).saturating_mul(kind.pack);
                bars.map_or(packs, |bars| packs.min(bars))
            })
            .collect();
        let base = instance
            .kinds
            .iter()
            .zip(&most)
            .map(|(kind, &most)| if kind.cost == 0 { most } else { 0 })
            .collect();
        let mut order: Vec<usize> = instance
            .kinds
            .iter()
            .zip(&most)
            .enumerate()
            .filter(|(_, (kind, most))| kind.cost > 0 && **most > 0)
            .map(|(place, _)| place)
            .collect();
        // The last kind is given by what is left; the cheapest sale leaves the least unspent.
        order.sort_by_key(|&place| {
            instance.kinds.get(place).map(|kind| {
                std::cmp::Reverse((i128::from(kind.cost) * i128::from(kind.pack), place))
            })
        });
        Mixes {
            instance,
            most,
            order,
            base,
            centre,
        }
    }

    /// Hands over every mix of exactly this cost that none of the refutations refutes. The receiver
    /// may add refutations; they count at once.
    pub fn at_cost(
        &self,
        cost: i128,
        refutations: &mut Vec<Refutation>,
        steps: &mut u64,
        receive: &mut dyn FnMut(&Mix, &mut Vec<Refutation>) -> Next,
    ) -> Listed {
        let mut listing = Listing {
            mixes: self,
            refutations,
            steps,
            receive,
        };
        let mut mix = self.base.clone();
        listing.decide(0, cost, &mut mix)
    }

    /// What one sale of a kind costs.
    fn sale(&self, kind: usize) -> i128 {
        self.instance
            .kinds
            .get(kind)
            .map_or(1, |kind| i128::from(kind.cost) * i128::from(kind.pack))
    }

    fn pack(&self, kind: usize) -> u32 {
        self.instance.kinds.get(kind).map_or(1, |kind| kind.pack)
    }
}

struct Listing<'l, 'a> {
    mixes: &'l Mixes<'a>,
    refutations: &'l mut Vec<Refutation>,
    /// Steps that are left.
    steps: &'l mut u64,
    receive: &'l mut dyn FnMut(&Mix, &mut Vec<Refutation>) -> Next,
}

impl Listing<'_, '_> {
    fn decide(&mut self, at: usize, budget: i128, mix: &mut Mix) -> Listed {
        if *self.steps == 0 {
            return Listed::TooMany;
        }
        *self.steps -= 1;
        if self.is_refuted(at, budget, mix) {
            return Listed::All;
        }
        let Some(&kind) = self.mixes.order.get(at) else {
            return self.hand_over(budget, mix);
        };
        let sale = self.mixes.sale(kind);
        let most = self.mixes.most.get(kind).copied().unwrap_or(0) / self.mixes.pack(kind);
        let affordable = u32::try_from(budget / sale).unwrap_or(u32::MAX).min(most);
        let last = at + 1 == self.mixes.order.len();
        let candidates: Vec<u32> = if last {
            // The last kind must use up the budget.
            let exact = u32::try_from(budget / sale)
                .ok()
                .filter(|&sales| sales <= most && budget % sale == 0);
            exact.into_iter().collect()
        } else {
            self.from_the_centre(kind, affordable)
        };
        for sales in candidates {
            if let Some(bars) = mix.get_mut(kind) {
                *bars = sales.saturating_mul(self.mixes.pack(kind));
            }
            let listed = self.decide(at + 1, budget - sale * i128::from(sales), mix);
            if listed != Listed::All {
                return listed;
            }
        }
        if let Some(bars) = mix.get_mut(kind) {
            *bars = 0;
        }
        Listed::All
    }

    fn hand_over(&mut self, budget: i128, mix: &Mix) -> Listed {
        if budget != 0 {
            return Listed::All; // cheaper than this level: another level's business
        }
        match (self.receive)(mix, self.refutations) {
            Next::GoOn => Listed::All,
            Next::Stop => Listed::Stopped,
        }
    }

    /// Numbers from 0 to `most`, the nearest to where the linear program has them first.
    fn from_the_centre(&self, kind: usize, most: u32) -> Vec<u32> {
        let pack = f64::from(self.mixes.pack(kind));
        let centre = self.mixes.centre.get(kind).copied().unwrap_or(0.0) / pack;
        let mut numbers: Vec<u32> = (0..=most).collect();
        numbers.sort_by(|&a, &b| {
            (f64::from(a) - centre)
                .abs()
                .total_cmp(&(f64::from(b) - centre).abs())
        });
        numbers
    }

    /// Whether a refutation holds whatever the rest of the budget buys.
    fn is_refuted(&mut self, at: usize, budget: i128, mix: &Mix) -> bool {
        let open = self.mixes.order.get(at..).unwrap_or(&[]);
        let found = self.refutations.iter().rposition(|refutation| {
            let short = refutation.shortfall(mix);
            short > 0 && short > self.at_most_bought(refutation, open, budget)
        });
        // What refuted this mix is likely to refute the next: looked at first from the back.
        if let Some(found) = found
            && found + 1 < self.refutations.len()
        {
            let last = self.refutations.len() - 1;
            self.refutations.swap(found, last);
        }
        found.is_some()
    }

    /// The most that the budget can add to what a mix holds in these prices.
    fn at_most_bought(&self, refutation: &Refutation, open: &[usize], budget: i128) -> i128 {
        open.iter()
            .map(|&kind| {
                let most = refutation.most.get(kind).copied().unwrap_or(0);
                let pack = self.mixes.pack(kind);
                budget * i128::from(most) * i128::from(pack) / self.mixes.sale(kind).max(1)
            })
            .max()
            .unwrap_or(0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::instance::{Item, Kind};

    fn instance(costs: &[(i64, u32, Option<u32>)]) -> Instance {
        let kind = |&(cost, pack, available): &(i64, u32, Option<u32>)| Kind {
            capacity: 10,
            cost,
            available,
            pack,
            tie: 0,
        };
        Instance {
            items: vec![Item {
                size: 1,
                demand: 40,
            }],
            kinds: costs.iter().map(kind).collect(),
        }
    }

    fn all_at(instance: &Instance, cost: i128, refutations: &mut Vec<Refutation>) -> Vec<Mix> {
        let bars: Vec<Option<u32>> = instance.kinds.iter().map(|kind| kind.available).collect();
        let mut found = Vec::new();
        let listed = Mixes::new(instance, &bars, vec![0.0; bars.len()]).at_cost(
            cost,
            refutations,
            &mut 10_000,
            &mut |mix, _| {
                found.push(mix.clone());
                Next::GoOn
            },
        );
        assert_eq!(listed, Listed::All);
        found.sort();
        found
    }

    #[test]
    fn every_mix_of_a_cost_once() {
        let two = instance(&[(3, 1, None), (2, 1, None), (0, 1, Some(2))]);
        assert_eq!(
            all_at(&two, 12, &mut vec![]),
            vec![vec![0, 6, 2], vec![2, 3, 2], vec![4, 0, 2]]
        );
        let packs = instance(&[(3, 2, None), (2, 1, Some(4))]);
        assert_eq!(
            all_at(&packs, 12, &mut vec![]),
            vec![vec![2, 3], vec![4, 0]]
        );
    }

    #[test]
    fn refuted_mixes_are_passed_over() {
        let two = instance(&[(3, 1, None), (2, 1, None)]);
        let mut refutations = vec![Refutation {
            prices: vec![1],
            total: 10,
            most: vec![2, 2],
        }];
        assert_eq!(
            all_at(&two, 12, &mut refutations),
            vec![vec![0, 6], vec![2, 3]]
        );
    }
}
