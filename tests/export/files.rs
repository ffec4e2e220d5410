//! Where the output goes, and what happens where it cannot.

use crate::harness::made::Made;
use std::fs;
use std::os::unix::fs::PermissionsExt;

#[test]
fn a_file_is_there_whole_and_its_owners_only() {
    let made = Made::new();
    for (form, name) in [("fhir", "out.json"), ("csv", "out.csv")] {
        let path = made.home.path(name);
        fs::write(&path, "what was there before").unwrap();
        let ran = made
            .home
            .run(&["export", form, "--output", path.to_str().unwrap()]);
        assert_eq!(ran.out, "");
        ran.good();
        let there = fs::read_to_string(&path).unwrap();
        assert_eq!(there, made.home.run(&["export", form]).good());
        assert_eq!(fs::metadata(&path).unwrap().permissions().mode() & 0o777, 0o600);
    }
    let left = fs::read_dir(made.home.path("")).unwrap().filter(|entry| {
        entry
            .as_ref()
            .unwrap()
            .file_name()
            .to_string_lossy()
            .ends_with(".part")
    });
    assert_eq!(left.count(), 0);
}

#[test]
fn what_cannot_be_written_is_said_and_nothing_is_left() {
    let made = Made::new();
    made.home.file("directory/inside", "");
    for path in [
        "missing/out.json",
        "directory",
        "directory/inside/out.json",
        "/proc/out.json",
        "..",
    ] {
        for form in ["fhir", "hl7", "csv"] {
            made.home
                .run(&["export", form, "--output", path])
                .failed(73, &["cannot write", "name a file"]);
        }
    }
    // A failure on the way leaves what was there.
    let path = made.home.file("out.json", "what was there before");
    let config = made
        .home
        .file("bad.toml", "[fhir.patients]\nnobody = \"Patient/1\"\n");
    made.home
        .run(&["export", "fhir", "--output", &path, "--config", &config])
        .failed(78, &["nobody"]);
    assert_eq!(fs::read_to_string(&path).unwrap(), "what was there before");
    let full = made.home.run(&["export", "fhir", "--output", "/dev/full"]);
    full.failed(74, &["no space left to write /dev/full"]);
}

#[test]
fn a_link_is_followed_and_a_device_is_written_to() {
    let made = Made::new();
    let path = made.home.file("real.csv", "");
    std::os::unix::fs::symlink(&path, made.home.path("link.csv")).unwrap();
    made.home.run(&["export", "csv", "--output", "link.csv"]).good();
    assert!(fs::read_to_string(&path).unwrap().starts_with("id,person,"));
    assert!(
        fs::symlink_metadata(made.home.path("link.csv"))
            .unwrap()
            .is_symlink()
    );
    made.home.run(&["export", "csv", "--output", "/dev/null"]).good();
}

#[test]
fn a_person_who_is_not_there_is_an_error() {
    let made = Made::new();
    for form in ["fhir", "hl7", "csv"] {
        made.home
            .run(&["export", form, "--person", "ashe"])
            .failed(64, &["nobody is called ashe", "asha"]);
        made.home
            .run(&["export", form, "--from", "2026-03-02", "--to", "2026-03-01"])
            .failed(64, &["is after"]);
    }
    assert_eq!(made.home.run(&["export"]).code, 64);
    assert_eq!(made.home.run(&["export", "pdf"]).code, 64);
}
