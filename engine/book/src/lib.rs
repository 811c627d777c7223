//! The append-only log: events, folds, and the contract every store keeps.
