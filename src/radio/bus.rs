//! BlueZ over D-Bus, for what btleplug does not reach: which adapters and bonds there are, a scan of Bluetooth LE
//! only, pairing, and whether bluetoothd lives.
//!
//! It shares libdbus with btleplug. Every call has a time limit: a bluetoothd that hangs must not hang us.

use super::ear::INDICATED;
use crate::gatt::Characteristic;
use crate::household::MonitorAddress;
use crate::journal::{Attribute, Attributes};
use dbus::arg::{PropMap, RefArg, Variant, prop_cast};
use dbus::channel::Sender;
use dbus::channel::{MatchingReceiver, Token};
use dbus::message::{MatchRule, MessageType};
use dbus::nonblock::{MsgMatch, Proxy, SyncConnection};
use dbus::{Message, Path};
use dbus_crossroads::Crossroads;
use std::collections::HashMap;
use std::sync::{Arc, Mutex};
use std::time::Duration;
use tokio::sync::{mpsc, watch};
use uuid::Uuid;

pub(crate) const BLUEZ: &str = "org.bluez";
const ADAPTER: &str = "org.bluez.Adapter1";
const DEVICE: &str = "org.bluez.Device1";
const BATTERY: &str = "org.bluez.Battery1";
const GATT_SERVICE: &str = "org.bluez.GattService1";
const GATT_CHARACTERISTIC: &str = "org.bluez.GattCharacteristic1";
const PROPERTIES: &str = "org.freedesktop.DBus.Properties";
const OBJECT_MANAGER: &str = "org.freedesktop.DBus.ObjectManager";

/// An ordinary call is answered in milliseconds; a bluetoothd that takes longer than this is stuck.
const CALL_LIMIT: Duration = Duration::from_secs(5);

/// Changes on the bus that wait to be looked at. They are rare; a flood of them only needs to be noticed once.
const CHANGES_MAX: usize = 64;

/// A D-Bus error, with what was asked.
#[derive(Debug, Clone, thiserror::Error)]
#[error("{what}: {}", self.in_words())]
pub struct BusError {
    /// What was asked.
    pub what: String,
    /// The D-Bus error name.
    pub name: String,
    /// The words that came with it.
    pub message: String,
}

impl BusError {
    pub(super) fn new(what: impl Into<String>, error: &dbus::Error) -> Self {
        let error = Self {
            what: what.into(),
            name: error.name().unwrap_or("unknown").to_owned(),
            message: error.message().unwrap_or_default().to_owned(),
        };
        tracing::debug!("{}: {} ({})", error.what, error.message, error.name);
        error
    }

    /// Why, without the library's names for it; they are in the log that `-v` writes.
    fn in_words(&self) -> String {
        if self.is_no_bluez() {
            return "bluetoothd does not run".to_owned();
        }
        let socket = || self.message.split_once("socket ")?.1.split(':').next();
        match self.name.strip_prefix("org.freedesktop.DBus.Error.") {
            Some("FileNotFound" | "NoServer") => match socket() {
                Some(path) => format!("nothing answers at {path}, where it should be"),
                None => "nothing answers where it should be".to_owned(),
            },
            Some("NoReply" | "Timeout" | "TimedOut") => "no answer came in time".to_owned(),
            Some("AccessDenied") => "it was refused".to_owned(),
            Some("Disconnected") => "the bus hung up".to_owned(),
            _ => self.message.trim_end_matches('.').to_owned(),
        }
    }

    /// bluetoothd is not running.
    pub fn is_no_bluez(&self) -> bool {
        matches!(
            self.name.as_str(),
            "org.freedesktop.DBus.Error.ServiceUnknown" | "org.freedesktop.DBus.Error.NameHasNoOwner"
        )
    }

    /// BlueZ does it already, or is not done with the last one.
    pub fn is_in_progress(&self) -> bool {
        self.name == "org.bluez.Error.InProgress"
    }

