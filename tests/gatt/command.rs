//! `quietcuff decode`, as scripts run it.

use crate::gatt::corpus::{Example, examples};
use std::io::Write;
use std::process::{Command, Output, Stdio};

/// Bad input data, as the contract numbers it.
const DATA: i32 = 65;

fn decode(arguments: &[&str], input: &[u8]) -> Output {
    let mut child = Command::new(env!("CARGO_BIN_EXE_quietcuff"))
        .arg("decode")
        .args(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut stdin = child.stdin.take().unwrap();
    let input = input.to_vec();
    let writing = std::thread::spawn(move || stdin.write_all(&input));
    let output = child.wait_with_output().unwrap();
    // A command that was given its frames as arguments does not read.
    let _ = writing.join().unwrap();
    output
}

fn lines(output: &Output) -> Vec<&str> {
    std::str::from_utf8(&output.stdout).unwrap().lines().collect()
}

/// As arguments and as lines: the same objects, in order, one for every frame.
#[test]
fn every_frame_of_the_corpus_both_ways() {
    let examples = examples();
    let arguments: Vec<_> = examples.iter().map(Example::argument).collect();
    let mut as_arguments = vec!["--json"];
    as_arguments.extend(arguments.iter().map(String::as_str));
    let input: String = arguments
        .iter()
        .map(|argument| argument.replace(':', " ") + "\n")
        .collect();

    let given = decode(&as_arguments, b"");
    let read = decode(&["--json"], input.as_bytes());
    assert_eq!(given.stdout, read.stdout);
    assert_eq!(
        (given.status.code(), read.status.code()),
        (Some(DATA), Some(DATA))
    );
    assert!(given.stderr.is_empty() && read.stderr.is_empty());

    let objects = lines(&given);
    assert_eq!(objects.len(), examples.len());
    for (object, example) in objects.iter().zip(&examples) {
        match &example.expected {
            Some(expected) => assert_eq!(*object, expected.get(), "{}", example.id),
            None => {
                let characteristic = example.characteristic();
                let start =
                    format!("{{\"characteristic\":\"{characteristic}\",\"error\":\"the value ends inside ");
                assert!(object.starts_with(&start), "{object}");
            }
        }
    }
}

#[test]
fn good_frames_leave_with_zero() {
    let output = decode(&["--json", "2a19:64"], b"");
    assert_eq!(output.status.code(), Some(0));
    assert_eq!(lines(&output), ["{\"characteristic\":\"2a19\",\"level\":100}"]);
    assert_eq!(decode(&["--json"], b"").status.code(), Some(0));
    assert_eq!(decode(&["--json"], b"\n  \n\r\n").status.code(), Some(0));
}

/// What nobody should send: each gets its object, and the next frame is decoded all the same.
#[test]
fn hostile_lines() {
    let mut input = b"2a19 6\n2a19 zz\nnonsense 64\n64\n2a19\n\xff\xfe\x00\nfff0 00\n2a24 ff\n".to_vec();
    input.extend(b"2a35 ");
    input.extend(b"00".repeat(100_000));
    input.extend(b"\n2a19 64");
    let output = decode(&["--json"], &input);
    assert_eq!(output.status.code(), Some(DATA));
    let objects: Vec<serde_json::Value> = lines(&output)
        .iter()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect();
    let expected = [
        (Some("2a19"), "half an octet"),
        (Some("2a19"), "'z' is not a hexadecimal digit"),
        (None, "\"nonsense\" is not a characteristic"),
        (None, "\"64\" is not a characteristic"),
        (Some("2a19"), "ends inside level"),
        (None, "not UTF-8"),
        (Some("fff0"), "no decoder"),
        (Some("2a24"), "not UTF-8 from octet 0"),
        (None, "longer than 4096"),
    ];
    assert_eq!(objects.len(), expected.len() + 1);
    for (object, (characteristic, error)) in objects.iter().zip(expected) {
        assert_eq!(object["characteristic"].as_str(), characteristic, "{object}");
        assert!(object["error"].as_str().unwrap().contains(error), "{object}");
    }
    assert_eq!(objects.last().unwrap()["level"], 100);
}

#[test]
fn for_a_person_every_octet_is_on_a_line_with_its_meaning() {
    let output = decode(&["2a35:1e78005000ff07ea07030107020b480001", "2a24:1b5b324a"], b"");
    assert_eq!(output.status.code(), Some(DATA));
    assert_eq!(
        lines(&output),
        [
            "2a35 Blood Pressure Measurement, 17 octets",
            "  0      1e                flags                  mmHg, time stamp, pulse rate, user id, status",
            "  1-2    7800              systolic               120 mmHg",
            "  3-4    5000              diastolic              80 mmHg",
            "  5-6    ff07              mean arterial pressure no value (NaN)",
            "  7-13   ea07030107020b    time stamp             2026-03-01T07:02:11",
            "  14-15  4800              pulse rate             72 beats a minute",
            "  16     01                user id                1",
            "  error: the value ends inside measurement status: wanted from octet 17 on: 2; there: 0",
            "",
            "2a24 Model Number String, 4 octets",
            "  0-3    1b5b324a          text                   \u{fffd}[2J",
            "",
        ]
    );
}

/// As `quietcuff decode | head -1` does: no complaint, no failure.
#[test]
fn a_reader_that_has_had_enough() {
    let mut child = Command::new(env!("CARGO_BIN_EXE_quietcuff"))
        .args(["decode", "--json"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let _ = child
        .stdin
        .take()
        .unwrap()
        .write_all(&b"2a19 64\n".repeat(100_000));
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(0));
    assert!(
        output.stderr.is_empty(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
}

#[test]
fn a_wrong_option_is_usage() {
    assert_eq!(decode(&["--jsn"], b"").status.code(), Some(64));
}
