//! The web around the answers: who may connect from where, how much may be sent, what every page is sent with.

use axum::Router;
use axum::body::{Body, Bytes};
use axum::extract::{ConnectInfo, DefaultBodyLimit, Request, State};
use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, StatusCode, Uri, header};
use axum::middleware::{Next, from_fn_with_state};
use axum::response::{IntoResponse, Response};
use axum::routing::post;
use book::{DeviceId, StoreError};
use governor::{DefaultKeyedRateLimiter, Quota, RateLimiter};
use serde_json::json;
use std::net::{IpAddr, SocketAddr};
use std::num::NonZeroU32;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::{Duration, SystemTime, UNIX_EPOCH};
use store::{Database, SeenLine};
use sync::{MOST_BATCH, ToTypeset};
use tokio::sync::Semaphore;
use tower_http::compression::CompressionLayer;
use tower_http::services::ServeDir;
use tower_http::set_header::SetResponseHeaderLayer;
use tower_http::timeout::{RequestBodyTimeoutLayer, TimeoutLayer};
use typeset::{Sheet, TEMPLATE};

use crate::answer::{Answer, Refusal, answer, pair};
use crate::crowd::Crowd;
use crate::pool::Pool;
use crate::who::{Who, known};

/// Sent with everything. Nothing comes from elsewhere and no script stands in a page. Styles may: a drawing is one SVG
/// with its own style within. Photos are shown from the page's own memory (`data:`); the camera is the torch's.
/// The app speaks to the server that it came from and to no other.
const HEADERS: [(HeaderName, &str); 7] = [
    (
        header::CONTENT_SECURITY_POLICY,
        "default-src 'self'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self' 'unsafe-inline'; \
         img-src 'self' data:; object-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
    ),
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (header::REFERRER_POLICY, "no-referrer"),
    // A browser asks each time whether a file changed, so that pages of two versions never meet.
    (header::CACHE_CONTROL, "no-cache"),
    (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
    (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
    (HeaderName::from_static("permissions-policy"), "camera=(self), geolocation=(), microphone=()"),
];
/// For a year nobody speaks to this name without TLS.
const STRICT_TRANSPORT: &str = "max-age=31536000";

/// How long a question may take, and how long its body may stand still.
const PATIENCE: Duration = Duration::from_secs(30);
const BODY_STANDS_STILL: Duration = Duration::from_secs(10);
/// Questions answered at once; more wait no longer than [`PATIENCE`]. And how many of them may be of one address: a proxy on
/// this machine speaks for many, so that its own address is not counted.
const AT_ONCE: usize = 128;
const OF_ONE_ADDRESS: usize = 32;
/// Pages typeset at once. A template that never ends keeps its turn and the time of a processor until the server is started anew.
const SET_AT_ONCE: usize = 2;
/// Questions a device may ask in a second, and how many may come together.
const DEVICE_A_SECOND: u32 = 40;
const DEVICE_TOGETHER: u32 = 200;
/// Questions with no or a wrong secret that an address may ask in a minute.
const STRANGER_A_MINUTE: u32 = 20;
/// Addresses remembered before those are forgotten that have been quiet.
const REMEMBERED: usize = 10_000;

/// Where the server stands and whom it lets speak.
#[derive(Clone, Debug)]
pub struct Stand {
    /// The app's folder.
    pub folder: PathBuf,
    /// Names by which it is called, with a port where it is not the usual one: anything else is another site's page trying.
    pub hosts: Vec<String>,
    /// Whether TLS is before it or in it.
    pub tls: bool,
    /// The shop's own template of a typeset page.
    pub template: Option<String>,
}

/// What every question meets.
#[derive(Debug)]
struct Gate {
    stand: Stand,
    strangers: DefaultKeyedRateLimiter<IpAddr>,
    devices: DefaultKeyedRateLimiter<DeviceId>,
    crowd: Crowd,
    /// Turns at the typesetter.
    setting: Arc<Semaphore>,
}

/// The gate and, where there is one, the book behind it.
struct Server<D> {
    gate: Arc<Gate>,
    pool: Arc<Pool<D>>,
}

impl<D> Clone for Server<D> {
    fn clone(&self) -> Self {
        Self { gate: self.gate.clone(), pool: self.pool.clone() }
    }
}

fn at_least_one(number: u32) -> NonZeroU32 {
    NonZeroU32::new(number).unwrap_or(NonZeroU32::MIN)
}

impl Gate {
    fn new(stand: Stand) -> Arc<Self> {
        let device = Quota::per_second(at_least_one(DEVICE_A_SECOND)).allow_burst(at_least_one(DEVICE_TOGETHER));
        Arc::new(Self {
            stand,
            strangers: RateLimiter::keyed(Quota::per_minute(at_least_one(STRANGER_A_MINUTE))),
            devices: RateLimiter::keyed(device),
            crowd: Crowd::new(OF_ONE_ADDRESS),
            setting: Arc::new(Semaphore::new(SET_AT_ONCE)),
        })
    }

    /// Tells whether an address has tried too often without a right secret.
    fn has_tried_enough(&self, from: SocketAddr) -> bool {
        if self.strangers.len() > REMEMBERED {
            self.strangers.retain_recent();
        }
        self.strangers.check_key(&from.ip()).is_err()
    }
}

/// The app alone: a static folder with the same gate before it.
pub(crate) fn app_alone(stand: Stand) -> Router {
    let gate = Gate::new(stand);
    around(Router::new(), &gate)
}

/// The app, and the book behind it.
pub(crate) fn with_book<D: Database + Send + 'static>(stand: Stand, pool: Arc<Pool<D>>) -> Router {
    let gate = Gate::new(stand);
    let server = Server { gate: gate.clone(), pool };
    let routes = Router::new()
        .route("/devices/1/pair", post(let_in::<D>))
        .route("/typeset/1", post(typeset::<D>))
        .route("/sync/{*path}", post(asked::<D>))
        .route("/devices/{*path}", post(asked::<D>))
        .with_state(server);
    around(routes, &gate)
}

fn around(routes: Router, gate: &Arc<Gate>) -> Router {
    let layered = |router: Router, (name, value)| {
        router.layer(SetResponseHeaderLayer::overriding(name, HeaderValue::from_static(value)))
    };
    let router = routes
        .fallback_service(ServeDir::new(&gate.stand.folder))
        // Facts are words: a sixth of them goes over the air. No secret stands in an answer beside what another chose.
        .layer(CompressionLayer::new())
        .layer(DefaultBodyLimit::max(MOST_BATCH))
        .layer(RequestBodyTimeoutLayer::new(BODY_STANDS_STILL))
        .layer(TimeoutLayer::with_status_code(StatusCode::REQUEST_TIMEOUT, PATIENCE))
        .layer(tower::limit::GlobalConcurrencyLimitLayer::new(AT_ONCE))
        .layer(from_fn_with_state(gate.clone(), from_here_alone));
    let router = HEADERS.into_iter().fold(router, layered);
    if gate.stand.tls { layered(router, (header::STRICT_TRANSPORT_SECURITY, STRICT_TRANSPORT)) } else { router }
}

/// Lets a question pass that names this server and comes from its own page, or from no page at all.
async fn from_here_alone(
    State(gate): State<Arc<Gate>>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    request: Request,
    next: Next,
) -> Response {
    // Held until the question is answered.
    let inside = gate.crowd.enter(from.ip());
    if inside.is_none() && !from.ip().is_loopback() {
        return refuse(StatusCode::TOO_MANY_REQUESTS, "too many questions at once; wait a little");
    }
    match stopped_at(&gate, &request) {
        Some(refusal) => refusal,
        None => next.run(request).await,
    }
}

/// Why a question may not pass, as an answer.
fn stopped_at(gate: &Gate, request: &Request) -> Option<Response> {
    let named = |name: HeaderName| request.headers().get(name).and_then(|value| value.to_str().ok());
    let host = named(header::HOST).unwrap_or_default();
    if !gate.stand.hosts.iter().any(|known| known.eq_ignore_ascii_case(host)) {
        return Some(refuse(
            StatusCode::MISDIRECTED_REQUEST,
            "this server is not called that; start it with --host NAME",
        ));
    }
    if let Some(origin) = named(header::ORIGIN) {
        let own = origin.split_once("://").is_some_and(|(_, of)| of.eq_ignore_ascii_case(host));
        if !own {
            return Some(refuse(StatusCode::FORBIDDEN, "another site's page may not ask here"));
        }
    }
    if !matches!(*request.method(), Method::GET | Method::HEAD | Method::POST) {
        return Some(refuse(StatusCode::METHOD_NOT_ALLOWED, "only GET, HEAD and POST are answered"));
    }
    None
}

fn refuse(status: StatusCode, say: &str) -> Response {
    (status, [(header::CONTENT_TYPE, "application/json")], json!({ "say": say }).to_string()).into_response()
}

/// The clock, in milliseconds since 1970 in UTC.
#[must_use]
pub fn now() -> u64 {
    let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
    u64::try_from(since.as_millis()).unwrap_or(u64::MAX)
}

/// What came of a question: the device asks too fast, is unknown, or has its answer.
enum Outcome {
    Unknown,
    TooFast,
    Answered(Result<Answer, Refusal>),
    Failed(StoreError),
}

fn bearer(headers: &HeaderMap) -> String {
    headers.get(header::AUTHORIZATION).and_then(|value| value.to_str().ok()).unwrap_or_default().to_owned()
}

/// Finds out who asks; counts what the device asks, and what a stranger tries.
fn who_asks<D: Database>(gate: &Gate, store: &store::SqlStore<D>, shown: &str) -> Result<Who, Outcome> {
    match known(store, shown) {
        Err(error) => Err(Outcome::Failed(error)),
        Ok(None) => Err(Outcome::Unknown),
        Ok(Some(who)) if gate.devices.check_key(&who.device).is_err() => Err(Outcome::TooFast),
        Ok(Some(who)) => Ok(who),
    }
}

async fn asked<D: Database + Send + 'static>(
    State(server): State<Server<D>>,
    address: Uri,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    headers: HeaderMap,
    body: Bytes,
) -> Response {
    let path = address.path().trim_start_matches('/').to_owned();
    let (shown, gate) = (bearer(&headers), server.gate.clone());
    if shown.is_empty() {
        return stranger(&server.gate, from);
    }
    let work = move |store: &mut store::SqlStore<D>| match who_asks(&gate, store, &shown) {
        Ok(who) => Outcome::Answered(answer(store, &who, &path, &body, now())),
        Err(outcome) => outcome,
    };
    respond(server.pool.with(work, is_sound).await.unwrap_or_else(Outcome::Failed), &server.gate, from)
}

