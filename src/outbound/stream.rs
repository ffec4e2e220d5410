//! A connection out of the house that is not HTTP: octets over TCP or TLS, with the same trust and a latest time for
//! everything.

use super::identity::{ClientCertificate, Shown, of_alert};
use super::{CONNECT_TIMEOUT, OutboundError, alert_in, is_this_machine, tls_showing, unreachable};
use crate::whole::reason;
use rustls::client::ResolvesClientCert;
use rustls::{ClientConfig, ClientConnection, StreamOwned};
use rustls_pki_types::ServerName;
use std::fmt;
use std::io::{self, Read, Write};
use std::net::{Shutdown, TcpStream, ToSocketAddrs};
use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant};
use ureq::http::Uri;

/// A machine and a port that octets may be sent to.
#[derive(Clone, PartialEq, Eq)]
pub struct StreamPeer {
    scheme: String,
    host: String,
    port: u16,
    tls: bool,
}

impl StreamPeer {
    /// Checks an address whose scheme is one of the two: the first with TLS, the second without, which is allowed to
    /// this machine, and to another one where `plain` says that the configuration allowed it. `None` for another
    /// scheme.
    pub fn parse(
        text: &str,
        [with_tls, without]: [&str; 2],
        port: u16,
        plain: bool,
    ) -> Option<Result<Self, OutboundError>> {
        let (scheme, rest) = text.split_once("://")?;
        let tls = match scheme {
            _ if scheme == with_tls => true,
            _ if scheme == without => false,
            _ => return None,
        };
        let wrong = |why: &str| OutboundError::Address {
            text: rest
                .rsplit_once('@')
                .map_or(rest, |(_, behind)| behind)
                .to_owned(),
            why: why.to_owned(),
        };
        let parsed = || {
            let uri: Uri = text
                .parse()
                .map_err(|_| wrong(&format!("that is no address; write {with_tls}://NAME:PORT")))?;
            let authority = uri.authority().ok_or_else(|| wrong("it names no machine"))?;
            if authority.as_str().contains('@') || !matches!(uri.path(), "" | "/") || uri.query().is_some() {
                return Err(wrong(&format!(
                    "only a name and a port belong behind {scheme}://"
                )));
            }
            if authority.port_u16().is_none() && authority.as_str() != authority.host() {
                return Err(wrong("its port is no number from 0 to 65535"));
            }
            if !tls && !plain && !is_this_machine(authority.host()) {
                return Err(OutboundError::Plain {
                    text: text.to_owned(),
                });
            }
            Ok(Self {
                scheme: scheme.to_owned(),
                host: authority.host().to_owned(),
                port: authority.port_u16().unwrap_or(port),
                tls,
            })
        };
        Some(parsed())
    }
}

impl StreamPeer {
    /// Whether what goes there is encrypted on the way.
    pub fn is_encrypted(&self) -> bool {
        self.tls
    }
}

impl fmt::Display for StreamPeer {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}://{}:{}", self.scheme, self.host, self.port)
    }
}

impl fmt::Debug for StreamPeer {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

/// How connections are made.
#[derive(Clone, Debug)]
pub struct Caller {
    tls: Arc<ClientConfig>,
    shown: Shown,
}

/// So long a server that asked who we are is waited for, to hear whether it accepts what it was shown: it says nothing
/// where it does (own choice).
const REFUSAL_TIME: Duration = Duration::from_secs(2);

/// A socket of which each read and write ends at the latest at that moment.
#[derive(Debug)]
pub(crate) struct Timed {
    pub(crate) tcp: TcpStream,
    pub(crate) until: Instant,
}

impl Timed {
    fn left(&self) -> io::Result<Duration> {
        let left = self.until.saturating_duration_since(Instant::now());
        if left.is_zero() {
            return Err(io::ErrorKind::TimedOut.into());
        }
        Ok(left)
    }
}

/// The system says of a time that is over that the socket would block.
fn over(error: io::Error) -> io::Error {
    match error.kind() {
        io::ErrorKind::WouldBlock => io::ErrorKind::TimedOut.into(),
        _ => error,
    }
}

impl Read for Timed {
    fn read(&mut self, octets: &mut [u8]) -> io::Result<usize> {
        self.tcp.set_read_timeout(Some(self.left()?))?;
        self.tcp.read(octets).map_err(over)
    }
}

impl Write for Timed {
    fn write(&mut self, octets: &[u8]) -> io::Result<usize> {
        self.tcp.set_write_timeout(Some(self.left()?))?;
        self.tcp.write(octets).map_err(over)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.tcp.flush()
    }
}

#[derive(Debug)]
enum Line {
    Plain(Timed),
    Tls(Box<StreamOwned<ClientConnection, Timed>>),
}

/// An open connection.
#[derive(Debug)]
pub struct OpenConnection {
    line: Line,
    to: String,
    shown: Shown,
    /// Whether anything came from the other side since the handshake.
    heard: bool,
}

impl Caller {
    /// One that trusts the system's roots and, where it is named, one more authority's file (PEM).
    pub fn new(authority: Option<&Path>) -> Result<Self, OutboundError> {
        Self::as_who(authority, None)
    }

