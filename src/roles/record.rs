//! The record's door: takes in what listeners hand on. It has the network and writes frames, and reads nothing out.

use super::StartError;
use super::manager::ServiceManager;
use crate::afar::door::{self, Shares};
use crate::afar::key::{KeyError, OwnKey};
use crate::afar::line::{self, Line};
use crate::afar::orders::Present;
use crate::afar::speech::shown;
use crate::journal::{Hand, Journal, JournalError};
use crate::socket::report::DoorReport;
use crate::socket::speech::{Answer as Said, Request};
use crate::socket::{self, SocketError};
use crate::whole::reason;
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustls::ServerConfig;
use std::collections::BTreeMap;
use std::io;
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr, TcpListener, TcpStream};
use std::path::Path;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;
use tokio::task::JoinError;

/// Connections at once: a house of many has a dozen listeners, and each has one.
const CONNECTIONS_MAX: usize = 64;
/// Connections of one address.
const OF_ONE_ADDRESS_MAX: usize = 16;
/// After a connection that could not be taken, such as for want of descriptors.
const PAUSE: Duration = Duration::from_millis(200);

/// Why nothing can be taken in.
#[derive(Debug, thiserror::Error)]
pub enum RecordError {
    /// The journal cannot be opened.
    #[error(transparent)]
    Journal(#[from] JournalError),
    /// This machine has no key.
    #[error(transparent)]
    Key(#[from] KeyError),
    /// TLS cannot be set up.
    #[error("TLS cannot be set up: {0}")]
    Tls(#[from] rustls::Error),
    /// The address is taken, or is not this machine's.
    #[error(
        "cannot listen at {address}: {}; choose another with `--listen ADDRESS:PORT`",
        reason(error)
    )]
    Listen {
        /// The address.
        address: SocketAddr,
        /// What the system says.
        error: io::Error,
    },
    /// The local socket cannot be opened.
    #[error(transparent)]
    Socket(#[from] SocketError),
    /// The operating system gives no thread or no timer.
    #[error(transparent)]
    Start(#[from] StartError),
    /// The thread that answers ended by itself.
    #[error("the thread that answers listeners failed: {0}")]
    Thread(#[from] JoinError),
}

/// Who is connected, by address.
type Guests = Arc<Mutex<BTreeMap<IpAddr, usize>>>;

/// What connections share.
#[derive(Clone, Default)]
struct House {
    guests: Guests,
    shares: Shares,
    present: Present,
}

/// Says at the local socket how the door is, for as long as it is polled.
async fn tell(asked: std::os::unix::net::UnixListener, (key, port): (String, u16), present: Present) {
    match tokio::net::UnixListener::from_std(asked) {
        Ok(asked) => {
            socket::serve(asked, move |request| {
                let (key, present) = (key.clone(), present.clone());
                async move { answer_to(request, (&key, port), present).await }
            })
            .await;
        }
        Err(error) => {
            tracing::warn!("the local socket: {error}");
            std::future::pending::<()>().await;
        }
    }
}

async fn answer_to(request: Request, (key, port): (&str, u16), present: Present) -> Said {
    let refused = |error: &str| Said::Refused {
        error: error.to_owned(),
    };
    match request {
        Request::At { listener, request } => {
            // It waits for the listener.
            let asked = tokio::task::spawn_blocking(move || present.ask(&listener, &request)).await;
            asked.unwrap_or_else(|error| refused(&error.to_string()))
        }
        Request::Status => Said::Door {
            report: Box::new(DoorReport {
                running: true,
                version: env!("CARGO_PKG_VERSION").to_owned(),
                key: key.to_owned(),
                port,
                connected: present.ids(),
            }),
        },
        _ => refused("the record's door says how it is, and has listeners do something; ask the collector"),
    }
}

/// A place among the guests, which is free again when it ends.
struct Place {
    guests: Guests,
    address: IpAddr,
}

impl Place {
    fn take(guests: &Guests, address: IpAddr) -> Option<Self> {
        let mut all = guests.lock().unwrap_or_else(PoisonError::into_inner);
        let own = all.get(&address).copied().unwrap_or(0);
        if all.values().sum::<usize>() >= CONNECTIONS_MAX || own >= OF_ONE_ADDRESS_MAX {
            return None;
        }
        all.insert(address, own + 1);
        Some(Self {
            guests: guests.clone(),
            address,
        })
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        let mut all = self.guests.lock().unwrap_or_else(PoisonError::into_inner);
        match all.get_mut(&self.address) {
            Some(own) if *own > 1 => *own -= 1,
            _ => drop(all.remove(&self.address)),
        }
    }
}

/// Answers listeners until `stop` ends; `ready` is told the address. Without an address it listens at every one of this
/// machine's.
pub fn receive(
    state: &Path,
    listen: Option<SocketAddr>,
    port: u16,
    service: ServiceManager,
    ready: impl FnOnce(SocketAddr),
    stop: impl Future<Output = ()>,
) -> Result<(), RecordError> {
    // Looked at first: a journal that cannot be opened is no listener's fault.
    let known = Journal::open(state)?.listeners()?;
    if !known.is_empty() && !OwnKey::is_there(state) {
        tracing::warn!(
            "the key by which listeners know this record is not there: a new one is made, and they hand on nothing until each \
             has joined anew with a code of `quietcuff listeners invite`; put machine.key back beside the journal instead, \
             if there is a copy"
        );
    }
    let own = OwnKey::of(state)?;
    let config = line::of_record(&own)?;
    let listener = bound(listen, port)?;
    let address = listener.local_addr().map_err(|error| RecordError::Listen {
        address: (Ipv6Addr::UNSPECIFIED, port).into(),
        error,
    })?;
    let path = socket::door_path(state);
    let asked = socket::bind_early(&path)?;
    service.ready("answering listeners");
    ready(address);
    let state = state.to_owned();
    let house = House::default();
    let present = house.present.clone();
    let known_as = (shown(&own.digest), address.port());
    let stop = async {
        tokio::select! { () = tell(asked, known_as, present) => {}, () = stop => {} }
    };
    // Whatever is being taken is committed whole, or offered again.
    let ended = super::work_until(service, stop, move |service| {
        answer(&listener, (&state, &config), &house, service);
    });
    let _ = std::fs::remove_file(&path);
    ended.map(drop)
}

fn bound(listen: Option<SocketAddr>, port: u16) -> Result<TcpListener, RecordError> {
    let every = SocketAddr::from((Ipv6Addr::UNSPECIFIED, port));
    let old = SocketAddr::from((Ipv4Addr::UNSPECIFIED, port));
    let (first, second) = listen.map_or((every, old), |address| (address, address));
    TcpListener::bind(first)
        .or_else(|_| TcpListener::bind(second))
        // Whoever hangs up before they are answered must not hold the others up.
        .and_then(|listener| listener.set_nonblocking(true).map(|()| listener))
        .map_err(|error| RecordError::Listen {
            address: second,
            error,
        })
}

/// Takes connections, each on a thread of its own.
fn answer(
    listener: &TcpListener,
    (state, config): (&Path, &Arc<ServerConfig>),
    house: &House,
    service: &ServiceManager,
) {
    let limit = Timespec::try_from(service.wait_max()).unwrap_or(Timespec {
        tv_sec: 30,
        tv_nsec: 0,
    });
    loop {
        service.alive();
        if matches!(
            poll(&mut [PollFd::new(listener, PollFlags::IN)], Some(&limit)),
            Ok(0)
        ) {
            continue;
        }
        let (tcp, address) = match listener.accept() {
            Ok(accepted) => accepted,
            Err(error) => {
                tracing::warn!("a connection cannot be taken: {error}");
                std::thread::sleep(PAUSE);
                continue;
            }
        };
        let Some(place) = Place::take(&house.guests, address.ip()) else {
            tracing::warn!("{}: too many connections; one was closed", address.ip());
            continue;
        };
        let (config, state, house) = (config.clone(), state.to_owned(), house.clone());
        let begun = std::thread::Builder::new()
            .name("listener".into())
            .spawn(move || serve(tcp, config, &state, &house, &place));
        if let Err(error) = begun {
            tracing::warn!("a connection cannot be answered: {error}");
        }
    }
}

fn serve(tcp: TcpStream, config: Arc<ServerConfig>, state: &Path, house: &House, place: &Place) {
    let mut line = match tcp.set_nodelay(true).map(|()| Line::answer(tcp, config)) {
        Ok(Ok(line)) => line,
        Ok(Err(error)) => return tracing::debug!("{error}"),
        Err(error) => return tracing::debug!("{error}"),
    };
    let journal = Journal::open_existing(state).and_then(|journal| journal.only_for(Hand::Record));
    let mut journal = match journal {
        Ok(journal) => journal,
        Err(error) => {
            tracing::error!("nothing can be taken in: {error}");
            return door::turn_away(&mut line).unwrap_or_else(|error| tracing::debug!("{error}"));
        }
    };
    if let Err(error) = door::serve(
        &mut line,
        &mut journal,
        (&house.shares, &house.present),
        env!("CARGO_PKG_VERSION"),
    ) {
        tracing::debug!("{}: {error}", place.address);
    }
}
