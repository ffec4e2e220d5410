//! What a monitor is asked besides its readings, whichever way it is linked: its clock first, then what
//! changes, then who it is. What cannot be read is left for another time.

use super::line::Line;
use crate::gatt::{AdjustReason, Characteristic, CurrentTime, DateTime};
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

/// Read on every connection that lasts.
const EACH_TIME: [Characteristic; 2] = [
    Characteristic::BLOOD_PRESSURE_FEATURE,
    Characteristic::BATTERY_LEVEL,
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
pub(super) trait Asked {
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

/// Asks what may change: the clock, which says what the stamps that arrive meanwhile are worth, and the
/// battery.
pub(super) async fn how_are_you(monitor: &impl Asked, line: &Line) {
    read_clock(monitor, line).await;
    for characteristic in EACH_TIME {
        let _ = read(monitor, line, characteristic).await;
    }
}

/// Asks what does not change, until it was answered once.
pub(super) async fn who_are_you(monitor: &impl Asked, line: &Line) {
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
async fn read(monitor: &impl Asked, line: &Line, wanted: Characteristic) -> Result<Option<Vec<u8>>, ()> {
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

async fn read_clock(monitor: &impl Asked, line: &Line) {
    for clock in CLOCKS {
        match read(monitor, line, clock).await {
            Ok(None) => continue,
            Err(()) => return,
            Ok(Some(value)) => {
                if line.keep_clock_right && is_off(line, clock, &value) {
                    line.set_clock.store(true, Ordering::Relaxed);
                }
            }
        }
        if line.set_clock.load(Ordering::Relaxed) && set_clock(monitor, line, clock).await {
            line.set_clock.store(false, Ordering::Relaxed);
            // Some monitors accept the write and ignore it: what counts is what they show afterwards.
            let _ = read(monitor, line, clock).await;
        }
        return;
    }
    if line.set_clock.swap(false, Ordering::Relaxed) {
        tracing::warn!(monitor = %line.monitor(), "it offers no clock to be set; set it on the monitor itself");
    }
}

fn is_off(line: &Line, clock: Characteristic, value: &[u8]) -> bool {
    let shown = match clock {
        Characteristic::CURRENT_TIME => CurrentTime::decode(value).ok().and_then(CurrentTime::civil),
        Characteristic::DATE_TIME => DateTime::decode(value).ok().and_then(DateTime::civil),
        _ => None,
    };
    let now = line.edge().now();
    shown.is_some_and(|shown| {
        now.offset
            .to_datetime(now.at)
            .duration_until(shown)
            .as_secs()
            .abs()
            > CLOCK_OFF_S_MAX
    })
}

/// Sets the clock; `true` where there is no use in trying again.
async fn set_clock(monitor: &impl Asked, line: &Line, clock: Characteristic) -> bool {
    let now = line.edge().now();
    let civil = now.offset.to_datetime(now.at);
    let value = match clock {
        Characteristic::CURRENT_TIME => CurrentTime::from_civil(civil, AdjustReason::EXTERNAL_REFERENCE)
            .map(|time| time.encode().to_vec()),
        Characteristic::DATE_TIME => DateTime::from_civil(civil).map(|time| time.encode().to_vec()),
        // Device Time is set through a control point of its own, which nothing here has been tried against.
        _ => None,
    };
    let Some(value) = value else {
        tracing::warn!(monitor = %line.monitor(), "its kind of clock cannot be set from here; set it on the monitor itself");
        return true;
    };
    match monitor.write(clock, value).await {
        Some(Ok(())) => {
            tracing::info!(monitor = %line.monitor(), "clock set");
            true
        }
        Some(Err(error)) => {
            tracing::warn!(monitor = %line.monitor(), "its clock could not be set: {error}");
            // 0x80 is "data field ignored": it will not do better next time. Anything else may.
            error.contains("0x80")
        }
        None => {
            tracing::warn!(monitor = %line.monitor(), "its clock cannot be set from here; set it on the monitor itself");
            true
        }
    }
}
