//! Bad cells of the columns that describe walls: exit 2, with file, line, column, what was found and
//! what is accepted.
#![allow(clippy::unwrap_used)]

mod common;

use common::{Run, Yard};

/// One row of pieces of 2210 with these cells in further columns.
fn pieces(columns: &str, cells: &str) -> Run {
    let text = format!("material,length,{columns}\nroof batten,2210,{cells}\n");
    Yard::with_pieces(text).plan(&[])
}

/// The only fault is in this column, with this found and this accepted.
#[track_caller]
fn refused(run: &Run, column: &str, parts: &[&str]) {
    let place = format!("p.csv, line 2, {column}: found ");
    run.is_fault(&[&[place.as_str(), "; accepted: "], parts].concat());
    run.has_faults(1);
}

#[test]
fn the_cells_that_are_spoiled_below_are_sound_otherwise() {
    for (columns, cells) in [
        ("qty", "3100/140"),
        ("qty", "3100/135+5"),
        ("qty", "3100@600"),
        ("qty", "3100@600 even"),
        ("qty,to,step", "7,2310,5"),
        ("qty,to", "3100/140,2400"),
        ("end_gap", "5"),
        ("end_gap", "0/10"),
        ("ends", "45"),
        ("ends", "45/90"),
        ("ends", "22.5/67.25"),
        ("spare", "0"),
        ("spare", "2"),
    ] {
        pieces(columns, cells).ended(0);
    }
}

#[test]
fn quantities() {
    let accepted = "boards over a width such as 3100/140 or 3100/135+5, or members along one such as \
                    3100@600 or 3100@600 even";
    for cell in [
        "3100/",
        "/140",
        "3100/0",
        "0/140",
        "3100/140+",
        "3100/-140",
        "3100/140 even",
        "3100@",
        "@600",
        "3100@0",
        "3100@600 odd",
        "3100@600@2",
        "3100/140@600",
        "3100 by 140",
        "7 boards",
        "3100/140x",
    ] {
        let found = format!("\"{cell}\"");
        refused(&pieces("qty", cell), "qty", &[&found, accepted]);
    }
    let yard = Yard::with_pieces("length,qty\n2210,122/5/8\n");
    yard.file("s.csv", "length\n3000\n");
    let run = yard.plan(&["--unit", "in"]);
    refused(&run, "qty", &["\"122/5/8\"", "two ways", "122\"/5 1/2\""]);
    let run = pieces("qty", "3km/1mm");
    refused(&run, "qty", &["\"3km/1mm\"", accepted]);
    let run = pieces("qty", "3000m/1mm");
    refused(&run, "qty", &["3000000 pieces", "at most 1000000 pieces"]);
}

#[test]
fn raked_sets() {
    let raked = |cells| pieces("qty,to,step", cells);
    refused(&raked("7,0,"), "to", &["\"0\"", "a length above 0"]);
    refused(
        &raked("7,-5,"),
        "to",
        &["\"-5\"", "negative", "a length such as"],
    );
    refused(&raked("7,steep,"), "to", &["\"steep\"", "a length such as"]);
    refused(
        &raked("1,2400,"),
        "to",
        &["2400mm", "one piece of 2210mm", "a qty of at least 2"],
    );
    refused(&raked("7,2400,0"), "step", &["\"0\"", "a length above 0"]);
    refused(
        &raked("7,2400,1/3\"\"\""),
        "step",
        &["finer than one nanometre"],
    );
    refused(
        &raked("7,,5"),
        "step",
        &["5mm, and no to", "beside a to only"],
    );
    raked("1,2210,").ended(0);
}

