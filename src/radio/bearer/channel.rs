//! The socket: an L2CAP channel on the fixed identifier of the Attribute Protocol. The kernel scans for the
//! monitor, connects to it when it advertises, and encrypts the link with the keys that bluetoothd gave it.

use crate::household::MonitorAddress;
use bluer::l2cap::{Security, SecurityLevel, SeqPacket, Socket, SocketAddr};
use bluer::{Address, AddressType};
use nix::fcntl::{FcntlArg, fcntl};
use nix::sys::socket::MsgFlags;
use rustix::io::Errno;
use std::io;
use std::os::fd::{AsRawFd, RawFd};
use std::time::{Duration, Instant};
use tokio::io::Interest;
use tokio::io::unix::AsyncFd;
#[cfg(test)]
use tokio::net::UnixDatagram;

/// The fixed channel of the Attribute Protocol (Core Vol 3 Part A 2.1).
const ATTRIBUTE_PROTOCOL: u16 = 4;
/// A little less than the kernel waits for a monitor (L2CAP_CONN_TIMEOUT, 40 s): what fails then has not
/// failed, but was not there.
const KERNEL_WAITS: Duration = Duration::from_secs(38);

/// Who somebody is on the air.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct IdentityAddress {
    /// The identity address.
    pub address: MonitorAddress,
    /// That address is a random static one, not a public one.
    pub random: bool,
}

/// A monitor to connect to.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Peer {
    /// The monitor.
    pub monitor: IdentityAddress,
    /// The adapter that has the keys, of those of this machine.
    pub adapter: IdentityAddress,
    /// Keys are kept: the link is to be encrypted.
    pub bonded: bool,
}

impl IdentityAddress {
    /// Its end of the channel.
    fn end(&self) -> io::Result<SocketAddr> {
        Ok(SocketAddr {
            addr: (self.address.as_str().parse())
                .map_err(|_| io::Error::from(io::ErrorKind::InvalidInput))?,
            addr_type: if self.random {
                AddressType::LeRandom
            } else {
                AddressType::LePublic
            },
            psm: 0,
            cid: ATTRIBUTE_PROTOCOL,
        })
    }
}

/// An open channel, which carries whole packets.
#[derive(Debug)]
pub enum AttChannel {
    /// Over the air.
    L2cap(Link),
    /// To another end in the same process.
    #[cfg(test)]
    Pair(UnixDatagram),
}

/// A connected socket, and a second descriptor of it to be told by when there is something to read.
///
/// bluer's own receiving turns round for ever, without letting anybody else in, where the kernel says both
/// "readable" and "try again": so it does for a link that has ended.
#[derive(Debug)]
pub struct Link {
    socket: SeqPacket,
    readable: AsyncFd<Descriptor>,
}

/// A descriptor that is closed when it is dropped.
#[derive(Debug)]
struct Descriptor(RawFd);

impl AsRawFd for Descriptor {
    fn as_raw_fd(&self) -> RawFd {
        self.0
    }
}

impl Drop for Descriptor {
    fn drop(&mut self) {
        let _ = nix::unistd::close(self.0);
    }
}

impl Link {
    /// Fails where the socket is not connected after all: the kernel may say that it is writable, and no
    /// more.
    fn new(socket: SeqPacket) -> io::Result<Self> {
        socket.peer_addr()?;
        let second = Descriptor(fcntl(socket.as_raw_fd(), FcntlArg::F_DUPFD_CLOEXEC(0))?);
        #[expect(
            deprecated,
            reason = "what comes after it asks for a descriptor that only unsafe code can make"
        )]
        let readable = AsyncFd::with_interest(second, Interest::READABLE)?;
        Ok(Self { socket, readable })
    }

    async fn receive(&self, packet: &mut [u8]) -> io::Result<usize> {
        loop {
            let mut ready = self.readable.readable().await?;
            match ready.try_io(|fd| receive(fd.get_ref(), packet)) {
                Ok(received) => return received,
                // Nothing to read, and nobody there.
                Err(_) if self.socket.peer_addr().is_err() => return Ok(0),
                Err(_) => {}
            }
        }
    }
}

fn receive(descriptor: &Descriptor, packet: &mut [u8]) -> io::Result<usize> {
    Ok(nix::sys::socket::recv(
        descriptor.0,
        packet,
        MsgFlags::MSG_DONTWAIT,
    )?)
}

/// Why there is no channel.
#[derive(Debug, thiserror::Error)]
pub enum Unreached {
    /// This process may not have such a socket, or the kernel has none.
    #[error("the kernel gives no Bluetooth socket: {0}")]
    NoSocket(io::Error),
    /// Somebody else, which is bluetoothd, has the monitor's link.
    #[error("bluetoothd holds the link")]
    Busy,
    /// There is no adapter that is on.
    #[error("no adapter is switched on")]
    NoAdapter,
    /// The kernel has waited as long as it does.
    #[error("it did not advertise")]
    Nobody,
    /// The keys are refused.
    #[error("it does not accept the keys of its pairing: {0}")]
    Keys(io::Error),
    /// The monitor was there, and the link broke while it was being made.
    #[error("the link broke while it was made: {0}")]
    Broke(io::Error),
}

