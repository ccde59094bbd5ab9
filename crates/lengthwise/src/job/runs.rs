//! Runs: pieces that may be longer than any bar, and the rules for joining their parts.

use itertools::Itertools;
#[cfg(feature = "serde")]
use serde::{Deserialize, Serialize};

use crate::length::{Length, Unit};

/// The shortest part of a run where neither its row nor its material says otherwise.
pub const DEFAULT_SHORTEST: Length = Length::from_mm(50);
/// The most places for joints in one run.
pub const MOST_JOINT_PLACES: u64 = 10_000;
/// The largest number of joints, or of courses, that a rule can name.
pub const LARGEST_RULE: u32 = 1_000;

/// Where the joints of a run may fall, measured from its left end on the length before the gaps at its
/// ends are taken off.
#[derive(Clone, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub enum Joints {
    /// At any place.
    Anywhere,
    /// On supports that stand evenly.
    Every {
        /// From one support to the next, above zero.
        spacing: Length,
        /// The first support; 0 is the left end itself.
        from: Length,
    },
    /// On supports at these places: at least one, all above zero, rising.
    At(Vec<Length>),
}

impl Joints {
    /// The places strictly inside a run of this length, rising; `None` where they are anywhere.
    ///
    /// ```
    /// use lengthwise::{Length, job::Joints};
    /// let mm = Length::from_mm;
    /// let joints = Joints::Every { spacing: mm(600), from: mm(50) };
    /// assert_eq!(joints.places(mm(1850)), Some(vec![mm(50), mm(650), mm(1250)]));
    /// ```
    pub fn places(&self, run: Length) -> Option<Vec<Length>> {
        match self {
            Joints::Anywhere => None,
            Joints::At(places) => {
                let inside = places.iter().copied().filter(|&place| place < run);
                Some(inside.collect())
            }
            Joints::Every { spacing, from } => {
                let step = |place: &Length| place.checked_add(*spacing).filter(|next| next > place);
                let supports = std::iter::successors(Some(*from), step);
                let inside = supports.take_while(|&place| place < run);
                Some(inside.filter(|place| !place.is_zero()).collect())
            }
        }
    }

    /// How many places there are, without listing them: a faulty row may have any number.
    pub(crate) fn count(&self, run: Length) -> Option<u64> {
        match self {
            Joints::Anywhere => None,
            Joints::At(places) => {
                let inside = places.iter().filter(|&&place| place < run);
                Some(inside.count() as u64) // widening
            }
            Joints::Every { spacing, from } => {
                let last = run.nm() - 1 - from.nm();
                let steps = last.checked_div(spacing.nm()).unwrap_or(0);
                let at_end = i64::from(from.is_zero());
                let count = if last < 0 { 0 } else { steps + 1 - at_end };
                Some(count.unsigned_abs())
            }
        }
    }

    /// In the grammar of the column `joints`, every length with its unit.
    pub fn text(&self, unit: Unit) -> String {
        match self {
            Joints::Anywhere => "anywhere".to_owned(),
            Joints::Every { spacing, from } if from.is_zero() => {
                format!("every {}", spacing.text(unit))
            }
            Joints::Every { spacing, from } => {
                format!("every {} from {}", spacing.text(unit), from.text(unit))
            }
            // Blanks part the places, so there is none inside a length.
            Joints::At(places) => {
                let places = places
                    .iter()
                    .map(|place| place.text(unit).replace(' ', "-"));
                format!("at {}", { places }.join(" "))
            }
        }
    }
}

/// At most so many joints on one support in any so many courses that follow each other.
///
/// ```
/// use lengthwise::job::CourseRule;
/// // Unless stated, no two neighbours are joined on one support.
/// assert_eq!(CourseRule::default(), CourseRule { joints: 1, courses: 2 });
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct CourseRule {
    /// Joints on one support, from 1.
    pub joints: u32,
    /// Courses, more than `joints`, up to [`LARGEST_RULE`].
    pub courses: u32,
}

impl Default for CourseRule {
    /// No two neighbouring courses are joined on the same support.
    fn default() -> Self {
        CourseRule {
            joints: 1,
            courses: 2,
        }
    }
}

/// How a run may be parted.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Run {
    pub(crate) joints: Joints,
    pub(crate) joint_gap: Length,
    pub(crate) joints_max: Option<u64>,
    pub(crate) shortest: Length,
    pub(crate) course: Option<Course>,
}

impl Run {
    /// Where joints may fall.
    pub fn joints(&self) -> &Joints {
        &self.joints
    }
    /// What stays open at a joint, centred on it: both neighbours are shorter by half, an odd
    /// nanometre comes off the left one.
    pub fn joint_gap(&self) -> Length {
        self.joint_gap
    }
    /// Any number of joints up to this may be used; `None` for as few as the rules allow.
    pub fn joints_max(&self) -> Option<u64> {
        self.joints_max
    }
    /// The shortest part, after gaps; above zero.
    pub fn shortest(&self) -> Length {
        self.shortest
    }
    /// Its course, where it lies among others.
    pub fn course(&self) -> Option<Course> {
        self.course
    }
}

/// The place of a run among courses.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Course {
    pub(crate) group: usize,
    pub(crate) first: u64,
}

impl Course {
    /// The place of its group in [`Material::course_groups`](super::Material::course_groups).
    pub fn group(self) -> usize {
        self.group
    }
    /// The course of the first copy of the piece, from 1; each further copy lies in the next course.
    pub fn first(self) -> u64 {
        self.first
    }
}

/// A course that is laid already: its joints stay where they are.
#[derive(Clone, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct LaidCourse {
    /// Its number, from 1.
    pub course: u64,
    /// Where it is joined, measured from the left end; rising, empty where it is whole.
    pub joints: Vec<Length>,
}

/// Courses that are neighbours in the order of their numbers.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CourseGroup {
    pub(crate) name: String,
    pub(crate) rule: CourseRule,
    pub(crate) laid: Vec<LaidCourse>,
}

impl CourseGroup {
    /// The name as first written.
    pub fn name(&self) -> &str {
        &self.name
    }
    /// What holds for its joints.
    pub fn rule(&self) -> CourseRule {
        self.rule
    }
    /// Courses that are laid already, by their number: none of them is cut, and the rule counts them.
    pub fn laid(&self) -> &[LaidCourse] {
        &self.laid
    }
}
