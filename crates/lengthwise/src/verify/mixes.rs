//! Every mix of bars in a range of costs, held against the evidence.
//!
//! Mixes are counted out kind by kind, depth first. A branch is left where an inequality cannot be
//! met whatever the money left buys, or where the range of costs cannot be reached. What speaks
//! against a mix speaks against every mix with fewer bars, so of the last kind only the most that
//! can be afforded are looked at, and all mixes of all costs in the range are done in one pass.

use std::collections::BTreeSet;

use super::boxes::MixBox;
use super::evidence::{Evidence, Inequality};
use super::facts::{Facts, Kind};
use super::knapsack::gcd;
use super::work::Work;

/// Most products of a number of bars and what one holds that are summed up in one walk: a few seconds.
const MOST_PRODUCTS: u64 = 1_000_000_000;
/// Most kinds of bar, each a level of the walk.
const MOST_KINDS: usize = 1_000;
/// Steps for each product, for each inequality that is looked at beside its products, and for each kind of bar
/// where kinds are put in order for one; for each kind of bar and inequality at the beginning of each box.
const STEPS_OF_PRODUCT: u64 = 3;
const STEPS_OF_LOOK: u64 = 40;
const STEPS_OF_ORDER: usize = 30;
const STEPS_OF_BOX: u64 = 100;

/// Which mixes are asked about.
#[derive(Clone, Copy, Debug)]
pub(super) struct Range {
    /// The least cost, in the units of [`Facts`].
    pub from: i128,
    /// Costs below this.
    pub below: i128,
    /// If given, only mixes with less length from hand than this, in nanometres.
    pub hand_below: Option<i128>,
}

impl Range {
    /// Whether it is plain that no mix is in the range.
    pub fn is_empty(&self) -> bool {
        self.from >= self.below || self.hand_below.is_some_and(|hand| hand <= 0)
    }

    /// The same range without costs at its upper end that no whole sales come to.
    fn whole_sales(self, facts: &Facts<'_>) -> Range {
        let step = facts.kinds.iter().map(|kind| kind.sale).fold(0, gcd).max(1);
        Range {
            below: (self.below - 1) / step * step + 1,
            ..self
        }
    }
}

/// What became of the mixes of a range.
pub(super) enum Walked {
    /// Something speaks against each of them.
    Refuted {
        /// The searched mixes that were needed.
        leaned_on: BTreeSet<usize>,
        /// Below this cost prices alone were enough.
        by_prices_below: i128,
    },
    /// Nothing speaks against this one.
    Open { bars: Vec<u64>, cost: i128 },
    /// Too many mixes, or numbers beyond 128 bits.
    OutOfReach,
}

impl Walked {
    /// There was nothing to walk.
    pub fn nothing(range: Range) -> Walked {
        Walked::Refuted {
            leaned_on: BTreeSet::new(),
            by_prices_below: range.below,
        }
    }
}

/// Holds every mix of a range against the evidence, of no kind more bars than pieces.
pub(super) fn walk(
    facts: &Facts<'_>,
    evidence: &Evidence<'_>,
    (range, pieces): (Range, u64),
    boxes: &[MixBox],
) -> Walked {
    if range.is_empty() {
        return Walked::nothing(range);
    }
    let whole = range.whole_sales(facts);
    let mut leaned_on = BTreeSet::new();
    let (mut by_prices_below, mut products) = (range.below, 0);
    let within_reach = |mixes: &&MixBox| is_within_reach(facts, pieces, mixes);
    for mixes in boxes.iter().filter(within_reach) {
        let looks = facts
            .kinds
            .len()
            .checked_mul(evidence.inequalities.len() + 1);
        let taken = looks.and_then(|looks| facts.work.take_times(looks, STEPS_OF_BOX));
        let walk = taken.and_then(|()| Walk::new(facts, evidence, (whole, pieces), mixes));
        let Some(mut walk) = walk else {
            return Walked::OutOfReach;
        };
        walk.products = products;
        match walk.begin() {
            Ok(()) => {}
            Err(End::Open { cost }) if !evidence.incomplete => {
                return Walked::Open {
                    bars: walk.mix,
                    cost,
                };
            }
            Err(_) => return Walked::OutOfReach,
        }
        leaned_on.append(&mut walk.leaned_on);
        by_prices_below = by_prices_below.min(walk.by_prices_below);
        products = walk.products;
    }
    Walked::Refuted {
        leaned_on,
        by_prices_below,
    }
}

