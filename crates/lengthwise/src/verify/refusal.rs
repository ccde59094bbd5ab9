//! Which claim of a plan does not hold, as data; the wording follows from the fields.

mod runs;

use std::fmt;

use thiserror::Error;

pub use runs::RunBreach;

use crate::job::Ends;
use crate::length::{Length, Unit};
use crate::plan::Value;
use crate::price::Price;

/// A plan is refused: the material, and the first of its claims that does not hold.
#[derive(Clone, Debug, PartialEq, Error)]
pub struct Refusal {
    /// The name of the material; empty where it has none, or where the plan as a whole is at fault.
    pub material: String,
    /// The claim that does not hold: the source of this error, which its text includes.
    #[source]
    pub breach: Breach,
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.material.as_str() {
            "" => write!(f, "{}", self.breach),
            material => write!(f, "{material}: {}", self.breach),
        }
    }
}

/// What does not hold. `plan` is what the plan says, `recomputed` or `job` what is true.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum Breach {
    /// Job and plan have different numbers of materials.
    #[error("the plan has {plan} materials, the job {job}")]
    MaterialCount {
        /// In the plan.
        plan: usize,
        /// In the job.
        job: usize,
    },
    /// The material in this place has another name in the job.
    #[error("the plan names the material \"{plan}\", the job \"{job}\"")]
    MaterialName {
        /// In the plan.
        plan: String,
        /// In the job.
        job: String,
    },
    /// Lengths would be printed in another unit.
    #[error("the plan is in {plan}, the job in {job}")]
    Unit {
        /// In the plan.
        plan: Unit,
        /// In the job.
        job: Unit,
    },
    /// Another blade.
    #[error("the plan cuts with a blade of {plan:?}, the job has one of {job:?}")]
    Kerf {
        /// In the plan.
        plan: Length,
        /// In the job.
        job: Length,
    },
    /// Another error reserve.
    #[error("the plan reserves {plan:?} per cut, the job {job:?}")]
    PerCut {
        /// In the plan.
        plan: Length,
        /// In the job.
        job: Length,
    },
    /// The exact figures of the job do not fit the numbers they are counted in.
    #[error("the figures are too large to be checked exactly")]
    TooLarge,

    /// No kind of bar stands in that place of the job.
    #[error("bar kind {bar} does not exist in the job")]
    NoSuchBar {
        /// The place that the plan gives.
        bar: usize,
    },
    /// A group without bars or without cuts.
    #[error("a group of bars of kind {bar} has no bars or no cuts")]
    EmptyGroup {
        /// The kind of bar.
        bar: usize,
    },
    /// The bar is not as long as the job says.
    #[error("bar {name} is {plan:?} long in the plan, {job:?} in the job")]
    StockLength {
        /// The first bar of the group.
        name: String,
        /// In the plan.
        plan: Length,
        /// In the job.
        job: Length,
    },
    /// A bar in hand passes for a bought one, or the reverse.
    #[error("bar {name} is {} in the plan, not so in the job", in_hand(*plan))]
    InHand {
        /// The first bar of the group.
        name: String,
        /// Whether the plan has it in hand.
        plan: bool,
    },
    /// A bar without a name.
    #[error("a bar of kind {bar} has no name")]
    NoName {
        /// The kind of bar.
        bar: usize,
    },
    /// Two bars share a name.
    #[error("two bars are named {name}")]
    NameTwice {
        /// The name.
        name: String,
    },
    /// A cut does not have one mark for each bar of its group.
    #[error("a cut of the group of {name} has {marks} marks for {bars} bars")]
    MarksPerBar {
        /// The first bar of the group.
        name: String,
        /// How many marks the cut has.
        marks: usize,
        /// How many bars the group has.
        bars: usize,
    },
    /// A piece passes for a spare that the job does not ask for.
    #[error("piece {mark} is called a spare, which the job does not ask for")]
    SpareNotAsked {
        /// The mark of the piece.
        mark: String,
    },
    /// A spare passes for a piece that the job asks for.
    #[error("piece {mark} is a spare, and not called one")]
    SpareNotSaid {
        /// The mark of the piece.
        mark: String,
    },
    /// What mitred ends take is not the blade along the bar, rounded up.
    #[error("what ends of {ends} take is not what the blade takes along them")]
    MitreAllowance {
        /// The angles.
        ends: Ends,
    },
    /// No piece of the job has such ends.
    #[error("the job asks for no piece with ends of {ends}")]
    NoSuchEnds {
        /// The angles.
        ends: Ends,
    },
    /// The pieces and the cuts between them are longer than the bar allows.
    #[error("the pieces of bar {name} take {taken:?} of a usable {usable:?}")]
    DoesNotFit {
        /// The first bar of the group.
        name: String,
        /// What pieces and cuts take.
        taken: Length,
        /// What the bar has between its allowances.
        usable: Length,
    },
    /// A part of the bar is not what the rules of cutting make it.
    #[error("bar {name}: {part} of {plan:?} in the plan, recomputed {recomputed:?}")]
    BarPart {
        /// The first bar of the group.
        name: String,
        /// Which part.
        part: BarPart,
        /// In the plan.
        plan: Length,
        /// By the rules.
        recomputed: Length,
    },
    /// An offcut is saved that is too short, or thrown away that is long enough.
    #[error("bar {name}: the offcut is {} in the plan, wrongly", saved(*plan))]
    Saved {
        /// The first bar of the group.
        name: String,
        /// Whether the plan saves it.
        plan: bool,
    },
    /// Pieces, blade, squaring and offcut do not make up the bar.
    #[error("bar {name}: the parts add up to {sum:?}, the bar is {stock:?} long")]
    Balance {
        /// The first bar of the group.
        name: String,
        /// Pieces, blade, squaring and offcut together.
        sum: Length,
        /// The length of the bar.
        stock: Length,
    },

    /// One piece is cut more than once.
    #[error("piece {mark} is cut more than once")]
    CutTwice {
        /// The mark of the piece.
        mark: String,
    },
    /// A piece is not cut.
    #[error("piece {mark} is not cut")]
    NotCut {
        /// The mark of the piece.
        mark: String,
    },
    /// A piece is cut to another length.
    #[error("piece {mark} is cut to {plan:?}, the job asks for {job:?}")]
    WrongLength {
        /// The mark of the piece.
        mark: String,
        /// In the plan.
        plan: Length,
        /// In the job.
        job: Length,
    },
    /// A piece is cut at other angles.
    #[error("piece {mark} is cut with ends of {plan}, the job asks for {job}")]
    WrongEnds {
        /// The mark of the piece.
        mark: String,
        /// In the plan.
        plan: Ends,
        /// In the job.
        job: Ends,
    },
    /// Something else was made good than what the job asks for.
    #[error("the plan was made good in another way than the job asks for")]
    OtherPreference,
    /// The smallest spare on any bar is another.
    #[error("the smallest spare on any bar is {recomputed:?}, the plan says {plan:?}")]
    SmallestSpare {
        /// In the plan.
        plan: Length,
        /// Recomputed.
        recomputed: Length,
    },
    /// One of the longest offcuts is another.
    #[error("offcut {place} from the longest is {recomputed:?}, the plan says {plan:?}")]
    LongestOffcut {
        /// Which, from 0.
        place: usize,
        /// In the plan.
        plan: Length,
        /// Recomputed.
        recomputed: Length,
    },
    /// Ways of cutting a bar, or settings of the stop, are others.
    #[error(
        "there are {recomputed} ways of cutting a bar or settings of the stop, the plan says {plan}"
    )]
    Setups {
        /// In the plan.
        plan: u64,
        /// Recomputed.
        recomputed: u64,
    },
    /// A figure of the preference is better than what is said to be the best.
    #[error("the plan does better than what it says is the best there is")]
    PreferenceBound,
    /// A piece is cut in another stage.
    #[error("piece {mark} is cut in stage {plan}, the job asks for stage {job}")]
    WrongStage {
        /// The mark of the piece.
        mark: String,
        /// In the plan.
        plan: u64,
        /// In the job.
        job: u64,
    },
    /// A spare comes off a bar before a piece that is none.
    #[error("a spare comes off bar {name} before a piece that is none")]
    SpareBeforePiece {
        /// The bar.
        name: String,
    },
    /// A piece comes off a bar after one of a later stage.
    #[error("bar {name} is cut for stage {stage} after a later one")]
    StageAfterLater {
        /// The name of the first bar of the group.
        name: String,
        /// The stage.
        stage: u64,
    },
    /// A piece is cut that nobody asked for.
    #[error("the job asks for no piece {mark}")]
    NoSuchPiece {
        /// The mark of the piece.
        mark: String,
    },
    /// Something about a run, its joints or its courses.
    #[error(transparent)]
    Run(#[from] RunBreach),

    /// A kind of bar stands in a list twice.
    #[error("bar kind {bar} stands twice in {list}")]
    ListedTwice {
        /// The kind of bar.
        bar: usize,
        /// Which list.
        list: List,
    },
    /// A line of a list for no bar at all.
    #[error("a line of {list} is for no bar of kind {bar}")]
    EmptyLine {
        /// The kind of bar.
        bar: usize,
        /// Which list.
        list: List,
    },
    /// A cell of a list does not repeat what the job says.
    #[error("{list}, bar kind {bar}: {cell} is not as in the job")]
    Cell {
        /// The kind of bar.
        bar: usize,
        /// Which list.
        list: List,
        /// Which cell.
        cell: Cell,
    },
    /// A bar in hand is bought.
    #[error("bar kind {bar} is in hand and bought all the same")]
    BoughtInHand {
        /// The kind of bar.
        bar: usize,
    },
    /// The bars of a line are not so many whole sales.
    #[error("bar kind {bar}: {sales} sales of {per_sale} do not bring {bars} bars")]
    SalesNotWhole {
        /// The kind of bar.
        bar: usize,
        /// Bars in the plan.
        bars: u64,
        /// Sales in the plan.
        sales: u64,
        /// Bars that one sale brings.
        per_sale: u64,
    },
    /// A line does not cost what it says.
    #[error("bar kind {bar}: the line costs {} in the plan, recomputed {}", money(*plan), money(*recomputed))]
    LineCost {
        /// The kind of bar.
        bar: usize,
        /// In the plan.
        plan: Option<Price>,
        /// From the price and the sales; `None` without prices.
        recomputed: Option<Price>,
    },
    /// More bars than there are.
    #[error("bar kind {bar}: {used} bars are used of {available}")]
    NotAvailable {
        /// The kind of bar.
        bar: usize,
        /// Bars bought, or bars cut into from hand.
        used: u64,
        /// Bars that can be had.
        available: u64,
    },
    /// Bars are cut that were not bought.
    #[error("bar kind {bar}: {cut} bars are cut of {bought} bought")]
    NotBought {
        /// The kind of bar.
        bar: usize,
        /// Bars cut.
        cut: u64,
        /// Bars bought.
        bought: u64,
    },
    /// A whole sale more than the bars that are cut need.
    #[error(
        "bar kind {bar}: {bought} bars are bought in sales of {per_sale} for {cut} that are cut"
    )]
    BoughtForNothing {
        /// The kind of bar.
        bar: usize,
        /// Bars cut.
        cut: u64,
        /// Bars bought.
        bought: u64,
        /// Bars that one sale brings.
        per_sale: u64,
    },
    /// A price break makes more bars cost less than those that are bought.
    #[error("bar kind {bar}: {bought} bars are bought, and {cheapest} would cost less")]
    MoreWouldCostLess {
        /// The kind of bar.
        bar: usize,
        /// Bars bought.
        bought: u64,
        /// Bars that are as many and cost the least.
        cheapest: u64,
    },
    /// The bars that stay whole are miscounted.
    #[error("bar kind {bar}: {plan} bars stay whole in the plan, recomputed {recomputed}")]
    UncutCount {
        /// The kind of bar.
        bar: usize,
        /// In the plan.
        plan: u64,
        /// Bars in hand or bought, less bars cut.
        recomputed: u64,
    },

    /// Money is compared where there are no prices, or length where there are.
    #[error("the plan is judged by {}, the job by {}", judged(*plan), judged(!*plan))]
    JudgedBy {
        /// Whether the plan is judged by money.
        plan: bool,
    },
    /// The plan is not worth what it says.
    #[error("the plan comes to {}, recomputed {}", value(plan), value(recomputed))]
    Value {
        /// In the plan.
        plan: Value,
        /// From the bars.
        recomputed: Value,
    },
    /// A figure is wrong.
    #[error("figures: {figure} of {plan:?} in the plan, recomputed {recomputed:?}")]
    Figure {
        /// Which figure.
        figure: Figure,
        /// In the plan.
        plan: Length,
        /// From the bars.
        recomputed: Length,
    },
    /// The figures do not add up to all bars.
    #[error("figures: the parts add up to {sum:?}, all bars to {total:?}")]
    FiguresBalance {
        /// Needed, blade, squaring, saved and waste together.
        sum: Length,
        /// The length of all bars.
        total: Length,
    },

    /// The plan claims to be better than its own bound.
    #[error("the bound {} is above the value {}", value(bound), value(plan))]
    BoundAboveValue {
        /// The claimed bound.
        bound: Value,
        /// What the plan comes to.
        plan: Value,
    },
    /// A piece comes from bars of another batch than it has to.
    #[error("{mark} is cut from another batch than it has to come from")]
    OtherBatch {
        /// Its mark.
        mark: String,
    },
    /// The pieces of a wall come from several batches.
    #[error("the pieces of the wall {wall:?} come from several batches")]
    WallOfSeveralBatches {
        /// The wall.
        wall: String,
    },
    /// The plan does not say of each wall from which batch it comes, or what it says contradicts itself.
    #[error("what the plan says of the batches of walls does not hold")]
    WallBatches,
    /// The plan says something of walls for which there is no choice of batches.
    #[error("the plan names batches of walls, and all bars are of one")]
    NoWalls,
    /// Something is combined, and there is no choice of prices or batches.
    #[error("the certificate combines what there is no choice of")]
    NothingToCombine,
    /// A combination names a price that its kind of bar does not have, or a batch that there is not, or
    /// none at all for some kind of bar or wall.
    #[error("combination {place} names prices or batches that the job does not have")]
    CombinationPrices {
        /// Its place among the combinations.
        place: usize,
    },
    /// No combination of the certificate covers these prices.
    #[error("no combination covers {}", combined(prices, walls))]
    CombinationMissing {
        /// The price of each kind of bar, as in [`Combination::prices`](crate::plan::Combination::prices).
        prices: Vec<Option<usize>>,
        /// The batch of each wall, as in [`Combination::walls`](crate::plan::Combination::walls).
        walls: Vec<Option<usize>>,
    },
    /// The plan claims a higher bound than one of its combinations.
    #[error(
        "the plan claims the bound {}, combination {place} has {}",
        value(plan),
        value(bound)
    )]
    CombinationBelowBound {
        /// Its place among the combinations.
        place: usize,
        /// The claimed bound.
        plan: Value,
        /// That of the combination.
        bound: Value,
    },
    /// A combination has the plan itself, and there should be none.
    #[error("combination {place} has no plan, they say, and this is one")]
    CombinationHasPlan {
        /// Its place among the combinations.
        place: usize,
    },
    /// A combination is said to have no plan for a reason that no choice of prices or batches is.
    #[error("no choice of prices or batches is the reason that is given")]
    ReasonOfCombination,
    /// More pieces are said to be left over than there are.
    #[error("{left_over} pieces are left over, they say, of {pieces}")]
    MoreLeftOverThanPieces {
        /// As they say.
        left_over: u64,
        /// All that there are.
        pieces: u64,
    },
    /// The certificate of a combination does not prove its bound.
    #[error("combination {place}, without what is paid beforehand: {breach}")]
    Combination {
        /// Its place among the combinations.
        place: usize,
        /// What does not hold.
        #[source]
        breach: Box<Breach>,
    },
    /// The certificate counts in less than one unit.
    #[error("the certificate has the scale {scale}, which must be 1 or more")]
    CertificateScale {
        /// The scale.
        scale: i64,
    },
    /// The certificate does not price the shapes of the job in their order.
    #[error("the certificate does not price each shape of the job once, in their order")]
    CertificateLengths,
    /// A price below zero.
    #[error("the certificate prices {length:?} at {price}, below zero")]
    CertificatePrice {
        /// The length.
        length: Length,
        /// Its price.
        price: i64,
    },
    /// The pieces of one bar can be worth more than a bar that can be had without limit costs.
    #[error(
        "the certificate proves nothing: pieces worth {best} fit on a bar of kind {bar} that costs {limit}"
    )]
    PricesAboveCost {
        /// The kind of bar.
        bar: usize,
        /// The largest total price of pieces on one bar.
        best: u128,
        /// The cost of the bar in the same units.
        limit: u128,
    },
    /// A set of prices that is to refute mixes does not have one for each of the certificate's.
    #[error("refutation {place} has {prices} prices, the certificate {lengths}")]
    RefutationPrices {
        /// Its place among the refutations.
        place: usize,
        /// How many prices it has.
        prices: usize,
        /// How many the certificate has: of lengths, of windows, and of a unit of length.
        lengths: usize,
    },
    /// A price below zero in a set of prices that is to refute mixes.
    #[error("refutation {place} prices {length:?} at {price}, below zero")]
    RefutationPrice {
        /// Its place among the refutations.
        place: usize,
        /// The length.
        length: Length,
        /// Its price.
        price: i64,
    },
    /// The splits of the mixes into boxes do not make sense together.
    #[error("split {place} of the mixes is out of place")]
    SplitBroken {
        /// Its place among the splits.
        place: usize,
    },
    /// A searched mix does not count the bars of each kind once.
    #[error("searched mix {place} counts {plan} kinds of bar, the job has {job}")]
    SearchedKinds {
        /// Its place among the searched mixes.
        place: usize,
        /// In the plan.
        plan: usize,
        /// In the job.
        job: usize,
    },
    /// A searched mix has more bars than there are.
    #[error("searched mix {place}: {bars} bars of kind {bar} of {available}")]
    SearchedNotAvailable {
        /// Its place among the searched mixes.
        place: usize,
        /// The kind of bar.
        bar: usize,
        /// Bars in the mix.
        bars: u64,
        /// Bars that can be had.
        available: u64,
    },
    /// A mix is said not to hold everything, and the plan itself shows that it does.
    #[error(
        "searched mix {place} is said not to hold everything; the plan needs no more than it has"
    )]
    SearchedHolds {
        /// Its place among the searched mixes.
        place: usize,
    },
    /// The certificate proves less than the plan claims: there is a mix of bars cheaper than the
    /// claimed bound of which nothing shows that it does not hold everything.
    #[error(
        "the plan claims the bound {}, the prices of its certificate prove {}, and nothing shows that \
         {mix} would not do",
        value(plan),
        value(recomputed)
    )]
    BoundNotProven {
        /// The claimed bound.
        plan: Value,
        /// The bound that the prices prove by themselves.
        recomputed: Value,
        /// The mix.
        mix: Box<OpenMix>,
    },
    /// There is a mix of bars of the same value that cuts into less from hand, and nothing shows that
    /// it does not hold everything.
    #[error(
        "the plan claims that none of its value cuts into less than {plan:?} from hand, and nothing \
         shows that {mix} would not do"
    )]
    HandNotProven {
        /// What the plan cuts into from hand.
        plan: Length,
        /// The mix.
        mix: Box<OpenMix>,
    },
    /// The plan claims that nothing cheaper exists, its bound is lower.
    #[error(
        "the plan claims to be the best at {}, only {} is proven",
        value(plan),
        value(bound)
    )]
    OptimalNotProven {
        /// What the plan comes to.
        plan: Value,
        /// The lower of the claimed and the recomputed bound.
        bound: Value,
    },

    /// The piece said to be too long does not exist with that length.
    #[error("the job has no piece {mark} of {length:?}")]
    NoSuchPieceTooLong {
        /// The mark that the plan gives.
        mark: String,
        /// The length that the plan gives.
        length: Length,
    },
    /// The piece said to be too long fits.
    #[error("piece {mark} of {length:?} fits a bar with a usable {usable:?}")]
    FitsAfterAll {
        /// The mark of the piece.
        mark: String,
        /// Its length.
        length: Length,
        /// The longest usable length of a bar that can be had.
        usable: Length,
    },
    /// The longest bar is not the one that the plan names.
    #[error("the plan does not name the longest usable length of a bar that can be had")]
    LongestBar {
        /// Usable and whole length in the plan.
        plan: Option<(Length, Length)>,
        /// The longest usable length; `None` without bars.
        recomputed: Option<Length>,
    },
    /// Another number of rows is too long.
    #[error("{plan} rows are too long in the plan, recomputed {recomputed}")]
    TooLongRows {
        /// In the plan.
        plan: usize,
        /// In the job.
        recomputed: usize,
    },
    /// Length cannot run out: a kind of bar can be had without limit.
    #[error("length cannot run out: bar kind {bar} can be had without limit")]
    WithoutLimit {
        /// The kind of bar.
        bar: usize,
    },
    /// The length that pieces and cuts take is not what the plan says.
    #[error("pieces and cuts take {plan:?} in the plan, recomputed {recomputed:?}")]
    NeededLength {
        /// In the plan.
        plan: Length,
        /// Each piece with one cut.
        recomputed: Length,
    },
    /// The length that there is is not what the plan says.
    #[error("the bars have {plan:?} in the plan, recomputed {recomputed:?}")]
    AvailableLength {
        /// In the plan.
        plan: Length,
        /// Each bar with one cut.
        recomputed: Length,
    },
    /// There is length enough, so that nothing is proven.
    #[error("there is length enough: {needed:?} of {available:?}")]
    LengthSuffices {
        /// What pieces and cuts take.
        needed: Length,
        /// What there is.
        available: Length,
    },
}

