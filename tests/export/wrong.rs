//! Layers that cannot fail prove nothing: good resources with one thing wrong in each, and which layers see it.

use crate::export::layers::{engines, references, resources_as_written, rules, structure};
use crate::harness::made::Made;
use serde_json::{Value, json};

const LOINC: &str = "http://loinc.org";

/// What is changed, in which resource, and which layer has to see it: `s`tructure or `r`ules.
type Wrong = (&'static str, &'static str, char, fn(&mut Value));

fn coding(concept: &mut Value) -> &mut Value {
    &mut concept["coding"][0]
}

fn quantity(panel: &mut Value, n: usize) -> &mut Value {
    &mut panel["component"][n]["valueQuantity"]
}

fn without(value: &mut Value, key: &str) {
    value.as_object_mut().unwrap().remove(key).unwrap();
}

fn place(code: &str) -> Value {
    json!({"system": "http://terminology.hl7.org/CodeSystem/v2-0163", "code": code})
}

#[rustfmt::skip]
const WRONG: &[Wrong] = &[
    ("no category", "Blood pressure", 'r', |r| without(r, "category")),
    ("a slip in the panel's code", "Blood pressure", 'r', |r| coding(&mut r["code"])["code"] = json!("85354-8")),
    ("mmHg as a code", "Blood pressure", 'r', |r| quantity(r, 0)["code"] = json!("mmHg")),
    ("kilopascals", "Blood pressure", 'r', |r| quantity(r, 0)["code"] = json!("kPa")),
    ("no diastolic", "Blood pressure", 'r', |r| { r["component"].as_array_mut().unwrap().remove(1); }),
    ("an element that does not exist", "Blood pressure", 's', |r| r["severity"] = json!("high")),
    ("a nested element that does not exist", "Blood pressure", 's', |r| quantity(r, 0)["precision"] = json!(1)),
    ("a component without value", "Blood pressure", 'r', |r| without(&mut r["component"][0], "valueQuantity")),
    ("a status that does not exist", "Blood pressure", 'r', |r| r["status"] = json!("rejected")),
    ("no status", "Blood pressure", 's', |r| without(r, "status")),
    ("no offset", "Blood pressure", 's', |r| r["effectiveDateTime"] = json!("2026-03-01T07:02:11")),
    ("a year for a time", "Blood pressure", 'r', |r| r["effectiveDateTime"] = json!("2026")),
    ("30 February", "Blood pressure", 'r', |r| r["effectiveDateTime"] = json!("2026-02-30T07:02:11+01:00")),
    ("29 February of no leap year", "Blood pressure", 'r', |r| r["effectiveDateTime"] = json!("2026-02-29T07:02:11+01:00")),
    ("a value as text", "Blood pressure", 's', |r| quantity(r, 0)["value"] = json!("128")),
    ("a value beside components", "Blood pressure", 'r', |r| r["valueQuantity"] = r["component"][0]["valueQuantity"].clone()),
    ("no subject", "Blood pressure", 'r', |r| without(r, "subject")),
    ("LOINC by another address", "Blood pressure", 'r', |r| coding(&mut r["code"])["system"] = json!("https://loinc.org")),
    ("systolic twice", "Blood pressure", 'r', |r| { let twice = r["component"][0].clone(); r["component"].as_array_mut().unwrap().push(twice); }),
    ("a reason for absence that does not exist", "Blood pressure", 'r', |r| { without(&mut r["component"][0], "valueQuantity"); r["component"][0]["dataAbsentReason"] = json!({"coding": [{"system": "http://terminology.hl7.org/CodeSystem/data-absent-reason", "code": "lost"}]}); }),
    ("a flag as a concept", "What the monitor reported of the measurement", 'r', |r| { without(&mut r["component"][0], "valueBoolean"); r["component"][0]["valueCodeableConcept"] = json!({"text": "Yes"}); }),
    ("a flag that is not set", "What the monitor reported of the measurement", 'r', |r| r["component"][0]["valueBoolean"] = json!(false)),
    ("units by another address", "Blood pressure", 'r', |r| quantity(r, 0)["system"] = json!("https://ucum.org")),
    ("a value and a reason for its absence", "Blood pressure", 'r', |r| r["component"][0]["dataAbsentReason"] = json!({"text": "?"})),
    ("an empty list", "Blood pressure", 's', |r| r["derivedFrom"] = json!([])),
    ("null", "Blood pressure", 's', |r| quantity(r, 0)["value"] = Value::Null),
    ("two times", "Blood pressure", 's', |r| r["effectivePeriod"] = json!({"start": "2026-03-01T07:02:11+01:00"})),
    ("a device as subject", "Blood pressure", 'r', |r| r["subject"]["reference"] = json!("Device/1")),
    ("another performer", "Blood pressure", 'r', |r| r["performer"][0]["reference"] = json!("Practitioner/1")),
    ("a slip in the category", "Blood pressure", 'r', |r| coding(&mut r["category"][0])["code"] = json!("vital-sign")),
    ("bpm", "Pulse", 'r', |r| r["valueQuantity"]["code"] = json!("bpm")),
    ("a pulse without value", "Pulse", 'r', |r| without(r, "valueQuantity")),
    ("a period that ends before it begins", "Average home blood pressure", 'r', |r| r["effectivePeriod"]["end"] = json!("2020-01-01T00:00:00+01:00")),
    ("a count that is not the count", "Average home blood pressure", 'r', |r| r["extension"][0]["valueInteger"] = json!(3)),
    ("an average of one pressure", "Average home blood pressure", 'r', |r| { r["component"].as_array_mut().unwrap().pop(); }),
    ("an average without its rule", "Average home blood pressure", 'r', |r| r["note"][0]["text"] = json!("Average.")),
    ("an identifier without a system", "Blood pressure", 'r', |r| r["identifier"][0]["system"] = json!("quietcuff")),
    ("no unit for people", "Blood pressure", 'r', |r| without(quantity(r, 0), "unit")),
    ("another code that exists", "Blood pressure", 'r', |r| *coding(&mut r["code"]) = json!({"system": LOINC, "code": "8867-4"})),
    ("upside down", "Blood pressure", 'r', |r| { let high = quantity(r, 0)["value"].clone(); quantity(r, 1)["value"] = json!(high.as_f64().unwrap() + 1.0); }),
    ("no issued", "Blood pressure", 'r', |r| without(r, "issued")),
    ("no monitor", "Pulse", 'r', |r| without(r, "device")),
    ("a device of no type", "", 'r', |r| without(r, "type")),
    ("an arm without words", "Blood pressure", 'r', |r| r["bodySite"] = json!({"coding": [place("LA")]})),
    ("a place of nowhere", "Blood pressure", 'r', |r| r["bodySite"] = json!({"coding": [place("XX")], "text": "left arm"})),
    ("the other arm's code", "Pulse", 'r', |r| r["bodySite"] = json!({"coding": [place("RUA")], "text": "left upper arm"})),
    ("nothing of a home", "Pulse", 'r', |r| without(r, "method")),
    ("two places", "Pulse", 's', |r| r["bodySite"] = json!([{"text": "left arm"}, {"text": "right arm"}])),
];

