//! One JSON object by POST, with a name of its own in `Idempotency-Key`
//! (draft-ietf-httpapi-idempotency-key-header), by which a receiver knows a repeat.

use super::error::ChannelError;
use super::message::{Message, name_of};
use super::routes::Route;
use crate::outbound::{Ask, Endpoint, HttpRequest, Outbound};
use crate::secret::Secret;
use jiff::Timestamp;

/// Nobody reads the answer; its status is enough.
const ANSWER_OCTETS_MAX: u64 = 64 * 1024;

/// An HTTP server that takes messages.
#[derive(Debug)]
pub struct Webhook {
    to: Endpoint,
    client: Outbound,
    authorization: Option<Secret>,
    route: String,
    household: i64,
}

impl Webhook {
    /// The webhook of a route.
    pub fn new(route: &Route, household: i64) -> Result<Self, ChannelError> {
        let authorization = match &route.token_file {
            Some(path) => {
                let token = Secret::read("the webhook's token", path)?;
                Some(Secret::new(format!("Bearer {}", token.expose())))
            }
            None => None,
        };
        Ok(Self {
            to: Endpoint::parse(route.webhook.as_deref().unwrap_or_default(), false)?,
            client: Outbound::new(None)?,
            authorization,
            route: route.name.clone(),
            household,
        })
    }

    /// Posts a message and waits for the answer.
    pub fn send(&self, message: &Message) -> Result<(), ChannelError> {
        let body = serde_json::to_vec(message).map_err(|e| ChannelError::Route(e.to_string()))?;
        let name = name_of(self.household, &self.route, &message.key);
        let answer = self.client.ask(
            &HttpRequest {
                to: &self.to,
                body: Some(("application/json", &body)),
                replaces: false,
                accept: "application/json",
                authorization: self.authorization.as_ref(),
                fields: &[("idempotency-key", &name)],
                answer_max: ANSWER_OCTETS_MAX,
            },
            Timestamp::now(),
        )?;
        if (200..300).contains(&answer.status) {
            Ok(())
        } else {
            Err(ChannelError::Status(answer.status))
        }
    }
}
