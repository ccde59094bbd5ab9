//! The runs of a material, and the courses that they lie in.

use std::collections::{BTreeMap, HashMap, HashSet};
use std::ops::RangeInclusive;

use itertools::Itertools;

use super::anywhere::{Joints, Trying, places};
use super::split::{Parting, Splits};
use super::{NoProblem, RunOfKind, longest_bar};
use crate::engine::{Instance, Item, Kind, Run};
use crate::job::{self, CourseGroup, EndGap, Ends, Longest, LongestBars, Material, Piece, Shape};
use crate::length::Length;
use crate::plan::{Impossible, SplitRule, Stop, Window};

/// Steps in millimetres that joints are rounded down to, and parts that there may be then.
const STEPS: [u32; 5] = [5, 10, 20, 25, 50];
const MOST_ROUNDED: usize = 600;
/// Parts of one run that are gone through to find those, which whoever checks the proof goes through as well, and how
/// many for each number of joints.
const MOST_PARTS: u128 = 3_000_000;
const MOST_IN_LAYERS: u128 = 50_000_000;

/// Runs with the same rules, which may be split alike.
pub(super) struct Alike<'m> {
    parting: Parting<'m>,
    /// The pieces, with their places among those of the material.
    pieces: Vec<(usize, &'m Piece)>,
    ways: Ways,
}

/// How they may be split.
enum Ways {
    At(Splits),
    Anywhere(Joints),
}

impl<'m> Alike<'m> {
    /// Those with the rules of this run, none of them yet, or the rule that leaves them no way.
    fn none(
        material: &'m Material,
        piece: &'m Piece,
        run: &'m job::Run,
        longest: Longest,
    ) -> Result<Alike<'m>, SplitRule> {
        let parting = Parting {
            material,
            piece,
            run,
            longest,
            step: Length::ZERO,
        };
        Ok(Alike {
            ways: ways(&parting)?,
            parting,
            pieces: Vec::new(),
        })
    }

    fn copies(&self) -> u64 {
        self.pieces.iter().map(|(_, piece)| piece.qty()).sum()
    }

    fn joints_anywhere(&self) -> Option<Joints> {
        match self.ways {
            Ways::Anywhere(joints) => Some(joints),
            Ways::At(_) => None,
        }
    }
}

/// What makes runs alike: all that their splits hang on.
#[derive(PartialEq, Eq, Hash)]
struct Rules<'m> {
    opening: Length,
    gaps: EndGap,
    ends: Ends,
    /// The batch, and the one that its row asks for.
    batches: (Option<u32>, Option<u32>),
    /// Supports that stand evenly: how far apart, and the first.
    every: Option<(Length, Length)>,
    /// Supports at these places.
    at: Option<&'m [Length]>,
    joint_gap: Length,
    joints_max: Option<u64>,
    shortest: Length,
}

impl<'m> Rules<'m> {
    fn of(piece: &'m Piece, run: &'m job::Run) -> Rules<'m> {
        let (every, at) = match run.joints() {
            job::Joints::Anywhere => (None, None),
            job::Joints::Every { spacing, from } => (Some((*spacing, *from)), None),
            job::Joints::At(places) => (None, Some(places.as_slice())),
        };
        Rules {
            opening: piece.opening(),
            gaps: piece.end_gap(),
            ends: piece.ends(),
            batches: (piece.batch(), piece.asked_batch()),
            every,
            at,
            joint_gap: run.joint_gap(),
            joints_max: run.joints_max(),
            shortest: run.shortest(),
        }
    }
}

/// The runs of a material.
pub(super) struct Runs<'m> {
    material: &'m Material,
    alike: Vec<Alike<'m>>,
}

/// What runs joined anywhere take at the least, wherever their joints fall.
#[derive(Clone, Debug, Default)]
pub(super) struct ByLength {
    /// Pieces that each of their parts is at least as long as, where only one number of joints is
    /// allowed, and how many.
    pub least: Vec<(Shape, u64)>,
    /// The rest by its length.
    pub length: i128,
}

impl<'m> Runs<'m> {
    /// Reads the rules of every run.
    pub fn of(material: &'m Material) -> Result<Self, NoProblem> {
        let longest = LongestBars::of(material);
        let mut faults: Vec<(usize, &Piece, SplitRule)> = Vec::new();
        let mut alike: Vec<Alike<'m>> = Vec::new();
        let mut known: HashMap<Rules<'m>, Result<usize, SplitRule>> = HashMap::new();
        for (place, piece) in material.pieces().iter().enumerate() {
            let Some(run) = piece.run() else {
                continue;
            };
            let place_or_rule = known.entry(Rules::of(piece, run)).or_insert_with(|| {
                alike.push(Alike::none(material, piece, run, longest.for_piece(piece))?);
                Ok(alike.len() - 1)
            });
            match *place_or_rule {
                Ok(known) => {
                    if let Some(alike) = alike.get_mut(known) {
                        alike.pieces.push((place, piece));
                    }
                }
                Err(rule) => faults.push((piece.row(), piece, rule)),
            }
        }
        no_split(material, &faults)?;
        Ok(Runs { material, alike })
    }

