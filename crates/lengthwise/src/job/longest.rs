//! The longest bars of a material, which tell how often a run is joined.

use std::collections::HashMap;

use super::{Bar, Material, Piece};
use crate::length::Length;

/// The longest usable lengths among bars.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Longest {
    /// Of all that can be had; nothing where there are none.
    pub any: Length,
    /// Of those that can be had in any number.
    pub unlimited: Option<Length>,
}

impl Longest {
    const NONE: Longest = Longest {
        any: Length::ZERO,
        unlimited: None,
    };

    /// Of the bars of a material, or of one batch of it.
    pub fn of(material: &Material, batch: Option<u32>) -> Longest {
        let bars = material.bars_to_be_had(batch);
        bars.fold(Longest::NONE, Longest::with)
    }

    fn with(self, bar: &Bar) -> Longest {
        let usable = bar.usable();
        let unlimited = bar.bars_available().is_none().then_some(usable);
        Longest {
            any: self.any.max(usable),
            unlimited: self.unlimited.max(unlimited),
        }
    }
}

/// The longest bars, of each batch and of any.
pub(crate) struct LongestBars {
    of_batch: HashMap<u32, Longest>,
    of_any: Longest,
}

impl LongestBars {
    pub fn of(material: &Material) -> LongestBars {
        let mut of_batch: HashMap<u32, Longest> = HashMap::new();
        for bar in material.bars_to_be_had(None) {
            let longest = of_batch.entry(bar.batch).or_insert(Longest::NONE);
            *longest = longest.with(bar);
        }
        LongestBars {
            of_batch,
            of_any: Longest::of(material, None),
        }
    }

    /// Those that a piece may come from.
    pub fn for_piece(&self, piece: &Piece) -> Longest {
        let asked = piece.asked_batch();
        asked.map_or(self.of_any, |batch| {
            self.of_batch.get(&batch).copied().unwrap_or(Longest::NONE)
        })
    }
}
