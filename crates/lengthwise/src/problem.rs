//! The bridge from a material to the integer problem: blade absorbed, costs as whole numbers.

use std::collections::{HashMap, HashSet};

use itertools::Itertools;
use rust_decimal::Decimal;

use crate::engine::{Instance, Item, Kind, gcd};
use crate::job::{Bar, Material, Piece, Shape};
use crate::length::Length;
use crate::plan::{Impossible, Value};
use crate::price::Price;

/// Costs of one bar above this leave no room for exact sums over a pattern.
const LARGEST_COST: i128 = 1 << 45;
/// Bars of one kind that the engine can tell apart from "as many as wanted".
const MOST_BARS: u64 = u32::MAX as u64;

/// A material as an integer problem.
pub(crate) struct Problem {
    pub instance: Instance,
    /// The distinct shapes, one an item, in the order of
    /// [`Certificate::prices`](crate::plan::Certificate::prices).
    pub shapes: Vec<Shape>,
    costs: Costs,
}

/// How whole-number costs are turned back into money or length.
struct Costs {
    priced: bool,
    /// One unit of cost is `factor / divisor` of the smallest decimal (or nanometre).
    factor: i128,
    divisor: i128,
    /// Decimals of the smallest decimal.
    decimals: u32,
}

/// Why a material is no integer problem.
pub(crate) enum NoProblem {
    /// There is no plan, and this is why.
    Impossible(Impossible),
    /// Prices with so many digits that sums would not stay exact.
    CostsTooFine,
}

impl Problem {
    /// Turns a material into an integer problem, or says why there is no plan.
    pub fn new(material: &Material) -> Result<Problem, NoProblem> {
        let shapes = distinct_shapes(material);
        check_lengths(material).map_err(NoProblem::Impossible)?;
        check_total(material).map_err(NoProblem::Impossible)?;
        let (costs, per_bar) = costs(material).ok_or(NoProblem::CostsTooFine)?;
        let cut = material.cut_width().nm();
        let mut demand: HashMap<Shape, u64> = HashMap::new();
        for piece in material.pieces() {
            *demand.entry(piece.shape()).or_default() += piece.qty();
        }
        let items = shapes
            .iter()
            .map(|shape| Item {
                size: takes(material, *shape).nm() + cut,
                // Checked jobs have at most ten million pieces of one material.
                demand: demand
                    .get(shape)
                    .and_then(|&demand| u32::try_from(demand).ok())
                    .unwrap_or(u32::MAX),
            })
            .collect();
        let kinds = material
            .bars()
            .iter()
            .zip(per_bar)
            .map(|(bar, cost)| Kind {
                capacity: bar.usable().nm() + cut,
                cost,
                available: bar
                    .bars_available()
                    .map(|bars| u32::try_from(bars.min(MOST_BARS)).unwrap_or(u32::MAX)),
                pack: u32::try_from(bar.bars_per_sale()).unwrap_or(1),
                tie: if bar.is_in_hand() {
                    bar.length().nm()
                } else {
                    0
                },
            })
            .collect();
        let mut instance = Instance {
            apart: Vec::new(),
            items,
            kinds,
        };
        divide_sizes(&mut instance);
        Ok(Problem {
            instance,
            shapes,
            costs,
        })
    }

    /// A cost of the integer problem as money or bought length; `None` if it is not exact.
    pub fn value(&self, cost: i128) -> Option<Value> {
        let Costs {
            priced,
            factor,
            divisor,
            decimals,
        } = self.costs;
        let units = cost.checked_mul(factor)?;
        if units % divisor != 0 {
            return None;
        }
        let units = units / divisor;
        if priced {
            let money = Decimal::try_from_i128_with_scale(units, decimals).ok()?;
            Price::from_decimal(money).map(Value::Money)
        } else {
            i64::try_from(units)
                .ok()
                .and_then(Length::from_nm)
                .map(Value::Bought)
        }
    }
}

/// What a piece takes of a bar by itself: its length, and what its mitred ends take.
fn takes(material: &Material, shape: Shape) -> Length {
    let mitred = material.mitre_allowance(shape.ends);
    // Checked jobs keep far larger sums below the ceiling.
    shape.length.checked_add(mitred).unwrap_or(Length::MAX)
}

fn distinct_shapes(material: &Material) -> Vec<Shape> {
    let pieces = material.pieces().iter();
    let shapes: HashSet<Shape> = pieces.map(|piece| piece.shape()).collect();
    let mut shapes: Vec<(Length, Shape)> = shapes
        .into_iter()
        .map(|shape| (takes(material, shape), shape))
        .collect();
    shapes.sort_unstable_by(|a, b| b.cmp(a));
    shapes.into_iter().map(|(_, shape)| shape).collect()
}

