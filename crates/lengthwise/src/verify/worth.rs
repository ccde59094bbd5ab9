//! What pieces and runs are worth at some prices, and what a bar holds of them: the two sides of every
//! proof, as [`Certificate`] defines them.
//!
//! A set of prices is one for each shape of the certificate, then one for each of its windows, then that
//! of a unit of length where runs joined anywhere are counted by length.

use std::cmp::Reverse;
use std::collections::{BTreeMap, HashMap};

use super::facts::{Facts, length, nm};
use super::knapsack::{Item, Query, best_values};
use super::refusal::Breach;
use super::runs::{Longest, RunOf, Splits};
use crate::job::{Piece, Run, Shape};
use crate::plan::{Anywhere, Certificate, Window};

/// Everything that is to be cut, in the order of a certificate's prices.
pub(super) struct Worth {
    shapes: Vec<Priced>,
    place_of: HashMap<Shape, usize>,
    runs: Vec<PricedRun>,
    /// For each window of the certificate: how many joints its rule allows.
    allowed: Vec<i128>,
    by_length: Option<ByLength>,
}

/// A shape.
struct Priced {
    /// What it takes of a bar, its cut included.
    size: i128,
    /// Pieces without joints.
    whole: u64,
    /// The most that bars can hold of it to any purpose.
    cap: u64,
}

/// Copies of a run that are priced alike.
struct PricedRun {
    splits: Splits,
    copies: u64,
    /// Group and number of the course that it lies in.
    course: Option<(usize, u64)>,
    /// The windows that a joint at each place uses up.
    windows: HashMap<i128, Vec<usize>>,
}

/// Runs joined anywhere, counted by length.
struct ByLength {
    unit: i128,
    /// Whole units that they take.
    units: i128,
}

impl Worth {
    /// Works out what is to be cut, and checks that the certificate prices it.
    pub fn of(facts: &Facts<'_>, certificate: &Certificate) -> Result<Worth, Breach> {
        let mut worth = Worth {
            shapes: Vec::new(),
            place_of: HashMap::new(),
            runs: Vec::new(),
            allowed: Vec::new(),
            by_length: None,
        };
        if certificate.prices.is_empty() && certificate.anywhere.is_none() {
            return Ok(worth); // nothing is claimed to be proven
        }
        if certificate.scale < 1 {
            return Err(Breach::CertificateScale {
                scale: certificate.scale,
            });
        }
        let mut whole: BTreeMap<Shape, u64> = BTreeMap::new();
        let mut add = |shape: Shape, count: u64| {
            let sum = whole.entry(shape).or_default();
            *sum = sum.checked_add(count).ok_or(Breach::TooLarge)?;
            Ok(())
        };
        let pieces = facts.material.pieces();
        for piece in pieces.iter().filter(|piece| piece.run().is_none()) {
            add(piece.shape(), piece.qty())?;
        }
        worth.add_runs(facts, certificate, &mut add)?;
        worth.add_windows(facts, certificate)?;
        worth.set_shapes(facts, certificate, &whole)
    }

