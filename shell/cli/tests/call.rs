//! `callwright call` as it is used: by itself, on a pipe, killed in the middle and taken up again.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may fail loudly")]

use serde_json::Value;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

/// A folder of this test's own, gone when the test is.
struct Folder(PathBuf);

impl Folder {
    fn new(name: &str) -> Self {
        let path = std::env::temp_dir().join(format!("callwright-test-{}-{name}", std::process::id()));
        std::fs::create_dir_all(&path).unwrap();
        Self(path)
    }

    fn book(&self) -> String {
        self.0.join("book.db").display().to_string()
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        std::fs::remove_dir_all(&self.0).unwrap();
    }
}

fn program(args: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_callwright"));
    command.args(args).env("NO_COLOR", "1");
    command
}

/// The program with a pipe at both ends.
struct Talk {
    child: Child,
    heard: String,
}

impl Talk {
    fn begin(args: &[&str]) -> Self {
        let child =
            program(args).stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::inherit()).spawn().unwrap();
        let mut talk = Self { child, heard: String::new() };
        talk.listen();
        talk
    }

    /// Hears everything up to the next prompt, or to the end.
    fn listen(&mut self) -> String {
        let mut bytes = Vec::new();
        let mut byte = [0];
        let out = self.child.stdout.as_mut().unwrap();
        while !bytes.ends_with(b"> ") && out.read(&mut byte).unwrap() == 1 {
            bytes.push(byte[0]);
        }
        let text = String::from_utf8(bytes).unwrap();
        self.heard.push_str(&text);
        text
    }

    fn say(&mut self, line: &str) -> String {
        self.child.stdin.as_mut().unwrap().write_all(format!("{line}\n").as_bytes()).unwrap();
        self.listen()
    }

    /// Ends it as a dead battery would.
    fn kill(mut self) -> String {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
        self.heard
    }

    fn close(mut self) -> (String, Option<i32>) {
        drop(self.child.stdin.take());
        self.listen();
        (self.heard, self.child.wait().unwrap().code())
    }
}

/// The last move: what stands between the prompt before it, or the blank line before it, and its own prompt.
fn last_ask(heard: &str) -> String {
    let own = heard.strip_suffix("> ").unwrap().rsplit("> ").next().unwrap();
    own.rsplit("\n\n").next().unwrap().trim_start().to_owned()
}

fn demo_json(folder: &Folder, seed: &str) -> Value {
    let output = program(&["call", "--demo", "--seed", seed, "--json", "--book", &folder.book()])
        .stdin(Stdio::null())
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).unwrap()
}

#[test]
fn the_demo_without_a_terminal_plays_by_itself_and_writes_its_record() {
    let folder = Folder::new("demo");
    let said = demo_json(&folder, "3");
    assert_eq!(said["end"], "proved");
    assert_eq!(said["standing"], "closed");
    assert!(said["facts_count"].as_u64().unwrap() > 60);
    let html = std::fs::read_to_string(said["record"].as_str().unwrap()).unwrap();
    assert!(html.starts_with("<!doctype html>") && html.contains("Ada Example") && html.contains("invented"));
    assert!(!html.contains("http"), "a page of its own needs nothing from elsewhere");
    let text = std::fs::read_to_string(said["record_text"].as_str().unwrap()).unwrap();
    assert!(text.contains("repaired and proved") && text.contains("total"));
    // Another demo begins afresh.
    assert_eq!(demo_json(&folder, "3")["facts_count"], said["facts_count"]);
}

#[test]
fn the_demo_prints_everything_a_newcomer_would_see() {
    let folder = Folder::new("print");
    let output =
        program(&["call", "--demo", "--seed", "4", "--book", &folder.book()]).stdin(Stdio::null()).output().unwrap();
    assert!(output.status.success());
    let text = String::from_utf8(output.stdout).unwrap();
    for stage in ["intake", "arrive", "check the supply", "make safe", "find", "agree", "repair", "prove", "hand over"]
    {
        assert!(text.contains(&format!("[ {stage} ]")), "{stage}");
    }
    assert!(text.contains("all of it invented") && text.contains("hidden fault was") && !text.contains('\u{1b}'));
}