/// Why a walk ended early.
enum End {
    /// Nothing speaks against the mix as it stands.
    Open {
        cost: i128,
    },
    OutOfReach,
}

/// What is left to spend.
#[derive(Clone, Copy)]
struct Purse {
    money: i128,
    /// Length from hand; not looked at where it does not matter.
    hand: i128,
}

impl Purse {
    /// Sales of a kind that can be paid for.
    fn affords(self, choice: &Choice) -> u64 {
        let by = |purse: i128, price: i128| match purse.checked_div(price) {
            // No more than there are, so that it fits.
            Some(sales) => u64::try_from(sales).unwrap_or(choice.most_sales),
            None => choice.most_sales,
        };
        let by_hand = choice.hand.map(|length| by(self.hand, length));
        choice
            .most_sales
            .min(by(self.money, choice.sale))
            .min(by_hand.unwrap_or(choice.most_sales))
    }

    fn less(self, choice: &Choice, sales: u64) -> Purse {
        Purse {
            money: self.money - choice.sale * i128::from(sales),
            hand: self.hand - choice.hand.unwrap_or(0) * i128::from(sales),
        }
    }
}

/// A kind whose number is decided in the walk. Money and length of all there are fit 128 bits.
#[derive(Clone, Copy)]
struct Choice {
    kind: usize,
    bars_per_sale: u64,
    /// Sales that the box gives in any case.
    given: u64,
    /// Sales beyond those.
    most_sales: u64,
    /// Money for one sale; zero only where `hand` is given.
    sale: i128,
    /// Length from hand in one sale, above zero, where that is what is limited.
    hand: Option<i128>,
}

/// An inequality, and what the choices from each place onwards can add to what is held.
struct Prepared<'e> {
    inequality: &'e Inequality,
    by_money: Vec<Reach>,
    by_hand: Vec<Reach>,
}

/// What kinds of bar can add: all there are of them, or as much as a purse buys.
#[derive(Clone, Copy)]
struct Reach {
    all: i128,
    /// Held and spent by one sale of the kind that holds most for its price; `None` where that
    /// cannot be told within 128 bits.
    best: Option<(i128, i128)>,
}

impl Reach {
    const NOTHING: Reach = Reach {
        all: 0,
        best: Some((0, 1)),
    };

    fn at_most(self, purse: i128) -> i128 {
        let bought = self
            .best
            .and_then(|(held, spent)| purse.checked_mul(held)?.checked_div(spent));
        bought.map_or(self.all, |bought| bought.min(self.all))
    }

    /// With one more kind, of which a sale costs `spent`; `None` beyond 128 bits.
    fn with(self, held: i128, spent: i128, most: u64) -> Option<Reach> {
        let more = held.checked_mul(i128::from(most))?;
        let best = self.best.and_then(|(other, price)| {
            let better = held.checked_mul(price)? > other.checked_mul(spent)?;
            Some(if better {
                (held, spent)
            } else {
                (other, price)
            })
        });
        Some(Reach {
            all: self.all.checked_add(more)?,
            best,
        })
    }
}

struct Walk<'w> {
    work: &'w Work,
    evidence: &'w Evidence<'w>,
    range: Range,
    choices: Vec<Choice>,
    /// What the choices from each place onwards can cost.
    rest: Vec<i128>,
    /// The one that spoke against the last mix comes first.
    prepared: Vec<Prepared<'w>>,
    mix: Vec<u64>,
    /// What is left to spend at the beginning.
    purse: Purse,
    products: u64,
    leaned_on: BTreeSet<usize>,
    by_prices_below: i128,
}

