//! Whole calls: without a server, by keys alone, and broken off in the middle.

use super::call::{PLACE, begin_demo, ended, go_on, go_on_by_keys, go_on_until, open, then_next};
use super::driver::{DOWN, ENTER, RIGHT, TAB};
use serde_json::Value;

/// Says whether an address is the app's own, written within a page, or the empty tab's that the browser begins with.
fn is_own(url: &str, site: &str) -> bool {
    [site, "data:", "blob:", "chrome://"].iter().any(|own| url.starts_with(own))
}

#[test]
#[ignore = "needs the built app and Chromium; make test runs it"]
fn the_demo_call_goes_to_its_end_with_the_server_gone_and_no_request_leaves_the_origin() {
    let (mut site, browser) = open(390, 844);
    site.stop();
    browser.reload();
    browser.wait("return document.querySelector('.day #demo') !== null");
    begin_demo(&browser);
    let mut moves = 0;
    while !ended(&browser) {
        moves += 1;
        assert!(moves < 300, "the call has no end");
        if moves == 25 {
            let before = browser.run(PLACE);
            browser.reload();
            browser.wait("return document.querySelector('.call #say') !== null");
            assert_eq!(browser.run(PLACE), before, "after a reload one stands elsewhere");
        }
        go_on(&browser);
    }
    assert!(moves > 25);
    let text = browser.run("return document.querySelector('.move').innerText");
    assert!(text.as_str().unwrap().contains("hidden fault"), "{text}");
    let asked = browser.asked_for();
    assert!(asked.len() > 5, "nothing was logged: {asked:?}");
    let elsewhere: Vec<&String> = asked.iter().filter(|url| !is_own(url, &site.url)).collect();
    assert!(elsewhere.is_empty(), "{elsewhere:?}");
}

#[test]
#[ignore = "needs the built app and Chromium; make test runs it"]
fn keys_alone_complete_a_call_on_a_desk_with_three_columns() {
    let (_site, browser) = open(1280, 900);
    for _ in 0..20 {
        if browser.run("return document.activeElement.id") == "demo" {
            break;
        }
        browser.press(TAB, 0);
    }
    browser.press(ENTER, 0);
    browser.wait("return document.querySelector('.call .sheet svg, .call #drawing') !== null");
    let mut moves = 0;
    while !ended(&browser) {
        moves += 1;
        assert!(moves < 300, "the call has no end");
        go_on_by_keys(&browser);
    }
}

#[test]
#[ignore = "needs the built app and Chromium; make test runs it"]
fn going_back_lets_a_sheet_down_then_takes_one_thing_back_then_leaves_for_the_day() {
    let (_site, browser) = open(390, 844);
    begin_demo(&browser);
    let first = "return document.querySelector('#undo').disabled";
    while browser.run(first) == Value::Bool(true) {
        go_on(&browser);
    }
    let before = browser.run(PLACE);
    go_on(&browser);
    let after = browser.run(PLACE);
    then_next(&browser, || browser.touch("#tab-papers", 0));
    browser.wait("return document.querySelector('.sheet') !== null");
    browser.run("history.back()");
    browser.wait("return document.querySelector('.sheet') === null");
    assert_eq!(browser.run(PLACE), after);
    then_next(&browser, || drop(browser.run("history.back()")));
    assert_eq!(browser.run(PLACE), before);
    for _ in 0..60 {
        if browser.run(first) == Value::Bool(true) {
            break;
        }
        then_next(&browser, || drop(browser.run("history.back()")));
    }
    then_next(&browser, || drop(browser.run("history.back()")));
    browser.wait("return document.querySelector('.day #demo') !== null");
}

