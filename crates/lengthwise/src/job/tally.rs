//! What the materials of a job come to together, held against its ceilings: what one material may have, many
//! may not have each.

use std::collections::HashSet;

use super::longest::{Longest, LongestBars};
use super::{Ceilings, Joints, LARGEST_QUANTITY, Material, Piece, PieceRow, Run, ceilings};
use crate::fault::{Ceiling, Fault, Origin};
use crate::length::{Length, Unit};

/// How many lengths all materials may have for each that one may have, a run counting for so many, and how many
/// joints all runs for each that one may have.
const IN_ALL: u64 = 10;
/// How many bytes of text every piece may have, if all that there may be have as many.
const TEXT_OF_A_PIECE: u64 = 100;
/// How many parts all runs may have for each joint that one may have.
const PARTS_PER_JOINT: u64 = 1_000;

/// What was counted of the materials so far.
pub(super) struct Tally<'c> {
    most: &'c Ceilings,
    pieces: Count,
    /// Bytes that are written for every copy of a piece.
    texts: Count,
    lengths: Count,
    /// Lengths times bars.
    looks: Count,
    joints: Count,
    parts: Count,
    courses: Count,
}

/// A sum that may not go beyond something; what goes beyond it is told once.
struct Count {
    sum: u128,
    most: u128,
}

impl Count {
    fn up_to(most: u64, times: u64) -> Count {
        Count {
            sum: 0,
            most: u128::from(most) * u128::from(times),
        }
    }

    fn is_above(&self) -> bool {
        self.sum > self.most
    }

    /// The sum, where this is what goes beyond.
    fn add(&mut self, more: u128) -> Option<u128> {
        let was_above = self.is_above();
        self.sum = self.sum.saturating_add(more);
        (self.is_above() && !was_above).then_some(self.sum)
    }
}

