//! JSON Schemas of what is read and written as JSON, derived from the very structs that do it.

use clap::ValueEnum;
use schemars::generate::SchemaSettings;
use schemars::{JsonSchema, Schema};

use super::carried::CarriedOnJson;
use super::job::JobJson;
use super::{PlanJson, QuotesJson, StandAlone};

/// Which document a schema describes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Described {
    /// What --job reads and check --json prints
    Job,
    /// The plan.json of --out
    Plan,
    /// What plan --json and ask --json print
    PlanPrinted,
    /// What carry-on --json prints
    CarryOnPrinted,
    /// What quotes --json prints
    QuotesPrinted,
}

/// The schema, in the dialect 2020-12.
pub fn schema(of: Described) -> Schema {
    let (title, schema) = match of {
        Described::Job => ("A job", read::<JobJson>()),
        Described::Plan => ("A plan with its job", written::<StandAlone>()),
        Described::PlanPrinted => ("A plan", written::<PlanJson>()),
        Described::CarryOnPrinted => ("A plan that was carried on", written::<CarriedOnJson>()),
        Described::QuotesPrinted => ("Quotes compared", written::<QuotesJson>()),
    };
    let mut schema = schema;
    schema.insert("title".to_owned(), title.into());
    schema
}

fn read<T: JsonSchema>() -> Schema {
    let settings = SchemaSettings::draft2020_12().for_deserialize();
    settings.into_generator().into_root_schema_for::<T>()
}

fn written<T: JsonSchema>() -> Schema {
    let settings = SchemaSettings::draft2020_12().for_serialize();
    settings.into_generator().into_root_schema_for::<T>()
}
