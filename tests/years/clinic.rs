//! The clinic's server: FHIR R4 transactions by the standard's rules, in memory, with everything that a server and the
//! line to it do wrong.
//!
//! It knows nothing of the home but whom the home has chosen; what it is sent of anybody else fails the test.

use jiff::{SignedDuration, Timestamp};
use quietcuff::outbound::{Ask, HttpAnswer, HttpRequest, OutboundError};
use quietcuff::radio::simulated::Random;
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};
use std::panic::resume_unwind;
use std::sync::{Arc, Mutex, MutexGuard};
use std::time::Duration;

/// The system of the identifiers, as the README tells a clinic.
const SYSTEM: &str = "urn:oid:2.25.334011806874932539226826051416638676785";
/// In so many kinds of names one is refused, when the server refuses any.
const KINDS_OF_NAMES: u32 = 7;

/// How the role ends in the middle of a question; not a panic, and told apart from one.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum End {
    Killed,
    PowerLost,
}

/// What becomes of one question.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum Fate {
    Well,
    /// The role ends before the server has it, or after.
    Ends(End, bool),
    /// No connection, or none that lasts: the server may have it.
    NoAnswer(bool),
    /// A status and nothing else.
    Status(u16),
    /// The answer breaks off behind its first half.
    CutShort,
    /// Some entries are done, the others cannot be now.
    InPart,
}

/// A resource at the clinic.
#[derive(Debug)]
pub(crate) struct Kept {
    pub(crate) place: String,
    pub(crate) name: String,
    version: u32,
    pub(crate) content: Value,
}

#[derive(Debug)]
pub(crate) struct Clinic {
    random: Random,
    /// It makes no more mistakes.
    pub(crate) well: bool,
    /// The true time.
    pub(crate) now: Timestamp,
    /// The references of the people whom the home has chosen.
    pub(crate) chosen: BTreeSet<String>,
    kept: Vec<Kept>,
    /// Where what has this name and type is.
    by_name: HashMap<(String, String), Vec<usize>>,
    down_until: Timestamp,
    /// Until then it refuses one kind of names.
    hates: Option<(u32, Timestamp)>,
    /// Everything that was in a question which it refused.
    pub(crate) refused: HashSet<String>,
    /// What happened, for the coverage.
    pub(crate) saw: Vec<&'static str>,
}

/// The way to it.
#[derive(Clone, Debug)]
pub(crate) struct Line(Arc<Mutex<Clinic>>);

impl Line {
    pub(crate) fn new(random: Random) -> Self {
        Self(Arc::new(Mutex::new(Clinic {
            random,
            well: false,
            now: Timestamp::MIN,
            chosen: BTreeSet::new(),
            kept: Vec::new(),
            by_name: HashMap::new(),
            down_until: Timestamp::MIN,
            hates: None,
            refused: HashSet::new(),
            saw: Vec::new(),
        })))
    }

    pub(crate) fn clinic(&self) -> MutexGuard<'_, Clinic> {
        self.0.lock().unwrap()
    }
}

impl Ask for Line {
    fn ask(&self, request: &HttpRequest<'_>, _: Timestamp) -> Result<HttpAnswer, OutboundError> {
        let url = request.to.to_string();
        let below = url
            .strip_prefix("https://clinic.invalid/fhir")
            .unwrap()
            .trim_start_matches('/');
        let mut clinic = self.clinic();
        let fate = clinic.fate();
        let answer = match fate {
            Fate::Well | Fate::CutShort | Fate::InPart | Fate::Ends(_, true) | Fate::NoAnswer(true) => {
                Some(clinic.answer(below, request, fate == Fate::InPart))
            }
            _ => None,
        };
        let asks = clinic.random.between(600, 90_000).unsigned_abs();
        // Whoever ends here must not leave the server locked.
        drop(clinic);
        let unreachable = || OutboundError::Unreachable {
            to: "clinic.invalid".to_owned(),
            why: "simulated".to_owned(),
        };
        match (fate, answer) {
            (Fate::Ends(end, _), _) => resume_unwind(Box::new(end)),
            (Fate::Status(status), _) => Ok(HttpAnswer {
                status,
                media_type: "application/fhir+json".to_owned(),
                retry_after: (status == 429).then(|| Duration::from_secs(asks)),
                body: outcome("throttled").to_string().into_bytes(),
                ..HttpAnswer::default()
            }),
            (Fate::NoAnswer(_), _) | (_, None) => Err(unreachable()),
            (_, Some((status, answer))) => {
                let mut body = answer.to_string().into_bytes();
                if fate == Fate::CutShort {
                    body.truncate(body.len() / 2);
                }
                Ok(HttpAnswer {
                    status,
                    media_type: "application/fhir+json".to_owned(),
                    body,
                    ..HttpAnswer::default()
                })
            }
        }
    }
}

