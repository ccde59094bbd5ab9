//! Validation: every kind of fault, all of them at once, marks, what is left out, and notes.

use std::collections::HashSet;
use std::sync::Arc;

use proptest::prelude::*;

use super::*;
use crate::fault::FaultKind;
use crate::length::Measure;
use rust_decimal::Decimal;

mod breaks;
mod ceilings;
mod limits;
mod marks;
mod materials;
mod reserve;
mod runs;
mod walls;

fn origin(source: &str, line: u64) -> Origin {
    Origin {
        source: Arc::from(source),
        line,
    }
}

fn mm(mm: u32) -> Measure {
    Measure {
        length: Length::from_mm(mm),
        unit: Unit::Mm,
    }
}

fn price(text: &str) -> Price {
    Price::parse(text, false).unwrap()
}

fn square(near: u32, far: u32) -> SquareOff {
    SquareOff {
        near: Length::from_mm(near),
        far: Length::from_mm(far),
    }
}

fn piece(line: u64, material: &str, mark: &str, length: u32, qty: u64) -> PieceRow {
    PieceRow {
        material: material.to_owned(),
        mark: mark.to_owned(),
        qty: qty.into(),
        ..PieceRow::new(origin("pieces", line), mm(length))
    }
}

fn stock(line: u64, material: &str, length: u32) -> StockRow {
    StockRow {
        material: material.to_owned(),
        ..StockRow::new(origin("stock", line), mm(length))
    }
}

fn hand(line: u64, material: &str, length: u32, available: u64) -> HandRow {
    HandRow {
        batch: String::new(),
        origin: origin("in-hand", line),
        material: material.to_owned(),
        length: mm(length),
        available,
        square_off: None,
        worth: None,
        note: String::new(),
    }
}

/// One piece of 2210 from bars of 3000: nothing wrong with it.
fn plain() -> JobInput {
    JobInput {
        pieces: vec![piece(2, "", "F", 2210, 7)],
        stock: vec![stock(2, "", 3000)],
        ..JobInput::default()
    }
}

/// The kind, source, line and column of each fault, once `change` has been at the plain job.
fn faults(change: impl FnOnce(&mut JobInput)) -> Vec<(FaultKind, String, u64, String)> {
    let mut input = plain();
    change(&mut input);
    let Err(Faults(faults)) = input.validate() else {
        return vec![];
    };
    faults
        .into_iter()
        .map(|fault| {
            assert!(!fault.found.is_empty() && !fault.accepted.is_empty());
            let origin = fault.origin.unwrap_or_else(|| origin("", 0));
            let column = fault.column.unwrap_or_default();
            (fault.kind, origin.source.to_string(), origin.line, column)
        })
        .collect()
}

fn one_fault(
    kind: FaultKind,
    source: &str,
    line: u64,
    column: &str,
    change: impl FnOnce(&mut JobInput),
) {
    let expected = (kind, source.to_owned(), line, column.to_owned());
    assert_eq!(faults(change), vec![expected]);
}

fn job(change: impl FnOnce(&mut JobInput)) -> Job {
    let mut input = plain();
    change(&mut input);
    input.validate().unwrap()
}

#[test]
fn a_plain_job_has_no_fault() {
    let job = job(|_| {});
    let [material] = job.materials() else {
        unreachable!("one material")
    };
    assert_eq!(material.kerf(), Length::from_mm(3));
    assert_eq!(material.unit(), Unit::Mm);
    assert!(!material.is_priced());
    assert_eq!(material.bars().len(), 1);
}

