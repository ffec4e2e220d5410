//! The Current Time service (0x1805) on this server, for monitors that fetch the time instead of being given it.

use super::bus::{Bus, BusError, Exported};
use crate::edge::Edge;
use crate::gatt::{AdjustReason, Characteristic, CurrentTime, LocalTimeInformation};
use dbus::Path;
use dbus::arg::PropMap;
use dbus_crossroads::{Crossroads, IfaceToken, MethodErr};
use std::time::Duration;

const ROOT: &str = "/org/quietcuff/time";
const SERVICE: &str = "/org/quietcuff/time/service0";
const GATT_MANAGER: &str = "org.bluez.GattManager1";
const GATT_SERVICE: &str = "org.bluez.GattService1";
const GATT_CHARACTERISTIC: &str = "org.bluez.GattCharacteristic1";
const REGISTER_LIMIT: Duration = Duration::from_secs(5);
/// The Current Time service.
const CURRENT_TIME_SERVICE: Characteristic = Characteristic::assigned(0x1805);

struct Offer {
    characteristic: Characteristic,
    value: Box<dyn Fn() -> Option<Vec<u8>> + Send>,
}

/// Offers the time of `edge` on the adapter, until what comes back is dropped.
pub(super) async fn offer(bus: &Bus, adapter: &Path<'static>, edge: Edge) -> Result<Exported, BusError> {
    let offered = bus.export(ROOT, objects(edge));
    bus.proxy(adapter.clone(), REGISTER_LIMIT)
        .method_call::<(), _, _, _>(
            GATT_MANAGER,
            "RegisterApplication",
            (Path::from(ROOT), PropMap::new()),
        )
        .await
        .map_err(|e| BusError::new(format!("cannot offer the time on {adapter}"), &e))?;
    Ok(offered)
}

fn objects(edge: Edge) -> Crossroads {
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
    let characteristic: IfaceToken<Offer> = objects.register(GATT_CHARACTERISTIC, |characteristic| {
        characteristic
            .property("UUID")
            .get(|_, offer: &mut Offer| Ok(offer.characteristic.uuid().to_string()));
        characteristic
            .property("Service")
            .get(|_, _| Ok(Path::from(SERVICE)));
        characteristic
            .property("Flags")
            .get(|_, _| Ok(vec!["read".to_owned()]));
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
    });
    let clock = edge.clone();
    let now = Offer {
        characteristic: Characteristic::CURRENT_TIME,
        value: Box::new(move || {
            let now = clock.now();
            let civil = now.offset.to_datetime(now.at);
            CurrentTime::from_civil(civil, AdjustReason::EXTERNAL_REFERENCE)
                .map(|time| time.encode().to_vec())
        }),
    };
    objects.insert(format!("{SERVICE}/char0"), &[characteristic], now);
    let local = Offer {
        characteristic: Characteristic::LOCAL_TIME_INFORMATION,
        value: Box::new(move || {
            let (standard, saving) = edge.standard_and_saving_minutes();
            Some(
                LocalTimeInformation::from_minutes(standard, saving)
                    .encode()
                    .to_vec(),
            )
        }),
    };
    objects.insert(format!("{SERVICE}/char1"), &[characteristic], local);
    objects
}