    fn add_runs(
        &mut self,
        facts: &Facts<'_>,
        certificate: &Certificate,
        add: &mut dyn FnMut(Shape, u64) -> Result<(), Breach>,
    ) -> Result<(), Breach> {
        let reach = Longest::of(facts);
        let mut length_taken = 0_i128;
        for piece in facts.material.pieces() {
            let Some(mut run) = RunOf::new(piece) else {
                continue;
            };
            if let Some(inside) = run.places() {
                let splits = run.splits(facts, &inside, reach, None)?;
                let splits = splits.map_err(|_| no_split(piece))?;
                self.add_copies(piece, splits);
                continue;
            }
            let numbers = run.numbers(facts, reach)?.map_err(|_| no_split(piece))?;
            match certificate.anywhere {
                None => {} // worth nothing
                Some(Anywhere::Rounded { step }) => {
                    let apart = run.shortest() + nm(run.run.joint_gap());
                    if step.is_zero() || nm(step) > apart {
                        return Err(Breach::AnywhereStep { step });
                    }
                    run.step = nm(step);
                    let inside = run.rounded_places();
                    let splits = run.splits(facts, &inside, reach, Some(numbers.most))?;
                    let splits = splits.map_err(|_| no_split(piece))?;
                    self.add_copies(piece, splits);
                }
                Some(Anywhere::ByLength { .. }) if numbers.fewest == numbers.most => {
                    let rest = least_parts(facts, run, numbers.most, reach, piece.qty(), add)?;
                    length_taken = rest
                        .checked_mul(i128::from(piece.qty()))
                        .and_then(|rest| length_taken.checked_add(rest))
                        .ok_or(Breach::TooLarge)?;
                }
                Some(Anywhere::ByLength { .. }) => {
                    let takes = run.takes(facts, numbers, reach)?;
                    length_taken = takes
                        .checked_mul(i128::from(piece.qty()))
                        .and_then(|takes| length_taken.checked_add(takes))
                        .ok_or(Breach::TooLarge)?;
                }
            }
        }
        if let Some(Anywhere::ByLength { unit, .. }) = certificate.anywhere {
            let units = nm(unit);
            if units <= 0 {
                return Err(Breach::AnywhereUnit { unit });
            }
            self.by_length = Some(ByLength {
                unit: units,
                units: (length_taken + units - 1) / units,
            });
        }
        Ok(())
    }

    /// All copies together, or each by itself where they lie in courses.
    fn add_copies(&mut self, piece: &Piece, splits: Splits) {
        let run = |splits: Splits, copies: u64, course: Option<(usize, u64)>| PricedRun {
            splits,
            copies,
            course,
            windows: HashMap::new(),
        };
        match piece.run().and_then(Run::course) {
            None => self.runs.push(run(splits, piece.qty(), None)),
            Some(course) => self.runs.extend((0..piece.qty()).map(|copy| {
                let at = (course.group(), course.first().saturating_add(copy));
                run(splits.clone(), 1, Some(at))
            })),
        }
    }

    fn set_shapes(
        mut self,
        facts: &Facts<'_>,
        certificate: &Certificate,
        whole: &BTreeMap<Shape, u64>,
    ) -> Result<Worth, Breach> {
        // By what they take of a bar, then by shape, both from the largest on.
        let mut known: BTreeMap<Reverse<(i128, Shape)>, ()> = BTreeMap::new();
        let of_runs = self.runs.iter().flat_map(|run| run.splits.shapes());
        for shape in whole.keys().copied().chain(of_runs) {
            let takes = nm(shape.length) + facts.mitred(shape.ends)?.all;
            known.insert(Reverse((takes, shape)), ());
        }
        let shapes = certificate.prices.iter().map(|(shape, _)| *shape);
        if !shapes.eq(known.keys().map(|Reverse((_, shape))| *shape)) {
            return Err(Breach::CertificateLengths);
        }
        for (place, Reverse((takes, shape))) in known.keys().enumerate() {
            let whole = whole.get(shape).copied().unwrap_or(0);
            self.place_of.insert(*shape, place);
            self.shapes.push(Priced {
                size: takes + facts.cut(),
                whole,
                cap: whole,
            });
        }
        for run in &self.runs {
            let mut distinct: Vec<Shape> = run.splits.shapes().collect();
            distinct.sort_unstable();
            distinct.dedup();
            for &shape in &distinct {
                let most = run.splits.most_of(shape, distinct.len());
                let place = self.place_of.get(&shape).copied();
                let Some(priced) = place.and_then(|place| self.shapes.get_mut(place)) else {
                    continue;
                };
                priced.cap = priced.cap.saturating_add(most.saturating_mul(run.copies));
            }
        }
        self.check_prices(facts, certificate)?;
        Ok(self)
    }

