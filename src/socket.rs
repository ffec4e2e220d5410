//! The local socket: where the roles and the command line meet a running role. One line in each direction (see
//! [`speech`]), then it closes. Only the owner of the state directory may connect.

pub mod opening;
pub mod report;
pub mod speech;

use crate::whole::reason;
use report::{CollectorReport, DoorReport, EarReport};
use rustix::process::{PidfdFlags, pidfd_open};
use speech::{Answer, Request};
use std::io::{self, BufRead, BufReader, Read, Write};
use std::os::fd::OwnedFd;
use std::os::unix::fs::PermissionsExt;
use std::os::unix::net::{UnixListener as StdListener, UnixStream};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;
use tokio::io::{AsyncBufReadExt, AsyncReadExt, AsyncWriteExt};
use tokio::net::UnixListener;
use tokio::sync::Semaphore;

/// The socket's name inside the state directory: the collector's,
const FILE_NAME: &str = "daemon.sock";
/// the second ear's,
const EAR_FILE_NAME: &str = "ear.sock";
/// that of the record's door,
const DOOR_FILE_NAME: &str = "door.sock";
/// and delivery's.
const DELIVERY_FILE_NAME: &str = "deliver.sock";
/// A question is a word or two, or the address at which a person came back from the clinic: as long as the page takes one.
const QUESTION_OCTETS_MAX: u64 = 16 * 1024;
/// An answer tells of every monitor of a household.
const ANSWER_OCTETS_MAX: u64 = 1024 * 1024;
/// More than a household needs at once.
const AT_ONCE_MAX: usize = 8;
/// Nobody needs longer on one machine.
const LIMIT: Duration = Duration::from_secs(5);

/// Where the socket is.
pub fn path(state: &Path) -> PathBuf {
    state.join(FILE_NAME)
}

/// Where the second ear's is.
pub fn ear_path(state: &Path) -> PathBuf {
    state.join(EAR_FILE_NAME)
}

/// Where that of the record's door is.
pub fn door_path(state: &Path) -> PathBuf {
    state.join(DOOR_FILE_NAME)
}

/// Where delivery's is.
pub fn delivery_path(state: &Path) -> PathBuf {
    state.join(DELIVERY_FILE_NAME)
}

