//! The bridge from a material to the integer problem: blade absorbed, costs as whole numbers, runs as
//! the splits that their rules allow.

mod anywhere;
mod runs;
mod split;
#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests;

use std::collections::{HashMap, HashSet};

use itertools::Itertools;
use rust_decimal::Decimal;

use crate::engine::{Instance, Item, Kind, Measures, gcd};
use crate::job::{Bar, Material, Piece, Shape};
use crate::length::Length;
use crate::plan::{Impossible, LARGEST_SPARE, Stop, Value, Window};
use crate::price::Price;

use anywhere::Trying;
use runs::{ByLength, Kinds, Ruled, Runs};
use split::Parting;

/// Costs of one bar above this leave no room for exact sums over a pattern.
const LARGEST_COST: i128 = 1 << 45;
/// Cells of a table over all lengths that stays exact in pricing.
const MOST_EXACT_CELLS: i64 = 6_000_000;
/// Bars of one kind that the engine can tell apart from "as many as wanted".
const MOST_BARS: u64 = u32::MAX as u64;

/// A material as an integer problem.
pub(crate) struct Problem {
    pub instance: Instance,
    /// The distinct shapes, one an item after the windows, in the order of
    /// [`Certificate::prices`](crate::plan::Certificate::prices).
    pub shapes: Vec<Shape>,
    /// The windows of courses, one an item before the shapes.
    pub windows: Vec<Window>,
    /// The runs, in the order of their kinds, which follow the bars.
    pub runs: Vec<RunOfKind>,
    /// Where runs joined anywhere are the last item, which has a size of 1: the length of that.
    pub unit: Option<Length>,
    /// Where the joints of such runs are rounded down: how far apart their places are.
    pub step: Option<Length>,
    /// The length of one unit of size.
    size_unit: i64,
    costs: Costs,
}

/// Copies of runs that may all be split alike.
#[derive(Clone, Debug)]
pub(crate) struct RunOfKind {
    /// `(place of the piece, first copy, copies)`.
    pub copies: Vec<(usize, u64, u64)>,
    /// The left end, the places for joints, the right end.
    pub places: Vec<Length>,
    /// The number of the support at each place.
    pub supports: Vec<Option<u32>>,
}

/// How whole-number costs are turned back into money or length.
struct Costs {
    priced: bool,
    /// One unit of cost is `factor / divisor` of the smallest decimal (or nanometre); both above zero.
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
    /// No split of a run was found, though there may be one.
    Unknown(Stop),
}

impl Problem {
    /// Turns a material into an integer problem, or says why there is no plan. Runs joined anywhere
    /// have their joints at the places that are tried.
    pub fn new(material: &Material) -> Result<Problem, NoProblem> {
        Problem::trying(material, Trying::All)
    }

    /// The same with few places for joints that may fall anywhere, where there is no time to go through all of them.
    pub fn in_haste(material: &Material) -> Result<Problem, NoProblem> {
        Problem::trying(material, Trying::Few)
    }

    fn trying(material: &Material, trying: Trying) -> Result<Problem, NoProblem> {
        check_lengths(material).map_err(NoProblem::Impossible)?;
        let runs = Runs::of(material)?;
        check_total(material, &runs).map_err(NoProblem::Impossible)?;
        let kinds = runs.at_places(trying)?;
        let windows = kinds.windows(material);
        Problem::over(material, &kinds, windows, None)
    }

    /// The same with runs joined anywhere by their length: no packing of it can be cut, but what is
    /// proven of it holds wherever the joints fall. `None` where there are no such runs.
    pub fn anywhere(material: &Material) -> Option<Problem> {
        let runs = Runs::of(material).ok()?;
        let (kinds, by_length) = runs.by_length()?;
        let windows = kinds.windows(material);
        Problem::over(material, &kinds, windows, Some(by_length)).ok()
    }

    /// The same with the joints of such runs rounded down to places a step apart, and parts as long as
    /// they are at the least: what is proven of it holds wherever the joints fall. `None` where there
    /// would be too many parts.
    pub fn rounded(material: &Material) -> Option<Problem> {
        let runs = Runs::of(material).ok()?;
        let (kinds, step) = runs.rounded()?;
        let windows = kinds.windows(material);
        let problem = Problem::over(material, &kinds, windows, None).ok()?;
        Some(Problem {
            step: Some(step),
            ..problem
        })
    }

    /// The same without any rule about courses.
    pub fn without_courses(material: &Material) -> Result<Problem, NoProblem> {
        let kinds = Runs::of(material)?.at_places(Trying::All)?;
        Problem::over(material, &kinds, Vec::new(), None)
    }

