//! The Current Time service (0x1805) on this server, for monitors that fetch the time instead of being given it.

use super::bearer::server::Time;
use super::bus::{Bus, BusError, Exported};
use super::gateway_time::GatewayTime;
use crate::edge::Edge;
use crate::gatt::Characteristic;
use dbus::Path;
use dbus::arg::PropMap;
use dbus_crossroads::{Crossroads, IfaceBuilder, IfaceToken, MethodErr};
use std::time::Duration;
use tokio::sync::watch;
use tokio::task::JoinHandle;

const ROOT: &str = "/org/quietcuff/time";
const SERVICE: &str = "/org/quietcuff/time/service0";
const CURRENT_TIME: &str = "/org/quietcuff/time/service0/char0";
const LOCAL_TIME: &str = "/org/quietcuff/time/service0/char1";
const REFERENCE_TIME: &str = "/org/quietcuff/time/service0/char2";
const GATT_MANAGER: &str = "org.bluez.GattManager1";
const GATT_SERVICE: &str = "org.bluez.GattService1";
const GATT_CHARACTERISTIC: &str = "org.bluez.GattCharacteristic1";
const REGISTER_LIMIT: Duration = Duration::from_secs(5);
/// The Current Time service.
const CURRENT_TIME_SERVICE: Characteristic = Characteristic::assigned(0x1805);

/// So often the clock is looked at while a monitor wants to be told of its adjustments.
const CLOCK_LOOK: Duration = Duration::from_secs(1);

struct Offer {
    characteristic: Characteristic,
    value: Box<dyn Fn() -> Option<Vec<u8>> + Send>,
    /// For what can be subscribed to: whether somebody has.
    wanted: Option<watch::Sender<bool>>,
}

/// The service on offer, until it is dropped.
pub(super) struct OfferedService {
    _objects: Exported,
    tells: JoinHandle<()>,
}

impl Drop for OfferedService {
    fn drop(&mut self) {
        self.tells.abort();
    }
}

/// Offers the time of `edge` on the adapter, until what comes back is dropped.
pub(super) async fn offer(
    bus: &Bus,
    adapter: &Path<'static>,
    edge: Edge,
) -> Result<OfferedService, BusError> {
    let time = GatewayTime(edge);
    let (want, wanted) = watch::channel(false);
    let objects = bus.export(ROOT, objects(&time, want));
    bus.proxy(adapter.clone(), REGISTER_LIMIT)
        .method_call::<(), _, _, _>(
            GATT_MANAGER,
            "RegisterApplication",
            (Path::from(ROOT), PropMap::new()),
        )
        .await
        .map_err(|e| BusError::new(format!("cannot offer the time on {adapter}"), &e))?;
    Ok(OfferedService {
        _objects: objects,
        tells: tokio::spawn(tell(bus.clone(), time, wanted)),
    })
}

/// Tells whoever has subscribed of each adjustment of the clock.
async fn tell(bus: Bus, time: GatewayTime, mut wanted: watch::Receiver<bool>) {
    while wanted.wait_for(|wanted| *wanted).await.is_ok() {
        let mut told = time.adjustments();
        while *wanted.borrow() {
            tokio::time::sleep(CLOCK_LOOK).await;
            let times = time.adjustments();
            if times != told
                && let Some(value) = time.current_time()
            {
                bus.tell_changed(CURRENT_TIME, GATT_CHARACTERISTIC, "Value", value);
            }
            told = times;
        }
    }
}

fn objects(time: &GatewayTime, want: watch::Sender<bool>) -> Crossroads {
    let mut objects = Crossroads::new();
    let manager = objects.object_manager();
    objects.insert(ROOT, &[manager], ());
    let service: IfaceToken<()> = objects.register(GATT_SERVICE, |service| {
        service
            .property("UUID")
            .get(|_, ()| Ok(CURRENT_TIME_SERVICE.uuid().to_string()));
        service.property("Primary").get(|_, ()| Ok(true));
    });
    objects.insert(SERVICE, &[service], ());
    let characteristic = objects.register(GATT_CHARACTERISTIC, characteristic);
    let (now, local, reference) = (time.clone(), time.clone(), time.clone());
    for (path, offer) in [
        (
            CURRENT_TIME,
            Offer {
                characteristic: Characteristic::CURRENT_TIME,
                value: Box::new(move || now.current_time()),
                wanted: Some(want),
            },
        ),
        (
            LOCAL_TIME,
            Offer {
                characteristic: Characteristic::LOCAL_TIME_INFORMATION,
                value: Box::new(move || local.local_time()),
                wanted: None,
            },
        ),
        (
            REFERENCE_TIME,
            Offer {
                characteristic: Characteristic::REFERENCE_TIME_INFORMATION,
                value: Box::new(move || Some(reference.reference_time())),
                wanted: None,
            },
        ),
    ] {
        objects.insert(path, &[characteristic], offer);
    }
    objects
}

fn characteristic(characteristic: &mut IfaceBuilder<Offer>) {
    characteristic
        .property("UUID")
        .get(|_, offer| Ok(offer.characteristic.uuid().to_string()));
    characteristic
        .property("Service")
        .get(|_, _| Ok(Path::from(SERVICE)));
    characteristic.property("Flags").get(|_, offer| {
        let flags: &[&str] = if offer.wanted.is_some() {
            &["read", "notify"]
        } else {
            &["read"]
        };
        Ok(flags.iter().map(|flag| (*flag).to_owned()).collect::<Vec<_>>())
    });
    characteristic.method(
        "ReadValue",
        ("options",),
        ("value",),
        |_, offer, (_,): (PropMap,)| {
            tracing::debug!(characteristic = %offer.characteristic, "a monitor fetches the time");
            (offer.value)()
                .map(|value| (value,))
                .ok_or_else(|| MethodErr::from(("org.bluez.Error.Failed", "no time to give")))
        },
    );
    for (method, wants) in [("StartNotify", true), ("StopNotify", false)] {
        characteristic.method(method, (), (), move |_, offer, ()| {
            let wanted = offer.wanted.as_ref();
            let wanted = wanted
                .ok_or_else(|| MethodErr::from(("org.bluez.Error.NotSupported", "it does not change")))?;
            wanted.send_replace(wants);
            Ok(())
        });
    }
}
