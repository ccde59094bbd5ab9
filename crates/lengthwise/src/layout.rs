//! From pattern counts back to named bars with marked pieces.

mod bar;
mod copies;
mod names;
mod order;

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet, HashMap};

use crate::engine::Packing;
use crate::job::{Material, Shape, Supply};
use crate::plan::{BarGroup, Cut, Figures, Purchase, RunPart, UncutBars};
use crate::price::Price;
use crate::problem::Problem;

pub(crate) use bar::{Remains, cut_bar};
use copies::Copies;
pub(crate) use copies::Copy;
pub(crate) use names::{BarNames, letters};
use order::{Held, Setting};

/// Everything of a plan that follows from which patterns are cut how often.
pub(crate) struct Layout {
    pub buy: Vec<Purchase>,
    pub bars: Vec<BarGroup>,
    pub uncut: Vec<UncutBars>,
    pub figures: Figures,
}

/// Lays a packing out; `None` where a sum would leave the range of exact lengths or prices.
pub(crate) fn lay_out(
    material: &Material,
    problem: &Problem,
    packing: &Packing,
    names: &mut BarNames,
) -> Option<Layout> {
    let mut bars = Vec::new();
    let mut cut_of_kind = vec![0_u64; material.bars().len()];
    for alike in in_order(material, marked(material, problem, packing)?)?.chunk_by(Marked::is_alike)
    {
        let kind = alike.first()?.kind;
        let count = u64::try_from(alike.len()).ok()?;
        *cut_of_kind.get_mut(kind)? += count;
        bars.push(group(material, kind, names.next_group(count), alike)?);
    }
    finish(material, bars, &cut_of_kind)
}

/// What follows from bars that are laid out already, of which so many are cut of each kind.
pub(crate) fn finish(
    material: &Material,
    bars: Vec<BarGroup>,
    cut_of_kind: &[u64],
) -> Option<Layout> {
    let buy = purchases(material, cut_of_kind)?;
    let uncut = UncutBars::of(material, &buy, &bars)?;
    let figures = Figures::of(&buy, &bars, &uncut)?;
    Some(Layout {
        buy,
        bars,
        uncut,
        figures,
    })
}

/// A bar with the pieces that come off it.
pub(crate) struct Marked {
    pub kind: usize,
    pub cuts: Vec<(Shape, Copy)>,
}

impl Marked {
    /// Whether they are cut alike. Bars with a spare are not cut like those without, nor are bars with
    /// pieces of other stages or other parts of runs.
    pub fn is_alike(&self, other: &Marked) -> bool {
        let mut both = self.cuts.iter().zip(&other.cuts);
        self.kind == other.kind
            && self.cuts.len() == other.cuts.len()
            && both.all(|((one, copy), (next, other))| one == next && copy.is_alike(other))
    }

    /// What the hand holds before the first cut, and what every cut takes of it.
    fn held(&self, material: &Material) -> Option<Held> {
        let bar = material.bars().get(self.kind)?;
        let of = |(shape, copy): &(Shape, Copy)| {
            let along = material.mitre_allowance(shape.ends);
            let takes = shape.length.checked_add(material.cut_width())?;
            Some((setting(*shape, copy), takes.checked_add(along)?.nm()))
        };
        let mut pieces: Vec<_> = self.cuts.iter().map(of).collect::<Option<_>>()?;
        pieces.sort_unstable();
        Some(Held {
            bar: bar.length().checked_sub(bar.square_off().near)?.nm(),
            pieces,
        })
    }
}

/// When the stop is set for a piece. What is left for a spare must stay on its bar to the end, so spares
/// come after all stages.
fn setting(shape: Shape, copy: &Copy) -> Setting {
    let stage = if copy.spare { u64::MAX } else { copy.stage };
    (stage, shape.length)
}

/// Every bar with marked pieces.
fn marked(material: &Material, problem: &Problem, packing: &Packing) -> Option<Vec<Marked>> {
    let mut copies = Copies::new(material, problem, packing)?;
    let mut bars = Vec::new();
    for (kind, shapes, count) in alike(problem, packing) {
        for _ in 0..count {
            // Which batch a piece has to come from is no matter of the saw.
            let cuts = shapes.iter().map(|&shape| {
                let cut = Shape {
                    batch: None,
                    ..shape
                };
                Some((cut, copies.next(shape)?))
            });
            let mut cuts = cuts.collect::<Option<Vec<_>>>()?;
            cuts.shrink_to_fit();
            bars.push(Marked { kind, cuts });
        }
    }
    Some(bars)
}

/// The cuts of every bar in the order of the stop's settings, and the bars of each kind in that order too.
fn in_order(material: &Material, mut bars: Vec<Marked>) -> Option<Vec<Marked>> {
    let rank = order_cuts(material, &mut bars)?;
    let rank = |(shape, copy): &(Shape, Copy)| rank.get(&setting(*shape, copy)).copied();
    bars.sort_by_cached_key(|bar| {
        let cuts = bar.cuts.iter().map(|cut| (rank(cut), Reverse(cut.0)));
        (bar.kind, cuts.collect::<Vec<_>>())
    });
    Some(bars)
}

