//! A channel that cannot be set up, or a message that did not go out.

use crate::outbound::OutboundError;
use crate::secret::SecretError;

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
    /// The broker has the connection, and does not take this; by its own code of the reason.
    #[error("MQTT: the broker refuses it: {0}")]
    Refused(String),
    /// The configuration does not say enough.
    #[error("{0}")]
    Route(String),
    /// The program is stopping.
    #[error("cut off by the end of the program")]
    Stopped,
}
