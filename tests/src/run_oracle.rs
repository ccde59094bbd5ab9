//! The least that a small job with runs can cost, by trying every way to part the runs and, for each
//! of them, every way to share the parts out.
//!
//! No code of the library: the rules for joints are written again here, over all subsets of the places,
//! and the parts go to the [exhaustive packer](crate::exhaustive) as pieces of their own.

use std::collections::HashMap;

use crate::exhaustive::{Best, MOST_PIECES, exhaustive};
use crate::small::SmallJob;
use crate::small_runs::{RunJob, SmallJoints, SmallRun};

/// The shortest part where a run says nothing, in nanometres.
const SHORTEST_NM: i64 = 50_000_000;

/// One way to part a run; all lengths in nanometres.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Split {
    /// Where the joints lie, rising.
    pub joints: Vec<i64>,
    /// How long the parts are, from the left.
    pub parts: Vec<i64>,
    /// What each part takes of a bar by itself: its length and its mitred ends.
    pub takes: Vec<i64>,
}

/// The longest that bars hold, in nanometres.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Holds {
    /// Of all bars that can be had.
    any: i64,
    /// Of those that can be had in any number.
    unlimited: Option<i64>,
}

/// Every split of each run that the rules allow, none where a run cannot be parted.
pub fn splits(job: &RunJob) -> Vec<Vec<Split>> {
    let holds = holds(&job.base);
    let of_run = |run| allowed(all_splits(job, run), run.joints_max, holds);
    job.runs.iter().map(of_run).collect()
}

/// As [`splits`] for one run with joints anywhere, of which every `grid` grains is tried; how many joints
/// it may have is counted over all places.
pub fn splits_on_grid(job: &RunJob, run: &SmallRun, grid: i64) -> Vec<Split> {
    let holds = holds(&job.base);
    let Some(most) = run.joints_max.or_else(|| {
        let unlimited = holds.unlimited.and_then(|usable| fewest(job, run, usable));
        unlimited.or_else(|| fewest(job, run, holds.any))
    }) else {
        return vec![];
    };
    let places: Vec<i64> = (1..)
        .map(|step| step * grid)
        .take_while(|&place| place < run.length)
        .collect();
    let mut found = Vec::new();
    let mut joints = Vec::new();
    choose(&places, most, &mut joints, &mut |joints| {
        found.extend(split(job, run, &in_nm(job, joints)).filter(|split| fits(split, holds.any)));
    });
    found
}

/// Every choice of at most `most` of these, rising.
fn choose(places: &[i64], most: u64, chosen: &mut Vec<i64>, found: &mut dyn FnMut(&[i64])) {
    found(chosen);
    if most == 0 {
        return;
    }
    for (at, &place) in places.iter().enumerate() {
        chosen.push(place);
        choose(&places[at + 1..], most - 1, chosen, found);
        chosen.pop();
    }
}

/// The fewest joints anywhere with which all parts fit bars of this length. Their sum is given by the
/// number of joints; each may be anything from the shortest part to what fits.
fn fewest(job: &RunJob, run: &SmallRun, usable: i64) -> Option<u64> {
    let grain = job.base.grain_nm;
    let opening = (run.length - run.end_gap.0 - run.end_gap.1) * grain;
    let ends = mitre(job, run.ends.0) + mitre(job, run.ends.1);
    (0..100).find(|&joints| {
        let sum = opening - joints as i64 * run.joint_gap * grain;
        let parts = joints as i64 + 1;
        let shortest = if joints == 0 { 0 } else { shortest(job, run) };
        let room = |ends| usable - ends;
        let each_can_be = if joints == 0 {
            room(ends) >= shortest
        } else {
            let worst = mitre(job, run.ends.0).max(mitre(job, run.ends.1));
            room(worst) >= shortest
        };
        each_can_be && parts * shortest <= sum && sum <= parts * usable - ends
    })
}

/// The best plan's value, or `None` where no plan exists.
///
/// # Panics
/// Where a combination of splits has more pieces than the packer tries.
pub fn run_oracle(job: &RunJob) -> Option<Best> {
    least(job, &splits(job))
}

/// As [`run_oracle`], over these splits of each run.
///
/// # Panics
/// As [`run_oracle`].
pub fn least(job: &RunJob, splits: &[Vec<Split>]) -> Option<Best> {
    least_packed(job, splits, &exhaustive)
}

