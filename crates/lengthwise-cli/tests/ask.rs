//! Questions without files: the answer, its forms, and what is wrong with a question.
#![allow(clippy::unwrap_used)]

mod common;

use common::{Run, Yard};
use serde_json::{Value, json};

fn ask(args: &[&str]) -> Run {
    Yard::new().run(&[&["ask"], args].concat())
}

/// How many bars are bought, and how sure that is.
fn bars_and_proof(run: &Run) -> (u64, String) {
    run.ended(0);
    let json: Value = serde_json::from_str(&run.out).unwrap();
    let material = &json["materials"][0];
    let buy = material["buy"].as_array().unwrap();
    let bars = buy.iter().map(|line| line["count"].as_u64().unwrap()).sum();
    (bars, material["proof"].as_str().unwrap().to_owned())
}

/// Edges of 3100 mm from bars of 3000 mm with a blade of 3 mm: joints, shortest part, edges, bars.
/// Common practice, no source; by hand: a filler is 100 long, 29 of them take 29 x 100 + 28 x 3 = 2984
/// of a bar, 30 take 3087, more than a bar; and 31 bars, 93 m, are as long as 30 edges without any
/// blade. With parts of 1200 and more, 1900 | 1200 + 1797 | 1303 + 1694 | 1406 + 1591 | 1509 + 1488 |
/// 1612 + 1385 | 1715 are seven bars.
const EDGES: [(&str, &str, u64, u64); 7] = [
    ("anywhere", "", 1, 2),
    ("anywhere", "", 2, 3),
    ("anywhere", "", 6, 7),
    ("anywhere", "", 29, 30),
    ("anywhere", "", 30, 32),
    ("every 600", "", 6, 7),
    ("anywhere", "1200", 6, 7),
];

#[test]
fn edges_longer_than_a_bar_by_question() {
    for (joints, shortest, edges, bars) in EDGES {
        let term = format!("{edges} x 3.1m");
        let mut args = vec![
            &term, "--from", "3m", "--kerf", "3mm", "--joints", joints, "--json",
        ];
        if !shortest.is_empty() {
            args.extend(["--shortest", shortest]);
        }
        let expected = (bars, "optimal".to_owned());
        assert_eq!(bars_and_proof(&ask(&args)), expected, "{args:?}");
    }
}

#[test]
fn edges_longer_than_a_bar_by_files() {
    for (joints, shortest, edges, bars) in EDGES {
        let yard = Yard::with_pieces(format!(
            "length,qty,joints,shortest\n3100,{edges},{joints},{shortest}\n"
        ));
        yard.file("s.csv", "length,kerf\n3000,3\n");
        let expected = (bars, "optimal".to_owned());
        let run = yard.plan(&["--json"]);
        assert_eq!(
            bars_and_proof(&run),
            expected,
            "{joints} {shortest} {edges}"
        );
    }
}

