//! From pattern counts back to named bars with marked pieces.

mod bar;
mod names;

use std::collections::BTreeMap;

use crate::engine::Packing;
use crate::job::{Bar, Material, Piece, Sold, Supply};
use crate::length::Length;
use crate::plan::{BarGroup, Cut, Figures, Purchase, UncutBars};
use crate::price::Price;
use crate::problem::{Problem, place};

use bar::{Remains, cut_bar};
pub(crate) use names::BarNames;

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
    let mut copies = Copies::new(material, &problem.lengths);
    let mut bars = Vec::new();
    let mut cut_of_kind = vec![0_u64; material.bars().len()];
    for (kind, lengths, count) in alike(problem, packing) {
        let bar = material.bars().get(kind)?;
        *cut_of_kind.get_mut(kind)? += count;
        bars.push(group(
            material,
            (kind, bar),
            &lengths,
            names.next_group(count),
            &mut copies,
        )?);
    }
    let buy = purchases(material, &cut_of_kind)?;
    let uncut = uncut(material, &cut_of_kind, &buy);
    let figures = figures(&buy, &bars, &uncut)?;
    Some(Layout {
        buy,
        bars,
        uncut,
        figures,
    })
}

/// Bars cut alike, as `(kind, lengths longest first, bars)`: bought before in hand, as the bars of the
/// material stand; within a kind those with the longest pieces first.
fn alike(problem: &Problem, packing: &Packing) -> Vec<(usize, Vec<Length>, u64)> {
    let mut groups: BTreeMap<(u32, Vec<std::cmp::Reverse<Length>>), u64> = BTreeMap::new();
    for (pattern, uses) in &packing.uses {
        let lengths = pattern
            .counts
            .iter()
            .filter_map(|&(item, count)| Some((problem.lengths.get(item as usize)?, count)))
            .flat_map(|(&length, count)| (0..count).map(move |_| std::cmp::Reverse(length)))
            .collect();
        *groups.entry((pattern.kind, lengths)).or_default() += u64::from(*uses);
    }
    groups
        .into_iter()
        .map(|((kind, lengths), count)| {
            (
                kind as usize,
                lengths.into_iter().map(|length| length.0).collect(),
                count,
            )
        })
        .collect()
}

fn group(
    material: &Material,
    (kind, bar): (usize, &Bar),
    lengths: &[Length],
    names: Vec<String>,
    copies: &mut Copies<'_>,
) -> Option<BarGroup> {
    let Remains {
        blade,
        reserve,
        square,
        offcut,
        offcut_rough,
    } = cut_bar(material, bar, lengths)?;
    let mut cuts: Vec<Cut> = lengths
        .iter()
        .map(|&length| Cut {
            length,
            marks: Vec::with_capacity(names.len()),
            spare: false,
        })
        .collect();
    // Bar by bar, so that neighbours in the list come off the same bar.
    for _ in &names {
        for cut in &mut cuts {
            cut.marks.push(copies.next(cut.length)?);
        }
    }
    let saved = !offcut.is_zero() && offcut.checked_sub(offcut_rough)? >= material.save_from();
    Some(BarGroup {
        names,
        bar: kind,
        stock: bar.length(),
        in_hand: bar.is_in_hand(),
        cuts,
        blade,
        reserve,
        square,
        offcut,
        offcut_rough,
        saved,
    })
}

/// Hands out the copies of the pieces of each length, in the order of the rows.
struct Copies<'m> {
    lengths: &'m [Length],
    queues: Vec<Vec<&'m Piece>>,
    next: Vec<(usize, u64)>,
}

impl<'m> Copies<'m> {
    fn new(material: &'m Material, lengths: &'m [Length]) -> Self {
        let mut queues: Vec<Vec<&Piece>> = vec![Vec::new(); lengths.len()];
        for piece in material.pieces() {
            if let Some(queue) = place(lengths, piece.length()).and_then(|at| queues.get_mut(at)) {
                queue.push(piece);
            }
        }
        let next = vec![(0, 0); lengths.len()];
        Copies {
            lengths,
            queues,
            next,
        }
    }

    fn next(&mut self, length: Length) -> Option<String> {
        let at = place(self.lengths, length)?;
        let (row, copy) = self.next.get_mut(at)?;
        let piece = self.queues.get(at)?.get(*row)?;
        let mark = piece.copy_mark(*copy);
        *copy += 1;
        if *copy == piece.qty() {
            (*row, *copy) = (*row + 1, 0);
        }
        Some(mark)
    }
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
        let sales = cut.div_ceil(bar.bars_per_sale());
        let cost = match bar.sale_price() {
            Some(sale) => Some(sale.checked_mul(sales)?),
            None => None,
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

/// Bars in hand that are not needed, and what is left of packs.
fn uncut(material: &Material, cut_of_kind: &[u64], buy: &[Purchase]) -> Vec<UncutBars> {
    let bought = |kind: usize| {
        buy.iter()
            .find(|line| line.bar == kind)
            .map_or(0, |line| line.bars)
    };
    let kinds = material.bars().iter().zip(cut_of_kind).enumerate();
    kinds
        .filter_map(|(kind, (bar, &cut))| {
            let there = match bar.supply() {
                Supply::InHand { available, .. } => available,
                Supply::Bought {
                    sold: Sold::Pack(_),
                    ..
                } => bought(kind),
                Supply::Bought { .. } => cut,
            };
            let count = there.saturating_sub(cut);
            let in_hand = bar.is_in_hand();
            (count > 0).then_some(UncutBars {
                bar: kind,
                length: bar.length(),
                count,
                in_hand,
            })
        })
        .collect()
}

fn figures(buy: &[Purchase], bars: &[BarGroup], uncut: &[UncutBars]) -> Option<Figures> {
    let mut figures = Figures::default();
    for line in buy {
        add(&mut figures.bought, line.length, line.bars)?;
    }
    for group in bars {
        let count = u64::try_from(group.names.len()).ok()?;
        add(&mut figures.total, group.stock, count)?;
        add(&mut figures.cut_into, group.stock, count)?;
        if group.in_hand {
            add(&mut figures.hand_cut_into, group.stock, count)?;
        }
        for cut in &group.cuts {
            add(&mut figures.needed, cut.length, count)?;
        }
        add(&mut figures.blade, group.blade, count)?;
        add(&mut figures.reserve, group.reserve, count)?;
        add(&mut figures.square, group.square, count)?;
        let place = if group.saved {
            &mut figures.saved
        } else {
            &mut figures.waste
        };
        add(place, group.offcut, count)?;
    }
    for bars in uncut {
        add(&mut figures.total, bars.length, bars.count)?;
        add(&mut figures.saved, bars.length, bars.count)?;
    }
    Some(figures)
}

fn add(sum: &mut Length, length: Length, count: u64) -> Option<()> {
    *sum = sum.checked_add(length.checked_mul(count)?)?;
    Some(())
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
