//! Pricing: the most valuable pattern on a bar, a bounded knapsack in whole numbers.
//!
//! A table holds, for each suffix of the items and each capacity, the best value; a depth-first
//! search with the table as completion bound finds the patterns. With sizes as they are the table
//! is exact and the search walks straight to the answer. Where items times capacity is too much,
//! sizes and capacities are divided and rounded down: the table is then an upper bound, still valid
//! because rounding sizes down only lets more fit, and the search finds the exact best.
//!
//! Source: Gilmore & Gomory, Oper. Res. 9 (1961) 849-859 for pricing by knapsack; Martello & Toth,
//! Knapsack Problems (1990), for the bounded dynamic program (both from memory).

use std::collections::VecDeque;

use super::instance::Instance;
use super::work::Meter;

/// Cells of an exact table at the most: 64 MB.
const MOST_EXACT_CELLS: usize = 8_000_000;
/// Cells of a coarse table at the most: 32 MB. More makes each round slower than the coarser
/// table makes the search; fewer makes the search wander on fine-grained jobs.
const MOST_CELLS: usize = 4_000_000;
/// Columns of a coarse table at the most: finer ones bound hardly better, with few items too.
const MOST_COLUMNS: i64 = 50_000;
/// Nodes of one search at the most; reached only with a coarse table.
const MOST_NODES: u64 = 400_000;
/// Cells are capped here, far above the value of any pattern, so that one can be added to a value.
const MOST_VALUE: i64 = i64::MAX / 2;
/// Steps of a search between two looks at the limits: some milliseconds.
const LOOK_EVERY: u64 = 1 << 18;
/// Work units of a table cell and of a search node, measured in nanoseconds and rounded.
const CELL_WORK: u64 = 1;
const NODE_WORK: u64 = 4;
/// Copies of a piece up to which a row is filled copy by copy, and work units of a cell beyond.
const MOST_COPIES: u32 = 32;
const WINDOW_WORK: u64 = 8;

/// An item on offer to the knapsack.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Offer {
    /// The item's place in the instance.
    pub item: u32,
    pub size: i64,
    /// Above zero: how many may be used.
    pub most: u32,
    /// Above zero.
    pub price: i64,
}

/// The items of a pattern, `(item, count)`, and its value.
pub(crate) type Valued = (Vec<(u32, u32)>, i64);

/// Best values for every suffix of the offers and every capacity.
pub(crate) struct Table {
    offers: Vec<Offer>,
    divisor: i64,
    columns: usize,
    /// Whether every row was computed: see [`Table::new`].
    complete: bool,
    best: Vec<i64>,
    /// Both ways round, sorted.
    apart: Vec<(u32, u32)>,
}

/// Tables for all bars of an instance: one, or one for each batch where some pieces may lie on bars of one
/// only.
pub(crate) struct Tables {
    tables: Vec<(u32, Table)>,
    /// By kind: which table.
    of_kind: Vec<usize>,
}

impl Tables {
    /// The offers of all bars, by decreasing size, up to the capacity of the largest.
    pub fn new(instance: &Instance, offers: &[Offer], meter: &mut Meter<'_>) -> Tables {
        let capacity = instance.largest_capacity();
        Tables::in_place_of(Vec::new(), instance, offers, capacity, meter)
    }

    /// The same up to a capacity, in the memory of an earlier table.
    pub fn in_place_of(
        mut cells: Vec<i64>,
        instance: &Instance,
        offers: &[Offer],
        capacity: i64,
        meter: &mut Meter<'_>,
    ) -> Tables {
        let has_batches = instance.has_batches();
        let mut tables: Vec<(u32, Table)> = Vec::new();
        let mut of_kind = Vec::with_capacity(instance.kinds.len());
        for kind in &instance.kinds {
            let batch = if has_batches { kind.batch } else { 0 };
            let known = tables.iter().position(|(other, _)| *other == batch);
            of_kind.push(known.unwrap_or(tables.len()));
            if known.is_none() {
                let offers = offers.iter().copied();
                let offers = offers.filter(|offer| instance.may_be_of(batch, &[(offer.item, 1)]));
                let cells = std::mem::take(&mut cells);
                let table = Table::in_place_of(cells, offers.collect(), capacity, meter);
                tables.push((batch, table.keep_apart(&instance.apart)));
            }
        }
        Tables { tables, of_kind }
    }

