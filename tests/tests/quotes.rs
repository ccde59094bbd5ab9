//! Quotes with delivery against every way to share small lists out, with exhaustively solved costs; every
//! plan of every quote is verified.
//!
//! `QUOTE_JOBS=1000` in the environment tries that many; `--nocapture` shows the shares.

#![allow(clippy::expect_used, clippy::panic)]

use lengthwise::fault::FaultKind;
use lengthwise::job::{PieceRow, StockRow};
use lengthwise::plan::Value;
use lengthwise::quotes::{Comparison, Quote, QuotesInput, Way};
use lengthwise::{Limits, Origin, Price, verify};
use lengthwise_tests::answer::units;
use lengthwise_tests::rows::{mm, origin};
use lengthwise_tests::small_quotes::{SmallQuotes, small_quotes};
use lengthwise_tests::tally::number;

const JOBS: u64 = 200;

#[derive(Debug, Default)]
struct Tally {
    ways: u64,
    proven: u64,
    without: u64,
    alone: u64,
    alone_without: u64,
    /// Ways with more than one merchant.
    several: u64,
    /// Ways with a material from hand alone.
    from_hand: u64,
    plans: u64,
}

fn amount(price: Price) -> i128 {
    units(Value::Money(price))
}

impl Tally {
    fn add(&mut self, small: &SmallQuotes) -> Result<(), String> {
        let input = small.input();
        let quotes = input.validate().map_err(|faults| faults.to_string())?;
        let compared = quotes.compare(&Limits::default());
        for (job, plan) in quotes.jobs().zip(&compared.plans) {
            verify(job, plan).map_err(|refusal| format!("refused: {refusal}"))?;
            self.plans += 1;
        }
        let all: Vec<usize> = (0..small.delivery.len()).collect();
        let cheapest = compared.cheapest.as_ref();
        let whole = cheapest.filter(|way| way.sources.iter().all(Option::is_some));
        if let Some(way) = whole {
            self.ways += 1;
            self.proven += u64::from(way.is_proven());
            let charged = self.check_sums(small, &compared, way)?;
            self.several += u64::from(charged > 1);
            let hand = |source: &Option<lengthwise::quotes::Source>| {
                source.is_some_and(|source| source.quote.is_none())
            };
            self.from_hand += u64::from(way.sources.iter().any(hand));
        } else {
            self.without += 1;
        }
        compare(whole, small.best(&all)).map_err(|why| format!("all: {why}"))?;
        for (merchant, way) in compared.alone.iter().enumerate() {
            match way {
                Some(_) => self.alone += 1,
                None => self.alone_without += 1,
            }
            let best = small.best(&[merchant]);
            compare(way.as_ref(), best).map_err(|why| format!("{merchant} alone: {why}"))?;
        }
        Ok(())
    }

    /// The way comes to what its plans and deliveries say; how many merchants deliver.
    fn check_sums(
        &self,
        small: &SmallQuotes,
        compared: &Comparison,
        way: &Way,
    ) -> Result<usize, String> {
        let mut used = vec![false; small.delivery.len()];
        let mut sum = 0;
        for source in way.sources.iter().flatten() {
            let cutting = compared
                .cutting(source.plan)
                .ok_or("a source without a plan")?;
            sum += match cutting.value {
                Value::Money(_) => units(cutting.value),
                Value::Bought(_) => 0,
            };
            match source.quote {
                Some(quote) => used[quote] = true,
                None if cutting.buy.is_empty() => {}
                None => return Err("bought of nobody".to_owned()),
            }
        }
        let charges = small.delivery.iter().zip(&used).filter(|(_, used)| **used);
        let pence: i64 = charges.map(|(pence, _)| pence).sum();
        let delivery = i128::from(pence) * 1_000_000_000;
        if (sum, delivery, sum + delivery)
            == (
                amount(way.material),
                amount(way.delivery),
                amount(way.total),
            )
        {
            Ok(used.iter().filter(|used| **used).count())
        } else {
            Err(format!("{way:?} does not come to {sum} and {delivery}"))
        }
    }
}

fn compare(way: Option<&Way>, best: Option<i128>) -> Result<(), String> {
    match (way, best) {
        (None, None) => Ok(()),
        (Some(way), Some(best)) => {
            let (total, bound) = (amount(way.total), amount(way.bound));
            if bound > best || total < best || (way.is_proven() && total != best) {
                return Err(format!("{way:?}, though {best} is the least"));
            }
            Ok(())
        }
        (way, best) => Err(format!("{way:?}, though {best:?}")),
    }
}

