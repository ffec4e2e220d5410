use super::*;
use crate::edge::Edge;
use crate::gatt::ConsentCode;
use crate::radio::report::{Need, UsersReport};
use jiff::Timestamp;
use jiff::tz::TimeZone;
use std::sync::{Arc, Mutex};
use tokio::sync::mpsc;

const MEASUREMENT: Characteristic = Characteristic::BLOOD_PRESSURE_MEASUREMENT;

/// A monitor with a User Control Point and users with codes. It refuses the subscription until somebody consented,
/// where it `guards`, and does not answer at all where it is `mute`.
struct Monitor {
    line: Arc<MonitorLine>,
    users: Mutex<Vec<(u8, u16)>>,
    guards: bool,
    mute: bool,
    asked: Mutex<Vec<Vec<u8>>>,
}

impl Askable for Monitor {
    async fn read(&self, _: Characteristic) -> Result<Option<Vec<u8>>, String> {
        Ok(None)
    }

    fn has(&self, wanted: Characteristic) -> bool {
        [CONTROL_POINT, MEASUREMENT].contains(&wanted)
    }

    async fn listen_to(&self, wanted: &[Characteristic]) -> Result<(), String> {
        let consented = self.line.users.accepted_so_far() > 0;
        if wanted.contains(&MEASUREMENT) && self.guards && !consented {
            return Err("ATT error 0x80".to_owned());
        }
        Ok(())
    }

    async fn write(&self, wanted: Characteristic, value: Vec<u8>) -> Option<Result<(), String>> {
        assert_eq!(wanted, CONTROL_POINT);
        self.asked.lock().unwrap().push(value.clone());
        let request = UserControl::decode(&value).unwrap();
        let (op, code) = (request.op_code, request.code().unwrap().expose());
        let answer = {
            let mut users = self.users.lock().unwrap();
            match request.index() {
                Some(user) if users.contains(&(user, code)) => vec![0x20, op, 1],
                Some(_) => vec![0x20, op, 5],
                None if users.len() >= 2 => vec![0x20, op, 4],
                None => {
                    let user = u8::try_from(users.len()).unwrap() + 1;
                    users.push((user, code));
                    vec![0x20, op, 1, user]
                }
            }
        };
        if !self.mute {
            self.line.heard(CONTROL_POINT, answer).await;
        }
        Some(Ok(()))
    }
}

fn monitor(users: &[(u8, u16)]) -> (Monitor, mpsc::Receiver<Entry>) {
    let (frames, journal) = mpsc::channel(64);
    let edge = Edge::new(TimeZone::UTC);
    let mut line = MonitorLine::new("C0:FF:EE:00:00:01".parse().unwrap(), edge, frames, 1, false);
    line.users.limit = Some(Duration::from_millis(50));
    let monitor = Monitor {
        line: Arc::new(line),
        users: Mutex::new(users.to_vec()),
        guards: true,
        mute: false,
        asked: Mutex::default(),
    };
    (monitor, journal)
}

fn consent(user: Option<u8>, code: u16) -> UserConsent {
    UserConsent {
        user,
        code: ConsentCode::new(code).unwrap(),
        given: Timestamp::UNIX_EPOCH,
    }
}

/// One visit; what is said of it.
async fn visited(monitor: &Monitor, values: u32) -> Option<UsersReport> {
    if monitor.listen_to(&[MEASUREMENT]).await.is_err() {
        monitor.line.users.refuses();
    }
    let left = begin(monitor, &monitor.line).await;
    assert_eq!(fetch_all(monitor, &monitor.line, left).await, AfterFetch::Stay);
    monitor.line.users.ended(values)
}

#[tokio::test]
async fn a_consent_is_given_at_each_visit_and_what_was_refused_is_asked_for_again() {
    let (monitor, _journal) = monitor(&[(1, 42)]);
    monitor.line.users.know(vec![consent(Some(1), 42)]);
    for _ in 0..2 {
        let said = visited(&monitor, 1).await.unwrap();
        assert_eq!(
            (said.given.as_slice(), said.needs, said.problem("m1")),
            (&[1][..], None, None)
        );
        assert!(monitor.line.has_subscribed());
        monitor.line.ended();
    }
    assert_eq!(*monitor.asked.lock().unwrap(), [[2, 1, 42, 0], [2, 1, 42, 0]]);
}

