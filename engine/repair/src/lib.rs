//! The next step: read, look, try, strip down, change, refer or stop.

pub mod plan;