#[test]
fn numbers_out_of_range() {
    use FaultKind::Range;
    one_fault(Range, "pieces", 2, "length", |job| {
        job.pieces[0].length = mm(0)
    });
    one_fault(Range, "pieces", 2, "qty", |job| {
        job.pieces[0].qty = 0.into()
    });
    one_fault(Range, "pieces", 2, "qty", |job| {
        job.pieces[0].qty = (LARGEST_QUANTITY + 1).into();
    });
    one_fault(Range, "stock", 2, "length", |job| {
        job.stock[0].length = mm(0)
    });
    one_fault(Range, "stock", 2, "available", |job| {
        job.stock[0].available = Some(LARGEST_QUANTITY + 1);
    });
    one_fault(Range, "stock", 2, "sold", |job| {
        job.stock[0].sold = Sold::Pack(0);
    });
    one_fault(Range, "stock", 2, "kerf", |job| {
        job.stock[0].kerf = Some(Length::from_mm(1001));
    });
    one_fault(Range, "in-hand", 4, "length", |job| {
        job.in_hand = vec![hand(4, "", 0, 1)];
    });
    one_fault(Range, "in-hand", 4, "available", |job| {
        job.in_hand = vec![hand(4, "", 500, LARGEST_QUANTITY + 1)];
    });
    one_fault(Range, "", 0, "kerf and per-cut", |job| {
        job.saw.kerf = Length::from_mm(600);
        job.saw.per_cut = Length::from_mm(401);
    });
    let too_fine = || Price::from_decimal(Decimal::new(1, 7)).unwrap();
    let too_high = || Price::from_decimal(Decimal::from(1_000_000_000)).unwrap();
    for bad in [too_fine(), too_high()] {
        one_fault(Range, "stock", 2, "price", |job| {
            job.stock[0].price = Some(bad);
        });
        one_fault(Range, "in-hand", 4, "worth", |job| {
            job.stock[0].price = Some(price("5"));
            job.in_hand = vec![hand(4, "", 500, 1)];
            job.in_hand[0].worth = Some(bad);
        });
    }
}

#[test]
fn the_ends_of_the_ranges_are_inside() {
    let job = job(|job| {
        job.pieces[0].qty = LARGEST_QUANTITY.into();
        job.stock[0].available = Some(0);
        job.stock[0].sold = Sold::Pack(1_000_000);
        job.stock[0].price = Some(Price::ZERO);
        job.in_hand = vec![hand(2, "", 500, 0)];
        job.saw.kerf = Length::ZERO;
    });
    let [bought, in_hand] = job.materials()[0].bars() else {
        unreachable!("two bars")
    };
    assert_eq!(bought.bars_available(), Some(0));
    assert_eq!(in_hand.bars_available(), Some(0));
}

#[test]
fn materials_that_nothing_is_offered_for() {
    use FaultKind::NoStockOffered;
    one_fault(NoStockOffered, "pieces", 3, "material", |job| {
        job.pieces[0].material = "oak".into();
        job.pieces.push(piece(3, "ash", "G", 100, 1));
        job.stock[0].material = "oak".into();
    });
    // No material on the pieces, and two to choose from.
    one_fault(NoStockOffered, "pieces", 2, "material", |job| {
        job.stock[0].material = "oak".into();
        job.stock.push(stock(3, "ash", 3000));
    });
    let mut input = plain();
    input.pieces[0].material = "elm".into();
    input.stock[0].material = "oak".into();
    input.stock.push(stock(3, "ash", 3000));
    let message = input.validate().unwrap_err().to_string();
    assert!(message.contains("oak, ash"), "{message}");
}

#[test]
fn bars_without_a_material_where_there_are_several() {
    let several = |job: &mut JobInput| {
        job.pieces[0].material = "oak".into();
        job.pieces.push(piece(3, "ash", "G", 100, 1));
        job.stock[0].material = "oak".into();
        job.stock.push(stock(3, "ash", 3000));
    };
    one_fault(FaultKind::Value, "stock", 4, "material", |job| {
        several(job);
        job.stock.push(stock(4, " ", 3000));
    });
    one_fault(FaultKind::Value, "in-hand", 2, "material", |job| {
        several(job);
        job.in_hand.push(hand(2, "", 800, 1));
    });
}

