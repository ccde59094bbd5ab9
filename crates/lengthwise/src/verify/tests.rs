//! Plans made by hand: right ones accepted, every claim of them tampered with in turn refused.

use std::sync::Arc;

use super::*;
use crate::fault::Origin;
use crate::job::{Ends, HandRow, JobInput, PieceRow, Saw, Shape, Sold, SquareOff, StockRow};
use crate::length::{Length, Measure, Unit};
use crate::plan::{
    BarGroup, Certificate, Cut, Effort, Figures, Impossible, MixProof, Proof, Purchase, Stop,
    UncutBars,
};
use crate::price::Price;

fn mm(mm: u32) -> Length {
    Length::from_mm(mm)
}

fn money(text: &str) -> Price {
    Price::parse(text, false).unwrap()
}

fn origin(line: u64) -> Origin {
    Origin {
        source: Arc::from("by hand"),
        line,
    }
}

fn measure(length: u32) -> Measure {
    Measure {
        length: mm(length),
        unit: Unit::Mm,
    }
}

fn piece(mark: &str, length: u32, qty: u64) -> PieceRow {
    PieceRow {
        mark: mark.to_owned(),
        qty: qty.into(),
        ..PieceRow::new(origin(2), measure(length))
    }
}

fn stock(length: u32, price: Option<&str>, sold: Sold, available: Option<u64>) -> StockRow {
    StockRow {
        price: price.map(money),
        sold,
        available,
        ..StockRow::new(origin(2), measure(length))
    }
}

fn hand(length: u32, available: u64, worth: Option<&str>, near: u32, far: u32) -> HandRow {
    HandRow {
        batch: String::new(),
        origin: origin(2),
        material: String::new(),
        length: measure(length),
        available,
        square_off: Some(square(near, far)),
        worth: worth.map(money),
        note: String::new(),
    }
}

fn shape(length: u32) -> Shape {
    Shape::square(mm(length))
}

fn square(near: u32, far: u32) -> SquareOff {
    SquareOff {
        near: mm(near),
        far: mm(far),
    }
}

fn cut(length: u32, marks: &[&str]) -> Cut {
    Cut {
        parts: vec![],
        length: mm(length),
        ends: Ends::SQUARE,
        marks: marks.iter().map(|&mark| mark.to_owned()).collect(),
        spare: false,
        for_bar: false,
        stage: 1,
    }
}

/// Blade, reserve, squaring, offcut and its rough end, in millimetres.
type Parts = [u32; 5];

fn group(bar: usize, names: &[&str], stock: u32, cuts: Vec<Cut>, parts: Parts) -> BarGroup {
    let [blade, reserve, square, offcut, rough] = parts.map(mm);
    BarGroup {
        names: names.iter().map(|&name| name.to_owned()).collect(),
        bar,
        stock: mm(stock),
        in_hand: false,
        cuts,
        blade,
        reserve,
        square,
        offcut,
        offcut_rough: rough,
        saved: false,
    }
}

fn planned(job: &Job, cutting: Cutting) -> Plan {
    plan_with(job, Outcome::Planned(Box::new(cutting)))
}

fn plan_with(job: &Job, outcome: Outcome) -> Plan {
    let material = &job.materials()[0];
    Plan {
        materials: vec![MaterialPlan {
            name: material.name().to_owned(),
            unit: material.unit(),
            kerf: material.kerf(),
            per_cut: material.per_cut(),
            outcome,
            effort: Effort::default(),
        }],
    }
}

/// A plan of this value that is proven the best: nothing bought, nothing cut, nothing that proves it.
fn best(value: Value) -> Cutting {
    Cutting {
        proof: Proof::Optimal,
        value,
        bound: value,
        buy: vec![],
        bars: vec![],
        uncut: vec![],
        figures: Figures::default(),
        hand_proof: Proof::Optimal,
        walls: None,
        preference: crate::plan::Preference::AsFound,
        certificate: Certificate {
            scale: 1,
            ..Certificate::default()
        },
    }
}

/// So many bars of a kind, sold one by one at this price, and what they cost together.
fn singly(bar: usize, length: u32, bars: u64, price: Option<&str>, cost: Option<&str>) -> Purchase {
    Purchase {
        bar,
        length: mm(length),
        sold: Sold::Each,
        bars,
        sales: bars,
        price: price.map(money),
        cost: cost.map(money),
    }
}

/// Two lengths to buy, one in packs, and a bar in hand with a worth.
fn mixed_job() -> Job {
    mixed_job_with(Saw::default())
}

fn mixed_job_with(saw: Saw) -> Job {
    let input = JobInput {
        pieces: vec![
            piece("F", 1450, 2),
            piece("G", 1000, 1),
            piece("H", 1500, 1),
        ],
        stock: vec![
            stock(3000, Some("6"), Sold::Each, None),
            stock(2000, Some("5.00"), Sold::Pack(2), Some(3)),
        ],
        in_hand: vec![hand(1200, 2, Some("0.50"), 0, 0)],
        saw,
    };
    input.validate().unwrap()
}

