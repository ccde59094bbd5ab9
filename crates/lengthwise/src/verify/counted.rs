//! What a certificate counts: kinds of piece and of part, runs by their cheapest splits, windows of
//! courses, and runs joined anywhere by their length. Any prices for these can be worked out.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet, HashMap};

use super::bound::queries;
use super::facts::{Facts, length, nm};
use super::joined::{courses, laid};
use super::knapsack::{Item, Query, best_values};
use super::refusal::{Breach, RunBreach};
use super::runs::{Alike, Splits, least_taken};
use super::work::Work;
use crate::job::{CourseRule, Joints, Material, Shape};
use crate::length::Length;
use crate::plan::{Anywhere, Certificate, Window};

/// Steps on shortest paths for one set of prices beyond which a bound is left unchecked: seconds.
const MOST_STEPS: u64 = 500_000_000;
/// Steps that are taken to find the most of every part in one split.
const MOST_STEPS_COUNTING: u64 = 200_000_000;
/// Steps for each place for joints, also of each course.
const STEPS_OF_PLACE: u64 = 40;
/// Steps for each row of pieces, each course and each joint of those laid.
const STEPS_OF_ROW: u64 = 60;
/// Steps to find whether something is of a batch.
const STEPS_OF_CHOICE: u64 = 5;

/// Everything that has a price.
pub(super) struct Counted {
    /// By what they take of a bar, from the largest on: how many of each shape one bar may hold.
    items: Vec<Item>,
    /// The only batch of bars that each may lie on, where there is one.
    batches: Vec<Option<u32>>,
    /// Pieces of each shape that are asked for by themselves.
    asked: Vec<u64>,
    runs: Vec<CountedRun>,
    /// The joints allowed in each window.
    windows: Vec<i128>,
    length: Option<Units>,
    /// The prices of the certificate: of shapes, of windows, of a unit.
    pub prices: Vec<i64>,
}

/// What runs joined anywhere take at the least.
#[derive(Clone, Copy)]
struct Units {
    unit: i128,
    count: u64,
}

/// Runs with the same splits.
struct CountedRun {
    splits: Splits,
    /// The shape of each edge by its place among the items.
    items: Vec<usize>,
    /// Copies by the windows that a joint at a place counts in: `(place, window)`.
    copies: BTreeMap<Vec<(usize, usize)>, u64>,
}

/// `Ok(None)` where there are too many splits.
type InReach<T> = Result<Option<T>, Breach>;

impl Counted {
    /// Nothing has a price.
    fn nothing() -> Counted {
        Counted {
            items: vec![],
            batches: vec![],
            asked: vec![],
            runs: vec![],
            windows: vec![],
            length: None,
            prices: vec![],
        }
    }

    pub fn is_nothing(&self) -> bool {
        self.prices.is_empty()
    }

    /// Reads a certificate and checks that it is one of this job.
    pub fn of(facts: &Facts<'_>, certificate: &Certificate) -> InReach<Counted> {
        if take_reading(facts).is_none() {
            return Ok(None);
        }
        let by_length = matches!(certificate.anywhere, Some(Anywhere::ByLength { .. }));
        if certificate.prices.is_empty() && certificate.windows.is_empty() && !by_length {
            return Ok(Some(Counted::nothing()));
        }
        if certificate.scale < 1 {
            return Err(Breach::CertificateScale {
                scale: certificate.scale,
            });
        }
        let pieces = facts.material.pieces();
        let Some((runs, least)) = splits(facts, certificate)? else {
            return Ok(None);
        };
        let mut demand: BTreeMap<Shape, u64> = BTreeMap::new();
        let whole = pieces.iter().filter(|piece| piece.run().is_none());
        let whole = whole.map(|piece| (piece.wanted(), piece.qty()));
        for (shape, count) in whole.chain(least.parts) {
            let sum = demand.entry(shape).or_default();
            *sum = sum.checked_add(count).ok_or(Breach::TooLarge)?;
        }
        for shape in runs.iter().flat_map(|(_, splits)| splits.shapes()) {
            demand.entry(shape).or_default();
        }
        let mut counted = Counted::over(facts, certificate, demand)?;
        counted.add_windows(facts, certificate)?;
        if counted.add_runs(facts, certificate, runs)?.is_none() {
            return Ok(None);
        }
        counted.add_length(facts, certificate, least.length)?;
        Ok(Some(counted))
    }

