//! The key to one record that the clinic gave at a launch: kept beside the journal for its owner only, and changed for
//! a new one whenever the clinic gives a new one.
//!
//! A clinic may take the old key back as soon as it has given the new one. So it is written down before asking that the
//! key is about to change: where the answer is lost, the next one to ask knows what may have happened.

use super::answer::Trouble;
use super::error::DeliveryError;
use super::launch::{Let, Who, ask, form, may_write};
use super::settings::Clinic;
use super::smart::{Client, Given, code_of, failed, granted};
use crate::household::PersonId;
use crate::outbound::{Ask, Endpoint};
use crate::secret::Secret;
use crate::whole::{NotWritten, write};
use jiff::Timestamp;
use rustix::fs::{FlockOperation, flock};
use serde::{Deserialize, Serialize};
use std::fs::{File, OpenOptions};
use std::os::unix::fs::OpenOptionsExt;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// The file's name, beside the journal.
pub const FILE: &str = "clinic-launch.json";
/// The name of the file that says since when no record is open any more; no key is in it.
const CLOSED_FILE: &str = "clinic-launch-closed.json";
/// A token that ends sooner than this is not begun with.
const TOKEN_MARGIN: Duration = Duration::from_secs(30);

/// What stands in the file. The key is in it, so nothing prints this.
#[derive(Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Kept {
    server: String,
    client: String,
    person: PersonId,
    patient: String,
    scope: String,
    token_url: String,
    revocation_url: Option<String>,
    since: Timestamp,
    refresh_token: String,
    /// Since when it is not known whether the clinic has changed the key.
    changing: Option<Timestamp>,
    /// When the clinic last took the key; `None` where it was not asked since the launch.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    taken: Option<Timestamp>,
    /// Since when it takes the key no longer.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    refused: Option<Timestamp>,
}

/// A record that was open, and is not any more.
#[derive(Serialize, Deserialize)]
struct WasOpen {
    server: String,
    person: PersonId,
    closed: Timestamp,
}

/// How it stands with the record that the configuration means.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum RecordStanding {
    /// It was never opened, or another one was since.
    Never,
    /// It is open.
    Open {
        /// The clinic's reference to the person.
        reference: String,
        /// What the clinic allowed; empty where it did not say.
        scope: String,
        /// Since when.
        since: Timestamp,
        /// When the clinic last took the key; `None` where it was not asked since.
        taken: Option<Timestamp>,
    },
    /// It was opened here, and the clinic has not taken the key since then.
    Refused(Timestamp),
    /// It was closed here, then.
    Closed(Timestamp),
}

/// One person's record at one clinic, open to this gateway.
pub struct Enrolled {
    path: PathBuf,
    kept: Kept,
}

impl std::fmt::Debug for Enrolled {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Enrolled")
            .field("path", &self.path)
            .finish_non_exhaustive()
    }
}

impl Enrolled {
    /// Keeps what a launch gave, in the place of an earlier one.
    pub fn keep(
        path: &Path,
        server: &Endpoint,
        client: &str,
        person: &PersonId,
        given: &Let,
        now: Timestamp,
    ) -> Result<Self, DeliveryError> {
        let enrolled = Self {
            path: path.to_owned(),
            kept: Kept {
                server: name(server),
                client: client.to_owned(),
                person: person.clone(),
                patient: given.patient.clone(),
                scope: given.scope.clone(),
                token_url: given.places.token.to_string(),
                revocation_url: given.places.revocation.as_ref().map(ToString::to_string),
                since: now,
                refresh_token: given.refresh.expose().to_owned(),
                changing: None,
                taken: None,
                refused: None,
            },
        };
        let _only = lock(path).map_err(DeliveryError::Keeping)?;
        enrolled.write()?;
        Ok(enrolled)
    }

