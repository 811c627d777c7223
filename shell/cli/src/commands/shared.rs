//! `callwright pair`, `exchange`, `devices`, `backup`: a book on this machine as one of a shop's devices.

use crate::args::Devices;
use crate::commands::call::Keep;
use crate::failure::Failure;
use crate::output;
use book::Key;
use serde_json::{Value, json};
use std::path::Path;
use std::process::ExitCode;
use std::time::Duration;
use store::fill;
use sync::{
    Exchange, Holds, Member, Newcomer, PairingCode, Progress, Question, devices_question, names_of, revoke_question,
    seen_question,
};
use ureq::tls::{Certificate, RootCerts, TlsConfig};

/// Facts of the device, kept beside its book.
const MEMBER: &str = "member";
const PROGRESS: &str = "progress";
const TRUST: &str = "trust";
/// How long the server may take over one question.
const PATIENCE: Duration = Duration::from_secs(60);
/// Most bytes of an answer.
const MOST_ANSWER: u64 = 8 * 1024 * 1024;

fn random<const N: usize>() -> Result<[u8; N], Failure> {
    let mut bytes = [0; N];
    fill(&mut bytes).map_err(|error| Failure::SetUp(error.to_string()))?;
    Ok(bytes)
}

/// The way to a server: its address, and who is trusted to certify it.
struct Way {
    agent: ureq::Agent,
    server: String,
    shown: String,
}

impl Way {
    fn new(server: &str, shown: String, trust: Option<&str>) -> Result<Self, Failure> {
        let mut tls = TlsConfig::builder();
        if let Some(pem) = trust {
            let certificate = Certificate::from_pem(pem.as_bytes())
                .map_err(|error| Failure::Input(format!("this is no certificate in PEM: {error}")))?;
            tls = tls.root_certs(RootCerts::from(vec![certificate]));
        }
        let config = ureq::Agent::config_builder().timeout_global(Some(PATIENCE)).http_status_as_error(false);
        let agent = config.tls_config(tls.build()).build().into();
        Ok(Self { agent, server: server.to_owned(), shown })
    }

    /// Asks the server something.
    fn ask(&self, question: &Question) -> Result<Vec<u8>, Failure> {
        let address = format!("{}/{}", self.server, question.path);
        let mut post = self.agent.post(&address).header("content-type", "application/octet-stream");
        if !self.shown.is_empty() {
            post = post.header("authorization", &self.shown);
        }
        let unreached =
            |error: ureq::Error| Failure::SetUp(format!("{}: {error}; nothing is lost, try again", self.server));
        let mut answer = post.send(&question.body[..]).map_err(unreached)?;
        let bytes = answer.body_mut().with_config().limit(MOST_ANSWER).read_to_vec().map_err(unreached)?;
        if answer.status().is_success() {
            return Ok(bytes);
        }
        let said: Option<Value> = serde_json::from_slice(&bytes).ok();
        let said = said.and_then(|said| Some(said.get("say")?.as_str()?.to_owned()));
        Err(Failure::Input(said.unwrap_or_else(|| format!("the server says {}", answer.status()))))
    }
}

fn member(keep: &Keep) -> Result<Member, Failure> {
    let kept = keep.fact(MEMBER)?.and_then(|text| Member::from_text(&text));
    kept.ok_or_else(|| {
        Failure::Input("this book has no server yet; pair it first: callwright pair SERVER CODE".to_owned())
    })
}

fn way(keep: &Keep) -> Result<(Way, Member), Failure> {
    let member = member(keep)?;
    let trust = keep.fact(TRUST)?;
    Ok((Way::new(&member.server, member.shown(keep.pen().device()), trust.as_deref())?, member))
}

/// Has this book let in by a server.
pub(crate) fn pair(
    (server, code): (&str, &str),
    name: &str,
    trust: Option<&Path>,
    book: Option<&Path>,
    as_json: bool,
) -> Result<ExitCode, Failure> {
    let mut keep = Keep::own(book)?;
    let newcomer = Newcomer::new(server, code, random()?).map_err(Failure::Input)?;
    let trust = trust.map(|file| {
        std::fs::read_to_string(file)
            .map_err(|error| Failure::Input(format!("cannot read `{}`: {error}", file.display())))
    });
    let trust = trust.transpose()?;
    let way = Way::new(newcomer.server(), String::new(), trust.as_deref())?;
    let answer = way.ask(&newcomer.question(keep.pen().device(), name))?;
    let member = newcomer.heard(&answer, Key::from_random(random()?)).map_err(|no| Failure::Input(no.to_string()))?;
    // Trust first: a member without it could not speak to its server.
    if let Some(trust) = trust {
        keep.note(TRUST, &trust)?;
    }
    keep.note(MEMBER, &member.to_text())?;
    if as_json {
        output::json(&json!({ "server": member.server, "role": member.role }));
    } else {
        output::line(&format!("let in by {} as {}; now: callwright exchange", member.server, member.role));
    }
    Ok(ExitCode::SUCCESS)
}

