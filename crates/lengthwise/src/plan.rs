//! What is answered: what to buy, how to cut it, what is left, and how good it is.
//!
//! A plan is plain data. Everything in it can be recomputed from the job, and
//! [`verify`](crate::verify::verify) does so.

use std::cmp::Reverse;
use std::collections::{BTreeMap, HashMap};

use rust_decimal::Decimal;
#[cfg(feature = "serde")]
use serde::{Deserialize, Serialize};

use crate::job::{CourseRule, Ends, Material, Shape, Sold, Supply};
use crate::length::{Length, Unit};
use crate::price::Price;

/// The answer to a job: one entry per material, in the order of the job.
///
/// ```
/// use lengthwise::{JobInput, Length, Limits, Origin, Unit, job::*, plan::{Outcome, Value}, solve};
/// let at = |line| Origin { source: "racks".into(), line };
/// let rail = PieceRow { qty: 14.into(), ..PieceRow::new(at(2), Length::parse("1240", Unit::Mm)?) };
/// let batten = StockRow::new(at(2), Length::parse("4.2m", Unit::Mm)?);
/// let job = JobInput { pieces: vec![rail], stock: vec![batten], ..JobInput::default() }.validate()?;
/// for material in solve(&job, &Limits::default()).materials {
///     match material.outcome {
///         Outcome::Planned(cutting) => {
///             assert_eq!(cutting.value, Value::Bought(Length::from_mm(21_000)));
///             let bars = cutting.bars.iter().map(|group| group.names.len());
///             assert_eq!(bars.sum::<usize>(), 5);
///         }
///         Outcome::Impossible(why) => println!("proven to have no plan: {why:?}"),
///         Outcome::Unknown(stop) => println!("nothing found before {stop:?}"),
///     }
/// }
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct Plan {
    /// The materials.
    pub materials: Vec<MaterialPlan>,
}

/// The answer for one material.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct MaterialPlan {
    /// The material's name, as in the job.
    pub name: String,
    /// The unit to print lengths in.
    pub unit: Unit,
    /// The width of the blade.
    pub kerf: Length,
    /// The error reserve for each cut.
    pub per_cut: Length,
    /// What came out.
    pub outcome: Outcome,
    /// How much work it took.
    pub effort: Effort,
}

/// What came out for one material.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
pub enum Outcome {
    /// There is a plan.
    Planned(Box<Cutting>),
    /// It is proven that there is none.
    Impossible(Impossible),
    /// The search stopped before it found a plan or proved that there is none.
    Unknown(Stop),
}

/// A plan for one material.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct Cutting {
    /// How good it is.
    pub proof: Proof,
    /// What was made as small as possible: see [`Value`].
    pub value: Value,
    /// No plan can do better than this; at most `value`.
    pub bound: Value,
    /// What to buy.
    pub buy: Vec<Purchase>,
    /// The bars to cut, bars cut alike together.
    pub bars: Vec<BarGroup>,
    /// Bars that stay whole: in hand and not needed, or left over from a pack, or bought for a price break.
    pub uncut: Vec<UncutBars>,
    /// Where the length goes.
    pub figures: Figures,
    /// Whether no plan of the same value cuts into less length from hand.
    pub hand_proof: Proof,
    /// The batches of walls, where there was a choice.
    pub walls: Option<WallBatches>,
    /// What was made good among plans of the same value that cut into as little from hand.
    pub preference: Preference,
    /// Whole-number prices that prove a bound: see [`Certificate`].
    pub certificate: Certificate,
}

/// How good a plan is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[non_exhaustive]
pub enum Proof {
    /// Nothing cheaper exists, on the strength of whole-number arithmetic.
    Optimal,
    /// It may be beaten, down to the bound at most.
    Gap(Stop),
}

/// Why a search ended without a proof.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[non_exhaustive]
pub enum Stop {
    /// The default limit, a count of work, was reached.
    WorkLimit,
    /// The clock ran out.
    TimeLimit,
    /// The caller cancelled.
    Cancelled,
    /// Everything that is built was tried.
    Exhausted,
    /// Prices or lengths have so many digits that their sums would not stay exact.
    CostsTooFine,
    /// Nothing cheaper exists with joints at the places that were tried; they may fall anywhere, and
    /// what holds for all places is the bound.
    JointsTried,
}

