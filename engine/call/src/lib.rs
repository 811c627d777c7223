//! One call as a pure state machine, from the complaint to the signed record.

pub mod callfile;
