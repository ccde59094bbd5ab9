//! What was made good among equally cheap plans.

use lengthwise::Length;
use lengthwise::plan::{Claim, Preference};
use schemars::JsonSchema;
use serde::Serialize;

use super::{Millimetres, all, mm};

/// Figures with what is proven to be the best; null where nothing is.
#[derive(Debug, Serialize, JsonSchema)]
#[serde(tag = "prefer", rename_all = "lowercase")]
pub enum PreferenceJson {
    Offcuts {
        spare: LengthClaimJson,
        offcuts: Vec<LengthClaimJson>,
        same_bars: bool,
    },
    Setups {
        patterns: CountClaimJson,
        moves: CountClaimJson,
    },
}

#[derive(Debug, Serialize, JsonSchema)]
pub struct LengthClaimJson {
    found_mm: Millimetres,
    bound_mm: Option<Millimetres>,
}

#[derive(Debug, Serialize, JsonSchema)]
pub struct CountClaimJson {
    found: u64,
    bound: Option<u64>,
}

impl PreferenceJson {
    /// `None` where nothing was made good.
    pub fn new(preference: &Preference) -> serde_json::Result<Option<PreferenceJson>> {
        Ok(match preference {
            Preference::Offcuts {
                spare,
                offcuts,
                same_bars,
            } => Some(PreferenceJson::Offcuts {
                spare: LengthClaimJson::new(spare)?,
                offcuts: all(offcuts, LengthClaimJson::new)?,
                same_bars: *same_bars,
            }),
            Preference::Setups { patterns, moves } => Some(PreferenceJson::Setups {
                patterns: CountClaimJson::new(*patterns),
                moves: CountClaimJson::new(*moves),
            }),
            _ => None,
        })
    }
}

impl LengthClaimJson {
    fn new(claim: &Claim<Length>) -> serde_json::Result<LengthClaimJson> {
        Ok(LengthClaimJson {
            found_mm: mm(claim.found)?,
            bound_mm: claim.bound.map(mm).transpose()?,
        })
    }
}

impl CountClaimJson {
    fn new(claim: Claim<u64>) -> CountClaimJson {
        CountClaimJson {
            found: claim.found,
            bound: claim.bound,
        }
    }
}
