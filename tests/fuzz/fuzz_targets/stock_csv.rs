#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| program::attacks::attack("stock_csv", bytes));
