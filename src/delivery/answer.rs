//! What a server's answer to a transaction says of each of its entries. Pure, and suspicious: an answer in which
//! anything is missing says nothing about anything.

use super::bundle::Composed;
use super::reasons::words_of;
use crate::journal::outbox::ServerSaid;
use crate::outbound::HttpAnswer;
use serde::Deserialize;
use std::time::Duration;

/// How much of a server's words is kept for a person.
const WORDS_MAX: usize = 2_000;
/// And how much of them is quoted in an error.
const QUOTED_MAX: usize = 80;
const ID_OCTETS_MAX: usize = 64;

/// What came of a transaction.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Verdict {
    /// Each entry's own, in order; `None` where the server could not do it now.
    Entries(Vec<Option<ServerSaid>>),
    /// Nothing of it was taken, for a reason that lies in the content.
    Refused {
        /// The status of the answer.
        status: u16,
        /// The server's words.
        why: String,
    },
    /// Nothing was decided; the same has to be sent again later.
    Trouble(Trouble),
}

/// How what is told of a server begins that refuses whatever is sent.
pub(super) const ALIKE: &str = "the server refuses everything alike";

/// Why nothing could be delivered now.
#[derive(Clone, PartialEq, Eq, Debug, thiserror::Error)]
pub enum Trouble {
    /// No answer came; the text is what the network or TLS said.
    #[error("no answer: {0}")]
    Unreachable(String),
    /// The server asks for patience.
    #[error("the server cannot take it now (status {status})")]
    Busy {
        /// HTTP status of the answer; 503 also where only an entry of a Bundle has to be sent again.
        status: u16,
        /// How long to wait, where the answer said so (`Retry-After`).
        retry_after: Option<Duration>,
    },
    /// The server does not know us, or does not let us do this.
    #[error(
        "the server does not let us in (status {status}): {why}; check `clinic.auth` and what it reads, and ask the clinic"
    )]
    NotAllowed {
        /// HTTP status of the answer: 401, 403, or 400 where a token was refused.
        status: u16,
        /// The server's words, shortened, without what is secret.
        why: String,
    },
    /// The record is not open to us any more.
    #[error("the clinic's record is not open to us: {0}")]
    Ended(String),
    /// The key to the record may be about to change, and cannot be kept here.
    #[error("nothing was sent, since the key to the clinic's record could not be kept: {0}")]
    Unkept(String),
    /// The server redirects to another address.
    #[error(
        "the server sends us to {to}, and nothing is sent there; if the clinic has moved, write its new address into `clinic.server`"
    )]
    Redirected {
        /// Value of the answer's field `Location`, shortened, without what is secret.
        to: String,
    },
    /// The gateway or a monitor, which readings refer to, was not taken. That is no reading's fault.
    #[error(
        "the server does not take the description of the {what} that readings refer to (status {status}): {why}"
    )]
    Support {
        /// The resource's type.
        what: &'static str,
        /// HTTP status of the answer.
        status: u16,
        /// The server's words, shortened, without what is secret.
        why: String,
    },
    /// Whatever was sent, it was refused for the same reason.
    #[error("{ALIKE} (status {status}): {why}; so the rest waits, and one is tried again now and then")]
    Alike {
        /// HTTP status of the answer.
        status: u16,
        /// The server's words, shortened, without what is secret.
        why: String,
    },
    /// There is nothing at this address that takes what was sent.
    #[error(
        "nothing at this address takes what was sent (status {status}): {why}; check `clinic.server`, or ask the clinic. \
         Nothing counts as sent"
    )]
    NotHere {
        /// HTTP status of the answer.
        status: u16,
        /// The server's words, shortened, without what is secret.
        why: String,
    },
    /// The receiver of HL7 version 2 rejects a message for a reason that is not in what it says.
    #[error(
        "the receiver rejects what is sent ({0}); so it waits, and goes again now and then; ask the clinic"
    )]
    Rejected(String),
    /// Whatever message was sent, it was refused for the same reason.
    #[error(
        "the receiver refuses everything alike ({0}); so the rest waits, and one is tried again now and then"
    )]
    AllRefused(String),
    /// What comes back is no acknowledgement of HL7 version 2.
    #[error("that is no acknowledgement: {0}; check `clinic.server`. Nothing counts as sent")]
    NoReceipt(String),
    /// The answer is not one that a FHIR server gives to this request.
    #[error("that is no answer of a FHIR server: {0}; check `clinic.server`. Nothing counts as sent")]
    Nonsense(String),
}

