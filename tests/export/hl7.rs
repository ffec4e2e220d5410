//! The batch of messages, read back by HAPI, which validates strictly, and by Python's `hl7`, which reads batches too.

use crate::harness::hapi::read_strictly;
use crate::harness::left_out::{in_a_hurry, installed};
use crate::harness::made::{DISCARDED, MONITOR, Made};
use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::fs;
use std::process::Command;

const WHAT: &str = "HL7 version 2 as HAPI reads it";

fn exported(made: &Made) -> String {
    made.home.run(&["export", "hl7", "--output", "out.hl7"]).good();
    made.home.path("out.hl7").to_str().unwrap().to_owned()
}

fn messages(made: &Made) -> Option<Vec<Value>> {
    let messages = read_strictly(&exported(made), WHAT)?;
    assert!(!messages.is_empty());
    for message in &messages {
        assert!(message.get("wrong").is_none(), "{message}");
    }
    Some(messages)
}

fn observation<'m>(message: &'m Value, code: &str) -> Option<&'m Value> {
    message["OBX"]
        .as_array()
        .unwrap()
        .iter()
        .find(|obx| obx["3-1"] == code)
}

/// `2026-03-01T07:02:11+01:00` as the standard writes it, in whole seconds.
fn stamp(moment: &Value) -> String {
    let digits = |text: &str| text.replace(['-', ':', 'T'], "");
    let moment = moment.as_str().unwrap();
    digits(&moment[..19]) + &moment[moment.len() - 6..].replace(':', "")
}

/// The systolic digits as they were sent, by the table that two other parsers hold to `readings`.
fn digits(made: &Made) -> Vec<(String, String)> {
    let table = made.home.run(&["export", "csv"]).good();
    let mut reader = csv::Reader::from_reader(table.as_bytes());
    let rows = reader.records().map(|row| {
        let row = row.unwrap();
        (row[0].to_owned(), row[7].to_owned())
    });
    rows.collect()
}

#[test]
fn a_strict_reader_finds_every_reading_that_is_released() {
    let made = Made::with_one_discarded();
    let Some(messages) = messages(&made) else { return };
    let (averages, readings): (Vec<&Value>, Vec<&Value>) = messages
        .iter()
        .partition(|message| message["OBR-4-1"] == "96607-7");
    assert_eq!(averages.len(), 1);
    let withdrawn = &made.readings[DISCARDED]["id"];
    let released: Vec<&Value> = made
        .readings
        .iter()
        .filter(|reading| reading["disposition"] != "set-aside" || reading["id"] == *withdrawn)
        .collect();
    assert!(
        released.len() < made.readings.len(),
        "some are set aside and not sent"
    );
    assert_eq!(readings.len(), released.len());
    let digits = digits(&made);
    for (message, reading) in readings.iter().zip(&released) {
        let id = reading["id"].as_str().unwrap();
        assert!(
            message["OBR-3-1"]
                .as_str()
                .unwrap()
                .starts_with(&format!("{id}."))
        );
        assert_eq!(message["OBR-7-1"], stamp(&reading["measured_at"]), "{id}");
        let status = if reading["id"] == *withdrawn { "W" } else { "F" };
        let systolic = observation(message, "150021").unwrap();
        assert_eq!(systolic["11"], status);
        assert_eq!(message["OBR-25"], if status == "W" { "C" } else { "F" });
        assert_eq!(systolic["3-4"], "8480-6");
        assert_eq!([&systolic["6-1"], &systolic["6-3"]], ["mm[Hg]", "UCUM"]);
        assert_eq!(systolic["14-1"], message["OBR-7-1"]);
        let sent = &digits.iter().find(|(name, _)| name == id).unwrap().1;
        if reading["unit"] == "mmHg" {
            assert_eq!(systolic["5"], **sent, "the digits that were sent");
        } else {
            assert_eq!(
                [&systolic["5"], &systolic["note"]],
                ["128", "Measured: 17.1 kPa."]
            );
        }
        let pulse = observation(message, "149546");
        assert_eq!(pulse.is_some(), reading["pulse_rate"].is_number(), "{id}");
        let monitor = observation(message, "528391").unwrap();
        assert_eq!([&monitor["11"], &monitor["18-4"]], ["X", "ISO"]);
    }
    // What each message says of itself, and its name once.
    let names: BTreeSet<&str> = messages
        .iter()
        .map(|message| message["MSH-10"].as_str().unwrap())
        .collect();
    assert_eq!(names.len(), messages.len());
    for message in &messages {
        assert!(
            message["MSH-10"].as_str().unwrap().len() <= 20,
            "chapter 2: MSH-10 has 20 characters"
        );
        assert!(message["MSH-4-1"].as_str().unwrap().len() <= 20, "table 0362");
        for (place, value) in [
            ("MSH-9-1", "ORU"),
            ("MSH-9-2", "R01"),
            ("MSH-9-3", "ORU_R01"),
            ("MSH-12-1", "2.5.1"),
            ("MSH-18", "UNICODE UTF-8"),
            ("PID-5-1-1", "asha"),
            ("PID-5-7", "D"),
        ] {
            assert_eq!(message[place], value);
        }
    }
}

