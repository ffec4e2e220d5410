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

/// As FHIR Bulk Data Access has it: a file for each type, with nothing else in it, and no file for a type of which there is
/// nothing.
#[test]
fn a_folder_has_a_file_a_type() {
    let made = Made::with_one_discarded();
    let folder = made.home.path("week");
    let path = folder.to_str().unwrap();
    let in_folder = |more: &[&str]| {
        let all = [&["export", "fhir", "--folder", path], more].concat();
        assert_eq!(made.home.run(&all).good(), "");
        let mut lines = Vec::new();
        let mut names = Vec::new();
        for entry in fs::read_dir(&folder).unwrap() {
            let file = entry.unwrap().path();
            let name = file.file_name().unwrap().to_str().unwrap().to_owned();
            assert_eq!(
                fs::metadata(&file).unwrap().permissions().mode() & 0o777,
                0o600,
                "{name}"
            );
            for line in fs::read_to_string(&file).unwrap().lines() {
                let resource: serde_json::Value = serde_json::from_str(line).unwrap();
                assert_eq!(
                    name,
                    format!("{}.ndjson", resource["resourceType"].as_str().unwrap())
                );
                lines.push(line.to_owned());
            }
            names.push(name);
        }
        lines.sort();
        names.sort();
        (names, lines)
    };
    let in_one = |more: &[&str]| {
        let text = made
            .home
            .run(&[&["export", "fhir", "--ndjson"], more].concat())
            .good();
        let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
        lines.sort();
        lines
    };
    let three = ["Device.ndjson", "Observation.ndjson", "Patient.ndjson"];
    let (names, lines) = in_folder(&["--sheet"]);
    assert_eq!(
        names,
        [
            "Device.ndjson",
            "DocumentReference.ndjson",
            "Observation.ndjson",
            "Patient.ndjson"
        ]
    );
    assert_eq!(lines, in_one(&["--sheet"]));
    // A file of an earlier export does not stay as if it were of this one.
    let (names, lines) = in_folder(&[]);
    assert_eq!(names, three);
    assert_eq!(lines, in_one(&[]));
    assert_eq!(fs::metadata(&folder).unwrap().permissions().mode() & 0o777, 0o700);
    // What fails leaves what was there.
    let config = made
        .home
        .file("bad.toml", "[fhir.patients]\nnobody = \"Patient/1\"\n");
    made.home
        .run(&["export", "fhir", "--folder", path, "--config", &config])
        .failed(78, &["nobody"]);
    for file in three {
        assert!(fs::metadata(folder.join(file)).unwrap().len() > 0, "{file}");
    }
    made.home.file("plain", "");
    for (place, words) in [("no/such/folder", "no/such/folder"), ("plain", "plain")] {
        let ran = made.home.run(&["export", "fhir", "--folder", place]);
        ran.failed(73, &["cannot write", words]);
    }
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
