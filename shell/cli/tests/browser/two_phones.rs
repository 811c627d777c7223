//! Two phones and one server: let in by codes, one book on both, words that unlock, a phone shut out. Two addresses of one
//! machine are two origins to a browser, and so two phones.

use super::call::then_next;
use super::driver::{Browser, USUAL_LETTERS};
use super::shop::{click, write};
use super::site::{Site, folder};
use base64ct::{Base64, Encoding};

/// Everything in the book's database as text.
const KEPT: &str = "return new Promise((done, fail) => {
  const open = indexedDB.open('callwright');
  open.onerror = fail;
  open.onsuccess = () => {
    const base = open.result, stores = [...base.objectStoreNames], reading = base.transaction(stores), kept = [];
    for (const store of stores) reading.objectStore(store).getAll().onsuccess = (event) => kept.push(...event.target.result);
    reading.oncomplete = () => { base.close(); done(kept.map(String)); };
  };
})";

pub(crate) fn on_phone(browser: &Browser, url: &str) {
    browser.load(url);
    browser.wait("return document.querySelector('.day #devices') !== null");
}

/// Keeps what is shown as a picture, where a folder for them is named.
fn look(browser: &Browser, name: &str) {
    if let Some(folder) = std::env::var_os("CALLWRIGHT_PICTURES") {
        let picture = Base64::decode_vec(&browser.picture()).unwrap();
        std::fs::write(std::path::Path::new(&folder).join(format!("{name}.webp")), picture).unwrap();
    }
}

/// Waits until the devices' screen says this.
pub(crate) fn until_said(browser: &Browser, words: &str) {
    browser.wait(&format!("return document.body.innerText.includes({words:?})"));
}

pub(crate) fn pair(browser: &Browser, code: &str, name: &str) {
    click(browser, "#devices");
    write(browser, "[data-field='code']", code);
    write(browser, "[data-field='name']", name);
    click(browser, "[data-field='pair']");
    until_said(browser, "the shop's book is here");
    click(browser, "[data-field='exchange']");
    until_said(browser, "both hold the same since");
}

#[test]
#[ignore = "needs the built app and Chromium; make test runs it"]
fn two_phones_hold_one_book_and_a_lost_one_is_locked_and_shut_out() {
    let kept = tempfile::tempdir().unwrap();
    let site = Site::serve_book(&folder(), "127.0.0.1:0", Some(&kept.path().join("book.db")));
    let owner = site.url.clone();
    let technician = owner.replace("127.0.0.1", "localhost");
    let browser = Browser::start(390, 844, USUAL_LETTERS);
    // The owner's phone sets the shop's name, then is let in by the server's own code.
    on_phone(&browser, &owner);
    click(&browser, "#settings");
    write(&browser, "[data-field='shop']", "Kettle Lane Repairs");
    click(&browser, "#to-day");
    // A wrong letter is said before anything is sent.
    click(&browser, "#devices");
    write(&browser, "[data-field='code']", "01234-5678U");
    click(&browser, "[data-field='pair']");
    until_said(&browser, "letter 10 is `U`");
    click(&browser, "#to-day");
    pair(&browser, &site.code, "the owner's");
    click(&browser, "[data-field='await/technician']");
    let code = browser.wait("return document.body.innerText.match(/[0-9A-Z]{5}(-[0-9A-Z]{5}){3}/)?.[0]");
    look(&browser, "devices-of-an-owner");
    // The other phone types it and holds the shop's book.
    on_phone(&browser, &technician);
    pair(&browser, code.as_str().unwrap(), "Kim's");
    click(&browser, "#to-day");
    click(&browser, "#settings");
    let name = browser.run("return document.querySelector(\"[data-field='shop']\").value");
    assert_eq!(name, "Kettle Lane Repairs");
    write(&browser, "[data-field='town']", "Millbrook");
    click(&browser, "#to-day");
    click(&browser, "#devices");
    click(&browser, "[data-field='exchange']");
    until_said(&browser, "both hold the same since");
    // Words unlock it from now on: before them the book can be read out of the browser's database, after them nothing can.
    let in_database = |words: &str| {
        let kept = browser.run(KEPT);
        kept.as_array().unwrap().iter().any(|kept| kept.as_str().unwrap().contains(words))
    };
    assert!(in_database("Millbrook") && in_database("settings_set"));
    write(&browser, "[data-field='unlock']", "tea");
    until_said(&browser, "too short");
    write(&browser, "[data-field='unlock']", "blue kettle");
    until_said(&browser, "asked for from now on");
    assert!(!in_database("Millbrook") && !in_database("settings_set"));
    browser.reload();
    browser.wait("return document.querySelector(\"[data-field='words']\") !== null");
    look(&browser, "locked");
    assert_eq!(browser.run("return document.body.innerText.includes('Millbrook')"), false);
    write(&browser, "[data-field='words']", "blue kettel");
    until_said(&browser, "these are other words");
    write(&browser, "[data-field='words']", "blue kettle");
    browser.wait("return document.querySelector('#to-day, .day #devices') !== null");
    // The owner's phone has what the other set, and shuts it out.
    browser.load(&owner);
    browser.wait("return document.querySelector('#exchange, #to-day, .day #devices, [data-field=exchange]') !== null");
    if browser.run("return document.querySelector('.day #devices') !== null") == true {
        click(&browser, "#devices");
    }
    click(&browser, "[data-field='exchange']");
    until_said(&browser, "both hold the same since");
    click(&browser, "#to-day");
    click(&browser, "#settings");
    browser.wait("return document.querySelector(\"[data-field='town']\")?.value === 'Millbrook'");
    click(&browser, "#to-day");
    click(&browser, "#devices");
    click(&browser, "[data-field='devices']");
    browser.wait("return document.querySelector(\"[data-field^='revoke/']\") !== null");
    then_next(&browser, || {
        let script = "[...document.querySelectorAll(\"[data-field^='revoke/']\")]\
                      .find((at) => at.innerText.includes(\"Kim's\")).click()";
        browser.run(script);
    });
    until_said(&browser, "shut out");
    look(&browser, "devices-listed");
    // The lost phone, even unlocked, is told so and gets nothing more.
    browser.load(&technician);
    browser.wait("return document.querySelector(\"[data-field='words']\") !== null");
    write(&browser, "[data-field='words']", "blue kettle");
    browser.wait("return document.querySelector('.day #devices, [data-field=exchange]') !== null");
    if browser.run("return document.querySelector('.day #devices') !== null") == true {
        click(&browser, "#devices");
    }
    click(&browser, "[data-field='exchange']");
    until_said(&browser, "not let in here, or no longer");
}
