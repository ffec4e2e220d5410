//! MQTT 5: alerts, and the state of the home for home automation, below one topic.
//!
//! Everything is retained: whoever subscribes later gets the last word. `availability` says `online` while
//! this program is connected; the will that the broker holds says `offline` for it when it is gone without a
//! word.
//!
//! One message is in flight at a time, and counts as sent when the broker confirmed it. After a broken
//! connection a new one is made from nothing, so that no library sends again what the ledger thinks failed.

use super::error::ChannelError;
use super::message::Message;
use super::routes::Broker;
use crate::secret::Secret;
use jiff::Timestamp;
use rumqttc::mqttbytes::QoS;
use rumqttc::mqttbytes::v5::{LastWill, Packet, PubAckReason, PublishProperties};
use rumqttc::{AsyncClient, ConnectionError, Event, EventLoop, MqttOptions, PublishOptions};
use rumqttc::{TlsConfiguration, Transport};
use std::collections::BTreeMap;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::{mpsc, oneshot};

/// A broker on the other side of the house answers in milliseconds.
const ANSWER_TIMEOUT: Duration = Duration::from_secs(15);
/// Seconds. A broker notices after one and a half times this that we are gone without a word (MQTT 5, section
/// 3.1.2.10).
const KEEP_ALIVE_S: u16 = 30;
/// From the first to the longest pause before connecting anew by itself.
const PAUSE: (Duration, Duration) = (Duration::from_secs(1), Duration::from_secs(60));
/// More than every state of a household at once, with what announces it: ten words a person.
const REQUESTS_MAX: usize = 512;

/// What to write on a topic.
struct Word {
    topic: String,
    payload: Vec<u8>,
    expires_s: Option<u32>,
    /// Who waits to hear that the broker has it; nobody, for a state, which is written again after a broken
    /// connection.
    reply: Option<oneshot::Sender<Result<(), ChannelError>>>,
}

/// A broker, to which a task of its own keeps the connection.
#[derive(Clone, Debug)]
pub struct Mqtt {
    topic: Arc<str>,
    words: mpsc::Sender<Word>,
}

impl Mqtt {
    /// Begins to connect. The task ends, saying `offline`, when the last handle is gone.
    pub fn start(
        broker: &Broker,
        household: i64,
    ) -> Result<(Self, tokio::task::JoinHandle<()>), ChannelError> {
        Self::start_as("client", broker, household)
    }

    /// The same beside a running program: as another client, which says nothing of who is there.
    pub fn start_apart(
        broker: &Broker,
        household: i64,
    ) -> Result<(Self, tokio::task::JoinHandle<()>), ChannelError> {
        Self::start_as("test", broker, household)
    }

    fn start_as(
        role: &'static str,
        broker: &Broker,
        household: i64,
    ) -> Result<(Self, tokio::task::JoinHandle<()>), ChannelError> {
        let name = super::message::name_of(household, "", role);
        let present = role == "client";
        let options = options(
            broker,
            &format!("quietcuff-{}", name.get(..12).unwrap_or_default()),
            present,
        )?;
        let topic: Arc<str> = broker.topic.as_str().into();
        let (words, receiver) = mpsc::channel(REQUESTS_MAX);
        let task = tokio::spawn(
            BrokerLine {
                options,
                topic: topic.clone(),
                words: receiver,
                states: BTreeMap::new(),
                present,
            }
            .keep(),
        );
        Ok((Self { topic, words }, task))
    }

    /// Tells a message of a route.
    pub async fn tell(&self, route: &str, message: &Message) -> Result<(), ChannelError> {
        let (reply, answer) = oneshot::channel();
        let left = |until: Timestamp| {
            until
                .duration_since(Timestamp::now())
                .as_secs()
                .clamp(1, i64::from(u32::MAX))
        };
        let word = Word {
            topic: format!("{}/alert/{route}/{}", self.topic, message.kind),
            payload: serde_json::to_vec(message).map_err(|e| ChannelError::Mqtt(e.to_string()))?,
            expires_s: message.until.and_then(|until| u32::try_from(left(until)).ok()),
            reply: Some(reply),
        };
        self.words.send(word).await.map_err(|_| ChannelError::Stopped)?;
        answer.await.unwrap_or(Err(ChannelError::Stopped))
    }