impl Trouble {
    /// The pause that the server asked for.
    pub fn retry_after(&self) -> Option<Duration> {
        match self {
            Self::Busy { retry_after, .. } => *retry_after,
            _ => None,
        }
    }
}

#[derive(Deserialize)]
struct Bundle {
    #[serde(rename = "resourceType")]
    resource_type: String,
    #[serde(rename = "type")]
    kind: String,
    #[serde(default)]
    entry: Vec<Entry>,
}

#[derive(Deserialize)]
struct Entry {
    response: Option<Response>,
    resource: Option<serde_json::Value>,
}

#[derive(Deserialize)]
struct Response {
    status: Option<String>,
    location: Option<String>,
    etag: Option<String>,
    outcome: Option<serde_json::Value>,
}

/// Why an answer to anything says nothing about it: not let in, not now, not here.
pub fn trouble(answer: &HttpAnswer, scrub: Scrub<'_>) -> Option<Trouble> {
    let status = answer.status;
    match status {
        300..=399 => Some(Trouble::Redirected {
            to: short(
                &scrub(answer.location.as_deref().unwrap_or("nowhere")),
                QUOTED_MAX,
            ),
        }),
        401 | 403 => Some(Trouble::NotAllowed {
            status,
            why: outcome(&answer.body)
                .map(|words| short(&scrub(&words), WORDS_MAX))
                .unwrap_or_else(|| "without a word".into()),
        }),
        408 | 425 | 429 | 500..=599 => Some(Trouble::Busy {
            status,
            retry_after: answer.retry_after,
        }),
        _ => None,
    }
}

/// Takes secrets out of a text: a server may repeat what it was sent.
pub type Scrub<'s> = &'s dyn Fn(&str) -> String;

/// Reads an answer.
pub fn read(answer: &HttpAnswer, sent: &Composed<'_>, scrub: Scrub<'_>) -> Verdict {
    let status = answer.status;
    let json = matches!(
        answer.media_type.as_str(),
        "application/json" | "application/fhir+json"
    );
    let words = || outcome(&answer.body).map(|words| short(&scrub(&words), WORDS_MAX));
    if let Some(trouble) = trouble(answer, scrub) {
        return Verdict::Trouble(trouble);
    }
    match status {
        200 if !json => Verdict::Trouble(Trouble::Nonsense(format!(
            "it answers 200 with {:?}",
            short(&answer.media_type, QUOTED_MAX)
        ))),
        200 => match entries(&answer.body, sent, scrub) {
            Ok(entries) => Verdict::Entries(entries),
            Err(why) => Verdict::Trouble(Trouble::Nonsense(why)),
        },
        // No server, or another one, at this address: no resource is to blame for that.
        404 | 405 | 406 | 415 => Verdict::Trouble(Trouble::NotHere {
            status,
            why: words().unwrap_or_else(|| "without an OperationOutcome".into()),
        }),
        // Too big is a reason to send less at once, whoever says so.
        413 => Verdict::Refused {
            status,
            why: words().unwrap_or_else(|| "too large".into()),
        },
        400..=499 => match words().filter(|_| json) {
            Some(why) => Verdict::Refused { status, why },
            None => Verdict::Trouble(Trouble::Nonsense(format!(
                "status {status} without an OperationOutcome"
            ))),
        },
        _ => Verdict::Trouble(Trouble::Nonsense(format!("status {status} to a transaction"))),
    }
}

