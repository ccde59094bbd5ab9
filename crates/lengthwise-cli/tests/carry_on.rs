//! `lengthwise carry-on` as a process: what happened in, what changes out, and everything that is wrong.
#![allow(clippy::unwrap_used, clippy::panic)]

mod common;

use common::{Run, Yard};
use serde_json::Value;

/// Battens for the drying shelves: two of 1400 and one of 150 from a bar of 3000, four bars; spares of
/// nothing.
fn shelves() -> Yard {
    let yard = Yard::with_pieces("mark,length,qty\nF,1400,8\nK,150,4\n");
    yard.file("s.csv", "length,price\n3000,5.90\n");
    yard.plan(&["--out", "o"]).ended(0);
    yard
}

fn carry(yard: &Yard, notes: &str, more: &[&str]) -> Run {
    yard.file("n.txt", notes);
    yard.run(&[&["carry-on", "o/plan.json", "--done", "n.txt"], more].concat())
}

fn json(yard: &Yard, notes: &str) -> Value {
    let run = carry(yard, notes, &["--json"]);
    run.ended(0);
    serde_json::from_str(&run.out).unwrap()
}

fn names(value: &Value) -> Vec<&str> {
    let names = value.as_array().unwrap().iter();
    names.map(|name| name.as_str().unwrap()).collect()
}

/// The marks on each bar of a plan in JSON, by its name; marks sorted, so that the long pieces come first.
fn cuts(json: &Value) -> Vec<(String, Vec<String>)> {
    let mut all = Vec::new();
    for material in json["materials"].as_array().unwrap() {
        for bars in material["bars"].as_array().unwrap() {
            for (place, name) in names(&bars["names"]).into_iter().enumerate() {
                let marks = bars["cuts"].as_array().unwrap().iter();
                let marks = marks.map(|cut| cut["marks"][place].as_str().unwrap().to_owned());
                let mut marks: Vec<String> = marks.collect();
                marks.sort();
                all.push((name.to_owned(), marks));
            }
        }
    }
    all.sort();
    all
}

#[test]
fn nothing_happened_and_nothing_changes() {
    let yard = shelves();
    let run = yard.run(&["carry-on", "o/plan.json"]);
    run.ended(0);
    assert!(run.out.contains("nothing: go on as planned"), "{}", run.out);
    assert!(run.out.contains("nothing more to buy"), "{}", run.out);
    assert!(!run.out.contains("Bar by bar"), "{}", run.out);
    let before: Value = serde_json::from_str(&yard.read("o/plan.json")).unwrap();
    let after = json(&yard, "# nothing yet\n\n");
    assert_eq!(cuts(&before), cuts(&after));
    assert_eq!(after["totals"]["cost"], "0.00");
}

#[test]
fn the_field_names_of_the_changes_are_as_promised() {
    let yard = shelves();
    let json = json(&yard, "cut A1");
    let keys = |value: &Value| {
        let keys = value.as_object().unwrap().keys();
        keys.cloned().collect::<Vec<_>>()
    };
    let mut top = keys(&json);
    top.sort();
    assert_eq!(top, ["changes", "materials", "remarks", "totals"]);
    let mut changes = keys(&json["changes"][0]);
    changes.sort();
    let promised = [
        "changed",
        "material",
        "new",
        "unchanged",
        "whole",
        "without_place",
    ];
    assert_eq!(changes, promised);
}

/// By hand: each bar holds 1400 + 3 + 1400 + 3 + 150 = 2956 of 3000. A spoiled 1400 fits no offcut and no
/// remainder of 41, so one bar more is bought.
#[test]
fn a_spoiled_piece_takes_another_bar_and_leaves_the_others_alone() {
    let yard = shelves();
    let before: Value = serde_json::from_str(&yard.read("o/plan.json")).unwrap();
    let (first, marks) = cuts(&before)[0].clone();
    let after = json(
        &yard,
        &format!("CUT {first}.\nSpoiled: {}\n", marks[0].to_lowercase()),
    );
    let changes = &after["changes"][0];
    assert_eq!(names(&changes["unchanged"]).len(), 3);
    assert_eq!(names(&changes["new"]).len(), 1);
    assert_eq!(after["totals"]["cost"], "5.90");
    assert_eq!(after["materials"][0]["proof"], "optimal");
    let new = names(&changes["new"])[0].to_owned();
    assert!(!cuts(&before).iter().any(|(name, _)| *name == new));
    let of_new = cuts(&after).into_iter().find(|(name, _)| *name == new);
    assert_eq!(of_new.unwrap().1, [marks[0].clone()]);
}

#[test]
fn what_is_found_is_used_before_anything_is_bought() {
    let yard = shelves();
    let before: Value = serde_json::from_str(&yard.read("o/plan.json")).unwrap();
    let (first, marks) = cuts(&before)[0].clone();
    let notes = format!("cut {first}; spoiled {}; Found 2 x 1.45m", marks[0]);
    let after = json(&yard, &notes);
    assert_eq!(after["totals"]["cost"], "0.00");
    let new = names(&after["changes"][0]["new"])[0];
    let bars = after["materials"][0]["bars"].as_array().unwrap().iter();
    let bar = bars.into_iter().find(|bars| names(&bars["names"]) == [new]);
    assert_eq!(bar.unwrap()["stock_mm"], 1450);
}

