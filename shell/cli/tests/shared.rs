//! A shop's server and two of its devices by commands alone.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may fail loudly")]

#[path = "browser/site.rs"]
#[allow(dead_code, reason = "the browser's tests need more of it")]
mod site;

use serde_json::Value;
use site::Site;
use std::path::Path;
use std::process::{Command, Output};

fn callwright(arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_callwright"));
    command.args(arguments);
    command
}

fn run(book: &Path, arguments: &[&str]) -> Output {
    callwright(arguments).arg("--book").arg(book).output().unwrap()
}

fn json(book: &Path, arguments: &[&str]) -> Value {
    let output = run(book, &[&["--json"], arguments].concat());
    assert!(output.status.success(), "{arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).unwrap()
}

/// A server with a book of its own in this folder.
fn serve(folder: &Path) -> Site {
    std::fs::write(folder.join("index.html"), "<!doctype html><title>app</title>").unwrap();
    Site::serve_book(folder, "127.0.0.1:0", Some(&folder.join("server.db")))
}

fn setting(book: &Path, id: &str) -> String {
    let shown = json(book, &["settings"]);
    let groups = shown["fields"].as_array().unwrap().iter();
    let mut fields = groups.flat_map(|group| group["fields"].as_array().unwrap());
    fields.find(|field| field["id"] == id).unwrap()["value"].as_str().unwrap().to_owned()
}

#[test]
fn two_books_are_let_in_hold_the_same_and_one_is_shut_out() {
    let folder = tempfile::tempdir().unwrap();
    let server = serve(folder.path());
    let (owner, office) = (folder.path().join("owner.db"), folder.path().join("office.db"));
    json(&owner, &["settings", "--set", "shop=Kettle Lane Repairs"]);
    // Before it is let in a book has nobody to exchange with.
    assert_eq!(run(&owner, &["exchange"]).status.code(), Some(1));
    let typed = server.code.to_lowercase();
    let paired = json(&owner, &["pair", &server.url, &typed, "--name", "the owner's"]);
    assert_eq!(paired["role"], "owner");
    // The code works once.
    assert_eq!(run(&office, &["pair", &server.url, &typed]).status.code(), Some(1));
    json(&owner, &["exchange"]);
    let code = json(&owner, &["devices", "--await", "office"])["code"].as_str().unwrap().to_owned();
    assert_eq!(json(&office, &["pair", &server.url, &code, "--name", "the desk"])["role"], "office");
    assert!(json(&office, &["exchange"])["events"].as_u64().unwrap() > 0);
    assert_eq!(setting(&office, "shop"), "Kettle Lane Repairs");
    // A customer written at the desk, with a key of his own, can be read at the owner's.
    let list = folder.path().join("list.csv");
    std::fs::write(&list, "name,address\nAnn Other,1 Invented Street\n").unwrap();
    json(&office, &["customers", "--set", &format!("list=@{}", list.display()), "--set", "take="]);
    json(&office, &["exchange"]);
    assert!(!json(&owner, &["customers"]).to_string().contains("Ann Other"));
    json(&owner, &["exchange"]);
    assert!(json(&owner, &["customers"]).to_string().contains("Ann Other"));
    assert_eq!(json(&owner, &["exchange"])["events"], 0);
    // The server's own file holds no name and no key that opens one.
    let kept = std::fs::read(folder.path().join("server.db")).unwrap();
    let log = std::fs::read(folder.path().join("server.db-wal")).unwrap_or_default();
    let holds = |words: &[u8]| [&kept, &log].iter().any(|bytes| bytes.windows(words.len()).any(|seen| seen == words));
    assert!(holds(b"customer_added") && !holds(b"Ann Other"));
    let listed = json(&owner, &["devices"]);
    let desk = listed["devices"].as_array().unwrap().iter().find(|device| device["name"] == "the desk").unwrap();
    json(&owner, &["devices", "--revoke", desk["device"].as_str().unwrap()]);
    let refused = run(&office, &["exchange"]);
    assert_eq!(refused.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&refused.stderr).contains("or no longer"), "{refused:?}");
    assert!(json(&owner, &["devices", "--seen"]).to_string().contains("shut a device out"));
    // A server's book is nobody's own, and a device's own is no server's; either is backed up while it is used.
    let servers = folder.path().join("server.db");
    let refused = run(&servers, &["settings"]);
    assert!(String::from_utf8_lossy(&refused.stderr).contains("is a server's book"), "{refused:?}");
    assert!(
        json(&servers, &["backup", folder.path().join("of-server.db").to_str().unwrap()])["events"].as_u64() > Some(1)
    );
    let refused = run(&owner, &["serve", folder.path().to_str().unwrap(), "--at", "127.0.0.1:0"]);
    assert_eq!(refused.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&refused.stderr).contains("a device's own book"), "{refused:?}");
    drop(server);
    // Nobody answers: the set-up is at fault, and nothing is lost.
    assert_eq!(run(&owner, &["exchange"]).status.code(), Some(2));
    let copy = folder.path().join("copy.db");
    assert!(json(&owner, &["backup", copy.to_str().unwrap()])["events"].as_u64().unwrap() > 1);
    assert_eq!(setting(&copy, "shop"), "Kettle Lane Repairs");
}

#[test]
fn nothing_is_served_elsewhere_without_tls() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("index.html"), "<!doctype html><title>app</title>").unwrap();
    let refused = callwright(&["serve", folder.path().to_str().unwrap(), "--at", "0.0.0.0:0"]).output().unwrap();
    assert_eq!(refused.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&refused.stderr).contains("--certificate"), "{refused:?}");
}
