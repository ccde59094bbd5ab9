//! How forgiving plans are, spoiled cuts and insurance, on random small jobs against the exhaustive
//! solver, and against cuts that are really spoiled.
//!
//! Run with `--nocapture` to see the shares; `SPOILED_JOBS=1000` in the environment tries that many of
//! each sort, `SPOILED_SEED=17` begins with another than the first.

#![allow(clippy::expect_used, clippy::unwrap_used, clippy::panic)]

use lengthwise::forgiving::forgiving;
use lengthwise::insure::{Insurance, MaterialInsured, Terms, insure};
use lengthwise::job::{Angle, Ends, Joints, PieceRow, StockRow};
use lengthwise::plan::{BarGroup, Cutting, LARGEST_SPARE, Outcome, Preference, Proof};
use lengthwise::spoiled::{Recut, spoiled};
use lengthwise::{Job, JobInput, Length, Limits, Plan, solve, verify};
use lengthwise_tests::answer::units;
use lengthwise_tests::exhaustive::exhaustive;
use lengthwise_tests::generate::small::{Sales, small_job};
use lengthwise_tests::generate::small_runs::{Sort, small_run_job};
use lengthwise_tests::generate::stream::Stream;
use lengthwise_tests::rows::{checked, origin, plain_stock};
use lengthwise_tests::run_oracle::{Split, effort, least, splits};
use lengthwise_tests::small::{SmallBar, SmallHand, SmallJob, SmallSold};
use lengthwise_tests::small_runs::{RunJob, SmallJoints};
use lengthwise_tests::spoiling::{least_to_survive, survives};
use lengthwise_tests::tally::number;

/// Jobs of each sort.
const JOBS: u64 = 150;

fn seeds() -> std::ops::Range<u64> {
    let first = number("SPOILED_SEED").unwrap_or(1);
    first..first + number("SPOILED_JOBS").unwrap_or(JOBS)
}

fn both_sales(seed: u64) -> SmallJob {
    let sales = if seed.is_multiple_of(3) {
        Sales::Mixed
    } else {
        Sales::Single
    };
    small_job(seed, sales)
}

fn cutting(plan: &Plan) -> Option<&Cutting> {
    match &plan.materials[0].outcome {
        Outcome::Planned(cutting) => Some(cutting),
        _ => None,
    }
}

fn plan(job: &Job) -> Plan {
    let plan = solve(job, &Limits::default());
    if let Err(refusal) = verify(job, &plan) {
        panic!("refused: {refusal}");
    }
    plan
}

/// The rows of a small job, some of them with spares, and mitred ends where asked for.
fn rows(small: &SmallJob, stream: &mut Stream, mitred: bool) -> JobInput {
    let mut input = small.input();
    let angle = |hundredths| Angle::from_hundredths(hundredths).unwrap();
    for row in &mut input.pieces {
        if stream.chance(25) {
            row.spare = stream.whole(1, 2).unsigned_abs();
        }
        if mitred {
            row.ends = Ends {
                near: angle(stream.pick(&[9000, 4500, 3000])),
                far: angle(stream.pick(&[9000, 4500, 3000])),
            };
        }
    }
    input
}

/// What the slanted slots of a cut take along a piece: over the sine of 90, 45 and 30 degrees.
fn slots(ends: Ends, width: i128) -> i128 {
    let one = |angle: Angle| match angle.hundredths() {
        9000 => 0,
        3000 => 2 * width,
        4500 => {
            let square = 2 * width * width;
            let root = square.isqrt();
            root + i128::from(root * root < square)
        }
        other => panic!("{other} is not known here"),
    };
    one(ends.near) + one(ends.far)
}

/// Whether a bar holds its pieces, each so much longer, with cuts of this width: DESIGN's rule of
/// fitting in integers of its own.
fn holds(job: &Job, group: &BarGroup, width: i128, longer: i128) -> bool {
    let bar = &job.materials()[0].bars()[group.bar];
    let square = bar.square_off();
    let usable = i128::from(bar.length().nm() - square.near.nm() - square.far.nm());
    let pieces: i128 = group
        .cuts
        .iter()
        .map(|cut| i128::from(cut.length.nm()) + longer + slots(cut.ends, width))
        .sum();
    pieces + (group.cuts.len() as i128 - 1) * width <= usable
}

