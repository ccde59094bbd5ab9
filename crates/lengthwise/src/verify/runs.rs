//! The rules of runs, worked out from the job once more: which parts there may be, how many joints, and
//! shortest paths from the left end to the right over the places for joints.

use std::collections::{BTreeSet, HashMap};

use super::facts::{Facts, Kind, length, nm};
use super::refusal::{Breach, RunBreach};
use super::work::Work;
use crate::job::{Angle, EndGap, Ends, Joints, Material, Piece, Run, Shape};
use crate::length::Length;
use crate::plan::SplitRule;

/// Most parts of one run, by where they lie, that are kept in memory: a hundred megabytes.
const MOST_EDGES: usize = 3_000_000;
/// Steps for each place and part that is looked at on the way to every split, three times over.
pub(super) const STEPS_OF_LOOK: u64 = 30;
/// Steps for each part that is kept, to be counted.
const STEPS_OF_KEPT: u64 = 300;
/// Steps for each part on a shortest path.
const STEPS_OF_EDGE: u64 = 5;

/// The longest usable lengths of the bars that can be had, of the batch that the rows of a run ask for;
/// zero without any.
#[derive(Clone, Copy)]
pub(super) struct Longest {
    pub any: i128,
    /// Of those that can be had in any number.
    pub unlimited: Option<i128>,
}

impl Longest {
    const NONE: Longest = Longest {
        any: 0,
        unlimited: None,
    };

    fn with(self, kind: &Kind) -> Longest {
        let usable = kind.usable().max(0);
        let is_there = kind.available != Some(0);
        let unlimited = kind.available.is_none().then_some(usable);
        Longest {
            any: if is_there {
                self.any.max(usable)
            } else {
                self.any
            },
            unlimited: self.unlimited.max(unlimited),
        }
    }
}

/// The longest usable lengths of all bars, and of those of each batch.
struct LongestOf {
    all: Longest,
    batches: HashMap<u32, Longest>,
}

impl LongestOf {
    fn of(kinds: &[Kind]) -> LongestOf {
        let mut batches: HashMap<u32, Longest> = HashMap::new();
        for kind in kinds {
            let of_batch = batches.entry(kind.batch).or_insert(Longest::NONE);
            *of_batch = of_batch.with(kind);
        }
        LongestOf {
            all: kinds.iter().fold(Longest::NONE, Longest::with),
            batches,
        }
    }

    /// Of those that the row of a piece asks for.
    fn asked_by(&self, piece: &Piece) -> Longest {
        let of_batch = |asked| self.batches.get(&asked).copied();
        let asked = piece.asked_batch();
        asked.map_or(self.all, |asked| of_batch(asked).unwrap_or(Longest::NONE))
    }
}

/// How many joints a run may have: no fewer than the bars allow, no more than the rules.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct JointNumbers {
    pub fewest: u64,
    pub most: u64,
}

/// Runs with the same rules.
#[derive(Clone)]
pub(super) struct Alike<'a> {
    pub parting: Parting<'a>,
    pub pieces: Vec<&'a Piece>,
    /// Or the rule that leaves no split.
    pub joints: Result<JointNumbers, SplitRule>,
}

impl Alike<'_> {
    pub fn copies(&self) -> u64 {
        let copies = self.pieces.iter().map(|piece| piece.qty());
        copies.fold(0, u64::saturating_add)
    }

    /// The joints allowed; a run without any split is a breach of its own.
    pub fn allowed(&self) -> Result<JointNumbers, Breach> {
        let mark = || self.parting.piece.copy_mark(0);
        self.joints
            .map_err(|_| RunBreach::NoSplit { mark: mark() }.into())
    }
}