    /// The bus or BlueZ's policy refuses us.
    pub fn is_denied(&self) -> bool {
        self.name == "org.freedesktop.DBus.Error.AccessDenied"
    }

    /// The exit code of sysexits that says the same.
    pub fn exit_code(&self) -> u8 {
        if self.is_denied() { 77 } else { 69 }
    }

    /// What a person can do about it.
    pub fn todo(&self) -> &'static str {
        if self.is_denied() {
            "add this user to the group `bluetooth`, or run as the service's user"
        } else if self.is_no_bluez() {
            "start bluetoothd with `systemctl start bluetooth`"
        } else {
            "`quietcuff check` looks at what is needed"
        }
    }
}

/// What changed on the bus.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum BusChange {
    /// bluetoothd came to the bus; what it had told before is forgotten here.
    BluezCame,
    /// bluetoothd left the bus: it ended or was killed.
    BluezWent,
    /// An adapter came or went.
    Adapters,
}

/// An adapter as BlueZ shows it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Adapter {
    /// Object path; its number changes when adapters come and go.
    pub path: Path<'static>,
    /// Address of the adapter itself, which stays when the path changes.
    pub address: MonitorAddress,
    /// That address is a random static one, not a public one.
    pub random: bool,
    /// Switched on, so that it can scan and connect.
    pub powered: bool,
    /// Whether any program scans on it.
    pub discovering: bool,
}

/// A device as BlueZ shows it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BluezDevice {
    /// Object path; it keeps the first address that was seen, even when that was a private one.
    pub path: Path<'static>,
    /// The identity address, once BlueZ knows it.
    pub address: MonitorAddress,
    /// `public` or `random`.
    pub address_type: String,
    /// What it calls itself.
    pub name: Option<String>,
    /// Its GAP appearance, where it advertises one.
    pub appearance: Option<u16>,
    /// Whether BlueZ keeps keys of a pairing with it.
    pub paired: bool,
    /// Linked at the moment.
    pub connected: bool,
    /// Its services have been discovered on this connection.
    pub resolved: bool,
    /// It names the Blood Pressure service.
    pub blood_pressure: bool,
    /// It names the Generic Health Sensor service.
    pub health_sensor: bool,
    /// It names the User Data service: it keeps its users apart.
    pub user_data: bool,
    /// Signal strength in dBm; only while it is being heard.
    pub rssi: Option<i16>,
    /// BlueZ holds its GATT objects, so that one can subscribe before it connects.
    pub gatt_known: bool,
    /// The handles of what it indicates readings by, as far as BlueZ holds its GATT objects.
    pub attributes: Attributes,
}

/// Everything that BlueZ shows.
#[derive(Clone, Debug, Default)]
pub struct Objects {
    /// In order of path.
    pub adapters: Vec<Adapter>,
    /// In order of path.
    pub devices: Vec<BluezDevice>,
}

impl Objects {
    /// The adapter to use: the one that was named, else the first that is on, else the first.
    pub fn choose(&self, wanted: Option<&MonitorAddress>) -> Option<&Adapter> {
        match wanted {
            Some(wanted) => self.adapters.iter().find(|adapter| adapter.address == *wanted),
            None => self
                .adapters
                .iter()
                .find(|adapter| adapter.powered)
                .or_else(|| self.adapters.first()),
        }
    }

    /// The device with this identity address on this adapter.
    pub fn device(&self, adapter: &Path<'_>, address: &MonitorAddress) -> Option<&BluezDevice> {
        let below = format!("{adapter}/");
        self.devices
            .iter()
            .find(|device| device.path.starts_with(&below) && device.address == *address)
    }
}

/// A connection to the system bus.
#[derive(Clone)]
pub struct Bus {
    connection: Arc<SyncConnection>,
    lost: watch::Receiver<bool>,
}

