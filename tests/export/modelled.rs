//! What a reading becomes, one property at a time.

use crate::export::layers::resources_as_written;
use crate::harness::command::Home;
use crate::harness::left_out::program;
use crate::harness::made::{DISCARDED, MONITOR, Made, Sent, entries, sent, sfloat};
use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::process::Command;

fn id(reading: &Value) -> &str {
    reading["id"].as_str().unwrap()
}

fn note(resource: &Value) -> String {
    let notes = resource["note"].as_array().map_or(&[][..], Vec::as_slice);
    notes
        .iter()
        .map(|note| note["text"].as_str().unwrap())
        .collect::<Vec<_>>()
        .join(" ")
}

#[test]
fn each_counted_reading_is_there_once_and_no_other() {
    let made = Made::new();
    let resources = made.by_name(&[]);
    let mut counted = 0;
    for reading in &made.readings {
        let there = resources.contains_key(id(reading));
        assert_eq!(there, reading["disposition"] != "set-aside", "{reading}");
        counted += usize::from(there);
    }
    assert_eq!(counted, 26, "28, one that moved and one without a value");
    let panels = resources
        .values()
        .filter(|r| r["code"]["text"] == "Blood pressure");
    assert_eq!(panels.count(), counted);
    for (name, resource) in &resources {
        if let Some(of) = name.strip_suffix("-pulse") {
            assert_eq!(resource["effectiveDateTime"], resources[of]["effectiveDateTime"]);
            assert_eq!(resource["device"], resources[of]["device"]);
        }
    }
    // 26 less one whose monitor gave none and one whose pulse is not a number.
    assert_eq!(
        resources.keys().filter(|name| name.ends_with("-pulse")).count(),
        24
    );
}

#[test]
fn numbers_have_the_digits_that_were_sent() {
    let made = Made::new();
    let text = made.home.run(&["export", "fhir"]).good();
    let written = resources_as_written(&text);
    let of = |n: usize| {
        let name = format!("\"value\":\"{}\"", id(&made.readings[n]));
        written
            .iter()
            .find(|resource| resource.contains(&name))
            .unwrap()
            .clone()
    };
    assert!(
        of(0).contains("\"valueQuantity\":{\"value\":130.0,\"unit\":\"mmHg\""),
        "{}",
        of(0)
    );
    assert!(of(2).contains("{\"value\":93.3,"), "{}", of(2));
    assert!(of(0).contains("{\"value\":81,"), "{}", of(0));
}

#[test]
fn a_measurement_without_a_mean_or_a_pulse_has_none() {
    let made = Made::new();
    let resources = made.by_name(&[]);
    assert_eq!(
        resources[id(&made.readings[0])]["component"]
            .as_array()
            .unwrap()
            .len(),
        2
    );
    assert_eq!(
        resources[id(&made.readings[2])]["component"]
            .as_array()
            .unwrap()
            .len(),
        3
    );
    for n in [6, 10] {
        assert!(!resources.contains_key(&format!("{}-pulse", id(&made.readings[n]))));
    }
}

/// 1 mmHg is 133.322387415 Pa, so 17.1 kPa are 128.26 and 11.3 kPa are 84.76 mmHg.
#[test]
fn kilopascals_become_whole_millimetres_with_what_was_sent_beside_them() {
    let made = Made::new();
    let panel = &made.by_name(&[])[id(&made.readings[14])];
    let values: Vec<(&Value, &Value)> = panel["component"]
        .as_array()
        .unwrap()
        .iter()
        .map(|component| {
            let quantity = &component["valueQuantity"];
            assert_eq!(quantity["code"], "mm[Hg]");
            assert_eq!(quantity["extension"][0]["valueQuantity"]["code"], "kPa");
            (
                &quantity["value"],
                &quantity["extension"][0]["valueQuantity"]["value"],
            )
        })
        .collect();
    assert_eq!(values[0], (&json!(128), &json!(17.1)));
    assert_eq!(values[1], (&json!(85), &json!(11.3)));
    assert_eq!(values[2], (&json!(99), &json!(13.2)));
    assert!(note(panel).contains("kPa"));
}

