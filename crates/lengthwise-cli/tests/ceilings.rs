//! Ceilings: just below them a plan, just above them an error that names the ceiling and how to raise it.
#![allow(clippy::unwrap_used)]

mod common;

use common::Yard;

/// Runs the pieces with a ceiling that they just keep, and with one that they just break.
fn just_below_and_above(pieces: &str, name: &str, count: u64, found: &[&str]) {
    let yard = Yard::with_pieces(pieces);
    yard.file("s.csv", "length,price\n3000,5.90\n");
    yard.plan(&["--ceiling", &format!("{name}={count}")])
        .ended(0);
    let run = yard.plan(&["--ceiling", &format!("{name}={}", count - 1)]);
    let most = format!("at most {}, the ceiling of {name}", count - 1);
    let raise = format!("--ceiling {name}=COUNT raises it");
    run.is_fault(&[found, &[&most, &raise]].concat())
        .has_faults(1);
}

#[test]
fn rows() {
    let pieces = "length\n500\n\n600\n700\n";
    just_below_and_above(
        pieces,
        "rows",
        3,
        &["p.csv, line 5", "found a row more than 2"],
    );
}

#[test]
fn pieces() {
    let pieces = "length,qty,spare\n500,7,1\n600,5,\n";
    just_below_and_above(
        pieces,
        "pieces",
        13,
        &["line 2, qty", "found 13 pieces in all"],
    );
}

#[test]
fn lengths() {
    let pieces = "length,to,qty\n500,540,5\n510,,2\n";
    let found = ["line 2, length", "found 5 different lengths"];
    just_below_and_above(pieces, "lengths", 5, &found);
}

#[test]
fn places_for_joints() {
    let found = ["line 2, joints", "places for joints in one run"];
    just_below_and_above("length,joints\n6300,every 600\n", "joints", 10, &found);
    just_below_and_above(
        "length,joints\n6300,at 600 1200 2400 5000\n",
        "joints",
        4,
        &found,
    );
}

#[test]
fn joints_anywhere() {
    let found = [
        "line 2, joints",
        "a run of 31m that takes at least 10 joints",
    ];
    just_below_and_above("length,joints\n31m,anywhere\n", "joints", 10, &found);
}

/// The same ceilings hold for a job in JSON.
#[test]
fn of_a_document() {
    let yard = Yard::new();
    let job = r#"{"pieces": [{"length": "31m", "joints": "anywhere"}, {"length": "500"}],
  "stock": [{"length": "3000", "price": "5.90"}]}"#;
    yard.file("job.json", job);
    let plan = |ceiling: &str| yard.run(&["plan", "--job", "job.json", "--ceiling", ceiling]);
    for (name, count) in [("joints", 10), ("pieces", 2), ("rows", 2)] {
        plan(&format!("{name}={count}")).ended(0);
        let run = plan(&format!("{name}={}", count - 1));
        run.is_fault(&[&format!("the ceiling of {name}")]);
    }
}

#[test]
fn courses() {
    let pieces =
        "length,qty,joints,course_group,course,course_rule\n6300,7,every 600,slope,1,1/4\n";
    let found = ["line 2, course", "280 supports of the courses"];
    just_below_and_above(pieces, "courses", 7 * 10 * 4, &found);
}

#[test]
fn bars() {
    let yard = Yard::with_pieces("length\n500\n");
    yard.file("s.csv", "length\n3000\n3600\n4200\n");
    yard.plan(&["--ceiling", "bars=3"]).ended(0);
    let run = yard.plan(&["--ceiling", "bars=2"]);
    let found = [
        "line 4",
        "3 rows of bars of one material",
        "--ceiling bars=COUNT raises it",
    ];
    run.is_fault(&found).has_faults(1);
}

