//! Mixes of bars in a range of costs: which could still hold everything?
//!
//! A mix is a number of bars of each kind; refutations are linear inequalities on it. Between the
//! bound and the best plan there are often few mixes that no refutation touches. They are listed
//! depth first; at each step what the money left can still buy is bounded, for each refutation, by the
//! kind that holds most for its cost.

use super::instance::Instance;
use super::refutation::{Mix, Refutation};

/// The mixes of an instance.
pub(crate) struct Mixes {
    /// Kinds that cost something, the dearest sale first.
    order: Vec<Sale>,
    /// Kinds without cost are always taken in full.
    base: Mix,
}

/// What a kind is bought by.
#[derive(Clone, Copy, Debug)]
struct Sale {
    kind: usize,
    cost: i128,
    bars: u32,
    /// Sales at the most: never more bars than there are pieces, packs made whole.
    most: u32,
    /// Bars at the most, where the last sale may bring more than can be had.
    most_bars: u32,
    /// Where to look first.
    centre: u32,
}

/// How a listing ended: with every mix, or with some of too many.
pub(crate) struct Listed {
    /// Mixes with their cost, the cheapest first.
    pub mixes: Vec<(i128, Mix)>,
    pub complete: bool,
}

impl Mixes {
    /// `bars` limits the bars of each kind, to `None` or a number; mixes near `centre` come first
    /// where not all can be listed.
    pub fn new(instance: &Instance, bars: &[Option<u32>], centre: &[f64]) -> Self {
        let pieces = u32::try_from(instance.whole().pieces()).unwrap_or(u32::MAX);
        let mut base = vec![0; instance.kinds.len()];
        let mut order = Vec::new();
        for (place, (kind, &bars)) in instance.kinds.iter().zip(bars).enumerate() {
            let most_bars = bars
                .unwrap_or(u32::MAX)
                .min(pieces.div_ceil(kind.pack).saturating_mul(kind.pack));
            let cost = i128::from(kind.cost) * i128::from(kind.pack);
            if cost > 0 {
                let most = most_bars.div_ceil(kind.pack);
                // `as` saturates; the centre is a guide only.
                let near = centre.get(place).copied().unwrap_or(0.0) / f64::from(kind.pack);
                order.push(Sale {
                    kind: place,
                    cost,
                    bars: kind.pack,
                    most,
                    most_bars,
                    centre: near.round() as u32,
                });
            } else if let Some(base) = base.get_mut(place) {
                *base = most_bars;
            }
        }
        order.sort_by_key(|sale| (std::cmp::Reverse(sale.cost), sale.kind));
        Mixes { order, base }
    }

    /// Lists the mixes that cost at least `from` and less than `below` and that no refutation
    /// refutes; at most `most` of them, in at most `steps` steps, which are counted down.
    pub fn list(
        &self,
        from: i128,
        below: i128,
        refutations: &[Refutation],
        most: usize,
        steps: &mut u64,
    ) -> Listed {
        let best_ratio = refutations
            .iter()
            .map(|refutation| self.best_ratios(refutation))
            .collect();
        let mut listing = Listing {
            mixes: self,
            refutations,
            best_ratio,
            from,
            below,
            most,
            steps,
            found: Vec::new(),
            last_hit: 0,
        };
        let complete = listing.decide(0, 0, &mut self.base.clone());
        let mut mixes = listing.found;
        mixes.sort();
        Listed { mixes, complete }
    }

    /// For every suffix of the order, what the best kind holds and costs, in these prices.
    fn best_ratios(&self, refutation: &Refutation) -> Vec<(i128, i128)> {
        let mut best = (0_i128, 1_i128);
        let mut ratios = vec![best];
        for sale in self.order.iter().rev() {
            let most = refutation.most.get(sale.kind).copied().unwrap_or(0);
            let holds = i128::from(most) * i128::from(sale.bars);
            if holds * best.1 > best.0 * sale.cost {
                best = (holds, sale.cost);
            }
            ratios.push(best);
        }
        ratios.reverse();
        ratios
    }
}

struct Listing<'l> {
    mixes: &'l Mixes,
    refutations: &'l [Refutation],
    best_ratio: Vec<Vec<(i128, i128)>>,
    from: i128,
    below: i128,
    most: usize,
    steps: &'l mut u64,
    found: Vec<(i128, Mix)>,
    /// The refutation that refuted last is likely to refute the next.
    last_hit: usize,
}