/// With exactly the widest blade the job is planned again at the same cost and every bar of the plan
/// still holds; with a nanometre more the named bar does not. The same for the largest error.
#[test]
fn how_forgiving_plans_are() {
    let (mut planned, mut limited, mut again, mut mitred) = (0, 0, 0, 0);
    for seed in seeds() {
        let mut stream = Stream::scattered(seed);
        let input = rows(&both_sales(seed), &mut stream, seed.is_multiple_of(4));
        let job = checked(input.clone());
        let first = plan(&job);
        let Some(found) = cutting(&first) else {
            continue;
        };
        planned += 1;
        mitred += u64::from(seed.is_multiple_of(4));
        let material = &job.materials()[0];
        let forgiving = forgiving(material, found).expect("a plan of this material");
        let reserve = i128::from(input.saw.per_cut.nm());
        let named = |bar: &String| found.bars.iter().find(|group| group.names.contains(bar));
        let width = i128::from(material.cut_width().nm());
        let error = forgiving.largest_error.expect("something is cut");
        let most = i128::from(error.limit.nm());
        assert!(
            found
                .bars
                .iter()
                .all(|group| holds(&job, group, width, most))
        );
        assert!(
            !holds(&job, named(&error.bar).unwrap(), width, most + 1),
            "seed {seed}"
        );
        let Some(blade) = forgiving.widest_blade else {
            let any =
                |group: &BarGroup| group.cuts.len() == 1 && group.cuts[0].ends == Ends::SQUARE;
            assert!(found.bars.iter().all(any), "seed {seed}");
            continue;
        };
        limited += 1;
        let width = i128::from(blade.limit.nm()) + reserve;
        assert!(found.bars.iter().all(|group| holds(&job, group, width, 0)));
        let group = named(&blade.bar).unwrap();
        assert!(!holds(&job, group, width + 1, 0), "seed {seed}");
        let tight = found
            .bars
            .iter()
            .filter(|group| !holds(&job, group, width + 1, 0));
        assert_eq!(
            tight.map(|group| group.names.len() as u64).sum::<u64>(),
            blade.bars
        );

        let mut wider = input.clone();
        wider.saw.kerf = blade.limit;
        // A blade wider than a metre or than every bar is a fault of its own.
        let Ok(wider) = wider.validate() else {
            continue;
        };
        let second = plan(&wider);
        let found_again = cutting(&second).expect("the same bars hold it");
        if found.proof == Proof::Optimal && found_again.proof == Proof::Optimal {
            assert_eq!(units(found_again.value), units(found.value), "seed {seed}");
            again += 1;
        }
    }
    println!(
        "how forgiving: {planned} plans, {mitred} with mitred ends; a blade limits {limited}, {again} \
         planned again at the same cost"
    );
    assert!(limited * 2 > planned && again * 2 > limited);
}

/// A bar of a plan as it lies there, in grains: what can be used, square at the near end.
struct Lying {
    name: String,
    rest: i64,
    cuts: Vec<(String, i64)>,
}

/// All bars of a plan in its order, with what is cut from each in turn, spares left out.
fn lying(small: &SmallJob, job: &Job, found: &Cutting) -> Vec<Lying> {
    let grains = |length: Length| length.nm() / small.grain_nm;
    let bar = |group: &BarGroup, at: usize| {
        let square = job.materials()[0].bars()[group.bar].square_off();
        let cuts = group.cuts.iter().filter(|cut| !cut.spare);
        Lying {
            name: group.names[at].clone(),
            rest: grains(group.stock) - grains(square.near) - grains(square.far),
            cuts: cuts
                .map(|cut| (cut.marks[at].clone(), grains(cut.length)))
                .collect(),
        }
    };
    found
        .bars
        .iter()
        .flat_map(|group| (0..group.names.len()).map(move |at| bar(group, at)))
        .collect()
}

/// Cuts one piece off, and what the blade takes of the rest.
fn cut_off(rest: &mut i64, piece: i64, small: &SmallJob) {
    assert!(*rest >= piece, "the plan was verified");
    *rest = (*rest - piece - small.kerf - small.per_cut).max(0);
}

/// What stays whole, in grains of usable length, kind by kind.
fn whole(small: &SmallJob, job: &Job, found: &Cutting) -> Vec<(usize, i64, u64)> {
    let usable = |kind: usize| job.materials()[0].bars()[kind].usable().nm() / small.grain_nm;
    let bars = found.uncut.iter();
    bars.map(|bars| (bars.bar, usable(bars.bar), bars.count))
        .collect()
}

/// Whether these pieces come out of these bars, by the exhaustive solver, at price nothing.
fn come_out_of(small: &SmallJob, bars: &[i64], pieces: &[i64]) -> bool {
    let in_hand = bars
        .iter()
        .filter(|bar| **bar > 0)
        .map(|&length| SmallHand {
            length,
            available: 1,
            square: (0, 0),
            worth: None,
        });
    let left = SmallJob {
        square: (0, 0),
        priced: false,
        pieces: pieces.iter().map(|&piece| (piece, 1)).collect(),
        stock: vec![],
        in_hand: in_hand.collect(),
        ..small.clone()
    };
    exhaustive(&left).is_some()
}

