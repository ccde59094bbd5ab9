//! How many cases each law is tried on, and what came of them.
//!
//! `LAW_CASES` in the environment is shared out among all laws, by the weights that stand here; without it
//! every law has the few cases that its file asks for.

use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Instant;

/// Every law and its part of the cases: laws about jobs with a dozen runs take longest.
const WEIGHTS: [(&str, u64); 27] = [
    ("rows in another order", 4),
    ("all lengths scaled, with prices", 4),
    ("all lengths scaled, without prices", 4),
    ("a piece less", 4),
    ("a wider blade", 4),
    ("another bar length", 4),
    ("another bar in hand", 4),
    ("runs: all lengths scaled", 1),
    ("runs: seen from behind", 1),
    ("runs: a run more", 1),
    ("runs: a rule for courses", 1),
    ("runs: a joint more", 1),
    ("runs: a shorter part allowed", 1),
    ("runs: rows in another order", 1),
    ("runs: a copy less", 1),
    ("runs: a wider blade", 1),
    ("runs: another bar length", 1),
    ("runs: another bar in hand", 1),
    ("a row of pieces split in two", 4),
    ("a row of bars split in two", 4),
    ("everything renamed", 4),
    ("other units", 4),
    ("materials permuted", 2),
    ("demand and availability doubled", 4),
    ("a break or a lower price more", 3),
    ("walls without a rule", 3),
    ("the same plan again, on any number of threads", 2),
];

/// Cases tried by all laws of this program so far.
static ALL: AtomicU64 = AtomicU64::new(0);

/// What came of the cases of one law.
#[derive(Debug)]
pub struct Tally {
    law: &'static str,
    /// Cases that are asked for.
    pub wanted: u64,
    cases: u64,
    proven: u64,
    begun: Instant,
}

impl Tally {
    /// No case yet; so many are wanted where `LAW_CASES` is not set.
    ///
    /// # Panics
    /// Where the law has no weight, or `LAW_CASES` is no whole number.
    pub fn of(law: &'static str, otherwise: u64) -> Tally {
        let weight = WEIGHTS.iter().find(|(name, _)| *name == law);
        let Some((_, weight)) = weight else {
            panic!("the law \"{law}\" has no part of the cases");
        };
        let all: u64 = WEIGHTS.iter().map(|(_, weight)| weight).sum();
        let wanted = number("LAW_CASES").map_or(otherwise, |cases| (cases * weight).div_ceil(all));
        Tally {
            law,
            wanted,
            cases: 0,
            proven: 0,
            begun: Instant::now(),
        }
    }

    /// One more case, and whether everything in it was proven.
    pub fn add(&mut self, is_proven: bool) {
        self.cases += 1;
        self.proven += u64::from(is_proven);
    }

    /// Cases tried.
    pub fn cases(&self) -> u64 {
        self.cases
    }

    /// Tells what came of them.
    ///
    /// # Panics
    /// Where there were fewer cases than wanted, or fewer of a hundred are proven than this, so that the
    /// law says little.
    pub fn finish(self, proven_percent: u64) {
        let Tally {
            law,
            wanted,
            cases,
            proven,
            begun,
        } = self;
        let all = ALL.fetch_add(cases, Ordering::Relaxed) + cases;
        let share = 100.0 * proven as f64 / cases.max(1) as f64; // counts of tests are far below 2^53
        let seconds = begun.elapsed().as_secs_f64();
        println!(
            "{law}: {cases} cases, {proven} proven ({share:.2} %), {seconds:.1} s; {all} in this file so far"
        );
        assert!(cases >= wanted, "{law}: {cases} of {wanted} cases");
        assert!(
            proven * 100 >= cases * proven_percent,
            "{law}: only {proven} of {cases} cases are proven"
        );
    }
}

/// A whole number in the environment.
///
/// # Panics
/// Where it is something else.
pub fn number(name: &str) -> Option<u64> {
    let value = std::env::var(name).ok()?;
    let number = value.parse();
    Some(number.unwrap_or_else(|_| panic!("{name} is a whole number")))
}