    /// The same, with a certificate for a server that asks who we are.
    pub fn as_who(
        authority: Option<&Path>,
        identity: Option<&ClientCertificate>,
    ) -> Result<Self, OutboundError> {
        let shown = Shown::new(identity);
        Ok(Self {
            tls: Arc::new(tls_showing(authority, shown.clone())?),
            shown,
        })
    }

    /// Connects; with TLS the handshake is done when this returns.
    pub fn connect(&self, peer: &StreamPeer) -> Result<OpenConnection, OutboundError> {
        let to = peer.to_string();
        let until = Instant::now() + CONNECT_TIMEOUT;
        let bare = peer.host.trim_start_matches('[').trim_end_matches(']');
        let tcp = dial((bare, peer.port), until).map_err(|error| unreachable(&error, to.clone()))?;
        let mut timed = Timed { tcp, until };
        if !peer.tls {
            return Ok(OpenConnection {
                line: Line::Plain(timed),
                to,
                shown: self.shown.clone(),
                heard: false,
            });
        }
        let name = ServerName::try_from(bare.to_owned()).map_err(|_| OutboundError::Address {
            text: to.clone(),
            why: "its name can be in no certificate".to_owned(),
        })?;
        let mut tls =
            ClientConnection::new(self.tls.clone(), name).map_err(|error| OutboundError::Unreachable {
                to: to.clone(),
                why: error.to_string(),
            })?;
        while tls.is_handshaking() {
            tls.complete_io(&mut timed)
                .map_err(|error| told(&error, &to, &self.shown))?;
        }
        Ok(OpenConnection {
            line: Line::Tls(Box::new(StreamOwned::new(tls, timed))),
            to,
            shown: self.shown.clone(),
            heard: false,
        })
    }
}

/// What became of a connection that has only begun. With TLS 1.3 a certificate of ours is refused after the handshake,
/// and with any, some only close.
fn told(error: &io::Error, to: &str, shown: &Shown) -> OutboundError {
    let has_one = shown.has_certs();
    if let Some(refusal) = alert_in(error).and_then(|alert| of_alert(alert, to, has_one)) {
        return refusal;
    }
    let closed = matches!(
        error.kind(),
        io::ErrorKind::UnexpectedEof
            | io::ErrorKind::ConnectionReset
            | io::ErrorKind::ConnectionAborted
            | io::ErrorKind::BrokenPipe
    );
    if shown.asked() && (closed || alert_in(error).is_some()) {
        return shown.closed(to, "it only closed the connection");
    }
    unreachable(error, to.to_owned())
}

/// Connects to the first of a machine's addresses that answers.
pub(crate) fn dial(machine: impl ToSocketAddrs, until: Instant) -> io::Result<TcpStream> {
    let mut last = io::Error::other("its name has no address");
    for address in machine.to_socket_addrs()? {
        let left = until.saturating_duration_since(Instant::now());
        if left.is_zero() {
            return Err(io::ErrorKind::TimedOut.into());
        }
        match TcpStream::connect_timeout(&address, left) {
            Ok(tcp) => {
                tcp.set_nodelay(true)?;
                return Ok(tcp);
            }
            Err(error) => last = error,
        }
    }
    Err(last)
}

impl OpenConnection {
    /// From now on everything has to be over within this time.
    pub fn within(&mut self, time: Duration) {
        let timed = match &mut self.line {
            Line::Plain(timed) => timed,
            Line::Tls(tls) => &mut tls.sock,
        };
        timed.until = Instant::now() + time;
    }

