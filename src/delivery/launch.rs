//! SMART standalone launch: a person lets this gateway write into one record, their own, at the clinic's own page, and
//! the gateway gets a key to no more than that.
//!
//! HL7 SMART App Launch 2.2, "App Launch: Standalone Launch"; RFC 6749 with RFC 7636 (PKCE, S256) and RFC 7009
//! (revocation). The words of a server are not repeated, but for its codes.

use super::smart::{ANSWER_OCTETS_MAX, Client, code_of, escaped, failed, granted};
use crate::outbound::{Ask, Endpoint, HttpAnswer, HttpRequest, OutboundError};
use crate::secret::Secret;
use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use jiff::Timestamp;
use ring::rand::{SecureRandom, SystemRandom};
use serde::Deserialize;
use sha2::{Digest, Sha256};
use std::fmt;

/// What is asked for: one record, chosen at the clinic's page, and to be let in again without the person.
pub const SCOPE: &str = "launch/patient patient/Observation.crus patient/Device.crus offline_access";
/// Octets of what nobody may guess: 256 bits (RFC 7636, section 7.1).
const RANDOM_OCTETS: usize = 32;

/// Why a launch comes to nothing.
#[derive(Debug, thiserror::Error)]
pub enum LaunchError {
    /// Nobody answers, or not with what was asked for.
    #[error("{0}")]
    Server(String),
    /// What a launch needs, the server does not have.
    #[error("{0}")]
    Lacking(String),
    /// The person said no at the clinic's page, or the clinic did without a reason.
    #[error("the clinic did not let us in: the person, or the clinic, declined at the clinic's page")]
    Declined,
    /// The clinic said no.
    #[error("the clinic did not let us in: {0}")]
    Refused(String),
    /// What came back is not the answer to what was asked.
    #[error("{0}")]
    NotOurs(String),
}

impl From<OutboundError> for LaunchError {
    fn from(error: OutboundError) -> Self {
        Self::Server(error.to_string())
    }
}

/// Where a server wants to be asked, as it says itself (`.well-known/smart-configuration`).
#[derive(Clone, Debug)]
pub struct Places {
    authorization: Endpoint,
    /// Where tokens are given.
    pub token: Endpoint,
    /// Where they are taken back, if the server does that.
    pub revocation: Option<Endpoint>,
}

/// A launch that was begun. What of it is secret is never printed.
pub struct Begun {
    /// The address that the person opens, in any browser.
    pub url: String,
    state: String,
    verifier: Secret,
    redirect: String,
    places: Places,
}

impl fmt::Debug for Begun {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Begun").finish_non_exhaustive()
    }
}

/// What the clinic gave.
#[derive(Debug)]
pub struct Let {
    /// The id of the one patient whose record is open.
    pub patient: String,
    /// What is allowed there.
    pub scope: String,
    /// The key that lasts: it gets the short ones.
    pub refresh: Secret,
    /// The first short one, with the seconds that it lasts.
    pub access: (Secret, u64),
    /// Where tokens are given and taken back.
    pub places: Places,
}

/// What the clinic calls this gateway, and how it shows that it is the one.
pub struct Who<'a> {
    /// The id under which the clinic registered it.
    pub id: &'a str,
    /// A client with a key (`private_key_jwt`); a public one has none.
    pub signs: Option<&'a Client>,
}

impl Who<'_> {
    /// The fields of a form that say who asks.
    pub(super) fn fields(
        &self,
        audience: &Endpoint,
        now: Timestamp,
    ) -> Result<Vec<(&'static str, String)>, String> {
        Ok(match self.signs {
            None => vec![("client_id", self.id.to_owned())],
            Some(client) => vec![
                (
                    "client_assertion_type",
                    "urn:ietf:params:oauth:client-assertion-type:jwt-bearer".to_owned(),
                ),
                ("client_assertion", client.assertion(&audience.to_string(), now)?),
            ],
        })
    }
}

