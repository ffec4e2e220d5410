//! What is worth saying to somebody who does not look: a session due, a very high reading, a monitor that
//! fell silent.
//!
//! A pure function of what is known; the moment only says how far around it to look. Each reminder has a span
//! of time in which it is worth saying, and a key made of what it is about, so that looking again, or after a
//! restart, finds the same reminder and not another one. Who is told, by which way, and what was told already
//! is for [`crate::home::alerts`].
//!
//! Sessions are asked for only within a period that was begun: nobody is nagged for ever.

use crate::household::{Household, MonitorId, PersonId, Zones};
use crate::monitoring::care::{Care, Due, Task};
use crate::monitoring::escalation::{self, Alert};
use crate::monitoring::listening::ListeningTrouble;
use crate::monitoring::next::Schedule;
use crate::monitoring::period::Period;
use crate::monitoring::plan::Plan;
use crate::monitoring::protocols::Protocols;
use crate::reading::Reading;
use crate::sitting::{SITTING_GAP, SessionRule, Slot, Windows};
use crate::technique::Context;
use crate::technique::session::Session;
use jiff::civil::{Date, Time, time};
use jiff::{SignedDuration, Timestamp, ToSpan};
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

/// What a reminder is about.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// A very high or low reading, a pulse to act on, or symptoms.
    Urgent,
    /// A session is due.
    SessionDue,
    /// A session was begun and readings are missing.
    HalfDone,
    /// A session was missed.
    Missed,
    /// A period is over.
    PeriodFinished,
    /// A battery is low.
    BatteryLow,
    /// A monitor has not been heard for long.
    MonitorSilent,
    /// A machine in another room has not been heard for long.
    ListenerSilent,
    /// A monitor wants checking or replacing.
    CheckDue,
    /// The daemon hears nothing.
    DaemonDeaf,
    /// The last good backup is old.
    BackupDue,
    /// Nothing goes on to the clinic's server.
    DeliveryStuck,
    /// The levels of pregnancy do not hold any more.
    AfterBirth,
}

impl Kind {
    /// All of them.
    pub const ALL: [Self; 13] = [
        Self::Urgent,
        Self::SessionDue,
        Self::HalfDone,
        Self::Missed,
        Self::PeriodFinished,
        Self::BatteryLow,
        Self::MonitorSilent,
        Self::ListenerSilent,
        Self::CheckDue,
        Self::DaemonDeaf,
        Self::BackupDue,
        Self::DeliveryStuck,
        Self::AfterBirth,
    ];

    /// As the configuration and listings write it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Urgent => "urgent",
            Self::SessionDue => "session-due",
            Self::HalfDone => "half-done",
            Self::Missed => "missed",
            Self::PeriodFinished => "period-finished",
            Self::BatteryLow => "battery-low",
            Self::MonitorSilent => "monitor-silent",
            Self::ListenerSilent => "listener-silent",
            Self::CheckDue => "check-due",
            Self::DaemonDeaf => "daemon-deaf",
            Self::BackupDue => "backup-due",
            Self::DeliveryStuck => "delivery-stuck",
            Self::AfterBirth => "after-birth",
        }
    }

    /// The kind of this name.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.name() == name)
    }
}

/// Something worth saying.
#[derive(Clone, PartialEq, Debug)]
pub struct Reminder {
    /// Names it: the same matter has the same key, whenever it is looked at.
    pub key: String,
    /// About whom; `None` for a monitor, the daemon, and a reading that is nobody's yet.
    pub person: Option<PersonId>,
    /// From when on it is worth saying.
    pub from: Timestamp,
    /// From when on it is not any more; `None` where it is as long as it holds.
    pub until: Option<Timestamp>,
    /// The matter that is worth saying, with what is known of it.
    pub what: What,
}

