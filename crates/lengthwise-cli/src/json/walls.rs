//! The batches of walls, and what is proven of each choice of them.

use lengthwise::plan::{Value, WallBatches};
use schemars::JsonSchema;
use serde::Serialize;

use super::{Millimetres, all, mm};

/// Money, or bought length.
#[derive(Debug, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum ValueJson {
    Cost(String),
    BoughtMm(Millimetres),
}

impl ValueJson {
    pub fn new(value: Value) -> serde_json::Result<ValueJson> {
        Ok(match value {
            Value::Money(price) => ValueJson::Cost(price.to_string()),
            Value::Bought(length) => ValueJson::BoughtMm(mm(length)?),
        })
    }
}

/// From which batch each wall comes, and what plans come to that need not keep to one.
#[derive(Debug, Serialize, JsonSchema)]
pub struct WallsJson {
    batches: Vec<WallJson>,
    without: ValueJson,
    /// None without the rule comes to less; null where nothing is proven.
    without_bound: Option<ValueJson>,
}

#[derive(Debug, Serialize, JsonSchema)]
struct WallJson {
    wall: String,
    /// Empty for bars that name none.
    batch: String,
}

impl WallsJson {
    pub fn new(walls: &WallBatches) -> serde_json::Result<WallsJson> {
        Ok(WallsJson {
            batches: all(&walls.walls, |of| {
                Ok(WallJson {
                    wall: of.wall.clone(),
                    batch: of.batch.clone(),
                })
            })?,
            without: ValueJson::new(walls.without.found)?,
            without_bound: walls.without.bound.map(ValueJson::new).transpose()?,
        })
    }
}
