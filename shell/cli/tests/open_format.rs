//! Invoices and credit notes in the open format, held to the rules of EN 16931 as its committee publishes them.
//! SOURCE: CEN/TC 434, the Schematron of EN 16931 for UBL, run by Saxon (scripts/en16931.sh).
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may fail loudly")]

use serde_json::Value;
use std::path::Path;
use std::process::Command;

fn run(book: &Path, arguments: &[&str]) -> String {
    let mut command = Command::new(env!("CARGO_BIN_EXE_callwright"));
    let output = command.args(arguments).arg("--book").arg(book).output().unwrap();
    assert!(output.status.success(), "{arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

fn ids(book: &Path, begins: &str) -> Vec<String> {
    let shown: Value = serde_json::from_str(&run(book, &["--json", "money"])).unwrap();
    let groups = shown["fields"].as_array().unwrap();
    let fields = groups.iter().flat_map(|group| group["fields"].as_array().unwrap());
    fields.map(|field| field["id"].as_str().unwrap().to_owned()).filter(|id| id.starts_with(begins)).collect()
}

/// Writes every paper of a book in the open format, and gives what the rules say against them.
fn judged(book: &Path, name: &str) -> (usize, String) {
    let folder = book.parent().unwrap();
    let papers: Vec<_> = ids(book, "open/")
        .iter()
        .enumerate()
        .map(|(at, id)| {
            let path = folder.join(format!("{name}-{at}.xml"));
            std::fs::write(&path, run(book, &["money", "--hand-out", id])).unwrap();
            path
        })
        .collect();
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/../../scripts/en16931.sh");
    let output = Command::new(script).args(&papers).output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    (papers.len(), String::from_utf8(output.stdout).unwrap())
}

#[test]
#[ignore = "fetches the rules and what runs them from PyPI: make test"]
fn papers_in_the_open_format_keep_the_rules_of_en_16931() {
    let folder = tempfile::tempdir().unwrap();
    let book = folder.path().join("book.db");
    run(&book, &["demo-shop", "--jobs", "3"]);
    // Parts rated, the rest outside the scope: mixed; one taken back.
    run(&book, &["money", "--set", &format!("{}=wrong address", ids(&book, "credit/").first().unwrap())]);
    let (papers, against) = judged(&book, "mixed");
    assert!(papers >= 4 && against.is_empty(), "{against}");
    // A number that begins with the country, and everything rated.
    run(&book, &["settings", "--set", "country=DE", "--set", "tax-number=DE000000000"]);
    let (_, against) = judged(&book, "with-country");
    assert!(against.is_empty(), "{against}");
    // Everything taken back, and billed again by a shop that charges no tax.
    let bare = folder.path().join("bare.db");
    run(&bare, &["demo-shop", "--jobs", "2"]);
    for id in ids(&bare, "credit/") {
        run(&bare, &["money", "--set", &format!("{id}=no tax is charged")]);
    }
    run(&bare, &["settings", "--set", "tax-on-parts="]);
    let again = ids(&bare, "invoice/");
    assert!(!again.is_empty());
    for id in again {
        run(&bare, &["money", "--set", &format!("{id}=")]);
    }
    let (papers, against) = judged(&bare, "untaxed");
    assert!(against.is_empty(), "{against}");
    let texts = (0..papers).map(|at| std::fs::read_to_string(folder.path().join(format!("untaxed-{at}.xml"))).unwrap());
    assert!(
        texts.filter(|text| text.contains("<cbc:ID>O</cbc:ID>")).count() >= 1,
        "none is outside the scope of the tax"
    );
    // The rules do judge: a letterhead without a number is told by them, and beforehand by us.
    run(&bare, &["settings", "--set", "tax-number="]);
    assert!(judged(&bare, "without").1.contains("BR-CO-26"));
    assert!(run(&bare, &["money"]).contains("set the shop's tax number"));
}
