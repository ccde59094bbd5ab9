//! The master linear program in its primal form, by the revised simplex method with an explicit inverse.
//!
//! minimise `sum c_p x_p + ceiling sum y_i` subject to `sum a_ip x_p + y_i >= d_i` for every piece and
//! `sum over p on s of x_p <= b_s` for every limited kind, all variables zero or more. The rows are as
//! many as there are kinds of piece, however many patterns are known; that, and counts and prices at
//! once, is why it stands beside the general solver, which is three to twenty times slower here (measured
//! on the published classes) and takes over when this one is in trouble. Floating point: it guides,
//! it proves nothing.
//!
//! Source: Dantzig & Orchard-Hays (1954) for the method; right-hand sides moved by tiny amounts against
//! cycling as in Charnes (1952) (both from memory).

use super::blend::Blend;
use super::instance::{Instance, Pattern, Remainder};
use super::master::{Master, Prices, Trouble, cost_unit};

/// A column enters only if its reduced cost, as a share of the largest cost, is below minus this.
const WORTH_ENTERING: f64 = 1e-9;
/// Pivots between two looks at whether to go on: some milliseconds.
const ASK_EVERY: u64 = 32;
/// Entries of a column smaller than this are taken for rounding and never pivoted on.
const SMALLEST_PIVOT: f64 = 1e-8;
/// Entries smaller than this are left out of a pivot.
const NOTHING: f64 = 1e-13;
/// Ratios this close count as equal; the largest pivot is taken.
const EQUAL_RATIO: f64 = 1e-10;
/// How far demands are moved, at the most. Far above rounding, far below what a count is rounded by.
const NUDGE: f64 = 1e-7;
/// Pivots after which the prices are computed anew.
const REFRESH_EVERY: u64 = 64;
/// So few pivots do not need it before their prices are believed.
const TRUST_FOR: u64 = 16;
/// A residual above this has the inverse computed anew.
const WORST_RESIDUAL: f64 = 1e-7;
/// Pivots per row and call, beyond which the method counts as stalled.
const MOST_PIVOTS_PER_ROW: u64 = 60;

#[derive(Clone)]
struct Column {
    cost: f64,
    entries: Vec<(usize, f64)>,
}

/// The master on our own simplex.
#[derive(Clone)]
pub(crate) struct Simplex {
    /// The rows of each item, and the row of each kind where it has one.
    blend: Blend,
    kind_rows: Vec<Option<usize>>,
    /// Whether a row is a demand.
    is_demand: Vec<bool>,
    columns: Vec<Column>,
    /// Columns before this one are slacks, surpluses and pieces left out.
    first_pattern: usize,
    nudged: Vec<f64>,
    exact: Vec<f64>,
    basis: Vec<usize>,
    is_basic: Vec<bool>,
    /// Column by column: a column entering needs few of them, and a pivot leaves most of them alone.
    inverse: Vec<f64>,
    values: Vec<f64>,
    duals: Vec<f64>,
    unit: f64,
    since_refresh: u64,
}

impl Simplex {
    /// Solves the master over `patterns`; `ceiling` is the cost of leaving a piece out, `tilt` is
    /// added to the demands.
    pub fn new(
        instance: &Instance,
        remainder: &Remainder,
        patterns: &[&Pattern],
        ceiling: f64,
        tilt: &[f64],
        blend: Blend,
        go_on: &mut dyn FnMut() -> bool,
    ) -> Result<Simplex, Trouble> {
        let unit = cost_unit(instance);
        let mut simplex = Simplex {
            blend,
            kind_rows: vec![None; remainder.available.len()],
            is_demand: Vec::new(),
            columns: Vec::new(),
            first_pattern: 0,
            nudged: Vec::new(),
            exact: Vec::new(),
            basis: Vec::new(),
            is_basic: Vec::new(),
            inverse: Vec::new(),
            values: Vec::new(),
            duals: Vec::new(),
            unit,
            since_refresh: 0,
        };
        simplex.add_rows(remainder, ceiling / unit, tilt);
        for pattern in patterns {
            simplex.push_pattern(instance, pattern);
        }
        simplex.optimise(go_on)?;
        Ok(simplex)
    }

    fn rows(&self) -> usize {
        self.basis.len()
    }

