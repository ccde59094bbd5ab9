//! From rows to a checked job: one pass per kind of rule, every fault kept.

mod batches;
mod delivery;
mod moves;
mod pieces;
mod runs;
mod stated;

use std::collections::{BTreeMap, HashMap};

use itertools::Itertools;

use super::{
    Bar, Ceilings, HandRow, Job, JobInput, LARGEST_QUANTITY, Material, Note, PieceRow, Saw, Sold,
    SquareOff, StockRow, Supply, breaks, ceilings, marks, size, tally::Tally,
};
use crate::fault::{Ceiling, Fault, FaultKind, Faults, Origin};
use crate::length::{Length, Measure, Unit};
use crate::price::{Price, PriceError};
use batches::Batches;

/// Blade and reserve together may take at most this: 1 m, far above any blade, and small
/// enough that sums over millions of cuts stay exact.
const WIDEST_CUT: Length = Length::from_mm(1000);
/// Most names in the words of one fault.
const NAMED: usize = 20;

/// The whole job by every rule there is.
pub(super) fn validate(input: &JobInput, ceilings: &Ceilings) -> Result<Job, Faults> {
    let mut faults = too_many_rows(input, ceilings.rows);
    if !faults.is_empty() {
        return Err(Faults(faults));
    }
    check_rows(input, ceilings, &mut faults);
    let (drafts, mut notes) = sort_by_material(input, &mut faults);
    let mut materials = Vec::new();
    let mut tally = Tally::new(ceilings);
    for draft in drafts {
        materials.extend(draft.check(&input.saw, &mut tally, &mut faults, &mut notes));
    }
    delivery::check(&input.stock, &mut faults, &mut notes);
    if faults.is_empty() {
        Ok(Job { materials, notes })
    } else {
        // Settings first, then by source and line, so that a person can go down each file.
        faults.sort_by(|a, b| a.origin.cmp(&b.origin));
        Err(Faults(faults))
    }
}

/// Each list that has more rows than it may.
fn too_many_rows(input: &JobInput, most: u64) -> Vec<Fault> {
    let lists = [
        (
            "pieces",
            input.pieces.len(),
            input.pieces.last().map(|row| &row.origin),
        ),
        (
            "stock",
            input.stock.len(),
            input.stock.last().map(|row| &row.origin),
        ),
        (
            "bars in hand",
            input.in_hand.len(),
            input.in_hand.last().map(|row| &row.origin),
        ),
    ];
    let too_many = lists.into_iter().filter(|(_, rows, _)| *rows as u64 > most); // widening
    too_many
        .map(|(list, rows, last)| {
            let found = format!("{rows} rows of {list}");
            ceilings::above(Ceiling::Rows, last, None, found, most)
        })
        .collect()
}

pub(super) fn fault(
    kind: FaultKind,
    origin: &Origin,
    column: &str,
    found: impl Into<String>,
    accepted: impl Into<String>,
) -> Fault {
    Fault {
        kind,
        origin: Some(origin.clone()),
        column: Some(column.to_owned()),
        found: found.into(),
        accepted: accepted.into(),
    }
}

/// Reports faults of one kind in one row: column, what was found, what would be accepted.
fn reporter<'f>(
    kind: FaultKind,
    origin: &'f Origin,
    faults: &'f mut Vec<Fault>,
) -> impl FnMut(&str, String, String) + 'f {
    move |column, found, accepted| faults.push(fault(kind, origin, column, found, accepted))
}