impl Bus {
    /// Connects; needs a tokio runtime.
    pub fn connect() -> Result<Self, BusError> {
        let (resource, connection) = dbus_tokio::connection::new_system_sync()
            .map_err(|e| BusError::new("cannot reach the D-Bus system bus", &e))?;
        let (tell_lost, lost) = watch::channel(false);
        tokio::spawn(async move {
            let error = resource.await;
            tracing::error!("the connection to the D-Bus system bus ended: {error}");
            let _ = tell_lost.send(true);
        });
        Ok(Self { connection, lost })
    }

    /// Returns when the bus is gone.
    pub async fn lost(&self) {
        let mut lost = self.lost.clone();
        // An error means that the watching task itself is gone, and with it the connection.
        let _ = lost.wait_for(|lost| *lost).await;
    }

    /// Puts objects of ours on the bus, below a path, until what comes back is dropped.
    pub(super) fn export(&self, below: &'static str, mut objects: Crossroads) -> Exported {
        objects.set_async_support(Some((
            self.connection.clone(),
            Box::new(|answer| {
                tokio::spawn(answer);
            }),
        )));
        let objects = Mutex::new(objects);
        let rule = MatchRule::new()
            .with_type(MessageType::MethodCall)
            .with_namespaced_path(below);
        let receiver = self.connection.start_receive(
            rule,
            Box::new(move |message, connection| {
                if let Ok(mut objects) = objects.lock() {
                    // A message that cannot be answered is not for us.
                    let _ = objects.handle_message(message, connection);
                }
                true
            }),
        );
        Exported {
            bus: self.clone(),
            receiver: Some(receiver),
        }
    }

    /// Tells whoever listens that a property of an object of ours has another value.
    pub(super) fn tell_changed(&self, path: &'static str, interface: &str, property: &str, value: Vec<u8>) {
        let changed: PropMap =
            HashMap::from([(property.to_owned(), Variant(Box::new(value) as Box<dyn RefArg>))]);
        let signal = Message::signal(&Path::from(path), &PROPERTIES.into(), &"PropertiesChanged".into())
            .append3(interface, changed, Vec::<String>::new());
        // The connection takes it, or has ended, which others notice.
        let _ = self.connection.send(signal);
    }

