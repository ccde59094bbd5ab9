//! What attacks found, each with a test of its own.

use serde_json::{Value, json};

use super::{target, usual, whole};
use crate::json::read_back::read_back;

fn attack(name: &str, bytes: &[u8]) {
    (target(name).attack)(bytes);
}

/// The plan.json of the job of runs, with something else in one place.
fn changed(change: impl FnOnce(&mut Value)) -> String {
    let text = whole::written(&whole::jobs()[2]).unwrap();
    let mut json: Value = serde_json::from_str(&text).unwrap();
    change(&mut json);
    json.to_string()
}

/// The first cut of a part of a run.
fn first_part(json: &mut Value) -> &mut Value {
    let bars = json["materials"][0]["bars"].as_array_mut().unwrap();
    let cuts = bars
        .iter_mut()
        .flat_map(|bar| bar["cuts"].as_array_mut().unwrap());
    let mut parts = cuts.into_iter().filter(|cut| !cut["run"].is_null());
    parts.next().unwrap()
}

#[track_caller]
fn is_refused(text: &str) {
    assert!(read_back(text, "plan.json", &usual()).is_err());
    attack("plan_json", text.as_bytes());
}

/// A part under the mark of no part was carried on into a plan without it.
#[test]
fn a_part_with_another_mark_is_no_part_of_the_job() {
    is_refused(&changed(|json| first_part(json)["marks"][0] = json!("mm")));
}

/// So was a part with another number.
#[test]
fn parts_of_a_run_have_each_number_once() {
    is_refused(&changed(|json| {
        first_part(json)["run"]["part"] = json!(52_306)
    }));
    is_refused(&changed(|json| first_part(json)["run"]["of"] = json!(9)));
}

/// And one that is not as long as its place.
#[test]
fn parts_of_a_run_are_as_long_as_their_place() {
    is_refused(&changed(|json| first_part(json)["length_mm"] = json!(9)));
}

/// And one on a support that is none.
#[test]
fn parts_of_a_run_end_on_its_supports() {
    is_refused(&changed(|json| {
        first_part(json)["run"]["to_support"] = Value::Null
    }));
    is_refused(&changed(|json| {
        first_part(json)["run"]["to_mm"] = json!(751)
    }));
}

#[test]
fn a_plan_that_nobody_changed_is_read_back() {
    attack("plan_json", changed(|_| {}).as_bytes());
    assert!(read_back(&changed(|_| {}), "plan.json", &usual()).is_ok());
}

/// Each name of a range was a fault of its own: 9 999 of them for a line of twelve bytes.
#[test]
fn a_range_of_bars_that_nobody_knows_is_one_fault() {
    attack("notes", "cut A1-A9999\n".repeat(400).as_bytes());
    attack(
        "notes",
        format!("cut {}", "A1-A9999 ".repeat(400)).as_bytes(),
    );
    attack(
        "notes",
        format!("begun A1 {}", "F1-F9999 ".repeat(400)).as_bytes(),
    );
}

/// No joint was tried beyond the hundred thousandth, and the run called impossible.
#[test]
fn a_run_of_very_many_joints_is_above_a_ceiling() {
    attack("ask", b"6 x 3999999.1m\0from 3m\nkerf 3mm\njoints anywhere");
    attack("ask", b"6 x 763362.1m\0from 3m\nkerf 3mm\njoints anywhere");
}

/// Less than a foot, written in feet, came back from plan.json in inches, and with it the unit of the whole
/// material.
#[test]
fn a_piece_of_less_than_a_foot_stays_in_feet() {
    attack("pieces_csv", b"length\r\n1/2ft\n\r\n600\r\n");
    attack("stock_csv", b"length,price\n1/2ft,5\n");
    attack("in_hand_csv", b"length\n1/2ft\n");
}

/// A control character of the command line came back in the name of the place.
#[test]
fn a_control_character_among_the_arguments_is_escaped() {
    attack("ask", b"6 x 3.1m\x00from \xc2\x85 3mm\njoints anywhere");
}

/// And those in names that the job does not have, of a piece and of a material.
#[test]
fn control_characters_of_a_changed_plan_are_escaped() {
    is_refused(&changed(|json| {
        let bars = json["materials"][0]["bars"].as_array_mut().unwrap();
        let cuts = bars
            .iter_mut()
            .flat_map(|bar| bar["cuts"].as_array_mut().unwrap());
        let mut whole = cuts.into_iter().filter(|cut| cut["run"].is_null());
        whole.next().unwrap()["marks"][0] = json!("\0");
    }));
    is_refused(&changed(|json| {
        json["materials"][0]["material"] = json!("\0")
    }));
}

