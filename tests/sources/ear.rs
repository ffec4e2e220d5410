//! The second ear: what it takes of a channel's packets, against Wireshark's reading of the same file; and what the
//! journal makes of a frame that was heard twice.

use crate::harness::script::{Datalink, Script, file, hex};
use crate::sources::capture::tshark;
use proptest::prelude::*;
use quietcuff::frame::{Frame, Uptime};
use quietcuff::gatt::{BloodPressureMeasurement, Characteristic, Sfloat, Unit};
use quietcuff::household::{Monitor, MonitorAddress, Statement};
use quietcuff::journal::{Attribute, Attributes, Journal};
use quietcuff::radio::ear::btmon::{ChannelListener, listen};
use quietcuff::radio::ear::{EarCounts, ListenedTo, Overheard};
use std::path::Path;
use std::process::Command;

/// A pairing and a week's readings on the virtual bench, as `btmon -w` wrote them; see fixtures/README.md.
const WEEK_FILE: &str = "fixtures/captures/bench-week.btsnoop";
const WEEK: &[u8] = include_bytes!("../../fixtures/captures/bench-week.btsnoop");

const A35: Characteristic = Characteristic::BLOOD_PRESSURE_MEASUREMENT;
const FIRST: [u8; 6] = [0xc0, 0xff, 0xee, 0, 0, 1];
const SECOND: [u8; 6] = [0xc0, 0xff, 0xee, 0, 0, 2];
/// 120/80, mean 93, nothing else.
const PLAIN: &str = "00 7800 5000 5d00";