/// What is to be said.
#[derive(Clone, PartialEq, Debug)]
pub enum What {
    /// A session is due.
    SessionDue {
        /// The part of the day whose session is due.
        slot: Slot,
        /// When its window closes.
        closes: Timestamp,
    },
    /// Readings of a session are missing.
    HalfDone {
        /// The part of the day whose session was begun.
        slot: Slot,
        /// How many readings count.
        counted: usize,
        /// How many it needs.
        wanted: usize,
        /// Until when another reading still joins the same sitting.
        sitting_until: Timestamp,
        /// When its window closes.
        closes: Timestamp,
    },
    /// No complete session was received.
    Missed {
        /// The part of the day of which no complete session was received.
        slot: Slot,
        /// Of which day.
        date: Date,
        /// How many readings count.
        counted: usize,
    },
    /// A period is over.
    PeriodFinished(Box<Period>),
    /// Something that must not wait, with the reading that it comes from.
    Urgent(Alert, Option<Box<Reading>>),
    /// Nothing since then is in a good backup.
    BackupDue {
        /// When the last good one was made.
        backed_up: Timestamp,
    },
    /// A battery is low.
    BatteryLow {
        /// Of which monitor.
        monitor: MonitorId,
        /// The battery level that the monitor told last, in percent.
        percent: u8,
    },
    /// A monitor has not been heard.
    MonitorSilent {
        /// The monitor that has not been heard.
        monitor: MonitorId,
        /// When it was last heard, or enrolled if never.
        heard: Timestamp,
    },
    /// A machine in another room has not been heard.
    ListenerSilent(ListenerHeard),
    /// A machine in another room calls, and runs a version that is not understood here.
    ListenerApart(ListenerHeard),
    /// Nothing is taken in of what other rooms hear: the program that does so is not there.
    DoorShut {
        /// When anything was last taken in.
        heard: Timestamp,
    },
    /// A monitor wants checking or replacing.
    CheckDue {
        /// The monitor that wants checking or replacing.
        monitor: MonitorId,
        /// The task that is due for the monitor, with its day and its reason.
        due: Due,
    },
    /// The daemon hears nothing.
    DaemonDeaf(Deaf),
    /// Nothing goes on to the clinic's server.
    DeliveryStuck(ListeningTrouble),
    /// The levels of pregnancy do not hold any more, from this day on.
    AfterBirth(Date),
}

/// Since when the daemon hears nothing, and why.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Deaf {
    /// The moment since which the daemon hears nothing.
    pub since: Timestamp,
    /// From when on it is worth saying; `None` as long as who watches has not seen [`DEAF_AFTER`] of it. A
    /// machine that was off for the night was deaf all night, and starts in a minute.
    pub from: Option<Timestamp>,
    /// What is known of the reason.
    pub why: String,
}

impl Reminder {
    /// That the daemon hears nothing, once it is worth saying.
    pub fn of_deaf(deaf: &Deaf) -> Option<Self> {
        Some(Self {
            key: format!("daemon-deaf/{}", deaf.since.as_second()),
            person: None,
            from: deaf.from?,
            until: None,
            what: What::DaemonDeaf(deaf.clone()),
        })
    }

    /// What it is about.
    pub const fn kind(&self) -> Kind {
        match self.what {
            What::SessionDue { .. } => Kind::SessionDue,
            What::HalfDone { .. } => Kind::HalfDone,
            What::Missed { .. } => Kind::Missed,
            What::PeriodFinished(_) => Kind::PeriodFinished,
            What::Urgent(..) => Kind::Urgent,
            What::BatteryLow { .. } => Kind::BatteryLow,
            What::MonitorSilent { .. } => Kind::MonitorSilent,
            What::ListenerSilent(_) | What::ListenerApart(_) | What::DoorShut { .. } => Kind::ListenerSilent,
            What::BackupDue { .. } => Kind::BackupDue,
            What::CheckDue { .. } => Kind::CheckDue,
            What::DaemonDeaf(_) => Kind::DaemonDeaf,
            What::DeliveryStuck(_) => Kind::DeliveryStuck,
            What::AfterBirth(_) => Kind::AfterBirth,
        }
    }

    /// Whether quiet hours do not hold it back.
    pub const fn is_urgent(&self) -> bool {
        matches!(self.what, What::Urgent(..))
    }

    /// Whether it is worth saying at this moment.
    pub fn is_due(&self, now: Timestamp) -> bool {
        self.from <= now && !self.is_over(now)
    }

