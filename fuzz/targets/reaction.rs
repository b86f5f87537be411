#![no_main]
//! See `reaction` in `tests/suite/invariants.rs`.

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| keyassay_fuzz::check("reaction", bytes));
