//! What a server says that it can (its CapabilityStatement), and what we make of that. Pure.
//!
//! Many say less than they can, and some say more. So what is said decides how things are begun, and the answers decide
//! how they go on (`courier`).

use crate::export::fhir::Profiles;
use crate::outbound::HttpAnswer;
use serde_json::Value;

/// How resources are handed over.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub enum HandOver {
    /// Many at once, all or none.
    #[default]
    Transaction,
    /// Many at once, each by itself.
    Batch,
    /// One at a time.
    Single,
}

impl HandOver {
    /// As the ledger keeps it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Transaction => "transaction",
            Self::Batch => "batch",
            Self::Single => "single",
        }
    }

    /// What [`Self::word`] wrote.
    pub fn of_word(word: &str) -> Option<Self> {
        [Self::Transaction, Self::Batch, Self::Single]
            .into_iter()
            .find(|way| way.word() == word)
    }

    /// The next one that asks less of a server.
    pub fn less(self) -> Option<Self> {
        match self {
            Self::Transaction => Some(Self::Batch),
            Self::Batch => Some(Self::Single),
            Self::Single => None,
        }
    }
}

/// What of the household's releases is told to the clinic.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct ReleaseRecords {
    /// What was released, as a Consent.
    pub consent: bool,
    /// Where averages and sheets come from, as a Provenance.
    pub provenance: bool,
}

impl ReleaseRecords {
    /// As the ledger keeps it.
    pub fn word(self) -> &'static str {
        match (self.consent, self.provenance) {
            (true, true) => "consent provenance",
            (true, false) => "consent",
            (false, true) => "provenance",
            (false, false) => "none",
        }
    }

    /// What [`Self::word`] wrote.
    pub fn of_word(word: &str) -> Self {
        let says = |what: &str| word.split(' ').any(|one| one == what);
        Self {
            consent: says("consent"),
            provenance: says("provenance"),
        }
    }

    /// What does not go there, in words; a launch that allows less than all is the reason for that.
    pub fn lacking(self, allowed: Self) -> Vec<String> {
        let closed = |kind: &str| {
            format!(
                "the launch did not open the record for a {kind}, so none goes: ask the clinic to allow patient/{kind}.crus, \
                 and let the person launch anew"
            )
        };
        let mut lacking = Vec::new();
        if !allowed.consent {
            lacking.push(closed(CONSENT));
        } else if !self.consent {
            lacking
                .push("it names no Consent to create and update, so it is not told what was released".into());
        }
        if !allowed.provenance {
            lacking.push(closed(PROVENANCE));
        } else if !self.provenance {
            lacking.push("it takes no Provenance at an id of ours (updateCreate), so none goes".into());
        }
        lacking
    }

    /// What both allow.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        Self {
            consent: self.consent && other.consent,
            provenance: self.provenance && other.provenance,
        }
    }
}

/// What a server says of itself.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Abilities {
    /// Its name and version.
    pub software: Option<String>,
    /// The version of FHIR, such as `4.0.1`.
    pub fhir_version: Option<String>,
    /// How it takes resources, as far as it says so.
    pub way: Option<HandOver>,
    /// The profiles that it names, of all resources.
    pub profiles: Vec<String>,
    /// What of all that is needed it does not name, in words; only of what it describes at all.
    pub missing: Vec<String>,
    /// Whether it takes the documents that sheets go in; `None` where it names no resources at all.
    pub documents: Option<bool>,
    /// The same as [`Self::missing`] for those documents, which not everybody wants there.
    pub missing_for_sheets: Vec<String>,
    /// Whether it takes a Consent, which has to be replaced when it ends; `None` where it names no resources at all.
    pub consents: Option<bool>,
    /// Whether it takes a Provenance at an id of ours: R4 gives it no identifier by which it could be there once. `None`
    /// where it does not say.
    pub provenances: Option<bool>,
}

/// The resource type in which sheets go.
const DOCUMENT: &str = "DocumentReference";
/// The resource type of what was released.
pub(super) const CONSENT: &str = "Consent";
/// The resource type of where something comes from.
pub(super) const PROVENANCE: &str = "Provenance";

/// What has to be possible with each resource that is sent, and why.
const NEEDED: [(&str, &str); 5] = [
    ("create", "to take a new one"),
    ("update", "to replace one that was corrected or withdrawn"),
    ("read", "to see whether it holds what we hold"),
    ("search-type", "to find one by its name"),
    (
        "conditional-create",
        "so that one that is sent twice is there once",
    ),
];