    /// The shapes with the prices of the certificate, which must name them in their order.
    fn over(
        facts: &Facts<'_>,
        certificate: &Certificate,
        demand: BTreeMap<Shape, u64>,
    ) -> Result<Counted, Breach> {
        let takes = demand.into_iter().map(|(shape, demand)| {
            let takes = facts.takes(shape)?;
            Ok((Reverse((takes, shape)), demand))
        });
        let in_order: BTreeMap<_, _> = takes.collect::<Result<_, Breach>>()?;
        let shapes = certificate.prices.iter().map(|(shape, _)| *shape);
        if !shapes.eq(in_order.keys().map(|Reverse((_, shape))| *shape)) {
            return Err(Breach::CertificateLengths);
        }
        let both = certificate.prices.iter().zip(&in_order);
        let items = both.map(|(&(shape, price), (&Reverse((takes, _)), &demand))| {
            let length = shape.length;
            Ok(Item {
                size: takes + facts.cut(),
                price: u64::try_from(price)
                    .map_err(|_| Breach::CertificatePrice { length, price })?,
                demand,
            })
        });
        Ok(Counted {
            items: items.collect::<Result<_, Breach>>()?,
            batches: in_order
                .keys()
                .map(|Reverse((_, shape))| shape.batch)
                .collect(),
            asked: in_order.into_values().collect(),
            prices: certificate.prices.iter().map(|&(_, price)| price).collect(),
            ..Counted::nothing()
        })
    }

    fn add_windows(&mut self, facts: &Facts<'_>, certificate: &Certificate) -> Result<(), Breach> {
        let courses = courses(facts.material);
        let laid = laid_joints(facts.material);
        let mut known = std::collections::HashSet::new();
        for (place, &(window, price)) in certificate.windows.iter().enumerate() {
            let group = facts.material.course_groups().get(window.group);
            let begins = courses.get(&window.group).and_then(|courses| {
                let found = courses.binary_search(&window.first);
                found.ok()
            });
            let Some(rule) = group.filter(|_| begins.is_some()).map(|group| group.rule()) else {
                return Err(RunBreach::Window { place }.into());
            };
            if !known.insert(window) {
                return Err(RunBreach::Window { place }.into());
            }
            if price < 0 {
                return Err(RunBreach::WindowPrice { place, price }.into());
            }
            self.windows
                .push(joints_left(&laid, window, rule, &courses));
            self.prices.push(price);
        }
        Ok(())
    }