/// Why there is no answer, or not the one that was asked for.
#[derive(Debug, thiserror::Error)]
pub enum AskError {
    /// The socket fails.
    #[error("{}", reason(.0))]
    Io(#[from] io::Error),
    /// What is asked was understood and cannot be done, or one of the two programs is older than the other.
    #[error("{0}")]
    Refused(String),
    /// The answer belongs to another question.
    #[error("the role that runs answers something else: {0:?}")]
    Unexpected(Box<Answer>),
}

impl AskError {
    /// The kind of the socket's failure, if it is one.
    pub fn kind(&self) -> Option<io::ErrorKind> {
        match self {
            Self::Io(error) => Some(error.kind()),
            _ => None,
        }
    }
}

/// How the collector is; `None` where none runs.
pub fn collector(state: &Path) -> Result<Option<CollectorReport>, AskError> {
    match ask(&path(state), &Request::Status)? {
        None => Ok(None),
        Some(Answer::Collector { report }) => Ok(Some(*report)),
        Some(other) => Err(AskError::Unexpected(Box::new(other))),
    }
}

/// How the collector is, with something that the kernel marks as readable when its process ends.
#[derive(Debug)]
pub struct Collecting {
    /// How it is.
    pub report: CollectorReport,
    /// The life of its process (pidfd_open(2)); `None` where the kernel gives none.
    pub life: Option<OwnedFd>,
}

/// The same as [`collector`], with the life of its process.
pub fn heard(state: &Path) -> Result<Option<Collecting>, AskError> {
    let Some(stream) = connect(&path(state))? else {
        return Ok(None);
    };
    // Before it is asked: whoever answers lived when it was taken.
    let life = rustix::net::sockopt::socket_peercred(&stream)
        .and_then(|peer| pidfd_open(peer.pid, PidfdFlags::empty()))
        .ok();
    match talk(stream, &Request::Status)? {
        Answer::Collector { report } => Ok(Some(Collecting {
            report: *report,
            life,
        })),
        other => Err(AskError::Unexpected(Box::new(other))),
    }
}

/// How the second ear is; `None` where none runs.
pub fn ear(state: &Path) -> Result<Option<EarReport>, AskError> {
    match ask(&ear_path(state), &Request::Status)? {
        None => Ok(None),
        Some(Answer::Ear { report }) => Ok(Some(*report)),
        Some(other) => Err(AskError::Unexpected(Box::new(other))),
    }
}

/// How the record's door is; `None` where none is open.
pub fn door(state: &Path) -> Result<Option<DoorReport>, AskError> {
    match ask(&door_path(state), &Request::Status)? {
        None => Ok(None),
        Some(Answer::Door { report }) => Ok(Some(*report)),
        Some(other) => Err(AskError::Unexpected(Box::new(other))),
    }
}

/// Lets the collector read the household's statements again; where none runs, the next one will.
pub fn reload(state: &Path) {
    if let Err(error) = ask(&path(state), &Request::Reload) {
        tracing::warn!("the collector was not told of the change: {error}");
    }
}

/// Asks whoever listens at this path; `None` where nobody does. A refusal is an error.
pub fn ask(path: &Path, request: &Request) -> Result<Option<Answer>, AskError> {
    match connect(path)? {
        Some(stream) => talk(stream, request).map(Some),
        None => Ok(None),
    }
}

fn connect(path: &Path) -> Result<Option<UnixStream>, AskError> {
    match UnixStream::connect(path) {
        Ok(stream) => Ok(Some(stream)),
        Err(error)
            if matches!(
                error.kind(),
                io::ErrorKind::NotFound | io::ErrorKind::ConnectionRefused
            ) =>
        {
            Ok(None)
        }
        Err(error) => Err(error.into()),
    }
}

fn talk(mut stream: UnixStream, request: &Request) -> Result<Answer, AskError> {
    stream.set_read_timeout(Some(LIMIT))?;
    stream.set_write_timeout(Some(LIMIT))?;
    let line = speech::line(request).map_err(io::Error::from)?;
    if line.len() as u64 > QUESTION_OCTETS_MAX {
        return Err(AskError::Refused(format!(
            "the request has {} octets, and a request has at most {QUESTION_OCTETS_MAX}",
            line.len()
        )));
    }
    stream.write_all(&line)?;
    let mut answer = Vec::new();
    BufReader::new(stream.take(ANSWER_OCTETS_MAX)).read_until(b'\n', &mut answer)?;
    match speech::answer(&answer).map_err(AskError::Refused)? {
        Answer::Refused { error } | Answer::NotUnderstood { error, .. } => Err(AskError::Refused(error)),
        answer => Ok(answer),
    }
}

/// The local socket cannot be opened.
#[derive(Debug, thiserror::Error)]
#[error("cannot open the local socket {}: {}", path.display(), reason(error))]
pub struct SocketError {
    path: PathBuf,
    error: io::Error,
}

/// The same as [`bind`], before there is a runtime.
pub fn bind_early(path: &Path) -> Result<StdListener, SocketError> {
    listener(path).map_err(|error| SocketError {
        path: path.to_owned(),
        error,
    })
}

/// Binds the socket. A socket that a killed daemon left behind is replaced; one that answers is somebody else's.
pub fn bind(path: &Path) -> Result<UnixListener, SocketError> {
    let early = bind_early(path)?;
    UnixListener::from_std(early).map_err(|error| SocketError {
        path: path.to_owned(),
        error,
    })
}

fn listener(path: &Path) -> io::Result<StdListener> {
    if UnixStream::connect(path).is_ok() {
        return Err(io::Error::new(
            io::ErrorKind::AddrInUse,
            "another quietcuff daemon runs on this state directory",
        ));
    }
    match std::fs::remove_file(path) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(error),
        _ => {}
    }
    let listener = StdListener::bind(path)?;
    listener.set_nonblocking(true)?;
    std::fs::set_permissions(path, std::fs::Permissions::from_mode(0o600))?;
    Ok(listener)
}

/// Answers for as long as it is polled.
pub async fn serve<A, F>(listener: UnixListener, answer: A)
where
    A: Fn(Request) -> F + Send + Sync + 'static,
    F: Future<Output = Answer> + Send,
{
    let answer = Arc::new(answer);
    let places = Arc::new(Semaphore::new(AT_ONCE_MAX));
    loop {
        // The permit first: behind eight slow clients the ninth waits in the kernel's queue, not in our memory.
        let Ok(place) = places.clone().acquire_owned().await else {
            return;
        };
        let stream = match listener.accept().await {
            Ok((stream, _)) => stream,
            Err(error) => {
                // Out of file descriptors, most likely: it passes.
                tracing::warn!("the local socket: {error}");
                tokio::time::sleep(Duration::from_millis(200)).await;
                continue;
            }
        };
        let answer = answer.clone();
        tokio::spawn(async move {
            let _place = place;
            let talk = async {
                let (read, mut write) = stream.into_split();
                let mut line = Vec::new();
                tokio::io::BufReader::new(read.take(QUESTION_OCTETS_MAX))
                    .read_until(b'\n', &mut line)
                    .await?;
                let said = match speech::request(&line) {
                    Ok(request) => answer(request).await,
                    Err(not_understood) => not_understood,
                };
                write.write_all(&speech::line(&said)?).await
            };
            if let Ok(Err(error)) = tokio::time::timeout(LIMIT, talk).await {
                tracing::debug!("the local socket: {error}");
            }
        });
    }
}