    /// The runs as kinds of bar; those joined anywhere at the places that are tried.
    pub fn at_places(&self, trying: Trying) -> Result<Kinds<'m>, NoProblem> {
        let anywhere: Vec<(Parting<'m>, Joints)> = self
            .alike
            .iter()
            .filter_map(|alike| Some((alike.parting, alike.joints_anywhere()?)))
            .collect();
        let mut tried = places(self.material, &anywhere, trying).into_iter();
        let mut kinds = Kinds::default();
        for alike in &self.alike {
            match &alike.ways {
                Ways::At(splits) => kinds.add(alike, splits),
                Ways::Anywhere(joints) => {
                    let inside = tried.next().unwrap_or_default().into_iter();
                    let inside = inside.map(|place| (place, None)).collect_vec();
                    let splits = alike.parting.splits(&inside, Some(joints.most));
                    let splits = splits.map_err(|_| NoProblem::Unknown(Stop::JointsTried))?;
                    kinds.add(alike, &splits);
                }
            }
        }
        Ok(kinds)
    }

    /// Only the runs with places are kinds of bar; what the others take wherever their joints fall.
    /// `None` where there are no others.
    pub fn by_length(&self) -> Option<(Kinds<'m>, ByLength)> {
        let mut by_length = None;
        let mut kinds = Kinds::default();
        for alike in &self.alike {
            match &alike.ways {
                Ways::At(splits) => kinds.add(alike, splits),
                Ways::Anywhere(joints) => by_length
                    .get_or_insert_with(ByLength::default)
                    .add(alike, *joints)?,
            }
        }
        Some((kinds, by_length?))
    }

    /// The runs as kinds of bar, those joined anywhere with joints rounded down to places of the finest
    /// step that leaves few enough parts: what is proven of them holds wherever joints fall. `None` where
    /// no step is fine enough. See [`Certificate`](crate::plan::Certificate).
    pub fn rounded(&self) -> Option<(Kinds<'m>, Length)> {
        STEPS
            .iter()
            .find_map(|&step| self.rounded_to(Length::from_mm(step)))
    }

    fn rounded_to(&self, step: Length) -> Option<(Kinds<'m>, Length)> {
        let mut kinds = Kinds::default();
        let mut parts: HashSet<Shape> = HashSet::new();
        for alike in &self.alike {
            match &alike.ways {
                Ways::At(splits) => {
                    parts.extend(splits.shapes());
                    kinds.add(alike, splits);
                }
                Ways::Anywhere(joints) => {
                    let parting = Parting {
                        step,
                        ..alike.parting
                    };
                    let (all, in_layers) = parting.parts_rounded(*joints)?;
                    if all > MOST_PARTS || in_layers > MOST_IN_LAYERS {
                        return None;
                    }
                    let inside = parting.places_rounded()?;
                    let splits = parting.splits(&inside, Some(joints.most)).ok()?;
                    parts.extend(splits.shapes());
                    kinds.add(alike, &splits);
                }
            }
            // At once: thousands of runs have millions of parts.
            if parts.len() > MOST_ROUNDED {
                return None;
            }
        }
        Some((kinds, step))
    }

    /// The least that all runs take of bars, a cut with every part.
    pub fn least_taken(&self, each: &dyn Fn(Shape) -> i128) -> i128 {
        let least = |alike: &Alike<'_>| {
            let least = match &alike.ways {
                Ways::At(splits) => splits.least(each)?,
                Ways::Anywhere(joints) => i128::from(alike.parting.takes_anywhere(*joints)?),
            };
            Some(least * i128::from(alike.copies()))
        };
        self.alike.iter().filter_map(least).sum()
    }
}

impl<'m> Runs<'m> {
    /// What the longest part of every plan takes at the least, spares left out, and of which run it is.
    pub fn least_longest_part(&self) -> Option<(Length, &'m Piece)> {
        let is_asked = |alike: &&Alike<'_>| alike.pieces.iter().any(|(_, piece)| !piece.is_spare());
        let least = |alike: &Alike<'m>| {
            let takes = match &alike.ways {
                Ways::At(splits) => splits.least_longest(&|shape| alike.parting.takes(shape)),
                Ways::Anywhere(joints) => alike.parting.least_longest(joints.most),
            };
            Some((takes?, alike.parting.piece))
        };
        let runs = self.alike.iter().filter(is_asked);
        runs.filter_map(least).max_by_key(|(takes, _)| *takes)
    }
}