/// HL7 v2.5.1 reserves OBX-20, where later versions have the site: it is said in words. What was on record before a reading
/// is no new message, and a note of its sitting is.
#[test]
fn how_it_was_measured_is_said_in_words() {
    let made = Made::new();
    let Some(bare) = messages(&made) else { return };
    let last = |message: &Value| message["notes"].as_array().unwrap().last().unwrap().clone();
    assert_eq!(last(&bare[0]), "Self-measured at home with an automatic monitor.");
    let arm = json!({"kind": "person-changed", "person": "asha", "changes": [{"arm": "left"}]});
    made.state_at("2026-03-02T00:00:00Z", &arm);
    let at = made.readings[27]["measured_at"].as_str().unwrap();
    made.home
        .run(&["note", "add", "arm", "right", "--person", "asha", "--at", at])
        .good();
    let told = messages(&made).unwrap();
    let of = |n: usize| (last(&told[n]), told[n]["MSH-10"] == bare[n]["MSH-10"]);
    assert_eq!(of(0), (last(&bare[0]), true));
    let on = |arm: &str| {
        json!(format!(
            "Self-measured at home with an automatic monitor, on the {arm} arm."
        ))
    };
    assert_eq!(of(10), (on("left"), true));
    assert_eq!(of(25), (on("right"), false), "the last reading");
}

#[test]
fn the_average_is_the_periods_with_its_rule_in_words() {
    let made = Made::new();
    let Some(messages) = messages(&made) else { return };
    let period = &made.home.run(&["period", "--json"]).objects()[0];
    let message = messages.last().unwrap();
    let tenths = |part: &str| format!("{:.1}", period["average"][part].as_f64().unwrap());
    for (code, part) in [("96608-5", "systolic"), ("96609-3", "diastolic")] {
        let mean = observation(message, code).unwrap();
        assert_eq!([&mean["5"], &mean["11"]], [tenths(part).as_str(), "F"]);
    }
    let note = message["notes"][0].as_str().unwrap();
    assert!(
        note.contains("Set aside") && note.ends_with("This is an average, not a diagnosis."),
        "{note}"
    );
    assert!(message["OBR-8-1"].as_str() > message["OBR-7-1"].as_str());
}

/// Two exports name each message alike, so that a receiver can tell what it has; what changes is named anew.
#[test]
fn a_message_keeps_its_name_until_it_says_something_else() {
    if in_a_hurry("the names of messages over time") {
        return;
    }
    let made = Made::new();
    let names = |made: &Made| -> Option<Vec<(String, String)>> {
        let text = |value: &Value| value.as_str().unwrap().to_owned();
        let messages = messages(made)?;
        Some(
            messages
                .iter()
                .map(|m| (text(&m["OBR-3-1"]), text(&m["MSH-10"])))
                .collect(),
        )
    };
    let Some(before) = names(&made) else { return };
    // What somebody is called is no other result.
    made.home
        .run(&["people", "edit", "asha", "--label", "Asha"])
        .good();
    assert_eq!(before, names(&made).unwrap());
    let id = made.readings[DISCARDED]["id"].as_str().unwrap();
    made.home
        .run(&["readings", "discard", id, "--reason", "a guest"])
        .good();
    let after = names(&made).unwrap();
    let changed: Vec<&str> = before
        .iter()
        .zip(&after)
        .filter(|(before, after)| {
            assert_eq!(before.0, after.0, "the orders keep their numbers");
            before.1 != after.1
        })
        .map(|(before, _)| before.0.as_str())
        .collect();
    // The other reading of its sitting is a lone one now, which its message says.
    assert_eq!(changed.len(), 3, "{changed:?}");
    assert!(changed.iter().any(|name| name.starts_with(id)), "{changed:?}");
    assert!(changed[2].starts_with("average-"), "{changed:?}");
}