/// The runs of a material, those with the same rules together, in the order of the pieces.
pub(super) fn runs<'a>(
    material: &'a Material,
    kinds: &[Kind],
    mitre: &dyn Fn(Ends) -> Result<i128, Breach>,
) -> Result<Vec<Alike<'a>>, Breach> {
    let longest = LongestOf::of(kinds);
    let mut all: Vec<Alike<'a>> = Vec::new();
    let mut places: HashMap<Rules<'a>, usize> = HashMap::new();
    for piece in material.pieces() {
        let Some(run) = piece.run() else {
            continue;
        };
        let place = *places.entry(Rules::of(piece, run)).or_insert(all.len());
        if let Some(known) = all.get_mut(place) {
            known.pieces.push(piece);
            continue;
        }
        let parting = Parting::of(piece, run, longest.asked_by(piece), mitre)?;
        all.push(Alike {
            joints: parting.joint_numbers()?,
            parting,
            pieces: vec![piece],
        });
    }
    Ok(all)
}

/// All that tells runs apart whose rules are not the same.
#[derive(PartialEq, Eq, Hash)]
struct Rules<'a> {
    opening: Length,
    ends: Ends,
    end_gap: EndGap,
    batch: Option<u32>,
    asked_batch: Option<u32>,
    /// Distance and first of supports that stand evenly.
    every: Option<(Length, Length)>,
    /// Supports one by one.
    at: Option<&'a [Length]>,
    joint_gap: Length,
    joints_max: Option<u64>,
    shortest: Length,
}

impl<'a> Rules<'a> {
    fn of(piece: &Piece, run: &'a Run) -> Rules<'a> {
        Rules {
            opening: piece.opening(),
            ends: piece.ends(),
            end_gap: piece.end_gap(),
            batch: piece.batch(),
            asked_batch: piece.asked_batch(),
            every: match run.joints() {
                Joints::Every { spacing, from } => Some((*spacing, *from)),
                Joints::Anywhere | Joints::At(_) => None,
            },
            at: match run.joints() {
                Joints::At(places) => Some(places),
                Joints::Anywhere | Joints::Every { .. } => None,
            },
            joint_gap: run.joint_gap(),
            joints_max: run.joints_max(),
            shortest: run.shortest(),
        }
    }
}

/// The ends of the pieces into which a run may be parted, besides its own.
pub(super) fn ends_of_parts(piece: &Piece) -> impl Iterator<Item = Ends> {
    let Ends { near, far } = piece.ends();
    let square = Angle::SQUARE;
    [(near, square), (square, square), (square, far)]
        .into_iter()
        .filter(|_| piece.run().is_some())
        .map(|(near, far)| Ends { near, far })
}

/// One part, in nanometres.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Part {
    pub length: i128,
    /// Its length and what its mitred ends take.
    pub takes: i128,
    pub ends: Ends,
}

/// A run and what its rules make of parts, in nanometres.
#[derive(Clone, Copy)]
pub(super) struct Parting<'a> {
    pub piece: &'a Piece,
    pub run: &'a Run,
    pub opening: i128,
    /// Gaps at the ends.
    pub near: i128,
    pub far: i128,
    /// What a joint takes off the part on its left and off the one on its right.
    pub left: i128,
    pub right: i128,
    pub shortest: i128,
    pub near_mitre: i128,
    pub far_mitre: i128,
    pub longest: Longest,
    /// Where joints stand for all places from theirs to the next so far on; zero where they are exact.
    pub step: i128,
}

