//! From a path to text: what a file must be before it can be read as a table.

use std::fs::File;
use std::io::{self, ErrorKind, Read};
use std::path::Path;
use std::sync::Arc;

use lengthwise::{Ceiling, Fault, FaultKind, Origin};

use crate::ceilings::{Ceilings, above};

/// So many bytes of a JSON document may hold one value: those that are written have over twenty.
const BYTES_OF_A_VALUE: u64 = 6;
const BYTE_ORDER_MARK: &[u8] = b"\xef\xbb\xbf";

/// The path that stands for standard input.
pub const STANDARD_INPUT: &str = "-";

/// The name of a source as people see it.
pub fn source_name(path: &str) -> &str {
    if path == STANDARD_INPUT {
        "standard input"
    } else {
        path
    }
}

/// The text of a source, and whether bytes had to be replaced because they are not UTF-8.
#[derive(Debug)]
pub struct Text {
    /// The text without its byte-order mark.
    pub text: String,
    /// Whether some bytes were not UTF-8 and stand as U+FFFD.
    pub replaced: bool,
}

/// Reads a whole source.
pub fn read_source(path: &str, origin: &Origin, ceilings: &Ceilings) -> Result<Text, Fault> {
    let most = ceilings.file;
    let bytes = read_bytes(path, most).map_err(|why| unreadable(origin, &why))?;
    check_size(&bytes, origin, most)?;
    text_of(&bytes, origin)
}

/// The bytes of a table as text.
pub fn text_of(bytes: &[u8], origin: &Origin) -> Result<Text, Fault> {
    check_kind(bytes, origin)?;
    let bytes = bytes.strip_prefix(BYTE_ORDER_MARK).unwrap_or(bytes);
    let text = String::from_utf8_lossy(bytes);
    let replaced = matches!(text, std::borrow::Cow::Owned(_));
    Ok(Text {
        text: text.into_owned(),
        replaced,
    })
}

/// Reads a whole source that is no table; it may be empty.
pub fn read_text(path: &str, most: u64) -> Result<String, Fault> {
    let origin = Origin {
        source: source_name(path).into(),
        line: 0,
    };
    let mut bytes = read_bytes(path, most).map_err(|why| {
        let fault = unreadable(&origin, &why);
        Fault {
            accepted: "a readable text file, or - for standard input".to_owned(),
            ..fault
        }
    })?;
    check_size(&bytes, &origin, most)?;
    if bytes.starts_with(BYTE_ORDER_MARK) {
        bytes.drain(..BYTE_ORDER_MARK.len());
    }
    String::from_utf8(bytes)
        .map_err(|_| refused(&origin, "bytes that are not UTF-8", "a text saved as UTF-8"))
}

/// Reads a JSON document of ours. What is made of it takes memory for every value, so it may have no more than
/// one for so many of the bytes that it may have.
pub fn read_json(path: &str, most: u64) -> Result<String, Fault> {
    let text = read_text(path, most)?;
    let most_values = most / BYTES_OF_A_VALUE;
    let values = values_of(&text);
    if values > most_values {
        let origin = Origin {
            source: source_name(path).into(),
            line: 0,
        };
        let found = format!("{values} values");
        let fault = above(Ceiling::File, &origin, None, &found, most);
        return Err(Fault {
            accepted: format!(
                "at most {most_values}, one for every {BYTES_OF_A_VALUE} bytes of the ceiling of file"
            ),
            ..fault
        });
    }
    Ok(text)
}

/// How many values there are at the most: one at the beginning of every list and object, and one behind every
/// comma outside texts.
fn values_of(text: &str) -> u64 {
    let mut values = 0;
    let mut is_text = false;
    let mut is_escaped = false;
    for byte in text.bytes() {
        match byte {
            _ if is_escaped => is_escaped = false,
            b'\\' if is_text => is_escaped = true,
            b'"' => is_text = !is_text,
            b',' | b'[' | b'{' if !is_text => values += 1,
            _ => {}
        }
    }
    values
}

fn check_size(bytes: &[u8], origin: &Origin, most: u64) -> Result<(), Fault> {
    // Widening on every platform.
    if bytes.len() as u64 > most {
        let found = format!("more than {most} bytes");
        return Err(above(Ceiling::File, origin, None, &found, most));
    }
    Ok(())
}

fn read_bytes(path: &str, most: u64) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    // One byte above the ceiling tells a file that is too large from one that just fits.
    let most = most.saturating_add(1);
    if path == STANDARD_INPUT {
        io::stdin().lock().take(most).read_to_end(&mut bytes)?;
    } else {
        if Path::new(path).is_dir() {
            return Err(ErrorKind::IsADirectory.into());
        }
        File::open(path)?.take(most).read_to_end(&mut bytes)?;
    }
    Ok(bytes)
}

/// Files of other programs that people hand over by mistake.
fn check_kind(bytes: &[u8], origin: &Origin) -> Result<(), Fault> {
    if bytes.starts_with(b"PK\x03\x04") {
        let accepted = "the sheet saved as CSV (UTF-8)";
        return Err(refused(origin, "a spreadsheet or zip file", accepted));
    }
    if bytes.starts_with(b"\xff\xfe") || bytes.starts_with(b"\xfe\xff") {
        return Err(refused(
            origin,
            "UTF-16 text",
            "the file saved as CSV (UTF-8)",
        ));
    }
    Ok(())
}

/// A file with nothing in it, or nothing but the separators of an empty sheet.
pub fn empty(source: &Arc<str>) -> Fault {
    let origin = Origin {
        source: Arc::clone(source),
        line: 0,
    };
    let accepted = "a line of column names and at least one row below it";
    refused(&origin, "an empty file", accepted)
}

fn refused(origin: &Origin, found: impl Into<String>, accepted: &str) -> Fault {
    Fault {
        kind: FaultKind::Unreadable,
        origin: Some(origin.clone()),
        column: None,
        found: found.into(),
        accepted: accepted.to_owned(),
    }
}

fn unreadable(origin: &Origin, why: &io::Error) -> Fault {
    let found = match why.kind() {
        ErrorKind::NotFound => "no such file".to_owned(),
        ErrorKind::IsADirectory => "a directory".to_owned(),
        ErrorKind::PermissionDenied => "a file that may not be read".to_owned(),
        _ => format!("a file that cannot be read ({why})"),
    };
    refused(
        origin,
        found,
        "a readable CSV file, or - for standard input",
    )
}