#[test]
fn gaps_at_the_ends() {
    let accepted = "one length for both ends such as 10, or near/far such as 0/10";
    for cell in ["-5", "5/", "/5", "5/5/5", "wide", "5 5"] {
        let found = format!("\"{cell}\"");
        refused(&pieces("end_gap", cell), "end_gap", &[&found, accepted]);
    }
    let run = pieces("end_gap", "1105");
    let found = "1105mm/1105mm off an opening of 2210mm";
    refused(&run, "end_gap", &[found, "gaps that leave something"]);
    pieces("end_gap", "1104").ended(0);
    // The shortest of a raked set has to stand it too.
    let run = pieces("qty,to,end_gap", "7,20,0/20");
    refused(&run, "end_gap", &["0mm/20mm off an opening of 20mm"]);
    let run = pieces("end_gap", "100001km");
    refused(&run, "end_gap", &["\"100001km\""]);
    // Both together are longer than any length.
    let run = pieces("end_gap", "90000000m/90000000m");
    refused(&run, "end_gap", &["off an opening of 2210mm"]);
    let yard = Yard::with_pieces("length,end_gap\n2210,1/2\n");
    yard.file("s.csv", "length\n3000\n");
    let run = yard.plan(&["--unit", "in"]);
    refused(&run, "end_gap", &["\"1/2\"", "two ways"]);
}

#[test]
fn mitred_ends() {
    let accepted = "degrees from 10 to 90 (square), with at most two decimals, such as 45 or 45/90";
    for cell in [
        "9", "91", "-45", "0", "45/", "/45", "45/45/45", "45.125", "mitre", "45deg",
    ] {
        let found = format!("\"{cell}\"");
        refused(&pieces("ends", cell), "ends", &[&found, accepted]);
    }
}

#[test]
fn spares() {
    for cell in ["-1", "1.5", "one", "1000001"] {
        let found = format!("\"{cell}\"");
        let accepted = "a whole number from 0 to 1000000";
        refused(&pieces("spare", cell), "spare", &[&found, accepted]);
    }
}

/// One row of pieces with these cells, refused for one of them alone.
#[track_caller]
fn refused_cell(columns: &str, cells: &str, column: &str, parts: &[&str]) {
    refused(&pieces(columns, cells), column, parts);
}

/// `check` reads everything and solves nothing.
#[test]
fn every_form_of_a_run_is_understood() {
    let columns = "qty,joints,joint_gap,joints_max,shortest,course_group,course,course_rule";
    for cells in [
        "1,anywhere,,,,,,",
        "1,Anywhere,4,2,300,,,",
        "1,every 600,,,,,,",
        "1,every 600 from 50,4mm,1000,1,,,",
        "1,every 2ft from 1ft 1/2in,,,,,,",
        "1,every 600 from 5000,,,,,,",
        "1,at 600 1200 1850,0,,,,,",
        "1,at 600mm 1.2m 185cm,,,,,,",
        "2,every 600,,,,north wall,1,",
        "3,every 600,4,2,300,north wall,7,3/12",
        "1,at 600 1200,,,,north wall,1,1/4",
        "1,,,,,,,",
    ] {
        let text = format!("material,length,{columns}\nroof batten,2210,{cells}\n");
        let yard = Yard::with_pieces(text);
        yard.run(&["check", "p.csv", "--stock", "s.csv"]).ended(0);
    }
}

#[test]
fn joints() {
    let accepted = "anywhere, every 600, every 600 from 50, or at 600 1200 1850";
    for cell in [
        "600",
        "every",
        "every 0",
        "every -600",
        "every 600 from",
        "every 600 by 50",
        "at",
        "at 0",
        "at 600;1200",
        "somewhere",
        "anywhere 600",
        "anywhere,every 600",
        "every 600 from 50 to 900",
        "every six hundred",
        "every 600 600",
        "every 1/3\"",
        "every 600 from -50",
        "at 600 -1200",
        "at 600 to 1200",
        "from 50 every 600",
        "600 1200",
    ] {
        let found = format!("\"{cell}\"");
        let cell = format!("\"{}\"", cell.replace('"', "\"\""));
        refused_cell("joints", &cell, "joints", &[&found, accepted]);
    }
    let wrong = |cell, parts: &[&str]| refused_cell("joints", cell, "joints", parts);
    wrong(
        "at 600 600",
        &["at 600mm 600mm on a run of 2210mm", "rising places"],
    );
    wrong("at 1200 600", &["rising places"]);
    // A blank parts two places: feet and inches are written without one.
    wrong("\"at 2' 6\"\"\"", &["at 609.6mm 152.4mm", "rising places"]);
    wrong("at 600 2210", &["places inside the run"]);
    wrong(
        "every 0.1mm",
        &[
            "22100 places for joints in one run",
            "at most 10000, the ceiling of joints",
            "--ceiling joints=",
        ],
    );
}