/// More parts than places alone would make: a thousand times the ceiling of joints.
#[test]
fn joints_that_multiply() {
    let pieces = "length,joints,joints_max\n12030,every 30,600\n";
    let yard = Yard::with_pieces(pieces);
    yard.file("s.csv", "length\n3000\n");
    let run = yard.plan(&[]);
    let found = [
        "line 2, joints",
        "400 places",
        "600 joints",
        "--ceiling joints=COUNT raises it",
    ];
    run.is_fault(&found).has_faults(1);
}

#[test]
fn bytes_of_a_file() {
    let pieces = "length,note\n500,abc\n";
    let yard = Yard::with_pieces(pieces);
    yard.file("s.csv", "length\n3000\n");
    let exactly = format!("file={}", pieces.len());
    yard.plan(&["--ceiling", &exactly]).ended(0);
    let run = yard.plan(&["--ceiling", &format!("file={}", pieces.len() - 1)]);
    run.is_fault(&[
        "p.csv: found more than 19 bytes",
        "ceiling of file",
        "--ceiling file=COUNT",
    ]);
}

#[test]
fn bytes_of_a_field() {
    let found = ["line 2, note", "found a cell of 9 bytes"];
    just_below_and_above("length,note\n500,abcdefghi\n", "field", 9, &found);
}

#[test]
fn a_cell_that_swallows_the_file_is_one_fault() {
    let yard = Yard::with_pieces(format!("length,note\n500,\"{}\n", "500,x\n".repeat(20_000)));
    let run = yard.plan(&[]);
    run.is_fault(&["line 2", "never ends"]);
    run.is_fault(&[
        "a cell of 120001 bytes",
        "at most 65536, the ceiling of field",
    ]);
}

#[test]
fn the_usual_ceilings() {
    let yard = Yard::with_pieces(format!("length\n{}", "500\n".repeat(100_001)));
    yard.plan(&[])
        .is_fault(&["line 100002", "at most 100000, the ceiling of rows"]);
    let yard = Yard::with_pieces("length,qty\n500,1000000\n600,1\n");
    yard.file("s.csv", "length\n3000\n");
    yard.plan(&[])
        .is_fault(&["1000001 pieces", "at most 1000000, the ceiling of pieces"]);
    let yard = Yard::with_pieces("length,to,step,qty\n500,2500,0.1mm,10001\n");
    yard.file("s.csv", "length\n3000\n");
    yard.plan(&[]).is_fault(&[
        "10001 different lengths",
        "at most 10000, the ceiling of lengths",
    ]);
}

#[test]
fn a_ceiling_that_is_none() {
    let yard = Yard::new();
    for wrong in ["rows", "rows=0", "rooms=3", "rows=99999999999"] {
        yard.plan(&["--ceiling", wrong])
            .is_fault(&["--ceiling", wrong]);
    }
}

#[test]
fn plans_that_are_read_back_have_a_ceiling_too() {
    let yard = Yard::new();
    yard.plan(&["--out", "out"]).ended(0);
    let carry_on = ["carry-on", "out/plan.json", "--note", "cut A1"];
    yard.run(&carry_on).ended(0);
    let run = yard.run(&[&carry_on[..], &["--ceiling", "file=1000"]].concat());
    run.is_fault(&[
        "out/plan.json: found more than 1000 bytes",
        "--ceiling file=COUNT raises it",
    ]);
}

#[test]
fn cells_of_a_row() {
    let row = |cells: usize| Yard::with_pieces(format!("length{}\n500\n", ",".repeat(cells - 1)));
    row(1_000)
        .plan(&[])
        .is_fault(&["line 2", "found a row of 1 cell"]);
    row(1_001)
        .plan(&[])
        .is_fault(&["p.csv, line 1", "found more than 1000 cells in one row"]);
}