    /// That of a kind of bar; `None` past the last kind.
    pub fn of(&self, kind: u32) -> Option<&Table> {
        let place = self.of_kind.get(kind as usize)?; // u32 into usize
        self.tables.get(*place).map(|(_, table)| table)
    }

    /// The memory of the first, for the next.
    pub fn into_cells(self) -> Vec<i64> {
        let first = self.tables.into_iter().next();
        first.map_or_else(Vec::new, |(_, table)| table.into_cells())
    }
}

/// The outcome of a search for the best pattern.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Found {
    /// No pattern is worth more than this; exact unless the search was cut short.
    pub at_most: i64,
    /// The best pattern above the floor, with its value.
    pub pattern: Option<Valued>,
}

impl Table {
    /// Builds the table for the offers, by decreasing size, up to `capacity`.
    ///
    /// O(offers x capacity) time, at most [`MOST_CELLS`] cells. When it is time to stop, the
    /// rows that are left hold what all copies would be worth if they fit: an upper bound still.
    pub fn new(offers: Vec<Offer>, capacity: i64, meter: &mut Meter<'_>) -> Table {
        Table::in_place_of(Vec::new(), offers, capacity, meter)
    }

    /// The same in the memory of an earlier table, which saves asking for it every time.
    pub fn in_place_of(
        mut cells: Vec<i64>,
        offers: Vec<Offer>,
        capacity: i64,
        meter: &mut Meter<'_>,
    ) -> Table {
        let rows = offers.len() + 1;
        let per_row = |cells: usize| i64::try_from(cells / rows).unwrap_or(1).max(2);
        let divisor = if capacity < per_row(MOST_EXACT_CELLS) {
            1
        } else {
            capacity / (per_row(MOST_CELLS).min(MOST_COLUMNS) - 1) + 1
        };
        // Few enough cells, so it fits; capacities are not negative.
        let columns = usize::try_from(capacity / divisor).unwrap_or(0) + 1;
        // Every row is written but the last, which is nothing.
        cells.resize(rows * columns, 0);
        let mut best = cells;
        if let Some(last) = best.get_mut((rows - 1) * columns..) {
            last.fill(0);
        }
        let mut complete = true;
        for (row, offer) in offers.iter().enumerate().rev() {
            let (head, tail) = best.split_at_mut((row + 1) * columns);
            let (Some(target), Some(next)) = (head.get_mut(row * columns..), tail.get(..columns))
            else {
                continue;
            };
            if complete {
                let work = fill_row(target, next, offer, divisor);
                complete = meter.spend(work) || row == 0;
            } else {
                take_all(target, next, offer);
            }
        }
        Table {
            offers,
            divisor,
            columns,
            complete,
            best,
            apart: Vec::new(),
        }
    }

    /// Items that are not to share a bar; the table bounds patterns without them from above.
    pub fn keep_apart(mut self, apart: &[(u32, u32)]) -> Table {
        self.apart = apart.iter().flat_map(|&(a, b)| [(a, b), (b, a)]).collect();
        self.apart.sort_unstable();
        self
    }

    /// How many of an item may go with those of a path.
    fn most_beside(&self, path: &[(u32, u32)], item: u32) -> i64 {
        let apart = |other: u32| self.apart.binary_search(&(item, other)).is_ok();
        if path.iter().any(|&(other, _)| apart(other)) {
            0
        } else if apart(item) {
            1
        } else {
            i64::MAX
        }
    }

    /// Its memory, for the next.
    pub fn into_cells(self) -> Vec<i64> {
        self.best
    }

    fn row(&self, row: usize) -> &[i64] {
        self.best
            .get(row * self.columns..(row + 1) * self.columns)
            .unwrap_or(&[])
    }

    fn column(&self, capacity: i64) -> usize {
        // Capacities asked for are never above the one the table was built for.
        usize::try_from(capacity / self.divisor)
            .unwrap_or(0)
            .min(self.columns - 1)
    }

