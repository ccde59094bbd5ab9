//! Measured openings beside the lengths that are cut for them.

use std::collections::BTreeMap;

use lengthwise::job::{Material, Piece};
use lengthwise::{Length, Unit};

use super::ink::Ink;
use super::layout::{PAGE, left, listing, paragraph, whole, widest};
use super::marks::short_list;
use super::sheet::heading;

/// Columns that marks have at the least where they stand behind the lengths.
const LEAST_ROOM: usize = 24;
/// Blanks before marks that stand on lines of their own.
const BELOW: usize = 6;

/// Every piece with a gap at its ends or left long, in the order of the rows; nothing where there is none. Those of
/// runs stand beside their joints.
pub fn openings(material: &Material, unit: Unit, ink: Ink) -> String {
    let is_cut_otherwise = |piece: &&Piece| {
        let same = piece.end_gap().total().is_zero() && piece.leave_long().is_zero();
        !same && piece.run().is_none()
    };
    // Row by row, so that a spare stands with the pieces that it copies.
    let mut lines: BTreeMap<(usize, Opening), Vec<String>> = BTreeMap::new();
    for piece in material.pieces().iter().filter(is_cut_otherwise) {
        let gap = piece.end_gap();
        let opening = Opening {
            opening: piece.opening(),
            cut: piece.length(),
            gap: (gap.near, gap.far),
            long: piece.leave_long(),
        };
        let marks = (0..piece.qty()).map(|copy| piece.copy_mark(copy));
        lines
            .entry((piece.row(), opening))
            .or_default()
            .extend(marks);
    }
    if lines.is_empty() {
        return String::new();
    }
    let mut out = heading("Openings", remark(lines.keys().map(|(_, line)| line)), ink);
    let texts: Vec<String> = lines.keys().map(|(_, line)| line.text(unit)).collect();
    let marks: Vec<Vec<String>> = lines.values().map(|marks| short(marks)).collect();
    let width = widest(texts.iter().map(String::as_str));
    // Two blanks before the lengths and two behind; behind a mark there may be a comma.
    let room = PAGE.saturating_sub(width + 4);
    let longest = widest(marks.iter().flatten().map(String::as_str)) + 1;
    let is_beside = room >= longest.max(LEAST_ROOM);
    for (text, marks) in texts.iter().zip(&marks) {
        if is_beside {
            let lead = format!("  {}  ", left(text, width));
            out.push_str(&listing(&lead, marks, width + 4));
        } else {
            out.push_str(&paragraph("  ", text, 4));
            out.push_str(&listing(&" ".repeat(BELOW), marks, BELOW));
        }
    }
    out
}

fn short(marks: &[String]) -> Vec<String> {
    let marks: Vec<&str> = marks.iter().map(String::as_str).collect();
    short_list(&marks)
}

/// Why what is cut differs from what was measured.
fn remark<'o>(lines: impl Iterator<Item = &'o Opening> + Clone) -> &'static str {
    let has_gaps = lines.clone().any(Opening::has_gaps);
    let is_left_long = lines.clone().any(|line| !line.long.is_zero());
    match (has_gaps, is_left_long) {
        (true, true) => "measured, then cut shorter by the gaps, longer by what is left long",
        (false, true) => "measured, and cut longer by what is left to trim",
        _ => "measured, and cut shorter by the gaps at the ends",
    }
}

#[derive(PartialEq, Eq, PartialOrd, Ord)]
struct Opening {
    opening: Length,
    cut: Length,
    gap: (Length, Length),
    long: Length,
}

impl Opening {
    fn has_gaps(&self) -> bool {
        let (near, far) = self.gap;
        !near.is_zero() || !far.is_zero()
    }

    /// Wrapped nowhere inside a length.
    fn text(&self, unit: Unit) -> String {
        let (near, far) = self.gap;
        let gaps = format!("gaps {}/{}", near.number(unit), far.number(unit));
        let long = format!("{} left long", self.long.text(unit));
        let why = match (self.has_gaps(), self.long.is_zero()) {
            (_, true) => whole(&gaps),
            (true, false) => format!("{}; {}, trim it in place", whole(&gaps), whole(&long)),
            (false, false) => format!("{}, trim it in place", whole(&long)),
        };
        format!(
            "{}, {} ({why})",
            whole(&format!("opening {}", self.opening.text(unit))),
            whole(&format!("cut {}", self.cut.text(unit))),
        )
    }
}
