//! A program that writes is killed at many moments; whatever it had said is kept must be kept.
//!
//! The program is this very test file run again with a path in its environment. It says `kept` with name and checksum
//! after each append returned; it appends batches, so that half a batch would be noticed too.

use std::collections::BTreeMap;
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use book::*;
use store::{SqliteStore, fresh_key, seal};
use tempfile::TempDir;

use crate::words::{noon, pen, say};

const PATH: &str = "CALLWRIGHT_TEST_BOOK";
const KILLS: u32 = 60;

/// Appends for ever: batches of one to four, now and then a sealed record under a fresh key.
#[test]
#[ignore = "runs only as the program that the kill test kills"]
fn child_appends_until_it_is_killed() {
    let Some(path) = std::env::var_os(PATH) else { return };
    let mut store = SqliteStore::open(Path::new(&path)).unwrap();
    let mut writer = pen(&store);
    for batch in 0_usize.. {
        let size = batch % 4 + 1;
        let stamp = writer.clone().write(&noon(), &say("stamp")).unwrap().id();
        let filler = "x".repeat(batch * 977 % 5000);
        let bodies: Vec<Body> = (0..size).map(|_| say(&format!("{stamp} {size} {filler}"))).collect();
        for event in record(&mut store, &mut writer, &noon(), &bodies).unwrap() {
            println!("kept {} {}", event.id(), event.sum());
        }
        if batch % 5 == 0 {
            let (id, key) = fresh_key().unwrap();
            let sealed = seal(id, &key, &Content::text(&filler)).unwrap();
            store.keep_key(id, &key).unwrap();
            store.keep_record(&sealed).unwrap();
            println!("sealed {} {}", sealed.id, sealed.sum());
        }
    }
}

fn start(path: &Path) -> Child {
    let arguments = ["--exact", "kill::child_appends_until_it_is_killed", "--ignored", "--nocapture"];
    Command::new(std::env::current_exe().unwrap())
        .args(arguments)
        .env(PATH, path)
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap()
}

/// Kills the program after so many words and a pause, and returns everything it had said.
fn words_until_killed(path: &Path, words: usize, pause: Duration) -> Vec<String> {
    let mut child = start(path);
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines().map_while(Result::ok);
    let said = |line: &String| line.starts_with("kept ") || line.starts_with("sealed ");
    let mut heard: Vec<String> = lines.by_ref().filter(said).take(words).collect();
    std::thread::sleep(pause);
    child.kill().unwrap();
    heard.extend(lines.filter(said));
    child.wait().unwrap();
    assert!(heard.len() >= words, "the program stopped by itself after {heard:?}");
    heard
}

/// A small fixed sequence of numbers that look random.
fn next(state: &mut u64) -> u64 {
    // SOURCE: Knuth's multiplier and increment of MMIX, from memory; any odd ones would do.
    *state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
    *state >> 33
}

#[test]
fn nothing_that_was_acknowledged_is_lost_when_the_program_is_killed() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("book.db");
    let (mut state, mut all) = (7, Vec::new());
    for _ in 0..KILLS {
        let words = usize::try_from(next(&mut state) % 12).unwrap();
        let pause = Duration::from_micros(next(&mut state) % 6000);
        all.extend(words_until_killed(&path, words, pause));
        check(&SqliteStore::open(&path).unwrap(), &all);
    }
    assert!(all.len() >= usize::try_from(KILLS).unwrap());
}

#[test]
fn a_book_whose_making_was_interrupted_opens_all_the_same() {
    let folder = TempDir::new().unwrap();
    let mut state = 11;
    for round in 0..20 {
        let path = folder.path().join(format!("{round}.db"));
        let pause = Duration::from_micros(next(&mut state) % 20_000);
        let said = words_until_killed(&path, 0, pause);
        check(&SqliteStore::open(&path).unwrap(), &said);
    }
}

/// Everything said is there and whole, nothing is damaged, and no batch is half there.
fn check(store: &SqliteStore, said: &[String]) {
    let loaded = store.load().unwrap();
    assert_eq!(loaded.damaged, []);
    let held: BTreeMap<String, String> =
        loaded.events.iter().map(|event| (event.id().to_string(), event.sum().to_string())).collect();
    for line in said {
        let [what, id, sum] = line.split(' ').collect::<Vec<_>>().try_into().unwrap();
        if what == "kept" {
            assert_eq!(held.get(id).map(String::as_str), Some(sum), "{line}");
        } else {
            let sealed = store.record(id.parse().unwrap()).unwrap().unwrap();
            assert_eq!(sealed.sum().to_string(), sum);
            let KeyHeld::Held(key) = store.key(sealed.key).unwrap() else { panic!("{line}: its key is lost") };
            assert!(sealed.open(&key).is_ok());
        }
    }
    let mut batches: BTreeMap<String, usize> = BTreeMap::new();
    for event in &loaded.events {
        let Body::Job { fact: JobFact::JobClosed(fact), .. } = event.body() else { panic!("{event:?}") };
        let stamp: Vec<&str> = fact.why.as_deref().unwrap().split(' ').take(2).collect();
        *batches.entry(stamp.join(" ")).or_default() += 1;
    }
    for (stamp, count) in batches {
        assert!(stamp.ends_with(&format!(" {count}")), "{count} of batch {stamp}");
    }
}
