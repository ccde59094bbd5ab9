//! What delivery costs: one charge for each source of stock.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

use super::fault;
use crate::fault::{Fault, FaultKind, Origin};
use crate::job::{Note, StockRow};
use crate::price::Price;

/// Rows of one source that state different charges are faults; a charge is noted, since the cost of a
/// plan leaves it out.
pub(super) fn check(rows: &[StockRow], faults: &mut Vec<Fault>, notes: &mut Vec<Note>) {
    let mut stated: BTreeMap<&str, (Price, &Origin)> = BTreeMap::new();
    for row in rows {
        let Some(charge) = row.delivery else {
            continue;
        };
        match stated.entry(&row.origin.source) {
            Entry::Vacant(place) => {
                place.insert((charge, &row.origin));
            }
            Entry::Occupied(first) => {
                let &(known, origin) = first.get();
                if known != charge {
                    let accepted = format!(
                        "{known}, as in line {}: one charge for a delivery of everything",
                        origin.line
                    );
                    let kind = FaultKind::RowsDiffer;
                    let found = charge.to_string();
                    faults.push(fault(kind, &row.origin, "delivery", found, accepted));
                }
            }
        }
    }
    let charged = stated
        .into_values()
        .filter(|(charge, _)| *charge > Price::ZERO);
    notes.extend(charged.map(|(charge, origin)| Note::DeliveryNotCounted {
        origin: origin.clone(),
        charge,
    }));
}