/// Each of them would take memory, and nobody reads so many.
#[test]
fn faults_of_a_file() {
    let yard = Yard::with_pieces(format!("length,qty\n{}", "x,y\n".repeat(20_000)));
    yard.file("s.csv", "length\n3000\n");
    let run = yard.plan(&[]);
    run.is_fault(&[
        "p.csv, line 5002",
        "a row behind 10000 faults, where reading stopped",
    ]);
    run.has_faults(10_002);
}

/// Rows of a plan.json are no more than its bytes; where it is only verified there are no cells.
#[test]
fn only_what_would_hold_something_back_is_a_ceiling() {
    let yard = Yard::with_pieces("mark,length,qty\nN,1000,6\n");
    yard.file("s.csv", "length,price\n3100,5.00\n");
    yard.plan(&["--out", "o"]).ended(0);
    let verify = |ceiling: &str| yard.run(&["verify", "o/plan.json", "--ceiling", ceiling]);
    verify("file=100000").ended(0);
    verify("rows=1").is_fault(&[
        "rows=1",
        "here: pieces, lengths, joints, bars, courses, file",
    ]);
    yard.file("told.txt", "cut A1");
    let told = ["carry-on", "o/plan.json", "--done", "told.txt", "--ceiling"];
    let carry = |ceiling: &str| yard.run(&[&told[..], &[ceiling]].concat());
    carry("rows=5").ended(0);
    carry("boards=5").is_fault(&["boards=5", "here: rows, pieces, lengths"]);
}

/// A plan.json may come from anybody: its job has the ceilings of any other, and they are raised alike.
#[test]
fn the_job_of_a_plan_has_ceilings() {
    let yard = Yard::with_pieces("mark,length,qty\nN,1000,6\n");
    yard.file("s.csv", "length,price\n3100,5.00\n");
    yard.plan(&["--out", "o"]).ended(0);
    for command in ["verify", "carry-on"] {
        let with = |ceiling: &str| yard.run(&[command, "o/plan.json", "--ceiling", ceiling]);
        with("pieces=6").ended(0);
        let raise = "--ceiling pieces=COUNT raises it";
        with("pieces=5").is_fault(&["6 pieces in all", "at most 5, the ceiling of pieces", raise]);
    }
    let plan = yard.read("o/plan.json");
    let run = yard.run(&["verify", "o/plan.json", "--ceiling", "bars=1"]);
    run.ended(0);
    let many = plan.replacen("\"qty\": 6", "\"qty\": 1000000", 1).replacen(
        "\"spare\": 0",
        "\"spare\": 1",
        1,
    );
    yard.file("o/plan.json", &many);
    let run = yard.run(&["verify", "o/plan.json"]);
    run.is_fault(&["plan.json", "1000001 pieces in all"]);
}

/// What is made of a value takes memory, however few bytes it has: a file of noughts is refused before.
#[test]
fn values_of_a_plan_are_held_back_by_its_bytes() {
    let yard = Yard::with_pieces("mark,length,qty\nN,1000,6\n");
    yard.file("s.csv", "length,price\n3100,5.00\n");
    yard.plan(&["--out", "o"]).ended(0);
    let plan = yard.read("o/plan.json");
    let noughts = vec!["0"; 3_000_000].join(",");
    let many = plan.replacen('{', &format!("{{\"\\\"[,\": [{noughts}],"), 1);
    yard.file("o/plan.json", &many);
    for command in [
        &["verify", "o/plan.json"][..],
        &["carry-on", "o/plan.json"],
        &["plan", "--job", "o/plan.json"],
    ] {
        let found = [
            "plan.json",
            " values",
            "at most 2796202, one for every 6 bytes",
        ];
        yard.run(command).is_fault(&found);
    }
}

