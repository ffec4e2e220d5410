//! What is said over one link. The carrier moves the packets: it hands values on, answers the monitor's own
//! requests, and confirms an indication once it is told that the value was kept. The talk asks: one thing
//! after the other.

use super::attributes::{AttributeDiscovery, Confused, SERVICE_CHANGED, ServerAttributes};
use super::channel::AttChannel;
use super::client::{AttributeClient, PacketMeaning, SentValue};
use super::pdu::{AttError, PDU_OCTETS_MAX, Pdu, Range};
use super::server::{Server, Time};
use crate::frame::VALUE_OCTETS_MAX;
use crate::gatt::{Characteristic, is_measurement};
use std::collections::VecDeque;
use std::sync::Arc;
use std::sync::atomic::{AtomicU16, Ordering};
use std::time::{Duration, Instant};
use tokio::sync::{Notify, mpsc, oneshot, watch};

/// Values that wait until it is known what they are. A monitor that indicates has one on its way;
/// notifications follow each other a few times a second.
const HELD_MAX: usize = 64;
/// Indications that wait for the disk. The protocol has one at a time; a monitor that does not keep to it
/// gets no more.
const OWED_MAX: usize = 8;
/// Packets that are still taken from a link that has ended.
const AFTER_THE_END_MAX: usize = 64;
/// Requests that wait for the one before.
const ASKS_MAX: usize = 4;

/// So often the clock is looked at where a monitor wants to be told of its adjustments; it hears nothing else then.
const CLOCK_LOOK: Duration = Duration::from_secs(1);

const DATABASE_HASH: Characteristic = Characteristic::assigned(0x2b2a);

/// A value of a characteristic that is known.
#[derive(Debug)]
pub struct ReceivedValue {
    /// What it is.
    pub kind: Characteristic,
    /// Its octets.
    pub value: Vec<u8>,
    /// To be told once it is on the disk: the monitor is told then. Dropped, it is told nothing and keeps its
    /// record.
    pub kept: Option<oneshot::Sender<()>>,
}

/// Why something was not answered.
#[derive(Debug, thiserror::Error)]
pub enum Failed {
    /// The monitor refuses.
    #[error("{0}")]
    Refused(AttError),
    /// The link has ended.
    #[error("the link has ended")]
    Ended,
    /// Its attributes make no sense.
    #[error(transparent)]
    Confused(#[from] Confused),
}

/// How a link ended.
#[derive(Debug)]
pub enum LinkEnd {
    /// We are done with it.
    Left,
    /// The monitor, or the air, ended it.
    Ended(Option<std::io::Error>),
    /// A request was not answered in time.
    Unanswered,
}

struct Ask {
    request: Pdu,
    answer: oneshot::Sender<Result<Pdu, AttError>>,
}

/// The asking side.
pub struct Talk {
    asks: mpsc::Sender<Ask>,
    known: watch::Sender<Known>,
    changed: Arc<Notify>,
    mtu: Arc<AtomicU16>,
}

/// What the monitor's attributes are, as far as anybody knows.
#[derive(Clone, Default)]
enum Known {
    #[default]
    Nothing,
    /// What it held the last time; that it still does has not been said.
    Before(Arc<ServerAttributes>),
    Sure(Arc<ServerAttributes>),
}

/// The carrying side; it runs until the link ends, or the talk is dropped.
pub struct Carrier<T> {
    channel: AttChannel,
    client: AttributeClient,
    server: Server<T>,
    asks: mpsc::Receiver<Ask>,
    waits: Option<oneshot::Sender<Result<Pdu, AttError>>>,
    known: watch::Receiver<Known>,
    changed: Arc<Notify>,
    mtu: Arc<AtomicU16>,
    heard: mpsc::Sender<ReceivedValue>,
    held: VecDeque<SentValue>,
    owed: VecDeque<oneshot::Receiver<()>>,
}

/// Begins a talk over an open channel. Values go to `heard`.
pub fn begin<T: Time>(
    channel: AttChannel,
    server: Server<T>,
    heard: mpsc::Sender<ReceivedValue>,
) -> (Talk, Carrier<T>) {
    let (asks, asked) = mpsc::channel(ASKS_MAX);
    let (tell_known, known) = watch::channel(Known::Nothing);
    let changed = Arc::new(Notify::new());
    let client = AttributeClient::default();
    let mtu = Arc::new(AtomicU16::new(client.mtu()));
    let talk = Talk {
        asks,
        known: tell_known,
        changed: changed.clone(),
        mtu: mtu.clone(),
    };
    let carrier = Carrier {
        channel,
        client,
        server,
        asks: asked,
        waits: None,
        known,
        changed,
        mtu,
        heard,
        held: VecDeque::new(),
        owed: VecDeque::new(),
    };
    (talk, carrier)
}

impl<T: Time> Carrier<T> {
    /// Carries packets to and fro.
    pub async fn run(mut self) -> LinkEnd {
        let end = self.carry().await;
        self.hand_on_what_comes_once().await;
        end
    }

