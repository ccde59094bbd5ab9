//! The exact knapsack behind a certificate: the most valuable pieces that fit on one bar.
//!
//! Bounded knapsack by dynamic programming (Bellman), counts split into powers of two, as in
//! Martello & Toth, Knapsack Problems (1990); from memory. Two forms of the same program: a table
//! over every capacity, and a list of the states that no other state beats. Sizes and capacities
//! are divided by the greatest common divisor of the sizes first, which keeps both small.

use std::cmp::{Ordering, Reverse};
use std::ops::Add;

use super::work::Work;

/// Longest table, in entries: 64 MB of 8 bytes each.
const LONGEST_TABLE: u64 = 8_000_000;
/// Table work, in entries written, that is done without a try at the list of states: some tens of
/// milliseconds. Above it the list is nearly always shorter by far, since little beats the floor.
const QUICK_TABLE: u128 = 50_000_000;
/// Table work beyond which a bound is left unchecked: some tens of seconds.
const LONGEST_TABLE_WORK: u128 = 20_000_000_000;
/// Longest list of states: 64 MB for the list and its successor.
const MOST_STATES: usize = 2_000_000;
/// States made in all before the list is given up: a few seconds.
const MOST_STATE_WORK: usize = 60_000_000;
/// Steps for each entry of a table, for each state, and for each item, each bundle of its copies and each
/// query before either.
const STEPS_OF_ENTRY: u64 = 2;
/// Passes over a table that take as long as making room for it.
const PASSES_FOR_ROOM: usize = 16;
const STEPS_OF_STATE: u64 = 60;
const STEPS_OF_ITEM: u64 = 200;

/// Pieces of one length.
#[derive(Clone, Copy, Debug)]
pub(super) struct Item {
    /// Length and cut, above zero.
    pub size: i128,
    /// What one is worth.
    pub price: u64,
    /// How many there are.
    pub demand: u64,
}

/// A question: is more than `floor` possible within `capacity`?
#[derive(Clone, Copy, Debug)]
pub(super) struct Query {
    /// Usable length and cut.
    pub capacity: i128,
    /// Values up to this are of no interest.
    pub floor: u128,
}

/// For each query the larger of its floor and the best value within its capacity, exactly;
/// `None` where that would take too much work, or more than is left.
pub(super) fn best_values(items: &[Item], queries: &[Query], work: &Work) -> Option<Vec<u128>> {
    work.take_times(items.len().checked_add(queries.len())?, STEPS_OF_ITEM)?;
    let reduced = Reduced::new(items, queries)?;
    work.spend(reduced.bundles.len(), STEPS_OF_ITEM)?;
    let table_work = reduced.table_work();
    let table_fits = reduced.largest <= LONGEST_TABLE;
    if table_fits && table_work <= QUICK_TABLE {
        reduced.take_table(work)?;
        return reduced.by_table(queries);
    }
    reduced.by_states(queries, work).or_else(|| {
        (table_fits && table_work <= LONGEST_TABLE_WORK)
            .then(|| reduced.take_table(work))
            .flatten()?;
        reduced.by_table(queries)
    })
}

/// Some copies of one item, taken all or none.
#[derive(Clone, Copy)]
struct Bundle {
    size: u64,
    price: u128,
    /// Size and price of a single copy.
    one: (u64, u64),
}

/// The problem in the smallest whole sizes.
struct Reduced {
    /// Most value for its size first.
    bundles: Vec<Bundle>,
    /// The capacity of each query.
    capacities: Vec<u64>,
    largest: u64,
}

impl Reduced {
    /// `None` where a size is not positive or too large to count.
    fn new(items: &[Item], queries: &[Query]) -> Option<Reduced> {
        let largest = queries.iter().map(|query| query.capacity).max();
        let largest = largest.unwrap_or(0).max(0);
        let useful = |item: &&Item| item.price > 0 && item.demand > 0 && item.size <= largest;
        let useful: Vec<&Item> = items.iter().filter(useful).collect();
        if useful.iter().any(|item| item.size <= 0) {
            return None;
        }
        let unit = useful
            .iter()
            .fold(0, |unit, item| gcd(unit, item.size))
            .max(1);
        let shrink = |length: i128| u64::try_from(length.max(0) / unit).ok();
        let largest = shrink(largest)?;
        let mut bundles = Vec::new();
        for item in useful {
            let size = shrink(item.size)?;
            split(
                size,
                item.price,
                item.demand.min(largest / size),
                &mut bundles,
            );
        }
        bundles.sort_by(by_worth);
        let capacities = queries.iter().map(|query| shrink(query.capacity));
        Some(Reduced {
            bundles,
            capacities: capacities.collect::<Option<_>>()?,
            largest,
        })
    }

