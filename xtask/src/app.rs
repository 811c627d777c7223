//! Makes the static folder of the app: the module bound to the browser, the pages beside it, and the service worker with
//! the hash of each. The version of the binder is the lock file's, the same as that of the crate the module was built with.

use base64ct::{Base64, Encoding};
use sha2::{Digest, Sha256};
use std::fs;
use std::io;
use std::path::Path;
use wasm_bindgen_cli_support::Bindgen;

/// Where what is served as it stands lies.
const STATIC: &str = "shell/app/static";
/// Name of the service worker: the one file that is not in its own list.
const SERVICE_WORKER: &str = "sw.js";
/// Makes the folder `out` from the module `wasm`.
///
/// # Errors
/// A file cannot be read or written, or the module was built with another version of the binder.
pub fn make(root: &Path, wasm: &Path, out: &Path) -> io::Result<usize> {
    if out.exists() {
        fs::remove_dir_all(out)?;
    }
    fs::create_dir_all(out)?;
    let mut bindgen = Bindgen::new();
    // The library leaves out where the module lies beside its script unless it is told not to.
    bindgen
        .input_path(wasm)
        .out_name("app")
        .typescript(false)
        .remove_name_section(true)
        .omit_default_module_path(false);
    let made = bindgen.web(true).and_then(|bindgen| bindgen.generate(out));
    made.map_err(|error| io::Error::other(format!("{error:#}")))?;
    for entry in fs::read_dir(root.join(STATIC))? {
        let entry = entry?;
        if entry.file_name() != SERVICE_WORKER {
            fs::copy(entry.path(), out.join(entry.file_name()))?;
        }
    }
    crate::guide::make(root, out)?;
    let worker = fs::read_to_string(root.join(STATIC).join(SERVICE_WORKER))?;
    seal(out, &worker)
}

/// Writes the service worker for what lies in `out`; gives how many files it keeps.
///
/// # Errors
/// A file cannot be read or written.
pub fn seal(out: &Path, worker: &str) -> io::Result<usize> {
    let mut paths = Vec::new();
    list(out, "", &mut paths)?;
    paths.retain(|path| path != SERVICE_WORKER);
    paths.sort();
    let mut whole = Sha256::new();
    let mut rows = Vec::new();
    for path in &paths {
        let hash = Sha256::digest(fs::read(out.join(path))?);
        whole.update(path);
        whole.update(hash);
        rows.push(format!("  [\"{path}\", \"sha256-{}\"],\n", Base64::encode_string(&hash)));
    }
    whole.update(worker);
    let version: String = whole.finalize().iter().take(8).map(|byte| format!("{byte:02x}")).collect();
    let text = format!("const VERSION = \"{version}\";\nconst FILES = [\n{}];\n\n{worker}", rows.concat());
    fs::write(out.join(SERVICE_WORKER), text)?;
    Ok(paths.len())
}

fn list(folder: &Path, prefix: &str, paths: &mut Vec<String>) -> io::Result<()> {
    for entry in fs::read_dir(folder)? {
        let entry = entry?;
        let path = format!("{prefix}{}", entry.file_name().to_string_lossy());
        if entry.file_type()?.is_dir() {
            list(&entry.path(), &format!("{path}/"), paths)?;
        } else {
            paths.push(path);
        }
    }
    Ok(())
}