/// What was made good among plans of the same value that cut into as little from hand, and how far it is
/// proven that no such plan does better. Which it is, [`Material::prefer`](crate::job::Material::prefer)
/// says.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
#[non_exhaustive]
pub enum Preference {
    /// Nothing was: the plan is as it was found.
    #[default]
    AsFound,
    /// See [`Prefer::Offcuts`](crate::job::Prefer::Offcuts).
    Offcuts {
        /// The smallest spare on any bar cut, bars kept whole left out: what its pieces and the cuts between them leave of its
        /// usable length. More than [`LARGEST_SPARE`] counts as that.
        spare: Claim<Length>,
        /// The longest offcuts, the longest first, without what is rough at their far ends. Of each the
        /// claim is about plans in which those before it are as long as here. Offcuts that are not listed
        /// are as they were found.
        offcuts: Vec<Claim<Length>>,
        /// Whether the claims are only about plans that cut as many bars of each kind: where bars come in
        /// packs or for nothing, others may cut one more.
        same_bars: bool,
    },
    /// See [`Prefer::Setups`](crate::job::Prefer::Setups).
    Setups {
        /// How many ways of cutting a bar there are: kinds of bar, and the lengths that come off each.
        patterns: Claim<u64>,
        /// How often the stop is set.
        moves: Claim<u64>,
    },
}

/// The most that the smallest spare on a bar is raised to: 5 mm.
pub const LARGEST_SPARE: Length = Length::from_mm(5);

/// A figure of the plan, and what it is proven to be at best.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct Claim<T> {
    /// The figure of the plan.
    pub found: T,
    /// No plan of the same value that cuts into as much from hand has a better one than this; equal to
    /// `found` where the plan's is the best of these. `None` where nothing is proven.
    pub bound: Option<T>,
}

impl<T: PartialEq> Claim<T> {
    /// Whether the figure is proven to be the best.
    ///
    /// ```
    /// use lengthwise::plan::Claim;
    /// assert!(Claim { found: 4, bound: Some(4) }.is_proven());
    /// assert!(!Claim { found: 4, bound: Some(3) }.is_proven());
    /// assert!(!Claim { found: 4, bound: None }.is_proven());
    /// ```
    pub fn is_proven(&self) -> bool {
        self.bound.as_ref() == Some(&self.found)
    }
}

/// What a plan is judged by.
///
/// With prices: money for what is bought plus the worth of what is used from hand.
/// Without: the length bought.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
pub enum Value {
    /// Money.
    Money(Price),
    /// Bought length.
    Bought(Length),
}

/// A line of the buying list.
#[derive(Clone, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct Purchase {
    /// The kind of bar: its place in [`Material::bars`](crate::job::Material::bars).
    pub bar: usize,
    /// The length of one bar.
    pub length: Length,
    /// What one sale is.
    pub sold: Sold,
    /// How many bars come with the purchase; a multiple of the pack. More than are cut and packs take
    /// where a price break makes so many cost less.
    pub bars: u64,
    /// How many sales: bars, packs, or bars again where they are sold by the metre.
    pub sales: u64,
    /// The price of the stock row that holds for so many; of a metre, where bars are sold by it.
    pub price: Option<Price>,
    /// What the line costs.
    pub cost: Option<Price>,
}

/// Bars cut alike.
#[derive(Clone, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct BarGroup {
    /// One name per bar: `A1`, `A2`, ... No two bars of a job share a name.
    pub names: Vec<String>,
    /// The kind of bar: its place in [`Material::bars`](crate::job::Material::bars).
    pub bar: usize,
    /// The length of the whole bar.
    pub stock: Length,
    /// Whether the bars are in hand.
    pub in_hand: bool,
    /// The cuts, in the order in which they are made, from the squared near end.
    pub cuts: Vec<Cut>,
    /// What the saw takes of each bar, the reserve included.
    pub blade: Length,
    /// How much of `blade` is the error reserve.
    pub reserve: Length,
    /// What falls away as squaring of each bar.
    pub square: Length,
    /// What is left of each bar; zero for nothing.
    pub offcut: Length,
    /// How much of the offcut's far end is still rough.
    pub offcut_rough: Length,
    /// Whether the offcut is long enough to be saved.
    pub saved: bool,
}

