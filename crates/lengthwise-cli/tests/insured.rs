//! How forgiving a plan is, spoiled cuts and insurance, as the program tells of them; and the
//! demonstration job insured, with every piece really spoiled.
#![allow(clippy::unwrap_used, clippy::panic)]

mod common;

use std::fmt::Write;
use std::fs;
use std::path::Path;

use common::{Run, Yard};
use serde_json::Value;

fn json(run: &Run) -> Value {
    run.ended(0);
    serde_json::from_str(&run.out).unwrap()
}

/// Sentences as they are read, however they are wrapped.
fn unwrapped(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// 3000 - 3 x 990 - 2 x 3 leaves 24: 12 more for each of two cuts, 8 for each of three pieces; the
/// second bar has one piece. By hand.
#[test]
fn a_wider_blade_and_longer_pieces() {
    let yard = Yard::with_pieces("mark,length,qty\nF,990,4\n");
    yard.file("s.csv", "length,price\n3000,5.90\n");
    let shown = unwrapped(&yard.plan(&["--out", "plan"]).ended(0).out);
    let said = "Fits with a blade up to 15mm; each piece may come out up to 8mm too long (B1 is then full).";
    assert!(shown.contains(said), "{shown}");
    let found = json(&yard.plan(&["--json"]));
    let material = &found["materials"][0];
    assert_eq!(material["widest_blade_mm"], 15);
    assert_eq!(material["largest_error_mm"], 8);
    assert_eq!(material["largest_error_bar"], "B1");
    let figures = yard.read("plan/figures.csv");
    let mut lines = figures.lines();
    assert!(
        lines
            .next()
            .unwrap()
            .ends_with(",widest_blade,largest_error")
    );
    assert!(lines.next().unwrap().ends_with(",15mm,8mm"), "{figures}");
    // With that blade it still fits, with one wider by a nanometre it does not.
    let cost = |kerf: &str| json(&yard.plan(&["--json", "--kerf", kerf]))["totals"]["cost"].clone();
    assert_eq!(cost("15mm"), "11.80");
    // Two and two then; the same cost, but another plan.
    let wider = json(&yard.plan(&["--json", "--kerf", "15.000001mm"]));
    assert_eq!(
        wider["materials"][0]["bars"][0]["cuts"]
            .as_array()
            .unwrap()
            .len(),
        2
    );
}

/// One piece on every bar: any blade fits, and the JSON says so by null.
#[test]
fn nothing_limits_the_blade_where_no_two_pieces_share_a_bar() {
    let yard = Yard::new();
    let shown = yard.plan(&[]).ended(0).out.clone();
    assert!(shown.contains("Fits with any saw's blade"), "{shown}");
    let found = json(&yard.plan(&["--json"]));
    assert_eq!(found["materials"][0]["widest_blade_mm"], Value::Null);
}

/// Two bars of 3000: 2210 and 700 leave 3000 - 2210 - 700 - 6 = 84, the other 2210 leaves 787. By hand.
#[test]
fn what_can_be_cut_again() {
    let yard = Yard::with_pieces("mark,length,qty\nF,2210,2\nS,700,1\n");
    yard.file("s.csv", "length,price\n3000,5.90\n");
    let shown = unwrapped(&yard.plan(&[]).ended(0).out);
    let said = "If a piece is spoiled, 1 of the 3 can be cut again from what is left; 2 take another bar: F-01, F-02.";
    assert!(shown.contains(said), "{shown}");
    let found = json(&yard.plan(&["--json"]));
    let spoiled = found["materials"][0]["spoiled"].as_array().unwrap();
    assert_eq!(spoiled.len(), 3);
    let of = |mark: &str| spoiled.iter().find(|piece| piece["mark"] == mark).unwrap();
    assert_eq!(of("F-01")["recut"], "another bar");
    assert_eq!(of("F-01")["from"], Value::Null);
    assert_eq!(of("S")["recut"], "left over");
    assert_ne!(of("S")["from"], Value::Null);
}

/// Six pieces fill two bars; a spoiled one takes a third. By hand.
#[test]
fn insurance_against_spoiled_pieces() {
    let yard = Yard::with_pieces("mark,length,qty\nF,990,6\n");
    yard.file("s.csv", "length,price\n3000,5.90\n");
    let run = yard.plan(&["--insure", "1", "--out", "plan"]);
    let shown = unwrapped(&run.ended(0).out);
    let said = "Insured against 1 spoiled piece by 1 spare of 990mm (F-spare): costs 5.90 more, 17.70 in place of 11.80; both proved least.";
    assert!(shown.contains(said), "{shown}");
    let alone: Value = serde_json::from_str(&yard.read("plan/plan.json")).unwrap();
    assert_eq!(alone["job"]["settings"]["insure"], 1);
    assert_eq!(alone["job"]["settings"]["insure_bar"], false);
    let insurance = &alone["materials"][0]["insurance"];
    assert_eq!(insurance["insured"], true);
    assert_eq!(insurance["proven"], true);
    assert_eq!(insurance["with"]["cost"], "17.70");
    assert_eq!(insurance["without"]["cost"], "11.80");
    assert_eq!(insurance["least"]["cost"], "17.70");
    assert_eq!(insurance["spares"][0]["mark"], "F-spare");
    assert_eq!(insurance["spares"][0]["length_mm"], 990);
    assert_eq!(insurance["spares"][0]["count"], 1);
    // With the spares of the row itself there is nothing to add.
    yard.file("p.csv", "mark,length,qty,spare\nF,990,6,2\n");
    let found = json(&yard.plan(&["--json", "--insure", "2"]));
    let insurance = &found["materials"][0]["insurance"];
    assert_eq!(insurance["standing"], 2);
    assert_eq!(insurance["spares"].as_array().unwrap().len(), 0);
    // And more of them where they are too few, under their own mark.
    let found = json(&yard.plan(&["--json", "--insure", "3"]));
    assert_eq!(found["materials"][0]["insurance"]["spares"][0]["count"], 1);
    assert!(yard.plan(&["--insure", "3"]).out.contains("F-spare-03"));
}

/// The spare is the last cut of its bar, also where it is the longest piece.
#[test]
fn a_spare_is_kept_to_the_end() {
    let yard = Yard::with_pieces("mark,length,qty,stage\nF,1500,1,2\nS,500,2,1\n");
    yard.file("s.csv", "length\n4100\n");
    let found = json(&yard.plan(&["--json", "--insure", "1"]));
    let bars = found["materials"][0]["bars"].as_array().unwrap();
    assert_eq!(bars.len(), 1);
    let cuts = bars[0]["cuts"].as_array().unwrap();
    assert_eq!(cuts.last().unwrap()["marks"][0], "F-spare");
}

/// A bar of 3000 may be bad: two are needed for what one holds.
#[test]
fn insurance_against_a_bad_bar() {
    let yard = Yard::with_pieces("mark,length,qty\nF,990,2\n");
    yard.file("s.csv", "length,price\n3000,5.90\n");
    let run = yard.plan(&["--insure-bar"]);
    let shown = unwrapped(&run.ended(0).out);
    let said = "Insured against a bad bar by room for a whole bar of 3000mm (bar-spare): costs 5.90 more, 11.80 in place of 5.90; both proved least.";
    assert!(shown.contains(said), "{shown}");
    let both = unwrapped(&yard.plan(&["--insure-bar", "--insure", "2"]).ended(0).out);
    assert!(
        both.contains("Insured against 2 spoiled pieces and a bad bar by 2 spares of"),
        "{both}"
    );
}

/// One bar is all there is: the job is planned, its insurance is not possible, and the exit code says so.
#[test]
fn insurance_that_has_no_place() {
    let yard = Yard::with_pieces("mark,length,qty\nF,990,3\n");
    yard.file("s.csv", "length,price,available\n3000,5.90,1\n");
    let run = yard.plan(&["--insure", "1"]);
    run.ended(1);
    assert!(
        run.out.contains("Not insured against 1 spoiled piece"),
        "{}",
        run.out
    );
    assert!(run.out.contains("Proved cheapest"), "{}", run.out);
}

#[test]
fn a_count_that_is_none() {
    for count in ["0", "-1", "one", "1000001"] {
        Yard::new().plan(&["--insure", count]).is_fault(&[
            "--insure",
            count,
            "a whole number from 1 to 1000000",
        ]);
    }
}

/// The demonstration job as the program plans it, with insurance against one spoiled piece.
fn kiln_shed(yard: &Yard, more: &[&str]) -> Value {
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../data/kiln-shed");
    for name in ["pieces.csv", "stock.csv", "in-hand.csv"] {
        fs::copy(data.join(name), yard.path().join(name)).unwrap();
    }
    let files = [
        "plan",
        "pieces.csv",
        "--stock",
        "stock.csv",
        "--in-hand",
        "in-hand.csv",
    ];
    json(&yard.run(&[&files, more].concat()))
}

/// A length of the JSON, in nanometres.
fn nm(value: &Value) -> i64 {
    let text = value.to_string();
    let (whole, part) = text.split_once('.').unwrap_or((&text, ""));
    format!("{whole}{part:0<6}").parse().unwrap()
}

fn mm(nm: i64) -> String {
    format!("{}.{:06}mm", nm / 1_000_000, nm % 1_000_000)
}

/// A bar of a plan on the floor.
struct OnFloor {
    /// What there is, the near end as it is now.
    length: i64,
    near: i64,
    far: i64,
    /// Mark, length, angles of the ends.
    cuts: Vec<(String, i64, String)>,
}

/// What the slanted slots of ends of 45 degrees take, and the cut itself: the root of twice the square.
fn takes(length: i64, ends: &str, blade: i64) -> i64 {
    let square = 2 * i128::from(blade) * i128::from(blade);
    let root = square.isqrt();
    let slot = i64::try_from(root + i128::from(root * root < square)).unwrap();
    let mitred = ends.split('/').filter(|end| *end == "45").count();
    length + blade + slot * i64::try_from(mitred).unwrap()
}

/// What the stock takes off the ends of its bars, read off the demonstration's files, in millimetres.
fn square_off(material: &str, in_hand: bool) -> (i64, i64) {
    let (near, far) = match (material, in_hand) {
        ("larch board 20x145", true) => (0, 10),
        ("larch board 20x145" | "barge board 22x195", false) => (10, 10),
        ("window lining 18x120", false) => (5, 0),
        _ => (0, 0),
    };
    (near * 1_000_000, far * 1_000_000)
}

/// Every bar of a material in the order of the plan, spares left uncut, and then those that stay whole.
fn floor(material: &Value) -> Vec<OnFloor> {
    let name = material["material"].as_str().unwrap();
    let bar = |length: &Value, in_hand: &Value, cuts| {
        let (near, far) = square_off(name, in_hand.as_bool().unwrap());
        OnFloor {
            length: nm(length),
            near,
            far,
            cuts,
        }
    };
    let mut floor = Vec::new();
    for group in material["bars"].as_array().unwrap() {
        for at in 0..group["names"].as_array().unwrap().len() {
            let cuts = group["cuts"].as_array().unwrap().iter();
            let real = cuts.filter(|cut| cut["spare"] == false);
            let cut = |cut: &Value| {
                let mark = cut["marks"][at].as_str().unwrap().to_owned();
                let ends = cut["ends"].as_str().unwrap_or("90/90").to_owned();
                (mark, nm(&cut["length_mm"]), ends)
            };
            floor.push(bar(
                &group["stock_mm"],
                &group["in_hand"],
                real.map(cut).collect(),
            ));
        }
    }
    for whole in material["uncut"].as_array().unwrap() {
        for _ in 0..whole["count"].as_u64().unwrap() {
            floor.push(bar(&whole["length_mm"], &whole["in_hand"], vec![]));
        }
    }
    floor
}

/// The files of what is left to do when the piece at `spoiled` is spoiled at its cut: the bars as they
/// lie there, nothing to be bought, and the pieces that are missing, that one among them.
fn carry_on(yard: &Yard, floor: &[OnFloor], blade: i64, spoiled: (usize, usize)) -> Run {
    let mut hand = "length,square_off\n".to_owned();
    let mut pieces = "mark,length,ends\n".to_owned();
    for (place, bar) in floor.iter().enumerate() {
        let done = match place.cmp(&spoiled.0) {
            std::cmp::Ordering::Less => bar.cuts.len(),
            std::cmp::Ordering::Equal => spoiled.1 + 1,
            std::cmp::Ordering::Greater => 0,
        };
        let mut left = bar.length - if done > 0 { bar.near } else { 0 };
        for (_, length, ends) in &bar.cuts[..done] {
            left -= takes(*length, ends, blade);
        }
        let near = if done > 0 { 0 } else { bar.near };
        if left > near + bar.far {
            writeln!(hand, "{},{}/{}", mm(left), mm(near), mm(bar.far)).unwrap();
        }
        let missing = if place == spoiled.0 { spoiled.1 } else { done };
        for (mark, length, ends) in &bar.cuts[missing..] {
            writeln!(pieces, "{mark},{},{ends}", mm(*length)).unwrap();
        }
    }
    yard.file("rest.csv", pieces);
    yard.file("floor.csv", hand);
    let kerf = mm(blade);
    yard.run(&[
        "plan",
        "rest.csv",
        "--in-hand",
        "floor.csv",
        "--kerf",
        &kerf,
        "--json",
    ])
}

/// Bar 2: every piece of the insured demonstration is spoiled in turn at the time of its cut, and the
/// rest of the job is planned from what is on the floor, with nothing to buy.
#[test]
fn every_piece_of_the_demonstration_may_be_spoiled() {
    let yard = Yard::new();
    let plain = kiln_shed(&yard, &["--json"]);
    let insured = kiln_shed(&yard, &["--json", "--insure", "1"]);
    let both = plain["materials"].as_array().unwrap().iter();
    let mut pieces = 0;
    for (plain, insured) in both.zip(insured["materials"].as_array().unwrap()) {
        let insurance = &insured["insurance"];
        assert_eq!(insurance["insured"], true, "{insured}");
        assert_eq!(insurance["without"]["cost"], plain["cost"]);
        assert_eq!(insurance["with"]["cost"], insured["cost"]);
        let floor = floor(insured);
        let blade = nm(&insured["kerf_mm"]);
        let mut of_material = 0;
        for (place, bar) in floor.iter().enumerate() {
            for cut in 0..bar.cuts.len() {
                let run = carry_on(&yard, &floor, blade, (place, cut));
                assert_eq!(
                    run.code,
                    Some(0),
                    "{} spoiled: {}\n{}",
                    bar.cuts[cut].0,
                    run.out,
                    run.err
                );
                let rest: Value = serde_json::from_str(&run.out).unwrap();
                assert_eq!(rest["totals"]["bought_mm"], 0);
                of_material += 1;
            }
        }
        println!(
            "{}: {of_material} pieces spoiled, insured for {} in place of {}, least {}",
            insured["material"],
            insurance["with"]["cost"],
            insurance["without"]["cost"],
            insurance["least"]["cost"]
        );
        pieces += of_material;
    }
    assert!(pieces > 300, "{pieces}");
    println!(
        "{pieces} pieces in all; {} in place of {}",
        insured["totals"]["cost"], plain["totals"]["cost"]
    );
}

/// A yard with a list, stock and, where there is any, what is in hand; planned with these flags.
fn planned(pieces: &str, stock: &str, hand: &str, flags: &[&str]) -> (Yard, Run) {
    let yard = Yard::with_pieces(pieces);
    yard.file("s.csv", stock);
    let mut all = vec![];
    if !hand.is_empty() {
        yard.file("h.csv", hand);
        all.extend(["--in-hand", "h.csv"]);
    }
    all.extend(flags);
    let run = yard.plan(&all);
    (yard, run)
}

/// Parts of 2000 have no place for their spares, parts of 1000 have: 5 bars at 5.00. By hand.
#[test]
fn insurance_was_called_impossible_though_shorter_parts_can_be_insured() {
    let (_, run) = planned(
        "mark,length,qty,joints,joints_max,shortest\nR,3000,1,at 1000 2000,2,500\n",
        "length,price,available\n2000,1,1\n1000,5,\n",
        "",
        &["--insure", "2"],
    );
    let shown = unwrapped(&run.ended(0).out);
    let said = "by 2 spares of 1000mm (R-part-spare), without longer bars: costs 19.00 more, 25.00 in \
                place of 6.00;";
    assert!(shown.contains(said), "{shown}");
}

/// The bar of 3000 may hold the pieces and that of 6000 be kept; that no such plan was found proves
/// nothing.
#[test]
fn insurance_that_was_not_found_is_not_called_impossible() {
    let (yard, run) = planned(
        "mark,length,qty\nA,990,3\n",
        "length,price,available\n3000,6,1\n",
        "length,worth\n6000,5\n",
        &["--insure", "1", "--insure-bar", "--out", "plan"],
    );
    let shown = unwrapped(&run.out);
    let json: Value = serde_json::from_str(&yard.read("plan/plan.json")).unwrap();
    let insurance = &json["materials"][0]["insurance"];
    if insurance["insured"] == false {
        run.ended(3);
        let said =
            "no plan with the spares that it takes was found, and no proof that there is none;";
        assert!(shown.contains(said), "{shown}");
        assert_eq!(insurance["proof"], "unknown");
        assert!(
            insurance["why"]
                .as_str()
                .unwrap()
                .contains("no proof that there is none")
        );
    } else {
        run.ended(0);
        assert_eq!(insurance["why"], Value::Null);
    }
}

/// Why in the JSON too: three pieces fill the one bar there is.
#[test]
fn a_refused_insurance_had_no_reason_in_the_json() {
    let (yard, run) = planned(
        "mark,length,qty\nF,990,3\n",
        "length,price,available\n3000,5.90,1\n",
        "",
        &["--insure", "1", "--out", "plan"],
    );
    run.ended(1);
    let json: Value = serde_json::from_str(&yard.read("plan/plan.json")).unwrap();
    let insurance = &json["materials"][0]["insurance"];
    assert_eq!(insurance["proof"], "impossible");
    assert!(insurance["why"].as_str().unwrap().contains("have no place"));
    assert_eq!(json["totals"].get("insurance"), None);
}

/// 1000 + 500 + 1000 and two cuts of 3 fit 2800, and what is kept for a spare of A serves for B. By hand.
#[test]
fn a_shorter_spare_of_the_list_took_a_bar_of_its_own_beside_the_insurance() {
    let (_, run) = planned(
        "mark,length,qty,spare\nA,1000,1,\nB,500,1,1\n",
        "length,price\n2800,10\n",
        "",
        &["--insure", "1"],
    );
    let shown = unwrapped(&run.ended(0).out);
    let said = "by 1 spare of 1000mm (A-spare), in place of a shorter one of the list: costs nothing \
                more than the 10.00 without; both proved least.";
    assert!(shown.contains(said), "{shown}");
}

/// 3000 - 3 x 900 - 2 x 3 leaves 294: 98 for each of three pieces. By hand.
#[test]
fn a_bar_kept_whole_was_shown_as_a_cut_without_anything_to_spare() {
    let (yard, run) = planned(
        "mark,length,qty\nA,900,6\n",
        "length,price,square_off\n3000,6,0\n",
        "",
        &["--insure-bar", "--out", "plan"],
    );
    run.ended(0);
    for gone in [
        "stop 3000mm",
        "nothing to spare",
        "too long (B1",
        "if one is spoiled",
    ] {
        assert!(!run.out.contains(gone), "{gone} in {}", run.out);
    }
    let kept = "    keep whole  bar-spare (for a bar that turns out bad)\n";
    assert!(run.out.contains(kept), "{}", run.out);
    let shown = unwrapped(&run.out);
    for said in [
        "each piece may come out up to 98mm too long",
        "Every bar that is cut has 5mm or more to spare.",
    ] {
        assert!(shown.contains(said), "{said} not in {shown}");
    }
    let sheet = yard.read("plan/cutting-sheet.html");
    assert!(sheet.contains("keep whole: for a bar that turns out bad"));
    assert!(!sheet.contains("if one is spoiled"));
    let json: Value = serde_json::from_str(&yard.read("plan/plan.json")).unwrap();
    let bars = json["materials"][0]["bars"].as_array().unwrap();
    let of_bars = |bar: &Value| bar["cuts"][0].get("for_bar").cloned();
    let kept: Vec<Option<Value>> = bars.iter().map(of_bars).collect();
    assert_eq!(kept, [None, Some(Value::Bool(true))]);
    // Half-way it is still what it was.
    let more = [
        "carry-on",
        "plan/plan.json",
        "--note",
        "cut A1",
        "--note",
        "spoiled A-01",
        "--out",
        "rest",
    ];
    yard.run(&more).ended(0);
    let rest = yard.read("rest/plan.json");
    assert!(rest.contains("\"for_bar\":true") || rest.contains("\"for_bar\": true"));
}

/// The most that the smallest spare can be is found beside a bar that is kept: 3000 - 3 x 998 - 2 x 3
/// leaves nothing, two pieces on each of two bars leave more than 5 mm.
#[test]
fn room_for_a_bar_kept_the_others_from_having_more_to_spare() {
    let (_, run) = planned(
        "mark,length,qty\nA,998,3\nB,990,1\n",
        "length,price\n3000,6\n",
        "",
        &["--insure-bar"],
    );
    let shown = unwrapped(&run.ended(0).out);
    let said = "Every bar that is cut has 5mm or more to spare.";
    assert!(shown.contains(said), "{shown}");
}

/// Without runs the necessary spare is exactly what it takes: no other spares would be cheaper.
#[test]
fn an_open_gap_was_blamed_on_other_spares() {
    let (_, run) = planned(
        "mark,length,qty\nA,1231,9\nB,1117,8\nC,977,7\nD,853,9\nE,691,8\nG,547,7\n",
        "length,price\n4100,9.10\n3300,7.35\n2700,6.05\n",
        "",
        &["--insure", "1", "--work-limit", "20000"],
    );
    let shown = unwrapped(&run.out);
    assert!(shown.contains("Insured against 1 spoiled piece"), "{shown}");
    assert!(
        shown.contains("; it may come to less, but to no less than"),
        "{shown}"
    );
    assert!(!shown.contains("other spares"), "{shown}");
}

/// 5.90 more, as the text has it: in the totals of plan.json and on the sheet for the saw too.
#[test]
fn what_the_insurance_costs_stood_in_the_text_only() {
    let (yard, run) = planned(
        "mark,length,qty\nF,990,6\n",
        "length,price\n3000,5.90\n",
        "",
        &["--insure", "1", "--out", "plan"],
    );
    run.ended(0);
    let json: Value = serde_json::from_str(&yard.read("plan/plan.json")).unwrap();
    assert_eq!(json["totals"]["insurance"]["cost"], "5.90");
    assert_eq!(json["totals"]["insurance"]["proven"], true);
    let sheet = yard.read("plan/cutting-sheet.html");
    let row = &sheet[sheet.find("What the insurance costs").unwrap()..];
    assert!(row[..200].contains("5.90"), "{}", &row[..200]);
}

/// The lining of a pottery's kiln shed: a run and short pieces under one mark, each with a spare. The spare of the
/// short ones gives way, and the run's was called G-spare in place of G-spare-01.
#[test]
fn a_spare_run_lost_its_number_where_the_other_spare_gave_way() {
    let (yard, run) = planned(
        "mark,length,qty,spare,joints\nG,7000,1,1,every 600\nG,1300,3,1,\n",
        "length\n4600\n",
        "",
        &["--insure", "1", "--out", "plan"],
    );
    run.ended(0);
    assert!(run.out.contains("G-spare-01.1"), "{}", run.out);
    yard.run(&["verify", "plan/plan.json"]).ended(0);
    let bad = ["carry-on", "plan/plan.json", "--note", "bad A1", "--out"];
    let rest = yard.run(&[&bad[..], &["rest"]].concat());
    rest.ended(0);
    let plan = yard.read("rest/plan.json");
    assert!(plan.contains("\"G-spare-01.1\""), "{plan}");
    yard.run(&["verify", "rest/plan.json"]).ended(0);
    let more = ["carry-on", "rest/plan.json", "--note", "bad B1"];
    yard.run(&more).ended(0);
}

/// Several rows with one mark, with and without joints, spares of both among them: some have numbers behind those
/// of others, whatever gives way.
#[test]
fn marks_of_spares_stay_whatever_gives_way() {
    let pieces = "mark,length,qty,spare,joints\nG,1300,3,2,\nG,7000,1,2,every 600\n,7000,1,1,every 600\n\
                  H,4000,1,1,\nH,7000,1,1,every 600\n";
    for flags in [
        &["--insure", "1"][..],
        &["--insure-bar"],
        &["--insure", "3", "--insure-bar"],
    ] {
        let flags = [flags, &["--out", "plan"]].concat();
        let (yard, run) = planned(pieces, "length\n4600\n", "", &flags);
        run.ended(0);
        let carry = ["carry-on", "plan/plan.json", "--note", "bad A1", "--out"];
        yard.run(&[&carry[..], &["rest"]].concat()).ended(0);
        yard.run(&["verify", "rest/plan.json"]).ended(0);
    }
}

/// A job half-way has spares in rows of their own. Planned anew with insurance, they stood beside the spares of the
/// plan, and it could not be carried on.
#[test]
fn what_is_left_of_a_job_can_be_insured_and_carried_on() {
    let yard = Yard::with_pieces(
        "mark,length,qty,spare,joints\nA,1500,3,1,\n,900,4,2,\nR,7000,1,1,every 600\n",
    );
    yard.file("s.csv", "length\n4000\n");
    yard.plan(&["--out", "plan"]).ended(0);
    let carry = |from: &str, to: &str| {
        let plan = format!("{from}/plan.json");
        yard.run(&["carry-on", &plan, "--note", "bad A1", "--out", to])
            .ended(0);
    };
    carry("plan", "rest");
    let anew = ["plan", "--job", "rest/plan.json", "--insure", "2", "--out"];
    yard.run(&[&anew[..], &["anew"]].concat()).ended(0);
    yard.run(&["verify", "anew/plan.json"]).ended(0);
    carry("anew", "last");
    yard.run(&["verify", "last/plan.json"]).ended(0);
}
