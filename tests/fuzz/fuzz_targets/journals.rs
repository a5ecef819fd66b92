//! Any bytes through [`faces::journals`].
#![no_main]

#[allow(dead_code, reason = "the other targets use the rest")]
#[path = "../../src/faces.rs"]
mod faces;
#[path = "../../src/permits.rs"]
mod permits;

libfuzzer_sys::fuzz_target!(|data: &[u8]| faces::journals(data));
