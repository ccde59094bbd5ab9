//! From rows to checked quotes: every fault of every quote, each once.

use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};

use itertools::Itertools;

#[cfg(feature = "serde")]
use serde::{Deserialize, Serialize};

use super::{MOST_QUOTES, Part, Quoted, Quotes};
use crate::fault::{Fault, FaultKind, Faults};
use crate::job::{Ceilings, HandRow, JobInput, Material, PieceRow, Saw, StockRow, name_key};
use crate::length::{Length, Unit};
use crate::price::Price;

/// An alternative: what could be bought of whom.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct Quote {
    /// What it is called.
    pub name: String,
    /// What it offers, with prices; the charge for delivery stands in its rows.
    pub stock: Vec<StockRow>,
}

/// Quotes for a list of pieces as they were written, not yet checked.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(default, deny_unknown_fields))]
pub struct QuotesInput {
    /// The list of pieces.
    pub pieces: Vec<PieceRow>,
    /// What is in hand.
    pub in_hand: Vec<HandRow>,
    /// The alternatives, at most [`MOST_QUOTES`].
    pub quotes: Vec<Quote>,
    /// The saw and the person at it.
    pub saw: Saw,
}

impl QuotesInput {
    /// Checks all quotes, each as a job of its own. A quote need not offer every material, but some quote
    /// or the bars in hand must; and each has prices, since they are compared by money. Quotes of a material
    /// that is in hand state one blade and one shortest part.
    ///
    /// # Errors
    /// Every fault there is, each once, in the order of sources and lines.
    pub fn validate(self) -> Result<Quotes, Faults> {
        self.validate_within(&Ceilings::default())
    }

    /// The same with other ceilings for each job.
    ///
    /// # Errors
    /// As [`QuotesInput::validate`].
    pub fn validate_within(self, ceilings: &Ceilings) -> Result<Quotes, Faults> {
        let mut faults = Vec::new();
        if self.quotes.len() > MOST_QUOTES {
            faults.push(Fault {
                kind: FaultKind::TooLarge,
                origin: None,
                column: Some("quotes".to_owned()),
                found: self.quotes.len().to_string(),
                accepted: format!("at most {MOST_QUOTES}, of which every set can be looked at"),
            });
        }
        let asked = Asked::of(&self.pieces);
        for quote in &self.quotes {
            self.check(quote, &asked, ceilings, &mut faults);
        }
        self.check_offered(&asked, &mut faults);
        if faults.is_empty() {
            self.sorted(&asked, ceilings)
        } else {
            faults.sort_by(|a, b| a.origin.cmp(&b.origin));
            Err(Faults(faults))
        }
    }

    /// The job of one quote with everything that is asked for.
    fn whole(&self, quote: &Quote) -> JobInput {
        JobInput {
            pieces: self.pieces.clone(),
            stock: quote.stock.clone(),
            in_hand: self.in_hand.clone(),
            saw: self.saw.clone(),
        }
    }

    fn check(&self, quote: &Quote, asked: &Asked, ceilings: &Ceilings, faults: &mut Vec<Fault>) {
        let found = match self.whole(quote).validate_within(ceilings) {
            Ok(_) => vec![],
            Err(Faults(found)) => found,
        };
        // What one quote does not offer another may; and rows without a price are told of below.
        let is_kept = |fault: &Fault| match fault.kind {
            FaultKind::NoStockOffered => asked.is_nameless(),
            FaultKind::WorthWithoutPrices => false,
            _ => true,
        };
        let mut known: HashSet<String> = faults.iter().map(Fault::to_string).collect();
        let new = found.into_iter().filter(is_kept);
        faults.extend(new.filter(|fault| known.insert(fault.to_string())));
        faults.extend(deliveries_that_differ(quote));
        for rows in asked.rows_of(quote).into_values() {
            if rows.iter().all(|row| row.price.is_none()) {
                faults.extend(rows.into_iter().map(no_price));
            }
        }
    }

    /// Whether every material is offered by some quote or in hand.
    fn check_offered(&self, asked: &Asked, faults: &mut Vec<Fault>) {
        if asked.is_nameless() && !self.quotes.is_empty() {
            return; // checked with each quote
        }
        let stock = self.quotes.iter().flat_map(|quote| &quote.stock);
        let offered = stock.map(|row| &row.material);
        let offered = asked.groups(offered.chain(self.in_hand.iter().map(|row| &row.material)));
        let missing = self.pieces.iter().filter_map(|row| {
            let group = asked.group(&row.material)?;
            (!offered.contains(&group)).then_some((group, row))
        });
        for (group, row) in missing.sorted_by_key(|(group, _)| *group) {
            let name = asked.names.get(group).map_or("", String::as_str);
            faults.push(Fault {
                kind: FaultKind::NoStockOffered,
                origin: Some(row.origin.clone()),
                column: Some("material".to_owned()),
                found: format!("\"{name}\", which no quote offers"),
                accepted: "a material that some quote offers, or that is in hand".to_owned(),
            });
        }
    }

