//! Widths, raked sets, gaps, spares and mitres through the whole program.
#![allow(clippy::unwrap_used)]

mod common;

use common::Yard;
use serde_json::{Value, json};

/// A raked side with a spare, three openings with gaps and mitres, and what they are cut from.
fn walls() -> Yard {
    let yard = Yard::new();
    yard.file(
        "p.csv",
        "material,mark,length,to,step,qty,end_gap,ends,spare\n\
         board,N,2100,2400,5,3100/140,,,1\n\
         lining,J,1010,,,3,0/10,45/90,\n\
         lining,H,2210,,,1,5,45,1\n\
         lining,K,600,,,2,,,\n",
    );
    yard.file(
        "s.csv",
        "material,length,price,kerf\nboard,4800,9,3\nlining,2400,5.50,3\n",
    );
    yard
}

#[test]
fn the_plan_prints_openings_angles_and_spares() {
    let run = walls().plan(&[]);
    run.ended(0);
    for part in [
        "24 pieces (1 of them spare), ",
        "N-spare (spare: cut only if one is spoiled)",
        "(ends 45/90 to the long points)",
        "Openings (measured, and cut shorter by the gaps at the ends)",
        "opening 1010mm, cut 1000mm (gaps 0/10)  J-01 to J-03",
        "opening 2210mm, cut 2200mm (gaps 5/5)   H, H-spare",
        "2400mm of it spares",
        "3100mm/140mm is 23 boards, the last ripped to 20mm, under a third",
        "doors and windows are not deducted",
    ] {
        assert!(
            run.out.replace("\n    ", " ").contains(part),
            "{part} in\n{}",
            run.out
        );
    }
}

/// Marks stand behind the lengths where there is room for them, and else whole on lines of their own.
#[test]
fn marks_of_openings_stay_whole_beside_wide_lengths() {
    let section = |pieces: &str, more: &[&str]| {
        let yard = Yard::with_pieces(pieces);
        yard.file("s.csv", "length\n4m\n");
        let run = yard.plan(more);
        run.ended(0);
        assert!(
            run.out.lines().all(|line| line.chars().count() <= 80),
            "{}",
            run.out
        );
        let (_, openings) = run.out.split_once("\nOpenings ").unwrap();
        openings.split_once("\n\n").unwrap().0.to_owned()
    };
    let long = "mark,length,qty,end_gap,leave_long\nleft window board,1200,2,5,10\n";
    assert_eq!(
        section(long, &[]),
        "(measured, then cut shorter by the gaps, longer by what is left long)\n  \
         opening 1200mm, cut 1200mm (gaps 5/5; 10mm left long, trim it in place)\n      \
         left window board-01, left window board-02"
    );
    let feet = "mark,length,qty,end_gap,leave_long\n\
                left window board,11ft 11 63/64in,2,3/16in,3/8in\nsill,10ft,1,,1/2in\n";
    assert_eq!(
        section(feet, &["--unit", "ft"]),
        "(measured, then cut shorter by the gaps, longer by what is left long)\n  \
         opening 11' 11 63/64\", cut 11' 11 63/64\" (gaps 3/16\"/3/16\"; 3/8\" left long,\n    \
         trim it in place)\n      \
         left window board-01, left window board-02\n  \
         opening 10', cut 10' 1/2\" (1/2\" left long, trim it in place)\n      \
         sill"
    );
    let only_long = "mark,length,leave_long\nsill,1200,10\n";
    assert_eq!(
        section(only_long, &[]),
        "(measured, and cut longer by what is left to trim)\n  \
         opening 1200mm, cut 1210mm (10mm left long, trim it in place)\n      \
         sill"
    );
    let gaps = "mark,length,qty,end_gap\nthe left window board of the long east wall,900,2,5\n";
    let below = "\n      the left window board of the long east wall-01,\n      \
                 the left window board of the long east wall-02";
    assert!(
        section(gaps, &[]).ends_with(below),
        "{}",
        section(gaps, &[])
    );
}

