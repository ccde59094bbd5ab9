//! Price breaks and charges for delivery in the stock file: what is read, what is refused, and what is
//! printed and written.
#![allow(clippy::unwrap_used)]

mod common;

use common::{Run, Yard};

/// One row of stock at this price, for twelve pieces that take a bar each.
fn stock(price: &str, more: &str) -> Run {
    stock_with("", price, more)
}

fn stock_with(columns: &str, price: &str, more: &str) -> Run {
    let yard = Yard::with_stock(format!("length,price{columns}\n3000,{price}{more}\n"));
    yard.file("p.csv", "length,qty\n2210,12\n");
    yard.plan(&[])
}

/// The text as if no line had been wrapped.
fn words(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The only fault is in this column, with this found and this accepted.
#[track_caller]
fn refused(run: &Run, column: &str, parts: &[&str]) {
    let place = format!("s.csv, line 2, {column}: found ");
    run.is_fault(&[&[place.as_str(), "; accepted: "], parts].concat());
    run.has_faults(1);
}

/// Arithmetic: 12 x 5.90 = 70.80; 12 x 5.40 = 64.80; 15 x 4.00 = 60.00, less than 12 x 5.40.
#[test]
fn the_cells_that_are_spoiled_below_are_sound_otherwise() {
    for (price, cost) in [
        ("5.90", "70.80"),
        ("5.90; 5.40 from 13", "70.20"),
        ("5.90; 5.40 from 12", "64.80"),
        ("5.90;5.40 FROM 12;4.00 from 15", "60.00"),
        (" 5.90 ;  5.40   from  2 ", "64.80"),
        ("£5.90; £5.40from 12", "64.80"),
        ("5.90; 5.40 from 1000000", "70.80"),
    ] {
        let run = stock(price, "");
        run.ended(0);
        assert!(run.out.contains(cost), "{price}: {}", run.out);
        assert!(run.out.contains("Proved cheapest."), "{price}");
    }
}

#[test]
fn prices_that_are_no_prices() {
    let accepted =
        "a price such as 5.90, and lower ones from larger counts such as 5.90; 5.40 from 20";
    for cell in [
        "5.90; 5.40",
        "5.90;",
        "; 5.40 from 20",
        "5.90 from 20",
        "5.90; from 20",
        "5.90; 5.40 from",
        "5.90; 5.40 from 1",
        "5.90; 5.40 from 0",
        "5.90; 5.40 from -2",
        "5.90; 5.40 from 2.5",
        "5.90; 5.40 from twenty",
        "5.90; 5.40 from 1000001",
        "5.90; cheap from 20",
        "5.90; -5.40 from 20",
        "dear; 5.40 from 20",
        "5.90; 5.40 from 20 from 30",
        "5.90; 5.40 at 20",
        "5.90; 5.40 from 20;",
    ] {
        let quoted = format!("\"{cell}\"");
        refused(&stock(cell, ""), "price", &[&quoted, accepted]);
    }
    // The other decimal mark, in a file with commas between columns.
    let run = stock("\"5,90; 5,40 from 20\"", "");
    refused(&run, "price", &["\"5,90\"", "decimal mark", accepted]);
}

#[test]
fn prices_that_do_not_go_down() {
    for (cell, found) in [
        ("5.90; 5.90 from 20", "5.90 from 20 after 5.90"),
        ("5.90; 6.00 from 20", "6.00 from 20 after 5.90"),
        (
            "5.90; 5.40 from 20; 5.50 from 30",
            "5.50 from 30 after 5.40",
        ),
    ] {
        let accepted = "a lower price from each larger count";
        refused(&stock(cell, ""), "price", &[found, accepted]);
    }
    let cells = [
        "5.90; 5.40 from 20; 5.10 from 20",
        "5.90; 5.40 from 20; 5.10 from 10",
    ];
    for cell in cells {
        let accepted = "price breaks in the order of their counts";
        refused(
            &stock(cell, ""),
            "price",
            &["after a price from 20", accepted],
        );
    }
    let many: String = (2..15).map(|n| format!("; {} from {n}", 50 - n)).collect();
    let run = stock(&format!("50{many}"), "");
    refused(&run, "price", &["13 price breaks", "at most 12"]);
}

#[test]
fn a_break_that_cannot_be_read_harms_no_other_row() {
    let yard = Yard::with_stock("length,price\n3000,5.90; 5.40\n4000,7.00\n");
    let run = yard.plan(&[]);
    run.is_fault(&["s.csv, line 2, price: found"]).has_faults(1);
}

/// With semicolons between the columns the cell stands in quotation marks and has decimal commas.
#[test]
fn semicolons_between_the_columns() {
    let yard = Yard::with_stock("length;price\n3000;\"5,90; 5,40 from 12\"\n");
    yard.file("p.csv", "length;qty\n2210;12\n");
    let run = yard.plan(&[]);
    assert!(run.ended(0).out.contains("64.80"), "{}", run.out);
}

/// Arithmetic: nineteen bars at 5.90 are 112.10, twenty at 5.40 are 108.00.
#[test]
fn more_is_bought_than_is_cut_where_that_costs_less() {
    let yard = Yard::with_stock("length,price\n3000,5.90; 5.40 from 20\n");
    yard.file("p.csv", "length,qty\n2210,19\n");
    let run = yard.plan(&["--out", "plan"]);
    run.ended(0);
    for line in [
        "  20 x 3000mm  at 5.40 each, the price from 20  108.00",
        "  Not cut: 1 bar of 3000mm, bought for the price from 20",
        "Proved cheapest. No plan costs less than 108.00.",
    ] {
        assert!(run.out.contains(line), "no {line:?} in\n{}", run.out);
    }
    let list = yard.read("plan/buying-list.csv");
    assert!(list.contains("3000mm,20,each,20,5.40,108.00"), "{list}");
    let left = yard.read("plan/offcuts.csv");
    assert!(
        left.contains("3000mm,1,0mm/0mm,,bought for the price from 20"),
        "{left}"
    );
    let json: serde_json::Value = serde_json::from_str(&yard.read("plan/plan.json")).unwrap();
    assert_eq!(json["job"]["stock"][0]["price"], "5.90; 5.40 from 20");
    assert_eq!(json["materials"][0]["buy"][0]["price"], "5.40");
    assert_eq!(json["materials"][0]["buy"][0]["count"], 20);
    assert_eq!(json["materials"][0]["uncut"][0]["count"], 1);
    let combinations = json["certificates"][0]["combinations"].as_array().unwrap();
    assert!(
        combinations
            .iter()
            .all(|one| one["bound"]["cost"].is_string())
    );
    assert!(!combinations.is_empty());
}

/// What is over of a pack, and what of a price break. Arithmetic: nine bars are three packs of 4, at 6.00
/// then; 9.00 before.
#[test]
fn packs_with_breaks() {
    let yard =
        Yard::with_stock("length,price,sold\n3000,9.00; 6.00 from 3; 4.00 from 5,pack of 4\n");
    yard.file("p.csv", "length,qty\n2210,9\n");
    let run = yard.plan(&[]);
    for line in [
        "  12 x 3000mm  in 3 packs of 4 at 6.00, the price from 3 packs  18.00",
        "  Not cut: 3 bars of 3000mm, left over from a pack",
    ] {
        assert!(run.out.contains(line), "no {line:?} in\n{}", run.out);
    }
    yard.file("p.csv", "length,qty\n2210,14\n");
    let run = yard.plan(&[]);
    for line in [
        "  20 x 3000mm  in 5 packs of 4 at 4.00, the price from 5 packs  20.00",
        "  Not cut: 6 bars of 3000mm, bought for the price from 5 packs",
    ] {
        assert!(run.out.contains(line), "no {line:?} in\n{}", run.out);
    }
}

/// Sold by the metre, the count is of metres bought. Arithmetic: 12 bars of 3 m are 36 m; the break from
/// 37 m takes 13 bars, 39 m, at 1.00, and 36 m at 2.00 are more.
#[test]
fn metres_are_counted_as_bought() {
    let yard = Yard::with_stock("length,price,sold\n3000,2.00; 1.00 from 37,per m\n");
    yard.file("p.csv", "length,qty\n2210,12\n");
    let run = yard.plan(&[]);
    for line in [
        "  13 x 3000mm  at 1.00 per m, the price from 37 m  39.00",
        "  Not cut: 1 bar of 3000mm, bought for the price from 37 m",
    ] {
        assert!(run.out.contains(line), "no {line:?} in\n{}", run.out);
    }
}

#[test]
fn a_break_out_of_reach_is_noted() {
    let run = stock_with(",available", "5.90; 5.40 from 20", ",15");
    assert!(run.ended(0).out.contains("70.80"));
    let note = "s.csv, line 2: the price from 20 is out of reach, since there are not so many.";
    assert!(words(&run.out).contains(note), "{}", run.out);
    let yard = Yard::with_stock("length,price\n3000,5.90; 5.40 from 20\n");
    let check = yard.run(&["check", "p.csv", "--stock", "s.csv"]);
    assert!(
        check.out.contains("3000mm at 5.90, 5.40 from 20"),
        "{}",
        check.out
    );
}

/// Without breaks nothing about them is written.
#[test]
fn jobs_without_breaks_say_nothing_of_them() {
    let yard = Yard::new();
    yard.plan(&["--out", "plan"]).ended(0);
    let json = yard.read("plan/plan.json");
    for word in ["combinations", "delivery", "breaks"] {
        assert!(!json.contains(word), "{word}");
    }
}

#[test]
fn a_charge_for_delivery_is_noted_and_not_counted() {
    let run = stock_with(",delivery", "5.90", ",35.00");
    assert!(run.ended(0).out.contains("70.80"));
    let note = "s.csv: delivery of 35.00, once for all that is bought there, is not in the cost.";
    assert!(words(&run.out).contains(note), "{}", run.out);
    let run = stock_with(",delivery", "5.90", ",dear");
    refused(&run, "delivery", &["\"dear\"", "a price of 0 or more"]);
    let yard = Yard::with_stock("length,price,delivery\n3000,5.90,35\n4000,7.00,\n5000,9.00,30\n");
    let run = yard.plan(&[]);
    let parts = ["s.csv, line 4, delivery: found 30.00; accepted: 35.00, as in line 2"];
    run.is_fault(&parts).has_faults(1);
}
