//! `verify` against an oracle of its own: does a certificate still carry the plan's claims once one
//! of its prices has been changed?
//!
//! The oracle goes by the definition of a certificate alone and by brute force: the best pieces on a
//! bar from every pattern there is, every mix of bars in turn. Source of the definition: the
//! documentation of `Certificate` and `MixProof`; of the theory behind it, linear-programming
//! duality and Farkas' lemma (textbook).
//!
//! Run with `--nocapture` to see how many of the changes break the proof; `CERTIFICATES=200` in the
//! environment takes that many of each sort.

#![allow(clippy::expect_used, clippy::panic)]

use lengthwise::plan::{Certificate, Cutting, MixProof, Outcome, Proof, SearchedMix};
use lengthwise::verify::{Breach, Trust};
use lengthwise::{Job, Plan, solve, verify};
use lengthwise_tests::answer::units;
use lengthwise_tests::exhaustive::counts_money;
use lengthwise_tests::generate::small::{Sales, small_job};
use lengthwise_tests::generate::stream::Stream;
use lengthwise_tests::small::{SmallBar, SmallHand, SmallJob, SmallSold};
use lengthwise_tests::tally::number;

/// Certificates of each sort whose prices are changed: proven by the first prices alone; proven
/// with the help of mixes; and with something to prove about the bars in hand.
const OF_EACH_SORT: usize = 20;
/// Seeds that are tried until there are enough.
const MOST_SEEDS: u64 = 20_000;

/// A kind of bar as the oracle sees it, lengths in grains.
struct Kind {
    capacity: i64,
    /// Cost of one sale, in the units of [`units`].
    sale: i128,
    per_sale: u64,
    available: Option<u64>,
    /// Length that counts as cut into from hand, in nanometres.
    hand_nm: i128,
}

struct Oracle {
    kinds: Vec<Kind>,
    /// Size and demand of each distinct length, longest first.
    items: Vec<(i64, u64)>,
    pieces: u64,
}

impl Oracle {
    fn of(job: &SmallJob) -> Oracle {
        let cut = job.kerf + job.per_cut;
        let money = counts_money(job);
        let bought = job.stock.iter().map(|bar| Kind {
            capacity: bar.length - job.square.0 - job.square.1 + cut,
            sale: sale_cost(job, bar, money),
            per_sale: per_sale(bar),
            available: bars_available(job, bar),
            hand_nm: 0,
        });
        let in_hand = job.in_hand.iter().map(|bar| Kind {
            capacity: bar.length - bar.square.0 - bar.square.1 + cut,
            sale: if money {
                i128::from(bar.worth.unwrap_or(0)) * 1_000_000_000
            } else {
                0
            },
            per_sale: 1,
            available: Some(bar.available),
            hand_nm: i128::from(bar.length) * i128::from(job.grain_nm),
        });
        let mut sizes: Vec<i64> = job
            .pieces
            .iter()
            .flat_map(|&(length, qty)| (0..qty).map(move |_| length + cut))
            .collect();
        sizes.sort_unstable_by(|a, b| b.cmp(a));
        Oracle {
            // A bar of which the allowances leave nothing is no bar of the job.
            kinds: bought
                .chain(in_hand)
                .filter(|kind| kind.capacity > cut)
                .collect(),
            items: sizes
                .chunk_by(|a, b| a == b)
                .map(|alike| (alike[0], alike.len() as u64))
                .collect(),
            pieces: sizes.len() as u64,
        }
    }

    /// The most that pieces on one bar are worth, from every pattern.
    fn best(&self, prices: &[i64], capacity: i64) -> i128 {
        best(&self.items, prices, capacity)
    }

    fn worth(&self, prices: &[i64]) -> i128 {
        let all = self.items.iter().zip(prices);
        all.map(|(&(_, demand), &price)| i128::from(demand) * i128::from(price))
            .sum()
    }

    /// The bound that the first prices prove, as a cost; `None` where they break their own rule.
    fn root(&self, certificate: &Certificate) -> Option<i128> {
        let prices: Vec<i64> = certificate.prices.iter().map(|&(_, price)| price).collect();
        let scale = i128::from(certificate.scale);
        if scale < 1 || prices.iter().any(|&price| price < 0) {
            return None;
        }
        let common = self.kinds.iter().fold(1, |common, kind| {
            let per_sale = i128::from(kind.per_sale);
            common / gcd(common, per_sale) * per_sale
        });
        let per_bar = |kind: &Kind| kind.sale * common / i128::from(kind.per_sale);
        let unit = self.kinds.iter().map(per_bar).fold(0, gcd).max(1);
        let mut net = self.worth(&prices);
        for kind in &self.kinds {
            let over = self.best(&prices, kind.capacity) - scale * (per_bar(kind) / unit);
            match kind.available {
                None if over > 0 => return None,
                None => {}
                Some(bars) => net -= i128::from(bars) * over.max(0),
            }
        }
        let step = self.kinds.iter().map(|kind| kind.sale).fold(0, gcd);
        if net <= 0 || step == 0 {
            return Some(0);
        }
        // The least multiple of a step with `steps * step >= net / scale * unit / common`.
        let whole = scale * step * common;
        Some((net * unit + whole - 1) / whole * step)
    }

