//! Bars and pieces of a plan made anew, by the names that they had.

use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet, VecDeque};

use super::rows::Rest;
use super::single::{OneBar, OneCut};
use crate::job::{Shape, batch_key, name_key};
use crate::plan::RunPart;

/// Names and marks for a plan made anew: bars cut as they were going to be keep both; then bars keep
/// their names, and pieces stay on the bars that they were on.
pub(super) struct Relabelling<'a> {
    rest: &'a Rest,
    /// Wall and batch of the pieces, by their marks; of none where bars are of one batch.
    bound: Bound<'a>,
    /// Sticks of each kind that are not given out.
    free: BTreeMap<usize, BTreeSet<usize>>,
    /// The same by what is planned on them.
    planned: BTreeMap<(usize, Vec<AlikeCut>), VecDeque<usize>>,
    /// What is planned on each stick that was looked at so far.
    shapes: HashMap<usize, HashSet<Shape>>,
    /// Marks of pieces that are not given out.
    marks: HashMap<Alike, Marks>,
}

/// How many bars are looked at for the one on which most of the same was planned.
const LOOKED_AT: usize = 300;

/// Marks of alike pieces that are not given out, in order.
#[derive(Default)]
struct Marks {
    all: BTreeMap<usize, String>,
    places: HashMap<String, usize>,
    /// By the bars that they were planned on.
    of_bar: HashMap<usize, BTreeSet<usize>>,
}

impl Marks {
    fn add(&mut self, mark: &str, bar: Option<usize>) {
        let at = self.all.len(); // all are added before any is given out
        self.all.insert(at, mark.to_owned());
        self.places.insert(mark.to_owned(), at);
        if let Some(bar) = bar {
            self.of_bar.entry(bar).or_default().insert(at);
        }
    }

    fn remove(&mut self, mark: &str) {
        if let Some(at) = self.places.get(mark) {
            self.all.remove(at);
        }
    }

    /// The first that was planned on a bar.
    fn take_of(&mut self, bar: usize) -> Option<String> {
        let of_bar = self.of_bar.get_mut(&bar)?;
        // Some may have been given out by their own names.
        std::iter::from_fn(|| of_bar.pop_first()).find_map(|at| self.all.remove(&at))
    }

    fn take_first(&mut self) -> Option<String> {
        self.all.pop_first().map(|(_, mark)| mark)
    }
}

/// What pieces that may change places have in common.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
struct Alike {
    shape: Shape,
    spare: bool,
    for_bar: bool,
    stage: u64,
    /// Wall and batch, where bars are of several batches.
    bound: Option<(String, String)>,
}

