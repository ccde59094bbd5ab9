//! The bound that the prices of a certificate prove before it is rounded up, read from the definition of
//! [`Certificate`]. No code of the library but for what a mitred end takes.

use lengthwise::job::{Angle, Ends, Material, Piece, Shape, Supply};
use lengthwise::plan::{Certificate, Value, Window};

use crate::answer::units;
use crate::run_oracle::{Split, splits};
use crate::small_runs::RunJob;

/// What the prices of a plan say about so many times the job.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Root {
    /// The bound over a divisor that is above zero, in units of cost.
    over: i128,
    divisor: i128,
    /// One [unit](crate::answer::units) of value is `counted / unit` units of cost.
    counted: i128,
    unit: i128,
    /// Whether the prices hold as they are for so many times the job. They do not where a bar without
    /// limit holds more of them than it costs, once there are more copies to put on it.
    pub is_whole: bool,
}

impl Root {
    /// The root bound of `times` the job, never rounded, of a material without price breaks: `None` where runs
    /// are joined anywhere, where the certificate has no prices of its own, or where nothing costs anything.
    /// `runs` is the job that the material was made of, where it has runs; courses stand on as many walls.
    ///
    /// On a bar of kind `s` the pieces of `times` the job are worth `V_s` at most. Where that is above
    /// `scale c_s` on a kind without limit, all prices are lowered by what the worst of these has too
    /// much, so that they prove something still.
    ///
    /// # Panics
    /// Where a sum leaves 128 bits.
    pub fn of(
        material: &Material,
        certificate: &Certificate,
        runs: Option<&RunJob>,
        times: u64,
    ) -> Option<Root> {
        let has_runs = material.pieces().iter().any(|piece| piece.run().is_some());
        let is_plain = certificate.combinations.is_empty() && certificate.anywhere.is_none();
        if has_runs != runs.is_some() || !is_plain || certificate.prices.is_empty() {
            return None;
        }
        let (costs, counted, unit) = costs(material)?;
        let scale = i128::from(certificate.scale);
        let times = i128::from(times);
        let mut items = items(material, certificate);
        let mut worth: i128 = items.iter().map(|item| item.price * item.count).sum();
        if let Some(job) = runs {
            worth += worth_of_runs(job, certificate, &mut items)?;
        }
        for item in &mut items {
            item.count *= times;
        }
        let best = |bar: usize| best(material, bar, &items);
        let best: Vec<i128> = (0..costs.len()).map(best).collect::<Option<_>>()?;
        let bars = || material.bars().iter().zip(best.iter().zip(&costs));
        // The prices times `numerator / denominator` fit every bar without limit.
        let (mut numerator, mut denominator) = (1, 1);
        for (bar, (best, cost)) in bars() {
            let limit = scale * cost;
            if bar.bars_available().is_none() && best * numerator > limit * denominator {
                (numerator, denominator) = (limit, *best);
            }
        }
        let mut over = worth * times * numerator;
        for (bar, (best, cost)) in bars() {
            let excess = (best * numerator - scale * cost * denominator).max(0);
            // There is no excess where there is no limit.
            over -= excess * times * i128::from(bar.bars_available().unwrap_or(0));
        }
        Some(Root {
            over,
            divisor: scale * denominator,
            counted,
            unit,
            is_whole: numerator == denominator,
        })
    }

    /// Whether a value, as a count of [`units`], is at least this; values of plans and
    /// bounds are whole units of cost.
    pub fn is_at_most(&self, value: i128) -> bool {
        let cost = value.checked_mul(self.counted).map(|cost| cost / self.unit);
        cost.is_none_or(|cost| cost * self.divisor >= self.over)
    }
}

