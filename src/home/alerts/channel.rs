//! The ways by which a message goes out.

use super::command::Program;
use super::error::ChannelError;
use super::mail::Mailer;
use super::message::Message;
use super::mqtt::Mqtt;
use super::routes::{Alerts, Medium, Route};
use super::webhook::Webhook;
use std::collections::BTreeMap;
use std::sync::Arc;

/// One way out.
#[derive(Clone, Debug)]
pub enum Channel {
    /// A program on this machine.
    Command(Arc<Program>),
    /// An HTTP server.
    Webhook(Arc<Webhook>),
    /// A mail server, which passes the message on.
    Mail(Arc<Mailer>),
    /// An MQTT broker.
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
