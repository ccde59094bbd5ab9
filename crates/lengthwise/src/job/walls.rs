//! Walls whose pieces come from one batch, where bars are of several.

use std::collections::HashMap;

#[cfg(feature = "serde")]
use serde::{Deserialize, Serialize};

use super::{Material, Piece, name_key};
use crate::plan::WallBatch;

/// The batch of bars that name none, so that a piece can ask for it.
pub const NO_BATCH: &str = "unnamed";

/// A batch by what it is compared by: empty for that of the bars that name none.
pub(crate) fn batch_key(batch: &str) -> String {
    let mut key = name_key(batch);
    if key == NO_BATCH {
        key.clear();
    }
    key
}

/// A batch by a name that a piece can ask for it by.
pub(crate) fn batch_name(batch: &str) -> &str {
    if batch.trim().is_empty() {
        NO_BATCH
    } else {
        batch
    }
}

/// Pieces that have to come from one batch together, whichever it is.
#[derive(Clone, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct Wall {
    /// Its name, as first written.
    pub name: String,
    /// The places of its pieces among those of the material.
    pub pieces: Vec<usize>,
}

impl Material {
    /// The walls for which a batch has to be found: none where all bars are of one, or where a row says
    /// which. A wall of a single piece that is no run may come from any. In the order of the pieces.
    pub fn open_walls(&self) -> Vec<Wall> {
        let mut walls: Vec<Wall> = Vec::new();
        if self.batches.len() < 2 {
            return walls;
        }
        let mut known: HashMap<String, usize> = HashMap::new();
        let named = |(_, piece): &(usize, &Piece)| !piece.wall.trim().is_empty();
        for (place, piece) in self.pieces.iter().enumerate().filter(named) {
            let at = *known.entry(name_key(&piece.wall)).or_insert(walls.len());
            match walls.get_mut(at) {
                Some(wall) => wall.pieces.push(place),
                None => walls.push(Wall {
                    name: piece.wall.trim().to_owned(),
                    pieces: vec![place],
                }),
            }
        }
        walls.retain(|wall| {
            let pieces = || {
                wall.pieces
                    .iter()
                    .filter_map(|&place| self.pieces.get(place))
            };
            let count = pieces().fold(0, |sum: u64, piece| sum.saturating_add(piece.qty));
            let is_bound = pieces().any(|piece| piece.batch.is_some());
            !is_bound && (count > 1 || pieces().any(|piece| piece.run.is_some()))
        });
        walls
    }

    /// The material with a batch for some of its open walls.
    pub(crate) fn with_walls(&self, walls: &[Wall], batches: &[Option<usize>]) -> Material {
        let mut bound = self.clone();
        for (wall, batch) in walls.iter().zip(batches) {
            let batch = batch.and_then(|batch| u32::try_from(batch).ok());
            for &place in wall.pieces.iter().filter(|_| batch.is_some()) {
                if let Some(piece) = bound.pieces.get_mut(place) {
                    piece.batch = batch;
                }
            }
        }
        bound
    }

    /// The material where the pieces of an open wall may come from any batch.
    pub(crate) fn without_walls(&self) -> Material {
        let mut free = self.clone();
        for piece in &mut free.pieces {
            piece.wall.clear();
        }
        free
    }

    /// Walls with their batches, by the places of these.
    pub(crate) fn named_walls(
        &self,
        walls: impl IntoIterator<Item = Wall>,
        batches: impl IntoIterator<Item = usize>,
    ) -> Vec<WallBatch> {
        let both = walls.into_iter().zip(batches);
        let named = both.map(|(wall, batch)| WallBatch {
            wall: wall.name,
            batch: self.batches.get(batch).cloned().unwrap_or_default(),
        });
        named.collect()
    }
}
