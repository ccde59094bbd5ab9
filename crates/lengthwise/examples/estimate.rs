//! As short as it gets, as in the README: rows in, a buying list out.

use lengthwise::{JobInput, Length, Limits, Origin, Unit, job::*, plan::Outcome, solve, verify};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    // What a fault refers to.
    let at = |line| Origin {
        source: "estimate".into(),
        line,
    };
    let batten = PieceRow {
        qty: 7.into(),
        ..PieceRow::new(at(1), Length::parse("2210", Unit::Mm)?)
    };
    let bar = StockRow::new(at(2), Length::parse("3m", Unit::Mm)?);
    let job = JobInput {
        pieces: vec![batten],
        stock: vec![bar],
        ..JobInput::default()
    }
    .validate()?;
    let plan = solve(&job, &Limits::default());
    // Every claim recomputed, without the code of the search.
    verify(&job, &plan)?;
    if let Outcome::Planned(cutting) = &plan.materials[0].outcome {
        for line in &cutting.buy {
            let length = line.length.text(Unit::Mm);
            println!("buy {} of {length}, {:?}", line.bars, cutting.proof);
        }
    }
    Ok(())
}
