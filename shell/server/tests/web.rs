//! The server as its devices and its enemies meet it: over TLS on this machine's own address.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops where it fails")]

use book::*;
use serde_json::{Value, json};
use server::{Book, Listen, NotServing, Stand, Tls, await_owner, serve};
use std::io::{Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::path::Path;
use std::sync::mpsc;
use store::SqliteStore;
use sync::{BatchWriter, Member, Newcomer, PairingCode, Question, ToTypeset};
use tempfile::TempDir;
use ureq::tls::{Certificate, RootCerts, TlsConfig};

/// A server on a free port, with a certificate of its own, and the folder of its book.
struct Shop {
    folder: TempDir,
    at: SocketAddr,
    agent: ureq::Agent,
}

fn page(folder: &Path) -> Stand {
    std::fs::write(folder.join("index.html"), "<!doctype html><title>app</title>").unwrap();
    Stand { folder: folder.to_owned(), hosts: Vec::new(), tls: true, template: None }
}

impl Shop {
    fn open() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let made = rcgen::generate_simple_self_signed(["localhost".to_owned(), "127.0.0.1".to_owned()]).unwrap();
        let (certificate, key) = (folder.path().join("certificate.pem"), folder.path().join("key.pem"));
        std::fs::write(&certificate, made.cert.pem()).unwrap();
        std::fs::write(&key, made.signing_key.serialize_pem()).unwrap();
        let (stand, book) = (page(folder.path()), Book::Sqlite(folder.path().join("book.db")));
        let (tell, heard) = mpsc::channel();
        let listen = Listen { at: "127.0.0.1:0".parse().unwrap(), tls: Tls::Own { certificate, key } };
        std::thread::spawn(move || serve(&listen, stand, &book, &mut |at| tell.send(at).unwrap()));
        let at = heard.recv().unwrap();
        let trusted = RootCerts::from(vec![Certificate::from_pem(made.cert.pem().as_bytes()).unwrap()]);
        let tls = TlsConfig::builder().root_certs(trusted).build();
        let config = ureq::Agent::config_builder().tls_config(tls).http_status_as_error(false).build();
        Self { folder, at, agent: config.into() }
    }

    fn store(&self) -> SqliteStore {
        SqliteStore::open(&self.folder.path().join("book.db")).unwrap()
    }

    /// Posts something; gives status and answer.
    fn post(&self, path: &str, headers: &[(&str, &str)], body: &[u8]) -> (u16, Vec<u8>) {
        self.try_post(path, headers, body).unwrap()
    }

    fn try_post(&self, path: &str, headers: &[(&str, &str)], body: &[u8]) -> Result<(u16, Vec<u8>), ureq::Error> {
        let mut post = self.agent.post(format!("https://{}/{path}", self.at));
        for (name, value) in headers {
            post = post.header(*name, *value);
        }
        let mut answer = post.send(body)?;
        Ok((answer.status().as_u16(), answer.body_mut().read_to_vec()?))
    }

    fn ask(&self, device: DeviceId, member: &Member, question: &Question) -> (u16, Vec<u8>) {
        self.post(&question.path, &[("authorization", &member.shown(device))], &question.body)
    }

    fn plain(&self, device: DeviceId, member: &Member, path: &str, body: &Value) -> (u16, Value) {
        let question = Question { path: path.to_owned(), body: body.to_string().into_bytes() };
        let (status, answer) = self.ask(device, member, &question);
        (status, serde_json::from_slice(&answer).unwrap())
    }

    /// Lets a device in by a code; `sealed` decides where its shop's key comes from.
    fn let_in(&self, device: u8, code: &PairingCode) -> (DeviceId, Member) {
        let id = DeviceId::from_random([device; 16]);
        let newcomer = Newcomer::new(&format!("https://{}", self.at), &code.to_string(), [device; 32]).unwrap();
        let question = newcomer.question(id, "a phone");
        let (status, answer) = self.post(&question.path, &[], &question.body);
        assert_eq!(status, 200, "{}", String::from_utf8_lossy(&answer));
        (id, newcomer.heard(&answer, Key::from_random([77; 32])).unwrap())
    }

    fn owner(&self) -> (DeviceId, Member) {
        let code = PairingCode::from_random([1; 20]);
        await_owner(&mut self.store(), code.locator(), now()).unwrap();
        self.let_in(1, &code)
    }

    fn let_in_by(&self, (by, member): &(DeviceId, Member), device: u8, role: &str) -> (DeviceId, Member) {
        let code = PairingCode::from_random([device; 20]);
        let (status, answer) = self.ask(*by, member, &member.await_question(&code, role, [device; 24]).unwrap());
        assert_eq!(status, 200, "{}", String::from_utf8_lossy(&answer));
        self.let_in(device, &code)
    }
}

