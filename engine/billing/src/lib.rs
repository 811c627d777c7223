//! What a job is charged, and the papers about it.
//!
//! [`bill`] lists what is charged; [`invoice`] makes the next paper of a job out of it, with its taxes and what was paid;
//! [`total`] adds up as EN 16931 wants it; [`series`] numbers papers without gaps; [`ubl`] writes them in an open invoice
//! format; [`accounts`] writes the books for an accountant. Decimal throughout.
//!
//! Refuses to know machines, clocks and how sealed records are opened.

pub mod accounts;
mod bill;
pub mod invoice;
pub mod series;
pub mod total;
pub mod ubl;

pub use bill::bill;
pub use invoice::{NoPaper, credit_note, held, invoice, owed, receipt};
pub use series::{next_number, say_number};
pub use total::{Totals, total, totals};
