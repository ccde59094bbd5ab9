//! The source of random numbers of CUTGEN1 and BPPGEN.

/// 2^31 - 1.
const MODULUS: u64 = 2_147_483_647;
/// A primitive root of the modulus.
const MULTIPLIER: u64 = 16_807;

/// z <- 16807 z mod (2^31 - 1), u = z / (2^31 - 1); one stream that runs on across instances.
///
/// Source: Gau & Waescher, EJOR 84 (1995) 572-579.
#[derive(Clone, Debug)]
pub struct Stream {
    z: u64,
}

impl Stream {
    /// Starts from z = `seed`, which must not be a multiple of 2^31 - 1.
    ///
    /// # Panics
    /// Where it is one: the stream would be all zeros.
    pub fn new(seed: u64) -> Stream {
        let z = seed % MODULUS;
        assert!(z != 0, "the stream would be all zeros");
        Stream { z }
    }

    /// Starts well apart from the stream of the next seed.
    pub fn scattered(seed: u64) -> Stream {
        let z = u128::from(seed) * 1_000_003 % u128::from(MODULUS);
        let mut stream = Stream::new(u64::try_from(z).unwrap_or(0).max(1));
        // The first draws of neighbouring seeds are still alike.
        stream.unit();
        stream.unit();
        stream
    }

    /// The next u, above 0 and below 1.
    pub fn unit(&mut self) -> f64 {
        self.z = self.z * MULTIPLIER % MODULUS;
        self.z as f64 / MODULUS as f64 // both below 2^31: exact in a double
    }

    /// A whole number from `low` to `high`, both included.
    ///
    /// # Panics
    /// Where `low` is above `high`.
    pub fn whole(&mut self, low: i64, high: i64) -> i64 {
        assert!(low <= high, "nothing to draw from {low} to {high}");
        let width = (high - low + 1) as f64; // widths of tests are far below 2^53
        (low + (width * self.unit()) as i64).min(high)
    }

    /// True in `percent` of a hundred draws.
    pub fn chance(&mut self, percent: i64) -> bool {
        self.whole(1, 100) <= percent
    }

    /// One of these.
    ///
    /// # Panics
    /// Where there are none.
    pub fn pick<T: Copy>(&mut self, from: &[T]) -> T {
        let at = self.whole(0, from.len() as i64 - 1);
        from[at as usize]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Park & Miller, Communications of the ACM 31 (1988) 1192-1201, from memory: from z = 1 the
    /// 10 000th value is 1 043 618 065.
    #[test]
    fn ten_thousandth_value() {
        let mut stream = Stream::new(1);
        for _ in 0..10_000 {
            stream.unit();
        }
        assert_eq!(stream.z, 1_043_618_065);
    }

    #[test]
    fn whole_numbers_reach_both_ends() {
        let mut stream = Stream::new(1994);
        let drawn: Vec<i64> = (0..1000).map(|_| stream.whole(-1, 2)).collect();
        assert_eq!(drawn.iter().min(), Some(&-1));
        assert_eq!(drawn.iter().max(), Some(&2));
    }
}