#[test]
#[ignore = "needs the built app and Chromium; make test runs it"]
fn arrows_walk_the_terminals_of_the_drawing_and_enter_puts_the_probes_down() {
    let (_site, browser) = open(1280, 900);
    begin_demo(&browser);
    browser
        .wait("return document.querySelector('#drawing > div')?.shadowRoot?.querySelector('[data-terminal]') != null");
    browser.run("document.querySelector('#drawing').focus()");
    let here =
        "return document.querySelector('#drawing > div').shadowRoot.querySelector('[data-here]')?.dataset.terminal";
    let mut walked = Vec::new();
    for _ in 0..2 {
        for way in [DOWN, DOWN, RIGHT] {
            browser.press(way, 0);
            walked.push(browser.wait(here));
        }
        then_next(&browser, || browser.press(ENTER, 0));
        let focus = "return document.activeElement.id === 'drawing'";
        browser.wait(focus);
    }
    assert!(walked.windows(2).filter(|two| two[0] != two[1]).count() > 2, "the keys stand still: {walked:?}");
    let told = browser.wait("return document.querySelector('#probes')?.innerText");
    assert!(told.as_str().unwrap().contains("red") && told.as_str().unwrap().contains("black"), "{told}");
}

#[test]
#[ignore = "needs the built app and Chromium; make test runs it"]
fn undo_takes_one_thing_back_and_probes_in_the_drawing_show_a_ruler() {
    let (_site, browser) = open(390, 844);
    begin_demo(&browser);
    go_on_until(
        &browser,
        "return document.querySelector('#typed') !== null && document.querySelector('#asked') !== null",
    );
    let before = browser.run(PLACE);
    go_on(&browser);
    assert_ne!(browser.run(PLACE), before);
    then_next(&browser, || browser.press("u", 0));
    assert_eq!(browser.run(PLACE), before);
    then_next(&browser, || browser.touch("#tab-drawing", 0));
    browser
        .wait("return document.querySelector('#drawing > div')?.shadowRoot?.querySelector('[data-terminal]') != null");
    for terminal in ["heater.1", "heater.2"] {
        then_next(&browser, || {
            browser.run(&format!(
                "document.querySelector('#drawing > div').shadowRoot.querySelector('[data-terminal=\"{terminal}\"] .hit')\
                 .dispatchEvent(new MouseEvent('click', {{bubbles: true, composed: true}}))"
            ));
        });
    }
    browser.wait("return document.querySelector('#probed .hill') !== null");
}

#[test]
#[ignore = "needs the built app and Chromium; make test runs it"]
fn the_repair_is_approved_by_a_hand_on_the_screen_and_the_record_shows_it() {
    let (_site, browser) = open(390, 844);
    begin_demo(&browser);
    go_on_until(&browser, "return document.querySelector('#signature') !== null");
    browser.draw("#signature");
    browser.wait("return document.querySelector('#signature polyline')?.getAttribute('points').split(' ').length > 2");
    then_next(&browser, || {
        drop(browser.run(
            "const field = document.querySelector('#field-0'); field.value = 'Grace Sample'; \
             field.dispatchEvent(new Event('input', {bubbles: true})); document.querySelector('#main-button').click()",
        ));
    });
    assert_eq!(browser.run("return document.querySelector('#signature') === null"), true);
    browser.run("document.querySelector('#tab-papers').click()");
    browser.wait("return document.querySelector('.sheet iframe') !== null");
    let papers = "return [...document.querySelectorAll('.sheet iframe')].map(at => at.srcdoc ?? '').join('')";
    let papers = browser.run(papers);
    let papers = papers.as_str().unwrap();
    assert!(papers.contains("Repair approved: Grace Sample"), "{papers}");
    assert!(papers.contains("<polyline points="), "{papers}");
}

#[test]
#[ignore = "needs the built app and Chromium; make test runs it"]
fn the_minutes_so_far_stand_on_top_and_at_arms_length_how_the_machine_stands() {
    let (_site, browser) = open(390, 844);
    begin_demo(&browser);
    go_on_until(
        &browser,
        "return document.querySelector('.reading') !== null && document.querySelector('#asked') !== null",
    );
    let so_far = browser.run("return document.querySelector('#so-far')?.textContent ?? ''");
    assert!(so_far.as_str().unwrap().ends_with(" min so far"), "{so_far}");
    browser.run("document.querySelector('#large').click()");
    browser.wait("return document.querySelector('.arm-length') !== null");
    let stands = browser.run("return document.querySelector('.arm-length .condition')?.textContent ?? ''");
    let stands = stands.as_str().unwrap();
    assert!(stands.starts_with("unplugged") || stands.starts_with("running"), "{stands}");
}
