//! Small jobs with runs at random: supports at even and uneven places, gaps, shortest parts, mitred
//! ends, courses; lengths that just fit a bar or just do not; sometimes a longer bar in hand.

use super::small::{Sales, small_job_from};
use super::stream::Stream;
use crate::run_oracle::{Split, effort, splits, splits_on_grid};
use crate::small::{SmallHand, SmallJob};
use crate::small_runs::{RunJob, SmallJoints, SmallRun};

/// Most runs of a job, and most of their copies in all.
const MOST_RUNS: i64 = 3;
const MOST_COPIES: u64 = 4;
/// Most places for joints in one run.
const MOST_PLACES: i64 = 5;
/// Most ordinary pieces.
const MOST_PIECES: u64 = 3;
/// Above this many steps trying everything takes more than some milliseconds.
const MOST_EFFORT: f64 = 4_000_000.0;
/// The steps in which joints that may fall anywhere are tried, in grains.
pub const GRID: i64 = 10;

/// What a job is to have.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sort {
    /// Joints at places, no courses.
    Alone,
    /// Joints at places, two to four courses of one group.
    Courses,
    /// Joints anywhere.
    Anywhere,
}

/// The job of this seed: the first of its stream that can be tried out quickly.
pub fn small_run_job(seed: u64, sort: Sort) -> RunJob {
    let mut stream = Stream::scattered(seed);
    loop {
        let job = draw(&mut stream, sort);
        let splits: Vec<Vec<Split>> = if sort == Sort::Anywhere {
            let of_run = |run| splits_on_grid(&job, run, GRID);
            job.runs.iter().map(of_run).collect()
        } else {
            splits(&job)
        };
        // Most runs that cannot be parted teach nothing, nor do courses with one way.
        let ways = if sort == Sort::Courses { 3 } else { 1 };
        if splits.iter().any(|splits| splits.len() < ways) && stream.chance(85) {
            continue;
        }
        if effort(&job, &splits) <= MOST_EFFORT {
            return job;
        }
    }
}

fn draw(stream: &mut Stream, sort: Sort) -> RunJob {
    let mut base = base(stream, sort);
    let usable = usable(&base);
    let mut runs = Vec::new();
    let mut copies = 0;
    for _ in 0..stream.whole(1, MOST_RUNS) {
        let mut run = run(&base, usable, sort, stream);
        run.qty = run.qty.min(MOST_COPIES - copies);
        run.spare = run.spare.min(MOST_COPIES - copies - run.qty);
        copies += run.qty + run.spare;
        runs.push(run);
        if copies == MOST_COPIES {
            break;
        }
    }
    let rule = stream.pick(&[(1, 2), (1, 2), (1, 3), (2, 3)]);
    if sort == Sort::Courses {
        lay_in_courses(&mut runs, copies, stream);
    }
    if sort != Sort::Anywhere && stream.chance(25) {
        let longest = runs.iter().map(|run| run.length).max().unwrap_or(1);
        let length = stream.pick(&[longest, longest * 2 / 3, longest - 1]).max(1);
        base.in_hand.push(SmallHand {
            length,
            available: 1,
            square: (0, 0),
            worth: (base.priced && stream.chance(40)).then(|| stream.whole(0, 300)),
        });
    }
    RunJob { base, runs, rule }
}

/// Bars, saw and ordinary pieces.
fn base(stream: &mut Stream, sort: Sort) -> SmallJob {
    let mut base = small_job_from(stream, Sales::Single);
    base.stock.truncate(2);
    base.in_hand.truncate(1);
    let bought = base.stock.iter().map(|bar| bar.length);
    let all = bought.chain(base.in_hand.iter().map(|bar| bar.length));
    let longest = all.max().unwrap_or(1);
    base.kerf = stream.whole(0, 5).min(longest - 1);
    // One nanometre a grain: gaps of an odd number of them.
    base.grain_nm = stream.pick(&[1_000_000, 1_000_000, base.grain_nm, 1]);
    if sort == Sort::Anywhere {
        coarsen(&mut base, stream);
    }
    let mut left = stream.pick(&[0, 0, 1, 2, MOST_PIECES]);
    for (_, qty) in &mut base.pieces {
        *qty = (*qty).min(left);
        left -= *qty;
    }
    base.pieces.retain(|(_, qty)| *qty > 0);
    base
}

/// Short bars in whole millimetres, so that a grid has few places.
fn coarsen(base: &mut SmallJob, stream: &mut Stream) {
    base.grain_nm = 1_000_000;
    base.square = (0, 0);
    base.per_cut = 0;
    for bar in &mut base.stock {
        bar.length = stream.whole(20, 40) * GRID;
    }
    for bar in &mut base.in_hand {
        bar.length = stream.whole(10, 45) * GRID;
        bar.square = (0, 0);
    }
    for (length, _) in &mut base.pieces {
        *length = stream.whole(3, 35) * stream.pick(&[GRID, GRID, 7]);
    }
}

/// The longest that bars to buy hold, or else bars in hand.
fn usable(base: &SmallJob) -> i64 {
    let (near, far) = base.square;
    let bought = base.stock.iter().map(|bar| bar.length - near - far).max();
    let in_hand = base
        .in_hand
        .iter()
        .map(|bar| bar.length - bar.square.0 - bar.square.1);
    bought.or_else(|| in_hand.max()).unwrap_or(1).max(2)
}