    fn table_work(&self) -> u128 {
        let bundles = u64::try_from(self.bundles.len()).unwrap_or(u64::MAX);
        u128::from(bundles) * u128::from(self.largest)
    }

    /// Takes the work of a table: as much as some passes makes room for it.
    fn take_table(&self, work: &Work) -> Option<()> {
        let passes = self.bundles.len().checked_add(PASSES_FOR_ROOM)?;
        let entries = self.largest.checked_add(1)?;
        let words = if self.is_narrow() { 1 } else { 2 };
        work.take_times(passes, entries.checked_mul(STEPS_OF_ENTRY * words)?)
    }

    /// Whether all values fit 64 bits, as they nearly always do: half the memory and twice the speed.
    fn is_narrow(&self) -> bool {
        u64::try_from(self.ceiling()).is_ok()
    }

    /// No packing within the largest capacity is worth more than this.
    fn ceiling(&self) -> u128 {
        let worth = |bundle: &Bundle| fraction(self.largest, bundle.one);
        self.bundles.iter().map(worth).max().unwrap_or(0)
    }

    fn by_table(&self, queries: &[Query]) -> Option<Vec<u128>> {
        if self.is_narrow() {
            let bundles = self.bundles.iter();
            let narrow =
                bundles.map(|bundle| Some((bundle.size, u64::try_from(bundle.price).ok()?)));
            self.look_up(
                &table(self.largest, narrow.collect::<Option<Vec<_>>>()?)?,
                queries,
            )
        } else {
            let wide = self
                .bundles
                .iter()
                .map(|bundle| (bundle.size, bundle.price));
            self.look_up(&table(self.largest, wide.collect::<Vec<_>>())?, queries)
        }
    }

    fn look_up<V: Copy + Into<u128>>(&self, best: &[V], queries: &[Query]) -> Option<Vec<u128>> {
        let both = self.capacities.iter().zip(queries);
        both.map(|(&capacity, query)| {
            let best = *best.get(usize::try_from(capacity).ok()?)?;
            Some(best.into().max(query.floor))
        })
        .collect()
    }

    fn by_states(&self, queries: &[Query], work: &Work) -> Option<Vec<u128>> {
        let rest = Rest::new(&self.bundles);
        let mut states = 0;
        let both = self.capacities.iter().zip(queries);
        both.map(|(&capacity, query)| {
            let asked = (capacity, query.floor);
            best_state(&self.bundles, &rest, asked, (&mut states, work))
        })
        .collect()
    }
}

/// Splits `count` copies into bundles of 1, 2, 4, ... and a remainder: every count from 0 to
/// `count` is the sum of some of them, and no sum is larger.
fn split(size: u64, price: u64, count: u64, bundles: &mut Vec<Bundle>) {
    let (mut left, mut copies) = (count, 1);
    while left > 0 {
        let taken = copies.min(left);
        bundles.push(Bundle {
            size: size * taken, // at most the largest capacity, since the count was cut to it
            price: u128::from(price) * u128::from(taken),
            one: (size, price),
        });
        left -= taken;
        copies = copies.saturating_mul(2);
    }
}

/// Most value for its size first; then large before small, which fills the bar early.
fn by_worth(a: &Bundle, b: &Bundle) -> Ordering {
    let cross = |one: (u64, u64), other: (u64, u64)| u128::from(one.1) * u128::from(other.0);
    cross(b.one, a.one)
        .cmp(&cross(a.one, b.one))
        .then_with(|| Reverse(a.size).cmp(&Reverse(b.size)))
}

/// The value of `room` filled with fractions of one item, rounded down.
fn fraction(room: u64, (size, price): (u64, u64)) -> u128 {
    u128::from(room) * u128::from(price) / u128::from(size.max(1))
}

