//! A choice as a material of its own, and what bars come to at the prices that hold for them.

use crate::engine::Packing;
use crate::job::{Material, Sold, Supply, Tier};
use crate::length::Length;
use crate::plan::Value;
use crate::price::Price;

/// What is chosen; `None` for open.
#[derive(Clone, PartialEq, Eq)]
pub(super) struct Choice {
    /// The price of each kind of bar by its place among the tiers.
    pub prices: Vec<Option<usize>>,
    /// The batch of each wall.
    pub walls: Vec<Option<usize>>,
}

impl Choice {
    /// The prices with that of one kind of bar chosen.
    pub fn with_price(&self, kind: usize, tier: usize) -> Vec<Option<usize>> {
        let mut prices = self.prices.clone();
        if let Some(price) = prices.get_mut(kind) {
            *price = Some(tier);
        }
        prices
    }

    /// The walls with the batch of one chosen.
    pub fn with_batch(&self, wall: usize, batch: usize) -> Vec<Option<usize>> {
        let mut walls = self.walls.clone();
        if let Some(chosen) = walls.get_mut(wall) {
            *chosen = Some(batch);
        }
        walls
    }
}

/// What is paid beforehand on top of a value.
pub(super) fn plus(value: Value, more: Price) -> Option<Value> {
    match value {
        Value::Money(price) => price.checked_add(more).map(Value::Money),
        // Without prices nothing is paid beforehand.
        Value::Bought(length) => Some(Value::Bought(length)),
    }
}

/// A value without what is paid beforehand.
pub(super) fn less(value: Value, beforehand: Price) -> Option<Value> {
    match value {
        Value::Money(price) => {
            Price::from_decimal(price.decimal() - beforehand.decimal()).map(Value::Money)
        }
        Value::Bought(length) => Some(Value::Bought(length)),
    }
}

/// A material, its walls bound already, at one choice of prices: an ordinary one.
pub(super) struct AtChoice {
    pub material: Material,
    /// The kinds of bar, beyond the material's own, that are paid for beforehand: of which kind they are.
    of_kinds: Vec<usize>,
    own: usize,
}

impl AtChoice {
    /// `None` where a sum is not exact.
    pub fn of(
        material: Material,
        tiers: &[Vec<Tier>],
        choice: &[Option<usize>],
    ) -> Option<AtChoice> {
        let mut at = AtChoice {
            own: material.bars().len(),
            material,
            of_kinds: Vec::new(),
        };
        let mut paid_for = Vec::new();
        let kinds = at.material.bars.iter_mut().zip(tiers).zip(choice);
        for (kind, ((bar, tiers), chosen)) in kinds.enumerate() {
            bar.breaks.clear();
            if tiers.last().is_none_or(|tier| tier.place == 0) {
                continue; // in hand, or one price
            }
            let tier = match chosen {
                Some(chosen) => tiers.get(*chosen)?,
                None => tiers.last()?,
            };
            let beforehand = if chosen.is_some() { tier.sales } else { 0 };
            let Supply::Bought { sold, .. } = bar.supply else {
                continue;
            };
            // Whole bars have a price of their own, whatever the yard measures them by.
            let sold = match sold {
                Sold::PerMetre => Sold::Each,
                sold => sold,
            };
            let there = bar
                .bars_available()
                .map(|bars| bars / bar.bars_per_sale().max(1));
            bar.supply = Supply::Bought {
                price: Some(tier.sale),
                sold,
                available: there.map(|sales| sales.saturating_sub(beforehand)),
            };
            if beforehand > 0 {
                let mut paid = bar.clone();
                paid.supply = Supply::Bought {
                    price: Some(Price::ZERO),
                    sold,
                    available: Some(beforehand),
                };
                paid_for.push(paid);
                at.of_kinds.push(kind);
            }
        }
        at.material.bars.append(&mut paid_for);
        Some(at)
    }

    /// A packing with every bar counted among the material's own, and the runs where they stand then.
    pub fn on_own_bars(&self, packing: &Packing) -> Option<Packing> {
        let extra = self.of_kinds.len();
        let mut own = packing.clone();
        for (pattern, _) in &mut own.uses {
            let kind = usize::try_from(pattern.kind).ok()?;
            let kind = match kind.checked_sub(self.own) {
                None => kind,
                Some(beyond) if beyond < extra => *self.of_kinds.get(beyond)?,
                Some(_) => kind - extra,
            };
            pattern.kind = u32::try_from(kind).ok()?;
        }
        Some(own)
    }
}

/// What is paid before the first bar is cut.
pub(super) fn beforehand(tiers: &[Vec<Tier>], choice: &[Option<usize>]) -> Option<Price> {
    let chosen = tiers.iter().zip(choice);
    let mut chosen = chosen.filter_map(|(tiers, chosen)| tiers.get((*chosen)?));
    chosen.try_fold(Price::ZERO, |sum, tier| {
        sum.checked_add(tier.sale.checked_mul(tier.sales)?)
    })
}

/// How many bars of each of the first kinds a packing cuts.
pub(super) fn bars_of(packing: &Packing, kinds: usize) -> Vec<u64> {
    let mut bars = vec![0; kinds];
    for (pattern, uses) in &packing.uses {
        if let Some(bars) = bars.get_mut(pattern.kind as usize) {
            *bars += u64::from(*uses);
        }
    }
    bars
}

/// What so many bars of each kind come to: bought as cheaply as can be, or their worth in hand; without
/// prices the length bought.
pub(super) fn cost_of(material: &Material, bars: &[u64]) -> Option<Value> {
    let mut kinds = material.bars().iter().zip(bars);
    if !material.is_priced() {
        let mut bought = kinds.filter(|(bar, _)| !bar.is_in_hand());
        let bought = bought.try_fold(Length::ZERO, |sum, (bar, &bars)| {
            let per_sale = bar.bars_per_sale();
            let bars = bars.div_ceil(per_sale.max(1)).checked_mul(per_sale)?;
            sum.checked_add(bar.length().checked_mul(bars)?)
        });
        return bought.map(Value::Bought);
    }
    let money = kinds.try_fold(Price::ZERO, |sum, (bar, &bars)| {
        let cost = if bar.is_in_hand() {
            bar.sale_price()?.checked_mul(bars)?
        } else {
            bar.cheapest_sales(bars)?.2
        };
        sum.checked_add(cost)
    });
    money.map(Value::Money)
}
