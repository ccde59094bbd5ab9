//! Jobs with runs that are too large to try everything and small enough to prove: a dozen runs and as
//! many ordinary pieces, in millimetres.

use super::stream::Stream;
use crate::small::{SmallBar, SmallHand, SmallJob, SmallSold};
use crate::small_runs::{RunJob, SmallJoints, SmallRun};

/// One millimetre.
const MM: i64 = 1_000_000;

/// The job of this seed. In every other one all runs are courses of one length; angles are square or of
/// 30 degrees, whose slot is twice the blade exactly.
pub fn medium_run_job(seed: u64) -> RunJob {
    let mut stream = Stream::scattered(seed);
    let stream = &mut stream;
    let priced = stream.chance(60);
    let stock = stock(stream);
    let longest = stock.iter().map(|bar| bar.length).max().unwrap_or(1);
    let in_hand = if stream.chance(40) {
        let length = stream.whole(longest / 2, 2 * longest);
        vec![SmallHand {
            length,
            available: 1,
            square: (0, 0),
            worth: priced.then_some(100),
        }]
    } else {
        vec![]
    };
    let pieces = (0..stream.whole(0, 6))
        .map(|_| {
            let length = stream.whole(longest / 10, longest * 9 / 10);
            (length, stream.whole(1, 4).unsigned_abs())
        })
        .collect();
    let base = SmallJob {
        grain_nm: MM,
        kerf: stream.whole(0, 5),
        per_cut: 0,
        square: stream.pick(&[(0, 0), (0, 0), (10, 5)]),
        priced,
        pieces,
        stock,
        in_hand,
    };
    let runs = runs(longest, seed.is_multiple_of(2), stream);
    let rule = stream.pick(&[(1, 2), (1, 3), (2, 3), (1, 4)]);
    RunJob { base, runs, rule }
}

fn stock(stream: &mut Stream) -> Vec<SmallBar> {
    let kinds = stream.whole(1, 3);
    (0..kinds)
        .map(|kind| {
            let length = stream.whole(20, 50) * 100;
            SmallBar {
                length,
                pence: 10 * (length * stream.whole(90, 110) / 3000),
                sold: SmallSold::Each,
                // One kind never runs out.
                available: (kind > 0 && stream.chance(30))
                    .then(|| stream.whole(0, 5).unsigned_abs()),
            }
        })
        .collect()
}

fn runs(longest: i64, in_courses: bool, stream: &mut Stream) -> Vec<SmallRun> {
    let mut course = 1;
    let mut runs: Vec<SmallRun> = Vec::new();
    for _ in 0..stream.whole(2, 5) {
        let mut run = run(longest, stream);
        if in_courses {
            if let Some(first) = runs.first() {
                run.length = first.length;
                run.joints = first.joints.clone();
            }
            run.course = Some(course);
            course += run.qty + stream.pick(&[0, 0, 2]);
        }
        runs.push(run);
    }
    runs
}

fn run(longest: i64, stream: &mut Stream) -> SmallRun {
    let length = stream.whole(longest * 8 / 10, 3 * longest);
    let spacing = stream.pick(&[300, 400, 600]);
    SmallRun {
        length,
        qty: stream.whole(1, 4).unsigned_abs(),
        spare: u64::from(stream.chance(10)),
        joints: SmallJoints::Every {
            spacing,
            from: stream.pick(&[0, 0, 50, 250]),
        },
        end_gap: stream.pick(&[(0, 0), (0, 0), (5, 5), (10, 0)]),
        joint_gap: stream.pick(&[0, 0, 2, 8]),
        joints_max: stream.chance(25).then(|| stream.whole(2, 4).unsigned_abs()),
        shortest: Some(stream.pick(&[50, 50, 300, 700])),
        ends: stream.pick(&[(90, 90), (90, 90), (30, 90), (90, 30)]),
        course: None,
    }
}