/// Stretches have the name of their bar and a letter; a bar that is short keeps its name.
#[test]
fn bars_that_are_not_what_they_should_be() {
    let yard = shelves();
    let before: Value = serde_json::from_str(&yard.read("o/plan.json")).unwrap();
    let bars: Vec<String> = cuts(&before).into_iter().map(|(name, _)| name).collect();
    let [one, two, three, _] = bars.as_slice() else {
        panic!("four bars: {bars:?}");
    };
    let notes = format!("{one} usable 1400 + 1560\nshort {two} 2970\nbad {three}");
    let run = carry(&yard, &notes, &["--out", "r"]);
    run.ended(0);
    assert!(run.out.contains(&format!("{one}a")), "{}", run.out);
    let after: Value = serde_json::from_str(&yard.read("r/plan.json")).unwrap();
    let named: Vec<String> = cuts(&after).into_iter().map(|(name, _)| name).collect();
    assert!(
        named.contains(&format!("{one}b")) && named.contains(two),
        "{named:?}"
    );
    assert!(!named.contains(one) && !named.contains(three));
    // Of 8 x 1400 and 4 x 150 the stretches hold two and one, the short bar and the last one two and one
    // each (2956), and so does a bar to buy.
    assert_eq!(after["totals"]["cost"], "5.90");
    // Going on from there changes nothing.
    let again = yard.run(&["carry-on", "r/plan.json", "--json"]);
    again.ended(0);
    let again: Value = serde_json::from_str(&again.out).unwrap();
    assert_eq!(cuts(&after), cuts(&again));
    assert_eq!(again["changes"][0]["changed"], Value::Array(vec![]));
}

/// From A1 a piece of 1400 is cut: 3000 - 1403 = 1597 are left, which hold the other two.
#[test]
fn a_bar_that_is_begun_goes_on_under_its_name() {
    let yard = shelves();
    let before: Value = serde_json::from_str(&yard.read("o/plan.json")).unwrap();
    let (first, marks) = cuts(&before)[0].clone();
    let after = json(&yard, &format!("begun {first} {}", marks[0]));
    let bars = after["materials"][0]["bars"].as_array().unwrap().iter();
    let bar = bars
        .into_iter()
        .find(|bars| names(&bars["names"]) == [first.as_str()]);
    let bar = bar.unwrap();
    assert_eq!(bar["stock_mm"], 1597);
    assert_eq!(bar["cuts"].as_array().unwrap().len(), 2);
    assert_eq!(after["totals"]["cost"], "0.00");
    // Where less is left than that, the rest goes elsewhere.
    let after = json(&yard, &format!("begun {first}, {} left 200", marks[0]));
    assert_eq!(after["totals"]["cost"], "5.90");
}

/// The offcut of 3000 - 2103 = 897 has the name of its bar; `left` says that it is gone.
#[test]
fn an_offcut_has_the_name_of_its_bar() {
    let yard = Yard::with_pieces("mark,length,qty\nF,2100,2\nK,800,1\n");
    yard.file("s.csv", "length,price,available\n3000,5.90,3\n");
    yard.plan(&["--out", "o"]).ended(0);
    let before: Value = serde_json::from_str(&yard.read("o/plan.json")).unwrap();
    let all = cuts(&before);
    let with_k = all
        .iter()
        .find(|(_, marks)| marks.contains(&"K".to_owned()));
    let without = all
        .iter()
        .find(|(_, marks)| !marks.contains(&"K".to_owned()));
    let (with_k, without) = (&with_k.unwrap().0, &without.unwrap().0);
    let notes = format!("cut {with_k} and {without}\nspoiled K");
    let after = json(&yard, &notes);
    assert_eq!(after["totals"]["cost"], "0.00");
    assert_eq!(
        names(&after["changes"][0]["changed"]),
        [format!("{without}r")]
    );
    let after = json(&yard, &format!("{notes}\nleft {without} nothing"));
    assert_eq!(after["totals"]["cost"], "5.90");
    assert_eq!(after["changes"][0]["new"].as_array().unwrap().len(), 1);
}

#[test]
fn a_spare_that_is_cut_serves_for_a_spoiled_piece() {
    let yard = Yard::with_pieces("mark,length,qty,spare\nF,1400,3,1\n");
    yard.file("s.csv", "length,price\n3000,5.90\n");
    yard.plan(&["--out", "o"]).ended(0);
    let before: Value = serde_json::from_str(&yard.read("o/plan.json")).unwrap();
    let spare = |marks: &[String]| marks.contains(&"F-spare".to_owned());
    let all = cuts(&before);
    let with = all.iter().find(|(_, marks)| spare(marks)).unwrap();
    let without = all.iter().find(|(_, marks)| !spare(marks)).unwrap();
    // Cut: nothing is left to do but what the other bar holds.
    let marks = with.1.join(" ");
    let notes = format!("begun {} {marks}\nspoiled {}", with.0, with.1[0]);
    let run = carry(&yard, &notes, &[]);
    run.ended(0);
    let said = format!("F-spare, a spare that is cut, serves as {}.", with.1[0]);
    assert!(run.out.contains(&said), "{}", run.out);
    assert!(run.out.contains("nothing more to buy"), "{}", run.out);
    // Not cut yet, which the sheet asks for: the piece takes its place, wherever it was cut, and is planned once.
    for of in [&without, &with] {
        for word in ["cut", "begun"] {
            let bar = &of.0;
            let so_far = if word == "cut" { "" } else { of.1[0].as_str() };
            let after = json(
                &yard,
                &format!("{word} {bar} {so_far}\nspoiled {}", of.1[0]),
            );
            assert_eq!(after["totals"]["cost"], "0.00");
            let marks: Vec<String> = cuts(&after)
                .into_iter()
                .flat_map(|(_, marks)| marks)
                .collect();
            let again = marks.iter().filter(|mark| **mark == of.1[0]);
            assert!(again.count() == 1 && !spare(&marks), "{marks:?}");
        }
    }
}

