//! The plan with the job that it answers and the prices that prove its bounds.

use std::io;

use lengthwise::Job;
use lengthwise::carry_on::UnderWay;
use lengthwise::job::{JobInput, Shape};
use lengthwise::plan::{
    Anywhere, Certificate, Cutting, Least, MaterialPlan, Outcome, Plan, TriedPlaces, Window,
};
use schemars::JsonSchema;
use serde::Serialize;

use super::carried::CarriedJson;
use super::job::{JobJson, WrittenJob};
use super::made::Made;
use super::reason::ImpossibleJson;
use super::seal;
use super::tree::Tree;
use super::walls::ValueJson;
use super::{Millimetres, PlanJson, all, ends_text, mm};
use crate::insurance::Cover;

/// The plan with the job it answers, so that the file stands alone.
#[derive(Debug, Serialize, JsonSchema)]
pub struct StandAlone<'a> {
    #[serde(flatten)]
    plan: PlanJson<'a>,
    #[schemars(with = "JobJson")]
    job: WrittenJob<'a>,
    certificates: Made<'a, CertificateJson>,
    #[serde(skip_serializing_if = "Option::is_none")]
    carried_on: Option<CarriedJson>,
    /// Over everything else; left out while that is not complete.
    #[serde(skip_serializing_if = "Option::is_none")]
    digest: Option<String>,
}

/// The whole-number prices behind the bound of one material, and what refutes the mixes of bars
/// beyond it.
#[derive(Debug, Serialize, JsonSchema)]
struct CertificateJson {
    material: String,
    #[serde(flatten)]
    proof: ProofJson,
    /// One for each choice of prices and of batches for walls; left out where there is none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    combinations: Vec<CombinationJson>,
}

/// The proof at one price for each kind of bar, its place in the row, and one batch for each wall, its place
/// among those of the material; null where it is left open.
#[derive(Debug, Serialize, JsonSchema)]
struct CombinationJson {
    choices: Vec<Option<usize>>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    walls: Vec<Option<usize>>,
    /// Null where there is no plan.
    bound: Option<ValueJson>,
    #[serde(skip_serializing_if = "Option::is_none")]
    no_plan: Option<ImpossibleJson>,
    #[serde(flatten)]
    proof: ProofJson,
}

/// The prices of pieces, and what refutes the mixes beyond them.
#[derive(Debug, Serialize, JsonSchema)]
struct ProofJson {
    scale: i64,
    prices: Vec<PieceValueJson>,
    windows: Vec<WindowJson>,
    anywhere: Option<AnywhereJson>,
    tried: Vec<TriedJson>,
    refutations: Vec<Vec<i64>>,
    searched: Vec<SearchedJson>,
    splits: Vec<Option<SplitJson>>,
}

/// A mix of bars that an exhausted search found not to hold everything.
#[derive(Debug, Serialize, JsonSchema)]
struct SearchedJson {
    bars: Vec<u64>,
    patterns: u64,
    nodes: u64,
}

/// At most so many sales of a kind of bar in one box of mixes, more in the other.
#[derive(Debug, Serialize, JsonSchema)]
struct SplitJson {
    bar: usize,
    at: u64,
}

/// The price of a joint on one place in courses that follow each other; `group` counts the groups of
/// the material from 0, in the order in which the pieces name them.
#[derive(Debug, Serialize, JsonSchema)]
struct WindowJson {
    group: usize,
    first: u64,
    place_mm: Millimetres,
    price: i64,
}

/// How the runs whose joints may fall anywhere are counted: by units of length, or by rounded joints.
#[derive(Debug, Serialize, JsonSchema)]
#[serde(untagged)]
enum AnywhereJson {
    ByLength { unit_mm: Millimetres, price: i64 },
    Rounded { step_mm: Millimetres },
}

#[derive(Debug, Serialize, JsonSchema)]
struct PieceValueJson {
    length_mm: Millimetres,
    ends: Option<String>,
    /// The only batch that it may come from: its place among those of the material.
    #[serde(skip_serializing_if = "Option::is_none")]
    batch: Option<u32>,
    price: i64,
}

impl<'a> StandAlone<'a> {
    /// A plan together with the job as it was read.
    ///
    /// # Errors
    /// As [`PlanJson::new`].
    pub fn new(plan: &'a Plan, input: &'a JobInput) -> serde_json::Result<StandAlone<'a>> {
        let certificate = |place: usize| {
            let material = plan.materials.get(place);
            material.and_then(CertificateJson::of).transpose()
        };
        Ok(StandAlone {
            plan: PlanJson::new(plan)?,
            job: WrittenJob::new(input),
            certificates: Made::at(plan.materials.len(), certificate),
            carried_on: None,
            digest: None,
        })
    }

    /// The same, of a plan that was carried on: with what only the plans before know.
    ///
    /// # Errors
    /// As [`StandAlone::new`].
    pub fn carried(plan: &'a Plan, under_way: &'a UnderWay) -> serde_json::Result<StandAlone<'a>> {
        Ok(StandAlone {
            carried_on: Some(CarriedJson::new(plan, under_way)),
            ..StandAlone::new(plan, &under_way.input)?
        })
    }
}

