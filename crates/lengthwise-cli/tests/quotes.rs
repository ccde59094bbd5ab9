//! `lengthwise quotes` as a process: what is printed, what is refused, and how a run ends.
#![allow(clippy::unwrap_used)]

mod common;

use common::{Run, Yard};

/// Seven battens and four sills for a kiln shed, quoted by two yards.
const PIECES: &str = "material,mark,length,qty\nbatten,F,2210,7\nsill,S,1150,4\n";
/// Arithmetic: 7 x 5.90 = 41.30 and 2 x 9.00 = 18.00; with delivery 69.30.
const HILL: &str = "material,length,price,delivery\nbatten,3000,5.90,10.00\nsill,2400,9.00,\n";
/// Arithmetic: 7 x 5.10 = 35.70 and 4 x 6.50 = 26.00; with delivery 73.70.
const QUAY: &str = "material,length,price,delivery\nbatten,3000,5.10,12.00\nsill,1200,6.50,12.00\n";

fn yard() -> Yard {
    let yard = Yard::with_pieces(PIECES);
    yard.file("hill.csv", HILL);
    yard.file("quay.csv", QUAY);
    yard
}

/// Compares both quotes, with these flags more.
fn quotes(yard: &Yard, more: &[&str]) -> Run {
    let both = [
        "quotes", "p.csv", "--quote", "hill.csv", "--quote", "quay.csv",
    ];
    yard.run(&[&both, more].concat())
}

#[track_caller]
fn says(run: &Run, lines: &[&str]) {
    for line in lines {
        assert!(run.out.contains(line), "no {line:?} in\n{}", run.out);
    }
}

/// Battens of one and sills of the other with both deliveries come to 35.70 + 18.00 + 22.00 = 75.70.
/// Offcuts: two sills and two cuts take 2306 of a bar of 2400, one and a cut 1153 of 1200.
#[test]
fn everything_from_the_nearer_yard() {
    let run = quotes(&yard(), &[]);
    run.ended(0);
    says(
        &run,
        &[
            "  quote     material  delivery  total  bars  longest  to the skip  how good\n",
            "  hill.csv     59.30     10.00  69.30     9   3000mm        188mm  proved\n",
            "  quay.csv     61.70     12.00  73.70    11   3000mm        188mm  proved\n",
            "  batten    hill.csv  41.30\n",
            "  sill      hill.csv  18.00\n",
            "  delivery  hill.csv  10.00\n",
            "               total  69.30\n",
            "  9 bars to carry, the longest 3000mm; 188mm to the skip\n",
            "Proved cheapest.",
        ],
    );
    assert!(!run.out.contains("less than everything"), "{}", run.out);
}

/// Without deliveries: 35.70 and 18.00.
#[test]
fn each_material_where_it_is_cheapest() {
    let yard = yard();
    yard.file("hill.csv", HILL.replace(",10.00", ","));
    yard.file("quay.csv", QUAY.replace(",12.00", ",0"));
    let run = quotes(&yard, &[]);
    says(
        run.ended(0),
        &[
            "  batten  quay.csv  35.70\n",
            "  sill    hill.csv  18.00\n",
            "             total  53.70\n",
        ],
    );
    let words: Vec<&str> = run.out.split_whitespace().collect();
    let text = words.join(" ");
    assert!(
        text.contains("That is 5.60 less than everything from hill.csv."),
        "{text}"
    );
    assert!(!run.out.contains("\n  delivery  "), "{}", run.out);
}

/// Bars in hand are used where they pay, and save a delivery where they are enough.
#[test]
fn what_is_in_hand() {
    let yard = yard();
    yard.file(
        "left.csv",
        "material,length,available\nsill,2400,2\nbatten,2300,7\n",
    );
    let run = quotes(&yard, &["--in-hand", "left.csv"]);
    says(
        run.ended(0),
        &[
            "  hill.csv      0.00      0.00   0.00     0        -",
            "  batten  from hand, nothing bought  0.00\n",
            "                              total  0.00\n",
        ],
    );
    yard.file("left.csv", "material,length,available\nbatten,2300,6\n");
    let run = quotes(&yard, &["--in-hand", "left.csv"]);
    // One batten of 5.10 or 5.90 and the sills.
    says(
        run.ended(0),
        &["  hill.csv     23.90     10.00  33.90     3"],
    );
}

