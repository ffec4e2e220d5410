//! Tells the program what it was built from and for: `quietcuff --version --verbose` says it.
//!
//! The commit is looked for in optimised builds only. A build that is tried and changed all day would otherwise be made
//! anew after every commit. Without git, as from a tarball, the commit is unknown, and nothing else is different.

use std::path::Path;
use std::process::Command;

/// What the program is made of.
const SOURCES: [&str; 3] = ["src", "Cargo.toml", "Cargo.lock"];

fn main() {
    println!("cargo:rerun-if-changed=src/build.rs");
    println!("cargo:rerun-if-env-changed=QUIETCUFF_COMMIT");
    let target = std::env::var("TARGET").unwrap_or_default();
    println!("cargo:rustc-env=QUIETCUFF_TARGET={target}");
    // The list of addresses that the loader corrects is read whole at each start, and what was read stays resident:
    // packed, 180 KB of it are 10 (ELF's DT_RELR; glibc 2.36). Other C libraries do not promise to read that.
    if std::env::var("CARGO_CFG_TARGET_ENV").is_ok_and(|libc| libc == "gnu") {
        println!("cargo:rustc-link-arg-bins=-Wl,-z,pack-relative-relocs");
    }
    let optimised = std::env::var("PROFILE").is_ok_and(|profile| profile == "release");
    let found = given().or_else(|| optimised.then(|| from_git().or_else(packaged)).flatten());
    if let Some(commit) = found {
        println!("cargo:rustc-env=QUIETCUFF_COMMIT={commit}");
    }
}

/// For whoever builds without git and knows the commit.
fn given() -> Option<String> {
    std::env::var("QUIETCUFF_COMMIT")
        .ok()
        .filter(|commit| !commit.is_empty())
}

fn from_git() -> Option<String> {
    // A tarball may lie in somebody else's repository, whose commit would say nothing of this program.
    if !git(&["rev-parse", "--show-prefix"])?.is_empty() {
        return None;
    }
    let commit = git(&["rev-parse", "HEAD"])?;
    let mut watched = SOURCES.map(str::to_owned).to_vec();
    watched.extend(
        ["HEAD", "logs/HEAD"]
            .iter()
            .filter_map(|name| git(&["rev-parse", "--git-path", name])),
    );
    for path in watched.iter().filter(|path| Path::new(path).exists()) {
        println!("cargo:rerun-if-changed={path}");
    }
    let mut look = vec!["status", "--porcelain", "--"];
    look.extend(SOURCES);
    let changed = if git(&look)?.is_empty() {
        ""
    } else {
        ", changed since"
    };
    Some(format!("{commit}{changed}"))
}

/// What cargo leaves in a crate that it packaged.
fn packaged() -> Option<String> {
    let said = std::fs::read_to_string(".cargo_vcs_info.json").ok()?;
    let commit = said.split_once("\"sha1\": \"")?.1.split('"').next()?;
    Some(commit.to_owned())
}

fn git(arguments: &[&str]) -> Option<String> {
    let done = Command::new("git")
        .arg("--no-optional-locks")
        .args(arguments)
        .output()
        .ok()?;
    let said = String::from_utf8(done.stdout).ok()?;
    done.status.success().then(|| said.trim().to_owned())
}
