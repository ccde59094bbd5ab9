//! The pieces of a plan, each by itself: still to be cut, or done.

use std::collections::{BTreeSet, HashMap, HashSet};

#[cfg(feature = "serde")]
use serde::{Deserialize, Serialize};

use super::single::OneCut;
use super::sticks::Sticks;
use super::{UnderWay, families};
use crate::job::{Course, Job, Material, PieceRow, Quantity, Run, Shape, batch_name};
use crate::length::{Length, Measure, Unit};
use crate::plan::RunPart;

/// What should be known about a piece.
#[derive(Clone, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
#[non_exhaustive]
pub enum Remark {
    /// A spare that is cut takes the place of a spoiled piece.
    SpareServes {
        /// The spoiled piece.
        piece: String,
        /// The spare.
        spare: String,
        /// How much too long the spare is; zero where it fits.
        trim: Length,
        /// The unit to print lengths in.
        unit: Unit,
    },
    /// A spoiled piece is cut in place of a spare, of which there is one less.
    InPlaceOfSpare {
        /// The spoiled piece.
        piece: String,
        /// The spare.
        spare: String,
    },
    /// A spare for a whole bar is used up by a bad bar.
    InPlaceOfBar {
        /// The spare.
        spare: String,
    },
    /// A spare is spoiled; it is not cut again.
    SpareSpoiled {
        /// The spare.
        spare: String,
    },
    /// Pieces of a wall were cut from another batch than what is left of it comes from.
    WallOfSeveralBatches {
        /// The wall.
        wall: String,
        /// The batch of what is left: the one asked for, else that of the first piece that was cut; empty for
        /// that of the bars that name none.
        batch: String,
    },
    /// A piece that is cut was measured shorter.
    Trim {
        /// The piece.
        piece: String,
        /// How much to take off.
        by: Length,
        /// The unit to print lengths in.
        unit: Unit,
    },
}

/// One piece, or one part of a run.
#[derive(Clone, Debug)]
pub(super) struct Piece {
    /// The name of its material.
    pub material: String,
    /// It by itself, of a part without joints.
    pub row: PieceRow,
    pub shape: Shape,
    pub state: State,
    pub spoiled: bool,
    /// The row of the job that it came from: its place and its mark.
    pub from: Option<(usize, String)>,
    /// The mark of the row that it is named after, which in a plan carried on may be one of the plan before.
    pub family: String,
    /// What it is of a run, and which run.
    pub part: Option<(RunPart, usize)>,
    /// The piece that is cut where this one was going to be.
    pub replaced_by: Option<usize>,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum State {
    ToDo,
    Done(CutFrom),
    /// A spare that is cut, and serves for another piece or is spoiled.
    UsedUp,
    /// A spare that is not needed any more; a part of a run that is parted otherwise.
    Gone,
}

/// The bar that a piece was cut from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct CutFrom {
    pub bar: String,
    /// The batch that it was of; empty where it named none.
    pub batch: String,
}

/// One copy of a run.
#[derive(Clone, Debug)]
pub(super) struct RunCopy {
    pub material: String,
    pub row: PieceRow,
    pub from: (usize, String),
    /// The mark of the row that it is named after, as that of a piece.
    pub family: String,
    /// The parts in the plan; none where the plan has none.
    pub parts: Vec<usize>,
    /// The place of its group among those of the material.
    pub group: Option<usize>,
}

/// A place in the order of the job.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) enum Slot {
    Piece(usize),
    Run(usize),
}

/// All pieces.
#[derive(Default)]
pub(super) struct Pieces {
    pub all: Vec<Piece>,
    pub runs: Vec<RunCopy>,
    pub order: Vec<Slot>,
    pub remarks: Vec<Remark>,
    /// The materials whose bars are of several batches, as far as they are known.
    pub batched: BTreeSet<String>,
    by_mark: HashMap<String, Vec<usize>>,
}

impl Piece {
    pub fn is_to_do(&self) -> bool {
        self.state == State::ToDo
    }

    pub fn is_spare(&self) -> bool {
        self.row.spares_only
    }

    pub fn mark(&self) -> &str {
        &self.row.mark
    }