    /// Waits, where the server asked who we are, whether it refuses what it was shown.
    pub fn accepted(&mut self) -> Result<(), OutboundError> {
        if !self.shown.asked() {
            return Ok(());
        }
        self.within(REFUSAL_TIME);
        let Line::Tls(tls) = &mut self.line else {
            return Ok(());
        };
        loop {
            let come = tls.conn.read_tls(&mut tls.sock).and_then(|octets| match octets {
                0 => Err(io::ErrorKind::UnexpectedEof.into()),
                _ => tls.conn.process_new_packets().map_err(io::Error::other),
            });
            match come {
                Ok(_) => {}
                Err(error) if error.kind() == io::ErrorKind::TimedOut => return Ok(()),
                Err(error) => return Err(told(&error, &self.to, &self.shown)),
            }
        }
    }

    /// Sends all of it.
    pub fn send(&mut self, octets: &[u8]) -> Result<(), OutboundError> {
        let sent = match &mut self.line {
            Line::Plain(timed) => timed.write_all(octets).and_then(|()| timed.flush()),
            Line::Tls(tls) => tls.write_all(octets).and_then(|()| tls.flush()),
        };
        sent.map_err(|error| self.failed(&error))
    }

    /// Reads what is there, and waits for something. 0 means that the other side has closed.
    pub fn receive(&mut self, into: &mut [u8]) -> Result<usize, OutboundError> {
        let read = match &mut self.line {
            Line::Plain(timed) => timed.read(into),
            Line::Tls(tls) => tls.read(into),
        };
        match read {
            // Closed without TLS's own word for it: nothing was lost that a frame's end would not show.
            Err(error) if error.kind() == io::ErrorKind::UnexpectedEof && self.heard => Ok(0),
            Ok(0) if self.shown.asked() && !self.heard => {
                Err(self.shown.closed(&self.to, "it only closed the connection"))
            }
            Ok(octets) => {
                self.heard |= octets > 0;
                Ok(octets)
            }
            Err(error) if error.kind() == io::ErrorKind::UnexpectedEof && !self.shown.asked() => Ok(0),
            Err(error) => Err(self.failed(&error)),
        }
    }

    fn failed(&self, error: &io::Error) -> OutboundError {
        if !self.heard && self.shown.asked() && error.kind() != io::ErrorKind::TimedOut {
            return told(error, &self.to, &self.shown);
        }
        match error.kind() {
            io::ErrorKind::TimedOut => OutboundError::Unreachable {
                to: self.to.clone(),
                why: "it did not answer in time".to_owned(),
            },
            io::ErrorKind::InvalidData => unreachable(error, self.to.clone()),
            _ => OutboundError::Unreachable {
                to: self.to.clone(),
                why: reason(error),
            },
        }
    }
}

impl Drop for OpenConnection {
    fn drop(&mut self) {
        if let Line::Tls(tls) = &mut self.line {
            tls.conn.send_close_notify();
            tls.sock.until = Instant::now() + Duration::from_secs(1);
            let _ = tls.flush();
        }
        let timed = match &self.line {
            Line::Plain(timed) => timed,
            Line::Tls(tls) => &tls.sock,
        };
        let _ = timed.tcp.shutdown(Shutdown::Both);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_address_is_a_machine_and_a_port() {
        let parse = |text: &str, plain| StreamPeer::parse(text, ["mllps", "mllp"], 2575, plain);
        let good = |text: &str| parse(text, false).unwrap().unwrap().to_string();
        assert_eq!(good("mllps://clinic.example"), "mllps://clinic.example:2575");
        assert_eq!(
            good("mllps://clinic.example:7001/"),
            "mllps://clinic.example:7001"
        );
        assert_eq!(good("mllp://127.0.0.1:7"), "mllp://127.0.0.1:7");
        assert_eq!(good("mllp://[::1]:7"), "mllp://[::1]:7");
        assert!(matches!(
            parse("mllp://clinic.example:7", false),
            Some(Err(OutboundError::Plain { .. }))
        ));
        assert!(parse("mllp://clinic.example:7", true).unwrap().is_ok());
        for wrong in [
            "mllps://",
            "mllps://x/path",
            "mllps://x?y",
            "mllps://me:hunter2@x",
            "mllps://x:99999",
            "mllps://a b",
        ] {
            let error = parse(wrong, true).unwrap().unwrap_err();
            assert!(matches!(error, OutboundError::Address { .. }), "{wrong}");
            assert!(!error.to_string().contains("hunter2"));
        }
        assert!(parse("https://clinic.example", true).is_none());
    }
}
