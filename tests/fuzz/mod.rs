//! The seeds of the fuzzing, tried as they are: what was once found, or covers something of its own, is tried in each run.

mod targets;

use crate::harness::command::fixture;
use targets::TARGETS;

#[test]
fn each_seed_is_taken_as_its_target_asserts() {
    for (name, target) in TARGETS {
        let seeds = std::fs::read_dir(fixture(&format!("fuzz/{name}"))).expect("a folder of seeds");
        let mut tried = 0;
        for seed in seeds {
            target(&std::fs::read(seed.unwrap().path()).unwrap());
            tried += 1;
        }
        assert!(tried > 0, "{name} has no seed");
    }
    let folders = std::fs::read_dir(fixture("fuzz")).unwrap().count();
    assert_eq!(folders, TARGETS.len(), "each folder of seeds has its target");
}
