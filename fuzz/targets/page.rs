#![no_main]
//! See `page` in `tests/suite/invariants.rs`.

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| keyassay_fuzz::check("page", bytes));
