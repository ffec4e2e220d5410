//! What a server says of why it refused something (an OperationOutcome), in sentences that a person can use. Pure.
//!
//! Errors come first, and where there are any, what is only a warning is counted and not quoted: one validator gives
//! ten warnings about each resource that it takes gladly. The place of an error is named in our words.

use serde_json::Value;

/// Sentences of one answer that are quoted; a Bundle of twenty readings can bring hundreds.
const QUOTED_MAX: usize = 6;

/// What an OperationOutcome says; `None` where it is none.
pub fn words_of(outcome: &Value) -> Option<String> {
    if outcome.get("resourceType")?.as_str()? != "OperationOutcome" {
        return None;
    }
    let issues = outcome.get("issue")?.as_array()?;
    let (mut errors, mut lesser) = (Vec::new(), Vec::new());
    for issue in issues {
        let severity = issue.get("severity").and_then(Value::as_str);
        let list = match severity {
            Some("warning" | "information" | "success") => &mut lesser,
            _ => &mut errors,
        };
        let sentence = sentence(issue);
        if !list.contains(&sentence) {
            list.push(sentence);
        }
    }
    let (shown, aside) = if errors.is_empty() {
        (lesser, 0)
    } else {
        (errors, lesser.len())
    };
    let mut said = shown
        .iter()
        .take(QUOTED_MAX)
        .cloned()
        .collect::<Vec<_>>()
        .join("; ");
    if shown.len() > QUOTED_MAX {
        said.push_str(&format!("; and {} more", shown.len() - QUOTED_MAX));
    }
    if aside > 0 {
        said.push_str(&format!("; and {aside} warnings"));
    }
    Some(said)
}

fn sentence(issue: &Value) -> String {
    let text = |path| {
        issue
            .pointer(path)
            .and_then(Value::as_str)
            .filter(|text| !text.is_empty())
    };
    let what = text("/details/text")
        .or(text("/diagnostics"))
        .or(text("/code"))
        .unwrap_or("no reason is given");
    match text("/expression/0").or(text("/location/0")).and_then(place) {
        Some(place) => format!("{place}: {what}"),
        None => what.to_owned(),
    }
}

/// Elements of what is sent, and what the household calls them.
const PLACES: [(&str, &str); 16] = [
    ("meta", "the profile that it claims"),
    ("identifier", "its name"),
    ("status", "whether it holds"),
    ("category", "what kind of observation it is"),
    ("code", "what was measured"),
    ("subject", "whose it is"),
    ("performer", "who measured"),
    ("effective", "when it was measured"),
    ("issued", "when it was made known"),
    ("component", "its values"),
    ("value", "its value"),
    ("note", "its notes"),
    ("device", "the monitor"),
    ("derivedFrom", "what it rests on"),
    ("extension", "the gateway and other additions"),
    ("text", "its narrative"),
];

/// `Bundle.entry[2].resource/*Observation/null*/.meta.profile[1]` is the profile that it claims (meta.profile).
fn place(path: &str) -> Option<String> {
    // What stands between the signs of a comment is a validator's own.
    let mut plain = String::new();
    let mut rest = path;
    while let Some((before, behind)) = rest.split_once("/*") {
        plain.push_str(before);
        rest = behind.split_once("*/").map_or("", |(_, after)| after);
    }
    plain.push_str(rest);
    let within = plain.split(".resource").last().unwrap_or(&plain);
    let elements: Vec<&str> = within
        .split('.')
        .map(|element| element.split(['[', '(', ':']).next().unwrap_or(element))
        .filter(|element| !element.is_empty() && *element != "Bundle" && *element != "entry")
        .skip_while(|element| element.starts_with(|c: char| c.is_ascii_uppercase()))
        .filter(|element| *element != "ofType" && *element != "where")
        .collect();
    let first = elements.first()?;
    let ours = PLACES
        .iter()
        .find(|(element, _)| first == element || first.strip_prefix(element).is_some_and(is_choice))
        .map(|(_, ours)| *ours);
    let theirs = elements.join(".");
    Some(ours.map_or(theirs.clone(), |ours| format!("{ours} ({theirs})")))
}