/// Asks the server where to go, and whether it does what a launch needs.
pub fn places(
    outbound: &dyn Ask,
    server: &Endpoint,
    plain_http: bool,
    now: Timestamp,
) -> Result<Places, LaunchError> {
    #[derive(Deserialize)]
    struct Said {
        authorization_endpoint: Option<String>,
        token_endpoint: Option<String>,
        revocation_endpoint: Option<String>,
        capabilities: Option<Vec<String>>,
        code_challenge_methods_supported: Option<Vec<String>>,
    }
    let from = server.below(".well-known/smart-configuration")?;
    let answer = ask(outbound, &from, None, now)?;
    if answer.status != 200 {
        return Err(LaunchError::Lacking(format!(
            "{from} answers with status {}: this server does not say how a launch begins; ask the clinic whether it has SMART \
             App Launch, or which other `clinic.auth` it wants",
            answer.status
        )));
    }
    let said: Said = serde_json::from_slice(&answer.body).map_err(|_| {
        LaunchError::Lacking(format!(
            "{from} is no SMART configuration; ask the clinic for its base address"
        ))
    })?;
    let lacks = |what: &str| {
        LaunchError::Lacking(format!(
            "{from} names no {what}: a launch needs it; ask the clinic"
        ))
    };
    if let Some(can) = &said.capabilities
        && !can.iter().any(|one| one == "launch-standalone")
    {
        return Err(lacks("capability `launch-standalone`"));
    }
    if let Some(ways) = &said.code_challenge_methods_supported
        && !ways.iter().any(|one| one == "S256")
    {
        return Err(lacks("`S256` among its code_challenge_methods_supported"));
    }
    let place = |text: Option<String>, what: &str| -> Result<Endpoint, LaunchError> {
        Ok(Endpoint::parse(&text.ok_or_else(|| lacks(what))?, plain_http)?)
    };
    Ok(Places {
        authorization: place(said.authorization_endpoint, "authorization_endpoint")?,
        token: place(said.token_endpoint, "token_endpoint")?,
        revocation: match said.revocation_endpoint {
            Some(text) => Some(Endpoint::parse(&text, plain_http)?),
            None => None,
        },
    })
}

/// Begins a launch: what the person has to open, and what their way back is held against.
pub fn begin(
    places: Places,
    server: &Endpoint,
    id: &str,
    scope: &str,
    redirect: &str,
) -> Result<Begun, LaunchError> {
    let random = || {
        let mut octets = [0_u8; RANDOM_OCTETS];
        SystemRandom::new()
            .fill(&mut octets)
            .map(|()| URL_SAFE_NO_PAD.encode(octets))
            .map_err(|_| LaunchError::Server("the system gives no random numbers".into()))
    };
    let (state, verifier) = (random()?, Secret::new(random()?));
    let challenge = URL_SAFE_NO_PAD.encode(Sha256::digest(verifier.expose()));
    let aud = server.to_string();
    let query = form(&[
        ("response_type", "code"),
        ("client_id", id),
        ("redirect_uri", redirect),
        ("scope", scope),
        ("state", &state),
        ("aud", aud.trim_end_matches('/')),
        ("code_challenge", &challenge),
        ("code_challenge_method", "S256"),
    ]);
    let at = places.authorization.to_string();
    let joint = if at.contains('?') { '&' } else { '?' };
    Ok(Begun {
        url: format!("{at}{joint}{query}"),
        state,
        verifier,
        redirect: redirect.to_owned(),
        places,
    })
}

impl Begun {
    /// The code in the address at which the person came back; `text` is that address or only its query.
    pub fn code(&self, text: &str) -> Result<Secret, LaunchError> {
        let query = text.split_once('?').map_or(text, |(_, query)| query);
        let query = query.split('#').next().unwrap_or_default();
        let value = |name: &str| {
            form_urlencoded::parse(query.as_bytes())
                .find(|(key, _)| key == name)
                .map(|(_, value)| value.into_owned())
        };
        // Whoever sends somebody here with a code of their own does not know it (RFC 6749, section 10.12).
        if value("state").as_deref() != Some(&self.state) {
            return Err(LaunchError::NotOurs(
                "that is not the answer to this launch: its `state` is another or missing; begin anew, and take the whole \
                 address at which the browser ends"
                    .into(),
            ));
        }
        if let Some(error) = value("error") {
            return Err(of_code(&error));
        }
        value("code")
            .filter(|code| !code.is_empty())
            .map(Secret::new)
            .ok_or_else(|| LaunchError::NotOurs("that answer has no `code`; begin anew".into()))
    }