fn run(base: &SmallJob, usable: i64, sort: Sort, stream: &mut Stream) -> SmallRun {
    let length = match stream.whole(0, 9) {
        0 => stream.whole((usable / 2).max(2), usable),
        1 | 2 => usable + stream.whole(0, 2),
        3 | 4 => 2 * usable + stream.whole(-2, 2),
        _ => stream.whole(usable, 5 * usable / 2),
    };
    let length = if sort == Sort::Anywhere {
        // One joint mostly.
        (length.min(2 * usable) / GRID).max(2) * GRID
    } else {
        length.max(8)
    };
    let end_gap = if stream.chance(30) {
        (stream.whole(0, length / 30), stream.whole(0, length / 30))
    } else {
        (0, 0)
    };
    // Wider than the blade, too.
    let joint_gap = if stream.chance(35) {
        stream.whole(0, base.kerf + 3)
    } else {
        0
    };
    let says_nothing = base.grain_nm == 1_000_000 && usable > 200 && stream.chance(40);
    let shortest = if stream.chance(80) {
        stream.whole(1, (usable / 8).max(1))
    } else {
        stream.whole(1, (usable / 2).max(1))
    };
    SmallRun {
        length,
        qty: stream.pick(&[1, 1, 1, 2, 2, 3]),
        spare: u64::from(stream.chance(10)),
        joints: match sort {
            Sort::Anywhere => SmallJoints::Anywhere,
            Sort::Alone | Sort::Courses => joints(length, usable, stream),
        },
        end_gap,
        joint_gap: joint_gap.min(length - 1),
        joints_max: stream.chance(25).then(|| stream.whole(1, 3).unsigned_abs()),
        shortest: (!says_nothing).then_some(shortest),
        ends: if stream.chance(25) {
            (stream.pick(&[90, 45, 30]), stream.pick(&[90, 45, 30]))
        } else {
            (90, 90)
        },
        course: None,
    }
}

fn joints(length: i64, usable: i64, stream: &mut Stream) -> SmallJoints {
    if stream.chance(50) {
        let spacing =
            (length / stream.pick(&[3, 4, MOST_PLACES, MOST_PLACES]) + stream.whole(0, 3)).max(1);
        let from = if stream.chance(50) {
            0
        } else {
            stream.whole(0, spacing)
        };
        return SmallJoints::Every { spacing, from };
    }
    let mut places: Vec<i64> = (0..stream.pick(&[1, 3, 4, MOST_PLACES, MOST_PLACES]))
        .map(|_| match stream.whole(0, 5) {
            // Whole bars from either end.
            0 => usable,
            1 => length - usable,
            2 => length / 2,
            _ => stream.whole(1, length - 1),
        })
        .map(|place| place.clamp(1, length - 1))
        .collect();
    places.sort_unstable();
    places.dedup();
    SmallJoints::At(places)
}

/// Like runs one above the other, one of them elsewhere now and then.
fn lay_in_courses(runs: &mut Vec<SmallRun>, copies: u64, stream: &mut Stream) {
    let Some(first) = runs.first().cloned() else {
        return;
    };
    let others_differ = stream.chance(40);
    runs.truncate(2);
    let mut course = 1;
    let mut left = copies.max(2);
    let rows = runs.len();
    for (at, run) in runs.iter_mut().enumerate() {
        if others_differ && matches!(first.joints, SmallJoints::At(_)) {
            run.joints = first.joints.clone(); // the supports go through
            let length = run.length.max(first.length);
            run.length = length;
        } else {
            *run = first.clone();
        }
        run.spare = u64::from(stream.chance(5));
        run.qty = if at + 1 == rows {
            left
        } else {
            (left / 2).max(1)
        };
        left = (left - run.qty).max(1);
        run.course = Some(course);
        // Gaps in the numbering do not matter.
        course += run.qty + stream.pick(&[0, 0, 3]);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The share of each sort, so that a change of the generator is noticed.
    #[test]
    fn jobs_are_of_all_sorts() {
        let jobs: Vec<RunJob> = (1..=300)
            .flat_map(|seed| [Sort::Alone, Sort::Courses].map(|sort| small_run_job(seed, sort)))
            .collect();
        let share = |is: &dyn Fn(&SmallRun, &RunJob) -> bool| {
            let any = |job: &&RunJob| job.runs.iter().any(|run| is(run, job));
            jobs.iter().filter(any).count()
        };
        let parted = share(&|run, job| run.length > usable(&job.base));
        assert!(parted > 400, "{parted} parted");
        let wide = share(&|run, job| run.joint_gap > job.base.kerf);
        assert!(wide > 40, "{wide} with gaps wider than the blade");
        let odd = share(&|run, job| run.joint_gap % 2 == 1 && job.base.grain_nm == 1);
        assert!(odd > 10, "{odd} with an odd nanometre");
        let mitred = share(&|run, _| run.ends != (90, 90));
        assert!(mitred > 60, "{mitred} mitred");
        let limited = share(&|_, job| job.base.stock.iter().any(|bar| bar.available.is_some()));
        assert!(limited > 100, "{limited} limited");
        let most = share(&|run, _| run.joints_max.is_some());
        assert!(most > 60, "{most} with joints_max");
        let priced = share(&|_, job| job.base.priced);
        assert!((200..500).contains(&priced), "{priced} priced");
        let beside = share(&|_, job| !job.base.pieces.is_empty());
        assert!(beside > 100, "{beside} with ordinary pieces");
        let split = share(&|_, job| splits(job).iter().any(|splits| splits.len() > 2));
        assert!(split > 200, "{split} with several splits");
    }
}
