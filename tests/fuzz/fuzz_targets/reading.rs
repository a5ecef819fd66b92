//! Any bytes through [`judge::reading`].
#![no_main]

#[allow(dead_code, reason = "the other target uses the rest")]
#[path = "../../src/judge.rs"]
mod judge;

libfuzzer_sys::fuzz_target!(|data: &[u8]| judge::reading(data));
