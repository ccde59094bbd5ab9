//! What was made good among equally cheap plans, as a sentence or two.

use lengthwise::plan::{Claim, LARGEST_SPARE, Preference};
use lengthwise::{Length, Unit};

use super::layout::counted;
use super::measure;

/// Offcuts that are named.
const NAMED: usize = 3;

/// The sentences; `None` where nothing was made good.
pub fn preferred(preference: &Preference, unit: Unit) -> Option<String> {
    match preference {
        Preference::Offcuts {
            spare,
            offcuts,
            same_bars,
        } => {
            let others = if *same_bars {
                "plan as cheap that cuts the same bars"
            } else {
                "plan as cheap"
            };
            let offcuts = longest(offcuts, others, unit).map(|text| format!(" {text}"));
            Some(to_spare(*spare, others, unit) + &offcuts.unwrap_or_default())
        }
        Preference::Setups { patterns, moves } => {
            let ways = counted(
                patterns.found,
                "way of cutting a bar",
                "ways of cutting a bar",
            );
            let times = counted(moves.found, "setting of the stop", "settings of the stop");
            let (least_ways, least_moves) = (fewest(*patterns), fewest(*moves));
            Some(format!("{ways}{least_ways}, {times}{least_moves}."))
        }
        _ => None,
    }
}

fn fewest(claim: Claim<u64>) -> String {
    match claim.bound {
        _ if claim.is_proven() => " (no plan as cheap has fewer)".to_owned(),
        Some(bound) => format!(" (as few as found; {bound} or more there must be)"),
        None => " (as few as found)".to_owned(),
    }
}

fn to_spare(spare: Claim<Length>, others: &str, unit: Unit) -> String {
    let text = |length: Length| measure::down(length, unit).0.text(unit);
    let found = text(spare.found);
    let more = match spare.bound {
        _ if spare.found >= LARGEST_SPARE => String::new(),
        _ if spare.is_proven() => format!(", and in no {others} more"),
        Some(bound) => format!("; up to {} is not ruled out", text(bound)),
        None => String::new(),
    };
    if spare.found.is_zero() {
        return format!("Some bar has nothing to spare{more}.");
    }
    format!("Every bar has {found} or more to spare{more}.")
}

/// The longest offcuts and what is proven of them; `None` where none was looked for.
fn longest(offcuts: &[Claim<Length>], others: &str, unit: Unit) -> Option<String> {
    let text = |length: Length| measure::down(length, unit).0.text(unit);
    let proven = offcuts.iter().take_while(|claim| claim.is_proven());
    let proven: Vec<String> = proven.take(NAMED).map(|claim| text(claim.found)).collect();
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
            text(bound)
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