/// A release that has ended, and where an average comes from, as a clinic has them.
pub(crate) fn records() -> [Value; 2] {
    let coded = |system: &str, code: &str| json!({"coding": [{"system": system, "code": code}]});
    let participant = "http://terminology.hl7.org/CodeSystem/provenance-participant-type";
    let mut rule = coded("http://terminology.hl7.org/CodeSystem/v3-ActCode", "OPTIN");
    rule["text"] = json!("The household's own word.");
    let consent = json!({"resourceType": "Consent",
        "identifier": [{"system": "urn:oid:2.25.1", "value": "consent-1"}],
        "status": "inactive",
        "scope": coded("http://terminology.hl7.org/CodeSystem/consentscope", "patient-privacy"),
        "category": [coded(LOINC, "64292-6")],
        "patient": {"reference": "Patient/a-1"},
        "dateTime": "2026-03-01T07:02:11+01:00",
        "policyRule": rule,
        "provision": {"type": "permit",
            "period": {"start": "2026-03-01T07:02:11+01:00", "end": "2026-03-09T08:00:00+01:00"},
            "dataPeriod": {"start": "2026-03-01", "end": "2026-03-07"}}});
    let provenance = json!({"resourceType": "Provenance", "id": "00000000-0000-8000-8000-000000000001",
        "target": [{"reference": "Observation/1"}, {"reference": "DocumentReference/2"}],
        "recorded": "2026-03-09T08:00:00+01:00",
        "policy": ["https://clinic.example/r4/Consent/3"],
        "agent": [{"type": coded(participant, "assembler"), "who": {"reference": "Device/4"}},
            {"type": coded(participant, "informant"), "who": {"reference": "Patient/a-1"}}]});
    [consent, provenance]
}

