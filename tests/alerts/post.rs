//! Never twice, never lost: the rules and the ledger under random times of looking, restarts, kills and failures.

use crate::alerts::made::{at, look, reading, session};
use jiff::{SignedDuration, Timestamp};
use proptest::prelude::*;
use quietcuff::home::alerts::look::Look;
use quietcuff::home::alerts::post::Post;
use quietcuff::home::alerts::routes::{Alerts, Route};
use quietcuff::journal::{Journal, Standing};
use quietcuff::monitoring::reminders::{Kind, Silent};
use quietcuff::reading::Reading;
use quietcuff::sitting::Slot;
use quietcuff::technique::session::Session;
use std::collections::BTreeMap;

fn alerts(routes: &[Route]) -> Alerts {
    Alerts {
        route: routes.to_vec(),
        ..Alerts::default()
    }
}

fn webhook(name: &str) -> Route {
    Route {
        name: name.into(),
        webhook: Some("http://127.0.0.1:1/".into()),
        ..Route::default()
    }
}

fn command(name: &str) -> Route {
    Route {
        name: name.into(),
        command: Some(vec!["/bin/true".into()]),
        ..Route::default()
    }
}

/// A home with its ledger, and what arrived at the other end, by route and key.
struct Home {
    _dir: tempfile::TempDir,
    journal: Journal,
    alerts: Alerts,
    post: Post,
    arrived: BTreeMap<(String, String), usize>,
}

#[derive(Clone, Copy, PartialEq, Debug)]
enum Fate {
    Sent,
    Failed,
    /// Killed before it went out, and after.
    KilledBefore,
    KilledAfter,
}

impl Home {
    fn new(alerts: Alerts) -> Self {
        let dir = tempfile::tempdir().unwrap();
        let mut journal = Journal::open(dir.path()).unwrap();
        let post = Post::new(alerts.clone(), &mut journal, at(27, 0, 0)).unwrap();
        Self {
            _dir: dir,
            journal,
            alerts,
            post,
            arrived: BTreeMap::new(),
        }
    }

    fn restart(&mut self, now: Timestamp) {
        self.post = Post::new(self.alerts.clone(), &mut self.journal, now).unwrap();
    }

    /// Looks once; everything that goes out meets this fate. Returns the subjects that arrived, by route.
    fn step(&mut self, look: &Look, now: Timestamp, fate: Fate) -> Vec<(String, String)> {
        let mut said = Vec::new();
        let jobs = self.post.due(&mut self.journal, look, now).unwrap();
        for job in &jobs {
            if matches!(fate, Fate::Sent | Fate::KilledAfter) {
                let arrived = (job.route.clone(), job.message.key.clone());
                *self.arrived.entry(arrived).or_default() += 1;
                said.push((job.route.clone(), job.message.text.clone()));
            }
            match fate {
                Fate::Sent => self.post.done(&mut self.journal, job, Ok(()), now).unwrap(),
                Fate::Failed => self.post.done(&mut self.journal, job, Err("down"), now).unwrap(),
                Fate::KilledBefore | Fate::KilledAfter => {}
            }
        }
        if matches!(fate, Fate::KilledBefore | Fate::KilledAfter) {
            self.restart(now);
        }
        said
    }

    fn times(&self, route: &str, key: &str) -> usize {
        self.arrived
            .get(&(route.to_owned(), key.to_owned()))
            .copied()
            .unwrap_or(0)
    }
}

const MORNING: &str = "session-due/asha/2026-03-27/morning";

