#![no_main]
//! See `workbook` in `tests/suite/invariants.rs`.

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| keyassay_fuzz::check("workbook", bytes));
