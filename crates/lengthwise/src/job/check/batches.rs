//! Batches: which there are, and from which of them a piece has to come.

use std::collections::HashMap;

use itertools::Itertools;

use super::{Draft, distinct_names, fault, key};
use crate::fault::{Fault, FaultKind, Origin};
use crate::job::marks::Expanded;
use crate::job::{Material, Note, Piece};

impl Draft<'_> {
    /// The batches that its rows name, as first written, before them nothing where some name none; no
    /// batch where none is named.
    pub(super) fn batches(&self) -> Vec<String> {
        let named = distinct_names(self.batches_of_rows());
        let some_name_none = self.batches_of_rows().any(|batch| batch.trim().is_empty());
        let nameless = (some_name_none && !named.is_empty()).then_some("");
        let all = nameless.into_iter().chain(named);
        all.map(str::to_owned).collect()
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

/// The place of a batch among those of a material; 0 where it names none.
pub(super) fn place_of(batches: &[String], batch: &str) -> u32 {
    let place = batches.iter().position(|other| key(other) == key(batch));
    place
        .and_then(|place| u32::try_from(place).ok())
        .unwrap_or(0)
}

/// Writes on every piece from which batch it has to come: what its row says, or another of its wall.
pub(super) fn bind(
    rows: &[Expanded<'_>],
    batches: &[String],
    pieces: &mut [Piece],
    faults: &mut Vec<Fault>,
) {
    let mut of_wall: HashMap<String, (u32, Origin)> = HashMap::new();
    let mut of_row: HashMap<usize, u32> = HashMap::new();
    for (place, Expanded { row, .. }) in rows.iter().enumerate() {
        let batch = row.batch.trim();
        if batch.is_empty() {
            continue;
        }
        if !batches.iter().any(|other| key(other) == key(batch)) {
            faults.push(no_such_batch(batch, batches, &row.origin));
            continue;
        }
        let batch = place_of(batches, batch);
        of_row.insert(place, batch);
        if row.wall.trim().is_empty() {
            continue;
        }
        let (known, first) = of_wall
            .entry(key(&row.wall))
            .or_insert_with(|| (batch, row.origin.clone()));
        if *known != batch {
            let first = first.line;
            let name = batches.get(*known as usize); // u32 into usize
            let accepted = format!(
                "\"{}\", as in line {first}: one batch per wall",
                name.map_or("", String::as_str)
            );
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
    }
}

fn no_such_batch(batch: &str, batches: &[String], origin: &Origin) -> Fault {
    let named = batches.iter().filter(|batch| !batch.is_empty());
    let named = named.map(|batch| format!("\"{batch}\"")).join(", ");
    let accepted = if named.is_empty() {
        "nothing, since no bar of this material names its batch".to_owned()
    } else {
        format!("a batch of its bars: {named}")
    };
    let found = format!("\"{batch}\", which no bar of this material is of");
    fault(FaultKind::Value, origin, "batch", found, accepted)
}
