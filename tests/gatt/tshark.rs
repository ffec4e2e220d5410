//! tshark reads the same octets: a decoder written by others, from the same definitions.

use crate::gatt::capture::{By, Capture};
use crate::gatt::corpus::{Example, examples};
use crate::harness::left_out::program;
use quietcuff::gatt::{
    AdjustReason, BloodPressureMeasurement, Characteristic, DateTime, Feature, MeasurementStatus, Sfloat,
    Special, Unit, Value, decode,
};
use std::collections::{BTreeMap, BTreeSet};
use std::io::Write;
use std::process::Command;

/// What tshark prints about a capture, or nothing if that was chosen.
fn tshark(capture: &Capture, arguments: &[&str]) -> Option<String> {
    if !program("tshark", "values beside tshark") {
        return None;
    }
    let mut file = tempfile::NamedTempFile::new().unwrap();
    file.write_all(capture.octets()).unwrap();
    let ran = Command::new("tshark")
        .arg("-n")
        .arg("-r")
        .arg(file.path())
        .args(arguments)
        .env("LC_ALL", "C.UTF-8")
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&ran.stderr).into_owned();
    assert!(ran.status.success(), "tshark failed: {said}");
    Some(String::from_utf8(ran.stdout).unwrap())
}

/// All of them, in the systolic slot.
#[test]
fn every_sfloat() {
    let mut capture = Capture::new(&[Characteristic::BLOOD_PRESSURE_MEASUREMENT]);
    let measurement = |systolic| BloodPressureMeasurement {
        unit: Unit::MmHg,
        systolic,
        diastolic: Sfloat::NAN,
        mean_arterial_pressure: Sfloat::NAN,
        time_stamp: None,
        pulse_rate: None,
        user_id: None,
        status: None,
        user_facing_time: None,
        reserved_flags: 0,
        trailing: &[],
    };
    for bits in 0..=u16::MAX {
        let value = measurement(Sfloat::from_bits(bits)).encode();
        capture.value(By::Indication, Characteristic::BLOOD_PRESSURE_MEASUREMENT, &value);
    }
    let systolic = "btatt.blood_pressure_measurement.compound_value.systolic.mmhg";
    let Some(printed) = tshark(
        &capture,
        &["-Y", "btatt.opcode == 0x1d", "-T", "fields", "-e", systolic],
    ) else {
        return;
    };
    let lines: Vec<_> = printed.lines().collect();
    assert_eq!(lines.len(), 65_536);
    for (bits, theirs) in (0..=u16::MAX).zip(lines) {
        assert_eq!(sfloat(Sfloat::from_bits(bits)), theirs, "{bits:#06x}");
    }
}

/// As tshark prints it: our text, except that its zero has no digits after the point, and its name for the reserved
/// code.
fn sfloat(number: Sfloat) -> String {
    match number.special() {
        Some(Special::Reserved) => "RFU".to_owned(),
        None if number.mantissa() == 0 => "0".to_owned(),
        _ => number.to_string(),
    }
}

