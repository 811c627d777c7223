//! What is kept: by one tab alone, with damage told and the rest safe, and across a newer version.

use super::call::{begin_demo, go_on, open, then_next};

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