    fn add_rows(&mut self, remainder: &Remainder, left_out: f64, tilt: &[f64]) {
        let mut stream = 1_u64;
        let mut nudge = || {
            stream = stream * 16_807 % 2_147_483_647;
            NUDGE * stream as f64 / 2_147_483_647.0 // below 2^31: exact
        };
        let demands = remainder
            .demand
            .iter()
            .enumerate()
            .filter(|(_, demand)| **demand > 0);
        self.exact = vec![0.0; self.blend.rows()];
        for (item, &demand) in demands {
            let right = f64::from(demand) + tilt.get(item).copied().unwrap_or(0.0);
            for (row, weight) in self.blend.of(item) {
                if let Some(exact) = self.exact.get_mut(row) {
                    *exact += weight * right;
                }
            }
        }
        self.is_demand = vec![true; self.exact.len()];
        self.nudged = self.exact.iter().map(|exact| exact + nudge()).collect();
        for (kind, available) in remainder.available.iter().enumerate() {
            let Some(available) = available else { continue };
            if let Some(row) = self.kind_rows.get_mut(kind) {
                *row = Some(self.is_demand.len());
            }
            self.is_demand.push(false);
            self.exact.push(f64::from(*available));
            self.nudged.push(f64::from(*available) + nudge());
        }
        let rows = self.is_demand.len();
        for row in 0..rows {
            let cost = if self.is_demand.get(row) == Some(&true) {
                left_out
            } else {
                0.0
            };
            self.columns.push(Column {
                cost,
                entries: vec![(row, 1.0)],
            });
            self.duals.push(cost);
        }
        for row in 0..rows {
            if self.is_demand.get(row) == Some(&true) {
                self.columns.push(Column {
                    cost: 0.0,
                    entries: vec![(row, -1.0)],
                });
            }
        }
        self.first_pattern = self.columns.len();
        self.basis = (0..rows).collect();
        self.is_basic = (0..self.columns.len())
            .map(|column| column < rows)
            .collect();
        self.inverse = vec![0.0; rows * rows];
        self.inverse
            .iter_mut()
            .step_by(rows + 1)
            .for_each(|diagonal| *diagonal = 1.0);
        self.values.clone_from(&self.nudged);
    }

    fn push_pattern(&mut self, instance: &Instance, pattern: &Pattern) {
        let mut entries: Vec<(usize, f64)> = Vec::with_capacity(pattern.counts.len() + 1);
        for &(item, count) in &pattern.counts {
            for (row, weight) in self.blend.of(item as usize) {
                let entry = weight * f64::from(count);
                match entries.iter_mut().find(|(known, _)| *known == row) {
                    Some((_, known)) => *known += entry,
                    None => entries.push((row, entry)),
                }
            }
        }
        if let Some(row) = self.kind_rows.get(pattern.kind as usize).copied().flatten() {
            entries.push((row, 1.0));
        }
        let cost = instance.kind(pattern).cost as f64 / self.unit; // a guide only
        self.columns.push(Column { cost, entries });
        self.is_basic.push(false);
    }

    fn reduced_cost(&self, column: &Column) -> f64 {
        let dual = |row: usize| self.duals.get(row).copied().unwrap_or(0.0);
        column.cost
            - column
                .entries
                .iter()
                .map(|&(row, entry)| dual(row) * entry)
                .sum::<f64>()
    }

    /// Pivots until no column is worth entering, or until it is told not to go on.
    fn optimise(&mut self, go_on: &mut dyn FnMut() -> bool) -> Result<(), Trouble> {
        let most = MOST_PIVOTS_PER_ROW * (self.rows() as u64 + 10);
        for pivots in 1..=most {
            if pivots % ASK_EVERY == 0 && !go_on() {
                return Err(Trouble);
            }
            let Some((entering, reduced)) = self.entering() else {
                // The prices may have drifted: after some pivots only fresh ones can say that this is
                // the end.
                if self.since_refresh >= TRUST_FOR && self.refresh()? && self.entering().is_some() {
                    continue;
                }
                return Ok(());
            };
            let column = self.transformed(entering);
            let leaving = self.leaving(&column).ok_or(Trouble)?;
            self.pivot(entering, leaving, &column, reduced);
            self.since_refresh += 1;
            if self.since_refresh >= REFRESH_EVERY {
                self.refresh()?;
            }
        }
        Err(Trouble)
    }

    /// The column of least reduced cost, if it is worth entering; the first of equals.
    fn entering(&self) -> Option<(usize, f64)> {
        let mut best = None;
        let mut least = -WORTH_ENTERING;
        for (place, (column, &basic)) in self.columns.iter().zip(&self.is_basic).enumerate() {
            if basic {
                continue;
            }
            let reduced = self.reduced_cost(column);
            if reduced < least {
                least = reduced;
                best = Some((place, reduced));
            }
        }
        best
    }

    fn inverse_column(&self, column: usize) -> &[f64] {
        let rows = self.rows();
        self.inverse
            .get(column * rows..(column + 1) * rows)
            .unwrap_or(&[])
    }

