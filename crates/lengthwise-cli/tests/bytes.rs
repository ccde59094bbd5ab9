//! The same tables give the same bytes, whatever the number of threads and however often: jobs at random of
//! several materials, with runs, courses, bars in hand and every kind of sale.
//!
//! `BYTES_JOBS=200` in the environment tries that many.
#![allow(clippy::unwrap_used)]

mod common;

use std::fs;

use common::{Run, Yard};
use lengthwise::Unit;
use lengthwise::job::{Ends, Prefer, Sold};
use lengthwise_tests::generate::small_runs::Sort;
use lengthwise_tests::generate::stream::Stream;
use lengthwise_tests::pairs::{Family, job, together};
use lengthwise_tests::tally::number;

const JOBS: u64 = 8;

/// A job in files: pieces, stock and what is in hand.
fn yard(seed: u64) -> Yard {
    let mut stream = Stream::scattered(seed);
    let families = [
        Family::Small,
        Family::Runs(Sort::Alone),
        Family::Runs(Sort::Courses),
        Family::Small,
    ];
    // What is all in hand would have the blade of the saw, which is the default here.
    let next = |family| loop {
        let input = job(family, stream.whole(1, 1_000_000).unsigned_abs());
        if !input.stock.is_empty() && input.saw.per_cut.is_zero() {
            return input;
        }
    };
    let jobs = families.map(next);
    let named: Vec<_> = ["ash", "larch", "oak", "pine"]
        .into_iter()
        .zip(&jobs)
        .collect();
    let all = together(&named, Prefer::Offcuts);
    let mm = |length: lengthwise::Length| length.text(Unit::Mm);
    let text = |price: Option<lengthwise::Price>| price.map_or(String::new(), |p| p.to_string());
    let angles = |ends: Ends| {
        let of = |hundredths: u16| hundredths / 100;
        format!(
            "{}/{}",
            of(ends.near.hundredths()),
            of(ends.far.hundredths())
        )
    };
    let mut pieces = String::from(
        "material,mark,length,qty,spare,end_gap,ends,joints,joint_gap,joints_max,shortest,course_group,\
         course,course_rule\n",
    );
    for row in &all.pieces {
        let joints = row.joints.as_ref();
        let rule = row
            .course_rule
            .map(|rule| format!("{}/{}", rule.joints, rule.courses));
        let cells = [
            row.material.clone(),
            row.mark.clone(),
            mm(row.length.length),
            row.qty.count().to_string(),
            row.spare.to_string(),
            format!("{}/{}", mm(row.end_gap.near), mm(row.end_gap.far)),
            angles(row.ends),
            joints.map_or(String::new(), |joints| joints.text(Unit::Mm)),
            row.joint_gap.map_or(String::new(), mm),
            row.joints_max
                .map_or(String::new(), |most| most.to_string()),
            row.shortest.map_or(String::new(), mm),
            row.course_group.clone(),
            row.course
                .map_or(String::new(), |course| course.to_string()),
            rule.unwrap_or_default(),
        ];
        pieces.push_str(&format!("{}\n", cells.join(",")));
    }
    let mut stock = String::from("material,length,price,sold,available,kerf,square_off\n");
    for row in &all.stock {
        let square = row.square_off.unwrap_or_default();
        let cells = [
            row.material.clone(),
            mm(row.length.length),
            text(row.price),
            match row.sold {
                Sold::PerMetre => "per m".to_owned(),
                Sold::Pack(bars) => format!("pack of {bars}"),
                _ => "each".to_owned(),
            },
            row.available
                .map_or(String::new(), |count| count.to_string()),
            row.kerf.map_or(String::new(), mm),
            format!("{}/{}", mm(square.near), mm(square.far)),
        ];
        stock.push_str(&format!("{}\n", cells.join(",")));
    }
    let mut in_hand = String::from("material,length,available,square_off,worth\n");
    for row in &all.in_hand {
        let square = row.square_off.unwrap_or_default();
        in_hand.push_str(&format!(
            "{},{},{},{}/{},{}\n",
            row.material,
            mm(row.length.length),
            row.available,
            mm(square.near),
            mm(square.far),
            text(row.worth)
        ));
    }
    let yard = Yard::with_pieces(pieces);
    yard.file("s.csv", stock);
    yard.file("h.csv", in_hand);
    yard
}

#[test]
fn jobs_at_random_give_the_same_bytes() {
    let (mut parted, mut planned) = (0, 0);
    for seed in 1..=number("BYTES_JOBS").unwrap_or(JOBS) {
        let yard = yard(seed);
        let on = |threads: &str| {
            let out = format!("out-{threads}");
            let flags = ["plan", "p.csv", "--stock", "s.csv", "--in-hand", "h.csv"];
            let run = |more: &[&str]| {
                let mut command = yard.command(&[&flags[..], more].concat());
                command.env("RAYON_NUM_THREADS", threads);
                Run::of(&command.output().unwrap())
            };
            let (printed, json, saved) = (run(&[]), run(&["--json"]), run(&["--out", &out]));
            assert_eq!((json.code, saved.code), (printed.code, printed.code));
            // Some material may have no plan.
            assert!(matches!(json.code, Some(0 | 1)), "seed {seed}: {json:#?}");
            let mut files: Vec<_> = fs::read_dir(yard.path().join(&out))
                .unwrap()
                .map(|entry| entry.unwrap().path())
                .collect();
            files.sort();
            let read = |path: &std::path::PathBuf| fs::read(path).unwrap();
            let files: Vec<Vec<u8>> = files.iter().map(read).collect();
            assert!(files.len() > 3, "seed {seed}: {} files", files.len());
            (printed.out, json.out, files)
        };
        let one = on("1");
        for threads in ["1", "2", "4"] {
            assert!(on(threads) == one, "seed {seed}, {threads} threads");
        }
        parted += u64::from(one.1.contains("\"of\": 2") || one.1.contains("\"of\":2"));
        planned += one.1.matches("optimal").count();
    }
    println!("{planned} proofs, {parted} jobs with runs in two parts");
    assert!(parted > 0 && planned > 0);
}