    fn add_runs(
        &mut self,
        facts: &Facts<'_>,
        certificate: &Certificate,
        runs: Vec<(&Alike<'_>, Splits)>,
    ) -> InReach<()> {
        let item_of: HashMap<Shape, usize> = certificate
            .prices
            .iter()
            .enumerate()
            .map(|(place, &(shape, _))| (shape, place))
            .collect();
        let windows = Windows::of(facts, certificate);
        for (alike, splits) in runs {
            let items = splits.edges.iter();
            let items = items.map(|edge| item_of.get(&edge.shape).copied());
            let items: Vec<usize> = items
                .collect::<Option<_>>()
                .ok_or(Breach::CertificateLengths)?;
            for (item, most) in most_of_each(&splits, &items, &facts.work) {
                if let Some(item) = self.items.get_mut(item) {
                    let more = most.checked_mul(alike.copies());
                    let sum = more.and_then(|more| item.demand.checked_add(more));
                    item.demand = sum.ok_or(Breach::TooLarge)?;
                }
            }
            let Some(copies) = copies_by_windows(alike, &splits, &windows, &facts.work) else {
                return Ok(None);
            };
            self.runs.push(CountedRun {
                splits,
                items,
                copies,
            });
        }
        Ok(Some(()))
    }

    fn add_length(
        &mut self,
        facts: &Facts<'_>,
        certificate: &Certificate,
        taken: i128,
    ) -> Result<(), Breach> {
        let Some(Anywhere::ByLength { unit, price }) = certificate.anywhere else {
            return Ok(());
        };
        if price < 0 {
            return Err(RunBreach::UnitPrice { price }.into());
        }
        let sizes = self.items.iter().map(|item| item.size);
        let capacities = facts.kinds.iter().map(|kind| kind.usable() + facts.cut());
        let mut all = sizes.chain(capacities);
        let divides = |size: &i128| size.checked_rem(nm(unit)) == Some(0);
        if let Some(takes) = all.find(|size| !divides(size)) {
            let takes = length(takes)?;
            return Err(RunBreach::Unit { unit, takes }.into());
        }
        let unit = nm(unit); // above zero, since something was divided by it
        let count = (taken + unit - 1).checked_div(unit);
        let count = count.and_then(|count| u64::try_from(count).ok());
        self.length = Some(Units {
            unit,
            count: count.ok_or(Breach::TooLarge)?,
        });
        self.prices.push(price);
        Ok(())
    }

    /// No plan needs more bars than this: each of them holds something that is counted, and nothing is counted
    /// more often than any plan may need it.
    pub fn pieces(&self) -> u64 {
        let items = self.items.iter().map(|item| item.demand);
        let units = self.length.iter().map(|units| units.count);
        items.chain(units).fold(0, u64::saturating_add)
    }

    /// What everything is worth at these prices; `None` beyond 128 bits, or in too many steps.
    pub fn worth(&self, prices: &[i64], work: &Work) -> Option<i128> {
        let (shapes, windows, unit) = self.sorted(prices)?;
        let mut worth = 0_i128;
        for (&price, &asked) in shapes.iter().zip(&self.asked) {
            let all = i128::from(price).checked_mul(i128::from(asked))?;
            worth = worth.checked_add(all)?;
        }
        let steps = self.runs.iter().map(CountedRun::steps);
        if steps.fold(0, u64::saturating_add) > MOST_STEPS {
            return None;
        }
        for run in &self.runs {
            run.splits.take(run.copies.len(), work)?;
            worth = worth.checked_add(run.worth(shapes, windows)?)?;
        }
        for (&price, joints) in windows.iter().zip(&self.windows) {
            worth = worth.checked_sub(i128::from(price).checked_mul(*joints)?)?;
        }
        let units = self.length.map_or(0, |units| i128::from(units.count));
        worth.checked_add(i128::from(unit).checked_mul(units)?)
    }

    /// The most that a bar of each kind holds at these prices, or its floor.
    pub fn best(&self, facts: &Facts<'_>, prices: &[i64], floors: &[u128]) -> Option<Vec<u128>> {
        let (shapes, _, unit) = self.sorted(prices)?;
        let priced = self.items.iter().zip(shapes).map(|(item, &price)| {
            let price = u64::try_from(price).ok()?;
            Some(Item { price, ..*item })
        });
        let items: Vec<Item> = priced.collect::<Option<_>>()?;
        let queries = queries(facts, floors);
        let mut best = floors.to_vec();
        let batches: BTreeSet<u32> = facts.kinds.iter().map(|kind| kind.batch).collect();
        let each = items.len() + facts.kinds.len();
        facts
            .work
            .take_times(batches.len().checked_mul(each)?, STEPS_OF_CHOICE)?;
        for batch in batches {
            let may_lie = |only: &Option<u32>| only.is_none_or(|only| only == batch);
            let both = items.iter().zip(&self.batches);
            let items = both
                .filter(|(_, only)| may_lie(only))
                .map(|(item, _)| *item);
            let of_batch = || {
                let kinds = facts.kinds.iter().enumerate();
                kinds
                    .filter(|(_, kind)| kind.batch == batch)
                    .map(|(place, _)| place)
            };
            let asked: Vec<Query> = of_batch()
                .filter_map(|at| queries.get(at).copied())
                .collect();
            let found = match self.length.filter(|_| unit > 0) {
                Some(units) => {
                    let price = u64::try_from(unit).ok()?;
                    units.best(items.collect(), &asked, price, &facts.work)
                }
                None => best_values(&items.collect::<Vec<_>>(), &asked, &facts.work),
            }?;
            for (place, found) in of_batch().zip(found) {
                *best.get_mut(place)? = found;
            }
        }
        Some(best)
    }

    /// Prices of shapes, of windows, of a unit.
    fn sorted<'p>(&self, prices: &'p [i64]) -> Option<(&'p [i64], &'p [i64], i64)> {
        let (shapes, rest) = prices.split_at_checked(self.items.len())?;
        let (windows, unit) = rest.split_at_checked(self.windows.len())?;
        Some((shapes, windows, unit.first().copied().unwrap_or(0)))
    }
}