impl Abilities {
    /// Of the answer to a question for `metadata`; `None` where that is no CapabilityStatement.
    pub fn read(answer: &HttpAnswer) -> Option<Self> {
        if answer.status != 200 {
            return None;
        }
        let said: Value = serde_json::from_slice(&answer.body).ok()?;
        if said.get("resourceType")?.as_str()? != "CapabilityStatement" {
            return None;
        }
        let text = |path: &str| said.pointer(path).and_then(Value::as_str);
        let software = text("/software/name").map(|name| {
            [name, text("/software/version").unwrap_or_default()]
                .join(" ")
                .trim()
                .to_owned()
        });
        let rest = said.pointer("/rest/0").unwrap_or(&Value::Null);
        let codes = codes(rest);
        let resource = |kind: &str| list(rest, "resource").find(|one| one["type"] == kind);
        let way = if codes.contains(&"transaction") {
            Some(HandOver::Transaction)
        } else if codes.contains(&"batch") {
            Some(HandOver::Batch)
        } else if resource("Observation").is_some_and(|one| !self::codes(one).is_empty()) {
            Some(HandOver::Single)
        } else {
            None
        };
        let names_some = list(rest, "resource").next().is_some();
        let missing = |kind: &str| match resource(kind) {
            Some(one) => lacks(kind, one),
            None if names_some => vec![format!("{kind}: it names none")],
            None => Vec::new(),
        };
        Some(Self {
            software,
            fhir_version: text("/fhirVersion").map(ToOwned::to_owned),
            way,
            profiles: list(rest, "resource")
                .flat_map(|one| {
                    let own = one.get("profile").and_then(Value::as_str);
                    own.into_iter()
                        .chain(list(one, "supportedProfile").filter_map(Value::as_str))
                })
                .map(|url| url.split('|').next().unwrap_or(url).to_owned())
                .collect(),
            missing: ["Observation", "Device"].into_iter().flat_map(missing).collect(),
            documents: names_some.then(|| resource(DOCUMENT).is_some_and(|one| !self::codes(one).is_empty())),
            missing_for_sheets: missing(DOCUMENT),
            consents: names_some.then(|| {
                let codes = resource(CONSENT).map(self::codes).unwrap_or_default();
                codes.contains(&"create") && codes.contains(&"update")
            }),
            provenances: match resource(PROVENANCE) {
                Some(one) if self::codes(one).contains(&"update") => one["updateCreate"].as_bool(),
                Some(_) => Some(false),
                None => names_some.then_some(false),
            },
        })
    }

    /// Whether it is of the release that our resources are written in.
    pub fn is_r4(&self) -> bool {
        self.fhir_version
            .as_deref()
            .is_none_or(|version| version.starts_with("4.0"))
    }

    /// What of the releases can be told there. Of what it does not say, what was learnt before holds; else it is tried.
    pub fn records(&self, learnt: Option<ReleaseRecords>) -> ReleaseRecords {
        ReleaseRecords {
            consent: self
                .consents
                .unwrap_or(learnt.is_none_or(|learnt| learnt.consent)),
            provenance: self
                .provenances
                .unwrap_or(learnt.is_none_or(|learnt| learnt.provenance)),
        }
    }

    /// What resources are to claim there: what it names, and else no more than FHIR itself brings.
    pub fn claims(&self) -> Profiles {
        let knows = |url: &str| self.profiles.iter().any(|known| known == url);
        if Profiles::SelfMeasured.named().all(knows) {
            Profiles::SelfMeasured
        } else {
            Profiles::Core
        }
    }
}

/// Whether a refusal is about a profile that is claimed, and not about what is in the resource.
pub fn is_about_a_claim(claimed: Profiles, why: &str) -> bool {
    claimed.named().any(|url| why.contains(url))
        || claimed.less().is_some_and(|less| is_about_a_claim(less, why))
}

fn list<'v>(value: &'v Value, field: &str) -> impl Iterator<Item = &'v Value> {
    value.get(field).and_then(Value::as_array).into_iter().flatten()
}

fn codes(value: &Value) -> Vec<&str> {
    list(value, "interaction")
        .filter_map(|one| one["code"].as_str())
        .collect()
}

