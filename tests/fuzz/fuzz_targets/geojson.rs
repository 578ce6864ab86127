#![no_main]
libfuzzer_sys::fuzz_target!(|data: &[u8]| wellreeve_fuzz::fuzz("geojson", data));