/// The best value for every capacity from 0 to `largest`. O(bundles x capacity).
fn table<V>(largest: u64, bundles: Vec<(u64, V)>) -> Option<Vec<V>>
where
    V: Copy + Default + Ord + Add<Output = V>,
{
    let entries = usize::try_from(largest).ok()?.checked_add(1)?;
    let mut best = vec![V::default(); entries];
    for (size, price) in bundles {
        let size = usize::try_from(size).ok()?;
        let mut end = entries;
        // From the top down in strips no longer than the bundle: what a strip reads is not yet
        // written, so no bundle is taken twice. All splits lie at size <= start < end <= entries.
        while end > size {
            let start = end.saturating_sub(size).max(size);
            let (below, strip) = best.split_at_mut(end).0.split_at_mut(start);
            let from = below.split_at(start - size).1;
            for (entry, &without) in strip.iter_mut().zip(from) {
                *entry = (*entry).max(without + price);
            }
            end = start;
        }
    }
    Some(best)
}

/// What the bundles from a place onwards can add, for pruning.
struct Rest {
    /// Size and value of all bundles before each place.
    before: Vec<(u128, u128)>,
    ones: Vec<(u64, u64)>,
}

impl Rest {
    fn new(bundles: &[Bundle]) -> Rest {
        let mut before = vec![(0_u128, 0_u128)];
        let mut sum = (0_u128, 0_u128);
        for bundle in bundles {
            sum.0 += u128::from(bundle.size);
            sum.1 += bundle.price;
            before.push(sum);
        }
        let ones = bundles.iter().map(|bundle| bundle.one).collect();
        Rest { before, ones }
    }

    /// An upper bound for what bundles from `place` on add within `room`: whole bundles in the
    /// order of their worth, then a fraction of the next (Dantzig 1957; from memory).
    fn bound(&self, place: usize, room: u64) -> u128 {
        let Some(&(size, value)) = self.before.get(place) else {
            return 0;
        };
        let limit = size + u128::from(room);
        let next = self.before.partition_point(|&(size, _)| size <= limit);
        let last = next.saturating_sub(1);
        let Some(&(filled, worth)) = self.before.get(last) else {
            return 0;
        };
        let left = u64::try_from(limit - filled).unwrap_or(room);
        let part = self.ones.get(last).map_or(0, |&one| fraction(left, one));
        worth - value + part
    }
}

/// The larger of `floor` and the best value within `capacity`, from a list of states that no
/// other state beats in both size and value; states that cannot rise above the best are dropped.
fn best_state(
    bundles: &[Bundle],
    rest: &Rest,
    (capacity, floor): (u64, u128),
    (made, work): (&mut usize, &Work),
) -> Option<u128> {
    let mut best = floor;
    let mut states: Vec<(u64, u128)> = vec![(0, 0)];
    for (place, bundle) in bundles.iter().enumerate() {
        let with = |&(size, value): &(u64, u128)| {
            let size = size.checked_add(bundle.size)?;
            (size <= capacity).then_some((size, value + bundle.price))
        };
        let reached = states.iter().filter_map(with).map(|(_, value)| value).max();
        best = best.max(reached.unwrap_or(0));
        let mut next: Vec<(u64, u128)> = Vec::with_capacity(states.len());
        let merged = itertools::merge_join_by(
            states.iter().copied(),
            states.iter().filter_map(with),
            |a, b| a.0.cmp(&b.0).then(b.1.cmp(&a.1)).is_le(),
        );
        for state in merged.map(|side| side.into_inner()) {
            let (size, value) = state;
            let beaten = next.last().is_some_and(|last| last.1 >= value);
            if !beaten && value + rest.bound(place + 1, capacity - size) > best {
                next.push(state);
            }
        }
        let more = states.len() + next.len();
        *made += more;
        work.spend(more + 1, STEPS_OF_STATE)?;
        if next.len() > MOST_STATES || *made > MOST_STATE_WORK {
            return None;
        }
        states = next;
    }
    Some(best)
}

