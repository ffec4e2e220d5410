//! What the corpus cannot show: what our own types make of the numbers.

use quietcuff::gatt::*;

fn civil(text: &str) -> jiff::civil::DateTime {
    text.parse().unwrap()
}

#[test]
fn a_clock_writes_what_it_shows() {
    let shown = civil("2026-03-01T07:02:11.5");
    let time = CurrentTime::from_civil(shown, AdjustReason::EXTERNAL_REFERENCE).unwrap();
    // 1 March 2026 is a Sunday, which is 7; half a second is 128/256.
    assert_eq!(time.encode(), [0xea, 0x07, 3, 1, 7, 2, 11, 7, 128, 2]);
    assert_eq!(time.civil(), Some(shown));
    let last = civil("2026-12-31T23:59:59.999999999");
    let last = CurrentTime::from_civil(last, AdjustReason::default()).unwrap();
    assert_eq!(last.fractions256, 255);
    assert_eq!(
        CurrentTime::from_civil(civil("1581-12-31T00:00:00"), AdjustReason::MANUAL),
        None
    );
}

#[test]
fn local_time_says_only_what_it_can() {
    let cest = LocalTimeInformation::from_minutes(60, 60);
    assert_eq!(cest.encode(), [4, 4]);
    assert_eq!(LocalTimeInformation::from_minutes(-540, 0).encode(), [0xdc, 0]);
    // Ten minutes are no quarter of an hour; 15 hours and 20 minutes of daylight saving are not defined.
    assert_eq!(LocalTimeInformation::from_minutes(10, 20).encode(), [0x80, 0xff]);
    assert_eq!(LocalTimeInformation::from_minutes(15 * 60, 0).encode(), [0x80, 0]);
}

#[test]
fn the_ends_of_both_epochs() {
    let ends = [
        (Epoch::Y1900, "1900-01-01T00:00:00", "2036-02-07T06:28:15"),
        (Epoch::Y2000, "2000-01-01T00:00:00", "2136-02-07T06:28:15"),
    ];
    for (epoch, first, last) in ends {
        assert_eq!(epoch.civil(0), Some(civil(first)));
        assert_eq!(epoch.civil(u32::MAX), Some(civil(last)));
    }
}

#[test]
fn a_stamp_in_seconds_goes_out_as_the_date_it_spells() {
    let measurement = BloodPressureMeasurement {
        unit: Unit::MmHg,
        systolic: Sfloat::new(120, 0).unwrap(),
        diastolic: Sfloat::new(80, 0).unwrap(),
        mean_arterial_pressure: Sfloat::NAN,
        time_stamp: Some(TimeStamp::Seconds {
            epoch: Epoch::Y2000,
            seconds: 86_399,
        }),
        pulse_rate: None,
        user_id: None,
        status: None,
        user_facing_time: None,
        reserved_flags: 0,
        trailing: &[],
    };
    let encoded = measurement.encode();
    let decoded = BloodPressureMeasurement::decode(&encoded).unwrap();
    assert_eq!(
        decoded.time_stamp.and_then(TimeStamp::civil),
        Some(civil("2000-01-01T23:59:59"))
    );

    let two_epochs = BloodPressureMeasurement {
        user_facing_time: Some(TimeStamp::Seconds {
            epoch: Epoch::Y1900,
            seconds: 0,
        }),
        ..measurement
    };
    assert_eq!(two_epochs.encode_enhanced(), None);
    let dated = BloodPressureMeasurement {
        time_stamp: decoded.time_stamp,
        ..measurement
    };
    assert_eq!(dated.encode_enhanced(), None);
}

/// The order on the air is the reverse of the printed one; some senders take the printed one.
#[test]
fn a_system_id_is_one_device_in_either_order() {
    let id = SystemId([0xa1, 0xb2, 0xc3, 0xfe, 0xff, 0xdd, 0xee, 0xff]);
    assert_eq!(id.to_string(), "FF-EE-DD-FF-FE-C3-B2-A1");
    let reversed = SystemId([0xff, 0xee, 0xdd, 0xff, 0xfe, 0xc3, 0xb2, 0xa1]);
    assert!(id.same_device(id) && id.same_device(reversed));
    assert!(!SystemId([0; 8]).same_device(SystemId([0; 8])));
    assert!(!SystemId([0xff; 8]).is_identity());
}

#[test]
fn a_text_from_a_stranger_cannot_drive_the_terminal() {
    let text = Text::decode(b"\x1b[2Jname\0 \0").unwrap();
    assert_eq!(text.trimmed(), "\x1b[2Jname");
    assert_eq!(text.printable(), "\u{fffd}[2Jname");
    assert_eq!(
        Text::decode(b"ab\xffcd"),
        Err(DecodeError::NotUtf8 { field: "text", at: 2 })
    );
}

/// Answered by the Assigned Numbers: category 0x00E, subcategories 0, 1 and 2.
#[test]
fn appearances_of_blood_pressure_monitors() {
    for (bits, blood_pressure) in [
        (0x037f, false),
        (0x0380, true),
        (0x0382, true),
        (0x03bf, true),
        (0x03c0, false),
    ] {
        assert_eq!(
            Appearance(bits).is_blood_pressure(),
            blood_pressure,
            "{bits:#06x}"
        );
    }
}

#[test]
fn what_has_no_decoder_says_so() {
    let unknown = Characteristic::assigned(0xfff0);
    assert_eq!(decode(unknown, &[1, 2]), Err(DecodeError::Unsupported));
    let own: Characteristic = "12345678-1234-1234-1234-123456789abc".parse().unwrap();
    assert_eq!(decode(own, &[]), Err(DecodeError::Unsupported));
    assert_eq!(label(own, &[1, 2]).len(), 1);
}