/// An address and what stands behind its handles.
type Enrolled = ([u8; 6], &'static [(u16, Characteristic)]);

#[derive(Default)]
struct Desk {
    known: ListenedTo,
    heard: Vec<Overheard>,
    counts: EarCounts,
    opened: u32,
}

impl ChannelListener for Desk {
    fn open(&mut self) {
        self.opened += 1;
    }
    fn known(&mut self) -> &ListenedTo {
        &self.known
    }
    fn heard(&mut self, overheard: Overheard) {
        self.heard.push(overheard);
    }
    fn counted(&mut self, counts: EarCounts) {
        self.counts = counts;
    }
}

fn shown(handles: &[(u16, Characteristic)], bonded: bool) -> Attributes {
    let attribute = |&(handle, characteristic)| {
        (
            handle,
            Attribute {
                characteristic,
                bonded,
            },
        )
    };
    handles.iter().map(attribute).collect()
}

fn overhear(capture: &[u8], known: &[Enrolled]) -> Desk {
    let mut desk = Desk::default();
    for (address, attributes) in known {
        desk.known
            .insert(MonitorAddress::from(*address), shown(attributes, false));
    }
    listen(capture, &mut desk).unwrap();
    assert_eq!(desk.opened, 1);
    desk
}

fn script(script: &Script) -> Vec<u8> {
    file(Datalink::Monitor, &script.packets)
}

fn values(desk: &Desk) -> Vec<String> {
    desk.heard.iter().map(|heard| hex(&heard.value)).collect()
}

fn spaced(text: &str) -> String {
    text.replace(' ', "")
}

/// The handle of the week's measurements, as tshark names it.
fn week_handle() -> u16 {
    let output = Command::new("tshark")
        .args([
            "-r",
            WEEK_FILE,
            "-Y",
            "btatt.opcode == 0x1d && btatt.uuid16 == 0x2a35",
        ])
        .args(["-T", "fields", "-e", "btatt.handle"])
        .output()
        .expect("tshark has to be installed: apt-get install tshark");
    let text = String::from_utf8(output.stdout).unwrap();
    u16::from_str_radix(text.lines().next().unwrap().trim_start_matches("0x"), 16).unwrap()
}

/// The one monitor of the recorded week, by the frames that `replay` reads from it.
fn week_monitor() -> [u8; 6] {
    let capture = quietcuff::radio::capture::Capture::open(std::io::Cursor::new(WEEK)).unwrap();
    let frame = capture.last().unwrap().unwrap();
    let mut octets = [0; 6];
    for (octet, pair) in octets.iter_mut().zip(frame.monitor.as_str().split(':')) {
        *octet = u8::from_str_radix(pair, 16).unwrap();
    }
    octets
}

#[test]
fn it_hears_of_the_recorded_week_what_tshark_finds_there() {
    let mut expected = tshark(Path::new(WEEK_FILE));
    expected.retain(|(_, uuid, _)| uuid == "2a35");
    assert_eq!(
        expected.len(),
        29,
        "two a session, fourteen sessions, and a repeat"
    );
    assert_eq!(week_handle(), 0x10);
    let mut desk = Desk::default();
    // The real one, which was paired: its link is encrypted.
    desk.known
        .insert(week_monitor().into(), shown(&[(0x10, A35)], true));
    listen(WEEK, &mut desk).unwrap();
    let heard: Vec<_> = desk
        .heard
        .iter()
        .map(|heard| {
            (
                heard.at.as_microsecond(),
                heard.characteristic.to_string(),
                hex(&heard.value),
            )
        })
        .collect();
    assert_eq!(heard, expected);
    assert_eq!(desk.counts.taken, 29);
    assert!(desk.heard.iter().all(|heard| heard.connected < heard.at));
}

#[test]
fn nothing_is_heard_of_a_monitor_that_is_not_enrolled() {
    let desk = overhear(WEEK, &[(SECOND, &[(3, A35)])]);
    assert_eq!(desk.heard, []);
    assert_eq!(
        desk.counts,
        EarCounts::default(),
        "strangers are not even counted"
    );
}

#[test]
fn only_an_indication_at_the_right_handle_that_is_a_measurement_is_taken() {
    let mut packets = Script::default();
    packets.connect(64, 1, FIRST);
    packets.received(64, &format!("1d 1000 {PLAIN}"));
    packets.received(64, &format!("1b 1000 {PLAIN}")); // notified
    packets.received(64, &format!("1d 1200 {PLAIN}")); // another handle
    packets.received(64, &format!("1d 1000 {PLAIN} 00")); // an octet too many
    packets.received(64, "1d 1000 00 7800 5000"); // too few
    packets.received(64, "1d 1000 1e 7800 5000 5d00"); // flags that ask for more
    packets.received(64, "1d 1000"); // nothing
    packets.received(64, "1d");
    packets.received(64, "");
    packets.received(64, &format!("1d 1000 {}", "00".repeat(512)));
    packets.received(64, &format!("1d 1000 {}", "00".repeat(513)));
    packets.sent(64, &format!("1d 1000 {PLAIN}")); // our own server's
    packets.security(64, &[0x1d, 0x10, 0]); // another channel
    packets.disconnect(64);
    packets.received(64, &format!("1d 1000 {PLAIN}")); // nobody's
    let desk = overhear(&script(&packets), &[(FIRST, &[(0x10, A35)])]);
    assert_eq!(values(&desk), [spaced(PLAIN)]);
    assert_eq!((desk.counts.taken, desk.counts.unknown_handle), (1, 1));
    assert_eq!(desk.counts.implausible, 5, "{:?}", desk.counts);
}

#[test]
fn a_monitor_that_moved_its_services_is_not_misread() {
    // What was the measurement's handle is now the cuff pressure's: the same layout, but notified.
    let mut packets = Script::default();
    packets.connect(64, 1, FIRST);
    packets.received(64, "1b 1000 00 3c00 ff07 ff07");
    packets.received(64, &format!("1d 1400 {PLAIN}"));
    let before = overhear(&script(&packets), &[(FIRST, &[(0x10, A35)])]);
    assert_eq!((before.heard.len(), before.counts.unknown_handle), (0, 1));
    let after = overhear(&script(&packets), &[(FIRST, &[(0x14, A35)])]);
    assert_eq!(values(&after), [spaced(PLAIN)]);
}

#[test]
fn fragments_are_put_together_and_links_are_kept_apart() {
    let mut packets = Script::default();
    packets.connect(64, 1, FIRST).connect(65, 1, SECOND);
    for size in 1..16 {
        packets.fragment = size;
        packets.received(64, &format!("1d 1000 {PLAIN}"));
    }
    packets.received(65, &format!("1d 1000 {PLAIN}"));
    let desk = overhear(
        &script(&packets),
        &[(FIRST, &[(0x10, A35)]), (SECOND, &[(0x20, A35)])],
    );
    assert_eq!(desk.heard.len(), 15);
    assert!(desk.heard.iter().all(|heard| heard.monitor == FIRST.into()));
    assert_eq!(
        desk.counts.unknown_handle, 1,
        "the same handle is another attribute elsewhere"
    );
}

#[test]
fn the_kernel_names_a_private_address() {
    let connected = |identity: [u8; 6], kind: u8| {
        // Cookie, event, address, type, flags, no advertising data.
        let mut parameters = vec![1, 0, 0, 0, 0x0b, 0x00];
        parameters.extend(identity.iter().rev());
        parameters.extend([kind, 0, 0, 0, 0, 0, 0]);
        parameters
    };
    let private = [0x4a, 0x11, 0x22, 0x33, 0x44, 0x55];
    let mut packets = Script::default();
    packets.connect(64, 1, private);
    packets.monitor(17, &connected(SECOND, 0)); // over BR/EDR: somebody else's
    packets.monitor(17, &connected(FIRST, 2));
    packets.monitor(17, &connected(SECOND, 2)); // not of this connection
    packets.received(64, &format!("1d 1000 {PLAIN}"));
    let known: [Enrolled; 2] = [(FIRST, &[(0x10, A35)]), (SECOND, &[(0x10, A35)])];
    let desk = overhear(&script(&packets), &known);
    let heard: Vec<_> = desk.heard.iter().map(|heard| heard.monitor.clone()).collect();
    assert_eq!(heard, [MonitorAddress::from(FIRST)]);
}

#[test]
fn a_bonded_monitor_is_believed_on_an_encrypted_link_only() {
    let encryption = |packets: &mut Script, enabled| {
        packets.event(0x08, &[0, 64, 0, enabled]);
    };
    let mut packets = Script::default();
    // Somebody with its address, who has no key.
    packets.connect(64, 1, FIRST);
    packets.received(64, "1d 1000 00 0100 5000 5d00");
    packets.event(0x08, &[5, 64, 0, 0]);
    packets.disconnect(64);
    // Itself; the first value has overtaken the event.
    packets.connect(64, 1, FIRST);
    packets.received(64, "1d 1000 00 0200 5000 5d00");
    encryption(&mut packets, 1);
    packets.received(64, "1d 1000 00 0300 5000 5d00");
    encryption(&mut packets, 0);
    for _ in 0..20 {
        packets.received(64, "1d 1000 00 0400 5000 5d00");
    }
    packets.disconnect(64);
    let mut desk = Desk::default();
    desk.known.insert(FIRST.into(), shown(&[(0x10, A35)], true));
    listen(script(&packets).as_slice(), &mut desk).unwrap();
    assert_eq!(values(&desk), ["00020050005d00", "00030050005d00"]);
    assert_eq!(desk.counts.taken, 2);
}

#[test]
fn an_adapter_that_goes_takes_its_connections_with_it() {
    for opcode in [1, 9] {
        let mut packets = Script::default();
        packets.connect(64, 1, FIRST).monitor(opcode, &[]);
        packets.received(64, &format!("1d 1000 {PLAIN}"));
        let desk = overhear(&script(&packets), &[(FIRST, &[(0x10, A35)])]);
        assert_eq!(desk.heard, []);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    /// Whatever is done to the packets, nothing panics, and what is taken is a measurement of somebody who is known.
    #[test]
    fn damage_never_makes_a_reading_of_a_strangers(
        damage in proptest::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..200),
        cut in any::<prop::sample::Index>(),
    ) {
        let mut capture = WEEK.to_vec();
        for (at, octet) in damage {
            // The file's own header stays: a pipe from btmon begins with it.
            let at = 16 + at.index(capture.len() - 16);
            capture[at] = octet;
        }
        capture.truncate(16 + cut.index(capture.len() - 16));
        let mut desk = Desk::default();
        let monitor = MonitorAddress::from(week_monitor());
        desk.known.insert(monitor.clone(), shown(&(1..=64).map(|handle| (handle, A35)).collect::<Vec<_>>(), true));
        let _ = listen(capture.as_slice(), &mut desk);
        for heard in desk.heard {
            prop_assert_eq!(&heard.monitor, &monitor);
            prop_assert!(BloodPressureMeasurement::decode(&heard.value).unwrap().trailing.is_empty());
        }
    }
}

// ---- in the journal

fn unstamped() -> Vec<u8> {
    let mmhg = |n: i16| Sfloat::new(n, 0).unwrap();
    let measurement = BloodPressureMeasurement {
        unit: Unit::MmHg,
        systolic: mmhg(120),
        diastolic: mmhg(80),
        mean_arterial_pressure: mmhg(93),
        time_stamp: None,
        pulse_rate: None,
        user_id: None,
        status: None,
        user_facing_time: None,
        reserved_flags: 0,
        trailing: &[],
    };
    measurement.encode().to_vec()
}

fn frame(millis: i64, overheard: bool) -> Frame {
    Frame {
        received_at: jiff::Timestamp::from_millisecond(1_772_344_800_000 + millis).unwrap(),
        offset: jiff::tz::Offset::UTC,
        uptime: None,
        given_to: None,
        overheard,
        monitor: FIRST.into(),
        connection: 1,
        characteristic: A35,
        value: unstamped(),
    }
}

/// The readings: their names, and whether the frame that they were made of was overheard.
fn readings(journal: &mut Journal) -> Vec<(String, bool)> {
    journal.settle().unwrap();
    let db = rusqlite::Connection::open(journal.path()).unwrap();
    let mut query = db
        .prepare("SELECT reading.id, overheard FROM reading JOIN frame ON frame.id = reading.frame ORDER BY reading.received_us")
        .unwrap();
    let rows = query.query_map([], |row| Ok((row.get(0)?, row.get(1)?))).unwrap();
    rows.map(Result::unwrap).collect()
}

fn journal(directory: &Path) -> Journal {
    let mut journal = Journal::open(directory).unwrap();
    let statement = Statement::Monitor {
        monitor: "m1".parse().unwrap(),
        details: Monitor {
            address: Some(FIRST.into()),
            ..Monitor::default()
        },
    };
    journal.state(jiff::Timestamp::UNIX_EPOCH, &[statement]).unwrap();
    journal
}

/// Two equal measurements without stamp, half a minute apart, each heard twice; a third that BlueZ told nobody of.
#[test]
fn a_frame_heard_twice_is_one_reading_in_whichever_order_it_arrives() {
    let told = [frame(0, false), frame(30_000, false)];
    let overheard = [frame(-40, true), frame(29_960, true), frame(60_000, true)];
    let all: Vec<Frame> = told.iter().chain(&overheard).cloned().collect();
    let mut expected = None;
    for first in 0..all.len() {
        for step in [1, 2, 3, 4] {
            let directory = tempfile::tempdir().unwrap();
            let mut journal = journal(directory.path());
            for place in 0..all.len() {
                let next = &all[(first + place * step) % all.len()];
                journal.append(std::slice::from_ref(next)).unwrap();
                // As a daemon does it, after each.
                journal.settle().unwrap();
            }
            let live = readings(&mut journal);
            journal.rebuild().unwrap();
            assert_eq!(readings(&mut journal), live, "rebuilding gives the same");
            assert_eq!(
                live.iter().map(|(_, overheard)| *overheard).collect::<Vec<_>>(),
                [false, false, true]
            );
            assert_eq!(*expected.get_or_insert_with(|| live.clone()), live);
        }
    }
    // Without the ear the two that were told have the same names.
    let directory = tempfile::tempdir().unwrap();
    let mut journal = journal(directory.path());
    journal.append(&told).unwrap();
    assert_eq!(readings(&mut journal), expected.unwrap()[..2]);
}

#[test]
fn it_counts_connections_as_the_collector_does() {
    let directory = tempfile::tempdir().unwrap();
    let mut journal = journal(directory.path());
    let monitor = MonitorAddress::from(FIRST);
    let number = |journal: &Journal, millis| {
        let begun = frame(millis, true).received_at;
        journal.connection_begun_at(&monitor, begun, None).unwrap()
    };
    assert_eq!(number(&journal, 0), 1);
    let mut earlier = frame(0, false);
    earlier.connection = 7;
    let mut missed = frame(20_000, true);
    missed.connection = 8;
    journal.append(&[earlier, missed]).unwrap();
    assert_eq!(number(&journal, -1), 1, "before it was ever told of");
    assert_eq!(number(&journal, 10_000), 8);
    assert_eq!(
        number(&journal, 30_000),
        8,
        "the collector does not count one that told it nothing"
    );
    assert_eq!(journal.last_connection(&monitor).unwrap(), 7);
}

/// A small computer without a battery boots into a time before its last frames; its connections go on all the same.
#[test]
fn it_counts_connections_on_a_clock_that_is_behind() {
    let directory = tempfile::tempdir().unwrap();
    let mut journal = journal(directory.path());
    let monitor = MonitorAddress::from(FIRST);
    let up = |boot: &str, millis: i64| Uptime {
        boot: boot.to_owned(),
        micros: millis * 1000,
    };
    let told = |millis, boot, uptime, connection| Frame {
        uptime: Some(up(boot, uptime)),
        connection,
        ..frame(millis, false)
    };
    journal
        .append(&[
            told(0, "first", 900_000, 6),
            told(3_600_000, "first", 4_500_000, 7),
        ])
        .unwrap();
    // Half an hour before the last frame, says the wall clock.
    let begun = frame(1_800_000, true).received_at;
    let number = |journal: &Journal, millis| {
        let uptime = up("second", millis);
        journal
            .connection_begun_at(&monitor, begun, Some(&uptime))
            .unwrap()
    };
    assert_eq!(number(&journal, 10_000), 8);
    // What this very connection told already does not count.
    journal.append(&[told(1_800_500, "second", 10_500, 8)]).unwrap();
    assert_eq!(number(&journal, 10_000), 8);
    assert_eq!(number(&journal, 20_000), 9);
}

#[test]
fn what_bluez_shows_last_of_the_handles_counts() {
    let directory = tempfile::tempdir().unwrap();
    let journal = journal(directory.path());
    let monitor = MonitorAddress::from(FIRST);
    assert_eq!(journal.attributes(&monitor).unwrap(), Attributes::new());
    for handles in [
        &[(0x10, A35)][..],
        &[
            (0x20, A35),
            (0x24, Characteristic::ENHANCED_BLOOD_PRESSURE_MEASUREMENT),
        ],
    ] {
        let shown = shown(handles, handles.len() > 1);
        for _ in 0..2 {
            journal.learn_attributes(&monitor, &shown).unwrap();
            assert_eq!(journal.attributes(&monitor).unwrap(), shown);
        }
    }
    assert_eq!(journal.attributes(&SECOND.into()).unwrap(), Attributes::new());
}