    /// What is kept; `None` where nobody is enrolled.
    pub fn read(path: &Path) -> Result<Option<Self>, DeliveryError> {
        if path.symlink_metadata().is_err() {
            return Ok(None);
        }
        let text = Secret::read("the key to the clinic's record", path)?;
        let kept = serde_json::from_str(text.expose()).map_err(|_| {
            // The parser's words may quote the file.
            DeliveryError::NotOpen(format!(
                "{} is not as it was written; remove it, and let the person launch anew: `quietcuff deliver launch`",
                path.display()
            ))
        })?;
        Ok(Some(Self {
            path: path.to_owned(),
            kept,
        }))
    }

    /// Whose readings go there.
    pub fn person(&self) -> &PersonId {
        &self.kept.person
    }

    /// The clinic's reference to that person.
    pub fn reference(&self) -> String {
        format!("Patient/{}", self.kept.patient)
    }

    /// Whether resources of a type may be written into it; what the clinic said nothing of is tried.
    pub fn may_write(&self, kind: &str) -> bool {
        self.kept.scope.is_empty() || may_write(&self.kept.scope, kind)
    }

    /// Where the key is taken back, if the clinic does that.
    pub fn revocation(&self) -> Option<&str> {
        self.kept.revocation_url.as_deref()
    }

    /// The id under which the clinic knows this gateway.
    pub fn client(&self) -> &str {
        &self.kept.client
    }

    /// The key that lasts.
    pub fn refresh(&self) -> Secret {
        Secret::new(self.kept.refresh_token.clone())
    }

    /// Whether this is what the configuration means.
    pub fn is_at(&self, server: &Endpoint, client: &str) -> bool {
        self.kept.server == name(server) && self.kept.client == client
    }

    /// Forgets what is kept, and gives it as it was last; the clinic is not asked. Where somebody asks for a key just
    /// now, it waits until that is kept: else it would come back with the answer.
    pub fn forget(path: &Path, now: Timestamp) -> Result<Option<Self>, DeliveryError> {
        let Some(earlier) = Self::read(path)? else {
            return Ok(None);
        };
        let _only = lock(path).map_err(DeliveryError::Keeping)?;
        let last = Self::read(path)?.unwrap_or(earlier);
        match std::fs::remove_file(path) {
            Err(why) if why.kind() != std::io::ErrorKind::NotFound => {
                Err(DeliveryError::Keeping(NotWritten::new(path, why)))
            }
            _ => {
                let was = WasOpen {
                    server: last.kept.server.clone(),
                    person: last.kept.person.clone(),
                    closed: now,
                };
                // It is closed whether or not that can be written down.
                if let Err(error) = write_down(&path.with_file_name(CLOSED_FILE), &was) {
                    tracing::warn!("{error}");
                }
                Ok(Some(last))
            }
        }
    }

    fn write(&self) -> Result<(), DeliveryError> {
        write_down(&self.path, &self.kept)
    }
}

fn write_down(path: &Path, what: &impl Serialize) -> Result<(), DeliveryError> {
    let text = serde_json::to_string_pretty(what).map_err(std::io::Error::other)?;
    write(path, |out| {
        Ok::<_, DeliveryError>(out.write_all(text.as_bytes())?)
    })
}

fn name(server: &Endpoint) -> String {
    server.to_string().trim_end_matches('/').to_owned()
}

/// Keeps others from the file for as long as this is open.
fn lock(path: &Path) -> Result<File, NotWritten> {
    let path = path.with_extension("lock");
    let cannot = |why: std::io::Error| NotWritten::new(&path, why);
    let file = OpenOptions::new()
        .create(true)
        .write(true)
        .truncate(false)
        .mode(0o600)
        .open(&path)
        .map_err(cannot)?;
    flock(&file, FlockOperation::LockExclusive).map_err(|why| cannot(why.into()))?;
    Ok(file)
}

/// What may stand beside a short key.
#[derive(Deserialize)]
struct More {
    refresh_token: Option<String>,
}

/// An enrolled gateway that asks for short keys with the one that lasts.
#[derive(Debug)]
pub struct Launched {
    enrolled: Enrolled,
    client: String,
    signs: Option<Client>,
    token_url: Endpoint,
    token: Option<(Secret, Timestamp)>,
}

