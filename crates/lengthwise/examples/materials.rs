//! The kiln shed in three materials: boards by the piece, battens by the metre, skirting in packs.

use std::error::Error;

use lengthwise::job::{PieceRow, Sold, StockRow};
use lengthwise::plan::{Outcome, Proof, Value};
use lengthwise::{JobInput, Length, Limits, Origin, Price, Unit, solve, verify};

fn at(line: u64) -> Origin {
    Origin {
        source: "example".into(),
        line,
    }
}

fn piece(line: u64, material: &str, length: &str, qty: u64) -> Result<PieceRow, Box<dyn Error>> {
    Ok(PieceRow {
        material: material.to_owned(),
        qty: qty.into(),
        ..PieceRow::new(at(line), Length::parse(length, Unit::Mm)?)
    })
}

fn stock(
    line: u64,
    material: &str,
    (length, price): (&str, &str),
    sold: Sold,
) -> Result<StockRow, Box<dyn Error>> {
    Ok(StockRow {
        material: material.to_owned(),
        price: Some(Price::parse(price, false)?),
        sold,
        ..StockRow::new(at(line), Length::parse(length, Unit::Mm)?)
    })
}

fn main() -> Result<(), Box<dyn Error>> {
    let job = JobInput {
        pieces: vec![
            piece(1, "larch board", "1945", 14)?,
            piece(2, "larch board", "540", 6)?,
            piece(3, "roofing batten", "2200", 5)?,
            piece(4, "roofing batten", "550", 20)?,
            piece(5, "skirting", "1526", 3)?,
        ],
        stock: vec![
            stock(1, "larch board", ("3m", "9.60"), Sold::Each)?,
            stock(2, "larch board", ("4.2m", "13.20"), Sold::Each)?,
            stock(3, "roofing batten", ("3.6m", "0.70"), Sold::PerMetre)?,
            stock(4, "roofing batten", ("4.8m", "0.70"), Sold::PerMetre)?,
            stock(5, "skirting", ("2.4m", "22.40"), Sold::Pack(4))?,
        ],
        ..JobInput::default()
    }
    .validate()?;

    let plan = solve(&job, &Limits::default());
    verify(&job, &plan)?;
    let mut total = Price::ZERO;
    for material in &plan.materials {
        let name = &material.name;
        let Outcome::Planned(cutting) = &material.outcome else {
            return Err(format!("{name}: {:?}", material.outcome).into());
        };
        for line in &cutting.buy {
            let length = line.length.text(material.unit);
            let cost = line.cost.ok_or("every row has a price")?;
            println!("{name}: {} bars of {length} for {cost}", line.bars);
            total = total.checked_add(cost).ok_or("too much money")?;
        }
        for whole in &cutting.uncut {
            let length = whole.length.text(material.unit);
            println!("{name}: kept whole, {} of {length}", whole.count);
        }
        // Nothing is in hand, so what a plan comes to is what is paid.
        match (cutting.proof, cutting.value) {
            (Proof::Optimal, Value::Money(value)) => println!("{name}: {value}, cheapest"),
            other => return Err(format!("{name}: not proved with prices: {other:?}").into()),
        }
    }
    println!("to pay: {total}");
    Ok(())
}