impl Unreached {
    /// What a failed connect says, after it has waited for so long. The kernel makes errors of the
    /// controller's codes by `bt_to_errno` in net/bluetooth/lib.c, and gives up by refusing.
    fn of(error: io::Error, waited: Duration) -> Self {
        match error.raw_os_error() {
            _ if waited >= KERNEL_WAITS => Self::Nobody,
            Some(code) if code == Errno::BUSY.raw_os_error() => Self::Busy,
            Some(code)
                if [Errno::HOSTUNREACH, Errno::NETDOWN, Errno::NODEV, Errno::HOSTDOWN]
                    .iter()
                    .any(|errno| errno.raw_os_error() == code) =>
            {
                Self::NoAdapter
            }
            // Authentication failure, and PIN or key missing.
            Some(code)
                if [Errno::ACCESS, Errno::BADE]
                    .iter()
                    .any(|errno| errno.raw_os_error() == code) =>
            {
                Self::Keys(error)
            }
            _ => Self::Broke(error),
        }
    }
}

impl AttChannel {
    /// Waits until the monitor has advertised and is connected, and where it is bonded until the link is
    /// encrypted. The kernel gives up after 40 s; it is then asked again.
    pub async fn wait_for(peer: &Peer) -> Result<Self, Unreached> {
        let to = peer.monitor.end().map_err(Unreached::NoSocket)?;
        let begun = Instant::now();
        let failed = |error| Unreached::of(error, begun.elapsed());
        let socket = Socket::<SeqPacket>::new_seq_packet().map_err(Unreached::NoSocket)?;
        // Else the kernel takes the first adapter of the machine.
        let from = peer.adapter.end().map_err(Unreached::NoSocket)?;
        socket.bind(from).map_err(failed)?;
        let level = if peer.bonded {
            SecurityLevel::Medium
        } else {
            SecurityLevel::Low
        };
        socket
            .set_security(Security { level, key_size: 0 })
            .map_err(failed)?;
        let connected = socket.connect(to).await.and_then(Link::new);
        connected.map(Self::L2cap).map_err(failed)
    }

    /// The next packet. None is lost when the waiting is given up. `Ok(0)`, or an error: the link has ended.
    pub async fn receive(&self, packet: &mut [u8]) -> io::Result<usize> {
        match self {
            Self::L2cap(link) => link.receive(packet).await,
            #[cfg(test)]
            Self::Pair(link) => link.recv(packet).await,
        }
    }

    /// A packet that came before the link ended; `None` where there is no other. To be asked after an error.
    pub fn left(&self, packet: &mut [u8]) -> Option<usize> {
        match self {
            Self::L2cap(link) => receive(link.readable.get_ref(), packet).ok(),
            #[cfg(test)]
            Self::Pair(link) => link.try_recv(packet).ok(),
        }
    }

    /// Sends a packet.
    pub async fn send(&self, packet: &[u8]) -> io::Result<()> {
        let _sent = match self {
            Self::L2cap(link) => link.socket.send(packet).await?,
            #[cfg(test)]
            Self::Pair(link) => link.send(packet).await?,
        };
        Ok(())
    }
}

/// Whether this process may have such a socket at all. Nothing is connected to.
pub async fn may_open() -> Result<(), Unreached> {
    let any = SocketAddr {
        addr: Address::any(),
        addr_type: AddressType::LePublic,
        psm: 0,
        cid: ATTRIBUTE_PROTOCOL,
    };
    let socket = Socket::<SeqPacket>::new_seq_packet();
    socket
        .and_then(|socket| socket.bind(any))
        .map_err(Unreached::NoSocket)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_the_kernel_says_is_understood() {
        let of = |errno: Errno, seconds| {
            let error = io::Error::from_raw_os_error(errno.raw_os_error());
            Unreached::of(error, Duration::from_secs(seconds))
        };
        assert!(matches!(of(Errno::CONNREFUSED, 40), Unreached::Nobody));
        assert!(matches!(of(Errno::CONNREFUSED, 5), Unreached::Broke(_)));
        assert!(matches!(of(Errno::BUSY, 0), Unreached::Busy));
        assert!(matches!(of(Errno::HOSTUNREACH, 0), Unreached::NoAdapter));
        assert!(matches!(of(Errno::ACCESS, 1), Unreached::Keys(_)));
        assert!(matches!(of(Errno::BADE, 1), Unreached::Keys(_)));
        assert!(matches!(of(Errno::CONNRESET, 1), Unreached::Broke(_)));
    }
}
