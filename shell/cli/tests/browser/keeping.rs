//! What is kept: by one tab alone, with damage told and the rest safe, and across a newer version.

use super::call::{PLACE, begin_demo, go_on, open, open_at, then_next};
use super::driver::{Browser, USUAL_LETTERS};
use super::shop::{click, write};
use super::site::{Site, folder};
use serde_json::Value;
use std::fs;
use std::path::Path;
use tempfile::TempDir;

#[test]
#[ignore = "needs the built app and Chromium; make test runs it"]
fn a_second_tab_says_that_another_writes_and_goes_on_when_that_one_closes() {
    let (site, browser) = open(390, 844);
    begin_demo(&browser);
    go_on(&browser);
    let first = browser.tab();
    let second = browser.open_tab();
    browser.load(&site.url);
    let says = browser.wait("return document.querySelector('.wait h1')?.textContent");
    assert_eq!(says, "Open in another tab");
    assert_eq!(browser.run("return document.querySelector('.call') === null"), true);
    browser.go_to(&first);
    browser.close_tab();
    browser.go_to(&second);
    browser.wait("return document.querySelector('.call #say') !== null");
}

/// Makes the book one of the first version: the same facts in a database that has only the stores which that version had.
const OF_THE_FIRST_VERSION: &str = "return new Promise((done, fail) => {
  const open = indexedDB.open('callwright'), stores = ['events', 'records', 'keys', 'device'], kept = [];
  open.onerror = fail;
  open.onsuccess = () => {
    const base = open.result, reading = base.transaction(stores);
    for (const store of stores)
      reading.objectStore(store).openCursor().onsuccess = (event) => {
        const at = event.target.result;
        if (at) { kept.push([store, at.key, at.value]); at.continue(); }
      };
    reading.oncomplete = () => {
      base.close();
      indexedDB.deleteDatabase('callwright').onsuccess = () => {
        const again = indexedDB.open('callwright', 1);
        again.onerror = fail;
        again.onupgradeneeded = () => stores.forEach((store) => again.result.createObjectStore(store));
        again.onsuccess = () => {
          const writing = again.result.transaction(stores, 'readwrite');
          kept.forEach(([store, key, value]) => writing.objectStore(store).put(value, key));
          writing.oncomplete = () => { again.result.close(); done(kept.length); };
        };
      };
    };
  };
})";

#[test]
#[ignore = "needs the built app and Chromium; make test runs it"]
fn a_book_of_the_first_version_opens_and_is_written_on() {
    let (site, browser) = open(390, 844);
    click(&browser, "#settings");
    write(&browser, "[data-field='shop']", "Kettle Lane Repairs");
    browser.load(&format!("{}manifest.webmanifest", site.url));
    // A fact, and the name of this device.
    assert_eq!(browser.run(OF_THE_FIRST_VERSION), 2);
    for (town, next) in [("", "Millbrook"), ("Millbrook", "Sampleton")] {
        browser.load(&site.url);
        browser.wait("return document.querySelector('.day #settings') !== null");
        click(&browser, "#settings");
        let value =
            |field: &str| browser.run(&format!("return document.querySelector(\"[data-field='{field}']\").value"));
        assert_eq!((value("shop"), value("town")), (Value::from("Kettle Lane Repairs"), Value::from(town)));
        write(&browser, "[data-field='town']", next);
    }
}

/// Changes one letter of the last event of the shop's own book.
const DAMAGE: &str = "return new Promise((done, fail) => {
  const open = indexedDB.open('callwright');
  open.onerror = fail;
  open.onsuccess = () => {
    const store = open.result.transaction('events', 'readwrite').objectStore('events');
    const found = store.openCursor(null, 'prev');
    found.onsuccess = () => {
      const kept = found.result.value;
      found.result.update(kept.slice(0, -3) + '#' + kept.slice(-2));
      store.transaction.oncomplete = () => { open.result.close(); done(true); };
    };
  };
})";

#[test]
#[ignore = "needs the built app and Chromium; make test runs it"]
fn a_damaged_record_is_told_and_the_rest_is_kept() {
    let (_site, browser) = open(390, 844);
    then_next(&browser, || {
        browser
            .run("[...document.querySelectorAll('.day .choice')].find((b) => b.textContent.includes('ryer')).click()");
    });
    browser.wait("return document.querySelector('.call #field-0') !== null");
    for (at, word) in ["Ada Example", "1 Sample Street"].iter().enumerate() {
        browser.run(&format!(
            "const field = document.querySelector('#field-{at}'); field.value = '{word}'; \
             field.dispatchEvent(new Event('input', {{bubbles: true}}))"
        ));
    }
    then_next(&browser, || browser.touch("#main-button", 0));
    let who = "return document.querySelector('.top b').textContent";
    assert_eq!(browser.run(who), "Ada Example");
    then_next(&browser, || {
        browser.run(
            "const field = document.querySelector('#field-0'); field.value = '9'; \
            field.dispatchEvent(new Event('input', {bubbles: true})); document.querySelector('#main-button').click()",
        );
    });
    assert_eq!(browser.run(DAMAGE), true);
    browser.reload();
    let told = browser.wait("return document.querySelector('#damaged-here')?.innerText");
    assert!(told.as_str().unwrap().contains("The rest is safe"), "{told}");
    browser.wait("return document.querySelector('.call #to-day') !== null");
    assert_eq!(browser.run(who), "Ada Example", "what was not damaged is not there any more");
    then_next(&browser, || browser.touch("#to-day", 0));
    let day = browser.wait("return document.querySelector('.day #damaged')?.innerText");
    assert!(day.as_str().unwrap().contains("The rest is safe"), "{day}");
}

