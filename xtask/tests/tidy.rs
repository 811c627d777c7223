//! `tidy` held against small workspaces, each with one thing wrong.
#![allow(clippy::unwrap_used, reason = "a test stops at the first surprise")]

use std::fs;
use std::path::Path;
use tempfile::TempDir;
use xtask::bench::crates_with_benches;
use xtask::tidy::check;

const TABLE: &str = "\
# Architecture

<!-- who-may-use-whom -->
| crate | folder | may use | tests may also use |
|---|---|---|---|
| ohms | engine/ohms | nothing | nothing |
| bench | engine/bench | ohms | screen |
| screen | shell/screen | ohms, bench | nothing |
| xtask | xtask | nothing | nothing |
<!-- end -->
";

fn write(root: &Path, path: &str, text: &str) {
    let file = root.join(path);
    fs::create_dir_all(file.parent().unwrap()).unwrap();
    fs::write(file, text).unwrap();
}

fn manifest(name: &str, rest: &str) -> String {
    format!("[package]\nname = \"{name}\"\n{rest}")
}

/// A workspace with nothing to mend.
fn sound() -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    let root = folder.path();
    write(root, "ARCHITECTURE.md", TABLE);
    write(root, "xtask/Cargo.toml", &manifest("xtask", ""));
    write(root, "xtask/forbidden-words.txt", "# remark\nGADGET\tsay what it is\n");
    write(root, "engine/ohms/Cargo.toml", &manifest("ohms", "[dependencies]\nlibm = \"0.2\"\n"));
    write(root, "engine/ohms/src/lib.rs", "//! Ohms.\n");
    let uses = "[dependencies]\nohms = { path = \"../ohms\" }\n\n[dev-dependencies]\nscreen = { path = \"x\" }\n";
    write(root, "engine/bench/Cargo.toml", &manifest("bench", uses));
    write(root, "engine/bench/src/lib.rs", "//! Bench.\n");
    write(root, "shell/screen/Cargo.toml", &manifest("screen", "[dependencies]\nbench = { workspace = true }\n"));
    write(root, "shell/screen/src/main.rs", "//! Screen.\nuse std::fs;\nfn main() {}\n");
    write(root, "docs/page.md", "See [the table](../ARCHITECTURE.md#who) and [the web](https://example.org/x).\n");
    folder
}

/// What tidy says of the sound workspace after one file is written over.
fn said_after(path: &str, text: &str) -> Vec<String> {
    let folder = sound();
    write(folder.path(), path, text);
    check(folder.path()).unwrap().findings.iter().map(ToString::to_string).collect()
}

#[test]
fn a_sound_workspace_has_nothing_to_mend() {
    let folder = sound();
    let report = check(folder.path()).unwrap();
    assert_eq!(report.findings, []);
    assert_eq!((report.crates, report.files), (4, 9));
}

#[test]
fn a_crate_may_not_use_what_its_row_does_not_name() {
    let text = manifest("ohms", "[dependencies]\nlibm = \"0.2\"\nbench = { workspace = true }\n");
    assert_eq!(
        said_after("engine/ohms/Cargo.toml", &text),
        [
            "engine/ohms/Cargo.toml:5: `ohms` may not use `bench`; do without it, or change line 6 of ARCHITECTURE.md and say why"
        ]
    );
}

#[test]
fn what_only_tests_may_use_is_not_for_the_crate_itself() {
    let text = manifest("bench", "[dependencies.screen]\npath = \"x\"\n");
    assert_eq!(
        said_after("engine/bench/Cargo.toml", &text),
        [
            "engine/bench/Cargo.toml:3: `bench` may not use `screen`; do without it, or change line 7 of ARCHITECTURE.md and say why"
        ]
    );
}

#[test]
fn tests_and_single_targets_are_held_to_the_table_too() {
    let text = manifest("ohms", "[dev-dependencies]\nscreen.workspace = true\n");
    let said = said_after("engine/ohms/Cargo.toml", &text);
    assert!(
        matches!(&said[..], [one] if one.starts_with("engine/ohms/Cargo.toml:4: tests of `ohms` may not use `screen`"))
    );
    let text = manifest("ohms", "[target.'cfg(unix)'.dependencies]\nbench = { workspace = true }\n");
    let said = said_after("engine/ohms/Cargo.toml", &text);
    assert!(matches!(&said[..], [one] if one.starts_with("engine/ohms/Cargo.toml:4: `ohms` may not use `bench`")));
}