    /// The key that something urgent had as long as its reading was nobody's.
    pub fn key_as_nobodys(&self) -> Option<String> {
        let (What::Urgent(alert, Some(reading)), Some(_)) = (&self.what, &self.person) else {
            return None;
        };
        Some(key_of_alert(None, alert, &reading.id.0))
    }

    /// Whether its time has passed.
    pub fn is_over(&self, now: Timestamp) -> bool {
        self.until.is_some_and(|until| until <= now)
    }
}

/// Everything that reminders are made of.
#[derive(Clone, Copy, Debug)]
pub struct Known<'a> {
    /// People, monitors and notes.
    pub household: &'a Household,
    /// The household's clock.
    pub zones: &'a Zones,
    /// The protocols that its periods are run by.
    pub protocols: &'a Protocols,
    /// What each person did.
    pub people: &'a [Measured],
    /// Readings of the last days, of everybody and of nobody.
    pub readings: &'a [Reading],
    /// Each monitor that is listened to.
    pub monitors: &'a [MonitorHeard],
    /// Whether the daemon hears nothing.
    pub deaf: Option<&'a Deaf>,
    /// What keeps readings from the clinic's server, since whoever watches has seen it.
    pub stuck: Option<&'a (Timestamp, ListeningTrouble)>,
    /// Until when everything is in a good backup; none where the household wants no backups.
    pub backed_up: Option<Timestamp>,
    /// The machines in other rooms that hand on what they hear.
    pub rooms: Rooms<'a>,
    /// How long a silence is worth a word.
    pub silent: Silent,
}

/// Machines in other rooms, as who watches sees them.
#[derive(Clone, Copy, Debug, Default)]
pub struct Rooms<'a> {
    /// Each of which frames are taken.
    pub listeners: &'a [ListenerHeard],
    /// Whether nothing is taken in at the moment. Then no listener is called silent, since none can be heard.
    pub shut: bool,
}

/// How long a silence is worth a word.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Silent {
    /// Of a monitor, in days.
    pub monitor_days: u16,
    /// Of a machine in another room, in minutes.
    pub listener_minutes: u16,
}

impl Default for Silent {
    fn default() -> Self {
        Self {
            // A week, which is how seldom long-term monitoring measures (common practice), and a day.
            monitor_days: 8,
            // It says each minute that it is there. A router that starts anew and most power cuts take less than this,
            // and the next session is later (own choice).
            listener_minutes: 60,
        }
    }
}

impl Silent {
    /// How long a listener may be silent before it is worth a word.
    pub fn listener(self) -> SignedDuration {
        SignedDuration::from_mins(self.listener_minutes.into())
    }
}

/// How a machine in another room is.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct ListenerHeard {
    /// Its id.
    pub id: String,
    /// What the household calls it: where it stands, else its id.
    pub name: String,
    /// When it was last heard; when it was let in, if never.
    pub heard: Timestamp,
    /// When it last called and was refused for the version of its program, where it was not understood since; and which.
    pub refused: Option<(Timestamp, String)>,
    /// The monitors that were last heard by it: by id, or by address where the household does not know one.
    pub monitors: BTreeSet<String>,
}

impl ListenerHeard {
    /// When there was a word of it at all, understood or not.
    pub fn called(&self) -> Timestamp {
        let refused = self.refused.as_ref().map_or(Timestamp::MIN, |(at, _)| *at);
        self.heard.max(refused)
    }
}

/// What a person planned and did.
#[derive(Clone, PartialEq, Debug)]
pub struct Measured {
    /// The person who planned and measured.
    pub person: PersonId,
    /// Their periods, each with the moment at which it was stated.
    pub plans: Vec<(Plan, Timestamp)>,
    /// Their sessions of the last days.
    pub sessions: Vec<Session>,
    /// Those of their periods that are, or will soon be, over.
    pub periods: Vec<Period>,
}

/// How a monitor is.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct MonitorHeard {
    /// The monitor that this is about.
    pub monitor: MonitorId,
    /// When it was last heard; when it was enrolled, if never.
    pub heard: Timestamp,
    /// Since when every battery level that it told was low.
    pub battery_low_since: Option<Timestamp>,
    /// What its care wants.
    pub care: Care,
}

