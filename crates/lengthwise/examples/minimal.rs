//! Seven battens of 2210 mm from 3 m bars: what to buy, how to cut, and how sure that is.

use lengthwise::job::{PieceRow, StockRow};
use lengthwise::plan::Outcome;
use lengthwise::{JobInput, Length, Limits, Origin, Price, Unit, solve, verify};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let at = |line| Origin {
        source: "example".into(),
        line,
    };
    let job = JobInput {
        pieces: vec![PieceRow {
            material: "batten".to_owned(),
            mark: "F".to_owned(),
            qty: 7.into(),
            ..PieceRow::new(at(1), Length::parse("2210", Unit::Mm)?)
        }],
        stock: vec![StockRow {
            material: "batten".to_owned(),
            price: Some(Price::parse("5.90", false)?),
            ..StockRow::new(at(1), Length::parse("3m", Unit::Mm)?)
        }],
        ..JobInput::default()
    }
    .validate()?;

    let plan = solve(&job, &Limits::default());
    verify(&job, &plan)?;
    for material in &plan.materials {
        let Outcome::Planned(cutting) = &material.outcome else {
            return Err(format!("{}: {:?}", material.name, material.outcome).into());
        };
        println!(
            "{}: {:?}, {:?}",
            material.name, cutting.value, cutting.proof
        );
        for line in &cutting.buy {
            println!("buy {} of {}", line.bars, line.length.text(material.unit));
        }
        for group in &cutting.bars {
            let cuts: Vec<String> = group
                .cuts
                .iter()
                .map(|cut| cut.length.number(material.unit))
                .collect();
            println!("{}: {}", group.names.join(", "), cuts.join(" + "));
        }
    }
    Ok(())
}
