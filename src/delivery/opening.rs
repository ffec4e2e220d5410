//! One person's record at the clinic, opened by a launch and closed: what the command does, and the role for the page.

use super::enrolled::{self, Enrolled, client_id, signer};
use super::error::DeliveryError;
use super::launch::{self, Begun, LaunchError, Who};
use super::settings::{Auth, Clinic};
use super::smart::Client;
use super::target::only;
use crate::household::{Household, PersonId};
use crate::outbound::{Endpoint, Outbound};
use crate::secret::Secret;
use jiff::Timestamp;
use std::path::PathBuf;
use std::time::Duration;

/// How long a launch waits: a person finds their password, and reads what they agree to (own choice).
pub const WAIT: Duration = Duration::from_mins(15);

/// Why a record is not opened.
#[derive(Debug, thiserror::Error)]
pub enum OpeningError {
    /// The configuration, a secret, or the file for the key.
    #[error(transparent)]
    Delivery(#[from] DeliveryError),
    /// The clinic, or the person at its page.
    #[error(transparent)]
    Launch(#[from] LaunchError),
}

/// A clinic at which one person may open their record.
#[derive(Debug)]
pub struct Opener {
    /// The base address of its FHIR server.
    pub server: Endpoint,
    /// Whose record it is to be.
    pub person: PersonId,
    /// Where the key is kept.
    pub path: PathBuf,
    plain_http: bool,
    scope: String,
    client: String,
    signs: Option<Client>,
    outbound: Outbound,
}

/// The clinic's server, where the configuration chose a launch.
pub fn server_of(clinic: &Clinic) -> Result<Endpoint, DeliveryError> {
    let wrong = |what: &str| Err(DeliveryError::Configuration(what.to_owned()));
    if clinic.auth != Auth::Launch {
        return wrong(
            "the configuration does not say `auth = \"launch\"` under [clinic]: that is how one person opens their own \
             record, with the client-id that the clinic gave",
        );
    }
    let Some(server) = &clinic.server else {
        return wrong("no clinic is chosen: write its server's address into `clinic.server`");
    };
    Ok(Endpoint::parse(server, clinic.plain_http.is_some())?)
}

impl Opener {
    /// As the configuration chose. What it lacks is said before anybody is asked for a password.
    pub fn of(clinic: &Clinic, household: &Household) -> Result<Self, DeliveryError> {
        let server = server_of(clinic)?;
        let outbound = clinic.outbound()?;
        let person = only(clinic)?;
        if !household.people.contains_key(person) {
            return Err(DeliveryError::Configuration(format!(
                "clinic.people names {person}, and nobody is called so; `quietcuff people list` lists who is"
            )));
        }
        let client = client_id(clinic)?.to_owned();
        Ok(Self {
            signs: signer(clinic, &client)?,
            path: enrolled::path(clinic)?,
            person: person.clone(),
            plain_http: clinic.plain_http.is_some(),
            scope: clinic.scope(),
            client,
            server,
            outbound,
        })
    }

    /// Asks the server where to go, and begins.
    pub fn begin(&self, redirect: &str, now: Timestamp) -> Result<Begun, LaunchError> {
        let places = launch::places(&self.outbound, &self.server, self.plain_http, now)?;
        launch::begin(places, &self.server, &self.client, &self.scope, redirect)
    }

    /// Takes the code back to the clinic for a key, and keeps that.
    pub fn finish(&self, begun: Begun, code: &Secret, now: Timestamp) -> Result<Enrolled, OpeningError> {
        let who = Who {
            id: &self.client,
            signs: self.signs.as_ref(),
        };
        let given = begun.exchange(&self.outbound, &who, code, now)?;
        let kept = Enrolled::keep(&self.path, &self.server, &self.client, &self.person, &given, now)?;
        Ok(kept)
    }
}

/// A record that is closed here.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Closed {
    /// Whose.
    pub person: PersonId,
    /// Why the clinic may hold it open still.
    pub open_there: Option<String>,
}

/// Forgets the key, whatever the clinic says, and has the clinic take it back where it does that. `None` where there was
/// none.
pub fn close(clinic: &Clinic, now: Timestamp) -> Result<Option<Closed>, DeliveryError> {
    server_of(clinic)?;
    let outbound = clinic.outbound()?;
    // First here: from now on nothing is sent.
    let Some(enrolled) = Enrolled::forget(&enrolled::path(clinic)?, now)? else {
        return Ok(None);
    };
    let revoked = || -> Result<(), String> {
        let at = enrolled
            .revocation()
            .ok_or("the clinic's server does not say how a key is taken back")?;
        let at = Endpoint::parse(at, clinic.plain_http.is_some()).map_err(|error| error.to_string())?;
        let signs = signer(clinic, enrolled.client()).map_err(|error| error.to_string())?;
        let who = Who {
            id: enrolled.client(),
            signs: signs.as_ref(),
        };
        launch::revoke(&outbound, &at, &who, &enrolled.refresh(), now)
            .map_err(|error| format!("the clinic did not take the key back: {error}"))
    };
    Ok(Some(Closed {
        person: enrolled.person().clone(),
        open_there: revoked().err(),
    }))
}
