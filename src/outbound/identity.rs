//! Our own certificate, which some servers ask for (TLS with client authentication, RFC 8446, section 4.3.2; IHE ATNA
//! asks it of both sides), and what is said where there is none or it is not accepted.

use super::error::OutboundError;
use crate::secret::Secret;
use crate::whole::reason;
use rustls::client::ResolvesClientCert;
use rustls::sign::CertifiedKey;
use rustls::{AlertDescription, SignatureScheme};
use rustls_pki_types::pem::PemObject;
use rustls_pki_types::{CertificateDer, PrivateKeyDer};
use std::io::Read;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// The longest file of a certificate, in octets: a chain of five has 10 KiB.
const CHAIN_OCTETS_MAX: u64 = 256 * 1024;

/// A certificate with its chain and its key.
#[derive(Clone, Debug)]
pub struct ClientCertificate {
    certified: Arc<CertifiedKey>,
    chain: Vec<CertificateDer<'static>>,
    key: Secret,
}

impl ClientCertificate {
    /// Reads the certificate with its chain (PEM) from the one file, and takes the key (PEM, without a password) that
    /// was read from the other. The error is `OwnCertificate` with the path of the file that cannot be used.
    pub fn read(certificate: &Path, key: &Secret, key_path: &Path) -> Result<Self, OutboundError> {
        let wrong = |path: &Path, why: String| OutboundError::OwnCertificate {
            path: path.to_owned(),
            why,
        };
        let of_file = |why: String| wrong(certificate, why);
        let mut pem = Vec::new();
        std::fs::File::open(certificate)
            .and_then(|file| file.take(CHAIN_OCTETS_MAX + 1).read_to_end(&mut pem))
            .map_err(|error| of_file(format!("{}; check its name and who may read it", reason(&error))))?;
        if u64::try_from(pem.len()).unwrap_or(u64::MAX) > CHAIN_OCTETS_MAX {
            return Err(of_file(format!("it is longer than {CHAIN_OCTETS_MAX} octets")));
        }
        let chain: Vec<CertificateDer<'static>> = CertificateDer::pem_slice_iter(&pem)
            .collect::<Result<_, _>>()
            .map_err(|error| of_file(error.to_string()))?;
        if chain.is_empty() {
            return Err(of_file("there is no certificate in it (PEM is expected)".into()));
        }
        if key.expose().contains("ENCRYPTED") {
            return Err(wrong(
                key_path,
                "the key is behind a password, which nobody types here; `openssl pkey` writes it without"
                    .into(),
            ));
        }
        let der = PrivateKeyDer::from_pem_slice(key.expose().as_bytes())
            .map_err(|_| wrong(key_path, "there is no private key in it (PEM is expected)".into()))?;
        let provider = rustls::crypto::ring::default_provider();
        let certified =
            CertifiedKey::from_der(chain.clone(), der, &provider).map_err(|error| match error {
                rustls::Error::InconsistentKeys(_) => wrong(
                    key_path,
                    format!(
                        "it is not the key of the certificate in {}",
                        certificate.display()
                    ),
                ),
                rustls::Error::InvalidCertificate(why) => {
                    of_file(format!("a certificate of version 3 is needed: {why}"))
                }
                other => wrong(key_path, format!("this key cannot be used: {other}")),
            })?;
        Ok(Self {
            certified: Arc::new(certified),
            chain,
            key: key.clone(),
        })
    }

    /// As the HTTP client takes it.
    pub(super) fn for_http(&self) -> Option<ureq::tls::ClientCert> {
        let chain: Vec<_> = self
            .chain
            .iter()
            .map(|der| ureq::tls::Certificate::from_der(der.as_ref()).to_owned())
            .collect();
        // It is the key that `read` found good.
        let key = ureq::tls::PrivateKey::from_pem(self.key.expose().as_bytes()).ok()?;
        Some(ureq::tls::ClientCert::new_with_certs(&chain, key))
    }
}

/// What is shown to a server that asks, and whether one did.
#[derive(Clone, Debug)]
pub(super) struct Shown {
    certified: Option<Arc<CertifiedKey>>,
    asked: Arc<AtomicBool>,
}

impl Shown {
    pub(super) fn new(identity: Option<&ClientCertificate>) -> Self {
        Self {
            certified: identity.map(|identity| identity.certified.clone()),
            asked: Arc::default(),
        }
    }

    /// Whether the server has asked who we are.
    pub(super) fn asked(&self) -> bool {
        self.asked.load(Ordering::Relaxed)
    }

    /// What to say of a server that asked, and closed the connection before it had said anything.
    pub(super) fn closed(&self, to: &str, why: &str) -> OutboundError {
        if self.certified.is_some() {
            OutboundError::NotAccepted {
                to: to.to_owned(),
                why: why.to_owned(),
            }
        } else {
            OutboundError::Asked { to: to.to_owned() }
        }
    }
}

impl ResolvesClientCert for Shown {
    fn resolve(&self, _: &[&[u8]], _: &[SignatureScheme]) -> Option<Arc<CertifiedKey>> {
        self.asked.store(true, Ordering::Relaxed);
        self.certified.clone()
    }

    fn has_certs(&self) -> bool {
        self.certified.is_some()
    }
}

/// What an alert says of our certificate; `None` for one that is about something else (RFC 8446, section 6.2).
pub(super) fn of_alert(alert: AlertDescription, to: &str, has_one: bool) -> Option<OutboundError> {
    let why = match alert {
        AlertDescription::CertificateRequired => return Some(OutboundError::Asked { to: to.to_owned() }),
        AlertDescription::CertificateExpired => "it says that it has expired",
        AlertDescription::CertificateRevoked => "it says that it was revoked",
        AlertDescription::UnknownCA => "it does not know the authority that signed it",
        AlertDescription::BadCertificate
        | AlertDescription::UnsupportedCertificate
        | AlertDescription::CertificateUnknown
        | AlertDescription::AccessDenied => "it does not say why",
        _ => return None,
    };
    Some(if has_one {
        OutboundError::NotAccepted {
            to: to.to_owned(),
            why: why.to_owned(),
        }
    } else {
        OutboundError::Asked { to: to.to_owned() }
    })
}
