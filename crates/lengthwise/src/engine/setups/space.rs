//! What plans of the same cost may use, and where a search among them stands.

use super::floor::Floor;
use crate::engine::bound::{by_length, finest_scale};
use crate::engine::instance::{Instance, Kind, Packing, Pattern};
use crate::engine::pricing::{Offer, Table};
use crate::engine::refutation::Refutation;
use crate::engine::work::Meter;

/// Sets of prices that patterns are held against.
pub(super) const GAUGES: usize = 2;

/// Plans that cut exactly what is needed, at exactly this cost and second measure.
pub(super) struct Space<'i> {
    /// Without runs: the parts of the chosen splits are pieces.
    pub instance: &'i Instance,
    pub cost: i128,
    pub tie: i128,
    pub gauges: [Gauge; GAUGES],
    /// Bounds on how many patterns are needed.
    pub floors: Vec<Floor>,
    /// No bar holds more kinds of piece.
    most_distinct: usize,
}

/// Whole-number prices, and what all bars of a plan may lose against them together.
///
/// With `V_s` the most that a bar of kind `s` holds, let `W_s` be the larger of `V_s` and the scaled cost.
/// The bars of a plan of cost `C` lose `sum (W_s - value)`, which is `scale C - sum d p` and what limited
/// kinds hold beyond their cost: no pattern of it can lose more.
pub(super) struct Gauge {
    worth: Vec<i64>,
    loss: i128,
    pub table: Table,
}

/// What is still to be cut, the bars that are used, and what may still be lost.
#[derive(Clone, Debug)]
pub(super) struct State {
    pub demand: Vec<u32>,
    pub used: Vec<u32>,
    pub losses: [i128; GAUGES],
}

/// An entry, or nothing past the end; every place asked for comes from the instance itself.
pub(super) fn at<T: Copy + Default>(all: &[T], place: usize) -> T {
    all.get(place).copied().unwrap_or_default()
}

/// Of which kind a bar is as a place.
pub(super) fn place(kind: u32) -> usize {
    kind as usize // u32 into usize
}

/// Bars of a kind that a plan of this cost can use.
pub(super) fn most_bars(kind: &Kind, cost: i128, pieces: u64) -> u32 {
    let afforded = cost.checked_div(i128::from(kind.cost));
    let by_cost = afforded.map_or(u32::MAX, |bars| u32::try_from(bars).unwrap_or(u32::MAX));
    let by_pieces = u32::try_from(pieces).unwrap_or(u32::MAX);
    let available = kind.available.unwrap_or(u32::MAX);
    if kind.run.is_some() {
        0
    } else {
        by_cost.min(by_pieces).min(available)
    }
}

/// The problem that is left when the splits of runs stay as they are: their parts are pieces.
pub(super) fn without_runs(instance: &Instance, packing: &Packing) -> Instance {
    let mut plain = instance.clone();
    plain.runs.clear();
    for item in &mut plain.items {
        item.demand = 0;
    }
    for kind in plain.kinds.iter_mut().filter(|kind| kind.run.is_some()) {
        *kind = Kind {
            capacity: 0,
            available: Some(0),
            run: None,
            ..*kind
        };
    }
    for (pattern, uses) in on_bars(packing) {
        for &(item, count) in &pattern.counts {
            if let Some(item) = plain.items.get_mut(place(item)) {
                item.demand += count * uses; // at most the demand of the whole
            }
        }
    }
    plain
}

/// The patterns of bars, each once.
pub(super) fn on_bars(packing: &Packing) -> Vec<(Pattern, u32)> {
    let bars = packing.uses.iter();
    let mut bars: Vec<(Pattern, u32)> = bars
        .filter(|(pattern, uses)| pattern.split.is_none() && *uses > 0)
        .cloned()
        .collect();
    bars.sort();
    bars.dedup_by(|next, kept| {
        let alike = next.0 == kept.0;
        if alike {
            kept.1 += next.1; // no more than there are bars
        }
        alike
    });
    bars
}

impl Gauge {
    fn new(
        instance: &Instance,
        (prices, scale): (&[i64], i64),
        cost: i128,
        meter: &mut Meter<'_>,
    ) -> Gauge {
        let held = Refutation::from_prices(instance, prices, meter);
        let pieces = instance.whole().pieces();
        let scaled = |kind: &Kind| kind.cost.saturating_mul(scale);
        let kinds = instance.kinds.iter().zip(&held.most);
        let excess: i128 = kinds
            .clone()
            .map(|(kind, &most)| {
                let over = i128::from(most) - i128::from(scaled(kind));
                over.max(0) * i128::from(most_bars(kind, cost, pieces))
            })
            .sum();
        let worth = kinds.map(|(kind, &most)| most.max(scaled(kind)));
        let offers = (0_u32..).zip(&instance.items).zip(prices);
        let offers =
            offers
                .filter(|((_, data), _)| data.demand > 0)
                .map(|((item, data), &price)| Offer {
                    item,
                    size: data.size,
                    most: data.demand,
                    price,
                });
        Gauge {
            worth: worth.collect(),
            loss: i128::from(scale) * cost + excess - held.total,
            table: Table::new(offers.collect(), instance.largest_capacity(), meter),
        }
    }

    /// What a bar of a kind is held against.
    pub fn worth(&self, kind: u32) -> i64 {
        at(&self.worth, place(kind))
    }

    fn value(&self, pattern: &Pattern) -> i128 {
        let mut row = 0;
        let mut value = 0;
        for &(item, count) in &pattern.counts {
            while let Some(offer) = self.table.offer(row) {
                if offer.item >= item {
                    if offer.item == item {
                        value += i128::from(offer.price) * i128::from(count);
                    }
                    break;
                }
                row += 1;
            }
        }
        value
    }
}