#[tokio::test]
async fn without_a_consent_nothing_is_written_and_a_person_is_told() {
    let (monitor, _journal) = monitor(&[(1, 42)]);
    let said = visited(&monitor, 0).await.unwrap();
    assert_eq!(said.needs, Some(Need::Refuses));
    let (found, todo) = said.problem("m1").unwrap();
    assert!(
        found.contains("before one of them consents") && todo.contains("monitors consent m1"),
        "{found}"
    );
    assert_eq!(monitor.asked.lock().unwrap().len(), 0);
    let (mut monitor, _journal) = self::monitor(&[(1, 42)]);
    monitor.guards = false;
    assert_eq!(visited(&monitor, 0).await.unwrap().needs, Some(Need::Silent));
    // It may well send without.
    assert_eq!(visited(&monitor, 1).await.unwrap().needs, None);
    assert_eq!(visited(&monitor, 0).await.unwrap().needs, None);
}

#[tokio::test]
async fn a_wrong_code_is_given_once_and_never_said() {
    let (monitor, _journal) = monitor(&[(1, 4711)]);
    monitor.line.users.know(vec![consent(Some(1), 4712)]);
    for _ in 0..3 {
        let said = visited(&monitor, 0).await.unwrap();
        assert_eq!(
            (said.given.as_slice(), said.wrong.as_slice()),
            (&[][..], &[1][..])
        );
        let (found, _) = said.problem("m1").unwrap();
        assert!(found.contains("its user 1") && !found.contains("471"), "{found}");
    }
    assert_eq!(
        monitor.asked.lock().unwrap().len(),
        1,
        "a monitor may lock itself after a few"
    );
    monitor.line.users.know(vec![consent(Some(1), 4711)]);
    assert_eq!(visited(&monitor, 1).await.unwrap().given, [1]);
}

#[tokio::test]
async fn of_two_users_each_is_let_in() {
    let (monitor, _journal) = monitor(&[(1, 42), (2, 43)]);
    monitor
        .line
        .users
        .know(vec![consent(Some(1), 42), consent(Some(2), 43)]);
    assert_eq!(visited(&monitor, 2).await.unwrap().given, [1, 2]);
    // One whose code is wrong does not keep the other one out.
    monitor
        .line
        .users
        .know(vec![consent(Some(1), 1), consent(Some(2), 43)]);
    let said = visited(&monitor, 2).await.unwrap();
    assert_eq!(
        (said.given.as_slice(), said.wrong.as_slice()),
        (&[2][..], &[1][..])
    );
}

#[tokio::test]
async fn who_is_to_be_registered_is_so_once_and_gets_an_index() {
    let (monitor, mut journal) = monitor(&[(1, 42)]);
    monitor.line.users.know(vec![consent(None, 7)]);
    assert_eq!(visited(&monitor, 1).await.unwrap().given, [2]);
    let mut registered = Vec::new();
    while let Ok(entry) = journal.try_recv() {
        if let Entry::Registered(_, user) = entry {
            registered.push(user);
        }
    }
    assert_eq!(registered, [2]);
    // The journal may not know the index yet.
    monitor.line.users.know(vec![consent(None, 7)]);
    assert_eq!(visited(&monitor, 1).await.unwrap().given, [2]);
    assert_eq!(
        monitor
            .asked
            .lock()
            .unwrap()
            .iter()
            .filter(|asked| asked[0] == 1)
            .count(),
        1
    );
    // There is no room for a third.
    monitor.line.users.know(vec![UserConsent {
        given: Timestamp::MAX,
        ..consent(None, 8)
    }]);
    let said = visited(&monitor, 0).await.unwrap();
    assert!(said.not_registered && said.problem("m1").unwrap().0.contains("did not register"));
}

#[tokio::test]
async fn a_monitor_that_does_not_answer_is_left_alone() {
    let (mut monitor, _journal) = monitor(&[(1, 42)]);
    monitor.mute = true;
    monitor.line.users.know(vec![consent(Some(1), 42)]);
    let said = visited(&monitor, 0).await.unwrap();
    assert_eq!(
        (said.given.as_slice(), said.needs),
        (&[][..], Some(Need::Refuses))
    );
}