#[test]
fn quiet_hours_hold_back_all_but_what_is_urgent() {
    let mut home = Home::new(alerts(&[webhook("r")]));
    let mut known = look("Asha", vec![]);
    known.readings = vec![reading(at(27, 5, 30), 190, 90, 70, 1)];
    for minute in 0..3 {
        home.step(&known, at(27, 5, 31 + minute), Fate::Sent);
    }
    assert_eq!(home.arrived.len(), 1, "{:?}", home.arrived);
    assert!(
        home.arrived
            .keys()
            .all(|(_, key)| key.starts_with("urgent/asha/very-high/measure-again/"))
    );
    let next = home.post.next_moment(&known, at(27, 5, 40));
    assert_eq!(next, Some(at(27, 7, 0)), "the end of quiet hours is waited for");
    home.step(&known, at(27, 7, 0), Fate::Sent);
    assert_eq!(home.times("r", MORNING), 1);
}

#[test]
fn what_is_done_meanwhile_is_not_asked_for() {
    let mut home = Home::new(alerts(&[webhook("r")]));
    home.step(&look("Asha", vec![]), at(27, 5, 30), Fate::Sent);
    assert_eq!(
        home.journal.alert(MORNING, "r").unwrap().unwrap().standing,
        Standing::Pending
    );
    let done = look("Asha", vec![session(at(27, 6, 0), Slot::Morning, 2)]);
    home.step(&done, at(27, 7, 0), Fate::Sent);
    assert!(home.arrived.is_empty());
    assert_eq!(
        home.journal.alert(MORNING, "r").unwrap().unwrap().standing,
        Standing::Dropped,
        "nobody has to be told of it"
    );
}

#[test]
fn routes_are_told_what_they_asked_for() {
    let caregiver = Route {
        caregiver: true,
        ..webhook("far")
    };
    let other = Route {
        people: Some(["ravi".parse().unwrap()].into()),
        ..webhook("ravi")
    };
    let only = Route {
        kinds: Some([Kind::Missed].into()),
        ..webhook("missed")
    };
    let mut home = Home::new(alerts(&[caregiver, other, only, webhook("all")]));
    let known = look("Asha", vec![]);
    home.step(&known, at(27, 8, 0), Fate::Sent);
    home.step(&known, at(27, 12, 0), Fate::Sent);
    let routes = |key: &str| -> Vec<&str> {
        home.arrived
            .keys()
            .filter(|(_, one)| one == key)
            .map(|(route, _)| route.as_str())
            .collect()
    };
    assert_eq!(routes(MORNING), ["all"]);
    assert_eq!(routes("missed/asha/2026-03-27/morning"), ["all", "far", "missed"]);
}

/// Where the receiver can tell a repeat it is sent again; a command runs again for what is urgent only.
#[test]
fn killed_between_the_sending_and_the_ledger() {
    let mut home = Home::new(alerts(&[webhook("hook"), command("lamp")]));
    let mut known = look("Asha", vec![]);
    known.readings = vec![reading(at(27, 8, 0), 190, 90, 70, 1)];
    home.step(&known, at(27, 8, 1), Fate::KilledAfter);
    home.step(&known, at(27, 8, 2), Fate::Sent);
    home.step(&known, at(27, 8, 3), Fate::KilledAfter);
    home.step(&known, at(27, 8, 4), Fate::Sent);
    home.step(&known, at(27, 8, 5), Fate::Sent);
    let urgent = home
        .arrived
        .keys()
        .find(|(_, key)| key.starts_with("urgent/"))
        .unwrap()
        .1
        .clone();
    assert_eq!((home.times("hook", &urgent), home.times("hook", MORNING)), (2, 2));
    assert_eq!((home.times("lamp", &urgent), home.times("lamp", MORNING)), (2, 1));
    let entry = home.journal.alert(MORNING, "lamp").unwrap().unwrap();
    assert_eq!(entry.standing, Standing::Sent);
    assert!(entry.problem.unwrap().contains("cut off"));
}

