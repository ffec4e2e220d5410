//! One visit of a monitor over a link of our own: subscribe, keep, confirm, and ask what there is time for.
//!
//! What it holds is remembered for the life of the process, so that the subscription of the next visit is the
//! first thing that is said. Values are held back until it is sure that they are what they were: by the
//! Database Hash, or else by looking at the Blood Pressure service again.

use super::bearer::attributes::{AttributeDiscovery, ServerAttributes};
use super::bearer::channel::AttChannel;
use super::bearer::server::Server;
use super::bearer::talk::{self, Failed, LinkEnd, ReceivedValue, Talk};
use super::consent;
use super::fetch::AfterFetch;
use super::gateway_time::GatewayTime;
use super::line::{MonitorLine, SUBSCRIBE, is_awaited};
use super::questions::{self, Askable, all};
use crate::gatt::Characteristic;
use futures_util::future::BoxFuture;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::mpsc;
use tokio::time::timeout;

/// Values on their way from the link to the journal's queue.
const HEARD_MAX: usize = 16;
/// Between goodbye and the end of the link; a disconnection takes a few connection intervals.
const GOODBYE_LIMIT: Duration = Duration::from_secs(5);

const SERVICE_CHANGED: Characteristic = Characteristic::assigned(0x2a05);
const USER_CONTROL_POINT: Characteristic = Characteristic::USER_CONTROL_POINT;

/// How a visit went.
pub(super) struct Visited {
    /// How the link ended.
    pub(super) end: LinkEnd,
    /// What went wrong while it stood; the monitor's leaving is no error.
    pub(super) wrong: Option<Failed>,
}

/// Attends to a monitor from the moment it is connected until the link has ended. `disconnect` ends it.
pub(super) async fn visit(
    channel: AttChannel,
    line: &Arc<MonitorLine>,
    serves_time: bool,
    disconnect: BoxFuture<'static, ()>,
) -> Visited {
    line.speaks();
    let (hand_on, heard) = mpsc::channel(HEARD_MAX);
    let server = Server::new(GatewayTime(line.edge().clone()), serves_time);
    let (talk, carrier) = talk::begin(channel, server, hand_on);
    let attending = async {
        let wrong = match attend(&talk, line).await {
            Ok(()) | Err(Failed::Ended) => None,
            Err(error) => Some(error),
        };
        if !talk.is_ended() {
            tracing::debug!(monitor = %line.monitor(), "disconnecting");
            disconnect.await;
            let _ = timeout(GOODBYE_LIMIT, talk.ended()).await;
        }
        drop(talk);
        wrong
    };
    let ((), end, wrong) = tokio::join!(keep(line, heard), carrier.run(), attending);
    Visited { end, wrong }
}

/// Hands every value to the journal, until the link has ended and the last one is handed over.
async fn keep(line: &MonitorLine, mut heard: mpsc::Receiver<ReceivedValue>) {
    while let Some(ReceivedValue { kind, value, kept }) = heard.recv().await {
        match kept {
            Some(kept) => line.heard_to_keep(kind, value, kept).await,
            // Nobody asked for any other; it is not confirmed, and nothing is lost by passing it over.
            None if is_awaited(kind) => line.heard(kind, value).await,
            None => {}
        }
    }
}

/// Returns when nothing more is expected of the monitor.
async fn attend(talk: &Talk, line: &MonitorLine) -> Result<(), Failed> {
    talk.exchange_mtu().await?;
    let (mut attributes, mut refusal) = settle(talk, line).await?;
    loop {
        if !attributes.whole {
            attributes = learn_the_rest(talk, line, &attributes).await?;
        }
        if let Some(refused) = refusal.take() {
            if attributes.find(USER_CONTROL_POINT).is_none() {
                return Err(refused);
            }
            tracing::debug!(monitor = %line.monitor(), "it does not let itself be subscribed to yet: {refused}");
            line.users.has();
            line.users.refuses();
        }
        let monitor = Monitor {
            talk,
            attributes: &attributes,
        };
        let staying = async {
            let left = consent::begin(&monitor, line).await;
            questions::how_are_you(&monitor, line).await;
            if consent::fetch_all(&monitor, line, left).await == AfterFetch::Leave {
                return;
            }
            questions::who_are_you(&monitor, line).await;
            consent::stay(&monitor, line).await;
        };
        tokio::select! {
            () = staying => return Ok(()),
            () = talk.ended() => return Err(Failed::Ended),
            () = talk.changed() => {
                tracing::info!(monitor = %line.monitor(), "it says that its services have changed");
                talk.know(None);
                line.learn(None);
                (attributes, refusal) = settle(talk, line).await?;
            }
        }
    }
}

