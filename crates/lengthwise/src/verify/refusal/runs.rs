//! Which claim about runs, their joints and their courses does not hold.

use thiserror::Error;

use crate::job::CourseRule;
use crate::length::Length;
use crate::plan::SplitRule;

/// What does not hold of a run. `plan` is what the plan says, `recomputed` or `job` what is true.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum RunBreach {
    /// A cut of a run does not say for each bar of its group which part it is.
    #[error("cut {mark} says of {parts} bars which part of a run it is, its group has {bars}")]
    PartsPerBar {
        /// The first mark of the cut.
        mark: String,
        /// How many parts the cut has.
        parts: usize,
        /// How many bars the group has.
        bars: usize,
    },
    /// Within a group of bars cut alike a part differs in more than its copy.
    #[error("part {mark} differs from those cut alike in more than its copy")]
    PartsDiffer {
        /// The mark of the part.
        mark: String,
    },
    /// A piece without joints passes for a part of a run.
    #[error("piece {mark} has no joints and is called a part of a run")]
    PartOfNoRun {
        /// The mark of the piece.
        mark: String,
    },
    /// A run, or a part of one, does not say where it lies.
    #[error("piece {mark} is of a run and does not say where it lies")]
    WithoutPart {
        /// The mark of the piece.
        mark: String,
    },
    /// What a part says of its row, copy and number is not what its mark says.
    #[error("{mark} is called part {part} of {of} of copy {copy} of {row}, and is not")]
    PartName {
        /// The mark of the part.
        mark: String,
        /// The mark of the row that the plan gives.
        row: String,
        /// The copy that the plan gives.
        copy: u64,
        /// The part that the plan gives.
        part: u32,
        /// The number of parts that the plan gives.
        of: u32,
    },
    /// A part does not begin where the one before it ends.
    #[error("part {mark} begins at {plan:?} of its run, which should be {recomputed:?}")]
    PartBegins {
        /// The mark of the part.
        mark: String,
        /// Where it begins in the plan.
        plan: Length,
        /// The end of the part before it, or the left end.
        recomputed: Length,
    },
    /// A part ends where it begins, or before, or the last one not at the end of the run.
    #[error("part {mark} ends at {plan:?} of a run of {opening:?}, which cannot be")]
    PartEnds {
        /// The mark of the part.
        mark: String,
        /// Where it ends in the plan.
        plan: Length,
        /// The opening of the run.
        opening: Length,
    },
    /// A joint where the rule of the run has no place for one.
    #[error("part {mark} is joined at {place:?}, where its run has no place for a joint")]
    NoPlace {
        /// The mark of the part.
        mark: String,
        /// Where the joint lies.
        place: Length,
    },
    /// A support is miscounted, or named where there is none.
    #[error(
        "part {mark}: what lies at {place:?} is {} in the plan, recomputed {}",
        support(*plan),
        support(*recomputed)
    )]
    Support {
        /// The mark of the part.
        mark: String,
        /// The joint, or the end of the run.
        place: Length,
        /// In the plan.
        plan: Option<u32>,
        /// Counted from the left.
        recomputed: Option<u32>,
    },
    /// More joints than the rules of the run allow.
    #[error("run {mark} has {joints} joints, {most} are allowed")]
    TooManyJoints {
        /// The mark of the copy.
        mark: String,
        /// In the plan.
        joints: u64,
        /// What its row allows, or the fewest that bars to be had in any number leave.
        most: u64,
    },
    /// A part is shorter than the rules of the run allow.
    #[error("part {mark} is {length:?} long, less than the {shortest:?} that a part must have")]
    TooShort {
        /// The mark of the part.
        mark: String,
        /// Its length.
        length: Length,
        /// The shortest allowed.
        shortest: Length,
    },
    /// Neighbouring courses are joined on one support too often.
    #[error(
        "courses {courses:?} of {group} are all joined at {place:?}; {} of {} may be",
        rule.joints,
        rule.courses
    )]
    Courses {
        /// The name of the group.
        group: String,
        /// Where they are joined.
        place: Length,
        /// The numbers of the courses, too many and too near to each other.
        courses: Vec<u64>,
        /// The rule of the group.
        rule: CourseRule,
    },
    /// The rules leave a run no split at all, so that nothing can be said of plans.
    #[error("the rules leave run {mark} no split at all")]
    NoSplit {
        /// The mark of its first copy.
        mark: String,
    },

    /// A window of the certificate is none of the job, or another one once more.
    #[error(
        "window {place} of the certificate begins with no course of the job, or is there twice"
    )]
    Window {
        /// Its place among the windows.
        place: usize,
    },
    /// A price below zero for a window.
    #[error("the certificate prices window {place} at {price}, below zero")]
    WindowPrice {
        /// Its place among the windows.
        place: usize,
        /// Its price.
        price: i64,
    },
    /// The certificate speaks of joints anywhere, and no run may be joined anywhere.
    #[error("the certificate counts runs joined anywhere, of which there are none")]
    NoneAnywhere,
    /// The unit of runs joined anywhere does not go into what everything takes.
    #[error("the unit of {unit:?} does not divide {takes:?}, which a piece or a bar takes")]
    Unit {
        /// The unit.
        unit: Length,
        /// A size with its cut, or a usable length with one.
        takes: Length,
    },
    /// A price below zero for a unit of the runs joined anywhere.
    #[error("the certificate prices a unit of length at {price}, below zero")]
    UnitPrice {
        /// The price.
        price: i64,
    },
    /// Joints are rounded so far that two of a run could come to lie on one place.
    #[error(
        "joints are rounded by {step:?}, of which a part and a gap may have {most:?} at the most"
    )]
    Step {
        /// From one place to the next.
        step: Length,
        /// The shortest part and the gap at a joint together.
        most: Length,
    },
    /// A price below zero for a window or a unit of length in a set of prices that is to refute mixes.
    #[error("refutation {place} has the price {price} for a window or a unit, below zero")]
    RefutationPrice {
        /// Its place among the refutations.
        place: usize,
        /// The price.
        price: i64,
    },

    /// The run said to have no split does not exist with that opening.
    #[error("the job has no run {mark} with an opening of {length:?}")]
    NoSuchRun {
        /// The mark that the plan gives.
        mark: String,
        /// The length that the plan gives.
        length: Length,
    },
    /// The run said to have no split has one.
    #[error("run {mark} can be split by all its rules")]
    SplitsAfterAll {
        /// The mark of the run.
        mark: String,
    },
    /// Another rule leaves the run no split.
    #[error("run {mark} has no split because of {recomputed:?}, not {plan:?}")]
    Rule {
        /// The mark of the run.
        mark: String,
        /// In the plan.
        plan: SplitRule,
        /// By the job.
        recomputed: SplitRule,
    },
    /// Another number of rows has no split.
    #[error("{plan} rows have no split in the plan, recomputed {recomputed}")]
    Rows {
        /// In the plan.
        plan: usize,
        /// In the job.
        recomputed: usize,
    },
    /// The courses said to be impossible are not those of the job.
    #[error("the job has no courses {group} that begin with {mark} and have the rule of the plan")]
    NoSuchCourses {
        /// The group that the plan names.
        group: String,
        /// The run in its first course, by the plan.
        mark: String,
    },
}

fn support(number: Option<u32>) -> String {
    number.map_or_else(
        || "no support".to_owned(),
        |number| format!("support {number}"),
    )
}
