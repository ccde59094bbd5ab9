//! Half-way through the battens: two bars are cut, one piece is spoiled, and the rest is planned.

use std::collections::BTreeSet;
use std::error::Error;

use lengthwise::carry_on::{Happened, Said, Statement, UnderWay, remainder};
use lengthwise::job::{PieceRow, StockRow};
use lengthwise::plan::Outcome;
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

fn main() -> Result<(), Box<dyn Error>> {
    let input = JobInput {
        pieces: vec![PieceRow {
            mark: "F".to_owned(),
            qty: 8.into(),
            ..PieceRow::new(at(1), Length::parse("1400", Unit::Mm)?)
        }],
        stock: vec![stock(1, "1.8m", "3.70")?, stock(2, "3m", "5.90")?],
        ..JobInput::default()
    };
    let job = input.clone().validate()?;
    let plan = solve(&job, &Limits::default());
    verify(&job, &plan)?;

    let under_way = UnderWay::new(input, &plan)?;
    let bars: Vec<&str> = under_way.bar_names().collect();
    let marks: BTreeSet<&str> = under_way.marks().collect();
    println!("planned: {} pieces from {}", marks.len(), bars.join(", "));
    let (&[first, second, ..], Some(spoiled)) = (bars.as_slice(), under_way.marks().next()) else {
        return Err("the plan has fewer bars than that".into());
    };

    // The first mark is that of the first cut of the first bar.
    let said = [
        Said::Cut { bar: first.into() },
        Said::Cut { bar: second.into() },
        Said::Spoiled {
            mark: spoiled.into(),
            bar: None,
        },
    ];
    let happened = Happened {
        statements: said
            .into_iter()
            .zip(1..)
            .map(|(said, line)| Statement {
                origin: at(line),
                column: 1,
                said,
            })
            .collect(),
        ..Happened::default()
    };
    println!("cut: {first}, {second}; spoiled: {spoiled}");

    let left = remainder(&under_way, &happened)?;
    let carried = left.plan(&Limits::default());
    verify(left.job(), &carried.plan)?;
    for (material, changes) in carried.plan.materials.iter().zip(&carried.changes) {
        let Outcome::Planned(cutting) = &material.outcome else {
            return Err(format!("{:?}", material.outcome).into());
        };
        println!("as they were: {}", changes.unchanged.join(", "));
        println!("new: {}", changes.new.join(", "));
        for line in &cutting.buy {
            println!("buy {} of {}", line.bars, line.length.text(material.unit));
        }
    }

    // Every piece is either cut by now or planned again.
    let after = left.under_way(&carried);
    if after.marks().collect::<BTreeSet<_>>() != marks {
        return Err("some pieces are neither cut nor planned".into());
    }
    if left.done().iter().any(|done| done.row.mark == spoiled) {
        return Err(format!("{spoiled} is spoiled and counts as done").into());
    }
    Ok(())
}