impl<'w> Walk<'w> {
    /// `None` where sums would not fit 128 bits, or there are too many kinds.
    fn new(
        facts: &'w Facts<'_>,
        evidence: &'w Evidence<'w>,
        (range, pieces): (Range, u64),
        mixes: &MixBox,
    ) -> Option<Walk<'w>> {
        let by_hand = range.hand_below.is_some();
        let mut mix = vec![0; facts.kinds.len()];
        let mut choices = Vec::new();
        for (place, (kind, bars)) in facts.kinds.iter().zip(&mut mix).enumerate() {
            let choice = choice(place, kind, pieces, by_hand, mixes.of(place));
            let is_free = choice.sale == 0 && choice.hand.is_none();
            let more = if is_free { choice.most_sales } else { 0 };
            *bars = (choice.given + more).checked_mul(choice.bars_per_sale)?;
            if !is_free {
                choices.push(choice);
            }
        }
        if choices.len() > MOST_KINDS {
            return None;
        }
        // From hand first, since it limits itself; then the dearest sales, for the cheapest ones
        // use up best what is left.
        choices.sort_by_key(|choice| std::cmp::Reverse((choice.hand, choice.sale)));
        let prepared = evidence.inequalities.iter();
        let prepared = prepared.map(|inequality| Prepared::new(inequality, &choices, &mix));
        let mut purse = Purse {
            money: range.below - 1,
            hand: range.hand_below.map_or(0, |hand| hand - 1),
        };
        for choice in &choices {
            purse = purse.less(choice, choice.given);
        }
        Some(Walk {
            work: &facts.work,
            evidence,
            range,
            purse,
            rest: onwards(&choices, 0, |rest: i128, choice| {
                let all = choice.sale.checked_mul(i128::from(choice.most_sales))?;
                rest.checked_add(all)
            })?,
            prepared: prepared.collect::<Option<_>>()?,
            choices,
            mix,
            products: 0,
            leaned_on: BTreeSet::new(),
            by_prices_below: range.below,
        })
    }

    /// All mixes of the box: at once where one inequality speaks against them, or one by one.
    fn begin(&mut self) -> Result<(), End> {
        let purse = self.purse;
        if purse.money < 0 || purse.hand < 0 || self.is_refuted_whole()? {
            return Ok(()); // more is given than can be paid for, or nothing that is enough
        }
        self.decide(0, purse)
    }

    /// Whether one inequality cannot be met by any mix of the box, though the money is spent in
    /// fractions of sales on what holds most for it.
    fn is_refuted_whole(&mut self) -> Result<bool, End> {
        self.count(self.prepared.len())?;
        let order = self.prepared.len().saturating_mul(STEPS_OF_ORDER);
        let in_order = self.work.take_times(order, self.choices.len() as u64); // widening
        in_order.ok_or(End::OutOfReach)?;
        let (choices, purse) = (&self.choices, self.purse);
        let by_money = choices.iter().all(|choice| choice.hand.is_none());
        Ok(by_money
            && self.prepared.iter().any(|prepared| {
                let short = prepared.inequality.short(&self.mix);
                is_out_of_reach(prepared.inequality, choices, short, purse.money) == Some(true)
            }))
    }

    /// Counts the products of so many inequalities.
    fn count(&mut self, inequalities: usize) -> Result<(), End> {
        let looks = inequalities.max(1);
        let products = looks.saturating_mul(self.mix.len());
        let products = u64::try_from(products).unwrap_or(u64::MAX / 2);
        self.products = self.products.saturating_add(products);
        let steps = STEPS_OF_PRODUCT.saturating_mul(self.mix.len() as u64); // widening
        let taken = self
            .work
            .take_times(looks, steps.saturating_add(STEPS_OF_LOOK));
        if self.products > MOST_PRODUCTS || taken.is_none() {
            return Err(End::OutOfReach);
        }
        Ok(())
    }

    /// Decides the choices from `at` onwards, all before it being in the mix.
    fn decide(&mut self, at: usize, purse: Purse) -> Result<(), End> {
        if !self.comes_to_range(at, purse) || self.is_refuted(at, purse)? {
            return Ok(());
        }
        let Some(&choice) = self.choices.get(at) else {
            return self.judge(None, purse); // there is nothing to choose
        };
        let most = purse.affords(&choice);
        if at + 1 == self.choices.len() {
            self.put(&choice, most);
            self.judge(Some((&choice, purse)), purse.less(&choice, most))?;
        } else {
            for sales in (0..=most).rev() {
                let left = purse.less(&choice, sales);
                if !self.comes_to_range(at + 1, left) {
                    break; // nor do fewer
                }
                self.put(&choice, sales);
                self.decide(at + 1, left)?;
            }
        }
        self.put(&choice, 0);
        Ok(())
    }

    /// Whether the costs of the range can be reached with the choices from `at` onwards.
    fn comes_to_range(&self, at: usize, purse: Purse) -> bool {
        let rest = self.rest.get(at).copied().unwrap_or(0).min(purse.money);
        self.cost(purse) + rest >= self.range.from
    }

    fn put(&mut self, choice: &Choice, sales: u64) {
        if let Some(bars) = self.mix.get_mut(choice.kind) {
            *bars = (choice.given + sales) * choice.bars_per_sale; // as many as there are, at most
        }
    }

    fn cost(&self, purse: Purse) -> i128 {
        self.range.below - 1 - purse.money
    }

    /// Whether an inequality cannot be met whatever the purse buys.
    fn is_refuted(&mut self, at: usize, purse: Purse) -> Result<bool, End> {
        let found = self.prepared.iter().position(|prepared| {
            let short = prepared.inequality.short(&self.mix);
            short > 0 && short > prepared.at_most(at, purse)
        });
        let looks = found.map_or(self.prepared.len(), |found| found + 1);
        self.count(looks)?;
        if let Some(found) = found {
            self.prepared.swap(0, found);
        }
        Ok(found.is_some())
    }

    /// The mix is complete, with the most of the last choice that `before` affords.
    fn judge(&mut self, last: Option<(&Choice, Purse)>, purse: Purse) -> Result<(), End> {
        let cost = self.cost(purse);
        if cost < self.range.from || self.is_refuted(self.choices.len(), purse)? {
            return Ok(());
        }
        let known = self.leaned_on.iter().copied();
        let against = self.evidence.searched_against(&self.mix, known, self.work);
        let Some(against) = against else {
            return Err(End::OutOfReach);
        };
        let Some(place) = against else {
            return Err(End::Open { cost });
        };
        self.leaned_on.insert(place);
        self.count(self.prepared.len())?;
        let least = last.map_or(cost, |(choice, before)| self.least_open(choice, before));
        self.by_prices_below = self.by_prices_below.min(least);
        Ok(())
    }

    /// The least cost in the range at which, with fewer of the last choice, no inequality speaks
    /// against the mix.
    fn least_open(&mut self, choice: &Choice, before: Purse) -> i128 {
        self.put(choice, 0);
        let refuted = self.prepared.iter().filter_map(|prepared| {
            let short = prepared.inequality.short(&self.mix);
            let held = prepared.inequality.held(choice.kind);
            let bars = (short - 1).checked_div(held).filter(|_| short > 0)?;
            Some(bars / i128::from(choice.bars_per_sale.max(1)) + 1)
        });
        let by_evidence = refuted.max().unwrap_or(0);
        let base = self.cost(before);
        let missing = (self.range.from - base).max(0);
        let by_range = missing.checked_div(choice.sale).unwrap_or(0);
        let by_range = by_range + i128::from(by_range * choice.sale < missing);
        base + by_evidence.max(by_range) * choice.sale
    }
}

