//! Outcomes as sentences, for people and for the `why` of the JSON.

use lengthwise::job::CourseRule;
use lengthwise::plan::{Cutting, Impossible, MaterialPlan, Outcome, Proof, SplitRule, Stop, Value};
use lengthwise::{Length, Price, Unit};

use super::layout::counted;
use super::measure;

/// Why the search ended.
pub const fn stopped(stop: Stop) -> &'static str {
    match stop {
        Stop::WorkLimit => "stopped after the work limit",
        Stop::TimeLimit => "stopped after the time limit",
        Stop::Cancelled => "stopped when it was told to",
        Stop::Exhausted => "stopped when every method had been tried",
        Stop::JointsTried => "stopped when all joint places that were chosen had been tried",
        Stop::CostsTooFine => {
            "stopped since lengths or prices have so many digits that sums of them would not stay exact"
        }
        _ => "stopped early",
    }
}

/// The one sentence on how good a plan is, and the bound behind it.
pub fn verdict(cutting: &Cutting, unit: Unit) -> String {
    match (cutting.value, cutting.bound) {
        (Value::Money(value), Value::Money(bound)) => match cutting.proof {
            Proof::Optimal => format!("Proved cheapest. No plan costs less than {bound}."),
            Proof::Gap(Stop::JointsTried) => format!(
                "Proved cheapest for the joint places tried; wherever joints fall, no plan costs less \
                 than {bound}."
            ),
            Proof::Gap(stop) => format!(
                "Up to {} too dear; {}. No plan costs less than {bound}.",
                price_gap(value, bound),
                stopped(stop)
            ),
            _ => format!("Not proved cheapest. No plan costs less than {bound}."),
        },
        (Value::Bought(Length::ZERO), _) => "Proved: nothing need be bought.".to_owned(),
        (Value::Bought(value), Value::Bought(bound)) => {
            let least = format!("No plan buys less than {}.", bound.text(unit));
            match cutting.proof {
                Proof::Optimal => format!("Proved least length to buy. {least}"),
                Proof::Gap(Stop::JointsTried) => format!(
                    "Proved least length to buy for the joint places tried; wherever joints fall, no \
                     plan buys less than {}.",
                    bound.text(unit)
                ),
                Proof::Gap(stop) => format!(
                    "Up to {} more than need be bought; {}. {least}",
                    length_gap(value, bound).text(unit),
                    stopped(stop)
                ),
                _ => format!("Not proved least. {least}"),
            }
        }
        // The core judges value and bound by the same measure.
        _ => "Not compared with a bound.".to_owned(),
    }
}

/// Money, or bought length.
pub fn value(value: Value, unit: Unit) -> String {
    match value {
        Value::Money(price) => price.to_string(),
        Value::Bought(length) => length.text(unit),
    }
}

/// How far a price is above its bound.
pub fn price_gap(value: Price, bound: Price) -> Price {
    Price::from_decimal(value.decimal() - bound.decimal()).unwrap_or(Price::ZERO)
}

/// How far a length is above its bound.
pub fn length_gap(value: Length, bound: Length) -> Length {
    value.checked_sub(bound).unwrap_or(Length::ZERO)
}

/// The sentence for the JSON: why there is no proof or no plan; `None` for a proven plan.
pub fn why(plan: &MaterialPlan) -> Option<String> {
    match &plan.outcome {
        Outcome::Planned(cutting) => match cutting.proof {
            Proof::Optimal => None,
            _ => Some(verdict(cutting, plan.unit)),
        },
        Outcome::Impossible(reason) => Some(impossible(reason, plan.unit)),
        Outcome::Unknown(stop) => Some(unknown(*stop)),
    }
}

/// No plan and no proof that there is none.
pub fn unknown(stop: Stop) -> String {
    let remedy = match stop {
        Stop::CostsTooFine => "No limit helps; lengths and prices with fewer digits do.",
        _ => "A higher --limit or --work-limit may find one.",
    };
    let why = stopped(stop);
    format!("No plan found, and no proof that there is none; {why}. {remedy}")
}

/// No plan exists, with the numbers and the remedy.
pub fn impossible(reason: &Impossible, unit: Unit) -> String {
    match reason {
        Impossible::PieceTooLong {
            mark,
            length,
            takes,
            longest,
            rows,
        } => too_long(mark, (*length, *takes), *longest, *rows, unit),
        Impossible::NoSplit {
            mark,
            length,
            rule,
            longest,
            rows,
        } => {
            let run = Unjoined {
                mark,
                length: *length,
                longest: *longest,
                unit,
            };
            run.sentence(*rule, *rows)
        }
        Impossible::Courses { group, rule, mark } => courses(group, *rule, mark),
        Impossible::Walls { walls } => format!(
            "There is no way to take {} from one batch: more bars of one batch, or walls named \
             otherwise, would make it possible.",
            match walls {
                1 => "the wall".to_owned(),
                walls => format!("each of the {walls} walls"),
            }
        ),
        Impossible::NotEnoughLength { needed, available } => {
            let missing = length_gap(*needed, *available);
            format!(
                "Not enough stock: the pieces and the cuts between them take at least {}, the bars \
                 that can be had give {}. At least {} is missing; more or longer bars would make \
                 it possible.",
                measure::down(*needed, unit).0.text(unit),
                available.text(unit),
                measure::down(missing, unit).0.text(unit)
            )
        }
        Impossible::NotEnoughBars { left_over } => format!(
            "Not enough stock: however the bars that can be had are cut, {left_over} or more pieces \
             stay uncut. More or longer bars would make it possible."
        ),
        _ => "No plan exists.".to_owned(),
    }
}

