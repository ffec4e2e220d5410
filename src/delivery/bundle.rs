//! What is due, as the octets of transaction Bundles.
//!
//! A resource is written once, by the exporter, and kept as its text: parsing it again could lose digits. References to
//! what the server has already become the server's own, the others stay `urn:uuid:` within the Bundle. In that text a
//! quotation mark that is not escaped ends a string, so a pattern with one in it is only found where it is meant.

use super::server::{CONSENT, HandOver, PROVENANCE};
use crate::export::fhir::Identity;
use crate::export::fhir::Item;
use crate::household::PersonId;
use crate::journal::outbox::{Delivered, Digest, Offer};
use jiff::Timestamp;
use sha2::{Digest as _, Sha256};
use std::collections::{BTreeMap, HashMap};
use std::fmt::Write;
use uuid::Uuid;

/// How a resource is sent.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum How {
    /// Create it unless it is there.
    Create,
    /// Put it in the place of what has its name, or create it.
    Replace,
    /// Put it in the place of exactly this version, or be refused.
    ReplaceVersion {
        /// The server's id.
        id: String,
        /// The version that we know.
        version: String,
    },
    /// Withdraw what stands under its name as somebody else's, then create it.
    Move,
    /// Put it at the id that it brings along, whether it is there or not.
    Put,
}

/// A resource as it is now, ready to be sent.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Draft {
    /// Value of its FHIR identifier, and the UUID made of that.
    pub identity: Identity,
    /// FHIR resource type, such as `Observation`.
    pub kind: &'static str,
    /// The person whose it is; `None` for a device.
    pub person: Option<PersonId>,
    /// The clinic's reference to that person.
    pub subject: Option<String>,
    /// JSON text, as the exporter wrote it.
    pub json: String,
    /// SHA-256 of what is compared of it without the gateway, so that a new version of this program changes nothing.
    pub digest: Digest,
    /// The JSON text of what is compared, where that is less than the whole.
    pub compared: Option<String>,
    /// How it is to be sent.
    pub how: How,
    /// It has to be kept in the ledger: it could not be made again.
    pub keep: bool,
    /// What is kept then, where that is less than the whole: a file is not kept twice.
    pub kept: Option<String>,
    /// The household did not release it.
    pub held: bool,
}

impl Draft {
    /// Of what the exporter offers. `gateway` is left out of the digest: a new version of this program is another
    /// Device, which is no reason to send ten years again.
    pub fn new(item: &Item<'_>, person: Option<PersonId>, gateway: Option<&Uuid>) -> std::io::Result<Self> {
        let mut draft = Self::of_text(
            item.identity.clone(),
            item.resource.kind(),
            serde_json::to_string(&item.resource)?,
            person,
            gateway,
        );
        if let Some(compared) = &item.compared {
            draft = draft.compared_by(serde_json::to_string(compared)?, gateway);
        }
        Ok(draft)
    }

    /// Of a text that the exporter wrote earlier.
    pub fn of_text(
        identity: Identity,
        kind: &'static str,
        json: String,
        person: Option<PersonId>,
        gateway: Option<&Uuid>,
    ) -> Self {
        let digest = digest(&json, gateway);
        Self {
            identity,
            kind,
            person,
            subject: None,
            json,
            digest,
            compared: None,
            how: How::Create,
            keep: false,
            kept: None,
            held: false,
        }
    }

    /// The same, of which only this text is compared.
    fn compared_by(self, text: String, gateway: Option<&Uuid>) -> Self {
        Self {
            digest: digest(&text, gateway),
            compared: Some(text),
            ..self
        }
    }

    /// What the ledger keeps before it is sent.
    pub fn offer(&self) -> Offer<'_> {
        Offer {
            name: &self.identity.value,
            kind: self.kind,
            person: self.person.as_ref().map(PersonId::as_str),
            subject: self.subject.as_deref(),
            digest: self.digest,
            replaces: !matches!(self.how, How::Create | How::Move),
            content: self
                .keep
                .then_some(self.kept.as_deref().unwrap_or(self.json.as_str())),
        }
    }

    /// Whether it is for the clinic's own records only: no reading, nor what one refers to.
    pub fn is_record(&self) -> bool {
        matches!(self.kind, CONSENT | PROVENANCE)
    }

    /// The names in its references.
    pub fn references(&self) -> Vec<Uuid> {
        references(&self.json)
    }

    /// The same about the patient whom the clinic calls otherwise.
    #[must_use]
    pub fn of_subject(self, subject: &str, person: PersonId, gateway: Option<&Uuid>) -> Self {
        let written = |reference: &str| format!("\"reference\":{}", serde_json::Value::from(reference));
        let moved = |json: String| match &self.subject {
            // Quotation marks in free text are escaped, so nothing there looks like that.
            Some(before) => json.replace(&written(before), &written(subject)),
            None => json,
        };
        let (json, compared) = (moved(self.json), self.compared.map(moved));
        let mut draft = Self::of_text(self.identity, self.kind, json, Some(person), gateway);
        if let Some(compared) = compared {
            draft = draft.compared_by(compared, gateway);
        }
        draft.subject = Some(subject.to_owned());
        draft
    }
}