/// Removes each piece in turn and tries every offcut and whole bar by itself.
#[test]
fn where_spoiled_pieces_can_be_cut_again() {
    let (mut planned, mut pieces, mut recut, mut own, mut uncut) = (0, 0, 0, 0, 0);
    for seed in seeds() {
        let small = both_sales(seed);
        let job = checked(rows(&small, &mut Stream::scattered(seed), false));
        let first = plan(&job);
        let Some(found) = cutting(&first) else {
            continue;
        };
        planned += 1;
        let mut bars = lying(&small, &job, found);
        for bar in &mut bars {
            for at in 0..bar.cuts.len() {
                cut_off(&mut bar.rest, bar.cuts[at].1, &small);
            }
        }
        let whole = whole(&small, &job, found);
        let mut answers = spoiled(&job.materials()[0], found).unwrap().into_iter();
        for (place, bar) in bars.iter().enumerate() {
            for (mark, length) in &bar.cuts {
                let answer = answers.next().expect("an answer for each piece");
                assert_eq!(
                    (answer.mark, answer.bar),
                    (mark.as_str(), bar.name.as_str())
                );
                let offcuts: Vec<i64> = bars.iter().map(|bar| bar.rest).collect();
                let yields = |rest: i64| come_out_of(&small, &[rest], &[*length]);
                let from_cut = offcuts.iter().any(|&rest| yields(rest));
                let from_whole = whole.iter().any(|&(_, usable, _)| yields(usable));
                pieces += 1;
                recut += u64::from(from_cut || from_whole);
                match answer.recut {
                    Recut::LeftOf { bar: from, later } => {
                        let at = bars.iter().position(|bar| bar.name == from).unwrap();
                        assert!(yields(offcuts[at]), "seed {seed}: {mark} from {from}");
                        assert_eq!(at == place, yields(bar.rest), "its own first");
                        assert_eq!(later, at > place, "seed {seed}: {mark} from {from}");
                        own += u64::from(at == place);
                        if at != place {
                            let longer = |rest: &&i64| yields(**rest);
                            assert_eq!(offcuts.iter().filter(longer).min(), Some(&offcuts[at]));
                        }
                    }
                    Recut::Uncut { kind } => {
                        let of_kind = whole.iter().find(|(other, ..)| *other == kind);
                        assert!(
                            !from_cut && yields(of_kind.unwrap().1),
                            "seed {seed}: {mark}"
                        );
                        uncut += 1;
                    }
                    Recut::AnotherBar => {
                        assert!(!from_cut && !from_whole, "seed {seed}: {mark}");
                    }
                }
            }
        }
        assert!(answers.next().is_none());
    }
    println!(
        "spoiled cuts: {planned} plans, {pieces} pieces, {recut} can be cut again ({own} of them from \
         their own bar, {uncut} from a whole one)"
    );
    assert!(recut > pieces / 20 && recut < pieces && own > 0 && uncut > 0);
}

fn insured(job: &Job, insurance: Insurance) -> (Job, Plan, MaterialInsured) {
    let insured = insure(job, insurance, &mut |job| solve(job, &Limits::default())).unwrap();
    if let Err(refusal) = verify(&insured.job, &insured.plan) {
        panic!("refused: {refusal}");
    }
    let [material] = <[_; 1]>::try_from(insured.materials).unwrap();
    (insured.job, insured.plan, material)
}

fn against(pieces: u64) -> Insurance {
    Insurance { pieces, bar: false }
}

/// The job with its spares as pieces, so many of them, the longest, made as long as the longest piece; as
/// many more of that as are missing.
fn with_copies(small: &SmallJob, input: &JobInput, copies: u64) -> SmallJob {
    let longest = small
        .pieces
        .iter()
        .map(|(length, _)| *length)
        .max()
        .unwrap();
    let mut more = small.clone();
    let both = small.pieces.iter().zip(&input.pieces);
    let spares = both.flat_map(|(&(length, _), row)| (0..row.spare).map(move |_| length));
    let mut spares: Vec<i64> = spares.collect();
    spares.sort_unstable_by_key(|length| std::cmp::Reverse(*length));
    let copies = usize::try_from(copies).unwrap();
    spares.resize(spares.len().max(copies), 0);
    spares[..copies].fill(longest);
    more.pieces
        .extend(spares.into_iter().map(|length| (length, 1)));
    more
}

fn count(small: &SmallJob) -> u64 {
    small.pieces.iter().map(|(_, qty)| qty).sum()
}

