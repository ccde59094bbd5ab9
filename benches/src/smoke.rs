//! The `smoke` command: generated instances, so that no file is needed.

use clap::Args;
use lengthwise_tests::generate::Instance;
use lengthwise_tests::generate::bppgen::bppgen;
use lengthwise_tests::generate::cutgen::{Class, cutgen1};
use lengthwise_tests::generate::falkenauer::{triplets, uniform};
use lengthwise_tests::generate::hard::{Size, hard};
use lengthwise_tests::generate::perfect::perfect;
use lengthwise_tests::generate::stream::Stream;
use lengthwise_tests::generate::trade::trade_job;

use crate::classes::{Tally, print_heading};
use crate::judged::Judged;
use crate::run::by_the_clock;
use crate::trade;
use crate::walls::{layers, wall};

/// Options of `smoke`.
#[derive(Args)]
pub struct Arguments {
    /// Instances of each kind.
    #[arg(long, default_value_t = 5)]
    sample: usize,
    /// Seconds for each instance.
    #[arg(long, default_value_t = 5.0)]
    limit: f64,
}

/// Where the streams start.
const SEED: u64 = 1994;
/// Hard instances and jobs of the trade, from seed 1.
const HARD_SEEDS: u64 = 5;
const TRADE_SEEDS: u64 = 10;

/// Solves the instances; `Ok(false)` where an answer is wrong. An optimum is known for the
/// triplets and the perfect plans; for the others only what `verify` recomputes is compared.
pub fn run(arguments: &Arguments) -> Result<bool, String> {
    let limits = by_the_clock(arguments.limit)?;
    print_heading();
    let mut right = true;
    for (name, generate) in KINDS {
        let mut stream = Stream::new(SEED);
        let mut tally = Tally::default();
        for _ in 0..arguments.sample {
            let instance = generate(&mut stream);
            tally.add(&Judged::of_instance(&instance, &limits), instance.optimum);
        }
        right &= close(name, &tally);
    }
    let mut tally = Tally::default();
    for seed in 1..=HARD_SEEDS {
        let instance = hard(Size::Near200, seed);
        tally.add(&Judged::of_instance(&instance, &limits), instance.optimum);
    }
    right &= close("hard", &tally);
    let mut tally = Tally::default();
    for seed in 1..=TRADE_SEEDS {
        let judged = Judged::of(trade::name(seed), &trade_job(seed).job(), &limits);
        tally.add(&judged, None);
    }
    right &= close("trade", &tally);
    for (kind, (name, job)) in [("runs", wall(1)), ("courses", layers(2, true))] {
        let mut tally = Tally::default();
        tally.add(&Judged::of(name, &job, &limits), None);
        right &= close(kind, &tally);
    }
    Ok(right)
}

/// Prints what came of one kind; whether nothing is wrong.
fn close(name: &str, tally: &Tally) -> bool {
    tally.print_row(name);
    tally.print_names();
    tally.is_right()
}

/// Makes the next instance of a stream.
type Generator = fn(&mut Stream) -> Instance;

const KINDS: [(&str, Generator); 5] = [
    ("cutgen1", |stream| {
        let class = Class {
            lengths: 40,
            bar: 1000,
            shortest: 0.05,
            longest: 0.6,
            mean_demand: 20,
        };
        cutgen1(&class, stream)
    }),
    ("bppgen", |stream| bppgen(120, 1000, 0.15, 0.20, stream)),
    ("uniform", |stream| uniform(250, stream)),
    ("triplets", |stream| triplets(40, stream)),
    ("perfect", |stream| perfect(20, 3000, 3, stream)),
];
