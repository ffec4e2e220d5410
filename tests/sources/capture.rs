//! Captures: one real exchange between two independent Bluetooth hosts against Wireshark's reading of it, packets
//! made up for what it does not hold, and damage.

use crate::harness::script::{ALL, BEGIN, Datalink, Packet, Script, file, hex, octets, packets};
use proptest::prelude::*;
use quietcuff::frame::Frame;
use quietcuff::gatt::Characteristic;
use quietcuff::radio::capture::{Capture, CaptureError, CaptureSummary, Damage};
use std::io::Cursor;
use std::path::Path;
use std::process::Command;

const SESSION: &[u8] = include_bytes!("../../fixtures/captures/session.btsnoop");

fn read(bytes: &[u8]) -> Result<(Vec<Frame>, CaptureSummary), CaptureError> {
    let mut capture = Capture::open(Cursor::new(bytes))?;
    let frames = capture.by_ref().collect::<Result<_, _>>()?;
    Ok((frames, capture.summary().clone()))
}

/// What can be compared: time in microseconds, characteristic, value.
pub(crate) type Heard = (i64, String, String);

fn heard(frames: &[Frame]) -> Vec<Heard> {
    frames
        .iter()
        .map(|frame| {
            let at = frame.received_at.as_microsecond();
            (at, frame.characteristic.to_string(), hex(&frame.value))
        })
        .collect()
}

/// Every read response, notification and indication that tshark sees in the file and can name, from the same side.
pub(crate) fn tshark(path: &Path) -> Vec<Heard> {
    let output = Command::new("tshark")
        .arg("-r")
        .arg(path)
        .args(["-T", "json", "-x", "-Y"])
        .arg("btatt.opcode in {0x0b, 0x1b, 0x1d}")
        .output()
        .expect("tshark has to be installed: apt-get install tshark");
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    let packets: Vec<serde_json::Value> = serde_json::from_slice(&output.stdout).unwrap();
    packets
        .iter()
        .map(|packet| {
            let layers = &packet["_source"]["layers"];
            let epoch = layers["frame"]["frame.time_epoch"].as_str().unwrap();
            let (seconds, nanos) = epoch.split_once('.').unwrap();
            let at = seconds.parse::<i64>().unwrap() * 1_000_000 + nanos.parse::<i64>().unwrap() / 1000;
            let pdu = layers["btatt_raw"][0].as_str().unwrap();
            // A read response does not repeat the handle.
            let value = pdu.strip_prefix("0b").unwrap_or_else(|| &pdu[6..]);
            let handle = &layers["btatt"]["btatt.handle_tree"]["btatt.uuid16"];
            let uuid = handle.as_str().unwrap().trim_start_matches("0x");
            (at, uuid.to_owned(), value.to_owned())
        })
        .collect()
}

#[test]
fn the_session_reads_as_tshark_reads_it_in_every_datalink() {
    let session = packets(SESSION);
    let directory = tempfile::tempdir().unwrap();
    for datalink in ALL {
        let path = directory.path().join(format!("{datalink:?}.btsnoop"));
        let bytes = file(datalink, &session);
        if datalink == Datalink::H4 {
            assert_eq!(bytes.len(), SESSION.len());
        }
        std::fs::write(&path, &bytes).unwrap();
        let (frames, summary) = read(&bytes).unwrap();
        let expected = tshark(&path);
        assert_eq!(heard(&frames), expected, "{datalink:?}");
        let count = |uuid: &str| expected.iter().filter(|(_, u, _)| u == uuid).count();
        assert_eq!((count("2a35"), count("2a36"), expected.len()), (4, 3, 15));
        assert_eq!(summary.frames, 15);
        assert_eq!(summary.values, 15);
        assert_eq!(summary.records, session.len() as u64);
        assert_eq!(summary.remarks(), Vec::<String>::new());
        for frame in &frames {
            // The identity that the monitor distributed, not the address that it was reached at.
            assert_eq!(frame.monitor.as_str(), "C1:11:12:13:14:15");
            assert_eq!(frame.connection, 1);
        }
    }
}

