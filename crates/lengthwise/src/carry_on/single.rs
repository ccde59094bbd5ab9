//! Bars one by one, and back to groups of bars cut alike.

use std::cmp::Reverse;

use crate::job::{Material, Shape};
use crate::layout::{Layout, finish, group_of};
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
    pub part: Option<RunPart>,
}

/// What bars that are cut alike have in common.
pub(super) type Likeness = (usize, Vec<(Reverse<Shape>, bool, Option<RunPart>)>);

impl OneBar {
    /// Equal for bars that are cut alike: only the numbers of copies differ.
    pub fn likeness(&self) -> Likeness {
        let cuts = self.cuts.iter().map(|cut| {
            let part = cut.part.clone().map(|part| RunPart { copy: 0, ..part });
            (Reverse(cut.shape), cut.spare, part)
        });
        (self.kind, cuts.collect())
    }
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
                        length: cut.length,
                        ends: cut.ends,
                    },
                    spare: cut.spare,
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
        let first = alike.first()?;
        *cut_of_kind.get_mut(first.kind)? += u64::try_from(alike.len()).ok()?;
        let shapes: Vec<Shape> = first.cuts.iter().map(|cut| cut.shape).collect();
        let mut group = group_of(material, first.kind, &shapes)?;
        group.names = alike.iter().map(|bar| bar.name.clone()).collect();
        for (place, cut) in group.cuts.iter_mut().enumerate() {
            let cuts = || alike.iter().filter_map(|bar| bar.cuts.get(place));
            cut.spare = cuts().next()?.spare;
            cut.marks = cuts().map(|cut| cut.mark.clone()).collect();
            cut.parts = cuts().filter_map(|cut| cut.part.clone()).collect();
        }
        groups.push(group);
    }
    finish(material, groups, &cut_of_kind)
}