    /// An upper bound on the value of patterns of the offers from `row` on.
    pub fn bound(&self, row: usize, capacity: i64) -> i64 {
        self.row(row)
            .get(self.column(capacity))
            .copied()
            .unwrap_or(0)
    }

    /// The offer of a row; `None` past the last.
    pub fn offer(&self, row: usize) -> Option<Offer> {
        self.offers.get(row).copied()
    }

    /// The first row from `row` on whose item fits into `rest`, or the row past the last.
    pub fn first_that_fits(&self, row: usize, rest: i64) -> usize {
        let offers = self.offers.get(row..).unwrap_or(&[]);
        row + offers.partition_point(|offer| offer.size > rest)
    }

    /// Whether the table holds exact values rather than upper bounds.
    pub fn is_exact(&self) -> bool {
        self.divisor == 1 && self.complete && self.apart.is_empty()
    }

    /// The best pattern worth more than `floor`.
    pub fn search(&self, capacity: i64, floor: i64, meter: &mut Meter<'_>) -> Found {
        self.search_from(0, capacity, floor, meter)
    }

    /// The best pattern worth more than `floor` that uses no offer before `row`.
    fn search_from(&self, row: usize, capacity: i64, floor: i64, meter: &mut Meter<'_>) -> Found {
        let bound = self.bound(row, capacity);
        if bound <= floor {
            return Found {
                at_most: bound,
                pattern: None,
            };
        }
        let start = if self.is_exact() { bound - 1 } else { floor };
        let mut search = Search {
            table: self,
            best: start,
            found: None,
            path: Vec::new(),
            nodes: 0,
            steps: 0,
            stopped: false,
            meter,
        };
        search.visit(row, capacity, 0);
        search.meter.spend(search.nodes * NODE_WORK);
        let complete = search.nodes < MOST_NODES && !search.stopped;
        let at_most = if complete {
            search.best.max(floor)
        } else {
            bound
        };
        Found {
            at_most,
            pattern: search.found.map(|pattern| (pattern, search.best)),
        }
    }

