//! The line between a listener and the record: TLS 1.3 with raw public keys (RFC 7250) in place of certificates, and on
//! it one JSON value after another, each behind its length in four octets.

use super::key::OwnKey;
use super::speech::OCTETS_MAX;
use crate::outbound::stream::{Timed, dial};
use crate::whole::reason;
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::io::Errno;
use rustls::client::AlwaysResolvesClientRawPublicKeys;
use rustls::client::danger::{HandshakeSignatureValid, ServerCertVerified, ServerCertVerifier};
use rustls::crypto::{CryptoProvider, WebPkiSupportedAlgorithms, ring, verify_tls13_signature_with_raw_key};
use rustls::server::AlwaysResolvesServerRawPublicKeys;
use rustls::server::danger::{ClientCertVerified, ClientCertVerifier};
use rustls::version::TLS13;
use rustls::{
    CertificateError, ClientConfig, ClientConnection, DigitallySignedStruct, DistinguishedName, Error,
    ServerConfig, ServerConnection, SignatureScheme, StreamOwned,
};
use rustls_pki_types::{CertificateDer, ServerName, SubjectPublicKeyInfoDer, UnixTime};
use serde::Serialize;
use serde::de::DeserializeOwned;
use sha2::{Digest, Sha256};
use std::io::{self, Read, Write};
use std::net::TcpStream;
use std::os::fd::{AsFd, BorrowedFd};
use std::sync::Arc;
use std::time::{Duration, Instant};

/// For a name look-up, a connection and the handshake.
const CONNECT_TIMEOUT: Duration = Duration::from_secs(15);
/// For one value to go out or to come in, once it has begun.
const VALUE_TIMEOUT: Duration = Duration::from_secs(30);

/// Why nothing more can be said on a line.
#[derive(Debug, thiserror::Error)]
pub enum LineError {
    /// The other end is not who it should be.
    #[error(
        "{0} answers with another key than the one that this machine was told: somebody else answers there, or the record \
         was set up anew; if it was, `quietcuff listeners invite` there prints a new code for `quietcuff record join`"
    )]
    AnotherKey(String),
    /// There is no connection, or it broke.
    #[error("{to}: {why}")]
    Broken {
        /// The other end.
        to: String,
        /// The reason, in the words of the system or of TLS.
        why: String,
    },
    /// What came is not what is said here.
    #[error("{to}: {why}")]
    Nonsense {
        /// The other end.
        to: String,
        /// What it was.
        why: String,
    },
}

/// Whose keys are taken.
#[derive(Debug)]
struct Keys {
    /// This one alone; any, where it is looked at afterwards.
    only: Option<[u8; 32]>,
    algorithms: WebPkiSupportedAlgorithms,
}

impl Keys {
    fn new(only: Option<[u8; 32]>) -> Arc<Self> {
        Arc::new(Self {
            only,
            algorithms: provider().signature_verification_algorithms,
        })
    }

    fn is_known(&self, key: &CertificateDer<'_>) -> Result<(), Error> {
        match self.only {
            Some(only) if only != digest(key) => Err(Error::InvalidCertificate(
                CertificateError::ApplicationVerificationFailure,
            )),
            _ => Ok(()),
        }
    }

    fn signed(
        &self,
        message: &[u8],
        key: &CertificateDer<'_>,
        signature: &DigitallySignedStruct,
    ) -> Result<HandshakeSignatureValid, Error> {
        let key = SubjectPublicKeyInfoDer::from(key.as_ref());
        verify_tls13_signature_with_raw_key(message, &key, signature, &self.algorithms)
    }
}

fn digest(key: &CertificateDer<'_>) -> [u8; 32] {
    Sha256::digest(key.as_ref()).into()
}

fn only_tls13() -> Error {
    Error::General("only TLS 1.3 is spoken here".to_owned())
}