impl<'a> StandAlone<'a> {
    /// The same with what the plan bears, and the insurance among the settings.
    pub fn with_mishaps(self, job: &'a Job, plan: &'a Plan, cover: &'a Cover) -> StandAlone<'a> {
        StandAlone {
            plan: self.plan.with_mishaps(job, plan, cover),
            job: self.job.insured(cover.insurance),
            ..self
        }
    }

    /// The same as a tree, for a comparison.
    ///
    /// # Errors
    /// As [`StandAlone::new`].
    pub fn tree(&self) -> serde_json::Result<Tree> {
        Tree::read(&self.text()?).map_err(serde::ser::Error::custom)
    }

    /// The same on one line. Written twice, the first time for its length: of a million pieces a text that grows
    /// by doubling takes what there is.
    fn text(&self) -> serde_json::Result<String> {
        let mut length = Length(0);
        serde_json::to_writer(&mut length, self)?;
        let mut bytes = Vec::with_capacity(length.0);
        serde_json::to_writer(&mut bytes, self)?;
        String::from_utf8(bytes).map_err(serde::ser::Error::custom)
    }

    /// The same with its digest: the last thing that is done to it.
    ///
    /// # Errors
    /// As [`StandAlone::new`].
    pub fn sealed(self) -> serde_json::Result<Self> {
        let text = self.text()?;
        let digest = seal::digest(&text).map_err(serde::ser::Error::custom)?;
        Ok(StandAlone {
            digest: Some(digest),
            ..self
        })
    }
}

/// Counts what is written.
struct Length(usize);

impl io::Write for Length {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0 = self.0.saturating_add(bytes.len());
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl CertificateJson {
    fn of(plan: &MaterialPlan) -> Option<serde_json::Result<CertificateJson>> {
        match &plan.outcome {
            Outcome::Planned(cutting) => Some(CertificateJson::new(&plan.name, cutting)),
            _ => None,
        }
    }

    fn new(material: &str, cutting: &Cutting) -> serde_json::Result<CertificateJson> {
        let certificate = &cutting.certificate;
        let combinations = all(&certificate.combinations, |combination| {
            let (bound, no_plan) = match &combination.least {
                Least::AtLeast(bound) => (Some(ValueJson::new(*bound)?), None),
                Least::NoPlan(why) => (None, ImpossibleJson::new(why)?),
            };
            Ok(CombinationJson {
                choices: combination.prices.clone(),
                walls: combination.walls.clone(),
                bound,
                no_plan,
                proof: ProofJson::new(&combination.certificate)?,
            })
        });
        Ok(CertificateJson {
            material: material.to_owned(),
            proof: ProofJson::new(certificate)?,
            combinations: combinations?,
        })
    }
}

impl ProofJson {
    fn new(certificate: &Certificate) -> serde_json::Result<ProofJson> {
        let mixes = &certificate.mixes;
        let searched = mixes.searched.iter().map(|mix| SearchedJson {
            bars: mix.bars.clone(),
            patterns: mix.patterns,
            nodes: mix.nodes,
        });
        let splits = mixes.splits.iter().map(|split| {
            split.map(|split| SplitJson {
                bar: split.bar,
                at: split.at,
            })
        });
        Ok(ProofJson {
            scale: certificate.scale,
            prices: all(&certificate.prices, PieceValueJson::new)?,
            windows: all(&certificate.windows, WindowJson::new)?,
            anywhere: certificate.anywhere.map(AnywhereJson::new).transpose()?,
            tried: all(&certificate.tried, TriedJson::new)?,
            refutations: mixes.refutations.clone(),
            searched: searched.collect(),
            splits: splits.collect(),
        })
    }
}

impl PieceValueJson {
    fn new(&(shape, price): &(Shape, i64)) -> serde_json::Result<PieceValueJson> {
        Ok(PieceValueJson {
            length_mm: mm(shape.length)?,
            ends: ends_text(shape.ends),
            batch: shape.batch,
            price,
        })
    }
}

impl WindowJson {
    fn new(&(window, price): &(Window, i64)) -> serde_json::Result<WindowJson> {
        Ok(WindowJson {
            group: window.group,
            first: window.first,
            place_mm: mm(window.place)?,
            price,
        })
    }
}

/// The places where the joints of a run were tried that may fall anywhere.
#[derive(Debug, Serialize, JsonSchema)]
struct TriedJson {
    mark: String,
    places_mm: Vec<Millimetres>,
}

impl TriedJson {
    fn new(tried: &TriedPlaces) -> serde_json::Result<TriedJson> {
        Ok(TriedJson {
            mark: tried.mark.clone(),
            places_mm: all(&tried.places, |&place| mm(place))?,
        })
    }
}

impl AnywhereJson {
    fn new(anywhere: Anywhere) -> serde_json::Result<AnywhereJson> {
        Ok(match anywhere {
            Anywhere::ByLength { unit, price } => AnywhereJson::ByLength {
                unit_mm: mm(unit)?,
                price,
            },
            Anywhere::Rounded { step } => AnywhereJson::Rounded { step_mm: mm(step)? },
        })
    }
}