#[test]
fn quotes_that_cannot_do_everything() {
    let yard = yard();
    yard.file(
        "hill.csv",
        "material,length,price\nbatten,2000,1.00\nsill,2400,9.00\n",
    );
    yard.file("quay.csv", "material,length,price\nbatten,3000,5.10\n");
    let run = quotes(&yard, &[]);
    says(
        run.ended(0),
        &[
            "  none of them can do the whole job\n",
            "  hill.csv  not alone: batten: no plan. Piece F-01 of 2210mm is longer",
            "  quay.csv  not alone: does not offer sill.\n",
            "  batten  quay.csv  35.70\n",
            "  sill    hill.csv  18.00\n",
        ],
    );
    // Nobody has a bar for the battens: the sills are still shared out.
    yard.file("quay.csv", "material,length,price\nbatten,1900,5.10\n");
    let run = quotes(&yard, &[]);
    says(
        run.ended(1),
        &[
            "No plan for batten. hill.csv: no plan.",
            "  sill  hill.csv  18.00\n",
        ],
    );
}

#[test]
fn the_longest_bar_that_can_be_carried() {
    let run = quotes(&yard(), &["--longest", "2400"]);
    says(
        run.ended(1),
        &["No plan for batten.", "Left out, longer than the 2400mm"],
    );
}

/// The breaks of a quote count: 8.00 from two sills on.
#[test]
fn price_breaks_in_quotes() {
    let yard = yard();
    yard.file("hill.csv", HILL.replace("9.00", "9.00; 8.00 from 2"));
    says(
        quotes(&yard, &[]).ended(0),
        &["  sill      hill.csv  16.00\n"],
    );
}

#[test]
fn as_json() {
    let run = quotes(&yard(), &["--json"]);
    let json: serde_json::Value = serde_json::from_str(&run.ended(0).out).unwrap();
    let expected = serde_json::json!({
        "quote": "hill.csv", "delivery": "10.00",
        "whole": {
            "proof": "optimal", "material": "59.30", "delivery": "10.00", "total": "69.30",
            "worth": "0.00", "to_pay": "69.30",
            "bound": "69.30", "bars": 9, "longest_mm": 3000, "waste_mm": 188,
        },
        "materials": [
            {
                "material": "batten", "offered": true, "proof": "optimal", "why": null,
                "cost": "41.30", "bound": "41.30", "bars": 7, "longest_mm": 3000, "waste_mm": 0,
            },
            {
                "material": "sill", "offered": true, "proof": "optimal", "why": null,
                "cost": "18.00", "bound": "18.00", "bars": 2, "longest_mm": 2400, "waste_mm": 188,
            },
        ],
    });
    assert_eq!(json["quotes"][0], expected);
    let expected = serde_json::json!({
        "proof": "optimal", "material": "59.30", "delivery": "10.00", "total": "69.30",
            "worth": "0.00", "to_pay": "69.30",
        "bound": "69.30", "bars": 9, "longest_mm": 3000, "waste_mm": 188,
        "materials": [
            {"material": "batten", "planned": true, "quote": "hill.csv", "cost": "41.30"},
            {"material": "sill", "planned": true, "quote": "hill.csv", "cost": "18.00"},
        ],
    });
    assert_eq!(json["cheapest"], expected);
    assert!(
        run.err.contains("note: Assumes square, sound ends"),
        "{}",
        run.err
    );
}

#[test]
fn quotes_without_prices_are_faults() {
    let yard = yard();
    yard.file(
        "quay.csv",
        "material,length\nbatten,3000\nsill,1200\nshelf,900\n",
    );
    let run = quotes(&yard, &[]);
    let accepted = "price: found nothing; accepted: a price: quotes are compared by money";
    run.is_fault(&["quay.csv, line 2,", accepted]);
    run.is_fault(&["quay.csv, line 3,", accepted]).has_faults(2);
    yard.file(
        "quay.csv",
        "material,length,price\nbatten,3000,5.10\nbatten,3600,\n",
    );
    let run = quotes(&yard, &[]);
    run.is_fault(&["quay.csv, line 3, price: found nothing", "as in line 2"]);
    run.has_faults(1);
}