/// A store that failed for a reason of its own is not trusted with the next question.
const fn is_sound(outcome: &Outcome) -> bool {
    !matches!(outcome, Outcome::Failed(_) | Outcome::Answered(Err(Refusal::Store(StoreError::Failed(_)))))
}

/// A question with no or a wrong secret: always the same words, and soon none.
fn stranger(gate: &Gate, from: SocketAddr) -> Response {
    if gate.has_tried_enough(from) {
        return refuse(StatusCode::TOO_MANY_REQUESTS, "too many tries; wait a minute");
    }
    refuse(StatusCode::UNAUTHORIZED, "this device is not let in here, or no longer; pair it anew")
}

fn respond(outcome: Outcome, gate: &Gate, from: SocketAddr) -> Response {
    match outcome {
        Outcome::Unknown => stranger(gate, from),
        Outcome::TooFast => refuse(StatusCode::TOO_MANY_REQUESTS, "too many questions at once; wait a little"),
        Outcome::Answered(Ok(Answer::Json(text))) => {
            ([(header::CONTENT_TYPE, "application/json")], text).into_response()
        }
        Outcome::Answered(Ok(Answer::Bytes(bytes))) => {
            ([(header::CONTENT_TYPE, "application/octet-stream")], Body::from(bytes)).into_response()
        }
        Outcome::Answered(Err(refusal)) => refused(refusal),
        Outcome::Failed(error) => refused(Refusal::Store(error)),
    }
}

