//! Listening: plain on this machine's own address, TLS everywhere else.

use axum::Router;
use axum_server::Handle;
use axum_server::tls_rustls::RustlsConfig;
use book::StoreError;
use hyper_util::rt::TokioTimer;
use rustls_acme::caches::DirCache;
use rustls_acme::{AcmeConfig, AcmeState};
use std::fmt;
use std::net::{SocketAddr, TcpListener};
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;
use store::{Database, PostgresStore, SqlStore, SqliteStore, trusting};
use tokio_stream::StreamExt;

use crate::pool::Pool;
use crate::web::{Stand, app_alone, with_book};

/// How long a client may take over the head of a question.
const HEAD: Duration = Duration::from_secs(10);
/// Most bytes of a head.
const MOST_HEAD: usize = 16 * 1024;
/// Open connections to the database. SQLite has one writer, PostgreSQL's work is done on its own side.
const CONNECTIONS: usize = 8;
/// How long questions under way may still take when the server is stopped.
const FAREWELL: Duration = Duration::from_secs(10);

/// Where the book is.
#[derive(Clone, Debug)]
pub enum Book {
    /// Nowhere: the app's folder alone.
    None,
    /// In a SQLite file.
    Sqlite(PathBuf),
    /// In a PostgreSQL database, by its address.
    Postgres(String),
}

/// How TLS comes about.
#[derive(Clone, Debug)]
pub enum Tls {
    /// Not at all: only on this machine's own address, behind whatever else speaks TLS.
    Plain,
    /// With the shop's own certificate and key, in PEM.
    Own {
        /// The certificate with its chain.
        certificate: PathBuf,
        /// Its key.
        key: PathBuf,
    },
    /// From an ACME authority (RFC 8555), renewed by itself.
    Acme {
        /// The names to be certified.
        names: Vec<String>,
        /// Where the authority writes to when something is wrong.
        contact: String,
        /// The authority's directory; the usual public one if `None`.
        directory: Option<String>,
        /// Authorities that vouch for the directory itself, in PEM; those of web servers if `None`.
        authorities: Option<PathBuf>,
        /// Where certificates are kept.
        cache: PathBuf,
    },
}

/// Where to listen, and how.
#[derive(Clone, Debug)]
pub struct Listen {
    /// Address and port; port 0 takes any that is free.
    pub at: SocketAddr,
    /// TLS.
    pub tls: Tls,
}

/// Why it does not serve.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NotServing {
    /// What was asked for would not be safe; why, and the mend.
    NotSafe(String),
    /// What was named cannot be used; why.
    Input(String),
    /// The machine does not let it; why.
    SetUp(String),
}

impl fmt::Display for NotServing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotSafe(why) | Self::Input(why) | Self::SetUp(why) => f.write_str(why),
        }
    }
}

impl std::error::Error for NotServing {}

impl From<StoreError> for NotServing {
    fn from(error: StoreError) -> Self {
        Self::Input(error.to_string())
    }
}

/// Serves until it is stopped. `ready` hears the address once it listens; it is no type parameter, so that the whole server is
/// built once and not again by everybody who starts one.
///
/// # Errors
/// [`NotServing`].
pub fn serve(
    listen: &Listen,
    mut stand: Stand,
    book: &Book,
    ready: &mut dyn FnMut(SocketAddr),
) -> Result<(), NotServing> {
    if matches!(listen.tls, Tls::Plain) && !listen.at.ip().is_loopback() {
        return Err(NotServing::NotSafe(format!(
            "{} is not this machine's own address, and nothing is served there without TLS; name a certificate \
             (--certificate, --key), have one fetched (--acme NAME), or listen on 127.0.0.1 behind a proxy that speaks TLS",
            listen.at
        )));
    }
    let set_up = |error: std::io::Error| NotServing::SetUp(format!("cannot listen on {}: {error}", listen.at));
    let listener = TcpListener::bind(listen.at).map_err(set_up)?;
    listener.set_nonblocking(true).map_err(set_up)?;
    let at = listener.local_addr().map_err(set_up)?;
    if at.ip().is_loopback() {
        stand.hosts.extend([
            format!("127.0.0.1:{}", at.port()),
            format!("localhost:{}", at.port()),
            format!("[::1]:{}", at.port()),
        ]);
    }
    let router = match book {
        Book::None => app_alone(stand),
        Book::Sqlite(path) => {
            let path = path.clone();
            with_book(stand, opened(move || SqliteStore::open(&path))?)
        }
        Book::Postgres(address) => {
            let address = address.clone();
            with_book(stand, opened(move || PostgresStore::open(&address))?)
        }
    };
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build();
    let runtime = runtime.map_err(|error| NotServing::SetUp(format!("cannot begin: {error}")))?;
    runtime.block_on(listened(listener, at, &listen.tls, router, ready))
}