#[test]
fn pieces_measured_anew() {
    let yard = shelves();
    yard.file(
        "m.csv",
        "mark,length,leave_long,qty\nF-08,1420,,\nk-01,,25,\nK-02,140,,1\n",
    );
    let after = carry(&yard, "", &["--pieces", "m.csv", "--out", "r"]);
    after.ended(0);
    let after: Value = serde_json::from_str(&yard.read("r/plan.json")).unwrap();
    let length = |mark: &str| {
        let bars = after["materials"][0]["bars"].as_array().unwrap().iter();
        let cuts = bars.flat_map(|bars| bars["cuts"].as_array().unwrap());
        let has = |cut: &&Value| names(&cut["marks"]).contains(&mark);
        cuts.into_iter().find(has).unwrap()["length_mm"].clone()
    };
    assert_eq!(length("F-08"), 1420);
    assert_eq!(length("K-01"), 175);
    assert_eq!(length("K-02"), 140);
    // Another time round: what was left long stays so.
    let again = yard.run(&["carry-on", "r/plan.json", "--out", "r"]);
    again.ended(0);
    assert!(
        yard.read("r/plan.json")
            .contains("\"leave_long\": \"25mm\"")
    );
}

/// `F` is a row of two, `f` another piece: the mark as it is written means the row.
#[test]
fn a_row_as_written_goes_before_a_piece_in_other_letters() {
    let yard = Yard::with_pieces("mark,length,qty\nF,1400,2\nf,150,1\n");
    yard.file("s.csv", "length,price\n3000,5.90\n");
    yard.plan(&["--out", "o"]).ended(0);
    yard.file("m.csv", "mark,length\nF,1390\n");
    carry(&yard, "", &["--pieces", "m.csv", "--out", "r"]).ended(0);
    let after: Value = serde_json::from_str(&yard.read("r/plan.json")).unwrap();
    let bars = after["materials"][0]["bars"].as_array().unwrap().iter();
    let cuts = bars.flat_map(|bars| bars["cuts"].as_array().unwrap());
    let mut lengths: Vec<u64> = cuts.map(|cut| cut["length_mm"].as_u64().unwrap()).collect();
    lengths.sort();
    assert_eq!(lengths, [150, 1390, 1390]);
}

/// The lengths of all cuts of a plan in JSON, sorted.
fn lengths(json: &Value) -> Vec<u64> {
    let materials = json["materials"].as_array().unwrap().iter();
    let bars = materials.flat_map(|one| one["bars"].as_array().unwrap());
    let mut lengths = Vec::new();
    for bars in bars {
        for cut in bars["cuts"].as_array().unwrap() {
            let count = cut["marks"].as_array().unwrap().len();
            lengths.extend(vec![cut["length_mm"].as_u64().unwrap(); count]);
        }
    }
    lengths.sort();
    lengths
}

/// Six of 1400 and two of 700 from bars of 3000. After a bar with nothing but pieces of the row its mark still stands
/// for all six: those that are cut are to be trimmed, the others are cut shorter; in the list of pieces it also has
/// columns that say something of the row as a whole.
#[test]
fn the_mark_of_a_row_in_a_plan_that_was_carried_on() {
    let yard = Yard::with_pieces("mark,length,qty\nF,1400,6\nG,700,2\n");
    yard.file("s.csv", "length\n3000\n");
    yard.plan(&["--out", "o"]).ended(0);
    let before: Value = serde_json::from_str(&yard.read("o/plan.json")).unwrap();
    let mut all = cuts(&before).into_iter();
    let first = all.find(|(_, marks)| marks.iter().all(|mark| mark.starts_with('F')));
    let (first, marks) = first.unwrap();
    carry(&yard, &format!("cut {first}"), &["--out", "r"]).ended(0);
    for table in ["mark,length,qty\nF,1395,6\n", "mark,length\nf,1395\n"] {
        yard.file("m.csv", table);
        let again = ["carry-on", "r/plan.json", "--pieces", "m.csv", "--out", "q"];
        let run = yard.run(&again);
        run.ended(0);
        for mark in &marks {
            let said = format!("{mark} is cut already: take 5mm off it.");
            assert!(run.out.contains(&said), "{}", run.out);
        }
        let after: Value = serde_json::from_str(&yard.read("q/plan.json")).unwrap();
        let left = 6 - marks.len();
        assert_eq!(lengths(&after), [vec![700; 2], vec![1395; left]].concat());
    }
    // A row in other letters is none, and a letter is no number.
    yard.file("m.csv", "mark,length\nFF,1395\n");
    let run = yard.run(&["carry-on", "r/plan.json", "--pieces", "m.csv"]);
    run.is_fault(&["m.csv, line 2, mark", "unknown piece \"FF\""]);
}

