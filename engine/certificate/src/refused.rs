//! Why a certificate is refused, in words. Knows no numbers but those it is given.

use std::error::Error;
use std::fmt;

/// What is wrong with a certificate.
#[derive(Clone, Debug, PartialEq)]
pub enum Refused {
    /// It cannot be read, or speaks of another machine or version.
    Unreadable(String),
    /// It names what the machine does not have, or asks what nobody can answer.
    Unknown(String),
    /// It takes as given what the one who verifies does not agree with.
    NotAgreed {
        /// Where: `assumed.slip`.
        place: String,
        /// What the certificate says.
        says: String,
        /// What is agreed.
        agreed: String,
    },
    /// A suspect stands where it must not: twice, on the wrong side, or in a list out of order.
    Misplaced(String),
    /// A bound does not hold.
    Bound {
        /// The suspect.
        suspect: String,
        /// Natural logarithm as stated.
        says: f64,
        /// Natural logarithm as found.
        found: f64,
    },
    /// Rivals are left out.
    LeftOut {
        /// How many the certificate leaves to their weight.
        says: usize,
        /// How many are.
        found: usize,
        /// The heaviest of them.
        heaviest: String,
    },
    /// The bounds do not bear the claim.
    Claim {
        /// Which of its figures.
        what: &'static str,
        /// As claimed.
        says: f64,
        /// As the bounds give it.
        found: f64,
    },
}

impl fmt::Display for Refused {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Unreadable(why) => write!(f, "the certificate cannot be read: {why}"),
            Self::Unknown(what) => write!(f, "the certificate speaks of what is not there: {what}"),
            Self::NotAgreed { place, says, agreed } => {
                write!(f, "the certificate takes `{place}` as {says}; what is agreed is {agreed}")
            }
            Self::Misplaced(what) => write!(f, "the certificate is out of order: {what}"),
            Self::Bound { suspect, says, found } => {
                write!(
                    f,
                    "the bound of `{suspect}` does not hold: it is stated as e^{says:.4} and found as e^{found:.4}"
                )
            }
            Self::LeftOut { says, found, heaviest } => write!(
                f,
                "{found} rivals are excluded by nothing but their weight and the certificate says {says}; the heaviest \
                 is `{heaviest}`"
            ),
            Self::Claim { what, says, found } => {
                write!(f, "{what} is claimed as {says:.6}; the bounds bear {found:.6}")
            }
        }
    }
}

impl Error for Refused {}
