//! How a run may be split: its places, the parts between them, and how many joints it may have.

use std::collections::VecDeque;

use crate::job::{Angle, Ends, Longest, Material, Piece, Run, Shape};
use crate::length::Length;
use crate::plan::SplitRule;

/// Everything that the rules of one run allow.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Splits {
    /// The left end, the places for joints that some split uses, and the right end.
    pub places: Vec<Length>,
    /// The number of the support at each place, where there is one.
    pub supports: Vec<Option<u32>>,
    /// For each place the places that a part reaches from there, with the part.
    pub parts: Vec<Vec<(u32, Shape)>>,
    pub most_joints: u32,
}

/// A run with its piece, and what parts of it are.
#[derive(Clone, Copy)]
pub(super) struct Parting<'m> {
    pub material: &'m Material,
    pub piece: &'m Piece,
    pub run: &'m Run,
    /// The longest bars of the batch that its rows ask for. One that is chosen for its wall does not count: a
    /// run is joined no more often than the longest bars take, whichever its wall comes from.
    pub longest: Longest,
    /// Joints stand for all places from theirs to just before the next this far on: a part is as long
    /// as the shortest between two of those. Zero for joints where they are.
    pub step: Length,
}

impl<'m> Parting<'m> {
    pub fn of(material: &'m Material, piece: &'m Piece) -> Option<Parting<'m>> {
        let run = piece.run()?;
        Some(Parting {
            material,
            piece,
            run,
            longest: Longest::of(material, piece.asked_batch()),
            step: Length::ZERO,
        })
    }

    /// What a joint takes off the part on its left, and off the one on its right.
    pub fn halves(&self) -> (Length, Length) {
        let gap = self.run.joint_gap().nm();
        let right = Length::from_nm(gap / 2).unwrap_or(Length::ZERO);
        let left = Length::from_nm(gap - gap / 2).unwrap_or(Length::ZERO);
        (left, right)
    }

    /// The angles of the ends of a part.
    pub fn ends(&self, is_first: bool, is_last: bool) -> Ends {
        let ends = self.piece.ends();
        let at = |is: bool, angle| if is { angle } else { Angle::SQUARE };
        Ends {
            near: at(is_first, ends.near),
            far: at(is_last, ends.far),
        }
    }

    /// The part between two places; `None` where gaps leave nothing of it.
    pub fn part(&self, from: Length, to: Length) -> Option<Shape> {
        let (is_first, is_last) = (from.is_zero(), to == self.piece.opening());
        let gap = self.piece.end_gap();
        let (left, right) = self.halves();
        let near = if is_first { gap.near } else { right };
        let far = if is_last { gap.far } else { left };
        let mut length = to.nm() - from.nm() - near.nm() - far.nm();
        if !(is_first || self.step.is_zero()) {
            let (step, shortest) = (self.step.nm(), self.run.shortest().nm());
            // The joint on the right may lie nearly a step further on, and no further.
            if length + step <= shortest {
                return None;
            }
            length = (length - step).max(shortest);
        }
        let length = Length::from_nm(length)?; // none below zero
        (!length.is_zero()).then(|| Shape {
            batch: self.piece.batch(),
            length,
            ends: self.ends(is_first, is_last),
        })
    }

    /// What a part takes of a bar by itself.
    pub fn takes(&self, shape: Shape) -> Length {
        self.material.takes(shape)
    }

    /// A part is long enough, or no part at all but the whole run.
    fn is_long_enough(&self, shape: Shape, from: Length, to: Length, shortest: Length) -> bool {
        let is_whole = from.is_zero() && to == self.piece.opening();
        is_whole || shape.length >= shortest
    }

    /// The splits over these places for joints, each with the number of its support. `most` joints, or
    /// as many as the row allows, or as few as it takes.
    ///
    /// # Errors
    /// The rule that leaves none.
    pub fn splits(
        &self,
        inside: &[(Length, Option<u32>)],
        most: Option<u64>,
    ) -> Result<Splits, SplitRule> {
        let all = self.reach(inside, self.run.shortest());
        let Some(needed) = all.fewest(&|_| true) else {
            return Err(self.in_the_way(inside));
        };
        let most_joints = match (most.or(self.run.joints_max()), self.longest.unlimited) {
            (Some(most), _) => most.min(inside.len() as u64), // a count fits
            (None, Some(unlimited)) => {
                let fits = |shape: Shape| self.takes(shape) <= unlimited;
                all.fewest(&fits).unwrap_or(needed)
            }
            (None, None) => needed,
        };
        if needed > most_joints {
            return Err(SplitRule::JointsMax {
                most: most.or(self.run.joints_max()).unwrap_or(most_joints),
                needed,
            });
        }
        Ok(all.within(u32::try_from(most_joints).unwrap_or(u32::MAX)))
    }

    fn reach(&self, inside: &[(Length, Option<u32>)], shortest: Length) -> Splits {
        let (opening, longest) = (self.piece.opening(), self.longest.any);
        let middle = inside.iter().copied();
        let stops = [(Length::ZERO, None)].into_iter().chain(middle);
        let (places, supports): (Vec<Length>, Vec<Option<u32>>) =
            stops.chain([(opening, None)]).unzip();
        let shape_if_fit = |start: Length, end: Length| {
            let shape = self.part(start, end)?;
            let fits = self.takes(shape) <= longest;
            (fits && self.is_long_enough(shape, start, end, shortest)).then_some(shape)
        };
        let last = u32::try_from(places.len() - 1).unwrap_or(u32::MAX); // at least both ends
        let parts = places.iter().enumerate().map(|(from, &start)| {
            if start == opening {
                return Vec::new();
            }
            let inside = (0_u32..).zip(&places).skip(from + 1);
            // Parts grow with their place, but for the last, of which another gap is taken off.
            let inside = inside.take_while(|&(to, &end)| {
                let part = self.part(start, end);
                to != last && part.is_none_or(|part| part.length <= longest)
            });
            let mut reached: Vec<(u32, Shape)> = inside
                .filter_map(|(to, &end)| Some((to, shape_if_fit(start, end)?)))
                .collect();
            reached.extend(shape_if_fit(start, opening).map(|shape| (last, shape)));
            reached
        });
        Splits {
            parts: parts.collect(),
            places,
            supports,
            most_joints: u32::MAX,
        }
    }

    /// The rule that leaves no split, other than the number of joints.
    fn in_the_way(&self, inside: &[(Length, Option<u32>)]) -> SplitRule {
        let any_length = self.reach(inside, Length::ZERO);
        if any_length.fewest(&|_| true).is_some() {
            return SplitRule::Shortest {
                shortest: self.run.shortest(),
            };
        }
        let reached = any_length.joints_to_each(&|_| true);
        let last = reached.iter().rposition(Option::is_some).unwrap_or(0);
        let place = |at: usize| any_length.places.get(at).copied().unwrap_or(Length::ZERO);
        SplitRule::Places {
            from: place(last),
            to: place(last + 1),
        }
    }
}

