//! The table of who may use whom in ARCHITECTURE.md, and whether every crate keeps to it.

use super::Finding;
use super::crates::Crate;
use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::Path;

const PAGE: &str = "ARCHITECTURE.md";
const BEGIN: &str = "<!-- who-may-use-whom -->";
const END: &str = "<!-- end -->";
const HEAD: [&str; 4] = ["crate", "folder", "may use", "tests may also use"];

/// One row of the table.
struct Row {
    line: usize,
    folder: String,
    may_use: Vec<String>,
    tests_may_use: Vec<String>,
}

/// Holds every crate to the table, and the table to the crates there are.
pub(crate) fn check(root: &Path, crates: &[Crate]) -> io::Result<Vec<Finding>> {
    let text = fs::read_to_string(root.join(PAGE))
        .map_err(|error| io::Error::new(error.kind(), format!("{PAGE}: {error}")))?;
    let mut findings = Vec::new();
    let rows = read_rows(&text, &mut findings);
    for (name, row) in &rows {
        check_row(name, row, crates, &rows, &mut findings);
    }
    for member in crates {
        check_crate(member, crates, &rows, &mut findings);
    }
    Ok(findings)
}

fn read_rows(text: &str, findings: &mut Vec<Finding>) -> BTreeMap<String, Row> {
    let mut rows = BTreeMap::new();
    let lines: Vec<(usize, &str)> = text.lines().enumerate().map(|(at, line)| (at + 1, line.trim())).collect();
    let Some(begin) = lines.iter().position(|(_, line)| *line == BEGIN) else {
        findings.push(Finding::new(
            PAGE,
            0,
            "the table of who may use whom is missing",
            format!("put it after `{BEGIN}`"),
        ));
        return rows;
    };
    let Some(length) = lines.iter().skip(begin).position(|(_, line)| *line == END) else {
        findings.push(Finding::new(PAGE, begin + 1, "the table has no end", format!("put `{END}` behind it")));
        return rows;
    };
    let mut seen_head = false;
    for (line, text) in lines.into_iter().skip(begin + 1).take(length - 1).filter(|(_, text)| !text.is_empty()) {
        let cells: Vec<&str> = text.trim_matches('|').split('|').map(str::trim).collect();
        let is_rule = cells.iter().all(|cell| !cell.is_empty() && cell.chars().all(|c| matches!(c, '-' | ':')));
        match cells[..] {
            _ if is_rule => {}
            _ if !seen_head => {
                seen_head = true;
                if cells != HEAD {
                    let mend = format!("use {}", HEAD.join(" | "));
                    findings.push(Finding::new(PAGE, line, "the table has another head", mend));
                }
            }
            [name, folder, may_use, tests] => {
                let folder = folder.to_owned();
                let row = Row { line, folder, may_use: names(may_use), tests_may_use: names(tests) };
                if rows.insert(name.to_owned(), row).is_some() {
                    findings.push(Finding::new(PAGE, line, format!("`{name}` has two rows"), "keep one"));
                }
            }
            _ => {
                let message = format!("this row has {} cells", cells.len());
                findings.push(Finding::new(PAGE, line, message, "give it the four of the head"));
            }
        }
    }
    rows
}

fn names(cell: &str) -> Vec<String> {
    cell.split(',').map(str::trim).filter(|name| !name.is_empty() && *name != "nothing").map(str::to_owned).collect()
}

fn check_row(name: &str, row: &Row, crates: &[Crate], rows: &BTreeMap<String, Row>, findings: &mut Vec<Finding>) {
    match crates.iter().find(|member| member.name == name) {
        None => findings.push(Finding::new(PAGE, row.line, format!("there is no crate `{name}`"), "take its row out")),
        Some(member) if member.folder != row.folder => {
            let message = format!("`{name}` stands in `{}`, not in `{}`", member.folder, row.folder);
            findings.push(Finding::new(PAGE, row.line, message, "put the folder right"));
        }
        Some(_) => {}
    }
    for used in row.may_use.iter().chain(&row.tests_may_use).filter(|used| !rows.contains_key(*used)) {
        let message = format!("`{name}` may use `{used}`, which has no row");
        findings.push(Finding::new(PAGE, row.line, message, "give it a row or take it out"));
    }
}

fn check_crate(member: &Crate, crates: &[Crate], rows: &BTreeMap<String, Row>, findings: &mut Vec<Finding>) {
    let manifest = format!("{}/Cargo.toml", member.folder);
    let Some(row) = rows.get(&member.name) else {
        let message = format!("`{}` has no row in the table of {PAGE}", member.name);
        findings.push(Finding::new(&manifest, 1, message, "add one that says what it may use"));
        return;
    };
    for dependency in &member.dependencies {
        let ours = crates.iter().any(|other| other.name == dependency.name);
        let allowed = row.may_use.contains(&dependency.name)
            || dependency.only_tests && row.tests_may_use.contains(&dependency.name);
        if ours && !allowed {
            let who = if dependency.only_tests { "tests of " } else { "" };
            let message = format!("{who}`{}` may not use `{}`", member.name, dependency.name);
            let mend = format!("do without it, or change line {} of {PAGE} and say why", row.line);
            findings.push(Finding::new(&manifest, dependency.line, message, mend));
        }
    }
}