    /// Patterns worth more than `floor`, each the best among those with the same largest item,
    /// the most valuable first. The first is the best of all.
    pub fn best_by_largest(
        &self,
        capacity: i64,
        floor: i64,
        meter: &mut Meter<'_>,
    ) -> (i64, Vec<Valued>) {
        let overall = self.search(capacity, floor, meter);
        let mut patterns: Vec<_> = overall.pattern.into_iter().collect();
        if self.is_exact() {
            for row in 1..self.offers.len() {
                // Only where the largest item of this suffix is needed for its best value.
                if self.bound(row, capacity) > self.bound(row + 1, capacity) {
                    patterns.extend(self.search_from(row, capacity, floor, meter).pattern);
                }
            }
        }
        patterns.sort_by(|a, b| b.1.cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
        patterns.dedup();
        (overall.at_most, patterns)
    }
}

/// One row from the next, as if all copies fitted everywhere.
fn take_all(target: &mut [i64], next: &[i64], offer: &Offer) {
    let all = offer.price.saturating_mul(i64::from(offer.most));
    for (cell, &rest) in target.iter_mut().zip(next) {
        *cell = rest.saturating_add(all).min(MOST_VALUE);
    }
}

/// One row from the next: `target[c] = max over t of next[c - t size] + t price`. Returns the work.
fn fill_row(target: &mut [i64], next: &[i64], offer: &Offer, divisor: i64) -> u64 {
    target.copy_from_slice(next);
    let columns = target.len();
    let size = usize::try_from(offer.size / divisor).unwrap_or(usize::MAX);
    if size >= columns {
        return columns as u64 * CELL_WORK; // usize to u64 loses nothing
    }
    if size == 0 {
        // Rounded down to nothing.
        take_all(target, next, offer);
        return columns as u64 * CELL_WORK;
    }
    let fits = (columns - 1) / size;
    if offer.most as usize >= fits {
        for column in size..columns {
            let with = target[column - size] + offer.price; // in range: column >= size
            if with > target[column] {
                target[column] = with;
            }
        }
        return columns as u64 * CELL_WORK;
    }
    if offer.most > MOST_COPIES {
        fill_by_window(target, next, size, offer);
        return columns as u64 * WINDOW_WORK;
    }
    let mut value = 0;
    for used in 1..=offer.most as usize {
        value += offer.price;
        let shift = used * size;
        for (cell, &rest) in target.iter_mut().skip(shift).zip(next) {
            let with = rest + value;
            if with > *cell {
                *cell = with;
            }
        }
    }
    columns as u64 * u64::from(offer.most) * CELL_WORK
}

/// The same whatever `most` is: along the capacities that are a size apart, the best of a window that slides.
///
/// O(capacity) time. Source: Pferschy, Computing 63 (1999) 419-430 (from memory).
fn fill_by_window(target: &mut [i64], next: &[i64], size: usize, offer: &Offer) {
    let price = i128::from(offer.price);
    let most = offer.most as usize; // u32 into usize
    // Candidates that may still be the best: their place and what they are worth there, the best first.
    let mut window: VecDeque<(usize, i128)> = VecDeque::new();
    for first in 0..size {
        window.clear();
        let cells = target.iter_mut().zip(next).skip(first).step_by(size);
        for (place, (cell, &rest)) in cells.enumerate() {
            // One place on, every candidate is worth one piece more: so the places count off.
            let paid = price * place as i128; // a place in memory
            let worth = i128::from(rest) - paid;
            while window.back().is_some_and(|&(_, other)| other <= worth) {
                window.pop_back();
            }
            window.push_back((place, worth));
            while window.front().is_some_and(|&(at, _)| at + most < place) {
                window.pop_front();
            }
            let best = window.front().map_or(worth, |&(_, worth)| worth) + paid;
            *cell = i64::try_from(best).unwrap_or(MOST_VALUE);
        }
    }
}

struct Search<'t, 'm> {
    table: &'t Table,
    best: i64,
    found: Option<Vec<(u32, u32)>>,
    path: Vec<(u32, u32)>,
    nodes: u64,
    /// Nodes and offers passed over, of which there may be many more.
    steps: u64,
    stopped: bool,
    meter: &'t mut Meter<'m>,
}

impl Search<'_, '_> {
    /// Whether the limits allow more; looked at now and then.
    fn may_go_on(&mut self) -> bool {
        self.steps += 1;
        if self.steps.is_multiple_of(LOOK_EVERY) {
            self.stopped = !self.meter.spend(0);
        }
        !self.stopped
    }

    /// Tries every number of the offer at `row`, most first, where the bound allows it.
    fn visit(&mut self, row: usize, capacity: i64, value: i64) {
        let table = self.table;
        let mut row = row;
        // None of an offer is what is tried last, and that goes on here: with a call each, calls would lie
        // within each other as deep as there are offers.
        loop {
            if value + table.bound(row, capacity) <= self.best || !self.may_go_on() {
                return;
            }
            let Some(&offer) = table.offers.get(row) else {
                self.best = value;
                self.found = Some(self.path.clone());
                return;
            };
            row += 1;
            if offer.size > capacity {
                continue;
            }
            let mut most = i64::from(offer.most).min(capacity / offer.size);
            if !table.apart.is_empty() {
                most = most.min(table.most_beside(&self.path, offer.item));
            }
            for used in (1..=most).rev() {
                if !self.may_try() {
                    return;
                }
                let value = value + used * offer.price;
                let rest = capacity - used * offer.size;
                if value + table.bound(row, rest) <= self.best {
                    continue;
                }
                // `used` is at most `offer.most`, a u32.
                let count = u32::try_from(used).unwrap_or(offer.most);
                self.path.push((offer.item, count));
                self.visit(row, rest, value);
                self.path.pop();
            }
            if !self.may_try() {
                return;
            }
        }
    }

