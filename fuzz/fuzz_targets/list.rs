//! Any text as a list taken in from elsewhere. Knows only the way in.
#![no_main]

libfuzzer_sys::fuzz_target!(|text: &str| callwright_fuzz::list(text));