impl BarGroup {
    /// What the saw does to each of the bars, whatever the order: the kind of bar, and the shapes that come
    /// off it, sorted.
    pub fn pattern(&self) -> (usize, Vec<Shape>) {
        let mut shapes: Vec<Shape> = self.cuts.iter().map(Cut::shape).collect();
        shapes.sort_unstable();
        (self.bar, shapes)
    }

    /// Whether the bars stay whole, as room for one that turns out bad.
    pub fn is_kept_whole(&self) -> bool {
        self.cuts.iter().all(|cut| cut.for_bar)
    }
}

/// One cut, the same on every bar of its group.
#[derive(Clone, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct Cut {
    /// The length of the piece, which is the setting of the stop; of mitred ends, to the long points.
    pub length: Length,
    /// The angles of its ends.
    pub ends: Ends,
    /// The mark of the piece, one per bar of the group.
    pub marks: Vec<String>,
    /// Whether the piece is a spare.
    pub spare: bool,
    /// Whether it is no cut at all but room for a whole bar that may turn out bad.
    pub for_bar: bool,
    /// Which stage of the work the piece belongs to, from 1; never less than of the cut before, but of
    /// spares, which come last.
    pub stage: u64,
    /// What it is of a run, one per bar of the group; empty where the piece has no joints. Within a
    /// group only the copies differ.
    pub parts: Vec<RunPart>,
}

impl Cut {
    /// Length and ends together.
    pub fn shape(&self) -> Shape {
        Shape {
            batch: None,
            length: self.length,
            ends: self.ends,
        }
    }
}

/// A part of a run: where it lies, and what it is joined on.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct RunPart {
    /// The mark of the row, with `-spare` behind it for its spares.
    pub mark: String,
    /// Which copy of those with this mark, from 1: as in the marks, where there are several.
    pub copy: u64,
    /// Which part, from 1, counted from the left.
    pub part: u32,
    /// How many parts there are; 1 where the run is not parted.
    pub of: u32,
    /// Where it begins, on the opening of the run: 0, or the joint on its left.
    pub from: Length,
    /// Where it ends: the joint on its right, or the end of the opening. The part itself is shorter by
    /// the gaps at the ends of the run and by its half of those at the joints.
    pub to: Length,
    /// The number of the support that the joint at `from` lies on, counted from 1 and from the left
    /// over the places that the rule of the run gives; `None` at the end of the run, and where joints
    /// may fall anywhere.
    pub from_support: Option<u32>,
    /// The same of the joint at `to`.
    pub to_support: Option<u32>,
}

/// Bars that stay whole.
#[derive(Clone, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct UncutBars {
    /// The kind of bar: its place in [`Material::bars`](crate::job::Material::bars).
    pub bar: usize,
    /// The length of one bar.
    pub length: Length,
    /// How many.
    pub count: u64,
    /// Whether they are in hand already; otherwise they come with a pack, or were bought because so many
    /// cost less.
    pub in_hand: bool,
}

impl UncutBars {
    /// Bars in hand that no group cuts, and what is left of packs and of price breaks. `None` where a group is
    /// of a kind of bar that the material does not have.
    pub fn of(material: &Material, buy: &[Purchase], bars: &[BarGroup]) -> Option<Vec<UncutBars>> {
        let mut cut = vec![0_u64; material.bars().len()];
        for group in bars {
            let names = u64::try_from(group.names.len()).ok()?;
            let cut = cut.get_mut(group.bar)?;
            *cut = cut.checked_add(names)?;
        }
        let mut bought: HashMap<usize, u64> = HashMap::new();
        for line in buy {
            bought.entry(line.bar).or_insert(line.bars);
        }
        let kinds = material.bars().iter().zip(cut).enumerate();
        let uncut = kinds.filter_map(|(kind, (bar, cut))| {
            let there = match bar.supply() {
                Supply::InHand { available, .. } => available,
                Supply::Bought { .. } => bought.get(&kind).copied().unwrap_or(0),
            };
            let count = there.saturating_sub(cut);
            (count > 0).then_some(UncutBars {
                bar: kind,
                length: bar.length(),
                count,
                in_hand: bar.is_in_hand(),
            })
        });
        Some(uncut.collect())
    }
}