/// The cost with and without insurance is the exhaustive least of the job with its copies.
#[test]
fn what_insurance_costs() {
    let (mut jobs, mut proven, mut refused, mut free, mut standing) = (0, 0, 0, 0, 0);
    let mut nothing = 0;
    for seed in seeds() {
        let small = both_sales(seed);
        let input = rows(&small, &mut Stream::scattered(seed), false);
        for pieces in 1..=2 {
            let more = with_copies(&small, &input, pieces);
            if count(&more) > 9 {
                continue;
            }
            let (_, _, answer) = insured(&checked(input.clone()), against(pieces));
            let without = exhaustive(&with_copies(&small, &input, 0));
            let with = exhaustive(&more);
            jobs += 1;
            match answer {
                MaterialInsured::NothingPlanned => {
                    assert!(without.is_none(), "seed {seed}");
                    nothing += 1;
                }
                MaterialInsured::SeveralBatches => unreachable!("no batches"),
                MaterialInsured::Refused(outcome) => {
                    let is_said = matches!(outcome, Outcome::Impossible(_) | Outcome::Unknown(_));
                    assert!(is_said && with.is_none(), "seed {seed}: {outcome:?}");
                    refused += 1;
                }
                MaterialInsured::Insured(terms) => {
                    let (without, with) = (without.unwrap().value, with.unwrap().value);
                    assert!(units(terms.with) >= with && units(terms.least) <= with);
                    if terms.is_proven() {
                        assert_eq!(units(terms.with), with, "seed {seed}");
                        assert_eq!(units(terms.without), without, "seed {seed}");
                        proven += 1;
                        free += u64::from(with == without);
                    }
                    standing += u64::from(terms.standing > 0);
                }
            }
        }
    }
    println!(
        "insurance: {jobs} jobs, the cost of {proven} proven and as the exhaustive solver has it \
         ({free} cost nothing more, spares of their own count in {standing}), {refused} impossible, \
         {nothing} without it too"
    );
    assert!(proven + refused + nothing + jobs / 100 >= jobs);
    assert!(proven * 10 > jobs * 7 && refused > 0 && free > 0 && standing > 0);
}

/// The state of the floor when a piece of the plan is spoiled: what can be used of every bar, and what
/// is still to be cut, that piece included.
fn spoil(small: &SmallJob, job: &Job, found: &Cutting, nth: usize) -> Option<(Vec<i64>, Vec<i64>)> {
    let mut bars = lying(small, job, found);
    let mut left: Vec<i64> = Vec::new();
    let mut seen = 0;
    for bar in &mut bars {
        for (_, length) in &bar.cuts {
            if seen <= nth {
                cut_off(&mut bar.rest, *length, small);
            }
            if seen >= nth {
                left.push(*length);
            }
            seen += 1;
        }
    }
    let whole = whole(small, job, found).into_iter();
    let whole = whole.flat_map(|(_, usable, count)| (0..count).map(move |_| usable));
    let rests = bars.iter().map(|bar| bar.rest).chain(whole).collect();
    (seen > nth).then_some((rests, left))
}

/// Spoils every piece in turn at the time when it is cut: the rest comes out of what is left, and nothing
/// is bought. Insured against two, every piece is spoiled, the rest planned with one spare more from what
/// is left, and every piece of that plan spoiled too, the one cut in place of the first among them.
#[test]
fn spoiled_pieces_are_made_good_at_no_further_cost() {
    let (mut once, mut twice) = (0, 0);
    for seed in seeds() {
        let small = both_sales(seed);
        for pieces in 1..=2_u64 {
            let (job, first, answer) = insured(&small.job(), against(pieces));
            let (Some(found), MaterialInsured::Insured(_)) = (cutting(&first), &answer) else {
                continue;
            };
            let longest = small
                .pieces
                .iter()
                .map(|(length, _)| *length)
                .max()
                .unwrap();
            for nth in 0.. {
                let Some((bars, left)) = spoil(&small, &job, found, nth) else {
                    break;
                };
                if pieces == 1 {
                    assert!(
                        come_out_of(&small, &bars, &left),
                        "seed {seed}, piece {nth}"
                    );
                    once += 1;
                    continue;
                }
                // The second spoil is played against a plan of the rest.
                if left.len() > 4 || seed.is_multiple_of(2) {
                    continue;
                }
                let mut rest = SmallJob {
                    pieces: left.iter().map(|&piece| (piece, 1)).collect(),
                    stock: vec![],
                    square: (0, 0),
                    in_hand: bars
                        .iter()
                        .filter(|bar| **bar > 0)
                        .map(|&length| SmallHand {
                            length,
                            available: 1,
                            square: (0, 0),
                            worth: None,
                        })
                        .collect(),
                    ..small.clone()
                };
                rest.pieces.push((longest, 1));
                let mut input = rest.input();
                let spare = input.pieces.pop().unwrap();
                // A blade as wide as what is left is a fault of its own.
                let Ok(rest_job) = input.validate() else {
                    continue;
                };
                // A spare of the longest of the whole job, beside the first row.
                let job = rest_job.with_reserves(&[vec![lengthwise::job::Reserve {
                    mark: "kept".to_owned(),
                    shape: lengthwise::job::Shape::square(spare.length.length),
                    count: 1,
                    is_bar: false,
                }]]);
                let job = job.unwrap();
                let second = plan(&job);
                let found = cutting(&second).unwrap_or_else(|| {
                    panic!("seed {seed}, piece {nth}: {:?}", second.materials[0])
                });
                for nth in 0.. {
                    let Some((bars, left)) = spoil(&rest, &job, found, nth) else {
                        break;
                    };
                    assert!(come_out_of(&rest, &bars, &left), "seed {seed}, then {nth}");
                    twice += 1;
                }
            }
        }
    }
    println!("{once} pieces spoiled once, {twice} sequences of two, all made good");
    assert!(once > 100 && twice > 50);
}