/// As [`least`], with pieces and parts packed by `pack`.
pub fn least_packed(
    job: &RunJob,
    splits: &[Vec<Split>],
    pack: &dyn Fn(&SmallJob) -> Option<Best>,
) -> Option<Best> {
    let copies = copies(job);
    let mut search = Search {
        job,
        splits,
        copies: &copies,
        pack,
        packed: HashMap::new(),
        best: None,
    };
    search.go(&mut Vec::new());
    search.best
}

/// What it takes to try everything: combinations of splits times ways to share the most parts out.
pub fn effort(job: &RunJob, splits: &[Vec<Split>]) -> f64 {
    let pieces: u64 = job.base.pieces.iter().map(|(_, qty)| qty).sum();
    let mut combinations = 1.0;
    let mut parts = pieces;
    for (run, splits) in job.runs.iter().zip(splits) {
        let choices = splits.len() as f64;
        let most = splits.iter().map(|split| split.parts.len()).max();
        parts += (run.qty + run.spare) * most.unwrap_or(0) as u64;
        let alike = if run.course.is_some() {
            run.spare
        } else {
            run.qty + run.spare
        };
        // Multisets of the choices for copies that are alike, sequences for courses.
        combinations *= (1..=alike).fold(1.0, |so_far, copy| {
            so_far * (choices + copy as f64 - 1.0) / copy as f64
        });
        if run.course.is_some() {
            combinations *= (0..run.qty).fold(1.0, |so_far, _| so_far * choices);
        }
    }
    if parts > MOST_PIECES as u64 {
        return f64::INFINITY;
    }
    combinations * (0..parts).fold(1.0, |so_far, _| 3.0 * so_far)
}

/// Whether the joints of the courses, each with its number, keep the rule: at most so many on one place
/// in so many courses that follow each other.
pub fn keeps_rule(courses: &[(u64, Vec<i64>)], (most, window): (u32, u32)) -> bool {
    let mut courses = courses.to_vec();
    courses.sort();
    let window = (window as usize).min(courses.len()).max(1);
    courses.windows(window).all(|together| {
        let joints = || together.iter().flat_map(|(_, joints)| joints);
        joints().all(|place| joints().filter(|other| *other == place).count() <= most as usize)
    })
}

/// A copy of a run: which run, and its course.
#[derive(Clone, Copy, Debug)]
struct Copy {
    run: usize,
    course: Option<u64>,
}

fn copies(job: &RunJob) -> Vec<Copy> {
    let runs = job.runs.iter().enumerate();
    runs.flat_map(|(at, run)| {
        let in_course = (0..run.qty).map(move |copy| Copy {
            run: at,
            course: run.course.map(|first| first + copy),
        });
        let spare = (0..run.spare).map(move |_| Copy {
            run: at,
            course: None,
        });
        in_course.chain(spare)
    })
    .collect()
}

/// Every combination of splits, each packed once for each set of lengths.
struct Search<'a> {
    job: &'a RunJob,
    splits: &'a [Vec<Split>],
    copies: &'a [Copy],
    pack: &'a dyn Fn(&SmallJob) -> Option<Best>,
    packed: HashMap<Vec<i64>, Option<Best>>,
    best: Option<Best>,
}

impl Search<'_> {
    fn go(&mut self, chosen: &mut Vec<usize>) {
        let Some(copy) = self.copies.get(chosen.len()) else {
            self.pack(chosen);
            return;
        };
        // Of copies that are alike, the later never takes an earlier split.
        let first = match (chosen.len().checked_sub(1), copy.course) {
            (Some(before), None)
                if self.copies[before].run == copy.run && self.copies[before].course.is_none() =>
            {
                chosen[before]
            }
            _ => 0,
        };
        for split in first..self.splits[copy.run].len() {
            chosen.push(split);
            self.go(chosen);
            chosen.pop();
        }
    }

    fn pack(&mut self, chosen: &[usize]) {
        let with_split = || {
            let copies = self.copies.iter().zip(chosen);
            copies.map(|(copy, &split)| (copy, &self.splits[copy.run][split]))
        };
        let courses: Vec<(u64, Vec<i64>)> = with_split()
            .filter_map(|(copy, split)| Some((copy.course?, split.joints.clone())))
            .collect();
        if !courses.is_empty() && !keeps_rule(&courses, self.job.rule) {
            return;
        }
        let mut takes: Vec<i64> = with_split()
            .flat_map(|(_, split)| split.takes.iter().copied())
            .collect();
        takes.sort_unstable();
        let packed = match self.packed.get(&takes) {
            Some(packed) => *packed,
            None => {
                let packed = (self.pack)(&with_parts(&self.job.base, &takes));
                self.packed.insert(takes, packed);
                packed
            }
        };
        self.best = [self.best, packed].into_iter().flatten().min();
    }
}