/// A right plan for [`mixed_job`], not the best. By hand: 2 x 1450 and two cuts leave 94 of 3000;
/// 1500 and a cut leave 497 of 2000; 1000 and a cut leave 197 of 1200; 6.00 + 5.00 + 0.50.
///
/// Costs per bar, doubled for the pack of 2: 12.00, 5.00, 1.00, so 12, 5 and 1 units of 0.50 a
/// plan. The prices 5, 5 and 1 fit under them (two pieces on 3000, one on 2000, the 1000 on 1200)
/// and sum to 5 + 2 x 5 + 1 = 16 units, which is 8.00.
fn mixed_cutting() -> Cutting {
    let mut from_pack = group(1, &["A2"], 2000, vec![cut(1500, &["H"])], [3, 0, 0, 497, 0]);
    from_pack.saved = true;
    let mut from_hand = group(2, &["B1"], 1200, vec![cut(1000, &["G"])], [3, 0, 0, 197, 0]);
    from_hand.in_hand = true;
    let two = vec![cut(1450, &["F-01"]), cut(1450, &["F-02"])];
    Cutting {
        walls: None,
        proof: Proof::Gap(Stop::WorkLimit),
        value: Value::Money(money("11.50")),
        bound: Value::Money(money("8.00")),
        buy: vec![
            singly(0, 3000, 1, Some("6.00"), Some("6.00")),
            Purchase {
                bar: 1,
                length: mm(2000),
                sold: Sold::Pack(2),
                bars: 2,
                sales: 1,
                price: Some(money("5.00")),
                cost: Some(money("5.00")),
            },
        ],
        bars: vec![
            group(0, &["A1"], 3000, two, [6, 0, 0, 94, 0]),
            from_pack,
            from_hand,
        ],
        uncut: vec![
            UncutBars {
                bar: 1,
                length: mm(2000),
                count: 1,
                in_hand: false,
            },
            UncutBars {
                bar: 2,
                length: mm(1200),
                count: 1,
                in_hand: true,
            },
        ],
        figures: Figures {
            bought: mm(7000),
            total: mm(9400),
            cut_into: mm(6200),
            hand_cut_into: mm(1200),
            needed: mm(5400),
            spare: Length::ZERO,
            blade: mm(12),
            reserve: mm(0),
            square: mm(0),
            saved: mm(3697),
            waste: mm(291),
        },
        hand_proof: Proof::Optimal,
        preference: crate::plan::Preference::AsFound,
        certificate: Certificate {
            windows: vec![],
            anywhere: None,
            tried: vec![],
            scale: 1,
            prices: vec![(shape(1500), 5), (shape(1450), 5), (shape(1000), 1)],
            mixes: MixProof::default(),
            combinations: vec![],
        },
    }
}

/// Seven pieces of 2210 from bars of 3000 at 5.90: one each, so 41.30 is the least there is.
fn rafters() -> (Job, Cutting) {
    let input = JobInput {
        pieces: vec![piece("F", 2210, 7)],
        stock: vec![stock(3000, Some("5.90"), Sold::Each, None)],
        ..JobInput::default()
    };
    let names = ["A1", "A2", "A3", "A4", "A5", "A6", "A7"];
    let marks = ["F-01", "F-02", "F-03", "F-04", "F-05", "F-06", "F-07"];
    let mut bars = group(0, &names, 3000, vec![cut(2210, &marks)], [3, 0, 0, 787, 0]);
    bars.saved = true;
    let value = Value::Money(money("41.30"));
    let cutting = Cutting {
        buy: vec![singly(0, 3000, 7, Some("5.90"), Some("41.30"))],
        bars: vec![bars],
        figures: Figures {
            bought: mm(21000),
            total: mm(21000),
            cut_into: mm(21000),
            hand_cut_into: mm(0),
            needed: mm(15470),
            spare: Length::ZERO,
            blade: mm(21),
            reserve: mm(0),
            square: mm(0),
            saved: mm(5509),
            waste: mm(0),
        },
        certificate: Certificate {
            windows: vec![],
            anywhere: None,
            tried: vec![],
            scale: 1000,
            prices: vec![(shape(2210), 1000)],
            mixes: MixProof::default(),
            combinations: vec![],
        },
        ..best(value)
    };
    (input.validate().unwrap(), cutting)
}

/// The breach found once `tamper` has been at a right plan.
fn tampered(job: &Job, cutting: &Cutting, tamper: impl Fn(&mut Cutting)) -> Breach {
    let mut cutting = cutting.clone();
    tamper(&mut cutting);
    verify(job, &planned(job, cutting)).unwrap_err().breach
}

/// Each line: what is done to the plan, and the breach that must come of it.
macro_rules! refused {
    ($job:expr, $cutting:expr; $($name:ident: $tamper:expr => $pattern:pat,)+) => {
        $(
            let tamper: fn(&mut Cutting) = |$name| $tamper;
            let breach = tampered($job, $cutting, tamper);
            assert!(matches!(breach, $pattern), "{}: {breach:?}", stringify!($tamper));
            assert!(!breach.to_string().is_empty());
        )+
    };
}

// Below the macro, which it uses.
mod batches;
mod breaks;
mod claims;
mod mixes;
mod parts;
mod preference;
mod runs;
mod work;

#[test]
fn a_right_plan_is_accepted() {
    let job = mixed_job();
    let verified = verify(&job, &planned(&job, mixed_cutting())).unwrap();
    let [material] = verified.materials.as_slice() else {
        unreachable!("one material")
    };
    assert_eq!(material.bound, Some(Value::Money(money("8.00"))));
    assert_eq!(material.on_trust, vec![]);
    assert_eq!(
        material.rechecked,
        vec![
            Claim::Bars,
            Claim::Demand,
            Claim::Buying,
            Claim::Figures,
            Claim::Bound,
            Claim::LeastFromHand
        ]
    );
}

#[test]
fn a_best_plan_is_accepted_as_such() {
    let (job, cutting) = rafters();
    let verified = verify(&job, &planned(&job, cutting)).unwrap();
    let material = verified.materials.first().unwrap();
    assert_eq!(material.bound, Some(Value::Money(money("41.30"))));
    assert!(material.rechecked.contains(&Claim::Optimal));
    assert_eq!(material.on_trust, vec![]);
}