#[test]
fn check_says_what_a_width_comes_to() {
    let yard = walls();
    let run = yard.run(&["check", "p.csv", "--stock", "s.csv"]);
    run.ended(0);
    let out = run.out.replace("\n    ", " ");
    for part in [
        "24 pieces (1 of them spare)",
        "22 covering about 140.9mm each, or 23 with both end boards ripped to 80mm",
        "p.csv, line 2: doors and windows are not deducted from a width in qty",
    ] {
        assert!(out.contains(part), "{part} in\n{}", run.out);
    }
}

fn cuts(plan: &Value) -> Vec<&Value> {
    let materials = plan["materials"].as_array().unwrap().iter();
    let bars = materials.flat_map(|material| material["bars"].as_array().unwrap());
    bars.flat_map(|bars| bars["cuts"].as_array().unwrap())
        .collect()
}

#[test]
fn json_says_spare_and_ends() {
    let run = walls().plan(&["--json"]);
    let plan: Value = serde_json::from_str(&run.out).unwrap();
    let cuts = cuts(&plan);
    let cut = |mark: &str| {
        let is = |cut: &&&Value| cut["marks"].as_array().unwrap().contains(&json!(mark));
        let cut = cuts.iter().find(is).unwrap();
        (
            cut["length_mm"].clone(),
            cut["ends"].clone(),
            cut["spare"].clone(),
        )
    };
    assert_eq!(cut("N-23"), (json!(2400), Value::Null, json!(false)));
    assert_eq!(cut("N-01"), (json!(2115), Value::Null, json!(false)));
    assert_eq!(cut("N-spare"), (json!(2400), Value::Null, json!(true)));
    assert_eq!(cut("J-02"), (json!(1000), json!("45/90"), json!(false)));
    assert_eq!(cut("H-spare"), (json!(2200), json!("45/45"), json!(true)));
    assert_eq!(plan["materials"][0]["figures"]["spare_mm"], 2400);
    // Two slanted slots of 4.242641 each, and the last cut.
    let mitred = |bars: &&Value| bars["cuts"][0]["ends"] == "45/45";
    let bars = plan["materials"][1]["bars"].as_array().unwrap();
    let blade = &bars.iter().find(mitred).unwrap()["blade_mm"];
    assert_eq!(blade.to_string(), "11.485282");
}

#[test]
fn the_saved_plan_carries_the_job_as_it_was_asked() {
    let yard = walls();
    yard.plan(&["--out", "d"]).ended(0);
    let plan: Value = serde_json::from_str(&yard.read("d/plan.json")).unwrap();
    let row = |place: usize| &plan["job"]["pieces"][place];
    assert_eq!(row(0)["qty"], "3100mm/140mm");
    assert_eq!(
        (&row(0)["to"], &row(0)["step"]),
        (&json!("2400mm"), &json!("5mm"))
    );
    assert_eq!(
        (&row(0)["spare"], &row(0)["end_gap"]),
        (&json!(1), &Value::Null)
    );
    assert_eq!(
        (&row(1)["end_gap"], &row(1)["ends"]),
        (&json!("0mm/10mm"), &json!("45/90"))
    );
    assert_eq!((&row(1)["qty"], &row(1)["to"]), (&json!(3), &Value::Null));
    let prices = plan["certificates"][1]["prices"].as_array().unwrap();
    let shapes: Vec<(String, &Value)> = prices
        .iter()
        .map(|price| (price["length_mm"].to_string(), &price["ends"]))
        .collect();
    assert_eq!(
        shapes,
        [
            ("2200".to_owned(), &json!("45/45")),
            ("1000".to_owned(), &json!("45/90")),
            ("600".to_owned(), &Value::Null),
        ]
    );
    let table = yard.read("d/cutting-plan.csv");
    let row = |mark: &str| {
        let is = |line: &&str| line.split(',').nth(6) == Some(mark);
        let line = table.lines().find(is).unwrap();
        line.split(',')
            .skip(5)
            .take(5)
            .collect::<Vec<_>>()
            .join(",")
    };
    assert_eq!(row("J-01"), "1000mm,J-01,no,45/90,1010mm");
    assert_eq!(row("H-spare"), "2200mm,H-spare,yes,45/45,2210mm");
    assert_eq!(row("K-01"), "600mm,K-01,no,,");
}