    pub(super) fn proxy<'a>(
        &self,
        path: impl Into<Path<'a>>,
        limit: Duration,
    ) -> Proxy<'a, Arc<SyncConnection>> {
        Proxy::new(BLUEZ, path, limit, self.connection.clone())
    }

    async fn call<A: dbus::arg::AppendAll>(
        &self,
        what: &str,
        path: &Path<'_>,
        interface: &str,
        method: &str,
        args: A,
    ) -> Result<(), BusError> {
        self.proxy(path.clone(), CALL_LIMIT)
            .method_call::<(), _, _, _>(interface, method, args)
            .await
            .map_err(|e| BusError::new(format!("{what} {path}"), &e))
    }

    /// Asks BlueZ for everything it shows.
    pub async fn objects(&self) -> Result<Objects, BusError> {
        type Managed = HashMap<Path<'static>, HashMap<String, PropMap>>;
        let (managed,): (Managed,) = self
            .proxy("/", CALL_LIMIT)
            .method_call(OBJECT_MANAGER, "GetManagedObjects", ())
            .await
            .map_err(|e| BusError::new("cannot ask BlueZ what it knows", &e))?;
        let mut objects = Objects::default();
        for (path, interfaces) in &managed {
            if let Some(properties) = interfaces.get(ADAPTER) {
                objects.adapters.extend(adapter(path, properties));
            }
            if let Some(properties) = interfaces.get(DEVICE) {
                objects.devices.extend(device(path, properties));
            }
        }
        for device in &mut objects.devices {
            let below = format!("{}/", device.path);
            device.gatt_known = managed
                .iter()
                .any(|(path, i)| path.starts_with(&below) && i.contains_key(GATT_SERVICE));
            device.attributes = managed
                .iter()
                .filter(|(path, _)| path.starts_with(&below))
                .filter_map(|(path, i)| attribute(path, i.get(GATT_CHARACTERISTIC)?, device.paired))
                .collect();
        }
        objects.adapters.sort_by(|a, b| a.path.cmp(&b.path));
        objects.devices.sort_by(|a, b| a.path.cmp(&b.path));
        Ok(objects)
    }

    /// The handles of what a device indicates readings by, as far as BlueZ holds its GATT objects.
    pub async fn attributes(&self, device: &Path<'_>) -> Result<Attributes, BusError> {
        let devices = self.objects().await?.devices;
        let found = devices.into_iter().find(|found| found.path == *device);
        Ok(found.map(|found| found.attributes).unwrap_or_default())
    }

    /// One device, freshly asked; without [`BluezDevice::gatt_known`], which takes the whole tree.
    pub async fn device(&self, path: &Path<'static>) -> Result<Option<BluezDevice>, BusError> {
        let (properties,): (PropMap,) = self
            .proxy(path.clone(), CALL_LIMIT)
            .method_call(PROPERTIES, "GetAll", (DEVICE,))
            .await
            .map_err(|e| BusError::new(format!("cannot ask about {path}"), &e))?;
        Ok(device(path, &properties))
    }

    /// Scans for Bluetooth LE only, with every advertisement reported, from everybody or from those who name a service.
    pub async fn start_scan(&self, adapter: &Path<'_>, service: Option<Uuid>) -> Result<(), BusError> {
        let mut filter: PropMap = HashMap::new();
        let mut set = |key: &str, value: Box<dyn RefArg>| filter.insert(key.to_owned(), Variant(value));
        set("Transport", Box::new("le".to_owned()));
        set("DuplicateData", Box::new(true));
        match service {
            Some(service) => set("UUIDs", Box::new(vec![service.to_string()])),
            // The weakest signal there is: it lets everybody through, and it makes the scan a filtered one, which BlueZ
            // restarts at once. One without such a filter pauses 5 s after every 10 s.
            None => set("RSSI", Box::new(-127_i16)),
        };
        self.call(
            "cannot set the scan's filter on",
            adapter,
            ADAPTER,
            "SetDiscoveryFilter",
            (filter,),
        )
        .await?;
        self.call("cannot scan on", adapter, ADAPTER, "StartDiscovery", ())
            .await
    }

    /// Ends our scan.
    pub async fn stop_scan(&self, adapter: &Path<'_>) -> Result<(), BusError> {
        self.call("cannot end the scan on", adapter, ADAPTER, "StopDiscovery", ())
            .await
    }

    /// Switches the adapter.
    pub async fn set_powered(&self, adapter: &Path<'_>, on: bool) -> Result<(), BusError> {
        let args = (ADAPTER, "Powered", Variant(on));
        self.call("cannot switch", adapter, PROPERTIES, "Set", args).await
    }

    /// Lets the device connect without asking anybody.
    pub async fn trust(&self, device: &Path<'_>) -> Result<(), BusError> {
        let args = (DEVICE, "Trusted", Variant(true));
        self.call("cannot trust", device, PROPERTIES, "Set", args).await
    }

    /// Pairs; the agent registered on this connection answers for us.
    pub(super) async fn pair(&self, device: &Path<'_>, limit: Duration) -> Result<(), BusError> {
        self.proxy(device.clone(), limit)
            .method_call::<(), _, _, _>(DEVICE, "Pair", ())
            .await
            .map_err(|e| BusError::new(format!("cannot pair with {device}"), &e))
    }

    /// Gives up on a pairing.
    pub(super) async fn cancel_pairing(&self, device: &Path<'_>) -> Result<(), BusError> {
        self.call(
            "cannot cancel the pairing with",
            device,
            DEVICE,
            "CancelPairing",
            (),
        )
        .await
    }

    /// Ends the link; also BlueZ's way to give up on a connection that is being made.
    pub async fn disconnect(&self, device: &Path<'_>) -> Result<(), BusError> {
        self.call("cannot disconnect", device, DEVICE, "Disconnect", ())
            .await
    }

    /// Forgets the device and its keys.
    pub async fn remove(&self, adapter: &Path<'_>, device: &Path<'static>) -> Result<(), BusError> {
        self.call(
            "cannot forget a device on",
            adapter,
            ADAPTER,
            "RemoveDevice",
            (device.clone(),),
        )
        .await
    }

    /// Forgets what is known under these addresses, on every adapter.
    pub async fn forget(&self, addresses: &[MonitorAddress]) -> Result<(), BusError> {
        let objects = self.objects().await?;
        for adapter in &objects.adapters {
            let here = addresses
                .iter()
                .filter_map(|address| objects.device(&adapter.path, address));
            for device in here {
                self.remove(&adapter.path, &device.path).await?;
            }
        }
        Ok(())
    }

    /// Whether anybody owns BlueZ's name.
    pub async fn bluez_runs(&self) -> Result<bool, BusError> {
        let daemon = Proxy::new("org.freedesktop.DBus", "/", CALL_LIMIT, self.connection.clone());
        let (owned,): (bool,) = daemon
            .method_call("org.freedesktop.DBus", "NameHasOwner", (BLUEZ,))
            .await
            .map_err(|e| BusError::new("cannot ask the bus for BlueZ", &e))?;
        Ok(owned)
    }

    /// Whether this machine's clock is synchronised with the world's, as systemd sees it; `None` where nobody says.
    pub async fn clock_synchronized(&self) -> Option<bool> {
        let proxy = Proxy::new(
            "org.freedesktop.timedate1",
            "/org/freedesktop/timedate1",
            CALL_LIMIT,
            self.connection.clone(),
        );
        let (value,): (Variant<bool>,) = proxy
            .method_call(
                PROPERTIES,
                "Get",
                ("org.freedesktop.timedate1", "NTPSynchronized"),
            )
            .await
            .ok()?;
        Some(value.0)
    }

    /// The battery level that BlueZ read, in per cent; it keeps the Battery service to itself.
    pub async fn battery(&self, device: &Path<'_>) -> Option<u8> {
        let (value,): (Variant<u8>,) = self
            .proxy(device.clone(), CALL_LIMIT)
            .method_call(PROPERTIES, "Get", (BATTERY, "Percentage"))
            .await
            .ok()?;
        Some(value.0)
    }

    /// Whether the adapter is scanning, for whomever; an error where BlueZ does not answer.
    pub async fn discovering(&self, adapter: &Path<'_>) -> Result<bool, BusError> {
        let (value,): (Variant<bool>,) = self
            .proxy(adapter.clone(), CALL_LIMIT)
            .method_call(PROPERTIES, "Get", (ADAPTER, "Discovering"))
            .await
            .map_err(|e| BusError::new(format!("cannot ask about {adapter}"), &e))?;
        Ok(value.0)
    }

    /// Tells of bluetoothd's and the adapters' coming and going.
    pub async fn changes(&self) -> Result<Changes, BusError> {
        let (tell, receiver) = mpsc::channel(CHANGES_MAX);
        let watch = async |rule: MatchRule<'static>| {
            self.connection
                .add_match(rule)
                .await
                .map_err(|e| BusError::new("cannot watch the bus", &e))
        };
        let mut matches = Vec::new();
        let owner = watch(MatchRule::new_signal("org.freedesktop.DBus", "NameOwnerChanged")).await?;
        let tell_owner = tell.clone();
        matches.push(owner.cb(move |_, (name, _old, new): (String, String, String)| {
            if name == BLUEZ {
                // A full queue means that a look at everything is due anyway.
                let _ = tell_owner.try_send(if new.is_empty() {
                    BusChange::BluezWent
                } else {
                    BusChange::BluezCame
                });
            }
            true
        }));
        for signal in ["InterfacesAdded", "InterfacesRemoved"] {
            let tell = tell.clone();
            let objects = watch(MatchRule::new_signal(OBJECT_MANAGER, signal)).await?;
            matches.push(objects.msg_cb(move |message| {
                // Both signals begin with the object's path; an adapter's is /org/bluez/hciN.
                let path = message.get1::<Path<'_>>();
                if path.is_some_and(|path| {
                    path.strip_prefix("/org/bluez/hci")
                        .is_some_and(|n| !n.contains('/'))
                }) {
                    let _ = tell.try_send(BusChange::Adapters);
                }
                true
            }));
        }
        Ok(Changes {
            receiver,
            _matches: matches,
        })
    }
}