#[test]
fn prices_on_some_rows_and_worth_without_prices() {
    one_fault(FaultKind::PricesOnSomeRows, "stock", 3, "price", |job| {
        job.stock[0].price = Some(price("5.90"));
        job.stock.push(stock(3, "", 4000));
    });
    one_fault(
        FaultKind::WorthWithoutPrices,
        "in-hand",
        2,
        "worth",
        |job| {
            job.in_hand = vec![hand(2, "", 800, 1)];
            job.in_hand[0].worth = Some(price("1"));
        },
    );
    // Worth alone, where nothing is bought, is a price like any other.
    let job = job(|job| {
        job.stock.clear();
        job.in_hand = vec![hand(2, "", 2800, 9), hand(3, "", 2400, 9)];
        job.in_hand[0].worth = Some(price("1"));
    });
    assert!(job.materials()[0].is_priced());
}

#[test]
fn blades_that_differ_or_do_not_fit() {
    one_fault(FaultKind::KerfDiffers, "stock", 4, "kerf", |job| {
        job.stock[0].kerf = Some(Length::from_mm(3));
        job.stock.push(stock(3, "", 4000));
        job.stock.push(stock(4, "", 4800));
        job.stock[2].kerf = Some(Length::from_mm(4));
    });
    one_fault(FaultKind::KerfTooWide, "stock", 2, "kerf", |job| {
        job.pieces[0].length = mm(1);
        job.stock[0].length = mm(30);
        job.stock[0].kerf = Some(Length::from_mm(30));
    });
    one_fault(FaultKind::KerfTooWide, "in-hand", 5, "kerf", |job| {
        job.pieces[0].length = mm(1);
        job.stock.clear();
        job.in_hand = vec![hand(4, "", 2, 1), hand(5, "", 3, 1)];
    });
}

#[test]
fn allowances_that_eat_every_bar() {
    one_fault(
        FaultKind::AllowancesEatEveryBar,
        "stock",
        2,
        "square_off",
        |job| job.saw.square_off = square(1500, 1500),
    );
    // A bar in hand that they eat is left out and noted.
    let noted = job(|job| {
        job.in_hand = vec![hand(2, "", 20, 1), hand(3, "", 500, 1)];
        job.in_hand[0].square_off = Some(square(10, 15));
    });
    assert_eq!(noted.materials()[0].bars().len(), 2);
    assert!(noted.notes().contains(&Note::NothingLeftOfBar {
        origin: origin("in-hand", 2),
        length: Length::from_mm(20),
        unit: Unit::Mm,
    }));
    // Where another bar is left, one that is eaten is noted too.
    let noted = job(|job| {
        job.saw.square_off = square(20, 20);
        job.stock.push(stock(3, "", 40));
        job.stock[1].length.unit = Unit::Cm;
    });
    assert_eq!(noted.materials()[0].bars().len(), 1);
    let [note] = noted.notes() else {
        unreachable!("one note")
    };
    assert_eq!(
        note.to_string(),
        "stock, line 3: the 4cm bar is left out, squaring its ends leaves nothing"
    );
}

#[test]
fn jobs_too_large_for_exact_sums() {
    use FaultKind::TooLarge;
    let pieces = FaultKind::AboveCeiling(crate::fault::Ceiling::Pieces);
    one_fault(pieces, "pieces", 2, "qty", |job| {
        let row = piece(2, "", "F", 1, LARGEST_QUANTITY);
        job.pieces = vec![row; 11];
    });
    let far = Measure {
        length: Length::MAX,
        unit: Unit::M,
    };
    one_fault(TooLarge, "pieces", 2, "length", |job| {
        job.pieces[0].length = far;
        job.stock[0].length = far;
    });
    one_fault(TooLarge, "in-hand", 2, "available", |job| {
        job.in_hand = vec![hand(2, "", 800, 2)];
        job.in_hand[0].length = far;
    });
    // 0.000001 a metre on a bar with a nanometre more than 3 m has 15 decimals, and is still exact.
    let fine = Measure {
        length: Length::from_nm(3_000_000_001).unwrap(),
        unit: Unit::Mm,
    };
    let per_metre = |job: &mut JobInput, text: &str, length: Measure| {
        job.stock[0].price = Some(price(text));
        job.stock[0].sold = Sold::PerMetre;
        job.stock[0].length = length;
    };
    let exact = job(|job| per_metre(job, "0.000001", fine));
    let sale = exact.materials()[0].bars()[0].sale_price().unwrap();
    assert_eq!(sale.to_string(), "0.000003000000001");
    let long = Measure {
        length: Length::from_nm(99_999_999_999_999_999).unwrap(),
        unit: Unit::Mm,
    };
    one_fault(TooLarge, "stock", 2, "price", |job| {
        per_metre(job, "999999999.999999", long);
    });
    one_fault(TooLarge, "pieces", 2, "price", |job| {
        job.pieces[0].qty = LARGEST_QUANTITY.into();
        per_metre(job, "999999999.999999", fine);
    });
}

