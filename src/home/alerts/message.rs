//! A reminder in words: one line that can stand alone, and the text below it.
//!
//! What a person named themselves, or a monitor sends, is one line here, whatever it holds: nothing in it can
//! become a header, a topic or a second line. A terse message leaves out what was measured; it never leaves
//! out what to do.

use crate::household::{AFTER_BIRTH_SOURCE, Household, MonitorId, PersonId, Zones};
use crate::monitoring::care::Task;
use crate::monitoring::escalation::{About, Alert, Level};
use crate::monitoring::listening;
use crate::monitoring::listening::{ListeningTrouble, Obstacle};
use crate::monitoring::names;
use crate::monitoring::period::Period;
use crate::monitoring::reminders::{Kind, Reminder, What};
use crate::monitoring::titles::of_source;
use crate::monitoring::urgent;
use crate::reading::{Reading, pressures};
use crate::words::{Value, Words, one_line};
use jiff::{SignedDuration, Timestamp};
use serde::Serialize;
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;

/// A test is looked for by whoever made it; a broker that keeps words keeps it no longer than this (own choice).
const TEST_STANDS: SignedDuration = SignedDuration::from_mins(10);

/// What goes out.
#[derive(Clone, PartialEq, Debug, Serialize)]
pub struct Message {
    /// Names the matter: a receiver that knows it already has been told.
    pub key: String,
    /// What it is about, as the configuration names it; `lapsed` and `test` beside those.
    pub kind: &'static str,
    /// Whether it must not wait.
    pub urgent: bool,
    /// About whom, by id.
    pub person: Option<PersonId>,
    /// One line that can stand alone.
    pub subject: String,
    /// What to do.
    pub text: String,
    /// The guideline that the words come from.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub source: Option<String>,
    /// Since when it is so.
    pub since: Timestamp,
    /// Until when it is worth knowing.
    pub until: Option<Timestamp>,
    /// What was measured, in mmHg; left out of a terse message.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub measured: Option<ToldNumbers>,
}

/// Numbers about a person.
#[derive(Clone, Copy, PartialEq, Debug, Serialize)]
#[expect(missing_docs, reason = "the names say it")]
pub struct ToldNumbers {
    pub systolic: f64,
    pub diastolic: f64,
}

/// In whose words, and how much of them.
#[derive(Clone, Copy, Debug)]
pub struct Voice<'a> {
    /// The catalogue of phrases in the language of the reader.
    pub words: &'a Words,
    /// The household's people, for their names.
    pub household: &'a Household,
    /// The household's clock.
    pub zones: &'a Zones,
    /// Leave out what was measured, and names beyond the person's id.
    pub terse: bool,
}

