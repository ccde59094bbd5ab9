//! One material: searched, then laid out.

use std::collections::{BTreeMap, BTreeSet, HashSet};
use std::sync::atomic::Ordering;

use super::board::Board;
use super::choices::{Chosen, has_choices};
use super::{DEFAULT_WORK, Limits};
use crate::clock::Deadline;
use crate::engine::{self, Answer, Found, Known, Meter, Room, fewest_setups};
use crate::job::{Joints, Material, Prefer};
use crate::layout::{BarNames, Layout, lay_out, money};
use crate::length::Length;
use crate::plan::{
    Anywhere, BarGroup, Certificate, Claim, Cutting, Effort, Impossible, LARGEST_SPARE, MixProof,
    MixSplit, Outcome, Preference, Proof, SearchedMix, Stop, TriedPlaces, Value,
};
use crate::problem::{NoProblem, Problem, RunOfKind};

/// What holds wherever joints fall may take one part of the time in so many.
const SHARE_ANYWHERE: u32 = 8;
/// And where lengths are so fine that tables are coarse, one in so many.
const SHARE_FINE: u32 = 64;

/// Better offcuts may take one part of the work in so many: a seventh of a second by default.
const SHARE_OFFCUTS: u64 = 200;
/// Fewer setups may take one part of the work and the time in so many: some seconds by default.
const SHARE_SETUPS: u32 = 20;

/// One material under the limits of the job.
pub(super) struct Solver<'a> {
    pub material: &'a Material,
    pub limits: &'a Limits<'a>,
    pub deadline: Deadline<'a>,
    /// Work that is left, where that is less than the limits give.
    pub work: Option<u64>,
    /// Plans that cost as much are of no use.
    pub below: Option<Below>,
}

/// What a plan must cost less than to be of use.
#[derive(Clone, Copy)]
pub(super) enum Below {
    /// Less than this.
    Less(Value),
    /// This or less.
    AtMost(Value),
}

/// What the search of a material came to.
pub(super) enum Searched {
    /// There was nothing to search for.
    Settled(Outcome),
    /// Patterns, or none; what was made good among equally cheap ones.
    Answered(Box<Problem>, Box<Answer>, Option<Box<Problem>>, Preference),
    /// The best over all choices.
    Chosen(Box<Chosen>),
}