#[test]
fn all_faults_in_one_go_in_the_order_of_the_files() {
    let found = faults(|job| {
        job.saw.kerf = Length::from_mm(2000);
        job.pieces = vec![
            piece(2, "oak", "F", 0, 1),
            piece(3, "oak", "G", 10, 0),
            piece(4, "elm", "H", 10, 1),
        ];
        job.stock = vec![
            stock(2, "oak", 3000),
            stock(3, "oak", 0),
            stock(4, "oak", 10),
        ];
        job.stock[0].price = Some(price("2"));
        job.stock[0].kerf = Some(Length::from_mm(3));
        job.stock[2].kerf = Some(Length::from_mm(4));
        job.in_hand = vec![hand(2, "oak", 0, 1)];
    });
    let found: Vec<(FaultKind, &str, u64)> = found
        .iter()
        .map(|(kind, source, line, _)| (*kind, source.as_str(), *line))
        .collect();
    use FaultKind::*;
    assert_eq!(
        found,
        vec![
            (Range, "", 0),
            (Range, "in-hand", 2),
            (Range, "pieces", 2),
            (Range, "pieces", 3),
            (NoStockOffered, "pieces", 4),
            (Range, "stock", 3),
            (PricesOnSomeRows, "stock", 3),
            (KerfDiffers, "stock", 4),
            (PricesOnSomeRows, "stock", 4),
        ]
    );
}

#[test]
fn a_missing_material_is_the_only_one_there_is() {
    // Blank against named, either way round, and in another writing.
    for (asked, offered) in [("", "Oak"), ("Oak", ""), ("oak  board ", "Oak board")] {
        let job = job(|job| {
            job.pieces[0].material = asked.into();
            job.stock[0].material = offered.into();
            job.in_hand = vec![hand(2, "", 2300, 1)];
        });
        assert_eq!(job.materials().len(), 1, "{asked:?} {offered:?}");
        assert_eq!(job.materials()[0].bars().len(), 2);
    }
}

#[test]
fn stock_that_nobody_asks_for_is_noted_once() {
    let job = job(|job| {
        job.pieces[0].material = "oak".into();
        job.stock[0].material = "oak".into();
        job.stock.push(stock(3, "elm", 3000));
        job.stock.push(stock(4, "Elm", 4000));
    });
    let elm = Note::NotAskedFor {
        origin: origin("stock", 3),
        material: "elm".to_owned(),
    };
    assert_eq!(job.notes().iter().filter(|note| **note == elm).count(), 1);
    assert_eq!(job.notes().len(), 2); // and square ends are assumed
}

#[test]
fn stock_too_long_to_carry_is_left_out_bars_in_hand_are_not() {
    let job = job(|job| {
        job.saw.longest = Some(Length::from_mm(3000));
        job.stock.push(stock(3, "", 3001));
        job.in_hand = vec![hand(2, "", 5000, 1)];
    });
    let lengths: Vec<i64> = job.materials()[0]
        .bars()
        .iter()
        .map(|bar| bar.length().nm() / 1_000_000)
        .collect();
    assert_eq!(lengths, vec![3000, 5000]);
    assert!(job.notes().contains(&Note::LongerThanCarried {
        origin: origin("stock", 3),
        length: Length::from_mm(3001),
        longest: Length::from_mm(3000),
        unit: Unit::Mm,
    }));
}