/// A piece left longer than any length may be was planned as impossible, which `verify` could not follow.
#[test]
fn a_piece_left_longer_than_any_length_is_a_fault() {
    let text = "save-from 200\nhold 250\0length,to,qty,end_gap,ends,spare,leave_long,wall,mark\n\
                1480,1905,2400/145+6,0/10,45/90,1,,w,L\n2200,,2250@600 even,3,,,99999999999.999999,,M\n\0\
                length;price;sold\n3600;0,70;per m\n4800;8;pack of 3\n\0";
    attack("whole_path", text.as_bytes());
}

/// Feet and inches that are no decimal and no usual fraction of an inch came back in millimetres, and `verify`
/// refused the plan for its unit.
#[test]
fn any_fraction_of_an_inch_comes_back() {
    let text = b"\xef\xbb\xbflength,mark\n\"7' 3 1/127\"\"\",\"a\nb\"\n";
    attack("pieces_csv", text);
    attack("pieces_csv", b"length,to\n1/127ft,1 1/127\"\n");
    attack(
        "whole_path",
        b"\0length,qty\n87 1/127in,2\n\0length\n3000\n",
    );
}

/// An empty sheet was no table and no fault: "0 faults in the input; nothing was planned."
#[test]
fn separators_alone_are_an_empty_file() {
    attack("whole_path", b"unit in\0length,qty\n87 1/4,7\n\0,,,");
    for name in ["pieces_csv", "stock_csv", "in_hand_csv", "measured_csv"] {
        attack(name, b",,,\n");
    }
}

/// What had been proved of plans with joints anywhere was told with the prices of another problem, where no plan
/// was found with joints where they were tried: the rest of this plan was "contradicting itself".
#[test]
fn what_is_proved_without_a_plan_keeps_its_prices() {
    let text = "kerf 2.5\0length,to,qty,wall,joints,leave_long,shortest,end_gap\n\
                1309mm,\"21 13/16\"\"\",2400mm/145mm+6mm,W,,30mm,,\n52in,,2,south,anywhere,,300mm,0/10mm\n\0\
                length,price,batch,available\n3000mm,5.90; 5.40 from 3; 5.10 from 6,b1,\n4200mm,5.90,,1\n\0\0\0";
    attack("whole_path", text.as_bytes());
}

/// The last of several courses was beyond the largest number, which the rows of what is left may not be.
#[test]
fn the_last_course_is_numbered_too() {
    let of = |course: u32| {
        let text = format!(
            "\0length,qty,joints,course_group,course\n6300,2,every 600,north,{course}\n\0length\n4000\n"
        );
        attack("whole_path", text.as_bytes());
    };
    of(999_999);
    of(1_000_000);
}

/// What a run with joints anywhere lacks is counted in very small units, of which there are very many: a row of a
/// table was filled once for each of them, for minutes, whatever the limits.
#[test]
fn very_many_small_parts_take_no_time() {
    let text = "per-cut 1/64in\nwork-limit 1000\n\0length,qty,joints,joints_max,course_group,course,course_rule\n\
                1462mm,2,anywhere,9,,,\n2900mm,3,at 600mm 1200mm 1850mm 2400mm,,g1,1,1/4\n227mm,4,,,,,\n\0\
                length,price,kerf,shortest\n10' 6\",8,2mm,400mm\n2400mm,12; 9 from 2,,\n\0\0cut %9\n";
    attack("whole_path", text.as_bytes());
}

/// Of bars by the metre that cannot be had, one made the price of more metres hold in the certificate, and not in
/// what was proved by it.
#[test]
fn prices_of_bars_that_cannot_be_had_are_those_of_the_certificate() {
    let text = "work-limit 300000\0length,qty,course_group,course,joints,course_rule\n\
                105in,1,g0,4,at 600mm 1200mm 1850mm 2400mm,2/3\n105in,1,g0,3,at 600mm 1200mm 1850mm 2400mm,2/3\n\
                1089mm,2,,,,\n\0length,price,sold,available\n2400mm,5.90; 5.40 from 3; 5.10 from 6,,\n\
                2400mm,12; 9 from 2,per m,0\n\0";
    attack("whole_path", text.as_bytes());
}

/// Of bars for nothing as many were reckoned with as a run had parts by its `joints_max`, and what was proved was
/// proved of as many as its places allow.
#[test]
fn no_more_bars_are_reckoned_with_than_parts_can_be() {
    let text = "\0length,qty,joints,joint_gap,joints_max\n2894,1,,,\n1064,1,every 600,10,9\n\0\
                length,price\n3200.4,9.60\n4800,5.90; 5.40 from 3\n2438.4,0\n\0length\n4800\n";
    attack("whole_path", text.as_bytes());
}