/// Faults of the pieces are told once, those of all quotes together.
#[test]
fn all_faults_at_once() {
    let yard = Yard::with_pieces("material,mark,length,qty\nbatten,F,2210,0\nsill,S,1150,4\n");
    yard.file("hill.csv", HILL.replace("5.90", "5.90; 6.00 from 5"));
    yard.file("quay.csv", QUAY.replace("6.50,12.00", "6.50,13.00"));
    let run = quotes(&yard, &["--limit", "never"]);
    run.is_fault(&["--limit: found \"never\""]);
    run.is_fault(&["p.csv, line 2, qty: found \"0\""]);
    run.is_fault(&["hill.csv, line 2, price: found 6.00 from 5 after 5.90"]);
    run.is_fault(&["quay.csv, line 3, delivery: found 13.00; accepted: 12.00, as in line 2"]);
    run.has_faults(4);
}

#[test]
fn materials_that_nobody_offers() {
    let yard = yard();
    yard.file("p.csv", PIECES.replace("sill,", "shelf,"));
    let run = quotes(&yard, &[]);
    let parts = [
        "p.csv, line 3, material: found \"shelf\", which no quote offers",
        "a material that some quote offers",
    ];
    run.is_fault(&parts).has_faults(1);
}

#[test]
fn more_quotes_than_can_be_compared() {
    let yard = yard();
    let mut args = vec!["quotes", "p.csv"];
    args.extend(["--quote", "hill.csv"].repeat(16));
    yard.run(&args)
        .is_fault(&["quotes: found 16; accepted: at most 15"])
        .has_faults(1);
    args.truncate(2 + 2 * 15);
    yard.run(&args).ended(0);
    let run = yard.run(&["quotes", "p.csv"]);
    run.ended(2);
}

/// Alternatives of a material that the pieces do not name: each file has a name of its own.
#[test]
fn one_material_under_several_names() {
    let yard = Yard::with_pieces("length,qty\n2210,7\n");
    yard.file("hill.csv", "material,length,price\nlarch,3000,5.90\n");
    yard.file("quay.csv", "material,length,price\npine,3000,4.10\n");
    let run = quotes(&yard, &[]);
    says(
        run.ended(0),
        &["  All pieces  quay.csv  28.70\n", "  hill.csv     41.30"],
    );
}

/// Two of 1000 come out of 2002 with a blade of 1 only, and then nothing is bought of whom has it.
#[test]
fn a_blade_of_a_quote_that_nothing_is_bought_from_cut_what_is_in_hand() {
    let yard = Yard::with_pieces("material,length,mark,qty\nbatten,1000,A,2\nboard,1000,B,1\n");
    let head = "material,length,price,kerf,delivery\n";
    yard.file(
        "hill.csv",
        format!("{head}batten,2400,9,3,5\nboard,2400,9,3,5\n"),
    );
    yard.file(
        "quay.csv",
        format!("{head}batten,2400,9,1,5\nboard,2400,19,1,5\n"),
    );
    yard.file("h.csv", "material,length\nbatten,2002\n");
    quotes(&yard, &["--in-hand", "h.csv"]).is_fault(&[
        "quay.csv, line 2",
        "kerf",
        "a blade of 1mm where that of hill.csv is 3mm",
        "the same in every quote that offers it",
    ]);
    // With nothing in hand both are compared.
    quotes(&yard, &[]).ended(0);
}

/// Four sills of 1150 from two bars of 2400 in hand that are worth 2.00 each; 7 x 5.90 for the battens.
#[test]
fn worth_of_bars_in_hand_was_shown_as_money_to_pay() {
    let yard = yard();
    yard.file(
        "h.csv",
        "material,length,available,worth\nsill,2400,2,2.00\n",
    );
    let run = quotes(&yard, &["--in-hand", "h.csv"]);
    run.ended(0);
    let shown = run.out.split_whitespace().collect::<Vec<_>>().join(" ");
    for said in [
        "Material and total count bars in hand by their worth, which is not paid. To pay: hill.csv \
         51.30, quay.csv 47.70.",
        "Bars in hand are counted as 4.00; to pay 47.70.",
    ] {
        assert!(shown.contains(said), "{said} not in {}", run.out);
    }
    let json = quotes(&yard, &["--in-hand", "h.csv", "--json"]);
    let json: serde_json::Value = serde_json::from_str(&json.ended(0).out).unwrap();
    assert_eq!(json["cheapest"]["total"], "51.70");
    assert_eq!(json["cheapest"]["worth"], "4.00");
    assert_eq!(json["cheapest"]["to_pay"], "47.70");
}