    fn over(
        material: &Material,
        runs: &Kinds<'_>,
        windows: Vec<Ruled>,
        by_length: Option<ByLength>,
    ) -> Result<Problem, NoProblem> {
        let (costs, per_bar) = costs(material).ok_or(NoProblem::CostsTooFine)?;
        let cut = material.cut_width().nm();
        let mut demand = whole_pieces(material);
        for &(part, count) in by_length.iter().flat_map(|by_length| &by_length.least) {
            *demand.entry(part).or_default() += count;
        }
        let shapes = distinct_shapes(material, &demand, runs);
        // Checked jobs have at most ten million pieces of one material.
        let count = |demand: u64| u32::try_from(demand).unwrap_or(u32::MAX);
        let items = shapes.iter().map(|shape| Item {
            size: material.takes(*shape).nm() + cut,
            demand: count(demand.get(shape).copied().unwrap_or(0)),
            batch: shape.batch,
        });
        let kinds = material.bars().iter().zip(per_bar).map(|(bar, cost)| Kind {
            run: None,
            batch: bar.batch(),
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
        });
        let mut instance = Instance {
            items: items.collect(),
            kinds: kinds.collect(),
            ..Instance::default()
        };
        let mut size_unit = 1;
        let unit = match by_length {
            Some(ByLength { length, .. }) => {
                Some(add_length(&mut instance, length).ok_or(NoProblem::CostsTooFine)?)
            }
            None => {
                size_unit = divide_sizes(&mut instance);
                None
            }
        };
        runs.add_to(&mut instance, &shapes, &windows);
        Ok(Problem {
            instance,
            shapes,
            windows: windows.into_iter().map(|ruled| ruled.window).collect(),
            runs: runs.kinds.iter().map(|kind| kind.named.clone()).collect(),
            unit,
            step: None,
            size_unit,
            costs,
        })
    }

    /// How the sizes of the instance are measured, where they stand for the lengths of all pieces.
    pub fn measures(&self, material: &Material) -> Measures {
        let cut = material.cut_width().nm();
        let bars = material.bars().iter().zip(&self.instance.kinds);
        let rest = bars.map(|(bar, kind)| bar.usable().nm() + cut - kind.capacity * self.size_unit);
        Measures {
            unit: self.size_unit,
            rest: rest.collect(),
            cut,
            largest_spare: LARGEST_SPARE.nm(),
            reserve: self.reserve(material),
        }
    }

    /// The item that stands for a whole bar, where nothing else has its shape.
    fn reserve(&self, material: &Material) -> Option<u32> {
        let shape = material.reserve_shape()?;
        let place = self.shapes.iter().position(|other| *other == shape)?;
        let item = place + self.windows.len();
        let is_only = self.instance.items.get(item)?.demand == 1;
        u32::try_from(item).ok().filter(|_| is_only)
    }

    /// Whether tables over all lengths would be too large to be exact.
    pub fn is_fine(&self) -> bool {
        let columns = self.instance.largest_capacity();
        let rows = i64::try_from(self.instance.items.len() + 1).ok();
        let cells = rows.and_then(|rows| columns.checked_mul(rows));
        cells.is_none_or(|cells| cells > MOST_EXACT_CELLS)
    }

    /// The shape that an item stands for.
    pub fn shape_of(&self, item: u32) -> Option<Shape> {
        let place = (item as usize).checked_sub(self.windows.len())?; // u32 into usize
        self.shapes.get(place).copied()
    }

    /// The least cost in whole sales that comes to this value or more; `None` where it is of another kind,
    /// or where the numbers are too large.
    pub fn least_cost_of(&self, value: Value) -> Option<i128> {
        let (scaled, unit) = self.scaled(value)?;
        self.in_whole_sales((scaled.checked_add(unit)? - 1).div_euclid(unit))
    }

    /// The least cost in whole sales that comes to more than this value.
    pub fn least_cost_above(&self, value: Value) -> Option<i128> {
        let (scaled, unit) = self.scaled(value)?;
        self.in_whole_sales(scaled.div_euclid(unit).checked_add(1)?)
    }

    fn in_whole_sales(&self, cost: i128) -> Option<i128> {
        let step = self.instance.cost_step();
        (cost.checked_add(step)? - 1)
            .div_euclid(step)
            .checked_mul(step)
    }

