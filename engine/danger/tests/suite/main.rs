//! Tests of danger: the live map against solved worst cases, deadness from facts, the gate against a judge that knows
//! nothing of its rules, and what is published.

#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests stand outside `#[test]` functions")]

mod board;
mod dead;
mod duties;
mod figures;
mod found;
mod gate;
mod gate_generated;
mod live;
mod live_solved;
mod make_safe;
mod shipped;
mod support;
