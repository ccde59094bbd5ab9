//! Certificates: prices, and what refutes mixes of bars.

use lengthwise::job::Shape;
use lengthwise::plan::{
    Anywhere, Certificate, Combination, Least, MixProof, MixSplit, SearchedMix, TriedPlaces, Window,
};

use super::fields::At;
use super::outcome::impossible;
use super::walls::value;
use crate::json::read_back::cells::Cells;

/// The certificate of a material, with those at each choice of prices.
pub fn certificate(at: &At<'_>, cells: &mut Cells) -> Option<Certificate> {
    let mut certificate = proof(at, cells)?;
    // Left out where bars have no price breaks.
    if at.has("combinations") {
        let combinations = at.get("combinations", cells)?.items(cells);
        let combinations = combinations.iter().map(|at| combination(at, cells));
        certificate.combinations = combinations.collect::<Option<_>>()?;
    }
    Some(certificate)
}

fn combination(at: &At<'_>, cells: &mut Cells) -> Option<Combination> {
    let choices = at.get("choices", cells)?.items(cells).into_iter();
    let choices = choices.map(|price| match price.is_null() {
        true => Some(None),
        false => price.whole(cells).map(Some),
    });
    let prices = choices.collect::<Option<_>>()?;
    let mut walls = Vec::new();
    // Left out where there is no choice of batches.
    if at.has("walls") {
        for wall in at.get("walls", cells)?.items(cells) {
            walls.push(match wall.is_null() {
                true => None,
                false => Some(wall.whole(cells)?),
            });
        }
    }
    let least = match at.get_some("bound", cells) {
        Some(bound) => Least::AtLeast(value(&bound, cells)?),
        None => Least::NoPlan(impossible(&at.get("no_plan", cells)?, cells)?),
    };
    Some(Combination {
        prices,
        walls,
        least,
        certificate: proof(at, cells)?,
    })
}

fn proof(at: &At<'_>, cells: &mut Cells) -> Option<Certificate> {
    let mut certificate = Certificate {
        scale: at.get("scale", cells)?.whole(cells)?,
        ..Certificate::default()
    };
    for price in at.get("prices", cells)?.items(cells) {
        let shape = Shape {
            length: price.get("length_mm", cells)?.mm(cells)?,
            ends: price.get("ends", cells)?.ends(cells),
            // Left out where it may come from any.
            batch: match price.has("batch") {
                true => Some(price.get("batch", cells)?.whole(cells)?),
                false => None,
            },
        };
        let price = price.get("price", cells)?.whole(cells)?;
        certificate.prices.push((shape, price));
    }
    for window in at.get("windows", cells)?.items(cells) {
        let price = window.get("price", cells)?.whole(cells)?;
        let window = Window {
            group: window.get("group", cells)?.whole(cells)?,
            first: window.get("first", cells)?.whole(cells)?,
            place: window.get("place_mm", cells)?.mm(cells)?,
        };
        certificate.windows.push((window, price));
    }
    if let Some(runs) = at.get_some("anywhere", cells) {
        certificate.anywhere = Some(anywhere(&runs, cells)?);
    }
    for tried in at.get("tried", cells)?.items(cells) {
        let places = tried.get("places_mm", cells)?.items(cells);
        certificate.tried.push(TriedPlaces {
            mark: tried.get("mark", cells)?.text(cells)?.to_owned(),
            places: places
                .iter()
                .map(|place| place.mm(cells))
                .collect::<Option<_>>()?,
        });
    }
    certificate.mixes = mixes(at, cells)?;
    Some(certificate)
}

fn anywhere(at: &At<'_>, cells: &mut Cells) -> Option<Anywhere> {
    if at.has("step_mm") {
        let step = at.get("step_mm", cells)?.mm(cells)?;
        return Some(Anywhere::Rounded { step });
    }
    Some(Anywhere::ByLength {
        unit: at.get("unit_mm", cells)?.mm(cells)?,
        price: at.get("price", cells)?.whole(cells)?,
    })
}

fn mixes(at: &At<'_>, cells: &mut Cells) -> Option<MixProof> {
    let mut mixes = MixProof::default();
    for prices in at.get("refutations", cells)?.items(cells) {
        mixes.refutations.push(numbers(&prices, cells)?);
    }
    for mix in at.get("searched", cells)?.items(cells) {
        mixes.searched.push(SearchedMix {
            bars: numbers(&mix.get("bars", cells)?, cells)?,
            patterns: mix.get("patterns", cells)?.whole(cells)?,
            nodes: mix.get("nodes", cells)?.whole(cells)?,
        });
    }
    for split in at.get("splits", cells)?.items(cells) {
        let split = match split.is_null() {
            true => None,
            false => Some(MixSplit {
                bar: split.get("bar", cells)?.whole(cells)?,
                at: split.get("at", cells)?.whole(cells)?,
            }),
        };
        mixes.splits.push(split);
    }
    Some(mixes)
}

fn numbers<T: std::str::FromStr>(at: &At<'_>, cells: &mut Cells) -> Option<Vec<T>> {
    let numbers = at.items(cells).into_iter();
    numbers.map(|number| number.whole(cells)).collect()
}
