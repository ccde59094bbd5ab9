//! What serde refuses, in words of our own.

use std::collections::BTreeMap;

use lengthwise::{Fault, FaultKind};
use schemars::JsonSchema;
use schemars::generate::SchemaSettings;
use serde::Deserialize;
use serde_ignored::Path;
use serde_json::value::RawValue;

use crate::json::job::{LaidJson, QUANTITY};
use crate::json::tree::without_place;
use crate::read::nearest;

/// One object as it was read.
pub struct Object<T> {
    pub value: Result<T, Wrong>,
    /// Fields that are not known, each a fault.
    pub unknown: Vec<Fault>,
}

/// A value that does not fit its field.
pub struct Wrong {
    /// Its line within the object, counted from 1.
    pub line: u64,
    pub fault: Fault,
}

/// `path.field`, whichever is there.
pub fn join(path: &str, field: &str) -> String {
    match (path, field) {
        ("", only) | (only, "") => only.to_owned(),
        (path, field) => format!("{path}.{field}"),
    }
}

/// Reads an object that stands at `path`; its fields are those of `Known`.
pub fn read<'a, T: Deserialize<'a>, Known: JsonSchema>(raw: &'a RawValue, path: &str) -> Object<T> {
    // A list would be taken for an object without its names.
    if !raw.get().starts_with('{') {
        return Object {
            value: Err(no_object(raw, path)),
            unknown: Vec::new(),
        };
    }
    let mut json = serde_json::Deserializer::from_str(raw.get());
    let mut track = serde_path_to_error::Track::new();
    let tracked = serde_path_to_error::Deserializer::new(&mut json, &mut track);
    let mut names = Vec::new();
    let read = serde_ignored::deserialize(tracked, |ignored| names.push(name(&ignored)));
    let value = read.map_err(|why: serde_json::Error| {
        let within = track.path().to_string();
        let within = if within == "." { "" } else { &within };
        refused(&why, raw, path, within)
    });
    let known = if names.is_empty() {
        Vec::new()
    } else {
        fields::<Known>()
    };
    let unknown = names.iter().map(|name| unknown(path, name, &known));
    Object {
        value,
        unknown: unknown.collect(),
    }
}

fn name(path: &Path<'_>) -> String {
    match path {
        Path::Root => String::new(),
        Path::Seq { parent, index } => format!("{}[{index}]", name(parent)),
        Path::Map { parent, key } => join(&name(parent), key),
        Path::Some { parent }
        | Path::NewtypeStruct { parent }
        | Path::NewtypeVariant { parent } => name(parent),
    }
}

fn unknown(path: &str, name: &str, known: &[String]) -> Fault {
    let laid;
    let (known, written) = match name.rsplit_once('.') {
        // Only courses that are laid already lie so deep.
        Some((_, written)) => {
            laid = fields::<LaidJson>();
            (laid.as_slice(), written)
        }
        None => (known, name),
    };
    let known: Vec<&str> = known.iter().map(String::as_str).collect();
    let (close, _) = nearest(written, known.iter().copied());
    Fault {
        kind: FaultKind::Heading,
        origin: None,
        column: Some(join(path, name)),
        found: format!("an unknown field; did you mean \"{close}\"?"),
        accepted: format!("the fields {}", known.join(", ")),
    }
}

/// The names of the fields that are read.
fn fields<T: JsonSchema>() -> Vec<String> {
    let settings = SchemaSettings::draft2020_12().for_deserialize();
    let schema = settings.into_generator().into_root_schema_for::<T>();
    let properties = schema.get("properties").and_then(|value| value.as_object());
    properties
        .map(|object| object.keys().cloned().collect())
        .unwrap_or_default()
}

fn refused(why: &serde_json::Error, raw: &RawValue, path: &str, within: &str) -> Wrong {
    let message = without_place(why);
    let (found, accepted) = if message == QUANTITY {
        (as_written(raw, within), QUANTITY.to_owned())
    } else {
        words(&message)
    };
    // A number of lines: widening on every platform.
    wrong(why.line() as u64, join(path, within), found, accepted)
}

fn no_object(raw: &RawValue, path: &str) -> Wrong {
    let accepted = "an object in braces".to_owned();
    wrong(1, path.to_owned(), start(raw.get()), accepted)
}

fn wrong(line: u64, path: String, found: String, accepted: String) -> Wrong {
    Wrong {
        line,
        fault: Fault {
            kind: FaultKind::Value,
            origin: None,
            column: (!path.is_empty()).then_some(path),
            found,
            accepted,
        },
    }
}

/// The value of a field as it stands in its object.
fn as_written(raw: &RawValue, field: &str) -> String {
    let fields: BTreeMap<String, &RawValue> = serde_json::from_str(raw.get()).unwrap_or_default();
    let value = fields.get(field).map(|value| value.get());
    start(value.unwrap_or("nothing"))
}

/// Enough of a value to know it again.
fn start(text: &str) -> String {
    const LONGEST: usize = 40;
    match text.char_indices().nth(LONGEST) {
        Some((end, _)) => format!("{}...", text.get(..end).unwrap_or_default()),
        None => text.to_owned(),
    }
}

/// What was found and what is accepted, from the message of serde.
fn words(message: &str) -> (String, String) {
    let quoted = |text: &str| text.trim_matches('`').to_owned();
    if let Some(field) = message.strip_prefix("missing field ") {
        let field = quoted(field);
        return (
            format!("no \"{field}\""),
            format!("an object with \"{field}\""),
        );
    }
    if let Some(field) = message.strip_prefix("duplicate field ") {
        let found = format!("\"{}\" more than once", quoted(field));
        return (found, "each field once".to_owned());
    }
    let bare = ["invalid type: ", "invalid value: "]
        .iter()
        .find_map(|kind| message.strip_prefix(kind));
    let Some((found, expected)) = bare.and_then(|bare| bare.rsplit_once(", expected ")) else {
        let accepted = "what lengthwise schema job describes";
        return (message.to_owned(), accepted.to_owned());
    };
    let accepted = match expected {
        "a string" => "a text in quotation marks",
        "u64" => "a whole number, 0 or above",
        "a boolean" => "true or false",
        "a sequence" => "a list in square brackets",
        _ if expected.starts_with("struct ") => "an object in braces",
        other => other,
    };
    let found = found
        .replace('`', "")
        .replacen("integer ", "the number ", 1)
        .replacen("floating point ", "the number ", 1)
        .replacen("string ", "the text ", 1);
    (found, accepted.to_owned())
}