#[test]
fn headings_that_differ_from_the_job() {
    let (job, cutting) = rafters();
    let right = planned(&job, cutting);
    let breach = |tamper: fn(&mut MaterialPlan)| {
        let mut plan = right.clone();
        tamper(&mut plan.materials[0]);
        verify(&job, &plan).unwrap_err().breach
    };
    assert!(matches!(
        breach(|plan| plan.name = "oak".into()),
        Breach::MaterialName { .. }
    ));
    assert!(matches!(
        breach(|plan| plan.unit = Unit::In),
        Breach::Unit { .. }
    ));
    assert!(matches!(
        breach(|plan| plan.kerf = mm(2)),
        Breach::Kerf { .. }
    ));
    assert!(matches!(
        breach(|plan| plan.per_cut = mm(1)),
        Breach::PerCut { .. }
    ));
    let nothing = Plan { materials: vec![] };
    assert_eq!(
        verify(&job, &nothing).unwrap_err().breach,
        Breach::MaterialCount { plan: 0, job: 1 }
    );
    let twice = Plan {
        materials: [right.materials.clone(), right.materials].concat(),
    };
    assert!(matches!(
        verify(&job, &twice).unwrap_err().breach,
        Breach::MaterialCount { .. }
    ));
}

#[test]
fn tampered_bars() {
    refused! { &mixed_job(), &mixed_cutting();
        c: c.bars[0].bar = 9 => Breach::NoSuchBar { bar: 9 },
        c: c.bars[0].bar = 1 => Breach::StockLength { .. },
        c: c.bars[0].names.clear() => Breach::EmptyGroup { bar: 0 },
        c: c.bars[0].cuts.clear() => Breach::EmptyGroup { bar: 0 },
        c: c.bars[0].stock = mm(3001) => Breach::StockLength { .. },
        c: c.bars[0].in_hand = true => Breach::InHand { plan: true, .. },
        c: c.bars[2].in_hand = false => Breach::InHand { plan: false, .. },
        c: c.bars[0].names[0] = " ".into() => Breach::NoName { bar: 0 },
        c: c.bars[1].names[0] = "A1".into() => Breach::NameTwice { .. },
        c: c.bars[0].cuts[1].marks.clear() => Breach::MarksPerBar { marks: 0, bars: 1, .. },
        c: c.bars[0].names.push("A9".into()) => Breach::MarksPerBar { marks: 1, bars: 2, .. },
        c: c.bars[0].cuts[0].spare = true => Breach::SpareNotAsked { .. },
        c: c.bars[0].cuts[0].length = mm(1548) => Breach::DoesNotFit { .. },
        c: c.bars[0].blade = mm(3) => Breach::BarPart { part: BarPart::Blade, .. },
        c: c.bars[0].reserve = mm(1) => Breach::BarPart { part: BarPart::Reserve, .. },
        c: c.bars[0].square = mm(1) => Breach::BarPart { part: BarPart::Square, .. },
        c: c.bars[0].offcut = mm(95) => Breach::BarPart { part: BarPart::Offcut, .. },
        c: c.bars[0].offcut_rough = mm(1) => Breach::BarPart { part: BarPart::OffcutRough, .. },
        c: c.bars[0].saved = true => Breach::Saved { plan: true, .. },
        c: c.bars[1].saved = false => Breach::Saved { plan: false, .. },
    }
}

#[test]
fn tampered_pieces() {
    refused! { &mixed_job(), &mixed_cutting();
        c: c.bars[0].cuts[1].marks[0] = "F-01".into() => Breach::CutTwice { .. },
        c: c.bars[0].cuts[0].stage = 2 => Breach::StageAfterLater { stage: 1, .. },
        c: c.bars[0].cuts[1].stage = 2 => Breach::WrongStage { plan: 2, job: 1, .. },
        c: c.bars[0].cuts[1].marks[0] = "F-03".into() => Breach::NotCut { .. },
        c: {
            c.bars[0].cuts[1].length = mm(1451);
            c.bars[0].offcut = mm(93);
        } => Breach::WrongLength { .. },
        c: {
            let cut = Cut { marks: vec!["X".into()], ..c.bars[1].cuts[0].clone() };
            let bar = BarGroup { names: vec!["Z1".into()], cuts: vec![cut], ..c.bars[1].clone() };
            c.bars.push(bar);
        } => Breach::NoSuchPiece { .. },
        c: { c.bars.pop(); } => Breach::NotCut { .. },
    }
}

#[test]
fn tampered_buying() {
    refused! { &mixed_job(), &mixed_cutting();
        c: c.buy[0].bar = 7 => Breach::NoSuchBar { bar: 7 },
        c: c.buy[0].bar = 2 => Breach::BoughtInHand { bar: 2 },
        c: c.buy[0].length = mm(1) => Breach::Cell { list: List::Buy, cell: Cell::Length, .. },
        c: c.buy[1].sold = Sold::Each => Breach::Cell { cell: Cell::Sold, .. },
        c: c.buy[0].price = None => Breach::Cell { cell: Cell::Price, .. },
        c: c.buy[1].bars = 1 => Breach::SalesNotWhole { .. },
        c: c.buy[1].sales = 2 => Breach::SalesNotWhole { .. },
        c: c.buy[0].cost = Some(money("6.01")) => Breach::LineCost { .. },
        c: c.buy[0].cost = None => Breach::LineCost { .. },
        c: c.buy.push(c.buy[0].clone()) => Breach::ListedTwice { bar: 0, list: List::Buy },
        c: { c.buy.pop(); } => Breach::NotBought { bar: 1, cut: 1, bought: 0 },
        c: {
            (c.buy[1].bars, c.buy[1].sales, c.buy[1].cost) = (4, 2, Some(money("10")));
        } => Breach::BoughtForNothing { bar: 1, .. },
        c: {
            (c.buy[1].bars, c.buy[1].sales, c.buy[1].cost) = (8, 4, Some(money("20")));
        } => Breach::NotAvailable { bar: 1, used: 8, available: 6 },
        c: {
            (c.buy[0].bars, c.buy[0].sales, c.buy[0].cost) = (0, 0, Some(money("0")));
        } => Breach::EmptyLine { bar: 0, list: List::Buy },
        c: c.uncut[0].bar = 7 => Breach::NoSuchBar { bar: 7 },
        c: c.uncut[0].length = mm(1) => Breach::Cell { list: List::Uncut, cell: Cell::Length, .. },
        c: c.uncut[0].in_hand = true => Breach::Cell { cell: Cell::InHand, .. },
        c: c.uncut[0].count = 2 => Breach::UncutCount { bar: 1, plan: 2, recomputed: 1 },
        c: c.uncut[1].count = 2 => Breach::UncutCount { bar: 2, plan: 2, recomputed: 1 },
        c: c.uncut[0].count = 0 => Breach::EmptyLine { bar: 1, list: List::Uncut },
        c: c.uncut.push(c.uncut[0].clone()) => Breach::ListedTwice { bar: 1, list: List::Uncut },
        c: { c.uncut.pop(); } => Breach::UncutCount { bar: 2, plan: 0, recomputed: 1 },
        c: c.value = Value::Bought(mm(7000)) => Breach::JudgedBy { plan: false },
        c: c.bound = Value::Bought(mm(7000)) => Breach::JudgedBy { plan: false },
        c: c.value = Value::Money(money("11")) => Breach::Value { .. },
    }
}

