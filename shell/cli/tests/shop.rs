//! The shop's settings and its van on the command line, in a book of their own.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may fail loudly")]

use serde_json::Value;
use std::path::Path;
use std::process::{Command, Output};

fn run(book: &Path, arguments: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_callwright"));
    command.args(arguments).arg("--book").arg(book).output().unwrap()
}

fn json(book: &Path, arguments: &[&str]) -> Value {
    let output = run(book, &[&["--json"], arguments].concat());
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).unwrap()
}

fn value(shown: &Value, id: &str) -> String {
    let groups = shown["fields"].as_array().unwrap();
    let fields = groups.iter().flat_map(|group| group["fields"].as_array().unwrap());
    fields.into_iter().find(|field| field["id"] == id).unwrap()["value"].as_str().unwrap().to_owned()
}

#[test]
fn settings_and_counts_stay_in_the_book_and_a_mistake_is_refused_with_its_mend() {
    let folder = tempfile::tempdir().unwrap();
    let book = folder.path().join("book.db");
    assert_eq!(value(&json(&book, &["settings"]), "per-hour"), "120");
    json(&book, &["settings", "--set", "per-hour=132.50", "--set", "clamp=yes"]);
    let meters = folder.path().join("meters.toml");
    std::fs::write(&meters, include_str!("../../../meters/ordinary.toml")).unwrap();
    let shown = json(&book, &["settings", "--set", &format!("meters=@{}", meters.display())]);
    assert_eq!((value(&shown, "per-hour").as_str(), value(&shown, "clamp").as_str()), ("132.50", "no"));
    json(&book, &["van", "--count", "dryer-timer-240/heater=2"]);
    assert_eq!(value(&json(&book, &["van"]), "dryer-timer-240/heater"), "2");
    for (arguments, said) in [
        (["settings", "--set", "per-hour=lots"], "write it as `95`"),
        (["settings", "--set", "nothing"], "write it as `ID=VALUE`"),
        (["settings", "--set", "meters=@/no/such/file"], "cannot read"),
        (["van", "--count", "dryer-timer-240/no-such=1"], "take one that is listed"),
    ] {
        let output = run(&book, &arguments);
        assert_eq!(output.status.code(), Some(1), "{arguments:?}");
        assert!(String::from_utf8_lossy(&output.stderr).contains(said), "{}", String::from_utf8_lossy(&output.stderr));
    }
    let text = String::from_utf8(run(&book, &["settings"]).stdout).unwrap();
    assert!(text.contains("per-hour") && text.contains("132.50"));
}

/// The demo's shop in a book, planned, billed, looked back on and handed out by commands alone.
#[test]
fn the_demos_shop_is_planned_billed_and_looked_back_on() {
    let folder = tempfile::tempdir().unwrap();
    let book = folder.path().join("shop.db");
    let made = json(&book, &["demo-shop", "--jobs", "3"]);
    assert!(made["events"].as_u64().unwrap() > 150, "{made}");
    // It is written into an empty book alone.
    assert_eq!(run(&book, &["demo-shop", "--jobs", "1"]).status.code(), Some(1));
    let plan = json(&book, &["plan"]);
    let titles: Vec<&str> =
        plan["fields"].as_array().unwrap().iter().map(|group| group["title"].as_str().unwrap()).collect();
    assert_eq!(titles[..3], ["Which day", "Order of the visits", "What to load"]);
    // What the routing library says of itself stays in it.
    let printed = String::from_utf8(run(&book, &["plan"]).stdout).unwrap();
    assert!(printed.starts_with("Which day") && printed.matches("promised 2026-03-02").count() == 5, "{printed}");
    let calendar = String::from_utf8(run(&book, &["plan", "--hand-out", "calendar"]).stdout).unwrap();
    assert_eq!(calendar.matches("BEGIN:VEVENT").count(), 5);
    assert!(calendar.split("\r\n").all(|line| line.len() <= 75), "a line is not folded");
    let books = String::from_utf8(run(&book, &["money", "--hand-out", "books"]).stdout).unwrap();
    assert!(books.starts_with("date,what,number,currency,net") && books.contains(",invoice,DEDE-00001,"), "{books}");
    assert_eq!(run(&book, &["money", "--hand-out", "nothing"]).status.code(), Some(1));
    typeset(folder.path(), &book);
    taken_back(&book);
    let months = json(&book, &["months"]);
    assert!(!months["curves"].as_array().unwrap().is_empty());
    let list = folder.path().join("list.csv");
    std::fs::write(&list, "name,at\nNew One,\"1.5, 2.5\"\n").unwrap();
    let taken = json(&book, &["customers", "--set", &format!("list=@{}", list.display()), "--set", "take="]);
    assert!(taken.to_string().contains("New One"));
}

