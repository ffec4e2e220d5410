//! What a test needs from outside, and what is said where that is missing.
//!
//! A test whose oracle is missing fails. Where `QUIETCUFF_SKIP_ORACLES` is set, the test leaves out what is missing and
//! says so: on standard error, and as one line in the file that `QUIETCUFF_SKIPS` names, from which `tests/run` counts.

use std::fmt::Display;
use std::io::Write;
use std::path::{Path, PathBuf};

/// Says what the running test did not try, and why.
pub(crate) fn left_out(what: &str, why: impl Display) {
    eprintln!("skipped: {what}: {why}");
    let Some(file) = std::env::var_os("QUIETCUFF_SKIPS") else {
        return;
    };
    // The runner names a test's thread after the test.
    let thread = std::thread::current();
    let line = format!("{}\t{what}: {why}\n", thread.name().unwrap_or("a test"));
    // One write, so that two tests cannot mix their lines.
    std::fs::File::options()
        .append(true)
        .create(true)
        .open(file)
        .and_then(|mut file| file.write_all(line.as_bytes()))
        .expect("the file that QUIETCUFF_SKIPS names can be written");
}

/// Whether the running test is left to longer runs, since `tests/run --quick` is in a hurry. It says so where it is.
pub(crate) fn in_a_hurry(what: &str) -> bool {
    left_to("tests/run", &["quick"], what)
}

/// The same for what takes minutes, which `tests/run` without an option does not have either.
pub(crate) fn takes_minutes(what: &str) -> bool {
    left_to("tests/run --everything", &["quick", "usual"], what)
}

fn left_to(run: &str, hurried: &[&str], what: &str) -> bool {
    let left = std::env::var("QUIETCUFF_SIZE").is_ok_and(|size| hurried.contains(&size.as_str()));
    if left {
        left_out(what, format!("takes long, and is left to `{run}`"));
    }
    left
}

/// Whether something from outside is there. Where it is not, the test fails, or leaves `what` out if it may.
pub(crate) fn there(found: bool, what: &str, missing: impl Display) -> bool {
    if found {
        return true;
    }
    assert!(
        std::env::var_os("QUIETCUFF_SKIP_ORACLES").is_some(),
        "{missing} is missing: run `tests/run install`, or set QUIETCUFF_SKIP_ORACLES=1 to leave out what is missing"
    );
    left_out(what, format!("{missing} is missing"));
    false
}

/// The same for a program, by its name or its path.
pub(crate) fn program(name: &str, what: &str) -> bool {
    let path = std::env::var_os("PATH").unwrap_or_default();
    let found = std::env::split_paths(&path).any(|folder| folder.join(name).exists());
    there(found, what, name)
}

/// The same for what `tests/run install` puts below its folder in the user's cache; the path where it is there.
pub(crate) fn installed(below: &str, what: &str) -> Option<PathBuf> {
    let cache = std::env::var_os("XDG_CACHE_HOME")
        .map(PathBuf::from)
        .filter(|path| path.is_absolute())
        .or_else(|| std::env::var_os("HOME").map(|home| Path::new(&home).join(".cache")))
        .expect("HOME or XDG_CACHE_HOME");
    let path = cache.join("quietcuff-tests").join(below);
    there(path.exists(), what, path.display()).then_some(path)
}