/// A pause in a sitting that is longer than the minute between two readings, and than anybody stays seated
/// who has not forgotten (own choice).
pub const HALF_DONE_AFTER: SignedDuration = SignedDuration::from_mins(3);
/// A missed session is worth a word until the same hour of the next day (own choice).
pub const MISSED_STANDS: SignedDuration = SignedDuration::from_hours(24);
/// For how long after its end the news of a period is worth telling: until a visit that was planned for it
/// (own choice).
pub const FINISHED_STANDS: SignedDuration = SignedDuration::from_hours(14 * 24);
/// For how long after their end it is said that the levels of pregnancy do not hold any more: until the next visit, as
/// above (own choice).
pub const ENDED_IS_NEWS: SignedDuration = FINISHED_STANDS;
/// A restart of the daemon, of bluetoothd or of the machine takes less (own choice).
pub const DEAF_AFTER: SignedDuration = SignedDuration::from_mins(10);
/// A server that is down for a night mends itself, and so does a machine that was off (own choice).
pub const STUCK_AFTER: SignedDuration = SignedDuration::from_hours(24);
/// How far back readings and sessions matter here: what a missed session of yesterday's night window needs.
pub const BACK: SignedDuration = SignedDuration::from_hours(3 * 24);
/// An alert that ended so long ago is told nobody any more, and neither is that it was not told (own choice).
const ENDED: SignedDuration = SignedDuration::from_hours(24);

/// Everything that is, was lately, or will soon be worth saying.
pub fn reminders(known: &Known<'_>, around: Timestamp) -> Vec<Reminder> {
    let mut all: Vec<Reminder> = urgent(known, around);
    for measured in known.people {
        let alive = known
            .household
            .people
            .get(&measured.person)
            .is_some_and(|(_, removed)| !removed);
        if alive {
            all.extend(of_sessions(known, measured, around));
            all.extend(finished(known, measured));
            all.extend(after_birth(known, &measured.person));
        }
    }
    for heard in known.monitors {
        all.extend(of_monitor(known, heard));
    }
    all.extend(of_rooms(known));
    all.extend(known.deaf.and_then(Reminder::of_deaf));
    all.extend(of_backups(known));
    all.extend(known.stuck.map(|(since, trouble)| Reminder {
        key: format!("delivery-stuck/{}", since.as_second()),
        person: None,
        from: later(*since, STUCK_AFTER),
        until: None,
        what: What::DeliveryStuck(trouble.clone()),
    }));
    all.sort_by(|a, b| (a.kind(), a.from, &a.key).cmp(&(b.kind(), b.from, &b.key)));
    all.dedup_by(|a, b| a.key == b.key);
    all
}

/// What must not wait: every alert that was raised, so that what was said, and under which key, does not
/// depend on when somebody looked. One that was overtaken, settled or answered is worth no message any more.
fn urgent(known: &Known<'_>, around: Timestamp) -> Vec<Reminder> {
    let notes = known.household.notes_in_time();
    let context = Context {
        household: known.household,
        notes: &notes,
        zone: known.zones.at(around),
        rule: SessionRule::default(),
    };
    let alive = known.household.people.iter().filter(|(_, (_, removed))| !removed);
    let whose = std::iter::once(None).chain(alive.map(|(id, _)| Some(id)));
    let lately = earlier(around, ENDED);
    let mut found = Vec::new();
    for who in whose {
        let raised = escalation::story(around, who, known.readings, &context);
        let worth = |alert: &Alert| alert.is_told() && alert.end.is_none_or(|(end, _)| end >= lately);
        found.extend(raised.into_iter().filter(worth).map(|alert| {
            let mut readings = known.readings.iter();
            let reading = readings.find(|reading| alert.reading.as_ref() == Some(&reading.id));
            of_alert(who, alert, reading)
        }));
    }
    found
}

fn of_alert(who: Option<&PersonId>, alert: Alert, reading: Option<&Reading>) -> Reminder {
    let what = match &alert.reading {
        Some(reading) => reading.0.clone(),
        None => alert.at.as_second().to_string(),
    };
    Reminder {
        key: key_of_alert(who, &alert, &what),
        person: who.cloned(),
        from: alert.at,
        until: alert.end.map(|(end, _)| end),
        what: What::Urgent(alert, reading.cloned().map(Box::new)),
    }
}

