//! What a monitor is asked besides its readings, whichever way it is linked: its clock first, then what
//! changes, then who it is. What cannot be read is left for another time.

use super::line::MonitorLine;
use crate::gatt::{AdjustReason, Characteristic, CurrentTime, DateTime, DeviceTime};
use crate::reading::clock::FIRST_PLAUSIBLE_S;
use jiff::Timestamp;
use jiff::tz::Offset;
use std::sync::atomic::Ordering;

/// Clocks within a minute are left alone: nothing is gained, and each setting is one more thing to reckon
/// with.
const CLOCK_OFF_S_MAX: i64 = 60;

/// The monitor's clock, best first. One is enough.
const CLOCKS: [Characteristic; 3] = [
    Characteristic::CURRENT_TIME,
    Characteristic::DEVICE_TIME,
    Characteristic::DATE_TIME,
];

/// What sets a Device Time, and what says how; neither is a value to keep.
const DEVICE_TIME_CONTROL_POINT: Characteristic = Characteristic::assigned(0x2b91);
const DEVICE_TIME_FEATURE: Characteristic = Characteristic::assigned(0x2b8e);
/// In the feature: each value of the service has a checksum before it.
const DEVICE_TIME_CHECKED: u8 = 1;

/// Read on every connection that lasts.
const EACH_TIME: [Characteristic; 4] = [
    Characteristic::BLOOD_PRESSURE_FEATURE,
    Characteristic::BATTERY_LEVEL,
    Characteristic::USER_INDEX,
    Characteristic::DATABASE_CHANGE_INCREMENT,
];

/// Read once in the life of the process: it does not change.
const ONCE: [Characteristic; 9] = [
    Characteristic::APPEARANCE,
    Characteristic::MANUFACTURER_NAME,
    Characteristic::MODEL_NUMBER,
    Characteristic::SERIAL_NUMBER,
    Characteristic::SYSTEM_ID,
    Characteristic::FIRMWARE_REVISION,
    Characteristic::HARDWARE_REVISION,
    Characteristic::SOFTWARE_REVISION,
    Characteristic::PNP_ID,
];

/// A monitor on a link, that can be asked.
pub(super) trait Askable {
    /// Reads a characteristic; `Ok(None)` where the monitor does not have it, `Err` where it could not be
    /// read now.
    fn read(&self, wanted: Characteristic) -> impl Future<Output = Result<Option<Vec<u8>>, String>> + Send;

    /// Whether the monitor has such a characteristic.
    fn has(&self, wanted: Characteristic) -> bool;

    /// Subscribes to each of those.
    fn listen_to(&self, wanted: &[Characteristic]) -> impl Future<Output = Result<(), String>> + Send;

    /// Writes a characteristic; `None` where it cannot be written at all.
    fn write(
        &self,
        wanted: Characteristic,
        value: Vec<u8>,
    ) -> impl Future<Output = Option<Result<(), String>>> + Send;
}

/// Whether each could be subscribed to.
pub(super) fn all(subscribed: usize, wanted: &[Characteristic]) -> Result<(), String> {
    if subscribed < wanted.len() {
        return Err("it does not let itself be subscribed to".to_owned());
    }
    Ok(())
}

/// Asks what may change: the clock, which says what the stamps that arrive meanwhile are worth, and the
/// battery.
pub(super) async fn how_are_you(monitor: &impl Askable, line: &MonitorLine) {
    read_clock(monitor, line).await;
    for characteristic in EACH_TIME {
        let _ = read(monitor, line, characteristic).await;
    }
}

/// Asks what does not change, until it was answered once.
pub(super) async fn who_are_you(monitor: &impl Askable, line: &MonitorLine) {
    if line.identified.load(Ordering::Relaxed) {
        return;
    }
    let mut all = true;
    for characteristic in ONCE {
        all &= read(monitor, line, characteristic).await.is_ok();
    }
    line.identified.store(all, Ordering::Relaxed);
}

