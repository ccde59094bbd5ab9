//! The batches of walls, and what is proven of each choice of them.

use lengthwise::plan::{Value, WallBatches};
use schemars::JsonSchema;
use serde::Serialize;

use super::{Millimetres, all, mm};

/// Money, or the length bought where there are no prices; the other is null.
#[derive(Debug, Serialize, JsonSchema)]
pub struct ValueJson {
    cost: Option<String>,
    bought_mm: Option<Millimetres>,
}

impl ValueJson {
    pub fn new(value: Value) -> serde_json::Result<ValueJson> {
        Ok(match value {
            Value::Money(price) => ValueJson {
                cost: Some(price.to_string()),
                bought_mm: None,
            },
            Value::Bought(length) => ValueJson {
                cost: None,
                bought_mm: Some(mm(length)?),
            },
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
