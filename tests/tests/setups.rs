//! The preference for few setups: cost untouched, the fewest patterns there are against exhaustive search,
//! a theorem and a published example; the bound never above any of them.
//!
//! Run with `--nocapture` to see the shares; `SETUPS_JOBS=5000` in the environment tries that many.

#![allow(clippy::panic, clippy::unwrap_used)]

use std::collections::BTreeSet;

use lengthwise::JobInput;
use lengthwise::job::Prefer;
use lengthwise::plan::{Claim, Cutting, Preference};
use lengthwise_tests::answer::{Answer, answer, units};
use lengthwise_tests::exhaustive::Best;
use lengthwise_tests::generate::small::{Sales, small_job};
use lengthwise_tests::generate::small_runs::{Sort, small_run_job};
use lengthwise_tests::generate::stream::Stream;
use lengthwise_tests::patterns::fewest_patterns;
use lengthwise_tests::rows::checked;
use lengthwise_tests::run_oracle::{Split, splits};
use lengthwise_tests::small::{SmallBar, SmallHand, SmallJob, SmallSold};
use lengthwise_tests::small_runs::RunJob;
use lengthwise_tests::tally::number;

/// Jobs of each sort.
const JOBS: u64 = 300;
/// At least so many of a hundred must have the fewest patterns there are, and so many a bound that says so.
const FEWEST_PERCENT: u64 = 98;
const PROVEN_PERCENT: u64 = 90;

/// More ways to part all runs than this take too long to be tried one by one.
const MOST_WAYS: usize = 300;
/// And more pieces and parts.
const MOST_PARTS: u64 = 8;

/// Plans with few setups.
fn planned(job: &SmallJob) -> Option<Box<Cutting>> {
    planned_rows(job.input())
}

fn planned_rows(mut input: JobInput) -> Option<Box<Cutting>> {
    input.saw.prefer = Prefer::Setups;
    match answer(&checked(input)) {
        Answer::Planned(cutting) => Some(cutting),
        _ => None,
    }
}

fn claims(cutting: &Cutting) -> (Claim<u64>, Claim<u64>) {
    match &cutting.preference {
        Preference::Setups { patterns, moves } => (*patterns, *moves),
        other => panic!("setups were preferred: {other:?}"),
    }
}

/// Counted from the plan: ways of cutting a bar, and lengths.
fn counted(cutting: &Cutting) -> (u64, u64) {
    let patterns = cutting.bars.iter().map(|group| {
        let mut cuts: Vec<_> = group.cuts.iter().map(|cut| cut.length).collect();
        cuts.sort();
        (group.bar, cuts)
    });
    let lengths = cutting.bars.iter().flat_map(|group| &group.cuts);
    let lengths: BTreeSet<_> = lengths.map(|cut| cut.length).collect();
    let patterns: BTreeSet<_> = patterns.collect();
    (patterns.len() as u64, lengths.len() as u64)
}

/// Jobs of few lengths that are needed several times, on coarse bars, so that much fits in many ways.
fn repeated_job(seed: u64) -> SmallJob {
    let mut stream = Stream::scattered(seed);
    let stream = &mut stream;
    let longest = stream.pick(&[10, 12, 20, 30, 60]);
    let stock = (0..stream.whole(1, 3)).map(|_| {
        let length = stream.whole(longest / 2, longest);
        SmallBar {
            length,
            pence: stream.pick(&[length, length, length + 1, 10]),
            sold: stream.pick(&[
                SmallSold::Each,
                SmallSold::Each,
                SmallSold::Each,
                SmallSold::Pack(2),
            ]),
            available: None,
        }
    });
    let stock: Vec<SmallBar> = stock.collect();
    let in_hand = (0..stream.pick(&[0, 0, 1, 2])).map(|_| SmallHand {
        length: stream.whole(longest / 3, longest),
        available: stream.pick(&[1, 2, 3]),
        square: (0, 0),
        worth: None,
    });
    let in_hand = in_hand.collect();
    let longest = stock.iter().map(|bar| bar.length).max().unwrap();
    let mut left = stream.whole(4, 12);
    let mut pieces = Vec::new();
    while left > 0 {
        let qty = stream.whole(1, 6).min(left);
        pieces.push((stream.whole(2, longest), qty.unsigned_abs()));
        left -= qty;
    }
    SmallJob {
        grain_nm: 1_000_000,
        kerf: stream.pick(&[0, 0, 1]),
        per_cut: 0,
        square: (0, 0),
        priced: stream.chance(70),
        pieces,
        stock,
        in_hand,
    }
}

