//! What a role tells the service manager, by the protocol of sd_notify(3): that it serves, how it is, that it
//! lives, that it leaves. Without a service manager every call does nothing.
//!
//! The word that keeps the watchdog quiet is never said by a timer alone: it is said where something was
//! done. A role with one loop says [`ServiceManager::alive`] at each turn of it and waits no longer than
//! [`ServiceManager::wait_max`]; the collector has a loop and a writer, and says it when both have moved.

use std::ffi::OsString;
use std::os::linux::net::SocketAddrExt;
use std::os::unix::ffi::OsStrExt;
use std::os::unix::net::{SocketAddr, UnixDatagram};
use std::time::Duration;

/// Looks at the progress in one watchdog interval: a look that comes amid a slow write or an answer of BlueZ
/// that takes its time may fail, the next one is still early enough.
const LOOKS: u32 = 3;

/// How often the words of the status are looked at where there is no watchdog.
const STATUS_LOOK: Duration = Duration::from_mins(1);

/// The service manager that started this process, if one did.
#[derive(Debug, Default)]
pub struct ServiceManager {
    manager: Option<(UnixDatagram, SocketAddr)>,
    watchdog: Option<Duration>,
}

impl ServiceManager {
    /// As the environment says.
    pub fn of_environment() -> Self {
        let variable = |name| std::env::var_os(name).filter(|value| !value.is_empty());
        let meant_for_us = |pid: Option<OsString>| {
            pid.is_none_or(|pid| pid.to_str() == Some(std::process::id().to_string().as_str()))
        };
        let micros = |value: OsString| value.to_str()?.parse().ok().map(Duration::from_micros);
        Self {
            manager: variable("NOTIFY_SOCKET").and_then(|name| manager_at(&name)),
            watchdog: variable("WATCHDOG_USEC")
                .and_then(micros)
                .filter(|_| meant_for_us(variable("WATCHDOG_PID"))),
        }
    }

    /// Somebody listens to what is said.
    pub fn is_managed(&self) -> bool {
        self.manager.is_some()
    }

    /// The role does its work from now on; `status` is what `systemctl status` shows.
    pub fn ready(&self, status: &str) {
        self.say(&format!("READY=1\nSTATUS={}", one_line(status)));
    }

    /// How the role is, in words without anything personal: everybody on the machine can read them.
    pub fn status(&self, status: &str) {
        self.say(&format!("STATUS={}", one_line(status)));
    }

    /// Something was done since the last time.
    pub fn alive(&self) {
        if self.watchdog.is_some() {
            self.say("WATCHDOG=1");
        }
    }

    /// How long a loop may wait before its next turn.
    pub fn wait_max(&self) -> Duration {
        self.watchdog.map_or(STATUS_LOOK, |interval| interval / LOOKS)
    }

    /// The role leaves, and was asked to.
    pub fn stopping(&self) {
        self.say("STOPPING=1");
    }

    fn say(&self, words: &str) {
        if let Some((socket, manager)) = &self.manager
            && let Err(error) = socket.send_to_addr(words.as_bytes(), manager)
        {
            tracing::debug!("the service manager does not listen: {error}");
        }
    }
}

fn manager_at(name: &OsString) -> Option<(UnixDatagram, SocketAddr)> {
    let address = match name.as_bytes() {
        [b'@', hidden @ ..] => SocketAddr::from_abstract_name(hidden),
        _ => SocketAddr::from_pathname(name),
    };
    let socket = UnixDatagram::unbound().and_then(|socket| {
        // A manager that is stuck must not hold up a role that is not.
        socket.set_nonblocking(true)?;
        Ok(socket)
    });
    match (socket, address) {
        (Ok(socket), Ok(address)) => Some((socket, address)),
        (Err(error), _) | (_, Err(error)) => {
            tracing::warn!("NOTIFY_SOCKET cannot be used: {error}");
            None
        }
    }
}

/// A line break would begin another variable.
fn one_line(text: &str) -> String {
    text.replace(['\n', '\r'], " ")
}

/// Whether every count has moved since it was last asked.
#[derive(Debug)]
pub struct Moved<const N: usize>([u64; N]);

impl<const N: usize> Moved<N> {
    /// The counts as they are now.
    pub fn since(counts: [u64; N]) -> Self {
        Self(counts)
    }

    /// Whether each differs from what it was at the last call.
    pub fn all(&mut self, counts: [u64; N]) -> bool {
        let before = std::mem::replace(&mut self.0, counts);
        before.iter().zip(&counts).all(|(before, now)| before != now)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn managed(watchdog: Option<Duration>) -> (ServiceManager, UnixDatagram) {
        let name = format!("quietcuff-test-{}-{watchdog:?}", std::process::id());
        let manager = UnixDatagram::bind_addr(&SocketAddr::from_abstract_name(&name).unwrap()).unwrap();
        manager.set_nonblocking(true).unwrap();
        let service = ServiceManager {
            manager: manager_at(&format!("@{name}").into()),
            watchdog,
        };
        (service, manager)
    }

    fn heard(manager: &UnixDatagram) -> Option<String> {
        let mut octets = [0; 256];
        let length = manager.recv(&mut octets).ok()?;
        Some(String::from_utf8(octets.get(..length)?.to_vec()).unwrap())
    }

    // The words are those of sd_notify(3).
    #[test]
    fn the_manager_hears_the_words_of_the_protocol() {
        let (service, manager) = managed(Some(Duration::from_secs(90)));
        service.ready("listening\nREADY=0");
        assert_eq!(heard(&manager).unwrap(), "READY=1\nSTATUS=listening READY=0");
        service.alive();
        assert_eq!(heard(&manager).unwrap(), "WATCHDOG=1");
        service.stopping();
        assert_eq!(heard(&manager).unwrap(), "STOPPING=1");
        assert_eq!(service.wait_max(), Duration::from_secs(30));
    }

    #[test]
    fn without_a_watchdog_nobody_is_told_of_life() {
        let (service, manager) = managed(None);
        service.alive();
        assert_eq!(heard(&manager), None);
        let alone = ServiceManager::default();
        alone.ready("to nobody");
        assert!(!alone.is_managed());
    }

    #[test]
    fn one_count_that_stands_still_is_no_life() {
        let mut moved = Moved::since([0, 0]);
        assert!(moved.all([1, 1]));
        assert!(!moved.all([2, 1]));
        assert!(!moved.all([2, 1]));
        assert!(moved.all([3, 2]));
    }
}