/// A row of which all is cut in a plan that was carried on still has its mark: 1400 cut, 1390 measured.
#[test]
fn the_mark_of_a_row_of_which_all_is_cut() {
    let yard = Yard::with_pieces("mark,length,qty\nF,1400,2\nG,2900,1\n");
    yard.file("s.csv", "length\n3000\n");
    yard.plan(&["--out", "o"]).ended(0);
    let before: Value = serde_json::from_str(&yard.read("o/plan.json")).unwrap();
    let mut all = cuts(&before).into_iter();
    let (first, _) = all.find(|(_, marks)| marks.len() == 2).unwrap();
    carry(&yard, &format!("cut {first}"), &["--out", "r"]).ended(0);
    yard.file("m.csv", "mark,length\nf,1390\n");
    let run = yard.run(&["carry-on", "r/plan.json", "--pieces", "m.csv"]);
    run.ended(0);
    for mark in ["F-01", "F-02"] {
        let said = format!("{mark} is cut already: take 10mm off it.");
        assert!(run.out.contains(&said), "{}", run.out);
    }
}

/// Courses have numbers of their own: the first that is left is not the first of the row.
#[test]
fn courses_by_the_mark_of_their_row() {
    let pieces = "mark,length,qty,joints,course_group,course,course_rule\n\
                  T,2500,3,every 500,wall,1,1/2\n";
    let yard = Yard::with_pieces(pieces);
    yard.file("s.csv", "length\n3000\n");
    yard.plan(&["--out", "o"]).ended(0);
    let before: Value = serde_json::from_str(&yard.read("o/plan.json")).unwrap();
    let mut all = cuts(&before).into_iter();
    let (first, _) = all
        .find(|(_, marks)| marks.iter().any(|mark| mark == "T-01"))
        .unwrap();
    carry(&yard, &format!("cut {first}"), &["--out", "r"]).ended(0);
    yard.file("m.csv", pieces.replace("2500", "2490"));
    let run = yard.run(&["carry-on", "r/plan.json", "--pieces", "m.csv", "--out", "q"]);
    run.ended(0);
    assert!(run.out.contains("T-01 is cut already"), "{}", run.out);
    let after: Value = serde_json::from_str(&yard.read("q/plan.json")).unwrap();
    assert_eq!(lengths(&after), [2490, 2490]);
}

/// Two rows of runs, one of them marked like a copy of the other. From bars of 3000 each run has two parts, so that
/// a bar that is cut leaves parts of runs behind.
#[test]
fn runs_of_like_marks_are_carried_on() {
    let yard =
        Yard::with_pieces("mark,length,qty,joints\nF-01,4500,2,every 600\nF,4400,2,every 600\n");
    yard.file("s.csv", "length\n3000\n");
    yard.plan(&["--out", "o"]).ended(0);
    let before: Value = serde_json::from_str(&yard.read("o/plan.json")).unwrap();
    for (bar, marks) in cuts(&before) {
        let run = carry(&yard, &format!("cut {bar}"), &["--out", "r"]);
        run.ended(0);
        let after: Value = serde_json::from_str(&yard.read("r/plan.json")).unwrap();
        let count = |json: &Value| {
            cuts(json)
                .iter()
                .map(|(_, marks)| marks.len())
                .sum::<usize>()
        };
        assert_eq!(count(&after), count(&before) - marks.len());
        // What was written is read and carried on.
        yard.run(&["carry-on", "r/plan.json"]).ended(0);
    }
}

#[test]
fn a_piece_that_is_cut_can_only_be_measured_shorter() {
    let yard = shelves();
    let before: Value = serde_json::from_str(&yard.read("o/plan.json")).unwrap();
    let (first, marks) = cuts(&before)[0].clone();
    let mark = &marks[0];
    yard.file("m.csv", format!("mark,length\n{mark},1410\n"));
    let notes = format!("cut {first}");
    carry(&yard, &notes, &["--pieces", "m.csv"]).is_fault(&[
        "m.csv, line 2, length",
        "1410mm",
        "cut already at 1400mm",
        "spoiled",
    ]);
    // Spoiled, it is cut again as long as it is now.
    let spoiled = format!("{notes}\nspoiled {mark}");
    carry(&yard, &spoiled, &["--pieces", "m.csv"]).ended(0);
    yard.file("m.csv", format!("mark,length\n{mark},1390\n"));
    let run = carry(&yard, &notes, &["--pieces", "m.csv"]);
    run.ended(0);
    let said = format!("{mark} is cut already: take 10mm off it.");
    assert!(run.out.contains(&said), "{}", run.out);
}

#[test]
fn a_table_of_new_measures_says_nothing_else() {
    let yard = shelves();
    for (table, parts) in [
        ("length\n1400\n", &["no column \"mark\""][..]),
        (
            "mark,length\nX9,1400\n",
            &["m.csv, line 2, mark", "unknown piece \"X9\""],
        ),
        ("mark,length\nF-1l,1400\n", &["did you mean \"F-0"]),
        ("mark,length\n,1400\n", &["line 2, mark", "nothing"]),
        (
            "mark,length,qty\nF,1400,9\n",
            &["line 2, qty", "\"9\"", "nothing new"],
        ),
        (
            "mark,length,ends\nF-01,1400,45\n",
            &["line 2, ends", "nothing new"],
        ),
        ("mark,price\nF-01,3\n", &["unknown column \"price\""]),
        ("mark,length\nF-01,-3\n", &["line 2, length", "negative"]),
        (
            "mark,end_gap\nF-01,900\n",
            &["line 2, end_gap", "gaps that leave"],
        ),
    ] {
        yard.file("m.csv", table);
        let run = carry(&yard, "", &["--pieces", "m.csv"]);
        run.is_fault(parts);
    }
}

