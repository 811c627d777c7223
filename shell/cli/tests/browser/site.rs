//! A folder served by the program itself until it is dropped: for the browser's tests, those by commands, and the benchmark.

use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

/// A served folder.
pub(crate) struct Site {
    pub(crate) server: Child,
    /// Its address, with a slash at the end.
    pub(crate) url: String,
    /// The first owner's code, where it has a book.
    pub(crate) code: String,
}

/// Gives the folder that `make app` fills, or the one that `CALLWRIGHT_APP` names.
pub(crate) fn folder() -> PathBuf {
    let usual = || Path::new(env!("CARGO_MANIFEST_DIR")).join("../../target/app");
    let folder = std::env::var_os("CALLWRIGHT_APP").map_or_else(usual, PathBuf::from);
    assert!(folder.join("index.html").is_file(), "no app in `{}`; build it: make app", folder.display());
    folder
}

impl Site {
    /// Serves a folder at this place; port 0 takes a free one.
    pub(crate) fn serve(folder: &Path, at: &str) -> Self {
        Self::serve_book(folder, at, None)
    }

    /// Serves a folder and a book.
    pub(crate) fn serve_book(folder: &Path, at: &str, book: Option<&Path>) -> Self {
        let mut server = Command::new(env!("CARGO_BIN_EXE_callwright"))
            .arg("serve")
            .arg(folder)
            .args(["--at", at, "--json"])
            .args(book.map(|_| "--book"))
            .args(book)
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let lines = BufReader::new(server.stdout.take().unwrap()).lines();
        let mut site = Self { server, url: String::new(), code: String::new() };
        let mut text = String::new();
        for line in lines {
            text.push_str(&line.unwrap());
            if let Ok(told) = serde_json::from_str::<serde_json::Value>(&text) {
                told["address"].as_str().unwrap().clone_into(&mut site.url);
                told["owner_code"].as_str().unwrap_or_default().clone_into(&mut site.code);
                return site;
            }
        }
        panic!("the server said: {text}");
    }

    /// Stops it: from here on nobody answers.
    pub(crate) fn stop(&mut self) {
        let _ = self.server.kill();
        let _ = self.server.wait();
    }
}

impl Drop for Site {
    fn drop(&mut self) {
        self.stop();
    }
}
