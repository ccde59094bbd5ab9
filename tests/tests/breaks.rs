//! Price breaks against the exhaustive solver: of small jobs at random every plan is verified, never below
//! the least there is, its bound never above it, and equal to it where it says `optimal`.
//!
//! `BREAK_JOBS=1000` in the environment tries that many; `--nocapture` shows the shares.

#![allow(clippy::expect_used, clippy::panic)]

use lengthwise::job::Prefer;
use lengthwise::plan::{Cutting, Outcome, Proof};
use lengthwise::{Limits, solve, verify};
use lengthwise_tests::answer::{claims_against, units};
use lengthwise_tests::exhaustive::Best;
use lengthwise_tests::generate::small_runs::{GRID, Sort, small_run_job};
use lengthwise_tests::generate::stream::Stream;
use lengthwise_tests::rows::checked;
use lengthwise_tests::run_oracle::{least_packed, splits, splits_on_grid};
use lengthwise_tests::small::SmallJob;
use lengthwise_tests::small_breaks::{BreakJob, break_job, breaks_for};
use lengthwise_tests::tally::number;

const JOBS: u64 = 200;

#[derive(Debug, Default)]
struct Tally {
    planned: u64,
    optimal: u64,
    hand_settled: u64,
    impossible: u64,
    undecided: u64,
    /// Plans that buy at a lower price than the first.
    lowered: u64,
    /// Plans that buy more than they cut, for a price.
    surplus: u64,
    combinations: usize,
    most_combinations: usize,
}