    async fn carry(&mut self) -> LinkEnd {
        // One octet more than is allowed, so that what is too long shows.
        let mut packet = [0; PDU_OCTETS_MAX + 1];
        loop {
            let deadline = self.client.deadline();
            let too_late = async {
                match deadline {
                    Some(at) => tokio::time::sleep_until(at.into()).await,
                    None => std::future::pending().await,
                }
            };
            let kept = async {
                match self.owed.front_mut() {
                    Some(first) => first.await.is_ok(),
                    None => std::future::pending().await,
                }
            };
            tokio::select! {
                received = self.channel.receive(&mut packet) => match received {
                    Ok(0) => return LinkEnd::Ended(None),
                    Ok(length) => {
                        let octets = packet.get(..length).unwrap_or_default();
                        if let Err(error) = self.received(octets).await {
                            return LinkEnd::Ended(Some(error));
                        }
                    }
                    Err(error) => {
                        self.take_what_is_left(&mut packet).await;
                        return LinkEnd::Ended(Some(error));
                    }
                },
                ask = self.asks.recv(), if self.client.is_free() => {
                    let Some(Ask { request, answer }) = ask else { return LinkEnd::Left };
                    let octets = self.client.ask(&request, Instant::now());
                    self.waits = Some(answer);
                    if let Err(error) = self.channel.send(&octets).await {
                        self.take_what_is_left(&mut packet).await;
                        return LinkEnd::Ended(Some(error));
                    }
                }
                kept = kept => {
                    self.owed.pop_front();
                    if kept && let Err(error) = self.channel.send(&Pdu::Confirmation.encode()).await {
                        return LinkEnd::Ended(Some(error));
                    }
                }
                () = tokio::time::sleep(CLOCK_LOOK), if self.server.tells_time() => {
                    if let Some(told) = self.server.adjusted()
                        && let Err(error) = self.channel.send(&told.encode()).await
                    {
                        return LinkEnd::Ended(Some(error));
                    }
                }
                Ok(()) = self.known.changed() => self.hand_on_what_is_held().await,
                () = too_late => return LinkEnd::Unanswered,
            }
        }
    }

    /// The kernel tells of the end before it hands over what had come until then.
    async fn take_what_is_left(&mut self, packet: &mut [u8]) {
        for _ in 0..AFTER_THE_END_MAX {
            let Some(length) = self.channel.left(packet) else {
                return;
            };
            let octets = packet.get(..length).unwrap_or_default();
            if let PacketMeaning::Value(sent) = self.client.received(octets) {
                self.value(sent).await;
            }
        }
    }

    async fn received(&mut self, octets: &[u8]) -> std::io::Result<()> {
        match self.client.received(octets) {
            PacketMeaning::Answer(answer) => {
                self.agree();
                if let Some(waits) = self.waits.take() {
                    let _ = waits.send(answer);
                }
            }
            PacketMeaning::Value(sent) => self.value(sent).await,
            PacketMeaning::Request => {
                self.agree();
                if let Some(answer) = self.server.answer(octets) {
                    self.channel.send(&answer.encode()).await?;
                }
            }
            PacketMeaning::Ignored => tracing::debug!(octets = octets.len(), "passed over a packet"),
        }
        Ok(())
    }

    fn agree(&mut self) {
        self.mtu.store(self.client.mtu(), Ordering::Relaxed);
        self.server.agree(self.client.mtu());
    }

    /// A value came: it is handed on, or held until it is known what it is.
    async fn value(&mut self, sent: SentValue) {
        let known = self.known.borrow().clone();
        let Known::Sure(known) = known else {
            if self.held.len() < HELD_MAX {
                self.held.push_back(sent);
            } else {
                tracing::warn!("values come faster than it is known what they are; one was left out");
            }
            return;
        };
        let Some(held) = known.at(sent.handle) else {
            tracing::warn!(
                handle = sent.handle,
                "a value of an attribute that the monitor does not name; it is not confirmed"
            );
            return;
        };
        if held.kind == SERVICE_CHANGED {
            self.changed.notify_one();
        }
        let mut kept = None;
        if sent.indicated {
            if self.owed.len() >= OWED_MAX {
                tracing::warn!("indications come without waiting for their confirmations; one was left out");
                return;
            }
            let (tell, told) = oneshot::channel();
            self.owed.push_back(told);
            kept = Some(tell);
        }
        let (kind, value) = (held.kind, sent.value);
        if kind == SERVICE_CHANGED {
            // There is nothing in it to keep.
            let _ = kept.map(|kept| kept.send(()));
            return;
        }
        let _ = self.heard.send(ReceivedValue { kind, value, kept }).await;
    }

