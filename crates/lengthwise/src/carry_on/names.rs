//! Names for bars that have none yet.

use std::collections::HashSet;

use super::Remainder;
use super::single::OneBar;
use crate::layout::letters;

/// Names that no bar has had.
pub(super) struct Names {
    /// The letters that bars before had in front of their number.
    letters: HashSet<String>,
    next: usize,
}

impl Names {
    pub fn of(left: &Remainder) -> Names {
        let sticks = left.rests.iter().flat_map(|rest| &rest.sticks);
        let there = sticks.filter_map(|stick| stick.name.as_deref());
        let before = left.names_taken.iter().map(String::as_str);
        let letters = there.chain(before).map(|name| {
            let in_front = name.chars().take_while(char::is_ascii_uppercase);
            in_front.collect()
        });
        Names {
            letters: letters.collect(),
            next: 0,
        }
    }

    fn next_letters(&mut self) -> String {
        loop {
            let letters = letters(self.next);
            self.next += 1;
            if !self.letters.contains(&letters) {
                return letters;
            }
        }
    }

    /// Gives a name to every bar that has none; those alike that follow each other share their letters.
    pub fn complete(&mut self, bars: &mut [OneBar]) {
        let alike = |one: &OneBar, next: &OneBar| one.likeness() == next.likeness();
        for group in bars.chunk_by_mut(alike) {
            let mut letters = None;
            let without = group.iter_mut().filter(|bar| bar.name.is_empty());
            for (number, bar) in (1..).zip(without) {
                let letters = letters.get_or_insert_with(|| self.next_letters());
                bar.name = format!("{letters}{number}");
            }
        }
    }
}