#[test]
fn more_from_hand_than_there_is() {
    let input = JobInput {
        pieces: vec![piece("G", 1000, 2)],
        in_hand: vec![hand(1200, 1, None, 0, 0)],
        ..JobInput::default()
    };
    let job = input.validate().unwrap();
    let mut bars = group(
        0,
        &["B1", "B2"],
        1200,
        vec![cut(1000, &["G-01", "G-02"])],
        [3, 0, 0, 197, 0],
    );
    bars.in_hand = true;
    let mut cutting = mixed_cutting();
    cutting.bars = vec![bars];
    (cutting.buy, cutting.uncut) = (vec![], vec![]);
    assert_eq!(
        verify(&job, &planned(&job, cutting)).unwrap_err().breach,
        Breach::NotAvailable {
            bar: 0,
            used: 2,
            available: 1
        }
    );
}

#[test]
fn tampered_figures() {
    refused! { &mixed_job(), &mixed_cutting();
        c: c.figures.bought = mm(1) => Breach::Figure { figure: Figure::Bought, .. },
        c: c.figures.total = mm(1) => Breach::Figure { figure: Figure::Total, .. },
        c: c.figures.cut_into = mm(1) => Breach::Figure { figure: Figure::CutInto, .. },
        c: c.figures.hand_cut_into = mm(1) => Breach::Figure { figure: Figure::HandCutInto, .. },
        c: c.figures.needed = mm(1) => Breach::Figure { figure: Figure::Needed, .. },
        c: c.figures.blade = mm(1) => Breach::Figure { figure: Figure::Blade, .. },
        c: c.figures.reserve = mm(1) => Breach::Figure { figure: Figure::Reserve, .. },
        c: c.figures.square = mm(1) => Breach::Figure { figure: Figure::Square, .. },
        c: c.figures.saved = mm(1) => Breach::Figure { figure: Figure::Saved, .. },
        c: c.figures.waste = mm(1) => Breach::Figure { figure: Figure::Waste, .. },
    }
}

#[test]
fn tampered_proofs() {
    refused! { &mixed_job(), &mixed_cutting();
        c: c.bound = Value::Money(money("11.51")) => Breach::BoundAboveValue { .. },
        // Nothing costs 8.00 to 9.50; four of 2000 come to 10.00, and nothing is brought against them.
        c: c.bound = Value::Money(money("10.01")) => Breach::BoundNotProven { .. },
        c: c.proof = Proof::Optimal => Breach::OptimalNotProven { .. },
        c: {
            c.proof = Proof::Optimal;
            c.bound = c.value;
        } => Breach::BoundNotProven { .. },
        c: c.certificate.scale = 0 => Breach::CertificateScale { scale: 0 },
        c: c.certificate.scale = 2 => Breach::BoundNotProven { .. },
        c: { c.certificate.prices.pop(); } => Breach::CertificateLengths,
        c: c.certificate.prices.swap(0, 1) => Breach::CertificateLengths,
        c: c.certificate.prices[0].0 = shape(1501) => Breach::CertificateLengths,
        c: c.certificate.prices.push((shape(10), 0)) => Breach::CertificateLengths,
        c: c.certificate.prices[2].1 = -1 => Breach::CertificatePrice { price: -1, .. },
        c: c.certificate.prices[0].1 = 2 => Breach::BoundNotProven { .. },
        c: c.certificate.prices[0].1 = 8 => Breach::PricesAboveCost { bar: 0, best: 13, limit: 12 },
        c: c.certificate = Certificate::default() => Breach::BoundNotProven { .. },
    }
}

/// Bars in hand that hold more than they cost count against the bound, each once: at a price of 3
/// the piece of 1000 brings 2 more than the bar in hand costs, twice: 5 + 10 + 3 - 2 x 2 = 14.
#[test]
fn limited_bars_lower_the_bound() {
    let job = mixed_job();
    let mut cutting = mixed_cutting();
    cutting.certificate.prices[2].1 = 3;
    cutting.bound = Value::Money(money("7.00"));
    let verified = verify(&job, &planned(&job, cutting.clone())).unwrap();
    assert_eq!(verified.materials[0].bound, Some(cutting.bound));
    cutting.bound = Value::Money(money("7.50"));
    assert!(verify(&job, &planned(&job, cutting)).is_err());
}