/// Takes the work of going through all that a material asks for and all its courses.
fn take_reading(facts: &Facts<'_>) -> Option<()> {
    let pieces = facts.material.pieces();
    facts.work.take_times(pieces.len(), STEPS_OF_ROW)?;
    let courses = pieces
        .iter()
        .filter(|piece| piece.run().is_some_and(|run| run.course().is_some()));
    let courses = courses
        .map(|piece| piece.qty())
        .fold(0, u64::saturating_add);
    facts.work.take(courses.saturating_mul(STEPS_OF_ROW))?;
    let groups = 0..facts.material.course_groups().len();
    let laid = groups.flat_map(|group| laid(facts.material, group));
    let joints = laid.map(|laid| laid.joints.len().saturating_add(1));
    facts
        .work
        .take_times(joints.fold(0, usize::saturating_add), STEPS_OF_ROW)
}

/// Places that joints may be rounded down to, of one run: more than any plan is proven with.
const MOST_PLACES: i128 = 5_000_000;
/// Most parts of all runs together that are kept in memory: some hundred megabytes.
const MOST_EDGES_OF_ALL: usize = 10_000_000;

/// The least that runs joined anywhere take: pieces, and length in nanometres.
#[derive(Default)]
struct Least {
    parts: Vec<(Shape, u64)>,
    length: i128,
}

/// The runs that a certificate counts by their splits, and what it counts of the others.
fn splits<'f, 'a>(
    facts: &'f Facts<'a>,
    certificate: &Certificate,
) -> InReach<(Vec<(&'f Alike<'a>, Splits)>, Least)> {
    let mut counted = Vec::new();
    let mut least = Least::default();
    let (mut none_anywhere, mut edges) = (true, 0);
    for alike in &facts.runs {
        let joints = alike.allowed()?;
        let mut parting = alike.parting;
        if matches!(parting.run.joints(), Joints::Anywhere) {
            none_anywhere = false;
            match certificate.anywhere {
                None => continue, // worth nothing
                Some(Anywhere::ByLength { .. }) => {
                    least.add(facts, alike)?;
                    continue;
                }
                Some(Anywhere::Rounded { step }) => {
                    let most = parting.shortest + parting.left + parting.right;
                    if step.is_zero() || nm(step) > most {
                        let most = length(most)?;
                        return Err(RunBreach::Step { step, most }.into());
                    }
                    if parting.opening / nm(step) > MOST_PLACES {
                        return Ok(None);
                    }
                    let places = usize::try_from(parting.opening / nm(step));
                    let places = places.map_err(|_| Breach::TooLarge)?;
                    if facts.work.take_times(places, STEPS_OF_PLACE).is_none() {
                        return Ok(None);
                    }
                    parting = parting.rounded(nm(step));
                }
            }
        }
        let stops = parting.stops().ok_or(Breach::TooLarge)?;
        let Some(splits) = stops.splits(joints.most, &facts.work)? else {
            return Ok(None);
        };
        edges += splits.edges.len();
        if edges > MOST_EDGES_OF_ALL {
            return Ok(None);
        }
        counted.push((alike, splits));
    }
    if none_anywhere && certificate.anywhere.is_some() {
        return Err(RunBreach::NoneAnywhere.into());
    }
    Ok(Some((counted, least)))
}