    async fn hand_on_what_is_held(&mut self) {
        if matches!(*self.known.borrow(), Known::Sure(_)) {
            for sent in std::mem::take(&mut self.held) {
                self.value(sent).await;
            }
        }
    }
}

impl<T: Time> Carrier<T> {
    /// The link ended before it was said that the attributes are what they were. An indication comes again, for
    /// nobody confirmed it; a notification does not, so one that can be a measurement is taken for one.
    async fn hand_on_what_comes_once(&mut self) {
        let Known::Before(before) = self.known.borrow().clone() else {
            return;
        };
        for SentValue { handle, value, .. } in std::mem::take(&mut self.held)
            .into_iter()
            .filter(|sent| !sent.indicated)
        {
            let kind = before.at(handle).map(|held| held.kind);
            if let Some(kind) = kind.filter(|kind| is_measurement(*kind, &value)) {
                let kept = None;
                let _ = self.heard.send(ReceivedValue { kind, value, kept }).await;
            }
        }
    }
}

impl Talk {
    /// Asks, and waits for the answer.
    pub async fn ask(&self, request: Pdu) -> Result<Pdu, Failed> {
        let (answer, answered) = oneshot::channel();
        self.asks
            .send(Ask { request, answer })
            .await
            .map_err(|_| Failed::Ended)?;
        answered
            .await
            .map_err(|_| Failed::Ended)?
            .map_err(Failed::Refused)
    }

    /// Names our receive MTU. A server that knows only the least one refuses.
    pub async fn exchange_mtu(&self) -> Result<(), Failed> {
        let ours = u16::try_from(PDU_OCTETS_MAX).unwrap_or(u16::MAX);
        match self.ask(Pdu::ExchangeMtuRequest(ours)).await {
            Ok(_) | Err(Failed::Refused(_)) => Ok(()),
            Err(error) => Err(error),
        }
    }

    /// A value, whole, however many packets that takes.
    pub async fn read(&self, handle: u16) -> Result<Vec<u8>, Failed> {
        let Pdu::ReadResponse(mut value) = self.ask(Pdu::ReadRequest(handle)).await? else {
            return Err(Confused::Order.into());
        };
        let mut part = value.len();
        while part + 1 == usize::from(self.mtu.load(Ordering::Relaxed)) && value.len() < VALUE_OCTETS_MAX {
            let offset = u16::try_from(value.len()).unwrap_or(u16::MAX);
            match self.ask(Pdu::ReadBlobRequest(handle, offset)).await {
                Ok(Pdu::ReadBlobResponse(more)) => {
                    part = more.len();
                    value.extend(more);
                }
                Ok(_) => return Err(Confused::Order.into()),
                // It filled its packet to the last octet, and that was all.
                Err(Failed::Refused(AttError::NOT_LONG | AttError::INVALID_OFFSET)) => break,
                Err(error) => return Err(error),
            }
        }
        value.truncate(VALUE_OCTETS_MAX);
        Ok(value)
    }

    /// Writes a value, and waits until the monitor has taken it.
    pub async fn write(&self, handle: u16, value: Vec<u8>) -> Result<(), Failed> {
        self.ask(Pdu::WriteRequest(handle, value)).await.map(drop)
    }

    /// The server's Database Hash; `None` where it has none.
    pub async fn database_hash(&self) -> Result<Option<Vec<u8>>, Failed> {
        match self.ask(Pdu::ReadByTypeRequest(Range::ALL, DATABASE_HASH)).await {
            Ok(Pdu::ReadByTypeResponse(list)) => Ok(list.into_iter().next().map(|(_, hash)| hash)),
            Ok(_) | Err(Failed::Refused(_)) => Ok(None),
            Err(error) => Err(error),
        }
    }

    /// Goes through a discovery to its end.
    pub async fn discover(&self, mut discovery: AttributeDiscovery) -> Result<ServerAttributes, Failed> {
        while let Some(request) = discovery.next() {
            let answer = match self.ask(request).await {
                Ok(pdu) => Ok(pdu),
                Err(Failed::Refused(error)) => Err(error),
                Err(error) => return Err(error),
            };
            discovery.answered(answer)?;
        }
        Ok(discovery.attributes())
    }

    /// Subscribes to those of `wanted` that there are, and gives how many it was; the first refusal ends it.
    pub async fn subscribe(
        &self,
        attributes: &ServerAttributes,
        wanted: &[Characteristic],
    ) -> Result<usize, Failed> {
        let offered: Vec<(u16, u16)> = wanted
            .iter()
            .flat_map(|kind| attributes.all().iter().filter(|held| held.kind == *kind))
            .filter_map(super::attributes::ServerCharacteristic::subscription)
            .collect();
        for (handle, how) in &offered {
            self.write(*handle, how.to_le_bytes().to_vec()).await?;
        }
        Ok(offered.len())
    }

    /// From now on values are told apart by these attributes; with `None` they are held until the next ones.
    pub fn know(&self, attributes: Option<Arc<ServerAttributes>>) {
        let known = attributes.map_or(Known::Nothing, Known::Sure);
        self.known.send_replace(known);
    }

    /// Its attributes were these the last time. Values are held until [`Self::know`].
    pub fn believe(&self, before: Arc<ServerAttributes>) {
        self.known.send_replace(Known::Before(before));
    }

    /// Whether the link has ended.
    pub fn is_ended(&self) -> bool {
        self.asks.is_closed()
    }

    /// Waits until the link has ended.
    pub async fn ended(&self) {
        self.asks.closed().await;
    }

    /// Waits until the monitor says that its attributes have changed.
    pub async fn changed(&self) {
        self.changed.notified().await;
    }
}

#[cfg(test)]
mod tests;