/// 60 millionths over 40 K move 5 m by 12 mm: arithmetic, as in the table of the facts.
#[test]
fn gaps_smaller_than_heat_moves_are_pointed_out() {
    let yard = Yard::new();
    yard.file("p.csv", "mark,length,qty,end_gap\nS,5010,2,5\nT,2010,1,5\n");
    yard.file("s.csv", "length,expansion,save_from\n6000,60,900\n");
    let run = yard.plan(&["--temperature-range", "40"]);
    run.ended(0);
    let out = run.out.replace("\n    ", " ");
    let warning = "p.csv, line 2: S-01 of 5000mm moves 12mm over 40 K, and its end gaps leave 10mm; \
                   the maker's table goes first.";
    assert!(out.contains(warning), "{}", run.out);
    assert!(out.contains("timber moves more with moisture, which is not covered"));
    assert!(!out.contains("T of 2000mm moves"), "2.4 mm have room in 10");
    // 6000 - 5000 - 3 is 997: saved, for the row says from 900.
    assert!(out.contains("left over 997mm: save it"));
    let run = yard.plan(&[]);
    assert!(run.out.contains("no range of temperature"), "{}", run.out);
    yard.plan(&["--out", "d", "--temperature-range", "40"])
        .ended(0);
    let plan: Value = serde_json::from_str(&yard.read("d/plan.json")).unwrap();
    assert_eq!(plan["job"]["settings"]["temperature_range"], "40");
    assert_eq!(plan["job"]["stock"][0]["expansion"], "60");
    assert_eq!(plan["job"]["stock"][0]["save_from"], "900mm");
    assert_eq!(plan["job"]["stock"][0]["shortest"], Value::Null);
}

/// A part is at most as long as the longest usable bar, 4000 here: 60 millionths over 40 K move it by
/// 9.6 mm. Arithmetic, as above. A run that needs no joint is a piece like any other.
#[test]
fn joint_gaps_smaller_than_heat_moves_are_pointed_out() {
    let yard = Yard::with_pieces(
        "mark,length,joints,joint_gap,end_gap,joints_max\n\
         N,9010,anywhere,4,5,\n\
         S,9010,every 600,10,4,\n\
         W,9010,every 600,,,\n\
         E,9010,anywhere,9.6,4.8,\n\
         K,2010,anywhere,,5,\n\
         L,2010,every 600,4,5,1\n",
    );
    yard.file(
        "s.csv",
        "length,expansion,square_off\n4010,60,5\n2500,60,5\n",
    );
    let args = [
        "check",
        "p.csv",
        "--stock",
        "s.csv",
        "--temperature-range",
        "40",
    ];
    let run = yard.run(&args);
    run.ended(0);
    let out = run.out.replace("\n    ", " ");
    for part in [
        "p.csv, line 2: a part of N, up to 4000mm long, moves 9.6mm over 40 K, and its joint gap \
         leaves 4mm; the maker's table goes first.",
        "line 3: a part of S, up to 4000mm long, moves 9.6mm over 40 K, and its end gaps leave 8mm;",
        "line 4: a part of W, up to 4000mm long, moves 9.6mm over 40 K, and its joint gap leaves 0mm, \
         its end gaps leave 0mm;",
        "line 7: a part of L, up to 2000mm long, moves 4.8mm over 40 K, and its joint gap leaves 4mm;",
    ] {
        assert!(out.contains(part), "{part} in\n{out}");
    }
    assert!(!out.contains("of E"), "{out}");
    assert!(!out.contains(" K of") && !out.contains("of K"), "{out}");
}

