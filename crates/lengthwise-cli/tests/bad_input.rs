//! Every kind of bad input: exit 2, with file, line, column, what was found and what is accepted.
#![allow(clippy::unwrap_used)]

mod common;

use std::fs;

use common::Yard;

/// One piece row with this length.
fn length(cell: &str) -> common::Run {
    Yard::with_pieces(format!("material,length,qty\nroof batten,{cell},7\n")).plan(&[])
}

/// One piece row with this quantity.
fn quantity(cell: &str) -> common::Run {
    Yard::with_pieces(format!("material,qty,length\nroof batten,{cell},2210\n")).plan(&[])
}

#[test]
fn the_faultless_job_is_planned() {
    Yard::new().plan(&[]).ended(0);
}

#[test]
fn an_empty_file() {
    let run = Yard::with_pieces("").plan(&[]);
    run.is_fault(&["p.csv", "an empty file", "accepted: a line of column names"]);
    run.has_faults(1);
    Yard::with_pieces("\u{feff}\n \n")
        .plan(&[])
        .is_fault(&["p.csv", "an empty file"]);
    // What a spreadsheet makes of an empty sheet.
    for sheet in [",,,\n,,,\n", ";;\n", "\"\",\"\"\n"] {
        let run = Yard::with_pieces(sheet).plan(&[]);
        run.is_fault(&["p.csv", "an empty file"]);
        run.has_faults(1);
    }
}

#[test]
fn a_header_only() {
    let run = Yard::with_pieces("material,length\n\n").plan(&[]);
    run.is_fault(&[
        "p.csv, line 1",
        "column names and no rows",
        "at least one row",
    ]);
    run.has_faults(1);
}

#[test]
fn an_unknown_column_with_the_nearest_name() {
    let run = Yard::with_pieces("material,lenght,qty\nroof batten,2210,7\n").plan(&[]);
    run.is_fault(&[
        "p.csv, line 1, lenght",
        "unknown column \"lenght\"",
        "did you mean \"length\"?",
        "accepted: the columns length, material, mark, qty, to, step, end_gap, ends, spare, joints,",
    ]);
    let run = Yard::with_pieces("length,quantity\n2210,7\n").plan(&[]);
    run.is_fault(&["p.csv, line 1, quantity", "did you mean \"qty\"?"]);
    let run = Yard::with_stock("length,prize\n3000,5.90\n").plan(&[]);
    run.is_fault(&["s.csv, line 1, prize", "did you mean \"price\"?"]);
    run.has_faults(1);
}

#[test]
fn an_unknown_column_that_may_be_the_material_is_the_only_fault() {
    let yard = Yard::new();
    yard.file("s.csv", "board,length\nroof batten,3000\nsill,2400\n");
    let run = yard.plan(&[]);
    run.is_fault(&["s.csv, line 1, board", "unknown column"])
        .has_faults(1);
    yard.file("p.csv", "board,length\nroof batten,3000\nsill,2400\n");
    yard.file("s.csv", common::STOCK);
    let run = yard.plan(&[]);
    run.is_fault(&["p.csv, line 1, board", "unknown column"])
        .has_faults(1);
}

#[test]
fn a_duplicate_column() {
    let run = Yard::with_pieces("length,qty,Length\n2210,1,2210\n").plan(&[]);
    run.is_fault(&[
        "p.csv, line 1, length",
        "twice, as columns 1 and 3",
        "each column once",
    ]);
}

#[test]
fn a_missing_length_column() {
    let run = Yard::with_pieces("material,qty\nroof batten,7\nsill,1\n").plan(&[]);
    run.is_fault(&[
        "p.csv, line 1, length",
        "no column \"length\"",
        "it is required",
    ]);
    run.has_faults(1);
}

#[test]
fn a_length_of_zero() {
    length("0")
        .is_fault(&["p.csv, line 2, length", "found \"0\"", "a length above 0"])
        .has_faults(1);
    length("0mm").is_fault(&["p.csv, line 2, length", "found \"0mm\"", "a length above 0"]);
}

#[test]
fn a_negative_length() {
    length("-5").is_fault(&[
        "p.csv, line 2, length",
        "\"-5\", which is negative",
        "a length such as",
    ]);
}

#[test]
fn a_length_that_is_no_number() {
    length("NaN").is_fault(&[
        "p.csv, line 2, length",
        "\"NaN\", which is not a length",
        "accepted:",
    ]);
    length("inf").is_fault(&["p.csv, line 2, length", "\"inf\"", "accepted:"]);
    length("").is_fault(&[
        "p.csv, line 2, length",
        "found nothing",
        "a length such as 2210",
    ]);
}

#[test]
fn a_length_with_an_exponent() {
    length("1e309").is_fault(&["p.csv, line 2, length", "\"1e309\"", "a length such as"]);
}