/// Whether each piece fits a bar that can be had.
fn check_lengths(material: &Material) -> Result<(), Impossible> {
    let can_be_had = |bar: &&Bar| bar.bars_available() != Some(0);
    let longest = material
        .bars()
        .iter()
        .filter(can_be_had)
        .max_by_key(|bar| (bar.usable(), bar.length()));
    let usable = longest.map_or(Length::ZERO, Bar::usable);
    let takes = |piece: &&Piece| takes(material, piece.shape());
    let too_long = || {
        material
            .pieces()
            .iter()
            .filter(|piece| takes(piece) > usable)
    };
    // The longest piece; the first row of it, if there are several.
    let Some(worst) = too_long().rev().max_by_key(takes) else {
        return Ok(());
    };
    Err(Impossible::PieceTooLong {
        mark: worst.copy_mark(0),
        length: worst.length(),
        takes: takes(&worst),
        longest: longest.map(|bar| (bar.usable(), bar.length())),
        rows: too_long().map(Piece::row).dedup().count(),
    })
}

/// Whether limited bars have enough length in all.
fn check_total(material: &Material) -> Result<(), Impossible> {
    let cut = material.cut_width().nm();
    let mut available = 0_i128;
    for bar in material.bars() {
        let Some(bars) = bar.bars_available() else {
            return Ok(());
        };
        available += i128::from(bars) * i128::from(bar.usable().nm() + cut);
    }
    let needed: i128 = material
        .pieces()
        .iter()
        .map(|piece| {
            let each = takes(material, piece.shape()).nm() + cut;
            i128::from(piece.qty()) * i128::from(each)
        })
        .sum();
    if needed <= available {
        return Ok(());
    }
    let length = |nm: i128| {
        i64::try_from(nm)
            .ok()
            .and_then(Length::from_nm)
            .unwrap_or(Length::MAX)
    };
    Err(Impossible::NotEnoughLength {
        needed: length(needed),
        available: length(available),
    })
}

/// What one sale of a bar costs: mantissa and decimals of its price, or its length.
fn sale_cost(material: &Material, bar: &Bar) -> Option<(i128, u32)> {
    if material.is_priced() {
        let price = bar.sale_price()?.decimal().normalize();
        Some((price.mantissa(), price.scale()))
    } else if bar.is_in_hand() {
        Some((0, 0))
    } else {
        let sale = i128::from(bar.length().nm()).checked_mul(i128::from(bar.bars_per_sale()))?;
        Some((sale, 0))
    }
}

/// Whole-number costs of one bar of each kind, and the way back. The canonical form is the one that
/// [`Certificate`](crate::plan::Certificate) documents.
fn costs(material: &Material) -> Option<(Costs, Vec<i64>)> {
    let sales: Vec<(i128, u32)> = material
        .bars()
        .iter()
        .map(|bar| sale_cost(material, bar))
        .collect::<Option<_>>()?;
    let decimals = sales
        .iter()
        .map(|&(_, decimals)| decimals)
        .max()
        .unwrap_or(0);
    let packs = || {
        material
            .bars()
            .iter()
            .map(|bar| i128::from(bar.bars_per_sale()))
    };
    let common = packs().try_fold(1_i128, lcm)?;
    let mut per_bar = Vec::with_capacity(sales.len());
    for ((mantissa, scale), pack) in sales.into_iter().zip(packs()) {
        let units = mantissa.checked_mul(10_i128.checked_pow(decimals - scale)?)?;
        per_bar.push(units.checked_mul(common)? / pack);
    }
    let factor = per_bar.iter().copied().fold(0, gcd).max(1);
    let per_bar = per_bar
        .into_iter()
        .map(|cost| {
            i64::try_from(cost / factor)
                .ok()
                .filter(|&cost| i128::from(cost) <= LARGEST_COST)
        })
        .collect::<Option<Vec<i64>>>()?;
    Some((
        Costs {
            priced: material.is_priced(),
            factor,
            divisor: common,
            decimals,
        },
        per_bar,
    ))
}

/// Divides sizes by what they have in common; capacities are rounded down, which loses nothing.
fn divide_sizes(instance: &mut Instance) {
    let common = instance
        .items
        .iter()
        .map(|item| i128::from(item.size))
        .fold(0, gcd);
    let common = i64::try_from(common).unwrap_or(1).max(1);
    for item in &mut instance.items {
        item.size /= common;
    }
    for kind in &mut instance.kinds {
        kind.capacity /= common;
    }
}

fn lcm(a: i128, b: i128) -> Option<i128> {
    (a / gcd(a, b).max(1)).checked_mul(b)
}
