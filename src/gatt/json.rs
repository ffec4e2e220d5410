//! A decoded value as one JSON object, in the shapes that the command line's contract fixes.
//!
//! A field that the value does not carry is absent. A field that the value carries, but that is no number, is
//! null, and `special` names its code. Numbers keep the digits that were sent. Reserved bits and trailing
//! octets are in `reserved`.

use super::characteristic::Characteristic;
use super::cuff_pressure::CuffPressure;
use super::current_time::CurrentTime;
use super::date_time::DateTime;
use super::device_time::DeviceTime;
use super::local_time::LocalTimeInformation;
use super::measurement::{BloodPressureMeasurement, Optional, UNKNOWN_USER};
use super::octets::hex;
use super::record::BloodPressureRecord;
use super::record_access::{RecordAccess, response_name};
use super::reference_time::ReferenceTimeInformation;
use super::sfloat::Sfloat;
use super::status::MeasurementStatus;
use super::time_stamp::TimeStamp;
use super::user_control::UserControl;
use super::value::{Decoded, Value};
use serde::ser::SerializeMap;
use serde::{Serialize, Serializer};

/// An object whose fields stand in the order in which they were put.
struct Ordered<T>(Vec<(&'static str, T)>);

impl<T: Serialize> Serialize for Ordered<T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_map(self.0.iter().map(|(name, value)| (name, value)))
    }
}

/// The object while its fields are put into it. Special codes and reserved bits are gathered, and go to its
/// end.
struct Object<M> {
    map: M,
    special: Vec<(&'static str, &'static str)>,
    reserved: Vec<(&'static str, String)>,
}

impl Serialize for Decoded<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut object = Object {
            map: serializer.serialize_map(None)?,
            special: Vec::new(),
            reserved: Vec::new(),
        };
        object.put("characteristic", self.characteristic.to_string())?;
        object.value(&self.value)?;
        object.end(self.trailing)
    }
}

impl<M: SerializeMap> Object<M> {
    fn put(&mut self, name: &'static str, value: impl Serialize) -> Result<(), M::Error> {
        self.map.serialize_entry(name, &value)
    }

    fn reserve(&mut self, name: &'static str, bits: u16, digits: usize) {
        if bits != 0 {
            self.reserved.push((name, format!("0x{bits:0digits$x}")));
        }
    }

    fn end(mut self, trailing: &[u8]) -> Result<M::Ok, M::Error> {
        if !trailing.is_empty() {
            self.reserved.push(("trailing", hex(trailing)));
        }
        if !self.special.is_empty() {
            let special = std::mem::take(&mut self.special);
            self.put("special", Ordered(special))?;
        }
        if !self.reserved.is_empty() {
            let reserved = std::mem::take(&mut self.reserved);
            self.put("reserved", Ordered(reserved))?;
        }
        self.map.end()
    }

    fn value(&mut self, value: &Value<'_>) -> Result<(), M::Error> {
        match value {
            Value::Measurement(measurement) => self.measurement(measurement),
            Value::CuffPressure(pressure) => self.cuff_pressure(pressure),
            Value::Feature(feature) => {
                for (name, set) in feature.named() {
                    self.put(name, set)?;
                }
                self.reserve("feature", feature.reserved(), 4);
                Ok(())
            }
            Value::Record(record) => self.record(record),
            Value::RecordAccess(access) => self.record_access(access),
            Value::UserControl(control) => self.user_control(*control),
            Value::UserIndex(user) => self.put("user_index", user.known()),
            Value::DatabaseChange(changes) => self.put("change_increment", changes.0),
            Value::DateTime(time) => self.date_time("time", "time_raw", *time),
            Value::CurrentTime(time) => self.current_time(time),
            Value::LocalTime(local) => self.local_time(local),
            Value::ReferenceTime(reference) => self.reference_time(reference),
            Value::DeviceTime(time) => self.device_time(time),
            Value::BatteryLevel(level) => {
                if level.percent().is_none() {
                    self.reserve("level", u16::from(level.0), 2);
                }
                self.put("level", level.percent())
            }
            Value::Appearance(appearance) => {
                self.put("appearance", appearance.0)?;
                self.put("name", appearance.name())
            }
            Value::SystemId(id) => {
                self.put("system_id", id.to_string())?;
                self.put("as_sent", hex(&id.0))
            }
            Value::PnpId(pnp) => {
                self.put("vendor_source", pnp.vendor_source)?;
                self.put("vendor_source_name", pnp.vendor_source_name())?;
                self.put("vendor", pnp.vendor)?;
                self.put("product", pnp.product)?;
                self.put("version", pnp.version)
            }
            Value::Text(text) => {
                self.put("text", text.trimmed())?;
                if text.trimmed() != text.raw {
                    self.put("text_raw", text.raw)?;
                }
                Ok(())
            }
        }
    }

