//! Mail over SMTP. The library encodes every header, and what others wrote is one line before it comes here;
//! the `Message-ID` is made of the matter, so that a repeat after a crash is the same mail.

use super::bounded::{Bounded, Through};
use super::error::ChannelError;
use super::message::{Message, name_of};
use super::routes::{MailServer, Route, Security};
use crate::outbound::tls;
use crate::secret::Secret;
use lettre::message::header::{ContentType, HeaderName, HeaderValue};
use lettre::message::{Mailbox, header};
use lettre::transport::smtp::authentication::{Credentials, DEFAULT_MECHANISMS};
use lettre::transport::smtp::client::{AsyncSmtpConnection, Certificate, TlsParameters};
use lettre::transport::smtp::extension::ClientId;
use rustls_pki_types::ServerName;
use std::sync::Arc;
use std::time::Duration;
use tokio::net::TcpStream;
use tokio::time::timeout;
use tokio_rustls::TlsConnector;

/// A mail is handed over in this time, or the server is not there.
const TIMEOUT: Duration = Duration::from_secs(30);
/// All that a server says while it takes one mail: its greeting, what it can do, its certificates. RFC 5321 4.5.3.1.5
/// gives a line 512 octets; a server that goes on for ever is cut off. Own choice.
const SAID_OCTETS_MAX: usize = 256 * 1024;
/// A certificate authority's file.
const CA_OCTETS_MAX: usize = 1024 * 1024;

/// Writes to one address.
pub struct Mailer {
    server: MailServer,
    port: u16,
    credentials: Option<Credentials>,
    from: Mailbox,
    to: Mailbox,
    route: String,
    household: i64,
}

impl std::fmt::Debug for Mailer {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Mailer")
            .field("route", &self.route)
            .finish_non_exhaustive()
    }
}

impl Mailer {
    /// The mail of a route.
    pub fn new(server: &MailServer, route: &Route, household: i64) -> Result<Self, ChannelError> {
        let mailbox = |text: &str| {
            text.parse::<Mailbox>()
                .map_err(|e| ChannelError::Mail(format!("{text:?} is no address: {e}")))
        };
        let port = server.port.unwrap_or(match server.security {
            Security::Tls => 465,
            Security::Starttls => 587,
            Security::None => 25,
        });
        // What is wrong with the authority's file is said before anything is to be sent.
        if server.security != Security::None {
            parameters(server)?;
        }
        let credentials = match (&server.user, &server.password_file) {
            (Some(user), Some(path)) => {
                let password = Secret::read("the password for mail", path)?;
                Some(Credentials::new(user.clone(), password.expose().to_owned()))
            }
            _ => None,
        };
        Ok(Self {
            server: server.clone(),
            port,
            credentials,
            from: mailbox(&server.from)?,
            to: mailbox(route.mail.as_deref().unwrap_or_default())?,
            route: route.name.clone(),
            household,
        })
    }

    /// Hands a message to the server.
    pub fn send(&self, message: &Message) -> Result<(), ChannelError> {
        let wrong = |e: &dyn std::fmt::Display| ChannelError::Mail(e.to_string());
        let name = name_of(self.household, &self.route, &message.key);
        let mail = lettre::Message::builder()
            .from(self.from.clone())
            .to(self.to.clone())
            .subject(message.subject.as_str())
            .message_id(Some(format!("<{name}@{}>", self.from.email.domain())))
            .header(header::MIME_VERSION_1_0)
            .header(AutoSubmitted)
            .header(ContentType::TEXT_PLAIN)
            .body(format!("{}\n", message.text))
            .map_err(|e| wrong(&e))?;
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()
            .map_err(|e| wrong(&e))?;
        runtime
            .block_on(async { timeout(TIMEOUT, self.hand_over(&mail)).await })
            .map_err(|_| wrong(&format_args!("{} says nothing", self.server.server)))?
    }

    async fn hand_over(&self, mail: &lettre::Message) -> Result<(), ChannelError> {
        let wrong = |e: &dyn std::fmt::Display| ChannelError::Mail(e.to_string());
        let server = self.server.server.as_str();
        let stream = TcpStream::connect((server, self.port))
            .await
            .map_err(|e| wrong(&e))?;
        let peer = stream.peer_addr().map_err(|e| wrong(&e))?;
        let stream = Bounded::new(stream, SAID_OCTETS_MAX);
        let us = ClientId::default();
        let mut connection = if self.server.security == Security::Tls {
            let trust = Arc::new(tls(self.server.ca_file.as_deref())?);
            let name = ServerName::try_from(server.to_owned()).map_err(|e| wrong(&e))?;
            let stream = TlsConnector::from(trust)
                .connect(name, stream)
                .await
                .map_err(|e| wrong(&e))?;
            AsyncSmtpConnection::connect_with_transport(Box::new(Through::new(stream, peer)), &us).await
        } else {
            AsyncSmtpConnection::connect_with_transport(Box::new(Through::new(stream, peer)), &us).await
        }
        .map_err(|e| wrong(&e))?;
        if self.server.security == Security::Starttls {
            let started = connection.starttls(parameters(&self.server)?, &us).await;
            started.map_err(|e| wrong(&e))?;
        }
        if let Some(credentials) = &self.credentials {
            let known = connection.auth(DEFAULT_MECHANISMS, credentials).await;
            known.map_err(|e| wrong(&e))?;
        }
        let sent = connection.send(mail.envelope(), &mail.formatted()).await;
        sent.map_err(|e| wrong(&e))?;
        // It has the mail; how it says good-bye is its own affair.
        let _ = connection.quit().await;
        Ok(())
    }
}

fn parameters(server: &MailServer) -> Result<TlsParameters, ChannelError> {
    let wrong = |e: &dyn std::fmt::Display| ChannelError::Mail(e.to_string());
    let mut parameters = TlsParameters::builder(server.server.clone());
    if let Some(path) = &server.ca_file {
        let pem = std::fs::read(path).map_err(|e| wrong(&format_args!("{}: {e}", path.display())))?;
        if pem.len() > CA_OCTETS_MAX {
            return Err(wrong(&format_args!(
                "{} is too long for certificates",
                path.display()
            )));
        }
        parameters = parameters.add_root_certificate(Certificate::from_pem(&pem).map_err(|e| wrong(&e))?);
    }
    parameters.build().map_err(|e| wrong(&e))
}

/// Nobody's holiday notice is to answer (RFC 3834).
#[derive(Clone)]
struct AutoSubmitted;

impl header::Header for AutoSubmitted {
    fn name() -> HeaderName {
        HeaderName::new_from_ascii_str("Auto-Submitted")
    }

    fn parse(_: &str) -> Result<Self, Box<dyn std::error::Error + Send + Sync>> {
        Ok(Self)
    }

    fn display(&self) -> HeaderValue {
        HeaderValue::new(Self::name(), "auto-generated".to_owned())
    }
}