fn too_long(
    mark: &str,
    (length, takes): (Length, Length),
    longest: Option<(Length, Length)>,
    rows: usize,
    unit: Unit,
) -> String {
    let takes = measure::up(takes, unit);
    let mitred = if takes == length {
        String::new()
    } else {
        format!(" ({} with its mitred ends)", takes.text(unit))
    };
    let Some((usable, whole)) = longest else {
        return format!(
            "Piece {mark} of {} cannot be cut: no bar is left to cut it from. A bar of at least \
             that length would make it possible.",
            length.text(unit)
        );
    };
    let allowance = length_gap(whole, usable);
    let needed = takes.checked_add(allowance).unwrap_or(takes);
    let others = match rows {
        0 | 1 => String::new(),
        2 => " One other row of pieces is too long as well.".to_owned(),
        rows => format!(" {} other rows of pieces are too long as well.", rows - 1),
    };
    format!(
        "Piece {mark} of {}{mitred} is longer than the longest usable bar, {}.{others} A bar of at \
         least {} would make it possible, or a shorter piece, or a joint in it (see joints in \
         lengthwise --help).",
        length.text(unit),
        usable_bar((usable, whole), unit),
        needed.text(unit)
    )
}

/// A usable length, and what it is of.
fn usable_bar((usable, whole): (Length, Length), unit: Unit) -> String {
    if usable == whole {
        usable.text(unit)
    } else {
        let whole = whole.text(unit);
        format!(
            "{} ({whole} less what squaring its ends takes)",
            usable.text(unit)
        )
    }
}

/// A run that cannot be parted as its rules want it.
struct Unjoined<'a> {
    mark: &'a str,
    length: Length,
    longest: Option<(Length, Length)>,
    unit: Unit,
}

impl Unjoined<'_> {
    fn sentence(&self, rule: SplitRule, rows: usize) -> String {
        let (why, remedy) = self.reason(rule);
        let others = match rows {
            0 | 1 => String::new(),
            2 => " One other row of runs cannot be joined either.".to_owned(),
            rows => format!(" {} other rows of runs cannot be joined either.", rows - 1),
        };
        format!(
            "Run {} of {} cannot be joined as asked: {why}.{others} {remedy} would make it possible.",
            self.mark,
            self.length.text(self.unit)
        )
    }

    fn reason(&self, rule: SplitRule) -> (String, &'static str) {
        let bar = match self.longest {
            None => "no bar is left to cut it from".to_owned(),
            Some(longest) => format!(
                "the longest usable bar is {}",
                usable_bar(longest, self.unit)
            ),
        };
        match rule {
            SplitRule::JointsMax { most, needed } => (
                format!(
                    "it takes {}, and joints_max allows {most}; {bar}",
                    counted(needed, "joint", "joints")
                ),
                "A larger joints_max or longer bars",
            ),
            SplitRule::Shortest { shortest } => (
                format!(
                    "wherever it is joined, some part is shorter than {}, the shortest allowed; {bar}",
                    shortest.text(self.unit)
                ),
                "A smaller shortest, other places for joints or longer bars",
            ),
            SplitRule::Places { from, to } => (
                format!(
                    "no bar reaches the {} from {} to {}; {bar}",
                    length_gap(to, from).text(self.unit),
                    self.place(from),
                    self.place(to)
                ),
                "More places for joints or longer bars",
            ),
            SplitRule::Bars => (
                format!(
                    "wherever it is joined, gaps and mitred ends leave no part that fits a bar; {bar}"
                ),
                "Smaller gaps or longer bars",
            ),
            _ => (
                format!("no rule for its joints leaves a way; {bar}"),
                "Other places for joints or longer bars",
            ),
        }
    }

    /// A place on the run, by name where it is one of its ends.
    fn place(&self, place: Length) -> String {
        if place.is_zero() {
            "its left end".to_owned()
        } else if place == self.length {
            "its right end".to_owned()
        } else {
            format!("the place for a joint at {}", place.text(self.unit))
        }
    }
}

fn courses(group: &str, CourseRule { joints, courses }: CourseRule, mark: &str) -> String {
    format!(
        "The courses of \"{group}\", of which run {mark} is the first, cannot be joined by their \
         course_rule {joints}/{courses}, at most {} on one support in any {courses} courses that \
         follow each other; without the rule there is a plan. A looser rule, more places for joints, \
         or joints_max to allow more of them would make it possible.",
        counted(u64::from(joints), "joint", "joints")
    )
}
