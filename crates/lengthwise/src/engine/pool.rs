//! Every pattern met so far, each once, in the order in which it was met.

use std::collections::HashSet;

use super::instance::{Instance, Pattern, Remainder};
use super::master::Prices;

/// Known patterns. The order is part of the promise that the same job gives the same plan.
#[derive(Default)]
pub(crate) struct Pool {
    patterns: Vec<Pattern>,
    known: HashSet<Pattern>,
}

impl Pool {
    /// Adds a pattern; false where it was known.
    pub fn add(&mut self, pattern: Pattern) -> bool {
        let new = !pattern.counts.is_empty() && self.known.insert(pattern.clone());
        if new {
            self.patterns.push(pattern);
        }
        new
    }

    pub fn len(&self) -> usize {
        self.patterns.len()
    }

    /// The patterns met since there were so many.
    pub fn since(&self, known: usize) -> &[Pattern] {
        self.patterns.get(known..).unwrap_or(&[])
    }

    /// Patterns that can still be used whole; those that the prices like best where there are more
    /// than `most`.
    pub fn usable(
        &self,
        instance: &Instance,
        remainder: &Remainder,
        prices: Option<&Prices>,
        most: usize,
    ) -> Vec<Pattern> {
        let mut usable: Vec<&Pattern> = self
            .patterns
            .iter()
            .filter(|pattern| remainder.most_uses(pattern) > 0)
            .collect();
        if let Some(prices) = prices.filter(|_| usable.len() > most) {
            // Stable, so patterns of equal slack keep their order.
            let slack = |pattern: &&Pattern| prices.slack(instance, pattern);
            usable.sort_by(|a, b| slack(a).total_cmp(&slack(b)));
            usable.truncate(most);
        }
        usable.into_iter().cloned().collect()
    }
}
