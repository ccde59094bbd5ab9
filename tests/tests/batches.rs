//! Walls from one batch each against the exhaustive solver: of small jobs at random every plan is verified,
//! never below the least there is, its bound never above it, and equal to it where it says `optimal`.
//!
//! `BATCH_JOBS=1000` in the environment tries that many; `--nocapture` shows the shares.

#![allow(clippy::expect_used, clippy::panic)]

use lengthwise::job::Prefer;
use lengthwise::plan::{Cutting, Outcome, Proof};
use lengthwise::{Limits, solve, verify};
use lengthwise_tests::answer::{claims_against, units};
use lengthwise_tests::exhaustive::Best;
use lengthwise_tests::rows::checked;
use lengthwise_tests::small_batches::{BatchJob, batch_job};
use lengthwise_tests::tally::number;

const JOBS: u64 = 300;

#[derive(Debug, Default)]
struct Tally {
    planned: u64,
    optimal: u64,
    hand_settled: u64,
    impossible: u64,
    undecided: u64,
    /// Plans with a batch chosen for some wall.
    chosen: u64,
    /// Plans that cost more than without the rule.
    dearer: u64,
    /// The same, and just how much is proven.
    settled: u64,
    with_breaks: u64,
    most_combinations: usize,
}

impl Tally {
    fn add(&mut self, small: &BatchJob, prefer: Prefer) -> Result<(), String> {
        let best = small.best(false);
        let mut input = small.input();
        input.saw.prefer = prefer;
        let job = checked(input);
        let plan = solve(&job, &Default::default());
        verify(&job, &plan).map_err(|refusal| format!("refused: {refusal}"))?;
        match (&plan.materials[0].outcome, best) {
            (Outcome::Planned(cutting), Some(best)) => self.compare(small, cutting, best),
            (Outcome::Planned(cutting), None) => Err(format!(
                "planned at {:?}, though there is no plan",
                cutting.value
            )),
            (Outcome::Impossible(_), None) => {
                self.impossible += 1;
                Ok(())
            }
            (Outcome::Impossible(reason), Some(best)) => {
                Err(format!("called impossible ({reason:?}), though {best:?}"))
            }
            (Outcome::Unknown(stop), Some(best)) => Err(format!("{stop:?}, though {best:?}")),
            (Outcome::Unknown(_), None) => {
                self.undecided += 1;
                Ok(())
            }
        }
    }

    fn compare(&mut self, small: &BatchJob, cutting: &Cutting, best: Best) -> Result<(), String> {
        self.planned += 1;
        let claims = claims_against(cutting, &best)?;
        self.optimal += u64::from(claims.is_optimal);
        self.hand_settled += u64::from(claims.hand_is_settled);
        self.with_breaks += u64::from(small.breaks.iter().any(|breaks| !breaks.is_empty()));
        let combinations = cutting.certificate.combinations.len();
        self.most_combinations = self.most_combinations.max(combinations);
        let Some(walls) = &cutting.walls else {
            return Ok(());
        };
        self.chosen += 1;
        let free = small
            .best(true)
            .expect("a plan with the rule is one without");
        let (found, bound) = (
            units(walls.without.found),
            walls.without.bound.map(units).expect("a bound"),
        );
        if found < free.value || bound > free.value {
            return Err(format!("without walls {found}, {bound}, not {free:?}"));
        }
        self.dearer += u64::from(free.value < best.value);
        let is_settled = cutting.proof == Proof::Optimal && walls.without.is_proven();
        self.settled += u64::from(free.value < best.value && is_settled);
        Ok(())
    }
}

#[test]
fn batches() {
    let jobs = number("BATCH_JOBS").unwrap_or(JOBS);
    let mut tally = Tally::default();
    let mut wrong = Vec::new();
    for seed in 1..=jobs {
        let small = batch_job(seed);
        // What is made good among equally cheap plans must not change what they come to.
        let prefer = if seed % 2 == 0 {
            Prefer::Offcuts
        } else {
            Prefer::Setups
        };
        let before = tally.planned - tally.optimal;
        if let Err(why) = tally.add(&small, prefer) {
            wrong.push(format!("seed {seed}: {why}\n{small:?}"));
        }
        if tally.planned - tally.optimal > before {
            println!("seed {seed} is not proven");
        }
    }
    println!("{jobs} jobs: {tally:?}");
    let shown: Vec<&str> = wrong.iter().take(3).map(String::as_str).collect();
    assert!(
        wrong.is_empty(),
        "{} wrong:\n{}",
        wrong.len(),
        shown.join("\n")
    );
    assert!(tally.optimal * 100 >= tally.planned * 99, "{tally:?}");
    // The jobs are worth something only if the rule matters in many.
    assert!(tally.dearer * 20 > tally.planned, "{tally:?}");
    assert!(tally.impossible * 50 > jobs, "{tally:?}");
}

