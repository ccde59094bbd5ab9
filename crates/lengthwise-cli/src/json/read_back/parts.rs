//! The parts of the runs of a plan that is read back: whether they make up the runs of its job.

use std::collections::HashMap;
use std::rc::Rc;

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
    /// Where joints may fall.
    places: Option<Rc<[Length]>>,
    parts: Vec<&'a RunPart>,
}

impl<'a> Runs<'a> {
    pub fn of(material: &'a Material) -> Runs<'a> {
        let runs = material
            .pieces()
            .iter()
            .filter(|piece| piece.run().is_some());
        let mut all = HashMap::new();
        for (piece, run) in runs.filter_map(|piece| Some((piece, piece.run()?))) {
            let places: Option<Rc<[Length]>> = run.joints().places(piece.opening()).map(Rc::from);
            for copy in 0..piece.qty() {
                let met = Met {
                    piece,
                    copy,
                    places: places.clone(),
                    parts: Vec::new(),
                };
                all.insert((piece.mark(), piece.copy_number(copy)), met);
            }
        }
        Runs { all }
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
    /// The number of the support at a place, from 1; none at an end, and where joints fall anywhere.
    fn support(&self, place: Length) -> Option<u32> {
        let places = self.places.as_ref()?;
        let at = places.binary_search(&place).ok()?;
        u32::try_from(at + 1).ok()
    }

    fn is_whole(&self) -> bool {
        let mut parts = self.parts.clone();
        parts.sort_by_key(|part| part.part);
        let (mut at, mut number) = (Length::ZERO, 0);
        for part in parts {
            number += 1;
            let follows = part.part == number && part.from == at && part.to > at;
            let supports = (part.from_support, part.to_support);
            let follows = follows && supports == (self.support(part.from), self.support(part.to));
            if !follows || part.of as usize != self.parts.len() {
                return false;
            }
            at = part.to;
        }
        at == self.piece.opening()
    }
}
