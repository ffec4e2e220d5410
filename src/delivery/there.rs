//! What a server holds under one of our names, read and held against what we hold. Pure.

use super::answer::is_id;
use crate::journal::outbox::WITHDRAWN;
use jiff::Timestamp;
use serde_json::Value;
use std::collections::BTreeMap;

/// One resource at the server.
#[derive(Clone, PartialEq, Debug)]
pub struct ResourceThere {
    /// The server's id.
    pub id: String,
    /// The server's version, where it says one.
    pub version: Option<String>,
    /// All of it.
    pub resource: Value,
}

impl ResourceThere {
    fn of(resource: Value, kind: &str) -> Option<Self> {
        if word(&resource, "/resourceType") != Some(kind) {
            return None;
        }
        let sound = |path: &str| {
            let text = resource.pointer(path)?.as_str()?;
            is_id(text).then(|| text.to_owned())
        };
        Some(Self {
            id: sound("/id")?,
            version: sound("/meta/versionId"),
            resource,
        })
    }

    /// Whose it is.
    pub fn subject(&self) -> Option<&str> {
        let of = |path| self.resource.pointer(path)?.as_str();
        of("/subject/reference").or_else(|| of("/patient/reference"))
    }

    /// Whether one of its identifiers is this.
    pub fn is_called(&self, system: &str, name: &str) -> bool {
        let identifiers = self.resource.get("identifier").and_then(Value::as_array);
        identifiers
            .into_iter()
            .flatten()
            .any(|one| word(one, "/system") == Some(system) && word(one, "/value") == Some(name))
    }

    /// The same, withdrawn, under another name, so that its own is free; as it goes out.
    pub fn withdrawn(&self, system: &str, name: &str) -> Value {
        let mut resource = self.resource.clone();
        let Some(fields) = resource.as_object_mut() else {
            return resource;
        };
        fields.insert("status".into(), "entered-in-error".into());
        // It says that what is there holds.
        fields.remove("text");
        let identifiers = fields.get_mut("identifier").and_then(Value::as_array_mut);
        for one in identifiers.into_iter().flatten() {
            if word(one, "/system") == Some(system)
                && let Some(value) = one.get_mut("value").filter(|value| *value == name)
            {
                *value = format!("{name}{WITHDRAWN}{}", self.id).into();
            }
        }
        if let Some(meta) = fields.get_mut("meta").and_then(Value::as_object_mut) {
            meta.retain(|field, _| matches!(field.as_str(), "profile" | "tag" | "security"));
        }
        // R4 knows no empty objects, and a server that validates refuses one.
        if fields
            .get("meta")
            .and_then(Value::as_object)
            .is_some_and(serde_json::Map::is_empty)
        {
            fields.remove("meta");
        }
        resource
    }
}

/// The resources of a kind in an answer: one by itself, or those of a Bundle. `None` where it is neither.
pub fn found(body: &[u8], kind: &str) -> Option<Vec<ResourceThere>> {
    let mut said: Value = serde_json::from_slice(body).ok()?;
    if word(&said, "/resourceType") != Some("Bundle") {
        return ResourceThere::of(said, kind).map(|one| vec![one]);
    }
    if word(&said, "/type") != Some("searchset") {
        return None;
    }
    let entries = said
        .get_mut("entry")
        .and_then(Value::as_array_mut)
        .map(std::mem::take);
    Some(
        entries
            .into_iter()
            .flatten()
            .filter_map(|mut entry| ResourceThere::of(entry.get_mut("resource")?.take(), kind))
            .collect(),
    )
}

fn word<'v>(value: &'v Value, path: &str) -> Option<&'v str> {
    value.pointer(path)?.as_str()
}

/// Whether two references are to the same: one with the server's address before it, one without.
pub fn is_same_reference(one: &str, other: &str) -> bool {
    let (short, long) = if one.len() < other.len() {
        (one, other)
    } else {
        (other, one)
    };
    long.strip_suffix(short)
        .is_some_and(|before| before.is_empty() || before.ends_with('/'))
}

/// In what an Observation there differs from ours, both sides in words. What a server adds is no difference, nor is
/// when which version was made known, by which gateway, and what is said beside the values.
pub fn differences(ours: &Value, theirs: &Value) -> Vec<String> {
    let mut all = Vec::new();
    let mut differ = |what: &str, there: String, here: String| {
        all.push(format!("{what}: {there} there, {here} here"));
    };
    let text = |value: &Value, path: &str| word(value, path).unwrap_or("nothing").to_owned();
    let both = |path: &str| (text(theirs, path), text(ours, path));
    let (there, here) = both("/subject/reference");
    if !is_same_reference(&there, &here) {
        differ("whose it is", there, here);
    }
    let (there, here) = both("/status");
    if there != here {
        differ("whether it holds", there, here);
    }
    for path in [
        "/effectiveDateTime",
        "/effectivePeriod/start",
        "/effectivePeriod/end",
    ] {
        let (there, here) = both(path);
        let moment = |text: &str| text.parse::<Timestamp>().ok();
        if there != here && (moment(&there).is_none() || moment(&there) != moment(&here)) {
            differ("when it was measured", there, here);
        }
    }
    let (there, here) = (values(theirs), values(ours));
    let codes: std::collections::BTreeSet<&String> = there.keys().chain(here.keys()).collect();
    for code in codes {
        let (a, b) = (there.get(code), here.get(code));
        let says = |value: Option<&(String, String)>| {
            value.map_or_else(|| "nothing".to_owned(), |(_, value)| value.clone())
        };
        if says(a) != says(b) {
            let what = b.or(a).map_or("", |(what, _)| what);
            differ(what, says(a), says(b));
        }
    }
    all
}

