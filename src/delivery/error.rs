//! Why delivery cannot work as it is set up.

use crate::journal::JournalError;
use crate::outbound::OutboundError;
use crate::secret::SecretError;
use crate::whole::NotWritten;

/// Why delivery cannot work as it is set up.
#[derive(Debug, thiserror::Error)]
pub enum DeliveryError {
    /// The configuration lacks something, or says something that cannot be.
    #[error("{0}")]
    Configuration(String),
    /// Nobody has opened their record to this gateway, or another's is open.
    #[error("{0}")]
    NotOpen(String),
    /// A secret cannot be had.
    #[error(transparent)]
    Secret(#[from] SecretError),
    /// An address or certificate that cannot be used.
    #[error(transparent)]
    Outbound(#[from] OutboundError),
    /// The journal cannot be opened, read or written.
    #[error(transparent)]
    Journal(#[from] JournalError),
    /// The key to the clinic's record cannot be kept.
    #[error(transparent)]
    Keeping(#[from] NotWritten),
    /// Writing what is to be sent.
    #[error("cannot write a resource: {0}")]
    Writing(#[from] std::io::Error),
}

impl DeliveryError {
    /// The exit code of sysexits that says the same.
    pub fn exit_code(&self) -> u8 {
        match self {
            Self::Configuration(_) | Self::NotOpen(_) | Self::Outbound(_) => 78,
            Self::Secret(error) => error.exit_code(),
            Self::Journal(error) => error.exit_code(),
            Self::Keeping(error) => error.exit_code(),
            Self::Writing(_) => 74,
        }
    }
}