/// What one bar of each kind costs in units of cost, and the two sides of one unit of value; `None` where
/// nothing costs anything.
fn costs(material: &Material) -> Option<(Vec<i128>, i128, i128)> {
    let bars = || material.bars().iter();
    let per_sale = |bar: &lengthwise::job::Bar| i128::from(bar.bars_per_sale());
    let multiple = bars()
        .map(per_sale)
        .fold(1, |all, one| all / gcd(all, one) * one);
    let sale = |bar: &lengthwise::job::Bar| match bar.supply() {
        Supply::InHand { .. } if !material.is_priced() => Some(0),
        _ if material.is_priced() => bar.sale_price().map(|price| units(Value::Money(price))),
        _ => Some(i128::from(bar.length().nm()) * per_sale(bar)),
    };
    let raw: Vec<i128> = bars()
        .map(|bar| Some(sale(bar)? * multiple / per_sale(bar)))
        .collect::<Option<_>>()?;
    let unit = raw.iter().copied().fold(0, gcd);
    let costs = raw.iter().map(|cost| cost / unit.max(1)).collect();
    (unit > 0).then_some((costs, multiple, unit))
}

/// A shape that is needed: how often it may lie on one bar, what it takes with its cut, and its price.
struct Priced {
    shape: Shape,
    size: i64,
    count: i128,
    price: i128,
}

/// The shapes of a certificate, and how often each is needed as a piece.
fn items(material: &Material, certificate: &Certificate) -> Vec<Priced> {
    let prices = certificate.prices.iter();
    prices
        .map(|&(shape, price)| {
            let is_it = |piece: &&Piece| piece.run().is_none() && piece.wanted() == shape;
            let wanted = material.pieces().iter().filter(is_it);
            let count: u64 = wanted.map(Piece::qty).sum();
            let along = material.mitre_allowance(shape.ends);
            Priced {
                shape,
                size: shape.length.nm() + along.nm() + material.cut_width().nm(),
                count: i128::from(count),
                price: i128::from(price),
            }
        })
        .collect()
}

/// What all runs are worth, less what the rule of their courses allows; of every part, the most in one split
/// of each copy is added to what may lie on a bar. `None` where a run has no split.
fn worth_of_runs(job: &RunJob, certificate: &Certificate, items: &mut [Priced]) -> Option<i128> {
    let (most, together) = job.rule;
    let mut courses: Vec<u64> = job
        .runs
        .iter()
        .filter_map(|run| Some((run.course?, run.qty)))
        .flat_map(|(first, qty)| first..first + qty)
        .collect();
    courses.sort_unstable();
    let window_at = |course: u64, place: i64| {
        let holds = |window: &Window| {
            let from = courses.iter().position(|&other| other == window.first);
            let of_it = courses.iter().skip(from.unwrap_or(courses.len()));
            let mut of_it = of_it.take(together as usize); // a small number
            window.place.nm() == place && of_it.any(|&other| other == course)
        };
        let of_it = certificate
            .windows
            .iter()
            .filter(move |(window, _)| holds(window));
        of_it.map(|&(_, price)| i128::from(price)).sum::<i128>()
    };
    let mut worth = 0;
    for (run, splits) in job.runs.iter().zip(splits(job)) {
        // Of each split, which items its parts are, and what they are worth.
        let parts = |split: &Split| -> Option<Vec<usize>> {
            let last = split.parts.len() - 1;
            let shapes = split.parts.iter().enumerate();
            shapes
                .map(|(at, &length)| {
                    let near = if at == 0 { run.ends.0 } else { 90 };
                    let far = if at == last { run.ends.1 } else { 90 };
                    let ends = Ends {
                        near: Angle::from_hundredths(100 * near)?,
                        far: Angle::from_hundredths(100 * far)?,
                    };
                    let is_it =
                        |item: &Priced| item.shape.length.nm() == length && item.shape.ends == ends;
                    items.iter().position(is_it)
                })
                .collect()
        };
        let parted: Vec<(&Split, Vec<usize>)> = splits
            .iter()
            .map(|split| Some((split, parts(split)?)))
            .collect::<Option<_>>()?;
        let least = |course: Option<u64>| {
            let worth = parted.iter().map(|(split, parts)| {
                let priced: i128 = parts.iter().map(|&part| items[part].price).sum();
                let joints = split.joints.iter();
                let ruled = |place: &i64| course.map_or(0, |course| window_at(course, *place));
                priced + joints.map(ruled).sum::<i128>()
            });
            worth.min()
        };
        worth += i128::from(run.spare) * least(None)?;
        for copy in 0..run.qty {
            worth += least(run.course.map(|first| first + copy))?;
        }
        let copies = i128::from(run.qty + run.spare);
        let counts: Vec<i128> = (0..items.len())
            .map(|item| {
                let in_split = |(_, parts): &(&Split, Vec<usize>)| {
                    parts.iter().filter(|&&part| part == item).count() as i128 // small
                };
                parted.iter().map(in_split).max().unwrap_or(0)
            })
            .collect();
        for (item, count) in items.iter_mut().zip(counts) {
            item.count += count * copies;
        }
    }
    let allowed = certificate
        .windows
        .iter()
        .map(|&(_, price)| i128::from(price));
    Some(worth - i128::from(most) * allowed.sum::<i128>())
}