fn outcome(code: &str) -> Value {
    json!({"resourceType": "OperationOutcome", "issue": [{"severity": "error", "code": code}]})
}

/// One entry of a question.
struct Asked<'a> {
    kind: &'a str,
    name: String,
    resource: &'a Value,
    full_url: &'a str,
    request: &'a Value,
}

impl<'a> Asked<'a> {
    fn read(entry: &'a Value) -> Self {
        let resource = &entry["resource"];
        assert_eq!(resource["identifier"][0]["system"], SYSTEM);
        Self {
            kind: resource["resourceType"].as_str().unwrap(),
            name: resource["identifier"][0]["value"].as_str().unwrap().to_owned(),
            resource,
            full_url: entry["fullUrl"].as_str().unwrap(),
            request: &entry["request"],
        }
    }

    /// A conditional request finds what it is about by its name and nothing else.
    fn condition_is_its_name(&self, query: &str) {
        assert_eq!(query, format!("identifier={SYSTEM}|{}", self.name));
    }
}

/// What is to be done with one entry.
#[derive(Clone, Copy)]
enum Deed {
    Create,
    Leave(usize),
    Replace(usize),
    /// It cannot be done, with this status.
    Not(u16),
}

impl Clinic {
    pub(crate) fn kept(&self) -> &[Kept] {
        &self.kept
    }

    pub(crate) fn named(&self, kind: &str, name: &str) -> Vec<&Kept> {
        let places = self.by_name.get(&(kind.to_owned(), name.to_owned()));
        places.into_iter().flatten().map(|at| &self.kept[*at]).collect()
    }

    /// What is there: a place ends with the number of the resource.
    pub(crate) fn at(&self, place: &str) -> Option<&Kept> {
        let (_, number) = place.rsplit_once('/')?;
        let kept = self.kept.get(number.parse::<usize>().ok()?.checked_sub(1)?)?;
        (kept.place == place).then_some(kept)
    }

    fn fate(&mut self) -> Fate {
        if self.well {
            return Fate::Well;
        }
        if self.now < self.down_until {
            return Fate::NoAnswer(false);
        }
        let (fate, what) = match self.random.between(0, 499) {
            0..5 => (
                Fate::Ends(End::Killed, false),
                "delivery: killed before a question arrives",
            ),
            5..10 => (
                Fate::Ends(End::Killed, true),
                "delivery: killed after a question arrived",
            ),
            10..12 => (
                Fate::Ends(End::PowerLost, false),
                "delivery: power lost before a question arrives",
            ),
            12..15 => (
                Fate::Ends(End::PowerLost, true),
                "delivery: power lost after a question arrived",
            ),
            15..22 => (Fate::NoAnswer(true), "delivery: answer lost"),
            22..26 => (Fate::NoAnswer(false), "delivery: no connection"),
            26..30 => (Fate::Status(429), "delivery: server asks for patience"),
            30..35 => {
                let status = [500, 503, 408][self.random.between(0, 2) as usize];
                (Fate::Status(status), "delivery: server cannot now")
            }
            35..38 => (Fate::Status(409), "delivery: a conflict"),
            38..41 => {
                let status = [401, 403][self.random.between(0, 1) as usize];
                (Fate::Status(status), "delivery: not let in")
            }
            41..48 => (Fate::CutShort, "delivery: answer cut short"),
            48..60 => (Fate::InPart, "delivery: answered in part"),
            60..62 => {
                let hours = self.random.between(24, 24 * 9);
                self.down_until = self.now + SignedDuration::from_hours(hours);
                (Fate::NoAnswer(false), "delivery: server down for days")
            }
            62..66 if self.hates.is_none_or(|(_, until)| self.now >= until) => {
                let days = self.random.between(1, 30);
                let kind = self.random.between(0, i64::from(KINDS_OF_NAMES) - 1) as u32;
                self.hates = Some((kind, self.now + SignedDuration::from_hours(24 * days)));
                return Fate::Well;
            }
            // What it does not like it refuses alone, or with everything that came with it.
            66..300 if self.hates.is_some_and(|(_, until)| self.now < until) => return Fate::InPart,
            _ => return Fate::Well,
        };
        self.saw.push(what);
        fate
    }

