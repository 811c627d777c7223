//! Untrusted text: bounded, and never a panic whatever is changed in it.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

use machine::{MOST_BYTES, read};

/// A small generator of the linear congruential kind, seeded, so that every run changes the same things.
/// SOURCE: Knuth's constants of MMIX, from memory.
struct Dice(u64);

impl Dice {
    fn roll(&mut self, sides: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        usize::try_from(self.0 >> 33).unwrap() % sides.max(1)
    }
}

fn good_texts() -> Vec<String> {
    let mut found = Vec::new();
    for folder in ["tests/good", "../../machines"] {
        let mut paths: Vec<_> = std::fs::read_dir(format!("{}/{folder}", env!("CARGO_MANIFEST_DIR")))
            .unwrap()
            .map(|entry| entry.unwrap().path())
            .filter(|path| path.extension().is_some_and(|ending| ending == "toml"))
            .collect();
        paths.sort();
        found.extend(paths.iter().map(|path| std::fs::read_to_string(path).unwrap()));
    }
    found
}

/// Reads, and prints what is found, as the edge does.
fn read_whole(text: &str) -> usize {
    let result = read(text);
    let printed: usize = result.diagnostics.iter().map(|d| d.render("file.toml", text).len()).sum();
    printed + usize::from(result.machine.is_some())
}

#[test]
fn changed_bytes_never_panic() {
    let mut dice = Dice(1);
    let mut reached = 0;
    for text in good_texts() {
        for _ in 0..150 {
            let mut bytes = text.clone().into_bytes();
            for _ in 0..=dice.roll(4) {
                let at = dice.roll(bytes.len());
                match dice.roll(3) {
                    0 => bytes[at] = b"\"'[]{}=.,#\n-0a\\\xc3"[dice.roll(16)],
                    1 => drop(bytes.remove(at)),
                    _ => bytes.insert(at, b"\"[]{}=.,#\n-9zZ "[dice.roll(15)]),
                }
            }
            reached += read_whole(&String::from_utf8_lossy(&bytes));
        }
    }
    assert!(reached > 0);
}

#[test]
fn changed_lines_never_panic() {
    let mut dice = Dice(2);
    let mut wrong = 0;
    for text in good_texts() {
        let lines: Vec<&str> = text.lines().collect();
        for _ in 0..150 {
            let mut changed = lines.clone();
            for _ in 0..=dice.roll(3) {
                let (at, other) = (dice.roll(changed.len()), dice.roll(lines.len()));
                match dice.roll(4) {
                    0 => drop(changed.remove(at)),
                    1 => changed.insert(at, lines[other]),
                    2 => changed[at] = lines[other],
                    _ => {
                        let last = changed.len() - 1;
                        changed.swap(at, other.min(last));
                    }
                }
            }
            let changed = changed.join("\n");
            wrong += usize::from(read_whole(&changed) > 1);
        }
    }
    assert!(wrong > 100, "most changes are mistakes, found {wrong}");
}

#[test]
fn values_of_every_sort_in_every_place_never_panic() {
    let values = [
        "-1",
        "0",
        "1e308",
        "inf",
        "nan",
        "99999999999999999999",
        "\"\"",
        "\"é.é:é\"",
        "[]",
        "{}",
        "[[]]",
        "true",
        "1979-05-27",
    ];
    for text in good_texts() {
        let lines: Vec<&str> = text.lines().collect();
        for (at, line) in lines.iter().enumerate() {
            let Some((key, _)) = line.split_once(" = ").filter(|(key, _)| !key.starts_with(['#', ' '])) else {
                continue;
            };
            let value = values[at % values.len()];
            let mut changed: Vec<String> = lines.iter().map(|line| (*line).to_owned()).collect();
            changed[at] = format!("{key} = {value}");
            assert!(read_whole(&changed.join("\n")) > 0, "`{key} = {value}` is read or complained about");
        }
    }
}

