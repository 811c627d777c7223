//! Who asks, and what they may do.
//!
//! A device shows its name and its own secret with every question; the server keeps only the secret's hash. The secret is 256
//! random bits, so a plain hash is enough: nobody can try them through.

use book::{DeviceId, StoreError, bytes_from_hex};
use sha2::{Digest, Sha256};
use store::{Database, Paired, SqlStore};
use subtle::ConstantTimeEq;

/// What a device may do. Each may do what those below it may.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Role {
    /// Exchange the book: send what it wrote itself, fetch everything.
    Technician,
    /// Let technicians in, shut them out, read the audit.
    Office,
    /// Let anybody in, shut anybody out, send what others wrote after the server was restored.
    Owner,
}

impl Role {
    /// Reads a role by its word.
    #[must_use]
    pub fn read(word: &str) -> Option<Self> {
        match word {
            "technician" => Some(Self::Technician),
            "office" => Some(Self::Office),
            "owner" => Some(Self::Owner),
            _ => None,
        }
    }

    /// Gives its word.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Technician => "technician",
            Self::Office => "office",
            Self::Owner => "owner",
        }
    }

    /// Tells whether it may let a device of that role in, or shut one out.
    #[must_use]
    pub fn may_admit(self, other: Self) -> bool {
        self == Self::Owner || self == Self::Office && other == Self::Technician
    }
}

/// A device that showed its secret.
#[derive(Clone, Copy, Debug)]
pub struct Who {
    /// Which.
    pub device: DeviceId,
    /// Its role.
    pub role: Role,
}

/// Gives what the server keeps of a secret.
#[must_use]
pub fn hash_of(secret: &[u8; 32]) -> [u8; 32] {
    Sha256::digest(secret).into()
}

/// Reads what a device shows: `Bearer NAME.SECRET`, both in hexadecimal digits.
#[must_use]
pub(crate) fn shown(header: &str) -> Option<(DeviceId, [u8; 32])> {
    let (device, secret) = header.strip_prefix("Bearer ")?.split_once('.')?;
    Some((device.parse().ok()?, bytes_from_hex(secret)?))
}

/// Finds out who shows this; `None` for anybody who is not let in, or no longer.
///
/// # Errors
/// Only if the store fails.
pub fn known<D: Database>(store: &SqlStore<D>, header: &str) -> Result<Option<Who>, StoreError> {
    let Some((device, secret)) = shown(header) else { return Ok(None) };
    let Some(Paired { secret: kept, role, revoked: None, .. }) = store.paired(device)? else { return Ok(None) };
    // In a time that does not tell how much of it was right.
    let right: bool = hash_of(&secret).ct_eq(&kept).into();
    Ok(Role::read(&role).filter(|_| right).map(|role| Who { device, role }))
}