/// What the frames' characteristics are, as far as the fixtures hold them.
const OF_INTEREST: [&str; 14] = [
    "2a00", "2a01", "2a19", "2a23", "2a24", "2a25", "2a26", "2a29", "2a2b", "2a35", "2a36", "2a49", "2a50",
    "2b34",
];

#[test]
fn every_capture_of_the_fixtures_reads_as_tshark_reads_it() {
    let mut captures = 0;
    for entry in std::fs::read_dir("fixtures/captures").unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_some_and(|extension| extension == "btsnoop") {
            let (frames, summary) = read(&std::fs::read(&path).unwrap()).unwrap();
            let mut expected = tshark(&path);
            expected.retain(|(_, uuid, _)| OF_INTEREST.contains(&uuid.as_str()));
            assert_eq!(heard(&frames), expected, "{}", path.display());
            assert_eq!(summary.remarks(), Vec::<String>::new(), "{}", path.display());
            captures += 1;
        }
    }
    assert!(captures > 0);
}

#[test]
fn a_bonded_reconnect_uses_what_an_earlier_or_a_later_connection_told() {
    let [a, b] = [[0xc0, 0xff, 0xee, 0, 0, 1], [0xc0, 0xff, 0xee, 0, 0, 2]];
    let mut script = Script::default();
    script.connect(64, 1, a).received(64, "1d1000 0a").disconnect(64);
    script.connect(65, 1, b);
    script.connect(64, 1, a).discover(64, 0x10, 0x2a35);
    script.received(64, "1d1000 0b").disconnect(64);
    script.connect(64, 1, a).received(64, "1d1000 0c");
    // Another device uses the same handle for something that nobody told.
    script.received(65, "1d1000 0d").received(64, "1d1000 0e");
    for datalink in ALL {
        let (frames, summary) = read(&file(datalink, &script.packets)).unwrap();
        let seen: Vec<_> = frames
            .iter()
            .map(|f| (f.monitor.as_str(), f.connection, f.value[0]))
            .collect();
        let monitor = "C0:FF:EE:00:00:01";
        assert_eq!(
            seen,
            [
                (monitor, 1, 10),
                (monitor, 2, 11),
                (monitor, 3, 12),
                (monitor, 3, 14)
            ]
        );
        assert_eq!((summary.unknown_handles, summary.ignored_peers), (1, 1));
        assert!(summary.remarks()[0].contains("record a first connection"));
    }
}

#[test]
fn only_what_a_blood_pressure_monitor_sends_becomes_a_frame() {
    let mut script = Script::default();
    script.connect(1, 0, [0, 1, 2, 3, 4, 5]);
    script
        .discover(1, 3, 0x2a00)
        .discover(1, 5, 0x2a05)
        .discover(1, 7, 0x2a35);
    script.connect(2, 0, [0, 1, 2, 3, 4, 6]).discover(2, 3, 0x2a19);
    script.received(2, "1b0300 63"); // a battery that is no monitor's
    script.received(1, "1d0500 0100ffff"); // Service Changed
    script.sent(1, "1d0700 aa"); // an indication of our own server
    script.received(1, "0b 41"); // a response that nobody asked for
    script
        .sent(1, "0a0300")
        .received(1, "0b 4142")
        .sent(1, "0a0300")
        .received(1, "010a03000f");
    script.received(1, "0b 43"); // the request before was answered by an error
    script.received(1, "230700 0100 bb 0300 0200 4344"); // two notifications in one PDU
    let (frames, summary) = read(&file(Datalink::H4, &script.packets)).unwrap();
    let seen: Vec<_> = heard(&frames)
        .into_iter()
        .map(|(_, uuid, value)| uuid + ":" + &value)
        .collect();
    assert_eq!(seen, ["2a00:4142", "2a35:bb", "2a00:4344"]);
    assert_eq!(summary.ignored_peers, 1);
}