impl Launched {
    /// Reads what is kept, and the key that the client signs with, where it has one.
    pub fn read(clinic: &Clinic, server: &Endpoint) -> Result<Self, DeliveryError> {
        let enrolled = of(clinic, server)?;
        let token_url = Endpoint::parse(&enrolled.kept.token_url, clinic.plain_http.is_some())?;
        let client = enrolled.kept.client.clone();
        Ok(Self {
            signs: signer(clinic, &client)?,
            enrolled,
            client,
            token_url,
            token: None,
        })
    }

    /// Forgets the short key: the server did not take it.
    pub fn forget_token(&mut self) {
        self.token = None;
    }

    /// Somebody else's text without the keys.
    pub fn scrub(&self, text: &str) -> String {
        let text = self.enrolled.refresh().scrub(text);
        self.token
            .as_ref()
            .map_or(text.clone(), |(token, _)| token.scrub(&text))
    }

    /// A short key that lasts, asked for where there is none.
    pub fn authorize(&mut self, outbound: &dyn Ask, now: Timestamp) -> Result<Secret, Trouble> {
        // Whoever withdraws removes the file, and then nothing more is sent.
        if self.enrolled.path.symlink_metadata().is_err() {
            self.token = None;
            return Err(Trouble::Ended("it was withdrawn here".into()));
        }
        if let Some((token, until)) = &self.token
            && now < *until
        {
            return Ok(token.clone());
        }
        // Two at once would show the same key twice, which a clinic takes for a thief's.
        let _only = lock(&self.enrolled.path).map_err(|error| Trouble::Unkept(error.to_string()))?;
        self.read_again()?;
        let lost = self.enrolled.kept.changing;
        self.enrolled.kept.changing = lost.or(Some(now));
        self.write()?;
        let who = Who {
            id: &self.client,
            signs: self.signs.as_ref(),
        };
        let own = who.fields(&self.token_url, now).map_err(Trouble::Nonsense)?;
        let refresh = self.enrolled.refresh();
        let mut fields = vec![
            ("grant_type", "refresh_token"),
            ("refresh_token", refresh.expose()),
        ];
        fields.extend(own.iter().map(|(name, value)| (*name, value.as_str())));
        let answer = ask(outbound, &self.token_url, Some(&form(&fields)), now)
            .map_err(|error| Trouble::Unreachable(error.to_string()))?;
        if let Some(trouble) = failed(&answer) {
            let is_over = code_of(&answer).as_deref() == Some("invalid_grant");
            if is_over {
                self.enrolled.kept.refused.get_or_insert(now);
            }
            // It says that it gave nothing, so the key is as it was.
            self.enrolled.kept.changing = lost;
            self.write()?;
            return Err(if is_over {
                Trouble::Ended(ended(lost))
            } else {
                trouble
            });
        }
        let (token, lasts) = granted(&answer)?;
        let more: Option<More> = serde_json::from_slice(&answer.body).ok();
        // A clinic that gives no new one lets the old one go on (RFC 6749, section 6).
        if let Some(new) = more
            .and_then(|more| more.refresh_token)
            .filter(|new| !new.is_empty())
        {
            self.enrolled.kept.refresh_token = new;
        }
        self.enrolled.kept.changing = None;
        self.enrolled.kept.taken = Some(now);
        self.enrolled.kept.refused = None;
        self.write()?;
        let lasts = Duration::from_secs(lasts).saturating_sub(TOKEN_MARGIN);
        self.token = Some((token.clone(), now.checked_add(lasts).unwrap_or(now)));
        Ok(token)
    }

    /// Somebody may have launched anew, or asked for a short key meanwhile.
    fn read_again(&mut self) -> Result<(), Trouble> {
        match Enrolled::read(&self.enrolled.path) {
            Ok(Some(now))
                if now.kept.server == self.enrolled.kept.server
                    && now.kept.person == self.enrolled.kept.person =>
            {
                self.enrolled = now;
                Ok(())
            }
            Ok(_) => Err(Trouble::Ended(
                "it was withdrawn here, or another was opened".into(),
            )),
            Err(error) => Err(Trouble::Unkept(error.to_string())),
        }
    }