/// What changes on the bus, as it does.
pub struct Changes {
    receiver: mpsc::Receiver<BusChange>,
    /// A match that is dropped tells nothing any more.
    _matches: Vec<MsgMatch>,
}

impl Changes {
    /// The next change.
    pub async fn next(&mut self) -> Option<BusChange> {
        self.receiver.recv().await
    }

    /// One that has happened already, if any.
    pub fn at_hand(&mut self) -> Option<BusChange> {
        self.receiver.try_recv().ok()
    }
}

/// Objects of ours on the bus.
pub(super) struct Exported {
    bus: Bus,
    receiver: Option<Token>,
}

impl Drop for Exported {
    fn drop(&mut self) {
        if let Some(receiver) = self.receiver.take() {
            let _ = self.bus.connection.stop_receive(receiver);
        }
    }
}

fn adapter(path: &Path<'static>, properties: &PropMap) -> Option<Adapter> {
    Some(Adapter {
        path: path.clone(),
        address: prop_cast::<String>(properties, "Address")?.parse().ok()?,
        random: prop_cast::<String>(properties, "AddressType").is_some_and(|kind| kind == "random"),
        powered: prop_cast(properties, "Powered").copied().unwrap_or(false),
        discovering: prop_cast(properties, "Discovering").copied().unwrap_or(false),
    })
}