/// Without prices the bound counts bought length, rounded up to what can be bought.
#[test]
fn bounds_in_bought_length_come_in_whole_bars() {
    let input = JobInput {
        pieces: vec![piece("F", 1400, 3)],
        stock: vec![stock(3000, None, Sold::Each, None)],
        ..JobInput::default()
    };
    let job = input.validate().unwrap();
    let value = Value::Bought(mm(6000));
    let cutting = Cutting {
        buy: vec![singly(0, 3000, 2, None, None)],
        bars: vec![
            group(
                0,
                &["A1"],
                3000,
                vec![cut(1400, &["F-01"]), cut(1400, &["F-02"])],
                [6, 0, 0, 194, 0],
            ),
            BarGroup {
                saved: true,
                ..group(
                    0,
                    &["A2"],
                    3000,
                    vec![cut(1400, &["F-03"])],
                    [3, 0, 0, 1597, 0],
                )
            },
        ],
        figures: Figures {
            bought: mm(6000),
            total: mm(6000),
            cut_into: mm(6000),
            hand_cut_into: mm(0),
            needed: mm(4200),
            spare: Length::ZERO,
            blade: mm(9),
            reserve: mm(0),
            square: mm(0),
            saved: mm(1597),
            waste: mm(194),
        },
        certificate: Certificate {
            windows: vec![],
            anywhere: None,
            tried: vec![],
            scale: 2,
            prices: vec![(shape(1400), 1)],
            mixes: MixProof::default(),
            combinations: vec![],
        },
        ..best(value)
    };
    let verified = verify(&job, &planned(&job, cutting)).unwrap();
    assert_eq!(verified.materials[0].bound, Some(value));
}

/// A job of one bar and its plan, for the rules of cutting.
struct OneBar {
    square: (u32, u32),
    kerf: u32,
    per_cut: u32,
    pieces: &'static [u32],
    parts: Parts,
}

impl OneBar {
    const LENGTH: u32 = 3000;

    fn job(&self, in_hand: bool) -> Job {
        let (near, far) = self.square;
        let rows = self.pieces.iter().enumerate();
        let mut input = JobInput {
            pieces: rows
                .map(|(at, &length)| piece(&format!("M{at}"), length, 1))
                .collect(),
            ..JobInput::default()
        };
        input.saw.kerf = mm(self.kerf);
        input.saw.per_cut = mm(self.per_cut);
        if in_hand {
            // The allowance of bought bars is not that of bars in hand.
            input.saw.square_off = square(77, 77);
            input.in_hand = vec![hand(Self::LENGTH, 1, None, near, far)];
        } else {
            input.saw.square_off = square(near, far);
            input.stock = vec![stock(Self::LENGTH, None, Sold::Each, None)];
        }
        input.validate().unwrap()
    }

    fn cutting(&self, in_hand: bool) -> Cutting {
        let marks: Vec<String> = (0..self.pieces.len()).map(|at| format!("M{at}")).collect();
        let cuts = self.pieces.iter().zip(&marks);
        let cuts = cuts.map(|(&length, mark)| cut(length, &[mark])).collect();
        let [blade, reserve, square, offcut, rough] = self.parts;
        let length = mm(Self::LENGTH);
        let bar = BarGroup {
            in_hand,
            saved: offcut - rough >= 300 && offcut > 0,
            ..group(0, &["A1"], Self::LENGTH, cuts, self.parts)
        };
        let bought = if in_hand { mm(0) } else { length };
        let (saved, waste) = if bar.saved { (offcut, 0) } else { (0, offcut) };
        Cutting {
            walls: None,
            proof: Proof::Gap(Stop::WorkLimit),
            value: Value::Bought(bought),
            bound: Value::Bought(mm(0)),
            buy: (!in_hand)
                .then_some(Purchase {
                    bar: 0,
                    length,
                    sold: Sold::Each,
                    bars: 1,
                    sales: 1,
                    price: None,
                    cost: None,
                })
                .into_iter()
                .collect(),
            bars: vec![bar],
            uncut: vec![],
            figures: Figures {
                bought,
                total: length,
                cut_into: length,
                hand_cut_into: if in_hand { length } else { mm(0) },
                needed: mm(self.pieces.iter().sum()),
                spare: Length::ZERO,
                blade: mm(blade),
                reserve: mm(reserve),
                square: mm(square),
                saved: mm(saved),
                waste: mm(waste),
            },
            hand_proof: Proof::Gap(Stop::WorkLimit),
            preference: crate::plan::Preference::AsFound,
            certificate: Certificate::default(),
        }
    }

    /// Accepted as it stands, from the shop and from hand.
    fn holds(&self) {
        for in_hand in [false, true] {
            let job = self.job(in_hand);
            let plan = planned(&job, self.cutting(in_hand));
            let verdict = verify(&job, &plan);
            assert!(verdict.is_ok(), "{:?} {:?}", self.pieces, verdict);
        }
    }
}

