//! The line to one clinic's server: each question with the credentials, asked again once where a token has ended, and
//! what is asked beside delivering.

use super::answer::{self, Trouble};
use super::auth::Credentials;
use super::bundle::{Draft, How, Ledger, content};
use super::server::Abilities;
use super::there::{ResourceThere, found, is_same_reference};
use crate::export::fhir::identity::SYSTEM;
use crate::journal::outbox::ServerSaid;
use crate::outbound::{Ask, Endpoint, HttpAnswer, HttpRequest};
use crate::secret::Secret;
use jiff::Timestamp;

/// An answer repeats every entry with an outcome, and some servers the resources too.
const ANSWER_OCTETS_MAX: u64 = 2 * 1024 * 1024;
const FHIR: &str = "application/fhir+json";
/// Resources that are read with one question; their ids may have 64 characters, and an address 2,000 (common practice).
const READ_AT_ONCE: usize = 20;
/// More of one name are not looked at in one go.
const OF_ONE_NAME_MAX: usize = 50;

/// What the time is, whenever it is asked for.
pub type Clock<'c> = &'c dyn Fn() -> Timestamp;

/// The line to one clinic's server.
#[derive(Debug)]
pub struct ServerLine {
    outbound: Box<dyn Ask>,
    credentials: Credentials,
    server: Endpoint,
    plain_http: bool,
}

/// A question.
#[derive(Clone, Copy, Debug, Default)]
pub struct ServerQuestion<'q> {
    /// Behind the base address; empty for the address itself.
    pub path: &'q str,
    /// A resource, else it only asks.
    pub body: Option<&'q [u8]>,
    /// A resource is put in the place of what is there.
    pub replaces: bool,
    /// Further header fields.
    pub fields: &'q [(&'static str, &'q str)],
}

/// Whether a name is free.
#[derive(Debug)]
pub enum Cleared {
    /// At most one is called so, and it is ours.
    Free,
    /// What is in the way could not be withdrawn.
    Refused {
        /// HTTP status of the answer.
        status: u16,
        /// The server's words.
        why: String,
    },
    /// It is somebody else's.
    Anothers(Box<ResourceThere>),
}

impl ServerLine {
    /// Over this way.
    pub fn new(outbound: Box<dyn Ask>, credentials: Credentials, server: Endpoint, plain_http: bool) -> Self {
        Self {
            outbound,
            credentials,
            server,
            plain_http,
        }
    }

    /// Somebody else's text without what is secret.
    pub fn scrub(&self, text: &str) -> String {
        self.credentials.scrub(text)
    }

    /// Asks, and again once where a new token can be had.
    pub fn ask(&mut self, question: ServerQuestion<'_>, clock: Clock<'_>) -> Result<HttpAnswer, Trouble> {
        let answer = self.ask_once(question, clock)?;
        if answer.status == 401 && self.credentials.renew() {
            return self.ask_once(question, clock);
        }
        Ok(answer)
    }

    fn ask_once(&mut self, question: ServerQuestion<'_>, clock: Clock<'_>) -> Result<HttpAnswer, Trouble> {
        let now = clock();
        let field: Option<Secret> =
            self.credentials
                .field(self.outbound.as_ref(), &self.server, self.plain_http, now)?;
        self.ask_as(question, field.as_ref(), now)
    }

    fn ask_as(
        &self,
        question: ServerQuestion<'_>,
        field: Option<&Secret>,
        now: Timestamp,
    ) -> Result<HttpAnswer, Trouble> {
        let unreachable = |error: &dyn std::fmt::Display| Trouble::Unreachable(error.to_string());
        let below = match question.path {
            "" => None,
            path => Some(self.server.below(path).map_err(|error| unreachable(&error))?),
        };
        let request = HttpRequest {
            to: below.as_ref().unwrap_or(&self.server),
            body: question.body.map(|body| (FHIR, body)),
            replaces: question.replaces,
            accept: FHIR,
            authorization: field,
            fields: question.fields,
            answer_max: ANSWER_OCTETS_MAX,
        };
        self.outbound
            .ask(&request, now)
            .map_err(|error| unreachable(&error))
    }

