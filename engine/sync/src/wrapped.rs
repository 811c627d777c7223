//! Customers' keys on their way and on the server: wrapped in the shop's own key, which only its devices hold.
//!
//! The server keeps what it cannot open. Refuses to know the cipher (it is that of sealed records) and randomness.

use book::{Key, KeyId, RecordId, SealedRecord};

/// What the shop's key is called where a cipher binds names. It is no customer's.
const SHOP: KeyId = KeyId::from_random(*b"the shop's key  ");

/// A customer's key, to be opened with the shop's.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WrappedKey {
    /// The name of the customer's key.
    pub id: KeyId,
    /// As [`SealedRecord::bytes`].
    pub bytes: Vec<u8>,
}

impl WrappedKey {
    /// Wraps a customer's key. The nonce must be fresh.
    #[must_use]
    pub fn wrap(shop: &Key, id: KeyId, key: &Key, nonce: [u8; 24]) -> Option<Self> {
        let named = RecordId::from_random(*id.bytes());
        let sealed = SealedRecord::seal(named, SHOP, shop, nonce, key.bytes()).ok()?;
        Some(Self { id, bytes: sealed.bytes })
    }

    /// Opens it; `None` if the shop's key is another, or a byte was changed.
    #[must_use]
    pub fn open(&self, shop: &Key) -> Option<Key> {
        let named = RecordId::from_random(*self.id.bytes());
        let sealed = SealedRecord { id: named, key: SHOP, bytes: self.bytes.clone() };
        sealed.open(shop).ok()?.try_into().ok().map(Key::from_random)
    }
}