#[test]
fn a_length_of_twenty_digits() {
    length("12345678901234567890").is_fault(&[
        "p.csv, line 2, length",
        "\"12345678901234567890\", which is longer than 100 000 km",
        "accepted:",
    ]);
}

#[test]
fn a_decimal_comma_between_commas() {
    let run = length("\"12,5\"");
    run.is_fault(&[
        "p.csv, line 2, length",
        "\"12,5\"",
        "decimals take a point",
        "accepted:",
    ]);
    // Without quotes the row has a cell too many.
    length("12,5")
        .is_fault(&["p.csv, line 2", "a row of 4 cells", "3 cells"])
        .has_faults(1);
}

#[test]
fn a_thousands_mark_between_semicolons() {
    let run = Yard::with_pieces("material;length\nsill;1.200\nsill;12,5\n").plan(&[]);
    run.is_fault(&[
        "p.csv, line 2, length",
        "\"1.200\"",
        "thousands mark or a decimal",
    ]);
    run.has_faults(1);
}

/// 1200 or 1.2: no separator of these says which.
#[test]
fn a_thousands_mark_or_a_decimal() {
    for (pieces, found) in [
        ("length\tqty\n1.200\t2\n", "\"1.200\""),
        ("length\tqty\n1,200\t2\n", "\"1,200\""),
        ("length;qty\n1,200;2\n", "\"1,200\""),
        ("length;qty\n1.200;2\n", "\"1.200\""),
        ("length\n1.200\n", "\"1.200\""),
        ("length\n\"1,200\"\n", "\"1,200\""),
    ] {
        let yard = Yard::with_pieces(pieces);
        yard.file("s.csv", "length\n3000\n");
        let run = yard.plan(&[]);
        run.is_fault(&[
            "p.csv, line 2, length",
            found,
            "a thousands mark or a decimal",
            "accepted: 1200 if it is a thousands mark, 1",
        ]);
        run.has_faults(1);
    }
    for (stock, found) in [
        ("length\tprice\n3000\t1.200\n", "\"1.200\""),
        ("length;price\n3000;1,200\n", "\"1,200\""),
        ("length;price\n3000;1.200\n", "\"1.200\""),
    ] {
        let run = Yard::with_stock(stock).plan(&[]);
        run.is_fault(&[
            "s.csv, line 2, price",
            found,
            "accepted: 1200 if it is a thousands mark, 1",
        ]);
        run.has_faults(1);
    }
    for pieces in [
        "length,qty\n1.200,2\n0.125,1\n",
        "length\tqty\n1.2\t2\n0.125\t1\n1200\t2\n1.200m\t1\n1.125\"\t1\n",
        "length;qty\n1,2;2\n0,125;1\n0.125;1\n1200;2\n1,200m;1\n",
        "length\n0.125\n1.2000\n6' 1 1/8\"\n",
    ] {
        let yard = Yard::with_pieces(pieces);
        yard.file("s.csv", "length\n3000\n");
        yard.plan(&[]).ended(0);
    }
    // Three decimals of a metre are millimetres.
    let yard = Yard::with_pieces("length;qty\n1,200;2\n");
    yard.file("s.csv", "length\tavailable\n2.400\t3\n");
    yard.plan(&["--unit", "m"]).ended(0);
}

#[test]
fn an_unknown_unit() {
    length("3 ells").is_fault(&[
        "p.csv, line 2, length",
        "\"3 ells\"",
        "unknown unit \"ells\"",
    ]);
}

#[test]
fn a_fraction_over_zero() {
    let run = length("3 1/0\"");
    run.is_fault(&[
        "p.csv, line 2, length",
        "3 1/0\"",
        "fraction over zero",
        "accepted:",
    ]);
}

#[test]
fn quantities_that_are_none() {
    for cell in [
        "0",
        "-1",
        "2.5",
        "1000000000000000000000000000000",
        "1e30",
        "10^30",
    ] {
        let run = quantity(cell);
        let found = format!("found \"{cell}\"");
        let accepted = "a whole number from 1 to 1000000";
        run.is_fault(&["p.csv, line 2, qty", &found, accepted])
            .has_faults(1);
    }
}

#[test]
fn a_ragged_row() {
    let run = Yard::with_pieces("material,length,qty\nsill,600\nroof batten,2210,7,x\n").plan(&[]);
    run.is_fault(&["p.csv, line 2, qty", "a row of 2 cells", "3 cells"]);
    run.is_fault(&["p.csv, line 3, column 4", "a row of 4 cells", "3 cells"]);
    run.has_faults(2);
}

