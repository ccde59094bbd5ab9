//! Edges a little longer than the bars, the question that no cutting list answers: runs of 3100 mm from
//! bars of 3000 mm, blade 3 mm. The values are common practice, no source; they were worked by hand, and
//! here again: by an integer program of the tests' own in a general-purpose solver where joints lie on
//! supports, and by arithmetic where they may lie anywhere.

#![allow(clippy::expect_used, clippy::panic)]

use good_lp::{Expression, Solution, SolverModel, Variable, microlp, variable, variables};
use lengthwise::job::{Joints, PieceRow};
use lengthwise::plan::{Cutting, Proof};
use lengthwise::{Job, Length, Limits, solve, verify};
use lengthwise_tests::rows::{Rows, mm};
use lengthwise_tests::run_parts::{joints, run_parts};

const EDGE: u64 = 3100;
const BAR: u64 = 3000;
const KERF: u64 = 3;
const SUPPORTS: u64 = 600;
/// Whether plans go through `verify`; `RUN_VERIFY=0` in the environment leaves it out.
const VERIFY_RUNS: bool = true;

fn edges(qty: u64, change: impl FnOnce(&mut PieceRow)) -> Job {
    Rows::with_kerf(mm(KERF).length)
        .piece_with(mm(EDGE), |row| {
            row.mark = "E".to_owned();
            row.qty = qty.into();
            row.joints = Some(Joints::Anywhere);
            change(row);
        })
        .stock(mm(BAR), None)
        .job()
}

fn every_support(row: &mut PieceRow) {
    row.joints = Some(Joints::Every {
        spacing: mm(SUPPORTS).length,
        from: Length::ZERO,
    });
}

/// The plan of a job, verified and proven; every edge is whole on the wall.
fn proven(job: &Job) -> Box<Cutting> {
    let plan = solve(job, &Limits::default());
    if VERIFY_RUNS && std::env::var("RUN_VERIFY").as_deref() != Ok("0") {
        verify(job, &plan).expect("a plan that holds");
    }
    let [material] = <[_; 1]>::try_from(plan.materials).expect("one material");
    let lengthwise::plan::Outcome::Planned(cutting) = material.outcome else {
        panic!("{:?}", material.outcome)
    };
    let edges = run_parts(&cutting);
    let asked: u64 = job.materials()[0]
        .pieces()
        .iter()
        .map(|piece| piece.qty())
        .sum();
    assert_eq!(edges.len() as u64, asked);
    for parts in edges.values() {
        joints(parts).expect("parts that follow each other");
        assert_eq!(parts.last().map(|part| part.to), Some(mm(EDGE).length));
    }
    assert_eq!(cutting.proof, Proof::Optimal);
    cutting
}

fn bars(cutting: &Cutting) -> u64 {
    let cut: usize = cutting.bars.iter().map(|group| group.names.len()).sum();
    assert_eq!(
        cut as u64,
        cutting.buy.iter().map(|line| line.bars).sum::<u64>()
    );
    cut as u64
}

/// What a bar can be cut into, given what may come out of it, at most so many of each.
fn patterns(lengths: &[u64], most: &[u64]) -> Vec<Vec<u64>> {
    fn go(
        lengths: &[u64],
        most: &[u64],
        room: u64,
        so_far: &mut Vec<u64>,
        all: &mut Vec<Vec<u64>>,
    ) {
        let at = so_far.len();
        let Some(length) = lengths.get(at) else {
            all.push(so_far.clone());
            return;
        };
        // A cut between every two parts: each part with its cut, the bar with one more.
        for count in 0..=most[at].min(room / (length + KERF)) {
            so_far.push(count);
            go(lengths, most, room - count * (length + KERF), so_far, all);
            so_far.pop();
        }
    }
    let mut all = Vec::new();
    go(lengths, most, BAR + KERF, &mut Vec::new(), &mut all);
    all
}

/// The fewest bars for so many edges with joints on supports: how many edges are parted in each way, how
/// many bars are cut in each way, and for each length of part no more are used than cut.
fn by_integer_program(edges: u64) -> u64 {
    let ways: Vec<[u64; 2]> = (1..)
        .map(|support| support * SUPPORTS)
        .take_while(|joint| *joint < EDGE)
        .map(|joint| [joint, EDGE - joint])
        .collect();
    let lengths: Vec<u64> = ways.iter().flatten().copied().collect();
    let most: Vec<u64> = lengths.iter().map(|_| edges).collect();
    let patterns = patterns(&lengths, &most);
    let mut vars = variables!();
    let whole = || variable().integer().min(0).max(2.0 * edges as f64);
    let parted: Vec<Variable> = ways.iter().map(|_| vars.add(whole())).collect();
    let cut: Vec<Variable> = patterns.iter().map(|_| vars.add(whole())).collect();
    let bars: Expression = cut.iter().sum();
    let mut model = vars.minimise(&bars).using(microlp);
    let all: Expression = parted.iter().sum();
    model.add_constraint(all.eq(edges as f64));
    for (at, length) in lengths.iter().enumerate() {
        let comes: Expression = patterns
            .iter()
            .zip(&cut)
            .map(|(pattern, cut)| *cut * pattern[at] as f64)
            .sum();
        let goes: Expression = ways
            .iter()
            .zip(&parted)
            .filter(|(way, _)| way.contains(length))
            .map(|(_, parted)| Expression::from(*parted))
            .sum();
        model.add_constraint(comes.geq(goes));
    }
    let solution = model.solve().expect("an optimum");
    solution.eval(&bars).round() as u64
}

#[test]
fn joints_on_supports_agree_with_an_integer_program() {
    for (edges_asked, expected) in [(1, 2), (2, 3), (6, 7)] {
        let job = edges(edges_asked, every_support);
        assert_eq!(
            by_integer_program(edges_asked),
            expected,
            "{edges_asked} edges"
        );
        assert_eq!(bars(&proven(&job)), expected, "{edges_asked} edges");
    }
}

/// Each edge is two parts at the least; they and their cuts fit if their sum with one cut for each is no
/// more than the bars with one cut for each.
fn by_arithmetic(edges: u64) -> u64 {
    (edges * (EDGE + 2 * KERF)).div_ceil(BAR + KERF)
}

/// 29 fillers are 2984 mm with their cuts; 31 bars hold exactly the 93 m of 30 edges, and leave no room
/// for the blade.
#[test]
fn joints_anywhere_agree_with_arithmetic() {
    for (edges_asked, expected) in [(1, 2), (2, 3), (6, 7), (7, 8), (29, 30), (30, 32)] {
        assert_eq!(by_arithmetic(edges_asked), expected, "{edges_asked} edges");
        let cutting = proven(&edges(edges_asked, |_| {}));
        assert_eq!(bars(&cutting), expected, "{edges_asked} edges");
    }
    assert_eq!(29 * (EDGE - BAR) + 28 * KERF, 2984);
    assert_eq!(30 * EDGE, 31 * BAR);
}

/// By hand: 1900 | 1200+1797 | 1303+1694 | 1406+1591 | 1509+1488 | 1612+1385 | 1715.
#[test]
fn long_parts_anywhere() {
    let shortest = mm(1200).length;
    let cutting = proven(&edges(6, |row| row.shortest = Some(shortest)));
    assert_eq!(bars(&cutting), 7);
    let parts = run_parts(&cutting);
    let all = || parts.values().flatten();
    assert!(all().all(|part| part.length >= shortest), "{parts:?}");
    assert_eq!(
        all().map(|part| part.length.nm()).sum::<i64>(),
        6 * 3_100_000_000
    );
}
