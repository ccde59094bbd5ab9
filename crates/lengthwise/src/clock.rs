//! What the time is, for limits by the clock.

use std::fmt;
use std::sync::OnceLock;
use std::time::{Duration, Instant};

/// A clock that limits of time are held against; see [`Limits::clock`](crate::Limits::clock).
///
/// Every function without arguments that gives a time is one. It is read often, from all threads on which
/// materials are searched, so it should be quick.
///
/// ```
/// use std::sync::atomic::{AtomicU64, Ordering};
/// use std::time::Duration;
/// use lengthwise::{Clock, Limits};
/// // Time that passes only where a test says so.
/// let seconds = AtomicU64::new(0);
/// let clock = || Duration::from_secs(seconds.load(Ordering::Relaxed));
/// let limits = Limits { time: Some(Duration::from_secs(5)), clock: Some(&clock), ..Limits::default() };
/// seconds.store(3, Ordering::Relaxed);
/// assert_eq!(limits.clock.map(Clock::now), Some(Duration::from_secs(3)));
/// ```
pub trait Clock: Sync {
    /// The time since an origin of the clock's own. It never goes back.
    fn now(&self) -> Duration;
}

impl<F: Fn() -> Duration + Sync> Clock for F {
    fn now(&self) -> Duration {
        self()
    }
}

impl fmt::Debug for dyn Clock + '_ {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Clock")
    }
}

/// The monotonic clock of the system, from when it was first read. The clock where none is given.
///
/// ```
/// use lengthwise::{Clock, SystemClock};
/// let before = SystemClock.now();
/// assert!(SystemClock.now() >= before);
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct SystemClock;

impl Clock for SystemClock {
    fn now(&self) -> Duration {
        static ORIGIN: OnceLock<Instant> = OnceLock::new();
        ORIGIN.get_or_init(Instant::now).elapsed()
    }
}

/// A time by a clock; without one, never.
#[derive(Clone, Copy)]
pub(crate) struct Deadline<'a> {
    clock: &'a dyn Clock,
    end: Option<Duration>,
}

impl<'a> Deadline<'a> {
    /// So much after now, or the latest time there is.
    pub fn after(clock: &'a dyn Clock, time: Option<Duration>) -> Deadline<'a> {
        Deadline {
            clock,
            end: time.map(|time| clock.now().saturating_add(time)),
        }
    }

    /// No limit, by the clock of the system.
    #[cfg(any(test, feature = "internals"))]
    pub fn never() -> Deadline<'static> {
        Deadline::after(&SystemClock, None)
    }

    /// The clock that it is by.
    pub fn clock(&self) -> &'a dyn Clock {
        self.clock
    }

    /// Whether the time has come.
    pub fn is_past(&self) -> bool {
        self.end.is_some_and(|end| self.clock.now() >= end)
    }

    /// What is left until then; `None` without a limit.
    pub fn left(&self) -> Option<Duration> {
        self.end.map(|end| end.saturating_sub(self.clock.now()))
    }

    /// The end of one part, of so many, of what is left.
    pub fn share(&self, parts: u32) -> Deadline<'a> {
        let end = self.end.map(|end| {
            let now = self.clock.now();
            now + end.saturating_sub(now) / parts.max(1)
        });
        Deadline { end, ..*self }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::{AtomicU64, Ordering};

    fn seconds(seconds: u64) -> Duration {
        Duration::from_secs(seconds)
    }

    #[test]
    fn a_deadline_passes_when_its_clock_says_so() {
        let at = AtomicU64::new(100);
        let clock = || seconds(at.load(Ordering::Relaxed));
        let deadline = Deadline::after(&clock, Some(seconds(12)));
        let share = deadline.share(3);
        assert_eq!(
            (deadline.left(), share.left()),
            (Some(seconds(12)), Some(seconds(4)))
        );
        at.store(104, Ordering::Relaxed);
        assert!(share.is_past() && !deadline.is_past());
        // Of what is left at that time.
        assert_eq!(deadline.share(2).left(), Some(seconds(4)));
        assert_eq!(share.share(0).left(), Some(Duration::ZERO));
        at.store(200, Ordering::Relaxed);
        assert_eq!(
            (deadline.left(), deadline.is_past()),
            (Some(Duration::ZERO), true)
        );
    }

    #[test]
    fn no_limit_and_the_longest_never_pass() {
        let clock = || seconds(1);
        let never = Deadline::after(&clock, None);
        assert!(never.share(2).left().is_none() && !never.is_past());
        let longest = Deadline::after(&clock, Some(Duration::MAX));
        assert!(!longest.is_past());
        assert_eq!(longest.share(1).left(), Some(Duration::MAX - seconds(1)));
    }

    /// Once read, it is not where it began.
    #[test]
    fn the_clock_of_the_system_goes_on() {
        let before = SystemClock.now();
        std::thread::sleep(Duration::from_millis(2));
        assert!(SystemClock.now() >= before + Duration::from_millis(2));
    }
}
