//! The technician's own meters: from the file that is named, else from his configuration folder, else an ordinary meter.

use crate::failure::Failure;
use meters::Meter;
use std::path::{Path, PathBuf};

/// What is in the van to measure with.
#[derive(Clone, Debug)]
pub(crate) struct Kit {
    /// The meters together.
    pub(crate) meter: Meter,
    /// The file it was read from; `None` for the ordinary meter.
    pub(crate) file: Option<PathBuf>,
}

/// Reads the meters; what is wrong with the file is printed in full.
pub(crate) fn load(named: Option<&Path>) -> Result<Kit, Failure> {
    let Some(file) = named.map(Path::to_owned).or_else(configured) else {
        return Ok(Kit { meter: Meter::ordinary(), file: None });
    };
    let shown = file.display().to_string();
    let text = std::fs::read_to_string(&file).map_err(|error| match error.kind() {
        std::io::ErrorKind::NotFound => Failure::Input(format!("there is no file `{shown}`")),
        std::io::ErrorKind::InvalidData => Failure::Input(format!("`{shown}` is not UTF-8 text; save it as UTF-8")),
        _ => Failure::SetUp(format!("cannot read `{shown}`: {error}")),
    })?;
    let read = meters::read(&text);
    match read.meters {
        Some(meters) => Ok(Kit { meter: meters.together(), file: Some(file) }),
        None => {
            let all: Vec<String> = read.diagnostics.iter().map(|d| d.render(&shown, &text)).collect();
            Err(Failure::Input(format!("`{shown}` cannot be used:\n{}", all.join("\n"))))
        }
    }
}

/// Gives the file in the configuration folder, if there is one.
fn configured() -> Option<PathBuf> {
    let named = std::env::var_os("XDG_CONFIG_HOME").map(PathBuf::from).filter(|path| path.is_absolute());
    let folder = named.or_else(|| std::env::home_dir().map(|home| home.join(".config")))?;
    Some(folder.join("callwright/meters.toml")).filter(|file| file.is_file())
}
