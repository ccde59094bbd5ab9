//! Measured openings beside the lengths that are cut for them.

use std::collections::BTreeMap;

use lengthwise::job::{Material, Piece};
use lengthwise::{Length, Unit};

use super::ink::Ink;
use super::layout::{left, listing, widest};
use super::marks::short_list;
use super::sheet::heading;

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
    let mut out = heading(
        "Openings",
        "measured, and cut shorter by the gaps at the ends",
        ink,
    );
    let texts: Vec<String> = lines.keys().map(|(_, line)| line.text(unit)).collect();
    let width = widest(texts.iter().map(String::as_str));
    for (text, marks) in texts.iter().zip(lines.values()) {
        let marks: Vec<&str> = marks.iter().map(String::as_str).collect();
        let lead = format!("  {}  ", left(text, width));
        out.push_str(&listing(&lead, &short_list(&marks), lead.len()));
    }
    out
}

#[derive(PartialEq, Eq, PartialOrd, Ord)]
struct Opening {
    opening: Length,
    cut: Length,
    gap: (Length, Length),
    long: Length,
}

impl Opening {
    fn text(&self, unit: Unit) -> String {
        let (near, far) = self.gap;
        let long = if self.long.is_zero() {
            String::new()
        } else {
            format!("; {} left long, trim it in place", self.long.text(unit))
        };
        format!(
            "opening {}, cut {} (gaps {}/{}{long})",
            self.opening.text(unit),
            self.cut.text(unit),
            near.number(unit),
            far.number(unit)
        )
    }
}