/// Subscribes, and finds out what the values will be.
/// A subscription that was refused is no failure yet: one that keeps its users apart may want a consent first.
async fn settle(talk: &Talk, line: &MonitorLine) -> Result<(Arc<ServerAttributes>, Option<Failed>), Failed> {
    if let Some(before) = line.attributes() {
        talk.believe(before.clone());
        let refusal = match subscribe(talk, line, &before).await {
            Ok(()) => Ok(None),
            Err(Failed::Ended) => return Err(Failed::Ended),
            Err(refused) if before.find(USER_CONTROL_POINT).is_some() => Ok(Some(refused)),
            Err(refused) => Err(refused),
        };
        if let Ok(refusal) = refusal
            && is_still(talk, &before).await?
        {
            talk.know(Some(before.clone()));
            return Ok((before, refusal));
        }
        tracing::info!(monitor = %line.monitor(), "its services are not where they were; discovering them anew");
        talk.know(None);
        line.learn(None);
    }
    let found = Arc::new(talk.discover(AttributeDiscovery::of_service(None)).await?);
    // What it sends once it is subscribed to may be its last word on this link.
    talk.know(Some(found.clone()));
    match subscribe(talk, line, &found).await {
        Ok(()) => Ok((found, None)),
        Err(Failed::Refused(error)) if !error.is_security() => Ok((found, Some(Failed::Refused(error)))),
        Err(error) => Err(error),
    }
}

async fn subscribe(talk: &Talk, line: &MonitorLine, attributes: &ServerAttributes) -> Result<(), Failed> {
    let subscribed = talk.subscribe(attributes, &SUBSCRIBE).await?;
    tracing::debug!(monitor = %line.monitor(), subscribed, "subscribed");
    line.subscribed();
    Ok(())
}

/// Whether the monitor holds what it held: the same hash says so, and where there is none, the same service.
async fn is_still(talk: &Talk, before: &ServerAttributes) -> Result<bool, Failed> {
    if before.hash.is_some() {
        return Ok(talk.database_hash().await? == before.hash);
    }
    match talk.discover(AttributeDiscovery::of_service(None)).await {
        Ok(now) => Ok(now.all().iter().all(|held| before.at(held.value) == Some(held))),
        Err(Failed::Ended) => Err(Failed::Ended),
        Err(_) => Ok(false),
    }
}

/// The other services, and the hash of them all; from now on it is remembered.
async fn learn_the_rest(
    talk: &Talk,
    line: &MonitorLine,
    found: &ServerAttributes,
) -> Result<Arc<ServerAttributes>, Failed> {
    let mut whole = match talk.discover(AttributeDiscovery::of_the_rest(found)).await {
        Ok(whole) => whole,
        Err(Failed::Ended) => return Err(Failed::Ended),
        // What carries readings is known; the rest can be done without.
        Err(error) => {
            tracing::debug!(monitor = %line.monitor(), "its other services: {error}");
            let mut found = found.clone();
            found.whole = true;
            return Ok(Arc::new(found));
        }
    };
    whole.hash = talk.database_hash().await?;
    if let Err(error) = talk.subscribe(&whole, &[SERVICE_CHANGED]).await {
        tracing::debug!(monitor = %line.monitor(), "it does not say when its services change: {error}");
    }
    let whole = Arc::new(whole);
    talk.know(Some(whole.clone()));
    line.learn(Some(whole.clone()));
    Ok(whole)
}

/// A monitor on such a link.
struct Monitor<'a> {
    talk: &'a Talk,
    attributes: &'a ServerAttributes,
}

impl Askable for Monitor<'_> {
    async fn read(&self, wanted: Characteristic) -> Result<Option<Vec<u8>>, String> {
        let Some(held) = self.attributes.find(wanted).filter(|held| held.reads()) else {
            return Ok(None);
        };
        let read = self.talk.read(held.value).await;
        read.map(Some).map_err(|error| error.to_string())
    }

    fn has(&self, wanted: Characteristic) -> bool {
        self.attributes.find(wanted).is_some()
    }

    async fn listen_to(&self, wanted: &[Characteristic]) -> Result<(), String> {
        let subscribed = self.talk.subscribe(self.attributes, wanted).await;
        all(subscribed.map_err(|error| error.to_string())?, wanted)
    }

    async fn write(&self, wanted: Characteristic, value: Vec<u8>) -> Option<Result<(), String>> {
        let held = self.attributes.find(wanted).filter(|held| held.writes())?;
        let written = self.talk.write(held.value, value).await;
        Some(written.map_err(|error| error.to_string()))
    }
}