#[test]
fn what_separates_is_text_and_the_clinics_identifier_is_the_clinics() {
    let made = Made::new();
    let label = "आशा |^&~\\ \\F\\ <Co>";
    made.home
        .run(&[
            "people",
            "edit",
            "asha",
            "--label",
            label,
            "--born",
            "1950-03-04",
            "--record-number",
            "7|8",
        ])
        .good();
    let Some(found) = messages(&made) else { return };
    let first = &found[0];
    assert_eq!([&first["PID-5-1-1"], &first["PID-7-1"]], [label, "19500304"]);
    assert_eq!([&first["PID-3-5"], &first["PID-3(1)-1"]], ["PI", "7|8"]);
    made.home.file(
        ".config/quietcuff/quietcuff.toml",
        "[hl7]\nsending-facility = \"HOME7\"\nreceiving-application = \"RESULTS\"\nreceiving-facility = \"CLINIC^1.2.3^ISO\"\n\
         [hl7.patients]\nasha = \"1234^^^CLINIC&1.2.3&ISO^MR\"\n",
    );
    let Some(found) = messages(&made) else { return };
    for (place, value) in [
        ("MSH-4-1", json!("HOME7")),
        ("MSH-5-1", json!("RESULTS")),
        ("MSH-6-1", json!("CLINIC")),
        ("MSH-6-2", json!("1.2.3")),
        ("PID-3-1", json!("1234")),
        ("PID-3-4-1", json!("CLINIC")),
        ("PID-3-5", json!("MR")),
        ("PID-3(1)-1", Value::Null),
    ] {
        assert_eq!(found[0][place], value, "{place}");
    }
    // A number is known of the monitor: its own name, as IEEE has it.
    assert_eq!(
        found[0]["OBX"][0]["18-1"].as_str().unwrap().len(),
        "monitor-".len() + 32
    );
    assert!(!found[0].to_string().contains(&MONITOR.replace(':', "")));
    made.home.file(
        ".config/quietcuff/quietcuff.toml",
        "[hl7.patients]\nnobody = \"1\"\n",
    );
    made.home
        .run(&["export", "hl7"])
        .failed(78, &["hl7.patients names nobody"]);
}

const BY_PYTHON: &str = "
import hl7, json, sys
file = hl7.parse_file(open(sys.argv[1], encoding='utf-8', newline='').read())
batch = file[0]
print(json.dumps({'file': str(file.trailer), 'batch': str(batch.trailer), 'of': str(file.header.segment_type if hasattr(file.header, 'segment_type') else file.header[0]),
    'names': [str(m.segment('MSH')[10]) for m in batch], 'who': [m.unescape(str(m.segment('PID')[5][0][0])) for m in batch]}))
";

/// The batch is one, counts what is in it, and a second reader finds the same messages.
#[test]
fn a_second_reader_finds_the_batch_and_its_count() {
    let made = Made::new();
    let label = "आशा |^&~\\";
    made.home
        .run(&["people", "edit", "asha", "--label", label])
        .good();
    let file = exported(&made);
    let text = fs::read_to_string(&file).unwrap();
    assert!(
        !text.contains('\n'),
        "a segment ends in a carriage return and nothing else"
    );
    assert!(text.starts_with("FHS|^~\\&|quietcuff^") && text.ends_with("\rFTS|1\r"));
    let Some(python) = installed("hapi/venv", "HL7 as Python's hl7 reads it") else {
        return;
    };
    let output = Command::new(python.join("bin/python"))
        .args(["-c", BY_PYTHON, &file])
        .output()
        .unwrap();
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    let read: Value = serde_json::from_slice(&output.stdout).unwrap();
    let names = read["names"].as_array().unwrap();
    assert_eq!(read["batch"], format!("BTS|{}", names.len()));
    assert_eq!(read["file"], "FTS|1");
    assert_eq!(names.len(), text.matches("\rMSH|").count());
    assert_eq!(read["who"][0], label);
    if let Some(messages) = messages(&made) {
        let by_hapi: Vec<&Value> = messages.iter().map(|message| &message["MSH-10"]).collect();
        assert_eq!(names.iter().collect::<Vec<_>>(), by_hapi);
    }
}

/// The strict reader can find fault: each of these is one fault of a good file.
#[test]
fn what_is_wrong_is_found() {
    if in_a_hurry("faults in a message of HL7 v2") {
        return;
    }
    let made = Made::new();
    let file = exported(&made);
    let good = fs::read_to_string(&file).unwrap();
    let wrong = |from: &str, to: &str| -> Option<usize> {
        assert!(good.contains(from), "{from}");
        let path = made.home.file("wrong.hl7", good.replacen(from, to, 1));
        let read = read_strictly(&path, WHAT)?;
        Some(
            read.iter()
                .filter(|message| message.get("wrong").is_some())
                .count(),
        )
    };
    for (from, to) in [
        ("|130.0|", "|a lot|"),
        ("|2.5.1|", "|2.9.9|"),
        ("|20260301070211+0100", "|2026-03-01T07:02"),
        ("\rOBR|", "\rOBY|"),
        ("\rOBX|3|NM|", "\rOBX|3|XX|"),
    ] {
        let Some(found) = wrong(from, to) else { return };
        assert_eq!(found, 1, "{from} becomes {to}");
    }
}

#[test]
fn where_nothing_is_there_the_batch_is_empty_and_it_is_said() {
    let made = Made::of(&[]);
    let ran = made.home.run(&["export", "hl7"]);
    assert!(ran.err.contains("there is no reading to export"), "{ran:?}");
    let text = ran.good();
    assert!(text.ends_with("\rBTS|0\rFTS|1\r"), "{text}");
}