#[test]
fn an_alias_does_not_hide_a_crate() {
    let text = manifest("ohms", "[dependencies]\nother = { package = \"bench\", path = \"../bench\" }\n");
    let said = said_after("engine/ohms/Cargo.toml", &text);
    assert!(matches!(&said[..], [one] if one.starts_with("engine/ohms/Cargo.toml:4: `ohms` may not use `bench`")));
}

#[test]
fn a_crate_without_a_row_and_a_row_without_a_crate_are_named() {
    let said = said_after("shell/web/Cargo.toml", &manifest("web", ""));
    assert_eq!(
        said,
        ["shell/web/Cargo.toml:1: `web` has no row in the table of ARCHITECTURE.md; add one that says what it may use"]
    );
    let table = TABLE.replace("<!-- end -->", "| ghost | engine/ghost | nothing | nothing |\n<!-- end -->");
    assert_eq!(
        said_after("ARCHITECTURE.md", &table),
        ["ARCHITECTURE.md:10: there is no crate `ghost`; take its row out"]
    );
}

#[test]
fn a_table_that_cannot_be_read_is_named() {
    let said = said_after("ARCHITECTURE.md", "# Nothing\n");
    assert!(said[0].starts_with("ARCHITECTURE.md: the table of who may use whom is missing"), "{said:?}");
    let said = said_after("ARCHITECTURE.md", &TABLE.replace("<!-- end -->", ""));
    assert!(said[0].starts_with("ARCHITECTURE.md:3: the table has no end"), "{said:?}");
    let said = said_after("ARCHITECTURE.md", &TABLE.replace("engine/ohms", "engine/volts"));
    assert_eq!(
        said,
        ["ARCHITECTURE.md:6: `ohms` stands in `engine/ohms`, not in `engine/volts`; put the folder right"]
    );
    let said = said_after("ARCHITECTURE.md", &TABLE.replace("| ohms, bench |", "| ohms, bench, amps |"));
    assert_eq!(said, ["ARCHITECTURE.md:8: `screen` may use `amps`, which has no row; give it a row or take it out"]);
    let said = said_after("ARCHITECTURE.md", &TABLE.replace("| may use |", "| uses |"));
    assert!(said[0].starts_with("ARCHITECTURE.md:4: the table has another head"), "{said:?}");
    let said = said_after("ARCHITECTURE.md", &TABLE.replace("| xtask | nothing | nothing |", "| xtask |"));
    assert!(said.iter().any(|one| one.starts_with("ARCHITECTURE.md:9: this row has 2 cells")), "{said:?}");
}

#[test]
fn the_engine_may_not_touch_the_world() {
    for (code, named) in [
        ("let text = std::fs::read_to_string(path);", "`std::fs`"),
        ("use std::env;", "`std::env`"),
        ("use std::net::TcpStream;", "`std::net`"),
        ("std::thread::spawn(run);", "`std::thread`"),
        ("let now = Instant::now();", "`Instant::now`"),
        ("let parts: HashMap<u8, u8> = x;", "`HashMap`"),
        ("let parts: HashSet<u8> = x;", "`HashSet`"),
        ("let y = x.ln();", "`ln`"),
        ("let y = x.powi(2);", "`powi`"),
        ("let y = xs.map(f64::exp);", "`exp`"),
    ] {
        let said = said_after("engine/ohms/src/lib.rs", &format!("//! Ohms.\n\n{code}\n"));
        assert!(
            matches!(&said[..], [one] if one.starts_with("engine/ohms/src/lib.rs:3: ") && one.contains(named)),
            "{said:?}"
        );
    }
}

#[test]
fn the_engine_may_speak_of_the_world_and_use_libm() {
    let code = "//! No std::fs here.\n// HashMap leaks its order.\nlet y = libm::log(x) + libm::exp(x) + x.sqrt();\nlet z = explain.expand(MyHashMapLike);\n";
    assert_eq!(said_after("engine/ohms/src/lib.rs", code), [""; 0]);
    assert_eq!(said_after("engine/ohms/tests/files.rs", "//! Reads fixtures.\nuse std::fs;\n"), [""; 0]);
}

#[test]
fn tests_at_the_end_of_a_file_may_read_their_fixtures() {
    let tests = "//! Ohms.\n\n#[cfg(test)]\nmod tests {\n    use std::fs;\n}\n";
    assert_eq!(said_after("engine/ohms/src/lib.rs", tests), [""; 0]);
    let one_function = "//! Ohms.\n\n#[cfg(test)]\nfn helper() {}\nuse std::fs;\n";
    assert_eq!(said_after("engine/ohms/src/lib.rs", one_function).len(), 1);
}

#[test]
fn every_source_file_has_a_head() {
    assert_eq!(
        said_after("engine/ohms/src/part.rs", "use core::fmt;\n"),
        [
            "engine/ohms/src/part.rs:1: the file has no head; begin with `//!`: what the file is, and what it refuses to know"
        ]
    );
}

