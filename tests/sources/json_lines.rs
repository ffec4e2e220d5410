//! JSON Lines: the contract's own example, exact round trips, bad lines.

use proptest::prelude::*;
use quietcuff::frame::{Frame, Uptime};
use quietcuff::gatt::Characteristic;
use quietcuff::household::MonitorAddress;
use quietcuff::radio::json_lines::{AsLine, FrameLineError, FrameLines, LINE_OCTETS_MAX, LineFault};
use std::io::BufReader;

const EXAMPLE: &str = r#"{"received_at":"2026-03-01T07:02:14.250+01:00","monitor":"C0:FF:EE:00:00:01","connection":1,"characteristic":"2a35","value":"1e7800"}"#;

fn read(text: &[u8]) -> Vec<Result<Frame, FrameLineError>> {
    // A buffer of seven octets: every line is met in parts.
    FrameLines::new(BufReader::with_capacity(7, text)).collect()
}

fn fault(line: &str) -> String {
    let mut all = read(line.as_bytes());
    assert_eq!(all.len(), 1, "{line}");
    all.pop().unwrap().unwrap_err().to_string()
}

#[test]
fn the_example_is_read_and_written_as_it_stands() {
    let frame = read(EXAMPLE.as_bytes()).pop().unwrap().unwrap();
    assert_eq!(frame.received_at.to_string(), "2026-03-01T06:02:14.25Z");
    assert_eq!(frame.offset.seconds(), 3600);
    assert_eq!(frame.value, [0x1e, 0x78, 0x00]);
    assert_eq!(AsLine(&frame).to_string(), EXAMPLE);
}

