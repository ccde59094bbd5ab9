//! Rules for the battens of a roof, expressed as `shortest` and `course_rule`, through the whole program.
//!
//! NHBC Standards 7.2.17: battens at least 1.2 m long and over at least three rafters, joined over
//! rafters; where they are more than 200 mm apart, at most one in any four joined over one rafter, else at
//! most three in any twelve. NBS 2014, clauses of battens and boards: at least 1200 mm, joints central on
//! a support, not more than one in four on one support.
#![allow(clippy::unwrap_used)]

mod common;

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use common::Yard;
use serde_json::Value;

/// A part as the JSON tells of it: its cut, where it begins and ends, and the support at its right end.
struct Part {
    length: u64,
    from: u64,
    to: u64,
    support: Option<u64>,
}

/// The parts of every run of a material, from left to right, by row and copy.
fn runs(material: &Value) -> BTreeMap<(String, u64), Vec<Part>> {
    let bars = material["bars"].as_array().unwrap();
    let cuts = bars
        .iter()
        .flat_map(|bars| bars["cuts"].as_array().unwrap());
    let mut runs: BTreeMap<(String, u64), Vec<Part>> = BTreeMap::new();
    for cut in cuts.filter(|cut| !cut["run"].is_null()) {
        let run = &cut["run"];
        let key = (
            run["mark"].as_str().unwrap().to_owned(),
            run["copy"].as_u64().unwrap(),
        );
        runs.entry(key).or_default().push(Part {
            length: cut["length_mm"].as_u64().unwrap(),
            from: run["from_mm"].as_u64().unwrap(),
            to: run["to_mm"].as_u64().unwrap(),
            support: run["to_support"].as_u64(),
        });
    }
    for parts in runs.values_mut() {
        parts.sort_by_key(|part| part.from);
    }
    runs
}

/// In any `courses` rows of copies that follow each other, at most `joints` lie on one support.
fn most_on_one_support(rows: &[&Vec<Part>], courses: usize) -> usize {
    let joined = |parts: &Vec<Part>, place: u64| parts.iter().any(|part| part.to == place);
    let places = rows.iter().flat_map(|parts| parts.iter());
    let places = places
        .filter(|part| part.support.is_some())
        .map(|part| part.to);
    let most = |place: u64| {
        let windows = rows.windows(courses);
        let on = windows.map(|rows| rows.iter().filter(|parts| joined(parts, place)).count());
        on.max().unwrap()
    };
    places.map(most).max().unwrap()
}

/// `first` is the first rafter on which it may be joined; one below the left end has no number.
#[track_caller]
fn check_battens(parts: &[Part], length: u64, first: u64) {
    let ends = |parts: &[Part]| (parts[0].from, parts[parts.len() - 1].to);
    assert_eq!(ends(parts), (0, length));
    for part in parts {
        assert!(part.length >= 1200, "at least 1.2 m: {}", part.length);
        let rafters = (0..)
            .map(|n| first % 600 + 600 * n)
            .take_while(|place| *place <= part.to);
        let under = rafters.filter(|place| *place >= part.from).count();
        assert!(
            under >= 3,
            "over three rafters: {} to {}",
            part.from,
            part.to
        );
        if let Some(support) = part.support {
            assert_eq!(part.to, first + 600 * (support - 1), "over a rafter");
        }
    }
    for pair in parts.windows(2) {
        assert_eq!(pair[0].to, pair[1].from);
        assert!(pair[0].support.is_some());
    }
}

#[test]
fn at_most_one_batten_in_four_is_joined_on_a_rafter_of_the_kiln_shed() {
    let yard = Yard::new();
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../data/kiln-shed");
    for name in ["pieces.csv", "stock.csv", "in-hand.csv"] {
        yard.file(name, fs::read(data.join(name)).unwrap());
    }
    let run = yard.run(&[
        "plan",
        "pieces.csv",
        "--stock",
        "stock.csv",
        "--in-hand",
        "in-hand.csv",
        "--json",
    ]);
    run.ended(0);
    let plan: Value = serde_json::from_str(&run.out).unwrap();
    let materials = plan["materials"].as_array().unwrap();
    assert!(
        materials
            .iter()
            .all(|material| material["proof"] == "optimal")
    );
    let battens = runs(&materials[0]);
    for slope in ["BN", "BS"] {
        let of_slope = battens.iter().filter(|((mark, _), _)| mark == slope);
        let courses: Vec<&Vec<Part>> = of_slope.map(|(_, parts)| parts).collect();
        assert_eq!(courses.len(), 10);
        for parts in &courses {
            check_battens(parts, 6300, 150);
        }
        assert_eq!(most_on_one_support(&courses, 4), 1);
    }
}

/// Without a rule all battens are joined on one rafter, because that is cheapest; three in twelve are not.
#[test]
fn at_most_three_battens_in_twelve_where_they_are_close() {
    let roof = |rule: &str| {
        let columns = "mark,length,qty,joints,shortest,course_group,course,course_rule";
        let row = format!("B,6000,24,every 600,1200,{rule}");
        let yard = Yard::with_pieces(format!("{columns}\n{row}\n"));
        yard.file("s.csv", "length,price\n3600,2.50\n4200,3.00\n4800,3.60\n");
        let run = yard.plan(&["--json"]);
        run.ended(0);
        let plan: Value = serde_json::from_str(&run.out).unwrap();
        let battens = runs(&plan["materials"][0]);
        assert_eq!(battens.len(), 24);
        let courses: Vec<&Vec<Part>> = battens.values().collect();
        for parts in &courses {
            check_battens(parts, 6000, 600);
        }
        most_on_one_support(&courses, 12)
    };
    assert!(roof("north,1,3/12") <= 3);
    assert!(roof(",,") > 3);
}