/// A channel that is down for a day: what is still worth saying is said, what is not is said of once.
#[test]
fn a_channel_that_was_down_for_a_day() {
    let mut home = Home::new(alerts(&[webhook("r")]));
    let known = look("Asha", vec![]);
    let mut now = at(27, 8, 0);
    let mut tries = 0;
    while now < at(28, 8, 0) {
        let before = home
            .journal
            .open_alerts()
            .unwrap()
            .iter()
            .map(|e| e.tries)
            .sum::<u32>();
        home.step(&known, now, Fate::Failed);
        let after = home
            .journal
            .open_alerts()
            .unwrap()
            .iter()
            .map(|e| e.tries)
            .sum::<u32>();
        tries += usize::from(after > before);
        now += SignedDuration::from_secs(30);
    }
    assert!(tries > 10 && tries < 150, "backs off: {tries} tries in a day");
    let mut said = Vec::new();
    for _ in 0..60 {
        said.extend(home.step(&known, now, Fate::Sent));
        now += SignedDuration::from_secs(60);
    }
    for key in [
        "session-due/asha/2026-03-28/morning",
        "missed/asha/2026-03-27/morning",
        "missed/asha/2026-03-27/evening",
    ] {
        assert_eq!(home.times("r", key), 1, "{key}");
    }
    assert_eq!(home.times("r", MORNING), 0, "its window is over");
    let lapsed: Vec<&String> = said
        .iter()
        .map(|(_, text)| text)
        .filter(|text| text.contains("not worth"))
        .collect();
    assert_eq!(lapsed.len(), 1, "{said:?}");
    assert!(lapsed[0].contains("2 × session due"), "{lapsed:?}");
    assert_eq!(said.len(), 4);
}

/// Told as nobody's, then said to be Asha's: who had the numbers hears it once, who is told of her alone hears it now.
#[test]
fn a_reading_that_was_told_as_nobodys_is_not_told_again_to_who_had_it() {
    let hers = Route {
        people: Some(["asha".parse().unwrap()].into()),
        ..webhook("hers")
    };
    let mut home = Home::new(alerts(&[webhook("all"), hers]));
    let mut known = look("Asha", vec![]);
    let mut high = reading(at(27, 8, 0), 190, 90, 70, 1);
    high.person = None;
    known.readings = vec![high];
    let urgent = |home: &Home| -> Vec<(String, String)> {
        let all = home.arrived.keys().cloned();
        all.filter(|(_, key)| key.starts_with("urgent/")).collect()
    };
    home.step(&known, at(27, 8, 1), Fate::Sent);
    let first = urgent(&home);
    assert_eq!(first.len(), 2, "both, for it may be anybody's: {first:?}");
    known.readings[0].person = Some("asha".parse().unwrap());
    for minute in 2..6 {
        home.step(&known, at(27, 8, minute), Fate::Sent);
    }
    let new: Vec<_> = urgent(&home)
        .into_iter()
        .filter(|one| !first.contains(one))
        .collect();
    assert_eq!(new.len(), 1, "{new:?}");
    assert_eq!(new[0].0, "hers", "they were told no numbers before");
    assert!(new[0].1.starts_with("urgent/asha/"), "{new:?}");
    // A second one is another matter.
    known.readings.push(reading(at(27, 9, 0), 195, 92, 70, 2));
    for minute in 1..4 {
        home.step(&known, at(27, 9, minute), Fate::Sent);
    }
    assert_eq!(urgent(&home).len(), 5);
}

/// What failed the last time a matter came up says nothing of this time.
#[test]
fn what_is_taken_up_again_begins_anew() {
    let mut home = Home::new(alerts(&[webhook("r")]));
    let open = look("Asha", vec![]);
    let done = look("Asha", vec![session(at(27, 8, 30), Slot::Morning, 2)]);
    home.step(&open, at(27, 8, 0), Fate::Failed);
    home.step(&done, at(27, 9, 0), Fate::Sent);
    home.step(&done, at(27, 9, 1), Fate::Sent);
    let texts = |said: Vec<(String, String)>| said.into_iter().map(|(_, text)| text).collect::<Vec<_>>();
    assert_eq!(home.arrived.len(), 1, "that it lapsed: {:?}", home.arrived);
    // A reading is undone, and the morning is open again; then it is done before the channel was tried.
    home.post.due(&mut home.journal, &open, at(27, 9, 10)).unwrap();
    home.restart(at(27, 9, 11));
    let entry = home.journal.alert(MORNING, "r").unwrap().unwrap();
    assert_eq!((entry.since, entry.channel_failed), (at(27, 9, 10), false));
    let said = texts(home.step(&done, at(27, 9, 12), Fate::Sent));
    assert!(said.is_empty(), "nothing failed this time: {said:?}");
}

