//! A shop that has grown: a phone fetches a year that another device wrote, files the steps of old jobs away, and shows all of
//! it when asked; and has its server set a page as PDF.

use super::call::then_next;
use super::driver::{Browser, USUAL_LETTERS};
use super::shop::{click, write};
use super::site::{Site, folder};
use super::two_phones::{on_phone, pair, until_said};
use serde_json::{Value, json};
use std::path::Path;
use std::process::Command;

/// Closed jobs of the year; a phone holds the latest forty whole.
const JOBS: usize = 60;

fn command(book: &Path, arguments: &[&str]) -> Value {
    let mut command = Command::new(env!("CARGO_BIN_EXE_callwright"));
    let output = command.arg("--json").args(arguments).arg("--book").arg(book).output().unwrap();
    assert!(output.status.success(), "{arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).unwrap()
}

fn fields(shown: &Value) -> impl Iterator<Item = &Value> {
    shown["fields"].as_array().unwrap().iter().flat_map(|group| group["fields"].as_array().unwrap())
}

/// The names in one of the stores of the phone's book.
fn names(browser: &Browser, store: &str) -> Vec<String> {
    let script = "return new Promise((done, fail) => {
      const open = indexedDB.open('callwright');
      open.onerror = fail;
      open.onsuccess = () => {
        const asked = open.result.transaction(arguments[0]).objectStore(arguments[0]).getAllKeys();
        asked.onsuccess = () => { open.result.close(); done(asked.result); };
      };
    })";
    let names = browser.run_with(script, &[json!(store)]);
    names.as_array().unwrap().iter().map(|name| name.as_str().unwrap().to_owned()).collect()
}

/// Changes one letter of a filed job's first fact.
const DAMAGE: &str = "return new Promise((done, fail) => {
  const open = indexedDB.open('callwright');
  open.onerror = fail;
  open.onsuccess = () => {
    const store = open.result.transaction('filed', 'readwrite').objectStore('filed');
    store.get(arguments[0]).onsuccess = (event) => store.put(event.target.result.replace('\"v\"', '\"V\"'), arguments[0]);
    store.transaction.oncomplete = () => { open.result.close(); done(true); };
  };
})";

/// From here on what is handed out can be read.
fn listen(browser: &Browser) {
    browser.run(
        "window.handed = []; const make = URL.createObjectURL;
         URL.createObjectURL = (blob) => { window.handed.push(blob); return make.call(URL, blob); }",
    );
}

/// Opens the app anew and goes to the day.
fn come_back(browser: &Browser, url: &str) {
    browser.load(url);
    browser.wait("return document.querySelector('#to-day, .day #devices') !== null");
    if browser.run("return document.querySelector('#to-day') !== null") == true {
        click(browser, "#to-day");
    }
}

fn handed_out(browser: &Browser) -> String {
    let text = browser.wait("return window.handed.length > 0 ? window.handed.pop().text() : undefined");
    text.as_str().unwrap().to_owned()
}

#[test]
#[ignore = "needs the built app and Chromium; make test runs it"]
fn a_phone_files_old_jobs_away_and_shows_them_whole_when_asked() {
    let kept = tempfile::tempdir().unwrap();
    let year = kept.path().join("year.db");
    let site = Site::serve_book(&folder(), "127.0.0.1:0", Some(&kept.path().join("server.db")));
    command(&year, &["demo-shop", "--jobs", &JOBS.to_string()]);
    command(&year, &["pair", &site.url, &site.code, "--name", "the desk"]);
    // The year's facts are of the demo's own pen, so that they are sent as those of another device.
    command(&year, &["exchange", "--relay"]);
    let code = command(&year, &["devices", "--await", "owner"])["code"].as_str().unwrap().to_owned();
    let browser = Browser::start(390, 844, USUAL_LETTERS);
    on_phone(&browser, &site.url);
    pair(&browser, &code, "Kim's");
    click(&browser, "#to-day");
    browser.wait("return document.querySelector('.day #devices') !== null");
    let filed = names(&browser, "filed");
    let closed = format!("{} jobs closed in this book", filed.len() + 40);
    let day = browser.run("return document.querySelector('main').innerText");
    assert!(filed.len() > 10 && day.as_str().unwrap().contains(&closed), "{closed}: {day}");
    let packs = |browser: &Browser| names(browser, "events").len();
    let in_hand = packs(&browser);
    // Looking back needs every step: the phone says the same as the book that wrote it.
    click(&browser, "#months");
    let said = browser.run("return document.querySelector('main').innerText");
    let months = command(&year, &["months"]);
    for field in fields(&months).filter(|field| field["id"].as_str().unwrap().starts_with("kind/")) {
        let note = field["note"].as_str().unwrap();
        assert!(said.as_str().unwrap().contains(note), "{note} is not in {said}");
    }
    click(&browser, "#to-day");
    // All that is kept of the customer of a filed job, to the letter.
    let customers = command(&year, &["customers"]);
    let choices = fields(&customers).find(|field| field["id"] == "customer").unwrap()["set"]["one-of"].clone();
    let export_of = |id: &str| {
        let shown = command(&year, &["customers", "--set", &format!("customer={id}")]);
        fields(&shown).find(|field| field["id"] == "export").map(|field| field["value"].as_str().unwrap().to_owned())
    };
    let ids: Vec<&str> = choices.as_array().unwrap().iter().filter_map(|choice| choice["answer"].as_str()).collect();
    let (id, export) = ids
        .into_iter()
        .filter(|id| !id.is_empty())
        .find_map(|id| export_of(id).filter(|export| export.contains(&filed[0])).map(|export| (id, export)))
        .unwrap();
    assert!(export.contains("reading"), "{export}");
    click(&browser, "#customers");
    write(&browser, "[data-field='customer']", id);
    listen(&browser);
    browser.run("document.querySelector(\"[data-field='export']\").click()");
    assert_eq!(handed_out(&browser), export);
    click(&browser, "#to-day");
    // A paper as PDF, from the shop's server; without a connection the page says so and the paper is still there.
    click(&browser, "#money");
    listen(&browser);
    then_next(&browser, || drop(browser.run("document.querySelector('[data-pdf]').click()")));
    assert!(handed_out(&browser).starts_with("%PDF-"));
    click(&browser, "#to-day");
    // The next exchange finds nothing to do, what another writes still comes, and nothing has moved.
    command(&year, &["settings", "--set", "town=Millbrook"]);
    command(&year, &["exchange"]);
    click(&browser, "#devices");
    click(&browser, "[data-field='exchange']");
    until_said(&browser, "1 fact came");
    click(&browser, "[data-field='exchange']");
    until_said(&browser, "0 facts came");
    browser.reload();
    browser.wait("return document.querySelector('#to-day, .day #devices') !== null");
    assert_eq!((names(&browser, "filed"), packs(&browser)), (filed.clone(), in_hand + 1));
    // A filed fact that is damaged is told when it is read, comes again with the next exchange, and takes its old place.
    browser.run_with(DAMAGE, &[json!(filed[0])]);
    come_back(&browser, &site.url);
    click(&browser, "#months");
    browser.wait("return document.querySelector('#damaged-here') !== null");
    click(&browser, "#to-day");
    click(&browser, "#devices");
    for facts in ["1 fact came", "0 facts came"] {
        click(&browser, "[data-field='exchange']");
        until_said(&browser, facts);
    }
    come_back(&browser, &site.url);
    assert_eq!((names(&browser, "filed"), packs(&browser)), (filed, in_hand + 1));
    click(&browser, "#months");
    assert_eq!(browser.run("return document.querySelector('#damaged-here')"), Value::Null);
}
