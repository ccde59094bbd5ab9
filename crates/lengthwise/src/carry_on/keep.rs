//! The plan of what is left: as it was where that costs no more, else anew, names kept.

use std::collections::{BTreeMap, HashMap, HashSet, VecDeque};
use std::sync::Arc;
use std::time::Instant;

use super::rows::Rest;
use super::single::{OneBar, OneCut, lay_out, singles};
use super::sticks::Stick;
use super::{CarriedOn, Changes, Remainder, WholeBars};
use crate::fault::Origin;
use crate::job::{HandRow, Job, JobInput, Material, PieceRow, Shape, SquareOff, StockRow};
use crate::layout::{Layout, cut_bar, letters, money};
use crate::length::{Length, Measure};
use crate::plan::{Cutting, MaterialPlan, Outcome, Plan, Preference, Proof, RunPart, Stop, Value};
use crate::price::Price;
use crate::solve::{Limits, solve};

/// Work for a plan whose bound is zero, as is what it is for: enough to place a few thousand pieces.
const LITTLE_WORK: u64 = 100_000_000;

/// Plans every material of what is left.
pub(super) fn plan(left: &Remainder, limits: &Limits<'_>) -> CarriedOn {
    let deadline = limits.time.map(|time| Instant::now() + time);
    let mut names = Names::of(left);
    let mut materials = Vec::new();
    let mut changes = Vec::new();
    let count = left.rests.len();
    let both = left.job.materials().iter().zip(&left.rests);
    for (place, (material, rest)) in both.enumerate() {
        let planner = Planner {
            left,
            material,
            rest,
            limits,
            deadline: deadline.map(|end| {
                // An equal share of what is left of the clock.
                let now = Instant::now();
                let waiting = u32::try_from(count - place).unwrap_or(u32::MAX).max(1);
                now + end.saturating_duration_since(now) / waiting
            }),
        };
        let (plan, changed) = planner.plan(&mut names);
        materials.push(plan);
        changes.push(changed);
    }
    CarriedOn {
        plan: Plan { materials },
        changes,
    }
}

/// Names that no bar has had.
struct Names {
    /// The letters that bars before had in front of their number.
    letters: HashSet<String>,
    next: usize,
}

impl Names {
    fn of(left: &Remainder) -> Names {
        let sticks = left.rests.iter().flat_map(|rest| &rest.sticks);
        let there = sticks.filter_map(|stick| stick.name.as_deref());
        let before = left.names_taken.iter().map(String::as_str);
        let letters = there.chain(before).map(|name| {
            let in_front = name.chars().take_while(char::is_ascii_uppercase);
            in_front.collect()
        });
        Names {
            letters: letters.collect(),
            next: 0,
        }
    }

    fn next_letters(&mut self) -> String {
        loop {
            let letters = letters(self.next);
            self.next += 1;
            if !self.letters.contains(&letters) {
                return letters;
            }
        }
    }

    /// Gives a name to every bar that has none; those alike that follow each other share their letters.
    fn complete(&mut self, bars: &mut [OneBar]) {
        let alike = |one: &OneBar, next: &OneBar| one.likeness() == next.likeness();
        for group in bars.chunk_by_mut(alike) {
            let mut letters = None;
            let without = group.iter_mut().filter(|bar| bar.name.is_empty());
            for (number, bar) in (1..).zip(without) {
                let letters = letters.get_or_insert_with(|| self.next_letters());
                bar.name = format!("{letters}{number}");
            }
        }
    }
}

/// One material on its way to a plan.
struct Planner<'a> {
    left: &'a Remainder,
    material: &'a Material,
    rest: &'a Rest,
    limits: &'a Limits<'a>,
    deadline: Option<Instant>,
}

/// Bars as they were going to be cut, and what they have no place for.
struct Kept {
    /// By the places of their sticks.
    bars: Vec<(usize, Vec<OneCut>)>,
    loose: Vec<(OneCut, PieceRow)>,
}

/// A plan that leaves the bars as they were.
struct AsItWas {
    bars: Vec<OneBar>,
    layout: Layout,
    value: Value,
}