/// Stopped early, a plan claims no more than it can show.
#[test]
fn stopped_early() {
    let mut gaps = 0;
    for seed in 1..=number("BATCH_JOBS").unwrap_or(JOBS) / 2 {
        let small = batch_job(seed);
        let job = small.job();
        let limits = Limits {
            work: Some(2000 + 100 * (seed % 50)),
            ..Limits::default()
        };
        let plan = solve(&job, &limits);
        if let Err(refusal) = verify(&job, &plan) {
            panic!("seed {seed}: refused: {refusal}\n{small:?}");
        }
        let (Outcome::Planned(cutting), Some(best)) =
            (&plan.materials[0].outcome, small.best(false))
        else {
            continue;
        };
        gaps += u64::from(cutting.proof != Proof::Optimal);
        let (value, bound) = (units(cutting.value), units(cutting.bound));
        assert!(
            bound <= best.value && best.value <= value,
            "seed {seed}: {small:?}"
        );
    }
    assert!(gaps > 0, "nothing was stopped");
    println!("{gaps} stopped with a gap");
}

/// So many walls that the tree of choices does not come to a plan by itself.
mod many_walls {
    use std::num::NonZeroUsize;

    use lengthwise::job::StockRow;
    use lengthwise::plan::{Cutting, Proof, Value};
    use lengthwise::{Job, JobInput, Length, Limits, Price, solve, verify};
    use lengthwise_tests::answer::cutting;
    use lengthwise_tests::rows::{Rows, checked, mm, origin};

    /// `(length, price, batch, available)` of the stock.
    type Offers<'a> = &'a [(u64, &'a str, &'a str, Option<u64>)];

    fn input(walls: impl Iterator<Item = Vec<(u64, u64)>>, offers: Offers<'_>) -> JobInput {
        let mut rows = Rows::with_kerf(Length::from_mm(3));
        for (number, pieces) in walls.enumerate() {
            for (length, qty) in pieces {
                rows = rows.piece_with(mm(length), |row| {
                    row.qty = qty.into();
                    row.wall = format!("bay {number}");
                });
            }
        }
        let mut input = rows.input();
        input.stock = offers
            .iter()
            .enumerate()
            .map(|(place, (length, price, batch, available))| StockRow {
                price: Some(Price::parse(price, false).expect("a price")),
                batch: (*batch).to_owned(),
                available: *available,
                ..StockRow::new(origin("stock", place), mm(*length))
            })
            .collect();
        input
    }

    /// Bays of the shed whose bounds rise with every batch that is chosen.
    fn bays() -> JobInput {
        let bay = |number: u64| {
            let number_of = |more: u64| (number + more) % 3 + 1;
            vec![
                (617 * number % 2100 + 410, number_of(0)),
                (911 * number % 1900 + 530, number_of(1)),
            ]
        };
        let offers = [
            (2700, "2.90", "A", None),
            (4200, "4.60", "A", None),
            (3000, "3.25", "B", None),
            (3600, "3.80", "B", None),
            (3300, "3.40", "C", None),
            (4800, "5.30", "C", None),
        ];
        input((0..20).map(bay), &offers)
    }

    fn solved(job: &Job, work: u64) -> Cutting {
        let limits = Limits {
            work: Some(work),
            ..Limits::default()
        };
        let plan = solve(job, &limits);
        verify(job, &plan).expect("a plan that holds");
        cutting(&plan).clone()
    }

    fn money(text: &str) -> Value {
        Value::Money(Price::parse(text, false).expect("a price"))
    }

    /// However little may be spent there is a plan, and a bound below it; more is never worse.
    #[test]
    fn bounds_that_rise() {
        let job = checked(bays());
        let mut before: Option<Cutting> = None;
        for work in [1, 30_000_000, 1_000_000_000] {
            let now = solved(&job, work);
            assert!(now.bound <= now.value && now.bound > money("100"), "{work}");
            if let Some(before) = before {
                assert!(now.value <= before.value && now.bound >= before.bound);
            }
            before = Some(now);
        }
    }

    /// No worse than all bays from one batch.
    #[test]
    fn as_good_as_one_batch_for_all() {
        let value = solved(&checked(bays()), 300_000_000).value;
        for batch in ["A", "B", "C"] {
            let mut alike = bays();
            for row in &mut alike.pieces {
                row.batch = batch.to_owned();
            }
            let alike = solved(&checked(alike), 300_000_000).value;
            assert!(value <= alike, "{batch}: {value:?}, {alike:?}");
        }
    }

