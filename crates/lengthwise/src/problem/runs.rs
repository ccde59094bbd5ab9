//! The runs of a material, and the courses that they lie in.

use std::collections::{BTreeMap, HashMap};

use itertools::Itertools;

use super::anywhere::{Joints, places};
use super::split::{Longest, Parting, Splits};
use super::{NoProblem, RunOfKind, longest_bar};
use crate::engine::{Instance, Item, Kind, Run};
use crate::job::{Material, Piece, Shape};
use crate::length::Length;
use crate::plan::{Impossible, SplitRule, Stop, Window};

/// Copies that may be split alike.
pub(super) struct KindOfRun<'m> {
    pub piece: &'m Piece,
    pub splits: Splits,
    pub named: RunOfKind,
}

/// A window of courses, how many of its runs must have no joint there, and the kinds of run that may
/// have one.
pub(super) struct Ruled {
    pub window: Window,
    needed: u32,
    kinds: Vec<usize>,
}

/// The runs of a material.
pub(super) struct Runs<'m> {
    pub kinds: Vec<KindOfRun<'m>>,
    /// What runs joined anywhere take of bars at the least, where they are not among the kinds.
    pub takes_anywhere: Option<i128>,
    /// Their kinds, where they are.
    anywhere: Vec<(usize, Joints)>,
}

impl<'m> Runs<'m> {
    /// All runs; those joined anywhere at the places that are tried.
    pub fn with_places(material: &'m Material, longest: Longest) -> Result<Self, NoProblem> {
        Runs::of(material, longest, true)
    }

    /// Runs joined anywhere are only measured.
    pub fn without_places(material: &'m Material, longest: Longest) -> Result<Self, NoProblem> {
        Runs::of(material, longest, false)
    }

