//! Why nothing came of a connection out of the house.

use std::path::PathBuf;

/// The reason why there is no whole answer.
#[derive(Debug, thiserror::Error)]
pub enum OutboundError {
    /// The address cannot be used.
    #[error("{text}: {why}")]
    Address {
        /// The address as it was written, without a password that stood in it.
        text: String,
        /// The reason why the address cannot be used.
        why: String,
    },
    /// Plain HTTP to another machine is not allowed.
    #[error(
        "{text}: plain http, or whatever else is not encrypted, can be read by everybody on the way to another machine; write \
         https (or mllps), or allow it in the configuration"
    )]
    Plain {
        /// The address as it was written.
        text: String,
    },
    /// A header field, such as a token, has characters that cannot be sent.
    #[error("{0} has characters that cannot be sent")]
    Field(&'static str),
    /// The certificate authority's file cannot be used.
    #[error("cannot use the certificates of {}: {why}", path.display())]
    Authority {
        /// The path of the certificate authority's file.
        path: PathBuf,
        /// The reason why the file cannot be used.
        why: String,
    },
    /// Our own certificate or its key cannot be used.
    #[error("cannot show who we are with {}: {why}", path.display())]
    OwnCertificate {
        /// The path of the file that cannot be used.
        path: PathBuf,
        /// The reason why the file cannot be used.
        why: String,
    },
    /// The server asks for a certificate of ours, and there is none.
    #[error(
        "{to}: it asks for a certificate of ours, and there is none; have the clinic sign one, and name it in \
         clinic.certificate-file, and its key in clinic.certificate-key-file"
    )]
    Asked {
        /// The server that asks, as `https://NAME`.
        to: String,
    },
    /// The server does not accept our certificate.
    #[error(
        "{to}: it does not accept our certificate: {why}; ask the clinic who has to sign it, and until when it holds \
         (`openssl x509 -noout -text -in FILE` shows what it says)"
    )]
    NotAccepted {
        /// The server that does not accept it, as `https://NAME`.
        to: String,
        /// The reason, as far as the server tells.
        why: String,
    },
    /// The machine has no roots to check a certificate against.
    #[error(
        "this machine has no certificates to check a server with: {0}; `apt install ca-certificates` brings them"
    )]
    NoRoots(String),
    /// The server is not who it should be.
    #[error("{to}: its certificate does not hold: {why}")]
    Certificate {
        /// The server whose certificate does not hold, as `https://NAME`.
        to: String,
        /// The reason, in the words of the TLS library.
        why: String,
    },
    /// There is no connection, or it broke.
    #[error("{to}: {why}")]
    Unreachable {
        /// The server that was not reached, as `https://NAME`.
        to: String,
        /// The reason, in the words of the system or of the HTTP library.
        why: String,
    },
    /// The answer is longer than the question allows.
    #[error("{to}: it answers with more than {max} octets")]
    TooLong {
        /// The server that answered, as `https://NAME`.
        to: String,
        /// The longest answer that the question allowed, in octets.
        max: u64,
    },
}