    /// A bar for each of more walls than choices are looked at.
    #[test]
    fn more_walls_than_choices() {
        let offers = [(3000, "9", "A", None), (3000, "9", "B", None)];
        let job = checked(input((0..450).map(|_| vec![(1400, 2)]), &offers));
        let cutting = solved(&job, 1_000_000_000);
        assert_eq!(
            (cutting.proof, cutting.value),
            (Proof::Optimal, money("4050"))
        );
    }

    /// The same where no batch has bars for all, and each is needed.
    #[test]
    fn more_walls_than_choices_from_scarce_bars() {
        let of = |batch| (3000, "9", batch, Some(160));
        let offers = [of("A"), of("B"), of("C")];
        let job = checked(input((0..450).map(|_| vec![(1400, 2)]), &offers));
        let cutting = solved(&job, 1_000_000_000);
        assert_eq!(
            (cutting.proof, cutting.value),
            (Proof::Optimal, money("4050"))
        );
    }

    #[test]
    fn the_same_on_any_threads() {
        let mut both = bays();
        for row in &mut both.pieces {
            row.material = "batten".to_owned();
        }
        for row in &mut both.stock {
            row.material = "batten".to_owned();
        }
        let mut lath = both.clone();
        for row in &mut lath.pieces {
            row.material = "lath".to_owned();
        }
        for row in &mut lath.stock {
            row.material = "lath".to_owned();
        }
        both.pieces.append(&mut lath.pieces);
        both.stock.append(&mut lath.stock);
        let job = checked(both);
        let on = |threads: usize| {
            let limits = Limits {
                work: Some(300_000_000),
                threads: NonZeroUsize::new(threads),
                ..Limits::default()
            };
            solve(&job, &limits)
        };
        assert_eq!(on(1), on(2));
    }
}

mod tampering {
    use lengthwise::plan::{
        Certificate, Combination, Cutting, Impossible, Least, Preference, Value, WallBatch,
    };
    use lengthwise::verify::{Breach, Claim, Trust};
    use lengthwise::{Job, Length, Price, solve, verify};
    use lengthwise_tests::answer::cutting_mut;
    use lengthwise_tests::rows::{Rows, checked, mm};

    /// A wall of four pieces and one of two; bars hold three, and there is one of the cheaper batch.
    fn job() -> Job {
        let price = |text: &str| Some(Price::parse(text, false).expect("a price"));
        let mut input = Rows::with_kerf(Length::from_mm(3))
            .piece(mm(1000), 4)
            .piece(mm(990), 2)
            .stock(mm(3100), price("5.00"))
            .stock(mm(3100), price("7.00"))
            .input();
        for (row, wall) in input.pieces.iter_mut().zip(["north", "south"]) {
            row.wall = wall.to_owned();
        }
        for (row, batch) in input.stock.iter_mut().zip(["A", "B"]) {
            row.batch = batch.to_owned();
        }
        input.stock[0].available = Some(1);
        checked(input)
    }

    /// The breach found once `tamper` has been at the plan of the job.
    #[track_caller]
    fn tampered(tamper: impl Fn(&mut Cutting)) -> Breach {
        let job = job();
        let mut plan = solve(&job, &Default::default());
        let verified = verify(&job, &plan).expect("the plan itself holds");
        let verified = &verified.materials[0];
        assert!(verified.rechecked.contains(&Claim::Optimal));
        assert_eq!(verified.on_trust, [Trust::WithoutWalls]);
        tamper(cutting_mut(&mut plan));
        verify(&job, &plan).expect_err("tampered with").breach
    }

    fn combinations(cutting: &mut Cutting) -> &mut Vec<Combination> {
        assert!(cutting.certificate.combinations.len() > 1);
        &mut cutting.certificate.combinations
    }

    /// Arithmetic: a bar of each batch holds all six pieces. The north wall takes two bars, which there are of
    /// the other batch only; two more pieces fit on these, or on the one of the first: both walls from two
    /// bars of the other batch is the least.
    #[test]
    fn what_the_rule_costs() {
        let mut plan = solve(&job(), &Default::default());
        let cutting = cutting_mut(&mut plan);
        let walls = cutting.walls.clone().expect("walls");
        let money = |text: &str| Value::Money(Price::parse(text, false).expect("a price"));
        assert_eq!(cutting.value, money("14.00"));
        assert_eq!(walls.without.found, money("12.00"));
        assert!(walls.without.is_proven());
        let of = |wall: &str| WallBatch {
            wall: wall.to_owned(),
            batch: "B".to_owned(),
        };
        assert_eq!(walls.walls, [of("north"), of("south")]);
    }