#[test]
fn attributes_are_learnt_from_every_kind_of_discovery() {
    let mut script = Script::default();
    // The service, and no characteristic of it: the battery's value is found by its attributes alone.
    script.connect(1, 0, [0, 1, 2, 3, 4, 5]);
    script.sent(1, "100100ffff0028");
    script.received(1, "1106 0100 0500 0018 0600 0900 1018");
    script
        .sent(1, "040100ffff")
        .received(1, "0501 0800 192a 0900 0229");
    script
        .received(1, "1b0800 63")
        .received(1, "1b0900 64")
        .disconnect(1);
    // A full UUID, in a declaration and in a list of attributes.
    let uuid = hex(&octets("00002a3500001000800000805f9b34fb")
        .into_iter()
        .rev()
        .collect::<Vec<_>>());
    script.connect(1, 0, [0, 1, 2, 3, 4, 6]);
    script
        .sent(1, "080100ffff0328")
        .received(1, &format!("0915 0200 20 0300 {uuid}"));
    script.received(1, "1d0300 01").disconnect(1);
    script.connect(1, 0, [0, 1, 2, 3, 4, 7]);
    script
        .sent(1, "040100ffff")
        .received(1, &format!("0502 0300 {uuid}"))
        .received(1, "1d0300 02");
    let (frames, summary) = read(&file(Datalink::H1, &script.packets)).unwrap();
    let seen: Vec<_> = heard(&frames)
        .into_iter()
        .map(|(_, uuid, value)| uuid + ":" + &value)
        .collect();
    assert_eq!(seen, ["2a19:63", "2a35:01", "2a35:02"]);
    assert_eq!(
        (summary.unknown_handles, summary.ignored_peers, summary.malformed),
        (0, 0, 0)
    );
}

#[test]
fn a_connection_ends_with_whatever_ends_it() {
    let address = [0xc0, 0xff, 0xee, 0, 0, 1];
    let heard_after = |end: &dyn Fn(&mut Script)| {
        let mut script = Script::default();
        script
            .connect(1, 1, address)
            .discover(1, 7, 0x2a35)
            .received(1, "1d0700 01");
        end(&mut script);
        script.received(1, "1d0700 02");
        let (frames, summary) = read(&file(Datalink::Monitor, &script.packets)).unwrap();
        assert_eq!(frames.len() as u64 + summary.without_connection, 2);
        frames.iter().map(|frame| frame.connection).collect::<Vec<_>>()
    };
    assert_eq!(heard_after(&|_| ()), [1, 1]);
    assert_eq!(
        heard_after(&|script| {
            script.disconnect(1);
        }),
        [1]
    );
    assert_eq!(
        heard_after(&|script| {
            script.disconnect(2);
        }),
        [1, 1]
    );
    // Disconnection that failed; Reset; another connection under the same handle.
    assert_eq!(
        heard_after(&|script| {
            script.event(0x05, &[0x12, 1, 0, 0]);
        }),
        [1, 1]
    );
    assert_eq!(
        heard_after(&|script| {
            script.event(0x0e, &[1, 0x03, 0x0c, 0]);
        }),
        [1]
    );
    assert_eq!(
        heard_after(&|script| {
            script.connect(1, 1, address);
        }),
        [1, 2]
    );
    // The adapter appears, goes away, is opened, is closed; and it is only described, or a note is taken.
    for (opcode, ends) in [
        (0, true),
        (1, true),
        (8, true),
        (9, true),
        (10, false),
        (12, false),
    ] {
        let connections = heard_after(&|script| {
            script.monitor(opcode, &[0; 16]);
        });
        assert_eq!(connections.len(), if ends { 1 } else { 2 }, "{opcode}");
    }
    // LE Enhanced Connection Complete, which has two more addresses, in both versions; and one that failed.
    for (subevent, status, expected) in [(0x0a, 0, [1, 2]), (0x29, 0, [1, 2]), (0x0a, 0x3e, [1, 1])] {
        let mut parameters = vec![subevent, status, 1, 0, 0, 1];
        parameters.extend(address.iter().rev());
        parameters.extend([0; 20]);
        assert_eq!(
            heard_after(&|script| {
                script.event(0x3e, &parameters);
            }),
            expected
        );
    }
}