/// Every part of a run once, from end to end, in JSON and in the table.
#[test]
fn parts_of_a_run_meet_at_its_joints() {
    let yard =
        Yard::with_pieces("mark,length,qty,joints,joint_gap,end_gap\nT,3100,2,every 600,4,5/10\n");
    yard.file("s.csv", "length\n3000\n");
    let run = yard.plan(&["--json", "--out", "d"]);
    run.ended(0);
    let plan: Value = serde_json::from_str(&run.out).unwrap();
    let mut parts: Vec<&Value> = Vec::new();
    for bars in plan["materials"][0]["bars"].as_array().unwrap() {
        assert_eq!(bars["names"].as_array().unwrap().len(), 1);
        parts.extend(bars["cuts"].as_array().unwrap());
    }
    for copy in 1..=2 {
        let of_copy = |part: u64| {
            let is = |cut: &&&Value| {
                (&cut["run"]["copy"], &cut["run"]["part"]) == (&json!(copy), &json!(part))
            };
            *parts.iter().find(is).unwrap()
        };
        let (left, right) = (of_copy(1), of_copy(2));
        let joint = left["run"]["to_mm"].as_u64().unwrap();
        assert_eq!(joint % 600, 0);
        assert_eq!(right["run"]["from_mm"], joint);
        assert_eq!(left["run"]["to_support"], joint / 600);
        assert_eq!(right["run"]["from_support"], joint / 600);
        assert_eq!(
            (&left["run"]["from_mm"], &right["run"]["to_mm"]),
            (&json!(0), &json!(3100))
        );
        assert_eq!(
            (&left["run"]["from_support"], &left["run"]["of"]),
            (&Value::Null, &json!(2))
        );
        // 5 at the left end, 10 at the right one, 2 on either side of the joint.
        assert_eq!(left["length_mm"], joint - 5 - 2);
        assert_eq!(right["length_mm"], 3100 - joint - 2 - 10);
        assert_eq!(left["marks"], json!([format!("T-0{copy}.1")]));
    }
    let table = yard.read("d/cutting-plan.csv");
    let ending = |cut: &Value| {
        let run = &cut["run"];
        let mark = cut["marks"][0].as_str().unwrap();
        let support = |support: &Value| support.as_u64().map_or(String::new(), |n| n.to_string());
        format!(
            "{}mm,{mark},no,,,{},{},2,{}mm,{}mm,{},{}",
            cut["length_mm"],
            mark.split('.').next().unwrap(),
            run["part"],
            run["from_mm"],
            run["to_mm"],
            support(&run["from_support"]),
            support(&run["to_support"]),
        )
    };
    for cut in &parts {
        let ending = ending(cut);
        assert!(
            table.contains(&format!(",{ending},1,no,")),
            "{ending} in\n{table}"
        );
    }
    let saved: Value = serde_json::from_str(&yard.read("d/plan.json")).unwrap();
    assert_eq!(saved["job"]["pieces"][0]["joints"], "every 600mm");
    assert_eq!(saved["certificates"][0]["windows"], json!([]));
    assert_eq!(saved["certificates"][0]["anywhere"], Value::Null);
}

#[test]
fn three_lines() {
    let run = ask(&[
        "6 x 3.1m",
        "--from",
        "3m",
        "--kerf",
        "3mm",
        "--joints",
        "every 600",
    ]);
    run.ended(0);
    let lines: Vec<&str> = run.out.lines().collect();
    assert_eq!(
        lines,
        [
            "Buy 7 x 3m, 21m in all.",
            "Cut with a 3mm blade: 6 bars of 3m into 3m; 1 bar of 3m into 6 x 0.1m. Joints from the \
             left end: 6 x 3.1m at 3m.",
            "Proved least length to buy. No plan buys less than 21m.",
        ]
    );
    assert!(run.err.contains("Measure the opening"), "{}", run.err);
    assert!(run.err.contains("square, sound ends"), "{}", run.err);
}

/// 7 x 2210 on seven bars of 3000: no bar holds two.
#[test]
fn prices_units_and_the_saw() {
    let run = ask(&["7 x 2210", "--from", "3m=5.90"]);
    run.ended(0);
    assert!(
        run.out
            .starts_with("Buy 7 x 3000mm, 21000mm in all, for 41.30.\n"),
        "{}",
        run.out
    );
    assert!(
        run.out
            .ends_with("Proved cheapest. No plan costs less than 41.30.\n")
    );
    // 2 x 4 ft and a blade of 1/8 in do not go into 8 ft; without a blade they do.
    let feet = |kerf| ask(&["2 x 4", "--unit", "ft", "--from", "8", "--kerf", kerf]);
    assert!(feet("1/8in").out.starts_with("Buy 2 x 8', 16' in all.\n"));
    assert!(feet("0").out.starts_with("Buy 1 x 8', 8' in all.\n"));
    // 2980 fits a bar of 3000 with 10 off each end, 2981 does not.
    let squared = |length| ask(&[length, "--from", "3m", "--square-off", "10"]);
    squared("2980").ended(0);
    squared("2981").ended(1);
    // A reserve counts like blade: 2 x 1498.5 and 3 are 3000, one more is too much.
    let reserve = |reserve| ask(&["2 x 1498.5", "--from", "3m", "--per-cut", reserve]);
    assert!(reserve("0").out.starts_with("Buy 1 x 3000mm"));
    assert!(reserve("1mm").out.starts_with("Buy 2 x 3000mm"));
    assert!(reserve("1mm").out.contains("3mm blade and 1mm reserve"));
}

