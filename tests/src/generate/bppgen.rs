//! BPPGEN: Schwerin & Waescher, ITOR 4 (1997) 377-389; re-implemented from its description.

use super::cutgen::length;
use super::stream::Stream;
use super::{Instance, merged};

/// The next instance of the stream: `pieces` lengths between two shares of the bar.
pub fn bppgen(
    pieces: usize,
    bar: u64,
    shortest: f64,
    longest: f64,
    stream: &mut Stream,
) -> Instance {
    let lengths = (0..pieces)
        .map(|_| length(shortest, longest, bar, stream))
        .collect();
    Instance {
        name: format!("bppgen n={pieces} C={bar}"),
        bar,
        kerf: 0,
        pieces: merged(lengths),
        optimum: None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::published::EXAMPLES;

    /// Check value of our own, in double precision: 42 distinct lengths, 17 592 in total. The
    /// shares of the bar are from memory.
    #[test]
    fn first_instance_of_seed_1994() {
        let instance = bppgen(100, 1000, 0.15, 0.20, &mut Stream::new(1994));
        assert_eq!(instance.pieces.len(), 42);
        let total: u64 = instance
            .pieces
            .iter()
            .map(|(length, qty)| length * qty)
            .sum();
        assert_eq!(total, 17_592);
        let example = EXAMPLES
            .iter()
            .find(|example| example.id == "bppgen-1994")
            .expect("re-typed");
        let typed: Vec<(u64, u64)> = example
            .pieces
            .iter()
            .map(|(length, qty)| (length.parse().expect("whole"), *qty))
            .collect();
        assert_eq!(instance.pieces, typed);
    }
}
