//! Any text as a call's record. Knows only the way in.
#![no_main]

libfuzzer_sys::fuzz_target!(|text: &str| callwright_fuzz::call(text));
