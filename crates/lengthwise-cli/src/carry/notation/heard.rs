//! How much was said, against the ceilings.

use std::collections::{HashMap, HashSet};

use lengthwise::Ceiling;
use lengthwise::carry_on::Said;
use lengthwise::job::{self, name_key};

/// What was counted so far.
#[derive(Debug, Default)]
pub struct Heard {
    /// Names of bars and pieces, those of ranges one by one.
    names: u64,
    /// Kinds of bar that were found, and how many of each material.
    found: HashSet<String>,
    found_of: HashMap<Option<String>, u64>,
}

/// What is above a ceiling.
#[derive(Debug)]
pub struct TooMuch {
    pub ceiling: Ceiling,
    pub found: String,
    pub most: u64,
}

impl Heard {
    /// Counts what is said; what is too much.
    pub fn count(&mut self, said: &Said, most: &job::Ceilings) -> Result<(), TooMuch> {
        let more = match said {
            Said::Begun { pieces, .. } => 1 + pieces.len() as u64, // widening
            _ => 1,
        };
        self.names = self.names.saturating_add(more);
        if self.names > most.rows {
            return Err(TooMuch {
                ceiling: Ceiling::Rows,
                found: format!("{} bars and pieces, those of ranges one by one", self.names),
                most: most.rows,
            });
        }
        let kinds = self.kinds_found(said);
        if kinds > most.bars {
            return Err(TooMuch {
                ceiling: Ceiling::Bars,
                found: format!("{kinds} kinds of bar of one material that were found"),
                most: most.bars,
            });
        }
        Ok(())
    }

    /// How many kinds of bar were found of the material of this one.
    fn kinds_found(&mut self, said: &Said) -> u64 {
        let Said::Found {
            material,
            length,
            square_off,
            batch,
            ..
        } = said
        else {
            return 0;
        };
        let kind = (material, length.length, square_off, name_key(batch));
        let of_material = self.found_of.entry(material.clone()).or_default();
        *of_material += u64::from(self.found.insert(format!("{kind:?}")));
        *of_material
    }
}