#[test]
fn a_route_that_is_gone_leaves_nothing_open() {
    let mut home = Home::new(alerts(&[webhook("old")]));
    let open = look("Asha", vec![]);
    home.step(&open, at(27, 8, 0), Fate::Failed);
    home.post
        .due(
            &mut home.journal,
            &look("Asha", vec![session(at(27, 8, 10), Slot::Morning, 2)]),
            at(27, 8, 20),
        )
        .unwrap();
    let standing = |home: &Home| home.journal.alert(MORNING, "old").unwrap().unwrap().standing;
    assert_eq!(standing(&home), Standing::Lapsed);
    home.alerts = alerts(&[webhook("new")]);
    home.restart(at(27, 9, 0));
    home.step(&open, at(27, 9, 0), Fate::Sent);
    assert_eq!(standing(&home), Standing::Dropped);
    assert!(home.journal.open_alerts().unwrap().is_empty());
}

#[test]
fn a_message_that_a_server_will_not_take_does_not_stand_before_the_others() {
    let mut home = Home::new(alerts(&[webhook("r")]));
    let mut known = look("Asha", vec![]);
    known.deaf = Some(quietcuff::monitoring::reminders::Deaf {
        since: at(27, 7, 0),
        from: Some(at(27, 7, 10)),
        why: "x".into(),
    });
    let mut now = at(27, 8, 0);
    let mut taken = Vec::new();
    for _ in 0..20 {
        for job in home.post.due(&mut home.journal, &known, now).unwrap() {
            let bad = job.message.kind == "session-due";
            let outcome = if bad { Err("422") } else { Ok(()) };
            home.post.done(&mut home.journal, &job, outcome, now).unwrap();
            if !bad {
                taken.push(job.message.key);
            }
        }
        now += SignedDuration::from_mins(1);
    }
    assert_eq!(taken.len(), 1, "{taken:?}");
    assert!(taken[0].starts_with("daemon-deaf/"));
}

/// A day of a person: what came of each of eight sessions, and one reading that may be very high.
fn sessions(outcomes: &[u8]) -> Vec<Session> {
    let mut made = Vec::new();
    for (n, outcome) in (0_i8..).zip(outcomes) {
        let (slot, hour) = if n % 2 == 0 {
            (Slot::Morning, 8)
        } else {
            (Slot::Evening, 19)
        };
        if *outcome > 0 {
            made.push(session(at(27 + n / 2, hour, 10), slot, usize::from(*outcome)));
        }
    }
    made
}

fn known_at(now: Timestamp, sessions: &[Session], readings: &[Reading]) -> Look {
    let mut known = look(
        "Asha",
        sessions
            .iter()
            .filter(|session| session.end <= now)
            .cloned()
            .collect(),
    );
    known.readings = readings
        .iter()
        .filter(|reading| reading.received_at <= now)
        .cloned()
        .collect();
    known
}