/// Where the length goes. Over all bars, cut and uncut:
/// total = needed + blade + square + saved + waste.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct Figures {
    /// The length bought.
    pub bought: Length,
    /// The length of all bars, bought and in hand, cut and uncut.
    pub total: Length,
    /// The length of the bars that are cut into.
    pub cut_into: Length,
    /// The length of the bars in hand that are cut into.
    pub hand_cut_into: Length,
    /// The length of the pieces: on the wall, but for the spares.
    pub needed: Length,
    /// How much of `needed` is spares.
    pub spare: Length,
    /// What the saw takes, the reserve included.
    pub blade: Length,
    /// How much of `blade` is the error reserve.
    pub reserve: Length,
    /// What falls away as squaring.
    pub square: Length,
    /// Saved offcuts, and bars that stay whole.
    pub saved: Length,
    /// Offcuts too short to save: to the skip.
    pub waste: Length,
}

/// The longest of the earliest stage is the greatest.
type StageAndLength = (Reverse<u64>, Length);
/// For each setting the bars of which one of its blocks is next: their place, and how many cuts.
type NextBlocks = BTreeMap<StageAndLength, Vec<(usize, usize)>>;

/// A setting of the saw's stop.
#[derive(Clone, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct StopSetting {
    /// The stage of the work.
    pub stage: u64,
    /// The distance from the squared end: the length of the pieces.
    pub length: Length,
    /// What is cut with it: the place of the bars in [`Cutting::bars`], and how many cuts on each.
    pub cuts: Vec<(usize, usize)>,
}

impl Cutting {
    /// How the stop is set while all bars are cut, in order: at each setting every bar is cut that has such
    /// a piece next. A stage is finished before the next begins; where bars leave a choice, the longest goes
    /// next. Each setting of a stage is made once, unless the bars call for one length before another and
    /// after it.
    ///
    /// ```
    /// use lengthwise::{Job, JobInput, Length, Limits, Origin, Unit, job::*, solve};
    /// let at = |line| Origin { source: "example".into(), line };
    /// let long = PieceRow { qty: 3.into(), ..PieceRow::new(at(2), Length::parse("1400", Unit::Mm)?) };
    /// let short = PieceRow::new(at(3), Length::parse("120", Unit::Mm)?);
    /// let job = JobInput {
    ///     pieces: vec![long, short],
    ///     stock: vec![StockRow::new(at(2), Length::parse("3m", Unit::Mm)?)],
    ///     ..JobInput::default()
    /// }
    /// .validate()?;
    /// let plan = solve(&job, &Limits::default());
    /// # let lengthwise::plan::Outcome::Planned(cutting) = &plan.materials[0].outcome else { panic!() };
    /// let settings = cutting.stop_settings();
    /// assert_eq!(settings.len(), 2);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn stop_settings(&self) -> Vec<StopSetting> {
        let of = |cut: &Cut| (Reverse(cut.stage), cut.length);
        let mut bars: Vec<_> = self
            .bars
            .iter()
            .map(|bars| {
                let is_cut = |cuts: &&[Cut]| cuts.first().is_some_and(|cut| !cut.for_bar);
                let alike =
                    |one: &Cut, next: &Cut| of(one) == of(next) && one.for_bar == next.for_bar;
                bars.cuts.chunk_by(alike).filter(is_cut)
            })
            .collect();
        // How many blocks of cuts a setting still has, and on which bars one of them is next.
        let mut blocks: HashMap<StageAndLength, usize> = HashMap::new();
        let mut next = NextBlocks::new();
        for cuts in bars.iter().flat_map(Clone::clone) {
            if let Some(cut) = cuts.first() {
                *blocks.entry(of(cut)).or_default() += 1;
            }
        }
        for (place, blocks) in bars.iter_mut().enumerate() {
            push_block(&mut next, place, blocks.next());
        }
        let mut settings = Vec::new();
        loop {
            let all_next = |&(setting, cuts): &(&StageAndLength, &Vec<(usize, usize)>)| {
                blocks.get(setting) == Some(&cuts.len())
            };
            let free = next.iter().rev().find(all_next);
            let Some((&setting, _)) = free.or(next.last_key_value()) else {
                return settings;
            };
            let cuts = next.remove(&setting).unwrap_or_default();
            if let Some(blocks) = blocks.get_mut(&setting) {
                *blocks -= cuts.len();
            }
            for &(place, _) in &cuts {
                push_block(
                    &mut next,
                    place,
                    bars.get_mut(place).and_then(Iterator::next),
                );
            }
            let (Reverse(stage), length) = setting;
            settings.push(StopSetting {
                stage,
                length,
                cuts,
            });
        }
    }
}

