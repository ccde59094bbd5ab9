//! Which copy of which piece, or which part of which run, a cut of some shape is.

use std::collections::{HashMap, VecDeque};

use itertools::Itertools;

use crate::engine::Packing;
use crate::job::{Material, Piece, Shape};
use crate::plan::RunPart;
use crate::problem::{Problem, RunOfKind};

/// One copy of a piece, or a part of one.
#[derive(Clone)]
pub(crate) struct Copy {
    pub mark: String,
    pub spare: bool,
    pub for_bar: bool,
    pub stage: u64,
    pub part: Option<RunPart>,
}

impl Copy {
    /// Whether bars with these are cut alike: only the numbers of the copies differ.
    pub fn is_alike(&self, other: &Copy) -> bool {
        let without_copy = |copy: &Copy| {
            let part = copy.part.clone();
            part.map(|part| RunPart { copy: 0, ..part })
        };
        self.spare == other.spare
            && self.for_bar == other.for_bar
            && self.stage == other.stage
            && without_copy(self) == without_copy(other)
    }
}

/// Hands out the copies of the pieces of each shape, in the order of the stages and then of the rows,
/// spares last, bar by bar, so that neighbours in the list come off the same bar.
pub(super) struct Copies<'m> {
    queues: HashMap<Shape, Queue<'m>>,
}

/// What is left of one shape.
#[derive(Default)]
struct Queue<'m> {
    lots: VecDeque<Lot<'m>>,
    /// How many copies of the first piece are given out.
    given: u64,
}

enum Lot<'m> {
    Pieces(&'m Piece),
    Part(Copy),
}

impl Lot<'_> {
    /// Spares last, and before them what is fixed first.
    fn turn(&self) -> (bool, u64) {
        match self {
            Lot::Pieces(piece) => (piece.is_spare(), piece.stage()),
            Lot::Part(copy) => (copy.spare, copy.stage),
        }
    }
}

impl<'m> Copies<'m> {
    /// `None` where the packing splits the runs in other ways than the problem knows.
    pub fn new(material: &'m Material, problem: &Problem, packing: &Packing) -> Option<Self> {
        let mut lots: Vec<(Shape, Lot<'m>)> = Vec::new();
        let pieces = material
            .pieces()
            .iter()
            .filter(|piece| piece.run().is_none());
        lots.extend(pieces.map(|piece| (piece.wanted(), Lot::Pieces(piece))));
        let mut parts = parts(material, problem, packing)?;
        // Parts that lie alike together, so that bars cut alike come together.
        parts.sort_by_key(|(place, _, _, copy)| {
            let part = copy.part.clone();
            (
                *place,
                part.map(|part| (part.of, part.part, part.from, part.to, part.copy)),
            )
        });
        lots.extend(
            parts
                .into_iter()
                .map(|(_, _, shape, copy)| (shape, Lot::Part(copy))),
        );
        lots.sort_by_key(|(_, lot)| lot.turn());
        let mut queues: HashMap<Shape, Queue<'m>> = HashMap::new();
        for (shape, lot) in lots {
            queues.entry(shape).or_default().lots.push_back(lot);
        }
        Some(Copies { queues })
    }

    /// The next copy of this shape.
    pub fn next(&mut self, shape: Shape) -> Option<Copy> {
        let queue = self.queues.get_mut(&shape)?;
        match queue.lots.front()? {
            Lot::Pieces(piece) => {
                let copy = Copy {
                    mark: piece.copy_mark(queue.given),
                    spare: piece.is_spare(),
                    for_bar: piece.is_for_bar(),
                    stage: piece.stage(),
                    part: None,
                };
                queue.given += 1;
                if queue.given == piece.qty() {
                    queue.lots.pop_front();
                    queue.given = 0;
                }
                Some(copy)
            }
            Lot::Part(_) => match queue.lots.pop_front()? {
                Lot::Part(copy) => Some(copy),
                Lot::Pieces(_) => None,
            },
        }
    }
}

/// The parts of all runs: the place of the piece, the copy, the shape, and what it is.
type Parts = Vec<(usize, u64, Shape, Copy)>;

fn parts(material: &Material, problem: &Problem, packing: &Packing) -> Option<Parts> {
    let mut all = Vec::new();
    let bars = material.bars().len();
    let mut uses_of_kind: HashMap<u32, Vec<(&[u32], u32)>> = HashMap::new();
    for (pattern, uses) in &packing.uses {
        let joints = pattern.split.as_deref().unwrap_or(&[]);
        let of_kind = uses_of_kind.entry(pattern.kind).or_default();
        of_kind.push((joints, *uses));
    }
    for (place, run) in problem.runs.iter().enumerate() {
        let kind = u32::try_from(bars + place).ok()?;
        let of_kind = uses_of_kind.remove(&kind).unwrap_or_default();
        let splits = of_kind
            .into_iter()
            .flat_map(|(joints, uses)| (0..uses).map(move |_| joints));
        for ((piece, copy), joints) in copies_of(material, run).zip_eq_checked(splits)? {
            all.extend(split(material, run, piece, copy, joints)?);
        }
    }
    Some(all)
}

/// The copies of a kind of run, spares last.
fn copies_of<'a>(
    material: &'a Material,
    run: &'a RunOfKind,
) -> impl Iterator<Item = (usize, u64)> + use<'a> {
    let is_spare = |place: usize| material.pieces().get(place).is_some_and(Piece::is_spare);
    let lots = run
        .copies
        .iter()
        .sorted_by_key(move |(place, ..)| is_spare(*place));
    lots.flat_map(|&(place, first, copies)| (first..first + copies).map(move |copy| (place, copy)))
}

/// The parts of one copy.
fn split(
    material: &Material,
    run: &RunOfKind,
    place: usize,
    copy: u64,
    joints: &[u32],
) -> Option<Parts> {
    let piece = material.pieces().get(place)?;
    let last = u32::try_from(run.places.len().checked_sub(1)?).ok()?;
    let stops: Vec<u32> = [0]
        .into_iter()
        .chain(joints.iter().copied())
        .chain([last])
        .collect();
    let of = u32::try_from(stops.len().checked_sub(1)?).ok()?;
    let at = |stop: u32| {
        let stop = stop as usize; // u32 into usize
        Some((*run.places.get(stop)?, *run.supports.get(stop)?))
    };
    let part = |(number, (&from, &to)): (u32, (&u32, &u32))| {
        let ((from, from_support), (to, to_support)) = (at(from)?, at(to)?);
        let shape = crate::problem::part_of(material, piece, from, to)?;
        let whole = piece.copy_mark(copy);
        let copy_of = Copy {
            mark: if of == 1 {
                whole
            } else {
                format!("{whole}.{number}")
            },
            spare: piece.is_spare(),
            for_bar: false,
            stage: piece.stage(),
            part: Some(RunPart {
                mark: piece.mark().to_owned(),
                copy: piece.copy_number(copy),
                part: number,
                of,
                from,
                to,
                from_support,
                to_support,
            }),
        };
        Some((place, copy, shape, copy_of))
    };
    (1_u32..)
        .zip(stops.iter().tuple_windows())
        .map(part)
        .collect()
}

/// Two iterators of one length, paired.
trait ZipChecked: Iterator + Sized {
    /// `None` where one is longer.
    fn zip_eq_checked<J: Iterator>(self, other: J) -> Option<Vec<(Self::Item, J::Item)>>;
}

impl<I: Iterator> ZipChecked for I {
    fn zip_eq_checked<J: Iterator>(self, other: J) -> Option<Vec<(I::Item, J::Item)>> {
        self.zip_longest(other).map(|pair| pair.both()).collect()
    }
}