/// The check values of the rules of cutting: a bar of 3000, blade 3, 10 off either end. The other
/// cases are the same rules worked by hand; expected are blade, reserve, squaring, offcut, rough.
#[test]
fn the_rules_of_cutting() {
    let case = |square, kerf, per_cut, pieces, parts| {
        OneBar {
            square,
            kerf,
            per_cut,
            pieces,
            parts,
        }
        .holds();
    };
    // The check values.
    case((10, 10), 3, 0, &[2980], [0, 0, 20, 0, 0]);
    case((10, 10), 3, 0, &[2977], [3, 0, 20, 0, 0]);
    case((10, 10), 3, 0, &[2976], [3, 0, 10, 11, 10]);
    // Nothing hangs on the last piece: no last cut.
    case((0, 0), 3, 0, &[3000], [0, 0, 0, 0, 0]);
    case((0, 0), 3, 0, &[1500, 1497], [3, 0, 0, 0, 0]);
    case((10, 0), 3, 0, &[2990], [0, 0, 10, 0, 0]);
    // The blade takes what is left, all of it or in part.
    case((0, 0), 3, 0, &[2998], [2, 0, 0, 0, 0]);
    case((0, 0), 3, 0, &[2997], [3, 0, 0, 0, 0]);
    case((0, 10), 3, 0, &[2990], [0, 0, 10, 0, 0]);
    case((0, 10), 3, 0, &[2989], [1, 0, 10, 0, 0]);
    // Something is left: near allowance alone, far alone, both.
    case((0, 0), 3, 0, &[2996], [3, 0, 0, 1, 0]);
    case((10, 0), 3, 0, &[2000], [3, 0, 10, 987, 0]);
    case((0, 10), 3, 0, &[2000], [3, 0, 0, 997, 10]);
    case((25, 10), 3, 0, &[1000, 900], [6, 0, 25, 1069, 10]);
    // Just long enough to save, the rough end not counted, and one millimetre short of it.
    case((0, 10), 3, 0, &[2687], [3, 0, 0, 310, 10]);
    case((0, 10), 3, 0, &[2688], [3, 0, 0, 309, 10]);
    // A reserve of 2 for each cut; the last cut uses up the blade first, then the reserve.
    case((0, 0), 3, 2, &[1000, 1000], [10, 4, 0, 990, 0]);
    case((0, 0), 3, 2, &[1000, 1994], [6, 2, 0, 0, 0]);
    case((0, 0), 3, 2, &[1000, 1992], [8, 2, 0, 0, 0]);
    case((0, 0), 3, 2, &[1000, 1991], [9, 3, 0, 0, 0]);
    case((0, 0), 3, 2, &[1000, 1990], [10, 4, 0, 0, 0]);
    case((0, 0), 3, 2, &[1000, 1989], [10, 4, 0, 1, 0]);
    // No blade at all: what is left falls off by itself.
    case((0, 10), 0, 0, &[2990], [0, 0, 10, 0, 0]);
    case((0, 10), 0, 0, &[2989], [0, 0, 0, 11, 10]);
}

/// One nanometre over the usable length, with allowances and reserve, from the shop and from hand.
#[test]
fn a_nanometre_too_long_does_not_fit() {
    for in_hand in [false, true] {
        let bar = OneBar {
            square: (10, 10),
            kerf: 3,
            per_cut: 2,
            pieces: &[1000, 1975],
            parts: [5, 2, 20, 0, 0],
        };
        bar.holds();
        let job = bar.job(in_hand);
        let over = Length::from_nm(1_975_000_001).unwrap();
        let breach = tampered(&job, &bar.cutting(in_hand), |cutting| {
            cutting.bars[0].cuts[1].length = over;
        });
        let expected = Breach::DoesNotFit {
            name: "A1".to_owned(),
            taken: Length::from_nm(2_980_000_001).unwrap(),
            usable: mm(2980),
        };
        assert_eq!(breach, expected);
    }
}

/// Price per metre: 1.40 x 2.1 m is 2.94 a bar, and 10 m on offer are 4 whole bars.
#[test]
fn bars_sold_by_the_metre() {
    let input = JobInput {
        pieces: vec![piece("F", 2100, 4)],
        stock: vec![stock(2100, Some("1.40"), Sold::PerMetre, Some(10))],
        ..JobInput::default()
    };
    let job = input.validate().unwrap();
    let marks = ["F-01", "F-02", "F-03", "F-04"];
    let value = Value::Money(money("11.76"));
    let cutting = Cutting {
        buy: vec![Purchase {
            bar: 0,
            length: mm(2100),
            sold: Sold::PerMetre,
            bars: 4,
            sales: 4,
            price: Some(money("1.40")),
            cost: Some(money("11.76")),
        }],
        bars: vec![group(
            0,
            &["A1", "A2", "A3", "A4"],
            2100,
            vec![cut(2100, &marks)],
            [0, 0, 0, 0, 0],
        )],
        figures: Figures {
            bought: mm(8400),
            total: mm(8400),
            cut_into: mm(8400),
            needed: mm(8400),
            spare: Length::ZERO,
            ..Figures::default()
        },
        certificate: Certificate {
            windows: vec![],
            anywhere: None,
            tried: vec![],
            scale: 1,
            prices: vec![(shape(2100), 1)],
            mixes: MixProof::default(),
            combinations: vec![],
        },
        ..best(value)
    };
    assert!(verify(&job, &planned(&job, cutting.clone())).is_ok());
    refused! { &job, &cutting;
        c: {
            c.bars[0].names.push("A5".into());
            c.bars[0].cuts[0].marks.push("F-05".into());
        } => Breach::NoSuchPiece { .. },
        c: c.buy[0].sales = 10 => Breach::SalesNotWhole { .. },
        c: c.buy[0].cost = Some(money("5.60")) => Breach::LineCost { .. },
        c: {
            (c.buy[0].bars, c.buy[0].sales) = (5, 5);
            c.buy[0].cost = Some(money("14.70"));
        } => Breach::NotAvailable { used: 5, available: 4, .. },
    }
}

#[test]
fn names_are_unique_over_all_materials() {
    let mut input = JobInput::default();
    for (material, mark) in [("oak", "F"), ("ash", "G")] {
        input.pieces.push(PieceRow {
            material: material.to_owned(),
            ..piece(mark, 2000, 1)
        });
        input.stock.push(StockRow {
            material: material.to_owned(),
            ..stock(3000, None, Sold::Each, None)
        });
    }
    let job = input.validate().unwrap();
    let bar = OneBar {
        square: (0, 0),
        kerf: 3,
        per_cut: 0,
        pieces: &[2000],
        parts: [3, 0, 0, 997, 0],
    };
    let mut plan = Plan { materials: vec![] };
    for (material, mark, name) in [("oak", "F", "A1"), ("ash", "G", "B1")] {
        let mut cutting = bar.cutting(false);
        cutting.bars[0].cuts[0].marks = vec![mark.to_owned()];
        cutting.bars[0].names = vec![name.to_owned()];
        let mut one = planned(&job, cutting);
        one.materials[0].name = material.to_owned();
        plan.materials.append(&mut one.materials);
    }
    let verified = verify(&job, &plan).unwrap().materials;
    assert_eq!([&verified[0].name, &verified[1].name], ["oak", "ash"]);
    let Outcome::Planned(cutting) = &mut plan.materials[1].outcome else {
        unreachable!("planned above")
    };
    cutting.bars[0].names = vec!["A1".to_owned()];
    let refusal = verify(&job, &plan).unwrap_err();
    assert_eq!(refusal.to_string(), "ash: two bars are named A1");
}

