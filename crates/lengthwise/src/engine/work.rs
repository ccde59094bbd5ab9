//! How much is done, and when to stop.
//!
//! Work is counted, not timed, so that the same job stops at the same place on every machine.
//! A clock and a cancel flag may be added; they are looked at whenever work is counted.

use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use crate::plan::Stop;

/// The longest that one linear program may take where no clock is set. Reached only if the
/// simplex stalls; the search then goes on without it.
const LONGEST_LP: Duration = Duration::from_secs(30);

/// Counts work against the limits.
pub(crate) struct Meter<'a> {
    spent: u64,
    limit: u64,
    deadline: Option<Instant>,
    cancel: Option<&'a AtomicBool>,
    stop: Option<Stop>,
}

impl<'a> Meter<'a> {
    pub fn new(limit: u64, deadline: Option<Instant>, cancel: Option<&'a AtomicBool>) -> Self {
        Meter {
            spent: 0,
            limit,
            deadline,
            cancel,
            stop: None,
        }
    }

    /// Counts `units` of work, each of the order of a nanosecond; false when it is time to stop.
    pub fn spend(&mut self, units: u64) -> bool {
        self.spent = self.spent.saturating_add(units);
        if self.stop.is_none() {
            self.stop = self.reason_to_stop();
        }
        self.stop.is_none()
    }

    /// Why the search stopped, if it did.
    pub fn stopped(&self) -> Option<Stop> {
        self.stop
    }

    pub fn spent(&self) -> u64 {
        self.spent
    }

    /// Time that one linear program may take.
    pub fn lp_time(&self) -> Duration {
        let left = self
            .deadline
            .map(|end| end.saturating_duration_since(Instant::now()));
        left.map_or(LONGEST_LP, |left| left.min(LONGEST_LP))
    }

    fn reason_to_stop(&self) -> Option<Stop> {
        if self.cancel.is_some_and(|flag| flag.load(Ordering::Relaxed)) {
            Some(Stop::Cancelled)
        } else if self.deadline.is_some_and(|end| Instant::now() >= end) {
            Some(Stop::TimeLimit)
        } else if self.spent >= self.limit {
            Some(Stop::WorkLimit)
        } else {
            None
        }
    }
}
