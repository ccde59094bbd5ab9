//! The time of a job, shared out among its materials.

use std::sync::{Mutex, PoisonError};

use crate::clock::Deadline;

/// Hands out the time of a job.
pub(super) struct Shares<'a> {
    end: Deadline<'a>,
    waiting: Mutex<usize>,
    threads: usize,
}

impl<'a> Shares<'a> {
    /// The time until `end` for so many materials on so many threads.
    pub fn new(end: Deadline<'a>, materials: usize, threads: usize) -> Shares<'a> {
        Shares {
            end,
            waiting: Mutex::new(materials),
            threads: threads.max(1),
        }
    }

    /// When the material that is begun now must end: what is left, over the turns that the threads
    /// need for all that wait.
    pub fn next_deadline(&self) -> Deadline<'a> {
        let mut waiting = self.waiting.lock().unwrap_or_else(PoisonError::into_inner);
        let turns = waiting.div_ceil(self.threads).max(1);
        *waiting = waiting.saturating_sub(1);
        self.end.share(u32::try_from(turns).unwrap_or(u32::MAX))
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use std::time::Duration;

    use super::*;

    const HOUR: Duration = Duration::from_secs(3600);

    /// The shares of so many materials begun at once, in minutes.
    fn minutes(materials: usize, threads: usize) -> Vec<u64> {
        let stopped = || Duration::ZERO;
        let shares = Shares::new(Deadline::after(&stopped, Some(HOUR)), materials, threads);
        let share = |_| shares.next_deadline().left().unwrap().as_secs() / 60;
        (0..materials).map(share).collect()
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
        let shares = Shares::new(Deadline::never(), 3, 1);
        assert_eq!(shares.next_deadline().left(), None);
    }
}
