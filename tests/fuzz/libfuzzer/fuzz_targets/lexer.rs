#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| stagewright_fuzz::target("lexer").expect("a target")(data));