    /// A key that cannot be kept must not be changed: the new one would be lost.
    fn write(&self) -> Result<(), Trouble> {
        self.enrolled
            .write()
            .map_err(|error| Trouble::Unkept(error.to_string()))
    }
}

/// Why the clinic does not take the key that lasts any more.
fn ended(lost: Option<Timestamp>) -> String {
    match lost {
        Some(at) => format!(
            "the clinic was asked for a new key at {at:.0} and its answer never came here, so the key that we have does not \
             hold any more; the person has to launch anew: `quietcuff deliver launch`"
        ),
        None => "the clinic does not take our key any more: it has run out, or was taken back there; if that was not meant, the \
                 person launches anew: `quietcuff deliver launch`"
            .to_owned(),
    }
}

/// Where what is kept stands: beside the journal.
pub fn path(clinic: &Clinic) -> Result<PathBuf, DeliveryError> {
    let state = clinic.state.as_deref();
    let state =
        state.ok_or_else(|| DeliveryError::Configuration("the state directory is not known".into()))?;
    Ok(state.join(FILE))
}

/// How it stands with this person's record at the clinic.
pub fn standing(clinic: &Clinic, person: &PersonId) -> Result<RecordStanding, DeliveryError> {
    let (path, client) = (path(clinic)?, client_id(clinic)?);
    let server = clinic.server.as_deref().unwrap_or_default();
    let server = Endpoint::parse(server, clinic.plain_http.is_some())?;
    let open = Enrolled::read(&path)?.filter(|open| open.is_at(&server, client) && open.person() == person);
    if let Some(open) = open {
        if let Some(since) = open.kept.refused {
            return Ok(RecordStanding::Refused(since));
        }
        return Ok(RecordStanding::Open {
            reference: open.reference(),
            scope: open.kept.scope.clone(),
            since: open.kept.since,
            taken: open.kept.taken,
        });
    }
    let was = std::fs::read(path.with_file_name(CLOSED_FILE)).ok();
    let was = was.and_then(|text| serde_json::from_slice::<WasOpen>(&text).ok());
    Ok(was
        .filter(|was| was.server == name(&server) && was.person == *person)
        .map_or(RecordStanding::Never, |was| RecordStanding::Closed(was.closed)))
}

/// What is kept for this clinic; the error says what to do where nobody is enrolled there.
pub fn of(clinic: &Clinic, server: &Endpoint) -> Result<Enrolled, DeliveryError> {
    let wrong = |what: String| Err(DeliveryError::NotOpen(what));
    let client = client_id(clinic)?;
    match Enrolled::read(&path(clinic)?)? {
        None => wrong(format!(
            "nobody is enrolled at {server}: `quietcuff deliver launch` says which page of the clinic the person opens"
        )),
        Some(enrolled) if !enrolled.is_at(server, client) => wrong(format!(
            "{} was enrolled at {} as {}, and the configuration says {server} and {client}: `quietcuff deliver launch` enrols \
             there, `quietcuff deliver withdraw` ends the other",
            enrolled.kept.person, enrolled.kept.server, enrolled.kept.client
        )),
        Some(enrolled) => Ok(enrolled),
    }
}

/// The id that the clinic gave this gateway.
pub fn client_id(clinic: &Clinic) -> Result<&str, DeliveryError> {
    clinic.client_id.as_deref().ok_or_else(|| {
        DeliveryError::Configuration(
            "clinic.client-id is missing: it is the id under which the clinic registered this gateway for a launch".into(),
        )
    })
}

/// What the client signs with; `None` for a public client, which has no key.
pub fn signer(clinic: &Clinic, client: &str) -> Result<Option<Client>, DeliveryError> {
    let Some(file) = &clinic.key_file else {
        return Ok(None);
    };
    let key = Secret::read("the clinic's key", file)?;
    let given = Given {
        id: client,
        scope: "",
        key_id: clinic.key_id.as_deref(),
        algorithm: clinic.algorithm,
    };
    Client::new(given, &key, None)
        .map(Some)
        .map_err(|why| DeliveryError::Configuration(format!("{}: {why}", file.display())))
}