#[test]
fn killed_in_the_middle_a_call_goes_on_at_the_same_question() {
    let folder = Folder::new("killed");
    let book = folder.book();
    let args = ["call", "dryer-timer-240", "--book", &book];
    let mut talk = Talk::begin(&args);
    for line in [
        "Zacharias Quill, 9 Elm Road",
        "12 no warranty",
        "no",
        "",
        "owner",
        "",
        "every-time",
        "heat",
        "yes",
        "runs",
        "none",
    ] {
        talk.say(line);
    }
    let before = talk.kill();
    let mut talk = Talk::begin(&args);
    assert!(talk.heard.contains("Going on with the call that was broken off"), "{}", talk.heard);
    assert_eq!(last_ask(&talk.heard), last_ask(&before));
    for line in ["strong", "yes", "holds", "none", "", "", "drum=yes motor=runs heats=none", "", ""] {
        talk.say(line);
    }
    assert!(last_ask(&talk.heard).contains("AC volts"), "{}", talk.heard);
    let before = talk.kill();
    // Without the machine's name too: the book knows it.
    let mut talk = Talk::begin(&["call", "--book", &book]);
    assert_eq!(last_ask(&talk.heard), last_ask(&before));
    let heard = talk.say("suspects");
    assert!(heard.contains("heating element: burnt through"), "{heard}");
    assert!(talk.say("why").contains("speaks for it"));
    let heard = talk.say("quit");
    assert!(heard.contains("Nothing is lost"), "{heard}");
    assert_eq!(talk.close().1, Some(0));
    assert_no_name_in(&folder.0, "Quill");
}

/// Neither the book nor its log holds the name in clear.
fn assert_no_name_in(folder: &Path, name: &str) {
    let mut looked = 0;
    for entry in std::fs::read_dir(folder).unwrap() {
        let bytes = std::fs::read(entry.unwrap().path()).unwrap();
        looked += 1;
        assert!(!bytes.windows(name.len()).any(|window| window == name.as_bytes()));
    }
    assert!(looked > 0);
}

#[test]
fn undo_takes_the_last_answer_back_and_a_refusal_says_the_mend() {
    let folder = Folder::new("undo");
    let mut talk = Talk::begin(&["call", "dryer-timer-240", "--book", &folder.book()]);
    talk.say("A. Person");
    talk.say("");
    let gas = last_ask(&talk.heard);
    assert!(gas.contains("gas"));
    talk.say("no");
    assert!(last_ask(&talk.heard).contains("water"));
    let heard = talk.say("perhaps");
    assert!(heard.contains("`perhaps` is neither yes nor no") && heard.contains("type `yes` or `no`"), "{heard}");
    let heard = talk.say("undo");
    assert!(heard.contains("Undone"));
    assert_eq!(last_ask(&talk.heard), gas);
    assert!(talk.say("undo").contains("nothing to undo"));
    let heard = talk.say("yes");
    assert!(heard.contains("DANGER") && heard.contains("everyone out"), "{heard}");
    let (heard, code) = {
        talk.say("");
        talk.close()
    };
    assert!(heard.contains("The call has ended"), "{heard}");
    assert_eq!(code, Some(0));
}

#[test]
fn the_exit_code_says_whose_turn_it_is() {
    let folder = Folder::new("codes");
    let unknown =
        program(&["call", "no-such-machine", "--book", &folder.book()]).stdin(Stdio::null()).output().unwrap();
    assert_eq!(unknown.status.code(), Some(1));
    assert!(String::from_utf8(unknown.stderr).unwrap().contains("no-such-machine"));
    let not_a_book = folder.0.join("letter.db");
    std::fs::write(&not_a_book, "a letter, and no book at all, but long enough to be looked at as if it were one")
        .unwrap();
    let path = not_a_book.display().to_string();
    let refused = program(&["call", "dryer-timer-240", "--book", &path]).stdin(Stdio::null()).output().unwrap();
    assert_eq!(refused.status.code(), Some(1));
    assert!(std::fs::read_to_string(&not_a_book).unwrap().starts_with("a letter"));
    let nowhere =
        program(&["call", "dryer-timer-240", "--book", "/proc/nowhere/book.db"]).stdin(Stdio::null()).output().unwrap();
    assert_eq!(nowhere.status.code(), Some(2));
}

#[test]
fn a_recorded_call_is_played_through_to_its_next_step() {
    let file = format!("{}/tests/calls", env!("CARGO_MANIFEST_DIR"));
    let mut any = false;
    for entry in std::fs::read_dir(file).unwrap() {
        let path = entry.unwrap().path().display().to_string();
        let output = program(&["call", "--from", &path, "--json"]).output().unwrap();
        if !output.status.success() {
            continue;
        }
        any = true;
        let said: Value = serde_json::from_slice(&output.stdout).unwrap();
        assert!(
            said["evidence_count"].is_u64()
                && said["suspects"]["suspects"].is_array()
                && said["next"]["say"].is_string()
        );
    }
    assert!(any);
}
