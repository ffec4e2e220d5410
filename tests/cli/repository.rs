//! What a stranger takes up: the names at the top, both licences in full, and the package that can be published.

use crate::harness::command::of_project;
use crate::harness::left_out::left_out;
use std::path::Path;
use std::process::Command;

fn lines(program: &str, arguments: &[&str]) -> Option<Vec<String>> {
    let output = Command::new(program)
        .args(arguments)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .ok()?;
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    if !output.status.success() {
        left_out(
            &format!("{program} {}", arguments.join(" ")),
            said.lines().next().unwrap_or_default(),
        );
        return None;
    }
    let text = String::from_utf8(output.stdout).unwrap();
    Some(text.lines().map(str::to_owned).collect())
}

#[test]
fn the_top_level_is_what_a_stranger_reads() {
    // Not where the sources came without their history.
    let Some(files) = lines("git", &["ls-files"]) else {
        return;
    };
    let allowed = [
        "Cargo.lock",
        "Cargo.toml",
        "DEVELOPERS.md",
        "LICENSE-APACHE",
        "LICENSE-MIT",
        "README.md",
        "fixtures",
        "src",
        "systemd",
        "tests",
    ];
    for file in files {
        let top = file.split('/').next().unwrap();
        assert!(
            top.starts_with('.') || allowed.contains(&top),
            "{file} stands at the top"
        );
    }
}

fn words(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The Apache licence against the copy that Debian carries, and the MIT licence by its three parts.
#[test]
fn both_licences_are_there_in_full() {
    let apache = of_project("LICENSE-APACHE").unwrap();
    assert!(apache.contains("END OF TERMS AND CONDITIONS"));
    match std::fs::read_to_string("/usr/share/common-licenses/Apache-2.0") {
        Ok(debians) => assert_eq!(words(&apache), words(&debians)),
        Err(error) => left_out("the Apache licence beside Debian's copy", error),
    }
    let mit = words(&of_project("LICENSE-MIT").unwrap());
    for part in [
        "Permission is hereby granted, free of charge, to any person obtaining a copy",
        "The above copyright notice and this permission notice shall be included in all copies",
        "THE SOFTWARE IS PROVIDED \"AS IS\", WITHOUT WARRANTY OF ANY KIND",
    ] {
        assert!(mit.contains(part), "{part}");
    }
    let copyright = words(
        &of_project("systemd/debian/copyright")
            .unwrap()
            .replace("\n .\n", "\n"),
    );
    assert!(
        copyright.contains(mit.strip_prefix("MIT License ").unwrap()),
        "{copyright}"
    );
}

/// It holds what building needs, and stays small: no fixture, no test.
#[test]
fn the_package_is_what_building_needs() {
    let list = lines(
        env!("CARGO"),
        &["package", "--list", "--offline", "--locked", "--allow-dirty"],
    )
    .unwrap();
    for file in [
        "Cargo.toml",
        "Cargo.lock",
        "README.md",
        "LICENSE-MIT",
        "LICENSE-APACHE",
        "src/main.rs",
        "src/words/hi.ftl",
    ] {
        assert!(
            list.iter().any(|listed| listed == file),
            "{file} is not in the package"
        );
    }
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut octets = 0;
    for file in &list {
        assert!(
            !file.starts_with("tests/") && !file.starts_with("fixtures/"),
            "{file}"
        );
        // Two of them cargo makes itself.
        octets += root.join(file).metadata().map_or(0, |there| there.len());
    }
    // The sources are 4.6 MB and two fonts 0.4; what is much more is a file that strayed in.
    assert!(octets < 5_500_000, "{octets} octets before they are compressed");
}
