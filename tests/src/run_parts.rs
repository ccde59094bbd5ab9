//! What a plan makes of its runs, read from the cuts alone.

use std::collections::BTreeMap;

use lengthwise::Length;
use lengthwise::plan::Cutting;

/// A part of one copy of a run.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Part {
    /// Which part, from 1.
    pub part: u32,
    /// How many there are said to be.
    pub of: u32,
    /// Where it begins.
    pub from: Length,
    /// Where it ends.
    pub to: Length,
    /// How long it is.
    pub length: Length,
}

/// A copy of a run: the mark of its row, with `-spare` for spares, and which copy, from 1.
pub type Copy = (String, u64);

/// The parts of every copy of every run, each from the left.
pub fn run_parts(cutting: &Cutting) -> BTreeMap<Copy, Vec<Part>> {
    let mut all: BTreeMap<Copy, Vec<Part>> = BTreeMap::new();
    for cut in cutting.bars.iter().flat_map(|group| &group.cuts) {
        for part in &cut.parts {
            let copy = all.entry((part.mark.clone(), part.copy)).or_default();
            copy.push(Part {
                part: part.part,
                of: part.of,
                from: part.from,
                to: part.to,
                length: cut.length,
            });
        }
    }
    for parts in all.values_mut() {
        parts.sort();
    }
    all
}

/// The joints of a copy, given its parts from the left.
///
/// # Errors
/// What does not hang together: a part that is missing or cut twice, or a gap between two.
pub fn joints(parts: &[Part]) -> Result<Vec<Length>, String> {
    let mut joints = Vec::new();
    let mut reached = Length::ZERO;
    for (part, number) in parts.iter().zip(1..) {
        if (part.part, part.of as usize, part.from) != (number, parts.len(), reached) {
            return Err(format!("{part:?} does not follow: {parts:?}"));
        }
        reached = part.to;
        joints.push(part.to);
    }
    joints.pop();
    Ok(joints)
}