/// The game against an opponent who may spoil any cut: the insured cost is exactly the least of all
/// mixes of bars that survive it. So the spares are enough, and no cheaper bars would do.
#[test]
fn no_cheaper_bars_survive() {
    let (mut jobs, mut dearer, mut none, mut own) = (0, 0, 0, 0);
    for seed in seeds() {
        let small = small_job(seed, Sales::Single);
        let kinds = small.stock.len() + small.in_hand.len();
        for spoils in 1..=2 {
            if kinds > 3 || count(&small) + spoils > 5 {
                continue;
            }
            let survived = least_to_survive(&small, spoils);
            let mut input = small.input();
            if seed.is_multiple_of(2)
                && let Some(row) = input.pieces.last_mut()
            {
                // Shorter than the longest or not: it saves one of those that the insurance takes.
                row.spare = 1;
                own += 1;
            }
            let (_, _, answer) = insured(&checked(input), against(spoils));
            jobs += 1;
            match answer {
                MaterialInsured::Insured(terms) => {
                    let survived = survived.expect("there is a plan");
                    assert!(units(terms.with) >= survived && units(terms.least) <= survived);
                    assert!(
                        !terms.is_proven() || units(terms.with) == survived,
                        "seed {seed}"
                    );
                    dearer += u64::from(terms.with > terms.without);
                }
                _ => {
                    assert_eq!(survived, None, "seed {seed}");
                    none += 1;
                }
            }
        }
    }
    println!(
        "games: {jobs}, insured at the least that survives; {dearer} cost more, {none} impossible, {own} \
         with a spare of their own"
    );
    assert!(jobs > 20 && dearer > 5 && none > 0 && own > 5);
}

/// One bad bar: whichever bar is cut into, the others hold everything. What it costs is the exhaustive
/// least with one piece as long as the bar, and lies where the least of all kinds does.
#[test]
fn a_bad_bar_is_made_good() {
    let (mut jobs, mut bars_lost, mut exact, mut refused, mut in_vain) = (0, 0, 0, 0, 0);
    let (mut kept_whole, mut more_to_spare) = (0, 0);
    for seed in seeds() {
        let small = both_sales(seed);
        let insurance = Insurance {
            pieces: 0,
            bar: true,
        };
        let (job, plan, answer) = insured(&small.job(), insurance);
        let best = least_with_bad_bar(&small);
        let terms: Terms = match answer {
            MaterialInsured::Insured(terms) => *terms,
            MaterialInsured::NothingPlanned | MaterialInsured::SeveralBatches => continue,
            MaterialInsured::Refused(outcome) => {
                let is_impossible = matches!(outcome, Outcome::Impossible(_));
                assert!(!is_impossible || best.is_none(), "seed {seed}: {best:?}");
                refused += 1;
                in_vain += u64::from(best.is_some());
                continue;
            }
        };
        jobs += 1;
        let best = best.expect("there is an insured plan");
        let (with, least) = (units(terms.with), units(terms.least));
        assert!(
            least <= best && best <= with,
            "seed {seed}: {least} {best} {with}"
        );
        exact += u64::from(best == with);
        let found = cutting(&plan).unwrap();
        kept_whole += u64::from(found.bars.iter().any(BarGroup::is_kept_whole));
        more_to_spare += u64::from(has_most_to_spare(&small, &terms, found));
        let bars = lying(&small, &job, found);
        let pieces: Vec<i64> = bars
            .iter()
            .flat_map(|bar| bar.cuts.iter().map(|(_, length)| *length))
            .collect();
        let whole = whole(&small, &job, found);
        for bad in 0..bars.len() {
            let others = bars.iter().enumerate().filter(|(at, _)| *at != bad);
            let whole = whole.iter();
            let whole = whole.flat_map(|&(_, usable, count)| (0..count).map(move |_| usable));
            let left: Vec<i64> = others.map(|(_, bar)| bar.rest).chain(whole).collect();
            assert!(
                come_out_of(&small, &left, &pieces),
                "seed {seed}, bar {bad}"
            );
            bars_lost += 1;
        }
    }
    println!(
        "bad bars: {jobs} jobs, {bars_lost} bars lost, all made good; {exact} at the least there is, \
         {refused} refused, {in_vain} of them though a plan with shorter bars would survive; \
         {kept_whole} with a bar kept whole, in {more_to_spare} the smallest spare checked"
    );
    assert!(kept_whole > 20);
    assert!(in_vain * 20 <= jobs);
    assert!(bars_lost > 100 && exact * 100 >= jobs * 97);
}

