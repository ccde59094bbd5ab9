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