impl<'e> Prepared<'e> {
    /// `None` where what all bars hold is beyond 128 bits.
    fn new(inequality: &'e Inequality, choices: &[Choice], base: &[u64]) -> Option<Prepared<'e>> {
        let reach = |from_hand: bool| {
            let mut all = choices.iter();
            if all.all(|choice| choice.hand.is_some() != from_hand) {
                return Some(vec![]); // nothing, wherever it is asked for
            }
            onwards(choices, Reach::NOTHING, |reach, choice| {
                if choice.hand.is_some() != from_hand {
                    return Some(reach);
                }
                let per_sale = i128::from(choice.bars_per_sale);
                let held = inequality.held(choice.kind).checked_mul(per_sale)?;
                let spent = choice.hand.unwrap_or(choice.sale);
                reach.with(held, spent, choice.most_sales)
            })
        };
        let (by_money, by_hand) = (reach(false)?, reach(true)?);
        let all = |reach: &[Reach]| reach.first().map_or(0, |reach| reach.all);
        let mut most = all(&by_money).checked_add(all(&by_hand))?;
        for (held, &bars) in inequality.holds.iter().zip(base) {
            most = most.checked_add(held.checked_mul(i128::from(bars))?)?;
        }
        inequality.total.checked_sub(most)?; // so that what any mix falls short by does not overflow
        Some(Prepared {
            inequality,
            by_money,
            by_hand,
        })
    }

    fn at_most(&self, at: usize, purse: Purse) -> i128 {
        let of = |reach: &[Reach], purse: i128| {
            let reach = reach.get(at).copied().unwrap_or(Reach::NOTHING);
            reach.at_most(purse)
        };
        of(&self.by_money, purse.money) + of(&self.by_hand, purse.hand)
    }
}

/// Whether `short` more cannot be held by what `money` buys, in fractions of sales, the one that holds
/// most for its price first; `None` beyond 128 bits.
fn is_out_of_reach(
    inequality: &Inequality,
    choices: &[Choice],
    mut short: i128,
    mut money: i128,
) -> Option<bool> {
    let mut sales = Vec::with_capacity(choices.len());
    for choice in choices {
        let per_sale = i128::from(choice.bars_per_sale);
        let held = inequality.held(choice.kind).checked_mul(per_sale)?;
        held.checked_mul(money.max(choice.sale))?; // so that nothing below overflows
        sales.push((held, choice.sale, i128::from(choice.most_sales)));
    }
    for (_, price, most) in &sales {
        price.checked_mul(*most)?;
    }
    // What is held and what it costs are zero or more, so that no product is larger.
    let largest = |of: fn(&(i128, i128, i128)) -> i128| sales.iter().map(of).max().unwrap_or(0);
    largest(|sale| sale.0).checked_mul(largest(|sale| sale.1))?;
    sales.sort_by(|a, b| (b.0 * a.1).cmp(&(a.0 * b.1)));
    for (held, price, most) in sales {
        if short <= 0 {
            return Some(false);
        }
        if price * most >= money {
            return Some(short.checked_mul(price)? > held * money);
        }
        money -= price * most;
        short -= held.checked_mul(most)?;
    }
    Some(short > 0)
}

/// The most pieces that any plan cuts: of every copy of a run as many as it may have parts.
pub(super) fn pieces(facts: &Facts<'_>) -> u64 {
    let pieces = facts.material.pieces().iter();
    let whole = pieces.filter(|piece| piece.run().is_none());
    let whole = whole.fold(0, |sum: u64, piece| sum.saturating_add(piece.qty()));
    facts.runs.iter().fold(whole, |sum, alike| {
        let joints = alike.joints.map_or(0, |joints| joints.most);
        let joints = joints.min(alike.parting.most_joints());
        let parts = alike.copies().saturating_mul(joints.saturating_add(1));
        sum.saturating_add(parts)
    })
}

/// No more bars than pieces, whole sales, no more than there are.
fn most_sales(kind: &Kind, pieces: u64) -> u64 {
    let per_sale = kind.per_sale.max(1);
    let there = kind.available.map_or(u64::MAX, |bars| bars / per_sale);
    pieces.div_ceil(per_sale).min(there)
}

/// Whether a box gives no more of any kind than is ever looked at.
fn is_within_reach(facts: &Facts<'_>, pieces: u64, mixes: &MixBox) -> bool {
    let mut kinds = facts.kinds.iter().enumerate();
    kinds.all(|(place, kind)| mixes.of(place).0 <= most_sales(kind, pieces))
}

/// A kind of bar as a choice beyond what the box gives.
fn choice(
    place: usize,
    kind: &Kind,
    pieces: u64,
    by_hand: bool,
    (least, most): (u64, u64),
) -> Choice {
    let per_sale = kind.per_sale.max(1);
    Choice {
        kind: place,
        bars_per_sale: per_sale,
        given: least,
        most_sales: most_sales(kind, pieces).min(most).saturating_sub(least),
        sale: kind.sale,
        hand: (by_hand && kind.in_hand).then_some(kind.length),
    }
}

/// Folds from the last choice back to each; entry `n` stands for the choices from `n` onwards.
fn onwards<T: Copy>(
    choices: &[Choice],
    nothing: T,
    with: impl Fn(T, &Choice) -> Option<T>,
) -> Option<Vec<T>> {
    let mut all = vec![nothing];
    let mut sum = nothing;
    for choice in choices.iter().rev() {
        sum = with(sum, choice)?;
        all.push(sum);
    }
    all.reverse();
    Some(all)
}