/// The same things in the words and signs of several thumbs.
#[test]
fn lines_are_read_forgivingly() {
    let yard = shelves();
    let before: Value = serde_json::from_str(&yard.read("o/plan.json")).unwrap();
    let (first, marks) = cuts(&before)[0].clone();
    let expected = cuts(&json(&yard, &format!("cut {first}\nspoiled {}", marks[1])));
    let (low, mark) = (first.to_lowercase(), marks[1].to_lowercase());
    for notes in [
        format!("CUT: {low};spoilt {mark}."),
        format!("{first} cut # on Tuesday\r\n\r\n  spoiled   {mark} from {low}\r\n"),
        format!("done {low}-{low}, \nruined {mark}!"),
        format!("cut {first} to {first}\nspoiled, {mark}"),
        format!("spoiled {mark}\ncut {low}\ncut {first}"),
    ] {
        assert_eq!(cuts(&json(&yard, &notes)), expected, "{notes}");
    }
    let by_flag = yard.run(&[
        "carry-on",
        "o/plan.json",
        "--note",
        &format!("cut {first}"),
        "--note",
        &format!("spoiled {mark}"),
        "--json",
    ]);
    by_flag.ended(0);
    assert_eq!(cuts(&serde_json::from_str(&by_flag.out).unwrap()), expected);
    let notes = format!("cut {first}\nspoiled {mark}\n");
    let args = ["carry-on", "o/plan.json", "--done", "-", "--json"];
    let by_pipe = yard.run_with_input(&args, &notes);
    by_pipe.ended(0);
    assert_eq!(cuts(&serde_json::from_str(&by_pipe.out).unwrap()), expected);
}

/// Every fault with its line and column, what was found and what is accepted.
#[test]
fn every_fault_of_the_notes_in_one_go() {
    let yard = shelves();
    let before: Value = serde_json::from_str(&yard.read("o/plan.json")).unwrap();
    let all = cuts(&before);
    let ([a, b, ..], mark) = (all.as_slice(), &all[1].1[0]) else {
        panic!("two bars");
    };
    let (a, b) = (&a.0, &b.0);
    let lines = [
        (
            format!("cutt {a}"),
            vec!["line 1, column 1", "did you mean \"cut\""],
        ),
        (
            "cut Z77".to_owned(),
            vec!["line 2, column 5", "unknown bar \"Z77\""],
        ),
        (
            "begun".to_owned(),
            vec!["line 3, column 1", "nothing behind it", "begun C2"],
        ),
        (
            format!("short {a} 9m"),
            vec!["line 4, column 1", "9000mm of a bar of 3000mm"],
        ),
        (
            format!("usable {b} 2000+x"),
            vec!["line 5, column 11", "\"x\"", "1150+1720"],
        ),
        (
            "found some".to_owned(),
            vec!["line 6, column 7", "\"some\"", "found 1850"],
        ),
        (
            "found 900 x 2 larch".to_owned(),
            vec!["line 7, column 15", "unknown material"],
        ),
        (
            "spoiled Nix".to_owned(),
            vec!["line 8, column 9", "unknown piece \"Nix\""],
        ),
        (
            format!("spoiled {mark}"),
            vec!["line 9, column 9", "not said to be cut"],
        ),
        (
            format!("left {b} 100"),
            vec!["line 10, column 1", "not said to be cut"],
        ),
        (
            format!("short {b} 2.9x"),
            vec!["line 11", "unknown unit \"x\""],
        ),
    ];
    let notes: Vec<&str> = lines.iter().map(|(line, _)| line.as_str()).collect();
    let run = carry(&yard, &notes.join("\n"), &[]);
    for (_, parts) in &lines {
        run.is_fault(parts);
    }
    run.has_faults(lines.len());
}

#[test]
fn what_contradicts_itself_is_a_fault() {
    let yard = shelves();
    let before: Value = serde_json::from_str(&yard.read("o/plan.json")).unwrap();
    let all = cuts(&before);
    let (a, marks) = &all[0];
    let (b, others) = &all[1];
    for (notes, parts) in [
        (
            format!("cut {a}\nbad {a}"),
            vec!["line 2", "bad, which is also cut"],
        ),
        (
            format!("bad {a}; cut {a}"),
            vec!["line 1", "cut, which is also bad"],
        ),
        (
            format!("short {a} 2000\nusable {a} 1000"),
            vec!["usable in stretches, which is also short"],
        ),
        (
            format!("cut {a}\nspoiled {0} {0}", marks[0]),
            vec!["spoiled twice"],
        ),
        (
            format!("cut {a}\nbegun {b} {}", marks[0]),
            vec!["also from"],
        ),
        (format!("begun {a} {0} {0}", marks[0]), vec!["twice"]),
        (
            format!("begun {a} {} {} {}", marks[0], marks[1], others[0]),
            vec!["do not fit"],
        ),
        (
            format!("begun {a} {} left 4m", marks[0]),
            vec!["4000mm left of 3000mm"],
        ),
        (
            format!("cut {a}\nleft {a} 10\nleft {a} 20"),
            vec!["one of the two"],
        ),
        (
            format!("cut {a}\nspoiled {} from {b}", marks[0]),
            vec!["not said to be cut from"],
        ),
    ] {
        carry(&yard, &notes, &[]).is_fault(&parts);
    }
}

