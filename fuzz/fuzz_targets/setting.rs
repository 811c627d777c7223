//! Any text as a setting. Knows only the way in.
#![no_main]

libfuzzer_sys::fuzz_target!(|text: &str| callwright_fuzz::setting(text));
