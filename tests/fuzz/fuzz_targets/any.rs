//! All targets in one program: `FUZZ_TARGET` names the one to run. Thirteen programs would be linked in place of one.
#![no_main]
libfuzzer_sys::fuzz_target!(|data: &[u8]| {
    static NAME: std::sync::LazyLock<String> =
        std::sync::LazyLock::new(|| std::env::var("FUZZ_TARGET").unwrap_or_default());
    assert!(wellreeve_fuzz::TARGETS.iter().any(|(name, _)| *name == *NAME), "FUZZ_TARGET names no target");
    wellreeve_fuzz::fuzz(&NAME, data);
});
