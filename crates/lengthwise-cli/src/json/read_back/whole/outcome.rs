//! What came out for a material: a plan, or why there is none.

use lengthwise::Length;
use lengthwise::job::Material;
use lengthwise::plan::{
    BarGroup, Certificate, Claim, Cutting, Figures, Impossible, Outcome, Preference, Proof,
    Purchase, SplitRule, Stop, UncutBars, Value,
};

use super::fields::At;
use super::walls::walls;
use crate::json::read_back::cells::Cells;
use crate::json::reason::STOPS;
use crate::read::cells::quoted;
use crate::read::grammar::read_course_rule;

/// How good an answer is said to be.
#[derive(Clone, Copy)]
enum Said {
    Optimal,
    Gap,
    Impossible,
    Unknown,
}

/// What is cut and bought, as it was read.
pub struct Work {
    pub bars: Vec<BarGroup>,
    pub buy: Vec<Purchase>,
}

/// The answer for one material. What follows from bars and job alone is worked out, not read.
pub fn outcome(
    at: &At<'_>,
    certificate: impl FnOnce(&mut Cells) -> Option<Certificate>,
    work: Work,
    material: &Material,
    cells: &mut Cells,
) -> Option<Outcome> {
    let words = [
        (Said::Optimal, "optimal"),
        (Said::Gap, "gap"),
        (Said::Impossible, "impossible"),
        (Said::Unknown, "unknown"),
    ];
    let proof = match at.get("proof", cells)?.word(&words, cells)? {
        Said::Optimal => Proof::Optimal,
        Said::Gap => Proof::Gap(stop(at, cells)?),
        Said::Impossible => {
            let reason = at.get("impossible", cells)?;
            return Some(Outcome::Impossible(impossible(&reason, cells)?));
        }
        Said::Unknown => return Some(Outcome::Unknown(stop(at, cells)?)),
    };
    let certificate = certificate(cells)?;
    let uncut = UncutBars::of(material, &work.buy, &work.bars);
    let derived = uncut.and_then(|uncut| {
        let figures = Figures::of(&work.buy, &work.bars, &uncut)?;
        Some((uncut, figures))
    });
    let (uncut, figures) = derived.or_else(|| {
        let found = "lengths whose sum is too large".to_owned();
        cells.fault(at.path(), found, "a plan whose figures are exact");
        None
    })?;
    Some(Outcome::Planned(Box::new(Cutting {
        proof,
        value: value(at, ("cost", "bought_mm"), material, cells)?,
        bound: value(at, ("bound", "bound_mm"), material, cells)?,
        buy: work.buy,
        bars: work.bars,
        uncut,
        figures,
        hand_proof: hand_proof(at, cells)?,
        walls: walls(at, cells)?,
        preference: preference(at, cells)?,
        certificate,
    })))
}

pub fn stop(at: &At<'_>, cells: &mut Cells) -> Option<Stop> {
    at.get("stopped", cells)?.word(&STOPS, cells)
}

/// Why it was not settled is not kept.
fn hand_proof(at: &At<'_>, cells: &mut Cells) -> Option<Proof> {
    let words = [
        (Proof::Optimal, "optimal"),
        (Proof::Gap(Stop::Exhausted), "gap"),
    ];
    at.get("hand_proof", cells)?.word(&words, cells)
}

/// Money where the material has prices, else the length bought.
pub fn value(
    at: &At<'_>,
    (money, length): (&str, &str),
    material: &Material,
    cells: &mut Cells,
) -> Option<Value> {
    if material.is_priced() {
        at.get(money, cells)?.amount(cells).map(Value::Money)
    } else {
        at.get(length, cells)?.mm(cells).map(Value::Bought)
    }
}

fn preference(at: &At<'_>, cells: &mut Cells) -> Option<Preference> {
    #[derive(Clone, Copy)]
    enum Kind {
        Offcuts,
        Setups,
    }
    let Some(at) = at.get_some("preference", cells) else {
        return Some(Preference::AsFound);
    };
    let words = [(Kind::Offcuts, "offcuts"), (Kind::Setups, "setups")];
    Some(match at.get("prefer", cells)?.word(&words, cells)? {
        Kind::Offcuts => {
            let offcuts = at.get("offcuts", cells)?.items(cells);
            let offcuts = offcuts.iter().map(|claim| length_claim(claim, cells));
            Preference::Offcuts {
                offcuts: offcuts.collect::<Option<_>>()?,
                spare: length_claim(&at.get("spare", cells)?, cells)?,
                same_bars: at.get("same_bars", cells)?.flag(cells)?,
            }
        }
        Kind::Setups => Preference::Setups {
            patterns: count_claim(&at.get("patterns", cells)?, cells)?,
            moves: count_claim(&at.get("moves", cells)?, cells)?,
        },
    })
}

