//! Enough of waiting: another thread sets a flag, and the best plan so far comes at once, with its gap.

use std::error::Error;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::Duration;

use lengthwise::job::{PieceRow, StockRow};
use lengthwise::plan::{Outcome, Proof, Stop, Value};
use lengthwise::{Job, JobInput, Length, Limits, Measure, Origin, Price, Unit, solve, verify};

fn mm(mm: u32) -> Measure {
    Measure {
        length: Length::from_mm(mm),
        unit: Unit::Mm,
    }
}

/// Far more lengths than a kiln shed has: a thousand, ten of each.
fn hard_job() -> Result<Job, Box<dyn Error>> {
    let at = |line| Origin {
        source: "example".into(),
        line,
    };
    // 1009 is prime, so the steps meet a thousand different lengths.
    let pieces = (1..=1000).map(|step| PieceRow {
        qty: 10.into(),
        ..PieceRow::new(at(step.into()), mm(120 + step * 1009 % 2600))
    });
    let mut input = JobInput {
        pieces: pieces.collect(),
        ..JobInput::default()
    };
    for (length, price, line) in [(3000, "7.80", 1), (3600, "9.50", 2), (4800, "13.10", 3)] {
        input.stock.push(StockRow {
            price: Some(Price::parse(price, false)?),
            ..StockRow::new(at(line), mm(length))
        });
    }
    Ok(input.validate()?)
}

fn main() -> Result<(), Box<dyn Error>> {
    let job = hard_job()?;
    let enough = AtomicBool::new(false);
    let limits = Limits {
        cancel: Some(&enough),
        ..Limits::default()
    };
    let plan = thread::scope(|scope| {
        // In a program with a window this would be a button.
        scope.spawn(|| {
            thread::sleep(Duration::from_millis(200));
            enough.store(true, Ordering::Relaxed);
        });
        solve(&job, &limits)
    });
    verify(&job, &plan)?;
    for material in &plan.materials {
        let Outcome::Planned(cutting) = &material.outcome else {
            return Err(format!("{:?}", material.outcome).into());
        };
        let (Value::Money(value), Value::Money(bound)) = (cutting.value, cutting.bound) else {
            return Err("every row has a price".into());
        };
        if cutting.proof != Proof::Gap(Stop::Cancelled) || bound > value {
            return Err(format!("{:?}, {value} and {bound}", cutting.proof).into());
        }
        println!("stopped with a plan of {value}; no plan costs less than {bound}");
    }
    Ok(())
}