impl Splits {
    /// The fewest parts that lead from the left end to each place.
    fn joints_to_each(&self, may: &dyn Fn(Shape) -> bool) -> Vec<Option<u64>> {
        let mut parts: Vec<Option<u64>> = vec![None; self.places.len()];
        if let Some(start) = parts.first_mut() {
            *start = Some(0);
        }
        let mut queue = VecDeque::from([0_usize]);
        while let Some(from) = queue.pop_front() {
            let so_far = parts.get(from).copied().flatten().unwrap_or(0);
            for &(to, shape) in self.parts.get(from).map_or(&[][..], |reach| reach) {
                if let Some(to_reach) = parts.get_mut(to as usize) // u32 into usize
                    && to_reach.is_none()
                    && may(shape)
                {
                    *to_reach = Some(so_far + 1);
                    queue.push_back(to as usize);
                }
            }
        }
        parts
    }

    /// The fewest joints of a split of such parts.
    fn fewest(&self, may: &dyn Fn(Shape) -> bool) -> Option<u64> {
        let parts = self.joints_to_each(may).last().copied().flatten()?;
        parts.checked_sub(1)
    }

    /// The least, over all splits, of what the part takes that takes most. O(parts log parts).
    pub fn least_longest(&self, takes: &dyn Fn(Shape) -> Length) -> Option<Length> {
        let mut all: Vec<Length> = self.shapes().map(takes).collect();
        all.sort_unstable();
        all.dedup();
        let is_enough = |most: Length| {
            let joints = self.fewest(&|shape| takes(shape) <= most);
            joints.is_some_and(|joints| joints <= u64::from(self.most_joints))
        };
        let at = all.partition_point(|&most| !is_enough(most));
        all.get(at).copied()
    }