fn length_claim(at: &At<'_>, cells: &mut Cells) -> Option<Claim<Length>> {
    let bound = at.get("bound_mm", cells)?;
    Some(Claim {
        found: at.get("found_mm", cells)?.mm(cells)?,
        bound: match bound.is_null() {
            true => None,
            false => Some(bound.mm(cells)?),
        },
    })
}

fn count_claim(at: &At<'_>, cells: &mut Cells) -> Option<Claim<u64>> {
    let bound = at.get("bound", cells)?;
    Some(Claim {
        found: at.get("found", cells)?.whole(cells)?,
        bound: match bound.is_null() {
            true => None,
            false => Some(bound.whole(cells)?),
        },
    })
}

pub fn impossible(at: &At<'_>, cells: &mut Cells) -> Option<Impossible> {
    let reason = at.get("reason", cells)?;
    let text = |name: &str, cells: &mut Cells| {
        let text = at.get(name, cells)?.text(cells)?;
        Some(text.to_owned())
    };
    let mm = |name: &str, cells: &mut Cells| at.get(name, cells)?.mm(cells);
    Some(match reason.text(cells)? {
        "piece_too_long" => Impossible::PieceTooLong {
            mark: text("mark", cells)?,
            length: mm("length_mm", cells)?,
            takes: mm("takes_mm", cells)?,
            longest: longest(at, cells)?,
            rows: at.get("rows", cells)?.whole(cells)?,
        },
        "no_split" => Impossible::NoSplit {
            mark: text("mark", cells)?,
            length: mm("length_mm", cells)?,
            rule: split_rule(&at.get("rule", cells)?, cells)?,
            longest: longest(at, cells)?,
            rows: at.get("rows", cells)?.whole(cells)?,
        },
        "courses" => {
            let rule = at.get("rule", cells)?;
            let read = rule.text(cells)?;
            Impossible::Courses {
                group: text("group", cells)?,
                rule: cells.text(read, rule.path(), read_course_rule)?,
                mark: text("mark", cells)?,
            }
        }
        "not_enough_length" => Impossible::NotEnoughLength {
            needed: mm("needed_mm", cells)?,
            available: mm("available_mm", cells)?,
        },
        "walls" => Impossible::Walls {
            walls: at.get("walls", cells)?.whole(cells)?,
        },
        "not_enough_bars" => Impossible::NotEnoughBars {
            left_over: at.get("left_over", cells)?.whole(cells)?,
        },
        other => {
            let accepted =
                "piece_too_long, no_split, courses, not_enough_length, walls, not_enough_bars";
            cells.fault(reason.path(), quoted(other), accepted);
            return None;
        }
    })
}

/// The longest bar; the inner `None` where there are no bars.
fn longest(at: &At<'_>, cells: &mut Cells) -> Option<Option<(Length, Length)>> {
    let longest = at.get("longest", cells)?;
    if longest.is_null() {
        return Some(None);
    }
    let usable = longest.get("usable_mm", cells)?.mm(cells)?;
    let whole = longest.get("whole_mm", cells)?.mm(cells)?;
    Some(Some((usable, whole)))
}

fn split_rule(at: &At<'_>, cells: &mut Cells) -> Option<SplitRule> {
    let rule = at.get("rule", cells)?;
    let mm = |name: &str, cells: &mut Cells| at.get(name, cells)?.mm(cells);
    Some(match rule.text(cells)? {
        "joints_max" => SplitRule::JointsMax {
            most: at.get("most", cells)?.whole(cells)?,
            needed: at.get("needed", cells)?.whole(cells)?,
        },
        "shortest" => SplitRule::Shortest {
            shortest: mm("shortest_mm", cells)?,
        },
        "places" => SplitRule::Places {
            from: mm("from_mm", cells)?,
            to: mm("to_mm", cells)?,
        },
        "bars" => SplitRule::Bars,
        other => {
            let accepted = "joints_max, shortest, places, bars";
            cells.fault(rule.path(), quoted(other), accepted);
            return None;
        }
    })
}
