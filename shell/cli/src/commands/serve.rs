//! `callwright serve`: what was asked, handed to the server; prints where it listens and the first owner's code.

use crate::args::Serve;
use crate::commands::papers;
use crate::failure::Failure;
use crate::output;
use book::StoreError;
use serde_json::json;
use server::{Book, Listen, NotServing, Stand, Tls, await_owner};
use std::path::PathBuf;
use std::process::ExitCode;
use store::{Database, PostgresStore, SqlStore, SqliteStore, fill};
use sync::PairingCode;

pub(crate) fn run(asked: &Serve, as_json: bool) -> Result<ExitCode, Failure> {
    if !asked.folder.join("index.html").is_file() {
        let folder = asked.folder.display();
        return Err(Failure::Input(format!("there is no app in `{folder}`; build it: make app")));
    }
    let template = asked.template.as_ref().map(|file| {
        let text = std::fs::read_to_string(file);
        text.map_err(|error| Failure::Input(format!("cannot read `{}`: {error}", file.display())))
    });
    let template = template.transpose()?;
    template.as_deref().map_or(Ok(()), papers::tried)?;
    let tls = match (&asked.certificate, &asked.key, asked.acme.is_empty()) {
        (Some(certificate), Some(key), _) => Tls::Own { certificate: certificate.clone(), key: key.clone() },
        (_, _, false) => Tls::Acme {
            names: asked.acme.clone(),
            contact: asked.contact.clone().unwrap_or_default(),
            directory: asked.acme_directory.clone(),
            authorities: asked.acme_authorities.clone(),
            cache: asked.acme_cache.clone(),
        },
        _ => Tls::Plain,
    };
    let book = match asked.book.as_deref() {
        None => Book::None,
        Some(address) if address.starts_with("postgres://") || address.starts_with("postgresql://") => {
            Book::Postgres(address.to_owned())
        }
        Some(path) => Book::Sqlite(PathBuf::from(path)),
    };
    let code = match &book {
        Book::None => None,
        Book::Sqlite(path) => owners_code(SqliteStore::open(path).map_err(|error| of_store(&error))?)?,
        Book::Postgres(address) => owners_code(PostgresStore::open(address).map_err(|error| of_store(&error))?)?,
    };
    let hosts = [asked.hosts.clone(), asked.acme.clone()].concat();
    let stand = Stand { folder: asked.folder.clone(), hosts, tls: !matches!(tls, Tls::Plain), template };
    let scheme = if stand.tls { "https" } else { "http" };
    let mut ready = |at| {
        let address = format!("{scheme}://{at}/");
        if as_json {
            output::json(&json!({ "address": address, "owner_code": code.as_ref().map(ToString::to_string) }));
        } else {
            output::line(&format!("the app is at {address}"));
            code.iter().for_each(|code| {
                output::line(&format!("the owner's code, for one device within ten minutes: {code}"));
            });
        }
    };
    let served = server::serve(&Listen { at: asked.at, tls }, stand, &book, &mut ready);
    served.map(|()| ExitCode::SUCCESS).map_err(|not| match not {
        NotServing::NotSafe(why) | NotServing::Input(why) => Failure::Input(why),
        NotServing::SetUp(why) => Failure::SetUp(format!("{why}; name another: --at")),
    })
}

fn of_store(error: &StoreError) -> Failure {
    Failure::Input(error.to_string())
}

/// Awaits the first device, an owner's, while there is none. Every other is let in by one that is in: it has the shop's key.
fn owners_code<D: Database>(mut store: SqlStore<D>) -> Result<Option<PairingCode>, Failure> {
    store.make_depot().map_err(|error| of_store(&error))?;
    if !store.devices().map_err(|error| of_store(&error))?.is_empty() {
        return Ok(None);
    }
    let mut bytes = [0; 20];
    fill(&mut bytes).map_err(|error| Failure::SetUp(error.to_string()))?;
    let code = PairingCode::from_random(bytes);
    await_owner(&mut store, code.locator(), server::now()).map_err(|error| of_store(&error))?;
    Ok(Some(code))
}