    /// Takes the code back to the clinic for a key.
    pub fn exchange(
        self,
        outbound: &dyn Ask,
        who: &Who<'_>,
        code: &Secret,
        now: Timestamp,
    ) -> Result<Let, LaunchError> {
        #[derive(Deserialize)]
        struct More {
            patient: Option<String>,
            scope: Option<String>,
            refresh_token: Option<String>,
        }
        let own = who.fields(&self.places.token, now).map_err(LaunchError::Server)?;
        let mut fields = vec![
            ("grant_type", "authorization_code"),
            ("code", code.expose()),
            ("redirect_uri", &self.redirect),
            ("code_verifier", self.verifier.expose()),
        ];
        fields.extend(own.iter().map(|(name, value)| (*name, value.as_str())));
        let answer = ask(outbound, &self.places.token, Some(&form(&fields)), now)?;
        if failed(&answer).is_some() {
            return Err(code_of(&answer).map_or_else(
                || {
                    LaunchError::Refused(format!(
                        "{} answers with status {}",
                        self.places.token, answer.status
                    ))
                },
                |code| of_code(&code),
            ));
        }
        let access = granted(&answer).map_err(|trouble| LaunchError::Server(trouble.to_string()))?;
        let more: More = serde_json::from_slice(&answer.body)
            .map_err(|_| LaunchError::Server("the answer to the launch cannot be read".into()))?;
        let scope = more.scope.unwrap_or_default();
        let patient = more.patient.ok_or_else(|| {
            LaunchError::Lacking(
                "the clinic did not say whose record it is (no `patient` beside the token): ask it to allow the scope \
                 launch/patient. Nothing was kept"
                    .into(),
            )
        })?;
        // An id as FHIR has it (R4, datatypes, id); it becomes a part of references and addresses.
        let is_id = (1..=64).contains(&patient.len())
            && patient
                .bytes()
                .all(|octet| octet.is_ascii_alphanumeric() || b"-.".contains(&octet));
        if !is_id {
            return Err(LaunchError::Server(
                "what the clinic calls the patient is no id of FHIR's; nothing was kept".into(),
            ));
        }
        if !scope.is_empty() && !may_write(&scope, "Observation") {
            return Err(LaunchError::Lacking(
                "the clinic does not let us write readings (no patient/Observation scope that creates and updates); ask it \
                 for one. Nothing was kept"
                    .into(),
            ));
        }
        let refresh = more.refresh_token.filter(|token| !token.is_empty()).ok_or_else(|| {
            LaunchError::Lacking(
                "the clinic gave a key for minutes only (no refresh_token): ask it to allow the scope offline_access. Nothing \
                 was kept"
                    .into(),
            )
        })?;
        Ok(Let {
            patient,
            scope,
            refresh: Secret::new(refresh),
            access,
            places: self.places,
        })
    }
}

/// Whether resources of a type may be created and replaced with this: scopes of SMART 2 (`.cru`), and of SMART 1
/// (`.write`, `.*`).
pub(super) fn may_write(scope: &str, kind: &str) -> bool {
    scope.split_ascii_whitespace().any(|one| {
        let rest = one.strip_prefix("patient/").and_then(|rest| {
            let rest = rest.strip_prefix(kind).or_else(|| rest.strip_prefix('*'))?;
            rest.strip_prefix('.')
        });
        rest.is_some_and(|rest| {
            let rights = rest.split('?').next().unwrap_or_default();
            matches!(rights, "write" | "*") || rights.contains('c') && rights.contains('u')
        })
    })
}

/// What a code of RFC 6749 (sections 4.1.2.1 and 5.2) means for a person; another is not repeated.
fn of_code(code: &str) -> LaunchError {
    let why = match code {
        "access_denied" => return LaunchError::Declined,
        "invalid_scope" => "it does not allow what is asked for (clinic.scope)",
        "unauthorized_client" => "this gateway is not registered there for a launch",
        "invalid_client" => "it does not know this gateway under clinic.client-id, or not with this key",
        "invalid_grant" => "the code of this launch has run out, or was used already; begin anew",
        "server_error" | "temporarily_unavailable" => "something is wrong there; try again later",
        "invalid_request" => {
            "it does not take the launch as it is asked for; most often clinic.redirect-url is not the one registered there"
        }
        _ => "it does not say why in words of the standard",
    };
    LaunchError::Refused(why.to_owned())
}

/// Takes a key back at the clinic (RFC 7009): a server answers 200 also for one that it does not know.
pub fn revoke(
    outbound: &dyn Ask,
    at: &Endpoint,
    who: &Who<'_>,
    refresh: &Secret,
    now: Timestamp,
) -> Result<(), LaunchError> {
    let own = who.fields(at, now).map_err(LaunchError::Server)?;
    let mut fields = vec![("token", refresh.expose()), ("token_type_hint", "refresh_token")];
    fields.extend(own.iter().map(|(name, value)| (*name, value.as_str())));
    let answer = ask(outbound, at, Some(&form(&fields)), now)?;
    if answer.status == 200 {
        return Ok(());
    }
    Err(LaunchError::Server(format!(
        "{at} answers with status {}",
        answer.status
    )))
}