impl<'a> Parting<'a> {
    fn of(
        piece: &'a Piece,
        run: &'a Run,
        longest: Longest,
        mitre: &dyn Fn(Ends) -> Result<i128, Breach>,
    ) -> Result<Parting<'a>, Breach> {
        let Ends { near, far } = piece.ends();
        let square = Angle::SQUARE;
        let gap = nm(run.joint_gap());
        Ok(Parting {
            piece,
            run,
            opening: nm(piece.opening()),
            near: nm(piece.end_gap().near),
            far: nm(piece.end_gap().far),
            left: gap - gap / 2,
            right: gap / 2,
            shortest: nm(run.shortest()),
            near_mitre: mitre(Ends { near, far: square })?,
            far_mitre: mitre(Ends { near: square, far })?,
            longest,
            step: 0,
        })
    }

    /// The same with joints rounded down to places a step apart.
    pub fn rounded(self, step: i128) -> Parting<'a> {
        Parting { step, ..self }
    }

    /// The same for a piece with the same rules.
    pub fn of_alike(self, piece: &'a Piece) -> Parting<'a> {
        Parting { piece, ..self }
    }

    /// The part between two places of the opening, as short as it may be where joints are rounded;
    /// `None` where there is none.
    pub fn part(&self, from: i128, to: i128) -> Option<Part> {
        let (is_first, is_last) = (from == 0, to == self.opening);
        let before = if is_first { self.near } else { self.right };
        let after = if is_last { self.far } else { self.left };
        let mut length = to - from - before - after;
        if self.step > 0 && !is_first {
            // The joint at `to` may lie nearly a step further on than `to`, and no further.
            if length + self.step <= self.shortest {
                return None;
            }
            length = (length - self.step).max(self.shortest);
        }
        let ends = self.piece.ends();
        let at = |is: bool, angle| if is { angle } else { Angle::SQUARE };
        let mitres = if is_first { self.near_mitre } else { 0 };
        let mitres = mitres + if is_last { self.far_mitre } else { 0 };
        (length > 0).then(|| Part {
            length,
            takes: length + mitres,
            ends: Ends {
                near: at(is_first, ends.near),
                far: at(is_last, ends.far),
            },
        })
    }

    /// Whether `place` is one for a joint, and the number of its support; `Err` where it is none.
    pub fn support(&self, place: i128) -> Result<Option<u32>, ()> {
        if place <= 0 || place >= self.opening {
            return Err(());
        }
        let number = match self.run.joints() {
            Joints::Anywhere => return Ok(None),
            Joints::At(places) => {
                let before = places.partition_point(|&at| nm(at) < place); // they rise
                let is_there = places.get(before).is_some_and(|&at| nm(at) == place);
                let number = is_there.then_some(before + 1).ok_or(())?;
                u32::try_from(number).map_err(|_| ())?
            }
            Joints::Every { spacing, from } => {
                let (spacing, from) = (nm(*spacing), nm(*from));
                if place < from || spacing <= 0 || (place - from) % spacing != 0 {
                    return Err(());
                }
                // A support at the left end itself does not count.
                let number = (place - from) / spacing + i128::from(from > 0);
                u32::try_from(number).map_err(|_| ())?
            }
        };
        Ok(Some(number))
    }

    /// The left end, the places for joints, and the right end; `None` where joints fall anywhere.
    pub fn stops(&self) -> Option<Stops<'_, 'a>> {
        let inside: Vec<i128> = match self.run.joints() {
            Joints::Anywhere if self.step > 0 => {
                let first = self.near + self.shortest + self.left;
                let last = self.opening - self.far - self.shortest - self.right;
                let step = self.step;
                let places = std::iter::successors(Some(first), |place| Some(place + step));
                places.take_while(|&place| place <= last).collect()
            }
            Joints::Anywhere => return None,
            Joints::At(places) => places.iter().map(|&place| nm(place)).collect(),
            Joints::Every { spacing, from } => {
                let spacing = nm(*spacing).max(1);
                let places = std::iter::successors(Some(nm(*from)), |place| Some(place + spacing));
                places.take_while(|&place| place < self.opening).collect()
            }
        };
        Some(self.stops_at(inside))
    }

    /// The same for places that rise.
    pub fn stops_at(&self, inside: Vec<i128>) -> Stops<'_, 'a> {
        let is_inside = |place: &i128| *place > 0 && *place < self.opening;
        let inside = inside.into_iter().filter(is_inside);
        let stops = [0].into_iter().chain(inside).chain([self.opening]);
        Stops {
            parting: self,
            places: stops.collect(),
        }
    }

    /// No more joints than there are places, nor more than parts of the shortest leave room for.
    pub fn most_joints(&self) -> u64 {
        let places = self.run.joints().count(self.piece.opening());
        let room = self.opening.checked_div(self.shortest);
        let room = room.and_then(|room| u64::try_from(room).ok());
        places.into_iter().chain(room).min().unwrap_or(u64::MAX)
    }

    /// How many parts are looked at to find how many joints there may be, at the most.
    pub fn looks(&self) -> usize {
        self.stops().map_or(0, |stops| stops.looks())
    }

    fn joint_numbers(&self) -> Result<Result<JointNumbers, SplitRule>, Breach> {
        let found = match self.stops() {
            Some(stops) => {
                let fewest = |room| stops.fewest_joints(room, self.shortest);
                match self.numbers(fewest) {
                    Some(numbers) => Ok(numbers),
                    None => Err(stops.in_the_way()?),
                }
            }
            None => {
                let fewest = |room| self.possible_anywhere(room, self.shortest).fewest();
                let numbers = self.numbers(fewest);
                numbers.ok_or_else(|| self.in_the_way_anywhere())
            }
        };
        Ok(found.and_then(|numbers| {
            if numbers.fewest > numbers.most {
                let (most, needed) = (numbers.most, numbers.fewest);
                return Err(SplitRule::JointsMax { most, needed });
            }
            Ok(numbers)
        }))
    }

    fn numbers(&self, fewest_on: impl Fn(i128) -> Option<u64>) -> Option<JointNumbers> {
        let fewest = fewest_on(self.longest.any)?;
        let most = self.run.joints_max();
        let most = most.or_else(|| fewest_on(self.longest.unlimited?));
        Some(JointNumbers {
            fewest,
            most: most.unwrap_or(fewest),
        })
    }
}

