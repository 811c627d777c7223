//! The crates of the workspace and which of one another they depend on. Knows no rule.

use std::fs;
use std::io;
use std::path::Path;
use toml::{Table, Value};

/// A crate of the workspace.
#[derive(Debug)]
pub struct Crate {
    /// Its name.
    pub name: String,
    /// Its folder from the root, with forward slashes.
    pub folder: String,
    /// The crates named in its manifest, ours and others'.
    pub dependencies: Vec<Dependency>,
}

/// One line of a manifest.
#[derive(Debug)]
pub struct Dependency {
    /// The crate depended on.
    pub name: String,
    /// Line in the manifest, from 1.
    pub line: usize,
    /// Only for tests, benchmarks and examples.
    pub only_tests: bool,
}

/// Finds the crates below `engine/`, `shell/` and `xtask`, in order of folder.
///
/// # Errors
/// A folder or a manifest cannot be read.
pub fn find_crates(root: &Path) -> io::Result<Vec<Crate>> {
    let mut folders = vec!["xtask".to_owned()];
    for group in ["engine", "shell"] {
        if root.join(group).is_dir() {
            for entry in fs::read_dir(root.join(group))? {
                folders.push(format!("{group}/{}", entry?.file_name().to_string_lossy()));
            }
        }
    }
    folders.sort();
    folders.retain(|folder| root.join(folder).join("Cargo.toml").is_file());
    folders.into_iter().map(|folder| read_crate(root, folder)).collect()
}

fn read_crate(root: &Path, folder: String) -> io::Result<Crate> {
    let path = root.join(&folder).join("Cargo.toml");
    let text = fs::read_to_string(path)?;
    let bad = |what: String| io::Error::new(io::ErrorKind::InvalidData, format!("{folder}/Cargo.toml: {what}"));
    let manifest: Table = text.parse().map_err(|error| bad(format!("{error}")))?;
    let name = manifest.get("package").and_then(|package| package.get("name")).and_then(Value::as_str);
    let name = name.ok_or_else(|| bad("the package has no name".to_owned()))?.to_owned();
    let mut dependencies = read_dependencies(&manifest, &text);
    for target in manifest.get("target").and_then(Value::as_table).into_iter().flat_map(Table::values) {
        dependencies.extend(target.as_table().map(|table| read_dependencies(table, &text)).unwrap_or_default());
    }
    Ok(Crate { name, folder, dependencies })
}

fn read_dependencies(table: &Table, text: &str) -> Vec<Dependency> {
    let kinds = [("dependencies", false), ("build-dependencies", false), ("dev-dependencies", true)];
    let mut found = Vec::new();
    for (kind, only_tests) in kinds {
        let Some(section) = table.get(kind).and_then(Value::as_table) else { continue };
        for (key, value) in section {
            // `package` names the crate where the key is only an alias.
            let name = value.get("package").and_then(Value::as_str).unwrap_or(key);
            found.push(Dependency { name: name.to_owned(), line: line_of(text, kind, key), only_tests });
        }
    }
    found
}

/// The line of a dependency's key: below its section's head, or a head of its own.
fn line_of(text: &str, kind: &str, key: &str) -> usize {
    let own_head = format!("{kind}.{key}]");
    let mut in_section = false;
    for (at, line) in text.lines().enumerate() {
        let line = line.trim();
        if line.starts_with('[') {
            in_section = line.ends_with(&format!("{kind}]"));
            if line.ends_with(&own_head) {
                return at + 1;
            }
        }
        let names_key = line.strip_prefix(key).is_some_and(|rest| rest.starts_with([' ', '=', '.']));
        if in_section && names_key {
            return at + 1;
        }
    }
    1
}