    fn check_prices(&self, facts: &Facts<'_>, certificate: &Certificate) -> Result<(), Breach> {
        for &(shape, price) in &certificate.prices {
            if price < 0 {
                let length = shape.length;
                return Err(Breach::CertificatePrice { length, price });
            }
        }
        let windows = certificate.windows.iter().map(|(_, price)| *price);
        let unit = match certificate.anywhere {
            Some(Anywhere::ByLength { price, .. }) => Some(price),
            _ => None,
        };
        if let Some(price) = windows.chain(unit).find(|&price| price < 0) {
            return Err(Breach::CertificateOtherPrice { price });
        }
        let Some(by_length) = &self.by_length else {
            return Ok(());
        };
        let sizes = self.shapes.iter().map(|priced| priced.size);
        let bars = facts.kinds.iter().map(|kind| kind.usable() + facts.cut());
        if sizes.chain(bars).any(|size| size % by_length.unit != 0) {
            return Err(Breach::AnywhereUnit {
                unit: length(by_length.unit)?,
            });
        }
        Ok(())
    }

    /// The windows of the certificate, and which joints use them up.
    fn add_windows(&mut self, facts: &Facts<'_>, certificate: &Certificate) -> Result<(), Breach> {
        let courses = courses(facts);
        let mut of_course: HashMap<(usize, u64), Vec<(i128, usize)>> = HashMap::new();
        let mut known: Vec<Window> = Vec::new();
        for (place, (window, _)) in certificate.windows.iter().enumerate() {
            let refused = || Breach::NoSuchWindow { window: *window };
            let group = facts.material.course_groups().get(window.group);
            let rule = group.ok_or_else(refused)?.rule();
            let in_group = courses.iter().filter(|(group, _)| *group == window.group);
            let from: Vec<u64> = in_group
                .map(|&(_, course)| course)
                .skip_while(|&course| course != window.first)
                .take(rule.courses as usize) // u32 into usize
                .collect();
            if from.is_empty() || known.contains(window) {
                return Err(refused());
            }
            known.push(*window);
            self.allowed.push(i128::from(rule.joints));
            for course in from {
                let of_course = of_course.entry((window.group, course)).or_default();
                of_course.push((nm(window.place), place));
            }
        }
        for run in &mut self.runs {
            let of_course = run.course.and_then(|course| of_course.get(&course));
            for &(place, window) in of_course.into_iter().flatten() {
                run.windows.entry(place).or_default().push(window);
            }
        }
        Ok(())
    }

    /// Whether there is nothing to price.
    pub fn is_nothing(&self) -> bool {
        self.shapes.is_empty() && self.by_length.is_none()
    }

    fn price_of_unit(&self, prices: &[i64]) -> i128 {
        let unit = prices.get(self.shapes.len() + self.allowed.len());
        self.by_length
            .as_ref()
            .map_or(0, |_| unit.copied().map_or(0, i128::from))
    }

    /// What everything that is to be cut is worth; `None` beyond 128 bits.
    pub fn total(&self, prices: &[i64]) -> Option<i128> {
        let price = |place: usize| prices.get(place).copied().map_or(0, i128::from);
        let mut sum = 0_i128;
        for (place, shape) in self.shapes.iter().enumerate() {
            let all = price(place).checked_mul(i128::from(shape.whole))?;
            sum = sum.checked_add(all)?;
        }
        let window = |place: usize| price(self.shapes.len() + place);
        for run in &self.runs {
            let of_shape =
                |shape: Shape| self.place_of.get(&shape).map_or(0, |&place| price(place));
            let at_joint = |place: i128| {
                let windows = run.windows.get(&place).into_iter().flatten();
                windows.map(|&place| window(place)).sum()
            };
            let least = run.splits.least(of_shape, at_joint)?;
            sum = sum.checked_add(least.checked_mul(i128::from(run.copies))?)?;
        }
        for (place, &allowed) in self.allowed.iter().enumerate() {
            sum = sum.checked_sub(window(place).checked_mul(allowed)?)?;
        }
        let units = self
            .by_length
            .as_ref()
            .map_or(0, |by_length| by_length.units);
        sum.checked_add(self.price_of_unit(prices).checked_mul(units)?)
    }

