//! Quotes: alternatives for what could be bought, each with its charge for delivery, compared for one list
//! of pieces.
//!
//! A quote is a stock of its own: a merchant, a material, a standard length. Of each quote every material
//! that it offers is planned by itself, bars in hand used where that pays, and so is every material from
//! what is in hand alone. Then the materials are shared out over the quotes: each from one of them, or from
//! hand alone; whoever anything is bought from charges delivery once. Of all sets of quotes the cheapest is
//! taken: [`cheapest_split`].
//!
//! ```
//! use lengthwise::quotes::{Quote, QuotesInput};
//! use lengthwise::{Length, Limits, Origin, Price, Unit, job::*};
//! let at = |source: &str, line| Origin { source: source.into(), line };
//! let price = |text| Price::parse(text, false);
//! let quote = |name: &str, each, delivery| -> Result<Quote, Box<dyn std::error::Error>> {
//!     Ok(Quote {
//!         name: name.into(),
//!         stock: vec![StockRow {
//!             price: Some(price(each)?),
//!             delivery: Some(price(delivery)?),
//!             ..StockRow::new(at(name, 2), Length::parse("3m", Unit::Mm)?)
//!         }],
//!     })
//! };
//! let compared = QuotesInput {
//!     pieces: vec![PieceRow {
//!         qty: 7.into(),
//!         ..PieceRow::new(at("pieces", 2), Length::parse("2210", Unit::Mm)?)
//!     }],
//!     quotes: vec![quote("hill", "5.90", "9.00")?, quote("quay", "5.40", "35.00")?],
//!     ..QuotesInput::default()
//! }
//! .validate()?
//! .compare(&Limits::default());
//! let totals = compared.alone.iter().map(|way| way.as_ref().map(|way| way.total.to_string()));
//! assert_eq!(totals.collect::<Vec<_>>(), [Some("50.30".into()), Some("72.80".into())]);
//! let cheapest = compared.cheapest.ok_or("no way")?;
//! assert!(cheapest.is_proven());
//! assert_eq!(cheapest.total, price("50.30")?);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod input;
mod split;

pub use input::{Quote, QuotesInput};
pub use split::{Estimate, MOST_QUOTES, Split, TooManyQuotes, cheapest_split};

#[cfg(feature = "serde")]
use serde::{Deserialize, Serialize};

use std::collections::HashSet;

use crate::clock::Deadline;
use crate::job::{Job, Note};
use crate::plan::{Cutting, MaterialPlan, Outcome, Plan, Value};
use crate::price::Price;
use crate::solve::{Limits, solve};

/// Checked quotes for a checked list of pieces.
#[derive(Clone, Debug)]
pub struct Quotes {
    materials: Vec<String>,
    quotes: Vec<Quoted>,
    jobs: Vec<Part>,
}

/// A quote by its name and what it charges.
#[derive(Clone, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct Quoted {
    /// The name.
    pub name: String,
    /// Charged once if anything is bought; nothing unless stated.
    pub delivery: Price,
}

/// One of the jobs that the comparison is made of.
#[derive(Clone, Debug)]
struct Part {
    job: Job,
    /// Which material, among all, each of the job's is.
    materials: Vec<usize>,
    /// Whose stock it is.
    quote: Option<usize>,
    /// Whether nothing of that may be bought.
    from_hand: bool,
}

/// Where the plan of a material stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct PlanAt {
    /// The plan, among [`Comparison::plans`], and the job, among [`Quotes::jobs`].
    pub plan: usize,
    /// The material in it.
    pub material: usize,
}

/// Quotes compared. Materials and quotes are counted in their order throughout.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
#[non_exhaustive]
pub struct Comparison {
    /// The names of the materials, in the order in which the pieces name them.
    pub materials: Vec<String>,
    /// The quotes.
    pub quotes: Vec<Quoted>,
    /// The plans, one for each of [`Quotes::jobs`].
    pub plans: Vec<Plan>,
    /// The plan of each quote for each material; `None` where it does not offer that.
    pub offers: Vec<Vec<Option<PlanAt>>>,
    /// The best plan for each material that buys nothing; `None` where nothing of it is in hand.
    pub from_hand: Vec<Option<PlanAt>>,
    /// For each quote the cheapest way to do the whole job with nothing from another; `None` where there
    /// is none, or none was found.
    pub alone: Vec<Option<Way>>,
    /// The cheapest way of all; `None` where no material has a plan.
    pub cheapest: Option<Way>,
    /// No plan for each material that buys nothing costs less; `None` where there is none.
    from_hand_bounds: Vec<Option<Price>>,
}