impl Tally {
    fn add(&mut self, small: &BreakJob, prefer: Prefer) -> Result<(), String> {
        let best = small.best();
        let mut input = small.input();
        input.saw.prefer = prefer;
        let job = checked(input);
        let plan = solve(&job, &Default::default());
        verify(&job, &plan).map_err(|refusal| format!("refused: {refusal}"))?;
        let [material] = plan.materials.as_slice() else {
            return Err("one material was asked for".to_owned());
        };
        match (&material.outcome, best) {
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

    fn compare(&mut self, small: &BreakJob, cutting: &Cutting, best: Best) -> Result<(), String> {
        self.planned += 1;
        let claims = claims_against(cutting, &best)?;
        self.optimal += u64::from(claims.is_optimal);
        self.hand_settled += u64::from(claims.hand_is_settled);
        let first = |line: &&lengthwise::plan::Purchase| {
            let row = small.job.stock.iter().zip(&small.breaks).nth(line.bar);
            row.is_some_and(|(bar, _)| {
                line.price.map(|price| price.to_string()) != pence(bar.pence)
            })
        };
        self.lowered += u64::from(cutting.buy.iter().any(|line| first(&line)));
        let cut = |bar: usize| {
            let groups = cutting.bars.iter().filter(|group| group.bar == bar);
            groups.map(|group| group.names.len() as u64).sum::<u64>()
        };
        let is_surplus = |line: &lengthwise::plan::Purchase| {
            let per_sale = line.bars / line.sales.max(1);
            line.bars >= cut(line.bar) + per_sale
        };
        self.surplus += u64::from(cutting.buy.iter().any(is_surplus));
        let combinations = cutting.certificate.combinations.len();
        self.combinations += combinations;
        self.most_combinations = self.most_combinations.max(combinations);
        Ok(())
    }
}

fn pence(pence: i64) -> Option<String> {
    Some(format!("{}.{:02}", pence / 100, pence % 100))
}

#[test]
fn price_breaks() {
    let jobs = number("BREAK_JOBS").unwrap_or(JOBS);
    let mut tally = Tally::default();
    let mut wrong = Vec::new();
    for seed in 1..=jobs {
        let small = break_job(seed);
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
    // The jobs are worth something only if the breaks matter in many.
    assert!(tally.lowered * 4 > tally.planned, "{tally:?}");
    assert!(tally.surplus * 50 > tally.planned, "{tally:?}");
}

/// Stopped early, a plan claims no more than it can show.
#[test]
fn stopped_early() {
    let mut gaps = 0;
    for seed in 1..=number("BREAK_JOBS").unwrap_or(JOBS) / 2 {
        let small = break_job(seed);
        let job = small.job();
        let limits = Limits {
            work: Some(2000 + 100 * (seed % 50)),
            ..Limits::default()
        };
        let plan = solve(&job, &limits);
        if let Err(refusal) = verify(&job, &plan) {
            panic!("seed {seed}: refused: {refusal}\n{small:?}");
        }
        let (Outcome::Planned(cutting), Some(best)) = (&plan.materials[0].outcome, small.best())
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

/// Runs, whose joints are chosen together with what is bought, and so with the prices of that.
#[test]
fn price_breaks_with_runs() {
    let jobs = number("BREAK_JOBS").unwrap_or(JOBS) / 2;
    let (mut planned, mut optimal, mut lowered, mut anywhere) = (0, 0, 0, 0);
    for seed in 1..=jobs {
        let sort = match seed % 3 {
            0 => Sort::Alone,
            1 => Sort::Courses,
            _ => Sort::Anywhere,
        };
        let run_job = small_run_job(seed, sort);
        if !run_job.base.priced {
            continue;
        }
        let breaks = breaks_for(&run_job.base, &mut Stream::scattered(seed + 1_000_000));
        let with_breaks = |job: &SmallJob| BreakJob {
            job: job.clone(),
            breaks: breaks.clone(),
        };
        let mut input = run_job.input();
        input.stock = with_breaks(&run_job.base).input().stock;
        let job = checked(input);
        let plan = solve(&job, &Default::default());
        let said = |why: &str| format!("seed {seed}: {why}\n{run_job:?}\n{breaks:?}");
        if let Err(refusal) = verify(&job, &plan) {
            panic!("{}", said(&format!("refused: {refusal}")));
        }
        let packed = |job: &SmallJob| with_breaks(job).best();
        if sort == Sort::Anywhere {
            // The least on a grid is no less than the least there is.
            let on_grid = |run| splits_on_grid(&run_job, run, GRID);
            let on_grid: Vec<_> = run_job.runs.iter().map(on_grid).collect();
            let best = least_packed(&run_job, &on_grid, &packed);
            if let (Outcome::Planned(cutting), Some(best)) = (&plan.materials[0].outcome, best) {
                anywhere += 1;
                let bound = units(cutting.bound);
                assert!(
                    bound <= best.value,
                    "{}",
                    said("a bound above the least there is")
                );
            }
            continue;
        }
        let best = least_packed(&run_job, &splits(&run_job), &packed);
        match (&plan.materials[0].outcome, best) {
            (Outcome::Planned(cutting), Some(best)) => {
                planned += 1;
                let (value, bound) = (units(cutting.value), units(cutting.bound));
                let is_optimal = cutting.proof == Proof::Optimal;
                optimal += u64::from(is_optimal);
                lowered += u64::from(!cutting.certificate.combinations.is_empty());
                assert!(value >= best.value, "{}", said("below the least there is"));
                assert!(
                    bound <= best.value,
                    "{}",
                    said("a bound above the least there is")
                );
                assert!(
                    !is_optimal || value == best.value,
                    "{}",
                    said("not optimal")
                );
            }
            (Outcome::Planned(_), None) => panic!("{}", said("there is no plan")),
            (Outcome::Impossible(_), Some(_)) => panic!("{}", said("there is a plan")),
            _ => {}
        }
    }
    println!(
        "{jobs} jobs with runs: {planned} planned, {optimal} proven, {lowered} with breaks; {anywhere} \
         joined anywhere"
    );
    assert!(
        optimal * 100 >= planned * 98 && lowered * 2 > planned,
        "too few are proven"
    );
}

mod tampering {
    use lengthwise::job::PriceBreak;
    use lengthwise::plan::{Combination, Cutting, Least, Proof, Value};
    use lengthwise::verify::{Breach, Cell, Claim};
    use lengthwise::{Job, Length, Price, solve, verify};
    use lengthwise_tests::answer::cutting_mut;
    use lengthwise_tests::rows::{Rows, checked, mm};

    fn price(text: &str) -> Price {
        Price::parse(text, false).expect("a price")
    }

    /// Nineteen long pieces and some short ones; both kinds of bar have a break.
    fn job() -> Job {
        let mut input = Rows::with_kerf(Length::from_mm(3))
            .piece(mm(2210), 19)
            .piece(mm(1150), 9)
            .stock(mm(3000), Some(price("5.90")))
            .stock(mm(2400), Some(price("4.60")))
            .input();
        let lower = |from, text| PriceBreak {
            from,
            price: price(text),
        };
        input.stock[0].breaks = vec![lower(20, "5.40")];
        input.stock[1].breaks = vec![lower(6, "4.20"), lower(30, "4.10")];
        checked(input)
    }

    /// The breach found once `tamper` has been at the plan of the job.
    #[track_caller]
    fn tampered(tamper: impl Fn(&mut Cutting)) -> Breach {
        let job = job();
        let mut plan = solve(&job, &Default::default());
        let verified = verify(&job, &plan).expect("the plan itself holds");
        assert!(verified.materials[0].rechecked.contains(&Claim::Optimal));
        assert!(
            verified.materials[0]
                .rechecked
                .contains(&Claim::LeastFromHand)
        );
        tamper(cutting_mut(&mut plan));
        verify(&job, &plan).expect_err("tampered with").breach
    }

    fn combinations(cutting: &mut Cutting) -> &mut Vec<Combination> {
        assert!(cutting.certificate.combinations.len() > 1);
        &mut cutting.certificate.combinations
    }

    #[test]
    fn the_price_that_holds_for_what_is_bought() {
        let breach = tampered(|cutting| cutting.buy[0].price = Some(price("4.60")));
        let cell = Cell::Price;
        assert!(
            matches!(breach, Breach::Cell { cell: found, .. } if found == cell),
            "{breach}"
        );
        let breach = tampered(|cutting| {
            let line = &mut cutting.buy[0];
            line.cost = line.cost.map(|_| price("1.00"));
        });
        assert!(matches!(breach, Breach::LineCost { .. }), "{breach}");
    }

    /// Nineteen for which twenty cost less, and one more than reaches the break.
    #[test]
    fn as_many_as_cost_least() {
        let mut input = Rows::with_kerf(Length::from_mm(3))
            .piece(mm(2210), 19)
            .stock(mm(3000), Some(price("5.90")))
            .input();
        input.stock[0].breaks = vec![PriceBreak {
            from: 20,
            price: price("5.40"),
        }];
        let job = checked(input);
        let breach = |bars: u64, each: &str| {
            let mut plan = solve(&job, &Default::default());
            verify(&job, &plan).expect("the plan itself holds");
            assert_eq!(cutting_mut(&mut plan).value, Value::Money(price("108")));
            let line = &mut cutting_mut(&mut plan).buy[0];
            (line.bars, line.sales) = (bars, bars);
            line.price = Some(price(each));
            line.cost = price(each).checked_mul(bars);
            verify(&job, &plan).expect_err("tampered with").breach
        };
        let said = Breach::MoreWouldCostLess {
            bar: 0,
            bought: 19,
            cheapest: 20,
        };
        assert_eq!(breach(19, "5.90"), said);
        let more = breach(21, "5.40");
        assert!(
            matches!(more, Breach::BoughtForNothing { bought: 21, .. }),
            "{more}"
        );
    }

    #[test]
    fn every_combination_is_needed() {
        let mut plan = solve(&job(), &Default::default());
        let count = combinations(cutting_mut(&mut plan)).len();
        for place in 0..count {
            let breach = tampered(|cutting| {
                combinations(cutting).remove(place);
            });
            assert!(
                matches!(breach, Breach::CombinationMissing { .. }),
                "{breach}"
            );
        }
        let breach = tampered(|cutting| cutting.certificate.combinations.clear());
        assert!(
            matches!(breach, Breach::CombinationMissing { .. }),
            "{breach}"
        );
    }

    #[test]
    fn combinations_of_prices_that_are_not_there() {
        for prices in [
            vec![],
            vec![Some(0)],
            vec![Some(2), Some(0)],
            vec![Some(0), Some(3)],
        ] {
            let breach = tampered(|cutting| combinations(cutting)[0].prices = prices.clone());
            assert_eq!(breach, Breach::CombinationPrices { place: 0 }, "{prices:?}");
        }
        let breach = tampered(|cutting| {
            let nested = combinations(cutting).clone();
            combinations(cutting)[0].certificate.combinations = nested;
        });
        assert_eq!(breach, Breach::CombinationPrices { place: 0 });
    }

    /// A combination for other prices than it was made for proves too little, or leaves some uncovered.
    #[test]
    fn combinations_cannot_stand_in_for_each_other() {
        let breach = tampered(|cutting| {
            let all = combinations(cutting);
            let last = all.len() - 1;
            let prices = all[0].prices.clone();
            all[0].prices = std::mem::replace(&mut all[last].prices, prices);
        });
        assert!(matches!(breach, Breach::Combination { .. }), "{breach}");
    }

    #[test]
    fn bounds_of_combinations() {
        let mut plan = solve(&job(), &Default::default());
        let count = combinations(cutting_mut(&mut plan)).len();
        for place in 0..count {
            let more = tampered(|cutting| {
                let least = &mut combinations(cutting)[place].least;
                let Least::AtLeast(Value::Money(bound)) = *least else {
                    panic!("{least:?}");
                };
                let more = bound.checked_add(price("5.00")).expect("a sum");
                *least = Least::AtLeast(Value::Money(more));
            });
            assert!(
                matches!(more, Breach::Combination { .. }),
                "{place}: {more}"
            );
            let little = Least::AtLeast(Value::Money(price("1.00")));
            let less = tampered(|cutting| combinations(cutting)[place].least = little.clone());
            assert!(
                matches!(less, Breach::CombinationBelowBound { .. }),
                "{place}: {less}"
            );
        }
    }

    #[test]
    fn prices_of_certificates() {
        let with_prices = |cutting: &mut Cutting, change: &dyn Fn(&mut i64)| {
            for combination in combinations(cutting) {
                let certificate = &mut combination.certificate;
                certificate
                    .prices
                    .iter_mut()
                    .for_each(|(_, price)| change(price));
                for refutation in &mut certificate.mixes.refutations {
                    refutation.iter_mut().for_each(change);
                }
            }
        };
        let breach = tampered(|cutting| with_prices(cutting, &|price| *price = 0));
        let Breach::Combination { breach, .. } = breach else {
            panic!("{breach}");
        };
        assert!(matches!(*breach, Breach::BoundNotProven { .. }), "{breach}");
        let breach = tampered(|cutting| with_prices(cutting, &|price| *price *= 3));
        assert!(matches!(breach, Breach::Combination { .. }), "{breach}");
    }

    #[test]
    fn nothing_to_combine_without_breaks() {
        let input = Rows::with_kerf(Length::from_mm(3)).piece(mm(2210), 19);
        let job = input.stock(mm(3000), Some(price("5.90"))).job();
        let mut plan = solve(&job, &Default::default());
        let certificate = cutting_mut(&mut plan).certificate.clone();
        cutting_mut(&mut plan)
            .certificate
            .combinations
            .push(Combination {
                prices: vec![None],
                walls: vec![],
                least: Least::AtLeast(Value::Money(price("112.10"))),
                certificate,
            });
        let breach = verify(&job, &plan).expect_err("tampered with").breach;
        assert_eq!(breach, Breach::NothingToCombine);
    }

    /// A wrong word about the length from hand: another bar of the same worth is cut into instead.
    #[test]
    fn least_from_hand() {
        let mut input = Rows::with_kerf(Length::ZERO)
            .piece(mm(1000), 1)
            .stock(mm(3000), Some(price("5.90")))
            .input();
        input.stock[0].breaks = vec![PriceBreak {
            from: 2,
            price: price("1.00"),
        }];
        for length in [1500, 1200] {
            let row =
                lengthwise_tests::rows::plain_hand(input.stock[0].origin.clone(), mm(length), 1);
            input.in_hand.push(row);
        }
        let job = checked(input.clone());
        let mut plan = solve(&job, &Default::default());
        verify(&job, &plan).expect("the plan itself holds");
        assert_eq!(
            cutting_mut(&mut plan).figures.hand_cut_into,
            Length::from_mm(1200)
        );
        assert_eq!(cutting_mut(&mut plan).hand_proof, Proof::Optimal);
        // The plan of the job without the shorter one cuts into 1500 and says that this is the least.
        input.in_hand.pop();
        let other = checked(input);
        let mut wrong = solve(&other, &Default::default());
        verify(&other, &wrong).expect("a plan of another job");
        let mut combinations = cutting_mut(&mut plan).certificate.combinations.clone();
        combinations
            .iter_mut()
            .for_each(|combination| combination.prices = vec![None; 3]);
        let uncut = cutting_mut(&mut plan).uncut.clone();
        let wrong_cutting = cutting_mut(&mut wrong);
        wrong_cutting.uncut = uncut
            .into_iter()
            .map(|bars| lengthwise::plan::UncutBars {
                bar: 2,
                length: Length::from_mm(1200),
                ..bars
            })
            .collect();
        let whole = |length: Length| length.checked_add(Length::from_mm(1200)).expect("a sum");
        wrong_cutting.figures.total = whole(wrong_cutting.figures.total);
        wrong_cutting.figures.saved = whole(wrong_cutting.figures.saved);
        wrong_cutting.certificate.combinations = combinations;
        let breach = verify(&job, &wrong).expect_err("not the least").breach;
        let Breach::Combination { breach, .. } = breach else {
            panic!("{breach}");
        };
        assert!(matches!(*breach, Breach::HandNotProven { .. }), "{breach}");
    }
}

/// Of many kinds of bar with breaks only one is worth buying: the combinations name no other, and a choice
/// that none covers is looked for only among what they name.
#[test]
fn many_kinds_with_breaks_are_verified() {
    use lengthwise::Length;
    use lengthwise::job::PriceBreak;
    use lengthwise_tests::rows::{Rows, mm};

    let price = |text: &str| lengthwise::Price::parse(text, false).expect("a price");
    let mut rows = Rows::with_kerf(Length::from_mm(3)).piece(mm(990), 25);
    for _ in 0..20 {
        rows = rows.stock(mm(2900), Some(price("50.00")));
    }
    let mut input = rows.stock(mm(3000), Some(price("10.00"))).input();
    let lower = |from, text| PriceBreak {
        from,
        price: price(text),
    };
    for row in &mut input.stock {
        row.breaks = vec![lower(10, "45.00"), lower(12, "40.00")];
    }
    input.stock[20].breaks = vec![lower(10, "8.00"), lower(12, "5.00")];
    let job = checked(input);
    let plan = solve(&job, &Default::default());
    let verified = verify(&job, &plan).expect("a plan that holds");
    let rechecked = &verified.materials[0].rechecked;
    assert!(rechecked.contains(&lengthwise::verify::Claim::Optimal));
}