    fn of(material: &'m Material, longest: Longest, with_places: bool) -> Result<Self, NoProblem> {
        let mut faults: Vec<(usize, &Piece, SplitRule)> = Vec::new();
        let mut alike: Vec<(usize, Parting<'m>)> = Vec::new();
        let mut joints_of: Vec<Option<Joints>> = Vec::new();
        let mut splits_of: Vec<Option<Splits>> = Vec::new();
        let mut kinds_of_piece: Vec<(usize, &Piece, usize)> = Vec::new();
        for (place, piece) in material.pieces().iter().enumerate() {
            let Some(parting) = Parting::of(material, piece) else {
                continue;
            };
            let known = alike
                .iter()
                .position(|(_, other)| is_alike(other.piece, piece));
            if let Some(known) = known {
                kinds_of_piece.push((place, piece, known));
                continue;
            }
            let found = match parting.run.joints().places(piece.opening()) {
                Some(inside) => {
                    let numbered = inside.into_iter().zip((1_u32..).map(Some)).collect_vec();
                    parting
                        .splits(&numbered, longest, None)
                        .map(|splits| (None, Some(splits)))
                }
                None => parting
                    .joints_anywhere(longest)
                    .map(|joints| (Some(joints), None)),
            };
            match found {
                Ok((joints, splits)) => {
                    kinds_of_piece.push((place, piece, alike.len()));
                    alike.push((place, parting));
                    joints_of.push(joints);
                    splits_of.push(splits);
                }
                Err(rule) => faults.push((piece.row(), piece, rule)),
            }
        }
        no_split(material, &faults)?;
        let anywhere: Vec<(Parting<'m>, Joints)> = alike
            .iter()
            .zip(&joints_of)
            .filter_map(|((_, parting), joints)| Some((*parting, (*joints)?)))
            .collect();
        let mut takes_anywhere = None;
        if with_places && !anywhere.is_empty() {
            let mut tried = places(material, &anywhere, longest).into_iter();
            for ((_, parting), (joints, splits)) in
                alike.iter().zip(joints_of.iter().zip(&mut splits_of))
            {
                let Some(joints) = joints else { continue };
                let inside = tried.next().unwrap_or_default();
                let inside = inside.into_iter().map(|place| (place, None)).collect_vec();
                let found = parting.splits(&inside, longest, Some(joints.most));
                *splits = Some(found.map_err(|_| NoProblem::Unknown(Stop::JointsTried))?);
            }
        } else if !anywhere.is_empty() {
            let mut total = 0_i128;
            for (_, piece, kind) in &kinds_of_piece {
                let parting = alike.get(*kind).map(|(_, parting)| *parting);
                let joints = joints_of.get(*kind).copied().flatten();
                if let Some((parting, joints)) = parting.zip(joints) {
                    let takes = parting.takes_anywhere(joints, longest).unwrap_or(0);
                    total += i128::from(takes) * i128::from(piece.qty());
                }
            }
            takes_anywhere = Some(total);
        }
        let mut runs = Runs {
            kinds: Vec::new(),
            takes_anywhere,
            anywhere: Vec::new(),
        };
        let mut kind_of: HashMap<usize, usize> = HashMap::new();
        for (place, piece, alike) in kinds_of_piece {
            let Some(splits) = splits_of.get(alike).and_then(Option::as_ref) else {
                continue;
            };
            let named = |first: u64, copies: u64| RunOfKind {
                copies: vec![(place, first, copies)],
                places: splits.places.clone(),
                supports: splits.supports.clone(),
            };
            let kind = |named| KindOfRun {
                piece,
                splits: splits.clone(),
                named,
            };
            if piece.run().is_some_and(|run| run.course().is_some()) {
                // Each copy lies in a course of its own.
                runs.kinds
                    .extend((0..piece.qty()).map(|copy| kind(named(copy, 1))));
                continue;
            }
            match kind_of
                .get(&alike)
                .and_then(|&kind| runs.kinds.get_mut(kind))
            {
                Some(known) => known.named.copies.push((place, 0, piece.qty())),
                None => {
                    kind_of.insert(alike, runs.kinds.len());
                    if let Some(joints) = joints_of.get(alike).copied().flatten() {
                        runs.anywhere.push((runs.kinds.len(), joints));
                    }
                    runs.kinds.push(kind(named(0, piece.qty())));
                }
            }
        }
        Ok(runs)
    }

    /// The least that all runs take of bars, a cut with every part.
    pub fn least_taken(
        &self,
        material: &Material,
        longest: Longest,
        each: &dyn Fn(Shape) -> i128,
    ) -> i128 {
        let of_kind = |(place, kind): (usize, &KindOfRun<'_>)| {
            let anywhere = self.anywhere.iter().find(|(kind, _)| *kind == place);
            let least = match anywhere {
                Some((_, joints)) => {
                    let parting = Parting::of(material, kind.piece)?;
                    i128::from(parting.takes_anywhere(*joints, longest)?)
                }
                None => kind.splits.least(each)?,
            };
            Some(least * i128::from(kind.copies()))
        };
        self.kinds.iter().enumerate().filter_map(of_kind).sum()
    }

    /// The windows of courses that a rule has something to say of: by group, first course and place.
    pub fn windows(&self, material: &Material) -> Vec<Ruled> {
        let mut courses: BTreeMap<(usize, u64), usize> = BTreeMap::new();
        for (place, kind) in self.kinds.iter().enumerate() {
            if let Some(course) = kind.course() {
                courses.insert(course, place);
            }
        }
        let mut windows = Vec::new();
        for (group, of_group) in &courses.iter().chunk_by(|((group, _), _)| *group) {
            let of_group = of_group
                .map(|(&(_, course), &kind)| (course, kind))
                .collect_vec();
            let Some(rule) = material
                .course_groups()
                .get(group)
                .map(|group| group.rule())
            else {
                continue;
            };
            let length = (rule.courses as usize).min(of_group.len()); // u32 into usize
            for window in of_group.windows(length.max(1)) {
                let Some(&(first, _)) = window.first() else {
                    continue;
                };
                let mut joined: BTreeMap<Length, Vec<usize>> = BTreeMap::new();
                for &(_, place) in window {
                    for at in self
                        .kinds
                        .get(place)
                        .into_iter()
                        .flat_map(KindOfRun::inside)
                    {
                        joined.entry(at).or_default().push(place);
                    }
                }
                windows.extend(joined.into_iter().filter_map(|(place, kinds)| {
                    let runs = u32::try_from(kinds.len()).ok()?;
                    let needed = runs.checked_sub(rule.joints).filter(|&needed| needed > 0)?;
                    let window = Window {
                        group,
                        first,
                        place,
                    };
                    Some(Ruled {
                        window,
                        needed,
                        kinds,
                    })
                }));
            }
        }
        windows
    }

    /// Adds the runs to an instance of bars and pieces: kinds, parts, windows.
    pub fn add_to(&self, instance: &mut Instance, shapes: &[Shape], windows: &[Ruled]) {
        if self.kinds.is_empty() {
            return;
        }
        let beyond = instance.largest_capacity().saturating_add(1);
        let of_window = windows.iter().map(|ruled| Item {
            size: beyond,
            demand: ruled.needed,
        });
        instance.items.splice(0..0, of_window);
        instance.windows = windows.len();
        let item_of: HashMap<Shape, u32> = shapes
            .iter()
            .copied()
            .zip((0_u32..).skip(windows.len()))
            .collect();
        let mut lost_by_kind: HashMap<(usize, Length), Vec<u32>> = HashMap::new();
        for (item, ruled) in (0_u32..).zip(windows) {
            for &kind in &ruled.kinds {
                let lost = lost_by_kind.entry((kind, ruled.window.place)).or_default();
                lost.push(item);
            }
        }
        for ((place, at), kind) in (0_u32..).zip(0..).zip(&self.kinds) {
            let parts = kind.splits.parts.iter().map(|reach| {
                let part = |(to, shape): &(u32, Shape)| Some((*to, *item_of.get(shape)?));
                reach.iter().filter_map(part).collect()
            });
            let places = kind.named.places.iter();
            let lost = places.map(|place| lost_by_kind.remove(&(at, *place)).unwrap_or_default());
            let run = Run::new(parts.collect(), lost.collect(), kind.splits.most_joints);
            let copies = u32::try_from(kind.copies()).unwrap_or(u32::MAX);
            for &(item, most) in run.most() {
                let is_part = item as usize >= windows.len(); // u32 into usize
                if let Some(item) = instance.items.get_mut(item as usize).filter(|_| is_part) {
                    item.demand = item.demand.saturating_add(most.saturating_mul(copies));
                }
            }
            instance.runs.push(run);
            instance.kinds.push(Kind {
                capacity: 0,
                cost: 0,
                available: Some(copies),
                pack: 1,
                tie: 0,
                run: Some(place),
            });
        }
    }
}

impl KindOfRun<'_> {
    fn copies(&self) -> u64 {
        self.named.copies.iter().map(|&(_, _, copies)| copies).sum()
    }

    /// Group and number of its course.
    fn course(&self) -> Option<(usize, u64)> {
        let course = self.piece.run()?.course()?;
        let &(_, copy, _) = self.named.copies.first()?;
        Some((course.group(), course.first().saturating_add(copy)))
    }

    /// The places where it may be joined.
    fn inside(&self) -> impl Iterator<Item = Length> {
        let inside = self.named.places.len().saturating_sub(2);
        self.named.places.iter().copied().skip(1).take(inside)
    }
}

/// Whether two pieces may be split in the same ways.
fn is_alike(one: &Piece, other: &Piece) -> bool {
    let rules = |piece: &Piece| {
        let run = piece.run()?;
        Some((
            run.joints().clone(),
            run.joint_gap(),
            run.joints_max(),
            run.shortest(),
        ))
    };
    one.opening() == other.opening()
        && one.end_gap() == other.end_gap()
        && one.ends() == other.ends()
        && rules(one) == rules(other)
}

/// The reason, where runs have no split: the first of them.
fn no_split(material: &Material, faults: &[(usize, &Piece, SplitRule)]) -> Result<(), NoProblem> {
    let Some(&(_, piece, rule)) = faults.first() else {
        return Ok(());
    };
    Err(NoProblem::Impossible(Impossible::NoSplit {
        mark: piece.copy_mark(0),
        length: piece.opening(),
        rule,
        longest: longest_bar(material),
        rows: faults.iter().map(|(row, ..)| row).dedup().count(),
    }))
}