    /// What the server says of itself; `None` where it says nothing that can be read.
    pub fn abilities(&mut self, clock: Clock<'_>) -> Result<Option<Abilities>, Trouble> {
        let question = ServerQuestion {
            path: "metadata",
            ..ServerQuestion::default()
        };
        // It is for everybody to read (FHIR R4, http.html, capabilities), and some ask for a name all the same.
        let mut answer = self.ask_as(question, None, clock())?;
        if matches!(answer.status, 401 | 403) {
            answer = self.ask(question, clock)?;
        }
        Ok(Abilities::read(&answer))
    }

    /// What is there under one of our names; `None` where the server does not let us look.
    pub fn named(
        &mut self,
        kind: &str,
        name: &str,
        clock: Clock<'_>,
    ) -> Result<Option<Vec<ResourceThere>>, Trouble> {
        let path = format!("{kind}?identifier={SYSTEM}%7C{name}&_count={OF_ONE_NAME_MAX}");
        let all = self.read(&path, kind, clock)?;
        // A server that does not know the question may answer with everything that it has.
        Ok(all.map(|mut all| {
            all.retain(|one| one.is_called(SYSTEM, name));
            all
        }))
    }

    /// What is there under these ids; `None` where the server does not let us look.
    pub fn at(
        &mut self,
        kind: &str,
        ids: &[&str],
        clock: Clock<'_>,
    ) -> Result<Option<Vec<ResourceThere>>, Trouble> {
        let mut all = Vec::new();
        for ids in ids.chunks(READ_AT_ONCE) {
            let path = format!("{kind}?_id={}&_count={}", ids.join(","), ids.len());
            let Some(mut some) = self.read(&path, kind, clock)? else {
                return Ok(None);
            };
            some.retain(|one| ids.contains(&one.id.as_str()));
            // Some servers search later than they store.
            for id in ids
                .iter()
                .filter(|id| !some.iter().any(|one| one.id == **id))
                .copied()
                .collect::<Vec<_>>()
            {
                some.extend(
                    self.read(&format!("{kind}/{id}"), kind, clock)?
                        .unwrap_or_default(),
                );
            }
            all.append(&mut some);
        }
        Ok(Some(all))
    }

    fn read(
        &mut self,
        path: &str,
        kind: &str,
        clock: Clock<'_>,
    ) -> Result<Option<Vec<ResourceThere>>, Trouble> {
        let question = ServerQuestion {
            path,
            ..ServerQuestion::default()
        };
        let answer = self.ask(question, clock)?;
        match answer.status {
            200 => Ok(found(&answer.body, kind)),
            // Who may write and not read is not told what is there.
            status
                if status == 403
                    || (400..500).contains(&status) && !matches!(status, 401 | 408 | 425 | 429) =>
            {
                Ok(None)
            }
            501 => Ok(None),
            _ => Err(answer::trouble(&answer, &|text| self.scrub(text))
                .unwrap_or_else(|| Trouble::Nonsense(format!("status {} to a question", answer.status)))),
        }
    }

    /// Withdraws all of this name but the one that is whose it is to be.
    pub fn make_way_for_all(&mut self, draft: &Draft, clock: Clock<'_>) -> Result<Cleared, Trouble> {
        self.withdraw(draft, None, false, clock)
    }

    /// Withdraws what is there twice; where one of them is somebody else's, nothing is touched.
    pub fn make_way(&mut self, draft: &Draft, ledger: &Ledger, clock: Clock<'_>) -> Result<Cleared, Trouble> {
        let known = ledger
            .row(&draft.identity.value)
            .and_then(|row| row.server_id.as_deref());
        self.withdraw(draft, known, true, clock)
    }