#[test]
fn flags_are_those_that_the_monitor_set() {
    let made = Made::new();
    let resources = made.by_name(&[]);
    let flags = |n: usize| -> Vec<String> {
        let status = &resources[&format!("{}-status", id(&made.readings[n]))];
        let components = status["component"].as_array().unwrap();
        components
            .iter()
            .map(|component| {
                component["code"]["coding"][0]["code"]
                    .as_str()
                    .unwrap()
                    .to_owned()
            })
            .collect()
    };
    assert_eq!(flags(4), ["8410608.2"]);
    assert_eq!(flags(18), ["8410608.2", "8410608.3"]);
    assert_eq!(
        resources.keys().filter(|name| name.ends_with("-status")).count(),
        2
    );
    assert!(note(&resources[id(&made.readings[4])]).contains("The monitor reported: irregular pulse."));
}

#[test]
fn how_the_time_is_known_is_said_where_it_is_not_the_monitors() {
    let made = Made::new();
    let panel = &made.by_name(&[])[id(&made.readings[16])];
    assert!(note(panel).contains("The monitor sent no time"), "{panel}");

    let demo = Home::new();
    demo.run(&["demo", "--until", "2026-03-29", "--fast", "--state", "demo"])
        .good();
    let readings = demo.run(&["readings", "--json", "--state", "demo"]).objects();
    let text = demo.run(&["export", "fhir", "--state", "demo"]).good();
    let mut corrected = 0;
    for reading in readings.iter().filter(|r| r["disposition"] != "set-aside") {
        let seconds = reading["time_correction_s"].as_i64().unwrap();
        let name = format!("\"value\":\"{}\"", id(reading));
        let written = resources_as_written(&text);
        let panel = written.iter().find(|resource| resource.contains(&name)).unwrap();
        assert_eq!(panel.contains("Time corrected:"), seconds != 0, "{panel}");
        assert!(panel.contains(&format!("\"effectiveDateTime\":{}", reading["measured_at"])));
        if seconds != 0 {
            corrected += 1;
            assert!(panel.contains(&format!("{} s were", seconds.abs())), "{panel}");
        }
    }
    assert!(corrected > 0);
}

#[test]
fn the_average_is_that_of_the_period_and_says_what_is_not_in_it() {
    let made = Made::new();
    let period = made
        .home
        .run(&["period", "--person", "asha", "--json"])
        .objects()
        .remove(0);
    let resources = made.by_name(&[]);
    let average = resources
        .values()
        .find(|r| r["code"]["text"] == "Average home blood pressure")
        .unwrap();
    for (n, pressure) in ["systolic", "diastolic"].iter().enumerate() {
        let exact = period["average"][pressure].as_f64().unwrap();
        let written = average["component"][n]["valueQuantity"]["value"]
            .as_f64()
            .unwrap();
        assert!((exact - written).abs() <= 0.050_000_001, "{exact} {written}");
    }
    assert_eq!(average["extension"][0]["valueInteger"], period["average"]["n"]);
    let first = &made.readings[0]["measured_at"];
    let last = &made.readings[27]["measured_at"];
    assert_eq!(average["effectivePeriod"], json!({"start": first, "end": last}));
    let of: BTreeSet<&str> = average["derivedFrom"]
        .as_array()
        .unwrap()
        .iter()
        .map(|reference| reference["reference"].as_str().unwrap())
        .collect();
    assert_eq!(of.len(), 26);
    let said = note(average);
    for words in [
        "Average of 26 self-measured readings on 7 days, 2026-03-01 to 2026-03-07.",
        "Protocol seven-day",
        "Rule: the mean of every seated reading of the sessions that counts; the first day is included",
        "not in the average: 2 (body movement 1, no value 1)",
        "irregular pulse 2",
        "not a diagnosis",
    ] {
        assert!(said.contains(words), "{words:?} is not in {said}");
    }
}