fn refused(refusal: Refusal) -> Response {
    match refusal {
        Refusal::NotHere => refuse(StatusCode::NOT_FOUND, "this server is older than the device; update it"),
        Refusal::Unreadable(why) => refuse(StatusCode::BAD_REQUEST, &why),
        Refusal::NotAllowed(why) => refuse(StatusCode::FORBIDDEN, &why),
        // What a store says names files and tables: that is for who runs the server.
        Refusal::Store(StoreError::Failed(why)) => {
            crate::say(&format!("the book failed: {why}"));
            refuse(StatusCode::SERVICE_UNAVAILABLE, "the server's book failed; nothing is lost, try again later")
        }
        Refusal::Store(error) => refuse(StatusCode::CONFLICT, &error.to_string()),
    }
}

/// The one question that needs no secret: a device that shows a code's locator.
async fn let_in<D: Database + Send + 'static>(
    State(server): State<Server<D>>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    body: Bytes,
) -> Response {
    if server.gate.has_tried_enough(from) {
        return refuse(StatusCode::TOO_MANY_REQUESTS, "too many tries; wait a minute");
    }
    let work = move |store: &mut store::SqlStore<D>| Outcome::Answered(pair(store, &body, now()));
    respond(server.pool.with(work, is_sound).await.unwrap_or_else(Outcome::Failed), &server.gate, from)
}

