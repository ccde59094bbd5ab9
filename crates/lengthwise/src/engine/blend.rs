//! Fewer rows than kinds of piece: prices as a piecewise linear function of the size.
//!
//! With thousands of kinds of piece the linear program spends its time on telling neighbours apart.
//! Prices are therefore free only at some sizes, the knots, and lie on the straight line between two of
//! them elsewhere. In the dual that leaves fewer solutions, all of them prices like any other, so that
//! the exact bound holds whatever the knots; in the primal the demands between knots are added up.
//!
//! Source: aggregation of rows as in Elhallaoui, Villeneuve, Soumis & Desaulniers, Oper. Res. 53 (2005)
//! 632-645, with linear weights instead of classes (from memory).

use super::instance::{Instance, Remainder};

/// Which rows stand for a kind of piece, and by how much.
#[derive(Clone, Debug)]
pub(crate) struct Blend {
    weights: Vec<Weights>,
    rows: usize,
}

/// Nothing is needed, or one row, or the line between two.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Weights {
    None,
    Row(usize),
    Between(usize, f64, f64),
}

impl Blend {
    /// At most about `rows` knots for what remains; a row for each kind of piece where that is enough.
    pub fn new(instance: &Instance, remainder: &Remainder, rows: usize) -> Blend {
        let needed: Vec<usize> = (0..remainder.demand.len())
            .filter(|&item| remainder.demand.get(item).is_some_and(|&demand| demand > 0))
            .collect();
        let mut weights = vec![Weights::None; remainder.demand.len()];
        let mut set = |item: usize, weight: Weights| {
            if let Some(weights) = weights.get_mut(item) {
                *weights = weight;
            }
        };
        // Windows of courses have no size: a row each.
        let (own, needed) =
            needed.split_at(needed.partition_point(|&item| item < instance.windows));
        for (row, &item) in own.iter().enumerate() {
            set(item, Weights::Row(row));
        }
        let own = own.len();
        let steps = rows.saturating_sub(own).max(2) - 1;
        let size = |item: usize| instance.items.get(item).map_or(0, |item| item.size) as f64;
        if needed.len() <= steps + 1 {
            for (row, &item) in needed.iter().enumerate() {
                set(item, Weights::Row(own + row));
            }
            return Blend {
                weights,
                rows: own + needed.len(),
            };
        }
        // At even distances in the list, so that knots are dense where sizes are.
        let knot = |row: usize| row * (needed.len() - 1) / steps;
        for row in 0..steps {
            let (from, to) = (knot(row), knot(row + 1));
            let between = needed.get(from..=to).unwrap_or(&[]);
            let (Some(&first), Some(&last)) = (between.first(), between.last()) else {
                continue;
            };
            for &item in between {
                let share = (size(item) - size(last)) / (size(first) - size(last)); // sizes differ
                set(item, Weights::Between(own + row, share, 1.0 - share));
            }
            set(first, Weights::Row(own + row));
            set(last, Weights::Row(own + row + 1));
        }
        Blend {
            weights,
            rows: own + steps + 1,
        }
    }

    /// How many kinds of piece there are, needed or not.
    pub fn items(&self) -> usize {
        self.weights.len()
    }

    /// How many rows there are.
    pub fn rows(&self) -> usize {
        self.rows
    }

    /// The rows that stand for an item, with their weights.
    pub fn of(&self, item: usize) -> impl Iterator<Item = (usize, f64)> + use<> {
        let (first, second) = match self.weights.get(item) {
            None | Some(Weights::None) => (None, None),
            Some(&Weights::Row(row)) => (Some((row, 1.0)), None),
            Some(&Weights::Between(row, near, far)) => (Some((row, near)), Some((row + 1, far))),
        };
        first.into_iter().chain(second)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::instance::Item;

    fn instance(sizes: &[i64]) -> Instance {
        Instance {
            apart: Vec::new(),
            runs: Vec::new(),
            windows: 0,
            items: sizes
                .iter()
                .map(|&size| Item {
                    size,
                    demand: 1,
                    batch: None,
                })
                .collect(),
            kinds: vec![],
        }
    }

    #[test]
    fn few_kinds_have_a_row_each() {
        let instance = instance(&[9, 7, 4]);
        let mut remainder = instance.whole();
        remainder.demand = vec![1, 0, 2];
        let blend = Blend::new(&instance, &remainder, 2);
        assert_eq!((blend.items(), blend.rows()), (3, 2));
        let rows: Vec<Vec<(usize, f64)>> = (0..3).map(|item| blend.of(item).collect()).collect();
        assert_eq!(rows, vec![vec![(0, 1.0)], vec![], vec![(1, 1.0)]]);
    }

    #[test]
    fn prices_between_knots_lie_on_a_line() {
        let instance = instance(&[100, 90, 60, 50, 45, 40]);
        let blend = Blend::new(&instance, &instance.whole(), 3);
        assert_eq!(blend.rows(), 3);
        // Knots at the sizes 100, 60 and 40 with the prices 50, 20 and 4.
        let knots = [50.0, 20.0, 4.0];
        let price = |item| -> f64 { blend.of(item).map(|(row, share)| share * knots[row]).sum() };
        let prices: Vec<f64> = (0..6).map(price).collect();
        assert_eq!(prices, vec![50.0, 42.5, 20.0, 12.0, 8.0, 4.0]);
    }
}