/// Notes the next block of cuts of a bar.
fn push_block(next: &mut NextBlocks, place: usize, block: Option<&[Cut]>) {
    if let Some((cut, count)) = block.and_then(|block| Some((block.first()?, block.len()))) {
        let cuts = next.entry((Reverse(cut.stage), cut.length)).or_default();
        cuts.push((place, count));
    }
}

impl Figures {
    /// Adds up what is bought, cut and left; `None` where a sum would leave the range of exact lengths.
    pub fn of(buy: &[Purchase], bars: &[BarGroup], uncut: &[UncutBars]) -> Option<Figures> {
        fn add(sum: &mut Length, length: Length, count: u64) -> Option<()> {
            *sum = sum.checked_add(length.checked_mul(count)?)?;
            Some(())
        }
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
                if cut.spare {
                    add(&mut figures.spare, cut.length, count)?;
                }
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

    /// The share of the bars cut into that ends up on the wall, from 0 to 1, to four decimals.
    ///
    /// ```
    /// use lengthwise::{Length, plan::Figures};
    /// let mm = Length::from_mm;
    /// let figures = Figures { cut_into: mm(21_000), needed: mm(17_360), ..Figures::default() };
    /// assert_eq!(figures.yield_share().to_string(), "0.8267");
    /// ```
    pub fn yield_share(&self) -> Decimal {
        let cut = Decimal::from(self.cut_into.nm());
        Decimal::from(self.needed.nm())
            .checked_div(cut)
            .unwrap_or_default()
            .round_dp(4)
    }
}

/// Whole-number prices that prove a lower bound, checkable with one knapsack per kind of bar.
///
/// Costs are counted in whole numbers: take what one sale of each kind of bar costs (its price in
/// the smallest decimal present, or its length in nanometres without prices; the worth of a bar in
/// hand, zero without prices), multiply by the least common multiple N of the bars per sale and
/// divide by the bars of that sale, so that each kind of bar has a whole cost per bar; divide all by
/// their greatest common divisor, giving `c_s`.
///
/// With `p_i` the price of a piece of distinct shape `i`, `d_i` how many are needed, `V_s` the
/// largest total price of pieces (at most `d_i` of each) that fit on one bar of kind `s`, and `b_s`
/// the bars available of a limited kind: where `V_s <= scale * c_s` for every kind without limit,
/// every plan costs at least
/// `(sum d_i p_i - sum over limited s of b_s max(0, V_s - scale * c_s)) / scale`
/// of these units, rounded up to a whole number of them; and, since whole sales are bought, up to
/// a multiple of the greatest common divisor of what one sale of each kind costs in these units.
///
/// **Runs** whose joints have places. The shapes are then those of all pieces without joints and of
/// all parts of all splits that the rules allow a run; `d_i` counts the pieces only. A copy `j` of a
/// run is worth `mu_j`, the least over its splits of what their parts are priced at, and a pattern
/// holds at most `d_i` of a shape plus, over all runs, the most of it in one split times the copies.
/// The splits of a run: its joints lie on its places, every part has at least the shortest length and
/// fits a bar that can be had, and there are at most `n` joints. `n` is `joints_max`, or else the
/// fewest joints of any split whose parts fit a bar without limit; if there is none such, of any split.
///
/// **Courses.** [`Certificate::windows`] has prices `t_w`. A split of a run pays, besides its parts,
/// `t_w` for each window of its course in which it has a joint on the window's place; and with `a` the
/// joints that the rule of the group allows, less those of the window's courses that are laid already,
/// `a t_w` goes off the sum, for each window.
///
/// **Joints anywhere**, rounded. Such a run is treated like one with places: the first is where the
/// shortest part would end that lies at the left end, the others follow a step apart, as far as they leave
/// room for the shortest part at the right end. A joint stands for itself and all places before the next:
/// so a part that begins at a joint is as long as it is from there, less the step, but at least as long
/// as the shortest part; and where a step more would not make it longer than that, there is none. Its splits and its `n` are otherwise as above; `n` is that of the run as it is,
/// not rounded.
///
/// **Joints anywhere**, by length: [`Certificate::anywhere`] gives the price `r`
/// of one unit. A pattern is then worth its pieces and `r` for each whole unit of the bar that they and
/// their cuts leave, the last cut lent as ever, but for no more units than these runs take; all these runs together are worth `r` for every unit,
/// begun ones counted, of the least that they take: the sum over their copies of the least, over the
/// numbers of joints allowed, of their parts with one cut for each part and with what mitred ends take.
/// But where only one number of joints `n` is allowed, each of the `n + 1` parts is at least as long as
/// the shortest part, and as what full parts in place of all others leave of their sum: those lengths
/// count as pieces of their shapes (one of the first, `n - 1` between, one of the last part), each
/// with its cut like any piece, and only what the sum of the parts exceeds them by is taken by length.
///
/// In short, every plan costs at least `(sum d_i p_i + sum mu_j - sum a t_w + runs anywhere - excess of
/// limited bars) / scale`.
///
/// Source: linear-programming duality as used by Gilmore & Gomory (1961); safe bounds from rounded
/// prices as in Held, Cook & Sewell (2012). Both from memory.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct Certificate {
    /// What one unit of cost counts in prices, at least 1.
    pub scale: i64,
    /// The price of each distinct shape, none negative: first those that take most of a bar, their
    /// mitred ends included, then by decreasing [`Shape`].
    pub prices: Vec<(Shape, i64)>,
    /// The price of a joint on one place within one window of courses, none negative.
    pub windows: Vec<(Window, i64)>,
    /// How the runs whose joints may fall anywhere are counted; `None` without such runs.
    pub anywhere: Option<Anywhere>,
    /// Where joints were tried of the runs whose joints may fall anywhere: a function of the job alone, but
    /// fewer where the time was over before the material was begun. Of all plans with their joints there the
    /// plan is the cheapest, where its proof is `Optimal` or stopped by [`Stop::JointsTried`]; nothing that is
    /// proven rests on them.
    pub tried: Vec<TriedPlaces>,
    /// What raises the bound beyond what these prices prove by themselves, and what proves that
    /// no plan of equal value cuts into less from hand.
    pub mixes: MixProof,
    /// Where bars have price breaks or walls a choice of batches, the combinations of prices and batches,
    /// each with a certificate of its own; the prices above are empty then. Empty without either.
    pub combinations: Vec<Combination>,
}