impl Voice<'_> {
    /// A reminder in words, as it is to be said at this moment.
    pub fn say(&self, reminder: &Reminder, now: Timestamp) -> Message {
        let source = match &reminder.what {
            What::Urgent(alert, _) => Some(alert.source.to_owned()),
            What::CheckDue { due, .. } => Some(due.source.to_owned()),
            What::AfterBirth(_) => Some(AFTER_BIRTH_SOURCE.to_owned()),
            _ => None,
        };
        let measured = match &reminder.what {
            What::Urgent(_, Some(reading)) => pressures(reading).map(|(systolic, diastolic)| ToldNumbers {
                systolic: systolic.mmhg(),
                diastolic: diastolic.mmhg(),
            }),
            What::PeriodFinished(period) => period.average.as_ref().map(|average| ToldNumbers {
                systolic: average.systolic,
                diastolic: average.diastolic,
            }),
            _ => None,
        };
        Message {
            key: reminder.key.clone(),
            kind: reminder.kind().name(),
            urgent: reminder.is_urgent(),
            person: reminder.person.clone(),
            subject: self.subject(reminder, now),
            text: self.text(reminder, now),
            source,
            since: reminder.from,
            until: reminder.until,
            measured: measured.filter(|_| !self.terse),
        }
    }

    /// The first line: what it is about, and about whom.
    fn subject(&self, reminder: &Reminder, now: Timestamp) -> String {
        let words = self.words;
        let who = Value::from(self.name(reminder.person.as_ref()));
        let of = |monitor: &MonitorId| ("monitor", Value::from(monitor.to_string()));
        let at = |moment| ("moment", self.moment(moment));
        let (name, values) = match &reminder.what {
            What::SessionDue { slot, .. } => (
                "told-subject-session-due",
                vec![("who", who), ("slot", slot.name().into())],
            ),
            What::HalfDone {
                slot,
                counted,
                wanted,
                ..
            } => (
                "told-subject-half-done",
                vec![
                    ("who", who),
                    ("counted", (*counted).into()),
                    ("wanted", (*wanted).into()),
                    ("slot", slot.name().into()),
                ],
            ),
            What::Missed { slot, date, .. } => (
                "told-subject-missed",
                vec![
                    ("who", who),
                    ("slot", slot.name().into()),
                    ("day", words.day(*date, self.zones.civil(now).date()).into()),
                ],
            ),
            What::PeriodFinished(period) => (
                "told-subject-period-finished",
                vec![
                    ("who", who),
                    ("from", words.date(period.from).into()),
                    ("to", words.date(period.to).into()),
                ],
            ),
            What::Urgent(alert, _) if alert.about == About::Symptoms => {
                ("told-subject-symptoms", vec![("who", who)])
            }
            What::Urgent(..) => ("told-subject-urgent", vec![("who", who)]),
            What::BatteryLow { monitor, percent } => (
                "told-subject-battery-low",
                vec![of(monitor), ("percent", (*percent).into())],
            ),
            What::MonitorSilent { monitor, heard } => {
                ("told-subject-monitor-silent", vec![of(monitor), at(*heard)])
            }
            What::ListenerSilent(listener) => {
                let name = ("listener", one_line(&listener.name).into());
                ("told-subject-listener-silent", vec![name, at(listener.heard)])
            }
            What::ListenerApart(listener) => {
                let name = ("listener", one_line(&listener.name).into());
                ("told-subject-listener-apart", vec![name, at(listener.heard)])
            }
            What::DoorShut { heard } => ("told-subject-door-shut", vec![at(*heard)]),
            What::CheckDue { monitor, due } => (
                "told-subject-check-due",
                vec![of(monitor), ("task", self.task(due.task).into())],
            ),
            What::DaemonDeaf(deaf) => ("told-subject-daemon-deaf", vec![at(deaf.since)]),
            What::BackupDue { backed_up } => ("told-subject-backup-due", vec![at(*backed_up)]),
            What::DeliveryStuck(_) => ("told-subject-delivery-stuck", Vec::new()),
            What::AfterBirth(_) => ("told-subject-after-birth", vec![("who", who)]),
        };
        words.with(name, &values)
    }

    /// What stands below the first line.
    fn text(&self, reminder: &Reminder, now: Timestamp) -> String {
        let words = self.words;
        match &reminder.what {
            What::SessionDue { closes, .. } => {
                words.with("told-session-due", &[("time", self.time(*closes))])
            }
            What::HalfDone { sitting_until, .. } if now <= *sitting_until => {
                words.say("told-half-done-go-on")
            }
            What::HalfDone { closes, .. } => {
                words.with("told-half-done-again", &[("time", self.time(*closes))])
            }
            What::Missed { counted, .. } => words.with("told-missed", &[("counted", (*counted).into())]),
            What::PeriodFinished(period) => self.finished(period),
            What::Urgent(alert, reading) => self.urgent(alert, reading.as_deref(), reminder.person.is_none()),
            What::BatteryLow { .. } => words.say("told-battery-low"),
            What::MonitorSilent { .. } => words.say("told-monitor-silent"),
            What::ListenerSilent(listener) => words.with(
                "told-listener-silent",
                &[("monitors", listener.monitors.len().into())],
            ),
            What::ListenerApart(listener) => {
                let theirs = listener
                    .refused
                    .as_ref()
                    .map_or("", |(_, version)| version.as_str());
                words.with(
                    "told-listener-apart",
                    &[
                        ("theirs", theirs.into()),
                        ("ours", env!("CARGO_PKG_VERSION").into()),
                    ],
                )
            }
            What::DoorShut { .. } => words.say("told-door-shut"),
            What::CheckDue { due, .. } => {
                words.with("told-check-due", &[("date", words.date_with_year(due.on).into())])
            }
            What::BackupDue { .. } => words.say("told-backup-due"),
            What::AfterBirth(ends) => {
                let said = words.with("after-birth-ended", &[("date", words.date(*ends).into())]);
                let source = words.with("source-of", &[("source", AFTER_BIRTH_SOURCE.into())]);
                [said, source].join("\n\n")
            }
            What::DeliveryStuck(trouble) => {
                // What a server says may name people and numbers.
                let withheld = ListeningTrouble {
                    what: listening_withheld(trouble, words),
                    since: trouble.since,
                };
                let trouble = if self.terse { &withheld } else { trouble };
                let said = listening::said(trouble, self.zones, words);
                format!("{said} {}", words.say("told-delivery-stuck"))
            }
            What::DaemonDeaf(deaf) => words.with("told-daemon-deaf", &[("why", one_line(&deaf.why).into())]),
        }
    }

    /// Says once what could not be told in time.
    pub fn lapsed(
        &self,
        key: String,
        kinds: &BTreeMap<Kind, usize>,
        from: Timestamp,
        to: Timestamp,
    ) -> Message {
        let matter = |(kind, n): (&Kind, &usize)| {
            self.words.with(
                "told-lapsed-matter",
                &[("n", (*n).into()), ("kind", kind.name().into())],
            )
        };
        let what: Vec<String> = kinds.iter().map(matter).collect();
        self.plain(
            key,
            "lapsed",
            self.words.say("told-subject-lapsed"),
            self.words.with(
                "told-lapsed",
                &[
                    ("from", self.moment(from)),
                    ("to", self.moment(to)),
                    ("what", what.join(", ").into()),
                ],
            ),
            to,
        )
    }

    /// A marked test.
    pub fn test(&self, now: Timestamp) -> Message {
        let (subject, text) = (self.words.say("told-subject-test"), self.words.say("told-test"));
        let key = format!("test/{}", now.as_microsecond());
        Message {
            until: now.checked_add(TEST_STANDS).ok(),
            ..self.plain(key, "test", subject, text, now)
        }
    }

    fn plain(
        &self,
        key: String,
        kind: &'static str,
        subject: String,
        text: String,
        since: Timestamp,
    ) -> Message {
        Message {
            key,
            kind,
            urgent: false,
            person: None,
            subject,
            text,
            source: None,
            since,
            until: None,
            measured: None,
        }
    }

    /// Symptoms first, then what the guideline says to do, then what was measured.
    fn urgent(&self, alert: &Alert, reading: Option<&Reading>, nobodys: bool) -> String {
        let words = self.words;
        let mut lines = Vec::new();
        if alert.level < Level::Emergency {
            lines.push(words.say("emergency-if"));
        }
        let pulse = self.terse.then(|| words.say("told-withheld"));
        lines.push(urgent::said(alert, reading, words, pulse.as_deref()));
        if nobodys {
            lines.push(words.say("told-reading-is-nobodys"));
        }
        let (said, withheld) = match alert.undated {
            None => ("told-reading-measured", "told-reading-measured-withheld"),
            Some(_) => ("told-reading-received", "told-reading-received-withheld"),
        };
        // What was measured before a symptom was noted has a time of its own.
        let at = |reading: &Reading| match alert.undated {
            None => reading.time.at.unwrap_or(alert.at),
            Some(_) => reading.received_at,
        };
        match reading {
            Some(reading) if !self.terse => {
                lines.push(words.with(
                    said,
                    &[
                        ("moment", self.moment(at(reading))),
                        ("systolic", reading.systolic.to_string().into()),
                        ("diastolic", reading.diastolic.to_string().into()),
                        ("unit", reading.unit.name().into()),
                    ],
                ));
            }
            Some(reading) => lines.push(words.with(withheld, &[("moment", self.moment(at(reading)))])),
            None => {}
        }
        lines.push(words.with("source-of", &[("source", alert.source.into())]));
        lines.push(words.say("told-not-an-alarm"));
        lines.join("\n\n")
    }

    /// The average in the clinic's terms: the number and the level, and no word on how they compare.
    fn finished(&self, period: &Period) -> String {
        let words = self.words;
        let mut lines = Vec::new();
        match &period.average {
            None => lines.push(words.with(
                "told-average-too-few",
                &[
                    ("sessions", period.sessions.into()),
                    ("expected", period.sessions_expected.into()),
                ],
            )),
            Some(_) if self.terse => lines.push(words.say("told-average-withheld")),
            Some(average) => {
                lines.push(words.with(
                    "told-average",
                    &[
                        ("average", words.decimal(&average.exact.shown()).into()),
                        ("n", average.n.into()),
                        ("days", average.days.into()),
                        ("aside", period.readings.set_aside.into()),
                    ],
                ));
                lines.push(match &period.threshold {
                    Some(threshold) => words.with(
                        "told-threshold",
                        &[
                            ("systolic", format!("{}", threshold.limits.systolic.mmhg()).into()),
                            (
                                "diastolic",
                                format!("{}", threshold.limits.diastolic.mmhg()).into(),
                            ),
                            ("source", of_source(words, &threshold.source).into()),
                        ],
                    ),
                    None => words.say("told-no-threshold"),
                });
                lines.push(words.say("caution-average"));
            }
        }
        lines.push(words.say("told-sheet"));
        lines.join("\n\n")
    }

    /// What the household calls a person; their id in a terse message.
    fn name(&self, person: Option<&PersonId>) -> String {
        let Some(id) = person else {
            return self.words.say("told-somebody");
        };
        let label = names::shown(self.household)
            .get(id)
            .map(|label| one_line(label))
            .filter(|label| !label.is_empty() && !self.terse);
        label.unwrap_or_else(|| id.to_string())
    }

    fn task(&self, task: Task) -> String {
        self.words.say(&format!("task-{}", task.name()))
    }

    fn time(&self, at: Timestamp) -> Value<'static> {
        self.words.time(self.zones.civil(at).time()).into()
    }

    fn moment(&self, at: Timestamp) -> Value<'static> {
        self.words.moment(self.zones.civil(at)).into()
    }
}

fn listening_withheld(trouble: &ListeningTrouble, words: &Words) -> Obstacle {
    match &trouble.what {
        Obstacle::Delivery(_) => Obstacle::Delivery(words.say("told-withheld")),
        other => other.clone(),
    }
}

/// Names a message on one route, the same whenever it is sent, and not that of another household.
pub(super) fn name_of(household: i64, route: &str, key: &str) -> String {
    let digest = Sha256::digest(format!("{household}\n{route}\n{key}").as_bytes());
    digest
        .iter()
        .take(16)
        .map(|octet| format!("{octet:02x}"))
        .collect()
}
