//! How a PostgreSQL server is reached: without TLS only on this machine.

use std::path::Path;

use book::StoreError;
use postgres::config::{Host, SslMode};
use postgres::{Client, Config, NoTls};
use tokio_postgres_rustls::MakeRustlsConnect;

use super::in_words;
use crate::trust::trusting;

/// The parameter that names a file of authorities, as PostgreSQL's own clients call it.
const AUTHORITIES: &str = "sslrootcert";

/// Connects to the database at an address.
///
/// # Errors
/// [`StoreError::Failed`] if the address cannot be read, asks for a connection without TLS to another machine, or cannot be
/// reached.
pub(super) fn connect(address: &str) -> Result<Client, StoreError> {
    let (address, authorities) = without_authorities(address);
    let mut config: Config = address.parse().map_err(|error| in_words(&error))?;
    let here =
        config.get_hosts().iter().all(is_here) && config.get_hostaddrs().iter().all(std::net::IpAddr::is_loopback);
    match (config.get_ssl_mode(), here) {
        (SslMode::Disable, true) => {}
        // On this machine nobody listens on the way; who wants TLS there asks for it.
        (SslMode::Prefer, true) => drop(config.ssl_mode(SslMode::Disable)),
        (SslMode::Disable, false) => {
            let why = "the book is on another machine, and `sslmode=disable` would send it there for everybody to read; \
                       leave it out";
            return Err(StoreError::Failed(why.to_owned()));
        }
        _ => drop(config.ssl_mode(SslMode::Require)),
    }
    let connected = match config.get_ssl_mode() {
        SslMode::Disable => config.connect(NoTls),
        _ => {
            let tls = trusting(authorities.as_deref().map(Path::new)).map_err(StoreError::Failed)?;
            config.connect(MakeRustlsConnect::new(tls))
        }
    };
    connected.map_err(|error| in_words(&error))
}

/// A socket in a folder, or this machine by name or number.
fn is_here(host: &Host) -> bool {
    match host {
        Host::Tcp(name) => {
            name == "localhost" || name.parse::<std::net::IpAddr>().is_ok_and(|address| address.is_loopback())
        }
        #[cfg(unix)]
        Host::Unix(_) => true,
    }
}

/// Takes the file of authorities out of an address: the library knows no such parameter.
fn without_authorities(address: &str) -> (String, Option<String>) {
    let Some((before, parameters)) = address.split_once('?') else { return (address.to_owned(), None) };
    let names = |parameter: &&str| parameter.split_once('=').is_some_and(|(name, _)| name == AUTHORITIES);
    let rest: Vec<&str> = parameters.split('&').filter(|parameter| !names(parameter)).collect();
    let file = parameters.split('&').find(names).and_then(|parameter| parameter.split_once('='));
    let query = if rest.is_empty() { String::new() } else { format!("?{}", rest.join("&")) };
    (format!("{before}{query}"), file.map(|(_, file)| file.to_owned()))
}