    /// For each kind of bar the larger of its floor and the most that it holds; `None` where that would
    /// take too much work.
    pub fn held(&self, facts: &Facts<'_>, prices: &[i64], floors: &[u128]) -> Option<Vec<u128>> {
        let unit = self
            .by_length
            .as_ref()
            .map_or(1, |by_length| by_length.unit);
        let per_unit = self.price_of_unit(prices);
        let items: Option<Vec<Item>> = self
            .shapes
            .iter()
            .zip(prices)
            .map(|(shape, &price)| {
                // What it is worth beyond the length that it takes.
                let by_length = per_unit.checked_mul(shape.size / unit)?;
                let beyond = (i128::from(price) - by_length).max(0);
                Some(Item {
                    size: shape.size,
                    price: u64::try_from(beyond).ok()?,
                    demand: shape.cap,
                })
            })
            .collect();
        let capacity = |kind: &super::facts::Kind| (kind.usable() + facts.cut()).max(0);
        let by_length: Option<Vec<u128>> = facts
            .kinds
            .iter()
            .map(|kind| u128::try_from(per_unit.checked_mul(capacity(kind) / unit)?).ok())
            .collect();
        let by_length = by_length?;
        let kinds = facts.kinds.iter().zip(floors.iter().zip(&by_length));
        let queries: Vec<Query> = kinds
            .map(|(kind, (floor, by_length))| Query {
                capacity: capacity(kind),
                floor: floor.saturating_sub(*by_length),
            })
            .collect();
        let best = best_values(&items?, &queries)?;
        let sums = best.iter().zip(&by_length);
        sums.map(|(best, by_length)| best.checked_add(*by_length))
            .collect()
    }
}

/// With the one number of joints that is allowed, what every part is at least counts as pieces; what is
/// left counts by its length.
fn least_parts(
    facts: &Facts<'_>,
    run: RunOf<'_>,
    joints: u64,
    reach: Longest,
    copies: u64,
    add: &mut dyn FnMut(Shape, u64) -> Result<(), Breach>,
) -> Result<i128, Breach> {
    let total = run.total(joints);
    if joints == 0 {
        let length = length(total)?;
        let ends = run.piece.ends();
        add(Shape { length, ends }, copies)?;
        return Ok(0);
    }
    let (first, last) = run.mitred(facts, joints)?;
    let all = (i128::from(joints) + 1) * reach.any - first - last;
    let mut rest = total;
    for (mitred, count, ends) in [
        (first, 1, run.ends(true, false)),
        (0, joints - 1, run.ends(false, false)),
        (last, 1, run.ends(false, true)),
    ] {
        if count == 0 {
            continue;
        }
        let others = all - (reach.any - mitred);
        let least = (total - others).max(run.shortest());
        let length = length(least)?;
        let pieces = copies.checked_mul(count).ok_or(Breach::TooLarge)?;
        add(Shape { length, ends }, pieces)?;
        rest -= least * i128::from(count);
    }
    Ok(rest.max(0))
}

fn no_split(piece: &Piece) -> Breach {
    Breach::NoSplitAfterAll {
        mark: piece.copy_mark(0),
    }
}

/// The courses of all groups, by group and number.
pub(super) fn courses(facts: &Facts<'_>) -> Vec<(usize, u64)> {
    let pieces = facts.material.pieces().iter();
    let in_course = pieces.filter_map(|piece| Some((piece.run()?.course()?, piece.qty())));
    let mut courses: Vec<(usize, u64)> = in_course
        .flat_map(|(course, copies)| {
            (0..copies).map(move |copy| (course.group(), course.first().saturating_add(copy)))
        })
        .collect();
    courses.sort_unstable();
    courses
}