impl Least {
    fn add(&mut self, facts: &Facts<'_>, alike: &Alike<'_>) -> Result<(), Breach> {
        let joints = alike.allowed()?;
        let copies = alike.copies();
        let length = if joints.fewest == joints.most {
            let (parts, rest) = alike.parting.least_parts(joints.most)?;
            for (shape, count) in parts {
                let count = count.checked_mul(copies).ok_or(Breach::TooLarge)?;
                self.parts.push((shape, count));
            }
            rest
        } else {
            least_taken(facts, alike)?.ok_or(Breach::TooLarge)? // found at once, as there are no places
        };
        let all = length.checked_mul(i128::from(copies));
        let sum = all.and_then(|all| self.length.checked_add(all));
        self.length = sum.ok_or(Breach::TooLarge)?;
        Ok(())
    }
}

impl CountedRun {
    fn steps(&self) -> u64 {
        let kinds = u64::try_from(self.copies.len()).unwrap_or(u64::MAX);
        self.splits.steps().saturating_mul(kinds)
    }

    /// What all copies are worth: each the least over its splits.
    fn worth(&self, shapes: &[i64], windows: &[i64]) -> Option<i128> {
        let price = |prices: &[i64], at: usize| i128::from(prices.get(at).copied().unwrap_or(0));
        let part = |edge: usize| {
            let item = self.items.get(edge);
            item.map_or(0, |&item| price(shapes, item))
        };
        let mut worth = 0_i128;
        for (paid, &copies) in &self.copies {
            let mut joints = vec![0_i128; self.splits.places.len()];
            for &(place, window) in paid {
                if let Some(joint) = joints.get_mut(place) {
                    *joint += price(windows, window);
                }
            }
            let joint = |place: usize| joints.get(place).copied().unwrap_or(0);
            let least = self.splits.least(part, joint)?;
            worth = worth.checked_add(least.checked_mul(i128::from(copies))?)?;
        }
        Some(worth)
    }
}

impl Units {
    /// The best of pieces and units together. Where there are more units than a bar holds, what pieces
    /// leave is worth so much that a piece is worth only what it adds to that; otherwise a unit is one
    /// more kind of piece.
    fn best(
        self,
        mut items: Vec<Item>,
        queries: &[Query],
        price: u64,
        work: &Work,
    ) -> Option<Vec<u128>> {
        let largest = queries.iter().map(|query| query.capacity).max();
        let largest = largest.unwrap_or(0);
        if i128::from(self.count) * self.unit >= largest {
            return self.best_without_end(&items, queries, price, work);
        }
        items.push(Item {
            size: self.unit,
            price,
            demand: self.count,
        });
        let exact = best_values(&items, queries, work);
        items.pop();
        // As if there were units without end, no less is held.
        exact.or_else(|| self.best_without_end(&items, queries, price, work))
    }

    fn best_without_end(
        self,
        items: &[Item],
        queries: &[Query],
        price: u64,
        work: &Work,
    ) -> Option<Vec<u128>> {
        let filled = |length: i128| {
            let units = u128::try_from(length.max(0).checked_div(self.unit)?).ok()?;
            units.checked_mul(u128::from(price))
        };
        let more = items.iter().map(|item| {
            let instead = filled(item.size)?;
            let more = u128::from(item.price).saturating_sub(instead);
            let price = u64::try_from(more).ok()?;
            Some(Item { price, ..*item })
        });
        let more: Vec<Item> = more.collect::<Option<_>>()?;
        let filled = queries.iter().map(|query| filled(query.capacity));
        let filled: Vec<u128> = filled.collect::<Option<_>>()?;
        let above = queries.iter().zip(&filled).map(|(query, filled)| Query {
            floor: query.floor.saturating_sub(*filled),
            ..*query
        });
        let best = best_values(&more, &above.collect::<Vec<_>>(), work)?;
        let all = best.into_iter().zip(filled).zip(queries);
        all.map(|((best, filled), query)| Some(best.checked_add(filled)?.max(query.floor)))
            .collect()
    }
}