/// A certificate at one choice of prices, and of batches for walls.
///
/// With `p_0` the price of a row and `p_t` that of its break from `m_t` sales on, `n` sales cost the least
/// of `p_0 n` and all `p_t max(n, m_t)`: more may be bought than is cut. So the least cost of all is the
/// least over all choices of one price for each kind of bar with breaks, and at one choice the problem is
/// an ordinary one: `p_t m_t` is paid beforehand, `m_t` sales cost nothing more, further ones `p_t` each.
/// They stand in it as two kinds of bar: the one with its price and what is available beyond `m_t`, in its
/// place; and one of `m_t` sales without cost after all kinds of the material, in the order of these. Bars
/// sold by the metre are counted singly, `m_t` rounded up to whole bars.
///
/// A kind may be left open: it counts then at the lowest of its prices that can be had, with nothing paid
/// beforehand, which no choice for it undercuts. Prices from more than can be had are left out, and so is
/// every price that another holds from as few bars and is lower.
///
/// The combinations of a certificate cover every choice. The bound of the plan is the least of theirs, or
/// what the plan comes to where that is less.
#[derive(Clone, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct Combination {
    /// For each of [`Material::bars`](crate::job::Material::bars) its price: 0 for that of the row, then its
    /// breaks from 1 on; `None` where it is left open, and for bars without breaks.
    pub prices: Vec<Option<usize>>,
    /// For each of [`Material::open_walls`](crate::job::Material::open_walls) its batch, a place in
    /// [`Material::batches`](crate::job::Material::batches); `None` where it is left open.
    pub walls: Vec<Option<usize>>,
    /// What is proven of the plans that are covered.
    pub least: Least,
    /// The certificate of the ordinary problem, for the bound less what is paid beforehand. Its mixes count
    /// the kinds of bar of that problem. It has no combinations itself.
    pub certificate: Certificate,
}

