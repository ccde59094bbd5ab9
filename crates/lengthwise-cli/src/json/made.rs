//! Lists whose items are made when they are written, one after another: those of a large job do not fit into
//! memory all at once beside what they are made of.

use std::borrow::Cow;
use std::fmt;

use schemars::{JsonSchema, Schema, SchemaGenerator};
use serde::ser::{Error, SerializeSeq};
use serde::{Serialize, Serializer};

/// One item for each place, but where there is none. Made anew whenever the list is written.
pub struct Made<'a, J> {
    places: usize,
    one: Box<One<'a, J>>,
}

type One<'a, J> = dyn Fn(usize) -> serde_json::Result<Option<J>> + 'a;

impl<'a, J> Made<'a, J> {
    /// `one` makes the item of each of so many places.
    pub fn at(
        places: usize,
        one: impl Fn(usize) -> serde_json::Result<Option<J>> + 'a,
    ) -> Made<'a, J> {
        let one = Box::new(one);
        Made { places, one }
    }

    /// An item of each of these.
    pub fn of<T>(from: &'a [T], one: impl Fn(&'a T) -> serde_json::Result<J> + 'a) -> Made<'a, J> {
        Made::at(from.len(), move |place| {
            from.get(place).map(&one).transpose()
        })
    }
}

impl<J> fmt::Debug for Made<'_, J> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Made({})", self.places)
    }
}

impl<J: Serialize> Serialize for Made<'_, J> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut list = serializer.serialize_seq(None)?;
        for place in 0..self.places {
            if let Some(item) = (self.one)(place).map_err(S::Error::custom)? {
                list.serialize_element(&item)?;
            }
        }
        list.end()
    }
}

/// That of a list.
impl<J: JsonSchema> JsonSchema for Made<'_, J> {
    fn inline_schema() -> bool {
        Vec::<J>::inline_schema()
    }

    fn schema_name() -> Cow<'static, str> {
        Vec::<J>::schema_name()
    }

    fn schema_id() -> Cow<'static, str> {
        Vec::<J>::schema_id()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        Vec::<J>::json_schema(generator)
    }
}
