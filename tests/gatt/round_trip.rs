//! What is encoded decodes to itself; what is decoded never panics.

use proptest::option;
use proptest::prelude::*;
use quietcuff::gatt::*;

fn sfloat() -> impl Strategy<Value = Sfloat> {
    any::<u16>().prop_map(Sfloat::from_bits)
}

fn unit() -> impl Strategy<Value = Unit> {
    prop_oneof![Just(Unit::MmHg), Just(Unit::KPa)]
}

fn date_time() -> impl Strategy<Value = DateTime> {
    any::<[u8; 7]>().prop_map(|octets| DateTime::decode(&octets).unwrap())
}

prop_compose! {
    fn measurement()(
        unit in unit(),
        (systolic, diastolic, mean_arterial_pressure) in (sfloat(), sfloat(), sfloat()),
        time_stamp in option::of(date_time().prop_map(TimeStamp::DateTime)),
        pulse_rate in option::of(sfloat()),
        user_id in option::of(any::<u8>()),
        status in option::of(any::<u16>().prop_map(MeasurementStatus)),
        reserved_flags in any::<u8>().prop_map(|bits| bits & 0xe0),
    ) -> BloodPressureMeasurement<'static> {
        BloodPressureMeasurement {
            unit, systolic, diastolic, mean_arterial_pressure, time_stamp, pulse_rate, user_id, status,
            user_facing_time: None, reserved_flags, trailing: &[],
        }
    }
}

prop_compose! {
    fn enhanced()(
        plain in measurement(),
        epoch in prop_oneof![Just(Epoch::Y1900), Just(Epoch::Y2000)],
        (stamp, facing) in (option::of(any::<u32>()), option::of(any::<u32>())),
    ) -> BloodPressureMeasurement<'static> {
        let count = |seconds| TimeStamp::Seconds { epoch, seconds };
        BloodPressureMeasurement {
            time_stamp: stamp.map(count),
            user_facing_time: facing.map(count),
            reserved_flags: plain.reserved_flags & 0x80,
            ..plain
        }
    }
}

/// Any of the characteristics that are decoded, and one that is not.
fn characteristic() -> impl Strategy<Value = Characteristic> {
    prop::sample::select(vec![
        0x2a35u16, 0x2a36, 0x2a49, 0x2b34, 0x2b35, 0x2b36, 0x2a52, 0x2a08, 0x2a2b, 0x2a0f, 0x2a14, 0x2b90,
        0x2a19, 0x2a23, 0x2a50, 0x2a01, 0x2a00, 0x2a24, 0x2a29, 0xfff0,
    ])
    .prop_map(Characteristic::assigned)
}