#[test]
fn too_few_readings_give_no_average_and_a_sentence() {
    let made = Made::of(&sent()[..8]);
    let ran = made.home.run(&["export", "fhir"]);
    assert!(
        ran.err.contains("no average of asha") && ran.err.contains(" of 12 readings"),
        "{}",
        ran.err
    );
    assert!(!ran.good().contains("96607-7"));
}

#[test]
fn days_that_are_asked_for_are_the_days_of_the_average() {
    let made = Made::new();
    let lines = made.lines(&["--from", "2026-03-02", "--to", "2026-03-06"]);
    let panels = lines
        .iter()
        .filter(|r| r["code"]["text"] == "Blood pressure")
        .count();
    let average = lines
        .iter()
        .find(|r| r["code"]["text"] == "Average home blood pressure")
        .unwrap();
    assert_eq!(average["derivedFrom"].as_array().unwrap().len(), panels);
    let ids: BTreeSet<String> = lines
        .iter()
        .map(|r| format!("Observation/{}", r["id"].as_str().unwrap()))
        .collect();
    for reference in average["derivedFrom"].as_array().unwrap() {
        assert!(ids.contains(reference["reference"].as_str().unwrap()));
    }
    assert!(note(average).contains("2026-03-02 to 2026-03-06"));
}

#[test]
fn a_withdrawn_reading_replaces_what_may_have_been_sent() {
    let before = Made::new();
    let after = Made::with_one_discarded();
    let withdrawn = id(&after.readings[DISCARDED]).to_owned();
    let bundle = after.bundle(&[]);
    let of_it: Vec<&Value> = entries(&bundle)
        .iter()
        .filter(|entry| {
            let name = entry["resource"]["identifier"][0]["value"].as_str().unwrap();
            name.starts_with(&withdrawn)
        })
        .collect();
    assert_eq!(of_it.len(), 2, "the panel and its pulse");
    for entry in of_it {
        assert_eq!(entry["resource"]["status"], "entered-in-error");
        assert_eq!(entry["request"]["method"], "PUT");
    }
    let panel = &after.by_name(&[])[&withdrawn];
    assert!(note(panel).contains("Withdrawn by the household: a guest measured, \"just once\""));
    assert_eq!(panel["component"], before.by_name(&[])[&withdrawn]["component"]);
    let count = |made: &Made| {
        made.by_name(&[])
            .values()
            .find_map(|r| r["extension"][0]["valueInteger"].as_i64())
            .unwrap()
    };
    assert_eq!(count(&after), count(&before) - 1);
    // One that was set aside anyway was never sent, and is not sent now.
    let moved = id(&before.readings[8]);
    before
        .home
        .run(&["readings", "discard", moved, "--reason", "moved"])
        .good();
    assert!(!before.by_name(&[]).contains_key(moved));
}

