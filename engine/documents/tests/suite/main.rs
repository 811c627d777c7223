//! Pages made from folded jobs: the whole text, hostile words, sums.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

mod job;
mod pages;