/// The most of each shape in one split, or what cannot be exceeded where that would take too long.
fn most_of_each(splits: &Splits, items: &[usize], work: &Work) -> Vec<(usize, u64)> {
    let mut edges: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (edge, &item) in items.iter().enumerate() {
        edges.entry(item).or_default().push(edge);
    }
    let several = edges.values().filter(|edges| edges.len() > 1).count();
    let steps =
        u64::try_from(several).map_or(u64::MAX, |several| splits.steps().saturating_mul(several));
    let is_quick = steps <= MOST_STEPS_COUNTING && splits.take(several, work).is_some();
    let most = edges.into_iter().map(|(item, edges)| {
        let most = match edges.as_slice() {
            [_] => 1,
            _ if is_quick => splits.most(|edge| items.get(edge) == Some(&item)),
            edges => splits.most_at_a_glance(edges.iter().copied()),
        };
        (item, most)
    });
    most.collect()
}

/// The joints of courses that are laid: of a group and a place the numbers of the courses joined there.
type Laid = HashMap<(usize, Length), Vec<u64>>;

fn laid_joints(material: &Material) -> Laid {
    let mut all = Laid::new();
    for group in 0..material.course_groups().len() {
        for laid in laid(material, group) {
            for &place in &laid.joints {
                all.entry((group, place)).or_default().push(laid.course);
            }
        }
    }
    for courses in all.values_mut() {
        courses.sort_unstable();
        courses.dedup();
    }
    all
}

/// The joints that a rule leaves to the courses of a window that are not laid yet.
fn joints_left(
    laid: &Laid,
    window: Window,
    rule: CourseRule,
    courses: &BTreeMap<usize, Vec<u64>>,
) -> i128 {
    let of_group = courses.get(&window.group).map_or(&[][..], Vec::as_slice);
    let from = of_group.partition_point(|&course| course < window.first);
    let rest = of_group.get(from..).unwrap_or(&[]);
    let within = rest.get(..rule.courses as usize).unwrap_or(rest); // u32 into usize
    let last = within.last().copied().unwrap_or(window.first);
    let joined = laid.get(&(window.group, window.place));
    let joined = joined.map_or(0, |joined| {
        let up_to = |last: u64| joined.partition_point(|&course| course <= last);
        let before = joined.partition_point(|&course| course < window.first);
        up_to(last).saturating_sub(before)
    });
    let joined = u32::try_from(joined).unwrap_or(u32::MAX);
    (i128::from(rule.joints) - i128::from(joined)).max(0)
}

/// The windows of a certificate, to be found by the courses and places that they count.
struct Windows {
    /// All courses of each group, and how many of them a window is long.
    courses: BTreeMap<usize, (Vec<u64>, usize)>,
    /// Of a group and a place: by their first courses.
    at: HashMap<(usize, i128), Vec<(u64, usize)>>,
}

impl Windows {
    fn of(facts: &Facts<'_>, certificate: &Certificate) -> Windows {
        let mut at: HashMap<(usize, i128), Vec<(u64, usize)>> = HashMap::new();
        for (number, (window, _)) in certificate.windows.iter().enumerate() {
            let of_place = at.entry((window.group, nm(window.place))).or_default();
            of_place.push((window.first, number));
        }
        at.values_mut().for_each(|windows| windows.sort_unstable());
        let courses = courses(facts.material).into_iter().map(|(group, courses)| {
            let rule = facts.material.course_groups().get(group);
            let long = rule.map_or(0, |group| group.rule().courses as usize); // u32 into usize
            (group, (courses, long))
        });
        Windows {
            courses: courses.collect(),
            at,
        }
    }