/// `effectiveDateTime` is a choice of `effective`.
fn is_choice(rest: &str) -> bool {
    rest.starts_with(|c: char| c.is_ascii_uppercase())
}

/// The same reason about another resource is the same kind: numbers, ids and whatever holds a digit are left out.
pub fn kind_of(reason: &str) -> String {
    let mut kind = String::new();
    for word in reason.split_inclusive(|c: char| !(c.is_ascii_alphanumeric() || c == '-')) {
        let (bare, end) = match word.char_indices().next_back() {
            Some((at, c)) if !(c.is_ascii_alphanumeric() || c == '-') => word.split_at(at),
            _ => (word, ""),
        };
        if bare.contains(|c: char| c.is_ascii_digit()) {
            kind.push('#');
        } else {
            kind.push_str(bare);
        }
        kind.push_str(end);
    }
    kind
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn said(issues: &Value) -> String {
        words_of(&json!({"resourceType": "OperationOutcome", "issue": issues})).unwrap()
    }

    /// As HAPI FHIR JPA 8.8.0 said it, with validation switched on: one error behind ten warnings.
    #[test]
    fn an_error_comes_before_warnings_and_says_where() {
        let text = said(&json!([
            {"severity": "warning", "code": "processing", "diagnostics": "CodeSystem is unknown",
             "expression": ["Bundle.entry[0].resource/*Device/null*/.type"]},
            {"severity": "information", "code": "processing", "diagnostics": "dom-6"},
            {"severity": "error", "code": "processing", "diagnostics": "it could not be found",
             "expression": ["Bundle.entry[2].resource/*Observation/null*/.meta.profile[1]"]},
            {"severity": "error", "code": "processing", "diagnostics": "it could not be found",
             "expression": ["Bundle.entry[5].resource/*Observation/null*/.meta.profile[1]"]},
        ]));
        assert_eq!(
            text,
            "the profile that it claims (meta.profile): it could not be found; and 2 warnings"
        );
        assert_eq!(
            said(&json!([{"severity": "warning", "code": "x", "diagnostics": "only this"}])),
            "only this"
        );
        let many: Vec<Value> = (0..9)
            .map(|n| json!({"severity": "error", "diagnostics": format!("{n}")}))
            .collect();
        assert_eq!(said(&json!(many)), "0; 1; 2; 3; 4; 5; and 3 more");
        assert_eq!(
            said(&json!([{"severity": "fatal", "code": "conflict"}])),
            "conflict"
        );
        assert_eq!(words_of(&json!({"resourceType": "Bundle"})), None);
    }

    #[test]
    fn a_place_is_in_our_words() {
        for (path, ours) in [
            (
                "Observation.effectiveDateTime",
                "when it was measured (effectiveDateTime)",
            ),
            (
                "Observation.effective.ofType(dateTime)",
                "when it was measured (effective)",
            ),
            (
                "Observation.component[1].value.ofType(Quantity).code",
                "its values (component.value.code)",
            ),
            ("Observation.subject", "whose it is (subject)"),
            (
                "Bundle.entry[3].resource.ofType(Observation).code",
                "what was measured (code)",
            ),
            ("Device.version[0]", "version"),
        ] {
            assert_eq!(place(path).as_deref(), Some(ours), "{path}");
        }
        assert_eq!(place("Observation"), None);
        assert_eq!(place("Bundle.entry[1]"), None);
        assert_eq!(place(""), None);
        assert_eq!(place("/*"), None);
    }

    #[test]
    fn the_same_about_another_is_of_the_same_kind() {
        let about = |id: &str| kind_of(&format!("Resource Observation/{id} is wrong (entry[{id}])"));
        assert_eq!(about("17"), about("0a23fa3e26b318d7"));
        assert_ne!(kind_of("unknown code"), kind_of("unknown unit"));
    }
}