impl<'c> Tally<'c> {
    pub fn new(most: &'c Ceilings) -> Tally<'c> {
        Tally {
            most,
            pieces: Count::up_to(most.pieces, 1),
            texts: Count::up_to(most.pieces, TEXT_OF_A_PIECE),
            lengths: Count::up_to(most.lengths, IN_ALL),
            looks: Count::up_to(most.lengths, most.bars),
            joints: Count::up_to(most.joints, IN_ALL),
            parts: Count::up_to(most.joints, PARTS_PER_JOINT),
            courses: Count::up_to(most.courses, 1),
        }
    }

    /// Whether rows ask for more pieces than there may be, which is a fault.
    pub fn too_many_pieces(&mut self, rows: &[&PieceRow], faults: &mut Vec<Fault>) -> bool {
        let counts = rows.iter().flat_map(|row| counts_of(row));
        if let Some(count) = self.pieces.add(counts.map(u128::from).sum()) {
            let origin = rows.first().map(|row| &row.origin);
            let found = format!("{count} pieces in all");
            let most = self.most.pieces;
            faults.push(ceilings::above(
                Ceiling::Pieces,
                origin,
                Some("qty"),
                found,
                most,
            ));
        }
        for row in rows {
            let texts = [&row.mark, &row.material, &row.wall, &row.note, &row.batch];
            let copies = counts_of(row).map(u128::from).sum();
            self.check_texts(&texts.map(String::as_str), copies, &row.origin, faults);
        }
        self.pieces.is_above() || self.texts.is_above()
    }

    /// Marks, notes and names are written for every copy.
    fn check_texts(
        &mut self,
        texts: &[&str],
        copies: u128,
        origin: &Origin,
        faults: &mut Vec<Fault>,
    ) {
        let bytes: usize = texts.iter().map(|text| text.len()).sum();
        let Some(bytes) = self.texts.add(copies.saturating_mul(bytes as u128)) else {
            return; // widening on every platform
        };
        let found = format!("{bytes} bytes of text, that of every copy of a piece so far");
        let accepted = format!(
            "at most {}, {TEXT_OF_A_PIECE} times the ceiling of pieces",
            self.texts.most
        );
        let most = self.most.pieces;
        let fault = ceilings::above(Ceiling::Pieces, Some(origin), Some("qty"), found, most);
        faults.push(Fault { accepted, ..fault });
    }

    /// Counts the lengths, bars, joints and courses of a material.
    pub fn check(&mut self, material: &Material, faults: &mut Vec<Fault>) {
        self.check_bars(material, faults);
        self.check_courses(material, faults);
        self.check_parts(material, faults);
        let lengths = self.check_lengths(material, faults);
        self.check_looks(material, lengths, faults);
        self.check_joints(material, faults);
    }

    /// Each has its first plan, whatever the clock says, and that of a run takes longer. How many there are.
    fn check_lengths(&mut self, material: &Material, faults: &mut Vec<Fault>) -> u64 {
        let rules = |run| rules_of(run, material.unit);
        let pieces = material.pieces.iter();
        let lengths: HashSet<_> = pieces
            .map(|piece| (piece.shape(), piece.run.as_ref().map(rules)))
            .collect();
        let count = lengths.len() as u64; // widening
        let runs = lengths.iter().filter(|(_, run)| run.is_some()).count() as u64; // widening
        let of_all = u128::from(count) + u128::from(runs) * u128::from(IN_ALL - 1);
        let first = material.pieces.first().map(|piece| &piece.origin);
        let most = self.most.lengths;
        let above = |found| ceilings::above(Ceiling::Lengths, first, Some("length"), found, most);
        if count > most {
            faults.push(above(format!("{count} different lengths of one material")));
        } else if let Some(count) = self.lengths.add(of_all) {
            let found = format!(
                "{count} different lengths of all materials so far, each run counted as {IN_ALL}"
            );
            let accepted = in_all(self.lengths.most, Ceiling::Lengths);
            faults.push(Fault {
                accepted,
                ..above(found)
            });
        }
        count
    }

    /// A first plan looks at every length for every bar.
    fn check_looks(&mut self, material: &Material, lengths: u64, faults: &mut Vec<Fault>) {
        let bars = material.bars.len() as u64; // widening
        if lengths > self.most.lengths || bars > self.most.bars {
            return; // a fault already
        }
        if let Some(count) = self.looks.add(u128::from(lengths) * u128::from(bars)) {
            let last = material.bars.last().map(|bar| &bar.origin);
            let found = format!("{count} lengths times bars, summed over the materials so far");
            let accepted = format!(
                "at most {}, the ceiling of lengths times the ceiling of bars",
                self.looks.most
            );
            let fault = ceilings::above(Ceiling::Bars, last, None, found, self.most.bars);
            faults.push(Fault { accepted, ..fault });
        }
    }

    /// A run is laid part by part, so the joints of all runs are counted; of one that may be joined anywhere
    /// also its own, as its places are no number.
    fn check_joints(&mut self, material: &Material, faults: &mut Vec<Fault>) {
        let longest = LongestBars::of(material);
        let most = self.most.joints;
        let above = |piece: &Piece, found| {
            let origin = Some(&piece.origin);
            ceilings::above(Ceiling::Joints, origin, Some("joints"), found, most)
        };
        let mut row = None;
        for piece in &material.pieces {
            let Some(run) = piece.run.as_ref() else {
                continue;
            };
            let longest = longest.for_piece(piece);
            let joints = |bar: Length| {
                let times = piece.opening.nm().checked_div(bar.nm());
                times.map_or(0, i64::unsigned_abs)
            };
            let least = joints(longest.any);
            if *run.joints() == Joints::Anywhere && least > most {
                if row.replace(piece.row) != Some(piece.row) {
                    let opening = piece.opening.text(material.unit);
                    let found = format!("a run of {opening} that takes at least {least} joints");
                    faults.push(above(piece, found));
                }
                continue;
            }
            let usual = longest.unlimited.unwrap_or(longest.any);
            let taken = run.joints_max.map_or(joints(usual), u64::from);
            // More joints than the shortest parts leave room for are not taken, whatever may be.
            let room = piece.opening.nm().checked_div(run.shortest.nm());
            let taken = taken.min(room.map_or(u64::MAX, i64::unsigned_abs));
            let places = run.joints.count(piece.opening).unwrap_or(u64::MAX);
            let of_all = u128::from(taken.min(places)) * u128::from(piece.qty);
            // Every part has the mark of its run.
            let texts = [piece.mark(), piece.note()];
            self.check_texts(&texts, of_all, &piece.origin, faults);
            if let Some(count) = self.joints.add(of_all) {
                let found = format!("{count} joints that all runs so far may take");
                let accepted = in_all(self.joints.most, Ceiling::Joints);
                faults.push(Fault {
                    accepted,
                    ..above(piece, found)
                });
            }
        }
    }

    /// Every part that a run may have is kept, and gone through for every number of joints that it may have:
    /// a run with a thousand places, twenty of them within a bar, has some twenty thousand parts.
    fn check_parts(&mut self, material: &Material, faults: &mut Vec<Fault>) {
        let usable = |bar: Length| u128::from(bar.nm().unsigned_abs());
        let of_all = Longest::of(material, None);
        let longest = usable(of_all.any);
        let unlimited = of_all.unlimited.map(usable);
        let most = self.most.joints;
        // Runs that are alike are split once, however many rows ask for them: carrying on makes a row of each.
        let mut known = HashSet::new();
        for piece in &material.pieces {
            let Some(run) = piece.run.as_ref() else {
                continue;
            };
            let rules = rules_of(run, material.unit);
            if !known.insert((piece.opening, piece.asked_batch(), rules)) {
                continue;
            }
            // More places than there may be are a fault of their row already.
            let count = run.joints.count(piece.opening);
            let Some(places) = count.filter(|&count| count <= most).map(u128::from) else {
                continue;
            };
            let opening = usable(piece.opening).max(1);
            let reach = (places * longest / opening).clamp(1, places.max(1));
            // Of bars of which there are as many as wanted a run may take more joints than of the longest.
            let usual = unlimited.map_or(1, |unlimited| {
                1 + opening / unlimited.max(1) - opening / longest.max(1)
            });
            let joints = run.joints_max.map_or(usual, u128::from);
            let Some(parts) = self.parts.add(places * reach * joints) else {
                continue;
            };
            let found = format!(
                "a run with {places} places for joints, {reach} of them within a bar, and {joints} {}, which makes \
                 {parts} of the runs so far",
                if run.joints_max.is_some() {
                    "joints"
                } else {
                    "numbers of joints"
                }
            );
            let accepted = format!(
                "places times those within one bar times joints, summed over the runs: at most {}, \
                 {PARTS_PER_JOINT} times the ceiling of joints",
                self.parts.most
            );
            let origin = Some(&piece.origin);
            let fault = ceilings::above(Ceiling::Joints, origin, Some("joints"), found, most);
            faults.push(Fault { accepted, ..fault });
        }
    }

    /// Each kind of bar takes a row of the linear program or a table of its own; those of other materials
    /// are gone by then.
    fn check_bars(&self, material: &Material, faults: &mut Vec<Fault>) {
        let count = material.bars.len() as u64; // widening
        let most = self.most.bars;
        if count > most {
            let last = material.bars.last().map(|bar| &bar.origin);
            let found = format!("{count} rows of bars of one material");
            faults.push(ceilings::above(Ceiling::Bars, last, None, found, most));
        }
    }

    /// Courses have a window for every support and every course of their rule.
    fn check_courses(&mut self, material: &Material, faults: &mut Vec<Fault>) {
        for piece in &material.pieces {
            let Some((run, course)) = piece.run.as_ref().and_then(|run| Some((run, run.course?)))
            else {
                continue;
            };
            let rule = material.course_groups.get(course.group);
            let courses = rule.map_or(1, |group| u64::from(group.rule.courses));
            let places = run.joints.count(piece.opening);
            // More places than there may be are a fault of their row already.
            let places = places.filter(|&places| places <= self.most.joints);
            let each = u128::from(places.unwrap_or(0)) * u128::from(courses);
            if let Some(count) = self.courses.add(each * u128::from(piece.qty)) {
                let origin = Some(&piece.origin);
                let found = format!(
                    "{count} supports of the courses so far, each once for every course of its rule"
                );
                let most = self.most.courses;
                faults.push(ceilings::above(
                    Ceiling::Courses,
                    origin,
                    Some("course"),
                    found,
                    most,
                ));
            }
        }
    }
}

/// How many pieces and spares a row asks for. A count out of its range is a fault of its own, and nothing is
/// made of it.
fn counts_of(row: &PieceRow) -> impl Iterator<Item = u64> {
    let counts = [row.qty.count(), row.spare].into_iter();
    counts.filter(|count| *count <= LARGEST_QUANTITY)
}

/// What runs as long as each other share where they are split alike.
fn rules_of(run: &Run, unit: Unit) -> impl Eq + std::hash::Hash + use<> {
    let joints = run.joints.text(unit);
    (joints, run.joint_gap, run.joints_max, run.shortest)
}

/// What all materials may have together.
fn in_all(most: u128, ceiling: Ceiling) -> String {
    let name = ceiling.name();
    format!("at most {most}, {IN_ALL} times the ceiling of {name}")
}