fn digest(json: &str, gateway: Option<&Uuid>) -> Digest {
    match gateway {
        Some(gateway) => Sha256::digest(json.replace(&urn(gateway), "gateway")),
        None => Sha256::digest(json),
    }
    .into()
}

fn references(json: &str) -> Vec<Uuid> {
    json.match_indices(REFERENCE)
        .filter_map(|(at, _)| json.get(at + REFERENCE.len()..at + REFERENCE.len() + UUID_OCTETS))
        .filter_map(|text| text.parse().ok())
        .collect()
}

/// The names of what a resource, as it was kept, is made of.
pub fn made_of(json: &str) -> Vec<Uuid> {
    let list = json
        .split_once(DERIVED_FROM)
        .and_then(|(_, rest)| rest.split_once(']'));
    list.map_or_else(Vec::new, |(list, _)| references(list))
}

const REFERENCE: &str = "\"reference\":\"urn:uuid:";
const UUID_OCTETS: usize = 36;
const ISSUED: &str = "\"issued\":\"";
const DERIVED_FROM: &str = "\"derivedFrom\":[";

/// What has to be sent together: the Observations of one reading, or an average.
pub type Unit = Vec<Draft>;

/// What is known of the server.
#[derive(Debug, Default)]
pub struct Ledger {
    rows: HashMap<String, Delivered>,
    /// `Kind/ID` of what has an id there.
    places: HashMap<Uuid, String>,
}

impl Ledger {
    /// From its rows.
    pub fn new(rows: Vec<Delivered>) -> Self {
        let places = rows
            .iter()
            .filter(|row| row.confirmed.is_some())
            .filter_map(|row| {
                let id = row.server_id.as_ref()?;
                Some((Identity::new(row.name.clone()).uuid, format!("{}/{id}", row.kind)))
            })
            .collect();
        Self {
            rows: rows.into_iter().map(|row| (row.name.clone(), row)).collect(),
            places,
        }
    }

    /// The row of a name.
    pub fn row(&self, name: &str) -> Option<&Delivered> {
        self.rows.get(name)
    }

    /// All rows of this clinic, in no order.
    pub fn rows(&self) -> impl Iterator<Item = &Delivered> {
        self.rows.values()
    }

    /// Whether the server ever took an Observation.
    pub fn has_observations(&self) -> bool {
        self.rows()
            .any(|row| row.kind == "Observation" && row.confirmed.is_some())
    }

    /// Whether it is known where the server has it.
    pub fn has_place(&self, uuid: &Uuid) -> bool {
        self.places.contains_key(uuid)
    }

    /// Where the server has it, below its base address.
    pub fn place(&self, uuid: &Uuid) -> Option<&str> {
        self.places.get(uuid).map(String::as_str)
    }
}

/// A Bundle, and what each of its entries is.
#[derive(Debug)]
pub struct Composed<'a> {
    /// As it leaves the house.
    pub text: String,
    /// The entries in order: first what the others refer to.
    pub entries: Vec<&'a Draft>,
    /// How many of them are only there for the others.
    pub supports: usize,
}

/// Where resources go, and when.
#[derive(Clone, Copy, Debug)]
pub struct Going<'a> {
    /// The server's base address.
    pub server: &'a str,
    /// How the server takes them.
    pub way: HandOver,
    /// When what replaces another is made known.
    pub now: Timestamp,
}

