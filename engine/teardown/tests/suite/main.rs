//! Tests of teardown planning: the planner against a plain definition, plans against the judge, the judge against
//! spoiled plans, and a dryer by hand.

#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests stand outside `#[test]` functions")]

mod brute;
mod by_hand;
mod generated;
mod judge;
mod support;