impl Solver<'_> {
    /// Searches for the patterns to cut.
    pub fn search(&self, board: &Board<'_>) -> Searched {
        let name = self.material.name();
        board.begun(name);
        if has_choices(self.material) {
            let searched = self.search_choices(board);
            let known = match &searched {
                Searched::Chosen(chosen) => chosen.known(),
                _ => None,
            };
            match known {
                Some((value, bound)) => board.done_at(name, value, bound),
                None => board.done(name, None),
            }
            return searched;
        }
        let late = self.late();
        let problem = match late {
            Some(_) => Problem::in_haste(self.material),
            None => Problem::new(self.material),
        };
        let searched = self.look_at(problem, Some(board));
        let searched = match late {
            Some(stop) => searched.stopped_by(stop),
            None => searched,
        };
        let searched = self.preferred(searched);
        match &searched {
            Searched::Answered(problem, answer, ..) => {
                let best = answer.best.as_ref().map(|(cost, _)| *cost);
                board.done(name, Some((problem, best, answer.bound)));
            }
            _ => board.done(name, None),
        }
        searched
    }

    /// The same at one price for every kind of bar, and nobody told that it begins or ends.
    pub fn look(&self) -> Searched {
        self.look_at(Problem::new(self.material), None)
    }

    fn look_at(&self, problem: Result<Problem, NoProblem>, board: Option<&Board<'_>>) -> Searched {
        match problem {
            Ok(problem) => self.answer(problem, board),
            Err(NoProblem::Impossible(why)) => Searched::Settled(Outcome::Impossible(why)),
            Err(NoProblem::CostsTooFine) => Searched::Settled(Outcome::Unknown(Stop::CostsTooFine)),
            Err(NoProblem::Unknown(stop)) => Searched::Settled(Outcome::Unknown(stop)),
        }
    }

    /// Makes good what is asked for among equally cheap plans.
    pub fn preferred(&self, mut searched: Searched) -> Searched {
        if let Searched::Answered(problem, answer, _, preference) = &mut searched {
            *preference = match self.material.prefer() {
                Prefer::Offcuts => {
                    if let Some((_, packing)) = &mut answer.best {
                        let instance = &problem.instance;
                        *packing = engine::without_idle_joints(instance, packing, Room::OfBar);
                    }
                    self.long_offcuts(problem, answer)
                }
                Prefer::Setups => self.few_setups(problem, answer),
            };
        }
        searched
    }

    /// Room for errors, then long offcuts; only where the plan is the cheapest, since otherwise a bar
    /// without any piece might make it cheaper.
    fn long_offcuts(&self, problem: &Problem, answer: &mut Answer) -> Preference {
        let tried_only = self.is_joined_anywhere();
        let is_best = answer.tie_settled && (answer.stop.is_none() || tried_only);
        let Some((cost, packing)) = answer.best.take_if(|_| is_best) else {
            return Preference::AsFound;
        };
        let mut meter = self.preference_meter(SHARE_OFFCUTS);
        // What refutes mixes elsewhere does not do so with joints at these places.
        let proof = if tried_only {
            &Default::default()
        } else {
            &answer.proof
        };
        let offcuts = engine::offcuts(
            &problem.instance,
            &problem.measures(self.material),
            (cost, packing),
            !tried_only,
            proof,
            &mut meter,
            // What the search took is told apart from what comes after it, but for the work.
            &mut Effort::default(),
        );
        answer.effort.work += meter.spent();
        answer.best = Some((cost, offcuts.packing));
        let length = |nm: i64| Length::from_nm(nm).unwrap_or(Length::ZERO);
        let claim = |(found, bound): Found| Claim {
            found: length(found),
            bound: bound.map(length),
        };
        Preference::Offcuts {
            spare: claim(offcuts.spare),
            offcuts: offcuts.offcuts.into_iter().map(claim).collect(),
            same_bars: offcuts.same_bars,
        }
    }

    /// Few ways of cutting a bar, then few settings of the stop.
    fn few_setups(&self, problem: &Problem, answer: &mut Answer) -> Preference {
        let Some((_, packing)) = &mut answer.best else {
            return Preference::AsFound;
        };
        let mut meter = self.meter(SHARE_SETUPS, None);
        let stops = stops(self.material, problem);
        let known = Known {
            instance: &problem.instance,
            packing,
            prices: &answer.prices,
            scale: answer.scale,
            stops: &stops,
            tried_only: self.is_joined_anywhere(),
        };
        let setups = fewest_setups(known, &mut meter);
        answer.effort.work += meter.spent();
        *packing = setups.packing;
        // Ways that are told apart by their batches only are one at the saw, so fewer may do then.
        let is_bound = problem.instance.has_batches();
        let claim = |found: u32, bound: i64| Claim {
            found: u64::from(found),
            bound: u64::try_from(bound)
                .ok()
                .filter(|bound| *bound > 0 && !is_bound),
        };
        let moves_bound = i64::from(setups.moves_bound) + besides_lengths(self.material);
        Preference::Setups {
            patterns: claim(setups.patterns, setups.patterns_bound.into()),
            moves: claim(setups.moves, moves_bound),
        }
    }

    fn answer(&self, problem: Problem, board: Option<&Board<'_>>) -> Searched {
        let name = self.material.name();
        let anywhere = self.anywhere();
        let known = anywhere.as_ref().map_or(0, |(_, answer)| answer.bound);
        let below = self.below.and_then(|below| match below {
            Below::Less(value) => problem.least_cost_of(value),
            Below::AtMost(value) => problem.least_cost_above(value),
        });
        let mut report = |best: Option<i128>, bound: i128| {
            if let Some(board) = board {
                // With joints where they were tried nothing is proven of those elsewhere.
                let bound = if anywhere.is_some() { known } else { bound };
                board.improved(name, &problem, best, bound);
            }
        };
        let answer = match &anywhere {
            Some((_, proven)) if proven.left_over > 0 => None,
            _ => Some(engine::minimise_below(
                &problem.instance,
                known,
                below,
                self.meter(1, Some(&mut report)),
            )),
        };
        match (answer, anywhere) {
            (Some(answer), None) if answer.left_over > 0 && !problem.windows.is_empty() => {
                match self.because_of_courses() {
                    Some(why) => Searched::Settled(Outcome::Impossible(why)),
                    None => Searched::answered(problem, answer, None),
                }
            }
            (Some(answer), Some((proven_on, proven))) => {
                let cost = answer.best.as_ref().map(|(cost, _)| *cost);
                let is_open = cost.is_some_and(|cost| cost > proven.bound);
                let is_rounded = proven_on.step.is_some();
                let better = if is_open && !is_rounded {
                    self.rounded(proven.bound)
                } else {
                    None
                };
                let (proven_on, proven) = better.unwrap_or((proven_on, proven));
                let answer = wherever_joints_fall(&problem, answer, proven);
                Searched::answered(problem, answer, Some(proven_on))
            }
            (Some(answer), None) => Searched::answered(problem, answer, None),
            (None, Some((proven_on, proven))) => {
                Searched::answered(problem, proven, Some(proven_on))
            }
            (None, None) => Searched::Settled(Outcome::Unknown(Stop::Exhausted)),
        }
    }

    /// Whether joints may fall where they were not tried.
    fn is_joined_anywhere(&self) -> bool {
        let runs = self
            .material
            .pieces()
            .iter()
            .filter_map(|piece| piece.run());
        runs.into_iter()
            .any(|run| run.joints() == &Joints::Anywhere)
    }

    /// What holds wherever the joints of runs fall, where there are runs that may be joined anywhere.
    fn anywhere(&self) -> Option<(Problem, Answer)> {
        let problem = Problem::anywhere(self.material)?;
        if problem.is_fine() {
            let answer = engine::by_length_alone(&problem.instance);
            return self.rounded(answer.bound).or(Some((problem, answer)));
        }
        // A part of the time and work: the rest is for a plan.
        let meter = self.meter(SHARE_ANYWHERE, None);
        let answer = engine::minimise(&problem.instance, 0, meter);
        Some((problem, answer))
    }

    /// A better bound that holds wherever the joints fall, if there is one above `known` and time to look: going
    /// through the places takes a tenth of a second, which many materials would each take beyond the limit.
    fn rounded(&self, known: i128) -> Option<(Problem, Answer)> {
        if self.stopped(0).is_some() {
            return None;
        }
        let problem = Problem::rounded(self.material)?;
        let parts = if problem.is_fine() {
            SHARE_FINE
        } else {
            SHARE_ANYWHERE
        };
        let meter = self.meter(parts, None);
        let answer = engine::minimise(&problem.instance, 0, meter);
        (answer.bound > known).then_some((problem, answer))
    }

    /// Whether there is a plan once the rules of courses are left out.
    fn because_of_courses(&self) -> Option<Impossible> {
        let problem = Problem::without_courses(self.material).ok()?;
        engine::minimise(&problem.instance, 0, self.meter(1, None)).best?;
        let in_courses = self.material.pieces().iter().filter_map(|piece| {
            let course = piece.run()?.course()?;
            Some((course.group(), course.first(), piece))
        });
        let (group, _, piece) = in_courses.min_by_key(|&(group, first, _)| (group, first))?;
        let group = self.material.course_groups().get(group)?;
        Some(Impossible::Courses {
            group: group.name().to_owned(),
            rule: group.rule(),
            mark: piece.copy_mark(0),
        })
    }

    /// One part, of so many, of the work that is usual, whatever the clock leaves.
    fn preference_meter(&self, parts: u64) -> Meter<'_> {
        let work = self.limits.work.unwrap_or(DEFAULT_WORK) / parts.max(1);
        Meter::new(work, self.deadline, self.limits.cancel, None)
    }

    /// One part, of so many, of the work and the time that are left.
    fn meter<'m>(
        &'m self,
        parts: u32,
        report: Option<&'m mut dyn FnMut(Option<i128>, i128)>,
    ) -> Meter<'m> {
        let limit = self.work_limit() / u64::from(parts.max(1));
        let deadline = self.deadline.share(parts);
        Meter::new(limit, deadline, self.limits.cancel, report)
    }

    /// The work that may be spent.
    pub fn work_limit(&self) -> u64 {
        let default = if self.limits.time.is_some() {
            u64::MAX
        } else {
            DEFAULT_WORK
        };
        self.work.or(self.limits.work).unwrap_or(default)
    }

    /// Why there is time for no more than a first plan of joints that may fall anywhere, if so. It hangs on the clock,
    /// never on work.
    fn late(&self) -> Option<Stop> {
        if !self.is_joined_anywhere() {
            return None;
        }
        self.stopped(0).filter(|stop| *stop != Stop::WorkLimit)
    }

    /// Why there is nothing more to do once so much work is spent, if so.
    pub fn stopped(&self, spent: u64) -> Option<Stop> {
        if self
            .limits
            .cancel
            .is_some_and(|cancel| cancel.load(Ordering::Relaxed))
        {
            Some(Stop::Cancelled)
        } else if self.deadline.is_past() {
            Some(Stop::TimeLimit)
        } else {
            (spent >= self.work_limit()).then_some(Stop::WorkLimit)
        }
    }
}

