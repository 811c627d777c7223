//! Words that unlock what a device keeps: customers' keys and the device's own secret are sealed under a local key, and that
//! key under one derived from the words. Other words change only the latter.
//!
//! SOURCE: RFC 9106 (Argon2id); memory, passes and lanes as the OWASP Password Storage Cheat Sheet has them (19 MiB, 2, 1), from
//! memory. Refuses to know where anything is kept and where randomness comes from.

use argon2::{Algorithm, Argon2, Params, Version};
use book::{Key, KeyId, RecordId, SealedRecord};

const HEAD: &str = "argon2id-19456-2-1";
const LOCAL: KeyId = KeyId::from_random(*b"the local key   ");
const WORDS: KeyId = KeyId::from_random(*b"an unlock's key ");
const NOBODY: RecordId = RecordId::from_random([0; 16]);

fn derived(words: &str, salt: &[u8; 16]) -> Option<Key> {
    let params = Params::new(19_456, 2, 1, Some(32)).ok()?;
    let mut bytes = [0; 32];
    Argon2::new(Algorithm::Argon2id, Version::V0x13, params)
        .hash_password_into(words.as_bytes(), salt, &mut bytes)
        .ok()?;
    Some(Key::from_random(bytes))
}

/// Seals the local key under words; gives what is kept. Salt and nonce must be fresh.
#[must_use]
pub fn lock_with_words(local: &Key, words: &str, salt: [u8; 16], nonce: [u8; 24]) -> Option<String> {
    let sealed = SealedRecord::seal(NOBODY, WORDS, &derived(words, &salt)?, nonce, local.bytes()).ok()?;
    let hex = |bytes: &[u8]| base16ct::lower::encode_string(bytes);
    Some(format!("{HEAD} {} {}", hex(&salt), hex(&sealed.bytes)))
}

/// Opens the local key with the words; `None` if they are others.
#[must_use]
pub fn unlock_with_words(kept: &str, words: &str) -> Option<Key> {
    let (salt, sealed) = kept.strip_prefix(HEAD)?.trim_start().split_once(' ')?;
    let salt: [u8; 16] = base16ct::lower::decode_vec(salt).ok()?.try_into().ok()?;
    let bytes = base16ct::lower::decode_vec(sealed).ok()?;
    let sealed = SealedRecord { id: NOBODY, key: WORDS, bytes };
    sealed.open(&derived(words, &salt)?).ok()?.try_into().ok().map(Key::from_random)
}

/// Seals a secret under the local key; `name` is bound to it, so that one secret cannot stand for another. The nonce must be
/// fresh.
#[must_use]
pub fn seal_secret(local: &Key, name: &str, secret: &[u8], nonce: [u8; 24]) -> Option<String> {
    let plain = [name.as_bytes(), b"\n", secret].concat();
    let sealed = SealedRecord::seal(NOBODY, LOCAL, local, nonce, &plain).ok()?;
    Some(base16ct::lower::encode_string(&sealed.bytes))
}

/// Opens a secret; `None` if the key or the name is another.
#[must_use]
pub fn open_secret(local: &Key, name: &str, kept: &str) -> Option<Vec<u8>> {
    let sealed = SealedRecord { id: NOBODY, key: LOCAL, bytes: base16ct::lower::decode_vec(kept).ok()? };
    let plain = sealed.open(local).ok()?;
    plain.strip_prefix([name.as_bytes(), b"\n"].concat().as_slice()).map(<[u8]>::to_vec)
}