#[derive(Debug, Default)]
struct Tally {
    planned: u64,
    fewest: u64,
    proven: u64,
    wrong: Vec<String>,
}

impl Tally {
    fn add(&mut self, what: &str, job: &SmallJob) {
        let Some(cutting) = planned(job) else {
            return;
        };
        self.planned += 1;
        if let Err(why) = self.compare(job, &cutting) {
            self.wrong.push(format!("{what}: {why}\n{job:?}"));
        }
    }

    fn compare(&mut self, job: &SmallJob, cutting: &Cutting) -> Result<(), String> {
        let Answer::Planned(plain) = answer(&job.job()) else {
            return Err("planned with few setups only".to_owned());
        };
        let hand = |cutting: &Cutting| cutting.figures.hand_cut_into;
        if plain.value != cutting.value
            || plain.bound != cutting.bound
            || hand(&plain) != hand(cutting)
        {
            return Err(format!("{:?} became {:?}", plain.value, cutting.value));
        }
        let (patterns, moves) = claims(cutting);
        if (patterns.found, moves.found) != counted(cutting) {
            return Err(format!(
                "{patterns:?}, {moves:?}, but {:?}",
                counted(cutting)
            ));
        }
        // Every length has to be cut, whatever the plan.
        let lengths: BTreeSet<i64> = job.pieces.iter().map(|&(length, _)| length).collect();
        if moves.found != lengths.len() as u64 || moves.bound != Some(moves.found) {
            return Err(format!("{moves:?} for {lengths:?}"));
        }
        let best = Best {
            value: units(cutting.value),
            hand_nm: i128::from(cutting.figures.hand_cut_into.nm()),
        };
        let fewest = fewest_patterns(job, best).ok_or("no plan of this cost")? as u64;
        let bound = patterns.bound.unwrap_or(0);
        self.fewest += u64::from(patterns.found == fewest);
        self.proven += u64::from(patterns.found == bound);
        if patterns.found < fewest || bound > fewest {
            return Err(format!("{patterns:?}, but the fewest are {fewest}"));
        }
        Ok(())
    }

    fn judge(&self, what: &str) {
        println!(
            "{what}: {} planned, {} with the fewest patterns, {} proven",
            self.planned, self.fewest, self.proven
        );
        assert!(self.wrong.is_empty(), "{}", self.wrong.join("\n\n"));
        assert!(
            self.fewest * 100 >= self.planned * FEWEST_PERCENT,
            "{self:?}"
        );
        assert!(
            self.proven * 100 >= self.planned * PROVEN_PERCENT,
            "{self:?}"
        );
    }
}

#[test]
fn fewest_of_repeated_pieces() {
    let mut tally = Tally::default();
    for seed in 1..=number("SETUPS_JOBS").unwrap_or(JOBS) {
        tally.add(&format!("repeated {seed}"), &repeated_job(seed));
    }
    tally.judge("repeated pieces");
}

#[test]
fn fewest_of_small_jobs_of_every_kind() {
    let mut tally = Tally::default();
    for seed in 1..=number("SETUPS_JOBS").unwrap_or(JOBS) {
        tally.add(&format!("mixed {seed}"), &small_job(seed, Sales::Mixed));
    }
    tally.judge("small jobs");
}

