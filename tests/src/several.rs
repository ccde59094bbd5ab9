//! Jobs of several materials, put together from jobs of one.

use lengthwise::job::Saw;
use lengthwise::{Job, JobInput};

use crate::generate::trade::trade_job;
use crate::rows::checked;

/// One job of many: each becomes a material, named by its place from 1.
///
/// # Panics
/// Where the rows are faulty.
pub fn several(jobs: impl IntoIterator<Item = JobInput>) -> Job {
    let mut all = JobInput::default();
    for (at, job) in jobs.into_iter().enumerate() {
        let name = format!("material {:02}", at + 1);
        let Saw {
            kerf, square_off, ..
        } = job.saw;
        for mut row in job.pieces {
            row.material.clone_from(&name);
            all.pieces.push(row);
        }
        for mut row in job.stock {
            row.material.clone_from(&name);
            row.kerf = row.kerf.or(Some(kerf));
            row.square_off = row.square_off.or(Some(square_off));
            all.stock.push(row);
        }
        for mut row in job.in_hand {
            row.material.clone_from(&name);
            all.in_hand.push(row);
        }
    }
    checked(all)
}

/// The trade jobs of these seeds as the materials of one job.
pub fn trade_materials(seeds: impl IntoIterator<Item = u64>) -> Job {
    several(seeds.into_iter().map(|seed| trade_job(seed).input()))
}