/// What is in hand would be cut with the blade of a quote that nothing is bought from.
#[test]
fn two_blades_for_a_material_in_hand_are_refused() {
    let mut refused = 0;
    for seed in 1..=number("QUOTE_JOBS").unwrap_or(JOBS) {
        let mut small = small_quotes(seed);
        let several = |offers: &Vec<Option<_>>| offers.iter().flatten().count() > 1;
        let in_hand = small
            .materials
            .iter_mut()
            .find(|material| !material.job.in_hand.is_empty() && several(&material.offers));
        let Some(material) = in_hand else {
            continue;
        };
        let first = material.offers.iter().position(Option::is_some);
        let first = first.expect("there are several");
        material.kerfs[first] = if material.job.kerf == 0 { 1 } else { 0 };
        match small.input().validate() {
            Err(faults) => {
                let is_it = |fault: &lengthwise::Fault| {
                    matches!(fault.kind, FaultKind::KerfDiffers | FaultKind::KerfTooWide)
                };
                assert!(faults.0.iter().all(is_it), "seed {seed}: {faults}");
                refused += 1;
            }
            Ok(_) => panic!("seed {seed}: {small:?}"),
        }
    }
    assert!(refused > 10, "{refused}");
}

/// Whatever file a row comes from: one quote is one delivery.
#[test]
fn two_charges_for_a_delivery_are_refused() {
    let price = |text: &str| Some(Price::parse(text, false).expect("a price"));
    let row = |source: &str, line: usize, material: &str, delivery: Option<&str>| StockRow {
        material: material.to_owned(),
        price: price("5"),
        delivery: delivery.and_then(price),
        ..StockRow::new(origin(source, line - 1), mm(3000))
    };
    let input = |charges: [Option<&str>; 3]| {
        let piece = |material: &str| PieceRow {
            material: material.to_owned(),
            ..PieceRow::new(origin("pieces", 0), mm(1400))
        };
        let [first, second, third] = charges;
        QuotesInput {
            pieces: vec![piece("rack"), piece("lid")],
            quotes: vec![Quote {
                name: "hill".to_owned(),
                stock: vec![
                    row("racks", 2, "rack", first),
                    row("lids", 3, "lid", second),
                    row("lids", 4, "lid", third),
                ],
            }],
            ..QuotesInput::default()
        }
    };
    let found = |charges| match input(charges).validate() {
        Ok(_) => vec![],
        Err(faults) => {
            let told = faults.0.into_iter().map(|fault| {
                assert_eq!(fault.kind, FaultKind::RowsDiffer);
                assert_eq!(fault.column.as_deref(), Some("delivery"));
                (fault.origin, fault.found)
            });
            told.collect::<Vec<(Option<Origin>, String)>>()
        }
    };
    let at = |line: usize| Some(origin("lids", line - 1));
    assert_eq!(found([Some("40"), None, None]), []);
    assert_eq!(found([Some("40"), Some("40"), Some("40.00")]), []);
    let other = (at(3), "40.00".to_owned());
    assert_eq!(
        found([Some("0"), Some("40"), Some("40")]),
        std::slice::from_ref(&other)
    );
    assert_eq!(
        found([Some("0"), None, Some("40")]),
        [(at(4), "40.00".to_owned())]
    );
    // Each row is told of once.
    assert_eq!(
        found([Some("0"), Some("0"), Some("40")]),
        [(at(4), "40.00".to_owned())]
    );
    let both = [other, (at(4), "30.00".to_owned())];
    assert_eq!(found([Some("0"), Some("40"), Some("30")]), both);
}

#[test]
fn quotes_with_delivery() {
    let jobs = number("QUOTE_JOBS").unwrap_or(JOBS);
    let mut tally = Tally::default();
    let mut wrong = Vec::new();
    for seed in 1..=jobs {
        let small = small_quotes(seed);
        if let Err(why) = tally.add(&small) {
            wrong.push(format!("seed {seed}: {why}\n{small:?}"));
        }
    }
    println!("{jobs} jobs: {tally:?}");
    let shown: Vec<&str> = wrong.iter().take(3).map(String::as_str).collect();
    assert!(
        wrong.is_empty(),
        "{} wrong:\n{}",
        wrong.len(),
        shown.join("\n")
    );
    assert!(tally.proven * 100 >= tally.ways * 99, "{tally:?}");
    // The jobs are worth something only if all sorts are among them.
    assert!(
        tally.several * 20 > tally.ways && tally.from_hand * 20 > tally.ways,
        "{tally:?}"
    );
    assert!(
        tally.without > 0 && tally.alone_without > tally.without,
        "{tally:?}"
    );
}