#[test]
fn assumptions_about_the_ends() {
    let assumed = |job: &Job| {
        let assumes = |note: &Note| matches!(note, Note::AssumesSquareEnds { .. });
        job.notes().iter().any(assumes)
    };
    let in_hand = |job: &Job| {
        let taken = |note: &Note| matches!(note, Note::HandTakenAsSquare { .. });
        job.notes().iter().any(taken)
    };
    let none = job(|job| job.in_hand = vec![hand(2, "", 2300, 1)]);
    assert!(assumed(&none) && !in_hand(&none));
    // Allowances from the saw's setting or from the row: bars in hand without one are pointed out.
    let from_saw = job(|job| {
        job.saw.square_off = square(10, 0);
        job.in_hand = vec![hand(2, "", 2300, 1)];
    });
    assert!(!assumed(&from_saw) && in_hand(&from_saw));
    let from_row = job(|job| {
        job.stock[0].square_off = Some(square(0, 10));
        job.in_hand = vec![hand(2, "", 2300, 1)];
    });
    assert!(!assumed(&from_row) && in_hand(&from_row));
    let everywhere = job(|job| {
        job.saw.square_off = square(10, 10);
        job.in_hand = vec![hand(2, "", 2300, 1)];
        job.in_hand[0].square_off = Some(square(0, 10));
    });
    assert!(!assumed(&everywhere) && !in_hand(&everywhere));
    // The row's own word goes before the saw's, nothing included.
    let taken_back = job(|job| {
        job.saw.square_off = square(10, 10);
        job.stock[0].square_off = Some(square(0, 0));
    });
    assert!(assumed(&taken_back));
    assert_eq!(
        taken_back.materials()[0].bars()[0].usable(),
        Length::from_mm(3000)
    );
}

#[test]
fn metres_that_are_not_whole_bars_are_noted() {
    let by_the_metre = |metres| {
        job(|job| {
            job.stock[0].sold = Sold::PerMetre;
            job.stock[0].available = Some(metres);
        })
    };
    let note = |metres, bars| Note::MetresCutToBars {
        origin: origin("stock", 2),
        metres,
        bars,
    };
    let ten = by_the_metre(10);
    assert_eq!(ten.materials()[0].bars()[0].bars_available(), Some(3));
    assert!(ten.notes().contains(&note(10, 3)));
    assert!(!by_the_metre(9).notes().contains(&note(9, 3)));
}

#[test]
fn every_source_of_bars_counts_bars() {
    let job = job(|job| {
        job.stock = vec![stock(2, "", 3000), stock(3, "", 4000), stock(4, "", 2100)];
        for (row, available) in job.stock.iter_mut().zip([Some(5), Some(3), None]) {
            row.available = available;
            row.price = Some(price("1.40"));
        }
        job.stock[1].sold = Sold::Pack(8);
        job.stock[2].sold = Sold::PerMetre;
    });
    let bars = job.materials()[0].bars();
    let available: Vec<_> = bars.iter().map(Bar::bars_available).collect();
    assert_eq!(available, vec![Some(5), Some(24), None]);
    let per_sale: Vec<_> = bars.iter().map(Bar::bars_per_sale).collect();
    assert_eq!(per_sale, vec![1, 8, 1]);
    let prices: Vec<_> = bars.iter().map(Bar::sale_price).collect();
    let expected = ["1.40", "1.40", "2.94"].map(|text| Some(price(text)));
    assert_eq!(prices, expected);
}

/// The marks of all copies, in the order of the rows.
fn marks(rows: &[(&str, u64)]) -> Vec<String> {
    let job = job(|job| {
        job.pieces = rows
            .iter()
            .enumerate()
            .map(|(at, (mark, qty))| piece(at as u64 + 2, "", mark, 100, *qty))
            .collect();
    });
    let pieces = job.materials()[0].pieces().iter();
    pieces
        .flat_map(|piece| (0..piece.qty()).map(|copy| piece.copy_mark(copy)))
        .collect()
}

