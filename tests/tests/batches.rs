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

fn asked_for() -> u64 {
    std::env::var("BATCH_JOBS").map_or(JOBS, |jobs| {
        jobs.parse().expect("BATCH_JOBS is a whole number")
    })
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
    let jobs = asked_for();
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
    for seed in 1..=asked_for() / 2 {
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

mod tampering {
    use lengthwise::plan::{Combination, Cutting, Impossible, Least, Outcome, Value, WallBatch};
    use lengthwise::verify::{Breach, Claim, Trust};
    use lengthwise::{Job, Length, Plan, Price, solve, verify};
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

    fn cutting(plan: &mut Plan) -> &mut Cutting {
        match &mut plan.materials[0].outcome {
            Outcome::Planned(cutting) => cutting,
            other => panic!("no plan: {other:?}"),
        }
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
        tamper(cutting(&mut plan));
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
        let cutting = cutting(&mut plan);
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
        let count = cutting(&mut solve(&job(), &Default::default())).bars.len();
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

    #[test]
    fn combinations_of_batches() {
        let count = combinations(cutting(&mut solve(&job(), &Default::default()))).len();
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

/// Carrying on: whatever becomes of the bars, all pieces of a wall that are cut and good, before or after, come
/// from one batch. What is cut is kept by the test, which knows a piece by its mark.
mod carried {
    use std::collections::{BTreeMap, BTreeSet};

    use lengthwise::carry_on::{Happened, Remark, Said, Statement, UnderWay, remainder};
    use lengthwise::job::SquareOff;
    use lengthwise::plan::{Cutting, Outcome};
    use lengthwise::{Job, JobInput, Length, Limits, Measure, Origin, Unit, solve, verify};
    use lengthwise_tests::generate::stream::Stream;
    use lengthwise_tests::rows::checked;
    use lengthwise_tests::small_batches::batch_job;

    /// What a piece asks for, by its mark: its wall, and the batch of the row or of the wall's.
    type Walls = BTreeMap<String, (String, Option<String>)>;

    fn walls(job: &Job) -> Walls {
        let material = &job.materials()[0];
        let copies = material.pieces().iter().flat_map(|piece| {
            let batch = piece
                .batch()
                .map(|batch| material.batches()[batch as usize].clone());
            let asks = (piece.wall().to_owned(), batch);
            (0..piece.qty()).map(move |copy| (piece.copy_mark(copy), asks.clone()))
        });
        copies.collect()
    }

    /// A bar of the plan.
    struct Bar {
        name: String,
        batch: String,
        length: Length,
        cuts: Vec<(String, Length)>,
    }

    fn bars(job: &Job, cutting: &Cutting) -> Vec<Bar> {
        let material = &job.materials()[0];
        let groups = cutting.bars.iter().flat_map(|group| {
            let kind = &material.bars()[group.bar];
            group
                .names
                .iter()
                .enumerate()
                .map(move |(place, name)| Bar {
                    name: name.clone(),
                    batch: material.batch_of(kind).to_owned(),
                    length: kind.length(),
                    cuts: group
                        .cuts
                        .iter()
                        .map(|cut| (cut.marks[place].clone(), cut.length))
                        .collect(),
                })
        });
        groups.collect()
    }

    /// A piece of an uncut bar: the batch of the bar, the mark and the length.
    type Other = (String, (String, Length));

    /// What is said at one time, and the batch of every piece that is cut and good.
    struct Site {
        said: Vec<Said>,
        cut: BTreeMap<String, String>,
        only_cut: bool,
    }

    impl Site {
        fn go_on(&mut self, bars: &[Bar], stream: &mut Stream) {
            self.said.clear();
            let fates: Vec<i64> = bars.iter().map(|_| stream.whole(0, 9)).collect();
            let uncut = bars.iter().zip(&fates).filter(|(_, fate)| **fate < 4);
            let mut others: Vec<Other> = uncut
                .flat_map(|(bar, _)| bar.cuts.iter().map(|cut| (bar.batch.clone(), cut.clone())))
                .collect();
            for (bar, fate) in bars.iter().zip(fates) {
                let name = bar.name.clone();
                match fate {
                    0..=3 => {}
                    4..=6 => {
                        self.said.push(Said::Cut { bar: name });
                        self.cut_from(bar, bar.cuts.iter().map(|(mark, _)| mark.clone()));
                    }
                    7 => {
                        self.only_cut = false;
                        self.said.push(Said::Bad { bar: name });
                    }
                    8 => {
                        self.only_cut = false;
                        let length = Length::from_nm(bar.length.nm() / 2 + 1).expect("short");
                        if length < bar.length {
                            self.said.push(Said::Short { bar: name, length });
                        }
                    }
                    _ => self.begin(bar, &mut others, stream),
                }
            }
            if self.cut.is_empty() || !stream.chance(40) {
                return;
            }
            self.only_cut = false;
            let place = stream.whole(0, self.cut.len() as i64 - 1) as usize;
            let mark = self.cut.keys().nth(place).expect("a piece").clone();
            self.cut.remove(&mark);
            self.said.push(Said::Spoiled { mark, bar: None });
        }

        fn cut_from(&mut self, bar: &Bar, marks: impl Iterator<Item = String>) {
            for mark in marks {
                self.cut.insert(mark, bar.batch.clone());
            }
        }

        /// Some pieces of the bar are cut, at times another in the place of the last, as long or shorter.
        fn begin(&mut self, bar: &Bar, others: &mut Vec<Other>, stream: &mut Stream) {
            self.only_cut = false;
            let so_far = stream.whole(1, bar.cuts.len() as i64) as usize;
            let mut pieces: Vec<String> = bar.cuts[..so_far]
                .iter()
                .map(|(mark, _)| mark.clone())
                .collect();
            // One of a bar of another batch, if there is one.
            let fits = (0..others.len()).filter(|&at| others[at].1.1 <= bar.cuts[so_far - 1].1);
            let fits = fits.max_by_key(|&at| others[at].0 != bar.batch);
            if let Some(place) = fits.filter(|_| stream.chance(60)) {
                pieces[so_far - 1] = others.remove(place).1.0;
            }
            self.cut_from(bar, pieces.iter().cloned());
            self.said.push(Said::Begun {
                bar: bar.name.clone(),
                pieces,
                left: None,
            });
        }

        /// Bars turn up, of a batch that there is.
        fn find(&mut self, bars: &[Bar], stream: &mut Stream) {
            self.only_cut = false;
            let bar = &bars[stream.whole(0, bars.len() as i64 - 1) as usize];
            self.said.push(Said::Found {
                material: None,
                length: Measure {
                    length: bar.length,
                    unit: Unit::Mm,
                },
                count: 2,
                square_off: SquareOff::default(),
                batch: bar.batch.clone(),
            });
        }

        /// Whether somebody cut what the rows forbid: a wall from two batches, or another than a row asks for.
        fn breaks_a_rule(&self, walls: &Walls) -> bool {
            self.cut.keys().any(|mark| self.is_of_another(mark, walls))
                || !self.mixed(walls).is_empty()
        }

        /// Whether the piece asks for another batch than it was cut from.
        fn is_of_another(&self, mark: &str, walls: &Walls) -> bool {
            let asked = walls[mark].1.as_ref();
            asked.is_some_and(|asked| *asked != self.cut[mark])
        }

        /// Walls of two batches, or of another than they ask for.
        fn mixed(&self, walls: &Walls) -> BTreeSet<String> {
            let several = self.of_walls(walls).into_iter();
            let several = several
                .filter(|(_, batches)| batches.len() > 1)
                .map(|(wall, _)| wall);
            let wrong = self
                .cut
                .keys()
                .filter(|mark| self.is_of_another(mark, walls));
            let wrong = wrong
                .map(|mark| walls[mark].0.clone())
                .filter(|wall| !wall.is_empty());
            several.chain(wrong).collect()
        }

        fn of_walls(&self, walls: &Walls) -> BTreeMap<String, BTreeSet<String>> {
            let mut found: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
            let of_wall = self
                .cut
                .iter()
                .filter(|(mark, _)| !walls[*mark].0.is_empty());
            for (mark, batch) in of_wall {
                found
                    .entry(walls[mark].0.clone())
                    .or_default()
                    .insert(batch.clone());
            }
            found
        }

        fn happened(&self) -> Happened {
            let statements = (1..).zip(&self.said).map(|(line, said)| Statement {
                origin: Origin {
                    source: "yard".into(),
                    line,
                },
                column: 1,
                said: said.clone(),
            });
            Happened {
                statements: statements.collect(),
                measured: vec![],
            }
        }
    }

    #[derive(Debug, Default)]
    struct Tally {
        tried: u64,
        /// Walls cut from two batches, of which the program tells.
        mixed: u64,
        planned: u64,
        again: u64,
        impossible: u64,
        /// Walls begun and not finished.
        begun: u64,
    }

    fn carry_on(seed: u64, tally: &mut Tally) {
        let small = batch_job(seed);
        let input: JobInput = small.input();
        let job = checked(input.clone());
        let plan = solve(&job, &Limits::default());
        let Outcome::Planned(cutting) = &plan.materials[0].outcome else {
            return;
        };
        let walls = walls(&job);
        let mut stream = Stream::scattered(seed + 31_000_000);
        let mut under_way = UnderWay::new(input, &plan).expect("a job");
        let mut there = bars(&job, cutting);
        let mut site = Site {
            said: vec![],
            cut: BTreeMap::new(),
            only_cut: true,
        };
        for round in 0..3 {
            site.go_on(&there, &mut stream);
            if stream.chance(30) {
                site.find(&there, &mut stream);
            }
            tally.tried += 1;
            let left = remainder(&under_way, &site.happened())
                .unwrap_or_else(|why| panic!("seed {seed}, round {round}: {why:?}\n{small:?}"));
            let is_told = |remark: &Remark| matches!(remark, Remark::WallOfSeveralBatches { .. });
            let mixed = site.mixed(&walls);
            assert_eq!(
                mixed.is_empty(),
                !left.remarks().iter().any(is_told),
                "seed {seed}: {mixed:?}"
            );
            if site.breaks_a_rule(&walls) {
                tally.mixed += u64::from(!mixed.is_empty());
                return;
            }
            let carried = left.plan(&Limits::default());
            verify(left.job(), &carried.plan)
                .unwrap_or_else(|why| panic!("seed {seed}, round {round}: {why}\n{small:?}"));
            let Some(material) = carried.plan.materials.first() else {
                return; // everything is cut
            };
            let Outcome::Planned(now) = &material.outcome else {
                assert!(
                    !site.only_cut,
                    "seed {seed}, round {round}: {:?}\n{small:?}",
                    site.said
                );
                tally.impossible += 1;
                return;
            };
            tally.planned += 1;
            tally.again += u64::from(round > 0);
            there = bars(left.job(), now);
            let mut whole = Site {
                said: vec![],
                cut: site.cut.clone(),
                only_cut: true,
            };
            for bar in &there {
                let marks: Vec<&String> = bar.cuts.iter().map(|(mark, _)| mark).collect();
                assert!(
                    marks.iter().all(|mark| !whole.cut.contains_key(*mark)),
                    "seed {seed}, round {round}: {marks:?} are cut already"
                );
                whole.cut_from(bar, marks.into_iter().cloned());
            }
            assert_eq!(whole.cut.len(), walls.len(), "seed {seed}, round {round}");
            assert!(
                !whole.breaks_a_rule(&walls),
                "seed {seed}, round {round}: {:?}\n{small:?}",
                whole.of_walls(&walls)
            );
            let begun = site.of_walls(&walls);
            let marks = walls
                .iter()
                .filter(|(mark, _)| !site.cut.contains_key(*mark));
            let to_do: BTreeSet<&String> = marks.map(|(_, (wall, _))| wall).collect();
            tally.begun += begun.keys().filter(|wall| to_do.contains(wall)).count() as u64;
            under_way = left.under_way(&carried);
        }
    }

    #[test]
    fn what_is_left_keeps_to_the_batches_of_its_walls() {
        let mut tally = Tally::default();
        for seed in 1..=super::asked_for() {
            carry_on(seed, &mut tally);
        }
        println!("{tally:?}");
        assert!(
            tally.planned * 2 > tally.tried && tally.begun * 4 > tally.tried,
            "{tally:?}"
        );
        assert!(tally.again > 0 && tally.impossible > 0, "{tally:?}");
    }
}