impl Listing<'_> {
    /// False when there are too many.
    fn decide(&mut self, at: usize, spent: i128, mix: &mut Mix) -> bool {
        if *self.steps == 0 || self.found.len() >= self.most {
            return false;
        }
        *self.steps -= 1;
        let budget = self.below - 1 - spent;
        if budget < 0 || self.is_refuted(at, budget, mix) {
            return true;
        }
        let Some(&sale) = self.mixes.order.get(at) else {
            if spent >= self.from {
                self.found.push((spent, mix.clone()));
            }
            return true;
        };
        let affordable = u32::try_from(budget / sale.cost)
            .unwrap_or(u32::MAX)
            .min(sale.most);
        let last = at + 1 == self.mixes.order.len();
        // With the last kind at least the lower end of the range must be reached.
        let short = (self.from - spent).max(0);
        let least = if last {
            (short + sale.cost - 1) / sale.cost
        } else {
            0
        };
        let least = u32::try_from(least).unwrap_or(u32::MAX);
        let mut go_on = true;
        for sales in outward(sale.centre, least, affordable) {
            if let Some(bars) = mix.get_mut(sale.kind) {
                *bars = sales.saturating_mul(sale.bars).min(sale.most_bars);
            }
            go_on = self.decide(at + 1, spent + sale.cost * i128::from(sales), mix);
            if !go_on {
                break;
            }
        }
        if let Some(bars) = mix.get_mut(sale.kind) {
            *bars = 0;
        }
        go_on
    }

    /// Whether a refutation holds whatever the rest of the budget buys.
    fn is_refuted(&mut self, at: usize, budget: i128, mix: &Mix) -> bool {
        let refutes = |place: usize| {
            let ratio = self.best_ratio.get(place).and_then(|ratios| ratios.get(at));
            let (Some(refutation), Some(&(holds, cost))) = (self.refutations.get(place), ratio)
            else {
                return false;
            };
            // shortfall > budget * holds / cost, without the division
            let short = refutation.shortfall(mix);
            short > 0 && short * cost > budget * holds
        };
        if refutes(self.last_hit) {
            return true;
        }
        let hit = (0..self.refutations.len()).find(|&place| refutes(place));
        self.last_hit = hit.unwrap_or(self.last_hit);
        hit.is_some()
    }
}

/// The numbers from `least` to `most`, those nearest to `centre` first.
fn outward(centre: u32, least: u32, most: u32) -> impl Iterator<Item = u32> {
    let mut above = centre.max(least);
    let mut below = centre.min(most.saturating_add(1)).max(least);
    std::iter::from_fn(move || {
        let up = (above <= most).then_some(above);
        let down = (below > least).then(|| below - 1);
        match (up, down) {
            (Some(up), Some(down)) if centre.abs_diff(down) < centre.abs_diff(up) => {
                below = down;
                Some(down)
            }
            (Some(up), _) => {
                above = up.checked_add(1)?;
                Some(up)
            }
            (None, Some(down)) => {
                below = down;
                Some(down)
            }
            (None, None) => None,
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::instance::{Item, Kind};

    fn instance(costs: &[(i64, u32, Option<u32>)]) -> Instance {
        let kind = |&(cost, pack, available): &(i64, u32, Option<u32>)| Kind {
            run: None,
            batch: 0,
            capacity: 10,
            cost,
            available,
            pack,
            tie: 0,
        };
        Instance {
            apart: Vec::new(),
            runs: Vec::new(),
            windows: 0,
            items: vec![Item {
                size: 1,
                demand: 40,
                batch: None,
            }],
            kinds: costs.iter().map(kind).collect(),
        }
    }

    fn all_at(instance: &Instance, cost: i128, refutations: &[Refutation]) -> Vec<Mix> {
        let bars: Vec<Option<u32>> = instance.kinds.iter().map(|kind| kind.available).collect();
        let listed =
            Mixes::new(instance, &bars, &[]).list(cost, cost + 1, refutations, 1000, &mut 10_000);
        assert!(listed.complete);
        assert!(listed.mixes.iter().all(|(found, _)| *found == cost));
        listed.mixes.into_iter().map(|(_, mix)| mix).collect()
    }

    #[test]
    fn every_mix_of_a_cost_once() {
        let two = instance(&[(3, 1, None), (2, 1, None), (0, 1, Some(2))]);
        assert_eq!(
            all_at(&two, 12, &[]),
            vec![vec![0, 6, 2], vec![2, 3, 2], vec![4, 0, 2]]
        );
        let packs = instance(&[(3, 2, None), (2, 1, Some(4))]);
        assert_eq!(all_at(&packs, 12, &[]), vec![vec![2, 3], vec![4, 0]]);
    }

    #[test]
    fn a_range_of_costs_is_listed_cheapest_first() {
        let two = instance(&[(3, 1, Some(2)), (2, 1, Some(1))]);
        let bars = [Some(2), Some(1)];
        let listed = Mixes::new(&two, &bars, &[]).list(2, 7, &[], 1000, &mut 1000);
        let costs: Vec<i128> = listed.mixes.iter().map(|(cost, _)| *cost).collect();
        assert_eq!(costs, vec![2, 3, 5, 6]);
    }

    #[test]
    fn outward_gives_every_number_once() {
        for (centre, least, most) in [(5, 0, 9), (0, 0, 3), (9, 2, 4), (1, 3, 6), (3, 3, 3)] {
            let numbers: Vec<u32> = outward(centre, least, most).collect();
            let mut sorted = numbers.clone();
            sorted.sort_unstable();
            assert_eq!(sorted, (least..=most).collect::<Vec<u32>>());
            assert!(
                numbers.is_sorted_by_key(|number| centre.abs_diff(*number)),
                "{numbers:?}"
            );
        }
        assert_eq!(outward(3, 4, 2).count(), 0);
    }

    #[test]
    fn refuted_mixes_are_passed_over() {
        let two = instance(&[(3, 1, None), (2, 1, None)]);
        let refutations = [Refutation {
            prices: vec![1],
            total: 10,
            most: vec![2, 2],
        }];
        assert_eq!(all_at(&two, 12, &refutations), vec![vec![0, 6], vec![2, 3]]);
    }
}