#[test]
fn more_connections_or_peers_than_can_be_are_counted_and_not_followed() {
    let mut script = Script::default();
    for n in 0..70 {
        script.connect(n, 0, [0, 0, 0, 0, n.to_be_bytes()[0], n.to_be_bytes()[1]]);
    }
    let (_, summary) = read(&file(Datalink::H4, &script.packets)).unwrap();
    assert_eq!(summary.not_followed, 6);
    let mut script = Script::default();
    for n in 0..1030u16 {
        let [high, low] = n.to_be_bytes();
        script.connect(1, 0, [0, 0, 0, 1, high, low]);
    }
    let (_, summary) = read(&file(Datalink::H4, &script.packets)).unwrap();
    assert_eq!(summary.not_followed, 6);
    assert!(summary.remarks()[0].contains("too many"));
}

#[test]
fn long_values_are_put_together() {
    let name = "Invented cuff with a long name";
    let first = hex(&name.as_bytes()[..22]);
    let second = hex(&name.as_bytes()[22..]);
    let mut script = Script::default();
    script
        .connect(1, 0, [0, 1, 2, 3, 4, 5])
        .discover(1, 3, 0x2a00)
        .discover(1, 7, 0x2a35);
    // In two parts; in one that just fits, told by an error, by an empty part, by the next request, by the end.
    script.sent(1, "0a0300").received(1, &format!("0b{first}"));
    script.sent(1, "0c03001600").received(1, &format!("0d{second}"));
    script.sent(1, "0a0300").received(1, &format!("0b{first}"));
    script.sent(1, "0c03001600").received(1, "010c030007");
    script.sent(1, "0a0300").received(1, &format!("0b{first}"));
    script.sent(1, "0c03001600").received(1, "0d");
    script.sent(1, "0a0300").received(1, &format!("0b{first}"));
    script.sent(1, "0a0300").received(1, "0b41");
    // By type, which names handle and characteristic at once; and all of it at a larger MTU.
    script.sent(1, "080100ffff002a").received(1, "09050300424344");
    script
        .sent(1, "080100ffff192a")
        .received(1, "0903 2000 41 2100 42");
    script.sent(1, "024000").received(1, "034000");
    script
        .sent(1, "0a0300")
        .received(1, &format!("0b{first}{second}"));
    script.sent(1, "024000").received(1, "031700");
    script.sent(1, "0a0300").received(1, &format!("0b{first}"));
    let (frames, _) = read(&file(Datalink::H4, &script.packets)).unwrap();
    let values: Vec<_> = frames
        .iter()
        .map(|f| std::str::from_utf8(&f.value).unwrap())
        .collect();
    let cut = &name[..22];
    assert_eq!(values, [name, cut, cut, cut, "A", "BCD", "A", "B", name, cut]);
    // A value was received when its last part was. The script takes a second for each packet.
    let seconds: Vec<_> = frames.iter().map(|f| f.received_at.as_second() - BEGIN).collect();
    assert_eq!(seconds, [8, 10, 16, 18, 20, 22, 24, 24, 28, 32]);
}

#[test]
fn fragments_of_any_size_give_the_same_frames() {
    for fragment in [1, 2, 3, 5, 27] {
        let mut script = Script {
            fragment,
            ..Script::default()
        };
        script.connect(1, 0, [0, 1, 2, 3, 4, 5]).discover(1, 7, 0x2a35);
        script.received(1, "1d0700 1e830054006300e807050f07020b4200010000");
        let (frames, summary) = read(&file(Datalink::Monitor, &script.packets)).unwrap();
        assert_eq!(heard(&frames)[0].2, "1e830054006300e807050f07020b4200010000");
        assert_eq!((frames.len(), summary.malformed), (1, 0));
    }
}

