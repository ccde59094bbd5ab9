//! What was made good among equally cheap plans: its figures once more from the bars.
//!
//! That no other plan has better ones rests on searches of which nothing is kept.

use std::cmp::Reverse;
use std::collections::HashSet;

use super::Trust;
use super::bars;
use super::facts::{Facts, length, nm};
use super::refusal::Breach;
use crate::job::Prefer;
use crate::length::Length;
use crate::plan::{BarGroup, Claim, Cutting, LARGEST_SPARE, Preference};

/// Checks the figures of the preference; what has to be believed is handed back.
pub(super) fn check_preference(
    facts: &Facts<'_>,
    cutting: &Cutting,
) -> Result<Option<Trust>, Breach> {
    match &cutting.preference {
        Preference::AsFound => Ok(None),
        Preference::Offcuts { spare, offcuts, .. } => {
            check_asked(facts, Prefer::Offcuts)?;
            check_offcuts(facts, cutting, spare, offcuts)
        }
        Preference::Setups { patterns, moves } => {
            check_asked(facts, Prefer::Setups)?;
            check_setups(facts, cutting, patterns, moves)
        }
    }
}

fn check_asked(facts: &Facts<'_>, prefer: Prefer) -> Result<(), Breach> {
    if facts.material.prefer() == prefer {
        Ok(())
    } else {
        Err(Breach::OtherPreference)
    }
}

fn check_offcuts(
    facts: &Facts<'_>,
    cutting: &Cutting,
    spare: &Claim<Length>,
    offcuts: &[Claim<Length>],
) -> Result<Option<Trust>, Breach> {
    let cut = cutting.bars.iter().filter(|group| !group.is_kept_whole());
    let mut spares = cut.map(|group| bars::spare(facts, group));
    let smallest = spares.try_fold(nm(LARGEST_SPARE), |least, spare| {
        Ok::<_, Breach>(least.min(spare?))
    })?;
    if nm(spare.found) != smallest {
        return Err(Breach::SmallestSpare {
            plan: spare.found,
            recomputed: length(smallest)?,
        });
    }
    let mut all: Vec<(i128, usize)> = Vec::new();
    for group in &cutting.bars {
        let offcut = (bars::spare(facts, group)? - facts.cut()).max(0);
        all.push((offcut, group.names.len()));
    }
    all.sort_unstable_by_key(|(offcut, _)| Reverse(*offcut));
    let mut longest = all
        .iter()
        .flat_map(|&(offcut, bars)| std::iter::repeat_n(offcut, bars));
    for (place, claim) in offcuts.iter().enumerate() {
        let recomputed = longest.next().unwrap_or(0);
        if nm(claim.found) != recomputed {
            return Err(Breach::LongestOffcut {
                place,
                plan: claim.found,
                recomputed: length(recomputed)?,
            });
        }
    }
    let claims = || offcuts.iter().chain([spare]);
    let is_below = |claim: &Claim<_>| claim.bound.is_some_and(|bound| bound < claim.found);
    if claims().any(is_below) {
        return Err(Breach::PreferenceBound);
    }
    let is_claimed = claims().any(|claim| claim.bound.is_some());
    Ok(is_claimed.then_some(Trust::Preference))
}

fn check_setups(
    facts: &Facts<'_>,
    cutting: &Cutting,
    patterns: &Claim<u64>,
    moves: &Claim<u64>,
) -> Result<Option<Trust>, Breach> {
    let ways: HashSet<_> = cutting.bars.iter().map(BarGroup::pattern).collect();
    let reach = facts.material.stop_reach();
    let settings = cutting.stop_settings().into_iter();
    let settings = settings.filter(|setting| reach.is_none_or(|reach| setting.length <= reach));
    for (claim, recomputed) in [(patterns, ways.len()), (moves, settings.count())] {
        let recomputed = u64::try_from(recomputed).map_err(|_| Breach::TooLarge)?;
        if claim.found != recomputed {
            return Err(Breach::Setups {
                plan: claim.found,
                recomputed,
            });
        }
        if claim.bound.is_some_and(|bound| bound > claim.found) {
            return Err(Breach::PreferenceBound);
        }
    }
    let is_claimed = patterns.bound.or(moves.bound).is_some();
    Ok(is_claimed.then_some(Trust::Preference))
}
