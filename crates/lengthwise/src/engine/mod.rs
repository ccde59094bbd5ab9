//! The optimisation, in whole numbers: from an [`Instance`] to its best packing and a bound.

mod blend;
mod bound;
mod branch;
mod construct;
mod counts;
mod dive;
mod enumerate;
mod feasible;
mod generate;
mod instance;
#[cfg(feature = "internals")]
pub mod internals;
mod joins;
mod master;
mod mixes;
mod offcuts;
mod pairs;
mod pool;
mod pricing;
mod question;
mod recover;
mod refutation;
mod runs;
mod scan;
mod search;
mod setups;
mod simplex;
mod work;

use bound::{Bound, by_length, finest_scale};
use dive::{Style, dive};
use feasible::{Feasible, feasible};
use generate::{Generated, Until, generate};
use master::Prices;
use pool::Pool;
use refutation::Refutation;
use scan::{Proof, scan, settle_tie};
use search::Search;

pub(crate) use instance::{Instance, Item, Kind, Packing, gcd};
pub(crate) use joins::{Room, without_idle_joints};
pub(crate) use offcuts::{Found, Measures, offcuts};
pub(crate) use runs::Run;
pub(crate) use setups::{Known, fewest_setups};
pub(crate) use work::Meter;

use crate::plan::{Effort, Stop};

/// Dives on the whole before the questions begin. Later ones rarely help.
const DIVES: usize = 6;

/// The style of the n-th dive: the most obvious first, then slower, then departing from it, each
/// time one step later.
fn style(dive: usize) -> Style {
    const ROUND_FROM: [f64; 4] = [0.8, 2.0, 0.6, 2.0];
    let round_from = ROUND_FROM
        .get(dive % ROUND_FROM.len())
        .copied()
        .unwrap_or(2.0);
    Style {
        round_from,
        second_choice_at: (dive / 2).checked_sub(1),
    }
}

/// What the engine came to.
pub(crate) struct Answer {
    /// The best packing, with its cost.
    pub best: Option<(i128, Packing)>,
    /// At least so many pieces stay over, where it is proven that there is no packing.
    pub left_over: i128,
    /// No packing costs less.
    pub bound: i128,
    /// Whole-number prices that prove it, one an item.
    pub prices: Vec<i64>,
    /// What one unit of cost counts in prices.
    pub scale: i64,
    /// What refuted the mixes between the two bounds.
    pub proof: Proof,
    /// Whether no packing of this cost has less of the second measure.
    pub tie_settled: bool,
    /// Why the search ended, where the bound was not met.
    pub stop: Option<Stop>,
    pub effort: Effort,
}

/// Finds the cheapest packing and proves it, as far as the limits let it. `known` is a bound that was
/// proven by other means: a packing that meets it ends the search.
pub(crate) fn minimise(instance: &Instance, known: i128, meter: Meter<'_>) -> Answer {
    minimise_below(instance, known, None, meter)
}

/// The same where packings that cost `below` or more are of no use: that none costs less ends the search
/// too, with whatever packing is at hand then.
pub(crate) fn minimise_below(
    instance: &Instance,
    known: i128,
    below: Option<i128>,
    mut meter: Meter<'_>,
) -> Answer {
    let (mut pool, mut effort, mut proof) = (Pool::default(), Effort::default(), Proof::default());
    let mut search = Search::new(instance, &mut meter, &mut pool, &mut effort);
    search.below = below;
    search.raise_bound(known);
    search.by_hand();
    if search.best.is_none() {
        search.by_hand_where_scarce();
    }
    search.by_hand_without_scarce();
    search.improve_bound(by_length(instance, search.scale));
    let prices = search.root(None);
    let (mut root_prices, scale) = (search.bound.prices.clone(), search.scale);
    for number in 0..DIVES {
        if search.is_over() {
            break;
        }
        dive(&mut search, style(number), prices.as_ref());
    }
    if search.is_coarse() && !search.is_over() {
        search.finest = usize::MAX;
        let prices = search.root(prices.as_ref());
        root_prices.clone_from(&search.bound.prices);
        dive(&mut search, style(0), prices.as_ref());
    }
    let mut left_over = 0;
    if search.best.is_none() && !search.is_over() {
        match feasible(&mut search) {
            Feasible::Packing(packing) => search.offer(packing),
            Feasible::Impossible(pieces) => left_over = pieces,
            Feasible::Unknown => {}
        }
    }
    if left_over == 0 && !search.is_over() {
        search.first_refutations(&root_prices, &mut proof);
        let centre = search.bars_of_best();
        scan(&mut search, &centre, &mut proof);
    }
    let is_best = |search: &Search<'_, '_>| {
        let best = search.best.as_ref();
        best.is_none_or(|(cost, _)| *cost <= search.bound.value)
    };
    let tie_settled = search.is_closed() && is_best(&search) && {
        search.first_refutations(&root_prices, &mut proof);
        settle_tie(&mut search, &mut proof)
    };
    let (closed, best, bound) = (search.is_closed(), search.best.take(), search.bound.value);
    meter.spend(0); // a program that ran out of time may be all there was to notice
    let stop = (!closed).then(|| meter.stopped().unwrap_or(Stop::Exhausted));
    effort.work = meter.spent();
    Answer {
        best,
        left_over,
        bound,
        prices: root_prices,
        scale,
        proof,
        tie_settled,
        stop,
        effort,
    }
}

/// What plain length proves, where lengths are too fine for more.
pub(crate) fn by_length_alone(instance: &Instance) -> Answer {
    let scale = finest_scale(instance);
    let Bound { value, prices } = by_length(instance, scale);
    Answer {
        best: None,
        left_over: 0,
        bound: value,
        prices,
        scale,
        proof: Proof::default(),
        tie_settled: false,
        stop: Some(Stop::Exhausted),
        effort: Effort::default(),
    }
}

impl Search<'_, '_> {
    /// Column generation on the whole instance: the exact root bound, and patterns for the dives.
    fn root(&mut self, guide: Option<&Prices>) -> Option<Prices> {
        if self.is_over() {
            return None;
        }
        let whole = self.instance.whole();
        let beat = self.cost_to_beat();
        let met = |bound: i128| beat.is_some_and(|beat| bound >= beat);
        self.keeps_bounds = true;
        let generated = generate(self, &whole, guide, Until::BoundMeetsValue, met);
        self.keeps_bounds = false;
        let Generated { prices, bound, .. } = generated.ok()?;
        let is_without = self.bound.prices.iter().all(|&price| price == 0);
        if bound.value >= self.bound.value || is_without {
            // Where plain length proves as much, these prices still refute more.
            self.bound = Bound {
                value: bound.value.max(self.bound.value),
                prices: bound.prices,
            };
        }
        Some(prices)
    }

    /// How many bars of each kind the best packing has.
    fn bars_of_best(&self) -> Vec<f64> {
        let mut bars = vec![0.0; self.instance.kinds.len()];
        for (pattern, uses) in self.best.iter().flat_map(|(_, packing)| &packing.uses) {
            if let Some(bars) = bars.get_mut(pattern.kind as usize) {
                *bars += f64::from(*uses);
            }
        }
        bars
    }

    /// What is known before the first question: the root prices, and the length that pieces can fill.
    fn first_refutations(&mut self, prices: &[i64], proof: &mut Proof) {
        if !proof.refutations.is_empty() {
            return;
        }
        let sizes = self.instance.lengths();
        for prices in [prices, &sizes] {
            let refutation = Refutation::from_prices(self.instance, prices, self.meter);
            proof.refutations.push(refutation);
        }
    }
}