    /// Whether every mix that `counts` is refuted by prices or within a searched one.
    fn refutes_all(&self, certificate: &Certificate, counts: &dyn Fn(i128, i128) -> bool) -> bool {
        let refutations: Vec<(i128, Vec<i128>)> = certificate
            .mixes
            .refutations
            .iter()
            .map(|prices| {
                let holds = self.kinds.iter();
                let holds = holds.map(|kind| self.best(prices, kind.capacity));
                (self.worth(prices), holds.collect())
            })
            .collect();
        self.mixes().iter().all(|mix| {
            let (cost, hand) = self.cost_and_hand(mix);
            !counts(cost, hand)
                || refutations.iter().any(|(worth, holds)| {
                    let held = holds.iter().zip(mix);
                    held.map(|(held, &bars)| held * i128::from(bars))
                        .sum::<i128>()
                        < *worth
                })
                || certificate
                    .mixes
                    .searched
                    .iter()
                    .any(|searched| self.is_within(mix, &searched.bars))
        })
    }

    fn cost_and_hand(&self, mix: &[u64]) -> (i128, i128) {
        let per_kind = || self.kinds.iter().zip(mix);
        let cost = per_kind().map(|(kind, &bars)| kind.sale * i128::from(bars / kind.per_sale));
        let hand = per_kind().map(|(kind, &bars)| kind.hand_nm * i128::from(bars));
        (cost.sum(), hand.sum())
    }

    /// Every number of whole sales of every kind, more bars than pieces only to make a sale whole.
    fn mixes(&self) -> Vec<Vec<u64>> {
        let mut mixes = vec![vec![]];
        for kind in &self.kinds {
            let sales = self.pieces.div_ceil(kind.per_sale);
            let there = kind.available.map_or(sales, |bars| bars / kind.per_sale);
            let counts = 0..=sales.min(there);
            mixes = mixes
                .into_iter()
                .flat_map(|mix: Vec<u64>| {
                    counts.clone().map(move |sales| {
                        let mut longer = mix.clone();
                        longer.push(sales * kind.per_sale);
                        longer
                    })
                })
                .collect();
        }
        mixes
    }

    /// Bar by bar, the longest with the longest.
    fn is_within(&self, mix: &[u64], other: &[u64]) -> bool {
        let bars = |mix: &[u64]| {
            let kinds = self.kinds.iter().zip(mix);
            let mut bars: Vec<i64> = kinds
                .flat_map(|(kind, &bars)| (0..bars).map(|_| kind.capacity))
                .collect();
            bars.sort_unstable_by(|a, b| b.cmp(a));
            bars
        };
        let (mix, other) = (bars(mix), bars(other));
        mix.len() <= other.len() && mix.iter().zip(&other).all(|(a, b)| a <= b)
    }

    /// Whether what the plan claims follows from its certificate.
    fn carries(&self, cutting: &Cutting) -> bool {
        let certificate = &cutting.certificate;
        let refutations = &certificate.mixes.refutations;
        if refutations.iter().flatten().any(|&price| price < 0) {
            return false;
        }
        let Some(root) = self.root(certificate) else {
            return false;
        };
        let (claim, value) = (units(cutting.bound), units(cutting.value));
        let by_bound = self.refutes_all(certificate, &|cost, _| (root..claim).contains(&cost));
        by_bound
            && (cutting.hand_proof != Proof::Optimal || {
                let from_hand = i128::from(cutting.figures.hand_cut_into.nm());
                self.refutes_all(certificate, &|cost, hand| cost == value && hand < from_hand)
            })
    }
}

fn best(items: &[(i64, u64)], prices: &[i64], room: i64) -> i128 {
    let (Some((&(size, demand), items)), Some((&price, prices))) =
        (items.split_first(), prices.split_first())
    else {
        return 0;
    };
    let counts = (0..=demand).take_while(|&count| size * count as i64 <= room);
    counts
        .map(|count| {
            i128::from(price) * i128::from(count) + best(items, prices, room - size * count as i64)
        })
        .max()
        .unwrap_or(0)
}

