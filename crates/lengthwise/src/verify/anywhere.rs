//! Runs whose joints may fall anywhere: how many joints are possible, and the least that they take of
//! the bars wherever the joints fall.

use super::facts::{Facts, length};
use super::refusal::Breach;
use super::runs::{JointNumbers, Parting};
use crate::job::{Angle, Ends, Shape};
use crate::plan::SplitRule;

/// The numbers of joints with which parts can be chosen that fit.
pub(super) struct Possible {
    whole: bool,
    /// From the fewest to the most where it is parted.
    parted: Option<(i128, i128)>,
}

impl Possible {
    pub fn fewest(&self) -> Option<u64> {
        if self.whole {
            return Some(0);
        }
        u64::try_from(self.parted?.0).ok()
    }
}

impl Parting<'_> {
    /// What all parts together are long with so many joints.
    fn total(&self, joints: i128) -> i128 {
        self.opening - self.near - self.far - joints * (self.left + self.right)
    }

    /// What all parts together take of bars with so many joints, each with a cut.
    pub fn taken(&self, facts: &Facts<'_>, joints: i128) -> i128 {
        let mitres = self.near_mitre + self.far_mitre;
        self.total(joints) + mitres + (joints + 1) * facts.cut()
    }

    /// Bars of this usable length hold n + 1 parts if the shortest are no longer together than all are,
    /// and the longest no shorter. The first holds up to some n, the second from some n on.
    pub fn possible_anywhere(&self, room: i128, shortest: i128) -> Possible {
        let total = self.total(0);
        let (first, last) = (room - self.near_mitre, room - self.far_mitre);
        let gap = self.left + self.right;
        let parted = || {
            if first.min(last) < shortest {
                return None;
            }
            let most = (total - shortest).div_euclid(shortest + gap);
            let missing = total - (first + last - room); // above what one bar less than none holds
            let fewest = -(-missing).div_euclid(room + gap);
            let fewest = fewest.max(1);
            (fewest <= most).then_some((fewest, most))
        };
        Possible {
            whole: total > 0 && total + self.near_mitre + self.far_mitre <= room,
            parted: parted(),
        }
    }

    pub fn in_the_way_anywhere(&self) -> SplitRule {
        match self.possible_anywhere(self.longest.any, 1).fewest() {
            Some(_) => SplitRule::Shortest {
                shortest: self.run.shortest(),
            },
            None => SplitRule::Bars,
        }
    }

    /// The least that all parts with a cut each take of bars, over the numbers of joints allowed. With
    /// one joint more it is a cut more and a gap less, so the least is at one of the ends.
    pub fn least_taken_anywhere(&self, facts: &Facts<'_>, joints: JointNumbers) -> Option<i128> {
        let possible = self.possible_anywhere(self.longest.any, self.shortest);
        let whole = possible.whole.then_some(0);
        let parted = possible.parted.and_then(|(fewest, most)| {
            let most = most.min(i128::from(joints.most));
            (fewest <= most).then_some([fewest, most])
        });
        let numbers = whole.into_iter().chain(parted.into_iter().flatten());
        numbers.map(|joints| self.taken(facts, joints)).min()
    }

    /// What every part is as long as at the least with exactly so many joints, as shapes and how many of
    /// them, and by how much all together are longer.
    pub fn least_parts(&self, joints: u64) -> Result<(Vec<(Shape, u64)>, i128), Breach> {
        let shape = |nm: i128, ends: Ends| {
            length(nm).map(|length| Shape {
                length,
                ends,
                batch: self.piece.batch(),
            })
        };
        let total = self.total(i128::from(joints));
        let ends = self.piece.ends();
        if joints == 0 {
            return Ok((vec![(shape(total, ends)?, 1)], 0));
        }
        let square = Angle::SQUARE;
        let room = self.longest.any;
        let between = joints - 1;
        let full = [
            (room - self.near_mitre, 1, (ends.near, square)),
            (room, between, (square, square)),
            (room - self.far_mitre, 1, (square, ends.far)),
        ];
        let full_parts = full
            .iter()
            .map(|(part, count, _)| part * i128::from(*count));
        let all_full: i128 = full_parts.sum();
        let mut parts = Vec::new();
        let mut rest = total;
        for (part, count, (near, far)) in full.into_iter().filter(|(_, count, _)| *count > 0) {
            let others = all_full - part;
            let least = (total - others).max(self.shortest);
            rest -= least * i128::from(count);
            parts.push((shape(least, Ends { near, far })?, count));
        }
        Ok((parts, rest.max(0)))
    }
}