/// Above so many cells the table of a bar takes too long.
const MOST_CELLS: i128 = 200_000;

/// The most that pieces on one bar of a kind are worth: a table over all lengths, piece by piece; `None` where
/// lengths are too fine for that.
fn best(material: &Material, bar: usize, items: &[Priced]) -> Option<i128> {
    let bar = &material.bars()[bar];
    let common = items
        .iter()
        .map(|item| i128::from(item.size))
        .fold(0, gcd)
        .max(1);
    let capacity = i128::from(bar.usable().nm() + material.cut_width().nm()) / common;
    let capacity = Some(capacity).filter(|&cells| cells <= MOST_CELLS)?;
    let capacity = usize::try_from(capacity).expect("not below zero");
    let mut table = vec![0_i128; capacity + 1];
    let may_lie = |item: &&Priced| item.shape.batch.is_none_or(|batch| batch == bar.batch());
    for item in items.iter().filter(may_lie) {
        let size = usize::try_from(i128::from(item.size) / common).expect("not below zero");
        let fit = i128::try_from(capacity / size.max(1)).expect("a small count");
        let mut left = item.count.min(fit);
        // Lots of 1, 2, 4, ... copies, so that every count is a sum of lots.
        let mut lot = 1;
        while left > 0 {
            let copies = lot.min(left);
            left -= copies;
            lot *= 2;
            let takes = size * usize::try_from(copies).expect("a small count");
            for end in (takes..=capacity).rev() {
                table[end] = table[end].max(table[end - takes] + item.price * copies);
            }
        }
    }
    table.last().copied()
}

fn gcd(a: i128, b: i128) -> i128 {
    if b == 0 { a.abs() } else { gcd(b, a % b) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::answer::answer;
    use crate::rows::{Rows, mm};

    /// Of pieces cut from bars of 3000 mm, without blade and prices, in bars.
    fn root(pieces: &[(u64, u64)], times: u64) -> (bool, impl Fn(i128) -> bool) {
        let rows = Rows::with_kerf(mm(0).length).stock(mm(3000), None);
        let piece = |rows: Rows, &(length, qty): &(u64, u64)| rows.piece(mm(length), qty);
        let job = pieces.iter().fold(rows, piece).job();
        let answer = answer(&job);
        let certificate = &answer.cutting().certificate;
        let root = Root::of(&job.materials()[0], certificate, None, times);
        let root = root.expect("a root bound");
        (root.is_whole, move |bars: i128| {
            root.is_at_most(bars * 3_000_000_000)
        })
    }

    /// Two to a bar: seven take three bars and a half, and so fourteen take seven and no more.
    #[test]
    fn the_root_bound_is_not_rounded() {
        let (is_whole, is_at_most) = root(&[(1001, 7)], 1);
        assert!(is_whole && is_at_most(4) && !is_at_most(3));
        let (is_whole, is_at_most) = root(&[(1001, 7)], 2);
        assert!(is_whole && is_at_most(7) && !is_at_most(6));
    }

    /// No two of them go on a bar, so that each is worth one. Of twice as many two of 1400 do, so that all
    /// are worth half as much.
    #[test]
    fn prices_that_are_worth_more_than_a_bar_are_lowered() {
        let pieces = [(1650, 2), (1400, 1)];
        let (is_whole, is_at_most) = root(&pieces, 1);
        assert!(is_whole && is_at_most(3) && !is_at_most(2));
        let (is_whole, is_at_most) = root(&pieces, 2);
        assert!(!is_whole && is_at_most(3) && !is_at_most(2));
    }
}
