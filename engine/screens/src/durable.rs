//! What must be durable before the next screen: all of it or nothing.

use book::{Event, Key, KeyId, SealedRecord};

/// Things to keep, all or none.
#[derive(Clone, Debug, Default)]
pub struct Durable {
    /// Keys of new customers.
    pub keys: Vec<(KeyId, Key)>,
    /// Sealed records.
    pub records: Vec<SealedRecord>,
    /// Events, in order.
    pub events: Vec<Event>,
}
