//! Perfect plans: bars cut up at random with nothing left but the blade.

use super::stream::Stream;
use super::{Instance, merged};

/// Cuts `bars` bars of one length into two to six pieces each, the blade taking `kerf` between
/// them.
///
/// Pieces and one cut each take up exactly `bars` x (bar + kerf), and a bar holds at most
/// bar + kerf of that: fewer bars cannot do, so `bars` is the optimum.
pub fn perfect(bars: u64, bar: u64, kerf: u64, stream: &mut Stream) -> Instance {
    let mut lengths = Vec::new();
    for _ in 0..bars {
        let mut left = bar;
        for _ in 0..stream.whole(1, 5) {
            // At least 60 for this piece and 60 behind the cut.
            let Some(most) = left.checked_sub(kerf + 60).filter(|most| *most >= 60) else {
                break;
            };
            let piece = stream.whole(60, most as i64).unsigned_abs();
            lengths.push(piece);
            left -= piece + kerf;
        }
        lengths.push(left);
    }
    Instance {
        name: format!("perfect bars={bars} L={bar} k={kerf}"),
        bar,
        kerf,
        pieces: merged(lengths),
        optimum: Some(bars),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pieces_and_cuts_fill_the_bars() {
        let instance = perfect(9, 3000, 3, &mut Stream::new(7));
        let taken: u64 = instance
            .pieces
            .iter()
            .map(|(length, qty)| (length + 3) * qty)
            .sum();
        assert_eq!(taken, 9 * 3003);
    }
}