#[test]
fn a_nul_byte() {
    let run = Yard::with_pieces("material,mark,length\nsill,S\0,600\n").plan(&[]);
    run.is_fault(&["p.csv, line 2, mark", "NUL byte", "accepted: plain text"])
        .has_faults(1);
}

#[test]
fn bytes_that_are_not_utf8() {
    let run = Yard::with_pieces(b"material,mark,length\nsill,S\xe9,600\n").plan(&[]);
    run.is_fault(&["p.csv, line 2, mark", "which is not UTF-8", "CSV (UTF-8)"])
        .has_faults(1);
    let run = Yard::with_pieces(b"\xff\xfel\0e\0n\0").plan(&[]);
    run.is_fault(&["p.csv", "UTF-16", "CSV (UTF-8)"])
        .has_faults(1);
    let run = Yard::with_pieces(b"PK\x03\x04....").plan(&[]);
    run.is_fault(&["p.csv", "a spreadsheet or zip file", "CSV"])
        .has_faults(1);
}

#[test]
fn a_material_that_is_not_utf8_is_no_reason_to_blame_the_pieces() {
    let run = Yard::new();
    run.file("p.csv", "material,length\ngel\u{e4}nder,600\nsill,5\n");
    run.file("s.csv", b"material,length\ngel\xe4nder,3000\nsill,3000\n");
    run.plan(&[])
        .is_fault(&["s.csv, line 2, material", "not UTF-8"])
        .has_faults(1);
}

#[test]
fn a_directory_instead_of_a_file() {
    let yard = Yard::new();
    fs::create_dir(yard.path().join("d")).unwrap();
    let run = yard.run(&["plan", "d", "--stock", "s.csv"]);
    run.is_fault(&["d: found a directory", "accepted: a readable CSV file"])
        .has_faults(1);
}

#[test]
fn a_missing_file() {
    let run = Yard::new().run(&["plan", "p.csv", "--stock", "nowhere.csv"]);
    run.is_fault(&[
        "nowhere.csv: found no such file",
        "accepted: a readable CSV file",
    ]);
    run.has_faults(1);
}

#[test]
fn a_file_that_never_ends_is_not_read_to_its_end() {
    if fs::exists("/dev/zero").unwrap() {
        let run = Yard::new().run(&["check", "/dev/zero", "--stock", "s.csv"]);
        run.is_fault(&[
            "/dev/zero: found more than 67108864 bytes",
            "at most 67108864, the ceiling of file",
        ]);
    }
}

#[test]
fn standard_input_twice() {
    let yard = Yard::new();
    let run = yard.run_with_input(&["check", "-", "--stock", "-"], common::PIECES);
    run.is_fault(&["standard input", "\"-\" for more than one file", "once"])
        .has_faults(1);
}

#[test]
fn a_material_that_no_stock_row_offers() {
    let run = Yard::with_pieces("material,length\nsill,600\nfascia,600\n").plan(&[]);
    run.is_fault(&[
        "p.csv, line 3, material",
        "\"fascia\", which no stock row offers",
        "a material of the stock: roof batten, sill",
    ]);
    run.has_faults(1);
}

#[test]
fn prices_on_some_rows_only() {
    let run = Yard::with_stock("length,price\n3000,5.90\n3600,\n").plan(&[]);
    run.is_fault(&[
        "s.csv, line 3, price",
        "found nothing",
        "as in line 2",
        "on all rows",
    ]);
    run.has_faults(1);
}

#[test]
fn rows_of_one_material_with_different_blades() {
    let run = Yard::with_stock("length,kerf\n3000,3\n3600,4\n").plan(&[]);
    run.is_fault(&["s.csv, line 3, kerf", "found 4mm", "3mm, as in line 2"])
        .has_faults(1);
}

#[test]
fn a_blade_wider_than_the_bar() {
    let run = Yard::with_stock("length,kerf\n100,200\n").plan(&[]);
    run.is_fault(&[
        "s.csv, line 2, kerf",
        "found 200mm",
        "less than the longest bar, 100mm",
    ]);
}

#[test]
fn allowances_that_eat_every_bar() {
    let run = Yard::with_stock("length,square_off\n3000,1500\n").plan(&[]);
    run.is_fault(&[
        "s.csv, line 2, square_off",
        "1500mm and 1500mm off a bar of 3000mm",
    ]);
    run.has_faults(1);
}

#[test]
fn a_bar_in_hand_that_its_allowances_eat_is_a_warning() {
    let yard = Yard::new();
    yard.file("h.csv", "material,length,square_off\nsill,20,10\n");
    let run = yard.plan(&["--in-hand", "h.csv"]);
    run.ended(0);
    assert!(
        run.out
            .contains("squaring the ends leaves nothing: 20mm (h.csv, line 2)"),
        "{}",
        run.out
    );
}