/// Ranges that concern one row alone.
fn check_rows(input: &JobInput, ceilings: &Ceilings, faults: &mut Vec<Fault>) {
    for row in &input.pieces {
        pieces::check_row(row, faults);
        runs::check_row(row, ceilings.joints, faults);
    }
    for row in &input.stock {
        check_length(&row.origin, "length", row.length.length, faults);
        check_price(&row.origin, "price", row.price, faults);
        breaks::check(row, faults);
        check_price(&row.origin, "delivery", row.delivery, faults);
        if let Some(count) = row.available {
            check_available(&row.origin, count, faults);
        }
        if let Sold::Pack(bars) = row.sold
            && !(1..=LARGEST_QUANTITY).contains(&u64::from(bars))
        {
            let accepted = format!("a pack of 1 to {LARGEST_QUANTITY}");
            faults.push(fault(
                FaultKind::Range,
                &row.origin,
                "sold",
                format!("pack of {bars}"),
                accepted,
            ));
        }
    }
    for row in &input.in_hand {
        check_length(&row.origin, "length", row.length.length, faults);
        check_price(&row.origin, "worth", row.worth, faults);
        check_available(&row.origin, row.available, faults);
    }
    let cut = input.saw.kerf.checked_add(input.saw.per_cut);
    if cut.is_none_or(|cut| cut > WIDEST_CUT) {
        faults.push(Fault {
            kind: FaultKind::Range,
            origin: None,
            column: Some("kerf and per-cut".to_owned()),
            found: format!(
                "{} and {}",
                input.saw.kerf.text(Unit::Mm),
                input.saw.per_cut.text(Unit::Mm)
            ),
            accepted: "together at most 1 m".to_owned(),
        });
    }
}

fn check_length(origin: &Origin, column: &str, length: Length, faults: &mut Vec<Fault>) {
    if length.is_zero() {
        let accepted = "a length above 0, such as 2210 or 2.21m";
        faults.push(fault(FaultKind::Range, origin, column, "0", accepted));
    }
}

pub(super) fn check_price(
    origin: &Origin,
    column: &str,
    price: Option<Price>,
    faults: &mut Vec<Fault>,
) {
    if let Some(price) = price.filter(|price| !price.is_exact_in_sums()) {
        faults.push(fault(
            FaultKind::Range,
            origin,
            column,
            price.to_string(),
            PriceError::ACCEPTED,
        ));
    }
}

fn check_available(origin: &Origin, count: u64, faults: &mut Vec<Fault>) {
    if count > LARGEST_QUANTITY {
        let accepted = format!("a whole number from 0 to {LARGEST_QUANTITY}");
        faults.push(fault(
            FaultKind::Range,
            origin,
            "available",
            count.to_string(),
            accepted,
        ));
    }
}

/// The rows of one material.
struct Draft<'a> {
    name: &'a str,
    pieces: Vec<&'a PieceRow>,
    stock: Vec<&'a StockRow>,
    in_hand: Vec<&'a HandRow>,
}

/// Names of materials, walls, batches and groups are compared by this, without regard to case and repeated blanks.
///
/// ```
/// use lengthwise::job::name_key;
/// assert_eq!(name_key(" Roof  batten"), name_key("roof batten"));
/// ```
pub fn key(name: &str) -> String {
    name.split_whitespace().join(" ").to_lowercase()
}

/// Groups the rows; a missing name takes the only name there is.
fn sort_by_material<'a>(
    input: &'a JobInput,
    faults: &mut Vec<Fault>,
) -> (Vec<Draft<'a>>, Vec<Note>) {
    let offered: Vec<(&str, &Origin)> = input
        .stock
        .iter()
        .map(|row| (row.material.as_str(), &row.origin))
        .chain(
            input
                .in_hand
                .iter()
                .map(|row| (row.material.as_str(), &row.origin)),
        )
        .collect();
    let asked: Vec<&str> = input
        .pieces
        .iter()
        .map(|row| row.material.as_str())
        .collect();
    let offered_names = distinct_names(offered.iter().map(|(name, _)| *name));
    let asked_names = distinct_names(asked.iter().copied());
    let only = match (asked_names.as_slice(), offered_names.as_slice()) {
        ([name], _) => Some(*name),
        ([], [name]) => Some(*name),
        _ => None,
    };
    let resolve = |name: &'a str| -> &'a str {
        if name.trim().is_empty() {
            only.unwrap_or("")
        } else {
            name.trim()
        }
    };

    let mut drafts: Vec<Draft<'a>> = Vec::new();
    let mut place: HashMap<String, usize> = HashMap::new();
    for row in &input.pieces {
        let name = resolve(&row.material);
        let at = *place.entry(key(name)).or_insert_with(|| {
            drafts.push(Draft {
                name,
                pieces: vec![],
                stock: vec![],
                in_hand: vec![],
            });
            drafts.len() - 1
        });
        if let Some(draft) = drafts.get_mut(at) {
            draft.pieces.push(row);
        }
    }
    let mut spare: BTreeMap<String, Note> = BTreeMap::new();
    let mut not_asked_for = |name: &str, origin: &Origin| {
        spare.entry(key(name)).or_insert_with(|| Note::NotAskedFor {
            origin: origin.clone(),
            material: name.to_owned(),
        });
    };
    for row in &input.stock {
        let name = resolve(&row.material);
        match place.get(&key(name)).and_then(|&at| drafts.get_mut(at)) {
            Some(draft) => draft.stock.push(row),
            None if name.is_empty() && !asked_names.is_empty() => {
                faults.push(no_material(&row.origin, &asked_names))
            }
            None => not_asked_for(name, &row.origin),
        }
    }
    for row in &input.in_hand {
        let name = resolve(&row.material);
        match place.get(&key(name)).and_then(|&at| drafts.get_mut(at)) {
            Some(draft) => draft.in_hand.push(row),
            None if name.is_empty() && !asked_names.is_empty() => {
                faults.push(no_material(&row.origin, &asked_names))
            }
            None => not_asked_for(name, &row.origin),
        }
    }
    for draft in &drafts {
        if draft.stock.is_empty() && draft.in_hand.is_empty() {
            faults.extend(
                draft
                    .pieces
                    .iter()
                    .map(|row| nothing_offered(row, draft.name, &offered_names)),
            );
        }
    }
    (drafts, spare.into_values().collect())
}

