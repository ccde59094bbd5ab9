//! How much work all certificates of a plan may take together. It is counted in steps and never timed, so
//! that a plan is judged alike everywhere.

use std::cell::Cell;
use std::rc::Rc;

/// Steps of about a nanosecond each: some ten seconds. No proof that a search comes by takes as many.
const MOST: u64 = 12_000_000_000;

/// What is left of it, shared by all copies.
#[derive(Clone)]
pub(super) struct Work(Rc<Cell<u64>>);

impl Work {
    /// All of it.
    pub fn new() -> Work {
        Work(Rc::new(Cell::new(MOST)))
    }

    /// Takes so many steps; `None`, and nothing is taken, where so many are not left.
    pub fn take(&self, steps: u64) -> Option<()> {
        self.0.set(self.0.get().checked_sub(steps)?);
        Some(())
    }

    /// The same for something that is done so many times.
    pub fn take_times(&self, times: usize, steps: u64) -> Option<()> {
        self.take(u64::try_from(times).ok()?.checked_mul(steps)?)
    }

    /// The same for what was done before it could be counted: where so many are not left, none are from then on.
    pub fn spend(&self, times: usize, steps: u64) -> Option<()> {
        let taken = self.take_times(times, steps);
        if taken.is_none() {
            self.0.set(0);
        }
        taken
    }

    /// With so many steps left.
    #[cfg(test)]
    pub fn with(steps: u64) -> Work {
        Work(Rc::new(Cell::new(steps)))
    }

    /// Steps that are left.
    #[cfg(test)]
    pub fn left(&self) -> u64 {
        self.0.get()
    }
}