#[test]
fn several_terms_in_every_form() {
    let expected = ask(&["6 x 3.1m", "4 x 1.2m", "0.5m", "--from", "4.8m", "--json"]);
    expected.ended(0);
    for terms in [
        &["6x3.1m, 4x1.2m, 0.5m"][..],
        &["6 x 3.1m + 4 x 1.2m + 0.5m"],
        &["6 \u{d7} 3.1m", "4*1.2m+0.5m"],
        &["6 X 3.1m", "4 x 1.2m", "1 x 0.5m"],
    ] {
        let run = ask(&[terms, &["--from", "4.8m", "--json"]].concat());
        assert_eq!(run.out, expected.out, "{terms:?}");
    }
}

#[test]
fn json_is_that_of_a_plan() {
    let run = ask(&["7 x 2210", "--from", "3000=5.90", "--json"]);
    let yard = Yard::with_pieces("length,qty\n2210,7\n");
    yard.file("s.csv", "length,price\n3000,5.90\n");
    assert_eq!(run.out, yard.plan(&["--json"]).out);
    assert!(run.err.contains("note: Assumes square"), "{}", run.err);
}

#[test]
fn what_cannot_be_is_exit_1() {
    let run = ask(&["3.1m", "--from", "3m"]);
    run.ended(1);
    assert!(
        run.out.starts_with("No plan. Piece P1 of 3.1m is longer"),
        "{}",
        run.out
    );
    let run = ask(&[
        "6 x 3.1m",
        "--from",
        "3m",
        "--joints",
        "at 50mm",
        "--shortest",
        "60mm",
    ]);
    run.ended(1);
    assert!(
        run.out
            .starts_with("No plan. Run P1-01 of 3.1m cannot be joined"),
        "{}",
        run.out
    );
}

