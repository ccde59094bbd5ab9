//! A plan is kept as JSON and verified when it is read back.
//!
//! Run with `cargo run --example saved`.

use std::error::Error;

use lengthwise::job::{PieceRow, StockRow};
use lengthwise::{JobInput, Length, Limits, Origin, Plan, Price, Unit, solve, verify};
use serde::{Deserialize, Serialize};

/// Rails for the drying racks of the kiln shed.
fn racks() -> Result<JobInput, Box<dyn Error>> {
    let at = |line| Origin {
        source: "racks".into(),
        line,
    };
    let rail = PieceRow {
        mark: "R".into(),
        qty: 14.into(),
        ..PieceRow::new(at(1), Length::parse("1240", Unit::Mm)?)
    };
    let batten = StockRow {
        price: Some(Price::parse("4.85", false)?),
        ..StockRow::new(at(1), Length::parse("4200", Unit::Mm)?)
    };
    Ok(JobInput {
        pieces: vec![rail],
        stock: vec![batten],
        ..JobInput::default()
    })
}

/// What is kept: what was asked, and the answer.
#[derive(Serialize, Deserialize)]
struct Saved {
    job: JobInput,
    plan: Plan,
}

fn save() -> Result<String, Box<dyn Error>> {
    let job = racks()?;
    let plan = solve(&job.clone().validate()?, &Limits::default());
    Ok(serde_json::to_string_pretty(&Saved { job, plan })?)
}

/// Whoever had the file may have changed it. So the rows are checked like any others, and the plan is
/// no more than a claim until it is verified.
fn read_back(text: &str) -> Result<Plan, Box<dyn Error>> {
    let saved: Saved = serde_json::from_str(text)?;
    let job = saved.job.validate()?;
    verify(&job, &saved.plan)?;
    Ok(saved.plan)
}

fn main() -> Result<(), Box<dyn Error>> {
    let text = save()?;
    println!("kept in {} bytes", text.len());
    let plan = read_back(&text)?;
    println!("read back: {} material, verified", plan.materials.len());

    // Five bars at 4.85. Somebody makes them cheaper.
    let forged = text.replace("24.25", "19.40");
    if forged == text {
        return Err("the price of five bars is not in what was kept".into());
    }
    match read_back(&forged) {
        Ok(_) => Err("a forged plan was taken for a true one".into()),
        Err(reason) => {
            println!("forged, and refused: {reason}");
            Ok(())
        }
    }
}
