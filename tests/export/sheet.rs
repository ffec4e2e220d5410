//! The sheet as a DocumentReference, by the checkers of FHIR and the readers of PDF.

use crate::export::layers::{references, resources_as_written, rules, structure};
use crate::harness::left_out::program;
use crate::harness::made::{DISCARDED, Made, entries};
use serde_json::Value;
use std::fs;
use std::process::Command;

/// The only document of a Bundle.
fn document(bundle: &Value) -> Value {
    let of_kind = |entry: &&Value| entry["resource"]["resourceType"] == "DocumentReference";
    let found: Vec<&Value> = entries(bundle).iter().filter(of_kind).collect();
    assert_eq!(found.len(), 1);
    found[0]["resource"].clone()
}

/// Standard base64 (RFC 4648), by a reading of our own.
pub(crate) fn decoded(text: &str) -> Vec<u8> {
    const SIGNS: &[u8] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let (mut octets, mut bits, mut count) = (Vec::new(), 0_u32, 0);
    for sign in text.trim_end_matches('=').bytes() {
        let value = SIGNS.iter().position(|one| *one == sign).unwrap();
        bits = bits << 6 | u32::try_from(value).unwrap();
        count += 6;
        if count >= 8 {
            count -= 8;
            octets.push(u8::try_from(bits >> count & 0xff).unwrap());
        }
    }
    octets
}

#[test]
fn the_sheet_in_a_bundle_passes_every_layer_and_is_a_pdf() {
    let made = Made::new();
    let text = made.home.run(&["export", "fhir", "--sheet"]).good();
    assert_eq!(
        text,
        made.home.run(&["export", "fhir", "--sheet"]).good(),
        "the same octets each time"
    );
    let bundle: Value = serde_json::from_str(&text).unwrap();
    assert_eq!(structure(&text), Vec::<String>::new());
    assert_eq!(references(&bundle), Vec::<String>::new());
    let resources = resources_as_written(&text);
    if let Some(broken) = rules(&resources) {
        for (resource, broken) in resources.iter().zip(broken) {
            assert!(broken.is_empty(), "{broken:?} in {resource}");
        }
    }
    let sheet = document(&bundle);
    assert_eq!(sheet["status"], "current");
    assert_eq!(sheet["context"]["period"]["start"], "2026-03-01T00:00:00+01:00");
    assert_eq!(sheet["context"]["period"]["end"], "2026-03-08T00:00:00+01:00");
    let pdf = decoded(sheet["content"][0]["attachment"]["data"].as_str().unwrap());
    fs::write(made.home.path("sheet.pdf"), &pdf).unwrap();
    if program("pdftotext", "the sheet as a reader of PDF has it") {
        let read = Command::new("pdftotext")
            .args(["-layout", made.home.path("sheet.pdf").to_str().unwrap(), "-"])
            .output()
            .unwrap();
        let words = String::from_utf8(read.stdout).unwrap();
        assert!(words.contains("Home blood pressure of asha"), "{words}");
    }
    // Without being asked for, there is none; and what changes changes it.
    assert!(
        !made
            .home
            .run(&["export", "fhir"])
            .good()
            .contains("DocumentReference")
    );
    let id = made.readings[DISCARDED]["id"].as_str().unwrap();
    made.home
        .run(&["readings", "discard", id, "--reason", "a guest"])
        .good();
    let changed = document(&made.bundle(&["--sheet"]));
    assert_eq!(changed["identifier"], sheet["identifier"]);
    assert_ne!(changed["content"], sheet["content"]);
}

/// A machine without a font for a name has everything but the sheet, and is told what to install.
#[test]
fn without_a_font_everything_else_is_there() {
    let made = Made::new();
    made.home.run(&["people", "edit", "asha", "--label", "ஆஷா"]).good();
    let output = made
        .home
        .command(&["export", "fhir", "--sheet"])
        .env("XDG_DATA_DIRS", "/nonexistent")
        .output()
        .unwrap();
    let said = String::from_utf8(output.stderr).unwrap();
    assert!(output.status.success(), "{said}");
    assert!(
        said.contains("no sheet of asha from 2026-03-01 to 2026-03-07") && said.contains("apt install"),
        "{said}"
    );
    let bundle: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(bundle, made.bundle(&[]));
}