/// How one run may be split, or the rule that leaves it no way.
fn ways(parting: &Parting<'_>) -> Result<Ways, SplitRule> {
    match parting.run.joints().places(parting.piece.opening()) {
        Some(inside) => {
            let numbered = inside.into_iter().zip((1_u32..).map(Some)).collect_vec();
            parting.splits(&numbered, None).map(Ways::At)
        }
        None => parting.joints_anywhere().map(Ways::Anywhere),
    }
}

impl ByLength {
    fn add(&mut self, alike: &Alike<'_>, joints: Joints) -> Option<()> {
        let copies = alike.copies();
        if joints.fewest == joints.most {
            let (parts, rest) = alike.parting.least_parts(joints.most)?;
            self.least.extend(
                parts
                    .into_iter()
                    .map(|(part, count)| (part, count * copies)),
            );
            self.length += i128::from(rest) * i128::from(copies);
        } else {
            let takes = alike.parting.takes_anywhere(joints)?;
            self.length += i128::from(takes) * i128::from(copies);
        }
        Some(())
    }
}

/// Copies that may be split alike, and lie in the same course.
pub(super) struct KindOfRun<'m> {
    pub piece: &'m Piece,
    pub splits: Splits,
    pub named: RunOfKind,
}

/// Runs as kinds of bar.
#[derive(Default)]
pub(super) struct Kinds<'m> {
    pub kinds: Vec<KindOfRun<'m>>,
}

/// A window of courses, how many of its runs must have no joint there, and the kinds of run that may
/// have one.
pub(super) struct Ruled {
    pub window: Window,
    needed: u32,
    kinds: Vec<usize>,
}

impl<'m> Kinds<'m> {
    /// One kind for all copies, but one for each that lies in a course.
    fn add(&mut self, alike: &Alike<'m>, splits: &Splits) {
        let mut together: Option<usize> = None;
        for &(place, piece) in &alike.pieces {
            let kind = |first: u64, copies: u64| KindOfRun {
                piece,
                splits: splits.clone(),
                named: RunOfKind {
                    copies: vec![(place, first, copies)],
                    places: splits.places.clone(),
                    supports: splits.supports.clone(),
                },
            };
            if piece.run().is_some_and(|run| run.course().is_some()) {
                self.kinds
                    .extend((0..piece.qty()).map(|copy| kind(copy, 1)));
                continue;
            }
            match together.and_then(|known| self.kinds.get_mut(known)) {
                Some(known) => known.named.copies.push((place, 0, piece.qty())),
                None => {
                    together = Some(self.kinds.len());
                    self.kinds.push(kind(0, piece.qty()));
                }
            }
        }
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
            let Some(named) = material.course_groups().get(group) else {
                continue;
            };
            let rule = named.rule();
            let laid_at = LaidAt::of(named);
            // Courses that are laid stand among the others, and have nothing to decide.
            let laid = named.laid().iter().map(|laid| (laid.course, None));
            let of_group = of_group
                .map(|(&(_, course), &kind)| (course, Some(kind)))
                .chain(laid)
                .sorted_by_key(|(course, _)| *course)
                .collect_vec();
            let length = (rule.courses as usize).min(of_group.len()); // u32 into usize
            for window in of_group.windows(length.max(1)) {
                let Some(&(first, _)) = window.first() else {
                    continue;
                };
                let last = window.last().map_or(first, |(last, _)| *last);
                let window_courses = first..=last;
                let mut joined: BTreeMap<Length, Vec<usize>> = BTreeMap::new();
                for place in window.iter().filter_map(|(_, place)| *place) {
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
                    let joints = rule
                        .joints
                        .saturating_sub(laid_at.count(place, &window_courses));
                    let needed = runs.checked_sub(joints).filter(|&needed| needed > 0)?;
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
            batch: None,
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
                batch: 0,
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

/// The courses of a group that are laid with a joint at a place, rising.
struct LaidAt(HashMap<Length, Vec<u64>>);

impl LaidAt {
    fn of(group: &CourseGroup) -> LaidAt {
        let mut joined: HashMap<Length, Vec<u64>> = HashMap::new();
        // Courses that are laid are sorted, and each stands once.
        for laid in group.laid() {
            for &joint in &laid.joints {
                joined.entry(joint).or_default().push(laid.course);
            }
        }
        LaidAt(joined)
    }

    /// How many of these courses are joined there.
    fn count(&self, place: Length, courses: &RangeInclusive<u64>) -> u32 {
        let laid = self.0.get(&place).map_or(&[][..], Vec::as_slice);
        let from = laid.partition_point(|course| course < courses.start());
        let to = laid.partition_point(|course| course <= courses.end());
        u32::try_from(to.saturating_sub(from)).unwrap_or(u32::MAX)
    }
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
        longest: longest_bar(material, piece.asked_batch()),
        rows: faults.iter().map(|(row, ..)| row).dedup().count(),
    }))
}
