//! Every parser of bytes that somebody else made, for libFuzzer: `QUIETCUFF_FUZZ=TARGET` chooses one. A panic, a hang or
//! memory without bound is found by libFuzzer itself.

#![no_main]

mod targets;

use libfuzzer_sys::fuzz_target;
use std::sync::OnceLock;
use targets::{TARGETS, Target};

static TARGET: OnceLock<Target> = OnceLock::new();

fuzz_target!(init: {
    let name = std::env::var("QUIETCUFF_FUZZ").unwrap_or_default();
    let (_, target) = TARGETS.iter().find(|(known, _)| *known == name).unwrap_or_else(|| {
        let names: Vec<&str> = TARGETS.iter().map(|(name, _)| *name).collect();
        panic!("QUIETCUFF_FUZZ is {name:?}; it names one of {}", names.join(" "))
    });
    TARGET.get_or_init(|| *target);
}, |bytes: &[u8]| {
    if let Some(target) = TARGET.get() {
        target(bytes);
    }
});
