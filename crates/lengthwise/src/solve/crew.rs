//! The threads that plan, and the order in which they take the materials.

#[cfg(feature = "parallel")]
use std::num::NonZeroUsize;

#[cfg(feature = "parallel")]
use rayon::prelude::*;

use super::Limits;
use crate::job::Material;

/// Stack of a thread that plans, in bytes: branch and bound goes deep, and so does the search for few
/// setups. Only what is touched takes memory.
#[cfg(feature = "parallel")]
pub const STACK: usize = 64 << 20;

/// One thread, or several.
pub(super) struct Crew<'a> {
    #[cfg(feature = "parallel")]
    pool: Pool<'a>,
    #[cfg(not(feature = "parallel"))]
    pool: std::marker::PhantomData<&'a ()>,
}

/// Whose threads they are.
#[cfg(feature = "parallel")]
enum Pool<'a> {
    /// That of the caller does it all.
    Caller,
    Own(rayon::ThreadPool),
    Given(&'a rayon::ThreadPool),
}

impl<'a> Crew<'a> {
    /// Threads for so many materials; where the system gives none, the caller's own does it all.
    #[cfg(feature = "parallel")]
    pub fn new(limits: &Limits<'a>, materials: usize) -> Crew<'a> {
        if let Some(pool) = limits.pool {
            return Crew {
                pool: Pool::Given(pool),
            };
        }
        let wanted = limits.threads.map(NonZeroUsize::get);
        if materials == 0 || wanted == Some(1) {
            return Crew { pool: Pool::Caller };
        }
        // A single material has a thread too, for its stack. Zero is rayon's word for its own choice.
        let wanted = match wanted {
            Some(wanted) => wanted.min(materials),
            None if materials == 1 => 1,
            None => 0,
        };
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(wanted)
            .stack_size(STACK)
            .thread_name(|at| format!("lengthwise-{at}"))
            .build();
        Crew {
            pool: pool.map_or(Pool::Caller, Pool::Own),
        }
    }

    /// Built without threads: the caller's own does it all.
    #[cfg(not(feature = "parallel"))]
    pub fn new(_limits: &Limits<'a>, _materials: usize) -> Crew<'a> {
        Crew {
            pool: std::marker::PhantomData,
        }
    }

    #[cfg(feature = "parallel")]
    fn pool(&self) -> Option<&rayon::ThreadPool> {
        match &self.pool {
            Pool::Caller => None,
            Pool::Own(pool) => Some(pool),
            Pool::Given(pool) => Some(pool),
        }
    }

    /// How many materials are searched at a time.
    pub fn threads(&self) -> usize {
        #[cfg(feature = "parallel")]
        if let Some(pool) = self.pool() {
            return pool.current_num_threads();
        }
        1
    }

    /// Runs `search` on every material; what it came to, in the order of the materials.
    pub fn all<T: Send>(
        &self,
        materials: &[Material],
        search: impl Fn(&Material) -> T + Sync,
    ) -> Vec<T> {
        let mut waiting: Vec<(usize, &Material)> = materials.iter().enumerate().collect();
        // Small ones first: they are done soon, and leave their share of a clock to the others.
        waiting.sort_by_key(|(_, material)| size(material));
        let search = |(place, material)| (place, search(material));
        let mut results: Vec<(usize, T)> = self.run(waiting, search);
        results.sort_by_key(|(place, _)| *place);
        results.into_iter().map(|(_, result)| result).collect()
    }

    fn run<J: Send, T: Send>(&self, jobs: Vec<J>, run: impl Fn(J) -> T + Sync) -> Vec<T> {
        #[cfg(feature = "parallel")]
        if let Some(pool) = self.pool() {
            // A bridge, since it hands the jobs out one by one in their order.
            return pool.install(|| jobs.into_iter().par_bridge().map(&run).collect());
        }
        jobs.into_iter().map(run).collect()
    }
}

/// A guess at how long a material takes.
fn size(material: &Material) -> (usize, u64) {
    let rows = material.pieces().len();
    let pieces = material.pieces().iter();
    let count = pieces.fold(0_u64, |sum, piece| sum.saturating_add(piece.qty()));
    (rows * material.bars().len(), count)
}