/// Opens the book once, so that what is wrong with it is said now, and makes the server's own tables.
fn opened<D: Database + Send + 'static>(
    open: impl Fn() -> Result<SqlStore<D>, StoreError> + Send + Sync + 'static,
) -> Result<Arc<Pool<D>>, NotServing> {
    open()?.make_depot()?;
    Ok(Arc::new(Pool::new(CONNECTIONS, Box::new(open))))
}

async fn listened(
    listener: TcpListener,
    at: SocketAddr,
    tls: &Tls,
    router: Router,
    ready: &mut dyn FnMut(SocketAddr),
) -> Result<(), NotServing> {
    let handle = Handle::new();
    tokio::spawn(stopped(handle.clone()));
    let failed = |error: std::io::Error| NotServing::SetUp(format!("cannot serve on {at}: {error}"));
    let service = router.into_make_service_with_connect_info::<SocketAddr>();
    // Another part of the program may have chosen a provider already, which serves as well.
    drop(rustls::crypto::ring::default_provider().install_default());
    match tls {
        Tls::Plain => {
            ready(at);
            let mut server = axum_server::from_tcp(listener).map_err(failed)?.handle(handle);
            server.http_builder().http1().timer(TokioTimer::new()).header_read_timeout(HEAD).max_buf_size(MOST_HEAD);
            server.serve(service).await.map_err(failed)
        }
        Tls::Own { certificate, key } => {
            let config = RustlsConfig::from_pem_file(certificate, key).await.map_err(|error| {
                let (certificate, key) = (certificate.display(), key.display());
                NotServing::Input(format!("`{certificate}` and `{key}` are no certificate with its key: {error}"))
            })?;
            ready(at);
            let mut server = axum_server::from_tcp_rustls(listener, config).map_err(failed)?.handle(handle);
            server.http_builder().http1().timer(TokioTimer::new()).header_read_timeout(HEAD).max_buf_size(MOST_HEAD);
            server.serve(service).await.map_err(failed)
        }
        Tls::Acme { names, contact, directory, authorities, cache } => {
            let trust = trusting(authorities.as_deref()).map_err(NotServing::Input)?;
            let mut config = AcmeConfig::new_with_client_config(names, Arc::new(trust))
                .contact_push(format!("mailto:{contact}"))
                .cache(DirCache::new(cache.clone()));
            config = match directory {
                Some(directory) => config.directory(directory),
                None => config.directory_lets_encrypt(true),
            };
            let mut state: AcmeState<_, _> = config.state();
            let acceptor = state.axum_acceptor(state.default_rustls_config());
            tokio::spawn(async move {
                while let Some(event) = state.next().await {
                    match event {
                        Ok(news) => crate::say(&format!("certificate: {news:?}")),
                        Err(error) => crate::say(&format!("no certificate yet: {error}")),
                    }
                }
            });
            ready(at);
            let mut server = axum_server::from_tcp(listener).map_err(failed)?.handle(handle).acceptor(acceptor);
            server.http_builder().http1().timer(TokioTimer::new()).header_read_timeout(HEAD).max_buf_size(MOST_HEAD);
            server.serve(service).await.map_err(failed)
        }
    }
}

/// Lets questions under way end when the server is told to stop.
async fn stopped(handle: Handle<SocketAddr>) {
    let interrupted = tokio::signal::ctrl_c();
    #[cfg(unix)]
    {
        let ended = async {
            match tokio::signal::unix::signal(tokio::signal::unix::SignalKind::terminate()) {
                Ok(mut signal) => drop(signal.recv().await),
                Err(_) => std::future::pending().await,
            }
        };
        tokio::select! { _ = interrupted => {}, () = ended => {} }
    }
    #[cfg(not(unix))]
    drop(interrupted.await);
    handle.graceful_shutdown(Some(FAREWELL));
}
