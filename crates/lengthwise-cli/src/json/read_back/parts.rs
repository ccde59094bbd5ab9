//! The parts of the runs of a plan that is read back: whether they make up the runs of its job.

use std::collections::HashMap;
use std::rc::Rc;

use lengthwise::Length;
use lengthwise::job::{Angle, Ends, Material, Piece};
use lengthwise::plan::{Cut, RunPart};

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
    pub fn has(&mut self, part: &'a RunPart, cut: &Cut, mark: &str) -> bool {
        let Some(met) = self.all.get_mut(&(part.mark.as_str(), part.copy)) else {
            return false;
        };
        met.parts.push(part);
        if met.shape(part) != Some((cut.length, cut.ends)) {
            return false;
        }
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
    /// How a part is cut: gaps taken off, and square where it meets another one.
    fn shape(&self, part: &RunPart) -> Option<(Length, Ends)> {
        let (is_first, is_last) = (part.part == 1, part.part == part.of);
        let (gap, ends) = (self.piece.end_gap(), self.piece.ends());
        let at_joint = self.piece.run()?.joint_gap().nm();
        let off = |is_end: bool, at_end: Length, at_joint: i64| match is_end {
            true => Some(at_end),
            false => Length::from_nm(at_joint),
        };
        // An odd nanometre comes off the part on the left of a joint.
        let near = off(is_first, gap.near, at_joint / 2)?;
        let far = off(is_last, gap.far, at_joint - at_joint / 2)?;
        let length = part.to.checked_sub(part.from)?;
        let length = length.checked_sub(near)?.checked_sub(far)?;
        let angle = |is_end: bool, at_end| if is_end { at_end } else { Angle::SQUARE };
        let ends = Ends {
            near: angle(is_first, ends.near),
            far: angle(is_last, ends.far),
        };
        Some((length, ends))
    }

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
            if !follows || usize::try_from(part.of) != Ok(self.parts.len()) {
                return false;
            }
            at = part.to;
        }
        at == self.piece.opening()
    }
}
