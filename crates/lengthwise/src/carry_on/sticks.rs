//! The bars that are there, each by itself, and what became of them.

use std::collections::{BTreeMap, HashMap};

use super::UnderWay;
use super::single::{OneCut, singles};
use crate::fault::Origin;
use crate::job::{Bar, Job, Material, Shape, SquareOff, Supply};
use crate::layout::{Remains, cut_bar};
use crate::length::{Length, Measure};
use crate::price::Price;

/// What the name of an offcut has behind the name of its bar.
const REST: &str = "r";

/// One bar that is there, or several alike without a name.
#[derive(Clone, Debug)]
pub(super) struct Stick {
    /// Chalked on it; none where it has no name yet.
    pub name: Option<String>,
    /// How many: 1 where it has a name.
    pub count: u64,
    /// The place of its material in the job that it is planned in.
    pub material: usize,
    pub length: Measure,
    pub square_off: SquareOff,
    pub worth: Option<Price>,
    /// The batch that it is of; empty where it names none.
    pub batch: String,
    pub note: String,
    /// What is planned on it, in order.
    pub planned: Vec<OneCut>,
    /// Whether a piece is planned on it in place of a spare, or at another length than before.
    pub is_altered: bool,
}

/// What became of a bar with a name.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) enum Fate {
    #[default]
    Uncut,
    /// As planned; what is left where it was measured.
    Cut(Option<Length>),
    /// Some pieces so far. As they were when they were cut: what that leaves, and what is left where it was
    /// measured.
    Begun(Length, Option<Length>),
    Bad,
    Short(Length),
    Stretches(Vec<Length>),
}

/// All bars, those of the plan and what was found.
pub(super) struct Sticks {
    pub all: Vec<Stick>,
    /// By name.
    places: HashMap<String, usize>,
}

impl Stick {
    /// Bars as a job has them, nothing planned on them, without a name.
    pub fn without_name(material: &Material, bar: &Bar, count: u64) -> Stick {
        Stick {
            count,
            ..stick(0, material, bar)
        }
    }

    /// As a kind of bar in hand.
    pub fn bar(&self) -> Bar {
        Bar {
            length: self.length.length,
            square_off: self.square_off,
            supply: Supply::InHand {
                worth: self.worth.unwrap_or(Price::ZERO),
                available: self.count,
            },
            breaks: Vec::new(),
            batch: 0, // of one by itself only the length matters
            note: self.note.clone(),
            origin: Origin {
                source: "".into(),
                line: 0,
            },
        }
    }

    /// What is cut of a bar that is cut as planned, and what stays to be cut. A spare is cut only if a piece is
    /// spoiled, so it stays; but not where nothing else is on the bar, or where so little was measured to be left
    /// that it cannot be there any more.
    pub fn cut_as_planned(
        &self,
        measured: Option<Length>,
        material: &Material,
    ) -> (Vec<OneCut>, Vec<OneCut>) {
        let cuts = self.planned.iter().cloned();
        let (spares, others): (Vec<_>, Vec<_>) = cuts.partition(|cut| cut.spare);
        let have_room = |left: Length| {
            let rest = self.rest(String::new(), left, Vec::new());
            let shapes = spares.iter().map(|cut| cut.shape);
            rest.after_cuts(shapes, material).is_some()
        };
        if others.is_empty() || !measured.is_none_or(have_room) {
            return (self.planned.clone(), Vec::new());
        }
        (others, spares)
    }

    /// What cuts of these shapes leave of it; `None` where they do not fit.
    pub fn after_cuts(
        &self,
        shapes: impl Iterator<Item = Shape>,
        material: &Material,
    ) -> Option<Remains> {
        cut_bar(material, &self.bar(), &shapes.collect::<Vec<_>>())
    }

    /// What is left of it once some of it is cut, measured or not: the far end is as it was.
    fn rest(&self, name: String, length: Length, planned: Vec<OneCut>) -> Stick {
        let far = SquareOff {
            near: Length::ZERO,
            ..self.square_off
        };
        Stick {
            planned,
            ..self.with_length(name, length, far)
        }
    }

    /// The same bar with another length and nothing planned.
    fn with_length(&self, name: String, length: Length, square_off: SquareOff) -> Stick {
        Stick {
            name: Some(name),
            count: 1,
            length: Measure {
                length,
                ..self.length
            },
            square_off,
            worth: None,
            planned: Vec::new(),
            is_altered: false,
            ..self.clone()
        }
    }
}

