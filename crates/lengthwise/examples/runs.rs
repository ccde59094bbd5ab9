//! Two fascias of 6.3 m from bars of 3.3 m and 3.9 m, joined on the rafters: what is joined where.

use std::error::Error;

use lengthwise::job::{Joints, PieceRow, StockRow};
use lengthwise::plan::{Cutting, Outcome, RunPart};
use lengthwise::{JobInput, Length, Limits, Origin, Price, Unit, solve, verify};

fn at(line: u64) -> Origin {
    Origin {
        source: "example".into(),
        line,
    }
}

fn stock(line: u64, length: &str, price: &str) -> Result<StockRow, Box<dyn Error>> {
    Ok(StockRow {
        price: Some(Price::parse(price, false)?),
        ..StockRow::new(at(line), Length::parse(length, Unit::Mm)?)
    })
}

/// Every part with the bar that it is cut from, run by run from the left.
fn parts(cutting: &Cutting) -> Vec<(&RunPart, &str)> {
    let groups = cutting.bars.iter();
    let mut parts: Vec<(&RunPart, &str)> = groups
        .flat_map(|group| group.cuts.iter().map(move |cut| (group, cut)))
        .flat_map(|(group, cut)| cut.parts.iter().zip(&group.names))
        .map(|(part, bar)| (part, bar.as_str()))
        .collect();
    parts.sort();
    parts
}

fn main() -> Result<(), Box<dyn Error>> {
    let run = Length::from_mm(6300);
    let job = JobInput {
        pieces: vec![PieceRow {
            mark: "F".to_owned(),
            qty: 2.into(),
            joints: Some(Joints::Every {
                spacing: Length::from_mm(600),
                from: Length::from_mm(150),
            }),
            shortest: Some(Length::from_mm(1200)),
            ..PieceRow::new(at(1), Length::parse("6300", Unit::Mm)?)
        }],
        stock: vec![stock(1, "3.3m", "16.50")?, stock(2, "3.9m", "19.50")?],
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

    let mut reached = Length::ZERO;
    let mut whole = 0;
    for (part, bar) in parts(cutting) {
        let RunPart { mark, copy, .. } = part;
        let (from, to) = (part.from.number(Unit::Mm), part.to.number(Unit::Mm));
        let end = match part.to_support {
            Some(support) => format!("joined on support {support}"),
            None => "the end".to_owned(),
        };
        println!(
            "{mark}-{copy}.{}: {from} to {to} from {bar}, {end}",
            part.part
        );
        // A part begins where the one before it ends; with the last one a run is whole.
        let is_last = part.part == part.of;
        if part.from != reached || (is_last && part.to != run) {
            return Err(format!("{mark}-{copy} is open at {from} or {to}").into());
        }
        reached = if is_last { Length::ZERO } else { part.to };
        whole += u32::from(is_last);
    }
    if whole != 2 {
        return Err(format!("2 runs were asked for, {whole} are whole").into());
    }
    for line in &cutting.buy {
        println!("buy {} of {}", line.bars, line.length.text(Unit::Mm));
    }
    Ok(())
}