#[test]
fn a_text_past_the_limit_is_refused_unread() {
    let text = "#".repeat(MOST_BYTES + 1);
    let found = read(&text).diagnostics;
    assert_eq!(found.len(), 1);
    assert_eq!(found[0].code, "m002-too-big");
}

#[test]
fn deep_and_wide_texts_are_refused_in_words() {
    let deep = [
        "a = ".to_owned() + &"[".repeat(100_000),
        "a = ".to_owned() + &"{a=".repeat(100_000),
        "a.".repeat(100_000) + "a = 1",
        "[".to_owned() + &"a.".repeat(100_000) + "a]",
    ];
    for text in deep {
        let result = read(&text);
        assert!(result.machine.is_none());
        assert!(!result.diagnostics.is_empty());
    }
}

#[test]
fn more_parts_than_the_limit_are_refused() {
    let base = std::fs::read_to_string(format!("{}/tests/good/fan-heater.toml", env!("CARGO_MANIFEST_DIR"))).unwrap();
    let more: String =
        (0..400).map(|n| format!("\n[[part]]\nid = \"belt-{n}\"\nkind = \"belt\"\nplace = \"inside\"\n")).collect();
    let found = read(&(base + &more)).diagnostics;
    assert!(found.iter().any(|d| d.code == "m002-too-big" && d.message.contains("400 parts")));
}

#[test]
fn a_flood_of_mistakes_ends_with_a_word_about_the_rest() {
    let text: String = (0..5000).map(|n| format!("key{n} = 1\n")).collect();
    let found = read(&text).diagnostics;
    assert_eq!(found.len(), 201);
    assert!(found.iter().any(|d| d.code == "m002-too-big"));
}

#[test]
fn more_terminals_than_ids_are_refused() {
    let mut text =
        std::fs::read_to_string(format!("{}/tests/good/fan-heater.toml", env!("CARGO_MANIFEST_DIR"))).unwrap();
    let pins: String = (0..400).map(|pin| format!("\"{pin}\",")).collect();
    for n in 0..200 {
        text += &format!("\n[[part]]\nid = \"plug-{n}\"\nkind = \"connector\"\nplace = \"inside\"\npins = [{pins}]\n");
    }
    let result = read(&text);
    assert!(result.machine.is_none());
    assert!(result.diagnostics.iter().any(|d| d.code == "m002-too-big" && d.message.contains("20000 terminals")));
}

/// A configuration has one bit for each thing that settles by itself.
#[test]
fn more_than_sixty_four_things_that_settle_are_refused() {
    let base = std::fs::read_to_string(format!("{}/tests/good/fan-heater.toml", env!("CARGO_MANIFEST_DIR"))).unwrap();
    let relays = |count: usize| -> String {
        let relay = |at: usize| {
            format!(
                "[[part]]\nid = \"relay{at}\"\nkind = \"relay\"\nplace = \"PLACE\"\ncoil = {{ from = \"A\", to = \"B\", ohms = 900, \
                 pull_in_volts = 80, drop_out_volts = 40 }}\ncontacts = []\n[[lead]]\nid = \"LA{at}\"\nfrom = \"block.L1\"\nto = \
                 \"relay{at}.A\"\n[[lead]]\nid = \"LB{at}\"\nfrom = \"relay{at}.B\"\nto = \"block.N\"\n"
            )
        };
        (0..count).map(relay).collect()
    };
    let place = machine::read(&base).machine.unwrap().access.places[0].id.clone();
    let with = |count: usize| read(&format!("{base}\n{}", relays(count).replace("PLACE", &place)));
    let few = with(40);
    assert!(few.machine.is_some(), "{:?}", few.diagnostics);
    let many = with(64);
    assert!(many.machine.is_none());
    assert!(many.diagnostics.iter().any(|d| d.code == "m002-too-big"), "{:?}", many.diagnostics);
}
