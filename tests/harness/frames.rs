//! Frames that are made up, one a number: what a monitor with a clock and a pulse sends of a reading.

use jiff::Timestamp;
use jiff::tz::Offset;
use quietcuff::frame::Frame;
use quietcuff::gatt::Characteristic;

/// The nth of a series, received the moment at which its stamp says it was measured. Its pressures follow from the
/// number.
pub(crate) fn stamped(n: u32, at: Timestamp) -> Frame {
    let civil = Offset::UTC.to_datetime(at);
    let [low, high] = civil.year().to_le_bytes();
    let mut value = vec![
        0x1e,
        118 + (n % 30) as u8,
        0,
        70 + (n % 20) as u8,
        0,
        90,
        0,
        low,
        high,
    ];
    value.extend(
        [
            civil.month(),
            civil.day(),
            civil.hour(),
            civil.minute(),
            civil.second(),
        ]
        .map(i8::cast_unsigned),
    );
    value.extend([64, 0, 1, 0, 0]);
    Frame {
        received_at: at,
        offset: Offset::UTC,
        uptime: None,
        given_to: None,
        monitor: [0xc0, 0xff, 0xee, 0, 0, 1].into(),
        connection: n + 1,
        characteristic: Characteristic::BLOOD_PRESSURE_MEASUREMENT,
        value,
        overheard: false,
    }
}