    /// Without the parts and places that no split of at most so many joints uses.
    fn within(self, most_joints: u32) -> Splits {
        let before = self.joints_to_each(&|_| true);
        let mut after: Vec<Option<u64>> = vec![None; self.places.len()];
        if let Some(end) = after.last_mut() {
            *end = Some(0);
        }
        for (from, reach) in self.parts.iter().enumerate().rev() {
            let rest = |&(to, _): &(u32, Shape)| after.get(to as usize).copied().flatten();
            let least = reach.iter().filter_map(rest).min().map(|rest| rest + 1);
            if let Some(cell) = after.get_mut(from).filter(|cell| cell.is_none()) {
                *cell = least;
            }
        }
        let most_parts = u64::from(most_joints) + 1;
        let is_used = |from: usize, to: usize| {
            let before = before.get(from).copied().flatten();
            let after = after.get(to).copied().flatten();
            before
                .zip(after)
                .is_some_and(|(before, after)| before + 1 + after <= most_parts)
        };
        let mut keep = vec![false; self.places.len()];
        for (from, reach) in self.parts.iter().enumerate() {
            for &(to, _) in reach.iter().filter(|(to, _)| is_used(from, *to as usize)) {
                for place in [from, to as usize] {
                    if let Some(keep) = keep.get_mut(place) {
                        *keep = true;
                    }
                }
            }
        }
        let mut count = 0_u32;
        let renamed: Vec<Option<u32>> = keep
            .iter()
            .map(|&keep| {
                count += u32::from(keep);
                keep.then(|| count - 1)
            })
            .collect();
        let new_name = |place: u32| renamed.get(place as usize).copied().flatten();
        let parts = self.parts.iter().enumerate();
        let parts = parts.filter(|(from, _)| keep.get(*from) == Some(&true));
        let kept = |(from, reach): (usize, &Vec<(u32, Shape)>)| {
            let used = reach.iter().filter(|(to, _)| is_used(from, *to as usize));
            used.filter_map(|&(to, shape)| Some((new_name(to)?, shape)))
                .collect()
        };
        let stays = |at: usize| keep.get(at) == Some(&true);
        Splits {
            parts: parts.map(kept).collect(),
            places: only(self.places, &stays),
            supports: only(self.supports, &stays),
            most_joints: most_joints.min(count.saturating_sub(2)),
        }
    }

    /// All parts, each once for each place where it may lie.
    pub fn shapes(&self) -> impl Iterator<Item = Shape> {
        self.parts.iter().flatten().map(|&(_, shape)| shape)
    }

    /// The least, over all splits, of what `price` says of the parts.
    pub fn least(&self, price: &dyn Fn(Shape) -> i128) -> Option<i128> {
        let mut least: Vec<Option<i128>> = vec![None; self.places.len()];
        if let Some(end) = least.last_mut() {
            *end = Some(0);
        }
        let mut all = least.clone();
        for _ in 0..=self.most_joints {
            let mut next = least.clone();
            for (from, reach) in self.parts.iter().enumerate() {
                let through = |&(to, shape): &(u32, Shape)| {
                    Some(price(shape) + all.get(to as usize).copied().flatten()?)
                };
                let best = reach.iter().filter_map(through).min();
                if let Some(cell) = next.get_mut(from).filter(|_| best.is_some()) {
                    *cell = best;
                }
            }
            all = next;
        }
        all.first().copied().flatten()
    }
}

fn only<T>(all: Vec<T>, stays: &dyn Fn(usize) -> bool) -> Vec<T> {
    let all = all.into_iter().enumerate();
    all.filter(|(at, _)| stays(*at))
        .map(|(_, one)| one)
        .collect()
}