impl Sticks {
    pub fn of(under_way: &UnderWay, job: &Job) -> Sticks {
        let mut all = Vec::new();
        let both = job.materials().iter().zip(&under_way.materials);
        for (place, (material, planned)) in both.enumerate() {
            let mut named: BTreeMap<usize, u64> = BTreeMap::new();
            for single in singles(&planned.bars) {
                if let Some(bar) = material.bars().get(single.kind) {
                    *named.entry(single.kind).or_default() += 1;
                    let planned = single.cuts;
                    all.push(Stick {
                        name: Some(single.name),
                        planned,
                        ..stick(place, material, bar)
                    });
                }
            }
            for whole in &planned.whole {
                if let Some(bar) = material.bars().get(whole.bar) {
                    let of_kind = named.entry(whole.bar).or_default();
                    *of_kind = of_kind.saturating_add(whole.names.len() as u64); // widening
                    all.extend(whole.names.iter().map(|name| Stick {
                        name: Some(name.clone()),
                        ..stick(place, material, bar)
                    }));
                }
            }
            let mut bought: HashMap<usize, u64> = HashMap::new();
            for line in &planned.buy {
                let of_kind = bought.entry(line.bar).or_default();
                *of_kind = of_kind.saturating_add(line.bars);
            }
            for (kind, bar) in material.bars().iter().enumerate() {
                let there = match bar.supply() {
                    Supply::InHand { available, .. } => available,
                    Supply::Bought { .. } => bought.get(&kind).copied().unwrap_or(0),
                };
                let named = named.get(&kind).copied().unwrap_or(0);
                let count = there.saturating_sub(named);
                if count > 0 {
                    let without_name = stick(place, material, bar);
                    all.push(Stick {
                        count,
                        ..without_name
                    });
                }
            }
        }
        let names = all.iter().enumerate();
        let places = names.filter_map(|(at, stick)| Some((stick.name.clone()?, at)));
        let places = places.collect();
        Sticks { all, places }
    }

    /// The bars of each of so many materials.
    pub fn of_materials(&self, count: usize) -> Vec<Vec<&Stick>> {
        let mut of_materials = vec![Vec::new(); count];
        for stick in &self.all {
            if let Some(of_material) = of_materials.get_mut(stick.material) {
                of_material.push(stick);
            }
        }
        of_materials
    }

    /// The place of the bar with this name.
    pub fn named(&self, name: &str) -> Option<usize> {
        self.places.get(name).copied()
    }

    /// What is there after what happened to the bars with names, `fates` in the order of the bars.
    pub fn left(self, fates: &[Fate], job: &Job) -> Vec<Stick> {
        let mut left = Vec::new();
        let fates = fates.iter().chain(std::iter::repeat(&Fate::Uncut));
        for (stick, fate) in self.all.into_iter().zip(fates) {
            let Some(material) = job.materials().get(stick.material) else {
                continue; // every stick was made from a material of the job
            };
            left.extend(after(stick, fate, material));
        }
        left
    }
}

/// One bar as the job has it, without a name.
fn stick(place: usize, material: &Material, bar: &Bar) -> Stick {
    Stick {
        name: None,
        count: 1,
        material: place,
        length: Measure {
            length: bar.length(),
            unit: material.unit(),
        },
        square_off: bar.square_off(),
        // What is bought is paid for.
        worth: match bar.supply() {
            Supply::InHand { worth, .. } => Some(worth).filter(|worth| *worth != Price::ZERO),
            Supply::Bought { .. } => None,
        },
        batch: material.batch_of(bar).to_owned(),
        note: bar.note().to_owned(),
        planned: Vec::new(),
        is_altered: false,
    }
}

/// What is left of a bar.
fn after(stick: Stick, fate: &Fate, material: &Material) -> Vec<Stick> {
    let Some(name) = stick.name.clone() else {
        return vec![stick];
    };
    match fate {
        Fate::Uncut => vec![stick],
        Fate::Bad => vec![],
        Fate::Short(length) => vec![Stick {
            length: Measure {
                length: *length,
                ..stick.length
            },
            ..stick
        }],
        Fate::Stretches(lengths) => {
            let letters = ('a'..='z')
                .map(String::from)
                .chain((1..).map(|n| format!("z{n}")));
            let both = lengths.iter().zip(letters);
            both.map(|(length, letter)| {
                stick.with_length(format!("{name}{letter}"), *length, SquareOff::default())
            })
            .collect()
        }
        Fate::Cut(measured) => {
            let (cut, stays) = stick.cut_as_planned(*measured, material);
            let computed = || {
                let left = stick.after_cuts(cut.iter().map(|cut| cut.shape), material)?;
                let square = left.offcut.checked_sub(left.offcut_rough)?;
                let is_kept = !stays.is_empty() || square >= material.save_from();
                is_kept.then_some(left.offcut)
            };
            let Some(length) = measured.or_else(computed).filter(|left| !left.is_zero()) else {
                return vec![];
            };
            let name = match stays.is_empty() {
                true => format!("{name}{REST}"),
                false => name,
            };
            vec![stick.rest(name, length, stays)]
        }
        Fate::Begun(computed, measured) => {
            let length = measured.unwrap_or(*computed);
            if length.is_zero() {
                return vec![];
            }
            vec![stick.rest(name, length, stick.planned.clone())]
        }
    }
}