#[test]
fn a_source_file_may_have_800_lines_and_no_more() {
    let lines = |count: usize| format!("//! Long.\n{}", "\n".repeat(count - 1));
    assert_eq!(said_after("engine/ohms/src/long.rs", &lines(800)), [""; 0]);
    assert_eq!(
        said_after("engine/ohms/src/long.rs", &lines(801)),
        ["engine/ohms/src/long.rs:801: 801 lines are more than 800; find its second noun and give it a file"]
    );
}

#[test]
fn a_module_file_is_not_called_mod() {
    let said = said_after("engine/ohms/src/part/mod.rs", "//! Part.\n");
    assert_eq!(
        said,
        [
            "engine/ohms/src/part/mod.rs: a module is called `mod.rs`; name it after its folder, `part.rs` beside `part/`"
        ]
    );
}

#[test]
fn blanks_at_the_end_of_a_line_are_named() {
    let said = said_after("docs/page.md", "one\ntwo \n");
    assert_eq!(said, ["docs/page.md:2: blanks at the end of the line; take them out"]);
    // Data from elsewhere is left as it came.
    assert_eq!(said_after("docs/data.csv", "a,b \r\n"), [""; 0]);
}

#[test]
fn forbidden_words_are_named_with_what_to_do() {
    let said = said_after("engine/ohms/src/lib.rs", "//! Ohms.\n// a GADGET\n");
    assert_eq!(said, ["engine/ohms/src/lib.rs:2: `GADGET` may not stand here; say what it is"]);
}

#[test]
fn links_must_lead_somewhere() {
    let said = said_after("docs/page.md", "[one](gone.md) [two](../ARCHITECTURE.md) [here](#below)\n");
    assert_eq!(
        said,
        ["docs/page.md:1: the link to `gone.md` leads nowhere; name a file that is there, from this page's folder"]
    );
    let quoted = "```\n[one](gone.md)\n```\n";
    assert_eq!(said_after("docs/page.md", quoted), [""; 0]);
}

#[test]
fn build_output_is_not_read() {
    assert_eq!(said_after("target/debug/build.rs", "GADGET \n"), [""; 0]);
}

#[test]
fn a_workspace_without_its_table_is_an_error() {
    let folder = sound();
    fs::remove_file(folder.path().join("ARCHITECTURE.md")).unwrap();
    assert!(check(folder.path()).unwrap_err().to_string().contains("ARCHITECTURE.md"));
}

#[test]
fn benches_are_found_by_their_folder() {
    let folder = sound();
    assert_eq!(crates_with_benches(folder.path()).unwrap(), [""; 0]);
    write(folder.path(), "engine/bench/benches/speed.rs", "//! Speed.\nfn main() {}\n");
    assert_eq!(crates_with_benches(folder.path()).unwrap(), ["bench"]);
}

#[test]
fn a_package_is_held_to_licence_source_and_bans() {
    let rules = "allowed = [\"MIT\", \"Apache-2.0\"]\n[exceptions]\nodd = \"Odd-1\"\nunused = \"MPL-2.0\"\n[bans]\nold = \"not kept\"\n";
    let rules = xtask::tidy::supply::read_rules(rules).unwrap();
    let registry = "registry+https://github.com/rust-lang/crates.io-index";
    let package = |name: &str, licence: &str, source: &str| serde_json::json!({ "name": name, "version": "1.0.0", "license": licence, "source": source });
    let metadata = serde_json::json!({ "packages": [
        { "name": "ours", "version": "0.1.0", "license": "GPL-3.0-only", "source": null },
        package("good", "GPL-3.0-only OR MIT", registry),
        package("both", "MIT AND Apache-2.0", registry),
        package("slash", "MIT/Apache-2.0", registry),
        package("odd", "Odd-1", registry),
        package("bad", "MIT AND GPL-3.0-only", registry),
        package("none", "", registry),
        package("old", "MIT", registry),
        package("git", "MIT", "git+https://example.org/x"),
    ] });
    let found: Vec<String> = xtask::tidy::supply::judge(&rules, &metadata).iter().map(ToString::to_string).collect();
    let about = |word: &str| found.iter().filter(|said| said.contains(word)).count();
    assert_eq!(found.len(), 5, "{found:#?}");
    assert_eq!((about("`bad`"), about("`none`"), about("`old`"), about("`git`"), about("`unused`")), (1, 1, 1, 1, 1));
    assert!(xtask::tidy::supply::read_rules("allowed = [\"No Such Licence\"]").is_err());
}