    /// Writes a state, whenever there is a connection. `null` takes it back: a broker keeps nothing on a
    /// topic whose last word is empty (MQTT 5, section 3.3.1.3).
    pub async fn state(&self, below: &str, state: &serde_json::Value) {
        self.announce(format!("{}/{below}", self.topic), state).await;
    }

    /// The same on a topic that stands elsewhere.
    pub async fn announce(&self, topic: String, word: &serde_json::Value) {
        let word = Word {
            topic,
            payload: if word.is_null() {
                Vec::new()
            } else {
                word.to_string().into_bytes()
            },
            expires_s: None,
            reply: None,
        };
        let _ = self.words.send(word).await;
    }

    /// Takes back what stands on a topic elsewhere, and waits until the broker knows.
    pub async fn take_back(&self, topic: String) -> Result<(), ChannelError> {
        let (reply, answer) = oneshot::channel();
        let word = Word {
            topic,
            payload: Vec::new(),
            expires_s: None,
            reply: Some(reply),
        };
        self.words.send(word).await.map_err(|_| ChannelError::Stopped)?;
        answer.await.unwrap_or(Err(ChannelError::Stopped))
    }
}

fn options(broker: &Broker, id: &str, present: bool) -> Result<MqttOptions, ChannelError> {
    let port = broker.port.unwrap_or(if broker.tls { 8883 } else { 1883 });
    let mut options = MqttOptions::new(id, (broker.server.as_str(), port));
    options.set_keep_alive(KEEP_ALIVE_S);
    options.set_connect_timeout(ANSWER_TIMEOUT);
    if present {
        options.set_last_will(LastWill::new(
            format!("{}/availability", broker.topic),
            "offline",
            QoS::AtLeastOnce,
            true,
            None,
        ));
    }
    if let (Some(user), Some(path)) = (&broker.user, &broker.password_file) {
        let password = Secret::read("the password for MQTT", path)?;
        options.set_credentials(user.as_str(), password.expose().to_owned());
    }
    if broker.tls {
        let config = crate::outbound::tls(broker.ca_file.as_deref())?;
        options.set_transport(Transport::tls_with_config(TlsConfiguration::Rustls(Arc::new(
            config,
        ))));
    }
    Ok(options)
}

/// A connection's two ends.
struct Session {
    client: AsyncClient,
    events: EventLoop,
}

/// The task that keeps the connection.
struct BrokerLine {
    options: MqttOptions,
    topic: Arc<str>,
    words: mpsc::Receiver<Word>,
    states: BTreeMap<String, Vec<u8>>,
    /// Whether this connection stands for the program's presence.
    present: bool,
}

impl BrokerLine {
    async fn keep(mut self) {
        let mut pause = PAUSE.0;
        let mut waiting: Option<Word> = None;
        loop {
            match self.connect().await {
                Ok(mut session) => {
                    pause = PAUSE.0;
                    match self.serve(&mut session, waiting.take()).await {
                        Ok(()) => return session.leave(self.availability().as_deref()).await,
                        Err(error) => tracing::info!("the MQTT broker is gone: {error}"),
                    }
                }
                Err(error) => {
                    if let Some(reply) = waiting.take().and_then(|word| word.reply) {
                        let _ = reply.send(Err(error));
                    } else {
                        tracing::debug!("no connection to the MQTT broker: {error}");
                    }
                }
            }
            // Until somebody has something to say, or a while has passed.
            let slept = tokio::time::sleep(pause);
            tokio::pin!(slept);
            loop {
                tokio::select! {
                    () = &mut slept => break,
                    word = self.words.recv() => match word {
                        None => return,
                        Some(word) if word.reply.is_some() => { waiting = Some(word); break; }
                        Some(word) => { self.states.insert(word.topic, word.payload); }
                    },
                }
            }
            pause = (pause * 2).min(PAUSE.1);
        }
    }

    fn availability(&self) -> Option<String> {
        self.present.then(|| format!("{}/availability", self.topic))
    }

