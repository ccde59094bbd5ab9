//! A range of seeds on the command line.

use std::ops::RangeInclusive;
use std::str::FromStr;

/// Seeds from the first to the last, both included: `1..200`, or one of them: `98`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Seeds(RangeInclusive<u64>);

impl Seeds {
    /// The seeds in order.
    pub fn iter(&self) -> RangeInclusive<u64> {
        self.0.clone()
    }
}

impl FromStr for Seeds {
    type Err = String;

    fn from_str(text: &str) -> Result<Seeds, String> {
        let seed = |text: &str| {
            let found: Result<u64, _> = text.parse();
            found
                .ok()
                .filter(|seed| (1..=1_000_000).contains(seed))
                .ok_or_else(|| format!("`{text}` is no seed from 1 to 1000000"))
        };
        let (first, last) = text.split_once("..").unwrap_or((text, text));
        let (first, last) = (seed(first)?, seed(last)?);
        if first <= last {
            Ok(Seeds(first..=last))
        } else {
            Err(format!("{first} comes after {last}"))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ranges_and_single_seeds() {
        let seeds = |text: &str| text.parse().map(|seeds: Seeds| seeds.iter());
        assert_eq!(seeds("1..200"), Ok(1..=200));
        assert_eq!(seeds("98"), Ok(98..=98));
        for text in ["", "0", "3..2", "1..", "-1..2", "1...2", "1..1000001"] {
            assert!(seeds(text).is_err(), "{text}");
        }
    }
}