/// Puts the cuts of every bar in the order of the stop's settings; which comes when.
pub(crate) fn order_cuts(
    material: &Material,
    bars: &mut [Marked],
) -> Option<HashMap<Setting, usize>> {
    let held = bars.iter().map(|bar| bar.held(material));
    let held: BTreeSet<Held> = held.collect::<Option<_>>()?;
    let settings = order::settings(&held, material.hold());
    let rank: HashMap<Setting, usize> = settings.into_iter().zip(0..).collect();
    for bar in bars {
        bar.cuts
            .sort_by_key(|(shape, copy)| rank.get(&setting(*shape, copy)).copied());
    }
    Some(rank)
}

/// Bars cut alike, as `(kind, shapes longest first, bars)`: bought before in hand, as the bars of the
/// material stand; within a kind those with the longest pieces first.
fn alike(problem: &Problem, packing: &Packing) -> Vec<(usize, Vec<Shape>, u64)> {
    let mut groups: BTreeMap<(u32, Vec<Reverse<Shape>>), u64> = BTreeMap::new();
    let on_bars = packing
        .uses
        .iter()
        .filter(|(pattern, _)| pattern.split.is_none());
    for (pattern, uses) in on_bars {
        let mut shapes: Vec<Reverse<Shape>> = pattern
            .counts
            .iter()
            .filter_map(|&(item, count)| Some((problem.shape_of(item)?, count)))
            .flat_map(|(shape, count)| (0..count).map(move |_| Reverse(shape)))
            .collect();
        // Mitred ends may take so much of a bar that a shorter piece comes first among the items.
        shapes.sort_unstable();
        *groups.entry((pattern.kind, shapes)).or_default() += u64::from(*uses);
    }
    groups
        .into_iter()
        .map(|((kind, shapes), count)| {
            (
                kind as usize,
                shapes.into_iter().map(|shape| shape.0).collect(),
                count,
            )
        })
        .collect()
}

/// A group of bars cut alike.
pub(crate) fn group(
    material: &Material,
    kind: usize,
    names: Vec<String>,
    alike: &[Marked],
) -> Option<BarGroup> {
    let bar = material.bars().get(kind)?;
    let shapes: Vec<Shape> = alike
        .first()?
        .cuts
        .iter()
        .map(|(shape, _)| *shape)
        .collect();
    let Remains {
        blade,
        reserve,
        square,
        offcut,
        offcut_rough,
    } = cut_bar(material, bar, &shapes)?;
    let cut = |(place, shape): (usize, &Shape)| {
        let copies = alike
            .iter()
            .map(|bar| bar.cuts.get(place).map(|(_, copy)| copy));
        let copies = copies.collect::<Option<Vec<_>>>()?;
        let first = copies.first()?;
        let mut parts: Vec<RunPart> = copies.iter().filter_map(|copy| copy.part.clone()).collect();
        parts.shrink_to_fit();
        Some(Cut {
            length: shape.length,
            ends: shape.ends,
            spare: first.spare,
            for_bar: first.for_bar,
            stage: first.stage,
            parts,
            marks: copies.iter().map(|copy| copy.mark.clone()).collect(),
        })
    };
    let cuts = shapes.iter().enumerate().map(cut);
    let mut cuts = cuts.collect::<Option<Vec<_>>>()?;
    // A plan may have many bars with one cut each.
    cuts.shrink_to_fit();
    let saved = !offcut.is_zero() && offcut.checked_sub(offcut_rough)? >= material.save_from();
    Some(BarGroup {
        cuts,
        names,
        bar: kind,
        stock: bar.length(),
        in_hand: bar.is_in_hand(),
        blade,
        reserve,
        square,
        offcut,
        offcut_rough,
        saved,
    })
}

fn purchases(material: &Material, cut_of_kind: &[u64]) -> Option<Vec<Purchase>> {
    let mut buy = Vec::new();
    for (kind, (bar, &cut)) in material.bars().iter().zip(cut_of_kind).enumerate() {
        let Supply::Bought { price, sold, .. } = bar.supply() else {
            continue;
        };
        if cut == 0 {
            continue;
        }
        let (sales, price, cost) = if price.is_some() {
            let (sales, price, cost) = bar.cheapest_sales(cut)?;
            (sales, Some(price), Some(cost))
        } else {
            (cut.div_ceil(bar.bars_per_sale()), None, None)
        };
        let bars = sales.checked_mul(bar.bars_per_sale())?;
        buy.push(Purchase {
            bar: kind,
            length: bar.length(),
            sold,
            bars,
            sales,
            price,
            cost,
        });
    }
    Some(buy)
}

/// Money for what is bought and the worth of what is cut from hand.
pub(crate) fn money(material: &Material, layout: &Layout) -> Option<Price> {
    let mut money = Price::ZERO;
    for line in &layout.buy {
        money = money.checked_add(line.cost?)?;
    }
    for group in layout.bars.iter().filter(|group| group.in_hand) {
        let worth = material.bars().get(group.bar)?.sale_price()?;
        money = money.checked_add(worth.checked_mul(u64::try_from(group.names.len()).ok()?)?)?;
    }
    Some(money)
}
