//! Bars and pieces of a plan made anew, by the names that they had.

use std::collections::{BTreeMap, HashMap, HashSet};

use super::rows::Rest;
use super::single::{OneBar, OneCut};
use crate::job::Shape;
use crate::plan::RunPart;

/// Names and marks for a plan made anew: bars cut as they were going to be keep both; then bars keep
/// their names, and pieces stay on the bars that they were on.
pub(super) struct Relabelling<'a> {
    rest: &'a Rest,
    /// Sticks of each kind that are not given out.
    free: BTreeMap<usize, Vec<usize>>,
    /// Marks of pieces that are not given out, and the places of their bars.
    marks: HashMap<Alike, Vec<(String, Option<usize>)>>,
}

/// Pieces that may change places: of one shape and one stage, spares or not.
type Alike = (Shape, bool, u64);

impl<'a> Relabelling<'a> {
    pub fn new(rest: &'a Rest, bars: &[OneBar]) -> Relabelling<'a> {
        let mut free: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        let mut on: HashMap<&str, usize> = HashMap::new();
        for (at, (stick, kind)) in rest.sticks.iter().zip(&rest.kinds).enumerate() {
            if let (Some(_), Some(kind)) = (&stick.name, kind) {
                free.entry(*kind).or_default().push(at);
            }
            on.extend(stick.planned.iter().map(|cut| (cut.mark.as_str(), at)));
        }
        let mut marks: HashMap<Alike, Vec<(String, Option<usize>)>> = HashMap::new();
        let cuts = bars.iter().flat_map(|bar| &bar.cuts);
        for cut in cuts.filter(|cut| cut.part.is_none()) {
            let place = on.get(cut.mark.as_str()).copied();
            let alike = marks.entry(alike(cut)).or_default();
            alike.push((cut.mark.clone(), place));
        }
        Relabelling { rest, free, marks }
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
                let key = alike(cut);
                let marks = self.marks.entry(key).or_default();
                let at = marks.iter().position(|(_, on)| on.is_some() && on == given);
                match at {
                    Some(at) => cut.mark = marks.remove(at).0,
                    None => waiting.push((cut, key)),
                }
            }
        }
        for (cut, key) in waiting {
            let marks = self.marks.entry(key).or_default();
            if !marks.is_empty() {
                cut.mark = marks.remove(0).0;
            }
        }
    }

    /// A bar of the same kind on which the same was planned.
    fn cut_alike(&mut self, bar: &OneBar) -> Option<usize> {
        let asked = sorted(&bar.cuts);
        let place = self.free.get(&bar.kind)?.iter().position(|&at| {
            let stick = self.rest.sticks.get(at);
            stick.is_some_and(|stick| sorted(&stick.planned) == asked)
        });
        Some(self.free.get_mut(&bar.kind)?.remove(place?))
    }

    /// A bar of the same kind on which most of the same was planned; the first of them.
    fn most_alike(&mut self, bar: &OneBar) -> Option<usize> {
        let sticks = &self.rest.sticks;
        let free = self.free.get_mut(&bar.kind)?;
        let shapes = |cuts: &[OneCut]| cuts.iter().map(|cut| cut.shape).collect::<HashSet<_>>();
        let asked = shapes(&bar.cuts);
        let common = |at: usize| {
            let stick = sticks.get(at);
            stick.map_or(0, |stick| {
                shapes(&stick.planned).intersection(&asked).count()
            })
        };
        let both = free.iter().enumerate().rev();
        let (place, _) = both.max_by_key(|(_, at)| common(**at))?;
        Some(free.remove(place))
    }

    /// Cuts in the order in which they were planned, under the same marks.
    fn take(&mut self, bar: &mut OneBar, at: usize) {
        let Some(stick) = self.rest.sticks.get(at) else {
            return;
        };
        bar.cuts = stick.planned.clone();
        for cut in &bar.cuts {
            let key = alike(cut);
            if let Some(marks) = self.marks.get_mut(&key) {
                marks.retain(|(mark, _)| *mark != cut.mark);
            }
        }
    }
}

fn alike(cut: &OneCut) -> Alike {
    (cut.shape, cut.spare, cut.stage)
}

/// What distinguishes cuts but for the marks of pieces that may change places.
fn sorted(cuts: &[OneCut]) -> Vec<(Alike, Option<RunPart>)> {
    let cuts = cuts.iter();
    let mut cuts: Vec<_> = cuts.map(|cut| (alike(cut), cut.part.clone())).collect();
    cuts.sort();
    cuts
}
