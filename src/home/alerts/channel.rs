//! The ways by which a message goes out.

use super::command::Program;
use super::mail::Mailer;
use super::message::Message;
use super::mqtt::Mqtt;
use super::routes::{Alerts, Medium, Route};
use super::webhook::Webhook;
use crate::outbound::OutboundError;
use crate::secret::SecretError;
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::sync::Arc;

/// A channel that cannot be set up, or a message that did not go out.
#[derive(Debug, thiserror::Error)]
pub enum ChannelError {
    /// A secret cannot be had.
    #[error(transparent)]
    Secret(#[from] SecretError),
    /// An address or a certificate cannot be used.
    #[error(transparent)]
    Outbound(#[from] OutboundError),
    /// The server did not take it.
    #[error("the webhook answers with status {0}")]
    Status(u16),
    /// The program failed.
    #[error("the command {0}")]
    Command(String),
    /// The mail cannot be written or was not taken.
    #[error("mail: {0}")]
    Mail(String),
    /// The broker cannot be reached or did not take it.
    #[error("MQTT: {0}")]
    Mqtt(String),
    /// The configuration does not say enough.
    #[error("{0}")]
    Route(String),
    /// The program is stopping.
    #[error("cut off by the end of the program")]
    Stopped,
}

/// One way out.
#[derive(Clone, Debug)]
pub enum Channel {
    /// A program on this machine.
    Command(Arc<Program>),
    /// An HTTP server.
    Webhook(Arc<Webhook>),
    /// Mail.
    Mail(Arc<Mailer>),
    /// A broker.
    Mqtt(Mqtt),
}

/// Every route's channel, by its name. `household` tells this installation from others.
pub fn open(
    alerts: &Alerts,
    mqtt: Option<&Mqtt>,
    household: i64,
) -> Result<BTreeMap<String, Channel>, ChannelError> {
    alerts
        .route
        .iter()
        .map(|route| Ok((route.name.clone(), Channel::of(route, alerts, mqtt, household)?)))
        .collect()
}

impl Channel {
    fn of(route: &Route, alerts: &Alerts, mqtt: Option<&Mqtt>, household: i64) -> Result<Self, ChannelError> {
        let lacks = |what: &str| ChannelError::Route(format!("alerts.route {}: {what}", route.name));
        Ok(
            match route.medium().ok_or_else(|| lacks("no way out is named"))? {
                Medium::Command => {
                    Self::Command(Arc::new(Program::new(route.command.clone().unwrap_or_default())))
                }
                Medium::Webhook => Self::Webhook(Arc::new(Webhook::new(route, household)?)),
                Medium::Mail => {
                    let server = alerts
                        .mail
                        .as_ref()
                        .ok_or_else(|| lacks("no mail server is named"))?;
                    Self::Mail(Arc::new(Mailer::new(server, route, household)?))
                }
                Medium::Mqtt => Self::Mqtt(mqtt.ok_or_else(|| lacks("no broker is named"))?.clone()),
            },
        )
    }

    /// Sends one message. When it returns `Ok`, the receiver has it, or the server that passes it on.
    pub async fn send(&self, route: &str, message: &Message) -> Result<(), ChannelError> {
        match self {
            Self::Command(program) => program.run(route, message).await,
            Self::Mqtt(mqtt) => mqtt.tell(route, message).await,
            Self::Webhook(webhook) => {
                let (webhook, message) = (webhook.clone(), message.clone());
                on_a_thread(move || webhook.send(&message)).await
            }
            Self::Mail(mailer) => {
                let (mailer, message) = (mailer.clone(), message.clone());
                on_a_thread(move || mailer.send(&message)).await
            }
        }
    }
}

async fn on_a_thread(
    work: impl FnOnce() -> Result<(), ChannelError> + Send + 'static,
) -> Result<(), ChannelError> {
    tokio::task::spawn_blocking(work)
        .await
        .unwrap_or(Err(ChannelError::Stopped))
}

/// Names a message on one route, the same whenever it is sent, and not that of another household.
pub(super) fn name_of(household: i64, route: &str, key: &str) -> String {
    let digest = Sha256::digest(format!("{household}\n{route}\n{key}").as_bytes());
    digest
        .iter()
        .take(16)
        .map(|octet| format!("{octet:02x}"))
        .collect()
}