/// Rows are written with all of their fields; rows that say next to nothing are many for their bytes, and are
/// refused before anything is made of them. One may say little beside others.
#[test]
fn rows_of_a_plan_are_held_back_by_their_bytes() {
    let yard = Yard::with_pieces("mark,length,qty\nN,1000,6\n");
    yard.file("s.csv", "length,price\n3100,5.00\n");
    yard.plan(&["--out", "o"]).ended(0);
    yard.run(&["carry-on", "o/plan.json", "--note", "cut A1", "--out", "c"])
        .ended(0);
    let row = "{\"length\":\"9\"}";
    let done = format!("{{\"bar\":\"\",\"batch\":\"\",\"piece\":{row}}}");
    for (list, row) in [
        ("\"pieces\": [", row),
        ("\"stock\": [", row),
        ("\"in_hand\": [", row),
        ("\"done\": [", &done),
    ] {
        let plan = yard.read("c/plan.json");
        assert!(plan.contains(list), "{list} in {plan}");
        let many = plan.replacen(
            list,
            &format!("{list}{}", format!("{row},").repeat(2_000)),
            1,
        );
        yard.file("many.json", &many);
        for command in ["verify", "carry-on"] {
            let run = yard.run(&[command, "many.json"]);
            run.is_fault(&[
                "many.json",
                " rows in ",
                "at least 250 bytes for each of pieces",
            ])
            .has_faults(1);
        }
    }
}

/// Rows that say as little as they can, on one line and carried on again and again, are as they are written.
#[test]
fn short_rows_of_a_plan_that_was_written_are_not_too_many() {
    let yard = Yard::with_pieces(format!("length\n{}", "9\n".repeat(300)));
    yard.file("s.csv", "length\n99\n");
    yard.plan(&["--kerf", "1mm", "--out", "0"]).ended(0);
    for round in 1..4 {
        let (from, to) = (format!("{}/plan.json", round - 1), round.to_string());
        let value: serde_json::Value = serde_json::from_str(&yard.read(&from)).unwrap();
        yard.file(&from, value.to_string());
        yard.run(&["verify", &from]).ended(0);
        let note = format!("cut A{round}");
        yard.run(&["carry-on", &from, "--note", &note, "--out", &to])
            .ended(0);
    }
    yard.run(&["verify", "3/plan.json"]).ended(0);
}

/// An insurance adds spares of one kind, and room for a bar: a hundred thousand kinds took minutes.
#[test]
fn spares_of_an_insurance_are_few() {
    let yard = Yard::with_pieces("mark,length,qty\nN,1000,6\n");
    yard.file("s.csv", "length,price\n3100,5.00\n");
    yard.plan(&["--insure", "2", "--insure-bar", "--out", "o"])
        .ended(0);
    yard.run(&["verify", "o/plan.json"]).ended(0);
    let mut plan: serde_json::Value = serde_json::from_str(&yard.read("o/plan.json")).unwrap();
    let spares = plan["materials"][0]["insurance"]["spares"]
        .as_array_mut()
        .unwrap();
    assert_eq!(spares.len(), 2);
    let one = spares[0].clone();
    spares.push(one);
    yard.file("many.json", plan.to_string());
    let run = yard.run(&["verify", "many.json"]);
    run.ended(1);
    let told = run.out.split_whitespace().collect::<Vec<_>>().join(" ");
    let said = "materials[0].insurance.spares: found 3 kinds of spares; accepted: one for spoiled \
                pieces, and one for a bad bar";
    assert!(told.contains(said), "{told}");
}

/// Text is written for every copy of a piece: a long mark and a large quantity are each allowed, not both.
#[test]
fn text_of_all_copies() {
    let row = |qty: u32| {
        let mark = "M".repeat(60_000);
        let yard = Yard::with_pieces(format!("mark,length,qty\n{mark},1000,{qty}\n"));
        yard.file("s.csv", "length,price\n3100,5.00\n");
        yard
    };
    row(3).plan(&[]).ended(0);
    let found = [
        "line 2, qty",
        "240000000 bytes of text, that of every copy of a piece so far",
        "at most 100000000, 100 times the ceiling of pieces",
    ];
    row(4_000).plan(&[]).is_fault(&found).has_faults(1);
}