/// A bar that could be of any of several materials.
fn no_material(origin: &Origin, asked: &[&str]) -> Fault {
    let found = "no material, where there are several";
    let accepted = format!("one of them: {}", some_of(asked));
    fault(FaultKind::Value, origin, "material", found, accepted)
}

fn nothing_offered(row: &PieceRow, name: &str, offered: &[&str]) -> Fault {
    let found = if name.is_empty() {
        "no material".to_owned()
    } else {
        format!("\"{name}\", which no stock row offers")
    };
    let accepted = if offered.is_empty() {
        "the material left out, as in the stock".to_owned()
    } else {
        format!("a material of the stock: {}", some_of(offered))
    };
    fault(
        FaultKind::NoStockOffered,
        &row.origin,
        "material",
        found,
        accepted,
    )
}

/// The first names of a list, which stand in the fault of every row.
fn some_of(names: &[&str]) -> String {
    let shown = names.iter().take(NAMED).join(", ");
    match names.len().saturating_sub(NAMED) {
        0 => shown,
        more => format!("{shown} and {more} more"),
    }
}

/// The names that are not empty, as first written, in order.
fn distinct_names<'a>(names: impl Iterator<Item = &'a str>) -> Vec<&'a str> {
    names
        .map(str::trim)
        .filter(|name| !name.is_empty())
        .unique_by(|name| key(name))
        .collect()
}