    fn withdraw(
        &mut self,
        draft: &Draft,
        known: Option<&str>,
        only_doubles: bool,
        clock: Clock<'_>,
    ) -> Result<Cleared, Trouble> {
        let name = &draft.identity.value;
        let Some(mut all) = self.named(draft.kind, name, clock)? else {
            return Ok(Cleared::Refused {
                status: 403,
                why: "the server does not let us look at what it has".into(),
            });
        };
        let is_ours = |one: &ResourceThere| {
            let there = one.subject().unwrap_or_default();
            draft
                .subject
                .as_deref()
                .is_none_or(|subject| is_same_reference(subject, there))
        };
        if only_doubles && let Some(at) = all.iter().position(|one| !is_ours(one)) {
            return Ok(Cleared::Anothers(Box::new(all.swap_remove(at))));
        }
        // The one that we know stays, else the first.
        all.sort_by_key(|one| Some(one.id.as_str()) != known);
        let mut stays = false;
        for one in all {
            if is_ours(&one) && !std::mem::replace(&mut stays, true) {
                continue;
            }
            let body = serde_json::to_vec(&one.withdrawn(SYSTEM, name)).unwrap_or_default();
            let path = format!("{}/{}", draft.kind, one.id);
            match self.put(&path, &body, one.version.as_deref(), draft.kind, clock)? {
                ServerSaid::Kept { .. } => {}
                ServerSaid::Refused {
                    status: status @ (409 | 412),
                    ..
                } => {
                    return Err(Trouble::Busy {
                        status,
                        retry_after: None,
                    });
                }
                ServerSaid::Refused { status, why } | ServerSaid::Differs { status, why, .. } => {
                    return Ok(Cleared::Refused { status, why });
                }
            }
        }
        Ok(Cleared::Free)
    }

    fn put(
        &mut self,
        path: &str,
        body: &[u8],
        version: Option<&str>,
        kind: &str,
        clock: Clock<'_>,
    ) -> Result<ServerSaid, Trouble> {
        let condition = version.map(|version| format!("W/\"{version}\""));
        let fields: Vec<(&'static str, &str)> = condition
            .iter()
            .map(|version| ("if-match", version.as_str()))
            .collect();
        let question = ServerQuestion {
            path,
            body: Some(body),
            replaces: true,
            fields: &fields,
        };
        let answer = self.ask(question, clock)?;
        answer::read_one(&answer, kind, &|text| self.scrub(text))
    }

    /// Sends one resource by itself: looks whether it is there, then creates or replaces it.
    pub fn put_one(
        &mut self,
        draft: &Draft,
        ledger: &Ledger,
        clock: Clock<'_>,
    ) -> Result<ServerSaid, Trouble> {
        let kind = draft.kind;
        let mut json = content(draft, ledger, clock(), &|_| false);
        if let How::ReplaceVersion { id, version } = &draft.how {
            return self.put(
                &format!("{kind}/{id}"),
                json.as_bytes(),
                Some(version),
                kind,
                clock,
            );
        }
        if draft.how == How::Put {
            let path = format!("{kind}/{}", draft.identity.uuid);
            return self.put(&path, json.as_bytes(), None, kind, clock);
        }
        let there = self
            .named(kind, &draft.identity.value, clock)?
            .unwrap_or_default();
        match (there.as_slice(), draft.how == How::Replace) {
            ([_, _, ..], _) => Ok(ServerSaid::Refused {
                status: 412,
                why: "several have its name".into(),
            }),
            ([one], false) => Ok(ServerSaid::Kept {
                status: 200,
                id: Some(one.id.clone()),
                version: one.version.clone(),
            }),
            ([one], true) => {
                json = json.replacen('{', &format!("{{\"id\":\"{}\",", one.id), 1);
                let path = format!("{kind}/{}", one.id);
                self.put(&path, json.as_bytes(), one.version.as_deref(), kind, clock)
            }
            ([], _) => {
                let query = draft.identity.query();
                let question = ServerQuestion {
                    path: kind,
                    body: Some(json.as_bytes()),
                    replaces: false,
                    fields: &[("if-none-exist", &query)],
                };
                let answer = self.ask(question, clock)?;
                answer::read_one(&answer, kind, &|text| self.scrub(text))
            }
        }
    }
}
