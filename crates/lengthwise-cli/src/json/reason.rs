//! Why a search ended without a proof, and why there is no plan: for programs, and to be read back.

use lengthwise::plan::{Impossible, Outcome, Proof, SplitRule, Stop};
use schemars::JsonSchema;
use serde::Serialize;

use super::{Millimetres, job::rule_text, mm};

/// The stops by their promised names.
pub const STOPS: [(Stop, &str); 6] = [
    (Stop::WorkLimit, "work limit"),
    (Stop::TimeLimit, "time limit"),
    (Stop::Cancelled, "cancelled"),
    (Stop::Exhausted, "exhausted"),
    (Stop::CostsTooFine, "costs too fine"),
    (Stop::JointsTried, "joints tried"),
];

/// Why the search ended without a proof; `None` where there is one.
pub fn stopped(outcome: &Outcome) -> Option<&'static str> {
    let stop = match outcome {
        Outcome::Planned(cutting) => match cutting.proof {
            Proof::Gap(stop) => stop,
            _ => return None,
        },
        Outcome::Impossible(_) => return None,
        Outcome::Unknown(stop) => *stop,
    };
    let named = STOPS.iter().find(|(known, _)| *known == stop);
    named.map(|(_, name)| *name)
}

/// Why there is no plan.
#[derive(Debug, Serialize, JsonSchema)]
#[serde(tag = "reason", rename_all = "snake_case")]
pub enum ImpossibleJson {
    PieceTooLong {
        mark: String,
        length_mm: Millimetres,
        /// With what mitred ends take.
        takes_mm: Millimetres,
        longest: Option<LongestJson>,
        rows: usize,
    },
    NoSplit {
        mark: String,
        length_mm: Millimetres,
        rule: SplitRuleJson,
        longest: Option<LongestJson>,
        rows: usize,
    },
    Courses {
        group: String,
        rule: String,
        mark: String,
    },
    NotEnoughLength {
        needed_mm: Millimetres,
        available_mm: Millimetres,
    },
    /// No way to take each wall from one batch.
    Walls {
        walls: usize,
    },
    NotEnoughBars {
        left_over: u64,
    },
}

/// The longest bar, null where there are none.
#[derive(Debug, Serialize, JsonSchema)]
pub struct LongestJson {
    usable_mm: Millimetres,
    whole_mm: Millimetres,
}

/// What leaves a run without a split.
#[derive(Debug, Serialize, JsonSchema)]
#[serde(tag = "rule", rename_all = "snake_case")]
pub enum SplitRuleJson {
    JointsMax {
        most: u64,
        needed: u64,
    },
    Shortest {
        shortest_mm: Millimetres,
    },
    Places {
        from_mm: Millimetres,
        to_mm: Millimetres,
    },
    Bars,
}

impl ImpossibleJson {
    /// `None` where there is a plan, or no proof that there is none.
    pub fn of(outcome: &Outcome) -> serde_json::Result<Option<ImpossibleJson>> {
        match outcome {
            Outcome::Impossible(reason) => ImpossibleJson::new(reason),
            _ => Ok(None),
        }
    }

    /// `None` for a reason that this does not know.
    pub fn new(reason: &Impossible) -> serde_json::Result<Option<ImpossibleJson>> {
        Ok(Some(match reason {
            Impossible::PieceTooLong {
                mark,
                length,
                takes,
                longest,
                rows,
            } => ImpossibleJson::PieceTooLong {
                mark: mark.clone(),
                length_mm: mm(*length)?,
                takes_mm: mm(*takes)?,
                longest: longest.map(LongestJson::new).transpose()?,
                rows: *rows,
            },
            Impossible::NoSplit {
                mark,
                length,
                rule,
                longest,
                rows,
            } => ImpossibleJson::NoSplit {
                mark: mark.clone(),
                length_mm: mm(*length)?,
                rule: SplitRuleJson::new(*rule)?,
                longest: longest.map(LongestJson::new).transpose()?,
                rows: *rows,
            },
            Impossible::Courses { group, rule, mark } => ImpossibleJson::Courses {
                group: group.clone(),
                rule: rule_text(*rule),
                mark: mark.clone(),
            },
            Impossible::NotEnoughLength { needed, available } => ImpossibleJson::NotEnoughLength {
                needed_mm: mm(*needed)?,
                available_mm: mm(*available)?,
            },
            Impossible::Walls { walls } => ImpossibleJson::Walls { walls: *walls },
            Impossible::NotEnoughBars { left_over } => ImpossibleJson::NotEnoughBars {
                left_over: *left_over,
            },
            _ => return Ok(None),
        }))
    }
}

impl LongestJson {
    fn new((usable, whole): (lengthwise::Length, lengthwise::Length)) -> serde_json::Result<Self> {
        Ok(LongestJson {
            usable_mm: mm(usable)?,
            whole_mm: mm(whole)?,
        })
    }
}

impl SplitRuleJson {
    fn new(rule: SplitRule) -> serde_json::Result<SplitRuleJson> {
        Ok(match rule {
            SplitRule::JointsMax { most, needed } => SplitRuleJson::JointsMax { most, needed },
            SplitRule::Shortest { shortest } => SplitRuleJson::Shortest {
                shortest_mm: mm(shortest)?,
            },
            SplitRule::Places { from, to } => SplitRuleJson::Places {
                from_mm: mm(from)?,
                to_mm: mm(to)?,
            },
            _ => SplitRuleJson::Bars,
        })
    }
}