/// The value handle and kind of a characteristic that readings are indicated by. Its path ends in the handle of its
/// declaration, in hexadecimal digits; the value stands immediately behind that (Core Vol 3 Part G 3.3).
fn attribute(path: &Path<'_>, properties: &PropMap, bonded: bool) -> Option<(u16, Attribute)> {
    let characteristic: Characteristic = prop_cast::<String>(properties, "UUID")?.parse().ok()?;
    let (_, declaration) = path.rsplit_once("/char")?;
    let declaration = u16::from_str_radix(declaration, 16).ok()?;
    INDICATED.contains(&characteristic).then_some((
        declaration.checked_add(1)?,
        Attribute {
            characteristic,
            bonded,
        },
    ))
}

fn device(path: &Path<'static>, properties: &PropMap) -> Option<BluezDevice> {
    let flag = |name| prop_cast::<bool>(properties, name).copied().unwrap_or(false);
    let names = |service: Uuid| {
        prop_cast::<Vec<String>>(properties, "UUIDs").is_some_and(|all| all.contains(&service.to_string()))
    };
    Some(BluezDevice {
        path: path.clone(),
        address: prop_cast::<String>(properties, "Address")?.parse().ok()?,
        address_type: prop_cast::<String>(properties, "AddressType")
            .cloned()
            .unwrap_or_default(),
        name: prop_cast::<String>(properties, "Name").cloned(),
        appearance: prop_cast(properties, "Appearance").copied(),
        paired: flag("Paired"),
        connected: flag("Connected"),
        resolved: flag("ServicesResolved"),
        blood_pressure: names(super::BLOOD_PRESSURE_SERVICE),
        health_sensor: names(super::HEALTH_SENSOR_SERVICE),
        user_data: names(super::USER_DATA_SERVICE),
        rssi: prop_cast(properties, "RSSI").copied(),
        gatt_known: false,
        attributes: Attributes::new(),
    })
}
