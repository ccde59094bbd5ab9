//! What was made good among equally cheap plans, by hand: its figures are recomputed, its bounds on trust.

use super::*;
use crate::job::Prefer;
use crate::plan::{Claim as Claimed, Preference};

fn claimed<T>(found: T, bound: Option<T>) -> Claimed<T> {
    Claimed { found, bound }
}

/// The plan of [`mixed_job`] with a preference: pieces leave 97, 500 and 200 of its bars, offcuts of 94,
/// 497 and 197 behind the cut; and more than 5 count as 5.
fn with(prefer: Prefer, preference: Preference, reach: Option<u32>) -> Result<Vec<Trust>, Breach> {
    let job = mixed_job_with(Saw {
        prefer,
        stop_reach: reach.map(mm),
        ..Saw::default()
    });
    let mut cutting = mixed_cutting();
    cutting.preference = preference;
    let verified = verify(&job, &planned(&job, cutting)).map_err(|refusal| refusal.breach)?;
    Ok(verified.materials[0].on_trust.clone())
}

#[test]
fn offcuts_are_recomputed() {
    let offcuts = |spare: Claimed<Length>, offcuts: &[Claimed<Length>]| {
        let preference = Preference::Offcuts {
            spare,
            offcuts: offcuts.to_vec(),
            same_bars: false,
        };
        with(Prefer::Offcuts, preference, None)
    };
    let five = claimed(mm(5), Some(mm(5)));
    let longest = [497, 197, 94].map(|length| claimed(mm(length), None));
    assert_eq!(offcuts(five, &longest), Ok(vec![Trust::Preference]));
    // Nothing is claimed, so nothing is on trust.
    assert_eq!(offcuts(claimed(mm(5), None), &longest), Ok(vec![]));
    assert_eq!(offcuts(claimed(mm(5), None), &longest[..1]), Ok(vec![]));
    let refused = offcuts(claimed(mm(4), None), &longest);
    assert!(
        matches!(refused, Err(Breach::SmallestSpare { .. })),
        "{refused:?}"
    );
    let longer = [claimed(mm(498), None)];
    let refused = offcuts(five, &longer);
    assert!(
        matches!(refused, Err(Breach::LongestOffcut { place: 0, .. })),
        "{refused:?}"
    );
    let none_left = [497, 197, 94, 1].map(|length| claimed(mm(length), None));
    let refused = offcuts(five, &none_left);
    assert!(
        matches!(refused, Err(Breach::LongestOffcut { place: 3, .. })),
        "{refused:?}"
    );
    // It cannot be better than the best.
    let above = [
        claimed(mm(497), Some(mm(497))),
        claimed(mm(197), Some(mm(196))),
    ];
    assert_eq!(offcuts(five, &above), Err(Breach::PreferenceBound));
    let better = [claimed(mm(497), Some(mm(600)))];
    assert_eq!(offcuts(five, &better), Ok(vec![Trust::Preference]));
}

#[test]
fn setups_are_recomputed() {
    let setups = |patterns: Claimed<u64>, moves: Claimed<u64>, reach: Option<u32>| {
        with(
            Prefer::Setups,
            Preference::Setups { patterns, moves },
            reach,
        )
    };
    // Three ways of cutting a bar, and three lengths; the stop of a short saw reaches one of them.
    let three = claimed(3, None);
    assert_eq!(setups(three, three, None), Ok(vec![]));
    assert_eq!(
        setups(claimed(3, Some(2)), three, None),
        Ok(vec![Trust::Preference])
    );
    assert_eq!(
        setups(three, claimed(3, Some(3)), None),
        Ok(vec![Trust::Preference])
    );
    assert_eq!(setups(three, claimed(1, None), Some(1000)), Ok(vec![]));
    assert_eq!(setups(three, claimed(2, None), Some(1499)), Ok(vec![]));
    for (patterns, moves) in [(2, 3), (4, 3), (3, 2), (3, 4)] {
        let refused = setups(claimed(patterns, None), claimed(moves, None), None);
        assert!(matches!(refused, Err(Breach::Setups { .. })), "{refused:?}");
    }
    assert_eq!(
        setups(claimed(3, Some(4)), three, None),
        Err(Breach::PreferenceBound)
    );
}

#[test]
fn another_preference_than_the_job_asks_for() {
    let three = claimed(3, None);
    let setups = Preference::Setups {
        patterns: three,
        moves: three,
    };
    assert_eq!(
        with(Prefer::Offcuts, setups, None),
        Err(Breach::OtherPreference)
    );
    let offcuts = Preference::Offcuts {
        spare: claimed(mm(5), None),
        offcuts: vec![],
        same_bars: false,
    };
    assert_eq!(
        with(Prefer::Setups, offcuts, None),
        Err(Breach::OtherPreference)
    );
}
