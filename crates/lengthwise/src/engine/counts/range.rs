//! A box of mixes, and its relaxation as an instance.

use crate::engine::instance::{Instance, Kind, Pattern};
use crate::engine::pool::Pool;
use crate::engine::refutation::{Mix, Refutation};

/// From the least to the most sales of each kind.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Range {
    pub least: Mix,
    pub most: Mix,
}

impl Range {
    /// No more bars than pieces, packs made whole.
    pub fn whole(instance: &Instance) -> Range {
        let pieces = u32::try_from(instance.whole().pieces()).unwrap_or(u32::MAX);
        let most = instance.kinds.iter().map(|kind| {
            let bars = kind.available.unwrap_or(u32::MAX).min(pieces);
            bars.div_ceil(kind.pack)
        });
        Range {
            least: vec![0; instance.kinds.len()],
            most: most.collect(),
        }
    }

    pub fn of(&self, kind: usize) -> (u32, u32) {
        let at = |mix: &Mix| mix.get(kind).copied().unwrap_or(0);
        (at(&self.least), at(&self.most))
    }

    /// Bars in so many sales.
    pub fn bars(kind: &Kind, sales: u32) -> u32 {
        let bars = sales.saturating_mul(kind.pack);
        bars.min(kind.available.unwrap_or(u32::MAX))
    }

    /// The box as an instance, and what its least sales cost. Kinds come twice: to be paid for, and
    /// given.
    pub fn relaxation(&self, instance: &Instance) -> (Instance, i128) {
        let whole = Range::whole(instance);
        let mut paid = Vec::new();
        let mut given = Vec::new();
        for (place, kind) in instance.kinds.iter().enumerate() {
            let (least, most) = self.of(place);
            let more = Range::bars(kind, most) - Range::bars(kind, least);
            let is_open = kind.available.is_none() && whole.of(place).1 == most;
            paid.push(Kind {
                available: (!is_open).then_some(more),
                tie: 0,
                ..*kind
            });
            let there = Some(Range::bars(kind, least));
            given.push(Kind {
                available: there,
                cost: 0,
                pack: 1,
                tie: 0,
                ..*kind
            });
        }
        paid.append(&mut given);
        (
            Instance {
                kinds: paid,
                ..instance.clone()
            },
            self.least_cost(instance),
        )
    }

    pub fn least_cost(&self, instance: &Instance) -> i128 {
        let costs = instance.kinds.iter().zip(&self.least);
        costs
            .map(|(kind, &least)| sale(kind) * i128::from(least))
            .sum()
    }

    /// Sales of each kind in a fractional optimum of the relaxation.
    pub fn sales(&self, instance: &Instance, counts: &[(Pattern, f64)]) -> Vec<f64> {
        let mut sales: Vec<f64> = self.least.iter().map(|&least| f64::from(least)).collect();
        for (pattern, count) in counts {
            let place = pattern.kind as usize; // u32 into usize
            if let (Some(sales), Some(kind)) = (sales.get_mut(place), instance.kinds.get(place)) {
                *sales += count / f64::from(kind.pack);
            }
        }
        // Kinds without cost are never split: a mix takes all there are.
        for (place, (sales, kind)) in sales.iter_mut().zip(&instance.kinds).enumerate() {
            if kind.cost == 0 {
                *sales = f64::from(self.of(place).1);
            }
        }
        sales
    }

    /// Whole sales as bars, within the box.
    pub fn mix_of(&self, instance: &Instance, sales: &[f64]) -> Mix {
        let bars = instance
            .kinds
            .iter()
            .zip(sales)
            .enumerate()
            .map(|(place, (kind, sales))| {
                let (least, most) = self.of(place);
                // `as` saturates, and the range clamps it.
                Range::bars(kind, (sales.round() as u32).clamp(least, most))
            });
        bars.collect()
    }

    /// Where a mix can be split off; `None` where there is nothing else in the box.
    pub fn beside(&self, mix: &Mix, instance: &Instance) -> Option<(u32, u32)> {
        let kinds = (0_u32..).zip(&instance.kinds).zip(mix);
        let mut paid = kinds.filter(|((_, kind), _)| kind.cost > 0);
        paid.find_map(|((place, kind), &bars)| {
            let sales = bars.div_ceil(kind.pack);
            let (least, most) = self.of(place as usize); // u32 into usize
            if sales > least {
                Some((place, sales - 1))
            } else {
                (sales < most).then_some((place, sales))
            }
        })
    }