/// By another XML parser: each text is one element of XHTML with paragraphs and nothing else, and says what stands beside
/// it; what nobody may use says so first.
#[test]
fn what_is_said_as_text_is_what_stands_beside_it() {
    if !program("python3", "narratives by an XML parser") {
        return;
    }
    let made = Made::with_one_discarded();
    let hostile = "</div><script>x</script> & Co";
    made.home
        .run(&["people", "edit", "asha", "--label", hostile])
        .good();
    let said = |more: &str| {
        let config = made
            .home
            .file("said.toml", format!("[fhir]\nnarrative = true\n{more}"));
        made.lines(&["--sheet", "--config", &config])
    };
    let parsed = |resource: &Value| -> Vec<String> {
        let program = "import sys, json, xml.etree.ElementTree as x; d = x.fromstring(sys.argv[1]); \
                       n = '{http://www.w3.org/1999/xhtml}'; assert d.tag == n + 'div' and not d.attrib; \
                       assert all(p.tag == n + 'p' and not len(p) and not p.attrib for p in d); \
                       print(json.dumps([p.text for p in d]))";
        let div = resource["text"]["div"].as_str().unwrap();
        let ran = Command::new("python3")
            .args(["-c", program, div])
            .output()
            .unwrap();
        assert!(ran.status.success(), "{ran:?}: {div}");
        serde_json::from_slice(&ran.stdout).unwrap()
    };
    let lines = said("");
    let mut kinds = BTreeSet::new();
    for one in &lines {
        let kind = one["resourceType"].as_str().unwrap();
        if !matches!(kind, "Observation" | "DocumentReference") {
            assert!(one["text"].is_null(), "{one}");
            continue;
        }
        let what = one["code"]["text"].as_str().unwrap_or(kind);
        // Of many that are alike one is enough.
        let same = (
            what.to_owned(),
            one["status"].to_string(),
            one["component"][0]["valueQuantity"]["extension"].is_null(),
        );
        if !kinds.insert(same) {
            continue;
        }
        let mut said = parsed(one);
        if one["status"] == "entered-in-error" {
            assert_eq!(said.remove(0), "Entered in error: not to be used.");
        }
        assert!(said[0].contains(hostile), "{said:?}");
        if let Some(at) = one["effectiveDateTime"].as_str() {
            let (day, time) = at.split_once('T').unwrap();
            assert!(
                said[0].starts_with(what) && said[0].contains(&format!("{day} {}", &time[..8])),
                "{said:?}"
            );
        }
        for component in one["component"].as_array().into_iter().flatten() {
            let name = component["code"]["text"].as_str().unwrap_or_default();
            let value = component["valueQuantity"]["value"]
                .as_number()
                .map(ToString::to_string);
            assert!(said[1].contains(name), "{said:?}: {name}");
            assert!(
                said[1].contains(&value.unwrap_or_default()),
                "{said:?}: {component}"
            );
        }
        for note in one["note"].as_array().into_iter().flatten() {
            assert!(
                said.iter().any(|line| line.as_str() == note["text"]),
                "{said:?}: {note}"
            );
        }
    }
    assert!(kinds.len() > 6, "{kinds:?}");
    // Whom the clinic has a record of, it knows; the household's word for them stays at home.
    let known = said("[fhir.patients]\nasha = \"Patient/a-1\"\n");
    assert!(known.iter().any(|one| one["text"]["div"].is_string()));
    assert!(
        known
            .iter()
            .all(|one| !one["text"].to_string().contains("script")),
        "the label"
    );
    assert!(made.lines(&["--sheet"]).iter().all(|one| one["text"].is_null()));
}

/// Two homes that heard the same monitor, one of them a second later and in other batches.
#[test]
fn two_gateways_say_the_same() {
    let one = Made::new();
    let mut frames: Vec<String> = sent()
        .iter()
        .map(|sent| sent.line().replace(".250+", ".900+"))
        .collect();
    // Without a stamp a record is named by its receipt; that one two gateways cannot know to be the same,
    // and its session is another without it.
    frames.drain(16..18);
    frames.reverse();
    let home = Home::new();
    let file = home.file("other.jsonl", frames.join("\n") + "\n");
    home.run(&["replay", &file, "--person", "asha", "--time-zone=+01:00"])
        .good();
    let other = Made {
        home,
        readings: Vec::new(),
    };
    let (one, other) = (one.by_name(&[]), other.by_name(&[]));
    let mut same = 0;
    // Each says which gateway it is, and nothing else differs.
    let without_gateway = |resource: &Value| {
        let mut resource = resource.clone();
        if let Some(extensions) = resource["extension"].as_array_mut() {
            extensions.retain(|one| {
                !one["url"]
                    .as_str()
                    .unwrap()
                    .ends_with("/observation-gatewayDevice")
            });
        }
        resource
    };
    for (name, resource) in &other {
        if !name.starts_with("average-") && !name.starts_with("gateway-") {
            assert_eq!(without_gateway(resource), without_gateway(&one[name]), "{name}");
            same += 1;
        }
    }
    assert!(same > 50, "{same}");
}