/// Exchanges the book with the server.
pub(crate) fn exchange(book: Option<&Path>, relays: bool, as_json: bool) -> Result<ExitCode, Failure> {
    let mut keep = Keep::own(book)?;
    let (way, member) = way(&keep)?;
    let progress = keep.fact(PROGRESS)?.and_then(|text| serde_json::from_str(&text).ok());
    // What others wrote is sent from the start: the server may have lost any of it.
    let progress: Progress = if relays { Progress::default() } else { progress.unwrap_or_default() };
    let (keys, records) = keep.held()?;
    let events = keep.events().to_vec();
    let device = keep.pen().device();
    let mut exchange = Exchange::new(
        Holds { device, shop: &member.shop, events: &events, keys: &keys, records: &records, relays, beyond: None },
        progress,
    );
    let (mut events_in, mut records_in, mut questions) = (0, 0, 0);
    let no_randomness = std::cell::Cell::new(None);
    let mut fill = |bytes: &mut [u8]| no_randomness.set(store::fill(bytes).err().or(no_randomness.take()));
    loop {
        if exchange.is_at_large() {
            exchange.want(names_of(keep.events()));
        }
        let Some(question) = exchange.ask(&mut fill) else { break };
        if let Some(error) = no_randomness.take() {
            return Err(Failure::SetUp(error.to_string()));
        }
        let answer = way.ask(&question)?;
        let came = exchange.heard(&answer).map_err(|trouble| Failure::SetUp(trouble.to_string()))?;
        questions += 1;
        events_in += came.events.len();
        records_in += came.records.len();
        keep.take_in_from_server(came)?;
        let text = serde_json::to_string(&exchange.progress()).map_err(|error| Failure::Bug(error.to_string()))?;
        keep.note(PROGRESS, &text)?;
    }
    if as_json {
        output::json(&json!({ "events": events_in, "records": records_in, "questions": questions }));
    } else {
        output::line(&format!("{events_in} events and {records_in} records came; both hold the same now"));
    }
    Ok(ExitCode::SUCCESS)
}

/// Lists the devices, awaits a new one, shuts one out, or reads the audit.
pub(crate) fn devices(asked: &Devices, as_json: bool) -> Result<ExitCode, Failure> {
    let keep = Keep::own(asked.book.as_deref())?;
    let (way, member) = way(&keep)?;
    if let Some(role) = &asked.await_role {
        let code = PairingCode::from_random(random()?);
        let question = member.await_question(&code, role, random()?);
        way.ask(&question.ok_or_else(|| Failure::Bug("the shop's key cannot be sealed".to_owned()))?)?;
        if as_json {
            output::json(&json!({ "code": code.to_string() }));
        } else {
            output::line(&format!("{code}\ntype this on the new device within ten minutes; it works once"));
        }
        return Ok(ExitCode::SUCCESS);
    }
    let question = match (&asked.revoke, asked.seen) {
        (Some(device), _) => revoke_question(device),
        (None, true) => seen_question(),
        (None, false) => devices_question(),
    };
    let answer = way.ask(&question)?;
    let said: Value = serde_json::from_slice(&answer)
        .map_err(|_| Failure::Input("the server's answer cannot be read; is this the shop's server?".to_owned()))?;
    if as_json {
        output::json(&said);
        return Ok(ExitCode::SUCCESS);
    }
    let word = |of: &Value, name: &str| of.get(name).and_then(Value::as_str).unwrap_or("-").to_owned();
    let when = |of: &Value, name: &str| {
        let millis = of.get(name).and_then(Value::as_i64);
        let at = millis.and_then(|millis| jiff::Timestamp::from_millisecond(millis).ok());
        at.map_or_else(|| "-".to_owned(), |at| at.strftime("%Y-%m-%d %H:%M:%SZ").to_string())
    };
    let rows = |name: &str| said.get(name).and_then(Value::as_array).cloned().unwrap_or_default();
    for row in rows("devices") {
        let shut =
            if row.get("revoked").is_some_and(|at| !at.is_null()) { when(&row, "revoked") } else { "in".to_owned() };
        output::line(&format!(
            "{}  {:<12} {:<20} since {}  {shut}",
            word(&row, "device"),
            word(&row, "role"),
            word(&row, "name"),
            when(&row, "paired")
        ));
    }
    for row in rows("seen") {
        output::line(&format!(
            "{}  {}  {:<18} {}",
            when(&row, "at"),
            word(&row, "device"),
            word(&row, "what"),
            word(&row, "about")
        ));
    }
    if asked.revoke.is_some() {
        output::line("it is shut out; what it holds stays on it behind its unlock");
    }
    Ok(ExitCode::SUCCESS)
}

/// Copies the book while it may be written to.
pub(crate) fn back_up(to: &Path, book: Option<&Path>, as_json: bool) -> Result<ExitCode, Failure> {
    let events = Keep::back_up(book, to)?;
    if as_json {
        output::json(&json!({ "events": events }));
    } else {
        output::line(&format!("{events} events with their records and keys are in {}", to.display()));
    }
    Ok(ExitCode::SUCCESS)
}
