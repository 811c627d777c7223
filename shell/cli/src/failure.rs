//! Why a command did not do what was asked, and the exit code that says whose turn it is. Decides nothing else.

use crate::output;
use std::process::ExitCode;

/// Why a command failed.
#[derive(Debug)]
pub(crate) enum Failure {
    /// The user's input: exit 1.
    Input(String),
    /// The set-up of this machine (files, rights, disk): exit 2.
    SetUp(String),
    /// A bug of ours: exit 255.
    Bug(String),
}

impl Failure {
    /// Prints it and gives the exit code.
    pub(crate) fn report(self) -> ExitCode {
        match self {
            Self::Input(text) => {
                output::complain(&text);
                ExitCode::from(1)
            }
            Self::SetUp(text) => {
                output::complain(&text);
                ExitCode::from(2)
            }
            Self::Bug(text) => {
                output::complain(&format!(
                    "this is a bug of callwright: {text}\nplease report it with the command and the files you used"
                ));
                ExitCode::from(255)
            }
        }
    }
}

/// Says that a name is unknown and which known one is nearest.
pub(crate) fn unknown(what: &str, name: &str, known: &[String]) -> Failure {
    let nearest = known
        .iter()
        .map(|candidate| (strsim::jaro_winkler(candidate, name), candidate))
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .filter(|(likeness, _)| *likeness > 0.6)
        .map(|(_, candidate)| format!("; did you mean `{candidate}`"));
    Failure::Input(format!("there is no {what} `{name}`{}", nearest.unwrap_or_default()))
}
