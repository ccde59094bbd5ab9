//! The optimisation, in whole numbers: from an [`Instance`] to its best packing and a bound.

mod bound;
mod construct;
mod dive;
mod generate;
mod instance;
mod master;
mod pool;
mod pricing;
mod recover;
mod search;
mod work;

use construct::{Rule, construct, worth_filling};
use dive::{Style, dive};
use generate::generate;
use search::Search;

pub(crate) use instance::{Instance, Item, Kind, Packing};
pub(crate) use work::Meter;

use crate::plan::{Effort, Stop};

/// Dives at the most. The later ones rarely help; an exact search is better use of the time.
const MOST_DIVES: usize = 48;

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
    /// No packing costs less.
    pub bound: i128,
    /// Whole-number prices that prove the bound, one an item.
    pub prices: Vec<i64>,
    /// What one unit of cost counts in prices.
    pub scale: i64,
    /// Why the search ended, where the bound was not met.
    pub stop: Option<Stop>,
    pub effort: Effort,
}

/// Finds the cheapest packing it can and the best bound it can prove.
///
/// `watch` is told the cost of the best packing and the bound as they improve.
pub(crate) fn minimise(
    instance: &Instance,
    start: Option<Packing>,
    meter: Meter<'_>,
    watch: &mut dyn FnMut(Option<i128>, i128),
) -> Answer {
    let mut search = Search::new(instance, meter);
    search.start(start);
    search.root();
    watch(search.cost_to_beat(), search.bound.value);
    for number in 0..MOST_DIVES {
        if search.is_over() {
            break;
        }
        dive(&mut search, style(number), None);
        watch(search.cost_to_beat(), search.bound.value);
    }
    search.answer()
}

/// At least so many pieces are left over however the bars are cut; zero where that is not proven.
///
/// Pieces that fit a kind without limit can always be cut. For the others, whole-number prices of at
/// most one per piece prove it: their sum less what all bars can take is what stays uncut
/// (Farkas' lemma, with the prices of column generation).
pub(crate) fn least_left_over(instance: &Instance, meter: Meter<'_>) -> i128 {
    let unlimited = instance
        .kinds
        .iter()
        .filter(|kind| kind.available.is_none());
    let always = unlimited.map(|kind| kind.capacity).max().unwrap_or(0);
    let items = instance
        .items
        .iter()
        .filter(|item| item.size > always)
        .copied()
        .collect();
    let kinds = instance
        .kinds
        .iter()
        .filter(|kind| kind.available.is_some());
    let kinds = kinds
        .map(|kind| Kind {
            cost: 0,
            pack: 1,
            ..*kind
        })
        .collect();
    let scarce = Instance { items, kinds };
    let mut search = Search::new(&scarce, meter);
    search.ceiling = 1.0; // a piece left over counts one
    search.root();
    search.bound.value
}

impl Search<'_, '_> {
    /// First plans, without prices.
    fn start(&mut self, start: Option<Packing>) {
        if let Some(packing) = start {
            self.offer(packing);
        }
        let whole = self.instance.whole();
        for rule in [Rule::LargestFirst, Rule::LeastSlack] {
            let quick = rule == Rule::LargestFirst || worth_filling(whole.pieces());
            if quick && let Some(packing) = construct(self.instance, &whole, rule, &mut self.meter)
            {
                self.offer(packing);
            }
        }
    }

    /// Column generation on the whole instance: the exact root bound, and patterns for the dives.
    fn root(&mut self) {
        let whole = self.instance.whole();
        let beat = self.cost_to_beat();
        let met = |bound: i128| beat.is_some_and(|beat| bound >= beat);
        if let Ok(generated) = generate(self, &whole, None, met) {
            self.improve_bound(generated.bound);
        }
    }

    fn answer(self) -> Answer {
        let closed = self.is_closed();
        let stop = self.meter.stopped().unwrap_or(Stop::Exhausted);
        Answer {
            bound: self.bound.value,
            prices: self.bound.prices,
            scale: self.scale,
            stop: (!closed).then_some(stop),
            effort: Effort {
                work: self.meter.spent(),
                ..self.effort
            },
            best: self.best,
        }
    }
}
