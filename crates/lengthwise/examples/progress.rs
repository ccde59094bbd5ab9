//! A progress display of one's own: what is known while boards of many lengths are planned.

use std::error::Error;

use lengthwise::job::{PieceRow, StockRow};
use lengthwise::plan::Value;
use lengthwise::solve::solve_watched;
use lengthwise::{Job, JobInput, Length, Limits, Measure, Origin, Price, Unit, verify};

fn mm(mm: u32) -> Measure {
    Measure {
        length: Length::from_mm(mm),
        unit: Unit::Mm,
    }
}

/// Two walls of boards under a raked roof, of one material each.
fn walls() -> Result<Job, Box<dyn Error>> {
    let at = |line| Origin {
        source: "example".into(),
        line,
    };
    let mut input = JobInput::default();
    for (material, lowest, rise) in [("larch board", 1480, 17), ("lining board", 820, 23)] {
        for (board, line) in (0..40).zip(1..) {
            input.pieces.push(PieceRow {
                material: material.to_owned(),
                qty: 3.into(),
                ..PieceRow::new(at(line), mm(lowest + rise * board))
            });
        }
        for (length, price, line) in [(3000, "9.60", 1), (4200, "13.20", 2), (4800, "16.80", 3)] {
            input.stock.push(StockRow {
                material: material.to_owned(),
                price: Some(Price::parse(price, false)?),
                ..StockRow::new(at(line), mm(length))
            });
        }
    }
    Ok(input.validate()?)
}

fn main() -> Result<(), Box<dyn Error>> {
    let job = walls()?;
    let limits = Limits {
        work: Some(300_000_000), // a fraction of a second
        ..Limits::default()
    };
    let mut done = 0;
    let mut shown = String::new();
    // Called from the threads that plan, one at a time, and they wait for it: it should be quick.
    let plan = solve_watched(&job, &limits, &mut |now| {
        done = now.done;
        let value = match now.value {
            Some(Value::Money(price)) => price.to_string(),
            _ => "no plan yet".to_owned(),
        };
        let gap = match now.gap {
            Some(gap) => format!("at most {:.2} % too dear", gap * 100.0),
            None => "no bound yet".to_owned(),
        };
        let line = format!("{}: {value}, {gap}", now.material);
        if line != shown {
            println!("{} of {} done; {line}", now.done, now.materials);
            shown = line;
        }
    });
    verify(&job, &plan)?;
    if done != job.materials().len() {
        return Err(format!("the display ends with {done} materials done").into());
    }
    Ok(())
}
