//! The household's own certificate: how it is used, and until when it holds.

use super::error::ServeError;
use crate::secret::Secret;
use jiff::Timestamp;
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use tokio_rustls::TlsAcceptor;
use tokio_rustls::rustls::ServerConfig;
use tokio_rustls::rustls::pki_types::pem::PemObject;
use tokio_rustls::rustls::pki_types::{CertificateDer, PrivateKeyDer};
use x509_parser::prelude::{FromDer, X509Certificate};

/// A certificate with its chain has a few KiB.
const CHAIN_OCTETS_MAX: u64 = 256 * 1024;

/// Takes TLS connections with a certificate and its key. The key has to be its owner's alone.
pub(super) fn acceptor((certificate, key): &(PathBuf, PathBuf)) -> Result<TlsAcceptor, ServeError> {
    let wrong = |path: &Path, why: &dyn std::fmt::Display| {
        ServeError::Certificate(path.display().to_string(), why.to_string())
    };
    let chain = chain(certificate)?;
    let secret = Secret::read("the page's private key", key)?;
    let private = PrivateKeyDer::from_pem_slice(secret.expose().as_bytes()).map_err(|e| wrong(key, &e))?;
    let mut config = ServerConfig::builder()
        .with_no_client_auth()
        .with_single_cert(chain, private)
        .map_err(|e| wrong(certificate, &e))?;
    config.alpn_protocols = vec![b"http/1.1".to_vec()];
    Ok(TlsAcceptor::from(Arc::new(config)))
}

fn chain(path: &Path) -> Result<Vec<CertificateDer<'static>>, ServeError> {
    let wrong =
        |why: &dyn std::fmt::Display| ServeError::Certificate(path.display().to_string(), why.to_string());
    let mut pem = Vec::new();
    File::open(path)
        .and_then(|file| file.take(CHAIN_OCTETS_MAX).read_to_end(&mut pem))
        .map_err(|e| wrong(&e))?;
    let chain = CertificateDer::pem_slice_iter(&pem)
        .collect::<Result<Vec<_>, _>>()
        .map_err(|e| wrong(&e))?;
    if chain.is_empty() {
        return Err(wrong(&"there is no certificate in it"));
    }
    Ok(chain)
}

/// The hours in which a certificate and its chain hold: not before, not after.
pub fn validity(files: &(PathBuf, PathBuf)) -> Result<(Timestamp, Timestamp), ServeError> {
    // Whatever keeps the page from being served is said first.
    acceptor(files)?;
    let wrong =
        |why: &dyn std::fmt::Display| ServeError::Certificate(files.0.display().to_string(), why.to_string());
    let mut held = (Timestamp::MIN, Timestamp::MAX);
    for certificate in chain(&files.0)? {
        let (_, read) = X509Certificate::from_der(&certificate).map_err(|e| wrong(&e))?;
        let at = |time: x509_parser::time::ASN1Time| {
            Timestamp::from_second(time.timestamp()).map_err(|e| wrong(&e))
        };
        held.0 = held.0.max(at(read.validity().not_before)?);
        held.1 = held.1.min(at(read.validity().not_after)?);
    }
    Ok(held)
}