/// Each material from one quote, or from hand alone.
#[derive(Clone, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct Way {
    /// For each material where it comes from; `None` for a material without any plan, which only the
    /// cheapest way of all may have.
    pub sources: Vec<Option<Source>>,
    /// What the materials come to: what is bought, and the worth of what is used from hand.
    pub material: Price,
    /// What the deliveries come to.
    pub delivery: Price,
    /// Both together.
    pub total: Price,
    /// No such way costs less.
    pub bound: Price,
}

/// Where a material comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct Source {
    /// The quote; `None` where nothing is bought.
    pub quote: Option<usize>,
    /// Its plan.
    pub plan: PlanAt,
}

impl Way {
    /// Whether no way costs less.
    pub fn is_proven(&self) -> bool {
        self.bound == self.total
    }
}

impl Quotes {
    /// The jobs that are planned for the comparison, so that their plans can be rechecked one by one.
    pub fn jobs(&self) -> impl Iterator<Item = &Job> {
        self.jobs.iter().map(|part| &part.job)
    }

    /// The names of the materials, in the order in which the pieces name them.
    pub fn materials(&self) -> &[String] {
        &self.materials
    }

    /// What the person should know before trusting the comparison: the notes of all quotes, each once.
    pub fn notes(&self) -> Vec<Note> {
        let mut notes: Vec<Note> = Vec::new();
        let (mut told, mut told_of_openings) = (HashSet::new(), false);
        let bought = self.jobs.iter().filter(|part| !part.from_hand);
        for note in bought.flat_map(|part| part.job.notes()) {
            let is_of_openings = matches!(note, Note::OpeningsNotDeducted { .. });
            // One is enough: it speaks of all rows.
            if !(is_of_openings && told_of_openings) && told.insert(note) {
                notes.push(note.clone());
                told_of_openings |= is_of_openings;
            }
        }
        notes
    }

    /// Plans all of them and finds the cheapest way. A limit by the clock is for all together, one of work
    /// for each material of each quote.
    pub fn compare(&self, limits: &Limits<'_>) -> Comparison {
        let end = Deadline::after(limits.goes_by(), limits.time);
        let count = self.jobs.len();
        let plans = self.jobs.iter().enumerate().map(|(place, part)| {
            let left = u32::try_from(count - place).unwrap_or(u32::MAX);
            let limits = Limits {
                time: end.share(left).left(),
                ..*limits
            };
            solve(&part.job, &limits)
        });
        let plans: Vec<Plan> = plans.collect();
        self.with_plans(plans)
    }

    /// The comparison that follows from plans of these jobs.
    fn with_plans(&self, plans: Vec<Plan>) -> Comparison {
        let materials = self.materials.len();
        let mut compared = Comparison {
            offers: vec![vec![None; materials]; self.quotes.len()],
            from_hand: vec![None; materials],
            from_hand_bounds: vec![None; materials],
            alone: Vec::new(),
            cheapest: None,
            materials: self.materials.clone(),
            quotes: self.quotes.clone(),
            plans,
        };
        for (plan, part) in self.jobs.iter().enumerate() {
            for (material, &of_all) in part.materials.iter().enumerate() {
                compared.enter(part, of_all, PlanAt { plan, material });
            }
        }
        let all: Vec<usize> = (0..compared.quotes.len()).collect();
        let alone = all.iter().map(|&quote| {
            let way = compared.cheapest_of(&[quote]);
            way.filter(|way| way.sources.iter().all(Option::is_some))
        });
        compared.alone = alone.collect();
        compared.cheapest = compared.cheapest_of(&all);
        compared
    }
}

impl Comparison {
    /// The plan of a material.
    pub fn plan(&self, at: PlanAt) -> Option<&MaterialPlan> {
        self.plans.get(at.plan)?.materials.get(at.material)
    }

    /// The same where there is one.
    pub fn cutting(&self, at: PlanAt) -> Option<&Cutting> {
        match &self.plan(at)?.outcome {
            Outcome::Planned(cutting) => Some(cutting),
            _ => None,
        }
    }

    /// The materials for which no plan was found anywhere: of each whether it is proven that there is none.
    pub fn without_plan(&self) -> impl Iterator<Item = (usize, bool)> {
        let open = |material: &usize| {
            let quotes = self.offers.iter();
            let mut all = quotes.filter_map(|offers| offers.get(*material).copied().flatten());
            let from_hand = self.from_hand.get(*material).copied().flatten();
            let planned = |at: &PlanAt| self.cutting(*at).is_some();
            !all.any(|at| planned(&at)) && !from_hand.is_some_and(|at| planned(&at))
        };
        (0..self.materials.len()).filter(open).map(|material| {
            let quotes = self.offers.iter();
            let all = quotes.filter_map(move |offers| offers.get(material).copied().flatten());
            let from_hand = self.from_hand.get(material).copied().flatten();
            let mut plans = all.chain(from_hand).filter_map(|at| self.plan(at));
            let proven = plans.all(|plan| matches!(plan.outcome, Outcome::Impossible(_)));
            (material, proven)
        })
    }