    fn hates(&self, name: &str) -> bool {
        let kind = name.bytes().fold(0_u32, |sum, octet| {
            sum.wrapping_mul(31).wrapping_add(u32::from(octet))
        }) % KINDS_OF_NAMES;
        self.hates
            .is_some_and(|(hated, until)| !self.well && self.now < until && hated == kind)
    }

    /// What is to be done with an entry (FHIR R4, http.html: conditional create, conditional update, `If-Match`).
    fn deed(&self, asked: &Asked<'_>) -> Deed {
        let text = |field: &str| asked.request[field].as_str().unwrap();
        let url = text("url");
        let found = self.named_places(asked.kind, &asked.name);
        match text("method") {
            "POST" => {
                assert_eq!(url, asked.kind);
                asked.condition_is_its_name(text("ifNoneExist"));
                match found {
                    [] => Deed::Create,
                    [one] => Deed::Leave(*one),
                    _ => Deed::Not(412),
                }
            }
            "PUT" => {
                if let Some((kind, query)) = url.split_once('?') {
                    assert_eq!(kind, asked.kind);
                    asked.condition_is_its_name(query);
                    return match found {
                        [] => Deed::Create,
                        [one] => Deed::Replace(*one),
                        _ => Deed::Not(412),
                    };
                }
                let Some(at) = self.kept.iter().position(|kept| kept.place == url) else {
                    return Deed::Not(404);
                };
                let version = format!("W/\"{}\"", self.kept[at].version);
                // What was withdrawn meanwhile, by an answer that was lost, has another version.
                if text("ifMatch") == version {
                    assert_eq!(self.kept[at].name, asked.name, "it overwrites something else");
                    Deed::Replace(at)
                } else {
                    Deed::Not(412)
                }
            }
            method => panic!("{method} in a transaction"),
        }
    }

    fn named_places(&self, kind: &str, name: &str) -> &[usize] {
        self.by_name
            .get(&(kind.to_owned(), name.to_owned()))
            .map_or(&[], Vec::as_slice)
    }

    fn answer(&mut self, below: &str, request: &HttpRequest<'_>, in_part: bool) -> (u16, Value) {
        let Some((media_type, body)) = request.body else {
            return self.read(below);
        };
        assert_eq!(media_type, "application/fhir+json");
        let body: Value = serde_json::from_slice(body).unwrap();
        if !request.replaces {
            assert_eq!(below, "");
            return self.transaction(&body, in_part);
        }
        self.withdraw(below, request, &body)
    }

    /// Everything of a name, what has one of these ids, or one; what it can it does not say.
    fn read(&mut self, below: &str) -> (u16, Value) {
        let found: Vec<usize> = match below.split_once('?') {
            None if below == "metadata" => return (404, outcome("not-found")),
            None => {
                let Some(at) = self.kept.iter().position(|kept| kept.place == below) else {
                    return (404, outcome("not-found"));
                };
                return (200, self.whole(at));
            }
            Some((kind, query)) => {
                let (query, _) = query.split_once('&').unwrap();
                match query.split_once('=').unwrap() {
                    ("identifier", name) => {
                        let name = name.strip_prefix(&format!("{SYSTEM}%7C")).unwrap();
                        self.named_places(kind, name).to_vec()
                    }
                    ("_id", ids) => {
                        let places: Vec<String> = ids.split(',').map(|id| format!("{kind}/{id}")).collect();
                        let is_one = |at: &usize| places.contains(&self.kept[*at].place);
                        (0..self.kept.len()).filter(is_one).collect()
                    }
                    other => panic!("{other:?}"),
                }
            }
        };
        self.saw.push("delivery: what is there was read");
        let entries: Vec<Value> = found
            .into_iter()
            .map(|at| json!({"resource": self.whole(at)}))
            .collect();
        (
            200,
            json!({"resourceType": "Bundle", "type": "searchset", "entry": entries}),
        )
    }