    /// The windows that joints of a course count in, with their places among those inside a run.
    fn of_course(&self, group: usize, course: u64, places: &[i128]) -> Vec<(usize, usize)> {
        let Some((courses, long)) = self.courses.get(&group).filter(|_| !self.at.is_empty()) else {
            return vec![];
        };
        let order = courses.partition_point(|&other| other < course);
        // Windows that begin with this one or earlier do not reach as far.
        let before = order.checked_sub(*long).and_then(|at| courses.get(at));
        let inside = 1..places.len().saturating_sub(1);
        let mut paid = Vec::new();
        for (place, at) in places
            .iter()
            .enumerate()
            .filter(|(at, _)| inside.contains(at))
        {
            let Some(windows) = self.at.get(&(group, *at)) else {
                continue;
            };
            let from = windows.partition_point(|(first, _)| before.is_some_and(|end| first <= end));
            let windows = windows.iter().skip(from);
            let windows = windows.take_while(|(first, _)| *first <= course);
            paid.extend(windows.map(|&(_, window)| (place, window)));
        }
        paid
    }
}

/// The copies of runs by what their joints count in.
fn copies_by_windows(
    alike: &Alike<'_>,
    splits: &Splits,
    windows: &Windows,
    work: &Work,
) -> Option<BTreeMap<Vec<(usize, usize)>, u64>> {
    let mut copies: BTreeMap<Vec<(usize, usize)>, u64> = BTreeMap::new();
    for piece in &alike.pieces {
        let Some(course) = piece.run().and_then(|run| run.course()) else {
            *copies.entry(vec![]).or_default() += piece.qty(); // a job has ten million at the most
            continue;
        };
        let copies_here = piece.qty().saturating_mul(STEPS_OF_PLACE);
        work.take_times(splits.places.len(), copies_here)?;
        for copy in 0..piece.qty() {
            let number = course.first().saturating_add(copy);
            let paid = windows.of_course(course.group(), number, &splits.places);
            *copies.entry(paid).or_default() += 1;
        }
    }
    Some(copies)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// Those that begin with it, or with one of the courses before that the rule still counts.
        #[test]
        fn windows_that_a_course_counts_in(
            courses in prop::collection::btree_set(1_u64..20, 1..10),
            long in 1_usize..5,
            begins in prop::collection::btree_set((0_usize..10, 1_i128..6), 0..20),
            places in prop::collection::btree_set(1_i128..6, 0..6),
        ) {
            let courses: Vec<u64> = courses.into_iter().collect();
            let (mut at, mut all) = (HashMap::new(), vec![]);
            let begins = begins.into_iter().filter(|(order, _)| *order < courses.len());
            for (number, (order, place)) in begins.enumerate() {
                let windows: &mut Vec<(u64, usize)> = at.entry((0, place)).or_default();
                windows.push((courses[order], number));
                all.push((order, place));
            }
            let windows = Windows { courses: BTreeMap::from([(0, (courses.clone(), long))]), at };
            let places: Vec<i128> = [0].into_iter().chain(places).chain([9]).collect();
            for (order, &course) in courses.iter().enumerate() {
                let mut expected: Vec<(usize, usize)> = vec![];
                for (number, (first, place)) in all.iter().enumerate() {
                    let is_inside = (*first..first + long).contains(&order);
                    let known = places.iter().position(|known| known == place);
                    expected.extend(known.filter(|_| is_inside).map(|place| (place, number)));
                }
                expected.sort_unstable();
                let mut found = windows.of_course(0, course, &places);
                found.sort_unstable();
                prop_assert_eq!(found, expected);
            }
        }
    }

    /// Three joints in three courses, of which the second is not joined: two are laid from each of the first three on,
    /// and one from the last.
    #[test]
    fn joints_of_laid_courses_count_where_their_window_is() {
        let place = Length::from_mm(600);
        let laid = Laid::from([((0, place), vec![1, 3, 4])]);
        let courses = BTreeMap::from([(0, vec![1, 2, 3, 4])]);
        let rule = CourseRule {
            joints: 3,
            courses: 3,
        };
        let left = |first| {
            let window = Window {
                group: 0,
                place,
                first,
            };
            joints_left(&laid, window, rule, &courses)
        };
        assert_eq!([left(1), left(2), left(3), left(4)], [1, 1, 1, 2]);
    }
}