/// How many settings there are besides one for each length: more because pieces of one length belong to
/// several stages, fewer because the stop is not set for room for a whole bar.
fn besides_lengths(material: &Material) -> i64 {
    let pieces = material.pieces().iter();
    let pieces = pieces.filter(|piece| piece.run().is_none());
    let pieces = pieces.filter(|piece| is_in_reach(material, piece.shape().length));
    let lengths: BTreeSet<Length> = pieces.clone().map(|piece| piece.shape().length).collect();
    let cut = pieces.filter(|piece| !piece.is_for_bar());
    let settings: BTreeSet<(Length, u64)> = cut
        .map(|piece| (piece.shape().length, piece.stage()))
        .collect();
    let count = |settings: usize| i64::try_from(settings).unwrap_or(0);
    count(settings.len()) - count(lengths.len())
}

/// Whether the stop can be set for a length.
fn is_in_reach(material: &Material, length: Length) -> bool {
    material.stop_reach().is_none_or(|reach| length <= reach)
}

/// The smallest spare on any bar that is cut, as far as it is raised.
fn smallest_spare(material: &Material, cutting: &Cutting) -> Option<Length> {
    let cut = cutting.bars.iter().filter(|group| !group.is_kept_whole());
    let mut least = LARGEST_SPARE;
    for group in cut {
        let between = u64::try_from(group.cuts.len()).ok()?.checked_sub(1)?;
        let mut spare = material.bars().get(group.bar)?.usable();
        spare = spare.checked_sub(material.cut_width().checked_mul(between)?)?;
        for cut in &group.cuts {
            spare = spare.checked_sub(material.takes(cut.shape()))?;
        }
        least = least.min(spare);
    }
    Some(least)
}