/// The places of one run, both ends included.
pub(super) struct Stops<'p, 'a> {
    parting: &'p Parting<'a>,
    pub places: Vec<i128>,
}

impl Stops<'_, '_> {
    /// The parts from one place on that bars of this usable length hold, by where they end. A run left
    /// whole has no shortest part.
    fn parts_from(
        &self,
        from: usize,
        room: i128,
        shortest: i128,
    ) -> impl Iterator<Item = (usize, Part)> {
        let last = self.places.len() - 1; // both ends are there at least
        let start = self.places.get(from).copied().unwrap_or(0);
        let part = move |to: &i128| self.parting.part(start, *to);
        let inside = self.places.iter().enumerate().take(last).skip(from + 1);
        // Parts grow with their place, but for the last, which another gap is taken off.
        let inside = inside
            .map(move |(to, place)| (to, part(place)))
            .take_while(move |(_, part)| part.is_none_or(|part| part.length <= room));
        let to_end = self.places.get(last).map(move |place| (last, part(place)));
        let to_end = to_end.filter(|_| from < last);
        inside.chain(to_end).filter_map(move |(to, part)| {
            let part = part?;
            let is_whole = from == 0 && to == last;
            let is_long_enough = is_whole || part.length >= shortest;
            (part.takes <= room && is_long_enough).then_some((to, part))
        })
    }

    /// The fewest parts from the left end to each place.
    fn fewest_to_each(&self, room: i128, shortest: i128) -> Vec<Option<u64>> {
        let mut fewest: Vec<Option<u64>> = vec![None; self.places.len()];
        if let Some(start) = fewest.first_mut() {
            *start = Some(0);
        }
        for from in 0..self.places.len() {
            let Some(parts) = fewest.get(from).copied().flatten() else {
                continue;
            };
            for (to, _) in self.parts_from(from, room, shortest) {
                if let Some(known) = fewest.get_mut(to) {
                    *known = Some(known.map_or(parts + 1, |known| known.min(parts + 1)));
                }
            }
        }
        fewest
    }

    pub fn fewest_joints(&self, room: i128, shortest: i128) -> Option<u64> {
        let fewest = self.fewest_to_each(room, shortest);
        fewest.last().copied().flatten()?.checked_sub(1)
    }

