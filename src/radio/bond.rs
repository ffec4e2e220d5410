//! Pairing: an agent of our own that answers for one monitor, for a bounded time, and is withdrawn afterwards.

use super::bus::{BLUEZ, Bus, BusError, Exported};
use dbus::Path;
use dbus_crossroads::{Crossroads, IfaceBuilder, MethodErr};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;
use tokio::sync::{mpsc, oneshot};

/// The Security Manager gives a pairing 30 s of silence (Core Vol 3 Part H 3.4); a person needs time to read six
/// digits.
pub const PAIRING_LIMIT: Duration = Duration::from_secs(90);

const AGENT_PATH: &str = "/org/quietcuff/agent";
const AGENT: &str = "org.bluez.Agent1";
const AGENT_MANAGER: &str = "org.bluez.AgentManager1";
const MANAGER_LIMIT: Duration = Duration::from_secs(5);

/// What the monitor wants to know while it pairs.
#[derive(Debug)]
pub enum Question {
    /// The six digits that the monitor shows; `None` gives up.
    Passkey(oneshot::Sender<Option<u32>>),
    /// Six digits to be typed or compared on the monitor; nothing to answer.
    Show(u32),
}

/// Why a pairing failed.
#[derive(Debug, thiserror::Error)]
pub enum BondError {
    /// The monitor said no to the passkey.
    #[error(
        "the monitor refused the passkey: it was not the one that it shows. Start its pairing mode (see its manual) and try again"
    )]
    WrongPasskey,
    /// The monitor said no before anybody was asked anything.
    #[error(
        "the monitor refused to pair, and asked for no passkey: it is not in its pairing mode, or it is one that cannot pair. Start its pairing mode (see its manual) and try again"
    )]
    Refused,
    /// Neither the monitor nor the person answered in time.
    #[error("the pairing took longer than {} s and was given up. Start the monitor's pairing mode and try again", PAIRING_LIMIT.as_secs())]
    TimedOut,
    /// The link broke or was never made.
    #[error(
        "the connection to the monitor broke while pairing: {0}. Hold it near the server, start its pairing mode and try again"
    )]
    LinkLost(String),
    /// Anything else that BlueZ says.
    #[error(transparent)]
    Bus(#[from] BusError),
}

/// Pairs with `device`. Questions go out on `ask`; questions about any other device are refused.
pub async fn pair(bus: &Bus, device: &Path<'static>, ask: mpsc::Sender<Question>) -> Result<(), BondError> {
    let agent = Agent::register(bus, device, ask).await?;
    let paired = tokio::time::timeout(PAIRING_LIMIT, bus.pair(device, PAIRING_LIMIT)).await;
    let paired = match paired {
        Ok(Ok(())) => Ok(()),
        Ok(Err(error)) => Err(said(error, agent.asked())),
        Err(_) => {
            let _ = bus.cancel_pairing(device).await;
            Err(BondError::TimedOut)
        }
    };
    agent.withdraw().await;
    paired
}

/// What a refusal means: BlueZ has one word for a wrong passkey and for a monitor that does not pair. `asked`: somebody
/// was asked for a passkey, or shown one.
const fn refused(asked: bool) -> BondError {
    if asked {
        BondError::WrongPasskey
    } else {
        BondError::Refused
    }
}

fn said(error: BusError, asked: bool) -> BondError {
    match error.name.as_str() {
        "org.bluez.Error.AlreadyExists" => BondError::Bus(error),
        "org.bluez.Error.AuthenticationFailed"
        | "org.bluez.Error.AuthenticationRejected"
        | "org.bluez.Error.AuthenticationCanceled" => refused(asked),
        "org.bluez.Error.AuthenticationTimeout" | "org.freedesktop.DBus.Error.NoReply" => BondError::TimedOut,
        "org.bluez.Error.ConnectionAttemptFailed" | "org.bluez.Error.Failed" => {
            BondError::LinkLost(error.message)
        }
        _ => BondError::Bus(error),
    }
}

/// What the agent's methods need: the one device that may ask, and where its questions go.
struct AgentDesk {
    only: Path<'static>,
    ask: mpsc::Sender<Question>,
    /// A passkey was asked for, or shown.
    asked: Arc<AtomicBool>,
}