#[test]
fn the_same_journal_gives_the_same_bytes() {
    let made = Made::with_one_discarded();
    for form in [
        &["export", "fhir"][..],
        &["export", "fhir", "--ndjson"],
        &["export", "csv"],
    ] {
        assert_eq!(made.home.run(form).good(), made.home.run(form).good());
    }
}

#[test]
fn switches_leave_out_what_they_name() {
    let made = Made::new();
    let text = |config: &str| {
        let file = made.home.file("fhir.toml", format!("[fhir]\n{config}\n"));
        made.home.run(&["export", "fhir", "--config", &file]).good()
    };
    let every = text("snomed = true\nprofiles = \"self-measured\"");
    for (words, switched) in [
        (
            "cardx-htn-mng/StructureDefinition/self-measured-bp",
            "profiles = \"core\"",
        ),
        ("StructureDefinition/bp\"", "profiles = \"none\"\nsnomed = true"),
        (
            "urn:iso:std:iso:11073:10101",
            "device-codes = false\nsnomed = true",
        ),
        ("http://snomed.info/sct", ""),
    ] {
        assert!(every.contains(words), "{words}");
        assert!(
            !text(switched).contains(words),
            "{words} is there with {switched}"
        );
    }
    assert!(text("profiles = \"core\"").contains("StructureDefinition/bp\""));
    // Without its codes a flag is still said in words.
    assert!(text("device-codes = false").contains("The monitor reported: irregular pulse."));
}

#[test]
fn a_person_is_the_clinics_where_the_clinic_said_so() {
    let made = Made::new();
    let file = made
        .home
        .file("fhir.toml", "[fhir.patients]\nasha = \"Patient/a-1\"\n");
    let bundle = made.bundle(&["--config", &file]);
    for entry in entries(&bundle) {
        let resource = &entry["resource"];
        assert_ne!(resource["resourceType"], "Patient");
        if resource["resourceType"] == "Observation" {
            assert_eq!(resource["subject"]["reference"], "Patient/a-1");
        }
    }
    let file = made
        .home
        .file("fhir.toml", "[fhir.patients]\nashe = \"Patient/a-1\"\n");
    made.home
        .run(&["export", "fhir", "--config", &file])
        .failed(78, &["ashe", "nobody is called so"]);
}

/// The word `asha` is some other person's in another home.
#[test]
fn two_homes_with_one_word_are_two_patients() {
    let patient = |made: &Made| {
        made.by_name(&[])
            .into_iter()
            .find_map(|(name, r)| (r["resourceType"] == "Patient").then_some(name))
            .unwrap()
    };
    let here = patient(&Made::new());
    let mut elsewhere = sent();
    for sent in &mut elsewhere {
        sent.monitor = "C0:FF:EE:00:00:09";
    }
    assert_ne!(here, patient(&Made::of(&elsewhere)));
    assert_eq!(here, patient(&Made::of(&sent()[..4])));
}

#[test]
fn nobodys_readings_stay_at_home() {
    let home = Home::new();
    let line = Sent::new("2026-03-01T07:02:11", 1, sfloat(1_300, -1), 80).line();
    let file = home.file("frames.jsonl", line + "\n");
    home.run(&["replay", &file, "--time-zone=+01:00"]).good();
    let ran = home.run(&["export", "fhir"]);
    for words in ["there is no reading to export", "1 are nobody's yet"] {
        assert!(ran.err.contains(words), "{}", ran.err);
    }
    assert_eq!(
        ran.good().trim(),
        "{\"resourceType\":\"Bundle\",\"type\":\"transaction\"}"
    );
    // The table has it all the same, and the monitor's address is in neither as it is.
    let table = home.run(&["export", "csv"]).good();
    assert_eq!(table.lines().count(), 2);
    assert!(!table.contains(MONITOR));
}

