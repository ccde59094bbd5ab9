//! What people read, frozen; the plans are made by hand, so no search stands behind them.

mod runs;

use std::sync::Arc;

use lengthwise::job::{Ends, HandRow, JobInput, PieceRow, Saw, Sold, SquareOff, StockRow};
use lengthwise::plan::{
    BarGroup, Certificate, Cut, Cutting, Effort, Figures, Impossible, MaterialPlan, Outcome, Plan,
    Proof, Purchase, Stop, UncutBars, Value,
};
use lengthwise::{Job, Length, Origin, Price, Unit};

use super::ink::Ink;
use super::{plan_text, words};
use crate::insurance::Cover;

fn mm(mm: u32) -> Length {
    Length::from_mm(mm)
}

fn price(text: &str) -> Price {
    Price::parse(text, false).unwrap()
}

fn origin(line: u64) -> Origin {
    Origin {
        source: Arc::from("stock.csv"),
        line,
    }
}

fn piece(material: &str, mark: &str, length: &str, qty: u64) -> PieceRow {
    PieceRow {
        material: material.to_owned(),
        mark: mark.to_owned(),
        qty: qty.into(),
        ..PieceRow::new(origin(2), Length::parse(length, Unit::Mm).unwrap())
    }
}

fn stock(material: &str, length: &str, each: Option<&str>, sold: Sold) -> StockRow {
    StockRow {
        material: material.to_owned(),
        price: each.map(price),
        sold,
        ..StockRow::new(origin(3), Length::parse(length, Unit::Mm).unwrap())
    }
}

fn job(pieces: Vec<PieceRow>, stock: Vec<StockRow>, in_hand: Vec<HandRow>, saw: Saw) -> Job {
    let input = JobInput {
        pieces,
        stock,
        in_hand,
        saw,
    };
    input.validate().unwrap()
}

fn planned(job: &Job, at: usize, cutting: Cutting) -> MaterialPlan {
    answered(job, at, Outcome::Planned(Box::new(cutting)))
}

fn answered(job: &Job, at: usize, outcome: Outcome) -> MaterialPlan {
    let material = &job.materials()[at];
    MaterialPlan {
        name: material.name().to_owned(),
        unit: material.unit(),
        kerf: material.kerf(),
        per_cut: material.per_cut(),
        outcome,
        effort: Effort::default(),
    }
}

fn names(stem: &str, count: usize) -> Vec<String> {
    (1..=count).map(|n| format!("{stem}{n}")).collect()
}

fn text(job: &Job, materials: Vec<MaterialPlan>) -> String {
    let shown = plan_text(job, &Plan { materials }, &Cover::default(), Ink::plain());
    for line in shown.lines() {
        assert!(
            textwrap::core::display_width(line) <= super::layout::PAGE,
            "too wide: {line}"
        );
    }
    shown
}

/// The example of the specification: seven pieces of 2210 from seven bars of 3000, blade 3.
#[test]
fn seven_battens_one_from_each_bar() {
    let job = job(
        vec![piece("roof batten", "F", "2210", 7)],
        vec![stock("roof batten", "3000", Some("5.90"), Sold::Each)],
        vec![],
        Saw::default(),
    );
    let group = BarGroup {
        names: names("A", 7),
        bar: 0,
        stock: mm(3000),
        in_hand: false,
        cuts: vec![Cut {
            length: mm(2210),
            ends: Ends::SQUARE,
            marks: (1..=7).map(|n| format!("F-0{n}")).collect(),
            spare: false,
            for_bar: false,
            stage: 1,
            parts: vec![],
        }],
        blade: mm(3),
        reserve: Length::ZERO,
        square: Length::ZERO,
        offcut: mm(787),
        offcut_rough: Length::ZERO,
        saved: true,
    };
    let cutting = Cutting {
        walls: None,
        proof: Proof::Optimal,
        value: Value::Money(price("41.30")),
        bound: Value::Money(price("41.30")),
        buy: vec![Purchase {
            bar: 0,
            length: mm(3000),
            sold: Sold::Each,
            bars: 7,
            sales: 7,
            price: Some(price("5.90")),
            cost: Some(price("41.30")),
        }],
        bars: vec![group],
        uncut: vec![],
        figures: Figures {
            bought: mm(21000),
            total: mm(21000),
            cut_into: mm(21000),
            needed: mm(15470),
            spare: Length::ZERO,
            blade: mm(21),
            saved: mm(5509),
            ..Figures::default()
        },
        hand_proof: Proof::Optimal,
        preference: lengthwise::plan::Preference::AsFound,
        certificate: Certificate::default(),
    };
    let plan = planned(&job, 0, cutting);
    insta::assert_snapshot!(text(&job, vec![plan]));
}