impl AgentDesk {
    /// Tells whether the device that asks is the one that is being paired; else what is answered to it.
    fn only_ours(&self) -> impl Fn(&Path<'static>) -> Result<(), MethodErr> + Send + Sync + Clone + 'static {
        let only = self.only.clone();
        move |asked| {
            if *asked == only {
                Ok(())
            } else {
                Err(MethodErr::from(("org.bluez.Error.Rejected", "not this device")))
            }
        }
    }

    /// A monitor with this profile has no PIN code; that is classic Bluetooth.
    fn refuse_pin_codes(&self, agent: &mut IfaceBuilder<()>) {
        agent.method(
            "RequestPinCode",
            ("device",),
            ("pincode",),
            |_, (), (_,): (Path<'static>,)| {
                Err::<(String,), _>(MethodErr::from(("org.bluez.Error.Rejected", "Bluetooth LE only")))
            },
        );
    }

    /// The monitor shows a passkey, which a person types here.
    fn take_passkeys(&self, agent: &mut IfaceBuilder<()>) {
        let (ours, to, asks) = (self.only_ours(), self.ask.clone(), self.asked.clone());
        agent.method_with_cr_async(
            "RequestPasskey",
            ("device",),
            ("passkey",),
            move |mut context, _, (device,): (Path<'static>,)| {
                let (allowed, to) = (ours(&device), to.clone());
                asks.fetch_or(allowed.is_ok(), Ordering::Relaxed);
                async move {
                    if let Err(refused) = allowed {
                        return context.reply(Err(refused));
                    }
                    let (answer, answered) = oneshot::channel();
                    let asked = to.send(Question::Passkey(answer)).await.is_ok();
                    let passkey = if asked {
                        answered.await.ok().flatten()
                    } else {
                        None
                    };
                    context.reply(passkey.map(|passkey| (passkey,)).ok_or_else(|| {
                        MethodErr::from(("org.bluez.Error.Canceled", "nobody gave a passkey"))
                    }))
                }
            },
        );
    }

    /// The passkey is shown here, to be typed on the monitor or compared with what it shows.
    fn show_passkeys(&self, agent: &mut IfaceBuilder<()>) {
        let (ours, to, asks) = (self.only_ours(), self.ask.clone(), self.asked.clone());
        agent.method(
            "DisplayPasskey",
            ("device", "passkey", "entered"),
            (),
            move |_, (), (device, passkey, _): (Path<'static>, u32, u16)| {
                ours(&device)?;
                asks.store(true, Ordering::Relaxed);
                let _ = to.try_send(Question::Show(passkey));
                Ok(())
            },
        );
        let (ours, to, asks) = (self.only_ours(), self.ask.clone(), self.asked.clone());
        agent.method(
            "RequestConfirmation",
            ("device", "passkey"),
            (),
            move |_, (), (device, passkey): (Path<'static>, u32)| {
                ours(&device)?;
                asks.store(true, Ordering::Relaxed);
                let _ = to.try_send(Question::Show(passkey));
                Ok(())
            },
        );
    }

    /// Just Works: the person asked for this device by its address, which is the consent.
    fn authorize(&self, agent: &mut IfaceBuilder<()>) {
        let ours = self.only_ours();
        agent.method(
            "RequestAuthorization",
            ("device",),
            (),
            move |_, (), (device,): (Path<'static>,)| ours(&device),
        );
        let ours = self.only_ours();
        agent.method(
            "AuthorizeService",
            ("device", "uuid"),
            (),
            move |_, (), (device, _): (Path<'static>, String)| ours(&device),
        );
    }
}

struct Agent {
    bus: Bus,
    asked: Arc<AtomicBool>,
    _exported: Exported,
}

impl Agent {
    async fn register(
        bus: &Bus,
        device: &Path<'static>,
        ask: mpsc::Sender<Question>,
    ) -> Result<Self, BusError> {
        let mut objects = Crossroads::new();
        let asked = Arc::new(AtomicBool::new(false));
        let desk = AgentDesk {
            only: device.clone(),
            ask,
            asked: asked.clone(),
        };
        let interface = objects.register(AGENT, move |agent| {
            agent.method("Release", (), (), |_, (), ()| Ok(()));
            agent.method("Cancel", (), (), |_, (), ()| Ok(()));
            desk.refuse_pin_codes(agent);
            desk.take_passkeys(agent);
            desk.show_passkeys(agent);
            desk.authorize(agent);
        });
        objects.insert(AGENT_PATH, &[interface], ());
        let agent = Self {
            bus: bus.clone(),
            asked,
            _exported: bus.export(AGENT_PATH, objects),
        };
        // KeyboardDisplay: a passkey can be typed here or shown here, and Just Works stays possible for a monitor that
        // has neither.
        agent
            .manager("RegisterAgent", (Path::from(AGENT_PATH), "KeyboardDisplay"))
            .await?;
        Ok(agent)
    }

    /// Whether a passkey was asked for, or shown.
    fn asked(&self) -> bool {
        self.asked.load(Ordering::Relaxed)
    }

    async fn manager<A: dbus::arg::AppendAll>(&self, method: &str, args: A) -> Result<(), BusError> {
        self.bus
            .proxy("/org/bluez", MANAGER_LIMIT)
            .method_call::<(), _, _, _>(AGENT_MANAGER, method, args)
            .await
            .map_err(|e| BusError::new(format!("{BLUEZ} {method}"), &e))
    }

    async fn withdraw(self) {
        if let Err(error) = self.manager("UnregisterAgent", (Path::from(AGENT_PATH),)).await {
            tracing::debug!("the pairing agent was already gone: {error}");
        }
    }
}
