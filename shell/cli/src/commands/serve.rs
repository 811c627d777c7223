//! `callwright serve`: hands the app's static folder to browsers. Knows nothing of calls: the book stays in the browser.

use crate::failure::Failure;
use crate::output;
use axum::Router;
use axum::http::{HeaderName, HeaderValue, header};
use serde_json::json;
use std::net::SocketAddr;
use std::path::Path;
use std::process::ExitCode;
use tower_http::services::ServeDir;
use tower_http::set_header::SetResponseHeaderLayer;

/// Sent with everything. Nothing comes from elsewhere and no script stands in a page. Styles may: a drawing is one SVG
/// with its own style within. Photos are shown from the page's own memory (`data:`); the camera is the torch's.
const HEADERS: [(HeaderName, &str); 6] = [
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
    (HeaderName::from_static("permissions-policy"), "camera=(self), geolocation=(), microphone=()"),
];

pub(crate) fn run(folder: &Path, at: SocketAddr, as_json: bool) -> Result<ExitCode, Failure> {
    if !folder.join("index.html").is_file() {
        let folder = folder.display();
        return Err(Failure::Input(format!("there is no app in `{folder}`; build it: make app")));
    }
    let runtime = tokio::runtime::Builder::new_current_thread().enable_io().enable_time().build();
    let runtime = runtime.map_err(|error| Failure::SetUp(format!("cannot begin: {error}")))?;
    runtime.block_on(serve(folder, at, as_json))
}

async fn serve(folder: &Path, at: SocketAddr, as_json: bool) -> Result<ExitCode, Failure> {
    let trouble = |error: std::io::Error| Failure::SetUp(format!("cannot listen on {at}: {error}; name another: --at"));
    let listener = tokio::net::TcpListener::bind(at).await.map_err(trouble)?;
    let address = format!("http://{}/", listener.local_addr().map_err(trouble)?);
    if as_json {
        output::json(&json!({ "address": address }));
    } else {
        output::line(&format!("the app is at {address}"));
    }
    let layered = |router: Router, (name, value)| {
        router.layer(SetResponseHeaderLayer::overriding(name, HeaderValue::from_static(value)))
    };
    let router = HEADERS.into_iter().fold(Router::new().fallback_service(ServeDir::new(folder)), layered);
    axum::serve(listener, router).await.map_err(trouble)?;
    Ok(ExitCode::SUCCESS)
}