/// Every frame of the corpus: the same fields with the same values, and no field that we do not see.
#[test]
fn every_frame_of_the_corpus() {
    let examples = examples();
    let characteristics: BTreeSet<_> = examples.iter().map(Example::characteristic).collect();
    let mut capture = Capture::new(&characteristics.into_iter().collect::<Vec<_>>());
    let mut by_packet: BTreeMap<usize, &Example> = examples
        .iter()
        .map(|example| {
            let by = match example.op.as_str() {
                "indicate" => By::Indication,
                "notify" => By::Notification,
                "read" => By::Read,
                "write" => By::Write,
                other => panic!("{other}"),
            };
            (
                capture.value(by, example.characteristic(), &example.value()),
                example,
            )
        })
        .collect();
    let Some(printed) = tshark(&capture, &["-T", "ek"]) else {
        return;
    };

    let mut compared = 0;
    for line in printed.lines().filter(|line| line.contains("\"layers\"")) {
        let packet: serde_json::Value = serde_json::from_str(line).unwrap();
        let layers = &packet["layers"];
        let number = layers["frame"]["frame_frame_number"].as_str().unwrap();
        let Some(example) = by_packet.remove(&number.parse().unwrap()) else {
            continue;
        };
        let value = example.value();
        let theirs = Seen::by_tshark(&layers["btatt"]);
        match decode(example.characteristic(), &value) {
            // It has no dissector for these and shows the octets.
            _ if !example.tshark => assert!(theirs.0.is_empty(), "{}: tshark can read this now", example.id),
            Ok(ours) => {
                assert_eq!(
                    Seen::by_us(&ours, example.characteristic(), &value),
                    theirs,
                    "{}",
                    example.id
                );
                compared += 1;
            }
            // An empty value it passes over in silence.
            Err(error) => {
                let refused = layers.get("_ws_malformed").is_some() || value.is_empty();
                assert!(refused, "{}: {error}; tshark takes it", example.id);
                compared += 1;
            }
        }
    }
    assert!(
        by_packet.is_empty(),
        "tshark did not show {} frames",
        by_packet.len()
    );
    assert_eq!(compared, examples.iter().filter(|e| e.tshark).count());
    assert!(compared >= 120, "{compared} compared");
}

/// The fields that somebody sees in a value, by tshark's names, as text.
#[derive(PartialEq, Debug, Default)]
struct Seen(BTreeMap<String, String>);

/// Fields that only repeat another one, or the transport; and a filter's operand, which it reads as glucose meters
/// define it.
const PASSED_OVER: [&str; 17] = [
    "handle",
    "opcode",
    "opcode_command",
    "opcode_method",
    "opcode_authentication_signature",
    "uuid16",
    "service_uuid16",
    "characteristic_uuid16",
    "request_in_frame",
    "value",
    "_ws_expert",
    "blood_pressure_measurement_flags",
    "blood_pressure_measurement_compound_value_timestamp",
    "record_access_control_point_operand",
    "record_access_control_point_operand_filter_type",
    "record_access_control_point_operand_min_time_offset",
    "adjust_reason",
];

impl Seen {
    fn by_tshark(layer: &serde_json::Value) -> Self {
        let fields = layer.as_object().expect("an ATT layer");
        Self(
            fields
                .iter()
                .map(|(name, value)| (name.trim_start_matches("btatt_btatt_"), value))
                .filter(|(name, _)| !PASSED_OVER.contains(name))
                .map(|(name, value)| (name.to_owned(), plain(value)))
                .collect(),
        )
    }

