use super::*;
use crate::edge::Edge;
use crate::journal::Entry;
use jiff::tz::TimeZone;
use std::collections::HashMap;
use std::sync::Mutex;
use std::time::Duration;
use tokio::sync::mpsc;

const TIME: Characteristic = Characteristic::CURRENT_TIME;

/// A monitor with these values, which shows what was written to `shows`.
struct Monitor {
    holds: Mutex<HashMap<Characteristic, Vec<u8>>>,
    written: Mutex<Vec<(Characteristic, Vec<u8>)>>,
    takes: bool,
}

impl Monitor {
    fn with(holds: &[(Characteristic, Vec<u8>)], takes: bool) -> Self {
        Self {
            holds: Mutex::new(holds.iter().cloned().collect()),
            written: Mutex::default(),
            takes,
        }
    }

    fn written(&self) -> Vec<(Characteristic, Vec<u8>)> {
        std::mem::take(&mut self.written.lock().unwrap())
    }
}

impl Askable for Monitor {
    async fn read(&self, wanted: Characteristic) -> Result<Option<Vec<u8>>, String> {
        Ok(self.holds.lock().unwrap().get(&wanted).cloned())
    }

    fn has(&self, wanted: Characteristic) -> bool {
        self.holds.lock().unwrap().contains_key(&wanted)
    }

    async fn listen_to(&self, _: &[Characteristic]) -> Result<(), String> {
        Ok(())
    }

    async fn write(&self, wanted: Characteristic, value: Vec<u8>) -> Option<Result<(), String>> {
        self.written.lock().unwrap().push((wanted, value.clone()));
        if self.takes {
            self.holds.lock().unwrap().insert(wanted, value);
        }
        Some(Ok(()))
    }
}

fn line() -> (MonitorLine, mpsc::Receiver<Entry>) {
    let (frames, kept) = mpsc::channel(64);
    let edge = Edge::new(TimeZone::UTC);
    let mut line = MonitorLine::new("C0:FF:EE:00:00:01".parse().unwrap(), edge, frames, 1, false);
    line.clock_settles = Duration::from_millis(1);
    (line, kept)
}

fn shows(text: &str) -> Vec<u8> {
    let time = CurrentTime::from_civil(text.parse().unwrap(), AdjustReason::default());
    time.unwrap().encode().to_vec()
}

fn now() -> Vec<u8> {
    let civil = TimeZone::UTC.to_datetime(Timestamp::now());
    CurrentTime::from_civil(civil, AdjustReason::default())
        .unwrap()
        .encode()
        .to_vec()
}

#[tokio::test]
async fn a_clock_that_was_never_set_is_set_and_one_that_is_off_is_left_alone() {
    for (value, set) in [
        (shows("2000-01-01T00:03:00"), true),
        (vec![0; 10], true),
        (shows("2024-05-01T07:00:00"), false),
        (now(), false),
        (vec![1, 2], false),
    ] {
        let (line, _kept) = line();
        let monitor = Monitor::with(&[(TIME, value.clone())], true);
        how_are_you(&monitor, &line).await;
        assert_eq!(!monitor.written().is_empty(), set, "{value:02x?}");
    }
}

#[tokio::test]
async fn a_gateway_that_is_not_sure_itself_sets_no_clock_unasked() {
    let (line, _kept) = line();
    line.edge().tell_synchronized(Some(false));
    let monitor = Monitor::with(&[(TIME, vec![0; 10])], true);
    how_are_you(&monitor, &line).await;
    assert_eq!(monitor.written(), []);
    line.set_clock.store(true, Ordering::Relaxed);
    how_are_you(&monitor, &line).await;
    assert_eq!(monitor.written().len(), 1);
}

/// Nothing at the first visit, the time at the second, and at each one after that where it helped.
#[tokio::test]
async fn one_that_waits_for_the_time_is_given_it() {
    for helps in [true, false] {
        let (line, mut kept) = line();
        tokio::spawn(async move { while kept.recv().await.is_some() {} });
        let monitor = Monitor::with(&[(TIME, now())], true);
        let mut given = Vec::new();
        for _ in 0..4 {
            line.subscribed();
            how_are_you(&monitor, &line).await;
            given.push(!monitor.written().is_empty());
            if helps && given.last() == Some(&true) {
                line.heard(Characteristic::BLOOD_PRESSURE_MEASUREMENT, vec![0; 7])
                    .await;
            }
            line.ended();
        }
        assert_eq!(given, [false, true, helps, helps], "helps: {helps}");
    }
}

/// It gets the time that it shows: a clock that is off is a person's to set. One that has spoken waits for nothing.
#[tokio::test]
async fn one_that_waits_and_is_off_keeps_its_own_time() {
    let (line, mut kept) = line();
    tokio::spawn(async move { while kept.recv().await.is_some() {} });
    let off = shows("2024-05-01T07:00:00");
    let monitor = Monitor::with(&[(TIME, off.clone())], true);
    line.subscribed();
    how_are_you(&monitor, &line).await;
    line.ended();
    assert_eq!(monitor.written(), []);
    line.subscribed();
    line.heard(Characteristic::BLOOD_PRESSURE_MEASUREMENT, vec![0; 7])
        .await;
    how_are_you(&monitor, &line).await;
    assert_eq!(monitor.written(), [], "it has spoken");
    line.ended();
    line.subscribed();
    line.ended();
    how_are_you(&monitor, &line).await;
    assert_eq!(monitor.written(), [(TIME, off)]);
}

#[tokio::test]
async fn device_time_is_proposed_where_it_says_that_it_is_at_fault() {
    let device_time = |status: u8| vec![0, 0, 0, 1, 0, 0, status, 0];
    let holds = |status, checked| {
        [
            (Characteristic::DEVICE_TIME, device_time(status)),
            (DEVICE_TIME_FEATURE, vec![checked, 0]),
            (DEVICE_TIME_CONTROL_POINT, vec![]),
        ]
    };
    for (status, checked, set) in [
        (0x11, 0, true),
        (0x18, 0, true),
        (0x10, 0, false),
        (0x11, 1, false),
    ] {
        let (line, _kept) = line();
        let monitor = Monitor::with(&holds(status, checked), false);
        how_are_you(&monitor, &line).await;
        let written = monitor.written();
        assert_eq!(written.len(), usize::from(set), "{status:#x} {checked}");
        for (to, value) in written {
            assert_eq!(to, DEVICE_TIME_CONTROL_POINT);
            assert_eq!(value.len(), 11);
            assert_eq!(value[..3], [0x02, 0xcb, 0]);
            let seconds = u32::from_le_bytes(value[3..7].try_into().unwrap());
            let at = Timestamp::from_second(946_684_800 + i64::from(seconds)).unwrap();
            assert!(Timestamp::now().duration_since(at).as_secs().abs() < 60, "{at}");
            assert_eq!(value[7..], [0, 0, 0, 255]);
        }
    }
}
