//! What is inside a sealed record: a word that says what it is, a line feed, the bytes.
//!
//! Refuses to know the cipher.

use core::fmt;
use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::SealError;

/// The content of a sealed record.
#[derive(Clone, PartialEq, Eq)]
pub struct Content {
    /// What it is: [`Content::PERSON`], [`Content::TEXT`], [`Content::SIGNATURE`], or a media type such as `image/jpeg`.
    pub what: String,
    /// The bytes.
    pub bytes: Vec<u8>,
}

impl fmt::Debug for Content {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Content({}, {} bytes)", self.what, self.bytes.len())
    }
}

impl Content {
    /// The bytes are a [`Person`] in JSON.
    pub const PERSON: &'static str = "person";
    /// The bytes are text.
    pub const TEXT: &'static str = "text";

    /// The bytes are a picture as a camera writes it.
    pub const JPEG: &'static str = "image/jpeg";
    /// Most bytes of a picture: enough to read a wire's color by, little enough for a year of calls on a phone.
    pub const MOST_PICTURE: usize = 600_000;

    /// Takes a picture.
    ///
    /// # Errors
    /// [`SealError::OtherContent`] if the bytes do not begin as a JPEG does or are more than [`Self::MOST_PICTURE`].
    pub fn picture(bytes: Vec<u8>) -> Result<Self, SealError> {
        // SOURCE: ISO/IEC 10918-1: a stream begins with the marker SOI, FF D8, and every marker with FF.
        if !bytes.starts_with(&[0xff, 0xd8, 0xff]) || bytes.len() > Self::MOST_PICTURE {
            return Err(SealError::OtherContent);
        }
        Ok(Self { what: Self::JPEG.to_owned(), bytes })
    }

    /// Takes words a person wrote.
    #[must_use]
    pub fn text(words: &str) -> Self {
        Self { what: Self::TEXT.to_owned(), bytes: words.as_bytes().to_vec() }
    }

    /// Takes a person's details.
    ///
    /// # Errors
    /// [`SealError::OtherContent`] if they cannot be written as JSON.
    pub fn person(person: &Person) -> Result<Self, SealError> {
        let bytes = serde_json::to_vec(person).map_err(|_| SealError::OtherContent)?;
        Ok(Self { what: Self::PERSON.to_owned(), bytes })
    }

    /// Returns the plain bytes to seal. A line feed in `what` is dropped.
    #[must_use]
    pub fn to_plain(&self) -> Vec<u8> {
        let word = self.what.replace('\n', "");
        [word.as_bytes(), b"\n", &self.bytes].concat()
    }

    /// Reads plain bytes that were opened.
    ///
    /// # Errors
    /// [`SealError::OtherContent`] if there is no leading word.
    pub fn from_plain(plain: &[u8]) -> Result<Self, SealError> {
        let end = plain.iter().position(|byte| *byte == b'\n').ok_or(SealError::OtherContent)?;
        let (word, rest) = plain.split_at(end);
        let what = String::from_utf8(word.to_vec()).map_err(|_| SealError::OtherContent)?;
        Ok(Self { what, bytes: rest.iter().skip(1).copied().collect() })
    }

    /// Reads the details of a person.
    ///
    /// # Errors
    /// [`SealError::OtherContent`] if it is something else.
    pub fn to_person(&self) -> Result<Person, SealError> {
        if self.what != Self::PERSON {
            return Err(SealError::OtherContent);
        }
        serde_json::from_slice(&self.bytes).map_err(|_| SealError::OtherContent)
    }
}

/// A person's details. Fields this version does not know are kept.
#[derive(Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Person {
    /// Name.
    pub name: String,
    /// Address, line by line.
    #[serde(default)]
    pub address: Vec<String>,
    /// Telephone numbers.
    #[serde(default)]
    pub telephone: Vec<String>,
    /// Address for letters by wire.
    pub email: Option<String>,
    /// How to get in: stairs, gate, dog.
    pub access: Option<String>,
    /// Where it is: latitude and longitude in degrees, as they were typed or taken from the device.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at: Option<String>,
    /// Whatever a newer version added.
    #[serde(flatten)]
    pub more: BTreeMap<String, serde_json::Value>,
}

impl fmt::Debug for Person {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Person(hidden)")
    }
}