    fn whole(&self, at: usize) -> Value {
        let kept = &self.kept[at];
        let mut whole = kept.content.clone();
        whole["id"] = kept.place.rsplit('/').next().unwrap().into();
        whole["meta"] = json!({"versionId": kept.version.to_string()});
        whole
    }

    /// By itself only what stands here as somebody else's is replaced: the same, withdrawn, under a name of its own.
    fn withdraw(&mut self, below: &str, request: &HttpRequest<'_>, body: &Value) -> (u16, Value) {
        let at = self.kept.iter().position(|kept| kept.place == below).unwrap();
        let version = format!("W/\"{}\"", self.kept[at].version);
        assert_eq!(request.fields, [("if-match", version.as_str())]);
        let mut expected = self.whole(at);
        let name = self.kept[at].name.clone();
        let id = expected["id"].as_str().unwrap().to_owned();
        expected["status"] = "entered-in-error".into();
        expected["identifier"][0]["value"] = format!("{name}-withdrawn-{id}").into();
        let mut sent = body.clone();
        for one in [&mut expected, &mut sent] {
            one.as_object_mut().unwrap().remove("meta");
        }
        assert_eq!(
            sent, expected,
            "it withdraws what is there, and changes nothing else of it"
        );
        sent.as_object_mut().unwrap().remove("id");
        let kind = sent["resourceType"].as_str().unwrap().to_owned();
        let places = self.by_name.get_mut(&(kind.clone(), name.clone())).unwrap();
        places.retain(|place| *place != at);
        let kept = &mut self.kept[at];
        kept.name = format!("{name}-withdrawn-{id}");
        kept.version += 1;
        kept.content = sent;
        self.by_name
            .entry((kind, kept.name.clone()))
            .or_default()
            .push(at);
        self.saw.push("delivery: withdrawn as somebody else's");
        (200, self.whole(at))
    }

