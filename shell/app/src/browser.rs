//! What the browser gives and no crate wraps: where one is, the time on the wall with its zone, randomness, locks.

use book::ZonedTime;
use futures_channel::oneshot;
use js_sys::{Array, Date, Function, Object, Promise, Reflect};
use wasm_bindgen::prelude::{Closure, JsValue};
use wasm_bindgen::{JsCast, UnwrapThrowExt};
use web_sys::{DedicatedWorkerGlobalScope, Request, RequestInit, Response, WorkerGlobalScope};

/// Says whether this runs in a worker.
pub(crate) fn in_worker() -> bool {
    js_sys::global().is_instance_of::<DedicatedWorkerGlobalScope>()
}

/// Gives the time on the wall here.
///
/// # Errors
/// A clock or zone that the book cannot write, in words.
pub(crate) fn now() -> Result<ZonedTime, String> {
    let now = Date::new_0();
    let east = -now.get_timezone_offset();
    let sign = if east < 0.0 { '-' } else { '+' };
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "less than a day of minutes")]
    let minutes = east.abs() as u32;
    let text = format!(
        "{:04}-{:02}-{:02}T{:02}:{:02}:{:02}{sign}{:02}:{:02}{}",
        now.get_full_year(),
        now.get_month() + 1,
        now.get_date(),
        now.get_hours(),
        now.get_minutes(),
        now.get_seconds(),
        minutes / 60,
        minutes % 60,
        zone().map_or_else(String::new, |zone| format!("[{zone}]"))
    );
    text.parse().map_err(|error: book::BadTime| error.to_string())
}

/// Gives the name of the time zone here.
fn zone() -> Option<String> {
    let format = js_sys::Intl::DateTimeFormat::new(&Array::new(), &Object::new());
    let zone = Reflect::get(&format.resolved_options(), &"timeZone".into()).ok()?.as_string()?;
    // `UTC` is no area of the zone table with a place in it, but a name all the same.
    (!zone.is_empty()).then_some(zone)
}

/// Lets what the browser has waiting come in first.
pub(crate) async fn turn() {
    let scope: WorkerGlobalScope = js_sys::global().unchecked_into();
    let turn = Promise::new(&mut |go_on, _| {
        // Without a timer the next touch is waited for at once, which only costs what could have been foreseen.
        if scope.set_timeout_with_callback(&go_on).is_err() {
            drop(go_on.call0(&JsValue::UNDEFINED));
        }
    });
    drop(wasm_bindgen_futures::JsFuture::from(turn).await);
}

/// Fills bytes with the browser's randomness.
pub(crate) fn random(bytes: &mut [u8]) {
    let scope: WorkerGlobalScope = js_sys::global().unchecked_into();
    // INVARIANT: every browser that runs this has it; going on with keys that are not random must not happen.
    scope.crypto().and_then(|crypto| crypto.get_random_values_with_u8_array(bytes)).expect_throw("no randomness");
}

/// Takes the lock of the book if it is free; held until this worker ends.
pub(crate) async fn hold_if_free() -> bool {
    hold(true).await
}

/// Waits for the lock of the book; held until this worker ends.
pub(crate) async fn hold_when_free() -> bool {
    hold(false).await
}

const LOCK: &str = "callwright-book";

/// Where a browser has no locks (an origin that is not safe) there is nothing to hold and one tab is taken to be alone.
async fn hold(only_if_free: bool) -> bool {
    let Ok(navigator) = Reflect::get(&js_sys::global(), &"navigator".into()) else { return true };
    let Some(locks) = Reflect::get(&navigator, &"locks".into()).ok().filter(JsValue::is_object) else { return true };
    let Ok(request) = Reflect::get(&locks, &"request".into()).and_then(|found| found.dyn_into::<Function>()) else {
        return true;
    };
    let options = Object::new();
    let set = Reflect::set(&options, &"ifAvailable".into(), &only_if_free.into());
    let (tell, heard) = oneshot::channel();
    let granted = Closure::once_into_js(move |lock: JsValue| -> JsValue {
        let held = !lock.is_null();
        // Who no longer waits has gone on without it.
        let _ = tell.send(held);
        // A promise that never ends holds the lock as long as the worker lives.
        if held { Promise::new(&mut |_, _| {}).into() } else { JsValue::UNDEFINED }
    });
    if set.is_err() || request.call3(&locks, &LOCK.into(), &options, &granted).is_err() {
        return true;
    }
    heard.await.unwrap_or(false)
}

/// Asks the browser to keep what is stored even when room gets short; says whether it will.
pub(crate) async fn persist() -> bool {
    let ask = || {
        let navigator = Reflect::get(&js_sys::global(), &"navigator".into()).ok()?;
        let storage = Reflect::get(&navigator, &"storage".into()).ok()?;
        let persist = Reflect::get(&storage, &"persist".into()).ok()?.dyn_into::<Function>().ok()?;
        persist.call0(&storage).ok()?.dyn_into::<Promise>().ok()
    };
    let Some(promise) = ask() else { return false };
    wasm_bindgen_futures::JsFuture::from(promise).await.is_ok_and(|kept| kept.is_truthy())
}

/// Gives the address that the app came from, such as `https://shop.example`.
pub(crate) fn origin() -> String {
    let scope: WorkerGlobalScope = js_sys::global().unchecked_into();
    scope.location().origin()
}

/// Gives milliseconds, only to tell how long ago something was.
pub(crate) fn millis() -> f64 {
    Date::now()
}

/// Waits so many milliseconds.
pub(crate) async fn sleep(millis: i32) {
    let scope: WorkerGlobalScope = js_sys::global().unchecked_into();
    let wait = Promise::new(&mut |go_on, _| {
        if scope.set_timeout_with_callback_and_timeout_and_arguments_0(&go_on, millis).is_err() {
            drop(go_on.call0(&JsValue::UNDEFINED));
        }
    });
    drop(wasm_bindgen_futures::JsFuture::from(wait).await);
}

/// Asks a server something. `shown` says who asks; empty for nobody yet.
///
/// # Errors
/// In words: no connection, or what the server says.
pub(crate) async fn post(address: &str, shown: &str, body: &[u8]) -> Result<Vec<u8>, String> {
    let no_connection = |_: JsValue| "no connection to the server; nothing is lost, it is tried again".to_owned();
    let set = RequestInit::new();
    set.set_method("POST");
    let body: JsValue = js_sys::Uint8Array::from(body).into();
    set.set_body(&body);
    let request = Request::new_with_str_and_init(address, &set).map_err(no_connection)?;
    if !shown.is_empty() {
        request.headers().set("authorization", shown).map_err(no_connection)?;
    }
    let scope: WorkerGlobalScope = js_sys::global().unchecked_into();
    let asked = wasm_bindgen_futures::JsFuture::from(scope.fetch_with_request(&request));
    let answer: Response = asked.await.map_err(no_connection)?.unchecked_into();
    let bytes = answer.array_buffer().map_err(no_connection)?;
    let bytes = wasm_bindgen_futures::JsFuture::from(bytes).await.map_err(no_connection)?;
    let bytes = js_sys::Uint8Array::new(&bytes).to_vec();
    if answer.ok() {
        return Ok(bytes);
    }
    let said: Option<serde_json::Value> = serde_json::from_slice(&bytes).ok();
    let said = said.and_then(|said| Some(said.get("say")?.as_str()?.to_owned()));
    Err(said.unwrap_or_else(|| format!("the server says {}", answer.status())))
}
