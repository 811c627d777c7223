//! Any text as a reading as typed. Knows only the way in.
#![no_main]

libfuzzer_sys::fuzz_target!(|text: &str| callwright_fuzz::typed(text));