    fn inverse_row(&self, row: usize) -> Vec<f64> {
        self.inverse
            .iter()
            .skip(row)
            .step_by(self.rows().max(1))
            .copied()
            .collect()
    }

    /// The inverse times a column.
    fn transformed(&self, column: usize) -> Vec<f64> {
        let entries = self
            .columns
            .get(column)
            .map_or(&[][..], |column| &column.entries);
        self.times(entries.iter().copied())
    }

    /// The inverse times a sparse vector.
    fn times(&self, entries: impl Iterator<Item = (usize, f64)>) -> Vec<f64> {
        let mut result = vec![0.0; self.rows()];
        for (at, entry) in entries {
            for (result, inverse) in result.iter_mut().zip(self.inverse_column(at)) {
                *result += entry * inverse;
            }
        }
        result
    }

    /// The row whose value first falls to zero.
    fn leaving(&self, column: &[f64]) -> Option<usize> {
        let candidates = || {
            self.values
                .iter()
                .zip(column)
                .enumerate()
                .filter(|(_, (_, entry))| **entry > SMALLEST_PIVOT)
        };
        let least = candidates()
            .map(|(_, (value, entry))| value.max(0.0) / entry)
            .min_by(f64::total_cmp)?;
        candidates()
            .filter(|(_, (value, entry))| value.max(0.0) / *entry <= least + EQUAL_RATIO)
            .max_by(|a, b| a.1.1.total_cmp(b.1.1).then_with(|| b.0.cmp(&a.0)))
            .map(|(row, _)| row)
    }

    fn pivot(&mut self, entering: usize, leaving: usize, column: &[f64], reduced: f64) {
        let rows = self.rows();
        let Some(&pivot) = column.get(leaving) else {
            return;
        };
        let step = self.values.get(leaving).copied().unwrap_or(0.0) / pivot;
        let touched: Vec<(usize, f64)> = column
            .iter()
            .copied()
            .enumerate()
            .filter(|&(row, entry)| entry.abs() > NOTHING && row != leaving)
            .collect();
        // A column that touches many rows is quicker taken whole, without looking where it is zero.
        let is_full = touched.len() * 4 > rows;
        let mut others = column.to_vec();
        if let Some(entry) = others.get_mut(leaving) {
            *entry = 0.0;
        }
        let columns = self
            .inverse
            .chunks_exact_mut(rows.max(1))
            .zip(&mut self.duals);
        for (inverse, dual) in columns {
            let Some(head) = inverse.get_mut(leaving).filter(|head| head.abs() > NOTHING) else {
                continue;
            };
            *head /= pivot;
            let head = *head;
            *dual += reduced * head;
            if is_full {
                for (target, entry) in inverse.iter_mut().zip(&others) {
                    *target -= entry * head;
                }
            } else {
                for &(row, entry) in &touched {
                    if let Some(target) = inverse.get_mut(row) {
                        *target -= entry * head;
                    }
                }
            }
        }
        for &(row, entry) in &touched {
            if let Some(value) = self.values.get_mut(row) {
                *value -= entry * step;
            }
        }
        if let Some(value) = self.values.get_mut(leaving) {
            *value = step;
        }
        if let Some(out) = self.basis.get_mut(leaving) {
            if let Some(basic) = self.is_basic.get_mut(*out) {
                *basic = false;
            }
            *out = entering;
        }
        if let Some(basic) = self.is_basic.get_mut(entering) {
            *basic = true;
        }
    }

    /// Computes values and prices anew from the inverse, and the inverse itself where it has drifted;
    /// true where something moved.
    fn refresh(&mut self) -> Result<bool, Trouble> {
        self.since_refresh = 0;
        let mut moved = self.recompute();
        if self.residual() > WORST_RESIDUAL {
            self.invert()?;
            self.recompute();
            moved = true;
        }
        if self.residual() > WORST_RESIDUAL {
            Err(Trouble)
        } else {
            Ok(moved)
        }
    }

    fn recompute(&mut self) -> bool {
        let values = self.times(self.nudged.iter().copied().enumerate());
        let cost = |basic: &usize| self.columns.get(*basic).map_or(0.0, |column| column.cost);
        let costs: Vec<f64> = self.basis.iter().map(cost).collect();
        let duals: Vec<f64> = (0..self.rows())
            .map(|column| dot(self.inverse_column(column), &costs))
            .collect();
        let moved = duals
            .iter()
            .zip(&self.duals)
            .any(|(new, old)| (new - old).abs() > WORTH_ENTERING);
        self.values = values;
        self.duals = duals;
        moved
    }

