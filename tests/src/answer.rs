//! The answer to a job of one material, verified and reduced to what tests compare.

use lengthwise::plan::{Cutting, Impossible, Outcome, Proof, Stop, Value};
use lengthwise::{Job, Limits, Plan, solve, verify};

use crate::exhaustive::Best;

/// What came out of a job of one material; every one of these was verified.
#[derive(Clone, Debug, PartialEq)]
pub enum Answer {
    /// There is a plan.
    Planned(Box<Cutting>),
    /// There is none.
    Impossible(Impossible),
    /// Nobody knows.
    Unknown(Stop),
}

impl Answer {
    /// The plan.
    ///
    /// # Panics
    /// Where there is none.
    pub fn cutting(&self) -> &Cutting {
        match self {
            Answer::Planned(cutting) => cutting,
            other => panic!("there is no plan: {other:?}"),
        }
    }
}

/// The plan of the first material.
///
/// # Panics
/// Where there is none.
pub fn cutting(plan: &Plan) -> &Cutting {
    match plan.materials.first().map(|material| &material.outcome) {
        Some(Outcome::Planned(cutting)) => cutting,
        other => panic!("there is no plan: {other:?}"),
    }
}

/// The same, to be tampered with.
///
/// # Panics
/// Where there is none.
pub fn cutting_mut(plan: &mut Plan) -> &mut Cutting {
    match plan
        .materials
        .first_mut()
        .map(|material| &mut material.outcome)
    {
        Some(Outcome::Planned(cutting)) => cutting,
        other => panic!("there is no plan: {other:?}"),
    }
}

/// Plans under the default limit of work, verifies, and hands back the one material.
///
/// # Panics
/// Where the plan is refused or the job has more than one material.
pub fn answer(job: &Job) -> Answer {
    answer_within(job, &Limits::default())
}

/// As [`answer`], under other limits.
///
/// # Panics
/// As [`answer`].
pub fn answer_within(job: &Job, limits: &Limits<'_>) -> Answer {
    verified(job, solve(job, limits))
}

/// The one material of a plan, verified.
///
/// # Panics
/// As [`answer`].
pub fn verified(job: &Job, plan: Plan) -> Answer {
    if let Err(refusal) = verify(job, &plan) {
        panic!("the plan is refused: {refusal}\n{plan:#?}");
    }
    let [material] =
        <[_; 1]>::try_from(plan.materials).unwrap_or_else(|_| panic!("one material was asked for"));
    match material.outcome {
        Outcome::Planned(cutting) => Answer::Planned(cutting),
        Outcome::Impossible(reason) => Answer::Impossible(reason),
        Outcome::Unknown(stop) => Answer::Unknown(stop),
    }
}

/// What a plan claims, where it claims no more than is so.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Claims {
    /// That nothing is cheaper.
    pub is_optimal: bool,
    /// That nothing as cheap cuts into less from hand.
    pub hand_is_settled: bool,
}

/// Holds what a plan claims against the best there is.
///
/// # Errors
/// The claim that is not so: a cost below the least, a bound above it, `optimal` of what is not, bars in hand
/// that could be left whole.
pub fn claims_against(cutting: &Cutting, best: &Best) -> Result<Claims, String> {
    let (value, bound) = (units(cutting.value), units(cutting.bound));
    let hand = i128::from(cutting.figures.hand_cut_into.nm());
    let claims = Claims {
        is_optimal: cutting.proof == Proof::Optimal,
        hand_is_settled: cutting.hand_proof == Proof::Optimal,
    };
    let wrong = if value < best.value || bound > best.value {
        "below the least there is, or bound above it"
    } else if claims.is_optimal && value != best.value {
        "not optimal"
    } else if claims.hand_is_settled && value == best.value && hand != best.hand_nm {
        "hand is not least"
    } else {
        return Ok(claims);
    };
    Err(format!(
        "{wrong}: value {value}, bound {bound}, hand {hand}, {claims:?}; {best:?}"
    ))
}

/// Decimals of money in [`units`]: two of a price per metre, nine of metres in nanometres.
pub const MONEY_DECIMALS: u32 = 11;

/// A value as a whole number: nanometres bought, or money in units of 10^-11.
///
/// # Panics
/// Where the money has more decimals than that.
pub fn units(value: Value) -> i128 {
    match value {
        Value::Bought(length) => i128::from(length.nm()),
        Value::Money(price) => {
            let exact = price.decimal().normalize();
            let missing = MONEY_DECIMALS
                .checked_sub(exact.scale())
                .expect("money of a test has few decimals");
            exact.mantissa() * 10_i128.pow(missing)
        }
    }
}
