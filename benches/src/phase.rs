//! How far into the method the engine had to go.

use lengthwise::plan::Effort;

/// The furthest stage of the method that a proven plan needed. Told from the counts of
/// [`Effort`]; exact where no bars are in hand (with them, the tie rule asks questions of its own
/// after the cost is proven).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Phase {
    /// A plan made without a linear program meets the root bound.
    Construction,
    /// A dive after column generation meets the root bound.
    Dive,
    /// Questions about mixes of bars, each answered by prices or by a dive.
    Prices,
    /// Patterns were enumerated or nodes branched on.
    Search,
}

impl Phase {
    /// All, in the order of the method.
    pub const ALL: [Phase; 4] = [
        Phase::Construction,
        Phase::Dive,
        Phase::Prices,
        Phase::Search,
    ];

    /// The furthest stage that left a trace.
    pub fn of(effort: &Effort) -> Phase {
        if effort.enumerated > 0 || effort.nodes > 0 {
            Phase::Search
        } else if effort.questions > 0 {
            Phase::Prices
        } else if effort.dives > 0 {
            Phase::Dive
        } else {
            Phase::Construction
        }
    }

    /// One word for tables.
    pub fn word(self) -> &'static str {
        match self {
            Phase::Construction => "construct",
            Phase::Dive => "dive",
            Phase::Prices => "prices",
            Phase::Search => "search",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use lengthwise::Limits;
    use lengthwise_tests::generate::Instance;

    fn solved(bar: u64, pieces: &[(u64, u64)]) -> Phase {
        let instance = Instance {
            name: String::new(),
            bar,
            kerf: 0,
            pieces: pieces.to_vec(),
            optimum: None,
        };
        let plan = lengthwise::solve(&instance.job(), &Limits::default());
        let effort = plan.materials.first().map(|material| material.effort);
        Phase::of(&effort.unwrap_or_default())
    }

    #[test]
    fn easy_and_hard_are_told_apart() {
        assert_eq!(solved(10, &[(6, 1), (4, 3)]), Phase::Construction);
        // The case to check by hand of `generate::hard`: four bars, and since halves of six full bars
        // hold everything, no prices can say so.
        let core = [97, 81, 80, 73, 72, 67, 66, 65, 62, 60];
        let times = [1, 1, 1, 3, 2, 1, 1, 1, 3, 1];
        let pieces: Vec<(u64, u64)> = core.into_iter().zip(times).collect();
        assert_eq!(solved(355, &pieces), Phase::Search);
    }
}