/// A mix of bars that may hold everything for all that a plan shows.
#[derive(Clone, Debug, PartialEq)]
pub struct OpenMix {
    /// Bars of each kind, in the order of the job.
    pub bars: Vec<u64>,
    /// What they cost.
    pub cost: Value,
}

impl fmt::Display for OpenMix {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let kinds = self.bars.iter().enumerate().filter(|(_, bars)| **bars > 0);
        let kinds: Vec<String> = kinds
            .map(|(kind, bars)| format!("{bars} of bar kind {kind}"))
            .collect();
        let kinds = if kinds.is_empty() {
            "no bar at all".to_owned()
        } else {
            kinds.join(", ")
        };
        write!(f, "{kinds} for {}", value(&self.cost))
    }
}

/// A part of a bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum BarPart {
    /// What the saw takes.
    Blade,
    /// How much of it is the error reserve.
    Reserve,
    /// What falls away as squaring.
    Square,
    /// What is left.
    Offcut,
    /// How much of what is left is rough.
    OffcutRough,
}

impl fmt::Display for BarPart {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            BarPart::Blade => "blade",
            BarPart::Reserve => "reserve",
            BarPart::Square => "squaring",
            BarPart::Offcut => "offcut",
            BarPart::OffcutRough => "rough end of the offcut",
        })
    }
}

