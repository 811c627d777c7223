//! What comes from others: under which licence, from where, and what is banned. The rules stand in `supply.toml`.

use super::Finding;
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::process::Command;
use std::{env, fs, io};

const RULES: &str = "supply.toml";
/// The one place that packages come from.
const REGISTRY: &str = "registry+https://github.com/rust-lang/crates.io-index";

/// The rules.
#[derive(Debug)]
pub struct Rules {
    allowed: Vec<spdx::LicenseReq>,
    exceptions: BTreeMap<String, String>,
    bans: BTreeMap<String, String>,
}

/// Reads the rules.
///
/// # Errors
/// They cannot be read, or name no licence of the SPDX list.
pub fn read_rules(text: &str) -> io::Result<Rules> {
    let bad = |what: String| io::Error::new(io::ErrorKind::InvalidData, format!("{RULES}: {what}"));
    let table: toml::Table = text.parse().map_err(|error: toml::de::Error| bad(error.to_string()))?;
    let words = table.get("allowed").and_then(toml::Value::as_array).ok_or_else(|| bad("no `allowed`".to_owned()))?;
    let mut allowed = Vec::new();
    for word in words.iter().filter_map(toml::Value::as_str) {
        let licensee = spdx::Licensee::parse(word).map_err(|error| bad(format!("`{word}`: {error}")))?;
        allowed.push(licensee.into_req());
    }
    let named = |name: &str| -> BTreeMap<String, String> {
        let of = table.get(name).and_then(toml::Value::as_table).into_iter().flatten();
        of.filter_map(|(name, why)| Some((name.clone(), why.as_str()?.to_owned()))).collect()
    };
    Ok(Rules { allowed, exceptions: named("exceptions"), bans: named("bans") })
}

/// Holds every package of the lock file to the rules.
///
/// # Errors
/// The rules cannot be read, or `cargo metadata` fails.
pub fn check(root: &Path) -> io::Result<Vec<Finding>> {
    let rules = read_rules(&fs::read_to_string(root.join(RULES))?)?;
    let cargo = env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
    let asked =
        Command::new(cargo).args(["metadata", "--format-version", "1", "--locked"]).current_dir(root).output()?;
    if !asked.status.success() {
        return Err(io::Error::other(String::from_utf8_lossy(&asked.stderr).into_owned()));
    }
    let metadata: Value = serde_json::from_slice(&asked.stdout).map_err(io::Error::other)?;
    Ok(judge(&rules, &metadata))
}

/// Judges what `cargo metadata` lists.
#[must_use]
pub fn judge(rules: &Rules, metadata: &Value) -> Vec<Finding> {
    let packages = metadata.get("packages").and_then(Value::as_array).cloned().unwrap_or_default();
    let word = |of: &Value, name: &str| of.get(name).and_then(Value::as_str).unwrap_or_default().to_owned();
    let mut findings = Vec::new();
    let mut excepted: BTreeSet<String> = BTreeSet::new();
    for package in &packages {
        let (name, version, source) = (word(package, "name"), word(package, "version"), word(package, "source"));
        if source.is_empty() {
            continue; // Our own.
        }
        let mut find = |message: String, mend: &str| findings.push(Finding::new("Cargo.lock", 0, message, mend));
        if source != REGISTRY {
            find(format!("`{name}` {version} comes from {source}"), "take it from crates.io");
        }
        if let Some(why) = rules.bans.get(&name) {
            find(
                format!("`{name}` {version} is banned: {why}"),
                "find out who brings it (cargo tree --invert) and do without",
            );
        }
        let licence = word(package, "license").replace('/', " OR ");
        if rules.exceptions.get(&name) == Some(&licence) {
            excepted.insert(name);
            continue;
        }
        let allowed = spdx::Expression::parse(&licence)
            .is_ok_and(|expression| expression.evaluate(|asked| rules.allowed.iter().any(|allowed| allowed == asked)));
        if !allowed {
            let message = format!("`{name}` {version} is under `{licence}`, which is not allowed");
            find(message, "do without it, or allow it in supply.toml and say why");
        }
    }
    let unused = rules.exceptions.keys().filter(|name| !excepted.contains(*name));
    findings.extend(
        unused.map(|name| Finding::new(RULES, 0, format!("the exception for `{name}` is not needed"), "take it out")),
    );
    findings
}