/// Writes a Bundle of these, with the devices that they refer to and that the server may not have. What is `promised`
/// is referred to although neither the server nor the Bundle has it.
pub fn compose<'a>(
    units: &'a [Unit],
    devices: &'a BTreeMap<Uuid, Draft>,
    ledger: &Ledger,
    going: Going<'_>,
    promised: &dyn Fn(&Uuid) -> bool,
) -> Composed<'a> {
    let mut supports: BTreeMap<Uuid, &Draft> = BTreeMap::new();
    let own = || units.iter().flatten();
    for uuid in own().flat_map(Draft::references) {
        let here = own().any(|draft| draft.identity.uuid == uuid);
        if let Some(device) = devices.get(&uuid).filter(|_| !here && !ledger.has_place(&uuid)) {
            supports.insert(uuid, device);
        }
    }
    let count = supports.len();
    let entries: Vec<&Draft> = supports.into_values().chain(own()).collect();
    let kind = if going.way == HandOver::Transaction {
        "transaction"
    } else {
        "batch"
    };
    let mut text = format!("{{\"resourceType\":\"Bundle\",\"type\":\"{kind}\",\"entry\":[");
    for (n, draft) in entries.iter().enumerate() {
        text.push_str(if n == 0 { "\n" } else { ",\n" });
        write_entry(&mut text, draft, &entries, ledger, going, promised);
    }
    text.push_str("\n]}\n");
    Composed {
        text,
        entries,
        supports: count,
    }
}

fn write_entry(
    text: &mut String,
    draft: &Draft,
    all: &[&Draft],
    ledger: &Ledger,
    going: Going<'_>,
    promised: &dyn Fn(&Uuid) -> bool,
) {
    let here = |uuid: &Uuid| {
        promised(uuid)
            || all
                .iter()
                .any(|other| other.identity.uuid == *uuid && !matches!(other.how, How::ReplaceVersion { .. }))
    };
    let json = content(draft, ledger, going.now, &here);
    let (kind, query) = (draft.kind, draft.identity.query());
    let urn = urn(&draft.identity.uuid);
    // Names are ours: digests, and words without quotation marks. Ids were checked when the server gave them.
    let _ = match &draft.how {
        How::Create | How::Move => write!(
            text,
            "{{\"fullUrl\":\"{urn}\",\"resource\":{json},\"request\":{{\"method\":\"POST\",\"url\":\"{kind}\",\"ifNoneExist\":\"{query}\"}}}}",
        ),
        How::Replace => write!(
            text,
            "{{\"fullUrl\":\"{urn}\",\"resource\":{json},\"request\":{{\"method\":\"PUT\",\"url\":\"{kind}?{query}\"}}}}",
        ),
        How::Put => write!(
            text,
            "{{\"fullUrl\":\"{0}/{kind}/{1}\",\"resource\":{json},\"request\":{{\"method\":\"PUT\",\"url\":\"{kind}/{1}\"}}}}",
            going.server.trim_end_matches('/'),
            draft.identity.uuid
        ),
        How::ReplaceVersion { id, version } => write!(
            text,
            "{{\"fullUrl\":\"{}/{kind}/{id}\",\"resource\":{json},\"request\":{{\"method\":\"PUT\",\"url\":\"{kind}/{id}\",\"ifMatch\":\"W/\\\"{version}\\\"\"}}}}",
            going.server.trim_end_matches('/')
        ),
    };
}

/// The text of a resource as it goes out: with the references that the server can follow, the server's id where that is
/// known, and the moment of its version. R4: `issued` is when this version was made available.
pub fn content(draft: &Draft, ledger: &Ledger, now: Timestamp, here: &dyn Fn(&Uuid) -> bool) -> String {
    let mut json = resolved(draft, ledger, here);
    let is_version = ledger
        .row(&draft.identity.value)
        .is_some_and(|row| row.confirmed.is_some_and(|confirmed| confirmed != draft.digest));
    // In front of all free text, so its first field of that name is its own.
    if is_version
        && let Some((before, rest)) = json.split_once(ISSUED)
        && let Some((_, after)) = rest.split_once('"')
    {
        json = format!("{before}{ISSUED}{now:.0}\"{after}");
    }
    if let How::ReplaceVersion { id, .. } = &draft.how {
        json = json.replacen('{', &format!("{{\"id\":\"{id}\","), 1);
    }
    json
}

/// Its text with every reference that the server can follow; what an average is made of and the server does not have is
/// not referred to.
fn resolved(draft: &Draft, ledger: &Ledger, here: &dyn Fn(&Uuid) -> bool) -> String {
    let mut json = draft.json.clone();
    let mut missing = Vec::new();
    for uuid in draft.references() {
        match ledger.places.get(&uuid) {
            Some(place) => json = json.replace(&format!("\"{}\"", urn(&uuid)), &format!("\"{place}\"")),
            None if !here(&uuid) => missing.push(format!("{{\"reference\":\"{}\"}}", urn(&uuid))),
            None => {}
        }
    }
    if missing.is_empty() {
        return json;
    }
    let Some((before, list, after)) = json.split_once(DERIVED_FROM).and_then(|(before, rest)| {
        let (list, after) = rest.split_once(']')?;
        Some((before, list, after))
    }) else {
        return json;
    };
    let left: Vec<&str> = list
        .split_inclusive('}')
        .map(|one| one.trim_start_matches(','))
        .filter(|one| !missing.iter().any(|missing| missing == one))
        .collect();
    if left.is_empty() {
        return format!("{before}{}", after.trim_start_matches(','));
    }
    format!("{before}{DERIVED_FROM}{}]{after}", left.join(","))
}