/// A list of a plan.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum List {
    /// What to buy.
    Buy,
    /// The bars that stay whole.
    Uncut,
}

impl fmt::Display for List {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            List::Buy => "the buying list",
            List::Uncut => "the list of whole bars",
        })
    }
}

/// A cell that repeats what the job says.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Cell {
    /// The length of one bar.
    Length,
    /// What one sale is.
    Sold,
    /// The price of one sale.
    Price,
    /// Whether the bars are in hand.
    InHand,
}

impl fmt::Display for Cell {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Cell::Length => "the length",
            Cell::Sold => "what one sale is",
            Cell::Price => "the price",
            Cell::InHand => "whether it is in hand",
        })
    }
}

/// One of the [`Figures`](crate::plan::Figures).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Figure {
    /// The length bought.
    Bought,
    /// The length of all bars.
    Total,
    /// The length of the bars that are cut into.
    CutInto,
    /// The length of the bars in hand that are cut into.
    HandCutInto,
    /// The length of the pieces.
    Needed,
    /// How much of it is spares.
    Spare,
    /// What the saw takes.
    Blade,
    /// How much of it is the error reserve.
    Reserve,
    /// What falls away as squaring.
    Square,
    /// Saved offcuts and whole bars.
    Saved,
    /// Offcuts too short to save.
    Waste,
}

