//! The boxes that a certificate splits the mixes into, each held against the evidence by itself.
//!
//! Splits only say where to look: whatever they are, every mix lies in one of the boxes, so that a
//! wrong one can make a proof fail, never hold.

use super::facts::Facts;
use super::refusal::Breach;
use crate::plan::MixSplit;

/// Most numbers of sales, of all boxes and kinds together, that are kept in memory: 240 MB.
const MOST_SALES: usize = 15_000_000;

/// From the least to the most sales of each kind of bar.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct MixBox {
    pub least: Vec<u64>,
    pub most: Vec<u64>,
}

impl MixBox {
    /// Every mix there is.
    pub fn whole(facts: &Facts<'_>) -> MixBox {
        MixBox {
            least: vec![0; facts.kinds.len()],
            most: vec![u64::MAX; facts.kinds.len()],
        }
    }

    /// The least and the most sales of a kind.
    pub fn of(&self, kind: usize) -> (u64, u64) {
        let at = |sales: &[u64], none| sales.get(kind).copied().unwrap_or(none);
        (at(&self.least, 0), at(&self.most, u64::MAX))
    }

    /// At most `at` sales of a kind, and more; `None` where one side is empty or there is no such kind.
    fn halves(self, kind: usize, at: u64) -> Option<(MixBox, MixBox)> {
        let (mut low, mut high) = (self.clone(), self);
        let (most, least) = (low.most.get_mut(kind)?, high.least.get_mut(kind)?);
        if at < *least || at >= *most {
            return None;
        }
        (*most, *least) = (at, at + 1);
        Some((low, high))
    }
}

/// The boxes that are not split, in the order of the splits; all mixes in one where there are none. `None`
/// where they are more than are kept.
pub(super) fn boxes(
    facts: &Facts<'_>,
    splits: &[Option<MixSplit>],
) -> Result<Option<Vec<MixBox>>, Breach> {
    let mut open = vec![MixBox::whole(facts)];
    if splits.is_empty() {
        return Ok(Some(open));
    }
    let most = splits.iter().flatten().count() + 1;
    if most.saturating_mul(facts.kinds.len()) > MOST_SALES {
        return Ok(None);
    }
    let mut done = Vec::new();
    for (place, split) in splits.iter().enumerate() {
        let broken = Breach::SplitBroken { place };
        let Some(mixes) = open.pop() else {
            return Err(broken);
        };
        match split {
            None => done.push(mixes),
            Some(split) => {
                let (low, high) = mixes.halves(split.bar, split.at).ok_or(broken)?;
                open.extend([high, low]);
            }
        }
    }
    if open.is_empty() {
        Ok(Some(done))
    } else {
        Err(Breach::SplitBroken {
            place: splits.len(),
        })
    }
}
