//! Any text as a meters file. Knows only the way in.
#![no_main]

libfuzzer_sys::fuzz_target!(|text: &str| callwright_fuzz::meters(text));