    fn measurement(&mut self, measurement: &BloodPressureMeasurement<'_>) -> Result<(), M::Error> {
        self.put("unit", measurement.unit.name())?;
        self.sfloat("systolic", measurement.systolic)?;
        self.sfloat("diastolic", measurement.diastolic)?;
        self.sfloat("mean_arterial_pressure", measurement.mean_arterial_pressure)?;
        self.optional(&measurement.optional(), measurement.reserved_flags)
    }

    fn cuff_pressure(&mut self, pressure: &CuffPressure<'_>) -> Result<(), M::Error> {
        self.sfloat("cuff_pressure", pressure.pressure)?;
        self.put("unit", pressure.unit.name())?;
        self.optional(&pressure.optional(), pressure.reserved_flags)
    }

    fn optional(&mut self, optional: &Optional, reserved_flags: u8) -> Result<(), M::Error> {
        if let Some(stamp) = optional.time_stamp {
            self.stamp("time_stamp", "time_stamp_raw", stamp)?;
        }
        if let Some(pulse_rate) = optional.pulse_rate {
            self.sfloat("pulse_rate", pulse_rate)?;
        }
        match optional.user_id {
            None => {}
            Some(UNKNOWN_USER) => self.put("user_id", "unknown")?,
            Some(user) => self.put("user_id", user)?,
        }
        self.reserve("flags", u16::from(reserved_flags), 2);
        if let Some(status) = optional.status {
            self.put("status", status)?;
            self.reserve("status", status.reserved(), 4);
        }
        match optional.user_facing_time {
            None => Ok(()),
            Some(stamp) => self.stamp("user_facing_time", "user_facing_time_raw", stamp),
        }
    }

    fn sfloat(&mut self, name: &'static str, number: Sfloat) -> Result<(), M::Error> {
        if let Some(special) = number.special() {
            self.special.push((name, special.name()));
        }
        self.put(name, number)
    }

    fn stamp(&mut self, name: &'static str, raw: &'static str, stamp: TimeStamp) -> Result<(), M::Error> {
        match stamp {
            TimeStamp::DateTime(time) => self.date_time(name, raw, time),
            TimeStamp::Seconds { .. } => self.put(name, stamp.civil()),
        }
    }

    fn date_time(&mut self, name: &'static str, raw: &'static str, time: DateTime) -> Result<(), M::Error> {
        self.put(name, time.civil())?;
        match time.civil() {
            Some(_) => Ok(()),
            None => self.put(raw, time),
        }
    }

    fn current_time(&mut self, time: &CurrentTime) -> Result<(), M::Error> {
        self.date_time("time", "time_raw", time.date_time)?;
        self.put("day_of_week", time.day_of_week)?;
        self.put("fractions256", time.fractions256)?;
        self.put("adjust_reason", time.adjust_reason.names().collect::<Vec<_>>())?;
        self.reserve("adjust_reason", u16::from(time.adjust_reason.reserved()), 2);
        Ok(())
    }