/// Reads the answer to one resource that was sent by itself.
pub fn read_one(answer: &HttpAnswer, kind: &str, scrub: Scrub<'_>) -> Result<ServerSaid, Trouble> {
    let status = answer.status;
    if let Some(trouble) = trouble(answer, scrub) {
        return Err(trouble);
    }
    let words = outcome(&answer.body).map(|words| short(&scrub(&words), WORDS_MAX));
    match status {
        200 | 201 => {
            let body: Option<serde_json::Value> = serde_json::from_slice(&answer.body).ok();
            let entry = Entry {
                response: Some(Response {
                    status: Some(status.to_string()),
                    location: answer.location.clone(),
                    etag: answer.etag.clone(),
                    outcome: None,
                }),
                resource: body,
            };
            let said = said(&entry, kind, scrub).map_err(Trouble::Nonsense)?;
            said.ok_or(Trouble::Busy {
                status,
                retry_after: None,
            })
        }
        // Of something that was there by this id it says that it is gone; nothing is wrong with the address.
        404 | 405 | 406 | 415 if words.is_none() => Err(Trouble::NotHere {
            status,
            why: "without an OperationOutcome".into(),
        }),
        400..=499 => match words {
            Some(why) => Ok(ServerSaid::Refused { status, why }),
            None => Err(Trouble::Nonsense(format!(
                "status {status} without an OperationOutcome"
            ))),
        },
        _ => Err(Trouble::Nonsense(format!("status {status} to a resource"))),
    }
}

fn entries(body: &[u8], sent: &Composed<'_>, scrub: Scrub<'_>) -> Result<Vec<Option<ServerSaid>>, String> {
    // The parser's own words quote the body, however long it is and whatever is in it.
    let bundle: Bundle = serde_json::from_slice(body)
        .map_err(|e| format!("the body is no Bundle (line {}, column {})", e.line(), e.column()))?;
    if bundle.resource_type != "Bundle"
        || !matches!(bundle.kind.as_str(), "transaction-response" | "batch-response")
    {
        return Err(format!(
            "the body is a {} of type {}",
            short(&scrub(&bundle.resource_type), QUOTED_MAX),
            short(&scrub(&bundle.kind), QUOTED_MAX)
        ));
    }
    if bundle.entry.len() != sent.entries.len() {
        return Err(format!(
            "{} entries were sent and {} are answered",
            sent.entries.len(),
            bundle.entry.len()
        ));
    }
    bundle
        .entry
        .iter()
        .zip(&sent.entries)
        .map(|(entry, draft)| said(entry, draft.kind, scrub))
        .collect()
}

fn said(entry: &Entry, kind: &str, scrub: Scrub<'_>) -> Result<Option<ServerSaid>, String> {
    let response = entry.response.as_ref().ok_or("an entry has no response")?;
    let text = response.status.as_deref().ok_or("an entry has no status")?;
    // "201 Created" as well as "201".
    let status: u16 = text
        .split_ascii_whitespace()
        .next()
        .filter(|code| code.len() == 3)
        .and_then(|code| code.parse().ok())
        .ok_or_else(|| format!("an entry has the status {:?}", short(&scrub(text), QUOTED_MAX)))?;
    match status {
        200 | 201 => {
            let place = response
                .location
                .as_deref()
                .map(|location| place(location, kind, scrub))
                .transpose()?;
            let resource = |path| {
                entry
                    .resource
                    .as_ref()
                    .and_then(|resource| resource.pointer(path)?.as_str())
            };
            let (id, mut version) = match place {
                Some((id, version)) => (Some(id), version),
                None if resource("/resourceType") == Some(kind) => (resource("/id"), None),
                None => (None, None),
            };
            version = response
                .etag
                .as_deref()
                .and_then(etag)
                .or(version)
                .or(resource("/meta/versionId"));
            let sound = |text: &str| is_id(text).then(|| text.to_owned());
            Ok(Some(ServerSaid::Kept {
                status,
                id: id.and_then(sound),
                version: version.and_then(sound),
            }))
        }
        401 | 408 | 425 | 429 | 500..=599 => Ok(None),
        400..=499 => {
            let why = response
                .outcome
                .as_ref()
                .and_then(words_of)
                .unwrap_or_else(|| text.to_owned());
            Ok(Some(ServerSaid::Refused {
                status,
                why: short(&scrub(&why), WORDS_MAX),
            }))
        }
        _ => Err(format!("an entry has the status {status}")),
    }
}