    /// As it is cut by itself.
    pub fn cut(&self) -> OneCut {
        OneCut {
            mark: self.row.mark.clone(),
            shape: self.shape,
            spare: self.is_spare(),
            for_bar: super::spares::is_for_a_bar(self),
            stage: self.row.stage,
            part: None,
        }
    }
}

impl Pieces {
    pub fn of(under_way: &UnderWay, job: &Job, sticks: &Sticks) -> Pieces {
        let mut pieces = Pieces::default();
        let sticks = sticks.of_materials(job.materials().len());
        for (material, sticks) in job.materials().iter().zip(&sticks) {
            let cuts = sticks.iter().flat_map(|stick| &stick.planned);
            let mut parts: HashMap<(&str, u64), Vec<&OneCut>> = HashMap::new();
            for cut in cuts {
                if let Some(part) = &cut.part {
                    let of_copy = parts.entry((part.mark.as_str(), part.copy)).or_default();
                    of_copy.push(cut);
                }
            }
            // The mark of a row is that of its first kind of piece; its spares have an ending.
            let mut base_marks: HashMap<usize, &str> = HashMap::new();
            for piece in material.pieces() {
                let base = *base_marks.entry(piece.row()).or_insert(piece.mark());
                for copy in 0..piece.qty() {
                    let from = (piece.row(), base.to_owned());
                    let row = row_of(material, piece, copy);
                    match piece.run() {
                        None => pieces.add(row, piece.shape(), Some(from)),
                        Some(run) => {
                            let copy_number = piece.copy_number(copy);
                            let mut parts = parts
                                .remove(&(piece.mark(), copy_number))
                                .unwrap_or_default();
                            parts.sort_by_key(|cut| cut.part.as_ref().map(|part| part.part));
                            let row = run_row(row, run, material, copy);
                            let group = run.course().map(Course::group);
                            pieces.add_run(row, &parts, from, group);
                        }
                    }
                }
            }
        }
        for done in &under_way.done {
            let shape = shape_of(&done.row).unwrap_or(Shape::square(Length::ZERO));
            pieces.add(done.row.clone(), shape, None);
            if let Some(piece) = pieces.all.last_mut() {
                piece.state = State::Done(CutFrom {
                    bar: done.bar.clone(),
                    batch: done.batch.clone(),
                });
            }
        }
        families::tell(&mut pieces);
        pieces
    }

    fn add(&mut self, row: PieceRow, shape: Shape, from: Option<(usize, String)>) {
        self.order.push(Slot::Piece(self.all.len()));
        self.push(row, shape, from, None);
    }

    fn push(
        &mut self,
        row: PieceRow,
        shape: Shape,
        from: Option<(usize, String)>,
        part: Option<(RunPart, usize)>,
    ) {
        let places = self.by_mark.entry(row.mark.clone()).or_default();
        places.push(self.all.len());
        self.all.push(Piece {
            material: row.material.clone(),
            row,
            shape,
            state: State::ToDo,
            spoiled: false,
            from,
            family: String::new(), // told when all are there
            part,
            replaced_by: None,
        });
    }

    fn add_run(
        &mut self,
        row: PieceRow,
        parts: &[&OneCut],
        from: (usize, String),
        group: Option<usize>,
    ) {
        let run = self.runs.len();
        self.order.push(Slot::Run(run));
        let first = self.all.len();
        for cut in parts {
            let part = cut.part.clone();
            let fixed = fixed_part(&row, cut);
            let part = part.map(|part| (part, run));
            self.push(fixed, cut.shape, Some(from.clone()), part);
        }
        self.runs.push(RunCopy {
            material: row.material.clone(),
            row,
            from,
            family: String::new(), // as above
            parts: (first..self.all.len()).collect(),
            group,
        });
    }

    /// The places of the pieces with this mark.
    pub fn marked(&self, mark: &str) -> &[usize] {
        self.by_mark.get(mark).map_or(&[][..], Vec::as_slice)
    }

    /// The piece of a material with this mark that the plan cuts.
    pub fn planned(&self, material: &str, mark: &str) -> Option<usize> {
        let mut marked = self.marked(mark).iter().copied();
        marked.find(|&at| {
            let piece = self.all.get(at);
            piece.is_some_and(|piece| piece.material == material && piece.from.is_some())
        })
    }

