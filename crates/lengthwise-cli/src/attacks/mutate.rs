//! Inputs that are nearly right: valid ones with some bytes, tokens, cells and lines changed. The same seed
//! gives the same inputs.

use fastrand::Rng;

/// Longest input.
const LONGEST: usize = 6_000;

/// What is put in: units, signs, words of the grammars, numbers at the edges of their ranges, and bytes
/// that break texts.
const TOKENS: [&str; 112] = [
    "mm",
    "cm",
    "m",
    "in",
    "ft",
    "\"",
    "'",
    "\u{2032}",
    "\u{2033}",
    "/",
    "+",
    "@",
    "-",
    "x",
    "=",
    "%",
    "#",
    ".",
    ",",
    ";",
    ":",
    "!",
    "\t",
    " ",
    "\n",
    "\r\n",
    "\r",
    "\"\"",
    "\"\"\"",
    "\0",
    "\u{1b}[31m",
    "\u{feff}",
    "\u{fffd}",
    "\u{a0}",
    "\u{202e}",
    "\u{85}",
    "\u{2028}",
    "\u{1f6e0}",
    "e\u{301}",
    "\u{130}",
    "\u{df}",
    "0",
    "1",
    "2",
    "7",
    "64",
    "128",
    "0.5",
    "0,5",
    "0.1",
    "0.000001",
    "0.0000001",
    "999999",
    "1000000",
    "1000001",
    "4294967295",
    "4294967296",
    "9223372036854775807",
    "9223372036854775808",
    "18446744073709551615",
    "18446744073709551616",
    "79228162514264337593543950335",
    "170141183460469231731687303715884105727",
    "100000000000",
    "100000000000mm",
    "99999999999.999999",
    "1e9",
    "1E-3",
    "NaN",
    "inf",
    "-1",
    "-0",
    "+1",
    "1/64",
    "1/3",
    "63/64",
    "1/0",
    "0/0",
    "even",
    " even",
    "every ",
    " from ",
    "at ",
    "anywhere",
    "pack of ",
    "per m",
    "each",
    "from",
    "cut ",
    "begun ",
    "left ",
    "spoiled ",
    "bad ",
    "short ",
    "usable ",
    "found ",
    "nothing",
    "ends ",
    "null",
    "true",
    "[",
    "]",
    "{",
    "}",
    "\"\":",
    "[[[[[[[[",
    "\\u0000",
    "\\ud800",
    "1/2",
    "45",
    "0/10",
    "length,",
];

/// A changed input.
pub fn mutated(corpus: &[Vec<u8>], rng: &mut Rng) -> Vec<u8> {
    let mut bytes = rng.choice(corpus).cloned().unwrap_or_default();
    // Most inputs stay close to what they were, so that they get past the first check.
    let changes = 1 + rng.u32(0..=2) * rng.u32(0..=3);
    for _ in 0..changes {
        change(&mut bytes, corpus, rng);
    }
    bytes.truncate(LONGEST.max(corpus.iter().map(Vec::len).max().unwrap_or(0)));
    bytes
}

fn place(bytes: &[u8], rng: &mut Rng) -> usize {
    rng.usize(0..=bytes.len())
}

/// A stretch that is seldom long.
fn stretch(bytes: &[u8], rng: &mut Rng) -> (usize, usize) {
    let from = place(bytes, rng);
    let most = if rng.u8(0..8) == 0 { bytes.len() } else { 12 };
    (from, (from + rng.usize(0..=most)).min(bytes.len()))
}

fn put(bytes: &mut Vec<u8>, from: usize, to: usize, with: &[u8]) {
    bytes.splice(from..to, with.iter().copied());
}

/// Where one of the marks that part cells and lines stands around a place.
fn cell(bytes: &[u8], rng: &mut Rng) -> (usize, usize) {
    let at = place(bytes, rng);
    let parts = |byte: &u8| b",;\t\n\0 \"".contains(byte);
    let from = bytes[..at].iter().rposition(parts).map_or(0, |at| at + 1);
    let to = bytes[at..]
        .iter()
        .position(parts)
        .map_or(bytes.len(), |to| at + to);
    (from, to)
}

fn change(bytes: &mut Vec<u8>, corpus: &[Vec<u8>], rng: &mut Rng) {
    let token = rng.choice(TOKENS).unwrap_or_default().as_bytes();
    match rng.u8(0..13) {
        0..=1 => {
            let at = place(bytes, rng);
            put(bytes, at, at, token);
        }
        2..=4 => {
            let (from, to) = cell(bytes, rng);
            put(bytes, from, to, token);
        }
        5 => {
            let (from, to) = stretch(bytes, rng);
            put(bytes, from, to, &[]);
        }
        6 => {
            let (from, to) = stretch(bytes, rng);
            let copy = bytes[from..to].to_vec();
            let times = if rng.u8(0..16) == 0 { 40 } else { 1 };
            let at = place(bytes, rng);
            put(bytes, at, at, &copy.repeat(times));
        }
        7 => {
            if let Some(at) = rng.usize(..).checked_rem(bytes.len()) {
                bytes[at] = rng.u8(..);
            }
        }
        8 => {
            if let Some(at) = rng.usize(..).checked_rem(bytes.len()) {
                bytes[at] ^= 1 << rng.u8(0..8);
            }
        }
        9 => {
            let other = rng.choice(corpus).map_or(&[][..], Vec::as_slice);
            let (from, to) = stretch(other, rng);
            let at = place(bytes, rng);
            let end = if rng.bool() { at } else { bytes.len() };
            put(bytes, at, end, &other[from..to]);
        }
        10 => {
            // Another number.
            let digits: Vec<usize> = (0..bytes.len())
                .filter(|&at| bytes[at].is_ascii_digit())
                .collect();
            if let Some(&at) = rng.choice(&digits) {
                let number = rng.u64(..) >> rng.u32(0..64);
                put(bytes, at, at + 1, number.to_string().as_bytes());
            }
        }
        11 => {
            // One cell in the place of another.
            let (from, to) = cell(bytes, rng);
            let copy = bytes[from..to].to_vec();
            let (from, to) = cell(bytes, rng);
            put(bytes, from, to, &copy);
        }
        _ => {
            let at = place(bytes, rng);
            bytes.truncate(at);
        }
    }
}
