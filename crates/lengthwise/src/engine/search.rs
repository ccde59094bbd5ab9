//! What a search for the best packing knows at any time: its best plan, its best bound, its patterns.

use super::bound::{Bound, scale_for};
use super::instance::{Instance, Packing};
use super::master::{MOST_FOR_SIMPLEX, Prices, cost_unit};
use super::pool::Pool;
use super::work::Meter;
use crate::plan::Effort;

/// Prices of pieces are kept below this many times the cost of the best known plan (or of all the
/// bars there are), so that the program stays bounded where all bars are limited.
const CEILING_FACTOR: f64 = 2.0;
/// A value of the linear program this close above a multiple of the cost step counts as that
/// multiple, relative to the value: the program is not more accurate.
const LP_ACCURACY: f64 = 1e-7;

/// The state of one search.
pub(crate) struct Search<'s, 'm> {
    pub instance: &'s Instance,
    pub meter: &'s mut Meter<'m>,
    pub pool: &'s mut Pool,
    /// What one unit of cost counts in prices.
    pub scale: i64,
    /// The most that a piece may be priced at, in units of cost.
    pub ceiling: f64,
    /// At most so many sizes have prices of their own in the linear program.
    pub finest: usize,
    /// Memory for tables of pricing.
    pub cells: Vec<i64>,
    /// Added to the demands in the linear program only; empty for none.
    pub tilt: Vec<f64>,
    pub best: Option<(i128, Packing)>,
    /// Packings that cost more are of no use.
    pub wanted: Option<i128>,
    /// Packings that cost as much or more are of no use: that none costs less ends the search.
    pub below: Option<i128>,
    pub bound: Bound,
    pub effort: &'s mut Effort,
    /// Whether every bound met in column generation is kept at once: only at the root, whose
    /// prices are those of the certificate.
    pub keeps_bounds: bool,
    /// Whether this is a search within another, of which whoever watches is not told.
    pub is_inner: bool,
    step: i128,
}

impl<'s, 'm> Search<'s, 'm> {
    pub fn new(
        instance: &'s Instance,
        meter: &'s mut Meter<'m>,
        pool: &'s mut Pool,
        effort: &'s mut Effort,
    ) -> Self {
        let pieces = instance.whole().pieces() as f64; // a guide only
        let ceiling = CEILING_FACTOR * cost_unit(instance) * (pieces + 1.0);
        Search {
            instance,
            meter,
            pool,
            scale: scale_for(instance, ceiling),
            ceiling,
            finest: MOST_FOR_SIMPLEX,
            cells: Vec::new(),
            tilt: Vec::new(),
            best: None,
            wanted: None,
            below: None,
            bound: Bound {
                value: 0,
                prices: vec![0; instance.items.len()],
            },
            effort,
            keeps_bounds: false,
            is_inner: false,
            step: instance.cost_step(),
        }
    }

    /// Whether the best plan meets the bound, or the bound what is of use.
    pub fn is_closed(&self) -> bool {
        let best = self.best.as_ref().map(|(cost, _)| *cost);
        let mut met = best.into_iter().chain(self.below);
        met.any(|cost| cost <= self.bound.value)
    }

    /// Whether the linear program has fewer prices than there are kinds of piece.
    pub fn is_coarse(&self) -> bool {
        self.instance.items.len() > self.finest
    }

    /// Whether there is nothing more to do: closed, or told to stop.
    pub fn is_over(&self) -> bool {
        let found = self.wanted.is_some() && self.wanted_packing().is_some();
        found || self.is_closed() || self.meter.stopped().is_some()
    }

    /// Keeps a packing of the whole instance if it is cheaper than the best so far.
    pub fn offer(&mut self, packing: Packing) {
        let Some(packing) = self.instance.settled(packing) else {
            return; // courses that do not go together
        };
        let cost = self.instance.cost_of(&packing);
        if self.best.as_ref().is_none_or(|(best, _)| cost < *best) {
            for (pattern, _) in &packing.uses {
                self.pool.add(pattern.clone());
            }
            let ceiling = cost as f64 * CEILING_FACTOR; // a guide only
            self.ceiling = ceiling.max(cost_unit(self.instance));
            self.best = Some((cost, packing));
            self.tell();
        }
    }

    /// Keeps a bound if it is better than the best so far.
    pub fn improve_bound(&mut self, bound: Bound) {
        if bound.value > self.bound.value {
            self.bound = bound;
            self.tell();
        }
    }

    /// Keeps a bound that rests on more than prices.
    pub fn raise_bound(&mut self, value: i128) {
        if value > self.bound.value {
            self.bound.value = value;
            self.tell();
        }
    }

    /// Lets whoever watches know; questions within the search keep to themselves.
    pub fn tell(&mut self) {
        if self.wanted.is_none() && !self.is_inner {
            let best = self.best.as_ref().map(|(cost, _)| *cost);
            self.meter.note(best, self.bound.value);
        }
    }

    /// What a plan must cost less than to be of use.
    pub fn cost_to_beat(&self) -> Option<i128> {
        let best = self.best.as_ref().map(|(cost, _)| *cost);
        let wanted = self.wanted.map(|cost| cost + 1);
        best.into_iter().chain(wanted).chain(self.below).min()
    }

    /// The best packing, if it is cheap enough to be wanted.
    pub fn wanted_packing(&self) -> Option<&Packing> {
        let (cost, packing) = self.best.as_ref()?;
        self.wanted
            .is_none_or(|wanted| *cost <= wanted)
            .then_some(packing)
    }

    /// A value of the linear program as the least cost that a packing of that value could have.
    pub fn round_up(&self, objective: f64) -> i128 {
        if self.step <= 0 {
            return 0;
        }
        let value = objective * cost_unit(self.instance) * (1.0 - LP_ACCURACY);
        let steps = (value / self.step as f64 - LP_ACCURACY).ceil().max(0.0); // a guide only
        (steps as i128).saturating_mul(self.step) // saturates: `as` from float never wraps
    }

    /// The cost of the dearest sale.
    pub fn largest_step(&self) -> i128 {
        let sales = self
            .instance
            .kinds
            .iter()
            .map(|kind| i128::from(kind.cost) * i128::from(kind.pack));
        sales.max().unwrap_or(1).max(1)
    }

    /// Prices as whole numbers, rounded down.
    pub fn whole_prices(&self, prices: &Prices) -> Vec<i64> {
        let unit = cost_unit(self.instance) * self.scale as f64;
        prices
            .pieces
            .iter()
            .map(|price| (price * unit).max(0.0) as i64)
            .collect() // saturates
    }

    /// What a bar of this cost and relative price is worth in whole-number prices.
    pub fn worth(&self, cost: i64, bar: f64) -> i64 {
        let scaled = cost.saturating_mul(self.scale);
        let unit = cost_unit(self.instance) * self.scale as f64;
        scaled.saturating_add((bar * unit).max(0.0) as i64) // saturates
    }

    /// A share of the largest cost in whole-number prices.
    pub fn share_of_cost(&self, share: f64) -> i64 {
        (share * cost_unit(self.instance) * self.scale as f64) as i64 // saturates
    }
}
