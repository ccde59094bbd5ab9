//! Small lists of pieces with quotes, and the least they can cost: every way to give each material to a
//! merchant or to take it from hand alone, with exhaustively solved costs.

use std::sync::Arc;

use lengthwise::Price;
use lengthwise::quotes::{Quote, QuotesInput};
use rust_decimal::Decimal;

use crate::exhaustive::{exhaustive, exhaustive_costing};
use crate::generate::small::{Sales, small_job_from};
use crate::generate::stream::Stream;
use crate::small::{SmallBar, SmallJob};

/// One material: its pieces, what is in hand, and the stock of each merchant, where they have any.
#[derive(Clone, Debug)]
pub struct SmallMaterial {
    /// With the stock of the first merchant that has it.
    pub job: SmallJob,
    /// The bars of each merchant; `None` where they do not have the material.
    pub offers: Vec<Option<Vec<SmallBar>>>,
    /// The blade that each merchant states; where something is in hand that of the job.
    pub kerfs: Vec<i64>,
}

impl SmallMaterial {
    /// The job with the stock and the blade of a merchant, where they have it.
    fn of(&self, merchant: usize) -> Option<SmallJob> {
        let bars = self.offers[merchant].clone()?;
        Some(SmallJob {
            kerf: self.kerfs[merchant],
            ..with_stock(&self.job, bars)
        })
    }
}

/// Quotes for some materials.
#[derive(Clone, Debug)]
pub struct SmallQuotes {
    /// The materials.
    pub materials: Vec<SmallMaterial>,
    /// What each merchant charges for delivery, in pence.
    pub delivery: Vec<i64>,
}

impl SmallQuotes {
    /// As the library reads them.
    ///
    /// # Panics
    /// Where a number is below zero.
    pub fn input(&self) -> QuotesInput {
        let mut input = QuotesInput::default();
        for (merchant, charge) in self.delivery.iter().enumerate() {
            let name = format!("merchant {}", merchant + 1);
            let mut stock = Vec::new();
            for (at, material) in self.materials.iter().enumerate() {
                let Some(job) = material.of(merchant) else {
                    continue;
                };
                let mut rows = job.input();
                for row in &mut rows.stock {
                    row.material = material_name(at);
                    row.origin.source = Arc::from(name.as_str());
                    row.kerf = Some(rows.saw.kerf);
                    row.square_off = Some(rows.saw.square_off);
                }
                stock.append(&mut rows.stock);
            }
            if let Some(row) = stock.first_mut() {
                row.delivery = Price::from_decimal(Decimal::new(*charge, 2));
            }
            input.quotes.push(Quote { name, stock });
        }
        for (at, material) in self.materials.iter().enumerate() {
            let rows = material.job.input();
            for mut row in rows.pieces {
                row.material = material_name(at);
                input.pieces.push(row);
            }
            for mut row in rows.in_hand {
                row.material = material_name(at);
                input.in_hand.push(row);
            }
            // The same in all: blade and reserve are those of the saw.
            input.saw = rows.saw;
        }
        input
    }

    /// The least that everything can cost with nothing bought beyond these merchants, in units of 10^-11;
    /// `None` where there is no way.
    pub fn best(&self, merchants: &[usize]) -> Option<i128> {
        // Of every material what it costs from each merchant and, last, with nothing bought.
        let costs: Vec<Vec<Option<i128>>> = self
            .materials
            .iter()
            .map(|material| {
                let from = merchants
                    .iter()
                    .map(|&merchant| Some(exhaustive(&material.of(merchant)?)?.value));
                let nothing = exhaustive_costing(&material.job, &|_, bars| {
                    (bars == 0).then_some(crate::exhaustive::Best {
                        value: 0,
                        hand_nm: 0,
                    })
                });
                from.chain([nothing.map(|best| best.value)]).collect()
            })
            .collect();
        // Every assignment, counted up like the digits of a number.
        let sources = merchants.len() + 1;
        let ways = sources.pow(u32::try_from(self.materials.len()).expect("few materials"));
        let cost_of = |mut way: usize| {
            let mut used = vec![false; sources];
            let mut sum = 0;
            for costs in &costs {
                let source = way % sources;
                way /= sources;
                used[source] = true;
                sum += costs[source]?;
            }
            let charges = merchants.iter().zip(&used).filter(|(_, used)| **used);
            let pence: i64 = charges.map(|(&merchant, _)| self.delivery[merchant]).sum();
            Some(sum + i128::from(pence) * 1_000_000_000)
        };
        (0..ways).filter_map(cost_of).min()
    }
}

fn material_name(at: usize) -> String {
    format!("material {}", at + 1)
}

fn with_stock(job: &SmallJob, stock: Vec<SmallBar>) -> SmallJob {
    SmallJob {
        stock,
        priced: true,
        ..job.clone()
    }
}

/// The quotes of this seed: one to three materials, one to four merchants.
pub fn small_quotes(seed: u64) -> SmallQuotes {
    let mut stream = Stream::scattered(seed);
    let merchants = stream.whole(1, 4).unsigned_abs();
    let count = stream.whole(1, 3);
    let mut materials: Vec<SmallMaterial> = Vec::new();
    for _ in 0..count {
        let mut job = loop {
            let sales = stream.pick(&[Sales::Single, Sales::Mixed]);
            let job = small_job_from(&mut stream, sales);
            if job.priced {
                break job;
            }
        };
        if let Some(first) = materials.first() {
            // One saw for all.
            (job.kerf, job.per_cut) = (first.job.kerf, first.job.per_cut);
            (job.grain_nm, job.square) = (first.job.grain_nm, (0, 0));
        }
        let mut offers: Vec<Option<Vec<SmallBar>>> = Vec::new();
        for _ in 0..merchants {
            let offer = stream.chance(85).then(|| {
                let mut bars = job.stock.clone();
                for bar in &mut bars {
                    bar.pence = (bar.pence * stream.whole(70, 130) / 100).max(0);
                    if stream.chance(20) {
                        bar.length = (bar.length * stream.whole(90, 125) / 100).max(1);
                    }
                }
                bars.retain(|_| stream.chance(85));
                bars
            });
            offers.push(offer.filter(|bars| !bars.is_empty()));
        }
        if offers.iter().all(Option::is_none) && job.in_hand.is_empty() {
            offers[0] = Some(job.stock.clone());
        }
        materials.push(SmallMaterial {
            kerfs: Vec::new(),
            job,
            offers,
        });
    }
    // A blade as wide as the longest bar of some offer, or of what is in hand, is a fault.
    let longest = |bars: &Vec<SmallBar>| bars.iter().map(|bar| bar.length).max();
    let offers = materials.iter().flat_map(|material| &material.offers);
    let least = offers.flatten().filter_map(longest).min().unwrap_or(1);
    let in_hand = materials.iter().flat_map(|material| &material.job.in_hand);
    let least = in_hand.map(|bar| bar.length).fold(least, i64::min);
    if materials.iter().any(|material| material.job.kerf >= least) {
        for material in &mut materials {
            material.job.kerf = 0;
        }
    }
    for material in &mut materials {
        let job = &material.job;
        let blades = [job.kerf, 0, (2 * job.kerf).min(least - 1 - job.per_cut)];
        let mut kerf = || match job.in_hand.is_empty() {
            true => stream.pick(&blades).max(0),
            false => job.kerf,
        };
        material.kerfs = (0..merchants).map(|_| kerf()).collect();
    }
    let delivery =
        (0..merchants).map(|_| stream.pick(&[0, 20, 150, 400, 900]) + stream.whole(0, 9));
    SmallQuotes {
        delivery: delivery.collect(),
        materials,
    }
}
