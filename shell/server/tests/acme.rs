//! A certificate fetched from an ACME authority: one for tests runs on this machine and looks whether the server is there.
//! SOURCE: RFC 8555 and RFC 8737 as Pebble holds servers to them (the test authority of the Let's Encrypt project).

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops where it fails")]

use server::{Book, Listen, Stand, Tls, serve};
use std::net::TcpListener;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc;
use std::time::{Duration, Instant};
use ureq::tls::{Certificate, RootCerts, TlsConfig};

const NAME: &str = "shop.example";

/// A program that ends with the test.
struct Running(Child);

impl Running {
    fn start(program: &str, arguments: &[&str]) -> Self {
        let mut command = Command::new(program);
        // It need not sleep before it looks. A nonce that it refuses on purpose makes the library begin the whole order anew,
        // later and later, which is sure to end but not soon.
        command.env("PEBBLE_VA_NOSLEEP", "1").env("PEBBLE_WFE_NONCEREJECT", "0");
        Self(command.args(arguments).stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap())
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        drop(self.0.kill());
        drop(self.0.wait());
    }
}

/// A port that was free a moment ago.
fn port() -> u16 {
    TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port()
}

fn agent(authority: &str) -> ureq::Agent {
    let trusted = RootCerts::from(vec![Certificate::from_pem(authority.as_bytes()).unwrap()]);
    let tls = TlsConfig::builder().root_certs(trusted).build();
    ureq::Agent::config_builder().tls_config(tls).http_status_as_error(false).build().into()
}

/// Asks until there is an answer.
fn got(agent: &ureq::Agent, address: &str) -> String {
    let until = Instant::now() + Duration::from_secs(60);
    loop {
        match agent.get(address).call() {
            Ok(mut answer) => return answer.body_mut().read_to_string().unwrap(),
            Err(why) if Instant::now() > until => panic!("{address}: {why}"),
            Err(_) => std::thread::sleep(Duration::from_millis(200)),
        }
    }
}

/// Starts the authority; it looks for the server at `ours`, and knows every name as this machine's. Gives its directory, the
/// file of who vouches for that, and where it tells its root.
fn authority(folder: &Path, ours: u16) -> (Vec<Running>, String, std::path::PathBuf, String) {
    let (directory, management, names) = (port(), port(), port());
    let made = rcgen::generate_simple_self_signed(["localhost".to_owned(), "127.0.0.1".to_owned()]).unwrap();
    let (certificate, key) = (folder.join("authority.pem"), folder.join("authority.key"));
    std::fs::write(&certificate, made.cert.pem()).unwrap();
    std::fs::write(&key, made.signing_key.serialize_pem()).unwrap();
    let config = serde_json::json!({ "pebble": {
        "listenAddress": format!("127.0.0.1:{directory}"),
        "managementListenAddress": format!("127.0.0.1:{management}"),
        "certificate": certificate, "privateKey": key,
        "httpPort": port(), "tlsPort": ours, "ocspResponderURL": "", "externalAccountBindingRequired": false,
    }});
    let file = folder.join("pebble.json");
    std::fs::write(&file, config.to_string()).unwrap();
    let names = format!("127.0.0.1:{names}");
    let nothing_else = ["-http01", "", "-https01", "", "-tlsalpn01", ""];
    let of_names = ["-dns01", &names, "-defaultIPv4", "127.0.0.1", "-defaultIPv6", "", "-management", "127.0.0.1:0"];
    let running = vec![
        Running::start("pebble-challtestsrv", &[&of_names[..], &nothing_else[..]].concat()),
        Running::start("pebble", &["-config", file.to_str().unwrap(), "-dnsserver", &names]),
    ];
    let at = |port: u16, path: &str| format!("https://127.0.0.1:{port}/{path}");
    (running, at(directory, "dir"), certificate, at(management, "roots/0"))
}

#[test]
#[ignore = "needs the test authority of the package pebble; make test brings it"]
fn a_certificate_is_fetched_from_an_authority_kept_and_served() {
    let folder = tempfile::tempdir().unwrap();
    let ours = port();
    let (_running, directory, vouching, root) = authority(folder.path(), ours);
    let root = got(&agent(&std::fs::read_to_string(&vouching).unwrap()), &root);
    std::fs::write(folder.path().join("index.html"), "<!doctype html><title>app</title>").unwrap();
    let stand =
        Stand { folder: folder.path().to_owned(), hosts: vec![format!("{NAME}:{ours}")], tls: true, template: None };
    let cache = folder.path().join("certificates");
    let listen = Listen {
        at: ([127, 0, 0, 1], ours).into(),
        tls: Tls::Acme {
            names: vec![NAME.to_owned()],
            contact: "owner@shop.example".to_owned(),
            directory: Some(directory),
            authorities: Some(vouching),
            cache: cache.clone(),
        },
    };
    let (tell, heard) = mpsc::channel();
    std::thread::spawn(move || serve(&listen, stand, &Book::None, &mut |at| tell.send(at).unwrap()));
    heard.recv().unwrap();
    // The name is this machine's for this client alone; whoever answers must be certified for it by the authority's root.
    let resolved = Here(([127, 0, 0, 1], ours).into());
    let config = agent(&root).config().clone();
    let agent = ureq::Agent::with_parts(config, ureq::unversioned::transport::DefaultConnector::default(), resolved);
    let page = got(&agent, &format!("https://{NAME}:{ours}/"));
    assert!(page.contains("<title>app</title>"), "{page}");
    assert!(std::fs::read_dir(&cache).unwrap().count() >= 1, "the certificate is not kept");
}

/// Every name is at one address.
#[derive(Debug)]
struct Here(std::net::SocketAddr);

impl ureq::unversioned::resolver::Resolver for Here {
    fn resolve(
        &self,
        _: &ureq::http::Uri,
        _: &ureq::config::Config,
        _: ureq::unversioned::transport::NextTimeout,
    ) -> Result<ureq::unversioned::resolver::ResolvedSocketAddrs, ureq::Error> {
        let mut all = self.empty();
        all.push(self.0);
        Ok(all)
    }
}
