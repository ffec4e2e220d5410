//! Mail over SMTP. The library encodes every header, and what others wrote is one line before it comes here;
//! the `Message-ID` is made of the matter, so that a repeat after a crash is the same mail.

use super::error::ChannelError;
use super::message::{Message, name_of};
use super::routes::{MailServer, Route, Security};
use crate::secret::Secret;
use lettre::message::header::{ContentType, HeaderName, HeaderValue};
use lettre::message::{Mailbox, header};
use lettre::transport::smtp::authentication::Credentials;
use lettre::transport::smtp::client::{Certificate, Tls, TlsParameters};
use lettre::{SmtpTransport, Transport};
use std::time::Duration;

/// A server that says nothing for so long is not there.
const TIMEOUT: Duration = Duration::from_secs(30);
/// A certificate authority's file.
const CA_OCTETS_MAX: usize = 1024 * 1024;

/// Writes to one address.
pub struct Mailer {
    transport: SmtpTransport,
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
        let tls = match server.security {
            Security::Tls => Tls::Wrapper(parameters(server)?),
            Security::Starttls => Tls::Required(parameters(server)?),
            Security::None => Tls::None,
        };
        let mut transport = SmtpTransport::builder_dangerous(server.server.as_str())
            .port(port)
            .tls(tls)
            .timeout(Some(TIMEOUT));
        if let (Some(user), Some(path)) = (&server.user, &server.password_file) {
            let password = Secret::read("the password for mail", path)?;
            transport = transport.credentials(Credentials::new(user.clone(), password.expose().to_owned()));
        }
        Ok(Self {
            transport: transport.build(),
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
            .header(AutoSubmitted)
            .header(ContentType::TEXT_PLAIN)
            .body(format!("{}\n", message.text))
            .map_err(|e| wrong(&e))?;
        self.transport.send(&mail).map(|_| ()).map_err(|e| wrong(&e))
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
