//! Names of bars: a letter for bars cut alike, a number for each: `A1`, `A2`, `B1`.

/// The alphabet without I and O, which are taken for 1 and 0 when chalked on wood.
const LETTERS: &[u8; 24] = b"ABCDEFGHJKLMNPQRSTUVWXYZ";

/// Gives out names, each once in a job.
#[derive(Default)]
pub(crate) struct BarNames {
    groups: usize,
}

impl BarNames {
    /// Names for so many bars cut alike.
    pub fn next_group(&mut self, bars: u64) -> Vec<String> {
        let letters = letters(self.groups);
        self.groups += 1;
        (1..=bars)
            .map(|number| format!("{letters}{number}"))
            .collect()
    }
}

/// A, B, ..., Z, AA, AB, ...
pub(crate) fn letters(mut group: usize) -> String {
    let mut letters = Vec::new();
    loop {
        letters.extend(
            LETTERS
                .get(group % LETTERS.len())
                .map(|&letter| char::from(letter)),
        );
        if group < LETTERS.len() {
            break;
        }
        group = group / LETTERS.len() - 1;
    }
    letters.into_iter().rev().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letters_go_on_after_z_and_never_repeat() {
        assert_eq!(letters(0), "A");
        assert_eq!(letters(8), "J");
        assert_eq!(letters(23), "Z");
        assert_eq!(letters(24), "AA");
        assert_eq!(letters(24 + 24 * 24), "AAA");
        let many: std::collections::HashSet<String> = (0..20_000).map(letters).collect();
        assert_eq!(many.len(), 20_000);
    }
}
