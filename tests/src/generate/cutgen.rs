//! CUTGEN1: Gau & Waescher, EJOR 84 (1995) 572-579; re-implemented from its description.

use super::stream::Stream;
use super::{Instance, merged};

/// The parameters of a class.
#[derive(Clone, Copy, Debug)]
pub struct Class {
    /// How many lengths are drawn; equal ones are merged afterwards.
    pub lengths: usize,
    /// The length of the bar.
    pub bar: u64,
    /// The shortest length as a share of the bar.
    pub shortest: f64,
    /// The longest length as a share of the bar.
    pub longest: f64,
    /// The mean demand of a length.
    pub mean_demand: u64,
}

/// The next instance of the stream.
pub fn cutgen1(class: &Class, stream: &mut Stream) -> Instance {
    let mut lengths: Vec<u64> = (0..class.lengths)
        .map(|_| length(class.shortest, class.longest, class.bar, stream))
        .collect();
    lengths.sort_unstable_by(|a, b| b.cmp(a));
    let shares: Vec<f64> = lengths.iter().map(|_| stream.unit()).collect();
    let total: f64 = shares.iter().sum();
    let pieces = class.mean_demand * class.lengths as u64;
    let mut demands: Vec<u64> = shares
        .iter()
        .map(|share| ((pieces as f64 * share / total + 0.5) as u64).max(1))
        .collect();
    // The last length takes what the others leave.
    if let Some((last, others)) = demands.split_last_mut() {
        *last = pieces.saturating_sub(others.iter().sum()).max(1);
    }
    let all = lengths
        .iter()
        .zip(&demands)
        .flat_map(|(&length, &demand)| (0..demand).map(move |_| length))
        .collect();
    Instance {
        name: format!("cutgen1 m={} L={}", class.lengths, class.bar),
        bar: class.bar,
        kerf: 0,
        pieces: merged(all),
        optimum: None,
    }
}

/// trunc((v1 + (v2 - v1) u) L + u), shared with BPPGEN.
pub(super) fn length(shortest: f64, longest: f64, bar: u64, stream: &mut Stream) -> u64 {
    let u = stream.unit();
    ((shortest + (longest - shortest) * u) * bar as f64 + u) as u64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::published::EXAMPLES;

    /// Page 576 of the paper prints this instance.
    #[test]
    fn first_instance_of_the_paper() {
        let class = Class {
            lengths: 10,
            bar: 1000,
            shortest: 0.375,
            longest: 0.625,
            mean_demand: 50,
        };
        let instance = cutgen1(&class, &mut Stream::new(1994));
        let example = EXAMPLES
            .iter()
            .find(|example| example.id == "cutgen1-first")
            .expect("re-typed");
        let printed: Vec<(u64, u64)> = example
            .pieces
            .iter()
            .map(|(length, qty)| (length.parse().expect("whole"), *qty))
            .collect();
        assert_eq!(instance.pieces, printed);
    }
}
