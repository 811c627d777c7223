//! Names, keys and nonces out of the operating system's randomness.
//!
//! Refuses to know what is sealed.

use book::{Content, DeviceId, Key, KeyId, RecordId, SealedRecord, StoreError};

/// Fills bytes with fresh randomness.
///
/// # Errors
/// Only if the operating system has no randomness.
pub fn fill(bytes: &mut [u8]) -> Result<(), StoreError> {
    getrandom::fill(bytes).map_err(|error| StoreError::Failed(format!("no randomness: {error}")))
}

fn random_bytes<const N: usize>() -> Result<[u8; N], StoreError> {
    let mut bytes = [0; N];
    fill(&mut bytes)?;
    Ok(bytes)
}

/// Gives a device a name nobody else has.
///
/// # Errors
/// Only if the operating system has no randomness.
pub fn fresh_device() -> Result<DeviceId, StoreError> {
    random_bytes().map(DeviceId::from_random)
}

/// Makes a key for a new customer.
///
/// # Errors
/// Only if the operating system has no randomness.
pub fn fresh_key() -> Result<(KeyId, Key), StoreError> {
    Ok((KeyId::from_random(random_bytes()?), Key::from_random(random_bytes()?)))
}

/// Seals some content under a fresh name with a fresh nonce.
///
/// # Errors
/// If there is no randomness, or the content is too long for the cipher.
pub fn seal(key_id: KeyId, key: &Key, content: &Content) -> Result<SealedRecord, StoreError> {
    let id = RecordId::from_random(random_bytes()?);
    let sealed = SealedRecord::seal(id, key_id, key, random_bytes()?, &content.to_plain());
    sealed.map_err(|error| StoreError::Failed(error.to_string()))
}
