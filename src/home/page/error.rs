//! Why the page cannot be served.

use crate::secret::SecretError;
use crate::whole::reason;
use std::net::SocketAddr;

/// Why the page cannot be served.
#[derive(Debug, thiserror::Error)]
pub enum ServeError {
    /// It would show everything to the network in the clear.
    #[error(
        "the page would be sent unencrypted to other machines: give `tls-certificate` and `tls-key` under [page], or say \
         `plain-http-to-others = true` there if that is what you want"
    )]
    Plain,
    /// The address is taken, or not ours.
    #[error("cannot listen on {}: {}; choose another address with `--listen ADDRESS:PORT`, or with `listen` under [page] for good", .0, reason(.1))]
    Listen(SocketAddr, std::io::Error),
    /// The certificate cannot be used.
    #[error("the certificate {0}: {1}")]
    Certificate(String, String),
    /// Its key cannot be read, or others can read it.
    #[error(transparent)]
    Key(#[from] SecretError),
}