impl Draft<'_> {
    /// The material, unless a fault makes it meaningless.
    fn check(
        &self,
        saw: &Saw,
        tally: &mut Tally<'_>,
        faults: &mut Vec<Fault>,
        notes: &mut Vec<Note>,
    ) -> Option<Material> {
        if self.stock.is_empty() && self.in_hand.is_empty() {
            return None; // reported when the rows were sorted
        }
        let before = faults.len();
        if tally.too_many_pieces(&self.pieces, faults) {
            return None; // before any of them is made
        }
        let unit = self.pieces.first().map_or(Unit::Mm, |row| row.length.unit);
        let kerf = self.kerf(saw, faults);
        let priced = self.prices(faults);
        let batches = self.batches();
        let bars = self.bars(&batches, saw, faults, notes);
        self.check_kerf_fits(kerf, faults);
        self.note_assumptions(&bars, notes);
        let expanded = pieces::expanded(&self.pieces, faults, notes);
        let stated = stated::stated(&self.stock, faults);
        let (runs, course_groups) = runs::runs(&expanded, stated.shortest, faults);
        let mut pieces = marks::named(&expanded, &runs);
        batches::bind(&expanded, &batches, &mut pieces, faults);
        let material = Material {
            name: self.name.to_owned(),
            unit,
            kerf,
            per_cut: saw.per_cut,
            save_from: stated.save_from.unwrap_or(saw.save_from),
            hold: saw.hold,
            stop_reach: saw.stop_reach,
            prefer: saw.prefer,
            expansion: stated.expansion,
            course_groups,
            priced,
            batches: batches.names,
            pieces,
            bars,
        };
        self.note_batches(&material, notes);
        let origin = self.pieces.first().map(|row| &row.origin);
        size::check(&material, origin, faults);
        tally.check(&material, faults);
        moves::note_movement(&material, saw, notes);
        (faults.len() == before).then_some(material)
    }

    /// The blade that the stock rows state, else the saw's.
    fn kerf(&self, saw: &Saw, faults: &mut Vec<Fault>) -> Length {
        let mut stated = self
            .stock
            .iter()
            .filter_map(|row| row.kerf.map(|kerf| (kerf, *row)));
        let Some((kerf, first)) = stated.next() else {
            return saw.kerf;
        };
        for (other, row) in stated.filter(|(other, _)| *other != kerf) {
            let unit = row.length.unit;
            faults.push(fault(
                FaultKind::KerfDiffers,
                &row.origin,
                "kerf",
                other.text(unit),
                format!(
                    "{}, as in line {}: one blade per material",
                    kerf.text(unit),
                    first.origin.line
                ),
            ));
        }
        if kerf > WIDEST_CUT {
            let accepted = "at most 1 m";
            faults.push(fault(
                FaultKind::Range,
                &first.origin,
                "kerf",
                kerf.text(Unit::Mm),
                accepted,
            ));
        }
        kerf
    }

    fn check_kerf_fits(&self, kerf: Length, faults: &mut Vec<Fault>) {
        let bought = self.stock.iter().map(|row| (row.length, &row.origin));
        let in_hand = self.in_hand.iter().map(|row| (row.length, &row.origin));
        let longest = bought
            .chain(in_hand)
            .max_by_key(|(measure, _)| measure.length);
        let Some((Measure { length, unit }, origin)) = longest else {
            return;
        };
        let stated_by = self.stock.iter().find(|row| row.kerf.is_some());
        if kerf >= length && !length.is_zero() {
            let accepted = format!("less than the longest bar, {}", length.text(unit));
            faults.push(fault(
                FaultKind::KerfTooWide,
                stated_by.map_or(origin, |row| &row.origin),
                "kerf",
                kerf.text(unit),
                accepted,
            ));
        }
    }

    /// Whether there are prices: on all rows or on none.
    fn prices(&self, faults: &mut Vec<Fault>) -> bool {
        let first_priced = self.stock.iter().find(|row| row.price.is_some());
        if let Some(priced) = first_priced {
            for row in self.stock.iter().filter(|row| row.price.is_none()) {
                let accepted = format!(
                    "a price, as in line {}: prices on all rows of a material or on none",
                    priced.origin.line
                );
                faults.push(fault(
                    FaultKind::PricesOnSomeRows,
                    &row.origin,
                    "price",
                    "nothing",
                    accepted,
                ));
            }
        } else if !self.stock.is_empty() {
            for row in &self.in_hand {
                if let Some(worth) = row.worth {
                    let accepted = "no worth, since the stock of this material has no prices";
                    faults.push(fault(
                        FaultKind::WorthWithoutPrices,
                        &row.origin,
                        "worth",
                        worth.to_string(),
                        accepted,
                    ));
                }
            }
        }
        first_priced.is_some()
            || (self.stock.is_empty() && self.in_hand.iter().any(|row| row.worth.is_some()))
    }

    /// The usable kinds of bar; what is left out is noted, in the unit of its own row.
    fn bars(
        &self,
        batches: &Batches,
        saw: &Saw,
        faults: &mut Vec<Fault>,
        notes: &mut Vec<Note>,
    ) -> Vec<Bar> {
        let mut eaten = Vec::new();
        let mut kept = Vec::new();
        for (bar, unit) in self.all_bars(batches, saw) {
            let too_long = saw
                .longest
                .filter(|&longest| bar.length > longest && !bar.is_in_hand());
            if let Some(longest) = too_long {
                let (origin, length) = (bar.origin, bar.length);
                notes.push(Note::LongerThanCarried {
                    origin,
                    length,
                    longest,
                    unit,
                });
            } else if bar.usable().is_zero() {
                eaten.push((bar, unit));
            } else {
                note_metres(&bar, notes);
                note_breaks(&bar, notes);
                kept.push(bar);
            }
        }
        eaten.retain(|(bar, _)| !bar.length.is_zero()); // a length of zero is a fault of its own
        let nothing_left = kept.is_empty() && eaten.iter().any(|(bar, _)| !bar.is_in_hand());
        for (bar, unit) in eaten {
            if nothing_left && !bar.is_in_hand() {
                faults.push(nothing_left_of_any(&bar, unit));
            } else {
                let (origin, length) = (bar.origin, bar.length);
                notes.push(Note::NothingLeftOfBar {
                    origin,
                    length,
                    unit,
                });
            }
        }
        kept
    }

    /// Every row of stock and of bars in hand, with the unit it was written in.
    fn all_bars(&self, batches: &Batches, saw: &Saw) -> impl Iterator<Item = (Bar, Unit)> {
        let bought = self.stock.iter().map(|row| {
            let bar = Bar {
                length: row.length.length,
                square_off: row.square_off.unwrap_or(saw.square_off),
                supply: Supply::Bought {
                    price: row.price,
                    sold: row.sold,
                    available: row.available,
                },
                breaks: row.breaks.clone(),
                batch: batches.of_bar(&row.batch),
                note: row.note.clone(),
                origin: row.origin.clone(),
            };
            (bar, row.length.unit)
        });
        let in_hand = self.in_hand.iter().map(|row| {
            let bar = Bar {
                length: row.length.length,
                square_off: row.square_off.unwrap_or_default(),
                supply: Supply::InHand {
                    worth: row.worth.unwrap_or(Price::ZERO),
                    available: row.available,
                },
                breaks: Vec::new(),
                batch: batches.of_bar(&row.batch),
                note: row.note.clone(),
                origin: row.origin.clone(),
            };
            (bar, row.length.unit)
        });
        bought.chain(in_hand)
    }

    fn note_assumptions(&self, bars: &[Bar], notes: &mut Vec<Note>) {
        let squared = |bar: &&Bar| bar.square_off != SquareOff::default();
        if !bars.iter().any(|bar| squared(&bar)) {
            notes.push(Note::AssumesSquareEnds {
                material: self.name.to_owned(),
            });
        } else if bars.iter().filter(squared).any(|bar| !bar.is_in_hand())
            && let Some(row) = self.in_hand.iter().find(|row| row.square_off.is_none())
        {
            notes.push(Note::HandTakenAsSquare {
                origin: row.origin.clone(),
            });
        }
    }
}

