//! Names of bars, marks of pieces and names of materials as people type them, and as the plan has them.

use std::cell::Cell;
use std::collections::{HashMap, HashSet};

use itertools::Itertools;
use lengthwise::carry_on::UnderWay;
use lengthwise::job::NO_BATCH;

use crate::read::cells::{Wrong, quoted};
use crate::read::nearest;

/// How alike (0 to 1, by Jaro and Winkler) a known name must be to be offered for an unknown one.
const CLOSE_ENOUGH: f64 = 0.7;

/// For so many unknown names one that is alike is looked for: it takes all that are known.
const MOST_GUESSES: u32 = 100;
/// Nothing that is said has more words than this.
pub const MOST_WORDS: usize = 60;

/// So many names that differ in case alone are told.
const MOST_NAMED: usize = 5;

/// Names in any case.
#[derive(Debug, Default)]
pub struct Names {
    by_lower: HashMap<String, Vec<String>>,
    /// The first of each case, in order.
    all: Vec<String>,
    /// Words of the name that has most of them.
    most_words: usize,
    guesses: Cell<u32>,
}

/// Everything that has a name.
#[derive(Debug)]
pub struct Known {
    pub bars: Names,
    pub pieces: Names,
    pub materials: Names,
    pub batches: Names,
}

impl Known {
    /// `marks` are those of the rows and of the pieces of the job.
    pub fn of(under_way: &UnderWay, job: &lengthwise::Job) -> Known {
        let pieces = job.materials().iter().flat_map(|one| one.pieces());
        let copies = pieces.flat_map(|piece| (0..piece.qty()).map(|copy| piece.copy_mark(copy)));
        let cut = under_way.marks().map(str::to_owned);
        let materials = job.materials().iter().map(|one| one.name().to_owned());
        let batches = job.materials().iter().flat_map(|one| one.batches());
        Known {
            bars: Names::of(under_way.bar_names().map(str::to_owned)),
            pieces: Names::of(cut.chain(copies)),
            materials: Names::of(materials),
            batches: Names::of(batches.cloned().chain([NO_BATCH.to_owned()])),
        }
    }
}

fn lower(name: &str) -> String {
    let plain = name.replace(
        ['\u{2010}', '\u{2011}', '\u{2012}', '\u{2013}', '\u{2014}'],
        "-",
    );
    let plain = plain.to_lowercase();
    plain.split_whitespace().collect::<Vec<_>>().join(" ")
}

impl Names {
    pub fn of(names: impl Iterator<Item = String>) -> Names {
        let mut known = Names::default();
        let mut told = HashSet::new();
        for name in names {
            if !told.insert(name.clone()) {
                continue;
            }
            let lower = lower(&name);
            let words = lower.split(is_between_words);
            let words = words.filter(|word| !word.is_empty()).count();
            known.most_words = known.most_words.max(words).min(MOST_WORDS);
            let alike = known.by_lower.entry(lower.clone()).or_default();
            if alike.is_empty() {
                known.all.push(lower);
            }
            alike.push(name);
        }
        known
    }

    /// How many words a name may have.
    pub fn most_words(&self) -> usize {
        self.most_words
    }

    /// Whether there is a name like this, in any case.
    pub fn has(&self, typed: &str) -> bool {
        self.by_lower.contains_key(&lower(typed))
    }

    /// The name that is meant. Case decides only where names differ in nothing else.
    pub fn find(&self, typed: &str, what: &str) -> Result<String, Wrong> {
        match self.by_lower.get(&lower(typed)).map(Vec::as_slice) {
            Some([one]) => Ok(one.clone()),
            Some(several) => match several.iter().find(|name| *name == typed) {
                Some(exact) => Ok(exact.clone()),
                None => Err(Wrong::new(
                    format!(
                        "{}, which may be {}",
                        quoted(typed),
                        several.iter().take(MOST_NAMED).join(" or ")
                    ),
                    "capital and small letters as the plan has them",
                )),
            },
            None => Err(self.unknown(typed, what)),
        }
    }

    /// A known name that is like this one.
    fn guess(&self, lower: &str) -> Option<&String> {
        let guesses = self.guesses.get();
        if guesses >= MOST_GUESSES {
            return None;
        }
        self.guesses.set(guesses + 1);
        let (close, score) = nearest(lower, self.all.iter().map(String::as_str));
        let close = self.by_lower.get(close).filter(|_| score >= CLOSE_ENOUGH);
        close.and_then(|names| names.first())
    }

    fn unknown(&self, typed: &str, what: &str) -> Wrong {
        let guess = self.guess(&lower(typed));
        let guess = guess.map_or_else(String::new, |name| format!("; did you mean \"{name}\"?"));
        let found = format!("the unknown {what} {}{guess}", quoted(typed));
        Wrong::new(found, format!("a {what} as the plan has it"))
    }
}

/// What stands between the words of a line.
pub fn is_between_words(c: char) -> bool {
    c.is_whitespace() || c == ','
}

/// The names of a range, one after another: it may have thousands.
#[derive(Clone, Debug)]
pub struct Range {
    stem: String,
    numbers: std::ops::RangeInclusive<u64>,
}

impl Iterator for Range {
    type Item = String;

    fn next(&mut self) -> Option<String> {
        let number = self.numbers.next()?;
        Some(format!("{}{number}", self.stem))
    }
}

/// `A1-A7` or `A1-7` as the names from A1 to A7; `None` where it is no range.
pub fn range(typed: &str) -> Option<Range> {
    let plain = typed
        .replace(['\u{2013}', '\u{2014}'], "-")
        .replace("..", "-");
    let (from, to) = plain.split_once('-')?;
    let (stem, first) = numbered(from)?;
    let (to_stem, last) = numbered(to)?;
    let same = to_stem.is_empty() || to_stem.eq_ignore_ascii_case(stem);
    let count = last.checked_sub(first)?;
    (same && !stem.is_empty() && count < MOST_IN_RANGE).then(|| Range {
        stem: stem.to_owned(),
        numbers: first..=last,
    })
}

/// No plan has more bars of one letter that anybody cuts; longer ranges are slips of the thumb.
const MOST_IN_RANGE: u64 = 10_000;

/// A stem and the number behind it.
fn numbered(name: &str) -> Option<(&str, u64)> {
    let stem = name.trim_end_matches(|c: char| c.is_ascii_digit());
    let number = name.get(stem.len()..)?.parse().ok()?;
    Some((stem, number))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn ranges_of_names() {
        let range = |typed| super::range(typed).map(|names| names.collect::<Vec<_>>());
        assert_eq!(range("A1-A3").unwrap(), ["A1", "A2", "A3"]);
        assert_eq!(range("b9\u{2013}11").unwrap(), ["b9", "b10", "b11"]);
        assert_eq!(range("A2..a2").unwrap(), ["A2"]);
        for none in ["A3-A1", "A1", "A1-B3", "1-3", "A1-A99999999", "-", ""] {
            assert_eq!(range(none), None, "{none}");
        }
    }

    #[test]
    fn case_decides_only_between_names_that_differ_in_nothing_else() {
        let names = Names::of(["F1", "f1", "K2"].map(str::to_owned).into_iter());
        assert_eq!(names.find("k2", "piece").unwrap(), "K2");
        assert_eq!(names.find("f1", "piece").unwrap(), "f1");
        let names = Names::of(["Ab", "aB"].map(str::to_owned).into_iter());
        assert!(names.find("ab", "piece").is_err());
    }
}