#[test]
fn what_is_no_plan_of_ours_is_refused() {
    let yard = shelves();
    let plan = yard.read("o/plan.json");
    let only_plan = yard.plan(&["--json"]).out;
    for (text, parts) in [
        (String::new(), vec!["no JSON"]),
        ("mark,length\nF,3\n".to_owned(), vec!["no JSON"]),
        ("{\"materials\":[]}".to_owned(), vec!["without its job"]),
        (only_plan, vec!["without its job", "plan.json"]),
        (
            plan.replacen("\"stock_mm\": 3000", "\"stock_mm\": 2999", 1),
            vec!["materials[0].bars[0].bar", "2999mm"],
        ),
        (
            plan.replacen("\"stock_mm\": 3000", "\"stock_mm\": -3", 1),
            vec!["materials[0].bars[0].stock_mm", "\"-3\""],
        ),
        (
            plan.replacen("\"names\": [", "\"names\": [7,", 1),
            vec!["materials[0].bars[0].names[0]", "integer `7`"],
        ),
        (
            plan.replacen("F-01", "F-99", 1),
            vec!["materials[0].bars", "F-99 of 1400mm"],
        ),
        (
            plan.replacen("\"kerf\": \"3mm\"", "\"kerf\": \"wide\"", 1),
            vec!["job.settings.kerf", "\"wide\""],
        ),
        (
            plan.replacen("\"length\": \"1400mm\"", "\"length\": \"0mm\"", 1),
            vec!["job.pieces[0].length", "above 0"],
        ),
        (format!("{plan} x"), vec!["more behind the plan"]),
    ] {
        yard.file("x.json", &text);
        yard.run(&["carry-on", "x.json"]).is_fault(&parts);
    }
    yard.run(&["carry-on", "nowhere.json"])
        .is_fault(&["nowhere.json", "no such file"]);
    let twice = ["carry-on", "-", "--done", "-"];
    yard.run_with_input(&twice, "")
        .is_fault(&["\"-\" for more than one file"]);
}

/// Four bars can be had, all are bought: a spoiled piece has no bar, and nothing is planned for it.
#[test]
fn what_has_no_bar_is_said_and_the_names_stay() {
    let yard = Yard::with_pieces("mark,length,qty\nF,1400,8\nK,150,4\n");
    yard.file("s.csv", "length,price,available\n3000,5.90,4\n");
    yard.plan(&["--out", "o"]).ended(0);
    let before: Value = serde_json::from_str(&yard.read("o/plan.json")).unwrap();
    let (first, marks) = cuts(&before)[0].clone();
    let run = carry(
        &yard,
        &format!("cut {first}\nspoiled {}", marks[0]),
        &["--out", "r"],
    );
    run.ended(1);
    assert!(run.out.contains("No plan."), "{}", run.out);
    let said = format!("Without a place on any bar: {}", marks[0]);
    assert!(run.out.contains(&said), "{}", run.out);
    // A bar turns up: the plan goes on, and the bars are called what they were called.
    let run = yard.run(&["carry-on", "r/plan.json", "--note", "found 1500", "--json"]);
    run.ended(0);
    let after: Value = serde_json::from_str(&run.out).unwrap();
    let named: Vec<String> = cuts(&after).into_iter().map(|(name, _)| name).collect();
    for (name, _) in &cuts(&before)[1..] {
        assert!(named.contains(name), "{named:?}");
    }
}

#[test]
fn everything_cut_leaves_nothing() {
    let yard = shelves();
    let before: Value = serde_json::from_str(&yard.read("o/plan.json")).unwrap();
    let all: Vec<String> = cuts(&before).into_iter().map(|(name, _)| name).collect();
    let run = carry(&yard, &format!("cut {}", all.join(" ")), &["--out", "r"]);
    run.ended(0);
    assert_eq!(run.out, "Nothing is left to cut.\n");
    // A piece turns out to be spoiled after all.
    let mark = &cuts(&before)[0].1[0];
    let run = yard.run(&[
        "carry-on",
        "r/plan.json",
        "--note",
        &format!("spoiled {mark}"),
        "--json",
    ]);
    run.ended(0);
    let after: Value = serde_json::from_str(&run.out).unwrap();
    assert_eq!(after["totals"]["cost"], "5.90");
    let (name, marks) = cuts(&after)[0].clone();
    assert_eq!(marks, [mark.as_str()]);
    assert!(!all.contains(&name));
}

/// A run joined once, of which one part is cut: the other stays as long as it is, whatever is to be had.
#[test]
fn a_run_half_cut_keeps_its_joint() {
    let yard = Yard::with_pieces("mark,length,qty,joints\nT,4000,2,every 1000\n");
    yard.file("s.csv", "length,price\n3000,5.90\n");
    yard.plan(&["--out", "o"]).ended(0);
    let before: Value = serde_json::from_str(&yard.read("o/plan.json")).unwrap();
    let (bar, marks) = cuts(&before)[0].clone();
    let run = carry(&yard, &format!("cut {bar}"), &["--out", "r"]);
    run.ended(0);
    assert!(run.out.contains("nothing: go on as planned"), "{}", run.out);
    // Cut and spoiled: it comes off a new bar, under its mark.
    let spoiled = marks.first().unwrap();
    let after = json(&yard, &format!("cut {bar}\nspoiled {spoiled}"));
    let all: Vec<String> = cuts(&after)
        .into_iter()
        .flat_map(|(_, marks)| marks)
        .collect();
    assert!(all.contains(spoiled), "{all:?}");
}