fn key_of_alert(who: Option<&PersonId>, alert: &Alert, what: &str) -> String {
    format!(
        "urgent/{}/{}/{}/{what}",
        // No id is a lone dash.
        who.map_or("-", PersonId::as_str),
        alert.about.name(),
        alert.level.name()
    )
}

/// A window in which a session is asked for.
struct Asked {
    slot: Slot,
    date: Date,
    opens: Timestamp,
    closes: Timestamp,
}

/// The windows of these days in which this plan asks for a session.
fn asked(known: &Known<'_>, person: &PersonId, plan: &Plan, from: Date, to: Date) -> Vec<Asked> {
    let Ok(protocol) = known.protocols.get(&plan.protocol) else {
        return Vec::new();
    };
    let schedule = Schedule::of(plan, protocol);
    let rule = protocol.session_rule();
    let windows = Windows::of(known.household.people.get(person).map(|(person, _)| person));
    let instant = |civil| known.zones.instant(civil);
    from.max(plan.from)
        .series(1.day())
        .take_while(|date| *date <= to.min(plan.to()))
        .filter(|date| schedule.measures_on(*date))
        .flat_map(|date| windows.of_day(date).map(|window| (date, window)))
        .filter(|(_, (slot, ..))| rule.asks_for(*slot))
        .filter_map(|(date, (slot, opens, closes))| {
            Some(Asked {
                slot,
                date,
                opens: instant(opens)?,
                closes: instant(closes)?,
            })
        })
        .collect()
}

/// When each session of a plan is asked for: the moments at which its window opens and closes.
pub fn sessions_asked(
    known: &Known<'_>,
    person: &PersonId,
    plan: &Plan,
) -> Vec<(Slot, Date, Timestamp, Timestamp)> {
    asked(known, person, plan, plan.from, plan.to())
        .into_iter()
        .map(|asked| (asked.slot, asked.date, asked.opens, asked.closes))
        .collect()
}

/// The session that stands for a window: a complete one, else the last.
fn session_of<'a>(sessions: &'a [Session], window: &Asked) -> Option<&'a Session> {
    sessions
        .iter()
        .filter(|session| {
            session.slot == window.slot && session.end >= window.opens && session.start < window.closes
        })
        .max_by_key(|session| (session.counted >= session.wanted, session.end))
}

fn of_sessions(known: &Known<'_>, measured: &Measured, around: Timestamp) -> Vec<Reminder> {
    let today = known.zones.civil(around).date();
    let (from, to) = (
        today.checked_sub(2.days()).unwrap_or(Date::MIN),
        today.tomorrow().unwrap_or(Date::MAX),
    );
    let mut found = Vec::new();
    for (plan, stated) in &measured.plans {
        for window in asked(known, &measured.person, plan, from, to) {
            // A window that was over before anybody planned it was not missed.
            if window.closes > *stated {
                found.extend(of_window(measured, &window));
            }
        }
    }
    found
}

fn of_window(measured: &Measured, window: &Asked) -> Vec<Reminder> {
    let session = session_of(&measured.sessions, window);
    if session.is_some_and(|session| session.counted >= session.wanted) {
        return Vec::new();
    }
    let &Asked {
        slot,
        date,
        opens,
        closes,
    } = window;
    let person = &measured.person;
    let about = |kind: Kind| format!("{}/{person}/{date}/{}", kind.name(), slot.name());
    let now_or_never = match session {
        None => Reminder {
            key: about(Kind::SessionDue),
            person: Some(person.clone()),
            from: opens,
            until: Some(closes),
            what: What::SessionDue { slot, closes },
        },
        Some(session) => Reminder {
            key: format!("{}/{}", about(Kind::HalfDone), session.counted),
            person: Some(person.clone()),
            from: later(session.end, HALF_DONE_AFTER),
            until: Some(closes),
            what: What::HalfDone {
                slot,
                counted: session.counted,
                wanted: session.wanted,
                sitting_until: later(session.end, SITTING_GAP),
                closes,
            },
        },
    };
    let missed = Reminder {
        key: about(Kind::Missed),
        person: Some(person.clone()),
        // A sitting that began in the window may be over a little after it.
        from: session.map_or(closes, |session| closes.max(later(session.end, SITTING_GAP))),
        until: Some(later(closes, MISSED_STANDS)),
        what: What::Missed {
            slot,
            date,
            counted: session.map_or(0, |session| session.counted),
        },
    };
    vec![now_or_never, missed]
}