proptest! {
    #[test]
    fn a_measurement_decodes_to_what_was_encoded(measurement in measurement()) {
        let encoded = measurement.encode();
        prop_assert!(encoded.len() <= 19);
        prop_assert_eq!(BloodPressureMeasurement::decode(&encoded), Ok(measurement));
    }

    #[test]
    fn an_enhanced_measurement_decodes_to_what_was_encoded(measurement in enhanced()) {
        let encoded = measurement.encode_enhanced().unwrap();
        prop_assert!(encoded.len() <= 20);
        prop_assert_eq!(BloodPressureMeasurement::decode_enhanced(&encoded), Ok(measurement));
    }

    #[test]
    fn a_cuff_pressure_decodes_to_what_was_encoded(from in measurement()) {
        let pressure = CuffPressure {
            unit: from.unit, pressure: from.systolic, time_stamp: from.time_stamp, pulse_rate: from.pulse_rate,
            user_id: from.user_id, status: from.status, user_facing_time: None,
            reserved_flags: from.reserved_flags, trailing: &[],
        };
        let encoded = pressure.encode();
        prop_assert_eq!(CuffPressure::decode(&encoded), Ok(pressure));
    }

    /// The fixed ones keep every octet, whatever it says.
    #[test]
    fn fixed_values_encode_to_the_octets_they_came_from(octets in any::<[u8; 10]>()) {
        let octets = &octets[..];
        prop_assert_eq!(&DateTime::decode(octets).unwrap().encode(), &octets[..7]);
        prop_assert_eq!(&CurrentTime::decode(octets).unwrap().encode(), octets);
        prop_assert_eq!(&LocalTimeInformation::decode(octets).unwrap().encode(), &octets[..2]);
        prop_assert_eq!(&ReferenceTimeInformation::decode(octets).unwrap().encode(), &octets[..4]);
        prop_assert_eq!(&Feature::decode(octets).unwrap().encode(), &octets[..2]);
        prop_assert_eq!(&BatteryLevel::decode(octets).unwrap().encode(), &octets[..1]);
        prop_assert_eq!(&SystemId::decode(octets).unwrap().encode(), &octets[..8]);
        prop_assert_eq!(&PnpId::decode(octets).unwrap().encode(), &octets[..7]);
        prop_assert_eq!(&Appearance::decode(octets).unwrap().encode(), &octets[..2]);
    }

    /// Whatever comes: no panic, every octet labelled once, in order, and an object that is JSON.
    #[test]
    fn any_octets_are_decoded_or_refused(
        characteristic in characteristic(),
        value in prop::collection::vec(any::<u8>(), 0..40),
    ) {
        let labelled = label(characteristic, &value);
        let mut next = 0;
        for part in &labelled {
            prop_assert_eq!(part.range.start, next);
            next = part.range.end;
        }
        prop_assert_eq!(next, value.len());
        match Decoded::new(characteristic, &value) {
            Ok(decoded) => {
                let text = serde_json::to_string(&decoded).unwrap();
                let object: serde_json::Value = serde_json::from_str(&text).unwrap();
                prop_assert_eq!(&object["characteristic"], &characteristic.to_string());
                prop_assert_eq!(decode(characteristic, &value), Ok(decoded.value));
            }
            Err(error) => prop_assert!(error.to_string().len() > 10),
        }
    }

    /// Cutting a value never turns one field into another: it decodes to the same fields or says where it ends.
    #[test]
    fn a_cut_measurement_is_refused(measurement in measurement(), keep in 0usize..19) {
        let encoded = measurement.encode();
        prop_assume!(keep < encoded.len());
        let error = BloodPressureMeasurement::decode(&encoded[..keep]).unwrap_err();
        let DecodeError::Truncated { at, need, have, .. } = error else { panic!("{error}") };
        prop_assert!(have < need && at + have == keep);
    }

    #[test]
    fn trailing_octets_change_nothing_else(measurement in measurement(), more in prop::collection::vec(any::<u8>(), 0..8)) {
        let mut value = measurement.encode().to_vec();
        value.extend(&more);
        let expected = BloodPressureMeasurement { trailing: &more, ..measurement };
        prop_assert_eq!(BloodPressureMeasurement::decode(&value), Ok(expected));
    }
}

/// All of them: printing and reading back gives the same number, exactly.
#[test]
fn every_sfloat_prints_its_value() {
    for bits in 0..=u16::MAX {
        let sfloat = Sfloat::from_bits(bits);
        let Some(decimal) = sfloat.decimal() else {
            assert!(matches!(bits, 0x07fe..=0x0802), "{bits:#06x}");
            continue;
        };
        assert_eq!(Sfloat::new(sfloat.mantissa(), sfloat.exponent()), Some(sfloat));
        let text = sfloat.to_string();
        assert_eq!(serde_json::to_string(&sfloat).unwrap(), text);
        // The standard library's parser rounds right, so it is the oracle for the nearest binary float.
        let nearest: f64 = format!("{}e{}", decimal.mantissa, decimal.exponent)
            .parse()
            .unwrap();
        assert_eq!(sfloat.to_f64().unwrap().to_bits(), nearest.to_bits(), "{text}");
        assert_eq!(
            text.parse::<f64>().unwrap().to_bits(),
            nearest.to_bits(),
            "{text}"
        );
    }
}

proptest! {
    /// Against numbers with all digits written out, compared as texts of equal length.
    #[test]
    fn decimals_are_ordered_by_value(a in any::<(i16, i8)>(), b in any::<(i16, i8)>()) {
        let made = |(mantissa, exponent): (i16, i8)| Decimal {
            mantissa: i32::from(mantissa % 2048),
            exponent: exponent % 9,
        };
        let (a, b) = (made(a), made(b));
        // Both scaled by 10^8: exact in 128 bits.
        let scaled = |d: Decimal| i128::from(d.mantissa) * 10i128.pow(u32::try_from(d.exponent + 8).unwrap());
        prop_assert_eq!(a.cmp(&b), scaled(a).cmp(&scaled(b)));
        prop_assert_eq!(a == b, scaled(a) == scaled(b));
    }
}