    /// All of it or nothing; `in_part` makes a batch of it, of which some entries cannot be done now.
    fn transaction(&mut self, bundle: &Value, in_part: bool) -> (u16, Value) {
        assert_eq!(
            (&bundle["resourceType"], &bundle["type"]),
            (&json!("Bundle"), &json!("transaction"))
        );
        let asked: Vec<Asked<'_>> = bundle["entry"]
            .as_array()
            .unwrap()
            .iter()
            .map(Asked::read)
            .collect();
        let names: BTreeSet<(&str, &str)> = asked
            .iter()
            .map(|asked| (asked.kind, asked.name.as_str()))
            .collect();
        assert_eq!(names.len(), asked.len(), "one resource twice in a transaction");
        let mut deeds: Vec<Deed> = asked.iter().map(|asked| self.deed(asked)).collect();
        for (deed, asked) in deeds.iter_mut().zip(&asked) {
            if asked.kind == "Observation" && self.hates(&asked.name) {
                *deed = Deed::Not(422);
            } else if in_part && self.random.chance(0.2) {
                *deed = Deed::Not(503);
            }
        }
        let failed = deeds.iter().find_map(|deed| match deed {
            Deed::Not(status) => Some(*status),
            _ => None,
        });
        if let (Some(status), false) = (failed, in_part) {
            self.saw.push("delivery: a transaction refused");
            self.refused.extend(asked.iter().map(|asked| asked.name.clone()));
            return (status, outcome("processing"));
        }
        // What gets an id in this transaction, by what the others call it.
        let mut places: BTreeMap<&str, String> = BTreeMap::new();
        let mut next = self.kept.len();
        let mut answers = Vec::new();
        for (asked, deed) in asked.iter().zip(&mut deeds) {
            let rests_on_nothing = references(asked.resource)
                .into_iter()
                .any(|reference| reference.starts_with("urn:uuid:") && !places.contains_key(reference));
            if rests_on_nothing && !matches!(deed, Deed::Not(_)) {
                assert!(in_part, "{} refers to what is not there", asked.name);
                *deed = Deed::Not(503);
            }
            match *deed {
                Deed::Create => {
                    places.insert(asked.full_url, format!("{}/{}", asked.kind, next + 1));
                    next += 1;
                }
                Deed::Leave(at) | Deed::Replace(at) => {
                    places.insert(asked.full_url, self.kept[at].place.clone());
                }
                Deed::Not(_) => {}
            }
        }
        for (asked, deed) in asked.iter().zip(&deeds) {
            let (status, at) = match *deed {
                Deed::Create => (201, self.create(asked)),
                Deed::Leave(at) => (200, at),
                Deed::Replace(at) => (200, at),
                Deed::Not(status) => {
                    if status < 500 {
                        self.saw.push("delivery: an entry refused");
                        self.refused.insert(asked.name.clone());
                    }
                    answers.push(
                        json!({"response": {"status": status.to_string(), "outcome": outcome("processing")}}),
                    );
                    continue;
                }
            };
            if !matches!(deed, Deed::Leave(_)) {
                self.write(at, asked, &places, matches!(deed, Deed::Replace(_)));
            }
            let kept = &self.kept[at];
            answers.push(json!({"response": {
                "status": status.to_string(),
                "location": format!("{}/_history/{}", kept.place, kept.version),
                "etag": format!("W/\"{}\"", kept.version),
            }}));
        }
        let kind = if in_part {
            "batch-response"
        } else {
            "transaction-response"
        };
        (
            200,
            json!({"resourceType": "Bundle", "type": kind, "entry": answers}),
        )
    }

    fn create(&mut self, asked: &Asked<'_>) -> usize {
        let at = self.kept.len();
        self.kept.push(Kept {
            place: format!("{}/{}", asked.kind, at + 1),
            name: asked.name.clone(),
            version: 0,
            content: Value::Null,
        });
        let key = (asked.kind.to_owned(), asked.name.clone());
        self.by_name.entry(key).or_default().push(at);
        at
    }

    fn write(&mut self, at: usize, asked: &Asked<'_>, places: &BTreeMap<&str, String>, replaces: bool) {
        let mut content = asked.resource.clone();
        follow(&mut content, places);
        for reference in references(&content) {
            let leads = self.chosen.contains(reference) || self.at(reference).is_some();
            assert!(
                leads,
                "{} refers to {reference}: nobody chosen, and not here",
                asked.name
            );
        }
        if asked.kind == "Observation" {
            let subject = content["subject"]["reference"].as_str().unwrap();
            assert!(
                self.chosen.contains(subject),
                "{subject} was not chosen: {content}"
            );
            self.saw
                .push(match (replaces, content["status"].as_str().unwrap()) {
                    (true, "entered-in-error") if asked.name.starts_with("average-") => {
                        "delivery: an average taken back"
                    }
                    (true, "entered-in-error") => "delivery: taken back",
                    (true, _) => "delivery: replaced",
                    (false, _) => "delivery: created",
                });
        }
        let kept = &mut self.kept[at];
        kept.version += 1;
        kept.content = content;
    }
}

fn references(value: &Value) -> Vec<&str> {
    let mut found = Vec::new();
    match value {
        Value::Object(fields) => {
            found.extend(fields.get("reference").and_then(Value::as_str));
            found.extend(fields.values().flat_map(references));
        }
        Value::Array(values) => found.extend(values.iter().flat_map(references)),
        _ => {}
    }
    found
}

fn follow(value: &mut Value, places: &BTreeMap<&str, String>) {
    match value {
        Value::Object(fields) => {
            if let Some(Value::String(reference)) = fields.get_mut("reference")
                && let Some(place) = places.get(reference.as_str())
            {
                reference.clone_from(place);
            }
            fields.values_mut().for_each(|value| follow(value, places));
        }
        Value::Array(values) => values.iter_mut().for_each(|value| follow(value, places)),
        _ => {}
    }
}
