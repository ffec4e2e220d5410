//! Every frame and number of the corpus, exactly.

use crate::gatt::corpus::{examples, numbers};
use quietcuff::gatt::{DecodeError, Decoded, Float, Sfloat, label};

#[test]
fn every_frame_decodes_to_its_object_or_ends_in_its_field() {
    for example in examples() {
        let value = example.value();
        let decoded = Decoded::new(example.characteristic(), &value);
        match (example.expected, example.truncated) {
            (Some(expected), None) => {
                let object = serde_json::to_string(&decoded.expect(&example.id)).unwrap();
                assert_eq!(object, expected.get(), "{}", example.id);
            }
            (None, Some(cut)) => {
                let DecodeError::Truncated {
                    field,
                    at,
                    need,
                    have,
                } = decoded.unwrap_err()
                else {
                    panic!("{} is cut, and that was not said", example.id);
                };
                assert_eq!(
                    (field, at, need, have),
                    (cut.field.as_str(), cut.at, cut.need, cut.have),
                    "{}",
                    example.id
                );
            }
            _ => panic!("{} expects nothing or too much", example.id),
        }
    }
}

#[test]
fn every_octet_of_every_frame_has_a_label() {
    for example in examples() {
        let value = example.value();
        let mut next = 0;
        for labelled in label(example.characteristic(), &value) {
            assert_eq!(labelled.range.start, next, "{}", example.id);
            assert!(
                !labelled.field.is_empty() && !labelled.text.is_empty(),
                "{}",
                example.id
            );
            next = labelled.range.end;
        }
        assert_eq!(next, value.len(), "{}", example.id);
    }
}

/// The contract's own example, with the mean and the status that it shows.
#[test]
fn the_labels_of_a_full_measurement() {
    let frame = "1e78005000a5f3ea0703010702 0b4800010400".replace(' ', "");
    let value = crate::gatt::corpus::octets(&frame);
    let labels: Vec<_> = label("2a35".parse().unwrap(), &value)
        .into_iter()
        .map(|l| (l.range, l.field, l.text))
        .collect();
    let expected = [
        (0..1, "flags", "mmHg, time stamp, pulse rate, user id, status"),
        (1..3, "systolic", "120 mmHg"),
        (3..5, "diastolic", "80 mmHg"),
        (5..7, "mean arterial pressure", "93.3 mmHg"),
        (7..14, "time stamp", "2026-03-01T07:02:11"),
        (14..16, "pulse rate", "72 beats a minute"),
        (16..17, "user id", "1"),
        (17..19, "measurement status", "irregular pulse"),
    ];
    assert_eq!(
        labels,
        expected.map(|(range, field, text)| (range, field, text.to_owned()))
    );
}

#[test]
fn every_number_prints_exactly() {
    for number in numbers() {
        let (text, special) = match number.kind.as_str() {
            "sfloat" => {
                let sfloat = Sfloat::from_bits(u16::try_from(number.bits()).unwrap());
                (sfloat.to_string(), sfloat.special().is_some())
            }
            _ => {
                let float = Float::from_bits(number.bits());
                (float.to_string(), float.special().is_some())
            }
        };
        let source = number.published.as_deref().unwrap_or("by definition");
        assert_eq!(
            (text.as_str(), special),
            (number.text.as_str(), number.special),
            "{:#x}, {source}",
            number.bits()
        );
    }
}

#[test]
fn the_published_numbers_are_among_them() {
    let published = numbers().iter().filter(|n| n.published.is_some()).count();
    assert_eq!(published, 22, "published worked examples");
}