/// An invoice taken back is billed anew, or what was paid on it is paid back.
fn taken_back(book: &Path) {
    let first = |begins: &str| {
        let money = json(book, &["money"]);
        let groups = money["fields"].as_array().unwrap();
        let mut ids = groups.iter().flat_map(|group| group["fields"].as_array().unwrap()).map(|field| &field["id"]);
        ids.find(|id| id.as_str().unwrap().starts_with(begins)).map(|id| id.as_str().unwrap().to_owned())
    };
    assert_eq!(first("back/"), None);
    json(book, &["money", "--set", &format!("{}=wrong address", first("credit/").unwrap())]);
    json(book, &["money", "--set", &format!("{}=card", first("back/").unwrap())]);
    assert_eq!(first("back/"), None);
    json(book, &["money", "--set", &format!("{}=", first("invoice/").unwrap())]);
    assert!(first("paid/").is_some(), "what was paid back is owed again");
}

/// An invoice as a file, by the program's template and by one of the shop's own.
fn typeset(folder: &Path, book: &Path) {
    let money = json(book, &["money"]);
    let groups = money["fields"].as_array().unwrap().iter();
    let mut ids =
        groups.flat_map(|group| group["fields"].as_array().unwrap()).map(|field| field["id"].as_str().unwrap());
    let paper = ids.find(|id| id.starts_with("paper/")).unwrap();
    let file = folder.join("paper.pdf");
    let set = |file: &Path| run(book, &["money", "--hand-out", paper, "--pdf", file.to_str().unwrap()]);
    assert!(set(&file).status.success());
    assert!(std::fs::read(&file).unwrap().starts_with(b"%PDF-"));
    let own = folder.join("own.typ");
    let template = |text: &str| {
        std::fs::write(&own, text).unwrap();
        run(book, &["settings", "--set", &format!("template=@{}", own.display())])
    };
    let refused = template("#let given = json(\"page.json\")\n#given.nothing");
    assert_eq!(refused.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&refused.stderr).contains("template, line 2"), "{refused:?}");
    assert!(
        template("#let given = json(\"page.json\")\n#set page(width: 50mm, height: 50mm)\n#given.title")
            .status
            .success()
    );
    let other = folder.join("other.pdf");
    assert!(set(&other).status.success());
    assert_ne!(std::fs::read(&file).unwrap(), std::fs::read(&other).unwrap());
    assert_eq!(run(book, &["money", "--hand-out", "books", "--pdf", file.to_str().unwrap()]).status.code(), Some(1));
}

#[test]
fn repair_and_replacement_are_weighed_and_nonsense_is_refused() {
    let command = |arguments: &[&str]| Command::new(env!("CARGO_BIN_EXE_callwright")).args(arguments).output().unwrap();
    let said = |arguments: &[&str]| String::from_utf8(command(arguments).stdout).unwrap();
    let young = said(&["worth", "dishwasher-120", "--repair", "200", "--age", "2"]);
    let old = said(&["worth", "dishwasher-120", "--repair", "420", "--age", "14"]);
    assert!(young.contains("repairing is cheaper") && old.contains("replacing is cheaper"), "{young}{old}");
    assert!(old.contains("assumed: 14 years old (as said)") && old.contains("builders' association"), "{old}");
    // 300 kWh at 0.40 are 120 a year: the same as 120 a year said at once, and half of it at half the price is not.
    let worth =
        |more: &[&str]| said(&[&["--json", "worth", "dishwasher-120", "--repair", "300", "--age", "9"], more].concat());
    let up_to = |text: String| serde_json::from_str::<Value>(&text).unwrap()["up_to"].as_f64().unwrap();
    let by_energy = up_to(worth(&["--kwh-more", "300", "--energy-price", "0.40"]));
    assert!((by_energy - up_to(worth(&["--uses-more", "120"]))).abs() < 1e-9);
    assert!(up_to(worth(&["--kwh-more", "300", "--energy-price", "0.20"])) > by_energy + 1.0);
    assert!(up_to(worth(&["--warranty", "5"])) < up_to(worth(&[])), "a longer warranty speaks for a new one");
    // Somebody cheaper, whoever looked being paid besides, is told as the third way.
    let cheaper = said(&["worth", "dishwasher-120", "--repair", "300", "--age", "4", "--refer", "90"]);
    assert!(
        cheaper.contains("referring it is cheaper")
            && cheaper.contains("refer it USD")
            && cheaper.contains("refer it: USD"),
        "{cheaper}"
    );
    let dearer = said(&["worth", "dishwasher-120", "--repair", "150", "--age", "4", "--refer", "90"]);
    assert!(dearer.contains("repairing is cheaper"), "{dearer}");
    assert_eq!(command(&["worth", "dishwasher-120", "--repair", "-5"]).status.code(), Some(1));
    let procedure = said(&["procedure", "dishwasher-120", "heater:replace", "--shop", "Demo shop"]);
    assert!(procedure.contains("Demo shop") && procedure.contains("Measure it dead"), "{procedure}");
    assert_eq!(command(&["procedure", "dishwasher-120", "house:refer"]).status.code(), Some(1));
}
