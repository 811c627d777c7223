//! A browser under remote control, by the protocol of <https://www.w3.org/TR/webdriver2/>: only what these tests need.

use serde_json::{Value, json};
use std::io::{BufRead, BufReader};
use std::process::{Child, Command, Stdio};
use std::time::Duration;
use tempfile::TempDir;

/// How often, and how long apart, what must come is looked for: half a minute, then the test fails.
const LOOKS: u32 = 1200;
const APART: Duration = Duration::from_millis(25);
const QUIET: [&str; 9] = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
];
/// What a browser is set to when nobody set it, pixels.
pub(crate) const USUAL_LETTERS: u32 = 16;
/// Keys as the protocol writes them.
pub(crate) const TAB: &str = "\u{e004}";
pub(crate) const RIGHT: &str = "\u{e014}";
pub(crate) const DOWN: &str = "\u{e015}";
pub(crate) const ENTER: &str = "\u{e007}";

/// A running browser.
pub(crate) struct Browser {
    driver: Child,
    session: String,
    agent: ureq::Agent,
    _profile: TempDir,
}

impl Browser {
    /// Starts one with an empty profile, a window of this size, and letters of so many pixels set by its reader.
    pub(crate) fn start(width: u32, height: u32, letters: u32) -> Self {
        let profile = tempfile::tempdir().unwrap();
        let mut driver = Command::new("chromedriver").arg("--port=0").stdout(Stdio::piped()).spawn().unwrap();
        let mut lines = BufReader::new(driver.stdout.take().unwrap()).lines();
        let port = lines.find_map(|line| {
            let line = line.unwrap();
            line.split_once("successfully on port ").map(|(_, port)| port.trim_end_matches('.').to_owned())
        });
        let agent: ureq::Agent = ureq::Agent::config_builder()
            .http_status_as_error(false)
            .timeout_global(Some(Duration::from_secs(60)))
            .build()
            .into();
        let mut args: Vec<String> = QUIET.iter().map(|arg| (*arg).to_owned()).collect();
        args.push(format!("--user-data-dir={}", profile.path().display()));
        args.push(format!("--window-size={width},{height}"));
        let wanted = json!({ "capabilities": { "alwaysMatch": {
            "goog:chromeOptions": { "args": args, "prefs": { "webkit.webprefs.default_font_size": letters } },
            "goog:loggingPrefs": { "performance": "ALL" },
        }}});
        let base = format!("http://127.0.0.1:{}/session", port.expect("chromedriver says no port"));
        let begun: Value = agent.post(&base).send_json(&wanted).unwrap().body_mut().read_json().unwrap();
        let id = begun["value"]["sessionId"].as_str().unwrap_or_else(|| panic!("no session: {begun}"));
        let browser = Self { driver, session: format!("{base}/{id}"), agent, _profile: profile };
        // A window's edge is no part of the page: the page itself is made this large.
        let size = json!({ "width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 600 });
        browser.developer("Emulation.setDeviceMetricsOverride", &size);
        browser
    }

    fn post(&self, path: &str, body: &Value) -> Value {
        let url = format!("{}{path}", self.session);
        let told: Value = self.agent.post(&url).send_json(body).unwrap().body_mut().read_json().unwrap();
        assert!(told["value"]["error"].is_null(), "{path} {body}: {told}");
        told["value"].clone()
    }

    /// Sends a command of the developer's protocol.
    pub(crate) fn developer(&self, command: &str, with: &Value) -> Value {
        self.post("/goog/cdp/execute", &json!({ "cmd": command, "params": with }))
    }

    /// Loads an address.
    pub(crate) fn load(&self, url: &str) {
        self.post("/url", &json!({ "url": url }));
    }

    /// Loads the page again.
    pub(crate) fn reload(&self) {
        self.post("/refresh", &json!({}));
    }

    /// Opens another tab, goes there, and gives its handle.
    pub(crate) fn open_tab(&self) -> String {
        let handle = self.post("/window/new", &json!({ "type": "tab" }))["handle"].as_str().unwrap().to_owned();
        self.go_to(&handle);
        handle
    }

    /// Gives the handle of the tab one is in.
    pub(crate) fn tab(&self) -> String {
        let url = format!("{}/window", self.session);
        let told: Value = self.agent.get(&url).call().unwrap().body_mut().read_json().unwrap();
        told["value"].as_str().unwrap().to_owned()
    }

    /// Goes to a tab.
    pub(crate) fn go_to(&self, handle: &str) {
        self.post("/window", &json!({ "handle": handle }));
    }

    /// Closes the tab one is in; go to another afterwards.
    pub(crate) fn close_tab(&self) {
        let _: Value =
            self.agent.delete(format!("{}/window", self.session)).call().unwrap().body_mut().read_json().unwrap();
    }

    /// Runs a function's body in the page; what it returns, or its promise.
    pub(crate) fn run(&self, body: &str) -> Value {
        self.run_with(body, &[])
    }

    /// Runs a function's body with arguments.
    pub(crate) fn run_with(&self, body: &str, arguments: &[Value]) -> Value {
        self.post("/execute/sync", &json!({ "script": body, "args": arguments }))
    }

    /// Waits until a script's body gives something true, and gives that.
    pub(crate) fn wait(&self, what: &str) -> Value {
        self.wait_times(1, what)
    }

    /// Waits so many times as long as usual for what takes its time, such as the making up of a year.
    pub(crate) fn wait_times(&self, times: u32, what: &str) -> Value {
        for _ in 0..times * LOOKS {
            let found = self.run(what);
            if !matches!(found, Value::Null | Value::Bool(false)) {
                return found;
            }
            std::thread::sleep(APART);
        }
        let page = self.run("return document.body?.innerText ?? ''");
        panic!("never came: {what}\non the page: {}", page.as_str().unwrap_or_default());
    }

    /// Presses keys one after the other; each is held so many milliseconds.
    pub(crate) fn press(&self, keys: &str, held: u32) {
        let mut actions = Vec::new();
        for key in keys.chars() {
            actions.push(json!({ "type": "keyDown", "value": key.to_string() }));
            actions.push(json!({ "type": "pause", "duration": held }));
            actions.push(json!({ "type": "keyUp", "value": key.to_string() }));
        }
        self.post("/actions", &json!({ "actions": [{ "type": "key", "id": "keys", "actions": actions }] }));
    }

    /// Draws a stroke with a finger from a quarter of an element's width to three quarters of it, up and down.
    pub(crate) fn draw(&self, selector: &str) {
        let at = self.places_on(selector);
        let to = |x: f64, y: f64| json!({ "type": "pointerMove", "x": at(0, x), "y": at(1, y), "duration": 20 });
        let (down, up) = (json!({ "type": "pointerDown", "button": 0 }), json!({ "type": "pointerUp", "button": 0 }));
        self.finger(&json!([to(0.25, 0.5), down, to(0.4, 0.25), to(0.6, 0.75), to(0.75, 0.5), up]));
    }

    /// Puts a finger on the middle of an element, for so many milliseconds.
    pub(crate) fn touch(&self, selector: &str, held: u32) {
        let at = self.places_on(selector);
        self.finger(&json!([
            { "type": "pointerMove", "x": at(0, 0.5), "y": at(1, 0.5), "duration": 0 },
            { "type": "pointerDown", "button": 0 },
            { "type": "pause", "duration": held },
            { "type": "pointerUp", "button": 0 },
        ]));
    }

    /// Brings an element into sight and gives where a share of its width (0) or height (1) is.
    fn places_on(&self, selector: &str) -> impl Fn(usize, f64) -> i64 + use<> {
        let box_of = self.run(&format!(
            "const at = document.querySelector('{selector}'); at.scrollIntoView({{block: 'nearest'}}); \
             const r = at.getBoundingClientRect(); return [r.x, r.y, r.width, r.height]"
        ));
        #[expect(clippy::cast_possible_truncation, reason = "a place on a screen")]
        move |axis: usize, share: f64| {
            (box_of[axis].as_f64().unwrap() + share * box_of[axis + 2].as_f64().unwrap()) as i64
        }
    }

    fn finger(&self, actions: &Value) {
        let finger =
            json!({ "type": "pointer", "id": "finger", "parameters": { "pointerType": "touch" }, "actions": actions });
        self.post("/actions", &json!({ "actions": [finger] }));
    }

    /// Gives every address that was asked for, by page or worker, since the last time.
    pub(crate) fn asked_for(&self) -> Vec<String> {
        let log = self.post("/se/log", &json!({ "type": "performance" }));
        let mut urls = Vec::new();
        for entry in log.as_array().unwrap() {
            let message: Value = serde_json::from_str(entry["message"].as_str().unwrap()).unwrap();
            if message["message"]["method"] == "Network.requestWillBeSent" {
                urls.push(message["message"]["params"]["request"]["url"].as_str().unwrap().to_owned());
            }
        }
        urls
    }

    /// Gives what is seen as a picture, WebP in base 64.
    pub(crate) fn picture(&self) -> String {
        let told = self.developer("Page.captureScreenshot", &json!({ "format": "webp", "quality": 70 }));
        told["data"].as_str().unwrap().to_owned()
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        // It may have ended by itself.
        let _ = self.agent.delete(&self.session).call();
        let _ = self.driver.kill();
        let _ = self.driver.wait();
    }
}