impl<'i> Space<'i> {
    /// All plans of this cost and second measure. `prices` are those of the engine and their scale, where
    /// they are of these items.
    pub fn new(
        instance: &'i Instance,
        (cost, tie): (i128, i128),
        prices: Option<(&[i64], i64)>,
        meter: &mut Meter<'_>,
    ) -> Space<'i> {
        let scale = finest_scale(instance);
        let by_length = by_length(instance, scale).prices;
        let by_length = (by_length.as_slice(), scale);
        let prices =
            prices.filter(|(prices, scale)| prices.len() == instance.items.len() && *scale > 0);
        let gauges = [prices.unwrap_or(by_length), by_length];
        Space {
            gauges: gauges.map(|prices| Gauge::new(instance, prices, cost, meter)),
            floors: Vec::new(),
            most_distinct: most_distinct(instance, &instance.whole().demand),
            instance,
            cost,
            tie,
        }
    }

    /// Where nothing is chosen yet.
    pub fn start(&self) -> State {
        let [first, second] = &self.gauges;
        State {
            demand: self.instance.whole().demand,
            used: vec![0; self.instance.kinds.len()],
            losses: [first.loss, second.loss],
        }
    }

    /// Takes a pattern so many times; [`Space::put_back`] undoes it.
    pub fn take(&self, state: &mut State, pattern: &Pattern, times: u32) {
        for &(item, count) in &pattern.counts {
            if let Some(demand) = state.demand.get_mut(place(item)) {
                *demand -= count * times; // the caller has seen that so many are needed
            }
        }
        self.lose(state, pattern, -i128::from(times));
        if let Some(used) = state.used.get_mut(place(pattern.kind)) {
            *used += times;
        }
    }

    /// Undoes [`Space::take`].
    pub fn put_back(&self, state: &mut State, pattern: &Pattern, times: u32) {
        for &(item, count) in &pattern.counts {
            if let Some(demand) = state.demand.get_mut(place(item)) {
                *demand += count * times;
            }
        }
        self.lose(state, pattern, i128::from(times));
        if let Some(used) = state.used.get_mut(place(pattern.kind)) {
            *used -= times;
        }
    }

    fn lose(&self, state: &mut State, pattern: &Pattern, times: i128) {
        for (gauge, loss) in self.gauges.iter().zip(&mut state.losses) {
            let lost = i128::from(gauge.worth(pattern.kind)) - gauge.value(pattern);
            *loss += lost * times;
        }
    }

    /// How many more bars of a kind can be used.
    pub fn most_more(&self, state: &State, kind: u32) -> u32 {
        let Some(data) = self.instance.kinds.get(place(kind)) else {
            return 0;
        };
        let used = at(&state.used, place(kind));
        let available = data.available.unwrap_or(u32::MAX).saturating_sub(used);
        let (cost, tie) = self.spent(state);
        // What is left of a pack that is begun costs nothing more.
        let begun = (data.pack - used % data.pack) % data.pack;
        let sale = i128::from(data.cost) * i128::from(data.pack);
        let sales = (self.cost - cost).max(0).checked_div(sale);
        let by_cost = sales.map(|sales| sales * i128::from(data.pack) + i128::from(begun));
        let by_tie = (self.tie - tie).max(0).checked_div(i128::from(data.tie));
        let most = by_cost.into_iter().chain(by_tie).min();
        let most = most.map_or(u32::MAX, |most| u32::try_from(most).unwrap_or(u32::MAX));
        most.min(available)
    }

    /// Whether a piece may lie on bars of a kind.
    pub fn may_hold(&self, kind: u32, item: u32) -> bool {
        let kind = self.instance.kinds.get(place(kind));
        kind.is_none_or(|kind| self.instance.may_be_of(kind.batch, &[(item, 1)]))
    }

    /// Cost and second measure of the bars that are used.
    pub fn spent(&self, state: &State) -> (i128, i128) {
        let kinds = self.instance.kinds.iter().zip(&state.used);
        kinds.fold((0, 0), |(cost, tie), (kind, &used)| {
            let bought = i128::from(used.div_ceil(kind.pack)) * i128::from(kind.pack);
            (
                cost + bought * i128::from(kind.cost),
                tie + i128::from(used) * i128::from(kind.tie),
            )
        })
    }

    /// Whether cost and second measure are those of the plan.
    pub fn is_as_dear(&self, state: &State) -> bool {
        self.spent(state) == (self.cost, self.tie)
    }

    /// At least so many more patterns are needed.
    pub fn needs(&self, state: &State) -> u32 {
        let by_distinct = parts_of(&state.demand, self.most_distinct);
        let floors = self.floors.iter();
        let by_prices = floors.map(|floor| floor.needs(self.instance, self.cost, state));
        by_prices.max().unwrap_or(0).max(by_distinct)
    }
}

/// At least so many patterns are needed because no bar holds all kinds of piece at once.
pub(super) fn by_distinct(instance: &Instance, demand: &[u32]) -> u32 {
    parts_of(demand, most_distinct(instance, demand))
}

fn parts_of(demand: &[u32], most_distinct: usize) -> u32 {
    let distinct = demand.iter().filter(|demand| **demand > 0).count();
    u32::try_from(distinct.div_ceil(most_distinct.max(1))).unwrap_or(u32::MAX)
}

/// No bar holds more kinds of piece than the shortest of them.
fn most_distinct(instance: &Instance, demand: &[u32]) -> usize {
    let mut rest = instance.largest_capacity();
    let items = instance.items.iter().zip(demand);
    let fits = items
        .rev()
        .filter(|(_, demand)| **demand > 0)
        .take_while(|(item, _)| {
            rest -= item.size;
            rest >= 0
        });
    fits.count()
}