impl Planner<'_> {
    fn plan(&self, names: &mut Names) -> (MaterialPlan, Changes) {
        let kept = self.kept();
        let as_it_was = self.as_it_was(&kept);
        let found = self.anew(as_it_was.as_ref().map(|plan| plan.value));
        let MaterialPlan {
            name,
            unit,
            kerf,
            per_cut,
            outcome,
            effort,
        } = found;
        let (outcome, bars) = match (outcome, as_it_was) {
            (Outcome::Planned(anew), Some(plan)) if is_no_more(plan.value, anew.value) => {
                self.combined(*anew, plan, names)
            }
            (Outcome::Planned(anew), _) => self.renamed(*anew, names),
            // A search that ended without a plan, where there is one.
            (Outcome::Unknown(stop), _) => (Outcome::Unknown(stop), Vec::new()),
            (outcome, _) => (outcome, Vec::new()),
        };
        let mut changes = self.changes(&bars);
        if !matches!(outcome, Outcome::Planned(_)) {
            let loose = kept.loose.iter().map(|(cut, _)| cut.mark.clone());
            let unplanned = self.rest.unplanned.iter().map(|row| row.mark.clone());
            changes.without_place = loose.chain(unplanned).collect();
        }
        let plan = MaterialPlan {
            name,
            unit,
            kerf,
            per_cut,
            outcome,
            effort,
        };
        (plan, changes)
    }

    /// Each bar with as much of what was planned on it as it still holds.
    fn kept(&self) -> Kept {
        let mut placed: HashSet<&str> = HashSet::new();
        let mut bars = Vec::new();
        for (at, stick) in self.rest.sticks.iter().enumerate() {
            if self.rest.kinds.get(at).copied().flatten().is_none() {
                continue;
            }
            let bar = stick.bar();
            let mut cuts: Vec<OneCut> = Vec::new();
            for cut in &stick.planned {
                let shapes = cuts.iter().chain([cut]).map(|cut| cut.shape);
                if cut_bar(self.material, &bar, &shapes.collect::<Vec<_>>()).is_some() {
                    placed.insert(&cut.mark);
                    cuts.push(cut.clone());
                }
            }
            if !cuts.is_empty() {
                bars.push((at, cuts));
            }
        }
        let to_do = self.rest.to_do.iter();
        let loose = to_do.filter(|(cut, _)| !placed.contains(cut.mark.as_str()));
        Kept {
            loose: loose.cloned().collect(),
            bars,
        }
    }

    /// The bars as they were, and what has no place on what else is there or can be bought.
    fn as_it_was(&self, kept: &Kept) -> Option<AsItWas> {
        let mut bars = Vec::new();
        for (at, cuts) in &kept.bars {
            bars.push(OneBar {
                kind: self.rest.kinds.get(*at).copied().flatten()?,
                name: self.rest.sticks.get(*at)?.name.clone().unwrap_or_default(),
                cuts: cuts.clone(),
            });
        }
        if !kept.loose.is_empty() || !self.rest.unplanned.is_empty() {
            self.add_what_is_loose(kept, &mut bars)?;
        }
        sort(&mut bars);
        let layout = lay_out(self.material, &bars)?;
        let value = self.value(&layout)?;
        Some(AsItWas {
            bars,
            layout,
            value,
        })
    }

    fn value(&self, layout: &Layout) -> Option<Value> {
        if self.material.is_priced() {
            money(self.material, layout).map(Value::Money)
        } else {
            Some(Value::Bought(layout.figures.bought))
        }
    }

    /// Plans what is loose by itself, into what kept bars leave and into all other bars.
    fn add_what_is_loose(&self, kept: &Kept, bars: &mut Vec<OneBar>) -> Option<()> {
        let mut open = OpenBars::default();
        for (place, (at, cuts)) in kept.bars.iter().enumerate() {
            let stick = self.rest.sticks.get(*at)?;
            let shapes: Vec<Shape> = cuts.iter().map(|cut| cut.shape).collect();
            let left = cut_bar(self.material, &stick.bar(), &shapes)?;
            let square_off = SquareOff {
                near: Length::ZERO,
                far: left.offcut_rough,
            };
            if left.offcut > left.offcut_rough {
                open.add(stick, left.offcut, square_off, None, Source::Kept(place));
            }
        }
        let is_kept: HashSet<usize> = kept.bars.iter().map(|(at, _)| *at).collect();
        for (at, stick) in self.rest.sticks.iter().enumerate() {
            if self.rest.kinds.get(at).copied().flatten().is_some() && !is_kept.contains(&at) {
                for _ in 0..stick.count {
                    let length = stick.length.length;
                    open.add(
                        stick,
                        length,
                        stick.square_off,
                        stick.worth,
                        Source::Free(at),
                    );
                }
            }
        }
        let loose = kept.loose.iter().map(|(cut, row)| as_piece(cut, row));
        let rows: Vec<PieceRow> = loose.chain(self.rest.unplanned.iter().cloned()).collect();
        let input = JobInput {
            pieces: rows,
            stock: self.stock(),
            in_hand: open.rows(self.material.name()),
            saw: self.left.input.saw.clone(),
        };
        let job = input.validate().ok()?;
        let [material] = job.materials() else {
            return None;
        };
        let plan = solve(&job, &self.limits(None));
        let [plan] = plan.materials.as_slice() else {
            return None;
        };
        let Outcome::Planned(cutting) = &plan.outcome else {
            return None;
        };
        let parts: HashMap<&str, &OneCut> = kept
            .loose
            .iter()
            .map(|(cut, _)| (cut.mark.as_str(), cut))
            .collect();
        let appended = singles(&cutting.bars);
        self.append(material, appended, &parts, open, bars)
    }

    /// Puts what was planned by itself back on the bars that it was planned into.
    fn append(
        &self,
        material: &Material,
        planned: Vec<OneBar>,
        loose: &HashMap<&str, &OneCut>,
        mut open: OpenBars,
        bars: &mut Vec<OneBar>,
    ) -> Option<()> {
        for single in planned {
            let bar = material.bars().get(single.kind)?;
            let cuts = single
                .cuts
                .into_iter()
                .map(|cut| match loose.get(cut.mark.as_str()) {
                    // As it was, with its place in the run.
                    Some(known) => (*known).clone(),
                    None => cut,
                });
            if !bar.is_in_hand() {
                let mut all = self.material.bars().iter();
                let kind = all.position(|other| {
                    !other.is_in_hand()
                        && (other.origin(), other.length()) == (bar.origin(), bar.length())
                });
                bars.push(OneBar {
                    kind: kind?,
                    name: String::new(),
                    cuts: cuts.collect(),
                });
                continue;
            }
            match open.take(bar.origin())? {
                Source::Kept(place) => bars.get_mut(place)?.cuts.extend(cuts),
                Source::Free(at) => bars.push(OneBar {
                    kind: self.rest.kinds.get(at).copied().flatten()?,
                    name: self.rest.sticks.get(at)?.name.clone().unwrap_or_default(),
                    cuts: cuts.collect(),
                }),
            }
        }
        Some(())
    }

    /// The rows of the stock that are of this material, under its name.
    fn stock(&self) -> Vec<StockRow> {
        let name = |name: &str| {
            let lower = name.to_lowercase();
            lower
                .split_whitespace()
                .map(str::to_owned)
                .collect::<Vec<_>>()
        };
        let its = name(self.material.name());
        let rows = self.left.input.stock.iter();
        rows.filter(|row| row.material.trim().is_empty() || name(&row.material) == its)
            .map(|row| StockRow {
                material: self.material.name().to_owned(),
                ..row.clone()
            })
            .collect()
    }

    fn limits(&self, work: Option<u64>) -> Limits<'_> {
        Limits {
            work: work.or(self.limits.work),
            time: self
                .deadline
                .map(|end| end.saturating_duration_since(Instant::now())),
            ..*self.limits
        }
    }

    /// All that is left planned anew, with its proof. With a plan that costs nothing at hand there is
    /// nothing to search for.
    fn anew(&self, known: Option<Value>) -> MaterialPlan {
        let nothing = match known {
            Some(Value::Money(price)) => price == Price::ZERO,
            Some(Value::Bought(length)) => length.is_zero(),
            None => false,
        };
        if nothing {
            let plan = self.solve(Some(LITTLE_WORK));
            if matches!(plan.outcome, Outcome::Planned(_)) {
                return plan;
            }
        }
        self.solve(None)
    }

    fn solve(&self, work: Option<u64>) -> MaterialPlan {
        let job = Job {
            materials: vec![self.material.clone()],
            notes: Vec::new(),
        };
        let mut plan = solve(&job, &self.limits(work));
        plan.materials.pop().unwrap_or_else(|| MaterialPlan {
            name: self.material.name().to_owned(),
            unit: self.material.unit(),
            kerf: self.material.kerf(),
            per_cut: self.material.per_cut(),
            outcome: Outcome::Unknown(Stop::Exhausted),
            effort: Default::default(),
        })
    }

    /// The bars as they were, with what is proven of any plan.
    fn combined(&self, anew: Cutting, plan: AsItWas, names: &mut Names) -> (Outcome, Vec<OneBar>) {
        let mut bars = plan.bars;
        names.complete(&mut bars);
        let Some(layout) = lay_out(self.material, &bars) else {
            return self.renamed(anew, names);
        };
        let same_hand = plan.layout.figures.hand_cut_into == anew.figures.hand_cut_into
            && plan.value == anew.value;
        let cutting = Cutting {
            proof: if plan.value == anew.bound {
                Proof::Optimal
            } else {
                anew.proof
            },
            value: plan.value,
            hand_proof: if same_hand {
                anew.hand_proof
            } else {
                Proof::Gap(Stop::Exhausted)
            },
            preference: Preference::AsFound,
            buy: layout.buy,
            bars: layout.bars,
            uncut: layout.uncut,
            figures: layout.figures,
            ..anew
        };
        (Outcome::Planned(Box::new(cutting)), bars)
    }

    /// A plan made anew, its bars and pieces by the names that they had.
    fn renamed(&self, anew: Cutting, names: &mut Names) -> (Outcome, Vec<OneBar>) {
        let mut bars = singles(&anew.bars);
        for bar in &mut bars {
            bar.name.clear();
        }
        Relabelling::new(self.rest, &bars).apply(&mut bars);
        sort(&mut bars);
        names.complete(&mut bars);
        match lay_out(self.material, &bars) {
            Some(layout) => {
                let cutting = Cutting {
                    buy: layout.buy,
                    bars: layout.bars,
                    uncut: layout.uncut,
                    figures: layout.figures,
                    ..anew
                };
                (Outcome::Planned(Box::new(cutting)), bars)
            }
            None => (Outcome::Unknown(Stop::CostsTooFine), Vec::new()),
        }
    }

    fn changes(&self, bars: &[OneBar]) -> Changes {
        let sticks = self.rest.sticks.iter();
        let named: HashMap<&str, &Stick> = sticks
            .filter_map(|stick| Some((stick.name.as_deref()?, stick)))
            .collect();
        let mut changes = Changes::default();
        for bar in bars {
            let list = match named.get(bar.name.as_str()) {
                None => &mut changes.new,
                Some(stick) if stick.planned == bar.cuts => &mut changes.unchanged,
                Some(_) => &mut changes.changed,
            };
            list.push(bar.name.clone());
        }
        let used: HashSet<&str> = bars.iter().map(|bar| bar.name.as_str()).collect();
        let mut whole: BTreeMap<usize, Vec<String>> = BTreeMap::new();
        for (stick, kind) in self.rest.sticks.iter().zip(&self.rest.kinds) {
            if let (Some(name), Some(kind)) = (&stick.name, kind)
                && !used.contains(name.as_str())
            {
                whole.entry(*kind).or_default().push(name.clone());
            }
        }
        let whole = whole.into_iter();
        changes.whole = whole.map(|(bar, names)| WholeBars { bar, names }).collect();
        changes
    }
}