#[test]
fn what_goes_with_joints() {
    let with = |column: &str, cell: &str, parts: &[&str]| {
        let columns = format!("joints,{column}");
        refused_cell(&columns, &format!("every 600,{cell}"), column, parts);
    };
    with("joint_gap", "-4", &["\"-4\"", "a length such as"]);
    with("joint_gap", "wide", &["\"wide\"", "a length such as"]);
    with("joint_gap", "2/2", &["\"2/2\"", "a length such as"]);
    for cell in ["-1", "1.5", "two", "1000001"] {
        let found = format!("\"{cell}\"");
        with("joints_max", cell, &[&found, "a whole number from 1"]);
    }
    with("shortest", "-300", &["\"-300\"", "a length such as"]);
    with("shortest", "short", &["\"short\"", "a length such as"]);
    with(
        "joint_gap",
        "2210",
        &["2210mm at the joints", "shorter than the run"],
    );
    with("joints_max", "0", &["\"0\"", "a whole number from 1"]);
    with(
        "joints_max",
        "1001",
        &["1001", "a whole number from 1 to 1000"],
    );
    with("shortest", "0", &["\"0\"", "a length above 0"]);
    with(
        "course",
        "1",
        &["a course and no course_group", "a course_group beside it"],
    );
    with(
        "course_group",
        "north",
        &["a course_group and no course", "a course beside it"],
    );
    with("course_rule", "1/2", &["a course_rule and no course_group"]);
    for column in ["joint_gap", "joints_max", "shortest"] {
        let found = format!("a {column} and no joints");
        refused_cell(column, "7", column, &[&found, "a joints beside it"]);
    }
}

#[test]
fn courses() {
    let columns = "joints,course_group,course,course_rule";
    let with = |cells: &str, column: &str, parts: &[&str]| {
        refused_cell(columns, cells, column, parts);
    };
    with(
        "every 600,north,0,",
        "course",
        &["\"0\"", "a whole number from 1"],
    );
    for course in ["-1", "1.5", "first", "1000001"] {
        let found = format!("\"{course}\"");
        let accepted = "a whole number from 1 to 1000000";
        let cells = format!("every 600,north,{course},");
        with(&cells, "course", &[&found, accepted]);
    }
    with(
        "every 600,north\u{1b}[1m,1,1/2",
        "course_group",
        &["control character", "plain text"],
    );
    let accepted = "joints/courses such as 1/2";
    for rule in ["1", "1/", "/2", "1/2/3", "a/b", "-1/2", "1.5/2", "1 of 2"] {
        let found = format!("\"{rule}\"");
        with(
            &format!("every 600,north,1,{rule}"),
            "course_rule",
            &[&found, accepted],
        );
    }
    with(
        "every 600,north,1,2/2",
        "course_rule",
        &["2/2", "in more courses than joints"],
    );
    with(
        "every 600,north,1,1/1001",
        "course_rule",
        &["1/1001", "at most 1000"],
    );
    with(
        "every 600,north,1,0/2",
        "course_rule",
        &["0/2", "at least one joint"],
    );
    with(
        "anywhere,north,1,1/2",
        "joints",
        &["anywhere in a course group", "supports"],
    );
    let group = |second: &str| {
        let rows = format!(
            "material,length,qty,{columns}\nroof batten,2210,2,every 600,north,1,1/2\n\
             roof batten,2210,1,{second}\n"
        );
        Yard::with_pieces(rows).plan(&[])
    };
    for (second, column, parts) in [
        (
            "every 600,North,2,",
            "course",
            ["course 2 of \"North\" a second time", "each course once"],
        ),
        (
            "every 600,north,3,1/4",
            "course_rule",
            ["1/4", "1/2, as in line 2: one rule"],
        ),
        (
            "every 600 from 50,north,3,",
            "joints",
            ["supports from 50mm", "from 0mm, as in line 2"],
        ),
    ] {
        let place = format!("p.csv, line 3, {column}: found ");
        group(second)
            .is_fault(&[&[place.as_str()], &parts[..]].concat())
            .has_faults(1);
    }
}