fn gcd(a: i128, b: i128) -> i128 {
    if b == 0 { a } else { gcd(b, a % b) }
}

fn per_sale(bar: &SmallBar) -> u64 {
    match bar.sold {
        SmallSold::Pack(bars) => u64::from(bars),
        SmallSold::Each | SmallSold::PerMetre => 1,
    }
}

/// Pence are 10^-2 of money, nanometres 10^-9 of a metre, and money is counted in 10^-11.
fn sale_cost(job: &SmallJob, bar: &SmallBar, money: bool) -> i128 {
    let nm = i128::from(bar.length) * i128::from(job.grain_nm);
    match bar.sold {
        _ if !money => nm * i128::from(per_sale(bar)),
        SmallSold::PerMetre => i128::from(bar.pence) * nm,
        SmallSold::Each | SmallSold::Pack(_) => i128::from(bar.pence) * 1_000_000_000,
    }
}

fn bars_available(job: &SmallJob, bar: &SmallBar) -> Option<u64> {
    let sales = bar.available?;
    Some(match bar.sold {
        SmallSold::PerMetre => {
            let nm = bar.length.unsigned_abs() * job.grain_nm.unsigned_abs();
            sales * 1_000_000_000 / nm
        }
        SmallSold::Each | SmallSold::Pack(_) => sales * per_sale(bar),
    })
}

/// Up to a dozen pieces from two or three lengths at prices about by length, one bar or two in hand:
/// here the bound and the best plan are seldom the same at first.
fn larger_job(seed: u64) -> SmallJob {
    let mut stream = Stream::scattered(seed);
    let stream = &mut stream;
    let longest = stream.pick(&[30, 60, 300]);
    let mut job = SmallJob {
        grain_nm: 10_000_000,
        kerf: stream.pick(&[0, 0, 1]),
        per_cut: 0,
        square: (0, 0),
        priced: stream.chance(75),
        pieces: vec![],
        stock: vec![],
        in_hand: vec![],
    };
    for _ in 0..stream.pick(&[2, 2, 3]) {
        let length = stream.whole(longest / 2, longest);
        job.stock.push(SmallBar {
            length,
            pence: 10 * length + stream.whole(1, 9),
            sold: SmallSold::Each,
            available: stream.chance(25).then(|| stream.whole(1, 4).unsigned_abs()),
        });
    }
    if stream.chance(50) {
        job.in_hand.push(SmallHand {
            length: stream.whole(longest / 2, longest),
            available: stream.pick(&[1, 2]),
            square: (0, 0),
            worth: (job.priced && stream.chance(50)).then(|| stream.whole(1, 5 * longest)),
        });
    }
    for _ in 0..stream.whole(3, 5) {
        let length = stream.whole(longest / 6, longest / 2);
        job.pieces.push((length, stream.pick(&[1, 2, 2, 3])));
    }
    job
}

/// A solved job, and where its claims come from.
struct Solved {
    name: String,
    job: Job,
    plan: Plan,
    oracle: Oracle,
    by_mixes: bool,
    about_hand: bool,
}

impl Solved {
    /// `None` where there is no plan.
    fn of(name: String, small: &SmallJob) -> Option<Solved> {
        let job = small.job();
        let plan = solve(&job, &Default::default());
        let cutting = cutting(&plan)?;
        let oracle = Oracle::of(small);
        let root = oracle.root(&cutting.certificate);
        let by_mixes = root.expect("the prices keep their own rule") < units(cutting.bound);
        let settled = cutting.hand_proof == Proof::Optimal;
        let about_hand = settled && cutting.figures.hand_cut_into.nm() > 0;
        Some(Solved {
            name,
            job,
            oracle,
            by_mixes,
            about_hand,
            plan,
        })
    }

    /// The mixes that need a reason besides the first prices.
    fn open_mixes(&self, plan: &Plan) -> Vec<Vec<u64>> {
        let cutting = cutting(plan).expect("a plan");
        let root = self.oracle.root(&cutting.certificate).expect("a bound");
        let (claim, value) = (units(cutting.bound), units(cutting.value));
        let from_hand = match cutting.hand_proof {
            Proof::Optimal => i128::from(cutting.figures.hand_cut_into.nm()),
            Proof::Gap(_) => 0,
            other => panic!("a proof that is not known here: {other:?}"),
        };
        let mut mixes = self.oracle.mixes();
        mixes.retain(|mix| {
            let (cost, hand) = self.oracle.cost_and_hand(mix);
            (root..claim).contains(&cost) || (cost == value && hand < from_hand)
        });
        mixes
    }