/// Reads one characteristic and keeps what came.
async fn read(
    monitor: &impl Askable,
    line: &MonitorLine,
    wanted: Characteristic,
) -> Result<Option<Vec<u8>>, ()> {
    match monitor.read(wanted).await {
        Ok(Some(value)) => {
            line.heard(wanted, value.clone()).await;
            Ok(Some(value))
        }
        Ok(None) => Ok(None),
        Err(error) => {
            tracing::debug!(monitor = %line.monitor(), characteristic = %wanted, "could not be read: {error}");
            Err(())
        }
    }
}

async fn read_clock(monitor: &impl Askable, line: &MonitorLine) {
    let Some(clock) = CLOCKS.into_iter().find(|clock| monitor.has(*clock)) else {
        if line.set_clock.swap(false, Ordering::Relaxed) {
            tracing::warn!(monitor = %line.monitor(), "it offers no clock to be set; set it on the monitor itself");
        }
        return;
    };
    let shown = read(monitor, line, clock).await.ok().flatten();
    let Some((to, why)) = reason_to_set(line, clock, shown.as_deref()) else {
        return;
    };
    tracing::debug!(monitor = %line.monitor(), "its clock is to be set: {why}");
    match set_clock(monitor, line, clock, (to, shown.as_deref())).await {
        Set::Failed => {}
        Set::Never => line.set_clock.store(false, Ordering::Relaxed),
        Set::Done => {
            line.set_clock.store(false, Ordering::Relaxed);
            line.gave_time();
            if to == To::Ours {
                read_back(monitor, line, clock).await;
            }
        }
    }
}

/// Some monitors accept the write and ignore it: what counts is what they show afterwards.
async fn read_back(monitor: &impl Askable, line: &MonitorLine, clock: Characteristic) {
    tokio::time::sleep(line.clock_settles).await;
    if let Ok(Some(shown)) = read(monitor, line, clock).await
        && is_off(line, clock, &shown) != Some(false)
    {
        tracing::warn!(monitor = %line.monitor(), "it was given the time and does not show it; set its clock on the monitor itself");
    }
}

/// What a clock is set to.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum To {
    Ours,
    /// What it shows already: it waits for the time, and nobody wants its clock changed.
    ItsOwn,
}

/// Why its clock is to be set now, and to what; `None` where it is not.
fn reason_to_set(
    line: &MonitorLine,
    clock: Characteristic,
    shown: Option<&[u8]>,
) -> Option<(To, &'static str)> {
    if line.set_clock.load(Ordering::Relaxed) {
        return Some((To::Ours, "a person asked for it"));
    }
    let off = shown.and_then(|shown| is_off(line, clock, shown));
    if line.keep_clock_right && off == Some(true) {
        return Some((To::Ours, "it is to be kept right, and is off"));
    }
    // Nobody asked: a clock that is not sure itself is given to no monitor.
    if line.edge().synchronized() == Some(false) {
        return None;
    }
    if shown.is_some_and(|shown| is_unset(clock, shown)) {
        return Some((To::Ours, "it was never set, or says so"));
    }
    let to = if off == Some(true) { To::ItsOwn } else { To::Ours };
    line.waits_for_time().then_some((
        to,
        "it sent nothing at its last visit, as one does that waits for the time",
    ))
}

/// Whether a clock says of itself that it is not set, or shows a time at which no monitor of this kind was made.
fn is_unset(clock: Characteristic, shown: &[u8]) -> bool {
    if let (Characteristic::DEVICE_TIME, Ok(time)) = (clock, DeviceTime::decode(shown)) {
        return time.time_fault() || time.proposes_update();
    }
    let since = |civil: jiff::civil::DateTime| Offset::UTC.to_timestamp(civil).map(Timestamp::as_second);
    match civil(clock, shown) {
        Some(Some(civil)) => since(civil).is_ok_and(|at| at < FIRST_PLAUSIBLE_S),
        Some(None) => true,
        None => false,
    }
}

