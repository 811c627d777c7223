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
/// Set where the program goes on when it is refused.
const ENDURES: &str = "CALLWRIGHT_TEST_ENDURES";
/// Books, and kills of the program that writes each.
const BOOKS: u64 = 25;
const KILLS: u32 = 40;

/// Appends for ever: batches of one to four, now and then a sealed record under a fresh key.
#[test]
#[ignore = "runs only as the program that the kill test kills"]
fn child_appends_until_it_is_killed() {
    let Some(path) = std::env::var_os(PATH) else { return };
    let mut store = SqliteStore::open(Path::new(&path)).unwrap();
    let mut writer = pen(&store);
    let endures = std::env::var_os(ENDURES).is_some();
    for batch in 0_usize.. {
        let size = batch % 4 + 1;
        let stamp = writer.clone().write(&noon(), &say("stamp")).unwrap().id();
        let filler = "x".repeat(batch * 977 % 5000);
        let bodies: Vec<Body> = (0..size).map(|_| say(&format!("{stamp} {size} {filler}"))).collect();
        let kept = record(&mut store, &mut writer, &noon(), &bodies);
        match kept {
            Err(why) if endures => {
                println!("refused {why}");
                continue;
            }
            kept => kept.unwrap().iter().for_each(|event| println!("kept {} {}", event.id(), event.sum())),
        }
        if batch % 5 == 0 && !endures {
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
    for book in 0..BOOKS {
        let path = folder.path().join(format!("{book}.db"));
        let (mut state, mut all) = (book, Vec::new());
        for _ in 0..KILLS {
            let words = usize::try_from(next(&mut state) % 8).unwrap();
            let pause = Duration::from_micros(next(&mut state) % 3000);
            all.extend(words_until_killed(&path, words, pause));
            check(&SqliteStore::open(&path).unwrap(), &all);
        }
        assert!(all.len() >= usize::try_from(KILLS).unwrap());
    }
}

/// A disk that has no room beyond so many blocks of 512 bytes: what could not be written is refused in words and leaves no half, what was
/// acknowledged before stays, and once there is room the book goes on.
#[test]
fn a_full_disk_loses_nothing_that_was_acknowledged() {
    for blocks in [100, 150, 251, 640] {
        let folder = TempDir::new().unwrap();
        let path = folder.path().join("book.db");
        // Made while there is room. The shell bounds how long a file may get, and keeps the signal that would end the program.
        drop(SqliteStore::open(&path).unwrap());
        let script = format!("trap '' XFSZ; ulimit -f {blocks}; exec \"$0\" \"$@\"");
        let mut child = Command::new("sh")
            .args(["-c", &script])
            .arg(std::env::current_exe().unwrap())
            .args(["--exact", "kill::child_appends_until_it_is_killed", "--ignored", "--nocapture"])
            .env(PATH, &path)
            .env(ENDURES, "1")
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut lines = BufReader::new(child.stdout.take().unwrap()).lines().map_while(Result::ok);
        let heard: Vec<String> = lines
            .by_ref()
            .filter(|line| line.starts_with("kept ") || line.starts_with("refused "))
            .scan(0, |refused, line| {
                *refused += u32::from(line.starts_with("refused "));
                (*refused < 5).then_some(line)
            })
            .collect();
        child.kill().unwrap();
        child.wait().unwrap();
        let (kept, refused): (Vec<String>, Vec<String>) = heard.into_iter().partition(|line| line.starts_with("kept "));
        assert!(!kept.is_empty() && refused.len() == 4, "{blocks} blocks: {} kept, {refused:?}", kept.len());
        assert!(refused.iter().all(|line| line.contains("the book could not be read or written")), "{refused:?}");
        let mut store = SqliteStore::open(&path).unwrap();
        check(&store, &kept);
        let mut writer = pen(&store);
        record(&mut store, &mut writer, &noon(), &[say("stamp-1 1")]).unwrap();
    }
}

/// The last write reached the disk in part, with rubbish after it, as a faulty disk would leave it: everything acknowledged
/// before it is there and whole.
#[test]
fn a_torn_write_costs_only_what_was_not_acknowledged() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("book.db");
    let log = |path: &Path| path.with_file_name(format!("{}-wal", path.file_name().unwrap().display()));
    let mut store = SqliteStore::open(&path).unwrap();
    let mut writer = pen(&store);
    let mut acknowledged = vec![(std::fs::metadata(log(&path)).map_or(0, |of| of.len()), 0)];
    for count in 1..=40_usize {
        record(&mut store, &mut writer, &noon(), &[say(&"x".repeat(count * 331 % 5000))]).unwrap();
        acknowledged.push((std::fs::metadata(log(&path)).unwrap().len(), count));
    }
    let (book, written) = (std::fs::read(&path).unwrap(), std::fs::read(log(&path)).unwrap());
    let mut state = 3;
    for pair in acknowledged.windows(2) {
        let [(from, count), (to, _)] = pair else { panic!() };
        for _ in 0..6 {
            let cut = usize::try_from(from + next(&mut state) % (to - from)).unwrap();
            let mut torn = written.get(..cut).unwrap().to_vec();
            torn.extend((0..next(&mut state) % 9000).map(|at| u8::try_from((at * 37 + 11) % 256).unwrap()));
            let copy = folder.path().join("torn.db");
            std::fs::write(&copy, &book).unwrap();
            std::fs::write(log(&copy), torn).unwrap();
            let loaded = SqliteStore::open(&copy).unwrap().load().unwrap();
            assert_eq!((loaded.events.len(), loaded.damaged.len()), (*count, 0), "cut at {cut}");
            ["torn.db", "torn.db-wal", "torn.db-shm"]
                .iter()
                .for_each(|name| drop(std::fs::remove_file(folder.path().join(name))));
        }
    }
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

/// A backup that is made while another program writes opens as a book of its own and holds one moment of it.
#[test]
fn a_backup_made_while_the_book_is_written_is_whole() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("book.db");
    let mut store = SqliteStore::open(&path).unwrap();
    let (id, key) = fresh_key().unwrap();
    let sealed = seal(id, &key, &Content::text("A. Person")).unwrap();
    store.keep_key(id, &key).unwrap();
    store.keep_record(&sealed).unwrap();
    let mut child = start(&path);
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines().map_while(Result::ok);
    let mut said = Vec::new();
    for round in 0..5 {
        said.extend(lines.by_ref().filter(|line| line.starts_with("kept ")).take(20));
        let to = folder.path().join(format!("backup-{round}.db"));
        store.back_up(&to).unwrap();
        let copy = SqliteStore::open(&to).unwrap();
        check(&copy, &said);
        assert_eq!(copy.record(sealed.id).unwrap().unwrap().open(&key), sealed.open(&key));
        // It is not written over, and it is nobody else's to read.
        assert!(store.back_up(&to).is_err());
        #[cfg(unix)]
        assert_eq!(std::os::unix::fs::PermissionsExt::mode(&std::fs::metadata(&to).unwrap().permissions()) & 0o077, 0);
    }
    child.kill().unwrap();
    child.wait().unwrap();
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