    fn local_time(&mut self, local: &LocalTimeInformation) -> Result<(), M::Error> {
        self.put("time_zone_minutes", local.time_zone_minutes())?;
        self.put("dst_minutes", local.dst_minutes())?;
        let (zone, dst) = (local.time_zone, local.dst_offset);
        if local.time_zone_minutes().is_none() && zone != LocalTimeInformation::TIME_ZONE_UNKNOWN {
            self.reserve("time_zone", u16::from(zone.cast_unsigned()), 2);
        }
        if local.dst_minutes().is_none() && dst != LocalTimeInformation::DST_OFFSET_UNKNOWN {
            self.reserve("dst_offset", u16::from(dst), 2);
        }
        Ok(())
    }

    fn reference_time(&mut self, reference: &ReferenceTimeInformation) -> Result<(), M::Error> {
        self.put("source", reference.source.name())?;
        self.put("accuracy_seconds", reference.accuracy_seconds())?;
        self.put("days_since_update", reference.days_since_update)?;
        self.put("hours_since_update", reference.hours_since_update)
    }

    fn device_time(&mut self, time: &DeviceTime) -> Result<(), M::Error> {
        self.put("base_time", time.base_civil())?;
        self.put("local_time", time.local_civil())?;
        self.put("time_zone_minutes", time.time_zone_minutes())?;
        self.put("dst_minutes", time.dst_minutes())?;
        self.put("status", time.status_names().collect::<Vec<_>>())?;
        self.reserve("status", time.reserved(), 4);
        Ok(())
    }

    fn record(&mut self, record: &BloodPressureRecord<'_>) -> Result<(), M::Error> {
        self.put("first", record.first)?;
        self.put("last", record.last)?;
        self.put("counter", record.counter)?;
        self.put("sequence", record.sequence)?;
        self.put("stored", record.characteristic.to_string())?;
        match record.measurement() {
            Some(Ok(measurement)) => self.put(
                "value",
                Decoded {
                    characteristic: record.characteristic,
                    value: Value::Measurement(measurement),
                    trailing: measurement.trailing,
                },
            ),
            Some(Err(error)) => self.put("value", undecodable(record.characteristic, error.to_string())),
            None => self.put("segment", hex(record.segment)),
        }
    }

    /// Without the consent code of a request, which nobody is to read over a shoulder.
    fn user_control(&mut self, control: UserControl<'_>) -> Result<(), M::Error> {
        self.put("op_code", control.op_code)?;
        self.put("op_code_name", control.op_code_name())?;
        if let Some(index) = control.index() {
            self.put("user_index", index)?;
        }
        if let Some((to, value)) = control.response() {
            self.put("response_to", to)?;
            self.put("response", UserControl::response_name(value))?;
        }
        match control.registered() {
            Some(index) => self.put("user_index", index),
            None => Ok(()),
        }
    }

    fn record_access(&mut self, access: &RecordAccess<'_>) -> Result<(), M::Error> {
        self.put("op_code", access.op_code)?;
        self.put("op_code_name", access.op_code_name())?;
        self.put("operator", access.operator)?;
        self.put("operator_name", access.operator_name())?;
        if !access.operand.is_empty() {
            self.put("operand", hex(access.operand))?;
        }
        if let Some((to, code)) = access.response() {
            self.put("response_to", to)?;
            self.put("response", response_name(code))?;
        }
        match access.count() {
            Some(count) => self.put("records", count),
            None => Ok(()),
        }
    }
}

/// The object of a value that cannot be decoded.
fn undecodable(characteristic: Characteristic, error: String) -> impl Serialize {
    Ordered(vec![
        ("characteristic", characteristic.to_string()),
        ("error", error),
    ])
}

impl Serialize for MeasurementStatus {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(Some(5))?;
        map.serialize_entry("body_movement", &self.body_movement())?;
        map.serialize_entry("cuff_too_loose", &self.cuff_too_loose())?;
        map.serialize_entry("irregular_pulse", &self.irregular_pulse())?;
        map.serialize_entry("pulse_rate_range", self.pulse_rate_range().name())?;
        map.serialize_entry("improper_position", &self.improper_position())?;
        map.end()
    }
}
