//! Text to envelope and body, and back.
//!
//! `id`, `seen`, `at`, `kind` and `v` keep their meaning in every version of the format, so that an old device can
//! hold, order and pass on what a newer one wrote. Refuses to know checksums.

use serde::Deserialize;
use serde_json::value::RawValue;
use serde_json::{Map, Value};

use super::body::{Body, Scope, Undone};
use super::{FORMAT_VERSION, WriteError};
use crate::canonical::canonical_text;
use crate::facts::call::CallFact;
use crate::facts::job::JobFact;
use crate::facts::shop::ShopFact;
use crate::ids::{CallId, EventId, HIGHEST_COUNTER, JobId};
use crate::seen::Seen;
use crate::time::ZonedTime;

/// The part of an envelope that every version has.
#[derive(Deserialize)]
struct Outer {
    v: u32,
    id: EventId,
    seen: Seen,
    at: ZonedTime,
    kind: String,
}

/// The rest of an envelope of version 1.
#[derive(Deserialize)]
struct Inner<'a> {
    job: Option<JobId>,
    call: Option<CallId>,
    #[serde(borrow)]
    body: &'a RawValue,
}

/// What a text says.
pub(super) struct Parsed {
    pub(super) id: EventId,
    pub(super) seen: Seen,
    pub(super) at: ZonedTime,
    pub(super) body: Body,
}

pub(super) fn parse(text: &str) -> Result<Parsed, String> {
    let Outer { v, id, mut seen, at, kind } = serde_json::from_str(text).map_err(|error| error.to_string())?;
    if seen.iter().any(|(_, counter)| counter > HIGHEST_COUNTER) {
        return Err(format!("a counter in `seen` is above {HIGHEST_COUNTER}"));
    }
    seen.forget(id.device());
    let body = parse_body(v, kind, text);
    Ok(Parsed { id, seen, at, body })
}

fn parse_body(version: u32, kind: String, text: &str) -> Body {
    if version > FORMAT_VERSION {
        let why = format!("written in version {version} of the format; this program reads up to {FORMAT_VERSION}");
        return Body::NotUnderstood { kind, scope: Scope::default(), why };
    }
    let inner: Inner<'_> = match serde_json::from_str(text) {
        Ok(inner) => inner,
        Err(error) => return Body::NotUnderstood { kind, scope: Scope::default(), why: error.to_string() },
    };
    let scope = Scope { job: inner.job, call: inner.call };
    parse_kind(&kind, scope, inner.body.get()).unwrap_or_else(|why| Body::NotUnderstood { kind, scope, why })
}

/// Tries each family of kinds; no name is in two of them.
fn parse_kind(kind: &str, scope: Scope, body: &str) -> Result<Body, String> {
    let words = |error: serde_json::Error| error.to_string();
    if kind == Body::UNDONE {
        let undone: Undone = serde_json::from_str(body).map_err(words)?;
        return Ok(Body::Undo { scope, undone });
    }
    if let Some(fact) = ShopFact::from_json(kind, body) {
        return fact.map(Body::Shop).map_err(words);
    }
    if let Some(fact) = JobFact::from_json(kind, body) {
        let job = scope.job.ok_or("it names no job")?;
        return fact.map(|fact| Body::Job { job, call: scope.call, fact }).map_err(words);
    }
    if let Some(fact) = CallFact::from_json(kind, body) {
        let job = scope.job.ok_or("it names no job")?;
        let call = scope.call.ok_or("it names no call")?;
        return fact.map(|fact| Body::Call { job, call, fact }).map_err(words);
    }
    Err(format!("`{kind}` is not known to this program"))
}

pub(super) fn text_of(id: EventId, seen: &Seen, at: &ZonedTime, body: &Body) -> Result<String, WriteError> {
    let mut others = seen.clone();
    others.forget(id.device());
    let words = |error: serde_json::Error| WriteError::DoesNotReadBack(error.to_string());
    let fact = match body {
        Body::Shop(fact) => fact.to_json(),
        Body::Job { fact, .. } => fact.to_json(),
        Body::Call { fact, .. } => fact.to_json(),
        Body::Undo { undone, .. } => serde_json::to_value(undone),
        Body::NotUnderstood { .. } => return Err(WriteError::NotUnderstood),
    };
    let scope = body.scope();
    let mut members = Map::new();
    let mut put = |name: &str, value: serde_json::Result<Value>| {
        value.map(|value| members.insert(name.to_owned(), value)).map_err(words)
    };
    put("v", Ok(Value::from(FORMAT_VERSION)))?;
    put("id", serde_json::to_value(id))?;
    put("seen", serde_json::to_value(&others))?;
    put("at", serde_json::to_value(at))?;
    put("kind", Ok(Value::from(body.kind())))?;
    put("job", serde_json::to_value(scope.job))?;
    put("call", serde_json::to_value(scope.call))?;
    put("body", fact)?;
    Ok(canonical_text(&Value::Object(members)))
}