fn finished(known: &Known<'_>, measured: &Measured) -> Vec<Reminder> {
    let mut found = Vec::new();
    for (plan, stated) in &measured.plans {
        let Some(period) = measured.periods.iter().find(|period| period.from == plan.from) else {
            continue;
        };
        let back = plan.to().checked_sub(7.days()).unwrap_or(Date::MIN);
        let windows = asked(known, &measured.person, plan, back, plan.to());
        let Some(last) = windows.iter().max_by_key(|window| window.closes) else {
            continue;
        };
        if last.closes <= *stated {
            continue;
        }
        // Over as soon as its last session is complete.
        let complete = session_of(&measured.sessions, last)
            .filter(|session| session.counted >= session.wanted)
            .map(|session| later(session.end, SITTING_GAP));
        found.push(Reminder {
            key: format!(
                "{}/{}/{}",
                Kind::PeriodFinished.name(),
                measured.person,
                plan.from
            ),
            person: Some(measured.person.clone()),
            from: complete.unwrap_or(last.closes).min(last.closes),
            until: Some(later(last.closes, FINISHED_STANDS)),
            what: What::PeriodFinished(Box::new(period.clone())),
        });
    }
    found
}

/// The end of the weeks after birth, which changes what is called high: said once, and to nobody long after.
fn after_birth(known: &Known<'_>, person: &PersonId) -> Option<Reminder> {
    let (details, _) = known.household.people.get(person)?;
    let ends = details.pregnancy_ends()?;
    let from = known.zones.instant(ends.to_datetime(Time::midnight()))?;
    Some(Reminder {
        key: format!("{}/{person}/{ends}", Kind::AfterBirth.name()),
        person: Some(person.clone()),
        from,
        until: Some(later(from, ENDED_IS_NEWS)),
        what: What::AfterBirth(ends),
    })
}

/// A backup every day may fail twice, by a night without power and a disk that is not connected, before somebody has to
/// look. Own choice.
pub const BACKUP_OLD: SignedDuration = SignedDuration::from_hours(24 * 3);

fn of_backups(known: &Known<'_>) -> Option<Reminder> {
    let backed_up = known.backed_up?;
    Some(Reminder {
        key: format!("backup-due/{}", backed_up.as_second()),
        person: None,
        from: later(backed_up, BACKUP_OLD),
        until: None,
        what: What::BackupDue { backed_up },
    })
}

fn of_monitor(known: &Known<'_>, heard: &MonitorHeard) -> Vec<Reminder> {
    let monitor = &heard.monitor;
    let reminder = |key: String, from: Timestamp, what: What| Reminder {
        key,
        person: None,
        from,
        until: None,
        what,
    };
    let silent = later(
        heard.heard,
        SignedDuration::from_hours(24 * i64::from(known.silent.monitor_days)),
    );
    let mut found = vec![reminder(
        format!("monitor-silent/{monitor}/{}", heard.heard.as_second()),
        silent,
        What::MonitorSilent {
            monitor: monitor.clone(),
            heard: heard.heard,
        },
    )];
    let low = |due: &Due| due.task == Task::ChangeBatteries;
    if let (Some(since), Some(percent), true) = (
        heard.battery_low_since,
        heard.care.battery,
        heard.care.due.iter().any(low),
    ) {
        found.push(reminder(
            format!("battery-low/{monitor}/{}", since.as_second()),
            since,
            What::BatteryLow {
                monitor: monitor.clone(),
                percent,
            },
        ));
    }
    // A monitor of which nobody has stated anything would be due anew each day; `check` says that.
    let known_of = heard.care.since.is_some() || heard.care.checked.is_some();
    for due in heard.care.due.iter().filter(|due| known_of && !low(due)) {
        if let Some(from) = known.zones.instant(due.on.to_datetime(Time::midnight())) {
            found.push(reminder(
                format!("check-due/{monitor}/{}/{}", due.task.name(), due.on),
                from,
                What::CheckDue {
                    monitor: monitor.clone(),
                    due: due.clone(),
                },
            ));
        }
    }
    found
}