/// The reason names the run, the rule and the numbers; another material is planned all the same.
#[test]
fn runs_that_cannot_be_joined_say_why() {
    let why = |cells: &str| {
        let columns =
            "material,mark,length,qty,joints,joints_max,shortest,course_group,course,course_rule";
        let rows = format!("{columns}\ntrim,T,{cells}\nsill,S,600,2,,,,,,\n");
        let yard = Yard::with_pieces(rows);
        yard.file("s.csv", "material,length\ntrim,3000\nsill,2400\n");
        let run = yard.plan(&["--json"]);
        run.ended(1);
        let plan: Value = serde_json::from_str(&run.out).unwrap();
        assert_eq!(plan["materials"][0]["proof"], "impossible");
        assert_eq!(plan["materials"][1]["proof"], "optimal");
        plan["materials"][0]["why"].as_str().unwrap().to_owned()
    };
    for (cells, parts) in [
        // Two bars of 3000 and something: two joints.
        (
            "7100,2,every 600,1,,,,",
            [
                "Run T-01 of 7100mm cannot be joined",
                "takes 2 joints, and joints_max allows 1",
            ],
        ),
        (
            "7100,1,at 2400 5600,,,,,",
            [
                "Run T of 7100mm",
                "no bar reaches the 3200mm from the place for a joint at 2400mm",
            ],
        ),
        (
            "3100,1,at 3010,,,,,",
            [
                "Run T of 3100mm",
                "no bar reaches the 3010mm from its left end",
            ],
        ),
        // Two parts of 1600 are 3200, longer than the run.
        (
            "3100,1,anywhere,,1600,,,",
            [
                "Run T of 3100mm",
                "some part is shorter than 1600mm, the shortest allowed",
            ],
        ),
        // Three courses and two supports.
        (
            "3100,3,at 600 1200,,,north wall,1,1/3",
            [
                "The courses of \"north wall\", of which run T-01 is the first",
                "course_rule 1/3, at most 1 joint on one support in any 3 courses",
            ],
        ),
    ] {
        let why = why(cells);
        for part in parts {
            assert!(why.contains(part), "{part} in {why}");
        }
    }
}

/// Offcuts go round: 3000 less 10 squared off, 2210 and a blade of 3 leaves 777, of which the far 10 are
/// still rough; so 767 can be used of it next time, and what that leaves is as rough.
#[test]
fn an_offcut_is_used_up_to_its_rough_end_and_no_further() {
    let yard = Yard::with_pieces("length,qty\n2210,2\n");
    yard.file("s.csv", "length,square_off\n3000,10/10\n");
    yard.plan(&["--out", "first"]).ended(0);
    let offcuts = yard.read("first/offcuts.csv");
    assert_eq!(
        offcuts.lines().nth(1),
        Some(",777mm,2,0mm/10mm,,\"offcut of A1, A2\","),
        "{offcuts}"
    );
    // Blade, squaring and offcut of each piece, by the rule of cutting a bar.
    for (piece, parts) in [
        (767, Some((0, 10, 0))),
        (765, Some((2, 10, 0))),
        (764, Some((3, 10, 0))),
        (763, Some((3, 0, 11))),
        (400, Some((3, 0, 374))),
        (768, None),
    ] {
        yard.file("p.csv", format!("length\n{piece}\n"));
        let args = [
            "plan",
            "p.csv",
            "--in-hand",
            "first/offcuts.csv",
            "--json",
            "--out",
            "next",
        ];
        let run = yard.run(&args);
        let plan: Value = serde_json::from_str(&run.out).unwrap();
        let bar = &plan["materials"][0]["bars"][0];
        let Some((blade, square, offcut)) = parts else {
            run.ended(1);
            assert_eq!(plan["materials"][0]["proof"], "impossible");
            continue;
        };
        run.ended(0);
        assert_eq!(
            (&bar["blade_mm"], &bar["square_mm"], &bar["offcut_mm"]),
            (&json!(blade), &json!(square), &json!(offcut)),
            "{piece}"
        );
    }
    // The offcut of the offcut of 400, 374, and the other one: its rough end has stayed with it.
    yard.file("p.csv", "length\n400\n");
    let args = [
        "plan",
        "p.csv",
        "--in-hand",
        "first/offcuts.csv",
        "--out",
        "second",
    ];
    yard.run(&args).ended(0);
    let offcuts = yard.read("second/offcuts.csv");
    assert!(
        offcuts.contains(",374mm,1,0mm/10mm,,offcut of A1"),
        "{offcuts}"
    );
    assert!(
        offcuts.contains(",777mm,1,0mm/10mm,,\"offcut of A1, A2\""),
        "{offcuts}"
    );
    for (piece, code) in [(364, 0), (768, 1)] {
        yard.file("p.csv", format!("length,qty\n{piece},1\n767,1\n"));
        let args = ["plan", "p.csv", "--in-hand", "second/offcuts.csv"];
        yard.run(&args).ended(code);
    }
}