fn impossible(job: &Job, reason: Impossible) -> Result<MaterialVerified, Breach> {
    verify(job, &plan_with(job, Outcome::Impossible(reason)))
        .map(|verified| verified.materials.into_iter().next().unwrap())
        .map_err(|refusal| refusal.breach)
}

#[test]
fn pieces_too_long() {
    let mut input = JobInput {
        pieces: vec![
            piece("F", 3100, 2),
            piece("G", 2985, 1),
            piece("H", 900, 1),
            piece("J", 2980, 1), // just as long as there is to use
        ],
        stock: vec![
            stock(3000, None, Sold::Each, None),
            stock(6000, None, Sold::Each, Some(0)),
        ],
        ..JobInput::default()
    };
    input.saw.square_off = square(10, 10);
    let job = input.validate().unwrap();
    let longest = Some((mm(2980), mm(3000)));
    let claim = |mark: &str, length, longest, rows| Impossible::PieceTooLong {
        mark: mark.to_owned(),
        length: mm(length),
        takes: mm(length),
        longest,
        rows,
    };
    for (mark, length) in [("F", 3100), ("F-02", 3100), ("G", 2985)] {
        let verified = impossible(&job, claim(mark, length, longest, 2)).unwrap();
        assert_eq!(verified.rechecked, vec![Claim::PieceTooLong]);
    }
    let breach = |reason| impossible(&job, reason).unwrap_err();
    assert!(matches!(
        breach(claim("F", 3101, longest, 2)),
        Breach::NoSuchPieceTooLong { .. }
    ));
    assert!(matches!(
        breach(claim("X", 3100, longest, 2)),
        Breach::NoSuchPieceTooLong { .. }
    ));
    assert!(matches!(
        breach(claim("H", 900, longest, 2)),
        Breach::FitsAfterAll { .. }
    ));
    for wrong in [
        None,
        Some((mm(5980), mm(6000))),
        Some((mm(2980), mm(6000))),
        Some((mm(3000), mm(3000))),
    ] {
        assert!(matches!(
            breach(claim("F", 3100, wrong, 2)),
            Breach::LongestBar { .. }
        ));
    }
    assert!(matches!(
        breach(claim("F", 3100, longest, 1)),
        Breach::TooLongRows {
            plan: 1,
            recomputed: 2
        }
    ));
}

/// Two pieces of 1000 and their cuts take 2006; one bar of 2000 lends one cut: 2003.
#[test]
fn not_enough_length() {
    let job_of = |available| {
        let input = JobInput {
            pieces: vec![piece("F", 1000, 2)],
            stock: vec![stock(2000, None, Sold::Each, available)],
            ..JobInput::default()
        };
        input.validate().unwrap()
    };
    let claim = |needed, available| Impossible::NotEnoughLength {
        needed: mm(needed),
        available: mm(available),
    };
    let verified = impossible(&job_of(Some(1)), claim(2006, 2003)).unwrap();
    assert_eq!(verified.rechecked, vec![Claim::NotEnoughLength]);
    let breach = |available, reason| impossible(&job_of(available), reason).unwrap_err();
    assert!(matches!(
        breach(Some(1), claim(2007, 2003)),
        Breach::NeededLength { .. }
    ));
    assert!(matches!(
        breach(Some(1), claim(2006, 2000)),
        Breach::AvailableLength { .. }
    ));
    assert!(matches!(
        breach(Some(2), claim(2006, 4006)),
        Breach::LengthSuffices { .. }
    ));
    assert!(matches!(
        breach(None, claim(2006, 2003)),
        Breach::WithoutLimit { bar: 0 }
    ));
}

#[test]
fn what_cannot_be_rechecked_is_named() {
    let (job, _) = rafters();
    let verified = impossible(&job, Impossible::NotEnoughBars { left_over: 3 }).unwrap();
    assert_eq!(
        verified.on_trust,
        vec![Trust::NotEnoughBars { left_over: 3 }]
    );
    assert_eq!(verified.rechecked, vec![]);
    let unknown = plan_with(&job, Outcome::Unknown(Stop::TimeLimit));
    let verified = verify(&job, &unknown).unwrap();
    assert_eq!(verified.materials[0].rechecked, vec![]);
    assert_eq!(verified.materials[0].on_trust, vec![]);
}

