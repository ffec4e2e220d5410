//! Three layers that read what is exported, none of which knows how it was written:
//!
//! - structure: the crate `fhirkit`, generated from the R4 specification's own package;
//! - rules: `rules.json` in FHIRPath, by the npm package `fhirpath` and the Python package `fhirpathpy`, which have to
//!   agree on every resource;
//! - references: what a server demands of a transaction (R4, Bundle, "Resolving references in Bundles").
//!
//! `tests/export/prepare` installs the two engines. Without them the tests fail and say so; `QUIETCUFF_SKIP_ORACLES=1`
//! leaves them out. HL7's own validator was not run: it is no package that could be
//! installed here.

use crate::harness::left_out::{in_a_hurry, installed, program};
use crate::harness::made::{Made, entries};
use fhirkit::r4;
use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// What the structure checker finds.
pub(crate) fn structure(resource: &str) -> Vec<String> {
    match fhirkit::from_json::<r4::Resource>(resource) {
        Ok((_, issues)) => issues.iter().map(ToString::to_string).collect(),
        Err(error) => vec![error.to_string()],
    }
}

/// What a server would stumble over in a transaction.
pub(crate) fn references(bundle: &Value) -> Vec<String> {
    let mut found = Vec::new();
    let mut names = BTreeSet::new();
    for entry in entries(bundle) {
        let name = entry["fullUrl"].as_str().unwrap_or_default();
        if !name.starts_with("urn:uuid:") || !names.insert(name.to_owned()) {
            found.push(format!("fullUrl {name:?} is none, or there twice"));
        }
        let request = &entry["request"];
        let kind = entry["resource"]["resourceType"].as_str().unwrap_or_default();
        let identifier = &entry["resource"]["identifier"][0];
        let query = format!(
            "identifier={}|{}",
            identifier["system"].as_str().unwrap_or_default(),
            identifier["value"].as_str().unwrap_or_default()
        );
        let once = match request["method"].as_str() {
            Some("POST") => request["url"] == kind && request["ifNoneExist"] == query.as_str(),
            Some("PUT") => {
                request["url"] == format!("{kind}?{query}") && request.get("ifNoneExist").is_none()
            }
            _ => false,
        };
        if !once {
            found.push(format!("sent twice it would be there twice: {request}"));
        }
    }
    let mut wanted = Vec::new();
    collect(bundle, &mut wanted);
    found.extend(
        wanted
            .iter()
            .filter(|name| name.starts_with("urn:") && !names.contains(*name))
            .map(|name| format!("{name} is not in the Bundle")),
    );
    found
}

fn collect(value: &Value, into: &mut Vec<String>) {
    match value {
        Value::Object(fields) => {
            if let Some(Value::String(reference)) = fields.get("reference") {
                into.push(reference.clone());
            }
            fields.values().for_each(|value| collect(value, into));
        }
        Value::Array(values) => values.iter().for_each(|value| collect(value, into)),
        _ => {}
    }
}

/// Where `prepare` put the engines; none where oracles are to be left out.
pub(crate) fn engines() -> Option<PathBuf> {
    let what = "resources beside two FHIRPath engines";
    if !program("node", what) {
        return None;
    }
    installed("export/pins", what)?;
    installed("export", what)
}

/// The rules that each resource breaks, by both engines; they have to agree.
pub(crate) fn rules(resources: &[String]) -> Option<Vec<Vec<String>>> {
    let cache = engines()?;
    let here = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/export");
    let input = resources.join("\n") + "\n";
    let by_node = answers(
        Command::new("node").arg(here.join("rules.mjs")).arg(&cache),
        &input,
    );
    let by_python = answers(
        Command::new(cache.join("venv/bin/python")).arg(here.join("rules.py")),
        &input,
    );
    assert_eq!(by_node.len(), resources.len());
    for ((resource, node), python) in resources.iter().zip(&by_node).zip(&by_python) {
        assert_eq!(node, python, "the engines disagree on {resource}");
    }
    assert_eq!(by_node.len(), by_python.len());
    Some(by_node)
}