/// The job in nanometres, with more pieces.
fn with_parts(base: &SmallJob, takes: &[i64]) -> SmallJob {
    let grain = base.grain_nm;
    let mut job = base.clone();
    job.grain_nm = 1;
    job.kerf *= grain;
    job.per_cut *= grain;
    job.square = (job.square.0 * grain, job.square.1 * grain);
    for (length, _) in &mut job.pieces {
        *length *= grain;
    }
    for bar in &mut job.stock {
        bar.length *= grain;
    }
    for bar in &mut job.in_hand {
        bar.length *= grain;
        bar.square = (bar.square.0 * grain, bar.square.1 * grain);
    }
    job.pieces.extend(takes.iter().map(|&takes| (takes, 1)));
    job
}

fn holds(base: &SmallJob) -> Holds {
    let bought = base.stock.iter().map(|bar| {
        let usable = bar.length - base.square.0 - base.square.1;
        (usable * base.grain_nm, bar.available)
    });
    let in_hand = base.in_hand.iter().map(|bar| {
        let usable = bar.length - bar.square.0 - bar.square.1;
        (usable * base.grain_nm, Some(bar.available))
    });
    let all: Vec<(i64, Option<u64>)> = bought
        .chain(in_hand)
        .filter(|(_, available)| *available != Some(0))
        .collect();
    let unlimited = all.iter().filter(|(_, available)| available.is_none());
    Holds {
        any: all.iter().map(|(usable, _)| *usable).max().unwrap_or(0),
        unlimited: unlimited.map(|(usable, _)| *usable).max(),
    }
}

/// Over every subset of the places, the splits whose parts are long enough.
fn all_splits(job: &RunJob, run: &SmallRun) -> Vec<Split> {
    let places = places(run);
    assert!(places.len() <= 16, "too many places to try all subsets");
    (0..1_usize << places.len())
        .filter_map(|subset| {
            let joints: Vec<i64> = (0..places.len())
                .filter(|at| subset >> at & 1 == 1)
                .map(|at| places[at])
                .collect();
            split(job, run, &in_nm(job, &joints))
        })
        .collect()
}

/// The places for joints strictly inside a run, in grains.
///
/// # Panics
/// Where joints may fall anywhere.
pub fn places(run: &SmallRun) -> Vec<i64> {
    match &run.joints {
        SmallJoints::Anywhere => panic!("joints anywhere have no places"),
        SmallJoints::At(places) => places.clone(),
        &SmallJoints::Every { spacing, from } => (0..)
            .map(|step| from + step * spacing)
            .take_while(|&place| place < run.length)
            .filter(|&place| place > 0)
            .collect(),
    }
}

fn in_nm(job: &RunJob, grains: &[i64]) -> Vec<i64> {
    grains.iter().map(|&one| one * job.base.grain_nm).collect()
}

/// The split at these joints in nanometres, unless a part is too short.
fn split(job: &RunJob, run: &SmallRun, joints: &[i64]) -> Option<Split> {
    let grain = job.base.grain_nm;
    let gap = run.joint_gap * grain;
    let (off_right, off_left) = (gap / 2, gap - gap / 2);
    let mut split = Split {
        joints: joints.to_vec(),
        parts: vec![],
        takes: vec![],
    };
    for part in 0..=joints.len() {
        let (from, near, near_end) = match part {
            0 => (0, run.end_gap.0 * grain, run.ends.0),
            _ => (joints[part - 1], off_right, 90),
        };
        let (to, far, far_end) = if part == joints.len() {
            (run.length * grain, run.end_gap.1 * grain, run.ends.1)
        } else {
            (joints[part], off_left, 90)
        };
        let length = to - from - near - far;
        if !joints.is_empty() && length < shortest(job, run) {
            return None;
        }
        split.parts.push(length);
        split
            .takes
            .push(length + mitre(job, near_end) + mitre(job, far_end));
    }
    Some(split)
}

fn shortest(job: &RunJob, run: &SmallRun) -> i64 {
    run.shortest
        .map_or(SHORTEST_NM, |grains| grains * job.base.grain_nm)
}

