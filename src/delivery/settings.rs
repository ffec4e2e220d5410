//! What the machine's owner decides about the clinic's server.

use super::error::DeliveryError;
use super::key::Algorithm;
use super::launch;
use super::releases::ReleaseRule;
use super::server::{CONSENT, PROVENANCE};
use crate::household::{Household, PersonId};
use crate::outbound::{ClientCertificate, Outbound};
use crate::secret::Secret;
use crate::words::Language;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// The clinic's server, and who may be told about to it. Nothing is sent while there is no server and nobody is named.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, default)]
pub struct Clinic {
    /// The base address of its FHIR R4 server, or its receiver of HL7 version 2 as `mllps://NAME:PORT`.
    pub server: Option<String>,
    /// Whose readings go there; each needs the clinic's reference in `[fhir.patients]`, or `[hl7.patients]`.
    pub people: Vec<PersonId>,
    /// What has to be there before a person's readings go.
    pub consent: ReleaseRule,
    /// Whether the sheet of each period goes there too, as a PDF in a DocumentReference.
    pub sheets: bool,
    /// Whether what was released is told there as a Consent, and where averages and sheets come from as a Provenance.
    pub release_records: bool,
    /// In which language the clinic reads the sheet; else in the household's.
    pub language: Option<Language>,
    /// How we say who we are.
    pub auth: Auth,
    /// Bearer: the file that holds the token.
    pub token_file: Option<PathBuf>,
    /// Basic: the name.
    pub user: Option<String>,
    /// Basic: the file that holds the password.
    pub password_file: Option<PathBuf>,
    /// SMART: the id under which the clinic registered this gateway.
    pub client_id: Option<String>,
    /// SMART: the file that holds the private key, PEM (PKCS #8) or a JSON Web Key.
    pub key_file: Option<PathBuf>,
    /// SMART: the id (`kid`) of that key; a JSON Web Key carries it.
    pub key_id: Option<String>,
    /// SMART: how assertions are signed; the key says it as well.
    pub algorithm: Option<Algorithm>,
    /// SMART launch: the address, registered at the clinic, at which the person comes back.
    pub redirect_url: String,
    /// SMART: where tokens are given; else the server is asked (`.well-known/smart-configuration`).
    pub token_url: Option<String>,
    /// SMART: what is asked for.
    pub scope: String,
    /// One more certificate authority to trust (PEM).
    pub ca_file: Option<PathBuf>,
    /// Our own certificate with its chain (PEM), for a server that asks who we are in TLS.
    pub certificate_file: Option<PathBuf>,
    /// The file that holds its private key (PEM).
    pub certificate_key_file: Option<PathBuf>,
    /// Says in words that plain HTTP to another machine is meant.
    pub plain_http: Option<PlainHttp>,
    /// Where the journal stands, and what a launch gave beside it; no key of the configuration.
    #[serde(skip)]
    pub state: Option<PathBuf>,
}

/// Creating under a condition needs to create and to search; a device also changes its name.
const SCOPE: &str = "system/Observation.crus system/Device.crus";

/// A port of this machine that nothing else of ours has; a command listens there while somebody launches (RFC 8252,
/// section 7.3).
const REDIRECT: &str = "http://127.0.0.1:8418/";

impl Default for Clinic {
    fn default() -> Self {
        Self {
            server: None,
            people: Vec::new(),
            consent: ReleaseRule::default(),
            sheets: false,
            release_records: false,
            language: None,
            auth: Auth::None,
            token_file: None,
            user: None,
            password_file: None,
            client_id: None,
            key_file: None,
            key_id: None,
            algorithm: None,
            redirect_url: REDIRECT.to_owned(),
            token_url: None,
            scope: SCOPE.to_owned(),
            ca_file: None,
            certificate_file: None,
            certificate_key_file: None,
            plain_http: None,
            state: None,
        }
    }
}

impl Clinic {
    /// The chosen people, each with the clinic's name for them out of `names`; `lacking` says how one is written down.
    pub(super) fn chosen(
        &self,
        household: &Household,
        names: &BTreeMap<PersonId, String>,
        lacking: impl Fn(&PersonId) -> String,
    ) -> Result<BTreeMap<PersonId, String>, DeliveryError> {
        let wrong = |what: String| Err(DeliveryError::Configuration(what));
        if self.people.is_empty() {
            return wrong("nobody is chosen, so nothing is sent: name them in `clinic.people`".into());
        }
        let mut chosen = BTreeMap::new();
        for person in &self.people {
            if !household.people.contains_key(person) {
                return wrong(format!(
                    "clinic.people names {person}, and nobody is called so; `quietcuff people list` lists who is"
                ));
            }
            let Some(name) = names.get(person) else {
                return wrong(lacking(person));
            };
            chosen.insert(person.clone(), name.clone());
        }
        Ok(chosen)
    }

    /// Our own certificate, where there is one.
    pub(super) fn identity(&self) -> Result<Option<ClientCertificate>, DeliveryError> {
        let lacks = |has: &str, lacks: &str| {
            Err(DeliveryError::Configuration(format!(
                "clinic.{has} is there, and clinic.{lacks} is missing: a certificate is shown with its key, each in a file \
                 of its own (PEM)"
            )))
        };
        match (&self.certificate_file, &self.certificate_key_file) {
            (None, None) => Ok(None),
            (Some(_), None) => lacks("certificate-file", "certificate-key-file"),
            (None, Some(_)) => lacks("certificate-key-file", "certificate-file"),
            (Some(certificate), Some(path)) => {
                let key = Secret::read("the key of our certificate", path)?;
                Ok(Some(ClientCertificate::read(certificate, &key, path)?))
            }
        }
    }

    /// The way to the clinic, with the certificates that the configuration names.
    pub fn outbound(&self) -> Result<Outbound, DeliveryError> {
        Ok(Outbound::as_who(
            self.ca_file.as_deref(),
            self.identity()?.as_ref(),
        )?)
    }

    /// What a token is asked for, where nothing else is said: with sheets for documents as well, and so on.
    pub fn scope(&self) -> String {
        let (whose, base) = match self.auth {
            Auth::Launch => ("patient", launch::SCOPE),
            _ => ("system", SCOPE),
        };
        if self.scope != SCOPE {
            return self.scope.clone();
        }
        let more = [
            (self.sheets, "DocumentReference"),
            (self.release_records, CONSENT),
            (self.release_records, PROVENANCE),
        ];
        let more = more.into_iter().filter(|(wanted, _)| *wanted);
        more.fold(base.to_owned(), |scope, (_, kind)| {
            format!("{scope} {whose}/{kind}.crus")
        })
    }

    /// Relative paths are meant from beside the configuration.
    pub(crate) fn beside(&mut self, directory: &Path) {
        let files = [
            &mut self.token_file,
            &mut self.password_file,
            &mut self.key_file,
            &mut self.ca_file,
            &mut self.certificate_file,
            &mut self.certificate_key_file,
        ];
        for file in files.into_iter().flatten() {
            *file = directory.join(&file);
        }
    }
}

/// How a server is told who we are.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Auth {
    /// Not at all.
    #[default]
    None,
    /// A token that the clinic gave.
    Bearer,
    /// Name and password.
    Basic,
    /// SMART Backend Services: a signed assertion for a token.
    Smart,
    /// SMART standalone launch: a person opens their own record to us.
    Launch,
}

/// The words that allow plain HTTP to another machine.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub enum PlainHttp {
    /// Whoever writes this knows what it means.
    #[serde(rename = "everybody on the way may read it")]
    EverybodyMayReadIt,
}