/// Packs, a bar in hand with worth, squaring, a reserve, inches, and a gap.
#[test]
fn everything_at_once_in_inches() {
    let saw = Saw {
        kerf: Length::parse("1/8\"", Unit::In).unwrap().length,
        per_cut: Length::parse("1/16\"", Unit::In).unwrap().length,
        square_off: SquareOff {
            near: Length::parse("1/2\"", Unit::In).unwrap().length,
            far: Length::parse("1/2\"", Unit::In).unwrap().length,
        },
        ..Saw::default()
    };
    let inch = |text: &str| Length::parse(text, Unit::In).unwrap().length;
    let hand = HandRow {
        batch: String::new(),
        origin: origin(9),
        material: "shelf edging".to_owned(),
        length: Length::parse("4ft", Unit::Ft).unwrap(),
        available: 3,
        square_off: None,
        worth: Some(price("1.25")),
        note: String::new(),
    };
    let job = job(
        vec![
            piece("shelf edging", "long shelf by the door", "7' 3 1/4\"", 2),
            piece("shelf edging", "K", "11 1/2\"", 8),
        ],
        vec![stock("shelf edging", "8ft", Some("31"), Sold::Pack(4))],
        vec![hand],
        saw,
    );
    let long = Cut {
        length: inch("87 1/4"),
        ends: Ends::SQUARE,
        marks: vec![
            "long shelf by the door-01".to_owned(),
            "long shelf by the door-02".to_owned(),
        ],
        spare: false,
        for_bar: false,
        stage: 1,
        parts: vec![],
    };
    let short = |n: usize| Cut {
        length: inch("11 1/2"),
        ends: Ends::SQUARE,
        marks: vec![format!("K-0{n}")],
        spare: false,
        for_bar: false,
        stage: 1,
        parts: vec![],
    };
    let bought = BarGroup {
        names: names("A", 2),
        bar: 0,
        stock: inch("96"),
        in_hand: false,
        cuts: vec![long],
        blade: inch("3/16"),
        reserve: inch("1/16"),
        square: inch("1/2"),
        offcut: inch("8 1/16"),
        offcut_rough: inch("1/2"),
        saved: false,
    };
    let in_hand = BarGroup {
        names: names("B", 1),
        bar: 1,
        stock: inch("48"),
        in_hand: true,
        cuts: (1..=2).map(short).collect(),
        blade: inch("3/8"),
        reserve: inch("1/8"),
        square: Length::ZERO,
        offcut: inch("24 5/8"),
        offcut_rough: Length::ZERO,
        saved: true,
    };
    let cutting = Cutting {
        walls: None,
        proof: Proof::Gap(Stop::WorkLimit),
        value: Value::Money(price("32.25")),
        bound: Value::Money(price("31")),
        buy: vec![Purchase {
            bar: 0,
            length: inch("96"),
            sold: Sold::Pack(4),
            bars: 4,
            sales: 1,
            price: Some(price("31")),
            cost: Some(price("31")),
        }],
        bars: vec![bought, in_hand],
        uncut: vec![
            UncutBars {
                bar: 0,
                length: inch("96"),
                count: 2,
                in_hand: false,
            },
            UncutBars {
                bar: 1,
                length: inch("48"),
                count: 2,
                in_hand: true,
            },
        ],
        figures: Figures {
            bought: inch("384"),
            total: inch("528"),
            cut_into: inch("240"),
            hand_cut_into: inch("48"),
            needed: inch("197 1/2"),
            spare: Length::ZERO,
            blade: inch("3/4"),
            reserve: inch("1/4"),
            square: inch("1"),
            saved: inch("312 5/8"),
            waste: inch("16 1/8"),
        },
        hand_proof: Proof::Optimal,
        preference: lengthwise::plan::Preference::AsFound,
        certificate: Certificate::default(),
    };
    let plan = planned(&job, 0, cutting);
    insta::assert_snapshot!(text(&job, vec![plan]));
}

/// Reasons as sentences with their numbers, and long names on one page.
#[test]
fn no_plan_for_four_reasons() {
    let saw = Saw {
        square_off: SquareOff {
            near: mm(10),
            far: mm(10),
        },
        longest: Some(mm(4200)),
        ..Saw::default()
    };
    let materials = [
        "gutter",
        "larch board of the very best sort that the village has ever seen, planed on all four sides",
        "skirting",
        "fascia",
    ];
    let pieces = materials.map(|name| piece(name, "G", "3100", 2)).to_vec();
    let rows = |name| {
        [
            stock(name, "3000", None, Sold::Each),
            stock(name, "4800", None, Sold::PerMetre),
        ]
    };
    let job = job(
        pieces,
        materials.into_iter().flat_map(rows).collect(),
        vec![],
        saw,
    );
    let reasons = [
        Impossible::PieceTooLong {
            mark: "G".to_owned(),
            length: mm(3100),
            takes: mm(3100),
            longest: Some((mm(2980), mm(3000))),
            rows: 1,
        },
        Impossible::NotEnoughLength {
            needed: mm(6203),
            available: mm(5960),
        },
        Impossible::NotEnoughBars { left_over: 1 },
    ];
    let mut plans: Vec<MaterialPlan> = reasons
        .into_iter()
        .enumerate()
        .map(|(at, why)| answered(&job, at, Outcome::Impossible(why)))
        .collect();
    plans.push(answered(&job, 3, Outcome::Unknown(Stop::TimeLimit)));
    insta::assert_snapshot!(text(&job, plans));
}

/// Where sums would not stay exact no limit helps, and none is named.
#[test]
fn costs_too_fine_have_a_remedy_of_their_own() {
    let fine = words::unknown(Stop::CostsTooFine);
    assert_eq!(
        fine,
        "No plan found, and no proof that there is none; stopped since lengths or prices have so many \
         digits that sums of them would not stay exact. No limit helps; lengths and prices with fewer \
         digits do."
    );
    let limit = words::unknown(Stop::TimeLimit);
    assert!(limit.contains("A higher --limit"), "{limit}");
}
