//! Uniform and triplet instances: Falkenauer, Journal of Heuristics 2 (1996) 5-30. The ranges of
//! the triplets are from memory.

use super::stream::Stream;
use super::{Instance, merged};

/// `pieces` whole lengths from 20 to 100 on bars of 150.
pub fn uniform(pieces: usize, stream: &mut Stream) -> Instance {
    let lengths = (0..pieces)
        .map(|_| stream.whole(20, 100).unsigned_abs())
        .collect();
    Instance {
        name: format!("uniform n={pieces}"),
        bar: 150,
        kerf: 0,
        pieces: merged(lengths),
        optimum: None,
    }
}

/// `bars` times three lengths that fill a bar of 1000 exactly. Since nothing is wasted, no plan
/// does with fewer bars.
pub fn triplets(bars: u64, stream: &mut Stream) -> Instance {
    let mut lengths = Vec::new();
    for _ in 0..bars {
        let long = stream.whole(380, 490);
        let middle = stream.whole(250, (1000 - long) / 2);
        let rest = 1000 - long - middle;
        lengths.extend([long, middle, rest].map(i64::unsigned_abs));
    }
    Instance {
        name: format!("triplets n={}", 3 * bars),
        bar: 1000,
        kerf: 0,
        pieces: merged(lengths),
        optimum: Some(bars),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn triplets_fill_their_bars() {
        let instance = triplets(20, &mut Stream::new(1996));
        let total: u64 = instance
            .pieces
            .iter()
            .map(|(length, qty)| length * qty)
            .sum();
        assert_eq!(total, 20_000);
        let count: u64 = instance.pieces.iter().map(|(_, qty)| qty).sum();
        assert_eq!(count, 60);
    }

    #[test]
    fn uniform_lengths_are_in_range() {
        let instance = uniform(500, &mut Stream::new(1996));
        assert!(
            instance
                .pieces
                .iter()
                .all(|(length, _)| (20..=100).contains(length))
        );
    }
}