/// What a mitred end takes besides: the width of a cut over the sine of the angle, rounded up.
fn mitre(job: &RunJob, degrees: u16) -> i64 {
    let width = (job.base.kerf + job.base.per_cut) * job.base.grain_nm;
    match degrees {
        90 => 0,
        30 => 2 * width,
        45 => {
            let square = 2 * i128::from(width) * i128::from(width);
            let root = square.isqrt();
            let up = root + i128::from(root * root < square);
            i64::try_from(up).expect("a short length")
        }
        other => panic!("{other} degrees are not known here"),
    }
}

fn fits(split: &Split, usable: i64) -> bool {
    split.takes.iter().all(|&takes| takes <= usable)
}

/// Those with at most as many joints as the rules allow, of parts that bars hold.
fn allowed(all: Vec<Split>, joints_max: Option<u64>, holds: Holds) -> Vec<Split> {
    let fewest = |usable: i64| {
        let fitting = all.iter().filter(|split| fits(split, usable));
        fitting.map(|split| split.joints.len()).min()
    };
    let most = match joints_max {
        Some(most) => Some(most as usize), // small numbers
        None => holds
            .unlimited
            .and_then(fewest)
            .or_else(|| fewest(holds.any)),
    };
    let Some(most) = most else {
        return vec![];
    };
    all.into_iter()
        .filter(|split| split.joints.len() <= most && fits(split, holds.any))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::small::{SmallBar, SmallSold};

    /// Runs of 3100 mm, supports every 600 mm, bars of 3000 mm at a penny, blade 3.
    fn edges(qty: u64) -> RunJob {
        RunJob {
            base: SmallJob {
                grain_nm: 1_000_000,
                kerf: 3,
                per_cut: 0,
                square: (0, 0),
                priced: true,
                pieces: vec![],
                stock: vec![SmallBar {
                    length: 3000,
                    pence: 1,
                    sold: SmallSold::Each,
                    available: None,
                }],
                in_hand: vec![],
            },
            runs: vec![SmallRun {
                length: 3100,
                qty,
                spare: 0,
                joints: SmallJoints::Every {
                    spacing: 600,
                    from: 0,
                },
                end_gap: (0, 0),
                joint_gap: 0,
                joints_max: None,
                shortest: None,
                ends: (90, 90),
                course: None,
            }],
            rule: (1, 2),
        }
    }

    fn pence(job: &RunJob) -> Option<i128> {
        run_oracle(job).map(|best| best.value / 1_000_000_000)
    }

    /// Common practice, no source; worked by hand: 3000 + 100 and so on, five ways, each two bars. Two
    /// edges are 6200 mm, more than two bars; 3000 | 2500 + 100 | 600 are three.
    #[test]
    fn edges_a_little_longer_than_a_bar() {
        assert_eq!(splits(&edges(1))[0].len(), 5);
        assert_eq!(pence(&edges(1)), Some(2));
        assert_eq!(pence(&edges(2)), Some(3));
        let mut odd = edges(1);
        odd.runs[0].joint_gap = 1;
        odd.base.grain_nm = 1;
        odd.runs[0].shortest = Some(1);
        // An odd nanometre comes off the left.
        assert_eq!(splits(&odd)[0][0].parts, [599, 2500]);
    }

    /// Arithmetic: two courses have five ways each to keep clear of one another. With a single support
    /// there is none; where the rule allows two, 1800 | 1800 | 1300 + 1300 are three bars.
    #[test]
    fn courses_keep_their_rule() {
        let mut wall = edges(2);
        wall.runs[0].course = Some(1);
        assert_eq!(pence(&wall), Some(3));
        wall.runs[0].joints = SmallJoints::At(vec![1800]);
        assert_eq!(pence(&wall), None);
        wall.rule = (2, 3);
        assert_eq!(pence(&wall), Some(3));
        let at = |course, joint| (course, vec![joint]);
        assert!(keeps_rule(&[at(1, 6), at(9, 6), at(4, 7)], (1, 2)));
        assert!(!keeps_rule(&[at(1, 6), at(9, 6), at(4, 7)], (1, 3)));
    }

    /// Arithmetic: a longer bar in hand takes the run whole, and is offered beside the splits.
    #[test]
    fn a_longer_bar_in_hand_saves_the_joint() {
        let mut edge = edges(1);
        edge.base.in_hand.push(crate::small::SmallHand {
            length: 3100,
            available: 1,
            square: (0, 0),
            worth: None,
        });
        assert_eq!(splits(&edge)[0].len(), 6);
        assert_eq!(pence(&edge), Some(0));
    }
}
