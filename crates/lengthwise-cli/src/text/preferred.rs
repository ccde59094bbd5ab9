//! What was made good among equally cheap plans, as a sentence or two.

use lengthwise::job::{Material, Supply};
use lengthwise::plan::{Claim, Cutting, LARGEST_SPARE, Preference, Proof};
use lengthwise::{Length, Unit};

use super::layout::counted;
use super::measure;

/// Offcuts that are named.
const NAMED: usize = 3;

/// The sentences; `None` where nothing was made good.
pub fn preferred(cutting: &Cutting, material: &Material, unit: Unit) -> Option<String> {
    let others = others(cutting, material);
    match &cutting.preference {
        Preference::Offcuts {
            spare,
            offcuts,
            same_bars,
        } => {
            let others = if *same_bars {
                "plan as cheap that cuts the same bars".to_owned()
            } else {
                others
            };
            let every = match cutting.bars.iter().any(|bars| bars.is_kept_whole()) {
                true => "Every bar that is cut",
                false => "Every bar",
            };
            let offcuts = longest(offcuts, &others, unit).map(|text| format!(" {text}"));
            Some(to_spare(*spare, every, &others, unit) + &offcuts.unwrap_or_default())
        }
        Preference::Setups { patterns, moves } => {
            let ways = counted(
                patterns.found,
                "way of cutting a bar",
                "ways of cutting a bar",
            );
            let times = counted(moves.found, "setting of the stop", "settings of the stop");
            let (least_ways, least_moves) = (fewest(*patterns, &others), fewest(*moves, &others));
            Some(format!("{ways}{least_ways}, {times}{least_moves}."))
        }
        _ => None,
    }
}

/// The plans that a claim is about: of this cost, and taking so much from hand where something is there.
fn others(cutting: &Cutting, material: &Material) -> String {
    let cheap = match cutting.proof {
        Proof::Optimal => "plan as cheap",
        _ => "plan of this cost",
    };
    let is_there = |supply| matches!(supply, Supply::InHand { available, .. } if available > 0);
    let mut bars = material.bars().iter();
    let hand = match cutting.hand_proof {
        _ if !bars.any(|bar| is_there(bar.supply())) => "",
        Proof::Optimal => " that takes as little from hand",
        _ => " that takes as much from hand",
    };
    format!("{cheap}{hand}")
}

fn fewest(claim: Claim<u64>, others: &str) -> String {
    match claim.bound {
        _ if claim.is_proven() => format!(" (no {others} has fewer)"),
        Some(bound) => format!(" (as few as found; {bound} or more there must be)"),
        None => " (as few as found)".to_owned(),
    }
}

fn to_spare(spare: Claim<Length>, every: &str, others: &str, unit: Unit) -> String {
    let (found, is_all) = measure::down(spare.found, unit);
    let at_most = |length: Length| measure::up(length, unit).text(unit);
    let more = match spare.bound {
        _ if spare.found >= LARGEST_SPARE => String::new(),
        _ if spare.is_proven() && is_all => format!(", and in no {others} more"),
        _ if spare.is_proven() && found.is_zero() => format!(", as in every {others}"),
        _ if spare.is_proven() => {
            format!(", and in no {others} more than {}", at_most(spare.found))
        }
        Some(bound) => format!("; up to {} is not ruled out", at_most(bound)),
        None => String::new(),
    };
    if spare.found.is_zero() {
        return format!("Some bar has nothing to spare{more}.");
    }
    if found.is_zero() {
        let grain = at_most(spare.found);
        return format!("Some bar has less than {grain} to spare{more}.");
    }
    let found = found.text(unit);
    format!("{every} has {found} or more to spare{more}.")
}

/// The longest offcuts and what is proven of them; `None` where none was looked for.
fn longest(offcuts: &[Claim<Length>], others: &str, unit: Unit) -> Option<String> {
    let text = |length: Length| measure::down(length, unit).0.text(unit);
    let proven = offcuts.iter().take_while(|claim| claim.is_proven());
    // What none is longer than must not be rounded down.
    let at_most = |length: Length| measure::up(length, unit).text(unit);
    let proven: Vec<String> = proven
        .take(NAMED)
        .map(|claim| at_most(claim.found))
        .collect();
    let said = match &proven[..] {
        [] => None,
        [only] => Some(format!("No {others} has a longer offcut than {only}")),
        [first, rest @ ..] => Some(format!(
            "No {others} has a longer offcut than {first}, and then {}",
            rest.join(", ")
        )),
    };
    let open = offcuts.get(proven.len());
    let open = open.filter(|claim| !claim.is_proven());
    let open = open.map(|claim| match claim.bound {
        // A bound far above says nothing that helps.
        Some(bound) if bound.nm() / 2 > claim.found.nm() => {
            format!("the next, {}, might be longer", text(claim.found))
        }
        Some(bound) => format!(
            "the next, {}, might be up to {}",
            text(claim.found),
            at_most(bound)
        ),
        None => format!("the next is {}, as found", text(claim.found)),
    });
    match (said, open) {
        (Some(said), Some(open)) => Some(format!("{said}; {open}.")),
        (Some(said), None) => Some(format!("{said}.")),
        (None, Some(open)) => Some(format!(
            "Of the offcuts {}.",
            open.replacen("the next", "the longest", 1)
        )),
        (None, None) => None,
    }
}