/// The setting of the stop for each item; none where it is out of reach.
fn stops(material: &Material, problem: &Problem) -> Vec<Option<u32>> {
    let items = (0_u32..).take(problem.instance.items.len());
    let lengths: Vec<Option<Length>> = items
        .map(|item| Some(problem.shape_of(item)?.length))
        .map(|length| length.filter(|&length| is_in_reach(material, length)))
        .collect();
    let settings: BTreeSet<Length> = lengths.iter().flatten().copied().collect();
    let settings: BTreeMap<Length, u32> = settings.into_iter().zip(0..).collect();
    let number = |length: Option<Length>| settings.get(&length?).copied();
    lengths.into_iter().map(number).collect()
}

/// The plan of one search, with what another proved for it: its joints lie at places that were tried,
/// and nothing less costs less wherever they lie. What the first proved holds at these places alone.
fn wherever_joints_fall(problem: &Problem, found: Answer, proven: Answer) -> Answer {
    let cost = found.best.as_ref().map(|(cost, _)| *cost);
    let packing = found.best.as_ref().map(|(_, packing)| packing);
    let is_closed = cost.is_some_and(|cost| cost <= proven.bound);
    let stop = found.stop.unwrap_or(Stop::JointsTried);
    Answer {
        // No plan with joints at these places does not mean that there is none.
        left_over: 0,
        stop: (!is_closed).then_some(stop),
        tie_settled: packing.is_some_and(|packing| problem.instance.tie_of(packing) == 0),
        best: found.best,
        effort: found.effort,
        ..proven
    }
}

