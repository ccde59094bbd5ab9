//! What is said of plans that are not there: that none as cheap is better by the preference.
#![allow(clippy::unwrap_used)]

mod common;

use common::Yard;

/// The plan of these files as it is printed, however it is wrapped.
fn shown(pieces: &str, stock: &str, hand: &str, flags: &[&str]) -> String {
    let yard = Yard::with_pieces(pieces);
    yard.file("s.csv", stock);
    let mut all = vec![];
    if !hand.is_empty() {
        yard.file("h.csv", hand);
        all.extend(["--in-hand", "h.csv"]);
    }
    all.extend(flags);
    let run = yard.plan(&all);
    run.out.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// From the bar of 3000 it costs as little and leaves 1997, but takes more from hand.
#[test]
fn a_longer_offcut_was_denied_though_a_longer_bar_is_in_hand() {
    let shown = shown(
        "mark,length,qty\nA,1000,1\n",
        "length,price\n5000,9\n",
        "length\n2000\n3000\n",
        &[],
    );
    let said = "No plan as cheap that takes as little from hand has a longer offcut than 997mm.";
    assert!(shown.contains(said), "{shown}");
}

/// Both from bars of 1500 is one way of cutting at the same cost, but takes more from hand.
#[test]
fn fewer_ways_of_cutting_were_denied_though_longer_bars_are_in_hand() {
    let shown = shown(
        "mark,length,qty\nA,1000,2\n",
        "length,price\n5000,9\n",
        "length,available\n1010,1\n1500,2\n",
        &["--prefer", "setups"],
    );
    let said =
        "2 ways of cutting a bar (no plan as cheap that takes as little from hand has fewer)";
    assert!(shown.contains(said), "{shown}");
}

/// 2800.2 - 2 x 1000.02 - 2 x 3 = 794.16: no plan has a longer offcut than 794.2, but this one has more
/// than 794.1.
#[test]
fn the_longest_offcut_was_rounded_down_below_that_of_the_plan() {
    let shown = shown(
        "mark,length,qty\nA,1000.02,2\n",
        "length,price\n2800.2,6\n",
        "",
        &[],
    );
    let said = "No plan as cheap has a longer offcut than 794.2mm.";
    assert!(shown.contains(said), "{shown}");
}

/// 2003.18 - 2 x 1000.06 - 3 = 0.06; and 2003.3 - 2000.12 - 3 = 0.18.
#[test]
fn a_spare_that_rounds_to_nothing_was_called_0mm() {
    let with = |stock: &str| {
        let stock = format!("length,price\n{stock},6\n");
        shown("mark,length,qty\nA,1000.06,2\n", &stock, "", &[])
    };
    let said = "Some bar has less than 0.1mm to spare, as in every plan as cheap.";
    let some = with("2003.18");
    assert!(some.contains(said), "{some}");
    let more = with("2003.3");
    let said = "Every bar has 0.1mm or more to spare, and in no plan as cheap more than 0.2mm.";
    assert!(more.contains(said), "{more}");
}

/// Of a plan that is not proved cheapest, its own cost is what is spoken of.
#[test]
fn fewest_setups_were_claimed_of_plans_as_cheap_where_none_is_proved_cheapest() {
    let shown = shown(
        "mark,length,qty\nA,1231,9\nB,1117,8\nC,977,7\nD,853,9\nE,691,8\nG,547,7\n",
        "length,price\n4100,9.10\n3300,7.35\n2700,6.05\n",
        "",
        &["--prefer", "setups", "--work-limit", "20000"],
    );
    assert!(shown.contains("too dear"), "{shown}");
    assert!(
        shown.contains("settings of the stop (no plan of this cost has fewer)"),
        "{shown}"
    );
    assert!(!shown.contains("plan as cheap"), "{shown}");
}
