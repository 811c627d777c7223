//! Any text as a machine description. Knows only the way in.
#![no_main]

libfuzzer_sys::fuzz_target!(|text: &str| callwright_fuzz::machine(text));