impl<'a> Relabelling<'a> {
    pub fn new(rest: &'a Rest, bars: &[OneBar], is_batched: bool) -> Relabelling<'a> {
        let rows = rest.rows().into_iter().filter(|_| is_batched);
        let bound = rows.map(|(mark, row)| (mark, (name_key(&row.wall), batch_key(&row.batch))));
        let mut relabelling = Relabelling {
            rest,
            bound: bound.collect(),
            free: BTreeMap::new(),
            planned: BTreeMap::new(),
            shapes: HashMap::new(),
            marks: HashMap::new(),
        };
        let mut on: HashMap<&str, usize> = HashMap::new();
        for (at, (stick, kind)) in rest.sticks.iter().zip(&rest.kinds).enumerate() {
            if let (Some(_), Some(kind)) = (&stick.name, kind) {
                relabelling.free.entry(*kind).or_default().insert(at);
                let key = (*kind, sorted(&relabelling.bound, &stick.planned));
                relabelling.planned.entry(key).or_default().push_back(at);
            }
            on.extend(stick.planned.iter().map(|cut| (cut.mark.as_str(), at)));
        }
        let cuts = bars.iter().flat_map(|bar| &bar.cuts);
        for cut in cuts.filter(|cut| cut.part.is_none()) {
            let place = on.get(cut.mark.as_str()).copied();
            let alike = relabelling.marks.entry(alike(&relabelling.bound, cut));
            alike.or_default().add(&cut.mark, place);
        }
        relabelling
    }

    pub fn apply(mut self, bars: &mut [OneBar]) {
        let mut given: Vec<Option<usize>> = vec![None; bars.len()];
        let mut is_same = vec![false; bars.len()];
        for ((bar, given), is_same) in bars.iter_mut().zip(&mut given).zip(&mut is_same) {
            if let Some(at) = self.cut_alike(bar) {
                *given = Some(at);
                *is_same = true;
                self.take(bar, at);
            }
        }
        for (bar, given) in bars.iter_mut().zip(&mut given) {
            if given.is_none() {
                *given = self.most_alike(bar);
            }
            let sticks = given.and_then(|at| self.rest.sticks.get(at));
            bar.name = sticks
                .and_then(|stick| stick.name.clone())
                .unwrap_or_default();
        }
        let open = bars.iter_mut().zip(&given).zip(&is_same);
        let mut waiting: Vec<(&mut OneCut, Alike)> = Vec::new();
        for ((bar, given), _) in open.filter(|(_, is_same)| !**is_same) {
            for cut in bar.cuts.iter_mut().filter(|cut| cut.part.is_none()) {
                let key = alike(&self.bound, cut);
                let marks = self.marks.entry(key.clone()).or_default();
                match given.and_then(|bar| marks.take_of(bar)) {
                    Some(mark) => cut.mark = mark,
                    None => waiting.push((cut, key)),
                }
            }
        }
        for (cut, key) in waiting {
            if let Some(mark) = self.marks.entry(key).or_default().take_first() {
                cut.mark = mark;
            }
        }
    }

    /// A bar of the same kind on which the same was planned.
    fn cut_alike(&mut self, bar: &OneBar) -> Option<usize> {
        let asked = (bar.kind, sorted(&self.bound, &bar.cuts));
        let at = self.planned.get_mut(&asked)?.pop_front()?;
        self.free.get_mut(&bar.kind)?.remove(&at);
        Some(at)
    }

    /// A bar of the same kind on which most of the same was planned, of the first of them; the first of those.
    fn most_alike(&mut self, bar: &OneBar) -> Option<usize> {
        let sticks = &self.rest.sticks;
        let free = self.free.get_mut(&bar.kind)?;
        let shapes = |cuts: &[OneCut]| cuts.iter().map(|cut| cut.shape).collect::<HashSet<_>>();
        let asked = shapes(&bar.cuts);
        let mut common = |at: usize| {
            let planned = self.shapes.entry(at).or_insert_with(|| {
                let stick = sticks.get(at);
                stick.map_or_else(HashSet::new, |stick| shapes(&stick.planned))
            });
            planned.intersection(&asked).count()
        };
        let looked_at = free.iter().take(LOOKED_AT).rev();
        let at = *looked_at.max_by_key(|at| common(**at))?;
        free.remove(&at);
        Some(at)
    }

    /// Cuts in the order in which they were planned, under the same marks.
    fn take(&mut self, bar: &mut OneBar, at: usize) {
        let Some(stick) = self.rest.sticks.get(at) else {
            return;
        };
        bar.cuts = stick.planned.clone();
        for cut in &bar.cuts {
            let key = alike(&self.bound, cut);
            if let Some(marks) = self.marks.get_mut(&key) {
                marks.remove(&cut.mark);
            }
        }
    }
}

/// What distinguishes a cut but for its mark, where it may change places.
type AlikeCut = (Alike, Option<RunPart>);

/// Walls and batches of pieces by their marks.
type Bound<'a> = HashMap<&'a str, (String, String)>;

fn alike(bound: &Bound<'_>, cut: &OneCut) -> Alike {
    Alike {
        shape: cut.shape,
        spare: cut.spare,
        for_bar: cut.for_bar,
        stage: cut.stage,
        bound: bound
            .get(cut.mark.as_str())
            .filter(|_| cut.part.is_none()) // a part is known by its run
            .cloned(),
    }
}

fn sorted(bound: &Bound<'_>, cuts: &[OneCut]) -> Vec<AlikeCut> {
    let cuts = cuts.iter();
    let mut cuts: Vec<_> = cuts
        .map(|cut| (alike(bound, cut), cut.part.clone()))
        .collect();
    cuts.sort();
    cuts
}
