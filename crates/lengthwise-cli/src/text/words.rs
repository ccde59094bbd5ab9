//! Outcomes as sentences, for people and for the `why` of the JSON.

use lengthwise::plan::{Cutting, Impossible, MaterialPlan, Outcome, Proof, Stop, Value};
use lengthwise::{Length, Price, Unit};

/// Why the search ended.
pub const fn stopped(stop: Stop) -> &'static str {
    match stop {
        Stop::WorkLimit => "stopped after the work limit",
        Stop::TimeLimit => "stopped after the time limit",
        Stop::Cancelled => "stopped when it was told to",
        Stop::Exhausted => "stopped when every method had been tried",
        _ => "stopped early",
    }
}

/// The one sentence on how good a plan is, and the bound behind it.
pub fn verdict(cutting: &Cutting, unit: Unit) -> String {
    match (cutting.value, cutting.bound) {
        (Value::Money(value), Value::Money(bound)) => match cutting.proof {
            Proof::Optimal => format!("Proved cheapest. No plan costs less than {bound}."),
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
    format!(
        "No plan found, and no proof that there is none; {}. A higher --limit or --work-limit \
         may find one.",
        stopped(stop)
    )
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
        Impossible::NotEnoughLength { needed, available } => {
            let missing = length_gap(*needed, *available);
            format!(
                "Not enough stock: the pieces and the cuts between them take at least {}, the bars \
                 that can be had give {}. At least {} is missing; more or longer bars would make \
                 it possible.",
                needed.text(unit),
                available.text(unit),
                missing.text(unit)
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
    let (of_whole, needed) = if allowance.is_zero() {
        (String::new(), takes)
    } else {
        let needed = takes.checked_add(allowance).unwrap_or(takes);
        let of_whole = format!(" ({} less what squaring its ends takes)", whole.text(unit));
        (of_whole, needed)
    };
    let others = match rows {
        0 | 1 => String::new(),
        2 => " One other row of pieces is too long as well.".to_owned(),
        rows => format!(" {} other rows of pieces are too long as well.", rows - 1),
    };
    format!(
        "Piece {mark} of {}{mitred} is longer than the longest usable bar, {}{of_whole}.{others} A bar of \
         at least {} would make it possible, or a shorter piece, or two pieces with a joint in its \
         place.",
        length.text(unit),
        usable.text(unit),
        needed.text(unit)
    )
}
