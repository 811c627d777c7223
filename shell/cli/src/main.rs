//! The program `callwright`.

fn main() {}