fn now() -> u64 {
    let since = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).unwrap();
    u64::try_from(since.as_millis()).unwrap()
}

fn event(device: DeviceId) -> Event {
    let at: ZonedTime = "2026-03-02T12:00:00Z".parse().unwrap();
    let job = JobId(EventId::new(device, 1).unwrap());
    Pen::new(device).write(&at, &Body::job(job, JobClosed { why: None })).unwrap()
}

fn batch_of(events: &[Event]) -> Question {
    let mut batch = BatchWriter::default();
    events.iter().for_each(|event| batch.event(event.sum(), event.text()));
    Question { path: "sync/1/events".to_owned(), body: batch.end(false, 0).into_bytes() }
}

#[test]
fn devices_are_let_in_by_codes_that_work_once_and_all_get_the_shops_key() {
    let shop = Shop::open();
    let owner = shop.owner();
    assert_eq!(owner.1.role, "owner");
    let technician = shop.let_in_by(&owner, 2, "technician");
    assert_eq!((technician.1.role.as_str(), &technician.1.shop), ("technician", &owner.1.shop));
    // The same code once more, a made-up one, and one that is late: refused in the same words.
    let again = Newcomer::new("https://localhost", &PairingCode::from_random([2; 20]).to_string(), [5; 32]).unwrap();
    let question = again.question(DeviceId::from_random([5; 16]), "a thief");
    let late = PairingCode::from_random([6; 20]);
    await_owner(&mut shop.store(), late.locator(), 1).unwrap();
    let mut answers = vec![shop.post(&question.path, &[], &question.body)];
    for code in [PairingCode::from_random([7; 20]), late] {
        let newcomer = Newcomer::new("https://localhost", &code.to_string(), [5; 32]).unwrap();
        let question = newcomer.question(DeviceId::from_random([5; 16]), "a thief");
        answers.push(shop.post(&question.path, &[], &question.body));
    }
    assert!(answers.iter().all(|(status, said)| *status == 403 && *said == answers[0].1), "{answers:?}");
    // A second device that would make a shop's key of its own is never let in, whoever sits at the server.
    let second = PairingCode::from_random([10; 20]);
    await_owner(&mut shop.store(), second.locator(), now()).unwrap();
    let newcomer = Newcomer::new("https://localhost", &second.to_string(), [5; 32]).unwrap();
    let question = newcomer.question(DeviceId::from_random([5; 16]), "a second owner");
    assert_eq!(shop.post(&question.path, &[], &question.body).0, 403);
    // A code does not let anybody take another's name.
    let code = PairingCode::from_random([8; 20]);
    shop.ask(owner.0, &owner.1, &owner.1.await_question(&code, "technician", [8; 24]).unwrap());
    let newcomer = Newcomer::new("https://localhost", &code.to_string(), [9; 32]).unwrap();
    assert_eq!(shop.post("devices/1/pair", &[], &newcomer.question(owner.0, "owner").body).0, 403);
    // Only hashes are kept, and no key of the shop's.
    let kept = std::fs::read(shop.folder.path().join("book.db")).unwrap();
    let wal = std::fs::read(shop.folder.path().join("book.db-wal")).unwrap_or_default();
    for secret in [[1_u8; 32], [2; 32], [77; 32]] {
        assert!(!kept.windows(32).chain(wal.windows(32)).any(|bytes| bytes == secret), "a secret is in the file");
    }
}

