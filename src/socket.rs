//! The local socket: where the roles and the command line meet a running daemon. One JSON object a line in each
//! direction, then it closes. Only the owner of the state directory may connect.

use crate::household::{MonitorAddress, PersonId};
use serde::{Deserialize, Serialize};
use std::io::{self, BufRead, BufReader, Read, Write};
use std::os::unix::fs::PermissionsExt;
use std::os::unix::net::UnixStream;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;
use tokio::io::{AsyncBufReadExt, AsyncReadExt, AsyncWriteExt};
use tokio::net::UnixListener;
use tokio::sync::Semaphore;

/// The socket's name inside the state directory: the collector's,
const FILE_NAME: &str = "daemon.sock";
/// and the second ear's.
const EAR_FILE_NAME: &str = "ear.sock";
/// A question is a word or two.
const QUESTION_OCTETS_MAX: u64 = 4 * 1024;
/// An answer tells of every monitor of a household.
const ANSWER_OCTETS_MAX: u64 = 1024 * 1024;
/// More than a household needs at once.
const AT_ONCE_MAX: usize = 8;
/// Nobody needs longer on one machine.
const LIMIT: Duration = Duration::from_secs(5);

/// What can be asked.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(tag = "ask", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Question {
    /// How the daemon is.
    Status,
    /// The household's statements have changed: read them again.
    Reload,
    /// Set this monitor's clock the next time it connects.
    SetClock {
        /// Its id.
        monitor: String,
    },
    /// Look for monitors in their pairing mode.
    Find,
    /// Pair with one that was heard.
    Pair {
        /// Its address.
        address: MonitorAddress,
        /// Whose readings it takes.
        person: Option<PersonId>,
    },
    /// The six digits that the monitor shows.
    Passkey {
        /// As they were typed.
        digits: String,
    },
    /// How far the pairing is.
    Pairing,
    /// Give the pairing up.
    StopPairing,
}

/// How far a pairing is that somebody asked for through the socket.
#[derive(Clone, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
#[serde(tag = "pairing", rename_all = "kebab-case")]
pub enum Pairing {
    /// Nobody asked for one.
    #[default]
    None,
    /// Looking for monitors.
    Looking,
    /// These were heard.
    Heard {
        /// Each with what it calls itself.
        monitors: Vec<HeardMonitor>,
    },
    /// It pairs.
    Working,
    /// The monitor shows six digits, which it wants to have.
    Asks,
    /// These six digits are to be typed on the monitor.
    Shows {
        /// All six.
        passkey: String,
    },
    /// It is enrolled.
    Done {
        /// As this monitor.
        monitor: String,
    },
    /// It went wrong.
    Failed {
        /// What and what to do.
        why: String,
    },
}

/// A monitor that was heard.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct HeardMonitor {
    /// Its address.
    pub address: MonitorAddress,
    /// What it calls itself.
    pub name: Option<String>,
}

/// Where the socket is.
pub fn path(state: &Path) -> PathBuf {
    state.join(FILE_NAME)
}

/// Where the second ear's is.
pub fn ear_path(state: &Path) -> PathBuf {
    state.join(EAR_FILE_NAME)
}

/// Asks the daemon; `None` where none runs.
pub fn ask(state: &Path, question: &Question) -> io::Result<Option<serde_json::Value>> {
    ask_at(&path(state), question)
}

/// Asks whoever listens at this path; `None` where nobody does.
pub fn ask_at(path: &Path, question: &Question) -> io::Result<Option<serde_json::Value>> {
    let mut stream = match UnixStream::connect(path) {
        Ok(stream) => stream,
        Err(error)
            if matches!(
                error.kind(),
                io::ErrorKind::NotFound | io::ErrorKind::ConnectionRefused
            ) =>
        {
            return Ok(None);
        }
        Err(error) => return Err(error),
    };
    stream.set_read_timeout(Some(LIMIT))?;
    stream.set_write_timeout(Some(LIMIT))?;
    let mut line = serde_json::to_vec(question)?;
    line.push(b'\n');
    stream.write_all(&line)?;
    let mut answer = String::new();
    BufReader::new(stream.take(ANSWER_OCTETS_MAX)).read_line(&mut answer)?;
    Ok(Some(serde_json::from_str(&answer)?))
}

/// The local socket cannot be opened.
#[derive(Debug, thiserror::Error)]
#[error("cannot open the local socket {}: {error}", path.display())]
pub struct SocketError {
    path: PathBuf,
    error: io::Error,
}

/// Binds the socket. A socket that a killed daemon left behind is replaced; one that answers is somebody else's.
pub fn bind(path: &Path) -> Result<UnixListener, SocketError> {
    listener(path).map_err(|error| SocketError {
        path: path.to_owned(),
        error,
    })
}

fn listener(path: &Path) -> io::Result<UnixListener> {
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
    let listener = UnixListener::bind(path)?;
    std::fs::set_permissions(path, std::fs::Permissions::from_mode(0o600))?;
    Ok(listener)
}

/// Answers for as long as it is polled.
pub async fn serve<A, F>(listener: UnixListener, answer: A)
where
    A: Fn(Question) -> F + Send + Sync + 'static,
    F: Future<Output = serde_json::Value> + Send,
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
                let mut line = String::new();
                tokio::io::BufReader::new(read.take(QUESTION_OCTETS_MAX))
                    .read_line(&mut line)
                    .await?;
                let said = match serde_json::from_str(&line) {
                    Ok(question) => answer(question).await,
                    Err(error) => serde_json::json!({ "error": format!("not a question: {error}") }),
                };
                write.write_all(format!("{said}\n").as_bytes()).await
            };
            if let Ok(Err(error)) = tokio::time::timeout(LIMIT, talk).await {
                tracing::debug!("the local socket: {error}");
            }
        });
    }
}