/// Bars and the room for one are shorter by a little more than the plan has to spare: it costs more then,
/// where the plan says that no other has more to spare. Whether that was checked.
fn has_most_to_spare(small: &SmallJob, terms: &Terms, found: &Cutting) -> bool {
    let Preference::Offcuts { spare, .. } = &found.preference else {
        return false;
    };
    let room = terms.reserves.iter().find(|reserve| reserve.is_bar);
    let singly = small.stock.iter().all(|bar| bar.sold == SmallSold::Each);
    let is_ours = small.priced && singly && small.in_hand.is_empty();
    let Some(room) = room.filter(|_| is_ours && spare.is_proven() && terms.longest_bar.is_none())
    else {
        return false;
    };
    let more = spare.found.nm() / small.grain_nm + 1;
    if more * small.grain_nm > LARGEST_SPARE.nm() || found.proof != Proof::Optimal {
        return false;
    }
    let mut shorter = small.clone();
    for bar in &mut shorter.stock {
        bar.length -= more;
    }
    let usable = |bar: &SmallBar| bar.length - small.square.0 - small.square.1;
    shorter.stock.retain(|bar| usable(bar) > 0);
    shorter
        .pieces
        .push((room.shape.length.nm() / small.grain_nm - more, 1));
    let best = exhaustive(&shorter).map(|best| best.value);
    assert!(
        best.is_none_or(|best| best > units(found.value)),
        "{small:?}: {spare:?}, though {best:?}"
    );
    true
}

/// The least that bars cost of which one of the longest kind may be bad: over all kinds that may be the
/// longest, the job with one more piece as long as that has to use, from bars no longer.
fn least_with_bad_bar(small: &SmallJob) -> Option<i128> {
    let of_stock = |bar: &SmallBar| bar.length - small.square.0 - small.square.1;
    let of_hand = |bar: &SmallHand| bar.length - bar.square.0 - bar.square.1;
    let kinds = small.stock.iter().map(of_stock);
    let kinds = kinds.chain(small.in_hand.iter().map(of_hand));
    let costs = kinds.filter(|usable| *usable > 0).filter_map(|usable| {
        let mut limited = small.clone();
        // Bars that are longer stay, so that what is judged by stays: there are none of them.
        for bar in &mut limited.stock {
            if of_stock(bar) > usable {
                bar.available = Some(0);
            }
        }
        limited.in_hand.retain(|bar| of_hand(bar) <= usable);
        limited.pieces.push((usable, 1));
        let has_hand = small.in_hand.iter().any(|bar| bar.worth.is_some());
        let keeps = !small.stock.is_empty()
            || !has_hand
            || limited.in_hand.iter().any(|bar| bar.worth.is_some());
        keeps
            .then(|| exhaustive(&limited))
            .flatten()
            .map(|best| best.value)
    });
    costs.min()
}