    /// Connects, says that we are there, and writes every state anew.
    async fn connect(&self) -> Result<Session, ChannelError> {
        let (client, events) = AsyncClient::builder(self.options.clone()).capacity(8).build();
        let mut session = Session { client, events };
        session
            .until(|packet| matches!(packet, Packet::ConnAck(_)).then_some(Ok(())))
            .await?;
        if let Some(availability) = self.availability() {
            told(
                &availability,
                session.publish(&availability, b"online", None).await,
            )?;
        }
        for (topic, payload) in &self.states {
            told(topic, session.publish(topic, payload, None).await)?;
        }
        Ok(session)
    }

    /// Writes what there is to write, until nobody has anything to say any more, or the connection breaks.
    async fn serve(&mut self, session: &mut Session, waiting: Option<Word>) -> Result<(), ChannelError> {
        if let Some(word) = waiting {
            self.write(session, word).await?;
        }
        loop {
            tokio::select! {
                word = self.words.recv() => match word {
                    Some(word) => self.write(session, word).await?,
                    None => return Ok(()),
                },
                event = session.events.poll() => { event.map_err(broken)?; }
            }
        }
    }

    async fn write(&mut self, session: &mut Session, word: Word) -> Result<(), ChannelError> {
        let Word {
            topic,
            payload,
            expires_s,
            reply,
        } = word;
        if reply.is_none() {
            self.states.insert(topic.clone(), payload.clone());
        }
        let written = session.publish(&topic, &payload, expires_s).await;
        let Some(reply) = reply else {
            return told(&topic, written);
        };
        let gone = match &written {
            Ok(()) | Err(ChannelError::Refused(_)) => Ok(()),
            Err(error) => Err(ChannelError::Mqtt(error.to_string())),
        };
        let _ = reply.send(written);
        gone
    }
}

/// What the broker refuses by its own rules holds nothing else up: its connection is as good as before.
fn told(topic: &str, written: Result<(), ChannelError>) -> Result<(), ChannelError> {
    match written {
        Err(ChannelError::Refused(why)) => {
            tracing::warn!(
                "the MQTT broker does not take {topic}: {why}; its own rules have to allow that topic"
            );
            Ok(())
        }
        other => other,
    }
}

impl Session {
    /// Follows the connection until a packet comes that means something.
    async fn until(
        &mut self,
        means: impl Fn(&Packet) -> Option<Result<(), ChannelError>>,
    ) -> Result<(), ChannelError> {
        let found = async {
            loop {
                if let Event::Incoming(packet) = self.events.poll().await.map_err(broken)?
                    && let Some(meaning) = means(&packet)
                {
                    return meaning;
                }
            }
        };
        tokio::time::timeout(ANSWER_TIMEOUT, found)
            .await
            .unwrap_or_else(|_| Err(ChannelError::Mqtt("the broker does not answer".to_owned())))
    }

    /// Writes one message and waits until the broker has it.
    async fn publish(
        &mut self,
        topic: &str,
        payload: &[u8],
        expires_s: Option<u32>,
    ) -> Result<(), ChannelError> {
        let properties = PublishProperties {
            message_expiry_interval: expires_s,
            ..PublishProperties::default()
        };
        self.client
            .try_publish(
                topic,
                payload,
                PublishOptions::at_least_once().retained().properties(properties),
            )
            .map_err(|e| ChannelError::Mqtt(e.to_string()))?;
        self.until(|packet| match packet {
            Packet::PubAck(ack) => Some(match ack.reason {
                PubAckReason::Success | PubAckReason::NoMatchingSubscribers => Ok(()),
                reason => Err(ChannelError::Refused(format!("{reason:?}"))),
            }),
            _ => None,
        })
        .await
    }

    /// Says goodbye: the will is not for those who leave by themselves.
    async fn leave(&mut self, availability: Option<&str>) {
        if let Some(availability) = availability {
            let _ = self.publish(availability, b"offline", None).await;
        }
        let _ = self.client.try_disconnect();
        let gone = async { while self.events.poll().await.is_ok() {} };
        let _ = tokio::time::timeout(Duration::from_secs(2), gone).await;
    }
}

#[expect(clippy::needless_pass_by_value, reason = "it is handed to map_err")]
fn broken(error: ConnectionError) -> ChannelError {
    ChannelError::Mqtt(error.to_string())
}