/// Gives a copy of the app's folder, which a test may change.
fn copied() -> TempDir {
    let copy = tempfile::tempdir().unwrap();
    copy_into(&folder(), copy.path());
    copy
}

fn copy_into(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let place = to.join(entry.file_name());
        if entry.file_type().unwrap().is_dir() {
            copy_into(&entry.path(), &place);
        } else {
            fs::copy(entry.path(), place).unwrap();
        }
    }
}

/// Lets a test say that there is no room: what is put among the events is refused at once, or when all of it is to be made durable. A quota
/// set by the developer's protocol does not reach this database.
const NO_ROOM: &str = r#"
if (!page) {
  let room = "room";
  new BroadcastChannel("room").onmessage = (event) => { room = event.data; };
  const put = IDBObjectStore.prototype.put;
  IDBObjectStore.prototype.put = function (...what) {
    const full = this.name === "events" ? room : "room";
    if (full === "none at once") throw new DOMException("no room", "QuotaExceededError");
    const asked = put.apply(this, what);
    if (full === "none in the end") asked.addEventListener("success", () => this.transaction.abort());
    return asked;
  };
}
"#;

#[test]
#[ignore = "needs the built app and Chromium; make test runs it"]
fn what_cannot_be_kept_is_said_and_taken_again_when_there_is_room() {
    let served = copied();
    let start = served.path().join("start.js");
    fs::write(&start, fs::read_to_string(&start).unwrap() + NO_ROOM).unwrap();
    let worker = served.path().join("sw.js");
    fs::write(&worker, fs::read_to_string(&worker).unwrap().replace("{ integrity, ", "{ ")).unwrap();
    let site = Site::serve(served.path(), "127.0.0.1:0");
    let browser = Browser::start(390, 844, USUAL_LETTERS);
    open_at(&site, &browser);
    begin_demo(&browser);
    for room in ["none at once", "none in the end"] {
        go_on(&browser);
        let say = "return document.querySelector('#say').textContent";
        let before = browser.run(say);
        browser.run(&format!("window.room ??= new BroadcastChannel('room'); room.postMessage('{room}')"));
        then_next(&browser, || drop(browser.run("document.querySelector('#offer').click()")));
        let notice = browser.run("return document.querySelector('#notice')?.innerText ?? ''");
        assert!(
            notice.as_str().unwrap().contains("not kept") && notice.as_str().unwrap().contains("room"),
            "{room}: {notice}"
        );
        assert_eq!(browser.run(say), before, "it went on without having kept the answer");
        browser.run("room.postMessage('room')");
        go_on(&browser);
        assert_ne!(browser.run(say), before);
        let after = browser.run(PLACE);
        browser.reload();
        browser.wait("return document.querySelector('.call #say') !== null");
        assert_eq!(browser.run(PLACE), after, "what was said to be kept is not there");
    }
}

#[test]
#[ignore = "needs the built app and Chromium; make test runs it"]
fn a_newer_version_waits_until_the_day_and_the_call_is_still_there() {
    let served = copied();
    let site = Site::serve(served.path(), "127.0.0.1:0");
    let browser = Browser::start(390, 844, USUAL_LETTERS);
    open_at(&site, &browser);
    begin_demo(&browser);
    go_on(&browser);
    let worker = served.path().join("sw.js");
    let text = fs::read_to_string(&worker).unwrap();
    fs::write(&worker, text.replacen("const VERSION = \"", "const VERSION = \"newer-", 1)).unwrap();
    browser.run("return navigator.serviceWorker.getRegistration().then((of) => of.update()).then(() => true)");
    browser.wait("return navigator.serviceWorker.getRegistration().then((of) => of.waiting !== null)");
    go_on(&browser);
    assert_eq!(browser.run("return document.querySelector('#newer')"), Value::Null, "offered in the middle of a call");
    let before = browser.run(PLACE);
    then_next(&browser, || browser.touch("#to-day", 0));
    browser.wait("return document.querySelector('.day #newer') !== null");
    browser.touch("#newer", 0);
    browser.wait("return caches.keys().then((names) => names.length === 1 && names[0].includes('newer-'))");
    browser.wait("return document.querySelector('.day #demo') !== null");
    begin_demo(&browser);
    assert_eq!(browser.run(PLACE), before);
}

/// The suite that every store of the book passes, held by the app itself with the browser's database.
#[test]
#[ignore = "needs the built app and Chromium; make test runs it"]
fn the_browsers_database_keeps_the_contract() {
    let (_site, browser) = open(390, 844);
    then_next(&browser, || {
        browser.run("document.querySelector('#devices').click()");
    });
    browser.run("document.querySelector(\"[data-field='trial']\").click()");
    let said = browser.wait("return document.body.innerText.match(/\\d+ of \\d+ promises held[^\\n]*/)?.[0]");
    let count = book::suite::cases().unwrap().len();
    assert_eq!(said, format!("{count} of {count} promises held").as_str());
}