/// A hundred thousand pieces in a thousand lengths, to a tenth of a millimetre. The prices are the
/// lengths with their cut, so the bound is the plain sum of lengths: at the least
/// ceil(sum of (length + kerf) / (6000 + kerf)) bars.
#[test]
fn a_hundred_thousand_pieces() {
    let tenth = |n: i64| Length::from_nm(n * 100_000).unwrap();
    let length = |row: i64| tenth(3001 + row * 17 % 20_000);
    let input = JobInput {
        pieces: (0..1000)
            .map(|row| PieceRow {
                length: Measure {
                    length: length(row),
                    unit: Unit::Mm,
                },
                ..piece(&format!("R{row}"), 1, 100)
            })
            .collect(),
        stock: vec![stock(6000, None, Sold::Each, None)],
        ..JobInput::default()
    };
    let job = input.validate().unwrap();
    let (capacity, kerf, bars_of) = (6_003_000_000, 3_000_000, mm(6000));
    let mut bars: Vec<BarGroup> = vec![];
    let mut room = 0;
    for piece in job.materials()[0].pieces() {
        for copy in 0..piece.qty() {
            let size = piece.length().nm() + kerf;
            if room < size {
                let name = format!("A{}", bars.len() + 1);
                bars.push(group(0, &[&name], 6000, vec![], [0; 5]));
                room = capacity;
            }
            room -= size;
            let bar = bars.last_mut().unwrap();
            bar.cuts.push(Cut {
                parts: vec![],
                length: piece.length(),
                ends: Ends::SQUARE,
                marks: vec![piece.copy_mark(copy)],
                spare: false,
                for_bar: false,
                stage: 1,
            });
        }
    }
    let mut figures = Figures::default();
    let add = |sum: &mut Length, more: Length| *sum = sum.checked_add(more).unwrap();
    for bar in &mut bars {
        let pieces: i64 = bar.cuts.iter().map(|cut| cut.length.nm()).sum();
        let rest = bars_of.nm() - pieces - kerf * (bar.cuts.len() as i64 - 1);
        let (blade, offcut) = (rest.min(kerf), (rest - kerf).max(0));
        bar.blade = Length::from_nm(kerf * (bar.cuts.len() as i64 - 1) + blade).unwrap();
        bar.offcut = Length::from_nm(offcut).unwrap();
        bar.saved = bar.offcut >= mm(300);
        add(&mut figures.blade, bar.blade);
        let left = if bar.saved {
            &mut figures.saved
        } else {
            &mut figures.waste
        };
        add(left, bar.offcut);
        add(&mut figures.needed, Length::from_nm(pieces).unwrap());
        add(&mut figures.total, bars_of);
    }
    (figures.bought, figures.cut_into) = (figures.total, figures.total);
    let mut prices: Vec<(Shape, i64)> = job.materials()[0]
        .pieces()
        .iter()
        .map(|piece| (piece.shape(), piece.length().nm() + kerf))
        .collect();
    prices.sort_by(|a, b| b.cmp(a));
    let count = bars.len() as u64;
    let sum: i64 = prices.iter().map(|(_, price)| price * 100).sum();
    let least = u64::try_from(sum).unwrap().div_ceil(6_003_000_000);
    let bound = Value::Bought(bars_of.checked_mul(least).unwrap());
    let cutting = Cutting {
        walls: None,
        proof: Proof::Gap(Stop::WorkLimit),
        value: Value::Bought(figures.bought),
        bound,
        buy: vec![Purchase {
            bar: 0,
            length: bars_of,
            sold: Sold::Each,
            bars: count,
            sales: count,
            price: None,
            cost: None,
        }],
        bars,
        uncut: vec![],
        figures,
        hand_proof: Proof::Optimal,
        preference: crate::plan::Preference::AsFound,
        certificate: Certificate {
            windows: vec![],
            anywhere: None,
            tried: vec![],
            scale: capacity,
            prices,
            mixes: MixProof::default(),
            combinations: vec![],
        },
    };
    let verified = verify(&job, &planned(&job, cutting)).unwrap();
    assert_eq!(verified.materials[0].bound, Some(bound));
    assert_eq!(verified.materials[0].on_trust, vec![]);
}

mod solved {
    use super::*;
    use crate::job::PieceRow;
    use crate::{Limits, solve};
    use proptest::prelude::*;

    fn pieces() -> impl Strategy<Value = Vec<PieceRow>> {
        prop::collection::vec((1_u32..1500, 1_u64..12), 1..8).prop_map(|rows| {
            let rows = rows.into_iter();
            rows.map(|(length, qty)| piece("", length, qty)).collect()
        })
    }

    fn stock_rows(priced: bool) -> impl Strategy<Value = Vec<StockRow>> {
        let sold = prop_oneof![
            3 => Just(Sold::Each),
            1 => Just(Sold::PerMetre),
            1 => (1_u32..5).prop_map(Sold::Pack),
        ];
        let row = (500_u32..3000, 0_u32..900, sold, prop::option::of(0_u64..30));
        prop::collection::vec(row, 0..4).prop_map(move |rows| {
            rows.into_iter()
                .map(|(length, cents, sold, available)| {
                    let price = format!("{}.{:02}", cents / 100, cents % 100);
                    stock(length, priced.then_some(price.as_str()), sold, available)
                })
                .collect()
        })
    }

    fn hand_rows(priced: bool) -> impl Strategy<Value = Vec<HandRow>> {
        let row = (200_u32..2500, 0_u64..4, 0_u32..300, 0_u32..20, 0_u32..20);
        prop::collection::vec(row, 0..3).prop_map(move |rows| {
            rows.into_iter()
                .map(|(length, available, worth, near, far)| {
                    let worth = format!("{}.{:02}", worth / 100, worth % 100);
                    hand(
                        length,
                        available,
                        priced.then_some(worth.as_str()),
                        near,
                        far,
                    )
                })
                .collect()
        })
    }

    fn jobs() -> impl Strategy<Value = JobInput> {
        let saw = (0_u32..6, 0_u32..3, 0_u32..20, 0_u32..20, 0_u32..400).prop_map(
            |(kerf, per_cut, near, far, save_from)| Saw {
                kerf: mm(kerf),
                per_cut: mm(per_cut),
                square_off: square(near, far),
                save_from: mm(save_from),
                ..Saw::default()
            },
        );
        any::<bool>().prop_flat_map(move |priced| {
            (pieces(), stock_rows(priced), hand_rows(priced), saw.clone()).prop_map(
                |(pieces, stock, in_hand, saw)| JobInput {
                    pieces,
                    stock,
                    in_hand,
                    saw,
                },
            )
        })
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(600))]

        /// What the search finds holds when it is worked out again, over every kind of supply.
        #[test]
        fn plans_of_random_jobs_hold(input in jobs()) {
            if let Ok(job) = input.validate() {
                let limits = Limits { work: Some(20_000_000), ..Limits::default() };
                let plan = solve(&job, &limits);
                let verified = verify(&job, &plan);
                prop_assert!(verified.is_ok(), "{:?}", verified);
            }
        }
    }
}