/// A mark of the user's own that ends in digits is that of its row, as any other is; now and when the plan was
/// carried on before.
#[test]
fn a_spare_that_is_cut_serves_whatever_its_row_is_called() {
    for mark in ["K", "K-2", "K-12", "K-spare-02"] {
        let yard = Yard::with_pieces(format!(
            "mark,length,qty,spare\n{mark},1000,1,1\nL,700,1,\n"
        ));
        yard.file("s.csv", "length,price\n3000,5\n");
        yard.plan(&["--out", "o"]).ended(0);
        yard.file("m.csv", format!("mark,length\n{mark},995\n"));
        let spoiled = |plan: &str, notes: &str| {
            let note = format!("{notes}spoiled {mark}");
            let run = yard.run(&["carry-on", plan, "--note", &note, "--pieces", "m.csv"]);
            run.ended(0);
            let out = run.out.replace("\n    ", " ").replace("\n  ", " ");
            let serves =
                format!("{mark}-spare, a spare that is cut, serves as {mark}; take 5mm off it");
            assert!(out.contains(&serves), "{serves} in\n{out}");
            assert!(!out.contains("Buy 1 x"), "{out}");
        };
        spoiled("o/plan.json", &format!("begun A1 {mark} {mark}-spare L; "));
        let begun = format!("begun A1 {mark} {mark}-spare");
        let run = yard.run(&["carry-on", "o/plan.json", "--note", &begun, "--out", "rest"]);
        run.ended(0);
        spoiled("rest/plan.json", "");
    }
}

#[test]
fn leave_long_is_a_column_of_pieces_too() {
    let yard = Yard::with_pieces("mark,length,end_gap,leave_long\nS,2200,5,20\n");
    yard.file("s.csv", "length\n3000\n");
    let run = yard.plan(&["--out", "o"]);
    run.ended(0);
    // 2200 - 5 - 5 + 20
    assert!(run.out.contains("stop 2210mm"), "{}", run.out);
    assert!(run.out.contains("20mm left long"), "{}", run.out);
    let yard = Yard::with_pieces("mark,length,joints,leave_long\nS,2200,anywhere,20\n");
    yard.file("s.csv", "length\n3000\n");
    yard.plan(&[]).is_fault(&["line 2, leave_long", "on a run"]);
}

/// The demonstration, with packs, runs in courses, spares, mitred ends and bars in hand: written, read
/// back and gone on with twice, every bar is cut as it was.
#[test]
fn the_demonstration_comes_through_twice() {
    let yard = Yard::new();
    let data = concat!(env!("CARGO_MANIFEST_DIR"), "/../../data/kiln-shed/");
    let file = |name: &str| format!("{data}{name}");
    let (pieces, stock, hand) = (file("pieces.csv"), file("stock.csv"), file("in-hand.csv"));
    yard.run(&[
        "plan",
        &pieces,
        "--stock",
        &stock,
        "--in-hand",
        &hand,
        "--out",
        "o",
    ])
    .ended(0);
    let read = |name: &str| serde_json::from_str::<Value>(&yard.read(name)).unwrap();
    yard.run(&["carry-on", "o/plan.json", "--out", "r"])
        .ended(0);
    assert_eq!(cuts(&read("o/plan.json")), cuts(&read("r/plan.json")));
    yard.run(&["carry-on", "r/plan.json", "--out", "r2"])
        .ended(0);
    assert_eq!(cuts(&read("r/plan.json")), cuts(&read("r2/plan.json")));
    // What is in hand is worth what it was, what was bought nothing more.
    assert_eq!(read("r2/plan.json")["totals"]["cost"], "2.40");
}

/// In inches, the notes too: a bare number takes the unit of the plan.
#[test]
fn a_bare_number_takes_the_unit_of_the_plan() {
    let yard = Yard::with_pieces("mark,length,qty\nR,46 1/2,4\n");
    yard.file("s.csv", "length,price\n8ft,2.40\n");
    yard.plan(&["--unit", "in", "--out", "o"]).ended(0);
    let before: Value = serde_json::from_str(&yard.read("o/plan.json")).unwrap();
    let bar = cuts(&before)[0].0.clone();
    let after = json(&yard, &format!("short {bar} 95"));
    let bars = after["materials"][0]["bars"].as_array().unwrap().iter();
    // 95 x 25.4 (NIST SP 811, Appendix B; from memory)
    assert!(
        bars.into_iter().any(|bars| bars["stock_mm"] == 2413),
        "{after}"
    );
    let run = carry(&yard, &format!("short {bar} 7' 11 1/2\""), &[]);
    run.ended(0);
    let refused = carry(&yard, &format!("short {bar} 95"), &["--unit", "m"]);
    refused.is_fault(&["line 1", "of a bar of"]);
    carry(&yard, "", &["--unit", "ell"]).is_fault(&["--unit", "ell"]);
}

/// Rows of one material that are spelled in several ways are insured together, and carried on together.
#[test]
fn an_insured_material_spelled_in_several_ways() {
    let pieces = "material,mark,length,qty,spare\nOak,A,1000,3,0\noak,B,900,2,1\n OAK ,C,700,2,1\n";
    let yard = Yard::with_pieces(pieces);
    yard.file("s.csv", "material,length\noak,3000\n");
    yard.plan(&["--insure", "1", "--out", "o"]).ended(0);
    yard.run(&["verify", "o/plan.json"]).ended(0);
    yard.run(&["carry-on", "o/plan.json", "--note", "cut A1"])
        .ended(0);
}

/// Runs on many supports make a row each when they are carried on: they have no more parts than before.
#[test]
fn runs_that_are_alike_are_carried_on_at_their_ceiling() {
    let yard = Yard::with_pieces("mark,length,qty,joints\nR,8000,22,every 10\n");
    yard.file("s.csv", "length,price\n6000,10\n");
    yard.plan(&["--out", "o", "--work-limit", "1000000"])
        .ended(0);
    let note = ["--note", "cut A1", "--work-limit", "1000000"];
    let carry = ["carry-on", "o/plan.json", "--out", "next"];
    yard.run(&[&carry[..], &note].concat()).ended(0);
    yard.run(&["verify", "next/plan.json"]).ended(0);
}

