//! The table, read back by the crate `csv` and by Python's module `csv`, neither of which wrote it.

use crate::harness::left_out::program;
use crate::harness::made::{DISCARDED, Made};
use serde_json::Value;
use std::io::Write;
use std::process::{Command, Stdio};

const BY_PYTHON: &str = "
import csv, io, json, sys
text = io.TextIOWrapper(sys.stdin.buffer, encoding='utf-8', newline='')
print(json.dumps(list(csv.DictReader(text, strict=True))))
";

fn by_crate(table: &str) -> Vec<Value> {
    let mut reader = csv::ReaderBuilder::new()
        .flexible(false)
        .from_reader(table.as_bytes());
    let header = reader.headers().unwrap().clone();
    reader
        .records()
        .map(|record| {
            let record = record.unwrap();
            header
                .iter()
                .zip(record.iter())
                .map(|(name, cell)| (name.to_owned(), Value::from(cell)))
                .collect::<serde_json::Map<_, _>>()
                .into()
        })
        .collect()
}

fn by_python(table: &str) -> Option<Vec<Value>> {
    if !program("python3", "a table beside Python's csv") {
        return None;
    }
    let mut child = Command::new("python3")
        .args(["-c", BY_PYTHON])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut stdin = child.stdin.take().unwrap();
    let table = table.to_owned();
    let writing = std::thread::spawn(move || stdin.write_all(table.as_bytes()));
    let output = child.wait_with_output().unwrap();
    writing.join().unwrap().unwrap();
    assert!(output.status.success());
    Some(serde_json::from_slice(&output.stdout).unwrap())
}

#[test]
fn two_parsers_read_what_readings_lists() {
    let made = Made::with_one_discarded();
    let table = made.home.run(&["export", "csv"]).good();
    let rows = by_crate(&table);
    if let Some(python) = by_python(&table) {
        assert_eq!(rows, python);
    }
    assert_eq!(rows.len(), made.readings.len());
    for (row, reading) in rows.iter().zip(&made.readings) {
        for key in [
            "id",
            "person",
            "measured_at",
            "time_source",
            "disposition",
            "unit",
            "session",
            "monitor",
        ] {
            assert_eq!(row[key], reading[key], "{key} of {reading}");
        }
        let reasons: Vec<&str> = row["reasons"].as_str().unwrap().split_whitespace().collect();
        assert_eq!(Value::from(reasons), reading["reasons"]);
        for key in ["systolic", "diastolic", "mean_arterial_pressure", "pulse_rate"] {
            let cell = row[key].as_str().unwrap();
            match reading.get(key).and_then(Value::as_f64) {
                Some(number) => assert_eq!(cell.parse(), Ok(number), "{key} of {reading}"),
                None => assert_eq!(cell, "", "{key} of {reading}"),
            }
        }
    }
    assert_eq!(rows[0]["systolic"], "130.0", "the digits that were sent");
    assert_eq!(rows[14]["systolic"], "17.1");
    assert_eq!(rows[14]["systolic_mmhg"], "128.26");
    for row in rows.iter().filter(|row| row["unit"] == "mmHg") {
        for part in ["systolic", "diastolic"] {
            assert_eq!(row[format!("{part}_mmhg")], row[part], "{row}");
        }
    }
    assert_eq!(
        rows[DISCARDED]["discarded_because"],
        "a guest measured, \"just once\""
    );
    assert_eq!(rows[12]["reasons"], "no-value");
}

/// RFC 4180: lines end in CR LF, the last too, and each has as many fields as the header.
#[test]
fn lines_end_as_the_standard_has_it() {
    let made = Made::new();
    let table = made.home.run(&["export", "csv"]).good();
    assert!(table.ends_with("\r\n"));
    assert_eq!(table.matches('\n').count(), table.matches("\r\n").count());
    assert_eq!(table.matches("\r\n").count(), 29);
}

#[test]
fn words_of_a_person_are_text_in_every_spreadsheet() {
    let made = Made::new();
    for (n, words) in ["=1+1", "+1", "-1", "@A1", "a,b\"c", "zwei\u{a0}Wörter"]
        .iter()
        .enumerate()
    {
        let id = made.readings[n]["id"].as_str().unwrap();
        made.home
            .run(&["readings", "discard", id, &format!("--reason={words}")])
            .good();
        let table = made.home.run(&["export", "csv"]).good();
        let cell = by_crate(&table)[n]["discarded_because"]
            .as_str()
            .unwrap()
            .to_owned();
        let first = cell.chars().next().unwrap();
        assert!(!"=+-@\t\r".contains(first), "{cell}");
        assert_eq!(cell.trim_start_matches('\''), *words);
        if let Some(python) = by_python(&table) {
            assert_eq!(python[n]["discarded_because"], cell.as_str());
        }
    }
}

#[test]
fn days_and_people_are_chosen_as_elsewhere() {
    let made = Made::new();
    let two = made
        .home
        .run(&[
            "export",
            "csv",
            "--person",
            "asha",
            "--from",
            "2026-03-02",
            "--to",
            "2026-03-03",
        ])
        .good();
    assert_eq!(by_crate(&two).len(), 8);
    let ran = made.home.run(&["export", "csv", "--from", "2027-01-01"]);
    assert!(ran.err.contains("no reading to export"), "{}", ran.err);
    assert_eq!(by_crate(&ran.good()).len(), 0);
}
