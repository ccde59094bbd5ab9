//! From which batch each piece of a plan has to come.

use std::collections::HashMap;

use crate::job::{Material, name_key};
use crate::plan::{Cutting, RunPart};

/// By the marks of single pieces, and by those of runs with the number of the copy.
#[derive(Default)]
pub(super) struct Batches {
    pieces: HashMap<String, u32>,
    runs: HashMap<(String, u64), u32>,
}

impl Batches {
    /// Nothing where all bars are of one batch.
    pub fn of(material: &Material, cutting: &Cutting) -> Batches {
        let mut batches = Batches::default();
        if material.batches().len() < 2 {
            return batches;
        }
        let of_wall: HashMap<String, u32> = cutting
            .walls
            .iter()
            .flat_map(|walls| &walls.walls)
            .filter_map(|of_wall| {
                let mut batches = material.batches().iter();
                let batch = batches.position(|batch| *batch == of_wall.batch)?;
                Some((name_key(&of_wall.wall), u32::try_from(batch).ok()?))
            })
            .collect();
        for piece in material.pieces() {
            let by_wall = || of_wall.get(&name_key(piece.wall())).copied();
            let Some(batch) = piece.batch().or_else(by_wall) else {
                continue;
            };
            for copy in 0..piece.qty() {
                if piece.run().is_some() {
                    let copy = (piece.mark().to_owned(), piece.copy_number(copy));
                    batches.runs.insert(copy, batch);
                } else {
                    batches.pieces.insert(piece.copy_mark(copy), batch);
                }
            }
        }
        batches
    }

    /// That of a cut by its mark, or of a part of a run by that of the run.
    pub fn of_cut(&self, mark: &str, part: Option<&RunPart>) -> Option<u32> {
        let found = match part {
            Some(part) => self.runs.get(&(mark.to_owned(), part.copy)),
            None => self.pieces.get(mark),
        };
        found.copied()
    }
}