/// Runs: no part of the insured plan is longer than the spares; it costs what the exhaustive solver says
/// for those spares; and the least of all ways to split and insure lies between what is claimed.
#[test]
fn insured_runs() {
    let (mut jobs, mut exact, mut proven, mut grown) = (0, 0, 0, 0);
    let (mut impossible, mut open, mut in_vain, mut shorter_bars) = (0, 0, 0, 0);
    for seed in seeds() {
        let mut small = small_run_job(seed, Sort::Alone);
        let spoils = if seed.is_multiple_of(2) { 2 } else { 1 };
        if spoils == 2 {
            one_long_bar(&mut small, &mut Stream::scattered(seed));
        }
        let is_square = |run: &lengthwise_tests::small_runs::SmallRun| {
            run.ends == (90, 90) && run.joint_gap % 2 == 0 && run.spare == 0
        };
        if !small.runs.iter().all(is_square) {
            continue;
        }
        let splits = splits(&small);
        let mut more = small.clone();
        more.base.pieces.push((1, spoils));
        if splits.iter().any(Vec::is_empty) || effort(&more, &splits) > 2e7 {
            continue;
        }
        let (job, plan, answer) = insured(&small.job(), against(spoils));
        let terms = match answer {
            MaterialInsured::Insured(terms) => terms,
            MaterialInsured::NothingPlanned | MaterialInsured::SeveralBatches => continue,
            MaterialInsured::Refused(outcome) => {
                let best = least_insured(&small, &splits, spoils);
                if matches!(outcome, Outcome::Impossible(_)) {
                    assert_eq!(best, None, "seed {seed}");
                    impossible += 1;
                } else {
                    open += 1;
                    in_vain += u64::from(best.is_some());
                }
                continue;
            }
        };
        jobs += 1;
        shorter_bars += u64::from(terms.longest_bar.is_some());
        let [spare] = terms.reserves.as_slice() else {
            panic!("one kind of spare, seed {seed}");
        };
        let found = cutting(&plan).unwrap();
        let cuts = || found.bars.iter().flat_map(|group| &group.cuts);
        assert!(
            cuts().all(|cut| cut.length <= spare.shape.length),
            "seed {seed}"
        );
        assert!(
            job.materials()[0]
                .pieces()
                .iter()
                .any(|piece| piece.is_spare())
        );
        let grain = small.base.grain_nm;
        assert_eq!(spare.shape.length.nm() % grain, 0);
        more.base.pieces.pop();
        more.base
            .pieces
            .push((spare.shape.length.nm() / grain, spoils));
        let value = least(&more, &splits).unwrap().value;
        if found.proof == Proof::Optimal && terms.longest_bar.is_none() {
            assert_eq!(units(terms.with), value, "seed {seed}");
        }
        let best = least_insured(&small, &splits, spoils).expect("there is an insured plan");
        let (with, low) = (units(terms.with), units(terms.least));
        assert!(
            low <= best && best <= with,
            "seed {seed}: {low} {best} {with}"
        );
        exact += u64::from(best == with);
        proven += u64::from(low == with);
        grown += u64::from(low < with);
    }
    println!(
        "insured runs: {jobs} jobs, {exact} at the least there is, {proven} of them proven, {grown} with \
         a bound below; {shorter_bars} from shorter bars; {impossible} impossible, {open} open, \
         {in_vain} of them though there is a plan"
    );
    assert!(impossible > 0 && shorter_bars > 0);
    // Without the long bars it mostly costs more than it need; the bound says how much.
    assert!(jobs > 20 && exact * 10 > (jobs - shorter_bars) * 7 && proven > 0);
}

/// One run, and one bar so cheap that its longest part lies on it, whose spare has no place then; shorter
/// bars hold the run with more joints.
fn one_long_bar(small: &mut RunJob, stream: &mut Stream) {
    let unit = stream.whole(80, 120);
    let supports = stream.whole(2, 4);
    small.base.pieces.clear();
    small.base.in_hand.clear();
    small.base.square = (0, 0);
    small.base.priced = true;
    let bar = |length, pence, available| SmallBar {
        length,
        pence,
        sold: SmallSold::Each,
        available,
    };
    small.base.stock = vec![
        bar(2 * unit + stream.whole(0, 9), stream.whole(1, 90), Some(1)),
        bar(unit + stream.whole(0, 9), stream.whole(200, 400), None),
    ];
    small.runs.truncate(1);
    for run in &mut small.runs {
        run.length = unit * supports;
        run.qty = 1;
        run.joints = SmallJoints::At((1..supports).map(|at| at * unit).collect());
        run.joints_max = Some(supports.unsigned_abs());
        run.shortest = Some(unit / 2);
        (run.spare, run.end_gap, run.joint_gap) = (0, (0, 0), 0);
        (run.ends, run.course) = ((90, 90), None);
    }
}

/// The least over all lengths of a spare: the job with it, parted so that nothing is longer.
fn least_insured(small: &RunJob, splits: &[Vec<Split>], spoils: u64) -> Option<i128> {
    let grain = small.base.grain_nm;
    let parts = splits.iter().flatten().flat_map(|split| &split.takes);
    let pieces = small.base.pieces.iter().map(|(length, _)| length * grain);
    let longest_piece = pieces.clone().max().unwrap_or(0);
    let mut lengths: Vec<i64> = parts.copied().chain(pieces).collect();
    lengths.sort_unstable();
    lengths.dedup();
    let costs = lengths
        .into_iter()
        .filter(|length| *length >= longest_piece);
    let costs = costs.filter_map(|length| {
        assert_eq!(length % grain, 0);
        let short = |split: &&Split| split.takes.iter().all(|&takes| takes <= length);
        let splits: Vec<Vec<Split>> = splits
            .iter()
            .map(|splits| splits.iter().filter(short).cloned().collect())
            .collect();
        if splits.iter().any(Vec::is_empty) {
            return None;
        }
        let mut more = small.clone();
        more.base.pieces.push((length / grain, spoils));
        least(&more, &splits).map(|best| best.value)
    });
    costs.min()
}