impl fmt::Display for Figure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Figure::Bought => "bought",
            Figure::Total => "total",
            Figure::CutInto => "cut into",
            Figure::HandCutInto => "cut into from hand",
            Figure::Needed => "needed",
            Figure::Spare => "spares",
            Figure::Blade => "blade",
            Figure::Reserve => "reserve",
            Figure::Square => "squaring",
            Figure::Saved => "saved",
            Figure::Waste => "waste",
        })
    }
}

fn in_hand(yes: bool) -> &'static str {
    if yes { "in hand" } else { "bought" }
}

fn saved(yes: bool) -> &'static str {
    if yes { "saved" } else { "thrown away" }
}

fn judged(by_money: bool) -> &'static str {
    if by_money { "money" } else { "bought length" }
}

fn money(price: Option<Price>) -> String {
    price.map_or_else(|| "nothing".to_owned(), |price| price.to_string())
}

fn value(value: &Value) -> String {
    match value {
        Value::Money(price) => price.to_string(),
        Value::Bought(length) => length.text(Unit::Mm),
    }
}

/// Prices by their places in the rows, and batches by theirs in the material.
fn combined(prices: &[Option<usize>], walls: &[Option<usize>]) -> String {
    fn chosen(of: &[Option<usize>]) -> impl Iterator<Item = (usize, usize)> {
        let all = of.iter().enumerate();
        all.filter_map(|(place, chosen)| Some((place, (*chosen)?)))
    }
    let prices = chosen(prices).map(|(bar, price)| format!("price {price} of bar kind {bar}"));
    let walls = chosen(walls).map(|(wall, batch)| format!("batch {batch} for wall {wall}"));
    let chosen: Vec<String> = prices.chain(walls).collect();
    if chosen.is_empty() {
        "any prices and batches".to_owned()
    } else {
        chosen.join(" with ")
    }
}