/// What is proven of the plans that a [`Combination`] covers.
#[derive(Clone, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
pub enum Least {
    /// None comes to less, with what is paid beforehand.
    AtLeast(Value),
    /// There is none.
    NoPlan(Impossible),
}

/// The batch of a wall.
#[derive(Clone, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct WallBatch {
    /// The wall.
    pub wall: String,
    /// The batch, as in [`Material::batches`](crate::job::Material::batches): empty for bars that name none.
    pub batch: String,
}

/// Walls that come from one batch each, where bars are of several.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct WallBatches {
    /// Every wall for which a batch had to be found, in the order of the pieces.
    pub walls: Vec<WallBatch>,
    /// What plans come to whose walls may be of several batches: the best one found, and what none
    /// undercuts. What keeping to one batch costs is the value of the plan less this.
    pub without: Claim<Value>,
}

/// The places where the joints of a run were tried that may fall anywhere.
#[derive(Clone, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct TriedPlaces {
    /// The mark of the row; of the first, where several rows have the same rules.
    pub mark: String,
    /// From the left end, rising.
    pub places: Vec<Length>,
}

/// One place for joints in courses that follow each other, of which the rule of their group allows only
/// so many to be joined there.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct Window {
    /// The group: its place in [`Material::course_groups`](crate::job::Material::course_groups).
    pub group: usize,
    /// The number of the first course. The others follow in the order of the courses there are, as
    /// many as the rule speaks of, or as are left.
    pub first: u64,
    /// Where the joint lies, from the left end of the runs.
    pub place: Length,
}

/// How runs whose joints may fall anywhere are counted, so that what is proven holds wherever they fall.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub enum Anywhere {
    /// By their length.
    ByLength {
        /// Above zero; divides what every shape takes of a bar, its cut included, and the usable length
        /// of every bar with one cut.
        unit: Length,
        /// The price of a unit, not negative.
        price: i64,
    },
    /// By parts between joints that are rounded down to places so far apart; above zero, and at most the
    /// shortest part and the gap at a joint of every such run together.
    Rounded {
        /// From one place to the next.
        step: Length,
    },
}

/// Why no cheaper mix of bars holds everything.
///
/// A mix is a number of bars to cut of each kind, its cost that of the whole sales that bring them.
/// Only mixes that take every bar without cost need a reason, and only those whose cost is at least
/// the bound that the prices of the certificate prove and less than the bound claimed; and none with more
/// bars of a kind than pieces, parts of runs and units of length are counted, each as often as any plan may
/// need it, nor than any plan has pieces. Each is refuted in one of two ways:
/// - by prices: with `p_i`, `d_i` and `V_s` as in [`Certificate`], a mix with `n_s` bars of each kind
///   does not hold everything where `sum n_s V_s < sum d_i p_i`;
/// - by a search that was exhausted: every pattern that the mix could use was enumerated and every
///   branch closed. The same then holds for every mix whose bars can be matched one to one with bars of
///   the searched mix that are at least as long in use. This has to be taken on trust or done again.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct MixProof {
    /// Sets of prices that refute mixes: one price for each of [`Certificate::prices`], then one for each
    /// of [`Certificate::windows`], then that of a unit if [`Certificate::anywhere`] counts by length. What all
    /// pieces and runs are worth by them takes the place of `sum d_i p_i`.
    pub refutations: Vec<Vec<i64>>,
    /// Mixes refuted by search.
    pub searched: Vec<SearchedMix>,
    /// Where the mixes are too many to go through one by one: how they were split into boxes, each
    /// refuted as a whole or holding few. In preorder, the box of fewer sales first; `None` for a box
    /// that was not split. Empty where there was no need. A guide for checking, no reason by itself.
    pub splits: Vec<Option<MixSplit>>,
}