#[test]
fn other_spellings_of_the_same_frame_are_read() {
    let lines = [
        EXAMPLE.replace("2a35", "00002A35-0000-1000-8000-00805F9B34FB"),
        EXAMPLE.replace("1e7800", "1E7800"),
        EXAMPLE
            .replace("C0:FF", "c0-ff")
            .replace('-', ":")
            .replace("2026:03:01", "2026-03-01"),
        EXAMPLE.replace("{", r#"{ "later": {"field": [1, null]}, "#),
        format!("\u{feff}\n\r\n   {EXAMPLE}\r\n\n").replace(".250", ".25000049"),
    ];
    let expected = read(EXAMPLE.as_bytes()).pop().unwrap().unwrap();
    for line in lines {
        let mut got = read(line.as_bytes());
        assert_eq!(got.len(), 1, "{line}");
        assert_eq!(got.pop().unwrap().unwrap(), expected, "{line}");
    }
}

/// RFC 3339 has no seconds in an offset: they are cut off, and the moment stays as exact as it was.
#[test]
fn an_offset_with_seconds_is_read_to_the_minute() {
    for (written, offset, moment) in [
        ("+02:00:15", 7_200, "2026-03-01T05:01:59.25Z"),
        ("-00:44:30", -2_640, "2026-03-01T07:46:44.25Z"),
    ] {
        let line = EXAMPLE.replace("+01:00", written);
        let frame = read(line.as_bytes()).pop().unwrap().unwrap();
        assert_eq!(frame.offset.seconds(), offset, "{written}");
        assert_eq!(frame.received_at.to_string(), moment, "{written}");
        let again = read(AsLine(&frame).to_string().as_bytes())
            .pop()
            .unwrap()
            .unwrap();
        assert_eq!(again, frame, "{written}");
    }
}

#[test]
fn a_bad_line_is_told_and_the_next_one_is_read() {
    let long = "x".repeat(LINE_OCTETS_MAX + 1);
    let deep = "[".repeat(1000);
    let text = format!("{EXAMPLE}\nnonsense\n{long}\n{{}}\n{deep}\n\n{EXAMPLE}\n{EXAMPLE}");
    let got = read(text.as_bytes());
    let lines: Vec<_> = got
        .iter()
        .map(|r| r.as_ref().map_err(|e| e.line).map(|_| ()))
        .collect();
    assert_eq!(lines, [Ok(()), Err(2), Err(3), Err(4), Err(5), Ok(()), Ok(())]);
    assert!(matches!(got[2].as_ref().unwrap_err().what, LineFault::TooLong));
}

#[test]
fn what_is_wrong_is_said() {
    for (from, to, said) in [
        (
            "+01:00",
            "",
            "received_at \"2026-03-01T07:02:14.250\" is not a moment",
        ),
        ("+01:00", "[Europe/Oslo]", "is not a moment"),
        ("T07:02:14.250", "", "is not a moment"),
        ("03-01", "02-30", "is not a moment"),
        ("C0:FF", "C0FF", "is not a Bluetooth address"),
        ("2a35", "2a3", "is not a characteristic"),
        ("1e7800", "1e780", "pairs of hexadecimal digits"),
        ("1e7800", "1e78+0", "pairs of hexadecimal digits"),
        (":1,", ":-1,", "`connection` is no whole number from 0"),
        (":1,", ":4294967296,", "`connection` is no whole number from 0"),
        (":1,", ":\"1\",", "`connection` is no whole number from 0"),
        ("{", "{\"uptime_us\":1.5,", "`uptime_us` is no whole number"),
        (
            "{",
            "{\"overheard\":\"yes\",",
            "`overheard` is neither true nor false",
        ),
        ("{", "hello", "it is not JSON from character 1 on"),
        ("}", "", "it ends in the middle"),
        ("\"1e7800\"", "[]", "a text is missing"),
        ("\"value\"", "\"valve\"", "it has no `value`"),
        ("{", "{\"boot\":\"b\",", "boot and uptime_us belong together"),
        ("{", "{\"person\":\"no spaces\",", "cannot be an id"),
    ] {
        let told = fault(&EXAMPLE.replacen(from, to, 1));
        assert!(told.starts_with("line 1: ") && told.contains(said), "{told}");
    }
    let value = "00".repeat(513);
    assert!(fault(&EXAMPLE.replace("1e7800", &value)).contains("has 513 octets"));
    assert!(read(EXAMPLE.replace("1e7800", &value[2..]).as_bytes())[0].is_ok());
}

fn frames() -> impl Strategy<Value = Frame> {
    let moment = -62_000_000_000_000_000i64..253_000_000_000_000_000;
    let fine = prop::sample::select(vec![1i64, 1000, 1_000_000]);
    let when = (moment, fine, -1439..=1439i32);
    let uptime = prop::option::of(("[ -~]{0,40}", any::<i64>()));
    let person = prop::option::of("[a-z][a-z0-9_-]{0,30}");
    let what = (
        any::<[u8; 6]>(),
        any::<u32>(),
        any::<u16>(),
        any::<u128>(),
        any::<bool>(),
    );
    let value = prop::collection::vec(any::<u8>(), 0..=512);
    (when, uptime, person, what, value).prop_map(|((at, fine, minutes), uptime, person, what, value)| {
        let (address, connection, number, uuid, short) = what;
        Frame {
            received_at: jiff::Timestamp::from_microsecond(at.div_euclid(fine) * fine).unwrap(),
            offset: jiff::tz::Offset::from_seconds(minutes * 60).unwrap(),
            uptime: uptime.map(|(boot, micros)| Uptime { boot, micros }),
            given_to: person.map(|id| id.parse().unwrap()),
            overheard: false,
            monitor: MonitorAddress::from(address),
            connection,
            characteristic: if short {
                Characteristic::assigned(number)
            } else {
                uuid::Uuid::from_u128(uuid).into()
            },
            value,
        }
    })
}

proptest! {
    #[test]
    fn what_is_written_is_read_back(frames in prop::collection::vec(frames(), 0..5)) {
        let text: String = frames.iter().map(|frame| format!("{}\n", AsLine(frame))).collect();
        let back: Result<Vec<_>, _> = FrameLines::new(text.as_bytes()).collect();
        prop_assert_eq!(back.unwrap(), frames);
    }

    #[test]
    fn any_octets_give_at_most_a_result_a_line(text in prop::collection::vec(any::<u8>(), 0..400)) {
        let lines = text.split(|&octet| octet == b'\n').count();
        prop_assert!(read(&text).len() <= lines);
    }

    #[test]
    fn damaged_lines_never_panic(flips in prop::collection::vec((0..EXAMPLE.len(), any::<u8>()), 1..6)) {
        let mut line = EXAMPLE.as_bytes().to_vec();
        for (at, octet) in flips {
            line[at] = octet;
        }
        for frame in read(&line).into_iter().flatten() {
            prop_assert!(frame.value.len() <= 3);
        }
    }
}
