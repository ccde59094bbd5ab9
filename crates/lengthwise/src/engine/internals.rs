//! The inner loops, each by itself, for micro-benchmarks. No part of the interface.

use super::blend::Blend;
use super::enumerate::{Enumerated, Most, enumerate};
use super::generate::{Until, generate};
use super::instance::{Instance, Pattern};
use super::master::Master;
use super::pool::Pool;
use super::pricing::{Offer, Table};
use super::refutation::Refutation;
use super::search::Search;
use super::simplex::Simplex;
use super::work::Meter;
use crate::clock::Deadline;
use crate::job::Job;
use crate::plan::Effort;
use crate::problem::Problem;

/// Patterns and steps that an enumeration may come to: as much as a question may ask for.
const MOST: Most = Most {
    patterns: 60_000,
    steps: 20_000_000,
};
/// A pattern is worth entering where it breaks the prices by more than this share of the largest cost.
const WORTH_ENTERING: f64 = 1e-6;

/// A job of one material and one kind of bar after column generation.
pub struct Root {
    instance: Instance,
    patterns: Vec<Pattern>,
    prices: Vec<i64>,
    bars: u32,
    ceiling: f64,
}

/// The linear program of a root, solved, and a pattern that it will want to use.
#[derive(Clone)]
pub struct Warm<'r> {
    root: &'r Root,
    simplex: Simplex,
    pattern: &'r Pattern,
}

fn unlimited() -> Meter<'static> {
    Meter::new(u64::MAX, Deadline::never(), None, None)
}

impl Root {
    /// Generates columns until nothing is worth adding; `None` where the job has several materials or
    /// kinds of bar, no plan, or trouble with its linear program.
    pub fn of(job: &Job) -> Option<Root> {
        let [material] = job.materials() else {
            return None;
        };
        let instance = Problem::new(material).ok()?.instance;
        let [kind] = instance.kinds.as_slice() else {
            return None;
        };
        let cost = i128::from(kind.cost.max(1));
        let (mut meter, mut pool, mut effort) = (unlimited(), Pool::default(), Effort::default());
        let mut search = Search::new(&instance, &mut meter, &mut pool, &mut effort);
        search.by_hand();
        let whole = instance.whole();
        let generated = generate(&mut search, &whole, None, Until::NothingToAdd, |_| false).ok()?;
        let bars = u32::try_from(generated.bound.value / cost).ok()?;
        let ceiling = search.ceiling;
        Some(Root {
            patterns: pool.since(0).to_vec(),
            prices: generated.last.prices,
            bars,
            ceiling,
            instance,
        })
    }

    /// One round of pricing: the table, and the best patterns by their largest piece. How many
    /// patterns came out.
    pub fn price(&self) -> usize {
        let mut meter = unlimited();
        let offers = (0_u32..)
            .zip(&self.instance.items)
            .zip(&self.prices)
            .filter(|(_, price)| **price > 0)
            .map(|((item, data), &price)| Offer {
                item,
                size: data.size,
                most: data.demand,
                price,
            });
        let capacity = self.instance.largest_capacity();
        let table = Table::new(offers.collect(), capacity, &mut meter);
        table.best_by_largest(capacity, 0, &mut meter).1.len()
    }

    /// Every pattern that a plan with as many bars as the root bound could use; `None` where there are
    /// too many.
    pub fn enumerate(&self) -> Option<usize> {
        let mut meter = unlimited();
        let sizes: Vec<i64> = self.instance.items.iter().map(|item| item.size).collect();
        let filters = [&self.prices, &sizes]
            .map(|prices| Refutation::from_prices(&self.instance, prices, &mut meter));
        match enumerate(&self.instance, &[self.bars], &filters, MOST, &mut meter) {
            Enumerated::All(patterns) => Some(patterns.len()),
            Enumerated::TooMany => None,
        }
    }

    /// The program over the patterns up to the last that it wanted, which is still outside; `None` where
    /// there is none.
    pub fn warm(&self) -> Option<Warm<'_>> {
        let whole = self.instance.whole();
        (0..self.patterns.len()).rev().find_map(|known| {
            let (inside, outside) = self.patterns.split_at(known);
            let pattern = outside.first()?;
            let inside: Vec<&Pattern> = inside.iter().collect();
            let rows = Blend::new(&self.instance, &whole, usize::MAX);
            let simplex = Simplex::new(
                &self.instance,
                &whole,
                &inside,
                self.ceiling,
                &[],
                rows,
                &mut || true,
            )
            .ok()?;
            let slack = simplex.prices().ok()?.slack(&self.instance, pattern);
            (slack < -WORTH_ENTERING).then_some(Warm {
                root: self,
                simplex,
                pattern,
            })
        })
    }
}

impl Warm<'_> {
    /// Adds the pattern and solves again; the value of the program in the largest cost of a bar, `None`
    /// where it is in trouble.
    pub fn step(&mut self) -> Option<f64> {
        let added = self.simplex.add(&self.root.instance, self.pattern);
        added
            .and_then(|()| self.simplex.prices())
            .ok()
            .map(|prices| prices.objective)
    }
}