/// Bought before in hand, as the bars of the material stand; within a kind those with the longest pieces
/// first, else as they were.
fn sort(bars: &mut [OneBar]) {
    bars.sort_by_cached_key(|bar| {
        let (kind, cuts) = bar.likeness();
        let mut shapes: Vec<_> = cuts.iter().map(|(shape, ..)| *shape).collect();
        shapes.sort_unstable();
        (kind, shapes, cuts)
    });
}

/// A piece, or a part whose joints stay where they are.
fn as_piece(cut: &OneCut, row: &PieceRow) -> PieceRow {
    PieceRow {
        mark: cut.mark.clone(),
        ..row.clone()
    }
}

fn is_no_more(one: Value, other: Value) -> bool {
    one <= other
}

/// Where a bar comes from that is offered for what is loose.
#[derive(Clone, Copy, Debug)]
enum Source {
    /// What a kept bar leaves: its place among the kept ones.
    Kept(usize),
    /// A bar without a plan: its place among the sticks.
    Free(usize),
}

/// Bars offered for what is loose, alike ones in one row.
#[derive(Default)]
struct OpenBars {
    rows: Vec<(HandRow, VecDeque<Source>)>,
}

impl OpenBars {
    fn add(
        &mut self,
        stick: &Stick,
        length: Length,
        square_off: SquareOff,
        worth: Option<Price>,
        source: Source,
    ) {
        let alike = self.rows.iter_mut().find(|(row, _)| {
            (row.length.length, row.square_off, row.worth) == (length, Some(square_off), worth)
        });
        if let Some((row, sources)) = alike {
            row.available += 1;
            sources.push_back(source);
            return;
        }
        let origin = Origin {
            source: Arc::from(""),
            line: self.rows.len() as u64 + 1, // widening on every platform
        };
        let row = HandRow {
            origin,
            material: String::new(),
            length: Measure {
                length,
                unit: stick.length.unit,
            },
            available: 1,
            square_off: Some(square_off),
            worth,
            note: String::new(),
        };
        self.rows.push((row, VecDeque::from([source])));
    }