/// The same of a Consent and of a Provenance, with the rule that has to see it, where it is for the rules.
type WrongRecord = (&'static str, usize, &'static str, fn(&mut Value));

#[rustfmt::skip]
const WRONG_RECORDS: &[WrongRecord] = &[
    ("under no rule", 0, "consent-basis", |r| without(r, "policyRule")),
    ("a rule without words", 0, "consent-rule", |r| without(&mut r["policyRule"], "text")),
    ("another rule", 0, "consent-rule", |r| coding(&mut r["policyRule"])["code"] = json!("OPTOUT")),
    ("nobody's", 0, "consent-whose", |r| without(r, "patient")),
    ("a device's", 0, "consent-whose", |r| r["patient"]["reference"] = json!("Device/1")),
    ("a status that does not exist", 0, "consent-status", |r| r["status"] = json!("ended")),
    ("a status of R4's that is never meant", 0, "consent-status", |r| r["status"] = json!("proposed")),
    ("no scope", 0, "", |r| without(r, "scope")),
    ("a scope of another system", 0, "consent-scope", |r| coding(&mut r["scope"])["system"] = json!("something")),
    ("a scope that does not exist", 0, "consent-scope", |r| coding(&mut r["scope"])["code"] = json!("privacy")),
    ("no category", 0, "", |r| without(r, "category")),
    ("a category of another list", 0, "consent-category", |r| coding(&mut r["category"][0])["code"] = json!("85354-9")),
    ("stated on a day", 0, "consent-stated", |r| r["dateTime"] = json!("2026-03-01")),
    ("held before it was stated", 0, "consent-stated", |r| r["provision"]["period"]["start"] = json!("2026-02-01T00:00:00Z")),
    ("that forbids", 0, "consent-permits", |r| r["provision"]["type"] = json!("deny")),
    ("that holds and has ended", 0, "consent-ends", |r| r["status"] = json!("active")),
    ("ended at no time", 0, "consent-ends", |r| without(&mut r["provision"]["period"], "end")),
    ("ended before it began", 0, "consent-periods", |r| r["provision"]["period"]["end"] = json!("2026-02-01T00:00:00Z")),
    ("days in no order", 0, "consent-periods", |r| r["provision"]["dataPeriod"]["end"] = json!("2026-02-28")),
    ("a day with a time", 0, "consent-periods", |r| r["provision"]["dataPeriod"]["end"] = json!("2026-03-08T00:00:00Z")),
    ("an element that does not exist", 0, "", |r| r["provision"]["days"] = json!(7)),
    ("of nothing", 1, "", |r| without(r, "target")),
    ("of a patient", 1, "provenance-target", |r| r["target"][0]["reference"] = json!("Patient/a-1")),
    ("of one thing twice", 1, "provenance-target", |r| r["target"][1] = r["target"][0].clone()),
    ("recorded at no time", 1, "", |r| without(r, "recorded")),
    ("recorded on a day", 1, "provenance-recorded", |r| r["recorded"] = json!("2026-03-09")),
    ("by nobody", 1, "", |r| without(r, "agent")),
    ("by somebody unnamed", 1, "", |r| without(&mut r["agent"][0], "who")),
    ("an agent that does what R4 does not know", 1, "provenance-agents", |r| coding(&mut r["agent"][0]["type"])["code"] = json!("maker")),
    ("put together by the patient", 1, "provenance-who", |r| r["agent"][0]["who"]["reference"] = json!("Patient/a-1")),
    ("without whoever measured", 1, "provenance-who", |r| { r["agent"].as_array_mut().unwrap().pop(); }),
    ("under a policy of no address", 1, "provenance-policy", |r| r["policy"] = json!(["Consent/3"])),
    ("under two policies", 1, "provenance-policy", |r| { let one = r["policy"][0].clone(); r["policy"].as_array_mut().unwrap().push(one); }),
];