    /// The jobs to plan, once nothing is at fault.
    fn sorted(self, asked: &Asked, ceilings: &Ceilings) -> Result<Quotes, Faults> {
        let mut jobs = Vec::new();
        let in_hand = asked.groups(self.in_hand.iter().map(|row| &row.material));
        let groups = || 0..asked.names.len();
        let mut offered_somewhere = vec![false; asked.names.len()];
        for (place, quote) in self.quotes.iter().enumerate() {
            let offers = asked.groups(quote.stock.iter().map(|row| &row.material));
            let offered: Vec<usize> = offers.into_iter().collect();
            for &group in &offered {
                if let Some(offered) = offered_somewhere.get_mut(group) {
                    *offered = true;
                }
            }
            let with_hand = offered.iter().copied().filter(|at| in_hand.contains(at));
            let with_hand: Vec<usize> = with_hand.collect();
            for (materials, from_hand) in [(offered, false), (with_hand, true)] {
                if !materials.is_empty() {
                    let input = self.part(quote, asked, &materials, from_hand);
                    jobs.push(Part {
                        job: input.validate_within(ceilings)?,
                        materials,
                        quote: Some(place),
                        from_hand,
                    });
                }
            }
        }
        let rest: Vec<usize> = groups()
            .filter(|&group| !offered_somewhere.get(group).copied().unwrap_or(true))
            .collect();
        if !rest.is_empty() {
            jobs.push(Part {
                job: self
                    .part(&Quote::default(), asked, &rest, true)
                    .validate_within(ceilings)?,
                materials: rest,
                quote: None,
                from_hand: true,
            });
        }
        let faults = self.blades_that_differ(asked, &jobs);
        if !faults.is_empty() {
            return Err(Faults(faults));
        }
        Ok(Quotes {
            materials: asked.names.clone(),
            quotes: self.quotes.iter().map(Quoted::of).collect(),
            jobs,
        })
    }

    /// A material in hand is cut with one blade and by one rule, whoever the rest is bought from: else its
    /// plan from hand would be one of a quote that nothing is bought from.
    fn blades_that_differ(&self, asked: &Asked, jobs: &[Part]) -> Vec<Fault> {
        let rows_of = self.quotes.iter().map(|quote| asked.rows_of(quote));
        let rows_of: Vec<_> = rows_of.collect();
        let mut first: BTreeMap<usize, (usize, &Material)> = BTreeMap::new();
        let mut faults = Vec::new();
        for part in jobs.iter().filter(|part| part.from_hand) {
            for (&group, material) in part.materials.iter().zip(part.job.materials()) {
                let Some(quote) = part.quote else {
                    continue;
                };
                let &mut (before, known) = first.entry(group).or_insert((quote, material));
                let shortest = |of: &Material| -> Vec<Length> {
                    let runs = of.pieces().iter().filter_map(|piece| piece.run());
                    runs.map(|run| run.shortest()).collect()
                };
                let (column, kind) = if known.kerf() != material.kerf() {
                    ("kerf", FaultKind::KerfDiffers)
                } else if shortest(known) != shortest(material) {
                    ("shortest", FaultKind::RowsDiffer)
                } else {
                    continue;
                };
                let row = rows_of.get(quote).and_then(|of| of.get(&group)?.first());
                let name = self.quotes.get(before);
                let name = name.map_or("", |quote| quote.name.as_str());
                let what = match column {
                    "kerf" => format!(
                        "a blade of {} where that of {name} is {}",
                        material.kerf().text(Unit::Mm),
                        known.kerf().text(Unit::Mm)
                    ),
                    _ => format!("another shortest part than {name} has"),
                };
                faults.push(Fault {
                    kind,
                    origin: row.map(|row| row.origin.clone()),
                    column: Some(column.to_owned()),
                    found: format!("{what}, of a material that is in hand too"),
                    accepted: "the same in every quote that offers it".to_owned(),
                });
            }
        }
        faults
    }