    /// Which rule leaves no split, however many joints there are.
    fn in_the_way(&self) -> Result<SplitRule, Breach> {
        let reached = self.fewest_to_each(self.parting.longest.any, 1);
        let furthest = reached.iter().rposition(Option::is_some).unwrap_or(0);
        let place = |at: usize| length(self.places.get(at).copied().unwrap_or(0));
        if furthest + 1 == self.places.len() {
            return Ok(SplitRule::Shortest {
                shortest: self.parting.run.shortest(),
            });
        }
        Ok(SplitRule::Places {
            from: place(furthest)?,
            to: place(furthest + 1)?,
        })
    }

    /// How many parts are looked at from all places, at the most.
    fn looks(&self) -> usize {
        let parting = self.parting;
        let gaps = parting.near.max(parting.right) + parting.far.max(parting.left);
        let room = parting.longest.any.max(parting.shortest);
        let reach = room + gaps + parting.step;
        let (mut to, mut looks) = (0, 0_usize);
        for (from, start) in self.places.iter().enumerate() {
            let further = self.places.iter().skip(to);
            to += further.take_while(|&&place| place - start <= reach).count();
            looks = looks.saturating_add(to.saturating_sub(from) + 2); // the first beyond it, and the end
        }
        looks
    }

    /// Every part of every split with at most so many joints; `None` where there are too many.
    pub fn splits(&self, joints: u64, work: &Work) -> Result<Option<Splits>, Breach> {
        let places = work.take_times(self.places.len(), STEPS_OF_LOOK);
        let looks = places.and_then(|()| work.take_times(self.looks(), STEPS_OF_LOOK));
        if looks.is_none() {
            return Ok(None);
        }
        let (room, shortest) = (self.parting.longest.any, self.parting.shortest);
        let most_parts = joints
            .saturating_add(1)
            .min(u64::try_from(self.places.len() - 1).unwrap_or(u64::MAX));
        let before = self.fewest_to_each(room, shortest);
        let mut after: Vec<Option<u64>> = vec![None; self.places.len()];
        if let Some(end) = after.last_mut() {
            *end = Some(0);
        }
        for from in (0..self.places.len() - 1).rev() {
            let parts = self.parts_from(from, room, shortest);
            let rest = parts.filter_map(|(to, _)| after.get(to).copied().flatten());
            let fewest = rest.min().map(|rest| rest + 1);
            if let Some(cell) = after.get_mut(from) {
                *cell = fewest;
            }
        }
        let at = |fewest: &[Option<u64>], place: usize| fewest.get(place).copied().flatten();
        let mut edges = Vec::new();
        for from in 0..self.places.len() - 1 {
            let Some(so_far) = at(&before, from) else {
                continue;
            };
            for (to, part) in self.parts_from(from, room, shortest) {
                if at(&after, to).is_none_or(|rest| so_far + 1 + rest > most_parts) {
                    continue;
                }
                let (length, ends) = (length(part.length)?, part.ends);
                let batch = self.parting.piece.batch();
                let shape = Shape {
                    length,
                    ends,
                    batch,
                };
                edges.push(Edge { from, to, shape });
                if edges.len() > MOST_EDGES || work.spend(1, STEPS_OF_KEPT).is_none() {
                    return Ok(None);
                }
            }
        }
        Ok(Some(Splits {
            places: self.places.clone(),
            edges,
            most_parts,
        }))
    }
}

/// A part by where it lies.
#[derive(Clone, Copy, Debug)]
pub(super) struct Edge {
    pub from: usize,
    pub to: usize,
    pub shape: Shape,
}

/// All splits that the rules allow a run.
pub(super) struct Splits {
    pub places: Vec<i128>,
    pub edges: Vec<Edge>,
    pub most_parts: u64,
}

impl Splits {
    pub fn shapes(&self) -> BTreeSet<Shape> {
        self.edges.iter().map(|edge| edge.shape).collect()
    }