impl Searched {
    /// The same where fewer places for joints were tried than there are to be: nothing is said of all of them.
    fn stopped_by(mut self, by: Stop) -> Searched {
        let stop = match &mut self {
            Searched::Answered(_, answer, ..) => answer.stop.as_mut(),
            Searched::Settled(Outcome::Unknown(stop)) => Some(stop),
            Searched::Settled(_) | Searched::Chosen(_) => None,
        };
        if let Some(stop) = stop.filter(|stop| **stop == Stop::JointsTried) {
            *stop = by;
        }
        self
    }

    fn answered(problem: Problem, answer: Answer, proven_on: Option<Problem>) -> Searched {
        let proven_on = proven_on.map(Box::new);
        Searched::Answered(
            Box::new(problem),
            Box::new(answer),
            proven_on,
            Preference::AsFound,
        )
    }

    /// Bars with names and pieces with marks.
    pub fn lay_out(self, material: &Material, names: &mut BarNames) -> (Outcome, Effort) {
        let (problem, mut answer, proven_on, preference) = match self {
            Searched::Settled(outcome) => return (outcome, Effort::default()),
            Searched::Answered(problem, answer, proven_on, preference) => {
                (problem, answer, proven_on, preference)
            }
            Searched::Chosen(chosen) => return chosen.lay_out(names),
        };
        let proven_on = proven_on.as_deref().unwrap_or(&problem);
        let Some((cost, packing)) = answer.best.take() else {
            return (without_plan(&answer), answer.effort);
        };
        let outcome = match lay_out(material, &problem, &packing, names) {
            Some(layout) => planned(material, (&problem, proven_on), &answer, cost, layout),
            None => Outcome::Unknown(Stop::CostsTooFine),
        };
        let outcome = with_preference(material, outcome, preference);
        (outcome, answer.effort)
    }
}

/// The plan with what was made good. How often the stop is set also depends on the stages, and pieces that
/// are bound to different batches are cut in one way.
pub(crate) fn with_preference(
    material: &Material,
    outcome: Outcome,
    mut preference: Preference,
) -> Outcome {
    let Outcome::Planned(cutting) = outcome else {
        return outcome;
    };
    match &mut preference {
        Preference::Setups { patterns, moves } => {
            let ways: HashSet<_> = cutting.bars.iter().map(BarGroup::pattern).collect();
            patterns.found = ways.len() as u64; // widening on every platform
            let settings = cutting.stop_settings().into_iter();
            let settings = settings.filter(|setting| is_in_reach(material, setting.length));
            moves.found = settings.count() as u64; // widening on every platform
        }
        Preference::Offcuts { spare, .. } => {
            // A piece as long as a bar may lie where the room for one was put, or the other way round.
            let found = smallest_spare(material, &cutting).unwrap_or(spare.found);
            if found != spare.found {
                *spare = Claim { found, bound: None };
            }
        }
        Preference::AsFound => {}
    }
    Outcome::Planned(Box::new(Cutting {
        preference,
        ..*cutting
    }))
}

