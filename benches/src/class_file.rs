//! Class files: one instance a line, `name bar-length optimum size x demand ...`.

use std::fs;
use std::path::{Path, PathBuf};

use lengthwise_tests::generate::Instance;

/// The instances of one class.
pub struct Class {
    /// The name of the file without its ending.
    pub name: String,
    /// The instances, in the order of the file.
    pub instances: Vec<Instance>,
}

/// Reads one class file, or all `.txt` files of a directory in the order of their names.
pub fn read(path: &Path, only: Option<&str>) -> Result<Vec<Class>, String> {
    let mut classes = Vec::new();
    for file in files(path)? {
        let name = file
            .file_stem()
            .map(|stem| stem.to_string_lossy().into_owned())
            .unwrap_or_default();
        if only.is_some_and(|only| only != name) {
            continue;
        }
        let text = fs::read_to_string(&file).map_err(|why| format!("{}: {why}", file.display()))?;
        let mut instances = Vec::new();
        for (at, line) in text.lines().enumerate() {
            if !line.trim().is_empty() {
                let instance = instance(line).ok_or_else(|| {
                    format!("{}, line {}: not an instance", file.display(), at + 1)
                })?;
                instances.push(instance);
            }
        }
        classes.push(Class { name, instances });
    }
    if classes.is_empty() {
        return Err(format!("{}: no class file to read", path.display()));
    }
    Ok(classes)
}

fn files(path: &Path) -> Result<Vec<PathBuf>, String> {
    if path.is_file() {
        return Ok(vec![path.to_owned()]);
    }
    let entries = fs::read_dir(path).map_err(|why| format!("{}: {why}", path.display()))?;
    let mut files = Vec::new();
    for entry in entries {
        let file = entry
            .map_err(|why| format!("{}: {why}", path.display()))?
            .path();
        if file.extension().is_some_and(|ending| ending == "txt") {
            files.push(file);
        }
    }
    files.sort();
    Ok(files)
}

fn instance(line: &str) -> Option<Instance> {
    let mut fields = line.split_whitespace();
    let name = fields.next()?.to_owned();
    let bar = fields.next()?.parse().ok()?;
    let optimum = fields.next()?.parse().ok()?;
    let pieces = fields
        .map(|item| {
            let (size, demand) = item.split_once('x')?;
            Some((size.parse().ok()?, demand.parse().ok()?))
        })
        .collect::<Option<Vec<(u64, u64)>>>()?;
    (!pieces.is_empty()).then_some(Instance {
        name,
        bar,
        kerf: 0,
        pieces,
        optimum: Some(optimum),
    })
}

/// So many instances, evenly spaced from the first; all where there are not more.
pub fn sample(instances: &[Instance], count: Option<usize>) -> Vec<&Instance> {
    match count {
        Some(count) if count < instances.len() => (0..count)
            .filter_map(|at| instances.get(at * instances.len() / count))
            .collect(),
        _ => instances.iter().collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_is_an_instance() {
        let read = instance("T1 1000 40 497x2 495x1").map(|i| (i.name, i.bar, i.optimum, i.pieces));
        let expected = ("T1".to_owned(), 1000, Some(40), vec![(497, 2), (495, 1)]);
        assert_eq!(read, Some(expected));
        assert!(instance("T1 1000 40").is_none());
        assert!(instance("T1 1000 40 497").is_none());
        assert!(instance("T1 1000 40 497xx").is_none());
    }

    #[test]
    fn samples_are_spread() {
        let instances: Vec<Instance> = (0..10)
            .filter_map(|at| instance(&format!("i{at} 10 1 5x1")))
            .collect();
        let names: Vec<&str> = sample(&instances, Some(5))
            .iter()
            .map(|instance| instance.name.as_str())
            .collect();
        assert_eq!(names, ["i0", "i2", "i4", "i6", "i8"]);
        assert_eq!(sample(&instances, Some(11)).len(), 10);
        assert_eq!(sample(&instances, None).len(), 10);
    }
}