    /// The pieces that are cut where a spare was going to be, and no more where they were.
    pub fn moved(&self) -> HashSet<usize> {
        let spares = self.all.iter();
        spares.filter_map(|spare| spare.replaced_by).collect()
    }

    /// Whether a spare run was cut, and nothing of it is left to be cut or to serve.
    pub fn is_used_up(&self, run: &RunCopy) -> bool {
        let mut parts = run.parts.iter().filter_map(|&at| self.all.get(at));
        !run.parts.is_empty() && parts.all(|part| part.state == State::UsedUp)
    }

    /// Whether nothing of a run is cut, so that it may still be joined in another way.
    pub fn is_free(&self, run: &RunCopy) -> bool {
        let parts = run.parts.iter().filter_map(|&at| self.all.get(at));
        parts
            .into_iter()
            .all(|part| !matches!(part.state, State::Done(_) | State::UsedUp))
    }
}

/// One copy of a piece as a row of its own.
fn row_of(material: &Material, piece: &crate::job::Piece, copy: u64) -> PieceRow {
    let opening = Measure {
        length: piece.opening(),
        unit: material.unit(),
    };
    PieceRow {
        material: material.name().to_owned(),
        mark: piece.copy_mark(copy),
        qty: Quantity::Count(1),
        end_gap: piece.end_gap(),
        ends: piece.ends(),
        leave_long: Some(piece.leave_long()).filter(|left| !left.is_zero()),
        spares_only: piece.is_spare(),
        for_bar: piece.is_for_bar(),
        stage: piece.stage(),
        wall: piece.wall().to_owned(),
        batch: asked_batch(material, piece),
        note: piece.note().to_owned(),
        ..PieceRow::new(piece.origin().clone(), opening)
    }
}

/// The batch that a piece has to come from by its row or that of another of its wall, by a name that it can
/// be asked for by.
fn asked_batch(material: &Material, piece: &crate::job::Piece) -> String {
    let batch = piece.batch().and_then(|batch| {
        let batch = material.batches().get(batch as usize)?; // u32 into usize
        Some(batch_name(batch).to_owned())
    });
    batch.unwrap_or_default()
}

fn run_row(row: PieceRow, run: &Run, material: &Material, copy: u64) -> PieceRow {
    let course = run.course();
    let group = course.and_then(|course| material.course_groups().get(course.group()));
    PieceRow {
        joints: Some(run.joints().clone()),
        joint_gap: Some(run.joint_gap()).filter(|gap| !gap.is_zero()),
        joints_max: run.joints_max(),
        shortest: Some(run.shortest()),
        course_group: group.map_or_else(String::new, |group| group.name().to_owned()),
        course: course.map(|course| course.first().saturating_add(copy)),
        course_rule: group.map(|group| group.rule()),
        ..row
    }
}

/// A part of a run as a piece of its own, whose joints stay where they are.
fn fixed_part(run: &PieceRow, cut: &OneCut) -> PieceRow {
    let unit = run.length.unit;
    let length = Measure {
        length: cut.shape.length,
        unit,
    };
    let place = cut.part.as_ref().filter(|part| part.of > 1).map(|part| {
        format!(
            "part {} of {} of {}, from {} to {}",
            part.part,
            part.of,
            run.mark,
            part.from.text(unit),
            part.to.text(unit)
        )
    });
    let note = [place.unwrap_or_default(), run.note.clone()];
    let note: Vec<String> = note.into_iter().filter(|note| !note.is_empty()).collect();
    PieceRow {
        material: run.material.clone(),
        mark: cut.mark.clone(),
        ends: cut.shape.ends,
        spares_only: run.spares_only,
        stage: run.stage,
        wall: run.wall.clone(),
        batch: run.batch.clone(),
        note: note.join("; "),
        ..PieceRow::new(run.origin.clone(), length)
    }
}

/// How a single piece is cut; `None` where its gaps leave nothing of it.
pub(super) fn shape_of(row: &PieceRow) -> Option<Shape> {
    let left = row.length.length.checked_sub(row.end_gap.total())?;
    let left = Some(left).filter(|left| !left.is_zero())?;
    Some(Shape {
        batch: None,
        length: left.checked_add(row.leave_long.unwrap_or(Length::ZERO))?,
        ends: row.ends,
    })
}