/// Where a box of mixes was split: at most `at` sales of a kind of bar on one side, more on the other.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct MixSplit {
    /// The kind of bar: its place in [`Material::bars`](crate::job::Material::bars).
    pub bar: usize,
    /// Sales: bars, or packs where the kind is sold in packs.
    pub at: u64,
}

/// A mix of bars that was found to hold not everything by an exhausted search.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct SearchedMix {
    /// Bars of each kind, in the order of [`Material::bars`](crate::job::Material::bars).
    pub bars: Vec<u64>,
    /// Patterns that were enumerated.
    pub patterns: u64,
    /// Nodes that were looked at.
    pub nodes: u64,
}

/// Why there is no plan.
#[derive(Clone, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
#[non_exhaustive]
pub enum Impossible {
    /// A piece that no usable bar holds.
    PieceTooLong {
        /// Its mark.
        mark: String,
        /// Its length.
        length: Length,
        /// What it takes of a bar by itself: its length, and what its mitred ends take.
        takes: Length,
        /// The longest usable length of any bar that it may be cut from, and the bar's whole length; `None`
        /// without bars.
        longest: Option<(Length, Length)>,
        /// How many rows are too long in all.
        rows: usize,
    },
    /// A run for which the rules leave no split.
    NoSplit {
        /// The mark of its first copy.
        mark: String,
        /// The length of its opening.
        length: Length,
        /// The rule that stands in the way.
        rule: SplitRule,
        /// The longest usable length of any bar, and the bar's whole length; `None` without bars.
        longest: Option<(Length, Length)>,
        /// How many rows have no split in all.
        rows: usize,
    },
    /// Courses that cannot be joined as the rule of their group wants it, whatever the bars; without
    /// the rule there is a plan.
    Courses {
        /// The name of the group; of the first, if there are several.
        group: String,
        /// Its rule.
        rule: CourseRule,
        /// The mark of the run in its first course.
        mark: String,
    },
    /// Less length than the pieces and their cuts take.
    NotEnoughLength {
        /// What the pieces and the cuts between them take at the least; [`Length::MAX`] for more than that.
        needed: Length,
        /// What all usable bars have; [`Length::MAX`] for more than that.
        available: Length,
    },
    /// There are plans, but none in which each wall comes from one batch.
    Walls {
        /// How many walls there are for which a batch has to be found.
        walls: usize,
    },
    /// However the bars are cut, so many pieces or more are left over.
    NotEnoughBars {
        /// At least so many pieces stay uncut.
        left_over: u64,
    },
}

/// What leaves a run without a split.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
#[non_exhaustive]
pub enum SplitRule {
    /// It would take more joints than allowed.
    JointsMax {
        /// So many are allowed.
        most: u64,
        /// So many it takes.
        needed: u64,
    },
    /// There are splits, but all have a part that is too short.
    Shortest {
        /// The shortest part allowed.
        shortest: Length,
    },
    /// From a place that can be reached, or from the left end, no bar reaches the next.
    Places {
        /// The last place that can be reached; 0 for the left end.
        from: Length,
        /// The next one, or the right end.
        to: Length,
    },
    /// No part fits a bar, wherever the joints are: what gaps and mitred ends leave is not enough.
    Bars,
}

/// How much work a material took; the same on every machine.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(Serialize, Deserialize))]
#[cfg_attr(feature = "serde", serde(default, deny_unknown_fields))]
#[non_exhaustive]
pub struct Effort {
    /// Units of work, each of the order of a nanosecond.
    pub work: u64,
    /// Rounds of pricing.
    pub pricing_rounds: u64,
    /// Patterns priced in.
    pub patterns: u64,
    /// Dives.
    pub dives: u64,
    /// How often the linear program was built anew after trouble.
    pub rebuilds: u64,
    /// Mixes of bars that were asked about.
    pub questions: u64,
    /// Patterns that were enumerated.
    pub enumerated: u64,
    /// Nodes of branch and bound.
    pub nodes: u64,
}