    /// Counts a node; false where there are too many.
    fn may_try(&mut self) -> bool {
        self.nodes += 1;
        self.nodes < MOST_NODES && !self.stopped
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::clock::Deadline;
    use proptest::prelude::*;

    /// Every way to fill, tried one by one.
    fn brute(offers: &[Offer], capacity: i64) -> i64 {
        let Some((offer, rest)) = offers.split_first() else {
            return 0;
        };
        let most = i64::from(offer.most).min(capacity / offer.size);
        (0..=most)
            .map(|used| used * offer.price + brute(rest, capacity - used * offer.size))
            .max()
            .unwrap_or(0)
    }

    /// Ten sizes, ten copies each, on a bar of a thousand.
    fn many() -> Vec<Offer> {
        let offer = |item: u32| Offer {
            item,
            size: 97 - 7 * i64::from(item),
            most: 10,
            price: 100 - 8 * i64::from(item),
        };
        (0..10).map(offer).collect()
    }

    /// A table that was left when time was up bounds from above still, and does not pass for exact.
    #[test]
    fn a_table_cut_short_is_an_upper_bound() {
        let mut free = Meter::new(u64::MAX, Deadline::never(), None, None);
        let whole = Table::new(many(), 1000, &mut free);
        assert!(whole.is_exact());
        for limit in [1, 3_000, 30_000] {
            let mut meter = Meter::new(limit, Deadline::never(), None, None);
            let cut = Table::new(many(), 1000, &mut meter);
            assert!(!cut.is_exact(), "{limit}");
            for capacity in [0, 100, 500, 1000] {
                let exact = whole.search(capacity, 0, &mut free).at_most;
                assert!(cut.bound(0, capacity) >= exact, "{limit}, {capacity}");
                let found = cut.search(capacity, 0, &mut meter);
                assert!(found.at_most >= exact, "{limit}, {capacity}");
            }
        }
    }

    proptest! {
        /// However many copies there may be: by their definition, one after the other.
        #[test]
        fn a_window_fills_a_row_as_copies_do(
            next in prop::collection::vec(0_i64..500, 1..90),
            (size, most, price) in (1_usize..12, 1_u32..40, 1_i64..60),
        ) {
            let offer = Offer { item: 0, size: 1, most, price };
            let mut row = next.clone();
            fill_by_window(&mut row, &next, size, &offer);
            for (column, &cell) in row.iter().enumerate() {
                let copies = (0..=most as usize).take_while(|used| used * size <= column);
                let worth = (0_i64..).zip(copies).map(|(price_of, used)| {
                    next[column - used * size] + price_of * price
                });
                prop_assert_eq!(Some(cell), worth.max(), "{}", column);
            }
        }

        #[test]
        fn the_best_pattern_is_found_with_fine_and_coarse_tables(
            raw in prop::collection::vec((1_i64..40, 1_u32..4, 1_i64..100), 1..7),
            capacity in 1_i64..120,
            stretch in prop::sample::select(vec![1_i64, 1_000_003]),
        ) {
            let mut offers: Vec<Offer> = raw.iter().enumerate().map(|(item, &(size, most, price))| Offer {
                item: u32::try_from(item).unwrap_or(0), size: size * stretch, most, price,
            }).collect();
            offers.sort_by_key(|offer| -offer.size);
            let capacity = capacity * stretch;
            let expected = brute(&offers, capacity);
            let mut meter = Meter::new(u64::MAX, Deadline::never(), None, None);
            let table = Table::new(offers.clone(), capacity, &mut meter);
            let found = table.search(capacity, 0, &mut meter);
            prop_assert_eq!(found.at_most, expected);
            if expected > 0 {
                let (pattern, value) = found.pattern.ok_or_else(|| TestCaseError::fail("no pattern"))?;
                prop_assert_eq!(value, expected);
                let mut size = 0;
                let mut total = 0;
                for (item, count) in pattern {
                    let offer = offers.iter().find(|o| o.item == item).ok_or_else(|| TestCaseError::fail("item"))?;
                    prop_assert!(count <= offer.most);
                    size += offer.size * i64::from(count);
                    total += offer.price * i64::from(count);
                }
                prop_assert!(size <= capacity);
                prop_assert_eq!(total, expected);
            }
            let (at_most, patterns) = table.best_by_largest(capacity, 0, &mut meter);
            prop_assert_eq!(at_most, expected);
            prop_assert!(patterns.first().is_none_or(|first| first.1 == expected));
        }
    }
}