/// The id and the version in `Observation/17/_history/3`, with or without an address before it.
fn place<'l>(location: &'l str, kind: &str, scrub: Scrub<'_>) -> Result<(&'l str, Option<&'l str>), String> {
    let wrong = || {
        format!(
            "a {kind} was sent, and its place is said to be {:?}",
            short(&scrub(location), QUOTED_MAX)
        )
    };
    let (resource, version) = match location.split_once("/_history/") {
        Some((resource, version)) => (resource, Some(version)),
        None => (location, None),
    };
    let (before, id) = resource.rsplit_once('/').ok_or_else(wrong)?;
    if before.rsplit('/').next() != Some(kind) || !is_id(id) {
        return Err(wrong());
    }
    Ok((id, version))
}

fn etag(text: &str) -> Option<&str> {
    text.trim()
        .trim_start_matches("W/")
        .strip_prefix('"')?
        .strip_suffix('"')
}

/// R4's form of an id.
pub(super) fn is_id(text: &str) -> bool {
    (1..=ID_OCTETS_MAX).contains(&text.len())
        && text
            .chars()
            .all(|c| c.is_ascii_alphanumeric() || c == '-' || c == '.')
}

/// What an OperationOutcome says, for a person.
fn outcome(body: &[u8]) -> Option<String> {
    words_of(&serde_json::from_slice(body).ok()?)
}