    fn rows(&self, material: &str) -> Vec<HandRow> {
        let rows = self.rows.iter();
        rows.map(|(row, _)| HandRow {
            material: material.to_owned(),
            ..row.clone()
        })
        .collect()
    }

    fn take(&mut self, origin: &Origin) -> Option<Source> {
        let mut rows = self.rows.iter_mut();
        let (_, sources) = rows.find(|(row, _)| row.origin == *origin)?;
        sources.pop_front()
    }
}

/// Names and marks for a plan made anew: bars cut as they were going to be keep both; then bars keep
/// their names, and pieces stay on the bars that they were on.
struct Relabelling<'a> {
    rest: &'a Rest,
    /// Sticks of each kind that are not given out.
    free: BTreeMap<usize, Vec<usize>>,
    /// Marks of pieces that are not given out, and the places of their bars.
    marks: HashMap<Alike, Vec<(String, Option<usize>)>>,
    stages: HashMap<&'a str, u64>,
}

/// Pieces that may change places: of one shape and one stage, spares or not.
type Alike = (Shape, bool, u64);

impl<'a> Relabelling<'a> {
    fn new(rest: &'a Rest, bars: &[OneBar]) -> Relabelling<'a> {
        let mut free: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        let mut on: HashMap<&str, usize> = HashMap::new();
        for (at, (stick, kind)) in rest.sticks.iter().zip(&rest.kinds).enumerate() {
            if let (Some(_), Some(kind)) = (&stick.name, kind) {
                free.entry(*kind).or_default().push(at);
            }
            on.extend(stick.planned.iter().map(|cut| (cut.mark.as_str(), at)));
        }
        let to_do = rest.to_do.iter();
        let stages = to_do.map(|(cut, row)| (cut.mark.as_str(), row.stage));
        let mut relabelling = Relabelling {
            rest,
            free,
            marks: HashMap::new(),
            stages: stages.collect(),
        };
        let cuts = bars.iter().flat_map(|bar| &bar.cuts);
        for cut in cuts.filter(|cut| cut.part.is_none()) {
            let place = on.get(cut.mark.as_str()).copied();
            let alike = relabelling.alike(cut);
            let marks = relabelling.marks.entry(alike).or_default();
            marks.push((cut.mark.clone(), place));
        }
        relabelling
    }

    fn alike(&self, cut: &OneCut) -> Alike {
        let stage = self.stages.get(cut.mark.as_str());
        (cut.shape, cut.spare, stage.copied().unwrap_or(1))
    }

    /// What distinguishes cuts but for the marks of pieces that may change places.
    fn sorted(&self, cuts: &[OneCut]) -> Vec<(Alike, Option<RunPart>)> {
        let cuts = cuts.iter();
        let mut cuts: Vec<_> = cuts
            .map(|cut| (self.alike(cut), cut.part.clone()))
            .collect();
        cuts.sort();
        cuts
    }

    fn apply(mut self, bars: &mut [OneBar]) {
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
                let alike = self.alike(cut);
                let marks = self.marks.entry(alike).or_default();
                let at = marks.iter().position(|(_, on)| on.is_some() && on == given);
                match at {
                    Some(at) => cut.mark = marks.remove(at).0,
                    None => waiting.push((cut, alike)),
                }
            }
        }
        for (cut, alike) in waiting {
            let marks = self.marks.entry(alike).or_default();
            if !marks.is_empty() {
                cut.mark = marks.remove(0).0;
            }
        }
    }

    /// A bar of the same kind on which the same was planned.
    fn cut_alike(&mut self, bar: &OneBar) -> Option<usize> {
        let asked = self.sorted(&bar.cuts);
        let place = self.free.get(&bar.kind)?.iter().position(|&at| {
            let stick = self.rest.sticks.get(at);
            stick.is_some_and(|stick| self.sorted(&stick.planned) == asked)
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
            let alike = self.alike(cut);
            if let Some(marks) = self.marks.get_mut(&alike) {
                marks.retain(|(mark, _)| *mark != cut.mark);
            }
        }
    }
}
