//! The stock of any job as two quotes: all that is offered, and every other row of it.

use std::fs;

use clap::Parser;
use lengthwise::solve::Limits;
use lengthwise::verify;

use super::are_sound;
use super::whole::{OF_THE_SAW, flags, in_yard, is_small, parts};
use crate::args::{Command, CommandLine};
use crate::json::QuotesJson;
use crate::read::read_quotes;
use crate::settings;
use crate::text::{self, ink::Ink};

/// Work for each material of each quote.
const WORK: u64 = 300_000;

/// The first line, and every other one below it.
fn half(stock: &[u8]) -> Vec<u8> {
    let lines = stock.split_inclusive(|&byte| byte == b'\n').enumerate();
    let kept = lines.filter(|(place, _)| *place == 0 || place % 2 == 1);
    kept.flat_map(|(_, line)| line.to_vec()).collect()
}

/// From bytes to quotes that are compared.
pub fn quotes(bytes: &[u8]) {
    let [first, pieces, stock, in_hand, ..] = parts(bytes);
    let read = in_yard(|path| {
        let mut args = ["lengthwise", "quotes"].map(str::to_owned).to_vec();
        fs::write(path("qp.csv"), pieces).expect("a file");
        args.push(path("qp.csv"));
        for (name, bytes) in [("q1.csv", stock.to_vec()), ("q2.csv", half(stock))] {
            fs::write(path(name), bytes).expect("a file");
            args.extend(["--quote".to_owned(), path(name)]);
        }
        if !in_hand.is_empty() {
            fs::write(path("qh.csv"), in_hand).expect("a file");
            args.extend(["--in-hand".to_owned(), path("qh.csv")]);
        }
        args.extend(flags(first, &OF_THE_SAW));
        let Ok(CommandLine {
            command: Command::Quotes(args),
        }) = CommandLine::try_parse_from(args)
        else {
            return None;
        };
        let mut faults = Vec::new();
        let settings = settings::quotes_settings(&args, &mut faults);
        Some(read_quotes(&args, settings, faults))
    });
    let quotes = match read {
        Some(Ok(quotes)) => quotes,
        Some(Err(faults)) => {
            assert!(!faults.is_empty());
            return are_sound(&faults, bytes);
        }
        None => return,
    };
    if !quotes.jobs().all(is_small) {
        return;
    }
    let limits = Limits {
        work: Some(WORK),
        ..Limits::default()
    };
    let compared = quotes.compare(&limits);
    for (job, plan) in quotes.jobs().zip(&compared.plans) {
        verify(job, plan).expect("a plan that holds");
    }
    let cheapest = compared.cheapest.as_ref();
    for way in compared.alone.iter().flatten().chain(cheapest) {
        assert!(way.bound <= way.total, "{way:?}");
    }
    let whole = cheapest.filter(|way| way.sources.iter().all(Option::is_some));
    for way in compared.alone.iter().flatten() {
        assert!(
            whole.is_some_and(|cheapest| cheapest.total <= way.total),
            "{way:?}"
        );
    }
    let shown = text::quotes::quotes(&compared, &[], Ink::plain());
    let breaks_out = |c: char| c.is_control() && c != '\n';
    assert!(!shown.contains(breaks_out), "{shown:?}");
    let json = QuotesJson::new(&compared).expect("JSON");
    serde_json::to_string(&json).expect("JSON");
}