fn wrong_records() -> Vec<String> {
    let wrong = WRONG_RECORDS.iter().map(|(_, which, _, change)| {
        let mut record = records()[*which].clone();
        change(&mut record);
        assert_ne!(record, records()[*which]);
        record.to_string()
    });
    wrong.collect()
}

#[test]
fn every_error_in_a_record_is_caught_by_its_rule() {
    let good = records().map(|one| one.to_string());
    for one in &good {
        assert_eq!(structure(one), Vec::<String>::new(), "{one}");
    }
    let wrong = wrong_records();
    let broken = rules(&[&wrong[..], &good].concat());
    for (n, ((what, _, rule, _), record)) in WRONG_RECORDS.iter().zip(&wrong).enumerate() {
        if rule.is_empty() {
            assert!(
                !structure(record).is_empty(),
                "{what} was not seen in the structure: {record}"
            );
        } else if let Some(broken) = &broken {
            assert!(
                broken[n].iter().any(|seen| seen == rule),
                "{what}: {:?} of {record}",
                broken[n]
            );
        }
    }
    if let Some(broken) = broken {
        assert_eq!(broken[wrong.len()..], [Vec::<String>::new(), Vec::new()]);
    }
}

#[test]
fn every_seeded_error_is_caught() {
    let made = Made::with_one_discarded();
    let good: Vec<Value> = made.lines(&[]);
    let pick = |text: &str| -> Value {
        let same = |r: &&Value| match text {
            "" => r["resourceType"] == "Device",
            _ => r["code"]["text"] == text,
        };
        good.iter()
            .find(same)
            .unwrap_or_else(|| panic!("no {text}"))
            .clone()
    };
    let wrong: Vec<String> = WRONG
        .iter()
        .map(|(_, whose, _, change)| {
            let before = pick(whose);
            let mut resource = before.clone();
            change(&mut resource);
            assert_ne!(resource, before);
            resource.to_string()
        })
        .collect();
    let broken = rules(&wrong);
    let (mut by_structure, mut by_rules) = (0, 0);
    for (n, ((what, _, layer, _), resource)) in WRONG.iter().zip(&wrong).enumerate() {
        let structure = structure(resource);
        by_structure += usize::from(!structure.is_empty());
        match (layer, &broken) {
            ('s', _) => assert!(
                !structure.is_empty(),
                "{what} was not seen in the structure: {resource}"
            ),
            (_, Some(broken)) => assert!(
                !broken[n].is_empty(),
                "{what} was not seen by the rules: {resource}"
            ),
            (_, None) => {}
        }
        by_rules += usize::from(broken.as_ref().is_some_and(|broken| !broken[n].is_empty()));
    }
    eprintln!(
        "{} wrong resources: structure saw {by_structure}, the rules {by_rules}",
        wrong.len()
    );
    assert!(engines().is_none() || by_rules > 30);
}

