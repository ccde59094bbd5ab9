//! Where the optimum of a job lies, as far as its answer tells.

use lengthwise::{Job, Limits};

use crate::answer::{Answer, answer_within, units};

/// At the plan's cost where that is proven, between bound and plan otherwise. A job without a plan costs
/// more than any other.
#[derive(Clone, Copy, Debug)]
pub struct Range {
    /// The optimum is no less.
    pub low: i128,
    /// The optimum is no more.
    pub high: i128,
}

impl Range {
    /// Plans and verifies a job of one material.
    ///
    /// # Panics
    /// As [`answer`](crate::answer::answer).
    pub fn of(job: &Job) -> Range {
        Range::within(job, &Limits::default())
    }

    /// As [`Range::of`], under other limits.
    ///
    /// # Panics
    /// As [`answer`](crate::answer::answer).
    pub fn within(job: &Job, limits: &Limits<'_>) -> Range {
        Range::from(&answer_within(job, limits))
    }

    /// Whether the optimum is known.
    pub fn is_proven(self) -> bool {
        self.low == self.high
    }

    /// Whether there is no plan.
    pub fn is_impossible(self) -> bool {
        self.low == i128::MAX
    }

    /// Whether some optimum here is at most some optimum there.
    pub fn may_be_at_most(self, other: Range) -> bool {
        self.low <= other.high
    }

    /// Whether both optima may be the same.
    pub fn may_equal(self, other: Range) -> bool {
        self.may_be_at_most(other) && other.may_be_at_most(self)
    }

    /// So many times as much.
    #[must_use]
    pub fn times(self, factor: i128) -> Range {
        Range {
            low: self.low.saturating_mul(factor),
            high: self.high.saturating_mul(factor),
        }
    }
}

impl From<&Answer> for Range {
    fn from(answer: &Answer) -> Range {
        match answer {
            Answer::Planned(cutting) => Range {
                low: units(cutting.bound),
                high: units(cutting.value),
            },
            Answer::Impossible(_) => Range {
                low: i128::MAX,
                high: i128::MAX,
            },
            Answer::Unknown(_) => Range {
                low: 0,
                high: i128::MAX,
            },
        }
    }
}
