//! Completions and manual pages: written for every shell and every command, from the same source as --help.
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

use std::path::Path;
use std::process::{Command, Output};

const COMMANDS: [&str; 12] = [
    "machines", "check", "measure", "symptoms", "suspects", "next", "certify", "verify", "teardown", "rehearse",
    "practice", "call",
];

fn callwright(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_callwright")).args(args).env("NO_COLOR", "1").output().unwrap()
}

fn text(args: &[&str]) -> String {
    let output = callwright(args);
    assert!(output.status.success(), "{args:?}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

#[test]
fn every_shell_s_completions_name_every_command_and_the_meters_option() {
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let script = text(&["completions", shell]);
        for command in COMMANDS {
            assert!(script.contains(command), "{shell}: {command}");
        }
        assert!(script.contains("meters"), "{shell}");
    }
}

#[test]
fn bash_takes_the_script_and_completes_a_command_with_it() {
    if Command::new("bash").arg("--version").output().is_err() {
        return;
    }
    let script = Path::new(env!("CARGO_TARGET_TMPDIR")).join("callwright.bash");
    std::fs::write(&script, text(&["completions", "bash"])).unwrap();
    let typed = format!(
        "source '{}'; COMP_WORDS=(callwright mea); COMP_CWORD=1; _callwright callwright mea callwright; \
         echo \"${{COMPREPLY[@]}}\"",
        script.display()
    );
    let output = Command::new("bash").args(["--norc", "-c", &typed]).output().unwrap();
    assert_eq!(String::from_utf8(output.stdout).unwrap().trim(), "measure");
}

#[test]
fn a_shell_that_is_not_known_is_refused_with_those_that_are() {
    let output = callwright(&["completions", "dosh"]);
    assert_eq!(output.status.code(), Some(1));
    assert!(String::from_utf8(output.stderr).unwrap().contains("bash"));
}

#[test]
fn the_manual_page_has_the_name_the_options_and_the_exit_codes() {
    let page = text(&["man"]);
    for part in [".TH callwright 1", ".SH NAME", "meters", "Exit codes"] {
        assert!(page.contains(part), "{part} is missing in {page}");
    }
    let object: serde_json::Value = serde_json::from_str(&text(&["man", "--json"])).unwrap();
    assert_eq!(object["page"].as_str().unwrap(), page);
}

#[test]
fn a_page_for_every_command_is_written_into_a_folder_that_is_made() {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("man/of/this/test");
    let said = text(&["man", folder.to_str().unwrap()]);
    assert!(folder.join("callwright.1").is_file());
    for command in COMMANDS {
        let page = std::fs::read_to_string(folder.join(format!("callwright-{command}.1"))).unwrap();
        assert!(page.contains(".SH SYNOPSIS"), "{command}");
        assert!(said.contains(&format!("callwright-{command}.1")), "{said}");
    }
}

#[test]
fn a_folder_that_cannot_be_made_is_the_set_up_s_fault() {
    let file = Path::new(env!("CARGO_TARGET_TMPDIR")).join("a-file");
    std::fs::write(&file, "").unwrap();
    let output = callwright(&["man", file.join("below").to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(2));
}