#[test]
fn each_role_may_do_its_own_and_no_more_and_who_is_shut_out_stays_out() {
    let shop = Shop::open();
    let owner = shop.owner();
    let office = shop.let_in_by(&owner, 2, "office");
    let technician = shop.let_in_by(&office, 3, "technician");
    let await_as = |of: &(DeviceId, Member), role: &str| {
        let code = PairingCode::from_random([40; 20]);
        shop.ask(of.0, &of.1, &of.1.await_question(&code, role, [4; 24]).unwrap()).0
    };
    assert_eq!(
        (await_as(&technician, "technician"), await_as(&office, "owner"), await_as(&office, "office")),
        (403, 403, 403)
    );
    let revoke = |of: &(DeviceId, Member), other: DeviceId| {
        shop.plain(of.0, &of.1, "devices/1/revoke", &json!({ "device": other })).0
    };
    assert_eq!((revoke(&technician, office.0), revoke(&office, owner.0)), (403, 403));
    assert_eq!(shop.plain(technician.0, &technician.1, "devices/1/seen", &json!({})).0, 403);
    // What it wrote itself is taken; another's is not, unless the owner brings it.
    assert_eq!(shop.ask(technician.0, &technician.1, &batch_of(&[event(technician.0)])).0, 200);
    assert_eq!(shop.ask(technician.0, &technician.1, &batch_of(&[event(office.0)])).0, 403);
    assert_eq!(shop.ask(owner.0, &owner.1, &batch_of(&[event(office.0)])).0, 200);
    assert_eq!(revoke(&office, technician.0), 200);
    assert_eq!(shop.ask(technician.0, &technician.1, &batch_of(&[event(technician.0)])).0, 401);
    let (_, seen) = shop.plain(owner.0, &owner.1, "devices/1/seen", &json!({}));
    let lines: Vec<&str> = seen["seen"].as_array().unwrap().iter().map(|line| line["what"].as_str().unwrap()).collect();
    for what in ["shut a device out", "sent events", "was let in", "awaits a technician"] {
        assert!(lines.contains(&what), "`{what}` is not in {lines:?}");
    }
    let (_, listed) = shop.plain(owner.0, &owner.1, "devices/1/list", &json!({}));
    let shut: Vec<bool> =
        listed["devices"].as_array().unwrap().iter().map(|device| device["revoked"].is_u64()).collect();
    assert_eq!(shut, [false, false, true]);
}

#[test]
fn strangers_learn_nothing_and_soon_get_no_answer() {
    let shop = Shop::open();
    let owner = shop.owner();
    let have = b"{\"have\":{}}";
    let wrong = format!("Bearer {}.{}", owner.0, "ab".repeat(32));
    let unknown = format!("Bearer {}.{}", "cd".repeat(16), "ab".repeat(32));
    let (status, said) = shop.post("sync/1/have", &[], have);
    assert_eq!(status, 401);
    for shown in [wrong.as_str(), unknown.as_str(), "Bearer", "Basic x", "Bearer a.b"] {
        assert_eq!(shop.post("sync/1/have", &[("authorization", shown)], have), (401, said.clone()), "{shown}");
    }
    let tries: Vec<u16> = (0..30).map(|_| shop.post("sync/1/have", &[("authorization", &wrong)], have).0).collect();
    assert_eq!((tries.first(), tries.last()), (Some(&401), Some(&429)), "{tries:?}");
    // Who is known is not hindered by what strangers try.
    assert_eq!(shop.post("sync/1/have", &[("authorization", &owner.1.shown(owner.0))], have).0, 200);
}

#[test]
fn what_is_no_question_costs_little_and_changes_nothing() {
    let shop = Shop::open();
    let owner = shop.owner();
    let shown = owner.1.shown(owner.0);
    let post = |path: &str, body: &[u8]| shop.post(path, &[("authorization", &shown)], body).0;
    let good = batch_of(&[event(owner.0)]);
    let broken = &good.body[..good.body.len() - 3];
    let not_text = [b"callwright batch 1\ne \xff\xfe\n".as_slice(), b"end all 0\n"].concat();
    let spoiled = String::from_utf8(good.body.clone()).unwrap().replace("job_closed", "job_clOsed").into_bytes();
    for (path, body) in [
        ("sync/1/have", b"{".as_slice()),
        ("sync/1/have", b"\xff\xff"),
        ("sync/1/after", b"{\"have\":{\"zz\":1}}"),
        ("sync/1/events", broken),
        ("sync/1/events", b"<html>"),
        ("sync/1/events", &not_text),
        ("sync/1/events", &spoiled),
        ("sync/1/piece/x/y", b""),
        ("devices/1/await", b"{\"role\":\"king\",\"locator\":\"\",\"sealed\":\"\"}"),
        ("devices/1/revoke", b"{\"device\":\"00000000000000000000000000000000\"}"),
        ("devices/1/pair", b"[]"),
        ("typeset/1", b"{\"page\":{},\"country\":\"US\"}"),
    ] {
        assert_eq!(post(path, body), 400, "{path} {}", String::from_utf8_lossy(body));
    }
    assert_eq!(post("sync/2/have", b"{}"), 404);
    // Refused by its announced length and not read to its end. A client that is still sending may see the connection cut before
    // it hears why (RFC 9112, 9.6): it is tried until it hears.
    let large = vec![b'x'; 3_000_000];
    let asks_first = [("authorization", shown.as_str()), ("expect", "100-continue")];
    let heard = (0..20).find_map(|_| shop.try_post("sync/1/events", &asks_first, &large).ok());
    assert_eq!(heard.map(|(status, _)| status), Some(413));
    assert_eq!(shop.store().load().unwrap().events.len(), 0);
    // The same batch again and again is taken once.
    (0..3).for_each(|_| assert_eq!(post("sync/1/events", &good.body), 200));
    assert_eq!(shop.store().load().unwrap().events.len(), 1);
}

