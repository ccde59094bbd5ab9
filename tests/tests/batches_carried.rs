//! Batches, carrying on: whatever becomes of the bars, all pieces of a wall that are cut and good, before or after, come
//! from one batch. What is cut is kept by the test, which knows a piece by its mark.
//!
//! `BATCH_JOBS=1000` in the environment tries that many jobs; `--nocapture` shows the shares.

#![allow(clippy::expect_used, clippy::panic)]

use std::collections::{BTreeMap, BTreeSet};

use lengthwise::carry_on::{Happened, Remark, Said, Statement, UnderWay, remainder};
use lengthwise::job::SquareOff;
use lengthwise::plan::{Cutting, Outcome};
use lengthwise::{Job, JobInput, Length, Limits, Measure, Origin, Unit, solve, verify};
use lengthwise_tests::generate::stream::Stream;
use lengthwise_tests::rows::checked;
use lengthwise_tests::small_batches::batch_job;
use lengthwise_tests::tally::number;

/// Jobs where the environment says nothing.
const JOBS: u64 = 300;

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
        self.cut.keys().any(|mark| self.is_of_another(mark, walls)) || !self.mixed(walls).is_empty()
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
    for seed in 1..=number("BATCH_JOBS").unwrap_or(JOBS) {
        carry_on(seed, &mut tally);
    }
    println!("{tally:?}");
    assert!(
        tally.planned * 2 > tally.tried && tally.begun * 4 > tally.tried,
        "{tally:?}"
    );
    assert!(tally.again > 0 && tally.impossible > 0, "{tally:?}");
}