fn answers(command: &mut Command, input: &str) -> Vec<Vec<String>> {
    let mut child = command
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap_or_else(|error| panic!("{command:?}: {error}; tests/export/prepare installs what is needed"));
    let mut stdin = child.stdin.take().unwrap();
    let input = input.to_owned();
    // From a thread: the pipes of both directions may fill up.
    let writing = std::thread::spawn(move || stdin.write_all(input.as_bytes()));
    let output = child.wait_with_output().unwrap();
    writing.join().unwrap().unwrap();
    assert!(output.status.success(), "{command:?} failed");
    String::from_utf8(output.stdout)
        .unwrap()
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect()
}

/// One line of the Bundle's own text is one entry, so that the checkers read the digits that were written.
pub(crate) fn resources_as_written(bundle: &str) -> Vec<String> {
    let resources: Vec<String> = bundle
        .lines()
        .filter_map(|line| line.split_once("\"resource\":"))
        .filter_map(|(_, rest)| rest.rsplit_once(",\"request\":"))
        .map(|(resource, _)| resource.to_owned())
        .collect();
    assert!(!resources.is_empty());
    resources
}

fn holds(made: &Made, more: &[&str]) -> usize {
    let text = made.home.run(&[&["export", "fhir"], more].concat()).good();
    let bundle: Value = serde_json::from_str(&text).unwrap();
    assert_eq!(structure(&text), Vec::<String>::new());
    assert_eq!(references(&bundle), Vec::<String>::new());
    let mut resources = resources_as_written(&text);
    assert_eq!(resources.len(), entries(&bundle).len());
    let lines = made
        .home
        .run(&[&["export", "fhir", "--ndjson"], more].concat())
        .good();
    resources.extend(lines.lines().map(ToOwned::to_owned));
    for resource in &resources {
        assert_eq!(structure(resource), Vec::<String>::new(), "{resource}");
    }
    if let Some(broken) = rules(&resources) {
        for (resource, broken) in resources.iter().zip(broken) {
            assert!(broken.is_empty(), "{broken:?} in {resource}");
        }
    }
    resources.len()
}

#[test]
fn everything_exported_passes_every_layer() {
    if in_a_hurry("everything exported through every layer") {
        return;
    }
    let made = Made::with_one_discarded();
    made.state_at(
        "2026-03-02T00:00:00Z",
        &json!({"kind": "person-changed", "person": "asha", "changes": [{"arm": "right"}]}),
    );
    assert!(holds(&made, &[]) > 100);
    made.state_at(
        "2026-03-04T00:00:00Z",
        &json!({"kind": "monitor", "monitor": "c0ffee000001", "site": "upper-arm", "cuff-max-mm": 320}),
    );
    for switches in [
        "profiles = \"none\"\ndevice-codes = false\n",
        "profiles = \"core\"\nsnomed = true\nnarrative = true\n",
        "snomed = true\ndevice-codes = false\n[fhir.patients]\nasha = \"Patient/a-1\"\n",
    ] {
        let config = made.home.file("switched.toml", format!("[fhir]\n{switches}"));
        assert!(holds(&made, &["--config", &config]) > 80, "{switches}");
    }
}

/// The demonstration's household: a monitor whose clock is off, records that come late, two people, both seeds' faults.
#[test]
fn an_invented_week_passes_every_layer() {
    if in_a_hurry("an invented week through every layer") {
        return;
    }
    let made = Made::of(&[]);
    for seed in ["72", "7"] {
        let state = format!("state-{seed}");
        made.home
            .run(&[
                "demo",
                "--until",
                "2026-03-29",
                "--seed",
                seed,
                "--fast",
                "--state",
                &state,
            ])
            .good();
        assert!(holds(&made, &["--state", &state]) > 100);
    }
}
