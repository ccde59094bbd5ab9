//! Micro-benchmarks of the loops in which the engine spends its time.
#![allow(clippy::expect_used)] // a benchmark that measures nothing is to fail

use std::hint::black_box;

use criterion::{BatchSize, Criterion, criterion_group, criterion_main};
use lengthwise::internals::Root;
use lengthwise_tests::generate::Instance;
use lengthwise_tests::generate::cutgen::{Class, cutgen1};
use lengthwise_tests::generate::hard::{Size, hard};
use lengthwise_tests::generate::stream::Stream;

/// An instance as the smoke run has it, and one without waste, which leaves few patterns.
fn instances() -> [(&'static str, Instance); 2] {
    let class = Class {
        lengths: 40,
        bar: 1000,
        shortest: 0.05,
        longest: 0.6,
        mean_demand: 20,
    };
    [
        ("cutgen1_40", cutgen1(&class, &mut Stream::new(1994))),
        ("hard_201", hard(Size::Near200, 1)),
    ]
}

fn inner_loops(criterion: &mut Criterion) {
    for (name, instance) in instances() {
        let root = Root::of(&instance.job()).expect("column generation");
        criterion.bench_function(&format!("pricing/{name}"), |bencher| {
            bencher.iter(|| black_box(&root).price());
        });
        let patterns = root.enumerate().expect("not too many patterns");
        println!("{name}: {patterns} patterns to enumerate");
        criterion.bench_function(&format!("enumeration/{name}"), |bencher| {
            bencher.iter(|| black_box(&root).enumerate());
        });
        let warm = root.warm().expect("a pattern to add");
        criterion.bench_function(&format!("warm_lp_step/{name}"), |bencher| {
            bencher.iter_batched_ref(
                || warm.clone(),
                |warm| warm.step().expect("a solved program"),
                BatchSize::SmallInput,
            );
        });
    }
}

criterion_group!(benches, inner_loops);
criterion_main!(benches);