/// Values by their first code, each with its name in words.
fn values(observation: &Value) -> BTreeMap<String, (String, String)> {
    let one = |of: &Value| {
        let code = of
            .pointer("/code/coding/0/code")
            .and_then(Value::as_str)?
            .to_owned();
        let what = of
            .pointer("/code/text")
            .or(of.pointer("/code/coding/0/display"))
            .and_then(Value::as_str)
            .unwrap_or(&code)
            .to_owned();
        let value = if let Some(number) = of.pointer("/valueQuantity/value").and_then(Value::as_f64) {
            let unit = of
                .pointer("/valueQuantity/code")
                .and_then(Value::as_str)
                .unwrap_or_default();
            format!("{number} {unit}")
        } else {
            ["valueBoolean", "valueInteger"]
                .into_iter()
                .find_map(|field| of.get(field))
                .map_or_else(|| "nothing".to_owned(), Value::to_string)
        };
        Some((code, (what, value)))
    };
    let components = observation.get("component").and_then(Value::as_array);
    components
        .into_iter()
        .flatten()
        .chain([observation])
        .filter_map(one)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn observation() -> Value {
        json!({"resourceType": "Observation", "id": "17", "meta": {"versionId": "3", "profile": ["x"], "lastUpdated": "y"},
            "identifier": [{"system": "s", "value": "n"}], "status": "final", "subject": {"reference": "Patient/a"},
            "effectiveDateTime": "2026-03-01T07:02:11+01:00", "code": {"coding": [{"code": "p"}]},
            "component": [{"code": {"coding": [{"code": "8480-6"}], "text": "Systolic"},
                "valueQuantity": {"value": 128.0, "code": "mm[Hg]"}}]})
    }

    #[test]
    fn what_says_the_same_in_other_words_is_no_difference() {
        let ours = observation();
        let mut theirs = observation();
        theirs["effectiveDateTime"] = "2026-03-01T06:02:11.000Z".into();
        theirs["subject"]["reference"] = "https://clinic.example/r4/Patient/a".into();
        theirs["component"][0]["valueQuantity"]["value"] = json!(128);
        theirs["issued"] = "2026-03-09T00:00:00Z".into();
        assert_eq!(differences(&ours, &theirs), Vec::<String>::new());
    }

    #[test]
    fn each_difference_names_both_sides() {
        let ours = observation();
        let differs = |path: &str, value: Value| {
            let mut theirs = observation();
            *theirs.pointer_mut(path).unwrap() = value;
            differences(&ours, &theirs).join("; ")
        };
        assert_eq!(
            differs("/status", json!("entered-in-error")),
            "whether it holds: entered-in-error there, final here"
        );
        assert_eq!(
            differs("/subject/reference", json!("Patient/ba")),
            "whose it is: Patient/ba there, Patient/a here"
        );
        assert_eq!(
            differs("/effectiveDateTime", json!("2026-03-01T07:02:11Z")),
            "when it was measured: 2026-03-01T07:02:11Z there, 2026-03-01T07:02:11+01:00 here"
        );
        assert_eq!(
            differs("/component/0/valueQuantity/value", json!(131)),
            "Systolic: 131 mm[Hg] there, 128 mm[Hg] here"
        );
        assert_eq!(
            differs("/component", json!([])),
            "Systolic: nothing there, 128 mm[Hg] here"
        );
        assert_eq!(
            differs("/component/0/valueQuantity/code", json!("kPa")),
            "Systolic: 128 kPa there, 128 mm[Hg] here"
        );
    }

    #[test]
    fn what_is_withdrawn_frees_its_name_and_keeps_all_else() {
        let bundle = json!({"resourceType": "Bundle", "type": "searchset", "entry": [{"resource": observation()},
            {"resource": {"resourceType": "OperationOutcome"}}, {"resource": {"resourceType": "Observation", "id": "\" or"}}]});
        let all = found(bundle.to_string().as_bytes(), "Observation").unwrap();
        let [one] = all.as_slice() else { panic!("{all:?}") };
        assert!(one.is_called("s", "n") && !one.is_called("t", "n"));
        assert_eq!(
            (one.version.as_deref(), one.subject()),
            (Some("3"), Some("Patient/a"))
        );
        let mut expected = observation();
        expected["status"] = "entered-in-error".into();
        expected["identifier"][0]["value"] = "n-withdrawn-17".into();
        expected["meta"] = json!({"profile": ["x"]});
        assert_eq!(one.withdrawn("s", "n"), expected);
        let mut bare = one.clone();
        bare.resource["meta"] = json!({"versionId": "3"});
        bare.resource["text"] = json!({"status": "generated", "div": "<div>128 mmHg</div>"});
        let bare = bare.withdrawn("s", "n");
        assert_eq!((bare.get("meta"), bare.get("text")), (None, None));
        for nothing in [
            "<html>",
            "{}",
            "[]",
            r#"{"resourceType":"Bundle","type":"history"}"#,
            r#"{"resourceType":"Patient","id":"1"}"#,
        ] {
            assert_eq!(found(nothing.as_bytes(), "Observation"), None, "{nothing}");
        }
        assert_eq!(
            found(
                br#"{"resourceType":"Bundle","type":"searchset","entry":["x",7,{"resource":null}]}"#,
                "Observation"
            ),
            Some(vec![])
        );
        assert_eq!(
            found(br#"{"resourceType":"Bundle","type":"searchset"}"#, "Observation"),
            Some(vec![])
        );
    }
}