/// The fewest patterns of all plans of this cost, the fewest lengths among those, and the fewest lengths of
/// all; nothing where there are too many ways to try.
fn fewest_with_runs(job: &RunJob, best: Best) -> Option<(usize, usize, usize)> {
    let all = splits_of(job)?;
    let mut ways: Vec<Vec<&Split>> = vec![vec![]];
    for (run, splits) in job.runs.iter().zip(&all) {
        // The order of copies that are alike makes no difference.
        let mut of_run: Vec<Vec<usize>> = vec![vec![]];
        for _ in 0..run.qty + run.spare {
            let longer = of_run.iter().flat_map(|chosen| {
                let from = chosen.last().copied().unwrap_or(0);
                (from..splits.len()).map(move |next| [chosen.as_slice(), &[next]].concat())
            });
            of_run = longer.collect();
            if of_run.len() > MOST_WAYS {
                return None;
            }
        }
        let both = ways.iter().flat_map(|way| {
            of_run.iter().map(move |chosen| {
                let chosen = chosen.iter().map(|&at| &splits[at]);
                way.iter().copied().chain(chosen).collect()
            })
        });
        ways = both.collect();
        if ways.len() > MOST_WAYS {
            return None;
        }
    }
    let base = in_nanometres(&job.base);
    let counts = ways.iter().filter_map(|way| {
        let mut pieces = base.clone();
        let parts = way.iter().flat_map(|split| &split.parts);
        pieces.pieces.extend(parts.map(|&part| (part, 1)));
        let lengths: BTreeSet<i64> = pieces.pieces.iter().map(|&(length, _)| length).collect();
        let in_all: u64 = pieces.pieces.iter().map(|&(_, qty)| qty).sum();
        if in_all > MOST_PARTS {
            return Some(None);
        }
        fewest_patterns(&pieces, best).map(|patterns| Some((patterns, lengths.len())))
    });
    let counts: Vec<(usize, usize)> = counts.collect::<Option<_>>()?;
    let &(patterns, among_those) = counts.iter().min()?;
    let of_all = counts.iter().map(|&(_, lengths)| lengths).min()?;
    Some((patterns, among_those, of_all))
}

/// The splits of every run, where none has mitred ends.
fn splits_of(job: &RunJob) -> Option<Vec<Vec<Split>>> {
    let is_square = job.runs.iter().all(|run| run.ends == (90, 90));
    is_square.then(|| splits(job))
}

fn in_nanometres(job: &SmallJob) -> SmallJob {
    let nm = |grains: i64| grains * job.grain_nm;
    let both = |(near, far): (i64, i64)| (nm(near), nm(far));
    let mut fine = job.clone();
    fine.grain_nm = 1;
    fine.kerf = nm(job.kerf);
    fine.per_cut = nm(job.per_cut);
    fine.square = both(job.square);
    for (length, _) in &mut fine.pieces {
        *length = nm(*length);
    }
    for bar in &mut fine.stock {
        bar.length = nm(bar.length);
    }
    for bar in &mut fine.in_hand {
        bar.length = nm(bar.length);
        bar.square = both(bar.square);
    }
    fine
}

/// With runs: the splits may be chosen too.
#[test]
fn fewest_with_every_way_to_part_runs() {
    let (mut tried, mut fewest, mut proven, mut least_moves, mut moves_proven) = (0, 0, 0, 0, 0);
    for seed in 1..=4 * number("SETUPS_JOBS").unwrap_or(JOBS) {
        let job = small_run_job(seed, Sort::Alone);
        let Some(cutting) = planned_rows(job.input()) else {
            continue;
        };
        let best = Best {
            value: units(cutting.value),
            hand_nm: i128::from(cutting.figures.hand_cut_into.nm()),
        };
        let Some((least, among_those, of_all)) = fewest_with_runs(&job, best) else {
            continue;
        };
        let (patterns, moves) = claims(&cutting);
        // Spares are cut last, so the stop may come to one length twice.
        let (counted, lengths) = counted(&cutting);
        assert_eq!(patterns.found, counted, "{seed}");
        assert_eq!(moves.found, cutting.stop_settings().len() as u64, "{seed}");
        let has_spares = job.runs.iter().any(|run| run.spare > 0);
        assert!(moves.found == lengths || has_spares, "{seed}: {moves:?}");
        let [least, among_those, of_all] = [least, among_those, of_all].map(|count| count as u64);
        let said =
            format!("{seed}: {patterns:?} {moves:?}; {least}, {among_those}, {of_all}\n{job:?}");
        assert!(
            patterns.found >= least && patterns.bound <= Some(least),
            "{said}"
        );
        assert!(
            moves.found >= of_all && moves.bound <= Some(of_all),
            "{said}"
        );
        tried += 1;
        fewest += u64::from(patterns.found == least);
        proven += u64::from(patterns.bound == Some(patterns.found));
        least_moves += u64::from((patterns.found, moves.found) == (least, among_those));
        moves_proven += u64::from(moves.bound == Some(moves.found));
    }
    println!(
        "runs: {tried} tried, {fewest} with the fewest patterns, {proven} proven; {least_moves} with the fewest \
         lengths among those, {moves_proven} proven"
    );
    assert!(fewest * 100 >= tried * 90, "{fewest} of {tried}");
}