/// Somebody else's words on a line of ours.
fn short(text: &str, most: usize) -> String {
    text.chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .take(most)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::delivery::bundle::{Draft, Going, compose};
    use crate::delivery::server::HandOver;
    use crate::export::fhir::Identity;
    use serde_json::{Value, json};
    use std::collections::BTreeMap;

    fn judged(status: u16, media_type: &str, body: &str) -> Verdict {
        let draft = |name: &str| {
            let text = "{\"resourceType\":\"Observation\"}".to_owned();
            Draft::of_text(Identity::new(name.into()), "Observation", text, None, None)
        };
        let units = vec![vec![draft("a"), draft("b")]];
        let (devices, ledger) = (BTreeMap::new(), crate::delivery::bundle::Ledger::default());
        let going = Going {
            server: "https://x",
            way: HandOver::Transaction,
            now: jiff::Timestamp::UNIX_EPOCH,
        };
        let sent = compose(&units, &devices, &ledger, going, &|_| false);
        let answer = HttpAnswer {
            status,
            media_type: media_type.into(),
            body: body.into(),
            location: Some("https://elsewhere.example/hunter2".into()),
            etag: None,
            retry_after: Some(Duration::from_secs(7)),
        };
        read(&answer, &sent, &|text| text.replace("hunter2", "[secret]"))
    }

    fn bundle(entries: &Value) -> Verdict {
        let body = json!({"resourceType": "Bundle", "type": "transaction-response", "entry": entries});
        judged(200, "application/fhir+json", &body.to_string())
    }

    fn kept(id: Option<&str>, version: Option<&str>) -> Option<ServerSaid> {
        Some(ServerSaid::Kept {
            status: 201,
            id: id.map(Into::into),
            version: version.map(Into::into),
        })
    }

    #[test]
    fn each_entry_has_its_own_say() {
        let verdict = bundle(&json!([
            {"response": {"status": "201 Created", "location": "https://x/r4/Observation/17/_history/3", "etag": "W/\"3\""}},
            {"response": {"status": "412", "outcome": {"resourceType": "OperationOutcome",
                "issue": [{"severity": "error", "code": "processing", "details": {"text": "two match hunter2"}}]}}},
        ]));
        let refused = ServerSaid::Refused {
            status: 412,
            why: "two match [secret]".into(),
        };
        assert_eq!(
            verdict,
            Verdict::Entries(vec![kept(Some("17"), Some("3")), Some(refused)])
        );
        let verdict = bundle(&json!([
            {"response": {"status": "201", "location": "Observation/17"},
             "resource": {"resourceType": "Observation", "id": "17", "meta": {"versionId": "5"}}},
            {"response": {"status": "503"}},
        ]));
        assert_eq!(verdict, Verdict::Entries(vec![kept(Some("17"), Some("5")), None]));
        let verdict = bundle(&json!([{"response": {"status": "201"}}, {"response": {"status": "201"}}]));
        assert_eq!(
            verdict,
            Verdict::Entries(vec![kept(None, None), kept(None, None)])
        );
    }

    #[test]
    fn a_lie_says_nothing_about_anything() {
        let good = json!({"response": {"status": "201", "location": "Observation/17"}});
        for entries in [
            json!([]),
            json!([good]),
            json!([good, good, good]),
            json!([good, {}]),
            json!([good, {"response": {}}]),
            json!([good, {"response": {"status": ""}}]),
            json!([good, {"response": {"status": "fine"}}]),
            json!([good, {"response": {"status": "302"}}]),
            json!([good, {"response": {"status": "201", "location": "Patient/17"}}]),
            json!([good, {"response": {"status": "201", "location": "Observation/"}}]),
            json!([good, {"response": {"status": "201", "location": "Observation/\" or 1"}}]),
            json!([good, {"response": {"status": 201}}]),
        ] {
            let verdict = bundle(&entries);
            assert!(
                matches!(verdict, Verdict::Trouble(Trouble::Nonsense(_))),
                "{entries}: {verdict:?}"
            );
        }
        for (status, media_type, body) in [
            (200, "text/html", "<html>"),
            (200, "application/fhir+json", "<html>"),
            (200, "application/json", "{}"),
            (
                200,
                "application/json",
                "{\"resourceType\":\"Bundle\",\"type\":\"searchset\"}",
            ),
            (201, "application/json", "{}"),
            (204, "", ""),
            (200, "application/json", "\"hunter2\""),
            (
                200,
                "application/json",
                "{\"resourceType\":\"hunter2\",\"type\":\"x\"}",
            ),
            (404, "text/html", "<html>"),
            (400, "application/json", "{\"error\":\"hunter2\"}"),
        ] {
            let verdict = judged(status, media_type, body);
            assert!(
                matches!(
                    verdict,
                    Verdict::Trouble(Trouble::Nonsense(_) | Trouble::NotHere { .. })
                ),
                "{body}: {verdict:?}"
            );
            assert!(!format!("{verdict:?}").contains("hunter2"));
        }
    }

    #[test]
    fn the_answers_own_status_comes_first() {
        let outcome = r#"{"resourceType":"OperationOutcome","issue":[{"code":"invalid","diagnostics":"no hunter2","expression":["Observation.code"]}]}"#;
        for status in [400, 409, 410, 412, 413, 422] {
            let why = "what was measured (code): no [secret]".to_owned();
            assert_eq!(
                judged(status, "application/fhir+json", outcome),
                Verdict::Refused { status, why }
            );
        }
        for status in [401, 403] {
            let verdict = judged(status, "application/fhir+json", outcome);
            assert!(
                matches!(verdict, Verdict::Trouble(Trouble::NotAllowed { .. })),
                "{verdict:?}"
            );
        }
        for status in [408, 429, 500, 502, 503] {
            let Verdict::Trouble(trouble) = judged(status, "text/html", "") else {
                panic!("{status}")
            };
            assert_eq!(trouble.retry_after(), Some(Duration::from_secs(7)));
        }
        let Verdict::Trouble(Trouble::Redirected { to }) = judged(307, "", "") else {
            panic!()
        };
        assert_eq!(to, "https://elsewhere.example/[secret]");
    }
}