fn lacks(kind: &str, resource: &Value) -> Vec<String> {
    let codes = codes(resource);
    NEEDED
        .iter()
        .filter(|(code, _)| match *code {
            "conditional-create" => resource["conditionalCreate"] != true,
            code => !codes.contains(&code),
        })
        .map(|(code, why)| {
            format!(
                "{kind}: {} {why}",
                code.trim_end_matches("-type").replace('-', " ")
            )
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn read(statement: &Value) -> Option<Abilities> {
        Abilities::read(&HttpAnswer {
            status: 200,
            body: statement.to_string().into_bytes(),
            ..HttpAnswer::default()
        })
    }

    fn statement(interactions: &[&str], observation: &Value) -> Value {
        let codes: Vec<Value> = interactions.iter().map(|code| json!({ "code": code })).collect();
        json!({"resourceType": "CapabilityStatement", "fhirVersion": "4.0.1", "software": {"name": "A", "version": "2"},
            "rest": [{"mode": "server", "interaction": codes, "resource": [observation]}]})
    }

    #[test]
    fn the_way_that_asks_most_of_what_it_can_is_taken() {
        let observation = json!({"type": "Observation", "interaction": [{"code": "create"}]});
        let way = |codes: &[&str]| read(&statement(codes, &observation)).unwrap().way;
        assert_eq!(way(&["batch", "transaction"]), Some(HandOver::Transaction));
        assert_eq!(way(&["batch"]), Some(HandOver::Batch));
        assert_eq!(way(&[]), Some(HandOver::Single));
        let silent = read(&json!({"resourceType": "CapabilityStatement"})).unwrap();
        assert_eq!((silent.way, silent.missing.len()), (None, 0));
        assert_eq!((silent.documents, silent.missing_for_sheets.len()), (None, 0));
        for way in [HandOver::Transaction, HandOver::Batch, HandOver::Single] {
            assert_eq!(HandOver::of_word(way.word()), Some(way));
        }
    }

    #[test]
    fn what_it_names_is_claimed_and_no_more() {
        let of = |profiles: &[&str]| {
            let observation = json!({"type": "Observation", "supportedProfile": profiles});
            read(&statement(&["transaction"], &observation)).unwrap().claims()
        };
        let all: Vec<&str> = Profiles::SelfMeasured.named().collect();
        assert_eq!(of(&all), Profiles::SelfMeasured);
        let versioned: Vec<String> = all.iter().map(|url| format!("{url}|1.0.0")).collect();
        assert_eq!(
            of(&versioned.iter().map(String::as_str).collect::<Vec<_>>()),
            Profiles::SelfMeasured
        );
        assert_eq!(of(&all[1..]), Profiles::Core);
        assert_eq!(of(&[]), Profiles::Core);
    }

    #[test]
    fn what_is_missing_is_named() {
        let some = json!({"type": "Observation", "interaction": [{"code": "create"}, {"code": "read"}], "conditionalCreate": true});
        let abilities = read(&statement(&[], &some)).unwrap();
        assert_eq!(
            abilities.missing,
            [
                "Observation: update to replace one that was corrected or withdrawn",
                "Observation: search to find one by its name",
                "Device: it names none",
            ]
        );
        assert_eq!(abilities.documents, Some(false));
        assert_eq!(abilities.missing_for_sheets, ["DocumentReference: it names none"]);
        assert!(abilities.is_r4() && abilities.software.as_deref() == Some("A 2"));
        let mut later = statement(&[], &some);
        later["fhirVersion"] = "5.0.0".into();
        assert!(!read(&later).unwrap().is_r4());
        assert_eq!(read(&json!({"resourceType": "Bundle"})), None);
        assert_eq!(read(&json!("x")), None);
    }

    #[test]
    fn a_record_goes_where_it_can_be_there_once() {
        let of = |resources: &Value| {
            let mut said = statement(&["transaction"], &json!({"type": "Observation"}));
            said["rest"][0]["resource"]
                .as_array_mut()
                .unwrap()
                .extend(resources.as_array().unwrap().iter().cloned());
            read(&said).unwrap().records(None).word()
        };
        let can = |kind: &str, codes: &[&str]| {
            let codes: Vec<Value> = codes.iter().map(|code| json!({ "code": code })).collect();
            json!({"type": kind, "interaction": codes})
        };
        let consent = can("Consent", &["create", "update"]);
        let provenance = |create: &Value| {
            let mut one = can("Provenance", &["update"]);
            one["updateCreate"] = create.clone();
            one
        };
        assert_eq!(
            of(&json!([consent, provenance(&json!(true))])),
            "consent provenance"
        );
        assert_eq!(of(&json!([consent, provenance(&json!(false))])), "consent");
        assert_eq!(
            of(&json!([can("Consent", &["read"]), provenance(&json!(true))])),
            "provenance"
        );
        assert_eq!(of(&json!([])), "none");
        // What it does not say is tried, unless it was tried before.
        assert_eq!(
            of(&json!([consent, can("Provenance", &["update"])])),
            "consent provenance"
        );
        assert_eq!(of(&json!([consent, can("Provenance", &["create"])])), "consent");
        let silent = read(&json!({"resourceType": "CapabilityStatement"})).unwrap();
        assert_eq!(silent.records(None).word(), "consent provenance");
        assert_eq!(
            silent.records(Some(ReleaseRecords::of_word("consent"))).word(),
            "consent"
        );
        for word in ["consent provenance", "consent", "provenance", "none"] {
            assert_eq!(ReleaseRecords::of_word(word).word(), word);
        }
    }

    #[test]
    fn a_refusal_names_what_is_claimed_or_is_about_something_else() {
        let hapi = "Profile reference 'http://hl7.org/fhir/uv/cardx-htn-mng/StructureDefinition/self-measured-bp' has not \
                    been checked because it could not be found";
        assert!(is_about_a_claim(Profiles::SelfMeasured, hapi));
        assert!(!is_about_a_claim(Profiles::Core, hapi));
        assert!(is_about_a_claim(
            Profiles::SelfMeasured,
            "unknown: http://hl7.org/fhir/StructureDefinition/bp"
        ));
        assert!(is_about_a_claim(
            Profiles::Core,
            "unknown: http://hl7.org/fhir/StructureDefinition/bp"
        ));
        assert!(!is_about_a_claim(Profiles::None, hapi));
    }
}
