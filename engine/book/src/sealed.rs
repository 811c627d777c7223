//! Sealed records: personal data and pictures, encrypted under a key per customer.
//!
//! XChaCha20-Poly1305 with a 24-byte nonce that is handed in and never used twice under one key; random ones are safe.
//! The names of key and record are authenticated with the text, so that no record can pass for another.
//! SOURCE: draft-irtf-cfrg-xchacha-03. Refuses to know where keys are kept and where randomness comes from.

mod content;
mod signature;

use core::fmt;

use chacha20poly1305::aead::{Aead, KeyInit, Payload};
use chacha20poly1305::{XChaCha20Poly1305, XNonce};
use zeroize::Zeroize;

pub use content::{Content, Person};
pub use signature::{BadStrokes, Signed, Strokes};

use crate::event::Checksum;
use crate::ids::{KeyId, RecordId};

/// First byte of a sealed record of this form.
const SEAL_VERSION: u8 = 1;
const NONCE_LENGTH: usize = 24;
const CONTEXT: &[u8] = b"callwright sealed record";

/// The secret key of one customer. Wiped from memory when dropped; never printed.
#[derive(Clone, PartialEq, Eq)]
pub struct Key([u8; 32]);

impl Drop for Key {
    fn drop(&mut self) {
        self.0.zeroize();
    }
}

impl Key {
    /// Takes 32 random bytes as a key.
    #[must_use]
    pub const fn from_random(bytes: [u8; 32]) -> Self {
        Self(bytes)
    }

    /// Returns the secret bytes, for a store to keep.
    #[must_use]
    pub const fn bytes(&self) -> &[u8; 32] {
        &self.0
    }
}

impl fmt::Debug for Key {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Key(secret)")
    }
}

/// A record that only its customer's key opens.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SealedRecord {
    /// Its name, by which events speak of it.
    pub id: RecordId,
    /// The name of the key that opens it.
    pub key: KeyId,
    /// Version byte, nonce, encrypted text with its tag.
    pub bytes: Vec<u8>,
}

/// Says why a record cannot be sealed or opened.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum SealError {
    /// It is too long for one record.
    TooLong,
    /// It was sealed by a newer program.
    Newer(u8),
    /// The key is not the one it was sealed with, or the bytes or names were changed.
    DoesNotOpen,
    /// It opened, but what is inside is not what was asked for.
    OtherContent,
}

impl fmt::Display for SealError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TooLong => f.write_str("the record is too long to seal; make the picture smaller"),
            Self::Newer(version) => write!(f, "the record is sealed in version {version}; use the newer program"),
            Self::DoesNotOpen => f.write_str("the record does not open with this key"),
            Self::OtherContent => f.write_str("the record holds something else than was looked for"),
        }
    }
}

impl core::error::Error for SealError {}

/// Binds version and names into the seal.
fn bound_names(key: KeyId, record: RecordId) -> Vec<u8> {
    [CONTEXT, &[SEAL_VERSION], key.bytes(), record.bytes()].concat()
}

impl SealedRecord {
    /// Computes the checksum a store keeps beside the record: over the key's name, the record's name and the bytes.
    #[must_use]
    pub fn sum(&self) -> Checksum {
        Checksum::of(&[self.key.bytes().as_slice(), self.id.bytes(), &self.bytes].concat())
    }

    /// Seals some bytes. The nonce must be fresh for this key.
    ///
    /// # Errors
    /// [`SealError::TooLong`] above the cipher's limit of 256 GiB.
    pub fn seal(
        id: RecordId,
        key_id: KeyId,
        key: &Key,
        nonce: [u8; NONCE_LENGTH],
        plain: &[u8],
    ) -> Result<Self, SealError> {
        let names = bound_names(key_id, id);
        let payload = Payload { msg: plain, aad: &names };
        let cipher = XChaCha20Poly1305::new(&key.0.into());
        let hidden = cipher.encrypt(&XNonce::from(nonce), payload).map_err(|_| SealError::TooLong)?;
        let bytes = [&[SEAL_VERSION], nonce.as_slice(), &hidden].concat();
        Ok(Self { id, key: key_id, bytes })
    }

    /// Opens the record with its customer's key.
    ///
    /// # Errors
    /// [`SealError::DoesNotOpen`] if anything at all was changed or the key is another.
    pub fn open(&self, key: &Key) -> Result<Vec<u8>, SealError> {
        let (version, rest) = self.bytes.split_first().ok_or(SealError::DoesNotOpen)?;
        match *version {
            SEAL_VERSION => {}
            newer if newer > SEAL_VERSION => return Err(SealError::Newer(newer)),
            _ => return Err(SealError::DoesNotOpen),
        }
        let (nonce, hidden) = rest.split_first_chunk::<NONCE_LENGTH>().ok_or(SealError::DoesNotOpen)?;
        let names = bound_names(self.key, self.id);
        let payload = Payload { msg: hidden, aad: &names };
        let cipher = XChaCha20Poly1305::new(&key.0.into());
        cipher.decrypt(&XNonce::from(*nonce), payload).map_err(|_| SealError::DoesNotOpen)
    }
}
