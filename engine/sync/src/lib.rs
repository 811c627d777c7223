//! How two copies of a book become one, in any order, any number of times, over bad connections.
//!
//! - [`Have`] says what a copy holds, and from two of them follows what each owes the other.
//! - A [`Batch`] carries events, wrapped keys and small records; it may break off at any byte and what came whole is good.
//! - [`Exchange`] is the device's side, question by question; the server's side is `shell/server`.
//! - [`PairingCode`] lets a new device in, [`WrappedKey`] carries customers' keys past a server that cannot open them.
//!
//! The crate refuses to know networks, stores, clocks and randomness: all of them are handed in.

mod batch;
mod exchange;
mod filed;
mod have;
mod member;
mod pairing;
mod typeset;
mod unlock;
mod wrapped;

pub use batch::{BATCH_BYTES, Batch, BatchWriter, Ending, Large, MOST_BATCH, MOST_RECORD, NotABatch, SMALL_RECORD};
pub use exchange::{
    After, Arrived, Beyond, Came, Exchange, Holds, MOST_WANTED, PIECE, Progress, Question, Says, Trouble, Wanted,
    names_of,
};
pub use filed::Filed;
pub use have::{Digest, Have, Held, Holding};
pub use member::{Member, Newcomer, devices_question, revoke_question, seen_question};
pub use pairing::{BadCode, PairingCode};
pub use typeset::ToTypeset;
pub use unlock::{lock_with_words, open_secret, seal_secret, unlock_with_words};
pub use wrapped::WrappedKey;
