//! Generated classes of instances with one bar length, for comparisons without a file.

use lengthwise_tests::generate::bppgen::bppgen;
use lengthwise_tests::generate::cutgen::{Class as Cutgen, cutgen1};
use lengthwise_tests::generate::stream::Stream;

use crate::class_file::Class;

/// Where each stream starts.
const SEED: u64 = 1994;
/// Parameters of CUTGEN1 after Waescher & Gau, OR Spektrum 18 (1996) 131-144, from memory; but on
/// bars of 1000 instead of 10 000, since an arc-flow model grows with the bar.
const LENGTHS: [usize; 5] = [10, 20, 30, 40, 50];
const LONGEST: [f64; 4] = [0.25, 0.5, 0.75, 1.0];
const MEAN_DEMAND: [u64; 2] = [10, 50];
/// Instances of each combination: 200 in all.
const CUTGEN_EACH: usize = 5;
/// Instances of BPPGEN for each number of pieces.
const BPPGEN_EACH: usize = 20;

/// 200 instances of CUTGEN1 and 40 of BPPGEN.
pub fn classes() -> Vec<Class> {
    let mut stream = Stream::new(SEED);
    let mut classes: Vec<Class> = LENGTHS
        .iter()
        .map(|&lengths| cutgen_class(lengths, &mut stream))
        .collect();
    let mut stream = Stream::new(SEED);
    classes.extend([100, 120].map(|pieces| {
        let instances = (0..BPPGEN_EACH).map(|_| bppgen(pieces, 1000, 0.15, 0.20, &mut stream));
        numbered(format!("bppgen_{pieces}"), instances.collect())
    }));
    classes
}

fn cutgen_class(lengths: usize, stream: &mut Stream) -> Class {
    let mut instances = Vec::new();
    for longest in LONGEST {
        for mean_demand in MEAN_DEMAND {
            let class = Cutgen {
                lengths,
                bar: 1000,
                shortest: 0.01,
                longest,
                mean_demand,
            };
            instances.extend((0..CUTGEN_EACH).map(|_| cutgen1(&class, stream)));
        }
    }
    numbered(format!("cutgen1_{lengths}"), instances)
}

/// A class whose instances are named by their place.
fn numbered(name: String, mut instances: Vec<lengthwise_tests::generate::Instance>) -> Class {
    for (at, instance) in instances.iter_mut().enumerate() {
        instance.name = format!("{name}_{:02}", at + 1);
    }
    Class { name, instances }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn so_many_and_the_same_each_time() {
        let counts: Vec<usize> = classes()
            .iter()
            .map(|class| class.instances.len())
            .collect();
        assert_eq!(counts, [40, 40, 40, 40, 40, 20, 20]);
        let again = classes();
        for (class, again) in classes().iter().zip(&again) {
            assert_eq!(class.instances, again.instances);
        }
    }
}