async fn typeset<D: Database + Send + 'static>(
    State(server): State<Server<D>>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    headers: HeaderMap,
    body: Bytes,
) -> Response {
    let (shown, gate) = (bearer(&headers), server.gate.clone());
    let who = move |store: &mut store::SqlStore<D>| match who_asks(&gate, store, &shown) {
        Ok(who) => note_set(store, &who).err().map(Outcome::Failed),
        Err(outcome) => Some(outcome),
    };
    let stopped = server.pool.with(who, |stopped| stopped.as_ref().is_none_or(is_sound)).await;
    if let Some(outcome) = stopped.unwrap_or_else(|error| Some(Outcome::Failed(error))) {
        return respond(outcome, &server.gate, from);
    }
    // Setting takes a processor for a while, and no turn at the book. Who waits too long for a turn is told so by the time limit.
    let gate = server.gate.clone();
    let turn = gate.setting.clone().acquire_owned().await;
    let set = move || {
        let set = set_page(&body, gate.stand.template.as_deref());
        drop(turn);
        set
    };
    let set = tokio::task::spawn_blocking(set).await;
    let set = set.unwrap_or_else(|_| Err(Refusal::Unreadable("this page cannot be set".to_owned())));
    respond(Outcome::Answered(set), &server.gate, from)
}

/// Writes down who had a page set, so that a template that never ends has a name.
fn note_set<D: Database>(store: &mut store::SqlStore<D>, who: &Who) -> Result<(), StoreError> {
    let (what, about) = ("had a page set".to_owned(), String::new());
    store.note_seen(&SeenLine { at: now(), device: Some(who.device), what, about })
}

fn set_page(body: &[u8], template: Option<&str>) -> Result<Answer, Refusal> {
    let asked: ToTypeset = serde_json::from_slice(body).map_err(|error| Refusal::Unreadable(error.to_string()))?;
    let template = asked.template.as_deref().or(template).unwrap_or(TEMPLATE);
    let set = typeset::pdf_of_data(&asked.page, Sheet::usual_in(&asked.country), template);
    set.map(Answer::Bytes).map_err(|not| Refusal::Unreadable(not.to_string()))
}