/// What the clock shows: `None` where its value cannot be read, `Some(None)` where it is no possible time.
fn civil(clock: Characteristic, shown: &[u8]) -> Option<Option<jiff::civil::DateTime>> {
    match clock {
        Characteristic::CURRENT_TIME => CurrentTime::decode(shown).ok().map(CurrentTime::civil),
        Characteristic::DATE_TIME => DateTime::decode(shown).ok().map(DateTime::civil),
        Characteristic::DEVICE_TIME => DeviceTime::decode(shown).ok().map(DeviceTime::local_civil),
        _ => None,
    }
}

/// `None` where it shows no time.
fn is_off(line: &MonitorLine, clock: Characteristic, shown: &[u8]) -> Option<bool> {
    let now = line.edge().now();
    let ours = now.offset.to_datetime(now.at);
    let off = ours.duration_until(civil(clock, shown)??).as_secs().abs();
    Some(off > CLOCK_OFF_S_MAX)
}

/// What came of setting a clock.
enum Set {
    Done,
    /// It may do better next time.
    Failed,
    /// There is no use in trying again.
    Never,
}

async fn set_clock(
    monitor: &impl Askable,
    line: &MonitorLine,
    clock: Characteristic,
    (to, shown): (To, Option<&[u8]>),
) -> Set {
    let now = line.edge().now();
    let ours = now.offset.to_datetime(now.at);
    let (place, value) = match clock {
        // What it asks for by a bit of its status, it does not wait for in silence.
        Characteristic::DEVICE_TIME if to == To::ItsOwn => return Set::Never,
        Characteristic::DEVICE_TIME => (DEVICE_TIME_CONTROL_POINT, proposal(monitor, line, shown).await),
        _ if to == To::ItsOwn => (clock, shown.map(<[u8]>::to_vec)),
        Characteristic::DATE_TIME => (
            clock,
            DateTime::from_civil(ours).map(|time| time.encode().to_vec()),
        ),
        _ => {
            let time = CurrentTime::from_civil(ours, AdjustReason::EXTERNAL_REFERENCE);
            (clock, time.map(|time| time.encode().to_vec()))
        }
    };
    let Some(value) = value else {
        tracing::warn!(monitor = %line.monitor(), "its kind of clock cannot be set from here; set it on the monitor itself");
        return Set::Never;
    };
    match monitor.write(place, value).await {
        Some(Ok(())) => {
            tracing::info!(monitor = %line.monitor(), "clock set");
            Set::Done
        }
        Some(Err(error)) => {
            tracing::warn!(monitor = %line.monitor(), "its clock could not be set: {error}");
            // 0x80 is "data field ignored": it will not do better next time. Anything else may.
            if error.contains("0x80") {
                Set::Never
            } else {
                Set::Failed
            }
        }
        None => {
            tracing::warn!(monitor = %line.monitor(), "its clock cannot be set from here; set it on the monitor itself");
            Set::Never
        }
    }
}

/// What is written to its control point, whose answer is listened to as the service asks. `None` where the
/// monitor's values carry checksums, which nothing here has been tried against.
async fn proposal(monitor: &impl Askable, line: &MonitorLine, shown: Option<&[u8]>) -> Option<Vec<u8>> {
    let feature = monitor.read(DEVICE_TIME_FEATURE).await.ok().flatten();
    if feature.is_some_and(|bits| bits.first().is_some_and(|bits| bits & DEVICE_TIME_CHECKED != 0)) {
        return None;
    }
    monitor.listen_to(&[DEVICE_TIME_CONTROL_POINT]).await.ok()?;
    let epoch = DeviceTime::decode(shown?).ok()?.epoch();
    let (standard, saving) = line.edge().standard_and_saving_minutes();
    DeviceTime::proposal(line.edge().now().at, standard, saving, epoch).map(Vec::from)
}

#[cfg(test)]
mod tests;
