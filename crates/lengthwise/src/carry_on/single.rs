//! Bars one by one, and back to groups of bars cut alike.

use std::cmp::Reverse;

use crate::job::{Material, Shape};
use crate::layout::{Copy, Layout, Marked, finish, group, order_cuts};
use crate::plan::{BarGroup, RunPart};

/// One bar and what is cut from it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct OneBar {
    /// Its place among the bars of the material.
    pub kind: usize,
    /// Empty as long as it has none.
    pub name: String,
    pub cuts: Vec<OneCut>,
}

/// One piece, or one part of a run.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct OneCut {
    pub mark: String,
    pub shape: Shape,
    pub spare: bool,
    pub for_bar: bool,
    pub stage: u64,
    pub part: Option<RunPart>,
}

/// What bars that are cut alike have in common.
pub(super) type Likeness = (
    usize,
    Vec<(u64, Reverse<Shape>, bool, bool, Option<RunPart>)>,
);

impl OneBar {
    /// Equal for bars that are cut alike: only the numbers of copies differ.
    pub fn likeness(&self) -> Likeness {
        let cuts = self.cuts.iter().map(|cut| {
            let part = cut.part.clone().map(|part| RunPart { copy: 0, ..part });
            (cut.stage, Reverse(cut.shape), cut.spare, cut.for_bar, part)
        });
        (self.kind, cuts.collect())
    }

    fn marked(&self) -> Marked {
        let cuts = self.cuts.iter().map(|cut| {
            let copy = Copy {
                mark: cut.mark.clone(),
                spare: cut.spare,
                for_bar: cut.for_bar,
                stage: cut.stage,
                part: cut.part.clone(),
            };
            (cut.shape, copy)
        });
        Marked {
            kind: self.kind,
            cuts: cuts.collect(),
        }
    }
}

/// Puts the cuts of these bars in the order in which the stop is set for them; `None` where a sum would
/// leave the range of exact lengths.
pub(super) fn in_order(material: &Material, bars: &mut [&mut OneBar]) -> Option<()> {
    let mut marked: Vec<Marked> = bars.iter().map(|bar| bar.marked()).collect();
    order_cuts(material, &mut marked)?;
    for (bar, marked) in bars.iter_mut().zip(marked) {
        let cuts = marked.cuts.into_iter().map(|(shape, copy)| OneCut {
            mark: copy.mark,
            shape,
            spare: copy.spare,
            for_bar: copy.for_bar,
            stage: copy.stage,
            part: copy.part,
        });
        bar.cuts = cuts.collect();
    }
    Some(())
}

/// The bars of some groups, one by one.
pub(super) fn singles(groups: &[BarGroup]) -> Vec<OneBar> {
    let of_group = |group: &BarGroup| {
        let cuts = group.cuts.clone();
        let kind = group.bar;
        let names = group.names.clone().into_iter().enumerate();
        names.map(move |(place, name)| {
            let one = cuts.iter().filter_map(|cut| {
                Some(OneCut {
                    mark: cut.marks.get(place)?.clone(),
                    shape: Shape {
                        batch: None,
                        length: cut.length,
                        ends: cut.ends,
                    },
                    spare: cut.spare,
                    for_bar: cut.for_bar,
                    stage: cut.stage,
                    part: cut.parts.get(place).cloned(),
                })
            });
            OneBar {
                kind,
                name,
                cuts: one.collect(),
            }
        })
    };
    groups.iter().flat_map(of_group).collect()
}

/// Everything that follows from bars with names and marks, which come in order: bars cut alike in one
/// group where they follow each other. `None` where they do not fit.
pub(super) fn lay_out(material: &Material, bars: &[OneBar]) -> Option<Layout> {
    let mut cut_of_kind = vec![0_u64; material.bars().len()];
    let mut groups = Vec::new();
    for alike in bars.chunk_by(|one, next| one.likeness() == next.likeness()) {
        let kind = alike.first()?.kind;
        *cut_of_kind.get_mut(kind)? += u64::try_from(alike.len()).ok()?;
        let names = alike.iter().map(|bar| bar.name.clone()).collect();
        let marked: Vec<Marked> = alike.iter().map(OneBar::marked).collect();
        groups.push(group(material, kind, names, &marked)?);
    }
    finish(material, groups, &cut_of_kind)
}
