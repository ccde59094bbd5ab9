//! A small job with runs in plain integers: what the exhaustive solver of runs reads, and what the
//! library is given.

use lengthwise::job::{Angle, CourseRule, EndGap, Ends, Joints, PieceRow};
use lengthwise::{Job, JobInput, Length, Measure, Unit};

use crate::rows::{checked, origin};
use crate::small::SmallJob;

/// One material, runs beside ordinary pieces. Lengths of runs are counts of grains of the base.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RunJob {
    /// Everything but the runs.
    pub base: SmallJob,
    /// The runs.
    pub runs: Vec<SmallRun>,
    /// Joints and courses of the rule of the one group, unused where no run has a course.
    pub rule: (u32, u32),
}

/// A row with joints.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SmallRun {
    /// The opening.
    pub length: i64,
    /// Copies.
    pub qty: u64,
    /// Copies beside these, in no course.
    pub spare: u64,
    /// Where joints may fall.
    pub joints: SmallJoints,
    /// What stays open at the near and the far end.
    pub end_gap: (i64, i64),
    /// What stays open at a joint.
    pub joint_gap: i64,
    /// Any number of joints up to this.
    pub joints_max: Option<u64>,
    /// The shortest part; 50 mm where nothing is said.
    pub shortest: Option<i64>,
    /// The angles of the near and the far end in degrees: 90, 45 or 30.
    pub ends: (u16, u16),
    /// The course of the first copy.
    pub course: Option<u64>,
}

/// Where joints may fall.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum SmallJoints {
    /// At any place.
    Anywhere,
    /// At every so many from a first place.
    Every {
        /// From one to the next.
        spacing: i64,
        /// The first, 0 for the left end.
        from: i64,
    },
    /// At these places, rising.
    At(Vec<i64>),
}

impl RunJob {
    /// The job as the library reads it.
    ///
    /// # Panics
    /// Where the rows are faulty.
    pub fn job(&self) -> Job {
        checked(self.input())
    }

    /// The job's rows: the runs come after the pieces, marked `R1`, `R2`, ...
    ///
    /// # Panics
    /// Where a number is below zero.
    pub fn input(&self) -> JobInput {
        let mut input = self.base.input();
        for (at, run) in self.runs.iter().enumerate() {
            let row = self.row(at, input.pieces.len(), run);
            input.pieces.push(row);
        }
        input
    }

    fn row(&self, at: usize, rows_before: usize, run: &SmallRun) -> PieceRow {
        let length = |grains: i64| self.length(grains);
        let angle = |degrees: u16| Angle::from_hundredths(100 * degrees).expect("an angle");
        let measure = Measure {
            length: length(run.length),
            unit: Unit::Mm,
        };
        let (joints, courses) = self.rule;
        PieceRow {
            mark: format!("R{}", at + 1),
            qty: run.qty.into(),
            spare: run.spare,
            end_gap: EndGap {
                near: length(run.end_gap.0),
                far: length(run.end_gap.1),
            },
            ends: Ends {
                near: angle(run.ends.0),
                far: angle(run.ends.1),
            },
            joints: Some(match &run.joints {
                SmallJoints::Anywhere => Joints::Anywhere,
                &SmallJoints::Every { spacing, from } => Joints::Every {
                    spacing: length(spacing),
                    from: length(from),
                },
                SmallJoints::At(places) => {
                    Joints::At(places.iter().map(|&place| length(place)).collect())
                }
            }),
            joint_gap: Some(length(run.joint_gap)),
            joints_max: run.joints_max,
            shortest: run.shortest.map(length),
            course_group: run.course.map_or(String::new(), |_| "wall".to_owned()),
            course: run.course,
            course_rule: run.course.map(|_| CourseRule { joints, courses }),
            ..PieceRow::new(origin("pieces", rows_before), measure)
        }
    }

    fn length(&self, grains: i64) -> Length {
        grains
            .checked_mul(self.base.grain_nm)
            .and_then(Length::from_nm)
            .expect("a length of a small job")
    }
}
