//! Seven battens of 2210 mm from 3 m bars: what to buy, how to cut, and how sure that is.

use lengthwise::job::{PieceRow, Sold, StockRow};
use lengthwise::plan::Outcome;
use lengthwise::{JobInput, Length, Limits, Origin, Price, Unit, solve, verify};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let at = |line| Origin {
        source: "example".into(),
        line,
    };
    let job = JobInput {
        pieces: vec![PieceRow {
            origin: at(1),
            material: "batten".to_owned(),
            mark: "F".to_owned(),
            length: Length::parse("2210", Unit::Mm)?,
            qty: 7,
            note: String::new(),
        }],
        stock: vec![StockRow {
            origin: at(1),
            material: "batten".to_owned(),
            length: Length::parse("3m", Unit::Mm)?,
            price: Some(Price::parse("5.90", false)?),
            sold: Sold::Each,
            available: None,
            kerf: None,
            square_off: None,
            note: String::new(),
        }],
        ..JobInput::default()
    }
    .validate()?;

    let plan = solve(&job, &Limits::default());
    verify(&job, &plan)?;
    for material in &plan.materials {
        let Outcome::Planned(cutting) = &material.outcome else {
            println!("{}: {:?}", material.name, material.outcome);
            continue;
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