/// On which arm and with which cuff is what was on record then, or what was noted of the sitting. Codes are those of
/// HL7's table 0163, which needs no licence; SNOMED's those of R4's own example of a blood pressure.
#[test]
fn where_the_cuff_was_is_said_as_it_was_stated_then() {
    let made = Made::new();
    let whole = |made: &Made| made.home.run(&["export", "fhir"]).good();
    let bare = made.by_name(&[]);
    for (name, resource) in &bare {
        assert_eq!(resource.get("bodySite"), None, "{name}");
        let code = &resource["code"]["text"];
        let measured = code == "Blood pressure" || code == "Pulse";
        let method = measured.then(|| json!({"text": "Self-measured at home with an automatic monitor"}));
        assert_eq!(resource.get("method"), method.as_ref(), "{name}");
    }
    made.state_at(
        "2026-03-03T00:00:00Z",
        &json!({"kind": "person-changed", "person": "asha", "changes": [{"arm": "left"}]}),
    );
    let address = json!({"kind": "monitor", "monitor": "c0ffee000001", "address": MONITOR, "site": "upper-arm",
        "cuff-min-mm": 220, "cuff-max-mm": 320});
    made.state_at("2026-03-05T00:00:00Z", &address);
    let said = |more: &[&str]| -> Vec<(Value, bool)> {
        let resources = made.by_name(more);
        let panels = made
            .readings
            .iter()
            .filter_map(|reading| resources.get(id(reading)));
        panels
            .map(|panel| {
                (
                    panel["bodySite"].clone(),
                    note(panel).contains("Cuff for arms of 22 cm to 32 cm."),
                )
            })
            .collect()
    };
    let of = |code: &str, display: &str, text: &str| {
        let system = "http://terminology.hl7.org/CodeSystem/v2-0163";
        json!({"coding": [{"system": system, "code": code, "display": display}], "text": text})
    };
    let (left, upper) = (
        of("LA", "Left Arm", "left arm"),
        of("LUA", "Left Upper Arm", "left upper arm"),
    );
    let sites = said(&[]);
    // Four a day; of the third and the fourth day one is set aside each, and one came from another monitor.
    assert_eq!(sites.len(), 26);
    let expected = [
        vec![(Value::Null, false); 8],
        vec![(left, false); 6],
        vec![(upper.clone(), true); 12],
    ];
    assert_eq!(sites, expected.concat());
    let resources = made.by_name(&[]);
    for (name, pulse) in &resources {
        if let Some(of) = name.strip_suffix("-pulse") {
            assert_eq!(pulse.get("bodySite"), resources[of].get("bodySite"));
        }
    }

    // What is stated today says nothing of the readings before it, to the last octet.
    let before = whole(&made);
    made.home
        .run(&["people", "edit", "asha", "--arm", "right"])
        .good();
    made.state_at(
        "2026-03-08T00:00:00Z",
        &json!({"kind": "monitor", "monitor": "c0ffee000001", "address": MONITOR, "cuff-min-mm": 320}),
    );
    assert!(whole(&made) == before, "what was there before has changed");
    // A note is of the sitting, whenever it is made.
    let at = made.readings[24]["measured_at"].as_str().unwrap();
    made.home
        .run(&["note", "add", "arm", "right", "--person", "asha", "--at", at])
        .good();
    let noted = said(&[]);
    let other: Vec<usize> = (0..26).filter(|n| noted[*n] != sites[*n]).collect();
    assert_eq!(other, [22, 23], "the two of its sitting");
    assert_eq!(noted[22].0["text"], "right upper arm");
    let config = made
        .home
        .file("snomed.toml", "[fhir]\nsnomed = true\nnarrative = true\n");
    let coded = said(&["--config", &config]);
    assert_eq!(coded[25].0["coding"][1]["code"], "368208006");
    assert_eq!(coded[22].0["coding"][1]["code"], "368209003");
    let told = made.home.run(&["export", "fhir", "--config", &config]).good();
    assert!(told.contains(", at home, right upper arm</p>"), "{told}");
}