#[test]
fn other_cells_of_the_stock() {
    for (column, cell, found) in [
        ("price", "-1", "\"-1\", which is negative"),
        ("price", "cheap", "\"cheap\", which is not a price"),
        ("sold", "per foot", "\"per foot\""),
        ("sold", "pack of 0", "\"pack of 0\""),
        ("available", "-1", "\"-1\""),
        ("available", "many", "\"many\""),
        ("kerf", "wide", "\"wide\", which is not a length"),
        ("square_off", "1/2/3", "\"1/2/3\""),
    ] {
        let run = Yard::with_stock(format!("length,{column}\n3000,{cell}\n")).plan(&[]);
        let place = format!("s.csv, line 2, {column}");
        run.is_fault(&[&place, found, "accepted:"]).has_faults(1);
    }
}

#[test]
fn flags_that_cannot_be_read_are_named() {
    for (flag, value, found, accepted) in [
        (
            "--kerf",
            "-3",
            "\"-3\", which is negative",
            "a length such as",
        ),
        ("--kerf", "wide", "\"wide\"", "a length such as"),
        ("--per-cut", "1e3", "\"1e3\"", "a length such as"),
        ("--square-off", "-1/5", "\"-1/5\"", "near/far"),
        ("--save-from", "", "\"\"", "a length such as"),
        ("--longest", "0", "\"0\"", "a length above 0"),
        ("--limit", "-20", "\"-20\"", "20s or 0.5"),
        ("--limit", "soon", "\"soon\"", "20s or 0.5"),
        ("--work-limit", "0", "\"0\"", "a whole number above 0"),
        ("--unit", "ell", "\"ell\"", "mm, cm, m, in or ft"),
    ] {
        let run = Yard::new().plan(&[flag, value]);
        run.is_fault(&[flag, found, accepted]).has_faults(1);
    }
    Yard::new()
        .plan(&["--kerf", "2m"])
        .is_fault(&["kerf", "2000mm", "at most 1 m"]);
}

#[test]
fn flags_that_are_not_known_or_given_twice() {
    let run = Yard::new().plan(&["--blade", "3"]);
    run.ended(2);
    assert!(run.err.contains("--blade"));
    Yard::new().plan(&["--kerf", "3", "--kerf", "4"]).ended(2);
    Yard::new().run(&["plan", "p.csv"]).ended(2);
    Yard::new().run(&[]).ended(2);
}

#[test]
fn all_faults_of_all_files_in_one_run() {
    let yard = Yard::new();
    yard.file(
        "p.csv",
        "material,mark,length,qty\nroof batten,F,,7\n\nfascia,Q,600,1\nsill,S,6oo,2.5\nsill,\"a\nb\",-1,\n",
    );
    yard.file(
        "s.csv",
        "material;length;price;kerf\nroof batten;3000;5,90;3\nroof batten;3600;;4\nsill;2400;8.4O;\n",
    );
    yard.file("h.csv", "length,worht\n0,1\n");
    let run = yard.plan(&[
        "--kerf",
        "x",
        "--limit",
        "y",
        "--in-hand",
        "h.csv",
        "--in-hand",
        "no.csv",
    ]);
    for parts in [
        &["--kerf", "\"x\""][..],
        &["--limit", "\"y\""],
        &["p.csv, line 2, length", "nothing"],
        &["p.csv, line 5, length", "\"6oo\""],
        &["p.csv, line 5, qty", "\"2.5\""],
        &["p.csv, line 6, length", "\"-1\""],
        &["s.csv, line 3, price", "nothing"],
        &["s.csv, line 3, kerf", "4mm"],
        &["s.csv, line 4, price", "\"8.4O\""],
        &["h.csv, line 1, worht", "did you mean \"worth\"?"],
        &["h.csv, line 2, length", "\"0\""],
        &["h.csv, line 2, material", "no material"],
        &["no.csv", "no such file"],
    ] {
        run.is_fault(parts);
    }
    // The fascia may be in the file that is missing, so nobody is told that it is not offered.
    run.has_faults(13);
    let order: Vec<usize> = [
        "--kerf",
        "p.csv, line 2",
        "p.csv, line 6",
        "s.csv, line 3",
        "h.csv, line 1",
    ]
    .iter()
    .map(|place| run.err.find(place).unwrap())
    .collect();
    assert!(order.is_sorted(), "{}", run.err);
}

#[test]
fn check_reports_the_same_faults() {
    let yard = Yard::with_pieces("material,length\nsill,0\nfascia,600\n");
    let run = yard.run(&["check", "p.csv", "--stock", "s.csv"]);
    run.is_fault(&["p.csv, line 2, length", "\"0\""]);
    run.is_fault(&["p.csv, line 3, material", "\"fascia\""])
        .has_faults(2);
}