#[test]
fn private_addresses_are_resolved_by_the_keys_that_the_file_holds() {
    // Core Vol 3 Part H appendix D.7: this key made 70:81:94:0D:FB:AA.
    let mut irk = octets("ec0234a357c8ad05341010a60a397d9b");
    irk.reverse();
    let private = [0x70, 0x81, 0x94, 0x0d, 0xfb, 0xaa];
    let stranger = [0x70, 0x81, 0x94, 0x0d, 0xfb, 0xab];
    let identity = [0xc0, 0xff, 0xee, 0, 0, 1];
    let mut address = vec![0x09, 1];
    address.extend(identity.iter().rev());
    let mut key = vec![0x08];
    key.extend(&irk);
    let mut resolving_list = address[1..].to_vec();
    resolving_list.extend(&irk);
    resolving_list.extend([0; 16]);

    let mut script = Script::default();
    script
        .connect(1, 1, private)
        .sent(1, "080100ffff002a")
        .received(1, "0903 0300 00")
        .discover(1, 7, 0x2a35)
        .received(1, "1d0700 01")
        .disconnect(1);
    script
        .connect(1, 1, stranger)
        .discover(1, 7, 0x2a35)
        .received(1, "1d0700 02")
        .disconnect(1);
    let before = script.packets.clone();
    // The controller resolved it itself.
    script
        .connect(1, 3, identity)
        .received(1, "1d0700 03")
        .disconnect(1);
    let by_type = script.packets.clone();
    // The monitor told its identity.
    script
        .connect(1, 1, [0x4a, 1, 2, 3, 4, 5])
        .received(1, "1d0700 04");
    script
        .security(1, &key)
        .security(1, &address)
        .received(1, "1d0700 05");
    let by_security = script.packets.clone();
    script.packets = before.clone();
    script.command(0x2027, &resolving_list);
    let by_command = script.packets.clone();

    let told = |packets: &[Packet]| {
        let (frames, summary) = read(&file(Datalink::H4, packets)).unwrap();
        let list: Vec<_> = frames
            .iter()
            .map(|f| format!("{} {} {}", f.monitor, f.connection, f.value[0]))
            .collect();
        (list.join(", "), summary.unresolved.len())
    };
    let (p, s, c) = ("70:81:94:0D:FB:AA", "70:81:94:0D:FB:AB", "C0:FF:EE:00:00:01");
    assert_eq!(told(&before), (format!("{p} 1 0, {p} 1 1, {s} 1 2"), 2));
    // The third connection has no discovery of its own, and nothing says that the first is the same monitor's.
    assert_eq!(told(&by_type), (format!("{p} 1 0, {p} 1 1, {s} 1 2"), 2));
    assert_eq!(
        told(&by_security),
        (format!("{c} 1 0, {c} 1 1, {s} 1 2, {c} 2 3, {c} 3 4, {c} 3 5"), 1)
    );
    assert_eq!(told(&by_command), (format!("{c} 1 0, {c} 1 1, {s} 1 2"), 1));
}

#[test]
fn every_truncation_gives_a_beginning_of_the_frames() {
    let (whole, _) = read(SESSION).unwrap();
    let mut boundary = vec![16];
    for packet in packets(SESSION) {
        boundary.push(boundary.last().unwrap() + 24 + packet.h4.len());
    }
    for cut in 0..SESSION.len() {
        match read(&SESSION[..cut]) {
            Ok((frames, summary)) => {
                assert!(cut >= 16);
                // Before the monitor has told its identity it goes by the address of the connection.
                assert!(heard(&whole).starts_with(&heard(&frames)), "cut at {cut}");
                let damage = summary.broken.map(|broken| broken.what);
                let clean = boundary.contains(&cut);
                assert_eq!(damage, (!clean).then_some(Damage::CutOff), "cut at {cut}");
            }
            Err(error) => assert!(cut < 16 && matches!(error, CaptureError::Header), "{error}"),
        }
    }
}

