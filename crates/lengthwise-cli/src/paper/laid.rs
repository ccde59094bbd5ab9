//! Where every piece lies on its bar.

use lengthwise::job::{Material, SquareOff};
use lengthwise::plan::{BarGroup, Cut};
use lengthwise::{Length, Unit};

use crate::text::{measure, sheet::are_alike};

/// Bars cut alike, with the places of their cuts.
pub struct Laid<'a> {
    pub bars: &'a BarGroup,
    pub material: &'a Material,
    pub unit: Unit,
    /// What is cut off the near end first; places on the bar are measured from there on.
    pub near: Length,
    pub cuts: Vec<LaidCut<'a>>,
}

/// A cut, and where its piece lies, measured from the squared end.
pub struct LaidCut<'a> {
    /// From 1, in the order in which the bar is cut.
    pub number: usize,
    pub cut: &'a Cut,
    pub from: Length,
    pub to: Length,
}

impl<'a> Laid<'a> {
    pub fn new(bars: &'a BarGroup, material: &'a Material, unit: Unit) -> Laid<'a> {
        let bar = material.bars().get(bars.bar);
        let SquareOff { near, .. } = bar.map_or_else(SquareOff::default, |bar| bar.square_off());
        let ends = material.positions(Length::ZERO, bars.cuts.iter().map(Cut::shape));
        let cuts = bars.cuts.iter().zip(ends).enumerate();
        let cuts = cuts.map(|(place, (cut, to))| LaidCut {
            number: place + 1,
            cut,
            from: to.checked_sub(cut.length).unwrap_or(Length::ZERO), // it ends behind its length
            to,
        });
        let cuts = cuts.collect();
        Laid {
            bars,
            material,
            unit,
            near,
            cuts,
        }
    }

    /// The names of the bars.
    pub fn names(&self) -> Vec<&'a str> {
        self.bars.names.iter().map(String::as_str).collect()
    }

    /// Cuts that follow each other and differ in nothing but their marks: one setting of the stop.
    pub fn settings(&self) -> impl Iterator<Item = &[LaidCut<'a>]> {
        self.cuts
            .chunk_by(|one, other| are_alike(one.cut, other.cut))
    }

    /// What is left over, as a rule shows it: never more than there is.
    pub fn left_over(&self) -> Option<String> {
        if self.bars.offcut.is_zero() {
            return None;
        }
        Some(match measure::down(self.bars.offcut, self.unit) {
            (left, true) => left.text(self.unit),
            (left, false) => format!("about {}", left.text(self.unit)),
        })
    }
}

impl LaidCut<'_> {
    /// Where the piece ends, as a tape shows it.
    pub fn end_text(&self, unit: Unit) -> String {
        match measure::nearest(self.to, unit) {
            (to, true) => to.text(unit),
            (to, false) => format!("about {}", to.text(unit)),
        }
    }
}

/// Whether a piece is shorter than what should be left to hold.
pub fn is_short(cut: &Cut, material: &Material) -> bool {
    cut.length < material.hold()
}

/// Whether a piece is longer than the stop reaches.
pub fn is_by_tape(length: Length, material: &Material) -> bool {
    material.stop_reach().is_some_and(|reach| length > reach)
}