    /// Steps that one shortest path takes at the most.
    pub fn steps(&self) -> u64 {
        let edges = u64::try_from(self.edges.len()).unwrap_or(u64::MAX);
        edges.saturating_mul(self.most_parts)
    }

    /// Takes the work of so many shortest paths.
    pub fn take(&self, paths: usize, work: &Work) -> Option<()> {
        let each = self.edges.len().checked_add(self.places.len())?;
        let most_parts = usize::try_from(self.most_parts).ok()?;
        let all = each.checked_mul(most_parts)?.checked_mul(paths)?;
        work.take_times(all, STEPS_OF_EDGE)
    }

    /// The least, over all splits, of what their parts and their joints are priced at: `part` by the
    /// place of an edge, `joint` by the place on the run. A shortest path layered by parts. What is
    /// summed are prices of 64 bits, some thousands of each.
    pub fn least(
        &self,
        part: impl Fn(usize) -> i128,
        joint: impl Fn(usize) -> i128,
    ) -> Option<i128> {
        let mut least: Vec<Option<i128>> = vec![None; self.places.len()];
        *least.first_mut()? = Some(0);
        for _ in 0..self.most_parts {
            let mut next = least.clone();
            for (place, edge) in self.edges.iter().enumerate() {
                let Some(before) = least.get(edge.from).copied().flatten() else {
                    continue;
                };
                let through = before + part(place) + joint(edge.to);
                if let Some(cell) = next.get_mut(edge.to) {
                    *cell = Some(cell.map_or(through, |known| known.min(through)));
                }
            }
            if next == least {
                break; // more parts change nothing
            }
            least = next;
        }
        least.last().copied().flatten()
    }

    /// The most edges of which `is` holds that one split has, by a longest path.
    pub fn most(&self, is: impl Fn(usize) -> bool) -> u64 {
        let least = self.least(|place| -i128::from(is(place)), |_| 0);
        least.map_or(0, |least| u64::try_from(-least).unwrap_or(0))
    }

    /// No split has more such edges than this: one at each end, and those between.
    pub fn most_at_a_glance(&self, edges: impl Iterator<Item = usize>) -> u64 {
        let end = self.places.len() - 1;
        let (mut first, mut last, mut between) = (0_u64, 0_u64, 0_u64);
        for edge in edges.filter_map(|edge| self.edges.get(edge)) {
            if edge.from == 0 {
                first = 1;
            } else if edge.to == end {
                last = 1;
            } else {
                between += 1;
            }
        }
        first + last + between.min(self.most_parts.saturating_sub(2))
    }
}

/// The least that runs take of bars, each part with a cut, over the splits allowed; `None` where it takes too
/// much to find.
pub(super) fn least_taken(facts: &Facts<'_>, alike: &Alike<'_>) -> Result<Option<i128>, Breach> {
    let joints = alike.allowed()?;
    let parting = &alike.parting;
    let least = match parting.stops() {
        None => parting.least_taken_anywhere(facts, joints),
        // One joint more takes a cut more and a gap less, wherever it is.
        Some(_) if parting.left + parting.right <= facts.cut() => {
            Some(parting.taken(facts, i128::from(joints.fewest)))
        }
        Some(stops) => {
            let splits = stops.splits(joints.most, &facts.work)?;
            let in_reach = splits.filter(|splits| splits.take(1, &facts.work).is_some());
            let Some(splits) = in_reach else {
                return Ok(None);
            };
            let takes = splits.edges.iter().map(|edge| facts.takes(edge.shape));
            let takes = takes.collect::<Result<Vec<i128>, Breach>>()?;
            let each = |edge: usize| takes.get(edge).map_or(0, |takes| takes + facts.cut());
            splits.least(each, |_| 0)
        }
    };
    least.map(Some).ok_or_else(|| {
        let mark = alike.parting.piece.copy_mark(0);
        RunBreach::NoSplit { mark }.into()
    })
}