#[test]
fn lying_lengths_and_unknown_kinds_are_told() {
    let mut lying = SESSION.to_vec();
    lying[16 + 4..16 + 8].copy_from_slice(&u32::MAX.to_be_bytes());
    let (frames, summary) = read(&lying).unwrap();
    assert_eq!(frames, []);
    assert_eq!(
        summary.remarks(),
        [
            "record 1 at octet 16 claims 4294967295 octets, more than an HCI packet can have; what follows was not read."
        ]
    );
    // The original length is not believed, whatever it says.
    let mut lying = SESSION.to_vec();
    lying[16..20].copy_from_slice(&u32::MAX.to_be_bytes());
    assert_eq!(read(&lying).unwrap(), read(SESSION).unwrap());
    // A time outside the calendar.
    let mut lying = SESSION.to_vec();
    lying[32..40].copy_from_slice(&i64::MIN.to_be_bytes());
    assert_eq!(read(&lying).unwrap().1.broken.unwrap().what, Damage::Time);
    let mut other = SESSION.to_vec();
    other[12..16].copy_from_slice(&1003u32.to_be_bytes());
    let refused = read(&other).unwrap_err().to_string();
    assert!(refused.starts_with("its datalink is 1003; "), "{refused}");
    other[8..12].copy_from_slice(&2u32.to_be_bytes());
    assert!(matches!(read(&other), Err(CaptureError::Version(2))));
}

#[test]
fn a_capture_that_begins_in_the_middle_says_so() {
    let session = packets(SESSION);
    let late = file(Datalink::H4, &session[60..]);
    let (frames, summary) = read(&late).unwrap();
    assert_eq!(frames, []);
    assert!(summary.without_connection > 50);
    assert!(summary.remarks()[0].contains("start recording before the monitor connects"));
}

#[test]
fn the_indications_are_where_the_profile_puts_them() {
    let (frames, _) = read(SESSION).unwrap();
    let readings = frames
        .iter()
        .filter(|f| f.characteristic == Characteristic::BLOOD_PRESSURE_MEASUREMENT);
    assert_eq!(readings.count(), 4);
}

proptest! {
    #[test]
    fn flipped_octets_never_panic(
        flips in prop::collection::vec((0..SESSION.len(), any::<u8>()), 1..40),
        datalink in prop::sample::select(vec![1001u32, 1002, 2001]),
    ) {
        let mut bytes = SESSION.to_vec();
        bytes[12..16].copy_from_slice(&datalink.to_be_bytes());
        for (at, octet) in flips {
            bytes[at] = octet;
        }
        if let Ok((frames, summary)) = read(&bytes) {
            prop_assert_eq!(frames.len() as u64, summary.frames);
            prop_assert!(summary.frames <= summary.values);
            prop_assert!(frames.iter().all(|f| f.value.len() <= 512));
        }
    }

    /// Packets that are well framed, so that the damage reaches the upper layers.
    #[test]
    fn strange_packets_never_panic(
        strange in prop::collection::vec(
            (any::<bool>(), prop::sample::select(vec![4u16, 6]), prop::sample::select(
                vec![1u8, 2, 3, 4, 5, 6, 8, 9, 0x0a, 0x0b, 0x0c, 0x0d, 0x10, 0x11, 0x1b, 0x1d, 0x23],
            ), prop::collection::vec(any::<u8>(), 0..60)),
            0..60,
        ),
        fragment in 0usize..9,
    ) {
        let mut script = Script { fragment, ..Script::default() };
        script.connect(1, 0, [0, 1, 2, 3, 4, 5]).discover(1, 7, 0x2a35);
        for (received, channel, opcode, rest) in strange {
            let pdu = hex(&[opcode]) + &hex(&rest);
            match (channel, received) {
                (4, true) => script.received(1, &pdu),
                (4, false) => script.sent(1, &pdu),
                _ => script.security(1, &octets(&pdu)),
            };
        }
        let (frames, summary) = read(&file(Datalink::Monitor, &script.packets)).unwrap();
        prop_assert_eq!(frames.len() as u64, summary.frames);
        prop_assert_eq!(summary.records, script.packets.len() as u64);
    }
}