/// The argument, what was found, and what is accepted.
#[test]
fn what_is_wrong_with_a_question() {
    let wrong = |args: &[&str], parts: &[&str]| {
        let run = ask(args);
        run.is_fault(&[parts, &["accepted: "]].concat())
            .has_faults(1);
    };
    let from = ["--from", "3m"];
    let term = |text: &str, parts: &[&str]| {
        wrong(
            &[&[text], &from[..]].concat(),
            &[&["PIECES: found "], parts].concat(),
        );
    };
    term(
        "six x 3.1m",
        &[
            "\"six\" in \"six x 3.1m\"",
            "a whole number from 1 to 1000000 before the x",
        ],
    );
    term("0 x 3.1m", &["\"0\" in", "a whole number"]);
    term("3.1m x 6", &["\"3.1m\" in", "before the x"]);
    term("6 x", &["nothing in \"6 x\"", "a length such as"]);
    term("6 x 3.1q", &["unknown unit \"q\"", "a length such as"]);
    term("6 x 0", &["\"0\"", "a length above 0"]);
    term("6 x 3.1m, , 2m", &["nothing", "a length such as"]);
    term("6 x 3,1m", &["two ways", "a point in a number"]);
    let bar = |text: &str, parts: &[&str]| {
        wrong(
            &["6 x 2m", "--from", text],
            &[&["--from: found "], parts].concat(),
        );
    };
    bar("3m=cheap", &["\"cheap\"", "a price of 0 or more"]);
    bar("3m=", &["\"\"", "a price"]);
    bar("=5.90", &["nothing", "a length such as"]);
    bar("0", &["\"0\"", "a length above 0"]);
    bar("3,6m", &["\"3,6m\"", "a length such as"]);
    wrong(
        &["2m", "--from", "3m=5.90", "--from", "4m"],
        &["--from: found \"4m\" without a price", "on all bars"],
    );
    let flag = |name: &str, text: &str, parts: &[&str]| {
        let args = [
            &["6 x 3.1m"],
            &from[..],
            &["--joints", "anywhere", name, text],
        ]
        .concat();
        wrong(&args, &[&[name, ": found "], parts].concat());
    };
    flag("--joint-gap", "-4", &["\"-4\"", "a length such as"]);
    flag(
        "--joint-gap",
        "3.1m",
        &["\"6 x 3.1m\", --joint-gap", "shorter than the run"],
    );
    flag("--joints-max", "0", &["\"0\"", "a whole number from 1"]);
    flag("--shortest", "0", &["\"0\"", "a length above 0"]);
    flag("--end-gap", "5/", &["\"5/\"", "near/far"]);
    flag(
        "--end-gap",
        "2m",
        &["\"6 x 3.1m\", --end-gap", "gaps that leave something"],
    );
    flag("--kerf", "wide", &["\"wide\"", "a length such as"]);
    flag("--limit", "0", &["\"0\"", "seconds above 0"]);
    for name in ["--joint-gap", "--joints-max", "--shortest"] {
        let args = [&["6 x 2m"], &from[..], &[name, "4"]].concat();
        wrong(
            &args,
            &[name, "\"4\" and no --joints", "--joints beside it"],
        );
    }
    wrong(
        &["6 x 3.1m", "--from", "3m", "--joints", "every way"],
        &["--joints: found \"every way\"", "anywhere, every 600"],
    );
    wrong(
        &["6 x 3.1m", "--from", "3m", "--joints", "at 4m"],
        &[
            "\"6 x 3.1m\", --joints: found at 4m",
            "places inside the run",
        ],
    );
}

#[test]
fn all_faults_of_a_question_in_one_go() {
    let run = ask(&[
        "a x 3m", "6 x b", "--from", "c", "--from", "3m=d", "--kerf", "e", "--limit", "f",
        "--joints", "g",
    ]);
    run.is_fault(&["--kerf"]).has_faults(7);
}

#[test]
fn a_question_needs_pieces_and_a_bar() {
    for args in [&["--from", "3m"][..], &["6 x 3.1m"], &[]] {
        let run = ask(args);
        run.ended(2);
        assert!(run.err.contains("required"), "{}", run.err);
    }
}

/// Where joints may fall anywhere, the saved plan says where they were tried; its own are among those.
#[test]
fn places_that_were_tried_are_saved() {
    let yard = Yard::new();
    yard.file(
        "p.csv",
        "mark,length,qty,joints,shortest\nT,3100,6,anywhere,1200\n",
    );
    yard.file("s.csv", "length\n3000\n");
    yard.plan(&["--out", "d"]).ended(0);
    let saved: Value = serde_json::from_str(&yard.read("d/plan.json")).unwrap();
    let tried = saved["certificates"][0]["tried"].as_array().unwrap();
    assert_eq!(tried.len(), 1);
    assert_eq!(tried[0]["mark"], "T");
    let places = tried[0]["places_mm"].as_array().unwrap();
    let places: Vec<f64> = places.iter().map(|place| place.as_f64().unwrap()).collect();
    assert!(
        places.is_sorted()
            && places
                .iter()
                .all(|&place| (1200.0..=1900.0).contains(&place))
    );
    let bars = saved["materials"][0]["bars"].as_array().unwrap();
    let cuts = bars.iter().flat_map(|bar| bar["cuts"].as_array().unwrap());
    let left_parts = cuts.filter(|cut| cut["run"]["part"] == 1);
    let joints: Vec<f64> = left_parts
        .map(|cut| cut["run"]["to_mm"].as_f64().unwrap())
        .collect();
    assert_eq!(joints.len(), 6);
    assert!(
        joints.iter().all(|joint| places.contains(joint)),
        "{joints:?} in {places:?}"
    );
}