/// Two rows of stock with these cells in a further column.
fn stock(column: &str, first: &str, second: &str) -> Run {
    Yard::with_stock(format!("length,{column}\n3000,{first}\n3600,{second}\n")).plan(&[])
}

#[test]
fn what_the_stock_states_of_its_material() {
    for (column, cell) in [
        ("shortest", "300"),
        ("save_from", "0"),
        ("expansion", "12.5"),
    ] {
        stock(column, cell, "").ended(0);
        stock(column, cell, cell).ended(0);
    }
    let refused = |column: &str, cells: (&str, &str), line: u64, parts: &[&str]| {
        let run = stock(column, cells.0, cells.1);
        let place = format!("s.csv, line {line}, {column}: found ");
        run.is_fault(&[&[place.as_str(), "; accepted: "], parts].concat())
            .has_faults(1);
    };
    refused("shortest", ("0", ""), 2, &["\"0\"", "a length above 0"]);
    refused(
        "shortest",
        ("300", "400"),
        3,
        &["400mm", "300mm, as in line 2: one shortest"],
    );
    refused("save_from", ("-1", ""), 2, &["\"-1\", which is negative"]);
    refused(
        "save_from",
        ("300", "400"),
        3,
        &["400mm", "300mm, as in line 2: one save_from"],
    );
    for cell in ["-1", "1001", "0.0001", "6e-5", "60e-6", "much"] {
        let found = format!("\"{cell}\"");
        refused(
            "expansion",
            (cell, ""),
            2,
            &[&found, "millionths per kelvin from 0 to 1000"],
        );
    }
    refused(
        "expansion",
        ("60", "50"),
        3,
        &["50", "60, as in line 2: one expansion"],
    );
}

#[test]
fn the_range_of_temperature() {
    for cell in ["0", "-40", "1001", "hot", "40C", "0.0001", ""] {
        let run = Yard::new().plan(&["--temperature-range", cell]);
        let found = format!("--temperature-range: found \"{cell}\"");
        run.is_fault(&[&found, "accepted: kelvin above 0 and up to 1000"])
            .has_faults(1);
    }
    for sound in ["40", "40K", " 37.5 k "] {
        Yard::new().plan(&["--temperature-range", sound]).ended(0);
    }
}

/// What is right beside a cell that cannot be read is not blamed for it.
#[test]
fn one_cell_one_fault() {
    let columns = "qty,to,step,end_gap";
    refused(&pieces(columns, "many,2400,5,5"), "qty", &["\"many\""]);
    refused(&pieces(columns, "7,steep,5,5"), "to", &["\"steep\""]);
    refused(&pieces(columns, "7,2400,small,5"), "step", &["\"small\""]);
    let text = format!("material,length,{columns}\nroof batten,long,7,2400,5,1000\n");
    let run = Yard::with_pieces(text).plan(&[]);
    refused(&run, "length", &["\"long\""]);
    let columns = "joints,shortest,course_group,course,course_rule";
    let cells = "every way,300,north,1,1/2";
    refused_cell(columns, cells, "joints", &["\"every way\""]);
    let cells = "every 600,300,north,first,1/2";
    refused_cell(columns, cells, "course", &["\"first\""]);
}
