//! Batches: which there are, and from which of them a piece has to come.

use std::collections::HashMap;

use itertools::Itertools;

use super::draft::Draft;
use super::{fault, key};
use crate::fault::{Fault, FaultKind, Origin};
use crate::job::marks::Expanded;
use crate::job::{Material, Note, Piece, batch_key, batch_name};

/// The batches of a material.
pub(super) struct Batches {
    /// As first written, before them nothing where some bars name none; none where no bar names any.
    pub names: Vec<String>,
    /// Their places by their keys.
    places: HashMap<String, u32>,
}

impl Batches {
    /// Its place; `None` where no bar is of it.
    fn find(&self, batch: &str) -> Option<u32> {
        self.places.get(&batch_key(batch)).copied()
    }

    /// The place of the batch of a bar; 0 where it names none.
    pub fn of_bar(&self, batch: &str) -> u32 {
        self.find(batch).unwrap_or(0)
    }

    /// Its name, so that a row can ask for it.
    fn name(&self, place: u32) -> &str {
        let name = self.names.get(place as usize); // u32 into usize
        batch_name(name.map_or("", String::as_str))
    }
}

impl Draft<'_> {
    pub(super) fn batches(&self) -> Batches {
        let is_named = |batch: &&str| !batch_key(batch).is_empty();
        let rows = || self.batches_of_rows().map(str::trim);
        let named = rows().filter(is_named).unique_by(|name| batch_key(name));
        let named = named.collect_vec();
        let some_name_none = !rows().all(|batch| is_named(&batch));
        let nameless = (some_name_none && !named.is_empty()).then_some("");
        let names = nameless.into_iter().chain(named);
        let names = names.map(str::to_owned).collect_vec();
        let places = names.iter().map(|name| batch_key(name)).zip(0..).collect();
        Batches { names, places }
    }

    fn batches_of_rows(&self) -> impl Iterator<Item = &str> {
        let bought = self.stock.iter().map(|row| row.batch.as_str());
        bought.chain(self.in_hand.iter().map(|row| row.batch.as_str()))
    }

    /// What a person should know about batches that cannot do what they are for.
    pub(super) fn note_batches(&self, material: &Material, notes: &mut Vec<Note>) {
        if material.batches.len() < 2 {
            return;
        }
        let bound = |piece: &Piece| !piece.wall.is_empty() || piece.batch.is_some();
        if !material.pieces.iter().any(bound) {
            notes.push(Note::BatchesWithoutWalls {
                material: self.name.to_owned(),
            });
        } else if material.batches.iter().any(String::is_empty) {
            notes.push(Note::NoBatchNamed {
                material: self.name.to_owned(),
            });
        }
    }
}

/// Writes on every piece from which batch it has to come: what its row says, or another of its wall.
pub(super) fn bind(
    rows: &[Expanded<'_>],
    batches: &Batches,
    pieces: &mut [Piece],
    faults: &mut Vec<Fault>,
) {
    let mut of_wall: HashMap<String, (u32, Origin)> = HashMap::new();
    let mut of_row: HashMap<usize, u32> = HashMap::new();
    for (place, Expanded { row, .. }) in rows.iter().enumerate() {
        let batch = row.batch.trim();
        // Where no bar names its batch, all are of the one that has no name.
        let is_of_any = batches.names.is_empty() && batch_key(batch).is_empty();
        if batch.is_empty() || is_of_any {
            continue;
        }
        let Some(batch) = batches.find(batch) else {
            faults.push(no_such_batch(batch, batches, &row.origin));
            continue;
        };
        of_row.insert(place, batch);
        if row.wall.trim().is_empty() {
            continue;
        }
        let (known, first) = of_wall
            .entry(key(&row.wall))
            .or_insert_with(|| (batch, row.origin.clone()));
        if *known != batch {
            let (first, name) = (first.line, batches.name(*known));
            let accepted = format!("\"{name}\", as in line {first}: one batch per wall");
            let found = format!("\"{}\"", row.batch.trim());
            faults.push(fault(
                FaultKind::RowsDiffer,
                &row.origin,
                "batch",
                found,
                accepted,
            ));
        }
    }
    for piece in pieces {
        let by_wall = of_wall.get(&key(&piece.wall)).map(|(batch, _)| *batch);
        piece.batch = of_row.get(&piece.row).copied().or(by_wall);
        piece.asked_batch = piece.batch;
    }
}

fn no_such_batch(batch: &str, batches: &Batches, origin: &Origin) -> Fault {
    let names = batches.names.iter();
    let names = names.map(|name| format!("\"{}\"", batch_name(name)));
    let names = names.collect_vec();
    let accepted = if names.is_empty() {
        "nothing, since no bar of this material names its batch".to_owned()
    } else {
        format!("a batch of its bars: {}", names.join(", "))
    };
    let found = format!("\"{batch}\", which no bar of this material is of");
    fault(FaultKind::Value, origin, "batch", found, accepted)
}
