//! From rows to a checked job: one pass per kind of rule, every fault kept.

mod batches;
mod delivery;
mod draft;
mod moves;
mod pieces;
mod runs;
mod stated;

use std::collections::{BTreeMap, HashMap};

use itertools::Itertools;

use super::{
    Ceilings, Job, JobInput, LARGEST_QUANTITY, Note, PieceRow, Sold, breaks, ceilings, tally::Tally,
};
use crate::fault::{Ceiling, Fault, FaultKind, Faults, Origin};
use crate::length::{Length, Unit};
use crate::price::{Price, PriceError};
use draft::Draft;

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
    let accepted = format!("one of them: {}", some_of(asked.iter().copied()));
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
        format!(
            "a material of the stock: {}",
            some_of(offered.iter().copied())
        )
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
pub fn some_of<'n>(names: impl ExactSizeIterator<Item = &'n str>) -> String {
    let count = names.len();
    let shown = names.take(NAMED).join(", ");
    match count.saturating_sub(NAMED) {
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