/// Joints that a rule leaves no room for are priced as forbidden, and hundreds of them on one run overflowed.
#[test]
fn hundreds_of_forbidden_joints_do_not_overflow() {
    let text = "kerf 1/8in\0length,qty,course_group,course,joints,shortest,course_rule\n\
                566467mm,2,g0,1,every 600mm from 150mm,600mm,1/4\n5267mm,2,g0,4,every 600mm from 150mm,600mm,1/4\n\
                2200mm,2,,,,,\n\0length,price,square_off\n8ft,5.90; 5.40 from 3,1/2in\n10' 6\",0,\n\0\0\0";
    attack("whole_path", text.as_bytes());
}

/// Joints were rounded down to places a few millimetres apart, of which a run of thousands of kilometres has more than
/// any memory holds.
#[test]
fn a_run_of_thousands_of_kilometres_takes_no_memory() {
    let text = "kerf 3\nwork-limit 300000\n\0length,qty,joints,joints_max,end_gap\n\
                18000000m,1,anywhere,4,0/100000m\n\0length,available,expansion\n48000000m,2,1000\n24000000m,,\n12ft,40,1000\n\0\
                length,available\n2.314m,1\n31510000m,2\n";
    attack("whole_path", text.as_bytes());
}

/// A bar of which there are none counted for the ceiling of joints, and not for the joints themselves: tens of
/// millions of millions.
#[test]
fn bars_that_there_are_none_of_let_no_run_past_its_ceiling() {
    let text = "\0length,joints,shortest\n18000000m,anywhere,0.1mm\n\0length,available\n48000000m,0\n1mm,\n\0";
    attack("whole_path", text.as_bytes());
}

/// With its cuts a run of nearly the greatest length takes more than that, which no length tells.
#[test]
fn more_than_the_greatest_length_is_told_as_that() {
    let text = "kerf 1000\0length,joints\n99999995m,anywhere\n\0length,available\n10000000m,3\n\0";
    attack("whole_path", text.as_bytes());
}

/// Full bars of the greatest length beyond one another ended beyond the largest number.
#[test]
fn bars_beside_a_part_do_not_overflow() {
    let text = "\0length,joints,joints_max,joint_gap\n99000000m,anywhere,50,98000000m\n\0length\n99000000m\n\0";
    attack("whole_path", text.as_bytes());
}

/// Of the bars of which there are as many as wanted a run would have taken more joints than were counted up to, and
/// the certificate reckoned with as few as with the longest.
#[test]
fn millions_of_joints_are_worked_out() {
    let text = "kerf 1/8in\nwork-limit 300000\n\0length,qty,joints,joint_gap\n12190000m,1,anywhere,1/8in\n\0\
                length,price,available\n12ft,8,\n8ft,8,\n48000000m,8,40\n\0";
    attack("whole_path", text.as_bytes());
}

/// One part of a spare run served for a spoiled part, and the other was measured: the run counted as if nothing of
/// it had been cut.
#[test]
fn what_is_left_of_a_spare_run_is_a_piece_of_its_own() {
    let text = "kerf 1/8in\0length,qty,joints,ends,spare,wall\n5316mm,2,every 16in,45,1,south\n\0\
                length,price,square_off,batch,kerf,save_from\n\"10' 6\"\"\",9.60,5mm,b2,1/8in,2m\n\0\0\
                found 1200mm x 2\ncut %3\nbegun %0 &10 &6 left 45 11/16\"\nspoiled &18\n\0\
                mark,length,end_gap\n&11,2064mm,3mM\n&3,177.000001mm,\n";
    attack("whole_path", text.as_bytes());
}

/// The same where one part of a spare run is spoiled: the plan of the rest lacked it, and the job asked for it.
#[test]
fn a_spoiled_part_of_a_spare_run_is_not_cut_again() {
    let text = "kerf 1/8in\nsquare-off 0/10\nsave-from 200\nprefer offcuts\ntemperature-range 0.5\ninsure 2\n\0\
                length,qty,end_gap,spare,mark,joints\n1604.000001mm,1,0/10mm,1,M0,\"\"\n\"201 13/16\"\"\",1,\"\",1,\"\",anywhere\n\0\
                length,price,square_off,sold\n3600mm,\"5.90; 5.40 from 3; 5.10 from 6\",0,\"\"\n3000mm,9.60,\"\",each\n\0\
                length,worth,available\n3300mm,\"\",\"\"\n1.881m,1.50,\"\"\n700mm,\"\",2\n\0\
                spoiled &17\ncut %3 %0\nbegun %10 &5 &9 left 1272mm\n\0";
    attack("whole_path", text.as_bytes());
}
