//! Laws that every optimum obeys, on random jobs of up to some dozens of pieces.
//!
//! An answer says where the optimum lies: at the plan's cost where that is proven, between bound
//! and plan otherwise. A law is broken where no two optima in the ranges obey it, so that proven
//! answers are compared exactly and the others are not wasted.
//!
//! The jobs are the same in every run, and so are the answers: every search is limited by its work.
//! `LAW_CASES` in the environment asks for more cases of all laws, see `DEVELOPERS.md`; `PROPTEST_CASES` for
//! so many of each law here.

#![allow(clippy::panic)]

use std::cell::RefCell;

use lengthwise::Limits;
use lengthwise_tests::range::Range;
use lengthwise_tests::small::{SmallBar, SmallHand, SmallJob, SmallSold};
use lengthwise_tests::tally::{Tally, number};
use proptest::collection::vec;
use proptest::option;
use proptest::prelude::*;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};

/// Jobs for each law.
const CASES: u64 = 100;
/// At least so many cases of a hundred must be proven on both sides, or the laws say little.
const PROVEN_PERCENT: u64 = 95;
/// Work for each job, of the order of a twentieth of a second.
const WORK: u64 = 50_000_000;
/// One millimetre.
const MM: i64 = 1_000_000;

fn bars() -> impl Strategy<Value = Vec<SmallBar>> {
    let bar = (300..3000_i64, 50..900_i64, option::weighted(0.3, 0..9_u64));
    vec(bar, 1..=3).prop_map(|bars| {
        bars.into_iter()
            .map(|(length, pence, available)| SmallBar {
                length,
                pence,
                sold: SmallSold::Each,
                available,
            })
            .collect()
    })
}

fn in_hand() -> impl Strategy<Value = Vec<SmallHand>> {
    let bar = (200..2500_i64, 1..3_u64, (0..20_i64, 0..20_i64));
    vec(bar, 0..=2).prop_map(|bars| {
        bars.into_iter()
            .map(|(length, available, square)| SmallHand {
                length,
                available,
                square,
                worth: None,
            })
            .collect()
    })
}

/// Pieces as parts of a thousand of a bar that can be had in any number, where there is one, so
/// that few jobs are impossible at first sight.
fn jobs() -> impl Strategy<Value = SmallJob> {
    let pieces = vec((30..980_i64, 1..6_u64), 1..=8);
    let saw = (0..5_i64, 0..2_i64, (0..15_i64, 0..15_i64), any::<bool>());
    (bars(), in_hand(), pieces, saw).prop_map(|(stock, in_hand, shares, saw)| {
        let (kerf, per_cut, square, priced) = saw;
        let without_end = stock.iter().filter(|bar| bar.available.is_none());
        let bar = without_end.chain(&stock).map(|bar| bar.length).next();
        let bar = bar.unwrap_or(1);
        let pieces = shares
            .into_iter()
            .map(|(share, qty)| (bar * share / 1000, qty))
            .collect();
        SmallJob {
            grain_nm: MM,
            kerf,
            per_cut,
            square,
            priced,
            pieces,
            stock,
            in_hand,
        }
    })
}

/// Runs a law: `change` makes another job of one, `holds` compares what the two cost.
fn law<S: Strategy>(
    name: &'static str,
    strategy: S,
    change: impl Fn(S::Value) -> (SmallJob, SmallJob),
    holds: impl Fn(Range, Range) -> bool,
) {
    let tally = RefCell::new(Tally::of(name, number("PROPTEST_CASES").unwrap_or(CASES)));
    let wanted = tally.borrow().wanted;
    let config = Config {
        cases: u32::try_from(wanted).unwrap_or(u32::MAX),
        failure_persistence: None,
        ..Config::default()
    };
    let limits = Limits {
        work: Some(WORK),
        ..Limits::default()
    };
    let rng = TestRng::deterministic_rng(RngAlgorithm::ChaCha);
    let outcome = TestRunner::new_with_rng(config, rng).run(&strategy, |value| {
        let (before, after) = change(value);
        let range = |job: &SmallJob| Range::within(&job.job(), &limits);
        let (a, b) = (range(&before), range(&after));
        tally.borrow_mut().add(a.is_proven() && b.is_proven());
        prop_assert!(holds(a, b), "{a:?} before, {b:?} after; after: {after:?}");
        Ok(())
    });
    if let Err(failure) = outcome {
        panic!("{failure}");
    }
    tally.into_inner().finish(PROVEN_PERCENT);
}

#[test]
fn the_order_of_rows_does_not_matter() {
    let strategy = jobs().prop_flat_map(|job| {
        let pieces = Just(job.pieces.clone()).prop_shuffle();
        let stock = Just(job.stock.clone()).prop_shuffle();
        let in_hand = Just(job.in_hand.clone()).prop_shuffle();
        (Just(job), pieces, stock, in_hand)
    });
    law(
        "rows in another order",
        strategy,
        |(job, pieces, stock, in_hand)| {
            let shuffled = SmallJob {
                pieces,
                stock,
                in_hand,
                ..job.clone()
            };
            (job, shuffled)
        },
        Range::may_equal,
    );
}

/// All lengths, the blade, the reserve and the allowances in another unit: money stays, bought
/// length grows by as much.
#[test]
fn scaling_all_lengths_changes_nothing() {
    let priced = jobs().prop_map(|job| SmallJob {
        priced: true,
        ..job
    });
    law(
        "all lengths scaled, with prices",
        (priced, prop::sample::select(vec![1, 127, 25_400, 3 * MM])),
        |(job, grain_nm)| {
            let scaled = SmallJob {
                grain_nm,
                ..job.clone()
            };
            (job, scaled)
        },
        Range::may_equal,
    );
    let unpriced = jobs().prop_map(|job| SmallJob {
        priced: false,
        ..job
    });
    law(
        "all lengths scaled, without prices",
        unpriced,
        |job| {
            let scaled = SmallJob {
                grain_nm: 3 * MM,
                ..job.clone()
            };
            (job, scaled)
        },
        |a, b| a.times(3).may_equal(b),
    );
}

#[test]
fn a_piece_less_never_costs_more() {
    law(
        "a piece less",
        (jobs(), any::<prop::sample::Index>()),
        |(job, which)| {
            let mut fewer = job.clone();
            let at = which.index(job.pieces.len());
            fewer.pieces[at].1 -= 1;
            fewer.pieces.retain(|(_, qty)| *qty > 0);
            if fewer.pieces.is_empty() {
                fewer.pieces.clone_from(&job.pieces);
            }
            (job, fewer)
        },
        |all, fewer| fewer.may_be_at_most(all),
    );
}

#[test]
fn a_wider_blade_never_costs_less() {
    law(
        "a wider blade",
        (jobs(), 1..40_i64),
        |(job, wider)| {
            let mut wide = job.clone();
            wide.kerf += wider;
            (job, wide)
        },
        |thin, wide| thin.may_be_at_most(wide),
    );
}

#[test]
fn another_bar_length_never_costs_more() {
    law(
        "another bar length",
        (jobs(), bars()),
        |(job, more)| {
            let mut wider = job.clone();
            wider.stock.extend(more.into_iter().take(1));
            (job, wider)
        },
        |before, after| after.may_be_at_most(before),
    );
}

/// A bar in hand that is worth nothing costs nothing to cut into.
#[test]
fn another_bar_in_hand_never_costs_more() {
    law(
        "another bar in hand",
        (jobs(), in_hand()),
        |(job, more)| {
            let mut richer = job.clone();
            richer.in_hand.extend(more);
            (job, richer)
        },
        |before, after| after.may_be_at_most(before),
    );
}