/// A listener that is silent; or, where nothing is taken in, that alone: whoever is asked to plug in a machine that runs is
/// asked in vain.
fn of_rooms(known: &Known<'_>) -> Vec<Reminder> {
    let silent = known.silent.listener();
    let reminder = |key: String, heard: Timestamp, what: What| Reminder {
        key,
        person: None,
        from: later(heard, silent),
        until: None,
        what,
    };
    if known.rooms.shut {
        let heard = known.rooms.listeners.iter().map(|listener| listener.heard).max();
        let shut = |heard: Timestamp| {
            let key = format!("listener-silent/-/{}", heard.as_second());
            reminder(key, heard, What::DoorShut { heard })
        };
        return heard.map(shut).into_iter().collect();
    }
    let of = |listener: &ListenerHeard| {
        let key = |at: Timestamp| format!("listener-silent/{}/{}", listener.id, at.as_second());
        let called = listener.called();
        let apart = listener.refused.as_ref().map(|_| Reminder {
            until: Some(later(called, silent)),
            ..reminder(
                format!("{}/apart", key(listener.heard)),
                listener.heard,
                What::ListenerApart(listener.clone()),
            )
        });
        let gone = ListenerHeard {
            heard: called,
            ..listener.clone()
        };
        apart
            .into_iter()
            .chain([reminder(key(called), called, What::ListenerSilent(gone))])
    };
    known.rooms.listeners.iter().flat_map(of).collect()
}

/// Hours of the household's clock in which only what is urgent is said.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct QuietHours(Option<(Time, Time)>);

/// Text that is no quiet hours.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{0:?} are no quiet hours: write 21:00-07:00, or none")]
pub struct NotQuietHours(String);

impl Default for QuietHours {
    /// Nine in the evening to seven in the morning: common practice for calls that can wait.
    fn default() -> Self {
        Self(Some((time(21, 0, 0, 0), time(7, 0, 0, 0))))
    }
}

impl TryFrom<String> for QuietHours {
    type Error = NotQuietHours;
    fn try_from(text: String) -> Result<Self, NotQuietHours> {
        if text == "none" {
            return Ok(Self(None));
        }
        let hours = text
            .split_once('-')
            .and_then(|(from, to)| Some((from.trim().parse().ok()?, to.trim().parse().ok()?)));
        match hours {
            Some((from, to)) if from != to => Ok(Self(Some((from, to)))),
            _ => Err(NotQuietHours(text.chars().take(64).collect())),
        }
    }
}

impl From<QuietHours> for String {
    fn from(quiet: QuietHours) -> Self {
        match quiet.0 {
            Some((from, to)) => format!("{}-{}", from.strftime("%H:%M"), to.strftime("%H:%M")),
            None => "none".to_owned(),
        }
    }
}

impl QuietHours {
    /// No quiet hours.
    pub const NONE: Self = Self(None);

    /// Whether it is quiet at this time of day. The first minute is, the last is not: at seven the day
    /// begins.
    pub fn holds(self, at: Time) -> bool {
        self.0.is_some_and(|(from, to)| {
            if from < to {
                from <= at && at < to
            } else {
                from <= at || at < to
            }
        })
    }

    /// When they end, from a moment inside them.
    pub fn end(self, at: jiff::civil::DateTime) -> Option<jiff::civil::DateTime> {
        let (_, to) = self.0.filter(|_| self.holds(at.time()))?;
        let date = if at.time() < to {
            at.date()
        } else {
            at.date().tomorrow().ok()?
        };
        Some(date.to_datetime(to))
    }
}

fn later(at: Timestamp, by: SignedDuration) -> Timestamp {
    at.checked_add(by).unwrap_or(Timestamp::MAX)
}

fn earlier(at: Timestamp, by: SignedDuration) -> Timestamp {
    at.checked_sub(by).unwrap_or(Timestamp::MIN)
}
