//! Window linings: what is in hand goes first where that pays, the rest is bought; then what is left over.

use std::error::Error;

use lengthwise::job::{HandRow, PieceRow, StockRow};
use lengthwise::plan::{Outcome, Value};
use lengthwise::{JobInput, Length, Limits, Origin, Price, Unit, solve, verify};

fn at(line: u64) -> Origin {
    Origin {
        source: "example".into(),
        line,
    }
}

fn piece(line: u64, mark: &str, length: &str, qty: u64) -> Result<PieceRow, Box<dyn Error>> {
    Ok(PieceRow {
        mark: mark.to_owned(),
        qty: qty.into(),
        ..PieceRow::new(at(line), Length::parse(length, Unit::Mm)?)
    })
}

fn stock(line: u64, length: &str, price: &str) -> Result<StockRow, Box<dyn Error>> {
    Ok(StockRow {
        price: Some(Price::parse(price, false)?),
        ..StockRow::new(at(line), Length::parse(length, Unit::Mm)?)
    })
}

/// Without a worth a bar costs nothing; with one it is cut into only where that saves more.
fn in_hand(
    line: u64,
    length: &str,
    available: u64,
    worth: Option<&str>,
) -> Result<HandRow, Box<dyn Error>> {
    let worth = worth.map(|text| Price::parse(text, false)).transpose()?;
    Ok(HandRow {
        origin: at(line),
        material: String::new(),
        length: Length::parse(length, Unit::Mm)?,
        available,
        square_off: None,
        worth,
        batch: String::new(),
        note: String::new(),
    })
}

fn main() -> Result<(), Box<dyn Error>> {
    let job = JobInput {
        pieces: vec![piece(1, "GZS", "1180", 3)?, piece(2, "WJ", "592", 2)?],
        stock: vec![stock(1, "2.4m", "9.60")?, stock(2, "3m", "12.00")?],
        in_hand: vec![
            in_hand(1, "1000", 2, None)?,
            in_hand(2, "1350", 1, Some("2.40"))?,
            in_hand(3, "2100", 1, Some("9.00"))?,
        ],
        ..JobInput::default()
    }
    .validate()?;

    let plan = solve(&job, &Limits::default());
    verify(&job, &plan)?;
    let [material] = plan.materials.as_slice() else {
        return Err("one material was asked for".into());
    };
    let Outcome::Planned(cutting) = &material.outcome else {
        return Err(format!("{:?}", material.outcome).into());
    };
    let text = |length: Length| length.text(material.unit);

    for line in &cutting.buy {
        println!("buy {} of {}", line.bars, text(line.length));
    }
    for group in cutting.bars.iter().filter(|group| group.in_hand) {
        let names = group.names.join(", ");
        println!("from hand: {names} of {}", text(group.stock));
    }
    let Value::Money(value) = cutting.value else {
        return Err("every row of the stock has a price".into());
    };
    println!("to pay, and the worth of what is cut from hand: {value}");

    for group in cutting.bars.iter().filter(|group| group.saved) {
        let names = group.names.join(", ");
        println!("left over of {names}: {} each", text(group.offcut));
    }
    for bars in &cutting.uncut {
        println!("still whole: {} of {}", bars.count, text(bars.length));
    }
    if cutting.figures.hand_cut_into.is_zero() {
        return Err("bars in hand that cost nothing were passed over".into());
    }
    Ok(())
}