    fn by_us(value: &Value<'_>, characteristic: Characteristic, octets: &[u8]) -> Self {
        let mut seen = Self::default();
        match value {
            Value::Measurement(m) => {
                let unit = m.unit.name().to_lowercase();
                let pressure = |slot| format!("blood_pressure_measurement_compound_value_{slot}_{unit}");
                seen.put(&pressure("systolic"), sfloat(m.systolic));
                seen.put(&pressure("diastolic"), sfloat(m.diastolic));
                seen.put(&pressure("arterial_pressure"), sfloat(m.mean_arterial_pressure));
                let stamp = m.time_stamp.map(|stamp| match stamp {
                    quietcuff::gatt::TimeStamp::DateTime(time) => time,
                    other => panic!("{other:?} in 0x2A35"),
                });
                seen.optional(m.unit, stamp, m.pulse_rate, m.user_id, m.status, m.reserved_flags);
            }
            Value::CuffPressure(p) => {
                let unit = p.unit.name().to_lowercase();
                let pressure = |slot| format!("blood_pressure_measurement_compound_value_{slot}_{unit}");
                seen.put(&pressure("systolic"), sfloat(p.pressure));
                // It shows the two unused slots, which we pass over.
                for (slot, at) in [("diastolic", 3), ("arterial_pressure", 5)] {
                    let unused = Sfloat::from_bits(u16::from_le_bytes([octets[at], octets[at + 1]]));
                    seen.put(&pressure(slot), sfloat(unused));
                }
                seen.optional(p.unit, None, p.pulse_rate, p.user_id, p.status, p.reserved_flags);
            }
            Value::Feature(feature) => {
                seen.put("blood_pressure_feature", feature.0);
                let bits = [
                    ("body_movement_detection", Feature::BODY_MOVEMENT),
                    ("cuff_fit_detection", Feature::CUFF_FIT),
                    ("irregular_pulse_detection", Feature::IRREGULAR_PULSE),
                    ("puls_rate_range", Feature::PULSE_RATE_RANGE),
                    ("measurement_position_detection", Feature::POSITION),
                    ("multiple_bond", Feature::MULTIPLE_BOND),
                ];
                for (name, bit) in bits {
                    seen.put(&format!("blood_pressure_feature_{name}"), feature.has(bit));
                }
                // Its field definitions end with the service's version 1.0: what came later is reserved to it.
                seen.put("blood_pressure_feature_reserved", feature.0 >> 6);
            }
            Value::DateTime(time) => seen.date_time(*time),
            Value::CurrentTime(time) => {
                seen.date_time(time.date_time);
                seen.put("day_of_week", time.day_of_week);
                seen.put("fractions256", time.fractions256);
                let bits = [
                    ("manual_time_update", AdjustReason::MANUAL),
                    ("external_reference_time_update", AdjustReason::EXTERNAL_REFERENCE),
                    ("change_of_timezone", AdjustReason::TIME_ZONE_CHANGE),
                    ("change_of_dst", AdjustReason::DST_CHANGE),
                ];
                for (name, bit) in bits {
                    seen.put(
                        &format!("adjust_reason_{name}"),
                        time.adjust_reason.0 & bit.0 != 0,
                    );
                }
                seen.put("adjust_reason_reserved", time.adjust_reason.reserved() >> 4);
            }
            Value::LocalTime(local) => {
                seen.put("timezone", local.time_zone);
                seen.put("dst_offset", local.dst_offset);
            }
            Value::ReferenceTime(reference) => {
                seen.put("time_source", reference.source.0);
                seen.put("time_accuracy", reference.accuracy);
                seen.put("days_since_update", reference.days_since_update);
                seen.put("hours_since_update", reference.hours_since_update);
            }
            Value::BatteryLevel(level) => seen.put("battery_level", level.0),
            Value::Appearance(appearance) => {
                seen.put("appearance", appearance.0);
                seen.put("appearance_category", appearance.0 >> 6);
                let category = if appearance.is_blood_pressure() {
                    "blood_pressure"
                } else {
                    "thermometer"
                };
                seen.put(&format!("appearance_subcategory_{category}"), appearance.0 & 0x3f);
            }
            Value::SystemId(id) => {
                // Most significant octet first, as we print it: three of the organisation, five of the maker.
                let digits = id.to_string().replace('-', "");
                let (organisation, maker) = digits.split_at(6);
                let number = |digits| u64::from_str_radix(digits, 16).unwrap();
                seen.put("system_id_manufacturer_identifier", number(maker));
                seen.put(
                    "system_id_organizationally_unique_identifier",
                    number(organisation),
                );
            }
            Value::PnpId(pnp) => {
                seen.put("pnp_id_vendor_id_source", pnp.vendor_source);
                seen.put("pnp_id_vendor_id", pnp.vendor);
                seen.put("pnp_id_product_id", pnp.product);
                seen.put("pnp_id_product_version", pnp.version);
            }
            Value::RecordAccess(access) => {
                seen.put("record_access_control_point_opcode", access.op_code);
                seen.put("record_access_control_point_operator", access.operator);
                if let Some((to, code)) = access.response() {
                    seen.put("record_access_control_point_request_opcode", to);
                    seen.put("record_access_control_point_response_code", code);
                }
                if let Some(count) = access.count() {
                    seen.put("record_access_control_point_operand_number_of_records", count);
                }
            }
            Value::Text(text) => {
                let name = match characteristic {
                    Characteristic::MODEL_NUMBER => "model_number_string",
                    Characteristic::SERIAL_NUMBER => "serial_number_string",
                    Characteristic::FIRMWARE_REVISION => "firmware_revision_string",
                    Characteristic::HARDWARE_REVISION => "hardware_revision_string",
                    Characteristic::SOFTWARE_REVISION => "software_revision_string",
                    Characteristic::MANUFACTURER_NAME => "manufacturer_string",
                    _ => "device_name",
                };
                // It ends a text at its first NUL and keeps the spaces before.
                seen.put(name, text.raw.trim_end_matches('\0'));
            }
            Value::UserControl(control) => {
                seen.put("user_control_point_opcode", control.op_code);
                if let Some(code) = control.code() {
                    seen.put("user_control_point_consent_code", code.expose());
                }
                if let Some((to, code)) = control.response() {
                    seen.put("user_control_point_request_opcode", to);
                    seen.put("user_control_point_response_value", code);
                }
                if let Some(index) = control.index().or(control.registered()) {
                    seen.put("user_index", index);
                }
            }
            Value::UserIndex(user) => seen.put("user_index", user.0),
            Value::DatabaseChange(changes) => seen.put("database_change_increment", changes.0),
            Value::Record(_) | Value::DeviceTime(_) => panic!("tshark has no dissector for {characteristic}"),
        }
        seen
    }