/// Mitred ends: the piece that takes most of a bar is insured, which need not be the longest. The
/// slots of 3 mm at 30 degrees take 6 mm each: 990 takes 1002, 1000 takes 1000.
#[test]
fn what_takes_most_is_insured() {
    let mm = |length| lengthwise_tests::rows::mm(length);
    let angle = Angle::from_hundredths(3000).unwrap();
    let rows = lengthwise_tests::rows::Rows::with_kerf(Length::from_mm(3));
    let rows = rows.marked_piece("long", mm(1000), 1);
    let rows = rows.piece_with(mm(990), |row: &mut PieceRow| {
        row.mark = "mitred".to_owned();
        row.ends = Ends {
            near: angle,
            far: angle,
        };
    });
    let (_, _, answer) = insured(&rows.stock(mm(2005), None).job(), against(1));
    let MaterialInsured::Insured(terms) = answer else {
        panic!("there is a plan");
    };
    assert_eq!(terms.reserves[0].mark, "mitred-spare");
    // 1002 + 3 + 1000 = 2005 hold both; the spare takes another bar.
    assert!(terms.is_proven());
    assert_eq!(units(terms.without), 2_005_000_000);
    assert_eq!(units(terms.with), 4_010_000_000);
    assert!(survives(&[2005, 2005], &[1000, 1002], 1, 3));
}

/// Parts of 2000 are cheapest and their spares have no place, those of 1000 have: from the bars of 1000,
/// five of which at 5.00 hold three parts and two spares.
#[test]
fn spares_that_have_no_place_do_not_make_the_insurance_impossible() {
    let mm = |length| lengthwise_tests::rows::mm(length);
    let price = |text| lengthwise::Price::parse(text, false).unwrap();
    let rows = lengthwise_tests::rows::Rows::with_kerf(Length::from_mm(3));
    let rows = rows.piece_with(mm(3000), |row: &mut PieceRow| {
        row.mark = "R".to_owned();
        row.joints = Some(Joints::At(vec![
            Length::from_mm(1000),
            Length::from_mm(2000),
        ]));
        row.joints_max = Some(2);
        row.shortest = Some(Length::from_mm(500));
    });
    let mut input = rows.input();
    for (line, length, each, available) in [(0, 2000, "1", Some(1)), (1, 1000, "5", None)] {
        input.stock.push(StockRow {
            price: Some(price(each)),
            available,
            ..plain_stock(origin("stock", line), mm(length), None)
        });
    }
    let (_, _, answer) = insured(&checked(input), against(2));
    let MaterialInsured::Insured(terms) = answer else {
        panic!("{answer:?}");
    };
    assert_eq!(terms.longest_bar, Some(Length::from_mm(1000)));
    assert_eq!(units(terms.with), 2_500_000_000_000);
}

/// Spares may lie alone on bars longer than any that pieces are cut from: such a bar is not cut into before
/// something is spoiled, so the bad one is shorter. Two pieces of 1400 from two bars of 1500 at 6.00, a third kept
/// whole, and both spares on one of 3000 at 10.00: 28.00, and so no more is proven.
#[test]
fn spares_on_longer_bars_are_not_left_out_of_what_is_proven() {
    let mm = |length| lengthwise_tests::rows::mm(length);
    let price = |text| lengthwise::Price::parse(text, false).unwrap();
    let rows = lengthwise_tests::rows::Rows::with_kerf(Length::from_mm(3));
    let stock = |line, length, each| StockRow {
        price: Some(price(each)),
        ..plain_stock(origin("stock", line), mm(length), None)
    };
    let least = |pieces, spares| {
        let row = |row: &mut PieceRow| {
            row.qty = 2.into();
            row.spare = spares;
        };
        let mut input = rows.clone().piece_with(mm(1400), row).input();
        input.stock = vec![stock(0, 3000, "10"), stock(1, 1500, "6")];
        let insurance = Insurance { pieces, bar: true };
        let (_, _, answer) = insured(&checked(input), insurance);
        let MaterialInsured::Insured(terms) = answer else {
            panic!("{answer:?}");
        };
        assert!(units(terms.least) <= units(terms.with));
        units(terms.least)
    };
    let unit = units(lengthwise::plan::Value::Money(price("1")));
    assert!(least(2, 0) <= 28 * unit);
    assert!(least(0, 2) <= 28 * unit);
    // Without other spares all of it is exact: both pieces from one of 3000, and one kept, or three of 1500.
    assert_eq!(least(0, 0), 18 * unit);
}