    /// How far the basis is from meeting its right-hand side and its own prices.
    fn residual(&self) -> f64 {
        let mut left = self.nudged.clone();
        let mut worst = 0.0_f64;
        for (&basic, &value) in self.basis.iter().zip(&self.values) {
            let Some(column) = self.columns.get(basic) else {
                continue;
            };
            for &(row, entry) in &column.entries {
                if let Some(left) = left.get_mut(row) {
                    *left -= entry * value;
                }
            }
            worst = worst.max(self.reduced_cost(column).abs());
        }
        let scale = 1.0
            + self
                .nudged
                .iter()
                .fold(0.0_f64, |most, value| most.max(value.abs()));
        left.iter()
            .fold(worst, |worst, left| worst.max(left.abs() / scale))
    }

    /// The inverse of the basis by Gauss-Jordan elimination with row pivots.
    fn invert(&mut self) -> Result<(), Trouble> {
        let rows = self.rows();
        let mut matrix = vec![0.0; rows * rows];
        for (place, &basic) in self.basis.iter().enumerate() {
            let entries = self
                .columns
                .get(basic)
                .map_or(&[][..], |column| &column.entries);
            for &(row, entry) in entries {
                if let Some(cell) = matrix.get_mut(row * rows + place) {
                    *cell += entry;
                }
            }
        }
        let inverse = gauss_jordan(matrix, rows).ok_or(Trouble)?;
        self.inverse = transposed(&inverse, rows);
        Ok(())
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

fn transposed(matrix: &[f64], rows: usize) -> Vec<f64> {
    (0..rows)
        .flat_map(|row| matrix.iter().skip(row).step_by(rows.max(1)).copied())
        .collect()
}

/// `matrix` inverted; `None` where it is singular to working accuracy.
fn gauss_jordan(matrix: Vec<f64>, rows: usize) -> Option<Vec<f64>> {
    let mut left: Vec<Vec<f64>> = matrix
        .chunks_exact(rows.max(1))
        .map(<[f64]>::to_vec)
        .collect();
    let unit = |row: usize| {
        (0..rows)
            .map(|at| if at == row { 1.0 } else { 0.0 })
            .collect()
    };
    let mut right: Vec<Vec<f64>> = (0..rows).map(unit).collect();
    for column in 0..rows {
        let entry =
            |rows: &[Vec<f64>], row: usize| rows.get(row).and_then(|row| row.get(column)).copied();
        let pivot_row = (column..rows).max_by(|&a, &b| {
            let size = |row| entry(&left, row).unwrap_or(0.0).abs();
            size(a).total_cmp(&size(b)).then_with(|| b.cmp(&a))
        })?;
        let pivot = entry(&left, pivot_row)?;
        if pivot.abs() < SMALLEST_PIVOT {
            return None;
        }
        left.swap(column, pivot_row);
        right.swap(column, pivot_row);
        for side in [&mut left, &mut right] {
            side.get_mut(column)?
                .iter_mut()
                .for_each(|entry| *entry /= pivot);
        }
        let (left_pivot, right_pivot) = (left.get(column)?.clone(), right.get(column)?.clone());
        for row in (0..rows).filter(|&row| row != column) {
            let factor = entry(&left, row)?;
            if factor != 0.0 {
                subtract(left.get_mut(row)?, factor, &left_pivot);
                subtract(right.get_mut(row)?, factor, &right_pivot);
            }
        }
    }
    Some(right.concat())
}

fn subtract(target: &mut [f64], factor: f64, source: &[f64]) {
    for (target, source) in target.iter_mut().zip(source) {
        *target -= factor * source;
    }
}

impl Master for Simplex {
    fn add(&mut self, instance: &Instance, pattern: &Pattern) -> Result<(), Trouble> {
        self.push_pattern(instance, pattern);
        self.optimise(&mut || true) // a few pivots
    }

    fn prices(&self) -> Result<Prices, Trouble> {
        let dual = |row: usize| self.duals.get(row).copied().unwrap_or(0.0);
        let price = |item| {
            let parts = self.blend.of(item);
            let price: f64 = parts.map(|(row, weight)| weight * dual(row).max(0.0)).sum();
            price
        };
        let pieces: Vec<f64> = (0..self.blend.items()).map(price).collect();
        let bars: Vec<f64> = self
            .kind_rows
            .iter()
            .map(|row| row.map_or(0.0, |row| (-dual(row)).max(0.0)))
            .collect();
        let objective = dot(&self.duals, &self.exact);
        let finite = pieces
            .iter()
            .chain(&bars)
            .chain([&objective])
            .copied()
            .all(f64::is_finite);
        if finite {
            Ok(Prices {
                pieces,
                bars,
                objective,
            })
        } else {
            Err(Trouble)
        }
    }

    fn counts(&self) -> Option<Vec<(usize, f64)>> {
        let mut counts: Vec<(usize, f64)> = self
            .basis
            .iter()
            .enumerate()
            .filter_map(|(row, &basic)| {
                let pattern = basic.checked_sub(self.first_pattern)?;
                // The demands as they are, not as they were nudged.
                let count = dot(&self.inverse_row(row), &self.exact);
                (count > WORTH_ENTERING).then_some((pattern, count))
            })
            .collect();
        counts.sort_by_key(|(pattern, _)| *pattern);
        Some(counts)
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use std::time::Duration;

    use proptest::prelude::*;

    use super::*;
    use crate::engine::instance::{Item, Kind};
    use crate::engine::master::Microlp;

    /// Random patterns of a random instance: whether they fit does not matter to the program.
    fn programs() -> impl Strategy<Value = (Instance, Vec<Pattern>)> {
        let items = prop::collection::vec(1_u32..9, 1..9);
        let kinds = prop::collection::vec((1_i64..50, prop::option::of(0_u32..6)), 1..4);
        (items, kinds).prop_flat_map(|(demands, kinds)| {
            let (n, k) = (
                u32::try_from(demands.len()).unwrap(),
                u32::try_from(kinds.len()).unwrap(),
            );
            let counts = prop::collection::btree_map(0..n, 1_u32..4, 1..5);
            let pattern = (0..k, counts).prop_map(|(kind, counts)| Pattern {
                split: None,
                kind,
                counts: counts.into_iter().collect(),
            });
            let instance = Instance {
                apart: Vec::new(),
                runs: Vec::new(),
                windows: 0,
                items: demands
                    .iter()
                    .map(|&demand| Item {
                        size: 1,
                        demand,
                        batch: None,
                    })
                    .collect(),
                kinds: kinds
                    .iter()
                    .map(|&(cost, available)| Kind {
                        run: None,
                        batch: 0,
                        capacity: 9,
                        cost,
                        available,
                        pack: 1,
                        tie: 0,
                    })
                    .collect(),
            };
            (Just(instance), prop::collection::vec(pattern, 1..24))
        })
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2000))]
        /// The general-purpose solver is the reference, for ever: same value, all at once and one by one.
        #[test]
        fn agrees_with_the_general_solver((instance, patterns) in programs()) {
            let whole = instance.whole();
            let all: Vec<&Pattern> = patterns.iter().collect();
            let ceiling = 200.0;
            let exact = || Blend::new(&instance, &whole, usize::MAX);
            let reference = Microlp::new(&instance, &whole, &all, ceiling, &[], Duration::from_secs(5))
                .and_then(|master| master.prices());
            let reference = reference.map_err(|_| TestCaseError::reject("reference in trouble"))?;
            let ours = Simplex::new(&instance, &whole, &all, ceiling, &[], exact(), &mut || true)
                .map_err(|_| TestCaseError::fail("trouble"))?;
            let mut one_by_one = Simplex::new(&instance, &whole, &[], ceiling, &[], exact(), &mut || true)
                .map_err(|_| TestCaseError::fail("trouble"))?;
            for pattern in &patterns {
                one_by_one.add(&instance, pattern).map_err(|_| TestCaseError::fail("trouble"))?;
            }
            for simplex in [&ours, &one_by_one] {
                let prices = simplex.prices().map_err(|_| TestCaseError::fail("prices"))?;
                let tolerance = 1e-6 * (1.0 + reference.objective.abs());
                prop_assert!((prices.objective - reference.objective).abs() < tolerance,
                    "{} against {}", prices.objective, reference.objective);
                prop_assert!(prices.respect(&instance, patterns.iter()));
                // The counts cost what the prices say, once pieces left out are counted in.
                let counts = simplex.counts().unwrap();
                let mut left: Vec<f64> = whole.demand.iter().map(|&demand| f64::from(demand)).collect();
                let mut cost = 0.0;
                for (place, count) in counts {
                    let pattern = &patterns[place];
                    cost += count * instance.kind(pattern).cost as f64;
                    for &(item, times) in &pattern.counts {
                        left[item as usize] -= count * f64::from(times);
                    }
                }
                let unit = cost_unit(&instance);
                cost += ceiling * left.iter().map(|left| left.max(0.0)).sum::<f64>();
                prop_assert!((cost / unit - prices.objective).abs() < 1e-4 * (1.0 + prices.objective));
            }
        }
    }
}