/// A rule that never breaks may be one that is never asked.
#[test]
fn every_rule_can_break() {
    let made = Made::with_one_discarded();
    let mut wrong: Vec<String> = Vec::new();
    let mut nothing = json!({"resourceType": "Basic", "code": {"text": "?"}});
    wrong.push(nothing.to_string());
    nothing["resourceType"] = json!("Observation");
    wrong.push(nothing.to_string());
    for resource in made.lines(&[]) {
        let Value::Object(fields) = &resource else {
            panic!()
        };
        // Without each element in turn, and with each code another.
        for key in fields.keys().filter(|key| *key != "resourceType") {
            let mut less = resource.clone();
            without(&mut less, key);
            wrong.push(less.to_string());
        }
        if resource["resourceType"] == "Observation" && wrong.len() > 200 {
            break;
        }
    }
    for (_, whose, _, change) in WRONG {
        let lines = made.lines(&[]);
        let resource = lines
            .iter()
            .find(|r| r["code"]["text"] == *whose || whose.is_empty() && r["resourceType"] == "Device");
        let mut resource = resource.unwrap().clone();
        change(&mut resource);
        wrong.push(resource.to_string());
    }
    let lines = made.lines(&["--sheet"]);
    let sheet = lines
        .iter()
        .find(|r| r["resourceType"] == "DocumentReference")
        .unwrap();
    let changes: [fn(&mut Value); 3] = [
        |r| r["status"] = json!("superseded"),
        |r| r["content"][0]["attachment"]["contentType"] = json!("image/png"),
        |r| without(&mut r["context"]["period"], "end"),
    ];
    for change in changes {
        let mut sheet = sheet.clone();
        change(&mut sheet);
        wrong.push(sheet.to_string());
    }
    wrong.extend(wrong_records());
    let Some(broken) = rules(&wrong) else { return };
    let rules: Value = serde_json::from_str(include_str!("rules.json")).unwrap();
    for rule in rules["rules"].as_array().unwrap() {
        let key = rule["key"].as_str().unwrap();
        assert!(
            broken.iter().flatten().any(|seen| seen == key),
            "nothing breaks the rule {key}"
        );
    }
}

#[test]
fn a_bundle_that_a_server_could_not_take_is_seen() {
    let made = Made::new();
    let good = made.bundle(&[]);
    assert_eq!(references(&good), Vec::<String>::new());
    let last = good["entry"].as_array().unwrap().len() - 2;
    let wrongs: [fn(&mut Value, usize); 5] = [
        |b, n| {
            b["entry"][n]["resource"]["subject"]["reference"] =
                json!("urn:uuid:00000000-0000-8000-8000-000000000000");
        },
        |b, n| b["entry"][n]["fullUrl"] = b["entry"][n - 1]["fullUrl"].clone(),
        |b, n| without(&mut b["entry"][n], "request"),
        |b, n| without(&mut b["entry"][n]["request"], "ifNoneExist"),
        |b, n| b["entry"][n]["request"]["ifNoneExist"] = json!("identifier=|x"),
    ];
    for wrong in wrongs {
        let mut bundle = good.clone();
        wrong(&mut bundle, last);
        assert!(!references(&bundle).is_empty());
    }
}

/// The text that the other checks cut resources out of is the whole of it.
#[test]
fn resources_are_cut_out_whole() {
    let made = Made::new();
    let text = made.home.run(&["export", "fhir"]).good();
    let bundle: Value = serde_json::from_str(&text).unwrap();
    let cut = resources_as_written(&text);
    for (cut, entry) in cut.iter().zip(bundle["entry"].as_array().unwrap()) {
        assert_eq!(serde_json::from_str::<Value>(cut).unwrap(), entry["resource"]);
    }
}
