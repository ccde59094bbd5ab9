//! What whoever watches is told, whichever thread it comes from.

use std::sync::{Mutex, PoisonError};

use rust_decimal::prelude::ToPrimitive;

use super::Progress;
use crate::plan::Value;
use crate::problem::Problem;

/// Told by all threads, tells one at a time.
pub(super) struct Board<'w> {
    told: Mutex<Told<'w>>,
    materials: usize,
}

struct Told<'w> {
    done: usize,
    watch: &'w mut (dyn FnMut(Progress<'_>) + Send),
}

impl<'w> Board<'w> {
    pub fn new(materials: usize, watch: &'w mut (dyn FnMut(Progress<'_>) + Send)) -> Board<'w> {
        Board {
            told: Mutex::new(Told { done: 0, watch }),
            materials,
        }
    }

    /// A material's search begins.
    pub fn begun(&self, material: &str) {
        self.tell(material, None, 0);
    }

    /// What is known of a material, in the costs of its problem.
    pub fn improved(&self, material: &str, problem: &Problem, best: Option<i128>, bound: i128) {
        self.tell(material, Some((problem, best, bound)), 0);
    }

    /// What is known of a material: what the best plan comes to, and what none undercuts.
    pub fn valued(&self, material: &str, best: Option<Value>, bound: Value) {
        self.tell_values(material, best, bound, 0);
    }

    /// A material's search ends.
    pub fn done(&self, material: &str, known: Option<(&Problem, Option<i128>, i128)>) {
        self.tell(material, known, 1);
    }

    /// A material's search ends with a plan that comes to so much, and none to less than the bound.
    pub fn done_at(&self, material: &str, value: Value, bound: Value) {
        self.tell_values(material, Some(value), bound, 1);
    }

    fn tell_values(&self, material: &str, best: Option<Value>, bound: Value, newly_done: usize) {
        self.show(
            Progress {
                material,
                done: 0,
                materials: self.materials,
                value: best,
                bound: Some(bound),
                gap: best.map(|best| share_above(best, bound)),
            },
            newly_done,
        );
    }

    fn tell(
        &self,
        material: &str,
        known: Option<(&Problem, Option<i128>, i128)>,
        newly_done: usize,
    ) {
        let (problem, best, bound) = match known {
            Some((problem, best, bound)) => (Some(problem), best, Some(bound)),
            None => (None, None, None),
        };
        let value = |cost: Option<i128>| problem?.value(cost?);
        self.show(
            Progress {
                material,
                done: 0,
                materials: self.materials,
                value: value(best),
                bound: value(bound),
                gap: best.zip(bound).map(|(best, bound)| gap(best, bound)),
            },
            newly_done,
        );
    }

    /// Tells, with the materials that are done by now.
    fn show(&self, progress: Progress<'_>, newly_done: usize) {
        // A poisoned lock means that `watch` panicked: the panic is on its way to the caller, and
        // until it gets there the count is all that matters.
        let mut told = self.told.lock().unwrap_or_else(PoisonError::into_inner);
        told.done += newly_done;
        let progress = Progress {
            done: told.done,
            ..progress
        };
        (told.watch)(progress);
    }
}

/// How far the best can be from the bound, as a share: for people to look at.
fn gap(best: i128, bound: i128) -> f64 {
    if best == 0 {
        0.0
    } else {
        (best - bound) as f64 / best as f64
    }
}

/// By which share of it a plan may be beaten.
fn share_above(best: Value, bound: Value) -> f64 {
    match (best, bound) {
        (Value::Money(best), Value::Money(bound)) => {
            let (best, bound) = (best.decimal(), bound.decimal());
            let share = (best - bound.min(best)).checked_div(best);
            share.and_then(|share| share.to_f64()).unwrap_or(0.0)
        }
        (Value::Bought(best), Value::Bought(bound)) if !best.is_zero() => {
            let more = (best.nm() - bound.nm()).max(0);
            more as f64 / best.nm() as f64 // a guide only
        }
        _ => 0.0,
    }
}