fn urn(uuid: &Uuid) -> String {
    format!("urn:uuid:{uuid}")
}

#[cfg(test)]
mod tests {
    use super::*;

    const GOING: Going<'_> = Going {
        server: "https://x/r4/",
        way: HandOver::Transaction,
        now: Timestamp::UNIX_EPOCH,
    };

    fn draft(name: &str, refers: &[&str]) -> Draft {
        let list: Vec<String> = refers
            .iter()
            .map(|name| {
                format!(
                    "{{\"reference\":\"{}\"}}",
                    urn(&Identity::new((*name).into()).uuid)
                )
            })
            .collect();
        let text = format!(
            "{{\"resourceType\":\"Observation\",\"note\":\"a \\\"derivedFrom\\\":[]\",\"derivedFrom\":[{}],\"component\":[]}}",
            list.join(",")
        );
        Draft::of_text(Identity::new(name.into()), "Observation", text, None, None)
    }

    fn ledger(known: &[&str]) -> Ledger {
        Ledger::new(
            known
                .iter()
                .map(|name| Delivered {
                    name: (*name).to_owned(),
                    kind: "Observation".into(),
                    confirmed: Some([0; 32]),
                    server_id: Some(format!("id-{name}")),
                    ..Delivered::default()
                })
                .collect(),
        )
    }

    #[test]
    fn an_average_refers_to_what_the_server_has() {
        let units = vec![vec![draft("average", &["a", "b", "c"])]];
        let references = |known: &[&str]| {
            let text = compose(&units, &BTreeMap::new(), &ledger(known), GOING, &|_| false).text;
            let bundle: serde_json::Value = serde_json::from_str(&text).unwrap();
            bundle["entry"][0]["resource"]["derivedFrom"].clone()
        };
        assert_eq!(
            references(&["a", "c"]),
            serde_json::json!([{"reference": "Observation/id-a"}, {"reference": "Observation/id-c"}])
        );
        assert!(references(&[]).is_null(), "no empty list");
    }

    #[test]
    fn a_version_is_replaced_at_its_own_place() {
        let mut panel = draft("a", &[]);
        panel.how = How::ReplaceVersion {
            id: "id-a".into(),
            version: "3".into(),
        };
        let units = vec![vec![panel, draft("a-status", &["a"])]];
        let text = compose(&units, &BTreeMap::new(), &ledger(&["a"]), GOING, &|_| false).text;
        let bundle: serde_json::Value = serde_json::from_str(&text).unwrap();
        let [entry, status] = [&bundle["entry"][0], &bundle["entry"][1]];
        assert_eq!(entry["fullUrl"], "https://x/r4/Observation/id-a");
        assert_eq!(entry["resource"]["id"], "id-a");
        assert_eq!(entry["request"]["ifMatch"], "W/\"3\"");
        assert_eq!(
            status["resource"]["derivedFrom"][0]["reference"],
            "Observation/id-a"
        );
    }

    /// R4, Observation.issued: "the date and time this version of the observation was made available to providers".
    #[test]
    fn a_new_version_is_issued_when_it_goes() {
        let issued = |digest: Digest| {
            let text = r#"{"issued":"2026-03-01T07:02:11+01:00","note":"\"issued\":\"x\""}"#.to_owned();
            let mut draft = Draft::of_text(Identity::new("a".into()), "Observation", text, None, None);
            draft.digest = digest;
            content(&draft, &ledger(&["a"]), Timestamp::UNIX_EPOCH, &|_| false)
        };
        assert!(issued([0; 32]).starts_with(r#"{"issued":"2026-03-01T07:02:11+01:00","note""#));
        assert!(issued([1; 32]).starts_with(r#"{"issued":"1970-01-01T00:00:00Z","note":"\"issued\"#));
    }

    #[test]
    fn a_new_version_of_the_gateway_is_no_new_content() {
        let gateways = [Uuid::from_u128(1), Uuid::from_u128(2)];
        let digests = gateways.map(|gateway| {
            let text = format!("{{\"reference\":\"{}\",\"value\":128.0}}", urn(&gateway));
            Draft::of_text(
                Identity::new("a".into()),
                "Observation",
                text,
                None,
                Some(&gateway),
            )
            .digest
        });
        assert_eq!(digests[0], digests[1]);
    }
}