    pub fn halves(&self, kind: u32, at: u32) -> [Range; 2] {
        let (mut low, mut high) = (self.clone(), self.clone());
        let place = kind as usize; // u32 into usize
        if let (Some(most), Some(least)) = (low.most.get_mut(place), high.least.get_mut(place)) {
            *most = at;
            *least = at.saturating_add(1);
        }
        [low, high]
    }

    /// Whether no mix of the box that costs less than `beat` holds everything, by these prices alone:
    /// what the money left buys at its best, in fractions, holds too little.
    pub fn is_refuted(&self, instance: &Instance, refutation: &Refutation, beat: i128) -> bool {
        // Costs are multiples of the step, so the most that is less than `beat` is one too.
        let step = instance.cost_step();
        let mut money = (beat - 1) / step * step - self.least_cost(instance);
        if money < 0 {
            return true;
        }
        let mut short = refutation.total;
        let mut buys: Vec<(i128, i128, i128)> = Vec::new();
        for (place, (kind, &holds)) in instance.kinds.iter().zip(&refutation.most).enumerate() {
            let (least, most) = self.of(place);
            let (least, most) = (Range::bars(kind, least), Range::bars(kind, most));
            let cost = i128::from(kind.cost);
            let given = if cost == 0 { most } else { least };
            short -= i128::from(holds) * i128::from(given);
            if cost > 0 && most > least {
                buys.push((i128::from(holds), cost, i128::from(most - least)));
            }
        }
        buys.sort_by(|a, b| (b.0 * a.1).cmp(&(a.0 * b.1)));
        for (holds, cost, bars) in buys {
            if short <= 0 {
                return false;
            }
            if cost * bars >= money {
                return short * cost > holds * money;
            }
            money -= cost * bars;
            short -= holds * bars;
        }
        short > 0
    }
}

fn sale(kind: &Kind) -> i128 {
    i128::from(kind.cost) * i128::from(kind.pack)
}

/// A pattern on a bar that is paid for and on one that is given.
pub(super) fn add_twice(instance: &Instance, pool: &mut Pool, pattern: &Pattern) {
    let Ok(kinds) = u32::try_from(instance.kinds.len()) else {
        return;
    };
    let kind = pattern.kind % kinds.max(1);
    for kind in [kind, kind + kinds] {
        pool.add(Pattern {
            kind,
            ..pattern.clone()
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::instance::Item;

    #[test]
    fn a_box_is_refuted_by_what_the_money_left_can_hold() {
        let kind = |cost| Kind {
            run: None,
            batch: 0,
            capacity: 10,
            cost,
            available: None,
            pack: 1,
            tie: 0,
        };
        let instance = Instance {
            apart: Vec::new(),
            runs: Vec::new(),
            windows: 0,
            items: vec![Item {
                size: 5,
                demand: 20,
                batch: None,
            }],
            kinds: vec![kind(3), kind(4)],
        };
        // Two pieces a bar, priced at 1: twenty need ten bars.
        let refutation = Refutation {
            prices: vec![1],
            total: 20,
            most: vec![2, 2],
        };
        let whole = Range::whole(&instance);
        // 29 buys nine and two thirds of the cheaper kind, 30 buys ten.
        assert!(whole.is_refuted(&instance, &refutation, 30));
        assert!(!whole.is_refuted(&instance, &refutation, 31));
        // Five of the dearer cost 20, and the nine left buy three of the cheaper.
        let [low, high] = whole.halves(1, 4);
        assert_eq!(high.least_cost(&instance), 20);
        assert!(high.is_refuted(&instance, &refutation, 35));
        assert!(!high.is_refuted(&instance, &refutation, 36));
        // At most one of the cheaper, so nine of the dearer: 39.
        let [few, _] = low.halves(0, 1);
        assert!(few.is_refuted(&instance, &refutation, 1_000));
    }
}