impl ServerCertVerifier for Keys {
    fn verify_server_cert(
        &self,
        key: &CertificateDer<'_>,
        _: &[CertificateDer<'_>],
        _: &ServerName<'_>,
        _: &[u8],
        _: UnixTime,
    ) -> Result<ServerCertVerified, Error> {
        self.is_known(key).map(|()| ServerCertVerified::assertion())
    }

    fn verify_tls12_signature(
        &self,
        _: &[u8],
        _: &CertificateDer<'_>,
        _: &DigitallySignedStruct,
    ) -> Result<HandshakeSignatureValid, Error> {
        Err(only_tls13())
    }

    fn verify_tls13_signature(
        &self,
        message: &[u8],
        key: &CertificateDer<'_>,
        signature: &DigitallySignedStruct,
    ) -> Result<HandshakeSignatureValid, Error> {
        self.signed(message, key, signature)
    }

    fn supported_verify_schemes(&self) -> Vec<SignatureScheme> {
        self.algorithms.supported_schemes()
    }

    fn requires_raw_public_keys(&self) -> bool {
        true
    }
}

impl ClientCertVerifier for Keys {
    fn root_hint_subjects(&self) -> &[DistinguishedName] {
        &[]
    }

    fn verify_client_cert(
        &self,
        key: &CertificateDer<'_>,
        _: &[CertificateDer<'_>],
        _: UnixTime,
    ) -> Result<ClientCertVerified, Error> {
        self.is_known(key).map(|()| ClientCertVerified::assertion())
    }

    fn verify_tls12_signature(
        &self,
        _: &[u8],
        _: &CertificateDer<'_>,
        _: &DigitallySignedStruct,
    ) -> Result<HandshakeSignatureValid, Error> {
        Err(only_tls13())
    }

    fn verify_tls13_signature(
        &self,
        message: &[u8],
        key: &CertificateDer<'_>,
        signature: &DigitallySignedStruct,
    ) -> Result<HandshakeSignatureValid, Error> {
        self.signed(message, key, signature)
    }

    fn supported_verify_schemes(&self) -> Vec<SignatureScheme> {
        self.algorithms.supported_schemes()
    }

    fn requires_raw_public_keys(&self) -> bool {
        true
    }
}

fn provider() -> CryptoProvider {
    ring::default_provider()
}

/// How the record speaks TLS: with its key, to whoever has one.
pub fn of_record(own: &OwnKey) -> Result<Arc<ServerConfig>, Error> {
    let mut config = ServerConfig::builder_with_provider(Arc::new(provider()))
        .with_protocol_versions(&[&TLS13])?
        .with_client_cert_verifier(Keys::new(None))
        .with_cert_resolver(Arc::new(AlwaysResolvesServerRawPublicKeys::new(
            own.certified.clone(),
        )));
    // A listener that was withdrawn must not come back by a ticket.
    config.send_tls13_tickets = 0;
    Ok(Arc::new(config))
}

fn of_listener(own: &OwnKey, record: [u8; 32]) -> Result<Arc<ClientConfig>, Error> {
    let mut config = ClientConfig::builder_with_provider(Arc::new(provider()))
        .with_protocol_versions(&[&TLS13])?
        .dangerous()
        .with_custom_certificate_verifier(Keys::new(Some(record)))
        .with_client_cert_resolver(Arc::new(AlwaysResolvesClientRawPublicKeys::new(
            own.certified.clone(),
        )));
    config.enable_sni = false;
    Ok(Arc::new(config))
}

#[derive(Debug)]
enum Stream {
    Record(Box<StreamOwned<ServerConnection, Timed>>),
    Listener(Box<StreamOwned<ClientConnection, Timed>>),
}

/// What came first.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum First {
    /// The other end says something, or has closed.
    Said,
    /// Something else is to be looked at.
    Other,
    /// Neither in time.
    Nothing,
}

/// An open line.
#[derive(Debug)]
pub struct Line {
    stream: Stream,
    to: String,
    /// SHA-256 of the other end's public key.
    pub key: [u8; 32],
}

impl Line {
    /// Calls the record at a name or address with a port, which has to have this key.
    pub fn call(at: &str, record: [u8; 32], own: &OwnKey) -> Result<Self, LineError> {
        let broken = |why: String| LineError::Broken {
            to: at.to_owned(),
            why,
        };
        let until = Instant::now() + CONNECT_TIMEOUT;
        let tcp = dial(at, until).map_err(|error| broken(reason(&error)))?;
        let config = of_listener(own, record).map_err(|error| broken(error.to_string()))?;
        let name = ServerName::try_from("record").map_err(|error| broken(error.to_string()))?;
        let mut tls = ClientConnection::new(config, name).map_err(|error| broken(error.to_string()))?;
        let mut timed = Timed { tcp, until };
        while tls.is_handshaking() {
            tls.complete_io(&mut timed).map_err(|error| {
                let pinned = Error::InvalidCertificate(CertificateError::ApplicationVerificationFailure);
                if tls_error(&error) == Some(&pinned) {
                    LineError::AnotherKey(at.to_owned())
                } else {
                    broken(said(&error))
                }
            })?;
        }
        Ok(Self {
            stream: Stream::Listener(Box::new(StreamOwned::new(tls, timed))),
            to: at.to_owned(),
            key: record,
        })
    }