#[test]
fn another_sites_page_and_another_name_are_refused_and_every_answer_has_its_policy() {
    let shop = Shop::open();
    let get =
        |name: &str, value: &str| shop.agent.get(format!("https://{}/", shop.at)).header(name, value).call().unwrap();
    assert_eq!(get("host", "evil.example").status(), 421);
    assert_eq!(get("origin", "https://evil.example").status(), 403);
    assert_eq!(get("origin", "null").status(), 403);
    let page = get("origin", &format!("https://{}", shop.at));
    assert_eq!(page.status(), 200);
    let header = |name: &str| page.headers().get(name).unwrap().to_str().unwrap().to_owned();
    assert!(header("content-security-policy").contains("default-src 'self'"));
    assert!(header("strict-transport-security").contains("max-age"));
    assert_eq!((header("x-content-type-options"), header("referrer-policy")), ("nosniff".into(), "no-referrer".into()));
    let deleted = shop.agent.delete(format!("https://{}/", shop.at)).call().unwrap();
    assert_eq!(deleted.status(), 405);
}

#[test]
fn nothing_is_served_elsewhere_without_tls() {
    let folder = tempfile::tempdir().unwrap();
    let listen = Listen { at: "0.0.0.0:0".parse().unwrap(), tls: Tls::Plain };
    let not = serve(&listen, page(folder.path()), &Book::None, &mut |_| panic!("it listens")).unwrap_err();
    assert!(matches!(&not, NotServing::NotSafe(why) if why.contains("--acme")), "{not:?}");
}

#[test]
fn plain_words_on_the_tls_port_and_a_head_that_never_ends_are_cut_off() {
    let shop = Shop::open();
    let mut plain = TcpStream::connect(shop.at).unwrap();
    plain.write_all(b"GET / HTTP/1.1\r\nhost: localhost\r\n\r\n").unwrap();
    let mut heard = Vec::new();
    drop(plain.read_to_end(&mut heard));
    assert!(!heard.starts_with(b"HTTP/1.1 200"), "{}", String::from_utf8_lossy(&heard));
    // Without TLS in between, on a server of its own: the connection ends by itself.
    let folder = tempfile::tempdir().unwrap();
    let stand = Stand { tls: false, ..page(folder.path()) };
    let (tell, told) = mpsc::channel();
    let listen = Listen { at: "127.0.0.1:0".parse().unwrap(), tls: Tls::Plain };
    std::thread::spawn(move || serve(&listen, stand, &Book::None, &mut |at| tell.send(at).unwrap()));
    let mut slow = TcpStream::connect(told.recv().unwrap()).unwrap();
    slow.write_all(b"GET / HTTP/1.1\r\nhost: loc").unwrap();
    let mut heard = Vec::new();
    slow.read_to_end(&mut heard).unwrap();
    assert!(!heard.starts_with(b"HTTP/1.1 200"));
}

#[test]
fn a_page_comes_back_typeset() {
    let shop = Shop::open();
    let (device, owner) = shop.owner();
    let page = json!({ "title": "Receipt", "blocks": [{ "kind": "line", "text": "Paid." }] });
    let set = |template: Option<&str>| {
        let asked = ToTypeset { page: page.clone(), country: "US".to_owned(), template: template.map(str::to_owned) };
        shop.ask(device, &owner, &asked.question())
    };
    let (status, file) = set(None);
    assert_eq!((status, file.get(..5)), (200, Some(b"%PDF-".as_slice())));
    // By a template of the device's own it is another file; what is wrong with one is told by its line.
    let (status, own) = set(Some("#json(\"page.json\").title"));
    assert_eq!((status, own.get(..5)), (200, Some(b"%PDF-".as_slice())));
    assert_ne!(own, file);
    assert!(
        shop.store().seen(5).unwrap().iter().any(|line| line.what == "had a page set" && line.device == Some(device))
    );
    let (status, said) = set(Some("#unknown-word()"));
    assert_eq!(status, 400, "{}", String::from_utf8_lossy(&said));
    assert!(String::from_utf8_lossy(&said).contains("line 1"), "{}", String::from_utf8_lossy(&said));
}