    #[test]
    fn batches_of_walls() {
        let breach = tampered(|cutting| cutting.walls = None);
        assert_eq!(breach, Breach::WallBatches);
        let breach = tampered(|cutting| {
            let walls = cutting.walls.as_mut().expect("walls");
            walls.walls[0].batch = "A".to_owned();
        });
        assert_eq!(breach, Breach::WallBatches);
        let breach = tampered(|cutting| {
            let walls = cutting.walls.as_mut().expect("walls");
            walls.without.found = Value::Money(Price::parse("18.00", false).expect("a price"));
        });
        assert_eq!(breach, Breach::WallBatches);
    }

    /// The bars of the plan change their batches: a wall would come from both.
    #[test]
    fn a_wall_of_two_batches() {
        let mut others = 0;
        let count = cutting_mut(&mut solve(&job(), &Default::default()))
            .bars
            .len();
        for place in 0..count {
            let breach = tampered(|cutting| {
                let bar = &mut cutting.bars[place].bar;
                *bar = 1 - *bar;
            });
            match breach {
                Breach::WallOfSeveralBatches { .. } => {}
                _ => others += 1,
            }
        }
        assert!(others < count, "{others} of {count}");
    }

    /// That a batch has no plan is believed where only a search could tell: then nothing that rests on it
    /// counts as worked out again, here where it is not so.
    #[test]
    fn what_rests_on_trust() {
        let price = |text: &str| Some(Price::parse(text, false).expect("a price"));
        let wall = |batch: &str| {
            let mut input = Rows::with_kerf(Length::from_mm(3))
                .piece(mm(1400), 2)
                .stock(mm(3000), price("9"))
                .stock(mm(3000), price("5"))
                .input();
            for row in &mut input.pieces {
                (row.wall, row.batch) = ("north".to_owned(), batch.to_owned());
            }
            for (row, batch) in input.stock.iter_mut().zip(["A", "B"]) {
                row.batch = batch.to_owned();
            }
            checked(input)
        };
        let job = wall("");
        let mut plan = solve(&job, &Default::default());
        let mut dear = solve(&wall("A"), &Default::default());
        let (honest, forged) = (cutting_mut(&mut plan), cutting_mut(&mut dear));
        let certificate = std::mem::take(&mut forged.certificate);
        let at = |batch, least, certificate| Combination {
            prices: vec![None, None],
            walls: vec![Some(batch)],
            least,
            certificate,
        };
        let nothing = Certificate {
            scale: 1,
            ..Certificate::default()
        };
        let no_plan = Least::NoPlan(Impossible::NotEnoughBars { left_over: 1 });
        let combinations = vec![
            at(0, Least::AtLeast(forged.value), certificate),
            at(1, no_plan, nothing.clone()),
        ];
        let mut walls = honest.walls.clone();
        for wall in walls.iter_mut().flat_map(|walls| &mut walls.walls) {
            wall.batch = "A".to_owned();
        }
        *honest = Cutting {
            walls,
            certificate: Certificate {
                combinations,
                ..nothing
            },
            preference: Preference::AsFound,
            ..forged.clone()
        };
        let verified = verify(&job, &plan).expect("nothing in it is contradicted");
        let verified = &verified.materials[0];
        let (rechecked, trust) = (&verified.rechecked, &verified.on_trust);
        for claim in [Claim::Bound, Claim::Optimal, Claim::LeastFromHand] {
            assert!(!rechecked.contains(&claim), "{claim:?}");
        }
        assert_eq!(verified.bound, None);
        let no_bars = Trust::NotEnoughBars { left_over: 1 };
        let rests = [no_bars, Trust::Bound, Trust::Optimal, Trust::LeastFromHand];
        assert!(rests.iter().all(|rest| trust.contains(rest)), "{trust:?}");
    }

    #[test]
    fn combinations_of_batches() {
        let count = combinations(cutting_mut(&mut solve(&job(), &Default::default()))).len();
        for place in 0..count {
            let breach = tampered(|cutting| {
                combinations(cutting).remove(place);
            });
            assert!(
                matches!(breach, Breach::CombinationMissing { .. }),
                "{breach}"
            );
            for walls in [vec![], vec![Some(2), None], vec![None; 3]] {
                let breach = tampered(|cutting| combinations(cutting)[place].walls = walls.clone());
                assert_eq!(breach, Breach::CombinationPrices { place });
            }
            let breach = tampered(|cutting| {
                let why = Impossible::NotEnoughLength {
                    needed: Length::from_mm(9000),
                    available: Length::from_mm(8000),
                };
                combinations(cutting)[place].least = Least::NoPlan(why);
            });
            let is_refused = matches!(
                breach,
                Breach::Combination { .. } | Breach::CombinationHasPlan { .. }
            );
            assert!(is_refused, "{breach}");
        }
    }
}
