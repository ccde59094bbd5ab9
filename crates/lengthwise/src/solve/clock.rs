//! The clock of a job, shared out among its materials.

use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

/// Hands out the time of a job.
pub(super) struct Clock {
    end: Option<Instant>,
    waiting: Mutex<usize>,
    threads: usize,
}

impl Clock {
    /// A clock for so many materials on so many threads; a time so far off that it cannot be
    /// expressed is no limit.
    pub fn new(time: Option<Duration>, materials: usize, threads: usize) -> Clock {
        Clock {
            end: time.and_then(|time| Instant::now().checked_add(time)),
            waiting: Mutex::new(materials),
            threads: threads.max(1),
        }
    }

    /// When the material that is begun now must end: what is left, over the turns that the threads
    /// need for all that wait.
    pub fn next_deadline(&self) -> Option<Instant> {
        let mut waiting = self.waiting.lock().unwrap_or_else(PoisonError::into_inner);
        let turns = waiting.div_ceil(self.threads).max(1);
        *waiting = waiting.saturating_sub(1);
        let end = self.end?;
        let now = Instant::now();
        let left = end.saturating_duration_since(now);
        let share = left / u32::try_from(turns).unwrap_or(u32::MAX);
        Some(now + share)
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    const HOUR: Duration = Duration::from_secs(3600);

    /// The shares of so many materials begun at once, in minutes.
    fn minutes(materials: usize, threads: usize) -> Vec<u64> {
        let clock = Clock::new(Some(HOUR), materials, threads);
        let begun = Instant::now();
        let share = |_| (clock.next_deadline().unwrap() - begun).as_secs_f64() / 60.0;
        (0..materials)
            .map(share)
            .map(|share| share.round() as u64)
            .collect()
    }

    #[test]
    fn shares_leave_as_much_to_the_others() {
        assert_eq!(minutes(1, 1), [60]);
        assert_eq!(minutes(3, 1), [20, 30, 60]);
        assert_eq!(minutes(4, 2), [30, 30, 60, 60]);
        assert_eq!(minutes(2, 8), [60, 60]);
    }

    #[test]
    fn no_limit_is_no_deadline() {
        assert_eq!(Clock::new(None, 3, 1).next_deadline(), None);
        assert_eq!(Clock::new(Some(Duration::MAX), 3, 1).next_deadline(), None);
    }
}