fn note_metres(bar: &Bar, notes: &mut Vec<Note>) {
    if let Supply::Bought {
        sold: Sold::PerMetre,
        available: Some(metres),
        ..
    } = bar.supply
    {
        let bars = bar.bars_available().unwrap_or(0);
        let offered = Length::from_mm(1000).checked_mul(metres);
        if bar.length.checked_mul(bars) != offered {
            notes.push(Note::MetresCutToBars {
                origin: bar.origin.clone(),
                metres,
                bars,
            });
        }
    }
}

/// Breaks that start above what there is.
fn note_breaks(bar: &Bar, notes: &mut Vec<Note>) {
    let last = bar.breaks.last().map(|at| at.from);
    let there = bar.tiers().last().map_or(0, |tier| tier.place);
    if let Some(from) = last
        && there < bar.breaks.len()
    {
        notes.push(Note::BreakOutOfReach {
            origin: bar.origin.clone(),
            from: bar.breaks.get(there).map_or(from, |at| at.from),
        });
    }
}

fn nothing_left_of_any(bar: &Bar, unit: Unit) -> Fault {
    let SquareOff { near, far } = bar.square_off;
    fault(
        FaultKind::AllowancesEatEveryBar,
        &bar.origin,
        "square_off",
        format!(
            "{} and {} off a bar of {}",
            near.text(unit),
            far.text(unit),
            bar.length.text(unit)
        ),
        "allowances that leave something of at least one bar",
    )
}