fn fates() -> impl Strategy<Value = Vec<(u16, u8)>> {
    prop::collection::vec((1_u16..400, 0_u8..8), 20..60)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, max_shrink_iters: 64, failure_persistence: None, ..ProptestConfig::default() })]

    /// Whatever the times of looking, the failures, the restarts and the kills: nothing arrives twice but what was cut
    /// off between the sending and the ledger, and that under the same key; and once a channel works, everything that
    /// is worth saying has arrived.
    #[test]
    fn never_twice_and_never_lost(
        outcomes in prop::collection::vec(0_u8..3, 8),
        high in 0_u16..2,
        steps in fates(),
    ) {
        let sessions = sessions(&outcomes);
        let readings = [reading(at(28, 19, 10), 150 + high * 40, 90, 70, 1)];
        let routes = [webhook("hook"), command("lamp"), Route { caregiver: true, ..webhook("far") }];
        let mut home = Home::new(alerts(&routes));
        let mut now = at(27, 0, 0);
        let mut kills: BTreeMap<(String, String), usize> = BTreeMap::new();
        for (minutes, fate) in steps {
            now += SignedDuration::from_mins(i64::from(minutes));
            let known = known_at(now, &sessions, &readings);
            let fate = match fate {
                0 | 1 => Fate::Failed,
                2 => Fate::KilledBefore,
                3 => Fate::KilledAfter,
                4 => { home.restart(now); Fate::Sent }
                _ => Fate::Sent,
            };
            let before = home.arrived.clone();
            home.step(&known, now, fate);
            if fate == Fate::KilledAfter {
                for (row, times) in &home.arrived {
                    if before.get(row) != Some(times) {
                        *kills.entry(row.clone()).or_default() += 1;
                    }
                }
            }
        }
        // The channels work from now on, at an hour that is not quiet.
        let civil = crate::alerts::made::berlin().to_datetime(now);
        let noon = civil.date().tomorrow().unwrap().at(12, 30, 0, 0);
        now = crate::alerts::made::berlin().to_timestamp(noon).unwrap();
        for _ in 0..120 {
            let known = known_at(now, &sessions, &readings);
            home.step(&known, now, Fate::Sent);
            now += SignedDuration::from_secs(15);
        }
        let known = known_at(now, &sessions, &readings);
        for reminder in known.reminders(Silent::default(), now).iter().filter(|one| one.is_due(now)) {
            for route in &routes {
                if !route.takes(reminder.kind(), reminder.person.as_ref()) {
                    continue;
                }
                let cut_off = route.name == "lamp"
                    && home.journal.alert(&reminder.key, "lamp").unwrap().unwrap().problem.is_some();
                prop_assert!(
                    home.times(&route.name, &reminder.key) >= 1 || cut_off,
                    "{} was lost to {}", reminder.key, route.name
                );
            }
        }
        for (row, times) in &home.arrived {
            let cut = kills.get(row).copied().unwrap_or(0);
            prop_assert!(*times <= 1 + cut, "{row:?} came {times} times, cut off {cut} times");
            if row.0 == "lamp" && !row.1.starts_with("urgent/") {
                prop_assert_eq!(*times, 1, "{:?}", row);
            }
        }
    }
}

/// A reading that is nobody's may be another's: a route for some people hears of it, and no numbers.
#[test]
fn numbers_of_nobody_do_not_go_to_whom_only_some_people_concern() {
    let mut home = look("Asha", vec![]);
    let mut nobodys = reading(at(27, 8, 0), 191, 112, 80, 1);
    nobodys.person = None;
    home.readings = vec![nobodys];
    let telling = |name: &str, people: Option<&str>| Route {
        values: Some(true),
        kinds: Some([Kind::Urgent].into()),
        people: people.map(|id| [id.parse().unwrap()].into()),
        ..webhook(name)
    };
    let dir = tempfile::tempdir().unwrap();
    let mut journal = Journal::open(dir.path()).unwrap();
    let routes = [telling("some", Some("asha")), telling("all", None)];
    let now = at(27, 8, 1);
    let mut post = Post::new(alerts(&routes), &mut journal, now).unwrap();
    let jobs = post.due(&mut journal, &home, now).unwrap();
    let told: Vec<_> = jobs
        .iter()
        .map(|job| {
            (
                job.route.as_str(),
                job.message.measured.is_some(),
                job.message.text.contains("191"),
            )
        })
        .collect();
    assert_eq!(told, [("some", false, false), ("all", true, true)]);
}