    /// Compares the two verdicts; whether the claims are carried.
    fn compare(&self, plan: &Plan, what: &str) -> bool {
        let expected = self.oracle.carries(cutting(plan).expect("a plan"));
        let verdict = verify(&self.job, plan);
        let name = &self.name;
        match &verdict {
            Ok(verified) => {
                let trust = verified.materials.iter().flat_map(|one| &one.on_trust);
                for trust in trust {
                    // Small as the jobs are, nothing else may be left unchecked.
                    assert!(
                        matches!(trust, Trust::Searched { .. } | Trust::Preference),
                        "{name}, {what}: {trust:?}"
                    );
                }
            }
            Err(refusal) => assert!(
                matches!(
                    refusal.breach,
                    Breach::BoundNotProven { .. }
                        | Breach::HandNotProven { .. }
                        | Breach::PricesAboveCost { .. }
                        | Breach::CertificatePrice { .. }
                        | Breach::RefutationPrice { .. }
                ),
                "{name}, {what}: {refusal}"
            ),
        }
        assert_eq!(
            verdict.is_ok(),
            expected,
            "{name}, {what}: {verdict:?}\n{:#?}",
            cutting(plan).map(|cutting| &cutting.certificate)
        );
        expected
    }
}

fn cutting(plan: &Plan) -> Option<&Cutting> {
    match &plan.materials.first()?.outcome {
        Outcome::Planned(cutting) => Some(cutting),
        _ => None,
    }
}

fn certificate(plan: &mut Plan) -> &mut Certificate {
    match &mut plan.materials[0].outcome {
        Outcome::Planned(cutting) => &mut cutting.certificate,
        other => panic!("there is no plan: {other:?}"),
    }
}

/// The first jobs of each sort, small and larger in turn.
fn solved_jobs() -> Vec<Solved> {
    let wanted = number("CERTIFICATES").map_or(OF_EACH_SORT, |wanted| wanted as usize); // far below 2^32
    let seeds = (1..=MOST_SEEDS).flat_map(|seed| {
        [
            (format!("small job {seed}"), small_job(seed, Sales::Mixed)),
            (format!("larger job {seed}"), larger_job(seed)),
        ]
    });
    let (mut plain, mut by_mixes, mut about_hand) = (vec![], vec![], vec![]);
    for (name, small) in seeds {
        let Some(solved) = Solved::of(name, &small) else {
            continue;
        };
        let sort = match (solved.by_mixes, solved.about_hand) {
            (true, _) => &mut by_mixes,
            (false, true) => &mut about_hand,
            (false, false) => &mut plain,
        };
        if sort.len() < wanted {
            sort.push(solved);
        }
        if [&plain, &by_mixes, &about_hand].map(Vec::len) == [wanted; 3] {
            break;
        }
    }
    let all: Vec<Solved> = by_mixes
        .into_iter()
        .chain(about_hand)
        .chain(plain)
        .collect();
    assert_eq!(all.len(), 3 * wanted, "not enough jobs of each sort");
    all
}

/// A price a little and a lot dearer and cheaper.
fn changes(price: i64, scale: i64) -> Vec<i64> {
    let by = |more: i64| price.saturating_add(more);
    let mut all = vec![
        by(1),
        by(-1),
        by(price / 100),
        by(-price / 100),
        by(price / 3),
        by(-price / 3),
        by(scale),
        by(price),
        by(1000 * scale),
        0,
        i64::MAX,
    ];
    all.retain(|&changed| changed != price);
    all
}

/// How many changes of one sort there were, and how many of them broke the proof.
#[derive(Debug, Default)]
struct Tally {
    tried: usize,
    broken: usize,
}

impl Tally {
    fn add(&mut self, carried: bool) {
        self.tried += 1;
        self.broken += usize::from(!carried);
    }
}

/// Changes each price in turn, compares the verdicts, and puts it back.
fn change_every_price(solved: &Solved, plan: &Plan, first: &mut Tally, later: &mut Tally) {
    let mut plan = plan.clone();
    let Certificate {
        scale,
        prices,
        mixes,
        ..
    } = certificate(&mut plan).clone();
    for (place, &(length, price)) in prices.iter().enumerate() {
        for changed in changes(price, scale) {
            certificate(&mut plan).prices[place].1 = changed;
            let what = format!("price of {length:?} from {price} to {changed}");
            first.add(solved.compare(&plan, &what));
        }
        certificate(&mut plan).prices[place].1 = price;
    }
    for (at, refutation) in mixes.refutations.iter().enumerate() {
        for (place, &price) in refutation.iter().enumerate() {
            for changed in changes(price, scale) {
                certificate(&mut plan).mixes.refutations[at][place] = changed;
                let what = format!("refutation {at}, price {place} from {price} to {changed}");
                later.add(solved.compare(&plan, &what));
            }
            certificate(&mut plan).mixes.refutations[at][place] = price;
        }
    }
}

