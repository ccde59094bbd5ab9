//! The parts of the runs of a plan that is read back: whether they make up the runs of its job.

use std::collections::HashMap;

use lengthwise::Length;
use lengthwise::job::{Material, Piece};
use lengthwise::plan::RunPart;

/// Runs by the mark of their row and their number, with what was met of each.
pub struct Runs<'a> {
    all: HashMap<(&'a str, u64), Met<'a>>,
}

struct Met<'a> {
    piece: &'a Piece,
    copy: u64,
    parts: Vec<&'a RunPart>,
}

impl<'a> Runs<'a> {
    pub fn of(material: &'a Material) -> Runs<'a> {
        let runs = material
            .pieces()
            .iter()
            .filter(|piece| piece.run().is_some());
        let copies = runs.flat_map(|piece| (0..piece.qty()).map(move |copy| (piece, copy)));
        let all = copies.map(|(piece, copy)| {
            let met = Met {
                piece,
                copy,
                parts: Vec::new(),
            };
            ((piece.mark(), piece.copy_number(copy)), met)
        });
        Runs { all: all.collect() }
    }

    /// Takes a part in; `false` where no run has it under this mark.
    pub fn has(&mut self, part: &'a RunPart, mark: &str) -> bool {
        let Some(met) = self.all.get_mut(&(part.mark.as_str(), part.copy)) else {
            return false;
        };
        met.parts.push(part);
        let whole = met.piece.copy_mark(met.copy);
        match part.of {
            1 => mark == whole,
            _ => mark == format!("{whole}.{}", part.part),
        }
    }

    /// The mark of a run whose parts do not lead from its left end to its right end, each once.
    pub fn broken(&self) -> Option<String> {
        let broken = self.all.values().filter(|met| !met.is_whole());
        broken.map(|met| met.piece.copy_mark(met.copy)).min()
    }
}

impl Met<'_> {
    fn is_whole(&self) -> bool {
        let mut parts = self.parts.clone();
        parts.sort_by_key(|part| part.part);
        let (mut at, mut number) = (Length::ZERO, 0);
        for part in parts {
            number += 1;
            let follows = part.part == number && part.from == at && part.to > at;
            if !follows || part.of as usize != self.parts.len() {
                return false;
            }
            at = part.to;
        }
        at == self.piece.opening()
    }
}