    /// A value, and one unit of cost, in the same whole numbers.
    fn scaled(&self, value: Value) -> Option<(i128, i128)> {
        let Costs {
            priced,
            factor,
            divisor,
            decimals,
        } = self.costs;
        let money = match value {
            Value::Money(money) if priced => money.decimal().normalize(),
            Value::Bought(length) if !priced => {
                let scaled = i128::from(length.nm()).checked_mul(divisor)?;
                return Some((scaled, factor));
            }
            _ => return None,
        };
        let power = |decimals| 10_i128.checked_pow(decimals);
        let scaled = money.mantissa().checked_mul(power(decimals)?)?;
        let unit = factor.checked_mul(power(money.scale())?)?;
        Some((scaled.checked_mul(divisor)?, unit))
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

/// The part of a run between two places; `None` where there is none, or where the piece is no run.
pub(crate) fn part_of(
    material: &Material,
    piece: &Piece,
    from: Length,
    to: Length,
) -> Option<Shape> {
    Parting::of(material, piece)?.part(from, to)
}

/// Some part of a run takes at least this much of a bar, however the runs are split as their rules
/// allow, and this is the run; `None` without runs, or where they cannot be split.
pub(crate) fn least_longest_part(material: &Material) -> Option<(Length, &Piece)> {
    let runs = Runs::of(material).ok()?;
    runs.least_longest_part()
}

/// The shapes of pieces without joints and of parts: what takes most of a bar first.
fn distinct_shapes(
    material: &Material,
    demand: &HashMap<Shape, u64>,
    runs: &Kinds<'_>,
) -> Vec<Shape> {
    let shapes = demand.keys().copied();
    let parts = runs.kinds.iter().flat_map(|kind| kind.splits.shapes());
    let shapes: HashSet<Shape> = shapes.chain(parts).collect();
    let mut shapes: Vec<(Length, Shape)> = shapes
        .into_iter()
        .map(|shape| (material.takes(shape), shape))
        .collect();
    shapes.sort_unstable_by(|a, b| b.cmp(a));
    shapes.into_iter().map(|(_, shape)| shape).collect()
}

/// How many pieces without joints there are of each shape.
fn whole_pieces(material: &Material) -> HashMap<Shape, u64> {
    let mut demand: HashMap<Shape, u64> = HashMap::new();
    for piece in material
        .pieces()
        .iter()
        .filter(|piece| piece.run().is_none())
    {
        *demand.entry(piece.wanted()).or_default() += piece.qty();
    }
    demand
}

/// Whether each piece without joints fits a bar that can be had, of its batch where it is bound to one.
fn check_lengths(material: &Material) -> Result<(), Impossible> {
    let mut longest: HashMap<Option<u32>, Option<(Length, Length)>> = HashMap::new();
    for piece in material.pieces() {
        let of_batch = || longest_bar(material, piece.batch());
        longest.entry(piece.batch()).or_insert_with(of_batch);
    }
    let longest = |piece: &Piece| longest.get(&piece.batch()).copied().flatten();
    let usable = |piece: &Piece| longest(piece).map_or(Length::ZERO, |(usable, _)| usable);
    let takes = |piece: &&Piece| material.takes(piece.shape());
    let too_long = || {
        let pieces = material.pieces().iter();
        pieces.filter(|piece| piece.run().is_none() && takes(piece) > usable(piece))
    };
    // The longest piece; the first row of it, if there are several.
    let Some(worst) = too_long().rev().max_by_key(takes) else {
        return Ok(());
    };
    Err(Impossible::PieceTooLong {
        mark: worst.copy_mark(0),
        length: worst.length(),
        takes: takes(&worst),
        longest: longest(worst),
        rows: too_long().map(Piece::row).dedup().count(),
    })
}

/// The longest bar that can be had: usable, and as a whole.
fn longest_bar(material: &Material, batch: Option<u32>) -> Option<(Length, Length)> {
    let bars = material.bars_to_be_had(batch);
    bars.map(|bar| (bar.usable(), bar.length())).max()
}

/// Whether limited bars have enough length in all.
fn check_total(material: &Material, runs: &Runs<'_>) -> Result<(), Impossible> {
    let cut = material.cut_width().nm();
    let mut available = 0_i128;
    for bar in material.bars() {
        let Some(bars) = bar.bars_available() else {
            return Ok(());
        };
        available += i128::from(bars) * i128::from(bar.usable().nm() + cut);
    }
    let each = |shape: Shape| i128::from(material.takes(shape).nm() + cut);
    let pieces = material
        .pieces()
        .iter()
        .filter(|piece| piece.run().is_none());
    let pieces = pieces.map(|piece| i128::from(piece.qty()) * each(piece.shape()));
    let needed: i128 = pieces.sum::<i128>() + runs.least_taken(&each);
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

/// Adds runs joined anywhere as one more item of size 1, of which their whole length is needed, and
/// gives the length of that size: what all sizes and capacities have in common. `None` without bars.
fn add_length(instance: &mut Instance, takes: i128) -> Option<Length> {
    let sizes = instance.items.iter().map(|item| item.size);
    let capacities = instance.kinds.iter().map(|kind| kind.capacity);
    let common = sizes.chain(capacities).map(i128::from).fold(0, gcd);
    let unit = i64::try_from(common).ok().filter(|&unit| unit > 0)?;
    for item in &mut instance.items {
        item.size /= unit;
    }
    for kind in &mut instance.kinds {
        kind.capacity /= unit;
    }
    let demand = (takes + common - 1) / common;
    instance.items.push(Item {
        size: 1,
        batch: None,
        // What asks for less proves no less than it says.
        demand: u32::try_from(demand).unwrap_or(u32::MAX),
    });
    Length::from_nm(unit)
}

/// Divides sizes by what they have in common, which is returned; capacities are rounded down, which loses
/// nothing.
fn divide_sizes(instance: &mut Instance) -> i64 {
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
    common
}

fn lcm(a: i128, b: i128) -> Option<i128> {
    (a / gcd(a, b).max(1)).checked_mul(b)
}
