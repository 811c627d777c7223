//! What an engine crate may not name: files, network, environment, clock, threads, unordered maps, the machine's own
//! transcendental functions. A plain scan of the text, so that it needs no compiler; clippy says the same more exactly.

use super::Finding;
use super::files::File;

/// What to look for, why not, and what instead.
struct Ban {
    word: &'static str,
    mend: &'static str,
}

const WORLD: &str = "the engine is pure: hand it in from shell/";
const ORDER: &str = "its order leaks into plans; use BTreeMap, BTreeSet or Vec";

const NAMES: [Ban; 12] = [
    Ban { word: "std::fs", mend: WORLD },
    Ban { word: "std::net", mend: WORLD },
    Ban { word: "std::env", mend: WORLD },
    Ban { word: "std::io", mend: WORLD },
    Ban { word: "std::process", mend: WORLD },
    Ban { word: "std::thread", mend: WORLD },
    Ban { word: "std::time::Instant", mend: WORLD },
    Ban { word: "std::time::SystemTime", mend: WORLD },
    Ban { word: "Instant::now", mend: WORLD },
    Ban { word: "SystemTime", mend: WORLD },
    Ban { word: "HashMap", mend: ORDER },
    Ban { word: "HashSet", mend: ORDER },
];

/// Methods of `f64` whose bits differ between machines; each has a namesake in libm.
const METHODS: [&str; 23] = [
    "exp", "exp2", "exp_m1", "ln", "ln_1p", "log", "log2", "log10", "powf", "powi", "cbrt", "hypot", "sin", "cos",
    "tan", "sin_cos", "asin", "acos", "atan", "atan2", "sinh", "cosh", "tanh",
];

pub(crate) fn check(file: &File) -> Vec<Finding> {
    if !is_engine_source(file) {
        return Vec::new();
    }
    let mut findings = Vec::new();
    for (line, text) in file.lines().take(shipped_lines(&file.text)) {
        let code = text.split("//").next().unwrap_or_default();
        for Ban { word, mend } in &NAMES {
            if has_name(code, word) {
                findings.push(Finding::new(&file.path, line, format!("`{word}` in the engine"), *mend));
            }
        }
        for name in METHODS.iter().filter(|name| calls(code, name)) {
            let message = format!("`{name}` of the standard library gives other bits in wasm");
            findings.push(Finding::new(&file.path, line, message, "use its namesake in libm"));
        }
    }
    findings
}

/// How many lines come before the tests, which stand at the end of their file.
fn shipped_lines(text: &str) -> usize {
    let lines: Vec<&str> = text.lines().collect();
    let begins_tests = |pair: &[&str]| matches!(pair, ["#[cfg(test)]", next] if next.starts_with("mod "));
    lines.windows(2).position(begins_tests).unwrap_or(lines.len())
}

/// Only what ships: a test may read its fixtures and run a simulator.
fn is_engine_source(file: &File) -> bool {
    let mut steps = file.path.split('/');
    file.is_rust() && steps.next() == Some("engine") && steps.nth(1) == Some("src")
}

/// Tells whether `name` stands in `code` as a whole path, not as a part of a longer word.
fn has_name(code: &str, name: &str) -> bool {
    code.match_indices(name).any(|(at, _)| {
        let before = code.get(..at).and_then(|head| head.chars().next_back());
        let after = code.get(at + name.len()..).and_then(|tail| tail.chars().next());
        let joins = |c: Option<char>| c.is_some_and(|c| c.is_alphanumeric() || c == '_');
        !joins(before) && !joins(after)
    })
}

fn calls(code: &str, method: &str) -> bool {
    code.contains(&format!(".{method}(")) || has_name(code, &format!("f64::{method}"))
}
