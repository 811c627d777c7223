//! Each kept corpus file, and seeded mutations of it, through the same ways in as the fuzz targets: nothing panics.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may fail loudly")]

#[path = "../../../fuzz/src/lib.rs"]
#[allow(unreachable_pub, reason = "the file is a crate of its own where it is fuzzed")]
mod ways_in;

use std::path::PathBuf;

/// Mutations of each file; fewer where each goes through a whole screen over every shipped machine.
const MUTATIONS: usize = 2000;
const MUTATIONS_ON_SCREENS: usize = 60;
/// Words that mean something to one of the readers.
const WORDS: [&str; 16] =
    ["\"", "[[", "]]", "=", "\n", "nan", "-1", "1e308", "0x7fff", "''", "é", "\u{0}", "true", "{ }", "\u{202e}", "."];

/// Splitmix64.
///
/// SOURCE: Steele, Lea, Flood: Fast splittable pseudorandom number generators, 2014 (from memory).
struct Dice(u64);

impl Dice {
    fn roll(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn below(&mut self, most: usize) -> usize {
        usize::try_from(self.roll() % u64::try_from(most.max(1)).unwrap()).unwrap()
    }
}

/// Changes a text in one to four places.
fn mutated(text: &[u8], dice: &mut Dice) -> String {
    let mut bytes = text.to_vec();
    for _ in 0..=dice.below(4) {
        let at = dice.below(bytes.len() + 1);
        let end = (at + dice.below(40)).min(bytes.len());
        match dice.below(6) {
            0 if at < bytes.len() => bytes[at] ^= 1 << dice.below(8),
            1 => drop(bytes.drain(at..end)),
            2 => {
                let again = bytes[at..end].to_vec();
                let to = dice.below(bytes.len() + 1);
                bytes.splice(to..to, again);
            }
            3 => bytes.truncate(at),
            4 => drop(bytes.splice(at..end, WORDS[dice.below(WORDS.len())].bytes())),
            _ => drop(bytes.splice(at..at, WORDS[dice.below(WORDS.len())].bytes())),
        }
    }
    String::from_utf8_lossy(&bytes).into_owned()
}

/// Sends a folder of the corpus through a way in; gives how many files there were.
fn smoke(folder: &str, way_in: fn(&str), mutations: usize) -> usize {
    let path = PathBuf::from(format!("{}/../../fuzz/corpus/{folder}", env!("CARGO_MANIFEST_DIR")));
    let mut files: Vec<PathBuf> = std::fs::read_dir(path).unwrap().map(|entry| entry.unwrap().path()).collect();
    // What a fuzz run found beside it has no extension and is not kept.
    files.retain(|file| file.extension().is_some());
    files.sort();
    for (index, file) in files.iter().enumerate() {
        let bytes = std::fs::read(file).unwrap();
        way_in(&String::from_utf8_lossy(&bytes));
        let mut dice = Dice(u64::try_from(index).unwrap());
        for round in 0..mutations {
            let text = mutated(&bytes, &mut dice);
            let caught = std::panic::catch_unwind(|| way_in(&text));
            assert!(caught.is_ok(), "{} mutated, round {round}:\n{text}", file.display());
        }
    }
    files.len()
}

#[test]
fn no_machine_description_panics() {
    assert!(smoke("machine", ways_in::machine, MUTATIONS) >= 3);
}

#[test]
fn no_record_of_a_call_panics() {
    assert!(smoke("call", ways_in::call, MUTATIONS) >= 4);
}

#[test]
fn no_meters_file_panics() {
    assert!(smoke("meters", ways_in::meters, MUTATIONS) >= 3);
}

#[test]
fn nothing_typed_for_a_reading_panics() {
    assert!(smoke("typed", ways_in::typed, MUTATIONS) >= 10);
}

#[test]
fn no_batch_panics() {
    assert!(smoke("batch", ways_in::batch, MUTATIONS) >= 4);
}

#[test]
fn no_event_panics() {
    assert!(smoke("event", ways_in::event, MUTATIONS) >= 3);
}

#[test]
fn no_list_panics() {
    assert!(smoke("list", ways_in::list, MUTATIONS_ON_SCREENS) >= 3);
}

#[test]
fn no_setting_panics() {
    assert!(smoke("setting", ways_in::setting, MUTATIONS_ON_SCREENS) >= 4);
}

#[test]
fn mutations_are_the_same_every_time_and_differ_from_one_another() {
    let text = b"ohms = [\"heater.1\", \"heater.2\"]";
    let draw = |seed| (0..50).scan(Dice(seed), |dice, _| Some(mutated(text, dice))).collect::<Vec<_>>();
    assert_eq!(draw(1), draw(1));
    assert_ne!(draw(1), draw(2));
    let distinct: std::collections::BTreeSet<String> = draw(1).into_iter().collect();
    assert!(distinct.len() > 40, "{}", distinct.len());
}