#[test]
fn marks_of_copies() {
    assert_eq!(marks(&[("F", 1)]), ["F"]);
    assert_eq!(marks(&[("F", 2)]), ["F-01", "F-02"]);
    assert_eq!(marks(&[(" F ", 1), ("F", 2)]), ["F-01", "F-02", "F-03"]);
    assert_eq!(marks(&[("", 1), ("", 2)]), ["P1", "P2-01", "P2-02"]);
    // Made-up marks step aside for written ones.
    assert_eq!(marks(&[("", 1), ("P1", 1)]), ["P1'", "P1"]);
    // A hundred copies need three digits from the first.
    let many = marks(&[("F", 100)]);
    assert_eq!((many[0].as_str(), many[99].as_str()), ("F-001", "F-100"));
}

#[test]
fn a_written_mark_keeps_its_name_and_numbers_step_aside() {
    assert_eq!(marks(&[("F", 2), ("F-01", 1)]), ["F-001", "F-002", "F-01"]);
    assert_eq!(
        marks(&[("F", 2), ("F-02", 1), ("F-001", 1)]),
        ["F-0001", "F-0002", "F-02", "F-001"]
    );
    // No number of two copies is 3 or 0, or written with one digit.
    assert_eq!(
        marks(&[("F", 2), ("F-03", 1), ("F-00", 1), ("F-1", 1)]),
        ["F-01", "F-02", "F-03", "F-00", "F-1"]
    );
    // A numbered mark that looks like a number of another is no mark of its own.
    assert_eq!(
        marks(&[("F", 2), ("F-01", 2)]),
        ["F-01", "F-02", "F-01-01", "F-01-02"]
    );
    assert_eq!(
        marks(&[("", 2), ("P1-02", 1)]),
        ["P1-001", "P1-002", "P1-02"]
    );
}

proptest! {
    /// Whatever is written, no two pieces of a material share a mark.
    #[test]
    fn marks_are_unique(
        rows in prop::collection::vec(("(F|P1|P2|)(-0{0,2}[0-3])?'?", 1_u64..4), 1..8),
    ) {
        let rows: Vec<(&str, u64)> =
            rows.iter().map(|(mark, qty)| (mark.as_str(), *qty)).collect();
        let marks = marks(&rows);
        let distinct: HashSet<&String> = marks.iter().collect();
        prop_assert_eq!(distinct.len(), marks.len(), "{:?}", marks);
    }

    /// No job, however strange its numbers, makes validation panic.
    #[test]
    fn no_numbers_panic(
        length in 0..=Length::MAX.nm(), bar in 0..=Length::MAX.nm(), near in 0..=Length::MAX.nm(),
        kerf in 0..=Length::MAX.nm(), qty: u64, available: Option<u64>, pack: u32, cents: u64,
        places in 0_u32..28,
    ) {
        let nm = |nm| Length::from_nm(nm).unwrap();
        for sold in [Sold::Each, Sold::PerMetre, Sold::Pack(pack)] {
            let mut input = plain();
            input.pieces[0].length.length = nm(length);
            input.pieces[0].qty = qty.into();
            let row = &mut input.stock[0];
            row.length.length = nm(bar);
            row.price = Price::from_decimal(Decimal::from_i128_with_scale(i128::from(cents), places));
            row.sold = sold;
            row.available = available;
            row.square_off = Some(SquareOff { near: nm(near), far: nm(near) });
            input.saw.kerf = nm(kerf);
            input.saw.per_cut = nm(near);
            let _ = input.validate();
        }
    }
}

/// A row that says nothing of it is fixed first.
#[cfg(feature = "serde")]
#[test]
fn a_row_without_a_stage_is_of_the_first() {
    let text = serde_json::to_string(&piece(2, "", "F", 2210, 7)).unwrap();
    let without = text.replace("\"stage\":1,", "");
    assert_ne!(text, without);
    let row: PieceRow = serde_json::from_str(&without).unwrap();
    assert_eq!(row.stage, 1);
}
