//! Who we are to the clinic's server.

use super::answer::Trouble;
use super::enrolled::Launched;
use super::smart::{Client, Given};
use super::{Auth, Clinic, DeliveryError};
use crate::outbound::{Ask, Endpoint};
use crate::secret::Secret;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use jiff::Timestamp;
use std::path::PathBuf;

/// What the server is shown.
#[derive(Debug)]
pub enum Credentials {
    /// No header field `Authorization`.
    None,
    /// The same header field with each request (`bearer` and `basic` in the configuration).
    Fixed {
        /// The whole header field.
        field: Secret,
        /// The part of it that is secret by itself.
        part: Secret,
    },
    /// A token that is asked for.
    Smart(Box<Client>),
    /// A token for one person's record, which that person let us have.
    Launched(Box<Launched>),
}

impl Credentials {
    /// Reads what the configuration names.
    pub fn read(clinic: &Clinic, server: &Endpoint) -> Result<Self, DeliveryError> {
        match clinic.auth {
            Auth::None => Ok(Self::None),
            Auth::Launch => Ok(Self::Launched(Box::new(Launched::read(clinic, server)?))),
            Auth::Bearer => {
                let file = named(clinic.token_file.as_ref(), "token-file")?;
                let part = Secret::read("the clinic's token", file)?;
                // RFC 6750, section 2.1.
                if !part.expose().bytes().all(|octet| octet.is_ascii_graphic()) {
                    return Err(DeliveryError::Configuration(format!(
                        "the clinic's token in {} has characters that no token has; write it alone on one line",
                        file.display()
                    )));
                }
                let field = Secret::new(format!("Bearer {}", part.expose()));
                Ok(Self::Fixed { field, part })
            }
            Auth::Basic => {
                let user = named(clinic.user.as_ref(), "user")?;
                let file = named(clinic.password_file.as_ref(), "password-file")?;
                let part = Secret::read("the clinic's password", file)?;
                let encoded = STANDARD.encode(format!("{user}:{}", part.expose()));
                let field = Secret::new(format!("Basic {encoded}"));
                Ok(Self::Fixed { field, part })
            }
            Auth::Smart => {
                let file: &PathBuf = named(clinic.key_file.as_ref(), "key-file")?;
                let key = Secret::read("the clinic's key", file)?;
                let given = Given {
                    id: named(clinic.client_id.as_ref(), "client-id")?,
                    scope: &clinic.scope(),
                    key_id: clinic.key_id.as_deref(),
                    algorithm: clinic.algorithm,
                };
                let token_url = clinic
                    .token_url
                    .as_ref()
                    .map(|url| Endpoint::parse(url, clinic.plain_http.is_some()))
                    .transpose()?;
                let client = Client::new(given, &key, token_url)
                    .map_err(|why| DeliveryError::Configuration(format!("{}: {why}", file.display())))?;
                Ok(Self::Smart(Box::new(client)))
            }
        }
    }

    /// The header field `Authorization`, if there is to be one.
    pub fn field(
        &mut self,
        outbound: &dyn Ask,
        server: &Endpoint,
        plain_http: bool,
        now: Timestamp,
    ) -> Result<Option<Secret>, Trouble> {
        match self {
            Self::None => Ok(None),
            Self::Fixed { field, .. } => Ok(Some(field.clone())),
            Self::Smart(client) => {
                let token = client.authorize(outbound, server, plain_http, now)?;
                Ok(Some(Secret::new(format!("Bearer {}", token.expose()))))
            }
            Self::Launched(launched) => {
                let token = launched.authorize(outbound, now)?;
                Ok(Some(Secret::new(format!("Bearer {}", token.expose()))))
            }
        }
    }

    /// The server did not take it; whether another can be had at once.
    pub fn renew(&mut self) -> bool {
        match self {
            Self::Smart(client) => {
                client.forget_token();
                true
            }
            Self::Launched(launched) => {
                launched.forget_token();
                true
            }
            Self::None | Self::Fixed { .. } => false,
        }
    }

    /// Somebody else's text without what is secret.
    pub fn scrub(&self, text: &str) -> String {
        match self {
            Self::None => text.to_owned(),
            Self::Fixed { field, part } => {
                let encoded = field.expose().split_once(' ').map_or("", |(_, encoded)| encoded);
                part.scrub(&Secret::new(encoded).scrub(text))
            }
            Self::Smart(client) => client
                .token()
                .map_or_else(|| text.to_owned(), |token| token.scrub(text)),
            Self::Launched(launched) => launched.scrub(text),
        }
    }
}

fn named<'c, T>(value: Option<&'c T>, key: &str) -> Result<&'c T, DeliveryError> {
    value.ok_or_else(|| {
        DeliveryError::Configuration(format!(
            "clinic.{key} is missing, which this way of clinic.auth needs"
        ))
    })
}