/// The greatest common divisor of two numbers that are not negative.
pub(super) fn gcd(a: i128, b: i128) -> i128 {
    if b == 0 { a } else { gcd(b, a % b) }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Every combination in turn: no table, no bundles, no bound.
    fn by_hand(items: &[Item], capacity: i128) -> u128 {
        let Some((item, others)) = items.split_first() else {
            return 0;
        };
        let mut best = 0;
        for copies in 0..=item.demand {
            let room = capacity - item.size * i128::from(copies);
            if room < 0 {
                break;
            }
            let value = u128::from(item.price) * u128::from(copies);
            best = best.max(value + by_hand(others, room));
        }
        best
    }

    fn items() -> impl Strategy<Value = Vec<Item>> {
        let item = (1_i128..40, 0_u64..60, 0_u64..6).prop_map(|(size, price, demand)| Item {
            size,
            price,
            demand,
        });
        prop::collection::vec(item, 0..6)
    }

    fn queries() -> impl Strategy<Value = Vec<Query>> {
        let query =
            (0_i128..120, 0_u128..150).prop_map(|(capacity, floor)| Query { capacity, floor });
        prop::collection::vec(query, 1..4)
    }

    fn expected(items: &[Item], queries: &[Query]) -> Vec<u128> {
        let one = |query: &Query| by_hand(items, query.capacity).max(query.floor);
        queries.iter().map(one).collect()
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2000))]

        #[test]
        fn table_agrees_with_every_combination(items in items(), queries in queries()) {
            let found = Reduced::new(&items, &queries).unwrap().by_table(&queries);
            prop_assert_eq!(found, Some(expected(&items, &queries)));
        }

        #[test]
        fn states_agree_with_every_combination(items in items(), queries in queries()) {
            let found = Reduced::new(&items, &queries).unwrap().by_states(&queries, &Work::new());
            prop_assert_eq!(found, Some(expected(&items, &queries)));
        }

        /// Common factors of the sizes are divided out, and capacities rounded down to them.
        #[test]
        fn sizes_with_a_common_factor(
            items in items(), queries in queries(), factor in 1_i128..1_000_000_000, over in 0_i128..1000,
        ) {
            let over = over % factor;
            let larger: Vec<Item> =
                items.iter().map(|item| Item { size: item.size * factor, ..*item }).collect();
            let wider: Vec<Query> = queries
                .iter()
                .map(|query| Query { capacity: query.capacity * factor + over, ..*query })
                .collect();
            prop_assert_eq!(best_values(&larger, &wider, &Work::new()), Some(expected(&items, &queries)));
        }

        /// Prices beyond 64 bits in sum take the wide table, and the same answer comes out.
        #[test]
        fn prices_near_the_limit(items in items(), queries in queries()) {
            let shift = 57; // prices below 60 stay below 2^63
            let dear: Vec<Item> =
                items.iter().map(|item| Item { price: item.price << shift, ..*item }).collect();
            let high: Vec<Query> =
                queries.iter().map(|query| Query { floor: query.floor << shift, ..*query }).collect();
            let expected: Vec<u128> =
                expected(&items, &queries).iter().map(|value| value << shift).collect();
            let reduced = Reduced::new(&dear, &high).unwrap();
            prop_assert_eq!(reduced.by_table(&high), Some(expected.clone()));
            prop_assert_eq!(reduced.by_states(&high, &Work::new()), Some(expected));
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(200))]

        /// The two forms check each other where every combination would take too long.
        #[test]
        fn table_and_states_agree_on_long_lists(
            sizes in prop::collection::vec((50_i128..2000, 1_u64..100, 1_u64..40), 1..60),
            capacity in 2000_i128..6000,
            per_mille in 0_u128..1000,
        ) {
            let items: Vec<Item> = sizes
                .iter()
                .map(|&(size, noise, demand)| Item {
                    size,
                    price: size as u64 * 1000 - noise,
                    demand,
                })
                .collect();
            let floor = capacity as u128 * per_mille;
            let queries = [capacity, capacity / 2].map(|capacity| Query { capacity, floor });
            let reduced = Reduced::new(&items, &queries).unwrap();
            let by_table = reduced.by_table(&queries);
            prop_assert!(by_table.is_some());
            prop_assert_eq!(by_table, reduced.by_states(&queries, &Work::new()));
        }
    }

    /// Too fine for a table, too many states for a list: the bound is left unchecked, in time.
    #[test]
    fn gives_up_within_its_limits() {
        let mut seed = 1_u64;
        let mut draw = |below: u64| {
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            (seed >> 33) % below
        };
        let items: Vec<Item> = (0..3000)
            .map(|_| {
                let size = 1_000_000_007 + draw(1_000_000_000);
                Item {
                    size: i128::from(size),
                    price: size,
                    demand: 9,
                }
            })
            .collect();
        let query = Query {
            capacity: 97_000_000_019,
            floor: 0,
        };
        assert_eq!(best_values(&items, &[query], &Work::new()), None);
    }
}
