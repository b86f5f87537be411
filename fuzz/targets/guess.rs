#![no_main]
//! See `guess` in `tests/suite/invariants.rs`.

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| keyassay_fuzz::check("guess", bytes));
