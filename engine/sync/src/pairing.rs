//! The code by which a new device is let in: shown once on a trusted device, typed on the new one.
//!
//! A code is a hundred random bits. Two things are derived from it, each by its own label: a locator that the server may
//! know, and a key that it must not. Under that key the shop's own key travels by way of the server. Nobody can find the code
//! from the locator by trying: there are 2^100 of them, and the server forgets a locator after minutes or its first use.
//!
//! SOURCE: RFC 5869 (HKDF); Crockford's alphabet for base 32, from memory: no I, L, O, U, so that no letter is read as a digit.

use book::{Key, KeyId, RecordId, SealedRecord};
use core::fmt;
use hkdf::Hkdf;
use sha2::Sha256;
use zeroize::Zeroize;

const LETTERS: &[u8; 32] = b"0123456789ABCDEFGHJKMNPQRSTVWXYZ";
const LENGTH: usize = 20;
const GROUP: usize = 5;

/// A code. Wiped from memory when dropped.
#[derive(Clone, PartialEq, Eq)]
pub struct PairingCode([u8; LENGTH]);

impl Drop for PairingCode {
    fn drop(&mut self) {
        self.0.zeroize();
    }
}

impl fmt::Debug for PairingCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("PairingCode(secret)")
    }
}

impl fmt::Display for PairingCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (at, value) in self.0.iter().enumerate() {
            if at > 0 && at % GROUP == 0 {
                f.write_str("-")?;
            }
            let letter = LETTERS.get(usize::from(*value)).copied().unwrap_or(b'0');
            write!(f, "{}", char::from(letter))?;
        }
        Ok(())
    }
}

/// What is wrong with a code that was typed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum BadCode {
    /// A letter that no code has, and which one it is, from 1.
    Letter(char, usize),
    /// Another number of letters.
    Length(usize),
}

impl fmt::Display for BadCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Letter(letter, at) => write!(f, "letter {at} is `{letter}`, which no code has; look once more"),
            Self::Length(found) => write!(f, "a code has {LENGTH} letters and this has {found}; look once more"),
        }
    }
}

impl core::error::Error for BadCode {}

impl PairingCode {
    /// Takes random bytes; five bits of each count.
    #[must_use]
    pub fn from_random(bytes: [u8; LENGTH]) -> Self {
        Self(bytes.map(|byte| byte & 31))
    }

    /// Reads a code as typed: small letters, blanks and hyphens do not matter; `O` is read as 0, `I` and `L` as 1.
    ///
    /// # Errors
    /// [`BadCode`] names the letter.
    pub fn read(typed: &str) -> Result<Self, BadCode> {
        let mut read = [0; LENGTH];
        let mut count = 0;
        for letter in typed.chars().filter(|letter| !letter.is_whitespace() && *letter != '-') {
            let plain = match letter.to_ascii_uppercase() {
                'O' => '0',
                'I' | 'L' => '1',
                other => other,
            };
            let value = LETTERS.iter().position(|known| char::from(*known) == plain);
            let value = value.and_then(|value| u8::try_from(value).ok()).ok_or(BadCode::Letter(letter, count + 1))?;
            if let Some(place) = read.get_mut(count) {
                *place = value;
            }
            count += 1;
        }
        if count == LENGTH { Ok(Self(read)) } else { Err(BadCode::Length(count)) }
    }

    fn derived<const N: usize>(&self, label: &str) -> [u8; N] {
        let mut out = [0; N];
        // INVARIANT: HKDF fails only above 255 hashes of output, and this is at most one.
        let filled = Hkdf::<Sha256>::new(Some(b"callwright pairing 1"), &self.0).expand(label.as_bytes(), &mut out);
        debug_assert!(filled.is_ok(), "a hash of output is always there");
        out
    }

    /// What the server finds the pairing by.
    #[must_use]
    pub fn locator(&self) -> [u8; 16] {
        self.derived("locator")
    }

    fn key(&self) -> Key {
        Key::from_random(self.derived("key"))
    }

    /// Seals the shop's key for the new device. The nonce must be fresh.
    #[must_use]
    pub fn seal(&self, shop: &Key, nonce: [u8; 24]) -> Option<Vec<u8>> {
        let names = self.names();
        SealedRecord::seal(names.0, names.1, &self.key(), nonce, shop.bytes()).ok().map(|sealed| sealed.bytes)
    }

    /// Opens the shop's key; `None` if the code is another, or a byte was changed.
    #[must_use]
    pub fn open(&self, sealed: &[u8]) -> Option<Key> {
        let (id, key) = self.names();
        let sealed = SealedRecord { id, key, bytes: sealed.to_vec() };
        sealed.open(&self.key()).ok()?.try_into().ok().map(Key::from_random)
    }

    fn names(&self) -> (RecordId, KeyId) {
        (RecordId::from_random(self.locator()), KeyId::from_random(*b"a pairing's key "))
    }
}