fn one_bar(length: i64, pieces: &[(i64, u64)]) -> SmallJob {
    SmallJob {
        grain_nm: 1_000_000,
        kerf: 0,
        per_cut: 0,
        square: (0, 0),
        priced: true,
        pieces: pieces.to_vec(),
        stock: vec![SmallBar {
            length,
            pence: 100,
            sold: SmallSold::Each,
            available: None,
        }],
        in_hand: vec![],
    }
}

/// Where any two pieces fit on a bar and no three do, and the number of pieces is even, the fewest
/// patterns are the kinds of piece less the most disjoint sets of them that fall into two halves of equal
/// demand. Source: McDiarmid, Discrete Appl. Math. 98 (1999) 121-130, its abstract.
#[test]
fn a_theorem_about_pairs() {
    let (mut fewest, mut proven) = (0, 0);
    for seed in 1..=60 {
        let mut stream = Stream::scattered(seed);
        let kinds = stream.whole(2, 7);
        let mut demand: Vec<u64> = (0..kinds)
            .map(|_| stream.whole(1, 14).unsigned_abs())
            .collect();
        let odd = demand.iter().sum::<u64>() % 2;
        demand[0] += odd;
        // 34 to 40 of 100: two fit, three do not.
        let lengths = [40, 39, 38, 37, 36, 35, 34];
        let pieces: Vec<(i64, u64)> = lengths.into_iter().zip(demand.iter().copied()).collect();
        let least = demand.len() as u64 - disjoint_balanced(&demand, (1 << demand.len()) - 1);
        let cutting = planned(&one_bar(100, &pieces)).unwrap();
        let (patterns, _) = claims(&cutting);
        assert!(patterns.found >= least, "{demand:?}: {patterns:?}, {least}");
        assert!(
            patterns.bound <= Some(least),
            "{demand:?}: {patterns:?}, {least}"
        );
        fewest += u64::from(patterns.found == least);
        proven += u64::from(patterns.bound == Some(least));
    }
    println!("pairs: 60 planned, {fewest} with the fewest patterns, {proven} proven");
    assert!(fewest >= 57, "{fewest}");
}

/// The most disjoint sets, out of these kinds, that fall into two halves of equal demand.
fn disjoint_balanced(demand: &[u64], of: usize) -> u64 {
    let subsets = |of: usize| (1..=of).filter(move |set| set & of == *set);
    let sum = |set: usize| -> u64 {
        let chosen = demand
            .iter()
            .enumerate()
            .filter(|(at, _)| set >> at & 1 == 1);
        chosen.map(|(_, demand)| demand).sum()
    };
    let is_balanced = |set: usize| subsets(set).any(|half| 2 * sum(half) == sum(set));
    let sets = subsets(of).filter(|&set| is_balanced(set));
    let counts = sets.map(|set| 1 + disjoint_balanced(demand, of & !set));
    counts.max().unwrap_or(0)
}

/// Rolls of 5600 for 13 widths: 73 rolls, and with that waste no fewer than 10 patterns.
/// Source: the worked example of the article "Cutting stock problem" of the English Wikipedia.
#[test]
fn the_paper_machine_of_the_encyclopedia() {
    let pieces = [
        (1380, 22),
        (1520, 25),
        (1560, 12),
        (1710, 14),
        (1820, 18),
        (1880, 18),
        (1930, 20),
        (2000, 10),
        (2050, 12),
        (2100, 14),
        (2140, 16),
        (2150, 18),
        (2200, 20),
    ];
    let cutting = planned(&one_bar(5600, &pieces)).unwrap();
    let (patterns, moves) = claims(&cutting);
    println!("paper machine: {patterns:?}");
    let rolls: usize = cutting.bars.iter().map(|group| group.names.len()).sum();
    assert_eq!(rolls, 73);
    assert_eq!(moves.found, 13);
    assert!(patterns.bound <= Some(10), "{patterns:?}");
    assert!((10..=11).contains(&patterns.found), "{patterns:?}");
}
