//! How much is done, and when to stop.
//!
//! Work is counted, not timed, so that the same job stops at the same place on every machine.
//! A clock and a cancel flag may be added; they are looked at whenever work is counted.

use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use crate::clock::Deadline;
use crate::plan::Stop;

/// The longest that one linear program may take where no clock is set. Reached only if the
/// simplex stalls; the search then goes on without it.
pub(super) const LONGEST_LP: Duration = Duration::from_secs(30);
/// How often whoever watches is told, at the most.
const TELL_EVERY: Duration = Duration::from_millis(20);

/// Told the cost of the best packing and the bound.
pub(crate) type Watch<'a> = &'a mut dyn FnMut(Option<i128>, i128);

/// Counts work against the limits.
pub(crate) struct Meter<'a> {
    spent: u64,
    limit: u64,
    deadline: Deadline<'a>,
    cancel: Option<&'a AtomicBool>,
    stop: Option<Stop>,
    watch: Option<Watch<'a>>,
    /// When whoever watches was told last.
    told: Duration,
    known: (Option<i128>, i128),
}

impl<'a> Meter<'a> {
    pub fn new(
        limit: u64,
        deadline: Deadline<'a>,
        cancel: Option<&'a AtomicBool>,
        watch: Option<Watch<'a>>,
    ) -> Self {
        let told = match watch {
            Some(_) => deadline.clock().now(),
            None => Duration::ZERO,
        };
        Meter {
            spent: 0,
            limit,
            deadline,
            cancel,
            stop: None,
            watch,
            told,
            known: (None, 0),
        }
    }

    /// Counts `units` of work, each of the order of a nanosecond; false when it is time to stop.
    pub fn spend(&mut self, units: u64) -> bool {
        self.spent = self.spent.saturating_add(units);
        self.tell();
        if self.stop.is_none() {
            self.stop = self.reason_to_stop();
        }
        self.stop.is_none()
    }

    /// Keeps what whoever watches is told: the cost of the best packing and the bound.
    pub fn note(&mut self, best: Option<i128>, bound: i128) {
        self.known = (best, bound);
    }

    /// Why the search stopped, if it did.
    pub fn stopped(&self) -> Option<Stop> {
        self.stop
    }

    pub fn spent(&self) -> u64 {
        self.spent
    }

    /// A meter of its own for part of what is left, under the same clock. What it spends is to be spent
    /// here too.
    pub fn part(&self, work: u64) -> Meter<'a> {
        Meter::new(work.min(self.left()), self.deadline, self.cancel, None)
    }

    /// Work that may still be spent.
    pub fn left(&self) -> u64 {
        self.limit.saturating_sub(self.spent)
    }

    /// Time that one linear program may take.
    pub fn lp_time(&self) -> Duration {
        let left = self.deadline.left();
        left.map_or(LONGEST_LP, |left| left.min(LONGEST_LP))
    }

    /// The same for several, one after the other.
    pub fn lp_deadline(&self) -> Deadline<'a> {
        Deadline::after(self.deadline.clock(), Some(self.lp_time()))
    }

    fn tell(&mut self) {
        let Some(watch) = &mut self.watch else {
            return;
        };
        let clock = self.deadline.clock();
        if clock.now().saturating_sub(self.told) >= TELL_EVERY {
            watch(self.known.0, self.known.1);
            self.told = clock.now();
        }
    }

    fn reason_to_stop(&self) -> Option<Stop> {
        if self.cancel.is_some_and(|flag| flag.load(Ordering::Relaxed)) {
            Some(Stop::Cancelled)
        } else if self.deadline.is_past() {
            Some(Stop::TimeLimit)
        } else if self.spent >= self.limit {
            Some(Stop::WorkLimit)
        } else {
            None
        }
    }
}