    /// Answers a call. Blocks until the caller has shown its key.
    pub fn answer(tcp: TcpStream, config: Arc<ServerConfig>) -> Result<Self, LineError> {
        let to = tcp
            .peer_addr()
            .map_or_else(|_| "somebody".to_owned(), |address| address.to_string());
        let broken = |why: String| LineError::Broken { to: to.clone(), why };
        let mut timed = Timed {
            tcp,
            until: Instant::now() + CONNECT_TIMEOUT,
        };
        let mut tls = ServerConnection::new(config).map_err(|error| broken(error.to_string()))?;
        while tls.is_handshaking() {
            tls.complete_io(&mut timed)
                .map_err(|error| broken(said(&error)))?;
        }
        let key = tls
            .peer_certificates()
            .and_then(<[CertificateDer<'_>]>::first)
            .map(digest)
            .ok_or_else(|| broken("it shows no key".to_owned()))?;
        Ok(Self {
            stream: Stream::Record(Box::new(StreamOwned::new(tls, timed))),
            to,
            key,
        })
    }

    /// Says one value.
    pub fn say(&mut self, value: &impl Serialize) -> Result<(), LineError> {
        let octets = serde_json::to_vec(value).map_err(|error| self.nonsense(error.to_string()))?;
        let length = u32::try_from(octets.len())
            .ok()
            .filter(|length| *length <= OCTETS_MAX)
            .ok_or_else(|| self.nonsense("too long to be said".to_owned()))?;
        self.within(VALUE_TIMEOUT);
        let mut whole = length.to_be_bytes().to_vec();
        whole.extend(octets);
        let said = match &mut self.stream {
            Stream::Record(stream) => stream.write_all(&whole).and_then(|()| stream.flush()),
            Stream::Listener(stream) => stream.write_all(&whole).and_then(|()| stream.flush()),
        };
        said.map_err(|error| self.broke(&error))
    }

    /// Hears one value of at most so many octets, whose first has to come within `limit`. `None` where the other end has
    /// closed.
    pub fn hear<T: DeserializeOwned>(
        &mut self,
        limit: Duration,
        octets_max: u32,
    ) -> Result<Option<T>, LineError> {
        let mut length = [0; 4];
        self.within(limit);
        let [first, rest @ ..] = &mut length;
        match self.read_exact(std::slice::from_mut(first)) {
            Err(error) if error.kind() == io::ErrorKind::UnexpectedEof => return Ok(None),
            read => read.map_err(|error| self.broke(&error))?,
        }
        self.within(VALUE_TIMEOUT);
        self.read_exact(rest).map_err(|error| self.broke(&error))?;
        let length = u32::from_be_bytes(length);
        if length > octets_max {
            return Err(self.nonsense(format!("{length} octets at once; at most {octets_max} are taken")));
        }
        let mut octets = vec![0; length as usize];
        self.read_exact(&mut octets).map_err(|error| self.broke(&error))?;
        serde_json::from_slice(&octets)
            .map(Some)
            .map_err(|_| self.nonsense("what it says is not understood".to_owned()))
    }

    /// Waits until the other end says something, `other` can be read, or the limit is over.
    pub fn wait(&mut self, other: BorrowedFd<'_>, limit: Duration) -> Result<First, LineError> {
        let until = Instant::now() + limit;
        while !self.has_more()? {
            let left = until.saturating_duration_since(Instant::now());
            let timeout = Timespec::try_from(left).map_err(|_| self.nonsense("waits too long".to_owned()))?;
            let tcp = self.as_fd();
            let mut on = [
                PollFd::from_borrowed_fd(tcp, PollFlags::IN),
                PollFd::from_borrowed_fd(other, PollFlags::IN),
            ];
            match poll(&mut on, Some(&timeout)) {
                Ok(0) => return Ok(First::Nothing),
                Ok(_) => {}
                Err(Errno::INTR) => continue,
                Err(error) => return Err(self.broke(&error.into())),
            }
            let [_, other] = on;
            if !other.revents().is_empty() {
                return Ok(First::Other);
            }
        }
        Ok(First::Said)
    }

    /// Whether the other end has said something, or has closed; nobody is waited for.
    pub fn has_more(&mut self) -> Result<bool, LineError> {
        loop {
            let held = match &mut self.stream {
                Stream::Record(stream) => stream.conn.process_new_packets(),
                Stream::Listener(stream) => stream.conn.process_new_packets(),
            };
            // What is wrong with it is said by whoever hears it.
            if !held.is_ok_and(|held| held.plaintext_bytes_to_read() == 0 && !held.peer_has_closed()) {
                return Ok(true);
            }
            let mut on = [PollFd::from_borrowed_fd(self.as_fd(), PollFlags::IN)];
            let now = Timespec {
                tv_sec: 0,
                tv_nsec: 0,
            };
            if poll(&mut on, Some(&now)).unwrap_or(0) == 0 {
                return Ok(false);
            }
            self.within(VALUE_TIMEOUT);
            // There is something: nobody waits here.
            let read = match &mut self.stream {
                Stream::Record(stream) => stream.conn.read_tls(&mut stream.sock),
                Stream::Listener(stream) => stream.conn.read_tls(&mut stream.sock),
            };
            if read.map_err(|error| self.broke(&error))? == 0 {
                return Ok(true);
            }
        }
    }

    fn read_exact(&mut self, octets: &mut [u8]) -> io::Result<()> {
        match &mut self.stream {
            Stream::Record(stream) => stream.read_exact(octets),
            Stream::Listener(stream) => stream.read_exact(octets),
        }
    }

    fn within(&mut self, limit: Duration) {
        let timed = match &mut self.stream {
            Stream::Record(stream) => &mut stream.sock,
            Stream::Listener(stream) => &mut stream.sock,
        };
        timed.until = Instant::now() + limit;
    }

    fn broke(&self, error: &io::Error) -> LineError {
        LineError::Broken {
            to: self.to.clone(),
            why: said(error),
        }
    }

    fn nonsense(&self, why: String) -> LineError {
        LineError::Nonsense {
            to: self.to.clone(),
            why,
        }
    }
}

impl AsFd for Line {
    fn as_fd(&self) -> BorrowedFd<'_> {
        match &self.stream {
            Stream::Record(stream) => stream.sock.tcp.as_fd(),
            Stream::Listener(stream) => stream.sock.tcp.as_fd(),
        }
    }
}

fn tls_error(error: &io::Error) -> Option<&Error> {
    error.get_ref().and_then(|inner| inner.downcast_ref())
}

/// What the system says, or TLS through it.
fn said(error: &io::Error) -> String {
    match tls_error(error) {
        Some(error) => error.to_string(),
        None => reason(error),
    }
}