    fn enter(&mut self, part: &Part, of_all: usize, at: PlanAt) {
        let offer = part
            .quote
            .filter(|_| !part.from_hand)
            .and_then(|quote| self.offers.get_mut(quote)?.get_mut(of_all));
        if let Some(offer) = offer {
            *offer = Some(at);
        }
        let buys_nothing = self
            .cutting(at)
            .is_some_and(|cutting| cutting.buy.is_empty());
        if !part.from_hand && !buys_nothing {
            return;
        }
        let estimate = self.estimate(at);
        if part.from_hand
            && let Some(bound) = estimate.map(|estimate| estimate.bound)
            && let Some(known) = self.from_hand_bounds.get_mut(of_all)
        {
            *known = Some(known.map_or(bound, |known| known.min(bound)));
        }
        // Of several the cheapest, and one with a plan before one without.
        let value = |at: PlanAt| self.cutting(at).map(|cutting| money(cutting.value));
        let known = self.from_hand.get(of_all).copied().flatten();
        let is_better = known.is_none_or(|known| match (value(at), value(known)) {
            (Some(new), Some(old)) => new < old,
            (new, old) => new.is_some() && old.is_none(),
        });
        if let Some(place) = self.from_hand.get_mut(of_all).filter(|_| is_better) {
            *place = Some(at);
        }
    }

    /// What is known of a plan for the split that buys nothing.
    fn estimate_from_hand(&self, material: usize) -> Option<Estimate> {
        let value = self.hand(material).and_then(|at| self.cutting(at));
        let value = value.map(|cutting| money(cutting.value));
        let bound = self.from_hand_bounds.get(material).copied().flatten();
        match (value, bound) {
            (None, None) => None,
            (value, bound) => Some(Estimate {
                value,
                bound: bound.into_iter().chain(value).min().unwrap_or_default(),
            }),
        }
    }

    /// What is known of a plan for the split.
    fn estimate(&self, at: PlanAt) -> Option<Estimate> {
        match &self.plan(at)?.outcome {
            Outcome::Planned(cutting) => Some(Estimate {
                value: Some(money(cutting.value)),
                bound: money(cutting.bound),
            }),
            Outcome::Impossible(_) => None,
            Outcome::Unknown(_) => Some(Estimate {
                value: None,
                bound: Price::ZERO,
            }),
        }
    }

    /// The cheapest way with nothing bought beyond these quotes.
    fn cheapest_of(&self, quotes: &[usize]) -> Option<Way> {
        let has_plan: Vec<usize> = (0..self.materials.len())
            .filter(|&material| {
                let from = |at: Option<PlanAt>| at.and_then(|at| self.cutting(at)).is_some();
                let of_quote = |quote: &usize| from(self.offer(*quote, material));
                quotes.iter().any(of_quote) || from(self.hand(material))
            })
            .collect();
        let all = || has_plan.iter().copied();
        let of_quote = |quote: usize| -> Vec<Option<Estimate>> {
            let offers = all().map(|material| self.estimate(self.offer(quote, material)?));
            offers.collect()
        };
        let offers: Vec<_> = quotes.iter().copied().map(of_quote).collect();
        let from_hand: Vec<_> = all()
            .map(|material| self.estimate_from_hand(material))
            .collect();
        let delivery: Vec<Price> = quotes
            .iter()
            .filter_map(|&quote| Some(self.quotes.get(quote)?.delivery))
            .collect();
        let split = cheapest_split(&delivery, &offers, &from_hand).ok()??;
        let mut sources = vec![None; self.materials.len()];
        for (&material, chosen) in has_plan.iter().zip(&split.chosen) {
            let quote = chosen.and_then(|chosen| quotes.get(chosen).copied());
            let plan = match quote {
                Some(quote) => self.offer(quote, material),
                None => self.hand(material),
            };
            if let Some(source) = sources.get_mut(material) {
                *source = plan.map(|plan| Source { quote, plan });
            }
        }
        (!has_plan.is_empty()).then_some(Way {
            sources,
            material: split.material,
            delivery: split.delivery,
            total: split.total,
            bound: split.bound,
        })
    }

    fn offer(&self, quote: usize, material: usize) -> Option<PlanAt> {
        self.offers.get(quote)?.get(material).copied().flatten()
    }

    fn hand(&self, material: usize) -> Option<PlanAt> {
        self.from_hand.get(material).copied().flatten()
    }
}

/// Without prices nothing can be bought: that comes to nothing.
fn money(value: Value) -> Price {
    match value {
        Value::Money(money) => money,
        Value::Bought(_) => Price::ZERO,
    }
}