    #[expect(
        clippy::needless_pass_by_value,
        reason = "forty callers read better without a reference"
    )]
    fn put(&mut self, name: &str, value: impl ToString) {
        self.0.insert(name.to_owned(), value.to_string());
    }

    fn date_time(&mut self, time: DateTime) {
        self.put("year", time.year);
        self.put("month", time.month);
        self.put("day", time.day);
        self.put("hours", time.hours);
        self.put("minutes", time.minutes);
        self.put("seconds", time.seconds);
    }

    fn optional(
        &mut self,
        unit: Unit,
        stamp: Option<DateTime>,
        pulse_rate: Option<Sfloat>,
        user_id: Option<u8>,
        status: Option<MeasurementStatus>,
        reserved_flags: u8,
    ) {
        let flag = |name: &str| format!("blood_pressure_measurement_flags_{name}");
        self.put(&flag("unit"), u8::from(unit == Unit::KPa));
        self.put(&flag("timestamp"), stamp.is_some());
        self.put(&flag("pulse_rate"), pulse_rate.is_some());
        self.put(&flag("user_id"), user_id.is_some());
        self.put(&flag("measurement_status"), status.is_some());
        self.put(&flag("reserved"), reserved_flags >> 5);
        if let Some(stamp) = stamp {
            self.date_time(stamp);
        }
        if let Some(pulse_rate) = pulse_rate {
            self.put("blood_pressure_measurement_pulse_rate", sfloat(pulse_rate));
        }
        if let Some(user_id) = user_id {
            self.put("blood_pressure_measurement_user_id", user_id);
        }
        if let Some(status) = status {
            let bit = |name: &str| format!("blood_pressure_measurement_status_{name}");
            self.put("blood_pressure_measurement_status", status.0);
            self.put(&bit("body_movement"), status.body_movement());
            self.put(&bit("cuff_fit_too_loose"), status.cuff_too_loose());
            self.put(&bit("irregular_pulse"), status.irregular_pulse());
            self.put(
                &bit("pulse_rate_range_detection"),
                status.pulse_rate_range() as u8,
            );
            self.put(&bit("improper_measurement_position"), status.improper_position());
            self.put(&bit("reserved"), status.reserved() >> 6);
        }
    }
}

/// Hexadecimal numbers become decimal ones.
fn plain(value: &serde_json::Value) -> String {
    match value {
        serde_json::Value::String(text) => text
            .strip_prefix("0x")
            .and_then(|digits| u64::from_str_radix(digits, 16).ok())
            .map_or_else(|| text.clone(), |number| number.to_string()),
        other => other.to_string(),
    }
}