/// With one spoiled piece insured, any piece can be spoiled when its bar is cut, and nothing is bought;
/// with a bad bar insured, any bar can be bad.
#[test]
fn what_was_insured_costs_nothing_more() {
    let yard = Yard::with_pieces("mark,length,qty,spare\nF,1400,5,\nK,820,4,1\nT,350,3,\n");
    yard.file("s.csv", "length,price\n3000,5.90\n4200,8.10\n");
    yard.plan(&["--insure", "1", "--out", "o"]).ended(0);
    let before: Value = serde_json::from_str(&yard.read("o/plan.json")).unwrap();
    for (bar, marks) in cuts(&before) {
        for mark in marks.iter().filter(|mark| !mark.contains("spare")) {
            let after = json(&yard, &format!("cut {bar}\nspoiled {mark}"));
            assert_eq!(after["totals"]["cost"], "0.00", "{bar} {mark}");
        }
    }
    yard.plan(&["--insure-bar", "--out", "o"]).ended(0);
    let before: Value = serde_json::from_str(&yard.read("o/plan.json")).unwrap();
    for (bar, _) in cuts(&before) {
        let after = json(&yard, &format!("bad {bar}"));
        assert_eq!(after["totals"]["cost"], "0.00", "{bar}");
    }
    let run = carry(&yard, "", &["--out", "r"]);
    run.ended(0);
    let after: Value = serde_json::from_str(&yard.read("r/plan.json")).unwrap();
    assert_eq!(cuts(&before), cuts(&after));
    assert_eq!(after["carried_on"]["insured"], true);
}

/// More than a person says: ranges count name by name, and every kind of bar that was found is one of a job.
#[test]
fn notes_have_ceilings() {
    let yard = shelves();
    let run = carry(&yard, "cut A1-A4 A1-A4", &["--ceiling", "rows=7"]);
    run.ended(2);
    let told = "column 11: found 8 bars and pieces, those of ranges one by one";
    assert!(run.err.contains(told), "{}", run.err);
    assert!(run.err.contains("--ceiling rows="), "{}", run.err);
    carry(&yard, "cut A1-A4 A1-A4", &["--ceiling", "rows=8"]).ended(0);
    let run = carry(&yard, "begun A1 F-01 F-02 K-01", &["--ceiling", "rows=3"]);
    run.ended(2);
    assert!(run.err.contains("found 4 bars and pieces"), "{}", run.err);
    let found = "found 500\nfound 501; found 500 x 3\nfound 502";
    let run = carry(&yard, found, &["--ceiling", "bars=2"]);
    run.ended(2);
    assert!(run.err.contains("line 3"), "{}", run.err);
    assert!(
        run.err
            .contains("3 kinds of bar of one material that were found"),
        "{}",
        run.err
    );
    carry(&yard, found, &["--ceiling", "bars=3"]).ended(0);
    // Four words for each of so many names, and of sixty words more that say what they are of.
    let words = |count| format!("found {}", "1 ".repeat(count));
    let run = carry(&yard, &words(300), &["--ceiling", "rows=9"]);
    run.ended(2);
    let told = "column 1: found a line of more than 276 words";
    assert!(run.err.contains(told), "{}", run.err);
    let run = carry(&yard, &words(275), &["--ceiling", "rows=9"]);
    assert!(!run.err.contains("a line of more than"), "{}", run.err);
    let stretches = format!("usable A1 {}", vec!["1"; 1001].join("+"));
    let run = carry(&yard, &stretches, &[]);
    run.ended(2);
    assert!(run.err.contains("found 1001 lengths"), "{}", run.err);
}

/// Marks that are looked up for ranges which end beyond what is known count, too.
#[test]
fn ranges_that_are_not_known_have_a_ceiling() {
    let yard = Yard::with_pieces("mark,length\nF1,1400\nF2,1400\nF3,1400\n");
    yard.file("s.csv", "length,price\n3000,5.90\n");
    yard.plan(&["--out", "o"]).ended(0);
    let note = ["spoiled F1-F3", "spoiled F1-F9"].join("\n");
    let run = carry(&yard, &note, &["--ceiling", "rows=4"]);
    run.ended(2);
    assert!(!run.err.contains("looked up"), "{}", run.err);
    let run = carry(&yard, &note, &["--ceiling", "rows=3"]);
    run.ended(2);
    let told = "line 2, column 9: found 4 marks looked up for ranges that are not known to the end";
    assert!(run.err.contains(told), "{}", run.err);
}

/// Marks that hold blanks and commas are told apart whatever stands around them, and columns count characters.
#[test]
fn marks_of_several_words() {
    let yard =
        Yard::with_pieces("mark,length,qty\n\"wall 3, right\",1400,1\nK,150,1\nwall,150,1\n");
    yard.file("s.csv", "length,price\n3000,5.90\n");
    yard.plan(&["--out", "o"]).ended(0);
    let run = carry(
        &yard,
        "begun A1 K wall 3,  right; spoiled K and Wall 3, RIGHT",
        &[],
    );
    run.ended(0);
    let run = carry(&yard, "cut A1; spoiled K \u{e9}\u{e9} wall 3 right", &[]);
    run.ended(2);
    for told in [
        "column 19: found the unknown piece",
        "column 27: found the unknown piece \"3\"",
    ] {
        assert!(run.err.contains(told), "{}", run.err);
    }
}