    /// The job of some materials of one quote, all of which it offers; with nothing of them to be had where
    /// they come from hand alone, so that blades and other settings are the same.
    fn part(&self, quote: &Quote, asked: &Asked, materials: &[usize], from_hand: bool) -> JobInput {
        let groups: HashSet<usize> = materials.iter().copied().collect();
        let is_in = |name: &str| {
            let group = asked.group(name);
            group.is_some_and(|group| groups.contains(&group))
        };
        let is_named = |&group: &usize| asked.names.get(group).is_some_and(|name| !name.is_empty());
        // What nobody asks for is kept for a note, unless it could be taken for what has no name.
        let is_noted = materials.iter().all(is_named);
        let is_kept = |row: &&StockRow| {
            is_in(&row.material) || (is_noted && asked.group(&row.material).is_none())
        };
        let mut stock: Vec<StockRow> = quote.stock.iter().filter(is_kept).cloned().collect();
        for row in &mut stock {
            row.delivery = None; // counted apart
        }
        if from_hand {
            stock.retain(|row| is_in(&row.material));
            for row in &mut stock {
                row.available = Some(0);
                row.breaks.clear();
            }
        }
        let pieces = self.pieces.iter().filter(|row| is_in(&row.material));
        let in_hand = self.in_hand.iter().filter(|row| is_in(&row.material));
        JobInput {
            pieces: pieces.cloned().collect(),
            in_hand: in_hand.cloned().collect(),
            stock,
            saw: self.saw.clone(),
        }
    }
}

impl Quoted {
    fn of(quote: &Quote) -> Quoted {
        let mut stated = quote.stock.iter().filter_map(|row| row.delivery);
        Quoted {
            name: quote.name.clone(),
            delivery: stated.next().unwrap_or(Price::ZERO),
        }
    }
}

/// Rows that state another charge than the first: one of each source, within which they are compared
/// like those of any job.
fn deliveries_that_differ(quote: &Quote) -> Vec<Fault> {
    let stated = quote.stock.iter();
    let mut stated = stated.filter_map(|row| Some((&row.origin, row.delivery?)));
    let Some((first, known)) = stated.next() else {
        return Vec::new();
    };
    let mut sources = HashSet::from([&first.source]);
    let others = stated.filter(|(origin, _)| sources.insert(&origin.source));
    let differ = others.filter(|(_, charge)| *charge != known);
    differ
        .map(|(origin, charge)| Fault {
            kind: FaultKind::RowsDiffer,
            origin: Some(origin.clone()),
            column: Some("delivery".to_owned()),
            found: charge.to_string(),
            accepted: format!(
                "{known}, as in {first}: one charge for a delivery of everything of a quote"
            ),
        })
        .collect()
}

fn no_price(row: &StockRow) -> Fault {
    Fault {
        kind: FaultKind::NotPriced,
        origin: Some(row.origin.clone()),
        column: Some("price".to_owned()),
        found: "nothing".to_owned(),
        accepted: "a price: quotes are compared by money".to_owned(),
    }
}

/// The materials that the pieces ask for.
struct Asked {
    /// As first written, in order; one without a name where no piece names any.
    names: Vec<String>,
    /// The place of each, by its name as written and by the name that counts as the same.
    places: HashMap<String, usize>,
}

impl Asked {
    fn of(pieces: &[PieceRow]) -> Asked {
        let mut names: Vec<String> = Vec::new();
        let mut known: HashSet<String> = HashSet::new();
        for row in pieces {
            let name = row.material.trim();
            if known.insert(name_key(name)) {
                names.push(name.to_owned());
            }
        }
        if names.len() == 2 {
            // Without a name the only one there is is meant.
            names.retain(|name| !name.is_empty());
        }
        let written = names.iter().cloned().zip(0..);
        let keys = names.iter().map(|name| name_key(name)).zip(0..);
        let places = keys.chain(written).collect();
        Asked { names, places }
    }

    /// Whether no piece names its material, so that whatever one is offered is meant.
    fn is_nameless(&self) -> bool {
        self.names.len() == 1 && self.names.iter().all(String::is_empty)
    }

    /// Which of the materials a name stands for.
    fn group(&self, name: &str) -> Option<usize> {
        if self.names.len() == 1 && (name.trim().is_empty() || self.is_nameless()) {
            return Some(0);
        }
        let as_written = self.places.get(name.trim());
        as_written
            .or_else(|| self.places.get(&name_key(name)))
            .copied()
    }

    /// The rows of a quote for each material.
    fn rows_of<'q>(&self, quote: &'q Quote) -> BTreeMap<usize, Vec<&'q StockRow>> {
        let mut rows: BTreeMap<usize, Vec<&StockRow>> = BTreeMap::new();
        for row in &quote.stock {
            if let Some(group) = self.group(&row.material) {
                rows.entry(group).or_default().push(row);
            }
        }
        rows
    }

    /// The materials that some names stand for, in order.
    fn groups<'n>(&self, names: impl Iterator<Item = &'n String>) -> BTreeSet<usize> {
        names.filter_map(|name| self.group(name)).collect()
    }
}