fn planned(
    material: &Material,
    (laid_out_on, problem): (&Problem, &Problem),
    answer: &Answer,
    cost: i128,
    layout: Layout,
) -> Outcome {
    let bound = problem.value(answer.bound);
    let value = if material.is_priced() {
        money(material, &layout).map(Value::Money)
    } else {
        Some(Value::Bought(layout.figures.bought))
    };
    let (Some(value), Some(bound)) = (value, bound) else {
        return Outcome::Unknown(Stop::CostsTooFine);
    };
    let proof = match answer.stop {
        None if answer.bound >= cost => Proof::Optimal,
        stop => Proof::Gap(stop.unwrap_or(Stop::Exhausted)),
    };
    let hand_proof = if answer.tie_settled {
        Proof::Optimal
    } else {
        Proof::Gap(Stop::Exhausted)
    };
    let certificate = certificate(material, (laid_out_on, problem), answer);
    Outcome::Planned(Box::new(Cutting {
        proof,
        value,
        bound,
        buy: layout.buy,
        bars: layout.bars,
        uncut: layout.uncut,
        figures: layout.figures,
        hand_proof,
        walls: None,
        preference: Preference::AsFound,
        certificate,
    }))
}

/// The places where joints were tried of a material without its plan.
pub(crate) fn tried_places(material: &Material) -> Vec<TriedPlaces> {
    let problem = Problem::new(material);
    problem.map_or_else(|_| Vec::new(), |problem| tried(material, &problem))
}

pub(super) fn tried(material: &Material, problem: &Problem) -> Vec<TriedPlaces> {
    let of_kind = |kind: &RunOfKind| {
        let &(place, ..) = kind.copies.first()?;
        let piece = material.pieces().get(place)?;
        let is_anywhere = piece.run()?.joints() == &Joints::Anywhere;
        let inside = kind.places.len().saturating_sub(2);
        is_anywhere.then(|| TriedPlaces {
            mark: piece.mark().to_owned(),
            places: kind.places.iter().copied().skip(1).take(inside).collect(),
        })
    };
    problem.runs.iter().filter_map(of_kind).collect()
}

/// What the engine proved, in terms of the job.
pub(super) fn certificate(
    material: &Material,
    (laid_out_on, problem): (&Problem, &Problem),
    answer: &Answer,
) -> Certificate {
    let in_order = |prices: &[i64]| -> Vec<i64> {
        let (windows, shapes) = prices.split_at(problem.windows.len().min(prices.len()));
        let (shapes, anywhere) = shapes.split_at(problem.shapes.len().min(shapes.len()));
        [shapes, windows, anywhere].concat()
    };
    let prices = in_order(&answer.prices);
    let of_shapes = problem.shapes.iter().copied().zip(prices.iter().copied());
    let rest = prices.iter().copied().skip(problem.shapes.len());
    let of_windows = problem.windows.iter().copied().zip(rest);
    let by_length = problem.unit.zip(prices.last().copied());
    let by_length = by_length.map(|(unit, price)| Anywhere::ByLength { unit, price });
    let rounded = problem.step.map(|step| Anywhere::Rounded { step });
    let refutations = answer.proof.refutations.iter();
    let refutations = refutations.map(|refutation| in_order(&refutation.prices));
    let bars = material.bars().len();
    let searched = answer.proof.exhausted.iter().map(|exhausted| {
        let mix = exhausted.mix.iter().take(bars);
        SearchedMix {
            bars: mix.map(|&bars| u64::from(bars)).collect(),
            patterns: exhausted.patterns,
            nodes: exhausted.nodes,
        }
    });
    let splits = answer.proof.splits.iter().map(|split| {
        split.map(|(kind, at)| MixSplit {
            bar: kind as usize, // u32 into usize
            at: u64::from(at),
        })
    });
    Certificate {
        tried: tried(material, laid_out_on),
        scale: answer.scale,
        prices: of_shapes.collect(),
        windows: of_windows.collect(),
        anywhere: by_length.or(rounded),
        mixes: MixProof {
            refutations: refutations.collect(),
            searched: searched.collect(),
            splits: splits.collect(),
        },
        combinations: Vec::new(),
    }
}

/// No plan was found: because there is none, or because the search ended.
pub(super) fn without_plan(answer: &Answer) -> Outcome {
    match u64::try_from(answer.left_over) {
        Ok(left_over) if left_over > 0 => {
            Outcome::Impossible(Impossible::NotEnoughBars { left_over })
        }
        _ => Outcome::Unknown(answer.stop.unwrap_or(Stop::Exhausted)),
    }
}