/// The plan without refutations that others make superfluous, which would hide what is changed.
fn without_superfluous(solved: &Solved) -> Plan {
    let mut plan = solved.plan.clone();
    for at in (0..certificate(&mut plan).mixes.refutations.len()).rev() {
        let mut without = plan.clone();
        certificate(&mut without).mixes.refutations.remove(at);
        if solved.compare(&without, &format!("without refutation {at}")) {
            plan = without;
        }
    }
    plan
}

#[test]
fn a_changed_price_is_refused_exactly_when_the_proof_no_longer_holds() {
    let (mut first, mut later) = (Tally::default(), Tally::default());
    let (mut first_alone, mut later_alone) = (Tally::default(), Tally::default());
    let jobs = solved_jobs();
    for solved in &jobs {
        assert!(solved.compare(&solved.plan, "as solved"), "{}", solved.name);
        change_every_price(solved, &solved.plan, &mut first, &mut later);
        let lean = without_superfluous(solved);
        change_every_price(solved, &lean, &mut first_alone, &mut later_alone);
    }
    println!(
        "{} certificates as they came: first prices {first:?}, refutations {later:?}; without what is \
         superfluous: first prices {first_alone:?}, refutations {later_alone:?}",
        jobs.len(),
    );
    // Both verdicts must be met often, or their agreement says little.
    for tally in [first, first_alone, later_alone] {
        assert!(tally.broken * 10 > tally.tried, "{tally:?}");
        assert!(tally.broken * 10 < tally.tried * 9, "{tally:?}");
    }
    assert!(later.broken > 0 && later.broken < later.tried, "{later:?}");
}

/// With all that stands behind it taken away the claim of a plan falls, unless nothing costs so
/// little that it would have to be refuted.
#[test]
fn claims_without_proof_are_refused() {
    let mut fallen = Tally::default();
    for solved in solved_jobs() {
        let mut plan = solved.plan.clone();
        certificate(&mut plan).mixes = MixProof::default();
        fallen.add(solved.compare(&plan, "without refutations"));
        for price in &mut certificate(&mut plan).prices {
            price.1 = 0;
        }
        fallen.add(solved.compare(&plan, "without prices"));
        *certificate(&mut plan) = Certificate::default();
        fallen.add(solved.compare(&plan, "without a certificate"));
    }
    println!("without proof: {fallen:?}");
    assert!(fallen.broken > OF_EACH_SORT, "{fallen:?}");
}

/// Mixes said to have been searched stand in for prices, and each of them is said to be on trust;
/// where one that is needed is missing or has a bar less, the claim is refused.
#[test]
fn searched_mixes_are_believed_and_no_others() {
    let mut changed = Tally::default();
    for solved in solved_jobs() {
        let mut plan = solved.plan.clone();
        // Nothing cheaper than an optimal plan holds everything, so this is the truth.
        let searched = solved.open_mixes(&plan);
        if searched.is_empty() {
            continue;
        }
        certificate(&mut plan).mixes = MixProof {
            splits: vec![],
            refutations: vec![],
            searched: searched
                .into_iter()
                .map(|bars| SearchedMix {
                    bars,
                    ..SearchedMix::default()
                })
                .collect(),
        };
        assert!(solved.compare(&plan, "all searched"), "{}", solved.name);
        let on_trust = verify(&solved.job, &plan).map(|verified| verified.materials);
        assert!(
            on_trust.is_ok_and(|materials| materials.iter().any(|one| {
                let mut trust = one.on_trust.iter();
                trust.any(|trust| matches!(trust, Trust::Searched { .. }))
            })),
            "{}: nothing is said to be on trust",
            solved.name
        );
        for at in 0..certificate(&mut plan).mixes.searched.len() {
            let mut without = plan.clone();
            certificate(&mut without).mixes.searched.remove(at);
            changed.add(solved.compare(&without, &format!("without searched mix {at}")));
            for kind in 0..solved.oracle.kinds.len() {
                let mut fewer = plan.clone();
                let bars = &mut certificate(&mut fewer).mixes.searched[at].bars[kind];
                *bars = bars.saturating_sub(1);
                let what = format!("searched mix {at} with less of bar kind {kind}");
                changed.add(solved.compare(&fewer, &what));
            }
        }
    }
    println!("searched mixes changed: {changed:?}");
    assert!(changed.broken > OF_EACH_SORT, "{changed:?}");
}
