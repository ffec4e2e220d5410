//! The socket: an L2CAP channel on the fixed identifier of the Attribute Protocol. The kernel scans for the
//! monitor, connects to it when it advertises, and encrypts the link with the keys that bluetoothd gave it.

use crate::household::MonitorAddress;
use bluer::l2cap::{Security, SecurityLevel, SeqPacket, Socket, SocketAddr};
use bluer::{Address, AddressType};
use std::io;
#[cfg(test)]
use tokio::net::UnixDatagram;

/// The fixed channel of the Attribute Protocol (Core Vol 3 Part A 2.1).
const ATTRIBUTE_PROTOCOL: u16 = 4;

/// A monitor to connect to.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Peer {
    /// The monitor's identity address.
    pub address: MonitorAddress,
    /// That address is a random static one, not a public one.
    pub random: bool,
    /// Keys are kept: the link is to be encrypted.
    pub bonded: bool,
}

/// An open channel, which carries whole packets.
#[derive(Debug)]
pub enum Channel {
    /// Over the air.
    L2cap(SeqPacket),
    /// To another end in the same process.
    #[cfg(test)]
    Pair(UnixDatagram),
}

impl Channel {
    /// Waits until the monitor has advertised and is connected, and where it is bonded until the link is
    /// encrypted. The kernel gives up after 40 s, and says that it was refused; it is then asked again.
    pub async fn wait_for(peer: &Peer) -> io::Result<Self> {
        let socket = Socket::<SeqPacket>::new_seq_packet()?;
        socket.bind(SocketAddr {
            addr: Address::any(),
            addr_type: AddressType::LePublic,
            psm: 0,
            cid: ATTRIBUTE_PROTOCOL,
        })?;
        let level = if peer.bonded {
            SecurityLevel::Medium
        } else {
            SecurityLevel::Low
        };
        socket.set_security(Security { level, key_size: 0 })?;
        let address: Address = peer
            .address
            .as_str()
            .parse()
            .map_err(|_| io::Error::from(io::ErrorKind::InvalidInput))?;
        let to = SocketAddr {
            addr: address,
            addr_type: if peer.random {
                AddressType::LeRandom
            } else {
                AddressType::LePublic
            },
            psm: 0,
            cid: ATTRIBUTE_PROTOCOL,
        };
        socket.connect(to).await.map(Self::L2cap)
    }

    /// The next packet. None is lost when the waiting is given up. `Ok(0)`: the link has ended.
    pub async fn receive(&self, packet: &mut [u8]) -> io::Result<usize> {
        match self {
            Self::L2cap(link) => link.recv(packet).await,
            #[cfg(test)]
            Self::Pair(link) => link.recv(packet).await,
        }
    }

    /// Sends a packet.
    pub async fn send(&self, packet: &[u8]) -> io::Result<()> {
        let _sent = match self {
            Self::L2cap(link) => link.send(packet).await?,
            #[cfg(test)]
            Self::Pair(link) => link.send(packet).await?,
        };
        Ok(())
    }
}

/// Whether this process may have such a socket at all. Nothing is connected to.
pub fn may_open() -> io::Result<()> {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()?;
    runtime.block_on(async { Socket::<SeqPacket>::new_seq_packet().map(drop) })
}