pub(super) fn ask(
    outbound: &dyn Ask,
    to: &Endpoint,
    form: Option<&str>,
    now: Timestamp,
) -> Result<HttpAnswer, OutboundError> {
    outbound.ask(
        &HttpRequest {
            to,
            body: form.map(|form| ("application/x-www-form-urlencoded", form.as_bytes())),
            replaces: false,
            accept: "application/json",
            authorization: None,
            fields: &[],
            answer_max: ANSWER_OCTETS_MAX,
        },
        now,
    )
}

pub(super) fn form(fields: &[(&str, &str)]) -> String {
    let pairs: Vec<String> = fields
        .iter()
        .map(|(name, value)| format!("{name}={}", escaped(value)))
        .collect();
    pairs.join("&")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn begun() -> Begun {
        let at = |text: &str| Endpoint::parse(text, false).unwrap();
        let places = Places {
            authorization: at("https://clinic.example/authorize?tenant=1"),
            token: at("https://clinic.example/token"),
            revocation: None,
        };
        let server = at("https://clinic.example/r4/");
        begin(places, &server, "home 1", SCOPE, "http://127.0.0.1:8418/").unwrap()
    }

    #[test]
    fn a_launch_asks_for_one_patient_with_a_challenge_and_a_state_of_its_own() {
        let (one, other) = (begun(), begun());
        let at = "https://clinic.example/authorize?tenant=1&response_type=code&client_id=home%201&";
        assert!(one.url.starts_with(at), "{}", one.url);
        for part in [
            "redirect_uri=http%3A%2F%2F127.0.0.1%3A8418%2F&",
            "scope=launch%2Fpatient%20patient%2FObservation.crus",
            "aud=https%3A%2F%2Fclinic.example%2Fr4&",
            "code_challenge_method=S256",
        ] {
            assert!(one.url.contains(part), "{part}: {}", one.url);
        }
        // RFC 7636, appendix B, by its own numbers.
        let of = |verifier: &str| URL_SAFE_NO_PAD.encode(Sha256::digest(verifier));
        assert_eq!(
            of("dBjftJeZ4CVP-mB92K27uhbUJU1p1r_wW1gFWFOEjXk"),
            "E9Melhoa2OwvFrEMTJguCHaoeK1t8URWbuGJSstw-cM"
        );
        let challenge = format!("code_challenge={}&", of(one.verifier.expose()));
        assert!(one.url.contains(&challenge) && !one.url.contains(one.verifier.expose()));
        assert_eq!(one.verifier.expose().len(), 43);
        assert!(one.state != other.state && one.verifier != other.verifier);
    }

    #[test]
    fn only_the_answer_to_this_launch_is_taken() {
        let begun = begun();
        let state = &begun.state;
        let code = |text: &str| begun.code(text).map(|code| code.expose().to_owned());
        assert_eq!(
            code(&format!("http://127.0.0.1:8418/?code=a%2Bb+c&state={state}#x")).unwrap(),
            "a+b c"
        );
        assert_eq!(code(&format!("state={state}&code=a")).unwrap(), "a");
        for others in [
            "code=a",
            "code=a&state=",
            "code=a&state=other",
            "",
            "%",
            "state",
            "?&&=",
        ] {
            assert!(matches!(code(others), Err(LaunchError::NotOurs(_))), "{others}");
        }
        assert!(matches!(
            code(&format!("state={state}")),
            Err(LaunchError::NotOurs(_))
        ));
        let said = code(&format!(
            "error=access_denied&error_description=%3Cb%3E&state={state}"
        ))
        .unwrap_err();
        assert!(
            said.to_string().contains("declined") && !said.to_string().contains("<b>"),
            "{said}"
        );
    }

    #[test]
    fn what_lets_us_write_is_told_from_what_only_lets_us_read() {
        for good in [
            SCOPE,
            "patient/Observation.cruds",
            "patient/*.cud",
            "patient/Observation.write",
            "openid patient/*.*",
            "patient/Observation.cu?category=vital-signs",
        ] {
            assert!(may_write(good, "Observation"), "{good}");
        }
        for bad in [
            "patient/Observation.rs",
            "patient/Observation.c",
            "system/Observation.crus",
            "patient/Device.crus",
            "",
        ] {
            assert!(!may_write(bad, "Observation"), "{bad}");
        }
    }
}
