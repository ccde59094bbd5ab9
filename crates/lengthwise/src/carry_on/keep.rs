//! The plan of what is left: as it was where that costs no more, else anew, names kept.

use std::collections::{BTreeMap, HashMap, HashSet};

use super::names::Names;
use super::open::{OpenBars, Source};
use super::relabel::Relabelling;
use super::rows::Rest;
use super::single::{OneBar, OneCut, in_order, lay_out, singles};
use super::sticks::Stick;
use super::{CarriedOn, Changes, Remainder, WholeBars, walls};
use crate::clock::Deadline;
use crate::job::{
    Bar, Ceilings, Job, JobInput, Material, PieceRow, Shape, SquareOff, batch_name, name_key,
};
use crate::layout::{Layout, cut_bar, money};
use crate::length::Length;
use crate::plan::{
    Certificate, Claim, Combination, Cutting, Least, MaterialPlan, Outcome, Plan, Preference,
    Proof, Stop, Value, WallBatch, WallBatches,
};
use crate::price::Price;
use crate::solve::{Limits, has_choices, solve, tried_places, with_preference};

/// Work for a plan whose bound is zero, as is what it is for: enough to place a few thousand pieces.
const LITTLE_WORK: u64 = 100_000_000;

/// Plans every material of what is left.
pub(super) fn plan(left: &Remainder, limits: &Limits<'_>) -> CarriedOn {
    let deadline = Deadline::after(limits.goes_by(), limits.time);
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
            // An equal share of what is left of the clock.
            deadline: deadline.share(u32::try_from(count - place).unwrap_or(u32::MAX)),
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

/// One material on its way to a plan.
struct Planner<'a> {
    left: &'a Remainder,
    material: &'a Material,
    rest: &'a Rest,
    limits: &'a Limits<'a>,
    deadline: Deadline<'a>,
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
    /// The batches of its walls.
    walls: Vec<WallBatch>,
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
            (Outcome::Planned(anew), Some(plan)) if plan.value <= anew.value => {
                self.combined(*anew, plan, names)
            }
            (Outcome::Planned(anew), _) => self.renamed(*anew, names),
            // The search ended without a plan, and there is one.
            (Outcome::Unknown(stop), Some(plan)) => {
                let nothing_proven = self.nothing_proven(&plan, stop);
                self.combined(nothing_proven, plan, names)
            }
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
        let rows = self.rest.rows();
        let mut placed: HashSet<&str> = HashSet::new();
        let mut bars = Vec::new();
        for (at, stick) in self.rest.sticks.iter().enumerate() {
            if self.rest.kinds.get(at).copied().flatten().is_none() {
                continue;
            }
            let usable = stick.bar().usable();
            let mut cuts: Vec<OneCut> = Vec::new();
            let mut taken = Length::ZERO;
            // A wall that was begun may have to come from another batch than it was going to.
            let may_stay = |cut: &&OneCut| {
                let row = rows.get(cut.mark.as_str());
                row.is_none_or(|row| walls::may_come_from(row, &stick.batch))
            };
            for cut in stick.planned.iter().filter(may_stay) {
                let up_to = taken.checked_add(self.material.takes(cut.shape));
                if let Some(up_to) = up_to.filter(|up_to| *up_to <= usable) {
                    placed.insert(&cut.mark);
                    cuts.push(cut.clone());
                    let next = up_to.checked_add(self.material.cut_width());
                    taken = next.unwrap_or(Length::MAX);
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
        self.order(&mut bars)?;
        sort(&mut bars);
        let layout = lay_out(self.material, &bars)?;
        let value = self.value(&layout)?;
        Some(AsItWas {
            walls: walls::batches_of(self.material, &bars)?,
            bars,
            layout,
            value,
        })
    }

    /// The cuts of bars that are not cut as planned, in the order of the stop's settings.
    fn order(&self, bars: &mut [OneBar]) -> Option<()> {
        let sticks = self.rest.sticks.iter();
        let planned: HashMap<&str, &[OneCut]> = sticks
            .filter_map(|stick| Some((stick.name.as_deref()?, stick.planned.as_slice())))
            .collect();
        let changed = bars.iter_mut();
        let changed =
            changed.filter(|bar| planned.get(bar.name.as_str()) != Some(&bar.cuts.as_slice()));
        in_order(self.material, &mut changed.collect::<Vec<_>>())
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
                let source = (Source::Kept(place), 1);
                open.add(stick, left.offcut, square_off, None, source);
            }
        }
        let is_kept: HashSet<usize> = kept.bars.iter().map(|(at, _)| *at).collect();
        for (at, stick) in self.rest.sticks.iter().enumerate() {
            let is_usable = self.rest.kinds.get(at).copied().flatten().is_some();
            if is_usable && stick.count > 0 && !is_kept.contains(&at) {
                let source = (Source::Free(at), stick.count);
                let (length, square_off) = (stick.length.length, stick.square_off);
                open.add(stick, length, square_off, stick.worth, source);
            }
        }
        let loose = kept.loose.iter().map(|(_, row)| row.clone());
        let mut rows: Vec<PieceRow> = loose.chain(self.rest.unplanned.iter().cloned()).collect();
        if walls::is_batched(self.material) {
            let begun = self.walls_of(kept)?;
            for row in rows.iter_mut().filter(|row| row.batch.is_empty()) {
                if let Some(batch) = begun.get(&name_key(&row.wall)) {
                    row.batch = batch_name(batch).to_owned();
                }
            }
        }
        let input = JobInput {
            pieces: rows,
            stock: self.rest.stock.clone(),
            in_hand: open.rows(self.material.name()),
            saw: self.left.input.saw.clone(),
        };
        let job = input.validate_within(&Ceilings::HIGHEST).ok()?;
        let [material] = job.materials() else {
            return None;
        };
        // The other half of the time is for all of it anew.
        let limits = Limits {
            time: self.deadline.share(2).left(),
            ..self.limits(None)
        };
        let plan = solve(&job, &limits);
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

    /// The batches of walls that have pieces on bars that stay as they were.
    fn walls_of(&self, kept: &Kept) -> Option<walls::Begun> {
        let rows = self.rest.rows();
        let on_bars = kept.bars.iter().flat_map(|(at, cuts)| {
            let stick = self.rest.sticks.get(*at);
            let batch = stick.map_or("", |stick| stick.batch.as_str());
            cuts.iter().map(move |cut| (cut.mark.as_str(), batch))
        });
        walls::begun_on(on_bars, &rows)
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
        let alike = self.kinds_alike(material);
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
                bars.push(OneBar {
                    kind: alike.get(&single.kind).copied()?,
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

    /// For each kind of bar that is bought for a part of the job the kind that is bought of the same row.
    fn kinds_alike(&self, part: &Material) -> HashMap<usize, usize> {
        let both = bought_kinds(part).zip(bought_kinds(self.material));
        let alike = both.filter(|((_, asked), (_, bar))| {
            (bar.origin(), bar.length()) == (asked.origin(), asked.length())
        });
        alike.map(|((asked, _), (bar, _))| (asked, bar)).collect()
    }

    fn limits(&self, work: Option<u64>) -> Limits<'_> {
        Limits {
            work: work.or(self.limits.work),
            time: self.deadline.left(),
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

    /// Of a plan of the bars as they were: that none costs less than nothing.
    fn nothing_proven(&self, plan: &AsItWas, stop: Stop) -> Cutting {
        let bound = match plan.value {
            Value::Money(_) => Value::Money(Price::ZERO),
            Value::Bought(_) => Value::Bought(Length::ZERO),
        };
        let open_walls = self.material.open_walls().len();
        let combination = Combination {
            prices: vec![None; self.material.bars().len()],
            walls: vec![None; open_walls],
            least: Least::AtLeast(bound),
            certificate: Certificate::default(),
        };
        let combinations = has_choices(self.material).then_some(combination);
        let without = Claim {
            found: plan.value,
            bound: Some(bound),
        };
        Cutting {
            proof: Proof::Gap(stop),
            value: plan.value,
            bound,
            buy: Vec::new(),
            bars: Vec::new(),
            uncut: Vec::new(),
            figures: plan.layout.figures,
            hand_proof: Proof::Gap(stop),
            walls: (open_walls > 0).then(|| WallBatches {
                walls: Vec::new(),
                without,
            }),
            preference: Preference::AsFound,
            certificate: Certificate {
                scale: 1,
                tried: tried_places(self.material),
                combinations: combinations.into_iter().collect(),
                ..Certificate::default()
            },
        }
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
            walls: anew.walls.map(|walls| WallBatches {
                walls: plan.walls,
                without: Claim {
                    found: walls.without.found.min(plan.value),
                    ..walls.without
                },
            }),
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
        let is_batched = walls::is_batched(self.material);
        Relabelling::new(self.rest, &bars, is_batched).apply(&mut bars);
        let ordered = self.order(&mut bars);
        sort(&mut bars);
        names.complete(&mut bars);
        let Some(layout) = ordered.and_then(|()| lay_out(self.material, &bars)) else {
            return (Outcome::Unknown(Stop::CostsTooFine), Vec::new());
        };
        let preference = anew.preference.clone();
        let cutting = Cutting {
            buy: layout.buy,
            bars: layout.bars,
            uncut: layout.uncut,
            figures: layout.figures,
            ..anew
        };
        let outcome = Outcome::Planned(Box::new(cutting));
        (with_preference(self.material, outcome, preference), bars)
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
                Some(stick) if stick.planned == bar.cuts && !stick.is_altered => {
                    &mut changes.unchanged
                }
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

/// The kinds of bar that are bought, with their places.
fn bought_kinds(material: &Material) -> impl Iterator<Item = (usize, &Bar)> {
    let bars = material.bars().iter().enumerate();
    bars.filter(|(_, bar)| !bar.is_in_hand())
}

/// Bought before in hand, as the bars of the material stand; within a kind those with the longest pieces
/// first, else as they were.
fn sort(bars: &mut [OneBar]) {
    bars.sort_by_cached_key(|bar| {
        let (kind, cuts) = bar.likeness();
        let mut shapes: Vec<_> = cuts.iter().map(|(_, shape, ..)| *shape).collect();
        shapes.sort_unstable();
        (kind, shapes, cuts)
    });
}
